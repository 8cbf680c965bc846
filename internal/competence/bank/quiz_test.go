package bank

import (
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"fairstick/internal/competence/cards"
	"fairstick/internal/fault"
	"fairstick/internal/glucose"
	"fairstick/internal/protocol"
)

func TestDrawIsTheSameForTheSameSeed(t *testing.T) {
	p := defaults(t)
	a, err := Draw(7, cards.Screener, Default(), p)
	if err != nil {
		t.Fatal(err)
	}
	b, err := Draw(7, cards.Screener, Default(), p)
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(a, b); d != "" {
		t.Errorf("the same seed gives another quiz: %s", d)
	}
	c, err := Draw(8, cards.Screener, Default(), p)
	if err != nil {
		t.Fatal(err)
	}
	if cmp.Equal(a.Questions, c.Questions) {
		t.Error("two seeds give the same quiz")
	}
	if a.Protocol != p.Version || len(a.Questions) != 20 {
		t.Errorf("protocol %q, %d questions", a.Protocol, len(a.Questions))
	}
}

func TestDrawKeepsWeightsAndLevels(t *testing.T) {
	p := defaults(t)
	for _, c := range []struct {
		name  string
		level cards.Level
		rules Rules
		want  map[Topic]int // of the topics named; others are not looked at
		total int
	}{
		{"one each and the first six a second", cards.Screener, Default(), map[Topic]int{Eligibility: 2, Consent: 2, Controls: 2, Codes: 2, Technique: 2, Infection: 2, Sharps: 1, Closing: 1}, 20},
		{"weights", cards.Verifier, Rules{Questions: 20, PassMark: 80, Attempts: 3, Weights: weights(map[Topic]int{Controls: 3, Privacy: 1})}, map[Topic]int{Controls: 12, Privacy: 8, Consent: 0}, 20},
		{"an observer is asked what an observer needs", cards.Observer, Default(), map[Topic]int{Controls: 0, Meaning: 0, Technique: 0}, 11},
		{"a topic left out", cards.Verifier, Rules{Questions: 26, PassMark: 80, Attempts: 1, Weights: map[Topic]int{Waste: 0}}, map[Topic]int{Waste: 0, Consent: 2}, 26},
	} {
		t.Run(c.name, func(t *testing.T) {
			quiz, err := Draw(3, c.level, c.rules, p)
			if err != nil {
				t.Fatal(err)
			}
			n := map[Topic]int{}
			seen := map[string]bool{}
			for _, q := range quiz.Questions {
				n[q.Topic]++
				if seen[q.Key] || !c.level.Covers(q.From) {
					t.Errorf("%s twice, or beyond the level (%s)", q.Key, q.From)
				}
				seen[q.Key] = true
			}
			for topic, want := range c.want {
				if n[topic] != want {
					t.Errorf("%s: %d, want %d (%v)", topic, n[topic], want, n)
				}
			}
			if len(quiz.Questions) != c.total {
				t.Errorf("%d questions, want %d", len(quiz.Questions), c.total)
			}
		})
	}
}

// weights gives 0 to every topic that is not named.
func weights(named map[Topic]int) map[Topic]int {
	out := map[Topic]int{}
	for _, t := range Topics {
		out[t] = named[t]
	}
	return out
}

