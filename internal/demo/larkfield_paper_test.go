package demo

import (
	"bytes"
	"context"
	"testing"

	"github.com/google/go-cmp/cmp"

	"fairstick/internal/exchange"
	"fairstick/internal/programme"
)

// prepared is Larkfield at the evening of its day with everything that is no visit and no control run: the day was on paper.
func prepared(ctx context.Context, t *testing.T) *fair {
	t.Helper()
	f, _ := dawn(ctx, t)
	clock := f.Clock
	must := func(_ any, err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	must(nil, f.Build(ctx, larkfield()))
	lead := f.As("Odile Marchetti")
	clock.Set(f.Time("07:30"))
	must(f.P.MeasureRoom(ctx, lead, programme.MeasureRoom{Act: f.Act(), Event: f.Event, Celsius: "17"}))
	must(f.P.BringStock(ctx, lead, programme.BringStock{
		Act: f.Act(), Event: f.Event, Strips: map[string]int{f.ID("A"): 58, f.ID("B"): 100},
		Lancets: 100, Sharps: 4, Meters: []string{f.ID("M1"), f.ID("M2"), f.ID("M3"), f.ID("M4"), f.ID("M5")},
	}))
	must(nil, f.Roster(ctx, larkfield()))
	must(f.P.PostPerson(ctx, lead, programme.PostPerson{Act: f.Act(), Event: f.Event, Person: f.ID("Ben Achebe"), Role: "desk"}))
	must(f.P.Attend(ctx, lead, programme.Attend{Act: f.Act(), Event: f.Event, Person: f.ID("Ben Achebe"), Here: true}))
	clock.Set(f.Time("07:56"))
	for _, level := range []string{"1", "2"} {
		must(f.P.OpenBottle(ctx, f.As("Lena Fischer"), programme.OpenBottle{Act: f.Act(), ControlLot: f.ID("control " + level), Bottle: "new"}))
	}
	must(nil, f.CheckAll(ctx, "Odile Marchetti"))
	clock.Set(f.Time("08:52"))
	must(f.P.Override(ctx, lead, programme.Override{
		Act: f.Act(), Event: f.Event, Gate: "ratio", Reason: "Three supervisors for seven posts; all within sight", Sign: f.Sign("Odile Marchetti"),
	}))
	clock.Set(f.Time("11:20"))
	must(f.P.OpenVial(ctx, f.As("Lena Fischer"), programme.OpenVial{Act: f.Act(), StripLot: f.ID("B"), Vial: "B1"}))
	clock.Set(f.Time("16:12"))
	return f
}

// The Larkfield day once more, on paper: its 84 visits and 19 control runs as the two files of a day, loaded into a record that has
// neither. Every sum of the day comes out again.
func TestLarkfieldOnPaper(t *testing.T) {
	ctx := context.Background()
	live, _ := larkfieldDay(t)
	want, err := live.P.Report(ctx, live.Event)
	if err != nil {
		t.Fatal(err)
	}
	out, err := live.P.DayRows(ctx, programme.Actor{}, programme.HandOut{Reach: programme.Reach{Event: live.Event}, Names: true})
	if err != nil || len(out.Skipped) != 0 {
		t.Fatalf("%v, left out: %v", err, out.Skipped)
	}
	read := func(file string, rows []map[string]string) []programme.ImportRow {
		t.Helper()
		var buf bytes.Buffer
		if err := exchange.WriteDay(&buf, file, rows); err != nil {
			t.Fatal(err)
		}
		d, err := exchange.ReadDay(file, &buf)
		if err != nil || len(d.Bad) != 0 {
			t.Fatalf("%s: %v %v", file, d.Bad, err)
		}
		return d.Rows
	}
	visits, controls := read(exchange.DayVisits, out.Visits), read(exchange.DayControls, out.Controls)

	f := prepared(ctx, t)
	load := func(add bool) programme.ImportedDay {
		t.Helper()
		c := programme.ImportDay{Event: f.Event, Visits: visits, Controls: controls, Opened: "8:55 am"}
		if add {
			c.Act = f.Act()
		}
		done, err := f.P.ImportDay(ctx, f.As("Odile Marchetti"), c)
		if err != nil {
			t.Fatal(err)
		}
		for _, b := range append(done.Bad, done.BadControls...) {
			t.Errorf("line %d, %s: %s", b.Line, b.Column, b.Sentence)
		}
		return done
	}
	if done := load(true); done.Visits != 84 || done.Controls != 19 || !done.Recorded {
		t.Fatalf("loaded %d visits and %d runs, recorded %v; want 84 and 19", done.Visits, done.Controls, done.Recorded)
	}
	if again := load(true); again.Visits != 0 || again.VisitsThere != 84 || again.ControlsThere != 19 {
		t.Errorf("again: %+v", again)
	}
	got, err := f.P.Report(ctx, f.Event)
	if err != nil {
		t.Fatal(err)
	}
	same := func(what string, got, want any) {
		t.Helper()
		if d := cmp.Diff(want, got); d != "" {
			t.Errorf("%s (-live +paper):\n%s", what, d)
		}
	}
	same("outcomes", got.Outcomes, want.Outcomes)
	same("bands", got.Bands, want.Bands)
	same("referrals", got.Referrals, want.Referrals)
	same("readings", got.Readings, want.Readings)
	same("controls", got.ControlSum, want.ControlSum)
	same("arrivals", got.Arrivals, want.Arrivals)
	same("last left", got.LastLeft, want.LastLeft)
	same("strips and lancets", []int{got.Strips[0].Readings + got.Strips[0].Controls, got.Strips[1].Readings + got.Strips[1].Errors + got.Strips[1].Controls, got.Lancets["sticks"] + got.Lancets["misfires"]}, []int{58, 40, 79})
	same("numbers", []any{got.Outcomes.Tested, got.Referrals.N, got.Referrals.Percent(), got.Bands["all"]["critical-high"]}, []any{68, 16, "23.5 %", 1})
}
