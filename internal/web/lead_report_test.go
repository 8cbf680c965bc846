package web

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"net/http"
	"strconv"
	"strings"
	"testing"

	"fairstick/internal/programme"
)

func TestReportOfTheMarket(t *testing.T) {
	m := newMarket(t)
	v := m.as(leadName)
	v.get(m.event + "/report")
	v.want(http.StatusOK)
	v.see("these numbers may still change", "19 of 29 people who arrived were tested; 29 of 70 expected came.",
		"6 of 19 tested (31.6 %; 95 % interval 15.4 to 54.0 %) were advised to see someone. Of these 3 may be called about it, 1 gave no permission, and 2 are not written down as referred.",
		"9 of 11 control runs were in range; 1 meter was quarantined.", "12 of 19: 63.2 % (41.0 to 80.9 %)", "0 of 3: 0.0 % (0.0 to 56.1 %)",
		"12 (2 fasting, 10 not)", "<svg", "Supervisor ratio", "Two supervisors for five posts; every table in sight of both", "did not come", "1 Feb 2027", "lower end of its 95 % Wilson interval")
	v.seeNot("normal", "diabetic")
	v.get(m.event + "/report.json")
	var r programme.Report
	if err := json.Unmarshal([]byte(v.body), &r); err != nil {
		t.Fatal(err)
	}
	if want := m.day().Report(); r.Outcomes.Tested != 19 || r.Referrals.N != want.Referrals.N || len(r.Equalities) != len(want.Equalities) || r.Name != "Tamsin Green Market" {
		t.Errorf("the JSON says %+v", r.Outcomes)
	}
	v.get(m.event + "/report.csv")
	rows, err := csv.NewReader(strings.NewReader(v.body)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if got := strings.Join(rows[0], ","); got != "section,item,measure,value,denominator,share,low95,high95,unit,note" {
		t.Errorf("the header is %s", got)
	}
	found := map[string]string{}
	for _, x := range rows[1:] {
		found[x[0]+"/"+x[1]+"/"+x[2]] = strings.Join(x[3:9], ",")
	}
	for key, want := range map[string]string{
		"outcomes/tested/people":               "19,29,,,,people",
		"outcomes/arrived/people":              "29,70,,,,people",
		"bands/usual/all":                      "12,19,0.6316,0.4104,0.8085,people",
		"referrals/all/advised to see someone": "6,19,0.3158,0.1536,0.5399,people",
		"lancets/used/count":                   strconv.Itoa(r.Lancets["used"]) + ",,,,,lancets",
		"controls/M5/level 2":                  "299,,,,,mg/dL",
	} {
		if found[key] != want {
			t.Errorf("%s is %q, want %q", key, found[key], want)
		}
	}
	for _, q := range []string{"", "?size=a4"} {
		v.get(m.event + "/report.pdf" + q)
		if !strings.HasPrefix(v.body, "%PDF-") || !strings.Contains(v.body, "%%EOF") {
			t.Errorf("the report%s is no PDF", q)
		}
	}
}

// A text from the record never runs as a formula in a spreadsheet.
func TestCSVIsInert(t *testing.T) {
	for in, want := range map[string]string{
		"": "", "95": "95", "-3": "-3", "-0.5": "-0.5", "lot B": "lot B", "=1+1": "'=1+1", "+1 555": "'+1 555", "@SUM(A1)": "'@SUM(A1)", "-cmd|x": "'-cmd|x", "\t=1": "'\t=1",
	} {
		if got := inert(in); got != want {
			t.Errorf("inert(%q) = %q, want %q", in, got, want)
		}
	}
	var buf bytes.Buffer
	r := programme.Report{Name: "=HYPERLINK(\"x\")", Overrides: []programme.OverrideRow{{Gate: "ratio", About: "@7:3", Reason: "-2+3+cmd", By: "+A"}}}
	if err := writeReportCSV(&buf, r); err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(&buf).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range rows {
		for _, cell := range row {
			if cell != "" && strings.ContainsAny(cell[:1], "=+@-") {
				t.Errorf("the cell %q would run", cell)
			}
		}
	}
}
