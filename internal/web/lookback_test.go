package web

import (
	"fmt"
	"net/http"
	"strings"
	"testing"
	"time"

	"fairstick/internal/charter"
	"fairstick/internal/paper"
	"fairstick/internal/wording"

	"fairstick/internal/programme"
)

// A look-back from the question to the letters: names only in the answer to a form, never in an address.
func TestLookBackPages(t *testing.T) {
	m := newMarket(t)
	d := m.day()
	lead, sue := m.as(leadName), m.as("Tobias Wren")
	lead.get("/setup")
	lead.see(`href="/look-back"`)
	sue.get("/look-back")
	sue.want(http.StatusOK)
	sue.see("None yet. Put a question", "Find whom it touched")
	sue.seeNot("Whom it touched")
	lead.get("/look-back?meter=M77&from_day=never")
	lead.want(http.StatusUnprocessableEntity)
	lead.see(`There is no meter "M77" in the record.`, "The first day")
	lot := d.BroughtLots()[0]
	found, err := m.prog.LookBack(t.Context(), programme.AskBack{StripLot: lot.ID, Event: d.Event.ID})
	if err != nil || found.MayCall < 2 || found.MayCall == found.People {
		t.Fatalf("the invented day has nobody to call, or calls all: %+v %v", found, err)
	}
	named, err := m.prog.CallContact(t.Context(), programme.Actor{Person: m.person(leadName)}, programme.CallContact{Act: programme.Act{ID: newCommand()}, Visit: firstToCall(found)})
	if err != nil || named.Name == "" {
		t.Fatal(err)
	}
	ask := "strip_lot=" + lot.ID + "&event=" + d.Event.ID
	sue.get("/look-back?" + ask)
	sue.want(http.StatusOK)
	sue.see("Readings with strips of lot "+lot.Details.Lot+", at "+d.Event.Plan.Name, fmt.Sprintf("%d of %d may be called about their result", found.MayCall, found.People), "Keep this look-back", "Ines Calder")
	sue.seeNot(named.Name, named.Phone)
	for _, f := range []string{"/look-back.pdf?", "/look-back.pdf?size=a4&"} {
		if lead.get(f + ask); lead.status != http.StatusOK || !strings.HasPrefix(lead.body, "%PDF-") {
			t.Errorf("%s: %d", f, lead.status)
		}
	}
	lead.get("/look-back.csv?" + ask)
	lead.see("event,date,what,ticket,at,reading", ",reading,", ",control,", lot.Details.Lot)
	if strings.Contains(lead.body, named.Name) || strings.Count(lead.body, ",reading,") != found.Read+1 {
		t.Error("a name in the file, or not every reading")
	}
	lead.get("/look-back.csv")
	lead.want(http.StatusUnprocessableEntity)
	lead.get("/look-back?" + ask)
	lead.send("/look-back/kept", form("reason", ""))
	lead.want(http.StatusUnprocessableEntity)
	lead.see("The reason is missing.", "Whom it touched")
	lead.send("/look-back/kept", form("reason", "recall by the maker"))
	lead.follow()
	kept := lead.path
	lead.see("recall by the maker", fmt.Sprintf("Show names and numbers (%d)", found.MayCall), fmt.Sprintf("Make %d letters", found.MayCall))
	lead.seeNot(named.Name)
	sue.get(kept)
	sue.send(kept+"/names", nil)
	sue.want(http.StatusOK)
	sue.see(named.Name, named.Phone, "An entry says that you saw these names.")
	sue.get(kept)
	sue.seeNot(named.Name)
	sue.see(fmt.Sprintf("Tobias Wren: names of %d people shown", found.MayCall))
	sue.send(kept+"/letters", form("letter", "poem"))
	sue.want(http.StatusUnprocessableEntity)
	sue.see("The letter cannot be")
	for _, x := range [][]string{{"reading", "letter"}, {"fingerstick", "a4"}} {
		sue.get(kept)
		sue.send(kept+"/letters", form("letter", x[0], "size", x[1]))
		if sue.status != http.StatusOK || !strings.HasPrefix(sue.body, "%PDF-") || !strings.Contains(sue.body, fmt.Sprintf("/Count %d", found.MayCall)) {
			t.Errorf("letters: %d", sue.status)
		}
	}
	lead.get(kept)
	lead.see(fmt.Sprintf("Tobias Wren: %d letters made; %d people without permission", found.MayCall, found.People-found.MayCall))
	lead.send(kept+"/close", form("outcome", "all were called", "sign_person", m.person(leadName), "sign_pin", "1111"))
	lead.want(http.StatusForbidden)
	lead.send(kept+"/close", form("outcome", "all were called", "sign_person", m.person(leadName), "sign_pin", m.pins[leadName]))
	lead.follow()
	lead.see("all were called", "signed by "+leadName)
	lead.seeNot("Show names")
	lead.get("/look-back")
	lead.see("closed ")
	lead.get("/look-back/kept/none")
	lead.want(http.StatusNotFound)
	lead.get("/stock/of/strip-lot." + lot.ID + "/look-back")
	lead.see(`href="/look-back?strip_lot=` + lot.ID)
}

