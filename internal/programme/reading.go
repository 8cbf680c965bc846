package programme

import (
	"cmp"
	"context"
	"fmt"
	"strings"
	"time"

	"fairstick/internal/event"
	"fairstick/internal/fault"
	"fairstick/internal/glucose"
	"fairstick/internal/people"
	"fairstick/internal/protocol"
	"fairstick/internal/stock"
	"fairstick/internal/visit"
)

// CallTicket takes up a ticket at a station, so that no other station does.
type CallTicket struct {
	Act
	Visit, Step, Station string
}

// CallTicket records that a station has the ticket. A ticket that another station has is refused.
func (p *Programme) CallTicket(ctx context.Context, a Actor, c CallTicket) (Done, error) {
	return do(ctx, p, a, c.Act, "visit.call", func(w *work) (Done, error) {
		step := visit.Phase(c.Step)
		roles := []people.Role{people.Screener, people.Supervisor, people.Lead}
		if step == visit.AtExplain {
			roles = explainRoles
		}
		if err := w.need(roles...); err != nil {
			return Done{}, err
		}
		v, _, err := w.live(c.Visit)
		if err != nil {
			return Done{}, err
		}
		var f fields
		station := f.text("station", "The station", c.Station, true, 12)
		f.oneOf("step", "The step", c.Step, string(visit.AtTest), string(visit.AtExplain))
		if err := f.err(); err != nil {
			return Done{}, err
		}
		if now := v.Phase(); now != step {
			return Done{}, fault.New(fault.Conflict, "other-step", fmt.Sprintf("Ticket %03d is at the step %s.", v.Ticket, now), "", "Load the list again.")
		}
		if v.Taken != nil && v.Taken.Station != station {
			return Done{}, visitFault(v, nil, step, station)
		}
		if v.Taken != nil {
			return Done{ID: v.ID}, nil
		}
		_, err = w.append(visit.Ref(v.ID), visit.Called{Step: step, Station: station})
		return Done{ID: v.ID}, err
	})
}

// PutBack puts a ticket back in the line.
type PutBack struct {
	Act
	Visit, Reason string
}

// PutBack records that a station gave the ticket back.
func (p *Programme) PutBack(ctx context.Context, a Actor, c PutBack) (Done, error) {
	return do(ctx, p, a, c.Act, "visit.put-back", func(w *work) (Done, error) {
		if err := w.need(people.Screener, people.Counsellor, people.Supervisor, people.Lead); err != nil {
			return Done{}, err
		}
		v, _, err := w.live(c.Visit)
		if err != nil {
			return Done{}, err
		}
		if v.Taken == nil {
			return Done{ID: v.ID}, nil
		}
		var f fields
		reason := f.text("reason", "The reason", c.Reason, false, 120)
		if err := f.err(); err != nil {
			return Done{}, err
		}
		_, err = w.append(visit.Ref(v.ID), visit.PutBack{Reason: reason})
		return Done{ID: v.ID}, err
	})
}

// TakeReading is what the meter showed.
type TakeReading struct {
	Act
	Visit, Station        string
	Meter, StripLot, Vial string
	Reading, Again        string // as shown, and typed a second time for the read-back
	Second                Sign   // the second person, when the protocol asks for one instead
	SameStick             bool   // the same drop was used with a new strip
	Misfires              int    // lancets that did not work
	Washed                bool   // soap and water; otherwise wiped and the second drop used
	Voluntary             string // reason for a repeat that no rule asks for
	Agreed                Sign   // supervisor who agrees to more sticks than the protocol allows
}

// Read is what the protocol makes of the reading.
type Read struct {
	ID       string            `json:"id"`
	Purpose  string            `json:"purpose"`
	Shown    string            `json:"shown"`
	Unit     string            `json:"unit"`
	Repeat   bool              `json:"repeat"`
	Because  string            `json:"because,omitempty"` // why a repeat is due
	Why      string            `json:"why,omitempty"`     // which reading counts and why
	Critical bool              `json:"critical"`
	Care     string            `json:"care,omitempty"`
	Finding  *protocol.Finding `json:"finding,omitempty"`
}

