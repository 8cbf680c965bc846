package web

import (
	"bytes"
	"context"
	"fmt"
	"mime/multipart"
	"net/http/httptest"
	"regexp"
	"slices"
	"strings"
	"testing"

	"fairstick/internal/programme"
	"fairstick/internal/stock"
)

const comparisonsPath = "/quality/comparisons"

// invented gives the text of n pairs of a meter that reads a little high.
func inventedPairs(n int) string {
	var b strings.Builder
	for i := range n {
		x := 50 + float64(i%97)*3.5
		fmt.Fprintf(&b, "%.1f, %d\n", x, int(x*1.02)+i%5)
	}
	return b.String()
}

// comparison gives the fields of a comparison that is right, as changed.
func (o *office) comparison(change ...string) []string {
	fields := []string{"meter=" + o.ID("M1"), "lot=" + o.ID("A"), "on=2026-06-19", "laboratory=hexokinase", "specimen=venous-plasma", "note=fasting", "pairs=" + inventedPairs(100)}
	for _, c := range change {
		name, _, _ := strings.Cut(c, "=")
		fields = slices.DeleteFunc(fields, func(f string) bool { return strings.HasPrefix(f, name+"=") })
		fields = append(fields, c)
	}
	return fields
}

// compared records a comparison and gives its page.
func (o *office) compared(change ...string) string {
	o.t.Helper()
	a := o.post("Sue Supervisor", comparisonsPath+"/new", o.comparison(change...)...)
	if a.status != 303 || !strings.HasPrefix(a.location, comparisonsPath+"/") {
		o.t.Fatalf("%d to %q: %.900s", a.status, a.location, a.text())
	}
	return a.location
}

func TestComparisonIsRecordedAndTold(t *testing.T) {
	o := setUp(t)
	o.want(o.get("Lea Lead", comparisonsPath), 200, "No meter has been compared with a laboratory yet.", "Add a comparison")
	o.want(o.get("Lea Lead", comparisonsPath+"/new"), 200, "M1, mg/dL", "Venous plasma", "2 to 2,000 pairs")
	fields := o.comparison("note=<script>alert(1)</script> \"fasting\"", "command=0197f0a0-0000-7000-8000-00000000c0de")
	first := o.post("Sue Supervisor", comparisonsPath+"/new", fields...)
	again := o.post("Sue Supervisor", comparisonsPath+"/new", fields...)
	if first.status != 303 || first.location != again.location {
		t.Fatalf("a second press goes to %q after %q: %s", again.location, first.location, first.text())
	}
	page := o.get("Sue Supervisor", first.location)
	o.want(page, 200, "Does M1 agree with the laboratory?", "By ISO 15197:2013 these pairs agree: 100 of 100 pairs", "100 of 100 lie in zones A and B", "On average M1 reads", "above the laboratory (95 % interval",
		"too few pairs for the standard, which asks for 350", "neither validates the meter nor replaces", "capillary glucose is higher than venous", "Passing-Bablok, slope", "Weighted Deming, intercept",
		"Where something is decided", "raised from", "&lt;script&gt;alert", "19 Jun 2026", "hexokinase", "Sue Supervisor")
	if n := strings.Count(page.body, "<svg xmlns"); n != 8 {
		t.Errorf("%d pictures, want four in two sizes", n)
	}
	for _, bad := range []string{"<script>alert", "style=", "NaN", "+Inf", "<no value>"} {
		if strings.Contains(page.body, bad) {
			t.Errorf("the page has %q", bad)
		}
	}
	pairs := o.get("Sue Supervisor", first.location+"/pairs.csv")
	if pairs.status != 200 || !strings.HasPrefix(pairs.body, "reference,meter,unit\n50,51,mg/dL\n53.5,55,mg/dL\n") || strings.Count(pairs.body, "\n") != 101 {
		t.Errorf("%d: %.80q", pairs.status, pairs.body)
	}
	pdf := o.get("Sue Supervisor", first.location+"/report.pdf?size=a4")
	if pdf.status != 200 || pdf.header.Get("Content-Type") != "application/pdf" || !strings.HasPrefix(pdf.body, "%PDF-") || strings.Count(pdf.body, "/Subtype /Image") != 4 {
		t.Errorf("the PDF: %d, %s", pdf.status, pdf.header)
	}
	o.want(o.get("Lea Lead", comparisonsPath), 200, "M1, 19 Jun 2026", "hexokinase", "1 comparison, the newest first")

	o.want(o.post("Lea Lead", first.location+"/withdraw", "reason="), 422, "The reason is missing.")
	o.goes(o.post("Lea Lead", first.location+"/withdraw", "reason=the samples were swapped"), first.location)
	o.want(o.get("Lea Lead", first.location), 200, "Withdrawn. Do not rely on it.", "the samples were swapped. Lea Lead", "!Withdraw this comparison")
	o.want(o.get("Lea Lead", comparisonsPath), 200, "withdrawn: the samples were swapped", "struck")
	o.want(o.post("Lea Lead", first.location+"/withdraw", "reason=again"), 409, "withdrawn already")
}

