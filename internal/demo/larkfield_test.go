package demo

import (
	"context"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"fairstick/internal/civil"
	"fairstick/internal/fault"
	"fairstick/internal/incident"
	"fairstick/internal/programme"
	"fairstick/internal/protocol"
	"fairstick/internal/store"
	"fairstick/internal/testrecord"
	"fairstick/internal/visit"
)

// The Larkfield Harvest Fair is an invented day with sums that are known exactly. It is played through the same commands
// as the pages; every number of its report must come out.

type fair struct {
	*Stage
	t      *testing.T
	guests map[int]*Guest
	calls  int // referred people who may be called so far
}

func (f *fair) put(at time.Time, what string, do func(context.Context) error) { f.Put(at, what, do) }

// refused puts an act that must be refused with a key.
func (f *fair) refused(at time.Time, key string, do func(context.Context) error) {
	f.Put(at, "refusal "+key, func(ctx context.Context) error {
		err := do(ctx)
		if !fault.Is(err, key) {
			return fmt.Errorf("want a refusal %q, got %w", key, err)
		}
		return nil
	})
}

func TestLarkfield(t *testing.T) {
	f, st := larkfieldDay(t)
	f.check(t.Context())
	f.reports(t.Context(), 0)
	rep, err := st.Check(t.Context())
	if err != nil || !rep.OK() {
		t.Errorf("record: %v %v", rep.Problems, err)
	}
}

// dawn is Larkfield at seven in the morning of its day, with nothing on record.
func dawn(ctx context.Context, t *testing.T) (*fair, *store.Store) {
	t.Helper()
	zone, err := time.LoadLocation("America/New_York")
	if err != nil {
		t.Fatal(err)
	}
	clock := NewClock(time.Date(2025, 10, 4, 7, 0, 0, 0, zone))
	p, st := testrecord.Open(t, clock.Now)
	f := &fair{Stage: NewStage(p, clock, zone, civil.MustParse("2025-10-04")), t: t, guests: map[int]*Guest{}}
	return f, st
}

// larkfieldDay plays the day to its closing.
func larkfieldDay(t *testing.T) (*fair, *store.Store) {
	t.Helper()
	ctx := context.Background()
	f, st := dawn(ctx, t)
	if err := f.Build(ctx, larkfield()); err != nil {
		t.Fatal(err)
	}
	f.beforeDoors()
	f.doorsOpen()
	f.closing()
	if err := f.Play(ctx); err != nil {
		t.Fatal(err)
	}
	return f, st
}

