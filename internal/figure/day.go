package figure

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"fairstick/internal/chart"
	"fairstick/internal/control"
	"fairstick/internal/estimate"
)

// Alike says whether the meters of a day read alike, from the first readings of its participants.
type Alike struct {
	Answer  string
	Figures []Figure // one for each meter that can be compared
	Table   Table    // every meter
	Basis   []string // how to read the pictures
}

// ReadAlike tells how far each meter lies from the others and what the watch has raised.
func ReadAlike(traces []control.Trace, alarms []control.Alarm) Alike {
	out := Alike{
		Table: Table{Key: "meters", Heading: "Every meter of the day", Cols: []Col{{"Meter", false}, {"First readings", true}, {"Median, against the others", true}, {"Distance now", true}, {"Alarms beyond", true}, {"State", false}}},
		Basis: []string{
			"Each participant's first reading counts, the newest most. A meter is compared with the other meters of the same hours, so that a crowd coming from lunch moves all of them. It is shown from its eighth test on, once the others have eight.",
			"The distance is counted in standard errors: how far off a meter lies, against how far people alone would spread it. The limits are set so that a day of the size that was planned for alarms falsely less than once in 20.",
			"People differ, so an alarm is a reason to run controls. It is no verdict on a meter, and none on results.",
		},
	}
	compared := 0
	for _, t := range traces {
		row := []string{t.Meter, fmt.Sprint(t.Tests), "-", "-", "±" + fixed(t.Limit, 1), "too few tests to compare"}
		if len(t.Steps) > 0 {
			compared++
			row[2], row[3], row[5] = signed(t.Percent, 0)+" %", signed(t.Steps[len(t.Steps)-1].Distance, 1), state(t)
			out.Figures = append(out.Figures, trace(t))
		}
		out.Table.Rows = append(out.Table.Rows, row)
	}
	switch {
	case len(alarms) > 0:
		said := make([]string, len(alarms))
		for i, a := range alarms {
			said[i] = a.What + " " + a.Do
		}
		out.Answer = strings.Join(said, " ")
	case compared == 0:
		out.Answer = "Too few people were tested to compare the meters."
	default:
		out.Answer = fmt.Sprintf("Nothing is off so far: %d of %d meters could be compared, and none lies beyond its limits.", compared, len(traces))
	}
	return out
}

// state says how a meter stands in a few words.
func state(t control.Trace) string {
	if i := slices.IndexFunc(t.Steps, func(s control.TraceStep) bool { return s.Alarm }); i >= 0 {
		return fmt.Sprintf("alarm after test %d", t.Steps[i].At)
	}
	return "alike"
}

// trace is the picture of one meter.
func trace(t control.Trace) Figure {
	f := Figure{Key: "meter-" + fileName(t.Meter), Title: "Does meter " + t.Meter + " read like the others?"}
	c := chart.Drift{Levels: []chart.Level{
		{Value: 0, Label: "like the others", Heavy: true},
		{Value: t.Limit, Label: "too high " + signed(t.Limit, 1), Dash: chart.Dashed},
		{Value: -t.Limit, Label: "too low " + signed(-t.Limit, 1), Dash: chart.Dashed},
	}}
	far := 0.0
	for _, s := range t.Steps {
		step := chart.Step{At: s.At, Value: s.Distance}
		if s.Alarm {
			step.Alarm = "check " + t.Meter
		}
		c.Steps = append(c.Steps, step)
		far = math.Max(far, math.Abs(s.Distance))
	}
	now := t.Steps[len(t.Steps)-1].Distance
	f.Answer = fmt.Sprintf("%d first readings, with a median %s %% against the others. The distance is %s now and was %s at most; the limit is %s.", t.Tests, signed(t.Percent, 0), signed(now, 1), fixed(far, 1), fixed(t.Limit, 1))
	if s := state(t); s != "alike" {
		f.Answer = "There was an " + s + ". " + f.Answer
	}
	c.Text = chart.Text{Title: f.Title, Desc: f.Answer, X: "test of the day", Y: "distance from the others, standard errors"}
	f.Chart = c
	return f
}

// fewDigits is how many readings a picture of last figures needs: two for each digit. With fewer it would show chance alone.
const fewDigits = 20

// LastFigures draws how the readings of each screener end, for those with enough of them.
func LastFigures(checks []estimate.DigitCheck) []Figure {
	var out []Figure
	for i, k := range checks {
		if k.N < fewDigits {
			continue
		}
		expected := float64(k.N) / 10
		f := Figure{
			Key: fmt.Sprintf("digits-%d", i+1), Title: "How do the readings of " + k.Name + " end?",
			Answer: fmt.Sprintf("%d of %d end in 0 or 5; chance alone gives about %s.", k.ZeroOrFive.Count, k.N, fixed(2*expected, 0)),
			Table:  Table{Key: fmt.Sprintf("digits-%d-table", i+1), Cols: []Col{{"Last figure", false}, {"Readings", true}, {"Expected", true}}},
		}
		if k.Alarm {
			f.Answer += " Chance alone hardly does this: compare with the meter's memory."
		}
		c := chart.Bars{Levels: []chart.Level{{Value: expected, Label: "expected " + fixed(expected, 1), Dash: chart.Dashed}}}
		for digit, n := range k.Digits {
			b := chart.Bar{Label: fmt.Sprint(digit), Value: float64(n), Marked: digit%5 == 0 && k.Alarm}
			c.Bars = append(c.Bars, b)
			f.Table.Rows = append(f.Table.Rows, []string{fmt.Sprint(digit), fmt.Sprint(n), fixed(expected, 1)})
		}
		c.Text = chart.Text{Title: f.Title, Desc: f.Answer, X: "last figure", Y: "readings"}
		f.Chart = c
		out = append(out, f)
	}
	return out
}
