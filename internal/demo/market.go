package demo

import (
	"context"
	"fmt"
	"strings"
	"time"

	"fairstick/internal/about"
	"fairstick/internal/civil"
	"fairstick/internal/event"
	"fairstick/internal/programme"
	"fairstick/internal/protocol"
)

// The invented day: a market in mid-morning, with every state present that a lead, a screener or a counsellor meets.
const (
	marketDate = "2026-10-10"
	marketZone = "America/New_York"
	marketNow  = "10:47"
)

// Begins is the moment at which the invented day is entered.
func Begins() time.Time {
	zone, err := time.LoadLocation(marketZone)
	if err != nil {
		zone = time.UTC
	}
	return civil.MustParse(marketDate).Time(zone).Add(10*time.Hour + 47*time.Minute)
}

// Hint is one invented person and their PIN, for the page of signing in.
type Hint struct{ Name, Role, PIN string }

func market() Programme {
	screener := []Proof{{"screener", "2026-02-02", "2027-02-01"}}
	counsellor := []Proof{{"counsellor", "2026-02-02", "2027-02-01"}}
	return Programme{
		Describe: programme.Describe{
			Name: "Corvane School of Pharmacy, Sugar Table", Certificate: "INVENTED-77D", CertificateUntil: "2027-05-31",
			Contact: "555 0140", ContactHours: "weekdays 9:00 to 16:00", Emergency: "911", Unit: "mg/dL", LabelledUse: true,
		},
		Asks: []string{about.Race, about.Insurance, about.Doctor, about.First, about.Easy},
		Lead: Person{Name: "Maren Solbakk", PIN: "2580", Title: "Faculty pharmacist", Glove: "M", Roles: []string{"lead", "supervisor"}, Post: "supervisor"},
		People: []Person{
			{Name: "Tobias Wren", PIN: "1470", Title: "Pharmacist", Glove: "L", Roles: []string{"supervisor"}, Post: "supervisor"},
			{Name: "Ines Calder", PIN: "3691", Glove: "S", Roles: []string{"screener"}, Languages: []string{"en", "es"}, Verified: screener, Post: "screener", Station: "1"},
			{Name: "Jonah Pike", PIN: "9517", Glove: "L", Roles: []string{"screener"}, Verified: screener, Post: "screener", Station: "2"},
			{Name: "Saoirse Quill", PIN: "7532", Glove: "M", Roles: []string{"screener", "runner"}, Verified: screener, Post: "screener", Station: "3"},
			{Name: "Piet Lund", PIN: "8642", Glove: "M", Roles: []string{"screener", "desk"}, Verified: []Proof{{"screener", "2025-09-15", "2026-09-14"}}, Post: "desk"},
			{Name: "Rosa Amaya", PIN: "1593", Glove: "S", Roles: []string{"counsellor"}, Languages: []string{"en", "es"}, Verified: counsellor, Post: "counsellor", Station: "E1"},
			{Name: "Dev Mahr", PIN: "7410", Glove: "M", Roles: []string{"counsellor"}, Verified: counsellor, Post: "counsellor", Station: "E2"},
			{Name: "Hollis Bray", PIN: "8520", Glove: "M", Roles: []string{"desk"}, Languages: []string{"en"}, Post: "desk"},
			{Name: "Una Fairweather", PIN: "9630", Glove: "S", Roles: []string{"desk", "runner"}, Post: "runner", Absent: true},
		},
		Meters: []Meter{{"M1", "INV-M-0101", "button"}, {"M2", "INV-M-0102", "button"}, {"M3", "INV-M-0103", "button"}, {"M4", "INV-M-0104", "button"}, {"M5", "INV-M-0105", "button"}},
		Lots: []Lot{
			{Lot: "INV-41", Code: "41", Expiry: "2027-03", InUse: "180", Chemistry: "gdh-fad", Level1: [2]string{"96", "144"}, Level2: [2]string{"252", "340"}, Vials: []Opened{{"41-a", "2026-09-26"}}},
			{Lot: "INV-58", Code: "58", Expiry: "2027-09", InUse: "180", Chemistry: "gdh-fad", Level1: [2]string{"98", "146"}, Level2: [2]string{"255", "344"}},
		},
		Controls: []Solution{{Lot: "INV-C1", Level: "1", Expiry: "2027-01", Bottles: []Opened{{"c1-b", "2026-09-26"}}}, {Lot: "INV-C2", Level: "2", Expiry: "2027-01", Bottles: []Opened{{"c2-b", "2026-09-26"}}}},
		Wipe:     programme.DescribeDisinfectant{Name: "Two-minute wipes", ContactSeconds: 120, TwoStep: true, Expiry: "2027-12"},
		Supplies: []programme.DescribeSupply{
			{Name: "Single-use auto-disabling lancets", Pack: "box of 100", Use: "lancets"},
			{Name: "Gloves, size S", Pack: "box of 100", Use: "gloves"},
			{Name: "Gloves, size M", Pack: "box of 100", Use: "gloves"},
			{Name: "Glucose tablets, 4 g", Pack: "tube of 10", Expiry: "2027-06", Use: "sugar"},
			{Name: "Alcohol swabs", Pack: "box of 200", Expiry: "2026-10-31", Use: "swabs"},
		},
		Plan: programme.PlanEvent{
			Name: "Tamsin Green Market", Venue: "Old Tannery Hall", Address: "14 Invented Row, Tamsin Green", Date: marketDate, Doors: "09:00", Ends: "13:00",
			Zone: marketZone, Expected: 70,
			Routes: []event.Route{
				clinic("Tamsin Green Community Clinic", "555 0151", "3 Millrace Walk", "Monday to Saturday, 8:00 to 18:00", "sliding fee, Spanish spoken"),
				clinic("Your own doctor", "", "your doctor's office", "", "bring the slip"),
			},
			Urgent: clinic("Tamsin Green Urgent Care", "555 0152", "20 Millrace Walk", "every day, 7:00 to 22:00", ""),
		},
	}
}