// The ways in which pairs can be wrong: each is told by its line as typed, nothing is recorded, and what was typed stands there.
func TestComparisonOfBadInput(t *testing.T) {
	o := setUp(t)
	for name, c := range map[string]struct {
		fields []string
		says   []string
	}{
		"text":              {[]string{"pairs=95, 97\n101, high\n120, 118"}, []string{"Line 2, column 5 (meter)", `what a meter shows beyond its range`, "101, high"}},
		"a word":            {[]string{"pairs=95, 97\n101, abc\n120, 118"}, []string{`Line 2, column 5 (meter): "abc" is not a number.`}},
		"two wrong cells":   {[]string{"pairs=95, 97\n101, abc\n120x, 118"}, []string{"What is wrong with the pairs", "2 things in the pairs need another look", `Line 2, column 5 (meter): "abc"`, `Line 3, column 1 (reference): "120x"`}},
		"with its header":   {[]string{"pairs=reference;meter\n95;97\n101;abc"}, []string{"Line 3, column 5 (meter)"}},
		"mixed units":       {[]string{"pairs=95, 97\n101, 99\n5.5, 5.4\n120, 118"}, []string{"The units are mixed", "line 3, column 1: 5.5"}},
		"columns of two":    {[]string{"pairs=5.3, 97\n5.5, 99\n8.1, 150"}, []string{"The column reference looks like mmol/L and the column meter like mg/dL."}},
		"all the other":     {[]string{"pairs=5.3, 5.4\n5.5, 5.6\n8.1, 8.0"}, []string{"The meter shows mg/dL, but the values look like mmol/L. Nothing is converted."}},
		"a file's own unit": {[]string{"pairs=reference,meter,unit\n95,97,mmol/L\n101,99,mmol/L"}, []string{"The file says mmol/L, but mg/dL was asked for."}},
		"one column":        {[]string{"pairs=95\n101\n120"}, []string{`The column "meter" is empty`}},
		"no column meter":   {[]string{"pairs=reference,laboratory\n95,97"}, []string{`the column "meter" is missing`}},
		"empty":             {[]string{"pairs= \n\n"}, []string{"Choose a file or type the pairs."}},
		"header alone":      {[]string{"pairs=reference,meter\n"}, []string{"There are no rows under the header."}},
		"one pair":          {[]string{"pairs=95, 97"}, []string{"A comparison needs at least 2 pairs; there are 1."}},
		"3,000 pairs":       {[]string{"pairs=" + inventedPairs(3000)}, []string{"A comparison holds at most 2000 pairs; there are 3000."}},
		"not a number":      {[]string{"pairs=95, NaN\n101, Inf"}, []string{`"NaN" is not a finite number`, `"Inf" is not a finite number`}},
		"negative":          {[]string{"pairs=95, -97\n101, 99"}, []string{"Line 1, column 4 (meter): -97 is not above 0"}},
		"absurd":            {[]string{"pairs=95, 97\n101, 990"}, []string{"Pair 2: the protocol believes a meter from 20 to 600 mg/dL; 990 stands there."}},
		"repeats":           {[]string{"pairs=reference,meter,replicate\n95,97,1\n95,96,2\n120,118,1"}, []string{"Some samples stand there several times"}},
		"decimal comma":     {[]string{"pairs=95,5, 97\n101, 99"}, []string{"Line 1, column", "decimal comma"}},
		"tomorrow":          {[]string{"on=2026-06-21"}, []string{"21 Jun 2026 has not come yet."}},
		"no meter":          {[]string{"meter="}, []string{"Choose the meter."}},
		"no such meter":     {[]string{"meter=nothing"}, []string{"There is no such meter in the record."}},
		"a name":            {[]string{"note=ann screener drew the samples"}, []string{"Leave out the name Ann Screener"}},
		"everything":        {[]string{"on=", "laboratory=", "specimen=", "pairs=x"}, []string{"4 fields need another look.", "The laboratory&#39;s method is missing.", "What the laboratory measured was not chosen."}},
	} {
		a := o.post("Lea Lead", comparisonsPath+"/new", o.comparison(c.fields...)...)
		if a.status != 422 && (name != "no such meter" || a.status != 404) {
			t.Errorf("%s: status %d", name, a.status)
		}
		for _, s := range c.says {
			if !strings.Contains(a.text(), s) && !strings.Contains(a.body, s) {
				t.Errorf("%s: the page does not say %q:\n%s", name, s, a.text())
			}
		}
		if typed, ok := strings.CutPrefix(c.fields[len(c.fields)-1], "pairs="); ok && strings.TrimSpace(typed) != "" {
			first, _, _ := strings.Cut(typed, "\n")
			if !strings.Contains(a.body, ">"+first) {
				t.Errorf("%s: %q is not kept in the form", name, first)
			}
		}
		if name != "everything" && !slices.ContainsFunc(c.fields, func(f string) bool { return strings.HasPrefix(f, "on=") }) && !strings.Contains(a.body, `value="2026-06-19"`) {
			t.Errorf("%s: the day is not kept", name)
		}
	}
	o.want(o.get("Lea Lead", comparisonsPath), 200, "No meter has been compared")
}

