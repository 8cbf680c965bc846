package programme

import (
	"context"
	"fmt"
	"slices"
	"sort"
	"time"

	"fairstick/internal/charter"
	"fairstick/internal/civil"
	"fairstick/internal/control"
	"fairstick/internal/event"
	"fairstick/internal/fact"
	"fairstick/internal/followup"
	"fairstick/internal/incident"
	"fairstick/internal/people"
	"fairstick/internal/protocol"
	"fairstick/internal/stock"
	"fairstick/internal/store"
	"fairstick/internal/visit"
	"fairstick/internal/wording"
)

// Day is one event with everything that its pages show, from one moment of the record. A Day is shared between readers:
// nobody may change it.
type Day struct {
	Event         *event.State
	Charter       *charter.State
	Protocol      protocol.Protocol
	ProtocolErr   error             // no protocol has been signed
	Visits        []*visit.State    // in the order of their tickets
	Incidents     []*incident.State // in the order in which they were said to happen
	Followed      []*followup.State // those that somebody has begun, in the order of their tickets
	People        []*people.State
	Meters        []*stock.Meter
	StripLots     []*stock.StripLot
	ControlLots   []*stock.ControlLot
	Disinfectants []*stock.Disinfectant

	tongues  []wording.Language  // that are offered and have every sentence of the protocol
	training map[string]standing // by person; only those with something on record
	drift    []control.Alarm
	limits   *control.Limits // of the watch; nil when nobody was tested or they could not be computed
}

// cachedDay is the Day of an event as of a version of the record: made once per change, not once per viewer.
type cachedDay struct {
	version uint64
	day     *Day
}

// source is what a Day is read from: a snapshot, or the writer's own view.
type source interface {
	State(ref fact.Ref) (fact.State, bool, error)
	Children(kind, parent string) ([]fact.State, error)
	All(kind string) ([]fact.State, error)
	LastMentions(kind, name string) (map[string]time.Time, error)
}

// Day reads an event with everything that its pages show.
func (p *Programme) Day(ctx context.Context, eventID string) (*Day, error) {
	version := p.store.Version()
	p.days.Lock()
	c := p.days.byEvent[eventID]
	p.days.Unlock()
	if c != nil && c.version == version {
		return c.day, nil
	}
	var d *Day
	err := p.store.Read(ctx, func(v *store.View) (err error) {
		d, err = readDay(v, eventID)
		return err
	})
	if err != nil {
		return nil, err
	}
	p.watch(ctx, d)
	p.days.Lock()
	defer p.days.Unlock()
	if len(p.days.byEvent) > 8 {
		p.days.byEvent = map[string]*cachedDay{}
	}
	p.days.byEvent[eventID] = &cachedDay{version: version, day: d}
	return d, nil
}

func (w *work) day(eventID string) (*Day, error) { return readDay(w.tx, eventID) }

func readDay(s source, eventID string) (*Day, error) {
	st, ok, err := s.State(event.Ref(eventID))
	if err != nil {
		return nil, err
	}
	if !ok {
		return nil, missing(event.Ref(eventID))
	}
	shared, err := sharedDay(s)
	if err != nil {
		return nil, err
	}
	return shared.whole(s, st.(*event.State))
}

// sharedDay reads what the days of all events have in common.
func sharedDay(s source) (Day, error) {
	d := Day{Charter: &charter.State{ID: charter.Ref.ID}}
	st, ok, err := s.State(charter.Ref)
	if err != nil {
		return d, err
	}
	if ok {
		d.Charter = st.(*charter.State)
	}
	return d, d.readThings(s)
}

// of makes the day of one event of what all have in common and what it has itself.
func (d Day) of(s source, ev *event.State) (_ *Day, err error) {
	d.Event = ev
	d.Protocol, d.ProtocolErr = protocolFor(d.Charter, ev)
	if d.Visits, err = listed[*visit.State](s.Children(visit.Kind, ev.ID)); err != nil {
		return nil, err
	}
	if d.Incidents, err = listed[*incident.State](s.Children(incident.Kind, ev.ID)); err != nil {
		return nil, err
	}
	d.Followed, err = listed[*followup.State](s.Children(followup.Kind, ev.ID))
	return &d, err
}

