package control

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"sync"
	"testing"

	"pgregory.net/rapid"

	"fairstick/internal/fault"
)

// crowd draws invented people: 90 % of a core around 98 mg/dL, 10 % high around 180 mg/dL; both log-normal, so right-skewed. lift is how this
// crowd differs from another, on the log scale.
func crowd(rng *rand.Rand, lift float64) float64 {
	if rng.Float64() < 0.1 {
		return 180 * math.Exp(lift+0.35*rng.NormFloat64())
	}
	return 98 * math.Exp(lift+0.17*rng.NormFloat64())
}

// history of 20 events with crowds that differ by an SD of 5 %.
func history(t testing.TB) Baseline {
	t.Helper()
	rng := rand.New(rand.NewPCG(11, 11))
	var events [][]float64
	for range 20 {
		var e []float64
		for _, r := range day(rng, "", 100, 4, nil) {
			e = append(e, r.Value)
		}
		events = append(events, e)
	}
	return must[Baseline](t)(Learn(events))
}

// The default watch, tuned once for all tests.
var defaultLimits = sync.OnceValues(func() (Limits, error) { return Tune(DefaultWatch()) })

// day is 100 tests of one event on some meters, one vial on each at a time (50 strips), one lot; off multiplies a reading.
func day(rng *rand.Rand, event string, tests, meters int, off func(test, meter int) float64) []Reading {
	lift := 0.05 * rng.NormFloat64()
	used := make([]int, meters)
	var out []Reading
	for i := range tests {
		m := rng.IntN(meters)
		after := lift
		if i > tests/2 {
			after += 0.08 // the afternoon has eaten
		}
		v := crowd(rng, after)
		if off != nil {
			v *= off(i, m)
		}
		out = append(out, Reading{event, fmt.Sprintf("M%d", m+1), "A", fmt.Sprintf("V%d-%d", m+1, used[m]/50), math.Round(v), i + 1})
		used[m]++
	}
	return out
}

// withBaseline gives the default limits, which do not depend on the baseline, with another one.
func withBaseline(t tester, b Baseline) Limits {
	t.Helper()
	return must[Limits](t)(must[Limits](t)(defaultLimits()).With(b))
}

func falseDays(t *testing.T, l Limits, days int, next func(rng *rand.Rand) []Reading) float64 {
	t.Helper()
	rng := rand.New(rand.NewPCG(1, 2))
	n := 0
	for range days {
		if len(must[[]Alarm](t)(Watch(l, next(rng)))) > 0 {
			n++
		}
	}
	return float64(n) / float64(days)
}

// A day of 100 tests in control alarms on fewer than one day in 20, whatever the number of meters, with and without a history,
// though crowds differ and the afternoon reads higher.
func TestWatchFalseAlarms(t *testing.T) {
	const days = 600
	for name, b := range map[string]Baseline{"default": DefaultBaseline(), "learned": history(t)} {
		l := withBaseline(t, b)
		for _, meters := range []int{1, 2, 4, 10} {
			if p := falseDays(t, l, days, func(rng *rand.Rand) []Reading { return day(rng, "E", 100, meters, nil) }); p >= 0.05 {
				t.Errorf("%s baseline, %d meters: a false alarm on %.1f %% of days", name, meters, 100*p)
			}
		}
	}
	// Other populations, before anything is known of them: two in ten high, a wide one, a young one with a low median.
	l := must[Limits](t)(defaultLimits())
	for name, draw := range map[string]func(*rand.Rand) float64{
		"many high": func(rng *rand.Rand) float64 {
			if rng.Float64() < 0.2 {
				return 220 * math.Exp(0.4*rng.NormFloat64())
			}
			return 105 * math.Exp(0.2*rng.NormFloat64())
		},
		"wide":  func(rng *rand.Rand) float64 { return 125 * math.Exp(0.35*rng.NormFloat64()) },
		"young": func(rng *rand.Rand) float64 { return 84 * math.Exp(0.12*rng.NormFloat64()) },
	} {
		p := falseDays(t, l, days, func(rng *rand.Rand) []Reading {
			out := day(rng, "E", 100, 4, nil)
			for i := range out {
				out[i].Value = math.Round(draw(rng))
			}
			return out
		})
		if p >= 0.05 {
			t.Errorf("%s: a false alarm on %.1f %% of days", name, 100*p)
		}
	}
}

