package report

import (
	"context"
	"fmt"
	"testing"
	"time"

	"fairstick/internal/about"
	"fairstick/internal/charter"
	"fairstick/internal/civil"
	"fairstick/internal/control"
	"fairstick/internal/event"
	"fairstick/internal/fact"
	"fairstick/internal/followup"
	"fairstick/internal/glucose"
	"fairstick/internal/incident"
	"fairstick/internal/people"
	"fairstick/internal/programme"
	"fairstick/internal/protocol"
	"fairstick/internal/stock"
	"fairstick/internal/store"
	"fairstick/internal/testrecord"
	"fairstick/internal/visit"
)

// The acceptance season is invented: 20 events planned, one cancelled by a storm, 905 people tested. It is recorded as the facts
// that the commands would have made, and every number of its report must come out.

// seasonTested is how many were tested at each event that was held.
var seasonTested = []int{77, 34, 52, 18, 41, 63, 29, 88, 12, 46, 55, 37, 71, 23, 140, 31, 26, 44, 18}

// seasonBands are the readings of the season in mg/dL, not fasting, with how many there were of each.
var seasonBands = []struct {
	shown string
	band  protocol.Band
	n     int
}{{"112", protocol.Usual, 783}, {"162", protocol.Raised, 95}, {"231", protocol.High, 18}, {"352", protocol.CriticalHigh, 4}, {"61", protocol.Low, 5}}

// acceptance is a store with facts, written event by event.
type acceptance struct {
	t      testing.TB
	ctx    context.Context
	store  *store.Store
	p      *programme.Programme
	proto  protocol.Protocol
	lead   string
	people []string
	meters []string
	lot    string
	n      int // visits so far
	left   []int
	visits []seasonVisit                                                        // those that were referred
	dealt  int                                                                  // readings given out
	tells  func(n int, band protocol.Band) (asked []string, said about.Answers) // nil: nobody is asked about themselves
}

type seasonVisit struct {
	event, id string
	ticket    int
	at        time.Time
	mayCall   bool
}

func openSeason(t testing.TB) *acceptance {
	t.Helper()
	now := time.Date(2026, 5, 10, 9, 0, 0, 0, time.UTC)
	clock := func() time.Time { now = now.Add(time.Millisecond); return now }
	p, st := testrecord.Open(t, clock)
	s := &acceptance{t: t, ctx: t.Context(), store: st, p: p, proto: protocol.Default()}
	s.setting()
	return s
}

func (s *acceptance) write(do func(put func(ref fact.Ref, at time.Time, by string, body fact.Body) fact.Record)) {
	s.t.Helper()
	err := s.store.Write(s.ctx, func(tx *store.Tx) error {
		var bad error
		do(func(ref fact.Ref, at time.Time, by string, body fact.Body) fact.Record {
			r, err := tx.Append(store.Draft{At: at, By: by, Subject: ref, Body: body})
			if err != nil && bad == nil {
				bad = err
			}
			return r
		})
		return bad
	})
	if err != nil {
		s.t.Fatal(err)
	}
}

