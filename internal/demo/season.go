package demo

import (
	"context"
	"fmt"
	"strings"
	"time"

	"fairstick/internal/civil"
	"fairstick/internal/programme"
	"fairstick/internal/protocol"
)

// closedDay is one closed event of the season before the invented day.
type closedDay struct {
	name, venue, address, date string
	expected, lost             int    // lost: strips that the count did not find, explained
	vial, celsius              string // of the lot of the season
	runs                       map[string][2]string
	meters                     [3]string // of the stations
	people                     []came
}

// came is somebody who came to a closed event.
type came struct {
	shots  string // readings in order; empty for who was not tested
	ate    int    // hours ago
	call   string // invented name when they allow a call
	lang   string
	no     string // "known", "young", "consent" or "left" for who was not tested
	refuse bool   // does not want to be referred
}

const (
	seasonLot  = "INV-27"
	seasonCode = "27"
	summerDate = "2026-08-14"
	seasonRoom = 3 * time.Minute // between the posts, so that three counsellings never begin at once
)

// season are the closed events, the first first. Everything in them is invented.
func season() []closedDay {
	return []closedDay{
		{
			name: "Alder Bridge Spring Table", venue: "Alder Bridge Hall", address: "3 Invented Lane, Alder Bridge", date: "2026-04-18", expected: 40, vial: "27-a", celsius: "18.0",
			runs:   map[string][2]string{"M1": {"118", "294"}, "M2": {"121", "299"}, "M3": {"119", "302"}, "M4": {"116", "288"}, "M5": {"122", "297"}},
			meters: [3]string{"M1", "M2", "M3"},
			people: []came{
				{shots: "97", ate: 9},
				{shots: "118", ate: 2},
				{no: "known"},
				{shots: "104", ate: 4},
				{shots: "143", ate: 2, lang: "es", call: "Fina Inventada"},
				{shots: "88", ate: 5},
				{shots: "E-3 109", ate: 3},
				{shots: "131", ate: 2},
				{no: "consent"},
				{shots: "226 219", ate: 3, call: "Gus Invented"},
				{shots: "92", ate: 11},
				{shots: "115", ate: 3},
				{shots: "161", ate: 4},
				{no: "young"},
				{shots: "101", ate: 6},
				{shots: "124", ate: 2},
				{shots: "108", ate: 12, call: "Hana Invented"},
				{no: "left"},
				{shots: "99", ate: 3},
				{shots: "137", ate: 2, lang: "es"},
				{shots: "153", ate: 3, refuse: true},
				{shots: "112", ate: 4},
				{no: "known"},
				{shots: "95", ate: 10},
				{shots: "128", ate: 2},
				{shots: "106", ate: 5},
			},
		},
		{
			name: "Millpond Family Morning", venue: "Millpond Pavilion", address: "22 Invented Water, Millpond", date: "2026-06-13", expected: 45, lost: 1, vial: "27-b", celsius: "23.5",
			runs:   map[string][2]string{"M1": {"120", "297"}, "M2": {"119", "301"}, "M3": {"122", "318"}, "M4": {"118", "291"}, "M5": {"120", "300"}},
			meters: [3]string{"M1", "M2", "M4"},
			people: []came{
				{shots: "103", ate: 3},
				{shots: "91", ate: 10},
				{shots: "119", ate: 2, lang: "es"},
				{no: "known"},
				{shots: "147", ate: 2, call: "Ivo Invented"},
				{shots: "98", ate: 4},
				{shots: "126", ate: 2},
				{shots: "241 115", ate: 1},
				{shots: "110", ate: 5},
				{no: "left"},
				{shots: "134", ate: 3},
				{shots: "203 207", ate: 4, call: "Jana Inventada", lang: "es"},
				{shots: "96", ate: 9},
				{no: "known"},
				{shots: "122", ate: 2},
				{shots: "107", ate: 3},
				{shots: "E-1 102", ate: 6},
				{shots: "172", ate: 3, call: "Kit Invented"},
				{no: "young"},
				{shots: "90", ate: 8},
				{shots: "116", ate: 2},
				{shots: "129", ate: 3},
				{no: "consent"},
				{shots: "100", ate: 4},
				{shots: "113", ate: 11, refuse: true},
				{shots: "138", ate: 2},
				{shots: "94", ate: 5},
				{shots: "125", ate: 2},
				{no: "known"},
				{shots: "105", ate: 3},
				{shots: "151", ate: 2, lang: "es", call: "Lia Inventada"},
				{shots: "111", ate: 4},
			},
		},
		{
			name: "Quarry Lane Harvest Table", venue: "Quarry Lane School Gym", address: "9 Invented Quarry Lane", date: "2026-09-12", expected: 35, vial: "27-c", celsius: "20.0",
			runs:   map[string][2]string{"M1": {"121", "299"}, "M2": {"122", "304"}, "M3": {"125", "333"}, "M4": {"117", "290"}, "M5": {"119", "298"}},
			meters: [3]string{"M1", "M2", "M4"},
			people: []came{
				{shots: "108", ate: 2},
				{shots: "93", ate: 9},
				{no: "known"},
				{shots: "132", ate: 2},
				{shots: "102", ate: 4, lang: "es"},
				{shots: "159", ate: 3, call: "Milo Invented"},
				{shots: "117", ate: 2},
				{no: "left"},
				{shots: "E-3 98", ate: 5},
				{shots: "211 216", ate: 3, refuse: true},
				{shots: "120", ate: 3},
				{shots: "89", ate: 12},
				{no: "consent"},
				{shots: "127", ate: 2},
				{shots: "104", ate: 6},
				{shots: "142", ate: 2, lang: "es", call: "Nora Inventada"},
				{shots: "110", ate: 3},
				{no: "known"},
				{shots: "99", ate: 4},
				{shots: "136", ate: 2},
				{shots: "114", ate: 3},
				{shots: "95", ate: 8},
				{shots: "109", ate: 10, call: "Otto Invented"},
				{shots: "123", ate: 2},
			},
		},
	}
}

