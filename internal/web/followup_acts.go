package web

import (
	"bytes"
	"strings"
	"time"

	"fairstick/internal/civil"
	"fairstick/internal/fault"
	"fairstick/internal/followup"
	"fairstick/internal/paper"
	"fairstick/internal/programme"
)

// callAct runs one command of a call; a refusal shows the page again with what was typed.
func callAct(c *Context, scope string, run func() error, after func() error) error {
	if err := run(); err != nil {
		f := fault.Of(err)
		if f.Kind == fault.Internal || f.Kind == fault.Missing || f.Kind == fault.Denied || f.Key == "no-permission" || f.Key == "no-referral" {
			return err
		}
		return c.showCall(scope, f)
	}
	return after()
}

// callOpen opens the contact and shows the page again. It is a post, so that looking at a name leaves its entry.
func callOpen(s *Server, c *Context) error {
	return callAct(c, "open", func() error {
		_, err := s.prog.CallContact(c.R.Context(), c.Actor(), programme.CallContact{Act: c.Act(), Visit: c.R.PathValue("visit")})
		return err
	}, func() error { return c.Go("/follow-up/" + c.R.PathValue("visit")) })
}

func callPutBack(s *Server, c *Context) error {
	return callAct(c, "back", func() error {
		_, err := s.prog.PutBackContact(c.R.Context(), c.Actor(), programme.PutBackContact{Act: c.Act(), Visit: c.R.PathValue("visit")})
		return err
	}, func() error { return c.Done("/follow-up", "Put back: somebody else can call them.") })
}

// callTried writes down a try that reached nobody.
func callTried(s *Server, c *Context) error {
	channel, happened := cutWhat(c.Form("what"))
	call := programme.LogCall{Act: c.Act(), Visit: c.R.PathValue("visit"), Seen: c.Form("seen")}
	call.Channel, call.Happened, call.Note = channel, happened, c.Form("note")
	return callAct(c, "tried", func() error {
		_, err := s.prog.LogCall(c.R.Context(), c.Actor(), call)
		return err
	}, c.writtenDown)
}

// cutWhat cuts "phone/no-answer" into the channel and what came of it.
func cutWhat(s string) (channel, happened string) {
	channel, happened, _ = strings.Cut(s, "/")
	return channel, happened
}

// callSpoke writes down what was told.
func callSpoke(s *Server, c *Context) error {
	call := programme.LogCall{Act: c.Act(), Visit: c.R.PathValue("visit"), Seen: c.Form("seen"), CallDetails: c.callDetails()}
	return callAct(c, "spoke", func() error {
		at, err := c.callTime(s)
		if err != nil {
			return err
		}
		call.At = at
		_, err = s.prog.LogCall(c.R.Context(), c.Actor(), call)
		return err
	}, c.writtenDown)
}

// callDetails reads what was told from the form.
func (c *Context) callDetails() programme.CallDetails {
	d := programme.CallDetails{
		Channel: c.Form("way"), Happened: string(followup.Reached), Note: c.Form("note"), Caller: c.Form("caller"), Outcome: c.Form("outcome"), On: c.Form("on"),
		Reason: c.Form("reason"), Source: c.Form("source"), Test: c.Form("test"), Value: c.Form("value"), TestOn: c.Form("test_on"), Said: c.Form("said"),
	}
	if d.Value != "" {
		d.Unit = c.Form("unit")
	}
	if d.Channel == "news" {
		d.Channel, d.Happened = "", ""
	}
	if d.Outcome != string(followup.NotYet) && d.Outcome != string(followup.Declined) {
		d.Reason = ""
	}
	return d
}

// callTime reads when it was, if it was not now, on the wall clock of the event; the zero time for now.
func (c *Context) callTime(s *Server) (time.Time, error) {
	day, at := c.Form("day"), c.Form("time")
	if day == "" && at == "" {
		return time.Time{}, nil
	}
	if day == "" || at == "" {
		return time.Time{}, fault.BadField("time", "Give both the day and the time, or neither.")
	}
	on, err := civil.Parse(day)
	if err != nil {
		return time.Time{}, fault.BadField("day", "%v.", err)
	}
	clock, err := civil.ParseClock(at)
	if err != nil {
		return time.Time{}, fault.BadField("time", "%v.", err)
	}
	_, d, err := s.prog.FollowUpOf(c.R.Context(), c.R.PathValue("visit"))
	if err != nil {
		return time.Time{}, err
	}
	t := clock.On(on, d.Event.Zone())
	if t.After(s.prog.Now()) {
		return time.Time{}, fault.BadField("time", "%s has not come yet.", t.Format("2 Jan 2006, 15:04"))
	}
	return t, nil
}

// writtenDown goes back to the list and says what comes next.
func (c *Context) writtenDown() error {
	x, d, err := c.s.prog.FollowUpOf(c.R.Context(), c.R.PathValue("visit"))
	if err != nil {
		return err
	}
	note := "Ticket " + ticketText(x.Visit.Ticket) + " is written down."
	if x.Task == nil {
		note += " Nothing more is due."
	} else {
		note += " Next: " + taskWord(*x.Task, x.Case.Rules.Attempts) + ", " + taskTime(*x.Task, c.s.prog.Now(), d.Event.Zone()) + "."
	}
	return c.Done("/follow-up", note)
}

func callHandOver(s *Server, c *Context) error {
	return callAct(c, "hand", func() error {
		_, err := s.prog.HandOver(c.R.Context(), c.Actor(), programme.HandOver{Act: c.Act(), Visit: c.R.PathValue("visit"), To: c.Form("to"), Note: c.Form("note")})
		return err
	}, func() error { return c.Done("/follow-up", "Handed over.") })
}

// callLetter makes one letter, or the note for the clinician.
func callLetter(s *Server, c *Context) error {
	var l programme.Letter
	return callAct(c, "letter", func() (err error) {
		l, err = s.prog.MakeLetter(c.R.Context(), c.Actor(), programme.MakeLetter{Act: c.Act(), Visit: c.R.PathValue("visit"), To: c.Form("to"), Language: c.Form("language")})
		return err
	}, func() error { return c.sendLetters(l) })
}

// followUpLetters makes every letter that waits.
func followUpLetters(s *Server, c *Context) error {
	letters, err := s.prog.MakeLetters(c.R.Context(), c.Actor(), c.Act())
	if err != nil {
		f := fault.Of(err)
		if f.Kind == fault.Internal {
			return err
		}
		return c.followUpAgain("letters", f)
	}
	return c.sendLetters(letters...)
}

func (c *Context) sendLetters(letters ...programme.Letter) error {
	sheets := make([]paper.PersonLetter, len(letters))
	for i, l := range letters {
		sheets[i] = letterOf(l, c.s.prog.Now(), c.s.opt.Demo != nil)
	}
	size, err := paperSize(c.Form("paper"))
	if err != nil {
		return err
	}
	var buf bytes.Buffer
	if err := paper.WriteLetters(&buf, sheets, size); err != nil {
		return err
	}
	c.W.Header().Set("Content-Disposition", `inline; filename="letters.pdf"`)
	return c.sendFile("application/pdf", "", buf.Bytes())
}
