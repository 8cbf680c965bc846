package web

import (
	"fmt"
	"net/http"
	"net/url"
	"strings"

	"fairstick/internal/charter"
	"fairstick/internal/civil"
	"fairstick/internal/event"
	"fairstick/internal/exchange"
	"fairstick/internal/fault"
	"fairstick/internal/people"
	"fairstick/internal/programme"
	"fairstick/internal/web/ui"
)

// exportRoutes are the pages from which data leaves the record.
var exportRoutes = []Route{
	{Method: "GET", Path: "/export", Roles: lead, Handle: exportShow},
	{Method: "GET", Path: "/export/{file}", Roles: lead, Handle: exportFile},
	{Method: "POST", Path: "/export", Roles: lead, Handle: exportNamed},
}

// exportView is what would leave, whom it contains, and in which forms.
type exportView struct {
	Page   ui.Page
	Fault  *fault.Fault
	Choose officeForm
	Found  *exportFound // nil until events are chosen
	Past   []exportPast
}

type exportFound struct {
	Sentence string
	Said     []string
	Plain    []exportForm
	Apart    exportForm  // without identifiers
	Named    *officeForm // nil when nobody allowed that their name is kept
	None     string      // why there is no form with names
}

type exportForm struct {
	Label, Href, What string
}

// exportPast is one time that names left.
type exportPast struct {
	When, What, Days, To, By, Names string
}

// exportForms are the files by their names in the address.
var exportForms = map[string]struct{ what, ending, kind string }{
	"fhir.json":        {"fhir", ".json", "application/fhir+json"},
	"fhir.ndjson":      {"fhir", ".ndjson", "application/fhir+ndjson"},
	"csv.zip":          {"csv", ".zip", "application/zip"},
	"deidentified.zip": {"deidentified", ".zip", "application/zip"},
}

// span reads which events are meant; ok is false while nothing was chosen.
func (c *Context) reach() (s programme.Reach, ok bool, err error) {
	get := func(name string) string { return strings.TrimSpace(c.R.FormValue(name)) }
	s.Event = get("event")
	for _, x := range []struct {
		name string
		to   *civil.Date
	}{{"from", &s.From}, {"until", &s.Until}} {
		if get(x.name) == "" {
			continue
		}
		d, err := civil.Parse(get(x.name))
		if err != nil {
			return s, true, fault.BadField(x.name, "Write the day like 2026-08-31.")
		}
		*x.to = d
	}
	days := !s.From.IsZero() || !s.Until.IsZero()
	switch {
	case s.Event != "" && days:
		return s, true, fault.BadField("event", "Choose one event, or days; not both.")
	case !s.From.IsZero() && !s.Until.IsZero() && s.Until.Before(s.From):
		return s, true, fault.BadField("until", "The last day comes before the first.")
	}
	return s, s.Event != "" || days, nil
}

func reachQuery(s programme.Reach) string {
	q := url.Values{}
	if s.Event != "" {
		q.Set("event", s.Event)
	}
	if !s.From.IsZero() {
		q.Set("from", s.From.String())
	}
	if !s.Until.IsZero() {
		q.Set("until", s.Until.String())
	}
	return "?" + q.Encode()
}

func exportShow(_ *Server, c *Context) error { return c.exportAgain(nil) }

func (c *Context) exportAgain(f *fault.Fault) error {
	ctx := c.R.Context()
	events, err := programme.List[*event.State](ctx, c.s.prog, event.Kind)
	if err != nil {
		return err
	}
	span, chosen, err := c.reach()
	if err != nil && f == nil {
		f = fault.Of(err)
	}
	v := exportView{Page: c.officePage("Export", "See what leaves and whom it contains before it does. What has left cannot be called back.", "setup", nil), Fault: f}
	v.Choose = chooseExport(c, events, span)
	if chosen && err == nil {
		n, err := c.s.prog.CountHandOut(ctx, c.Actor(), programme.HandOut{Reach: span})
		if err != nil {
			v.Fault = fault.Of(err)
		} else if v.Found, err = c.exportFound(span, n, f); err != nil {
			return err
		}
	}
	ch, err := c.s.prog.Charter(ctx)
	if err != nil {
		return err
	}
	if v.Past, err = c.exportPast(ch, events); err != nil {
		return err
	}
	return c.Show(v.Fault, ExportPage(v))
}

