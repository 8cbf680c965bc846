package web

import (
	"cmp"
	"fmt"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"fairstick/internal/civil"
	"fairstick/internal/fault"
	"fairstick/internal/people"
	"fairstick/internal/programme"
	"fairstick/internal/stock"
	"fairstick/internal/web/ui"
)

func receiveShow(_ *Server, c *Context) error { return c.receiveAgain(nil) }

func (c *Context) receiveAgain(f *fault.Fault) error {
	r, err := c.s.prog.Stock(c.R.Context())
	if err != nil {
		return err
	}
	page := c.officePage("A receipt", "Have the delivery and its invoice in your hand.", "stock", toStock())
	form := c.dayForm("receipt", "/stock/receive", "receipt", f)
	what := size(form.line("thing", "What came in", c.query("thing")), ui.Medium, ui.Select, "A new lot is added first under Strips, Control solution, Disinfectants or Other supplies.")
	what.Options = []ui.Option{{Value: "", Label: "Choose"}}
	lines := slices.Clone(r.Lines)
	slices.SortStableFunc(lines, func(a, b programme.StockLine) int {
		return cmp.Compare(strings.ToLower(a.Name), strings.ToLower(b.Name))
	})
	for _, l := range lines {
		what.Options = append(what.Options, ui.Option{Value: l.Key, Label: l.Name + ", in " + l.Unit})
	}
	perPack, currency, supplier, place := "", "", "", firstOf(r.Places)
	packs, on, price, invoice := "", civil.Of(c.s.prog.Now()).String(), "", ""
	if l := r.Line(c.query("thing")); l != nil {
		perPack = wholeText(l.Pack())
		if len(l.Places) == 1 {
			place = l.Places[0].Place
		}
	}
	for _, l := range r.Lines { // what the last receipts said is likely to hold again
		if l.Price != nil {
			currency = cmp.Or(currency, l.Price.Currency)
			if l.Key == c.query("thing") {
				currency, supplier = l.Price.Currency, l.Price.Supplier
			}
		}
	}
	if b := c.likeReceipt(); b != nil { // one that was typed wrongly, to be typed right
		packs, perPack, place, on, supplier, invoice = fmt.Sprint(b.Packs), fmt.Sprint(b.PerPack), b.Place, b.On.String(), b.Supplier, b.Invoice
		if b.Price != nil {
			price, currency = strings.TrimSuffix(stock.Money(*b.Price, b.Currency), " "+b.Currency), b.Currency
		}
	}
	v := officeForm{Form: form, Submit: "Record the receipt", Parts: []part{
		{ID: "what", Heading: "What", Items: []item{
			field(what),
			pair(size(form.line("packs", "Packs", packs), ui.Short, ui.Number, ""), size(form.line("per_pack", "Pieces in a pack", perPack), ui.Short, ui.Number, "Gloves count in pairs: a box of 100 gloves holds 50.")),
			pair(size(form.line("place", "Put away at", place), ui.Medium, ui.Text, placesSoFar(r.Places)), size(form.line("on", "Received on", on), ui.Medium, ui.Date, "")),
		}},
		{ID: "invoice", Heading: "Invoice", Help: "From the invoices come the prices and the worth of the stock. A gift has the price 0; leave it empty when it is not known.", Items: []item{
			pair(optional(size(form.line("price", "Price of one pack", price), ui.Short, ui.Number, "Like 19.50, without tax or with it, but always the same way")), optional(size(form.line("currency", "Currency", currency), ui.Short, ui.Text, "Three letters, like USD"))),
			pair(optional(size(form.line("supplier", "Supplier", supplier), ui.Medium, ui.Text, "")), optional(size(form.line("invoice", "Invoice number", invoice), ui.Medium, ui.Text, ""))),
		}},
	}}
	return c.Show(f, OfficeForm(page, v))
}