// setting records the programme: 58 people, 41 of them verified as screeners, 9 of those until before 1 January 2027.
func (s *acceptance) setting() {
	start := time.Date(2025, 7, 1, 9, 0, 0, 0, time.UTC)
	day := civil.MustParse
	s.write(func(put func(fact.Ref, time.Time, string, fact.Body) fact.Record) {
		put(charter.Ref, start, "", charter.Described{Name: "Invented Season Programme", Certificate: "INVENTED-2", Contact: "555 0100", Unit: "mg/dL"})
		put(charter.Ref, start, "", charter.ProtocolSigned{Protocol: s.proto})
		other := int64(120000)
		put(charter.Ref, start, "", charter.SeasonSet{
			Name: "2025 to 2026", From: day("2025-08-01"), To: day("2026-04-30"), Targets: charter.Targets{Events: 20, Tested: 900, SeenPercent: 40, Screeners: 40}, OtherCost: &other, Currency: "USD",
		})
		for i := range 58 {
			id := fmt.Sprintf("person-%02d", i)
			roles := []people.Role{people.Desk}
			switch {
			case i == 0:
				roles, s.lead = []people.Role{people.Lead, people.Supervisor}, id
			case i <= 4:
				roles = []people.Role{people.Supervisor}
			case i <= 47:
				roles = []people.Role{people.Screener}
			case i <= 52:
				roles = []people.Role{people.Counsellor}
			}
			put(people.Ref(id), start, "", people.Described{Name: fmt.Sprintf("Invented Person %02d", i), Roles: roles})
			if i >= 5 && i < 46 { // 41 of the 43 screeners
				until := day("2027-06-30")
				if i < 14 {
					until = day("2026-12-31")
				}
				put(people.Ref(id), start, "", people.Verified{Role: people.Screener, From: day("2025-07-01"), Until: until, By: s.lead})
			}
			s.people = append(s.people, id)
		}
		s.lot = "lot-a"
		price := int64(2450)
		put(stock.StripLotRef(s.lot), start, s.lead, stock.StripLotDescribed{Lot: "A", Expiry: day("2026-12-31"), PerVial: 50})
		put(stock.StripLotRef(s.lot), start, s.lead, stock.Received{Packs: 40, PerPack: 50, Unit: "strips", Price: &price, Currency: "USD", Place: "cupboard", On: day("2025-07-01")})
		put(stock.StripLotRef(s.lot), start.AddDate(0, 8, 0), s.lead, stock.Disposed{Place: "cupboard", N: 20, Reason: "wet"})
		cheap := int64(1500)
		put(stock.SupplyRef("lancets"), start, s.lead, stock.SupplyDescribed{Name: "Lancets", Use: stock.UseLancets})
		put(stock.SupplyRef("lancets"), start, s.lead, stock.Received{Packs: 20, PerPack: 100, Unit: "lancets", Price: &cheap, Currency: "USD", Place: "cupboard", On: day("2025-07-01")})
		for i := range 6 {
			id := fmt.Sprintf("meter-%d", i+1)
			put(stock.MeterRef(id), start, s.lead, stock.MeterDescribed{Label: fmt.Sprintf("M%d", i+1)})
			s.meters = append(s.meters, id)
		}
	})
}

// play records the 20 events. Every one has 12 people here for 4 hours.
func (s *acceptance) play() {
	for _, b := range seasonBands {
		s.left = append(s.left, b.n)
	}
	runs, failed := 0, 0
	first := civil.MustParse("2025-08-16")
	held := 0
	for i := range 20 {
		date := first.AddDays(13 * i)
		id := fmt.Sprintf("event-%02d", i)
		s.write(func(put func(fact.Ref, time.Time, string, fact.Body) fact.Record) {
			put(event.Ref(id), date.Time(time.UTC).AddDate(0, -1, 0), s.lead, event.Planned{Name: fmt.Sprintf("Invented Fair %d", i+1), Venue: fmt.Sprintf("Hall %d", i%7+1), Date: date, Zone: "America/New_York", Expected: 50})
			if i == 11 {
				put(event.Ref(id), date.Time(time.UTC), s.lead, event.Cancelled{Reason: "storm"})
			}
		})
		if i == 11 {
			continue
		}
		n := 21
		if held < 13 {
			n = 22
		}
		bad := 0
		if held%3 == 0 {
			bad = 1
		}
		s.event(id, date, held, seasonTested[held], n, bad)
		runs, failed, held = runs+n, failed+bad, held+1
	}
	s.afterwards()
	if runs != 412 || failed != 7 || held != 19 {
		s.t.Fatalf("the generator made %d runs, %d failures, %d events", runs, failed, held)
	}
}

