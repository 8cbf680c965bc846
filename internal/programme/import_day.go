package programme

import (
	"context"
	"errors"
	"fmt"
	"sort"
	"strings"
	"time"

	"github.com/google/uuid"

	"fairstick/internal/control"
	"fairstick/internal/event"
	"fairstick/internal/fault"
	"fairstick/internal/glucose"
	"fairstick/internal/people"
	"fairstick/internal/stock"
)

// ImportDay types in a day from rows: one row a visit, and the control runs. Either every new row is recorded or none.
type ImportDay struct {
	Act
	Event    string
	Visits   []ImportRow // columns as in exchange.DayColumns
	Controls []ImportRow
	Opened   string // when the event was opened on paper, like 08:55; only for one that is not open yet
	Accept   Sign   // of a lead or supervisor, when something is irregular
	Reason   string
	Dry      bool
}

// IrregularRow is a gate that would have refused on the day, with the line of the row; line 0 is the opening.
type IrregularRow struct {
	Line int `json:"line"`
	Irregular
}

// ImportedDay is what came of the rows. With any bad row nothing is recorded, and without a signature nothing irregular.
type ImportedDay struct {
	Visits            int            `json:"visits"` // added, or that would be
	VisitsThere       int            `json:"visits_there"`
	Controls          int            `json:"controls"`
	ControlsThere     int            `json:"controls_there"`
	Bad               []BadRow       `json:"bad,omitempty"`
	BadControls       []BadRow       `json:"bad_controls,omitempty"`
	Irregular         []IrregularRow `json:"irregular,omitempty"`
	IrregularControls []IrregularRow `json:"irregular_controls,omitempty"`
	Recorded          bool           `json:"recorded"`
}

// Wrong reports whether a row is not right.
func (d ImportedDay) Wrong() bool { return len(d.Bad)+len(d.BadControls) > 0 }

// Signs reports whether a signature is needed.
func (d ImportedDay) Signs() bool { return len(d.Irregular)+len(d.IrregularControls) > 0 }

// ImportDay records a day from paper. Control runs come first and rows are taken in the order of time, whatever their order
// in the file, so that clearance and repeats come out as on the day. Ids follow from the event and the form or row, so
// that the same file adds nothing twice; a row that says something else about a form that is there is a bad row. Only a
// lead may.
func (p *Programme) ImportDay(ctx context.Context, a Actor, c ImportDay) (ImportedDay, error) {
	who, err := p.accepts(ctx, c.Accept, c.Reason)
	if err != nil {
		return ImportedDay{}, err
	}
	h, err := p.paperHistory(ctx, c.Event)
	if err != nil {
		return ImportedDay{}, err
	}
	act := Act{ID: c.ID}
	if c.Dry {
		act.ID = ""
	}
	var tried ImportedDay
	out, err := do(ctx, p, a, act, "import.day", func(w *work) (ImportedDay, error) {
		if err := w.need(people.Lead); err != nil {
			return ImportedDay{}, err
		}
		if len(c.Visits) == 0 && len(c.Controls) == 0 {
			return ImportedDay{}, fault.BadField("file", "There are no rows under the header.")
		}
		if n := max(len(c.Visits), len(c.Controls)); n > MaxImportRows {
			return ImportedDay{}, fault.BadField("file", "The file has %d rows; load at most %d at once.", n, MaxImportRows)
		}
		d, err := w.paperDay(c.Event, h)
		if err != nil {
			return ImportedDay{}, err
		}
		i := &dayImport{paperDay: d, who: who, reason: c.Reason}
		if err := i.run(c); err != nil {
			return ImportedDay{}, err
		}
		tried = i.out
		if c.Dry || tried.Wrong() || tried.Signs() && who == nil {
			return ImportedDay{}, errDry
		}
		tried.Recorded = true
		return tried, nil
	})
	if isDry(err) {
		return tried, nil
	}
	return out, err
}

