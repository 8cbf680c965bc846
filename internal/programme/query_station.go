package programme

import (
	"sort"
	"time"

	"fairstick/internal/civil"
	"fairstick/internal/fault"
	"fairstick/internal/glucose"
	"fairstick/internal/protocol"
	"fairstick/internal/stock"
	"fairstick/internal/visit"
)

// Asking is how far the questions of the desk have come.
type Asking struct {
	Question  *protocol.Question // the next one; nil when nothing more is asked
	Number    int                // of this question, from 1
	Of        int                // how many there are at most
	Wrong     string             // what is wrong with the answer that was given to it
	Screening protocol.Screening // what the answers lead to, once nothing more is asked
}

// Asking tells which question comes next after the answers so far. An optional question that was passed over is in the
// answers with an empty text. Nothing more is asked once an answer excludes, or names a sign of a crisis.
func (d *Day) Asking(a protocol.Answers) Asking {
	s, err := d.Protocol.Screen(a)
	out := Asking{Of: len(d.Protocol.Questions), Screening: s}
	if err == nil && !s.Eligible {
		return out
	}
	var wrong map[string]string
	if err != nil {
		wrong = fault.Of(err).Fields
	}
	for i := range d.Protocol.Questions {
		q := &d.Protocol.Questions[i]
		given, asked := a[q.Key]
		if asked && wrong[q.Key] == "" {
			continue
		}
		out.Question, out.Number = q, i+1
		if given != "" {
			out.Wrong = wrong[q.Key]
		}
		return out
	}
	return out
}

// CheckReading reads what was typed for a meter and asks the protocol whether it can be believed, before it is typed a
// second time. The error is a *fault.Fault on the field "reading".
func (d *Day) CheckReading(meter, text string) (glucose.Reading, error) {
	m := d.MeterByID(meter)
	if m == nil {
		return glucose.Reading{}, missing(stock.MeterRef(meter))
	}
	r, err := glucose.ParseReading(text, m.Details.Unit)
	if err == nil {
		err = d.Protocol.Plausible(r)
	}
	if err != nil {
		return r, fault.Of(err).Field("reading", fault.Of(err).Sentence)
	}
	return r, nil
}

// countedSticks counts the fingersticks of a visit that the protocol's limit looks at: a recheck after sugar is care.
func countedSticks(v *visit.State) int {
	n := 0
	for _, r := range v.Readings {
		if r.NewStick && r.Purpose != visit.Recheck {
			n++
		}
	}
	return n
}

// NextStick tells how many fingersticks a participant has had, and whether a supervisor must agree before the next.
func (d *Day) NextStick(v *visit.State) (had int, agree bool) {
	had = countedSticks(v)
	return had, had >= d.Protocol.Repeat.MaxSticks && !d.RecheckDue(v)
}

// RecheckDue reports whether sugar was given and the reading after it is still missing.
func (d *Day) RecheckDue(v *visit.State) bool {
	return v.OpenCare() && recheckDue(v) && d.Sugar(v).Recheck == nil
}

// Rechecks lists the visits whose reading after sugar is still missing, the one due first at the top.
func (d *Day) Rechecks() []*visit.State {
	var out []*visit.State
	for _, v := range d.Alerts() {
		if d.RecheckDue(v) && !v.Phase().Ended() {
			out = append(out, v)
		}
	}
	sort.SliceStable(out, func(i, j int) bool { return d.Sugar(out[i]).Due.Before(d.Sugar(out[j]).Due) })
	return out
}

// Sugar is how the care for a low reading goes.
type Sugar struct {
	Given    int            // how often sugar was given
	Last     time.Time      // when it was given last; zero for never
	Due      time.Time      // when the recheck is due
	Recheck  *visit.Reading // the value taken when it was due, or later; nil while it is missing
	StillLow bool           // that value is low
	Spent    bool           // sugar was given as often as the protocol allows
}

// Sugar tells how the care for a low reading goes.
func (d *Day) Sugar(v *visit.State) Sugar { return sugarOf(v, d.Protocol) }

func sugarOf(v *visit.State, proto protocol.Protocol) Sugar {
	var s Sugar
	if v.Care == nil {
		return s
	}
	for _, step := range v.Care.Steps {
		if step.Step == stepSugar && step.Choice == "given" {
			s.Given, s.Last = s.Given+1, step.At
		}
	}
	if s.Given == 0 {
		return s
	}
	s.Due = s.Last.Add(time.Duration(proto.LowCare.RecheckMinutes) * time.Minute)
	s.Spent = s.Given >= proto.LowCare.MostRounds
	for i := range v.Readings {
		if r := &v.Readings[i]; isRecheckValue(*r) && !r.At.Before(s.Due) { // one before its time does not show whether the sugar works
			s.Recheck = r
		}
	}
	if s.Recheck != nil {
		f, err := proto.Find(s.Recheck.Reading, protocol.Random)
		s.StillLow = err == nil && (f.Band == protocol.Low || f.Band == protocol.CriticalLow)
	}
	return s
}

func isRecheckValue(r visit.Reading) bool {
	return r.Purpose == visit.Recheck && r.Reading.Kind != glucose.Error
}

// VialsFor lists every vial that may be used on a day with a meter, of the lots brought, and whether the meter is cleared
// with it.
func (d *Day) VialsFor(meter string, day civil.Date) []MeterLot {
	m := d.MeterByID(meter)
	if m == nil {
		return nil
	}
	var out []MeterLot
	for _, l := range d.BroughtLots() {
		if !l.Fits(m.Details.Model) || l.Withdrawn != "" || l.Shelf.Standing() != nil {
			continue
		}
		for _, v := range l.OpenVials(day) {
			out = append(out, MeterLot{Meter: m, Lot: l, Vial: v.Name, Clearance: d.Clearance(m.ID, l.ID, v.Name)})
		}
	}
	return out
}

// WipesFor lists the disinfectants in date that the review of a meter allows.
func (d *Day) WipesFor(meter string, day civil.Date) []*stock.Disinfectant {
	m := d.MeterByID(meter)
	if m == nil {
		return nil
	}
	var out []*stock.Disinfectant
	for _, x := range d.Disinfectants {
		if m.Allows(x.ID) && stock.Expired(x.Details.Name, x.Details.Expiry, day) == "" {
			out = append(out, x)
		}
	}
	return out
}

// ClearedUp reports whether the lancets of a visit are in sharps and its last meter was wiped after the last reading.
func (d *Day) ClearedUp(v *visit.State) bool {
	if len(v.Readings) == 0 {
		return true
	}
	last := v.Readings[len(v.Readings)-1]
	w, ok := d.Event.Wipes[last.Meter]
	return v.Binned >= v.Sticks()+v.Misfires() && ok && !w.Start.Before(last.At)
}

// ReferralPlaces lists where the participants of this event can be referred to: for a finding of today the place for
// same-day care comes first.
func (d *Day) ReferralPlaces(f *protocol.Finding) []string {
	var out []string
	if u := d.Event.Plan.Urgent; u.Name != "" && f != nil && f.Urgency.Order() >= protocol.Today.Order() {
		out = append(out, u.Name)
	}
	for _, r := range d.Event.Plan.Routes {
		out = append(out, r.Name)
	}
	return out
}
