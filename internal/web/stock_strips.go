package web

import (
	"fmt"
	"slices"
	"sort"
	"strconv"
	"strings"

	"fairstick/internal/civil"
	"fairstick/internal/fault"
	"fairstick/internal/glucose"
	"fairstick/internal/programme"
	"fairstick/internal/protocol"
	"fairstick/internal/stock"
	"fairstick/internal/web/ui"
)

var chemistryWords = map[stock.Chemistry]string{
	stock.GlucoseOxidase: "Glucose oxidase", stock.GDHFAD: "GDH-FAD", stock.GDHNAD: "GDH-NAD", stock.GDHPQQ: "GDH-PQQ", stock.Hexokinase: "Hexokinase", stock.UnknownEnzyme: "Not known",
}

var insertEachVial = map[stock.EachVial]string{stock.EachVialYes: "yes", stock.EachVialNo: "no", stock.EachVialUnknown: "not stated, so yes"}

func inUseText(days int) string {
	if days == 0 {
		return "to the printed expiry"
	}
	return plural(days, "day", "days") + " after opening"
}

func stripsShow(s *Server, c *Context) error {
	all, err := programme.List[*stock.StripLot](c.R.Context(), s.prog, stock.StripLotKind)
	if err != nil {
		return err
	}
	today := civil.Of(s.prog.Now())
	v := listView{
		Page: c.officePage("Strips", "Each lot with the control ranges printed for it, and its opened vials.", "strips", c.backToSetup()),
		ID:   "strips", Caption: plural(len(all), "lot", "lots"), Find: "Find a lot", Cols: columns("Lot", "Fits", "Code", "Chemistry", "Expiry", "Open vials"),
		EmptyWhat: "No lot of strips is on the list yet.", EmptyHow: "Add each lot from its vial: type of meter, code, expiry, and the control range of each level.",
	}
	v.Page.Wide = true
	c.adding(&v, "/strips/new", "Add a lot", programme.StripLotsList)
	for _, l := range all {
		d := l.Details
		row := listRow{Href: "/strips/" + l.ID, Cells: []string{d.Lot, strings.Join(d.Models, ", "), orNone(d.Code), chemistryWords[d.Chemistry], expiryText(d.Expiry, today), openText(l.OpenVials(today))}}
		if l.Withdrawn != "" {
			row.Gone, row.Cells[5] = true, "withdrawn: "+l.Withdrawn
		}
		v.Rows = append(v.Rows, row)
	}
	return c.Render(200, OfficeList(v))
}

func orNone(s string) string {
	if s == "" {
		return "none"
	}
	return s
}

func openText(list []stock.Container) string {
	if len(list) == 0 {
		return "none"
	}
	words := make([]string, len(list))
	for i, x := range list {
		words[i] = x.Name + " (until " + x.Discard.Long() + ")"
	}
	return strings.Join(words, ", ")
}

// levels lists the levels of control that the programme runs, with those that a lot has already.
func (c *Context) levels(have map[string]stock.Range) ([]string, error) {
	ch, err := c.s.prog.Charter(c.R.Context())
	if err != nil {
		return nil, err
	}
	p := protocol.Default()
	if a, ok := ch.InForce(); ok {
		p = a.Protocol
	} else if ch.Draft != nil {
		p = *ch.Draft
	}
	out := append([]string(nil), p.Controls.Levels...)
	var more []string
	for l := range have {
		if !slices.Contains(out, l) {
			more = append(more, l)
		}
	}
	sort.Strings(more)
	return append(out, more...), nil
}

