package programme

import (
	"context"
	"slices"

	"fairstick/internal/competence"
	"fairstick/internal/competence/cards"
	"fairstick/internal/fault"
	"fairstick/internal/glucose"
	"fairstick/internal/people"
)

// vouches are the roles that record what somebody has shown.
var vouches = []people.Role{people.Lead, people.Supervisor}

// vouched runs a training act that somebody else's word stands for: nobody records their own.
func (p *Programme) vouched(ctx context.Context, a Actor, act Act, kind, person string, decide func(*work, *fields, *people.State, standing, training) error) (Done, error) {
	return do(ctx, p, a, act, kind, func(w *work) (Done, error) {
		if err := w.need(vouches...); err != nil {
			return Done{}, err
		}
		if w.me != nil && w.me.ID == person {
			return Done{}, fault.New(fault.Denied, "verify-self", "Nobody can verify themselves.", "A verification is another person's word.",
				"Ask another lead or supervisor to record it.")
		}
		who, has, t, err := w.skilled(p, person)
		if err != nil {
			return Done{}, err
		}
		return Done{ID: person}, decide(w, &fields{}, who, has, t)
	})
}

// add records a fact of training unless a field of the form was wrong.
func (w *work) add(f *fields, person string, body interface{ FactKind() string }) error {
	if err := f.err(); err != nil {
		return err
	}
	_, err := w.append(competence.Ref(person), body)
	return err
}

func (f *fields) level(v string) cards.Level {
	l := cards.Level(v)
	if !l.Valid() {
		f.say("level", "Choose the level.")
	}
	return l
}

// SampleTaken is a test whose truth the verifier knows, as it is typed. Kind is empty when there was none.
type SampleTaken struct {
	Kind    string // competence.BlindControl or competence.SplitSample
	Unit    string
	Reading string
	Low     string // of a blind control
	High    string
	Other   string // of a split sample: what the verifier read
}

// RecordObservation is an observed fingerstick, or an observed hour of a role without it.
type RecordObservation struct {
	Act
	Person           string
	Level            string
	Marks            map[string]string // by step: ok, missed, not-seen; a step without one was not seen
	Model            string
	Sample           SampleTaken
	Note             string
	Signed, Observer Sign // of the person, and of who watched
}

// Watched is what an observation amounts to.
type Watched struct {
	ID      string             `json:"id"`
	Verdict competence.Verdict `json:"verdict"`
	Within  *bool              `json:"within,omitempty"` // of a sample
}

// RecordObservation records what a verifier saw, step by step, signed by both. One missed critical step ends it as not passed; so
// does a sample outside its limits.
func (p *Programme) RecordObservation(ctx context.Context, a Actor, c RecordObservation) (Watched, error) {
	if c.Observer.Person != "" && c.Observer.Person == c.Person {
		return Watched{}, fault.New(fault.Denied, "observe-self", "Nobody can verify themselves.", "An observation is another person's word, and must be worth something.",
			"Ask another verifier.").Field("observer_person", "This is the person who was watched.")
	}
	c.Signed.Person = c.Person
	if _, err := p.signed(ctx, c.Signed); err != nil {
		return Watched{}, ofSignature(err, "signed")
	}
	observer, err := p.signed(ctx, c.Observer)
	if err != nil {
		return Watched{}, ofSignature(err, "observer")
	}
	return do(ctx, p, a, c.Act, "training.observation", func(w *work) (Watched, error) {
		_, has, t, err := w.skilled(p, c.Person)
		if err != nil {
			return Watched{}, err
		}
		_, theirs, _, err := w.skilled(p, observer.ID)
		if err != nil {
			return Watched{}, err
		}
		f := &fields{}
		b := competence.Observed{
			Level: f.level(c.Level), Day: p.today(), Observer: observer.ID, SignedPerson: c.Person, SignedObserver: observer.ID,
			Marks: map[string]competence.Mark{}, Note: f.text("note", "The note", c.Note, false, 400),
		}
		if c.Model != "" {
			if !slices.ContainsFunc(t.models, func(m competence.Model) bool { return m.Name == c.Model }) {
				f.say("model", "Choose a meter that is in use.")
			}
			b.Model = c.Model
		}
		for key, m := range c.Marks {
			if m != "" {
				b.Marks[key] = competence.Mark(m)
			}
		}
		if err := f.err(); err != nil {
			return Watched{}, err
		}
		if err := competence.MayObserve(theirs.skill, has.skill, t.rules, b.Level, theirs.on(b.Day)); err != nil {
			return Watched{}, err
		}
		v, err := t.rules.JudgeMarks(b.Level, b.Marks)
		if err != nil {
			return Watched{}, err
		}
		if len(b.Marks) == 0 || !slices.ContainsFunc(values(b.Marks), func(m competence.Mark) bool { return m != competence.NotSeen }) {
			return Watched{}, fault.BadField("marks", "Nothing was marked as seen yet.")
		}
		out := Watched{Verdict: v}
		if c.Sample.Kind != "" {
			if b.Sample, err = c.Sample.judged(t.rules); err != nil {
				return Watched{}, err
			}
			out.Within = &b.Sample.Within
		}
		b.Passed = v.Passed && (b.Sample == nil || b.Sample.Within)
		out.Verdict.Passed = b.Passed
		rec, err := w.append(competence.Ref(c.Person), b)
		out.ID = rec.ID
		return out, err
	})
}