// One of four meters reads 15 % high. Counted in its own tests since then: half of such shifts are found within 40, three of four within
// 60; and the alarm names that meter, its vial, the direction, and a start that is not before the shift by more than chance.
func TestWatchFindsMeter(t *testing.T) {
	l := must[Limits](t)(defaultLimits())
	rng := rand.New(rand.NewPCG(1, 2))
	const days = 300
	for _, start := range []int{0, 60} {
		within40, within60 := 0, 0
		for range days {
			readings := day(rng, "E", 320, 4, func(test, meter int) float64 {
				if meter == 0 && test >= start {
					return 1.15
				}
				return 1
			})
			alarms := must[[]Alarm](t)(Watch(l, readings))
			if len(alarms) == 0 || alarms[0].Meter != "M1" || alarms[0].Kind != MeterApart || alarms[0].Direction != Upward || alarms[0].At <= start {
				continue
			}
			own := 0
			for _, r := range readings[start:alarms[0].At] {
				if r.Meter == "M1" {
					own++
				}
			}
			if own <= 40 {
				within40++
			}
			if own <= 60 {
				within60++
			}
		}
		if within40*2 < days || within60*4 < days*3 {
			t.Errorf("from test %d on: of %d shifts %d are found within 40 tests of the meter, %d within 60", start, days, within40, within60)
		}
	}
}

// A meter that is 15 % high at every event of a lot is found from event to event although no single day may show it.
func TestWatchAcrossEvents(t *testing.T) {
	l := must[Limits](t)(defaultLimits())
	rng := rand.New(rand.NewPCG(4, 2))
	const lots = 100
	first, fifth := 0, 0
	for range lots {
		var readings []Reading
		for e := range 5 {
			readings = append(readings, day(rng, fmt.Sprint("E", e+1), 60, 4, func(_, meter int) float64 {
				if meter == 2 {
					return 1.15
				}
				return 1
			})...)
		}
		w := NewWatcher(l)
		found := ""
		for _, r := range readings {
			if a := must[*Alarm](t)(w.Add(r)); a != nil && a.Meter == "M3" && found == "" {
				found = r.Event
			}
		}
		if found == "E1" {
			first++
		}
		if found != "" {
			fifth++
		}
	}
	if fifth < 90 || first > fifth/2 {
		t.Errorf("of %d lots %d are found at the first event and %d by the fifth", lots, first, fifth)
	}
}

// Another crowd, or an afternoon after a meal, moves all meters: no meter, vial or lot is blamed.
func TestWatchAnotherCrowd(t *testing.T) {
	for name, b := range map[string]Baseline{"default": DefaultBaseline(), "learned": history(t)} {
		l := withBaseline(t, b)
		rng := rand.New(rand.NewPCG(8, 2))
		const days = 300
		blamed, together := 0, 0
		for range days {
			for _, a := range must[[]Alarm](t)(Watch(l, day(rng, "E", 100, 4, func(int, int) float64 { return 1.35 }))) {
				if a.Kind == AllTogether {
					together++
					if a.Direction != Upward || a.Meter != "" || a.Lot != "A" || a.Percent < 5 || !strings.Contains(a.Do, "strip lot A") {
						t.Fatalf("all together: %+v", a)
					}
				} else {
					blamed++
				}
			}
		}
		if float64(blamed) >= 0.05*days {
			t.Errorf("%s: another crowd puts the blame on something in %d of %d days", name, blamed, days)
		}
		if want := map[string]int{"default": 0, "learned": days * 9 / 10}[name]; together < want || name == "default" && together > 0 {
			t.Errorf("%s: all together is said on %d of %d days", name, together, days)
		}
	}
}

