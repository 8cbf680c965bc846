package web

import (
	"fmt"
	"strconv"

	"fairstick/internal/event"
	"fairstick/internal/fault"
	"fairstick/internal/programme"
	"fairstick/internal/web/ui"
)

// mostRoutes is how many places for referral the plan has room for.
const mostRoutes = 4

func eventsShow(s *Server, c *Context) error {
	all, err := programme.List[*event.State](c.R.Context(), s.prog, event.Kind)
	if err != nil {
		return err
	}
	v := listView{
		Page: c.officePage("Events", "One screening day at one venue each, the latest first.", "events", c.backToSetup()),
		ID:   "events", Caption: plural(len(all), "event", "events"), Find: "Find an event", Cols: columns("Event", "Date", "Venue", "How it stands"),
		EmptyWhat: "No event is planned yet.", EmptyHow: "Plan the first one: venue, address, date, and where people are referred to.",
	}
	v.Page.Wide = true
	c.adding(&v, "/events/new", "Plan an event", "")
	if c.holds(senior) {
		v.More = append(v.More, ui.Link{Href: "/countdown", Label: "Countdown of all events"})
		v.Cols = append(v.Cols, ui.Col{Label: "Posts and waits"})
	}
	for i := len(all) - 1; i >= 0; i-- {
		e := all[i]
		r := listRow{Href: "/events/" + e.ID, Cells: []string{e.Plan.Name, e.Plan.Date.Long(), e.Plan.Venue, phaseWords[e.Phase]}}
		if c.holds(senior) {
			r.More = &ui.Link{Href: "/events/" + e.ID + "/flow", Label: "How many people?"}
		}
		v.Rows = append(v.Rows, r)
	}
	return c.Render(200, OfficeList(v))
}

func (c *Context) planForm(action, refused string, f *fault.Fault, p event.Planned, fresh bool) officeForm {
	form := c.dayForm("plan", action, refused, f)
	doors, ends := "", ""
	if !fresh {
		doors, ends = p.Doors.String(), p.Ends.String()
	}
	name := form.line("name", "Name of the event", p.Name)
	name.Focus = fresh
	out := officeForm{Form: form, Submit: "Save the plan", Parts: []part{
		{ID: "what", Heading: "The event", Items: []item{
			field(name),
			field(size(form.line("date", "Date", p.Date.String()), ui.Medium, ui.Date, "")),
			pair(size(form.line("doors", "Doors open", doors), ui.Short, ui.Time, ""), size(form.line("ends", "Doors close", ends), ui.Short, ui.Time, "")),
			field(optional(size(form.line("expected", "People expected", wholeText(p.Expected)), ui.Short, ui.Number, ""))),
			field(optional(size(form.line("zone", "Time zone", p.Zone), ui.Medium, ui.Text, "Like America/New_York; empty: that of this laptop"))),
		}},
		{ID: "where", Heading: "Where", Items: []item{
			field(form.line("venue", "Venue", p.Venue)),
			field(optional(size(form.line("address", "Street address", p.Address), ui.Full, ui.Text, "As you would say it to the emergency services. Without it the event cannot open."))),
			field(optional(size(form.line("emergency", "Emergency number here", p.Emergency), ui.Short, ui.Tel, "Empty: the programme's own"))),
		}},
	}}
	routes := part{ID: "routes", Heading: "Where people are referred", Help: "Without a named place with a telephone or an address the event cannot open. The first is the usual one; up to four stand on the slip's list."}
	for i := range mostRoutes {
		r := event.Route{}
		if i < len(p.Routes) {
			r = p.Routes[i]
		}
		routes.Items = append(routes.Items, routeItems(form, "route_"+strconv.Itoa(i+1), "Place "+strconv.Itoa(i+1), r)...)
	}
	out.Parts = append(out.Parts, routes, part{ID: "urgent", Heading: "Care on the same day", Help: "Where somebody goes who must be seen today but needs no ambulance.", Items: routeItems(form, "urgent", "Place", p.Urgent)})
	if fresh {
		out.Submit = "Plan this event"
	}
	return out
}

func routeItems(form dayForm, name, word string, r event.Route) []item {
	return []item{
		field(optional(form.line(name+"_name", word, r.Name))),
		pair(optional(size(form.line(name+"_phone", "Telephone", r.Phone), ui.Full, ui.Tel, "")), optional(form.line(name+"_address", "Address", r.Address))),
		pair(optional(form.line(name+"_hours", "Hours", r.Hours)), optional(form.line(name+"_note", "Cost, languages, note", r.Note))),
	}
}

func eventNew(s *Server, c *Context) error { return c.eventNewAgain(nil) }

func (c *Context) eventNewAgain(f *fault.Fault) error {
	all, err := programme.List[*event.State](c.R.Context(), c.s.prog, event.Kind)
	if err != nil {
		return err
	}
	p := event.Planned{}
	if n := len(all); n > 0 { // what seldom changes is taken from the event before
		last := all[n-1].Plan
		p = event.Planned{Zone: last.Zone, Emergency: last.Emergency, Routes: last.Routes, Urgent: last.Urgent}
	}
	page := c.officePage("A new event", "", "events", &ui.Link{Href: "/events", Label: "Events"})
	return c.Show(f, OfficeForm(page, c.planForm("/events", "plan", f, p, true)))
}

