package competence

import (
	"fmt"
	"slices"
	"sort"

	"fairstick/internal/civil"
	"fairstick/internal/competence/bank"
	"fairstick/internal/competence/cards"
	"fairstick/internal/protocol"
)

// The keys of what may be missing, in the order in which it is said.
const (
	NeedRule         = "no-rule"
	NeedTeaching     = "teaching"
	NeedQuiz         = "quiz"
	NeedRehearsal    = "rehearsal"
	NeedObservations = "observations"
	NeedSteps        = "steps-unseen"
	NeedMethods      = "methods"
	NeedBloodborne   = "bloodborne"
	NeedHepatitisB   = "hepatitis-b"
	NeedModel        = "model"
	NeedSignature    = "signature"
	NeedWarmUp       = "warm-up"
)

// Missing is one thing that a person lacks, in a plain sentence.
type Missing struct {
	Key      string        `json:"key"`
	Sentence protocol.Text `json:"sentence"`
}

// Model is a meter model in use with the edition of its instructions.
type Model struct {
	Name    string `json:"name"`
	Edition string `json:"edition,omitempty"` // empty: any edition will do
}

// Today is the day on which somebody wants to work, and what else it depends on.
type Today struct {
	Day      civil.Date
	Models   []Model    // meter models in use
	LastTest civil.Date // when the person last tested somebody, from the visits; zero: never
}

// need is one proof on a day: what is missing, or until when it lasts. A zero day means that time does not end it.
type need struct {
	key     string
	until   civil.Date
	missing *Missing
}

func lacking(key string, t protocol.Text) need { return need{key: key, missing: &Missing{key, t}} }

func say(en, es string, args ...any) protocol.Text {
	return protocol.Text{"en": fmt.Sprintf(en, args...), "es": fmt.Sprintf(es, args...)}
}

// join puts a day into a sentence, language by language.
func join(en, es string, day civil.Date) protocol.Text {
	d := bank.Day(day)
	return protocol.Text{"en": fmt.Sprintf(en, d["en"]), "es": fmt.Sprintf(es, d["es"])}
}

// Lacks lists what a person lacks for a level on a day, in the order in which it is done; it is empty for somebody who may work. Only
// what was shown by that day counts. A proof at a higher level counts for a lower one, and so does a verification.
func Lacks(s *State, r Rules, l cards.Level, today Today) []Missing {
	var out []Missing
	for _, n := range append(proofs(s, r, l, today), signature(s, l, today.Day), warmUp(s, r, l, today)) {
		if n.missing != nil {
			out = append(out, *n.missing)
		}
	}
	return out
}

// ValidUntil is the last day on which a person who lacks nothing on a day still lacks nothing, warm-ups aside, if nothing more is
// recorded: the earliest end of the verification and of each proof behind it. ok is false when something is missing on that
// day; because names what ends first.
func ValidUntil(s *State, r Rules, l cards.Level, today Today) (until civil.Date, because string, ok bool) {
	for _, n := range append(proofs(s, r, l, today), signature(s, l, today.Day)) {
		if n.missing != nil {
			return civil.Date{}, n.key, false
		}
		if !n.until.IsZero() && (until.IsZero() || n.until.Before(until)) {
			until, because = n.until, n.key
		}
	}
	return until, because, true
}

// GrantUntil is the last day of a verification that is signed on a day: as long as the rules let one last, and never longer than the
// proof behind it. The bloodborne training is not counted here, since it is renewed on its own. ok is false when proof is
// missing.
func GrantUntil(s *State, r Rules, l cards.Level, today Today) (until civil.Date, ok bool) {
	until = LastDay(today.Day, r.ValidMonths)
	for _, n := range proofs(s, r, l, today) {
		if n.missing != nil {
			return civil.Date{}, false
		}
		if n.key != NeedBloodborne {
			until = civil.Earlier(until, n.until)
		}
	}
	return until, true
}

// Lapse is a verification that ends.
type Lapse struct {
	Person  string      `json:"person"`
	Level   cards.Level `json:"level"`
	Until   civil.Date  `json:"until"` // the last day
	Because string      `json:"because"`
}