func (s *acceptance) event(id string, date civil.Date, k, tested, runs, bad int) {
	zone, err := time.LoadLocation("America/New_York")
	if err != nil {
		s.t.Fatal(err)
	}
	opens := date.Time(zone).Add(9 * time.Hour)
	s.write(func(put func(fact.Ref, time.Time, string, fact.Body) fact.Record) {
		ref := event.Ref(id)
		for i := range 12 {
			who, role := s.people[(k*5+i*4)%58], people.Desk
			if i < 4 {
				role = people.Screener
				who = s.people[5+(k*7+i)%41]
			}
			put(ref, opens.Add(-time.Hour), s.lead, event.Posted{Person: who, Role: string(role)})
			put(ref, opens.Add(-time.Hour), s.lead, event.Attended{Person: who, Here: true})
		}
		for i := range runs {
			verdict := control.InRange
			if i < bad {
				verdict = control.OutOfRange
			}
			r := put(ref, opens.Add(-30*time.Minute), s.people[6], event.ControlRun{Meter: s.meters[i%6], StripLot: s.lot, Level: "1", Reading: s.reading("118"), Verdict: string(verdict)})
			if i < bad {
				put(ref, opens.Add(-29*time.Minute), s.people[6], event.CauseAssigned{Run: r.ID, Cause: "meter", Action: "taken out"})
			}
		}
		lancets := tested + 6
		put(ref, opens.Add(-time.Hour), s.lead, event.StockMoved{Strips: map[string]int{s.lot: tested + runs + 10}, Lancets: lancets, Sharps: 2, Meters: s.meters})
		switch k {
		case 3, 9, 15:
			put(stock.MeterRef(s.meters[k/3-1]), opens.Add(-20*time.Minute), s.people[6], stock.MeterQuarantined{Event: id, Reason: "two controls out of range"})
			if k == 9 {
				put(stock.MeterRef(s.meters[k/3-1]), opens.AddDate(0, 0, 5), s.people[6], stock.MeterReturned{Reason: "new battery, both levels in range"})
			}
		}
		put(ref, opens, s.lead, event.Opened{Protocol: s.proto.Version})
		if k%4 == 0 {
			put(incident.Ref("incident-"+id), opens.Add(time.Hour), s.lead, incident.Reported{Event: id, Sort: incident.Faint})
			put(incident.Ref("incident-"+id), opens.Add(2*time.Hour), s.lead, incident.Closed{Signed: s.lead})
		}
		ticket := 0
		for range tested {
			ticket++
			s.visit(put, id, ticket, opens.Add(time.Duration(ticket*140/tested)*time.Minute), s.deal())
		}
		for i := range tested / 9 { // people who were not tested
			ticket++
			s.untested(put, id, ticket, opens.Add(time.Duration(i)*time.Minute), i)
		}
		put(ref, opens.Add(4*time.Hour), s.lead, event.DoorsClosed{})
		back := 10
		if k == 14 {
			back = 0
		}
		put(ref, opens.Add(5*time.Hour), s.lead, event.Counted{Strips: map[string]int{s.lot: back}, Lancets: 6, Sharps: 2, Meters: s.meters})
		put(ref, opens.Add(5*time.Hour), s.lead, event.Closed{})
	})
}

// deal gives the readings out so that each event gets its share of every band.
func (s *acceptance) deal() int {
	s.dealt++
	best, most := 0, -1.0
	for i, b := range seasonBands {
		due := float64(b.n)*float64(s.dealt)/905 - float64(b.n-s.left[i])
		if s.left[i] > 0 && due > most {
			best, most = i, due
		}
	}
	s.left[best]--
	return best
}

func (s *acceptance) reading(shown string) glucose.Reading {
	r, err := glucose.ParseReading(shown, "mg/dL")
	if err != nil {
		s.t.Fatal(err)
	}
	return r
}

// visit records somebody who was tested. Of the 122 referred, 99 may be called.
func (s *acceptance) visit(put func(fact.Ref, time.Time, string, fact.Body) fact.Record, ev string, ticket int, at time.Time, band int) {
	s.n++
	id := fmt.Sprintf("visit-%s-%03d", ev, ticket)
	ref, by := visit.Ref(id), s.people[5+s.n%41]
	lang := "en"
	if s.n%5 == 0 {
		lang = "es"
	}
	minute := func(n int) time.Time { return at.Add(time.Duration(n) * time.Minute) }
	put(ref, at, by, visit.Arrived{Event: ev, Ticket: ticket, Language: lang})
	put(ref, minute(1), by, visit.Consented{Version: s.proto.Consent.Version, Language: lang, How: "read"})
	answers := protocol.Answers{"crisis-signs": "none", "age": fmt.Sprint(19 + s.n*7%63), "known-diabetes": "no", "pregnancy": "no"}
	put(ref, minute(2), by, visit.Answered{Answers: answers, Eligible: true, Protocol: s.proto.Version})
	put(ref, minute(3), by, visit.Ate{Known: true, Last: at.Add(-2 * time.Hour)})
	finding, err := s.proto.Find(s.reading(seasonBands[band].shown), protocol.Random)
	if err != nil || finding.Band != seasonBands[band].band {
		s.t.Fatalf("%s is %s: %v", seasonBands[band].shown, finding.Band, err)
	}
	call := finding.Refer && len(s.visits)*99%122 < 99
	if call {
		put(ref, minute(3), by, visit.ContactGiven{Sealed: []byte("sealed"), Call: true})
	} else {
		put(ref, minute(3), by, visit.ContactRefused{})
	}
	if s.tells != nil {
		if asked, said := s.tells(s.n, seasonBands[band].band); len(asked) > 0 {
			put(ref, minute(4), by, visit.AboutTold{Asked: asked, Answers: said})
		}
	}
	put(ref, minute(4+ticket%9), by, visit.Called{Step: visit.AtTest, Station: "1"})
	r := put(ref, minute(8+ticket%9), by, visit.ReadingTaken{Purpose: visit.First, Reading: s.reading(seasonBands[band].shown), Meter: s.meters[s.n%6], StripLot: s.lot, Vial: "1", NewStick: true, Washed: true})
	put(ref, minute(8+ticket%9), by, visit.Found{Finding: &finding, Counts: r.ID, Why: "the first value counts"})
	put(ref, minute(20), by, visit.Explained{Language: lang, TeachBack: "own-words"})
	put(ref, minute(21), by, visit.SlipIssued{Language: lang, Finding: r.ID})
	if finding.Refer {
		put(ref, minute(22), by, visit.Referred{Route: "Invented Clinic", By: at.AddDate(0, 0, 14), Agreed: true, Call: call})
		s.visits = append(s.visits, seasonVisit{event: ev, id: id, ticket: ticket, at: at, mayCall: call})
	}
	put(ref, minute(23), by, visit.Finished{})
}