// MakeSeason plays the closed events of an invented season, then the invented day as Make does, and tells who can sign in.
func MakeSeason(ctx context.Context, p *programme.Programme, clock *Clock) ([]Hint, error) {
	zone, err := time.LoadLocation(marketZone)
	if err != nil {
		return nil, err
	}
	first := NewStage(p, clock, zone, civil.MustParse("2026-04-03"))
	clock.Set(first.Time("10:00"))
	pr, days := market(), season()
	spring := pr
	spring.Lots = []Lot{{Lot: seasonLot, Code: seasonCode, Expiry: "2026-11", InUse: "180", Chemistry: "gdh-fad", Level1: [2]string{"96", "144"}, Level2: [2]string{"252", "340"}}}
	spring.Controls = []Solution{{Lot: "INV-C1", Level: "1", Expiry: "2027-01"}, {Lot: "INV-C2", Level: "2", Expiry: "2027-01"}}
	spring.Plan = days[0].plan(pr.Plan)
	if err := first.Build(ctx, spring); err != nil {
		return nil, err
	}
	if err := first.springShelves(ctx); err != nil {
		return nil, err
	}
	calls := calling{Stage: first, guests: map[string]*Guest{}, left: seasonCalls()}
	for i, c := range days {
		s := first.On(civil.MustParse(c.date))
		switch i {
		case 0:
			s.Event = first.Event
		case len(days) - 1:
			if err := calls.before(ctx, summerDate); err != nil {
				return nil, err
			}
			if err := first.summer(ctx, pr); err != nil {
				return nil, err
			}
		}
		if err := calls.before(ctx, c.date); err != nil {
			return nil, err
		}
		if err := (&closedStage{Stage: s, day: c, callable: calls.guests}).play(ctx, pr); err != nil {
			return nil, fmt.Errorf("%s: %w", c.name, err)
		}
	}
	s := first.On(civil.MustParse(marketDate))
	clock.Set(s.Time("10:00").AddDate(0, 0, -22))
	if err := s.receive(ctx, pr.Lead.Name, septemberInvoice()); err != nil {
		return nil, err
	}
	if err := calls.before(ctx, marketDate); err != nil {
		return nil, err
	}
	clock.Set(s.Time("07:00"))
	me := s.As(pr.Lead.Name)
	if err := s.lots(ctx, me, pr.Lots); err != nil {
		return nil, err
	}
	if err := s.solutions(ctx, me, pr.Controls); err != nil {
		return nil, err
	}
	plan := pr.Plan
	plan.Act = s.Act()
	ev, err := p.PlanEvent(ctx, me, plan)
	if err != nil {
		return nil, err
	}
	s.Event = ev.ID
	ahead, err := s.marketDay(ctx, pr)
	if err != nil {
		return nil, err
	}
	if err := s.setAside(ctx, pr.Lead.Name); err != nil {
		return nil, err
	}
	return pr.hints(), s.evidence(ctx, pr.Lead.Name, ahead)
}