func (c *Context) stripForm(action, refused string, f *fault.Fault, d stock.StripLotDescribed, fresh bool) (officeForm, error) {
	levels, err := c.levels(d.Ranges)
	if err != nil {
		return officeForm{}, err
	}
	form := c.dayForm("strips", action, refused, f)
	unitNow, inUse := "", ""
	for _, r := range d.Ranges {
		unitNow = string(r.Low.Unit)
	}
	if !fresh {
		inUse = "expiry"
		if d.InUseDays > 0 {
			inUse = strconv.Itoa(d.InUseDays)
		}
	}
	chemistry := form.choice("chemistry", "Chemistry of the strips", string(d.Chemistry))
	for _, k := range stock.Chemistries {
		chemistry.Options = append(chemistry.Options, ui.Option{Value: string(k), Label: chemistryWords[k]})
	}
	chemistry.Help = "From the insert. GDH-PQQ reads other sugars as glucose; where it is not known, people with such a treatment are not tested with it."
	each := form.choice("each_vial", "Does the insert ask for controls on each new vial?", string(d.EachVial), ui.Option{Value: "yes", Label: "Yes"}, ui.Option{Value: "no", Label: "No"}, ui.Option{Value: "unknown", Label: "Not stated", Hint: "Counts as yes"})
	each.Row = true
	units := form.choice("unit", "Unit of the printed ranges", unitNow, ui.Option{Value: string(glucose.MgPerDL), Label: "mg/dL"}, ui.Option{Value: string(glucose.MmolPerL), Label: "mmol/L"})
	units.Row = true
	ranges := part{ID: "ranges", Heading: "Control ranges", Help: "As printed on the vial of this lot; each lot has its own.", Items: []item{pick(units)}}
	for _, l := range levels {
		low, high := "", ""
		if r, ok := d.Ranges[l]; ok {
			low, high = r.Low.Number(), r.High.Number()
		}
		from := size(form.line("range_"+l+"_low", "Level "+l+", from", low), ui.Short, ui.Number, "")
		from.Error = placeWrong(form, "range_"+l)
		if from.Error != "" {
			from.ID = "f-range_" + l
		}
		if l == levels[0] && from.Error == "" {
			if from.Error = placeWrong(form, "ranges"); from.Error != "" {
				from.ID = "f-ranges"
			}
		}
		to := size(form.line("range_"+l+"_high", "Level "+l+", to", high), ui.Short, ui.Number, "")
		ranges.Items = append(ranges.Items, pair(optional(from), optional(to)))
	}
	lot := size(form.line("lot", "Lot number", d.Lot), ui.Medium, ui.Text, "")
	lot.Focus = fresh
	out := officeForm{Form: form, Submit: "Save", Parts: []part{
		{ID: "lot", Heading: "The lot", Items: []item{
			field(lot),
			field(size(form.line("models", "Types of meter that the strips fit", strings.Join(d.Models, ", ")), ui.Medium, ui.Text, "Your words for the types, as on the meters; commas between")),
			field(optional(size(form.line("code", "Code on the vial", d.Code), ui.Short, ui.Text, "It must equal the code that the meter shows."))),
			field(size(form.line("expiry", "Expiry", d.Expiry.String()), ui.Medium, ui.Text, "Like 2026-08-31, or 2026-08 for the end of the month")),
			pick(chemistry),
		}},
		{ID: "vials", Heading: "Vials", Items: []item{
			field(size(form.line("per_vial", "Strips in a vial", wholeText(d.PerVial)), ui.Short, ui.Number, "")),
			field(size(form.line("in_use", "Use after opening", inUse), ui.Short, ui.Text, "Days from the insert, or the word expiry when it sets no shorter limit")),
			pick(each),
		}},
		ranges,
	}}
	if fresh {
		out.Submit = "Add this lot"
	}
	return out, nil
}

func stripNew(s *Server, c *Context) error { return c.stripNewAgain(nil) }

func (c *Context) stripNewAgain(f *fault.Fault) error {
	form, err := c.stripForm("/strips", "strips", f, stock.StripLotDescribed{}, true)
	if err != nil {
		return err
	}
	return c.Show(f, OfficeForm(c.officePage("A new lot of strips", "Have the vial and the insert in your hand.", "strips", &ui.Link{Href: "/strips", Label: "Strips"}), form))
}

