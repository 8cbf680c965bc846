package web

import (
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"fairstick/internal/charter"
	"fairstick/internal/fault"
	"fairstick/internal/glucose"
	"fairstick/internal/people"
	"fairstick/internal/programme"
	"fairstick/internal/protocol"
	"fairstick/internal/web/ui"
)

// protocolView is the page of the protocol: one version to read, what can be done with it, and the versions signed before.
type protocolView struct {
	Page    ui.Page
	Stray   *fault.Fault // of a form that is no longer on the page
	State   string       // what this version is: in force, a draft, replaced
	IsDraft bool
	Doc     protocolDoc
	Changes []protocolChange
	Against string // the version that the changes are against
	Sign    *officeForm
	Upload  *officeForm
	Edit    bool
	Others  []ui.Link // other versions to read
	Signed  []signedVersion
	Version string
}

// protocolChange is one place where two versions differ.
type protocolChange struct{ Place, Was, Is string }

type signedVersion struct {
	Version, First, Second, When, Href string
	InForce                            bool
}

// pairText is a text in English with its Spanish, which may be missing.
type pairText struct{ Name, English, Spanish string }

type bandRow struct {
	Band  string
	Cells []string // one per basis and unit
}

type edgeRow struct{ Edge, Basis, Values, Source string }

type messageDoc struct {
	Band  string // mark; empty for LO, HI and unwell
	Title string
	Rows  []pairText
	Facts []pairText // name and value
}

// protocolDoc is a protocol as a person reads it.
type protocolDoc struct {
	Facts     []pairText
	Columns   []string
	Bands     []bandRow
	Edges     []edgeRow
	Rules     []pairText
	Training  []trainingRow
	Questions []questionDoc
	Consent   []pairText
	ConsentV  string
	Messages  []messageDoc
	Checks    []pairText
	Signs     []pairText
	Sources   []string
}

type questionDoc struct {
	Key, Effect, Source string
	Rows                []pairText
}

func textPair(name string, t protocol.Text) pairText { return pairText{name, t["en"], t["es"]} }

var bandTitles = map[protocol.Band]string{
	protocol.CriticalLow: "Critical low", protocol.Low: "Low", protocol.Usual: "Usual", protocol.Raised: "Raised", protocol.High: "High", protocol.CriticalHigh: "Critical high",
}

var basisTitles = map[protocol.Basis]string{protocol.Fasting: "Fasting", protocol.Random: "Not fasting"}

// below is the value one step under an edge, as a meter shows it.
func below(v glucose.Value) glucose.Value {
	v.Steps--
	return v
}

// bandText says which values a band holds.
func bandText(l protocol.Limits, b protocol.Band) string {
	upTo := func(from, edge glucose.Value) string { return from.Number() + " to " + below(edge).String() }
	switch b {
	case protocol.CriticalLow:
		return "below " + l.CriticalBelow.String()
	case protocol.Low:
		return upTo(l.CriticalBelow, l.LowBelow)
	case protocol.Usual:
		return upTo(l.LowBelow, l.RaisedFrom)
	case protocol.Raised:
		return upTo(l.RaisedFrom, l.HighFrom)
	case protocol.High:
		return upTo(l.HighFrom, l.CriticalFrom)
	case protocol.CriticalHigh:
		return "from " + l.CriticalFrom.String()
	}
	return ""
}

