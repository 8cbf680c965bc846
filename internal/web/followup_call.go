package web

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"fairstick/internal/civil"
	"fairstick/internal/fault"
	"fairstick/internal/followup"
	"fairstick/internal/people"
	"fairstick/internal/programme"
	"fairstick/internal/web/ui"
)

// callView is one person who is called. Contact is there only for whoever opened it, and only while they hold the person.
type callView struct {
	Page   ui.Page
	Fault  *fault.Fault // of the page; a form tells its own
	Path   string
	Task   string
	When   string
	Late   string
	Tried  string
	Status string

	Busy    *fault.Fault // somebody else is on it
	Contact *programme.Contact
	Tel     string

	Script callScript
	Told   []factRow
	Slip   []string // what the slip says, in the person's language
	Notes  []callNote

	Seen    string
	Open    dayForm
	Back    dayForm
	Tries   dayForm
	Spoke   dayForm
	Hand    dayForm
	Letter  dayForm
	Ways    []ui.Option
	Callers []ui.Option
	Post    bool
	Erase   string
	Today   string
}

// callNote is one line of what was written down.
type callNote struct {
	When, By, Says, Note string
	Gone                 bool
	Was                  []string
	Fix                  string // where it is corrected; empty when this person may not
}

// tries are what happens when nobody could be spoken with: a channel and what came of it, each one press.
var tries = []struct{ value, label string }{
	{"phone/no-answer", "No answer"},
	{"phone/left-message", "Left a message"},
	{"phone/not-in", "Somebody else answered"},
	{"phone/busy", "Busy"},
	{"phone/wrong-number", "Wrong number"},
	{"phone/not-in-service", "Not in service"},
	{"text/sent", "Text sent"},
	{"email/sent", "Email sent"},
}

func callShow(_ *Server, c *Context) error { return c.showCall("", nil) }

// showCall draws the page of a call; refused is the scope of the form that was not taken.
func (c *Context) showCall(refused string, f *fault.Fault) error {
	id, ctx := c.R.PathValue("visit"), c.R.Context()
	x, d, err := c.s.prog.FollowUpOf(ctx, id)
	if err != nil {
		return err
	}
	zone, now := d.Event.Zone(), c.s.prog.Now()
	path := "/follow-up/" + id
	v := callView{
		Page: c.page("Call ticket " + ticketText(x.Visit.Ticket)), Path: path, Seen: cmp.Or(lastOf(x.State), programme.SeenNothing), Post: x.Visit.Post, Today: civil.Of(now.In(zone)).String(),
		Open: c.dayForm("open", path+"/open", refused, f), Back: c.dayForm("back", path+"/put-back", refused, f), Tries: c.dayForm("tried", path+"/tried", refused, f),
		Spoke: c.dayForm("spoke", path+"/spoke", refused, f), Hand: c.dayForm("hand", path+"/hand-over", refused, f), Letter: c.dayForm("letter", path+"/letter", refused, f),
	}
	v.Page.Ticket, v.Page.Title = ticketText(x.Visit.Ticket), "One call"
	v.Page.Back = &ui.Link{Href: "/follow-up", Label: "Follow-up"}
	v.Page.Lead = x.Event.Plan.Name + ", " + x.Event.Plan.Date.Long() + ". To be seen by " + civil.Of(x.Due.In(zone)).Long() + "."
	if refused != "spoke" && refused != "hand" {
		v.Fault = f
	}
	v.task(x, now)
	if err := c.callContact(&v, x, now); err != nil {
		return err
	}
	v.told(x, d, c.Me.Details.Name)
	if err := c.callNotes(&v, x, zone); err != nil {
		return err
	}
	for _, p := range d.People {
		if p.Gone == "" && (p.Has(people.Lead) || p.Has(people.Supervisor) || p.Has(people.Counsellor)) {
			v.Callers = append(v.Callers, ui.Option{Value: p.ID, Label: p.Details.Name + speaks(p)})
		}
	}
	v.Ways = []ui.Option{{Value: "phone", Label: "On the telephone"}, {Value: "in-person", Label: "In person"}, {Value: "text", Label: "They answered a text"}, {Value: "email", Label: "They answered an e-mail"}, {Value: "letter", Label: "They answered a letter"}, {Value: "news", Label: "Not with them: a relative or the clinic told us"}}
	if c.holds(lead) && len(x.Visit.Sealed) > 0 {
		v.Erase = "/events/" + x.Event.ID + "/erase/" + id
	}
	return c.Show(f, CallPage(v))
}

// speaks lists the languages of somebody beside English.
func speaks(p *people.State) string {
	var out []string
	for _, l := range p.Details.Languages {
		if l != "en" {
			out = append(out, languageName(l))
		}
	}
	if len(out) == 0 {
		return ""
	}
	return ", speaks " + strings.Join(out, ", ")
}

func lastOf(s *followup.State) string {
	if s == nil {
		return ""
	}
	return s.Last
}

// task says what is due and when, and what was tried.
func (v *callView) task(x programme.FollowUp, now time.Time) {
	zone := x.Event.Zone()
	if x.Status != "" {
		v.Status = outcomeWords[x.Status]
	}
	if x.Task == nil {
		v.Task = "Nothing is due"
		return
	}
	v.Task, v.When = taskWord(*x.Task, x.Case.Rules.Attempts), taskTime(*x.Task, now, zone)
	if x.LateAt(now) {
		v.Late = "Late"
		if n := daysLate(*x.Task, now); n > 0 {
			v.Late = "Late by " + plural(n, "day", "days")
		}
	}
	var at []string
	for _, a := range x.State.Misses() {
		at = append(at, a.At.In(zone).Format("Mon 2 Jan 15:04"))
	}
	if len(at) > 0 {
		v.Tried = "Tried without reaching them: " + strings.Join(at, ", ") + "."
	}
	if x.Task.Other {
		v.Tried += " This time use another channel: a text, an e-mail, or in person."
	}
}

