package paper

import (
	"fmt"
	"strconv"
)

// IncidentForm is one incident on one page, for the college or the site. It names nobody.
type IncidentForm struct {
	Programme, Event, Title string
	ID                      string
	Facts                   []IncidentFact
	Acts                    []IncidentAct
	End                     string
}

// IncidentFact is one field of the form.
type IncidentFact struct{ Label, Value string }

// IncidentAct is one act with its time, and when it was typed in if that was later.
type IncidentAct struct{ At, Typed, What string }

// Document sets the form for print, with lines for the signatures that the college asks for.
func (f IncidentForm) Document() Document {
	doc := Document{Title: "Incident: " + f.Title, Subtitle: f.Event, Programme: f.Programme, RecordID: f.ID, Lang: "en"}
	log := &Table{Columns: []Column{{Title: "Field", Width: 3}, {Title: "Entry", Width: 7}}}
	for _, x := range f.Facts {
		log.Rows = append(log.Rows, []string{x.Label, x.Value})
	}
	acts := &Table{Columns: []Column{{Title: "At", Width: 1}, {Title: "What was done", Width: 6}, {Title: "Typed in at", Width: 2}}}
	for _, x := range f.Acts {
		acts.Rows = append(acts.Rows, []string{x.At, x.What, x.Typed})
	}
	doc.Sections = []Section{
		{Heading: "What happened", Table: log},
		{Heading: "What was done", Table: acts},
		{Heading: "How it ended", Paragraphs: []string{f.End, "Confidential. Nothing medical belongs on this form: it is told to the clinician."}, Keep: true},
		{Heading: "Received by the college", Paragraphs: []string{"Name, signature and date: ______________________________________________"}, Keep: true},
	}
	return doc
}

// SharpsLog is the sharps injury log of one year. Its columns are those of 29 CFR 1910.1030(h)(5), with the event and the
// phase beside them. It names nobody.
type SharpsLog struct {
	Programme string
	Year      int
	Rows      []SharpsRow
}

// SharpsRow is one injury.
type SharpsRow struct{ When, Event, Device, Area, Phase, How, Status string }

// Document sets the log for print.
func (l SharpsLog) Document() Document {
	doc := Document{Title: "Sharps injury log " + strconv.Itoa(l.Year), Programme: l.Programme, Lang: "en"}
	keep := fmt.Sprintf("Confidential. Keep until 31 December %d: five years after the end of the year (29 CFR 1904.33).", l.Year+5)
	if len(l.Rows) == 0 {
		doc.Sections = []Section{{Paragraphs: []string{"No sharps injury was reported in this year.", keep}}}
		return doc
	}
	t := &Table{
		Columns: []Column{{Title: "When", Width: 2}, {Title: "Event", Width: 2}, {Title: "Type and brand of device", Width: 3}, {Title: "Work area and phase", Width: 2.5}, {Title: "How it happened", Width: 5}, {Title: "State", Width: 1.6}},
		Note:    keep,
	}
	for _, r := range l.Rows {
		t.Rows = append(t.Rows, []string{r.When, r.Event, r.Device, joined2(r.Area, r.Phase), r.How, r.Status})
	}
	doc.Sections = []Section{{Table: t}}
	return doc
}

func joined2(a, b string) string {
	if a == "" || b == "" {
		return a + b
	}
	return a + "; " + b
}