// TakeReading records a reading after every gate. The screener is whoever is signed in.
func (p *Programme) TakeReading(ctx context.Context, a Actor, c TakeReading) (Read, error) {
	second, agreed := "", ""
	if c.Second.Person != "" {
		if c.Second.Person == a.Person {
			return Read{}, fault.BadField("second_person", "The second person must be somebody else.")
		}
		who, err := p.signed(ctx, c.Second)
		if err != nil {
			return Read{}, err
		}
		second = who.ID
	}
	if c.Agreed.Person != "" {
		who, err := p.signed(ctx, c.Agreed, people.Supervisor, people.Lead)
		if err != nil {
			return Read{}, err
		}
		agreed = who.ID
	}
	return do(ctx, p, a, c.Act, "visit.reading", func(w *work) (Read, error) {
		return w.takeReading(c, second, agreed)
	})
}

func (w *work) takeReading(c TakeReading, second, agreed string) (Read, error) {
	if w.me == nil {
		return Read{}, fault.New(fault.SignIn, "sign-in", "Nobody is signed in on this device.", "", "Choose your name and type your PIN.")
	}
	v, ev, err := w.live(c.Visit)
	if err != nil {
		return Read{}, withNumber(err, c.Reading, false)
	}
	t, err := w.testing(ev, c.Meter, c.StripLot, c.Vial, c.Station, v.ID)
	if err != nil {
		return Read{}, err
	}
	if err := cmp.Or(firstShut(t.stationGates()), errOf(visitFault(v, t.lot, visit.AtTest, c.Station)), errOf(t.wiped(v.ID))); err != nil {
		return Read{}, withNumber(err, c.Reading, t.needsCare(v, c.Reading))
	}
	r, err := readBack(c, t.meter.Details.Unit, t.proto, second)
	if err != nil {
		return Read{}, err
	}
	var f fields
	f.between("misfires", "Lancets that did not work", c.Misfires, 0, 9)
	reason := f.text("voluntary", "The reason", c.Voluntary, false, 120)
	if err := f.err(); err != nil {
		return Read{}, err
	}
	purpose, err := purposeOf(v, reason)
	if err != nil {
		return Read{}, err
	}
	if err := sticksAllowed(v, t.proto, c, purpose, agreed); err != nil {
		return Read{}, withNumber(err, c.Reading, t.needsCare(v, c.Reading))
	}
	how := "typed-twice"
	if second != "" {
		how = second
	}
	if agreed != "" {
		reason = strings.TrimSpace(reason + " (further stick agreed by supervisor " + agreed + ")")
	}
	return w.read(v.ID, t.proto, visit.ReadingTaken{
		Purpose: purpose, Reading: r, Meter: t.meter.ID, StripLot: t.lot.ID,
		Vial: c.Vial, Station: c.Station, Supervisor: supervisorOf(ev, c.Station), NewStick: !c.SameStick, Misfires: c.Misfires,
		Washed: c.Washed, ReadBack: how, Reason: reason,
	})
}

// read records a reading, live or from paper, with what the protocol makes of it.
func (w *work) read(visitID string, proto protocol.Protocol, b visit.ReadingTaken) (Read, error) {
	rec, err := w.append(visit.Ref(visitID), b)
	if err != nil {
		return Read{}, err
	}
	return w.conclude(visitID, rec.ID, b.Reading, b.Purpose, b.Station, proto)
}

