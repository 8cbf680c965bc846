package programme_test

import (
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"github.com/google/uuid"

	"fairstick/internal/demo"
	"fairstick/internal/fault"
	"fairstick/internal/programme"
	"fairstick/internal/visit"
)

// follows says which steps of a visit may come after which. An end stays an end, unless a correction says otherwise.
var follows = map[visit.Phase][]visit.Phase{
	visit.AtDesk:    {visit.AtTest, visit.Gone, visit.NotEligible, visit.HasDeclined},
	visit.AtTest:    {visit.AtExplain, visit.Gone, visit.HasDeclined, visit.NotEligible},
	visit.AtExplain: {visit.AtTest, visit.Done, visit.Gone},
}

// mixed is a day on which people do things in any order, with what was acknowledged counted by the test itself.
type mixed struct {
	*hall
	seed   uint64
	draw   *rand.Rand
	guests []*demo.Guest
	phases map[string]visit.Phase
	late   map[string]bool // turned away after an error code, which a correction then made a value: tested, and told the result

	strips           map[string]int // by lot: what stands on record as used
	values           map[string]int // by meter: rows that its memory must hold
	sticks, misfires int
	taken, refused   int
}

// did takes what a command answered: a refusal is right or wrong elsewhere, but never a defect of ours.
func (m *mixed) did(err error) bool {
	m.t.Helper()
	if err == nil {
		m.taken++
		return true
	}
	m.refused++
	if f := fault.Of(err); f.Kind == fault.Internal || f.Kind == fault.Unusable {
		m.t.Fatalf("a defect: %v (%v)", f, f.Unwrap())
	}
	return false
}

// twice sends a command, and often the same again under its id: nothing more happens, and the answer is the same.
func twice[R comparable](m *mixed, send func(programme.Act) (R, error)) (R, bool) {
	m.t.Helper()
	act := programme.Act{ID: uuid.NewString()}
	first, err := send(act)
	ok := m.did(err)
	if ok && m.draw.IntN(3) == 0 {
		before := m.store.Version()
		again, err := send(act)
		if err != nil || m.store.Version() != before {
			m.t.Fatalf("sent again: %v, and the record went from %d to %d", err, before, m.store.Version())
		}
		if d, isDone := any(again).(programme.Done); isDone {
			if d.ID != any(first).(programme.Done).ID {
				m.t.Fatalf("sent again: %v, first %v", again, first)
			}
		}
	}
	return first, ok
}

func (m *mixed) guest() *demo.Guest {
	if len(m.guests) == 0 {
		return &demo.Guest{ID: uuid.NewString(), Desk: "Cy Lapsed", Language: "en"}
	}
	return m.guests[m.draw.IntN(len(m.guests))]
}

func (m *mixed) read() {
	station := []string{"1", "2"}[m.draw.IntN(2)]
	seat, g := m.Seat(station), m.guest()
	shown := []string{"95", "104", "131", "152", "66", "48", "214", "412", "HI", "LO", "E-3", "1118", "9x", ""}[m.draw.IntN(14)]
	same, misfires := m.draw.IntN(6) == 0, max(0, m.draw.IntN(6)-4)
	c := programme.TakeReading{
		Visit: g.ID, Station: station, Meter: m.ID(seat.Meter), StripLot: m.ID(seat.Lot), Vial: seat.Vial, Reading: shown, Again: shown,
		SameStick: same, Misfires: misfires, Washed: true,
	}
	if m.draw.IntN(8) == 0 {
		c.Again = "97"
	}
	if m.draw.IntN(4) == 0 {
		c.Voluntary = "the drop was small"
	}
	if m.draw.IntN(3) == 0 {
		c.Agreed = m.Sign("Sue Supervisor")
	}
	c.Act = programme.Act{ID: uuid.NewString()}
	_, err := m.P.TakeReading(m.ctx, m.As(seat.Screener), c)
	if !m.did(err) {
		return
	}
	m.strips[c.StripLot]++
	if shown != "E-3" {
		m.values[c.Meter]++
	}
	if !same {
		m.sticks++
	}
	m.misfires += misfires
}

