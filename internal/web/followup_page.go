package web

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"fairstick/internal/fault"
	"fairstick/internal/followup"
	"fairstick/internal/people"
	"fairstick/internal/programme"
	"fairstick/internal/protocol"
	"fairstick/internal/web/ui"
)

// followUpView is the work of following up today. It holds no name and no number.
type followUpView struct {
	Page    ui.Page
	Fault   *fault.Fault
	Stats   []ui.Figure
	Filters []ui.Link
	Open    []followUpRow
	Later   []followUpRow
	Nobody  string // what stands here when nothing is to be done
	Letters dayForm
	Write   int // letters that wait
	Rested  string
}

type followUpRow struct {
	Href, Ticket, What, When, Band, Language, Event, With string
	Late                                                  string
	Call                                                  bool
}

func followUpShow(_ *Server, c *Context) error { return c.followUpAgain("", nil) }

func (c *Context) followUpAgain(refused string, f *fault.Fault) error {
	calls, err := c.s.prog.Calls(c.R.Context())
	if err != nil {
		return err
	}
	staff, err := c.staff()
	if err != nil {
		return err
	}
	v := followUpView{Page: c.page("Follow-up"), Fault: f, Letters: c.dayForm("letters", "/follow-up/letters", refused, f)}
	v.Page.Lead = "Who is called now, the most urgent first. Names and numbers are sealed until you open one."
	v.Page.Wide = true
	lang, mine, now := c.query("language"), c.query("with") == "me", c.s.prog.Now()
	keep := func(x programme.FollowUp) bool {
		return (lang == "" || x.Visit.Language == lang) && (!mine || x.State.Assigned() == c.Me.ID)
	}
	for _, x := range calls.Open {
		if keep(x) {
			v.Open = append(v.Open, followUpRowOf(x, now, staff))
		}
	}
	for _, x := range calls.Later {
		if keep(x) {
			v.Later = append(v.Later, followUpRowOf(x, now, staff))
		}
	}
	v.stats(calls, now)
	v.filters(c, calls, lang, mine)
	switch {
	case len(calls.Open)+len(calls.Later) == 0:
		v.Nobody = "Nobody is to be called."
	case len(v.Open) == 0:
		v.Nobody = "Nobody is to be called now."
	}
	if calls.Rested > 0 {
		v.Rested = plural(calls.Rested, "person was", "people were") + " never known to be seen, and the last day of calling is over. They stay in the completion."
	}
	return c.Show(f, FollowUpPage(v))
}

// staff gives the names of the people by their ids.
func (c *Context) staff() (map[string]string, error) {
	all, err := programme.List[*people.State](c.R.Context(), c.s.prog, people.Kind)
	if err != nil {
		return nil, err
	}
	out := make(map[string]string, len(all))
	for _, p := range all {
		out[p.ID] = p.Details.Name
	}
	return out, nil
}

func followUpRowOf(x programme.FollowUp, now time.Time, staff map[string]string) followUpRow {
	row := followUpRow{
		Href: "/follow-up/" + x.Visit.ID, Ticket: ticketText(x.Visit.Ticket), What: taskWord(*x.Task, x.Case.Rules.Attempts), When: taskTime(*x.Task, now, x.Event.Zone()),
		Band: string(x.Visit.Finding().Band), Language: languageName(x.Visit.Language), Event: x.Event.Plan.Name + ", " + x.Event.Plan.Date.Long(), Call: x.Task.Kind == followup.Call,
	}
	if x.LateAt(now) {
		row.Late = "late"
		if n := daysLate(*x.Task, now); n > 0 {
			row.Late = "late by " + plural(n, "day", "days")
		}
	}
	if held := x.State.HeldAt(now, time.Duration(x.Case.Rules.HoldMinutes)*time.Minute); held != nil {
		row.With = staff[held.By] + " is on it since " + held.At.In(x.Event.Zone()).Format("15:04")
	} else if to := x.State.Assigned(); to != "" {
		row.With = "handed to " + staff[to]
	}
	return row
}

func (v *followUpView) stats(calls programme.Calls, now time.Time) {
	critical, late := 0, 0
	for _, x := range append(slices.Clone(calls.Open), calls.Later...) {
		if x.Task.Kind == followup.Write {
			v.Write++
		}
		if x.LateAt(now) {
			late++
			if x.Urgent {
				critical++
			}
		}
	}
	all := len(calls.Open) + len(calls.Later)
	v.Stats = []ui.Figure{
		{Label: "To do now", Number: fmt.Sprint(len(calls.Open)), Of: fmt.Sprintf("of %d not finished", all), Href: "#open"},
		{Label: "Late", Number: fmt.Sprint(late), Of: fmt.Sprintf("of %d to do now", len(calls.Open)), Note: criticalNote(critical), Href: "#open"},
		{Label: "Later", Number: fmt.Sprint(len(calls.Later)), Of: fmt.Sprintf("of %d not finished", all), Href: "#later"},
	}
	none, bands := 0, []string{}
	for i := len(protocol.Bands) - 1; i >= 0; i-- {
		if n := calls.NoPermission[string(protocol.Bands[i])]; n > 0 {
			none += n
			bands = append(bands, fmt.Sprintf("%d %s", n, strings.ToLower(bandTitles[protocol.Bands[i]])))
		}
	}
	v.Stats = append(v.Stats, ui.Figure{Label: "May not be called", Number: fmt.Sprint(none), Note: cmp.Or(strings.Join(bands, ", "), "nobody"), Href: "/follow-up/completion?place=" + programme.PlaceNoPermission + "#rows"})
}

func criticalNote(n int) string {
	if n == 0 {
		return "none after a critical finding"
	}
	return plural(n, "person", "people") + " with a critical finding"
}

// filters are the languages of those who wait, and what was handed to whoever looks.
func (v *followUpView) filters(c *Context, calls programme.Calls, lang string, mine bool) {
	n, own := map[string]int{}, 0
	all := append(slices.Clone(calls.Open), calls.Later...)
	for _, x := range all {
		n[x.Visit.Language]++
		if x.State.Assigned() == c.Me.ID {
			own++
		}
	}
	if len(n) < 2 && own == 0 && lang == "" && !mine {
		return
	}
	v.Filters = append(v.Filters, ui.Link{Href: "/follow-up", Label: "All", Count: fmt.Sprint(len(all)), Current: lang == "" && !mine})
	codes := make([]string, 0, len(n))
	for code := range n {
		codes = append(codes, code)
	}
	slices.Sort(codes)
	for _, code := range codes {
		v.Filters = append(v.Filters, ui.Link{Href: "/follow-up?language=" + escapeQuery(code), Label: languageName(code), Count: fmt.Sprint(n[code]), Current: lang == code})
	}
	if own > 0 || mine {
		v.Filters = append(v.Filters, ui.Link{Href: "/follow-up?with=me", Label: "Handed to me", Count: fmt.Sprint(own), Current: mine})
	}
}