// readBack reads the number and compares it with its second typing, unless a second person confirmed it.
func readBack(c TakeReading, u glucose.Unit, proto protocol.Protocol, second string) (glucose.Reading, error) {
	r, err := glucose.ParseReading(c.Reading, u)
	if err != nil {
		return r, fault.Of(err).Field("reading", fault.Of(err).Sentence)
	}
	if err := proto.Plausible(r); err != nil {
		return r, fault.Of(err).Field("reading", fault.Of(err).Sentence)
	}
	if proto.ReadBack == "second-person" {
		if second == "" {
			return r, refuse("read-back", "A second person must confirm the reading.", "One in 27 hand-typed values is wrong (Mays 2019).",
				"Let somebody else look at the meter and type their PIN.").Field("second_pin", "Name and PIN of the second person.")
		}
		return r, nil
	}
	if tidy(c.Again) == "" {
		return r, refuse("read-back", "Read the meter again and type the number a second time.", "One in 27 hand-typed values is wrong (Mays 2019).",
			"Look at the meter, not at the first number.").Field("again", "Type it again from the meter.")
	}
	again, err := glucose.ParseReading(c.Again, u)
	if err != nil || again != r {
		return r, refuse("read-back-differs", fmt.Sprintf("First %s, then %s: the two do not agree.", r.Shown(), tidy(c.Again)),
			"One of them is a slip of the finger.", "Look at the meter and type the number twice.").Field("again", "Does not agree with the first number.")
	}
	return r, nil
}

// purposeOf derives what a reading is for from what stands already.
func purposeOf(v *visit.State, voluntary string) (string, error) {
	switch {
	case v.Found == nil || v.Found.Finding == nil && !v.Found.Repeat:
		return visit.First, nil
	case v.Found.Repeat:
		return visit.Repeat, nil
	case v.OpenCare() && recheckDue(v):
		return visit.Recheck, nil
	case voluntary != "":
		return visit.Repeat, nil
	}
	return "", refuse("has-result", fmt.Sprintf("Ticket %03d has a result already.", v.Ticket), "A number must not be repeated until it pleases.",
		"Go on to Explain. If there is a reason to repeat, write it down.").Field("voluntary", "Write the reason for another reading.")
}

// recheckDue reports whether sugar was given for a low reading, so that the next reading is the recheck.
func recheckDue(v *visit.State) bool {
	s, ok := v.Care.Last(stepSugar)
	return ok && s.Choice == "given" && lowSugar(v)
}

func sticksAllowed(v *visit.State, proto protocol.Protocol, c TakeReading, purpose, agreed string) error {
	if c.SameStick {
		if len(v.Readings) == 0 || v.Readings[len(v.Readings)-1].Reading.Kind != glucose.Error {
			return fault.BadField("same_stick", "The same drop is used again only after a meter error. Use a new lancet.")
		}
		return nil
	}
	if purpose == visit.Recheck {
		return nil
	}
	sticks := countedSticks(v)
	if sticks < proto.Repeat.MaxSticks || agreed != "" {
		return nil
	}
	return refuse("sticks", fmt.Sprintf("Ticket %03d has had %d fingersticks.", v.Ticket, sticks),
		fmt.Sprintf("The protocol allows %d unless a supervisor agrees.", proto.Repeat.MaxSticks), "Ask a supervisor to type their PIN; without one, stop here.").
		Field("agreed_pin", "A supervisor's PIN is needed.")
}

// supervisorOf names the supervisor who answers for a station: the one posted to it, else the first who is here.
func supervisorOf(ev *event.State, station string) string {
	first := ""
	for _, post := range ev.Roster {
		if !post.Here || (post.Role != string(people.Supervisor) && post.Role != string(people.Lead)) {
			continue
		}
		if post.Station != "" && post.Station == station {
			return post.Person
		}
		if first == "" || (post.Role == string(people.Supervisor)) && roleOf(ev, first) == string(people.Lead) {
			first = post.Person
		}
	}
	return first
}

func roleOf(ev *event.State, person string) string {
	post, _ := ev.PostOf(person)
	return post.Role
}

