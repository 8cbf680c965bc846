package programme

import (
	"context"
	"fmt"

	"fairstick/internal/about"
	"fairstick/internal/charter"
	"fairstick/internal/fault"
	"fairstick/internal/people"
	"fairstick/internal/visit"
)

// ChooseQuestions says which of the optional questions about themselves participants are asked.
type ChooseQuestions struct {
	Act
	Questions []string // keys of package about
}

// ChooseQuestions records the choice. Only a lead may; it can be changed at any time, and what was asked of a visit stays with the visit.
func (p *Programme) ChooseQuestions(ctx context.Context, a Actor, c ChooseQuestions) (Done, error) {
	return do(ctx, p, a, c.Act, "programme.choose-questions", func(w *work) (Done, error) {
		if err := w.need(people.Lead); err != nil {
			return Done{}, err
		}
		var keys []string
		for _, end := range []bool{false, true} {
			keys = append(keys, keysOf(about.Chosen(c.Questions, end))...)
		}
		if len(keys) != len(c.Questions) {
			return Done{}, fault.New(fault.Invalid, "no-question", "There is no such question.", "Only the questions of the list can be asked.", "Load the page again.")
		}
		_, err := w.append(charter.Ref, charter.QuestionsChosen{Questions: keys})
		return Done{ID: charter.Ref.ID}, err
	})
}

func keysOf(list []about.Question) []string {
	out := make([]string, len(list))
	for i, q := range list {
		out[i] = q.Key
	}
	return out
}

// TellAbout is what a participant chose to say about themself at the desk. Without answers the questions were passed over.
type TellAbout struct {
	Act
	Visit   string
	Answers about.Answers
}

// TellAbout records the answers with the questions that the programme asks now. It opens and shuts nothing: a visit goes on with or without. It
// may be said again, and then the later answers hold, until the visit has ended.
func (p *Programme) TellAbout(ctx context.Context, a Actor, c TellAbout) (Done, error) {
	return do(ctx, p, a, c.Act, "visit.tell-about", func(w *work) (Done, error) {
		if err := w.need(deskRoles...); err != nil {
			return Done{}, err
		}
		v, _, err := w.live(c.Visit)
		if err != nil {
			return Done{}, err
		}
		ticket := fmt.Sprintf("Ticket %03d", v.Ticket)
		switch {
		case v.Consent == nil:
			return Done{}, refuse("no-consent", ticket+" has not consented.", "Nobody is asked about themselves without a yes.", "Read the consent text first.")
		case v.Answers == nil:
			return Done{}, refuse("no-answers", ticket+" has not answered the questions of the protocol.", "Those come first: they say who can be tested.", "Ask them at the desk.")
		}
		return Done{ID: v.ID}, w.tellAbout(v.ID, false, c.Answers)
	})
}

// tellAbout records answers to the questions that the programme asks now, at the desk or at the end. Where it asks none, nothing is recorded.
func (w *work) tellAbout(visitID string, end bool, said about.Answers) error {
	ch, err := w.charter()
	if err != nil {
		return err
	}
	return w.saidAbout(visitID, keysOf(about.Chosen(ch.Asks, end)), said)
}

// saidAbout records answers to questions that were asked.
func (w *work) saidAbout(visitID string, asked []string, said about.Answers) error {
	answers, err := about.Check(asked, said)
	if err != nil || len(asked) == 0 {
		return err
	}
	for key, codes := range answers {
		if len(codes) == 0 {
			delete(answers, key)
		}
	}
	_, err = w.append(visit.Ref(visitID), visit.AboutTold{Asked: asked, Answers: answers})
	return err
}

// aboutPart counts a visit under its answer to a question.
func aboutPart(key string) func(*counted) string {
	return func(c *counted) string { return about.PartOf(c.About, key) }
}

// countAbout completes the tables of what people said about themselves. A question that nobody of the span was asked has no table; else those who were
// not asked stand in a row of their own, so that the rows come to everybody. Areas of a ZIP code from which few came are counted together.
func (f *Figures) countAbout() {
	for _, q := range about.Questions() {
		rows := f.Parted[q.Key]
		if _, unasked := rows[about.NotAsked]; len(rows) == 0 || len(rows) == 1 && unasked {
			delete(f.Parted, q.Key)
			continue
		}
		rest := newCounts()
		for i := range rest.n {
			rest.n[i] = f.All.n[i]
			for _, c := range rows {
				rest.n[i] -= c.n[i]
			}
		}
		if before, ok := rows[about.NotAsked]; ok {
			rest = before.and(rest)
		}
		if rest.N("approached") > 0 {
			rows[about.NotAsked] = rest
		}
		if q.Digits > 0 {
			joinAreas(rows)
		}
	}
}

// joinAreas counts the areas from which fewer than about.FewInArea came as one.
func joinAreas(rows map[string]Counts) {
	small := newCounts()
	for area, c := range rows {
		switch area {
		case about.PreferNot, about.PassedOver, about.NotAsked:
			continue
		}
		if c.N("approached") < about.FewInArea {
			small = small.and(c)
			delete(rows, area)
		}
	}
	if small.N("approached") > 0 {
		rows[about.Elsewhere] = small
	}
}

// and gives the sum of two counts.
func (c Counts) and(d Counts) Counts {
	out := newCounts()
	for i := range out.n {
		out.n[i] = c.n[i] + d.n[i]
	}
	return out
}

// AsksAbout reports whether participants are asked about themselves at the desk.
func (d *Day) AsksAbout() bool { return len(about.Chosen(d.Charter.Asks, false)) > 0 }
