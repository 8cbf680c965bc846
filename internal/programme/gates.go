package programme

import (
	"fmt"
	"time"

	"fairstick/internal/charter"
	"fairstick/internal/civil"
	"fairstick/internal/competence"
	"fairstick/internal/control"
	"fairstick/internal/event"
	"fairstick/internal/fault"
	"fairstick/internal/incident"
	"fairstick/internal/people"
	"fairstick/internal/protocol"
	"fairstick/internal/stock"
	"fairstick/internal/visit"
)

// Gate is a condition that was checked before an act: open when Fault is nil.
type Gate struct {
	Key   string
	Name  string // two or three words for a list
	Fault *fault.Fault
}

// Open reports whether the gate lets the act pass.
func (g Gate) Open() bool { return g.Fault == nil }

// firstShut gives the first refusal of a list of gates, or nil.
func firstShut(gates []Gate) error {
	for _, g := range gates {
		if g.Fault != nil {
			return g.Fault
		}
	}
	return nil
}

func gate(key, name string, f *fault.Fault) Gate { return Gate{Key: key, Name: name, Fault: f} }

func refuse(key, sentence, why, do string) *fault.Fault {
	return fault.New(fault.Refused, key, sentence, why, do)
}

// verified refuses a person who has no standing verification for a role on a day, when the protocol asks for one.
func verified(who *people.State, has standing, role people.Role, proto protocol.Protocol, day civil.Date) error {
	return errOf(verifiedFault(who, has, role, proto, day))
}

// verifiedFault lets a person pass by a verification on paper or by one that rests on training; the refusal says what is missing.
func verifiedFault(who *people.State, has standing, role people.Role, proto protocol.Protocol, day civil.Date) *fault.Fault {
	asked := false
	for _, r := range proto.Verification.Roles {
		asked = asked || r == string(role)
	}
	if !asked {
		return nil
	}
	if _, ok := who.VerifiedOn(role, day); ok {
		return nil
	}
	name := who.Details.Name
	level, trains := levelOf[role]
	trains = trains && has.skill != nil
	sentence := fmt.Sprintf("%s has never been verified as %s.", name, role)
	if trains {
		sentence = fmt.Sprintf("%s is not verified as %s.", name, role)
	}
	if v, ok := who.LastFor(role); ok {
		switch {
		case v.Withdrawn != "":
			sentence = fmt.Sprintf("The verification of %s as %s was withdrawn.", name, role)
		case day.Before(v.From):
			sentence = fmt.Sprintf("%s is verified as %s only from %s.", name, role, v.From.Long())
		default:
			sentence = fmt.Sprintf("%s was verified as %s until %s.", name, role, v.Until.Long())
		}
	}
	if trains {
		rules, err := rulesOf(proto)
		if err != nil {
			return fault.Of(err)
		}
		lacks := competence.Lacks(has.skill, rules, level, has.on(day))
		if len(lacks) == 0 {
			return nil
		}
		sentence = notReady(sentence, lacks)
	}
	return refuse("not-verified", sentence, "Only people with proof in date may do this work.",
		"Give this post to somebody who is verified, or let a supervisor verify and record it.")
}

// ratio is hands-on people to supervisors who are here.
type ratio struct{ handsOn, supervisors int }

func ratioOf(ev *event.State) ratio {
	n := ev.Present()
	return ratio{
		handsOn:     n[string(people.Screener)] + n[string(people.Counsellor)],
		supervisors: n[string(people.Supervisor)] + n[string(people.Lead)],
	}
}

func (r ratio) String() string { return fmt.Sprintf("%d:%d", r.handsOn, r.supervisors) }

