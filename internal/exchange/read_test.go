package exchange

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"fairstick/internal/fault"
	"fairstick/internal/programme"
)

func TestReadListUnderstandsWhatSpreadsheetsWrite(t *testing.T) {
	want := []programme.ImportRow{
		{Line: 2, Values: map[string]string{"name": "Ada Example", "roles": "screener|desk", "title": `third year, "evening"`}},
		{Line: 4, Values: map[string]string{"name": "Béla Example", "roles": "desk"}},
	}
	for name, text := range map[string]string{
		"commas":               "name,roles,title\nAda Example,screener|desk,\"third year, \"\"evening\"\"\"\n,,\nBéla Example,desk,\n",
		"semicolons":           "name;roles;title\nAda Example;screener|desk;\"third year, \"\"evening\"\"\"\n;;\nBéla Example;desk;\n",
		"tabs":                 "name\troles\ttitle\nAda Example\tscreener|desk\t\"third year, \"\"evening\"\"\"\n\t\t\nBéla Example\tdesk\t\n",
		"mark and CRLF":        "\ufeffname,roles,title\r\nAda Example,screener|desk,\"third year, \"\"evening\"\"\"\r\n,,\r\nBéla Example,desk,\r\n",
		"CR alone":             "name,roles,title\rAda Example,screener|desk,\"third year, \"\"evening\"\"\"\r,,\rBéla Example,desk,\r",
		"other order and case": "Title,NAME, Roles \n\"third year, \"\"evening\"\"\",Ada Example,screener|desk\n,,\n,Béla Example,desk\n",
		"comma at line ends":   "name,roles,title,\nAda Example,screener|desk,\"third year, \"\"evening\"\"\",\n,,,\nBéla Example,desk,,\n",
		"blank line, no end":   "name,roles,title\nAda Example,screener|desk,\"third year, \"\"evening\"\"\"\n\nBéla Example,desk,",
	} {
		t.Run(name, func(t *testing.T) {
			got, err := ReadList(programme.PeopleList, strings.NewReader(text))
			if err != nil {
				t.Fatal(err)
			}
			if d := cmp.Diff(List{Name: programme.PeopleList, Rows: want}, got); d != "" {
				t.Errorf("rows differ (-want +got):\n%s", d)
			}
		})
	}
}

// The marker ^ stands just before the place that a refusal must name.
func TestReadListNamesThePlace(t *testing.T) {
	for name, c := range map[string]struct{ list, text, says string }{
		"unknown column":     {"people", "name,^shoe size,roles\nAda,8,desk\n", `"shoe size" is not a column of this list. Its columns are: name, title, roles, languages, glove.`},
		"column twice":       {"people", "name,roles,^Name\nAda,desk,Ada\n", `the column "name" stands there twice.`},
		"column missing":     {"people", "^name,title\nAda,x\n", `the column "roles" is missing`},
		"cell too many":      {"people", "name,roles\nBéla,desk\nÁda Éx,desk,^supervisor\n", `"supervisor" stands under no column`},
		"cell too few":       {"people", "name,roles,title\n^Ada,desk\n", "there are 2 cells under 3 columns."},
		"quote inside":       {"people", "name,roles\nÁda ^\"the\" Ex,desk\n", "a quotation mark stands inside a cell"},
		"quote left open":    {"people", "name,roles\nAda,desk\n\"Bea,desk\nCleo,desk^\n", "a quotation mark is missing or one too many. The row begins in line 3."},
		"not UTF-8":          {"people", "name,roles\nB^\xe9la,desk\n", "this letter is not UTF-8"},
		"binary":             {"people", "name,roles\nB^\x00,desk\n", "this is not text"},
		"range for people":   {"people", "name,roles,^range_1\nAda,desk,1-2\n", `"range_1" is not a column`},
		"range without name": {"strip-lots", "lot,models,chemistry,expiry,in_use,each_vial,per_vial,unit,^range_\n", `"range_" is not a column`},
		"a long cell":        {"people", "name,roles\n^" + strings.Repeat("x", MaxCell+1) + ",desk\n", "a cell has more than 1000 letters"},
	} {
		t.Run(name, func(t *testing.T) {
			before, _, found := strings.Cut(c.text, "^")
			if !found {
				t.Fatal("the text has no marker")
			}
			line, col := 1+strings.Count(before, "\n"), 1+len([]rune(before[1+strings.LastIndex(before, "\n"):]))
			_, err := ReadList(c.list, strings.NewReader(strings.Replace(c.text, "^", "", 1)))
			if !fault.Is(err, "list-unreadable") {
				t.Fatalf("got %v", err)
			}
			if want := at(line, col, "").Sentence; !strings.HasPrefix(fault.Of(err).Sentence, want) || !strings.Contains(err.Error(), c.says) {
				t.Errorf("got %q, want it to begin with %q and to say %q", err, want, c.says)
			}
		})
	}
}