func values(m map[string]competence.Mark) []competence.Mark {
	out := make([]competence.Mark, 0, len(m))
	for _, v := range m {
		out = append(out, v)
	}
	return out
}

// judged reads a sample as it was typed and judges it by the rules.
func (s SampleTaken) judged(r competence.Rules) (*competence.Sample, error) {
	u, err := glucose.ParseUnit(s.Unit)
	if err != nil {
		return nil, named(err, "sample_unit")
	}
	out := &competence.Sample{Kind: s.Kind}
	if out.Reading, err = glucose.ParseReading(s.Reading, u); err != nil {
		return nil, named(err, "sample_reading")
	}
	switch s.Kind {
	case competence.BlindControl:
		if out.Low, err = glucose.ParseValue(s.Low, u); err != nil {
			return nil, named(err, "sample_low")
		}
		if out.High, err = glucose.ParseValue(s.High, u); err != nil {
			return nil, named(err, "sample_high")
		}
	case competence.SplitSample:
		if out.Other, err = glucose.ParseReading(s.Other, u); err != nil {
			return nil, named(err, "sample_other")
		}
	default:
		return nil, fault.BadField("sample_kind", "Choose the kind of sample.")
	}
	out.Within, err = r.JudgeSample(*out)
	return out, err
}

// named puts a fault at a field of the form.
func named(err error, field string) error {
	f := *fault.Of(err)
	f.Fields = map[string]string{field: f.Sentence}
	return &f
}

// RecordExternal is what was shown elsewhere: a training on bloodborne pathogens, or the college's word on hepatitis B.
type RecordExternal struct {
	Act
	Person string
	Kind   string // "bloodborne" or "hepatitis-b"
	Day    string
	By     string // who held the training, in words
	Word   string // of the college: "cleared" or "not-cleared"; there is no field for anything else
}

// RecordExternal records a proof from elsewhere. Vaccination, titre and refusal stay with the college.
func (p *Programme) RecordExternal(ctx context.Context, a Actor, c RecordExternal) (Done, error) {
	return p.vouched(ctx, a, c.Act, "training.external", c.Person, func(w *work, f *fields, _ *people.State, _ standing, _ training) error {
		day := f.dayOf("day", "The day", c.Day, p.now())
		switch c.Kind {
		case "bloodborne":
			return w.add(f, c.Person, competence.BloodborneTrained{Day: day, By: f.text("by", "Who held it", c.By, true, 80)})
		case "hepatitis-b":
			f.oneOf("word", "The college's word", c.Word, "cleared", "not-cleared")
			return w.add(f, c.Person, competence.HepatitisB{Day: day, Cleared: c.Word == "cleared"})
		}
		return fault.BadField("kind", "Choose what is recorded.")
	})
}

