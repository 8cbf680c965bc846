package web

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"github.com/a-h/templ"

	"fairstick/internal/event"
	"fairstick/internal/fault"
	"fairstick/internal/paper"
	"fairstick/internal/people"
	"fairstick/internal/programme"
	"fairstick/internal/web/ui"
)

// paperListView is the choice of the form to type in.
type paperListView struct {
	Page    ui.Page
	Fault   *fault.Fault
	Base    string
	Closed  bool
	Next    string
	Options []ui.Option
	Rows    []paperToType
	Done    string
	Manage  string // the page of the forms, for those who may open it
}

// paperToType is one form that is not in the record yet.
type paperToType struct {
	Number, Language, State, Href string
	Once                          bool
}

// paperTypeView is one form on the screen, in one of its steps.
type paperTypeView struct {
	Page     ui.Page
	Fault    *fault.Fault
	Base     string
	Form     int
	Second   bool // the form is typed for the second time
	FirstBy  string
	Same     bool // the same person types both
	Sections []paperPart
	Values   paperTyping
	Command  string
	Settle   []settleRow
	Hidden   []ui.Option // what travels along: Value is the name of the field, Label its content
	Accept   []string    // what is irregular
	Reason   string
	Signers  []ui.Option
	Signer   string
}

// settleRow is a field in which the two typings differ.
type settleRow struct {
	Name, Where, First, Second, Pick, Paper string
	Error                                   string
	Field                                   paperField
}

func (v paperTypeView) wrong(name string) string { return ui.Message(v.Fault, name) }

// open reports whether a part that is seldom filled in shows its fields.
func (v paperTypeView) open(s paperPart) bool {
	for _, line := range s.Lines {
		for _, f := range line {
			if v.Values[f.Name] != "" || v.wrong(f.Name) != "" {
				return true
			}
		}
	}
	return !s.Folded
}

// groups are the parts that stand under one heading each.
func (v paperTypeView) groups() [][]paperPart {
	var out [][]paperPart
	for _, s := range v.Sections {
		if s.Under && len(out) > 0 {
			out[len(out)-1] = append(out[len(out)-1], s)
			continue
		}
		out = append(out, []paperPart{s})
	}
	return out
}

// lines are the lines of a part without what is typed at the second typing only.
func (v paperTypeView) lines(s paperPart) [][]paperField {
	var out [][]paperField
	for _, line := range s.Lines {
		var kept []paperField
		for _, f := range line {
			if !f.Private || v.Second {
				kept = append(kept, f)
			}
		}
		if len(kept) > 0 {
			out = append(out, kept)
		}
	}
	return out
}

func paperTypeShow(_ *Server, c *Context) error {
	d, err := c.Day()
	if err != nil {
		return err
	}
	once, err := c.s.prog.Typings(c.R.Context(), d.Event.ID)
	if err != nil {
		return err
	}
	v := paperListView{Page: c.dayPage(d, "Type in paper", "paper/type"), Base: dayBase(d) + "/paper", Closed: d.Event.Phase == event.IsClosed}
	v.Page.Lead = "Each form is typed twice. What differs is settled by looking at the paper; then it is in the record."
	if c.holds(senior) {
		v.Manage = v.Base
	}
	typed, all := 0, 0
	for _, f := range d.Forms() {
		all++
		switch f.State {
		case programme.FormTyped:
			typed++
			continue
		case programme.FormMissing:
		default:
			continue
		}
		n := paper.FormNumber(f.Number)
		row := paperToType{Number: n, Language: languageWord(f.Language), State: "not typed yet", Href: v.Base + "/type/form?number=" + strconv.Itoa(f.Number)}
		if t, ok := once[f.Number]; ok {
			row.State, row.Once = fmt.Sprintf("typed once by %s at %s", d.NameOf(t.By), t.At.In(d.Event.Zone()).Format("15:04")), true
		}
		v.Rows = append(v.Rows, row)
		v.Options = append(v.Options, ui.Option{Value: strconv.Itoa(f.Number), Label: n + ", " + row.State})
	}
	v.Next = nextToType(v.Rows)
	v.Done = fmt.Sprintf("%d of %d printed forms are typed in.", typed, all)
	return c.Render(200, PaperListPage(v))
}

