package web

import (
	"cmp"
	"fmt"
	"net/http"
	"slices"
	"sort"
	"strings"
	"time"

	"fairstick/internal/fault"
	"fairstick/internal/people"
	"fairstick/internal/programme"
	"fairstick/internal/visit"
	"fairstick/internal/web/ui"
)

// correctView is the page on which somebody says what is wrong with a ticket.
type correctView struct {
	Page     ui.Page
	Base     string
	Path     string
	Readings []correctReadingRow
	Other    []startTile
	Made     []madeRow
	History  string // address of the history; empty for those who may not read it
	Slip     *correctSlipView
}

type correctReadingRow struct {
	ID, Title, Said, Counts string
}

// correctSlipView is a slip that was handed out and shows another result than the one that stands.
type correctSlipView struct {
	Given, Reach, Command string
	Print                 []ui.Link
	Language              string
}

// madeRow is one correction that was signed.
type madeRow struct {
	At, Kind, Ticket, Href, By, Reason string
	Changes                            []changeRow
	Late                               bool
}

type changeRow struct {
	What, Was, Now string
}

// mendWords name the kinds of correction.
var mendWords = map[string]string{
	programme.CorrectReading: "Reading", programme.CorrectTicket: "Reading of another ticket", programme.CorrectStruck: "Reading that never happened",
	programme.CorrectFood: "Last food", programme.CorrectAnswers: "Answers at the desk", programme.CorrectOutcome: "How the visit ended",
	programme.CorrectContact: "Permission to call", programme.CorrectLanguage: "Language", programme.CorrectControl: "Control run", programme.CorrectMemory: "Compared with the meter's memory",
}

func correctShow(_ *Server, c *Context) error {
	d, v, err := c.visit()
	if err != nil {
		return err
	}
	view := correctView{Page: c.correctPage(d, v, "What is wrong?"), Base: dayBase(d), Path: dayBase(d) + "/correct/" + v.ID}
	view.Page.Lead = "A correction is added to the record with its reason. What was there before stays."
	counting, _ := v.Counting()
	for _, r := range v.Readings {
		row := correctReadingRow{ID: r.ID, Title: r.Reading.String() + " at " + clockOr(r.At, d.Event.Zone())}
		parts := []string{r.Purpose, "by " + d.NameOf(r.By)}
		if m := d.MeterByID(r.Meter); m != nil {
			parts = append(parts, "meter "+m.Details.Label)
		}
		if l := d.StripLotByID(r.StripLot); l != nil {
			parts = append(parts, "lot "+l.Details.Lot+", vial "+r.Vial)
		}
		row.Said = strings.Join(parts, ", ")
		if r.ID == counting.ID {
			row.Counts = "counts"
		}
		view.Readings = append(view.Readings, row)
	}
	add := func(kind, label, hint string, when bool) {
		if when {
			view.Other = append(view.Other, startTile{Label: label, Href: view.Path + "/" + kind, Hint: hint})
		}
	}
	add(programme.CorrectFood, "Last food", "fasting or not", v.Ate != nil)
	add(programme.CorrectAnswers, "Answers at the desk", "who may be tested", v.Answers != nil)
	add(programme.CorrectOutcome, "How the visit ended", "left, declined, finished", v.Phase().Ended() && v.Phase() != visit.NotEligible)
	add(programme.CorrectContact, "Permission to call", "name and number", v.Contact != nil)
	add(programme.CorrectLanguage, "Language", languageName(v.Language), true)
	for _, x := range d.Corrections() {
		if x.Visit == v.ID {
			view.Made = append(view.Made, c.madeRow(d, x))
		}
	}
	if c.holds(senior) {
		view.History = dayBase(d) + "/history/" + v.ID
	}
	view.Slip = c.slipAgain(d, v)
	return c.Render(http.StatusOK, CorrectPage(view))
}

// correctPage is the shell of a page about a correction of one ticket.
func (c *Context) correctPage(d *programme.Day, v *visit.State, title string) ui.Page {
	p := c.page(title)
	p.Ticket, p.Back = ticketText(v.Ticket), &ui.Link{Href: dayBase(d) + "/board", Label: "Board"}
	return p
}

