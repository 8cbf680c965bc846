// Package programme is the programme at work: the one door for every command and every question asked of the record. A
// command loads the subjects it concerns, asks the gates, decides, and appends facts, all inside the one writer; what
// crosses subjects (a test needs a cleared meter, a verified screener, a consented visit) is decided only here.
package programme

import (
	"context"
	"encoding/json"
	"fmt"
	"log/slog"
	"strings"
	"sync"
	"time"

	"github.com/google/uuid"

	"fairstick/internal/charter"
	"fairstick/internal/competence"
	"fairstick/internal/event"
	"fairstick/internal/fact"
	"fairstick/internal/fault"
	"fairstick/internal/followup"
	"fairstick/internal/incident"
	"fairstick/internal/lookback"
	"fairstick/internal/people"
	"fairstick/internal/protocol"
	"fairstick/internal/retention"
	"fairstick/internal/stock"
	"fairstick/internal/store"
	"fairstick/internal/visit"
)

// Catalogue knows every subject of the record.
func Catalogue() *fact.Catalogue {
	c := fact.NewCatalogue()
	charter.Register(c)
	people.Register(c)
	stock.Register(c)
	event.Register(c)
	visit.Register(c)
	incident.Register(c)
	competence.Register(c)
	followup.Register(c)
	lookback.Register(c)
	retention.Register(c)
	return c
}

// Programme is the door. It is safe for use from many goroutines.
type Programme struct {
	store *store.Store
	log   *slog.Logger
	now   func() time.Time

	access access
	keep   keeping
	clock  timekeeping

	watches watching

	days struct {
		sync.Mutex
		byEvent map[string]*cachedDay
	}
}

// New opens the door to a store. The clock must be the one that the store uses.
func New(s *store.Store, now func() time.Time, log *slog.Logger) *Programme {
	p := &Programme{store: s, log: log, now: now}
	p.days.byEvent = map[string]*cachedDay{}
	return p
}

// Now is the programme's clock.
func (p *Programme) Now() time.Time { return p.now() }

// Store gives the keeping of the record to those that look after it: the commands check and backup.
func (p *Programme) Store() *store.Store { return p.store }

// Changes pokes its channel after each durable change; cancel ends it.
func (p *Programme) Changes() (ch <-chan struct{}, cancel func()) { return p.store.Changes() }

// Actor is who does something: the person who is signed in, or nobody for the programme itself.
type Actor struct {
	Person string
}

// Act is what every command carries: its id, which makes a second press harmless, and when it happened if not now.
type Act struct {
	ID string    // UUID made by the page; empty for a command that will not be repeated
	At time.Time // zero: now
}

// Done is the answer of a command that makes or changes one subject.
type Done struct {
	ID      string `json:"id"`
	Already bool   `json:"-"` // the same command had been recorded before
}

// work is one command at work inside the writer.
type work struct {
	tx    *store.Tx
	actor Actor
	me    *people.State // nil for the programme itself
	now   time.Time
	at    time.Time
	id    string // id of the command
	first bool   // the first fact takes the command's id

	before func(fact.Ref, fact.Body) error // asked before each fact when rows of a list are loaded; nil otherwise
}

// errDry rolls back a command that was only tried.
var errDry = fmt.Errorf("programme: tried only")

type receipt struct {
	Kind   string          `json:"kind"`
	Result json.RawMessage `json:"result"`
}

// do runs one command: the same id is answered as it was answered before; a refusal leaves nothing behind.
func do[R any](ctx context.Context, p *Programme, a Actor, act Act, kind string, decide func(*work) (R, error)) (R, error) {
	var out R
	if act.ID != "" {
		if _, err := uuid.Parse(act.ID); err != nil {
			return out, fault.BadField("id", "The form's id is damaged. Load the page again and repeat what you did.")
		}
	}
	err := p.store.Write(ctx, func(tx *store.Tx) error {
		out = *new(R)
		if act.ID != "" {
			raw, ok, err := tx.Receipt(act.ID)
			if err != nil {
				return err
			}
			if ok {
				return replay(raw, kind, &out)
			}
		}
		w, err := p.work(tx, a, act)
		if err != nil {
			return err
		}
		if out, err = decide(w); err != nil {
			return err
		}
		if act.ID == "" {
			return nil
		}
		res, err := json.Marshal(out)
		if err != nil {
			return err
		}
		kept, err := json.Marshal(receipt{Kind: kind, Result: res})
		if err != nil {
			return err
		}
		return tx.Keep(act.ID, kept)
	})
	return out, err
}

func replay(raw []byte, kind string, out any) error {
	var r receipt
	if err := json.Unmarshal(raw, &r); err != nil {
		return err
	}
	if r.Kind != kind {
		return fault.New(fault.Conflict, "id-reused", "This form was already used for something else.",
			"Sending it again could record the wrong thing.", "Load the page again and repeat what you did.")
	}
	if err := json.Unmarshal(r.Result, out); err != nil {
		return err
	}
	if d, ok := out.(*Done); ok {
		d.Already = true
	}
	return nil
}

