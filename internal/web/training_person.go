package web

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"fairstick/internal/civil"
	"fairstick/internal/competence"
	"fairstick/internal/competence/cards"
	"fairstick/internal/fault"
	"fairstick/internal/programme"
	"fairstick/internal/web/ui"
)

// traineeView is everything about the training of one person.
type traineeView struct {
	Page      ui.Page
	Stray     *fault.Fault
	Path      string
	Say       string // how it stands for what the roles ask
	Holds     bool
	Ready     bool // only the signature is missing
	Missing   []string
	Levels    []listRow
	LevelCols []ui.Col
	Shown     []listRow // what was shown, newest first
	ShownCols []ui.Col
	Own       bool
	Print     bool
	Seconds   []ui.Link // second forms that the one who is signed in may fill in today
	On        ui.Input
	OnError   string

	Grant, External, Hepatitis, Model, Practice, Teach, WarmUp, Withdraw *officeForm // nil where it is not offered
}

func traineeShow(_ *Server, c *Context) error { return c.traineeAgain("", nil) }

func (c *Context) traineeAgain(refused string, f *fault.Fault) error {
	day, err := c.asOf()
	wrongDay := ""
	if err != nil {
		wrongDay = ui.Message(fault.Of(err), "on")
	}
	t, err := c.s.prog.Training(c.R.Context(), c.R.PathValue("person"), day)
	if err != nil {
		return err
	}
	v := traineeView{Page: c.page(t.Person.Details.Name), Path: "/training/" + t.Person.ID, Own: c.Me.ID == t.Person.ID, OnError: wrongDay}
	v.Page.Back, v.Page.Wide = &ui.Link{Href: "/training", Label: "Training"}, true
	v.Page.Lead = rolesText(t.Person.Details.Roles)
	on := ""
	if !day.IsZero() {
		on = day.String()
	}
	v.On = ui.Input{Name: "on", Label: "How it stood on", Value: on, Kind: ui.Date, Width: ui.Medium, Error: wrongDay}
	v.standing(t, !day.IsZero())
	v.shown(t)
	for _, o := range t.Skill.Observations {
		if _, err := c.s.prog.MaySeeAgain(c.R.Context(), c.Me.ID, t.Person.ID, o.FactID); err == nil {
			v.Seconds = append(v.Seconds, ui.Link{Href: v.Path + "/observe?of=" + o.FactID, Label: "Second form of what " + t.NameOf(o.Observer) + " observed at " + o.At.In(c.s.prog.Now().Location()).Format("15:04")})
		}
	}
	c.traineeForms(&v, t, refused, f)
	v.Stray = stray(f, refused, v.Grant, v.External, v.Hepatitis, v.Model, v.Practice, v.Teach, v.WarmUp, v.Withdraw)
	return c.Show(f, TraineePage(v))
}

func (v *traineeView) standing(t programme.Training, past bool) {
	at := t.At(t.Target)
	v.Holds, v.Ready = at.Holds, at.Ready && !past
	word := levelTitle(t.Target)
	switch {
	case at.Holds && past:
		v.Say = fmt.Sprintf("By what is on record: verified as %s on %s, until %s.", word, t.Day.Long(), at.Until.Long())
	case at.Holds:
		v.Say = fmt.Sprintf("Verified as %s until %s.", word, at.Until.Long())
	case past:
		v.Say = fmt.Sprintf("By what is on record: not verified as %s on %s.", word, t.Day.Long())
	case at.Ready:
		v.Say = "Every proof is there. Only a signature is missing."
	default:
		v.Say = "Not verified as " + word + "."
	}
	for _, m := range at.Missing {
		v.Missing = append(v.Missing, m.Sentence.In("en"))
	}
	v.LevelCols = columns("Level", "How it stands", "What ends first")
	for _, x := range t.Levels {
		row := listRow{Cells: []string{levelTitle(x.Level), "until " + x.Until.Long(), endWords[x.Because]}}
		if !x.Holds {
			row.Cells[1], row.Cells[2] = firstMissing(x.Missing), "-"
		}
		v.Levels = append(v.Levels, row)
	}
	v.Print = slices.ContainsFunc(t.Skill.SignOffs, func(o competence.SignOff) bool { return o.Withdrawn == "" })
}

