package programme

import (
	"context"
	"fmt"
	"time"

	"fairstick/internal/download"
	"fairstick/internal/event"
	"fairstick/internal/fault"
	"fairstick/internal/glucose"
	"fairstick/internal/people"
	"fairstick/internal/stock"
)

// MostDownloaded is how many rows of a memory are taken in at once.
const MostDownloaded = 2000

// mostKept is how many rows of one day are kept of one meter: an entry of the record holds no more than 256 KiB.
const mostKept = 600

// Logged is what an entry of the log stands for, so that a page can lead to where it is corrected.
type Logged struct {
	Visit  string // empty for a control run
	Ticket int
	Level  string // of a control run
}

// Downloaded is a meter's memory held against the log as it stands now.
type Downloaded struct {
	Meter *stock.Meter
	download.Result
	Logged map[string]Logged // by the id of the reading or run
	Others int               // rows of other days
}

// MeterLog is everything that was written down for a meter at this event, and what each entry stands for.
func (d *Day) MeterLog(meter string) ([]download.Entry, map[string]Logged) {
	var out []download.Entry
	about := map[string]Logged{}
	for _, v := range d.Visits {
		for _, r := range v.Readings {
			if r.Meter == meter {
				out = append(out, download.Entry{ID: r.ID, At: r.At, Reading: r.Reading})
				about[r.ID] = Logged{Visit: v.ID, Ticket: v.Ticket}
			}
		}
	}
	for _, r := range d.Event.RunsOf(meter) {
		out = append(out, download.Entry{ID: r.ID, At: r.At, Reading: r.Reading, Control: true})
		about[r.ID] = Logged{Level: r.Level}
	}
	return out, about
}

// HoldMemory holds rows of a meter's memory against the log. Nothing is recorded.
func (d *Day) HoldMemory(meter string, rows []download.Row) (Downloaded, error) {
	m := d.MeterByID(meter)
	if m == nil || !d.Event.Brought(meter) {
		return Downloaded{}, missing(stock.MeterRef(meter))
	}
	entries, about := d.MeterLog(meter)
	zone := d.Event.Zone()
	res := download.Match(rows, entries, download.Options{
		Tolerance: download.DefaultTolerance,
		OfDay:     func(t time.Time) bool { return d.Event.Day(t.In(zone)) == d.Event.Plan.Date },
	})
	return Downloaded{Meter: m, Result: res, Logged: about, Others: res.Others}, nil
}

// Download gives what was downloaded from a meter, held against the log as it stands now; ok is false when nothing was.
func (d *Day) Download(meter string) (Downloaded, bool) {
	kept, ok := d.Event.Downloads[meter]
	if !ok {
		return Downloaded{}, false
	}
	var rows []download.Row
	for _, r := range kept.Rows {
		u := glucose.Unit(r.Unit)
		reading, err := glucose.ParseReading(r.Shown, u)
		if err != nil {
			continue // a newer program may keep what this one cannot read
		}
		rows = append(rows, download.Row{Line: r.Line, At: r.At, Reading: reading, Mark: marks[r.Control], Seq: r.Seq})
	}
	out, err := d.HoldMemory(meter, rows)
	if err != nil {
		return Downloaded{}, false
	}
	out.Others += kept.Others
	return out, true
}

var marks = map[string]download.Mark{"": download.Unmarked, "yes": download.Control, "no": download.Person}

// downloadEqualities are the sums of the closing that a download adds: between a memory and the log nothing may differ.
func (d *Day) downloadEqualities() []Equality {
	var out []Equality
	for _, m := range d.BroughtMeters() {
		x, ok := d.Download(m.ID)
		if !ok {
			continue
		}
		out = append(out, equality("download:"+m.ID, "Download of meter "+m.Details.Label, Term{"rows and readings that differ", x.Unlike()}, Term{"may differ", 0}))
	}
	return out
}

// Unlike counts the rows and readings that do not agree, each once; times alone are the clock's matter.
func (x Downloaded) Unlike() int {
	seen := map[string]bool{}
	for _, f := range x.Differences {
		if f.Kind == download.Time {
			continue
		}
		key := "row"
		if f.Entry != nil {
			key = f.Entry.ID
		} else {
			key += fmt.Sprint(f.Row.Line, f.Row.At)
		}
		seen[key] = true
	}
	return len(seen)
}

