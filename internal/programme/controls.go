package programme

import (
	"cmp"
	"context"
	"fmt"
	"strings"

	"fairstick/internal/civil"
	"fairstick/internal/control"
	"fairstick/internal/event"
	"fairstick/internal/fault"
	"fairstick/internal/glucose"
	"fairstick/internal/people"
	"fairstick/internal/protocol"
	"fairstick/internal/stock"
)

// OpenVial says that a vial of strips was opened on a day; an empty day is today.
type OpenVial struct {
	Act
	StripLot, Vial, On string
}

// OpenVial records a vial with the day of opening. Any of the staff may.
func (p *Programme) OpenVial(ctx context.Context, a Actor, c OpenVial) (Done, error) {
	return do(ctx, p, a, c.Act, "strip-lot.open", func(w *work) (Done, error) {
		if err := w.need(people.Roles...); err != nil {
			return Done{}, err
		}
		lot, err := load[*stock.StripLot](w, stock.StripLotRef(c.StripLot))
		if err != nil {
			return Done{}, err
		}
		name, on, err := w.container(c.Vial, c.On, "vial", len(lot.Vials))
		if err != nil {
			return Done{}, err
		}
		if _, taken := lot.Vial(name); taken {
			return Done{}, fault.BadField("vial", "Vial %s of lot %s is written down already. Give this one another name.", name, lot.Details.Lot)
		}
		if f := heldFault("Strip lot "+lot.Details.Lot, &lot.Shelf, w.at); f != nil {
			return Done{}, f
		}
		if s := stock.Expired("Strip lot "+lot.Details.Lot, lot.Details.Expiry, on); s != "" {
			return Done{}, refuse("strips-expired", s, "Old strips read wrong.", "Put this lot away.")
		}
		_, err = w.append(stock.StripLotRef(lot.ID), stock.VialOpened{Vial: name, On: on})
		return Done{ID: lot.ID}, err
	})
}

// OpenBottle says that a bottle of control solution was opened on a day; an empty day is today.
type OpenBottle struct {
	Act
	ControlLot, Bottle, On string
}

// OpenBottle records a bottle with the day of opening. Any of the staff may.
func (p *Programme) OpenBottle(ctx context.Context, a Actor, c OpenBottle) (Done, error) {
	return do(ctx, p, a, c.Act, "control-lot.open", func(w *work) (Done, error) {
		if err := w.need(people.Roles...); err != nil {
			return Done{}, err
		}
		lot, err := load[*stock.ControlLot](w, stock.ControlLotRef(c.ControlLot))
		if err != nil {
			return Done{}, err
		}
		name, on, err := w.container(c.Bottle, c.On, "bottle", len(lot.Bottles))
		if err != nil {
			return Done{}, err
		}
		if _, taken := lot.Bottle(name); taken {
			return Done{}, fault.BadField("bottle", "Bottle %s of lot %s is written down already. Give this one another name.", name, lot.Details.Lot)
		}
		if f := heldFault("Control lot "+lot.Details.Lot, &lot.Shelf, w.at); f != nil {
			return Done{}, f
		}
		if s := stock.Expired("Control lot "+lot.Details.Lot, lot.Details.Expiry, on); s != "" {
			return Done{}, refuse("control-expired", s, "An old control proves nothing.", "Put this lot away.")
		}
		_, err = w.append(stock.ControlLotRef(lot.ID), stock.BottleOpened{Bottle: name, On: on})
		return Done{ID: lot.ID}, err
	})
}

// Throw says that a vial or bottle is used up or thrown away.
type Throw struct {
	Act
	Lot, Container, Reason string
}

// ThrowVial records the end of a vial. Any of the staff may.
func (p *Programme) ThrowVial(ctx context.Context, a Actor, c Throw) (Done, error) {
	return do(ctx, p, a, c.Act, "strip-lot.throw", func(w *work) (Done, error) {
		lot, err := load[*stock.StripLot](w, stock.StripLotRef(c.Lot))
		if err != nil {
			return Done{}, err
		}
		v, known := lot.Vial(c.Container)
		reason, err := w.thrown(c, known && v.Discarded == "", "Vial")
		if err != nil {
			return Done{}, err
		}
		_, err = w.append(stock.StripLotRef(lot.ID), stock.VialDiscarded{Vial: v.Name, Reason: reason})
		return Done{ID: lot.ID}, err
	})
}

