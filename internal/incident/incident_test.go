package incident

import (
	"strings"
	"testing"
	"time"

	"fairstick/internal/fact"
)

// play folds facts said at wall-clock times of one day.
func play(t *testing.T, facts ...any) *State {
	t.Helper()
	s := New("i1").(*State)
	for i := 0; i < len(facts); i += 2 {
		s.Apply(fact.Record{Meta: fact.Meta{ID: "f", At: clock(t, facts[i].(string)), By: "p1", Recorded: "r" + facts[i].(string)}, Body: facts[i+1].(fact.Body)})
	}
	return s
}

func clock(t *testing.T, hm string) time.Time {
	t.Helper()
	at, err := time.Parse("2006-01-02 15:04:05", "2026-06-20 "+hm)
	if err != nil {
		t.Fatal(err)
	}
	return at
}

func steps(list []Missing) string {
	var out []string
	for _, x := range list {
		out = append(out, x.Step)
	}
	return strings.Join(out, " ")
}

// What is still to be done, for each sort, as its steps are written down.
func TestMissing(t *testing.T) {
	reported := func(s Sort) Reported { return Reported{Event: "e", Sort: s, Station: "2"} }
	for _, c := range []struct {
		name  string
		facts []any
		want  string
	}{
		{"a sharps injury asks for everything", []any{"11:00:00", reported(SharpsInjury)}, "first-aid told called form source handed-over"},
		{"a splash too", []any{"11:00:00", reported(Splash), "11:00:30", Step{Step: FirstAid, Choice: "flushed"}}, "told called form source handed-over"},
		{"the log counts as written once", []any{"11:00:00", reported(SharpsInjury), "11:10:00", Described{How: "x"}}, "first-aid told called source handed-over"},
		{
			"an exposure that is looked after", []any{
				"11:00:00", reported(SharpsInjury), "11:01:00",
				Step{Step: FirstAid, Choice: "washed"},
				"11:02:00",
				Step{Step: Told, Choice: "p2"},
				"11:04:00",
				Step{Step: Called, Choice: "answered"},
				"11:05:00",
				Described{How: "x"},
				"11:06:00",
				Step{Step: Source, Choice: "not-known"},
				"11:30:00",
				Step{Step: HandedOver, Choice: "declined"},
			}, "",
		},
		{"a faint", []any{"11:00:00", reported(Faint)}, "laid-down legs-raised stayed told well fall ate"},
		{"a fall that hurt goes to somebody", []any{"11:00:00", reported(Faint), "11:02:00", Step{Step: Fall, Choice: "hurt"}}, "laid-down legs-raised stayed told well handed-over"},
		{"emergency services instead of well again", []any{"11:00:00", reported(Faint), "11:02:00", Step{Step: Emergency}}, "laid-down legs-raised stayed told fall handed-over"},
		{"a spill", []any{"11:00:00", reported(Spill)}, "gloves absorbed cleaned disinfected"},
		{"a spill that is still wet", []any{
			"11:00:00", reported(Spill), "11:01:00",
			Step{Step: Gloves},
			"11:01:00",
			Step{Step: Absorbed},
			"11:02:00",
			Step{Step: Cleaned},
			"12:58:30",
			Step{Step: Disinfected, Choice: "w", Seconds: 120},
		}, "disinfected"},
		{"a spill that was wet long enough", []any{
			"11:00:00", reported(Spill), "11:01:00",
			Step{Step: Gloves},
			"11:01:00",
			Step{Step: Absorbed},
			"11:02:00",
			Step{Step: Cleaned},
			"12:58:00",
			Step{Step: Disinfected, Choice: "w", Seconds: 120},
		}, ""},
		{"a device problem", []any{"11:00:00", reported(DeviceProblem)}, "what-we-did"},
		{"a complaint", []any{"11:00:00", reported(Complaint), "11:10:00", Step{Step: Remedy, Note: "called back"}}, ""},
		{"a withdrawn one", []any{"11:00:00", reported(SharpsInjury), "11:01:00", Withdrawn{Reason: "pressed by mistake"}}, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := steps(play(t, c.facts...).Missing(clock(t, "13:00:00"))); got != c.want {
				t.Errorf("to do: %q, want %q", got, c.want)
			}
		})
	}
}

func TestStateOfAFaint(t *testing.T) {
	s := play(t, "11:35:00", Reported{Event: "e", Sort: Faint, Visit: "v", Station: "1"}, "11:45:00", Step{Step: Well}, "11:36:00", Step{Step: LaidDown})
	if after, ok := s.WellAfter(); !ok || after != 10*time.Minute {
		t.Errorf("well after %v, %v", after, ok)
	}
	if s.Steps[0].Step.Step != LaidDown || !s.Open() || !s.Calls() {
		t.Errorf("steps %+v, open %v, calls %v", s.Steps, s.Open(), s.Calls())
	}
	if parent, label := s.Index(); parent != "e" || label != "2026-06-20T11:35:00.000 i1" {
		t.Errorf("index %q %q", parent, label)
	}
	s.Apply(fact.Record{Meta: fact.Meta{At: clock(t, "11:50:00"), By: "p9"}, Body: Described{Happened: clock(t, "11:30:00")}})
	if after, _ := s.WellAfter(); after != 15*time.Minute {
		t.Errorf("after a corrected time: well after %v", after)
	}
	s.Apply(fact.Record{Meta: fact.Meta{At: clock(t, "11:55:00"), By: "p9"}, Body: Closed{Signed: "p9"}})
	if s.Open() || s.Calls() || s.ClosedBy != "p9" {
		t.Errorf("closed: %+v", s)
	}
}

