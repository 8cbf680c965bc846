package programme

import (
	"fmt"
	"slices"
	"sort"
	"strings"

	"fairstick/internal/civil"
	"fairstick/internal/control"
	"fairstick/internal/fault"
	"fairstick/internal/glucose"
)

// copied is a range as it was copied from a vial.
type copied struct{ low, high glucose.Value }

func (r copied) String() string { return r.low.Number() + " to " + r.high.String() }

// describe makes a part of each strip lot and level, and looks at the rules lot by lot: counts do not go on from one lot to
// the next.
func (q *MeterQuality) describe() {
	if n := len(q.Levels); n > control.MaxLevels {
		q.Problems = append(q.Problems, fmt.Sprintf("%d levels of control are on record: %s. The rules are defined for up to %d, so they are not looked at.", n, strings.Join(q.Levels, ", "), control.MaxLevels))
	}
	var lots []string
	for i := range q.Runs {
		r := &q.Runs[i]
		if r.Reading.Kind == glucose.Numeric {
			r.Value = r.Reading.Value.Float()
		}
		if !slices.Contains(lots, r.StripLot) {
			lots = append(lots, r.StripLot)
		}
	}
	for _, lot := range lots {
		charts := make([][]control.LJPoint, len(q.Levels))
		ruled := make([]*QualityPart, len(q.Levels))
		var parts []*QualityPart
		for i, level := range q.Levels {
			of := q.partsOf(lot, level)
			parts = append(parts, of...)
			for _, p := range of {
				if p.Ruled {
					ruled[i], charts[i] = p, q.chart(p)
				}
			}
		}
		if len(q.Levels) <= control.MaxLevels {
			q.look(charts, ruled)
		}
		for _, p := range parts {
			q.Parts = append(q.Parts, *p)
		}
	}
}

// partsOf describes the runs of one lot and level: one part, or one for each printed range when several were copied. The part
// of the newest range is the one that the rules look at.
func (q *MeterQuality) partsOf(lot, level string) []*QualityPart {
	var ranges []copied
	byRange := map[copied][]control.Run{}
	var label string
	var newest copied
	for _, r := range q.Runs {
		if r.StripLot != lot || r.Level != level {
			continue
		}
		label, newest = r.Lot, copied{r.Low, r.High}
		if byRange[newest] == nil {
			ranges = append(ranges, newest)
		}
		byRange[newest] = append(byRange[newest], control.Run{
			ID: r.ID, Meter: "meter " + q.Meter.Details.Label, Lot: r.Lot, Vial: r.Vial, Level: r.Level, At: r.At, Reading: r.Reading, Low: r.Low, High: r.High, Cause: r.Cause,
		})
	}
	if len(ranges) > 1 {
		said := make([]string, len(ranges))
		for i, r := range ranges {
			said[i] = fmt.Sprintf("%s (%s)", r, runsWord(len(byRange[r])))
		}
		q.Problems = append(q.Problems, fmt.Sprintf("Level %s of lot %s has %d printed ranges: %s. A lot has one: correct the one that was copied wrongly. Until then the rules look at %s alone.",
			level, label, len(ranges), strings.Join(said, ", "), newest))
	}
	var out []*QualityPart
	for _, r := range ranges {
		s, err := control.Describe(byRange[r], control.RangeSDs)
		if fault.Is(err, "values-none") {
			continue // LO, HI and error codes alone: they are counted as misses
		}
		if err != nil {
			q.Problems = append(q.Problems, fault.Of(err).Sentence)
			continue
		}
		p := &QualityPart{LotID: lot, Series: s}
		switch {
		case s.Own != nil:
			p.Target, p.Ruled = *s.Own, r == newest
		case s.Printed != nil:
			p.Target, p.Ruled = *s.Printed, r == newest
		}
		out = append(out, p)
	}
	return out
}

func runsWord(n int) string {
	if n == 1 {
		return "1 run"
	}
	return fmt.Sprintf("%d runs", n)
}