// Lapsing lists who holds on a day what they will not hold any more on a later one, earliest end first. Each person is listed once, with
// the highest level that they hold.
func Lapsing(people []*State, r Rules, today Today, before civil.Date) []Lapse {
	var out []Lapse
	for _, s := range people {
		for i := len(cards.Levels) - 1; i >= 0; i-- {
			until, because, ok := ValidUntil(s, r, cards.Levels[i], today)
			if !ok {
				continue
			}
			if !until.IsZero() && until.Before(before) {
				out = append(out, Lapse{s.ID, cards.Levels[i], until, because})
			}
			break
		}
	}
	sort.Slice(out, func(i, j int) bool {
		if out[i].Until != out[j].Until {
			return out[i].Until.Before(out[j].Until)
		}
		return out[i].Person < out[j].Person
	})
	return out
}

// proofs goes through everything that a level asks but the signature and the warm-up.
func proofs(s *State, r Rules, l cards.Level, today Today) []need {
	rule, ok := r.Levels[l]
	if !ok || !l.Valid() {
		return []need{lacking(NeedRule, say("The protocol has no rule for this level.", "El protocolo no tiene regla para este nivel."))}
	}
	var out []need
	if rule.Quiz {
		out = append(out, quiz(s, r, l, today.Day))
	}
	if rule.Rehearsal {
		out = append(out, rehearsal(s, r, l, today.Day))
	}
	if rule.Observations > 0 {
		out = append(out, observations(s, r, l, rule.Observations, today.Day)...)
	}
	if n, asked := methods(s, r, l, rule, today.Day); asked && !(n.missing != nil && said(out)) {
		out = append(out, n)
	}
	if rule.Bloodborne {
		out = append(out, bloodborne(s, r, today.Day))
	}
	if rule.HepatitisB {
		out = append(out, hepatitisB(s, today.Day))
	}
	if rule.Models {
		out = append(out, models(s, today)...)
	}
	return out
}

// said reports whether a quiz or an observation is named as missing already, so that the ways need not be counted beside it.
func said(needs []need) bool {
	return slices.ContainsFunc(needs, func(n need) bool {
		return n.missing != nil && (n.key == NeedQuiz || n.key == NeedTeaching || n.key == NeedObservations)
	})
}

// lastsOn gives until when a proof of a day lasts, and whether it counts on another day.
func (r Rules) lastsOn(shown civil.Date, months int, day civil.Date) (until civil.Date, counts bool) {
	until = LastDay(shown, months)
	return until, !shown.After(day) && !day.After(until)
}

func quiz(s *State, r Rules, l cards.Level, day civil.Date) need {
	var best, last civil.Date
	for _, q := range s.Quizzes {
		if !q.Passed || !q.Level.Covers(l) || q.Day.After(day) {
			continue
		}
		until, ok := r.lastsOn(q.Day, r.ValidMonths, day)
		if ok && (best.IsZero() || until.After(best)) {
			best = until
		}
		if last.IsZero() || until.After(last) {
			last = until
		}
	}
	tries := s.Tries[tryKey(MethodQuiz, l)].Failed
	switch {
	case !best.IsZero():
		return need{key: NeedQuiz, until: best}
	case tries >= r.Quiz.Attempts:
		return lacking(NeedTeaching, say("The quiz was not passed %d times. A teacher must go through it first.", "El examen no se aprobó %d veces. Primero debe repasarlo un docente.", tries))
	case !last.IsZero():
		return lacking(NeedQuiz, join("The quiz lasted until %s and must be taken again.", "El examen valió hasta el %s y hay que repetirlo.", last))
	case tries > 0:
		return lacking(NeedQuiz, say("The quiz has not been passed yet (%d of %d tries used).", "El examen aún no se aprobó (%d de %d intentos usados).", tries, r.Quiz.Attempts))
	}
	return lacking(NeedQuiz, say("The quiz has not been taken yet.", "El examen aún no se hizo."))
}

func rehearsal(s *State, r Rules, l cards.Level, day civil.Date) need {
	var best civil.Date
	tried := false
	for _, x := range s.Rehearsals {
		if x.Day.After(day) || !x.Level.Covers(l) {
			continue
		}
		tried = true
		if until, ok := r.lastsOn(x.Day, r.ValidMonths, day); ok && x.Passed && (best.IsZero() || until.After(best)) {
			best = until
		}
	}
	switch {
	case !best.IsZero():
		return need{key: NeedRehearsal, until: best}
	case tried:
		return lacking(NeedRehearsal, say("No practice day that was passed is in date.", "Ningún día de práctica aprobado está vigente."))
	}
	return lacking(NeedRehearsal, say("The practice day has not been done yet.", "El día de práctica aún no se hizo."))
}

