package web

import (
	"fmt"
	"net/http"
	"slices"
	"strconv"

	"fairstick/internal/civil"
	"fairstick/internal/competence/bank"
	"fairstick/internal/competence/cards"
	"fairstick/internal/fault"
	"fairstick/internal/programme"
	"fairstick/internal/web/ui"
)

// learnView is where somebody stands and what they can learn next.
type learnView struct {
	Page    ui.Page
	Level   string
	Until   string   // verified until; empty while something is missing
	Missing []string // sentences
	Steps   []learnRow
	First   string
	Quizzes []ui.Link
	Own     []string // what else is on record, newest first
	OwnHead string
}

type learnRow struct {
	Href, Text string
	Harm       cards.Harm
}

// dayIn writes a day in the language of the page.
func dayIn(lang string, d civil.Date) string { return bank.Day(d).In(lang) }

func learnShow(s *Server, c *Context) error {
	t, err := s.prog.Training(c.R.Context(), c.Me.ID, civil.Date{})
	if err != nil {
		return err
	}
	say, lang := c.say().Learn, c.lang()
	v := learnView{Page: c.page(say.Title), Level: say.For(t.Target.Word().In(lang))}
	v.Page.Lead, v.Page.Back = say.Lead, &ui.Link{Href: "/", Label: c.say().Shell.Start}
	at := t.At(t.Target)
	if at.Holds {
		v.Until = say.Holds(dayIn(lang, at.Until))
	}
	for _, m := range at.Missing {
		v.Missing = append(v.Missing, m.Sentence.In(lang))
	}
	for _, x := range cards.For(t.Target) {
		v.Steps = append(v.Steps, learnRow{Href: fmt.Sprintf("/learn/steps/%d", x.Number), Text: x.Do.In(lang), Harm: x.Harm})
	}
	if len(v.Steps) == 0 {
		for _, x := range cards.Steps() {
			v.Steps = append(v.Steps, learnRow{Href: fmt.Sprintf("/learn/steps/%d", x.Number), Text: x.Do.In(lang), Harm: x.Harm})
		}
	}
	v.First = v.Steps[0].Href
	for _, q := range slices.Backward(t.Skill.Quizzes) {
		label := say.NotPassed(dayIn(lang, q.Day))
		if q.Passed {
			label = say.PassedOn(dayIn(lang, q.Day))
		}
		v.Quizzes = append(v.Quizzes, ui.Link{Href: "/learn/results/" + q.FactID, Label: fmt.Sprintf("%s, %s: %d/%d", label, q.Level.Word().In(lang), q.Right, q.Of)})
	}
	v.Own, v.OwnHead = ownRecord(t.Skill, lang), ownSaid[lang].Title
	return c.Render(http.StatusOK, LearnPage(v))
}

// stepView is one card.
type stepView struct {
	Page                ui.Page
	Step                cards.Step
	Lang                string
	Drawing             *cards.Drawing
	Before, Next        string // addresses
	NextLabel, LastText string
}

func learnStep(s *Server, c *Context) error {
	n, err := strconv.Atoi(c.R.PathValue("number"))
	t, failed := s.prog.Training(c.R.Context(), c.Me.ID, civil.Date{})
	if failed != nil {
		return failed
	}
	all := cards.For(t.Target)
	i := slices.IndexFunc(all, func(x cards.Step) bool { return x.Number == n })
	if i < 0 { // a step of other work
		all = cards.Steps()
		i = slices.IndexFunc(all, func(x cards.Step) bool { return x.Number == n })
	}
	if err != nil || i < 0 {
		return fault.New(fault.Missing, "no-such-step", "There is no such step.", "The address may have been typed or linked wrongly.", "Go back to the list and choose it there.")
	}
	say := c.say().Learn
	v := stepView{Page: c.page(say.Number(i+1, len(all))), Step: all[i], Lang: c.lang(), NextLabel: say.Next}
	v.Page.Back = &ui.Link{Href: "/learn", Label: say.AllOf}
	if i > 0 {
		v.Before = fmt.Sprintf("/learn/steps/%d", all[i-1].Number)
	}
	if i+1 < len(all) {
		v.Next = fmt.Sprintf("/learn/steps/%d", all[i+1].Number)
	} else {
		v.Next, v.NextLabel, v.LastText = "/learn/quiz", say.Quiz, say.LastStep
	}
	drawings, err := cards.Drawings()
	if err != nil {
		return err
	}
	for _, d := range drawings {
		if d.Key == all[i].Drawing {
			v.Drawing = &d
		}
	}
	return c.Render(http.StatusOK, LearnStepPage(v))
}

