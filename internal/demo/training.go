package demo

import (
	"context"
	"fmt"
	"hash/fnv"

	"fairstick/internal/civil"
	"fairstick/internal/competence/bank"
	steps "fairstick/internal/competence/cards"
	"fairstick/internal/people"
	"fairstick/internal/programme"
)

// student is one of an invented class. Nobody of it stands on the roster of the day.
type student struct {
	name, pin, role string
	knows           int      // of 100 questions
	quizzes         int      // of the level of the role
	missed          []string // steps missed in a first observation that is not passed
	watched         int      // observations that are passed
	blood           string   // day of the bloodborne training
	papers          bool     // everything else that a screener needs
	signed          bool
	withdrawn       string
}

// students are a class in the middle of its season: some have not begun, one must be taught first, one only needs a signature, one is
// verified and lapses in three weeks, one was withdrawn.
func students() []student {
	return []student{
		{name: "Alva Inkwell", role: "desk"},
		{name: "Bram Tallow", role: "screener"},
		{name: "Cira Dovecote", role: "desk", knows: 97, quizzes: 1},
		{name: "Dorrit Penstock", role: "counsellor", knows: 96, quizzes: 1},
		{name: "Emlyn Quoit", role: "screener", knows: 40, quizzes: 1},
		{name: "Fenna Lathe", role: "screener", knows: 55, quizzes: 3},
		{name: "Gil Marzipan", role: "desk", knows: 75, quizzes: 2},
		{name: "Hedda Trellis", role: "counsellor", knows: 50, quizzes: 2},
		{name: "Idris Thimble", pin: "8351", role: "screener", knows: 100, quizzes: 1, missed: []string{"lancet-to-sharps"}, blood: "2026-09-01"},
		{name: "Jorun Saltcellar", pin: "9264", role: "screener", knows: 100, quizzes: 1, watched: 3, blood: "2026-09-01", papers: true},
		{name: "Kit Barometer", pin: "7418", role: "screener", knows: 100, quizzes: 1, watched: 3, blood: "2025-11-01", papers: true, signed: true},
		{name: "Lorcan Windlass", pin: "6927", role: "desk", knows: 100, quizzes: 1, watched: 1, signed: true, withdrawn: "Invented: read a name out aloud"},
	}
}

// ClassHints are those of the invented class who can sign in.
func ClassHints() []Hint {
	var out []Hint
	for _, x := range students() {
		if x.pin != "" {
			out = append(out, Hint{Name: x.name, Role: x.role + ", student", PIN: x.pin})
		}
	}
	return out
}

// Class adds an invented class to the invented day, with a teacher who may observe. Others may work on the record meanwhile.
func Class(ctx context.Context, p *programme.Programme, clock *Clock) error {
	s := NewStage(p, clock, clock.Now().Location(), civil.MustParse(marketDate).AddDays(1)) // ids of its own
	all, err := programme.List[*people.State](ctx, p, people.Kind)
	if err != nil {
		return err
	}
	pr := market()
	for _, x := range append([]Person{pr.Lead}, pr.People...) {
		s.SetPIN(x.Name, x.PIN)
	}
	for _, x := range all {
		s.Name(x.Details.Name, x.ID)
	}
	c := class{Stage: s, lead: pr.Lead.Name, teacher: "Tobias Wren"}
	if err := c.prepareTeacher(ctx); err != nil {
		return fmt.Errorf("demo: %s: %w", c.teacher, err)
	}
	for _, x := range students() {
		if err := c.student(ctx, x); err != nil {
			return fmt.Errorf("demo: %s: %w", x.name, err)
		}
	}
	return nil
}

type class struct {
	*Stage
	lead, teacher string
}

