package programme

import (
	"cmp"
	"context"
	"fmt"
	"sort"
	"strings"
	"time"

	"fairstick/internal/about"
	"fairstick/internal/event"
	"fairstick/internal/fact"
	"fairstick/internal/protocol"
	"fairstick/internal/store"
	"fairstick/internal/visit"
)

// DayRows is an event as the rows that ImportDay reads, so that a day can be typed into another record, and a file can be
// held against this one.
type DayRows struct {
	Visits   []map[string]string // by the names of the columns
	Controls []map[string]string
	Skipped  []string // what has no row, each in a sentence
}

// DayRows gives an event as rows. Participants' names and numbers are in them only with Names, which must have been signed (see
// SignHandOut); the staff stand in them by name, since rows name who did what. Only a lead may.
func (p *Programme) DayRows(ctx context.Context, a Actor, h HandOut) (DayRows, error) {
	var out DayRows
	history, err := p.paperHistory(ctx, h.Event)
	if err != nil {
		return out, err
	}
	err = p.HandOut(ctx, a, h, func(walk Walk) error {
		return walk(func(x *Leaving) error {
			return p.store.Read(ctx, func(v *store.View) error {
				w := &rowWriter{d: x.Day, wipes: history.wipes, records: v.Records}
				for i := range x.Going {
					row, why, err := w.visit(x.Going[i].State, x.Going[i].Contact)
					if err != nil {
						return err
					}
					if why != "" {
						out.Skipped = append(out.Skipped, fmt.Sprintf("Ticket %03d: %s", x.Going[i].Ticket, why))
						continue
					}
					out.Visits = append(out.Visits, row)
				}
				out.Controls = w.controls(history.codes)
				return nil
			})
		})
	})
	return out, err
}

// rowWriter writes the visits of a day as rows.
type rowWriter struct {
	d       *Day
	wipes   map[string][]event.Wipe
	records func(fact.Ref) ([]fact.Record, error)
}

// clockCell writes a time of the day of the event as the reader of rows takes it, to the second.
func (w *rowWriter) clockCell(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	t = t.In(w.d.Event.Zone())
	if t.Second() == 0 {
		return t.Format("15:04")
	}
	return t.Format("15:04:05")
}

func yesCell(yes bool) string {
	if yes {
		return "yes"
	}
	return "no"
}

// visit gives the row of one visit; why says in a sentence that it has none.
func (w *rowWriter) visit(v *visit.State, c *Contact) (row map[string]string, why string, err error) {
	records, err := w.records(visit.Ref(v.ID))
	if err != nil {
		return nil, "", err
	}
	outcome, reason := outcomeCell(v)
	switch {
	case outcome == "":
		return nil, "the visit has not ended, and no reading is there.", nil
	case len(v.Readings) > MostPaperReadings:
		return nil, fmt.Sprintf("a row has room for %d readings.", MostPaperReadings), nil
	}
	row = map[string]string{"language": v.Language, "arrived": w.clockCell(v.Times.Arrived), "outcome": outcome, "reason": reason, "called": w.clockCell(v.Times.TestCalled)}
	if v.Form > 0 {
		row["form"] = fmt.Sprint(v.Form)
	} else {
		row["row"] = v.ID
	}
	settled := fact.Settle(records)
	w.desk(row, v, settled, c)
	for i := range v.Readings {
		w.reading(row, v, i, settled)
	}
	w.care(row, v)
	w.after(row, v)
	for k, cell := range row {
		if cell == "" {
			delete(row, k)
		}
	}
	return row, "", nil
}

// outcomeCell says what became of a visit in the words of a form; empty when a form has no word for it.
func outcomeCell(v *visit.State) (outcome, reason string) {
	switch {
	case v.Left != nil:
		return PaperLeft, v.Left.Reason
	case v.Declined != nil:
		return "declined-" + v.Declined.What, v.Declined.Reason
	case v.Phase() == visit.NotEligible:
		return PaperNotEligible, ""
	case len(v.Readings) > 0:
		return PaperTested, ""
	}
	return "", ""
}

