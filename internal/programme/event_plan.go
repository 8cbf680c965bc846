package programme

import (
	"context"
	"strconv"
	"strings"
	"time"

	"fairstick/internal/civil"
	"fairstick/internal/event"
	"fairstick/internal/fault"
	"fairstick/internal/people"
	"fairstick/internal/stock"
)

// PlanEvent adds an event, or changes one when Event is given.
type PlanEvent struct {
	Act
	Event                           string
	Name, Venue, Address, Emergency string
	Date, Doors, Ends, Zone         string
	Expected                        int
	Routes                          []event.Route // empty rows are left out
	Urgent                          event.Route
}

// PlanEvent records what an event is. Only a lead may; a closed event cannot change.
func (p *Programme) PlanEvent(ctx context.Context, a Actor, c PlanEvent) (Done, error) {
	return do(ctx, p, a, c.Act, "event.plan", func(w *work) (Done, error) {
		if err := w.need(people.Lead); err != nil {
			return Done{}, err
		}
		var f fields
		b := event.Planned{
			Name:      f.text("name", "The event's name", c.Name, true, 80),
			Venue:     f.text("venue", "The venue", c.Venue, true, 120),
			Address:   f.text("address", "The street address", c.Address, false, 160),
			Emergency: f.phone("emergency", "The emergency number", c.Emergency, false),
			Date:      f.date("date", "The date", c.Date, true),
			Expected:  c.Expected,
			Zone:      tidy(c.Zone),
		}
		b.Doors, b.Ends = f.clock("doors", "When doors open", c.Doors), f.clock("ends", "When doors close", c.Ends)
		if b.Ends <= b.Doors {
			f.say("ends", "Doors close at %s, which is not after they open at %s.", b.Ends, b.Doors)
		}
		if _, err := time.LoadLocation(b.Zone); err != nil {
			f.say("zone", "%q is not a time zone. Write it like America/New_York, or leave it empty for this laptop's own.", b.Zone)
		}
		f.between("expected", "The expected number", c.Expected, 0, 5000)
		for i, r := range c.Routes {
			if r != (event.Route{}) {
				b.Routes = append(b.Routes, f.route("route_"+strconv.Itoa(i+1), r))
			}
		}
		if c.Urgent != (event.Route{}) {
			b.Urgent = f.route("urgent", c.Urgent)
		}
		if err := f.err(); err != nil {
			return Done{}, err
		}
		if c.Event != "" {
			ev, err := load[*event.State](w, event.Ref(c.Event))
			if err != nil {
				return Done{}, err
			}
			if ev.Phase == event.IsClosed {
				return Done{}, closedFault()
			}
		}
		return w.describe(event.Kind, c.Event, b)
	})
}

func (f *fields) clock(name, label, value string) civil.Clock {
	k, err := civil.ParseClock(value)
	if err != nil {
		f.say(name, "%s: %v.", label, err)
	}
	return k
}

func (f *fields) route(name string, r event.Route) event.Route {
	return event.Route{
		Name:    f.text(name+"_name", "The name of the place", r.Name, true, 80),
		Phone:   f.phone(name+"_phone", "The telephone of the place", r.Phone, false),
		Address: f.text(name+"_address", "The address of the place", r.Address, false, 160),
		Hours:   f.text(name+"_hours", "The hours of the place", r.Hours, false, 80),
		Note:    f.text(name+"_note", "The note about the place", r.Note, false, 160),
	}
}

func closedFault() *fault.Fault {
	return fault.New(fault.Refused, "event-closed", "This event is closed.", "Its record is signed and stays as it is.",
		"A mistake is put right by a correction, which shows both.")
}

func cancelledFault() *fault.Fault {
	return fault.New(fault.Refused, "event-cancelled", "This event was cancelled.", "Nothing happens at an event that is not held.",
		"If it is held after all, a lead puts it back on the page of the event.")
}

// CancelEvent says that a planned event will not be held, and why.
type CancelEvent struct {
	Act
	Event, Reason string
}

