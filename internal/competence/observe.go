package competence

import (
	"fmt"
	"slices"
	"strings"

	"fairstick/internal/competence/cards"
	"fairstick/internal/control"
	"fairstick/internal/fault"
	"fairstick/internal/glucose"
)

// Verdict is what the marks of an observation amount to.
type Verdict struct {
	Passed bool     `json:"passed"`
	Ends   []string `json:"ends,omitempty"`   // critical steps that were missed: each alone ends it
	Missed []string `json:"missed,omitempty"` // other steps that were missed
	Unseen []string `json:"unseen,omitempty"` // critical steps that did not come up; another observation must show them
	Done   int      `json:"done"`             // other steps that were seen and done
	Seen   int      `json:"seen"`             // other steps that were seen
}

// JudgeMarks judges an observation by the steps of its level. It is passed when no critical step was missed, the share of the other
// seen steps that were done reaches StepsPercent, and something was seen at all. A step without a mark was not seen. A mark
// for a step that the level does not need, or one that is no mark, is a *fault.Fault.
func (r Rules) JudgeMarks(l cards.Level, marks map[string]Mark) (Verdict, error) {
	if err := CheckMarks(l, marks); err != nil {
		return Verdict{}, err
	}
	steps := cards.For(l)
	var v Verdict
	seen := false
	for _, s := range steps {
		m := marks[s.Key]
		seen = seen || m == OK || m == Missed
		switch {
		case r.critical(s) && m == Missed:
			v.Ends = append(v.Ends, s.Key)
		case r.critical(s) && m != OK:
			v.Unseen = append(v.Unseen, s.Key)
		case r.critical(s):
		case m == Missed:
			v.Seen++
			v.Missed = append(v.Missed, s.Key)
		case m == OK:
			v.Seen++
			v.Done++
		}
	}
	v.Passed = seen && len(v.Ends) == 0 && v.Done*100 >= r.StepsPercent*v.Seen
	return v, nil
}

// CheckMarks refuses marks that are none, or for steps that a level does not need: a *fault.Fault.
func CheckMarks(l cards.Level, marks map[string]Mark) error {
	if !l.Valid() {
		return fault.BadField("level", "There is no level %q.", l)
	}
	steps := cards.For(l)
	for key, m := range marks {
		if !slices.ContainsFunc(steps, func(s cards.Step) bool { return s.Key == key }) {
			return fault.BadField("marks", "%q is no step of the level %s.", key, l)
		}
		if m != OK && m != Missed && m != NotSeen {
			return fault.BadField("marks", "%q is no mark; it is ok, missed or not seen.", m)
		}
	}
	return nil
}

// Ends reports whether one miss of a step ends an observation under these rules.
func (r Rules) Ends(s cards.Step) bool { return r.critical(s) }

// JudgeSample says whether a sample lies within its limits. A blind control is judged like any control. A split sample may differ
// from the verifier's reading by SplitPercent of it, and below 100 mg/dL (5.55 mmol/L) by SplitPercent of that; on the limit
// is within. Two readings in different units, or one that is no number, cannot be judged: a *fault.Fault.
func (r Rules) JudgeSample(s Sample) (bool, error) {
	switch s.Kind {
	case BlindControl:
		v, err := control.Judge(s.Reading, s.Low, s.High)
		return v == control.InRange, err
	case SplitSample:
		if s.Reading.Kind != glucose.Numeric || s.Other.Kind != glucose.Numeric || s.Reading.Unit != s.Other.Unit {
			return false, fault.New(fault.Invalid, "sample", "These two readings cannot be compared.", "LO, HI and errors are no numbers, and units differ in meaning.",
				"Take another sample with two numbers in the same unit.").Field("reading", "Two numbers in the same unit are needed.")
		}
		floor := 200 // twice 100 mg/dL
		if s.Other.Unit == glucose.MmolPerL {
			floor = 111 // twice 5.55 mmol/L in tenths
		}
		apart := max(s.Reading.Value.Steps-s.Other.Value.Steps, s.Other.Value.Steps-s.Reading.Value.Steps)
		return apart*200 <= r.SplitPercent*max(2*s.Other.Value.Steps, floor), nil
	}
	return false, fault.BadField("kind", "%q is no kind of sample.", s.Kind)
}