func docOf(p protocol.Protocol) protocolDoc {
	d := protocolDoc{ConsentV: p.Consent.Version, Consent: []pairText{textPair("Consent", p.Consent.Text)}, Sources: p.Sources}
	d.Facts = []pairText{
		{Name: "Version", English: p.Version},
		{Name: "Title", English: p.Title["en"], Spanish: p.Title["es"]},
		{Name: "Age", English: fmt.Sprintf("from %d years", p.MinAge)},
		{Name: "Fasting", English: fmt.Sprintf("at least %s without food or drink that has calories", plural(p.FastingHours, "hour", "hours"))},
	}
	for _, b := range protocol.Bands {
		row := bandRow{Band: string(b)}
		for _, basis := range protocol.Bases {
			for _, u := range glucose.Units {
				row.Cells = append(row.Cells, bandText(p.Limits[basis][u], b))
			}
		}
		d.Bands = append(d.Bands, row)
	}
	for _, basis := range protocol.Bases {
		for _, u := range glucose.Units {
			d.Columns = append(d.Columns, basisTitles[basis]+", "+string(u))
		}
	}
	d.Edges = edgesOf(p)
	d.Rules = rulesOf(p)
	d.Training = trainingRows(p)
	for _, q := range p.Questions {
		d.Questions = append(d.Questions, questionOf(p, q))
	}
	for _, b := range protocol.Bands {
		m := messageOf(bandTitles[b], p.Messages[b])
		m.Band = string(b)
		if days := p.FollowUp[b]; len(days) > 0 {
			m.Facts = append(m.Facts, pairText{Name: "Calls", English: callDays(days)})
		}
		d.Messages = append(d.Messages, m)
	}
	for _, k := range []glucose.Kind{glucose.Low, glucose.High} {
		o := p.OffScale[k]
		m := messageOf("The meter shows "+string(k), o.Message)
		m.Facts = append(m.Facts, pairText{Name: "Counts as", English: bandTitles[o.Band]}, pairText{Name: "Source", English: o.Source})
		d.Messages = append(d.Messages, m)
	}
	d.Messages = append(d.Messages, messageOf("Any value with a crisis sign", p.Unwell))
	for _, k := range p.OpeningChecks {
		d.Checks = append(d.Checks, textPair(k.Key, k.Text))
	}
	for _, k := range p.CrisisSigns {
		d.Signs = append(d.Signs, textPair(k.Key, k.Text))
	}
	return d
}

// edge is one limit of a basis with how it is named on pages and in forms.
type edge struct {
	Key, Title string
	Value      func(*protocol.Limits) *glucose.Value
	Source     func(*protocol.EdgeSources) *string
}

var limitEdges = []edge{
	{"critical_below", "Critical below", func(l *protocol.Limits) *glucose.Value { return &l.CriticalBelow }, func(s *protocol.EdgeSources) *string { return &s.CriticalBelow }},
	{"low_below", "Low below", func(l *protocol.Limits) *glucose.Value { return &l.LowBelow }, func(s *protocol.EdgeSources) *string { return &s.LowBelow }},
	{"raised_from", "Raised from", func(l *protocol.Limits) *glucose.Value { return &l.RaisedFrom }, func(s *protocol.EdgeSources) *string { return &s.RaisedFrom }},
	{"high_from", "High from", func(l *protocol.Limits) *glucose.Value { return &l.HighFrom }, func(s *protocol.EdgeSources) *string { return &s.HighFrom }},
	{"critical_from", "Critical from", func(l *protocol.Limits) *glucose.Value { return &l.CriticalFrom }, func(s *protocol.EdgeSources) *string { return &s.CriticalFrom }},
}

func edgesOf(p protocol.Protocol) []edgeRow {
	var out []edgeRow
	for _, basis := range protocol.Bases {
		for _, e := range limitEdges {
			row := edgeRow{Edge: e.Title, Basis: basisTitles[basis]}
			for _, u := range glucose.Units {
				l := p.Limits[basis][u]
				if row.Values != "" {
					row.Values += " or "
				}
				row.Values += e.Value(&l).String()
				if s := *e.Source(&l.Source); !strings.Contains(row.Source, s) {
					row.Source = strings.TrimSpace(row.Source + " " + s)
				}
			}
			out = append(out, row)
		}
	}
	return out
}

var readBackWords = map[string]string{protocol.TypedTwice: "typed twice", protocol.SecondPerson: "confirmed by a second person"}

var eachVialWords = map[string]string{protocol.AsInsert: "as the insert of the strips says", protocol.Always: "always", protocol.Never: "never"}

