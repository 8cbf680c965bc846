package exchange

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"fairstick/internal/agreement"
	"fairstick/internal/fault"
	"fairstick/internal/glucose"
)

func TestReadPairsUnderstandsWhatSpreadsheetsWrite(t *testing.T) {
	want := []agreement.Pair{{Reference: 98, Meter: 101.5}, {Reference: 140, Meter: 133}}
	for name, text := range map[string]string{
		"commas":               "reference,meter\n98,101.5\n140,133\n",
		"semicolons":           "reference;meter\n98;101.5\n140;133\n",
		"decimal comma":        "reference;meter\n98,0;101,5\n140;133\n",
		"tabs":                 "reference\tmeter\n98\t101,5\n140\t133\n",
		"mark and CRLF":        "\ufeffreference,meter\r\n98,101.5\r\n140,133\r\n",
		"CR alone":             "reference,meter\r98,101.5\r140,133\r",
		"other order and case": " METER ,Reference\n101.5,98\n133,140\n",
		"quotes":               "\"reference\",\"meter\"\n\"98\",\"101.5\"\n\"140\",133\n",
		"blank rows, no end":   "reference,meter\n\n98,101.5\n , \n140,133",
		"comma at line ends":   "reference,meter,\n98,101.5,\n140,133,\n",
		"exponents and signs":  "reference,meter\n9.8e1,1015E-1\n+140,133\n",
		"another column":       "sample,reference,meter\nA 1,98,101.5\n\"A\n2\",140,133\n",
	} {
		t.Run(name, func(t *testing.T) {
			got, err := ReadPairs(strings.NewReader(text), glucose.MgPerDL)
			if err != nil {
				t.Fatal(err)
			}
			if d := cmp.Diff(want, got.Pairs); d != "" {
				t.Errorf("pairs differ (-want +got):\n%s", d)
			}
			if got.Unit != glucose.MgPerDL || got.UnitFrom != UnitGiven || got.Doubtful || got.Replicates != nil {
				t.Errorf("%+v", got)
			}
		})
	}
}

// The marker ^ stands just before the place that a refusal must name.
func TestReadPairsNamesThePlace(t *testing.T) {
	for name, c := range map[string]struct{ text, says string }{
		"text":                   {"reference,meter\n98,101\n140,^abc\n", `(meter): "abc" is not a number.`},
		"empty cell":             {"reference,meter\n^,101\n140,133\n", "(reference): the cell is empty."},
		"cell missing":           {"reference,meter\n98,101\n^140\n", "(meter): the cell is empty."},
		"NaN":                    {"reference,meter\n98,^NaN\n140,133\n", `"NaN" is not a finite number`},
		"infinity":               {"reference,meter\n98,101\n^-Inf,133\n", `"-Inf" is not a finite number`},
		"too large for a number": {"reference,meter\n98,^1e999\n140,133\n", `"1e999" is not a finite number`},
		"beyond the scale":       {"reference,meter\n98,^HI\n140,133\n", `"HI" is what a meter shows beyond its range`},
		"negative":               {"reference,meter\n98,^-101\n140,133\n", "-101 is not above 0"},
		"zero":                   {"reference,meter\n^0,101\n140,133\n", "0 is not above 0"},
		"absurd":                 {"reference,meter\n98,101\n140,^13300\n", "13300 is beyond any reading"},
		"hexadecimal":            {"reference,meter\n98,^0x65\n140,133\n", `"0x65" is not a number`},
		"thousands":              {"reference;meter\n98;^1.013,5\n140;133\n", `"1.013,5" is not a number`},
		"comma among commas":     {"reference,meter\n98,^\"101,5\"\n140,133\n", `"101,5" has a comma: write a point`},
		"two decimal marks":      {"reference;meter\n98,5;101\n140;^133.5\n", "decimals have a comma in line 2 but a point in line 3"},
		"cell too many":          {"reference,meter\n98,101,^5\n140,133\n", `"5" stands under no column`},
		"letters before it":      {"sample,reference,meter\nBéla Éx,98,^10l\n", `"10l" is not a number`},
		"lines before it":        {"sample,reference,meter\n\"B\né\",98,^10l\n", `"10l" is not a number`},
		"unit":                   {"reference,meter,unit\n98,101,mg/dl\n140,133,^mg\n", `"mg" is not a unit`},
		"another unit":           {"reference,meter,unit\n98,101,mg/dL\n7.8,7.4,^mmol/L\n", "the unit is mmol/L, but mg/dL in line 2"},
		"no unit":                {"reference,meter,unit\n98,101,mg/dL\n140,133,^\n", "(unit): the cell is empty."},
		"replicate":              {"reference,meter,replicate\n98,101,^1.5\n", `"1.5" is not the number of a repeat`},
		"replicate out of order": {"reference,meter,replicate\n98,101,1\n98,99,^3\n", "repeat 3 does not follow repeat 2"},
		"column twice":           {"reference,meter,^Meter\n98,101,1\n", `the column "meter" stands there twice.`},
		"column missing":         {"^reference,meters\n98,101\n", `the column "meter" is missing`},
		"no header":              {"^98,101\n140,133\n", "The first row must name the columns."},
		"quote left open":        {"reference,meter\n98,101\n\"140,133\n150,160\n^", "a quotation mark is missing or one too many."},
		"quote inside":           {"reference,meter\n98,10^\"1\n", "a quotation mark stands inside a cell"},
		"not UTF-8":              {"sample,reference,meter\nB^\xe9la,98,101\n", "this is not text in UTF-8"},
		"binary":                 {"reference,meter\n98,^\x00\n", "this is not text in UTF-8"},
	} {
		t.Run(name, func(t *testing.T) {
			before, _, found := strings.Cut(c.text, "^")
			if !found {
				t.Fatal("the text has no marker")
			}
			line, col := 1+strings.Count(before, "\n"), 1+len([]rune(before[1+strings.LastIndex(before, "\n"):]))
			if name == "quote left open" { // encoding/csv names the end of the last line
				line, col = 4, 9
			}
			_, err := ReadPairs(strings.NewReader(strings.Replace(c.text, "^", "", 1)), glucose.MgPerDL)
			if !fault.Is(err, "numbers-unreadable") {
				t.Fatalf("got %v", err)
			}
			if want := fmt.Sprintf("Line %d, column %d", line, col); !strings.HasPrefix(fault.Of(err).Sentence, want) || !strings.Contains(err.Error(), c.says) {
				t.Errorf("got %q, want it to begin with %q and to say %q", err, want, c.says)
			}
		})
	}
}

