package web

import (
	"fmt"
	"net/url"
	"strconv"
	"strings"

	"fairstick/internal/event"
	"fairstick/internal/fault"
	"fairstick/internal/people"
	"fairstick/internal/programme"
	"fairstick/internal/web/ui"
)

// proposeView is a roster as it could be, and what is lacking.
type proposeView struct {
	Page    ui.Page
	Ask     officeForm // how many posts; it asks again by address
	Shut    *fault.Fault
	Says    string
	Lacking []string
	Ratio   *fault.Fault
	Stop    bool // the day could not open with this ratio
	Tongues []string
	Gloves  string
	Rows    []proposeRow
	New     int
	Accept  *proposeForm
	Dropped []droppedRow
	Out     []listRow
	Spare   []string
	Roster  string
}

type proposeRow struct {
	Name, Post, Station, Languages, Glove string
	New                                   bool
}

// proposeForm carries the new posts as they were shown, so that what is accepted is what was read.
type proposeForm struct {
	Sheet ui.Sheet
	Query string
	Rows  []programme.RosterRow
}

type droppedRow struct {
	Name, Post, Why string
	Substitutes     []string
}

// wishFields are the numbers that a proposal is asked with, in the order of the form.
var wishFields = []struct {
	name, label string
	at          func(*programme.RosterWish) *int
}{
	{"desk", "Desk", func(w *programme.RosterWish) *int { return &w.Desk }},
	{"test", "Test", func(w *programme.RosterWish) *int { return &w.Test }},
	{"explain", "Explain", func(w *programme.RosterWish) *int { return &w.Explain }},
	{"supervisors", "Supervisors", func(w *programme.RosterWish) *int { return &w.Supervisors }},
	{"runners", "Runners", func(w *programme.RosterWish) *int { return &w.Runners }},
}

// wish reads the numbers of the address over those that the roster seems to need.
func wishOf(q url.Values, usual programme.RosterWish) (programme.RosterWish, error) {
	w := usual
	var bad []error
	for _, f := range wishFields {
		text := strings.TrimSpace(q.Get(f.name))
		if text == "" {
			continue
		}
		n, err := strconv.Atoi(text)
		if err != nil || len(text) > 9 {
			bad = append(bad, fault.BadField(f.name, "%s: write a whole number; %q was typed.", f.label, text))
			continue
		}
		*f.at(&w) = n
	}
	if q.Has("languages") {
		w.Languages = nil
		for _, l := range strings.FieldsFunc(q.Get("languages"), func(r rune) bool { return r == ',' || r == ';' || r == ' ' }) {
			if !contains(w.Languages, l) {
				w.Languages = append(w.Languages, l)
			}
		}
	}
	if len(bad) > 0 {
		return w, merge(bad...)
	}
	return w, nil
}

func proposeShow(s *Server, c *Context) error { return c.proposeAgain(c.R.URL.Query(), "", nil) }

func (c *Context) proposeAgain(q url.Values, refused string, f *fault.Fault) error {
	d, err := c.Day()
	if err != nil {
		return err
	}
	base := dayBase(d) + "/roster"
	wish, err := wishOf(q, d.RosterWish())
	asked := fault.Of(err)
	var p *programme.RosterProposal
	if asked == nil {
		_, p, err = c.s.prog.ProposeRoster(c.R.Context(), d.Event.ID, wish)
		if asked = fault.Of(err); asked != nil && asked.Kind == fault.Internal {
			return err
		}
	}
	v := proposeView{Page: c.dayPage(d, "Propose a roster", "roster"), Roster: base}
	v.Page.Lead = fmt.Sprintf("%s, %s. Who is verified on that day and free. Nothing is recorded before you accept it.", d.Event.Plan.Name, d.Event.Plan.Date.Long())
	v.Page.Back = &ui.Link{Href: base, Label: "Roster"}
	v.Page.Wide = true
	v.Ask = c.askForm(base+"/propose", q, wish, asked)
	if f != nil {
		v.Shut = f
	} else if asked != nil && len(asked.Fields) == 0 {
		v.Shut = asked
	}
	if p != nil {
		c.proposed(&v, d, p, base, q, refused, f)
	}
	if asked != nil && f == nil {
		return c.Show(asked, ProposePage(v))
	}
	return c.Show(f, ProposePage(v))
}