// counted lists the observations that count for a level on a day, latest first.
func counted(s *State, r Rules, l cards.Level, day civil.Date) []Observation {
	var out []Observation
	for _, o := range s.Observations {
		_, ok := r.lastsOn(o.Day, r.ValidMonths, day)
		signed := o.SignedPerson == s.ID && o.SignedObserver == o.Observer && o.Observer != "" && o.Observer != s.ID
		if ok && o.Passed && o.stands(day) && o.Level.Covers(l) && signed {
			out = append(out, o)
		}
	}
	slices.Reverse(out)
	slices.SortStableFunc(out, func(a, b Observation) int { return a.Day.DaysUntil(b.Day) })
	return out
}

func observations(s *State, r Rules, l cards.Level, wanted int, day civil.Date) []need {
	have := counted(s, r, l, day)
	if tries := s.Tries[tryKey(MethodObserved, l)].Failed; tries >= r.Attempts && len(have) < wanted {
		return []need{lacking(NeedTeaching, say("%d observations were not passed. Teaching comes first, then another observer.", "%d observaciones no se aprobaron. Primero hay que enseñar, después otro observador.", tries))}
	}
	if len(have) < wanted {
		left := wanted - len(have)
		return []need{lacking(NeedObservations, say("%d of %d observations are passed and in date; %d still to do.", "%d de %d observaciones están aprobadas y vigentes; faltan %d.", len(have), wanted, left))}
	}
	out := []need{{key: NeedObservations, until: LastDay(have[wanted-1].Day, r.ValidMonths)}}
	var unseen []cards.Step
	steps := need{key: NeedSteps}
	for _, step := range cards.For(l) {
		if !r.critical(step) {
			continue
		}
		i := slices.IndexFunc(have, func(o Observation) bool { return o.Marks[step.Key] == OK })
		if i < 0 {
			unseen = append(unseen, step)
			continue
		}
		steps.until = civil.Earlier(steps.until, LastDay(have[i].Day, r.ValidMonths))
	}
	if len(unseen) > 0 {
		first := unseen[0]
		out = append(out, lacking(NeedSteps, protocol.Text{
			"en": fmt.Sprintf("%d critical steps have not been seen yet. First: %s", len(unseen), first.Do["en"]),
			"es": fmt.Sprintf("%d pasos críticos aún no se vieron. Primero: %s", len(unseen), first.Do["es"]),
		}))
		return out
	}
	return append(out, steps)
}

// methods counts in how many ways a level was shown; asked is false when the rule does not count them.
func methods(s *State, r Rules, l cards.Level, rule LevelRule, day civil.Date) (n need, asked bool) {
	if rule.Methods < 1 {
		return need{}, false
	}
	ends := methodsOn(s, r, l, day)
	if len(ends) < rule.Methods {
		return lacking(NeedMethods, say("Shown in %d of %d ways (quiz, observed work, blind or split sample).", "Mostrado de %d de %d maneras (examen, trabajo observado, muestra ciega o dividida).", len(ends), rule.Methods)), true
	}
	days := make([]civil.Date, 0, len(ends))
	for _, d := range ends {
		days = append(days, d)
	}
	slices.SortFunc(days, func(a, b civil.Date) int { return a.DaysUntil(b) })
	return need{key: NeedMethods, until: days[rule.Methods-1]}, true
}

// methodsOn gives each way by which a level is shown on a day, with its end.
func methodsOn(s *State, r Rules, l cards.Level, day civil.Date) map[string]civil.Date {
	ends := map[string]civil.Date{}
	if q := quiz(s, r, l, day); q.missing == nil {
		ends[MethodQuiz] = q.until
	}
	for _, o := range counted(s, r, l, day) {
		until := LastDay(o.Day, r.ValidMonths)
		if _, ok := ends[MethodObserved]; !ok {
			ends[MethodObserved] = until
		}
		if _, ok := ends[MethodSample]; !ok && o.Sample != nil && o.Sample.Within {
			ends[MethodSample] = until
		}
	}
	return ends
}

// Methods lists the ways by which a level is shown on a day, as a verification keeps them.
func Methods(s *State, r Rules, l cards.Level, day civil.Date) []string {
	ends := methodsOn(s, r, l, day)
	var out []string
	for _, m := range []string{MethodQuiz, MethodObserved, MethodSample} {
		if _, ok := ends[m]; ok {
			out = append(out, m)
		}
	}
	return out
}

