package protocol

import (
	"encoding/json"
	"fmt"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"fairstick/internal/fault"
	"fairstick/internal/glucose"
)

const (
	level2  = "ADA hypoglycaemia level 2"
	level1  = "ADA hypoglycaemia level 1"
	ada2026 = "ADA Standards of Care in Diabetes 2026, section 2, Diabetes Care 2026;49(Suppl 1):S27-S49"
	line140 = "A line for referral and programme policy"
	policy  = "Programme policy; no published standard fixes it"
)

// Both sides of every edge, in both units and on both bases, beside where the edge comes from.
func TestEveryEdge(t *testing.T) {
	p := Default()
	for _, tt := range []struct {
		basis  Basis
		unit   glucose.Unit
		shown  string
		band   Band
		rule   string
		source string // how the source of the edge begins
	}{
		{Fasting, "mg/dL", "53", CriticalLow, "fasting, mg/dL: below 54", level2},
		{Fasting, "mg/dL", "54", Low, "fasting, mg/dL: 54 to 69", level1},
		{Fasting, "mg/dL", "69", Low, "fasting, mg/dL: 54 to 69", level1},
		{Fasting, "mg/dL", "70", Usual, "fasting, mg/dL: 70 to 99", ada2026 + ": fasting plasma glucose from 100"},
		{Fasting, "mg/dL", "99", Usual, "fasting, mg/dL: 70 to 99", ada2026 + ": fasting plasma glucose from 100"},
		{Fasting, "mg/dL", "100", Raised, "fasting, mg/dL: 100 to 125", ada2026 + ": fasting plasma glucose from 100"},
		{Fasting, "mg/dL", "125", Raised, "fasting, mg/dL: 100 to 125", ada2026 + ": fasting plasma glucose from 100"},
		{Fasting, "mg/dL", "126", High, "fasting, mg/dL: 126 to 299", ada2026 + ": fasting plasma glucose from 126"},
		{Fasting, "mg/dL", "299", High, "fasting, mg/dL: 126 to 299", ada2026 + ": fasting plasma glucose from 126"},
		{Fasting, "mg/dL", "300", CriticalHigh, "fasting, mg/dL: 300 or more", policy},

		{Random, "mg/dL", "53", CriticalLow, "random, mg/dL: below 54", level2},
		{Random, "mg/dL", "54", Low, "random, mg/dL: 54 to 69", level1},
		{Random, "mg/dL", "69", Low, "random, mg/dL: 54 to 69", level1},
		{Random, "mg/dL", "70", Usual, "random, mg/dL: 70 to 139", line140},
		{Random, "mg/dL", "99", Usual, "random, mg/dL: 70 to 139", line140},
		{Random, "mg/dL", "126", Usual, "random, mg/dL: 70 to 139", line140},
		{Random, "mg/dL", "139", Usual, "random, mg/dL: 70 to 139", line140},
		{Random, "mg/dL", "140", Raised, "random, mg/dL: 140 to 199", line140},
		{Random, "mg/dL", "199", Raised, "random, mg/dL: 140 to 199", line140},
		{Random, "mg/dL", "200", High, "random, mg/dL: 200 to 299", ada2026 + ": random plasma glucose from 200"},
		{Random, "mg/dL", "299", High, "random, mg/dL: 200 to 299", ada2026 + ": random plasma glucose from 200"},
		{Random, "mg/dL", "300", CriticalHigh, "random, mg/dL: 300 or more", policy},

		{Fasting, "mmol/L", "2.9", CriticalLow, "fasting, mmol/L: below 3.0", level2},
		{Fasting, "mmol/L", "3.0", Low, "fasting, mmol/L: 3.0 to 3.8", level1},
		{Fasting, "mmol/L", "3.8", Low, "fasting, mmol/L: 3.0 to 3.8", level1},
		{Fasting, "mmol/L", "3.9", Usual, "fasting, mmol/L: 3.9 to 5.5", ada2026 + ": fasting plasma glucose from 100"},
		{Fasting, "mmol/L", "5.5", Usual, "fasting, mmol/L: 3.9 to 5.5", ada2026 + ": fasting plasma glucose from 100"},
		{Fasting, "mmol/L", "5.6", Raised, "fasting, mmol/L: 5.6 to 6.9", ada2026 + ": fasting plasma glucose from 100"},
		{Fasting, "mmol/L", "6.9", Raised, "fasting, mmol/L: 5.6 to 6.9", ada2026 + ": fasting plasma glucose from 100"},
		{Fasting, "mmol/L", "7.0", High, "fasting, mmol/L: 7.0 to 16.6", ada2026 + ": fasting plasma glucose from 126"},
		{Fasting, "mmol/L", "16.6", High, "fasting, mmol/L: 7.0 to 16.6", ada2026 + ": fasting plasma glucose from 126"},
		{Fasting, "mmol/L", "16.7", CriticalHigh, "fasting, mmol/L: 16.7 or more", policy},

		{Random, "mmol/L", "2.9", CriticalLow, "random, mmol/L: below 3.0", level2},
		{Random, "mmol/L", "3.0", Low, "random, mmol/L: 3.0 to 3.8", level1}, // 54.05 mg/dL
		{Random, "mmol/L", "3.8", Low, "random, mmol/L: 3.0 to 3.8", level1},
		{Random, "mmol/L", "3.9", Usual, "random, mmol/L: 3.9 to 7.7", line140},
		{Random, "mmol/L", "5.6", Usual, "random, mmol/L: 3.9 to 7.7", line140},
		{Random, "mmol/L", "7.0", Usual, "random, mmol/L: 3.9 to 7.7", line140},
		{Random, "mmol/L", "7.7", Usual, "random, mmol/L: 3.9 to 7.7", line140},
		{Random, "mmol/L", "7.8", Raised, "random, mmol/L: 7.8 to 11.0", line140},
		{Random, "mmol/L", "11.0", Raised, "random, mmol/L: 7.8 to 11.0", line140},
		{Random, "mmol/L", "11.1", High, "random, mmol/L: 11.1 to 16.6", ada2026 + ": random plasma glucose from 200"}, // 199.97 mg/dL
		{Random, "mmol/L", "16.6", High, "random, mmol/L: 11.1 to 16.6", ada2026 + ": random plasma glucose from 200"},
		{Random, "mmol/L", "16.7", CriticalHigh, "random, mmol/L: 16.7 or more", policy},

		{Fasting, "mg/dL", "LO", CriticalLow, "fasting, mg/dL: LO, below what the meter can measure", "Common practice: LO"},
		{Random, "mg/dL", "LO", CriticalLow, "random, mg/dL: LO, below what the meter can measure", "Common practice: LO"},
		{Fasting, "mmol/L", "LO", CriticalLow, "fasting, mmol/L: LO, below what the meter can measure", "Common practice: LO"},
		{Random, "mmol/L", "LO", CriticalLow, "random, mmol/L: LO, below what the meter can measure", "Common practice: LO"},
		{Fasting, "mg/dL", "HI", CriticalHigh, "fasting, mg/dL: HI, above what the meter can measure", "Common practice: HI"},
		{Random, "mg/dL", "HI", CriticalHigh, "random, mg/dL: HI, above what the meter can measure", "Common practice: HI"},
		{Fasting, "mmol/L", "HI", CriticalHigh, "fasting, mmol/L: HI, above what the meter can measure", "Common practice: HI"},
		{Random, "mmol/L", "HI", CriticalHigh, "random, mmol/L: HI, above what the meter can measure", "Common practice: HI"},
	} {
		f, err := p.Find(reading(t, tt.shown, tt.unit), tt.basis)
		if err != nil {
			t.Errorf("%s %s %s: %v", tt.basis, tt.shown, tt.unit, err)
			continue
		}
		if f.Band != tt.band || f.Rule != tt.rule {
			t.Errorf("%s %s %s is %s by %q, want %s by %q", tt.basis, tt.shown, tt.unit, f.Band, f.Rule, tt.band, tt.rule)
		}
		if !strings.HasPrefix(f.Source, tt.source) {
			t.Errorf("%s %s %s: source %q, want %q...", tt.basis, tt.shown, tt.unit, f.Source, tt.source)
		}
		if f.Protocol != "2026.1" || f.Basis != tt.basis {
			t.Errorf("%s %s %s: protocol %q, basis %q", tt.basis, tt.shown, tt.unit, f.Protocol, f.Basis)
		}
		if want := tt.basis == Random && tt.band == Raised; f.ReferralLine != want {
			t.Errorf("%s %s %s: referral line %v, want %v", tt.basis, tt.shown, tt.unit, f.ReferralLine, want)
		}
	}
}

