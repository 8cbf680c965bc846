package estimate

import (
	_ "embed"
	"encoding/json"
	"math"
	"testing"
)

//go:embed testdata/own_scipy.json
var scipyAnswers []byte

// Computed by scipy (testdata/regenerate.py says how); agreement to 1e-9 relative.
func TestAgainstScipy(t *testing.T) {
	var want struct {
		Exact    [][5]float64
		TwoSided [][5]float64 `json:"two_sided"`
		Evenness []struct {
			Digits    LastDigits
			ChiSquare float64 `json:"chi_square"`
			P         float64
		}
		Chance [][5]float64
	}
	if err := json.Unmarshal(scipyAnswers, &want); err != nil {
		t.Fatal(err)
	}
	near := func(what string, got, want float64) {
		t.Helper()
		if math.Abs(got-want) > 1e-9*math.Max(1e-3, math.Abs(want)) {
			t.Errorf("%s: %.15g, want %.15g", what, got, want)
		}
	}
	for _, w := range want.Exact {
		i, err := ClopperPearson(int(w[0]), int(w[1]), w[2])
		if err != nil {
			t.Fatal(err)
		}
		near("exact low", i.Low, w[3])
		near("exact high", i.High, w[4])
	}
	for _, w := range want.TwoSided {
		two, err := BinomialTwoSided(int(w[0]), int(w[1]), w[2])
		if err != nil {
			t.Fatal(err)
		}
		more, err := BinomialTail(int(w[0]), int(w[1]), w[2])
		if err != nil {
			t.Fatal(err)
		}
		near("two-sided", two, w[3])
		near("as many or more", more, w[4])
	}
	for _, w := range want.Evenness {
		e, err := w.Digits.Evenness()
		if err != nil {
			t.Fatal(err)
		}
		near("chi-square", e.ChiSquare, w.ChiSquare)
		near("its p", e.P, w.P)
	}
	for _, w := range want.Chance {
		for i, s := range []Spread{SDAtReading, SDAtLimit} {
			p, err := ChanceAbove(w[0], w[1], w[2], s)
			if err != nil {
				t.Fatal(err)
			}
			near("chance "+string(s), p, w[3+i])
		}
	}
	if len(want.Exact) != 21 || len(want.TwoSided) != 6 || len(want.Evenness) != 2 || len(want.Chance) != 4 {
		t.Errorf("the file holds %d, %d, %d, %d cases", len(want.Exact), len(want.TwoSided), len(want.Evenness), len(want.Chance))
	}
}
