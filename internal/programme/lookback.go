package programme

import (
	"cmp"
	"context"
	"errors"
	"slices"
	"strings"
	"time"

	"fairstick/internal/civil"
	"fairstick/internal/event"
	"fairstick/internal/fact"
	"fairstick/internal/fault"
	"fairstick/internal/lookback"
	"fairstick/internal/people"
	"fairstick/internal/stock"
	"fairstick/internal/store"
	"fairstick/internal/visit"
)

// AskBack is a look-back as somebody asks for it. Things are named by their id, or as they are called: the number on a lot, the
// label of a meter, the name of a person. What is left empty is not asked.
type AskBack struct {
	Event, StripLot, Vial, ControlLot, Meter, Screener string
	FromDay, FromTime, UntilDay, UntilTime             string // as typed; times are those of the event's clock
}

// Affected is everybody and everything that a question touched, from one moment of the record. Participants stand in it by ticket
// alone.
type Affected struct {
	Question lookback.Question `json:"question"`
	Words    string            `json:"words"` // the question in words
	How      string            `json:"how"`   // what counts as touched
	Events   []BackDay         `json:"events"`
	People   int               `json:"people"`
	Read     int               `json:"readings"`
	Counts   int               `json:"counts"` // people whose result rests on one of the readings
	MayCall  int               `json:"may_be_called"`
	Runs     int               `json:"control_runs"`
	Meters   []string          `json:"meters"`
	Screened []string          `json:"screeners"`
	At       time.Time         `json:"at"`
}

// BackDay is what was touched at one event.
type BackDay struct {
	Event   string         `json:"event"`
	Name    string         `json:"name"`
	Venue   string         `json:"venue"`
	Date    civil.Date     `json:"date"`
	People  []BackPerson   `json:"people"`
	Runs    []BackRun      `json:"control_runs"`
	MayCall int            `json:"may_be_called"`
	Zone    *time.Location `json:"-"`
}

// Meters are those of its readings and control runs.
func (d BackDay) Meters() []string {
	var out []string
	for _, r := range d.Runs {
		out = with(out, r.Meter)
	}
	for _, x := range d.People {
		for _, r := range x.Readings {
			out = with(out, r.Meter)
		}
	}
	slices.Sort(out)
	return out
}

// BackPerson is one participant by ticket with the readings in question.
type BackPerson struct {
	Visit    string        `json:"visit"`
	Ticket   int           `json:"ticket"`
	Language string        `json:"language"`
	MayCall  bool          `json:"may_be_called"`
	Counts   bool          `json:"counts"` // the result rests on one of them
	Band     string        `json:"band,omitempty"`
	Readings []BackReading `json:"readings"`
}

// Vials are those of the readings, in their order.
func (x BackPerson) Vials() []string {
	var out []string
	for _, r := range x.Readings {
		out = with(out, r.Vial)
	}
	return out
}

// BackReading is one reading with everything that it was taken with.
type BackReading struct {
	At         time.Time `json:"at"`
	Shown      string    `json:"shown"` // with its unit
	Purpose    string    `json:"purpose"`
	Counts     bool      `json:"counts"` // the result rests on it
	Meter      string    `json:"meter"`
	Lot        string    `json:"strip_lot"`
	Vial       string    `json:"vial"`
	Station    string    `json:"station"`
	Screener   string    `json:"screener"`
	Supervisor string    `json:"supervisor"` // who answered for it
	Present    []string  `json:"supervisors_present"`
}

// BackRun is one control run.
type BackRun struct {
	At      time.Time `json:"at"`
	Meter   string    `json:"meter"`
	Vial    string    `json:"vial"`
	Bottle  string    `json:"bottle"`
	Level   string    `json:"level"`
	Verdict string    `json:"verdict"`
}

// MostBack is how many readings a look-back may find: beyond it the question is too wide to act on.
const MostBack = 50_000

// LookBack finds whom a question touched. It reads what mentions the narrowest thing that is asked for, and nothing else, so its
// time grows with the answer and not with the record.
func (p *Programme) LookBack(ctx context.Context, ask AskBack) (*Affected, error) {
	var out *Affected
	err := p.store.Read(ctx, func(v *store.View) error {
		h, err := p.hunt(v, ask)
		if err != nil {
			return err
		}
		out, err = h.run(v)
		return err
	})
	if err == nil {
		out.At = p.now()
	}
	return out, err
}

