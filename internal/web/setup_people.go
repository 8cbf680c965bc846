package web

import (
	"fmt"
	"strings"

	"fairstick/internal/civil"
	"fairstick/internal/fault"
	"fairstick/internal/people"
	"fairstick/internal/programme"
	"fairstick/internal/protocol"
	"fairstick/internal/web/ui"
)

func rolesText(roles []people.Role) string {
	words := make([]string, len(roles))
	for i, r := range roles {
		words[i] = string(r)
	}
	return strings.Join(words, ", ")
}

// verifiedText says for which roles somebody is verified on a day and until when, with what has ended after it.
func verifiedText(p *people.State, day civil.Date) string {
	var parts []string
	for _, r := range p.Details.Roles {
		if v, ok := p.VerifiedOn(r, day); ok {
			parts = append(parts, fmt.Sprintf("%s until %s", r, v.Until.Long()))
			continue
		}
		if v, ok := p.LastFor(r); ok {
			parts = append(parts, fmt.Sprintf("%s %s", r, verificationState(v, day)))
		}
	}
	if len(parts) == 0 {
		return "none recorded"
	}
	return strings.Join(parts, "; ")
}

// byTraining says of each person what they hold by training; nothing before a protocol is signed.
func (c *Context) byTraining() (map[string]string, error) {
	co, err := c.s.prog.Cohort(c.R.Context())
	if fault.Is(err, "no-protocol") {
		return nil, nil
	}
	out := map[string]string{}
	for _, r := range co.Rows {
		if r.Holds != "" {
			out[r.Person.ID] = "by training: " + levelTitle(r.Holds)
		}
	}
	return out, err
}

// joinVerified puts together what stands on paper and what rests on training.
func joinVerified(paper, training string) string {
	switch {
	case training == "":
		return paper
	case paper == "none recorded":
		return training
	}
	return paper + "; " + training
}

func verificationState(v people.Verification, day civil.Date) string {
	switch {
	case v.Withdrawn != "":
		return "withdrawn: " + v.Withdrawn
	case day.Before(v.From):
		return "only from " + v.From.Long()
	case day.After(v.Until):
		return "ended " + v.Until.Long()
	}
	return "stands"
}

func peopleShow(s *Server, c *Context) error {
	all, err := programme.List[*people.State](c.R.Context(), s.prog, people.Kind)
	if err != nil {
		return err
	}
	today := civil.Of(s.prog.Now())
	trained, err := c.byTraining()
	if err != nil {
		return err
	}
	v := listView{
		Page: c.officePage("People", "Volunteers and licensed staff, their roles, and until when they are verified.", "people", c.backToSetup()),
		ID:   "people", Caption: plural(len(all), "person", "people"), Find: "Find a name or a role", Cols: columns("Name", "Roles", "Verified", "Signs in"),
		EmptyWhat: "Nobody is on the list yet.", EmptyHow: "Add the people of your programme, or load them from a file.",
	}
	v.Page.Wide = true
	c.adding(&v, "/people/new", "Add a person", programme.PeopleList)
	for _, p := range all {
		row := listRow{Cells: []string{p.Details.Name, rolesText(p.Details.Roles), joinVerified(verifiedText(p, today), trained[p.ID]), "with a PIN"}}
		if p.Details.Title != "" {
			row.Cells[0] += ", " + p.Details.Title
		}
		if p.PinHash == "" {
			row.Cells[3] = "no PIN yet"
		}
		if p.Gone != "" {
			row.Gone, row.Cells[3] = true, "left: "+p.Gone
		}
		if c.holds(senior) {
			row.Href = "/people/" + p.ID
		}
		v.Rows = append(v.Rows, row)
	}
	return c.Render(200, OfficeList(v))
}