func rulesOf(p protocol.Protocol) []pairText {
	both := func(m map[glucose.Unit]glucose.Value) string {
		return m[glucose.MgPerDL].String() + " (" + m[glucose.MmolPerL].String() + ")"
	}
	rows := []pairText{
		{Name: "Repeat after washing", English: fmt.Sprintf("at or above %s, or HI; below %s, or LO. %s", both(p.Repeat.HighFrom), both(p.Repeat.LowBelow), p.Repeat.Source)},
		{Name: "Sticks", English: fmt.Sprintf("at most %d for each person; more need a supervisor", p.Repeat.MaxSticks)},
		{Name: "Believed readings", English: fmt.Sprintf("%s to %s, or %s to %s", p.MeterRange[glucose.MgPerDL].Low.Number(), p.MeterRange[glucose.MgPerDL].High, p.MeterRange[glucose.MmolPerL].Low.Number(), p.MeterRange[glucose.MmolPerL].High)},
		{Name: "Read back", English: readBackWords[p.ReadBack]},
		{Name: "Controls", English: fmt.Sprintf("levels %s on every meter; %s out of range in a row without a cause take the meter out; solution %s after opening unless the insert says less; for each new vial %s. %s",
			strings.Join(p.Controls.Levels, " and "), plural(p.Controls.RunsWithoutCause, "run", "runs"), plural(p.Controls.InUseDays, "day", "days"), eachVialWords[p.Controls.EachVial], p.Controls.Source)},
		{Name: "Supervision", English: fmt.Sprintf("%d hands-on people for one supervisor wanted, %d at most. %s", p.Ratio.Wanted, p.Ratio.Most, p.Ratio.Source)},
		callingFact(p.CallingRules()),
		{Name: "Meters settle", English: plural(p.WarmUp, "minute", "minutes") + " in the room before they are used"},
		{Name: "Low reading", English: fmt.Sprintf("%d g of sugar, again after %d minutes, at most %s. %s", p.LowCare.SugarGrams, p.LowCare.RecheckMinutes, plural(p.LowCare.MostRounds, "time", "times"), p.LowCare.Source)},
		{Name: "Verified roles", English: fmt.Sprintf("%s; a verification lasts %s", strings.Join(p.Verification.Roles, ", "), plural(p.Verification.ValidMonths, "month", "months"))},
		{Name: "Training", English: trainingText(p)},
	}
	for _, key := range []string{"ratio"} {
		if role := p.Overrides[key]; role != "" {
			rows = append(rows, pairText{Name: "May be passed", English: "the wanted supervision, by a " + role + " with a signed reason"})
		}
	}
	return append(rows, pairText{Name: "Records", English: "kept at least " + plural(p.Retention, "year", "years") + "; names and numbers have a time of their own, on the page How long records are kept"})
}

var effectWords = map[string]string{
	protocol.Exclude: "Yes: not screened today", protocol.Caution: "Yes: screened with care", protocol.IsEmergency: "Any sign: emergency care", protocol.BarsChemistry: "Yes: no strips of these chemistries",
}

func questionOf(p protocol.Protocol, q protocol.Question) questionDoc {
	d := questionDoc{Key: q.Key, Effect: effectWords[q.Effect], Source: q.Source}
	if q.Kind == protocol.Number {
		d.Effect = fmt.Sprintf("Under %d: not screened today", p.MinAge)
	}
	if len(q.Chemistries) > 0 {
		d.Effect += ": " + strings.Join(q.Chemistries, ", ")
	}
	d.Rows = []pairText{textPair("Question", q.Text)}
	for _, t := range []pairText{textPair("Help", q.Help), textPair("Said", q.Sentence), textPair("Where instead", q.Route)} {
		if t.English != "" {
			d.Rows = append(d.Rows, t)
		}
	}
	return d
}

