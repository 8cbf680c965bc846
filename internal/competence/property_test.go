package competence

import (
	"encoding/json"
	"fmt"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"fairstick/internal/civil"
	"fairstick/internal/competence/cards"
	"fairstick/internal/fact"
)

// facts draws any facts that a record may hold about a person.
func facts(t *rapid.T) []fact.Record {
	level := rapid.SampledFrom(cards.Levels)
	day := rapid.Map(rapid.IntRange(0, 500), func(n int) civil.Date { return d("2025-06-01").AddDays(n) })
	who := rapid.SampledFrom([]string{"ana", "vera", "otto"})
	var bodies []fact.Body
	for range rapid.IntRange(0, 25).Draw(t, "facts") {
		l, at, by := level.Draw(t, "level"), day.Draw(t, "day"), who.Draw(t, "by")
		pass := rapid.Bool().Draw(t, "passed")
		switch rapid.IntRange(0, 9).Draw(t, "kind") {
		case 0, 1:
			bodies = append(bodies, QuizTaken{Level: l, Day: at, Passed: pass})
		case 2:
			bodies = append(bodies, Rehearsed{Level: l, Day: at, Passed: pass})
		case 3, 4:
			o := watched(at.String(), by, nil)
			o.Level, o.Passed = l, pass
			bodies = append(bodies, o)
		case 5:
			bodies = append(bodies, BloodborneTrained{Day: at})
		case 6:
			bodies = append(bodies, HepatitisB{Day: at, Cleared: pass})
		case 7:
			bodies = append(bodies, Granted{Level: l, From: at, Until: at.AddDays(rapid.IntRange(0, 400).Draw(t, "lasts")), By: by})
		case 8:
			bodies = append(bodies, Withdrawn{Level: l, Day: at, Reason: "a reason", By: by})
		default:
			bodies = append(bodies, Taught{What: MethodObserved, Level: l, Day: at, By: by}, ModelTrained{Model: "M1", Edition: "3", Day: at})
		}
	}
	list := records("ana", bodies...)
	for i := range list { // some are corrections of earlier ones
		if i > 0 && rapid.IntRange(0, 9).Draw(t, "corrects") == 0 {
			list[i].Corrects, list[i].Reason = list[rapid.IntRange(0, i-1).Draw(t, "which")].ID, "typed wrongly"
			if rapid.Bool().Draw(t, "struck") {
				list[i].Body = fact.Struck{}
			}
		}
	}
	return list
}

// The state is the same in whatever order the facts arrive, and it survives its own JSON.
func TestAnyOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		list := facts(t)
		one := fact.Fold(New("ana").(*State), list)
		two := fact.Fold(New("ana").(*State), rapid.Permutation(list).Draw(t, "order"))
		if diff := cmp.Diff(one, two); diff != "" {
			t.Fatalf("another state: %s", diff)
		}
		data, err := json.Marshal(one)
		if err != nil {
			t.Fatal(err)
		}
		back := New("").(*State)
		if err := json.Unmarshal(data, back); err != nil {
			t.Fatal(err)
		}
		again, err := json.Marshal(back)
		if err != nil || string(again) != string(data) {
			t.Fatalf("through JSON: %s, not %s (%v)", again, data, err)
		}
	})
}

// Whoever lacks nothing on a day lacks nothing until the day that ValidUntil names, and something on the day after, when all facts are
// of that day or before and warm-ups are left aside. And nobody ever stands on their own word.
func TestValidUntilIsTheLastDay(t *testing.T) {
	rules := DefaultRules()
	rules.IdleDays = 0
	rapid.Check(t, func(t *rapid.T) {
		base := slices.Clone(append(ready(), signed))
		list := append(records("ana", base...), facts(t)...)
		for i := range list {
			list[i].Seq, list[i].Recorded = uint64(i+1), fmt.Sprintf("%04d", i)
			if i >= len(base) {
				list[i].ID = fmt.Sprintf("g%03d", i)
				list[i].Corrects = ""
			}
		}
		s := fact.Fold(New("ana").(*State), list)
		l := rapid.SampledFrom(cards.Levels).Draw(t, "asked")
		day := d("2026-11-01")
		until, because, ok := ValidUntil(s, rules, l, Today{Day: day})
		if lacks := Lacks(s, rules, l, Today{Day: day}); ok != (len(lacks) == 0) {
			t.Fatalf("valid %v, but lacks %v", ok, lacks)
		}
		if !ok {
			return
		}
		if until.IsZero() || until.Before(day) {
			t.Fatalf("valid until %q", until)
		}
		for _, x := range []civil.Date{until, day.AddDays(day.DaysUntil(until) / 2)} {
			if lacks := Lacks(s, rules, l, Today{Day: x}); len(lacks) > 0 {
				t.Fatalf("on %s, by %s at the latest: %v", x, until, lacks)
			}
		}
		if lacks := Lacks(s, rules, l, Today{Day: until.AddDays(1)}); !slices.ContainsFunc(lacks, func(m Missing) bool { return m.Key == because || m.Key == NeedTeaching }) {
			t.Fatalf("the day after %s (%s): %v", until, because, lacks)
		}
		if !slices.ContainsFunc(s.SignOffs, func(o SignOff) bool { return o.Granted.By != "ana" && o.stands(day) && o.Level.Covers(l) }) {
			t.Fatal("stands without another person's word")
		}
	})
}
