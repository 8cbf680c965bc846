package paper

import (
	"fmt"
	"strings"
	"time"

	"fairstick/internal/competence"
	"fairstick/internal/programme"
)

var proofWords = map[string]string{
	competence.MethodQuiz: "quiz", competence.MethodObserved: "observed work", competence.MethodSample: "observed work with a blind or split sample",
	competence.NeedRehearsal: "practice day", competence.NeedBloodborne: "bloodborne training", competence.NeedHepatitisB: "cleared by the college for work with blood", competence.NeedModel: "trained on meter",
}

// Duty is a row of a record of staff in words, the same on page, paper and command line.
type Duty struct {
	Post     string   // role and station
	When     string   // from when to when, and how many readings; empty in the record of a day
	Verified string   // yes, by which way, from when to when; or not, and what is missing
	By       string   // who signed
	Proof    []string // what it rests on, a line each
	Later    []string
}

// DutyOf puts a row of a record of staff into words, with times in a zone.
func DutyOf(r programme.DutyRow, zone *time.Location) Duty {
	d := Duty{Post: string(r.Role), By: r.By, Later: r.Later}
	if r.Station != "" {
		d.Post += ", station " + r.Station
	}
	if !r.From.IsZero() {
		d.When = "from " + r.From.In(zone).Format("2 Jan, 15:04")
		if !r.To.IsZero() {
			d.When += " to " + r.To.In(zone).Format("15:04")
		}
	}
	if r.Here {
		d.When = strings.TrimPrefix(d.When+"; here", "; ")
	}
	if r.Absent != "" {
		d.When = strings.TrimPrefix(d.When+"; absent: "+r.Absent, "; ")
	}
	if r.Readings > 0 {
		d.When = strings.TrimPrefix(fmt.Sprintf("%s; %d readings", d.When, r.Readings), "; ")
	}
	switch {
	case r.Verified && r.Way == programme.OnPaper:
		d.Verified = fmt.Sprintf("Yes, on paper, from %s through %s.", r.Since.Long(), r.Until.Long())
	case r.Verified:
		d.Verified = fmt.Sprintf("Yes, by training, from %s through %s.", r.Since.Long(), r.Until.Long())
	case !r.Asked:
		d.Verified = "Not asked for this role."
	default:
		d.Verified = "No. " + strings.Join(r.Missing, " ")
	}
	if r.Note != "" {
		d.Proof = append(d.Proof, "Note: "+r.Note)
	}
	for _, x := range r.Evidence {
		line := x.Day.Long() + ": " + proofWords[x.What]
		if x.Detail != "" {
			line += ", " + x.Detail
		}
		if x.Name != "" {
			line += " (" + x.Name + ")"
		}
		d.Proof = append(d.Proof, line)
	}
	return d
}

// StaffDocument is a record of staff for an inspector.
func StaffDocument(r programme.StaffRecord, zone *time.Location) Document {
	doc := Document{Title: "Staff and verification", Subtitle: r.Day.Long(), Programme: r.Programme, RecordID: r.Event, Lang: "en"}
	said := "What each person was verified for, by what was on record at the end of that day. Protocol " + r.Protocol + "."
	if r.Event != "" {
		doc.Subtitle = r.Name + ", " + r.Place + ", " + r.Day.Long()
		said = "Who held which post, and what they were verified for when they took it up, by what was on record then. Protocol " + r.Protocol + "."
	}
	doc.Sections = []Section{{Paragraphs: []string{said}, Table: staffTable(r.Rows, zone)}}
	if len(r.Rows) == 0 {
		doc.Sections = []Section{{Paragraphs: []string{said, "Nobody stands in the record of that day."}}}
	}
	return doc
}

// staffTable sets rows of a record of staff, the same in the record alone and in the binder for an inspection.
func staffTable(rows []programme.DutyRow, zone *time.Location) *Table {
	t := &Table{Columns: []Column{{Title: "Name", Width: 2.2}, {Title: "Post", Width: 2.9}, {Title: "Verified", Width: 3.2}, {Title: "Signed by", Width: 1.7}, {Title: "Rests on", Width: 3}}}
	for _, x := range rows {
		d := DutyOf(x, zone)
		name := x.Name
		if x.Title != "" {
			name += ", " + x.Title
		}
		t.Rows = append(t.Rows, []string{name, strings.TrimSuffix(d.Post+"; "+d.When, "; "), strings.Join(append([]string{d.Verified}, d.Later...), " "), d.By, strings.Join(d.Proof, "; ")})
	}
	return t
}
