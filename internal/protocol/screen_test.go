package protocol

import (
	"maps"
	"slices"
	"testing"

	"fairstick/internal/fault"
)

// well are the answers of an adult whom nothing stops.
func well() Answers {
	return Answers{"crisis-signs": "none", "age": "52", "known-diabetes": "no", "pregnancy": "no", "icodextrin": "no", "bleeding": "no", "fainted": "no", "arm": "no"}
}

func TestScreen(t *testing.T) {
	p := Default()
	for _, tt := range []struct {
		name     string
		change   Answers // an empty answer takes the question away
		eligible bool
		reason   string
		counted  string
		cautions int
		barred   []string
		signs    []string
	}{
		{name: "an adult whom nothing stops", eligible: true},
		{name: "18 is old enough", change: Answers{"age": "18"}, eligible: true},
		{name: "spaces do not matter", change: Answers{"age": " 18 "}, eligible: true},
		{name: "16 is not", change: Answers{"age": "16"}, reason: "age", counted: "too young for this screening"},
		{name: "0 is an age", change: Answers{"age": "0"}, reason: "age", counted: "too young for this screening"},
		{name: "120 is an age", change: Answers{"age": "120"}, eligible: true},
		{name: "known diabetes", change: Answers{"known-diabetes": "yes"}, reason: "known-diabetes", counted: "already knows about diabetes"},
		{name: "known diabetes ends the questions", change: Answers{"known-diabetes": "yes", "pregnancy": "", "icodextrin": "", "bleeding": "", "fainted": "", "arm": ""}, reason: "known-diabetes", counted: "already knows about diabetes"},
		{name: "pregnant", change: Answers{"pregnancy": "yes"}, reason: "pregnancy", counted: "pregnant or gave birth in the last 6 weeks"},
		{name: "the first reason is the one that counts", change: Answers{"age": "16", "known-diabetes": "yes"}, reason: "age", counted: "too young for this screening"},
		{name: "dialysis bars a chemistry and more", change: Answers{"icodextrin": "yes"}, eligible: true, cautions: 1, barred: []string{"gdh-pqq", "unknown"}},
		{name: "three cautions", change: Answers{"bleeding": "yes", "fainted": "yes", "arm": "yes"}, eligible: true, cautions: 3},
		{name: "a crisis sign", change: Answers{"crisis-signs": "vomiting, drowsy-confused"}, reason: "crisis-signs", counted: "unwell, emergency care", signs: []string{"vomiting", "drowsy-confused"}},
		{name: "a sign does not wait for the other answers", change: Answers{"crisis-signs": "breathing", "age": "", "pregnancy": "perhaps"}, reason: "crisis-signs", counted: "unwell, emergency care", signs: []string{"breathing"}},
		{name: "a sign outranks known diabetes", change: Answers{"crisis-signs": "breathing", "known-diabetes": "yes"}, reason: "crisis-signs", counted: "unwell, emergency care", signs: []string{"breathing"}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			a := well()
			for k, v := range tt.change {
				if a[k] = v; v == "" {
					delete(a, k)
				}
			}
			before := maps.Clone(a)
			s, err := p.Screen(a)
			if err != nil {
				t.Fatal(err)
			}
			if s.Eligible != tt.eligible || s.Reason != tt.reason || s.Counted != tt.counted {
				t.Errorf("eligible %v, reason %q, counted %q", s.Eligible, s.Reason, s.Counted)
			}
			if len(s.Cautions) != tt.cautions || !slices.Equal(s.BarredChemistry, tt.barred) {
				t.Errorf("%d cautions, barred %v", len(s.Cautions), s.BarredChemistry)
			}
			if s.Emergency != (len(tt.signs) > 0) || !slices.Equal(s.Signs, tt.signs) {
				t.Errorf("emergency %v, signs %v", s.Emergency, s.Signs)
			}
			if !s.Eligible && (s.Sentence.In("en") == "" || s.Sentence.In("es") == "" || s.Route.In("en") == "") {
				t.Errorf("no kind sentence or no route: %+v", s)
			}
			if !maps.Equal(a, before) {
				t.Errorf("the answers were changed to %v", a)
			}
		})
	}
}

func TestScreenRefuses(t *testing.T) {
	p := Default()
	for _, tt := range []struct {
		name   string
		change Answers
		fields []string
	}{
		{"no age", Answers{"age": ""}, []string{"age"}},
		{"only spaces", Answers{"age": "  "}, []string{"age"}},
		{"signs are not asked", Answers{"crisis-signs": ""}, []string{"crisis-signs"}},
		{"an absurd age", Answers{"age": "121"}, []string{"age"}},
		{"a negative age", Answers{"age": "-5"}, []string{"age"}},
		{"a signed age", Answers{"age": "+52"}, []string{"age"}},
		{"half years", Answers{"age": "52.5"}, []string{"age"}},
		{"neither yes nor no", Answers{"pregnancy": "maybe"}, []string{"pregnancy"}},
		{"an unknown sign", Answers{"crisis-signs": "hiccups"}, []string{"crisis-signs"}},
		{"something not asked", Answers{"shoe-size": "9"}, []string{"shoe-size"}},
		{"a question before the one that excludes", Answers{"age": "", "known-diabetes": "yes"}, []string{"age"}},
		{"all at once", Answers{"age": "old", "arm": "", "bleeding": "YES"}, []string{"age", "arm", "bleeding"}},
	} {
		a := well()
		for k, v := range tt.change {
			if a[k] = v; v == "" {
				delete(a, k)
			}
		}
		s, err := p.Screen(a)
		f := fault.Of(err)
		if f == nil || f.Key != "answers" || s.Eligible {
			t.Errorf("%s: %+v, %v", tt.name, s, err)
			continue
		}
		if got := slices.Sorted(maps.Keys(f.Fields)); !slices.Equal(got, tt.fields) {
			t.Errorf("%s: messages at %v, want %v", tt.name, got, tt.fields)
		}
	}
}

func TestOptionalQuestion(t *testing.T) {
	p := Default()
	for i := range p.Questions {
		if p.Questions[i].Key == "fainted" {
			p.Questions[i].Optional = true
		}
	}
	a := well()
	delete(a, "fainted")
	if s, err := p.Screen(a); err != nil || !s.Eligible {
		t.Errorf("an optional question without an answer: %+v, %v", s, err)
	}
}

// The age at which screening begins is the protocol's.
func TestMinAgeIsData(t *testing.T) {
	p := Default()
	p.MinAge = 21
	a := well()
	a["age"] = "20"
	if s, err := p.Screen(a); err != nil || s.Eligible || s.Reason != "age" {
		t.Errorf("20 under a protocol from 21: %+v, %v", s, err)
	}
}
