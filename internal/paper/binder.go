package paper

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"fairstick/internal/control"
	"fairstick/internal/glucose"
	"fairstick/internal/programme"
	"fairstick/internal/protocol"
	"fairstick/internal/stock"
)

// BinderDocument sets what an inspector asks for: certificate, protocol, people, controls, lots, corrective actions, incidents,
// overrides and results, with a list of contents. It names no participant.
func BinderDocument(b *programme.Binder) Document {
	doc := Document{
		Title: "Inspection binder", Subtitle: spanText(b), Programme: b.Charter.Details.Name, RecordID: b.Record, Printed: b.At, Lang: "en", Contents: "Contents",
	}
	add := func(list ...Section) { doc.Sections = append(doc.Sections, list...) }
	part := func(s Section) Section {
		n := 1
		for _, x := range doc.Sections {
			if x.Listed {
				n++
			}
		}
		s.Heading, s.Listed = fmt.Sprintf("%d. %s", n, s.Heading), true
		return s
	}
	add(part(binderShort(b)))
	add(part(binderProgramme(b)))
	for _, p := range b.Protocols {
		s := binderProtocol(b, p)
		s[0] = part(s[0])
		add(s...)
	}
	add(part(binderEvents(b)))
	add(byDay(b, part(Section{Heading: "Roster and verifications", NewPage: true, Paragraphs: []string{
		"Who held which post, and what they were verified for when they took it up, by what was on record then. What changed since is said beside it.",
		"Where a post says neither here nor absent, nobody wrote it down.",
	}}), func(d *programme.Day) Section {
		return Section{Table: staffTable(b.Staff[d.Event.ID].Rows, d.Event.Zone())}
	})...)
	add(part(binderMeters(b)))
	add(binderLots(b, part)...)
	add(byDay(b, part(Section{Heading: "Control log", NewPage: true}), binderControls)...)
	add(part(binderCorrective(b)))
	add(part(binderCorrected(b)))
	add(part(binderIncidents(b)))
	add(part(binderSharps(b)))
	add(part(binderOverrides(b)))
	add(byDay(b, part(Section{Heading: "Sums of each day", NewPage: true, Paragraphs: []string{"What must come out, and the signed reason where it does not."}}), binderSums)...)
	add(binderResults(b, part)...)
	return doc
}

func spanText(b *programme.Binder) string {
	if b.From == b.To {
		return b.From.Long()
	}
	return b.From.Long() + " to " + b.To.Long()
}

func cols(list ...any) []Column {
	var out []Column
	for i := 0; i+1 < len(list); i += 2 {
		out = append(out, Column{Title: list[i].(string), Width: list[i+1].(float64)})
	}
	return out
}

func counted(n int, one, more string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, more)
}

func binderShort(b *programme.Binder) Section {
	runs, out, over := 0, 0, 0
	for _, d := range b.Days {
		over += len(d.Event.Overrides)
		for _, r := range d.Event.Runs {
			runs++
			if r.Verdict != string(control.InRange) {
				out++
			}
		}
	}
	return Section{Heading: "In short", Paragraphs: []string{
		fmt.Sprintf("%s, %s, %s, of which %d not in range; %s; %s; %s.", counted(len(b.Days), "event", "events"), counted(b.Visits, "visit", "visits"), counted(runs, "control run", "control runs"), out,
			counted(len(b.Incidents), "incident", "incidents"), counted(over, "gate passed with a signed reason", "gates passed with a signed reason"), counted(len(b.Sharps), "entry in the sharps log of these years", "entries in the sharps log of these years")),
		"No participant is named: a visit is its ticket number. A screening reading neither diagnoses nor rules out.",
		"Everything here is read from the programme's record as it stood at " + b.Record + ". The record is a chain in which nothing can be changed unseen; fairstick check proves it.",
	}}
}

