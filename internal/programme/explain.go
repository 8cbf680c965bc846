package programme

import (
	"context"
	"fmt"
	"time"

	"fairstick/internal/about"
	"fairstick/internal/event"
	"fairstick/internal/fault"
	"fairstick/internal/people"
	"fairstick/internal/protocol"
	"fairstick/internal/visit"
)

// explainRoles may explain a finding.
var explainRoles = []people.Role{people.Counsellor, people.Supervisor, people.Lead}

// IssueSlip says that the result slip was handed over.
type IssueSlip struct {
	Act
	Visit, Language, Size string
}

// IssueSlip records the slip with the finding that it shows.
func (p *Programme) IssueSlip(ctx context.Context, a Actor, c IssueSlip) (Done, error) {
	return do(ctx, p, a, c.Act, "visit.slip", func(w *work) (Done, error) {
		v, err := w.explaining(c.Visit)
		if err != nil {
			return Done{}, err
		}
		var f fields
		f.oneOf("language", "The language", c.Language, Languages...)
		f.oneOf("size", "The paper", c.Size, "half-letter", "a5", "screen")
		if err := f.err(); err != nil {
			return Done{}, err
		}
		_, err = w.append(visit.Ref(v.ID), visit.SlipIssued{Language: c.Language, Size: c.Size, Finding: v.FoundID})
		return Done{ID: v.ID}, err
	})
}

// explaining loads a visit that has a finding and asks for a person who may explain it.
func (w *work) explaining(id string) (*visit.State, error) {
	if err := w.need(explainRoles...); err != nil {
		return nil, err
	}
	v, ev, err := w.live(id)
	if err != nil {
		return nil, err
	}
	if w.me != nil && !w.me.Has(people.Supervisor) && !w.me.Has(people.Lead) {
		proto, err := w.protocolOf(ev)
		if err != nil {
			return nil, err
		}
		if err := w.verified(w.me, people.Counsellor, ev, proto, ev.Day(w.at)); err != nil {
			return nil, err
		}
	}
	if v.Phase() != visit.AtExplain {
		return nil, fault.New(fault.Conflict, "no-finding", fmt.Sprintf("Ticket %03d has no finding to explain; it is at the step %s.", v.Ticket, v.Phase()),
			"Only a result that stands is explained.", "Load the list again.")
	}
	return v, nil
}

// Refer is the advice to see someone.
type Refer struct {
	Act
	Visit, Route string
	Agreed       bool
}

// Refer records the advice, the day by which the finding asks for it, and the permission to call given at the desk.
func (p *Programme) Refer(ctx context.Context, a Actor, c Refer) (Done, error) {
	return do(ctx, p, a, c.Act, "visit.refer", func(w *work) (Done, error) {
		v, err := w.explaining(c.Visit)
		if err != nil {
			return Done{}, err
		}
		if !v.Finding().Refer {
			return Done{}, refuse("no-referral", "This finding does not ask for a referral.", "", "Give the advice on the slip.")
		}
		var f fields
		route := f.text("route", "The place", c.Route, true, 80)
		if err := f.err(); err != nil {
			return Done{}, err
		}
		return Done{ID: v.ID}, w.refer(v, route, c.Agreed)
	})
}

// refer records a referral with the day by which the finding asks for it.
func (w *work) refer(v *visit.State, route string, agreed bool) error {
	by := w.at.AddDate(0, 0, v.Finding().WithinDays)
	_, err := w.append(visit.Ref(v.ID), visit.Referred{Route: route, By: by.Truncate(time.Minute), Agreed: agreed, Call: v.Call})
	return err
}

// Explain says that the finding was explained, and how the teach-back went.
type Explain struct {
	Act
	Visit, Language, TeachBack, Station string
}

// Explain records the explanation.
func (p *Programme) Explain(ctx context.Context, a Actor, c Explain) (Done, error) {
	return do(ctx, p, a, c.Act, "visit.explain", func(w *work) (Done, error) {
		v, err := w.explaining(c.Visit)
		if err != nil {
			return Done{}, err
		}
		var f fields
		f.oneOf("language", "The language", c.Language, Languages...)
		f.oneOf("teach_back", "The teach-back", c.TeachBack, "own-words", "again", "not-asked")
		station := f.text("station", "The station", c.Station, false, 12)
		if err := f.err(); err != nil {
			return Done{}, err
		}
		_, err = w.append(visit.Ref(v.ID), visit.Explained{Language: c.Language, TeachBack: c.TeachBack, Station: station})
		return Done{ID: v.ID}, err
	})
}

// FinishVisit ends a visit that went its whole way. Answers are those to the optional questions of the end; without any they were passed over.
type FinishVisit struct {
	Act
	Visit   string
	Answers about.Answers
}

// FinishVisit ends the visit once it was explained, the slip handed over, a referral written down where the finding asks
// for one, and no care is waiting for an act.
func (p *Programme) FinishVisit(ctx context.Context, a Actor, c FinishVisit) (Done, error) {
	return do(ctx, p, a, c.Act, "visit.finish", func(w *work) (Done, error) {
		v, err := w.explaining(c.Visit)
		if err != nil {
			return Done{}, err
		}
		ev, err := load[*event.State](w, event.Ref(v.Event))
		if err != nil {
			return Done{}, err
		}
		proto, err := w.protocolOf(ev)
		if err != nil {
			return Done{}, err
		}
		if err := firstShut(FinishGates(v, proto)); err != nil {
			return Done{}, err
		}
		if err := w.tellAbout(v.ID, true, c.Answers); err != nil {
			return Done{}, err
		}
		_, err = w.append(visit.Ref(v.ID), visit.Finished{})
		return Done{ID: v.ID}, err
	})
}

// FinishGates are the conditions for ending a visit at the station Explain.
func FinishGates(v *visit.State, proto protocol.Protocol) []Gate {
	ticket := fmt.Sprintf("Ticket %03d", v.Ticket)
	gates := []Gate{gate("care", "Care", careFaultFor(v, proto))}
	var slip, refer, explained *fault.Fault
	if len(v.Slips) == 0 || v.Slips[len(v.Slips)-1].Finding != v.FoundID {
		slip = refuse("no-slip", ticket+" has no slip of this finding yet.", "The participant takes home what was found.", "Hand over the slip and say so here.")
	}
	if f := v.Finding(); f != nil && f.Refer && v.Referral == nil {
		refer = refuse("not-referred", ticket+" has not been referred.", "A raised reading helps only those who reach care.", "Choose the place and ask whether the participant agrees.")
	}
	switch {
	case v.Explained != nil && v.Told != v.FoundID:
		explained = refuse("not-explained-again", ticket+" has another finding since it was explained.", "What was said before may be wrong.", "Explain the new finding and ask for it back in the participant's own words.")
	case v.Explained == nil:
		explained = refuse("not-explained", ticket+" has not been explained.", "A number without words can frighten or mislead.", "Explain the finding and ask for it back in the participant's own words.")
	}
	return append(gates, gate("explained", "Explained", explained), gate("referral", "Referral", refer), gate("slip", "Slip", slip))
}