// ThrowBottle records the end of a bottle. Any of the staff may.
func (p *Programme) ThrowBottle(ctx context.Context, a Actor, c Throw) (Done, error) {
	return do(ctx, p, a, c.Act, "control-lot.throw", func(w *work) (Done, error) {
		lot, err := load[*stock.ControlLot](w, stock.ControlLotRef(c.Lot))
		if err != nil {
			return Done{}, err
		}
		b, known := lot.Bottle(c.Container)
		reason, err := w.thrown(c, known && b.Discarded == "", "Control bottle")
		if err != nil {
			return Done{}, err
		}
		_, err = w.append(stock.ControlLotRef(lot.ID), stock.BottleDiscarded{Bottle: b.Name, Reason: reason})
		return Done{ID: lot.ID}, err
	})
}

func (w *work) thrown(c Throw, there bool, word string) (string, error) {
	if err := w.need(people.Roles...); err != nil {
		return "", err
	}
	if !there {
		return "", refuse("not-open-container", word+" "+c.Container+" is not open.", "", "Load the page again.")
	}
	var f fields
	reason := f.text("reason", "The reason", c.Reason, true, 120)
	return reason, f.err()
}

// CompareCode is the code that a meter shows, for comparison with a lot's vial.
type CompareCode struct {
	Act
	Event, Meter, StripLot, Shown string
}

// CompareCode records the code on a meter. A code that differs is recorded too: it shuts the gate.
func (p *Programme) CompareCode(ctx context.Context, a Actor, c CompareCode) (Done, error) {
	return do(ctx, p, a, c.Act, "event.code", func(w *work) (Done, error) {
		if err := w.need(people.Roles...); err != nil {
			return Done{}, err
		}
		if _, err := w.openable(c.Event); err != nil {
			return Done{}, err
		}
		if _, err := load[*stock.Meter](w, stock.MeterRef(c.Meter)); err != nil {
			return Done{}, err
		}
		if _, err := load[*stock.StripLot](w, stock.StripLotRef(c.StripLot)); err != nil {
			return Done{}, err
		}
		var f fields
		shown := f.text("shown", "The code on the meter", c.Shown, true, 12)
		if err := f.err(); err != nil {
			return Done{}, err
		}
		_, err := w.append(event.Ref(c.Event), event.CodeCompared{Meter: c.Meter, StripLot: c.StripLot, Shown: shown})
		return Done{ID: c.Event}, err
	})
}

// RunControl is one control test on one meter.
type RunControl struct {
	Act
	Event, Meter, StripLot, Vial, ControlLot, Bottle string
	Reading                                          string // as the meter shows it
}

// Ran is the verdict of a control run.
type Ran struct {
	ID      string `json:"id"`
	Verdict string `json:"verdict"`
	Low     string `json:"low"`
	High    string `json:"high"`
	Level   string `json:"level"`
	Shown   string `json:"shown"`
	Next    string `json:"next"` // what to do now, in a sentence
}