func (c *Context) describeStrips(id string) (programme.Done, *fault.Fault) {
	cmd := programme.DescribeStripLot{
		Act: c.Act(), StripLot: id, Lot: c.Form("lot"), Models: c.words("models"), Chemistry: c.Form("chemistry"), Code: c.Form("code"),
		Expiry: c.Form("expiry"), InUse: c.Form("in_use"), EachVial: c.Form("each_vial"), Unit: c.Form("unit"),
	}
	var bad error
	cmd.PerVial, bad = c.Int("per_vial", "Strips in a vial")
	if bad != nil {
		return programme.Done{}, fault.Of(bad)
	}
	for name := range c.R.PostForm {
		level, isLow := strings.CutSuffix(name, "_low")
		if level, ok := strings.CutPrefix(level, "range_"); ok && isLow {
			if low, high := c.Form(name), c.Form("range_"+level+"_high"); low != "" || high != "" {
				cmd.Ranges = append(cmd.Ranges, programme.RangeText{Level: level, Low: low, High: high})
			}
		}
	}
	sort.Slice(cmd.Ranges, func(i, j int) bool { return cmd.Ranges[i].Level < cmd.Ranges[j].Level })
	d, err := c.s.prog.DescribeStripLot(c.R.Context(), c.Actor(), cmd)
	return d, fault.Of(err)
}

func stripAdd(s *Server, c *Context) error {
	d, f := c.describeStrips("")
	if f != nil {
		return c.stripNewAgain(f)
	}
	return c.Done("/strips/"+d.ID, "Lot "+c.Form("lot")+" is on the list.")
}

// lotView is one lot of strips or of control solution.
type lotView struct {
	Page       ui.Page
	Stray      *fault.Fault // of a form that is no longer on the page
	Withdrawn  string
	Facts      [][2]string
	Ranges     [][2]string // level and printed range
	Word       string      // "Vial" or "Bottle"
	Containers []openedRow
	Edit       *officeForm
	Open       *officeForm
	Throw      *officeForm // nil when none is open
	Withdraw   *officeForm
}

type openedRow struct {
	Name, Opened, Until, State string
	Gone                       bool
}

func openedRows(list []stock.Container, today civil.Date) []openedRow {
	var out []openedRow
	for i := len(list) - 1; i >= 0; i-- {
		x := list[i]
		r := openedRow{Name: x.Name, Opened: x.Opened.Long(), Until: x.Discard.Long(), State: "in use"}
		switch {
		case x.Discarded != "":
			r.State, r.Gone = "discarded: "+x.Discarded, true
		case today.After(x.Discard):
			r.State = "past its last day: discard it"
		}
		out = append(out, r)
	}
	return out
}

// containerForms are the opening and the discarding of vials or bottles.
func (c *Context) containerForms(v *lotView, word, base, refused string, f *fault.Fault, list []stock.Container) {
	name := strings.ToLower(word)
	open := c.dayForm("open", base+"/open", refused, f)
	today := civil.Of(c.s.prog.Now())
	v.Word = word
	v.Open = &officeForm{Form: open, Submit: "Write down as opened", Parts: []part{{Items: []item{
		pair(optional(size(open.line(name, "Name on the "+name, ""), ui.Short, ui.Text, "Empty: it gets the next number")), size(open.line("on", "Opened on", today.String()), ui.Medium, ui.Date, "")),
	}}}}
	var choices []ui.Option
	for _, x := range list {
		if x.Discarded == "" {
			choices = append(choices, ui.Option{Value: x.Name, Label: word + " " + x.Name, Hint: "until " + x.Discard.Long()})
		}
	}
	if len(choices) == 0 {
		return
	}
	throw := c.dayForm("throw", base+"/throw", refused, f)
	v.Throw = &officeForm{Form: throw, Submit: "Discard it", Danger: true, Parts: []part{{Items: []item{
		pick(throw.choice("container", "Which one?", "", choices...)), field(size(throw.line("reason", "Reason", ""), ui.Full, ui.Text, "For example used up, left open, past its last day")),
	}}}}
}

func stripShow(s *Server, c *Context) error { return c.stripAgain("", nil) }

