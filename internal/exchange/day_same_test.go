package exchange_test

import (
	"bytes"
	"context"
	"log/slog"
	"math/rand"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"fairstick/internal/civil"
	"fairstick/internal/demo"
	"fairstick/internal/event"
	"fairstick/internal/exchange"
	"fairstick/internal/programme"
	"fairstick/internal/protocol"
	"fairstick/internal/store"
	"fairstick/internal/visit"
)

// A small invented day in two forms: played through the commands of the stations, and typed from paper out of the example
// files of the guide. Both must come to the same report.

type paperHall struct {
	*demo.Stage
	t   *testing.T
	ctx context.Context
	set demo.Programme
	st  *store.Store
	dir string
}

func paperSetting() demo.Programme {
	proof := func(role string) []demo.Proof {
		return []demo.Proof{{Role: role, From: "2026-01-01", Until: "2026-12-31"}}
	}
	return demo.Programme{
		Describe: programme.Describe{Name: "Paper Hall Programme", Certificate: "INVENTED-2", CertificateUntil: "2026-12-31", Contact: "555 0100", ContactHours: "9 to 5", Emergency: "911", Unit: "mg/dL", LabelledUse: true},
		Lead:     demo.Person{Name: "Lea Lead", PIN: "4821", Roles: []string{"lead", "supervisor"}, Post: "supervisor"},
		People: []demo.Person{
			{Name: "Sue Supervisor", PIN: "5093", Roles: []string{"supervisor"}, Post: "supervisor"},
			{Name: "Ann Screener", PIN: "6174", Roles: []string{"screener"}, Verified: proof("screener"), Post: "screener", Station: "1"},
			{Name: "Bob Screener", PIN: "7285", Roles: []string{"screener"}, Verified: proof("screener"), Post: "screener", Station: "2"},
			{Name: "Cy Desk", PIN: "8396", Roles: []string{"desk"}, Post: "desk"},
			{Name: "Dot Counsellor", PIN: "9407", Roles: []string{"counsellor"}, Verified: proof("counsellor"), Post: "counsellor"},
		},
		Meters: []demo.Meter{{Label: "M1", Serial: "T-1", Coding: "button"}, {Label: "M2", Serial: "T-2", Coding: "none"}},
		Lots: []demo.Lot{
			{Lot: "A", Code: "17", Expiry: "2026-12", InUse: "90", Chemistry: "gdh-fad", Level1: [2]string{"96", "144"}, Level2: [2]string{"252", "340"}, Vials: []demo.Opened{{Name: "A1", On: "2026-06-01"}}},
			{Lot: "B", Code: "23", Expiry: "2026-12", InUse: "expiry", Chemistry: "gdh-fad", Level1: [2]string{"98", "146"}, Level2: [2]string{"255", "344"}, Vials: []demo.Opened{{Name: "B1", On: "2026-06-01"}}},
		},
		Controls: []demo.Solution{{Lot: "C1", Level: "1", Expiry: "2026-12", Bottles: []demo.Opened{{Name: "c1", On: "2026-06-01"}}}, {Lot: "C2", Level: "2", Expiry: "2026-12", Bottles: []demo.Opened{{Name: "c2", On: "2026-06-01"}}}},
		Wipe:     programme.DescribeDisinfectant{Name: "Wipes", ContactSeconds: 60},
		Plan: programme.PlanEvent{
			Name: "Paper Fair", Venue: "Paper Hall", Address: "1 Invented Lane", Date: "2026-06-20", Doors: "09:00", Ends: "13:00", Zone: "America/New_York", Expected: 20,
			Routes: []event.Route{{Name: "Invented Clinic", Phone: "555 0111"}}, Urgent: event.Route{Name: "Invented Urgent Care", Phone: "555 0112"},
		},
	}
}

