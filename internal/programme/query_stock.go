package programme

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"fairstick/internal/charter"
	"fairstick/internal/civil"
	"fairstick/internal/event"
	"fairstick/internal/fact"
	"fairstick/internal/people"
	"fairstick/internal/stock"
	"fairstick/internal/store"
)

// StockPlace is what lies at one place. The place is empty for what came back from an event and was not put away.
type StockPlace struct {
	Place string `json:"place"`
	N     int    `json:"n"`
}

// StockLine is how one lot or supply stands.
type StockLine struct {
	Key       string         `json:"id"` // kind and id, as the commands take it
	Name      string         `json:"name"`
	Unit      string         `json:"unit"`
	Use       stock.Use      `json:"use,omitempty"`
	Expiry    civil.Date     `json:"expiry,omitzero"`
	Expired   bool           `json:"expired,omitempty"`
	Kept      bool           `json:"kept"` // something was received or counted
	OnHand    int            `json:"on_hand"`
	Places    []StockPlace   `json:"places,omitempty"`
	AtEvents  int            `json:"at_events"`
	Received  int            `json:"received"`
	Used      int            `json:"used_at_events"`
	Disposed  int            `json:"disposed"`
	Found     int            `json:"found"`
	Lost      int            `json:"lost"`
	Hold      *stock.Hold    `json:"hold,omitempty"`
	Withdrawn string         `json:"withdrawn,omitempty"`
	Price     *stock.Price   `json:"price,omitempty"` // per piece
	Followed  bool           `json:"followed"`        // events count it out and back; of anything else only a count shows what was used
	Value     int64          `json:"value"`           // of what is on hand, in minor units at the mean price
	Warnings  []StockWarning `json:"warnings,omitempty"`
	Events    []StockTrip    `json:"events,omitempty"` // the latest first
	Struck    []StruckMove   `json:"-"`                // of StockThing alone, in the order of the record

	pack  int
	shelf *stock.Shelf
	of    fact.State // the lot or supply itself
}

// Pack is the pieces in a pack of the latest receipt, or as the label says; 0 when it is not known.
func (l StockLine) Pack() int { return l.pack }

// Shelf is what was received, moved, counted, disposed and held.
func (l StockLine) Shelf() *stock.Shelf { return l.shelf }

// Out reports whether nothing of it may be used.
func (l StockLine) Out() bool { return l.Hold != nil || l.Withdrawn != "" }

// StockTrip is what one event had of a line: Brought = Used + Back + There.
type StockTrip struct {
	Event   string     `json:"event"`
	Name    string     `json:"name"`
	Date    civil.Date `json:"date"`
	Brought int        `json:"brought"`
	Used    int        `json:"used"`
	Back    int        `json:"back"`
	There   int        `json:"still_there"`
}

// StockWarning is something about the stock that asks for an act.
type StockWarning struct {
	Stop bool   `json:"stop"` // do not use it
	Key  string `json:"id"`   // of the line; empty for none
	Says string `json:"says"`
}

// InUse is an opened vial or bottle that was not discarded.
type InUse struct {
	Key     string     `json:"id"`
	Name    string     `json:"name"` // the lot
	Vial    string     `json:"container"`
	Opened  civil.Date `json:"opened"`
	Discard civil.Date `json:"discard"` // last day of use
	Past    bool       `json:"past"`
}

// StockValue is an amount in minor units of one currency.
type StockValue struct {
	Minor    int64  `json:"minor"`
	Currency string `json:"currency"`
}

// Stockroom is the whole stock from one moment of the record.
type Stockroom struct {
	Lines    []StockLine     `json:"lines"` // what asks for an act first, then the earliest expiry
	Places   []string        `json:"places"`
	Warnings []StockWarning  `json:"warnings"`
	InUse    []InUse         `json:"in_use"`
	Value    []StockValue    `json:"value"`
	Events   []stock.Demand  `json:"planned_events"`
	Orders   []stock.Order   `json:"orders"`            // only what planned events need
	OrderBy  civil.Date      `json:"order_by,omitzero"` // by the programme's own lead time for supplies; zero when it has none or nothing lacks
	People   []*people.State `json:"-"`
}