// An open spill shuts its station and mentions it; a closed one does not.
func TestSpillShutsItsStation(t *testing.T) {
	s := play(t, "11:00:00", Reported{Event: "e", Sort: Spill, Station: "2", Meter: "m"})
	if s.Shuts() != "2" || len(s.Mentions()) != 2 || s.Mentions()[1].Name != "shut" {
		t.Errorf("open: %q %+v", s.Shuts(), s.Mentions())
	}
	s.Apply(fact.Record{Body: Closed{}})
	if s.Shuts() != "" || len(s.Mentions()) != 1 || s.Mentions()[0].Value != "m" {
		t.Errorf("closed: %q %+v", s.Shuts(), s.Mentions())
	}
}

func TestEverySortHasItsStepsAndWords(t *testing.T) {
	for _, s := range Sorts {
		if len(AidFor(s).Do) == 0 || len(StepsOf(s)) == 0 || !s.Valid() {
			t.Errorf("%s: %+v, %v", s, AidFor(s), StepsOf(s))
		}
		for _, step := range StepsOf(s) {
			if rule, ok := RuleOf(s, step); !ok || rule.Step != step {
				t.Errorf("%s has no rule for %s", s, step)
			}
		}
		for _, x := range play(t, "11:00:00", Reported{Sort: s}).Missing(clock(t, "12:00:00")) {
			if _, ok := RuleOf(s, x.Step); x.Sentence == "" || !ok && x.Step != Form {
				t.Errorf("%s asks for %q: %q", s, x.Step, x.Sentence)
			}
		}
	}
	if Sort("theft").Valid() {
		t.Error("an unknown sort is valid")
	}
	if _, ok := RuleOf(Complaint, Told); ok {
		t.Error("a complaint asks for a supervisor's signature")
	}
	for s, must := range map[Sort][]string{
		SharpsInjury: {"soap and running water", "squeeze", "bleach"}, Splash: {"15 minutes", "saline"}, Faint: {"raise the legs", "stand up quickly", "chest pain"}, Spill: {"gloves", "labelled time"},
	} {
		a := AidFor(s)
		text := strings.ToLower(strings.Join(append(a.Do, a.Not...), " "))
		for _, m := range must {
			if !strings.Contains(text, m) {
				t.Errorf("the first aid of %s does not say %q: %s", s, m, text)
			}
		}
	}
}

// Words that belong to a clinician are found in both languages; what people write about a fair is not.
func TestMedical(t *testing.T) {
	for text, want := range map[string]string{
		"The source has HIV": "hiv", "tiene VIH": "vih", "Hepatitis B known": "hepatitis", "hep C since 2010": "hep c", "She was vaccinated": "vaccinated", "está vacunada": "vacunada",
		"antibody test was fine": "antibody", "sin anticuerpos": "anticuerpos", "Titre is high": "titre", "on insulin": "insulin", "usa insulina": "insulina", "takes metformin": "metformin",
		"takes medication": "medication", "toma medicamentos": "medicamentos", "her medicine": "medicine", "diagnosed last year": "diagnosed", "un diagnóstico": "diagnostico",
		"she is pregnant": "pregnant", "está embarazada": "embarazada", "The source is positive": "source is positive", "tested negative": "tested negative", "positive for hep": "positive for",
		"salió positivo": "salio positivo", "has AIDS": "AIDS", "started PEP": "PEP", "profilaxis dada": "profilaxis", "Infected wound": "infected", "tetanus shot": "tetanus",
		"blood type 0": "blood type", "a diabetic": "diabetic", "immunised": "immunised", "toma pastillas": "pastillas", "VIH+": "vih", "(HIV)": "hiv", "HIV-positive": "hiv",
	} {
		if got := Medical(text); got != want {
			t.Errorf("Medical(%q) = %q, want %q", text, got, want)
		}
	}
	for _, text := range []string{
		"", "Lancet slipped at the drive-in clinic.", "A positive attitude all day.", "The mood was positive about the fair.", "Archived the form; the archive is full.",
		"First aids were at hand and a pep talk followed.", "Told the infection control nurse.", "El equipo de control de infecciones fue avisado.", "Una situación embarazosa en la mesa.",
		"Gave 4 glucose tablets and juice.", "Hepburn Street entrance, tent 5", "Negative space on the table was wet.", "The diabetes screening was too slow.", "Wrote on the tablet.",
		"Meter showed E3 twice, result was 5.3 then 9.9", "stb and TBD", "Sidewalk in front", "He was positive that the cap was shut",
	} {
		if got := Medical(text); got != "" {
			t.Errorf("Medical(%q) = %q: a false alarm", text, got)
		}
	}
}
