package programme

import (
	"context"
	"fmt"

	"fairstick/internal/event"
	"fairstick/internal/fault"
	"fairstick/internal/people"
	"fairstick/internal/protocol"
	"fairstick/internal/visit"
)

// The steps of care.
const (
	stepSupervisor = "supervisor" // a supervisor is with the person
	stepSigns      = "signs"      // signs of a crisis were asked
	stepSugar      = "sugar"      // fast sugar was given, or why not
	stepAction     = "action"     // what was done
	stepHandover   = "handover"   // to whom the person went
	stepArrived    = "arrived"    // the person is known to have arrived
)

// careActions are what can be done for a person with a critical reading or signs.
var careActions = []string{"emergency-called", "same-day-care", "stays-here", "declined-care"}

// CareStep is one act of care.
type CareStep struct {
	Act
	Visit, Step, Choice string
	Signs               []string
	Note                string
}

// CareStep records an act of care with its time. Any of the staff may: whoever is there writes it down.
func (p *Programme) CareStep(ctx context.Context, a Actor, c CareStep) (Done, error) {
	return do(ctx, p, a, c.Act, "visit.care-step", func(w *work) (Done, error) {
		if err := w.need(people.Roles...); err != nil {
			return Done{}, err
		}
		v, proto, err := w.caring(c.Visit)
		if err != nil {
			return Done{}, err
		}
		var f fields
		b := f.careStep(c, proto)
		if err := f.err(); err != nil {
			return Done{}, err
		}
		return Done{ID: v.ID}, w.careStep(v, b, proto)
	})
}

// careStep reads an act of care.
func (f *fields) careStep(c CareStep, proto protocol.Protocol) visit.CareStep {
	b := visit.CareStep{Step: c.Step, Choice: c.Choice}
	b.Note = f.text("note", "The note", c.Note, c.Step == stepHandover || c.Step == stepArrived, 200)
	switch c.Step {
	case stepSigns:
		for _, s := range c.Signs {
			if _, known := proto.Sign(s); !known {
				f.say("signs", "%q is not a sign in the protocol.", s)
			}
		}
		b.Signs = c.Signs
	case stepSugar:
		f.oneOf("choice", "Whether sugar was given", c.Choice, "given", "cannot-swallow", "refused")
	case stepAction:
		f.oneOf("choice", "What was done", c.Choice, careActions...)
	case stepHandover, stepArrived:
	default:
		f.say("step", "%q is not a step of care.", c.Step)
	}
	return b
}

// careStep records an act of care, live or from paper, and what it makes of the care and of the finding.
func (w *work) careStep(v *visit.State, b visit.CareStep, proto protocol.Protocol) error {
	if _, err := w.append(visit.Ref(v.ID), b); err != nil {
		return err
	}
	if b.Step == stepSugar && b.Choice == "cannot-swallow" {
		if err := w.worse(v, causeSigns, v.Care.Station); err != nil {
			return err
		}
	}
	return w.findAgain(v.ID, proto)
}

// causeSigns is the cause of care that was opened by what somebody saw, whatever the number says. No reading takes its
// place.
const causeSigns = "signs"

// worse opens care for a cause, or lets open care go on under it. Care for signs stays care for signs, and critical care
// is not made less.
func (w *work) worse(v *visit.State, cause, station string) error {
	if v.OpenCare() {
		if now := v.Care.Cause; now == cause || now == causeSigns || v.Care.Critical() && cause == string(protocol.Low) {
			return nil
		}
	}
	_, err := w.append(visit.Ref(v.ID), visit.CareOpened{Cause: cause, Station: station})
	return err
}

// findAgain records the finding anew when signs of a crisis seen since then make it another: symptoms outrank the number.
func (w *work) findAgain(visitID string, proto protocol.Protocol) error {
	v, err := load[*visit.State](w, visit.Ref(visitID))
	if err != nil || v.Found == nil || v.Found.Finding == nil || v.Found.Finding.Unwell == unwell(v) {
		return err
	}
	con, err := proto.Conclude(v.TakenReadings(), v.Sticks(), v.BasisAt(proto, v.Times.FirstRead), unwell(v))
	if err != nil {
		return err
	}
	_, err = w.append(visit.Ref(v.ID), found(con))
	return err
}