// Line finds a line by its key; nil when it is not there.
func (r *Stockroom) Line(key string) *StockLine {
	for i := range r.Lines {
		if r.Lines[i].Key == key {
			return &r.Lines[i]
		}
	}
	return nil
}

// NameOf gives the name of a person; "the programme" for none.
func (r *Stockroom) NameOf(id string) string {
	for _, p := range r.People {
		if p.ID == id {
			return p.Details.Name
		}
	}
	return "the programme"
}

// Stock tells levels by lot and place, what expires or must be discarded when, what to order for the planned events, and
// what the stock is worth by the programme's own invoices.
func (p *Programme) Stock(ctx context.Context) (*Stockroom, error) {
	var f stockFacts
	err := p.store.Read(ctx, func(v *store.View) (err error) {
		f, err = readStock(v, p.now())
		return err
	})
	if err != nil {
		return nil, err
	}
	return f.room(), nil
}

// stockFacts is what the stock is worked out from.
type stockFacts struct {
	things []thing
	events []*event.State
	used   map[string]eventUse
	people []*people.State
	inUse  []InUse
	ahead  int // days before an event by which supplies are to be asked for; 0 when the programme has not said
	now    time.Time
}

func readStock(v *store.View, now time.Time) (f stockFacts, err error) {
	f.now, f.used = now, map[string]eventUse{}
	if f.things, err = allThings(v); err != nil {
		return f, err
	}
	if f.events, err = listed[*event.State](v.All(event.Kind)); err != nil {
		return f, err
	}
	if f.people, err = listed[*people.State](v.All(people.Kind)); err != nil {
		return f, err
	}
	for _, ev := range f.events {
		if ev.Back == nil && ev.Phase != event.IsPlanned && len(ev.Loads) > 0 {
			d, err := readDay(v, ev.ID)
			if err != nil {
				return f, err
			}
			f.used[ev.ID] = d.used()
		}
	}
	if st, ok, err := v.State(charter.Ref); err != nil {
		return f, err
	} else if ok {
		if t, known := st.(*charter.State).LeadTimes.Find(suppliesLead); known && !t.After {
			f.ahead = t.Days
		}
	}
	var r Stockroom
	err = r.opened(v, civil.Of(now))
	f.inUse = r.InUse
	return f, err
}

func (f stockFacts) room() *Stockroom {
	r := &Stockroom{People: f.people, InUse: f.inUse}
	r.fill(f.things, f.events, f.used, f.now)
	for _, o := range r.Orders {
		if by := o.On.AddDays(-f.ahead); o.Missing > 0 && f.ahead > 0 && (r.OrderBy.IsZero() || by.Before(r.OrderBy)) {
			r.OrderBy = by
		}
	}
	return r
}

// suppliesLead is the lead time that tells how early supplies are asked for.
const suppliesLead = "supplies-request"

// opened lists the containers in use.
func (r *Stockroom) opened(s source, today civil.Date) error {
	lots, err := listed[*stock.StripLot](s.All(stock.StripLotKind))
	if err != nil {
		return err
	}
	sols, err := listed[*stock.ControlLot](s.All(stock.ControlLotKind))
	if err != nil {
		return err
	}
	add := func(key, name, word string, list []stock.Container) {
		for _, c := range list {
			if c.Discarded == "" {
				r.InUse = append(r.InUse, InUse{Key: key, Name: name, Vial: word + " " + c.Name, Opened: c.Opened, Discard: c.Discard, Past: today.After(c.Discard)})
			}
		}
	}
	for _, l := range lots {
		add(thingKey(stock.StripLotRef(l.ID)), "Strip lot "+l.Details.Lot, "Vial", l.Vials)
	}
	for _, l := range sols {
		add(thingKey(stock.ControlLotRef(l.ID)), "Control lot "+l.Details.Lot+", level "+l.Details.Level, "Bottle", l.Bottles)
	}
	slices.SortStableFunc(r.InUse, func(a, b InUse) int { return compareDates(a.Discard, b.Discard) })
	return nil
}

