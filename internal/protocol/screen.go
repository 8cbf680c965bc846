package protocol

import (
	"fmt"
	"strconv"
	"strings"

	"fairstick/internal/fault"
)

// The kinds of question.
const (
	YesNo  = "yes-no" // answered "yes" or "no"
	Number = "number" // answered with whole years; only the question "age" has this kind
	Signs  = "signs"  // answered "none" or crisis sign keys with commas between
)

// What an answer does: "yes", an age under Protocol.MinAge, or any crisis sign.
const (
	Exclude       = "exclude"       // not screened today
	Caution       = "caution"       // screened with care
	IsEmergency   = "emergency"     // not a screening any more
	BarsChemistry = "bar-chemistry" // strips of some chemistries must not be used
)

// The answers to a yes-no question, and the answer of a signs question when there is none.
const (
	Yes    = "yes"
	No     = "no"
	NoSign = "none"
)

// Question is one question at the desk and what its answer does.
type Question struct {
	Key         string   `json:"key"`
	Text        Text     `json:"text"`
	Help        Text     `json:"help,omitzero"`
	Kind        string   `json:"kind"`
	Effect      string   `json:"effect"`
	Sentence    Text     `json:"sentence"`          // said to the participant (exclude, emergency) or to the screener (caution, bar-chemistry)
	Route       Text     `json:"route,omitzero"`    // where to go instead
	Counted     string   `json:"counted,omitempty"` // how the report counts an excluded participant
	Chemistries []string `json:"chemistries,omitempty"`
	Optional    bool     `json:"optional,omitempty"`
	Source      string   `json:"source,omitempty"`
}

// Answers are the answers by question key.
type Answers map[string]string

// Screening is what the protocol makes of the answers.
type Screening struct {
	Eligible        bool     `json:"eligible"`
	Reason          string   `json:"reason,omitempty"`  // key of the question that excludes
	Counted         string   `json:"counted,omitempty"` // how the report counts it
	Sentence        Text     `json:"sentence,omitzero"` // kind goodbye, or what happens now
	Route           Text     `json:"route,omitzero"`
	Cautions        []Text   `json:"cautions,omitempty"`
	Emergency       bool     `json:"emergency"`
	Signs           []string `json:"signs,omitempty"` // keys of the crisis signs that were named
	BarredChemistry []string `json:"barred_chemistry,omitempty"`
}

// oldest is the oldest age that is believed.
const oldest = 120

// Screen goes through the questions in their order. A crisis sign makes an emergency whatever else is known. Otherwise the first
// answer that excludes ends the questions, and later ones need no answer. A question before that without an answer, an
// answer that cannot be, or an answer to something that is not asked, is a *fault.Fault of key "answers" with a message by
// question key.
func (p Protocol) Screen(a Answers) (Screening, error) {
	if s, ok := p.emergency(a); ok {
		return s, nil
	}
	bad := map[string]string{}
	for key := range a {
		if _, ok := p.Question(key); !ok {
			bad[key] = "This protocol does not ask that."
		}
	}
	s := Screening{Eligible: true}
	for _, q := range p.Questions {
		answer := strings.TrimSpace(a[q.Key])
		if answer == "" {
			if !q.Optional && s.Eligible {
				bad[q.Key] = "This still needs an answer."
			}
			continue
		}
		hit, wrong := p.hit(q, answer)
		if wrong != "" {
			bad[q.Key] = wrong
			continue
		}
		if hit && s.Eligible {
			s.take(q)
		}
	}
	if len(bad) > 0 {
		f := fault.New(fault.Invalid, "answers", "Not every question has an answer that can be used.",
			"Nobody is tested before it is known that they may be.", "Ask again where a message stands.")
		f.Fields = bad
		return Screening{}, f
	}
	return s, nil
}

// take adds to a screening what a question does once its answer strikes.
func (s *Screening) take(q Question) {
	switch q.Effect {
	case Exclude:
		s.Eligible, s.Reason, s.Counted, s.Sentence, s.Route = false, q.Key, q.Counted, q.Sentence, q.Route
	case Caution:
		s.Cautions = append(s.Cautions, q.Sentence)
	case BarsChemistry:
		s.BarredChemistry = append(s.BarredChemistry, q.Chemistries...)
		s.Cautions = append(s.Cautions, q.Sentence)
	}
}

// emergency finds a crisis sign among the answers, even when the rest of them is missing or wrong.
func (p Protocol) emergency(a Answers) (Screening, bool) {
	for _, q := range p.Questions {
		if q.Kind != Signs {
			continue
		}
		var named []string
		for _, key := range signKeys(a[q.Key]) {
			if _, ok := p.Sign(key); ok {
				named = append(named, key)
			}
		}
		if len(named) > 0 {
			return Screening{Reason: q.Key, Counted: q.Counted, Sentence: q.Sentence, Route: q.Route, Emergency: true, Signs: named}, true
		}
	}
	return Screening{}, false
}

func signKeys(answer string) []string {
	var keys []string
	for _, k := range strings.Split(answer, ",") {
		if k = strings.TrimSpace(k); k != "" {
			keys = append(keys, k)
		}
	}
	return keys
}

// hit reports whether an answer does what the question's effect says, or what is wrong with the answer.
func (p Protocol) hit(q Question, answer string) (hit bool, wrong string) {
	switch q.Kind {
	case YesNo:
		switch answer {
		case Yes:
			return true, ""
		case No:
			return false, ""
		}
		return false, "Answer yes or no."
	case Number:
		n, err := strconv.Atoi(answer)
		if err != nil || answer[0] == '+' || answer[0] == '-' {
			return false, "Give the age in whole years."
		}
		if n > oldest {
			return false, fmt.Sprintf("Give an age from 0 to %d.", oldest)
		}
		return n < p.MinAge, ""
	case Signs:
		if answer != NoSign {
			return false, "Choose the signs that are there, or none."
		}
	}
	return false, ""
}