// newPaperHall is the programme at 07:45 of its day, with everything but controls and codes done.
func newPaperHall(t *testing.T) *paperHall {
	t.Helper()
	zone, err := time.LoadLocation("America/New_York")
	if err != nil {
		t.Fatal(err)
	}
	clock := demo.NewClock(time.Date(2026, 6, 20, 7, 0, 0, 0, zone))
	h := &paperHall{t: t, ctx: t.Context(), set: paperSetting(), dir: t.TempDir() + "/data"}
	st, err := store.Create(h.ctx, store.Options{Dir: h.dir, Catalogue: programme.Catalogue(), Now: clock.Now, Log: slog.New(slog.DiscardHandler)})
	h.must(err)
	h.st = st
	t.Cleanup(func() { h.must(h.st.Close()) })
	h.Stage = demo.NewStage(programme.New(st, clock.Now, slog.New(slog.DiscardHandler)), clock, zone, civil.MustParse("2026-06-20"))
	h.must(h.Build(h.ctx, h.set))
	lead := h.As("Lea Lead")
	clock.Set(h.Time("07:45"))
	_, err = h.P.MeasureRoom(h.ctx, lead, programme.MeasureRoom{Act: h.Act(), Event: h.Event, Celsius: "21"})
	h.must(err)
	_, err = h.P.BringStock(h.ctx, lead, programme.BringStock{Act: h.Act(), Event: h.Event, Strips: map[string]int{h.ID("A"): 50, h.ID("B"): 50}, Lancets: 60, Sharps: 2, Meters: []string{h.ID("M1"), h.ID("M2")}})
	h.must(err)
	h.must(h.Roster(h.ctx, h.set))
	h.must(h.CheckAll(h.ctx, "Lea Lead"))
	return h
}

// forked is the hall on a copy of its folder, so that ids are the same.
func (h *paperHall) forked() *paperHall {
	h.t.Helper()
	f, stage := *h, *h.Stage
	f.dir = h.t.TempDir() + "/data"
	h.must(os.CopyFS(f.dir, os.DirFS(h.dir)))
	st, err := store.Open(h.ctx, store.Options{Dir: f.dir, Catalogue: programme.Catalogue(), Now: h.Clock.Now, Log: slog.New(slog.DiscardHandler)})
	h.must(err)
	f.st, f.Stage = st, &stage
	f.P = programme.New(st, h.Clock.Now, slog.New(slog.DiscardHandler))
	h.t.Cleanup(func() { h.must(st.Close()) })
	return &f
}

func (h *paperHall) must(err error) {
	h.t.Helper()
	if err != nil {
		h.t.Fatal(err)
	}
}

func (h *paperHall) at(clock, what string, do func(context.Context) error) {
	h.Put(h.Time(clock), what, do)
}

// live plays the day through the commands of the stations.
func (h *paperHall) live() {
	h.controlsLive()
	h.at("08:55", "open", func(ctx context.Context) error {
		_, err := h.P.OpenEvent(ctx, h.As("Lea Lead"), programme.OpenEvent{Act: h.Act(), Event: h.Event})
		return err
	})
	h.Sit("1", demo.Seat{Screener: "Ann Screener", Meter: "M1", Lot: "A", Vial: "A1", Wipe: "wipes"})
	h.Sit("2", demo.Seat{Screener: "Bob Screener", Meter: "M2", Lot: "A", Vial: "A1", Wipe: "wipes"})
	g := h.guest("09:00", "09:02", demo.Guest{Ate: 92 * time.Minute})
	h.test(g, "1", "09:05", "09:06 112", "09:07 clear")
	h.talk(g, "", false, "09:10", "09:11", "09:15")
	g = h.guest("09:03", "09:05", demo.Guest{Language: "es", Ate: 11*time.Hour + 35*time.Minute, Contact: programme.Contact{Allow: true, Name: "Invented Guest 2", Phone: "555 0102"}})
	h.test(g, "2", "09:08", "09:09 98", "09:10 clear")
	h.talk(g, "", false, "09:16", "09:17", "09:20")
	g = h.guest("09:10", "09:12", demo.Guest{Ate: 3 * time.Hour})
	h.test(g, "1", "09:14", "09:15 268 unwashed", "09:19 118", "09:20 clear")
	h.talk(g, "", false, "09:22", "09:23", "09:27")
	h.low()
	h.critical()
	h.guest("09:40", "09:42", demo.Guest{Answers: protocol.Answers{"known-diabetes": "yes"}})
	h.declines("consent", "no time", "09:46", h.guest("09:45", "", demo.Guest{}))
	h.declines("fingerstick", "afraid of needles", "09:55", h.guest("09:50", "09:52", demo.Guest{Ate: 3 * time.Hour}))
	h.leaves("could not wait", "10:20", h.guest("09:55", "09:57", demo.Guest{Ate: 3 * time.Hour}))
	g = h.guest("10:00", "10:02", demo.Guest{Ate: 3 * time.Hour})
	h.test(g, "2", "10:05", "10:06 E-4 misfire", "10:07 131 same", "10:08 clear")
	h.talk(g, "", false, "10:10", "10:11", "10:15")
	h.at("10:41", "lot B on the table", func(context.Context) error {
		h.Sit("1", demo.Seat{Screener: "Ann Screener", Meter: "M1", Lot: "B", Vial: "B1", Wipe: "wipes"})
		return nil
	})
	g = h.guest("10:30", "10:32", demo.Guest{Ate: 3 * time.Hour})
	h.test(g, "1", "10:45", "10:46 156", "10:47 clear")
	h.talk(g, "Invented Clinic", false, "10:50", "10:51", "10:55")
	g = h.guest("11:00", "11:02", demo.Guest{Ate: 3 * time.Hour})
	h.test(g, "2", "11:04", "11:05 104", "11:06 clear")
	h.leaves("the bus came", "11:10", g)
	h.guest("11:15", "11:17", demo.Guest{Answers: protocol.Answers{"age": "16"}})
	h.must(h.Play(h.ctx))
}