func (f *fair) beforeDoors() {
	ev := func() string { return f.Event }
	f.put(f.Time("07:30"), "room", func(ctx context.Context) error {
		_, err := f.P.MeasureRoom(ctx, f.As("Odile Marchetti"), programme.MeasureRoom{Act: f.Act(), Event: ev(), Celsius: "17"})
		return err
	})
	f.put(f.Time("07:35"), "stock", func(ctx context.Context) error {
		_, err := f.P.BringStock(ctx, f.As("Kofi Mensah"), programme.BringStock{
			Act: f.Act(), Event: ev(), Strips: map[string]int{f.ID("A"): 58, f.ID("B"): 100},
			Lancets: 100, Sharps: 4, Meters: []string{f.ID("M1"), f.ID("M2"), f.ID("M3"), f.ID("M4"), f.ID("M5")},
		})
		return err
	})
	f.put(f.Time("07:40"), "roster", func(ctx context.Context) error { return f.Roster(ctx, larkfield()) })
	f.refused(f.Time("07:45"), "not-verified", func(ctx context.Context) error {
		_, err := f.P.PostPerson(ctx, f.As("Odile Marchetti"), programme.PostPerson{Act: f.Act(), Event: ev(), Person: f.ID("Ben Achebe"), Role: "screener", Station: "2"})
		return err
	})
	f.put(f.Time("07:46"), "Ben to the desk", func(ctx context.Context) error {
		if _, err := f.P.PostPerson(ctx, f.As("Odile Marchetti"), programme.PostPerson{Act: f.Act(), Event: ev(), Person: f.ID("Ben Achebe"), Role: "desk"}); err != nil {
			return err
		}
		_, err := f.P.Attend(ctx, f.As("Odile Marchetti"), programme.Attend{Act: f.Act(), Event: ev(), Person: f.ID("Ben Achebe"), Here: true})
		return err
	})
	f.put(f.Time("07:50"), "codes", func(ctx context.Context) error { return f.codes(ctx, "A", "17", "M1", "M2", "M3", "M4", "M5") })
	f.refused(f.Time("07:55"), "control-use", func(ctx context.Context) error {
		f.Name("bottle 1", "old")
		return f.RunControls(ctx, "Lena Fischer", "M1", "A", "A1", map[string]string{"1": "118"})
	})
	f.put(f.Time("07:56"), "new bottles", func(ctx context.Context) error {
		for _, level := range []string{"1", "2"} {
			if _, err := f.P.OpenBottle(ctx, f.As("Lena Fischer"), programme.OpenBottle{Act: f.Act(), ControlLot: f.ID("control " + level), Bottle: "new"}); err != nil {
				return err
			}
			f.Name("bottle "+level, "new")
		}
		d, err := f.P.Day(ctx, f.Event)
		if err != nil {
			return err
		}
		b, _ := d.ControlLotByID(f.ID("control 1")).Bottle("new")
		if b.Discard != civil.MustParse("2026-01-02") {
			return fmt.Errorf("discard date %s, want 2 Jan 2026", b.Discard)
		}
		return nil
	})
	f.refused(f.Time("08:05"), "role", func(ctx context.Context) error {
		return f.RunControls(ctx, "Kofi Mensah", "M1", "A", "A1", map[string]string{"1": "118"})
	})
	f.put(f.Time("08:10"), "controls", func(ctx context.Context) error {
		for _, m := range []struct{ meter, l1, l2 string }{{"M1", "118", "296"}, {"M2", "121", "301"}, {"M3", "125", "361"}, {"M4", "116", "289"}} {
			if err := f.RunControls(ctx, "Lena Fischer", m.meter, "A", "A1", map[string]string{"1": m.l1, "2": m.l2}); err != nil {
				return err
			}
		}
		return nil
	})
	f.put(f.Time("08:20"), "repeat and quarantine", func(ctx context.Context) error {
		if err := f.RunControls(ctx, "Lena Fischer", "M3", "A", "A2", map[string]string{"2": "358"}); err != nil {
			return err
		}
		_, err := f.P.QuarantineMeter(ctx, f.As("Lena Fischer"), programme.QuarantineMeter{Act: f.Act(), Event: f.Event, Meter: f.ID("M3"), Reason: "Level 2 out of range twice"})
		if err != nil {
			return err
		}
		return f.RunControls(ctx, "Lena Fischer", "M5", "A", "A2", map[string]string{"1": "120", "2": "298"})
	})
	f.put(f.Time("08:40"), "checks", func(ctx context.Context) error { return f.CheckAll(ctx, "Odile Marchetti") })
	open := func(ctx context.Context) error {
		_, err := f.P.OpenEvent(ctx, f.As("Odile Marchetti"), programme.OpenEvent{Act: f.Act(), Event: f.Event})
		return err
	}
	f.refused(f.Time("08:50"), "ratio-wanted", open)
	f.put(f.Time("08:52"), "override", func(ctx context.Context) error {
		_, err := f.P.Override(ctx, f.As("Odile Marchetti"), programme.Override{
			Act: f.Act(), Event: f.Event, Gate: "ratio",
			Reason: "Three supervisors for seven posts; all within sight", Sign: f.Sign("Odile Marchetti"),
		})
		return err
	})
	f.put(f.Time("08:55"), "open", open)
}

func (f *fair) codes(ctx context.Context, lot, code string, meters ...string) error {
	for _, m := range meters {
		if _, err := f.P.CompareCode(ctx, f.As("Lena Fischer"), programme.CompareCode{Act: f.Act(), Event: f.Event, Meter: f.ID(m), StripLot: f.ID(lot), Shown: code}); err != nil {
			return err
		}
	}
	return nil
}

func (f *fair) sit(lot, vial string) {
	for st, x := range map[string][2]string{"1": {"Ana Ruiz", "M1"}, "2": {"Lena Fischer", "M2"}, "3": {"Chidi Park", "M4"}, "4": {"Elif Demir", "M5"}} {
		f.Sit(st, Seat{Screener: x[0], Meter: x[1], Lot: lot, Vial: vial, Wipe: "wipes"})
	}
}

