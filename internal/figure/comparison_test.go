package figure

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"fairstick/internal/agreement"
	"fairstick/internal/chart"
	"fairstick/internal/glucose"
	"fairstick/internal/paper"
)

// compared makes n invented pairs: a meter that reads 3 % high with some scatter.
func compared(t testing.TB, n int, unit glucose.Unit) Compared {
	t.Helper()
	r := rand.New(rand.NewPCG(7, 11))
	in := Compared{Meter: "M1", Specimen: "venous plasma"}
	for range n {
		x := 45 + math.Floor(3600*r.Float64())/10
		y := math.Round(x*1.03 + 5*r.NormFloat64())
		if unit == glucose.MmolPerL {
			x, y = math.Round(100*x/18.016)/100, math.Round(10*y/18.016)/10
		}
		in.Pairs = append(in.Pairs, agreement.Pair{Reference: x, Meter: y})
	}
	var err error
	if in.Agrees, err = agreement.Compare(in.Pairs, unit, agreement.Options{}); err != nil {
		t.Fatal(err)
	}
	return in
}

// Six pairs whose numbers were computed by hand: differences 2.6, 6, 5.5, 2, 3, 3.9.
func byHand(t *testing.T) Compared {
	t.Helper()
	in := Compared{Meter: "M1", Pairs: []agreement.Pair{{Reference: 92.4, Meter: 95}, {Reference: 118, Meter: 124}, {Reference: 154.5, Meter: 160}, {Reference: 203, Meter: 205}, {Reference: 251, Meter: 254}, {Reference: 66.1, Meter: 70}}}
	var err error
	if in.Agrees, err = agreement.Compare(in.Pairs, glucose.MgPerDL, agreement.Options{Levels: []float64{126, 400}}); err != nil {
		t.Fatal(err)
	}
	in.Limits, in.Source = []string{"high from", "beyond the pairs"}, "protocol version 9"
	return in
}

func TestComparisonByHand(t *testing.T) {
	got, err := Compare(byHand(t))
	if err != nil {
		t.Fatal(err)
	}
	// The mean is 23/6 = 3.83 and the SD sqrt(2.611) = 1.62 (sum of squares 13.05 over 5); t(5) at 0.975 is 2.5706 (table of any text),
	// so the interval is 3.83 +- 1.70, and the limits 3.83 +- 3.17.
	all := strings.Join(got.Answers, "\n")
	for _, want := range []string{
		"These pairs are too few for the standard: ISO 15197:2013 asks for 100. Of these, 6 of 6 pairs (100.0 %",
		"6 of 6 lie in zones A and B of the consensus grid, 99 % are asked.",
		"On average M1 reads 3.8 mg/dL above the laboratory (95 % interval +2.1 to +5.5 mg/dL); for most single samples the difference lies from +0.7 to +7.0 mg/dL.",
		"use at home, 6 of 6 pairs are within 15 % (95 % are asked) and 6 within 20 % (99 % are asked): too few pairs for the standard, which asks for 350.",
	} {
		if !strings.Contains(all, want) {
			t.Errorf("the answers lack %q:\n%s", want, all)
		}
	}
	if got.Title != "Does M1 agree with the laboratory?" || len(got.Answers) != 3 {
		t.Errorf("%q, %d answers", got.Title, len(got.Answers))
	}
	rows := map[string]string{}
	for _, tab := range got.Tables {
		for _, r := range tab.Rows {
			rows[tab.Key+" "+r[0]+" "+r[1]] = strings.Join(r, "|")
			if len(r) != len(tab.Cols) {
				t.Errorf("%s: %d cells under %d titles: %q", tab.Key, len(r), len(tab.Cols), r)
			}
		}
	}
	for key, want := range map[string]string{
		"methods Bias, mean difference, mg/dL +3.8":                                         "Bias, mean difference, mg/dL|+3.8|+2.1 to +5.5|standard deviation 1.6 mg/dL",
		"methods Mean absolute relative difference 3.3 %":                                   "Mean absolute relative difference|3.3 %|-|median 3.2 %; it has no usual interval",
		"criteria ISO 15197:2013 6":                                                         "ISO 15197:2013|6|100|too few pairs for the standard, which asks for 100",
		"criteria FDA 2020, point-of-care use 6":                                            "FDA 2020, point-of-care use|6|350|too few pairs for the standard, which asks for 350",
		"criteria-parts ISO 15197:2013 within 15 mg/dL below 100 mg/dL, 15 % from there on": "ISO 15197:2013|within 15 mg/dL below 100 mg/dL, 15 % from there on|6 of 6|100.0 %|54.1 to 100.0|95 %|yes",
		"criteria-parts ISO 15197:2013 within 5 mg/dL below 100 mg/dL, 5 % from there on":   "ISO 15197:2013|within 5 mg/dL below 100 mg/dL, 5 % from there on|5 of 6|83.3 %|35.9 to 99.6|-|only counted",
		"levels 400 beyond the pairs":                                                       "400|beyond the pairs|-|-|not known: no pairs lie there",
	} {
		if rows[key] != want {
			t.Errorf("%s:\n got %s\nwant %s", key, rows[key], want)
		}
	}
	if r := rows["levels 126 high from"]; !strings.HasSuffix(r, "|reads high") || !strings.Contains(r, "+3.") {
		t.Errorf("at 126: %s", r)
	}
	if c := strings.Join(got.Cautions, "\n"); !strings.Contains(c, "neither validates the meter nor replaces") || !strings.Contains(c, "Local rules decide") || !strings.Contains(c, "6 pairs are few") || !strings.Contains(c, "capillary glucose is higher than venous") {
		t.Errorf("cautions: %s", c)
	}
}