// Cells of a spreadsheet, a file with its header, and a file of another kind.
func TestComparisonFromAFile(t *testing.T) {
	o := setUp(t)
	send := func(content string) answer {
		t.Helper()
		var b bytes.Buffer
		w := multipart.NewWriter(&b)
		for _, f := range append(o.comparison("pairs="), "command="+newCommand()) {
			name, value, _ := strings.Cut(f, "=")
			if err := w.WriteField(name, value); err != nil {
				t.Fatal(err)
			}
		}
		f, err := w.CreateFormFile("file", "pairs.csv")
		if err == nil {
			_, err = f.Write([]byte(content))
		}
		if err = firstErr(err, w.Close()); err != nil {
			t.Fatal(err)
		}
		r := httptest.NewRequestWithContext(context.Background(), "POST", comparisonsPath+"/new", &b)
		r.Header.Set("Content-Type", w.FormDataContentType())
		return o.ask("Lea Lead", r)
	}
	for _, content := range []string{
		"\ufeffReference;Meter;sample\r\n95,5;97\r\n101;99\r\n120;118\r\n", "95.5\t97\n101\t99\n120\t118", "meter,reference\n97,95.5\n99,101\n118,120\n",
	} {
		a := send(content)
		if a.status != 303 {
			t.Errorf("%q: %d %s", content, a.status, a.text())
			continue
		}
		if got := o.get("Lea Lead", a.location+"/pairs.csv").body; got != "reference,meter,unit\n95.5,97,mg/dL\n101,99,mg/dL\n120,118,mg/dL\n" {
			t.Errorf("%q: %q", content, got)
		}
	}
	bad := send("reference,meter\n95,97\n101,ninety\n")
	o.want(bad, 422, `Line 3, column 5 (meter): "ninety" is not a number.`, ">reference,meter\n95,97\n101,ninety")
	o.want(send("PK\x03\x04 a workbook"), 422, "This is a workbook, not a CSV file.")
	o.want(send(strings.Repeat("1,1\n", 700_000)), 422, "What was sent is too large.")
}