// Make plays the invented day up to mid-morning, with nothing before it, and tells who can sign in.
func Make(ctx context.Context, p *programme.Programme, clock *Clock) ([]Hint, error) {
	zone, err := time.LoadLocation(marketZone)
	if err != nil {
		return nil, err
	}
	s := NewStage(p, clock, zone, civil.MustParse(marketDate))
	clock.Set(s.Time("07:00"))
	pr := market()
	if err := s.Build(ctx, pr); err != nil {
		return nil, err
	}
	if _, err := s.marketDay(ctx, pr); err != nil {
		return nil, err
	}
	for _, invoice := range [][]receipt{augustInvoice(), septemberInvoice()} {
		if err := s.receive(ctx, pr.Lead.Name, invoice); err != nil {
			return nil, err
		}
	}
	return pr.hints(), s.setAside(ctx, pr.Lead.Name)
}

// marketDay plays the invented day of a programme that is set up, up to mid-morning, and gives the event that comes next.
func (s *Stage) marketDay(ctx context.Context, pr Programme) (ahead string, err error) {
	next := pr.Plan
	next.Act, next.Name, next.Venue, next.Date, next.Expected = s.Act(), "Ferry Landing Health Morning", "Ferry Landing Library", "2026-11-07", 40
	next.Routes = nil
	d, err := s.P.PlanEvent(ctx, s.As(pr.Lead.Name), next)
	if err != nil {
		return "", err
	}
	m := &marketDay{Stage: s}
	m.morning(pr)
	m.guests()
	if err := s.Play(ctx); err != nil {
		return "", err
	}
	s.Clock.Set(s.Time(marketNow))
	return d.ID, s.countdown(ctx, pr.Lead.Name, "Tobias Wren", d.ID)
}

// hints tells who can sign in.
func (pr Programme) hints() []Hint {
	hints := make([]Hint, 0, len(pr.People)+1)
	for _, x := range append([]Person{pr.Lead}, pr.People...) {
		hints = append(hints, Hint{Name: x.Name, Role: strings.Join(x.Roles, ", "), PIN: x.PIN})
	}
	return hints
}

