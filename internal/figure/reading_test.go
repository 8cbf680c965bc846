package figure

import (
	"strings"
	"testing"

	"fairstick/internal/chart"
)

func told(lang string) Reading {
	return Reading{
		Lang: lang, Shown: "118 mg/dL", Word: "Higher", Sentences: []string{"Only a lab test can show more."}, Facts: [][2]string{{"Basis", "fasting"}},
		Limits: []string{"A reading this close to the limit of 126 mg/dL: 5 %."}, Assumption: "Flat prior.", Disclaimer: "No diagnosis.",
		Bands: []BandChance{
			{Limits: "70 to below 100 mg/dL", Word: "Usual", Chance: 0.0001, Said: "below 1 %"},
			{Limits: "100 to below 126 mg/dL", Word: "Higher", Chance: 0.9549, Said: "95 %", Own: true},
			{Limits: "126 to below 300 mg/dL", Word: "Much higher", Chance: 0.0450, Said: "5 %"},
		},
	}
}

// The reading's own band is told by its word and its dark bar, and the table says what the picture says.
func TestReadingPictureTellsItsOwnBand(t *testing.T) {
	f := told("en").Figure()
	c := f.Chart.(chart.Bars)
	if f.Title != "Where may the true value lie when the meter shows 118 mg/dL?" || f.Answer != "A reading this close to the limit of 126 mg/dL: 5 %." {
		t.Errorf("%q, %q", f.Title, f.Answer)
	}
	if len(c.Bars) != 3 || c.Bars[1].Note != "95 %, as read" || !c.Bars[1].Marked || c.Bars[0].Marked || c.Bars[2].Note != "5 %" || c.Bars[2].Value != 4.5 {
		t.Errorf("%+v", c.Bars)
	}
	if got := strings.Join(f.Table.Rows[1], "|"); got != "100 to below 126 mg/dL|Higher|95 %, as read" {
		t.Errorf("%q", got)
	}
	files, err := SVG([]Figure{f})
	if err != nil || len(files) != 1 || files[0].Name != "chance.svg" || !strings.Contains(string(files[0].Data), ">Where may the true value lie when the meter shows 118 mg/dL?<") {
		t.Errorf("%v %d", err, len(files))
	}
}

// The sheet is for staff in either language, has the assumption beside the chance, and without a chance has neither.
func TestReadingSheetSaysWhatItRestsOn(t *testing.T) {
	for lang, want := range map[string]string{"en": "What does a reading of 118 mg/dL mean?|For staff. ", "es": "¿Qué significa una lectura de 118 mg/dL?|Para el personal. "} {
		doc, err := told(lang).Document()
		if err != nil {
			t.Fatal(err)
		}
		if got := doc.Title + "|" + doc.Subtitle; !strings.HasPrefix(got, want) || doc.Lang != lang {
			t.Errorf("%q in %s", got, doc.Lang)
		}
		last := doc.Sections[len(doc.Sections)-1].Paragraphs
		if len(doc.Sections) != 3 || doc.Sections[1].Figure == nil || last[0] != "Flat prior." || last[2] != "No diagnosis." {
			t.Errorf("%d sections, at the end %q", len(doc.Sections), last)
		}
	}
	plain := told("en")
	plain.Bands, plain.Limits, plain.Assumption = nil, nil, ""
	doc, err := plain.Document()
	if err != nil {
		t.Fatal(err)
	}
	if last := doc.Sections[len(doc.Sections)-1].Paragraphs; len(doc.Sections) != 2 || len(last) != 1 || last[0] != "No diagnosis." {
		t.Errorf("%d sections, at the end %q", len(doc.Sections), last)
	}
}

// Every fixed word is there in both languages.
func TestReadingWordsAreWhole(t *testing.T) {
	for lang, w := range readingTexts {
		for _, s := range []string{w.title, w.question, w.chance, w.own, w.limits, w.word, w.means, w.facts, w.before, w.staff, w.left} {
			if s == "" {
				t.Errorf("a word of %s is empty: %+v", lang, w)
			}
		}
		for _, s := range []string{w.title, w.question} {
			if !strings.Contains(s, "{reading}") {
				t.Errorf("%q does not name the reading", s)
			}
		}
	}
}