// whole is of with what pages and commands need besides: the languages, and who is trained for what.
func (d Day) whole(s source, ev *event.State) (*Day, error) {
	out, err := d.of(s, ev)
	if err != nil {
		return nil, err
	}
	if out.ProtocolErr == nil {
		out.speak()
	}
	out.training, err = readTraining(s, ev.Zone())
	return out, err
}

// readThings reads the people and the stock, which all events share.
func (d *Day) readThings(s source) (err error) {
	if d.People, err = listed[*people.State](s.All(people.Kind)); err != nil {
		return err
	}
	if d.Meters, err = listed[*stock.Meter](s.All(stock.MeterKind)); err != nil {
		return err
	}
	if d.StripLots, err = listed[*stock.StripLot](s.All(stock.StripLotKind)); err != nil {
		return err
	}
	if d.ControlLots, err = listed[*stock.ControlLot](s.All(stock.ControlLotKind)); err != nil {
		return err
	}
	d.Disinfectants, err = listed[*stock.Disinfectant](s.All(stock.DisinfectantKind))
	return err
}

// listed turns states into their own type.
func listed[S fact.State](list []fact.State, err error) ([]S, error) {
	if err != nil {
		return nil, err
	}
	out := make([]S, len(list))
	for i, st := range list {
		s, ok := st.(S)
		if !ok {
			return nil, fmt.Errorf("programme: a %T where another state was expected", st)
		}
		out[i] = s
	}
	return out, nil
}

// chosen gives those subjects of a kind that are wanted, in the order of their labels.
func chosen[S fact.State](v *store.View, kind string, want func(S) bool) ([]S, error) {
	all, err := listed[S](v.All(kind))
	return slices.DeleteFunc(all, func(s S) bool { return !want(s) }), err
}

// List reads all subjects of a kind in the order of their labels, for example List[*stock.Meter](ctx, p, stock.MeterKind).
func List[S fact.State](ctx context.Context, p *Programme, kind string) (out []S, err error) {
	err = p.store.Read(ctx, func(v *store.View) (err error) {
		out, err = listed[S](v.All(kind))
		return err
	})
	return out, err
}

// Running gives the event that is running, the latest of several; nil when none is.
func (p *Programme) Running(ctx context.Context) (ev *event.State, err error) {
	err = p.store.Read(ctx, func(v *store.View) error {
		all, err := listed[*event.State](v.Across(event.Kind, "phase", "running", store.Span{}))
		if len(all) > 0 {
			ev = all[len(all)-1]
		}
		return err
	})
	return ev, err
}

// Charter reads the programme's own facts.
func (p *Programme) Charter(ctx context.Context) (*charter.State, error) {
	ch := &charter.State{ID: charter.Ref.ID}
	err := p.store.Read(ctx, func(v *store.View) error {
		st, ok, err := v.State(charter.Ref)
		if err == nil && ok {
			ch = st.(*charter.State)
		}
		return err
	})
	return ch, err
}

// Person finds a person; nil when there is none.
func (d *Day) Person(id string) *people.State {
	for _, p := range d.People {
		if p.ID == id {
			return p
		}
	}
	return nil
}

// NameOf gives a person's name, or a plain word for nobody.
func (d *Day) NameOf(id string) string {
	if p := d.Person(id); p != nil {
		return p.Details.Name
	}
	return "not recorded"
}

// Visit finds a visit by its id; nil when it is not of this event.
func (d *Day) Visit(id string) *visit.State {
	for _, v := range d.Visits {
		if v.ID == id {
			return v
		}
	}
	return nil
}