// RecordDownload keeps the rows of the day out of a meter's memory.
type RecordDownload struct {
	Act
	Event, Meter string
	Rows         []download.Row
}

// RecordDownload records what a meter's memory holds of the day. From then on the closing compares every row with the log,
// and a difference goes away when the log is corrected. Any of the staff may, as for the count of a memory.
func (p *Programme) RecordDownload(ctx context.Context, a Actor, c RecordDownload) (Done, error) {
	return do(ctx, p, a, c.Act, "event.download", func(w *work) (Done, error) {
		if err := w.need(people.Roles...); err != nil {
			return Done{}, err
		}
		ev, err := w.openable(c.Event)
		if err != nil {
			return Done{}, err
		}
		if len(c.Rows) == 0 {
			return Done{}, fault.BadField("file", "There are no rows in the file.")
		}
		if len(c.Rows) > MostDownloaded {
			return Done{}, fault.BadField("file", "The file has %d rows; at most %d are taken in at once. Leave out the rows of other days.", len(c.Rows), MostDownloaded)
		}
		d, err := w.day(c.Event)
		if err != nil {
			return Done{}, err
		}
		x, err := d.HoldMemory(c.Meter, c.Rows)
		if err != nil {
			return Done{}, err
		}
		b := event.MemoryDownloaded{Meter: c.Meter, Rows: x.rows(), Others: x.Others}
		switch {
		case len(b.Rows) == 0:
			return Done{}, fault.New(fault.Refused, "no-rows-of-day", fmt.Sprintf("No row of this file is of %s.", ev.Plan.Date.Long()),
				"The file may be of another meter, or the meter's date is wrong and too few readings agree to tell by how much.", "Look at the meter: which date does it show? Read its memory by hand, and type the count.")
		case len(b.Rows) > mostKept:
			return Done{}, fault.BadField("file", "The file has %d rows of this day; no meter takes more than %d. Is it of one meter?", len(b.Rows), mostKept)
		}
		_, err = w.append(event.Ref(ev.ID), b)
		return Done{ID: ev.ID}, err
	})
}

// rows gives the rows of the day as they are kept.
func (x Downloaded) rows() []event.MemoryRow {
	var out []event.MemoryRow
	add := func(r download.Row) {
		k := event.MemoryRow{At: r.At, Shown: r.Reading.Shown(), Unit: string(r.Reading.Unit), Seq: r.Seq, Line: r.Line}
		switch r.Mark {
		case download.Control:
			k.Control = "yes"
		case download.Person:
			k.Control = "no"
		case download.Unmarked:
		}
		out = append(out, k)
	}
	for _, p := range x.Pairs {
		add(p.Row)
	}
	for _, f := range x.Differences {
		if f.Kind == download.NotInLog {
			add(*f.Row)
		}
	}
	return out
}

// Say names one difference in a sentence, with both sides.
func (x Downloaded) Say(f download.Difference, zone *time.Location) string {
	log, row := "", ""
	if f.Entry != nil {
		log = fmt.Sprintf("%s at %s", f.Entry.Reading, f.Entry.At.In(zone).Format("15:04"))
		if about := x.Logged[f.Entry.ID]; about.Visit != "" {
			log = fmt.Sprintf("ticket %03d, %s", about.Ticket, log)
		} else {
			log = fmt.Sprintf("control level %s, %s", about.Level, log)
		}
	}
	if f.Row != nil {
		row = fmt.Sprintf("%s at %s by its clock (line %d)", f.Row.Reading, f.Row.At.In(zone).Format("2 Jan 2006 15:04"), f.Row.Line)
	}
	switch f.Kind {
	case download.NotInLog:
		return "Nobody wrote down what the meter has: " + row + "."
	case download.NotInMeter:
		return "The meter does not have what was written down: " + log + "."
	case download.Unit:
		return "The unit differs. Log: " + log + ". Meter: " + row + "."
	case download.Time:
		return fmt.Sprintf("The times differ by %d minutes. Log: %s. Meter: %s.", int(f.By.Abs().Round(time.Minute)/time.Minute), log, row)
	case download.Marked:
		return "One says control, the other a person. Log: " + log + ". Meter: " + row + "."
	}
	return "The value differs. Log: " + log + ". Meter: " + row + "."
}
