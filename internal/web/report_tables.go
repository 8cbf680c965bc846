package web

import (
	"cmp"
	"fmt"
	"sort"
	"strings"
	"time"

	"fairstick/internal/control"
	"fairstick/internal/programme"
	"fairstick/internal/protocol"
	"fairstick/internal/web/ui"
)

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
		p.Rows = append(p.Rows, []string{clockOr(o.At, zone), gateWord(o.Gate), o.About, o.Reason, o.By})
	}
	return p
}

// gateWord names a gate that was passed: one of the day, one that a paper form did not meet, or a clock that jumped.
func gateWord(key string) string {
	of, rest, cut := strings.Cut(key, ":")
	switch {
	case key == "ratio":
		return "Supervisor ratio"
	case cut && of == "paper":
		return "Paper: " + strings.ReplaceAll(rest, "-", " ")
	case cut && of == "clock":
		return "Laptop's clock"
	}
	return strings.ReplaceAll(key, "-", " ")
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

// heldText says until when somebody holds a verification that the protocol asks for.
func heldText(s programme.StaffRow) string {
	switch {
	case s.NotVerified:
		return "not verified"
	case s.Verified == "":
		return "not asked"
	}
	return s.Verified
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
		p.Rows = append(p.Rows, []string{s.Name, s.Role, cmp.Or(s.Station, "-"), here, heldText(s)})
	}
	return p
}
