package web

import (
	"fmt"
	"strconv"
	"strings"

	"fairstick/internal/fault"
	"fairstick/internal/glucose"
	"fairstick/internal/programme"
	"fairstick/internal/protocol"
	"fairstick/internal/web/ui"
)

// editBase gives a copy of the protocol that an edit begins with: the draft, else the version in force, else the default.
func (c *Context) editBase() (p protocol.Protocol, signed bool, err error) {
	ch, err := c.s.prog.Charter(c.R.Context())
	if err != nil {
		return p, false, err
	}
	force, inForce := ch.InForce()
	switch {
	case ch.Draft != nil:
		p = *ch.Draft
	case inForce:
		p, signed = force.Protocol, true
	default:
		p = protocol.Default()
	}
	copied, err := protocol.Parse(p.Encode())
	return copied, signed, err
}

func protocolEdit(s *Server, c *Context) error { return c.protocolEditAgain(nil) }

func (c *Context) protocolEditAgain(f *fault.Fault) error {
	p, signed, err := c.editBase()
	if err != nil {
		return err
	}
	form := c.dayForm("protocol", "/setup/protocol/edit", "protocol", f)
	version := p.Version
	if signed {
		version = ""
	}
	v := officeForm{Form: form, Submit: "Save as the draft"}
	v.Parts = []part{
		{ID: "version", Heading: "Version", Items: []item{field(size(form.line("version", "Name of the new version", version), ui.Medium, ui.Text,
			"A signed version cannot change; the new text needs a name of its own, for example 2026.2"))}},
	}
	v.Parts = append(v.Parts, limitParts(form, p)...)
	v.Parts = append(v.Parts, ruleParts(form, p)...)
	v.Parts = append(v.Parts, textParts(form, p)...)
	page := c.officePage("Change the protocol", "Nothing changes on the day until two people have signed the draft.", "setup", &ui.Link{Href: "/setup/protocol", Label: "Protocol"})
	return c.Show(f, OfficeForm(page, v))
}

func limitName(b protocol.Basis, u glucose.Unit, edge string) string {
	return "limits." + string(b) + "." + string(u) + "." + edge
}

// limitParts are the limits by basis, each in both units beside each other, as they must agree.
func limitParts(form dayForm, p protocol.Protocol) []part {
	var out []part
	for _, b := range protocol.Bases {
		pt := part{ID: "limits-" + string(b), Heading: "Limits, " + strings.ToLower(basisTitles[b]), Help: "Each limit stands in both units, as each unit has its own published limits."}
		for _, e := range limitEdges {
			var in []ui.Input
			for _, u := range glucose.Units {
				l := p.Limits[b][u]
				x := unit(size(form.line(limitName(b, u, e.Key), e.Title, e.Value(&l).Number()), ui.Short, ui.Number, ""), string(u))
				if e.Key == limitEdges[0].Key && x.Error == "" {
					x.Error = placeWrong(form, "limits."+string(b)+"."+string(u))
					if x.Error == "" && u == glucose.MgPerDL {
						x.Error = placeWrong(form, "limits."+string(b))
					}
				}
				in = append(in, x)
			}
			pt.Items = append(pt.Items, pair(in...))
		}
		out = append(out, pt)
	}
	return append(out, part{ID: "source", Heading: "Source", Items: []item{field(optional(size(form.line("source", "Where a changed number comes from", ""), ui.Full, ui.Text,
		"Needed when a limit, the repeat rule, the control rules or the supervision changes. It stands beside the number.")))}})
}

// placeWrong is what a fault says about a place of the document itself.
func placeWrong(form dayForm, place string) string {
	if form.fault == nil {
		return ""
	}
	return form.fault.Fields[place]
}

func count(form dayForm, name, label string, n int, unitWord, help string) ui.Input {
	return unit(size(form.line(name, label, strconv.Itoa(n)), ui.Short, ui.Number, help), unitWord)
}

