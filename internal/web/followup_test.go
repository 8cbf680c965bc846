package web

import (
	"fmt"
	"net/http"
	"strings"
	"testing"
	"time"

	"fairstick/internal/paper"
	"fairstick/internal/wording"

	"fairstick/internal/civil"
	"fairstick/internal/programme"
)

// afterwards is the market so many days later, at ten o'clock.
func afterwards(t *testing.T, days int) *market {
	t.Helper()
	m := newMarket(t)
	d := m.clock.Now()
	m.clock.Set(time.Date(d.Year(), d.Month(), d.Day()+days, 10, 0, 0, 0, d.Location()))
	return m
}

// A name and a number are shown to one caller after one press, which leaves an entry, and to nobody else.
func TestACallOnThePages(t *testing.T) {
	m := afterwards(t, 3)
	v := m.as("Rosa Amaya")
	v.get("/follow-up")
	v.want(http.StatusOK)
	v.see("Call 013", "First call", "High", "Spanish", "May not be called")
	v.seeNot("Cora Invented", "555 0212", "ticket 021")
	id := m.ticket(13).ID
	v.get("/follow-up/" + id)
	v.want(http.StatusOK)
	v.see("Show the name and number", "First call, by 20:00 today", "May I speak with", "Say nothing about health", "Tamsin Green Community Clinic")
	v.seeNot("Cora Invented", "555 0212")
	v.post("/follow-up/"+id+"/open", form())
	v.follow()
	v.see("Cora Invented", "555 0212", "evenings", "Opened the number")
	v.seeNot("Ada Invented", "Beto Inventado", "Dora Inventada")

	other := m.as("Dev Mahr")
	other.get("/follow-up/" + id)
	other.see("Rosa Amaya opened the number at 10:00")
	other.seeNot("Cora Invented", "555 0212", "Write it down")
	other.post("/follow-up/"+id+"/open", form())
	other.want(http.StatusConflict)
	other.seeNot("Cora Invented")
	other.get("/follow-up")
	other.see("Rosa Amaya is on it since 10:00")

	v.post("/follow-up/"+id+"/tried", form("seen", programme.SeenNothing, "what", "phone/no-answer"))
	v.follow()
	v.see("Ticket 013 is written down.", "Next: Try 2 of 3")
	v.get("/follow-up/" + id)
	v.see("Try 2 of 3", "Tried without reaching them", "Telephone: no answer")
	v.seeNot("Cora Invented", "555 0212")

	v.post("/follow-up/"+id+"/spoke", form("seen", programme.SeenNothing, "way", "phone", "outcome", "declined"))
	v.want(http.StatusConflict)
	v.see("Somebody has written something about ticket 013 since you opened this page.")
}

func TestWhatIsTypedOfACallStays(t *testing.T) {
	m := afterwards(t, 3)
	v := m.as("Rosa Amaya")
	id := m.ticket(13).ID
	v.post("/follow-up/"+id+"/spoke", form("way", "phone", "outcome", "not-yet", "test", "a1c", "value", "118", "unit", "%", "said", "neither"))
	v.want(http.StatusUnprocessableEntity)
	v.see("The reason was not chosen", "118 % is hardly possible", `value="118"`)
	v.post("/follow-up/"+id+"/spoke", form("way", "phone", "outcome", "not-yet", "reason", "cost", "day", "2099-01-01", "time", "10:00"))
	v.want(http.StatusUnprocessableEntity)
	v.see("has not come yet")
	v.post("/follow-up/"+id+"/spoke", form("way", "phone", "outcome", "not-yet", "reason", "cost"))
	v.follow()
	v.see("Ticket 013 is written down.", "Ask again: not seen yet")
	v.post("/follow-up/"+id+"/hand-over", form("to", m.person("Rosa Amaya"), "note", "ask for Zebulon"))
	v.follow()
	v.get("/follow-up/" + id)
	v.see("Handed over to Rosa Amaya", "ask for Zebulon", "Not yet, cost, told by the person")
	v.post("/follow-up/"+id+"/spoke", form("way", "news", "outcome", "seen", "source", "clinic"))
	v.follow()
	v.see("Nothing more is due.")
	v.get("/follow-up/completion")
	v.see("who were referred was seen by a clinician", "Where everybody stands", "By permission to call")
	v.get("/follow-up/completion?place=seen")
	v.see("Rows: Seen by a clinician", "013")
	v.get("/follow-up/completion?place=no-permission")
	v.see("not shown")
	v.get("/follow-up/completion?place=nowhere")
	v.want(http.StatusNotFound)
	v.get("/follow-up/completion?event=nowhere")
	v.want(http.StatusNotFound)
}

