package programme

import (
	"context"
	"fmt"
	"maps"
	"slices"
	"strings"

	"fairstick/internal/charter"
	"fairstick/internal/event"
	"fairstick/internal/fault"
	"fairstick/internal/people"
	"fairstick/internal/protocol"
	"fairstick/internal/visit"
	"fairstick/internal/wording"
)

// Languages are those in which a visit can be recorded. English and Spanish are part of every protocol; the others are offered when a
// lead says so.
var Languages = func() []string {
	out := []string{"en", "es"}
	for _, l := range wording.Languages() {
		out = append(out, l.Code)
	}
	return out
}()

// LanguageName names a language in English; a code that is not known stays as it is.
func LanguageName(code string) string {
	switch code {
	case "en":
		return "English"
	case "es":
		return "Spanish"
	}
	if l, ok := wording.Find(code); ok {
		return l.Name
	}
	return code
}

// tonguesOf lists the further languages in which a programme speaks under a protocol: offered, and with every sentence of it.
func tonguesOf(ch *charter.State, p protocol.Protocol) (out []wording.Language) {
	sources := wording.Spoken(p)
	for _, l := range wording.Languages() {
		t := ch.Languages[l.Code]
		if l = l.Own(t.Own); t.Offered && len(l.Lacks(sources)) == 0 {
			out = append(out, l)
		}
	}
	return out
}

// Tongue gives the further language of a letter, as TongueOf.
func (l Letter) Tongue(fixed []string) (tongue *wording.Language, reviewed bool) {
	return TongueOf(l.Charter, l.Protocol, l.Language, fixed)
}

// TongueOf gives the further language in which somebody is written to, and whether a person has read it; nil when they are written to in English
// or Spanish. Fixed is as in LanguageStates.
func TongueOf(ch *charter.State, p protocol.Protocol, lang string, fixed []string) (tongue *wording.Language, reviewed bool) {
	for _, t := range tonguesOf(ch, p) {
		if t.Code == lang {
			_, reviewed = ch.Languages[t.Code].ReviewOf(t.Digest(append(wording.Spoken(p), fixed...)))
			return &t, reviewed
		}
	}
	return nil, false
}

// speak completes the protocol of a day with every language that is offered and whole.
func (d *Day) speak() {
	d.tongues = tonguesOf(d.Charter, d.Protocol)
	for _, l := range d.tongues {
		d.Protocol = wording.Fill(l, d.Protocol)
	}
}

// Tongues lists the further languages of this day: offered, and with every sentence of its protocol.
func (d *Day) Tongues() []wording.Language { return d.tongues }

// Tongue gives a further language of this day; ok is false for English, Spanish, and what is not offered or not whole.
func (d *Day) Tongue(code string) (l wording.Language, ok bool) {
	for _, l := range d.tongues {
		if l.Code == code {
			return l, true
		}
	}
	return wording.Language{}, false
}

// Told gives the finding of a visit with its texts in a language of this day too; nil while there is none.
func (d *Day) Told(v *visit.State, lang string) *protocol.Finding {
	f := v.Finding()
	if l, ok := d.Tongue(lang); ok && f != nil {
		told := wording.Fill(l, *f)
		return &told
	}
	return f
}

// Unreviewed reports whether no person has read what is said in a further language of this day. Fixed is the English of the words that do not
// come from the protocol.
func (d *Day) Unreviewed(l wording.Language, fixed []string) bool {
	_, ok := d.Charter.Languages[l.Code].ReviewOf(l.Digest(append(wording.Spoken(d.Protocol), fixed...)))
	return !ok
}

