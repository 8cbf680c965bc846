package web

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"fairstick/internal/control"
	"fairstick/internal/glucose"
	"fairstick/internal/programme"
	"fairstick/internal/web/ui"
)

// qualityBasis says what the picture and the rules rest on, and what they leave out.
func qualityBasis(q programme.MeterQuality, left int) []string {
	out := []string{"Grey is the range printed for the strip lot: inside it a control is in range. What is marked inside the grey is a rule about the runs before it, or about the other level."}
	for _, p := range q.Parts {
		note := p.Target.Note
		if p.Ruled && !slices.Contains(out, note) {
			out = append(out, note)
		}
	}
	if q.Rules != nil {
		out = append(out, fmt.Sprintf("Rules looked at: %s warns; %s reject (common practice). R-4s is within one run. Counts begin anew with a lot of strips, and go on after a run that was rejected.",
			ruleList(q.Rules.Warn), ruleList(q.Rules.Reject)),
			fmt.Sprintf("A broken rule stands until the meter has controls at a later event. The mean and SD of its own first %d runs are used as soon as a lot and level has them.", control.OwnRuns))
	}
	if left > 0 {
		out = append(out, fmt.Sprintf("The picture shows the last %d of %d times; the table has all of them.", mostPlaces, left+mostPlaces))
	}
	return out
}

func ruleList(names []control.RuleName) string {
	out := make([]string, len(names))
	for i, n := range names {
		out[i] = string(n)
	}
	return strings.Join(out, ", ")
}

// units writes the values of a meter: the unit stands in the title of the column, or beside each value when there are two.
type units struct{ one glucose.Unit }

func unitsOf(q programme.MeterQuality) units {
	u := units{}
	for i, r := range q.Runs {
		if i > 0 && r.Low.Unit != u.one {
			return units{}
		}
		u.one = r.Low.Unit
	}
	return u
}

func (u units) title(label string) string {
	if u.one == "" {
		return label
	}
	return label + ", " + string(u.one)
}

func (u units) cell(number string, unit glucose.Unit) string {
	if u.one == "" {
		return number + " " + string(unit)
	}
	return number
}

// ruleSays is what each rule looks for.
var ruleSays = map[control.RuleName]string{
	control.Rule12s: "one value beyond 2 SD", control.Rule13s: "one value beyond 3 SD", control.Rule22s: "two in a row beyond the same 2 SD",
	control.RuleR4s: "in one run, one level above +2 SD and another below −2 SD", control.Rule31s: "three in a row beyond the same 1 SD",
	control.Rule41s: "four in a row beyond the same 1 SD", control.Rule6x: "six in a row on one side of the mean", control.Rule8x: "eight in a row on one side of the mean",
	control.Rule9x: "nine in a row on one side of the mean", control.Rule10x: "ten in a row on one side of the mean", control.Rule12x: "twelve in a row on one side of the mean",
	control.Rule2of3s: "two of three beyond the same 2 SD", control.Rule7T: "seven in a row rising, or falling",
}

// breaksPart is each broken rule with the values that broke it, newest first.
func breaksPart(q programme.MeterQuality) reportPart {
	u := unitsOf(q)
	p := reportPart{
		Key: "rules", Heading: "Rules broken", Empty: "None.",
		Cols: []ui.Col{{Label: "When"}, {Label: "Rule"}, {Label: "It looks for"}, {Label: "Lot"}, {Label: u.title("Values that broke it")}, {Label: "How it stands"}},
	}
	if q.Rules == nil {
		p.Empty = "No rule could be looked at."
	}
	shown := map[string]programme.QualityRun{}
	for _, r := range q.Runs {
		shown[r.ID] = r
	}
	for i := len(q.Breaks) - 1; i >= 0; i-- {
		b := q.Breaks[i]
		var values []string
		for _, level := range b.Levels {
			var of []string
			for _, id := range b.Runs {
				if r := shown[id]; r.Level == level {
					of = append(of, u.cell(r.Reading.Shown(), r.Reading.Unit))
				}
			}
			values = append(values, "level "+level+": "+strings.Join(of, ", "))
		}
		state := "past"
		switch {
		case b.Open:
			state = "look at it"
		case b.Caused:
			state = "the cause is written"
		case !b.Rejects:
			state = "a warning"
		}
		p.Rows = append(p.Rows, []string{b.At.Format("2 Jan 2006, 15:04"), string(b.Rule), ruleSays[b.Rule], b.Lot, strings.Join(values, "; "), state})
	}
	return p
}

// partsPart is each strip lot and level in numbers.
func partsPart(q programme.MeterQuality) reportPart {
	u := unitsOf(q)
	p := reportPart{
		Key: "lots", Heading: "By strip lot and level", Empty: "No control showed a number.",
		Said: []string{"Every number counts, also one out of range. The bias is the mean less the centre of the printed range."},
		Cols: []ui.Col{
			{Label: "Lot"},
			{Label: "Level"},
			{Label: "n", Num: true},
			{Label: u.title("Mean"), Num: true},
			{Label: u.title("SD"), Num: true},
			{Label: "CV", Num: true},
			{Label: u.title("Printed range")},
			{Label: u.title("Bias"), Num: true},
			{Label: "Bias, %", Num: true},
			{Label: "Out of range", Num: true},
			{Label: "z from"},
		},
	}
	for _, x := range q.Parts {
		sd, cv := "-", "-"
		if x.Spread != nil {
			sd, cv = u.cell(fixed(x.Spread.SD, x.Unit), x.Unit), fmt.Sprintf("%.1f %%", x.Spread.CV)
		}
		held := "the range"
		switch {
		case !x.Ruled:
			held = "not counted: another range was copied later"
		case x.Target.Basis == control.OwnBasis:
			held = fmt.Sprintf("its first %d", control.OwnRuns)
		}
		out := fmt.Sprint(x.OutOfRange)
		if x.NoValue > 0 {
			out += fmt.Sprintf(", %d no number", x.NoValue)
		}
		first := x.Points[0].Run
		p.Rows = append(p.Rows, []string{
			x.Lot, x.Level, fmt.Sprint(x.N), u.cell(fixed(x.Mean, x.Unit), x.Unit), sd, cv, u.cell(first.Low.Number()+" to "+first.High.Number(), x.Unit),
			u.cell(signed(x.Bias, decimalsOf(x.Unit)), x.Unit), signed(x.BiasPercent, 1) + " %", out, held,
		})
	}
	return p
}

