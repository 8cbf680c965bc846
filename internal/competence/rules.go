package competence

import (
	"bytes"
	"encoding/json"
	"fmt"
	"slices"
	"time"

	"fairstick/internal/civil"
	"fairstick/internal/competence/bank"
	"fairstick/internal/competence/cards"
	"fairstick/internal/fault"
)

// Rules are what a programme asks of its people. They are meant to stand in the protocol that two people sign.
type Rules struct {
	Quiz             bank.Rules                `json:"quiz"`
	StepsPercent     int                       `json:"steps_percent"`          // share of the seen steps without harm that must be done
	Attempts         int                       `json:"attempts"`               // observations that may fail before somebody is taught again
	ValidMonths      int                       `json:"valid_months"`           // a proof, and a verification, lasts this long
	BloodborneMonths int                       `json:"bloodborne_months"`      // a training on bloodborne pathogens lasts this long
	IdleDays         int                       `json:"idle_days"`              // more days since the last test ask for a warm-up; 0 never
	SplitPercent     int                       `json:"split_percent"`          // how far a split sample may differ
	NotCritical      []string                  `json:"not_critical,omitempty"` // step keys that the programme takes off the critical list
	Levels           map[cards.Level]LevelRule `json:"levels"`
	Source           string                    `json:"source"`
}

// LevelRule is what one level asks.
type LevelRule struct {
	Quiz         bool `json:"quiz"`
	Rehearsal    bool `json:"rehearsal"`
	Observations int  `json:"observations"` // passed ones
	Methods      int  `json:"methods"`      // different ways by which it was shown
	Bloodborne   bool `json:"bloodborne"`
	HepatitisB   bool `json:"hepatitis_b"` // cleared by the college
	Models       bool `json:"models"`      // trained on each meter model in use
	Idle         bool `json:"idle"`        // a warm-up after IdleDays
}

// DefaultRules are the rules from which a programme starts.
func DefaultRules() Rules {
	return Rules{
		Quiz: bank.Default(), StepsPercent: 90, Attempts: 3, ValidMonths: 12, BloodborneMonths: 12, IdleDays: 90, SplitPercent: 15,
		Levels: map[cards.Level]LevelRule{
			cards.Observer:   {Quiz: true, Methods: 1},
			cards.Desk:       {Quiz: true, Observations: 1, Methods: 2},
			cards.Counsellor: {Quiz: true, Rehearsal: true, Observations: 1, Methods: 2},
			cards.Screener:   {Quiz: true, Rehearsal: true, Observations: 3, Methods: 2, Bloodborne: true, HepatitisB: true, Models: true, Idle: true},
			cards.Verifier:   {Quiz: true, Methods: 1, Bloodborne: true, Models: true},
		},
		Source: "Programme policy. Two of several methods, after training, before testing people and then yearly: accreditation practice for waived tests " +
			"(Joint Commission FAQ on waived testing competency). Split sample: 15 % as in ISO 15197:2013.",
	}
}

// ParseRules reads rules as a protocol carries them and validates them. A name that is not known is refused, since a rule that is
// misspelt would not hold. The error is a *fault.Fault with key "competence-rules".
func ParseRules(data []byte) (Rules, error) {
	var r Rules
	dec := json.NewDecoder(bytes.NewReader(data))
	dec.DisallowUnknownFields()
	if err := dec.Decode(&r); err != nil {
		return Rules{}, fault.New(fault.Invalid, "competence-rules", "The rules of verification cannot be read.", "People are let to work by them.",
			"Begin from the default rules and change the numbers.").Because(err)
	}
	if err := r.Validate(); err != nil {
		return Rules{}, err
	}
	return r, nil
}

// Validate refuses rules that contradict themselves or leave out what keeps people safe: a *fault.Fault with key
// "competence-rules" and one message per place.
func (r Rules) Validate() error {
	bad := map[string]string{}
	say := func(ok bool, field, format string, args ...any) {
		if _, there := bad[field]; !ok && !there {
			bad[field] = fmt.Sprintf(format, args...)
		}
	}
	if f := fault.Of(r.Quiz.Validate()); f != nil {
		for k, v := range f.Fields {
			say(false, "quiz."+k, "%s", v)
		}
	}
	say(r.StepsPercent >= 50 && r.StepsPercent <= 100, "steps_percent", "From 50 to 100 per cent of the steps.")
	say(r.Attempts >= 1 && r.Attempts <= 10, "attempts", "From 1 to 10 attempts.")
	say(r.ValidMonths >= 1 && r.ValidMonths <= 36, "valid_months", "A verification lasts from 1 to 36 months.")
	say(r.BloodborneMonths >= 1 && r.BloodborneMonths <= 24, "bloodborne_months", "A bloodborne training lasts from 1 to 24 months.")
	say(r.IdleDays >= 0 && r.IdleDays <= 730, "idle_days", "From 0 (never) to 730 days.")
	say(r.SplitPercent >= 5 && r.SplitPercent <= 25, "split_percent", "A split sample may differ by 5 to 25 per cent.")
	for _, key := range r.NotCritical {
		_, known := cards.Find(key)
		say(known, "not_critical", "There is no step %q.", key)
		say(!slices.Contains(cards.Locked(), key), "not_critical", "The step %q stays critical: without it somebody can be infected or left alone.", key)
	}
	for _, l := range cards.Levels {
		_, ok := r.Levels[l]
		say(ok, "levels", "The level %s has no rule.", l)
	}
	say(r.Levels[cards.Screener].Observations >= 1, "levels.screener", "Nobody tests people before being observed once.")
	for l, x := range r.Levels {
		field := "levels." + string(l)
		say(l.Valid(), field, "There is no level %q.", l)
		say(x.Observations >= 0 && x.Observations <= 20, field, "From 0 to 20 observations.")
		ways := 0
		if x.Quiz {
			ways++
		}
		if x.Observations > 0 {
			ways += 2 // observed work, and a sample within it
		}
		say(x.Methods >= 1 && x.Methods <= ways, field, "%d methods cannot be shown by what the level asks for.", x.Methods)
	}
	if len(bad) == 0 {
		return nil
	}
	f := fault.New(fault.Invalid, "competence-rules", "The rules of verification cannot be used.", "People are let to work by them.", "Correct what is named.")
	f.Fields = bad
	return f
}

// critical reports whether one miss of a step ends an observation under these rules.
func (r Rules) critical(s cards.Step) bool {
	return s.Critical() && !slices.Contains(r.NotCritical, s.Key)
}

// LastDay is the last day of a number of months that begin on a day: the eve of the same day of a later month. Where that month has no
// such day, it is the last of that month.
func LastDay(from civil.Date, months int) civil.Date {
	first := time.Date(from.Year, from.Month+time.Month(months), 1, 0, 0, 0, 0, time.UTC)
	end := first.AddDate(0, 1, -1)
	if from.Day > end.Day() {
		return civil.Of(end)
	}
	return civil.Of(first).AddDays(from.Day - 2)
}
