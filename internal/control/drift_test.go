package control

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

var wide = Band{105, -1e9, 1e9}

// A series made for the purpose, computed with pandas and plain python (see the file).
func TestDriftSequence(t *testing.T) {
	var f struct {
		Inputs struct {
			Values   []float64
			Lambda   float64 `json:"ewma_lambda"`
			Start    float64 `json:"ewma_start"`
			Target   float64
			SD       float64
			Truncate [2]float64
			Block    int
		}
		Expected struct {
			Mean10    []*float64 `json:"moving_mean_10"`
			Median10  []*float64 `json:"moving_median_10"`
			Median11  []*float64 `json:"moving_median_11"`
			EWMA      []*float64
			Truncated []*float64 `json:"truncated_moving_mean_10"`
			Winsor    []*float64 `json:"winsorised_moving_mean_10"`
			Limits    []struct {
				I            int
				Lower, Upper float64
			} `json:"ewma_limits_L27"`
			Plus  []*float64 `json:"cusum_plus_k05"`
			Minus []*float64 `json:"cusum_minus_k05"`
		}
	}
	known(t, "pbqc_sequence_f", &f)
	in, e := f.Inputs, f.Expected
	out := Outside{Truncate, in.Truncate[0], in.Truncate[1]}
	win := Outside{Winsorise, in.Truncate[0], in.Truncate[1]}
	average := EWMASettings{EWMAChart{in.Lambda, 2.7, true}, in.Target, in.SD}
	sums := CusumSettings{CusumChart{0.5, 4, true}, in.Target, in.SD}
	for _, tt := range []struct {
		name string
		d    func() (Detector, error)
		want []*float64
	}{
		{"moving mean", func() (Detector, error) { return NewMovingMean(in.Block, Outside{}, wide) }, e.Mean10},
		{"moving median of 10", func() (Detector, error) { return NewMovingMedian(10, Outside{}, wide) }, e.Median10},
		{"moving median of 11", func() (Detector, error) { return NewMovingMedian(11, Outside{}, wide) }, e.Median11},
		{"EWMA", func() (Detector, error) { return NewEWMA(average, Outside{}) }, e.EWMA},
		{"truncated mean", func() (Detector, error) { return NewMovingMean(in.Block, out, wide) }, e.Truncated},
		{"winsorised mean", func() (Detector, error) { return NewMovingMean(in.Block, win, wide) }, e.Winsor},
		{"CUSUM up", func() (Detector, error) { return NewCusum(sums, Outside{}) }, e.Plus},
	} {
		steps := must[[]Step](t)(Batch(must[Detector](t)(tt.d()), in.Values))
		for i, want := range tt.want {
			if steps[i].Defined != (want != nil) {
				t.Errorf("%s %d: defined %v", tt.name, i+1, steps[i].Defined)
			} else if want != nil {
				near(t, fmt.Sprintf("%s %d", tt.name, i+1), steps[i].Statistic, *want, 1e-9)
			}
			if tt.name == "CUSUM up" {
				near(t, fmt.Sprintf("CUSUM down %d", i+1), steps[i].Lower, *e.Minus[i], 1e-9)
			}
		}
		if tt.name == "EWMA" {
			for _, l := range e.Limits {
				near(t, "lower limit", steps[l.I-1].Low, l.Lower, 1e-9)
				near(t, "upper limit", steps[l.I-1].High, l.Upper, 1e-9)
			}
		}
	}
}