// A criterion that is reached, one that is missed, and a meter that reads low.
func TestComparisonVerdicts(t *testing.T) {
	in := compared(t, 120, glucose.MgPerDL)
	got, err := Compare(in)
	if err != nil {
		t.Fatal(err)
	}
	if !strings.HasPrefix(got.Answers[0], "By ISO 15197:2013 these pairs agree: ") || !strings.HasSuffix(got.Answers[2], "too few pairs for the standard, which asks for 350.") {
		t.Errorf("%q", got.Answers)
	}
	for i := range in.Pairs {
		in.Pairs[i].Meter = math.Round(in.Pairs[i].Reference * 0.7)
	}
	if in.Agrees, err = agreement.Compare(in.Pairs, glucose.MgPerDL, agreement.Options{}); err != nil {
		t.Fatal(err)
	}
	if got, err = Compare(in); err != nil {
		t.Fatal(err)
	}
	if !strings.HasPrefix(got.Answers[0], "Not closely enough for ISO 15197:2013: ") || !strings.Contains(got.Answers[1], " below the laboratory (95 % interval −") || !strings.HasSuffix(got.Answers[2], "missed, with fewer pairs than the 350 that are asked.") {
		t.Errorf("%q", got.Answers)
	}
	if a := got.Figures[1].Answer; !strings.Contains(a, "Deming: the meter rises more slowly than the laboratory (slope 0.7") {
		t.Errorf("the lines: %s", a)
	}
}

// Whatever the pairs are, there is a report; a method without a number gives its reason, and nothing is NaN.
func TestComparisonOfAwkwardPairs(t *testing.T) {
	same := func(n int, x, y float64) []agreement.Pair {
		var out []agreement.Pair
		for range n {
			out = append(out, agreement.Pair{Reference: x, Meter: y})
		}
		return out
	}
	for name, pairs := range map[string][]agreement.Pair{
		"one": same(1, 100, 101), "two": {{Reference: 90, Meter: 95}, {Reference: 200, Meter: 190}}, "constant": same(30, 100, 104), "equal": {{Reference: 90, Meter: 90}, {Reference: 120, Meter: 120}, {Reference: 300, Meter: 300}, {Reference: 400, Meter: 400}},
		"falling": {{Reference: 90, Meter: 300}, {Reference: 120, Meter: 200}, {Reference: 300, Meter: 90}, {Reference: 400, Meter: 60}}, "zero": {{Reference: 0, Meter: 10}, {Reference: 100, Meter: 0}, {Reference: 50, Meter: 60}}, "far": {{Reference: 900, Meter: 1100}, {Reference: 30, Meter: 5000}, {Reference: 800, Meter: 20}},
	} {
		for _, unit := range glucose.Units {
			agrees, err := agreement.Compare(pairs, unit, agreement.Options{Levels: []float64{126}})
			if err != nil {
				t.Fatal(err)
			}
			in := Compared{Meter: "the meter", Pairs: pairs, Agrees: agrees, Limits: []string{"high from"}}
			got, err := Compare(in)
			if err != nil {
				t.Fatalf("%s: %v", name, err)
			}
			listed, err := in.Listed(10)
			if err != nil {
				t.Fatal(err)
			}
			for _, tab := range append(got.Tables, listed, got.Figures[0].Table, got.Figures[1].Table) {
				for _, r := range tab.Rows {
					if len(r) != len(tab.Cols) {
						t.Errorf("%s, %s: %d cells under %d titles", name, tab.Key, len(r), len(tab.Cols))
					}
				}
				if s := fmt.Sprint(tab); strings.Contains(s, "NaN") || strings.Contains(s, "Inf") || strings.Contains(s, "−0.0 ") {
					t.Errorf("%s: %s", name, s)
				}
			}
			if _, err := SVG(got.Figures); err != nil {
				t.Errorf("%s: %v", name, err)
			}
		}
	}
}