// due is what is due and when, in a line.
func (v callView) due() string {
	if v.When == "" {
		return v.Task + "."
	}
	return v.Task + ", " + v.When
}

// callContact shows the contact to whoever holds the person, or says who does.
func (c *Context) callContact(v *callView, x programme.FollowUp, now time.Time) error {
	held := x.State.HeldAt(now, time.Duration(x.Case.Rules.HoldMinutes)*time.Minute)
	if held == nil {
		return nil
	}
	if held.By != c.Me.ID {
		staff, err := c.staff()
		if err != nil {
			return err
		}
		since, until := held.At.In(x.Event.Zone()), held.At.Add(time.Duration(x.Case.Rules.HoldMinutes)*time.Minute).In(x.Event.Zone())
		v.Busy = fault.New(fault.Conflict, "somebody-calls", fmt.Sprintf("%s opened the number at %s and may be on the telephone.", staff[held.By], since.Format("15:04")),
			"Two calls about the same matter worry a person.", "Take the next person on the list, or come back at "+until.Format("15:04")+".")
		return nil
	}
	contact, found, err := c.s.prog.OpenContact(c.R.Context(), c.Actor(), x.Visit.ID)
	if err != nil || !found {
		return err
	}
	v.Contact = &contact
	v.Tel = strings.Map(func(r rune) rune {
		if r == '+' || r >= '0' && r <= '9' {
			return r
		}
		return -1
	}, contact.Phone)
	return nil
}

// told is the script and what the person has on their slip.
func (v *callView) told(x programme.FollowUp, d *programme.Day, caller string) {
	visit, f, zone := x.Visit, x.Visit.Finding(), x.Event.Zone()
	lang := visit.Language
	facts := scriptFacts{
		Caller: caller, Programme: d.Charter.Details.Name, Day: x.Event.Plan.Date, By: civil.Of(x.Due.In(zone)), Number: d.Charter.Details.Contact, Hours: d.Charter.Details.ContactHours,
		Emergency: x.Event.EmergencyNumber(d.Charter.Details.Emergency), Urgent: x.Urgent,
	}
	for _, w := range d.Protocol.Warnings {
		facts.Warnings = append(facts.Warnings, w.In(lang))
	}
	route := ""
	if visit.Referral != nil {
		route = visit.Referral.Route
	} else if places := d.ReferralPlaces(f); len(places) > 0 {
		route = places[0]
	}
	facts.Place, facts.PlaceSays = route, placeHint(d, route)
	v.Script = scriptOf(d, lang, facts)
	v.Slip = append([]string{f.Sentence.In(lang)}, textsIn(f.Advice, lang)...)
	v.Slip = append(v.Slip, f.When.In(lang), d.Protocol.Disclaimer.In(lang))
	v.Told = []factRow{
		{Name: "Reading", Said: shownWithUnit(f.Reading) + ", " + lower(basisTitles[f.Basis])},
		{Name: "Said on the slip", Said: f.Word.In(lang)},
		{Name: "Language", Said: languageName(lang)},
	}
	if r := visit.Referral; r != nil {
		agreed := "did not agree to go"
		if r.Agreed {
			agreed = "agreed to go"
		}
		v.Told = append(v.Told, factRow{Name: "Advised to go to", Said: r.Route + " by " + civil.Of(r.By.In(zone)).Long() + "; " + agreed})
	} else {
		v.Told = append(v.Told, factRow{Name: "Advised", Said: "The person left before the advice was given. Tell them first what was seen and whom to see."})
	}
}

// callNotes are what was written down, the latest first.
func (c *Context) callNotes(v *callView, x programme.FollowUp, zone *time.Location) error {
	notes, err := c.s.prog.FollowUpHistory(c.R.Context(), c.Actor(), x.Visit.ID)
	if err != nil {
		return err
	}
	for _, n := range notes {
		line := callNote{When: n.At.In(zone).Format("Mon 2 Jan 2006, 15:04"), By: n.By, Says: noteWord(n.Body), Note: n.Note, Gone: n.Gone}
		switch n.Body.(type) {
		case followup.HandedOver:
			line.Says += " to " + n.Caller
		case followup.AttemptMade:
			if n.Caller != "" {
				line.By = n.Caller + ", written down by " + n.By
			}
		}
		for _, ch := range n.Corrected {
			line.Was = append(line.Was, fmt.Sprintf("Corrected by %s, %s: it said \u201c%s\u201d. %s.", ch.By, ch.At.In(zone).Format("2 Jan 2006, 15:04"), noteWord(ch.Was), strings.TrimSuffix(ch.Reason, ".")))
		}
		if _, opened := n.Body.(followup.ContactOpened); !opened && !n.Gone && (n.By == c.Me.Details.Name || c.holds(senior)) {
			if _, back := n.Body.(followup.PutBack); !back {
				line.Fix = v.Path + "/correct/" + n.Fact
			}
		}
		v.Notes = append(v.Notes, line)
	}
	slices.Reverse(v.Notes)
	return nil
}
