package competence

import (
	"fmt"
	"slices"

	"fairstick/internal/civil"
	"fairstick/internal/competence/cards"
)

// Proof is one thing that was shown, and counted on a day.
type Proof struct {
	Day    civil.Date `json:"day"`
	What   string     `json:"what"`             // MethodQuiz and so on, or a Need
	Detail string     `json:"detail,omitempty"` // 18 of 20 right; what was held; a meter model
	By     string     `json:"by,omitempty"`     // id of the person whose word it is; empty for a quiz
	Held   string     `json:"held,omitempty"`   // in words, who held a training elsewhere
	FactID string     `json:"fact_id,omitempty"`
}

// Evidence lists what a level rested on as of a day, oldest first: only what was shown by then, was in date and had not been withdrawn.
// It is what Lacks counts, so that a person who lacks nothing has here what the rules ask for.
func Evidence(s *State, r Rules, l cards.Level, today Today) []Proof {
	day := today.Day
	var out []Proof
	rule := r.Levels[l]
	for _, q := range s.Quizzes {
		if _, ok := r.lastsOn(q.Day, r.ValidMonths, day); ok && rule.Quiz && q.Passed && q.Level.Covers(l) {
			out = append(out, Proof{Day: q.Day, What: MethodQuiz, Detail: fmt.Sprintf("%d of %d right", q.Right, q.Of), FactID: q.FactID})
		}
	}
	for _, x := range s.Rehearsals {
		if _, ok := r.lastsOn(x.Day, r.ValidMonths, day); ok && rule.Rehearsal && x.Passed && x.Level.Covers(l) {
			out = append(out, Proof{Day: x.Day, What: NeedRehearsal, Detail: fmt.Sprintf("%d of %d right", x.Right, x.Of), By: x.Recorder, FactID: x.FactID})
		}
	}
	for _, o := range counted(s, r, l, day) {
		if rule.Observations > 0 {
			p := Proof{Day: o.Day, What: MethodObserved, Detail: o.Model, By: o.Observer, FactID: o.FactID}
			if o.Sample != nil && o.Sample.Within {
				p.What = MethodSample
			}
			out = append(out, p)
		}
	}
	for _, b := range s.Bloodborne {
		if _, ok := r.lastsOn(b.Day, r.BloodborneMonths, day); ok && rule.Bloodborne {
			out = append(out, Proof{Day: b.Day, What: NeedBloodborne, Held: b.By})
		}
	}
	if rule.HepatitisB && hepatitisB(s, day).missing == nil {
		for _, h := range s.HepatitisB {
			if h.Cleared && !h.Day.After(day) {
				out = append(out, Proof{Day: h.Day, What: NeedHepatitisB})
			}
		}
	}
	for _, m := range s.Models {
		if rule.Models && !m.Day.After(day) {
			out = append(out, Proof{Day: m.Day, What: NeedModel, Detail: m.Model, By: m.By})
		}
	}
	slices.SortStableFunc(out, func(a, b Proof) int { return -a.Day.DaysUntil(b.Day) })
	return out
}

// Standing gives the verification that covers a level on a day and lasts longest; ok is false when none does.
func Standing(s *State, l cards.Level, day civil.Date) (out SignOff, ok bool) {
	for _, o := range s.SignOffs {
		if !o.Level.Covers(l) || o.Granted.By == s.ID || !o.stands(day) || day.Before(o.From) || day.After(o.Until) {
			continue
		}
		if !ok || o.Until.After(out.Until) {
			out, ok = o, true
		}
	}
	return out, ok
}
