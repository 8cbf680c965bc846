package programme

import (
	"sort"
	"time"

	"fairstick/internal/control"
	"fairstick/internal/event"
	"fairstick/internal/fact"
	"fairstick/internal/fault"
	"fairstick/internal/glucose"
	"fairstick/internal/protocol"
	"fairstick/internal/stock"
	"fairstick/internal/visit"
)

// ClearanceEffect is a meter whose clearance changes with a correction.
type ClearanceEffect struct {
	Meter, Lot, Vial string // labels
	Was, Now         string // sentences
	WasClear, Clear  bool
}

// LookBack is a reading taken on a meter that, as corrected, was not cleared at that moment.
type LookBack struct {
	Visit    string
	Ticket   int
	Reading  string
	Shown    string
	At       time.Time
	Band     string // of the finding, when this reading counts
	MayCall  bool
	HasEnded bool
}

// control corrects a control run, or strikes it; the clearance of its meter follows.
func (x *correction) control() error {
	var old event.Run
	for _, r := range x.ev.Runs {
		if r.ID == x.c.Fact {
			old = r
		}
	}
	if old.ID == "" {
		return fault.New(fault.Missing, "corrected-missing", "There is no such control run at this event.", "", "Open the controls again and choose it there.")
	}
	ref := event.Ref(x.ev.ID)
	var changes []fact.Change
	x.meters[old.Meter] = true
	if x.c.Struck {
		changes = []fact.Change{{What: "control run", Was: old.Reading.String() + ", level " + old.Level + ", " + x.clock(old.At), Now: "never run"}}
		if err := x.replace(ref, old.ID, fact.Struck{}); err != nil {
			return err
		}
	} else {
		b, err := x.newRun(old.ControlRun)
		if err != nil {
			return err
		}
		for _, c := range x.runChanges(old.ControlRun, b) {
			if c.Was != c.Now {
				changes = append(changes, c)
			}
		}
		if len(changes) == 0 {
			return x.nothingChanged()
		}
		x.meters[b.Meter] = true
		if err := x.replace(ref, old.ID, b); err != nil {
			return err
		}
	}
	if err := x.takeOut(); err != nil {
		return err
	}
	after, err := x.day(x.ev.ID)
	if err != nil {
		return err
	}
	x.out.Changes = changes
	x.out.LookBack = lookBack(x.before, after, x.meters)
	b := event.Corrected{Kind: x.c.Kind, Fact: old.ID, Changes: changes, Reason: x.c.Reason, Signed: x.signed, Late: x.out.Late}
	for _, l := range x.out.LookBack {
		if n := len(b.LookBack); n == 0 || b.LookBack[n-1] != l.Visit {
			b.LookBack = append(b.LookBack, l.Visit)
		}
	}
	_, err = x.append(ref, b)
	return err
}

// newRun reads the run as it was typed and judges it against the range printed for its strip lot.
func (x *correction) newRun(b event.ControlRun) (event.ControlRun, error) {
	m, l, sol := x.before.MeterByID(x.c.Meter), x.before.StripLotByID(x.c.StripLot), x.before.ControlLotByID(x.c.ControlLot)
	var f fields
	switch {
	case m == nil || !x.ev.Brought(m.ID):
		f.say("meter", "Choose a meter that was brought to the event.")
	case l == nil:
		f.say("strip_lot", "The strip lot was not chosen.")
	case sol == nil:
		f.say("control_lot", "The control solution was not chosen.")
	case !l.Fits(m.Details.Model):
		f.say("strip_lot", "Lot %s does not fit meter %s.", l.Details.Lot, m.Details.Label)
	case !sol.FitsModel(m.Details.Model):
		f.say("control_lot", "Control lot %s is not made for meter %s.", sol.Details.Lot, m.Details.Label)
	}
	if err := f.err(); err != nil {
		return b, err
	}
	if _, ok := l.Vial(x.c.Vial); !ok {
		f.say("vial", "Lot %s has no vial %q.", l.Details.Lot, x.c.Vial)
	}
	if _, ok := sol.Bottle(x.c.Bottle); !ok {
		f.say("bottle", "Control lot %s has no bottle %q.", sol.Details.Lot, x.c.Bottle)
	}
	rng, ok := l.Details.Ranges[sol.Details.Level]
	if !ok || rng.Low.Unit != m.Details.Unit {
		f.say("control_lot", "Lot %s has no printed range for level %s in %s.", l.Details.Lot, sol.Details.Level, m.Details.Unit)
	}
	if err := f.err(); err != nil {
		return b, err
	}
	r, err := x.typedReading(b.Reading)
	if err != nil {
		return b, err
	}
	verdict, err := control.Judge(r, rng.Low, rng.High)
	b.Meter, b.StripLot, b.Vial, b.ControlLot, b.Bottle = m.ID, l.ID, x.c.Vial, sol.ID, x.c.Bottle
	b.Level, b.Reading, b.Low, b.High, b.Verdict = sol.Details.Level, r, rng.Low, rng.High, string(verdict)
	return b, err
}

