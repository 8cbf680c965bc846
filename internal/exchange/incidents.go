package exchange

import (
	"encoding/csv"
	"io"
	"strconv"
	"strings"
	"time"

	"fairstick/internal/incident"
	"fairstick/internal/programme"
)

// cell is a column of a file that is written: its name, what it holds, and what stands in it for one incident.
type cell struct {
	name, holds string
	of          func(programme.IncidentRow) string
}

// sharpsColumns are the columns of the sharps injury log. The first three after the time are those that 29 CFR
// 1910.1030(h)(5) asks for.
var sharpsColumns = []cell{
	{"happened_at", "when it happened (RFC 3339, in the zone of the event)", func(r programme.IncidentRow) string { return moment(r.Happened) }},
	{"device_type", "safety-lancet, lancet, needle, glass or other", func(r programme.IncidentRow) string { return r.Device }},
	{"device_brand", "brand, as it stands on the device", func(r programme.IncidentRow) string { return r.Brand }},
	{"work_area", "where in the work; the station when the form is not filled in", func(r programme.IncidentRow) string {
		if r.Area == "" && r.Station != "" {
			return "station " + r.Station
		}
		return r.Area
	}},
	{"how", "how it happened, in words without names", func(r programme.IncidentRow) string { return r.How }},
	{"phase", "before-use, during-use, after-use, disposal or other", func(r programme.IncidentRow) string { return r.Phase }},
	{"role", "whose injury, by role", func(r programme.IncidentRow) string { return r.Role }},
	{"lancet_lot", "lot of the lancets, if known", func(r programme.IncidentRow) string { return r.LancetLot }},
	{"sharps_container", "below-three-quarters, three-quarters-or-more, overfull-or-open, out-of-reach or not-known", func(r programme.IncidentRow) string { return r.Sharps }},
	{"event", "name of the event", func(r programme.IncidentRow) string { return r.EventName }},
	{"typed_at", "when it was typed in", func(r programme.IncidentRow) string { return moment(r.Typed) }},
	{"supervisor_told_at", "when a lead or supervisor signed that they knew", func(r programme.IncidentRow) string { return moment(r.First(incident.Told)) }},
	{"contact_called_at", "when the contact for care after an exposure was first called", func(r programme.IncidentRow) string { return moment(r.First(incident.Called)) }},
	{"handed_over_at", "when it was written down to whom the person went", func(r programme.IncidentRow) string { return moment(r.First(incident.HandedOver)) }},
	{"source_may_be_contacted", "yes, no or not-known; nothing else is kept about the source person", func(r programme.IncidentRow) string { return r.Source }},
	{"status", "open, closed or withdrawn", func(r programme.IncidentRow) string { return r.Status }},
	{"withdrawn_because", "why it was no incident", func(r programme.IncidentRow) string { return r.Why }},
	{"keep_until", "last day of the five years after the year has ended (29 CFR 1904.33)", func(r programme.IncidentRow) string { return r.KeepUntil.String() }},
	{"id", "id in the record", func(r programme.IncidentRow) string { return r.ID }},
}

// incidentColumns are the columns of the incidents of an event.
var incidentColumns = []cell{
	{"id", "id in the record", func(r programme.IncidentRow) string { return r.ID }},
	{"kind", "sharps-injury, splash, faint, spill, device-problem, result-problem, complaint or other", func(r programme.IncidentRow) string { return r.Kind }},
	{"status", "open, closed or withdrawn", func(r programme.IncidentRow) string { return r.Status }},
	{"happened_at", "when it happened (RFC 3339, in the zone of the event)", func(r programme.IncidentRow) string { return moment(r.Happened) }},
	{"typed_at", "when it was typed in", func(r programme.IncidentRow) string { return moment(r.Typed) }},
	{"closed_at", "when it was closed", func(r programme.IncidentRow) string { return moment(r.ClosedAt) }},
	{"ticket", "the ticket that it touches; never a name", func(r programme.IncidentRow) string { return r.Ticket }},
	{"station", "station at which it was reported", func(r programme.IncidentRow) string { return r.Station }},
	{"work_area", "where, as the form says", func(r programme.IncidentRow) string { return r.Area }},
	{"meter", "label of the meter", func(r programme.IncidentRow) string { return r.Meter }},
	{"strip_lot", "lot of strips", func(r programme.IncidentRow) string { return r.StripLot }},
	{"device_type", "for a sharps injury", func(r programme.IncidentRow) string { return r.Device }},
	{"device_brand", "for a sharps injury", func(r programme.IncidentRow) string { return r.Brand }},
	{"site", "for a splash: eye, mouth or broken-skin", func(r programme.IncidentRow) string { return r.Site }},
	{"phase", "for an exposure: before-use, during-use, after-use, disposal or other", func(r programme.IncidentRow) string { return r.Phase }},
	{"role", "whom it concerns, by role", func(r programme.IncidentRow) string { return r.Role }},
	{"how", "what happened, in words without names", func(r programme.IncidentRow) string { return r.How }},
	{"steps", "what was done: each step with its answer and time, separated by semicolons", func(r programme.IncidentRow) string {
		var out []string
		for _, s := range r.Steps {
			text := s.Step
			if s.Choice != "" {
				text += " (" + s.Choice + ")"
			}
			out = append(out, text+" "+s.At.Format("15:04:05"))
		}
		return strings.Join(out, "; ")
	}},
	{"well_after_min", "for a faint: whole minutes until the person was well", func(r programme.IncidentRow) string {
		at := r.First(incident.Well)
		if r.Kind != string(incident.Faint) || at.IsZero() {
			return ""
		}
		return strconv.Itoa(int(at.Sub(r.Happened) / time.Minute))
	}},
	{"withdrawn_because", "why it was no incident", func(r programme.IncidentRow) string { return r.Why }},
}

// WriteSharpsLog writes the sharps injury log of a year as CSV, one injury a row. It holds no name.
func WriteSharpsLog(w io.Writer, rows []programme.IncidentRow) error {
	return writeCells(w, sharpsColumns, rows)
}

// WriteIncidents writes the incidents of an event as CSV, one a row. It holds no name.
func WriteIncidents(w io.Writer, rows []programme.IncidentRow) error {
	return writeCells(w, incidentColumns, rows)
}

// SharpsColumns lists the columns of the sharps log with what they hold.
func SharpsColumns() [][2]string { return named(sharpsColumns) }

// IncidentColumns lists the columns of the incidents of an event with what they hold.
func IncidentColumns() [][2]string { return named(incidentColumns) }

func named(cells []cell) [][2]string {
	out := make([][2]string, len(cells))
	for i, c := range cells {
		out[i] = [2]string{c.name, c.holds}
	}
	return out
}

func writeCells(w io.Writer, cells []cell, rows []programme.IncidentRow) error {
	out := csv.NewWriter(w)
	line := make([]string, len(cells))
	for i, c := range cells {
		line[i] = c.name
	}
	if err := out.Write(line); err != nil {
		return err
	}
	for _, r := range rows {
		for i, c := range cells {
			line[i] = asText(c.of(r))
		}
		if err := out.Write(line); err != nil {
			return err
		}
	}
	out.Flush()
	return out.Error()
}

func moment(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.Format(time.RFC3339)
}

// asText keeps a spreadsheet from running a text as a formula: such a text gets an apostrophe in front.
func asText(s string) string {
	if s != "" && strings.ContainsRune("=+-@\t\r", rune(s[0])) {
		return "'" + s
	}
	return s
}