func (f *fair) doorsOpen() {
	f.sit("A", "A2")
	rank := 0
	for ticket := 1; ticket <= 84; ticket++ {
		g := f.guest(ticket)
		f.guests[ticket] = g
		in := arrival(f.Stage, ticket)
		f.put(in, fmt.Sprintf("ticket %d arrives", ticket), func(ctx context.Context) error { return f.Arrive(ctx, g) })
		why := untested[ticket]
		f.put(in.Add(time.Minute), fmt.Sprintf("ticket %d at the desk", ticket), func(ctx context.Context) error {
			if why == "left" {
				_, err := f.P.LeaveVisit(ctx, f.As("Ivo Petrov"), programme.LeaveVisit{Act: f.Act(), Visit: g.ID, Reason: "could not wait"})
				return err
			}
			return f.Register(ctx, g)
		})
		switch why {
		case "declined":
			f.put(in.Add(4*time.Minute), "declines", func(ctx context.Context) error {
				_, err := f.P.Decline(ctx, f.As("Ana Ruiz"), programme.Decline{Act: f.Act(), Visit: g.ID, What: "fingerstick"})
				return err
			})
		case "":
			rank++
			f.test(ticket, rank, g)
		}
	}
	f.put(f.Time("11:20"), "lot B is put on the tables", func(ctx context.Context) error {
		if _, err := f.P.OpenVial(ctx, f.As("Lena Fischer"), programme.OpenVial{Act: f.Act(), StripLot: f.ID("B"), Vial: "B1"}); err != nil {
			return err
		}
		f.sit("B", "B1")
		return f.codes(ctx, "B", "23", "M1", "M2", "M4", "M5")
	})
	f.refused(f.Time("11:21"), "not-cleared", func(ctx context.Context) error {
		if err := f.Call(ctx, f.guests[56], "4"); err != nil {
			return err
		}
		_, err := f.Read(ctx, f.guests[56], "4", Shot{Reading: "101"})
		return err
	})
	f.put(f.Time("11:24"), "controls with lot B", func(ctx context.Context) error {
		for _, m := range []struct{ meter, l1, l2 string }{{"M1", "119", "299"}, {"M2", "122", "305"}, {"M4", "117", "291"}, {"M5", "121", "300"}} {
			if err := f.RunControls(ctx, "Grete Lindqvist", m.meter, "B", "B1", map[string]string{"1": m.l1, "2": m.l2}); err != nil {
				return err
			}
		}
		return nil
	})
}

func (f *fair) guest(ticket int) *Guest {
	g := &Guest{Desk: "Ivo Petrov", Ate: 3 * time.Hour}
	if ticket%2 == 0 {
		g.Desk = "Ben Achebe"
	}
	if ticket%7 == 0 {
		g.Language = "es"
	}
	switch untested[ticket] {
	case "known":
		g.Answers = protocol.Answers{"known-diabetes": "yes"}
	case "young":
		g.Answers = protocol.Answers{"age": "16"}
	case "pregnant":
		g.Answers = protocol.Answers{"pregnancy": "yes"}
	}
	if _, ok := fasting[ticket]; ok {
		g.Ate = 11 * time.Hour
	}
	if refers(ticket) {
		f.calls++
		if f.calls <= 13 { // 13 of the 16 who are referred allow a call
			g.Contact = programme.Contact{Allow: true, Call: true, Name: fmt.Sprintf("Invented Guest %d", ticket), Phone: "555 0199"}
		}
	}
	return g
}

// refers reports whether a ticket's finding will ask for a referral.
func refers(ticket int) bool {
	if ticket == 31 {
		return false
	}
	switch ticket {
	case 8, 38, 59, 64:
		return true
	}
	_, ok := special[ticket]
	return ok
}

// Lena Fischer rounds six readings at station 2 to the next ten; the memory of M2 has what the meter showed. Three others
// of hers end in 0 in truth.
var (
	rounded = map[int]string{7: "130", 10: "100", 23: "130", 30: "130", 49: "100", 53: "120"}
	shown   = map[int]string{7: "132", 10: "98", 23: "134", 30: "128", 49: "96", 53: "124"}
	tens    = map[int]string{34: "110", 39: "120", 63: "90"}
)