func TestReadListRefusesWhatIsNoList(t *testing.T) {
	for name, c := range map[string]struct{ list, text, key, says string }{
		"unknown list":  {"shoes", "name\n", "no-such-list", `no list called "shoes"`},
		"empty":         {"people", "", "list-unreadable", "is empty"},
		"header alone":  {"people", "name,roles\n , \n", "list-unreadable", "no rows under the header"},
		"UTF-16":        {"people", "\xff\xfen\x00", "list-unreadable", "UTF-16"},
		"workbook":      {"people", "PK\x03\x04", "list-unreadable", "workbook"},
		"too large":     {"people", "name,roles\n" + strings.Repeat("Ada,desk\n", MaxBytes/9), "list-unreadable", "larger than 1024 kB"},
		"too many rows": {"people", "name,roles\n" + strings.Repeat("Ada,desk\n", programme.MaxImportRows+1), "list-unreadable", "more than 500 rows"},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := ReadList(c.list, strings.NewReader(c.text))
			if !fault.Is(err, c.key) || !strings.Contains(err.Error(), c.says) {
				t.Errorf("got %v", err)
			}
		})
	}
}

func TestRangeColumnsKeepTheNameOfTheirLevel(t *testing.T) {
	got, err := ReadList(programme.StripLotsList, strings.NewReader(
		"lot,models,chemistry,expiry,in use,each-vial,per_vial,unit,Range_Lo,range Hi\nX1,A,unknown,2027-08,90,no,50,mg/dL,92-128,265-359\n"))
	if err != nil {
		t.Fatal(err)
	}
	want := map[string]string{
		"lot": "X1", "models": "A", "chemistry": "unknown", "expiry": "2027-08", "in_use": "90", "each_vial": "no",
		"per_vial": "50", "unit": "mg/dL", "range_Lo": "92-128", "range_Hi": "265-359",
	}
	if d := cmp.Diff(want, got.Rows[0].Values); d != "" {
		t.Error(d)
	}
}

func TestEveryExampleCanBeRead(t *testing.T) {
	for _, name := range Lists() {
		data, err := Example(name)
		if err != nil {
			t.Fatal(err)
		}
		l, err := ReadList(name, strings.NewReader(string(data)))
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		if len(l.Rows) != 2 {
			t.Errorf("%s: %d rows, want 2", name, len(l.Rows))
		}
		for _, c := range ListColumns(name) {
			if c.Required && l.Rows[0].Values[c.Name] == "" {
				t.Errorf("%s: the example has no %s", name, c.Name)
			}
			if !strings.Contains(Help(), c.Means) {
				t.Errorf("the help does not explain %s of %s", c.Name, name)
			}
		}
	}
	if _, err := Example("shoes"); fault.Of(err) == nil || fault.Of(err).Kind != fault.Missing {
		t.Errorf("got %v", err)
	}
}

// FuzzReadList looks for text that is accepted without meaning something, or that breaks the reader.
func FuzzReadList(f *testing.F) {
	for _, name := range Lists() {
		data, err := Example(name)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(name, data)
	}
	f.Add("people", []byte("\ufeffname;roles\r\n\"A\r\nB\";desk\r\n"))
	f.Add("people", []byte("name,roles\r\"A\rB\",desk\r"))
	f.Fuzz(func(t *testing.T, name string, data []byte) {
		l, err := ReadList(name, strings.NewReader(string(data)))
		if err != nil {
			if fault.Of(err).Kind == fault.Internal {
				t.Fatalf("an error that nobody can read: %v", err)
			}
			return
		}
		columns := map[string]bool{}
		for _, c := range ListColumns(name) {
			columns[c.Name] = true
		}
		if len(l.Rows) == 0 || len(l.Rows) > programme.MaxImportRows {
			t.Fatalf("%d rows were accepted", len(l.Rows))
		}
		for i, r := range l.Rows {
			if r.Line < 2 || i > 0 && r.Line <= l.Rows[i-1].Line {
				t.Fatalf("row %d stands in line %d", i, r.Line)
			}
			for c, v := range r.Values {
				if !columns[c] && !strings.HasPrefix(c, programme.RangePrefix) || strings.TrimSpace(v) == "" {
					t.Fatalf("%q = %q was accepted", c, v)
				}
			}
		}
	})
}
