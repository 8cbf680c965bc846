package exchange_test

import (
	"archive/zip"
	"bytes"
	"encoding/csv"
	"encoding/json"
	"io"
	"math/rand/v2"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"fairstick/internal/demo"
	"fairstick/internal/event"
	"fairstick/internal/exchange"
	"fairstick/internal/programme"
	"fairstick/internal/testrecord"
)

// fullMarket is the record of the invented programme as its day stands in mid-morning.
func fullMarket(t testing.TB) *programme.Programme {
	t.Helper()
	clock := demo.NewClock(demo.Begins())
	p, _ := testrecord.Open(t, clock.Now)
	if _, err := demo.Make(t.Context(), p, clock); err != nil {
		t.Fatal(err)
	}
	return p
}

// exported gives the files of a zip by name.
func exported(t testing.TB, p *programme.Programme, what string, names bool) map[string][]byte {
	t.Helper()
	var buf bytes.Buffer
	if err := exchange.HandOut(t.Context(), p, programme.Actor{}, programme.HandOut{Names: names}, what, ".zip", &buf); err != nil {
		t.Fatal(err)
	}
	z, err := zip.NewReader(bytes.NewReader(buf.Bytes()), int64(buf.Len()))
	if err != nil {
		t.Fatal(err)
	}
	out := map[string][]byte{}
	for _, f := range z.File {
		r, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		if out[f.Name], err = io.ReadAll(r); err != nil {
			t.Fatal(err)
		}
		_ = r.Close()
	}
	return out
}

type packageJSON struct {
	Resources []struct {
		Name, Path string
		Schema     struct {
			PrimaryKey  []string
			ForeignKeys []struct {
				Fields    string
				Reference struct{ Resource, Fields string }
			}
			Fields []struct {
				Name, Type  string
				Constraints struct {
					Required bool
					Enum     []string
				}
			}
		}
	}
}

func rows(t testing.TB, data []byte) [][]string {
	t.Helper()
	all, err := csv.NewReader(bytes.NewReader(data)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	return all
}

// The dictionary is a tabular data package by the schema of frictionless, and every cell of every file is what it says:
// its type, its words, never empty when it must not be, keys once, and references that lead somewhere.
func TestAPackageIsWhatItsDictionarySays(t *testing.T) {
	s, err := jsonschema.NewCompiler().Compile("testdata/tabular-data-package.schema.json")
	if err != nil {
		t.Fatal(err)
	}
	p := fullMarket(t)
	for what, names := range map[string]bool{"csv": false, "csv ": true, "deidentified": false} {
		files := exported(t, p, strings.TrimSpace(what), names)
		doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(files["datapackage.json"]))
		if err != nil {
			t.Fatal(err)
		}
		if err := s.Validate(doc); err != nil {
			t.Error(err)
		}
		checkPackage(t, files)
	}
}

func checkPackage(t *testing.T, files map[string][]byte) {
	t.Helper()
	var pack packageJSON
	if err := json.Unmarshal(files["datapackage.json"], &pack); err != nil {
		t.Fatal(err)
	}
	if len(pack.Resources) != len(files)-1 {
		t.Errorf("%d resources for %d files", len(pack.Resources), len(files)-1)
	}
	form := map[string]*regexp.Regexp{
		"integer": regexp.MustCompile(`^\d+$`), "number": regexp.MustCompile(`^\d+(\.\d+)?$`), "boolean": regexp.MustCompile(`^(yes|no)$`), "date": regexp.MustCompile(`^\d{4}-\d\d-\d\d$`),
		"datetime": regexp.MustCompile(`^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d([+-]\d\d:\d\d|Z)$`), "string": regexp.MustCompile(`(?s).`), "year": regexp.MustCompile(`^\d{4}$`),
	}
	keys := map[string]map[string]bool{}
	for _, r := range pack.Resources {
		all := rows(t, files[r.Path])
		keys[r.Name] = map[string]bool{}
		at := map[string]int{}
		for i, f := range r.Schema.Fields {
			if all[0][i] != f.Name {
				t.Fatalf("%s: column %d is %s, the dictionary says %s", r.Path, i, all[0][i], f.Name)
			}
			at[f.Name] = i
		}
		for n, row := range all[1:] {
			var key []string
			for _, k := range r.Schema.PrimaryKey {
				key = append(key, row[at[k]])
			}
			k := strings.Join(key, "\x00")
			if keys[r.Name][k] {
				t.Errorf("%s row %d: the key %q stands there twice", r.Path, n+2, key)
			}
			keys[r.Name][k] = true
			for i, f := range r.Schema.Fields {
				switch {
				case row[i] == "" && f.Constraints.Required:
					t.Errorf("%s row %d: %s is empty", r.Path, n+2, f.Name)
				case row[i] != "" && !form[f.Type].MatchString(row[i]):
					t.Errorf("%s row %d: %s %q is no %s", r.Path, n+2, f.Name, row[i], f.Type)
				case row[i] != "" && len(f.Constraints.Enum) > 0 && !slices.Contains(f.Constraints.Enum, row[i]):
					t.Errorf("%s row %d: %s %q is none of its words", r.Path, n+2, f.Name, row[i])
				}
			}
		}
	}
	for _, r := range pack.Resources {
		all := rows(t, files[r.Path])
		for _, k := range r.Schema.ForeignKeys {
			i := slices.Index(all[0], k.Fields)
			for n, row := range all[1:] {
				if row[i] != "" && !keys[k.Reference.Resource][row[i]] {
					t.Errorf("%s row %d: %s %s is not in %s", r.Path, n+2, k.Fields, row[i], k.Reference.Resource)
				}
			}
		}
	}
}

