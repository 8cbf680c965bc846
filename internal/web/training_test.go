package web

import (
	"bytes"
	"fmt"
	"net/http"
	"regexp"
	"slices"
	"strings"
	"testing"

	"fairstick/internal/civil"
	"fairstick/internal/competence/cards"
	"fairstick/internal/programme"
)

// takes goes through the quiz of a level on the pages, question by question, and hands it in. wrong questions are answered wrongly.
func (v *visitor) takes(name string, l cards.Level, wrong int) {
	v.m.t.Helper()
	sit, err := v.m.prog.OpenQuiz(v.m.t.Context(), programme.Actor{Person: v.m.person(name)}, l)
	if err != nil {
		v.m.t.Fatal(err)
	}
	for i, q := range sit.Quiz.Questions {
		path := fmt.Sprintf("/learn/quiz/%s/%d", l, i+1)
		v.get(path)
		v.want(http.StatusOK)
		f := form()
		for k, o := range q.Options {
			if o.Right == (i >= wrong) {
				f.Add("choice", fmt.Sprint(k))
				if !q.Several() {
					break
				}
			}
		}
		v.send(path, f)
		v.want(http.StatusSeeOther)
	}
	v.get(fmt.Sprintf("/learn/quiz/%s/hand-in", l))
	v.want(http.StatusOK)
	v.see("Every question has an answer.")
	v.send(fmt.Sprintf("/learn/quiz/%s/hand-in", l), nil)
	v.want(http.StatusSeeOther)
}

// Cards and quiz on the phone of somebody who learns alone, in both languages.
func TestLearnAlone(t *testing.T) {
	m := newMarket(t)
	v := m.as("Ines Calder")
	v.get("/")
	v.see("Learn and quiz")
	v.get("/learn")
	v.want(http.StatusOK)
	v.see("For your work as screener", "Still missing", "Begin with the first step", "S: somebody can be harmed", "V: the value cannot be trusted")
	v.get("/learn/steps/18")
	v.want(http.StatusOK)
	v.see("Step 18 of 34", "Why", "S: somebody can be harmed", "<svg", "Next step", "Step before")
	v.get("/learn/steps/34")
	v.see("That was the last step. Now the quiz.")
	for _, bad := range []string{"0", "35", "x"} {
		v.get("/learn/steps/" + bad)
		v.want(http.StatusNotFound)
	}
	v.get("/learn/quiz")
	v.see("20 questions; 80 % must be right", "3 attempts are left.", "/learn/quiz/screener/1")

	v.get("/learn/quiz/screener/1")
	v.want(http.StatusOK)
	v.send("/learn/quiz/screener/1", nil)
	v.want(http.StatusUnprocessableEntity)
	v.see("Choose an answer first.", "Question 1 of 20")
	v.send("/learn/quiz/screener/1", form("choice", "77"))
	v.want(http.StatusUnprocessableEntity)
	v.get("/learn/quiz/screener/21")
	v.want(http.StatusNotFound)
	v.get("/learn/quiz/pilot/1")
	v.want(http.StatusUnprocessableEntity)
	v.get("/learn/quiz/screener/hand-in")
	v.see("20 questions have no answer yet.")
	v.takes("Ines Calder", cards.Screener, 8)
	v.follow()
	v.see("12 of 20 right. Not passed", "2 attempts are left.", "Not right.", "Right is:", "Source:")
	v.takes("Ines Calder", cards.Screener, 0)
	v.follow()
	v.see("20 of 20 right. Passed.", "Right.")
	v.seeNot("Not right.")

	v.get("/learn")
	v.see("Your quizzes", "20/20")
	v.post("/language", form("lang", "es", "to", "/learn"))
	v.get("/learn")
	v.see("Todavía falta", "S: alguien puede salir dañado", `lang="es"`)
	v.allSpanish()
	for _, path := range []string{"/learn/steps/18", "/learn/steps/34", "/learn/quiz", "/learn/quiz/desk/1", "/learn/quiz/desk/hand-in", "/"} {
		v.get(path)
		v.want(http.StatusOK)
		v.allSpanish()
	}
	for range 3 {
		v.get("/learn/quiz/desk/hand-in")
		v.send("/learn/quiz/desk/hand-in", nil)
		v.follow()
		v.want(http.StatusOK)
		v.allSpanish()
	}
	v.get("/learn/quiz/desk/1")
	v.want(http.StatusConflict)
	v.see("El examen no se aprobó 3 veces.")
	v.allSpanish()

	other := m.as("Hollis Bray")
	sits, err := m.prog.Training(t.Context(), m.person("Ines Calder"), civil.Date{})
	if err != nil {
		t.Fatal(err)
	}
	other.get("/learn/results/" + sits.Skill.Quizzes[0].FactID)
	other.want(http.StatusNotFound)
}

