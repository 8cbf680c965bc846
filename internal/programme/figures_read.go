package programme

import (
	"cmp"
	"context"
	"slices"
	"time"

	"fairstick/internal/about"
	"fairstick/internal/charter"
	"fairstick/internal/civil"
	"fairstick/internal/event"
	"fairstick/internal/fact"
	"fairstick/internal/fault"
	"fairstick/internal/incident"
	"fairstick/internal/people"
	"fairstick/internal/stock"
	"fairstick/internal/store"
	"fairstick/internal/visit"
)

// Span is the days of a report, both included, or one event.
type Span struct {
	From  civil.Date `json:"from"`
	To    civil.Date `json:"to"`
	Event string     `json:"event,omitempty"` // only this event
}

// Words says the days.
func (s Span) Words() string {
	if s.From == s.To {
		return s.From.Long()
	}
	return s.From.Long() + " to " + s.To.Long()
}

// labels are the bounds of the labels of events in the span: a label begins with the day.
func (s Span) labels() (from, before string) { return s.From.String(), s.To.AddDays(1).String() }

// Amounts are counts of things rather than people.
type Amounts struct {
	First        int `json:"first_values"`
	Repeats      int `json:"repeats"`
	Rechecks     int `json:"rechecks"`
	Errors       int `json:"meter_errors"`
	Sticks       int `json:"sticks"`
	Misfires     int `json:"misfires"`
	Runs         int `json:"control_runs"`
	InRange      int `json:"controls_in_range"`
	OutOfRange   int `json:"controls_out_of_range"`
	NoValue      int `json:"controls_without_value"`
	Unanswered   int `json:"controls_without_cause"`
	Quarantined  int `json:"meters_quarantined"` // acts, not meters
	Returned     int `json:"meters_returned"`
	Incidents    int `json:"incidents"` // withdrawn ones do not count
	OpenCases    int `json:"incidents_open"`
	Overrides    int `json:"overrides"`
	Corrections  int `json:"event_corrections"`
	StripsUsed   int `json:"strips_used"` // brought less counted back; events not counted back count what was recorded
	StripsWasted int `json:"strips_not_recorded"`
	LancetsUsed  int `json:"lancets_used"`
	Posts        int `json:"posts_here"`   // people who were here, event by event
	Minutes      int `json:"post_minutes"` // people who were here times the minutes that the doors were open
}

func (a *Amounts) add(b Amounts) {
	a.First += b.First
	a.Repeats += b.Repeats
	a.Rechecks += b.Rechecks
	a.Errors += b.Errors
	a.Sticks += b.Sticks
	a.Misfires += b.Misfires
	a.Runs += b.Runs
	a.InRange += b.InRange
	a.OutOfRange += b.OutOfRange
	a.NoValue += b.NoValue
	a.Unanswered += b.Unanswered
	a.Quarantined += b.Quarantined
	a.Returned += b.Returned
	a.Incidents += b.Incidents
	a.OpenCases += b.OpenCases
	a.Overrides += b.Overrides
	a.Corrections += b.Corrections
	a.StripsUsed += b.StripsUsed
	a.StripsWasted += b.StripsWasted
	a.LancetsUsed += b.LancetsUsed
	a.Posts += b.Posts
	a.Minutes += b.Minutes
}

// Waited is how long people waited, in whole minutes.
type Waited struct {
	N      int `json:"n"`
	Median int `json:"median"`
	P90    int `json:"p90"`
	Most   int `json:"most"`
}

// EventFigures is one event of a span.
type EventFigures struct {
	ID        string      `json:"event"`
	Name      string      `json:"name"`
	Venue     string      `json:"venue"`
	Date      string      `json:"date"`
	Phase     event.Phase `json:"phase"`
	Cancelled string      `json:"cancelled,omitempty"`
	Expected  int         `json:"expected"`
	Counts    Counts      `json:"people"`
	Amounts   Amounts     `json:"amounts"`
	Hours     map[int]int `json:"arrivals_by_hour,omitempty"` // hour of the event's own clock
	Wait      Waited      `json:"wait_for_test"`
	Stay      Waited      `json:"stay"`
	Emptied   []string    `json:"ran_out,omitempty"` // what was brought and all used up

	strips   map[string]int // used, by lot
	zone     *time.Location
	day      civil.Date
	attempts int // so many tries are enough
	stamp    int64
	kept     string // the line of its count, as long as that holds; there may be very many
}

