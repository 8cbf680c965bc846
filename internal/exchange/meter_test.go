package exchange

import (
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"fairstick/internal/download"
	"fairstick/internal/fault"
	"fairstick/internal/glucose"
)

func believed(glucose.Reading) error { return nil }

// said writes rows in short: time, reading, mark, number.
func said(rows []download.Row) []string {
	var out []string
	for _, r := range rows {
		out = append(out, fmt.Sprintf("%d %s %s %s %d", r.Line, r.At.Format("2006-01-02 15:04:05"), r.Reading, r.Mark, r.Seq))
	}
	return out
}

func TestReadMeterTable(t *testing.T) {
	for name, c := range map[string]struct {
		text string
		want []string
	}{
		"plain":             {"Time,Value\n2026-10-10 09:12,112\n2026-10-10 09:15:30,HI\n", []string{"2 2026-10-10 09:12:00 112 mg/dL  0", "3 2026-10-10 09:15:30 HI  0"}},
		"lines before":      {"Meter report\n\nPrinted on;2026-10-11\nNo.;Date;Time;Glucose;Unit;Control\n7;10/25/2026;9:12 AM;5.6;mmol/L;\n8;10/25/2026;9:15 PM;6.2;mmol/L;C\n", []string{"5 2026-10-25 09:12:00 5.6 mmol/L person 8", "6 2026-10-25 21:15:00 6.2 mmol/L control 9"}},
		"day first, tabs":   {"Result\tTime stamp\n98\t25.10.2026 09:12\n", []string{"2 2026-10-25 09:12:00 98 mg/dL  0"}},
		"a decimal of none": {"Time,Glucose\n2026-10-10T09:12:00,112.0\n", []string{"2 2026-10-10 09:12:00 112 mg/dL  0"}},
	} {
		x, err := ReadMeterTable(strings.NewReader(c.text))
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		rows, bad, err := x.Rows(x.Guess(glucose.MgPerDL), time.UTC, believed)
		if d := cmp.Diff(c.want, said(rows)); d != "" || len(bad) != 0 || err != nil {
			t.Errorf("%s: %v %v %s", name, err, bad, d)
		}
	}
}

func TestMeterTableNamesWhatIsWrong(t *testing.T) {
	x, err := ReadMeterTable(strings.NewReader("Time,Value,Control\n2026-10-10 09:12,112,maybe\n2026-10-10 25:12,98,no\n2026-10-10 09:14,5.6,no\n2026-10-10 09:16,,no\n2026-10-10 09:18,121,no\n"))
	if err != nil {
		t.Fatal(err)
	}
	rows, bad, err := x.Rows(x.Guess(glucose.MgPerDL), time.UTC, believed)
	if err != nil || len(rows) != 1 || len(bad) != 4 {
		t.Fatalf("%v %v %v", err, rows, bad)
	}
	for i, want := range []string{"2 Control", "3 Time", "4 Value", "5 Value"} {
		if got := fmt.Sprintf("%d %s", bad[i].Line, bad[i].Column); got != want {
			t.Errorf("%s, want %s: %s", got, want, bad[i].Sentence)
		}
	}
}

func TestMeterTableRefuses(t *testing.T) {
	key := func(err error) string {
		var f *fault.Fault
		if !errors.As(err, &f) {
			return fmt.Sprint(err)
		}
		return f.Sentence + fmt.Sprint(f.Fields)
	}
	for text, want := range map[string]string{
		"": "No row", "1,2\n3,4\n": "No row", "Time,Value\n": "no rows under", "PK\x03\x04": "workbook",
	} {
		if _, err := ReadMeterTable(strings.NewReader(text)); !strings.Contains(key(err), want) {
			t.Errorf("%q: %v, want %s", text, key(err), want)
		}
	}
	x, err := ReadMeterTable(strings.NewReader("Time,Value\n04/10/2026 09:12,112\n"))
	if err != nil {
		t.Fatal(err)
	}
	for want, c := range map[string]MeterColumns{
		"in two ways":         x.Guess(glucose.MgPerDL),
		"column of the value": {Time: "Time"},
		"column of the time":  {Value: "Value"},
		"no column \"Clock\"": {Time: "Clock", Value: "Value"},
		"Choose the order":    {Time: "Time", Value: "Value", Order: "ydm"},
	} {
		if _, _, err := x.Rows(c, time.UTC, believed); !strings.Contains(key(err), want) {
			t.Errorf("%+v: %v, want %s", c, key(err), want)
		}
	}
	c := x.Guess(glucose.MgPerDL)
	c.Order = "dmy"
	if rows, _, err := x.Rows(c, time.UTC, believed); err != nil || rows[0].At.Month() != time.October {
		t.Errorf("%v %v", rows, err)
	}
}

func TestReadMeterHex(t *testing.T) {
	text := "# two records, a piece of a memory that is unused, and a ketone record\n0B 04 00 E4 07 05 0E 0C 31 1D 4E 01 68 B0 F8 00 00\n0x0300:00E4:0703:0E17:1700:0000:70B0:11  # 112\n\n03 01 00 E4 07 03 0E 17 17 00 00 00 FF FF 11\n03 02 00 E4 07 03 0A 0D 31 00 00 00 0D B0 11\nzz\n02 05\n"
	rows, bad, err := ReadMeterHex(strings.NewReader(text), time.UTC, func(r glucose.Reading) error {
		if r.Value.Steps < 20 {
			return fault.New(fault.Invalid, "value-absurd", "13 mg/dL is outside of what meters show.", "", "")
		}
		return nil
	})
	if d := cmp.Diff([]string{"2 2020-05-14 18:23:29 104 mg/dL person 5", "3 2020-03-14 23:23:00 112 mg/dL person 1"}, said(rows)); d != "" || err != nil {
		t.Errorf("%v %s", err, d)
	}
	want := []string{"nothing or less", "13 mg/dL", "not a row of octets", "at least 10"}
	for i, line := range []int{5, 6, 7, 8} {
		if i >= len(bad) || bad[i].Line != line || !strings.Contains(bad[i].Sentence, want[i]) {
			t.Errorf("%v, want line %d %s", bad, line, want[i])
		}
	}
	if _, _, err := ReadMeterHex(strings.NewReader("# nothing\n"), time.UTC, believed); err == nil {
		t.Error("an empty file was read")
	}
}

// FuzzReadMeter gives any text to both readers: rows with a time and a reading, or a sentence; never a panic.
func FuzzReadMeter(f *testing.F) {
	f.Add("Time,Value\n2026-10-10 09:12,112\n")
	f.Add("No.;Date;Time;Glucose;Unit;Control\n7;10/25/2026;9:12 AM;5.6;mmol/L;C\n")
	f.Add("0B 04 00 E4 07 05 0E 0C 31 1D 4E 01 68 B0 F8 00 00\n")
	f.Add("a,b\n\"")
	f.Fuzz(func(t *testing.T, text string) {
		check := func(rows []download.Row, err error) {
			var bad *fault.Fault
			if err != nil && !errors.As(err, &bad) {
				t.Errorf("an error that is no sentence: %v", err)
			}
			for _, r := range rows {
				if r.At.IsZero() || r.Reading.IsZero() || r.Line < 1 {
					t.Errorf("%+v", r)
				}
			}
		}
		x, err := ReadMeterTable(strings.NewReader(text))
		check(nil, err)
		if err == nil {
			rows, _, err := x.Rows(x.Guess(glucose.MgPerDL), time.UTC, believed)
			check(rows, err)
		}
		rows, _, err := ReadMeterHex(strings.NewReader(text), time.UTC, believed)
		check(rows, err)
	})
}