func (h *paperHall) controlsLive() {
	code := func(at, lot, shown string) {
		h.at(at, "code", func(ctx context.Context) error {
			_, err := h.P.CompareCode(ctx, h.As("Ann Screener"), programme.CompareCode{Act: h.Act(), Event: h.Event, Meter: h.ID("M1"), StripLot: h.ID(lot), Shown: shown})
			return err
		})
	}
	run := func(at, who, meter, lot, vial string, levels map[string]string) {
		h.at(at, "controls", func(ctx context.Context) error { return h.RunControls(ctx, who, meter, lot, vial, levels) })
	}
	code("08:05", "A", "17")
	run("08:10", "Ann Screener", "M1", "A", "A1", map[string]string{"1": "118", "2": "300"})
	run("08:12", "Ann Screener", "M2", "A", "A1", map[string]string{"1": "121", "2": "350"})
	h.at("08:13", "cause", func(ctx context.Context) error {
		d, err := h.P.Day(ctx, h.Event)
		if err != nil {
			return err
		}
		runs := d.Event.RunsOf(h.ID("M2"))
		_, err = h.P.AssignCause(ctx, h.As("Ann Screener"), programme.AssignCause{Act: h.Act(), Event: h.Event, Run: runs[1].ID, Cause: "drop too small", Action: "new strip, full drop"})
		return err
	})
	run("08:14", "Ann Screener", "M2", "A", "A1", map[string]string{"2": "300"})
	code("10:39", "B", "23")
	run("10:40", "Sue Supervisor", "M1", "B", "B1", map[string]string{"1": "119", "2": "299"})
}

func (h *paperHall) guest(arrives, desk string, x demo.Guest) *demo.Guest {
	x.Desk = "Cy Desk"
	g := &x
	h.at(arrives, "arrives", func(ctx context.Context) error { return h.Arrive(ctx, g) })
	if desk != "" {
		h.at(desk, "desk", func(ctx context.Context) error { return h.Register(ctx, g) })
	}
	return g
}

// test plays acts like "09:06 112", "09:15 268 unwashed" and "09:07 clear".
func (h *paperHall) test(g *demo.Guest, station, call string, acts ...string) {
	if call != "" {
		h.at(call, "call", func(ctx context.Context) error { return h.Call(ctx, g, station) })
	}
	for _, a := range acts {
		w := strings.Fields(a)
		if w[1] == "clear" {
			h.at(w[0], a, func(ctx context.Context) error { return h.Clear(ctx, g, station) })
			continue
		}
		shot := demo.Shot{Reading: w[1], Unwashed: strings.Contains(a, "unwashed"), SameStick: strings.Contains(a, "same")}
		if strings.Contains(a, "misfire") {
			shot.Misfires = 1
		}
		h.at(w[0], a, func(ctx context.Context) error {
			_, err := h.Read(ctx, g, station, shot)
			return err
		})
	}
}

