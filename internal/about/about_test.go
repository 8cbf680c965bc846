package about

import (
	"errors"
	"slices"
	"strings"
	"testing"

	"fairstick/internal/competence/measure"
	"fairstick/internal/fault"
)

func TestEveryQuestionIsWhole(t *testing.T) {
	keys := []string{Race, Sex, Zip, Insurance, Doctor, First, Easy}
	if len(list) != len(keys) {
		t.Fatalf("%d questions", len(list))
	}
	for i, q := range Questions() {
		if q.Key != keys[i] || q.Name == "" || q.Why == "" {
			t.Errorf("question %d is %+v", i, q)
		}
		if (len(q.Options) == 0) != (q.Digits > 0) {
			t.Errorf("%s has %d options and %d digits", q.Key, len(q.Options), q.Digits)
		}
		for _, o := range q.Options {
			if o.Code == PreferNot || strings.ContainsAny(o.Code, "+= |,") || strings.Count(strings.Join(q.Codes(), " ")+" ", o.Code+" ") < 1 {
				t.Errorf("%s: code %q", q.Key, o.Code)
			}
		}
	}
	for _, x := range Texts() {
		if x["en"] == "" || x["es"] == "" {
			t.Errorf("%v lacks a language", x)
		}
		if strings.HasSuffix(x["en"], "?") && measure.Grade(x["en"]) > 6.9 {
			t.Errorf("%q reads at grade %.1f", x["en"], measure.Grade(x["en"]))
		}
	}
}

func TestTake(t *testing.T) {
	for name, x := range map[string]struct {
		key  string
		said []string
		want []string
		bad  string // part of the message
	}{
		"one":                   {Sex, []string{"female"}, []string{"female"}, ""},
		"nothing":               {Sex, nil, nil, ""},
		"blanks are nothing":    {Zip, []string{" "}, nil, ""},
		"prefers not":           {Race, []string{PreferNot}, []string{PreferNot}, ""},
		"several in order":      {Race, []string{"white", "asian", "asian"}, []string{"asian", "white"}, ""},
		"both and neither":      {Race, []string{"asian", PreferNot}, nil, "as well"},
		"two where one is":      {Sex, []string{"female", "male"}, nil, "Choose one answer"},
		"no such answer":        {Doctor, []string{"maybe"}, nil, "one of the answers"},
		"three digits":          {Zip, []string{"021"}, []string{"021"}, ""},
		"five digits":           {Zip, []string{"02139"}, nil, "first 3 digits"},
		"two digits":            {Zip, []string{"02"}, nil, "first 3 digits"},
		"letters":               {Zip, []string{"0a1"}, nil, "first 3 digits"},
		"other digits":          {Zip, []string{"٠٢١"}, nil, "first 3 digits"},
		"does not say its area": {Zip, []string{PreferNot}, []string{PreferNot}, ""},
	} {
		q, _ := Find(x.key)
		got, bad := q.Take(x.said)
		if !slices.Equal(got, x.want) || (bad == "") != (x.bad == "") || !strings.Contains(bad, x.bad) {
			t.Errorf("%s: %v, %q", name, got, bad)
		}
		if len(x.said) > 0 && strings.Contains(bad, "02139") {
			t.Errorf("%s: the message repeats what was typed: %q", name, bad)
		}
	}
}

func TestCheck(t *testing.T) {
	got, err := Check([]string{Race, Sex, Zip}, Answers{Race: {"white", "asian"}, Sex: {PreferNot}})
	if err != nil || got.Line() != "race=asian+white sex=prefer-not zip3=" {
		t.Fatalf("%q, %v", got.Line(), err)
	}
	_, err = Check([]string{Sex, Zip}, Answers{Sex: {"x"}, Zip: {"02139"}})
	var f *fault.Fault
	if !errors.As(err, &f) || f.Fields["about_sex"] == "" || f.Fields["about_zip3"] == "" {
		t.Errorf("both fields are named: %+v", err)
	}
	for name, x := range map[string]struct {
		asked []string
		said  Answers
	}{"unknown question": {[]string{"income"}, nil}, "not asked": {[]string{Sex}, Answers{Zip: {"021"}}}} {
		if _, err := Check(x.asked, x.said); !fault.Is(err, "no-question") {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// A person stands under one answer of each question, whatever was said, and the line says the same as the answers.
func TestPartOf(t *testing.T) {
	all := []Answers{nil, {}, {Sex: nil}, {Sex: {"male"}}, {Race: {"asian", "white"}, Zip: {"021"}}, {Race: {PreferNot}, First: {"unsure"}, Easy: {"partly"}}}
	for _, a := range all {
		for _, q := range Questions() {
			codes, asked := a[q.Key]
			want := Part(codes, asked)
			if got := PartOf(a.Line(), q.Key); got != want {
				t.Errorf("%v, %s: %q, want %q", a, q.Key, got, want)
			}
			if q.Digits == 0 && !slices.Contains(q.Parts(), want) {
				t.Errorf("%s: %q stands in no row", q.Key, want)
			}
		}
	}
	for want, line := range map[string]string{NotAsked: "", PassedOver: "sex=", More: "race=asian+white sex=male", "021": "sex=male zip3=021"} {
		key := map[string]string{NotAsked: Sex, PassedOver: Sex, More: Race, "021": Zip}[want]
		if got := PartOf(line, key); got != want {
			t.Errorf("%q: %q, want %q", line, got, want)
		}
	}
	if q, _ := Find(Race); q.PartName(More) != "More than one" || q.PartName("asian") != "Asian" || q.PartName(NotAsked) != "Not asked" {
		t.Error("parts have their names")
	}
	if got := Chosen([]string{Easy, Sex}, true); len(got) != 1 || got[0].Key != Easy {
		t.Errorf("%v", got)
	}
}