// value gives the first reading of a ticket as it was typed.
func value(ticket int) string {
	for _, m := range []map[int]string{rounded, tens} {
		if v, ok := m[ticket]; ok {
			return v
		}
	}
	if v, ok := fasting[ticket]; ok {
		return v
	}
	if v, ok := special[ticket]; ok {
		return v
	}
	return fmt.Sprint(83 + ticket*7%55) // 83 to 137: usual when not fasting
}

// faint is the faint of 11:35: laid down, legs raised, well in ten minutes.
func (f *fair) faint() {
	who, lead := f.As("Ana Ruiz"), f.Sign("Odile Marchetti")
	id := ""
	steps := func(ctx context.Context, steps ...programme.IncidentStep) error {
		for _, s := range steps {
			s.Act, s.Incident = f.Act(), id
			if _, err := f.P.IncidentStep(ctx, who, s); err != nil {
				return err
			}
		}
		return nil
	}
	f.put(f.Time("11:35"), "a faint", func(ctx context.Context) error {
		done, err := f.P.ReportIncident(ctx, who, programme.ReportIncident{Act: f.Act(), Event: f.Event, Sort: "faint", Station: "1"})
		if err != nil {
			return err
		}
		id = done.ID
		if err := steps(ctx, programme.IncidentStep{Step: incident.LaidDown}, programme.IncidentStep{Step: incident.LegsRaised}, programme.IncidentStep{Step: incident.Stayed}); err != nil {
			return err
		}
		_, err = f.P.TellIncident(ctx, who, programme.TellIncident{Act: f.Act(), Incident: id, Sign: lead})
		return err
	})
	f.put(f.Time("11:45"), "the faint ends", func(ctx context.Context) error {
		if err := steps(ctx, programme.IncidentStep{Step: incident.Well}, programme.IncidentStep{Step: incident.Fall, Choice: "not-hurt"}, programme.IncidentStep{Step: incident.Ate, Choice: "drunk"}); err != nil {
			return err
		}
		_, err := f.P.CloseIncident(ctx, who, programme.CloseIncident{Act: f.Act(), Incident: id, Sign: lead})
		return err
	})
}

// tickets whose first strip gave an error; those marked true used the same drop for the next strip.
var meterErrors = map[int]bool{57: false, 61: true, 65: false, 68: true, 73: false}

// stationOf sends the tested to the four stations in turn; three go to the second when the fourth is busy.
func stationOf(rank int) string {
	switch rank {
	case 8, 16, 28:
		return "2"
	}
	return fmt.Sprint((rank-1)%4 + 1)
}

func (f *fair) test(ticket, rank int, g *Guest) {
	station := stationOf(rank)
	at := reading(f.Stage, rank)
	name := fmt.Sprintf("ticket %d at station %s", ticket, station)
	f.put(at.Add(-30*time.Second), name, func(ctx context.Context) error { return f.Call(ctx, g, station) })
	shots := []Shot{{Reading: value(ticket)}}
	if same, ok := meterErrors[ticket]; ok {
		shots = []Shot{{Reading: "E-4"}, {Reading: value(ticket), SameStick: same}}
	}
	if ticket == 10 || ticket == 63 {
		shots[0].Misfires = 1
	}
	switch ticket {
	case 31:
		shots[0].Unwashed = true
		shots = append(shots, Shot{Reading: "118"})
	case 44:
		shots = append(shots, Shot{Reading: "64"})
	case 52:
		shots = append(shots, Shot{Reading: "405"})
	case 58:
		shots = append(shots, Shot{Reading: "209"})
	case 70:
		shots = append(shots, Shot{Reading: "241"})
	}
	if ticket == 4 {
		f.mistakes(at.Add(-10*time.Second), g, station)
	}
	for i, shot := range shots {
		f.put(at.Add(time.Duration(i)*40*time.Second), name, func(ctx context.Context) error {
			_, err := f.Read(ctx, g, station, shot)
			return err
		})
	}
	after := at.Add(time.Duration(len(shots)-1)*40*time.Second + 20*time.Second)
	f.put(after, name, func(ctx context.Context) error { return f.Clear(ctx, g, station) })
	counsellor := []string{"Farah Noor", "Gil Santos", "Hana Kim"}[rank%3]
	talk := after.Add(4 * time.Minute)
	switch ticket {
	case 44:
		f.low(g)
		talk = f.Time("11:03")
	case 52:
		f.critical(g)
		talk = f.Time("11:20")
	case 84:
		talk = f.Time("13:08")
	}
	f.put(talk, name, func(ctx context.Context) error {
		return f.Explain(ctx, g, counsellor, "E1", "Larkfield Free Clinic", true)
	})
	end := talk.Add(4 * time.Minute)
	if ticket == 84 {
		end = f.Time("13:14")
	}
	f.put(end, name, func(ctx context.Context) error { return f.Finish(ctx, g, counsellor) })
}

