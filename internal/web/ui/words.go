package ui

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"time"

	"fairstick/internal/fault"
)

// words are the shell's own, in the languages that a counsellor or a participant may read over a shoulder.
type words struct {
	skip, back, handOver, nobody, demo, practice, critical, goThere, still, pages string
}

var english = words{
	skip: "Skip to the page", back: "Back", handOver: "Hand over", nobody: "Nobody is signed in",
	demo: "Invented demo data. No real person is in it.", practice: "Practice. Nothing here counts.",
	critical: "Critical", goThere: "Go there", still: "Still the sound", pages: "Pages",
}

var spanish = words{
	skip: "Ir a la página", back: "Atrás", handOver: "Entregar el puesto", nobody: "Nadie ha entrado",
	demo: "Datos inventados de demostración. No hay personas reales.", practice: "Práctica. Nada de esto cuenta.",
	critical: "Crítico", goThere: "Ir allí", still: "Silenciar", pages: "Páginas",
}

func (p Page) lang() string { return cmp.Or(p.Lang, "en") }

func (p Page) words() words {
	if p.lang() == "es" {
		return spanish
	}
	return english
}

func (p Page) mainClass() string {
	if p.Wide {
		return "main wide"
	}
	return "main"
}

func (in Input) id() string { return cmp.Or(in.ID, "f-"+in.Name) }
func (p Pick) id() string   { return cmp.Or(p.ID, "f-"+p.Name) }
func (p Pad) id() string    { return cmp.Or(p.ID, "f-"+p.Name) }

func (b Box) id() string {
	switch {
	case b.ID != "":
		return b.ID
	case b.Value != "":
		return "f-" + b.Name + "-" + b.Value
	default:
		return "f-" + b.Name
	}
}

func (p Pad) maxLen() string {
	if p.MaxLen > 0 {
		return strconv.Itoa(p.MaxLen)
	}
	return "5"
}

// inputType is the type attribute of a field; kinds that need no keyboard of the browser's are plain text.
func (k Kind) inputType() string {
	switch k {
	case Date, Time, Tel, Email, Password, File:
		return string(k)
	case PIN:
		return "password"
	default:
		return "text"
	}
}

func (k Kind) inputMode() string {
	switch k {
	case Number:
		return "decimal"
	case PIN:
		return "numeric"
	case Tel:
		return "tel"
	default:
		return ""
	}
}

// describedBy names the help and the error of a field, in the order in which they are read.
func describedBy(id, help, message string) string {
	s := ""
	if help != "" {
		s = id + "-help"
	}
	if message != "" {
		if s != "" {
			s += " "
		}
		s += id + "-error"
	}
	return s
}

func (a Ask) pick() Pick {
	p := Pick{ID: a.ID, Name: a.Name, Legend: a.Legend, Help: a.Help, Error: a.Error, Value: a.Value, Row: true}
	p.Options = []Option{{Value: "yes", Label: cmp.Or(a.Yes, "Yes")}, {Value: "no", Label: cmp.Or(a.No, "No")}}
	if a.Unsure != "" {
		p.Options = append(p.Options, Option{Value: "unsure", Label: a.Unsure})
	}
	return p
}

// fieldNames lists the fields that a fault speaks of, in alphabetical order.
func fieldNames(f *fault.Fault) []string {
	names := make([]string, 0, len(f.Fields))
	for name := range f.Fields {
		names = append(names, name)
	}
	slices.Sort(names)
	return names
}

// linkText is what the summary says of one field; what its sentence has said already is not said twice.
func linkText(f *fault.Fault, name string) string {
	if f.Fields[name] == f.Sentence {
		return "Go to the answer"
	}
	return f.Fields[name]
}

// End is the instant at which the timer runs out.
func (t Timer) End() time.Time { return t.Start.Add(time.Duration(t.Seconds) * time.Second) }

// Left is the number of whole seconds still to wait, rounded up; 0 when it has run out.
func (t Timer) Left() int {
	left := t.End().Sub(t.Now)
	if left <= 0 {
		return 0
	}
	return int((left + time.Second - 1) / time.Second)
}

// Span writes seconds as people read a kitchen timer: "1:20", or "1:02:05" from an hour.
func Span(seconds int) string {
	if seconds < 0 {
		seconds = 0
	}
	h, m, s := seconds/3600, seconds/60%60, seconds%60
	if h > 0 {
		return fmt.Sprintf("%d:%02d:%02d", h, m, s)
	}
	return fmt.Sprintf("%d:%02d", m, s)
}

// WholeMinutes is the number of full minutes from one instant to another; 0 when the order is reversed.
func WholeMinutes(from, to time.Time) int {
	return max(0, int(to.Sub(from)/time.Minute))
}

// MinutesText writes a wait: "under 1 min", "12 min", "1 h 5 min".
func MinutesText(n int) string {
	switch {
	case n < 1:
		return "under 1 min"
	case n < 60:
		return fmt.Sprintf("%d min", n)
	case n%60 == 0:
		return fmt.Sprintf("%d h", n/60)
	default:
		return fmt.Sprintf("%d h %d min", n/60, n%60)
	}
}

func pageTitle(p Page) string {
	if p.Programme == "" {
		return p.Title
	}
	return p.Title + " | " + p.Programme
}