// RunControl records a control run and judges it against the range printed for this strip lot. The operator must be
// verified as a screener, or be a supervisor or lead.
func (p *Programme) RunControl(ctx context.Context, a Actor, c RunControl) (Ran, error) {
	return do(ctx, p, a, c.Act, "event.control-run", func(w *work) (Ran, error) {
		ev, err := w.openable(c.Event)
		if err != nil {
			return Ran{}, err
		}
		proto, err := w.protocolOf(ev)
		if err != nil {
			return Ran{}, err
		}
		meter, err := load[*stock.Meter](w, stock.MeterRef(c.Meter))
		if err != nil {
			return Ran{}, err
		}
		lot, err := load[*stock.StripLot](w, stock.StripLotRef(c.StripLot))
		if err != nil {
			return Ran{}, err
		}
		sol, err := load[*stock.ControlLot](w, stock.ControlLotRef(c.ControlLot))
		if err != nil {
			return Ran{}, err
		}
		if err := w.controlGates(ev, c, meter, lot, sol); err != nil {
			return Ran{}, err
		}
		if w.me != nil && !w.me.Has(people.Supervisor) && !w.me.Has(people.Lead) {
			has, err := w.trained(w.me.ID, ev.Zone(), meter)
			if err != nil {
				return Ran{}, err
			}
			if err := verified(w.me, has, people.Screener, proto, ev.Day(w.at)); err != nil {
				return Ran{}, err
			}
		}
		r, err := glucose.ParseReading(c.Reading, meter.Details.Unit)
		if err != nil {
			return Ran{}, err
		}
		if err := proto.Plausible(r); err != nil {
			return Ran{}, err
		}
		return w.ran(ev, c, r, meter, lot, sol, proto)
	})
}

// ran records a control run, live or from paper, judged against the range printed for its strip lot. A meter that misses
// too often is quarantined.
func (w *work) ran(ev *event.State, c RunControl, r glucose.Reading, meter *stock.Meter, lot *stock.StripLot, sol *stock.ControlLot, proto protocol.Protocol) (Ran, error) {
	rng := lot.Details.Ranges[sol.Details.Level]
	verdict, err := control.Judge(r, rng.Low, rng.High)
	if err != nil {
		return Ran{}, err
	}
	run := event.ControlRun{
		Meter: meter.ID, StripLot: lot.ID, Vial: c.Vial, ControlLot: sol.ID, Bottle: c.Bottle,
		Level: sol.Details.Level, Reading: r, Low: rng.Low, High: rng.High, Verdict: string(verdict),
	}
	if n := len(ev.Rooms); n > 0 {
		t := ev.Rooms[n-1].Celsius
		run.Celsius = &t
	}
	rec, err := w.append(event.Ref(ev.ID), run)
	if err != nil {
		return Ran{}, err
	}
	ev, err = load[*event.State](w, event.Ref(ev.ID))
	if err != nil {
		return Ran{}, err
	}
	clear := clearance(ev, meter, lot, c.Vial, proto)
	if clear.Key == "take-out" {
		if _, err := w.append(stock.MeterRef(meter.ID), stock.MeterQuarantined{Event: ev.ID, Reason: clear.Sentence}); err != nil {
			return Ran{}, err
		}
	}
	return Ran{
		ID: rec.ID, Verdict: string(verdict), Low: rng.Low.Number(), High: rng.High.Number(), Level: run.Level,
		Shown: r.Shown(), Next: nextAfterRun(meter, verdict, clear),
	}, nil
}

func nextAfterRun(m *stock.Meter, verdict control.Verdict, c control.Clearance) string {
	label := m.Details.Label
	switch {
	case c.Cleared:
		return "Meter " + label + " is cleared with these strips."
	case c.Key == "take-out":
		return "Meter " + label + " is out: put it in the quarantine bag and tell the lead."
	case verdict == control.InRange && len(c.Missing) > 0:
		return "In range. Now run level " + strings.Join(c.Missing, " and ") + " on meter " + label + "."
	case verdict == control.InRange:
		return c.Sentence
	}
	return "Stop testing on meter " + label + ". Check expiry, code, level, temperature and technique; write the cause; run it again."
}