// The counts of the files are those of the report, and names are in them only when they were asked for.
func TestAPackageAgreesWithTheReport(t *testing.T) {
	h := newPaperHall(t)
	h.live()
	want := h.finish()
	files := exported(t, h.P, "csv", false)
	got := map[string]int{}
	for _, row := range rows(t, files["visits.csv"])[1:] {
		got["arrived"]++
		got[row[5]]++
		got["sticks"] += number(t, row[24])
	}
	got["readings"], got["runs"], got["referrals"] = len(rows(t, files["readings.csv"]))-1, len(rows(t, files["controls.csv"]))-1, len(rows(t, files["referrals.csv"]))-1
	o, r := want.Outcomes, want.Readings
	for what, n := range map[string]int{
		"arrived": o.Arrived, "tested": o.Tested, "left": o.Left, "not-eligible": o.NotEligible, "declined-consent": 1, "declined-fingerstick": 1, "sticks": r.Sticks,
		"readings": r.First + r.Repeats + r.Rechecks + r.Errors, "runs": want.ControlSum["runs"], "referrals": 3,
	} {
		if got[what] != n {
			t.Errorf("%s: %d in the files, %d in the report", what, got[what], n)
		}
	}
	named := exported(t, h.P, "csv", true)
	for _, secret := range []string{"Invented Guest 4", "555 0104", "Ann Screener"} {
		for name, data := range files {
			if bytes.Contains(data, []byte(secret)) {
				t.Errorf("%q stands in %s without names", secret, name)
			}
		}
	}
	if !bytes.Contains(named["visits.csv"], []byte("Invented Guest 4,555 0104")) || !bytes.Contains(named["staff.csv"], []byte("Ann Screener")) {
		t.Error("the file with names has none")
	}
	if bytes.Contains(named["visits.csv"], []byte("555 0102")) {
		t.Error("a number without permission to call went with the file")
	}
}

func number(t testing.TB, s string) int {
	t.Helper()
	n, err := strconv.Atoi(s)
	if err != nil {
		t.Fatal(err)
	}
	return n
}

