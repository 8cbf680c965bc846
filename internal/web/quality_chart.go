package web

import (
	"fmt"
	"slices"
	"strings"

	"fairstick/internal/chart"
	"fairstick/internal/control"
	"fairstick/internal/glucose"
	"fairstick/internal/programme"
)

// mostPlaces is how many sessions of controls the picture of a meter shows: more than that are too dense to be read.
const mostPlaces = 100

// qualityPicture is the controls of a meter in their order, a panel for each level, over all strip lots.
type qualityPicture struct {
	chart.LeveyJennings
	Left int // sessions before those that are shown
}

// axisKey is what the lines of a panel stand for at one place of the axis.
type axisKey struct {
	lot       string
	low, high glucose.Value
}

// pictureOf prepares the picture of a meter that has a control.
func pictureOf(q programme.MeterQuality) qualityPicture {
	var pic qualityPicture
	runs := q.Runs
	last := runs[len(runs)-1].Place
	if last > mostPlaces {
		pic.Left = last - mostPlaces
		runs = slices.Clone(runs[slices.IndexFunc(runs, func(r programme.QualityRun) bool { return r.Place > pic.Left }):])
		for i := range runs {
			runs[i].Place -= pic.Left
		}
		last = mostPlaces
	}
	pic.Text = chart.Text{Title: qualityQuestion(q), Desc: q.Verdict + " Each control is listed under the picture.", X: "controls in their order, by date"}
	lots := make([]string, last+1) // by place
	var changes []chart.Lot
	for _, r := range runs {
		if lots[r.Place] == "" && r.StripLot != lots[r.Place-1] {
			changes = append(changes, chart.Lot{Before: r.Place, Label: "lot " + r.Lot})
		}
		lots[r.Place] = r.StripLot
	}
	flags := actFlags(q, pic.Left, runs)
	for _, level := range q.Levels {
		for _, unit := range []glucose.Unit{glucose.MgPerDL, glucose.MmolPerL} {
			panel := chart.ControlPanel{Y: "Level " + level + ", " + string(unit), Lots: changes}
			keys := make([]axisKey, last+1)
			for _, r := range runs {
				if r.Level == level && r.Low.Unit == unit {
					keys[r.Place] = axisKey{r.StripLot, r.Low, r.High}
					panel.Runs = append(panel.Runs, controlMark(r, flags))
				}
			}
			if len(panel.Runs) == 0 {
				continue
			}
			panel.Levels, panel.Bands = limitLines(q, level, spread(keys, lots))
			pic.Panels = append(pic.Panels, panel)
		}
	}
	return pic
}

// controlMark is one control on the picture; the first panel that shows an act takes its flag.
func controlMark(r programme.QualityRun, flags map[int][]string) chart.Run {
	out := chart.Run{At: r.Place, Date: r.At.Format("2 Jan"), Value: r.Value}
	switch control.Verdict(r.Verdict) {
	case control.NoValue:
		out.Kind, out.Note, out.Edge = chart.OutOfRange, r.Reading.Shown(), chart.Below
		switch r.Reading.Kind {
		case glucose.High:
			out.Edge = chart.Above
		case glucose.Error:
			out.Note = "error " + r.Reading.Shown()
		case glucose.Low, glucose.Numeric:
		}
	case control.OutOfRange:
		out.Kind, out.Note = chart.OutOfRange, "out of range"
		if r.Rejected {
			out.Note += ", " + brokenText(r, true)
		}
	case control.InRange:
		switch {
		case r.Rejected:
			out.Kind, out.Note = chart.Rejected, brokenText(r, true)
		case len(r.Broken) > 0:
			out.Kind, out.Note = chart.Warning, brokenText(r, false)
		}
	}
	words := flags[r.Place]
	delete(flags, r.Place)
	if r.Action != "" {
		words = append(words, r.Action)
	}
	out.Action = strings.Join(words, "; ")
	return out
}

// brokenText names the rules that a run broke, the warning of 1-2s only where it stands alone.
func brokenText(r programme.QualityRun, withoutWarning bool) string {
	var out []string
	for _, b := range r.Broken {
		if withoutWarning && b == control.Rule12s {
			continue
		}
		out = append(out, string(b))
	}
	return strings.Join(out, ", ")
}

