package web

import (
	"strconv"
	"strings"

	"fairstick/internal/fault"
	"fairstick/internal/people"
	"fairstick/internal/programme"
	"fairstick/internal/web/ui"
)

// part is one section of an office form.
type part struct {
	ID, Heading, Help string
	Items             []item
	Closed            bool // folded away until it is opened
}

// item is one question of a form: exactly one of its fields is set.
type item struct {
	Field *ui.Input
	Pair  []ui.Input // side by side
	Pick  *ui.Pick
	Box   *ui.Box
	Boxes *boxes
}

// boxes is a question answered by ticking any number of boxes.
type boxes struct {
	ID, Legend, Help, Error string
	List                    []ui.Box
}

// officeForm is one form of an office page.
type officeForm struct {
	Form   dayForm
	Parts  []part
	Submit string
	Upload bool
	Plain  bool // no draft is kept on the device
	Danger bool // the act takes something out of use
}

func (f officeForm) sheet() ui.Sheet {
	s := f.Form.sheet()
	s.Upload = f.Upload
	if !f.Plain && !f.Upload {
		s.Draft = f.Form.scope + " " + f.Form.action
	}
	return s
}

// line is a field of a form with what stands in it.
func (f dayForm) line(name, label, value string) ui.Input {
	return ui.Input{ID: f.id(name), Name: name, Label: label, Value: f.value(name, value), Error: f.wrong(name)}
}

// tick is a tick box of a form.
func (f dayForm) tick(name, label string, on bool) ui.Box {
	return ui.Box{ID: f.id(name), Name: name, Label: label, Checked: f.ticked(name, "yes", on), Error: f.wrong(name)}
}

// choice is a question of a form with a few answers.
func (f dayForm) choice(name, legend, value string, options ...ui.Option) ui.Pick {
	return ui.Pick{ID: f.id(name), Name: name, Legend: legend, Value: f.value(name, value), Error: f.wrong(name), Options: options}
}

// several is a question of a form with any number of answers.
func (f dayForm) several(name, legend string, on []string, options ...ui.Option) boxes {
	b := boxes{ID: f.id(name), Legend: legend, Error: f.wrong(name)}
	for i, o := range options {
		b.List = append(b.List, ui.Box{
			ID: f.id(name) + "-" + strconv.Itoa(i+1), Name: name, Value: o.Value, Label: o.Label, Help: o.Hint,
			Checked: f.ticked(name, o.Value, contains(on, o.Value)),
		})
	}
	return b
}

// signature asks for a name and a PIN under the names prefix_person and prefix_pin.
func (f dayForm) signature(prefix, label string, from []ui.Option) []item {
	who := f.line(prefix+"_person", label, "")
	who.Kind, who.Options, who.Width = ui.Select, from, ui.Medium
	pin := f.line(prefix+"_pin", "PIN of the person who signs", "")
	pin.Kind, pin.Width, pin.MaxLength = ui.PIN, ui.Short, 6
	return []item{{Field: &who}, {Field: &pin}}
}

func field(in ui.Input) item   { return item{Field: &in} }
func pick(p ui.Pick) item      { return item{Pick: &p} }
func tickBox(b ui.Box) item    { return item{Box: &b} }
func tickBoxes(b boxes) item   { return item{Boxes: &b} }
func pair(in ...ui.Input) item { return item{Pair: in} }

// size gives a field its width, its kind and a sentence of help.
func size(in ui.Input, w ui.Width, k ui.Kind, help string) ui.Input {
	in.Width, in.Kind, in.Help = w, k, help
	return in
}

func optional(in ui.Input) ui.Input {
	in.Optional = true
	return in
}

func unit(in ui.Input, u string) ui.Input {
	in.Unit = u
	return in
}

// officePage is the shell of a set-up page with the pages beside it.
func (c *Context) officePage(title, sentence, current string, back *ui.Link) ui.Page {
	p := c.page(title)
	p.Lead, p.Back = sentence, back
	p.Nav = append(p.Nav, ui.Link{Href: "/people", Label: "People"}, ui.Link{Href: "/meters", Label: "Meters"}, ui.Link{Href: "/strips", Label: "Strips"})
	if c.holds(keepers) {
		p.Nav = append(p.Nav, ui.Link{Href: "/stock", Label: "Stock"})
	}
	for i := range p.Nav {
		p.Nav[i].Current = p.Nav[i].Href == "/"+current
	}
	return p
}