var urgencyWords = map[protocol.Urgency]string{
	protocol.None: "nobody needs to be seen about it", protocol.Weeks: "a visit within weeks", protocol.Days: "a visit within days",
	protocol.Today: "handed over to a clinician today", protocol.Emergency: "act now, at the table, with a supervisor",
}

func messageOf(title string, m protocol.Message) messageDoc {
	d := messageDoc{Title: title}
	d.Rows = append(d.Rows, textPair("Word", m.Word), textPair("Fasting", m.Sentence[protocol.Fasting]), textPair("Not fasting", m.Sentence[protocol.Random]))
	for _, a := range m.Advice {
		d.Rows = append(d.Rows, textPair("Advice", a))
	}
	d.Rows = append(d.Rows, textPair("When", m.When), textPair("Where", m.Where))
	urgency := urgencyWords[m.Urgency]
	if m.WithinDays > 0 {
		urgency += ", " + plural(m.WithinDays, "day", "days") + " at most"
	}
	d.Facts = append(d.Facts, pairText{Name: "Urgency", English: urgency})
	return d
}

func callDays(days []int) string {
	words := make([]string, len(days))
	for i, n := range days {
		words[i] = "day " + strconv.Itoa(n)
		if n == 0 {
			words[i] = "the same day"
		}
	}
	return strings.Join(words, ", ")
}

func protocolShow(s *Server, c *Context) error { return c.protocolAgain("", nil) }

// chosen gives the version that a request asks for: a signed one by its name, else the draft, else the one in force.
func (c *Context) chosen(ch *charter.State) (p protocol.Protocol, state string, draft bool, err error) {
	want := c.R.URL.Query().Get("version")
	force, signed := ch.InForce()
	if ch.Draft != nil && (want == "" || want == ch.Draft.Version) {
		return *ch.Draft, "Draft, not signed", true, nil
	}
	if want == "" {
		if !signed {
			return protocol.Default(), "The protocol that Fairstick ships with, not signed", false, nil
		}
		want = force.Protocol.Version
	}
	a, ok := ch.Version(want)
	if !ok {
		return p, "", false, fault.New(fault.Missing, "no-such-version", fmt.Sprintf("There is no version %q of the protocol.", want), "", "Choose one from the list of versions.")
	}
	state = "Replaced"
	if a.Protocol.Version == force.Protocol.Version {
		state = "In force"
	}
	return a.Protocol, state, false, nil
}

func (c *Context) protocolAgain(refused string, f *fault.Fault) error {
	ch, err := c.s.prog.Charter(c.R.Context())
	if err != nil {
		return err
	}
	p, state, draft, err := c.chosen(ch)
	if err != nil {
		return err
	}
	v := protocolView{
		Page:  c.officePage("Protocol", "The rules by which people are tested and advised. It binds when two people have signed it.", "setup", toSetup()),
		State: state, IsDraft: draft, Doc: docOf(p), Version: p.Version, Edit: draft || state != "Replaced",
	}
	v.Page.Wide = true
	force, signed := ch.InForce()
	if draft && signed {
		v.Changes, v.Against = changesBetween(force.Protocol, p), force.Protocol.Version
	}
	if ch.Draft != nil && !draft {
		v.Others = append(v.Others, ui.Link{Href: "/setup/protocol", Label: "Read the draft " + ch.Draft.Version})
	}
	if signed && p.Version != force.Protocol.Version {
		v.Others = append(v.Others, ui.Link{Href: versionPath(force.Protocol.Version), Label: "Read version " + force.Protocol.Version + ", in force"})
	}
	for i := len(ch.Adopted) - 1; i >= 0; i-- {
		a := ch.Adopted[i]
		v.Signed = append(v.Signed, signedVersion{
			Version: a.Protocol.Version, First: signedBy(a.First), Second: signedBy(a.Second),
			When: a.At.In(c.s.prog.Now().Location()).Format("2 Jan 2006, 15:04"), Href: versionPath(a.Protocol.Version), InForce: i == len(ch.Adopted)-1,
		})
	}
	if draft {
		if v.Sign, err = c.signForm(p.Version, refused, f); err != nil {
			return err
		}
	}
	up := c.dayForm("upload", "/setup/protocol/upload", refused, f)
	file := size(up.line("document", "Protocol document", ""), ui.Full, ui.File, "A JSON document as downloaded here. It becomes the draft; nothing is in force until it is signed.")
	file.Accept = ".json,application/json"
	v.Upload = &officeForm{Form: up, Submit: "Load as the draft", Upload: true, Parts: []part{{Items: []item{field(file)}}}}
	v.Stray = stray(f, refused, v.Sign, v.Upload)
	return c.Show(f, ProtocolPage(v))
}

