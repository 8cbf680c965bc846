package web

import (
	"strings"

	"fairstick/internal/civil"
	"fairstick/internal/fault"
	"fairstick/internal/programme"
	"fairstick/internal/stock"
	"fairstick/internal/web/ui"
)

func solutionsShow(s *Server, c *Context) error {
	all, err := programme.List[*stock.ControlLot](c.R.Context(), s.prog, stock.ControlLotKind)
	if err != nil {
		return err
	}
	today := civil.Of(s.prog.Now())
	v := listView{
		Page: c.officePage("Control solution", "One lot for each level. A bottle is used for a limited time after opening.", "setup", c.backToSetup()),
		ID:   "solutions", Caption: plural(len(all), "lot", "lots"), Find: "Find a lot", Cols: columns("Lot", "Level", "Made for", "Expiry", "Use", "Open bottles"),
		EmptyWhat: "No control solution is on the list yet.", EmptyHow: "Add a lot for each level that your protocol runs.",
	}
	v.Page.Wide = true
	c.adding(&v, "/controls-solution/new", "Add a lot", programme.ControlLotsList)
	for _, l := range all {
		d := l.Details
		v.Rows = append(v.Rows, listRow{Href: "/controls-solution/" + l.ID, Cells: []string{d.Lot, d.Level, strings.Join(d.Models, ", "), expiryText(d.Expiry, today), inUseText(d.InUseDays), openText(l.OpenBottles(today))}})
	}
	return c.Render(200, OfficeList(v))
}

func (c *Context) solutionForm(action, refused string, f *fault.Fault, d stock.ControlLotDescribed, fresh bool) (officeForm, error) {
	ch, err := c.s.prog.Charter(c.R.Context())
	if err != nil {
		return officeForm{}, err
	}
	levels, err := c.levels(nil)
	if err != nil {
		return officeForm{}, err
	}
	form := c.dayForm("solution", action, refused, f)
	days := d.InUseDays
	if a, ok := ch.InForce(); ok && fresh {
		days = a.Protocol.Controls.InUseDays
	}
	level := form.choice("level", "Level", d.Level)
	if d.Level != "" && !contains(levels, d.Level) {
		levels = append(levels, d.Level)
	}
	for _, l := range levels {
		level.Options = append(level.Options, ui.Option{Value: l, Label: "Level " + l})
	}
	level.Row = true
	lot := size(form.line("lot", "Lot number", d.Lot), ui.Medium, ui.Text, "")
	lot.Focus = fresh
	out := officeForm{Form: form, Submit: "Save", Parts: []part{{Items: []item{
		field(lot), pick(level),
		field(size(form.line("models", "Types of meter that it is made for", strings.Join(d.Models, ", ")), ui.Medium, ui.Text, "Your words for the types, as on the meters; commas between")),
		field(size(form.line("expiry", "Expiry", d.Expiry.String()), ui.Medium, ui.Text, "Like 2026-08-31, or 2026-08 for the end of the month")),
		field(unit(size(form.line("in_use_days", "Use after opening", wholeText(days)), ui.Short, ui.Number, "From the insert"), "days")),
	}}}}
	if fresh {
		out.Submit = "Add this lot"
	}
	return out, nil
}

func solutionNew(s *Server, c *Context) error { return c.solutionNewAgain(nil) }

func (c *Context) solutionNewAgain(f *fault.Fault) error {
	form, err := c.solutionForm("/controls-solution", "solution", f, stock.ControlLotDescribed{}, true)
	if err != nil {
		return err
	}
	return c.Show(f, OfficeForm(c.officePage("A new lot of control solution", "", "setup", &ui.Link{Href: "/controls-solution", Label: "Control solution"}), form))
}

func (c *Context) describeSolution(id string) (programme.Done, *fault.Fault) {
	days, err := c.Int("in_use_days", "The days after opening")
	if err != nil {
		return programme.Done{}, fault.Of(err)
	}
	d, err := c.s.prog.DescribeControlLot(c.R.Context(), c.Actor(), programme.DescribeControlLot{
		Act: c.Act(), ControlLot: id, Lot: c.Form("lot"), Level: c.Form("level"),
		Models: c.words("models"), Expiry: c.Form("expiry"), InUseDays: days,
	})
	return d, fault.Of(err)
}

func solutionAdd(s *Server, c *Context) error {
	d, f := c.describeSolution("")
	if f != nil {
		return c.solutionNewAgain(f)
	}
	return c.Done("/controls-solution/"+d.ID, "Lot "+c.Form("lot")+" is on the list.")
}

func solutionShow(s *Server, c *Context) error { return c.solutionAgain("", nil) }

func (c *Context) solutionAgain(refused string, f *fault.Fault) error {
	id := c.R.PathValue("lot")
	l, err := programme.One[*stock.ControlLot](c.R.Context(), c.s.prog, stock.ControlLotRef(id))
	if err != nil {
		return err
	}
	base, d, today := "/controls-solution/"+id, l.Details, civil.Of(c.s.prog.Now())
	v := lotView{Page: c.officePage("Control lot "+d.Lot+", level "+d.Level, "Made for "+strings.Join(d.Models, ", ")+".", "setup", &ui.Link{Href: "/controls-solution", Label: "Control solution"})}
	v.Facts = [][2]string{{"Level", d.Level}, {"Expiry", expiryText(d.Expiry, today)}, {"Use", inUseText(d.InUseDays)}}
	v.Containers = openedRows(l.Bottles, today)
	c.containerForms(&v, "Bottle", base, refused, f, l.Bottles)
	if c.holds(lead) {
		edit, err := c.solutionForm(base, refused, f, d, false)
		if err != nil {
			return err
		}
		v.Edit = &edit
	}
	v.Stray = stray(f, refused, v.Edit, v.Open, v.Throw)
	return c.Show(f, LotPage(v))
}

func solutionSave(s *Server, c *Context) error {
	id := c.R.PathValue("lot")
	if _, f := c.describeSolution(id); f != nil {
		return c.solutionAgain("solution", f)
	}
	return c.Done("/controls-solution/"+id, "Lot "+c.Form("lot")+" is saved.")
}

func solutionOpen(s *Server, c *Context) error {
	id := c.R.PathValue("lot")
	if _, err := s.prog.OpenBottle(c.R.Context(), c.Actor(), programme.OpenBottle{Act: c.Act(), ControlLot: id, Bottle: c.Form("bottle"), On: c.Form("on")}); err != nil {
		return c.solutionAgain("open", fault.Of(err))
	}
	return c.Done("/controls-solution/"+id, "The bottle is written down as opened.")
}

func solutionThrow(s *Server, c *Context) error {
	id := c.R.PathValue("lot")
	if _, err := s.prog.ThrowBottle(c.R.Context(), c.Actor(), programme.Throw{Act: c.Act(), Lot: id, Container: c.Form("container"), Reason: c.Form("reason")}); err != nil {
		return c.solutionAgain("throw", fault.Of(err))
	}
	return c.Done("/controls-solution/"+id, "The bottle is discarded.")
}
