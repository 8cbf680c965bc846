package figure

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"unicode"

	"fairstick/internal/chart"
	"fairstick/internal/control"
	"fairstick/internal/exchange"
	"fairstick/internal/paper"
)

// mostRuns is how many runs a picture shows: more are too dense to be read, and the last ones matter.
const mostRuns = 100

// Controls draws the control history of each meter with each strip lot, a panel for each level.
func Controls(r exchange.ControlReport) []Figure {
	var out []Figure
	for from := 0; from < len(r.Series); {
		to := from + 1
		for to < len(r.Series) && r.Series[to].Meter == r.Series[from].Meter && r.Series[to].Lot == r.Series[from].Lot {
			to++
		}
		out = append(out, history(r.Series[from:to], r.Rules))
		from = to
	}
	names := map[string]int{}
	for i, f := range out { // two names may be the same once they are file names
		if names[f.Key]++; names[f.Key] > 1 {
			out[i].Key = fmt.Sprintf("%s-%d", f.Key, names[f.Key])
		}
	}
	return out
}

// place is the run that a value belongs to: the k-th of its day.
type place struct {
	day string
	k   int
}

// placesOf gives the place of each point of a series. Dates are written with the year first, so that text sorts as they do.
func placesOf(s exchange.ControlSeries) []place {
	count := map[string]int{}
	out := make([]place, len(s.Points))
	for i, p := range s.Points {
		day := p.Date[:min(len(p.Date), len("2006-01-02"))]
		out[i] = place{day, count[day]}
		count[day]++
	}
	return out
}

// history is the picture of the levels of one meter with one lot.
func history(levels []exchange.ControlSeries, rules []exchange.ControlRules) Figure {
	meter, lot := levels[0].Meter, levels[0].Lot
	f := Figure{Key: "controls-" + fileName(meter) + "-" + fileName(lot), Title: "Is meter " + meter + " in control with strip lot " + lot + "?"}
	var order []place
	for _, s := range levels {
		order = append(order, placesOf(s)...)
	}
	slices.SortFunc(order, func(a, b place) int { return cmp.Or(cmp.Compare(a.day, b.day), cmp.Compare(a.k, b.k)) })
	order = slices.Compact(order)
	left := max(0, len(order)-mostRuns)
	at := map[place]int{}
	for i, p := range order[left:] {
		at[p] = i + 1
	}
	c := chart.LeveyJennings{}
	f.Table = Table{Key: f.Key + "-table", Heading: "The values", Cols: []Col{{"Date", false}, {"Level", false}, {"Value", true}, {"z", true}, {"In range", false}, {"Rules broken", false}}}
	type row struct {
		at, level int
		cells     []string
	}
	var rows []row
	for i, s := range levels {
		panel := chart.ControlPanel{Y: "level " + s.Level, Levels: chart.SDLines(s.Target.Mean, s.Target.SD, 3, figures(s.Target.SD))}
		if s.Target.Low != nil && s.Target.High != nil {
			panel.Bands = []chart.Band{{Low: *s.Target.Low, High: *s.Target.High}}
		}
		for j, pl := range placesOf(s) {
			if at[pl] == 0 {
				continue
			}
			p := s.Points[j]
			panel.Runs = append(panel.Runs, mark(p, at[pl], s.Target.Low != nil, warns(rules, len(levels))))
			in := "no"
			if p.InRange {
				in = "yes"
			}
			rows = append(rows, row{at[pl], i, []string{p.Date, s.Level, plain(p.Value), signed(p.Z, 2), in, cmp.Or(ruleText(p.Rules), "-")}})
		}
		if len(panel.Runs) > 0 {
			c.Panels = append(c.Panels, panel)
		}
	}
	slices.SortStableFunc(rows, func(a, b row) int { return cmp.Or(cmp.Compare(a.at, b.at), cmp.Compare(a.level, b.level)) })
	for _, r := range rows {
		f.Table.Rows = append(f.Table.Rows, r.cells)
	}
	f.Answer = c.Summary()
	if left > 0 {
		f.Answer += fmt.Sprintf(" The last %d runs are shown; %d came before them.", mostRuns, left)
	}
	f.Answer += " Lines are the mean and 1, 2 and 3 SD."
	if slices.ContainsFunc(levels, func(s exchange.ControlSeries) bool { return s.Target.Low != nil }) {
		f.Answer += " The grey strip is the printed range."
	}
	c.Text = chart.Text{Title: f.Title, Desc: f.Answer, X: "control runs, by date"}
	f.Chart = c
	return f
}