func (w *rowWriter) desk(row map[string]string, v *visit.State, settled []fact.Record, c *Contact) {
	for _, r := range settled {
		if _, consents := r.Body.(visit.Consented); consents {
			row["consent_time"] = w.clockCell(r.At)
		}
	}
	if v.Consent != nil {
		row["consent_how"] = v.Consent.How
	}
	if v.Answers != nil {
		for key, answer := range v.Answers.Answers {
			if q, ok := w.d.Protocol.Question(key); ok && q.Kind == protocol.Signs {
				answer = strings.ReplaceAll(answer, ",", "|")
			}
			row[AnswerPrefix+strings.ReplaceAll(key, "-", "_")] = answer
		}
	}
	for key, codes := range v.About {
		row[about.Field(key)] = cmp.Or(strings.Join(codes, "|"), about.PassedOver)
	}
	if v.Ate != nil {
		row["last_food"] = "not known"
		if v.Ate.Known {
			row["last_food"] = v.Ate.Last.In(w.d.Event.Zone()).Format("2006-01-02 15:04:05")
		}
	}
	if v.Contact != nil {
		row["contact"] = yesCell(*v.Contact)
		if *v.Contact {
			row["contact_call"] = yesCell(v.Call)
		}
	}
	if c != nil {
		row["contact_name"], row["contact_phone"], row["contact_when"] = c.Name, c.Phone, c.When
	}
}

func (w *rowWriter) reading(row map[string]string, v *visit.State, i int, settled []fact.Record) {
	r := v.Readings[i]
	put := func(name, cell string) { row[fmt.Sprintf("reading%d_%s", i+1, name)] = cell }
	put("time", w.clockCell(r.At))
	put("value", r.Reading.Shown())
	put("vial", r.Vial)
	put("station", r.Station)
	put("screener", w.d.NameOf(r.By))
	put("purpose", r.Purpose)
	put("washed", yesCell(r.Washed))
	put("reason", r.Reason)
	put("sharps", yesCell(w.binned(v, i, settled)))
	if m := w.d.MeterByID(r.Meter); m != nil {
		put("meter", m.Details.Label)
	}
	if l := w.d.StripLotByID(r.StripLot); l != nil {
		put("strip_lot", l.Details.Lot)
	}
	if !r.NewStick {
		put("same_drop", "yes")
	}
	if r.Misfires > 0 {
		put("misfires", fmt.Sprint(r.Misfires))
	}
	if w.d.Person(r.ReadBack) != nil {
		put("read_by", w.d.NameOf(r.ReadBack))
	}
	if wipe, ok := w.wiped(v, i); ok {
		put("wiped", w.clockCell(wipe.Start))
		if x := w.d.DisinfectantByID(wipe.Disinfectant); x != nil {
			put("wipe", x.Details.Name)
		}
	}
}

// binned reports whether the lancets of a reading were seen into sharps: as many as it used, before the next reading.
func (w *rowWriter) binned(v *visit.State, i int, settled []fact.Record) bool {
	r, seen, used := v.Readings[i], 0, v.Readings[i].Misfires
	if r.NewStick {
		used++
	}
	for _, x := range settled {
		_, bins := x.Body.(visit.LancetBinned)
		if bins && !x.At.Before(r.At) && (i+1 == len(v.Readings) || x.At.Before(v.Readings[i+1].At)) {
			seen++
		}
	}
	return used > 0 && seen >= used || v.Binned >= v.Sticks()+v.Misfires()
}

// wiped gives the first wipe of the meter after a reading, when it came before the next reading on that meter.
func (w *rowWriter) wiped(v *visit.State, i int) (event.Wipe, bool) {
	r := v.Readings[i]
	var next time.Time
	for _, o := range w.d.Visits {
		for _, x := range o.Readings {
			if x.Meter == r.Meter && x.ID != r.ID && x.At.After(r.At) && (next.IsZero() || x.At.Before(next)) {
				next = x.At
			}
		}
	}
	for _, x := range w.wipes[r.Meter] {
		if !x.Start.Before(r.At) && (next.IsZero() || !x.Start.After(next)) {
			return x, true
		}
	}
	return event.Wipe{}, false
}

func (w *rowWriter) care(row map[string]string, v *visit.State) {
	c := v.Care
	if c == nil {
		return
	}
	put := func(step, what, cell string) { row["care_"+step+"_"+what] = cell }
	if c.Cause == causeSigns {
		put(stepSeen, "time", w.clockCell(c.At))
		put(stepSeen, "by", w.known(c.By))
		put(stepSeen, "note", c.Note)
	}
	sugars := 0
	for _, s := range c.Steps {
		name, by := s.Step, s.By
		switch s.Step {
		case stepSupervisor:
			by = s.Choice
		case stepSugar:
			if sugars++; sugars > 1 {
				name += "2"
			}
		}
		put(name, "time", w.clockCell(s.At))
		put(name, "by", w.known(by))
		put(name, "note", s.Note)
		switch s.Step {
		case stepSigns:
			row["care_signs_signs"] = protocol.NoSign
			if len(s.Signs) > 0 {
				row["care_signs_signs"] = strings.Join(s.Signs, "|")
			}
		case stepSugar, stepAction:
			put(name, "choice", s.Choice)
		}
	}
	if c.Signed != nil {
		row["care_signed_time"], row["care_signed_by"], row["care_note"] = w.clockCell(c.SignedAt), w.known(c.Signed.Supervisor), c.Signed.Note
	}
}