// passedText is the word of an attempt.
func passedText(ok bool) string {
	if ok {
		return "passed"
	}
	return "not passed"
}

// shown lists every proof with its day, newest first.
func (v *traineeView) shown(t programme.Training) {
	v.ShownCols = columns("Day", "What", "How it went", "By")
	type line struct {
		day civil.Date
		listRow
	}
	var all []line
	add := func(day civil.Date, href, what, how, by string) {
		all = append(all, line{day, listRow{Href: href, Cells: []string{day.Long(), what, how, cmp.Or(by, "-")}}})
	}
	s := t.Skill
	for _, q := range s.Quizzes {
		how := fmt.Sprintf("%s, %d of %d right", passedText(q.Passed), q.Right, q.Of)
		if n := len(q.CriticalMissed); n > 0 {
			how += fmt.Sprintf(", %d of those that can harm somebody wrong", n)
		}
		if q.Late {
			how += ", late"
		}
		add(q.Day, v.Path+"/quiz/"+q.FactID, "Quiz, "+levelTitle(q.Level), how, "")
	}
	for _, r := range s.Rehearsals {
		href, by := "", t.NameOf(r.Recorder)
		if r.Protocol != "" { // done with the program, and by nobody else's word
			href, by = v.Path+"/rehearsed/"+r.FactID, ""
		}
		add(r.Day, href, "Practice day, "+levelTitle(r.Level), fmt.Sprintf("%s, %d of %d right", passedText(r.Passed), r.Right, r.Of), by)
	}
	for _, o := range s.Observations {
		add(o.Day, "", "Observed, "+levelTitle(o.Level), observedText(o), t.NameOf(o.Observer))
	}
	for _, b := range s.Bloodborne {
		add(b.Day, "", "Bloodborne training", "on record", b.By)
	}
	for _, h := range s.HepatitisB {
		how := "not cleared"
		if h.Cleared {
			how = "cleared"
		}
		add(h.Day, "", "Work with blood", how, "the college")
	}
	for _, x := range s.Seconds {
		add(x.Day, "", "Second form of an observation", "shows whether two observers see the same", t.NameOf(x.Observer))
	}
	for _, m := range s.Models {
		add(m.Day, "", "Meter "+m.Model, cmp.Or(m.Edition, "any instructions"), t.NameOf(m.By))
	}
	for _, w := range s.WarmUps {
		add(w.Day, "", "Warm-up", strings.ReplaceAll(w.How, "-", " "), t.NameOf(w.By))
	}
	for _, x := range s.Teaching {
		add(x.Day, "", "Teaching after the attempts, "+levelTitle(x.Level), x.Note, t.NameOf(x.By))
	}
	for _, g := range s.SignOffs {
		how := "until " + g.Until.Long()
		if g.Withdrawn != "" {
			how = "withdrawn on " + g.WithdrawnOn.Long() + ": " + g.Withdrawn
		}
		add(g.From, "", "Verified as "+levelTitle(g.Level), how, t.NameOf(g.Granted.By))
	}
	slices.Reverse(all)
	slices.SortStableFunc(all, func(a, b line) int { return -b.day.DaysUntil(a.day) })
	for _, x := range all {
		v.Shown = append(v.Shown, x.listRow)
	}
}

func observedText(o competence.Observation) string {
	how := passedText(o.Passed)
	if missed := missedSteps(o); missed != "" {
		how += ", missed step " + missed
	}
	if o.Sample != nil {
		how += ", sample within its limits"
		if !o.Sample.Within {
			how = strings.Replace(how, "sample within", "sample outside", 1)
		}
	}
	if o.Note != "" {
		how += ". " + o.Note
	}
	if o.Withdrawn != "" {
		how += ". No longer counts: " + o.Withdrawn
	}
	return how
}

// missedSteps are the numbers of the steps that were missed.
func missedSteps(o competence.Observation) string {
	var out []string
	for _, st := range cards.For(o.Level) {
		if o.Marks[st.Key] == competence.Missed {
			out = append(out, fmt.Sprint(st.Number))
		}
	}
	return strings.Join(out, ", ")
}