// A second press of the last button hands the quiz in once.
func TestQuizHandedInTwice(t *testing.T) {
	m := newMarket(t)
	v := m.as("Ines Calder")
	v.get("/learn/quiz/screener/hand-in")
	f := form("seed", regexp.MustCompile(`name="seed" value="(\d+)"`).FindStringSubmatch(v.body)[1], "command", regexp.MustCompile(`name="command" value="([^"]+)"`).FindStringSubmatch(v.body)[1])
	v.post("/learn/quiz/screener/hand-in", f)
	v.want(http.StatusSeeOther)
	first := v.to
	v.post("/learn/quiz/screener/hand-in", f)
	v.want(http.StatusSeeOther)
	if v.to != first {
		t.Errorf("the second press leads to %s, not to %s", v.to, first)
	}
	tr, err := m.prog.Training(t.Context(), m.person("Ines Calder"), civil.Date{})
	if err != nil || len(tr.Skill.Quizzes) != 1 {
		t.Errorf("%d quizzes on record, %v", len(tr.Skill.Quizzes), err)
	}
}

// verifier makes somebody a verifier by the commands behind the pages, on another's word.
func (m *market) verifier(name, by string) {
	m.t.Helper()
	must := func(err error) {
		m.t.Helper()
		if err != nil {
			m.t.Fatal(err)
		}
	}
	ctx, id, actor := m.t.Context(), m.person(name), programme.Actor{Person: m.person(by)}
	sit, err := m.prog.OpenQuiz(ctx, programme.Actor{Person: id}, cards.Verifier)
	must(err)
	cmd := programme.TakeQuiz{Level: cards.Verifier, Seed: sit.Seed}
	for _, q := range sit.Quiz.Questions {
		var right []int
		for k, o := range q.Options {
			if o.Right {
				right = append(right, k)
			}
		}
		cmd.Answers = append(cmd.Answers, right)
	}
	_, err = m.prog.TakeQuiz(ctx, programme.Actor{Person: id}, cmd)
	must(err)
	_, err = m.prog.RecordExternal(ctx, actor, programme.RecordExternal{Person: id, Kind: "bloodborne", By: "the college"})
	must(err)
	tr, err := m.prog.Training(ctx, id, civil.Date{})
	must(err)
	for _, x := range tr.Models {
		_, err = m.prog.TrainModel(ctx, actor, programme.TrainModel{Person: id, Model: x.Name, Edition: x.Edition})
		must(err)
	}
	_, err = m.prog.GrantLevel(ctx, actor, programme.GrantLevel{Person: id, Level: "verifier"})
	must(err)
}

