package programme

import (
	"cmp"
	"context"
	"slices"
	"strings"
	"time"

	"fairstick/internal/charter"
	"fairstick/internal/civil"
	"fairstick/internal/competence"
	"fairstick/internal/competence/cards"
	"fairstick/internal/competence/measure"
	"fairstick/internal/fault"
	"fairstick/internal/people"
	"fairstick/internal/protocol"
	"fairstick/internal/stock"
	"fairstick/internal/store"
)

// training is what the commands and questions of training look at.
type training struct {
	proto  protocol.Protocol
	rules  competence.Rules
	models []competence.Model // in use, in the order of their names
}

// readRules gives the protocol in force with its rules of training, and the meter models in use.
func readRules(s source) (training, error) {
	var t training
	ch := &charter.State{ID: charter.Ref.ID}
	st, ok, err := s.State(charter.Ref)
	if err != nil {
		return t, err
	}
	if ok {
		ch = st.(*charter.State)
	}
	if t.proto, err = protocolFor(ch, nil); err != nil {
		return t, err
	}
	if t.rules, err = rulesOf(t.proto); err != nil {
		return t, err
	}
	meters, err := listed[*stock.Meter](s.All(stock.MeterKind))
	if err != nil {
		return t, err
	}
	for _, m := range meters {
		if model, ok := modelOf(m); ok && m.Quarantine == nil && !slices.Contains(t.models, model) {
			t.models = append(t.models, model)
		}
	}
	slices.SortFunc(t.models, func(a, b competence.Model) int {
		return cmp.Or(strings.Compare(a.Name, b.Name), strings.Compare(a.Edition, b.Edition))
	})
	return t, nil
}

// today is the day by the clock of the programme.
func (p *Programme) today() civil.Date { return civil.Of(p.now()) }

// LevelStanding is how somebody stands at one level on a day.
type LevelStanding struct {
	Level   cards.Level          `json:"level"`
	Holds   bool                 `json:"holds"`
	Until   civil.Date           `json:"until,omitzero"`
	Because string               `json:"because,omitempty"` // what ends first
	Missing []competence.Missing `json:"missing,omitempty"`
	Ready   bool                 `json:"ready"` // only the signature of a verification is missing
}

// Training is everything about the training of one person on a day.
type Training struct {
	Person *people.State
	Skill  *competence.State
	Day    civil.Date
	Rules  competence.Rules
	Models []competence.Model
	Levels []LevelStanding // in the order of the levels
	Target cards.Level     // what the person's roles ask for
	People []*people.State // for the names of observers
}

// At gives the standing at a level.
func (t Training) At(l cards.Level) LevelStanding {
	for _, x := range t.Levels {
		if x.Level == l {
			return x
		}
	}
	return LevelStanding{Level: l}
}

// NameOf gives the name of a person; empty for nobody.
func (t Training) NameOf(id string) string { return nameAmong(t.People, id) }

func nameAmong(list []*people.State, id string) string {
	for _, p := range list {
		if p.ID == id {
			return p.Details.Name
		}
	}
	return ""
}

// TargetOf is the highest level that the roles of a person ask for: a supervisor is to verify others, a lead and a runner
// need not touch anybody.
func TargetOf(p *people.State) cards.Level {
	best := cards.Observer
	for _, r := range p.Details.Roles {
		if l, ok := levelOf[r]; ok && l.Covers(best) {
			best = l
		}
	}
	return best
}

// Training tells what a person has and lacks for each level on a day; the zero day is today. A later or earlier day shows how
// it stood or will stand with what is on record now.
func (p *Programme) Training(ctx context.Context, person string, day civil.Date) (Training, error) {
	if day.IsZero() {
		day = p.today()
	}
	out := Training{Day: day}
	err := p.store.Read(ctx, func(v *store.View) error {
		st, ok, err := v.State(people.Ref(person))
		if err != nil {
			return err
		}
		if !ok {
			return missing(people.Ref(person))
		}
		t, err := readRules(v)
		if err != nil {
			return err
		}
		all, err := readTraining(v, p.now().Location())
		if err != nil {
			return err
		}
		if out.People, err = listed[*people.State](v.All(people.Kind)); err != nil {
			return err
		}
		out.Person, out.Rules, out.Models = st.(*people.State), t.rules, t.models
		has := all[person]
		if has.skill == nil {
			has.skill = competence.New(person).(*competence.State)
		}
		has.models = t.models
		out.Skill, out.Target, out.Levels = has.skill, TargetOf(out.Person), has.levels(t.rules, day)
		return nil
	})
	return out, err
}