// MayObserve refuses an observer: nobody watches themselves, the observer is a verifier whose own verification holds today, and
// after teaching somebody else watches than those who saw the failed tries. The error is a *fault.Fault.
func MayObserve(observer, person *State, r Rules, l cards.Level, today Today) error {
	const why = "An observation is another person's word, and must be worth something."
	switch {
	case !l.Valid():
		return fault.BadField("level", "There is no level %q.", l)
	case observer.ID == person.ID:
		return fault.New(fault.Denied, "observe-self", "Nobody can verify themselves.", why, "Ask another verifier.")
	}
	if missing := Lacks(observer, r, cards.Verifier, today); len(missing) > 0 {
		return fault.New(fault.Denied, "observer-not-current", "This observer is not verified today: "+missing[0].Sentence.In("en"), why, "Ask another verifier.")
	}
	tries := person.Tries[tryKey(MethodObserved, l)]
	if tries.Failed >= r.Attempts {
		return fault.New(fault.Refused, "teach-first", fmt.Sprintf("%d observations were not passed.", tries.Failed), "One more try without teaching helps nobody.",
			"Teach what was missed, record it, and let another verifier watch.")
	}
	if slices.Contains(tries.NotBy, observer.ID) {
		return fault.New(fault.Denied, "other-observer", "This observer saw the tries before the teaching.", "A fresh pair of eyes is fairer to both.", "Ask another verifier.")
	}
	return nil
}

// MaySeeAgain refuses a second observer of a fingerstick: it is neither the person nor the first observer, a verifier whose own
// verification holds today, who saw the same fingerstick on the same day and has not filled in a form of it yet. The error is a
// *fault.Fault.
func MaySeeAgain(observer, person *State, of string, r Rules, today Today) (Observation, error) {
	i := slices.IndexFunc(person.Observations, func(o Observation) bool { return o.FactID == of })
	if i < 0 {
		return Observation{}, fault.New(fault.Missing, "no-such-observation", "There is no such observation of this person in the record.", "", "Go back to the person and choose it there.")
	}
	first := person.Observations[i]
	const why = "Two forms show whether two observers see the same."
	switch {
	case observer.ID == person.ID:
		return first, fault.New(fault.Denied, "observe-self", "Nobody can verify themselves.", why, "Ask another verifier.")
	case observer.ID == first.Observer:
		return first, fault.New(fault.Denied, "same-observer", "This verifier filled in the first form.", why, "Ask the other one who watched.")
	case slices.ContainsFunc(person.Seconds, func(x Second) bool { return x.Of == of && x.Observer == observer.ID }):
		return first, fault.New(fault.Conflict, "seen-already", "This verifier's form of this fingerstick is recorded already.", why, "Nothing more is needed.")
	case first.Day != today.Day:
		return first, fault.New(fault.Refused, "another-day", "The fingerstick was on another day.", "A form from memory says little about what was seen.", "Let both fill in a form of the next one.")
	}
	if missing := Lacks(observer, r, cards.Verifier, today); len(missing) > 0 {
		return first, fault.New(fault.Denied, "observer-not-current", "This observer is not verified today: "+missing[0].Sentence.In("en"), why, "Ask another verifier.")
	}
	return first, nil
}

// MayTakeQuiz refuses a quiz after the attempts are used up, until somebody has taught. The error is a *fault.Fault.
func MayTakeQuiz(s *State, r Rules, l cards.Level) error {
	if !l.Valid() {
		return fault.BadField("level", "There is no level %q.", l)
	}
	if n := s.Tries[tryKey(MethodQuiz, l)].Failed; n >= r.Quiz.Attempts {
		return fault.New(fault.Refused, "teach-first", fmt.Sprintf("The quiz was not passed %d times.", n), "One more try without teaching only trains guessing.",
			"Ask a teacher to go through it with you and to record that.")
	}
	return nil
}

// MayGrant refuses a verification: nobody grants it to themselves, and every proof but the signature must be there on that day. The
// error is a *fault.Fault that names all that is missing.
func MayGrant(s *State, by string, r Rules, l cards.Level, today Today) error {
	if by == s.ID {
		return fault.New(fault.Denied, "verify-self", "Nobody can verify themselves.", "A verification is another person's word.", "Ask another lead or supervisor to record it.")
	}
	var said []string
	for _, m := range proofs(s, r, l, today) {
		if m.missing != nil {
			said = append(said, m.missing.Sentence.In("en"))
		}
	}
	if len(said) > 0 {
		return fault.New(fault.Refused, "not-ready", strings.Join(said, " "), "A verification rests on proof.", "Complete what is named, then sign.")
	}
	return nil
}
