package web

import (
	"fmt"
	"net/http"
	"strings"

	"fairstick/internal/estimate"
	"fairstick/internal/fault"
	"fairstick/internal/figure"
	"fairstick/internal/paper"
	"fairstick/internal/programme"
	"fairstick/internal/web/ui"
)

// digitsView is how the typed readings end, by station and by screener.
type digitsView struct {
	Page   ui.Page
	Base   string
	Rows   []digitRow
	Checks []digitCheck
	Plots  []plotView
}

// digitCheck is one screener against chance.
type digitCheck struct {
	Name, N, Fives, Even, Spread, State string
	Alarm                               bool
}

type digitRow struct {
	Name, Href, Zeros, Fives, N, State string
	Alarm                              bool
}

func digitsShow(_ *Server, c *Context) error {
	d, err := c.Day()
	if err != nil {
		return err
	}
	v := digitsView{Page: c.dayPage(d, "Last figures", "digits")}
	v.Base = dayBase(d)
	v.Page.Lead = "Typed readings that end in 0 or 5 too often were rounded, or guessed. The meter's memory knows."
	v.Page.Wide = true
	for _, g := range d.Digits() {
		row := digitRow{
			Name: g.Name, Href: dayBase(d) + "/digits/" + g.Group, N: fmt.Sprint(g.N), Alarm: g.Alarm,
			Zeros: fmt.Sprintf("%d of %d", g.Zeros, g.N), Fives: fmt.Sprintf("%d of %d", g.ZeroOrFive, g.N), State: "as chance would have it",
		}
		if g.Alarm {
			row.State = "compare with the memory"
		}
		v.Rows = append(v.Rows, row)
	}
	checks := d.DigitChecks()
	for _, k := range checks {
		v.Checks = append(v.Checks, checked(k))
	}
	if v.Plots, err = plotsOf(figure.LastFigures(checks)); err != nil {
		return err
	}
	return c.Render(http.StatusOK, DigitsPage(v))
}

// checked is one screener against chance, in words.
func checked(k estimate.DigitCheck) digitCheck {
	row := digitCheck{
		Name: k.Name, N: fmt.Sprint(k.N), Alarm: k.Alarm, State: "as chance would have it",
		Fives:  fmt.Sprintf("%d of %d; p %s", k.ZeroOrFive.Count, k.N, chanceText(k.ZeroOrFiveP)),
		Even:   fmt.Sprintf("%d of %d; p %s", k.Even.Count, k.N, chanceText(k.EvenP)),
		Spread: fmt.Sprintf("too few, %d needed", 10*estimate.FewPerDigit),
	}
	if k.EvennessP != nil {
		row.Spread = fmt.Sprintf("%.1f; p %s", k.Evenness.ChiSquare, chanceText(*k.EvennessP))
	}
	if k.Alarm {
		row.State = "uneven: compare with the memory"
	}
	return row
}

// digitsBasis says how the check is done.
const digitsBasis = "The p-values of all screeners and tests are corrected together (Holm), so that a day on which nobody rounds marks somebody once in twenty days at most. Chance alone can do it; a mark is a reason to compare, not a reproach."

// digitsPDF is the check of every screener on paper.
func digitsPDF(_ *Server, c *Context) error {
	d, err := c.Day()
	if err != nil {
		return err
	}
	checks := d.DigitChecks()
	t := figure.Table{Heading: "Every screener against chance", Said: []string{"Only whole mg/dL, and only readings that were not compared with a meter's memory. " + digitsBasis}}
	for i, label := range []string{"Screener", "Readings", "End in 0 or 5", "End even", "Evenness, chi-square", "State"} {
		t.Cols = append(t.Cols, figure.Col{Label: label, Num: i == 1})
	}
	for _, k := range checks {
		row := checked(k)
		t.Rows = append(t.Rows, []string{row.Name, row.N, row.Fives, row.Even, row.Spread, row.State})
	}
	if len(t.Rows) == 0 {
		t.Said = append(t.Said, "There is no such reading.")
	}
	doc := paper.Document{Title: "Were readings rounded?", Subtitle: dayText(d.Event.Plan), Sections: []paper.Section{t.Section()}}
	if doc.Sections, err = withFigures(doc.Sections, figure.LastFigures(checks)); err != nil {
		return err
	}
	return c.sendDaySheet("last-figures-", d, doc)
}

// chanceText writes a probability so that a small one does not read as none.
func chanceText(p float64) string {
	if p < 0.001 {
		return "below 0.001"
	}
	return fmt.Sprintf("%.3f", p)
}

// digitsAskView is the readings of one station or screener, with a box each for what the memory shows.
type digitsAskView struct {
	Page     ui.Page
	Fault    *fault.Fault
	Said     string
	Form     dayForm
	Rows     []digitReading
	Compared int
}

type digitReading struct {
	Ticket, At, Meter string
	Input             ui.Input
	Typed             string
	Compared          bool
}

func digitsAsk(_ *Server, c *Context) error {
	d, err := c.Day()
	if err != nil {
		return err
	}
	return c.showDigits(d, nil)
}

func (c *Context) showDigits(d *programme.Day, f *fault.Fault) error {
	group := c.R.PathValue("group")
	rows := d.DigitReadings(group)
	if len(rows) == 0 {
		return fault.New(fault.Missing, "no-readings", "There are no typed readings here.", "", "Choose a station or a screener in the list.")
	}
	f = saying(f)
	v := digitsAskView{Page: c.page(groupName(d, group)), Fault: f, Form: c.dayForm("digits", c.R.URL.Path, "digits", f)}
	v.Page.Back = &ui.Link{Href: dayBase(d) + "/digits", Label: "Last figures"}
	v.Page.Lead = "Type what each meter's memory shows. An empty box was not compared."
	for _, g := range d.Digits() {
		if g.Group == group && g.Alarm {
			v.Said = g.Sentence()
		}
	}
	for _, r := range rows {
		name := "value-" + r.Reading.ID
		row := digitReading{Ticket: ticketText(r.Visit.Ticket), At: clockOr(r.At, d.Event.Zone()), Typed: r.Reading.Reading.String(), Compared: r.Compared}
		if m := d.MeterByID(r.Reading.Meter); m != nil {
			row.Meter = m.Details.Label
		}
		row.Input = ui.Input{
			ID: "f-" + name, Name: name, Label: "Memory, ticket " + row.Ticket + " at " + row.At, Width: ui.Short, Unit: string(r.Reading.Reading.Unit),
			Value: c.Form(name), Error: ui.Message(f, name), Optional: true, OptionalWord: "if compared",
		}
		if r.Compared {
			v.Compared++
		}
		v.Rows = append(v.Rows, row)
	}
	return c.Show(f, DigitsAskPage(v))
}

// groupName names a station or a screener.
func groupName(d *programme.Day, group string) string {
	if s, ok := strings.CutPrefix(group, "station-"); ok {
		return "Station " + s
	}
	return d.NameOf(strings.TrimPrefix(group, "person-"))
}
