package web

import (
	"strconv"

	"fairstick/internal/charter"
	"fairstick/internal/civil"
	"fairstick/internal/event"
	"fairstick/internal/fault"
	"fairstick/internal/programme"
	"fairstick/internal/stock"
	"fairstick/internal/web/ui"
)

func seasonShow(_ *Server, c *Context) error { return c.seasonAgain(nil) }

func (c *Context) seasonAgain(f *fault.Fault) error {
	ch, err := c.s.prog.Charter(c.R.Context())
	if err != nil {
		return err
	}
	span, err := c.s.prog.UsualSpan(c.R.Context())
	if err != nil {
		return err
	}
	old := charter.SeasonSet{From: span.From, To: span.To}
	if s, ok := ch.SeasonOf(civil.Of(c.s.prog.Now())); ok {
		old = s
	} else if n := len(ch.Seasons); n > 0 {
		old = ch.Seasons[n-1]
	}
	cost := ""
	if old.OtherCost != nil {
		cost = stock.Amount(*old.OtherCost, old.Currency)
	}
	form := c.dayForm("season", "/reports/season/targets", "season", f)
	v := officeForm{Form: form, Submit: "Set the season", Parts: []part{
		{ID: "days", Heading: "The season", Help: "A season with the same first day replaces the one before.", Items: []item{
			field(size(form.line("name", "Name", old.Name), ui.Medium, ui.Text, "Like 2026 to 2027")),
			pair(size(form.line("from", "First day", old.From.String()), ui.Medium, ui.Date, ""), size(form.line("to", "Last day", old.To.String()), ui.Medium, ui.Date, "")),
		}},
		{ID: "targets", Heading: "Targets", Help: "Leave out what is no target.", Items: []item{
			pair(optional(size(form.line("events", "Events held", blankZero(old.Targets.Events)), ui.Short, ui.Number, "")), optional(size(form.line("tested", "People tested", blankZero(old.Targets.Tested)), ui.Short, ui.Number, ""))),
			pair(optional(size(form.line("seen", "Seen of everybody referred, %", blankZero(old.Targets.SeenPercent)), ui.Short, ui.Number, "")), optional(size(form.line("screeners", "Screeners verified", blankZero(old.Targets.Screeners)), ui.Short, ui.Number, ""))),
		}},
		{ID: "cost", Heading: "Cost beside consumables", Help: "Transport, printing, rent, fees. Consumables are reckoned from your invoices.", Items: []item{
			pair(optional(size(form.line("other_cost", "Amount", cost), ui.Short, ui.Text, "Like 1200.00")), optional(size(form.line("currency", "Currency", old.Currency), ui.Short, ui.Text, "Three letters, like USD"))),
		}},
	}}
	return c.Show(f, OfficeForm(c.officePage("The season", "What it is and what you want of it. Reports hold it against what came.", "reports", &ui.Link{Href: "/reports", Label: "Reports"}), v))
}

func blankZero(n int) string {
	if n == 0 {
		return ""
	}
	return strconv.Itoa(n)
}

func seasonSave(s *Server, c *Context) error {
	var t charter.Targets
	var bad *fault.Fault
	for _, x := range []struct {
		name, label string
		to          *int
	}{{"events", "The events", &t.Events}, {"tested", "The people tested", &t.Tested}, {"seen", "The share that was seen", &t.SeenPercent}, {"screeners", "The screeners", &t.Screeners}} {
		if c.Form(x.name) == "" {
			continue
		}
		n, f := c.Int(x.name, x.label)
		*x.to = n
		bad = merge(bad, f)
	}
	if bad != nil {
		return c.seasonAgain(bad)
	}
	_, err := s.prog.SetSeason(c.R.Context(), c.Actor(), programme.SetSeason{
		Act: c.Act(), Name: c.Form("name"), From: c.Form("from"), To: c.Form("to"), Targets: t, OtherCost: c.Form("other_cost"), Currency: c.Form("currency"),
	})
	if err != nil {
		return c.seasonAgain(fault.Of(err))
	}
	return c.Done("/reports", "The season is set.")
}

// offForm cancels a planned event, or puts a cancelled one back.
func (c *Context) offForm(d *programme.Day, base, refused string, f *fault.Fault) *officeForm {
	switch d.Event.Phase {
	case event.IsPlanned:
		form := c.dayForm("cancel", base+"/cancel", refused, f)
		return &officeForm{Form: form, Submit: "Cancel the event", Danger: true, Parts: []part{{Items: []item{field(size(form.line("reason", "Why it will not be held", ""), ui.Medium, ui.Text, "It stands in the reports, like storm"))}}}}
	case event.IsCancelled:
		return &officeForm{Form: c.dayForm("reinstate", base+"/reinstate", refused, f), Submit: "Put it back on the plan", Plain: true}
	}
	return nil
}

func eventCancel(s *Server, c *Context) error {
	id := c.R.PathValue("event")
	if _, err := s.prog.CancelEvent(c.R.Context(), c.Actor(), programme.CancelEvent{Act: c.Act(), Event: id, Reason: c.Form("reason")}); err != nil {
		return c.eventAgain("cancel", fault.Of(err))
	}
	return c.Done("/events/"+id, "The event is cancelled.")
}

func eventReinstate(s *Server, c *Context) error {
	id := c.R.PathValue("event")
	if _, err := s.prog.ReinstateEvent(c.R.Context(), c.Actor(), programme.ReinstateEvent{Act: c.Act(), Event: id}); err != nil {
		return c.eventAgain("reinstate", fault.Of(err))
	}
	return c.Done("/events/"+id, "The event is on the plan again.")
}