func (m *mixed) act() {
	desk, dot := m.As("Cy Lapsed"), m.As("Dot Counsellor")
	g := m.guest()
	m.later(time.Duration(m.draw.IntN(4)) * 40 * time.Second)
	if m.draw.IntN(5) == 0 {
		m.aside()
		return
	}
	switch m.draw.IntN(16) {
	case 0, 1:
		n := &demo.Guest{Desk: "Cy Lapsed", Language: "en"}
		if t, ok := twice(m, func(a programme.Act) (programme.Ticket, error) {
			return m.P.Arrive(m.ctx, desk, programme.Arrive{Act: a, Event: m.Event, Language: "en"})
		}); ok {
			n.ID, n.Ticket = t.Visit, t.Number
			m.guests = append(m.guests, n)
		}
	case 2, 3:
		n := *g
		if m.draw.IntN(2) == 0 {
			n.Contact = programme.Contact{Allow: true, Call: true, Name: "Invented Guest", Phone: "555 0199"}
		}
		if m.draw.IntN(5) == 0 {
			n.Answers = map[string]string{"known-diabetes": "yes"}
		}
		if m.draw.IntN(2) == 0 {
			n.Ate = time.Duration(1+m.draw.IntN(12)) * time.Hour
		}
		m.did(m.Register(m.ctx, &n))
	case 4:
		twice(m, func(a programme.Act) (programme.Done, error) {
			return m.P.Decline(m.ctx, desk, programme.Decline{Act: a, Visit: g.ID, What: []string{"consent", "fingerstick", "lunch"}[m.draw.IntN(3)]})
		})
	case 5:
		if m.draw.IntN(3) == 0 {
			twice(m, func(a programme.Act) (programme.Done, error) {
				return m.P.LeaveVisit(m.ctx, desk, programme.LeaveVisit{Act: a, Visit: g.ID})
			})
		}
	case 6:
		m.did(m.Call(m.ctx, g, []string{"1", "2"}[m.draw.IntN(2)]))
	case 7, 8, 9:
		m.read()
	case 10:
		m.did(m.Clear(m.ctx, g, []string{"1", "2"}[m.draw.IntN(2)]))
	case 11:
		m.did(m.Explain(m.ctx, g, "Dot Counsellor", "E1", "Invented Clinic", m.draw.IntN(2) == 0))
	case 12:
		twice(m, func(a programme.Act) (programme.Done, error) {
			return m.P.FinishVisit(m.ctx, dot, programme.FinishVisit{Act: a, Visit: g.ID})
		})
	case 13:
		step := []programme.CareStep{
			{Step: "signs"},
			{Step: "sugar", Choice: "given"},
			{Step: "sugar", Choice: "cannot-swallow"},
			{Step: "action", Choice: "stays-here"},
			{Step: "handover", Note: "Invented Urgent Care"},
			{Step: "arrived", Note: "told by telephone"},
			{Step: "dance"},
		}[m.draw.IntN(7)]
		twice(m, func(a programme.Act) (programme.Done, error) {
			step.Act, step.Visit = a, g.ID
			return m.P.CareStep(m.ctx, m.As("Ann Screener"), step)
		})
	case 14:
		m.did(second(m.P.AttendCare(m.ctx, m.As("Ann Screener"), programme.AttendCare{Act: m.Act(), Visit: g.ID, Sign: m.Sign("Sue Supervisor")})))
	case 15:
		meter := []string{"M1", "M2"}[m.draw.IntN(2)]
		_, err := m.P.RunControl(m.ctx, m.As("Ann Screener"), programme.RunControl{
			Act: m.Act(), Event: m.Event, Meter: m.ID(meter), StripLot: m.ID("A"), Vial: "A1", ControlLot: m.ID("control 1"), Bottle: m.ID("bottle 1"),
			Reading: []string{"118", "121", "150"}[m.draw.IntN(3)],
		})
		if m.did(err) {
			m.strips[m.ID("A")]++
			m.values[m.ID(meter)]++
		}
	}
}

func second[T any](_ T, err error) error { return err }