// signed writes a number with its sign, a true minus.
func signed(v float64, decimals int) string {
	s := fmt.Sprintf("%+.*f", decimals, v)
	if strings.Trim(s, "+-0.") == "" {
		return s[1:]
	}
	return strings.Replace(s, "-", "−", 1)
}

// scatterPart is how far the controls of a level scatter over all lots.
func scatterPart(q programme.MeterQuality) reportPart {
	p := reportPart{
		Key: "scatter", Heading: "How far it scatters", Empty: "A scatter needs two values of one lot and level without an assigned cause.",
		Said: []string{"CV within strip lots, pooled over them. Days, operators, vials and rooms are all in it; runs with a written cause are left out. Blood may scatter more than control solution does."},
		Cols: []ui.Col{{Label: "Level"}, {Label: "CV", Num: true}, {Label: "Values", Num: true}, {Label: "Lots with two or more", Num: true}, {Label: "Degrees of freedom", Num: true}, {Label: "How sure"}},
	}
	for _, s := range q.Scatter {
		sure := "settled"
		if s.DF < control.OwnRuns-1 {
			sure = fmt.Sprintf("a first guess, until there are %d degrees of freedom", control.OwnRuns-1)
		}
		p.Rows = append(p.Rows, []string{s.Level, fmt.Sprintf("%.1f %%", s.CV), fmt.Sprint(s.N), fmt.Sprint(s.Lots), fmt.Sprint(s.DF), sure})
	}
	return p
}

// actsPart is what happened to the meter and what was done, newest first.
func actsPart(q programme.MeterQuality) reportPart {
	p := reportPart{
		Key: "acts", Heading: "What happened to it", Empty: "Nothing but controls.",
		Cols: []ui.Col{{Label: "When"}, {Label: "What"}, {Label: "More"}, {Label: "By"}},
	}
	for i := len(q.Acts) - 1; i >= 0; i-- {
		a := q.Acts[i]
		what, more := "", a.Note
		switch a.Kind {
		case "void":
			what = "Controls void: " + voidWord(a.Key)
		case "quarantine":
			what = "Put in quarantine"
		case "return":
			what = "Returned from quarantine"
		case "lot":
			what, more = "Next lot of strips", "lot "+a.Note
		case "cause":
			what = "Control out of range: " + a.Key
		}
		p.Rows = append(p.Rows, []string{a.At.Format("2 Jan 2006, 15:04"), what, cmp.Or(more, "-"), cmp.Or(a.By, "-")})
	}
	return p
}

// qualityRuns is every control of a meter, newest first.
type qualityRuns struct {
	reportPart
	Marks []runMark
}

// runMark is how a run looks in the list on a page: where it leads to, its verdict with its shape, and its rules in bold.
type runMark struct {
	Href, Verdict, Rules string
	In                   bool
}

// runsOf lists every control of a meter, newest first.
func runsOf(q programme.MeterQuality) qualityRuns {
	u := unitsOf(q)
	out := qualityRuns{reportPart: reportPart{
		Key: "runs", Heading: "Every control, newest first",
		Cols: []ui.Col{
			{Label: "When"},
			{Label: "Event"},
			{Label: "Strips"},
			{Label: "Level"},
			{Label: u.title("Value"), Num: true},
			{Label: u.title("Printed range")},
			{Label: "z", Num: true},
			{Label: "Verdict"},
			{Label: "Cause and action"},
			{Label: "By"},
		},
	}}
	for i := len(q.Runs) - 1; i >= 0; i-- {
		r := q.Runs[i]
		mark := runMark{
			Href: "/events/" + r.EventID + "/controls/runs/" + r.ID, Verdict: cmp.Or(verdictWords[r.Verdict], r.Verdict), Rules: brokenText(r, false), In: r.Verdict == string(control.InRange),
		}
		z, done, shown := "-", "-", u.cell(r.Reading.Shown(), r.Reading.Unit)
		if r.HasZ {
			z = signed(r.Z, 2)
		}
		switch {
		case r.Cause != "":
			done = endSentence(r.Cause) + " " + r.Action
		case !mark.In:
			done = "not written"
		}
		if r.Reading.Kind == glucose.Error {
			shown = "error " + r.Reading.Shown()
		}
		verdict := mark.Verdict
		if mark.Rules != "" {
			verdict += ", " + mark.Rules
		}
		out.Rows = append(out.Rows, []string{
			r.At.Format("2 Jan 2006, 15:04"), r.Event, "lot " + r.Lot + ", vial " + r.Vial, r.Level, shown, u.cell(r.Low.Number()+" to "+r.High.Number(), r.Low.Unit), z, verdict, done, r.Operator,
		})
		out.Marks = append(out.Marks, mark)
	}
	return out
}