// personForm asks who a person is. The PIN is asked with a new person only.
func (c *Context) personForm(action, refused string, f *fault.Fault, d people.Described, fresh bool) officeForm {
	form := c.dayForm("person", action, refused, f)
	on := make([]string, len(d.Roles))
	for i, r := range d.Roles {
		on[i] = string(r)
	}
	roles := form.several("roles", "Roles", on,
		ui.Option{Value: "lead", Label: "Lead", Hint: "Sets up the programme and answers for it."},
		ui.Option{Value: "supervisor", Label: "Supervisor", Hint: "Licensed or faculty; watches, takes over criticals, signs."},
		ui.Option{Value: "screener", Label: "Screener", Hint: "Tests people, when verified."},
		ui.Option{Value: "counsellor", Label: "Counsellor", Hint: "Explains results and referrals, when verified."},
		ui.Option{Value: "desk", Label: "Desk", Hint: "Consent and questions."},
		ui.Option{Value: "runner", Label: "Runner", Hint: "Stock and greeting; no touch."})
	glove := size(form.line("glove", "Glove size", d.Glove), ui.Short, ui.Select, "")
	glove.Optional = true
	glove.Options = []ui.Option{{Label: "Not known"}, {Value: "XS", Label: "XS"}, {Value: "S", Label: "S"}, {Value: "M", Label: "M"}, {Value: "L", Label: "L"}, {Value: "XL", Label: "XL"}}
	name := form.line("name", "Name", d.Name)
	name.MaxLength, name.Focus = 60, fresh
	out := officeForm{Form: form, Submit: "Save", Parts: []part{
		{ID: "who", Heading: "Who", Items: []item{
			field(name),
			field(optional(size(form.line("title", "Title or year", d.Title), ui.Full, ui.Text, "For example PharmD, licensed. It stands under signatures."))),
		}},
		{ID: "roles", Heading: "Roles", Items: []item{tickBoxes(roles)}},
		{ID: "more", Heading: "More", Items: []item{
			field(optional(size(form.line("languages", "Languages", strings.Join(d.Languages, ", ")), ui.Medium, ui.Text, "Language tags with commas between, for example en, es"))),
			field(glove),
		}},
	}}
	if fresh {
		out.Submit = "Add this person"
		out.Parts = append(out.Parts, part{ID: "pin", Heading: "PIN", Items: []item{field(optional(pinField(form)))}})
	}
	return out
}

func pinField(form dayForm) ui.Input {
	pin := size(form.line("pin", "PIN", ""), ui.Short, ui.PIN, "Four to six digits, chosen by the person. Only its hash is kept.")
	pin.MaxLength = 6
	return pin
}

func personNew(s *Server, c *Context) error { return c.personNewAgain(nil) }

func (c *Context) personNewAgain(f *fault.Fault) error {
	p := c.officePage("A new person", "", "people", &ui.Link{Href: "/people", Label: "People"})
	return c.Show(f, OfficeForm(p, c.personForm("/people", "person", f, people.Described{}, true)))
}

func (c *Context) describedPerson(id string) programme.DescribePerson {
	return programme.DescribePerson{
		Act: c.Act(), Person: id, Name: c.Form("name"), Title: c.Form("title"), Roles: c.Forms("roles"),
		Languages: c.words("languages"), Glove: c.Form("glove"), PIN: c.Form("pin"),
	}
}

func personAdd(s *Server, c *Context) error {
	d, err := s.prog.DescribePerson(c.R.Context(), c.Actor(), c.describedPerson(""))
	if err != nil {
		return c.personNewAgain(fault.Of(err))
	}
	return c.Done("/people/"+d.ID, c.Form("name")+" is on the list.")
}

// personView is one person for the lead and the supervisors.
type personView struct {
	Page     ui.Page
	Stray    *fault.Fault // of a form that is no longer on the page
	Gone     string
	Facts    [][2]string
	Edit     *officeForm // nil for supervisors
	PIN      *officeForm
	Verify   *officeForm // nil on one's own page
	Own      bool
	Rows     []listRow
	Cols     []ui.Col
	Withdraw *officeForm
	Leave    *officeForm
	Training string // address of the person's training
}

func personShow(s *Server, c *Context) error { return c.personAgain("", nil) }

