package web

import (
	"fmt"
	"math/rand/v2"
	"net/http"
	"strings"
	"testing"
	"time"

	"fairstick/internal/civil"
	"fairstick/internal/demo"
	"fairstick/internal/programme"
)

// controlled is an office with four meters and the controls of several fairs, each put by a test.
type controlled struct{ *office }

func newControlled(t testing.TB) controlled {
	t.Helper()
	o := controlled{newOffice(t)}
	set := officeSetting()
	set.Meters = []demo.Meter{{Label: "M1", Serial: "T-1", Coding: "none"}, {Label: "M2", Serial: "T-2", Coding: "none"}, {Label: "M3", Serial: "T-3", Coding: "none"}, {Label: "M4", Serial: "T-4", Coding: "none"}}
	set.Lots = append(set.Lots, demo.Lot{
		Lot: "B", Code: "23", Expiry: "2026-12", InUse: "90", Chemistry: "gdh-fad", Level1: [2]string{"98", "146"}, Level2: [2]string{"255", "344"},
		Vials: []demo.Opened{{Name: "B1", On: "2026-06-01"}},
	})
	set.Controls[1].Bottles = []demo.Opened{{Name: "c2", On: "2026-06-01"}}
	if err := o.Build(t.Context(), set); err != nil {
		t.Fatal(err)
	}
	return o
}

func (o controlled) must(err error) {
	o.t.Helper()
	if err != nil {
		o.t.Fatal(err)
	}
}

// fair plans a fair, brings all meters to it and stands at 08:00 of its day.
func (o controlled) fair(date string) {
	o.t.Helper()
	ctx, lead := o.t.Context(), o.As("Lea Lead")
	plan := officeSetting().Plan
	plan.Act, plan.Name, plan.Date = o.Act(), "Fair of "+civil.MustParse(date).Long(), date
	ev, err := o.P.PlanEvent(ctx, lead, plan)
	o.must(err)
	o.Event, o.Date = ev.ID, civil.MustParse(date)
	o.Clock.Set(o.Time("08:00"))
	_, err = o.P.BringStock(ctx, lead, programme.BringStock{
		Act: o.Act(), Event: o.Event, Strips: map[string]int{o.ID("A"): 50, o.ID("B"): 50}, Meters: []string{o.ID("M1"), o.ID("M2"), o.ID("M3"), o.ID("M4")},
	})
	o.must(err)
	_, err = o.P.MeasureRoom(ctx, lead, programme.MeasureRoom{Act: o.Act(), Event: o.Event, Celsius: "21"})
	o.must(err)
}

// runs tests both levels of a meter one after another, ten minutes apart.
func (o controlled) runs(meter, lot string, sessions ...[2]string) {
	o.t.Helper()
	for _, s := range sessions {
		levels := map[string]string{"1": s[0], "2": s[1]}
		for level, shown := range levels {
			if shown == "" {
				delete(levels, level)
			}
		}
		o.must(o.RunControls(o.t.Context(), "Ann Screener", meter, lot, lot+"1", levels))
		o.Clock.Set(o.Clock.Now().Add(10 * time.Minute))
	}
}

func (o controlled) void(meter, cause string) {
	o.t.Helper()
	_, err := o.P.VoidMeter(o.t.Context(), o.As("Ann Screener"), programme.VoidMeter{Act: o.Act(), Event: o.Event, Meter: o.ID(meter), Cause: cause})
	o.must(err)
	o.Clock.Set(o.Clock.Now().Add(time.Minute))
}

// cause explains the newest control of a meter.
func (o controlled) cause(meter, cause, action string) {
	o.t.Helper()
	q, err := o.P.MeterQuality(o.t.Context(), o.ID(meter))
	o.must(err)
	_, err = o.P.AssignCause(o.t.Context(), o.As("Lea Lead"), programme.AssignCause{Act: o.Act(), Event: o.Event, Run: q.Runs[len(q.Runs)-1].ID, Cause: cause, Action: action})
	o.must(err)
}

// season is ten fairs. M1 meets everything: it is dropped, misses once with a cause, changes its lot, and drifts upwards at the
// last fair. M2 stays quiet. M3 is taken out. M4 is never used.
func season(t testing.TB) controlled {
	t.Helper()
	o := newControlled(t)
	r := rand.New(rand.NewPCG(5, 24))
	near := func(centre, sd float64) string {
		return fmt.Sprintf("%.0f", centre+min(1.4, max(-1.4, r.NormFloat64()))*sd)
	}
	lot, c1, c2 := "A", 119.0, 293.0
	for i := range 10 {
		o.fair(civil.MustParse("2026-06-06").AddDays(7 * i).String())
		switch i {
		case 2:
			o.void("M1", "dropped")
		case 3:
			o.runs("M1", lot, [2]string{"151", ""})
			o.cause("M1", "the drop was too small", "repeated with a new strip")
			o.void("M1", "battery-changed")
		case 5:
			lot, c1, c2 = "B", 123, 302
		case 9:
			o.runs("M1", lot, [2]string{"136", "327"}, [2]string{"137", "325"})
			continue
		}
		for range 2 {
			o.runs("M1", lot, [2]string{near(c1, 6), near(c2, 11)})
		}
		if quiet, ok := map[int][2]string{0: {"118", "300"}, 3: {"122", "290"}, 6: {"121", "301"}}[i]; ok {
			o.runs("M2", lot, quiet)
		}
		if i == 6 {
			o.runs("M3", lot, [2]string{near(c1, 5), near(c2, 9)}, [2]string{"", "HI"})
			_, err := o.P.QuarantineMeter(t.Context(), o.As("Lea Lead"), programme.QuarantineMeter{Act: o.Act(), Event: o.Event, Meter: o.ID("M3"), Reason: "shows HI with both bottles"})
			o.must(err)
		}
	}
	return o
}