// futureSlack is how far a clock on another device may run ahead before a time counts as a mistake.
const futureSlack = 2 * time.Minute

func (p *Programme) work(tx *store.Tx, a Actor, act Act) (*work, error) {
	w := &work{tx: tx, actor: a, now: tx.Now(), at: act.At, id: act.ID, first: true}
	if w.at.IsZero() {
		w.at = w.now
	}
	if w.at.After(w.now.Add(futureSlack)) {
		return nil, fault.BadField("at", "The time %s has not come yet. Check the clock and the time that you typed.", w.at.Format("15:04"))
	}
	if w.id == "" {
		id, err := uuid.NewV7()
		if err != nil {
			return nil, err
		}
		w.id = id.String()
	}
	if a.Person == "" {
		return w, nil
	}
	me, err := load[*people.State](w, people.Ref(a.Person))
	if err != nil {
		return nil, err
	}
	if me.Gone != "" {
		return nil, fault.New(fault.Denied, "person-left", me.Details.Name+" no longer takes part in the programme.", "", "Ask the lead.")
	}
	w.me = me
	return w, nil
}

// append records one fact. The first fact of a command takes the command's id.
func (w *work) append(ref fact.Ref, body fact.Body) (fact.Record, error) {
	if w.before != nil {
		if err := w.before(ref, body); err != nil {
			return fact.Record{}, err
		}
	}
	d := store.Draft{At: w.at, By: w.actor.Person, Subject: ref, Body: body}
	if w.first {
		d.ID, w.first = w.id, false
	}
	return w.tx.Append(d)
}

// load reads a subject that must exist.
func load[S fact.State](w *work, ref fact.Ref) (S, error) {
	var none S
	st, ok, err := w.tx.State(ref)
	if err != nil {
		return none, err
	}
	if !ok {
		return none, missing(ref)
	}
	s, ok := st.(S)
	if !ok {
		return none, fmt.Errorf("programme: %s is a %T", ref.Kind, st)
	}
	return s, nil
}

var subjectWords = map[string]string{
	competence.Kind: "training", competence.SetKind: "set of situations", followup.Kind: "follow-up",
	charter.Kind: "programme", people.Kind: "person", stock.MeterKind: "meter", stock.StripLotKind: "strip lot",
	stock.ControlLotKind: "control lot", stock.DisinfectantKind: "disinfectant", stock.SupplyKind: "consumable",
	event.Kind: "event", event.EvidenceKind: "file", visit.Kind: "visit", incident.Kind: "incident", stock.ComparisonKind: "comparison", lookback.Kind: "look-back", retention.Kind: "rules of retention",
}

func missing(ref fact.Ref) *fault.Fault {
	word := subjectWords[ref.Kind]
	if ref.ID == "" {
		return fault.New(fault.Missing, "nothing-chosen", "No "+word+" was chosen.", "", "Choose one and try again.")
	}
	return fault.New(fault.Missing, "no-such-"+strings.ReplaceAll(word, " ", "-"), "There is no such "+word+" in the record.",
		"It may have been typed or linked wrongly.", "Go back to the list and choose it there.")
}

// need refuses a person who holds none of the roles. The programme itself may do everything.
func (w *work) need(roles ...people.Role) error {
	if w.me == nil {
		return nil
	}
	for _, r := range roles {
		if w.me.Has(r) {
			return nil
		}
	}
	words := make([]string, len(roles))
	for i, r := range roles {
		words[i] = string(r)
	}
	return fault.New(fault.Denied, "role", fmt.Sprintf("%s may not do this.", w.me.Details.Name),
		"It needs the role "+strings.Join(words, " or ")+".", "Ask somebody with that role to sign in here.")
}

// charter loads the programme's own facts.
func (w *work) charter() (*charter.State, error) {
	st, ok, err := w.tx.State(charter.Ref)
	if err != nil {
		return nil, err
	}
	if !ok {
		return &charter.State{ID: charter.Ref.ID}, nil
	}
	return st.(*charter.State), nil
}

// protocolOf gives the protocol that an event runs under: the one frozen at its opening, else the one in force.
func (w *work) protocolOf(ev *event.State) (protocol.Protocol, error) {
	ch, err := w.charter()
	if err != nil {
		return protocol.Protocol{}, err
	}
	return protocolFor(ch, ev)
}

func protocolFor(ch *charter.State, ev *event.State) (protocol.Protocol, error) {
	if ev != nil && ev.Opened != nil {
		if a, ok := ch.Version(ev.Opened.Protocol); ok {
			return a.Protocol, nil
		}
	}
	if a, ok := ch.InForce(); ok {
		return a.Protocol, nil
	}
	return protocol.Protocol{}, fault.New(fault.Refused, "no-protocol", "No protocol has been signed.",
		"Without one, nobody knows which readings are referred.", "The lead opens Protocol, reads it and signs it with a second person.")
}