// supervisionGate asks for a supervisor who is here and for the ratio of the protocol. Between wanted and most, a lead
// may sign a reason; the signature covers that ratio or a better one.
func supervisionGate(ev *event.State, proto protocol.Protocol) Gate {
	r := ratioOf(ev)
	const key, name = "ratio", "Supervision"
	switch {
	case r.supervisors == 0:
		return gate(key, name, refuse("no-supervisor", "No supervisor is written down as here.",
			"Nobody may be tested without one within reach.", "Let a supervisor arrive on the roster, or stop testing."))
	case r.handsOn <= r.supervisors*proto.Ratio.Wanted:
		return gate(key, name, nil)
	case r.handsOn > r.supervisors*proto.Ratio.Most:
		return gate(key, name, refuse("ratio-most",
			fmt.Sprintf("%d people test or counsel under %d supervisors; the protocol allows at most %d each.", r.handsOn, r.supervisors, proto.Ratio.Most),
			"One supervisor cannot watch more.", "Close a station, or let another supervisor join."))
	}
	if o, ok := ev.OverrideOf(key); ok {
		var signed ratio
		if _, err := fmt.Sscanf(o.About, "%d:%d", &signed.handsOn, &signed.supervisors); err == nil &&
			r.handsOn*signed.supervisors <= signed.handsOn*r.supervisors {
			return gate(key, name, nil)
		}
	}
	f := refuse("ratio-wanted",
		fmt.Sprintf("%d people test or counsel under %d supervisors; the protocol wants %d for each.", r.handsOn, r.supervisors, proto.Ratio.Wanted),
		"With fewer eyes, mistakes pass unseen.", "Let another supervisor join, close a station, or let the lead sign a reason.")
	f.Override = proto.Overrides[key]
	return gate(key, name, f)
}

// todaysRuns lists the control runs of a meter for the clearance rules.
func todaysRuns(ev *event.State, meter string) []control.Run {
	var out []control.Run
	for _, r := range ev.RunsOf(meter) {
		out = append(out, control.Run{
			ID: r.ID, Meter: r.Meter, Lot: r.StripLot, Vial: r.Vial, Level: r.Level, At: r.At,
			Reading: r.Reading, Low: r.Low, High: r.High, Cause: r.Cause,
		})
	}
	return out
}

// clearance tells whether a meter may test people with a vial of a lot today.
func clearance(ev *event.State, m *stock.Meter, lot *stock.StripLot, vial string, proto protocol.Protocol) control.Clearance {
	if m.Quarantine != nil {
		return control.Clearance{Key: "quarantined", Sentence: "Meter " + m.Details.Label + " is in quarantine: " + m.Quarantine.Note}
	}
	var voids []control.Void
	for _, v := range m.Voids {
		voids = append(voids, control.Void{Meter: m.ID, At: v.At, Cause: v.Cause})
	}
	rule := control.Rule{Levels: proto.Controls.Levels, RunsWithoutCause: proto.Controls.RunsWithoutCause, EachVial: eachVial(lot, proto)}
	return control.Clear(m.ID, lot.ID, vial, todaysRuns(ev, m.ID), voids, rule)
}

// eachVial reports whether a newly opened vial of a lot needs controls: as the protocol says, or as the insert says.
func eachVial(lot *stock.StripLot, proto protocol.Protocol) bool {
	switch proto.Controls.EachVial {
	case protocol.Always:
		return true
	case protocol.Never:
		return false
	}
	return lot.ControlEachVial()
}

// use is the last time that a meter touched a participant at an event.
type use struct {
	visit string
	at    time.Time
	ok    bool
}

// testing is everything that the gates of a test look at.
type testing struct {
	ev      *event.State
	proto   protocol.Protocol
	who     *people.State
	has     standing // of who, for the meter
	meter   *stock.Meter
	lot     *stock.StripLot
	vial    string
	station string
	last    use
	care    *visit.State // open critical care at this station that no supervisor has taken over; nil if none
	at      time.Time
	spill   *incident.State // an open spill that shuts this station; nil for none
}