// slipAgain says that a slip must be replaced after the person has gone, and how to reach them.
func (c *Context) slipAgain(d *programme.Day, v *visit.State) *correctSlipView {
	if !programme.SlipDue(v) || !v.Phase().Ended() || v.Finding() == nil || !c.holds(tell) {
		return nil
	}
	base := dayBase(d) + "/slip/" + v.ID + "?lang="
	s := &correctSlipView{Given: clockOr(v.Slips[len(v.Slips)-1].At, d.Event.Zone()), Command: newCommand(), Language: v.Language}
	for _, l := range programme.Languages {
		s.Print = append(s.Print, ui.Link{Href: base + l, Label: languageName(l)})
	}
	s.Reach = "The person gave no permission to be called. They cannot be reached; keep the slip for them."
	if programme.MayCall(v) {
		s.Reach = "The person may be called. Open the contact under Follow-up, say that the first slip was wrong, and agree how they get the new one."
	}
	return s
}

func (c *Context) madeRow(d *programme.Day, x programme.CorrectionRow) madeRow {
	row := madeRow{At: x.At.In(d.Event.Zone()).Format("2 Jan 15:04"), Kind: cmp.Or(mendWords[x.Kind], x.Kind), By: x.By, Reason: x.Reason, Late: x.Late}
	if x.Ticket > 0 {
		row.Ticket, row.Href = ticketText(x.Ticket), dayBase(d)+"/history/"+x.Visit
	}
	for _, ch := range x.Changes {
		row.Changes = append(row.Changes, changeRow{What: ch.What, Was: ch.Was, Now: ch.Now})
	}
	return row
}

// correctAskView is the form of one correction.
type correctAskView struct {
	Page ui.Page
	Said string
	Form officeForm
}

// askLeads say what is asked, by kind.
var askLeads = map[string]string{
	programme.CorrectReading:  "Change what is wrong; leave the rest.",
	programme.CorrectTicket:   "The reading moves to the other ticket with its own time. It stays visible here.",
	programme.CorrectStruck:   "It is struck with its reason and stays visible. Its strip and lancet are not counted any more.",
	programme.CorrectFood:     "Whether a reading counts as fasting follows from this time.",
	programme.CorrectAnswers:  "The rules of the day judge the answers anew.",
	programme.CorrectOutcome:  "The counts of the day follow.",
	programme.CorrectContact:  "A name and a number are sealed. Leave them empty to keep those that were given.",
	programme.CorrectLanguage: "Slips are printed in this language.",
	programme.CorrectControl:  "The run is judged again against the range printed for its strips. Whether the meter may test follows.",
}

func correctAsk(_ *Server, c *Context) error {
	d, err := c.Day()
	if err != nil {
		return err
	}
	return c.showCorrection(d, nil)
}

func correctRunAsk(s *Server, c *Context) error { return correctAsk(s, c) }

// showCorrection shows the form of a correction, after a refusal with what was typed.
func (c *Context) showCorrection(d *programme.Day, f *fault.Fault) error {
	if c.R.PathValue("group") != "" {
		return c.showDigits(d, f)
	}
	form, err := c.correctForm(d, f)
	if err != nil {
		return err
	}
	kind := cmp.Or(c.R.PathValue("kind"), programme.CorrectControl)
	view := correctAskView{Said: askLeads[kind], Form: form}
	if v := d.Visit(c.R.PathValue("visit")); v != nil {
		view.Page = c.correctPage(d, v, "Correct: "+strings.ToLower(mendWords[kind]))
		view.Page.Back = &ui.Link{Href: dayBase(d) + "/correct/" + v.ID, Label: "What is wrong?"}
		for _, r := range v.Readings {
			if r.ID == c.query("reading") {
				view.Page.Lead = r.Reading.String() + ", taken at " + clockOr(r.At, d.Event.Zone()) + " by " + d.NameOf(r.By)
			}
		}
	} else {
		view.Page = c.page("Correct: control run")
		view.Page.Back = &ui.Link{Href: dayBase(d) + "/controls", Label: "Controls"}
		if r, ok := d.Run(c.R.PathValue("run")); ok {
			view.Page.Lead = "Level " + r.Level + ": " + r.Reading.String() + ", run at " + clockOr(r.At, d.Event.Zone()) + " by " + d.NameOf(r.By)
		}
	}
	return c.Show(saying(f), CorrectAskPage(view))
}

