package e2e

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"fairstick/internal/civil"
	"fairstick/internal/competence/cards"
	"fairstick/internal/programme"
)

// From a class list to a verified student: the lead loads the class and gives a PIN; the student learns and takes the quiz on a phone; a
// teacher watches, and signs; the day after a withdrawal an inspector still sees who could do what.
func TestFromTheClassListToVerified(t *testing.T) {
	t.Parallel()
	f := market(t)
	f.verifierMade("Tobias Wren")
	lead := f.comes("Maren Solbakk", laptop)
	file := filepath.Join(t.TempDir(), "class.csv")
	fatal(t, os.WriteFile(file, []byte("name,title,roles,languages\nNele Invented,Student,desk,en|es\n"), 0o600))
	lead.visit(f.url + "/training")
	lead.click("Load a class from a file")
	lead.fill("CSV file", file)
	lead.click("Try it")
	lead.see("This file would add 1 person.")
	lead.click("css:#form-add .main-button")
	f.pins["Nele Invented"] = "6418"
	lead.visit(f.url + "/people/" + f.person("Nele Invented"))
	lead.click("PIN")
	lead.fill("css:#form-pin input[type=password]", f.pins["Nele Invented"])
	lead.click("Set this PIN")

	student := f.comes("Nele Invented", phone)
	student.click("Learn and quiz")
	student.see("For your work as registration")
	student.visit(f.url + "/learn/quiz")
	student.click("Start the quiz: registration")
	f.quizOf(student, "Nele Invented", cards.Desk, 0)
	student.click("Hand in the quiz")
	student.see("Passed.")

	teacher := f.comes("Tobias Wren", phone)
	path := f.url + "/training/" + f.person("Nele Invented")
	teacher.visit(path)
	teacher.click("Observe on this phone")
	teacher.see("As registration.")
	teacher.click("css:label[for$='-right-person-missed']")
	teacher.see("Stop here: this miss ends it as not passed.")
	teacher.shot("critical-miss")
	teacher.eval(`document.querySelectorAll("input[value=ok]").forEach((x) => x.click())`, nil)
	teacher.seeNot("Stop here: this miss ends it as not passed.")
	teacher.fill("PIN of Nele Invented", f.pins["Nele Invented"])
	teacher.fill("PIN of the verifier", f.pins["Tobias Wren"])
	teacher.click("Record the observation")
	teacher.see("The observation is recorded: passed.")
	teacher.click("Sign the verification")
	teacher.see("Verified as registration until")
	student.visit(f.url + "/learn")
	student.see("You are verified until")
	student.click("Español")
	student.see("Lo que consta")
	student.see("Trabajo observado, aprobado")
	student.fullShot("own-record-spanish")

	day := civil.Of(f.clock.Now()).String()
	lead.visit(f.url + "/training/record?on=" + day)
	lead.see("Yes, by training, from")
	lead.fullShot("record-of-a-day")
	lead.visit(f.url + "/training/record?event=" + f.event)
	lead.see("when each post was taken up")
	lead.fullShot("record-of-an-event")
}

// A verification is withdrawn while its screener has a number in hand: the station refuses it in the sentence that says what is
// missing, records nothing, keeps the number on the page, and the next screener repeats the test.
func TestLapseInTheMiddleOfAnEvent(t *testing.T) {
	t.Parallel()
	f := market(t)
	desk, test := f.comes("Hollis Bray", phone), f.comes("Ines Calder", phone)
	f.sit(test, "1", "M1", "Lot INV-41, vial 41-a")
	ticket := f.desk(desk, guest{ate: "09:00"})
	test.click("Take ticket " + ticket)
	test.click("Washed with soap, dried")
	test.enter("134")
	test.click("Next: read it back")
	test.enter("134")
	_, err := f.prog.WithdrawVerification(t.Context(), f.lead(), programme.WithdrawVerification{Person: f.person("Ines Calder"), Role: "screener", Reason: "Recapped a lancet"})
	fatal(t, err)
	test.click("Record")
	test.see("The verification of Ines Calder as screener was withdrawn.")
	test.see("Only people with proof in date may do this work.")
	test.fullShot("refused-in-hand")
	if v := f.ticket(ticket); len(v.Readings) != 0 {
		t.Errorf("%d readings are on record", len(v.Readings))
	}
	var body string
	test.eval(`document.body.innerText + [...document.querySelectorAll("input")].map((x) => x.value).join(" ")`, &body)
	if !strings.Contains(body, "134") {
		t.Error("the number that was typed is gone from the page")
	}
	test.visit(f.at("/test"))
	test.see("withdrawn")
	test.shot("resting-screen")

	// The seat goes to somebody who is verified, on the same phone: the test is done again and is theirs.
	test.click("Hand over")
	test.click("Saoirse Quill")
	test.enter(f.pins["Saoirse Quill"])
	test.click("Sign in")
	test.visit(f.at("/test"))
	test.shot("handed-over")
	test.click("Go on with ticket " + ticket)
	f.read(test, "131")
	v := f.ticket(ticket)
	if len(v.Readings) != 1 || v.Readings[0].By != f.person("Saoirse Quill") || v.Readings[0].Reading.Shown() != "131" {
		t.Errorf("on record: %+v", v.Readings)
	}
}
