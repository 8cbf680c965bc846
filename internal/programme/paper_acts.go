package programme

import (
	"fmt"
	"maps"
	"slices"
	"time"

	"fairstick/internal/about"
	"fairstick/internal/event"
	"fairstick/internal/fault"
	"fairstick/internal/people"
	"fairstick/internal/stock"
	"fairstick/internal/visit"
)

// desk puts consent, answers, last food and contact at the time of the consent.
func (e *entering) desk() {
	v := e.v
	if v.Consent == nil {
		return
	}
	e.put(v.Consent.At, rankDesk, "", func(s *visit.State) error {
		if err := e.fact(visit.Consented{Version: v.Consent.Version, Language: v.Language, How: v.Consent.How}); err != nil {
			return err
		}
		eligible := true
		if len(v.Answers) > 0 {
			eligible = e.c.screening.Eligible
			if err := e.answered(s, v.Answers, e.c.screening, e.proto); err != nil {
				return err
			}
		}
		if v.Ate != nil && (eligible || len(v.Readings) > 0) {
			if err := e.fact(visit.Ate{Known: v.Ate.Known, Last: v.Ate.Last}); err != nil {
				return err
			}
		}
		if err := e.about(false); err != nil {
			return err
		}
		switch k := v.Contact; {
		case k == nil:
			return nil
		case k.Allow:
			return e.sealContact(e.id, k.sealable())
		}
		return e.fact(visit.ContactRefused{})
	})
}

// about records what the person said of themself: the questions of the end at the explanation, where there was one, and the others at the desk.
func (e *entering) about(end bool) error {
	said := about.Answers{}
	for key, codes := range e.v.About {
		if q, _ := about.Find(key); (q.End && e.v.Explained != nil) == end {
			said[key] = codes
		}
	}
	return e.saidAbout(e.id, slices.Sorted(maps.Keys(said)), said)
}

func (e *entering) test() {
	v := e.v
	if len(v.Readings) > 0 && !v.Called.IsZero() {
		first := e.c.readings[0]
		e.put(v.Called, rankCall, first.Screener, func(*visit.State) error {
			return e.fact(visit.Called{Step: visit.AtTest, Station: first.Station})
		})
	}
	for i, r := range e.c.readings {
		e.put(r.At, rankReading, r.Screener, func(s *visit.State) error { return e.reading(s, r) })
		if r.Sharps {
			e.put(latest(r.At, r.WipedAt), rankWipe, r.Screener, func(*visit.State) error { return e.sharps(r) })
		}
		if r.wipe != nil {
			e.put(r.WipedAt, rankWipe, r.Screener, func(*visit.State) error { return e.wipe(r) })
		}
		e.wipeGates(r, e.c.readings[i+1:])
	}
}

func latest(a, b time.Time) time.Time {
	if b.After(a) {
		return b
	}
	return a
}

// reading asks every gate as it stood then, and records the reading with what the protocol makes of it.
func (e *entering) reading(s *visit.State, r paperShot) error {
	name := func(what string) string { return fmt.Sprintf("reading%d_%s", r.n, what) }
	meter := e.h.meterAt(r.meter, r.At)
	has, err := e.trained(r.screener.ID, e.ev.Zone(), meter)
	if err != nil {
		return err
	}
	t := testing{
		ev: e.h.eventAt(e.ev, r.At), proto: e.proto, who: r.screener, has: has, meter: meter, lot: r.lot, vial: r.Vial,
		station: r.Station, last: e.lastUse(r.meter.ID, e.id, r.At), care: e.careAt(r.Station, e.id, r.At), at: r.At,
	}
	fieldOf := map[string]string{"open": "time", "screener": "screener", "ratio": "screener", "room": "time", "meter": "meter", "strips": "strip_lot", "code": "meter", "controls": "meter", "care": "station"}
	for _, g := range t.stationGates() {
		e.irregular(name(fieldOf[g.Key]), g.Fault)
	}
	e.irregular(name("meter"), t.wiped(e.id))
	e.irregular(name("strip_lot"), chemistryFault(s, r.lot))
	e.visitGates(s)
	purpose, err := purposeOf(s, r.Reason)
	if err != nil {
		e.irregular(name("reason"), fault.Of(err))
		purpose = visit.Repeat
	}
	if r.Purpose != "" && r.Purpose != purpose {
		return fault.BadField(name("purpose"), "By what stands before it, this reading is a %s reading, not a %s. Leave the purpose empty, or look at the times.", purpose, r.Purpose)
	}
	if err := sticksAllowed(s, e.proto, TakeReading{SameStick: r.SameDrop}, purpose, ""); err != nil {
		f := fault.Of(err)
		if r.SameDrop {
			f = refuse("same-drop", "No new lancet is written down, though no meter error stands before this reading.", "", "")
		}
		e.irregular(name("same_drop"), f)
	}
	how := r.ReadBy
	if how == "" {
		how = "on-paper"
		if e.proto.ReadBack == "second-person" {
			e.irregular(name("read_by"), refuse("read-back", "No second person confirmed the reading on paper.", "", ""))
		}
	}
	_, err = e.read(e.id, e.proto, visit.ReadingTaken{
		Purpose: purpose, Reading: r.reading, Meter: r.meter.ID, StripLot: r.lot.ID, Vial: r.Vial, Station: r.Station,
		Supervisor: supervisorOf(e.ev, r.Station), NewStick: !r.SameDrop, Misfires: r.Misfires, Washed: r.Washed, ReadBack: how, Reason: r.Reason,
	})
	return err
}