func (s standing) levels(rules competence.Rules, day civil.Date) []LevelStanding {
	var out []LevelStanding
	for _, l := range cards.Levels {
		out = append(out, s.level(rules, l, day))
	}
	return out
}

func (s standing) level(rules competence.Rules, l cards.Level, day civil.Date) LevelStanding {
	x := LevelStanding{Level: l, Missing: competence.Lacks(s.skill, rules, l, s.on(day))}
	x.Holds = len(x.Missing) == 0
	x.Ready = len(x.Missing) == 1 && x.Missing[0].Key == competence.NeedSignature
	x.Until, x.Because, _ = competence.ValidUntil(s.skill, rules, l, s.on(day))
	return x
}

// Trainee is one row of the cohort.
type Trainee struct {
	Person  *people.State
	Target  LevelStanding
	Holds   cards.Level // the highest level held; empty for none
	Quiz    bool        // the quiz of the target is passed and in date
	Watched int         // observations of the target that are passed
	Wanted  int
	Paper   civil.Date // the verification on paper for the same work lasts until this day; zero for none in date
}

// Cohort is the progress of everybody who takes part.
type Cohort struct {
	Day   civil.Date
	Rules competence.Rules
	Rows  []Trainee // in the order of their names
	Ready int       // only a signature is missing
	Held  int       // hold what their roles ask for, by training or on paper
}

// Cohort tells how far everybody is on the way to what their roles ask for.
func (p *Programme) Cohort(ctx context.Context) (Cohort, error) {
	out := Cohort{Day: p.today()}
	err := p.everybody(ctx, func(t training, list []*people.State, all map[string]standing) error {
		out.Rules = t.rules
		for _, who := range list {
			has := all[who.ID]
			row := Trainee{Person: who, Target: has.level(t.rules, TargetOf(who), out.Day), Wanted: t.rules.Levels[TargetOf(who)].Observations}
			for _, l := range cards.Levels {
				if has.level(t.rules, l, out.Day).Holds {
					row.Holds = l
				}
			}
			row.Quiz = t.rules.Levels[row.Target.Level].Quiz && slices.Contains(competence.Methods(has.skill, t.rules, row.Target.Level, out.Day), competence.MethodQuiz)
			for _, o := range has.skill.Observations {
				if o.Passed && o.Withdrawn == "" && o.Level.Covers(row.Target.Level) && !out.Day.After(competence.LastDay(o.Day, t.rules.ValidMonths)) {
					row.Watched++
				}
			}
			for _, r := range who.Details.Roles {
				if v, ok := who.VerifiedOn(r, out.Day); ok && levelOf[r] == row.Target.Level {
					row.Paper = v.Until
				}
			}
			if row.Target.Holds || !row.Paper.IsZero() {
				out.Held++
			}
			if row.Target.Ready {
				out.Ready++
			}
			out.Rows = append(out.Rows, row)
		}
		return nil
	})
	return out, err
}

// everybody reads those who take part with their standing for every model in use.
func (p *Programme) everybody(ctx context.Context, look func(training, []*people.State, map[string]standing) error) error {
	return p.store.Read(ctx, func(v *store.View) error {
		t, err := readRules(v)
		if err != nil {
			return err
		}
		found, err := readTraining(v, p.now().Location())
		if err != nil {
			return err
		}
		list, err := listed[*people.State](v.All(people.Kind))
		if err != nil {
			return err
		}
		list = slices.DeleteFunc(slices.Clone(list), func(x *people.State) bool { return x.Gone != "" })
		all := map[string]standing{}
		for _, x := range list {
			has := found[x.ID]
			if has.skill == nil {
				has.skill = competence.New(x.ID).(*competence.State)
			}
			has.models = t.models
			all[x.ID] = has
		}
		return look(t, list, all)
	})
}