func ruleParts(form dayForm, p protocol.Protocol) []part {
	repeat := func(name, label string, m map[glucose.Unit]glucose.Value) item {
		var in []ui.Input
		for _, u := range glucose.Units {
			x := unit(size(form.line(name+"."+string(u), label, m[u].Number()), ui.Short, ui.Number, ""), string(u))
			if x.Error == "" {
				x.Error = placeWrong(form, "repeat."+string(u))
			}
			in = append(in, x)
		}
		return pair(in...)
	}
	readBack := form.choice("read_back", "How is a reading read back?", p.ReadBack, ui.Option{Value: protocol.TypedTwice, Label: "Typed twice"}, ui.Option{Value: protocol.SecondPerson, Label: "Confirmed by a second person"})
	eachVial := form.choice("controls.each_vial", "Are controls run for each new vial of a lot?", p.Controls.EachVial,
		ui.Option{Value: protocol.AsInsert, Label: "As the insert says"}, ui.Option{Value: protocol.Always, Label: "Always"}, ui.Option{Value: protocol.Never, Label: "Never"})
	days := part{ID: "calls", Heading: "Calls", Help: "Days after the event on which a referred person is called, with commas between. 0 is the same day."}
	for _, b := range protocol.Bands {
		if p.Messages[b].Refer {
			days.Items = append(days.Items, field(size(form.line("follow_up."+string(b), bandTitles[b], daysText(p.FollowUp[b])), ui.Short, ui.Text, "")))
		}
	}
	days.Items = append(days.Items, callingItems(form, p.CallingRules())...)
	return []part{
		{ID: "who", Heading: "Who is screened", Items: []item{
			field(count(form, "min_age", "Youngest age", p.MinAge, "years", "")),
			field(count(form, "fasting_hours", "Fasting is at least", p.FastingHours, "hours", "Without food or drink that has calories.")),
		}},
		{ID: "readings", Heading: "Readings", Items: []item{
			repeat("repeat.high_from", "Wash and repeat from", p.Repeat.HighFrom),
			repeat("repeat.low_below", "Wash and repeat below", p.Repeat.LowBelow),
			field(count(form, "repeat.max_sticks", "Most sticks for a person", p.Repeat.MaxSticks, "sticks", "More need a supervisor.")),
			pick(readBack),
		}},
		{ID: "controls", Heading: "Controls", Items: []item{
			field(count(form, "controls.in_use_days", "Solution after opening", p.Controls.InUseDays, "days", "The insert wins when it says less.")),
			field(count(form, "controls.runs_without_cause", "Runs out of range in a row that take a meter out", p.Controls.RunsWithoutCause, "runs", "")),
			pick(eachVial),
		}},
		{ID: "people", Heading: "People", Items: []item{
			field(count(form, "ratio.wanted", "Hands-on people for one supervisor, wanted", p.Ratio.Wanted, "people", "")),
			field(count(form, "ratio.most", "At most", p.Ratio.Most, "people", "Between the two, the lead may sign a reason.")),
			field(count(form, "verification.valid_months", "A verification lasts", p.Verification.ValidMonths, "months", "")),
		}},
		days,
	}
}

func daysText(days []int) string {
	words := make([]string, len(days))
	for i, n := range days {
		words[i] = strconv.Itoa(n)
	}
	return strings.Join(words, ", ")
}

// area is a text in one language over several lines.
func area(form dayForm, name, label, value string, rows int) ui.Input {
	in := size(form.line(name, label, value), ui.Full, ui.Area, "")
	in.Rows = rows
	return in
}

// bothAreas asks for a text in English and Spanish; what the document says about it stands at the English one.
func bothAreas(form dayForm, name, label string, t protocol.Text, rows int) item {
	en, es := area(form, name+".en", label+", English", t["en"], rows), area(form, name+".es", label+", Spanish", t["es"], rows)
	if en.Error == "" {
		en.Error = placeWrong(form, name)
	}
	es.Optional = true
	if form.fault != nil && form.fault.Fields[name] != "" {
		en.ID = "f-" + name
	}
	return pair(en, es)
}

func textParts(form dayForm, p protocol.Protocol) []part {
	out := []part{{ID: "consent", Heading: "Consent", Items: []item{
		field(size(form.line("consent.version", "Version of the consent text", p.Consent.Version), ui.Short, ui.Text, "A changed text needs a new version; it is kept with each yes.")),
		bothAreas(form, "consent.text", "Consent text", p.Consent.Text, 10),
	}}}
	for i, b := range protocol.Bands {
		m, name := p.Messages[b], "messages."+string(b)
		pt := part{ID: name, Heading: "Words for: " + bandTitles[b], Closed: true, Items: []item{
			bothAreas(form, name+".word", "Word", m.Word, 1),
			bothAreas(form, name+".sentence.fasting", "Said when fasting", m.Sentence[protocol.Fasting], 3),
			bothAreas(form, name+".sentence.random", "Said when not fasting", m.Sentence[protocol.Random], 3),
			adviceAreas(form, name+".advice", m.Advice),
			bothAreas(form, name+".when", "When", m.When, 1),
			bothAreas(form, name+".where", "Where", m.Where, 1),
		}}
		if m.WithinDays > 0 {
			pt.Items = append(pt.Items, field(count(form, name+".within_days", "Seen within", m.WithinDays, "days", "")))
		}
		if i == 0 {
			pt.Help = "Sentences under 15 words, for everybody. Say what was seen, never what a person has."
		}
		out = append(out, pt)
	}
	return out
}

