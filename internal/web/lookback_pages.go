package web

import (
	"bytes"
	"fmt"
	"net/url"
	"strings"

	"fairstick/internal/event"
	"fairstick/internal/exchange"
	"fairstick/internal/fault"
	"fairstick/internal/paper"
	"fairstick/internal/people"
	"fairstick/internal/programme"
	"fairstick/internal/stock"
	"fairstick/internal/web/ui"
)

// lookBackView is the page on which a question is put, with its answer.
type lookBackView struct {
	Page   ui.Page
	Fault  *fault.Fault
	Fields []ui.Input // the question
	Times  [][]ui.Input
	Open   bool // the question stands open: nothing was found yet
	Answer *affectedView
	Keep   *officeForm
	Kept   []listRow
}

// affectedView is whom a question touched.
type affectedView struct {
	Words, How string
	Says       []string
	Numbers    []ui.Figure
	Days       []affectedDay
	Files      string // what files are asked with
	None       bool
}

type affectedDay struct {
	ID, Heading, Says, Caption string
	Cut                        string // says that the list is not whole; empty when it is
	Rows                       []affectedRow
	Runs                       []traceRunRow
}

type affectedRow struct{ Ticket, Href, At, Reading, Meter, Strips, Screener, Supervisors, Call string }

// mostShown is how many readings a page lists for one event; the CSV holds all.
const mostShown = 300

// askOf reads the question from the address or the form.
func (c *Context) askOf(get func(string) string) programme.AskBack {
	return programme.AskBack{
		Event: get("event"), StripLot: get("strip_lot"), Vial: get("vial"), ControlLot: get("control_lot"), Meter: get("meter"), Screener: get("screener"),
		FromDay: get("from_day"), FromTime: get("from_time"), UntilDay: get("until_day"), UntilTime: get("until_time"),
	}
}

func askQuery(a programme.AskBack) url.Values {
	q := url.Values{}
	for name, v := range map[string]string{
		"event": a.Event, "strip_lot": a.StripLot, "vial": a.Vial, "control_lot": a.ControlLot, "meter": a.Meter, "screener": a.Screener,
		"from_day": a.FromDay, "from_time": a.FromTime, "until_day": a.UntilDay, "until_time": a.UntilTime,
	} {
		if v != "" {
			q.Set(name, v)
		}
	}
	return q
}

func (c *Context) inAddress(name string) string { return strings.TrimSpace(c.R.URL.Query().Get(name)) }

func lookBackShow(_ *Server, c *Context) error { return c.showLookBack(c.askOf(c.inAddress), nil) }

// showLookBack draws the question, its answer when something was asked, and what was kept. A fault is that of keeping it.
func (c *Context) showLookBack(ask programme.AskBack, refused *fault.Fault) error {
	v := lookBackView{Page: c.officePage("Look-back", "Something is in doubt: whom did it touch? Choose what you know; every line narrows the answer.", "look-back", c.backToSetup()), Open: true}
	v.Page.Wide = true
	if ask != (programme.AskBack{}) {
		b, err := c.s.prog.LookBack(c.R.Context(), ask)
		if err != nil {
			if v.Fault = fault.Of(err); v.Fault.Kind == fault.Internal {
				return err
			}
		} else {
			a := affectedOf(b, "/look-back", askQuery(ask))
			v.Answer, v.Open = &a, false
			form := c.dayForm("keep", "/look-back/kept", "keep", refused)
			items := []item{field(size(form.line("reason", "Why is it in doubt?", ""), ui.Full, ui.Text, "For example: recall by the maker, notice of 3 June. No names."))}
			v.Keep = &officeForm{Form: form, Parts: []part{{Items: items}}, Submit: "Keep this look-back"}
		}
	}
	if err := c.lookBackFields(&v, ask); err != nil {
		return err
	}
	kept, err := c.s.prog.LookBacks(c.R.Context())
	if err != nil {
		return err
	}
	for _, k := range kept {
		state := "open"
		if !k.Open() {
			state = "closed " + k.ClosedAt.In(c.s.prog.Now().Location()).Format("2 Jan 2006")
		}
		v.Kept = append(v.Kept, listRow{Href: "/look-back/kept/" + k.ID, Cells: []string{k.Opened.Words, k.At.In(c.s.prog.Now().Location()).Format("2 Jan 2006"), fmt.Sprint(k.Opened.People), state}})
	}
	f := refused
	if f == nil {
		f = v.Fault
	}
	return c.Show(f, LookBackPage(v))
}