// offered refuses a language that participants cannot choose now.
func (w *work) offered(code string, ev *event.State) error {
	l, further := wording.Find(code)
	if !further {
		return nil
	}
	ch, err := w.charter()
	if err != nil {
		return err
	}
	proto, err := protocolFor(ch, ev)
	if err != nil {
		return err
	}
	t := ch.Languages[code]
	if t.Offered && len(l.Own(t.Own).Lacks(wording.Spoken(proto))) == 0 {
		return nil
	}
	return refuse("language-not-offered", l.Name+" is not offered now.", "A slip half in one language and half in another could be misread.",
		"Choose English or Spanish, and ask for an interpreter.")
}

// LanguageState is one further language as it stands under the protocol in force, or the draft while none is.
type LanguageState struct {
	wording.Language                 // with the programme's own sentences
	Offered          bool            //
	Own              int             // sentences of the programme's own
	Sources          []string        // the English of all that is said in it
	Lacks            []string        // of them, those without a translation
	Digest           string          // of what it says now
	Review           *charter.Review // of exactly this; nil when nobody has read it
	Earlier          *charter.Review // the latest review of an older text
}

// LanguageStates lists the further languages. Fixed is the English of the words that do not come from the protocol.
func (p *Programme) LanguageStates(ctx context.Context, fixed []string) ([]LanguageState, error) {
	ch, err := p.Charter(ctx)
	if err != nil {
		return nil, err
	}
	sources := append(wording.Spoken(SpokenProtocol(ch)), fixed...)
	var out []LanguageState
	for _, l := range wording.Languages() {
		out = append(out, languageState(ch, l, sources))
	}
	return out, nil
}

// SpokenProtocol is the protocol in force, or else its draft, or else the default.
func SpokenProtocol(ch *charter.State) protocol.Protocol {
	if a, ok := ch.InForce(); ok {
		return a.Protocol
	}
	if ch.Draft != nil {
		return *ch.Draft
	}
	return protocol.Default()
}

// SpokenTexts lists what is read by participants, or to them, in the languages of the protocol.
func SpokenTexts(ch *charter.State) []protocol.Text { return wording.SpokenTexts(SpokenProtocol(ch)) }

func languageState(ch *charter.State, l wording.Language, sources []string) LanguageState {
	t := ch.Languages[l.Code]
	s := LanguageState{Language: l.Own(t.Own), Offered: t.Offered, Own: len(t.Own), Sources: sources}
	s.Lacks, s.Digest = s.Language.Lacks(sources), s.Language.Digest(sources)
	if r, ok := t.ReviewOf(s.Digest); ok {
		s.Review = &r
	} else if n := len(t.Reviews); n > 0 {
		s.Earlier = &t.Reviews[n-1]
	}
	return s
}

// OfferLanguage lets participants choose a further language, or no longer.
type OfferLanguage struct {
	Act
	Lang    string
	Offered bool
	Warned  bool // the lead read that nobody has reviewed it; asked only then
	Fixed   []string
}

// OfferLanguage records the choice. Only a lead may. A language that lacks a sentence is not offered, and one that nobody has reviewed only
// by a lead who was warned.
func (p *Programme) OfferLanguage(ctx context.Context, a Actor, c OfferLanguage) (Done, error) {
	return p.changeLanguage(ctx, a, c.Act, "programme.offer-language", c.Lang, func(w *work, ch *charter.State, l wording.Language) error {
		s := languageState(ch, l, append(wording.Spoken(SpokenProtocol(ch)), c.Fixed...))
		switch {
		case !c.Offered:
		case len(s.Lacks) > 0:
			return refuse("language-lacks-words", fmt.Sprintf("%s lacks %d of %d sentences.", l.Name, len(s.Lacks), len(s.Sources)),
				"A slip half in one language and half in another could be misread.", "Load the missing sentences first; the list below can be saved, filled in and loaded.")
		case s.Review == nil && !c.Warned:
			return fault.BadField("warned", "%s is a machine draft that nobody has reviewed. Tick that you know this, or let a person who speaks it read it first.", l.Name)
		}
		_, err := w.append(charter.Ref, charter.LanguageOffered{Lang: l.Code, Offered: c.Offered})
		return err
	})
}

