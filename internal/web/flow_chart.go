package web

import (
	"fmt"
	"strings"

	"fairstick/internal/chart"
	"fairstick/internal/plan"
	"fairstick/internal/web/ui"
)

// stationNames are the three stations in a word, in the order in which people pass them.
var stationNames = []string{"Desk", "Test", "Explain"}

// flowPicture is a question, its answer, and its picture in two sizes.
type flowPicture struct {
	Key, Title, Answer string
	Picture            twoSizes
}

// quartersShown leaves out the quarters after closing in which on hardly any day somebody waits.
func quartersShown(r plan.Result, h plan.Hours) []plan.Quarter {
	last := 0
	for i, q := range r.Quarters {
		busy := q.To <= h.Minutes()
		for _, b := range q.Queue {
			busy = busy || b.High > 0
		}
		if busy {
			last = i + 1
		}
	}
	return r.Quarters[:last]
}

func wallClock(minutes int) string { return fmt.Sprintf("%02d:%02d", minutes/60%24, minutes%60) }

// flowCharts draws who comes against what the stations can take, and who waits where.
func flowCharts(in plan.Input, p plan.Plan) ([]chart.Lines, []string) {
	quarters := quartersShown(p.Result, in.Hours)
	var labels []string
	for _, q := range quarters {
		at := in.Hours.Open + q.To - 15
		label := ""
		if at%60 == 0 {
			label = wallClock(at)
		}
		labels = append(labels, label)
	}
	come := chart.Lines{Labels: labels, Zero: true, Text: chart.Text{Title: "When do people come, and how many can each station take?", X: "time", Y: "people in a quarter hour"}}
	arrivals := chart.Series{Name: "come"}
	most := 0
	for i, q := range quarters {
		arrivals.Points = append(arrivals.Points, chart.XY{X: float64(i + 1), Y: q.Arrivals.Mean})
		come.Bands = append(come.Bands, strip(i, q.Arrivals))
		if q.Arrivals.Mean > quarters[most].Arrivals.Mean {
			most = i
		}
	}
	come.Series = []chart.Series{arrivals}
	for k := range stationNames {
		can := quarters[0].Capacity[k]
		come.Levels = append(come.Levels, chart.Level{Value: can, Label: fmt.Sprintf("%s %.0f", strings.ToLower(stationNames[k]), can), Dash: []chart.Dash{chart.Dashed, chart.DashDot, chart.Dotted}[k]})
	}
	peak := quarters[most]
	first := fmt.Sprintf("Most come from %s to %s: %.0f on average, from %d to %d on nine of ten days. In a quarter hour the desk can take %.0f, the test %.0f and the explanation %.0f; not everybody who comes is tested.",
		wallClock(in.Hours.Open+peak.To-15), wallClock(in.Hours.Open+peak.To), peak.Arrivals.Mean, peak.Arrivals.Low, peak.Arrivals.High,
		peak.Capacity[0], peak.Capacity[1], peak.Capacity[2])

	wait := chart.Lines{Labels: labels, Zero: true, Text: chart.Text{Title: "Where do people wait, and when?", X: "time", Y: "people who wait"}}
	long, at := 0, 0
	for i, q := range quarters {
		for k, b := range q.Queue {
			if b.Mean > quarters[at].Queue[long].Mean {
				long, at = k, i
			}
		}
	}
	for k, name := range stationNames {
		s := chart.Series{Name: strings.ToLower(name)}
		for i, q := range quarters {
			s.Points = append(s.Points, chart.XY{X: float64(i + 1), Y: q.Queue[k].Mean})
		}
		wait.Series = append(wait.Series, s)
	}
	for i, q := range quarters {
		wait.Bands = append(wait.Bands, strip(i, q.Queue[long]))
	}
	b := quarters[at].Queue[long]
	second := fmt.Sprintf("The longest line stands before %s at %s: %.1f people on average; on one day in twenty %d or more. The grey band is that line on nine of ten days.",
		plan.StationName(p.Result.Stations[long].Key), wallClock(in.Hours.Open+quarters[at].To), b.Mean, b.High)
	come.Desc, wait.Desc = first, second
	return []chart.Lines{come, wait}, []string{first, second}
}

// strip is the band of one quarter.
func strip(i int, b plan.Band) chart.Band {
	return chart.Band{Low: float64(b.Low), High: float64(b.High), From: float64(i) + 0.5, To: float64(i) + 1.5}
}

// flowPictures draws the pictures for a page.
func flowPictures(in plan.Input, p plan.Plan) ([]flowPicture, error) {
	charts, answers := flowCharts(in, p)
	var out []flowPicture
	for i, c := range charts {
		both, err := drawBoth(c)
		if err != nil {
			return nil, err
		}
		out = append(out, flowPicture{Key: []string{"come", "wait"}[i], Title: c.Title, Answer: answers[i], Picture: both})
	}
	return out, nil
}

// quarterPart is the table behind the pictures.
func quarterPart(in plan.Input, p plan.Plan) reportPart {
	part := reportPart{
		Key: "quarters", Heading: "By quarter hour", Said: []string{"Means over the simulated days; in brackets from the lowest to the highest of nine days in ten. Who waits is counted at the end of the quarter."},
		Cols: []ui.Col{{Label: "Until"}, {Label: "Come", Num: true}, {Label: "Wait for the desk", Num: true}, {Label: "Wait for the test", Num: true}, {Label: "Wait for explaining", Num: true}},
	}
	cell := func(b plan.Band) string { return fmt.Sprintf("%.1f (%d to %d)", b.Mean, b.Low, b.High) }
	for _, q := range quartersShown(p.Result, in.Hours) {
		row := []string{wallClock(in.Hours.Open + q.To), cell(q.Arrivals)}
		for _, b := range q.Queue {
			row = append(row, cell(b))
		}
		part.Rows = append(part.Rows, row)
	}
	return part
}
