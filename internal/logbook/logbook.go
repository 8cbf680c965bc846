// Package logbook is the record itself: what an entry is, the bytes that stand for it, and how those bytes are chained,
// ordered, signed and, where they are personal, sealed.
//
// It keeps nothing: the store does. The bytes made here are the ones that are hashed, kept and sent to other laptops, so
// there is exactly one way to write an entry and anything else is refused on reading. Nothing here reads a clock; the only
// thing taken from outside is randomness for keys, nonces and ids.
package logbook

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"time"
	"unicode"
	"unicode/utf8"

	"fairstick/internal/fact"
)

// MaxBytes is the most that one encoded entry may hold: 256 KiB. Larger things are not facts.
const MaxBytes = 256 << 10

// maxName bounds ids, kinds and names of nodes and people, in bytes; maxReason bounds the reason of a correction.
const (
	maxName   = 128
	maxReason = 4096
)

// Entry is one immutable fact as it is kept.
type Entry struct {
	ID       string
	Node     string    // the laptop that made it
	Seq      uint64    // 1, 2, 3 ... per node, no gaps
	At       time.Time // when it happened, to the millisecond, in UTC
	Recorded string    // hybrid logical clock, see Clock
	By       string    // person id; empty for the programme itself
	Subject  fact.Ref
	Kind     string // kind of the body
	Corrects string // id of the entry that this one corrects; empty for an ordinary entry
	Reason   string // why it was corrected
	Body     json.RawMessage
}

// timeForm is how At is written: UTC, always three decimals, so that equal instants have equal bytes.
const timeForm = "2006-01-02T15:04:05.000Z"

// wire is the one written form; the order of its fields is part of the format.
type wire struct {
	V        int             `json:"v"`
	ID       string          `json:"id"`
	Node     string          `json:"node"`
	Seq      uint64          `json:"seq"`
	At       string          `json:"at"`
	Recorded string          `json:"recorded"`
	By       string          `json:"by,omitempty"`
	Subject  fact.Ref        `json:"subject"`
	Kind     string          `json:"kind"`
	Corrects string          `json:"corrects,omitempty"`
	Reason   string          `json:"reason,omitempty"`
	Body     json.RawMessage `json:"body"`
}

// Encode gives the canonical bytes of an entry: compact JSON with fields in a fixed order. It refuses an entry that is
// not complete or is larger than MaxBytes. At is written in UTC and cut to the millisecond.
func Encode(e Entry) ([]byte, error) {
	if err := e.valid(); err != nil {
		return nil, err
	}
	var buf bytes.Buffer
	enc := json.NewEncoder(&buf)
	enc.SetEscapeHTML(false)
	err := enc.Encode(wire{
		V: 1, ID: e.ID, Node: e.Node, Seq: e.Seq, At: e.At.UTC().Format(timeForm), Recorded: e.Recorded, By: e.By,
		Subject: e.Subject, Kind: e.Kind, Corrects: e.Corrects, Reason: e.Reason, Body: e.Body,
	})
	if err != nil {
		return nil, fmt.Errorf("logbook: body of %s: %w", e.Kind, err)
	}
	out := bytes.TrimSuffix(buf.Bytes(), []byte("\n"))
	if len(out) > MaxBytes {
		return nil, fmt.Errorf("logbook: an entry of %d bytes is larger than %d", len(out), MaxBytes)
	}
	return out, nil
}

// Decode reads the bytes that Encode wrote and nothing else: unknown fields, another order, spaces, a second value or too
// many bytes are errors.
func Decode(data []byte) (Entry, error) {
	if len(data) > MaxBytes {
		return Entry{}, fmt.Errorf("logbook: an entry of %d bytes is larger than %d", len(data), MaxBytes)
	}
	var w wire
	dec := json.NewDecoder(bytes.NewReader(data))
	dec.DisallowUnknownFields()
	if err := dec.Decode(&w); err != nil {
		return Entry{}, fmt.Errorf("logbook: not an entry: %w", err)
	}
	if w.V != 1 {
		return Entry{}, fmt.Errorf("logbook: an entry of version %d; this program reads version 1", w.V)
	}
	at, err := time.Parse(timeForm, w.At)
	if err != nil {
		return Entry{}, fmt.Errorf("logbook: at: %w", err)
	}
	e := Entry{
		ID: w.ID, Node: w.Node, Seq: w.Seq, At: at, Recorded: w.Recorded, By: w.By, Subject: w.Subject, Kind: w.Kind,
		Corrects: w.Corrects, Reason: w.Reason, Body: w.Body,
	}
	again, err := Encode(e)
	if err != nil {
		return Entry{}, err
	}
	if !bytes.Equal(again, data) {
		return Entry{}, errors.New("logbook: not in canonical form")
	}
	return e, nil
}

