package web

import (
	"archive/zip"
	"bytes"
	"encoding/csv"
	"io"
	"mime"
	"net/http"
	"net/http/httptest"
	"slices"
	"strconv"
	"strings"
	"testing"

	"fairstick/internal/incident"
	"fairstick/internal/programme"
)

// formulas are what somebody types who wants a spreadsheet, a header or a page to do something.
var formulas = []string{
	`=1+1`, `+cmd|' /C calc'!A0`, `@SUM(1;2)`, `-2+3`, "\t=2+2", `=HYPERLINK("//evil.example";"x")`, "x\"\r\nX-Evil: 1", `<img src=x onerror=alert(1)>`,
}

// runs reports whether a spreadsheet would run a cell.
func runs(cell string) bool {
	if cell == "" || cell == "-" || !strings.ContainsRune("=+@-\t\r", rune(cell[0])) {
		return false
	}
	_, err := strconv.ParseFloat(cell, 64)
	return err != nil
}

// Whatever was typed stays text: in each table that leaves, in a workbook, in the name of a file, in a header and on each page.
func TestWhatIsTypedStaysText(t *testing.T) {
	m := newMarket(t)
	lead := programme.Actor{Person: m.person(leadName)}
	d := m.day()
	must := func(_ any, err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	lot := "strip-lot." + d.StripLots[0].ID
	for i, evil := range formulas {
		name := evil + " Runner" // apart from what the log of incidents is told: it refuses the names of staff
		must(m.prog.DescribePerson(t.Context(), lead, programme.DescribePerson{Name: name, Title: evil, Roles: []string{"runner"}, PIN: "739182"}))
		must(m.prog.PostPerson(t.Context(), lead, programme.PostPerson{Event: d.Event.ID, Person: m.byName(strings.Join(strings.Fields(name), " ")), Role: "runner"}))
		must(m.prog.ReceiveStock(t.Context(), lead, programme.ReceiveStock{Thing: lot, Packs: 1, PerPack: 50, Supplier: evil, Invoice: evil, Place: evil}))
		must(m.prog.DescribeSupply(t.Context(), lead, programme.DescribeSupply{Name: evil, Pack: evil}))
		task, err := m.prog.PlanTask(t.Context(), lead, programme.PlanTask{Event: d.Event.ID, What: evil, Days: 3, After: true, Owner: lead.Person})
		must(task, err)
		must(m.prog.AttachEvidence(t.Context(), lead, programme.AttachEvidence{Event: d.Event.ID, Task: task.ID, Name: evil + ".pdf", Data: []byte("%PDF-1.4\n" + evil + "\n%%EOF\n")}))
		done, err := m.prog.ReportIncident(t.Context(), lead, programme.ReportIncident{Event: d.Event.ID, Sort: "sharps-injury", Station: "1", What: evil})
		must(done, err)
		must(m.prog.DescribeIncident(t.Context(), lead, programme.DescribeIncident{Incident: done.ID, Device: "lancet", Brand: evil, Area: evil, How: evil, Phase: "during-use", Role: "screener", Sharps: "not-known"}))
		must(m.prog.IncidentStep(t.Context(), lead, programme.IncidentStep{Incident: done.ID, Step: incident.FirstAid, Choice: "washed", Note: evil}))
		if i == len(formulas)-1 {
			must(m.prog.HoldStock(t.Context(), lead, programme.HoldStock{Thing: lot, Recall: true, Source: evil, Reason: evil}))
		}
	}
	v := m.as(leadName)
	event := strings.TrimPrefix(m.event, "/events/")
	cells, files := 0, 0
	table := func(from string, data []byte) {
		t.Helper()
		in := csv.NewReader(bytes.NewReader(data))
		in.FieldsPerRecord = -1
		rows, err := in.ReadAll()
		if err != nil || len(rows) < 1 {
			t.Errorf("%s: %d rows, %v", from, len(rows), err)
		}
		for _, c := range slices.Concat(rows...) {
			cells++
			if runs(c) {
				t.Errorf("%s: a spreadsheet would run %q", from, c)
			}
		}
	}
	fetch := func(path string) []byte {
		t.Helper()
		v.get(path)
		v.want(http.StatusOK)
		for name, values := range v.header {
			if strings.Contains(strings.ToLower(name), "evil") || strings.ContainsAny(strings.Join(values, ""), "\r\n") {
				t.Errorf("%s: a header was slipped in: %s %q", path, name, values)
			}
		}
		if d := v.header.Get("Content-Disposition"); d != "" {
			files++
			_, p, err := mime.ParseMediaType(d)
			if err != nil || len(p) != 1 || strings.Trim(p["filename"], "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-.") != "" || p["filename"] == "" {
				t.Errorf("%s: the file is called %q (%v)", path, d, err)
			}
		}
		if strings.HasPrefix(v.header.Get("Content-Type"), "text/html") && strings.Contains(v.body, "<img src=x") {
			t.Errorf("%s has what was typed as markup", path)
		}
		return []byte(v.body)
	}
	for _, path := range []string{
		m.event + "/report.csv", m.event + "/incidents.csv", "/sharps-log.csv?year=" + d.Event.Plan.Date.String()[:4], "/stock.csv", "/stock/of/" + lot + "/look-back.csv",
		"/look-back.csv?strip_lot=" + d.StripLots[0].ID, "/reports/season/report.csv?from=2026-01-01&to=2026-12-31", "/reports/college/report.csv?from=2026-01-01&to=2026-12-31", "/lists/people/example.csv",
	} {
		table(path, fetch(path))
	}
	z, err := zip.NewReader(bytes.NewReader(fetch("/export/csv.zip?event="+event)), int64(len(v.body)))
	must(z, err)
	for _, f := range z.File {
		in, err := f.Open()
		must(in, err)
		data, err := io.ReadAll(in)
		must(data, err)
		if strings.HasSuffix(f.Name, ".csv") {
			table("export "+f.Name, data)
		}
	}
	book, err := zip.NewReader(bytes.NewReader(fetch("/reports/season/report.xlsx?from=2026-01-01&to=2026-12-31")), int64(len(v.body)))
	must(book, err)
	sheets := 0
	for _, f := range book.File {
		if !strings.HasPrefix(f.Name, "xl/worksheets/") {
			continue
		}
		sheets++
		in, err := f.Open()
		must(in, err)
		data, err := io.ReadAll(in)
		must(data, err)
		if strings.Contains(string(data), "<f>") || strings.Contains(string(data), "<f ") {
			t.Errorf("%s holds a formula", f.Name)
		}
	}
	if sheets == 0 {
		t.Error("the workbook has no sheets")
	}
	for _, path := range []string{
		"/people", "/supplies", "/stock", m.event + "/roster", m.event + "/countdown", "/countdown", m.event + "/incidents", m.event + "/board", m.event + "/report", m.event + "/roster.pdf", "/sharps-log.pdf",
		m.event + "/countdown.ics", m.event + "/report.json", "/inspection.pdf?from=2026-01-01&to=2026-12-31",
	} {
		fetch(path)
	}
	if cells < 500 || files < 8 {
		t.Errorf("only %d cells and %d files were looked at", cells, files)
	}
}

// Each form that takes a file has an end: what is larger is refused before it is kept, and an address leads to no file of the disk.
func TestUploadsAndAddressesHaveAnEnd(t *testing.T) {
	o := setUp(t)
	uploads := 0
	for _, r := range Routes() {
		path := o.names(r.Path)
		if r.Upload {
			uploads++
			most := r.Most
			if most == 0 {
				most = maxUpload
			}
			if most > 6<<20 {
				t.Errorf("%s takes %d bytes", r.Path, most)
			}
			a := o.send("Lea Lead", path, "file", strings.Repeat("a", int(most)+1))
			if a.status != http.StatusUnprocessableEntity || !strings.Contains(a.text(), "too large") {
				t.Errorf("%s of more than it takes: %d %.200s", path, a.status, a.text())
			}
			continue
		}
		if r.Method == http.MethodPost && !strings.Contains(r.Path, "{") && r.Path != "/keep/lock" {
			a := o.post("Lea Lead", path, "note="+strings.Repeat("a", maxForm))
			if a.status < 400 || a.status >= 500 {
				t.Errorf("%s of a large form: %d", path, a.status)
			}
		}
	}
	if uploads < 7 {
		t.Errorf("%d forms take a file", uploads)
	}
	for _, r := range Routes() {
		if r.Method != http.MethodGet || !strings.Contains(r.Path, "{") || strings.HasSuffix(r.Path, "{$}") || strings.HasSuffix(r.Path, "/live") {
			continue
		}
		for _, id := range []string{"..%2f..%2fkeys.json", "%2e%2e", "..%5c..%5ckeys.json", "%00", "%2fetc%2fpasswd", "%0d%0aX-Evil:1"} {
			path := thingIn.ReplaceAllLiteralString(r.Path, id)
			a := o.get("Lea Lead", path)
			if a.status == http.StatusOK && !strings.HasPrefix(a.header.Get("Content-Type"), "text/html") || a.status >= 500 || a.header.Get("X-Evil") != "" || strings.Contains(a.body, "root:") {
				t.Errorf("GET %s answers %d %s", path, a.status, a.header)
			}
		}
	}
}

// metered is a body that knows how much of it was sent.
type metered struct {
	io.Reader
	n int
}

func (c *metered) Read(p []byte) (int, error) {
	n, err := c.Reader.Read(p)
	c.n += n
	return n, err
}

// Whoever may send a file and sends a photo that is too large reads why, and sees no connection that was cut: what is too much is
// taken and thrown away. Nobody else is waited for.
func TestATooLargeFileIsToldAbout(t *testing.T) {
	o := setUp(t)
	o.get("Lea Lead", "/")
	srv := httptest.NewServer(o.server)
	t.Cleanup(srv.Close)
	const large = 20 << 20
	send := func(cookies bool) (status int, text string, sent int) {
		t.Helper()
		head := "--x\r\nContent-Disposition: form-data; name=\"file\"; filename=\"photo.jpg\"\r\n\r\n"
		body := &metered{Reader: io.MultiReader(strings.NewReader(head), strings.NewReader(strings.Repeat("a", large)), strings.NewReader("\r\n--x--\r\n"))}
		r, err := http.NewRequestWithContext(t.Context(), http.MethodPost, srv.URL+o.names("/lists/{list}/import"), body)
		if err != nil {
			t.Fatal(err)
		}
		r.Header.Set("Content-Type", "multipart/form-data; boundary=x")
		if cookies {
			r.AddCookie(&http.Cookie{Name: sessionCookie, Value: o.tokens["Lea Lead"]})
			r.AddCookie(&http.Cookie{Name: deviceCookie, Value: officeDevice})
		}
		res, err := http.DefaultClient.Do(r)
		if err != nil {
			return 0, "", body.n
		}
		defer func() { _ = res.Body.Close() }()
		page, err := io.ReadAll(res.Body)
		if err != nil {
			return 0, "", body.n
		}
		return res.StatusCode, string(page), body.n
	}
	if status, text, sent := send(true); status != http.StatusUnprocessableEntity || !strings.Contains(text, "What was sent is too large.") || sent < large {
		t.Errorf("a lead: %d after %d bytes: %.200s", status, sent, text)
	}
	if status, _, sent := send(false); status != http.StatusUnauthorized && status != 0 || sent >= large {
		t.Errorf("a stranger: %d after %d bytes", status, sent)
	}
}