// The lead makes a supervisor a verifier, who watches a screener; the lead signs, prints and checks the code, and withdraws.
func TestTrainOnThePages(t *testing.T) {
	m := newMarket(t)
	lead, verifier, learner := m.as(leadName), m.as("Tobias Wren"), m.as("Ines Calder")
	path := func(name string) string { return "/training/" + m.person(name) }
	act := func(v *visitor, name, scope string, pairs ...string) {
		t.Helper()
		v.get(path(name))
		v.want(http.StatusOK)
		v.send(path(name)+"/"+scope, form(pairs...))
		v.want(http.StatusSeeOther)
		v.follow()
	}
	lead.get("/training")
	lead.want(http.StatusOK)
	lead.see("Verified for their work", "Ines Calder", "Load a class from a file", "What ends in 60 days")
	verifier.get("/training")
	verifier.seeNot("Load a class from a file")

	lead.get(path("Tobias Wren"))
	lead.send(path("Tobias Wren")+"/grant", form("level", "verifier"))
	lead.want(http.StatusConflict)
	lead.see("The quiz", "bloodborne")
	verifier.takes("Tobias Wren", cards.Verifier, 0)
	act(lead, "Tobias Wren", "external", "by", "the college")
	tr, err := m.prog.Training(t.Context(), m.person("Tobias Wren"), civil.Date{})
	if err != nil {
		t.Fatal(err)
	}
	for _, x := range tr.Models {
		act(lead, "Tobias Wren", "model", "model", x.Name+"|"+x.Edition)
	}
	act(lead, "Tobias Wren", "grant", "level", "verifier")
	lead.see("Verified as verifier until", "The verification is signed.")

	verifier.get(path("Tobias Wren"))
	verifier.see("Nobody can verify themselves.")
	verifier.seeNot("Sign the verification")

	learner.takes("Ines Calder", cards.Screener, 0)
	observe := path("Ines Calder") + "/observe"
	marks := func(missed string) []string {
		var out []string
		for _, s := range cards.For(cards.Screener) {
			mark := "ok"
			if s.Key == missed {
				mark = "missed"
			}
			out = append(out, "mark-"+s.Key, mark)
		}
		return append(out, "observer_person", m.person("Tobias Wren"), "observer_pin", m.pins["Tobias Wren"])
	}
	verifier.get(observe)
	verifier.want(http.StatusOK)
	verifier.see("Observe Ines Calder", "PIN of Ines Calder", "18. ", "Blind control", "Not seen")
	verifier.send(observe, form(append(marks(""), "signed_pin", "0001", "note", "calm hands")...))
	verifier.want(http.StatusForbidden)
	verifier.see("Wrong PIN.", "calm hands")
	if n := strings.Count(verifier.body, "checked"); n < 30 {
		t.Errorf("after the refusal only %d marks are still there", n)
	}
	verifier.send(observe, form("signed_pin", m.pins["Ines Calder"], "observer_person", m.person("Tobias Wren"), "observer_pin", m.pins["Tobias Wren"]))
	verifier.want(http.StatusUnprocessableEntity)
	verifier.see("Nothing was marked as seen yet.")
	verifier.get(observe)
	verifier.send(observe, form(append(marks("lancet-to-sharps"), "signed_pin", m.pins["Ines Calder"])...))
	verifier.want(http.StatusSeeOther)
	verifier.follow()
	verifier.see("not passed. A critical step was missed.", "missed step 18")
	for range 3 {
		verifier.get(observe)
		verifier.send(observe, form(append(marks(""), "signed_pin", m.pins["Ines Calder"])...))
		verifier.want(http.StatusSeeOther)
		verifier.follow()
		verifier.see("The observation is recorded: passed.")
	}
	verifier.get(path("Ines Calder"))
	verifier.seeNot("Second form of what") // nobody is a second observer of their own form
	lead.get(path("Ines Calder") + "/observe")
	lead.see("This observer is not verified today", "Ask another verifier.")
	lead.get("/training/agreement")
	lead.want(http.StatusOK)
	lead.see("No fingerstick was watched by two verifiers yet.")
	verifier.get(path("Ines Calder"))
	verifier.send(path("Ines Calder")+"/practice", form("level", "screener", "of", "ten", "right", "9"))
	verifier.want(http.StatusUnprocessableEntity)
	verifier.see("should be a whole number")
	act(verifier, "Ines Calder", "practice", "level", "screener", "of", "10", "right", "9")
	act(verifier, "Ines Calder", "external", "by", "the college")
	verifier.get(path("Ines Calder"))
	verifier.post(path("Ines Calder")+"/external", form("word", "perhaps", "command", newCommand()))
	verifier.want(http.StatusUnprocessableEntity)
	verifier.post(path("Ines Calder")+"/external", form("word", "cleared", "command", newCommand()))
	verifier.want(http.StatusSeeOther)
	for _, x := range tr.Models {
		act(verifier, "Ines Calder", "model", "model", x.Name+"|"+x.Edition)
	}
	verifier.see("Every proof is there. Only a signature is missing.")
	act(lead, "Ines Calder", "grant", "level", "screener")
	lead.see("Verified as screener until", "Certificate and wallet card, PDF")
	learner.get("/learn")
	learner.see("What is on record", "Observed work as screener, not passed; missed: step 18", "Observed work as screener, passed", "Training on bloodborne pathogens", "Verified as screener until")
	learner.post("/language", form("lang", "es", "to", "/learn"))
	learner.get("/learn")
	learner.see("Lo que consta", "Trabajo observado, no aprobado: evaluador; falló el paso 18", "La escuela le autoriza a trabajar con sangre", "Verificación hasta el")
	learner.allSpanish()
	learner.post("/language", form("lang", "en", "to", "/learn"))
	lead.get(path("Ines Calder") + "?on=2020-01-01")
	lead.see("By what is on record: not verified as screener on 1 Jan 2020.")
	lead.get(path("Ines Calder") + "?on=yesterday")
	lead.see("yesterday")

	lead.get("/people")
	lead.see("by training: screener", "by training: verifier")
	lead.get("/people/" + m.person("Ines Calder"))
	lead.see(`href="` + path("Ines Calder") + `"`)
	lead.get("/setup/protocol")
	lead.see("The default rules: this protocol has none of its own.")

	lead.get(path("Ines Calder") + "/certificate.pdf")
	lead.want(http.StatusOK)
	if !bytes.HasPrefix([]byte(lead.body), []byte("%PDF-")) {
		t.Errorf("the certificate begins with %.20q", lead.body)
	}
	c, err := m.prog.CertificateOf(t.Context(), m.person("Ines Calder"))
	if err != nil {
		t.Fatal(err)
	}
	lead.get("/training/check?code=" + c.Code)
	lead.want(http.StatusOK)
	lead.see("This verification stands today.", "Ines Calder", c.Code)
	lead.get("/training/check?code=AAAAA-AAAAA")
	lead.want(http.StatusNotFound)
	lead.see("No verification in this record has this code.")
	lead.get("/training/check?code=x")
	lead.want(http.StatusUnprocessableEntity)
	lead.get("/training/statistics?level=screener")
	lead.want(http.StatusOK)
	lead.see("1 of 1 passed at the first try", "too few answers to judge")
	lead.get("/training/" + m.person("Ines Calder") + "/quiz/" + c.SignOff.FactID)
	lead.want(http.StatusNotFound)

	lead.get("/training/record")
	lead.want(http.StatusOK)
	lead.see("Choose a day or an event.", `type="date"`)
	for _, what := range []string{"event=" + strings.TrimPrefix(m.event, "/events/"), "on=" + civil.Of(m.prog.Now()).String()} {
		lead.get("/training/record?" + what)
		lead.want(http.StatusOK)
		lead.see("Ines Calder", "Yes, on paper, from", "The same as PDF")
		if strings.HasPrefix(what, "on=") {
			lead.see("quiz, 20 of 20 right", "bloodborne training (the college)")
		} else {
			lead.seeNot("quiz, 20 of 20 right") // she took it after she had taken up her post
		}
		lead.get("/training/record.pdf?" + what)
		lead.want(http.StatusOK)
		if !bytes.HasPrefix([]byte(lead.body), []byte("%PDF-")) {
			t.Errorf("the record begins with %.20q", lead.body)
		}
	}
	for _, bad := range []string{"on=2999-01-01", "on=soon", "on=1999-01-01"} {
		lead.get("/training/record?" + bad)
		lead.want(http.StatusUnprocessableEntity)
	}
	lead.get("/training/record?event=nothing")
	lead.want(http.StatusNotFound)
	learner.get("/training/record")
	learner.want(http.StatusForbidden)

	act(lead, "Ines Calder", "withdraw", "level", "screener", "reason", "recapped a lancet")
	lead.see("Not verified as screener.", "withdrawn on")
	lead.get("/training/check?code=" + c.Code)
	lead.see("does not stand today", "recapped a lancet")
	learner.get(m.event + "/test")
	learner.see("recapped", "Ines Calder")
	learner.get("/training")
	learner.want(http.StatusForbidden)
}

