package protocol

import (
	"fmt"

	"fairstick/internal/fault"
	"fairstick/internal/glucose"
)

// Conclude says which of a visit's readings counts, and whether one more is due before a result is given. taken is in the order taken;
// sticks is how many fingersticks there have been.
//
//   - An error code is no value: a new strip, and the next reading is not a repeat.
//   - A recheck after sugar never counts.
//   - A first value at or above Repeat.HighFrom or HI, below Repeat.LowBelow or LO, is repeated on washed hands, on either basis.
//   - A person who is unwell (a crisis sign is there) does not wait: no repeat is due and the finding is escalated.
//   - After a high value, a repeat on washed hands counts. Without washing, the more urgent of the two counts.
//   - After a low value, sugar on the fingers is no explanation: the more urgent of the two counts when the bands differ,
//     else the repeat.
//   - After a value that needed no repeat, the more urgent counts; in the same band it stays, so that nobody tests until it looks better.
//   - A stick beyond Repeat.MaxSticks needs a supervisor.
//
// Further repeats are weighed in turn against the reading that counts so far. While a repeat is due the finding is provisional:
// it alerts a supervisor and is not told to the participant. The error is a *fault.Fault.
func (p Protocol) Conclude(taken []Taken, sticks int, b Basis, unwell bool) (Conclusion, error) {
	c := Conclusion{NeedsSupervisorForStick: sticks >= p.Repeat.MaxSticks}
	values, errors, err := p.values(taken, b)
	if err != nil {
		return Conclusion{}, err
	}
	if len(values) == 0 {
		c.Why = "No reading has been taken yet."
		if errors > 0 {
			c.Why = "The meter showed an error, which is no value. Take a new strip and test again; that is not a repeat."
		}
		return c, nil
	}
	best := values[0]
	switch {
	case len(values) > 1:
		for _, next := range values[1:] {
			best, c.Why = weigh(best, next)
		}
	case best.side == "":
		c.Why = fmt.Sprintf("%s needed no repeat and counts.", best.Reading)
	case unwell:
		c.Why = fmt.Sprintf("%s counts without a repeat, because the person is unwell.", best.Reading)
	default:
		c.Why = fmt.Sprintf("%s is not a result yet: it is repeated first.", best.Reading)
		c.RepeatDue, c.RepeatWhy = true, p.repeatWhy(best)
	}
	c.Counts = best.ID
	f := best.finding
	if unwell {
		f = p.Escalate(f)
	}
	c.Finding = &f
	return c, nil
}

// value is a reading that has a finding.
type value struct {
	Taken
	finding Finding
	side    string // sideHigh or sideLow when its size asks for a repeat, else ""
}

const (
	sideHigh = "high"
	sideLow  = "low"
)

// values picks the readings that can count and finds each of them.
func (p Protocol) values(taken []Taken, b Basis) (values []value, errors int, err error) {
	for _, t := range taken {
		switch t.Purpose {
		case PurposeFirst, PurposeRepeat:
		case PurposeRecheck:
			continue
		default:
			return nil, 0, fault.New(fault.Invalid, "purpose-unknown", fmt.Sprintf("A reading cannot be for %q.", t.Purpose),
				"What a reading is for decides whether it counts.", "Say whether it is the first, a repeat or a recheck.")
		}
		if t.Reading.Kind == glucose.Error {
			errors++
			continue
		}
		f, err := p.Find(t.Reading, b)
		if err != nil {
			return nil, 0, err
		}
		side, err := p.side(t.Reading)
		if err != nil {
			return nil, 0, err
		}
		values = append(values, value{t, f, side})
	}
	return values, errors, nil
}

// side says on which side a reading is far enough out to be repeated.
func (p Protocol) side(r glucose.Reading) (string, error) {
	switch r.Kind {
	case glucose.High:
		return sideHigh, nil
	case glucose.Low:
		return sideLow, nil
	}
	high, okHigh := p.Repeat.HighFrom[r.Unit]
	low, okLow := p.Repeat.LowBelow[r.Unit]
	if !okHigh || !okLow {
		return "", incomplete(fmt.Sprintf("when a reading in %s is repeated", r.Unit))
	}
	if c, err := glucose.Compare(r.Value, high); err != nil || c >= 0 {
		return sideHigh, err
	}
	if c, err := glucose.Compare(r.Value, low); err != nil || c < 0 {
		return sideLow, err
	}
	return "", nil
}

func (p Protocol) repeatWhy(v value) string {
	limit := ""
	if v.Reading.Kind == glucose.Numeric {
		if v.side == sideHigh {
			limit = fmt.Sprintf(" (%s or more)", p.Repeat.HighFrom[v.Reading.Unit])
		} else {
			limit = fmt.Sprintf(" (below %s)", p.Repeat.LowBelow[v.Reading.Unit])
		}
	}
	if v.side == sideHigh {
		return "Sugar on the skin can make a reading high" + limit + ". Wash with soap, dry, and repeat on another finger."
	}
	return "A low reading is checked once" + limit + ". Wash with soap, dry, and repeat on another finger."
}

// weigh compares the reading that counts so far with the next one and says in a sentence which counts.
func weigh(old, next value) (value, string) {
	same := old.finding.Band == next.finding.Band
	switch {
	case old.side == sideHigh && next.Washed:
		return next, fmt.Sprintf("%s counts, because it was taken on washed hands after %s.", next.Reading, old.Reading) + apart(old, next)
	case old.side == sideHigh && same && !moreUrgent(old, next):
		return next, fmt.Sprintf("%s counts: it repeats %s in the same band. The hands were not washed.", next.Reading, old.Reading)
	case old.side == sideHigh && same:
		return old, fmt.Sprintf("%s counts: the repeat showed %s on hands that were not washed.", old.Reading, next.Reading)
	case old.side == sideLow && same:
		return next, fmt.Sprintf("%s counts: it repeats %s in the same band.", next.Reading, old.Reading)
	case same:
		return old, fmt.Sprintf("%s needed no repeat and counts; %s is in the same band.", old.Reading, next.Reading)
	}
	counts, other := next, old
	if moreUrgent(old, next) {
		counts, other = old, next
	}
	switch old.side {
	case sideHigh:
		return counts, fmt.Sprintf("%s counts: it is more urgent than %s, and the hands were not washed for the repeat.", counts.Reading, other.Reading) + apart(old, next)
	case sideLow:
		return counts, fmt.Sprintf("%s counts: it is more urgent than %s, and sugar on the skin does not make a reading low.", counts.Reading, other.Reading) + apart(old, next)
	}
	return counts, fmt.Sprintf("%s counts: it is more urgent than %s, and no repeat was asked for.", counts.Reading, other.Reading)
}

// apart adds what to do when two readings of one person lie on opposite sides.
func apart(a, b value) string {
	if a.side != "" && b.side != "" && a.side != b.side {
		return " The two lie on opposite sides: ask a supervisor before the result is given."
	}
	return ""
}

// moreUrgent reports whether a is more urgent than b: by urgency, then, as low sugar acts sooner, by the lower band.
func moreUrgent(a, b value) bool {
	ua, ub := a.finding.Urgency.Order(), b.finding.Urgency.Order()
	if ua != ub {
		return ua > ub
	}
	return a.finding.Band.Order() < b.finding.Band.Order()
}
