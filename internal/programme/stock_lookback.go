package programme

import (
	"cmp"
	"context"
	"slices"
	"strings"
	"time"

	"fairstick/internal/civil"
	"fairstick/internal/event"
	"fairstick/internal/fact"
	"fairstick/internal/fault"
	"fairstick/internal/stock"
	"fairstick/internal/store"
	"fairstick/internal/visit"
)

// Knowing says how the record knows that a supply was at an event.
type Knowing string

// How well the record knows. Gloves, gauze and swabs are written down neither by event nor by person.
const (
	KnownWiped   Knowing = "wiped"   // each wipe of a meter names the disinfectant, so the people read afterwards are known
	KnownCounted Knowing = "counted" // lancets and sharps containers are counted out to an event and back
	KnownHeld    Knowing = "held"    // the programme had some on that day
)

// SupplyTrace is everything that is known of a lot of a supply or disinfectant: where it came from, where it went, which events may
// have used it, and how many people were tested there. It names nobody.
type SupplyTrace struct {
	Line    *StockLine // receipts, places, moves, what is left
	Room    *Stockroom
	Knows   Knowing
	How     string           // what counts as touched, in a sentence
	Days    []SupplyTraceDay // the latest first
	People  int              // tested at those events, or known to have been touched
	MayCall int
	At      time.Time
}

// SupplyTraceDay is one event that used it, or may have.
type SupplyTraceDay struct {
	Event   string
	Name    string
	Venue   string
	Date    civil.Date
	Tested  int // people who were read at the event
	Touched int // of these, those whom the record links to it; the same as Tested when it links nobody
	MayCall int // of the touched
	Trip    *StockTrip
	Wipes   int // of meters with it
}

// TraceSupply finds what a supply or a disinfectant may have touched.
func (p *Programme) TraceSupply(ctx context.Context, key string) (*SupplyTrace, error) {
	ref, err := thingRef(key)
	if err != nil {
		return nil, err
	}
	if ref.Kind != stock.SupplyKind && ref.Kind != stock.DisinfectantKind {
		return nil, fault.New(fault.Refused, "lot-look-back", "Strips and control solution are looked up by lot and reading.", "", "Open the look-back of the lot.")
	}
	out := &SupplyTrace{At: p.now()}
	err = p.store.Read(ctx, func(v *store.View) error {
		f, err := readStock(v, out.At)
		if err != nil {
			return err
		}
		recs, err := v.Records(ref)
		if err != nil {
			return err
		}
		out.Room = f.room()
		if out.Line = out.Room.Line(key); out.Line == nil {
			return missing(ref)
		}
		out.Line.Struck = struckMoves(recs)
		out.knows(ref)
		for _, ev := range f.events {
			if err := out.day(v, ev, ref); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	slices.SortStableFunc(out.Days, func(a, b SupplyTraceDay) int { return compareDates(b.Date, a.Date) })
	return out, nil
}

func (b *SupplyTrace) knows(ref fact.Ref) {
	switch {
	case ref.Kind == stock.DisinfectantKind:
		b.Knows = KnownWiped
		b.How = "Supplies are tracked by event, not by person. Of disinfectants the record knows more: every wipe of a meter names what it was wiped with. The people counted were read with a meter whose last wipe was with it."
	case b.Line.Use == stock.UseLancets || b.Line.Use == stock.UseSharps:
		b.Knows = KnownCounted
		b.How = "Supplies are tracked by event, not by person. Events count these without saying of which box: the first to expire is taken to have gone first. Everybody tested at an event that took some may have been touched."
	default:
		b.Knows = KnownHeld
		b.How = "Supplies are tracked by event, not by person, and this one is not counted out to events. Everybody tested on a day on which the programme had some may have been touched."
	}
}

// day adds an event when it used the supply or may have. A planned event has touched nobody.
func (b *SupplyTrace) day(v *store.View, ev *event.State, ref fact.Ref) error {
	if ev.Phase == event.IsPlanned && len(ev.Loads) == 0 {
		return nil
	}
	d := SupplyTraceDay{Event: ev.ID, Name: ev.Plan.Name, Venue: ev.Plan.Venue, Date: ev.Plan.Date}
	touched := func(visit.Reading) bool { return true }
	switch b.Knows {
	case KnownWiped:
		recs, err := v.Records(event.Ref(ev.ID))
		if err != nil {
			return err
		}
		w := wipesOf(recs)
		if d.Wipes = w.with(ref.ID); d.Wipes == 0 {
			return nil
		}
		touched = func(r visit.Reading) bool { return w.last(r.Meter, r.At) == ref.ID }
	case KnownCounted:
		i := slices.IndexFunc(b.Line.Events, func(t StockTrip) bool { return t.Event == ev.ID })
		if i < 0 {
			return nil
		}
		d.Trip = &b.Line.Events[i]
	case KnownHeld:
		if !hadSome(b.Line.shelf, ev) {
			return nil
		}
	}
	list, err := listed[*visit.State](v.Children(visit.Kind, ev.ID))
	if err != nil {
		return err
	}
	for _, s := range list {
		if len(s.Readings) == 0 {
			continue
		}
		d.Tested++
		if slices.ContainsFunc(s.Readings, touched) {
			d.Touched++
			if MayCall(s) {
				d.MayCall++
			}
		}
	}
	b.People, b.MayCall = b.People+d.Touched, b.MayCall+d.MayCall
	b.Days = append(b.Days, d)
	return nil
}

// hadSome reports whether something of a shelf lay somewhere on the day of an event and was not held before it began.
func hadSome(shelf *stock.Shelf, ev *event.State) bool {
	begins := ev.Plan.Date.Time(ev.Zone())
	if shelf.Held(begins) != nil {
		return false
	}
	var before, during []stock.Move
	for _, m := range shelf.Moves {
		if m.At.Before(begins) {
			before = append(before, m)
		}
		if m.At.Before(ev.Plan.Date.AddDays(1).Time(ev.Zone())) {
			during = append(during, m)
		}
	}
	for _, moves := range [][]stock.Move{before, during} { // thrown away in the evening, it was there in the morning
		if stock.Settle([]stock.Item{{Moves: moves}}, nil)[0].OnHand() > 0 {
			return true
		}
	}
	return false
}

// wipes are the wipes of the meters of one event, by meter, in the order of their times.
type wipes map[string][]wiped

type wiped struct {
	at   time.Time
	with string // disinfectant
}

func wipesOf(recs []fact.Record) wipes {
	out := wipes{}
	for _, r := range fact.Settle(recs) {
		if b, ok := r.Body.(event.MeterWiped); ok {
			out[b.Meter] = append(out[b.Meter], wiped{r.At, b.Disinfectant})
		}
	}
	for _, list := range out {
		slices.SortStableFunc(list, func(a, b wiped) int { return cmp.Or(a.at.Compare(b.at), strings.Compare(a.with, b.with)) })
	}
	return out
}

// with counts the wipes with a disinfectant.
func (w wipes) with(disinfectant string) int {
	n := 0
	for _, list := range w {
		for _, x := range list {
			if x.with == disinfectant {
				n++
			}
		}
	}
	return n
}

// last is what a meter was wiped with last before a moment; empty when it was not.
func (w wipes) last(meter string, at time.Time) string {
	with := ""
	for _, x := range w[meter] {
		if x.at.Before(at) {
			with = x.with
		}
	}
	return with
}