// stationGates are the gates that speak before a participant sits down.
func (t testing) stationGates() []Gate {
	day := t.ev.Day(t.at)
	return []Gate{
		gate("open", "Event open", t.openFault()),
		gate("screener", "Screener", t.screenerFault(day)),
		supervisionGate(t.ev, t.proto),
		gate("room", "Room", roomFault(t.ev, t.meter)),
		gate("meter", "Meter", t.meterFault()),
		gate("strips", "Strips", t.stripsFault(day)),
		gate("code", "Code", t.codeFault()),
		gate("controls", "Controls", t.clearanceFault()),
		gate("care", "Earlier alert", t.careFault()),
		gate("spill", "Spill", spillFault(t.spill)),
	}
}

func (t testing) openFault() *fault.Fault {
	switch t.ev.Phase {
	case event.IsOpen, event.IsDoorsClosed:
		return nil
	case event.IsPlanned:
		return refuse("not-open", "The event is not open yet.", "Nobody is tested before the opening checks and controls are done.",
			"A lead or supervisor opens it on the page Open.")
	case event.IsCancelled:
		return cancelledFault()
	}
	return closedFault()
}

func (t testing) screenerFault(day civil.Date) *fault.Fault {
	name := t.who.Details.Name
	post, ok := t.ev.PostOf(t.who.ID)
	if !ok || post.Role != string(people.Screener) {
		if f := verifiedFault(t.who, t.has, people.Screener, t.proto, day); f != nil {
			return f
		}
		return refuse("not-posted", name+" is not on the roster as a screener today.", "The record must show who was to test.",
			"A supervisor gives the post on the page Roster.")
	}
	if f := verifiedFault(t.who, t.has, people.Screener, t.proto, day); f != nil {
		return f
	}
	if !post.Here {
		return refuse("not-here", name+" is not written down as here.", "The supervisor ratio counts who is here.", "Mark "+name+" as here on the roster.")
	}
	return nil
}

func roomFault(ev *event.State, m *stock.Meter) *fault.Fault {
	if len(ev.Rooms) == 0 {
		return refuse("room-unknown", "The room has not been measured.", "Cold and heat change what a meter reads.", "Read the thermometer and type it on the page Open.")
	}
	if m == nil {
		return nil
	}
	r := ev.Rooms[len(ev.Rooms)-1]
	l := m.Details.Limits
	if r.Celsius < l.TempLow || r.Celsius > l.TempHigh {
		return refuse("room-temperature", fmt.Sprintf("The room was %g °C; the insert of meter %s allows %g to %g °C.", r.Celsius, m.Details.Label, l.TempLow, l.TempHigh),
			"Outside these limits the reading cannot be trusted.", "Warm or cool the room, let the meters settle, and measure again.")
	}
	if r.Humidity != nil && ((l.HumidityLow != nil && *r.Humidity < *l.HumidityLow) || (l.HumidityHigh != nil && *r.Humidity > *l.HumidityHigh)) {
		return refuse("room-humidity", fmt.Sprintf("The humidity was %g %%, outside what the insert of meter %s allows.", *r.Humidity, m.Details.Label),
			"Strips take up moisture.", "Move to a drier or less dry place and measure again.")
	}
	return nil
}

func (t testing) meterFault() *fault.Fault {
	if t.meter == nil {
		return refuse("no-meter", "No meter is set for this station.", "Every reading is kept with its meter.", "Choose the meter that lies on the table.")
	}
	label := t.meter.Details.Label
	if !t.ev.Brought(t.meter.ID) {
		return refuse("meter-not-brought", "Meter "+label+" is not on the list of meters brought today.", "", "Add it to the stock brought, then run its controls.")
	}
	if s := t.meter.Reviewed(); s != "" {
		return refuse("meter-review", s, "A meter may carry blood from one person to the next.", "A lead reads the instructions and signs the review, or use another meter.")
	}
	return nil
}

