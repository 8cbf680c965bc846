package estimate

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"
)

func TestDigitsAgainstKnown(t *testing.T) {
	for _, name := range []string{"terminal_digit_even_preference", "terminal_digit_uniform", "terminal_digit_zero_five_heaping"} {
		var ref struct {
			Inputs struct {
				Counts LastDigits `json:"counts_digit_0_to_9"`
			}
			Expected struct {
				Chi2      float64
				DF        int
				P         float64
				PerDigit  float64 `json:"expected_per_digit"`
				ZeroFive  float64 `json:"share_0_or_5"`
				ShareEven float64 `json:"share_even"`
			}
		}
		load(t, name, &ref)
		e, err := ref.Inputs.Counts.Evenness()
		if err != nil {
			t.Fatal(err)
		}
		w := ref.Expected
		if !near(e.ChiSquare, w.Chi2, 1e-9) || e.DF != w.DF || math.Abs(e.P-w.P) > 1e-9*w.P || e.Expected != w.PerDigit || e.Few {
			t.Errorf("%s: %+v, want %+v", name, e, w)
		}
		zero, err := ref.Inputs.Counts.ZeroOrFive()
		if err != nil || !near(zero.Share, w.ZeroFive, 1e-12) || !near(zero.Expected, 2*w.PerDigit, 1e-12) {
			t.Errorf("%s: %+v, %v; want %v", name, zero, err, w.ZeroFive)
		}
		even, err := ref.Inputs.Counts.Even()
		if err != nil || !near(even.Share, w.ShareEven, 1e-12) || !near(even.Expected, 5*w.PerDigit, 1e-12) {
			t.Errorf("%s: %+v, %v; want %v", name, even, err, w.ShareEven)
		}
	}
}

// By hand: of 10 with 1/2, as unlikely as 8 are 0, 1, 2, 8, 9, 10: 112/1024. Of 5 with 1/5 the terms are 1024, 1280, 640, 160,
// 20, 1 of 3125: as unlikely as 3 are 3, 4 and 5; as 0 are all but 1.
func TestBinomialTwoSided(t *testing.T) {
	for _, c := range []struct {
		k, n    int
		p, want float64
	}{
		{8, 10, 0.5, 112.0 / 1024},
		{2, 10, 0.5, 112.0 / 1024},
		{5, 10, 0.5, 1},
		{3, 5, 0.2, 181.0 / 3125},
		{0, 5, 0.2, 1845.0 / 3125},
		{1, 5, 0.2, 1},
		{0, 0, 0.2, 1},
		{0, 5, 0, 1},
		{1, 5, 0, 0},
		{5, 5, 1, 1},
		{4, 5, 1, 0},
		{0, 0, 1, 1},
	} {
		if got, err := BinomialTwoSided(c.k, c.n, c.p); err != nil || math.Abs(got-c.want) > 1e-12 {
			t.Errorf("%+v: %v, %v", c, got, err)
		}
	}
	for _, c := range []struct {
		k, n int
		p    float64
	}{{-1, 5, 0.5}, {6, 5, 0.5}, {0, -1, 0.5}, {1, 5, 1.5}, {1, 5, math.NaN()}} {
		if got, err := BinomialTwoSided(c.k, c.n, c.p); err == nil {
			t.Errorf("%+v: %v", c, got)
		}
	}
}

func TestDigitsRefuse(t *testing.T) {
	for _, d := range []LastDigits{{}, {5, -1}} {
		if _, err := d.Evenness(); err == nil {
			t.Errorf("%v: evenness", d)
		}
		if _, err := d.ZeroOrFive(); err == nil {
			t.Errorf("%v: zeros and fives", d)
		}
		if _, err := d.Even(); err == nil {
			t.Errorf("%v: even", d)
		}
		if _, err := CheckDigits([]Screener{{"A", d}}, 0.05, HolmCorrection); err == nil {
			t.Errorf("%v: the check", d)
		}
	}
	good := []Screener{{"A", LastDigits{1}}}
	if _, err := CheckDigits(nil, 0.05, HolmCorrection); err == nil {
		t.Error("nobody was accepted")
	}
	if _, err := CheckDigits(good, 5, HolmCorrection); err == nil {
		t.Error("an alpha of 5 was accepted")
	}
	if _, err := CheckDigits(good, 0.05, "none"); err == nil {
		t.Error("an unknown correction was accepted")
	}
}

// 49 readings expect 4.9 for each digit, 50 expect 5.
func TestFewReadingsAreSaid(t *testing.T) {
	few, err := LastDigits{5, 5, 5, 5, 5, 5, 5, 5, 5, 4}.Evenness()
	if err != nil || !few.Few {
		t.Errorf("49 readings: %+v, %v", few, err)
	}
	enough, err := LastDigits{5, 5, 5, 5, 5, 5, 5, 5, 5, 5}.Evenness()
	if err != nil || enough.Few || enough.P != 1 {
		t.Errorf("50 readings: %+v, %v", enough, err)
	}
}

