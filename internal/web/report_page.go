package web

import (
	"bytes"
	"cmp"
	"encoding/json"
	"fmt"
	"sort"
	"strings"
	"time"

	"fairstick/internal/control"
	"fairstick/internal/event"
	"fairstick/internal/paper"
	"fairstick/internal/programme"
	"fairstick/internal/protocol"
	"fairstick/internal/web/ui"
)

// reportView is the event in numbers, for reading and print. It holds no name of a participant.
type reportView struct {
	Page     ui.Page
	Base     string
	At       time.Time
	Event    string
	Final    bool
	Brief    []string // the two-minute summary
	Numbers  []ui.Figure
	Chart    bandChart
	Sections []reportPart
}

// reportPart is one table of the report under its question; Empty stands there when it has no row.
type reportPart struct {
	Key, Heading string
	Said         []string
	Cols         []ui.Col
	Rows         [][]string
	Empty        string
	Bands        bool // the first cell is the key of a band
}

func reportShow(s *Server, c *Context) error {
	d, err := c.Day()
	if err != nil {
		return err
	}
	v := reportOf(d)
	v.Page = c.dayPage(d, "Report", "report")
	v.Page.Live = ""
	v.Page.Wide = true
	v.At = c.now(d)
	v.Page.Lead = d.Event.Plan.Name + ", " + d.Event.Plan.Venue + ", " + d.Event.Plan.Date.Long() + ". Protocol " + d.Protocol.Version + "."
	return c.Show(nil, ReportPage(v))
}

// reportOf prepares the report for page and paper.
func reportOf(d *programme.Day) reportView {
	r, zone := d.Report(), d.Event.Zone()
	v := reportView{Base: dayBase(d), Event: d.Event.ID, Final: d.Event.Phase == event.IsClosed, Brief: brief(r, zone), Chart: chartOf(r)}
	v.Numbers = []ui.Figure{
		{Label: "Tested", Number: fmt.Sprint(r.Outcomes.Tested), Of: fmt.Sprintf("of %d arrived", r.Outcomes.Arrived)},
		{Label: "Referred", Number: fmt.Sprint(r.Referrals.N), Of: fmt.Sprintf("of %d tested, %s", r.Referrals.Of, r.Referrals.Percent()), Note: "95 % interval " + r.Referrals.Interval()},
		{Label: "Care", Number: fmt.Sprint(len(r.Criticals)), Of: fmt.Sprintf("of %d tested; %d signed", r.Outcomes.Tested, signedCare(r))},
		{Label: "Controls in range", Number: fmt.Sprint(r.ControlSum[string(control.InRange)]), Of: fmt.Sprintf("of %d runs", r.ControlSum["runs"])},
		{Label: "Sums that come out", Number: fmt.Sprint(evenSums(r)), Of: fmt.Sprintf("of %d", len(r.Equalities))},
	}
	v.Sections = []reportPart{
		outcomesPart(r), bandsPart(r), referralsPart(r), arrivalsPart(r), waitsPart(r), carePart(r, zone), repeatsPart(r),
		controlsPart(r, zone), correctivePart(r, zone), overridesPart(r, zone), groupPart("by-meter", "By meter", r.ByMeter), groupPart("by-screener", "By screener", r.ByScreener),
		groupPart("by-lot", "By lot of strips", r.ByLot), stripsPart(r), sumsPart(d, r), staffPart(r),
	}
	return v
}

func signedCare(r programme.Report) int {
	n := 0
	for _, c := range r.Criticals {
		if c.Signed != nil {
			n++
		}
	}
	return n
}

func evenSums(r programme.Report) int {
	n := 0
	for _, e := range r.Equalities {
		if e.Difference == 0 {
			n++
		}
	}
	return n
}

