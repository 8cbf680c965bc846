package web

import (
	"fmt"
	"time"

	"fairstick/internal/civil"
	"fairstick/internal/fault"
	"fairstick/internal/glucose"
	"fairstick/internal/people"
	"fairstick/internal/programme"
	"fairstick/internal/stock"
	"fairstick/internal/web/ui"
)

var codingWords = map[stock.Coding]string{stock.CodingNone: "no code", stock.CodingChip: "a chip with the lot", stock.CodingButton: "set by a button"}

func metersShow(s *Server, c *Context) error {
	all, err := programme.List[*stock.Meter](c.R.Context(), s.prog, stock.MeterKind)
	if err != nil {
		return err
	}
	v := listView{
		Page: c.officePage("Meters", "Each meter with what its instructions allow. Without a signed review it tests nobody.", "meters", c.backToSetup()),
		ID:   "meters", Caption: plural(len(all), "meter", "meters"), Find: "Find a meter", Cols: columns("Meter", "Type", "Serial number", "Unit", "Code", "Review"),
		EmptyWhat: "No meter is on the list yet.", EmptyHow: "Add each meter with the label that you stick on it. Then read its instructions and sign the review.",
	}
	v.Page.Wide = true
	c.adding(&v, "/meters/new", "Add a meter", programme.MetersList)
	for _, m := range all {
		d := m.Details
		row := listRow{Href: "/meters/" + m.ID, Cells: []string{d.Label, d.Model, d.Serial, string(d.Unit), codingWords[d.Coding], reviewState(m)}}
		if m.Quarantine != nil {
			row.Gone, row.Cells[5] = true, "in quarantine: "+m.Quarantine.Note
		}
		v.Rows = append(v.Rows, row)
	}
	return c.Render(200, OfficeList(v))
}

func reviewState(m *stock.Meter) string {
	switch {
	case m.Review == nil:
		return "not reviewed"
	case !m.Review.SeveralPeople:
		return "not for several people"
	case m.Reviewed() != "":
		return "not complete"
	}
	return "for several people, read on " + m.Review.On.Long()
}

func (c *Context) meterForm(action, refused string, f *fault.Fault, d stock.MeterDescribed, fresh bool) officeForm {
	form := c.dayForm("meter", action, refused, f)
	low, high := "", ""
	if !fresh {
		low, high = numberText(&d.Limits.TempLow), numberText(&d.Limits.TempHigh)
	}
	coding := form.choice("coding", "How is the code of a strip lot set?", string(d.Coding),
		ui.Option{Value: "none", Label: "No code", Hint: "The meter needs none."},
		ui.Option{Value: "chip", Label: "Chip", Hint: "A chip or key is packed with the lot."},
		ui.Option{Value: "button", Label: "Button", Hint: "The code is set by hand and shown."})
	units := form.choice("unit", "Which unit does it show?", string(d.Unit), ui.Option{Value: string(glucose.MgPerDL), Label: "mg/dL"}, ui.Option{Value: string(glucose.MmolPerL), Label: "mmol/L"})
	units.Row = true
	label := size(form.line("label", "Label", d.Label), ui.Short, ui.Text, "Your own name on it, for example M1")
	label.MaxLength, label.Focus = 12, fresh
	out := officeForm{Form: form, Submit: "Save", Parts: []part{
		{ID: "name", Heading: "The meter", Items: []item{
			field(label),
			field(size(form.line("serial", "Serial number", d.Serial), ui.Medium, ui.Text, "From the back of the meter")),
			field(size(form.line("model", "Type", d.Model), ui.Medium, ui.Text, "Your word for the type. Strip lots name the types that they fit.")),
		}},
		{ID: "shows", Heading: "What it shows", Items: []item{pick(units), pick(coding)}},
		{ID: "limits", Heading: "Room limits", Help: "From the insert. Outside of them a reading cannot be trusted.", Items: []item{
			pair(unit(size(form.line("temp_low", "Lowest temperature", low), ui.Short, ui.Number, ""), "°C"), unit(size(form.line("temp_high", "Highest temperature", high), ui.Short, ui.Number, ""), "°C")),
			pair(optional(unit(size(form.line("humidity_low", "Lowest humidity", numberText(d.Limits.HumidityLow)), ui.Short, ui.Number, ""), "%")),
				optional(unit(size(form.line("humidity_high", "Highest humidity", numberText(d.Limits.HumidityHigh)), ui.Short, ui.Number, ""), "%"))),
		}},
	}}
	if fresh {
		out.Submit = "Add this meter"
	}
	return out
}

func meterNew(s *Server, c *Context) error { return c.meterNewAgain(nil) }

func (c *Context) meterNewAgain(f *fault.Fault) error {
	p := c.officePage("A new meter", "", "meters", &ui.Link{Href: "/meters", Label: "Meters"})
	return c.Show(f, OfficeForm(p, c.meterForm("/meters", "meter", f, stock.MeterDescribed{}, true)))
}

