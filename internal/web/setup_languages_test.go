package web

import (
	"strings"
	"testing"

	"fairstick/internal/programme"
	"fairstick/internal/protocol"
	"fairstick/internal/wording"
)

// Every fixed word that participants read or hear has a translation in every draft.
func TestDraftsHaveTheFixedWords(t *testing.T) {
	if len(fixedWords) < 60 {
		t.Fatalf("only %d fixed words", len(fixedWords))
	}
	for _, l := range wording.Languages() {
		if lacks := l.Lacks(fixedWords); len(lacks) > 0 {
			t.Errorf("%s lacks %q", l.Code, lacks)
		}
	}
}

// A language goes from a draft that nobody read to one that is offered, reviewed, and changed again.
func TestLanguages(t *testing.T) {
	o := setUp(t)
	lead := "Lea Lead"
	if a := o.get(lead, "/setup/languages"); a.status != 200 || strings.Count(a.body, "machine draft, not reviewed") != len(wording.Languages()) {
		t.Fatalf("the list is %d", a.status)
	}
	o.want(o.post(lead, "/setup/languages/ar/offer"), 422, "Tick that you know this")
	if _, err := o.P.Arrive(t.Context(), o.As(lead), programme.Arrive{Act: o.Act(), Event: o.Event, Language: "ar"}); err == nil {
		t.Error("a language that is not offered was taken")
	}
	o.want(o.post(lead, "/setup/languages/ar/offer", "warned=yes"), 303)
	o.want(o.post(lead, "/setup/languages/xx/offer"), 404, "There is no such language here")

	d, err := o.P.Day(t.Context(), o.Event)
	if err != nil {
		t.Fatal(err)
	}
	l, ok := d.Tongue("ar")
	if !ok || !d.Unreviewed(l, fixedWords) || d.Protocol.Messages[protocol.Usual].Word.In("ar") != "ضمن المعتاد لهذا النوع من الفحص" {
		t.Fatalf("Arabic is offered: %v", ok)
	}
	if got := speechOf(d, "ar").ConsentAsk; got != "هل توافق؟" {
		t.Errorf("consent is asked by %q", got)
	}
	if got := spokenLang(d, "vi"); got != "en" {
		t.Errorf("a language that is not offered is spoken as %q", got)
	}

	states, err := o.P.LanguageStates(t.Context(), fixedWords)
	if err != nil {
		t.Fatal(err)
	}
	digest := ""
	for _, x := range states {
		if x.Code == "ar" {
			digest = x.Digest
		}
	}
	o.want(o.post(lead, "/setup/languages/ar/review", "digest="+digest), 422, "The name of the person who read it is missing")
	o.want(o.post(lead, "/setup/languages/ar/review", "digest=0", "reviewer=A", "title=B"), 409, "The sentences have changed since this page was shown")
	o.want(o.post(lead, "/setup/languages/ar/review", "digest="+digest, "reviewer=Samira Erfunden", "title=nurse, grew up with the language"), 303)
	if a := o.get(lead, "/setup/languages/ar"); !strings.Contains(a.body, "reviewed by Samira Erfunden, nurse, grew up with the language") {
		t.Error("the page does not name the reviewer")
	}
	if d, err = o.P.Day(t.Context(), o.Event); err != nil || d.Unreviewed(l, fixedWords) {
		t.Errorf("the review is not seen: %v", err)
	}

	// A changed sentence ends the review; a bad one changes nothing.
	if _, err := o.P.WriteLanguage(t.Context(), o.As(lead), programme.WriteLanguage{Act: o.Act(), Lang: "ar", Entries: map[string]string{"by %s": "قبل"}}); err == nil || !strings.Contains(err.Error(), "it must keep %s") {
		t.Errorf("a sentence without its place was taken: %v", err)
	}
	if _, err := o.P.WriteLanguage(t.Context(), o.As(lead), programme.WriteLanguage{Act: o.Act(), Lang: "ar", Entries: map[string]string{"Very high": "عال جدا"}}); err != nil {
		t.Fatal(err)
	}
	if d, err = o.P.Day(t.Context(), o.Event); err != nil {
		t.Fatal(err)
	}
	l, _ = d.Tongue("ar")
	if !d.Unreviewed(l, fixedWords) || d.Protocol.Messages[protocol.CriticalHigh].Word.In("ar") != "عال جدا" {
		t.Error("the changed sentence is not said, or still counts as reviewed")
	}
	if a := o.get(lead, "/setup/languages/ar"); !strings.Contains(a.body, "An older text was reviewed by Samira Erfunden") {
		t.Error("the page does not say that the review has ended")
	}
	o.want(o.post(lead, "/setup/languages/ar/offer"), 303)
	if d, err = o.P.Day(t.Context(), o.Event); err != nil || len(d.Tongues()) != 0 {
		t.Errorf("Arabic is still offered: %v", err)
	}
	if a := o.get(lead, "/setup/languages/ar/slip.pdf?band=high"); a.status != 200 || !strings.HasPrefix(a.body, "%PDF-") {
		t.Errorf("the slip to look at is %d", a.status)
	}
	if a := o.get(lead, "/setup/languages/ar/slip.pdf?band=purple"); a.status != 404 {
		t.Errorf("a slip of no band is %d", a.status)
	}
}

// The slip of a visit in a further language says that nobody has read it, and falls back to English whole when a sentence is missing.
func TestSlipInAFurtherLanguage(t *testing.T) {
	m := newMarket(t)
	day := m.day()
	v := m.ticket(13)
	lead := programme.Actor{Person: m.person("Maren Solbakk")}
	if _, err := m.prog.OfferLanguage(t.Context(), lead, programme.OfferLanguage{Act: programme.Act{ID: newCommand()}, Lang: "fr", Offered: true, Warned: true, Fixed: fixedWords}); err != nil {
		t.Fatal(err)
	}
	d, err := m.prog.Day(t.Context(), day.Event.ID)
	if err != nil {
		t.Fatal(err)
	}
	now := m.clock.Now()
	s := slipOf(d, d.Visit(v.ID), "fr", now)
	if s.Labels().YourReading != "Votre mesure" || !s.Unreviewed || s.Disclaimer != "Ceci est un dépistage, pas un diagnostic. Il ne peut ni montrer ni exclure un diabète." {
		t.Errorf("the slip says %q, %v, %q", s.Labels().YourReading, s.Unreviewed, s.Disclaimer)
	}
	if !strings.Contains(strings.Join(s.Advice, " "), "vous") {
		t.Errorf("the advice is %q", s.Advice)
	}
	if en := slipOf(d, d.Visit(v.ID), "en", now); en.Labels().YourReading != "Your reading" || en.Unreviewed {
		t.Errorf("the English slip says %q", en.Labels().YourReading)
	}
}