func reading(t testing.TB, shown string, u glucose.Unit) glucose.Reading {
	t.Helper()
	r, err := glucose.ParseReading(shown, u)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func TestUrgency(t *testing.T) {
	p := Default()
	for _, tt := range []struct {
		shown           string
		urgency         Urgency
		days            int
		refer, critical bool
		when            string
	}{
		{"LO", Emergency, 0, true, true, "Now."},
		{"53", Emergency, 0, true, true, "Now."},
		{"66", Days, 7, true, false, "See someone within 1 week."},
		{"95", None, 0, false, false, "Get screened again in 3 years, or when your clinic says."},
		{"150", Weeks, 28, true, false, "See someone within 4 weeks."},
		{"214", Days, 7, true, false, "See someone within 1 week."},
		{"405", Today, 0, true, true, "Today."},
		{"HI", Emergency, 0, true, true, "Now."},
	} {
		f, err := p.Find(reading(t, tt.shown, glucose.MgPerDL), Random)
		if err != nil {
			t.Fatal(err)
		}
		if f.Urgency != tt.urgency || f.WithinDays != tt.days || f.Refer != tt.refer || f.Critical != tt.critical || f.When.In("en") != tt.when {
			t.Errorf("%s: urgency %s, %d days, refer %v, critical %v, when %q", tt.shown, f.Urgency, f.WithinDays, f.Refer, f.Critical, f.When.In("en"))
		}
		if f.Sentence.In("es") == "" || f.Sentence.In("es") == f.Sentence.In("en") || len(f.Advice) == 0 || f.Where.In("en") == "" {
			t.Errorf("%s: the finding lacks words: %+v", tt.shown, f)
		}
	}
	f, err := p.Find(reading(t, "95", glucose.MgPerDL), Fasting)
	if err != nil {
		t.Fatal(err)
	}
	if f.Word.In("en") != "In the usual range for this kind of test" || !strings.HasSuffix(f.Sentence.In("en"), "This does not rule out diabetes.") {
		t.Errorf("95 fasting is told as %q: %q", f.Word.In("en"), f.Sentence.In("en"))
	}
}

func TestNoFindingWithoutValue(t *testing.T) {
	p := Default()
	for _, tt := range []struct {
		r   glucose.Reading
		b   Basis
		key string
	}{
		{glucose.ErrorCode("E-4", glucose.MgPerDL), Random, "no-value"},
		{glucose.Reading{Unit: glucose.MgPerDL}, Random, "no-value"},
		{glucose.Reading{}, Random, "protocol-silent"},
		{glucose.Number(glucose.MgDL(95)), "after-lunch", "protocol-silent"},
		{glucose.Reading{Kind: glucose.Numeric, Value: glucose.Mmol(56), Unit: glucose.MgPerDL}, Random, "units-differ"},
	} {
		if f, err := p.Find(tt.r, tt.b); !fault.Is(err, tt.key) || f.Band != "" {
			t.Errorf("Find(%+v, %s) = %s, %v; want key %s", tt.r, tt.b, f.Band, err, tt.key)
		}
	}
}

// A higher reading is never in a lower band, on either basis and in either unit; the random basis is never stricter.
func TestBandsAreMonotone(t *testing.T) {
	p := Default()
	rapid.Check(t, func(t *rapid.T) {
		u := rapid.SampledFrom(glucose.Units).Draw(t, "unit")
		b := rapid.SampledFrom(Bases).Draw(t, "basis")
		lo := rapid.IntRange(0, 700).Draw(t, "lower")
		hi := rapid.IntRange(lo, 700).Draw(t, "higher")
		find := func(steps int, b Basis) Finding {
			f, err := p.Find(glucose.Number(glucose.Value{Steps: steps, Unit: u}), b)
			if err != nil {
				t.Fatal(err)
			}
			return f
		}
		if find(lo, b).Band.Order() > find(hi, b).Band.Order() {
			t.Fatalf("%d is %s and %d is %s", lo, find(lo, b).Band, hi, find(hi, b).Band)
		}
		if find(lo, Random).Band.Order() > find(lo, Fasting).Band.Order() {
			t.Fatalf("%d %s is higher at random than fasting", lo, u)
		}
	})
}

func TestPlausible(t *testing.T) {
	p := Default()
	for _, tt := range []struct {
		shown string
		unit  glucose.Unit
		key   string
	}{
		{"20", glucose.MgPerDL, ""},
		{"600", glucose.MgPerDL, ""},
		{"1.1", glucose.MmolPerL, ""},
		{"33.3", glucose.MmolPerL, ""},
		{"LO", glucose.MgPerDL, ""},
		{"HI", glucose.MmolPerL, ""},
		{"E-4", glucose.MgPerDL, ""},
		{"19", glucose.MgPerDL, "unit-slip"},
		{"6", glucose.MgPerDL, "unit-slip"},
		{"0", glucose.MgPerDL, "value-absurd"},
		{"1", glucose.MgPerDL, "value-absurd"},
		{"601", glucose.MgPerDL, "value-absurd"},
		{"1118", glucose.MgPerDL, "value-absurd"},
		{"120", glucose.MmolPerL, "unit-slip"},
		{"33.4", glucose.MmolPerL, "unit-slip"},
		{"1.0", glucose.MmolPerL, "value-absurd"},
		{"700", glucose.MmolPerL, "value-absurd"},
	} {
		err := p.Plausible(reading(t, tt.shown, tt.unit))
		if tt.key == "" && err != nil || tt.key != "" && !fault.Is(err, tt.key) {
			t.Errorf("%s %s: %v, want key %q", tt.shown, tt.unit, err, tt.key)
		}
		if f := fault.Of(err); f != nil && (f.Why == "" || f.Do == "" || f.Fields["reading"] == "") {
			t.Errorf("%s %s: the fault has not three parts and a field: %+v", tt.shown, tt.unit, f)
		}
	}
}

func TestBasis(t *testing.T) {
	p := Default()
	at := time.Date(2025, 10, 4, 9, 30, 0, 0, time.UTC)
	for _, tt := range []struct {
		ago   time.Duration
		known bool
		want  Basis
	}{
		{8 * time.Hour, true, Fasting},
		{8*time.Hour - time.Minute, true, Random},
		{12 * time.Hour, true, Fasting},
		{12 * time.Hour, false, Random},
		{-time.Hour, true, Random},
		{0, true, Random},
	} {
		if got := p.Basis(at.Add(-tt.ago), tt.known, at); got != tt.want {
			t.Errorf("ate %v ago (known %v): %s, want %s", tt.ago, tt.known, got, tt.want)
		}
	}
	if got := (Protocol{}).Basis(at.Add(-24*time.Hour), true, at); got != Random {
		t.Errorf("a protocol without fasting hours says %s", got)
	}
}

func TestFindingJSON(t *testing.T) {
	p := Default()
	f, err := p.Find(reading(t, "5.6", glucose.MmolPerL), Fasting)
	if err != nil {
		t.Fatal(err)
	}
	b, err := json.Marshal(f)
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{`"band":"raised"`, `"basis":"fasting"`, `"urgency":"weeks"`, `"reading":{"kind":"number","number":"5.6","unit":"mmol/L"}`, `"protocol":"2026.1"`, `"within_days":28`} {
		if !strings.Contains(string(b), want) {
			t.Errorf("the finding has no %s in %s", want, b)
		}
	}
	var back Finding
	if err := json.Unmarshal(b, &back); err != nil || fmt.Sprint(back) != fmt.Sprint(f) {
		t.Errorf("the finding comes back as %+v, %v", back, err)
	}
}

func TestOrder(t *testing.T) {
	for i, b := range Bands {
		if b.Order() != i {
			t.Errorf("%s has order %d, want %d", b, b.Order(), i)
		}
	}
	if Band("odd").Order() != -1 || Urgency("odd").Order() != -1 || Emergency.Order() != 4 {
		t.Errorf("orders of the unknown: %d, %d; of an emergency: %d", Band("odd").Order(), Urgency("odd").Order(), Emergency.Order())
	}
}
