package programme

import (
	"bytes"
	"encoding/json"
	"fmt"
	"time"

	"fairstick/internal/fact"
	"fairstick/internal/fault"
	"fairstick/internal/glucose"
	"fairstick/internal/protocol"
	"fairstick/internal/store"
	"fairstick/internal/visit"
)

// reading corrects what stands in one reading.
func (x *correction) reading() error {
	v, err := x.target()
	if err != nil {
		return err
	}
	old, err := x.oneReading(v, x.c.Fact)
	if err != nil {
		return err
	}
	b := old.ReadingTaken
	b.Meter, b.StripLot, b.Vial, b.Purpose, b.Washed, b.NewStick, b.Misfires = x.c.Meter, x.c.StripLot, x.c.Vial, x.c.Purpose, x.c.Washed, !x.c.SameStick, x.c.Misfires
	if b.Reading, err = x.typedReading(old.Reading); err != nil {
		return err
	}
	if err := x.possible(v, b); err != nil {
		return err
	}
	x.touch(v.ID, x.readingChanges(old.ReadingTaken, b)...)
	if err := x.nothingChanged(v.ID); err != nil {
		return err
	}
	if x.ownReading(v, old) {
		x.out.Own = old.By
	}
	if err := x.replace(visit.Ref(v.ID), old.ID, b); err != nil {
		return err
	}
	return x.settle(v, b.Reading != old.Reading || b.Washed != old.Washed || b.Purpose != old.Purpose)
}

// typedReading reads the value; one that changes is typed twice.
func (x *correction) typedReading(old glucose.Reading) (glucose.Reading, error) {
	m := x.before.MeterByID(x.c.Meter)
	if m == nil {
		return glucose.Reading{}, fault.BadField("meter", "The meter was not chosen.")
	}
	r, err := glucose.ParseReading(x.c.Reading, m.Details.Unit)
	if err == nil {
		err = x.proto.Plausible(r)
	}
	if err != nil {
		return r, fault.Of(err).Field("reading", fault.Of(err).Sentence)
	}
	if r == old {
		return r, nil
	}
	again, err := glucose.ParseReading(x.c.Again, m.Details.Unit)
	switch {
	case tidy(x.c.Again) == "":
		return r, fault.BadField("again", "Type the value a second time, from the meter's memory or the paper.")
	case err != nil || again != r:
		return r, fault.BadField("again", "First %s, then %s: the two do not agree.", r.Shown(), tidy(x.c.Again))
	}
	return r, nil
}

// possible refuses a reading that cannot have happened.
func (x *correction) possible(v *visit.State, b visit.ReadingTaken) error {
	var f fields
	m, l := x.before.MeterByID(b.Meter), x.before.StripLotByID(b.StripLot)
	switch {
	case !x.ev.Brought(b.Meter):
		f.say("meter", "This meter was not brought to the event.")
	case l == nil:
		f.say("strip_lot", "The strip lot was not chosen.")
	case !l.Fits(m.Details.Model):
		f.say("strip_lot", "Lot %s does not fit meter %s.", l.Details.Lot, m.Details.Label)
	default:
		if _, ok := l.Vial(b.Vial); !ok {
			f.say("vial", "Lot %s has no vial %q.", l.Details.Lot, b.Vial)
		}
	}
	f.oneOf("purpose", "What the reading was for", b.Purpose, visit.First, visit.Repeat, visit.Recheck)
	f.between("misfires", "Lancets that did not work", b.Misfires, 0, 9)
	if b.Purpose == visit.Recheck && v.Care == nil {
		f.say("purpose", "A recheck follows sugar; no care is written down for this ticket.")
	}
	return f.err()
}

// readingChanges lists what differs between two forms of a reading.
func (x *correction) readingChanges(old, now visit.ReadingTaken) []fact.Change {
	hands := func(washed bool) string {
		if washed {
			return "washed"
		}
		return "wiped"
	}
	return []fact.Change{
		{What: "reading", Was: shown(old.Reading), Now: shown(now.Reading)},
		{What: "meter", Was: x.meterLabel(old.Meter), Now: x.meterLabel(now.Meter)},
		{What: "strip lot", Was: x.lotLabel(old.StripLot), Now: x.lotLabel(now.StripLot)},
		{What: "vial", Was: old.Vial, Now: now.Vial},
		{What: "purpose", Was: old.Purpose, Now: now.Purpose},
		{What: "hands", Was: hands(old.Washed), Now: hands(now.Washed)},
		{What: "new lancet", Was: yesNo(old.NewStick), Now: yesNo(now.NewStick)},
		{What: "lancets that did not work", Was: fmt.Sprint(old.Misfires), Now: fmt.Sprint(now.Misfires)},
	}
}