func (c *Context) askForm(action string, q url.Values, wish programme.RosterWish, f *fault.Fault) officeForm {
	form := c.dayForm("ask", action, "", nil)
	var numbers []ui.Input
	for _, x := range wishFields {
		in := size(form.line(x.name, x.label, strconv.Itoa(*x.at(&wish))), ui.Short, ui.Number, "")
		if text := q.Get(x.name); text != "" {
			in.Value = text
		}
		in.ID, in.Error = "f-"+x.name, ui.Message(f, x.name)
		numbers = append(numbers, in)
	}
	tongues := optional(size(form.line("languages", "Languages somebody should speak", strings.Join(wish.Languages, ", ")), ui.Medium, ui.Text, "Language tags with commas between, for example en, es"))
	tongues.ID, tongues.Error = "f-languages", ui.Message(f, "languages")
	if f != nil && len(f.Fields) > 0 {
		form.fault = f
	}
	return officeForm{Form: form, Submit: "Propose", Plain: true, Parts: []part{{Items: []item{pair(numbers...), field(tongues)}}}}
}

// get makes the sheet of a form that asks by address.
func (f officeForm) get() ui.Sheet {
	s := f.Form.sheet()
	s.Get, s.Command = true, ""
	return s
}

func (c *Context) proposed(v *proposeView, d *programme.Day, p *programme.RosterProposal, base string, q url.Values, refused string, f *fault.Fault) {
	for _, x := range p.Posts {
		v.Rows = append(v.Rows, proposeRow{
			Name: x.Person.Details.Name, Post: x.Role, Station: orNone(x.Station), Languages: tonguesText(x.Person.Details.Languages), Glove: gloveText(x.Person), New: x.New,
		})
	}
	fresh := p.New()
	v.New = len(fresh)
	v.Says = proposalText(len(p.Posts)-len(fresh), len(fresh))
	for _, l := range p.Lacking {
		v.Lacking = append(v.Lacking, lackText(l.Post, l.Count))
	}
	v.Ratio, v.Stop = p.Ratio, p.Ratio != nil && p.Ratio.Key == "ratio-most"
	for _, l := range p.Wish.Languages {
		v.Tongues = append(v.Tongues, speakers(l, p.Posts))
	}
	v.Gloves = glovesText(p)
	for _, x := range p.Dropped {
		r := droppedRow{Name: x.Name, Post: x.Post.Role, Why: x.Why}
		if x.Post.Station != "" {
			r.Post += ", station " + x.Post.Station
		}
		for _, sub := range x.Substitutes {
			r.Substitutes = append(r.Substitutes, substituteText(sub))
		}
		v.Dropped = append(v.Dropped, r)
	}
	for _, x := range p.Out {
		v.Out = append(v.Out, listRow{Href: "/people/" + x.Person.ID, Cells: []string{x.Person.Details.Name, x.Why}})
	}
	for _, x := range p.Spare {
		v.Spare = append(v.Spare, x.Details.Name+" ("+rolesText(x.Details.Roles)+")")
	}
	if len(fresh) == 0 || d.Event.Phase == event.IsClosed {
		return
	}
	form := c.dayForm("accept", base+"/propose", refused, f)
	accept := proposeForm{Sheet: form.sheet(), Query: q.Encode()}
	for _, x := range fresh {
		accept.Rows = append(accept.Rows, programme.RosterRow{Person: x.Person.ID, Role: x.Role, Station: x.Station})
	}
	v.Accept = &accept
}

