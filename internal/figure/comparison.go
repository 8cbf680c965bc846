package figure

import (
	"fmt"
	"strings"

	"fairstick/internal/agreement"
	"fairstick/internal/glucose"
	"fairstick/internal/paper"
)

// Compared is what a comparison is told from.
type Compared struct {
	Meter     string // what it is called in a sentence: "M1", "the meter"
	Pairs     []agreement.Pair
	Agrees    agreement.Report
	Limits    []string // what is decided at each level of Agrees; may be shorter
	Source    string   // of the limits, for example "protocol 2026-01"; may be empty
	Specimen  string   // what the laboratory measured, for example "venous plasma"; may be empty
	UnitDoubt bool     // criteria and grids depend on the unit and are left out
	Notes     []string // further cautions, for example of the file
}

// Comparison is the report of a comparison in words, pictures and tables.
type Comparison struct {
	Title    string
	Answers  []string // one to three sentences
	Figures  []Figure
	Tables   []Table // criteria, levels, methods, pairs
	Cautions []string
}

// Compare tells what a comparison shows.
func Compare(in Compared) (Comparison, error) {
	w := words{in.Agrees.Unit}
	out := Comparison{Title: "Does " + in.Meter + " agree with the laboratory?", Answers: in.answers(w), Cautions: in.cautions()}
	out.Figures = []Figure{in.difference(w), in.regression(w)}
	var counted []Table
	if !in.UnitDoubt {
		for _, g := range drawnGrids {
			f, err := in.grid(g)
			if err != nil {
				return Comparison{}, err
			}
			out.Figures = append(out.Figures, f)
		}
		whole, parts := in.criteria()
		out.Tables, counted = append(out.Tables, whole), []Table{parts}
	}
	if len(in.Agrees.Levels) > 0 {
		out.Tables = append(out.Tables, in.levels(w))
	}
	out.Tables = append(append(out.Tables, counted...), in.methods(w))
	return out, nil
}

// answers says in three sentences whether the meter agrees, how far it is off, and how it stands by the other criterion.
func (in Compared) answers(w words) []string {
	var out []string
	if c := in.Agrees.ISO2013.Result; c != nil && !in.UnitDoubt {
		out = append(out, in.isoAnswer(*c))
	}
	out = append(out, in.biasAnswer(w))
	if c := in.Agrees.FDAHome.Result; c != nil && !in.UnitDoubt {
		home, wide := c.Parts[0], c.Parts[1]
		s := fmt.Sprintf("By the FDA's guidance of 2020 for use at home, %d of %d pairs are within 15 %% (%d %% are asked) and %d within 20 %% (%d %% are asked)", home.Within, home.N, home.Required, wide.Within, wide.Required)
		out = append(out, s+": "+verdict(*c)+".")
	}
	return out
}

func (in Compared) isoAnswer(c agreement.Criterion) string {
	within, zones := c.Parts[0], c.Parts[1]
	counts := fmt.Sprintf("%d of %d pairs (%s, %s interval %s) are within its limits, %d %% are asked; %d of %d lie in zones A and B of the consensus grid, %d %% are asked.",
		within.Within, within.N, percent(within.Percent), in.confidence(), fixedSpan(within.CI, 1), within.Required, zones.Within, zones.N, zones.Required)
	switch {
	case c.Pass == nil:
		return fmt.Sprintf("These pairs are too few for the standard: %s asks for %d. Of these, ", c.Title, c.Least) + counts
	case *c.Pass:
		return "By " + c.Title + " these pairs agree: " + counts
	}
	return "Not closely enough for " + c.Title + ": " + counts
}

// verdict says how a criterion stands, in a few words.
func verdict(c agreement.Criterion) string {
	switch {
	case c.Pass == nil:
		return fmt.Sprintf("too few pairs for the standard, which asks for %d", c.Least)
	case *c.Pass:
		return "reached"
	case c.Parts[0].N < c.Least:
		return fmt.Sprintf("missed, with fewer pairs than the %d that are asked", c.Least)
	}
	return "missed"
}