func (t testing) stripsFault(day civil.Date) *fault.Fault {
	switch {
	case t.lot == nil || t.vial == "":
		return refuse("no-strips", "No vial of strips is set for this station.", "Every reading is kept with its lot and vial.", "Choose the vial that lies on the table.")
	case t.meter != nil && !t.lot.Fits(t.meter.Details.Model):
		return refuse("strips-fit", fmt.Sprintf("Strip lot %s does not fit meter %s.", t.lot.Details.Lot, t.meter.Details.Label),
			"A strip in the wrong meter gives a wrong number.", "Choose strips made for this meter.")
	}
	if f := heldFault("Strip lot "+t.lot.Details.Lot, &t.lot.Shelf, t.at); f != nil {
		return f
	}
	if s := t.lot.Usable(t.vial, day); s != "" {
		return refuse("strips-use", s, "Old strips read wrong.", "Put this vial away and open a new one.")
	}
	return nil
}

func (t testing) codeFault() *fault.Fault {
	if t.meter == nil || t.lot == nil || t.meter.Details.Coding == stock.CodingNone {
		return nil
	}
	label, want := t.meter.Details.Label, t.lot.Details.Code
	c, ok := t.ev.Codes[t.meter.ID]
	switch {
	case !ok || c.Lot != t.lot.ID:
		return refuse("code-unread", fmt.Sprintf("The code on meter %s has not been compared with the vial of lot %s.", label, t.lot.Details.Lot),
			"A wrong code shifts every reading.", "Read the code on the meter's display and type it here.")
	case c.Shown != want:
		return refuse("code-differs", fmt.Sprintf("Meter %s shows code %s; the vial of lot %s says %s.", label, c.Shown, t.lot.Details.Lot, want),
			"A wrong code shifts every reading.", "Set the meter to the vial's code, then type what it shows.")
	}
	return nil
}

func (t testing) clearanceFault() *fault.Fault {
	if t.meter == nil || t.lot == nil || t.vial == "" {
		return nil
	}
	c := clearance(t.ev, t.meter, t.lot, t.vial, t.proto)
	if c.Cleared {
		return nil
	}
	if t.meter.Quarantine != nil {
		return refuse("quarantined", c.Sentence, "It stays out until somebody has found out why.", "Put it away and use another meter; a lead returns this one under Meters.")
	}
	what := fmt.Sprintf("Meter %s is not cleared with lot %s", t.meter.Details.Label, t.lot.Details.Lot)
	if eachVial(t.lot, t.proto) {
		what += ", vial " + t.vial
	}
	return refuse("not-cleared", what+": "+c.Sentence, "Controls show that meter and strips read right before a person is tested.",
		"Run both levels of control on this meter with these strips, or use a cleared meter.")
}

func (t testing) careFault() *fault.Fault {
	if t.care == nil {
		return nil
	}
	return refuse("care-open", fmt.Sprintf("Ticket %03d at this station needs a supervisor first.", t.care.Ticket),
		"A critical reading comes before the next person.", "Call a supervisor and let them sign in on the alert.")
}

// wiped refuses a meter that touched somebody else since it was last disinfected, or that is still wet.
func (t testing) wiped(visitID string) *fault.Fault {
	if t.meter == nil || !t.last.ok || t.last.visit == visitID {
		return nil
	}
	label := t.meter.Details.Label
	w, ok := t.ev.Wipes[t.meter.ID]
	if !ok || w.Start.Before(t.last.at) {
		return refuse("not-wiped", "Meter "+label+" has not been wiped since the last person.", "Blood on a meter can carry infection.",
			"Wipe it, start the clock, and wait until it is done.")
	}
	if left := w.Until().Sub(t.at); left > 0 {
		return refuse("still-wet", fmt.Sprintf("Meter %s must stay wet for %d more seconds.", label, int(left.Seconds()+0.999)),
			"The disinfectant needs its labelled time.", "Wait until the clock is done; keep the surface wet.")
	}
	return nil
}

