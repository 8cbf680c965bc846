package programme

import (
	"context"
	"encoding/json"
	"fmt"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"fairstick/internal/event"
	"fairstick/internal/fault"
	"fairstick/internal/people"
)

// Typing is the first typing of a paper form: the fields of the form as typed, kept on this laptop until the form is typed
// a second time. It is no part of the record.
type Typing struct {
	Form   int               `json:"form"`
	By     string            `json:"by"` // person id
	At     time.Time         `json:"at"`
	Fields map[string]string `json:"fields"`
}

const (
	typingBucket   = "paper-typings"
	privatePrefix  = "contact_private_" // fields with a name, a number or a time to call: never kept outside of a seal
	mostTypingText = 400
	mostTypings    = 400 // fields of one form
)

// PrivateField names a field of a form that holds personal data. KeepTyping refuses it.
func PrivateField(name string) string { return privatePrefix + name }

func typingKey(eventID string, form int) string { return eventID + "/" + strconv.Itoa(form) }

// KeepTyping keeps the first typing of a form durably. A later one takes its place.
func (p *Programme) KeepTyping(ctx context.Context, a Actor, eventID string, form int, values map[string]string) error {
	if err := p.mayType(ctx, a, eventID, form); err != nil {
		return err
	}
	if len(values) > mostTypings {
		return fault.New(fault.Invalid, "typing", "This is more than a form holds.", "", "Load the page again.")
	}
	t := Typing{Form: form, By: a.Person, At: p.now(), Fields: map[string]string{}}
	for name, v := range values {
		if strings.HasPrefix(name, privatePrefix) || utf8.RuneCountInString(v) > mostTypingText {
			return fault.BadField(name, "This cannot be kept before the form is typed a second time.")
		}
		if v != "" {
			t.Fields[name] = v
		}
	}
	raw, err := json.Marshal(t)
	if err != nil {
		return err
	}
	return p.store.Local(typingBucket).Put(ctx, typingKey(eventID, form), raw)
}

// mayType refuses a form that cannot be typed in: never printed, void, or in the record already.
func (p *Programme) mayType(ctx context.Context, a Actor, eventID string, form int) error {
	d, err := p.Day(ctx, eventID)
	if err != nil {
		return err
	}
	who := d.Person(a.Person)
	if who == nil || who.Gone != "" {
		return fault.New(fault.SignIn, "sign-in", "Nobody is signed in on this device.", "", "Choose your name and type your PIN.")
	}
	if d.Event.Phase == event.IsClosed {
		return closedFault()
	}
	holds := false
	for _, r := range people.Roles {
		holds = holds || who.Has(r)
	}
	if !holds {
		return fault.New(fault.Denied, "role", who.Details.Name+" may not do this.", "", "Ask somebody of the staff to sign in here.")
	}
	_, err = d.FormToType(form)
	return err
}

// FormToType finds a form that may be typed in: it was printed, is not void, and is not in the record.
func (d *Day) FormToType(form int) (FormState, error) {
	for _, f := range d.Forms() {
		if f.Number != form {
			continue
		}
		switch f.State {
		case FormTyped:
			return f, refuse("form-typed", fmt.Sprintf("Form %03d is in the record already, as ticket %03d.", form, f.Ticket), "Twice would count one person as two.", "Take the next form. A mistake is put right by a correction.")
		case FormVoided:
			return f, refuse("form-void", fmt.Sprintf("Form %03d is void: %s", form, f.Reason), "A void form counts nobody.", "Take the next form.")
		case FormBack:
			return f, refuse("form-blank", fmt.Sprintf("Form %03d was counted back as blank.", form), "A blank form counts nobody.", "Look at the number, or count the blank forms again.")
		}
		return f, nil
	}
	return FormState{}, fault.New(fault.Missing, "no-such-form", fmt.Sprintf("No form %03d was printed for this event.", form), "A number that was never printed may be misread.", "Look at the number on the paper, and choose it in the list.")
}

// Typing gives the first typing of a form; ok is false while there is none.
func (p *Programme) Typing(ctx context.Context, eventID string, form int) (t Typing, ok bool, err error) {
	raw, ok, err := p.store.Local(typingBucket).Get(ctx, typingKey(eventID, form))
	if err != nil || !ok {
		return Typing{}, false, err
	}
	return t, true, json.Unmarshal(raw, &t)
}

// Typings lists the forms of an event that have been typed once, by their number.
func (p *Programme) Typings(ctx context.Context, eventID string) (map[int]Typing, error) {
	all, err := p.store.Local(typingBucket).All(ctx)
	if err != nil {
		return nil, err
	}
	out := map[int]Typing{}
	for key, raw := range all {
		if !strings.HasPrefix(key, eventID+"/") {
			continue
		}
		var t Typing
		if err := json.Unmarshal(raw, &t); err != nil {
			return nil, err
		}
		out[t.Form] = t
	}
	return out, nil
}

// ForgetTyping throws the first typing of a form away: it is in the record, or it is to be typed again from the start.
func (p *Programme) ForgetTyping(ctx context.Context, eventID string, form int) error {
	return p.store.Local(typingBucket).Delete(ctx, typingKey(eventID, form))
}
