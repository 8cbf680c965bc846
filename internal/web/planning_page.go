package web

import (
	"fmt"
	"math"
	"strconv"

	"fairstick/internal/fault"
	"fairstick/internal/programme"
	"fairstick/internal/web/ui"
)

// planningView is what plans of events rest on.
type planningView struct {
	Page  ui.Page
	How   []string
	Table reportPart
	Form  *officeForm // nil for those who may not choose
}

func planningShow(_ *Server, c *Context) error { return c.planningAgain(nil) }

func (c *Context) planningAgain(f *fault.Fault) error {
	pl, err := c.s.prog.Planning(c.R.Context())
	if err != nil {
		return err
	}
	lines, err := pl.Lines()
	if err != nil {
		return err
	}
	v := planningView{Page: c.officePage("What do our plans rest on?", planningSaid(pl), "planning", &ui.Link{Href: "/events", Label: "Events"}), Table: planningPart(pl, lines, 0)}
	v.Table.Said = nil // it stands under the title
	v.Page.Wide = true
	v.How = []string{
		"Used = (w × published + m × seen) / (w + m): the published value counts as w = 100 people, 30 measured services or 20 volunteers, and what was seen as its number, but at most w for each event. So one event, however large, never outweighs what was published; after several, your own counts lead. The weights are our own choice; the form is the mean of a beta or normal posterior (Gelman and others, Bayesian Data Analysis, chapter 2; from memory).",
		"Counted from closed events alone. Times of the test are those of people with one reading; times typed in from paper, of people who were cared for, and of more than an hour are left out.",
	}
	if pl.Out > 0 {
		v.How = append(v.How, plural(pl.Out, "time of more than an hour was", "times of more than an hour were")+" left out.")
	}
	if c.holds(lead) {
		v.Form = &officeForm{Form: c.dayForm("planning", "/planning?learn=no", "planning", f), Plain: true, Submit: "Use the published values alone"}
		if !pl.On {
			v.Form.Form.action, v.Form.Submit = "/planning?learn=yes", "Use what was seen"
		}
	}
	return c.Show(f, PlanningPage(v))
}

func planningSaid(pl programme.Planning) string {
	switch {
	case !pl.On:
		return "On published values alone: what was seen is turned off."
	case !pl.Has():
		return "On published values: no event with people is closed yet."
	}
	return fmt.Sprintf("On published values, drawn toward what %s of %s have shown.", plural(pl.Record.Events, "closed event", "closed events"), plural(pl.Record.People.Came, "person", "people"))
}

// planningPart lists what plans rest on. Minutes that a meter stays wet by a label on the list stand in for the usual ones; 0 for none.
func planningPart(pl programme.Planning, lines []programme.PlanningLine, wet float64) reportPart {
	part := reportPart{
		Key: "assumed", Heading: "What this rests on", Said: []string{planningSaid(pl)},
		Cols: []ui.Col{{Label: "What"}, {Label: "Used", Num: true}, {Label: "Published", Num: true}, {Label: "Seen", Num: true}, {Label: "Source of the published value"}},
	}
	for _, l := range lines {
		seen, used, source := "-", planningText(l, l.Used), l.Source
		if l.N > 0 {
			seen = planningText(l, l.Seen) + " of " + thousands(l.N)
			if l.Minutes {
				seen = planningText(l, l.Seen) + ", " + thousands(l.N) + " times"
			}
		}
		if l.Key == "wet" && wet > 0 {
			used, source = planningText(l, wet), "the longest label on the list of disinfectants"
		}
		part.Rows = append(part.Rows, []string{l.Name, used, planningText(l, l.Published), seen, source})
	}
	return part
}

// planningText writes a value in its unit.
func planningText(l programme.PlanningLine, x float64) string {
	x *= 100
	if l.Minutes {
		return strconv.FormatFloat(math.Round(x/10)/10, 'f', -1, 64) + " min"
	}
	return strconv.FormatFloat(math.Round(10*x)/10, 'f', -1, 64) + " %"
}

func planningChoose(s *Server, c *Context) error {
	learn := c.R.URL.Query().Get("learn")
	if learn != "yes" && learn != "no" {
		return c.planningAgain(fault.New(fault.Invalid, "planning-choice", "It was not said whether what was seen is used.", "Nothing was recorded.", "Press one of the buttons on this page."))
	}
	if _, err := s.prog.ChoosePlanning(c.R.Context(), c.Actor(), programme.ChoosePlanning{Act: c.Act(), Learn: learn == "yes"}); err != nil {
		return c.planningAgain(fault.Of(err))
	}
	if learn == "yes" {
		return c.Done("/planning", "Plans use what was seen.")
	}
	return c.Done("/planning", "Plans use the published values alone.")
}