// Lapse is a verification that ends, with whose it is.
type Lapse struct {
	competence.Lapse
	Name  string `json:"name"`
	Paper bool   `json:"paper,omitempty"` // it stands in the register on paper
	Role  string `json:"role,omitempty"`  // of one on paper
}

// Lapses lists whose verification holds today and ends before a day, earliest first: those that rest on training, and those on
// paper that nothing else outlasts.
func (p *Programme) Lapses(ctx context.Context, before civil.Date) ([]Lapse, error) {
	var out []Lapse
	today := p.today()
	err := p.everybody(ctx, func(t training, list []*people.State, all map[string]standing) error {
		for _, who := range list {
			has := all[who.ID]
			for _, x := range competence.Lapsing([]*competence.State{has.skill}, t.rules, has.on(today), before) {
				out = append(out, Lapse{Lapse: x, Name: who.Details.Name})
			}
			for _, r := range who.Details.Roles {
				v, ok := who.VerifiedOn(r, today)
				if !ok || !v.Until.Before(before) {
					continue
				}
				level, leveled := levelOf[r]
				if until, _, holds := competence.ValidUntil(has.skill, t.rules, level, has.on(today)); leveled && holds && !until.Before(v.Until) {
					continue
				}
				out = append(out, Lapse{Lapse: competence.Lapse{Person: who.ID, Level: level, Until: v.Until, Because: competence.NeedSignature}, Name: who.Details.Name, Paper: true, Role: string(r)})
			}
		}
		return nil
	})
	slices.SortStableFunc(out, func(a, b Lapse) int {
		return cmp.Or(strings.Compare(a.Until.String(), b.Until.String()), strings.Compare(a.Name, b.Name))
	})
	return out, err
}

// Statistics is what the quizzes say about the questions of a level.
type Statistics struct {
	Items    []measure.Item
	Sittings int
	Passed   int // at the first try
	Tried    int
	Rate     measure.Rate // of first tries; zero when nobody has tried
}

// ItemStatistics gives the statistics of every question that was asked; an empty level takes all quizzes together. Those with
// a flag come first.
func (p *Programme) ItemStatistics(ctx context.Context, level cards.Level) (Statistics, error) {
	var out Statistics
	if level != "" && !level.Valid() {
		return out, fault.BadField("level", "There is no level %q.", level)
	}
	err := p.everybody(ctx, func(_ training, list []*people.State, all map[string]standing) error {
		var states []*competence.State
		for _, who := range list {
			states = append(states, all[who.ID].skill)
		}
		sittings := competence.Sittings(states, level)
		out.Sittings, out.Items = len(sittings), measure.Items(sittings)
		for _, l := range cards.Levels {
			if level == "" || level == l {
				passed, of := competence.FirstTries(states, l)
				out.Passed, out.Tried = out.Passed+passed, out.Tried+of
			}
		}
		if out.Tried == 0 {
			return nil
		}
		var err error
		out.Rate, err = measure.PassRate(out.Passed, out.Tried, 0.95)
		return err
	})
	return out, err
}

// skilled loads the person of a training act with what they have shown.
func (w *work) skilled(p *Programme, person string) (*people.State, standing, training, error) {
	who, err := load[*people.State](w, people.Ref(person))
	if err != nil {
		return nil, standing{}, training{}, err
	}
	if who.Gone != "" {
		return nil, standing{}, training{}, fault.New(fault.Refused, "person-left", who.Details.Name+" no longer takes part in the programme.", "", "Let the person return first.")
	}
	t, err := readRules(w.tx)
	if err != nil {
		return nil, standing{}, training{}, err
	}
	has, err := w.trained(person, p.now().Location(), nil)
	if err != nil {
		return nil, standing{}, training{}, err
	}
	if has.skill == nil {
		has.skill = competence.New(person).(*competence.State)
	}
	has.models = t.models
	return who, has, t, nil
}

// dayOf reads the day of something that has happened: today when none was typed, never one to come.
func (f *fields) dayOf(name, label, value string, now time.Time) civil.Date {
	today := civil.Of(now)
	if strings.TrimSpace(value) == "" {
		return today
	}
	d := f.date(name, label, value, true)
	if d.After(today) {
		f.say(name, "%s has not come yet.", label)
	}
	return d
}