// chart counts z for the runs of a part.
func (q *MeterQuality) chart(p *QualityPart) []control.LJPoint {
	points, err := control.LeveyJennings(p.Series, p.Target)
	if err != nil {
		q.Problems = append(q.Problems, fault.Of(err).Sentence)
		return nil
	}
	for _, pt := range points {
		if r := q.run(p.Points[pt.Index].Run.ID); r != nil {
			r.HasZ, r.Z = true, pt.Z
		}
	}
	return points
}

func (q *MeterQuality) run(id string) *QualityRun {
	for i := range q.Runs {
		if q.Runs[i].ID == id {
			return &q.Runs[i]
		}
	}
	return nil
}

// look applies the rules that are usual for the meter's number of levels to one lot.
func (q *MeterQuality) look(charts [][]control.LJPoint, parts []*QualityPart) {
	sessions := control.Together(session, charts...)
	if len(sessions) == 0 {
		return
	}
	points := make([][]control.Point, len(sessions))
	for i, s := range sessions {
		points[i] = s.Points
	}
	rules := control.UsualRules(len(q.Levels))
	results, err := control.Multirules(rules, points)
	if err != nil {
		q.Problems = append(q.Problems, fault.Of(err).Sentence)
		return
	}
	q.Rules = &rules
	at := func(p control.Place) *QualityRun {
		s := sessions[p.Run]
		for i, pt := range s.Points {
			if pt.Level == p.Level {
				return q.run(parts[p.Level].Points[charts[p.Level][s.Index[i]].Index].Run.ID)
			}
		}
		return nil
	}
	for _, res := range results {
		for _, b := range res.Breaks {
			q.keep(b, rules, at)
		}
	}
}

// keep writes down one broken rule, and puts its name to the newest of the points that broke it.
func (q *MeterQuality) keep(b control.Break, rules control.Rules, at func(control.Place) *QualityRun) {
	out := QualityBreak{Rule: b.Rule, Rejects: slices.Contains(rules.Reject, b.Rule)}
	newest := 0
	for _, p := range b.Points {
		newest = max(newest, p.Run)
	}
	for _, p := range b.Points {
		r := at(p)
		if r == nil {
			continue
		}
		out.Lot, out.At = r.Lot, r.At
		out.Runs = append(out.Runs, r.ID)
		if !slices.Contains(out.Levels, r.Level) {
			out.Levels = append(out.Levels, r.Level)
		}
		if p.Run == newest {
			r.Rejected = r.Rejected || out.Rejects
			if !slices.Contains(r.Broken, b.Rule) {
				r.Broken = append(r.Broken, b.Rule)
			}
		}
	}
	slices.Sort(out.Levels)
	q.Breaks = append(q.Breaks, out)
}

// settle orders the breaks and marks those that want a look.
func (q *MeterQuality) settle() {
	order := control.RuleNames()
	for i := range q.Runs {
		slices.SortFunc(q.Runs[i].Broken, func(a, b control.RuleName) int { return slices.Index(order, a) - slices.Index(order, b) })
	}
	sort.SliceStable(q.Breaks, func(i, j int) bool { return q.Breaks[i].At.Before(q.Breaks[j].At) })
	for i := range q.Breaks {
		b := &q.Breaks[i]
		b.Caused = !slices.ContainsFunc(b.Runs, func(id string) bool { return q.run(id).Cause == "" })
		last := q.run(b.Runs[len(b.Runs)-1])
		b.Open = b.Rejects && !b.Caused && last.EventID == q.Runs[len(q.Runs)-1].EventID
	}
}

// scatter pools the CV of each level over its lots: every value in percent of its lot's mean, so that lots with other targets
// and units count together. Runs with an assigned cause are left out; they are known not to be the meter's own scatter.
func (q *MeterQuality) scatter() {
	for _, level := range q.Levels {
		s := Scatter{Level: level}
		var groups [][]float64
		for _, p := range q.Parts {
			if p.Level != level {
				continue
			}
			var values []float64
			for _, pt := range p.Points {
				if pt.HasValue && pt.Run.Cause == "" {
					values = append(values, pt.Value)
				}
			}
			if len(values) > 1 {
				s.Lots++
			}
			groups = append(groups, values)
		}
		var err error
		if s.CV, s.N, s.DF, err = control.PooledCV(groups); err != nil {
			continue // no lot has two values yet
		}
		q.Scatter = append(q.Scatter, s)
	}
}

