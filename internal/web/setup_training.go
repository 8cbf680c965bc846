package web

import (
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"

	"fairstick/internal/competence"
	"fairstick/internal/competence/bank"
	"fairstick/internal/competence/cards"
	"fairstick/internal/fault"
	"fairstick/internal/programme"
	"fairstick/internal/protocol"
	"fairstick/internal/web/ui"
)

// ruleCount is one number of the rules of training with how it is named on pages and in the form.
type ruleCount struct {
	Name, Label, Unit, Help string
	Value                   func(*competence.Rules) *int
}

var quizCounts = []ruleCount{
	{"quiz.pass_mark", "Pass mark", "%", "Reaching it is enough. Each critical question must be right besides.", func(r *competence.Rules) *int { return &r.Quiz.PassMark }},
	{"quiz.attempts", "Attempts", "attempts", "After the last one a teacher goes through it first.", func(r *competence.Rules) *int { return &r.Quiz.Attempts }},
	{"quiz.questions", "Questions", "questions", "", func(r *competence.Rules) *int { return &r.Quiz.Questions }},
	{"quiz.critical", "Critical questions, at least", "questions", "0: as they are drawn. One miss of these and the quiz is not passed.", func(r *competence.Rules) *int { return &r.Quiz.Critical }},
	{"quiz.minutes", "Time for a quiz", "minutes", "0: it is not timed.", func(r *competence.Rules) *int { return &r.Quiz.Minutes }},
}

var watchCounts = []ruleCount{
	{"steps_percent", "Other steps that must be done", "%", "Of those that were seen. A critical step must be done in any case.", func(r *competence.Rules) *int { return &r.StepsPercent }},
	{"attempts", "Observations that may not be passed", "attempts", "After the last one somebody teaches, and another verifier watches.", func(r *competence.Rules) *int { return &r.Attempts }},
	{"split_percent", "A split sample may differ by", "%", "", func(r *competence.Rules) *int { return &r.SplitPercent }},
}

var lastCounts = []ruleCount{
	{"valid_months", "A proof and a verification last", "months", "", func(r *competence.Rules) *int { return &r.ValidMonths }},
	{"bloodborne_months", "A bloodborne training lasts", "months", "", func(r *competence.Rules) *int { return &r.BloodborneMonths }},
	{"idle_days", "Warm-up after a pause of more than", "days", "0: never.", func(r *competence.Rules) *int { return &r.IdleDays }},
}

// levelAsk is one thing that a level may ask.
type levelAsk struct {
	Key, Label, Hint string
	Value            func(*competence.LevelRule) *bool
}

var levelAsks = []levelAsk{
	{"quiz", "Quiz", "", func(r *competence.LevelRule) *bool { return &r.Quiz }},
	{"rehearsal", "Practice day", "", func(r *competence.LevelRule) *bool { return &r.Rehearsal }},
	{"bloodborne", "Bloodborne training", "", func(r *competence.LevelRule) *bool { return &r.Bloodborne }},
	{"hepatitis_b", "Cleared by the college", "For work with blood. Nothing else is kept.", func(r *competence.LevelRule) *bool { return &r.HepatitisB }},
	{"models", "Trained on each meter model", "Again for a new model or new instructions.", func(r *competence.LevelRule) *bool { return &r.Models }},
	{"idle", "Warm-up after a pause", "", func(r *competence.LevelRule) *bool { return &r.Idle }},
}

func levelField(l cards.Level, name string) string { return "levels." + string(l) + "." + name }

func trainingRulesEdit(_ *Server, c *Context) error { return c.trainingRulesAgain(nil) }

