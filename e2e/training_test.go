package e2e

import (
	"fmt"
	"strings"
	"testing"

	"fairstick/internal/civil"
	"fairstick/internal/competence/cards"
	"fairstick/internal/people"
	"fairstick/internal/programme"
)

// quizOf goes through the quiz that is open on a page, with as many wrong answers at its beginning as are asked for.
func (f *fair) quizOf(p *page, name string, l cards.Level, wrong int) {
	f.t.Helper()
	sit, err := f.prog.OpenQuiz(f.t.Context(), programme.Actor{Person: f.person(name)}, l)
	fatal(f.t, err)
	for i, q := range sit.Quiz.Questions {
		p.see(fmt.Sprintf("Question %d of %d", i+1, len(sit.Quiz.Questions)))
		for k, o := range q.Options {
			if o.Right == (i >= wrong) {
				p.click(fmt.Sprintf("css:label[for='f-choice-%d']", k+1))
				if !q.Several() {
					break
				}
			}
		}
		if i == 1 {
			p.shot("question")
		}
		p.click("Keep this answer")
	}
	p.see("Every question has an answer.")
}

// verifierMade lets the lead make the pharmacist a verifier by the commands behind the pages.
func (f *fair) verifierMade(name string) {
	f.t.Helper()
	ctx, id := f.t.Context(), f.person(name)
	sit, err := f.prog.OpenQuiz(ctx, programme.Actor{Person: id}, cards.Verifier)
	fatal(f.t, err)
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
	_, err = f.prog.TakeQuiz(ctx, programme.Actor{Person: id}, cmd)
	fatal(f.t, err)
	_, err = f.prog.RecordExternal(ctx, f.lead(), programme.RecordExternal{Person: id, Kind: "bloodborne", By: "the college"})
	fatal(f.t, err)
	t, err := f.prog.Training(ctx, id, civil.Date{})
	fatal(f.t, err)
	for _, m := range t.Models {
		_, err = f.prog.TrainModel(ctx, f.lead(), programme.TrainModel{Person: id, Model: m.Name, Edition: m.Edition})
		fatal(f.t, err)
	}
	_, err = f.prog.GrantLevel(ctx, f.lead(), programme.GrantLevel{Person: id, Level: "verifier"})
	fatal(f.t, err)
}