func (in Compared) biasAnswer(w words) string {
	b := in.Agrees.Bias.Result
	if b == nil {
		return in.Agrees.Bias.Why
	}
	ci := fmt.Sprintf("(%s interval %s %s)", in.confidence(), w.span(b.CI), w.unit)
	loa := fmt.Sprintf("; for most single samples the difference lies from %s %s.", w.span(b.Limits), w.unit)
	switch {
	case b.CI.Low > 0:
		return fmt.Sprintf("On average %s reads %s above the laboratory %s%s", in.Meter, w.value(b.Mean), ci, loa)
	case b.CI.High < 0:
		return fmt.Sprintf("On average %s reads %s below the laboratory %s%s", in.Meter, w.value(-b.Mean), ci, loa)
	}
	return fmt.Sprintf("No bias is shown on average: the mean difference is %s %s%s", w.off(b.Mean), ci, loa)
}

func (in Compared) confidence() string {
	return strings.TrimSuffix(fixed(100*in.Agrees.Confidence, 1), ".0") + " %"
}

// criteria is how the pairs stand by each published criterion, and what each of them counts.
func (in Compared) criteria() (whole, parts Table) {
	r := in.Agrees
	whole = Table{Key: "criteria", Heading: "Published criteria", Cols: []Col{{"Criterion", false}, {"Pairs", true}, {"Pairs that it asks for", true}, {"How it stands", false}}}
	parts = Table{Key: "criteria-parts", Heading: "What the criteria count", Cols: []Col{
		{"Criterion", false},
		{"Pairs", false},
		{"Within", true},
		{"Share", true},
		{in.confidence() + " interval", true},
		{"Asked", true},
		{"Reached", false},
	}}
	if r.Unit == glucose.MmolPerL {
		parts.Said = append(parts.Said, "Limits are named in mg/dL. In mmol/L ISO 15197 has limits of its own, which were used; for the others readings were converted.")
	}
	for _, m := range []agreement.Maybe[agreement.Criterion]{r.ISO2013, r.FDAHome, r.FDAClinic, r.ISO2003, r.POCT12} {
		c := m.Result
		if c == nil {
			whole.Said = append(whole.Said, m.Why)
			continue
		}
		whole.Rows = append(whole.Rows, []string{c.Title, fmt.Sprint(c.Parts[0].N), fmt.Sprint(c.Least), verdict(*c)})
		for _, p := range c.Parts {
			row := []string{c.Title, p.Name, fmt.Sprintf("%d of %d", p.Within, p.N), percent(p.Percent), fixedSpan(p.CI, 1), "-", "only counted"}
			if p.Required > 0 {
				row[5], row[6] = fmt.Sprintf("%d %%", p.Required), "no"
				if p.Reached {
					row[6] = "yes"
				}
			}
			parts.Rows = append(parts.Rows, row)
		}
	}
	return whole, parts
}

// leanWords say which way a meter leans at a level.
var leanWords = map[agreement.Lean]string{agreement.ReadsHigh: "reads high", agreement.ReadsLow: "reads low", agreement.NotShown: "no bias shown", agreement.Unknown: "no interval"}

