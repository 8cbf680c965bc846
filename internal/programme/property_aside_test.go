package programme_test

import (
	"maps"
	"slices"

	"github.com/google/uuid"

	"fairstick/internal/civil"
	"fairstick/internal/demo"
	"fairstick/internal/glucose"
	"fairstick/internal/incident"
	"fairstick/internal/programme"
	"fairstick/internal/visit"
)

// These are the acts that go on beside the stations while the day runs: corrections, mishaps, the store room, calls, look-backs,
// erasure, training. None of them may move a sum of the day but a correction, and that by what it says.

func pick[T any](m *mixed, list ...T) T { return list[m.draw.IntN(len(list))] }

func (m *mixed) aside() {
	lead := m.As("Lea Lead")
	switch m.draw.IntN(12) {
	case 0, 1:
		m.correct()
	case 2:
		m.mishap()
	case 3:
		thing := m.key(pick(m, "A", "B", "control 1"))
		twice(m, func(a programme.Act) (programme.Done, error) {
			return m.P.ReceiveStock(m.ctx, lead, programme.ReceiveStock{Act: a, Thing: thing, Packs: m.draw.IntN(4), PerPack: 50, Place: pick(m, "cupboard", "car", "")})
		})
	case 4:
		m.did(second(m.P.CountStock(m.ctx, lead, programme.CountStock{Act: m.Act(), Place: "cupboard", Lines: []programme.CountLine{{Thing: m.key("B"), N: m.draw.IntN(120) - 10}}})))
	case 5:
		twice(m, func(a programme.Act) (programme.Done, error) {
			return m.P.MoveStock(m.ctx, lead, programme.MoveStock{Act: a, Thing: m.key("B"), From: "cupboard", To: "car", N: m.draw.IntN(60)})
		})
	case 6:
		twice(m, func(a programme.Act) (programme.Done, error) {
			return m.P.DisposeStock(m.ctx, lead, programme.DisposeStock{Act: a, Thing: m.key("B"), Place: pick(m, "cupboard", "car"), Reason: pick(m, "damaged", ""), N: m.draw.IntN(20)})
		})
	case 7:
		g := m.guest()
		twice(m, func(a programme.Act) (programme.Contact, error) {
			c, err := m.P.CallContact(m.ctx, m.As("Dot Counsellor"), programme.CallContact{Act: a, Visit: g.ID})
			return programme.Contact{Name: c.Name}, err
		})
		m.did(second(m.P.LogCall(m.ctx, m.As("Dot Counsellor"), programme.LogCall{Act: m.Act(), Visit: g.ID, CallDetails: programme.CallDetails{
			Channel: "phone", Happened: pick(m, "no-answer", "reached", "wrong-number", "danced"), Outcome: pick(m, "", "seen", "declined"),
		}})))
	case 8:
		done, ok := twice(m, func(a programme.Act) (programme.Done, error) {
			return m.P.OpenLookBack(m.ctx, lead, programme.OpenLookBack{Act: a, Ask: programme.AskBack{StripLot: m.ID("A"), Meter: pick(m, "", m.ID("M1"))}, Reason: pick(m, "a recall", "")})
		})
		if ok {
			m.did(second(m.P.CloseLookBack(m.ctx, lead, programme.CloseLookBack{Act: m.Act(), LookBack: done.ID, Outcome: "nobody was touched", Sign: m.Sign(pick(m, "Lea Lead", "Ann Screener"))})))
		}
	case 9:
		g := m.guest()
		m.did(second(m.P.EraseContact(m.ctx, lead, programme.EraseContact{Act: m.Act(), Visit: g.ID, Reason: programme.EraseAsked, Confirmed: m.draw.IntN(2) == 0, Sign: m.Sign("Lea Lead")})))
	case 10:
		m.did(second(m.P.RecordTeaching(m.ctx, m.As("Sue Supervisor"), programme.RecordTeaching{Act: m.Act(), Person: m.ID("Ann Screener"), What: pick(m, "teaching", "quiz", ""), Level: "screener", Note: "the wipe"})))
	case 11:
		g := m.guest()
		m.did(second(m.P.ReissueSlip(m.ctx, lead, programme.ReissueSlip{Act: m.Act(), Visit: g.ID, Language: pick(m, "en", "es", "xx"), Size: "a5"})))
	}
}