func TestQualityPages(t *testing.T) {
	o := season(t)
	a := o.get("Lea Lead", "/quality")
	o.want(a, http.StatusOK, "1 of 4 meters in control. Look at M1 before the next fair. In quarantine: M3. No control yet: M4.", "4 meters by control history", "4-1s (1 run)",
		"40 of 41 controls in range, 1 out of range, with the cause written; 4-1s broken on 8 Aug 2026 at levels 1 and 2: look at it before the next fair.", "Comparisons with a laboratory")

	a = o.get("Lea Lead", "/quality/meters/"+o.ID("M1"))
	o.want(a, http.StatusOK, "Can meter M1 be trusted?", "4-1s broken on 8 Aug 2026 at levels 1 and 2", "out of range", "lot B", "dropped", "battery changed", "repeated with a new strip",
		"The centre of the printed range is taken as the mean", "1-3s, 2-2s, R-4s, 4-1s, 8x reject", "41 controls", "Next lot of strips", "Controls void: dropped", "four in a row beyond the same 1 SD B level 1: 136, 137; level 2: 327, 325 look at it", "Fair of 8 Aug 2026", "!style=")
	if n := strings.Count(a.body, `<svg xmlns="http://www.w3.org/2000/svg"`); n != 2 {
		t.Errorf("%d pictures, want one for a phone and one for a page", n)
	}
	for _, who := range []string{"Ann Screener", "Dot Counsellor"} {
		for _, path := range []string{"/quality", "/quality/meters/" + o.ID("M1"), "/quality/meters/" + o.ID("M1") + "/report.pdf"} {
			o.want(o.get(who, path), http.StatusForbidden)
		}
	}
	o.want(o.get("Sue Supervisor", "/quality"), http.StatusOK, "Look at M1")
	// Lot A, by hand: 118 and 122 have the mean 120 and the SD 2.83; 300 and 290 have 295 and 7.07; the centres are 120 and 296.
	o.want(o.get("Lea Lead", "/quality/meters/"+o.ID("M2")), http.StatusOK, "All 6 controls in range; no rule broken.", "A 1 2 120.0 2.8 2.4 % 96 to 144 0.0 0.0 % 0 the range",
		"A 2 2 295.0 7.1 2.4 % 252 to 340 −1.0 −0.3 % 0 the range", "B 1 1 121.0 - - 98 to 146 −1.0 −0.8 % 0 the range", "1 2.4 % 2 1 1 a first guess",
		"lot A, vial A1 1 118 96 to 144 −0.17 In range - Ann Screener")
	o.want(o.get("Lea Lead", "/quality/meters/"+o.ID("M4")), http.StatusOK, "No control has been run on this meter.", "!<svg xmlns")
	o.want(o.get("Lea Lead", "/quality/meters/"+o.ID("M3")), http.StatusOK, "In quarantine: shows HI with both bottles.", "2 HI 255 to 344 - No value not written", "Put in quarantine", "not written")
	o.want(o.get("Lea Lead", "/quality/meters/nothing"), http.StatusNotFound, "There is no such meter in the record.")
	for _, m := range []string{"M1", "M3", "M4"} {
		for _, size := range []string{"", "?size=a4"} {
			a := o.get("Lea Lead", "/quality/meters/"+o.ID(m)+"/report.pdf"+size)
			if a.status != http.StatusOK || !strings.HasPrefix(a.body, "%PDF-") || strings.Contains(a.body, "/Subtype /Image") != (m != "M4") {
				t.Errorf("%s on paper%s: %d", m, size, a.status)
			}
		}
	}
	o.want(o.get("Lea Lead", "/setup"), http.StatusOK, `href="/quality"`)
	o.want(o.get("Lea Lead", "/events/"+o.Event+"/controls"), http.StatusOK, `href="/quality"`)
	o.want(o.get("Ann Screener", "/events/"+o.Event+"/controls"), http.StatusOK, `!href="/quality"`)
	o.want(o.get("Lea Lead", "/events/"+o.Event+"/controls/meters/"+o.ID("M1")), http.StatusOK, `href="/quality/meters/`+o.ID("M1"))
	o.want(o.get("Lea Lead", "/meters/"+o.ID("M1")), http.StatusOK, `href="/quality/meters/`+o.ID("M1"))
}

func TestQualityWithoutAnyMeter(t *testing.T) {
	o := founded(t)
	o.want(o.get("Lea Lead", "/quality"), http.StatusOK, "No meter is on the list yet.")
}
