package web

import (
	"fmt"
	"net/http"
	"strings"

	"fairstick/internal/civil"
	"fairstick/internal/competence"
	"fairstick/internal/competence/bank"
	"fairstick/internal/competence/cards"
	"fairstick/internal/fault"
	"fairstick/internal/programme"
	"fairstick/internal/protocol"
	"fairstick/internal/web/ui"
)

// lapsesAhead is how far the board looks, in days.
const lapsesAhead = 60

// cohortView is the progress of the class.
type cohortView struct {
	Page                 ui.Page
	Held, Of, Ready, Due string
	List                 listView
	Lapses               []listRow
	LapseCols            []ui.Col
	Import               bool
}

func levelTitle(l cards.Level) string { return l.Word().In("en") }

// firstMissing is the next thing to do, and how many more there are.
func firstMissing(list []competence.Missing) string {
	switch len(list) {
	case 0:
		return ""
	case 1:
		return list[0].Sentence.In("en")
	}
	return fmt.Sprintf("%s And %d more.", list[0].Sentence.In("en"), len(list)-1)
}

func trainingShow(s *Server, c *Context) error {
	co, err := s.prog.Cohort(c.R.Context())
	if err != nil {
		return err
	}
	lapses, err := s.prog.Lapses(c.R.Context(), co.Day.AddDays(lapsesAhead+1))
	if err != nil {
		return err
	}
	v := cohortView{
		Page: c.page("Training"), Held: fmt.Sprint(co.Held), Of: fmt.Sprintf("of %d people", len(co.Rows)), Ready: fmt.Sprint(co.Ready), Due: fmt.Sprint(len(lapses)),
		LapseCols: columns("Last day", "Who", "What ends"), Import: c.holds(lead),
	}
	v.Page.Lead, v.Page.Back, v.Page.Wide = "Who may do what, what each person still lacks, and whose proof ends soon.", &ui.Link{Href: "/", Label: "Start"}, true
	v.List = listView{ID: "class", Caption: plural(len(co.Rows), "person", "people"), Find: "Find a name or what is missing", Cols: columns("Name", "Needs", "Holds", "Quiz", "Observed", "Still missing")}
	for _, r := range co.Rows {
		row := listRow{Href: "/training/" + r.Person.ID, Cells: []string{r.Person.Details.Name, levelTitle(r.Target.Level), "nothing yet", "not yet", "-", firstMissing(r.Target.Missing)}}
		if r.Holds != "" {
			row.Cells[2] = levelTitle(r.Holds)
		}
		if r.Quiz {
			row.Cells[3] = "passed"
		}
		if r.Wanted > 0 {
			row.Cells[4] = fmt.Sprintf("%d of %d", r.Watched, r.Wanted)
		}
		switch {
		case r.Target.Holds:
			row.Cells[5] = "Nothing. Until " + r.Target.Until.Long() + "."
		case !r.Paper.IsZero():
			row.Cells[5] = "Nothing: on paper until " + r.Paper.Long() + ". By training: " + firstMissing(r.Target.Missing)
		case r.Target.Ready:
			row.Cells[5] = "Only a signature."
		}
		v.List.Rows = append(v.List.Rows, row)
	}
	for _, l := range lapses {
		v.Lapses = append(v.Lapses, listRow{Href: "/training/" + l.Person, Cells: []string{l.Until.Long(), l.Name, lapseText(l)}})
	}
	return c.Render(http.StatusOK, CohortPage(v))
}

var endWords = map[string]string{
	competence.NeedQuiz: "the quiz", competence.NeedRehearsal: "the practice day", competence.NeedObservations: "the observations", competence.NeedSteps: "a critical step seen",
	competence.NeedMethods: "one of the ways it was shown", competence.NeedBloodborne: "the bloodborne training", competence.NeedSignature: "the verification",
}

func lapseText(l programme.Lapse) string {
	if l.Paper {
		return l.Role + ": the verification on paper"
	}
	return levelTitle(l.Level) + ": " + endWords[l.Because]
}

// trainingText says in a line what the protocol asks of training.
func trainingText(p protocol.Protocol) string {
	r, own, err := programme.TrainingRules(p)
	if err != nil {
		return fault.Of(err).Sentence
	}
	timed, critical := "not timed", ""
	if r.Quiz.Minutes > 0 {
		timed = "in " + plural(r.Quiz.Minutes, "minute", "minutes")
	}
	if r.Quiz.Critical > 0 {
		critical = fmt.Sprintf(" (at least %d)", r.Quiz.Critical)
	}
	text := fmt.Sprintf("%d questions, %d %% and each critical one%s right, %s, %s; %d %% of the seen steps and each critical one; proof lasts %s, bloodborne training %s; warm-up after %s without a test. ",
		r.Quiz.Questions, r.Quiz.PassMark, critical, plural(r.Quiz.Attempts, "attempt", "attempts"), timed, r.StepsPercent, plural(r.ValidMonths, "month", "months"), plural(r.BloodborneMonths, "month", "months"), plural(r.IdleDays, "day", "days"))
	if own {
		return text + r.Source
	}
	return text + "The default rules: this protocol has none of its own. " + r.Source
}

// statisticsView is what the quizzes say about the questions.
type statisticsView struct {
	Page  ui.Page
	Says  string
	Rows  []listRow
	Cols  []ui.Col
	Level string
}

