package paper

import (
	"strings"
	"testing"
	"time"
)

func TestIncidentFormIsOnePage(t *testing.T) {
	f := IncidentForm{
		Programme: "Invented Programme", Event: "Invented Fair, Test Hall, 20 Jun 2026", Title: "Sharps injury", ID: "0190aaaa-0000-7000-8000-000000000001",
		Facts: []IncidentFact{{"When it happened", "20 Jun 2026, 10:58"}, {"Type of device", "Another lancet"}, {"What happened, and how", strings.Repeat("Reached over the table and touched a used lancet. ", 9)}},
		End:   "Closed by: supervisor, 20 Jun 2026, 12:00.",
	}
	for _, what := range []string{"Reported by: desk", "First aid: Wound or skin washed", "Supervisor told: supervisor", "Contact called: They answered, the nurse on duty", "Went to: To a clinician"} {
		f.Acts = append(f.Acts, IncidentAct{At: "11:02", Typed: "20 Jun, 11:09", What: what})
	}
	doc := f.Document()
	doc.Printed, doc.Invented = time.Date(2026, 6, 20, 12, 5, 0, 0, time.UTC), true
	for _, size := range []PageSize{Letter, A4} {
		pdf := documentPDF(t, doc, size)
		checkInside(t, pdf, docSide)
		all := readBack(t, pdf)
		if n := pageCount(all); n != 1 {
			t.Errorf("the form takes %d pages", n)
		}
		text := textOf(all, 0)
		for _, must := range []string{"Incident: Sharps injury", "Another lancet", "Contact called: They answered, the nurse on duty", "20 Jun, 11:09", "Confidential.", "Received by the college"} {
			if !strings.Contains(text, must) {
				t.Errorf("the form lacks %q:\n%s", must, text)
			}
		}
	}
}

func TestSharpsLogDocument(t *testing.T) {
	l := SharpsLog{Programme: "Invented Programme", Year: 2026, Rows: []SharpsRow{{When: "20 Jun 2026, 10:58", Event: "Invented Fair", Device: "Another lancet, Invented Blue", Area: "station 2", Phase: "At disposal", How: "Reached over the table", Status: "closed"}}}
	text := textOf(readBack(t, documentPDF(t, l.Document(), Letter)), 0)
	for _, must := range []string{"Sharps injury log 2026", "Invented Blue", "31 December 2031"} {
		if !strings.Contains(text, must) {
			t.Errorf("the log lacks %q:\n%s", must, text)
		}
	}
	text = textOf(readBack(t, documentPDF(t, SharpsLog{Year: 2025}.Document(), A4)), 0)
	if !strings.Contains(text, "No sharps injury was reported in this year.") || !strings.Contains(text, "31 December 2030") {
		t.Errorf("an empty log says:\n%s", text)
	}
}