// MeterByID finds a meter; nil when there is none.
func (d *Day) MeterByID(id string) *stock.Meter {
	for _, m := range d.Meters {
		if m.ID == id {
			return m
		}
	}
	return nil
}

// StripLotByID finds a lot of strips; nil when there is none.
func (d *Day) StripLotByID(id string) *stock.StripLot {
	for _, l := range d.StripLots {
		if l.ID == id {
			return l
		}
	}
	return nil
}

// ControlLotByID finds a lot of control solution; nil when there is none.
func (d *Day) ControlLotByID(id string) *stock.ControlLot {
	for _, l := range d.ControlLots {
		if l.ID == id {
			return l
		}
	}
	return nil
}

// DisinfectantByID finds a disinfectant; nil when there is none.
func (d *Day) DisinfectantByID(id string) *stock.Disinfectant {
	for _, x := range d.Disinfectants {
		if x.ID == id {
			return x
		}
	}
	return nil
}

// BroughtMeters lists the meters brought to the event in the order of their labels.
func (d *Day) BroughtMeters() []*stock.Meter {
	var out []*stock.Meter
	for _, m := range d.Meters {
		if d.Event.Brought(m.ID) {
			out = append(out, m)
		}
	}
	return out
}

// BroughtLots lists the strip lots brought to the event in the order of their numbers.
func (d *Day) BroughtLots() []*stock.StripLot {
	var out []*stock.StripLot
	for _, l := range d.StripLots {
		if _, ok := d.Event.Out.Strips[l.ID]; ok {
			out = append(out, l)
		}
	}
	return out
}

// Waiting lists the visits that wait for a step, longest wait first; those that a station has taken up come with them.
func (d *Day) Waiting(step visit.Phase) []*visit.State {
	var out []*visit.State
	for _, v := range d.Visits {
		if v.Phase() == step {
			out = append(out, v)
		}
	}
	sort.SliceStable(out, func(i, j int) bool { return Since(out[i]).Before(Since(out[j])) })
	return out
}

// Since is the moment from which a visit has waited for its present step.
func Since(v *visit.State) time.Time {
	switch v.Phase() {
	case visit.AtDesk:
		return v.Times.Arrived
	case visit.AtTest:
		return v.Times.DeskDone
	case visit.AtExplain:
		return v.Times.Found
	}
	return v.Times.Ended
}

// Alerts lists the visits with open care, critical ones first, then the oldest.
func (d *Day) Alerts() []*visit.State {
	var out []*visit.State
	for _, v := range d.Visits {
		if v.OpenCare() {
			out = append(out, v)
		}
	}
	sort.SliceStable(out, func(i, j int) bool {
		a, b := out[i].Care, out[j].Care
		if a.Critical() != b.Critical() {
			return a.Critical()
		}
		return a.At.Before(b.At)
	})
	return out
}

// MeterLot is a meter with a vial of a lot and whether it may test people with it.
type MeterLot struct {
	Meter     *stock.Meter
	Lot       *stock.StripLot
	Vial      string
	Clearance control.Clearance
}

// Clearances tells, for each meter brought and each brought lot with a usable vial, whether it may test people.
func (d *Day) Clearances(day civil.Date) []MeterLot {
	var out []MeterLot
	if d.ProtocolErr != nil {
		return nil
	}
	for _, m := range d.BroughtMeters() {
		for _, l := range d.BroughtLots() {
			if !l.Fits(m.Details.Model) {
				continue
			}
			vials := l.OpenVials(day)
			if !eachVial(l, d.Protocol) && len(vials) > 1 {
				vials = vials[:1]
			}
			for _, v := range vials {
				out = append(out, MeterLot{Meter: m, Lot: l, Vial: v.Name, Clearance: clearance(d.Event, m, l, v.Name, d.Protocol)})
			}
		}
	}
	return out
}