// trainingRulesAgain shows the form of the rules of training with what holds, or with what was typed.
func (c *Context) trainingRulesAgain(f *fault.Fault) error {
	p, signed, err := c.editBase()
	if err != nil {
		return err
	}
	r, own, err := programme.TrainingRules(p)
	if err != nil {
		return err
	}
	form := c.dayForm("rules", "/setup/protocol/training", "rules", f)
	version := p.Version
	if signed {
		version = ""
	}
	counts := func(list []ruleCount) []item {
		var out []item
		for _, x := range list {
			out = append(out, field(count(form, x.Name, x.Label, *x.Value(&r), x.Unit, x.Help)))
		}
		return out
	}
	v := officeForm{Form: form, Submit: "Save as the draft", Parts: []part{
		{ID: "version", Heading: "Version", Items: []item{field(size(form.line("version", "Name of the new version", version), ui.Medium, ui.Text,
			"A signed version cannot change; the new text needs a name of its own, for example 2026.2"))}},
		{ID: "quiz", Heading: "Quiz", Items: counts(quizCounts)},
		topicPart(form, r),
		{ID: "watch", Heading: "Observation", Items: append(counts(watchCounts), criticalSteps(form, r))},
		{ID: "last", Heading: "How long it lasts", Items: counts(lastCounts)},
	}}
	for _, l := range cards.Levels {
		v.Parts = append(v.Parts, levelPart(form, r, l))
	}
	source := area(form, "source", "Where these rules come from", r.Source, 4)
	source.Help = "It stands beside the rules. When you change one, say here who decided it or where it is published."
	v.Parts = append(v.Parts, part{ID: "source", Heading: "Source", Items: []item{field(source)}})
	lead := "Nothing changes on the day until two people have signed the draft."
	if !own {
		lead = "The default rules hold now. " + lead
	}
	page := c.officePage("Rules of training", lead, "setup", &ui.Link{Href: "/setup/protocol", Label: "Protocol"})
	return c.Show(f, OfficeForm(page, v))
}

// topicPart asks how often each topic comes in a quiz.
func topicPart(form dayForm, r competence.Rules) part {
	out := part{ID: "topics", Heading: "Topics of the quiz", Closed: true, Help: "1 is the usual share, 2 twice as many questions, 0 none."}
	for _, t := range bank.Topics {
		n := 1
		if w, ok := r.Quiz.Weights[t]; ok {
			n = w
		}
		out.Items = append(out.Items, field(size(form.line("quiz.weights."+string(t), t.Word().In("en"), strconv.Itoa(n)), ui.Short, ui.Number, "")))
	}
	if says := form.wrong("quiz.weights"); says != "" {
		out.Closed, out.Items[0].Field.Error = false, says
	}
	return out
}

// criticalSteps asks which steps end an observation; those that no programme may take off are named, and not asked.
func criticalSteps(form dayForm, r competence.Rules) item {
	var options []ui.Option
	var on, fixed []string
	for _, s := range cards.Steps() {
		switch {
		case !s.Critical():
		case slices.Contains(cards.Locked(), s.Key):
			fixed = append(fixed, strconv.Itoa(s.Number))
		default:
			options = append(options, ui.Option{Value: s.Key, Label: fmt.Sprintf("%d. %s", s.Number, s.Do.In("en"))})
			if !slices.Contains(r.NotCritical, s.Key) {
				on = append(on, s.Key)
			}
		}
	}
	b := form.several("critical", "Steps that end an observation when they are missed", on, options...)
	b.Help = "Steps " + strings.Join(fixed, ", ") + " always do: without them somebody can be infected or left alone."
	b.Error = form.wrong("not_critical")
	return tickBoxes(b)
}

// levelPart asks what one level of work needs.
func levelPart(form dayForm, r competence.Rules, l cards.Level) part {
	rule := r.Levels[l]
	var options []ui.Option
	var on []string
	for _, a := range levelAsks {
		options = append(options, ui.Option{Value: a.Key, Label: a.Label, Hint: a.Hint})
		if *a.Value(&rule) {
			on = append(on, a.Key)
		}
	}
	asks := form.several(levelField(l, "asks"), "What it needs", on, options...)
	asks.Error = form.wrong("levels." + string(l))
	if form.fault != nil && asks.Error != "" {
		asks.ID = "f-levels." + string(l)
	}
	out := part{ID: "level-" + string(l), Heading: capital(levelTitle(l)), Items: []item{
		tickBoxes(asks),
		field(count(form, levelField(l, "observations"), "Observed fingersticks that are passed", rule.Observations, "observed", "For work without fingersticks: observed hours of it. 0: none.")),
		field(count(form, levelField(l, "methods"), "Different ways in which it was shown", rule.Methods, "ways", "Quiz, observed work, a blind or split sample. Two are accreditation practice.")),
	}}
	wrong := asks.Error != "" || form.wrong(levelField(l, "observations")) != "" || form.wrong(levelField(l, "methods")) != ""
	out.Closed = l != cards.Screener && !wrong
	return out
}

