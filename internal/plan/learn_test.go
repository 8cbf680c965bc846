package plan

import (
	"math"
	"math/rand/v2"
	"testing"

	"fairstick/internal/fault"
)

func TestShrink(t *testing.T) {
	for _, x := range []struct {
		published, seen float64
		w, n, events    int
		want            float64
	}{
		{0.15, math.NaN(), 100, 0, 0, 0.15},  // nothing seen
		{0.15, 0.25, 100, 100, 1, 0.20},      // as much seen as published: the middle
		{0.15, 0.25, 100, 10_000, 1, 0.20},   // one event never outweighs
		{0.15, 0.25, 100, 50, 3, 0.55 / 3},   // (15 + 12.5)/150
		{0.15, 0.25, 100, 300, 3, 0.225},     // (15 + 75)/400
		{4, 6, 30, 90, 2, 16.0 / 3},          // 60 of the 90 count: (120 + 360)/90
		{0.04, 0, 100, 87, 1, 0.04 / 1.87},   // none seen among 87
		{0.04, 0.04, 100, 87, 5, 0.04},       // the same stays the same
		{0.15, 0.25, 100, -5, 1, 0.15},       // nothing
		{4, 8, 30, 1_000_000, 1000, 7.99614}, // after very much, what was seen: (120 + 30000 x 8)/30030 = 7.996
	} {
		if got := Shrink(x.published, x.seen, x.w, x.n, x.events); math.Abs(got-x.want) > 2e-4 {
			t.Errorf("Shrink(%v, %v, %d, %d, %d) = %v, want %v", x.published, x.seen, x.w, x.n, x.events, got, x.want)
		}
	}
}

func TestLearn(t *testing.T) {
	in := Defaults(90, Hours{540, 780})
	same, all, err := Learn(in, Record{})
	if err != nil || len(all) != 16 {
		t.Fatalf("%d values, %v", len(all), err)
	}
	for _, l := range all {
		if l.Used != l.Published || l.N != 0 {
			t.Errorf("%s became %v of %v with nothing seen", l.Key, l.Used, l.Published)
		}
	}
	if same.Funnel != in.Funnel || same.Times != in.Times || same.Profile.Name != "flat" {
		t.Error("an empty record changed the defaults")
	}
	r := Record{
		Events: 1, People: Count{Came: 100, Left: 10, NotEligible: 20, Declined: 0, Tested: 70, Repeats: 7, Errors: 140, Referred: 7}, Quarters: [4]int{40, 30, 20, 10},
		Desk: Measured{30, 180}, Test: Measured{15, 120}, Referral: Measured{3, 30}, Sticks: 100, Misfires: 6, Posted: 20, Away: 1,
	}
	out, all, err := Learn(in, r)
	if err != nil {
		t.Fatal(err)
	}
	want := map[string]float64{
		KeyLeaves: 0.07, KeyNotEligible: 0.175, KeyDeclines: 0.01, // half and half: 100 people seen
		KeyRepeats: (4 + 7) / 170.0, KeyErrors: (4 + 70) / 170.0, KeyReferred: (15 + 7) / 170.0, // 70 tested; more errors than people count as one each
		KeyDesk: 5, KeyTest: (30*6 + 15*8) / 45.0, KeyExplain: 4, KeyReferral: (30*12 + 3*10) / 33.0, KeyMisfires: 0.04, KeyNoShow: 0.10,
		KeyQuarter + "1": 0.325, KeyQuarter + "2": 0.275, KeyQuarter + "3": 0.225, KeyQuarter + "4": 0.175,
	}
	for _, l := range all {
		if math.Abs(l.Used-want[l.Key]) > 1e-12 {
			t.Errorf("%s: %v, want %v", l.Key, l.Used, want[l.Key])
		}
		if lo, hi := min(l.Published, l.Seen), max(l.Published, l.Seen); l.N > 0 && (l.Used < lo-1e-12 || l.Used > hi+1e-12) {
			t.Errorf("%s: %v lies outside %v and %v", l.Key, l.Used, lo, hi)
		}
	}
	if out.Times.Desk.CV != in.Times.Desk.CV || out.Times.Desk.Mean != 5 || in.Times.Desk.Mean != 4 || out.Store.Misfires != all[10].Used {
		t.Errorf("times %+v, misfires %v", out.Times, out.Store.Misfires)
	}
	if got := out.Profile.Between(0, 60); math.Abs(got-0.325) > 1e-12 || out.Profile.Minutes() != 240 {
		t.Errorf("%v come in the first hour of %v minutes", got, out.Profile.Minutes())
	}
	if _, err := Make(out, rand.New(rand.NewPCG(1, 0))); err != nil {
		t.Errorf("what was learned cannot be planned with: %v", err)
	}
}

// However odd the past, a plan can be made from what is learned of it.
func TestLearnStaysPossible(t *testing.T) {
	in := Defaults(20, Hours{540, 780})
	for _, r := range []Record{
		{Events: 50, People: Count{Came: 5000, Left: 5000}, Posted: 1000, Away: 1000},
		{Events: 3, People: Count{Came: 300, Tested: 300, Referred: 300, Repeats: 900, Errors: 900}, Quarters: [4]int{0, 0, 0, 300}, Sticks: 1, Misfires: 5},
	} {
		out, _, err := Learn(in, r)
		if err == nil {
			_, err = Make(out, rand.New(rand.NewPCG(1, 0)))
		}
		if err != nil {
			t.Errorf("%+v: %v", r, err)
		}
	}
	for _, r := range []Record{
		{People: Count{Came: -1}},
		{People: Count{Came: 5, Left: 6}},
		{People: Count{Came: 5, Tested: 6}},
		{Posted: 1, Away: 2},
		{Desk: Measured{1, math.NaN()}},
		{Desk: Measured{0, 3}},
		{Test: Measured{-1, 3}},
		{Quarters: [4]int{0, -1}},
		{Events: -1},
		{Explain: Measured{2, math.Inf(1)}},
	} {
		if _, _, err := Learn(in, r); !fault.Is(err, "plan-record") {
			t.Errorf("%+v: %v", r, err)
		}
	}
}