// The letter of a zone stands in that zone, in either unit, and the borders of a picture are those of the judgement.
func TestLettersStandInTheirZones(t *testing.T) {
	for _, g := range drawnGrids {
		for _, l := range g.letters {
			z, err := agreement.ZoneOf(g.grid, agreement.Pair{Reference: l.X, Meter: l.Y}, glucose.MgPerDL)
			if err != nil || z.String() != l.Text {
				t.Errorf("%s: %s stands at %v, %v, which is zone %s", g.name, l.Text, l.X, l.Y, z)
			}
		}
		for _, unit := range glucose.Units {
			f, err := compared(t, 5, unit).grid(g)
			if err != nil {
				t.Fatal(err)
			}
			c := f.Chart.(chart.ErrorGrid)
			for _, l := range c.Zones {
				if z, err := agreement.ZoneOf(g.grid, agreement.Pair{Reference: l.X, Meter: l.Y}, unit); err != nil || z.String() != l.Text {
					t.Errorf("%s in %s: %s at %v, %v is zone %s", g.name, unit, l.Text, l.X, l.Y, z)
				}
				if l.X > c.XMax || l.Y > c.YMax {
					t.Errorf("%s in %s: %s stands outside", g.name, unit, l.Text)
				}
			}
			if len(c.Borders) != len(agreement.Borders(g.grid)) {
				t.Errorf("%d borders", len(c.Borders))
			}
		}
	}
}

func TestSVGFiles(t *testing.T) {
	got, err := Compare(compared(t, 100, glucose.MgPerDL))
	if err != nil {
		t.Fatal(err)
	}
	files, err := SVG(got.Figures)
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, f := range files {
		names = append(names, f.Name)
		if bytes.Contains(f.Data, []byte("style=")) || !bytes.Contains(f.Data, []byte("<desc>")) {
			t.Errorf("%s has a style or no description", f.Name)
		}
		for d := xml.NewDecoder(bytes.NewReader(f.Data)); ; {
			if _, err := d.Token(); errors.Is(err, io.EOF) {
				break
			} else if err != nil {
				t.Fatalf("%s: %v", f.Name, err)
			}
		}
	}
	if s := strings.Join(names, " "); s != "difference.svg regression.svg grid-consensus.svg grid-clarke.svg" {
		t.Errorf("files %s", s)
	}
	in := compared(t, 10, glucose.MgPerDL)
	in.UnitDoubt = true
	if got, err = Compare(in); err != nil {
		t.Fatal(err)
	}
	if len(got.Figures) != 2 || len(got.Answers) != 1 || got.Tables[0].Key != "methods" {
		t.Errorf("with the unit in doubt nothing may depend on it: %d figures, %q", len(got.Figures), got.Answers)
	}
}

func TestDocument(t *testing.T) {
	in := compared(t, 100, glucose.MmolPerL)
	got, err := Compare(in)
	if err != nil {
		t.Fatal(err)
	}
	listed, err := in.Listed(20)
	if err != nil {
		t.Fatal(err)
	}
	if len(listed.Rows) != 20 || listed.Said[0] != "The first 20 of 100 pairs; the CSV file has them all." {
		t.Errorf("%d rows, %q", len(listed.Rows), listed.Said)
	}
	doc, err := got.Document([][2]string{{"Meter", "M1"}, {"Note", "<b>typed</b>"}}, listed)
	if err != nil {
		t.Fatal(err)
	}
	doc.Printed = time.Date(2026, 6, 20, 9, 0, 0, 0, time.UTC)
	for _, size := range []paper.PageSize{paper.Letter, paper.A4} {
		var pdf bytes.Buffer
		if err := paper.WriteDocument(&pdf, doc, size); err != nil {
			t.Fatal(err)
		}
		if n := bytes.Count(pdf.Bytes(), []byte("/Subtype /Image")); n != 4 || pdf.Len() > 2<<20 {
			t.Errorf("%d pictures in %d bytes", n, pdf.Len())
		}
	}
}