func TestScore(t *testing.T) {
	opt := func(right ...bool) []Option {
		var out []Option
		for i, r := range right {
			out = append(out, Option{Text: plain("%d", i), Right: r})
		}
		return out
	}
	quiz := Quiz{Questions: []Question{
		{Key: "a", Options: opt(true, false, false)},
		{Key: "b", Options: opt(false, true, false)},
		{Key: "c", Options: opt(true, false, true, false)},
		{Key: "d", Options: opt(false, false, true)},
		{Key: "e", Critical: true, Options: opt(false, true, false)},
	}}
	rules := Rules{Questions: 5, PassMark: 80, Attempts: 3, Minutes: 10}
	all := []Answer{{0}, {1}, {2, 0}, {2}, {1}}
	for _, c := range []struct {
		name    string
		answers []Answer
		took    time.Duration
		right   int
		passed  bool
		says    string
	}{
		{"all right, in any order, just in time", all, 10 * time.Minute, 5, true, "Passed"},
		{"four of five is 80 per cent", []Answer{{0}, {1}, {0, 2}, {0}, {1}}, time.Minute, 4, true, "4 of 5 right. Passed"},
		{"three of five is not", []Answer{{1}, {1}, {0, 2}, {0}, {1}}, time.Minute, 3, false, "Not passed."},
		{"half of several right options is wrong", []Answer{{0}, {1}, {0}, {2}, {1}}, time.Minute, 4, true, "Passed"},
		{"all options chosen is wrong", []Answer{{0, 1, 2}, {1}, {0, 2}, {2}, {1}}, time.Minute, 4, true, "Passed"},
		{"a critical miss ends it", []Answer{{0}, {1}, {0, 2}, {2}, {0}}, time.Minute, 4, false, "harm"},
		{"a place that does not exist", []Answer{{0}, {1}, {0, 2}, {2}, {9}}, time.Minute, 4, false, "harm"},
		{"the same place twice counts once", []Answer{{0, 0}, {1}, {2, 0, 2}, {2}, {1}}, time.Minute, 5, true, "Passed"},
		{"missing answers are wrong", []Answer{{0}}, time.Minute, 1, false, "harm"},
		{"late", all, 10*time.Minute + time.Second, 5, false, "time was over"},
	} {
		got := quiz.Score(c.answers, c.took, rules)
		if got.Right != c.right || got.Passed != c.passed || !strings.Contains(got.Say()["en"], c.says) || len(got.PerQuestion) != 5 {
			t.Errorf("%s: %+v, says %q", c.name, got, got.Say()["en"])
		}
	}
	if (Quiz{}).Score(nil, 0, rules).Passed {
		t.Error("an empty quiz is passed")
	}
}

func TestRulesAreChecked(t *testing.T) {
	for name, r := range map[string]Rules{
		"questions": {Questions: 2, PassMark: 80, Attempts: 3}, "pass_mark": {Questions: 20, PassMark: 101, Attempts: 3},
		"attempts": {Questions: 20, PassMark: 80}, "minutes": {Questions: 20, PassMark: 80, Attempts: 3, Minutes: -1},
		"weights": {Questions: 20, PassMark: 80, Attempts: 3, Weights: weights(nil)},
	} {
		f := fault.Of(r.Validate())
		if f == nil || f.Key != "quiz-rules" || f.Fields[name] == "" {
			t.Errorf("%s: %v", name, f)
		}
		if _, err := Draw(1, cards.Screener, r, defaults(t)); !fault.Is(err, "quiz-rules") {
			t.Errorf("%s: drawn anyway: %v", name, err)
		}
	}
	if err := Default().Validate(); err != nil {
		t.Error(err)
	}
	if _, err := Draw(1, "guru", Default(), defaults(t)); !fault.Is(err, "field-level") {
		t.Errorf("an unknown level: %v", err)
	}
	silent := defaults(t)
	silent.Limits = nil
	failed := false
	for seed := range uint64(20) {
		_, err := Draw(seed, cards.Screener, Default(), silent)
		failed = failed || fault.Is(err, "protocol-silent")
	}
	if !failed {
		t.Error("a protocol without limits made questions about them")
	}
}

func TestParse(t *testing.T) {
	const good = "key k\nlevel desk\nsource s\ncritical\nen Why?\nes ¿Por qué?\n+ A | B\n- C | D\n- E | F\nwhy G | H"
	q, err := Parse("f", Waste, "\n"+good+"\n\n\n"+strings.Replace(good, "key k", "key l", 1)+"\n")
	if err != nil || len(q) != 2 || !q[0].Critical || q[0].From != cards.Desk || q[1].Key != "l" || q[0].Options[2].Text["es"] != "F" || q[0].Several() {
		t.Errorf("%+v, %v", q, err)
	}
	for name, c := range map[string]struct{ old, new, want string }{
		"one language":     {"+ A | B", "+ A", "f:7:"},
		"unknown word":     {"critical", "urgent", `f:4: a line cannot begin with "urgent"`},
		"unknown level":    {"level desk", "level chief", `f:1: question "k"`},
		"no source":        {"source s\n", "", "source"},
		"two options":      {"- E | F\n", "", "2 options"},
		"none right":       {"+ A", "- A", "0 of 3 options are right"},
		"same option":      {"- C | D", "- a | D", "stands there twice"},
		"same in Spanish":  {"- C | D", "- C | b", "stands there twice"},
		"no reason":        {"why G | H", "", "no stem or reason"},
		"no Spanish stem":  {"es ¿Por qué?\n", "", `in "es"`},
		"all of them true": {"- C | D\n- E | F", "+ C | D\n+ E | F", "3 of 3"},
	} {
		_, err := Parse("f", Waste, strings.Replace(good, c.old, c.new, 1))
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", name, err, c.want)
		}
	}
}