func (h *paperHall) talk(g *demo.Guest, route string, agreed bool, call, explained, end string) {
	who := h.As("Dot Counsellor")
	h.at(call, "called to explain", func(ctx context.Context) error {
		_, err := h.P.CallTicket(ctx, who, programme.CallTicket{Act: h.Act(), Visit: g.ID, Step: "explain", Station: "E1"})
		return err
	})
	h.at(explained, "explained", func(ctx context.Context) error { return h.Explain(ctx, g, "Dot Counsellor", "E1", route, agreed) })
	h.at(end, "finished", func(ctx context.Context) error { return h.Finish(ctx, g, "Dot Counsellor") })
}

func (h *paperHall) declines(what, why, at string, g *demo.Guest) {
	h.at(at, "declines", func(ctx context.Context) error {
		_, err := h.P.Decline(ctx, h.As("Cy Desk"), programme.Decline{Act: h.Act(), Visit: g.ID, What: what, Reason: why})
		return err
	})
}

func (h *paperHall) leaves(why, at string, g *demo.Guest) {
	h.at(at, "leaves", func(ctx context.Context) error {
		_, err := h.P.LeaveVisit(ctx, h.As("Cy Desk"), programme.LeaveVisit{Act: h.Act(), Visit: g.ID, Reason: why})
		return err
	})
}

func (h *paperHall) step(at string, g *demo.Guest, c programme.CareStep) {
	h.at(at, "care", func(ctx context.Context) error {
		c.Act, c.Visit = h.Act(), g.ID
		_, err := h.P.CareStep(ctx, h.As("Sue Supervisor"), c)
		return err
	})
}

func (h *paperHall) signs(at string, g *demo.Guest) {
	h.at(at, "signs", func(ctx context.Context) error {
		_, err := h.P.SignCare(ctx, h.As("Sue Supervisor"), programme.SignCare{Act: h.Act(), Visit: g.ID, Sign: h.Sign("Sue Supervisor")})
		return err
	})
}

func (h *paperHall) low() {
	g := h.guest("09:20", "09:22", demo.Guest{Ate: 3 * time.Hour, Contact: programme.Contact{Allow: true, Call: true, Name: "Invented Guest 4", Phone: "555 0104"}})
	h.test(g, "2", "09:25", "09:26 66", "09:29 64", "09:30 clear", "09:46 92", "09:47 clear")
	h.step("09:31", g, programme.CareStep{Step: "sugar", Choice: "given", Note: "4 glucose tablets"})
	h.signs("09:50", g)
	h.talk(g, "Invented Clinic", true, "09:52", "09:53", "09:57")
}

func (h *paperHall) critical() {
	g := h.guest("09:30", "09:32", demo.Guest{Ate: 3 * time.Hour, Contact: programme.Contact{Allow: true, Call: true, Name: "Invented Guest 5", Phone: "555 0105"}})
	h.test(g, "1", "09:35", "09:36 412", "09:39 405", "09:40 clear")
	h.at("09:37", "supervisor", func(ctx context.Context) error {
		_, err := h.P.AttendCare(ctx, h.As("Sue Supervisor"), programme.AttendCare{Act: h.Act(), Visit: g.ID, Sign: h.Sign("Sue Supervisor")})
		return err
	})
	h.step("09:41", g, programme.CareStep{Step: "signs", Note: "thirsty"})
	h.step("09:42", g, programme.CareStep{Step: "action", Choice: "same-day-care", Note: "family drives"})
	h.step("09:45", g, programme.CareStep{Step: "handover", Note: "Invented Urgent Care, the nurse"})
	h.talk(g, "Invented Urgent Care", true, "09:47", "09:48", "09:52")
	h.step("11:30", g, programme.CareStep{Step: "arrived", Note: "by telephone"})
	h.signs("11:32", g)
}

