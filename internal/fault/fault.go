// Package fault is the one error type that reaches a person or a program.
//
// A Fault keeps what may be shown (Sentence, Why, Do, Fields) apart from what may not (Cause). The same Fault makes the
// page, the JSON answer, the two lines of the command line and the exit code. An error that is not a Fault is internal:
// its text stays in the log.
package fault

import (
	"errors"
	"fmt"
	"strings"
)

// Kind says what sort of refusal it is; the faces choose a status or an exit code by it.
type Kind string

// The kinds of refusal.
const (
	Invalid  Kind = "invalid"   // what was typed cannot be right
	Refused  Kind = "refused"   // a gate is shut: the act is not allowed now
	Denied   Kind = "denied"    // this person may not do it
	SignIn   Kind = "sign-in"   // nobody is signed in
	Missing  Kind = "missing"   // the thing named does not exist
	Conflict Kind = "conflict"  // somebody else was first
	Unusable Kind = "unusable"  // the file or folder cannot be used as it is
	Internal Kind = "internal"  // our own defect
	Busy     Kind = "too-often" // too many tries in too short a time
)

// Fault is a refusal in three parts, as it is said to the person: what happened, why it matters, what to do now.
type Fault struct {
	Kind     Kind
	Key      string            // stable name for programs, for example "value-absurd"
	Sentence string            // what happened
	Why      string            // why it matters; may be empty
	Do       string            // what to do now; may be empty
	Fields   map[string]string // message by form field; may be nil
	Override string            // role that may pass this gate with a signed reason; empty when nobody may
	Lang     string            // language of the sentences; English when empty
	cause    error
}

// Error gives the public sentences in one line. It never contains the cause.
func (f *Fault) Error() string {
	parts := []string{f.Sentence}
	if f.Why != "" {
		parts = append(parts, f.Why)
	}
	if f.Do != "" {
		parts = append(parts, f.Do)
	}
	return strings.Join(parts, " ")
}

// Unwrap gives the private cause.
func (f *Fault) Unwrap() error { return f.cause }

// Because returns a copy that keeps a private cause for the log.
func (f *Fault) Because(err error) *Fault {
	c := *f
	c.cause = err
	return &c
}

// Field returns a copy that says what is wrong with one form field.
func (f *Fault) Field(name, message string) *Fault {
	c := *f
	c.Fields = make(map[string]string, len(f.Fields)+1)
	for k, v := range f.Fields {
		c.Fields[k] = v
	}
	c.Fields[name] = message
	return &c
}

// New makes a fault of a kind: key for programs, then what happened, why it matters and what to do.
func New(kind Kind, key, sentence, why, do string) *Fault {
	return &Fault{Kind: kind, Key: key, Sentence: sentence, Why: why, Do: do}
}

// BadField makes an Invalid fault about one field whose message is also its sentence.
func BadField(field, format string, args ...any) *Fault {
	msg := fmt.Sprintf(format, args...)
	return &Fault{Kind: Invalid, Key: "field-" + field, Sentence: msg, Fields: map[string]string{field: msg}}
}

// Of finds the Fault in an error chain. Any other error is reported as Internal with its text hidden; nil gives nil.
func Of(err error) *Fault {
	if err == nil {
		return nil
	}
	var f *Fault
	if errors.As(err, &f) {
		return f
	}
	return New(Internal, "internal", "Something went wrong inside Fairstick.", "What you typed was not recorded.",
		"Try once more; if it comes back, note the time and tell the lead.").Because(err)
}

// Is reports whether the error chain holds a Fault with this key.
func Is(err error, key string) bool {
	var f *Fault
	return errors.As(err, &f) && f.Key == key
}
