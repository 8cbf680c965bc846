package web

import (
	"cmp"
	"fmt"
	"slices"

	"fairstick/internal/civil"
	"fairstick/internal/competence"
)

// ownWords say to somebody what is on record about them besides their quizzes.
type ownWords struct {
	Title                           string
	Observed, Practice              func(level string, passed bool) string
	Bloodborne, Cleared, NotCleared string
	Meter                           func(model string) string
	WarmUp                          string
	Taught                          func(level string) string
	Verified                        func(level, until string) string
	Withdrawn                       func(level, day, reason string) string
	Missed                          func(steps string) string
}

func passedIn(ok bool, yes, no string) string {
	if ok {
		return yes
	}
	return no
}

// ownSaid are the words by language. The Spanish was written by the program's authors; a fluent speaker of the community must review it.
var ownSaid = map[string]ownWords{
	"en": {
		Title: "What is on record",
		Observed: func(level string, ok bool) string {
			return "Observed work as " + level + ", " + passedIn(ok, "passed", "not passed")
		},
		Practice: func(level string, ok bool) string {
			return "Practice day as " + level + ", " + passedIn(ok, "passed", "not passed")
		},
		Bloodborne: "Training on bloodborne pathogens", Cleared: "The college has cleared you for work with blood", NotCleared: "The college has not cleared you for work with blood",
		Meter: func(model string) string { return "Training on the meter " + model }, WarmUp: "Warm-up after a pause",
		Taught:   func(level string) string { return "Teaching after the attempts as " + level },
		Verified: func(level, until string) string { return "Verified as " + level + " until " + until },
		Withdrawn: func(level, day, reason string) string {
			return "Verification as " + level + " withdrawn on " + day + ": " + reason
		},
		Missed: func(steps string) string { return "missed: step " + steps },
	},
	"es": {
		Title: "Lo que consta",
		Observed: func(level string, ok bool) string {
			return "Trabajo observado, " + passedIn(ok, "aprobado", "no aprobado") + ": " + level
		},
		Practice: func(level string, ok bool) string {
			return "Día de práctica, " + passedIn(ok, "aprobado", "no aprobado") + ": " + level
		},
		Bloodborne: "Capacitación en patógenos de la sangre", Cleared: "La escuela le autoriza a trabajar con sangre", NotCleared: "La escuela no le autoriza a trabajar con sangre",
		Meter: func(model string) string { return "Capacitación en el medidor " + model }, WarmUp: "Práctica después de una pausa",
		Taught:   func(level string) string { return "Enseñanza después de los intentos: " + level },
		Verified: func(level, until string) string { return "Verificación hasta el " + until + ": " + level },
		Withdrawn: func(level, day, reason string) string {
			return "Verificación retirada el " + day + ": " + level + ". " + reason
		},
		Missed: func(steps string) string { return "falló el paso " + steps },
	},
}

// ownRecord lists what is on record about somebody besides their quizzes, newest first, each with its day.
func ownRecord(s *competence.State, lang string) []string {
	say := ownSaid[lang]
	type line struct {
		day  civil.Date
		text string
	}
	var all []line
	add := func(day civil.Date, text string) { all = append(all, line{day, text}) }
	for _, r := range s.Rehearsals {
		add(r.Day, say.Practice(r.Level.Word().In(lang), r.Passed))
	}
	for _, o := range s.Observations {
		text := say.Observed(o.Level.Word().In(lang), o.Passed)
		if missed := missedSteps(o); missed != "" {
			text += "; " + say.Missed(missed)
		}
		add(o.Day, text)
	}
	for _, b := range s.Bloodborne {
		add(b.Day, say.Bloodborne)
	}
	for _, h := range s.HepatitisB {
		add(h.Day, passedIn(h.Cleared, say.Cleared, say.NotCleared))
	}
	for _, m := range s.Models {
		add(m.Day, say.Meter(m.Model))
	}
	for _, w := range s.WarmUps {
		add(w.Day, say.WarmUp)
	}
	for _, x := range s.Teaching {
		add(x.Day, say.Taught(x.Level.Word().In(lang)))
	}
	for _, g := range s.SignOffs {
		word := g.Level.Word().In(lang)
		add(g.From, say.Verified(word, dayIn(lang, g.Until)))
		if g.Withdrawn != "" {
			add(g.WithdrawnOn, say.Withdrawn(word, dayIn(lang, g.WithdrawnOn), g.Withdrawn))
		}
	}
	slices.Reverse(all)
	slices.SortStableFunc(all, func(a, b line) int { return cmp.Compare(0, b.day.DaysUntil(a.day)) })
	out := make([]string, len(all))
	for i, x := range all {
		out[i] = fmt.Sprintf("%s: %s", dayIn(lang, x.day), x.text)
	}
	return out
}