// TrainModel says that a person was trained on a meter model with the instructions that are in use.
type TrainModel struct {
	Act
	Person, Model, Edition, Day string
}

// TrainModel records a training on a meter model.
func (p *Programme) TrainModel(ctx context.Context, a Actor, c TrainModel) (Done, error) {
	return p.vouched(ctx, a, c.Act, "training.model", c.Person, func(w *work, f *fields, _ *people.State, _ standing, t training) error {
		if !slices.Contains(t.models, competence.Model{Name: c.Model, Edition: c.Edition}) {
			f.say("model", "Choose a meter that is in use.")
		}
		return w.add(f, c.Person, competence.ModelTrained{Model: c.Model, Edition: c.Edition, Day: f.dayOf("day", "The day", c.Day, p.now()), By: w.actor.Person})
	})
}

// RecordTeaching says that somebody was taught again after the attempts were used up.
type RecordTeaching struct {
	Act
	Person, What, Level, Note string
}

// RecordTeaching records a teaching; the next attempts are free.
func (p *Programme) RecordTeaching(ctx context.Context, a Actor, c RecordTeaching) (Done, error) {
	return p.vouched(ctx, a, c.Act, "training.teach", c.Person, func(w *work, f *fields, _ *people.State, has standing, _ training) error {
		f.oneOf("what", "What was taught", c.What, competence.MethodQuiz, competence.MethodObserved)
		level := f.level(c.Level)
		if f.bad == nil && has.skill.Tries[c.What+"/"+c.Level].Failed == 0 {
			return fault.New(fault.Refused, "nothing-failed", "No attempt at this level is open.", "Teaching is recorded after attempts that were not passed.", "Look at the list of attempts.")
		}
		return w.add(f, c.Person, competence.Taught{What: c.What, Level: level, Day: p.today(), By: w.actor.Person, Note: f.text("note", "What was taught", c.Note, true, 300)})
	})
}

// RecordWarmUp is the refresher of somebody who has not tested for a while.
type RecordWarmUp struct {
	Act
	Person, How string
}

// RecordWarmUp records a warm-up that somebody else watched.
func (p *Programme) RecordWarmUp(ctx context.Context, a Actor, c RecordWarmUp) (Done, error) {
	return p.vouched(ctx, a, c.Act, "training.warm-up", c.Person, func(w *work, f *fields, _ *people.State, _ standing, _ training) error {
		f.oneOf("how", "The warm-up", c.How, "control-run", "observed-test")
		return w.add(f, c.Person, competence.WarmedUp{Day: p.today(), How: c.How, By: w.actor.Person})
	})
}

// RecordPractice is a practice day that a teacher held and judged.
type RecordPractice struct {
	Act
	Person, Level, Day string
	Right, Of, Harm    int // decisions; Harm are the wrong ones that could have harmed somebody
}

// RecordPractice records a practice day. It is passed when no decision could have harmed somebody and the pass mark of the quiz
// is reached.
func (p *Programme) RecordPractice(ctx context.Context, a Actor, c RecordPractice) (Done, error) {
	return p.vouched(ctx, a, c.Act, "training.practice", c.Person, func(w *work, f *fields, _ *people.State, _ standing, t training) error {
		level := f.level(c.Level)
		f.between("of", "The decisions", c.Of, 1, 200)
		f.between("right", "The right decisions", c.Right, 0, c.Of)
		f.between("harm", "The harmful decisions", c.Harm, 0, max(c.Of-c.Right, 0))
		b := competence.Rehearsed{Level: level, Day: f.dayOf("day", "The day", c.Day, p.now()), Right: c.Right, Of: c.Of, Harm: c.Harm}
		b.Passed = c.Harm == 0 && c.Right*100 >= t.rules.Quiz.PassMark*c.Of
		return w.add(f, c.Person, b)
	})
}