func (c *Context) describedMeter(id string) (programme.DescribeMeter, *fault.Fault) {
	d := programme.DescribeMeter{Act: c.Act(), Meter: id, Label: c.Form("label"), Serial: c.Form("serial"), Model: c.Form("model"), Coding: c.Form("coding"), Unit: c.Form("unit")}
	var a, b, x, y error
	d.TempLow, a = c.decimal("temp_low", "The lowest temperature")
	d.TempHigh, b = c.decimal("temp_high", "The highest temperature")
	d.HumidityLow, x = c.decimal("humidity_low", "The lowest humidity")
	d.HumidityHigh, y = c.decimal("humidity_high", "The highest humidity")
	return d, merge(a, b, x, y)
}

func meterAdd(s *Server, c *Context) error {
	cmd, f := c.describedMeter("")
	if f != nil {
		return c.meterNewAgain(f)
	}
	d, err := s.prog.DescribeMeter(c.R.Context(), c.Actor(), cmd)
	if err != nil {
		return c.meterNewAgain(fault.Of(err))
	}
	return c.Done("/meters/"+d.ID, "Meter "+c.Form("label")+" is on the list. Read its instructions and sign the review.")
}

// meterView is one meter: what it is, its review, and whether it is in quarantine.
type meterView struct {
	Page       ui.Page
	Stray      *fault.Fault // of a form that is no longer on the page
	Quarantine string
	Facts      [][2]string
	Review     [][2]string
	Missing    string // what the review lacks; empty when nothing
	Voids      []listRow
	Quality    string // its controls over all events, for who may see them
	Edit       *officeForm
	Sign       *officeForm
	NoWipes    bool
	Return     *officeForm
	Take       *officeForm
}

func meterShow(s *Server, c *Context) error { return c.reviewedMeterAgain("", nil) }

func (c *Context) reviewedMeterAgain(refused string, f *fault.Fault) error {
	ctx, id := c.R.Context(), c.R.PathValue("meter")
	m, err := programme.One[*stock.Meter](ctx, c.s.prog, stock.MeterRef(id))
	if err != nil {
		return err
	}
	wipes, err := programme.List[*stock.Disinfectant](ctx, c.s.prog, stock.DisinfectantKind)
	if err != nil {
		return err
	}
	staff, err := programme.List[*people.State](ctx, c.s.prog, people.Kind)
	if err != nil {
		return err
	}
	base, d := "/meters/"+id, m.Details
	v := meterView{Page: c.officePage("Meter "+d.Label, d.Model+", serial number "+d.Serial, "meters", &ui.Link{Href: "/meters", Label: "Meters"}), Missing: m.Reviewed(), NoWipes: len(wipes) == 0}
	v.Facts = [][2]string{{"Unit", string(d.Unit)}, {"Code", codingWords[d.Coding]}, {"Room", fmt.Sprintf("%g to %g °C%s", d.Limits.TempLow, d.Limits.TempHigh, humidityLimits(d.Limits))}}
	if m.Quarantine != nil {
		v.Quarantine = fmt.Sprintf("%s %s, %s.", endSentence(m.Quarantine.Note), nameIn(staff, m.Quarantine.By), c.dayAndTime(m.Quarantine.At))
	}
	if r := m.Review; r != nil {
		allowed := "No"
		if r.SeveralPeople {
			allowed = "Yes"
		}
		names := ""
		for _, w := range wipes {
			if m.Allows(w.ID) {
				names = withComma(names, w.Details.Name)
			}
		}
		v.Review = [][2]string{{"On several people", allowed}, {"How it is disinfected", r.Disinfect}, {"With", names}, {"Instructions read", r.Insert}, {"Signed", nameIn(staff, r.SignedBy) + ", " + r.On.Long()}}
	}
	for i := len(m.Voids) - 1; i >= 0; i-- {
		x := m.Voids[i]
		v.Voids = append(v.Voids, listRow{Cells: []string{c.dayAndTime(x.At), voidWord(x.Cause), x.Note, nameIn(staff, x.By)}})
	}
	if c.holds(senior) {
		v.Quality = "/quality/meters/" + id
	}
	if err := c.meterForms(&v, m, wipes, base, refused, f); err != nil {
		return err
	}
	v.Stray = stray(f, refused, v.Edit, v.Sign, v.Return, v.Take)
	return c.Show(f, MeterPage(v))
}

var causeWords = map[string]string{
	string(stock.Dropped): "dropped", string(stock.BatteryChanged): "battery changed", string(stock.TooHotOrCold): "too hot or too cold",
	string(stock.InDoubt): "a result in doubt", "returned": "returned from quarantine",
}

func voidWord(cause string) string {
	if w, ok := causeWords[cause]; ok {
		return w
	}
	return cause
}

func (c *Context) dayAndTime(t time.Time) string {
	return t.In(c.s.prog.Now().Location()).Format("2 Jan 2006, 15:04")
}

func withComma(a, b string) string {
	if a == "" {
		return b
	}
	return a + ", " + b
}

func endSentence(s string) string {
	if s == "" || s[len(s)-1] == '.' {
		return s
	}
	return s + "."
}

