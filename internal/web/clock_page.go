package web

import (
	"strconv"
	"time"

	"fairstick/internal/fault"
	"fairstick/internal/programme"
	"fairstick/internal/web/ui"
)

// clockView asks which clock is right after this laptop's jumped.
type clockView struct {
	Page     ui.Page
	Fault    *fault.Fault
	Form     dayForm
	Ask      bool
	Sentence string
	Record   ui.Figure
	Laptop   ui.Figure
	Ahead    string // seconds, as the person saw it
	Back     bool   // the laptop's clock is behind
}

func clockShow(_ *Server, c *Context) error { return c.clockAgain(nil) }

func (c *Context) clockAgain(f *fault.Fault) error {
	d, err := c.Day()
	if err != nil {
		return err
	}
	zone, st := d.Event.Zone(), c.s.prog.ClockState()
	v := clockView{Page: c.dayPage(d, "Which clock is right?", "board"), Fault: f, Ask: st.Ask, Sentence: st.Sentence(zone), Back: st.Ahead < 0}
	v.Page.Wide = false
	v.Page.Back = &ui.Link{Href: dayBase(d) + "/board", Label: "Board"}
	v.Form = c.dayForm("clock", dayBase(d)+"/clock", "clock", f)
	v.Ahead = strconv.FormatInt(int64(st.Ahead/time.Second), 10)
	show := func(label string, at time.Time) ui.Figure {
		at = at.In(zone)
		return ui.Figure{Label: label, Number: at.Format("15:04"), Of: at.Format("Monday 2 January 2006")}
	}
	v.Record, v.Laptop = show("Fairstick goes on with", st.Now), show("This laptop shows", st.Laptop())
	return c.Show(f, ClockPage(v))
}

func clockAnswer(s *Server, c *Context) error {
	id := c.R.PathValue("event")
	ahead, err := strconv.ParseInt(c.Form("ahead"), 10, 64)
	if err != nil || ahead > 1<<33 || ahead < -1<<33 {
		return c.clockAgain(fault.BadField("answer", "The form is damaged. Load the page again."))
	}
	_, err = s.prog.AnswerClock(c.R.Context(), c.Actor(), programme.AnswerClock{
		Act: c.Act(), Event: id, Answer: c.Form("answer"), Ahead: time.Duration(ahead) * time.Second,
	})
	if err != nil {
		return c.clockAgain(fault.Of(err))
	}
	return c.Done("/events/"+id+"/board", "The answer about the clock is in the record.")
}