var flagWords = map[string]string{
	"too-few": "too few answers to judge", "too-hard": "too hard", "too-easy": "too easy", "weak": "hardly tells who knows", "wrong-way": "who knows less gets it right: look at the answer", "not-measured": "not measured",
}

func trainingStatistics(s *Server, c *Context) error {
	st, err := s.prog.ItemStatistics(c.R.Context(), cards.Level(c.query("level")))
	if err != nil {
		return err
	}
	fixed, err := bank.Fixed()
	if err != nil {
		return err
	}
	stems := map[string]string{}
	for _, q := range fixed {
		stems[q.Key] = q.Stem.In("en")
	}
	v := statisticsView{Page: c.page("Questions"), Cols: columns("Question", "Asked", "Right", "Tells apart", "What to look at")}
	v.Page.Back, v.Page.Wide = &ui.Link{Href: "/training", Label: "Training"}, true
	v.Page.Lead = "Which questions are too hard, too easy, or tell nothing. None is judged before it was asked 30 times."
	v.Says = "Nobody has taken a quiz yet."
	if st.Tried > 0 {
		v.Says = fmt.Sprintf("%d of %d passed at the first try (%.0f %%; 95 %% interval %.0f to %.0f %%). %s in all.", st.Passed, st.Tried, 100*st.Rate.Share, 100*st.Rate.Low, 100*st.Rate.High, plural(st.Sittings, "quiz", "quizzes"))
	}
	for _, it := range st.Items {
		row := listRow{Cells: []string{stems[it.Key], fmt.Sprint(it.N), fmt.Sprintf("%.0f %%", 100*it.Difficulty), "-", ""}}
		if row.Cells[0] == "" {
			row.Cells[0] = "Made: " + strings.ReplaceAll(it.Key, "-", " ")
		}
		if it.Discrimination != nil {
			row.Cells[3] = fmt.Sprintf("%+.2f", *it.Discrimination)
		}
		var flags []string
		for _, f := range it.Flags {
			flags = append(flags, flagWords[f])
		}
		row.Cells[4] = strings.Join(flags, "; ")
		v.Rows = append(v.Rows, row)
	}
	return c.Render(http.StatusOK, StatisticsPage(v))
}

// checkView asks for the code of a certificate and says what it belongs to.
type checkView struct {
	Page  ui.Page
	Fault *fault.Fault
	Code  ui.Input
	Found *programme.Certificate
	Facts [][2]string
	Tone  ui.Tone
	Says  string
}

func trainingCheck(s *Server, c *Context) error {
	v := checkView{Page: c.page("Check a certificate")}
	v.Page.Lead, v.Page.Back = "The code stands on the certificate and on the wallet card. It is looked up in this record.", &ui.Link{Href: "/training", Label: "Training"}
	code := c.query("code")
	v.Code = ui.Input{Name: "code", Label: "Code", Value: code, Width: ui.Medium, MaxLength: 20, Focus: code == ""}
	if code == "" {
		return c.Render(http.StatusOK, CheckPage(v))
	}
	found, err := s.prog.CheckCode(c.R.Context(), code)
	if err != nil {
		v.Fault = fault.Of(err)
		if v.Fault.Kind == fault.Internal {
			return err
		}
		v.Code.Error = ui.Message(v.Fault, "code")
		return c.Show(v.Fault, CheckPage(v))
	}
	v.Found, v.Facts = &found, certificateFacts(found)
	v.Tone, v.Says = ui.Done, "This verification stands today."
	if !found.Stands() {
		v.Tone, v.Says = ui.Stop, "This verification does not stand today: "+whyNot(found)
	}
	return c.Render(http.StatusOK, CheckPage(v))
}

func whyNot(x programme.Certificate) string {
	switch {
	case x.SignOff.Withdrawn != "":
		return "it was withdrawn on " + x.SignOff.WithdrawnOn.Long() + ". " + x.SignOff.Withdrawn
	case x.Day.After(x.SignOff.Until):
		return "it ended on " + x.SignOff.Until.Long() + "."
	case x.Day.Before(x.SignOff.From):
		return "it begins on " + x.SignOff.From.Long() + "."
	}
	return firstMissing(x.Standing.Missing)
}

func certificateFacts(x programme.Certificate) [][2]string {
	return [][2]string{
		{"Name", x.Person.Details.Name},
		{"Verified as", levelTitle(x.SignOff.Level)},
		{"From", x.SignOff.From.Long()},
		{"Through", x.SignOff.Until.Long()},
		{"Shown by", methodsText(x.SignOff.Methods)},
		{"Signed by", x.By},
		{"Code", x.Code},
	}
}

var methodWords = map[string]string{competence.MethodQuiz: "quiz", competence.MethodObserved: "observed work", competence.MethodSample: "blind or split sample"}

func methodsText(list []string) string {
	var out []string
	for _, m := range list {
		out = append(out, methodWords[m])
	}
	return strings.Join(out, ", ")
}

// asOf reads the day of an address; the zero day for none.
func (c *Context) asOf() (civil.Date, error) {
	text := c.query("on")
	if text == "" {
		return civil.Date{}, nil
	}
	d, err := civil.Parse(text)
	if err != nil {
		return d, fault.BadField("on", "%v.", err)
	}
	return d, nil
}