// invented makes readings without chance: meters take turns, and everybody's glucose follows the same few numbers.
func invented(n int, meters []string, change func(*Reading)) []Reading {
	var out []Reading
	for i := range n {
		r := Reading{Event: "E", Meter: meters[i%len(meters)], Lot: "A", Value: []float64{88, 95, 99, 104, 118}[i/len(meters)%5], Sequence: i + 101}
		change(&r)
		out = append(out, r)
	}
	return out
}

func TestWatchNamesTheSource(t *testing.T) {
	learned := Baseline{Centre: math.Log(99), Spread: 0.15, Mean: 0, SD: 1, Between: 0.2, Events: 10}
	for _, tt := range []struct {
		name     string
		baseline Baseline
		readings []Reading
		kind     AlarmKind
		meter    string
		other    string
		vial     string
		lot      string
		side     Direction
		says     string
	}{
		{"a meter with its vial", DefaultBaseline(), invented(200, []string{"M1", "M2", "M3"}, func(r *Reading) {
			r.Vial = "V" + r.Meter
			if r.Meter == "M2" {
				r.Value *= 1.3
			}
		}), MeterApart, "M2", "", "VM2", "", Upward, "Check meter M2: run both control levels on it with vial VM2"},
		{"a meter that reads low", DefaultBaseline(), invented(200, []string{"M1", "M2", "M3"}, func(r *Reading) {
			if r.Meter == "M1" {
				r.Value *= 0.75
			}
		}), MeterApart, "M1", "", "", "", Downward, "% lower than the rest since test 101 ("},
		{"a vial on two meters of six", DefaultBaseline(), invented(240, []string{"M1", "M2", "M3", "M4", "M5", "M6"}, func(r *Reading) {
			switch r.Meter {
			case "M3", "M4":
				r.Vial = "V2"
				r.Value *= 1.3
			case "M1", "M2":
				r.Vial = "V1"
			default:
				r.Vial = "V3"
			}
		}), VialApart, "", "", "V2", "", Upward, "Check vial V2"},
		{"a lot on two meters, with a history", learned, invented(200, []string{"M1", "M2", "M3", "M4"}, func(r *Reading) {
			if r.Meter == "M1" || r.Meter == "M2" {
				r.Lot = "B"
				r.Value *= 0.75
			}
		}), LotApart, "", "", "", "B", Downward, "Check strip lot B"},
		{"two meters without a history", DefaultBaseline(), invented(200, []string{"M1", "M2"}, func(r *Reading) {
			if r.Meter == "M2" {
				r.Value *= 1.3
			}
		}), MeterApart, "M1", "M2", "", "", Downward, "Nothing tells which of the two is off: run both control levels with M1 and with M2."},
		{"two lots without a history", DefaultBaseline(), invented(200, []string{"M1", "M2", "M3", "M4"}, func(r *Reading) {
			if r.Meter == "M1" || r.Meter == "M2" {
				r.Lot = "B"
				r.Value *= 0.75
			}
		}), LotApart, "", "A", "", "B", Downward, "lower than A since test"},
		{"two meters with a history", learned, invented(200, []string{"M1", "M2"}, func(r *Reading) {
			if r.Meter == "M2" {
				r.Value *= 1.3
			}
		}), MeterApart, "M2", "", "", "", Upward, "Check meter M2"},
		{
			"all together", learned, invented(200, []string{"M1", "M2", "M3"}, func(r *Reading) { r.Value *= 0.7 }),
			AllTogether, "", "", "", "A", Downward, "Check strip lot A",
		},
		{
			"one meter at work", learned, invented(200, []string{"M1"}, func(r *Reading) { r.Vial, r.Value = "V7", r.Value*1.4 }),
			AllTogether, "M1", "", "V7", "A", Upward, "Meter M1 has read about 40 % higher than this programme's",
		},
	} {
		t.Run(tt.name, func(t *testing.T) {
			alarms := must[[]Alarm](t)(Watch(withBaseline(t, tt.baseline), tt.readings))
			if len(alarms) == 0 {
				t.Fatal("no alarm")
			}
			a := alarms[0]
			if a.Kind != tt.kind || a.Vial != tt.vial || a.Lot != tt.lot || tt.side != "" && a.Direction != tt.side {
				t.Errorf("%+v", a)
			}
			if a.Meter != tt.meter || a.Other != tt.other {
				t.Errorf("names %q, want %q: %+v", a.Meter, tt.meter, a)
			}
			if a.At < a.Since+leastTests || a.Tests < leastTests || !strings.Contains(a.What+a.Do, tt.says) {
				t.Errorf("says %q %q, want %q in it; %+v", a.What, a.Do, tt.says, a)
			}
		})
	}
	// A meter that turns bad at test 161 of 260: the stretch begins near there.
	turned := must[[]Alarm](t)(Watch(must[Limits](t)(defaultLimits()), invented(160, []string{"M1", "M2", "M3", "M4"}, func(r *Reading) {
		if r.Meter == "M4" {
			r.Value *= 0.99
			if r.Sequence > 160 {
				r.Value *= 1.4
			}
		}
	})))
	if len(turned) != 1 || turned[0].Meter != "M4" || turned[0].Since < 161 || turned[0].Since > 180 {
		t.Errorf("%+v", turned)
	}
}