// untested records somebody who knows that they have diabetes, declines, or goes.
func (s *acceptance) untested(put func(fact.Ref, time.Time, string, fact.Body) fact.Record, ev string, ticket int, at time.Time, i int) {
	ref, by := visit.Ref(fmt.Sprintf("visit-%s-%03d", ev, ticket)), s.people[50]
	put(ref, at, by, visit.Arrived{Event: ev, Ticket: ticket, Language: "en"})
	switch i % 4 {
	case 0, 1:
		put(ref, at, by, visit.Consented{Version: "1", Language: "en", How: "read"})
		put(ref, at, by, visit.Answered{Answers: protocol.Answers{"age": "61", "known-diabetes": "yes"}, Reason: "known-diabetes", Counted: "already knows about diabetes"})
	case 2:
		put(ref, at, by, visit.Declined{What: "consent"})
	case 3:
		put(ref, at, by, visit.Left{Where: visit.AtDesk})
	}
}

// afterwards records what became of the referrals: of 99 who may be called 66 are reached, 23 do not answer three times, 10 numbers
// are wrong; of those reached 40 are seen, 11 have a date, 8 decline and 7 have not gone yet.
func (s *acceptance) afterwards() {
	k := 0
	for _, v := range s.visits {
		if !v.mayCall {
			continue
		}
		n := k * 37 % 99 // in another order than the events, each once
		k++
		ref, by := followup.Ref(v.id), s.people[50]
		day := func(d int) time.Time { return v.at.AddDate(0, 0, d) }
		s.write(func(put func(fact.Ref, time.Time, string, fact.Body) fact.Record) {
			put(ref, day(2), by, followup.Begun{Event: v.event, Ticket: v.ticket})
			call := func(d int, h followup.Happened) {
				put(ref, day(d), by, followup.AttemptMade{Channel: followup.Phone, Happened: h})
			}
			told := func(d int, o followup.Outcome, on int) {
				b := followup.OutcomeTold{Outcome: o, Source: followup.FromPerson}
				if on > 0 {
					b.On = civil.Of(day(on))
				}
				put(ref, day(d), by, b)
			}
			switch {
			case n < 40:
				call(14, followup.Reached)
				seen := 20
				if n >= 28 {
					seen = 45
				}
				told(50, followup.Seen, seen)
				if n < 12 {
					said := followup.SaidNeither
					if n < 5 {
						said = followup.SaidDiabetes
					}
					put(ref, day(50), by, followup.ResultTold{Test: followup.A1c, Said: said})
				}
			case n < 51:
				call(3, followup.NoAnswer)
				call(14, followup.Reached)
				told(14, followup.Scheduled, 60)
			case n < 59:
				call(14, followup.Reached)
				told(14, followup.Declined, 0)
			case n < 66:
				call(14, followup.Reached)
				told(14, followup.NotYet, 0)
			case n < 89:
				call(3, followup.NoAnswer)
				call(7, followup.LeftMessage)
				call(14, followup.NoAnswer)
			default:
				call(3, followup.WrongNumber)
				put(ref, day(3), by, followup.OutcomeTold{Outcome: followup.BadNumber, Source: followup.FromCaller})
			}
		})
	}
}

func wholeSeason() programme.FiguresAsk {
	return programme.FiguresAsk{Span: programme.Span{From: civil.MustParse("2025-08-01"), To: civil.MustParse("2026-04-30")}, LapseOn: civil.MustParse("2027-01-01")}
}
