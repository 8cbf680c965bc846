package measure

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

func near(t *testing.T, name string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within) {
		t.Errorf("%s = %.8f, want %.8f within %g", name, got, want, within)
	}
}

// Eight students and three items, printed with their correlations as .91, -.91 and .00: Brown JD, Point-biserial correlation
// coefficients, Shiken: JALT Testing & Evaluation SIG Newsletter 2001;5(3), table 2 (hosted.jalt.org/test/bro_12.htm).
// An item that all have right has no correlation; the paper prints .00, we say that it is not defined.
func TestPointBiserialPublished(t *testing.T) {
	totals := []float64{50, 45, 45, 40, 35, 30, 30, 25}
	one := []bool{true, true, true, true, false, false, false, false}
	r, err := PointBiserial(one, totals)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "item 1 by the printed means and deviation", r, (45-30)/8.29*0.5, 0.001)
	near(t, "item 1 as printed, which rounds 15/8.29 to 1.81 first", r, 0.91, 0.006)
	two := []bool{false, false, false, false, true, true, true, true}
	if r, err = PointBiserial(two, totals); err != nil {
		t.Fatal(err)
	}
	near(t, "item 2 as printed", r, -0.91, 0.006)
	if _, err = PointBiserial([]bool{true, true, true, true, true, true, true, true}, totals); err == nil {
		t.Error("an item that everybody has right has a correlation")
	}
	for name, c := range map[string]struct {
		right []bool
		score []float64
	}{
		"lengths":     {[]bool{true}, nil},
		"same scores": {[]bool{true, false}, []float64{3, 3}},
		"NaN":         {[]bool{true, false}, []float64{math.NaN(), 1}},
		"nobody":      {nil, nil},
	} {
		if _, err := PointBiserial(c.right, c.score); err == nil {
			t.Errorf("%s: no error", name)
		}
	}
}

// A class of 40, groups of 27 % (11), 9 right in the upper and 3 in the lower: D = (9-3)/11 = 0.55. A practice item with its answer on
// a public page (examoo.com, question 6797; a weak source, but the arithmetic can be followed by hand).
func TestDiscriminationPublished(t *testing.T) {
	right := make([]bool, 40)
	for i := range 3 {
		right[i+4] = true // in the lower 11
	}
	for i := range 9 {
		right[39-i] = true // in the upper 11
	}
	right[20], right[22] = true, true // in the middle: they do not count
	d, err := Discrimination(right)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "D", d, 6.0/11, 1e-12)
	near(t, "D as printed", d, 0.55, 0.005)
	if _, err := Discrimination(right[:3]); err == nil {
		t.Error("three answers make two groups")
	}
}

func TestKappaPublished(t *testing.T) {
	for _, c := range []struct {
		source          string
		table           [][]int
		kappa, se       float64
		low, high       float64
		withinK, within float64
	}{
		{ // The manual of the R package statpsych prints these for ci.kappa(.05, 31, 12, 4, 58), after Fleiss & Paik 2003.
			"statpsych ci.kappa", [][]int{{31, 12}, {4, 58}}, 0.6756757, 0.07344761, 0.5317210, 0.8196303, 5e-8, 5e-8,
		},
		{ // Two readers of 50 grant proposals, kappa 0.4 with po 0.7 and pe 0.5: a well-known encyclopedia example, from memory.
			"50 proposals", [][]int{{20, 5}, {10, 15}}, 0.4, math.NaN(), math.NaN(), math.NaN(), 1e-12, 0,
		},
		{ // Fleiss, Cohen & Everitt 1969: 200 people, three diagnoses, kappa .429; SE .0537 as restated on davidakenny.net/kkc/c2.
			"FCE 1969", [][]int{{106, 10, 4}, {22, 28, 10}, {2, 12, 6}}, 0.429, 0.0537, math.NaN(), math.NaN(), 5e-4, 5e-5,
		},
		{ // 85 X-rays, two radiologists, four grades: kappa 0.4728, agreement 63.53 %, expected 30.82 %: manual of Stata, kap; from memory.
			"85 X-rays", [][]int{{21, 12, 0, 0}, {4, 17, 1, 0}, {3, 9, 15, 2}, {0, 0, 0, 1}}, 0.4728, math.NaN(), math.NaN(), math.NaN(), 5e-5, 0,
		},
	} {
		a, err := Kappa(c.table, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		near(t, c.source+" kappa", a.Kappa, c.kappa, c.withinK)
		for name, x := range map[string][2]float64{"SE": {a.SE, c.se}, "low": {a.Low, c.low}, "high": {a.High, c.high}} {
			if !math.IsNaN(x[1]) {
				near(t, c.source+" "+name, x[0], x[1], c.within)
			}
		}
	}
	for name, table := range map[string][][]int{
		"one mark": {{5}}, "not square": {{1, 2}, {3}}, "negative": {{1, -1}, {0, 2}}, "empty": {{0, 0}, {0, 0}}, "one mark throughout": {{9, 0}, {0, 0}},
	} {
		if _, err := Kappa(table, 0.95); err == nil {
			t.Errorf("%s: no error", name)
		}
	}
	if _, err := Kappa([][]int{{1, 0}, {0, 1}}, 1); err == nil {
		t.Error("a confidence of 1: no error")
	}
}

func TestKappaProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		k := rapid.IntRange(2, 4).Draw(t, "marks")
		table, turned := make([][]int, k), make([][]int, k)
		for i := range k {
			table[i] = rapid.SliceOfN(rapid.IntRange(0, 30), k, k).Draw(t, "row")
		}
		for i := range k {
			for j := range k {
				turned[i] = append(turned[i], table[j][i])
			}
		}
		a, err := Kappa(table, 0.95)
		b, errB := Kappa(turned, 0.95)
		if (err == nil) != (errB == nil) {
			t.Fatalf("%v, turned %v", err, errB)
		}
		if err != nil {
			return
		}
		if math.Abs(a.Kappa-b.Kappa) > 1e-9 || math.Abs(a.SE-b.SE) > 1e-9 {
			t.Fatalf("the observers' order matters: %+v %+v", a, b)
		}
		if a.Kappa > 1+1e-12 || a.Low > a.Kappa+1e-12 || a.High < a.Kappa-1e-12 || math.IsNaN(a.SE) {
			t.Fatalf("%+v", a)
		}
		for i := range k {
			for j := range k {
				if i != j {
					table[i][j] = 0
				}
			}
		}
		if full, err := Kappa(table, 0.95); err == nil && (math.Abs(full.Kappa-1) > 1e-12 || full.SE > 1e-6) {
			t.Fatalf("full agreement: %+v", full)
		}
	})
}

