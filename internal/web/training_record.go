package web

import (
	"net/http"
	"net/url"
	"slices"

	"fairstick/internal/civil"
	"fairstick/internal/event"
	"fairstick/internal/fault"
	"fairstick/internal/paper"
	"fairstick/internal/programme"
	"fairstick/internal/web/ui"
)

// recordView is what an inspector asks: who could do what on a day, or who stood where at an event.
type recordView struct {
	Page   ui.Page
	Fault  *fault.Fault
	On     ui.Input
	Event  ui.Input
	Says   string
	PDF    string // address; empty while nothing is shown
	List   listView
	Rows   []recordRow
	WithAt bool
}

type recordRow struct {
	Href, Name string
	paper.Duty
}

// staffAsked reads which record of staff an address asks for.
func (c *Context) staffAsked() (r programme.StaffRecord, asked bool, err error) {
	if id := c.query("event"); id != "" {
		r, err = c.s.prog.EventStaffRecord(c.R.Context(), id)
		return r, true, err
	}
	if c.query("on") == "" {
		return r, false, nil
	}
	day, err := c.asOf()
	if err != nil {
		return r, true, err
	}
	r, err = c.s.prog.VerifiedOn(c.R.Context(), day)
	return r, true, err
}

func staffRecordShow(s *Server, c *Context) error {
	v := recordView{Page: c.page("Who could do what")}
	v.Page.Lead, v.Page.Back, v.Page.Wide = "For an inspector: any past day or event, by what was on record then.", &ui.Link{Href: "/training", Label: "Training"}, true
	events, err := programme.List[*event.State](c.R.Context(), s.prog, event.Kind)
	if err != nil {
		return err
	}
	slices.SortFunc(events, func(a, b *event.State) int { return a.Plan.Date.DaysUntil(b.Plan.Date) })
	options := []ui.Option{{Label: "Choose an event"}}
	for _, ev := range events {
		options = append(options, ui.Option{Value: ev.ID, Label: ev.Plan.Date.Long() + ", " + ev.Plan.Name})
	}
	v.On = ui.Input{Name: "on", Label: "Day", Value: c.query("on"), Kind: ui.Date, Width: ui.Medium, Max: civil.Of(s.prog.Now()).String()}
	v.Event = chosenFrom(ui.Input{Name: "event", Label: "Event", Value: c.query("event")}, options)
	r, asked, err := c.staffAsked()
	if err != nil {
		v.Fault = fault.Of(err)
		if v.Fault.Kind == fault.Internal {
			return err
		}
		v.On.Error = ui.Message(v.Fault, "on")
		return c.Show(v.Fault, StaffRecordPage(v))
	}
	if asked {
		v.fill(c, r)
	}
	return c.Render(http.StatusOK, StaffRecordPage(v))
}

func (v *recordView) fill(c *Context, r programme.StaffRecord) {
	v.Says = "On " + r.Day.Long() + ", by protocol " + r.Protocol + " and what was on record at the end of that day."
	v.PDF = "/training/record.pdf?on=" + r.Day.String()
	if v.WithAt = r.Event != ""; v.WithAt {
		v.Says = r.Name + ", " + r.Place + ", " + r.Day.Long() + ": by protocol " + r.Protocol + " and what was on record when each post was taken up."
		v.PDF = "/training/record.pdf?event=" + url.QueryEscape(r.Event)
	}
	v.List = listView{ID: "staff", Caption: plural(len(r.Rows), "row", "rows"), Find: "Find a name"}
	for _, x := range r.Rows {
		v.Rows = append(v.Rows, recordRow{Href: "/training/" + x.Person + "?on=" + r.Day.String(), Name: x.Name, Duty: paper.DutyOf(x, c.s.prog.Now().Location())})
	}
}

func staffRecordPDF(s *Server, c *Context) error {
	r, asked, err := c.staffAsked()
	if err != nil {
		return err
	}
	if !asked {
		return fault.BadField("on", "Choose a day or an event.")
	}
	doc := paper.StaffDocument(r, s.prog.Now().Location())
	doc.Printed, doc.Invented = s.prog.Now(), s.opt.Demo != nil
	return c.sendPDF("staff-"+r.Day.String(), doc)
}