func (x *correction) runChanges(old, now event.ControlRun) []fact.Change {
	solution := func(id string) string {
		if c := x.before.ControlLotByID(id); c != nil {
			return c.Details.Lot
		}
		return "not recorded"
	}
	return []fact.Change{
		{What: "control reading", Was: old.Reading.String(), Now: now.Reading.String()},
		{What: "meter", Was: x.meterLabel(old.Meter), Now: x.meterLabel(now.Meter)},
		{What: "strip lot", Was: x.lotLabel(old.StripLot), Now: x.lotLabel(now.StripLot)},
		{What: "vial", Was: old.Vial, Now: now.Vial},
		{What: "control lot", Was: solution(old.ControlLot), Now: solution(now.ControlLot)},
		{What: "bottle", Was: old.Bottle, Now: now.Bottle},
		{What: "level", Was: old.Level, Now: now.Level},
		{What: "verdict", Was: old.Verdict, Now: now.Verdict},
	}
}

// takeOut takes a meter out when the runs as corrected ask for it, as a new run would.
func (x *correction) takeOut() error {
	ev, err := load[*event.State](x.work, event.Ref(x.ev.ID))
	if err != nil {
		return err
	}
	ids := make([]string, 0, len(x.meters))
	for id := range x.meters {
		ids = append(ids, id)
	}
	sort.Strings(ids)
	for _, id := range ids {
		m, err := load[*stock.Meter](x.work, stock.MeterRef(id))
		if err != nil {
			return err
		}
		runs := ev.RunsOf(id)
		if m.Quarantine != nil || len(runs) == 0 {
			continue
		}
		last := runs[len(runs)-1]
		lot, err := load[*stock.StripLot](x.work, stock.StripLotRef(last.StripLot))
		if err != nil {
			return err
		}
		c := clearance(ev, m, lot, last.Vial, x.proto)
		if c.Key != control.KeyTakeOut {
			continue
		}
		if _, err := x.append(stock.MeterRef(id), stock.MeterQuarantined{Event: ev.ID, Reason: c.Sentence}); err != nil {
			return err
		}
		x.out.Quarantine = m.Details.Label
	}
	return nil
}

// lookBack lists the readings whose meter was cleared at their moment before a correction and is not after it.
func lookBack(before, after *Day, meters map[string]bool) []LookBack {
	var out []LookBack
	for _, v := range after.Visits {
		for _, r := range v.Readings {
			if !meters[r.Meter] || r.Reading.Kind == glucose.Error || !clearedAt(before, r) || clearedAt(after, r) {
				continue
			}
			l := LookBack{Visit: v.ID, Ticket: v.Ticket, Reading: r.ID, Shown: shown(r.Reading), At: r.At, MayCall: MayCall(v), HasEnded: v.Phase().Ended()}
			if c, ok := v.Counting(); ok && c.ID == r.ID && v.Finding() != nil {
				l.Band = string(v.Finding().Band)
			}
			out = append(out, l)
		}
	}
	return out
}