func compareDates(a, b civil.Date) int {
	switch {
	case a == b:
		return 0
	case a.IsZero():
		return 1
	case b.IsZero() || a.Before(b):
		return -1
	}
	return 1
}

func (r *Stockroom) fill(things []thing, events []*event.State, used map[string]eventUse, now time.Time) {
	today := civil.Of(now)
	byID := map[string]*event.State{}
	for _, ev := range events {
		byID[ev.ID] = ev
		if ev.Phase == event.IsPlanned && !ev.Plan.Date.Before(today) && len(ev.Loads) == 0 {
			r.Events = append(r.Events, stock.Demand{Event: ev.ID, Name: ev.Plan.Name, Date: ev.Plan.Date, Expected: ev.Plan.Expected})
		}
	}
	r.Places = places(things)
	var batches []stock.Batch
	values := map[string]int64{}
	accounts := settle(things, events, used)
	for _, t := range things {
		a := accounts[t.ref]
		line := StockLine{
			Key: thingKey(t.ref), Name: t.name, Unit: t.unit, Use: t.use, Expiry: t.expiry, Expired: stock.Expired("", t.expiry, today) != "", Kept: len(t.shelf.Moves) > 0, OnHand: a.OnHand(), AtEvents: a.AtEvents(),
			Received: a.Received, Used: a.Used, Disposed: a.Disposed, Found: a.Found, Lost: a.Lost, Hold: t.shelf.Held(now), Withdrawn: t.withdrawn, Followed: t.followed(), pack: t.pack, shelf: t.shelf, of: t.of,
		}
		for _, l := range a.Levels {
			line.Places = append(line.Places, StockPlace(l))
		}
		for _, x := range a.Trips {
			ev := byID[x.Event]
			line.Events = append(line.Events, StockTrip{Event: x.Event, Name: ev.Plan.Name, Date: ev.Plan.Date, Brought: x.Taken, Used: x.Used, Back: x.Back, There: x.Away})
		}
		slices.SortStableFunc(line.Events, func(a, b StockTrip) int { return compareDates(b.Date, a.Date) })
		if price, ok := stock.PriceOf(t.shelf.Moves); ok {
			line.Price, line.Value = &price, price.Worth(line.OnHand)
			values[price.Currency] += line.Value
		}
		line.warn(today, r.Events)
		if !line.Out() && t.use != "" {
			batches = append(batches, stock.Batch{Item: t.ref, Use: t.use, Expiry: t.expiry, N: line.OnHand})
		}
		r.Lines = append(r.Lines, line)
	}
	for c, n := range values {
		r.Value = append(r.Value, StockValue{Minor: n, Currency: c})
	}
	slices.SortFunc(r.Value, func(a, b StockValue) int { return cmp.Compare(a.Currency, b.Currency) })
	slices.SortStableFunc(r.Lines, func(a, b StockLine) int {
		return cmp.Or(cmp.Compare(a.urgency(), b.urgency()), compareDates(a.Expiry, b.Expiry), cmp.Compare(strings.ToLower(a.Name), strings.ToLower(b.Name)), cmp.Compare(a.Key, b.Key))
	})
	for _, o := range stock.Orders(stock.Rates, r.Events, batches) {
		if o.Need > 0 {
			r.Orders = append(r.Orders, o)
		}
	}
	slices.SortStableFunc(r.Orders, func(a, b stock.Order) int { return cmp.Compare(min(1, b.Missing), min(1, a.Missing)) })
	r.gather()
}

// urgency puts what must not be used first, then what asks for an act, then what is kept.
func (l StockLine) urgency() int {
	switch {
	case slices.ContainsFunc(l.Warnings, func(w StockWarning) bool { return w.Stop }):
		return 0
	case len(l.Warnings) > 0:
		return 1
	case l.Kept:
		return 2
	}
	return 3
}

// expirySoon is how many days ahead an expiry is named when no planned event asks for it earlier (common practice).
const expirySoon = 60

