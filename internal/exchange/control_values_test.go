package exchange

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"fairstick/internal/fault"
	"fairstick/internal/glucose"
)

func TestReadControlsUnderstandsWhatSpreadsheetsWrite(t *testing.T) {
	want := []ControlValue{
		{Line: 2, Date: "2026-03-02", At: time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC), Meter: "M1", Lot: "EX1", Level: "1", Value: 101, Range: &[2]float64{92, 110}},
		{Line: 3, Date: "2026-03-02 08:05", At: time.Date(2026, 3, 2, 8, 5, 0, 0, time.UTC), Meter: "M1", Lot: "EX1", Level: "2", Value: 5.5, Range: &[2]float64{5, 6.5}},
	}
	for name, text := range map[string]string{
		"commas":        "date,meter,lot,level,value,low,high\n2026-03-02,M1,EX1,1,101,92,110\n2026-03-02 08:05,M1,EX1,2,5.5,5,6.5\n",
		"decimal comma": "\ufeffDate;Meter;Lot;Level;Value;Low;High\r\n2026-03-02;M1;EX1;1;101;92;110\r\n2026-03-02 08:05;M1;EX1;2;5,5;5;6,5\r\n",
		"other order":   "high\tlow\tvalue\tlevel\tlot\tmeter\tdate\n110\t92\t101\t1\tEX1\tM1\t2026-03-02\n6.5\t5\t5.5\t2\tEX1\tM1\t2026-03-02 08:05\n",
	} {
		t.Run(name, func(t *testing.T) {
			got, err := ReadControls(strings.NewReader(text))
			if err != nil {
				t.Fatal(err)
			}
			if d := cmp.Diff(ControlValues{Values: want}, got); d != "" {
				t.Errorf("values differ (-want +got):\n%s", d)
			}
		})
	}
}

func TestReadControlsTakesEitherTarget(t *testing.T) {
	got, err := ReadControls(strings.NewReader("date,meter,lot,level,value,low,high,mean,sd,run,unit,by\n" +
		"2026-03-02T08:05,M1,EX1,1,101,92,110,100,4,a,mg/dL,x\n" +
		"2026-03-02T08:05:30,M1,EX1,2,205,,,200,8,a,mg/dL,x\n" +
		"2026-03-02T09:05:30+02:00,M1,EX1,3,301,290,310,,,,mg/dL,x\n"))
	if err != nil {
		t.Fatal(err)
	}
	if len(got.Values) != 3 || got.Unit != glucose.MgPerDL || len(got.Notes) != 1 {
		t.Fatalf("%+v", got)
	}
	a, b, c := got.Values[0], got.Values[1], got.Values[2]
	if *a.Range != [2]float64{92, 110} || *a.Target != [2]float64{100, 4} || a.Run != "a" || b.Range != nil || *b.Target != [2]float64{200, 8} || *c.Range != [2]float64{290, 310} || c.Target != nil {
		t.Errorf("%+v", got.Values)
	}
	// A history may come as z already.
	if got, err := ReadControls(strings.NewReader("date,meter,lot,level,value,mean,sd\n2026-03-02,M1,EX1,1,-2.5,0,1\n")); err != nil || got.Values[0].Value != -2.5 {
		t.Errorf("%+v, %v", got, err)
	}
}