// mark is one value on the picture: what lies outside a printed range says so, the rest says which rules it broke.
func mark(p exchange.ControlPoint, at int, printed bool, warning []control.RuleName) chart.Run {
	out := chart.Run{At: at, Date: p.Date[:min(len(p.Date), len("2006-01-02"))], Value: p.Value, Note: ruleText(p.Rules)}
	rejects := slices.ContainsFunc(p.Rules, func(r control.RuleName) bool { return !slices.Contains(warning, r) })
	switch {
	case printed && !p.InRange:
		out.Kind = chart.OutOfRange
		if out.Note != "" {
			out.Note = "out of range, " + out.Note
		}
	case rejects:
		out.Kind = chart.Rejected
	case len(p.Rules) > 0:
		out.Kind = chart.Warning
	}
	return out
}

// warns gives the rules that only warn where there are so many levels.
func warns(all []exchange.ControlRules, levels int) []control.RuleName {
	for _, r := range all {
		if r.Levels == levels {
			return r.Warn
		}
	}
	return nil
}

func ruleText(rules []control.RuleName) string {
	out := make([]string, len(rules))
	for i, r := range rules {
		out[i] = string(r)
	}
	return strings.Join(out, ", ")
}

// figures is how many decimals a mean is written with: enough to tell one SD.
func figures(sd float64) int {
	switch {
	case sd < 0.1:
		return 3
	case sd < 1:
		return 2
	}
	return 1
}

// fileName keeps of a name what any file system takes.
func fileName(s string) string {
	out := strings.Map(func(r rune) rune {
		if unicode.IsLetter(r) || unicode.IsDigit(r) || r == '_' {
			return r
		}
		return '-'
	}, s)
	if r := []rune(out); len(r) > 40 {
		out = string(r[:40])
	}
	return out
}

// ControlDocument sets a control history for print: each meter and lot with its numbers, pictures and values.
func ControlDocument(r exchange.ControlReport, source string) (paper.Document, error) {
	doc := paper.Document{Title: "Can the meters be trusted?", Subtitle: "Control history from " + source, Lang: "en"}
	sum := Table{Key: "series", Heading: "In short", Cols: []Col{
		{"Meter, lot, level", false},
		{"Values", true},
		{"Mean", true},
		{"SD", true},
		{"CV", true},
		{"Target", true},
		{"Bias", true},
		{"Outside", true},
	}}
	counts := map[control.Decision]int{}
	for _, run := range r.Runs {
		counts[run.Verdict]++
	}
	sum.Said = []string{fmt.Sprintf("Of %d control runs %d are accepted, %d have a warning and %d are rejected.", len(r.Runs), counts[control.Accept], counts[control.Warn], counts[control.Reject])}
	for _, s := range r.Series {
		sd, cv := "-", "-"
		if s.SD != nil {
			sd = fixed(*s.SD, figures(s.Target.SD)+1)
		}
		if s.CV != nil {
			cv = percent(*s.CV)
		}
		d := figures(s.Target.SD)
		sum.Rows = append(sum.Rows, []string{s.Meter + ", " + s.Lot + ", " + s.Level, fmt.Sprint(s.N), fixed(s.Mean, d), sd, cv, fixed(s.Target.Mean, d) + " ± " + fixed(s.Target.SD, d), signed(s.Bias, d), fmt.Sprint(s.OutOfRange)})
	}
	doc.Sections = append(doc.Sections, sum.Section(), paper.Section{Heading: "Notes", Paragraphs: r.Notes})
	for _, f := range Controls(r) {
		values := f.Table
		f.Table = Table{}
		s, err := f.Section()
		if err != nil {
			return doc, err
		}
		doc.Sections = append(doc.Sections, s, values.Section())
	}
	return doc, nil
}