// clearedAt tells whether a meter was cleared with the strips of a reading when that was taken.
func clearedAt(d *Day, r visit.Reading) bool {
	m, l := d.MeterByID(r.Meter), d.StripLotByID(r.StripLot)
	if m == nil || l == nil {
		return false
	}
	var runs []control.Run
	for _, run := range todaysRuns(d.Event, m.ID) {
		if !run.At.After(r.At) {
			runs = append(runs, run)
		}
	}
	var voids []control.Void
	for _, v := range m.Voids {
		if !v.At.After(r.At) {
			voids = append(voids, control.Void{Meter: m.ID, At: v.At, Cause: v.Cause})
		}
	}
	rule := control.Rule{Levels: d.Protocol.Controls.Levels, RunsWithoutCause: d.Protocol.Controls.RunsWithoutCause, EachVial: eachVial(l, d.Protocol)}
	return control.Clear(m.ID, l.ID, r.Vial, runs, voids, rule).Cleared
}

// clearances lists the meters, among those corrected, whose clearance changes.
func (x *correction) clearances(after *Day) {
	if len(x.meters) == 0 {
		return
	}
	day := after.Event.Day(x.now)
	type key struct{ meter, lot, vial string }
	old := map[key]control.Clearance{}
	for _, c := range x.before.Clearances(day) {
		old[key{c.Meter.ID, c.Lot.ID, c.Vial}] = c.Clearance
	}
	for _, c := range after.Clearances(day) {
		was := old[key{c.Meter.ID, c.Lot.ID, c.Vial}]
		if !x.meters[c.Meter.ID] || was.Key == c.Clearance.Key && was.Sentence == c.Clearance.Sentence {
			continue
		}
		x.out.Clearances = append(x.out.Clearances, ClearanceEffect{
			Meter: c.Meter.Details.Label, Lot: c.Lot.Details.Lot, Vial: c.Vial,
			Was: was.Sentence, Now: c.Clearance.Sentence, WasClear: was.Cleared, Clear: c.Clearance.Cleared,
		})
	}
}

// memory corrects several readings at once from the memories of their meters. Each that was typed counts as compared.
func (x *correction) memory() error {
	var f fields
	var same []string
	for _, v := range x.before.Visits {
		changed, again := false, false
		for _, old := range v.Readings {
			text := tidy(x.c.Values[old.ID])
			if text == "" {
				continue
			}
			r, err := glucose.ParseReading(text, old.Reading.Unit)
			if err == nil {
				err = x.proto.Plausible(r)
			}
			if err != nil {
				f.say("value-"+old.ID, "Ticket %03d: %s", v.Ticket, fault.Of(err).Sentence)
				continue
			}
			same = append(same, old.ID)
			if r == old.Reading {
				continue
			}
			b := old.ReadingTaken
			b.Reading = r
			changed, again = true, true
			x.touch(v.ID, fact.Change{What: "reading at " + x.clock(old.At), Was: shown(old.Reading), Now: shown(r)})
			if err := x.replace(visit.Ref(v.ID), old.ID, b); err != nil {
				return err
			}
			x.out.Differed++
		}
		if !changed {
			continue
		}
		if err := x.settle(v, again); err != nil {
			return err
		}
	}
	if err := f.err(); err != nil {
		return err
	}
	if len(same) == 0 {
		return fault.New(fault.Invalid, "nothing-compared", "Nothing was typed from the memory.", "An empty box was not compared.", "Type what the meter's memory shows beside at least one reading.")
	}
	x.out.Compared = len(same)
	_, err := x.append(event.Ref(x.ev.ID), event.ReadingsCompared{Readings: same, Differed: x.out.Differed, Reason: x.c.Reason, Signed: x.signed})
	return err
}

// careWords name what care is for.
var careWords = map[string]string{
	string(protocol.CriticalHigh): "critical, very high", string(protocol.CriticalLow): "critical, very low", string(protocol.Low): "low", causeSigns: "signs of a crisis",
}

// CareWord names what care is for in a few words.
func CareWord(cause string) string {
	if w, ok := careWords[cause]; ok {
		return w
	}
	return cause
}
