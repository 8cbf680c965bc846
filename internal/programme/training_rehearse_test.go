package programme_test

import (
	"slices"
	"strings"
	"testing"

	"fairstick/internal/civil"
	"fairstick/internal/competence"
	"fairstick/internal/competence/cards"
	"fairstick/internal/competence/rehearse"
	"fairstick/internal/fault"
	"fairstick/internal/programme"
)

// practised is a finished practice day in which the named decisions were taken wrongly.
func (h *hall) practised(name string, l cards.Level, set string, wrong ...string) programme.RecordRehearsal {
	h.t.Helper()
	r, err := h.P.PlanRehearsal(h.ctx, h.As(name), l, set)
	h.must(err)
	c := programme.RecordRehearsal{
		Act: h.Act(), Set: set, Level: r.Day.Level, Seed: r.Day.Seed, Protocol: r.Day.Protocol, Situations: r.Day.Keys(), Language: "es", Decided: map[string]string{},
		Gate: map[string]string{}, Did: map[string]string{},
	}
	for _, s := range r.Day.Situations {
		for _, d := range s.Decisions {
			c.Decided[d.Key] = d.RightOne().Key
			if slices.Contains(wrong, d.Key) {
				i := slices.IndexFunc(d.Choices, func(x rehearse.Choice) bool { return !x.Right && x.Harm != cards.Neither })
				c.Decided[d.Key], c.Gate[d.Key] = d.Choices[i].Key, "The program would have said no."
			}
		}
	}
	return c
}

func (h *hall) rehearsals(name string) []competence.Rehearsal {
	h.t.Helper()
	t, err := h.P.Training(h.ctx, h.ID(name), civil.Date{})
	h.must(err)
	return t.Skill.Rehearsals
}

// A practice day that was passed takes the practice day off the list of what is missing; one in which somebody could have been harmed does
// not. Each draws other situations, and the debrief can be shown again with the scenes.
func TestRehearsalCounts(t *testing.T) {
	h := class(t)
	needs := func(want bool) {
		t.Helper()
		if got := slices.Contains(strings.Fields(h.lacking("Nia New", cards.Screener)), competence.NeedRehearsal); got != want {
			t.Errorf("lacks the practice day: %v", got)
		}
	}
	needs(true)
	set, err := h.P.ComposeSet(h.ctx, h.As("Sue Supervisor"), programme.ComposeSet{Act: h.Act(), Name: "First evening", Level: "screener", Situations: []string{"hi", "rounding", "queue", "insists"}})
	h.must(err)

	bad := h.practised("Nia New", cards.Screener, set.ID, "hi.next", "rounding.record")
	out, err := h.P.RecordRehearsal(h.ctx, h.As("Nia New"), bad)
	h.must(err)
	if out.Passed {
		t.Error("a person with HI was sent to the line, and the day is passed")
	}
	needs(true)
	again, err := h.P.RecordRehearsal(h.ctx, h.As("Nia New"), bad)
	h.must(err)
	if again.ID != out.ID || len(h.rehearsals("Nia New")) != 1 {
		t.Error("the second press recorded it again")
	}
	bad.Act = h.Act()
	_, err = h.P.RecordRehearsal(h.ctx, h.As("Nia New"), bad)
	h.refused("other-rehearsal", err)

	x := h.rehearsals("Nia New")[0]
	if x.Of != 6 || x.Right != 4 || x.Harm != 1 || x.Spoiled != 1 || x.Set != "First evening" || x.Protocol == "" || len(x.Decisions) != 6 || x.Language != "es" {
		t.Errorf("recorded as %+v", x)
	}
	i := slices.IndexFunc(x.Decisions, func(d competence.Decided) bool { return d.Decision == "hi.next" })
	if d := x.Decisions[i]; d.Right || d.Harm != cards.Safety || d.Gate == "" || d.Chose == "" {
		t.Errorf("the wrong decision is kept as %+v", d)
	}
	shown, err := h.P.ShowRehearsal(h.ctx, h.ID("Nia New"), out.ID)
	h.must(err)
	if s, d, ok := shown.Find("hi.next"); !ok || s.Key != "hi" || d.RightOne().Key != "stay" {
		t.Errorf("the debrief finds %v %q", ok, s.Key)
	}
	_, err = h.P.ShowRehearsal(h.ctx, h.ID("Sue Supervisor"), out.ID)
	h.refused("no-such-rehearsal", err)

	first := h.practised("Nia New", cards.Screener, "")
	out, err = h.P.RecordRehearsal(h.ctx, h.As("Nia New"), first)
	h.must(err)
	if !out.Passed {
		t.Error("all right, and not passed")
	}
	needs(false)
	if second := h.practised("Nia New", cards.Screener, ""); second.Seed == first.Seed {
		t.Error("the next practice day has the same seed")
	}
	if other := h.practised("Sue Supervisor", cards.Screener, ""); other.Seed == first.Seed {
		t.Error("another person has the same seed")
	}
}