// Newcombe 1998, Stat Med 17:857-72, method 3: 81 of 263 gives 0.2553 to 0.3662, 15 of 148 gives 0.0624 to 0.1605.
func TestPassRatePublished(t *testing.T) {
	for _, c := range []struct {
		x, n      int
		low, high float64
	}{{81, 263, 0.2553, 0.3662}, {15, 148, 0.0624, 0.1605}, {0, 20, 0, 0.1611}} {
		r, err := PassRate(c.x, c.n, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "low", r.Low, c.low, 5e-5)
		near(t, "high", r.High, c.high, 5e-5)
		near(t, "share", r.Share, float64(c.x)/float64(c.n), 1e-15)
	}
	if _, err := PassRate(3, 2, 0.95); err == nil {
		t.Error("3 of 2 passed")
	}
}

// A class in which the better half knows "good", the worse half gets "turned" right, everybody knows "easy" and hardly anyone "hard".
func TestItems(t *testing.T) {
	var class []Sitting
	for i := range 60 {
		s := Sitting{ID: fmt.Sprintf("%02d", i), Right: map[string]bool{}}
		for k := range 10 {
			s.Right[fmt.Sprintf("base%d", k)] = i > 6*k
		}
		s.Right["good"], s.Right["turned"], s.Right["easy"], s.Right["hard"] = i >= 30, i < 30, true, i == 33
		if i < 10 {
			s.Right["new"] = true
		}
		class = append(class, s)
	}
	items := Items(class)
	find := func(key string) Item {
		i := slices.IndexFunc(items, func(x Item) bool { return x.Key == key })
		if i < 0 {
			t.Fatalf("no item %s", key)
		}
		return items[i]
	}
	for key, want := range map[string][]string{
		"good": nil, "turned": {WrongWay}, "easy": {TooEasy, NoRestGiven}, "hard": {TooHard, Weak}, "new": {TooFew},
	} {
		if got := find(key); !slices.Equal(got.Flags, want) {
			t.Errorf("%s: %+v, flags %v, want %v", key, got, got.Flags, want)
		}
	}
	if g := find("good"); g.N != 60 || g.Difficulty != 0.5 || *g.Discrimination != 1 || *g.PointBiserial < 0.8 {
		t.Errorf("good: %+v, D %v, r %v", g, *g.Discrimination, *g.PointBiserial)
	}
	if d := find("turned").Discrimination; *d != -1 {
		t.Errorf("turned: D %v", *d)
	}
	if !slices.IsSortedFunc(items, func(a, b Item) int {
		if a.Key < b.Key {
			return -1
		}
		return 1
	}) {
		t.Error("not in the order of keys")
	}
	if len(Items(nil)) != 0 {
		t.Error("no sittings give items")
	}
}

// The order of the sittings changes nothing, and every number stays in its range.
func TestItemsInAnyOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(0, 40).Draw(t, "people")
		var class []Sitting
		for i := range n {
			right := rapid.MapOf(rapid.SampledFrom([]string{"a", "b", "c", "d", "e"}), rapid.Bool()).Draw(t, "right")
			class = append(class, Sitting{ID: fmt.Sprint(i), Right: right})
		}
		one, two := Items(class), Items(rapid.Permutation(class).Draw(t, "order"))
		if len(one) != len(two) {
			t.Fatal("another number of items")
		}
		for i := range one {
			a, b := one[i], two[i]
			same := a.Key == b.Key && a.N == b.N && a.Difficulty == b.Difficulty && slices.Equal(a.Flags, b.Flags) && (a.PointBiserial == nil) == (b.PointBiserial == nil)
			if !same || a.Discrimination != nil && *a.Discrimination != *b.Discrimination {
				t.Fatalf("%+v and %+v", a, b)
			}
			if a.PointBiserial != nil && math.Abs(*a.PointBiserial) > 1+1e-9 || a.Difficulty < 0 || a.Difficulty > 1 {
				t.Fatalf("out of range: %+v", a)
			}
		}
	})
}