// CancelEvent records that a planned event will not be held. Only a lead may; an event that was opened is closed instead.
func (p *Programme) CancelEvent(ctx context.Context, a Actor, c CancelEvent) (Done, error) {
	return do(ctx, p, a, c.Act, "event.cancel", func(w *work) (Done, error) {
		ev, err := w.leadsEvent(c.Event)
		if err != nil {
			return Done{}, err
		}
		var f fields
		b := event.Cancelled{Reason: f.text("reason", "The reason", c.Reason, true, 160)}
		if err := f.err(); err != nil {
			return Done{}, err
		}
		switch ev.Phase {
		case event.IsPlanned:
		case event.IsCancelled:
			return Done{}, cancelledFault()
		default:
			return Done{}, refuse("was-opened", "This event was opened.", "People may have been tested there.", "Close the event instead.")
		}
		_, err = w.append(event.Ref(ev.ID), b)
		return Done{ID: ev.ID}, err
	})
}

// ReinstateEvent puts a cancelled event back on the plan.
type ReinstateEvent struct {
	Act
	Event string
}

// ReinstateEvent records that a cancelled event is held after all. Only a lead may.
func (p *Programme) ReinstateEvent(ctx context.Context, a Actor, c ReinstateEvent) (Done, error) {
	return do(ctx, p, a, c.Act, "event.reinstate", func(w *work) (Done, error) {
		ev, err := w.leadsEvent(c.Event)
		if err != nil {
			return Done{}, err
		}
		if ev.Phase != event.IsCancelled {
			return Done{}, refuse("not-cancelled", "This event was not cancelled.", "", "There is nothing to put back.")
		}
		_, err = w.append(event.Ref(ev.ID), event.Reinstated{})
		return Done{ID: ev.ID}, err
	})
}

// leadsEvent loads an event for a lead.
func (w *work) leadsEvent(id string) (*event.State, error) {
	if err := w.need(people.Lead); err != nil {
		return nil, err
	}
	return load[*event.State](w, event.Ref(id))
}

// PostPerson puts a person at a post, or takes them off the roster when Role is "off".
type PostPerson struct {
	Act
	Event, Person, Role, Station string
}

// PostPerson records a place on the roster. A lead or supervisor may. A person who is not verified for the role on the
// day of the event is refused.
func (p *Programme) PostPerson(ctx context.Context, a Actor, c PostPerson) (Done, error) {
	return do(ctx, p, a, c.Act, "event.post", func(w *work) (Done, error) {
		if err := w.need(people.Lead, people.Supervisor); err != nil {
			return Done{}, err
		}
		ev, err := w.openable(c.Event)
		if err != nil {
			return Done{}, err
		}
		if c.Role == "off" {
			if _, err := load[*people.State](w, people.Ref(c.Person)); err != nil {
				return Done{}, err
			}
			_, err := w.append(event.Ref(c.Event), event.Unposted{Person: c.Person})
			return Done{ID: c.Event}, err
		}
		return Done{ID: c.Event}, w.post(ev, RosterRow{Person: c.Person, Role: c.Role, Station: c.Station})
	})
}

// post records a place on the roster, after the same checks wherever it comes from.
func (w *work) post(ev *event.State, r RosterRow) error {
	who, err := load[*people.State](w, people.Ref(r.Person))
	if err != nil {
		return err
	}
	if who.Gone != "" {
		return fault.New(fault.Refused, "person-left", who.Details.Name+" no longer takes part in the programme.", "", "Choose somebody else.")
	}
	role := people.Role(r.Role)
	if !role.Valid() {
		return fault.BadField("role", "Choose a post from the list.")
	}
	if !who.Has(role) {
		return fault.New(fault.Refused, "not-this-role", who.Details.Name+" does not hold the role "+r.Role+".", "",
			"Choose another post, or let the lead give the role first.").Field("role", "Not a role of this person.")
	}
	proto, err := w.protocolOf(ev)
	if err == nil {
		err = w.verified(who, role, ev, proto, ev.Plan.Date)
	}
	if err != nil {
		return err
	}
	var f fields
	station := f.text("station", "The station", r.Station, false, 12)
	if err := f.err(); err != nil {
		return err
	}
	_, err = w.append(event.Ref(ev.ID), event.Posted{Person: r.Person, Role: r.Role, Station: station})
	return err
}