func chooseExport(c *Context, events []*event.State, s programme.Reach) officeForm {
	form := c.dayForm("choose", "/export", "", nil)
	day := func(d civil.Date) string {
		if d.IsZero() {
			return ""
		}
		return d.String()
	}
	one := optional(size(form.line("event", "One event", s.Event), ui.Full, ui.Select, ""))
	one.Options = []ui.Option{{Value: "", Label: "by days"}}
	for i := len(events) - 1; i >= 0; i-- {
		one.Options = append(one.Options, ui.Option{Value: events[i].ID, Label: events[i].Plan.Date.Long() + ", " + events[i].Plan.Name})
	}
	from, until := optional(size(form.line("from", "First day", day(s.From)), ui.Medium, ui.Date, "")), optional(size(form.line("until", "Last day", day(s.Until)), ui.Medium, ui.Date, ""))
	for _, in := range []*ui.Input{&one, &from, &until} {
		in.ID = "f-" + in.Name
	}
	return officeForm{Form: form, Submit: "Show what would leave", Plain: true, Parts: []part{{Items: []item{field(one), {Pair: []ui.Input{from, until}}}}}}
}

func (c *Context) exportFound(s programme.Reach, n programme.Going, f *fault.Fault) (*exportFound, error) {
	days := n.From.Long()
	if n.From != n.Until {
		days += " to " + n.Until.Long()
	}
	out := &exportFound{Sentence: fmt.Sprintf("%s, %s: %s.", plural(n.Events, "event", "events"), days, plural(n.Visits, "visit", "visits"))}
	out.Said = append(out.Said, fmt.Sprintf("%s tested, %s, %s.", plural(n.Tested, "person", "people"), plural(n.Readings, "reading", "readings"), plural(n.Referrals, "referral", "referrals")),
		fmt.Sprintf("%d of %s allowed that their name is kept; %d of those may be called.", n.Contacts, plural(n.Visits, "visit", "visits"), n.Calls))
	if n.Open > 0 {
		out.Said = append(out.Said, plural(n.Open, "event is", "events are")+" not closed: this may still change.")
	}
	q := reachQuery(s)
	out.Plain = []exportForm{
		{"CSV with a dictionary", "/export/csv.zip" + q, "A zip with one table for each kind of row and datapackage.json, which says what each column means."},
		{"FHIR, one bundle", "/export/fhir.json" + q, "FHIR R4 for systems of clinics and authorities. Participants are ids of visits."},
		{"FHIR, a resource a line", "/export/fhir.ndjson" + q, "The same as NDJSON, for many visits."},
	}
	out.Apart = exportForm{"De-identified", "/export/deidentified.zip" + q, "One row a person: the year alone, ages over 89 as 90+, no places, times, tickets, ids, meters, lots or free text, in random order."}
	if n.Contacts == 0 {
		out.None = "Nobody in these visits allowed that their name is kept, so there is no file with names."
		return out, nil
	}
	signers, err := c.leads()
	if err != nil {
		return nil, err
	}
	form := c.dayForm("named", "/export", "named", f)
	what := form.choice("what", "Which file?", "csv", ui.Option{Value: "csv", Label: "CSV with a dictionary"}, ui.Option{Value: "fhir", Label: "FHIR, one bundle"})
	to := size(form.line("to", "To whom, and why?", ""), ui.Full, ui.Text, "For example: Example Clinic, referrals of the day. It is kept with your signature.")
	to.MaxLength = 200
	items := []item{{Pick: &what}, field(to)}
	out.Named = &officeForm{Form: form, Submit: "Sign and write the file", Plain: true, Parts: []part{{Items: append(items, form.signature("sign", "Lead who signs", signers)...)}}}
	return out, nil
}