// The marker ^ stands just before the place that a refusal must name.
func TestReadControlsNamesThePlace(t *testing.T) {
	const head = "date,meter,lot,level,value,low,high\n"
	const good = "2026-03-02,M1,EX1,1,101,92,110\n"
	for name, c := range map[string]struct{ text, says string }{
		"date":               {head + good + "^02/03/2026,M1,EX1,1,101,92,110\n", "is not a date: write it like 2026-08-31"},
		"no such day":        {head + "^2026-02-30,M1,EX1,1,101,92,110\n", "is not a date"},
		"a year long gone":   {head + "^0026-02-03,M1,EX1,1,101,92,110\n", "is not a date"},
		"no date":            {head + good + "^,M1,EX1,1,101,92,110\n", "(date): the cell is empty."},
		"no meter":           {head + good + "2026-03-02,^,EX1,1,101,92,110\n", "(meter): the cell is empty."},
		"a long name":        {head + good + "2026-03-02,^" + strings.Repeat("M", 101) + ",EX1,1,101,92,110\n", "more than 100 letters"},
		"text":               {head + "2026-03-02,M1,EX1,1,^ok,92,110\n", `"ok" is not a number`},
		"beyond the scale":   {head + "2026-03-02,M1,EX1,1,^LO,92,110\n", `"LO" is what a meter shows`},
		"range upside down":  {head + "2026-03-02,M1,EX1,1,101,110,^92\n", "the range from 110 to 92 is upside down"},
		"range of one end":   {head + "2026-03-02,M1,EX1,1,101,92,^\n" + good, "(high): the cell is empty."},
		"other unit":         {head + good + "2026-03-03,M1,EX1,1,^5.6,92,110\n", "5.6 is far from its mean of 101: is one of them in the other unit?"},
		"range in the other": {head + good + "2026-03-03,M1,EX2,1,^101,5.1,6.1\n", "101 is far from its mean of 5.6"},
		"negative":           {head + "2026-03-02,M1,EX1,1,^-101,92,110\n", "-101 is not above 0"},
		"absurd":             {head + "2026-03-02,M1,EX1,1,^10100,92,110\n", "10100 is beyond any reading"},
		"another range":      {head + good + "2026-03-03,M1,EX1,^1,101,92,111\n", "differs from that in line 2"},
		"two units": {
			"unit," + head + "mg/dL," + good + "^mmol/L," + good, "the unit is mmol/L, but mg/dL in line 2",
		},
		"SD":             {"date,meter,lot,level,value,mean,sd\n2026-03-02,M1,EX1,1,101,100,^0\n", "an SD of 0 at a mean of 100 cannot be right"},
		"SD and mean":    {"date,meter,lot,level,value,mean,sd\n2026-03-02,M1,EX1,1,101,^,4\n2026-03-02,M1,EX1,1,101,100,4\n", "(mean): the cell is empty."},
		"no target":      {"date,meter,lot,level,value,low,high,mean,sd\n2026-03-02,M1,EX1,1,101,^,,,\n", "neither a range nor a mean and SD"},
		"half a target":  {"^date,meter,lot,level,value,low\n2026-03-02,M1,EX1,1,101,92\n", `the column "high" is missing: "low" alone says nothing`},
		"the other half": {"^date,meter,lot,level,value,sd\n2026-03-02,M1,EX1,1,101,92\n", `the column "mean" is missing: "sd" alone says nothing`},
		"nothing":        {"^date,meter,lot,level,value\n2026-03-02,M1,EX1,1,101\n", "low and high, or mean and sd, are missing"},
		"column missing": {"^date,meter,lot,value,low,high\n2026-03-02,M1,EX1,101,92,110\n", `the column "level" is missing`},
	} {
		t.Run(name, func(t *testing.T) {
			before, _, found := strings.Cut(c.text, "^")
			if !found {
				t.Fatal("the text has no marker")
			}
			line, col := 1+strings.Count(before, "\n"), 1+len([]rune(before[1+strings.LastIndex(before, "\n"):]))
			_, err := ReadControls(strings.NewReader(strings.Replace(c.text, "^", "", 1)))
			if !fault.Is(err, "numbers-unreadable") {
				t.Fatalf("got %v", err)
			}
			if want := fmt.Sprintf("Line %d, column %d", line, col); !strings.HasPrefix(fault.Of(err).Sentence, want) || !strings.Contains(err.Error(), c.says) {
				t.Errorf("got %q, want it to begin with %q and to say %q", err, want, c.says)
			}
		})
	}
}

// FuzzReadControls looks for text that is accepted without meaning something, or that breaks the reader or the rules above it.
func FuzzReadControls(f *testing.F) {
	f.Add([]byte("date,meter,lot,level,value,low,high\n2026-03-02,M1,EX1,1,101,92,110\n2026-03-02,M1,EX1,2,280,265,359\n"))
	f.Add([]byte("\ufeffdate;meter;lot;level;value;mean;sd;run\r\n2026-03-02 08:05;M1;EX1;1;5,5;5,6;0,2;a\r\n"))
	f.Add([]byte("date\tmeter\tlot\tlevel\tvalue\tmean\tsd\tunit\r2026-03-02T08:05:00Z\tM1\tEX1\t1\t-2\t0\t1\tmmol/L\r"))
	f.Add([]byte("date,meter,lot,level,value,low,high,mean,sd\n2026-03-02,M1,EX1,1,NaN,,,1,2\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		v, err := ReadControls(strings.NewReader(string(data)))
		if err != nil {
			if f := fault.Of(err); f.Kind != fault.Invalid || f.Sentence == "" {
				t.Fatalf("an error that nobody can read: %v", err)
			}
			return
		}
		for _, c := range v.Values {
			if c.Line < 2 || c.At.IsZero() || c.Date == "" || c.Meter == "" || c.Lot == "" || c.Level == "" || c.Range == nil && c.Target == nil {
				t.Fatalf("accepted %+v", c)
			}
		}
		r, err := JudgeControls(v, ControlOptions{})
		if err != nil {
			if f := fault.Of(err); f.Kind != fault.Invalid {
				t.Fatalf("an error that nobody can read: %v", err)
			}
			return
		}
		points := 0
		for _, s := range r.Series {
			points += len(s.Points)
		}
		if points != len(v.Values) || len(r.Runs) == 0 {
			t.Fatalf("%d values make %d points in %d runs", len(v.Values), points, len(r.Runs))
		}
	})
}
