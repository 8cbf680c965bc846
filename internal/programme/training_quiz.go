package programme

import (
	"context"
	"crypto/sha256"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"slices"
	"time"

	"fairstick/internal/charter"
	"fairstick/internal/competence"
	"fairstick/internal/competence/bank"
	"fairstick/internal/competence/cards"
	"fairstick/internal/fault"
	"fairstick/internal/store"
)

// sittingBucket keeps the quizzes that somebody is in the middle of, by person and level, on this laptop alone.
const sittingBucket = "sittings"

// Sitting is a quiz that somebody is in the middle of.
type Sitting struct {
	Level    cards.Level         `json:"level"`
	Seed     uint64              `json:"seed"`
	Protocol string              `json:"protocol"`
	Began    time.Time           `json:"began"`
	Answers  map[int]bank.Answer `json:"answers"` // by place

	Quiz  bank.Quiz  `json:"-"`
	Rules bank.Rules `json:"-"`
	Left  int        `json:"-"` // attempts with this one
}

// All gives the answers in the order of the quiz.
func (s Sitting) All() []bank.Answer {
	out := make([]bank.Answer, len(s.Quiz.Questions))
	for i, a := range s.Answers {
		if i >= 0 && i < len(out) {
			out[i] = a
		}
	}
	return out
}

// Next is the place of the first question without an answer; the number of questions when all have one.
func (s Sitting) Next() int {
	for i := range s.Quiz.Questions {
		if len(s.Answers[i]) == 0 {
			return i
		}
	}
	return len(s.Quiz.Questions)
}

// quizSeed is the seed of a person's next quiz at a level. It follows from how many they have taken, so that loading a page again
// shows the same questions and nobody can look for an easier draw.
func quizSeed(s *competence.State, l cards.Level) uint64 {
	n := 0
	for _, q := range s.Quizzes {
		if q.Level == l {
			n++
		}
	}
	sum := sha256.Sum256(fmt.Appendf(nil, "quiz %s %s %d", s.ID, l, n))
	return binary.BigEndian.Uint64(sum[:8])
}

func sittingKey(person string, l cards.Level) string { return person + "/" + string(l) }

// OpenQuiz gives the quiz that the person is in the middle of, or draws the next one. Nothing is recorded until it is handed in.
func (p *Programme) OpenQuiz(ctx context.Context, a Actor, l cards.Level) (Sitting, error) {
	s, kept, err := p.sitting(ctx, a, l)
	if err != nil || kept {
		return s, err
	}
	return s, p.putLocal(ctx, sittingBucket, sittingKey(a.Person, l), s)
}

// sitting reads where somebody is in a quiz; kept is false for one that has not begun.
func (p *Programme) sitting(ctx context.Context, a Actor, l cards.Level) (s Sitting, kept bool, err error) {
	t, err := p.Training(ctx, a.Person, p.today())
	if err != nil {
		return s, false, err
	}
	if err := competence.MayTakeQuiz(t.Skill, t.Rules, l); err != nil {
		return s, false, err
	}
	if !t.Rules.Levels[l].Quiz {
		return s, false, fault.New(fault.Refused, "no-quiz", "The protocol asks for no quiz at this level.", "", "Ask the lead what comes next.")
	}
	ch, err := p.Charter(ctx)
	if err != nil {
		return s, false, err
	}
	proto, err := protocolFor(ch, nil)
	if err != nil {
		return s, false, err
	}
	seed := quizSeed(t.Skill, l)
	raw, ok, err := p.store.Local(sittingBucket).Get(ctx, sittingKey(a.Person, l))
	if err != nil {
		return s, false, err
	}
	if ok && json.Unmarshal(raw, &s) == nil && s.Seed == seed && s.Protocol == proto.Version && s.Level == l {
		kept = true
	} else {
		s = Sitting{Level: l, Seed: seed, Protocol: proto.Version, Began: p.now(), Answers: map[int]bank.Answer{}}
	}
	s.Rules, s.Left = t.Rules.Quiz, t.Rules.Quiz.Attempts-t.Skill.Tries[competence.MethodQuiz+"/"+string(l)].Failed
	s.Quiz, err = bank.Draw(seed, l, t.Rules.Quiz, proto)
	return s, kept, err
}