func binderProgramme(b *programme.Binder) Section {
	d := b.Charter.Details
	until := "no last day on record"
	if !d.CertificateUntil.IsZero() {
		until = d.CertificateUntil.Long()
	}
	read := "Nobody has recorded that it was read."
	if d.LabelledUse {
		read = "Read; signed by " + b.Name(d.LabelledUseSigned) + "."
		if d.LabelledUseSigned == "" {
			read = "Read."
		}
	}
	return Section{Heading: "Certificate and programme", Keep: true, Table: &Table{Columns: cols("What", 3.0, "On record", 7.0), Rows: [][]string{
		{"Programme", d.Name},
		{"Certificate of waiver", cmp.Or(d.Certificate, "not on record")},
		{"Its last day", until},
		{"Contact for participants", strings.Trim(d.Contact+", "+d.ContactHours, ", ")},
		{"Emergency number", d.Emergency},
		{"Care after an exposure", strings.Trim(strings.Join([]string{d.ExposureContact, d.ExposurePhone, d.ExposureHours}, ", "), ", ")},
		{"Unit of readings", string(d.Unit)},
		{"Labelled use of the meters", read},
	}}}
}

func binderProtocol(b *programme.Binder, p programme.InForce) []Section {
	x, held := p.Protocol, "in force since "+p.At.Format("2 Jan 2006")
	if !p.Until.IsZero() {
		held = fmt.Sprintf("in force from %s to %s", p.At.Format("2 Jan 2006"), p.Until.Format("2 Jan 2006"))
	}
	var ran []string
	for _, d := range b.Days {
		if d.Protocol.Version == x.Version {
			ran = append(ran, d.Event.Plan.Name+" ("+d.Event.Plan.Date.Long()+")")
		}
	}
	signed := func(name, title string) string { return strings.TrimSuffix(name+", "+title, ", ") }
	first := Section{Heading: "Protocol version " + x.Version, Paragraphs: []string{
		fmt.Sprintf("%s, %s. Signed by %s and %s.", x.Name, held, signed(p.First.Name, p.First.Title), signed(p.Second.Name, p.Second.Title)),
		"Events of these days that ran under it: " + cmp.Or(strings.Join(ran, "; "), "none") + ".",
		fmt.Sprintf("Controls: levels %s on every meter; %s. Repeat: %s. Supervision: one for %d hands-on people wanted, %d at most. Fasting: %d hours. Youngest age: %d. Consent text: version %s. Records kept at least %s; names and numbers have a time of their own.", strings.Join(x.Controls.Levels, " and "), strings.TrimSuffix(x.Controls.Source, "."),
			strings.TrimSuffix(x.Repeat.Source, "."), x.Ratio.Wanted, x.Ratio.Most, x.FastingHours, x.MinAge, x.Consent.Version, counted(x.Retention, "year", "years")),
	}}
	table := &Table{Caption: "Limits, each compared in the unit that the meter showed", Columns: cols("Basis", 1.6, "Critical below", 2.0, "Low below", 2.0, "Raised from", 2.0, "High from", 2.0, "Critical from", 2.0)}
	for _, basis := range []protocol.Basis{protocol.Fasting, protocol.Random} {
		for _, u := range []glucose.Unit{glucose.MgPerDL, glucose.MmolPerL} {
			if l, ok := x.Limits[basis][u]; ok {
				table.Rows = append(table.Rows, []string{string(basis), l.CriticalBelow.String(), l.LowBelow.String(), l.RaisedFrom.String(), l.HighFrom.String(), l.CriticalFrom.String()})
			}
		}
	}
	return []Section{first, {Table: table}}
}

func binderEvents(b *programme.Binder) Section {
	s := Section{Heading: "Events", Table: &Table{Columns: append(cols("Day", 2.1, "Event and venue", 4.0, "Protocol", 1.7), Column{Title: "Arrived", Width: 1.6, Right: true}, Column{Title: "Tested", Width: 1.5, Right: true}, Column{Title: "Controls", Width: 1.8, Right: true}, Column{Title: "Closed", Width: 2.8})}}
	for _, d := range b.Days {
		n, closed := d.Counts(), "not closed"
		if !d.Event.ClosedAt.IsZero() {
			closed = d.Event.ClosedAt.In(d.Event.Zone()).Format("15:04 on 2 Jan") + ", " + d.NameOf(d.Event.ClosedBy)
		}
		s.Table.Rows = append(s.Table.Rows, []string{d.Event.Plan.Date.Long(), d.Event.Plan.Name + ", " + d.Event.Plan.Venue, d.Protocol.Version, fmt.Sprint(n.Arrived), fmt.Sprint(n.Tested), fmt.Sprint(len(d.Event.Runs)), closed})
	}
	return s
}