func (c *Context) stripAgain(refused string, f *fault.Fault) error {
	id := c.R.PathValue("lot")
	l, err := programme.One[*stock.StripLot](c.R.Context(), c.s.prog, stock.StripLotRef(id))
	if err != nil {
		return err
	}
	base, d, today := "/strips/"+id, l.Details, civil.Of(c.s.prog.Now())
	v := lotView{Page: c.officePage("Strip lot "+d.Lot, "Fits "+strings.Join(d.Models, ", ")+".", "strips", &ui.Link{Href: "/strips", Label: "Strips"}), Withdrawn: l.Withdrawn}
	v.Facts = [][2]string{
		{"Code", orNone(d.Code)},
		{"Chemistry", chemistryWords[d.Chemistry]},
		{"Expiry", expiryText(d.Expiry, today)},
		{"Use", inUseText(d.InUseDays)},
		{"Controls on each new vial", insertEachVial[d.EachVial]},
		{"Strips in a vial", strconv.Itoa(d.PerVial)},
	}
	levels, err := c.levels(d.Ranges)
	if err != nil {
		return err
	}
	for _, level := range levels {
		says := "not printed here: controls of this level cannot be judged"
		if r, ok := d.Ranges[level]; ok {
			says = fmt.Sprintf("%s to %s", r.Low.Number(), r.High)
		}
		v.Ranges = append(v.Ranges, [2]string{"Level " + level, says})
	}
	v.Containers = openedRows(l.Vials, today)
	c.containerForms(&v, "Vial", base, refused, f, l.Vials)
	if c.holds(lead) {
		edit, err := c.stripForm(base, refused, f, d, false)
		if err != nil {
			return err
		}
		v.Edit = &edit
	}
	if c.holds(senior) && l.Withdrawn == "" {
		form := c.dayForm("withdraw", base+"/withdraw", refused, f)
		v.Withdraw = &officeForm{Form: form, Submit: "Take the lot out of use", Danger: true, Parts: []part{{
			Help: "No vial of it can be used any more. This cannot be taken back.", Items: []item{field(form.line("reason", "Reason, for example a recall", ""))},
		}}}
	}
	v.Stray = stray(f, refused, v.Edit, v.Open, v.Throw, v.Withdraw)
	return c.Show(f, LotPage(v))
}

func stripSave(s *Server, c *Context) error {
	id := c.R.PathValue("lot")
	if _, f := c.describeStrips(id); f != nil {
		return c.stripAgain("strips", f)
	}
	return c.Done("/strips/"+id, "Lot "+c.Form("lot")+" is saved.")
}

func stripOpen(s *Server, c *Context) error {
	id := c.R.PathValue("lot")
	if _, err := s.prog.OpenVial(c.R.Context(), c.Actor(), programme.OpenVial{Act: c.Act(), StripLot: id, Vial: c.Form("vial"), On: c.Form("on")}); err != nil {
		return c.stripAgain("open", fault.Of(err))
	}
	return c.Done("/strips/"+id, "The vial is written down as opened.")
}

func stripThrow(s *Server, c *Context) error {
	id := c.R.PathValue("lot")
	if _, err := s.prog.ThrowVial(c.R.Context(), c.Actor(), programme.Throw{Act: c.Act(), Lot: id, Container: c.Form("container"), Reason: c.Form("reason")}); err != nil {
		return c.stripAgain("throw", fault.Of(err))
	}
	return c.Done("/strips/"+id, "The vial is discarded.")
}

func stripWithdraw(s *Server, c *Context) error {
	id := c.R.PathValue("lot")
	if _, err := s.prog.WithdrawStripLot(c.R.Context(), c.Actor(), programme.WithdrawStripLot{Act: c.Act(), StripLot: id, Reason: c.Form("reason")}); err != nil {
		return c.stripAgain("withdraw", fault.Of(err))
	}
	return c.Done("/strips/"+id, "The lot is out of use. Put its vials away from the tables.")
}
