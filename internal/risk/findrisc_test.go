package risk

import (
	"testing"

	"pgregory.net/rapid"

	"fairstick/internal/fault"
)

// calmFinn is a man to whom the form gives no point.
func calmFinn(t testing.TB) FindriscAnswers {
	return FindriscAnswers{
		Age: 30, Sex: Male, Height: tall(t, "200cm"), Weight: heavy(t, "90kg"), Waist: tall(t, "90cm"),
		Active: Yes, Vegetables: Yes, BloodPressureMedicine: No, HighGlucose: No, Family: NoKin,
	}
}

// No worked example is published with the form; these totals were computed by us from its printed points. The heights and
// weights are chosen to give the BMI exactly.
func TestFindriscWorkedExamples(t *testing.T) {
	for _, tt := range []struct {
		name  string
		a     FindriscAnswers
		want  []int // age, BMI, waist, active, vegetables, medicine, high glucose, family
		total int
		band  string
	}{
		{"man 58, BMI 31", FindriscAnswers{58, Male, tall(t, "200cm"), heavy(t, "124kg"), tall(t, "104cm"), No, Yes, Yes, No, CloseKin}, []int{3, 3, 4, 2, 0, 2, 0, 5}, 19, "high"},
		{"woman 44, BMI 24", FindriscAnswers{44, Female, tall(t, "150cm"), heavy(t, "54kg"), tall(t, "79cm"), Yes, Yes, No, No, NoKin}, []int{0, 0, 0, 0, 0, 0, 0, 0}, 0, "low"},
		{"woman 47, BMI 27", FindriscAnswers{47, Female, tall(t, "150cm"), heavy(t, "60.75kg"), tall(t, "85cm"), No, No, No, No, FurtherKin}, []int{2, 1, 3, 2, 1, 0, 0, 3}, 12, "moderate"},
		{"the most", FindriscAnswers{65, Female, tall(t, "5ft"), heavy(t, "200lb"), tall(t, "40in"), No, No, Yes, Yes, CloseKin}, []int{4, 3, 4, 2, 1, 2, 5, 5}, 26, "very-high"},
	} {
		r, err := Findrisc(tt.a)
		if err != nil {
			t.Errorf("%s: %v", tt.name, err)
			continue
		}
		for i, n := range tt.want {
			if r.Items[i].Points != n {
				t.Errorf("%s: %s gives %d, want %d", tt.name, r.Items[i].Item, r.Items[i].Points, n)
			}
		}
		if r.Total != tt.total || r.Band.Key != tt.band || r.Max != 26 || r.Cut != 15 || r.Increased() != (tt.total >= 15) {
			t.Errorf("%s: total %d of %d, band %s, cut %d", tt.name, r.Total, r.Max, r.Band.Key, r.Cut)
		}
	}
}

// Edges as printed on the Finnish form: ages 45-54, 55-64, over 64; BMI 25-30, higher than 30; waist 94-102 and 80-88 cm.
func TestFindriscEveryItem(t *testing.T) {
	age := func(n int) func(*FindriscAnswers) { return func(a *FindriscAnswers) { a.Age = n } }
	kg := func(s string) func(*FindriscAnswers) { return func(a *FindriscAnswers) { a.Weight = heavy(t, s) } }
	waist := func(sex Sex, s string) func(*FindriscAnswers) {
		return func(a *FindriscAnswers) { a.Sex, a.Waist = sex, tall(t, s) }
	}
	none := func(*FindriscAnswers) {}
	for _, tt := range []struct {
		item string
		set  func(*FindriscAnswers)
		want int
	}{
		{"age", age(18), 0},
		{"age", age(44), 0},
		{"age", age(45), 2},
		{"age", age(54), 2},
		{"age", age(55), 3},
		{"age", age(64), 3},
		{"age", age(65), 4},
		{"age", age(120), 4},
		{"bmi", kg("99.99kg"), 0},
		{"bmi", kg("100kg"), 1},
		{"bmi", kg("120kg"), 1},
		{"bmi", kg("120.01kg"), 3}, // 200 cm: BMI 25 and 30 exactly
		{"waist", waist(Male, "93.99cm"), 0},
		{"waist", waist(Male, "94cm"), 3},
		{"waist", waist(Male, "102cm"), 3},
		{"waist", waist(Male, "102.01cm"), 4},
		{"waist", waist(Female, "79.99cm"), 0},
		{"waist", waist(Female, "80cm"), 3},
		{"waist", waist(Female, "88cm"), 3},
		{"waist", waist(Female, "88.01cm"), 4},
		{"waist", waist(Male, "37in"), 0},
		{"waist", waist(Male, "37.01in"), 3}, // 93.98 and 94.0054 cm
		{"waist", waist(Male, "40.15in"), 3},
		{"waist", waist(Male, "40.16in"), 4}, // 101.98 and 102.0064 cm
		{"active", none, 0},
		{"active", func(a *FindriscAnswers) { a.Active = No }, 2},
		{"vegetables", none, 0},
		{"vegetables", func(a *FindriscAnswers) { a.Vegetables = No }, 1},
		{"blood-pressure-medicine", none, 0},
		{"blood-pressure-medicine", func(a *FindriscAnswers) { a.BloodPressureMedicine = Yes }, 2},
		{"high-glucose", none, 0},
		{"high-glucose", func(a *FindriscAnswers) { a.HighGlucose = Yes }, 5},
		{"family", none, 0},
		{"family", func(a *FindriscAnswers) { a.Family = FurtherKin }, 3},
		{"family", func(a *FindriscAnswers) { a.Family = CloseKin }, 5},
	} {
		a := calmFinn(t)
		tt.set(&a)
		r, err := Findrisc(a)
		if err != nil {
			t.Errorf("%s: %v", tt.item, err)
			continue
		}
		if got := points(r)[tt.item]; got != tt.want {
			t.Errorf("%s gives %d, want %d (age %d, %s, waist %s)", tt.item, got, tt.want, a.Age, a.Weight, a.Waist)
		}
	}
}