// mistakes are two slips of the finger that must be caught.
func (f *fair) mistakes(at time.Time, g *Guest, station string) {
	try := func(first, again string) func(context.Context) error {
		return func(ctx context.Context) error {
			seat := f.Seat(station)
			_, err := f.P.TakeReading(ctx, f.As(seat.Screener), programme.TakeReading{
				Act: f.Act(), Visit: g.ID, Station: station, Meter: f.ID(seat.Meter),
				StripLot: f.ID(seat.Lot), Vial: seat.Vial, Reading: first, Again: again, Washed: true,
			})
			return err
		}
	}
	f.refused(at, "value-absurd", try("1118", "1118"))
	f.refused(at.Add(5*time.Second), "read-back-differs", try("97", "79"))
}

func (f *fair) care(at string, g *Guest, who string, c programme.CareStep) {
	f.put(f.Time(at), "care", func(ctx context.Context) error {
		c.Act, c.Visit = f.Act(), g.ID
		_, err := f.P.CareStep(ctx, f.As(who), c)
		return err
	})
}

func (f *fair) low(g *Guest) {
	f.care("10:45", g, "Samuel Oyelaran", programme.CareStep{Step: "sugar", Choice: "given", Note: "4 glucose tablets"})
	f.put(f.Time("11:00"), "recheck", func(ctx context.Context) error {
		r, err := f.Read(ctx, g, "2", Shot{Reading: "92"})
		if err != nil {
			return err
		}
		if r.Purpose != visit.Recheck || r.Finding.Band != protocol.Low {
			return fmt.Errorf("recheck: %s %s", r.Purpose, r.Finding.Band)
		}
		return f.Clear(ctx, g, "2")
	})
	f.put(f.Time("11:02"), "low signed", func(ctx context.Context) error {
		_, err := f.P.SignCare(ctx, f.As("Samuel Oyelaran"), programme.SignCare{Act: f.Act(), Visit: g.ID, Sign: f.Sign("Samuel Oyelaran")})
		return err
	})
}

func (f *fair) critical(g *Guest) {
	f.put(f.Time("11:05:30"), "supervisor comes", func(ctx context.Context) error {
		_, err := f.P.AttendCare(ctx, f.As("Grete Lindqvist"), programme.AttendCare{Act: f.Act(), Visit: g.ID, Sign: f.Sign("Grete Lindqvist")})
		return err
	})
	f.care("11:07", g, "Grete Lindqvist", programme.CareStep{Step: "signs", Note: "thirsty; none of the signs of a crisis"})
	f.care("11:09", g, "Grete Lindqvist", programme.CareStep{Step: "action", Choice: "same-day-care", Note: "family drives"})
	f.care("11:15", g, "Grete Lindqvist", programme.CareStep{Step: "handover", Note: "Larkfield Urgent Care, spoke to the nurse"})
	f.refused(f.Time("13:20"), "care-open", func(ctx context.Context) error { return f.close(ctx) })
	f.care("16:10", g, "Grete Lindqvist", programme.CareStep{Step: "arrived", Note: "confirmed by telephone"})
	f.put(f.Time("16:11"), "critical signed", func(ctx context.Context) error {
		_, err := f.P.SignCare(ctx, f.As("Grete Lindqvist"), programme.SignCare{Act: f.Act(), Visit: g.ID, Sign: f.Sign("Grete Lindqvist")})
		return err
	})
}

