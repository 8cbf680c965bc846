package bank

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"time"

	"fairstick/internal/competence/cards"
	"fairstick/internal/fault"
	"fairstick/internal/protocol"
)

// Rules say how a quiz is drawn and when it is passed. They are part of a programme's rules.
type Rules struct {
	Questions int           `json:"questions"`          // in one quiz
	PassMark  int           `json:"pass_mark"`          // per cent of the questions; reaching it is enough
	Attempts  int           `json:"attempts"`           // tries before somebody teaches again
	Minutes   int           `json:"minutes,omitempty"`  // 0: not timed
	Critical  int           `json:"critical,omitempty"` // at least so many critical questions in one quiz, as far as the bank has them; 0: as they are drawn
	Weights   map[Topic]int `json:"weights,omitempty"`  // share of a topic; a topic that is not named has 1, 0 leaves it out
}

// Default gives the rules from which a programme starts: 20 questions, 80 per cent, 3 attempts, not timed, critical ones
// right (programme policy, from published skill checks).
func Default() Rules { return Rules{Questions: 20, PassMark: 80, Attempts: 3} }

// Validate refuses rules by which no quiz could be drawn or passed: a *fault.Fault with key "quiz-rules".
func (r Rules) Validate() error {
	bad := map[string]string{}
	say := func(ok bool, field, sentence string) {
		if !ok {
			bad[field] = sentence
		}
	}
	say(r.Questions >= 5 && r.Questions <= 100, "questions", "A quiz has 5 to 100 questions.")
	say(r.PassMark >= 50 && r.PassMark <= 100, "pass_mark", "The pass mark is from 50 to 100 per cent.")
	say(r.Attempts >= 1 && r.Attempts <= 10, "attempts", "There are 1 to 10 attempts.")
	say(r.Minutes >= 0 && r.Minutes <= 240, "minutes", "The time is from 0 (none) to 240 minutes.")
	say(r.Critical >= 0 && r.Critical <= r.Questions && r.Critical <= 20, "critical", "From 0 to 20 critical questions, and no more than the quiz has.")
	asked := 0
	for t, w := range r.Weights {
		say(t.Valid() && w >= 0 && w <= 100, "weights", "A weight is from 0 to 100, for a topic that exists.")
	}
	for _, t := range Topics {
		asked += r.weight(t)
	}
	say(asked > 0, "weights", "At least one topic must be asked.")
	if len(bad) == 0 {
		return nil
	}
	f := fault.New(fault.Invalid, "quiz-rules", "The rules of the quiz cannot be used.", "People are verified by them.", "Correct what is named.")
	f.Fields = bad
	return f
}

func (r Rules) weight(t Topic) int {
	if w, ok := r.Weights[t]; ok {
		return w
	}
	return 1
}

// Quiz is a set of questions as one person sees them, options in the order in which they are shown.
type Quiz struct {
	Seed      uint64      `json:"seed"`
	Level     cards.Level `json:"level"`
	Protocol  string      `json:"protocol"` // version by which made questions were computed
	Questions []Question  `json:"questions"`
}

// Draw makes the quiz of a seed for a level. Questions are shared among the topics by weight (largest remainder, ties to the
// earlier topic); a topic with too few for the level gives its rest to the others. Within a topic fixed questions and makers
// have the same chance, and none comes twice; a level with too few questions gets a shorter quiz, and a
// question whose answer the protocol does not bear out is not asked. When fewer critical ones came than the rules want, others of the
// same topics make room for them. Questions and options are shuffled. The same seed, level, rules, protocol and
// bank give the same quiz. The error is a *fault.Fault.
func Draw(seed uint64, level cards.Level, r Rules, p protocol.Protocol) (Quiz, error) {
	if !level.Valid() {
		return Quiz{}, fault.BadField("level", "There is no level %q.", level)
	}
	if err := r.Validate(); err != nil {
		return Quiz{}, err
	}
	fixed, err := Fixed()
	if err != nil {
		return Quiz{}, err
	}
	chance := rand.New(rand.NewPCG(seed, 0x71757a))
	pools := map[Topic][]func() (Question, error){}
	var critical []Question
	for _, q := range fixed {
		right, err := q.HoldsIn(p)
		if err != nil {
			return Quiz{}, err
		}
		if right && level.Covers(q.From) {
			pools[q.Topic] = append(pools[q.Topic], func() (Question, error) { return q, nil })
			if q.Critical {
				critical = append(critical, q)
			}
		}
	}
	for _, m := range Makers() {
		if level.Covers(m.From) {
			pools[m.Topic] = append(pools[m.Topic], func() (Question, error) { return m.Make(chance, p) })
		}
	}
	quiz := Quiz{Seed: seed, Level: level, Protocol: p.Version}
	counts := r.share(pools)
	for _, t := range Topics {
		pool := pools[t]
		for _, i := range chance.Perm(len(pool))[:counts[t]] {
			q, err := pool[i]()
			if err != nil {
				return Quiz{}, err
			}
			q.Options = slices.Clone(q.Options)
			chance.Shuffle(len(q.Options), func(i, j int) { q.Options[i], q.Options[j] = q.Options[j], q.Options[i] })
			quiz.Questions = append(quiz.Questions, q)
		}
	}
	quiz.raiseCritical(r.Critical, critical, chance)
	chance.Shuffle(len(quiz.Questions), func(i, j int) { quiz.Questions[i], quiz.Questions[j] = quiz.Questions[j], quiz.Questions[i] })
	return quiz, nil
}

