package web

import (
	"net/url"
	"strings"
	"testing"

	"fairstick/internal/glucose"
)

// memoryFile writes the memory of a meter as a CSV file, with its clock an hour slow.
func (m *market) memoryFile(label string, change func(string) string) (meter, file string) {
	m.t.Helper()
	d := m.day()
	for _, x := range d.Meters {
		if x.Details.Label == label {
			meter = x.ID
		}
	}
	entries, _ := d.MeterLog(meter)
	var b strings.Builder
	b.WriteString("Meter memory\n\nDate;Time;Glucose;Control\n")
	for _, e := range entries {
		if e.Reading.Kind == glucose.Error {
			continue
		}
		mark := ""
		if e.Control {
			mark = "C"
		}
		at := e.At.In(d.Event.Zone()).Add(-60 * 60e9)
		b.WriteString(at.Format("2006-01-02;15:04") + ";" + e.Reading.Shown() + ";" + mark + "\n")
	}
	return meter, change(b.String())
}

func TestAMemoryIsTriedThenKept(t *testing.T) {
	m := newMarket(t)
	lead := m.as(leadName)
	meter, file := m.memoryFile("M1", func(s string) string { return strings.Replace(s, ";95;", ";59;", 1) })
	page := m.event + "/close/meter/" + meter
	lead.get(page)
	lead.want(200)
	lead.see("Memory of meter M1", "File from the meter")
	lead.post(page, url.Values{"text": {file}})
	lead.want(200)
	lead.see("of the day agree with the log", "1 hour behind. Summer time was probably not set.", "The value differs", "95 mg/dL", "59 mg/dL, its clock", "/reading?reading=", "What the columns are", "Keep ")
	if len(m.day().Event.Downloads) != 0 {
		t.Fatal("trying recorded rows")
	}
	keep := url.Values{"text": {file}, "chosen": {"yes"}, "column_time": {"Time"}, "column_date": {"Date"}, "column_value": {"Glucose"}, "column_control": {"Control"}, "fixed": {"mg/dL"}, "add": {"yes"}, "command": {newCommand()}}
	lead.post(page, keep)
	lead.want(303)
	if len(m.day().Event.Downloads[meter].Rows) < 5 {
		t.Errorf("%+v", m.day().Event.Downloads)
	}
	lead.get(page)
	lead.want(200)
	lead.see("In the record.", "The value differs")
	lead.get(m.event + "/close")
	lead.want(200)
	lead.see("Download of meter M1", "1 rows and readings that differ")
	for _, c := range []struct {
		form url.Values
		says string
	}{
		{url.Values{}, "Choose a file or paste a table first."},
		{url.Values{"text": {"1,2\n3,4\n"}}, "No row of this file names its columns."},
		{url.Values{"text": {file}, "chosen": {"yes"}, "column_time": {"Time"}, "column_date": {"Date"}}, "Choose the column of the value."},
		{url.Values{"text": {"zz"}, "hex": {"yes"}}, "not a row of octets"},
		{url.Values{"text": {strings.Replace(file, ";59;", ";5900;", 1)}}, "Some rows cannot be read."},
	} {
		lead.post(page, c.form)
		if !strings.Contains(lead.body, c.says) || strings.Contains(lead.body, `id="form-keep"`) {
			t.Errorf("want %q in the answer to %v", c.says, c.form)
		}
	}
}

func TestExportPage(t *testing.T) {
	m := newMarket(t)
	lead := m.as(leadName)
	day := strings.TrimPrefix(m.event, "/events/")
	lead.get("/export")
	lead.want(200)
	lead.see("Which events?", "No file with names has been written.")
	lead.get("/export?event=" + day)
	lead.want(200)
	lead.see("1 event, 10 Oct 2026", "may be called", "/export/csv.zip?event="+day, "/export/deidentified.zip?event="+day, "Lead who signs")
	for _, n := range names {
		if strings.Contains(lead.body, n) {
			t.Errorf("the page names %s", n)
		}
	}
	for file, kind := range map[string]string{"fhir.json": "application/fhir+json", "fhir.ndjson": "application/fhir+ndjson", "csv.zip": "application/zip", "deidentified.zip": "application/zip"} {
		lead.get("/export/" + file + "?event=" + day)
		if lead.status != 200 || lead.header.Get("Content-Type") != kind || !strings.HasPrefix(lead.header.Get("Content-Disposition"), "attachment") {
			t.Errorf("%s: %d %v", file, lead.status, lead.header)
		}
		for _, n := range names {
			if strings.Contains(lead.body, n) {
				t.Errorf("%s names %s", file, n)
			}
		}
	}
	for path, says := range map[string]string{
		"/export?from=2031-01-01":                   "No event lies between these days.",
		"/export?from=tomorrow":                     "Write the day like 2026-08-31.",
		"/export?from=2026-10-11&until=2026-10-10":  "The last day comes before the first.",
		"/export?event=" + day + "&from=2026-10-10": "not both",
		"/export?event=nothing":                     "There is no such event",
		"/export/fhir.xml?event=" + day:             "There is no such file.",
	} {
		lead.get(path)
		if !strings.Contains(lead.body, says) || lead.status < 400 {
			t.Errorf("%s: %d, want %q", path, lead.status, says)
		}
	}
	form := url.Values{"event": {day}, "from": {""}, "until": {""}, "what": {"fhir"}, "to": {"Example Clinic, referrals"}, "sign_person": {m.person(leadName)}, "sign_pin": {"0000"}, "command": {newCommand()}}
	lead.post("/export", form)
	if lead.status < 400 || strings.Contains(lead.body, names[0]) {
		t.Errorf("a wrong PIN: %d", lead.status)
	}
	form.Set("sign_pin", "2580")
	lead.post("/export", form)
	if lead.status != 200 || !strings.Contains(lead.body, names[0]) || lead.header.Get("Content-Type") != "application/fhir+json" {
		t.Errorf("with names: %d %v", lead.status, lead.header)
	}
	lead.get("/export")
	lead.want(200)
	lead.see("Example Clinic, referrals", leadName, "10 Oct 2026, 10:47") // by the clock of the day, wherever the laptop is
	m.as("Hollis Bray").get("/export/csv.zip?event=" + day)
}