// AnswerQuiz keeps the answer of one question of the quiz that the person is in the middle of. It may be changed until the quiz
// is handed in.
func (p *Programme) AnswerQuiz(ctx context.Context, a Actor, l cards.Level, seed uint64, place int, chosen bank.Answer) (Sitting, error) {
	s, kept, err := p.sitting(ctx, a, l)
	if err != nil {
		return s, err
	}
	if !kept || s.Seed != seed {
		return s, errOtherQuiz
	}
	if place < 0 || place >= len(s.Quiz.Questions) {
		return s, fault.New(fault.Missing, "no-such-question", "There is no such question in this quiz.", "", "Go back to the quiz.")
	}
	if len(chosen) == 0 {
		return s, fault.BadField("choice", "Choose an answer.")
	}
	for _, c := range chosen {
		if c < 0 || c >= len(s.Quiz.Questions[place].Options) {
			return s, fault.BadField("choice", "Choose one of the answers.")
		}
	}
	s.Answers[place] = chosen
	return s, p.putLocal(ctx, sittingBucket, sittingKey(a.Person, l), s)
}

var errOtherQuiz = fault.New(fault.Conflict, "other-quiz", "This is not the quiz that is open now.",
	"It was handed in already, or the protocol has changed since it was drawn.", "Open the quiz again.")

// TakeQuiz hands in a quiz. The answers are places of options in the order of the quiz; one that is missing is wrong.
type TakeQuiz struct {
	Act
	Level    cards.Level
	Seed     uint64
	Language string
	Answers  []bank.Answer
}

// Marked is a quiz that was handed in.
type Marked struct {
	ID     string      `json:"id"` // of the fact
	Result bank.Result `json:"result"`
}

// TakeQuiz records a quiz of the person who acts, and of nobody else. The questions are drawn again from the seed, and judged
// by the rules of the protocol in force.
func (p *Programme) TakeQuiz(ctx context.Context, a Actor, c TakeQuiz) (Marked, error) {
	if a.Person == "" {
		return Marked{}, fault.New(fault.Denied, "own-quiz", "A quiz is taken by a person.", "", "Sign in and take it yourself.")
	}
	began, err := p.began(ctx, a, c)
	if err != nil {
		return Marked{}, err
	}
	out, err := do(ctx, p, a, c.Act, "training.quiz", func(w *work) (Marked, error) {
		_, has, t, err := w.skilled(p, a.Person)
		if err != nil {
			return Marked{}, err
		}
		if err := competence.MayTakeQuiz(has.skill, t.rules, c.Level); err != nil {
			return Marked{}, err
		}
		if c.Seed != quizSeed(has.skill, c.Level) {
			return Marked{}, errOtherQuiz
		}
		if t.rules.Quiz.Minutes > 0 && began.IsZero() {
			return Marked{}, errOtherQuiz
		}
		if c.Language != "es" {
			c.Language = "en"
		}
		quiz, err := bank.Draw(c.Seed, c.Level, t.rules.Quiz, t.proto)
		if err != nil {
			return Marked{}, err
		}
		var took time.Duration
		if !began.IsZero() {
			took = max(w.now.Sub(began), 0)
		}
		r := quiz.Score(c.Answers, took, t.rules.Quiz)
		body := competence.QuizTaken{
			Level: c.Level, Day: p.today(), Language: c.Language, Seed: c.Seed, Protocol: t.proto.Version, Right: r.Right, Of: r.Of, CriticalMissed: r.CriticalMissed,
			Seconds: int(took / time.Second), Late: r.Late, Passed: r.Passed, Answers: answered(quiz, c, r),
		}
		rec, err := w.append(competence.Ref(a.Person), body)
		return Marked{ID: rec.ID, Result: r}, err
	})
	if err == nil && !began.IsZero() { // a second press must not forget the next quiz
		err = p.store.Local(sittingBucket).Delete(ctx, sittingKey(a.Person, c.Level))
	}
	return out, err
}