// hunt is a look-back at work: the question, and the names that its answer needs.
type hunt struct {
	q      lookback.Question
	words  []string
	event  *event.State // nil when none is asked for
	meters map[string]*stock.Meter
	lots   map[string]*stock.StripLot
	sols   map[string]*stock.ControlLot
	people map[string]*people.State
	days   map[string]*event.State
	pairs  map[string]map[meterLot]bool // by event: what a lot of control solution cleared
}

type meterLot struct{ meter, lot string }

// hunt reads a question. What it names and the record does not have is one fault with its fields.
func (p *Programme) hunt(v *store.View, ask AskBack) (*hunt, error) {
	h := &hunt{days: map[string]*event.State{}, pairs: map[string]map[meterLot]bool{}}
	var bad [4]error
	h.meters, bad[0] = byID(v, stock.MeterKind, func(m *stock.Meter) string { return m.ID })
	h.lots, bad[1] = byID(v, stock.StripLotKind, func(l *stock.StripLot) string { return l.ID })
	h.sols, bad[2] = byID(v, stock.ControlLotKind, func(l *stock.ControlLot) string { return l.ID })
	h.people, bad[3] = byID(v, people.Kind, func(x *people.State) string { return x.ID })
	if err := errors.Join(bad[:]...); err != nil {
		return nil, err
	}
	var f fields
	h.things(ask, &f)
	if err := h.whichEvent(v, ask.Event, &f); err != nil {
		return nil, err
	}
	zone := p.now().Location()
	if h.event != nil {
		zone = h.event.Zone()
		h.q.Event = h.event.ID
		h.words = append(h.words, "at "+h.event.Plan.Name+" on "+h.event.Plan.Date.Long())
	}
	h.span(ask, zone, &f)
	if err := f.err(); err != nil {
		return nil, err
	}
	return h, h.enough()
}

// byID reads all subjects of a kind.
func byID[S fact.State](v *store.View, kind string, id func(S) string) (map[string]S, error) {
	list, err := listed[S](v.All(kind))
	out := make(map[string]S, len(list))
	for _, s := range list {
		out[id(s)] = s
	}
	return out, err
}

// enough refuses a question that names nothing, or an end of time alone.
func (h *hunt) enough() error {
	q := h.q
	switch {
	case q == lookback.Question{}:
		return fault.New(fault.Invalid, "look-back-empty", "Nothing was asked for.", "A look-back over everything would name everybody.", "Choose a lot, a vial, a meter, a screener, an event or days.")
	case q.Event == "" && q.StripLot == "" && q.ControlLot == "" && q.Meter == "" && q.Screener == "" && (q.From.IsZero() || q.Until.IsZero()):
		return fault.New(fault.Invalid, "look-back-open", "Days alone need a first and a last day.", "", "Type both, or choose a lot, a meter, a screener or an event too.").Field("until_day", "Type the last day too.").Field("from_day", "Type the first day too.")
	}
	return nil
}

// pickOne finds one thing by its id or by what it is called, and gives its id; several that are called so are named.
func pickOne[S fact.State](f *fields, field, word, asked string, all map[string]S, called func(S) []string) (id string, ok bool) {
	asked = tidy(asked)
	if asked == "" {
		return "", false
	}
	if _, ok := all[asked]; ok {
		return asked, true
	}
	hits := 0
	for x, s := range all {
		if slices.ContainsFunc(called(s), func(name string) bool { return strings.EqualFold(name, asked) }) {
			id, hits = x, hits+1
		}
	}
	switch hits {
	case 1:
		return id, true
	case 0:
		f.say(field, "There is no %s %q in the record.", word, short(asked))
	default:
		f.say(field, "%d are called %s %q. Choose one on the page, or give its id.", hits, word, short(asked))
	}
	return "", false
}

// short keeps what was typed from filling a sentence.
func short(s string) string {
	if r := []rune(s); len(r) > 40 {
		return string(r[:40]) + "…"
	}
	return s
}