func (c *Context) personAgain(refused string, f *fault.Fault) error {
	id := c.R.PathValue("person")
	who, err := programme.One[*people.State](c.R.Context(), c.s.prog, people.Ref(id))
	if err != nil {
		return err
	}
	all, err := programme.List[*people.State](c.R.Context(), c.s.prog, people.Kind)
	if err != nil {
		return err
	}
	base, today, d := "/people/"+id, civil.Of(c.s.prog.Now()), who.Details
	v := personView{
		Page: c.officePage(d.Name, rolesText(d.Roles), "people", &ui.Link{Href: "/people", Label: "People"}), Gone: who.Gone, Own: c.Me.ID == id, Training: "/training/" + id,
		Cols: columns("Role", "From", "Until", "By", "How it stands"),
	}
	v.Facts = [][2]string{{"Title", d.Title}, {"Verified", verifiedText(who, today)}, {"Languages", strings.Join(d.Languages, ", ")}, {"Gloves", d.Glove}}
	for i := len(who.Verifications) - 1; i >= 0; i-- {
		x := who.Verifications[i]
		state := verificationState(x, today)
		if x.Note != "" {
			state += " (" + x.Note + ")"
		}
		v.Rows = append(v.Rows, listRow{Cells: []string{string(x.Role), x.From.Long(), x.Until.Long(), nameIn(all, x.By), state}, Gone: x.Withdrawn != ""})
	}
	if c.holds(lead) {
		edit := c.personForm(base, refused, f, d, false)
		pinForm := c.dayForm("pin", base+"/pin", refused, f)
		set := officeForm{Form: pinForm, Submit: "Set this PIN", Plain: true, Parts: []part{{Items: []item{field(pinField(pinForm))}}}}
		leave := c.leaveForm(who, base, refused, f)
		v.Edit, v.PIN, v.Leave = &edit, &set, &leave
	}
	if !v.Own && who.Gone == "" {
		verify := c.verifyForm(who, base, refused, f)
		v.Verify = &verify
	}
	if standing := standingRoles(who); len(standing) > 0 && who.Gone == "" {
		form := c.dayForm("withdraw", base+"/withdraw", refused, f)
		w := officeForm{Form: form, Submit: "Withdraw the verification", Danger: true, Parts: []part{{Items: []item{
			pick(form.choice("role", "Which role may the person no longer do?", "", standing...)), field(form.line("reason", "Reason", "")),
		}}}}
		v.Withdraw = &w
	}
	v.Stray = stray(f, refused, v.Edit, v.PIN, v.Verify, v.Withdraw, v.Leave)
	return c.Show(f, PersonPage(v))
}

func standingRoles(who *people.State) []ui.Option {
	var out []ui.Option
	for _, r := range people.Roles {
		for _, x := range who.Verifications {
			if x.Role == r && x.Withdrawn == "" {
				out = append(out, ui.Option{Value: string(r), Label: string(r)})
				break
			}
		}
	}
	return out
}

func (c *Context) verifyForm(who *people.State, base, refused string, f *fault.Fault) officeForm {
	form := c.dayForm("verify", base+"/verify", refused, f)
	today := civil.Of(c.s.prog.Now())
	var roles []ui.Option
	for _, r := range who.Details.Roles {
		roles = append(roles, ui.Option{Value: string(r), Label: string(r)})
	}
	until := ""
	if ch, err := c.s.prog.Charter(c.R.Context()); err == nil {
		rules := protocol.Default()
		if a, ok := ch.InForce(); ok {
			rules = a.Protocol
		} else if ch.Draft != nil {
			rules = *ch.Draft
		}
		until = civil.Of(today.Time(c.s.prog.Now().Location()).AddDate(0, rules.Verification.ValidMonths, -1)).String()
	}
	roleChoice := form.choice("role", "Role that was verified", "", roles...)
	roleChoice.Row = true
	return officeForm{Form: form, Submit: "Record the verification", Parts: []part{{Items: []item{
		pick(roleChoice),
		pair(size(form.line("from", "First day", today.String()), ui.Medium, ui.Date, ""), size(form.line("until", "Last day", until), ui.Medium, ui.Date, "The person may do the role to the end of this day.")),
		field(optional(size(form.line("note", "What was seen", ""), ui.Full, ui.Text, "For example quiz 18 of 20, three observed fingersticks"))),
	}}}}
}