// What 45 CFR 164.514(b)(2) names, and how the record could let each of them out. Everything that the market's record holds of it is
// looked for in the release, in every form in which it could stand there.
func TestNoIdentifierIsLeft(t *testing.T) {
	p := fullMarket(t)
	files := exported(t, p, "deidentified", false)
	if len(files) != 2 {
		t.Fatalf("%d files", len(files))
	}
	all := rows(t, files["people.csv"])
	var secrets []string
	visits := 0
	err := p.HandOut(t.Context(), programme.Actor{}, programme.HandOut{Names: true}, func(walk programme.Walk) error {
		return walk(func(x *programme.Leaving) error {
			plan := x.Event.Plan
			// B: geography below a state; and who it was for: the programme, its venue, the places of referral
			secrets = append(secrets, x.Charter.Details.Name, x.Charter.Details.Certificate, x.Charter.Details.Contact, plan.Name, plan.Venue, plan.Address, x.Event.ID)
			for _, r := range append(slices.Clone(plan.Routes), plan.Urgent) {
				secrets = append(secrets, r.Name, r.Address, r.Phone)
			}
			for _, w := range x.People { // R: who took the reading
				secrets = append(secrets, w.ID, w.Details.Name)
			}
			for _, m := range x.Meters { // M: device identifiers and serial numbers
				secrets = append(secrets, m.ID, m.Details.Serial, m.Details.Model)
			}
			for _, l := range x.StripLots {
				secrets = append(secrets, l.ID)
			}
			for i := range x.Going {
				v := &x.Going[i]
				visits++
				secrets = append(secrets, v.ID, v.FoundID) // R: any unique code
				for _, r := range v.Readings {
					secrets = append(secrets, r.ID, r.At.Format("15:04"), r.Reason)
				}
				if v.Contact != nil { // A and D: names and telephone numbers
					secrets = append(secrets, v.Contact.Name, v.Contact.Phone, strings.Fields(v.Contact.Name)[0])
				}
				if v.Left != nil { // free text
					secrets = append(secrets, v.Left.Reason)
				}
				if v.Care != nil {
					secrets = append(secrets, v.Care.Note)
				}
			}
			return nil
		})
	})
	if err != nil {
		t.Fatal(err)
	}
	if len(all)-1 != visits || visits < 20 {
		t.Errorf("%d rows for %d visits", len(all)-1, visits)
	}
	for _, row := range all[1:] {
		line := strings.Join(row, ",")
		for _, s := range secrets {
			if len(s) > 2 && strings.Contains(line, s) {
				t.Errorf("%q stands in %q", s, line)
			}
		}
	}
	for name, data := range files {
		for what, form := range map[string]string{
			"a date (C)": `\d{4}-\d\d-\d\d`, "a time (C)": `\b\d\d?:\d\d\b`, "an id (R)": `[0-9a-f]{8}-[0-9a-f]{4}-`, "a telephone or fax number (D, E)": `\d{3}[ -]\d{4}`,
			"an e-mail address (F)": `@`, "an address of the web (N)": `https?://`, "an IP address (O)": `\b\d+\.\d+\.\d+\.\d+\b`, "a social security number (G)": `\d{3}-\d{2}-\d{4}`, "a ZIP code (B)": `\b\d{5}\b`,
		} {
			if m := regexp.MustCompile(form).Find(data); m != nil {
				t.Errorf("%s: %s: %s", name, what, m)
			}
		}
	}
	// Whatever else stands there stands in a column whose words are known.
	free := map[string]bool{"row": true, "year": true, "age": true, "language": true, "value": true, "readings": true}
	var pack packageJSON
	if err := json.Unmarshal(files["datapackage.json"], &pack); err != nil {
		t.Fatal(err)
	}
	for _, f := range pack.Resources[0].Schema.Fields {
		if len(f.Constraints.Enum) == 0 && f.Type != "boolean" && !free[f.Name] {
			t.Errorf("the column %s could hold anything", f.Name)
		}
	}
}

// Ages over 89 are one group, a rare language is not told, the rows are in an order that chance makes, and no other day of
// the record shows than its year.
func TestDeidentifiedGroups(t *testing.T) {
	p := fullMarket(t)
	write := func(seed uint64) [][]string {
		d := exchange.NewDeidentified()
		err := p.HandOut(t.Context(), programme.Actor{}, programme.HandOut{}, func(walk programme.Walk) error {
			return walk(func(x *programme.Leaving) error {
				if x.Event.Phase == event.IsPlanned {
					return nil
				}
				old := []string{"89", "90", "104", "0"}
				for i, age := range old {
					s, a := *x.Going[i].State, *x.Going[i].State.Answers
					a.Answers = map[string]string{"age": age}
					s.Answers = &a
					x.Going[i].State = &s
				}
				return d.Event(x)
			})
		})
		if err != nil {
			t.Fatal(err)
		}
		var buf bytes.Buffer
		if err := d.Write(&buf, rand.New(rand.NewPCG(seed, 1))); err != nil {
			t.Fatal(err)
		}
		z, err := zip.NewReader(bytes.NewReader(buf.Bytes()), int64(buf.Len()))
		if err != nil {
			t.Fatal(err)
		}
		f, err := z.Open("people.csv")
		if err != nil {
			t.Fatal(err)
		}
		data, err := io.ReadAll(f)
		if err != nil {
			t.Fatal(err)
		}
		return rows(t, data)
	}
	one, two := write(1), write(2)
	ages, languages := map[string]int{}, map[string]int{}
	same := 0
	for i, row := range one[1:] {
		ages[row[2]]++
		languages[row[3]]++
		if row[1] != "2026" || row[0] != strconv.Itoa(i+1) {
			t.Errorf("row %v", row)
		}
		if slices.Equal(row[1:], two[i+1][1:]) {
			same++
		}
	}
	if ages["90+"] != 2 || ages["89"] != 1 || ages["90"]+ages["104"] != 0 {
		t.Errorf("ages %v", ages)
	}
	if languages["es"] != 0 || languages["other"] == 0 || languages["en"] < 11 {
		t.Errorf("languages %v", languages)
	}
	if same > len(one)/2 {
		t.Errorf("%d of %d rows stand in the same place", same, len(one))
	}
}