type marketDay struct{ *Stage }

func (m *marketDay) morning(pr Programme) {
	lead, runner := "Maren Solbakk", "Saoirse Quill"
	do := func(at, what string, f func(context.Context) error) { m.Put(m.Time(at), what, f) }
	do("07:40", "room", func(ctx context.Context) error {
		_, err := m.P.MeasureRoom(ctx, m.As(runner), programme.MeasureRoom{Act: m.Act(), Event: m.Event, Celsius: "19.5", Humidity: "48", Place: "hall"})
		return err
	})
	do("07:45", "stock", func(ctx context.Context) error {
		_, err := m.P.BringStock(ctx, m.As(runner), programme.BringStock{
			Act: m.Act(), Event: m.Event, Strips: map[string]int{m.ID("INV-41"): 36, m.ID("INV-58"): 100},
			Lancets: 100, Sharps: 4, Meters: []string{m.ID("M1"), m.ID("M2"), m.ID("M3"), m.ID("M4"), m.ID("M5")},
		})
		return err
	})
	do("07:50", "roster", func(ctx context.Context) error { return m.Roster(ctx, pr) })
	do("07:55", "codes", func(ctx context.Context) error {
		for _, x := range []string{"M1", "M2", "M3", "M4", "M5"} {
			if _, err := m.P.CompareCode(ctx, m.As(runner), programme.CompareCode{Act: m.Act(), Event: m.Event, Meter: m.ID(x), StripLot: m.ID("INV-41"), Shown: "41"}); err != nil {
				return err
			}
		}
		return nil
	})
	do("08:05", "controls", func(ctx context.Context) error {
		for _, x := range []struct{ meter, l1, l2 string }{{"M1", "119", "297"}, {"M2", "123", "303"}, {"M3", "126", "352"}, {"M4", "117", "290"}, {"M5", "121", "299"}} {
			if err := m.RunControls(ctx, runner, x.meter, "INV-41", "41-a", map[string]string{"1": x.l1, "2": x.l2}); err != nil {
				return err
			}
		}
		return nil
	})
	do("08:15", "failed twice", func(ctx context.Context) error {
		if err := m.RunControls(ctx, runner, "M3", "INV-41", "41-a", map[string]string{"2": "349"}); err != nil {
			return err
		}
		_, err := m.P.QuarantineMeter(ctx, m.As(runner), programme.QuarantineMeter{Act: m.Act(), Event: m.Event, Meter: m.ID("M3"), Reason: "Level 2 above its range twice, no cause found"})
		return err
	})
	do("08:30", "checks", func(ctx context.Context) error { return m.CheckAll(ctx, lead) })
	do("08:50", "override", func(ctx context.Context) error {
		_, err := m.P.Override(ctx, m.As(lead), programme.Override{Act: m.Act(), Event: m.Event, Gate: "ratio", Reason: "Two supervisors for five posts; every table in sight of both", Sign: m.Sign(lead)})
		return err
	})
	do("08:55", "open", func(ctx context.Context) error {
		_, err := m.P.OpenEvent(ctx, m.As(lead), programme.OpenEvent{Act: m.Act(), Event: m.Event})
		return err
	})
	do("10:31", "dropped", func(ctx context.Context) error {
		_, err := m.P.VoidMeter(ctx, m.As(runner), programme.VoidMeter{Act: m.Act(), Event: m.Event, Meter: m.ID("M4"), Cause: "dropped", Note: "fell from the table onto the floor"})
		return err
	})
	m.Sit("1", Seat{Screener: "Ines Calder", Meter: "M1", Lot: "INV-41", Vial: "41-a", Wipe: "wipes"})
	m.Sit("2", Seat{Screener: "Jonah Pike", Meter: "M2", Lot: "INV-41", Vial: "41-a", Wipe: "wipes"})
	m.Sit("3", Seat{Screener: "Saoirse Quill", Meter: "M4", Lot: "INV-41", Vial: "41-a", Wipe: "wipes"})
}