func (w *work) controlGates(ev *event.State, c RunControl, meter *stock.Meter, lot *stock.StripLot, sol *stock.ControlLot) error {
	if err := w.need(people.Screener, people.Supervisor, people.Lead); err != nil {
		return err
	}
	day := ev.Day(w.at)
	label := meter.Details.Label
	rng, ranged := lot.Details.Ranges[sol.Details.Level]
	switch {
	case !ev.Brought(meter.ID):
		return refuse("meter-not-brought", "Meter "+label+" is not on the list of meters brought today.", "", "Add it under Stock brought first.")
	case meter.Quarantine != nil:
		return refuse("quarantined", "Meter "+label+" is in quarantine.", "It stays out until somebody has found out why.", "Use another meter; a lead returns this one under Meters.")
	case !lot.Fits(meter.Details.Model):
		return refuse("strips-fit", fmt.Sprintf("Strip lot %s does not fit meter %s.", lot.Details.Lot, label), "", "Choose strips made for this meter.")
	case !sol.FitsModel(meter.Details.Model):
		return refuse("control-fit", fmt.Sprintf("Control lot %s is not made for meter %s.", sol.Details.Lot, label), "", "Choose the control solution made for this meter.")
	case !ranged || rng.Low.Unit != meter.Details.Unit:
		return refuse("no-range", fmt.Sprintf("Lot %s has no printed range for level %s in %s.", lot.Details.Lot, sol.Details.Level, meter.Details.Unit),
			"A control is judged only against the range printed for its strip lot.", "Type the range from the vial under Strip lots.")
	}
	if f := cmp.Or(heldFault("Strip lot "+lot.Details.Lot, &lot.Shelf, w.at), heldFault("Control lot "+sol.Details.Lot, &sol.Shelf, w.at)); f != nil {
		return f
	}
	if s := lot.Usable(c.Vial, day); s != "" {
		return refuse("strips-use", s, "Old strips read wrong.", "Put this vial away and open a new one.")
	}
	if s := sol.Usable(c.Bottle, day); s != "" {
		return refuse("control-use", s, "An old control proves nothing.", "Put this bottle away and open a new one.")
	}
	t := testing{ev: ev, meter: meter, lot: lot}
	if f := t.codeFault(); f != nil {
		return f
	}
	return errOf(roomFault(ev, meter))
}

func errOf(f *fault.Fault) error {
	if f == nil {
		return nil
	}
	return f
}

// AssignCause says why a control run was out of range and what was done about it.
type AssignCause struct {
	Act
	Event, Run, Cause, Action string
}

// AssignCause records the corrective action on a failed run. The operator must hold the role screener, supervisor or lead.
func (p *Programme) AssignCause(ctx context.Context, a Actor, c AssignCause) (Done, error) {
	return do(ctx, p, a, c.Act, "event.cause", func(w *work) (Done, error) {
		if err := w.need(people.Screener, people.Supervisor, people.Lead); err != nil {
			return Done{}, err
		}
		ev, err := w.openable(c.Event)
		if err != nil {
			return Done{}, err
		}
		var f fields
		cause := f.text("cause", "The cause", c.Cause, true, 120)
		action := f.text("action", "What was done", c.Action, true, 200)
		found := false
		for _, r := range ev.Runs {
			found = found || (r.ID == c.Run && r.Verdict != string(control.InRange))
		}
		if !found {
			f.say("run", "This run is not among the failed runs of the event.")
		}
		if err := f.err(); err != nil {
			return Done{}, err
		}
		_, err = w.append(event.Ref(c.Event), event.CauseAssigned{Run: c.Run, Cause: cause, Action: action})
		return Done{ID: c.Run}, err
	})
}

// VoidMeter says that something happened to a meter, so that its controls must be run again.
type VoidMeter struct {
	Act
	Event, Meter, Cause, Note string
}

// VoidMeter ends a meter's clearance. Any of the staff may: whoever dropped it should say so.
func (p *Programme) VoidMeter(ctx context.Context, a Actor, c VoidMeter) (Done, error) {
	return do(ctx, p, a, c.Act, "meter.void", func(w *work) (Done, error) {
		if err := w.need(people.Roles...); err != nil {
			return Done{}, err
		}
		if _, err := load[*stock.Meter](w, stock.MeterRef(c.Meter)); err != nil {
			return Done{}, err
		}
		var f fields
		causes := make([]string, len(stock.VoidCauses))
		for i, k := range stock.VoidCauses {
			causes[i] = string(k)
		}
		f.oneOf("cause", "What happened", c.Cause, causes...)
		note := f.text("note", "The note", c.Note, false, 120)
		if err := f.err(); err != nil {
			return Done{}, err
		}
		_, err := w.append(stock.MeterRef(c.Meter), stock.MeterVoided{Event: c.Event, Cause: stock.VoidCause(c.Cause), Note: note})
		return Done{ID: c.Meter}, err
	})
}