// paper reads the example files.
func (h *paperHall) paper() (visits, controls []programme.ImportRow) {
	h.t.Helper()
	read := func(file, name string) []programme.ImportRow {
		data, err := os.ReadFile(name)
		h.must(err)
		d, err := exchange.ReadDay(file, bytes.NewReader(data))
		h.must(err)
		if len(d.Bad) > 0 {
			h.t.Fatalf("%s: %v", name, d.Bad)
		}
		return d.Rows
	}
	return read(exchange.DayVisits, "../../docs/examples/day-visits.csv"), read(exchange.DayControls, "../../docs/examples/day-controls.csv")
}

func (h *paperHall) load(visits, controls []programme.ImportRow) programme.ImportedDay {
	h.t.Helper()
	h.Clock.Set(h.Time("12:30"))
	done, err := h.P.ImportDay(h.ctx, h.As("Lea Lead"), programme.ImportDay{Act: h.Act(), Event: h.Event, Visits: visits, Controls: controls, Opened: "8:55 am"})
	h.must(err)
	for _, b := range append(done.Bad, done.BadControls...) {
		h.t.Errorf("line %d, %s: %s", b.Line, b.Column, b.Sentence)
	}
	for _, x := range append(done.Irregular, done.IrregularControls...) {
		h.t.Errorf("line %d, %s: %s: %s", x.Line, x.Field, x.Key, x.Sentence)
	}
	if h.t.Failed() {
		h.t.FailNow()
	}
	return done
}

// finish closes the day with its counts.
func (h *paperHall) finish() programme.Report {
	h.t.Helper()
	lead := h.As("Lea Lead")
	h.Clock.Set(h.Time("13:00"))
	_, err := h.P.CloseDoors(h.ctx, lead, programme.CloseDoors{Act: h.Act(), Event: h.Event})
	h.must(err)
	h.Clock.Set(h.Time("13:20"))
	_, err = h.P.CountBack(h.ctx, lead, programme.CountBack{Act: h.Act(), Event: h.Event, Strips: map[string]int{h.ID("A"): 33, h.ID("B"): 47}, Lancets: 47, Sharps: 2, Meters: []string{h.ID("M1"), h.ID("M2")}})
	h.must(err)
	for meter, rows := range map[string]int{"M1": 10, "M2": 9} {
		_, err = h.P.ReadMemory(h.ctx, lead, programme.ReadMemory{Act: h.Act(), Event: h.Event, Meter: h.ID(meter), Rows: rows})
		h.must(err)
	}
	r, err := h.P.Report(h.ctx, h.Event)
	h.must(err)
	return r
}

func TestADayFromPaperHasTheSameReport(t *testing.T) {
	live := newPaperHall(t)
	live.live()
	want := live.finish()

	typed := newPaperHall(t)
	visits, controls := typed.paper()
	done := typed.load(visits, controls)
	if done.Visits != 13 || done.Controls != 7 || !done.Recorded {
		t.Fatalf("loaded %+v", done)
	}
	got := typed.finish()
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("the report of the paper differs (-live +paper):\n%s", d)
	}
	if d := cmp.Diff(live.times(), typed.times()); d != "" {
		t.Errorf("the times of the visits differ (-live +paper):\n%s", d)
	}
	o := got.Outcomes
	if o.Arrived != 13 || o.Tested != 8 || o.NotEligible != 2 || o.Declined != 2 || o.Left != 1 || o.LeftAfter != 1 {
		t.Errorf("outcomes %+v", o)
	}
	if r := got.Readings; r.First != 8 || r.Repeats != 3 || r.Rechecks != 1 || r.Errors != 1 || r.Sticks != 12 || r.Misfires != 1 {
		t.Errorf("readings %+v", r)
	}
	for _, e := range got.Equalities {
		if e.Difference != 0 && e.Key != "slips" && e.Key != "explained" { // the one who ran for the bus has neither
			t.Errorf("%s: %s, difference %d", e.Name, e.Sentence(), e.Difference)
		}
	}
	rep, err := typed.st.Check(typed.ctx)
	if err != nil || !rep.OK() {
		t.Errorf("record: %v %v", rep.Problems, err)
	}
}

