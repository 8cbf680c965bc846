package cli

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"fairstick/internal/estimate"
	"fairstick/internal/fault"
	"fairstick/internal/figure"
	"fairstick/internal/glucose"
	"fairstick/internal/protocol"
)

// chance says how sure a reading is at the limits near it.
type chance struct {
	CV         float64         `json:"cv_percent"`
	Spread     estimate.Spread `json:"spread"`
	Prior      *chancePrior    `json:"prior"` // null: flat
	Limits     []limitChance   `json:"limits"`
	Bands      []bandChance    `json:"bands"` // of the protocol, from the lowest; their chances add up to 1
	Assumption string          `json:"assumption"`
}

type chancePrior struct {
	Median float64 `json:"median"`
	CV     float64 `json:"cv_percent"`
}

// limitChance is the chance that the true value is at or above one limit of the protocol.
type limitChance struct {
	Edge     string  `json:"edge"` // as the protocol names it: "high_from"
	Limit    string  `json:"limit"`
	Chance   float64 `json:"at_or_above"`
	Sentence string  `json:"sentence"`
}

// bandChance is the chance that the true value lies in one band.
type bandChance struct {
	From   string  `json:"from,omitempty"`  // missing for the lowest
	Below  string  `json:"below,omitempty"` // missing for the highest
	Word   string  `json:"word"`
	Chance float64 `json:"chance"`
	Own    bool    `json:"own"` // the band of the reading itself
}

// Outside of these chances a limit is not near: the reading is said to be clear of it, and a limit that is not an end of the
// reading's own band is left out.
const (
	hardlyAbove  = 0.01
	hardlyBeyond = 0.99
)

// checkChance refuses what cannot be a CV or a prior, in the words of the command line.
func (o interpretOptions) checkChance() error {
	switch {
	case !o.withCV && !o.withPrior:
		return nil
	case !o.withCV:
		return fault.New(fault.Invalid, "cv", "A prior alone gives no chance.", "", "Add --cv, the meter's own CV in percent.")
	case !(o.cv > 0 && o.cv < 100):
		return fault.New(fault.Invalid, "cv", fmt.Sprintf("A CV of %g %% cannot be right.", o.cv), "", "Give --cv in percent, above 0 and below 100: the one that the meter's own controls show.")
	case o.withPrior && !(o.priorMedian > 0 && o.priorMedian < 10000 && o.priorCV > 0 && o.priorCV < 1000):
		return fault.New(fault.Invalid, "prior", "A prior needs a median and a CV, both above 0.", "",
			"Give --prior-median in the unit of the reading and --prior-cv in percent, or neither.")
	}
	return nil
}

// chanceOf gives the chance at both ends of the reading's band, and at any other limit of its basis that is near. LO, HI and
// codes are no numbers and have none.
func (o interpretOptions) chanceOf(p protocol.Protocol, r glucose.Reading, basis protocol.Basis) (*chance, error) {
	if !o.withCV || r.Kind != glucose.Numeric {
		return nil, nil
	}
	edges, err := p.Edges(basis, r.Unit)
	if err != nil {
		return nil, err
	}
	out := &chance{CV: o.cv, Spread: estimate.SDAtReading, Limits: []limitChance{}}
	if o.withPrior {
		out.Spread, out.Prior = estimate.LogNormal, &chancePrior{o.priorMedian, o.priorCV}
	}
	reached := 0 // edges at or below the reading
	for _, e := range edges {
		c, err := glucose.Compare(r.Value, e.At)
		if err != nil {
			return nil, err
		}
		if c >= 0 {
			reached++
		}
	}
	chances := make([]float64, len(edges))
	for i, e := range edges {
		v, err := o.atOrAbove(r.Value.Float(), e.At.Float(), out.Spread)
		if err != nil {
			return nil, fault.New(fault.Invalid, "chance", "The chance at a limit cannot be computed.", "", "Check --cv and the prior.").Because(err)
		}
		chances[i] = v
		if own := i == reached-1 || i == reached; own || v > hardlyAbove && v < hardlyBeyond {
			out.Limits = append(out.Limits, limitChance{Edge: e.Name, Limit: e.At.Number(), Chance: v, Sentence: o.limitSentence(e.At, v)})
		}
	}
	out.Assumption = o.assumption(r.Unit)
	return out, o.bands(out, p, edges, basis, chances, reached)
}

// bands shares the chance out among the bands that the edges part; own is the band of the reading.
func (o interpretOptions) bands(out *chance, p protocol.Protocol, edges []protocol.Edge, basis protocol.Basis, atOrAbove []float64, own int) error {
	from := 1.0
	for i := range len(edges) + 1 {
		b := bandChance{Chance: from, Own: i == own}
		inside := edges[0].At // a value of the band, by which it is named
		if i == 0 {
			inside.Steps--
		} else {
			inside = edges[i-1].At
			b.From = inside.Number()
		}
		if i < len(edges) {
			b.Below = edges[i].At.Number()
			b.Chance -= atOrAbove[i]
			from = atOrAbove[i]
		}
		f, err := p.Find(glucose.Number(inside), basis)
		if err != nil {
			return err
		}
		b.Word = f.Word.In(o.lang)
		out.Bands = append(out.Bands, b)
	}
	return nil
}

func (o interpretOptions) atOrAbove(reading, limit float64, s estimate.Spread) (float64, error) {
	if o.withPrior {
		return estimate.ChanceAboveWith(reading, limit, o.cv/100, s, estimate.Prior{Middle: o.priorMedian, CV: o.priorCV / 100})
	}
	return estimate.ChanceAbove(reading, limit, o.cv/100, s)
}

