package programme

import (
	"context"
	"fmt"
	"slices"
	"time"

	"fairstick/internal/fact"
	"fairstick/internal/fault"
	"fairstick/internal/lookback"
	"fairstick/internal/people"
	"fairstick/internal/stock"
	"fairstick/internal/store"
	"fairstick/internal/visit"
)

// The letters of a look-back.
const (
	LetterReading     = "reading"     // the reading may not be right
	LetterFingerstick = "fingerstick" // something about the fingerstick was not as it should be
)

// OpenLookBack keeps a question in the record: from then on names can be seen for it, and nothing that it is about is erased.
type OpenLookBack struct {
	Act
	Ask    AskBack
	Reason string
}

// OpenLookBack records a look-back. A lead or supervisor may.
func (p *Programme) OpenLookBack(ctx context.Context, a Actor, c OpenLookBack) (Done, error) {
	found, err := p.LookBack(ctx, c.Ask)
	if err != nil {
		return Done{}, err
	}
	return do(ctx, p, a, c.Act, "look-back.open", func(w *work) (Done, error) {
		if err := w.need(people.Lead, people.Supervisor); err != nil {
			return Done{}, err
		}
		var f fields
		reason := f.text("reason", "The reason", c.Reason, true, 300)
		if err := f.err(); err != nil {
			return Done{}, err
		}
		return w.describe(lookback.Kind, "", lookback.Opened{Question: found.Question, Words: found.Words, Reason: reason, People: found.People, Readings: found.Read})
	})
}

// again asks a kept question once more. Its moments are exact.
func (p *Programme) again(v *store.View, q lookback.Question) (*Affected, error) {
	h, err := p.hunt(v, AskBack{Event: q.Event, StripLot: q.StripLot, Vial: q.Vial, ControlLot: q.ControlLot, Meter: q.Meter, Screener: q.Screener, FromDay: someDay(q.From), UntilDay: someDay(q.Until)})
	if err != nil {
		return nil, err
	}
	h.q = q
	return h.run(v)
}

func someDay(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.Format(time.DateOnly)
}

// KeptLookBack is a look-back of the record with whom it touches now.
type KeptLookBack struct {
	*lookback.State
	Now    *Affected         // as the record stands
	Names  map[string]string // of the people in it, by id
	Signed string            // name of who closed it
}

// KeptLookBack reads one look-back.
func (p *Programme) KeptLookBack(ctx context.Context, id string) (KeptLookBack, error) {
	var out KeptLookBack
	err := p.store.Read(ctx, func(v *store.View) error {
		st, ok, err := v.State(lookback.Ref(id))
		if err != nil {
			return err
		}
		if !ok {
			return missing(lookback.Ref(id))
		}
		out.State = st.(*lookback.State)
		if out.Now, err = p.again(v, out.Opened.Question); err != nil {
			return err
		}
		all, err := listed[*people.State](v.All(people.Kind))
		out.Names = map[string]string{}
		for _, x := range all {
			out.Names[x.ID] = x.Details.Name
		}
		if out.Closed != nil {
			out.Signed = out.Names[out.Closed.Signed]
		}
		return err
	})
	if err == nil {
		out.Now.At, out.Now.Words = p.now(), out.Opened.Words
	}
	return out, err
}

// Named is one participant who may be called, with the name and number.
type Named struct {
	BackPerson
	Event BackDay
	Contact
}

// LookBackNames opens the names and numbers of those who may be called, and leaves an entry that says so. A lead or supervisor may.
func (p *Programme) LookBackNames(ctx context.Context, a Actor, act Act, id string) ([]Named, error) {
	list, found, err := p.namesOf(ctx, id)
	if err != nil {
		return nil, err
	}
	if err := p.look(ctx, a, act, id, "look-back.names", lookback.NamesShown{People: len(list)}, found); err != nil {
		return nil, err
	}
	return list, nil
}

// LookBackLetters opens the names for letters, and leaves an entry that says how many were made and how many people nobody may
// write to.
func (p *Programme) LookBackLetters(ctx context.Context, a Actor, act Act, id, letter string) ([]Named, error) {
	var f fields
	f.oneOf("letter", "The letter", letter, LetterReading, LetterFingerstick)
	if err := f.err(); err != nil {
		return nil, err
	}
	list, found, err := p.namesOf(ctx, id)
	if err != nil {
		return nil, err
	}
	if len(list) == 0 {
		return nil, refuse("no-letters", "There is nobody to write to.", "Nobody whom this touched gave a name with permission to be contacted.", "Put up a notice where the event was held.")
	}
	if err := p.look(ctx, a, act, id, "look-back.letters", lookback.LettersMade{Letter: letter, People: len(list), Without: found.People - len(list)}, found); err != nil {
		return nil, err
	}
	return list, nil
}

// look records that names were seen. Nothing is given away before the entry is durable.
func (p *Programme) look(ctx context.Context, a Actor, act Act, id, kind string, body fact.Body, found *Affected) error {
	_, err := do(ctx, p, a, act, kind, func(w *work) (Done, error) {
		if a.Person == "" {
			return Done{}, deniedContact()
		}
		if err := w.need(people.Lead, people.Supervisor); err != nil {
			return Done{}, err
		}
		l, err := load[*lookback.State](w, lookback.Ref(id))
		if err != nil {
			return Done{}, err
		}
		if !l.Open() {
			return Done{}, refuse("look-back-closed", "This look-back is closed.", "Names are shown for open ones only.", "Open a new one with its reason.")
		}
		if found.MayCall == 0 {
			return Done{}, refuse("nobody-to-call", "Nobody whom this touched may be called.", "They gave no permission, or their number was erased.", "Put up a notice where the event was held.")
		}
		_, err = w.append(lookback.Ref(id), body)
		return Done{ID: id}, err
	})
	return err
}