// times are those of every visit, in the order of the tickets.
func (h *paperHall) times() []visit.Times {
	h.t.Helper()
	d, err := h.P.Day(h.ctx, h.Event)
	h.must(err)
	var out []visit.Times
	for _, v := range d.Visits {
		out = append(out, v.Times)
	}
	return out
}

// Loading the same files again adds nothing; a changed row is told and not taken.
func TestADayIsNotLoadedTwice(t *testing.T) {
	h := newPaperHall(t)
	visits, controls := h.paper()
	h.load(visits, controls)
	before, err := h.P.Check(h.ctx)
	h.must(err)
	again := h.load(visits, controls)
	if again.Visits != 0 || again.VisitsThere != 13 || again.Controls != 0 || again.ControlsThere != 7 {
		t.Errorf("again: %+v", again)
	}
	after, err := h.P.Check(h.ctx)
	h.must(err)
	if before.Summary != after.Summary {
		t.Errorf("the second load recorded something: %s, then %s", before.Summary, after.Summary)
	}
	for column, value := range map[string]string{"reading1_value": "113", "contact_phone": "555 0199", "explained": "9:12"} {
		line := map[string]int{"contact_phone": 1}[column]
		changed := append([]programme.ImportRow(nil), visits...)
		changed[line] = with(visits[line], column, value)
		done, err := h.P.ImportDay(h.ctx, h.As("Lea Lead"), programme.ImportDay{Event: h.Event, Visits: changed, Controls: controls})
		h.must(err)
		if len(done.Bad) != 1 || done.Bad[0].Line != visits[line].Line || done.Bad[0].Column != "form" || done.Recorded {
			t.Errorf("%s: %+v", column, done)
		}
	}
	changed := append([]programme.ImportRow(nil), controls...)
	changed[2] = with(controls[2], "value", "122")
	done, err := h.P.ImportDay(h.ctx, h.As("Lea Lead"), programme.ImportDay{Event: h.Event, Controls: changed})
	h.must(err)
	if len(done.BadControls) != 1 || done.BadControls[0].Line != controls[2].Line || done.Recorded {
		t.Errorf("control: %+v", done)
	}
}

func with(r programme.ImportRow, column, value string) programme.ImportRow {
	values := map[string]string{}
	for k, v := range r.Values {
		values[k] = v
	}
	values[column] = value
	return programme.ImportRow{Line: r.Line, Values: values}
}

// Whatever the order of the rows, the states are the same.
func TestTheOrderOfRowsDoesNotMatter(t *testing.T) {
	var want []*visit.State
	var runs []event.Run
	same := cmp.FilterPath(func(p cmp.Path) bool {
		f, ok := p.Last().(cmp.StructField)
		if !ok {
			return false
		}
		switch f.Name() {
		case "Counts", "FoundID", "Told", "Sealed": // ids of facts, and what is sealed anew
			return true
		case "ID":
			return p.Index(-2).Type().Name() == "Reading"
		case "Finding":
			return p.Index(-2).Type().Name() == "SlipIssued"
		}
		return false
	}, cmp.Ignore())
	base := newPaperHall(t)
	base.must(base.st.Close())
	for seed := range int64(6) {
		h := base.forked()
		visits, controls := h.paper()
		rnd := rand.New(rand.NewSource(seed))
		if seed > 0 {
			rnd.Shuffle(len(visits), func(i, j int) { visits[i], visits[j] = visits[j], visits[i] })
			rnd.Shuffle(len(controls), func(i, j int) { controls[i], controls[j] = controls[j], controls[i] })
		}
		h.load(visits, controls)
		d, err := h.P.Day(h.ctx, h.Event)
		h.must(err)
		if seed == 0 {
			want, runs = d.Visits, d.Event.Runs
			continue
		}
		if diff := cmp.Diff(want, d.Visits, same); diff != "" {
			t.Fatalf("seed %d: visits differ:\n%s", seed, diff)
		}
		if diff := cmp.Diff(runs, d.Event.Runs); diff != "" {
			t.Fatalf("seed %d: runs differ:\n%s", seed, diff)
		}
	}
}
