package web

import (
	"fmt"

	"fairstick/internal/event"
	"fairstick/internal/fault"
	"fairstick/internal/people"
	"fairstick/internal/programme"
	"fairstick/internal/web/ui"
)

// rosterView is who does what on the day, who is here, and whether enough of them supervise.
type rosterView struct {
	Page     ui.Page
	Base     string
	Closed   bool
	Fault    *fault.Fault // of a form of a row, or of one that is no longer on the page
	Ratio    string
	Gate     *fault.Fault
	Signed   string // the override that holds
	Override *officeForm
	Post     *officeForm
	Rows     []rosterRow
	Change   bool // may mark others
}

type rosterRow struct {
	Person, Name, Role, Station, State, Verified string
	Here, Told                                   bool
	Mark                                         bool // this viewer may mark the person
	Command                                      string
}

func rosterShow(s *Server, c *Context) error { return c.rosterAgain("", nil) }

func (c *Context) rosterAgain(refused string, f *fault.Fault) error {
	d, err := c.Day()
	if err != nil {
		return err
	}
	ev, base := d.Event, dayBase(d)+"/roster"
	v := rosterView{Page: c.dayPage(d, "Roster", "roster"), Base: base, Closed: ev.Phase == event.IsClosed, Change: c.holds(senior)}
	v.Page.Lead = fmt.Sprintf("%s, %s. Doors %s to %s.", ev.Plan.Name, ev.Plan.Date.Long(), ev.Plan.Doors, ev.Plan.Ends)
	v.Page.Back = &ui.Link{Href: dayBase(d), Label: "The event"}
	v.Page.Wide = true
	c.supervision(&v, d, refused, f)
	for _, p := range ev.Roster {
		v.Rows = append(v.Rows, c.rosterRow(d, p, v.Closed))
	}
	if v.Change && !v.Closed {
		v.Post = c.postForm(d, base, refused, f)
	}
	v.Fault = stray(f, refused, v.Override, v.Post)
	return c.Show(f, RosterPage(v))
}

// supervision says in words how many hands-on people are under how many supervisors, and what the gate says of it.
func (c *Context) supervision(v *rosterView, d *programme.Day, refused string, f *fault.Fault) {
	here := d.Event.Present()
	hands := here[string(people.Screener)] + here[string(people.Counsellor)]
	over := here[string(people.Supervisor)] + here[string(people.Lead)]
	v.Ratio = fmt.Sprintf("%s here to test or counsel, under %s.", plural(hands, "person is", "people are"), plural(over, "supervisor", "supervisors"))
	if d.ProtocolErr != nil {
		v.Gate = fault.Of(d.ProtocolErr)
		return
	}
	v.Ratio += fmt.Sprintf(" The protocol wants %d for each supervisor and allows %d at most.", d.Protocol.Ratio.Wanted, d.Protocol.Ratio.Most)
	gate, _ := d.Supervision()
	v.Gate = gate.Fault
	if o, ok := d.Event.OverrideOf(gate.Key); ok {
		v.Signed = fmt.Sprintf("%s signed for %s at %s: %s", d.NameOf(o.Signed), o.About, clockOr(o.At, d.Event.Zone()), o.Reason)
	}
	if gate.Fault == nil || gate.Fault.Override == "" || v.Closed || !v.Change {
		return
	}
	form := c.dayForm("override", v.Base+"/override", refused, f)
	v.Override = &officeForm{Form: form, Submit: "Sign the reason", Plain: true, Parts: []part{{Items: append(
		[]item{field(form.line("reason", "Reason", ""))}, form.signature("sign", "Who signs: a "+gate.Fault.Override, signers(d.Signers(people.Role(gate.Fault.Override))))...)}}}
}