// lookBackFields makes the lists to choose from.
func (c *Context) lookBackFields(v *lookBackView, ask programme.AskBack) error {
	events, err := programme.List[*event.State](c.R.Context(), c.s.prog, event.Kind)
	if err != nil {
		return err
	}
	set, err := c.s.prog.Choices(c.R.Context())
	if err != nil {
		return err
	}
	choose := func(name, label, value, none string, options []ui.Option) ui.Input {
		in := ui.Input{Name: name, Label: label, Value: value, Kind: ui.Select, Width: ui.Medium, Optional: true, Error: ui.Message(v.Fault, name), Options: append([]ui.Option{{Label: none}}, options...)}
		for _, o := range options {
			if o.Value != value && value != "" && strings.EqualFold(o.Label, value) {
				in.Value = o.Value
			}
		}
		return in
	}
	var lots, sols, meters, staff, fairs []ui.Option
	for _, l := range set.StripLots {
		lots = append(lots, ui.Option{Value: l.ID, Label: l.Details.Lot})
	}
	for _, l := range set.ControlLots {
		sols = append(sols, ui.Option{Value: l.ID, Label: l.Details.Lot + ", level " + l.Details.Level})
	}
	for _, m := range set.Meters {
		meters = append(meters, ui.Option{Value: m.ID, Label: m.Details.Label})
	}
	for _, x := range set.People {
		if x.Has(people.Screener) || x.Has(people.Supervisor) || x.Has(people.Lead) {
			staff = append(staff, ui.Option{Value: x.ID, Label: x.Details.Name})
		}
	}
	for i := len(events) - 1; i >= 0; i-- {
		fairs = append(fairs, ui.Option{Value: events[i].ID, Label: events[i].Plan.Date.Long() + ", " + events[i].Plan.Name})
	}
	line := func(name, label, value string, kind ui.Kind) ui.Input {
		return ui.Input{Name: name, Label: label, Value: value, Kind: kind, Width: ui.Medium, Optional: true, Error: ui.Message(v.Fault, name)}
	}
	v.Fields = []ui.Input{
		choose("strip_lot", "Strip lot", ask.StripLot, "any", lots), line("vial", "Vial", ask.Vial, ui.Text),
		choose("control_lot", "Control lot", ask.ControlLot, "any", sols), choose("meter", "Meter", ask.Meter, "any", meters),
		choose("screener", "Who took the reading", ask.Screener, "anybody", staff), choose("event", "Event", ask.Event, "any", fairs),
	}
	v.Times = [][]ui.Input{
		{line("from_day", "From day", ask.FromDay, ui.Date), line("from_time", "From time", ask.FromTime, ui.Time)},
		{line("until_day", "To day", ask.UntilDay, ui.Date), line("until_time", "To time", ask.UntilTime, ui.Time)},
	}
	return nil
}

// affectedOf draws an answer.
func affectedOf(b *programme.Affected, path string, q url.Values) affectedView {
	a := affectedView{Words: b.Words, How: b.How, Says: b.Says(), None: len(b.Events) == 0}
	if path != "" {
		a.Files = q.Encode()
	}
	a.Numbers = []ui.Figure{
		{Label: "People", Number: fmt.Sprint(b.People), Of: "with " + plural(b.Read, "reading", "readings")},
		{Label: "May be called", Number: fmt.Sprint(b.MayCall), Of: fmt.Sprintf("of %d people", b.People)},
		{Label: "No permission", Number: fmt.Sprint(b.People - b.MayCall), Of: fmt.Sprintf("of %d people", b.People)},
		{Label: "Events", Number: fmt.Sprint(len(b.Events))},
		{Label: "Meters", Number: fmt.Sprint(len(b.Meters)), Of: orNone(strings.Join(firstFew(b.Meters, 6), ", "))},
		{Label: "Control runs", Number: fmt.Sprint(b.Runs)},
	}
	for i, d := range b.Events {
		a.Days = append(a.Days, affectedDayOf(i, d))
	}
	return a
}

func firstFew(list []string, n int) []string {
	if len(list) > n {
		return append(append([]string{}, list[:n]...), "…")
	}
	return list
}