// likeReceipt finds the earlier receipt that a form begins with; nil when none is asked for.
func (c *Context) likeReceipt() *stock.Received {
	if c.query("like") == "" {
		return nil
	}
	_, l, err := c.s.prog.StockThing(c.R.Context(), c.query("thing"))
	if err != nil {
		return nil
	}
	moves := slices.Clone(l.Shelf().Moves)
	for _, s := range l.Struck {
		moves = append(moves, s.Move)
	}
	for _, m := range moves {
		if m.ID == c.query("like") {
			return m.Receipt
		}
	}
	return nil
}

func firstOf(places []string) string {
	if len(places) == 1 {
		return places[0]
	}
	return ""
}

func placesSoFar(places []string) string {
	if len(places) == 0 {
		return "Your word for it, like Office cupboard"
	}
	return "Places so far: " + strings.Join(places, ", ")
}

func receiveSave(s *Server, c *Context) error {
	packs, bad := c.Int("packs", "The number of packs")
	perPack, worse := c.Int("per_pack", "The number in a pack")
	if f := merge(bad, worse); f != nil {
		return c.receiveAgain(f)
	}
	d, err := s.prog.ReceiveStock(c.R.Context(), c.Actor(), programme.ReceiveStock{
		Act: c.Act(), Thing: c.Form("thing"), Packs: packs, PerPack: perPack, Price: c.Form("price"), Currency: c.Form("currency"),
		Supplier: c.Form("supplier"), Invoice: c.Form("invoice"), Place: c.Form("place"), On: c.Form("on"),
	})
	if err != nil {
		return c.receiveAgain(fault.Of(err))
	}
	return c.Done(thingPath(d.ID), "The receipt is recorded.")
}

// countView is the count of one place: everything on one page.
type countView struct {
	Page   ui.Page
	Places []ui.Link
	Form   officeForm
	None   bool // nothing is on any list
}

func countShow(_ *Server, c *Context) error { return c.countAgain(nil) }

func (c *Context) countAgain(f *fault.Fault) error {
	r, err := c.s.prog.Stock(c.R.Context())
	if err != nil {
		return err
	}
	place := cmp.Or(c.Form("place"), c.query("place"), firstOf(r.Places))
	v := countView{Page: c.officePage("Count", "Count what lies at one place and type the pieces, not the packs. Leave empty what you did not count.", "stock", toStock()), None: len(r.Lines) == 0}
	if len(r.Places) > 1 {
		for _, p := range r.Places {
			v.Places = append(v.Places, ui.Link{Href: "/stock/count?place=" + url.QueryEscape(p), Label: p, Current: strings.EqualFold(p, place)})
		}
	}
	form := c.dayForm("count", "/stock/count", "count", f)
	here := part{ID: "here", Heading: "Should be here"}
	rest := part{ID: "rest", Heading: "Everything else"}
	lines := slices.Clone(r.Lines)
	slices.SortStableFunc(lines, func(a, b programme.StockLine) int {
		return cmp.Compare(strings.ToLower(a.Name), strings.ToLower(b.Name))
	})
	for _, l := range lines {
		in := optional(unit(size(form.line("n_"+l.Key, l.Name, ""), ui.Short, ui.Number, ""), l.Unit))
		if !l.Expiry.IsZero() {
			in.Help = "Expires " + l.Expiry.Long()
		}
		if slices.ContainsFunc(l.Places, func(p programme.StockPlace) bool { return strings.EqualFold(p.Place, place) || p.Place == "" }) {
			here.Items = append(here.Items, field(in))
		} else {
			rest.Items = append(rest.Items, field(in))
		}
	}
	at := part{ID: "at", Heading: "Place", Items: []item{field(size(form.line("place", "Which place do you count?", place), ui.Medium, ui.Text, placesSoFar(r.Places)))}}
	v.Form = officeForm{Form: form, Submit: "Record the count", Parts: []part{at}}
	if len(here.Items) > 0 {
		v.Form.Parts = append(v.Form.Parts, here)
		rest.Closed = len(rest.Items) > 0
	} else {
		rest.Heading = "What is there"
	}
	if len(rest.Items) > 0 {
		v.Form.Parts = append(v.Form.Parts, rest)
	}
	return c.Show(f, CountPage(v))
}