// A second verifier fills in a form of the same fingerstick on another phone; the lead sees where the two differ.
func TestTwoObserversOnThePages(t *testing.T) {
	m := newMarket(t)
	m.verifier(leadName, "Tobias Wren")
	m.verifier("Tobias Wren", leadName)
	lead, other := m.as(leadName), m.as("Tobias Wren")
	path := "/training/" + m.person("Ines Calder")
	marks := func(missed ...string) []string {
		var out []string
		for _, s := range cards.For(cards.Screener) {
			mark := "ok"
			if slices.Contains(missed, s.Key) {
				mark = "missed"
			}
			out = append(out, "mark-"+s.Key, mark)
		}
		return out
	}
	lead.get(path + "/observe")
	lead.see(`class="ends"`, "Stop here: this miss ends it as not passed.")
	lead.seeNot("This observer is not verified today")
	lead.send(path+"/observe", form(append(marks("insert-at-hand", "finger-chosen"), "signed_pin", m.pins["Ines Calder"], "observer_person", m.person(leadName), "observer_pin", m.pins[leadName])...))
	lead.want(http.StatusSeeOther)
	lead.get(path)
	lead.seeNot("Second form of what")
	other.get(path)
	link := regexp.MustCompile(`href="([^"]*/observe\?of=[^"]*)"`).FindStringSubmatch(other.body)
	if link == nil {
		t.Fatal("the other verifier is offered no second form")
	}
	other.get(link[1])
	other.want(http.StatusOK)
	other.see("Second observer of the same fingerstick.", "Record the second form")
	other.seeNot("PIN of Ines Calder", "Blind control", "Another level")
	_, of, _ := strings.Cut(link[1], "of=")
	send := func(pin string) {
		other.get(link[1])
		other.post(path+"/observe", form(append(marks("finger-chosen"), "of", of, "level", "screener", "command", newCommand(), "observer_person", m.person("Tobias Wren"), "observer_pin", pin)...))
	}
	send("0001")
	other.want(http.StatusForbidden)
	other.see("Wrong PIN.", "Second observer of the same fingerstick.")
	send(m.pins["Tobias Wren"])
	other.want(http.StatusSeeOther)
	other.follow()
	other.see("The second form is recorded.", "Second form of an observation")
	other.seeNot("Second form of what")
	send(m.pins["Tobias Wren"])
	other.want(http.StatusConflict)
	lead.get("/training/agreement")
	lead.want(http.StatusOK)
	lead.see("They agree on 33 of 34 steps that both saw in 1 fingerstick (97 %).", "Kappa is 0.65", "substantial agreement", "Where they differ", "2. ")
	other.get(path + "/observe?of=nothing")
	other.want(http.StatusNotFound)
}