// saying leaves out a fault that says nothing: it only brings back what was typed.
func saying(f *fault.Fault) *fault.Fault {
	if f == nil || f.Sentence == "" {
		return nil
	}
	return f
}

// previewView is what a correction touches, with the signature under it.
type previewView struct {
	Page       ui.Page
	Form       dayForm
	Typed      []carriedField // travels with the signature
	Seen       programme.Preview
	Changes    []changeRow
	Visits     []effectView
	LookBack   []lookBackRow
	Signers    []ui.Option
	SignedBy   string // who has to sign, in a sentence
	Reason     string
	Comparison string
	Base       string
}

type carriedField struct {
	Name, Value string
}

type lookBackRow struct {
	Ticket, Said, Href, Band string
}

// correctSend takes a form: the first press shows what it touches, the second signs it, and "change it" goes back.
func correctSend(s *Server, c *Context) error {
	d, err := c.Day()
	if err != nil {
		return err
	}
	x, err := c.typedCorrection(d)
	if err == nil && c.Form("step") == "edit" {
		return c.showCorrection(d, &fault.Fault{})
	}
	var seen programme.Preview
	if err == nil {
		seen, err = s.prog.PreviewCorrection(c.R.Context(), c.Actor(), x)
	}
	if err != nil {
		return c.showCorrection(d, fault.Of(err))
	}
	if c.Form("step") != "sign" {
		return c.showPreview(d, x, seen, nil)
	}
	x.Act, x.Reason, x.Sign, x.Digest = c.Act(), c.Form("reason"), c.Sign("sign"), c.Form("digest")
	if _, err := s.prog.Correct(c.R.Context(), c.Actor(), x); err != nil {
		return c.showPreview(d, x, seen, fault.Of(err))
	}
	back := dayBase(d) + "/correct/" + x.Visit
	switch x.Kind {
	case programme.CorrectControl:
		back = dayBase(d) + "/controls"
	case programme.CorrectMemory:
		back = dayBase(d) + "/digits"
	}
	return c.Done(back, "Corrected. What was there before stays in the history.")
}

func (c *Context) showPreview(d *programme.Day, x programme.Correct, seen programme.Preview, f *fault.Fault) error {
	v := previewView{Page: c.page("What this touches"), Seen: seen, Base: dayBase(d), Form: c.dayForm("sign", c.R.URL.RequestURI(), "sign", f)}
	v.Page.Lead = "Nothing is recorded yet. Read it, then sign."
	v.Page.Back = &ui.Link{Href: dayBase(d) + "/board", Label: "Board"}
	if t := d.Visit(x.Visit); t != nil {
		v.Page = c.correctPage(d, t, "What this touches")
		v.Page.Lead = "Nothing is recorded yet. Read it, then sign."
		v.Page.Back = &ui.Link{Href: dayBase(d) + "/correct/" + t.ID, Label: "What is wrong?"}
	}
	for _, ch := range seen.Changes {
		v.Changes = append(v.Changes, changeRow{What: ch.What, Was: ch.Was, Now: ch.Now})
	}
	for _, e := range seen.Visits {
		v.Visits = append(v.Visits, effectOf(d, e))
	}
	for _, l := range seen.LookBack {
		row := lookBackRow{Ticket: ticketText(l.Ticket), Band: l.Band, Href: v.Base + "/history/" + l.Visit, Said: l.Shown + " at " + clockOr(l.At, d.Event.Zone())}
		switch {
		case !l.HasEnded:
			row.Said += ", still here: test again on a cleared meter"
		case l.MayCall:
			row.Said += ", gone, may be called"
		default:
			row.Said += ", gone, no permission to call"
		}
		v.LookBack = append(v.LookBack, row)
	}
	if x.Kind == programme.CorrectMemory {
		v.Comparison = fmt.Sprintf("%s compared with the memory; %d differ. %s.", plural(seen.Compared, "reading", "readings"), seen.Differed, bandsChange(seen.Bands()))
	}
	roles := []people.Role{people.Lead, people.Supervisor}
	v.SignedBy = "A lead or supervisor signs with their PIN."
	if seen.Late {
		roles, v.SignedBy = roles[:1], "The day is closed: the lead signs. The report will say that it was corrected after closing."
	}
	for _, p := range d.Signers(roles...) {
		v.Signers = append(v.Signers, ui.Option{Value: p.ID, Label: p.Details.Name})
	}
	if seen.Own != "" {
		if p := d.Person(seen.Own); p != nil && !slices.ContainsFunc(v.Signers, func(o ui.Option) bool { return o.Value == p.ID }) {
			v.Signers = append(v.Signers, ui.Option{Value: p.ID, Label: p.Details.Name + ", own reading"})
		}
		v.SignedBy = "A lead or supervisor signs, or the screener for their own last reading while nobody has explained it."
	}
	v.Signers = append([]ui.Option{{Value: "", Label: "Choose"}}, v.Signers...)
	if c.Form("step") == "sign" {
		v.Reason = c.Form("reason")
	}
	for name, list := range c.R.PostForm {
		switch name {
		case "command", "step", "digest", "reason", "sign_person", "sign_pin":
			continue
		}
		for _, t := range list {
			v.Typed = append(v.Typed, carriedField{Name: name, Value: t})
		}
	}
	sort.Slice(v.Typed, func(i, j int) bool { return v.Typed[i].Name < v.Typed[j].Name })
	return c.Show(f, CorrectPreviewPage(v))
}