func (e Entry) valid() error {
	for _, f := range []struct {
		name, value string
		must        bool
	}{
		{"id", e.ID, true},
		{"node", e.Node, true},
		{"by", e.By, false},
		{"subject kind", e.Subject.Kind, true},
		{"subject id", e.Subject.ID, true},
		{"kind", e.Kind, true},
		{"corrects", e.Corrects, false},
	} {
		if f.value == "" && f.must {
			return fmt.Errorf("logbook: %s is missing", f.name)
		}
		if len(f.value) > maxName || !plain(f.value) {
			return fmt.Errorf("logbook: %s is too long or holds characters that a name may not have", f.name)
		}
	}
	switch {
	case e.Seq == 0:
		return errors.New("logbook: seq begins at 1")
	case e.At.UTC().Year() < 1 || e.At.UTC().Year() > 9999:
		return errors.New("logbook: at is not a time")
	case e.Corrects == "" && e.Reason != "":
		return errors.New("logbook: a reason belongs to a correction")
	case e.Corrects != "" && e.Reason == "":
		return errors.New("logbook: a correction says why")
	case e.Corrects == e.ID:
		return errors.New("logbook: an entry cannot correct itself")
	case len(e.Reason) > maxReason || !utf8.ValidString(e.Reason):
		return errors.New("logbook: the reason is too long or not text")
	case len(e.Body) == 0 || e.Body[0] != '{' || !utf8.Valid(e.Body):
		return errors.New("logbook: a body is a JSON object")
	}
	_, err := parseStamp(e.Recorded)
	return err
}

// plain reports whether a name is text without control characters.
func plain(s string) bool {
	for _, r := range s {
		if r == utf8.RuneError || unicode.IsControl(r) {
			return false
		}
	}
	return true
}

// Unread is the body of an entry whose kind this program does not know, as when a newer laptop made it. States ignore it.
type Unread struct {
	Kind string
	Body json.RawMessage
}

// FactKind implements fact.Body.
func (u Unread) FactKind() string { return u.Kind }

// NewEntry writes a record as an entry. At is cut to the millisecond.
func NewEntry(r fact.Record) (Entry, error) {
	if r.Body == nil {
		return Entry{}, errors.New("logbook: a fact without a body")
	}
	var buf bytes.Buffer
	enc := json.NewEncoder(&buf)
	enc.SetEscapeHTML(false)
	if err := enc.Encode(r.Body); err != nil {
		return Entry{}, fmt.Errorf("logbook: body of %s: %w", r.Body.FactKind(), err)
	}
	return Entry{
		ID: r.ID, Node: r.Node, Seq: r.Seq, At: r.At.UTC().Truncate(time.Millisecond), Recorded: r.Recorded, By: r.By,
		Subject: r.Subject, Kind: r.Body.FactKind(), Corrects: r.Corrects, Reason: r.Reason,
		Body: bytes.TrimSuffix(buf.Bytes(), []byte("\n")),
	}, nil
}

// Record reads an entry as a fact. When the catalogue does not know the kind, or cannot read the body, the record comes
// with the body Unread beside the error: it has happened, though this program cannot say what it means.
func (e Entry) Record(cat *fact.Catalogue) (fact.Record, error) {
	r := fact.Record{
		Meta: fact.Meta{
			ID: e.ID, Node: e.Node, Seq: e.Seq, At: e.At, Recorded: e.Recorded, By: e.By, Corrects: e.Corrects, Reason: e.Reason,
		},
		Subject: e.Subject,
	}
	body, err := cat.Decode(e.Kind, e.Body)
	if err != nil {
		r.Body = Unread{Kind: e.Kind, Body: e.Body}
		return r, err
	}
	r.Body = body
	return r, nil
}