// brief is what somebody with two minutes reads.
func brief(r programme.Report, zone *time.Location) []string {
	o := r.Outcomes
	out := []string{
		fmt.Sprintf("%d of %d people who arrived were tested; %d of %d expected came.", o.Tested, o.Arrived, o.Arrived, r.Expected),
		fmt.Sprintf("%d of %d tested (%s; 95 %% interval %s) were advised to see someone. Of these %d may be called about it, %d gave no permission, and %d are not written down as referred.",
			r.Referrals.N, r.Referrals.Of, r.Referrals.Percent(), r.Referrals.Interval(), r.Referrals.Call, r.Referrals.NoCall, r.Referrals.N-r.Referrals.Call-r.Referrals.NoCall),
	}
	critical := 0
	for _, c := range r.Criticals {
		if c.Cause != string(protocol.Low) {
			critical++
		}
	}
	out = append(out, fmt.Sprintf("%s needed care at once, %d of them critical; %d of %d were signed off by a supervisor.",
		plural(len(r.Criticals), "person", "people"), critical, signedCare(r), len(r.Criticals)))
	out = append(out, fmt.Sprintf("%d of %d control runs were in range; %s quarantined.", r.ControlSum[string(control.InRange)], r.ControlSum["runs"], plural(len(r.Quarantined), "meter was", "meters were")))
	settled, alarm := 0, ""
	for _, e := range r.Equalities {
		if e.Settled() {
			settled++
		}
		alarm = cmp.Or(alarm, e.Alarm)
	}
	switch even := evenSums(r); {
	case len(r.Equalities) == even:
		out = append(out, fmt.Sprintf("All %d sums come out.", even))
	default:
		out = append(out, fmt.Sprintf("%d of %d sums come out; %d of the other %d are explained under a signature.", even, len(r.Equalities), settled-even, len(r.Equalities)-even))
	}
	if alarm != "" {
		out = append(out, "Alarm: "+alarm)
	}
	if len(r.Overrides) > 0 {
		out = append(out, plural(len(r.Overrides), "gate was", "gates were")+" passed with a signed reason.")
	}
	if !r.OpenedAt.IsZero() {
		said := "Doors opened at " + clockOr(r.OpenedAt, zone)
		if !r.DoorsClosed.IsZero() {
			said += " and closed at " + clockOr(r.DoorsClosed, zone)
		}
		if !r.LastLeft.IsZero() {
			said += "; the last person left at " + clockOr(r.LastLeft, zone)
		}
		out = append(out, said+".")
	}
	return out
}

func outcomesPart(r programme.Report) reportPart {
	o := r.Outcomes
	p := reportPart{
		Key: "outcomes", Heading: "What became of everybody?", Cols: []ui.Col{{Label: "Outcome"}, {Label: "People", Num: true}, {Label: "Of", Num: true}},
		Empty: "Nobody has arrived.",
	}
	if o.Arrived == 0 {
		return p
	}
	add := func(label string, n, of int) {
		p.Rows = append(p.Rows, []string{label, fmt.Sprint(n), fmt.Sprintf("%d", of)})
	}
	add("Arrived", o.Arrived, r.Expected)
	p.Rows[0][2] += " expected"
	add("Tested", o.Tested, o.Arrived)
	add("Left before the test", o.Left, o.Arrived)
	add("Not eligible", o.NotEligible, o.Arrived)
	add("Declined", o.Declined, o.Arrived)
	for _, k := range sortedKeys(o.ByReason) {
		add("of these: "+cmp.Or(k, "no reason"), o.ByReason[k], o.NotEligible+o.Declined)
	}
	if o.Unfinished > 0 {
		add("Not finished yet", o.Unfinished, o.Arrived)
	}
	add("With a slip", o.Slips, o.Tested)
	add("Explained", o.Explained, o.Tested)
	add("Left after the test", o.LeftAfter, o.Tested)
	for _, k := range sortedKeys(r.Languages) {
		add("In "+languageName(k), r.Languages[k], o.Arrived)
	}
	return p
}

