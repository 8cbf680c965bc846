package control

import (
	"encoding/json"
	"fmt"
	"math"
	"strconv"
	"testing"

	"pgregory.net/rapid"

	"fairstick/internal/fault"
)

// printed reports whether a number agrees with the printed one to one unit of its last digit: two cells of the published table (84.1 and
// 48.2) stand that far from 84.006 and 48.294, which two programs give.
func printed(got float64, want string) bool {
	decimals := 0
	for i := range want {
		if want[i] == '.' {
			decimals = len(want) - i - 1
		}
	}
	w, err := strconv.ParseFloat(want, 64)
	return err == nil && math.Abs(got-w) <= 1.0000001*math.Pow(10, -float64(decimals))
}

// Lucas and Saccucci, Technometrics 1990;32:1-12; every cell confirmed with the R package spc (see the file).
func TestEWMARunLengthPublished(t *testing.T) {
	var f struct {
		Inputs struct {
			Lambda []float64 `json:"lambda_"`
			L      []float64
			Shift  []float64 `json:"shift_in_sd"`
		}
		Expected struct {
			Published [][]json.Number
			Computed  [][]float64
		}
	}
	known(t, "arl_ewma_f", &f)
	for i, shift := range f.Inputs.Shift {
		for j, lambda := range f.Inputs.Lambda {
			got := must[float64](t)(EWMAChart{Lambda: lambda, L: f.Inputs.L[j]}.ARL(shift))
			near(t, fmt.Sprintf("ARL of lambda %v at %v", lambda, shift), got, f.Expected.Computed[i][j], 1e-8)
			if p := f.Expected.Published[i][j].String(); !printed(got, p) {
				t.Errorf("lambda %v at %v: %v, published %s", lambda, shift, got, p)
			}
		}
	}
}

func TestEWMADesign(t *testing.T) {
	var f struct {
		Inputs struct {
			Lambda []float64 `json:"lambda_"`
			ARL0   []float64
		}
		Expected struct {
			L [][]float64 `json:"L_rows_lambda_cols_arl0"`
		}
	}
	known(t, "ewma_design_limits", &f)
	for i, lambda := range f.Inputs.Lambda {
		for j, arl0 := range f.Inputs.ARL0 {
			near(t, fmt.Sprintf("L of lambda %v for %v", lambda, arl0), must[float64](t)(EWMALimit(lambda, arl0, false)), f.Expected.L[i][j], 1e-6)
		}
	}
	l := must[float64](t)(EWMALimitWithin(0.1, 100, 0.05, true))
	near(t, "alarm within 100", must[float64](t)(EWMAChart{0.1, l, true}.Within(100, 0)), 0.05, 1e-7)
	// A Shewhart chart at 3 SD has an ARL of 1/(2 Q(3)) = 370.398.
	near(t, "L of a Shewhart chart", must[float64](t)(EWMALimit(1, 370.3983473449564, false)), 3, 1e-8)
}

// Montgomery's figures, confirmed with the R package spc (see the file).
func TestCusumRunLengthPublished(t *testing.T) {
	var f struct {
		Inputs struct {
			K     float64
			H     []float64
			Shift []float64 `json:"shift_in_sd"`
		}
		Expected struct {
			Published [][]json.Number
			Computed  [][]float64
			One       []float64 `json:"one_sided_shift0"`
		}
	}
	known(t, "arl_cusum_f", &f)
	for j, h := range f.Inputs.H {
		for i, shift := range f.Inputs.Shift {
			got := must[float64](t)(CusumChart{f.Inputs.K, h, true}.ARL(shift))
			near(t, fmt.Sprintf("ARL of h %v at %v", h, shift), got, f.Expected.Computed[i][j], 1e-6)
			if p := f.Expected.Published[i][j].String(); !printed(got, p) {
				t.Errorf("h %v at %v: %v, published %s", h, shift, got, p)
			}
		}
		near(t, "one side", must[float64](t)(CusumChart{K: f.Inputs.K, H: h}.ARL(0)), f.Expected.One[j], 1e-6)
	}
}

// Run-length distributions and varying limits against the R package spc and, for both sides of a CUSUM, against simulation.
func TestRunLengthDistributions(t *testing.T) {
	var f struct {
		VACL      [][4]float64 `json:"ewma_vacl"`
		SF        [][6]any     `json:"ewma_sf"`
		One       [][4]float64 `json:"cusum_one_sf"`
		Quantile  [][5]float64 `json:"ewma_quantile"`
		Two       [][4]float64 `json:"cusum_two_simulated"`
		Simulated float64
	}
	known(t, "own_run_lengths", &f)
	for _, r := range f.VACL {
		near(t, fmt.Sprintf("ARL of varying limits %v", r[:3]), must[float64](t)(EWMAChart{r[0], r[1], true}.ARL(r[2])), r[3], 1e-7)
	}
	for _, r := range f.SF {
		c := EWMAChart{r[1].(float64), r[2].(float64), r[0] == "vacl"}
		near(t, fmt.Sprint("alarm within ", r), must[float64](t)(c.Within(int(r[4].(float64)), r[3].(float64))), 1-r[5].(float64), 1e-8)
	}
	for _, r := range f.One {
		near(t, fmt.Sprint("one-sided CUSUM ", r), must[float64](t)(CusumChart{K: 0.5, H: r[0]}.Within(int(r[2]), r[1])), 1-r[3], 1e-7)
	}
	for _, r := range f.Quantile {
		if got := must[int](t)(EWMAChart{Lambda: r[0], L: r[1]}.Quantile(r[3], r[2])); float64(got) != r[4] {
			t.Errorf("quantile %v of shift %v: %d, want %v", r[3], r[2], got, r[4])
		}
	}
	for _, r := range f.Two {
		got := must[float64](t)(CusumChart{0.5, r[0], true}.Within(int(r[2]), r[1]))
		if tol := 4*math.Sqrt(r[3]*(1-r[3])/f.Simulated) + 0.001; math.Abs(got-(1-r[3])) > tol {
			t.Errorf("two-sided CUSUM %v: %v, simulated %v within %v", r[:3], got, 1-r[3], tol)
		}
	}
	// The sum of survival is the ARL: the chain over both sums against the integral equations (167.68).
	s, sum := newCusumPair(CusumChart{0.5, 4, true}, 0), 1.0
	for a := 1.0; a > 1e-4; a = s.alive() {
		s.next()
		sum += s.alive()
	}
	if want := must[float64](t)(CusumChart{0.5, 4, true}.ARL(0)); math.Abs(sum/want-1) > 0.005 {
		t.Errorf("the chain over both sums gives an ARL of %v, want %v within 0.5 %%", sum, want)
	}
}

func TestRunLengthProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := EWMAChart{rapid.Float64Range(0.05, 1).Draw(t, "lambda"), rapid.Float64Range(1, 3.2).Draw(t, "L"), rapid.Bool().Draw(t, "varying")}
		shift := rapid.Float64Range(0, 3).Draw(t, "shift")
		at := func(c EWMAChart, shift float64) float64 { return must[float64](t)(c.ARL(shift)) }
		arl := at(c, shift)
		if m := at(c, -shift); math.Abs(m/arl-1) > 1e-6 {
			t.Fatalf("ARL %v, mirrored %v", arl, m)
		}
		if more := at(c, shift+0.2); more > arl*(1+1e-6) {
			t.Fatalf("a larger shift is found later: %v, %v", more, arl)
		}
		if wide := at(EWMAChart{c.Lambda, c.L + 0.1, c.Varying}, shift); wide < arl*(1-1e-6) {
			t.Fatalf("wider limits alarm sooner: %v, %v", wide, arl)
		}
		if fixed := at(EWMAChart{c.Lambda, c.L, false}, shift); c.Varying && fixed < arl*(1-1e-6) {
			t.Fatalf("varying limits alarm later: %v, %v", arl, fixed)
		}
		q := must[int](t)(c.Quantile(0.5, shift))
		if p := must[float64](t)(c.Within(q, shift)); p < 0.5-1e-6 {
			t.Fatalf("the median is %d, but the alarm comes by then with %v", q, p)
		}
		if p := must[float64](t)(c.Within(q-1, shift)); p > 0.5+1e-6 {
			t.Fatalf("the median is %d, but the alarm comes before with %v", q, p)
		}
		u := CusumChart{K: rapid.Float64Range(0.1, 1).Draw(t, "k"), H: rapid.Float64Range(1, 6).Draw(t, "h")}
		one := must[float64](t)(u.ARL(shift))
		u.TwoSided = true
		if two := must[float64](t)(u.ARL(shift)); two > one {
			t.Fatalf("two sides alarm later than one: %v, %v", two, one)
		}
	})
}

func TestRunLengthRefuses(t *testing.T) {
	nan := math.NaN()
	for _, c := range []EWMAChart{{0, 3, false}, {1.1, 3, false}, {nan, 3, true}, {0.1, 0, false}, {0.1, nan, false}, {0.1, 9, false}} {
		if _, err := c.ARL(0); err == nil {
			t.Errorf("%+v has an ARL", c)
		}
	}
	for _, c := range []CusumChart{{-1, 4, true}, {nan, 4, false}, {0.5, 0, true}, {0.5, nan, false}, {0.5, 1e9, true}} {
		if _, err := c.ARL(0); err == nil {
			t.Errorf("%+v has an ARL", c)
		}
	}
	e, u := EWMAChart{0.1, 2.8, true}, CusumChart{0.5, 4, true}
	if _, err := e.ARL(nan); !fault.Is(err, "shift-unusable") {
		t.Error("a shift of NaN was accepted")
	}
	for _, n := range []int{-1, mostRuns + 1} {
		if _, err := e.Within(n, 0); !fault.Is(err, "count-unusable") {
			t.Errorf("%d values were accepted", n)
		}
	}
	for _, p := range []float64{0, 1, nan} {
		if _, err := u.Quantile(p, 0); !fault.Is(err, "probability-unusable") {
			t.Errorf("a probability of %v was accepted", p)
		}
	}
	if _, err := (CusumChart{K: 3, H: 20}).ARL(0); !fault.Is(err, "run-length-endless") {
		t.Errorf("an alarm that never comes: %v", err)
	}
	if _, err := EWMALimit(0.1, 1, false); !fault.Is(err, "arl-unusable") {
		t.Errorf("ARL 1: %v", err)
	}
	if _, err := EWMALimitWithin(0.1, 0, 0.05, false); !fault.Is(err, "alpha-unusable") {
		t.Errorf("no values: %v", err)
	}
	if p := must[float64](t)(e.Within(0, 0)); p != 0 {
		t.Errorf("an alarm within no values has probability %v", p)
	}
}