// quizView is the page before a quiz.
type quizView struct {
	Page                 ui.Page
	Rules, Minutes, Left string
	Start                ui.Link
	Others               []ui.Link
}

func quizStart(s *Server, c *Context) error {
	t, err := s.prog.Training(c.R.Context(), c.Me.ID, civil.Date{})
	if err != nil {
		return err
	}
	say, lang, q := c.say().Learn, c.lang(), t.Rules.Quiz
	v := quizView{Page: c.page(say.Quiz), Rules: say.Rules(q.Questions, q.PassMark, q.Attempts)}
	v.Page.Lead, v.Page.Back = say.QuizLead, &ui.Link{Href: "/learn", Label: say.Title}
	if q.Minutes > 0 {
		v.Minutes = say.Minutes(q.Minutes)
	}
	left := q.Attempts - t.Skill.Tries["quiz/"+string(t.Target)].Failed
	v.Left = say.NoneLeft
	if left > 0 {
		v.Left = say.Left(left)
		v.Start = ui.Link{Href: "/learn/quiz/" + string(t.Target) + "/1", Label: say.TakeQuiz + ": " + t.Target.Word().In(lang)}
	}
	for _, l := range cards.Levels {
		if l != t.Target && t.Rules.Levels[l].Quiz {
			v.Others = append(v.Others, ui.Link{Href: "/learn/quiz/" + string(l) + "/1", Label: l.Word().In(lang)})
		}
	}
	return c.Render(http.StatusOK, QuizStartPage(v))
}

// questionView is one question of a quiz.
type questionView struct {
	Page     ui.Page
	Fault    *fault.Fault
	Sitting  programme.Sitting
	Question bank.Question
	Place    int // from 0
	Lang     string
	Action   string
	Back     string // address of the question before
}

func quizLevel(c *Context) cards.Level { return cards.Level(c.R.PathValue("level")) }

func quizQuestion(s *Server, c *Context) error { return c.askQuestion(nil) }

func (c *Context) askQuestion(f *fault.Fault) error {
	sit, err := c.s.prog.OpenQuiz(c.R.Context(), c.Actor(), quizLevel(c))
	if err != nil {
		return err
	}
	n, err := strconv.Atoi(c.R.PathValue("place"))
	if err != nil || n < 1 || n > len(sit.Quiz.Questions) {
		return fault.New(fault.Missing, "no-such-question", "There is no such question in this quiz.", "", "Go back to the quiz.")
	}
	base := "/learn/quiz/" + string(sit.Level) + "/"
	v := questionView{
		Page: c.page(c.say().Learn.Question(n, len(sit.Quiz.Questions))), Fault: f, Sitting: sit, Question: sit.Quiz.Questions[n-1], Place: n - 1, Lang: c.lang(),
		Action: base + strconv.Itoa(n),
	}
	v.Page.Nav = nil
	v.Page.Back = &ui.Link{Href: "/learn/quiz", Label: c.say().Learn.Quiz}
	if n > 1 {
		v.Back = base + strconv.Itoa(n-1)
		v.Page.Back = &ui.Link{Href: v.Back, Label: c.say().Learn.Question(n-1, len(sit.Quiz.Questions))}
	}
	return c.Show(f, QuizQuestionPage(v))
}

func quizAnswer(s *Server, c *Context) error {
	l := quizLevel(c)
	n, err := strconv.Atoi(c.R.PathValue("place"))
	if err != nil {
		n = 0
	}
	seed, err := strconv.ParseUint(c.Form("seed"), 10, 64)
	if err != nil {
		return c.askQuestion(c.say().bad("choice", c.say().Learn.ChooseAnswer))
	}
	var chosen bank.Answer
	for _, x := range c.Forms("choice") {
		k, err := strconv.Atoi(x)
		if err != nil {
			return c.askQuestion(c.say().bad("choice", c.say().Learn.ChooseAnswer))
		}
		chosen = append(chosen, k)
	}
	sit, err := s.prog.AnswerQuiz(c.R.Context(), c.Actor(), l, seed, n-1, chosen)
	if fault.Is(err, "field-choice") {
		return c.askQuestion(c.say().bad("choice", c.say().Learn.ChooseAnswer))
	}
	if err != nil {
		return err
	}
	if n < len(sit.Quiz.Questions) {
		return c.Go(fmt.Sprintf("/learn/quiz/%s/%d", l, n+1))
	}
	return c.Go(fmt.Sprintf("/learn/quiz/%s/hand-in", l))
}