func (x *correction) meterLabel(id string) string {
	if m := x.before.MeterByID(id); m != nil {
		return m.Details.Label
	}
	return "not recorded"
}

func (x *correction) lotLabel(id string) string {
	if l := x.before.StripLotByID(id); l != nil {
		return l.Details.Lot
	}
	return "not recorded"
}

// ownReading reports whether the screener who took a reading may correct it: their last one of this person, who still
// sits there and has not been told.
func (x *correction) ownReading(v *visit.State, r visit.Reading) bool {
	last := v.Readings[len(v.Readings)-1]
	return !x.out.Late && !v.Phase().Ended() && v.Explained == nil && len(v.Slips) == 0 && last.ID == r.ID && r.By != ""
}

// struck says that a reading never happened; its lancets were never seen into sharps either.
func (x *correction) struck() error {
	v, err := x.target()
	if err != nil {
		return err
	}
	old, err := x.oneReading(v, x.c.Fact)
	if err != nil {
		return err
	}
	x.touch(v.ID, fact.Change{What: "reading", Was: shown(old.Reading) + " at " + x.clock(old.At), Now: "never taken"})
	if err := x.replace(visit.Ref(v.ID), old.ID, fact.Struck{}); err != nil {
		return err
	}
	return x.settle(v, true)
}

// ticket moves a reading to the ticket of the person from whom it was taken, with its own time.
func (x *correction) ticket() error {
	from, err := x.target()
	if err != nil {
		return err
	}
	old, err := x.oneReading(from, x.c.Fact)
	if err != nil {
		return err
	}
	to := x.before.Visit(x.c.To)
	switch {
	case to == nil:
		return fault.BadField("to", "There is no such ticket at this event.")
	case to.ID == from.ID:
		return fault.BadField("to", "The reading stands under ticket %03d already. Choose the other one.", to.Ticket)
	case to.Consent == nil || to.Declined != nil:
		return fault.BadField("to", "Ticket %03d has not agreed to a test. Correct that first, or look for the right ticket.", to.Ticket)
	}
	x.unseen = !allBinned(from)
	b := old.ReadingTaken
	b.From, b.Screener = &visit.MovedFrom{Visit: from.ID, Reading: old.ID}, old.By
	x.touch(from.ID, fact.Change{What: "reading", Was: shown(b.Reading) + " at " + x.clock(old.At), Now: fmt.Sprintf("moved to ticket %03d", to.Ticket)})
	x.touch(to.ID, fact.Change{What: "reading", Was: "none", Now: fmt.Sprintf("%s at %s, from ticket %03d", shown(b.Reading), x.clock(old.At), from.Ticket)})
	rec, err := x.record(store.Draft{At: old.At, By: x.actor.Person, Subject: visit.Ref(to.ID), Body: b})
	if err != nil {
		return err
	}
	if err := x.replace(visit.Ref(from.ID), old.ID, visit.ReadingMoved{To: to.ID, Reading: rec.ID}); err != nil {
		return err
	}
	if err := x.settle(from, true); err != nil {
		return err
	}
	return x.settle(to, true)
}

// settle brings a visit whose readings, food or answers were corrected into line: what each reading was for, lancets in
// sharps, the finding, the care it opens and the referral. again asks for a new finding even when it says the same, since
// something on the slip has changed.
func (x *correction) settle(was *visit.State, again bool) error {
	if err := x.repurpose(was.ID); err != nil {
		return err
	}
	if err := x.lancets(was); err != nil {
		return err
	}
	if err := x.conclude(was, again); err != nil {
		return err
	}
	if err := x.openCare(was); err != nil {
		return err
	}
	return x.refer(was)
}

// repurpose makes the earliest value the first and the later ones repeats, so that first values still equal the tested.
func (x *correction) repurpose(id string) error {
	v, err := load[*visit.State](x.work, visit.Ref(id))
	if err != nil {
		return err
	}
	want := visit.First
	for _, r := range v.Readings {
		if r.Purpose == visit.Recheck || isError(r.Reading) {
			continue
		}
		if r.Purpose != want {
			b := r.ReadingTaken
			b.Purpose = want
			if err := x.replace(visit.Ref(id), r.ID, b); err != nil {
				return err
			}
			x.touch(id, fact.Change{What: "purpose of " + shown(r.Reading) + " at " + x.clock(r.At), Was: r.Purpose, Now: want})
		}
		want = visit.Repeat
	}
	return nil
}