func versionPath(version string) string {
	return "/setup/protocol?version=" + url.QueryEscape(version)
}

func signedBy(s charter.Signature) string {
	if s.Title == "" {
		return s.Name
	}
	return s.Name + ", " + s.Title
}

func (c *Context) signForm(version, refused string, f *fault.Fault) (*officeForm, error) {
	leads, err := c.withPIN(people.Lead)
	if err != nil {
		return nil, err
	}
	all, err := c.withPIN()
	if err != nil {
		return nil, err
	}
	form := c.dayForm("sign", "/setup/protocol/sign", refused, f)
	parts := []part{{
		Help:  "Both have read this version. It is in force for every event that opens from now on.",
		Items: append(form.signature("first", "First signature: a lead", leads), form.signature("second", "Second signature: another person", all)...),
	}}
	return &officeForm{Form: form, Submit: "Sign version " + version, Plain: true, Parts: parts}, nil
}

func protocolSign(s *Server, c *Context) error {
	_, err := s.prog.SignProtocol(c.R.Context(), c.Actor(), programme.SignProtocol{Act: c.Act(), Version: c.Form("version"), First: c.Sign("first"), Second: c.Sign("second")})
	if err != nil {
		return c.protocolAgain("sign", fault.Of(err))
	}
	return c.Done("/setup/protocol", "Version "+c.Form("version")+" is in force.")
}

// protocolDocument sends a version as a document that can be loaded again.
func protocolDocument(s *Server, c *Context) error {
	ch, err := s.prog.Charter(c.R.Context())
	if err != nil {
		return err
	}
	p, _, _, err := c.chosen(ch)
	if err != nil {
		return err
	}
	h := c.W.Header()
	h.Set("Content-Type", "application/json; charset=utf-8")
	h.Set("Content-Disposition", `attachment; filename="protocol.json"`)
	_, err = c.W.Write(p.Encode())
	return err
}

func protocolUpload(s *Server, c *Context) error {
	data, err := c.upload("document")
	if err != nil {
		return c.protocolAgain("upload", fault.Of(err))
	}
	p, err := protocol.Parse(data)
	if err == nil {
		_, err = s.prog.DraftProtocol(c.R.Context(), c.Actor(), programme.DraftProtocol{Act: c.Act(), Protocol: p})
	}
	if err != nil {
		f := fault.Of(err)
		return c.protocolAgain("upload", f.Field("document", f.Sentence))
	}
	return c.Done("/setup/protocol", "Version "+p.Version+" is loaded as the draft. Read it, then sign it.")
}

// upload reads a file of the form.
func (c *Context) upload(name string) ([]byte, error) {
	file, _, err := c.R.FormFile(name)
	if errors.Is(err, http.ErrMissingFile) || errors.Is(err, http.ErrNotMultipart) {
		return nil, fault.BadField(name, "Choose a file first.")
	}
	if err != nil {
		return nil, err
	}
	defer func() { _ = file.Close() }()
	return io.ReadAll(file)
}

// lastSigned finds the latest signing of the version that is shown; -1 when it was never signed.
func lastSigned(v protocolView) int {
	for i, s := range v.Signed {
		if s.Version == v.Version {
			return i
		}
	}
	return -1
}