// WriteLanguage puts the programme's own sentences in place of the draft's.
type WriteLanguage struct {
	Act
	Lang    string
	Entries map[string]string // English sentence to translation; those that equal the draft are left out
}

// WriteLanguage records the sentences. Only a lead may. A review of the text before ends with any change.
func (p *Programme) WriteLanguage(ctx context.Context, a Actor, c WriteLanguage) (Done, error) {
	return p.changeLanguage(ctx, a, c.Act, "programme.write-language", c.Lang, func(w *work, ch *charter.State, l wording.Language) error {
		const most = 2000
		if len(c.Entries) > most {
			return refuse("language-too-long", fmt.Sprintf("This list has more than %d sentences.", most), "", "Load the list that was saved from this page.")
		}
		own := map[string]string{}
		for _, en := range slices.Sorted(maps.Keys(c.Entries)) {
			s := strings.TrimSpace(c.Entries[en])
			if wrong := wording.Check(en, s); wrong != "" {
				return refuse("language-bad-words", fmt.Sprintf("The translation of %q cannot be used: %s.", en, wrong), "", "Correct this sentence and load the list again; nothing was taken.")
			}
			if l.Entries[en] != s {
				own[en] = s
			}
		}
		if maps.Equal(own, ch.Languages[l.Code].Own) {
			return refuse("language-same-words", "This list says what is here already.", "", "Change a sentence in it, then load it again.")
		}
		_, err := w.append(charter.Ref, charter.LanguageWritten{Lang: l.Code, Entries: own})
		return err
	})
}

// ReviewLanguage says that a person who speaks a language read all of it.
type ReviewLanguage struct {
	Act
	Lang, Digest    string // Digest is of what was shown
	Reviewer, Title string
	Fixed           []string
}

// ReviewLanguage records the review. Only a lead may; the reviewer need not be of the programme.
func (p *Programme) ReviewLanguage(ctx context.Context, a Actor, c ReviewLanguage) (Done, error) {
	return p.changeLanguage(ctx, a, c.Act, "programme.review-language", c.Lang, func(w *work, ch *charter.State, l wording.Language) error {
		s := languageState(ch, l, append(wording.Spoken(SpokenProtocol(ch)), c.Fixed...))
		var f fields
		c.Reviewer = f.text("reviewer", "The name of the person who read it", c.Reviewer, true, 80)
		c.Title = f.text("title", "What makes them able to judge", c.Title, true, 120)
		if err := f.err(); err != nil {
			return err
		}
		switch {
		case len(s.Lacks) > 0:
			return refuse("language-lacks-words", fmt.Sprintf("%s lacks %d of %d sentences.", l.Name, len(s.Lacks), len(s.Sources)), "What is not there cannot have been read.", "Load the missing sentences first.")
		case c.Digest != s.Digest:
			return refuse("language-changed", "The sentences have changed since this page was shown.", "A signature must cover what was read.", "Read the changed sentences, then sign.")
		}
		_, err := w.append(charter.Ref, charter.LanguageReviewed{Lang: l.Code, Digest: s.Digest, Reviewer: c.Reviewer, Title: c.Title})
		return err
	})
}

func (p *Programme) changeLanguage(ctx context.Context, a Actor, act Act, kind, code string, decide func(*work, *charter.State, wording.Language) error) (Done, error) {
	return do(ctx, p, a, act, kind, func(w *work) (Done, error) {
		if err := w.need(people.Lead); err != nil {
			return Done{}, err
		}
		l, ok := wording.Find(code)
		if !ok {
			return Done{}, fault.New(fault.Missing, "no-language", "There is no such language here.", "", "Go back to the list of languages.")
		}
		ch, err := w.charter()
		if err != nil {
			return Done{}, err
		}
		return Done{ID: charter.Ref.ID}, decide(w, ch, l)
	})
}