// rounding is the data check of 12:10: 9 of 19 readings at station 2 end in 0, and six of them stand otherwise in the meter's
// memory.
func (f *fair) rounding() {
	f.put(f.Time("12:10"), "the last digits at station 2", func(ctx context.Context) error {
		d, err := f.P.Day(ctx, f.Event)
		if err != nil {
			return err
		}
		alarms := d.DigitAlarms()
		if len(alarms) == 0 || alarms[0].Group != "station-2" || alarms[0].Zeros != 9 || alarms[0].N != 19 {
			return fmt.Errorf("alarms %+v, want 9 of 19 at station 2", alarms)
		}
		c := programme.Correct{Event: f.Event, Kind: programme.CorrectMemory, Values: map[string]string{}, Reason: "rounded; corrected from the meter's memory"}
		for _, r := range d.DigitReadings("station-2") {
			c.Values[r.Reading.ID] = r.Reading.Reading.Shown()
			if v, ok := shown[r.Visit.Ticket]; ok {
				c.Values[r.Reading.ID] = v
			}
		}
		seen, err := f.P.PreviewCorrection(ctx, f.As("Odile Marchetti"), c)
		if err != nil {
			return err
		}
		c.Act, c.Digest, c.Sign = f.Act(), seen.Digest, f.Sign("Odile Marchetti")
		if _, err := f.P.Correct(ctx, f.As("Odile Marchetti"), c); err != nil {
			return err
		}
		if seen.Compared != 19 || seen.Differed != 6 || seen.Bands() != 0 {
			return fmt.Errorf("compared %d, differed %d, bands changed %d; want 19, 6, 0", seen.Compared, seen.Differed, seen.Bands())
		}
		if d, err = f.P.Day(ctx, f.Event); err == nil && len(d.DigitAlarms()) > 0 {
			return fmt.Errorf("the alarm stays: %+v", d.DigitAlarms())
		}
		return err
	})
}

func (f *fair) close(ctx context.Context) error {
	_, err := f.P.CloseEvent(ctx, f.As("Odile Marchetti"), programme.CloseEvent{Act: f.Act(), Event: f.Event, Sign: f.Sign("Odile Marchetti")})
	return err
}

func (f *fair) closing() {
	f.faint()
	f.rounding()
	f.put(f.Time("13:00:30"), "doors close", func(ctx context.Context) error {
		_, err := f.P.CloseDoors(ctx, f.As("Odile Marchetti"), programme.CloseDoors{Act: f.Act(), Event: f.Event})
		return err
	})
	f.put(f.Time("16:20"), "count", func(ctx context.Context) error {
		_, err := f.P.CountBack(ctx, f.As("Kofi Mensah"), programme.CountBack{
			Act: f.Act(), Event: f.Event, Strips: map[string]int{f.ID("A"): 0, f.ID("B"): 60},
			Lancets: 21, Sharps: 4, Meters: []string{f.ID("M1"), f.ID("M2"), f.ID("M3"), f.ID("M4"), f.ID("M5")},
		})
		if err != nil {
			return err
		}
		rows := 0
		for _, m := range []string{"M1", "M2", "M3", "M4", "M5"} {
			n := f.memory(ctx, m)
			rows += n
			if _, err := f.P.ReadMemory(ctx, f.As("Kofi Mensah"), programme.ReadMemory{Act: f.Act(), Event: f.Event, Meter: f.ID(m), Rows: n}); err != nil {
				return err
			}
		}
		if rows != 93 {
			return fmt.Errorf("%d rows in the meters' memories, want 74 + 19 = 93", rows)
		}
		return nil
	})
	f.put(f.Time("16:30"), "close", f.close)
}

// memory counts what a meter has shown today: a real meter counts for itself.
func (f *fair) memory(ctx context.Context, meter string) int {
	d, err := f.P.Day(ctx, f.Event)
	if err != nil {
		f.t.Fatal(err)
	}
	n := len(d.Event.RunsOf(f.ID(meter)))
	for _, v := range d.Visits {
		for _, r := range v.Readings {
			if r.Meter == f.ID(meter) && r.Reading.Code == "" {
				n++
			}
		}
	}
	return n
}

