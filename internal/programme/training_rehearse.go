package programme

import (
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/binary"
	"fmt"
	"slices"
	"strings"
	"time"

	"fairstick/internal/charter"
	"fairstick/internal/competence"
	"fairstick/internal/competence/cards"
	"fairstick/internal/competence/rehearse"
	"fairstick/internal/fault"
	"fairstick/internal/glucose"
	"fairstick/internal/protocol"
	"fairstick/internal/store"
)

// rehearsalSeed is the seed of a person's next practice day. It follows from how many they have finished, so that nobody can look for an
// easier draw by beginning again.
func rehearsalSeed(s *competence.State, l cards.Level, set string) uint64 {
	n := 0
	for _, r := range s.Rehearsals {
		if r.Level == l && r.Protocol != "" {
			n++
		}
	}
	sum := sha256.Sum256(fmt.Appendf(nil, "rehearsal %s %s %s %d", s.ID, l, set, n))
	return binary.BigEndian.Uint64(sum[:8])
}

// Rehearsal is a practice day that can begin: the day with the protocol that it follows.
type Rehearsal struct {
	Person   string // id
	Set      string // id of a teacher's set; empty when drawn
	Day      rehearse.Day
	Protocol protocol.Protocol
	PassMark int
}

// PlanRehearsal draws the next practice day of a person at a level, or the situations of a teacher's set. Nothing is recorded.
func (p *Programme) PlanRehearsal(ctx context.Context, a Actor, l cards.Level, set string) (Rehearsal, error) {
	out := Rehearsal{Person: a.Person, Set: set}
	if a.Person == "" {
		return out, errOwnRehearsal
	}
	err := p.store.Read(ctx, func(v *store.View) error {
		t, err := readRules(v)
		if err != nil {
			return err
		}
		skill := competence.New(a.Person).(*competence.State)
		if st, ok, err := v.State(competence.Ref(a.Person)); err != nil {
			return err
		} else if ok {
			skill = st.(*competence.State)
		}
		pl, err := planOf(v, skill, l, set)
		if err != nil {
			return err
		}
		out.Protocol, out.PassMark = t.proto, t.rules.Quiz.PassMark
		out.Day, err = rehearse.Draw(pl, t.proto)
		return err
	})
	return out, err
}

var errOwnRehearsal = fault.New(fault.Denied, "own-rehearsal", "A practice day is done by a person.", "", "Sign in and do it yourself.")

// planOf gives what the next practice day of a person is drawn from.
func planOf(s source, skill *competence.State, l cards.Level, set string) (rehearse.Plan, error) {
	pl := rehearse.Plan{Level: l, Unit: glucose.MgPerDL}
	if st, ok, err := s.State(charter.Ref); err != nil {
		return pl, err
	} else if ok {
		pl.Unit = cmp.Or(st.(*charter.State).Details.Unit, glucose.MgPerDL)
	}
	if set != "" {
		st, ok, err := s.State(competence.SetRef(set))
		if err != nil {
			return pl, err
		}
		x, is := st.(*competence.Set)
		if !ok || !is || x.Retired {
			return pl, fault.New(fault.Missing, "no-such-set", "There is no such set of situations.", "A teacher may have taken it off the list.", "Choose another one.")
		}
		pl.Level, pl.Set = x.Level, x.Situations
	}
	pl.Seed = rehearsalSeed(skill, pl.Level, set)
	return pl, nil
}

// RecordRehearsal is a practice day that the person who acts has finished. Did and Gate are by the key of the decision.
type RecordRehearsal struct {
	Act
	Set, Language string
	Level         cards.Level
	Seed          uint64
	Protocol      string   // version by which it was drawn
	Situations    []string // that were drawn
	Decided       map[string]string
	Did, Gate     map[string]string
	Stopped       []competence.Stopped
	Took          time.Duration
}

// Rehearsed is a practice day that was judged.
type Rehearsed struct {
	ID     string `json:"id"` // of the fact
	Passed bool   `json:"passed"`
}

// RecordRehearsal records a practice day as a fact about the person who did it, and of nobody else. The day is drawn again from its seed and judged
// here; nothing but decisions comes out of the sandbox.
func (p *Programme) RecordRehearsal(ctx context.Context, a Actor, c RecordRehearsal) (Rehearsed, error) {
	if a.Person == "" {
		return Rehearsed{}, errOwnRehearsal
	}
	return do(ctx, p, a, c.Act, "training.rehearsal", func(w *work) (Rehearsed, error) {
		_, has, t, err := w.skilled(p, a.Person)
		if err != nil {
			return Rehearsed{}, err
		}
		pl, err := planOf(w.tx, has.skill, c.Level, c.Set)
		if err != nil {
			return Rehearsed{}, err
		}
		day, err := rehearse.Draw(pl, t.proto)
		if err != nil {
			return Rehearsed{}, err
		}
		if pl.Seed != c.Seed || t.proto.Version != c.Protocol || !slices.Equal(day.Keys(), c.Situations) {
			return Rehearsed{}, fault.New(fault.Conflict, "other-rehearsal", "This practice day can no longer be recorded.",
				"It was finished already, or the protocol or the teacher's set has changed since it began.", "Begin a new one.")
		}
		if c.Language != "es" {
			c.Language = "en"
		}
		r := day.Score(c.Decided, t.rules.Quiz.PassMark)
		b := competence.Rehearsed{
			Level: pl.Level, Day: p.today(), Seed: pl.Seed, Right: r.Right, Of: r.Of, Harm: r.Harm, Spoiled: r.Spoiled, Passed: r.Passed,
			Protocol: t.proto.Version, Unit: pl.Unit, Language: c.Language, Situations: c.Situations, Stopped: c.Stopped, Seconds: int(c.Took / time.Second),
		}
		if c.Set != "" {
			st, _, err := w.tx.State(competence.SetRef(c.Set))
			if err != nil {
				return Rehearsed{}, err
			}
			b.Set = st.(*competence.Set).Name
		}
		for _, j := range r.Judged {
			b.Decisions = append(b.Decisions, competence.Decided{
				Decision: j.Decision.Key, Choice: j.Chosen.Key, Chose: j.Chosen.Text.In(c.Language), Did: c.Did[j.Decision.Key], Gate: c.Gate[j.Decision.Key], Right: j.Right, Harm: j.Harm,
			})
		}
		rec, err := w.append(competence.Ref(a.Person), b)
		return Rehearsed{ID: rec.ID, Passed: r.Passed}, err
	})
}