// QuarantineMeter takes a meter out.
type QuarantineMeter struct {
	Act
	Event, Meter, Reason string
}

// QuarantineMeter records that a meter is out. A screener, supervisor or lead may.
func (p *Programme) QuarantineMeter(ctx context.Context, a Actor, c QuarantineMeter) (Done, error) {
	return do(ctx, p, a, c.Act, "meter.quarantine", func(w *work) (Done, error) {
		if err := w.need(people.Screener, people.Supervisor, people.Lead); err != nil {
			return Done{}, err
		}
		m, err := load[*stock.Meter](w, stock.MeterRef(c.Meter))
		if err != nil {
			return Done{}, err
		}
		if m.Quarantine != nil {
			return Done{}, refuse("quarantined", "Meter "+m.Details.Label+" is in quarantine already.", "", "Nothing more to do.")
		}
		var f fields
		reason := f.text("reason", "The reason", c.Reason, true, 200)
		if err := f.err(); err != nil {
			return Done{}, err
		}
		_, err = w.append(stock.MeterRef(c.Meter), stock.MeterQuarantined{Event: c.Event, Reason: reason})
		return Done{ID: c.Meter}, err
	})
}

// WipeMeter says that a meter was wiped now and must stay wet for the time on the disinfectant's label.
type WipeMeter struct {
	Act
	Event, Meter, Disinfectant string
}

// Wiped is how long the surface must stay wet.
type Wiped struct {
	Seconds int `json:"seconds"`
}

// WipeMeter records a disinfection with a product that the meter's instructions allow.
func (p *Programme) WipeMeter(ctx context.Context, a Actor, c WipeMeter) (Wiped, error) {
	return do(ctx, p, a, c.Act, "event.wipe", func(w *work) (Wiped, error) {
		if err := w.need(people.Roles...); err != nil {
			return Wiped{}, err
		}
		ev, err := w.openable(c.Event)
		if err != nil {
			return Wiped{}, err
		}
		return w.wipe(ev, c.Meter, c.Disinfectant)
	})
}

func (w *work) wipe(ev *event.State, meterID, disinfectant string) (Wiped, error) {
	m, err := load[*stock.Meter](w, stock.MeterRef(meterID))
	if err != nil {
		return Wiped{}, err
	}
	d, err := load[*stock.Disinfectant](w, stock.DisinfectantRef(disinfectant))
	if err != nil {
		return Wiped{}, err
	}
	if !m.Allows(d.ID) {
		return Wiped{}, refuse("disinfectant-not-allowed", fmt.Sprintf("The instructions of meter %s do not name %s.", m.Details.Label, d.Details.Name),
			"The wrong product can damage the meter or leave it infected.", "Use the product in the meter's review.")
	}
	if f := heldFault(d.Details.Name, &d.Shelf, w.at); f != nil {
		return Wiped{}, f
	}
	if s := stock.Expired(d.Details.Name, d.Details.Expiry, ev.Day(w.at)); s != "" {
		return Wiped{}, refuse("disinfectant-expired", s, "It may no longer work.", "Open another container.")
	}
	_, err = w.append(event.Ref(ev.ID), event.MeterWiped{Meter: m.ID, Disinfectant: d.ID, Seconds: d.Details.ContactSeconds})
	return Wiped{Seconds: d.Details.ContactSeconds}, err
}

// container reads the name and the day of a newly opened vial or bottle. Without a name it is numbered; without a day it
// was opened today.
func (w *work) container(name, on, field string, before int) (string, civil.Date, error) {
	var f fields
	n := f.text(field, "The name on the "+field, name, false, 20)
	if n == "" {
		n = fmt.Sprint(before + 1)
	}
	day := civil.Of(w.at)
	if tidy(on) != "" {
		day = f.date("on", "The day of opening", on, true)
		if day.After(civil.Of(w.at)) {
			f.say("on", "%s has not come yet. Type the day on which the %s was opened.", day.Long(), field)
		}
	}
	return n, day, f.err()
}
