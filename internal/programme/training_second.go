package programme

import (
	"cmp"
	"context"
	"slices"
	"strings"

	"fairstick/internal/competence"
	"fairstick/internal/competence/cards"
	"fairstick/internal/competence/measure"
	"fairstick/internal/fault"
	"fairstick/internal/people"
	"fairstick/internal/store"
)

// MayObserve refuses an observer of a person at a level on this day, for the resting screen of the form: the same that the record of an
// observation asks.
func (p *Programme) MayObserve(ctx context.Context, observer, person, level string) error {
	return p.asObserver(ctx, observer, person, func(theirs, has standing, t training) error {
		return competence.MayObserve(theirs.skill, has.skill, t.rules, cards.Level(level), theirs.on(p.today()))
	})
}

// MaySeeAgain refuses a second observer of a fingerstick that is on record, and gives the first observer's form otherwise.
func (p *Programme) MaySeeAgain(ctx context.Context, observer, person, of string) (first competence.Observation, err error) {
	err = p.asObserver(ctx, observer, person, func(theirs, has standing, t training) error {
		first, err = competence.MaySeeAgain(theirs.skill, has.skill, of, t.rules, theirs.on(p.today()))
		return err
	})
	return first, err
}

// asObserver reads the standing of an observer and of the person watched.
func (p *Programme) asObserver(ctx context.Context, observer, person string, look func(theirs, has standing, t training) error) error {
	return p.store.Read(ctx, func(v *store.View) error {
		t, err := readRules(v)
		if err != nil {
			return err
		}
		all, err := readTraining(v, p.now().Location())
		if err != nil {
			return err
		}
		of := func(id string) standing {
			x := all[id]
			if x.skill == nil {
				x.skill = competence.New(id).(*competence.State)
			}
			x.models = t.models
			return x
		}
		return look(of(observer), of(person), t)
	})
}

// RecordSecondForm is the form of a second observer who watched the same fingerstick.
type RecordSecondForm struct {
	Act
	Person, Of string            // whom they watched, and the first observer's form
	Marks      map[string]string // by step: ok, missed, not-seen; a step without one was not seen
	Note       string
	Observer   Sign
}

// RecordSecondForm records what a second verifier saw of a fingerstick that is on record, signed by that verifier. It changes nothing for
// the person who was watched.
func (p *Programme) RecordSecondForm(ctx context.Context, a Actor, c RecordSecondForm) (Done, error) {
	observer, err := p.signed(ctx, c.Observer)
	if err != nil {
		return Done{}, ofSignature(err, "observer")
	}
	return do(ctx, p, a, c.Act, "training.second-form", func(w *work) (Done, error) {
		_, has, t, err := w.skilled(p, c.Person)
		if err != nil {
			return Done{}, err
		}
		_, theirs, _, err := w.skilled(p, observer.ID)
		if err != nil {
			return Done{}, err
		}
		first, err := competence.MaySeeAgain(theirs.skill, has.skill, c.Of, t.rules, theirs.on(p.today()))
		if err != nil {
			return Done{}, err
		}
		f := &fields{}
		b := competence.SeenAgain{
			Of: c.Of, Day: p.today(), Observer: observer.ID, SignedObserver: observer.ID, Marks: map[string]competence.Mark{}, Note: f.text("note", "The note", c.Note, false, 400),
		}
		seen := false
		for key, m := range c.Marks {
			if m != "" {
				b.Marks[key] = competence.Mark(m)
				seen = seen || b.Marks[key] != competence.NotSeen
			}
		}
		if err := competence.CheckMarks(first.Level, b.Marks); err != nil {
			return Done{}, err
		}
		if !seen {
			return Done{}, fault.BadField("marks", "Nothing was marked as seen yet.")
		}
		return Done{ID: c.Person}, w.add(f, c.Person, b)
	})
}

// ObserverPair is how far two observers agree about the fingersticks that both watched.
type ObserverPair struct {
	First, Second string // names; First and Second keep their places over all fingersticks
	Fingersticks  int
	Table         [][]int            // ok and missed of the first in rows, of the second in columns
	Agreement     *measure.Agreement // nil when agreement beyond chance is not defined
	WhyNot        string             // why it is not
	Differ        []StepDiffers      // most often first
}

// StepDiffers is a step that two observers marked differently.
type StepDiffers struct {
	Step         cards.Step
	FirstMissed  int // the first saw a miss where the second saw none
	SecondMissed int
}

// ObserverAgreement compares the observers of each fingerstick that two of them watched, pair by pair, those with the most fingersticks
// first. Steps that either did not see are left out. The interval is that of 95 %; the marks of one fingerstick are not
// independent of each other, so that it is narrower than it should be.
func (p *Programme) ObserverAgreement(ctx context.Context) ([]ObserverPair, error) {
	pairs := map[[2]string]*ObserverPair{}
	err := p.store.Read(ctx, func(v *store.View) error {
		skills, err := listed[*competence.State](v.All(competence.Kind))
		if err != nil {
			return err
		}
		names, err := listed[*people.State](v.All(people.Kind))
		if err != nil {
			return err
		}
		for _, s := range skills {
			for _, o := range s.Observations {
				forms := []form{{o.Observer, o.Marks}}
				for _, x := range s.Seconds {
					if x.Of == o.FactID {
						forms = append(forms, form{x.Observer, x.Marks})
					}
				}
				for i, a := range forms {
					for _, b := range forms[i+1:] {
						compareForms(pairs, names, a, b)
					}
				}
			}
		}
		return nil
	})
	out := make([]ObserverPair, 0, len(pairs))
	for _, x := range pairs {
		a, err := measure.Kappa(x.Table, 0.95)
		if err != nil {
			x.WhyNot = err.Error()
		} else {
			x.Agreement = &a
		}
		slices.SortStableFunc(x.Differ, func(a, b StepDiffers) int {
			return cmp.Or(b.FirstMissed+b.SecondMissed-a.FirstMissed-a.SecondMissed, a.Step.Number-b.Step.Number)
		})
		out = append(out, *x)
	}
	slices.SortFunc(out, func(a, b ObserverPair) int {
		return cmp.Or(b.Fingersticks-a.Fingersticks, strings.Compare(a.First, b.First), strings.Compare(a.Second, b.Second))
	})
	return out, err
}

// form is what one observer marked.
type form struct {
	by    string
	marks map[string]competence.Mark
}

// compareForms adds one fingerstick to the pair of its observers.
func compareForms(pairs map[[2]string]*ObserverPair, names []*people.State, a, b form) {
	if a.by > b.by {
		a, b = b, a
	}
	x := pairs[[2]string{a.by, b.by}]
	if x == nil {
		x = &ObserverPair{First: nameAmong(names, a.by), Second: nameAmong(names, b.by), Table: [][]int{{0, 0}, {0, 0}}}
		pairs[[2]string{a.by, b.by}] = x
	}
	x.Fingersticks++
	for i, row := range competence.MarksTable(a.marks, b.marks) {
		for j, n := range row {
			x.Table[i][j] += n
		}
	}
	for _, s := range cards.Steps() {
		first, second := a.marks[s.Key], b.marks[s.Key]
		if first == competence.OK && second == competence.Missed || first == competence.Missed && second == competence.OK {
			i := slices.IndexFunc(x.Differ, func(d StepDiffers) bool { return d.Step.Key == s.Key })
			if i < 0 {
				i = len(x.Differ)
				x.Differ = append(x.Differ, StepDiffers{Step: s})
			}
			if first == competence.Missed {
				x.Differ[i].FirstMissed++
			} else {
				x.Differ[i].SecondMissed++
			}
		}
	}
}