// lancets keeps the lancets seen into sharps in step with the sticks: a lancet that was never used was not seen there, and
// one that moved with its reading was seen there under the other ticket.
func (x *correction) lancets(was *visit.State) error {
	ref := visit.Ref(was.ID)
	v, err := load[*visit.State](x.work, ref)
	if err != nil {
		return err
	}
	used := v.Sticks() + v.Misfires()
	for over := v.Binned - used; over > 0; over-- {
		if err := x.replaceLast(ref, fact.Struck{}, func(b fact.Body) bool { _, ok := b.(visit.LancetBinned); return ok }); err != nil {
			return err
		}
	}
	if x.unseen || !allBinned(was) || len(v.Readings) == 0 {
		return nil // not all were seen before either
	}
	last := v.Readings[len(v.Readings)-1]
	for missing := used - v.Binned; missing > 0; missing-- {
		if _, err := x.record(store.Draft{At: last.At, By: x.actor.Person, Subject: ref, Body: visit.LancetBinned{Station: last.Station}}); err != nil {
			return err
		}
	}
	return nil
}

func allBinned(v *visit.State) bool { return v.Binned >= v.Sticks()+v.Misfires() }

// conclude records what the protocol now makes of the readings. A result that stood is replaced by a result when the
// person has gone: nobody is left to repeat it with.
func (x *correction) conclude(was *visit.State, again bool) error {
	v, err := load[*visit.State](x.work, visit.Ref(was.ID))
	if err != nil {
		return err
	}
	if was.Found == nil && len(v.Readings) == 0 {
		return nil
	}
	con, err := x.proto.Conclude(v.TakenReadings(), v.Sticks(), x.basis(v), unwell(v))
	if err != nil {
		return err
	}
	b := found(con)
	if b.Repeat && v.Phase().Ended() && was.Finding() != nil {
		b.Repeat, b.Because = false, ""
		b.Why = fmt.Sprintf("%s counts. It could not be repeated: the person has gone.", b.Finding.Reading)
	}
	same, err := sameJSON(v.Found, &b)
	if err != nil || same && !again {
		return err
	}
	_, err = x.append(visit.Ref(v.ID), b)
	return err
}

func (x *correction) basis(v *visit.State) protocol.Basis {
	return v.BasisAt(x.proto, v.Times.FirstRead)
}

func sameJSON(a, b any) (bool, error) {
	x, err := json.Marshal(a)
	if err != nil {
		return false, err
	}
	y, err := json.Marshal(b)
	return bytes.Equal(x, y), err
}

// causes tells for each reading, and for the finding, which care it asks for.
func (x *correction) causes(v *visit.State) map[string]string {
	out := map[string]string{}
	for _, r := range v.Readings {
		out[r.ID] = careCause(r.Reading, x.basis(v), x.proto)
	}
	if f := v.Finding(); f != nil {
		out["finding"] = bandCare(f.Band)
	}
	return out
}

// openCare opens the care for which a corrected reading asks and for which none had asked.
func (x *correction) openCare(was *visit.State) error {
	v, err := load[*visit.State](x.work, visit.Ref(was.ID))
	if err != nil {
		return err
	}
	old, cause := x.causes(was), ""
	for id, c := range x.causes(v) {
		if c == "" || c == old[id] {
			continue
		}
		if cause == "" || cause == string(protocol.Low) || c == string(protocol.CriticalLow) {
			cause = c
		}
	}
	if cause == "" {
		return nil
	}
	station := ""
	if v.Phase() == visit.AtTest && len(v.Readings) > 0 {
		station = v.Readings[len(v.Readings)-1].Station
	}
	return x.worse(v, cause, station)
}

// refer changes the advice to see someone with the finding: another day by which to be seen, and, for a person who has
// gone, advice that was not given while they were here.
func (x *correction) refer(was *visit.State) error {
	v, err := load[*visit.State](x.work, visit.Ref(was.ID))
	if err != nil {
		return err
	}
	f, old := v.Finding(), was.Finding()
	if f == nil || !f.Refer {
		return nil
	}
	var b visit.Referred
	switch {
	case v.Referral != nil && old != nil && old.Refer && old.WithinDays == f.WithinDays:
		return nil
	case v.Referral != nil:
		b = *v.Referral
	case v.Phase().Ended():
		b = visit.Referred{Call: v.Call}
		if places := x.before.ReferralPlaces(f); len(places) > 0 {
			b.Route = places[0]
		}
	default:
		return nil // asked at Explain
	}
	b.By = x.at.AddDate(0, 0, f.WithinDays).Truncate(time.Minute)
	_, err = x.append(visit.Ref(v.ID), b)
	return err
}