// holds looks at what must be true after every act.
func (m *mixed) holds() *programme.Day {
	m.t.Helper()
	d, err := m.P.Day(m.ctx, m.Event)
	m.must(err)
	for i, v := range d.Visits {
		if v.Ticket != i+1 {
			m.t.Fatalf("ticket %d stands in place %d", v.Ticket, i+1)
		}
		was, known := m.phases[v.ID]
		if now := v.Phase(); known && now != was && !slices.Contains(follows[was], now) {
			m.t.Fatalf("seed %d: ticket %03d went from %s to %s", m.seed, v.Ticket, was, now)
		}
		m.phases[v.ID] = v.Phase()
		if len(v.Readings) > 0 && (v.Consent == nil || v.Answers == nil || v.Ate == nil) {
			m.t.Fatalf("ticket %03d was tested before the desk was done", v.Ticket)
		}
		if v.Tested() && !v.Answers.Eligible && !m.late[v.ID] {
			m.t.Fatalf("ticket %03d was tested although not eligible", v.Ticket)
		}
		if v.Binned > v.Sticks()+v.Misfires() {
			m.t.Fatalf("ticket %03d: %d lancets in sharps of %d", v.Ticket, v.Binned, v.Sticks()+v.Misfires())
		}
	}
	return d
}

// Whatever is done in whatever order, tickets go only along the path, a command sent twice happens once, and at the end each
// sum of the day comes out by exactly what was counted wrongly.
func TestAnyOrderKeepsTheSums(t *testing.T) {
	for seed := range uint64(12) {
		m := &mixed{hall: opened(t), seed: seed, draw: rand.New(rand.NewPCG(seed, 2026)), phases: map[string]visit.Phase{}, late: map[string]bool{}, strips: map[string]int{}, values: map[string]int{}}
		d, err := m.P.Day(m.ctx, m.Event)
		m.must(err)
		for _, r := range d.Event.Runs {
			m.strips[r.StripLot]++
			m.values[r.Meter]++
		}
		for range 200 {
			m.act()
			m.holds()
		}
		m.must(second(m.P.CloseDoors(m.ctx, m.As("Lea Lead"), programme.CloseDoors{Act: m.Act(), Event: m.Event})))
		off := map[string]int{"Strips of lot A": m.draw.IntN(5) - 2, "Strips of lot B": m.draw.IntN(3) - 1, "Lancets": m.draw.IntN(5) - 2, "Memory of meter M1": m.draw.IntN(3) - 1, "Memory of meter M2": 0}
		lancets := 60 - m.sticks - m.misfires - off["Lancets"]
		a, b := 50-m.strips[m.ID("A")]-off["Strips of lot A"], 50-m.strips[m.ID("B")]-off["Strips of lot B"]
		if a < 0 || a > 50 || b < 0 || b > 50 || lancets < 0 || lancets > 60 {
			continue // more was used than brought: the count cannot be typed
		}
		m.count(a, b, lancets, 2)
		for _, meter := range []string{"M1", "M2"} {
			m.memory(meter, max(0, m.values[m.ID(meter)]+off["Memory of meter "+meter]))
		}
		d = m.holds()
		for _, e := range d.Reconcile() {
			if want, ok := off[e.Name]; ok && e.Difference != want {
				t.Errorf("seed %d, %s: %s, a difference of %d, want %d", seed, e.Name, e.Sentence(), e.Difference, want)
			}
		}
		inside := 0
		for _, v := range d.Visits {
			if !v.Tested() && (!v.Phase().Ended() || v.Phase() == visit.Done) { // done: a correction took the only value away, and the outcome is to be corrected too
				inside++
			}
		}
		for _, e := range d.Reconcile() {
			if e.Key == "arrivals" && e.Difference != inside {
				t.Errorf("seed %d: %s, a difference of %d while %d people are inside or finished without a value", seed, e.Sentence(), e.Difference, inside)
			}
			if e.Key == "values" && e.Difference != 0 {
				t.Errorf("seed %d: %s", seed, e.Sentence())
			}
		}
		m.agree(d)
		r, err := m.P.Check(m.ctx)
		if err != nil || len(r.Problems) > 0 {
			t.Fatalf("seed %d: %v %v", seed, r.Problems, err)
		}
		if m.taken < 40 || m.refused < 20 {
			t.Errorf("seed %d: %d acts were taken and %d refused, which proves little", seed, m.taken, m.refused)
		}
	}
}
