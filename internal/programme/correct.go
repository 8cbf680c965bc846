package programme

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"fairstick/internal/event"
	"fairstick/internal/fact"
	"fairstick/internal/fault"
	"fairstick/internal/glucose"
	"fairstick/internal/people"
	"fairstick/internal/protocol"
	"fairstick/internal/store"
	"fairstick/internal/visit"
)

// The kinds of correction.
const (
	CorrectReading  = "reading"       // what stands in a reading
	CorrectTicket   = "ticket"        // a reading that was taken from the person of another ticket
	CorrectStruck   = "struck"        // a reading that never happened
	CorrectFood     = "food"          // the last food
	CorrectAnswers  = "answers"       // the questions of the desk
	CorrectOutcome  = "outcome"       // how the visit ended, or that it has not ended
	CorrectContact  = visit.OfContact // whether the participant may be called
	CorrectLanguage = "language"      // of the participant
	CorrectControl  = "control"       // a control run
	CorrectMemory   = "memory"        // several readings from the memory of their meters
)

// CorrectionKinds lists the kinds in the order in which they are counted and offered.
var CorrectionKinds = []string{
	CorrectReading, CorrectTicket, CorrectStruck, CorrectFood, CorrectAnswers, CorrectOutcome, CorrectContact, CorrectLanguage, CorrectControl, CorrectMemory,
}

// The outcomes to which an ended visit can be corrected, and the permissions of contact.
const (
	OutcomeOpen     = "open" // it has not ended
	OutcomeLeft     = "left"
	OutcomeDeclined = "declined"
	OutcomeFinished = "finished"

	ContactNone = "none" // no name is kept
	ContactKept = "kept" // a name is kept; no calls
	ContactCall = "call" // the programme may call
)

// Correct is one correction as it was typed. Which fields are read depends on Kind.
type Correct struct {
	Act    `json:"-"`
	Event  string
	Kind   string
	Visit  string // not for CorrectControl and CorrectMemory
	Fact   string // the reading or the run
	Reason string `json:"-"`
	Sign   Sign   `json:"-"`
	Digest string `json:"-"` // of the preview that was signed

	// CorrectReading and CorrectControl. The value is typed twice when it changes.
	Reading, Again        string
	Meter, StripLot, Vial string
	Purpose               string
	Washed, SameStick     bool
	Misfires              int
	ControlLot, Bottle    string
	Struck                bool // CorrectControl: the run never happened

	To string // CorrectTicket: the visit of the person

	AteKnown bool
	AteAt    time.Time

	Answers protocol.Answers

	Outcome, Why string // Why: as told by whoever left or declined

	Permission        string
	Name, Phone, When string
	Address           string

	Language string

	Values map[string]string // CorrectMemory: what the memory shows, by reading; empty was not compared
}

// Preview is everything that a correction touches, as it would stand after it.
type Preview struct {
	Digest     string // to be sent with the signature: it is refused when the record has changed since
	Kind       string
	Changes    []fact.Change
	Visits     []VisitEffect
	Clearances []ClearanceEffect
	LookBack   []LookBack
	Quarantine string // label of the meter that is taken out
	Equalities []EqualityEffect
	Compared   int // readings held against a memory
	Differed   int
	Late       bool   // the event is closed
	Own        string // the screener who may sign for their own reading; empty when a lead or supervisor must
}

// Bands counts the visits whose band or finding changes.
func (p Preview) Bands() int {
	n := 0
	for _, v := range p.Visits {
		if v.BandChanges() {
			n++
		}
	}
	return n
}

// correcting are those who may look at what a correction would do. Who may sign is another question.
var correcting = []people.Role{people.Screener, people.Counsellor, people.Supervisor, people.Lead}

// PreviewCorrection runs a correction without keeping it and tells what it touches.
func (p *Programme) PreviewCorrection(ctx context.Context, a Actor, c Correct) (Preview, error) {
	var out Preview
	err := p.store.Write(ctx, func(tx *store.Tx) error {
		w, err := p.work(tx, a, Act{At: c.At})
		if err != nil {
			return err
		}
		c.Reason = "preview"
		if out, err = w.correct(c, ""); err != nil {
			return err
		}
		return errDry
	})
	if errors.Is(err, errDry) {
		err = nil
	}
	return out, err
}