// testing loads what the gates of a test look at, inside the writer.
func (w *work) testing(ev *event.State, meter, lot, vial, station, visitID string) (testing, error) {
	t := testing{ev: ev, who: w.me, vial: vial, station: station, at: w.at}
	var err error
	if t.proto, err = w.protocolOf(ev); err != nil {
		return t, err
	}
	if meter != "" {
		if t.meter, err = load[*stock.Meter](w, stock.MeterRef(meter)); err != nil {
			return t, err
		}
		if w.me != nil {
			if t.has, err = w.trained(w.me.ID, ev.Zone(), t.meter); err != nil {
				return t, err
			}
		}
		m, id, ok, err := w.tx.LastMention(visit.Kind, ev.ID, "meter", meter)
		if err != nil {
			return t, err
		}
		t.last = use{visit: id, at: m.At, ok: ok}
	}
	if lot != "" {
		if t.lot, err = load[*stock.StripLot](w, stock.StripLotRef(lot)); err != nil {
			return t, err
		}
	}
	if t.spill, err = w.spillAt(ev.ID, station); err != nil {
		return t, err
	}
	open, err := w.tx.Mentioned(visit.Kind, ev.ID, "care", "open")
	if err != nil {
		return t, err
	}
	for _, id := range open {
		v, err := load[*visit.State](w, visit.Ref(id))
		if err != nil {
			return t, err
		}
		if v.ID != visitID && awaitsSupervisor(v, station) {
			t.care = v
		}
	}
	return t, nil
}

// awaitsSupervisor reports whether critical care opened at a station has not been taken over by a supervisor.
func awaitsSupervisor(v *visit.State, station string) bool {
	if !v.OpenCare() || !v.Care.Critical() || v.Care.Station != station {
		return false
	}
	_, here := v.Care.Last(stepSupervisor)
	return !here
}

// conclude asks the protocol what the readings amount to, and records the finding and the care that it opens.
func (w *work) conclude(visitID, readingID string, r glucose.Reading, purpose, station string, proto protocol.Protocol) (Read, error) {
	out := Read{ID: readingID, Purpose: purpose, Shown: r.Shown(), Unit: string(r.Unit)}
	v, err := load[*visit.State](w, visit.Ref(visitID))
	if err != nil {
		return out, err
	}
	basis := v.BasisAt(proto, v.Times.FirstRead)
	if purpose == visit.Recheck {
		out.Why = "A recheck after sugar shows whether the treatment works; the finding stays."
		out.Finding = v.Finding()
		cause := careCause(r, basis, proto)
		if s := sugarOf(v, proto); s.StillLow && s.Spent {
			cause = string(protocol.CriticalLow) // sugar was given as often as the protocol allows
		}
		if cause == "" || cause == string(protocol.Low) {
			return out, nil
		}
		out.Care, out.Critical = cause, true
		return out, w.worse(v, cause, station)
	}
	con, err := proto.Conclude(v.TakenReadings(), v.Sticks(), basis, unwell(v))
	if err != nil {
		return out, err
	}
	if _, err := w.append(visit.Ref(v.ID), found(con)); err != nil {
		return out, err
	}
	out.Repeat, out.Because, out.Why, out.Finding = con.RepeatDue, con.RepeatWhy, con.Why, con.Finding
	cause := careCause(r, basis, proto)
	if cause == "" && con.Finding != nil && !con.RepeatDue {
		cause = bandCare(con.Finding.Band)
	}
	if cause == "" {
		return out, nil
	}
	out.Care, out.Critical = cause, cause != string(protocol.Low)
	return out, w.worse(v, cause, station)
}

// careCause tells whether one reading alone needs care at once, before any repeat.
func careCause(r glucose.Reading, basis protocol.Basis, proto protocol.Protocol) string {
	if r.Kind == glucose.Error {
		return ""
	}
	f, err := proto.Find(r, basis)
	if err != nil {
		return ""
	}
	return bandCare(f.Band)
}

func bandCare(b protocol.Band) string {
	switch b {
	case protocol.CriticalHigh, protocol.CriticalLow, protocol.Low:
		return string(b)
	}
	return ""
}