func toSetup() *ui.Link { return &ui.Link{Href: "/setup", Label: "Set-up"} }

// backToSetup leads a lead to the set-up and everybody else to the start.
func (c *Context) backToSetup() *ui.Link {
	if c.holds(lead) {
		return toSetup()
	}
	return &ui.Link{Href: "/", Label: "Start"}
}

// listView is a list of the office: people, meters, lots, events.
type listView struct {
	Page                ui.Page
	ID, Caption         string
	Cols                []ui.Col
	Rows                []listRow
	EmptyWhat, EmptyHow string
	New                 *ui.Link // nil for those who may not add
	Import              *ui.Link
	More                []ui.Link
	Find                string
}

// listRow is one row; the first cell is its name.
type listRow struct {
	Href  string // empty when there is no page for this viewer
	Cells []string
	Gone  bool     // out of use: the name is struck through and the last cell says why
	More  *ui.Link // in a column of its own after the cells; nil when the list has none
}

// cell gives the label of a column for a stacked row.
func (v listView) label(i int) string { return v.Cols[i].Label }

// columns makes the head of a list.
func columns(labels ...string) []ui.Col {
	out := make([]ui.Col, len(labels))
	for i, l := range labels {
		out[i] = ui.Col{Label: l}
	}
	return out
}

// adding gives a lead the ways to add to a list.
func (c *Context) adding(v *listView, href, label, list string) {
	if !c.holds(lead) {
		return
	}
	v.New = &ui.Link{Href: href, Label: label}
	if list != "" {
		v.Import = &ui.Link{Href: "/lists/" + list + "/import", Label: "Load from a file"}
	}
}

// decimal reads a number that may be missing; a fault names the field.
func (c *Context) decimal(name, label string) (*float64, error) {
	v := strings.ReplaceAll(c.Form(name), ",", ".")
	if v == "" {
		return nil, nil
	}
	n, err := strconv.ParseFloat(v, 64)
	if err != nil || len(v) > 8 || strings.ContainsAny(v, "eExXnNiIpP_") {
		return nil, fault.BadField(name, "%s should be a plain number such as 21.5; %q was typed.", label, v)
	}
	return &n, nil
}

// words splits a field that holds several values with commas between.
func (c *Context) words(name string) []string {
	return strings.FieldsFunc(c.Form(name), func(r rune) bool { return r == ',' || r == ';' || r == '|' })
}

func numberText(n *float64) string {
	if n == nil {
		return ""
	}
	return strconv.FormatFloat(*n, 'g', -1, 64)
}

// wholeText writes a count for a form; nothing for 0.
func wholeText(n int) string {
	if n == 0 {
		return ""
	}
	return strconv.Itoa(n)
}

// withPIN lists who takes part, can sign, and holds one of the roles (any when none is named).
func (c *Context) withPIN(roles ...people.Role) ([]ui.Option, error) {
	all, err := programme.List[*people.State](c.R.Context(), c.s.prog, people.Kind)
	if err != nil {
		return nil, err
	}
	var out []*people.State
	for _, p := range all {
		if p.Gone != "" || p.PinHash == "" {
			continue
		}
		ok := len(roles) == 0
		for _, r := range roles {
			ok = ok || p.Has(r)
		}
		if ok {
			out = append(out, p)
		}
	}
	return signers(out), nil
}

// stray gives the fault of a form that the page no longer has, since the thing has changed meanwhile; nil otherwise.
func stray(f *fault.Fault, refused string, forms ...*officeForm) *fault.Fault {
	for _, x := range forms {
		if x != nil && x.Form.scope == refused {
			return nil
		}
	}
	return f
}

// merge gives one fault of several errors, with the fields of all of them.
func merge(errs ...error) *fault.Fault {
	var out *fault.Fault
	for _, err := range errs {
		f := fault.Of(err)
		if f == nil {
			continue
		}
		if out == nil {
			out = f
			continue
		}
		for k, v := range f.Fields {
			out = out.Field(k, v)
		}
	}
	return out
}

// wrong reports whether a field of the part was refused.
func (p part) wrong() bool {
	for _, it := range p.Items {
		switch {
		case it.Field != nil && it.Field.Error != "", it.Pick != nil && it.Pick.Error != "", it.Box != nil && it.Box.Error != "", it.Boxes != nil && it.Boxes.Error != "":
			return true
		}
		for _, in := range it.Pair {
			if in.Error != "" {
				return true
			}
		}
	}
	return false
}