// things finds the lots, the meter and the person that a question names.
func (h *hunt) things(ask AskBack, f *fields) {
	h.q.StripLot, _ = pickOne(f, "strip_lot", "strip lot", ask.StripLot, h.lots, func(l *stock.StripLot) []string { return []string{l.Details.Lot} })
	h.vial(ask.Vial, f)
	if h.q.StripLot != "" {
		words := "with strips of lot " + h.lots[h.q.StripLot].Details.Lot
		if h.q.Vial != "" {
			words += ", vial " + h.q.Vial
		}
		h.words = append(h.words, words)
	}
	if id, ok := pickOne(f, "control_lot", "control lot", ask.ControlLot, h.sols, func(l *stock.ControlLot) []string {
		return []string{l.Details.Lot, l.Details.Lot + " level " + l.Details.Level}
	}); ok {
		h.q.ControlLot = id
		h.words = append(h.words, "cleared by control lot "+h.sols[id].Details.Lot+", level "+h.sols[id].Details.Level)
	}
	if id, ok := pickOne(f, "meter", "meter", ask.Meter, h.meters, func(m *stock.Meter) []string { return []string{m.Details.Label, m.Details.Serial} }); ok {
		h.q.Meter = id
		h.words = append(h.words, "on meter "+h.meters[id].Details.Label)
	}
	if id, ok := pickOne(f, "screener", "person", ask.Screener, h.people, func(x *people.State) []string { return []string{x.Details.Name} }); ok {
		h.q.Screener = id
		h.words = append(h.words, "taken by "+h.people[id].Details.Name)
	}
}

// vial finds the lot of a vial when that was not said; the programme's name on a vial may occur in several lots.
func (h *hunt) vial(asked string, f *fields) {
	asked = tidy(asked)
	if asked == "" {
		return
	}
	var hits []*stock.StripLot
	for _, l := range h.lots {
		if h.q.StripLot != "" && l.ID != h.q.StripLot {
			continue
		}
		for _, c := range l.Vials {
			if strings.EqualFold(c.Name, asked) {
				hits = append(hits, l)
				h.q.Vial = c.Name
				break
			}
		}
	}
	switch len(hits) {
	case 1:
		h.q.StripLot = hits[0].ID
	case 0:
		f.say("vial", "No vial %q was opened of it.", short(asked))
	default:
		f.say("vial", "%d lots have a vial %q. Choose the lot too.", len(hits), short(asked))
	}
}

// whichEvent finds an event by its id, its date or its name, or a part of it that no other has.
func (h *hunt) whichEvent(v *store.View, asked string, f *fields) error {
	asked = tidy(asked)
	if asked == "" {
		return nil
	}
	if st, ok, err := v.State(event.Ref(asked)); err != nil || ok {
		if ok {
			h.event = st.(*event.State)
		}
		return err
	}
	if day, err := civil.Parse(asked); err == nil {
		on, err := listed[*event.State](v.Labelled(event.Kind, day.String(), day.AddDays(1).String()))
		if err != nil {
			return err
		}
		if len(on) == 1 {
			h.event = on[0]
			return nil
		}
	}
	all, err := listed[*event.State](v.All(event.Kind))
	if err != nil {
		return err
	}
	var hits []*event.State
	for _, ev := range all {
		if ev.Plan.Date.String() == asked || strings.Contains(strings.ToLower(ev.Plan.Name), strings.ToLower(asked)) {
			hits = append(hits, ev)
		}
	}
	switch len(hits) {
	case 1:
		h.event = hits[0]
	case 0:
		f.say("event", "No event is called %q, and none is on that day.", short(asked))
	default:
		f.say("event", "%d events match %q. Give the date, or more of the name.", len(hits), short(asked))
	}
	return nil
}

// span reads the days and times. A time without its day is that of the event, or of the first day.
func (h *hunt) span(ask AskBack, zone *time.Location, f *fields) {
	from, until := f.date("from_day", "The first day", ask.FromDay, false), f.date("until_day", "The last day", ask.UntilDay, false)
	start, hasStart := f.hour("from_time", "The first time", ask.FromTime)
	end, hasEnd := f.hour("until_time", "The last time", ask.UntilTime)
	if h.event != nil && from.IsZero() && until.IsZero() && (hasStart || hasEnd) {
		from, until = h.event.Plan.Date, h.event.Plan.Date
	}
	if hasEnd && until.IsZero() {
		until = from
	}
	switch {
	case hasStart && from.IsZero():
		f.say("from_day", "A time needs its day, or an event.")
	case hasEnd && until.IsZero():
		f.say("until_day", "A time needs its day, or an event.")
	}
	if !from.IsZero() {
		h.q.From = start.On(from, zone)
	}
	if !until.IsZero() {
		h.q.Until = end.On(until, zone).Add(time.Minute - time.Millisecond) // to the end of that minute
		if !hasEnd {
			h.q.Until = until.AddDays(1).Time(zone).Add(-time.Millisecond)
		}
	}
	if !h.q.From.IsZero() && !h.q.Until.IsZero() && h.q.Until.Before(h.q.From) {
		f.say("until_time", "The end comes before the beginning.")
	}
	if w := spanWords(h.q, zone, hasStart, hasEnd, h.event != nil); w != "" {
		h.words = append(h.words, w)
	}
}