func clearedWithAny(ev *event.State, m *stock.Meter, lots []*stock.StripLot, proto protocol.Protocol, day civil.Date) bool {
	for _, l := range lots {
		for _, v := range l.OpenVials(day) {
			if clearance(ev, m, l, v.Name, proto).Cleared {
				return true
			}
		}
	}
	return false
}

// Clearance tells whether a meter may test people with a vial of a lot.
func (d *Day) Clearance(meter, lot, vial string) control.Clearance {
	m, l := d.MeterByID(meter), d.StripLotByID(lot)
	if m == nil || l == nil || d.ProtocolErr != nil {
		return control.Clearance{Key: "never-run", Sentence: "Controls have not been run."}
	}
	return clearance(d.Event, m, l, vial, d.Protocol)
}

// OpeningGates tells what is still missing before the event can open.
func (d *Day) OpeningGates(now time.Time) []Gate {
	cleared, screeners := 0, 0
	meters := d.BroughtMeters()
	for _, m := range meters {
		if d.ProtocolErr == nil && clearedWithAny(d.Event, m, d.BroughtLots(), d.Protocol, d.Event.Day(now)) {
			cleared++
		}
	}
	for _, post := range d.Event.Roster {
		who := d.Person(post.Person)
		if post.Here && post.Role == string(people.Screener) && who != nil && verifiedFault(who, d.standing(who.ID, nil), people.Screener, d.Protocol, d.Event.Day(now)) == nil {
			screeners++
		}
	}
	return openingGates(d.Charter, d.Event, d.Protocol, d.ProtocolErr, meters, cleared, screeners, now)
}

// Supervision tells the gate of the supervisor ratio, with the ratio as "7:3".
func (d *Day) Supervision() (Gate, string) {
	return supervisionGate(d.Event, d.Protocol), ratioOf(d.Event).String()
}

// StripsUsed counts the strips of a lot used at this event: readings, meter errors and controls.
func (d *Day) StripsUsed(lot string) (readings, errors, controls int) {
	for _, v := range d.Visits {
		for _, r := range v.Readings {
			if r.StripLot != lot {
				continue
			}
			if isError(r.Reading) {
				errors++
			} else {
				readings++
			}
		}
	}
	for _, r := range d.Event.Runs {
		if r.StripLot == lot {
			controls++
		}
	}
	return readings, errors, controls
}

// StripsLeft counts what should be left of a lot.
func (d *Day) StripsLeft(lot string) int {
	r, e, c := d.StripsUsed(lot)
	return d.Event.Out.Strips[lot] - r - e - c
}

// VerifiedFor tells why a person may not do a role on the day of the event; nil when they may.
func (d *Day) VerifiedFor(who *people.State, role people.Role) error {
	return errOf(verifiedFault(who, d.standing(who.ID, nil), role, d.Protocol, d.Event.Plan.Date))
}

// OpenContact reads the sealed contact of a visit. Only those who may call may see it.
func (p *Programme) OpenContact(ctx context.Context, a Actor, visitID string) (Contact, bool, error) {
	var out Contact
	found := false
	err := p.store.Read(ctx, func(v *store.View) error {
		me, ok, err := v.State(people.Ref(a.Person))
		if err != nil {
			return err
		}
		if !ok || !mayCall(me.(*people.State)) {
			return deniedContact()
		}
		st, ok, err := v.State(visit.Ref(visitID))
		if err != nil {
			return err
		}
		if !ok {
			return missing(visit.Ref(visitID))
		}
		vs := st.(*visit.State)
		if len(vs.Sealed) == 0 || !hasKey(v, visitID) {
			return nil
		}
		plain, err := v.Open(visit.Ref(visitID), vs.Sealed)
		if err != nil {
			return err
		}
		found = true
		return decodeContact(plain, &out)
	})
	return out, found, err
}

// hasKey reports whether the key of a visit is still there: an erased person has none.
func hasKey(v *store.View, visitID string) bool {
	ok, err := v.HasKey(visit.Ref(visitID))
	return err == nil && ok
}