// One meter, two vials one after the other, and an afternoon that has eaten: the hour changed with the vial, so the vials are not compared.
func TestWatchHours(t *testing.T) {
	readings := invented(100, []string{"M1"}, func(r *Reading) {
		if r.Vial = "V1"; r.Sequence > 150 {
			r.Vial = "V2"
			r.Value *= 1.3
		}
	})
	if alarms := must[[]Alarm](t)(Watch(withBaseline(t, DefaultBaseline()), readings)); len(alarms) > 0 {
		t.Errorf("%+v", alarms)
	}
}

// Nine readings in ten come from M2, which turns bad at test 161. All readings together pass their limit before the meter passes its own,
// but M1 lies where it should: the meter is named, and not all of them.
func TestWatchOneOfAll(t *testing.T) {
	learned := Baseline{Centre: math.Log(99), Spread: 0.15, Mean: 0, SD: 1, Between: 0.2, Events: 10}
	readings := invented(300, append(slices.Repeat([]string{"M2"}, 9), "M1"), func(r *Reading) {
		if r.Meter == "M2" && r.Sequence > 160 {
			r.Value *= 1.25
		}
	})
	alarms := must[[]Alarm](t)(Watch(withBaseline(t, learned), readings))
	if len(alarms) != 1 || alarms[0].Kind != MeterApart || alarms[0].Meter != "M2" || alarms[0].Other != "" {
		t.Errorf("%+v", alarms)
	}
	// From the start on, M1 has too few tests to speak: M2 is named with the doubt that goes with it.
	for i := range readings[:60] {
		if readings[i].Meter == "M2" {
			readings[i].Value *= 1.25
		}
	}
	alarms = must[[]Alarm](t)(Watch(withBaseline(t, learned), readings[:40]))
	if len(alarms) != 1 || alarms[0].Kind != AllTogether || alarms[0].Meter != "M2" || !strings.Contains(alarms[0].What, "Meter M2 has read") {
		t.Errorf("%+v", alarms)
	}
}

// Whatever is sent in, no alarm contradicts itself: it names something, began before it was raised, and counts readings.
func TestWatchAlarmsHold(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := withBaseline(t, Baseline{Centre: math.Log(99), Spread: 0.15, SD: 1, Between: 0.2, Events: rapid.IntRange(0, 1).Draw(t, "events")})
		off := rapid.SliceOfN(rapid.SampledFrom([]float64{0.5, 1, 1, 1.6}), 9, 9).Draw(t, "off")
		pick := func(what string) int { return rapid.IntRange(0, 2).Draw(t, what) }
		var readings []Reading
		for i := range rapid.IntRange(0, 150).Draw(t, "n") {
			m, v, lot := pick("meter"), pick("vial"), pick("lot")
			value := float64(rapid.IntRange(80, 130).Draw(t, "value")) * off[m] * off[3+v] * off[6+lot]
			readings = append(readings, Reading{fmt.Sprint(i / 80), fmt.Sprint("M", m), fmt.Sprint("L", lot), []string{"", "V1", "V2"}[v], value, i + 1})
		}
		for _, a := range must[[]Alarm](t)(Watch(l, readings)) {
			if a.Meter+a.Vial+a.Lot == "" && a.Kind != AllTogether || a.Since > a.At || a.Tests < 1 || math.IsNaN(a.Percent) || a.Direction == NoDirection || a.What == "" || a.Do == "" {
				t.Fatalf("%+v", a)
			}
		}
	})
}