// leads are those who may sign for names.
func (c *Context) leads() ([]ui.Option, error) {
	all, err := programme.List[*people.State](c.R.Context(), c.s.prog, people.Kind)
	if err != nil {
		return nil, err
	}
	var out []ui.Option
	for _, p := range all {
		if p.Gone == "" && p.Has(people.Lead) {
			out = append(out, ui.Option{Value: p.ID, Label: p.Details.Name})
		}
	}
	return out, nil
}

func (c *Context) exportPast(ch *charter.State, events []*event.State) ([]exportPast, error) {
	all, err := programme.List[*people.State](c.R.Context(), c.s.prog, people.Kind)
	if err != nil {
		return nil, err
	}
	var out []exportPast
	for i := len(ch.HandedOut) - 1; i >= 0; i-- {
		h := ch.HandedOut[i]
		row := exportPast{When: h.At.In(c.s.prog.Now().Location()).Format("2 Jan 2006, 15:04"), What: strings.ToUpper(h.What), To: h.To, By: "not recorded", Names: fmt.Sprintf("%d of %s", h.Contacts, plural(h.Visits, "visit", "visits"))}
		for _, p := range all {
			if p.ID == h.Signed {
				row.By = p.Details.Name
			}
		}
		row.Days = "days"
		for _, e := range events {
			if e.ID == h.Event {
				row.Days = e.Plan.Date.Long() + ", " + e.Plan.Name
			}
		}
		if h.Event == "" {
			row.Days = spanWords(h.From, h.Until)
		}
		out = append(out, row)
	}
	return out, nil
}

func spanWords(from, until civil.Date) string {
	switch {
	case from.IsZero():
		return "until " + until.Long()
	case until.IsZero():
		return "from " + from.Long()
	}
	return from.Long() + " to " + until.Long()
}

func exportFile(_ *Server, c *Context) error {
	name := c.R.PathValue("file")
	form, ok := exportForms[name]
	if !ok {
		return fault.New(fault.Missing, "no-such-export", "There is no such file.", "", "Choose one on the page Export.")
	}
	span, chosen, err := c.reach()
	if err != nil || !chosen {
		return c.exportAgain(fault.Of(err))
	}
	return c.handOut(programme.HandOut{Reach: span}, form.what, form.ending, form.kind)
}

// handOut sends a file as it is written; the record is read while it goes out. What goes wrong after the first byte can only
// cut the file short, and the browser says that it is not whole.
func (c *Context) handOut(h programme.HandOut, what, ending, kind string) error {
	out := &started{c: c, kind: kind, name: "fairstick-" + what + ending}
	err := exchange.HandOut(c.R.Context(), c.s.prog, c.Actor(), h, what, ending, out)
	if err == nil {
		return nil
	}
	if !out.begun {
		return c.exportAgain(fault.Of(err))
	}
	c.s.log.Error("export cut short", "err", err)
	panic(http.ErrAbortHandler)
}

func exportNamed(s *Server, c *Context) error {
	span, chosen, err := c.reach()
	if err == nil && !chosen {
		err = fault.BadField("event", "Choose an event, or days.")
	}
	if err != nil {
		return c.exportAgain(fault.Of(err))
	}
	what := c.Form("what")
	h := programme.HandOut{Reach: span, Names: true}
	if _, err := s.prog.SignHandOut(c.R.Context(), c.Actor(), programme.SignHandOut{Act: c.Act(), HandOut: h, What: what, To: c.Form("to"), Sign: c.Sign("sign")}); err != nil {
		return c.exportAgain(fault.Of(err))
	}
	ending, kind := ".zip", "application/zip"
	if what == "fhir" {
		ending, kind = ".json", "application/fhir+json"
	}
	return c.handOut(h, what, ending, kind)
}

// started sends the header of a file with its first byte, so that a refusal before it is still a page.
type started struct {
	c          *Context
	kind, name string
	begun      bool
}

func (w *started) Write(p []byte) (int, error) {
	if !w.begun {
		w.begun = true
		h := w.c.W.Header()
		h.Set("Content-Type", w.kind)
		h.Set("Content-Disposition", `attachment; filename="`+w.name+`"`)
		h.Set("Cache-Control", "no-store")
	}
	return w.c.W.Write(p)
}