func firstToCall(b *programme.Affected) string {
	for _, d := range b.Events {
		for _, x := range d.People {
			if x.MayCall {
				return x.Visit
			}
		}
	}
	return ""
}

// A list that was cut says so and where the rest is; one that just fits is whole.
func TestLongLookBackIsCut(t *testing.T) {
	day := func(n int) affectedDay {
		return affectedDayOf(0, programme.BackDay{Zone: time.UTC, People: []programme.BackPerson{{Readings: make([]programme.BackReading, n)}}})
	}
	if d := day(mostShown); len(d.Rows) != mostShown || d.Cut != "" || d.Caption != "300 readings; no participant's name stands here" {
		t.Errorf("%d rows, %q, %q", len(d.Rows), d.Cut, d.Caption)
	}
	if d := day(mostShown + 1); len(d.Rows) != mostShown || d.Cut != "The first 300 of 301 readings; the CSV holds all" || d.Caption != d.Cut {
		t.Errorf("%d rows, %q, %q", len(d.Rows), d.Cut, d.Caption)
	}
}

// Every sentence of a letter is short, and no letter says what the screening may not say.
func TestLookBackLettersArePlain(t *testing.T) {
	for lang, l := range map[string]lookBackLetter{"en": lookBackEnglish.letter(paper.Labels("en"), ""), "es": lookBackSpanish.letter(paper.Labels("es"), "")} {
		for _, text := range []letterText{l.reading, l.fingerstick} {
			for _, list := range [][]string{{text.heading}, text.says, text.steps, text.after} {
				for _, s := range list {
					for _, sentence := range strings.FieldsFunc(s, func(r rune) bool { return strings.ContainsRune(".?!", r) }) {
						if n := len(strings.Fields(sentence)); n >= 15 {
							t.Errorf("%s: %d words: %s", lang, n, sentence)
						}
					}
					for _, word := range []string{"normal", "diabet", "you have", "usted tiene", "fail"} {
						if strings.Contains(strings.ToLower(s), word) {
							t.Errorf("%s says %q: %s", lang, word, s)
						}
					}
				}
			}
		}
	}
	ch := &charter.State{}
	if lookBackLetterIn(ch, "es-MX").labels.Lang != "es" || lookBackLetterIn(ch, "vi").labels.Lang != "en" {
		t.Error("a language that is not offered has English letters")
	}
	for _, l := range wording.Languages() {
		ch.Languages = map[string]charter.Tongue{l.Code: {Offered: true}}
		got := lookBackLetterIn(ch, l.Code)
		if got.labels.Lang != l.Code || got.draft == "" || got.reading.heading == lookBackEnglish.ReadingHeading || got.fingerstick.after[0] == lookBackEnglish.VeryUnwell {
			t.Errorf("%s: %+v", l.Code, got)
		}
		digest := l.Digest(append(wording.Spoken(programme.SpokenProtocol(ch)), fixedWords...))
		ch.Languages[l.Code] = charter.Tongue{Offered: true, Reviews: []charter.Review{{Digest: digest}}}
		if got := lookBackLetterIn(ch, l.Code); got.draft != "" {
			t.Errorf("%s was reviewed, and the letter says %q", l.Code, got.draft)
		}
	}
}