// Alarms worked by hand: target 100, every value 10 above from the sixth on.
func TestDriftAlarms(t *testing.T) {
	values := []float64{100, 101, 99, 100, 98, 110, 110, 110, 110, 110, 110}
	for _, tt := range []struct {
		name      string
		d         func() (Detector, error)
		at, since int
	}{
		// C+ from the sixth value on: 1.5, 3, 4.5 with SD 5 and K 0.5; above 4 at the eighth.
		{"CUSUM", func() (Detector, error) {
			return NewCusum(CusumSettings{CusumChart{0.5, 4, true}, 100, 5}, Outside{})
		}, 7, 5},
		// EWMA of 0.5 stands at 99.03 after five values; then 104.5, 107.3: above 105.2 = 100 + 1.8 * 5 * sqrt(1/3) at the seventh.
		{"EWMA", func() (Detector, error) {
			return NewEWMA(EWMASettings{EWMAChart{0.5, 1.8, false}, 100, 5}, Outside{})
		}, 6, 5},
		// Means of three: 99 after the fifth, 102.67, 106, 110; above 105 at the seventh, above 100 since the sixth.
		{"moving mean", func() (Detector, error) { return NewMovingMean(3, Outside{}, Band{100, 95, 105}) }, 6, 5},
		// Medians of three: 99, 100, 110: above 105 at the seventh, and on the target until then.
		{"moving median", func() (Detector, error) { return NewMovingMedian(3, Outside{}, Band{100, 95, 105}) }, 6, 6},
	} {
		for _, sign := range []float64{1, -1} {
			d := must[Detector](t)(tt.d())
			for i, v := range values {
				s := must[Step](t)(d.Add(100 + sign*(v-100)))
				want, since := NoDirection, 0
				if i >= tt.at {
					since = tt.since
					if want = Upward; sign < 0 {
						want = Downward
					}
				}
				if s.Index != i || s.Alarm != want || s.Since != since {
					t.Errorf("%s value %d: %+v, want alarm %q since %d", tt.name, i, s, want, since)
				}
			}
		}
	}
	d := must[Detector](t)(NewCusum(CusumSettings{CusumChart{K: 0.5, H: 4}, 100, 5}, Outside{}))
	if s := must[[]Step](t)(Batch(d, []float64{0, 0})); s[1].Alarm != NoDirection || s[1].Lower != 0 {
		t.Errorf("one upper side alarms low: %+v", s[1])
	}
}

func TestDriftSkips(t *testing.T) {
	d := must[Detector](t)(NewMovingMean(2, Outside{Truncate, 60, 200}, Band{100, 90, 110}))
	steps := must[[]Step](t)(Batch(d, []float64{60, 900, 200, 201, 59}))
	if steps[1].Used || steps[1].Defined || !steps[2].Used || steps[2].Statistic != 130 || steps[2].Since != 0 {
		t.Errorf("values on the limits count and 900 does not: %+v", steps)
	}
	if last := steps[4]; last.Used || last.Statistic != 130 || last.Alarm != Upward || last.Index != 4 {
		t.Errorf("a skipped value leaves everything as it was: %+v", last)
	}
	bank := NewBank(func() (Detector, error) { return NewMovingMean(1, Outside{}, Band{100, 90, 110}) })
	must[Step](t)(bank.Add("M1", 100))
	if s := must[Step](t)(bank.Add("M2", 120)); s.Index != 0 || s.Alarm != Upward {
		t.Errorf("each name has its own values: %+v", s)
	}
	if s := must[Step](t)(bank.Add("M1", 101)); s.Index != 1 || s.Alarm != NoDirection {
		t.Errorf("each name has its own values: %+v", s)
	}
	if _, err := NewBank(func() (Detector, error) { return NewMovingMean(0, Outside{}, wide) }).Add("M1", 1); err == nil {
		t.Error("a bank of detectors that cannot be made")
	}
}

// Mirrored values give mirrored alarms; a constant added to values, target and limits changes nothing; each value is judged as if the rest were not
// there yet.
func TestDriftProperties(t *testing.T) {
	make := func(kind int, target float64, sign float64, o Outside) (Detector, error) {
		if o.Treatment != Untreated {
			a, b := target+sign*(o.Low-100), target+sign*(o.High-100)
			o.Low, o.High = math.Min(a, b), math.Max(a, b)
		}
		switch kind {
		case 0:
			return NewMovingMean(4, o, Band{target, target - 8, target + 8})
		case 1:
			return NewMovingMedian(5, o, Band{target, target - 8, target + 8})
		case 2:
			return NewEWMA(EWMASettings{EWMAChart{0.25, 2, true}, target, 16}, o)
		}
		return NewCusum(CusumSettings{CusumChart{0.5, 2, true}, target, 16}, o)
	}
	rapid.Check(t, func(t *rapid.T) {
		kind := rapid.IntRange(0, 3).Draw(t, "kind")
		o := Outside{rapid.SampledFrom([]Treatment{Untreated, Truncate, Winsorise}).Draw(t, "treatment"), 70, 140}
		values := rapid.SliceOfN(rapid.Map(rapid.IntRange(50, 180), func(i int) float64 { return float64(i) }), 1, 60).Draw(t, "values")
		var mirrored, moved []float64
		for _, v := range values {
			mirrored, moved = append(mirrored, 200-v), append(moved, v+64)
		}
		steps := must[[]Step](t)(Batch(must[Detector](t)(make(kind, 100, 1, o)), values))
		mirror := must[[]Step](t)(Batch(must[Detector](t)(make(kind, 100, -1, o)), mirrored))
		move := must[[]Step](t)(Batch(must[Detector](t)(make(kind, 164, 1, o)), moved))
		opposite := map[Direction]Direction{Upward: Downward, Downward: Upward}
		for i, s := range steps {
			if m := mirror[i]; m.Alarm != opposite[s.Alarm] || m.Since != s.Since || m.Used != s.Used {
				t.Fatalf("value %d: %+v, mirrored %+v", i, s, m)
			}
			if m := move[i]; m.Alarm != s.Alarm || m.Since != s.Since {
				t.Fatalf("value %d: %+v, moved %+v", i, s, m)
			}
			if s.Alarm != NoDirection && s.Since > i {
				t.Fatalf("an alarm before it began: %+v", s)
			}
		}
		again := must[Detector](t)(make(kind, 100, 1, o))
		cut := rapid.IntRange(0, len(values)).Draw(t, "cut")
		head := must[[]Step](t)(Batch(again, values[:cut]))
		tail := must[[]Step](t)(Batch(again, values[cut:]))
		if !slices.Equal(append(head, tail...), steps) {
			t.Fatal("in two parts the steps differ")
		}
	})
}

