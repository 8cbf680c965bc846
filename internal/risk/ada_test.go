package risk

import (
	"fmt"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"fairstick/internal/fault"
)

// tall and heavy read a measure that the test knows to be well written.
func tall(t testing.TB, text string) Length {
	t.Helper()
	l, err := ParseLength("height", text)
	if err != nil {
		t.Fatal(err)
	}
	return l
}

func heavy(t testing.TB, text string) Weight {
	t.Helper()
	w, err := ParseWeight(text)
	if err != nil {
		t.Fatal(err)
	}
	return w
}

func points(r Result) map[string]int {
	m := map[string]int{}
	for _, it := range r.Items {
		m[it.Item] = it.Points
	}
	return m
}

// calm is a woman to whom the form gives no point.
func calm(t testing.TB) ADAAnswers {
	return ADAAnswers{Age: 30, Sex: Female, Gestational: No, Family: No, BloodPressure: No, Active: Yes, Height: tall(t, "5ft4in"), Weight: heavy(t, "140lb")}
}

// No worked example is published with the form; these totals were computed by us from its printed points.
func TestADAWorkedExamples(t *testing.T) {
	for _, tt := range []struct {
		name string
		a    ADAAnswers
		want []int // age, sex, gestational, family, blood pressure, active, weight
		band string
	}{
		{"man 52", ADAAnswers{52, Male, "", Yes, Yes, No, tall(t, "5ft10in"), heavy(t, "215lb")}, []int{2, 1, 0, 1, 1, 1, 2}, "increased"},
		{"woman 38", ADAAnswers{38, Female, No, No, No, Yes, tall(t, "5ft4in"), heavy(t, "150lb")}, []int{0, 0, 0, 0, 0, 0, 1}, "below-cut"},
		{"woman 60", ADAAnswers{60, Female, Yes, Yes, No, Yes, tall(t, "5ft2in"), heavy(t, "163lb")}, []int{3, 0, 1, 1, 0, 0, 1}, "increased"},
		{"man 40", ADAAnswers{40, Male, "", No, No, Yes, tall(t, "5ft9in"), heavy(t, "168lb")}, []int{1, 1, 0, 0, 0, 0, 0}, "below-cut"},
		{"man 50 at the cut point", ADAAnswers{50, Male, No, No, Yes, Yes, tall(t, "5ft7in"), heavy(t, "159lb")}, []int{2, 1, 0, 0, 1, 0, 1}, "increased"},
		{"one below the cut point", ADAAnswers{50, Male, "", No, Yes, Yes, tall(t, "5ft7in"), heavy(t, "158lb")}, []int{2, 1, 0, 0, 1, 0, 0}, "below-cut"},
		{"most a man can have", ADAAnswers{60, Male, "", Yes, Yes, No, tall(t, "6ft"), heavy(t, "294lb")}, []int{3, 1, 0, 1, 1, 1, 3}, "increased"},
		{"most a woman can have", ADAAnswers{60, Female, Yes, Yes, Yes, No, tall(t, "6ft"), heavy(t, "294lb")}, []int{3, 0, 1, 1, 1, 1, 3}, "increased"},
	} {
		r, err := ADA(tt.a)
		if err != nil {
			t.Errorf("%s: %v", tt.name, err)
			continue
		}
		total := 0
		for i, n := range tt.want {
			total += n
			if r.Items[i].Points != n {
				t.Errorf("%s: %s gives %d, want %d", tt.name, r.Items[i].Item, r.Items[i].Points, n)
			}
		}
		if r.Total != total || r.Band.Key != tt.band || r.Max != 10 || r.Cut != 5 || r.Increased() != (tt.band == "increased") {
			t.Errorf("%s: total %d of %d, band %s, cut %d, increased %v", tt.name, r.Total, r.Max, r.Band.Key, r.Cut, r.Increased())
		}
	}
}