// byDay puts a section for each event under one that stands in the contents.
func byDay(b *programme.Binder, first Section, of func(*programme.Day) Section) []Section {
	out := []Section{first}
	for _, d := range b.Days {
		if s := of(d); s.Table != nil && len(s.Table.Rows) > 0 || len(s.Paragraphs) > 0 {
			s.Heading = d.Event.Plan.Name + ", " + d.Event.Plan.Date.Long()
			out = append(out, s)
		}
	}
	if len(out) == 1 {
		out[0].Paragraphs = []string{"Nothing is on record for these days."}
	}
	return out
}

func binderMeters(b *programme.Binder) Section {
	s := Section{Heading: "Meters", NewPage: true, Table: &Table{Columns: cols("Meter", 1.2, "Serial, type, unit", 3.0, "Instructions read", 3.2, "Quarantine", 2.6, "Compared with a laboratory", 2.4)}}
	for _, m := range b.Meters {
		review, out := "not on record", "no"
		if r := m.Review; r != nil {
			review = fmt.Sprintf("%s, signed by %s. Disinfection: %s", r.On.Long(), b.Name(r.SignedBy), r.Disinfect)
		}
		if q := m.Quarantine; q != nil {
			out = "since " + q.At.Format("2 Jan 2006") + ": " + cmp.Or(q.Note, q.Cause)
		}
		var on []string
		for _, c := range b.Compared {
			if c.Details.Meter == m.ID && c.Withdrawn == nil {
				on = append(on, fmt.Sprintf("%s, %s", c.Details.On.Long(), counted(len(c.Details.Pairs), "pair", "pairs")))
			}
		}
		s.Table.Rows = append(s.Table.Rows, []string{m.Details.Label, strings.Join([]string{m.Details.Serial, m.Details.Model, string(m.Details.Unit)}, ", "), review, out, cmp.Or(strings.Join(on, "; "), "not in these days")})
	}
	return s
}

func binderLots(b *programme.Binder, part func(Section) Section) []Section {
	strips := &Table{Caption: "Strips", Columns: cols("Lot", 1.6, "Chemistry, code", 2.2, "Expiry", 1.8, "Printed ranges", 3.0, "Vials: opened, last day, discarded", 4.4, "Held", 2.0)}
	for _, l := range b.StripLots {
		levels := make([]string, 0, len(l.Details.Ranges))
		for k := range l.Details.Ranges {
			levels = append(levels, k)
		}
		slices.Sort(levels)
		for i, k := range levels {
			levels[i] = fmt.Sprintf("level %s: %s to %s", k, l.Details.Ranges[k].Low.Number(), l.Details.Ranges[k].High)
		}
		strips.Rows = append(strips.Rows, []string{l.Details.Lot, strings.TrimSuffix(string(l.Details.Chemistry)+", code "+l.Details.Code, ", code "), l.Details.Expiry.Long(), strings.Join(levels, "; "), containers(l.Vials), holds(l.Shelf, l.Withdrawn)})
	}
	sols := &Table{Caption: "Control solution", Columns: cols("Lot and level", 2.4, "Expiry", 2.0, "Bottles: opened, last day, discarded", 6.0, "Held", 2.6)}
	for _, l := range b.Controls {
		sols.Rows = append(sols.Rows, []string{l.Details.Lot + ", level " + l.Details.Level, l.Details.Expiry.Long(), containers(l.Bottles), holds(l.Shelf, "")})
	}
	wipes := &Table{Caption: "Disinfectants", Columns: append(cols("Name", 5.0), Column{Title: "Contact time", Width: 2.0, Right: true}, Column{Title: "Expiry", Width: 2})}
	for _, w := range b.Wipes {
		expiry := "none printed"
		if !w.Details.Expiry.IsZero() {
			expiry = w.Details.Expiry.Long()
		}
		wipes.Rows = append(wipes.Rows, []string{w.Details.Name, fmt.Sprintf("%d s", w.Details.ContactSeconds), expiry})
	}
	return []Section{part(Section{Heading: "Lots", Table: strips}), {Table: sols}, {Table: wipes}}
}

func containers(list []stock.Container) string {
	var out []string
	for _, c := range list {
		s := c.Name + ": " + c.Opened.Long() + ", " + c.Discard.Long()
		if c.Discarded != "" {
			s += ", discarded: " + c.Discarded
		}
		out = append(out, s)
	}
	return cmp.Or(strings.Join(out, "; "), "none opened")
}