func bloodborne(s *State, r Rules, day civil.Date) need {
	var last civil.Date
	for _, b := range s.Bloodborne {
		if !b.Day.After(day) && (last.IsZero() || b.Day.After(last)) {
			last = b.Day
		}
	}
	if last.IsZero() {
		return lacking(NeedBloodborne, say("No training on bloodborne pathogens is on record.", "No hay registro de capacitación en patógenos de la sangre."))
	}
	until, ok := r.lastsOn(last, r.BloodborneMonths, day)
	if !ok {
		return lacking(NeedBloodborne, join("The training on bloodborne pathogens lasted until %s.", "La capacitación en patógenos de la sangre valió hasta el %s.", until))
	}
	return need{key: NeedBloodborne, until: until}
}

// hepatitisB looks at the latest word of the college; of two on one day the later one in the record holds.
func hepatitisB(s *State, day civil.Date) need {
	var last *HepatitisB
	for i := range s.HepatitisB {
		h := &s.HepatitisB[i]
		if !h.Day.After(day) && (last == nil || !h.Day.Before(last.Day)) {
			last = h
		}
	}
	switch {
	case last == nil:
		return lacking(NeedHepatitisB, say("The college has not said yet whether this person is cleared for work with blood.", "La escuela aún no dijo si esta persona puede trabajar con sangre."))
	case !last.Cleared:
		return lacking(NeedHepatitisB, say("The college has not cleared this person for work with blood.", "La escuela no autorizó a esta persona a trabajar con sangre."))
	}
	return need{key: NeedHepatitisB}
}

func models(s *State, today Today) []need {
	out := make([]need, 0, len(today.Models))
	for _, m := range today.Models {
		trained, other := false, false
		for _, t := range s.Models {
			if t.Model != m.Name || t.Day.After(today.Day) {
				continue
			}
			other = true
			trained = trained || m.Edition == "" || t.Edition == m.Edition
		}
		switch {
		case trained:
			out = append(out, need{key: NeedModel})
		case other:
			out = append(out, lacking(NeedModel, say("The instructions of %s have changed (%s): training on them is missing.", "Las instrucciones de %s cambiaron (%s): falta la capacitación.", m.Name, m.Edition)))
		default:
			out = append(out, lacking(NeedModel, say("Training on the meter %s is missing.", "Falta la capacitación en el medidor %s.", m.Name)))
		}
	}
	return out
}

// signature looks for the verification that stands on a day and lasts longest.
func signature(s *State, l cards.Level, day civil.Date) need {
	var best, last *SignOff
	for i := range s.SignOffs {
		o := &s.SignOffs[i]
		if !o.Level.Covers(l) || o.Granted.By == s.ID {
			continue
		}
		last = o
		if o.stands(day) && !day.Before(o.From) && !day.After(o.Until) && (best == nil || o.Until.After(best.Until)) {
			best = o
		}
	}
	switch {
	case best != nil:
		return need{key: NeedSignature, until: best.Until}
	case last == nil:
		return lacking(NeedSignature, say("No verifier has signed yet.", "Aún no firmó ningún verificador."))
	case !last.stands(day):
		return lacking(NeedSignature, say("The verification was withdrawn: %s", "La verificación se retiró: %s", last.Withdrawn))
	case day.Before(last.From):
		return lacking(NeedSignature, join("The verification begins on %s.", "La verificación empieza el %s.", last.From))
	}
	return lacking(NeedSignature, join("The verification lasted until %s.", "La verificación valió hasta el %s.", last.Until))
}

// warmUp asks for a refresher after more than IdleDays without a test. The beginning of a verification, an observation and a warm-up
// count as a test.
func warmUp(s *State, r Rules, l cards.Level, today Today) need {
	rule := r.Levels[l]
	if !rule.Idle || r.IdleDays == 0 {
		return need{key: NeedWarmUp}
	}
	last := today.LastTest
	later := func(d civil.Date) {
		if !d.After(today.Day) && (last.IsZero() || d.After(last)) {
			last = d
		}
	}
	for _, o := range s.Observations {
		later(o.Day)
	}
	for _, w := range s.WarmUps {
		later(w.Day)
	}
	for _, o := range s.SignOffs {
		later(o.From)
	}
	if last.IsZero() {
		return need{key: NeedWarmUp}
	}
	if days := last.DaysUntil(today.Day); days > r.IdleDays {
		return lacking(NeedWarmUp, say("The last test was %d days ago. First a warm-up: one control run or one observed test.", "La última prueba fue hace %d días. Primero una práctica: un control o una prueba observada.", days))
	}
	return need{key: NeedWarmUp}
}