// Edges of the ADA/CDC form: under 40, 40-49, 50-59, 60 and older.
func TestADAEveryItem(t *testing.T) {
	for _, tt := range []struct {
		item string
		set  func(*ADAAnswers)
		want int
	}{
		{"age", func(a *ADAAnswers) { a.Age = 18 }, 0},
		{"age", func(a *ADAAnswers) { a.Age = 39 }, 0},
		{"age", func(a *ADAAnswers) { a.Age = 40 }, 1},
		{"age", func(a *ADAAnswers) { a.Age = 49 }, 1},
		{"age", func(a *ADAAnswers) { a.Age = 50 }, 2},
		{"age", func(a *ADAAnswers) { a.Age = 59 }, 2},
		{"age", func(a *ADAAnswers) { a.Age = 60 }, 3},
		{"age", func(a *ADAAnswers) { a.Age = 120 }, 3},
		{"sex", func(a *ADAAnswers) { a.Sex, a.Gestational = Male, "" }, 1},
		{"sex", func(*ADAAnswers) {}, 0},
		{"gestational", func(a *ADAAnswers) { a.Gestational = Yes }, 1},
		{"gestational", func(*ADAAnswers) {}, 0},
		{"gestational", func(a *ADAAnswers) { a.Sex = Male }, 0},
		{"family", func(a *ADAAnswers) { a.Family = Yes }, 1},
		{"family", func(*ADAAnswers) {}, 0},
		{"blood-pressure", func(a *ADAAnswers) { a.BloodPressure = Yes }, 1},
		{"blood-pressure", func(*ADAAnswers) {}, 0},
		{"active", func(a *ADAAnswers) { a.Active = No }, 1},
		{"active", func(*ADAAnswers) {}, 0},
	} {
		a := calm(t)
		tt.set(&a)
		r, err := ADA(a)
		if err != nil {
			t.Errorf("%s: %v", tt.item, err)
			continue
		}
		if got := points(r)[tt.item]; got != tt.want {
			t.Errorf("%s of %+v gives %d, want %d", tt.item, a, got, tt.want)
		}
	}
}

// printedChart is the weight chart as the ADA/CDC form prints it, ranges and all; the table in the code keeps lower ends only.
const printedChart = `
4'10" 119-142 143-190 191
4'11" 124-147 148-197 198
5'0"  128-152 153-203 204
5'1"  132-157 158-210 211
5'2"  136-163 164-217 218
5'3"  141-168 169-224 225
5'4"  145-173 174-231 232
5'5"  150-179 180-239 240
5'6"  155-185 186-246 247
5'7"  159-190 191-254 255
5'8"  164-196 197-261 262
5'9"  169-202 203-269 270
5'10" 174-208 209-277 278
5'11" 179-214 215-285 286
6'0"  184-220 221-293 294
6'1"  189-226 227-301 302
6'2"  194-232 233-310 311
6'3"  200-239 240-318 319
6'4"  205-245 246-327 328`

func TestChartEdges(t *testing.T) {
	lines := strings.Split(strings.TrimSpace(printedChart), "\n")
	if len(lines) != len(weightChart) {
		t.Fatalf("the form has %d rows, the table %d", len(lines), len(weightChart))
	}
	for _, line := range lines {
		var height string
		var from1, to1, from2, to2, from3 int
		if n, err := fmt.Sscanf(line, "%s %d-%d %d-%d %d", &height, &from1, &to1, &from2, &to2, &from3); n != 6 || err != nil {
			t.Fatalf("%q: %v", line, err)
		}
		for lb, want := range map[int]int{from1 - 1: 0, from1: 1, to1: 1, from2: 2, to2: 2, from3: 3} {
			a := calm(t)
			a.Height, a.Weight = tall(t, height), heavy(t, fmt.Sprintf("%dlb", lb))
			r, err := ADA(a)
			if err != nil {
				t.Fatal(err)
			}
			if got := points(r)["weight"]; got != want {
				t.Errorf("%s and %d lb give %d, want %d", height, lb, got, want)
			}
		}
	}
}