func spanWords(q lookback.Question, zone *time.Location, start, end, event bool) string {
	word := func(t time.Time, clock bool) string {
		t = t.In(zone)
		switch {
		case clock && event:
			return t.Format("15:04")
		case clock:
			return t.Format("15:04") + " on " + civil.Of(t).Long()
		}
		return civil.Of(t).Long()
	}
	switch {
	case !q.From.IsZero() && !q.Until.IsZero():
		return "from " + word(q.From, start) + " to " + word(q.Until, end)
	case !q.From.IsZero():
		return "from " + word(q.From, start) + " on"
	case !q.Until.IsZero():
		return "until " + word(q.Until, end)
	}
	return ""
}

// hour reads a wall clock time that may be left out.
func (f *fields) hour(name, label, text string) (c civil.Clock, ok bool) {
	text = tidy(text)
	if text == "" {
		return 0, false
	}
	c, err := civil.ParseClock(text)
	if err != nil {
		f.say(name, "%s should be a time such as 09:30; %q was typed.", label, short(text))
		return 0, false
	}
	return c, true
}

// fits reports whether a reading is one of those asked for.
func (h *hunt) fits(ev string, r visit.Reading) bool {
	q := h.q
	switch {
	case q.StripLot != "" && r.StripLot != q.StripLot, q.Vial != "" && !strings.EqualFold(r.Vial, q.Vial), q.Meter != "" && r.Meter != q.Meter, q.Screener != "" && r.By != q.Screener,
		q.Event != "" && ev != q.Event, !q.From.IsZero() && r.At.Before(q.From), !q.Until.IsZero() && r.At.After(q.Until):
		return false
	}
	return q.ControlLot == "" || h.pairs[ev][meterLot{r.Meter, r.StripLot}]
}

// fitsRun reports whether a control run is one of those asked for.
func (h *hunt) fitsRun(ev string, r event.Run) bool {
	q := h.q
	return (q.StripLot == "" || r.StripLot == q.StripLot) && (q.Vial == "" || strings.EqualFold(r.Vial, q.Vial)) && (q.ControlLot == "" || r.ControlLot == q.ControlLot) && (q.Meter == "" || r.Meter == q.Meter) &&
		(q.Screener == "" || r.By == q.Screener) && (q.Event == "" || ev == q.Event) && (q.From.IsZero() || !r.At.Before(q.From)) && (q.Until.IsZero() || !r.At.After(q.Until))
}

func (h *hunt) run(v *store.View) (*Affected, error) {
	visits, err := h.visits(v)
	if err != nil {
		return nil, err
	}
	out := &Affected{Question: h.q, Words: "Readings " + strings.Join(h.words, ", ") + ".", How: "Every reading that fits all of it, and the control runs that do."}
	if h.q.ControlLot != "" {
		out.How = "Controls with this solution, and readings with the meters and strips that they cleared on that day."
	}
	days := map[string]*BackDay{}
	for _, s := range visits {
		if err := out.person(v, h, days, s); err != nil {
			return nil, err
		}
	}
	if err := out.runs(v, h, days); err != nil {
		return nil, err
	}
	for _, d := range days {
		slices.SortFunc(d.People, func(a, b BackPerson) int {
			return cmp.Or(cmp.Compare(a.Ticket, b.Ticket), cmp.Compare(a.Visit, b.Visit))
		})
		out.Events = append(out.Events, *d)
	}
	out.sort()
	return out, nil
}

// sort puts the latest event first.
func (b *Affected) sort() {
	slices.SortFunc(b.Events, func(x, y BackDay) int {
		return cmp.Or(compareDates(y.Date, x.Date), cmp.Compare(x.Name, y.Name), cmp.Compare(x.Event, y.Event))
	})
	slices.Sort(b.Meters)
	slices.Sort(b.Screened)
}

// day gives the page of an event, made when it is first needed.
func (h *hunt) day(v *store.View, days map[string]*BackDay, id string) (*event.State, *BackDay, error) {
	ev, err := h.eventOf(v, id)
	if err != nil {
		return nil, nil, err
	}
	d := days[id]
	if d == nil {
		page := backDay(ev)
		d = &page
		days[id] = d
	}
	return ev, d, nil
}