func countSave(s *Server, c *Context) error {
	cmd := programme.CountStock{Act: c.Act(), Place: c.Form("place")}
	var bad []error
	for name := range c.R.PostForm {
		key, ok := strings.CutPrefix(name, "n_")
		if !ok || c.Form(name) == "" {
			continue
		}
		n, err := c.Int(name, "The count")
		bad = append(bad, err)
		cmd.Lines = append(cmd.Lines, programme.CountLine{Thing: key, N: n})
	}
	if f := merge(bad...); f != nil {
		return c.countAgain(f)
	}
	slices.SortFunc(cmd.Lines, func(a, b programme.CountLine) int { return cmp.Compare(a.Thing, b.Thing) })
	tally, err := s.prog.CountStock(c.R.Context(), c.Actor(), cmd)
	if err != nil {
		return c.countAgain(fault.Of(err))
	}
	says := plural(tally.Counted, "line is", "lines are") + " counted; all as the record had them."
	if tally.Differ > 0 {
		says = plural(tally.Counted, "line is", "lines are") + " counted, " + plural(tally.Differ, "differs. ", "differ. ") + tally.Says
	}
	return c.Done("/stock", clip(says, 140))
}

// clip shortens a sentence for the note of the next page.
func clip(s string, most int) string {
	if r := []rune(s); len(r) > most {
		return string(r[:most]) + "…"
	}
	return s
}

// thingForms are the acts on one thing, for a lead or a supervisor.
func (c *Context) thingForms(l *programme.StockLine, refused string, f *fault.Fault) ([]thingForm, error) {
	base := thingPath(l.Key)
	var out []thingForm
	number := func(form dayForm) ui.Input {
		return unit(size(form.line("n", "How many", ""), ui.Short, ui.Number, ""), l.Unit)
	}
	if len(l.Places) > 0 {
		move := c.dayForm("move", base+"/move", refused, f)
		toss := c.dayForm("dispose", base+"/dispose", refused, f)
		to := size(move.line("to", "To", ""), ui.Medium, ui.Text, "Your word for the place")
		out = append(out,
			thingForm{"Move", officeForm{Form: move, Submit: "Record the move", Parts: []part{{Items: []item{pick(placeChoice(move, "from", "From", l)), pair(number(move), to)}}}}},
			thingForm{"Dispose of", officeForm{Form: toss, Submit: "Record the disposal", Danger: true, Parts: []part{{Items: []item{pick(placeChoice(toss, "place", "From where", l)), field(number(toss)), field(toss.line("reason", "Reason, for example expired or damaged", ""))}}}}})
	}
	hold := l.Shelf().Standing()
	if hold == nil {
		form := c.dayForm("quarantine", base+"/quarantine", refused, f)
		out = append(out, thingForm{"Put in quarantine", officeForm{Form: form, Submit: "Put in quarantine", Danger: true, Parts: []part{{
			Help: "Nothing of it may be used until somebody releases it. Stations that use it stop at once.", Items: []item{field(form.line("reason", "What is wrong", ""))},
		}}}})
	}
	if hold == nil || hold.Kind != stock.InRecall {
		form := c.dayForm("recall", base+"/recall", refused, f)
		out = append(out, thingForm{"Record a recall", officeForm{Form: form, Submit: "Record the recall", Danger: true, Parts: []part{{
			Help: "Nothing of it may be used. The list of what it touched stands on the next page.", Items: []item{
				field(form.line("source", "Who recalled it, and where that stands", "")), field(form.line("reason", "Why", "")),
			},
		}}}})
	}
	if hold != nil {
		roles := []people.Role{people.Lead, people.Supervisor}
		if hold.Kind == stock.InRecall {
			roles = roles[:1]
		}
		from, err := c.withPIN(roles...)
		if err != nil {
			return nil, err
		}
		form := c.dayForm("release", base+"/release", refused, f)
		which := form.choice("hold", "What is released?", hold.ID, ui.Option{Value: hold.ID, Label: map[stock.HoldKind]string{stock.InRecall: "The recall", stock.InQuarantine: "The quarantine"}[hold.Kind], Hint: hold.Reason})
		out = append(out, thingForm{"Release it", officeForm{Form: form, Submit: "Release it for use", Parts: []part{{
			Help: "It may be used again. For strips the controls of the day decide as always.", Items: append([]item{pick(which), field(form.line("reason", "What was found", ""))}, form.signature("sign", "Who answers for it?", from)...),
		}}}})
	}
	return out, nil
}