func (c *Context) meterForms(v *meterView, m *stock.Meter, wipes []*stock.Disinfectant, base, refused string, f *fault.Fault) error {
	if c.holds(lead) {
		edit := c.meterForm(base, refused, f, m.Details, false)
		v.Edit = &edit
	}
	if !c.holds(senior) {
		return nil
	}
	from, err := c.withPIN(people.Lead, people.Supervisor)
	if err != nil {
		return err
	}
	if m.Quarantine != nil {
		form := c.dayForm("return", base+"/return", refused, f)
		v.Return = &officeForm{Form: form, Submit: "Return it to use", Plain: true, Parts: []part{{
			Help:  "Its controls must be run again before it tests anyone.",
			Items: append([]item{field(form.line("reason", "What was found and done", ""))}, form.signature("sign", "Who signs: a lead or supervisor", from)...),
		}}}
	} else {
		form := c.dayForm("quarantine", base+"/quarantine", refused, f)
		v.Take = &officeForm{Form: form, Submit: "Put it in quarantine", Danger: true, Parts: []part{{Items: []item{field(form.line("reason", "Why it must not be used", ""))}}}}
	}
	form := c.dayForm("review", base+"/review", refused, f)
	old := stock.MeterReviewed{}
	if m.Review != nil {
		old = *m.Review
	}
	allowed := ""
	if m.Review != nil {
		allowed = map[bool]string{true: "yes", false: "no"}[old.SeveralPeople]
	}
	several := form.choice("several_people", "Do its instructions allow use on several people?", allowed, ui.Option{Value: "yes", Label: "Yes"}, ui.Option{Value: "no", Label: "No"})
	several.Row, several.Help = true, "A meter made for one person may carry blood from one to the next."
	var choices []ui.Option
	for _, w := range wipes {
		choices = append(choices, ui.Option{Value: w.ID, Label: w.Details.Name, Hint: contactText(w.Details)})
	}
	with := form.several("disinfectants", "Which disinfectants on your list do they allow?", old.Disinfectants, choices...)
	how := size(form.line("disinfect", "How do they say to clean and disinfect it?", old.Disinfect), ui.Full, ui.Area, "It is shown at the station after each person. May stay empty when the answer above is no.")
	how.Optional = true
	v.Sign = &officeForm{Form: form, Submit: "Sign the review", Parts: []part{{Items: append([]item{
		field(size(form.line("insert", "Which instructions did you read?", old.Insert), ui.Medium, ui.Text, "Their date or version, as printed")),
		pick(several), field(how), tickBoxes(with),
	}, form.signature("sign", "Who read them: a lead or supervisor", from)...)}}}
	return nil
}

func contactText(d stock.DisinfectantDescribed) string {
	s := "wet for " + ui.Span(d.ContactSeconds)
	if d.TwoStep {
		s += ", after a first wipe to clean"
	}
	return s
}

func meterSave(s *Server, c *Context) error {
	id := c.R.PathValue("meter")
	cmd, f := c.describedMeter(id)
	if f == nil {
		_, err := s.prog.DescribeMeter(c.R.Context(), c.Actor(), cmd)
		f = fault.Of(err)
	}
	if f != nil {
		return c.reviewedMeterAgain("meter", f)
	}
	return c.Done("/meters/"+id, "Meter "+c.Form("label")+" is saved.")
}

func meterReview(s *Server, c *Context) error {
	id := c.R.PathValue("meter")
	if c.Form("several_people") == "" {
		return c.reviewedMeterAgain("review", fault.BadField("several_people", "Say whether the instructions allow use on several people."))
	}
	_, err := s.prog.ReviewMeter(c.R.Context(), c.Actor(), programme.ReviewMeter{
		Act: c.Act(), Meter: id, SeveralPeople: c.Form("several_people") == "yes",
		Disinfect: c.Form("disinfect"), Disinfectants: c.Forms("disinfectants"), Insert: c.Form("insert"), Sign: c.Sign("sign"),
	})
	if err != nil {
		return c.reviewedMeterAgain("review", fault.Of(err))
	}
	return c.Done("/meters/"+id, "The review is signed.")
}

func meterReturn(s *Server, c *Context) error {
	id := c.R.PathValue("meter")
	if _, err := s.prog.ReturnMeter(c.R.Context(), c.Actor(), programme.ReturnMeter{Act: c.Act(), Meter: id, Reason: c.Form("reason"), Sign: c.Sign("sign")}); err != nil {
		return c.reviewedMeterAgain("return", fault.Of(err))
	}
	return c.Done("/meters/"+id, "The meter is back. Run both levels of control before it tests anyone.")
}

func meterQuarantine(s *Server, c *Context) error {
	id := c.R.PathValue("meter")
	if _, err := s.prog.QuarantineMeter(c.R.Context(), c.Actor(), programme.QuarantineMeter{Act: c.Act(), Meter: id, Reason: c.Form("reason")}); err != nil {
		return c.reviewedMeterAgain("quarantine", fault.Of(err))
	}
	return c.Done("/meters/"+id, "The meter is in quarantine. Put it away from the tables.")
}

// expiryText writes a last day, and says so when it has passed.
func expiryText(last, today civil.Date) string {
	switch {
	case last.IsZero():
		return "none printed"
	case today.After(last):
		return "expired on " + last.Long()
	}
	return last.Long()
}