// A student whose verification has ended learns on the phone, takes the quiz, is watched by a verifier on another phone, and the
// lead signs. Then the lead withdraws it.
func TestTraining(t *testing.T) {
	t.Parallel()
	f := market(t)
	f.verifierMade("Tobias Wren")
	lead, student, verifier := f.comes("Maren Solbakk", laptop), f.comes("Piet Lund", phone), f.comes("Tobias Wren", phone)

	student.click("Learn and quiz")
	student.see("Still missing")
	student.shot("learn")
	student.fullShot("learn-whole")
	student.click("Begin with the first step")
	student.see("Step 1 of 34")
	student.shot("step")
	for range 6 {
		student.click("Next step")
	}
	student.see("Step 7 of 34")
	student.fullShot("step-drawing")
	student.visit(f.url + "/learn/quiz")
	student.see("3 attempts are left.")
	student.shot("quiz")
	student.click("Start the quiz: screener")
	f.quizOf(student, "Piet Lund", cards.Screener, 7)
	student.click("Hand in the quiz")
	student.see("13 of 20 right. Not passed")
	student.fullShot("result")
	student.click("To the quiz")
	student.see("2 attempts are left.")
	student.click("Start the quiz: screener")
	f.quizOf(student, "Piet Lund", cards.Screener, 0)
	student.shot("hand-in")
	student.click("Hand in the quiz")
	student.see("20 of 20 right. Passed.")

	student.visit(f.url + "/")
	student.click("Español")
	student.click("Aprender y examen")
	student.see("Todavía falta")
	student.shot("spanish")
	student.click("English")

	for n := range 3 {
		verifier.visit(f.url + "/training/" + f.person("Piet Lund"))
		verifier.click("Observe on this phone")
		verifier.see("As screener.")
		verifier.eval(`document.querySelectorAll("input[value=ok]").forEach((x) => x.click())`, nil)
		if n == 0 {
			verifier.shot("observe")
			verifier.fill("Note", "Calm hands, clear words")
			verifier.visit(f.url + "/training/" + f.person("Piet Lund") + "/observe") // the browser was ended
			verifier.see("What you typed at")
			var back int
			verifier.eval(`document.querySelectorAll("input[value=ok]:checked").length`, &back)
			if back != 34 {
				t.Errorf("after the browser was ended %d of 34 marks are back", back)
			}
			verifier.fill("PIN of Piet Lund", "0001")
			verifier.fill("PIN of the verifier", f.pins["Tobias Wren"])
			verifier.click("Record the observation")
			verifier.see("Wrong PIN.")
			verifier.shot("wrong-pin")
			verifier.fullShot("observe-whole")
		}
		verifier.fill("PIN of Piet Lund", f.pins["Piet Lund"])
		verifier.fill("PIN of the verifier", f.pins["Tobias Wren"])
		verifier.click("Record the observation")
		verifier.see("The observation is recorded: passed.")
	}

	lead.visit(f.url + "/training")
	lead.see("Only a signature is missing")
	lead.shot("cohort")
	lead.fullShot("cohort-whole")
	lead.click("Piet Lund")
	lead.see("No training on bloodborne pathogens is on record.")
	lead.click("Sign the verification")
	lead.click("css:#form-grant button[type=submit]")
	lead.see("A verification rests on proof.")
	lead.shot("refused")
	lead.click("Bloodborne training")
	lead.fill("Who held it", "The college")
	lead.click("Record the bloodborne training")
	lead.see("It is recorded.")
	lead.click("The college's word on work with blood")
	lead.click("css:label[for='f-hepatitis-word-1']")
	lead.click("Record the college's word")
	lead.see("It is recorded.")
	lead.click("Training on a meter")
	lead.click("Record the training on a meter")
	lead.see("The training on the meter is recorded.")
	lead.click("Practice day")
	lead.fill("Decisions", "12")
	lead.fill("Right ones", "11")
	lead.click("Record the practice day")
	lead.see("Every proof is there. Only a signature is missing.")
	lead.shot("ready")
	lead.click("Sign the verification")
	lead.see("Verified as screener until")
	lead.shot("verified")
	lead.fullShot("verified-whole")
	verifier.visit(f.url + "/training/" + f.person("Piet Lund"))
	verifier.fullShot("person-phone")

	c, err := f.prog.CertificateOf(t.Context(), f.person("Piet Lund"))
	fatal(t, err)
	lead.visit(f.url + "/training/check")
	lead.fill("Code", strings.ToLower(c.Code))
	lead.click("Look it up")
	lead.see("This verification stands today.")
	lead.shot("check")

	lead.visit(f.url + "/training/" + f.person("Piet Lund"))
	lead.click("Withdraw a verification")
	lead.fill("Reason", "Recapped a lancet")
	lead.click("css:#form-withdraw button[type=submit]")
	lead.see("The verification is withdrawn.")
	lead.visit(f.url + "/training/check?code=" + c.Code)
	lead.see("does not stand today")
	lead.visit(f.url + "/training/statistics?level=screener")
	lead.see("0 of 1 passed at the first try")
	lead.shot("statistics")
	student.visit(f.url + "/learn")
	student.see("The verification was withdrawn: Recapped a lancet")
}

func (f *fair) person(name string) string {
	f.t.Helper()
	all, err := programme.List[*people.State](f.t.Context(), f.prog, people.Kind)
	fatal(f.t, err)
	for _, p := range all {
		if p.Details.Name == name {
			return p.ID
		}
	}
	f.t.Fatalf("nobody is called %s", name)
	return ""
}