// summer is what came in between the second and the third closed event: the strips of the autumn, not opened yet.
func (s *Stage) summer(ctx context.Context, pr Programme) error {
	other := s.On(civil.MustParse(summerDate))
	s.Clock.Set(other.Time("10:00"))
	shut := append([]Lot(nil), pr.Lots...)
	for i := range shut {
		shut[i].Vials = nil
	}
	if err := other.lots(ctx, other.As(pr.Lead.Name), shut); err != nil {
		return err
	}
	return other.receive(ctx, pr.Lead.Name, augustInvoice())
}

// plan makes the plan of a closed day from that of the invented day: the same places of referral.
func (c closedDay) plan(like programme.PlanEvent) programme.PlanEvent {
	like.Name, like.Venue, like.Address, like.Date, like.Expected, like.Ends = c.name, c.venue, c.address, c.date, c.expected, "12:00"
	return like
}

// springShelves records what was bought for the season. One receipt was typed with ten times its packs, and struck.
func (s *Stage) springShelves(ctx context.Context) error {
	const lead, on, invoice = "Maren Solbakk", "2026-04-02", "INV-2026-018"
	swabs, err := s.key(ctx, "Alcohol swabs")
	if err != nil {
		return err
	}
	wrong := s.Act()
	if _, err := s.P.ReceiveStock(ctx, s.As(lead), programme.ReceiveStock{
		Act: wrong, Thing: swabs, Packs: 20, PerPack: 200, Price: "4.20", Currency: "USD", Supplier: "Invented Medical Supply", Invoice: invoice, Place: cupboard, On: on,
	}); err != nil {
		return err
	}
	if err := s.receive(ctx, lead, []receipt{
		{seasonLot, 4, 50, "18.40", invoice, cupboard, on},
		{"control 1", 1, 1, "8.20", invoice, cupboard, on},
		{"control 2", 1, 1, "8.20", invoice, cupboard, on},
		{"wipes", 2, 160, "10.90", invoice, cupboard, on},
		{"Single-use auto-disabling lancets", 2, 100, "13.90", invoice, cupboard, on},
		{"Gloves, size S", 2, 50, "6.80", invoice, van, on},
		{"Gloves, size M", 2, 50, "6.80", invoice, van, on},
		{"Alcohol swabs", 2, 200, "4.20", invoice, cupboard, on},
	}); err != nil {
		return err
	}
	_, err = s.P.StrikeStock(ctx, s.As(lead), programme.StrikeStock{Act: s.Act(), Thing: swabs, Move: wrong.ID, Reason: "2 boxes, not 20"})
	return err
}

// closedStage plays one closed day.
type closedStage struct {
	*Stage
	day      closedDay
	callable map[string]*Guest // those who allow a call, by their invented name; filled in
	strips   int               // used: readings, errors and controls
	sticks   int
}

const broughtStrips, broughtLancets = 60, 60

// play prepares, opens, runs, counts and closes the day.
func (d *closedStage) play(ctx context.Context, pr Programme) error {
	d.Clock.Set(d.Time("06:30"))
	if err := d.vials(ctx, pr); err != nil {
		return err
	}
	d.morning(pr)
	for i, c := range d.day.people {
		d.guest(i, c)
	}
	d.closing()
	if err := d.Play(ctx); err != nil {
		return err
	}
	return d.afterwards(ctx, pr)
}

// vials plans the day when it is not planned yet, and opens what is used on it.
func (d *closedStage) vials(ctx context.Context, pr Programme) error {
	me := d.As(pr.Lead.Name)
	if d.Event == "" {
		plan := d.day.plan(pr.Plan)
		plan.Act = d.Act()
		ev, err := d.P.PlanEvent(ctx, me, plan)
		if err != nil {
			return err
		}
		d.Event = ev.ID
	}
	if _, err := d.P.OpenVial(ctx, me, programme.OpenVial{Act: d.Act(), StripLot: d.ID(seasonLot), Vial: d.day.vial, On: d.day.date}); err != nil {
		return err
	}
	mark := strings.TrimPrefix(d.day.vial, seasonCode+"-")
	return d.solutions(ctx, me, []Solution{{Level: "1", Bottles: []Opened{{"c1-s" + mark, d.day.date}}}, {Level: "2", Bottles: []Opened{{"c2-s" + mark, d.day.date}}}})
}

