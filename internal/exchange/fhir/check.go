package fhir

import (
	"bufio"
	"bytes"
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"maps"
	"slices"
	"strings"
	"time"

	"fairstick/internal/fault"
	"fairstick/internal/programme"
)

// Against holds a file of FHIR against the record: every reading of the events that are added is looked for in the file,
// and what differs is named. Control runs are passed over. Nothing is added to the record: a reading comes into it through its gates alone.
type Against struct {
	want map[string]expected // by the id of the reading
	out  Checked
}

// expected is what an Observation says of one reading of the record.
type expected struct {
	ticket        int
	code, unit    string
	value, status string
	at            time.Time
}

// Checked is what came of holding a file against the record.
type Checked struct {
	Same        int // readings that the file and the record say alike
	Differences []Difference
	Missing     int // more differences than are listed
}

// Difference is one thing that the file and the record say differently.
type Difference struct {
	Ticket  int    // 0 when the record has no such reading
	Reading string // its id
	What    string // status, code, value, time, not in the record, not in the file
	File    string
	Record  string
}

// mostDifferences bounds what is listed.
const mostDifferences = 200

func (c *Checked) differ(d Difference) {
	if len(c.Differences) == mostDifferences {
		c.Missing++
		return
	}
	c.Differences = append(c.Differences, d)
}

// NewAgainst begins a check.
func NewAgainst() *Against { return &Against{want: map[string]expected{}} }

// Add takes in the readings of one event.
func (a *Against) Add(x *programme.Leaving) error {
	tickets := map[string]int{}
	for i := range x.Going {
		v := &x.Going[i]
		for _, r := range v.Readings {
			tickets[r.ID] = v.Ticket
		}
		for _, r := range v.Withdrawn {
			tickets[r.ID] = v.Ticket
		}
	}
	return build(x, inLines, map[string]bool{}, func(r Resource) error {
		o, ok := r.(Observation)
		if !ok || ofDevice(o) {
			return nil
		}
		id, e := expect(o)
		e.ticket = tickets[id]
		a.want[id] = e
		return nil
	})
}

// expect reads the reading out of an Observation; the id is empty when it is none of ours.
func expect(o Observation) (string, expected) {
	id := ""
	for _, i := range o.Identifier {
		if rest, ok := strings.CutPrefix(i.Value, "urn:uuid:"); ok && i.System == uri {
			id = rest
		}
	}
	e := expected{status: o.Status}
	for _, c := range o.Code.Coding {
		if c.System == loinc {
			e.code = c.Code
		}
	}
	if q := o.ValueQuantity; q != nil {
		e.value, e.unit = q.Value.String(), q.Code
	} else if r := o.DataAbsentReason; r != nil && len(r.Coding) > 0 {
		e.value = r.Coding[0].Code
	}
	e.at, _ = time.Parse(time.RFC3339, o.EffectiveDateTime) // a time that is none differs from every time
	return id, e
}

// Read reads a bundle or NDJSON to its end and compares. What is no FHIR at all is a *fault.Fault of key "fhir-unreadable".
func (a *Against) Read(r io.Reader) (Checked, error) {
	in := bufio.NewReaderSize(r, 1<<16)
	start, err := in.Peek(4096)
	if err != nil && !errors.Is(err, io.EOF) {
		return Checked{}, unreadable(err)
	}
	if len(bytes.TrimSpace(start)) == 0 {
		return Checked{}, fault.New(fault.Invalid, "fhir-unreadable", "The file is empty.", "", "Choose a file that was written by fairstick export fhir.")
	}
	dec := json.NewDecoder(in)
	dec.UseNumber()
	if bytes.Contains(start, []byte(`"Bundle"`)) {
		err = a.bundle(dec)
	} else {
		err = a.lines(dec)
	}
	if err != nil {
		return Checked{}, unreadable(err)
	}
	for _, id := range slices.SortedFunc(maps.Keys(a.want), func(x, y string) int {
		return cmp.Or(a.want[x].ticket-a.want[y].ticket, strings.Compare(x, y))
	}) {
		e := a.want[id]
		a.out.differ(Difference{Ticket: e.ticket, Reading: id, What: "not in the file", Record: e.said()})
	}
	return a.out, nil
}

func unreadable(err error) error {
	return fault.New(fault.Invalid, "fhir-unreadable", "The file is not a FHIR bundle or NDJSON of FHIR resources.", "Nothing of it was compared.", "Choose a file that was written by fairstick export fhir.").Because(err)
}

// lines reads one resource after another.
func (a *Against) lines(dec *json.Decoder) error {
	for {
		var raw json.RawMessage
		if err := dec.Decode(&raw); errors.Is(err, io.EOF) {
			return nil
		} else if err != nil {
			return err
		}
		if err := a.one(raw); err != nil {
			return err
		}
	}
}

// bundle reads the entries of a bundle one after another, and passes over everything else in it.
func (a *Against) bundle(dec *json.Decoder) error {
	if t, err := dec.Token(); err != nil || t != json.Delim('{') {
		return errors.Join(err, errors.New("fhir: no object"))
	}
	for dec.More() {
		key, err := dec.Token()
		if err != nil {
			return err
		}
		if key != "entry" {
			var skip json.RawMessage
			if err := dec.Decode(&skip); err != nil {
				return err
			}
			continue
		}
		if t, err := dec.Token(); err != nil || t != json.Delim('[') {
			return errors.Join(err, errors.New("fhir: entry is no list"))
		}
		for dec.More() {
			var e struct{ Resource json.RawMessage }
			if err := dec.Decode(&e); err != nil {
				return err
			}
			if err := a.one(e.Resource); err != nil {
				return err
			}
		}
		if _, err := dec.Token(); err != nil {
			return err
		}
	}
	_, err := dec.Token()
	return err
}

func (a *Against) one(raw json.RawMessage) error {
	var h Head
	if err := json.Unmarshal(raw, &h); err != nil {
		return err
	}
	if h.ResourceType == "" {
		return errors.New("fhir: no resource type")
	}
	if h.ResourceType != "Observation" {
		return nil
	}
	var o Observation
	if err := json.Unmarshal(raw, &o); err != nil {
		return err
	}
	if ofDevice(o) {
		return nil
	}
	id, got := expect(o)
	want, ok := a.want[id]
	if !ok {
		a.out.differ(Difference{Reading: id, What: "not in the record", File: got.said()})
		return nil
	}
	delete(a.want, id)
	same := true
	for _, x := range []struct{ what, file, record string }{
		{"status", got.status, want.status},
		{"code", got.code, want.code},
		{"value", got.shown(), want.shown()},
		{"time", got.at.UTC().Format(time.RFC3339), want.at.UTC().Format(time.RFC3339)},
	} {
		if x.file != x.record {
			same = false
			a.out.differ(Difference{Ticket: want.ticket, Reading: id, What: x.what, File: x.file, Record: x.record})
		}
	}
	if same {
		a.out.Same++
	}
	return nil
}

func (e expected) shown() string { return strings.TrimSpace(e.value + " " + e.unit) }

func (e expected) said() string {
	return fmt.Sprintf("%s at %s", e.shown(), e.at.UTC().Format(time.RFC3339))
}
