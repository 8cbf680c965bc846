package web

import (
	"testing"

	"fairstick/internal/competence"
	"fairstick/internal/competence/bank"
	"fairstick/internal/competence/cards"
	"fairstick/internal/programme"
	"fairstick/internal/protocol"
)

const rulesPath = "/setup/protocol/training"

// The rules of training are changed like any other part of the protocol: a new version, what changed in a list, two signatures.
func TestTheRulesOfTrainingAreDraftedAndSigned(t *testing.T) {
	o := setUp(t)
	form := formOf(t, o.get("Lea Lead", rulesPath), rulesPath)
	for name, value := range map[string]string{
		"version": "2026.2", "quiz.pass_mark": "85", "quiz.attempts": "2", "quiz.minutes": "30", "quiz.critical": "6", "quiz.weights.sharps-and-exposure": "2",
		"valid_months": "24", "idle_days": "60", "levels.screener.observations": "5", "levels.desk.methods": "1",
	} {
		if _, there := form[name]; !there {
			t.Fatalf("the form has no field %s", name)
		}
		form.Set(name, value)
	}
	form["levels.counsellor.asks"] = []string{"quiz"}
	first := form["critical"][0]
	form["critical"] = form["critical"][1:]
	o.want(o.post("Lea Lead", rulesPath, fieldsOf(form)...), 422, "You changed: pass mark; attempts; critical questions, at least; time for a quiz", "what a screener needs", "the critical steps",
		"Say here who decided it", `id="f-source-error"`, `value="85"`)
	if o.charter().Draft != nil {
		t.Fatal("a draft was recorded without a source")
	}
	form.Set("source", "Invented faculty meeting of 3 October 2026")
	o.goes(o.post("Lea Lead", rulesPath, fieldsOf(form)...), "/setup/protocol")
	o.want(o.get("Lea Lead", "/setup/protocol"), 200, "verification / competence / quiz / pass mark", "verification / competence / levels / counsellor / rehearsal", "Draft, not signed",
		"85 % and each critical one (at least 6) right, 2 attempts, in 30 minutes", "Invented faculty meeting", "!verification / competence / split percent")
	force, _ := o.charter().InForce()
	if len(force.Protocol.Verification.Competence) != 0 {
		t.Fatal("the rules hold before they are signed")
	}
	o.goes(o.post("Lea Lead", "/setup/protocol/sign", "version=2026.2", "first_person="+o.ID("Lea Lead"), "first_pin=4821", "second_person="+o.ID("Rae Runner"), "second_pin=9518"), "/setup/protocol")
	force, _ = o.charter().InForce()
	r, own, err := programme.TrainingRules(force.Protocol)
	if err != nil || !own {
		t.Fatalf("own %v, %v", own, err)
	}
	want := competence.DefaultRules()
	want.Quiz = bank.Rules{Questions: 20, PassMark: 85, Attempts: 2, Minutes: 30, Critical: 6, Weights: map[bank.Topic]int{bank.Sharps: 2}}
	want.NotCritical = []string{first}
	want.ValidMonths, want.IdleDays, want.Source = 24, 60, "Invented faculty meeting of 3 October 2026"
	for l, change := range map[cards.Level]func(*competence.LevelRule){
		cards.Screener:   func(x *competence.LevelRule) { x.Observations = 5 },
		cards.Desk:       func(x *competence.LevelRule) { x.Methods = 1 },
		cards.Counsellor: func(x *competence.LevelRule) { x.Rehearsal = false },
	} {
		x := want.Levels[l]
		change(&x)
		want.Levels[l] = x
	}
	a, _ := programme.WithTrainingRules(protocol.Default(), want)
	b, _ := programme.WithTrainingRules(protocol.Default(), r)
	if string(a.Encode()) != string(b.Encode()) {
		t.Errorf("the signed rules differ: %v", changesBetween(a, b))
	}
	// What is shown again is what was signed: saving it changes nothing but the version.
	again := formOf(t, o.get("Lea Lead", rulesPath), rulesPath)
	again.Set("version", "2026.3")
	o.goes(o.post("Lea Lead", rulesPath, fieldsOf(again)...), "/setup/protocol")
	if c := changesBetween(force.Protocol, *o.charter().Draft); len(c) != 1 || c[0].Place != "version" {
		t.Errorf("saving what was shown changed %v", c)
	}
}

// Each value that cannot be has its sentence at its field, and nothing is recorded.
func TestAbsurdRulesOfTrainingAreRefused(t *testing.T) {
	o := setUp(t)
	form := formOf(t, o.get("Lea Lead", rulesPath), rulesPath)
	form.Set("version", "2026.2")
	form.Set("source", "invented")
	for name, c := range map[string]struct{ value, says string }{
		"quiz.pass_mark":               {"0", "The pass mark is from 50 to 100 per cent."},
		"quiz.attempts":                {"99", "There are 1 to 10 attempts."},
		"quiz.questions":               {"3", "A quiz has 5 to 100 questions."},
		"quiz.critical":                {"21", "From 0 to 20 critical questions, and no more than the quiz has."},
		"quiz.minutes":                 {"-5", "Time for a quiz should be a whole number"},
		"quiz.weights.waste":           {"1000", "A weight is from 0 to 100"},
		"steps_percent":                {"101", "From 50 to 100 per cent of the steps."},
		"attempts":                     {"", "Observations that may not be passed should be a whole number"},
		"valid_months":                 {"120", "A verification lasts from 1 to 36 months."},
		"bloodborne_months":            {"0", "A bloodborne training lasts from 1 to 24 months."},
		"idle_days":                    {"9999", "From 0 (never) to 730 days."},
		"split_percent":                {"80", "A split sample may differ by 5 to 25 per cent."},
		"levels.screener.observations": {"0", "Nobody tests people before being observed once."},
		"levels.desk.methods":          {"9", "9 methods cannot be shown by what the level asks for."},
		"version":                      {"", "Give the new version a name."},
	} {
		t.Run(name, func(t *testing.T) {
			o := &office{Stage: o.Stage, t: t, server: o.server, tokens: o.tokens}
			was := form[name]
			form.Set(name, c.value)
			o.want(o.post("Lea Lead", rulesPath, fieldsOf(form)...), 422, c.says)
			form[name] = was
			if o.charter().Draft != nil {
				t.Error("a draft was recorded")
			}
		})
	}
}
