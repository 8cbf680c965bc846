package web

import (
	"cmp"

	"fairstick/internal/civil"
	"fairstick/internal/fault"
	"fairstick/internal/programme"
	"fairstick/internal/stock"
	"fairstick/internal/web/ui"
)

func wipesShow(s *Server, c *Context) error {
	all, err := programme.List[*stock.Disinfectant](c.R.Context(), s.prog, stock.DisinfectantKind)
	if err != nil {
		return err
	}
	today := civil.Of(s.prog.Now())
	v := listView{
		Page: c.officePage("Disinfectants", "What the meters are wiped with after each person, and how long they must stay wet.", "setup", c.backToSetup()),
		ID:   "wipes", Caption: plural(len(all), "disinfectant", "disinfectants"), Find: "Find a disinfectant", Cols: columns("Name", "Lot", "Contact time", "Expiry"),
		EmptyWhat: "No disinfectant is on the list yet.", EmptyHow: "Add the wipes that the meters' instructions allow, with the contact time from their label.",
	}
	c.adding(&v, "/disinfectants/new", "Add a disinfectant", programme.DisinfectantsList)
	for _, d := range all {
		row := listRow{Cells: []string{d.Details.Name, d.Details.Lot, contactText(d.Details), expiryText(d.Details.Expiry, today)}}
		if c.holds(lead) {
			row.Href = "/disinfectants/" + d.ID
		}
		v.Rows = append(v.Rows, row)
	}
	return c.Render(200, OfficeList(v))
}

func (c *Context) wipeForm(action string, f *fault.Fault, d stock.DisinfectantDescribed, fresh bool) officeForm {
	form := c.dayForm("wipe", action, "wipe", f)
	name := form.line("name", "Name", d.Name)
	name.Focus = fresh
	steps := form.tick("two_step", "It takes two wipes: one to clean, a second to disinfect", d.TwoStep)
	steps.Help = "The contact time counts from the second one."
	out := officeForm{Form: form, Submit: "Save", Parts: []part{{Items: []item{
		field(name),
		field(unit(size(form.line("contact_seconds", "Contact time", wholeText(d.ContactSeconds)), ui.Short, ui.Number, "How long the surface must stay wet, from the label. Two minutes are 120 seconds."), "seconds")),
		tickBox(steps),
		field(optional(size(form.line("lot", "Lot", d.Lot), ui.Medium, ui.Text, "From the label. Another lot is a line of its own, so that a recall finds it."))),
		field(optional(size(form.line("expiry", "Expiry", d.Expiry.String()), ui.Medium, ui.Text, "Like 2026-08-31, or 2026-08 for the end of the month"))),
	}}}}
	if fresh {
		out.Submit = "Add this disinfectant"
	}
	return out
}

func toWipes() *ui.Link { return &ui.Link{Href: "/disinfectants", Label: "Disinfectants"} }

func wipeNew(s *Server, c *Context) error { return c.wipeNewAgain(nil) }

func (c *Context) wipeNewAgain(f *fault.Fault) error {
	return c.Show(f, OfficeForm(c.officePage("A new disinfectant", "", "setup", toWipes()), c.wipeForm("/disinfectants", f, stock.DisinfectantDescribed{}, true)))
}

func (c *Context) describeWipe(id string) *fault.Fault {
	seconds, err := c.Int("contact_seconds", "The contact time")
	if err == nil {
		_, err = c.s.prog.DescribeDisinfectant(c.R.Context(), c.Actor(), programme.DescribeDisinfectant{
			Act: c.Act(), Disinfectant: id, Name: c.Form("name"),
			ContactSeconds: seconds, TwoStep: c.Form("two_step") == "yes", Expiry: c.Form("expiry"), Lot: c.Form("lot"),
		})
	}
	return fault.Of(err)
}

func wipeAdd(s *Server, c *Context) error {
	if f := c.describeWipe(""); f != nil {
		return c.wipeNewAgain(f)
	}
	return c.Done("/disinfectants", c.Form("name")+" is on the list.")
}

func wipeShow(s *Server, c *Context) error { return c.wipeAgain(nil) }

func (c *Context) wipeAgain(f *fault.Fault) error {
	id := c.R.PathValue("disinfectant")
	d, err := programme.One[*stock.Disinfectant](c.R.Context(), c.s.prog, stock.DisinfectantRef(id))
	if err != nil {
		return err
	}
	return c.Show(f, OfficeForm(c.officePage(d.Details.Name, "", "setup", toWipes()), c.wipeForm("/disinfectants/"+id, f, d.Details, false)))
}

func wipeSave(s *Server, c *Context) error {
	if f := c.describeWipe(c.R.PathValue("disinfectant")); f != nil {
		return c.wipeAgain(f)
	}
	return c.Done("/disinfectants", c.Form("name")+" is saved.")
}

