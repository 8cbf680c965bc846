package programme

import (
	"context"
	"fmt"
	"sort"
	"strconv"
	"strings"

	"fairstick/internal/event"
	"fairstick/internal/fault"
	"fairstick/internal/people"
	"fairstick/internal/visit"
)

// MostForms is how many forms can be printed at once, and mostFormNumber the highest number that an event hands out.
const (
	MostForms      = 500
	mostFormNumber = 9999
)

// FormsPrinted says that paper forms were printed. The record gives them their numbers.
type FormsPrinted struct {
	Act
	Event, Language string
	Count           int // 1 to MostForms
}

// PrintedForms are the numbers of forms that were printed together.
type PrintedForms struct {
	From int `json:"from"`
	To   int `json:"to"`
}

// FormsPrinted records the next numbers as printed. A lead or supervisor may, before the event and while it
// runs.
func (p *Programme) FormsPrinted(ctx context.Context, a Actor, c FormsPrinted) (PrintedForms, error) {
	return do(ctx, p, a, c.Act, "event.forms-printed", func(w *work) (PrintedForms, error) {
		if err := w.need(people.Lead, people.Supervisor); err != nil {
			return PrintedForms{}, err
		}
		ev, err := w.openable(c.Event)
		if err != nil {
			return PrintedForms{}, err
		}
		var f fields
		f.between("count", "The number of forms", c.Count, 1, MostForms)
		f.oneOf("language", "The language", c.Language, Languages...)
		from := 1
		for _, b := range ev.Printed {
			from = max(from, b.To+1)
		}
		if from+c.Count-1 > mostFormNumber {
			f.say("count", "An event has at most %d numbers; %d are left.", mostFormNumber, mostFormNumber-from+1)
		}
		if err := f.err(); err != nil {
			return PrintedForms{}, err
		}
		b := event.FormsPrinted{From: from, To: from + c.Count - 1, Language: c.Language}
		_, err = w.append(event.Ref(ev.ID), b)
		return PrintedForms{From: b.From, To: b.To}, err
	})
}

// VoidForm says that a form is spoilt or was thrown away.
type VoidForm struct {
	Act
	Event, Reason string
	Form          int
}

// VoidForm records the end of a form that holds no visit. A lead or supervisor may.
func (p *Programme) VoidForm(ctx context.Context, a Actor, c VoidForm) (Done, error) {
	return do(ctx, p, a, c.Act, "event.form-voided", func(w *work) (Done, error) {
		if err := w.need(people.Lead, people.Supervisor); err != nil {
			return Done{}, err
		}
		ev, err := w.openable(c.Event)
		if err != nil {
			return Done{}, err
		}
		visits, err := listed[*visit.State](w.tx.Children(visit.Kind, ev.ID))
		if err != nil {
			return Done{}, err
		}
		var f fields
		reason := f.text("reason", "The reason", c.Reason, true, 120)
		switch was := ev.VoidForms[c.Form]; {
		case !printed(ev, c.Form):
			f.say("form", "Form %d was never printed for this event.", c.Form)
		case was != "":
			f.say("form", "Form %d is void already: %s", c.Form, was)
		case typedForms(visits)[c.Form] != nil:
			f.say("form", "Form %d was typed in as ticket %03d; it cannot be void.", c.Form, typedForms(visits)[c.Form].Ticket)
		}
		if err := f.err(); err != nil {
			return Done{}, err
		}
		_, err = w.append(event.Ref(ev.ID), event.FormVoided{Form: c.Form, Reason: reason})
		return Done{ID: ev.ID}, err
	})
}

// FormsBack is the blank forms counted back, as typed: "31-40, 45"; empty for none. A later count replaces an earlier one.
type FormsBack struct {
	Act
	Event, Forms string
}

// FormsBack records the blank forms. A lead or supervisor may.
func (p *Programme) FormsBack(ctx context.Context, a Actor, c FormsBack) (Done, error) {
	return do(ctx, p, a, c.Act, "event.forms-back", func(w *work) (Done, error) {
		if err := w.need(people.Lead, people.Supervisor); err != nil {
			return Done{}, err
		}
		ev, err := w.openable(c.Event)
		if err != nil {
			return Done{}, err
		}
		visits, err := listed[*visit.State](w.tx.Children(visit.Kind, ev.ID))
		if err != nil {
			return Done{}, err
		}
		var f fields
		ranges := f.formRanges("forms", c.Forms)
		typed := typedForms(visits)
		for _, r := range ranges {
			for n := r.From; n <= r.To; n++ {
				switch {
				case !printed(ev, n):
					f.say("forms", "Form %d was never printed for this event.", n)
				case typed[n] != nil:
					f.say("forms", "Form %d is not blank: it was typed in as ticket %03d.", n, typed[n].Ticket)
				case ev.VoidForms[n] != "":
					f.say("forms", "Form %d is void: %s", n, ev.VoidForms[n])
				}
			}
		}
		if err := f.err(); err != nil {
			return Done{}, err
		}
		_, err = w.append(event.Ref(ev.ID), event.FormsBack{Forms: ranges})
		return Done{ID: ev.ID}, err
	})
}