// nextToType presets the first form that nobody has typed, else the first that waits for its second typing.
func nextToType(rows []paperToType) string {
	for _, once := range []bool{false, true} {
		for _, r := range rows {
			if r.Once == once {
				n, _ := strconv.Atoi(r.Number)
				return strconv.Itoa(n)
			}
		}
	}
	return ""
}

// toType finds the form of a request, with its first typing if there is one.
func (c *Context) toType(number string) (*programme.Day, int, programme.Typing, bool, error) {
	d, err := c.Day()
	if err != nil {
		return nil, 0, programme.Typing{}, false, err
	}
	n, err := strconv.Atoi(number)
	if err != nil || len(number) > 5 {
		return nil, 0, programme.Typing{}, false, fault.New(fault.Missing, "no-such-form", "There is no such form.", "", "Choose its number in the list.")
	}
	if _, err := d.FormToType(n); err != nil {
		return nil, 0, programme.Typing{}, false, err
	}
	if d.Event.Phase == event.IsPlanned {
		return nil, 0, programme.Typing{}, false, fault.New(fault.Refused, "not-open", "The event is not open yet.", "A visit belongs to a day that was opened after its checks and controls.", "A lead or supervisor opens it on the page Open, with the times of the paper.")
	}
	t, ok, err := c.s.prog.Typing(c.R.Context(), d.Event.ID, n)
	return d, n, t, ok, err
}

func (c *Context) typeView(d *programme.Day, form int, first programme.Typing, second bool) paperTypeView {
	v := paperTypeView{
		Page: c.dayPage(d, "Form "+paper.FormNumber(form), "paper/type"), Base: dayBase(d) + "/paper/type", Form: form, Second: second, Sections: typedForm(d),
		Values: paperTyping{}, Command: newCommand(),
	}
	v.Page.Wide = true
	v.Page.Back = &ui.Link{Href: v.Base, Label: "All forms"}
	if second {
		v.FirstBy = fmt.Sprintf("%s at %s", d.NameOf(first.By), first.At.In(d.Event.Zone()).Format("15:04"))
		v.Same = c.Me != nil && c.Me.ID == first.By
		v.Signers = signers(d.Signers(people.Lead, people.Supervisor))
	}
	return v
}

func paperTypeForm(_ *Server, c *Context) error {
	d, form, first, second, err := c.toType(c.R.URL.Query().Get("number"))
	if err != nil {
		return err
	}
	return c.Render(200, PaperTypePage(c.typeView(d, form, first, second)))
}

// typed reads every field of the form; the fault names each that cannot be read.
func (c *Context) typed(fields []paperField) (paperTyping, *fault.Fault) {
	out, bad := paperTyping{}, map[string]string{}
	for _, f := range fields {
		v, wrong := f.read(c.Forms(f.Name))
		if v != "" {
			out[f.Name] = v
		}
		if wrong != "" {
			bad[f.Name] = wrong
		}
	}
	if len(bad) > 0 {
		return out, paperFault(bad)
	}
	return out, nil
}

// withoutPrivate drops what must not be kept before it is sealed.
func withoutPrivate(fields []paperField, t paperTyping) paperTyping {
	out := paperTyping{}
	for _, f := range fields {
		if !f.Private && t[f.Name] != "" {
			out[f.Name] = t[f.Name]
		}
	}
	return out
}

func paperTypeFirst(s *Server, c *Context) error {
	d, form, was, again, err := c.toType(c.Form("form"))
	if err != nil {
		return err
	}
	v := c.typeView(d, form, was, false)
	if again { // somebody was quicker, or the button was pressed twice
		return c.Done(v.Base+"/form?number="+strconv.Itoa(form), "Form "+paper.FormNumber(form)+" had been typed once already. Type it a second time here.")
	}
	fields := paperFieldsOf(v.Sections)
	t, f := c.typed(fields)
	t = withoutPrivate(fields, t)
	v.Values = t
	var visit programme.PaperVisit
	if f == nil {
		visit, f = paperVisit(d, form, t)
	}
	if f == nil {
		if visit.Contact != nil {
			visit.Contact = &programme.PaperContact{} // the name comes with the second typing
		}
		_, err := s.prog.EnterPaper(c.R.Context(), c.Actor(), programme.EnterPaper{Event: d.Event.ID, Visit: visit, Dry: true})
		f = onPage(asFault(err))
	}
	if f != nil {
		v.Fault = f
		return c.Show(f, PaperTypePage(v))
	}
	if err := s.prog.KeepTyping(c.R.Context(), c.Actor(), d.Event.ID, form, t); err != nil {
		return err
	}
	return c.Done(v.Base+"/form?number="+strconv.Itoa(form), "Form "+paper.FormNumber(form)+" is typed once and kept on this laptop. Now a second time, better by somebody else.")
}