// openable loads an event whose roster and stock may still change.
func (w *work) openable(id string) (*event.State, error) {
	ev, err := load[*event.State](w, event.Ref(id))
	if err != nil {
		return nil, err
	}
	switch ev.Phase {
	case event.IsClosed:
		return nil, closedFault()
	case event.IsCancelled:
		return nil, cancelledFault()
	}
	return ev, nil
}

// Attend says whether a rostered person is here.
type Attend struct {
	Act
	Event, Person string
	Here          bool
	Note          string
}

// Attend records presence or absence. A lead, supervisor or runner may, and everybody for themselves.
func (p *Programme) Attend(ctx context.Context, a Actor, c Attend) (Done, error) {
	return do(ctx, p, a, c.Act, "event.attend", func(w *work) (Done, error) {
		if w.me == nil || w.me.ID != c.Person {
			if err := w.need(people.Lead, people.Supervisor, people.Runner); err != nil {
				return Done{}, err
			}
		}
		ev, err := w.openable(c.Event)
		if err != nil {
			return Done{}, err
		}
		if _, ok := ev.PostOf(c.Person); !ok {
			return Done{}, fault.New(fault.Refused, "not-rostered", "This person is not on the roster.", "", "Give them a post first.")
		}
		var f fields
		note := f.text("note", "The note", c.Note, false, 120)
		if err := f.err(); err != nil {
			return Done{}, err
		}
		_, err = w.append(event.Ref(c.Event), event.Attended{Person: c.Person, Here: c.Here, Note: note})
		return Done{ID: c.Event}, err
	})
}

// BringStock says what was brought to the event, in addition to what was brought before.
type BringStock struct {
	Act
	Event   string
	Strips  map[string]int // by strip lot id
	Lancets int
	Sharps  int
	Meters  []string
}

// BringStock records stock brought. Any of the staff may.
func (p *Programme) BringStock(ctx context.Context, a Actor, c BringStock) (Done, error) {
	return do(ctx, p, a, c.Act, "event.bring", func(w *work) (Done, error) {
		if err := w.need(people.Roles...); err != nil {
			return Done{}, err
		}
		ev, err := w.openable(c.Event)
		if err != nil {
			return Done{}, err
		}
		b, err := w.countStock(c.Strips, c.Lancets, c.Sharps, c.Meters, -2000)
		if err != nil {
			return Done{}, err
		}
		for lot, n := range b.Strips {
			if err := w.bringable(ev, lot, n); err != nil {
				return Done{}, err
			}
			if ev.Out.Strips[lot]+n < 0 {
				return Done{}, fault.BadField("strips", "That would leave less than no strips of this lot. Type the number brought, or a smaller number taken off.")
			}
		}
		if ev.Out.Lancets+b.Lancets < 0 || ev.Out.Sharps+b.Sharps < 0 {
			return Done{}, fault.BadField("lancets", "That would leave less than nothing. Type the number brought, or a smaller number taken off.")
		}
		if len(b.Strips) == 0 && b.Lancets == 0 && b.Sharps == 0 && len(b.Meters) == 0 {
			return Done{}, fault.BadField("lancets", "Nothing was typed. Type how much was brought.")
		}
		_, err = w.append(event.Ref(c.Event), event.StockMoved(b))
		return Done{ID: c.Event}, err
	})
}

// bringable refuses strips that could not be used at the event.
func (w *work) bringable(ev *event.State, id string, n int) error {
	l, err := load[*stock.StripLot](w, stock.StripLotRef(id))
	if err != nil || n <= 0 {
		return err
	}
	if f := heldFault("Strip lot "+l.Details.Lot, &l.Shelf, w.at); f != nil {
		return f
	}
	if s := stock.Expired("Strip lot "+l.Details.Lot, l.Details.Expiry, ev.Plan.Date); s != "" {
		return refuse("strips-expired", s, "Old strips read wrong.", "Leave this lot at home and bring one in date.")
	}
	return nil
}