// raiseCritical puts critical questions in the place of others of their topics until there are enough, or no topic has one more.
func (q *Quiz) raiseCritical(wanted int, from []Question, chance *rand.Rand) {
	have := 0
	for _, x := range q.Questions {
		if x.Critical {
			have++
		}
	}
	if have >= wanted {
		return
	}
	for _, i := range chance.Perm(len(from)) {
		x := from[i]
		if slices.ContainsFunc(q.Questions, func(o Question) bool { return o.Key == x.Key }) {
			continue
		}
		place := slices.IndexFunc(q.Questions, func(o Question) bool { return o.Topic == x.Topic && !o.Critical })
		if place < 0 {
			continue
		}
		x.Options = slices.Clone(x.Options)
		chance.Shuffle(len(x.Options), func(i, j int) { x.Options[i], x.Options[j] = x.Options[j], x.Options[i] })
		q.Questions[place] = x
		if have++; have >= wanted {
			return
		}
	}
}

// share says how many questions each topic gives, never more than it has.
func (r Rules) share(pools map[Topic][]func() (Question, error)) map[Topic]int {
	out := map[Topic]int{}
	for left := r.Questions; left > 0; {
		var open []Topic
		total := 0
		for _, t := range Topics {
			if r.weight(t) > 0 && out[t] < len(pools[t]) {
				open = append(open, t)
				total += r.weight(t)
			}
		}
		if total == 0 {
			return out
		}
		given := 0
		type part struct {
			topic Topic
			rest  int
		}
		parts := make([]part, 0, len(open))
		for _, t := range open {
			whole := min(left*r.weight(t)/total, len(pools[t])-out[t])
			out[t] += whole
			given += whole
			parts = append(parts, part{t, left * r.weight(t) % total})
		}
		slices.SortStableFunc(parts, func(a, b part) int { return b.rest - a.rest })
		for _, x := range parts {
			if given < left && out[x.topic] < len(pools[x.topic]) {
				out[x.topic]++
				given++
			}
		}
		left -= given
	}
	return out
}

// Answer is what was chosen for one question: places of options as they were shown.
type Answer []int

// Result is what a quiz amounts to.
type Result struct {
	Right          int      `json:"right"`
	Of             int      `json:"of"`
	PerQuestion    []bool   `json:"per_question"`              // in the order of the quiz
	CriticalMissed []string `json:"critical_missed,omitempty"` // keys
	Late           bool     `json:"late,omitempty"`
	Passed         bool     `json:"passed"`
}

// Score judges the answers of a quiz, one per question in its order; a missing or empty one is wrong. A question is right when
// exactly its right options were chosen. A quiz is passed when the share of right ones reaches the pass mark, every critical
// question is right, and a timed quiz was not late. took is measured from the first question shown; a quiz without questions
// is not passed.
func (q Quiz) Score(answers []Answer, took time.Duration, r Rules) Result {
	out := Result{Of: len(q.Questions), Late: r.Minutes > 0 && took > time.Duration(r.Minutes)*time.Minute}
	for i, x := range q.Questions {
		var chosen []int
		if i < len(answers) {
			chosen = slices.Compact(slices.Sorted(slices.Values(answers[i])))
		}
		ok := slices.Equal(chosen, x.right())
		out.PerQuestion = append(out.PerQuestion, ok)
		switch {
		case ok:
			out.Right++
		case x.Critical:
			out.CriticalMissed = append(out.CriticalMissed, x.Key)
		}
	}
	out.Passed = out.Of > 0 && out.Right*100 >= r.PassMark*out.Of && len(out.CriticalMissed) == 0 && !out.Late
	return out
}

// Say gives one sentence about a result.
func (r Result) Say() protocol.Text {
	t := textf("%d of %d right.", "%d de %d correctas.", r.Right, r.Of)
	switch {
	case r.Passed:
		return text(t["en"]+" Passed.", t["es"]+" Aprobado.")
	case len(r.CriticalMissed) > 0:
		n := len(r.CriticalMissed)
		return text(fmt.Sprintf("%s Not passed: %d that can harm somebody must be right.", t["en"], n),
			fmt.Sprintf("%s No aprobado: %d que pueden dañar a alguien deben ser correctas.", t["es"], n))
	case r.Late:
		return text(t["en"]+" Not passed: the time was over.", t["es"]+" No aprobado: se acabó el tiempo.")
	}
	return text(t["en"]+" Not passed.", t["es"]+" No aprobado.")
}