func trainingRulesSave(s *Server, c *Context) error {
	p, _, err := c.editBase()
	if err != nil {
		return err
	}
	r, _, err := programme.TrainingRules(p)
	if err != nil {
		return err
	}
	e := protocolEditor{c: c, p: &p}
	p.Version = c.Form("version")
	if p.Version == "" {
		e.say("version", "Give the new version a name.")
	}
	changed := e.trainingRules(&r)
	if e.given("source") {
		was := r.Source
		if r.Source = oneLine(c.Form("source")); r.Source == "" || len(changed) > 0 && r.Source == oneLine(was) {
			e.say("source", "Say where these rules come from.")
			if len(changed) > 0 {
				e.say("source", "You changed: %s. Say here who decided it or where it is published.", strings.Join(changed, "; "))
			}
		}
	}
	if f := e.fault(); f != nil {
		return c.trainingRulesAgain(f)
	}
	if p, err = programme.WithTrainingRules(p, r); err == nil {
		_, err = s.prog.DraftProtocol(c.R.Context(), c.Actor(), programme.DraftProtocol{Act: c.Act(), Protocol: p})
	}
	if err != nil {
		return c.trainingRulesAgain(fault.Of(err))
	}
	return c.Done("/setup/protocol", "Draft "+p.Version+" is saved. It is in force when two people have signed it.")
}

// trainingRules puts what was typed into a copy of the rules and names what changed.
func (e *protocolEditor) trainingRules(r *competence.Rules) (changed []string) {
	note := func(is bool, format string, args ...any) {
		if is {
			changed = append(changed, fmt.Sprintf(format, args...))
		}
	}
	for _, x := range slices.Concat(quizCounts, watchCounts, lastCounts) {
		note(e.number(x.Name, x.Label, x.Value(r)), "%s", strings.ToLower(x.Label))
	}
	weights := maps.Clone(r.Quiz.Weights)
	for _, t := range bank.Topics {
		n := 1
		if w, ok := weights[t]; ok {
			n = w
		}
		if e.number("quiz.weights."+string(t), t.Word().In("en"), &n) {
			if weights == nil {
				weights = map[bank.Topic]int{}
			}
			weights[t] = n
			note(true, "the share of %s", t.Word().In("en"))
		}
	}
	r.Quiz.Weights = weights
	if e.given("quiz.questions") {
		var off, was []string
		for _, s := range cards.Steps() {
			if slices.Contains(r.NotCritical, s.Key) {
				was = append(was, s.Key)
			}
			if s.Critical() && !slices.Contains(cards.Locked(), s.Key) && !slices.Contains(e.c.Forms("critical"), s.Key) {
				off = append(off, s.Key)
			}
		}
		note(!slices.Equal(off, was), "the critical steps")
		r.NotCritical = off
	}
	r.Levels = maps.Clone(r.Levels)
	for _, l := range cards.Levels {
		rule := r.Levels[l]
		was := rule
		e.number(levelField(l, "observations"), "The observed fingersticks", &rule.Observations)
		if e.given(levelField(l, "methods")) {
			e.number(levelField(l, "methods"), "The ways", &rule.Methods)
			for _, a := range levelAsks {
				*a.Value(&rule) = slices.Contains(e.c.Forms(levelField(l, "asks")), a.Key)
			}
		}
		note(rule != was, "what a %s needs", levelTitle(l))
		r.Levels[l] = rule
	}
	return changed
}

// trainingRow is what one level of work needs, as a person reads it.
type trainingRow struct {
	Level string
	Cells []string
}

var trainingColumns = append(append([]string{"Level"}, askLabels()...), "Observed", "Ways")

func askLabels() []string {
	var out []string
	for _, a := range levelAsks {
		out = append(out, a.Label)
	}
	return out
}

// trainingRows are the levels of a protocol with what each needs; none when its rules cannot be read.
func trainingRows(p protocol.Protocol) []trainingRow {
	r, _, err := programme.TrainingRules(p)
	if err != nil {
		return nil
	}
	var out []trainingRow
	for _, l := range cards.Levels {
		rule := r.Levels[l]
		row := trainingRow{Level: levelTitle(l)}
		for _, a := range levelAsks {
			word := "-"
			if *a.Value(&rule) {
				word = "yes"
			}
			row.Cells = append(row.Cells, word)
		}
		row.Cells = append(row.Cells, strconv.Itoa(rule.Observations), strconv.Itoa(rule.Methods))
		out = append(out, row)
	}
	return out
}