func asFault(err error) *fault.Fault {
	if err == nil {
		return nil
	}
	return fault.Of(err)
}

// paperTypeSecond takes the second typing, what was settled, and the signature under what is irregular. Until all of that
// is there it shows what is missing; then the visit is recorded by one command.
func paperTypeSecond(s *Server, c *Context) error {
	d, form, was, ok, err := c.toType(c.Form("form"))
	if err != nil {
		return err
	}
	if !ok {
		return c.Done(dayBase(d)+"/paper/type/form?number="+c.Form("form"), "Form "+paper.FormNumber(form)+" has no first typing yet. Type it here; nothing was recorded.")
	}
	v := c.typeView(d, form, was, true)
	if id := c.Form("command"); id != "" {
		v.Command = id
	}
	fields := paperFieldsOf(v.Sections)
	t, f := c.typed(fields)
	if f == nil {
		f = twicePrivate(t)
	}
	v.Values = t
	if f != nil {
		v.Fault = f
		return c.Show(f, PaperTypePage(v))
	}
	final, open := v.settle(c, fields, was.Fields, t)
	if open {
		v.Hidden = nil // the choices are on the page
		v.carryTyping()
		return c.Show(v.Fault, PaperTypePage(v))
	}
	visit, f := paperVisit(d, form, final)
	var out programme.EnteredPaper
	if f == nil {
		act := c.Act()
		out, err = s.prog.EnterPaper(c.R.Context(), c.Actor(), programme.EnterPaper{Act: act, Event: d.Event.ID, Visit: visit, Accept: c.Sign("sign"), Reason: c.Form("accept_reason")})
		f = onPage(asFault(err))
	}
	switch {
	case f == nil:
		if err := s.prog.ForgetTyping(c.R.Context(), d.Event.ID, form); err != nil {
			return err
		}
		return c.Done(v.Base, fmt.Sprintf("Form %s is in the record as ticket %03d.%s", paper.FormNumber(form), out.Ticket, findingText(out)))
	case len(out.Irregular) > 0 || signing(f):
		return c.acceptAgain(d, v, visit, out, f)
	}
	v.Fault, v.Values = f, final // a field is wrong in both typings: type it as it stands on the paper, and it differs
	v.Hidden = nil
	return c.Show(f, PaperTypePage(v))
}

// signing reports whether a refusal is about the signature or its reason.
func signing(f *fault.Fault) bool {
	for name := range f.Fields {
		if strings.HasPrefix(name, "sign_") || name == "accept_reason" {
			return true
		}
	}
	return f.Kind == fault.Busy || f.Key == "signature-role"
}

// acceptAgain lists what is irregular and asks for the reason and a signature.
func (c *Context) acceptAgain(d *programme.Day, v paperTypeView, visit programme.PaperVisit, out programme.EnteredPaper, f *fault.Fault) error {
	if len(out.Irregular) == 0 { // the signature was refused before the list was made
		tried, err := c.s.prog.EnterPaper(c.R.Context(), c.Actor(), programme.EnterPaper{Event: d.Event.ID, Visit: visit, Dry: true})
		if err != nil {
			return err
		}
		out = tried
	}
	for _, i := range out.Irregular {
		v.Accept = append(v.Accept, whereOnPaper(v.Sections, fieldOnPage(i.Field))+". "+i.Sentence)
	}
	v.carryTyping()
	v.Reason, v.Signer = c.Form("accept_reason"), c.Form("sign_person")
	if v.Signer != "" || v.Reason != "" {
		v.Fault = f
	}
	return c.Show(f, PaperTypePage(v))
}

func findingText(out programme.EnteredPaper) string {
	if out.Finding == nil {
		return ""
	}
	return " " + out.Finding.Reading.String() + ": " + out.Finding.Word.In("en") + "."
}