func TestReadPairsRefusesWhatIsNoComparison(t *testing.T) {
	for name, c := range map[string]struct{ text, says string }{
		"empty":          {"", "The file is empty."},
		"blank":          {"\n\n", "The file is empty."},
		"header alone":   {"reference,meter\n , \n", "no rows under the header"},
		"empty column":   {"reference,meter\n98,\n140,\n", `The column "meter" is empty`},
		"UTF-16":         {"\xff\xfer\x00", "UTF-16"},
		"workbook":       {"PK\x03\x04", "workbook"},
		"one long line":  {"reference,meter\n" + strings.Repeat("1", maxLine+1), "more than 64 kB"},
		"one long row":   {"reference,meter\n\"" + strings.Repeat("1\n", maxRow/2+1), "Is a quotation mark missing before it?"},
		"too many rows":  {"reference,meter\n" + strings.Repeat("9,9\n", MaxNumberRows+1), "more than 2000000 rows"},
		"unit by letter": {"reference,meter\n98,101 mg/dL\n", `"101 mg/dL" is not a number`},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := ReadPairs(strings.NewReader(c.text), glucose.MgPerDL)
			if !fault.Is(err, "numbers-unreadable") || !strings.Contains(err.Error(), c.says) {
				t.Errorf("got %v", err)
			}
		})
	}
}

// Twenty bad cells are named, the others counted.
func TestBadCellsAreNamedThenCounted(t *testing.T) {
	_, err := ReadPairs(strings.NewReader("reference,meter\n"+strings.Repeat("x,y\n", 12)), glucose.MgPerDL)
	if err == nil {
		t.Fatal("accepted")
	}
	lines := strings.Split(fault.Of(err).Sentence, "\n")
	if len(lines) != 21 || lines[0] != `Line 2, column 1 (reference): "x" is not a number.` || lines[19] != `Line 11, column 3 (meter): "y" is not a number.` || lines[20] != "and 4 more." {
		t.Errorf("got %d lines: %q", len(lines), lines)
	}
}