func found(con protocol.Conclusion) visit.Found {
	return visit.Found{Finding: con.Finding, Counts: con.Counts, Why: con.Why, Repeat: con.RepeatDue, Because: con.RepeatWhy}
}

// caring loads a visit with open care, ended or not, unless its event is closed.
func (w *work) caring(id string) (*visit.State, protocol.Protocol, error) {
	var none protocol.Protocol
	v, err := load[*visit.State](w, visit.Ref(id))
	if err != nil {
		return nil, none, err
	}
	ev, err := load[*event.State](w, event.Ref(v.Event))
	if err != nil {
		return nil, none, err
	}
	if ev.Phase == event.IsClosed && !v.OpenCare() { // a correction after closing can open care
		return nil, none, closedFault()
	}
	if !v.OpenCare() {
		return nil, none, refuse("no-care", fmt.Sprintf("No care is open for ticket %03d.", v.Ticket), "", "Nothing more to do here.")
	}
	proto, err := w.protocolOf(ev)
	return v, proto, err
}

// OpenCare calls for help for a person who looks unwell, whatever the number says.
type OpenCare struct {
	Act
	Visit, Station, Note string
}

// OpenCare opens care because of signs. Any of the staff may: symptoms outrank the number.
func (p *Programme) OpenCare(ctx context.Context, a Actor, c OpenCare) (Done, error) {
	return do(ctx, p, a, c.Act, "visit.open-care", func(w *work) (Done, error) {
		if err := w.need(people.Roles...); err != nil {
			return Done{}, err
		}
		v, err := load[*visit.State](w, visit.Ref(c.Visit))
		if err != nil {
			return Done{}, err
		}
		ev, err := w.openable(v.Event)
		if err != nil {
			return Done{}, err
		}
		proto, err := w.protocolOf(ev)
		if err != nil {
			return Done{}, err
		}
		if v.OpenCare() && v.Care.Cause == causeSigns {
			return Done{ID: v.ID}, nil
		}
		var f fields
		note := f.text("note", "What you see", c.Note, false, 200)
		if err := f.err(); err != nil {
			return Done{}, err
		}
		if _, err := w.append(visit.Ref(v.ID), visit.CareOpened{Cause: causeSigns, Station: c.Station, Note: note}); err != nil {
			return Done{}, err
		}
		return Done{ID: v.ID}, w.findAgain(v.ID, proto)
	})
}

// AttendCare is a supervisor's PIN on an alert: they are with the person.
type AttendCare struct {
	Act
	Visit string
	Sign  Sign
}

// AttendCare records that a supervisor is there.
func (p *Programme) AttendCare(ctx context.Context, a Actor, c AttendCare) (Done, error) {
	who, err := p.signed(ctx, c.Sign, people.Supervisor, people.Lead)
	if err != nil {
		return Done{}, err
	}
	return do(ctx, p, a, c.Act, "visit.attend-care", func(w *work) (Done, error) {
		v, _, err := w.caring(c.Visit)
		if err != nil {
			return Done{}, err
		}
		_, err = w.append(visit.Ref(v.ID), visit.CareStep{Step: stepSupervisor, Choice: who.ID})
		return Done{ID: v.ID}, err
	})
}

// SignCare ends care under a supervisor's name.
type SignCare struct {
	Act
	Visit, Note string
	Sign        Sign
}

