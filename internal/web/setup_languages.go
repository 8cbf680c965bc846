package web

import (
	"bytes"
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"fairstick/internal/charter"
	"fairstick/internal/competence/measure"
	"fairstick/internal/exchange"
	"fairstick/internal/fault"
	"fairstick/internal/glucose"
	"fairstick/internal/paper"
	"fairstick/internal/programme"
	"fairstick/internal/protocol"
	"fairstick/internal/web/ui"
	"fairstick/internal/wording"
)

// languagesView lists the languages in which participants can be spoken to, and how easily the built-in two read.
type languagesView struct {
	Page  ui.Page
	Rows  []languageRow
	Easy  []easyRow
	Hard  int // of the texts, those above the grade or with a long sentence
	Texts int
}

type languageRow struct {
	Href, Name, Native, Code string
	Offered, Review          string
	Unreviewed               bool
}

// easyRow is how easily one text reads in English and in Spanish.
type easyRow struct {
	Text, Grade, Ease string
	Longest           int
	Hard              bool
}

// The limits of a text for participants: sixth grade, sentences under 15 words (practice: AFP 2015;92:118 asks for the fifth to sixth grade).
const (
	mostGrade   = 6.9
	mostWords   = 14
	leastEase   = 55.0
	fewestWords = 4 // a label of fewer words has no reading level
)

func languagesShow(s *Server, c *Context) error {
	states, err := s.prog.LanguageStates(c.R.Context(), fixedWords)
	if err != nil {
		return err
	}
	v := languagesView{Page: c.officePage("Languages", "What is read by participants, or to them. Your own interface stays in English or Spanish.", "setup", toSetup())}
	v.Page.Wide = true
	for _, x := range states {
		row := languageRow{Href: "/setup/languages/" + x.Code, Name: x.Name, Native: x.Native, Code: x.Code, Offered: "not offered", Review: "machine draft, not reviewed", Unreviewed: x.Review == nil}
		if x.Offered {
			row.Offered = "offered at the desk"
		}
		if len(x.Lacks) > 0 {
			row.Offered += fmt.Sprintf(", but %d of %d sentences are missing", len(x.Lacks), len(x.Sources))
			if x.Offered {
				row.Offered = fmt.Sprintf("not at the desk until %d of %d sentences are there", len(x.Lacks), len(x.Sources))
			}
		}
		if x.Review != nil {
			row.Review = reviewText(*x.Review)
		} else if x.Earlier != nil {
			row.Review = "changed since " + reviewText(*x.Earlier)
		}
		v.Rows = append(v.Rows, row)
	}
	ch, err := s.prog.Charter(c.R.Context())
	if err != nil {
		return err
	}
	v.easy(append(programme.SpokenTexts(ch), fixedTexts()...))
	return c.Render(200, LanguagesPage(v))
}

// easy measures the texts and puts the hardest first.
func (v *languagesView) easy(texts []protocol.Text) {
	type measured struct {
		easyRow
		grade float64
	}
	var all []measured
	seen := map[string]bool{}
	for _, t := range texts {
		en, es := t["en"], t["es"]
		if len(strings.Fields(en)) < fewestWords || seen[en] {
			continue
		}
		seen[en] = true
		grade, ease := measure.Grade(en), wording.EaseSpanish(es)
		x := measured{easyRow{Text: en, Grade: fmt.Sprintf("%.1f", max(grade, 0)), Ease: fmt.Sprintf("%.0f", ease), Longest: max(wording.LongestSentence(en), wording.LongestSentence(es))}, grade}
		if es == "" {
			x.Ease = "missing"
		}
		x.Hard = grade > mostGrade || ease < leastEase || x.Longest > mostWords
		if x.Hard {
			v.Hard++
		}
		all = append(all, x)
	}
	v.Texts = len(all)
	slices.SortStableFunc(all, func(a, b measured) int {
		if a.Hard != b.Hard {
			if a.Hard {
				return -1
			}
			return 1
		}
		return cmp.Compare(b.grade, a.grade)
	})
	for _, x := range all {
		v.Easy = append(v.Easy, x.easyRow)
	}
}

func reviewText(r charter.Review) string {
	return "reviewed by " + r.Reviewer + ", " + r.Title + ", " + r.At.Format("2 January 2006")
}