func (c *Context) plannedEvent(id string) (programme.Done, *fault.Fault) {
	expected, err := c.Int("expected", "The number of people expected")
	if err != nil {
		return programme.Done{}, fault.Of(err)
	}
	route := func(name string) event.Route {
		return event.Route{Name: c.Form(name + "_name"), Phone: c.Form(name + "_phone"), Address: c.Form(name + "_address"), Hours: c.Form(name + "_hours"), Note: c.Form(name + "_note")}
	}
	cmd := programme.PlanEvent{
		Act: c.Act(), Event: id, Name: c.Form("name"), Venue: c.Form("venue"), Address: c.Form("address"), Emergency: c.Form("emergency"),
		Date: c.Form("date"), Doors: c.Form("doors"), Ends: c.Form("ends"), Zone: c.Form("zone"), Expected: expected, Urgent: route("urgent"),
	}
	for i := range mostRoutes {
		cmd.Routes = append(cmd.Routes, route("route_"+strconv.Itoa(i+1)))
	}
	d, err := c.s.prog.PlanEvent(c.R.Context(), c.Actor(), cmd)
	return d, fault.Of(err)
}

func eventAdd(s *Server, c *Context) error {
	d, f := c.plannedEvent("")
	if f != nil {
		return c.eventNewAgain(f)
	}
	return c.Done("/events/"+d.ID, c.Form("name")+" is planned. Next, post people to the roster.")
}

// eventView is the plan of an event and what leads on from it.
type eventView struct {
	Page     ui.Page
	Stray    *fault.Fault // of a form that is no longer on the page
	ID       string
	Facts    [][2]string
	FollowUp [][2]string // how it stands with the referred; empty while the event is not closed
	Needs    []setupNeed
	Shut     int
	Next     ui.Link
	Links    []ui.Link
	Edit     *officeForm // nil for those who may not change it, and when the event is closed
	Off      *officeForm // cancels it, or puts it back; nil for those who may not, and once it was opened
}

func eventShow(s *Server, c *Context) error { return c.eventAgain("", nil) }

func (c *Context) eventAgain(refused string, f *fault.Fault) error {
	d, err := c.Day()
	if err != nil {
		return err
	}
	ev, p, base := d.Event, d.Event.Plan, dayBase(d)
	v := eventView{Page: c.dayPage(d, p.Name, "plan"), ID: ev.ID}
	v.Page.Lead = fmt.Sprintf("%s, %s. Doors %s to %s. %s.", p.Venue, p.Date.Long(), p.Doors, p.Ends, capital(phaseWords[ev.Phase]))
	v.Page.Back = &ui.Link{Href: "/events", Label: "Events"}
	v.Facts = [][2]string{{"Address", p.Address}, {"Emergency number", ev.EmergencyNumber(d.Charter.Details.Emergency)}, {"Expected", wholeText(p.Expected)}, {"Time zone", ev.Zone().String()}}
	for i, r := range p.Routes {
		v.Facts = append(v.Facts, [2]string{"Referred to " + strconv.Itoa(i+1), routeText(r)})
	}
	v.Facts = append(v.Facts, [2]string{"Care on the same day", routeText(p.Urgent)}, [2]string{"Roster", rosterCount(ev)})
	v.Links = append(v.Links, ui.Link{Href: base + "/roster", Label: "Roster"}, ui.Link{Href: base + "/board", Label: "Board"}, ui.Link{Href: base + "/countdown", Label: "Countdown"})
	if c.holds(senior) {
		v.Links = append(v.Links, ui.Link{Href: base + "/flow", Label: "How many people?"})
		switch ev.Phase {
		case event.IsPlanned:
			v.Next = ui.Link{Href: base + "/open", Label: "Open the day"}
			for _, g := range d.OpeningGates(c.now(d)) {
				n := setupNeed{Href: base + "/open", Name: g.Name, Done: g.Open()}
				if g.Fault != nil {
					n.Says, n.Do = g.Fault.Sentence, g.Fault.Do
					v.Shut++
				}
				v.Needs = append(v.Needs, n)
			}
		case event.IsOpen, event.IsDoorsClosed:
			v.Next = ui.Link{Href: base + "/board", Label: "Go to the board"}
			v.Links = append(v.Links, ui.Link{Href: base + "/controls", Label: "Controls"}, ui.Link{Href: base + "/stock", Label: "Stock"}, ui.Link{Href: base + "/close", Label: "Close"})
		case event.IsCancelled:
			v.Facts = append([][2]string{{"Cancelled", ev.Cancelled.Reason}}, v.Facts...)
		case event.IsClosed:
			v.Next = ui.Link{Href: base + "/report", Label: "Read the report"}
			v.Links = append(v.Links, ui.Link{Href: "/follow-up", Label: "Follow-up"})
			v.FollowUp = followUpFacts(d, c.now(d))
		}
	}
	if c.holds(lead) && ev.Phase != event.IsClosed {
		edit := c.planForm(base, refused, f, p, false)
		v.Edit = &edit
	}
	if c.holds(lead) {
		v.Off = c.offForm(d, base, refused, f)
	}
	v.Stray = stray(f, refused, v.Edit, v.Off)
	return c.Show(f, EventPage(v))
}

func capital(s string) string {
	if s == "" || s[0] < 'a' || s[0] > 'z' {
		return s
	}
	return string(s[0]-'a'+'A') + s[1:]
}

func routeText(r event.Route) string {
	s := r.Name
	for _, x := range []string{r.Phone, r.Address, r.Hours, r.Note} {
		if x != "" {
			s = withComma(s, x)
		}
	}
	return s
}

func rosterCount(ev *event.State) string {
	here := 0
	for _, p := range ev.Roster {
		if p.Here {
			here++
		}
	}
	return fmt.Sprintf("%d of %d here", here, len(ev.Roster))
}

func eventSave(s *Server, c *Context) error {
	id := c.R.PathValue("event")
	if _, f := c.plannedEvent(id); f != nil {
		return c.eventAgain("plan", f)
	}
	return c.Done("/events/"+id, "The plan is saved.")
}
