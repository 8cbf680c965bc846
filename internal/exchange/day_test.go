package exchange

import (
	"bytes"
	"os"
	"strings"
	"testing"
	"unicode/utf8"

	"fairstick/internal/fault"
	"fairstick/internal/programme"
)

func TestReadDay(t *testing.T) {
	for name, file := range map[string]string{
		"commas":       "form,Arrived,outcome,reading1 value\n1,9:05,tested,112\n",
		"semicolons":   "\ufefffor\u006d;arrived;outcome;reading1_value\r\n1;9:05;tested;112\r\n;;;\r\n",
		"order, tabs":  "outcome\tform\treading1_value\tarrived\ntested\t1\t112\t9:05\n",
		"quotes":       "form,arrived,outcome,reading1_value,\n1,\"9:05\",\"tested\",112,\n",
		"old line end": "form,arrived,outcome,reading1_value\r1,9:05,tested,112",
	} {
		d, err := ReadDay(DayVisits, strings.NewReader(file))
		if err != nil || len(d.Bad) != 0 || len(d.Rows) != 1 {
			t.Errorf("%s: %v %+v", name, err, d)
			continue
		}
		r := d.Rows[0]
		if r.Line != 2 || len(r.Values) != 4 || r.Values["form"] != "1" || r.Values["arrived"] != "9:05" || r.Values["outcome"] != "tested" || r.Values["reading1_value"] != "112" {
			t.Errorf("%s: %+v", name, r)
		}
	}
}

func TestReadDayRefuses(t *testing.T) {
	const header = "form,arrived,outcome\n"
	for name, c := range map[string]struct{ file, want string }{
		"empty":            {"", "empty"},
		"no rows":          {header, "no rows"},
		"unknown column":   {"form,arrived,outcome,shoe\n1,9:00,left,44\n", `Line 1, column 22: "shoe" is not a column`},
		"seventh reading":  {"form,arrived,outcome,reading7_value\n1,9:00,left,44\n", "is not a column"},
		"twice":            {"form,arrived,outcome,Form\n1,9:00,left,1\n", "stands there twice"},
		"missing":          {"form,arrived\n1,9:00\n", `"outcome" is missing`},
		"quote":            {header + "1,\"9:00,left\n", "quotation mark"},
		"latin 1":          {header + "1,9:00,le\xedt\n", "Line 2, column 10"},
		"too many rows":    {header + strings.Repeat("1,9:00,left\n", programme.MaxImportRows+1), "more than 500 rows"},
		"too large":        {header + strings.Repeat(" ", MaxBytes), "larger than"},
		"too many columns": {strings.Repeat("form,", MaxDayColumns+1) + "\n", "more than 250 columns"},
	} {
		_, err := ReadDay(DayVisits, strings.NewReader(c.file))
		if !fault.Is(err, "list-unreadable") || !strings.Contains(fault.Of(err).Sentence, c.want) {
			t.Errorf("%s: want %q, got %v", name, c.want, err)
		}
	}
	if _, err := ReadDay("people", strings.NewReader(header)); !fault.Is(err, "no-such-list") {
		t.Errorf("another file: %v", err)
	}
}

// What is wrong with one row does not hide the next.
func TestReadDayNamesEveryRow(t *testing.T) {
	d, err := ReadDay(DayVisits, strings.NewReader("form,arrived,outcome\n1,9:00,left,stray\n2,9:01,left\n3,9:02,left,,stray\n4,9:03,"+strings.Repeat("x", MaxCell+1)+"\n"))
	if err != nil || len(d.Rows) != 4 || len(d.Bad) != 3 || d.Bad[0].Line != 2 || d.Bad[1].Line != 4 || d.Bad[2].Line != 5 || d.Bad[2].Column != "outcome" {
		t.Errorf("%v %+v", err, d)
	}
}

// The documented columns are those that are read, and the example's header is one of them.
func TestDayColumnsAreDocumented(t *testing.T) {
	doc, err := os.ReadFile("../../docs/paper.md")
	if err != nil {
		t.Fatal(err)
	}
	for _, file := range []string{DayVisits, DayControls} {
		for _, c := range DayColumns(file) {
			if strings.HasPrefix(c.Name, "reading") && !strings.HasPrefix(c.Name, "reading1_") || strings.HasPrefix(c.Name, programme.AnswerPrefix) {
				continue
			}
			if !bytes.Contains(doc, []byte("`"+c.Name+"`")) {
				t.Errorf("docs/paper.md does not name the column %s", c.Name)
			}
			if !strings.Contains(DayHelp(), c.Name+" ") {
				t.Errorf("the help does not name the column %s", c.Name)
			}
		}
		header, err := DayExample(file, []string{"age", "known-diabetes"})
		if err != nil {
			t.Fatal(err)
		}
		d, err := ReadDay(file, bytes.NewReader(append(header, []byte("x,x,x,x,x\r\n")...)))
		if err != nil || len(d.Rows) != 1 {
			t.Errorf("the header of %s is not read: %v", file, err)
		}
	}
}

// Whatever is in the file, the reader gives rows within its limits or a fault, and every cell under a column of the file.
func FuzzReadDay(f *testing.F) {
	for _, name := range []string{"day-visits.csv", "day-controls.csv"} {
		data, err := os.ReadFile("../../docs/examples/" + name)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(name == "day-visits.csv", data)
	}
	f.Fuzz(func(t *testing.T, visits bool, data []byte) {
		file := DayControls
		if visits {
			file = DayVisits
		}
		known := map[string]bool{}
		for _, c := range DayColumns(file) {
			known[c.Name] = true
		}
		d, err := ReadDay(file, bytes.NewReader(data))
		if err != nil {
			if x := fault.Of(err); x.Kind != fault.Invalid || x.Sentence == "" || !utf8.ValidString(x.Sentence) {
				t.Fatalf("not a fault that can be shown: %+v", x)
			}
			return
		}
		if len(d.Rows) > programme.MaxImportRows || len(d.Rows)+len(d.Bad) == 0 {
			t.Fatalf("%d rows", len(d.Rows))
		}
		line := 1
		for _, r := range d.Rows {
			if r.Line <= line || len(r.Values) == 0 {
				t.Fatalf("line %d after %d: %v", r.Line, line, r.Values)
			}
			line = r.Line
			for column, v := range r.Values {
				if !known[column] && !(visits && strings.HasPrefix(column, programme.AnswerPrefix)) || v == "" || v != strings.TrimSpace(v) || utf8.RuneCountInString(v) > MaxCell || !utf8.ValidString(v) {
					t.Fatalf("line %d, %q: %q", r.Line, column, v)
				}
			}
		}
	})
}

// One line of half a million cells is told at once.
func TestReadDayIsNotHeldUp(t *testing.T) {
	d, err := ReadDay(DayVisits, strings.NewReader("form,arrived,outcome\n"+strings.Repeat("a,", MaxBytes/2-20)))
	if err != nil || len(d.Bad) != 1 || len(d.Rows) != 1 {
		t.Errorf("%v, %d bad cells", err, len(d.Bad))
	}
}
