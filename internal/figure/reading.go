package figure

import (
	"strings"

	"fairstick/internal/chart"
	"fairstick/internal/paper"
)

// Reading is what is told of one reading, for staff and never for the slip. Its sentences come as they are, in its language.
type Reading struct {
	Lang       string // en or es
	Shown      string // "118 mg/dL", "HI"
	Word       string
	Sentences  []string    // what the protocol says of it
	Facts      [][2]string // basis, rule, source, protocol
	Limits     []string    // the chance at each limit near it, a sentence each; empty without a chance
	Bands      []BandChance
	Assumption string // behind the chance
	Disclaimer string
}

// BandChance is how likely the true value lies in one band.
type BandChance struct {
	Limits string // "100 to below 126 mg/dL"
	Word   string // the protocol's
	Chance float64
	Said   string // the chance in words: "5 %"
	Own    bool   // the band that the reading lies in
}

// readingWords are the fixed words of a reading's picture and sheet.
type readingWords struct{ title, question, chance, own, limits, word, means, facts, before, staff, left string }

var readingTexts = map[string]readingWords{
	"en": {
		title: "What does a reading of {reading} mean?", question: "Where may the true value lie when the meter shows {reading}?",
		chance: "chance, %", own: "{chance}, as read", limits: "The true value lies", word: "What the protocol calls it", means: "What the protocol tells the participant", facts: "What it rests on",
		before: "Before anybody acts on this", staff: "For staff. This is no slip: a participant gets the slip of the program.",
		left: "Bands with a chance below 1 % are left out unless they border on the reading's own.",
	},
	"es": {
		title: "¿Qué significa una lectura de {reading}?", question: "¿Dónde puede estar el valor verdadero si el medidor muestra {reading}?",
		chance: "probabilidad, %", own: "{chance}, según la lectura", limits: "El valor verdadero está en", word: "Cómo lo llama el protocolo", means: "Lo que el protocolo dice al participante", facts: "En qué se basa",
		before: "Antes de actuar", staff: "Para el personal. Esta no es la hoja del participante: esa la da el programa.",
		left: "No se muestran las franjas con menos del 1 % que no están junto a la de la lectura.",
	},
}

func (r Reading) texts() readingWords { return readingTexts[r.Lang] }

func (r Reading) with(text string) string { return strings.ReplaceAll(text, "{reading}", r.Shown) }

// Figure draws how likely the true value lies in each band. There is none without Bands.
func (r Reading) Figure() Figure {
	w := r.texts()
	f := Figure{
		Key: "chance", Title: r.with(w.question), Answer: strings.Join(r.Limits, " "),
		Table: Table{Key: "chance-table", Cols: []Col{{w.limits, false}, {w.word, false}, {w.chance, true}}},
	}
	c := chart.Bars{Text: chart.Text{Title: f.Title, Desc: f.Answer, Y: w.chance}}
	for _, b := range r.Bands {
		said := b.Said
		if b.Own {
			said = strings.ReplaceAll(w.own, "{chance}", b.Said)
		}
		c.Bars = append(c.Bars, chart.Bar{Label: b.Limits, Value: 100 * b.Chance, Note: said, Marked: b.Own})
		f.Table.Rows = append(f.Table.Rows, []string{b.Limits, b.Word, said})
	}
	f.Chart = c
	return f
}

// Document sets what is told of the reading for print.
func (r Reading) Document() (paper.Document, error) {
	w := r.texts()
	doc := paper.Document{Title: r.with(w.title), Subtitle: w.staff, Lang: r.Lang}
	facts := &paper.Table{Columns: []paper.Column{{Title: w.facts, Width: 1}, {Width: 4}}}
	for _, f := range r.Facts {
		facts.Rows = append(facts.Rows, []string{f[0], f[1]})
	}
	doc.Sections = append(doc.Sections, paper.Section{Heading: w.means, Paragraphs: append([]string{r.Word + "."}, r.Sentences...), Table: facts, Keep: true})
	before := []string{r.Disclaimer}
	if len(r.Bands) > 0 {
		s, err := r.Figure().Section()
		if err != nil {
			return doc, err
		}
		doc.Sections = append(doc.Sections, s)
		before = []string{r.Assumption, w.left, r.Disclaimer}
	}
	doc.Sections = append(doc.Sections, paper.Section{Heading: w.before, Paragraphs: before, Keep: true})
	return doc, nil
}