// namesOf opens the contacts of everybody in a look-back who may be called.
func (p *Programme) namesOf(ctx context.Context, id string) ([]Named, *Affected, error) {
	var list []Named
	var found *Affected
	err := p.store.Read(ctx, func(v *store.View) error {
		st, ok, err := v.State(lookback.Ref(id))
		if err != nil {
			return err
		}
		if !ok {
			return missing(lookback.Ref(id))
		}
		if found, err = p.again(v, st.(*lookback.State).Opened.Question); err != nil {
			return err
		}
		for _, d := range found.Events {
			day := d
			day.People, day.Runs = nil, nil
			for _, x := range d.People {
				c, ok, err := contactOf(v, x)
				if err != nil {
					return err
				}
				if ok {
					list = append(list, Named{BackPerson: x, Event: day, Contact: c})
				}
			}
		}
		return nil
	})
	return list, found, err
}

// contactOf opens the contact of one participant; ok is false without permission, or when it was erased.
func contactOf(v *store.View, x BackPerson) (c Contact, ok bool, err error) {
	if !x.MayCall {
		return c, false, nil
	}
	st, there, err := v.State(visit.Ref(x.Visit))
	if err != nil || !there {
		return c, false, err
	}
	s := st.(*visit.State)
	if len(s.Sealed) == 0 || !hasKey(v, x.Visit) {
		return c, false, nil
	}
	plain, err := v.Open(visit.Ref(x.Visit), s.Sealed)
	if err != nil {
		return c, false, err
	}
	return c, true, decodeContact(plain, &c)
}

// CloseLookBack ends a look-back.
type CloseLookBack struct {
	Act
	LookBack, Outcome string
	Sign              Sign // of a lead or supervisor
}

// CloseLookBack records what came of it, under a signature.
func (p *Programme) CloseLookBack(ctx context.Context, a Actor, c CloseLookBack) (Done, error) {
	signer, err := p.signed(ctx, c.Sign, people.Lead, people.Supervisor)
	if err != nil {
		return Done{}, err
	}
	return do(ctx, p, a, c.Act, "look-back.close", func(w *work) (Done, error) {
		if err := w.need(people.Lead, people.Supervisor); err != nil {
			return Done{}, err
		}
		l, err := load[*lookback.State](w, lookback.Ref(c.LookBack))
		if err != nil {
			return Done{}, err
		}
		if !l.Open() {
			return Done{}, fault.New(fault.Conflict, "look-back-closed", "This look-back is closed already.", "", "Nothing more to do here.")
		}
		var f fields
		outcome := f.text("outcome", "What came of it", c.Outcome, true, 600)
		if err := f.err(); err != nil {
			return Done{}, err
		}
		_, err = w.append(lookback.Ref(l.ID), lookback.Closed{Outcome: outcome, Signed: signer.ID})
		return Done{ID: l.ID}, err
	})
}

// LookBacks lists those that were kept, the open ones first, then the newest.
func (p *Programme) LookBacks(ctx context.Context) ([]*lookback.State, error) {
	all, err := List[*lookback.State](ctx, p, lookback.Kind)
	slices.Reverse(all)
	slices.SortStableFunc(all, func(a, b *lookback.State) int {
		switch {
		case a.Open() == b.Open():
			return 0
		case a.Open():
			return -1
		}
		return 1
	})
	return all, err
}

// Says tells what a look-back found, in sentences that stand on the page and on paper.
func (b *Affected) Says() []string {
	return []string{
		fmt.Sprintf("It touched %s at %s: %s on %s, by %s; %s.", many(b.People, "person", "people"), many(len(b.Events), "event", "events"), many(b.Read, "reading", "readings"), many(len(b.Meters), "meter", "meters"), many(len(b.Screened), "screener", "screeners"), many(b.Runs, "control run", "control runs")),
		fmt.Sprintf("For %d of %d the result rests on one of these readings.", b.Counts, b.People),
		fmt.Sprintf("%d of %d may be called about their result; %d gave no permission, or their number was erased.", b.MayCall, b.People, b.People-b.MayCall),
	}
}

// many counts things in words: "1 person", "3 people".
func many(n int, one, more string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, more)
}

// Choices is what a look-back can be asked about, those out of use among them.
type Choices struct {
	People      []*people.State
	Meters      []*stock.Meter
	StripLots   []*stock.StripLot
	ControlLots []*stock.ControlLot
}

// Choices reads them from one moment of the record.
func (p *Programme) Choices(ctx context.Context) (c Choices, err error) {
	err = p.store.Read(ctx, func(v *store.View) (err error) {
		if c.People, err = listed[*people.State](v.All(people.Kind)); err != nil {
			return err
		}
		if c.Meters, err = listed[*stock.Meter](v.All(stock.MeterKind)); err != nil {
			return err
		}
		if c.StripLots, err = listed[*stock.StripLot](v.All(stock.StripLotKind)); err != nil {
			return err
		}
		c.ControlLots, err = listed[*stock.ControlLot](v.All(stock.ControlLotKind))
		return err
	})
	return c, err
}
