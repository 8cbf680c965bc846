package risk

import (
	"math/big"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"fairstick/internal/fault"
)

func TestParseLength(t *testing.T) {
	for _, tt := range []struct {
		text  string
		um    int64
		shown string
	}{
		{"5ft10in", 1_778_000, "5 ft 10 in"},
		{" 5 FT 10 IN ", 1_778_000, "5 ft 10 in"},
		{`5'10"`, 1_778_000, "5 ft 10 in"},
		{"5’10”", 1_778_000, "5 ft 10 in"},
		{"5ft10", 1_778_000, "5 ft 10 in"},
		{"6ft", 1_828_800, "6 ft 0 in"},
		{"5ft0in", 1_524_000, "5 ft 0 in"},
		{"5 feet 10.5 inches", 1_790_700, "5 ft 10.5 in"},
		{"70in", 1_778_000, "70 in"},
		{`37.01"`, 940_054, "37.01 in"},
		{"178cm", 1_780_000, "178 cm"},
		{"178.5 cm", 1_785_000, "178.5 cm"},
		{"178.05cm", 1_780_500, "178.05 cm"},
		{"1.78m", 1_780_000, "178 cm"},
		{"1.8 m", 1_800_000, "180 cm"},
		{"99.99m", 99_990_000, "9999 cm"},
		{"100.00cm", 1_000_000, "100 cm"},
	} {
		l, err := ParseLength("height", tt.text)
		if err != nil || l.um != tt.um || l.String() != tt.shown {
			t.Errorf("ParseLength(%q) = %d, %q, %v; want %d, %q", tt.text, l.um, l, err, tt.um, tt.shown)
		}
	}
	for _, text := range []string{
		"", "178", "5.10", "5ft12in", "5ft11.999in", "178,5cm", "-178cm", "178.555cm", "1e2cm", "cm", "ft", "178.cm", ".5m", "17800000cm", "5ft10cm", "178kg",
		"1.7.8m", "55ft", "100m", "NaNcm", "١٧٨cm", strings.Repeat("9", 4000) + "cm",
	} {
		l, err := ParseLength("waist", text)
		refused(t, err, "waist")
		if !l.IsZero() || l.String() != "" {
			t.Errorf("ParseLength(%.20q) gives %v", text, l)
		}
	}
}

func TestParseWeight(t *testing.T) {
	for _, tt := range []struct {
		text  string
		units int64 // tenths of a microgram; 1 lb = 0.45359237 kg exactly (international pound, 1959)
		shown string
	}{
		{"1lb", 4_535_923_700, "1 lb"},
		{"215 LBS", 975_223_595_500, "215 lb"},
		{"215.5lb", 977_491_557_350, "215.5 lb"},
		{"0.01lb", 45_359_237, "0.01 lb"},
		{"98kg", 980_000_000_000, "98 kg"},
		{"98.25 kg", 982_500_000_000, "98.25 kg"},
	} {
		w, err := ParseWeight(tt.text)
		if err != nil || w.units != tt.units || w.String() != tt.shown {
			t.Errorf("ParseWeight(%q) = %d, %q, %v; want %d, %q", tt.text, w.units, w, err, tt.units, tt.shown)
		}
	}
	for _, text := range []string{"", "215", "98,5kg", "15st", "-98kg", "98.555kg", "98kglb", "98cm", "kg", "99999kg"} {
		w, err := ParseWeight(text)
		refused(t, err, "weight")
		if !w.IsZero() || w.String() != "" {
			t.Errorf("ParseWeight(%q) gives %v", text, w)
		}
	}
}

// The integers are held against fractions of any size.
func TestCompareBMIIsExact(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w, h := drawWeight(t, "weight"), drawLength(t, "height", minHeight, maxHeight)
		n := rapid.Int64Range(10, 60).Draw(t, "limit")
		m := big.NewRat(h.um, 1_000_000)
		bmi := new(big.Rat).Quo(big.NewRat(w.units, perKG), m.Mul(m, m))
		if got, want := compareBMI(w, h, n), bmi.Cmp(big.NewRat(n, 1)); got != want {
			t.Fatalf("%s at %s against %d: %d, want %d", w, h, n, got, want)
		}
	})
}

func TestMeasuresReadBackWhatTheyShow(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w, h := drawWeight(t, "weight"), drawLength(t, "height", minHeight, maxHeight)
		if back, err := ParseWeight(w.String()); err != nil || back != w {
			t.Fatalf("%v comes back as %v, %v", w, back, err)
		}
		if back, err := ParseLength("height", h.String()); err != nil || back != h {
			t.Fatalf("%v comes back as %v, %v", h, back, err)
		}
	})
}

// Questions, answers and bands are read by participants: no word of theirs may sound like a finding about the person.
func TestWordsForPeople(t *testing.T) {
	finn, err := Findrisc(calmFinn(t))
	if err != nil {
		t.Fatal(err)
	}
	ada, err := ADA(calm(t))
	if err != nil {
		t.Fatal(err)
	}
	var texts []Text
	for _, r := range []Result{ada, finn} {
		texts = append(texts, r.Notes...)
		for _, it := range r.Items {
			texts = append(texts, it.Label, it.Shown)
		}
	}
	for _, k := range kinAnswers {
		texts = append(texts, k.shown)
	}
	for _, bands := range [][]Band{adaBands, findriscBands} {
		next := 0
		for _, b := range bands {
			texts = append(texts, b.Word, b.Meaning)
			if b.From != next || b.To < b.From {
				t.Errorf("the band %s runs from %d to %d, want from %d", b.Key, b.From, b.To, next)
			}
			next = b.To + 1
			for lang, words := range map[string][2]string{"en": {"clinician", "laboratory test"}, "es": {"profesional de salud", "prueba de laboratorio"}} {
				if s := b.Meaning.In(lang); !strings.Contains(s, words[0]) || !strings.Contains(s, words[1]) {
					t.Errorf("%s in %s names no way on: %q", b.Key, lang, s)
				}
			}
		}
	}
	for _, x := range texts {
		if x.In("en") == "" || x.In("es") == "" || x.In("fr") != x.En {
			t.Errorf("a text lacks a language: %+v", x)
		}
		for _, banned := range []string{"you have", "normal", "diabetic", "diagnos", "fail", "usted tiene", "diabétic", "diagnós", "diagnost"} {
			if strings.Contains(strings.ToLower(x.En+" "+x.Es), banned) {
				t.Errorf("%q says %q", x, banned)
			}
		}
	}
	if !strings.HasPrefix(ada.Notes[0].En, "The form says that people of Asian ancestry") || len(ada.Notes) != 3 {
		t.Errorf("the notes of a woman's form: %v", ada.Notes)
	}
}

func FuzzParseMeasures(f *testing.F) {
	for _, s := range []string{"5ft10in", `5'10"`, "178.5cm", "1.78m", "215lb", "98.25kg", "", "9999.99in"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		if l, err := ParseLength("height", s); err == nil {
			if back, err := ParseLength("height", l.String()); err != nil || back != l {
				t.Errorf("%q is %q, which comes back as %q, %v", s, l, back, err)
			}
		} else if fault.Of(err).Kind != fault.Invalid {
			t.Errorf("%q: %v", s, err)
		}
		if w, err := ParseWeight(s); err == nil {
			if back, err := ParseWeight(w.String()); err != nil || back != w {
				t.Errorf("%q is %q, which comes back as %q, %v", s, w, back, err)
			}
		} else if fault.Of(err).Kind != fault.Invalid {
			t.Errorf("%q: %v", s, err)
		}
	})
}