func (d *closedStage) morning(pr Programme) {
	const lead, runner = "Maren Solbakk", "Una Fairweather"
	all := []string{"M1", "M2", "M3", "M4", "M5"}
	do := func(at, what string, f func(context.Context) error) { d.Put(d.Time(at), what, f) }
	do("08:00", "room", func(ctx context.Context) error {
		_, err := d.P.MeasureRoom(ctx, d.As(runner), programme.MeasureRoom{Act: d.Act(), Event: d.Event, Celsius: d.day.celsius, Humidity: "45", Place: "hall"})
		return err
	})
	do("08:05", "stock", func(ctx context.Context) error {
		b := programme.BringStock{Act: d.Act(), Event: d.Event, Strips: map[string]int{d.ID(seasonLot): broughtStrips}, Lancets: broughtLancets, Sharps: 3}
		for _, m := range all {
			b.Meters = append(b.Meters, d.ID(m))
		}
		_, err := d.P.BringStock(ctx, d.As(runner), b)
		return err
	})
	do("08:10", "roster", func(ctx context.Context) error {
		here := pr
		here.People = append([]Person(nil), pr.People...)
		for i := range here.People {
			here.People[i].Absent = false
		}
		return d.Roster(ctx, here)
	})
	do("08:15", "codes and controls", func(ctx context.Context) error {
		for _, m := range all {
			if _, err := d.P.CompareCode(ctx, d.As(runner), programme.CompareCode{Act: d.Act(), Event: d.Event, Meter: d.ID(m), StripLot: d.ID(seasonLot), Shown: seasonCode}); err != nil {
				return err
			}
			if err := d.RunControls(ctx, "Saoirse Quill", m, seasonLot, d.day.vial, map[string]string{"1": d.day.runs[m][0], "2": d.day.runs[m][1]}); err != nil {
				return err
			}
			d.strips += 2
		}
		return nil
	})
	do("08:40", "checks", func(ctx context.Context) error { return d.CheckAll(ctx, lead) })
	do("08:50", "override", func(ctx context.Context) error {
		_, err := d.P.Override(ctx, d.As(lead), programme.Override{Act: d.Act(), Event: d.Event, Gate: "ratio", Reason: "Two supervisors for five posts; every table in sight of both", Sign: d.Sign(lead)})
		return err
	})
	do("08:55", "open", func(ctx context.Context) error {
		_, err := d.P.OpenEvent(ctx, d.As(lead), programme.OpenEvent{Act: d.Act(), Event: d.Event})
		return err
	})
	for i, who := range []string{"Ines Calder", "Jonah Pike", "Saoirse Quill"} {
		d.Sit(fmt.Sprint(i+1), Seat{Screener: who, Meter: d.day.meters[i], Lot: seasonLot, Vial: d.day.vial, Wipe: "wipes"})
	}
}

// seasonAges are the ages of those who came, in turn.
var seasonAges = []string{"46", "61", "34", "58", "72", "41", "53", "67", "29", "49", "38", "64", "56", "81", "44"}

// guest puts somebody's way through the day: three come in eight minutes, more slowly towards noon.
func (d *closedStage) guest(i int, c came) {
	g := &Guest{Desk: "Hollis Bray", Language: c.lang, Ate: time.Duration(c.ate) * time.Hour}
	g.Answers = protocol.Answers{"age": seasonAges[i%len(seasonAges)]}
	switch c.no {
	case "known":
		g.Answers["known-diabetes"] = "yes"
	case "young":
		g.Answers["age"] = "16"
	}
	if c.call != "" {
		d.callable[c.call] = g
		g.Contact = programme.Contact{Allow: true, Call: true, Name: c.call, Phone: fmt.Sprintf("555 03%02d", i), When: "evenings"}
	}
	in := d.Time("09:00").Add(time.Duration(i*i)*7*time.Second + time.Duration(i)*110*time.Second)
	desk := in.Add(time.Duration(2+i%4) * time.Minute)
	d.Put(in, "arrives", func(ctx context.Context) error { return d.Arrive(ctx, g) })
	switch c.no {
	case "consent":
		d.Put(desk, "declines", func(ctx context.Context) error {
			_, err := d.P.Decline(ctx, d.As(g.Desk), programme.Decline{Act: d.Act(), Visit: g.ID, What: "consent", Reason: "wants to ask at home first"})
			return err
		})
		return
	case "left":
		d.Put(desk, "leaves", func(ctx context.Context) error {
			_, err := d.P.LeaveVisit(ctx, d.As(g.Desk), programme.LeaveVisit{Act: d.Act(), Visit: g.ID, Reason: "the queue was too long"})
			return err
		})
		return
	}
	d.Put(desk, "desk", func(ctx context.Context) error { return d.Register(ctx, g) })
	if c.no == "" {
		d.test(i, g, c, desk)
	}
}

