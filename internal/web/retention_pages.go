package web

import (
	"fmt"
	"strconv"
	"strings"

	"fairstick/internal/fault"
	"fairstick/internal/paper"
	"fairstick/internal/people"
	"fairstick/internal/programme"
	"fairstick/internal/report"
	"fairstick/internal/retention"
	"fairstick/internal/web/ui"
)

// retentionRoutes are the yearly review of what is kept how long, and the erasure of a whole class of contacts.
var retentionRoutes = []Route{
	{Method: "GET", Path: "/retention", Roles: lead, Handle: retentionShow},
	{Method: "POST", Path: "/retention/rules", Roles: lead, Handle: retentionAdopt},
	{Method: "POST", Path: "/retention/erase", Roles: lead, Handle: retentionErase},
	{Method: "GET", Path: "/retention/proof/{id}", Roles: lead, Handle: proofShow},
	{Method: "GET", Path: "/retention/proof/{id}/proof.pdf", Roles: lead, Handle: proofPDF},
}

// retentionView is the yearly review.
type retentionView struct {
	Page    ui.Page
	Fault   *fault.Fault
	Adopted string // when the times were adopted, and by whom; empty while they are proposed
	Classes []classRow
	Over    []overRow
	Says    string
	Rules   officeForm
	Erase   *officeForm // nil while nothing can be erased
	Expect  string      // how many can go, as the page shows it
	Past    []listRow
}

type classRow struct{ Name, Kept, Source, State, Can string }

type overRow struct{ Event, Href, Until, Erase, Held string }

func retentionShow(_ *Server, c *Context) error { return c.showRetention("", nil) }

func (c *Context) showRetention(refused string, f *fault.Fault) error {
	r, err := c.s.prog.Retention(c.R.Context(), c.Actor())
	if err != nil {
		return err
	}
	zone := c.s.prog.Now().Location()
	v := retentionView{Page: c.officePage("How long records are kept", "Once a year: what is over its time, what must stay, and what can go. Local law comes first.", "retention", c.backToSetup())}
	v.Page.Wide = true
	v.Adopted = report.RetentionTimes(r.Rules, zone)
	for _, x := range r.Classes {
		words := report.RetentionWords[x.Rule.Class]
		v.Classes = append(v.Classes, classRow{Name: words[0], Kept: report.KeptFor(x.Rule), Source: x.Rule.Source, State: report.KeptState(x), Can: words[1]})
	}
	for _, o := range r.Over {
		row := overRow{Event: o.Event.Plan.Name + ", " + o.Event.Plan.Date.Long(), Href: "/events/" + o.Event.ID + "/report", Until: o.Until.Long(), Erase: fmt.Sprint(o.Erase), Held: "nobody"}
		if len(o.Held) > 0 {
			row.Held = strings.Join(o.Held, "; ")
		}
		v.Over = append(v.Over, row)
	}
	v.Says = report.RetentionSays(r)
	if err := c.retentionForms(&v, r, refused, f); err != nil {
		return err
	}
	for _, e := range r.Erasures {
		v.Past = append(v.Past, listRow{Href: "/retention/proof/" + e.ID, Cells: []string{e.At.In(zone).Format("15:04 on 2 Jan 2006"), plural(e.Visits, "contact", "contacts"), "events up to " + e.Through.Long(), e.First.Name + " and " + e.Second.Name}})
	}
	v.Fault = stray(f, refused, &v.Rules, v.Erase)
	return c.Show(f, RetentionPage(v))
}

func (c *Context) retentionForms(v *retentionView, r *programme.RetentionReview, refused string, f *fault.Fault) error {
	leads, err := c.withPIN(people.Lead)
	if err != nil {
		return err
	}
	seniors, err := c.withPIN(people.Lead, people.Supervisor)
	if err != nil {
		return err
	}
	signs := func(form dayForm) []part {
		return []part{
			{ID: "first", Heading: "First signature: a lead", Items: form.signature("first", "Signed by", leads)},
			{ID: "second", Heading: "Second signature: another lead or a supervisor", Items: form.signature("second", "Signed by", seniors)},
		}
	}
	form := c.dayForm("rules", "/retention/rules", refused, f)
	var items []item
	for _, x := range r.Classes {
		k := string(x.Rule.Class)
		items = append(items, field(unit(size(form.line("months_"+k, report.RetentionWords[x.Rule.Class][0], strconv.Itoa(x.Rule.Months)), ui.Short, ui.Number, ""), "months")),
			field(size(form.line("source_"+k, "What that rests on", x.Rule.Source), ui.Full, ui.Text, "")))
	}
	v.Rules = officeForm{Form: form, Parts: append([]part{{Items: items}}, signs(form)...), Submit: "Adopt these times", Plain: true}
	if r.Erase == 0 {
		return nil
	}
	v.Expect = strconv.Itoa(r.Erase)
	form = c.dayForm("erase", "/retention/erase", refused, f)
	var sure []item
	if r.Waiting > 0 {
		sure = append(sure, tickBox(form.tick("confirmed", fmt.Sprintf("Nobody needs to call these %s any more", plural(r.Waiting, "person", "people")), false)))
	}
	v.Erase = &officeForm{Form: form, Parts: append([]part{{Items: sure}}, signs(form)...), Submit: fmt.Sprintf("Erase %s for good", plural(r.Erase, "contact", "contacts")), Plain: true, Danger: true}
	return nil
}