// Held reports whether the event took place.
func (e *EventFigures) Held() bool { return e.Phase != event.IsPlanned && e.Phase != event.IsCancelled }

// Staff is who took part.
type Staff struct {
	People   int            `json:"people"`     // who take part in the programme
	Came     int            `json:"came"`       // different people who were here at an event of the span
	ByRole   map[string]int `json:"by_role"`    // different people by the post that they held when they came
	Verified int            `json:"verified"`   // verified as screeners on the last day
	Lapsing  int            `json:"lapsing"`    // of them, no longer on LapseOn
	On       civil.Date     `json:"on"`         // the day of Verified
	LapseOn  civil.Date     `json:"lapsing_on"` // the first day on which a lapsing verification no longer holds
}

// Figures is a span in numbers: what every report is a view of.
type Figures struct {
	Programme   string                       `json:"programme"`
	Certificate string                       `json:"certificate,omitempty"`
	Contact     string                       `json:"contact,omitempty"`
	Span        Span                         `json:"span"`
	Made        time.Time                    `json:"made"`
	Season      *charter.SeasonSet           `json:"season,omitempty"`
	Events      []*EventFigures              `json:"events"`
	All         Counts                       `json:"people"`
	Amounts     Amounts                      `json:"amounts"`
	Parted      map[string]map[string]Counts `json:"parted"` // by parting, then by part
	Mishaps     map[string]int               `json:"incidents_by_kind"`
	Staff       Staff                        `json:"staff"`
	Cost        Costs                        `json:"cost"`
	Lots        map[string]string            `json:"-"` // label of a strip lot by id
}

// Planned, Cancelled and Held count the events.
func (f *Figures) Planned() int { return len(f.Events) }

// Cancelled counts the events that were not held.
func (f *Figures) Cancelled() int {
	return f.count(func(e *EventFigures) bool { return e.Phase == event.IsCancelled })
}

// Held counts the events that took place.
func (f *Figures) Held() int { return f.count((*EventFigures).Held) }

func (f *Figures) count(which func(*EventFigures) bool) int {
	n := 0
	for _, e := range f.Events {
		if which(e) {
			n++
		}
	}
	return n
}

// FiguresAsk is what a report is asked for. LapseOn is the first day on which a verification that counts as lapsing no longer
// holds; zero for 90 days after the last day.
type FiguresAsk struct {
	Span    Span
	LapseOn civil.Date
}

// Figures reads a span from one moment of the record. It reads what subjects count as, not their states, and of closed events what an
// earlier report has counted, so that a long span does not take long.
func (p *Programme) Figures(ctx context.Context, ask FiguresAsk) (*Figures, error) {
	s := ask.Span
	if s.From.IsZero() || s.To.IsZero() || s.To.Before(s.From) {
		return nil, fault.New(fault.Invalid, "span", "The last day of the report comes before its first, or one of them is missing.", "", "Give two days such as 2025-08-01 and 2026-04-30.")
	}
	f := &Figures{Span: s, Made: p.now(), All: newCounts(), Parted: map[string]map[string]Counts{}, Mishaps: map[string]int{}, Lots: map[string]string{}}
	for name := range parts {
		f.Parted[name] = map[string]Counts{}
	}
	var fresh []store.Counted
	err := p.store.Read(ctx, func(v *store.View) error {
		r := newFiguring(v, f)
		for _, step := range []func() error{r.programme, r.events, r.visits, r.meters, r.things} {
			if err := step(); err != nil {
				return err
			}
		}
		fresh = r.fresh
		return r.people(ask, civil.Of(p.now()))
	})
	if err != nil {
		return nil, err
	}
	p.keepCounts(ctx, figureCount, fresh)
	if s.Event != "" && len(f.Events) == 0 {
		return nil, missing(event.Ref(s.Event))
	}
	return f, nil
}

// figuring is the work of one Figures.
type figuring struct {
	v     *store.View
	f     *Figures
	byID  map[string]*EventFigures
	staff *rollCall
	ch    *charter.State
	zones zonesCache
	tries map[string]int // by version of the protocol
	fresh []store.Counted
}

func newFiguring(v *store.View, f *Figures) *figuring {
	return &figuring{v: v, f: f, byID: map[string]*EventFigures{}, staff: newRollCall(), zones: zonesCache{}, tries: map[string]int{}}
}

type zonesCache map[string]*time.Location