// quiz hands in a quiz of which somebody knows so many of 100 questions, always the same ones.
func (c class) quiz(ctx context.Context, name string, l steps.Level, knows int) error {
	sit, err := c.P.OpenQuiz(ctx, c.As(name), l)
	if err != nil {
		return err
	}
	cmd := programme.TakeQuiz{Act: c.Act(), Level: l, Seed: sit.Seed, Language: "en"}
	for _, q := range sit.Quiz.Questions {
		h := fnv.New32a()
		fmt.Fprintf(h, "%s %s", name, q.Key)
		right := int(h.Sum32()%100) < knows
		var answer bank.Answer
		for k, o := range q.Options {
			if o.Right == right {
				answer = append(answer, k)
				if !right {
					break
				}
			}
		}
		cmd.Answers = append(cmd.Answers, answer)
	}
	_, err = c.P.TakeQuiz(ctx, c.As(name), cmd)
	return err
}

// papers records what a person brings along besides quiz and observation; blood is the day of the bloodborne training.
func (c class) papers(ctx context.Context, name, blood string) error {
	me, id := c.As(c.lead), c.ID(name)
	if _, err := c.P.RecordExternal(ctx, me, programme.RecordExternal{Act: c.Act(), Person: id, Kind: "bloodborne", By: "Corvane School of Pharmacy", Day: blood}); err != nil {
		return err
	}
	t, err := c.P.Training(ctx, id, civil.Date{})
	if err != nil {
		return err
	}
	for _, m := range t.Models {
		if _, err := c.P.TrainModel(ctx, me, programme.TrainModel{Act: c.Act(), Person: id, Model: m.Name, Edition: m.Edition}); err != nil {
			return err
		}
	}
	return nil
}

func (c class) prepareTeacher(ctx context.Context) error {
	if err := c.quiz(ctx, c.teacher, steps.Verifier, 100); err != nil {
		return err
	}
	if err := c.papers(ctx, c.teacher, "2026-08-20"); err != nil {
		return err
	}
	_, err := c.P.GrantLevel(ctx, c.As(c.lead), programme.GrantLevel{Act: c.Act(), Person: c.ID(c.teacher), Level: string(steps.Verifier)})
	return err
}

func (c class) student(ctx context.Context, x student) error {
	me := c.As(c.lead)
	if err := c.person(ctx, me, Person{Name: x.name, PIN: x.pin, Title: "Student", Roles: []string{x.role}, Languages: []string{"en"}}); err != nil {
		return err
	}
	id, level := c.ID(x.name), steps.Level(x.role)
	for range x.quizzes {
		if err := c.quiz(ctx, x.name, level, x.knows); err != nil {
			return err
		}
	}
	if len(x.missed) > 0 {
		if err := c.watch(ctx, x.name, level, x.missed); err != nil {
			return err
		}
	}
	for range x.watched {
		if err := c.watch(ctx, x.name, level, nil); err != nil {
			return err
		}
	}
	if x.blood != "" {
		if err := c.papers(ctx, x.name, x.blood); err != nil {
			return err
		}
	}
	if x.papers {
		if _, err := c.P.RecordExternal(ctx, me, programme.RecordExternal{Act: c.Act(), Person: id, Kind: "hepatitis-b", Word: "cleared"}); err != nil {
			return err
		}
		if _, err := c.P.RecordPractice(ctx, me, programme.RecordPractice{Act: c.Act(), Person: id, Level: x.role, Of: 12, Right: 11}); err != nil {
			return err
		}
	}
	if x.signed {
		if _, err := c.P.GrantLevel(ctx, me, programme.GrantLevel{Act: c.Act(), Person: id, Level: x.role}); err != nil {
			return err
		}
	}
	if x.withdrawn != "" {
		_, err := c.P.WithdrawLevel(ctx, me, programme.WithdrawLevel{Act: c.Act(), Person: id, Level: x.role, Reason: x.withdrawn})
		return err
	}
	return nil
}

func (c class) watch(ctx context.Context, name string, l steps.Level, missed []string) error {
	cmd := programme.RecordObservation{Act: c.Act(), Person: c.ID(name), Level: string(l), Marks: map[string]string{}, Model: model, Signed: c.Sign(name), Observer: c.Sign(c.teacher)}
	for _, st := range steps.For(l) {
		cmd.Marks[st.Key] = "ok"
	}
	for _, key := range missed {
		cmd.Marks[key] = "missed"
	}
	_, err := c.P.RecordObservation(ctx, c.As(c.teacher), cmd)
	return err
}