// misses counts the runs that were not in range, those without a number, and those without an assigned cause, at the last
// event and before.
func (q *MeterQuality) misses() (out, silent, bare, bareBefore int) {
	last := q.Runs[len(q.Runs)-1].EventID
	for _, r := range q.Runs {
		switch control.Verdict(r.Verdict) {
		case control.InRange:
			continue
		case control.NoValue:
			silent++
		case control.OutOfRange:
			out++
		}
		switch {
		case r.Cause != "":
		case r.EventID == last:
			bare++
		default:
			bareBefore++
		}
	}
	return out, silent, bare, bareBefore
}

// verdict says how the meter stands, in a word and in a sentence.
func (q *MeterQuality) verdict() (QualityState, string) {
	state, said := QualityInControl, ""
	if m := q.Meter.Quarantine; m != nil {
		state, said = QualityQuarantine, "In quarantine: "+strings.TrimSuffix(strings.TrimSpace(m.Note), ".")+". "
	}
	if len(q.Runs) == 0 {
		if state == QualityQuarantine {
			return state, said + "No control has been run on it yet."
		}
		return QualityNone, "No control has been run on this meter yet."
	}
	look := func() {
		if state == QualityInControl {
			state = QualityLook
		}
	}
	said += q.inRange()
	open := q.said("broken", func(b QualityBreak) bool { return b.Open })
	past := q.said("was broken", func(b QualityBreak) bool { return b.Rejects && !b.Open })
	switch n := len(open); {
	case q.Rules == nil:
		said += "; no rule could be looked at"
	case n > 0:
		look()
		said += "; " + firstTwo(open)
	case len(past) > 0:
		said += "; " + past[0] + ", and no rule since"
	default:
		said += "; no rule broken"
	}
	if _, _, bare, _ := q.misses(); bare > 0 {
		look()
		said += fmt.Sprintf("; %s of the last event without a written cause", missWord(bare))
	}
	if len(q.Problems) > 0 {
		look()
		said += "; not all of it can be judged"
	}
	if state == QualityLook {
		said += ": look at it before the next fair"
	}
	return state, said + "."
}

// inRange counts the runs in range, of all.
func (q *MeterQuality) inRange() string {
	out, silent, bare, before := q.misses()
	n := len(q.Runs)
	if out+silent == 0 {
		switch n {
		case 1:
			return "Its one control was in range"
		case 2:
			return "Both controls in range"
		}
		return fmt.Sprintf("All %d controls in range", n)
	}
	said := fmt.Sprintf("%d of %d controls in range", n-out-silent, n)
	if out > 0 {
		said += fmt.Sprintf(", %d out of range", out)
	}
	if silent > 0 {
		said += fmt.Sprintf(", %d without a number", silent)
	}
	switch {
	case bare+before == 0:
		said += ", with the cause written"
	case before > 0:
		said += fmt.Sprintf(", %d of these never explained", before)
	}
	return said
}

func missWord(n int) string {
	if n == 1 {
		return "1 miss"
	}
	return fmt.Sprintf("%d misses", n)
}

// said names the breaks that are asked for, the newest first, each once for a day: "4-1s broken on 3 May 2026 at level 2".
func (q *MeterQuality) said(broken string, want func(QualityBreak) bool) []string {
	var out []string
	for i := len(q.Breaks) - 1; i >= 0; i-- {
		b := q.Breaks[i]
		if !want(b) {
			continue
		}
		word := "level "
		if len(b.Levels) > 1 {
			word = "levels "
		}
		s := fmt.Sprintf("%s %s on %s at %s", b.Rule, broken, civil.Of(b.At).Long(), word+strings.Join(b.Levels, " and "))
		if !slices.Contains(out, s) {
			out = append(out, s)
		}
	}
	return out
}

// firstTwo names the first two of a list and counts the rest.
func firstTwo(list []string) string {
	switch n := len(list); {
	case n == 1:
		return list[0]
	case n == 2:
		return list[0] + " and " + list[1]
	default:
		return fmt.Sprintf("%s, %s and %d more", list[0], list[1], n-2)
	}
}
