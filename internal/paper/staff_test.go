package paper

import (
	"strings"
	"testing"
	"time"

	"fairstick/internal/civil"
	"fairstick/internal/competence"
	"fairstick/internal/people"
	"fairstick/internal/programme"
)

// The record of staff says in words what each row holds: the way, the days, who signed, the proof, and what came later.
func TestStaffDocument(t *testing.T) {
	day := civil.MustParse("2026-06-20")
	at := time.Date(2026, 6, 20, 9, 10, 0, 0, time.UTC)
	rows := []programme.DutyRow{
		{
			Name: "Nia New", Title: "Student", Role: people.Screener, Station: "3", From: at, To: at.Add(time.Hour), Readings: 12, Asked: true, Verified: true, Way: programme.ByTraining,
			Since: day, Until: civil.MustParse("2027-02-28"), By: "Lea Lead", Later: []string{"By the end of that day: not verified."},
			Evidence: []programme.DutyProof{{Proof: competence.Proof{Day: day, What: competence.MethodQuiz, Detail: "18 of 20 right"}}, {Proof: competence.Proof{Day: day, What: competence.NeedBloodborne}, Name: "the college"}},
		},
		{Name: "Rae Runner", Role: people.Runner, Absent: "ill"},
		{Name: "Ann Screener", Role: people.Screener, Asked: true, Missing: []string{"The quiz has not been taken yet."}},
		{Name: "Cal Paper", Role: people.Counsellor, Asked: true, Verified: true, Way: programme.OnPaper, Since: day, Until: day, Note: "by letter"},
	}
	if got := DutyOf(rows[0], time.UTC); got.When != "from 20 Jun, 09:10 to 10:10; 12 readings" || got.Post != "screener, station 3" || len(got.Proof) != 2 || got.Proof[0] != "20 Jun 2026: quiz, 18 of 20 right" {
		t.Errorf("in words: %+v", got)
	}
	doc := StaffDocument(programme.StaffRecord{Programme: "Invented", Day: day, Event: "0190aaaa", Name: "Hall", Place: "Old Hall", Protocol: "2026.1", Rows: rows}, time.UTC)
	doc.Printed = at
	pdf := documentPDF(t, doc, Letter)
	checkInside(t, pdf, docSide)
	text := strings.Join(strings.Fields(textOf(readBack(t, pdf), 0)), " ")
	for _, must := range []string{"Staff and verification", "Protocol 2026.1", "Nia New", "Rae Runner", "Ann Screener", "18 of 20"} {
		if !strings.Contains(text, must) {
			t.Errorf("the record lacks %q:\n%s", must, text)
		}
	}
	for i, want := range []string{"Yes, by training, from 20 Jun 2026 through 28 Feb 2027. By the end of that day: not verified.", "Not asked for this role.", "No. The quiz has not been taken yet.", "Yes, on paper, from 20 Jun 2026 through 20 Jun 2026."} {
		if got := doc.Sections[0].Table.Rows[i][2]; got != want {
			t.Errorf("row %d says %q, want %q", i, got, want)
		}
	}
	empty := StaffDocument(programme.StaffRecord{Day: day, Protocol: "2026.1"}, time.UTC)
	if empty.Sections[0].Table != nil || !strings.Contains(empty.Sections[0].Paragraphs[1], "Nobody") {
		t.Errorf("nobody: %+v", empty.Sections)
	}
}