// visitGates are the gates that look at the participant.
func (e *entering) visitGates(s *visit.State) {
	ticket := fmt.Sprintf("Ticket %03d", s.Ticket)
	if s.Answers != nil && !s.Answers.Eligible {
		e.irregular("outcome", refuse("not-eligible", fmt.Sprintf("%s was tested, though by the protocol not eligible: %s.", ticket, s.Answers.Counted), "", ""))
	}
	for _, x := range []struct {
		field, what string
		missing     bool
	}{
		{"answers", "the questions were not asked", s.Answers == nil},
		{"last_food", "the last food was not asked", s.Ate == nil},
		{"contact", "it was not asked whether we may call", s.Contact == nil},
	} {
		if x.missing {
			e.irregular(x.field, refuse("desk-unfinished", ticket+" had not finished at the desk: "+x.what+".", "", ""))
		}
	}
}

func (e *entering) sharps(r paperShot) error {
	lancets := r.Misfires
	if !r.SameDrop {
		lancets++
	}
	for range lancets {
		if _, err := e.bin(e.id, r.Station); err != nil {
			return err
		}
	}
	return nil
}

func (e *entering) wipe(r paperShot) error {
	field := fmt.Sprintf("reading%d_wiped", r.n)
	if !r.meter.Allows(r.wipe.ID) {
		e.irregular(field, refuse("disinfectant-not-allowed", fmt.Sprintf("The instructions of meter %s do not name %s.", r.meter.Details.Label, r.wipe.Details.Name), "", ""))
	}
	if s := stock.Expired(r.wipe.Details.Name, r.wipe.Details.Expiry, e.ev.Day(e.at)); s != "" {
		e.irregular(field, refuse("disinfectant-expired", s, "", ""))
	}
	b := event.MeterWiped{Meter: r.meter.ID, Disinfectant: r.wipe.ID, Seconds: r.wipe.Details.ContactSeconds}
	e.h.wiped(b, r.WipedAt)
	_, err := e.append(event.Ref(e.ev.ID), b)
	return err
}

// wipeGates ask that a meter was wiped after this person, and before the next one who is in the record already.
func (e *entering) wipeGates(r paperShot, later []paperShot) {
	for _, l := range later {
		if l.meter.ID == r.meter.ID {
			return
		}
	}
	field := fmt.Sprintf("reading%d_wiped", r.n)
	if r.wipe == nil {
		e.irregular(field, refuse("not-wiped", fmt.Sprintf("The paper does not say that meter %s was wiped after this person.", r.meter.Details.Label), "", ""))
		return
	}
	if next := e.nextUse(r.meter.ID, e.id, r.At); next.ok && r.WipedAt.After(next.at) {
		e.irregular(field, refuse("not-wiped", fmt.Sprintf("Ticket %03d was read with meter %s at %s, before it was wiped after this person.", e.visits[next.visit].Ticket, r.meter.Details.Label, e.clock(next.at)), "", ""))
	}
}

func (e *entering) care() {
	k := e.v.Care
	if k == nil {
		return
	}
	for i, s := range k.Steps {
		b, name, rank := e.c.steps[i], careField(s, k.Steps[:i]), rankCare
		if s.Step == stepSeen {
			rank = rankSeen
		}
		e.put(s.At, rank, s.By, func(v *visit.State) error {
			switch {
			case s.Step == stepSeen:
				if v.OpenCare() && v.Care.Cause == causeSigns {
					return nil
				}
				if err := e.fact(visit.CareOpened{Cause: causeSigns, Note: b.Note}); err != nil {
					return err
				}
				return e.findAgain(e.id, e.proto)
			case !v.OpenCare():
				return fault.BadField(name+"_time", "At %s nothing called for care yet: no reading and no sign stands before it.", e.clock(s.At))
			case s.Step == stepSupervisor:
				return e.fact(b)
			}
			return e.careStep(v, b, e.proto)
		})
	}
	if k.SignedBy == "" {
		return
	}
	e.put(k.SignedAt, rankSign, k.SignedBy, func(v *visit.State) error {
		if !v.OpenCare() {
			return fault.BadField("care_signed_time", "There is no care to sign: no reading and no sign called for it.")
		}
		for _, t := range CareToDo(v, e.proto) {
			e.irregular("care_signed_by", refuse("care-unfinished", fmt.Sprintf("The care of ticket %03d was signed without this: %s", v.Ticket, t.Sentence), "", ""))
		}
		return e.fact(visit.CareSigned{Supervisor: k.SignedBy, Note: k.Note})
	})
}