func TestUnitOfPairs(t *testing.T) {
	const mg, mmol = "98,101\n140,133\n210,222\n", "5.4,5.6\n7.8,7.4\n11.7,12.3\n"
	head := "reference,meter\n"
	withUnit := func(rows, unit string) string {
		return "reference,meter,unit\n" + strings.ReplaceAll(rows, "\n", ","+unit+"\n")
	}
	for name, c := range map[string]struct {
		text     string
		given    glucose.Unit
		unit     glucose.Unit
		from     UnitFrom
		doubtful bool
		key      string
		says     string
	}{
		"given":                     {text: head + mg, given: glucose.MgPerDL, unit: glucose.MgPerDL, from: UnitGiven},
		"by the values, mg/dL":      {text: head + mg, unit: glucose.MgPerDL, from: UnitValues, says: "No unit was given; with a median of 136.5 the values are taken as mg/dL."},
		"by the values, mmol/L":     {text: head + mmol, unit: glucose.MmolPerL, from: UnitValues, says: "taken as mmol/L"},
		"by the column":             {text: withUnit(mmol, "mmol/l"), unit: glucose.MmolPerL, from: UnitColumn},
		"by both":                   {text: withUnit(mmol, "mmol/l"), given: glucose.MmolPerL, unit: glucose.MmolPerL, from: UnitColumn},
		"column against flag":       {text: withUnit(mmol, "mmol/l"), given: glucose.MgPerDL, key: "units-mixed", says: "The file says mmol/L, but mg/dL was asked for."},
		"could be either":           {text: head + "22,25\n30,31\n", key: "unit-unclear", says: "could be of either"},
		"could be either, but said": {text: head + "22,25\n30,31\n", given: glucose.MgPerDL, unit: glucose.MgPerDL, from: UnitGiven},
		"said to be the other":      {text: head + mmol, given: glucose.MgPerDL, unit: glucose.MgPerDL, from: UnitGiven, doubtful: true, says: "the values look like mmol/L"},
		"said to be the other, up":  {text: head + "98,101\n90,88\n", given: glucose.MmolPerL, unit: glucose.MmolPerL, from: UnitGiven, doubtful: true, says: "the values look like mg/dL"},
		"beyond the unit":           {text: head + mg, given: glucose.MmolPerL, key: "numbers-unreadable", says: "Line 3, column 1 (reference): 140 mmol/L is beyond any reading. Is the unit right?\nLine 3, column 5 (meter): 133 mmol/L"},
		"meter in the other unit":   {text: head + "98,5.4\n140,7.8\n210,11.7\n", given: glucose.MgPerDL, key: "units-mixed", says: "reference looks like mg/dL and the column meter like mmol/L"},
		"reference in the other":    {text: head + "5.4,98\n7.8,140\n11.7,210\n", key: "units-mixed", says: "reference looks like mmol/L and the column meter like mg/dL"},
		"one row in the other":      {text: head + mg + "5.4,5.6\n" + mg, given: glucose.MgPerDL, key: "units-mixed", says: "2 values look like mmol/L (line 5, column 1: 5.4; line 5, column 5: 5.6) among 12 that look like mg/dL"},
		"one cell in the other":     {text: head + mg + "99,5.6\n" + mg, key: "units-mixed", says: "1 value looks like mmol/L (line 5, column 4: 5.6) among 13 that look like mg/dL"},
		"one row, the other way":    {text: head + mmol + "99,105\n" + mmol, given: glucose.MmolPerL, key: "units-mixed", says: "2 values look like mg/dL (line 5, column 1: 99; line 5, column 4: 105) among 12 that look like mmol/L"},
		"right, and each row says":  {text: withUnit(mg+"14,15\n", "mg/dL"), unit: glucose.MgPerDL, from: UnitColumn},
		"no end to the last line":   {text: "reference,meter\n100,99\n101,abc", given: glucose.MgPerDL, key: "numbers-unreadable", says: "Line 3, column 5 (meter): \"abc\" is not a number."},
		"a low reading":             {text: head + mg + "29,31\n44,40\n", given: glucose.MgPerDL, unit: glucose.MgPerDL, from: UnitGiven},
		"a very high one":           {text: head + mmol + "31.0,33.3\n", given: glucose.MmolPerL, unit: glucose.MmolPerL, from: UnitGiven},
	} {
		t.Run(name, func(t *testing.T) {
			got, err := ReadPairs(strings.NewReader(c.text), c.given)
			if c.key != "" {
				if !fault.Is(err, c.key) || !strings.Contains(fault.Of(err).Sentence, c.says) {
					t.Fatalf("got %v", err)
				}
				return
			}
			if err != nil {
				t.Fatal(err)
			}
			if got.Unit != c.unit || got.UnitFrom != c.from || got.Doubtful != c.doubtful {
				t.Errorf("unit %s (%s), doubtful %v", got.Unit, got.UnitFrom, got.Doubtful)
			}
			if notes := strings.Join(got.Notes, "\n"); !strings.Contains(notes, c.says) || c.says == "" && notes != "" {
				t.Errorf("notes %q", notes)
			}
		})
	}
}