// how far a guest has come at mid-morning.
type reach int

const (
	toTicket  reach = iota // has a ticket
	toConsent              // has said yes
	toDesk                 // is done at the desk, or not eligible there
	toCall                 // sits at a test station
	toRead                 // has been read
	toClear                // meter wiped, waits for Explain
	toTalk                 // sits with a counsellor
	toEnd                  // has gone home
)

// card is one guest's way through the morning.
type card struct {
	in      string // arrival
	at      string // reading
	station string
	shots   []string
	reach   reach
	ate     time.Duration
	lang    string
	call    string // invented name when the guest allows a call
	answers protocol.Answers
	left    bool
	no      string // what was declined
}

func cards() []card {
	known := protocol.Answers{"known-diabetes": "yes"}
	h := time.Hour
	return []card{
		{in: "09:01", at: "09:12", station: "1", shots: []string{"95"}, reach: toEnd, ate: 9 * h},
		{in: "09:02", at: "09:13", station: "2", shots: []string{"112"}, reach: toEnd, ate: 2 * h},
		{in: "09:05", reach: toDesk, answers: known},
		{in: "09:08", at: "09:20", station: "3", shots: []string{"104"}, reach: toEnd, ate: 12 * h, call: "Ada Invented"},
		{in: "09:11", at: "09:25", station: "1", shots: []string{"127"}, reach: toEnd, ate: 3 * h, lang: "es"},
		{in: "09:15", at: "09:28", station: "2", shots: []string{"158"}, reach: toEnd, ate: 2 * h, lang: "es", call: "Beto Inventado"},
		{in: "09:18", at: "09:33", station: "3", shots: []string{"E-3", "89"}, reach: toEnd, ate: 5 * h},
		{in: "09:22", reach: toTicket, no: "consent"},
		{in: "09:26", at: "09:40", station: "1", shots: []string{"268", "118"}, reach: toEnd, ate: h},
		{in: "09:31", at: "09:44", station: "2", shots: []string{"101"}, reach: toEnd, ate: 4 * h},
		{in: "09:35", reach: toDesk, answers: protocol.Answers{"age": "16"}},
		{in: "09:38", at: "09:52", station: "3", shots: []string{"134"}, reach: toEnd, ate: 3 * h},
		{in: "09:44", at: "09:58", station: "1", shots: []string{"214", "209"}, reach: toEnd, ate: 3 * h, call: "Cora Invented"},
		{in: "09:47", reach: toTicket, left: true},
		{in: "09:51", at: "10:04", station: "2", shots: []string{"92"}, reach: toEnd, ate: 10 * h},
		{in: "09:55", at: "10:10", station: "3", shots: []string{"147"}, reach: toEnd, ate: 2 * h},
		{in: "10:00", reach: toDesk, answers: known},
		{in: "10:03", at: "10:17", station: "1", shots: []string{"109"}, reach: toEnd, ate: 2 * h},
		{in: "10:08", at: "10:22", station: "2", shots: []string{"121"}, reach: toEnd, ate: 4 * h},
		{in: "10:12", at: "10:29", station: "1", shots: []string{"166"}, reach: toTalk, ate: 2 * h, lang: "es", call: "Dora Inventada"},
		{in: "10:15", at: "10:35", station: "2", shots: []string{"66", "64"}, reach: toClear, ate: 7 * h},
		{in: "10:18", at: "10:39", station: "1", shots: []string{"98"}, reach: toClear, ate: 3 * h},
		{in: "10:21", at: "10:44", station: "2", shots: []string{"412"}, reach: toRead, ate: 2 * h, call: "Edda Invented"},
		{in: "10:24", at: "10:45:20", station: "1", shots: []string{"117"}, reach: toClear, ate: 3 * h},
		{in: "10:29", reach: toDesk, ate: 2 * h},
		{in: "10:33", reach: toDesk, ate: 11 * h, lang: "es"},
		{in: "10:37", reach: toDesk, ate: 4 * h, answers: protocol.Answers{"bleeding": "yes"}},
		{in: "10:42", reach: toConsent},
		{in: "10:45", reach: toTicket, lang: "es"},
	}
}