func (e *entering) explain() {
	x := e.v.Explained
	if x == nil {
		return
	}
	if !e.v.Talk.IsZero() {
		e.put(e.v.Talk, rankTalk, x.By, func(*visit.State) error {
			return e.fact(visit.Called{Step: visit.AtExplain, Station: x.Station})
		})
	}
	e.put(x.At, rankExplain, x.By, func(v *visit.State) error {
		if err := e.explainGates(v); err != nil {
			return err
		}
		if err := e.fact(visit.Explained{Language: x.Language, TeachBack: x.TeachBack, Station: x.Station}); err != nil {
			return err
		}
		if err := e.about(true); err != nil {
			return err
		}
		if r := e.v.Referral; r != nil {
			if err := e.referral(v, *r); err != nil {
				return err
			}
		}
		if s := e.v.Slip; s != nil {
			return e.fact(visit.SlipIssued{Language: s.Language, Size: s.Size, Finding: v.FoundID})
		}
		return nil
	})
}

func (e *entering) explainGates(v *visit.State) error {
	if v.Finding() == nil {
		e.irregular("explained", e.unrepeated(v))
	}
	if e.me == nil || e.me.Has(people.Supervisor) || e.me.Has(people.Lead) {
		return nil
	}
	if !e.me.Has(people.Counsellor) {
		e.irregular("explained_by", refuse("role", e.me.Details.Name+" is no counsellor.", "", ""))
		return nil
	}
	has, err := e.trained(e.me.ID, e.ev.Zone(), nil)
	if err != nil {
		return err
	}
	e.irregular("explained_by", verifiedFault(e.me, has, people.Counsellor, e.proto, e.ev.Day(e.at)))
	return nil
}

func (e *entering) unrepeated(v *visit.State) *fault.Fault {
	return refuse("repeat-missing", fmt.Sprintf("Ticket %03d has no result that stands: the protocol asks for a repeat first.", v.Ticket), "", "")
}

func (e *entering) referral(v *visit.State, r PaperReferral) error {
	f := v.Finding()
	if f == nil || !f.Refer {
		e.irregular("referral", refuse("no-referral", "By the protocol this finding does not ask for a referral.", "", ""))
	}
	if f == nil {
		return e.fact(visit.Referred{Route: r.Route, By: e.at.Truncate(time.Minute), Agreed: r.Agreed, Call: v.Call})
	}
	return e.refer(v, r.Route, r.Agreed)
}

// end puts the end that the form says.
func (e *entering) end() {
	v := e.v
	consented := v.Arrived
	if v.Consent != nil {
		consented = v.Consent.At
	}
	ended := latest(consented, v.Ended)
	switch v.Outcome {
	case PaperLeft:
		e.put(v.Ended, rankEnd, "", func(s *visit.State) error { return e.fact(visit.Left{Where: s.Phase(), Reason: v.Reason}) })
	case PaperNoConsent:
		e.put(ended, rankEnd, "", func(*visit.State) error { return e.fact(visit.Declined{What: "consent", Reason: v.Reason}) })
	case PaperNoFingerstick:
		e.put(ended, rankEnd, "", func(*visit.State) error { return e.fact(visit.Declined{What: "fingerstick", Reason: v.Reason}) })
	case PaperTested:
		if v.Ended.IsZero() {
			return
		}
		by := ""
		if v.Explained != nil {
			by = v.Explained.By
		}
		e.put(v.Ended, rankEnd, by, func(s *visit.State) error {
			if s.Finding() == nil {
				e.irregular(fmt.Sprintf("reading%d_value", len(v.Readings)+1), e.unrepeated(s))
			}
			fieldOf := map[string]string{"care": "care_signed_by", "explained": "explained", "referral": "referral", "slip": "slip"}
			for _, g := range FinishGates(s, e.proto) {
				e.irregular(fieldOf[g.Key], g.Fault)
			}
			return e.fact(visit.Finished{})
		})
	}
}