func levelOptions() []ui.Option {
	out := []ui.Option{}
	for _, l := range cards.Levels {
		out = append(out, ui.Option{Value: string(l), Label: levelTitle(l)})
	}
	return out
}

// chosenFrom makes a field a choice from a list.
func chosenFrom(in ui.Input, list []ui.Option) ui.Input {
	in.Kind, in.Options, in.Width = ui.Select, list, ui.Medium
	return in
}

// traineeForms are the acts of a lead or supervisor; none on one's own page but the withdrawal.
func (c *Context) traineeForms(v *traineeView, t programme.Training, refused string, f *fault.Fault) {
	sheet := func(scope, submit string, items func(dayForm) []item) *officeForm {
		form := c.dayForm(scope, v.Path+"/"+scope, refused, f)
		if scope == "hepatitis" {
			form.action = v.Path + "/external"
		}
		return &officeForm{Form: form, Submit: submit, Parts: []part{{Items: items(form)}}}
	}
	level := func(form dayForm) item {
		return field(chosenFrom(form.line("level", "Level", string(t.Target)), levelOptions()))
	}
	day := func(form dayForm) item {
		in := optional(size(form.line("day", "Day", ""), ui.Medium, ui.Date, "Empty: today."))
		in.Max = t.Day.String()
		return field(in)
	}
	stands := slices.ContainsFunc(t.Skill.SignOffs, func(o competence.SignOff) bool { return o.Withdrawn == "" }) ||
		slices.ContainsFunc(t.Skill.Observations, func(o competence.Observation) bool { return o.Withdrawn == "" })
	if stands {
		v.Withdraw = sheet("withdraw", "Withdraw", func(form dayForm) []item {
			return []item{level(form), field(size(form.line("reason", "Reason", ""), ui.Full, ui.Text, "It ends the level and those above it at once, and the observations made so far no longer count."))}
		})
		v.Withdraw.Danger = true
	}
	if v.Own {
		return
	}
	v.Grant = sheet("grant", "Sign the verification", func(form dayForm) []item {
		return []item{level(form), field(optional(size(form.line("until", "Last day", ""), ui.Medium, ui.Date, "Empty: as long as the proof lasts."))), field(optional(size(form.line("note", "Note", ""), ui.Full, ui.Text, "")))}
	})
	v.External = sheet("external", "Record the bloodborne training", func(form dayForm) []item {
		return []item{day(form), field(size(form.line("by", "Who held it", ""), ui.Full, ui.Text, ""))}
	})
	v.Hepatitis = sheet("hepatitis", "Record the college's word", func(form dayForm) []item {
		return []item{day(form), pick(form.choice("word", "What the college says about work with blood", "", ui.Option{Value: "cleared", Label: "Cleared"}, ui.Option{Value: "not-cleared", Label: "Not cleared"}))}
	})
	v.Practice = sheet("practice", "Record the practice day", func(form dayForm) []item {
		return []item{level(form), day(form), pair(
			size(form.line("of", "Decisions", ""), ui.Short, ui.Number, ""), size(form.line("right", "Right ones", ""), ui.Short, ui.Number, ""),
			optional(size(form.line("harm", "Wrong ones that could have harmed", ""), ui.Short, ui.Number, "")))}
	})
	if len(t.Models) > 0 {
		v.Model = sheet("model", "Record the training on a meter", func(form dayForm) []item {
			var list []ui.Option
			for _, m := range t.Models {
				list = append(list, ui.Option{Value: m.Name + "|" + m.Edition, Label: strings.TrimSuffix(m.Name+", "+m.Edition, ", ")})
			}
			return []item{field(chosenFrom(form.line("model", "Meter and its instructions", list[0].Value), list)), day(form)}
		})
	}
	if len(t.Skill.Tries) > 0 {
		v.Teach = sheet("teach", "Record the teaching", func(form dayForm) []item {
			return []item{
				pick(form.choice("what", "After attempts at", "quiz", ui.Option{Value: "quiz", Label: "the quiz"}, ui.Option{Value: "observed", Label: "an observation"})), level(form),
				field(size(form.line("note", "What was taught", ""), ui.Full, ui.Text, "")),
			}
		})
	}
	v.WarmUp = sheet("warm-up", "Record the warm-up", func(form dayForm) []item {
		return []item{pick(form.choice("how", "After a long pause, before testing again", "", ui.Option{Value: "control-run", Label: "One control run"}, ui.Option{Value: "observed-test", Label: "One observed test"}))}
	})
}