func affectedDayOf(i int, d programme.BackDay) affectedDay {
	day := affectedDay{ID: fmt.Sprintf("event-%d", i+1), Heading: d.Name + ", " + d.Date.Long()}
	day.Says = fmt.Sprintf("%s. %s, of whom %d may be called. %s.", d.Venue, plural(len(d.People), "person", "people"), d.MayCall, plural(len(d.Runs), "control run", "control runs"))
	for _, x := range d.People {
		call := "no"
		if x.MayCall {
			call = "yes"
		}
		for _, r := range x.Readings {
			shown := r.Shown
			if !r.Counts {
				shown += ", does not count"
			}
			day.Rows = append(day.Rows, affectedRow{
				Ticket: ticketText(x.Ticket), Href: "/events/" + d.Event + "/history/" + x.Visit, At: r.At.In(d.Zone).Format("15:04"), Reading: shown, Meter: r.Meter, Strips: strings.TrimSuffix(r.Lot+", vial "+r.Vial, ", vial "),
				Screener: r.Screener, Supervisors: supervisorsText(r), Call: call,
			})
		}
	}
	all := len(day.Rows)
	day.Caption = plural(all, "reading", "readings") + "; no participant's name stands here"
	if all > mostShown {
		day.Rows = day.Rows[:mostShown]
		day.Cut = fmt.Sprintf("The first %d of %d readings; the CSV holds all", mostShown, all)
		day.Caption = day.Cut
	}
	day.Runs = runRows(d)
	return day
}

// supervisorsText names who answered for a reading, and who else was there.
func supervisorsText(r programme.BackReading) string {
	var others []string
	for _, name := range r.Present {
		if name != r.Supervisor {
			others = append(others, name)
		}
	}
	text := r.Supervisor
	if len(others) > 0 {
		text = strings.TrimPrefix(text+"; also there: "+strings.Join(others, ", "), "; ")
	}
	return orNone(text)
}

func lookBackCSV(s *Server, c *Context) error {
	b, err := s.prog.LookBack(c.R.Context(), c.askOf(c.inAddress))
	if err != nil {
		return err
	}
	var buf bytes.Buffer
	if err := exchange.WriteLookBack(&buf, b); err != nil {
		return err
	}
	return c.sendFile("text/csv; charset=utf-8", "look-back-"+b.At.Format("2006-01-02")+".csv", buf.Bytes())
}

func lookBackPDF(s *Server, c *Context) error {
	b, err := s.prog.LookBack(c.R.Context(), c.askOf(c.inAddress))
	if err != nil {
		return err
	}
	return c.sendPDF("look-back-"+b.At.Format("2006-01-02"), c.affectedPaper(b, ""))
}

// affectedPaper sets an answer for print.
func (c *Context) affectedPaper(b *programme.Affected, id string) paper.Document {
	doc := paper.Document{Title: "Look-back", Subtitle: b.Words, RecordID: id, Lang: "en", Printed: b.At, Invented: c.s.opt.Demo != nil}
	if ch, err := c.s.prog.Charter(c.R.Context()); err == nil {
		doc.Programme = ch.Details.Name
	}
	doc.Sections = []paper.Section{{Heading: "In short", Paragraphs: append([]string{b.How}, b.Says()...), Keep: true}}
	for i, d := range b.Events {
		v := affectedDayOf(i, d)
		sec := paper.Section{Heading: v.Heading, Paragraphs: []string{v.Says}}
		if len(v.Rows) > 0 {
			sec.Table = &paper.Table{Columns: []paper.Column{{Title: "Ticket", Width: 1.2}, {Title: "At", Width: 1.1}, {Title: "Reading", Width: 1.7}, {Title: "Meter", Width: 1.2}, {Title: "Strips", Width: 1.7}, {Title: "Screener", Width: 1.6}, {Title: "Supervisors", Width: 2.6}, {Title: "Call", Width: 0.9}}}
			for _, r := range v.Rows {
				sec.Table.Rows = append(sec.Table.Rows, []string{r.Ticket, r.At, r.Reading, r.Meter, r.Strips, r.Screener, r.Supervisors, r.Call})
			}
			sec.Table.Note = v.Cut
		}
		doc.Sections = append(doc.Sections, sec)
		doc.Sections = append(doc.Sections, runsPaper(v.Heading, v.Runs)...)
	}
	return doc
}

func lookBackKeep(s *Server, c *Context) error {
	ask := c.askOf(c.Form)
	done, err := s.prog.OpenLookBack(c.R.Context(), c.Actor(), programme.OpenLookBack{Act: c.Act(), Ask: ask, Reason: c.Form("reason")})
	if err != nil {
		return c.showLookBack(ask, fault.Of(err))
	}
	return c.Done("/look-back/kept/"+done.ID, "The look-back is kept. What it is about is not erased while it is open.")
}

// lookBackOf leads from a lot to its look-back with every filter.
func lookBackOf(key string) string {
	kind, id, _ := strings.Cut(key, ".")
	name := map[string]string{stock.StripLotKind: "strip_lot", stock.ControlLotKind: "control_lot"}[kind]
	if name == "" {
		return ""
	}
	return "/look-back?" + url.Values{name: {id}}.Encode()
}