func (c *Context) leaveForm(who *people.State, base, refused string, f *fault.Fault) officeForm {
	if who.Gone != "" {
		return officeForm{Form: c.dayForm("return", base+"/return", refused, f), Submit: "Takes part again", Plain: true}
	}
	form := c.dayForm("leave", base+"/leave", refused, f)
	return officeForm{Form: form, Submit: "Take off the list", Danger: true, Parts: []part{{
		Help: "The person can no longer sign in or be posted. What they did stays in the record.", Items: []item{field(form.line("reason", "Reason", ""))},
	}}}
}

func nameIn(all []*people.State, id string) string {
	for _, p := range all {
		if p.ID == id {
			return p.Details.Name
		}
	}
	return "not recorded"
}

func personSave(s *Server, c *Context) error {
	id := c.R.PathValue("person")
	cmd := c.describedPerson(id)
	cmd.PIN = ""
	if _, err := s.prog.DescribePerson(c.R.Context(), c.Actor(), cmd); err != nil {
		return c.personAgain("person", fault.Of(err))
	}
	return c.Done("/people/"+id, c.Form("name")+" is saved.")
}

func personPIN(s *Server, c *Context) error {
	id := c.R.PathValue("person")
	who, err := programme.One[*people.State](c.R.Context(), s.prog, people.Ref(id))
	if err != nil {
		return err
	}
	if c.Form("pin") == "" {
		return c.personAgain("pin", fault.BadField("pin", "Type the new PIN: four to six digits."))
	}
	d := who.Details
	roles := make([]string, len(d.Roles))
	for i, r := range d.Roles {
		roles[i] = string(r)
	}
	_, err = s.prog.DescribePerson(c.R.Context(), c.Actor(), programme.DescribePerson{
		Act: c.Act(), Person: id, Name: d.Name, Title: d.Title, Roles: roles,
		Languages: d.Languages, Glove: d.Glove, PIN: c.Form("pin"),
	})
	if err != nil {
		return c.personAgain("pin", fault.Of(err))
	}
	return c.Done("/people/"+id, "The PIN of "+d.Name+" is set.")
}

func personVerify(s *Server, c *Context) error {
	id := c.R.PathValue("person")
	_, err := s.prog.Verify(c.R.Context(), c.Actor(), programme.Verify{Act: c.Act(), Person: id, Role: c.Form("role"), From: c.Form("from"), Until: c.Form("until"), Note: c.Form("note")})
	if err != nil {
		return c.personAgain("verify", fault.Of(err))
	}
	return c.Done("/people/"+id, "The verification is recorded.")
}

func personWithdraw(s *Server, c *Context) error {
	id := c.R.PathValue("person")
	_, err := s.prog.WithdrawVerification(c.R.Context(), c.Actor(), programme.WithdrawVerification{Act: c.Act(), Person: id, Role: c.Form("role"), Reason: c.Form("reason")})
	if err != nil {
		return c.personAgain("withdraw", fault.Of(err))
	}
	return c.Done("/people/"+id, "The verification is withdrawn.")
}

func personLeave(s *Server, c *Context) error {
	id := c.R.PathValue("person")
	if _, err := s.prog.Leave(c.R.Context(), c.Actor(), programme.Leave{Act: c.Act(), Person: id, Reason: c.Form("reason")}); err != nil {
		return c.personAgain("leave", fault.Of(err))
	}
	return c.Done("/people/"+id, "The person is off the list.")
}

func personReturn(s *Server, c *Context) error {
	id := c.R.PathValue("person")
	if _, err := s.prog.Leave(c.R.Context(), c.Actor(), programme.Leave{Act: c.Act(), Person: id, Back: true}); err != nil {
		return c.personAgain("return", fault.Of(err))
	}
	return c.Done("/people/"+id, "The person takes part again.")
}