// visitFault refuses a step on a visit that is not ready for it. A counsellor who has the ticket does not keep a screener
// from the recheck after sugar.
func visitFault(v *visit.State, lot *stock.StripLot, step visit.Phase, station string) *fault.Fault {
	ticket := fmt.Sprintf("Ticket %03d", v.Ticket)
	switch {
	case v.Phase().Ended():
		return refuse("visit-ended", ticket+" has ended.", "", "Look the ticket up on the board.")
	case v.Consent == nil:
		return refuse("no-consent", ticket+" has not consented.", "Nobody is tested without a yes.", "Send the participant back to the desk.")
	case v.Answers == nil || v.Ate == nil || v.Contact == nil:
		return refuse("desk-unfinished", ticket+" has not finished at the desk.", "The answers decide what the reading means.", "Send the participant back to the desk.")
	case v.Taken != nil && v.Taken.Step == step && v.Taken.Station != station:
		return fault.New(fault.Conflict, "elsewhere", fmt.Sprintf("%s is at station %s.", ticket, v.Taken.Station), "Two stations must not test one person.",
			"If that is wrong, put the ticket back in the line there.")
	}
	return chemistryFault(v, lot)
}

// chemistryFault refuses strips whose chemistry the participant's treatment deceives.
func chemistryFault(v *visit.State, lot *stock.StripLot) *fault.Fault {
	if lot == nil || v.Answers == nil {
		return nil
	}
	for _, bar := range v.Answers.Barred {
		if bar == string(lot.Details.Chemistry) {
			return refuse("chemistry", fmt.Sprintf("Strips of lot %s must not be used for ticket %03d.", lot.Details.Lot, v.Ticket),
				"The participant's treatment makes these strips read far too high.", "Use strips of another chemistry, or call the supervisor.")
		}
	}
	return nil
}

// openingGates are the gates before the first participant is let in.
func openingGates(ch *charter.State, ev *event.State, proto protocol.Protocol, protoErr error, meters []*stock.Meter, cleared int, screeners int, now time.Time) []Gate {
	gates := []Gate{
		gate("protocol", "Protocol", fault.Of(protoErr)),
		gate("route", "Referral route", routeFault(ev)),
		gate("certificate", "Certificate", certificateFault(ch, ev)),
		gate("emergency", "Emergency card", emergencyFault(ch, ev)),
		gate("exposure", "After a needlestick", exposureFault(ch)),
		gate("labelled-use", "Labelled use", labelledUseFault(ch)),
		gate("day", "The day", dayFault(ev, now)),
	}
	if protoErr != nil {
		return gates
	}
	return append(gates,
		gate("meters", "Meters", metersFault(meters)),
		gate("room", "Room", roomOfAll(ev, meters)),
		gate("stock", "Stock", stockFault(ev)),
		gate("checks", "Opening checks", checksFault(ev, proto)),
		gate("people", "Screeners", screenersFault(screeners)),
		supervisionGate(ev, proto),
		gate("controls", "Controls", clearedFault(cleared)))
}

func routeFault(ev *event.State) *fault.Fault {
	for _, r := range ev.Plan.Routes {
		if r.Name != "" && (r.Phone != "" || r.Address != "") {
			return nil
		}
	}
	return refuse("no-route", "No place is named to which people can be referred.",
		"Screening without a way to care is not recommended (ADA, community screening).", "Name at least one place with its telephone or address in the plan.")
}

func certificateFault(ch *charter.State, ev *event.State) *fault.Fault {
	d := ch.Details
	switch {
	case d.Certificate == "" || d.CertificateUntil.IsZero():
		return refuse("no-certificate", "The certificate of waiver is not on record.", "A fair tests under a certificate (42 CFR 493.15, 493.35).",
			"The lead types its number and last day under Programme.")
	case ev.Plan.Date.After(d.CertificateUntil):
		return refuse("certificate-expired", "The certificate of waiver ended on "+d.CertificateUntil.Long()+".",
			"A fair tests under a certificate that is in date.", "Renew it and type the new last day under Programme.")
	}
	return nil
}

