package web

import (
	"net/http"

	"fairstick/internal/chart"
	"fairstick/internal/figure"
	"fairstick/internal/paper"
	"fairstick/internal/programme"
	"fairstick/internal/web/ui"
)

// alikeView says whether the meters of a day read alike.
type alikeView struct {
	Page  ui.Page
	Base  string
	Plots []plotView
	Table reportPart
	Basis []string
}

const alikeQuestion = "Do the meters read alike?"

func alikeShow(_ *Server, c *Context) error {
	d, told, err := c.alike()
	if err != nil {
		return err
	}
	v := alikeView{Page: c.dayPage(d, alikeQuestion, "alike"), Base: dayBase(d), Table: tablePart(told.Table), Basis: told.Basis}
	v.Page.Lead, v.Page.Wide = told.Answer, true
	v.Page.Back = &ui.Link{Href: dayBase(d) + "/board", Label: "Board"}
	if v.Plots, err = plotsOf(told.Figures); err != nil {
		return err
	}
	v.Table.Empty = "Nobody has been tested yet."
	return c.Render(http.StatusOK, AlikePage(v))
}

// alike asks the day how far its meters lie apart.
func (c *Context) alike() (*programme.Day, figure.Alike, error) {
	d, err := c.Day()
	if err != nil {
		return nil, figure.Alike{}, err
	}
	traces, err := d.MeterTraces()
	if err != nil {
		return nil, figure.Alike{}, err
	}
	return d, figure.ReadAlike(traces, d.Drift()), nil
}

func alikePDF(_ *Server, c *Context) error {
	d, told, err := c.alike()
	if err != nil {
		return err
	}
	doc := paper.Document{Title: alikeQuestion, Subtitle: dayText(d.Event.Plan)}
	doc.Sections = append(doc.Sections, paper.Section{Paragraphs: []string{told.Answer}}, told.Table.Section(), paper.Section{Heading: "How to read the pictures", Paragraphs: told.Basis, Keep: true})
	if doc.Sections, err = withFigures(doc.Sections, told.Figures); err != nil {
		return err
	}
	return c.sendDaySheet("meters-", d, doc)
}

// withFigures adds figures to the sections of a sheet.
func withFigures(sections []paper.Section, figures []figure.Figure) ([]paper.Section, error) {
	for _, f := range figures {
		s, err := f.Section()
		if err != nil {
			return nil, err
		}
		sections = append(sections, s)
	}
	return sections, nil
}

// plotsOf draws figures for a page, each in both sizes.
func plotsOf(figures []figure.Figure) ([]plotView, error) {
	var out []plotView
	for _, f := range figures {
		p := plotView{Key: f.Key, Title: f.Title, Answer: f.Answer, Square: f.Square, Table: tablePart(f.Table)}
		var err error
		if p.Wide, err = drawn(f, f.Size()); err != nil {
			return nil, err
		}
		if p.Narrow, err = drawn(f, chart.Phone); err != nil {
			return nil, err
		}
		out = append(out, p)
	}
	return out, nil
}