// dayImport is a day while it is loaded.
type dayImport struct {
	*paperDay
	names  *dayNames
	who    *people.State // who signs for what is irregular; nil for nobody
	reason string
	out    ImportedDay
	whole  *Day // read when a row names a visit that is here already
}

func (i *dayImport) run(c ImportDay) error {
	var err error
	if i.names, err = i.readNames(); err != nil {
		return err
	}
	if err := i.controls(c.Controls); err != nil {
		return err
	}
	if err := i.reload(); err != nil {
		return err
	}
	if i.ev.Phase == event.IsCancelled {
		return cancelledFault()
	}
	if err := i.open(c.Opened); err != nil {
		return err
	}
	if i.ev.Phase == event.IsPlanned {
		if len(c.Visits) == 0 {
			return nil
		}
		return refuse("not-open", "The event is not open yet.", "A visit belongs to a day that was opened after its checks and controls.",
			"Open it on the page Open, or say with --opened when it was opened on paper.")
	}
	return i.visits(c.Visits)
}

func (i *dayImport) reload() (err error) {
	i.ev, err = load[*event.State](i.work, event.Ref(i.ev.ID))
	return err
}

// open opens an event that was opened on paper.
func (i *dayImport) open(clock string) error {
	if clock == "" || i.ev.Phase != event.IsPlanned {
		return nil
	}
	cells := &dayCells{names: i.names, values: map[string]string{"opened": clock}}
	at := cells.time("opened", "The opening", true)
	if err := cells.err(); err != nil {
		return err
	}
	if at.After(i.now.Add(futureSlack)) {
		return fault.BadField("opened", "The opening at %s has not come yet.", clock)
	}
	return i.as("", at, func() error {
		full := i.ev
		i.ev = i.h.eventAt(full, at)
		gates, proto, err := i.openingGates(i.ev)
		i.ev = full
		if err != nil {
			return err
		}
		var shut []Irregular
		for _, g := range gates {
			if g.Fault != nil {
				shut = append(shut, Irregular{Key: g.Fault.Key, Sentence: g.Fault.Sentence, Field: "opened"})
			}
		}
		if err := i.irregular(&i.out.Irregular, 0, "the opening", shut); err != nil {
			return err
		}
		i.first = false
		if _, err := i.append(event.Ref(i.ev.ID), event.Opened{Protocol: proto.Version}); err != nil {
			return err
		}
		i.h.opened = at
		return i.reload()
	})
}

// irregular lists shut gates of one row, and records the signed reason when there is one.
func (i *dayImport) irregular(to *[]IrregularRow, line int, about string, list []Irregular) error {
	for _, x := range list {
		*to = append(*to, IrregularRow{Line: line, Irregular: x})
	}
	if i.who == nil || len(list) == 0 {
		return nil
	}
	return i.as("", i.now, func() error { return i.override(list, about, i.who, i.reason) })
}

// rowID gives the id that follows from the event and a key.
func (i *dayImport) rowID(key string) (string, error) {
	space, err := uuid.Parse(i.ev.ID)
	if err != nil {
		return "", err
	}
	return uuid.NewSHA1(space, []byte(key)).String(), nil
}

// dayRow is one visit of the file as it was read.
type dayRow struct {
	line int
	key  string
	v    PaperVisit
}