func (m *marketDay) guests() {
	for i, c := range cards() {
		g := &Guest{Desk: "Hollis Bray", Language: c.lang, Answers: c.answers, Ate: c.ate}
		if i%2 == 1 {
			g.Desk = "Piet Lund"
		}
		if c.call != "" {
			g.Contact = programme.Contact{Allow: true, Call: true, Name: c.call, Phone: fmt.Sprintf("555 02%02d", i), When: "evenings"}
		}
		m.guest(g, c)
	}
}

func (m *marketDay) guest(g *Guest, c card) {
	in := m.Time(c.in)
	m.Put(in, "arrives", func(ctx context.Context) error { return m.Arrive(ctx, g) })
	switch {
	case c.no != "":
		m.Put(in.Add(3*time.Minute), "declines", func(ctx context.Context) error {
			_, err := m.P.Decline(ctx, m.As(g.Desk), programme.Decline{Act: m.Act(), Visit: g.ID, What: c.no, Reason: "will think about it"})
			return err
		})
		return
	case c.left:
		m.Put(in.Add(6*time.Minute), "leaves", func(ctx context.Context) error {
			_, err := m.P.LeaveVisit(ctx, m.As(g.Desk), programme.LeaveVisit{Act: m.Act(), Visit: g.ID, Reason: "parking ran out"})
			return err
		})
		return
	case c.reach == toConsent:
		m.Put(in.Add(2*time.Minute), "consents", func(ctx context.Context) error { return m.Consent(ctx, g) })
		return
	case c.reach == toTicket:
		return
	}
	m.Put(in.Add(4*time.Minute), "desk", func(ctx context.Context) error { return m.Register(ctx, g) })
	if c.reach >= toCall {
		m.test(g, c)
	}
}

func (m *marketDay) test(g *Guest, c card) {
	at := m.Time(c.at)
	m.Put(at.Add(-2*time.Minute), "called", func(ctx context.Context) error { return m.Call(ctx, g, c.station) })
	for i, shot := range c.shots {
		m.Put(at.Add(time.Duration(i)*90*time.Second), "read", func(ctx context.Context) error {
			_, err := m.Read(ctx, g, c.station, Shot{Reading: shot, SameStick: i > 0 && c.shots[i-1][0] == 'E', Unwashed: shot == "268"})
			return err
		})
	}
	after := at.Add(time.Duration(len(c.shots)-1)*90*time.Second + 30*time.Second)
	if c.reach < toClear {
		return
	}
	m.Put(after, "cleared", func(ctx context.Context) error { return m.Clear(ctx, g, c.station) })
	if c.shots[0] == "66" {
		m.Put(after.Add(30*time.Second), "sugar", func(ctx context.Context) error {
			_, err := m.P.CareStep(ctx, m.As("Tobias Wren"), programme.CareStep{Act: m.Act(), Visit: g.ID, Step: "sugar", Choice: "given", Note: "4 glucose tablets"})
			return err
		})
	}
	if c.reach < toTalk {
		return
	}
	who, station := "Rosa Amaya", "E1"
	if c.lang != "es" && c.station == "2" {
		who, station = "Dev Mahr", "E2"
	}
	if c.reach == toTalk {
		m.Put(after.Add(6*time.Minute), "with a counsellor", func(ctx context.Context) error {
			_, err := m.P.CallTicket(ctx, m.As(who), programme.CallTicket{Act: m.Act(), Visit: g.ID, Step: "explain", Station: station})
			return err
		})
		return
	}
	m.Put(after.Add(2*time.Minute), "explained", func(ctx context.Context) error {
		return m.Explain(ctx, g, who, station, "Tamsin Green Community Clinic", true)
	})
	m.Put(after.Add(7*time.Minute), "goes home", func(ctx context.Context) error { return m.Finish(ctx, g, who) })
}
