package web

import (
	"fmt"
	"net/url"
	"strconv"

	"fairstick/internal/civil"
	"fairstick/internal/fault"
	"fairstick/internal/paper"
	"fairstick/internal/programme"
	"fairstick/internal/web/ui"
)

// inspectionRoutes make the binder for an inspector. The lead hands it over: an inspector does not sign in.
var inspectionRoutes = []Route{
	{Method: "GET", Path: "/inspection", Roles: lead, Handle: inspectionShow},
	{Method: "GET", Path: "/inspection.pdf", Roles: lead, Handle: inspectionPDF},
}

// inspectionView is the page on which the days of a binder are chosen.
type inspectionView struct {
	Page    ui.Page
	Fault   *fault.Fault
	From    ui.Input
	To      ui.Input
	Results ui.Box
	Says    string // what the binder would hold; empty until days are chosen
	Thick   bool
	PDF     string // what the PDF is asked with
	Sharps  []ui.Link
}

func (c *Context) binderAsk() programme.AskBinder {
	q := c.R.URL.Query()
	return programme.AskBinder{From: c.inAddress("from"), To: c.inAddress("to"), Results: q.Get("results") == "yes" || !q.Has("from")}
}

func inspectionShow(s *Server, c *Context) error {
	ask := c.binderAsk()
	v := inspectionView{Page: c.officePage("Inspection binder", "One PDF for any days: certificate, protocol, people, controls, lots, incidents, overrides and results without names.", "inspection", c.backToSetup())}
	if c.R.URL.Query().Has("from") {
		b, events, err := s.prog.BinderSize(c.R.Context(), ask)
		if err != nil {
			if v.Fault = fault.Of(err); v.Fault.Kind == fault.Internal {
				return err
			}
		} else {
			v.Says = fmt.Sprintf("%s with %s: about %s.", plural(events, "event", "events"), plural(b.Visits, "visit", "visits"), plural(b.Pages, "page", "pages"))
			v.Thick = b.Pages > programme.MostBinderPages
			q := url.Values{"from": {b.From.String()}, "to": {b.To.String()}}
			if ask.Results {
				q.Set("results", "yes")
			}
			v.PDF = q.Encode()
			ask.From, ask.To = b.From.String(), b.To.String()
		}
	}
	day := func(name, label, value string) ui.Input {
		return ui.Input{Name: name, Label: label, Value: value, Kind: ui.Date, Width: ui.Medium, Error: ui.Message(v.Fault, name)}
	}
	v.From, v.To = day("from", "First day", ask.From), day("to", "Last day", ask.To)
	v.To.Optional, v.To.OptionalWord = true, "the same when empty"
	v.Results = ui.Box{Name: "results", Label: "List every result, by ticket", Checked: ask.Results}
	year := civil.Of(s.prog.Now()).Year
	for y := year; y > year-6; y-- {
		v.Sharps = append(v.Sharps, ui.Link{Href: "/sharps-log.pdf?year=" + strconv.Itoa(y), Label: strconv.Itoa(y)})
	}
	return c.Show(v.Fault, InspectionPage(v))
}

func inspectionPDF(s *Server, c *Context) error {
	b, err := s.prog.Binder(c.R.Context(), c.binderAsk())
	if err != nil {
		return err
	}
	doc := paper.BinderDocument(b)
	doc.Invented = s.opt.Demo != nil
	return c.sendPDF("inspection-"+b.From.String()+"-to-"+b.To.String(), doc)
}