func (i *dayImport) visits(rows []ImportRow) error {
	var list []dayRow
	seen := map[string]int{}
	for _, r := range rows {
		switch err := i.liveRow(r.Values); {
		case errors.Is(err, errThere):
			i.out.VisitsThere++
			continue
		case errors.Is(err, errDiffer):
			i.out.Bad = append(i.out.Bad, BadRow{r.Line, "row", "This differs from what is recorded: correct it there, or make the row the same."})
			continue
		case err != nil:
			return err
		}
		c := &dayCells{names: i.names, values: r.Values}
		v := c.visit()
		key := fmt.Sprintf("form %d", v.Form)
		if v.Form == 0 {
			key = "row " + strings.ToLower(v.Row)
		}
		if v.Form == 0 && v.Row == "" && c.bad["form"] == "" {
			c.say("form", "The row has no form number. Without one, give it a key of its own in the column row.")
		}
		if first, twice := seen[key]; twice && (v.Form > 0 || v.Row != "") {
			c.say("form", "This repeats line %d.", first)
		}
		seen[key] = r.Line
		if err := c.err(); err != nil {
			i.out.Bad = append(i.out.Bad, badRows(r.Line, "form", fault.Of(err))...)
			if v.Arrived.IsZero() {
				continue
			}
		}
		list = append(list, dayRow{r.Line, key, v})
	}
	sort.SliceStable(list, func(a, b int) bool {
		if !list[a].v.Arrived.Equal(list[b].v.Arrived) {
			return list[a].v.Arrived.Before(list[b].v.Arrived)
		}
		if list[a].v.Form != list[b].v.Form {
			return list[a].v.Form < list[b].v.Form
		}
		return list[a].key < list[b].key
	})
	for _, r := range list {
		if err := i.visit(r); err != nil {
			return err
		}
	}
	sortBad(i.out.Bad)
	return nil
}

func sortBad(list []BadRow) {
	sort.SliceStable(list, func(a, b int) bool { return list[a].Line < list[b].Line })
}

func (i *dayImport) visit(r dayRow) error {
	var err error
	if i.id, err = i.rowID(r.key); err != nil {
		return err
	}
	i.work.first = true
	e, err := i.enter(r.v)
	var f *fault.Fault
	switch {
	case errors.Is(err, errThere):
		i.out.VisitsThere++
		return nil
	case errors.Is(err, errDiffer):
		i.out.Bad = append(i.out.Bad, BadRow{r.line, "form", "This differs from what is recorded: correct it there, or make the row the same."})
		return nil
	case errors.As(err, &f):
		i.addBad(badRows(r.line, "form", f))
		return nil
	case err != nil:
		return err
	}
	i.out.Visits++
	about := fmt.Sprintf("ticket %03d", e.Ticket)
	if r.v.Form > 0 {
		about += fmt.Sprintf(", form %d", r.v.Form)
	}
	return i.irregular(&i.out.Irregular, r.line, about, e.Irregular)
}

// addBad adds what the check of a whole visit found, unless the reading of its cells said so before.
func (i *dayImport) addBad(rows []BadRow) {
	for _, b := range rows {
		said := false
		for _, x := range i.out.Bad {
			said = said || x.Line == b.Line && x.Column == b.Column
		}
		if !said {
			i.out.Bad = append(i.out.Bad, b)
		}
	}
}

// paperRun is one control run of the file as it was read.
type paperRun struct {
	line          int
	at            time.Time
	meter         *stock.Meter
	lot           *stock.StripLot
	sol           *stock.ControlLot
	vial, bottle  string
	operator      string
	reading       glucose.Reading
	code          string // as the meter showed it; empty when it was not compared
	cause, action string
}

func (i *dayImport) controls(rows []ImportRow) error {
	var list []paperRun
	for _, r := range rows {
		c := &dayCells{names: i.names, values: r.Values}
		run := c.run()
		run.line = r.Line
		if err := c.err(); err != nil {
			i.out.BadControls = append(i.out.BadControls, badRows(r.Line, "time", fault.Of(err))...)
			continue
		}
		list = append(list, run)
	}
	sort.SliceStable(list, func(a, b int) bool {
		if !list[a].at.Equal(list[b].at) {
			return list[a].at.Before(list[b].at)
		}
		return list[a].key() < list[b].key()
	})
	for _, r := range list {
		if err := i.control(r); err != nil {
			return err
		}
	}
	sortBad(i.out.BadControls)
	return nil
}

// key is what two runs share only when they are the same.
func (r paperRun) key() string {
	return strings.Join([]string{r.meter.ID, r.sol.Details.Level, r.at.UTC().Format(time.RFC3339), r.lot.ID, strings.ToLower(r.vial), r.sol.ID, strings.ToLower(r.bottle), r.reading.Shown(), r.operator}, "\x00")
}