// Correct records a correction that was previewed and signed. The signature is that of a lead or supervisor, of a lead
// once the event is closed; a screener may sign for their own last reading while nobody has explained it.
func (p *Programme) Correct(ctx context.Context, a Actor, c Correct) (Done, error) {
	who, err := p.signed(ctx, c.Sign)
	if err != nil {
		return Done{}, err
	}
	return do(ctx, p, a, c.Act, "correct."+c.Kind, func(w *work) (Done, error) {
		var f fields
		c.Reason = f.text("reason", "The reason", c.Reason, true, 200)
		if err := f.err(); err != nil {
			return Done{}, err
		}
		seen, err := w.correct(c, who.ID)
		if err != nil {
			return Done{}, err
		}
		if err := maySign(who, seen); err != nil {
			return Done{}, err
		}
		if seen.Digest != c.Digest {
			return Done{}, fault.New(fault.Conflict, "record-changed", "The record has changed since you looked at this correction.",
				"It would now touch something else than what you read.", "Read the new preview and sign that.")
		}
		if c.Visit == "" {
			return Done{ID: c.Event}, nil
		}
		return Done{ID: c.Visit}, nil
	})
}

func maySign(who *people.State, seen Preview) error {
	role := people.Supervisor
	switch {
	case who.Has(people.Lead), who.Has(people.Supervisor) && !seen.Late, seen.Own != "" && seen.Own == who.ID:
		return nil
	case seen.Late:
		role = people.Lead
	}
	why := "It needs a lead or a supervisor. A screener may sign only for their own last reading, before it is explained."
	if seen.Late {
		why = "The day is closed: its corrections need the lead."
	}
	return fault.New(fault.Denied, "signature-role", who.Details.Name+" may not sign this correction.", why, "Ask somebody with that role.").
		Field("sign_person", "Choose a "+string(role)+".")
}

// correction is one correction at work: what stood before, and what has been done.
type correction struct {
	*work
	c       Correct
	ev      *event.State
	proto   protocol.Protocol
	before  *Day
	signed  string
	out     Preview
	touched []string                 // visits, in the order in which they were touched
	changes map[string][]fact.Change // by visit
	first   string                   // the fact corrected first
	meters  map[string]bool          // meters whose controls were corrected
	unseen  bool                     // a lancet of a moved reading had not been seen into sharps
}

// correct does the whole correction and tells what it touched. It is the one way, for the preview and for the signature.
func (w *work) correct(c Correct, signer string) (Preview, error) {
	if err := w.need(correcting...); err != nil {
		return Preview{}, err
	}
	x := &correction{work: w, c: c, signed: signer, changes: map[string][]fact.Change{}, meters: map[string]bool{}}
	var err error
	if x.before, err = w.day(c.Event); err != nil {
		return Preview{}, err
	}
	x.ev = x.before.Event
	if x.before.ProtocolErr != nil {
		return Preview{}, x.before.ProtocolErr
	}
	x.proto = x.before.Protocol
	x.out.Kind, x.out.Late = c.Kind, x.ev.Phase == event.IsClosed
	kinds := map[string]func() error{
		CorrectReading: x.reading, CorrectTicket: x.ticket, CorrectStruck: x.struck, CorrectFood: x.food, CorrectAnswers: x.answers, CorrectOutcome: x.outcome,
		CorrectContact: x.contact, CorrectLanguage: x.language, CorrectControl: x.control, CorrectMemory: x.memory,
	}
	run, ok := kinds[c.Kind]
	if !ok {
		return Preview{}, fault.BadField("kind", "%q is not a kind of correction.", c.Kind)
	}
	if err := run(); err != nil {
		return Preview{}, err
	}
	if err := x.sign(); err != nil {
		return Preview{}, err
	}
	after, err := w.day(c.Event)
	if err != nil {
		return Preview{}, err
	}
	x.effects(after)
	return x.out, x.digest()
}