// All but the printed rows are computed by us.
func TestWeightBetweenAndOutsideTheChart(t *testing.T) {
	for _, tt := range []struct {
		height, weight string
		want           int
		shown          string
	}{
		{"5ft9in", "203lb", 2, "203 lb, 5 ft 9 in: chart 5 ft 9 in, 203 lb or more"}, // BMI 29.98 would give 1: the chart goes first
		{"5ft9in", "202.99lb", 1, "202.99 lb, 5 ft 9 in: chart 5 ft 9 in, 169 lb or more"},
		{"5ft10in", "94.8kg", 1, "94.8 kg, 5 ft 10 in: chart 5 ft 10 in, 174 lb or more"}, // 208.998 lb
		{"5ft10in", "94.81kg", 2, ""},                                           // 209.02 lb
		{"178cm", "98kg", 2, "98 kg, 178 cm: chart 5 ft 10 in, 209 lb or more"}, // 70.08 in, 216.05 lb
		{"5ft9.5in", "203lb", 2, ""},                                            // a half inch takes the shorter row
		{"5ft9.51in", "203lb", 1, "203 lb, 5 ft 9.51 in: chart 5 ft 10 in, 174 lb or more"},
		{"4ft10in", "118.99lb", 0, "118.99 lb, 4 ft 10 in: chart 4 ft 10 in, under 119 lb"},
		{"58in", "119lb", 1, ""}, // by the chart; BMI 24.87 would give 0
		{"57.99in", "119lb", 0, "119 lb, 57.99 in: BMI under 25"},
		{"76in", "246lb", 2, ""}, // by the chart; BMI 29.94 would give 1
		{"76.01in", "246lb", 1, "246 lb, 76.01 in: BMI 25 or more"},
		{"150cm", "56.25kg", 1, ""}, // in the chart's height: 59.06 in, 124.01 lb
		{"140cm", "48.99kg", 0, "48.99 kg, 140 cm: BMI under 25"},
		{"140cm", "49kg", 1, "49 kg, 140 cm: BMI 25 or more"}, // BMI 25 exactly
		{"140cm", "58.79kg", 1, ""},
		{"140cm", "58.8kg", 2, "58.8 kg, 140 cm: BMI 30 or more"}, // BMI 30 exactly
		{"140cm", "78.39kg", 2, ""},
		{"140cm", "78.4kg", 3, "78.4 kg, 140 cm: BMI 40 or more"}, // BMI 40 exactly
		{"2m", "99.99kg", 0, ""},
		{"2m", "100kg", 1, ""},
		{"200cm", "119.99kg", 1, ""},
		{"200cm", "120kg", 2, ""},
		{"200cm", "159.99kg", 2, ""},
		{"200cm", "160kg", 3, ""},
	} {
		it := weightItem(heavy(t, tt.weight), tall(t, tt.height))
		if it.Points != tt.want {
			t.Errorf("%s and %s give %d, want %d (%s)", tt.height, tt.weight, it.Points, tt.want, it.Shown.En)
		}
		if tt.shown != "" && it.Shown.En != tt.shown {
			t.Errorf("%s and %s show %q, want %q", tt.height, tt.weight, it.Shown.En, tt.shown)
		}
	}
}

func TestADARefuses(t *testing.T) {
	for _, tt := range []struct {
		field string
		set   func(*ADAAnswers)
	}{
		{"age", func(a *ADAAnswers) { a.Age = 17 }},
		{"age", func(a *ADAAnswers) { a.Age = 121 }},
		{"age", func(a *ADAAnswers) { a.Age = -1 }},
		{"sex", func(a *ADAAnswers) { a.Sex = "" }},
		{"sex", func(a *ADAAnswers) { a.Sex = "other" }},
		{"gestational", func(a *ADAAnswers) { a.Gestational = "" }},
		{"gestational", func(a *ADAAnswers) { a.Sex, a.Gestational = Male, Yes }},
		{"gestational", func(a *ADAAnswers) { a.Sex, a.Gestational = Male, "perhaps" }},
		{"family", func(a *ADAAnswers) { a.Family = "" }},
		{"family", func(a *ADAAnswers) { a.Family = "perhaps" }},
		{"blood-pressure", func(a *ADAAnswers) { a.BloodPressure = "" }},
		{"active", func(a *ADAAnswers) { a.Active = "" }},
		{"height", func(a *ADAAnswers) { a.Height = Length{} }},
		{"height", func(a *ADAAnswers) { a.Height = tall(t, "89.99cm") }},
		{"height", func(a *ADAAnswers) { a.Height = tall(t, "250.01cm") }},
		{"weight", func(a *ADAAnswers) { a.Weight = Weight{} }},
		{"weight", func(a *ADAAnswers) { a.Weight = heavy(t, "24.99kg") }},
		{"weight", func(a *ADAAnswers) { a.Weight = heavy(t, "400.01kg") }},
	} {
		a := calm(t)
		tt.set(&a)
		r, err := ADA(a)
		refused(t, err, tt.field)
		if r.Items != nil || r.Total != 0 {
			t.Errorf("a refused form gives %+v", r)
		}
	}
	_, err := ADA(ADAAnswers{})
	f := fault.Of(err)
	for _, field := range []string{"age", "sex", "family", "blood-pressure", "active", "height", "weight"} {
		if f.Fields[field] == "" {
			t.Errorf("an empty form says nothing beside %s: %v", field, f.Fields)
		}
	}
	if len(f.Fields) != 7 || f.Key != "risk-age" {
		t.Errorf("an empty form: key %s, fields %v", f.Key, f.Fields)
	}
}

