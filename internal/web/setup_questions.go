package web

import (
	"strings"

	"fairstick/internal/about"
	"fairstick/internal/fault"
	"fairstick/internal/programme"
	"fairstick/internal/web/ui"
)

// questionsShow lets a lead choose what participants are asked about themselves.
func questionsShow(_ *Server, c *Context) error { return c.questionsAgain(nil) }

func (c *Context) questionsAgain(f *fault.Fault) error {
	ch, err := c.s.prog.Charter(c.R.Context())
	if err != nil {
		return err
	}
	form := c.dayForm("questions", "/setup/questions", "questions", f)
	options := func(end bool) []ui.Option {
		var out []ui.Option
		for _, q := range about.Questions() {
			if q.End != end {
				continue
			}
			out = append(out, ui.Option{Value: q.Key, Label: q.Text["en"], Hint: strings.TrimSpace(answersSaid(q) + " " + q.Why)})
		}
		return out
	}
	v := officeForm{Form: form, Plain: true, Submit: "Save the choice", Parts: []part{
		{ID: "desk", Heading: "At the desk", Help: "One page after the contact, when the person stands in the line for the test already. Every question has “I prefer not to say”, and one press passes all of them over. Paper forms that are printed from then on carry the questions too.", Items: []item{
			tickBoxes(form.several("question", "What do we ask at the desk?", ch.Asks, options(false)...)),
		}},
		{ID: "end", Heading: "At Explain", Items: []item{tickBoxes(form.several("question_end", "What do we ask at the end?", ch.Asks, options(true)...))}},
	}}
	p := c.officePage("What do we ask people about themselves?", "Nothing, until you choose it. No test, limit or advice depends on an answer; they show in the equity report whom you reach and who completes follow-up.", "setup", toSetup())
	return c.Show(f, OfficeForm(p, v))
}

// answersSaid lists the answers of a question for the lead.
func answersSaid(q about.Question) string {
	if q.Digits > 0 {
		return ""
	}
	words := make([]string, len(q.Options))
	for i, o := range q.Options {
		words[i] = o.Text["en"]
	}
	said := strings.Join(words, ", ") + "."
	if q.Several {
		said = "Several answers: " + said
	}
	return said
}

func questionsSave(s *Server, c *Context) error {
	_, err := s.prog.ChooseQuestions(c.R.Context(), c.Actor(), programme.ChooseQuestions{Act: c.Act(), Questions: append(c.Forms("question"), c.Forms("question_end")...)})
	if err != nil {
		return c.questionsAgain(fault.Of(err))
	}
	return c.Done("/setup", "Saved. New visits are asked these questions.")
}