func TestComparisonsByRole(t *testing.T) {
	o := setUp(t)
	at := o.compared()
	for _, who := range []string{"Ann Screener", "Dot Counsellor", "Rae Runner"} {
		for _, path := range []string{comparisonsPath, comparisonsPath + "/new", at, at + "/report.pdf", at + "/pairs.csv"} {
			o.want(o.get(who, path), 403, "may not open this page")
		}
		o.want(o.post(who, comparisonsPath+"/new", o.comparison()...), 403)
		o.want(o.post(who, at+"/withdraw", "reason=no"), 403)
	}
	for _, path := range []string{"", "/report.pdf", "/pairs.csv"} {
		o.want(o.get("Lea Lead", comparisonsPath+"/nothing"+path), 404, "There is no such comparison in the record.")
	}
	o.want(o.get("Lea Lead", at), 200, "!Withdrawn.")
}

// A programme without a meter says what is missing before anybody types pairs.
func TestComparisonNeedsAMeter(t *testing.T) {
	o := founded(t)
	o.want(o.get("Lea Lead", comparisonsPath+"/new"), 200, "No meter is on the list yet.", "!<form id=\"form-comparison\"")
}

// The newest comparison stands first, and two pairs give a report too, with reasons in place of numbers.
func TestComparisonOfTwoPairs(t *testing.T) {
	o := setUp(t)
	at := o.compared("pairs=95, 97\n201, 199", "on=2026-06-01")
	o.compared()
	page := o.get("Lea Lead", at)
	o.want(page, 200, "These pairs are too few for the standard", "needs at least", "2 pairs are few")
	list := o.get("Lea Lead", comparisonsPath)
	if days := regexp.MustCompile(`M1, (\d+ Jun) 2026`).FindAllStringSubmatch(list.body, -1); len(days) != 2 || days[0][1] != "19 Jun" {
		t.Errorf("the order is %v", days)
	}
}

// modelOf is the type of M1, which its strips fit.
func modelOf(t *testing.T, o *office) string {
	t.Helper()
	m, err := programme.One[*stock.Meter](t.Context(), o.P, stock.MeterRef(o.ID("M1")))
	if err != nil {
		t.Fatal(err)
	}
	return m.Details.Model
}

// A meter in mmol/L is compared in mmol/L.
func TestComparisonInMmol(t *testing.T) {
	o := setUp(t)
	low, high := 10.0, 40.0
	if _, err := o.P.DescribeMeter(t.Context(), o.As("Lea Lead"), programme.DescribeMeter{
		Act: o.Act(), Meter: o.ID("M1"), Label: "M1", Serial: "T-1", Model: modelOf(t, o), Coding: "none", Unit: "mmol/L", TempLow: &low, TempHigh: &high,
	}); err != nil {
		t.Fatal(err)
	}
	at := o.compared("pairs=5.31, 5.4\n6.02, 6.1\n8.77, 8.9\n11.10, 11.1\n15.4, 15.2")
	o.want(o.get("Lea Lead", at), 200, "mmol/L", "from 5.3 to 15.4 mmol/L", "there, with its interval, in mmol/L", "In mmol/L ISO 15197 has limits of its own")
	o.want(o.post("Lea Lead", comparisonsPath+"/new", o.comparison()...), 422, "113 mmol/L is beyond any reading. Is the unit right?")
}

// A report of the most pairs is a page of bearable size.
func TestComparisonOfTheMostPairs(t *testing.T) {
	o := setUp(t)
	at := o.compared("pairs=" + inventedPairs(2000))
	page := o.get("Lea Lead", at)
	o.want(page, 200, "The first 200 of 2000 pairs")
	if len(page.body) > 2<<20 {
		t.Errorf("%d bytes", len(page.body))
	}
}
