package web

import (
	"slices"

	"fairstick/internal/about"
	"fairstick/internal/fault"
	"fairstick/internal/programme"
	"fairstick/internal/visit"
	"fairstick/internal/web/ui"
	"fairstick/internal/wording"
)

// aboutRow is one of the questions that participants answer about themselves if they want to, in the language of the page.
type aboutRow struct {
	Name         string
	Legend, Help string
	Options      []ui.Option // with the way out at the end
	Several      bool
	Digits       int
	Said         []string
	Wrong        string
}

// value gives the answer to a question with one.
func (r aboutRow) value() string {
	if len(r.Said) == 0 {
		return ""
	}
	return r.Said[0]
}

// typed gives the digits that were typed.
func (r aboutRow) typed() string {
	if v := r.value(); v != about.PreferNot {
		return v
	}
	return ""
}

func (r aboutRow) prefersNot() bool { return slices.Contains(r.Said, about.PreferNot) }

// aboutIn gives questions in a language of the day.
func aboutIn(d *programme.Day, lang string, list []about.Question) []aboutRow {
	prefer := about.PreferNotText
	if l, ok := d.Tongue(lang); ok {
		list, prefer = wording.Fill(l, list), wording.Fill(l, prefer)
	}
	var out []aboutRow
	for _, q := range list {
		row := aboutRow{Name: about.Field(q.Key), Legend: q.Text.In(lang), Help: q.Help.In(lang), Several: q.Several, Digits: q.Digits}
		for _, o := range q.Options {
			row.Options = append(row.Options, ui.Option{Value: o.Code, Label: o.Text.In(lang)})
		}
		row.Options = append(row.Options, ui.Option{Value: about.PreferNot, Label: prefer.In(lang)})
		out = append(out, row)
	}
	return out
}

// aboutRows puts the questions of the desk on the page, with what was said before or was refused now.
func (c *Context) aboutRows(d *programme.Day, v *visit.State, view *deskVisitView) []aboutRow {
	asked := about.Chosen(d.Charter.Asks, false)
	rows := aboutIn(d, view.Lang, asked)
	for i, q := range asked {
		rows[i].Said, rows[i].Wrong = v.About[q.Key], ui.Message(view.Fault, rows[i].Name)
		if view.Fault != nil {
			rows[i].Said = c.Forms(rows[i].Name)
		}
	}
	return rows
}

// aboutSaid reads the answers of a form. Five digits that were typed for three go no further than this.
func (c *Context) aboutSaid(list []about.Question) about.Answers {
	out := about.Answers{}
	for _, q := range list {
		if said := c.Forms(about.Field(q.Key)); len(said) > 0 {
			out[q.Key] = said
		}
	}
	return out
}

func deskAbout(s *Server, c *Context) error {
	d, v, err := c.visit()
	if err != nil {
		return err
	}
	cmd := programme.TellAbout{Act: c.Act(), Visit: v.ID, Answers: about.Answers{}}
	if c.Form("pass") != "yes" {
		cmd.Answers = c.aboutSaid(about.Chosen(d.Charter.Asks, false))
	}
	if _, err := s.prog.TellAbout(c.R.Context(), c.Actor(), cmd); err != nil {
		return c.showVisitAtDesk(fault.Of(err), keepAbout(c))
	}
	return c.Go(dayBase(d) + "/desk/" + v.ID + "?lang=" + c.Form("lang"))
}

// keepAbout leaves the page at the questions with what was chosen.
func keepAbout(c *Context) func(*programme.Day, *visit.State, *deskVisitView) {
	return func(d *programme.Day, v *visit.State, view *deskVisitView) {
		view.Step, view.Page.Title = stepAbout, c.say().Desk.Titles[stepAbout]
		view.About = c.aboutRows(d, v, view)
	}
}