// SignCare records the end of care once every step that it needs is written down.
func (p *Programme) SignCare(ctx context.Context, a Actor, c SignCare) (Done, error) {
	who, err := p.signed(ctx, c.Sign, people.Supervisor, people.Lead)
	if err != nil {
		return Done{}, err
	}
	return do(ctx, p, a, c.Act, "visit.sign-care", func(w *work) (Done, error) {
		v, proto, err := w.caring(c.Visit)
		if err != nil {
			return Done{}, err
		}
		if todo := CareToDo(v, proto); len(todo) > 0 {
			return Done{}, refuse("care-unfinished", fmt.Sprintf("The care of ticket %03d is not complete: %s", v.Ticket, todo[0].Sentence),
				"The record must show that the person was looked after to the end.", "Do it, write it down, then sign.")
		}
		var f fields
		note := f.text("note", "The note", c.Note, false, 300)
		if err := f.err(); err != nil {
			return Done{}, err
		}
		_, err = w.append(visit.Ref(v.ID), visit.CareSigned{Supervisor: who.ID, Note: note})
		return Done{ID: v.ID}, err
	})
}

// ToDo is a step of care that is still missing.
type ToDo struct {
	Step     string
	Sentence string
}

// CareToDo lists the steps of care that are missing before a supervisor may sign, in the order in which they are done.
func CareToDo(v *visit.State, proto protocol.Protocol) []ToDo {
	if !v.OpenCare() {
		return nil
	}
	var out []ToDo
	missing := func(step, sentence string) {
		if _, ok := v.Care.Last(step); !ok {
			out = append(out, ToDo{step, sentence})
		}
	}
	low := lowSugar(v)
	if v.Care.Critical() {
		missing(stepSupervisor, "A supervisor goes to the person and signs in here.")
		missing(stepSigns, "Ask for each sign of a crisis and write down the answers.")
	}
	if v.Found != nil && v.Found.Repeat && !unwell(v) && !v.Phase().Ended() {
		out = append(out, ToDo{"repeat", "Repeat the reading after washing, on another finger."})
	}
	if low {
		missing(stepSugar, "Give fast sugar if the person can swallow; write down what was done.")
		out = append(out, sugarToDo(v, proto)...)
	}
	if !v.Care.Critical() {
		return out
	}
	missing(stepAction, "Write down what was done for the person.")
	if act, ok := v.Care.Last(stepAction); ok && (act.Choice == "emergency-called" || act.Choice == "same-day-care") {
		missing(stepHandover, "Write down to whom the person went and how.")
		missing(stepArrived, "Write down that the person arrived, and who said so.")
	}
	return out
}

// sugarToDo is what sugar that was given still asks for, while the person is here: the reading after it, and more sugar when
// that is low again. When sugar was given as often as the protocol allows, the care has become critical.
func sugarToDo(v *visit.State, proto protocol.Protocol) []ToDo {
	s, ok := v.Care.Last(stepSugar)
	if !ok || s.Choice != "given" || v.Phase().Ended() {
		return nil
	}
	switch sugar := sugarOf(v, proto); {
	case sugar.Recheck == nil:
		return []ToDo{{"recheck", fmt.Sprintf("Read the glucose again %d minutes after the sugar.", proto.LowCare.RecheckMinutes)}}
	case sugar.StillLow && !sugar.Spent:
		return []ToDo{{stepSugar, "The recheck is still low: give sugar once more."}}
	}
	return nil
}

// lowSugar reports whether the care is for a low reading, also when signs seen later have made it more than that.
func lowSugar(v *visit.State) bool {
	for _, b := range []protocol.Band{protocol.Low, protocol.CriticalLow} {
		if v.Care.Cause == string(b) || v.Found != nil && v.Found.Finding != nil && v.Found.Finding.Band == b {
			return true
		}
	}
	return false
}

// careFaultFor refuses to finish a visit whose care has not come to an action yet.
func careFaultFor(v *visit.State, proto protocol.Protocol) *fault.Fault {
	if !v.OpenCare() {
		return nil
	}
	for _, t := range CareToDo(v, proto) {
		if t.Step == stepHandover || t.Step == stepArrived {
			continue
		}
		return refuse("care-open", fmt.Sprintf("Ticket %03d still needs care: %s", v.Ticket, t.Sentence), "Nobody leaves with a critical reading unattended.", "Open the alert and go on there.")
	}
	return nil
}