// What is written by hand about the protocol is true in the default one, and a programme with other rules is not asked it.
func TestHolds(t *testing.T) {
	with := 0
	for _, q := range fixed(t) {
		if ok, err := q.HoldsIn(defaults(t)); !ok || err != nil {
			t.Errorf("%s is not right under the default protocol: %v, %v", q.Key, q.Holds, err)
		}
		if len(q.Holds) > 0 {
			with++
		}
	}
	if with < 15 {
		t.Errorf("%d questions say what must hold", with)
	}
	other := defaults(t)
	other.MinAge, other.FastingHours, other.WarmUp, other.LowCare.SugarGrams = 14, 10, 30, 20
	other.FollowUp = map[protocol.Band][]int{protocol.CriticalHigh: {0, 2}}
	limits := other.Limits[protocol.Random][glucose.MgPerDL]
	limits.RaisedFrom, limits.HighFrom = glucose.MgDL(160), glucose.MgDL(240)
	other.Limits[protocol.Random][glucose.MgPerDL] = limits
	other.Repeat.HighFrom = map[glucose.Unit]glucose.Value{glucose.MgPerDL: glucose.MgDL(250), glucose.MmolPerL: glucose.Mmol(139)}
	other.Questions = nil
	gone := map[string]bool{
		"eligibility-known": true, "eligibility-pregnant": true, "eligibility-icodextrin": true, "eligibility-thinner": true, "eligibility-faint-history": true, "eligibility-arm": true,
		"consent-minor": true, "technique-warmup": true, "interpretation-fasting-8": true, "interpretation-coffee": true, "interpretation-140": true, "interpretation-near-line": true,
		"criticals-low-swallow": true, "reading-two-values": true, "wording-have": true, "closing-critical-call": true, "reading-convert": true,
	}
	for _, q := range fixed(t) {
		if ok, err := q.HoldsIn(other); ok == gone[q.Key] || err != nil {
			t.Errorf("%s under other rules: %v, %v", q.Key, ok, err)
		}
	}
	other.Questions = defaults(t).Questions
	quiz, err := Draw(1, cards.Screener, Rules{Questions: 100, PassMark: 80, Attempts: 3}, other)
	if err != nil {
		t.Fatal(err)
	}
	for _, q := range quiz.Questions {
		if q.Key == "interpretation-140" || q.Key == "consent-minor" {
			t.Errorf("%s is asked although its answer does not hold", q.Key)
		}
	}
	for _, line := range []string{"", "moon full", "fasting-hours eight", "band random 5.6 mg/dL low", "repeat x mg/dL"} {
		if _, err := (Question{Holds: []string{line}}).HoldsIn(other); err == nil {
			t.Errorf("%q can be checked", line)
		}
	}
}

// As many critical questions come as the rules want, in the place of others of the same topics; the rest of the draw stays.
func TestEnoughCriticalQuestionsAreDrawn(t *testing.T) {
	critical := func(q Quiz) (n int) {
		for _, x := range q.Questions {
			if x.Critical {
				n++
			}
		}
		return n
	}
	fewer := 0
	for seed := range uint64(60) {
		plain := Default()
		before, err := Draw(seed, cards.Screener, plain, protocol.Default())
		if err != nil {
			t.Fatal(err)
		}
		plain.Critical = 10
		after, err := Draw(seed, cards.Screener, plain, protocol.Default())
		if err != nil {
			t.Fatal(err)
		}
		if n := critical(after); n < 10 {
			t.Errorf("seed %d: %d critical questions, want 10", seed, n)
		}
		if critical(before) < 10 {
			fewer++
		}
		topics := map[Topic]int{}
		keys := map[string]bool{}
		for i := range before.Questions {
			topics[before.Questions[i].Topic]++
			topics[after.Questions[i].Topic]--
			if keys[after.Questions[i].Key] {
				t.Errorf("seed %d: %s comes twice", seed, after.Questions[i].Key)
			}
			keys[after.Questions[i].Key] = true
		}
		for topic, n := range topics {
			if n != 0 {
				t.Errorf("seed %d: the share of %s moved by %d", seed, topic, n)
			}
		}
	}
	if fewer < 30 {
		t.Errorf("only %d of 60 draws had fewer than 10: the test shows nothing", fewer)
	}
}