// correct changes the value of a reading, takes one back that never happened, or changes the last food.
func (m *mixed) correct() {
	v := m.visit(m.guest())
	if v == nil || len(v.Readings) == 0 {
		return
	}
	g := &demo.Guest{ID: v.ID}
	n := m.draw.IntN(len(v.Readings))
	was := v.Readings[n]
	c := m.value(g, n, pick(m, "95", "188", "412", "E-3", "1118"))
	if m.draw.IntN(3) == 0 {
		c = programme.Correct{Event: m.Event, Kind: programme.CorrectStruck, Visit: v.ID, Fact: was.ID}
	}
	who := pick(m, "Lea Lead", "Sue Supervisor", "Ann Screener")
	before := m.store.Version()
	if m.draw.IntN(4) == 0 { // a look is no act
		_, err := m.P.PreviewCorrection(m.ctx, m.As(who), c)
		m.did(err)
		if m.store.Version() != before {
			m.t.Fatal("a preview was kept")
		}
		return
	}
	_, err := m.signs(who, c)
	if !m.did(err) {
		return
	}
	if now := m.visit(g); !now.Answers.Eligible {
		m.late[v.ID], m.phases[v.ID] = now.Tested(), now.Phase()
	}
	if c.Kind == programme.CorrectStruck {
		m.strips[was.StripLot]--
		if was.Reading.Kind != glucose.Error {
			m.values[was.Meter]--
		}
		if was.NewStick {
			m.sticks--
		}
		m.misfires -= was.Misfires
		return
	}
	now := m.visit(g).Readings[n].Reading
	m.values[was.Meter] += valueRow(now) - valueRow(was.Reading)
}

// valueRow is how many rows of a meter's memory a reading makes.
func valueRow(r glucose.Reading) int {
	if r.Kind == glucose.Error {
		return 0
	}
	return 1
}

func (m *mixed) mishap() {
	sort := pick(m, "complaint", "faint", "device-problem", "sharps-injury", "earthquake")
	done, ok := twice(m, func(a programme.Act) (programme.Done, error) {
		return m.P.ReportIncident(m.ctx, m.As("Ann Screener"), programme.ReportIncident{Act: a, Event: m.Event, Sort: sort, Station: "2", What: pick(m, "", "", "she has hepatitis")})
	})
	if !ok {
		return
	}
	for range m.draw.IntN(5) {
		m.did(m.does("Ann Screener", done.ID, pick(m, incident.LaidDown, incident.LegsRaised, incident.Well, incident.FirstAid, incident.Remedy), pick(m, "", "washed"), pick(m, "", "moved the chair")))
	}
	_, err := m.P.CloseIncident(m.ctx, m.As("Ann Screener"), programme.CloseIncident{Act: programme.Act{ID: uuid.NewString()}, Incident: done.ID, Sign: m.Sign("Sue Supervisor")})
	m.did(err)
}

// agree holds what the parts of the program say of one day against each other.
func (m *mixed) agree(d *programme.Day) {
	m.t.Helper()
	rep := d.Report()
	same := func(what string, got, want int) {
		m.t.Helper()
		if got != want {
			m.t.Errorf("%s: %d, want %d", what, got, want)
		}
	}
	day := civil.MustParse("2026-06-20")
	f, err := m.P.Figures(m.ctx, programme.FiguresAsk{Span: programme.Span{From: day, To: day, Event: m.Event}})
	m.must(err)
	same("figures, arrived", f.All.N("approached"), len(d.Visits))
	same("figures, tested", f.All.N("tested"), rep.Outcomes.Tested)
	same("figures, referred", f.All.N("referred"), rep.Referrals.N)
	same("figures, lancets", f.Amounts.LancetsUsed, d.Event.Out.Lancets-d.Event.Back.Lancets) // as counted, not as written
	same("figures, strips", f.Amounts.StripsUsed, d.Event.Out.Strips[m.ID("A")]+d.Event.Out.Strips[m.ID("B")]-d.Event.Back.Strips[m.ID("A")]-d.Event.Back.Strips[m.ID("B")])
	same("figures, incidents", f.Amounts.Incidents, len(d.Incidents))
	c, err := m.P.Completion(m.ctx, programme.FollowUpScope{Event: m.Event})
	m.must(err)
	same("follow-up, referred", c.Referred, rep.Referrals.N)
	places := 0
	for n := range maps.Values(c.Places) {
		places += n
	}
	same("follow-up, places", places, c.Referred)
	for _, lot := range []string{"A", "B"} {
		people, readings := 0, 0
		for _, v := range d.Visits {
			with := slices.DeleteFunc(slices.Clone(v.Readings), func(r visit.Reading) bool { return r.StripLot != m.ID(lot) })
			readings += len(with)
			if len(with) > 0 {
				people++
			}
		}
		back, err := m.P.LookBack(m.ctx, programme.AskBack{StripLot: m.ID(lot)})
		m.must(err)
		same("look-back, people of lot "+lot, back.People, people)
		same("look-back, readings of lot "+lot, back.Read, readings)
		l := m.line(lot) // the store room adds up
		same("store room, lot "+lot+" used", l.Used, d.Event.Out.Strips[m.ID(lot)]-d.Event.Back.Strips[m.ID(lot)])
	}
}