// formRanges reads numbers and ranges such as "31-40, 45", in rising order and each number once.
func (f *fields) formRanges(name, text string) []event.FormRange {
	text = strings.NewReplacer("–", "-", "—", "-", ";", ",").Replace(tidy(text))
	var out []event.FormRange
	for _, part := range strings.Split(text, ",") {
		if part = strings.TrimSpace(part); part == "" {
			continue
		}
		low, high, isRange := strings.Cut(part, "-")
		if !isRange {
			high = low
		}
		from, err1 := strconv.Atoi(strings.TrimSpace(low))
		to, err2 := strconv.Atoi(strings.TrimSpace(high))
		if err1 != nil || err2 != nil || from < 1 || to < from || to > mostFormNumber {
			f.say(name, "Write numbers and ranges like 31-40, 45; %q is neither.", part)
			return nil
		}
		out = append(out, event.FormRange{From: from, To: to})
	}
	sort.Slice(out, func(i, j int) bool { return out[i].From < out[j].From })
	for i := 1; i < len(out); i++ {
		if out[i].From <= out[i-1].To {
			f.say(name, "Form %d stands there twice.", out[i].From)
		}
	}
	return out
}

// The states of a form.
const (
	FormTyped   = "typed"
	FormVoided  = "voided"
	FormBack    = "back" // blank
	FormMissing = "missing"
)

// FormState is one form and what became of it.
type FormState struct {
	Number   int
	Language string // of the print; empty when it was never written down as printed
	State    string // FormTyped, FormVoided, FormBack or FormMissing
	Visit    string // id, when it was typed
	Ticket   int
	Reason   string // why it is void
}

// Forms lists the printed forms in the order of their numbers.
func (d *Day) Forms() []FormState {
	typed := typedForms(d.Visits)
	var out []FormState
	for _, b := range d.Event.Printed {
		for n := b.From; n <= b.To; n++ {
			s := FormState{Number: n, Language: b.Language, State: FormMissing}
			switch v := typed[n]; {
			case v != nil:
				s.State, s.Visit, s.Ticket = FormTyped, v.ID, v.Ticket
			case d.Event.VoidForms[n] != "":
				s.State, s.Reason = FormVoided, d.Event.VoidForms[n]
			case inRanges(d.Event.BlankForms, n):
				s.State = FormBack
			}
			out = append(out, s)
		}
	}
	sort.Slice(out, func(i, j int) bool { return out[i].Number < out[j].Number })
	return out
}

// formCounts counts the printed forms by what became of them; nil when none were printed.
func (d *Day) formCounts() map[string]int {
	if len(d.Event.Printed) == 0 {
		return nil
	}
	n := map[string]int{"printed": 0, FormTyped: 0, FormVoided: 0, FormBack: 0, FormMissing: 0}
	for _, s := range d.Forms() {
		n["printed"]++
		n[s.State]++
	}
	return n
}

// formEqualities ask for every form that was printed.
func (d *Day) formEqualities() []Equality {
	n := d.formCounts()
	if n == nil {
		return nil
	}
	e := equality("forms", "Paper forms", Term{"printed", n["printed"]}, Term{"typed in", n[FormTyped]}, Term{"void", n[FormVoided]}, Term{"back blank", n[FormBack]})
	if e.Difference > 0 {
		var missing []string
		for _, s := range d.Forms() {
			if s.State == FormMissing && len(missing) < 10 {
				missing = append(missing, strconv.Itoa(s.Number))
			}
		}
		e.Alarm = fmt.Sprintf("%d forms are missing, first %s. A form may hold a person's answers: look for it.", e.Difference, strings.Join(missing, ", "))
	}
	return []Equality{e}
}

func typedForms(visits []*visit.State) map[int]*visit.State {
	out := map[int]*visit.State{}
	for _, v := range visits {
		if v.Form > 0 {
			out[v.Form] = v
		}
	}
	return out
}

func printed(ev *event.State, n int) bool {
	for _, b := range ev.Printed {
		if n >= b.From && n <= b.To {
			return true
		}
	}
	return false
}

func inRanges(list []event.FormRange, n int) bool {
	for _, r := range list {
		if n >= r.From && n <= r.To {
			return true
		}
	}
	return false
}

// numberFault refuses a form number that cannot hold a visit.
func numberFault(ev *event.State, n int) *fault.Fault {
	switch {
	case n < 0 || n > mostFormNumber:
		return fault.BadField("form", "The number of the form must be from 1 to %d; %d was typed.", mostFormNumber, n)
	case n == 0:
		return nil
	case len(ev.Printed) > 0 && !printed(ev, n):
		return fault.BadField("form", "Form %d was never printed for this event. Look at the number again.", n)
	case ev.VoidForms[n] != "":
		return fault.BadField("form", "Form %d was written down as void: %s", n, ev.VoidForms[n])
	case inRanges(ev.BlankForms, n):
		return fault.BadField("form", "Form %d was counted back as blank. Look at the number, or count the blank forms again.", n)
	}
	return nil
}