// Bands as the Finnish form prints them: lower than 7, 7-11, 12-14, 15-20, higher than 20.
func TestFindriscBands(t *testing.T) {
	for total, want := range map[int]string{
		0: "low", 6: "low", 7: "slightly-elevated", 11: "slightly-elevated", 12: "moderate", 14: "moderate",
		15: "high", 20: "high", 21: "very-high", 26: "very-high",
	} {
		r := result(ScoreFindrisc, []Item{{Points: total}}, findriscBands, FindriscCut, FindriscSource, nil)
		if r.Band.Key != want {
			t.Errorf("%d points are %s, want %s", total, r.Band.Key, want)
		}
	}
}

func TestFindriscRefuses(t *testing.T) {
	for _, tt := range []struct {
		field string
		set   func(*FindriscAnswers)
	}{
		{"age", func(a *FindriscAnswers) { a.Age = 17 }},
		{"sex", func(a *FindriscAnswers) { a.Sex = "" }},
		{"height", func(a *FindriscAnswers) { a.Height = Length{} }},
		{"weight", func(a *FindriscAnswers) { a.Weight = Weight{} }},
		{"waist", func(a *FindriscAnswers) { a.Waist = Length{} }},
		{"waist", func(a *FindriscAnswers) { a.Waist = tall(t, "34cm") }},
		{"waist", func(a *FindriscAnswers) { a.Waist = tall(t, "2.6m") }},
		{"active", func(a *FindriscAnswers) { a.Active = "" }},
		{"vegetables", func(a *FindriscAnswers) { a.Vegetables = "often" }},
		{"blood-pressure-medicine", func(a *FindriscAnswers) { a.BloodPressureMedicine = "" }},
		{"high-glucose", func(a *FindriscAnswers) { a.HighGlucose = "" }},
		{"family", func(a *FindriscAnswers) { a.Family = "" }},
		{"family", func(a *FindriscAnswers) { a.Family = "yes" }},
	} {
		a := calmFinn(t)
		tt.set(&a)
		_, err := Findrisc(a)
		refused(t, err, tt.field)
	}
	_, err := Findrisc(FindriscAnswers{})
	if f := fault.Of(err); len(f.Fields) != 10 {
		t.Errorf("an empty form has messages beside %v, want all ten answers", f.Fields)
	}
}

func TestFindriscProperties(t *testing.T) {
	answer := rapid.SampledFrom([]Answer{Yes, No})
	rapid.Check(t, func(t *rapid.T) {
		a := FindriscAnswers{
			Age: rapid.IntRange(minAge, maxAge).Draw(t, "age"), Sex: rapid.SampledFrom([]Sex{Male, Female}).Draw(t, "sex"),
			Height: drawLength(t, "height", minHeight, maxHeight), Weight: drawWeight(t, "weight"), Waist: drawLength(t, "waist", minWaist, maxWaist),
			Active: answer.Draw(t, "active"), Vegetables: answer.Draw(t, "vegetables"), BloodPressureMedicine: answer.Draw(t, "medicine"),
			HighGlucose: answer.Draw(t, "high glucose"), Family: rapid.SampledFrom([]Kin{NoKin, FurtherKin, CloseKin}).Draw(t, "family"),
		}
		r := sound(t)(Findrisc(a))
		more := a
		switch rapid.SampledFrom([]string{"age", "weight", "waist"}).Draw(t, "grows") {
		case "age":
			more.Age = rapid.IntRange(a.Age, maxAge).Draw(t, "older")
		case "weight":
			if w := drawWeight(t, "heavier"); w.units >= a.Weight.units {
				more.Weight = w
			}
		case "waist":
			if l := drawLength(t, "wider", minWaist, maxWaist); l.um >= a.Waist.um {
				more.Waist = l
			}
		}
		if m := sound(t)(Findrisc(more)); m.Total < r.Total {
			t.Fatalf("%+v gives %d, but %+v gives %d", a, r.Total, more, m.Total)
		}
	})
}