// quizEndView is the last page of a quiz before it is marked.
type quizEndView struct {
	Page  ui.Page
	Open  []ui.Link // questions without an answer
	Says  string
	Sheet ui.Sheet
	Seed  string
}

func quizEnd(s *Server, c *Context) error {
	sit, err := s.prog.OpenQuiz(c.R.Context(), c.Actor(), quizLevel(c))
	if err != nil {
		return err
	}
	say := c.say().Learn
	base := "/learn/quiz/" + string(sit.Level) + "/"
	v := quizEndView{Page: c.page(say.HandIn), Says: say.AllAnswered, Sheet: ui.Sheet{Action: base + "hand-in", Command: newCommand()}, Seed: strconv.FormatUint(sit.Seed, 10)}
	v.Page.Nav, v.Page.Lead = nil, say.HandInLead
	v.Page.Back = &ui.Link{Href: base + strconv.Itoa(len(sit.Quiz.Questions)), Label: say.Question(len(sit.Quiz.Questions), len(sit.Quiz.Questions))}
	for i := range sit.Quiz.Questions {
		if len(sit.Answers[i]) == 0 {
			v.Open = append(v.Open, ui.Link{Href: base + strconv.Itoa(i+1), Label: say.Question(i+1, len(sit.Quiz.Questions))})
		}
	}
	if len(v.Open) > 0 {
		v.Says = say.Open(len(v.Open))
	}
	return c.Render(http.StatusOK, QuizEndPage(v))
}

func quizHandIn(s *Server, c *Context) error {
	l := quizLevel(c)
	seed, err := strconv.ParseUint(c.Form("seed"), 10, 64)
	if err != nil {
		seed = 0
	}
	cmd := programme.TakeQuiz{Act: c.Act(), Level: l, Seed: seed, Language: c.lang()}
	if sit, err := s.prog.OpenQuiz(c.R.Context(), c.Actor(), l); err == nil && sit.Seed == seed {
		cmd.Answers = sit.All()
	}
	done, err := s.prog.TakeQuiz(c.R.Context(), c.Actor(), cmd)
	if err != nil {
		return err
	}
	return c.Go("/learn/results/" + done.ID)
}

// resultView is a quiz that was marked, with the reasons.
type resultView struct {
	Page  ui.Page
	Says  string
	Pass  bool
	Left  string
	Lang  string
	Items []resultItem
}

type resultItem struct {
	Stem, Why, Source string
	Chosen, Right     []string
	Correct, Critical bool
}

func quizResult(s *Server, c *Context) error {
	return c.showQuiz(c.Me.ID, c.R.PathValue("quiz"), &ui.Link{Href: "/learn", Label: c.say().Learn.Title})
}

// showQuiz shows a quiz of a person; wrong answers come first.
func (c *Context) showQuiz(person, id string, back *ui.Link) error {
	q, err := c.s.prog.ShowQuiz(c.R.Context(), person, id)
	if err != nil {
		return err
	}
	say, lang := c.say().Learn, c.lang()
	r := bank.Result{Right: q.Taken.Right, Of: q.Taken.Of, CriticalMissed: q.Taken.CriticalMissed, Late: q.Taken.Late, Passed: q.Taken.Passed}
	v := resultView{Page: c.page(say.Result), Says: r.Say().In(lang), Pass: q.Taken.Passed, Lang: lang}
	v.Page.Back = back
	switch {
	case q.Taken.Passed:
	case q.Left > 0:
		v.Left = say.Left(q.Left)
	default:
		v.Left = say.NoneLeft
	}
	for i, x := range q.Questions {
		it := resultItem{
			Stem: x.Stem.In(lang), Why: x.Why.In(lang), Source: bank.Reference(x.Source), Chosen: q.Taken.Answers[i].Chosen, Correct: q.Taken.Answers[i].Right, Critical: x.Critical,
		}
		for _, o := range x.Options {
			if o.Right {
				it.Right = append(it.Right, o.Text.In(lang))
			}
			for k, chosen := range it.Chosen { // in the language of the page, whatever it was taken in
				if chosen == o.Text.In(q.Taken.Language) {
					it.Chosen = slices.Clone(it.Chosen)
					it.Chosen[k] = o.Text.In(lang)
				}
			}
		}
		v.Items = append(v.Items, it)
	}
	slices.SortStableFunc(v.Items, func(a, b resultItem) int {
		switch {
		case a.Correct == b.Correct:
			return 0
		case b.Correct:
			return -1
		}
		return 1
	})
	return c.Render(http.StatusOK, QuizResultPage(v))
}

func (v questionView) chosen(option int) bool {
	return slices.Contains(v.Sitting.Answers[v.Place], option)
}