// By hand from the definitions.
func TestCorrections(t *testing.T) {
	p := []float64{0.03, 0.01, 0.05, 0.02, 0.04}
	holm, err := Holm(p)
	if err != nil {
		t.Fatal(err)
	}
	bh, err := BenjaminiHochberg(p)
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []float64{0.09, 0.05, 0.09, 0.08, 0.09} {
		if !near(holm[i], want, 1e-15) || !near(bh[i], 0.05, 1e-15) {
			t.Errorf("%v: holm %v, bh %v", p[i], holm[i], bh[i])
		}
	}
	if bh, err := BenjaminiHochberg([]float64{0.001, 0.9, 0.02}); err != nil || !near(bh[0], 0.003, 1e-15) || !near(bh[1], 0.9, 1e-15) || !near(bh[2], 0.03, 1e-15) {
		t.Errorf("%v, %v", bh, err)
	}
	if holm, err := Holm([]float64{0.6, 0.7}); err != nil || holm[0] != 1 || holm[1] != 1 {
		t.Errorf("%v, %v", holm, err)
	}
	if p[0] != 0.03 || p[4] != 0.04 {
		t.Errorf("the arguments were changed: %v", p)
	}
	for _, bad := range [][]float64{{1.1}, {-0.1}, {math.NaN()}} {
		if _, err := Holm(bad); err == nil {
			t.Errorf("Holm(%v) was accepted", bad)
		}
		if _, err := BenjaminiHochberg(bad); err == nil {
			t.Errorf("BenjaminiHochberg(%v) was accepted", bad)
		}
	}
}

func TestCorrectionsHold(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := rapid.SliceOfN(rapid.Float64Range(0, 1), 0, 30).Draw(t, "p")
		holm, err := Holm(p)
		if err != nil {
			t.Fatal(err)
		}
		bh, err := BenjaminiHochberg(p)
		if err != nil {
			t.Fatal(err)
		}
		for i := range p {
			if holm[i] < bh[i]-1e-15 || bh[i] < p[i]-1e-15 || holm[i] > 1 {
				t.Fatalf("%v became %v by Holm and %v by Benjamini and Hochberg", p[i], holm[i], bh[i])
			}
			for j := range p {
				if p[i] < p[j] && (holm[i] > holm[j] || bh[i] > bh[j]) {
					t.Fatalf("the order of %v and %v was turned", p[i], p[j])
				}
			}
		}
	})
}

// A screener who rounds is found among nine who do not, and few readings are told apart from many.
func TestCheckDigits(t *testing.T) {
	src := rand.New(rand.NewPCG(9, 10))
	var screeners []Screener
	for i := range 9 {
		screeners = append(screeners, Screener{fmt.Sprintf("Screener %d", i), honest(src, 60)})
	}
	screeners = append(screeners, Screener{"Rounder", LastDigits{20, 2, 3, 2, 3, 15, 2, 3, 2, 8}}, Screener{"Newcomer", LastDigits{2, 1, 0, 1}})
	for _, c := range []Correction{HolmCorrection, BHCorrection} {
		got, err := CheckDigits(screeners, 0.05, c)
		if err != nil || len(got) != len(screeners) {
			t.Fatalf("%d, %v", len(got), err)
		}
		for i, d := range got {
			if d.Name != screeners[i].Name || d.N != screeners[i].Digits.N() || d.Alarm != (d.Name == "Rounder") {
				t.Errorf("%s: %+v", c, d)
			}
			if (d.EvennessP == nil) != (d.Name == "Newcomer") {
				t.Errorf("%s: %s of %d readings has the evenness %v", c, d.Name, d.N, d.EvennessP)
			}
		}
	}
}

// Among 20 honest screeners one false alarm or more comes in at most 5 % of days, within Monte-Carlo error.
func TestFalseAlarmsAcrossScreeners(t *testing.T) {
	src := rand.New(rand.NewPCG(11, 12))
	const days = 1500
	alarms := 0
	for range days {
		screeners := make([]Screener, 20)
		for i := range screeners {
			screeners[i].Digits = honest(src, 20+src.IntN(80))
		}
		got, err := CheckDigits(screeners, 0.05, HolmCorrection)
		if err != nil {
			t.Fatal(err)
		}
		for _, d := range got {
			if d.Alarm {
				alarms++
				break
			}
		}
	}
	if share := float64(alarms) / days; share > 0.05+3*math.Sqrt(0.05*0.95/days) || share == 0 {
		t.Errorf("%v of the days had a false alarm", share)
	}
}

func honest(src *rand.Rand, n int) LastDigits {
	var d LastDigits
	for range n {
		d[src.IntN(10)]++
	}
	return d
}