func (i *dayImport) control(r paperRun) error {
	id, err := i.rowID("control " + r.key())
	if err != nil {
		return err
	}
	if err := i.reload(); err != nil {
		return err
	}
	bad := func(column, sentence string) {
		i.out.BadControls = append(i.out.BadControls, BadRow{r.line, column, sentence})
	}
	for _, x := range i.ev.RunsOf(r.meter.ID) {
		switch {
		case x.ID == id && x.Cause == r.cause && x.Action == r.action, sameRun(r, x):
			i.out.ControlsThere++
			return nil
		case x.ID == id || x.Level == r.sol.Details.Level && x.At.Truncate(time.Minute).Equal(r.at.Truncate(time.Minute)):
			bad("time", fmt.Sprintf("A run of level %s on meter %s at this minute is recorded with other details: correct it there, or make the row the same.", x.Level, r.meter.Details.Label))
			return nil
		}
	}
	if r.at.After(i.now.Add(futureSlack)) {
		bad("time", "This time has not come yet.")
		return nil
	}
	var shut []Irregular
	err = i.as(r.operator, r.at, func() (err error) {
		shut, err = i.controlRun(r, id)
		return err
	})
	if err != nil {
		return err
	}
	i.out.Controls++
	about := fmt.Sprintf("control of meter %s at %s", r.meter.Details.Label, r.at.In(i.ev.Zone()).Format("15:04"))
	return i.irregular(&i.out.IrregularControls, r.line, about, shut)
}

// controlRun records one run, and says which gates were shut then.
func (i *dayImport) controlRun(r paperRun, id string) (shut []Irregular, err error) {
	i.work.first = false
	if r.code != "" {
		b := event.CodeCompared{Meter: r.meter.ID, StripLot: r.lot.ID, Shown: r.code}
		if _, err := i.append(event.Ref(i.ev.ID), b); err != nil {
			return nil, err
		}
		i.h.compared(b, r.at)
	}
	was := i.h.eventAt(i.ev, r.at)
	now, err := load[*stock.Meter](i.work, stock.MeterRef(r.meter.ID))
	if err != nil {
		return nil, err
	}
	c := RunControl{Event: i.ev.ID, Meter: now.ID, StripLot: r.lot.ID, Vial: r.vial, ControlLot: r.sol.ID, Bottle: r.bottle}
	if err := i.controlGates(was, c, i.h.meterAt(now, r.at), r.lot, r.sol); err != nil {
		f := fault.Of(err)
		if f.Kind == fault.Internal {
			return nil, err
		}
		shut = append(shut, Irregular{Key: f.Key, Sentence: f.Sentence, Field: "meter"})
	}
	if i.me != nil && !i.me.Has(people.Supervisor) && !i.me.Has(people.Lead) {
		has, err := i.trained(i.me.ID, i.ev.Zone(), now)
		if err != nil {
			return nil, err
		}
		if f := verifiedFault(i.me, has, people.Screener, i.proto, i.ev.Day(r.at)); f != nil {
			shut = append(shut, Irregular{Key: f.Key, Sentence: f.Sentence, Field: "operator"})
		}
	}
	i.id, i.work.first = id, true
	if _, err := i.ran(was, c, r.reading, now, r.lot, r.sol, i.proto); err != nil {
		return nil, err
	}
	if r.cause == "" {
		return shut, nil
	}
	_, err = i.append(event.Ref(i.ev.ID), event.CauseAssigned{Run: id, Cause: r.cause, Action: r.action})
	return shut, err
}

// missed reports whether a run was not in the range printed for its strip lot.
func (r paperRun) missed() bool {
	rng := r.lot.Details.Ranges[r.sol.Details.Level]
	v, err := control.Judge(r.reading, rng.Low, rng.High)
	return err != nil || v != control.InRange
}
