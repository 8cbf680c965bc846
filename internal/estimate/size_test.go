package estimate

import (
	"math"
	"math/rand/v2"
	"testing"
)

// 385 is the size of every textbook for 5 points around a half at 95 % (1.96² 0.25/0.05² = 384.16). The size by Wilson is
// checked by the interval itself.
func TestSizeForShare(t *testing.T) {
	if n, err := SizeForShareWald(0.5, 0.05, 0.95); err != nil || n != 385 {
		t.Errorf("%d, %v; want 385", n, err)
	}
	if n, err := SizeForShareWald(0, 0.05, 0.95); err != nil || n != 1 {
		t.Errorf("%d, %v; want 1", n, err)
	}
	half := func(x, n int) float64 {
		i, err := Wilson(x, n, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		return (i.High - i.Low) / 2
	}
	// Whole counts: half of 382 and 380; a twentieth of 400.
	n, err := SizeForShare(0.5, 0.05, 0.95)
	if err != nil || n != 381 || half(191, 382) > 0.05 || half(190, 380) <= 0.05 {
		t.Errorf("%d, %v; the halves are %v and %v", n, err, half(191, 382), half(190, 380))
	}
	if n, err := SizeForShare(0.05, half(20, 400)*(1+1e-12), 0.95); err != nil || n != 400 {
		t.Errorf("%d, %v; want 400", n, err)
	}
	// With nobody of n the width is z²/(n+z²): 0.05 at each side needs n = z²(1/0.1 - 1) = 34.57.
	if n, err := SizeForShare(0, 0.05, 0.95); err != nil || n != 35 {
		t.Errorf("%d, %v; want 35", n, err)
	}
	for _, bad := range [][3]float64{{-0.1, 0.05, 0.95}, {1.1, 0.05, 0.95}, {0.5, 0, 0.95}, {0.5, 0.5, 0.95}, {0.5, 0.05, 1}, {0.5, 1e-6, 0.95}, {math.NaN(), 0.05, 0.95}, {0.5, math.NaN(), 0.95}} {
		if n, err := SizeForShare(bad[0], bad[1], bad[2]); err == nil {
			t.Errorf("SizeForShare(%v) = %d", bad, n)
		}
		if n, err := SizeForShareWald(bad[0], bad[1], bad[2]); err == nil {
			t.Errorf("SizeForShareWald(%v) = %d", bad, n)
		}
	}
}

// 50 % against 75 % with a power of 90 % needs 76.7 in each group: the example on the help page of R's power.prop.test (from
// memory, and by the formula).
func TestSizeForShares(t *testing.T) {
	if n, err := SizeForShares(0.5, 0.75, 0.05, 0.9); err != nil || n != 77 {
		t.Errorf("%d, %v; want 77", n, err)
	}
	if n, err := SizeForShares(0.75, 0.5, 0.05, 0.9); err != nil || n != 77 {
		t.Errorf("the other way round: %d, %v", n, err)
	}
	for _, bad := range [][4]float64{{0.5, 0.5, 0.05, 0.9}, {-1, 0.5, 0.05, 0.9}, {0.5, 2, 0.05, 0.9}, {0.5, 0.6, 0, 0.9}, {0.5, 0.6, 0.05, 1}, {0.5, 0.6, 0.05, 0.02}, {0.5, 0.5000001, 0.05, 0.9}, {math.NaN(), 0.5, 0.05, 0.9}} {
		if n, err := SizeForShares(bad[0], bad[1], bad[2], bad[3]); err == nil {
			t.Errorf("SizeForShares(%v) = %d", bad, n)
		}
	}
}

// From memory: a mean difference of half an SD needs 34 pairs for a power of 80 % (R, power.t.test of one sample: n = 33.37),
// and 54 for 95 %, with a power of 0.9502120 then (the manual of a common power program). 0.05 without a bias is by definition.
func TestSizeForBias(t *testing.T) {
	if n, err := SizeForBias(0.5, 1, 0.05, 0.8); err != nil || n != 34 {
		t.Errorf("%d, %v; want 34", n, err)
	}
	if n, err := SizeForBias(-5, 10, 0.05, 0.95); err != nil || n != 54 {
		t.Errorf("%d, %v; want 54", n, err)
	}
	if p, err := BiasPower(54, 0.5, 1, 0.05); err != nil || math.Abs(p-0.9502120) > 1e-7 {
		t.Errorf("%.9f, %v; want 0.9502120", p, err)
	}
	for _, n := range []int{2, 3, 4, 10, 50, 1000, 1_000_000} {
		for _, alpha := range []float64{0.01, 0.05, 0.5} {
			if p, err := BiasPower(n, 0, 3, alpha); err != nil || math.Abs(p-alpha) > 1e-6 {
				t.Errorf("without a bias %d pairs find one in %v of tests at %v (%v)", n, p, alpha, err)
			}
		}
	}
	if p, err := BiasPower(5, 1e6, 1, 0.05); err != nil || math.Abs(p-1) > 1e-9 {
		t.Errorf("an immense bias is found with %v, %v", p, err)
	}
	for _, bad := range [][4]float64{{0, 1, 0.05, 0.8}, {1, 0, 0.05, 0.8}, {1, -1, 0.05, 0.8}, {math.NaN(), 1, 0.05, 0.8}, {math.Inf(1), 1, 0.05, 0.8}, {1, math.Inf(1), 0.05, 0.8}, {1, 1, 0, 0.8}, {1, 1, 0.05, 0}, {1e-9, 1, 0.05, 0.8}} {
		if n, err := SizeForBias(bad[0], bad[1], bad[2], bad[3]); err == nil {
			t.Errorf("SizeForBias(%v) = %d", bad, n)
		}
	}
	if _, err := BiasPower(1, 1, 1, 0.05); err == nil {
		t.Error("one pair was accepted")
	}
	if _, err := BiasPower(5, 1, 1, 2); err == nil {
		t.Error("an alpha of 2 was accepted")
	}
}

// The power is the share of drawn samples whose t test passes, within Monte-Carlo error. The limit 2.262157 of t at 9 degrees
// is in any table.
func TestBiasPowerByDrawing(t *testing.T) {
	src := rand.New(rand.NewPCG(7, 8))
	const n, draws, bias = 10, 40000, 0.8
	found := 0
	for range draws {
		var sum, squares float64
		for range n {
			d := bias + src.NormFloat64()
			sum += d
			squares += d * d
		}
		sd := math.Sqrt((squares - sum*sum/n) / (n - 1))
		if math.Abs(sum/n)/(sd/math.Sqrt(n)) > 2.262157 {
			found++
		}
	}
	want, err := BiasPower(n, bias, 1, 0.05)
	if err != nil {
		t.Fatal(err)
	}
	if got := float64(found) / draws; math.Abs(got-want) > 4*math.Sqrt(want*(1-want)/draws) {
		t.Errorf("%v were found, want %v", got, want)
	}
}

// 59 without one outside show 95 % (0.95^58 = 0.0510, 0.95^59 = 0.0485), 93 with at most one outside and 29 show 90 %: any
// table of success runs, and by hand.
func TestSizeForCriterion(t *testing.T) {
	for _, c := range []struct {
		need, truth, power float64
		n, most            int
	}{
		{0.95, 1, 0.8, 59, 0},
		{0.90, 1, 0.8, 29, 0},
		{0.95, 0.9999, 0.99, 59, 0},
		{0.95, 0.9985, 0.95, 93, 1},
	} {
		s, err := SizeForCriterion(c.need, c.truth, 0.05, c.power)
		if err != nil || s.N != c.n || s.MostOutside != c.most {
			t.Errorf("%+v: %+v, %v", c, s, err)
		}
	}
	// The least sample by its own definition: the exact lower limit reaches what is needed with MostOutside, not with one more.
	s, err := SizeForCriterion(0.95, 0.99, 0.05, 0.8)
	if err != nil || s.Power < 0.8 {
		t.Fatalf("%+v, %v", s, err)
	}
	low := func(outside int) float64 {
		i, err := ClopperPearson(s.N-outside, s.N, 0.9)
		if err != nil {
			t.Fatal(err)
		}
		return i.Low
	}
	if low(s.MostOutside) < 0.95 || low(s.MostOutside+1) >= 0.95 {
		t.Errorf("%+v: the lower limits are %v and %v", s, low(s.MostOutside), low(s.MostOutside+1))
	}
	for n := 1; n < s.N; n++ {
		p, err := ShowPower(n, 0.95, 0.99, 0.05)
		if err != nil || p.Power >= 0.8 {
			t.Errorf("%d pairs would do: %+v, %v", n, p, err)
		}
	}
	if p, err := ShowPower(s.N, 0.95, 0.99, 0.05); err != nil || p != s {
		t.Errorf("%+v is not %+v", p, s)
	}
	if p, err := ShowPower(58, 0.95, 0.99, 0.05); err != nil || p.MostOutside != -1 || p.Power != 0 {
		t.Errorf("58 pairs show %+v", p)
	}
	for _, bad := range [][4]float64{{0.95, 0.95, 0.05, 0.8}, {0, 0.95, 0.05, 0.8}, {0.95, 1.01, 0.05, 0.8}, {0.95, 0.99, 0, 0.8}, {0.95, 0.99, 0.05, 1}, {0.95, 0.95001, 0.05, 0.8}, {math.NaN(), 0.99, 0.05, 0.8}} {
		if s, err := SizeForCriterion(bad[0], bad[1], bad[2], bad[3]); err == nil {
			t.Errorf("SizeForCriterion(%v) = %+v", bad, s)
		}
	}
	for _, n := range []int{0, MostPairs + 1} {
		if _, err := ShowPower(n, 0.95, 0.99, 0.05); err == nil {
			t.Errorf("%d pairs were accepted", n)
		}
		if _, err := PassChance(n, 95, 0.99); err == nil {
			t.Errorf("%d pairs were accepted", n)
		}
	}
	if _, err := ShowPower(10, 0.99, 0.95, 0.05); err == nil {
		t.Error("a truth below the need was accepted")
	}
}

// By hand: of 20 pairs 19 pass 95 %, so at most one outside: 0.9^20 + 20 0.1 0.9^19 = 0.391747; of 10 all must be inside.
func TestPassChance(t *testing.T) {
	for _, c := range []struct {
		n, percent  int
		truth, want float64
	}{{20, 95, 0.9, 0.391747}, {10, 95, 0.9, 0.348678}, {10, 100, 1, 1}, {10, 95, 0, 0}, {100, 95, 1, 1}} {
		if got, err := PassChance(c.n, c.percent, c.truth); err != nil || math.Abs(got-c.want) > 5e-7 {
			t.Errorf("%+v: %v, %v", c, got, err)
		}
	}
	for _, p := range []int{0, 101} {
		if _, err := PassChance(10, p, 0.9); err == nil {
			t.Errorf("%d percent were accepted", p)
		}
	}
	if _, err := PassChance(10, 95, math.NaN()); err == nil {
		t.Error("NaN was accepted")
	}
}