// adviceAreas asks for the pieces of advice, one on each line, in the same order in both languages.
func adviceAreas(form dayForm, name string, list []protocol.Text) item {
	lines := func(lang string) string {
		words := make([]string, len(list))
		for i, t := range list {
			words[i] = t[lang]
		}
		return strings.Join(words, "\n")
	}
	en, es := area(form, name+".en", "Advice, English", lines("en"), 6), area(form, name+".es", "Advice, Spanish", lines("es"), 6)
	en.Help = "One piece of advice on each line, in the same order in both languages."
	if form.fault != nil && en.Error == "" {
		for place, says := range form.fault.Fields {
			if strings.HasPrefix(place, name+"[") || place == name {
				en.Error, en.ID = says, "f-"+place
			}
		}
	}
	return pair(en, es)
}

func protocolSave(s *Server, c *Context) error {
	p, _, err := c.editBase()
	if err != nil {
		return err
	}
	e := protocolEditor{c: c, p: &p}
	e.apply()
	if f := e.fault(); f != nil {
		return c.protocolEditAgain(f)
	}
	if _, err := s.prog.DraftProtocol(c.R.Context(), c.Actor(), programme.DraftProtocol{Act: c.Act(), Protocol: p}); err != nil {
		return c.protocolEditAgain(fault.Of(err))
	}
	return c.Done("/setup/protocol", "Draft "+p.Version+" is saved. It is in force when two people have signed it.")
}

// protocolEditor puts what was typed into a copy of a protocol. A field that is not in the form stays as it is.
type protocolEditor struct {
	c      *Context
	p      *protocol.Protocol
	bad    map[string]string
	source string   // typed for changed numbers
	lacks  []string // numbers that changed without a source
}

func (e *protocolEditor) say(name, format string, args ...any) {
	if e.bad == nil {
		e.bad = map[string]string{}
	}
	e.bad[name] = fmt.Sprintf(format, args...)
}

func (e *protocolEditor) fault() *fault.Fault {
	if len(e.lacks) > 0 && e.source == "" {
		e.say("source", "You changed: %s. Say where the new number comes from.", strings.Join(e.lacks, "; "))
	}
	if len(e.bad) == 0 {
		return nil
	}
	f := fault.New(fault.Invalid, "fields", plural(len(e.bad), "field needs", "fields need")+" another look.", "People are tested and advised by these rules.", "Correct it and save again; nothing was recorded.")
	f.Fields = e.bad
	return f
}

func (e *protocolEditor) given(name string) bool {
	_, there := e.c.R.PostForm[name]
	return there
}

func (e *protocolEditor) number(name, label string, into *int) bool {
	if !e.given(name) {
		return false
	}
	n, err := strconv.Atoi(e.c.Form(name))
	if err != nil || n < 0 || n > 100_000 {
		e.say(name, "%s should be a whole number; %q was typed.", label, e.c.Form(name))
		return false
	}
	changed := *into != n
	*into = n
	return changed
}

func (e *protocolEditor) value(name, label string, u glucose.Unit, into *glucose.Value) bool {
	if !e.given(name) {
		return false
	}
	v, err := glucose.ParseValue(e.c.Form(name), u)
	if err != nil {
		e.say(name, "%s in %s: %s", label, u, fault.Of(err).Sentence)
		return false
	}
	changed := *into != v
	*into = v
	return changed
}

// sourced gives a number that changed its new source, or notes that it lacks one.
func (e *protocolEditor) sourced(changed bool, what string, source *string) {
	if !changed {
		return
	}
	e.lacks = append(e.lacks, what)
	if e.source != "" {
		*source = e.source
	}
}

func (e *protocolEditor) apply() {
	p := e.p
	e.source = e.c.Form("source")
	p.Version = e.c.Form("version")
	if p.Version == "" {
		e.say("version", "Give the new version a name.")
	}
	for _, b := range protocol.Bases {
		for _, u := range glucose.Units {
			l := p.Limits[b][u]
			for _, x := range limitEdges {
				changed := e.value(limitName(b, u, x.Key), x.Title, u, x.Value(&l))
				e.sourced(changed, strings.ToLower(basisTitles[b]+", "+x.Title)+" "+x.Value(&l).String(), x.Source(&l.Source))
			}
			p.Limits[b][u] = l
		}
	}
	e.rules()
	e.texts()
}

