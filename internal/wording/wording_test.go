package wording

import (
	"encoding/json"
	"math"
	"slices"
	"strings"
	"testing"

	"fairstick/internal/protocol"
)

func TestEveryDraftSaysTheWholeProtocol(t *testing.T) {
	sources := Spoken(protocol.Default())
	if len(sources) < 80 {
		t.Fatalf("only %d sentences are spoken", len(sources))
	}
	fromRight := 0
	for _, l := range Languages() {
		if l.RTL {
			fromRight++
		}
		if lacks := l.Lacks(sources); len(lacks) > 0 {
			t.Errorf("%s lacks %q", l.Code, lacks)
		}
		for en, s := range l.Entries {
			if wrong := Check(en, s); wrong != "" {
				t.Errorf("%s: the translation of %q: %s", l.Code, en, wrong)
			}
			if s == en && !slices.Contains([]string{"Ticket", "Certificat"}, en) {
				t.Errorf("%s: %q is not translated", l.Code, en)
			}
		}
		if l.Name == "" || l.Native == "" || l.Date == "" || slices.Contains(l.Months[:], "") || !l.Clock24 && l.Half[0] == "" {
			t.Errorf("%s is not whole: %+v", l.Code, l.Name)
		}
		for _, place := range []string{"{day}", "{month}", "{year}"} {
			if !strings.Contains(l.Date, place) {
				t.Errorf("%s: a date has no %s", l.Code, place)
			}
		}
	}
	if len(Languages()) < 4 || fromRight < 1 {
		t.Errorf("%d languages, %d from the right; want 4 and 1", len(Languages()), fromRight)
	}
}

// An edited English sentence has no translation any more, until somebody gives one.
func TestAnEditedSentenceIsNotSaidInAnOldTranslation(t *testing.T) {
	l, _ := Find("fr")
	p := protocol.Default()
	p.Disclaimer = protocol.Text{"en": "This is a screening. Only a lab can tell.", "es": "x"}
	if got := Fill(l, p).Disclaimer.In("fr"); got != "This is a screening. Only a lab can tell." {
		t.Errorf("the slip says %q", got)
	}
	if got := l.Lacks(Spoken(p)); !slices.Equal(got, []string{"This is a screening. Only a lab can tell."}) {
		t.Errorf("it lacks %q", got)
	}
	own := l.Own(map[string]string{"This is a screening. Only a lab can tell.": "Ceci est un dépistage. Seul un laboratoire peut le dire."})
	if got := Fill(own, p).Disclaimer.In("fr"); got != "Ceci est un dépistage. Seul un laboratoire peut le dire." {
		t.Errorf("the slip says %q", got)
	}
	if _, leaked := l.Say("This is a screening. Only a lab can tell."); leaked {
		t.Error("a programme's own sentence went into the draft that all share")
	}
}

func TestFillLeavesWhatItWasGiven(t *testing.T) {
	p := protocol.Default()
	before, err := json.Marshal(p)
	if err != nil {
		t.Fatal(err)
	}
	l, _ := Find("ar")
	filled := Fill(l, p)
	if after, _ := json.Marshal(p); string(after) != string(before) {
		t.Error("the protocol that was handed in changed")
	}
	if got := filled.Messages[protocol.Raised].Word.In("ar"); got != "أعلى من المعتاد" {
		t.Errorf("raised is called %q", got)
	}
	for _, en := range Spoken(filled) {
		if l.Entries[en] == "" {
			t.Errorf("%q is not there", en)
		}
	}
}

func TestDigestChangesWithEverySentence(t *testing.T) {
	l, _ := Find("vi")
	sources := Spoken(protocol.Default())
	d := l.Digest(sources)
	shuffled := slices.Clone(sources)
	slices.Reverse(shuffled)
	if l.Digest(append(shuffled, sources[3])) != d {
		t.Error("the order of the sentences, or one twice, changes the digest")
	}
	seen := map[string]bool{d: true}
	for _, en := range sources {
		x := l.Own(map[string]string{en: l.Entries[en] + "!"}).Digest(sources)
		if seen[x] {
			t.Errorf("a change of %q is not seen", en)
		}
		seen[x] = true
	}
	if l.Digest(sources[1:]) == d {
		t.Error("a missing sentence is not seen")
	}
}

func TestCheck(t *testing.T) {
	for _, x := range []struct{ en, s, want string }{
		{"by %s", "avant le %s", ""},
		{"by %s", "avant le", "it must keep %s"},
		{"page {page} of {pages}", "{pages}: {page}", ""},
		{"page {page} of {pages}", "page {page}", "it must keep {pages} {page}"},
		{"Yes", "%s", "it has a place to fill in where the English has none"},
		{"Yes", "  ", "it is empty"},
		{"Yes", "o\nui", "it holds a line break or a sign that cannot be printed"},
		{"Yes", strings.Repeat("x", 2001), "it is longer than 2000 bytes"},
	} {
		if got := Check(x.en, x.s); got != x.want {
			t.Errorf("Check(%q, %.20q) is %q, want %q", x.en, x.s, got, x.want)
		}
	}
}

// Syllables by the rules of the Real Academia Española for diphthong and hiatus, counted by hand.
func TestSyllablesSpanish(t *testing.T) {
	for word, want := range map[string]int{
		"azúcar": 3, "sangre": 2, "diabetes": 3, "clínica": 3, "ciudad": 2, "país": 2, "oír": 2, "aéreo": 4, "que": 1, "quien": 1, "guerra": 2, "pingüino": 3,
		"muy": 1, "hoy": 1, "leer": 2, "día": 2, "cuidado": 3, "enfermería": 5, "usted": 2, "y": 1, "estudiante": 4, "baúl": 2,
	} {
		if got := syllablesSpanish(word); got != want {
			t.Errorf("%s has %d syllables, want %d", word, got, want)
		}
	}
}

func TestEaseSpanish(t *testing.T) {
	// 2 sentences, 6 words, 11 syllables (La-ve sus ma-nos. Es-pe-re su tur-no: 2+1+2, 3+1+2): 206.835 - 62.3*11/6 - 6/2.
	if got, want := EaseSpanish("Lave sus manos. Espere su turno."), 206.835-62.3*11/6-3; math.Abs(got-want) > 1e-9 {
		t.Errorf("ease is %v, want %v", got, want)
	}
	easy := EaseSpanish("Lave sus manos. Espere aquí.")
	hard := EaseSpanish("La determinación ambulatoria de la concentración capilar constituye exclusivamente un procedimiento orientativo, insuficiente para establecer definitivamente enfermedades metabólicas.")
	if easy < 75 || hard > 40 {
		t.Errorf("an easy text has %.0f, a hard one %.0f", easy, hard)
	}
	if got := EaseSpanish("12 de 3"); math.IsNaN(got) {
		t.Error("figures give no number")
	}
	if got := EaseSpanish(""); got != 0 {
		t.Errorf("nothing has ease %v", got)
	}
	if got := LongestSentence("One two three. Four five?"); got != 3 {
		t.Errorf("the longest sentence has %d words, want 3", got)
	}
}