func bandsChange(n int) string {
	if n == 0 {
		return "No band changes"
	}
	return plural(n, "band changes", "bands change")
}

// correctSlip says that the corrected slip reached the person.
func correctSlip(s *Server, c *Context) error {
	d, v, err := c.visit()
	if err != nil {
		return err
	}
	_, err = s.prog.ReissueSlip(c.R.Context(), c.Actor(), programme.ReissueSlip{Act: c.Act(), Visit: v.ID, Language: c.Form("language"), Size: "half-letter"})
	if err != nil {
		return err
	}
	return c.Done(dayBase(d)+"/correct/"+v.ID, "The corrected slip is written down as given.")
}

// historyView is every fact of a ticket in the order of time.
type historyView struct {
	Page ui.Page
	Rows []historyRow
}

type historyRow struct {
	At, By, Said string
	Struck       bool
	Later        []historyLater
}

type historyLater struct {
	At, By, Said, Reason string
}

func historyShow(s *Server, c *Context) error {
	d, v, err := c.visit()
	if err != nil {
		return err
	}
	rows, err := s.prog.History(c.R.Context(), c.Actor(), d.Event.ID, v.ID)
	if err != nil {
		return err
	}
	view := historyView{Page: c.correctPage(d, v, "History")}
	view.Page.Lead = "Everything that was written down, corrections beside what they correct."
	view.Page.Wide = true
	view.Page.Back = &ui.Link{Href: dayBase(d) + "/correct/" + v.ID, Label: "What is wrong?"}
	zone := d.Event.Zone()
	stamp := func(t time.Time) string { return t.In(zone).Format("15:04:05") }
	for _, r := range rows {
		row := historyRow{At: stamp(r.At), By: r.By, Said: r.Said, Struck: len(r.Later) > 0}
		for _, l := range r.Later {
			row.Later = append(row.Later, historyLater{At: l.At.In(zone).Format("2 Jan 15:04"), By: l.By, Said: l.Said, Reason: l.Reason})
		}
		view.Rows = append(view.Rows, row)
	}
	return c.Render(http.StatusOK, HistoryPage(view))
}

// correctionsView is every correction of an event.
type correctionsView struct {
	Page  ui.Page
	Made  []madeRow
	Slips []ui.Link

	Digits string // address of the last figures
}

func correctionsShow(_ *Server, c *Context) error {
	d, err := c.Day()
	if err != nil {
		return err
	}
	v := correctionsView{Page: c.dayPage(d, "Corrections", "corrections"), Digits: dayBase(d) + "/digits"}
	v.Page.Wide = true
	for _, x := range d.Corrections() {
		v.Made = append(v.Made, c.madeRow(d, x))
	}
	for _, x := range d.SlipsDue() {
		v.Slips = append(v.Slips, ui.Link{Href: dayBase(d) + "/correct/" + x.ID, Label: "Ticket " + ticketText(x.Ticket)})
	}
	return c.Render(http.StatusOK, CorrectionsPage(v))
}