func sortedKeys(m map[string]int) []string {
	keys := make([]string, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	sort.Strings(keys)
	return keys
}

func bandsPart(r programme.Report) reportPart {
	p := reportPart{
		Key: "bands", Heading: "Bands by basis", Bands: true, Empty: "Nobody has been tested.",
		Said: []string{"Count of the tested, share, and its 95 % interval (Wilson). A screening reading neither diagnoses nor rules out."},
		Cols: []ui.Col{{Label: "Band"}, {Label: "All"}, {Label: "Fasting"}, {Label: "Not fasting"}},
	}
	if r.Outcomes.Tested == 0 {
		return p
	}
	cell := func(basis, band string) string {
		for _, b := range r.ByBand {
			if b.Basis == basis && b.Band == band {
				if b.Of == 0 {
					return "0 of 0"
				}
				return fmt.Sprintf("%d of %d: %s (%s)", b.N, b.Of, b.Percent(), b.Interval())
			}
		}
		return "-"
	}
	for _, band := range ui.Bands() {
		p.Rows = append(p.Rows, []string{band, cell("all", band), cell(string(protocol.Fasting), band), cell(string(protocol.Random), band)})
	}
	return p
}

func referralsPart(r programme.Report) reportPart {
	p := reportPart{Key: "referrals", Heading: "Referrals", Empty: "No finding asked for a referral.", Cols: []ui.Col{{Label: "Referral"}, {Label: "People", Num: true}, {Label: "Of", Num: true}}}
	if r.Referrals.N == 0 {
		return p
	}
	for _, b := range ui.Bands() {
		if n := r.Referrals.ByBand[b]; n > 0 {
			p.Rows = append(p.Rows, []string{"Band " + strings.ToLower(ui.BandWord(b)), fmt.Sprint(n), fmt.Sprint(r.Referrals.N)})
		}
	}
	p.Rows = append(p.Rows, []string{"May be called", fmt.Sprint(r.Referrals.Call), fmt.Sprint(r.Referrals.N)},
		[]string{"Gave no permission", fmt.Sprint(r.Referrals.NoCall), fmt.Sprint(r.Referrals.N)})
	return p
}

func arrivalsPart(r programme.Report) reportPart {
	p := reportPart{Key: "arrivals", Heading: "Arrivals by hour", Empty: "Nobody has arrived.", Cols: []ui.Col{{Label: "Hour from"}, {Label: "Arrived", Num: true}, {Label: "Of", Num: true}}}
	for _, h := range r.Arrivals {
		p.Rows = append(p.Rows, []string{h.Hour, fmt.Sprint(h.N), fmt.Sprint(r.Outcomes.Arrived)})
	}
	return p
}

func waitsPart(r programme.Report) reportPart {
	p := reportPart{
		Key: "waits", Heading: "Waits", Said: []string{"In minutes, of the visits that went their whole way."}, Empty: "No visit has gone its whole way yet.",
		Cols: []ui.Col{{Label: "Step"}, {Label: "Visits", Num: true}, {Label: "Median", Num: true}, {Label: "9 of 10 within", Num: true}, {Label: "Longest", Num: true}},
	}
	for _, w := range r.Waits {
		if w.N > 0 {
			p.Rows = append(p.Rows, []string{w.Step, fmt.Sprint(w.N), minutes(w.Median), minutes(w.P90), minutes(w.Most)})
		}
	}
	return p
}

func minutes(f float64) string { return fmt.Sprintf("%.1f min", f) }

func carePart(r programme.Report, zone *time.Location) reportPart {
	p := reportPart{
		Key: "care", Heading: "Critical and low readings", Empty: "Nobody needed care at once.",
		Cols: []ui.Col{{Label: "Ticket"}, {Label: "Cause"}, {Label: "Opened"}, {Label: "Supervisor there"}, {Label: "Signed"}, {Label: "Signed by"}, {Label: "What was done"}},
	}
	for _, c := range r.Criticals {
		there, signed := "-", "not signed"
		if c.There != nil {
			there = clockOr(*c.There, zone)
		}
		if c.Signed != nil {
			signed = clockOr(*c.Signed, zone)
		}
		cause := ui.BandWord(c.Cause)
		if c.Cause == "signs" {
			cause = "Unwell"
		}
		done := strings.ReplaceAll(c.Action, "-", " ")
		if c.Note != "" {
			done = strings.TrimPrefix(done+": "+c.Note, ": ")
		}
		p.Rows = append(p.Rows, []string{ticketText(c.Ticket), cause, clockOr(c.Opened, zone), there, signed, cmp.Or(c.By, "-"), cmp.Or(done, "-")})
	}
	return p
}

func repeatsPart(r programme.Report) reportPart {
	p := reportPart{
		Key: "repeats", Heading: "Repeats and errors", Empty: "Nobody was read more than once.",
		Said: []string{fmt.Sprintf("%d first values, %d repeats, %d rechecks after sugar, %d meter errors.", r.Readings.First, r.Readings.Repeats, r.Readings.Rechecks, r.Readings.Errors)},
		Cols: []ui.Col{{Label: "Ticket"}, {Label: "Readings in order"}, {Label: "Counts"}, {Label: "Why"}},
	}
	for _, x := range r.Repeats {
		p.Rows = append(p.Rows, []string{ticketText(x.Ticket), strings.Join(x.Values, ", "), cmp.Or(x.Counts, "-"), cmp.Or(x.Why, "-")})
	}
	return p
}

func controlsPart(r programme.Report, zone *time.Location) reportPart {
	p := reportPart{
		Key: "controls", Heading: "Control record", Empty: "No control was run.",
		Said: []string{fmt.Sprintf("%d runs: %d in range, %d out of range, %d without a value.", r.ControlSum["runs"], r.ControlSum[string(control.InRange)], r.ControlSum[string(control.OutOfRange)], r.ControlSum[string(control.NoValue)])},
		Cols: []ui.Col{{Label: "Time"}, {Label: "Meter"}, {Label: "Strips"}, {Label: "Level"}, {Label: "Control"}, {Label: "Value", Num: true}, {Label: "Printed range"}, {Label: "Verdict"}, {Label: "By"}},
	}
	if len(r.Quarantined) > 0 {
		p.Said = append(p.Said, "Quarantined: "+strings.Join(r.Quarantined, ", ")+".")
	}
	for _, x := range r.Controls {
		p.Rows = append(p.Rows, []string{
			clockOr(x.At, zone), x.Meter, x.Lot + ", vial " + x.Vial, x.Level, x.Control, x.Shown + " " + x.Unit, x.Low + " to " + x.High + " " + x.Unit,
			cmp.Or(verdictWords[x.Verdict], x.Verdict), x.Operator,
		})
	}
	return p
}

func correctivePart(r programme.Report, zone *time.Location) reportPart {
	p := reportPart{
		Key: "corrective", Heading: "Corrective actions", Empty: "No control was out of range.",
		Cols: []ui.Col{{Label: "Time"}, {Label: "Meter"}, {Label: "Level"}, {Label: "Value", Num: true}, {Label: "Cause"}, {Label: "Action"}},
	}
	for _, x := range r.Controls {
		if x.Verdict != string(control.InRange) {
			p.Rows = append(p.Rows, []string{clockOr(x.At, zone), x.Meter, x.Level, x.Shown + " " + x.Unit, cmp.Or(x.Cause, "not written"), cmp.Or(x.Action, "-")})
		}
	}
	return p
}

func overridesPart(r programme.Report, zone *time.Location) reportPart {
	p := reportPart{
		Key: "overrides", Heading: "Gates passed with a signed reason", Empty: "None.",
		Cols: []ui.Col{{Label: "Time"}, {Label: "Gate"}, {Label: "About"}, {Label: "Reason"}, {Label: "Signed by"}},
	}
	for _, o := range r.Overrides {
		gate := o.Gate
		if gate == "ratio" {
			gate = "Supervisor ratio"
		}
		p.Rows = append(p.Rows, []string{clockOr(o.At, zone), gate, o.About, o.Reason, o.By})
	}
	return p
}

func groupPart(key, heading string, rows []programme.GroupRow) reportPart {
	p := reportPart{
		Key: key, Heading: heading, Empty: "No reading was taken.",
		Cols: []ui.Col{{Label: "Name"}, {Label: "Readings", Num: true}, {Label: "Meter errors", Num: true}, {Label: "People", Num: true}, {Label: "Bands of the readings that count"}},
	}
	for _, g := range rows {
		var bands []string
		for _, b := range ui.Bands() {
			if n := g.Bands[b]; n > 0 {
				bands = append(bands, fmt.Sprintf("%d %s", n, strings.ToLower(ui.BandWord(b))))
			}
		}
		p.Rows = append(p.Rows, []string{g.Name, fmt.Sprint(g.Readings), fmt.Sprint(g.Errors), fmt.Sprint(g.People), cmp.Or(strings.Join(bands, ", "), "-")})
	}
	return p
}

func stripsPart(r programme.Report) reportPart {
	p := reportPart{
		Key: "strips", Heading: "Strips and lancets", Empty: "No strips were brought.",
		Said: []string{fmt.Sprintf("Lancets used: %d for %s and %s.", r.Lancets["used"], plural(r.Lancets["sticks"], "stick", "sticks"), plural(r.Lancets["misfires"], "misfire", "misfires"))},
		Cols: []ui.Col{{Label: "Lot"}, {Label: "Brought", Num: true}, {Label: "Readings", Num: true}, {Label: "Meter errors", Num: true}, {Label: "Controls", Num: true}, {Label: "Left, computed", Num: true}},
	}
	for _, s := range r.Strips {
		p.Rows = append(p.Rows, []string{s.Lot, fmt.Sprint(s.Brought), fmt.Sprint(s.Readings), fmt.Sprint(s.Errors), fmt.Sprint(s.Controls), fmt.Sprint(s.Left)})
	}
	return p
}

func sumsPart(d *programme.Day, r programme.Report) reportPart {
	p := reportPart{Key: "sums", Heading: "What must come out", Cols: []ui.Col{{Label: "Sum"}, {Label: "In words"}, {Label: "Difference", Num: true}, {Label: "Explanation"}}}
	for _, e := range r.Equalities {
		said := "comes out"
		if e.Difference != 0 {
			said = "not explained"
			if e.Settled() {
				said = e.Explained.Note + " (signed by " + d.NameOf(e.Explained.By) + ")"
			}
		}
		if e.Alarm != "" {
			said = "ALARM. " + e.Alarm + " " + said
		}
		p.Rows = append(p.Rows, []string{e.Name, e.Sentence(), signedNumber(e.Difference), said})
	}
	return p
}

func staffPart(r programme.Report) reportPart {
	p := reportPart{
		Key: "staff", Heading: "Roster", Empty: "Nobody is on the roster.",
		Cols: []ui.Col{{Label: "Name"}, {Label: "Post"}, {Label: "Station"}, {Label: "Here"}, {Label: "Verified until"}},
	}
	for _, s := range r.Staff {
		here := "did not come"
		if s.Here {
			here = "here"
		}
		p.Rows = append(p.Rows, []string{s.Name, s.Role, cmp.Or(s.Station, "-"), here, cmp.Or(s.Verified, "-")})
	}
	return p
}

// bandChart is one bar picture: the bands of everybody tested, parted by basis, in ink alone.
type bandChart struct {
	Question, Answer string
	Bars             []bandBar
	Most             int
	Height           int
}

type bandBar struct {
	Word, Label                    string
	Y, Text, WordX, LabelX         int
	FastX, FastW, RandomX, RandomW int
}

// The picture is drawn in a box 400 wide, so that its letters can be read on a phone: words to the left, bars from barLeft,
// counts after the bar.
const (
	barLeft  = 102
	barRoom  = 135
	barStep  = 36
	barThick = 22
)

func chartOf(r programme.Report) bandChart {
	c := bandChart{Question: "How many readings lay in each band?", Answer: "Nobody has been tested yet."}
	all, fasting, random := r.Bands["all"], r.Bands[string(protocol.Fasting)], r.Bands[string(protocol.Random)]
	for _, b := range ui.Bands() {
		c.Most = max(c.Most, all[b])
	}
	if c.Most == 0 {
		return c
	}
	c.Answer = fmt.Sprintf("%d of %d tested were in the usual band; %d of %d were advised to see someone.", all[string(protocol.Usual)], r.Outcomes.Tested, r.Referrals.N, r.Outcomes.Tested)
	found := 0
	for _, b := range ui.Bands() {
		found += all[b]
	}
	if open := r.Outcomes.Tested - found; open > 0 {
		c.Answer += fmt.Sprintf(" %d of %d have no finding yet.", open, r.Outcomes.Tested)
	}
	for i, b := range ui.Bands() {
		y := 8 + i*barStep
		bar := bandBar{Word: ui.BandWord(b), Y: y, Text: y + barThick - 6, WordX: barLeft - 10, FastX: barLeft}
		bar.FastW = fasting[b] * barRoom / c.Most
		bar.RandomX = barLeft + bar.FastW
		bar.RandomW = random[b] * barRoom / c.Most
		bar.LabelX = bar.RandomX + bar.RandomW + 8
		bar.Label = fmt.Sprint(all[b])
		if all[b] > 0 {
			bar.Label += fmt.Sprintf(" (%d fasting, %d not)", fasting[b], random[b])
		}
		c.Bars = append(c.Bars, bar)
	}
	c.Height = 8 + len(c.Bars)*barStep
	return c
}

func reportJSON(s *Server, c *Context) error {
	d, err := c.Day()
	if err != nil {
		return err
	}
	var buf bytes.Buffer
	enc := json.NewEncoder(&buf)
	enc.SetIndent("", "  ")
	if err := enc.Encode(d.Report()); err != nil {
		return err
	}
	return c.sendFile("application/json; charset=utf-8", "", buf.Bytes())
}

func reportCSV(s *Server, c *Context) error {
	d, err := c.Day()
	if err != nil {
		return err
	}
	var buf bytes.Buffer
	if err := writeReportCSV(&buf, d.Report()); err != nil {
		return err
	}
	return c.sendFile("text/csv; charset=utf-8", "event-report-"+d.Event.Plan.Date.String()+".csv", buf.Bytes())
}

func reportPDF(s *Server, c *Context) error {
	d, err := c.Day()
	if err != nil {
		return err
	}
	doc := reportDocument(d)
	doc.Printed, doc.Invented = c.now(d), s.opt.Demo != nil
	return c.sendPDF("event-report-"+d.Event.Plan.Date.String(), doc)
}

// reportDocument is the report on paper: the same summary and tables as the page.
func reportDocument(d *programme.Day) paper.Document {
	v := reportOf(d)
	doc := paper.Document{
		Title: "Event report", Subtitle: d.Event.Plan.Name + ", " + d.Event.Plan.Venue + ", " + d.Event.Plan.Date.Long(), Programme: d.Charter.Details.Name,
		RecordID: d.Event.ID, Lang: "en",
	}
	summary := paper.Section{Heading: "In two minutes", Paragraphs: v.Brief, Keep: true}
	if !v.Final {
		summary.Paragraphs = append([]string{"The day is not closed: these numbers may still change."}, v.Brief...)
	}
	doc.Sections = append(doc.Sections, summary)
	for _, p := range v.Sections {
		sec := paper.Section{Heading: p.Heading, Paragraphs: p.Said}
		if len(p.Rows) == 0 {
			sec.Paragraphs = append(append([]string(nil), p.Said...), p.Empty)
		} else {
			sec.Table = paperTable(p)
			if p.Key == "controls" {
				sec.Table = controlTable(controlRows(d))
			}
		}
		doc.Sections = append(doc.Sections, sec)
	}
	if d.Event.ClosingNote != "" {
		doc.Sections = append(doc.Sections, paper.Section{Heading: "Note on the day", Paragraphs: []string{d.Event.ClosingNote}})
	}
	return doc
}

// paperTable sets a part as a table for paper. Columns share the width by their longest text, within bounds that leave the
// narrowest of them room on either paper.
func paperTable(p reportPart) *paper.Table {
	t := &paper.Table{}
	const least, sum, gutter = 8, 120, 3
	widest := sum / max(1, len(p.Cols)-1)
	for i, c := range p.Cols {
		width := 0
		for _, r := range p.Rows {
			width = max(width, len([]rune(r[i])))
		}
		for word := range strings.SplitSeq(c.Label, " ") {
			width = max(width, len([]rune(word)))
		}
		t.Columns = append(t.Columns, paper.Column{Title: c.Label, Width: float64(max(least, min(width+gutter, widest))), Right: c.Num})
	}
	for _, r := range p.Rows {
		row := append([]string(nil), r...)
		if p.Bands {
			row[0] = ui.BandWord(r[0])
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

// sendPDF sends a document as PDF, on letter paper unless the address asks for A4.
func (c *Context) sendPDF(name string, doc paper.Document) error {
	size := paper.Letter
	if c.R.URL.Query().Get("size") == "a4" {
		size = paper.A4
	}
	var buf bytes.Buffer
	if err := paper.WriteDocument(&buf, doc, size); err != nil {
		return err
	}
	c.W.Header().Set("Content-Disposition", `inline; filename="`+name+`.pdf"`)
	return c.sendFile("application/pdf", "", buf.Bytes())
}

// sendFile sends a whole file; with a name it is saved rather than shown.
func (c *Context) sendFile(kind, name string, data []byte) error {
	h := c.W.Header()
	h.Set("Content-Type", kind)
	if name != "" {
		h.Set("Content-Disposition", `attachment; filename="`+name+`"`)
	}
	if _, err := c.W.Write(data); err != nil {
		c.s.log.Debug("file not sent", "err", err)
	}
	return nil
}