// levels is the bias where something is decided.
func (in Compared) levels(w words) Table {
	t := Table{Key: "levels", Heading: "Where something is decided", Cols: []Col{
		{"Level", false},
		{"What is decided there", false},
		{"Bias by Deming", true},
		{"Bias by Passing-Bablok", true},
		{"What is shown", false},
	}}
	of := "Levels"
	if in.Source != "" {
		of = "The limits of " + in.Source
	}
	t.Said = []string{of + ", and how far a regression line lies from the laboratory there, with its interval, in " + string(w.unit) + ". What is shown is what the Deming line shows."}
	bias := func(m agreement.Maybe[agreement.LevelBias]) string {
		b := m.Result
		switch {
		case b == nil:
			return "-"
		case b.CI == nil:
			return signed(b.Bias, w.decimals())
		}
		return signed(b.Bias, w.decimals()) + " (" + w.span(*b.CI) + ")"
	}
	for i, l := range in.Agrees.Levels {
		says := "-"
		if i < len(in.Limits) {
			says = in.Limits[i]
		}
		at := fixed(l.Level, 0)
		if in.Agrees.Unit == glucose.MmolPerL {
			at = fixed(l.Level, 1)
		}
		row := []string{at, says, bias(l.Deming), bias(l.PassingBablok), l.Deming.Why}
		if b := l.Deming.Result; b != nil {
			row[4] = leanWords[b.Lean]
		} else if !in.Agrees.Reference.Contains(l.Level) {
			row[4] = "not known: no pairs lie there"
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

// methods has every method with its interval, or the reason why there is no number.
func (in Compared) methods(w words) Table {
	t := Table{Key: "methods", Heading: "Every method", Cols: []Col{{"Method", false}, {"Result", true}, {in.confidence() + " interval", true}, {"Remark", false}}}
	add := func(method, result, interval, remark string) {
		if interval == "" {
			interval = "-"
		}
		t.Rows = append(t.Rows, []string{method, result, interval, remark})
	}
	none := func(method, why string) { add(method, "-", "", why) }
	r := in.Agrees

	t.Rows = append(t.Rows, in.agreementRows(w)...)
	if b := r.PercentBias.Result; b != nil {
		add("Bias, percent of the mean of both", signed(b.Mean, 1)+" %", signedSpan(b.CI, 1), "limits of agreement "+signedSpan(b.Limits, 1)+" %")
	} else {
		none("Bias, percent of the mean of both", r.PercentBias.Why)
	}
	if b := r.RatioBias.Result; b != nil {
		add("Ratio, meter over laboratory", fixed(b.Mean, 3), fixedSpan(b.CI, 3), "limits of agreement "+fixedSpan(b.Limits, 3))
	} else {
		none("Ratio, meter over laboratory", r.RatioBias.Why)
	}
	if b := r.BiasTrend.Result; b != nil {
		remark := b.Note
		if remark == "" {
			remark = "the spread of the differences stays the same with the level"
			if b.SpreadP < 0.05 {
				remark = "the spread of the differences changes with the level (p = " + pValue(b.SpreadP) + "): limits in percent say more"
			}
		}
		interval := ""
		if b.Slope.CI != nil {
			interval = signedSpan(*b.Slope.CI, 3)
		}
		add("Difference per unit of level", signed(b.Slope.Value, 3), interval, remark)
	} else {
		none("Difference per unit of level", r.BiasTrend.Why)
	}
	if m := r.MARD.Result; m != nil {
		add("Mean absolute relative difference", percent(m.MARD), "", "median "+percent(m.Median)+"; it has no usual interval")
	} else {
		none("Mean absolute relative difference", r.MARD.Why)
	}
	if c := r.CCC.Result; c != nil {
		interval, remark := "", fmt.Sprintf("correlation %s, accuracy %s", fixed(c.R, 4), fixed(c.Cb, 4))
		if c.CI != nil {
			interval = fixedSpan(*c.CI, 4)
		}
		add("Concordance correlation (Lin)", fixed(c.CCC, 4), interval, also(remark, c.Note))
	} else {
		none("Concordance correlation (Lin)", r.CCC.Why)
	}
	t.Rows = append(t.Rows, in.lineRows(w)...)
	return t
}

// agreementRows are the bias and the limits of agreement.
func (in Compared) agreementRows(w words) [][]string {
	b := in.Agrees.Bias.Result
	if b == nil {
		return [][]string{{"Bias", "-", "-", in.Agrees.Bias.Why}}
	}
	unit, d := ", "+string(w.unit), w.decimals()
	return [][]string{
		{"Bias, mean difference" + unit, signed(b.Mean, d), w.span(b.CI), "standard deviation " + w.value(b.SD)},
		{"Upper limit of agreement" + unit, signed(b.Limits.High, d), w.span(b.UpperCI), fixed(b.K, 2) + " standard deviations above the bias"},
		{"Lower limit of agreement" + unit, signed(b.Limits.Low, d), w.span(b.LowerCI), fixed(b.K, 2) + " standard deviations below the bias"},
	}
}

// lineRows are slope and intercept of each regression line.
func (in Compared) lineRows(w words) [][]string {
	var out [][]string
	for _, l := range in.lines() {
		if l.line == nil {
			out = append(out, []string{l.name, "-", "-", l.why})
			continue
		}
		slope, intercept := "-", "-"
		if l.line.Slope.CI != nil {
			slope = fixedSpan(*l.line.Slope.CI, 3)
		}
		if l.line.Intercept.CI != nil {
			intercept = w.span(*l.line.Intercept.CI)
		}
		out = append(out,
			[]string{l.name + ", slope", fixed(l.line.Slope.Value, 3), slope, also(l.says, l.line.Note)},
			[]string{l.name + ", intercept, " + string(w.unit), signed(l.line.Intercept.Value, w.decimals()), intercept, "where the line meets a laboratory of 0"})
	}
	return out
}

// line is one regression with what is said of it.
type line struct {
	name, says, why string
	line            *agreement.Line
}

func (in Compared) lines() []line {
	r := in.Agrees
	lambda := "both methods are taken to err alike"
	if r.Lambda != 1 {
		lambda = "the laboratory's errors are taken to have " + fixed(r.Lambda, 2) + " times the variance of the meter's"
	}
	pb := line{name: "Passing-Bablok", why: r.PassingBablok.Why}
	if p := r.PassingBablok.Result; p != nil {
		pb.line, pb.says = &p.Line, "not moved by a few bad pairs"
	}
	return []line{
		{"Deming", lambda, r.Deming.Why, r.Deming.Result},
		pb,
		{"Weighted Deming", "errors are taken to grow with the level", r.WeightedDeming.Why, r.WeightedDeming.Result},
		{"Least squares", "given because others report it: the slope is too flat", r.OLS.Why, r.OLS.Result},
	}
}

// Listed is the pairs themselves, at most so many of them.
func (in Compared) Listed(most int) (Table, error) {
	w := words{in.Agrees.Unit}
	unit := string(w.unit)
	t := Table{Key: "pairs", Heading: "The pairs", Cols: []Col{{"Pair", false}, {"Laboratory, " + unit, true}, {"Meter, " + unit, true}, {"Difference", true}, {"Percent", true}}}
	if !in.UnitDoubt {
		t.Cols = append(t.Cols, Col{"Consensus zone", false}, Col{"Clarke zone", false})
	}
	for i, p := range in.Pairs {
		if i == most {
			t.Said = []string{fmt.Sprintf("The first %d of %d pairs; the CSV file has them all.", most, len(in.Pairs))}
			break
		}
		share := "-"
		if p.Reference > 0 {
			share = signed(100*(p.Meter-p.Reference)/p.Reference, 1) + " %"
		}
		row := []string{fmt.Sprint(i + 1), plain(p.Reference), plain(p.Meter), signed(p.Meter-p.Reference, w.decimals()), share}
		if !in.UnitDoubt {
			for _, g := range drawnGrids {
				z, err := agreement.ZoneOf(g.grid, p, in.Agrees.Unit)
				if err != nil {
					return Table{}, err
				}
				row = append(row, z.String())
			}
		}
		t.Rows = append(t.Rows, row)
	}
	return t, nil
}

// cautions are what must be known before anybody acts on the numbers.
func (in Compared) cautions() []string {
	out := append([]string(nil), in.Agrees.Cautions...)
	out = append(out, in.Notes...)
	what := "what the laboratory measured may be another kind of sample"
	if in.Specimen != "" {
		what = "the laboratory measured " + in.Specimen
	}
	return append(out,
		"A meter at a screening reads capillary blood from a finger; "+what+". After food, capillary glucose is higher than venous by nature (common practice), so a difference need not be the meter's fault: compare fasting, and minutes apart.",
		"This comparison neither validates the meter nor replaces what its manufacturer states on the label. Local rules decide what a meter may be used for.",
		"A standard also asks how samples are spread over the range, for several strip lots and for who measures. Here its limits are counted on these pairs alone.")
}

// also joins two remarks of which either may be empty.
func also(a, b string) string {
	switch {
	case b == "":
		return a
	case a == "":
		return b
	}
	return a + "; " + b
}

func pValue(p float64) string {
	if p < 0.001 {
		return "less than 0.001"
	}
	return fixed(p, 3)
}

// plain writes a number as it was typed, without needless figures.
func plain(v float64) string { return trimZeros(fixed(v, 6)) }

func trimZeros(s string) string { return strings.TrimSuffix(strings.TrimRight(s, "0"), ".") }

// Document sets the report for print; facts say what was compared.
func (c Comparison) Document(facts [][2]string, more ...Table) (paper.Document, error) {
	doc := paper.Document{Title: c.Title, Lang: "en"}
	doc.Sections = append(doc.Sections, paper.Section{Heading: "In short", Paragraphs: c.Answers, Keep: true})
	if len(facts) > 0 {
		t := &paper.Table{Columns: []paper.Column{{Title: "What was compared", Width: 1}, {Width: 3}}}
		for _, f := range facts {
			t.Rows = append(t.Rows, []string{f[0], f[1]})
		}
		doc.Sections = append(doc.Sections, paper.Section{Table: t})
	}
	doc.Sections = append(doc.Sections, paper.Section{Heading: "Before anybody acts on this", Paragraphs: c.Cautions})
	for _, f := range c.Figures {
		s, err := f.Section()
		if err != nil {
			return doc, err
		}
		doc.Sections = append(doc.Sections, s)
	}
	for _, t := range append(append([]Table(nil), c.Tables...), more...) {
		doc.Sections = append(doc.Sections, t.Section())
	}
	return doc, nil
}