func TestDriftRefuses(t *testing.T) {
	nan := math.NaN()
	for name, f := range map[string]func() (Detector, error){
		"no block":       func() (Detector, error) { return NewMovingMean(0, Outside{}, wide) },
		"no band":        func() (Detector, error) { return NewMovingMean(3, Outside{}, Band{}) },
		"band of NaN":    func() (Detector, error) { return NewMovingMedian(3, Outside{}, Band{nan, 1, 2}) },
		"limits crossed": func() (Detector, error) { return NewMovingMean(3, Outside{Truncate, 2, 1}, wide) },
		"limits of NaN":  func() (Detector, error) { return NewMovingMean(3, Outside{Winsorise, nan, 1}, wide) },
		"no treatment":   func() (Detector, error) { return NewMovingMean(3, Outside{"drop", 1, 2}, wide) },
		"lambda 0":       func() (Detector, error) { return NewEWMA(EWMASettings{EWMAChart{0, 3, false}, 100, 5}, Outside{}) },
		"SD 0":           func() (Detector, error) { return NewEWMA(EWMASettings{EWMAChart{0.1, 3, false}, 100, 0}, Outside{}) },
		"target NaN":     func() (Detector, error) { return NewCusum(CusumSettings{CusumChart{0.5, 4, true}, nan, 5}, Outside{}) },
		"limit 0":        func() (Detector, error) { return NewCusum(CusumSettings{CusumChart{0.5, 0, true}, 100, 5}, Outside{}) },
		"EWMA, crossed": func() (Detector, error) {
			return NewEWMA(EWMASettings{EWMAChart{0.1, 3, false}, 100, 5}, Outside{Truncate, 2, 1})
		},
		"CUSUM, crossed": func() (Detector, error) {
			return NewCusum(CusumSettings{CusumChart{0.5, 4, true}, 100, 5}, Outside{Truncate, 2, 1})
		},
		"block too large": func() (Detector, error) { return NewMovingMean(mostBlock+1, Outside{}, wide) },
	} {
		if _, err := f(); err == nil {
			t.Errorf("%s was accepted", name)
		}
	}
	d := must[Detector](t)(NewMovingMean(1, Outside{}, wide))
	for _, bad := range []float64{nan, math.Inf(1)} {
		if _, err := d.Add(bad); err == nil {
			t.Errorf("%v was accepted", bad)
		}
	}
	if s := must[Step](t)(d.Add(5)); s.Index != 0 {
		t.Error("a refused value was counted")
	}
}

// The chart that runs has the run length that is computed: lambda 0.2 and L 2 in control, simulated.
func TestDriftRunLength(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 5))
	chart := EWMAChart{0.2, 2, true}
	const trials = 4000
	var sum, squares float64
	for range trials {
		d := must[Detector](t)(NewEWMA(EWMASettings{chart, 50, 10}, Outside{}))
		for {
			if s := must[Step](t)(d.Add(50 + 10*rng.NormFloat64())); s.Alarm != NoDirection {
				n := float64(s.Index + 1)
				sum, squares = sum+n, squares+n*n
				break
			}
		}
	}
	m := sum / trials
	se := math.Sqrt((squares/trials - m*m) / trials)
	if want := must[float64](t)(chart.ARL(0)); math.Abs(m-want) > 4*se {
		t.Errorf("mean run length %v +- %v, computed %v", m, se, want)
	}
}