// actFlags gives what happened to the meter before each place, in few words; what came after the last control stands there.
func actFlags(q programme.MeterQuality, left int, runs []programme.QualityRun) map[int][]string {
	out := map[int][]string{}
	for _, a := range q.Acts {
		word := ""
		switch a.Kind {
		case "void":
			word = voidWord(a.Key)
		case "quarantine":
			word = "quarantine"
		case "return":
			word = "returned"
		default:
			continue // a cause stands at its run, a lot as a line
		}
		place := a.Next - left
		if a.Next == 0 {
			place = runs[len(runs)-1].Place
		}
		if place >= 1 {
			out[place] = append(out[place], word)
		}
	}
	return out
}

// spread lets the key of a place hold on for the places around it that have no run of this level, as long as the lot is the same.
func spread(keys []axisKey, lots []string) []axisKey {
	var none axisKey
	for i := 2; i < len(keys); i++ {
		if keys[i] == none && lots[i] == lots[i-1] {
			keys[i] = keys[i-1]
		}
	}
	for i := len(keys) - 2; i > 0; i-- {
		if keys[i] == none && lots[i] == lots[i+1] {
			keys[i] = keys[i+1]
		}
	}
	return keys
}

// limitLines draws, for each stretch of one lot, its printed range as a band, and the mean and SD that z is counted from as lines.
func limitLines(q programme.MeterQuality, level string, keys []axisKey) ([]chart.Level, []chart.Band) {
	var lines []chart.Level
	var bands []chart.Band
	for from := 1; from < len(keys); {
		key, to := keys[from], from
		for to+1 < len(keys) && keys[to+1] == key {
			to++
		}
		x0, x1 := float64(from)-0.5, float64(to)+0.5
		if to == len(keys)-1 {
			x1++
		}
		from = to + 1
		if key == (axisKey{}) {
			continue
		}
		bands = append(bands, chart.Band{Low: key.low.Float(), High: key.high.Float(), From: x0, To: x1})
		for _, p := range q.Parts {
			if first := p.Points[0].Run; p.LotID != key.lot || p.Level != level || first.Low != key.low || first.High != key.high {
				continue
			}
			for _, l := range targetLines(p) {
				l.From, l.To = x0, x1
				lines = append(lines, l)
			}
		}
	}
	return lines, bands
}

// targetLines are the lines of one part: the mean, 1 to 3 SD on either side, and the ends of the printed range by their name.
func targetLines(p programme.QualityPart) []chart.Level {
	if !p.Ruled {
		return nil // the rules do not look at it, so no line may seem to judge it
	}
	low, high := p.Points[0].Run.Low, p.Points[0].Run.High
	lines := chart.SDLines(p.Target.Mean, p.Target.SD, 3, decimalsOf(p.Unit))
	if p.Target.Basis == control.RangeBasis { // the range is the lines of 2 SD, so these take its name
		lines[0].Label = "centre " + fixed(p.Target.Mean, p.Unit)
		for i, l := range lines {
			switch {
			case strings.HasPrefix(l.Label, "+2 SD"):
				lines[i].Label = "range to " + high.Number()
			case strings.HasPrefix(l.Label, "−2 SD"):
				lines[i].Label = "range from " + low.Number()
			}
		}
		return lines
	}
	return append(lines, chart.Level{Value: high.Float(), Label: "range to " + high.Number()}, chart.Level{Value: low.Float(), Label: "range from " + low.Number()})
}

// decimalsOf is one more than a meter shows.
func decimalsOf(u glucose.Unit) int {
	if u == glucose.MmolPerL {
		return 2
	}
	return 1
}

// fixed writes a computed value with one decimal more than a meter shows.
func fixed(v float64, u glucose.Unit) string { return fmt.Sprintf("%.*f", decimalsOf(u), v) }

// twoSizes is a picture as SVG for a phone and for anything wider.
type twoSizes struct{ Narrow, Wide string }

func (pic qualityPicture) draw() (twoSizes, error) { return drawBoth(pic) }

// drawBoth draws a chart for a phone and for a page.
func drawBoth(c chart.Chart) (twoSizes, error) {
	var out twoSizes
	for _, x := range []struct {
		size chart.Size
		to   *string
	}{{chart.Phone, &out.Narrow}, {chart.Page, &out.Wide}} {
		p, err := c.Draw(x.size)
		if err != nil {
			return out, err
		}
		*x.to = string(p.SVG())
	}
	return out, nil
}