func (f *fair) check(ctx context.Context) {
	t := f.t
	r, err := f.P.Report(ctx, f.Event)
	if err != nil {
		t.Fatal(err)
	}
	want := func(what string, got, want any) {
		t.Helper()
		if d := cmp.Diff(want, got); d != "" {
			t.Errorf("%s (-want +got):\n%s", what, d)
		}
	}
	o := r.Outcomes
	want("outcomes", []int{o.Arrived, o.Left, o.NotEligible, o.Declined, o.Tested, o.Unfinished, o.LeftAfter}, []int{84, 3, 11, 2, 68, 0, 0})
	want("reasons", o.ByReason, map[string]int{
		"already knows about diabetes": 9, "too young for this screening": 1,
		"pregnant or gave birth in the last 6 weeks": 1, "declined fingerstick": 2,
	})
	want("bands", r.Bands, map[string]map[string]int{
		"fasting": {"usual": 7, "raised": 3, "high": 1},
		"random":  {"usual": 45, "raised": 8, "high": 2, "low": 1, "critical-high": 1},
		"all":     {"usual": 52, "raised": 11, "high": 3, "low": 1, "critical-high": 1},
	})
	want("referrals", []any{r.Referrals.N, r.Referrals.Of, r.Referrals.Call, r.Referrals.NoCall, r.Referrals.Percent()}, []any{16, 68, 13, 3, "23.5 %"})
	want("referrals by band", r.Referrals.ByBand, map[string]int{"critical-high": 1, "high": 3, "low": 1, "raised": 11})
	want("readings", r.Readings, programme.Readings{First: 68, Repeats: 5, Rechecks: 1, Errors: 5, Sticks: 77, Misfires: 2, ErrorSticks: 3})
	want("lancets", r.Lancets, map[string]int{"sticks": 77, "misfires": 2, "used": 79})
	want("strips", r.Strips, []programme.StripRow{{Lot: "A", Brought: 58, Readings: 47, Errors: 0, Controls: 11, Left: 0}, {Lot: "B", Brought: 100, Readings: 27, Errors: 5, Controls: 8, Left: 60}})
	want("controls", r.ControlSum, map[string]int{"runs": 19, "in-range": 17, "out-of-range": 2, "no-value": 0})
	want("quarantined", r.Quarantined, []string{"M3"})
	want("slips and explained", []int{o.Slips, o.Explained}, []int{68, 68})
	want("arrivals", r.Arrivals, []programme.HourRow{{Hour: "09:00", N: 25}, {Hour: "10:00", N: 30}, {Hour: "11:00", N: 19}, {Hour: "12:00", N: 10}})
	want("overrides", []any{len(r.Overrides), r.Overrides[0].About}, []any{1, "7:3"})
	want("last left", r.LastLeft.In(f.Zone).Format("15:04"), "13:14")
	want("phase", r.Phase, "closed")
	want("corrections", r.Corrections, []programme.CorrectionCount{{Kind: "memory", N: 6}})
	want("incidents", r.Incidents, []programme.IncidentCount{{Kind: "faint", N: 1}})
	for _, e := range r.Equalities {
		if e.Difference != 0 || e.Alarm != "" {
			t.Errorf("%s does not come out: %s, difference %d %s", e.Name, e.Sentence(), e.Difference, e.Alarm)
		}
	}
	d, err := f.P.Day(ctx, f.Event)
	if err != nil {
		t.Fatal(err)
	}
	counts := map[int]string{31: "118", 44: "64", 52: "405", 58: "209", 70: "241"}
	for ticket, shown := range counts {
		c, _ := d.Visit(f.guests[ticket].ID).Counting()
		want(fmt.Sprintf("ticket %03d counts", ticket), c.Reading.Shown(), shown)
	}
	if after, ok := d.Incidents[0].WellAfter(); !ok || after != 10*time.Minute {
		t.Errorf("well again after %v (%v), want 10 minutes", after, ok)
	}
	for ticket, memory := range shown { // what was typed stands beside what the memory showed
		v := d.Visit(f.guests[ticket].ID)
		rows, err := f.P.History(ctx, f.As("Odile Marchetti"), f.Event, v.ID)
		if err != nil {
			t.Fatal(err)
		}
		both := false
		for _, x := range rows {
			both = both || x.Struck == false && len(x.Later) == 1 && strings.Contains(x.Said, rounded[ticket]) && strings.Contains(x.Later[0].Said, memory)
		}
		if v.Readings[0].Reading.Shown() != memory || v.Finding().Band != protocol.Usual || !both {
			t.Errorf("ticket %03d: %s, %s, both shown %v: %+v", ticket, v.Readings[0].Reading.Shown(), v.Finding().Band, both, rows)
		}
	}
	fu, err := f.P.FollowUps(ctx, programme.FollowUpScope{})
	if err != nil {
		t.Fatal(err)
	}
	want("follow-up list", len(fu), 16)
}