func emergencyFault(ch *charter.State, ev *event.State) *fault.Fault {
	if ev.EmergencyNumber(ch.Details.Emergency) == "" || ev.Plan.Address == "" {
		return refuse("no-emergency", "The emergency number or the street address is missing.",
			"In an emergency nobody should have to search for it.", "Type both in the plan of the event.")
	}
	return nil
}

func exposureFault(ch *charter.State) *fault.Fault {
	if ch.Details.ExposurePhone != "" {
		return nil
	}
	return refuse("no-exposure-contact", "Nobody is named to call after a needlestick or a splash of blood.",
		"Care after an exposure counts in hours; its number must be at the table.", "The lead types the name, number and hours under Programme.")
}

func labelledUseFault(ch *charter.State) *fault.Fault {
	if ch.Details.LabelledUse {
		return nil
	}
	return refuse("labelled-use", "Nobody has recorded that the meters' labelled use was read.",
		"Many meters are not labelled for screening; the lead must know and decide.", "The lead reads the labels and ticks it under Programme.")
}

func dayFault(ev *event.State, now time.Time) *fault.Fault {
	if today := ev.Day(now); today != ev.Plan.Date {
		return refuse("other-day", fmt.Sprintf("The plan is for %s and today is %s.", ev.Plan.Date.Long(), today.Long()),
			"Expiry, verification and controls are judged by the day.", "Correct the date in the plan, or wait for the day.")
	}
	return nil
}

func metersFault(meters []*stock.Meter) *fault.Fault {
	if len(meters) == 0 {
		return refuse("no-meters", "No meter is written down as brought.", "", "Add the meters under Stock brought.")
	}
	for _, m := range meters {
		if s := m.Reviewed(); s != "" {
			return refuse("meter-review", s, "A meter may carry blood from one person to the next.", "Sign its review under Meters, or leave the meter at home.")
		}
	}
	return nil
}

func roomOfAll(ev *event.State, meters []*stock.Meter) *fault.Fault {
	if f := roomFault(ev, nil); f != nil {
		return f
	}
	for _, m := range meters {
		if f := roomFault(ev, m); f != nil && m.Quarantine == nil {
			return f
		}
	}
	return nil
}

func stockFault(ev *event.State) *fault.Fault {
	strips := 0
	for _, n := range ev.Out.Strips {
		strips += n
	}
	switch {
	case strips == 0:
		return refuse("no-strips-brought", "No strips are written down as brought.", "The count at the end needs it.", "Count the strips by lot under Stock brought.")
	case ev.Out.Lancets == 0:
		return refuse("no-lancets-brought", "No lancets are written down as brought.", "Fewer lancets than sticks at the end would mean reuse; the count shows it.", "Count the lancets under Stock brought.")
	case ev.Out.Sharps == 0:
		return refuse("no-sharps-brought", "No sharps container is written down as brought.", "A lancet goes straight into sharps.", "Count the containers under Stock brought.")
	}
	return nil
}

func checksFault(ev *event.State, proto protocol.Protocol) *fault.Fault {
	open := 0
	first := ""
	for _, c := range proto.OpeningChecks {
		if m, ok := ev.Checks[c.Key]; !ok || !m.OK {
			open++
			if first == "" {
				first = c.Text.In("en")
			}
		}
	}
	if open == 0 {
		return nil
	}
	return refuse("checks-open", fmt.Sprintf("%d opening checks are not done. Next: %s", open, first), "Each one prevents something that has gone wrong before.", "Do them and tick them.")
}

func screenersFault(n int) *fault.Fault {
	if n > 0 {
		return nil
	}
	return refuse("no-screener", "No verified screener is here.", "Only verified people may test.", "Mark who is here on the roster, or post somebody who is verified.")
}

func clearedFault(n int) *fault.Fault {
	if n > 0 {
		return nil
	}
	return refuse("none-cleared", "No meter is cleared.", "Two levels of control must be in range before anyone is tested.", "Run both levels on every meter.")
}
