package web

import (
	"time"

	"fairstick/internal/fault"
	"fairstick/internal/programme"
	"fairstick/internal/web/ui"
)

// followUpView is the referrals that wait, the most urgent first. Names stay sealed until one is opened by its button.
type followUpView struct {
	Page  ui.Page
	Fault *fault.Fault
	Rows  []followUpRow
	Said  string
}

type followUpRow struct {
	Visit, EventID, Event, Ticket, Language, Band, Due, Route string
	Late, Urgent, Referred, Agreed, Call                      bool
	Erase                                                     string // where a lead erases the contact; empty for others, or when none is kept
	Erased                                                    bool
	Open                                                      *programme.Contact // opened for this page alone
}

func followUpShow(s *Server, c *Context) error { return c.followUpAgain("", nil, nil) }

// followUpAgain shows the list; opened is the visit whose contact was opened for this one page.
func (c *Context) followUpAgain(visitID string, opened *programme.Contact, f *fault.Fault) error {
	list, err := c.s.prog.FollowUps(c.R.Context(), programme.FollowUpScope{})
	if err != nil {
		return err
	}
	v := followUpView{Page: c.page("Follow-up"), Fault: f}
	v.Page.Lead = "Everybody who was advised to see someone, the most urgent first."
	v.Page.Wide = true
	call := 0
	for _, x := range list {
		now := c.s.prog.Now().In(x.Event.Zone())
		row := followUpRow{
			Visit: x.Visit.ID, EventID: x.Event.ID, Event: x.Event.Plan.Name + ", " + x.Event.Plan.Date.Long(), Ticket: ticketText(x.Visit.Ticket),
			Language: languageName(x.Visit.Language), Band: string(x.Visit.Finding().Band), Due: dueText(x.Due.In(x.Event.Zone())), Late: now.After(endOfDay(x.Due.In(x.Event.Zone()))),
			Urgent: x.Urgent, Call: programme.MayCall(x.Visit),
		}
		if x.Visit.Referral != nil {
			row.Referred, row.Route, row.Agreed = true, x.Visit.Referral.Route, x.Visit.Referral.Agreed
		}
		row.Erased = x.Visit.Erased()
		if c.holds(lead) && (len(x.Visit.Sealed) > 0 || row.Erased) {
			row.Erase = "/events/" + x.Event.ID + "/erase/" + x.Visit.ID
		}
		if x.Visit.ID == visitID {
			row.Open = opened
		}
		if row.Call {
			call++
		}
		v.Rows = append(v.Rows, row)
	}
	v.Said = plural(call, "person", "people") + " of " + plural(len(list), "referral", "referrals") + " may be called."
	return c.Show(f, FollowUpPage(v))
}

// dueText is the day by which somebody was to be seen.
func dueText(t time.Time) string { return t.Format("Mon 2 Jan 2006") }

func endOfDay(t time.Time) time.Time {
	return time.Date(t.Year(), t.Month(), t.Day()+1, 0, 0, 0, 0, t.Location())
}

// followUpOpen opens one contact for this page. It is a post, so that neither the person nor the act stands in an address,
// and the page is not kept by the browser.
func followUpOpen(s *Server, c *Context) error {
	contact, err := s.prog.CallContact(c.R.Context(), c.Actor(), programme.CallContact{Visit: c.Form("visit")})
	if err != nil {
		return c.followUpAgain("", nil, fault.Of(err))
	}
	return c.followUpAgain(c.Form("visit"), &contact, nil)
}