func retentionAdopt(s *Server, c *Context) error {
	a := programme.AdoptRetention{Act: c.Act(), Months: map[retention.Class]int{}, Sources: map[retention.Class]string{}, First: c.Sign("first"), Second: c.Sign("second")}
	var bad []error
	for _, k := range retention.Classes {
		n, err := c.Int("months_"+string(k), "The months")
		if err != nil {
			bad = append(bad, err)
		}
		a.Months[k], a.Sources[k] = n, c.Form("source_"+string(k))
	}
	if len(bad) > 0 {
		return c.showRetention("rules", merge(bad...))
	}
	if _, err := s.prog.AdoptRetention(c.R.Context(), c.Actor(), a); err != nil {
		return c.showRetention("rules", fault.Of(err))
	}
	return c.Done("/retention", "The times are adopted.")
}

func retentionErase(s *Server, c *Context) error {
	n, err := c.Int("expect", "The number")
	if err != nil {
		return c.showRetention("erase", fault.Of(err))
	}
	done, err := s.prog.EraseContacts(c.R.Context(), c.Actor(), programme.EraseContacts{Act: c.Act(), Expect: n, Confirmed: c.Form("confirmed") == "yes", First: c.Sign("first"), Second: c.Sign("second")})
	if err != nil {
		return c.showRetention("erase", fault.Of(err))
	}
	return c.Done("/retention/proof/"+done.ID, "The contacts are erased.")
}

// proofView is what can be shown about one erasure.
type proofView struct {
	Page  ui.Page
	Base  string
	Gone  bool
	Facts [][2]string
	Left  []string // what it does not reach
}

func (c *Context) proof() (proofView, programme.ErasureProof, error) {
	p, err := c.s.prog.ErasureProof(c.R.Context(), c.Actor(), c.R.PathValue("id"))
	if err != nil {
		return proofView{}, p, err
	}
	zone := c.s.prog.Now().Location()
	v := proofView{Page: c.officePage("Proof of erasure", "Names and telephone numbers of participants, at events up to "+p.Through.Long()+".", "retention", &ui.Link{Href: "/retention", Label: "How long records are kept"}), Base: "/retention/proof/" + p.ID, Gone: p.KeysLeft == 0 && p.Found == p.Visits}
	v.Facts = [][2]string{
		{"What", "the name, the telephone number and the best time to call"},
		{"How many", plural(p.Visits, "participant", "participants")},
		{"Kept because something holds them", fmt.Sprint(p.Held)},
		{"When", p.At.In(zone).Format("15:04:05 on 2 January 2006")},
		{"Signed by", p.First.Name + " and " + p.Second.Name},
		{"Keys on this laptop", fmt.Sprintf("%d of %d left", p.KeysLeft, p.Found)},
		{"Figures", "every count, reading and report stands as before: none of them was made from a name"},
	}
	switch {
	case p.Backup.IsZero():
		v.Left = append(v.Left, "No backup is known on this laptop. One that was made before the erasure still holds the keys: destroy it.")
	case p.After:
		v.Left = append(v.Left, "The backup of "+p.Backup.In(zone).Format("15:04 on 2 Jan 2006")+" was made after it and holds none of these keys. Every older one still does: destroy them, or write down that they must not be restored.")
	default:
		v.Left = append(v.Left, "The last backup ("+p.Backup.In(zone).Format("15:04 on 2 Jan 2006")+") was made before and still holds the keys. Make a new one, then destroy the older ones.")
	}
	if p.Copy.Dir == "" {
		v.Left = append(v.Left, "No second copy is kept.")
	} else {
		v.Left = append(v.Left, "The second copy destroys its keys when it has taken the erasure in: its page says when it holds everything.")
	}
	v.Left = append(v.Left, "Every other laptop of the programme destroys its keys when it hears of the erasure, and not before.", "Paper forms, printed lists, letters and exported files are destroyed by hand.")
	return v, p, nil
}

func proofShow(_ *Server, c *Context) error {
	v, _, err := c.proof()
	if err != nil {
		return err
	}
	return c.Render(200, ProofPage(v))
}

func proofPDF(s *Server, c *Context) error {
	v, p, err := c.proof()
	if err != nil {
		return err
	}
	t := &paper.Table{Columns: []paper.Column{{Title: "What", Width: 3}, {Title: "On record", Width: 7}}}
	for _, f := range v.Facts {
		t.Rows = append(t.Rows, []string{f[0], f[1]})
	}
	doc := paper.Document{Title: v.Page.Title, Subtitle: v.Page.Lead, Programme: v.Page.Programme, RecordID: p.ID, Printed: s.prog.Now(), Lang: "en", Invented: s.opt.Demo != nil}
	doc.Sections = []paper.Section{{Heading: "What was erased", Table: t}, {Heading: "What this does not reach", Paragraphs: v.Left}, {Heading: "Destroyed by hand", Paragraphs: []string{"Backups, paper and files, with date and signature: ______________________________"}, Keep: true}}
	return c.sendPDF("proof-of-erasure", doc)
}