func suppliesShow(s *Server, c *Context) error {
	all, err := programme.List[*stock.Supply](c.R.Context(), s.prog, stock.SupplyKind)
	if err != nil {
		return err
	}
	today := civil.Of(s.prog.Now())
	v := listView{
		Page: c.officePage("Other supplies", "Lancets, gloves, gauze, sharps containers and whatever else goes to the fair.", "setup", c.backToSetup()),
		ID:   "supplies", Caption: plural(len(all), "supply", "supplies"), Find: "Find a supply", Cols: columns("Name", "Lot", "Pack", "Expiry", "Note"),
		EmptyWhat: "No other supply is on the list yet.", EmptyHow: "Add what you bring, with its expiry where one is printed.",
	}
	c.adding(&v, "/supplies/new", "Add a supply", programme.SuppliesList)
	for _, x := range all {
		row := listRow{Cells: []string{x.Details.Name, x.Details.Lot, x.Details.Pack, expiryText(x.Details.Exp, today), x.Details.Note}}
		if c.holds(lead) {
			row.Href = "/supplies/" + x.ID
		}
		v.Rows = append(v.Rows, row)
	}
	return c.Render(200, OfficeList(v))
}

func (c *Context) supplyForm(action string, f *fault.Fault, d stock.SupplyDescribed, fresh bool) officeForm {
	form := c.dayForm("supply", action, "supply", f)
	name := form.line("name", "Name", d.Name)
	name.Focus = fresh
	out := officeForm{Form: form, Submit: "Save", Parts: []part{{Items: []item{
		field(name),
		field(optional(size(form.line("pack", "Pack", d.Pack), ui.Medium, ui.Text, "For example box of 200"))),
		field(optional(size(form.line("lot", "Lot", d.Lot), ui.Medium, ui.Text, "From the box. A box of another lot is a line of its own, so that a recall finds it."))),
		field(optional(size(form.line("expiry", "Expiry", d.Exp.String()), ui.Medium, ui.Text, "Like 2026-08-31, or 2026-08 for the end of the month"))),
		field(optional(form.line("note", "Note", d.Note))),
		field(supplyUse(form, d.Use)),
	}}}}
	if fresh {
		out.Submit = "Add this supply"
	}
	return out
}

// supplyUse asks what a supply is in a supply list, whatever its name.
func supplyUse(form dayForm, use stock.Use) ui.Input {
	in := size(form.line("use", "What it is", cmp.Or(string(use), "other")), ui.Medium, ui.Select, "Decides what is counted and what the planned events need of it.")
	for _, r := range stock.Rates {
		if r.Use != stock.UseStrips && r.Use != stock.UseWipes { // these are lists of their own
			in.Options = append(in.Options, ui.Option{Value: string(r.Use), Label: r.Name + ", counted in " + r.Unit})
		}
	}
	in.Options = append(in.Options, ui.Option{Value: "other", Label: "Something else, counted in pieces"})
	return in
}

func toSupplies() *ui.Link { return &ui.Link{Href: "/supplies", Label: "Other supplies"} }

func supplyNew(s *Server, c *Context) error { return c.supplyNewAgain(nil) }

func (c *Context) supplyNewAgain(f *fault.Fault) error {
	return c.Show(f, OfficeForm(c.officePage("A new supply", "", "setup", toSupplies()), c.supplyForm("/supplies", f, stock.SupplyDescribed{}, true)))
}

func (c *Context) describeSupply(id string) *fault.Fault {
	_, err := c.s.prog.DescribeSupply(c.R.Context(), c.Actor(), programme.DescribeSupply{Act: c.Act(), Supply: id, Name: c.Form("name"), Pack: c.Form("pack"), Expiry: c.Form("expiry"), Note: c.Form("note"), Use: c.Form("use"), Lot: c.Form("lot")})
	return fault.Of(err)
}

func supplyAdd(s *Server, c *Context) error {
	if f := c.describeSupply(""); f != nil {
		return c.supplyNewAgain(f)
	}
	return c.Done("/supplies", c.Form("name")+" is on the list.")
}

func supplyShow(s *Server, c *Context) error { return c.supplyAgain(nil) }

func (c *Context) supplyAgain(f *fault.Fault) error {
	id := c.R.PathValue("supply")
	d, err := programme.One[*stock.Supply](c.R.Context(), c.s.prog, stock.SupplyRef(id))
	if err != nil {
		return err
	}
	return c.Show(f, OfficeForm(c.officePage(d.Details.Name, "", "setup", toSupplies()), c.supplyForm("/supplies/"+id, f, d.Details, false)))
}

func supplySave(s *Server, c *Context) error {
	if f := c.describeSupply(c.R.PathValue("supply")); f != nil {
		return c.supplyAgain(f)
	}
	return c.Done("/supplies", c.Form("name")+" is saved.")
}
