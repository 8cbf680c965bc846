package web

import (
	"fairstick/internal/fault"
	"fairstick/internal/people"
	"fairstick/internal/programme"
	"fairstick/internal/web/ui"
)

// eraseView is the page that destroys the name and number of one participant, and the proof of it afterwards.
type eraseView struct {
	Page    ui.Page
	Fault   *fault.Fault
	Path    string
	Command string
	State   programme.Erasing
	At      string // when it was erased
	Why     string // reason of the erasure, in words
	Reason  string
	Reasons []ui.Option
	Sure    bool
	Signers []ui.Option
	Signer  string
}

var eraseReasons = []ui.Option{
	{Value: programme.EraseAsked, Label: "The person asked for it"},
	{Value: programme.EraseRetention, Label: "The time for keeping it is over"},
	{Value: programme.EraseMistake, Label: "It was recorded by mistake"},
}

func eraseShow(_ *Server, c *Context) error { return c.showErase(nil) }

func (c *Context) showErase(f *fault.Fault) error {
	d, x, err := c.visit()
	if err != nil {
		return err
	}
	state, err := c.s.prog.Erasing(c.R.Context(), c.Actor(), x.ID)
	if err != nil {
		return err
	}
	v := eraseView{
		Page: c.page("Erase a name and number"), Fault: f, Path: dayBase(d) + "/erase/" + x.ID, Command: c.command(), State: state,
		Reason: c.field("reason"), Reasons: eraseReasons, Sure: c.Form("confirmed") == "yes", Signer: c.field("sign_person"),
	}
	v.Page.Ticket = ticketText(x.Ticket)
	v.Page.Lead = d.Event.Plan.Name + ", " + d.Event.Plan.Date.Long()
	v.Page.Back = &ui.Link{Href: "/follow-up", Label: "Follow-up"}
	for _, p := range d.Signers(people.Lead) {
		v.Signers = append(v.Signers, ui.Option{Value: p.ID, Label: p.Details.Name})
	}
	if v.Signer == "" {
		v.Signer = c.Me.ID
	}
	if e := state.Erasure; e != nil {
		v.At = e.At.In(d.Event.Zone()).Format("15:04 on Monday 2 January 2006")
		for _, r := range eraseReasons {
			if r.Value == e.Reason {
				v.Why = r.Label
			}
		}
	}
	return c.Show(f, ErasePage(v))
}

func erase(s *Server, c *Context) error {
	_, x, err := c.visit()
	if err != nil {
		return err
	}
	_, err = s.prog.EraseContact(c.R.Context(), c.Actor(), programme.EraseContact{
		Act: c.Act(), Visit: x.ID, Reason: c.Form("reason"), Confirmed: c.Form("confirmed") == "yes", Sign: c.Sign("sign"),
	})
	if err != nil {
		return c.showErase(fault.Of(err))
	}
	return c.Done(c.R.URL.Path, "The name and number are erased.")
}