func (w *work) countStock(strips map[string]int, lancets, sharps int, meters []string, least int) (event.Stock, error) {
	var f fields
	b := event.Stock{Lancets: lancets, Sharps: sharps}
	for lot, n := range strips {
		l, err := load[*stock.StripLot](w, stock.StripLotRef(lot))
		if err != nil {
			return b, err
		}
		if n == 0 && least < 0 {
			continue
		}
		f.between("strips_"+lot, "Strips of lot "+l.Details.Lot, n, least, 20000)
		if b.Strips == nil {
			b.Strips = map[string]int{}
		}
		b.Strips[lot] = n
	}
	f.between("lancets", "Lancets", lancets, least, 20000)
	f.between("sharps", "Sharps containers", sharps, max(least, -50), 200)
	for _, id := range meters {
		if _, err := load[*stock.Meter](w, stock.MeterRef(id)); err != nil {
			return b, err
		}
		b.Meters = append(b.Meters, id)
	}
	return b, f.err()
}

// MeasureRoom is the room's temperature and humidity.
type MeasureRoom struct {
	Act
	Event             string
	Celsius, Humidity string
	Place             string
}

// MeasureRoom records a measurement. Any of the staff may.
func (p *Programme) MeasureRoom(ctx context.Context, a Actor, c MeasureRoom) (Done, error) {
	return do(ctx, p, a, c.Act, "event.room", func(w *work) (Done, error) {
		if err := w.need(people.Roles...); err != nil {
			return Done{}, err
		}
		if _, err := w.openable(c.Event); err != nil {
			return Done{}, err
		}
		var f fields
		b := event.RoomMeasured{Place: f.text("place", "The place", c.Place, false, 40)}
		t, ok := f.decimal("celsius", "The temperature", c.Celsius, true)
		if ok && (t < -20 || t > 60) {
			f.say("celsius", "%g degrees Celsius is not a room. If your thermometer shows Fahrenheit, take off 32 and multiply by 5/9.", t)
		}
		b.Celsius = t
		if h, ok := f.decimal("humidity", "The humidity", c.Humidity, false); ok {
			if h < 0 || h > 100 {
				f.say("humidity", "Humidity is from 0 to 100 percent.")
			}
			b.Humidity = &h
		}
		if err := f.err(); err != nil {
			return Done{}, err
		}
		_, err := w.append(event.Ref(c.Event), b)
		return Done{ID: c.Event}, err
	})
}

// decimal reads a plain number with a point or a comma; ok is false when nothing or nonsense was typed.
func (f *fields) decimal(name, label, value string, required bool) (n float64, ok bool) {
	v := strings.ReplaceAll(tidy(value), ",", ".")
	if v == "" {
		if required {
			f.say(name, "%s is missing.", label)
		}
		return 0, false
	}
	n, err := strconv.ParseFloat(v, 64)
	if err != nil || len(v) > 8 || strings.ContainsAny(v, "eExXnNiIpP_") {
		f.say(name, "%s should be a plain number such as 21.5; %q was typed.", label, value)
		return 0, false
	}
	return n, true
}

// CheckOff is one opening check.
type CheckOff struct {
	Act
	Event, Check string
	OK           bool
	Note         string
}

// CheckOff records an opening check. Any of the staff may.
func (p *Programme) CheckOff(ctx context.Context, a Actor, c CheckOff) (Done, error) {
	return do(ctx, p, a, c.Act, "event.check", func(w *work) (Done, error) {
		if err := w.need(people.Roles...); err != nil {
			return Done{}, err
		}
		ev, err := w.openable(c.Event)
		if err != nil {
			return Done{}, err
		}
		proto, err := w.protocolOf(ev)
		if err != nil {
			return Done{}, err
		}
		known := false
		for _, k := range proto.OpeningChecks {
			known = known || k.Key == c.Check
		}
		if !known {
			return Done{}, fault.BadField("check", "This check is not in the protocol of the day. Load the page again.")
		}
		var f fields
		note := f.text("note", "The note", c.Note, !c.OK, 200)
		if err := f.err(); err != nil {
			return Done{}, err
		}
		_, err = w.append(event.Ref(c.Event), event.Checked{Check: c.Check, OK: c.OK, Note: note})
		return Done{ID: c.Event}, err
	})
}