func (e *protocolEditor) rules() {
	p := e.p
	e.number("min_age", "The youngest age", &p.MinAge)
	e.number("fasting_hours", "The hours of fasting", &p.FastingHours)
	changed := e.number("repeat.max_sticks", "The most sticks", &p.Repeat.MaxSticks)
	for _, u := range glucose.Units {
		high, low := p.Repeat.HighFrom[u], p.Repeat.LowBelow[u]
		a, b := e.value("repeat.high_from."+string(u), "Repeat from", u, &high), e.value("repeat.low_below."+string(u), "Repeat below", u, &low)
		p.Repeat.HighFrom[u], p.Repeat.LowBelow[u] = high, low
		changed = changed || a || b
	}
	e.sourced(changed, "the repeat rule", &p.Repeat.Source)
	if e.given("read_back") {
		p.ReadBack = e.c.Form("read_back")
	}
	days, runs := e.number("controls.in_use_days", "The days after opening", &p.Controls.InUseDays), e.number("controls.runs_without_cause", "The runs in a row", &p.Controls.RunsWithoutCause)
	each := e.given("controls.each_vial") && e.c.Form("controls.each_vial") != p.Controls.EachVial
	if each {
		p.Controls.EachVial = e.c.Form("controls.each_vial")
	}
	e.sourced(days || runs || each, "the control rules", &p.Controls.Source)
	wanted, most := e.number("ratio.wanted", "The wanted number", &p.Ratio.Wanted), e.number("ratio.most", "The most", &p.Ratio.Most)
	e.sourced(wanted || most, "the supervision", &p.Ratio.Source)
	e.number("verification.valid_months", "The months", &p.Verification.ValidMonths)
	for _, b := range protocol.Bands {
		name := "follow_up." + string(b)
		if !e.given(name) {
			continue
		}
		var list []int
		for _, w := range e.c.words(name) {
			n, err := strconv.Atoi(strings.TrimSpace(w))
			if err != nil || n < 0 || n > 366 {
				e.say(name, "Type days from 0 to 366 with commas between; %q was typed.", w)
				break
			}
			list = append(list, n)
		}
		p.FollowUp[b] = list
	}
	e.calling()
}

func (e *protocolEditor) texts() {
	p := e.p
	before := p.Consent.Text["en"] + "\x00" + p.Consent.Text["es"]
	old := p.Consent.Version
	e.text("consent.text", &p.Consent.Text)
	if e.given("consent.version") {
		p.Consent.Version = e.c.Form("consent.version")
	}
	if before != p.Consent.Text["en"]+"\x00"+p.Consent.Text["es"] && p.Consent.Version == old {
		e.say("consent.version", "The consent text changed. Give it a new version: the version is kept with each yes.")
	}
	for _, b := range protocol.Bands {
		m, name := p.Messages[b], "messages."+string(b)
		e.text(name+".word", &m.Word)
		for basis, place := range map[protocol.Basis]string{protocol.Fasting: name + ".sentence.fasting", protocol.Random: name + ".sentence.random"} {
			t := m.Sentence[basis]
			e.text(place, &t)
			m.Sentence[basis] = t
		}
		e.advice(name+".advice", &m.Advice)
		e.text(name+".when", &m.When)
		e.text(name+".where", &m.Where)
		e.number(name+".within_days", "The days", &m.WithinDays)
		p.Messages[b] = m
	}
}

// text puts a text of two languages in place; other languages of the document stay.
func (e *protocolEditor) text(name string, into *protocol.Text) {
	for _, lang := range []string{"en", "es"} {
		if !e.given(name + "." + lang) {
			continue
		}
		if *into == nil {
			*into = protocol.Text{}
		}
		if s := oneLine(e.c.Form(name + "." + lang)); s != "" {
			(*into)[lang] = s
		} else {
			delete(*into, lang)
		}
	}
}

func (e *protocolEditor) advice(name string, into *[]protocol.Text) {
	if !e.given(name + ".en") {
		return
	}
	en, es := lines(e.c.Form(name+".en")), lines(e.c.Form(name+".es"))
	if len(es) > 0 && len(es) != len(en) {
		e.say(name+".en", "There are %d lines in English and %d in Spanish. Both need the same advice in the same order.", len(en), len(es))
		return
	}
	out := make([]protocol.Text, len(en))
	for i := range en {
		out[i] = protocol.Text{"en": en[i]}
		if len(es) > 0 {
			out[i]["es"] = es[i]
		}
	}
	*into = out
}

func oneLine(s string) string { return strings.Join(strings.Fields(s), " ") }

func lines(s string) []string {
	var out []string
	for _, l := range strings.Split(s, "\n") {
		if l = oneLine(l); l != "" {
			out = append(out, l)
		}
	}
	return out
}