// sign records the act itself beside what it corrected.
func (x *correction) sign() error {
	for _, id := range x.touched {
		if len(x.changes[id]) == 0 {
			continue
		}
		b := visit.Corrected{Kind: x.c.Kind, Fact: x.first, Changes: x.changes[id], Reason: x.c.Reason, Signed: x.signed, Late: x.out.Late}
		if _, err := x.append(visit.Ref(id), b); err != nil {
			return err
		}
		x.out.Changes = append(x.out.Changes, x.changes[id]...)
	}
	return nil
}

// digest says in a few figures what was previewed: what was typed, what stood, and what came of it.
func (x *correction) digest() error {
	var stood []any
	for _, id := range x.touched {
		stood = append(stood, x.before.Visit(id))
	}
	for _, r := range x.ev.Runs {
		if x.meters[r.Meter] {
			stood = append(stood, r)
		}
	}
	raw, err := json.Marshal([]any{x.c, stood, x.out.Changes, x.out.Visits, x.out.Clearances, x.out.LookBack})
	if err != nil {
		return err
	}
	sum := sha256.Sum256(raw)
	x.out.Digest = hex.EncodeToString(sum[:16])
	return nil
}

// target loads the visit that is corrected.
func (x *correction) target() (*visit.State, error) {
	v := x.before.Visit(x.c.Visit)
	if v == nil {
		return nil, missing(visit.Ref(x.c.Visit))
	}
	return v, nil
}

// oneReading finds the reading that is corrected.
func (x *correction) oneReading(v *visit.State, id string) (visit.Reading, error) {
	for _, r := range v.Readings {
		if r.ID == id {
			return r, nil
		}
	}
	return visit.Reading{}, fault.New(fault.Missing, "corrected-missing", fmt.Sprintf("Ticket %03d has no such reading.", v.Ticket),
		"It may have been corrected or moved in the meantime.", "Open the ticket again and choose the reading there.")
}

// replace puts a body in the place of a fact that stands.
func (x *correction) replace(ref fact.Ref, id string, body fact.Body) error {
	if x.first == "" {
		x.first = id
	}
	d := store.Draft{At: x.at, By: x.actor.Person, Subject: ref, Body: body, Corrects: id, Reason: x.c.Reason}
	_, err := x.record(d)
	return err
}

// record appends a draft; the first fact of the command takes the command's id.
func (w *work) record(d store.Draft) (fact.Record, error) {
	if w.first && d.ID == "" {
		d.ID, w.first = w.id, false
	}
	return w.tx.Append(d)
}

// standing finds the last fact of a visit that stands and has a body for which is says so.
func (w *work) standing(ref fact.Ref, is func(fact.Body) bool) (fact.Record, bool, error) {
	recs, err := w.tx.Records(ref)
	if err != nil {
		return fact.Record{}, false, err
	}
	settled := fact.Settle(recs)
	for i := len(settled) - 1; i >= 0; i-- {
		if is(settled[i].Body) {
			return settled[i], true, nil
		}
	}
	return fact.Record{}, false, nil
}

// touch notes a visit with what changed in it; fields that did not change are left out.
func (x *correction) touch(id string, changes ...fact.Change) {
	known := false
	for _, t := range x.touched {
		known = known || t == id
	}
	if !known {
		x.touched = append(x.touched, id)
	}
	for _, c := range changes {
		if c.Was != c.Now {
			x.changes[id] = append(x.changes[id], c)
		}
	}
}

// nothingChanged refuses a correction that changes nothing.
func (x *correction) nothingChanged(ids ...string) error {
	for _, id := range ids {
		if len(x.changes[id]) > 0 {
			return nil
		}
	}
	return fault.New(fault.Invalid, "nothing-changed", "Nothing was changed.", "A correction says what is different.", "Change what is wrong, or leave the page.")
}

// shown is a reading in words.
func shown(r glucose.Reading) string { return r.String() }