// What cannot be practised, or would prove too little, is refused with a sentence; only a lead or a supervisor composes.
func TestComposeSet(t *testing.T) {
	h := class(t)
	sue, four := h.As("Sue Supervisor"), []string{"hi", "rounding", "queue", "insists"}
	for _, c := range []struct {
		name string
		set  programme.ComposeSet
		says string
	}{
		{"no name", programme.ComposeSet{Level: "screener", Situations: four}, "name"},
		{"no level", programme.ComposeSet{Name: "x", Situations: four}, "work"},
		{"an observer", programme.ComposeSet{Name: "x", Level: "observer", Situations: four}, "work"},
		{"too few", programme.ComposeSet{Name: "x", Level: "screener", Situations: four[:3]}, "at least 4"},
		{"twice", programme.ComposeSet{Name: "x", Level: "screener", Situations: []string{"hi", "hi", "queue", "insists"}}, "twice"},
		{"nobody in danger", programme.ComposeSet{Name: "x", Level: "screener", Situations: []string{"fruit", "rounding", "queue", "insists"}}, "danger"},
		{"unknown", programme.ComposeSet{Name: "x", Level: "screener", Situations: []string{"flood", "rounding", "queue", "insists"}}, "no situation"},
		{"other work", programme.ComposeSet{Name: "x", Level: "counsellor", Situations: four}, "work of a screener"},
	} {
		t.Run(c.name, func(t *testing.T) {
			c.set.Act = h.Act()
			_, err := h.P.ComposeSet(h.ctx, sue, c.set)
			f := fault.Of(err)
			if err == nil || f.Kind != fault.Invalid {
				t.Fatalf("%v", err)
			}
			said := f.Sentence
			for _, m := range f.Fields {
				said += " " + m
			}
			if !strings.Contains(said, c.says) {
				t.Errorf("says %q", said)
			}
		})
	}
	_, err := h.P.ComposeSet(h.ctx, h.As("Nia New"), programme.ComposeSet{Act: h.Act(), Name: "x", Level: "screener", Situations: four})
	h.refused("role", err)
	_, err = h.P.PlanRehearsal(h.ctx, h.As("Nia New"), cards.Screener, "no-such")
	h.refused("no-such-set", err)
	_, err = h.P.PlanRehearsal(h.ctx, programme.Actor{}, cards.Screener, "")
	h.refused("own-rehearsal", err)

	done, err := h.P.ComposeSet(h.ctx, sue, programme.ComposeSet{Act: h.Act(), Name: "Evening", Level: "screener", Situations: four})
	h.must(err)
	begun := h.practised("Nia New", cards.Screener, done.ID)
	_, err = h.P.ComposeSet(h.ctx, sue, programme.ComposeSet{Act: h.Act(), Set: done.ID, Name: "Evening", Level: "screener", Situations: append([]string{"faint"}, four...)})
	h.must(err)
	_, err = h.P.RecordRehearsal(h.ctx, h.As("Nia New"), begun)
	h.refused("other-rehearsal", err)
	_, err = h.P.RetireSet(h.ctx, sue, programme.RetireSet{Act: h.Act(), Set: done.ID})
	h.must(err)
	list, err := h.P.RehearsalSets(h.ctx)
	h.must(err)
	if len(list) != 0 {
		t.Errorf("%d sets are left", len(list))
	}
	_, err = h.P.PlanRehearsal(h.ctx, h.As("Nia New"), cards.Screener, done.ID)
	h.refused("no-such-set", err)
}