func TestNoPermissionHasNoPage(t *testing.T) {
	m := afterwards(t, 3)
	silent := m.ticket(21)
	if programme.MayCall(silent) || !silent.Refers() {
		t.Fatal("ticket 021 allows a call: choose another for this test")
	}
	v := m.as("Rosa Amaya")
	v.get("/follow-up/" + silent.ID)
	v.want(http.StatusConflict)
	v.see("Ticket 021 gave no permission to call.")
	v.post("/follow-up/"+silent.ID+"/open", form())
	v.want(http.StatusConflict)
	v.post("/follow-up/none/open", form())
	v.want(http.StatusNotFound)
	w := m.as("Hollis Bray")
	w.post("/follow-up/"+m.ticket(13).ID+"/open", form())
	w.want(http.StatusForbidden)
	w.seeNot("Cora Invented")
}

func TestCorrectingACallOnThePages(t *testing.T) {
	m := afterwards(t, 3)
	v := m.as("Rosa Amaya")
	id := m.ticket(13).ID
	v.post("/follow-up/"+id+"/tried", form("what", "phone/busy"))
	v.follow()
	f, _, err := m.prog.FollowUpOf(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	path := "/follow-up/" + id + "/correct/" + f.State.Attempts[0].FactID
	v.get(path)
	v.see("Now it says: Telephone: busy.", "It never happened")
	v.post(path, form("what", "phone/not-in"))
	v.want(http.StatusUnprocessableEntity)
	v.see("The reason is missing.")
	v.post(path, form("what", "phone/not-in", "reason_why", "pressed the wrong one"))
	v.follow()
	v.see("Telephone: somebody else answered", "it said \u201cTelephone: busy\u201d", "pressed the wrong one")
	v.get("/follow-up/" + id + "/correct/none")
	v.want(http.StatusNotFound)
}

func TestLettersOnThePages(t *testing.T) {
	m := afterwards(t, 3)
	v := m.as("Rosa Amaya")
	id := m.ticket(13).ID
	v.post("/follow-up/"+id+"/letter", form("to", "person"))
	v.want(http.StatusConflict)
	v.see("No postal address is kept for ticket 013.")
	v.post("/follow-up/"+id+"/letter", form("to", "clinician"))
	v.want(http.StatusOK)
	if !strings.HasPrefix(v.body, "%PDF-") {
		t.Errorf("no PDF: %.60s", v.body)
	}
	v.post("/follow-up/letters", form())
	v.want(http.StatusConflict)
	v.see("Nobody waits for a letter.")
}

// scriptTold is an invented call.
func scriptTold(urgent bool) scriptFacts {
	return scriptFacts{Caller: "Ana", Programme: "Sugar Check", Day: civil.MustParse("2026-10-10"), By: civil.MustParse("2026-10-17"), Place: "Clinic A", Number: "555 0100", Hours: "9 to 5", Emergency: "911", Urgent: urgent, Warnings: []string{"Vomiting"}}
}

// What is said on the telephone is short, says no word that frightens, and a recording learns nothing about health.
func TestScripts(t *testing.T) {
	for lang, w := range map[string]scriptWords{"en": scriptEnglish, "es": scriptSpanish} {
		for _, urgent := range []bool{false, true} {
			s := w.script(paper.Labels(lang), scriptTold(urgent))
			for _, p := range s.Parts {
				for _, l := range p.Lines {
					for _, sentence := range strings.FieldsFunc(l, func(r rune) bool { return strings.ContainsRune(".?!", r) }) {
						if n := len(strings.Fields(sentence)); n > 14 {
							t.Errorf("%s: %d words: %q", lang, n, sentence)
						}
					}
					for _, word := range []string{"normal", "diabet", "you have", "fail", "usted tiene"} {
						if strings.Contains(strings.ToLower(l), word) {
							t.Errorf("%s says %q: %q", lang, word, l)
						}
					}
				}
			}
			for _, l := range s.Message {
				for _, word := range []string{"Sugar", "screening", "result", "health", "prueba", "salud", "resultado"} {
					if strings.Contains(l, word) {
						t.Errorf("%s: a recording hears %q", lang, l)
					}
				}
			}
			if got := s.Message[0]; lang == "es" && got != "Hola. Me llamo Ana." {
				t.Errorf("a recording hears %q first", got)
			}
		}
	}
}

// A call in each further language has as many sentences as in English, all in that language, with their places filled in.
func TestScriptsInEveryLanguage(t *testing.T) {
	for _, l := range wording.Languages() {
		for _, urgent := range []bool{false, true} {
			english, s := scriptEnglish.script(paper.Labels("en"), scriptTold(urgent)), wording.Words(l, scriptEnglish).script(paper.LabelsIn(l), scriptTold(urgent))
			for i, p := range append(s.Parts, scriptPart{"recording", s.Message}) {
				want := append(english.Parts, scriptPart{"recording", english.Message})[i]
				if len(p.Lines) != len(want.Lines) {
					t.Fatalf("%s, %s: %d sentences, want %d", l.Code, p.Heading, len(p.Lines), len(want.Lines))
				}
				for k, line := range p.Lines {
					if line == want.Lines[k] || strings.ContainsAny(line, "{}") {
						t.Errorf("%s, %s: %q", l.Code, p.Heading, line)
					}
				}
			}
			all := fmt.Sprint(s)
			for _, part := range []string{"Ana", "Sugar Check", "Clinic A", "555 0100", "9 to 5", "911", paper.LabelsIn(l).DateText(civil.MustParse("2026-10-17"))} {
				if !strings.Contains(all, part) {
					t.Errorf("%s does not say %q", l.Code, part)
				}
			}
		}
	}
}

// The page of a call speaks a language that is offered, says that nobody has reviewed it, and has English for one that is not.
func TestScriptOfADay(t *testing.T) {
	o := setUp(t)
	lead := "Lea Lead"
	day := func() *programme.Day {
		d, err := o.P.Day(t.Context(), o.Event)
		if err != nil {
			t.Fatal(err)
		}
		return d
	}
	if s := scriptOf(day(), "ar", scriptTold(false)); s.Missing != "Arabic" || s.Lang != "en" || s.Draft != "" {
		t.Errorf("not offered: %q %q", s.Missing, s.Lang)
	}
	o.want(o.post(lead, "/setup/languages/ar/offer", "warned=yes"), 303)
	if s := scriptOf(day(), "ar", scriptTold(false)); s.Missing != "" || s.Lang != "ar" || s.Draft != "Arabic" || !strings.Contains(s.Parts[0].Lines[1], "اسمي Ana") {
		t.Errorf("a draft: %+v", s)
	}
	states, err := o.P.LanguageStates(t.Context(), fixedWords)
	if err != nil {
		t.Fatal(err)
	}
	for _, x := range states {
		if x.Code == "ar" {
			o.want(o.post(lead, "/setup/languages/ar/review", "digest="+x.Digest, "reviewer=Rana+Invented", "title=speaks+it"), 303)
		}
	}
	if s := scriptOf(day(), "ar", scriptTold(false)); s.Draft != "" {
		t.Error("it was reviewed")
	}
}