func proposalText(kept, fresh int) string {
	switch {
	case kept == 0 && fresh == 0:
		return "Nobody is on the roster, and nobody can be proposed."
	case kept == 0:
		return fmt.Sprintf("Nobody is on the roster yet. %s proposed.", plural(fresh, "person is", "people are"))
	case fresh == 0:
		return fmt.Sprintf("%s on the roster. Nobody is added.", plural(kept, "person stays", "people stay"))
	}
	return fmt.Sprintf("%s on the roster. %s added.", plural(kept, "person stays", "people stay"), plural(fresh, "person is", "people are"))
}

// postWords name a post in a sentence, one and many.
var postWords = map[string][2]string{
	"supervisor": {"supervisor", "supervisors"}, "screener": {"screener", "screeners"}, "counsellor": {"counsellor", "counsellors"},
	"desk": {"person at the desk", "people at the desk"}, "runner": {"runner", "runners"},
}

func lackText(post string, n int) string {
	w := postWords[post]
	return plural(n, w[0], w[1]) + " more"
}

func tonguesText(tags []string) string {
	if len(tags) == 0 {
		return "not known"
	}
	return strings.Join(tags, ", ")
}

func gloveText(p *people.State) string {
	if p.Details.Glove == "" {
		return "not known"
	}
	return p.Details.Glove
}

// speakers says who on the roster speaks a language.
func speakers(tag string, posts []programme.ProposedPost) string {
	name := tag
	if w, ok := languageNames[tag]; ok {
		name = w
	}
	var who []string
	for _, p := range posts {
		if contains(p.Person.Details.Languages, tag) {
			who = append(who, p.Person.Details.Name+" ("+p.Role+")")
		}
	}
	if len(who) == 0 {
		return name + ": nobody on this roster is known to speak it."
	}
	return name + ": " + strings.Join(who, ", ") + "."
}

func glovesText(p *programme.RosterProposal) string {
	var parts []string
	for _, g := range p.Gloves {
		parts = append(parts, fmt.Sprintf("%s %d", g.Size, g.Count))
	}
	s := "Those who test and supervise wear: " + strings.Join(parts, ", ") + "."
	if len(parts) == 0 {
		s = "No glove size of those who test and supervise is known."
	}
	if len(p.NoGlove) > 0 && len(parts) > 0 {
		s += " Not known: " + strings.Join(p.NoGlove, ", ") + "."
	}
	return s
}

func substituteText(s programme.RosterSubstitute) string {
	text := s.Person.Details.Name
	switch {
	case s.Proposed != "":
		text += ", proposed above as " + s.Proposed
	default:
		text += ", free"
	}
	if len(s.Lost) > 0 {
		text += "; does not speak " + strings.Join(s.Lost, ", ")
	}
	return text
}

func proposeAccept(s *Server, c *Context) error {
	id := c.R.PathValue("event")
	q, err := url.ParseQuery(c.Form("query"))
	if err != nil {
		q = url.Values{}
	}
	cmd := programme.AcceptRoster{Act: c.Act(), Event: id}
	roles, stations := c.Forms("role"), c.Forms("station")
	for i, p := range c.Forms("person") {
		if i >= len(roles) || i >= len(stations) {
			return c.proposeAgain(q, "accept", fault.New(fault.Invalid, "form", "The form arrived damaged.", "Nothing was recorded.", "Load the page again and repeat what you did."))
		}
		cmd.Rows = append(cmd.Rows, programme.RosterRow{Person: p, Role: roles[i], Station: stations[i]})
	}
	if _, err := s.prog.AcceptRoster(c.R.Context(), c.Actor(), cmd); err != nil {
		return c.proposeAgain(q, "accept", fault.Of(err))
	}
	return c.Done("/events/"+id+"/roster", plural(len(cmd.Rows), "person is", "people are")+" on the roster. Change single posts here.")
}
