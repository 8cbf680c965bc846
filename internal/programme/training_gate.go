package programme

import (
	"encoding/json"
	"fmt"
	"strings"
	"time"

	"fairstick/internal/civil"
	"fairstick/internal/competence"
	"fairstick/internal/competence/cards"
	"fairstick/internal/event"
	"fairstick/internal/people"
	"fairstick/internal/protocol"
	"fairstick/internal/stock"
	"fairstick/internal/visit"
)

// levelOf is the level of training that a role of the day needs. The other roles are verified on paper alone.
var levelOf = map[people.Role]cards.Level{
	people.Desk: cards.Desk, people.Counsellor: cards.Counsellor, people.Screener: cards.Screener, people.Supervisor: cards.Verifier,
}

// rulesOf gives the rules of training of a protocol: its own, or the default ones with the protocol's months.
func rulesOf(p protocol.Protocol) (competence.Rules, error) {
	if len(p.Verification.Competence) > 0 {
		return competence.ParseRules(p.Verification.Competence)
	}
	r := competence.DefaultRules()
	r.ValidMonths = min(max(p.Verification.ValidMonths, 1), 36)
	return r, r.Validate()
}

// TrainingRules gives the rules of training of a protocol, and whether they are its own.
func TrainingRules(p protocol.Protocol) (r competence.Rules, own bool, err error) {
	r, err = rulesOf(p)
	return r, len(p.Verification.Competence) > 0, err
}

// WithTrainingRules gives a copy of a protocol that carries rules of training of its own. Rules that cannot be used are refused, each
// place with its sentence. Nothing is recorded: the protocol is drafted and signed like any other.
func WithTrainingRules(p protocol.Protocol, r competence.Rules) (protocol.Protocol, error) {
	if err := r.Validate(); err != nil {
		return p, err
	}
	data, err := json.Marshal(r)
	if err != nil {
		return p, fmt.Errorf("programme: rules of training: %w", err)
	}
	p.Verification.Competence = data
	return p, nil
}

// standing is what somebody has shown in training, with what else their verification depends on.
type standing struct {
	skill  *competence.State // nil: nothing is on record
	last   civil.Date        // when they last tested somebody
	models []competence.Model
}

func (s standing) on(day civil.Date) competence.Today {
	return competence.Today{Day: day, Models: s.models, LastTest: s.last}
}

// with gives the same person at a meter; the training on its model is asked too.
func (s standing) with(m *stock.Meter) standing {
	if model, ok := modelOf(m); ok {
		s.models = []competence.Model{model}
	}
	return s
}

// modelOf is the model of a meter with the instructions that were read for it.
func modelOf(m *stock.Meter) (competence.Model, bool) {
	if m == nil || m.Details.Model == "" {
		return competence.Model{}, false
	}
	out := competence.Model{Name: m.Details.Model}
	if m.Review != nil {
		out.Edition = m.Review.Insert
	}
	return out, true
}

// notReady says in one sentence after the other what somebody lacks; was is what the register on paper says. After three of
// them the rest is counted.
func notReady(was string, lacks []competence.Missing) string {
	said := []string{was}
	for i, m := range lacks {
		if i == 3 {
			said = append(said, fmt.Sprintf("%d more missing; the page Training lists them.", len(lacks)-i))
			break
		}
		said = append(said, m.Sentence.In("en"))
	}
	return strings.Join(said, " ")
}

// readTraining gives the standing of everybody who has something on record.
func readTraining(s source, zone *time.Location) (map[string]standing, error) {
	all, err := listed[*competence.State](s.All(competence.Kind))
	if err != nil || len(all) == 0 {
		return nil, err
	}
	tests, err := s.LastMentions(visit.Kind, "screener")
	if err != nil {
		return nil, err
	}
	out := map[string]standing{}
	for _, st := range all {
		x := standing{skill: st}
		if at, ok := tests[st.ID]; ok {
			x.last = civil.Of(at.In(zone))
		}
		out[st.ID] = x
	}
	return out, nil
}

func (d *Day) standing(person string, m *stock.Meter) standing { return d.training[person].with(m) }

// VerifiedUntil is the last day on which a person who may do a role on the day of the event still may, on paper or by training.
func (d *Day) VerifiedUntil(who *people.State, role people.Role) civil.Date {
	v, _ := who.VerifiedOn(role, d.Event.Plan.Date)
	has, level := d.standing(who.ID, nil), levelOf[role]
	rules, err := rulesOf(d.Protocol)
	if has.skill == nil || err != nil {
		return v.Until
	}
	until, _, ok := competence.ValidUntil(has.skill, rules, level, has.on(d.Event.Plan.Date))
	if ok && (v.Until.IsZero() || until.After(v.Until)) {
		return until
	}
	return v.Until
}

// skill loads what a person has shown; an empty state when nothing is on record.
func (w *work) skill(person string) (*competence.State, bool, error) {
	st, ok, err := w.tx.State(competence.Ref(person))
	if err != nil {
		return nil, false, err
	}
	if !ok {
		return competence.New(person).(*competence.State), false, nil
	}
	s, is := st.(*competence.State)
	if !is {
		return nil, false, fmt.Errorf("programme: %s is a %T", competence.Kind, st)
	}
	return s, true, nil
}

// trained loads the standing of one person inside the writer.
func (w *work) trained(person string, zone *time.Location, m *stock.Meter) (standing, error) {
	s, ok, err := w.skill(person)
	if err != nil || !ok {
		return standing{}, err
	}
	out := standing{skill: s}.with(m)
	if len(s.SignOffs) == 0 {
		return out, nil
	}
	events, err := w.tx.All(event.Kind)
	if err != nil {
		return standing{}, err
	}
	for _, st := range events {
		m, _, ok, err := w.tx.LastMention(visit.Kind, st.(*event.State).ID, "screener", person)
		if err != nil {
			return standing{}, err
		}
		if day := civil.Of(m.At.In(zone)); ok && (out.last.IsZero() || day.After(out.last)) {
			out.last = day
		}
	}
	return out, nil
}

// verified refuses a person who may not do a role on a day, whatever the meter.
func (w *work) verified(who *people.State, role people.Role, ev *event.State, proto protocol.Protocol, day civil.Date) error {
	has, err := w.trained(who.ID, ev.Zone(), nil)
	if err != nil {
		return err
	}
	return verified(who, has, role, proto, day)
}
