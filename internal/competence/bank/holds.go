package bank

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"fairstick/internal/glucose"
	"fairstick/internal/protocol"
)

// HoldsIn reports whether a question written by hand is right under a protocol. A programme that has other rules is not asked it. Each
// line of Holds is one of these, judged by the same code that judges people:
//
//	excluded KEY [ANSWER]          the answer (yes, or a number) to this question of the desk excludes
//	caution KEY, barred KEY        a yes to it asks for care, or bars a chemistry of strips
//	band BASIS NUMBER UNIT BAND    a reading lies in this band
//	repeat NUMBER UNIT             a first reading is repeated
//	fasting-hours N, warm-up-minutes N, sugar-grams N, recheck-minutes N, max-sticks N
//	calls BAND DAY [DAY]           the first calls for this band
//
// A line that is none of them is an error.
func (q Question) HoldsIn(p protocol.Protocol) (bool, error) {
	for _, line := range q.Holds {
		ok, err := holds(p, strings.Fields(line))
		if err != nil {
			return false, fmt.Errorf("question %s: holds %s: %w", q.Key, line, err)
		}
		if !ok {
			return false, nil
		}
	}
	return true, nil
}

func holds(p protocol.Protocol, w []string) (bool, error) {
	at := func(i int) string {
		if i < len(w) {
			return w[i]
		}
		return ""
	}
	numbers := map[string]int{
		"fasting-hours": p.FastingHours, "warm-up-minutes": p.WarmUp, "sugar-grams": p.LowCare.SugarGrams, "recheck-minutes": p.LowCare.RecheckMinutes,
		"max-sticks": p.Repeat.MaxSticks,
	}
	if have, ok := numbers[at(0)]; ok {
		n, err := strconv.Atoi(at(1))
		return err == nil && n == have, err
	}
	switch at(0) {
	case "excluded", "caution", "barred":
		return answerDoes(p, at(0), at(1), at(2)), nil
	case "band":
		reading, err := glucose.ParseReading(at(2), glucose.Unit(at(3)))
		if err != nil {
			return false, err
		}
		f, err := p.Find(reading, protocol.Basis(at(1)))
		return err == nil && string(f.Band) == at(4), nil
	case "repeat":
		reading, err := glucose.ParseReading(at(1), glucose.Unit(at(2)))
		if err != nil {
			return false, err
		}
		c, err := p.Conclude([]protocol.Taken{{ID: "1", Reading: reading, Purpose: protocol.PurposeFirst}}, 1, protocol.Random, false)
		return err == nil && c.RepeatDue, nil
	case "calls":
		var days []string
		for _, d := range p.FollowUp[protocol.Band(at(1))] {
			days = append(days, strconv.Itoa(d))
		}
		return len(w) > 2 && len(days) >= len(w)-2 && slices.Equal(days[:len(w)-2], w[2:]), nil
	}
	return false, fmt.Errorf("%q is nothing that can be checked", at(0))
}

// answerDoes reports whether a yes (or a number) to one question of the desk, with no to all others, has an effect.
func answerDoes(p protocol.Protocol, effect, key, answer string) bool {
	if _, asked := p.Question(key); !asked {
		return false
	}
	a := plainAnswers(p)
	a[key] = protocol.Yes
	if answer != "" {
		a[key] = answer
	}
	s, err := p.Screen(a)
	switch {
	case err != nil:
		return false
	case effect == "excluded":
		return !s.Eligible && !s.Emergency
	case effect == "caution":
		return s.Eligible && len(s.Cautions) > 0
	}
	return s.Eligible && len(s.BarredChemistry) > 0
}