func (o interpretOptions) limitSentence(limit glucose.Value, v float64) string {
	clear := v < hardlyAbove || v > hardlyBeyond
	if o.lang == "es" {
		head := "En una lectura tan cerca del límite de " + limit.String()
		if clear {
			head = "Esta lectura está lejos del límite de " + limit.String()
		}
		return fmt.Sprintf("%s: la probabilidad de que el valor verdadero esté en él o por encima es %s.", head, percentWords(v, "menos del", "más del", "del"))
	}
	head := "A reading this close to the limit of " + limit.String()
	if clear {
		head = "This reading is clear of the limit of " + limit.String()
	}
	return fmt.Sprintf("%s: the chance that the true value is at or above it is %s.", head, percentWords(v, "below", "above", ""))
}

// percentWords gives a chance in whole percent, without claiming more than the arithmetic knows near the ends.
func percentWords(v float64, below, above, plain string) string {
	switch {
	case v < hardlyAbove:
		return below + " 1 %"
	case v > hardlyBeyond:
		return above + " 99 %"
	case plain != "":
		return plain + " " + strconv.Itoa(int(100*v+0.5)) + " %"
	}
	return strconv.Itoa(int(100*v+0.5)) + " %"
}

func (o interpretOptions) assumption(unit glucose.Unit) string {
	switch {
	case o.lang == "es" && o.withPrior:
		return fmt.Sprintf("Antes de la prueba se supone que los valores verdaderos de las personas tienen una distribución logarítmico-normal con mediana %g %s y CV %g %%. El CV de %g %% es el del medidor; su sesgo no está incluido.",
			o.priorMedian, unit, o.priorCV, o.cv)
	case o.lang == "es":
		return fmt.Sprintf("Antes de la prueba todo valor verdadero se supone igual de probable: no se tiene en cuenta qué tan frecuentes son los valores altos. El CV de %g %% es el del medidor; su sesgo no está incluido.", o.cv)
	case o.withPrior:
		return fmt.Sprintf("Before the test, people's true values are taken as log-normal with a median of %g %s and a CV of %g %%. The CV of %g %% is the meter's own; a bias of the meter is not in it.",
			o.priorMedian, unit, o.priorCV, o.cv)
	}
	return fmt.Sprintf("Before the test, every true value is taken as equally likely (a flat prior): how common high values are is ignored. The CV of %g %% is the meter's own; a bias of the meter is not in it.", o.cv)
}

// draw writes the picture of the chance and the sheet of the reading.
func (o interpretOptions) draw(r glucose.Reading, out interpretation) error {
	if o.charts.svg != "" && out.Chance == nil {
		if r.Kind != glucose.Numeric {
			return fault.New(fault.Refused, "nothing-to-draw", r.Shown()+" is no number, so it has no chance and no picture.", "", "Leave --svg out.")
		}
		return fault.New(fault.Invalid, "nothing-to-draw", "There is nothing to draw without --cv.", "The picture shows how sure the reading is.", "Add --cv, the meter's own CV in percent, or leave --svg out.")
	}
	told := o.told(r, out)
	var figures []figure.Figure
	if out.Chance != nil {
		figures = append(figures, told.Figure())
	}
	return o.charts.write(figures, told.Document)
}

// told puts the interpretation into words for picture and print.
func (o interpretOptions) told(r glucose.Reading, out interpretation) figure.Reading {
	es := o.lang == "es"
	names := [4]string{"Basis", "Rule", "Source", "Protocol"}
	if es {
		names = [4]string{"Base", "Regla", "Fuente", "Protocolo"}
	}
	told := figure.Reading{
		Lang: o.lang, Shown: r.String(), Word: out.Word, Sentences: append([]string{out.Sentence}, out.Advice...), Disclaimer: out.Disclaimer,
		Facts: [][2]string{{names[0], string(out.Basis)}, {names[1], out.Rule}, {names[2], out.Source}, {names[3], out.Protocol}},
	}
	if when := strings.TrimSpace(out.When + " " + out.Where); when != "" {
		told.Sentences = append(told.Sentences, when)
	}
	if out.Chance == nil {
		return told
	}
	told.Assumption = out.Chance.Assumption
	for _, l := range out.Chance.Limits {
		told.Limits = append(told.Limits, l.Sentence)
	}
	own := slices.IndexFunc(out.Chance.Bands, func(b bandChance) bool { return b.Own })
	for i, b := range out.Chance.Bands {
		if b.Chance < hardlyAbove && max(i-own, own-i) > 1 {
			continue
		}
		said := percentWords(b.Chance, "below", "above", "")
		if es {
			said = percentWords(b.Chance, "menos del", "más del", "")
		}
		told.Bands = append(told.Bands, figure.BandChance{Limits: b.limits(r.Unit, es), Word: b.Word, Chance: b.Chance, Said: said, Own: b.Own})
	}
	return told
}

// limits says between which values the band lies.
func (b bandChance) limits(unit glucose.Unit, es bool) string {
	switch {
	case b.From == "" && es:
		return fmt.Sprintf("menos de %s %s", b.Below, unit)
	case b.From == "":
		return fmt.Sprintf("below %s %s", b.Below, unit)
	case b.Below == "" && es:
		return fmt.Sprintf("%s %s o más", b.From, unit)
	case b.Below == "":
		return fmt.Sprintf("%s %s or more", b.From, unit)
	case es:
		return fmt.Sprintf("de %s a menos de %s %s", b.From, b.Below, unit)
	}
	return fmt.Sprintf("%s to below %s %s", b.From, b.Below, unit)
}