// began is when the quiz was opened; the zero time when it was never open on this laptop.
func (p *Programme) began(ctx context.Context, a Actor, c TakeQuiz) (time.Time, error) {
	raw, ok, err := p.store.Local(sittingBucket).Get(ctx, sittingKey(a.Person, c.Level))
	if err != nil || !ok {
		return time.Time{}, err
	}
	var s Sitting
	if json.Unmarshal(raw, &s) != nil || s.Seed != c.Seed {
		return time.Time{}, nil // damaged or of an earlier quiz: as if it had never been opened
	}
	return s.Began, nil
}

// answered keeps what was chosen in the words that were shown.
func answered(quiz bank.Quiz, c TakeQuiz, r bank.Result) []competence.Answered {
	out := make([]competence.Answered, 0, len(quiz.Questions))
	for i, q := range quiz.Questions {
		x := competence.Answered{Question: q.Key, Right: r.PerQuestion[i], Chosen: []string{}}
		if q.Made {
			x.Stem = q.Stem.In(c.Language)
		}
		if i < len(c.Answers) {
			for _, place := range slices.Compact(slices.Sorted(slices.Values(c.Answers[i]))) {
				if place >= 0 && place < len(q.Options) {
					x.Chosen = append(x.Chosen, q.Options[place].Text.In(c.Language))
				}
			}
		}
		out = append(out, x)
	}
	return out
}

// QuizShown is a quiz that was taken with its questions, as they were asked.
type QuizShown struct {
	Taken     competence.Quiz
	Questions []bank.Question // nil when the questions have changed since and cannot be shown again
	Left      int             // attempts that are left at this level
	Rules     bank.Rules      // by which it was judged
}

// ShowQuiz draws a quiz that somebody took again, by its seed and the protocol of its day.
func (p *Programme) ShowQuiz(ctx context.Context, person, id string) (QuizShown, error) {
	var out QuizShown
	t, err := p.Training(ctx, person, p.today())
	if err != nil {
		return out, err
	}
	i := slices.IndexFunc(t.Skill.Quizzes, func(q competence.Quiz) bool { return q.FactID == id })
	if i < 0 {
		return out, fault.New(fault.Missing, "no-such-quiz", "There is no such quiz of this person in the record.", "", "Go back to the list and choose it there.")
	}
	out.Taken = t.Skill.Quizzes[i]
	out.Left = max(t.Rules.Quiz.Attempts-t.Skill.Tries[competence.MethodQuiz+"/"+string(out.Taken.Level)].Failed, 0)
	ch, err := p.Charter(ctx)
	if err != nil {
		return out, err
	}
	a, ok := ch.Version(out.Taken.Protocol)
	if !ok {
		return out, nil
	}
	return out, out.draw(a)
}

func (s *QuizShown) draw(a charter.Adopted) error {
	rules, err := rulesOf(a.Protocol)
	if err != nil {
		return err
	}
	s.Rules = rules.Quiz
	quiz, err := bank.Draw(s.Taken.Seed, s.Taken.Level, rules.Quiz, a.Protocol)
	if err != nil {
		return err
	}
	if len(quiz.Questions) != len(s.Taken.Answers) {
		return nil
	}
	for i, q := range quiz.Questions {
		if q.Key != s.Taken.Answers[i].Question {
			return nil
		}
	}
	s.Questions = quiz.Questions
	return nil
}

// CodeOf is the short code of a verification: the beginning of the link that its entry has in the chain of the record. Nobody can make
// one up for an entry that is not there, and it changes when the entry does.
func CodeOf(hash [32]byte) string {
	const letters = "0123456789ABCDEFGHJKMNPQRSTVWXYZ" // without I, L, O and U: read aloud, typed by hand
	n := binary.BigEndian.Uint64(hash[:8])
	out := make([]byte, 0, 11)
	for i := range 10 {
		if i == 5 {
			out = append(out, '-')
		}
		out = append(out, letters[n>>59])
		n <<= 5
	}
	return string(out)
}

// codeIn gives the code of an entry.
func codeIn(v *store.View, id string) (string, error) {
	hash, ok, err := v.HashOf(id)
	if err != nil || !ok {
		return "", err
	}
	return CodeOf(hash), nil
}