// twicePrivate compares name and telephone, which are typed twice on the second page.
func twicePrivate(t paperTyping) *fault.Fault {
	bad := map[string]string{}
	for _, name := range []string{"name", "phone"} {
		a, b := t[programme.PrivateField(name)], t[programme.PrivateField(name+"_again")]
		if a != b {
			bad[programme.PrivateField(name+"_again")] = "The two typings do not agree. Look at the strip."
		}
	}
	if len(bad) == 0 {
		return nil
	}
	return paperFault(bad)
}

// settle decides every field in which the typings differ. open reports that some are undecided; they stand in v.Settle.
func (v *paperTypeView) settle(c *Context, fields []paperField, first map[string]string, second paperTyping) (final paperTyping, open bool) {
	final = paperTyping{}
	for name, value := range second {
		final[name] = value
	}
	bad := map[string]string{}
	for _, f := range differences(fields, first, second) {
		again, _ := f.read(c.Forms("paper_" + f.Name))
		row := settleRow{
			Name: f.Name, Where: whereOnPaper(v.Sections, f.Name), First: f.shown(first[f.Name]), Second: f.shown(second[f.Name]), Pick: c.Form("pick_" + f.Name), Paper: again, Field: f,
		}
		switch row.Pick {
		case "first":
			final[f.Name] = first[f.Name]
		case "second":
		case "paper":
			final[f.Name], row.Error = f.read(c.Forms("paper_" + f.Name))
		default:
			if c.Form("settling") == "yes" {
				row.Error = "Look at the paper: which is right?"
			}
			open = true
		}
		if row.Error != "" {
			bad["pick_"+f.Name], open = row.Error, true
		}
		v.Settle = append(v.Settle, row)
		if row.Pick != "" {
			v.carry("pick_"+f.Name, row.Pick)
			v.carry("paper_"+f.Name, row.Paper)
		}
	}
	if !open {
		v.Settle = nil
	}
	if len(bad) > 0 {
		v.Fault = paperFault(bad)
	}
	return final, open
}

// carry lets a value travel along as a hidden field; squares that are ticked travel one by one.
func (v *paperTypeView) carry(name, value string) {
	v.Hidden = append(v.Hidden, ui.Option{Value: name, Label: value})
}

// carryTyping lets the second typing travel along while something else is asked.
func (v *paperTypeView) carryTyping() {
	for _, f := range paperFieldsOf(v.Sections) {
		if f.Kind != paperTypedSeveral {
			v.carry(f.Name, v.Values[f.Name])
			continue
		}
		for k := range strings.SplitSeq(v.Values[f.Name], ",") {
			v.carry(f.Name, k)
		}
	}
}

func paperTypeForget(s *Server, c *Context) error {
	d, form, _, _, err := c.toType(c.Form("form"))
	if err != nil {
		return err
	}
	if err := s.prog.ForgetTyping(c.R.Context(), d.Event.ID, form); err != nil {
		return err
	}
	return c.Done(dayBase(d)+"/paper/type/form?number="+strconv.Itoa(form), "The first typing of form "+paper.FormNumber(form)+" is thrown away. Nothing was recorded.")
}

// ticked reports whether one square of several is ticked.
func paperTicked(value, key string) bool {
	for k := range strings.SplitSeq(value, ",") {
		if k == key {
			return true
		}
	}
	return false
}

// folded reports whether one of the squares behind the fold is ticked.
func (f paperField) folded(value string) bool {
	return slices.ContainsFunc(f.Options[f.Plain:], func(o ui.Option) bool { return paperTicked(value, o.Value) })
}

// again is a field typed once more while differences are settled.
func typedAgain(f paperField) paperField {
	f.Label = "As it stands on the paper"
	return f
}

func paperNumber(n int) string { return paper.FormNumber(n) }

// paperAttributes are those of an input that says what is wrong with it.
func paperAttributes(name, wrong string, private, focus bool) templ.OrderedAttributes {
	var a templ.OrderedAttributes
	if wrong != "" {
		a = append(a, templ.KeyValue[string, any]{Key: "aria-invalid", Value: "true"}, templ.KeyValue[string, any]{Key: "aria-describedby", Value: "f-" + name + "-error"})
	}
	if private {
		a = append(a, templ.KeyValue[string, any]{Key: "data-private", Value: true})
	}
	if focus {
		a = append(a, templ.KeyValue[string, any]{Key: "autofocus", Value: true})
	}
	return a
}