func holds(s stock.Shelf, withdrawn string) string {
	var out []string
	for _, h := range s.Holds {
		x := h.Says()
		if h.Released != nil {
			x += ", released " + h.ReleasedAt.Format("2 Jan 2006")
		}
		out = append(out, x)
	}
	if withdrawn != "" {
		out = append(out, "taken out of use: "+withdrawn)
	}
	return cmp.Or(strings.Join(out, "; "), "no")
}

var verdictIn = map[string]string{string(control.InRange): "in range", string(control.OutOfRange): "out of range", string(control.NoValue): "no value"}

func binderControls(d *programme.Day) Section {
	t := &Table{Columns: cols("At", 1.2, "Meter", 1.1, "Strips", 2.0, "Control, bottle, level", 2.7, "Value", 2.0, "Range", 1.9, "Verdict", 1.6, "By", 2.1)}
	for i, x := range d.Report().Controls {
		run := d.Event.Runs[i]
		t.Rows = append(t.Rows, []string{x.At.In(d.Event.Zone()).Format("15:04"), x.Meter, x.Lot + ", " + x.Vial, strings.Join([]string{x.Control, run.Bottle, x.Level}, ", "), x.Shown + " " + x.Unit, x.Low + " to " + x.High, cmp.Or(verdictIn[x.Verdict], x.Verdict), x.Operator})
	}
	return Section{Table: t}
}

func binderCorrective(b *programme.Binder) Section {
	s := Section{Heading: "Corrective actions", NewPage: true, Table: &Table{Caption: "Controls that were not in range", Columns: cols("Day", 2.2, "At", 1.3, "Meter, level", 1.8, "Value", 2.1, "Cause", 2.6, "What was done", 3.0, "Found by", 1.6)}}
	for _, d := range b.Days {
		for _, x := range d.Report().Controls {
			if x.Verdict != string(control.InRange) {
				s.Table.Rows = append(s.Table.Rows, []string{d.Event.Plan.Date.Long(), x.At.In(d.Event.Zone()).Format("15:04"), x.Meter + ", " + x.Level, x.Shown + " " + x.Unit, cmp.Or(x.Cause, "not written"), cmp.Or(x.Action, "not written"), cmp.Or(x.CauseBy, "-")})
			}
		}
	}
	return s
}

func binderCorrected(b *programme.Binder) Section {
	s := Section{Heading: "Signed corrections of the record", Table: &Table{Columns: cols("Signed", 2.4, "About", 2.4, "Was, is", 4.0, "Reason", 3.0, "Signed by", 2.0)}}
	for _, d := range b.Days {
		row := func(at time.Time, about, changes, reason, signed string) {
			s.Table.Rows = append(s.Table.Rows, []string{at.In(d.Event.Zone()).Format("15:04 2 Jan 2006"), about, changes, reason, d.NameOf(signed)})
		}
		for _, c := range d.Event.Corrections {
			var was []string
			for _, x := range c.Changes {
				was = append(was, x.What+": "+x.Was+", now "+x.Now)
			}
			row(c.At, d.Event.Plan.Name+", "+c.Kind, strings.Join(was, "; "), c.Reason, c.Signed)
		}
		for _, v := range d.Visits {
			for _, c := range v.Corrections {
				var was []string
				for _, x := range c.Changes {
					was = append(was, x.What+": "+x.Was+", now "+x.Now)
				}
				row(c.At, fmt.Sprintf("%s, ticket %03d, %s", d.Event.Plan.Name, v.Ticket, c.Kind), strings.Join(was, "; "), c.Reason, c.Signed)
			}
		}
	}
	return s
}

func binderIncidents(b *programme.Binder) Section {
	s := Section{Heading: "Incidents", Paragraphs: []string{"No name and nothing medical stands here."}, Table: &Table{Columns: cols("Happened", 2.2, "Kind", 1.8, "Where", 2.0, "What", 4.0, "What was done", 4.0, "State", 1.3)}}
	for _, r := range b.Incidents {
		var steps []string
		for _, x := range r.Steps {
			steps = append(steps, x.At.Format("15:04")+" "+strings.ReplaceAll(x.Step, "-", " "))
		}
		where := strings.Trim(strings.Join([]string{r.EventName, r.Station}, ", station "), " ,")
		if r.Station == "" {
			where = r.EventName
		}
		s.Table.Rows = append(s.Table.Rows, []string{r.Happened.Format("15:04 2 Jan 2006"), programme.IncidentWord(r.Kind), where, cmp.Or(r.How, "-"), cmp.Or(strings.Join(steps, "; "), "-"), r.Status})
	}
	return s
}