// What is said of the first readings does not change when more come; the arguments stay as they were; a source alarms once.
func TestWatchStreams(t *testing.T) {
	l := withBaseline(t, history(t))
	rng := rand.New(rand.NewPCG(21, 2))
	for range 20 {
		readings := day(rng, "E", 150, 3, func(_, meter int) float64 { return 1 + 0.3*float64(meter%2) })
		before := slices.Clone(readings)
		all := must[[]Alarm](t)(Watch(l, readings))
		cut := rng.IntN(len(readings))
		head := must[[]Alarm](t)(Watch(l, readings[:cut]))
		n := 0
		for _, a := range all {
			if a.At <= cut {
				n++
			}
		}
		if n != len(head) || n > 0 && !slices.Equal(head, all[:n]) {
			t.Fatalf("of the first %d readings: %v, later %v", cut, head, all)
		}
		if !slices.Equal(before, readings) {
			t.Fatal("the readings were changed")
		}
		seen := map[string]bool{}
		for _, a := range all {
			key := string(a.Kind) + a.Meter + a.Vial
			if seen[key] {
				t.Fatalf("twice: %v", all)
			}
			seen[key] = true
		}
	}
}

func TestWatchRefuses(t *testing.T) {
	nan := math.NaN()
	for name, change := range map[string]func(*WatchSettings){
		"no tests":       func(s *WatchSettings) { s.TestsPerDay = 0 },
		"no meters":      func(s *WatchSettings) { s.Meters = 0 },
		"never false":    func(s *WatchSettings) { s.FalseDays = 0 },
		"share of NaN":   func(s *WatchSettings) { s.FalseDays = nan },
		"half-life 0":    func(s *WatchSettings) { s.HalfLife = 0 },
		"no baseline":    func(s *WatchSettings) { s.Baseline = Baseline{} },
		"centre of NaN":  func(s *WatchSettings) { s.Baseline.Centre = nan },
		"negative crowd": func(s *WatchSettings) { s.Baseline.Between = -1 },
	} {
		s := DefaultWatch()
		change(&s)
		if _, err := Tune(s); !fault.Is(err, "drift-unusable") {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, err := (Limits{}).With(Baseline{}); !fault.Is(err, "drift-unusable") {
		t.Errorf("an empty baseline: %v", err)
	}
	w := NewWatcher(Limits{Settings: DefaultWatch()})
	for _, tt := range []struct {
		r   Reading
		key string
	}{
		{Reading{Value: 100}, "meter-missing"},
		{Reading{Meter: "M1"}, "value-not-positive"},
		{Reading{Meter: "M1", Value: nan}, "value-not-positive"},
		{Reading{Meter: "M1", Value: math.Inf(1)}, "value-not-positive"},
	} {
		if a, err := w.Add(tt.r); !fault.Is(err, tt.key) || a != nil {
			t.Errorf("%+v: %v, want %s", tt.r, err, tt.key)
		}
	}
	hundred := make([]float64, 100)
	for i := range hundred {
		hundred[i] = 100
	}
	for _, tt := range []struct {
		events [][]float64
		key    string
	}{
		{nil, "history-short"},
		{[][]float64{hundred, hundred, hundred}, "history-short"},
		{[][]float64{{90}, {91}, {92}, {93}, {94}}, "history-short"},
		{[][]float64{hundred, hundred, hundred, hundred, hundred}, "values-constant"},
		{[][]float64{hundred, {}, hundred, hundred, hundred}, "values-none"},
		{[][]float64{{0}}, "value-not-positive"},
		{[][]float64{{nan}}, "value-not-positive"},
	} {
		if _, err := Learn(tt.events); !fault.Is(err, tt.key) {
			t.Errorf("%d events: %v, want %s", len(tt.events), err, tt.key)
		}
	}
}