// warn finds what is wrong with a line on a day.
func (l *StockLine) warn(today civil.Date, planned []stock.Demand) {
	add := func(stop bool, format string, args ...any) {
		l.Warnings = append(l.Warnings, StockWarning{Stop: stop, Key: l.Key, Says: fmt.Sprintf(format, args...)})
	}
	some := l.OnHand > 0
	lie := fmt.Sprintf("%d %s", l.OnHand, l.Unit)
	switch {
	case l.Hold != nil && some:
		add(true, "%s is %s. Set %s apart.", l.Name, strings.TrimSuffix(l.Hold.Says(), "."), lie)
	case l.Hold != nil:
		add(true, "%s is %s.", l.Name, strings.TrimSuffix(l.Hold.Says(), "."))
	case l.Withdrawn != "" && some:
		add(true, "%s was taken out of use: %s. Send back or dispose of %s.", l.Name, strings.TrimSuffix(l.Withdrawn, "."), lie)
	}
	if l.Expired && some {
		add(true, "%s Dispose of %s.", stock.Expired(l.Name, l.Expiry, today), lie)
	} else if some && !l.Expiry.IsZero() && !l.Out() {
		if says := l.expires(today, planned, lie); says != "" {
			add(false, "%s", says)
		}
	}
	for _, p := range l.Places {
		if p.Place == "" {
			add(false, "%s: %d %s came back from an event and lie at no place. Count them where they were put.", l.Name, p.N, l.Unit)
		}
	}
}

// expires says that a line ends before an event that could use it, or soon; empty when it does neither.
func (l *StockLine) expires(today civil.Date, planned []stock.Demand, lie string) string {
	for _, e := range planned {
		if e.Date.After(l.Expiry) {
			return fmt.Sprintf("%s (%s): the last day is %s, before %s on %s. Use it first.", l.Name, lie, l.Expiry.Long(), e.Name, e.Date.Long())
		}
	}
	if days := today.DaysUntil(l.Expiry); days <= expirySoon {
		return fmt.Sprintf("%s (%s): the last day is %s, in %d days. Use it first, or give it to somebody who can.", l.Name, lie, l.Expiry.Long(), days)
	}
	return ""
}

// gather puts the warnings of the lines and of opened containers in one list, those that stop first.
func (r *Stockroom) gather() {
	for _, l := range r.Lines {
		r.Warnings = append(r.Warnings, l.Warnings...)
	}
	for _, c := range r.InUse {
		switch {
		case c.Past:
			r.Warnings = append(r.Warnings, StockWarning{Stop: true, Key: c.Key, Says: fmt.Sprintf("%s of %s was to be discarded after %s. Throw it away.", c.Vial, c.Name, c.Discard.Long())})
		case len(r.Events) > 0 && r.Events[0].Date.After(c.Discard):
			r.Warnings = append(r.Warnings, StockWarning{Key: c.Key, Says: fmt.Sprintf("%s of %s may be used until %s, not at %s on %s.", c.Vial, c.Name, c.Discard.Long(), r.Events[0].Name, r.Events[0].Date.Long())})
		}
	}
	slices.SortStableFunc(r.Warnings, func(a, b StockWarning) int {
		switch {
		case a.Stop == b.Stop:
			return 0
		case a.Stop:
			return -1
		}
		return 1
	})
}

// thingFacts reads the stock and the records of one thing from one moment.
func (p *Programme) thingFacts(ctx context.Context, key string) (ref fact.Ref, f stockFacts, recs []fact.Record, err error) {
	if ref, err = thingRef(key); err != nil {
		return ref, f, nil, err
	}
	err = p.store.Read(ctx, func(v *store.View) (err error) {
		if f, err = readStock(v, p.now()); err != nil {
			return err
		}
		recs, err = v.Records(ref)
		return err
	})
	return ref, f, recs, err
}

// StockThing tells everything about one lot or supply.
func (p *Programme) StockThing(ctx context.Context, key string) (*Stockroom, *StockLine, error) {
	ref, f, recs, err := p.thingFacts(ctx, key)
	if err != nil {
		return nil, nil, err
	}
	room := f.room()
	line := room.Line(key)
	if line == nil {
		return nil, nil, missing(ref)
	}
	line.Struck = struckMoves(recs)
	return room, line, nil
}