// languageView is one language with every sentence beside its English.
type languageView struct {
	Page    ui.Page
	State   programme.LanguageState
	Review  string
	Earlier string
	Rows    []wordRow
	Offer   officeForm
	Write   officeForm
	Sign    officeForm
	Digest  string
	Slips   []ui.Link
}

type wordRow struct {
	English, Said string
	Own           bool
}

func languageShow(_ *Server, c *Context) error { return c.languageAgain("", nil) }

// languageState gives the language of the address.
func (c *Context) languageState() (programme.LanguageState, error) {
	states, err := c.s.prog.LanguageStates(c.R.Context(), fixedWords)
	if err != nil {
		return programme.LanguageState{}, err
	}
	for _, x := range states {
		if x.Code == c.R.PathValue("lang") {
			return x, nil
		}
	}
	return programme.LanguageState{}, fault.New(fault.Missing, "no-language", "There is no such language here.", "", "Go back to the list of languages.")
}

func (c *Context) languageAgain(refused string, f *fault.Fault) error {
	x, err := c.languageState()
	if err != nil {
		return err
	}
	base := "/setup/languages/" + x.Code
	v := languageView{State: x, Digest: x.Digest, Page: c.officePage(x.Name, "Every sentence that a participant may read or hear, beside its English.", "setup", &ui.Link{Href: "/setup/languages", Label: "Languages"})}
	v.Page.Wide = true
	if x.Review != nil {
		v.Review = reviewText(*x.Review)
	} else if x.Earlier != nil {
		v.Earlier = reviewText(*x.Earlier)
	}
	draft, _ := wording.Find(x.Code)
	for _, en := range x.Sources {
		s := x.Entries[en]
		v.Rows = append(v.Rows, wordRow{English: en, Said: s, Own: s != draft.Entries[en]})
	}
	offer := c.dayForm("offer", base+"/offer", refused, f)
	v.Offer = officeForm{Form: offer, Plain: true, Submit: "Offer " + x.Name + " at the desk"}
	if x.Offered {
		v.Offer.Submit, v.Offer.Danger = "Offer "+x.Name+" no longer", true
	} else if x.Review == nil {
		box := offer.tick("warned", "I know that nobody has reviewed this machine draft", false)
		box.Help = "Each slip in it says so. Hand over the English slip with it, and use an interpreter for anything urgent."
		v.Offer.Parts = []part{{Items: []item{tickBox(box)}}}
	}
	write := c.dayForm("words", base+"/words", refused, f)
	file := size(write.line("file", "The list with your changes", ""), ui.Full, ui.File, "The CSV from the button above. Change the second column only; a row left empty keeps our draft.")
	file.Accept = ".csv,text/csv,text/plain"
	v.Write = officeForm{Form: write, Upload: true, Submit: "Load the sentences", Parts: []part{{Items: []item{field(file)}}}}
	sign := c.dayForm("review", base+"/review", refused, f)
	v.Sign = officeForm{Form: sign, Plain: true, Submit: "Sign the review", Parts: []part{{Items: []item{
		field(size(sign.line("reviewer", "Who read every sentence", ""), ui.Medium, ui.Text, "A person who speaks "+x.Name+" well. They need not be of the programme.")),
		field(size(sign.line("title", "What makes them able to judge", ""), ui.Medium, ui.Text, "For example: nurse, grew up with the language.")),
	}}}}
	for _, b := range protocol.Bands {
		v.Slips = append(v.Slips, ui.Link{Href: base + "/slip.pdf?band=" + string(b), Label: ui.BandWord(string(b))})
	}
	return c.Show(f, LanguagePage(v))
}

func languageOffer(s *Server, c *Context) error {
	x, err := c.languageState()
	if err != nil {
		return err
	}
	_, err = s.prog.OfferLanguage(c.R.Context(), c.Actor(), programme.OfferLanguage{Act: c.Act(), Lang: x.Code, Offered: !x.Offered, Warned: c.Form("warned") == "yes", Fixed: fixedWords})
	if err != nil {
		return c.languageAgain("offer", fault.Of(err))
	}
	if x.Offered {
		return c.Done("/setup/languages", x.Name+" is not offered any more.")
	}
	return c.Done("/setup/languages", x.Name+" is offered at the desk.")
}