// Values of one unit over the whole range, as a comparison over every zone of a grid has them, and two heaps without a gap.
func TestMixedUnitsAreToldFromAWideRange(t *testing.T) {
	var wide, heaps strings.Builder
	wide.WriteString("reference,meter\n")
	heaps.WriteString("reference,meter\n")
	for i := range 120 {
		v := 4 * math.Pow(1.042, float64(i)) // 4 to 535
		fmt.Fprintf(&wide, "%.1f,%.1f\n", v, 1.1*v)
		if i%2 == 0 {
			fmt.Fprintf(&heaps, "%.1f,%.1f\n", 46+v/2, 50+v/2)
		} else {
			fmt.Fprintf(&heaps, "%.1f,%.1f\n", 3+float64(i)/6, 3.2+float64(i)/6) // 3.2 to 23
		}
	}
	if p, err := ReadPairs(strings.NewReader(wide.String()), glucose.MgPerDL); err != nil || len(p.Pairs) != 120 || p.Doubtful {
		t.Errorf("a wide range: %v", err)
	}
	if _, err := ReadPairs(strings.NewReader(heaps.String()), glucose.MgPerDL); !fault.Is(err, "units-mixed") {
		t.Errorf("two heaps: %v", err)
	}
}

func TestUnusedColumnsAreNamed(t *testing.T) {
	p, err := ReadPairs(strings.NewReader("id,reference,note,meter\n1,98,x,101\n"), glucose.MgPerDL)
	if err != nil || len(p.Notes) != 1 || p.Notes[0] != "Columns that were not used: id, note." {
		t.Errorf("%q, %v", p.Notes, err)
	}
}

func TestReplicatesOfPairs(t *testing.T) {
	p, err := ReadPairs(strings.NewReader("reference,meter,replicate\n98,101,1\n98,99,2\n140,133,1\n140,135,2\n140,137,3\n"), glucose.MgPerDL)
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff([]int{1, 2, 1, 2, 3}, p.Replicates); d != "" {
		t.Error(d)
	}
}

// A million rows are read in a few seconds; the time is told, not judged, except that an hour would be noticed by the test's
// own limit.
func TestAMillionRows(t *testing.T) {
	var b strings.Builder
	b.WriteString("reference,meter\n")
	for i := range 1_000_000 {
		fmt.Fprintf(&b, "%d,%d\n", 60+i%300, 58+i%307)
	}
	p, err := ReadPairs(strings.NewReader(b.String()), glucose.MgPerDL)
	if err != nil || len(p.Pairs) != 1_000_000 || p.Pairs[999_999].Reference != float64(60+999_999%300) {
		t.Fatalf("%d pairs, %v", len(p.Pairs), err)
	}
}

// FuzzReadPairs looks for text that is accepted without meaning something, or that breaks the reader.
func FuzzReadPairs(f *testing.F) {
	f.Add([]byte("reference,meter\n98,101\n140,133\n"), "")
	f.Add([]byte("\ufeffmeter;reference;unit\r\n5,4;5,6;mmol/L\r\n"), "mmol/L")
	f.Add([]byte("reference\tmeter\treplicate\r98\t101\t1\r98\t99\t2\r"), "mg/dL")
	f.Add([]byte("reference,meter\n\"98\n\",1e2\nNaN,HI\n0,-1\n"), "mg/dL")
	f.Add([]byte("reference,meter\n98,5.4\n"), "")
	f.Fuzz(func(t *testing.T, data []byte, unit string) {
		u := glucose.Unit(unit)
		if !u.Valid() {
			u = ""
		}
		p, err := ReadPairs(strings.NewReader(string(data)), u)
		if err != nil {
			if f := fault.Of(err); f.Kind != fault.Invalid || f.Sentence == "" {
				t.Fatalf("an error that nobody can read: %v", err)
			}
			return
		}
		if len(p.Pairs) == 0 || !p.Unit.Valid() || u != "" && p.Unit != u || p.Replicates != nil && len(p.Replicates) != len(p.Pairs) {
			t.Fatalf("accepted %+v", p)
		}
		for _, q := range p.Pairs {
			for _, v := range []float64{q.Reference, q.Meter} {
				if !(v > 0 && v <= mostReading[p.Unit]) {
					t.Fatalf("accepted %v %s", v, p.Unit)
				}
			}
		}
	})
}