func backDay(ev *event.State) BackDay {
	return BackDay{Event: ev.ID, Name: ev.Plan.Name, Venue: ev.Plan.Venue, Date: ev.Plan.Date, Zone: ev.Zone()}
}

func (h *hunt) eventOf(v *store.View, id string) (*event.State, error) {
	if ev := h.days[id]; ev != nil {
		return ev, nil
	}
	st, ok, err := v.State(event.Ref(id))
	if err != nil {
		return nil, err
	}
	if !ok {
		return nil, missing(event.Ref(id))
	}
	h.days[id] = st.(*event.State)
	return h.days[id], nil
}

// person takes the readings of a visit that fit.
func (b *Affected) person(v *store.View, h *hunt, days map[string]*BackDay, s *visit.State) error {
	if !slices.ContainsFunc(s.Readings, func(r visit.Reading) bool { return h.fits(s.Event, r) }) {
		return nil
	}
	ev, d, err := h.day(v, days, s.Event)
	if err != nil {
		return err
	}
	x := BackPerson{Visit: s.ID, Ticket: s.Ticket, Language: s.Language, MayCall: MayCall(s)}
	counting, told := s.Counting()
	if f := s.Finding(); f != nil {
		x.Band = string(f.Band)
	}
	for _, r := range s.Readings {
		if !h.fits(s.Event, r) {
			continue
		}
		row := BackReading{
			At: r.At, Shown: r.Reading.String(), Purpose: r.Purpose, Meter: h.label(r.Meter), Vial: r.Vial, Station: r.Station, Screener: h.name(r.By), Supervisor: h.name(r.Supervisor),
		}
		if l := h.lots[r.StripLot]; l != nil {
			row.Lot = l.Details.Lot
		}
		for _, id := range ev.HereAt(r.At, string(people.Supervisor), string(people.Lead)) {
			row.Present = append(row.Present, h.name(id))
		}
		row.Counts = told && r.ID == counting.ID
		x.Counts = x.Counts || row.Counts
		x.Readings = append(x.Readings, row)
		b.Meters, b.Screened = with(b.Meters, row.Meter), with(b.Screened, row.Screener)
	}
	d.People = append(d.People, x)
	b.People, b.Read = b.People+1, b.Read+len(x.Readings)
	if x.MayCall {
		b.MayCall, d.MayCall = b.MayCall+1, d.MayCall+1
	}
	if x.Counts {
		b.Counts++
	}
	return nil
}

func (h *hunt) name(id string) string {
	if id == "" {
		return ""
	}
	if x := h.people[id]; x != nil {
		return x.Details.Name
	}
	return "not recorded"
}

func (h *hunt) label(meter string) string {
	if m := h.meters[meter]; m != nil {
		return m.Details.Label
	}
	return ""
}

func with(list []string, s string) []string {
	if s == "" || slices.Contains(list, s) {
		return list
	}
	return append(list, s)
}

// runs adds the control runs that fit, of the events on the page and of those where there was nothing but controls.
func (b *Affected) runs(v *store.View, h *hunt, days map[string]*BackDay) error {
	ids := map[string]bool{}
	for id := range days {
		ids[id] = true
	}
	for _, m := range []fact.Mention{{Name: "control-lot", Value: h.q.ControlLot}, {Name: "strip-lot", Value: h.q.StripLot}, {Name: "meter", Value: h.q.Meter}} {
		if m.Value == "" || h.q.Event != "" {
			continue
		}
		more, err := listed[*event.State](v.Across(event.Kind, m.Name, m.Value, store.Span{}))
		if err != nil {
			return err
		}
		for _, ev := range more {
			ids[ev.ID], h.days[ev.ID] = true, ev
		}
		break // a run fits only when it fits all of it: the first is enough
	}
	if h.q.Event != "" {
		ids[h.q.Event] = true
	}
	for id := range ids {
		ev, err := h.eventOf(v, id)
		if err != nil {
			return err
		}
		for _, r := range ev.Runs {
			if !h.fitsRun(id, r) {
				continue
			}
			_, d, err := h.day(v, days, id)
			if err != nil {
				return err
			}
			d.Runs = append(d.Runs, BackRun{At: r.At, Meter: h.label(r.Meter), Vial: r.Vial, Bottle: r.Bottle, Level: r.Level, Verdict: r.Verdict})
			b.Runs++
			b.Meters = with(b.Meters, h.label(r.Meter))
		}
	}
	return nil
}