func languageWrite(s *Server, c *Context) error {
	x, err := c.languageState()
	if err != nil {
		return err
	}
	data, err := c.upload("file")
	if err != nil {
		return c.languageAgain("words", fault.Of(err))
	}
	entries, err := exchange.ReadWords(bytes.NewReader(data), x.Sources)
	if err == nil {
		_, err = s.prog.WriteLanguage(c.R.Context(), c.Actor(), programme.WriteLanguage{Act: c.Act(), Lang: x.Code, Entries: entries})
	}
	if err != nil {
		f := fault.Of(err)
		return c.languageAgain("words", f.Field("file", f.Sentence))
	}
	return c.Done("/setup/languages/"+x.Code, "Your sentences are in use. Nobody has reviewed them yet.")
}

func languageReview(s *Server, c *Context) error {
	x, err := c.languageState()
	if err != nil {
		return err
	}
	_, err = s.prog.ReviewLanguage(c.R.Context(), c.Actor(), programme.ReviewLanguage{
		Act: c.Act(), Lang: x.Code, Digest: c.Form("digest"), Reviewer: c.Form("reviewer"), Title: c.Form("title"), Fixed: fixedWords,
	})
	if err != nil {
		return c.languageAgain("review", fault.Of(err))
	}
	return c.Done("/setup/languages/"+x.Code, x.Name+" is reviewed. The review ends when a sentence changes.")
}

func languageWords(_ *Server, c *Context) error {
	x, err := c.languageState()
	if err != nil {
		return err
	}
	var b bytes.Buffer
	if err := exchange.WriteWords(&b, x.Language, x.Sources); err != nil {
		return err
	}
	return c.sendFile("text/csv; charset=utf-8", "words-"+x.Code+".csv", b.Bytes())
}

// languageSlip is an invented slip of a band in the language, for the reviewer.
func languageSlip(s *Server, c *Context) error {
	x, err := c.languageState()
	if err != nil {
		return err
	}
	ch, err := s.prog.Charter(c.R.Context())
	if err != nil {
		return err
	}
	slip, err := sampleSlip(ch, x, protocol.Band(c.query("band")), s.prog.Now())
	if err != nil {
		return err
	}
	return c.sendSlip(slip, halfLetter)
}

// sampleSlip sets the words of a band around the lowest reading in it.
func sampleSlip(ch *charter.State, x programme.LanguageState, band protocol.Band, now time.Time) (paper.Slip, error) {
	p := wording.Fill(x.Language, programme.SpokenProtocol(ch))
	m, ok := p.Messages[band]
	if !ok {
		return paper.Slip{}, fault.New(fault.Missing, "no-band", "There is no such band.", "", "Choose a slip on the page of the language.")
	}
	labels, say := paper.LabelsIn(x.Language), wording.Words(x.Language, speechEnglish)
	code, unit := x.Code, cmp.Or(ch.Details.Unit, glucose.MgPerDL)
	edge := p.Limits[protocol.Random][unit]
	reading := map[protocol.Band]glucose.Value{
		protocol.CriticalLow: p.MeterRange[unit].Low, protocol.Low: edge.CriticalBelow, protocol.Usual: edge.LowBelow,
		protocol.Raised: edge.RaisedFrom, protocol.High: edge.HighFrom, protocol.CriticalHigh: edge.CriticalFrom,
	}[band]
	return paper.Slip{
		Lang: code, Words: &labels, Unreviewed: x.Review == nil, Invented: true, Programme: ch.Details.Name, Ticket: "000", Reading: reading.Number(), Unit: string(unit),
		Taken: now, LastAte: labels.TimeText(now), BasisWord: say.NotFasting, Washed: say.Washed, Band: string(band), BandWord: m.Word.In(code), Sentence: m.Sentence[protocol.Random].In(code),
		Advice: textsIn(m.Advice, code), When: m.When.In(code), Where: m.Where.In(code), Disclaimer: p.Disclaimer.In(code), Warnings: textsIn(p.Warnings, code), EmergencyNumber: ch.Details.Emergency,
		CanMislead: textsIn(p.CanMislead, code), Contact: ch.Details.Contact, Hours: ch.Details.ContactHours, CallPermission: say.CallGiven, Protocol: p.Version, RecordID: "invented", Printed: now, Number: 1,
	}, nil
}