// RehearsalShown is a practice day that was done, with its scenes where they can be drawn again.
type RehearsalShown struct {
	Done competence.Rehearsal
	Day  *rehearse.Day // nil when the situations have changed since
}

// Find gives the situation and decision of a key.
func (r RehearsalShown) Find(key string) (rehearse.Situation, rehearse.Decision, bool) {
	if r.Day == nil {
		return rehearse.Situation{}, rehearse.Decision{}, false
	}
	for _, s := range r.Day.Situations {
		for _, d := range s.Decisions {
			if d.Key == key {
				return s, d, true
			}
		}
	}
	return rehearse.Situation{}, rehearse.Decision{}, false
}

// ShowRehearsal gives a practice day of a person for its debrief, drawn again by its seed and the protocol of its day.
func (p *Programme) ShowRehearsal(ctx context.Context, person, id string) (RehearsalShown, error) {
	var out RehearsalShown
	t, err := p.Training(ctx, person, p.today())
	if err != nil {
		return out, err
	}
	i := slices.IndexFunc(t.Skill.Rehearsals, func(r competence.Rehearsal) bool { return r.FactID == id })
	if i < 0 {
		return out, fault.New(fault.Missing, "no-such-rehearsal", "There is no such practice day of this person in the record.", "", "Go back to the list and choose it there.")
	}
	out.Done = t.Skill.Rehearsals[i]
	ch, err := p.Charter(ctx)
	if err != nil {
		return out, err
	}
	adopted, ok := ch.Version(out.Done.Protocol)
	if !ok {
		return out, nil
	}
	pl := rehearse.Plan{Seed: out.Done.Seed, Level: out.Done.Level, Unit: out.Done.Unit}
	if out.Done.Set != "" {
		pl.Set = out.Done.Situations
	}
	day, err := rehearse.Draw(pl, adopted.Protocol)
	if err != nil {
		return out, err
	}
	if slices.Equal(day.Keys(), out.Done.Situations) {
		out.Day = &day
	}
	return out, nil
}

// ComposeSet is a practice day as a teacher wants it; an empty Set makes a new one.
type ComposeSet struct {
	Act
	Set, Name, Level string
	Situations       []string
}

// ComposeSet records a set of situations.
func (p *Programme) ComposeSet(ctx context.Context, a Actor, c ComposeSet) (Done, error) {
	return do(ctx, p, a, c.Act, "training.set", func(w *work) (Done, error) {
		if err := w.need(vouches...); err != nil {
			return Done{}, err
		}
		var f fields
		b := competence.SetComposed{Name: f.text("name", "The name of the set", c.Name, true, 60), Level: cards.Level(c.Level), Situations: c.Situations}
		if err := f.err(); err != nil {
			return Done{}, err
		}
		if err := b.Check(); err != nil {
			return Done{}, err
		}
		id := cmp.Or(c.Set, w.id)
		if c.Set != "" {
			if _, err := load[*competence.Set](w, competence.SetRef(c.Set)); err != nil {
				return Done{}, err
			}
		}
		_, err := w.append(competence.SetRef(id), b)
		return Done{ID: id}, err
	})
}

// RetireSet takes a set off the list.
type RetireSet struct {
	Act
	Set string
}

// RetireSet records that a set is not used any more.
func (p *Programme) RetireSet(ctx context.Context, a Actor, c RetireSet) (Done, error) {
	return do(ctx, p, a, c.Act, "training.set-retire", func(w *work) (Done, error) {
		if err := w.need(vouches...); err != nil {
			return Done{}, err
		}
		if _, err := load[*competence.Set](w, competence.SetRef(c.Set)); err != nil {
			return Done{}, err
		}
		_, err := w.append(competence.SetRef(c.Set), competence.SetRetired{})
		return Done{ID: c.Set}, err
	})
}

// RehearsalSets lists the sets that can be practised, by name.
func (p *Programme) RehearsalSets(ctx context.Context) ([]*competence.Set, error) {
	all, err := List[*competence.Set](ctx, p, competence.SetKind)
	if err != nil {
		return nil, err
	}
	all = slices.DeleteFunc(all, func(s *competence.Set) bool { return s.Retired })
	slices.SortFunc(all, func(a, b *competence.Set) int {
		return cmp.Or(strings.Compare(a.Name, b.Name), strings.Compare(a.ID, b.ID))
	})
	return all, nil
}