func traineeQuiz(_ *Server, c *Context) error {
	person := c.R.PathValue("person")
	return c.showQuiz(person, c.R.PathValue("quiz"), &ui.Link{Href: "/training/" + person, Label: "Training"})
}

// trained answers a form of the page: back to it with a sentence, or again with what is wrong.
func (c *Context) trained(scope, sentence string, err error) error {
	if err != nil {
		return c.traineeAgain(scope, fault.Of(err))
	}
	return c.Done("/training/"+c.R.PathValue("person"), sentence)
}

func traineeExternal(s *Server, c *Context) error {
	cmd := programme.RecordExternal{Act: c.Act(), Person: c.R.PathValue("person"), Kind: "bloodborne", Day: c.Form("day"), By: c.Form("by"), Word: c.Form("word")}
	scope := "external"
	if _, college := c.R.PostForm["word"]; college || !c.R.PostForm.Has("by") {
		cmd.Kind, scope = "hepatitis-b", "hepatitis"
	}
	_, err := s.prog.RecordExternal(c.R.Context(), c.Actor(), cmd)
	return c.trained(scope, "It is recorded.", err)
}

func traineeModel(s *Server, c *Context) error {
	model, edition, _ := strings.Cut(c.Form("model"), "|")
	_, err := s.prog.TrainModel(c.R.Context(), c.Actor(), programme.TrainModel{Act: c.Act(), Person: c.R.PathValue("person"), Model: model, Edition: edition, Day: c.Form("day")})
	return c.trained("model", "The training on the meter is recorded.", err)
}

func traineePractice(s *Server, c *Context) error {
	of, err1 := c.Int("of", "Decisions")
	right, err2 := c.Int("right", "Right ones")
	harm, err3 := c.Int("harm", "Wrong ones")
	if f := merge(err1, err2, err3); f != nil {
		return c.traineeAgain("practice", f)
	}
	_, err := s.prog.RecordPractice(c.R.Context(), c.Actor(), programme.RecordPractice{Act: c.Act(), Person: c.R.PathValue("person"), Level: c.Form("level"), Day: c.Form("day"), Right: right, Of: of, Harm: harm})
	return c.trained("practice", "The practice day is recorded.", err)
}

func traineeTeach(s *Server, c *Context) error {
	_, err := s.prog.RecordTeaching(c.R.Context(), c.Actor(), programme.RecordTeaching{Act: c.Act(), Person: c.R.PathValue("person"), What: c.Form("what"), Level: c.Form("level"), Note: c.Form("note")})
	return c.trained("teach", "The teaching is recorded. The attempts are free again.", err)
}

func traineeWarmUp(s *Server, c *Context) error {
	_, err := s.prog.RecordWarmUp(c.R.Context(), c.Actor(), programme.RecordWarmUp{Act: c.Act(), Person: c.R.PathValue("person"), How: c.Form("how")})
	return c.trained("warm-up", "The warm-up is recorded.", err)
}

func traineeGrant(s *Server, c *Context) error {
	_, err := s.prog.GrantLevel(c.R.Context(), c.Actor(), programme.GrantLevel{Act: c.Act(), Person: c.R.PathValue("person"), Level: c.Form("level"), Until: c.Form("until"), Note: c.Form("note")})
	return c.trained("grant", "The verification is signed.", err)
}

func traineeWithdraw(s *Server, c *Context) error {
	_, err := s.prog.WithdrawLevel(c.R.Context(), c.Actor(), programme.WithdrawLevel{Act: c.Act(), Person: c.R.PathValue("person"), Level: c.Form("level"), Reason: c.Form("reason")})
	return c.trained("withdraw", "The verification is withdrawn.", err)
}