// unwell reports whether signs of a crisis were seen.
func unwell(v *visit.State) bool {
	if v.Care == nil {
		return false
	}
	if v.Care.Cause == causeSigns {
		return true
	}
	s, ok := v.Care.Last(stepSigns)
	return ok && len(s.Signs) > 0
}

// BinLancet says that the lancet went straight into the sharps container.
type BinLancet struct {
	Act
	Visit, Station string
}

// BinLancet records the lancet in sharps.
func (p *Programme) BinLancet(ctx context.Context, a Actor, c BinLancet) (Done, error) {
	return do(ctx, p, a, c.Act, "visit.bin", func(w *work) (Done, error) {
		if err := w.need(people.Screener, people.Supervisor, people.Lead); err != nil {
			return Done{}, err
		}
		return w.bin(c.Visit, c.Station)
	})
}

func (w *work) bin(visitID, station string) (Done, error) {
	v, err := load[*visit.State](w, visit.Ref(visitID))
	if err != nil {
		return Done{}, err
	}
	if v.Binned >= v.Sticks()+v.Misfires() {
		return Done{ID: v.ID}, nil
	}
	_, err = w.append(visit.Ref(v.ID), visit.LancetBinned{Station: station})
	return Done{ID: v.ID}, err
}

// FinishTest ends the work of a screener on one person: lancet in sharps, meter wiped.
type FinishTest struct {
	Act
	Visit, Station, Meter, Disinfectant string
}

// FinishTest records both acts with one press; the clock of the wipe starts now.
func (p *Programme) FinishTest(ctx context.Context, a Actor, c FinishTest) (Wiped, error) {
	return do(ctx, p, a, c.Act, "visit.finish-test", func(w *work) (Wiped, error) {
		if err := w.need(people.Screener, people.Supervisor, people.Lead); err != nil {
			return Wiped{}, err
		}
		v, err := load[*visit.State](w, visit.Ref(c.Visit))
		if err != nil {
			return Wiped{}, err
		}
		ev, err := w.openable(v.Event)
		if err != nil {
			return Wiped{}, err
		}
		for i := v.Binned; i < v.Sticks()+v.Misfires(); i++ {
			if _, err := w.bin(v.ID, c.Station); err != nil {
				return Wiped{}, err
			}
		}
		return w.wipe(ev, c.Meter, c.Disinfectant)
	})
}

// StationGates tells, before anybody sits down, what shuts a station; and how long the meter must still stay wet.
func (d *Day) StationGates(who *people.State, dev Device, now time.Time) (gates []Gate, wet time.Duration) {
	t := testing{
		ev: d.Event, proto: d.Protocol, who: who, meter: d.MeterByID(dev.Meter), lot: d.StripLotByID(dev.StripLot), vial: dev.Vial,
		station: dev.Station, at: now, has: d.standing(who.ID, d.MeterByID(dev.Meter)),
	}
	for _, v := range d.Visits {
		if awaitsSupervisor(v, dev.Station) {
			t.care = v
		}
		for _, r := range v.Readings {
			if r.Meter == dev.Meter && (!t.last.ok || r.At.After(t.last.at)) {
				t.last = use{visit: v.ID, at: r.At, ok: true}
			}
		}
	}
	for _, s := range d.Incidents {
		if dev.Station != "" && s.Shuts() == dev.Station {
			t.spill = s
		}
	}
	gates = t.stationGates()
	if t.lot != nil && d.StripsLeft(t.lot.ID) <= 0 {
		gates = append(gates, gate("left", "Strips left", refuse("strips-used-up",
			fmt.Sprintf("By the count, all %d strips of lot %s that were brought are used.", d.Event.Out.Strips[t.lot.ID], t.lot.Details.Lot),
			"The count at the end must show where every strip went.", "Look at the vial: write down what else was brought, or go on with another lot.")))
	}
	f := t.wiped("")
	if f != nil && f.Key == "still-wet" {
		return gates, d.Event.Wipes[dev.Meter].Until().Sub(now)
	}
	return append(gates, gate("wiped", "Meter wiped", f)), 0
}