func binderSharps(b *programme.Binder) Section {
	s := Section{
		Heading: "Sharps injury log", Paragraphs: []string{fmt.Sprintf("All of %s, over every event: the log is kept by calendar year, five years after its end (29 CFR 1904.33). Confidential.", yearsText(b))},
		Table: &Table{Columns: cols("When", 2.0, "Event", 2.2, "Type and brand of device", 2.6, "Work area and phase", 2.4, "How it happened", 4.0, "State", 1.3)},
	}
	for _, r := range b.Sharps {
		s.Table.Rows = append(s.Table.Rows, []string{r.Happened.Format("15:04 2 Jan 2006"), r.EventName, joined2(r.Device, r.Brand), joined2(r.Area, r.Phase), cmp.Or(r.How, "-"), r.Status})
	}
	return s
}

func yearsText(b *programme.Binder) string {
	if b.From.Year == b.To.Year {
		return fmt.Sprint(b.From.Year)
	}
	return fmt.Sprintf("%d to %d", b.From.Year, b.To.Year)
}

func binderOverrides(b *programme.Binder) Section {
	s := Section{Heading: "Gates passed with a signed reason", Table: &Table{Columns: cols("Signed", 2.4, "Event", 2.4, "Gate", 2.2, "About", 2.0, "Reason", 4.0, "Signed by", 2.0)}}
	for _, d := range b.Days {
		for _, o := range d.Event.Overrides {
			s.Table.Rows = append(s.Table.Rows, []string{o.At.In(d.Event.Zone()).Format("15:04 2 Jan 2006"), d.Event.Plan.Name, strings.NewReplacer("-", " ", ":", ": ").Replace(o.Gate), o.About, o.Reason, d.NameOf(o.Signed)})
		}
	}
	return s
}

func binderSums(d *programme.Day) Section {
	t := &Table{Columns: append(cols("Sum", 2.6, "In words", 6.0), Column{Title: "Difference", Width: 1.6, Right: true}, Column{Title: "Signed reason", Width: 3.6})}
	for _, e := range d.Reconcile() {
		said := "comes out"
		if e.Difference != 0 {
			said = "not explained"
			if e.Settled() {
				said = e.Explained.Note + " (" + d.NameOf(e.Explained.By) + ")"
			}
		}
		t.Rows = append(t.Rows, []string{e.Name, e.Sentence(), fmt.Sprint(e.Difference), said})
	}
	return Section{Table: t}
}

func binderResults(b *programme.Binder, part func(Section) Section) []Section {
	s := Section{Heading: "Results without names", NewPage: true}
	if !b.Listed {
		s.Paragraphs = []string{fmt.Sprintf("The list of results was left out. The record has %s in these days.", counted(b.Visits, "visit", "visits"))}
		return []Section{part(s)}
	}
	s.Paragraphs = []string{"One reading a row. A band stands beside the reading that counts. Cleared: when each level was last in range before the reading, on that meter with those strips."}
	rows := map[string][][]string{}
	for _, r := range b.Results {
		band := "-"
		switch {
		case r.Band != "":
			band = strings.ReplaceAll(r.Band, "-", " ") + ", " + r.Basis
		case !r.Counts:
			band = r.Purpose + ", does not count"
		}
		rows[r.Event] = append(rows[r.Event], []string{fmt.Sprintf("%03d", r.Ticket), r.At.Format("15:04"), r.Shown, band, r.Meter, r.Strips, joined2(r.Screener, r.Supervisor), cmp.Or(r.Cleared, "none"), cmp.Or(r.Referred, "-")})
	}
	return byDay(b, part(s), func(d *programme.Day) Section {
		return Section{Table: &Table{
			Columns: cols("Ticket", 1.4, "At", 1.25, "Reading", 2.0, "Band, basis", 2.2, "Meter", 1.4, "Strips", 1.9, "Screener; answered for it", 2.9, "Cleared", 2.3, "Refer", 1.25), Rows: rows[d.Event.ID],
		}}
	})
}