func (r *figuring) programme() error {
	var err error
	if r.ch, err = readCharter(r.v); err != nil {
		return err
	}
	d := r.ch.Details
	r.f.Programme, r.f.Certificate, r.f.Contact = d.Name, d.Certificate, d.Contact
	if s, ok := r.ch.SeasonOf(r.f.Span.To); ok && r.f.Span.Event == "" {
		r.f.Season = &s
	}
	return nil
}

func (r *figuring) events() error {
	return r.eventsBetween(r.f.Span.labels())
}

// eventsBetween reads the events whose labels lie in [from, before).
func (r *figuring) eventsBetween(from, before string) error {
	return r.v.Groups(figureCount, event.Kind, from, before, func(t store.Group) error {
		if r.f.Span.Event != "" && t.ID != r.f.Span.Event {
			return nil
		}
		x, err := event.ReadTally(t.Line)
		if err != nil {
			return err
		}
		e := &EventFigures{
			ID: t.ID, Name: x.Name, Venue: x.Venue, Date: x.Date, Phase: x.Phase, Cancelled: x.Cancelled, Expected: x.Expected, Counts: newCounts(), Hours: map[int]int{}, Emptied: x.Emptied,
			strips: map[string]int{}, zone: r.zones.of(x.Zone), attempts: r.attempts(x.Protocol),
		}
		if e.day, err = civil.Parse(x.Date); err != nil {
			return err
		}
		a := &e.Amounts
		a.Runs, a.InRange, a.OutOfRange, a.NoValue, a.Unanswered = x.Runs, x.InRange, x.OutOfRange, x.NoValue, x.Unanswered
		a.Overrides, a.Corrections, a.LancetsUsed = x.Overrides, x.Corrections, x.Lancets
		for _, s := range x.Strips {
			e.strips[s.Lot] = s.Used
		}
		if e.Held() {
			r.staff.event(e, x)
		}
		e.stamp = t.Stamp
		e.kept = t.Kept
		r.byID[t.ID] = e
		r.f.Events = append(r.f.Events, e)
		return nil
	})
}

// of gives a zone by its name; the zone of the machine when it is not known.
func (c zonesCache) of(name string) *time.Location {
	if z, ok := c[name]; ok {
		return z
	}
	z, err := time.LoadLocation(name)
	if err != nil || name == "" {
		z = time.Local
	}
	c[name] = z
	return z
}

// visits counts the people of each event: what was kept of a closed event, and else what its visits say. What was counted of a closed
// event is kept for the next report.
func (r *figuring) visits() error {
	sort := newSorter()
	for _, e := range r.f.Events {
		c, err := e.counted()
		if err != nil {
			return err
		}
		if c == nil {
			if c, err = r.count(sort, e); err != nil {
				return err
			}
			if e.Phase == event.IsClosed {
				r.fresh = append(r.fresh, store.Counted{ID: e.ID, Stamp: e.stamp, Line: c.line(e.attempts)})
			}
		}
		r.f.add(e, c)
		e.kept = ""
	}
	r.f.countAbout()
	return nil
}

// count counts one event by its visits and incidents.
func (r *figuring) count(sort *sorter, e *EventFigures) (*eventCount, error) {
	sort.begin()
	err := r.eachVisit(e, func(_ string, c *counted) error {
		sort.take(e, c)
		return nil
	})
	if err != nil {
		return nil, err
	}
	c := sort.end()
	err = r.v.Below(incident.Kind, e.ID, func(_, line string) error {
		x, err := incident.ReadTally(line)
		if err != nil || x.Withdrawn {
			return err
		}
		c.incidents++
		c.mishaps[string(x.Sort)]++
		if x.Open {
			c.openCases++
		}
		return nil
	})
	return c, err
}

// eachVisit goes over the visits of an event with what each counts as.
func (r *figuring) eachVisit(e *EventFigures, take func(id string, c *counted) error) error {
	after, err := r.afterwards(e)
	if err != nil {
		return err
	}
	return r.v.Below(visit.Kind, e.ID, func(id, line string) error {
		x, err := visit.ReadTally(line)
		if err != nil {
			return err
		}
		c := counted{Tally: x}
		if x.Refer {
			c.after = e.after(after, id, x)
		}
		return take(id, &c)
	})
}

