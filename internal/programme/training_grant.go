package programme

import (
	"context"
	"slices"
	"strings"

	"fairstick/internal/civil"
	"fairstick/internal/competence"
	"fairstick/internal/fault"
	"fairstick/internal/people"
	"fairstick/internal/store"
)

// GrantLevel is a verification on proof.
type GrantLevel struct {
	Act
	Person, Level, Until, Note string // Until empty: as long as the proof and the rules let it last
}

// GrantLevel records a verification. A lead or supervisor may, never for themselves, and not before every proof is there: the refusal
// names all that is missing.
func (p *Programme) GrantLevel(ctx context.Context, a Actor, c GrantLevel) (Done, error) {
	return p.vouched(ctx, a, c.Act, "training.grant", c.Person, func(w *work, f *fields, _ *people.State, has standing, t training) error {
		level, today := f.level(c.Level), has.on(p.today())
		note := f.text("note", "The note", c.Note, false, 200)
		until := f.date("until", "The last day", c.Until, false)
		if err := f.err(); err != nil {
			return err
		}
		if err := competence.MayGrant(has.skill, w.actor.Person, t.rules, level, today); err != nil {
			return err
		}
		most, ok := competence.GrantUntil(has.skill, t.rules, level, today)
		if !ok {
			return fault.New(fault.Refused, "not-ready", "Proof is missing.", "A verification rests on proof.", "Complete what the list names, then sign.")
		}
		if until.IsZero() {
			until = most
		}
		if until.After(most) {
			f.say("until", "It can last until %s: a verification never outlives its proof.", most.Long())
		}
		if until.Before(today.Day) {
			f.say("until", "The last day is over already.")
		}
		return w.add(f, c.Person, competence.Granted{
			Level: level, From: today.Day, Until: until, By: w.actor.Person, Methods: competence.Methods(has.skill, t.rules, level, today.Day), Note: note,
		})
	})
}

// WithdrawLevel ends the verifications of a level and of those above it.
type WithdrawLevel struct {
	Act
	Person, Level, Reason string
}

// WithdrawLevel records the end of a verification with its reason, at once: the next act of the day is refused. What stands in the register
// on paper for the same work ends with it.
func (p *Programme) WithdrawLevel(ctx context.Context, a Actor, c WithdrawLevel) (Done, error) {
	return do(ctx, p, a, c.Act, "training.withdraw", func(w *work) (Done, error) {
		if err := w.need(vouches...); err != nil {
			return Done{}, err
		}
		who, err := load[*people.State](w, people.Ref(c.Person))
		if err != nil {
			return Done{}, err
		}
		f := &fields{}
		level := f.level(c.Level)
		reason := f.text("reason", "The reason", c.Reason, true, 200)
		if err := w.add(f, c.Person, competence.Withdrawn{Level: level, Day: p.today(), Reason: reason, By: w.actor.Person}); err != nil {
			return Done{}, err
		}
		for _, r := range people.Roles {
			if l, ok := levelOf[r]; !ok || !l.Covers(level) || !standsOnPaper(who, r) {
				continue
			}
			if _, err := w.append(people.Ref(c.Person), people.VerificationWithdrawn{Role: r, Reason: reason}); err != nil {
				return Done{}, err
			}
		}
		return Done{ID: c.Person}, nil
	})
}

func standsOnPaper(who *people.State, r people.Role) bool {
	return slices.ContainsFunc(who.Verifications, func(v people.Verification) bool { return v.Role == r && v.Withdrawn == "" })
}

// endTraining ends the verification by training of a role that is withdrawn on paper.
func (w *work) endTraining(person string, role people.Role, reason string, day civil.Date) error {
	level, ok := levelOf[role]
	s, there, err := w.skill(person)
	if err != nil || !ok || !there {
		return err
	}
	if !slices.ContainsFunc(s.SignOffs, func(o competence.SignOff) bool { return o.Level.Covers(level) && o.Withdrawn == "" }) {
		return nil
	}
	_, err = w.append(competence.Ref(person), competence.Withdrawn{Level: level, Day: day, Reason: reason, By: w.actor.Person})
	return err
}

// Certificate is a verification as it is printed, with the code by which it is found again.
type Certificate struct {
	Programme string
	Person    *people.State
	By        string // name
	SignOff   competence.SignOff
	Code      string
	Standing  LevelStanding // as of today
	Day       civil.Date
}

// Stands reports whether the verification holds today.
func (c Certificate) Stands() bool {
	return c.SignOff.Withdrawn == "" && !c.Day.Before(c.SignOff.From) && !c.Day.After(c.SignOff.Until) && c.Standing.Holds
}

// CertificateOf gives the latest verification of a person that has not been withdrawn, the highest level first. A person without one
// is refused.
func (p *Programme) CertificateOf(ctx context.Context, person string) (Certificate, error) {
	t, err := p.Training(ctx, person, p.today())
	if err != nil {
		return Certificate{}, err
	}
	var best *competence.SignOff
	for i := range t.Skill.SignOffs {
		o := &t.Skill.SignOffs[i]
		if o.Withdrawn == "" && (best == nil || o.Level.Covers(best.Level)) {
			best = o
		}
	}
	if best == nil {
		return Certificate{}, fault.New(fault.Refused, "no-certificate", t.Person.Details.Name+" has no verification that rests on training.", "",
			"Complete what is missing and sign; then there is something to print.")
	}
	return p.certify(ctx, t, *best)
}

func (p *Programme) certify(ctx context.Context, t Training, o competence.SignOff) (Certificate, error) {
	c := Certificate{Person: t.Person, By: t.NameOf(o.By), SignOff: o, Standing: t.At(o.Level), Day: t.Day}
	err := p.store.Read(ctx, func(v *store.View) (err error) {
		c.Code, err = codeIn(v, o.FactID)
		return err
	})
	if err != nil {
		return c, err
	}
	ch, err := p.Charter(ctx)
	c.Programme = ch.Details.Name
	return c, err
}

// CheckCode finds the verification of a code, standing or not. Spaces, case and the dash do not matter.
func (p *Programme) CheckCode(ctx context.Context, code string) (Certificate, error) {
	want := plainCode(code)
	if len(want) != 10 {
		return Certificate{}, fault.BadField("code", "A code has ten letters and figures, as it is printed under the certificate.")
	}
	var person string
	var found competence.SignOff
	err := p.store.Read(ctx, func(v *store.View) error {
		all, err := listed[*competence.State](v.All(competence.Kind))
		if err != nil {
			return err
		}
		for _, s := range all {
			for _, o := range s.SignOffs {
				got, err := codeIn(v, o.FactID)
				if err != nil {
					return err
				}
				if got != "" && plainCode(got) == want {
					person, found = s.ID, o
				}
			}
		}
		return nil
	})
	if err != nil {
		return Certificate{}, err
	}
	if person == "" {
		return Certificate{}, fault.New(fault.Missing, "code-unknown", "No verification in this record has this code.",
			"The certificate may be of another programme, or not genuine.", "Read the code again; else ask the person's verifier.").Field("code", "Not in this record.")
	}
	t, err := p.Training(ctx, person, p.today())
	if err != nil {
		return Certificate{}, err
	}
	return p.certify(ctx, t, found)
}

// plainCode takes out what people add when they type a code, and what they mix up.
func plainCode(s string) string {
	s = strings.NewReplacer(" ", "", "-", "", "O", "0", "I", "1", "L", "1").Replace(strings.ToUpper(s))
	return s
}
