package ui

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strconv"
	"time"

	"fairstick/internal/fault"
)

// words are those that the parts say themselves, in the languages of the interface. A test finds one that is missing.
type words struct {
	skip, back, handOver, nobody, demo, practice, scene, critical, goThere, still, pages, old string

	ticket, optional, yes, no, done, find, goToAnswer        string
	whatNow, notAllowed, keysFor, point, deleteKey, errorKey string
	left, until, since, noBand, longWait                     string
	choose                                                   string // the language of the interface

	mayPass                      func(role string) string
	shown                        string // "{shown} of {all} shown"
	bands                        map[string]string
	underMinute                  string
	language, languageOfTheOther string
}

var english = words{
	skip: "Skip to the page", back: "Back", handOver: "Hand over", nobody: "Nobody is signed in",
	demo: "Invented demo data. No real person is in it.", practice: "PRACTICE. Nothing here is real.", scene: "The scene",
	critical: "Critical", goThere: "Go there", still: "Still the sound", pages: "Pages", old: "Old since {time}, trying again.",
	ticket: "Ticket", optional: "optional", yes: "Yes", no: "No", done: "done", find: "Find in this list", goToAnswer: "Go to the answer",
	whatNow: "What to do now", notAllowed: "Not allowed now", keysFor: "Keys for", point: "point", deleteKey: "Delete", errorKey: "Error",
	left: "left", until: "until", since: "since", noBand: "No band", longWait: "long wait", choose: "Language of the pages",
	mayPass: func(role string) string {
		return "A " + role + " may pass this with a signed reason. It is on the report."
	},
	shown:       "{shown} of {all} shown",
	bands:       bandWords,
	underMinute: "under 1 min",
	language:    "English", languageOfTheOther: "es",
}

var spanish = words{
	skip: "Ir a la página", back: "Atrás", handOver: "Entregar el puesto", nobody: "Nadie ha entrado",
	demo: "Datos inventados de demostración. No hay personas reales.", practice: "PRÁCTICA. Nada de esto es real.", scene: "La escena",
	critical: "Crítico", goThere: "Ir allí", still: "Silenciar", pages: "Páginas", old: "Sin actualizar desde las {time}; se vuelve a intentar.",
	ticket: "Turno", optional: "opcional", yes: "Sí", no: "No", done: "hecho", find: "Buscar en esta lista", goToAnswer: "Ir a la respuesta",
	whatNow: "Qué hacer ahora", notAllowed: "No se permite ahora", keysFor: "Teclas para", point: "punto", deleteKey: "Borrar", errorKey: "Error",
	left: "restantes", until: "hasta las", since: "desde las", noBand: "Sin banda", longWait: "espera larga", choose: "Idioma de las páginas",
	mayPass: func(role string) string {
		return "Puede autorizarlo con un motivo firmado: " + role + ". Consta en el informe."
	},
	shown: "se muestran {shown} de {all}",
	bands: map[string]string{
		"critical-low": "Bajo crítico", "low": "Bajo", "usual": "Habitual", "raised": "Elevado", "high": "Alto", "critical-high": "Alto crítico",
	},
	underMinute: "menos de 1 min",
	language:    "Español", languageOfTheOther: "en",
}

// Languages are the languages in which the interface can be read.
var Languages = []string{"en", "es"}

type langKey struct{}

// In makes the parts that are drawn with the context speak a language of the interface; any other one is English.
func In(ctx context.Context, lang string) context.Context {
	return context.WithValue(ctx, langKey{}, lang)
}

// Lang is the language in which a part is to be drawn: that of the page around it.
func Lang(ctx context.Context) string {
	if lang, _ := ctx.Value(langKey{}).(string); lang == "es" {
		return "es"
	}
	return "en"
}

// FragmentID is the id of a part that the live stream sends in every language: each page takes that of its own.
func FragmentID(lang, id string) string {
	if lang == "es" {
		return id + "-es"
	}
	return id
}

func wordsIn(lang string) words {
	if lang == "es" {
		return spanish
	}
	return english
}

func say(ctx context.Context) words { return wordsIn(Lang(ctx)) }

func (p Page) lang() string { return cmp.Or(p.Lang, "en") }

func (p Page) words() words { return wordsIn(p.lang()) }

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

func (a Ask) pick(w words) Pick {
	p := Pick{ID: a.ID, Name: a.Name, Legend: a.Legend, Help: a.Help, Error: a.Error, Value: a.Value, Row: true}
	p.Options = []Option{{Value: "yes", Label: cmp.Or(a.Yes, w.yes)}, {Value: "no", Label: cmp.Or(a.No, w.no)}}
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
func linkText(w words, f *fault.Fault, name string) string {
	if f.Fields[name] == f.Sentence {
		return w.goToAnswer
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
func MinutesText(n int) string { return minutesText(english, n) }

func minutesText(w words, n int) string {
	switch {
	case n < 1:
		return w.underMinute
	case n < 60:
		return fmt.Sprintf("%d min", n)
	case n%60 == 0:
		return fmt.Sprintf("%d h", n/60)
	default:
		return fmt.Sprintf("%d h %d min", n/60, n%60)
	}
}

func pageTitle(p Page) string {
	title := p.Title
	if p.Practice {
		title = p.words().practice + " " + title
	}
	if p.Programme == "" {
		return title
	}
	return title + " | " + p.Programme
}
