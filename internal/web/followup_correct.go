package web

import (
	"fairstick/internal/fault"
	"fairstick/internal/followup"
	"fairstick/internal/programme"
	"fairstick/internal/web/ui"
)

// correctCallView is the correction of one thing that was written down.
type correctCallView struct {
	Page ui.Page
	Says string
	Form officeForm
}

func callOutcomes(v callView) ui.Pick {
	p := v.Spoke.choice("outcome", "What became of it?", "",
		ui.Option{Value: string(followup.Seen), Label: outcomeWords[followup.Seen]},
		ui.Option{Value: string(followup.Scheduled), Label: outcomeWords[followup.Scheduled], Hint: "give the day below"},
		ui.Option{Value: string(followup.NotYet), Label: "Not seen yet", Hint: "give the reason below"},
		ui.Option{Value: string(followup.Declined), Label: outcomeWords[followup.Declined]},
		ui.Option{Value: string(followup.AlreadyKnown), Label: outcomeWords[followup.AlreadyKnown]},
		ui.Option{Value: "", Label: "They could not talk now", Hint: "asked again tomorrow"},
	)
	if v.Spoke.fault == nil {
		p.Value = "none" // nothing is chosen at first
	}
	return p
}

func (v callView) resultOpen() bool {
	return v.Spoke.fault != nil && (v.Spoke.c.Form("test") != "" || v.Spoke.c.Form("said") != "" || v.Spoke.c.Form("value") != "")
}

func callNoteField(f dayForm, label string) ui.Input {
	in := optional(f.line("note", label, ""))
	in.Help, in.MaxLength, in.Private = "Sealed with the name. Nothing medical.", 300, true
	return in
}

func callerOptions(v callView) []ui.Option {
	return append([]ui.Option{{Label: "I called"}}, v.Callers...)
}

func unitOptions() []ui.Option {
	out := []ui.Option{{Label: "Choose"}}
	for _, u := range followup.Units {
		out = append(out, ui.Option{Value: u, Label: u})
	}
	return out
}

func callCorrectShow(_ *Server, c *Context) error { return c.callCorrectAgain("", nil) }

// callCorrectAgain shows the form that fits what is corrected.
func (c *Context) callCorrectAgain(refused string, f *fault.Fault) error {
	visit, id := c.R.PathValue("visit"), c.R.PathValue("fact")
	x, _, err := c.s.prog.FollowUpOf(c.R.Context(), visit)
	if err != nil {
		return err
	}
	notes, err := c.s.prog.FollowUpHistory(c.R.Context(), c.Actor(), visit)
	if err != nil {
		return err
	}
	var body any
	for _, n := range notes {
		if n.Fact == id && !n.Gone {
			body = n.Body
		}
	}
	if body == nil {
		return fault.New(fault.Missing, "corrected-missing", "What you want to correct is not in the record.", "It may have been struck already.", "Go back to the person and look again.")
	}
	form := c.dayForm("correct", "/follow-up/"+visit+"/correct/"+id, refused, f)
	v := correctCallView{Page: c.page("Correct what was written down"), Says: noteWord(body)}
	v.Page.Ticket, v.Page.Back = ticketText(x.Visit.Ticket), &ui.Link{Href: "/follow-up/" + visit, Label: "One call"}
	v.Page.Lead = "Both stay in the record: what it said, and what it says from now on."
	items := correctItems(form, body)
	strike := form.tick("strike", "It never happened", false)
	items = append(items, tickBox(strike), field(form.line("reason_why", "Why it is corrected", "")))
	v.Form = officeForm{Form: form, Submit: "Correct it", Parts: []part{{Items: items}}}
	return c.Show(f, CallCorrectPage(v))
}

// correctItems are the fields of what is corrected, with what they say now.
func correctItems(form dayForm, body any) []item {
	choose := func(name, label, value string, list []ui.Option) item {
		return field(options(optional(size(form.line(name, label, value), ui.Medium, ui.Select, "")), list))
	}
	switch b := body.(type) {
	case followup.AttemptMade:
		var all []ui.Option
		for _, ch := range followup.Channels {
			for _, h := range followup.Happenings(ch) {
				all = append(all, ui.Option{Value: string(ch) + "/" + string(h), Label: channelWords[ch] + ": " + lower(happenedWords[h])})
			}
		}
		return []item{choose("what", "What happened", string(b.Channel)+"/"+string(b.Happened), all)}
	case followup.OutcomeTold:
		return []item{
			choose("outcome", "What became of it", string(b.Outcome), optionsOf(followup.Outcomes, outcomeWords, "")),
			field(optional(size(form.line("on", "Day they were seen, or of the appointment", b.On.String()), ui.Medium, ui.Date, ""))),
			choose("reason", "If not yet: why", string(b.Reason), optionsOf(followup.Reasons, reasonWords, "None")),
			choose("source", "Who said so", string(b.Source), optionsOf(followup.Sources, sourceWords, "Choose")),
		}
	case followup.ResultTold:
		return []item{
			choose("test", "Kind of test", string(b.Test), optionsOf(followup.Tests, testWords, "")),
			pair(optional(size(form.line("value", "Value", b.Value), ui.Short, ui.Number, "")), options(optional(size(form.line("unit", "Unit", b.Unit), ui.Short, ui.Select, "")), unitOptions())),
			field(optional(size(form.line("test_on", "Day of the test", b.On.String()), ui.Medium, ui.Date, ""))),
			choose("said", "What the clinician said", string(b.Said), optionsOf(followup.AllSaid, saidWords, "")),
		}
	}
	return nil
}

func callCorrect(s *Server, c *Context) error {
	d := c.callDetails()
	d.Channel, d.Happened = "", ""
	if what := c.Form("what"); what != "" {
		d.Channel, d.Happened = cutWhat(what)
	}
	visit := c.R.PathValue("visit")
	_, err := s.prog.CorrectFollowUp(c.R.Context(), c.Actor(), programme.CorrectFollowUp{
		Act: c.Act(), Visit: visit, Fact: c.R.PathValue("fact"), Reason: c.Form("reason_why"), Strike: c.Form("strike") == "yes", CallDetails: d,
	})
	if err != nil {
		f := fault.Of(err)
		if f.Kind != fault.Invalid {
			return err
		}
		if said := f.Fields["reason"]; said != "" && c.Form("reason_why") == "" {
			f = f.Field("reason_why", said)
		}
		return c.callCorrectAgain("correct", f)
	}
	return c.Done("/follow-up/"+visit, "Corrected. Both stand in the record.")
}