// refused checks an Invalid fault in three parts about exactly one field.
func refused(t *testing.T, err error, field string) {
	t.Helper()
	f := fault.Of(err)
	if f == nil {
		t.Errorf("%s: taken", field)
		return
	}
	if f.Kind != fault.Invalid || f.Key != "risk-"+field || f.Fields[field] != f.Sentence || len(f.Fields) != 1 {
		t.Errorf("%s: kind %s, key %s, fields %v", field, f.Kind, f.Key, f.Fields)
	}
	if f.Sentence == "" || f.Why == "" || f.Do == "" || len(f.Sentence) > 120 {
		t.Errorf("%s: the fault has not three short parts: %q", field, f.Error())
	}
}

func drawADA(t *rapid.T) ADAAnswers {
	answer := rapid.SampledFrom([]Answer{Yes, No})
	a := ADAAnswers{
		Age: rapid.IntRange(minAge, maxAge).Draw(t, "age"), Sex: rapid.SampledFrom([]Sex{Male, Female}).Draw(t, "sex"),
		Family: answer.Draw(t, "family"), BloodPressure: answer.Draw(t, "blood pressure"), Active: answer.Draw(t, "active"),
		Height: drawLength(t, "height", minHeight, maxHeight), Weight: drawWeight(t, "weight"),
	}
	if a.Sex == Female {
		a.Gestational = answer.Draw(t, "gestational")
	}
	return a
}

func drawLength(t *rapid.T, name string, low, high Length) Length {
	if rapid.Bool().Draw(t, name+" in inches") {
		return Length{rapid.Int64Range(low.um/254+1, high.um/254).Draw(t, name) * 254, "ft"}
	}
	return Length{rapid.Int64Range(low.um/100, high.um/100).Draw(t, name) * 100, "cm"}
}

func drawWeight(t *rapid.T, name string) Weight {
	if rapid.Bool().Draw(t, name+" in pounds") {
		return Weight{rapid.Int64Range(minWeight.units/(perPound/100)+1, maxWeight.units/(perPound/100)).Draw(t, name) * (perPound / 100), "lb"}
	}
	return Weight{rapid.Int64Range(minWeight.units/(perKG/100), maxWeight.units/(perKG/100)).Draw(t, name) * (perKG / 100), "kg"}
}

func TestADAProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := drawADA(t)
		r := sound(t)(ADA(a))
		older, heavier := a, a
		older.Age = rapid.IntRange(a.Age, maxAge).Draw(t, "older")
		if w := drawWeight(t, "heavier"); w.units >= a.Weight.units {
			heavier.Weight = w
		}
		if o := sound(t)(ADA(older)); o.Total < r.Total {
			t.Fatalf("%+v: %d, but at %d years %d", a, r.Total, older.Age, o.Total)
		}
		if h := sound(t)(ADA(heavier)); h.Total < r.Total {
			t.Fatalf("%+v: %d, but with %s %d", a, r.Total, heavier.Weight, h.Total)
		}
		taller := a
		if l := drawLength(t, "taller", minHeight, maxHeight); l.um >= a.Height.um && inChart(l) && inChart(a.Height) {
			taller.Height = l
		}
		if tr := sound(t)(ADA(taller)); tr.Total > r.Total {
			t.Fatalf("%+v: %d, but at %s %d", a, r.Total, taller.Height, tr.Total)
		}
	})
}

func inChart(l Length) bool { _, ok := rowOf(l); return ok }

// sound checks what holds for every result: the total is the sum, lies in 0 to Max and in its band, and nothing is left blank.
func sound(t *rapid.T) func(Result, error) Result {
	return func(r Result, err error) Result {
		if err != nil {
			t.Fatal(err)
		}
		sum := 0
		for _, it := range r.Items {
			sum += it.Points
			if it.Points < 0 || it.Item == "" || it.Answer == "" || it.Label.En == "" || it.Label.Es == "" || it.Shown.En == "" || it.Shown.Es == "" {
				t.Fatalf("item %+v", it)
			}
		}
		if sum != r.Total || r.Total < 0 || r.Total > r.Max || r.Total < r.Band.From || r.Total > r.Band.To || r.Source == "" {
			t.Fatalf("result %+v with a sum of %d", r, sum)
		}
		if r.Increased() != (r.Band.From >= r.Cut) {
			t.Fatalf("the band %s and the cut point %d disagree at %d", r.Band.Key, r.Cut, r.Total)
		}
		return r
	}
}