// meters counts the acts of taking meters out and bringing them back. A meter remembers only the last one, so that its facts are
// read; there are few meters.
func (r *figuring) meters() error {
	meters, err := listed[*stock.Meter](r.v.All(stock.MeterKind))
	if err != nil {
		return err
	}
	byDay := map[string]*EventFigures{}
	for _, e := range r.f.Events {
		if e.Held() {
			byDay[e.Date] = e
		}
	}
	for _, m := range meters {
		if m.Quarantine == nil && len(m.Voids) == 0 {
			continue
		}
		recs, err := r.v.Records(stock.MeterRef(m.ID))
		if err != nil {
			return err
		}
		var last *EventFigures // the event at which it was taken out last
		for _, rec := range fact.Settle(recs) {
			switch b := rec.Body.(type) {
			case stock.MeterQuarantined:
				last = r.byID[b.Event]
				if b.Event == "" {
					last = byDay[civil.Of(rec.At).String()]
				}
				if last != nil {
					last.Amounts.Quarantined++
				}
			case stock.MeterReturned:
				if last != nil {
					last.Amounts.Returned++
					last = nil
				}
			}
		}
	}
	return nil
}

// people counts who takes part and who is verified.
func (r *figuring) people(ask FiguresAsk, today civil.Date) error {
	list, err := listed[*people.State](r.v.All(people.Kind))
	if err != nil {
		return err
	}
	s := &r.f.Staff
	s.Came, s.ByRole = r.staff.came(), r.staff.byRole()
	s.On = civil.Earlier(ask.Span.To, today)
	if s.LapseOn = ask.LapseOn; s.LapseOn.IsZero() {
		s.LapseOn = s.On.AddDays(90)
	}
	proto, protoErr := protocolFor(r.ch, nil)
	training, err := readTraining(r.v, r.f.Made.Location())
	if err != nil {
		return err
	}
	for _, x := range list {
		if x.Gone != "" {
			continue
		}
		s.People++
		if protoErr != nil || !x.Has(people.Screener) || verifiedFault(x, training[x.ID], people.Screener, proto, s.On) != nil {
			continue
		}
		s.Verified++
		if verifiedFault(x, training[x.ID], people.Screener, proto, s.LapseOn) != nil {
			s.Lapsing++
		}
	}
	return nil
}

// rollCall counts who came.
type rollCall struct {
	people map[string]bool
	roles  map[string]map[string]bool
}

func newRollCall() *rollCall {
	return &rollCall{people: map[string]bool{}, roles: map[string]map[string]bool{}}
}

func (s *rollCall) event(e *EventFigures, x event.Tally) {
	minutes := 0
	if !x.Opened.IsZero() && x.DoorsClosed.After(x.Opened) {
		minutes = int(x.DoorsClosed.Sub(x.Opened).Minutes())
	}
	for _, p := range x.Roster {
		if !p.Here {
			continue
		}
		e.Amounts.Posts++
		e.Amounts.Minutes += minutes
		s.people[p.Person] = true
		if s.roles[p.Role] == nil {
			s.roles[p.Role] = map[string]bool{}
		}
		s.roles[p.Role][p.Person] = true
	}
}

func (s *rollCall) came() int { return len(s.people) }

func (s *rollCall) byRole() map[string]int {
	out := map[string]int{}
	for role, who := range s.roles {
		out[role] = len(who)
	}
	return out
}

func waited(m []int) Waited {
	if len(m) == 0 {
		return Waited{}
	}
	slices.Sort(m)
	at := func(num, den int) int { return m[(len(m)*num+den-1)/den-1] }
	return Waited{N: len(m), Median: at(1, 2), P90: at(9, 10), Most: m[len(m)-1]}
}

// HourPeak is the hour of the event's clock in which most people came, and how many.
func (e *EventFigures) HourPeak() (hour, n int) {
	for h, c := range e.Hours {
		if c > n || c == n && h < hour {
			hour, n = h, c
		}
	}
	return hour, n
}

// PartsOf lists the parts of a parting, the largest by a figure first; ages and answers stand in their own order.
func (f *Figures) PartsOf(parting, key string) []string {
	var out []string
	for part := range f.Parted[parting] {
		out = append(out, part)
	}
	slices.SortFunc(out, func(a, b string) int {
		if parting == ByAge {
			return cmp.Compare(slices.Index(AgeGroups, a), slices.Index(AgeGroups, b))
		}
		if q, ok := about.Find(parting); ok {
			at := func(part string) int { return slices.Index(q.Parts(), part) } // an area, which is none of them, stands first
			return cmp.Or(cmp.Compare(at(a), at(b)), cmp.Compare(a, b))
		}
		return cmp.Or(cmp.Compare(f.Parted[parting][b].N(key), f.Parted[parting][a].N(key)), cmp.Compare(a, b))
	})
	return out
}