// test puts the reading and what follows; a station takes a person only when its meter is dry again.
func (d *closedStage) test(i int, g *Guest, c came, desk time.Time) {
	station := fmt.Sprint(i%3 + 1)
	shots := strings.Fields(c.shots)
	at := desk.Add(time.Duration(5+i%5) * time.Minute)
	d.Put(at, "called", func(ctx context.Context) error { return d.Call(ctx, g, station) })
	for n, shot := range shots {
		retry := n > 0 && shots[n-1][0] == 'E'
		d.strips++
		if !retry {
			d.sticks++
		}
		at = at.Add(time.Duration(80+10*(i%4)) * time.Second)
		d.Put(at, "read", func(ctx context.Context) error {
			_, err := d.Read(ctx, g, station, Shot{Reading: shot, SameStick: retry, Unwashed: shot == "241"})
			return err
		})
	}
	d.Put(at.Add(20*time.Second), "cleared", func(ctx context.Context) error { return d.Clear(ctx, g, station) })
	who, post := "Rosa Amaya", "E1"
	if c.lang != "es" && i%2 == 1 {
		who, post = "Dev Mahr", "E2"
	}
	talk := at.Add(seasonRoom + time.Duration(i%3)*time.Minute)
	d.Put(talk, "explained", func(ctx context.Context) error {
		return d.Explain(ctx, g, who, post, "Tamsin Green Community Clinic", !c.refuse)
	})
	d.Put(talk.Add(time.Duration(3+i%3)*time.Minute), "goes home", func(ctx context.Context) error { return d.Finish(ctx, g, who) })
}

func (d *closedStage) closing() {
	const lead, runner = "Maren Solbakk", "Una Fairweather"
	d.Put(d.Time("12:00"), "doors close", func(ctx context.Context) error {
		_, err := d.P.CloseDoors(ctx, d.As(lead), programme.CloseDoors{Act: d.Act(), Event: d.Event})
		return err
	})
	d.Put(d.Time("13:10"), "count", func(ctx context.Context) error {
		c := programme.CountBack{Act: d.Act(), Event: d.Event, Strips: map[string]int{d.ID(seasonLot): broughtStrips - d.strips - d.day.lost}, Lancets: broughtLancets - d.sticks, Sharps: 3}
		for m := range d.day.runs {
			c.Meters = append(c.Meters, d.ID(m))
		}
		_, err := d.P.CountBack(ctx, d.As(runner), c)
		return err
	})
	d.Put(d.Time("13:20"), "memories", d.memories)
	if d.day.lost > 0 {
		d.Put(d.Time("13:30"), "a strip is missing", func(ctx context.Context) error {
			_, err := d.P.ExplainDifference(ctx, d.As(lead), programme.ExplainDifference{
				Act: d.Act(), Event: d.Event, Equality: "strips:" + d.ID(seasonLot), Difference: d.day.lost, Note: "One strip fell on the floor and was thrown away", Sign: d.Sign(lead),
			})
			return err
		})
	}
	d.Put(d.Time("13:45"), "close", func(ctx context.Context) error {
		_, err := d.P.CloseEvent(ctx, d.As(lead), programme.CloseEvent{Act: d.Act(), Event: d.Event, Sign: d.Sign(lead)})
		return err
	})
}

// memories reads from each meter how many values it holds of the day: here they are always as the record has them.
func (d *closedStage) memories(ctx context.Context) error {
	day, err := d.P.Day(ctx, d.Event)
	if err != nil {
		return err
	}
	for _, m := range []string{"M1", "M2", "M3", "M4", "M5"} {
		rows := len(day.Event.RunsOf(d.ID(m)))
		for _, v := range day.Visits {
			for _, r := range v.Readings {
				if r.Meter == d.ID(m) && r.Reading.Code == "" {
					rows++
				}
			}
		}
		if _, err := d.P.ReadMemory(ctx, d.As("Una Fairweather"), programme.ReadMemory{Act: d.Act(), Event: d.Event, Meter: d.ID(m), Rows: rows}); err != nil {
			return err
		}
	}
	return nil
}