// known gives a name, or nothing for somebody who is not on the list.
func (w *rowWriter) known(id string) string {
	if p := w.d.Person(id); p != nil {
		return p.Details.Name
	}
	return ""
}

func (w *rowWriter) after(row map[string]string, v *visit.State) {
	row["talk"], row["explained"] = w.clockCell(v.Times.ExplCalled), w.clockCell(v.Times.Explained)
	if x := v.Explained; x != nil {
		row["explained_by"], row["explained_station"], row["explained_language"], row["teach_back"] = w.known(v.Counsellor), x.Station, x.Language, x.TeachBack
	}
	if len(v.Slips) > 0 {
		row["slip"], row["slip_language"], row["slip_size"] = "yes", v.Slips[0].Language, v.Slips[0].Size
	}
	if v.Explained != nil && v.Referral != nil {
		row["referral"], row["referral_agreed"] = v.Referral.Route, yesCell(v.Referral.Agreed)
	}
	if v.Phase().Ended() {
		row["ended"] = w.clockCell(v.Times.Ended)
	}
}

// controls gives the control runs; a code that was compared stands with the first run after it.
func (w *rowWriter) controls(codes map[string][]event.Code) []map[string]string {
	var out []map[string]string
	said := map[string]bool{}
	for _, r := range w.d.Event.Runs {
		row := map[string]string{"time": w.clockCell(r.At), "vial": r.Vial, "level": r.Level, "bottle": r.Bottle, "value": r.Reading.Shown(), "operator": w.known(r.By), "cause": r.Cause, "action": r.Action}
		if m := w.d.MeterByID(r.Meter); m != nil {
			row["meter"] = m.Details.Label
		}
		if l := w.d.StripLotByID(r.StripLot); l != nil {
			row["strip_lot"] = l.Details.Lot
		}
		if l := w.d.ControlLotByID(r.ControlLot); l != nil {
			row["control_lot"] = l.Details.Lot
		}
		list := append([]event.Code(nil), codes[r.Meter]...)
		sort.SliceStable(list, func(i, j int) bool { return list[i].At.Before(list[j].At) })
		for _, c := range list {
			if key := r.Meter + c.At.String(); c.Lot == r.StripLot && !c.At.After(r.At) && !said[key] {
				row["code"], said[key] = c.Shown, true
			}
		}
		for k, cell := range row {
			if cell == "" {
				delete(row, k)
			}
		}
		out = append(out, row)
	}
	return out
}

// liveRow compares a row that names a visit of this event by its id with that visit as it stands: nil when the row names none. What is sealed
// is not compared: a file without names says the same of everything else.
func (i *dayImport) liveRow(values map[string]string) error {
	v := i.paperDay.visits[strings.ToLower(tidy(values["row"]))]
	if v == nil || v.Paper != "" || tidy(values["form"]) != "" {
		return nil
	}
	x, err := i.asDay()
	if err != nil {
		return err
	}
	w := &rowWriter{d: x, wipes: i.h.wipes, records: i.tx.Records}
	row, why, err := w.visit(v, nil)
	if err != nil || why != "" {
		return firstErr(err, errDiffer)
	}
	for k, cell := range values {
		if cell = strings.TrimSpace(cell); cell != "" && cell != row[k] && k != "contact_name" && k != "contact_phone" && k != "contact_when" {
			return errDiffer
		}
	}
	for k := range row {
		if strings.TrimSpace(values[k]) == "" {
			return errDiffer
		}
	}
	return errThere
}

// asDay reads the day once for an import.
func (i *dayImport) asDay() (*Day, error) {
	if i.whole != nil {
		return i.whole, nil
	}
	d, err := i.work.day(i.ev.ID)
	i.whole = d
	return d, err
}

// sameRun reports whether a run says what is recorded already, whatever its id.
func sameRun(r paperRun, x event.Run) bool {
	return x.Meter == r.meter.ID && x.StripLot == r.lot.ID && strings.EqualFold(x.Vial, r.vial) && x.ControlLot == r.sol.ID && strings.EqualFold(x.Bottle, r.bottle) && x.Level == r.sol.Details.Level &&
		x.Reading == r.reading && x.By == r.operator && x.At.Truncate(time.Second).Equal(r.at.Truncate(time.Second)) && x.Cause == r.cause && x.Action == r.action
}