// placeChoice offers the places where a thing lies.
func placeChoice(form dayForm, name, legend string, l *programme.StockLine) ui.Pick {
	value := ""
	if len(l.Places) == 1 {
		value = "=" + l.Places[0].Place
	}
	p := form.choice(name, legend, value)
	for _, x := range l.Places {
		p.Options = append(p.Options, ui.Option{Value: "=" + x.Place, Label: cmp.Or(x.Place, "No place yet"), Hint: pieces(x.N, l.Unit)})
	}
	p.Row = len(l.Places) < 4
	return p
}

// placeOf reads a place that was chosen: one without a name is "=".
func (c *Context) placeOf(name string) string { return strings.TrimPrefix(c.Form(name), "=") }

func (c *Context) thingDone(refused, says string, err error) error {
	if err != nil {
		return c.thingAgain(refused, fault.Of(err))
	}
	return c.Done(thingPath(c.R.PathValue("thing")), says)
}

func thingMove(s *Server, c *Context) error {
	n, err := c.Int("n", "The number")
	if err == nil {
		_, err = s.prog.MoveStock(c.R.Context(), c.Actor(), programme.MoveStock{Act: c.Act(), Thing: c.R.PathValue("thing"), From: c.placeOf("from"), To: c.Form("to"), N: n})
	}
	return c.thingDone("move", strconv.Itoa(n)+" moved to "+c.Form("to")+".", err)
}

func thingDispose(s *Server, c *Context) error {
	n, err := c.Int("n", "The number")
	if err == nil {
		_, err = s.prog.DisposeStock(c.R.Context(), c.Actor(), programme.DisposeStock{Act: c.Act(), Thing: c.R.PathValue("thing"), Place: c.placeOf("place"), Reason: c.Form("reason"), N: n})
	}
	return c.thingDone("dispose", fmt.Sprintf("%d disposed of.", n), err)
}

func thingQuarantine(s *Server, c *Context) error {
	_, err := s.prog.HoldStock(c.R.Context(), c.Actor(), programme.HoldStock{Act: c.Act(), Thing: c.R.PathValue("thing"), Reason: c.Form("reason")})
	return c.thingDone("quarantine", "It is in quarantine. Put it apart from what may be used.", err)
}

func thingRecall(s *Server, c *Context) error {
	key := c.R.PathValue("thing")
	_, err := s.prog.HoldStock(c.R.Context(), c.Actor(), programme.HoldStock{Act: c.Act(), Thing: key, Recall: true, Source: c.Form("source"), Reason: c.Form("reason")})
	if err == nil {
		return c.Done(thingPath(key)+"/look-back", "The recall is recorded: nothing of it may be used. Here is what it touched.")
	}
	return c.thingDone("recall", "The recall is recorded. Nothing of it may be used.", err)
}

func thingRelease(s *Server, c *Context) error {
	_, err := s.prog.ReleaseStock(c.R.Context(), c.Actor(), programme.ReleaseStock{Act: c.Act(), Thing: c.R.PathValue("thing"), Hold: c.Form("hold"), Reason: c.Form("reason"), Sign: c.Sign("sign")})
	return c.thingDone("release", "It is released.", err)
}