func (c *Context) rosterRow(d *programme.Day, p event.Post, closed bool) rosterRow {
	r := rosterRow{Person: p.Person, Name: d.NameOf(p.Person), Role: p.Role, Station: orNone(p.Station), State: "not marked yet", Here: p.Here, Told: p.Told, Command: newCommand(), Verified: "verified"}
	if p.Told {
		r.State = map[bool]string{true: "here", false: "not here"}[p.Here]
	}
	if p.Note != "" {
		r.State += " (" + p.Note + ")"
	}
	if who := d.Person(p.Person); who != nil && d.ProtocolErr == nil {
		switch err := d.VerifiedFor(who, people.Role(p.Role)); {
		case err != nil:
			r.Verified = fault.Of(err).Sentence
		case !contains(d.Protocol.Verification.Roles, p.Role):
			r.Verified = "not needed"
		}
	}
	r.Mark = !closed && (c.holds([]people.Role{people.Lead, people.Supervisor, people.Runner}) || c.Me.ID == p.Person)
	return r
}

func (c *Context) postForm(d *programme.Day, base, refused string, f *fault.Fault) *officeForm {
	form := c.dayForm("post", base, refused, f)
	who := size(form.line("person", "Who", ""), ui.Medium, ui.Select, "")
	who.Options = []ui.Option{{Label: "Choose a name"}}
	for _, p := range d.People {
		if p.Gone == "" {
			who.Options = append(who.Options, ui.Option{Value: p.ID, Label: p.Details.Name + " (" + rolesText(p.Details.Roles) + ")"})
		}
	}
	role := size(form.line("role", "Post", ""), ui.Medium, ui.Select, "")
	role.Options = []ui.Option{{Label: "Choose a post"}}
	for _, r := range people.Roles {
		role.Options = append(role.Options, ui.Option{Value: string(r), Label: string(r)})
	}
	station := optional(size(form.line("station", "Station", ""), ui.Short, ui.Text, "For example T1"))
	station.MaxLength = 12
	return &officeForm{Form: form, Submit: "Post this person", Parts: []part{{
		Help:  "A person who is on the roster already is moved. Nobody is posted without a verification in date where the protocol asks for one.",
		Items: []item{pair(who, role, station)},
	}}}
}

func rosterPost(s *Server, c *Context) error {
	id := c.R.PathValue("event")
	_, err := s.prog.PostPerson(c.R.Context(), c.Actor(), programme.PostPerson{Act: c.Act(), Event: id, Person: c.Form("person"), Role: c.Form("role"), Station: c.Form("station")})
	if err != nil {
		f := fault.Of(err)
		if f.Key == "not-verified" {
			f = f.Field("person", f.Sentence)
		}
		return c.rosterAgain("post", f)
	}
	return c.Done("/events/"+id+"/roster", "The post is on the roster.")
}

func rosterHere(s *Server, c *Context) error {
	id := c.R.PathValue("event")
	if c.Form("here") == "off" {
		_, err := s.prog.PostPerson(c.R.Context(), c.Actor(), programme.PostPerson{Act: c.Act(), Event: id, Person: c.Form("person"), Role: "off"})
		if err != nil {
			return c.rosterAgain("here", fault.Of(err))
		}
		return c.Done("/events/"+id+"/roster", "The person is off the roster.")
	}
	_, err := s.prog.Attend(c.R.Context(), c.Actor(), programme.Attend{Act: c.Act(), Event: id, Person: c.Form("person"), Here: c.Form("here") == "yes"})
	if err != nil {
		return c.rosterAgain("here", fault.Of(err))
	}
	return c.Done("/events/"+id+"/roster", "It is written down.")
}

func rosterOverride(s *Server, c *Context) error {
	id := c.R.PathValue("event")
	if _, err := s.prog.Override(c.R.Context(), c.Actor(), programme.Override{Act: c.Act(), Event: id, Gate: "ratio", Reason: c.Form("reason"), Sign: c.Sign("sign")}); err != nil {
		return c.rosterAgain("override", fault.Of(err))
	}
	return c.Done("/events/"+id+"/roster", "The reason is signed. It stands on the report.")
}
