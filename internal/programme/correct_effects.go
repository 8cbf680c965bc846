package programme

import (
	"slices"
	"time"

	"fairstick/internal/protocol"
	"fairstick/internal/visit"
)

// VisitEffect is what a correction does to one visit.
type VisitEffect struct {
	Visit  string
	Ticket int

	Was, Now             *protocol.Finding // nil: no result stands
	WasRepeat, Repeat    bool              // a repeat is due before a result is given
	Because              string            // why a repeat is due
	WasCounts, NowCounts string            // the value that counts
	Why                  string            // why it counts
	PhaseWas, PhaseNow   visit.Phase

	CareOpens string // the cause; empty when no care opens
	CareStays string // care that is open for a cause that the corrected readings do not show any more

	Slip     time.Time // when the slip was handed out that must be replaced; zero when none must
	SlipBack bool      // a slip was handed out and no result stands any more

	Refer   *ReferEffect // nil when the advice stays as it is
	Gone    bool         // the person is not here any more
	MayCall bool
	NoFit   string // what the corrected reading does not agree with: a meter that was not cleared, barred strips
}

// ReferEffect is how the advice to see someone changes. By is the day, empty when none is asked for.
type ReferEffect struct {
	Was, Now   bool // a referral is asked for
	WasBy, By  string
	Route      string
	Unreferred bool // it is asked for and nobody has agreed a place with the person yet
}

// EqualityEffect is a sum of the closing page whose difference changes.
type EqualityEffect struct {
	Name, Was, Now string
	WasOff, Off    int
}

// BandChanges reports whether the visit's result is another one.
func (e VisitEffect) BandChanges() bool {
	if e.Was == nil || e.Now == nil {
		return e.Was != e.Now
	}
	return e.Was.Band != e.Now.Band || e.Was.Unwell != e.Now.Unwell
}

// effects compares the day before and after a correction.
func (x *correction) effects(after *Day) {
	for _, id := range x.touched {
		x.out.Visits = append(x.out.Visits, x.effect(x.before.Visit(id), after.Visit(id), after))
	}
	x.clearances(after)
	old := map[string]Equality{}
	for _, e := range x.before.Reconcile() {
		old[e.Key] = e
	}
	for _, e := range after.Reconcile() {
		if was := old[e.Key]; was.Difference != e.Difference {
			x.out.Equalities = append(x.out.Equalities, EqualityEffect{Name: e.Name, Was: was.Sentence(), Now: e.Sentence(), WasOff: was.Difference, Off: e.Difference})
		}
	}
}

func (x *correction) effect(was, now *visit.State, after *Day) VisitEffect {
	e := VisitEffect{
		Visit: now.ID, Ticket: now.Ticket, Was: was.Finding(), Now: now.Finding(), PhaseWas: was.Phase(), PhaseNow: now.Phase(),
		Gone: now.Phase().Ended(), MayCall: MayCall(now),
	}
	if c, ok := was.Counting(); ok {
		e.WasCounts = shown(c.Reading)
	}
	if c, ok := now.Counting(); ok {
		e.NowCounts = shown(c.Reading)
	}
	if was.Found != nil {
		e.WasRepeat = was.Found.Repeat
	}
	if now.Found != nil {
		e.Repeat, e.Because, e.Why = now.Found.Repeat, now.Found.Because, now.Found.Why
	}
	if now.OpenCare() {
		if !was.OpenCare() || was.Care.Cause != now.Care.Cause {
			e.CareOpens = now.Care.Cause
		} else if c := now.Care.Cause; c != causeSigns && !x.stillShown(now, c) {
			e.CareStays = c
		}
	}
	if n := len(now.Slips); n > 0 && now.Slips[n-1].Finding != now.FoundID {
		e.Slip, e.SlipBack = now.Slips[n-1].At, now.Finding() == nil
	}
	e.Refer = x.referEffect(was, now)
	e.NoFit = noFit(now, after, x.c.Fact)
	return e
}

// stillShown reports whether some reading of a visit asks for care of a cause.
func (x *correction) stillShown(v *visit.State, cause string) bool {
	for _, c := range x.causes(v) {
		if c == cause {
			return true
		}
	}
	return false
}

func (x *correction) referEffect(was, now *visit.State) *ReferEffect {
	side := func(v *visit.State) (asked bool, by string) {
		f := v.Finding()
		if f == nil || !f.Refer {
			return false, ""
		}
		due := v.Times.Found.AddDate(0, 0, f.WithinDays)
		if v.Referral != nil {
			due = v.Referral.By
		}
		return true, x.ev.Day(due).Long()
	}
	var e ReferEffect
	e.Was, e.WasBy = side(was)
	e.Now, e.By = side(now)
	if e.Was == e.Now && e.WasBy == e.By {
		return nil
	}
	if now.Referral != nil {
		e.Route = now.Referral.Route
	}
	e.Unreferred = e.Now && (now.Referral == nil || !now.Referral.Agreed)
	return &e
}

// noFit says in a sentence what a corrected reading does not agree with in the rest of the record.
func noFit(v *visit.State, d *Day, reading string) string {
	for _, r := range v.Readings {
		if r.ID != reading && (r.From == nil || r.From.Reading != reading) || isError(r.Reading) {
			continue
		}
		m, l := d.MeterByID(r.Meter), d.StripLotByID(r.StripLot)
		if m == nil || l == nil {
			continue
		}
		if v.Answers != nil && slices.Contains(v.Answers.Barred, string(l.Details.Chemistry)) {
			return "By the answers of this ticket, strips of lot " + l.Details.Lot + " must not be used: the value cannot be trusted."
		}
		if !clearedAt(d, r) {
			return "Meter " + m.Details.Label + " was not cleared with lot " + l.Details.Lot + " when this reading was taken."
		}
	}
	return ""
}
