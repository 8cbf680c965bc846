package programme

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"time"

	"fairstick/internal/about"
	"fairstick/internal/fact"
	"fairstick/internal/fault"
	"fairstick/internal/glucose"
	"fairstick/internal/people"
	"fairstick/internal/protocol"
	"fairstick/internal/stock"
	"fairstick/internal/visit"
)

// paperCheck reads a visit from paper and collects what cannot be.
type paperCheck struct {
	fields
	d *paperDay
	v *PaperVisit

	screening protocol.Screening
	readings  []paperShot // as checked, in the order of the form
	steps     []visit.CareStep
}

// paperShot is a reading whose meter, strips and people were found.
type paperShot struct {
	PaperReading
	n        int // on the form, from 1
	reading  glucose.Reading
	meter    *stock.Meter
	lot      *stock.StripLot
	screener *people.State
	wipe     *stock.Disinfectant // nil when the meter was not wiped
}

func (d *paperDay) check(v *PaperVisit) (*paperCheck, error) {
	c := &paperCheck{d: d, v: v}
	if f := numberFault(d.ev, v.Form); f != nil {
		c.say("form", "%s", f.Sentence)
	}
	v.Row = c.text("row", "The key of the row", v.Row, false, 40)
	if v.Language == "" {
		v.Language = "en"
	}
	c.oneOf("language", "The language", v.Language, Languages...)
	v.Reason = c.text("reason", "The reason", v.Reason, false, 120)
	c.when("arrived", "The arrival", v.Arrived, true, time.Time{}, "")
	c.outcome()
	c.desk()
	for i := range v.Readings {
		if err := c.reading(i); err != nil {
			return nil, err
		}
	}
	c.care()
	c.end()
	return c, c.err()
}

func (c *paperCheck) clock(t time.Time) string { return t.In(c.d.ev.Zone()).Format("15:04") }

// when checks that a time is there, on the day of the event, not to come, and not before another.
func (c *paperCheck) when(field, label string, t time.Time, required bool, after time.Time, what string) {
	day := c.d.ev.Plan.Date
	switch {
	case t.IsZero() && required:
		c.say(field, "The time is missing: %s.", strings.ToLower(label[:1])+label[1:])
	case t.IsZero():
	case c.d.ev.Day(t) != day:
		c.say(field, "%s is on %s; the event was on %s.", label, c.d.ev.Day(t).Long(), day.Long())
	case t.After(c.d.now.Add(futureSlack)):
		c.say(field, "%s at %s has not come yet.", label, c.clock(t))
	case !after.IsZero() && t.Before(after):
		c.say(field, "%s at %s comes before %s at %s.", label, c.clock(t), what, c.clock(after))
	}
}

// person finds somebody who is named on paper.
func (c *paperCheck) person(field, label, id string, required bool) *people.State {
	if id == "" {
		if required {
			c.say(field, "%s is missing.", label)
		}
		return nil
	}
	who, err := load[*people.State](c.d.work, people.Ref(id))
	if err != nil {
		c.say(field, "%s is not on the list of people.", label)
		return nil
	}
	return who
}

// supervisor finds a supervisor or lead who is named on paper.
func (c *paperCheck) supervisor(field, label, id string) *people.State {
	who := c.person(field, label, id, true)
	if who != nil && !who.Has(people.Supervisor) && !who.Has(people.Lead) {
		c.say(field, "%s is no supervisor.", who.Details.Name)
	}
	return who
}

func (c *paperCheck) outcome() {
	v := c.v
	c.oneOf("outcome", "What became of the visit", v.Outcome, PaperOutcomes...)
	readings := len(v.Readings) > 0
	switch v.Outcome {
	case PaperTested:
		if !readings {
			c.say("reading1_value", "The form says tested, but no reading is on it.")
		}
	case PaperLeft:
		c.when("ended", "The leaving", v.Ended, true, v.Arrived, "the arrival")
	default:
		if readings {
			c.say("outcome", "There is a reading on the form, so the outcome is %s or %s.", PaperTested, PaperLeft)
		}
	}
	if v.Outcome == PaperNoConsent && v.Consent != nil {
		c.say("outcome", "There is a consent on the form, so it was not the consent that was declined.")
	}
	if len(v.Readings) > MostPaperReadings {
		c.say("reading1_value", "A form has room for %d readings.", MostPaperReadings)
	}
}

// desk checks consent, answers, last food and contact.
func (c *paperCheck) desk() {
	v := c.v
	asked := len(v.Answers) > 0 || v.Ate != nil || v.Contact != nil || len(v.About) > 0 || len(v.Readings) > 0
	if v.Consent == nil {
		if asked || v.Outcome == PaperTested || v.Outcome == PaperNotEligible || v.Outcome == PaperNoFingerstick {
			c.say("consent_time", "There is no consent on the form. Nobody is asked about their health or tested without a yes: show the form to the lead.")
		}
		return
	}
	c.when("consent_time", "The consent", v.Consent.At, true, v.Arrived, "the arrival")
	c.oneOf("consent_how", "How the text was given", v.Consent.How, "read", "read-aloud", "interpreter")
	if v.Consent.Version == "" {
		v.Consent.Version = c.d.proto.Consent.Version
	}
	if v.Consent.Version != c.d.proto.Consent.Version {
		c.say("consent_version", "The consent text of this event is version %s.", c.d.proto.Consent.Version)
	}
	c.answers()
	c.about()
	if a := v.Ate; a != nil && a.Known {
		switch {
		case a.Last.IsZero():
			c.say("last_food", "The time of the last food is missing. Type it, or that it is not known.")
		case a.Last.After(v.Consent.At):
			c.say("last_food", "The last food at %s comes after the question at %s. Was it the day before?", c.clock(a.Last), c.clock(v.Consent.At))
		case v.Consent.At.Sub(a.Last) > 72*time.Hour:
			c.say("last_food", "The last food is more than three days before the visit. Check the day, or type that it is not known.")
		}
	}
	if k := v.Contact; k != nil && k.Allow {
		x := k.sealable()
		c.contact(&x)
		k.Name, k.Phone, k.When = x.Name, x.Phone, x.When
	}
}

func (k PaperContact) sealable() Contact {
	return Contact{Allow: k.Allow, Call: k.Call, Name: k.Name, Phone: k.Phone, When: k.When}
}

func (c *paperCheck) answers() {
	v := c.v
	if len(v.Answers) == 0 {
		if v.Outcome == PaperNotEligible {
			c.say("outcome", "The form has no answers, so nothing says that the participant was not eligible.")
		}
		return
	}
	var err error
	if c.screening, err = c.d.proto.Screen(v.Answers); err != nil {
		for key, message := range fault.Of(err).Fields {
			c.say("answer_"+key, "%s", message)
		}
		return
	}
	switch {
	case v.Outcome == PaperNotEligible && c.screening.Eligible:
		c.say("outcome", "By the protocol these answers do not exclude anybody. Look at the answers and at the outcome again.")
	case v.Outcome == PaperNoFingerstick && !c.screening.Eligible:
		c.say("outcome", "By the protocol these answers exclude the participant; the outcome is %s.", PaperNotEligible)
	case v.Outcome == PaperLeft && !c.screening.Eligible && len(v.Readings) == 0:
		c.say("outcome", "By the protocol these answers exclude the participant; the outcome is %s.", PaperNotEligible)
	}
}

// about checks what the person said of themself. What the programme does not ask is not kept; what a visit on record was asked stays with it.
func (c *paperCheck) about() {
	if len(c.v.About) == 0 {
		return
	}
	var was about.Answers
	if s := c.d.before(c.v.Form); s != nil {
		was = s.About
	}
	said := about.Answers{}
	for key, codes := range c.v.About {
		_, there := was[key]
		q, known := about.Find(key)
		if !known || !there && !slices.Contains(c.d.asks, key) {
			c.say(about.Field(key), "This programme does not ask this question: leave it empty, or let a lead choose the question in Set-up first.")
			continue
		}
		codes, wrong := q.Take(codes)
		if wrong != "" {
			c.say(about.Field(key), "%s", wrong)
		}
		said[key] = codes
	}
	c.v.About = said
}

// reading checks one reading of the form.
func (c *paperCheck) reading(i int) error {
	r := paperShot{PaperReading: c.v.Readings[i], n: i + 1}
	name := func(s string) string { return fmt.Sprintf("reading%d_%s", r.n, s) }
	var consent time.Time
	if c.v.Consent != nil {
		consent = c.v.Consent.At
	}
	c.when(name("time"), "The reading", r.At, true, consent, "the consent")
	if i > 0 {
		c.when(name("time"), "The reading", r.At, false, c.v.Readings[i-1].At, "the reading before it")
	}
	r.Vial = c.text(name("vial"), "The vial", r.Vial, true, 20)
	r.Station = c.text(name("station"), "The station", r.Station, false, 12)
	r.Reason = c.text(name("reason"), "The reason", r.Reason, false, 120)
	c.between(name("misfires"), "Lancets that did not work", r.Misfires, 0, 9)
	if r.Purpose != "" {
		c.oneOf(name("purpose"), "What the reading is for", r.Purpose, visit.First, visit.Repeat, visit.Recheck)
	}
	r.screener = c.person(name("screener"), "The screener", r.Screener, true)
	if r.ReadBy != "" {
		c.person(name("read_by"), "The second person", r.ReadBy, false)
		if r.ReadBy == r.Screener {
			c.say(name("read_by"), "The second person must be somebody else.")
		}
	}
	var err error
	if r.meter, err = maybe[*stock.Meter](c.d.work, stock.MeterRef(r.Meter)); err != nil {
		return err
	}
	if r.lot, err = maybe[*stock.StripLot](c.d.work, stock.StripLotRef(r.StripLot)); err != nil {
		return err
	}
	if r.lot == nil {
		c.say(name("strip_lot"), "This strip lot is not in the record.")
	}
	if r.meter == nil {
		c.say(name("meter"), "This meter is not in the record.")
		return nil
	}
	c.shown(&r, name)
	if err := c.wipe(&r, name); err != nil {
		return err
	}
	c.readings = append(c.readings, r)
	return nil
}

// shown reads what the meter showed, and compares it with its second typing when there is one.
func (c *paperCheck) shown(r *paperShot, name func(string) string) {
	u := r.meter.Details.Unit
	var err error
	if r.reading, err = glucose.ParseReading(r.Shown, u); err == nil {
		err = c.d.proto.Plausible(r.reading)
	}
	if err != nil {
		c.say(name("value"), "%s", fault.Of(err).Sentence)
		return
	}
	c.v.Readings[r.n-1].Shown = r.reading.Shown()
	if tidy(r.Again) == "" {
		return
	}
	if again, err := glucose.ParseReading(r.Again, u); err != nil || again != r.reading {
		c.say(name("again"), "First %s, then %s: look at the form and type the number twice.", r.reading.Shown(), tidy(r.Again))
	}
}

// wipe finds the disinfectant of a wipe: the one named, else the only one that the meter's review allows.
func (c *paperCheck) wipe(r *paperShot, name func(string) string) error {
	c.when(name("wiped"), "The wiping of the meter", r.WipedAt, false, r.At, "the reading")
	if r.WipedAt.IsZero() {
		return nil
	}
	id := r.Wipe
	if id == "" && r.meter.Review != nil && len(r.meter.Review.Disinfectants) == 1 {
		id = r.meter.Review.Disinfectants[0]
	}
	var err error
	if r.wipe, err = maybe[*stock.Disinfectant](c.d.work, stock.DisinfectantRef(id)); err == nil && r.wipe == nil {
		c.say(name("wipe"), "With what was meter %s wiped? Its review does not name one product alone.", r.meter.Details.Label)
	}
	c.v.Readings[r.n-1].Wipe = id
	return err
}

// maybe reads a subject; nil when the record does not have it.
func maybe[S fact.State](w *work, ref fact.Ref) (S, error) {
	var none S
	st, ok, err := w.tx.State(ref)
	if err != nil || !ok {
		return none, err
	}
	s, _ := st.(S)
	return s, nil
}

// care checks the acts of care and their signature.
func (c *paperCheck) care() {
	k := c.v.Care
	if k == nil {
		return
	}
	for i, s := range k.Steps {
		name := careField(s, c.v.Care.Steps[:i])
		c.when(name+"_time", "This act of care", s.At, true, c.v.Arrived, "the arrival")
		switch s.Step {
		case stepSeen:
			note := c.text(name+"_note", "What was seen", s.Note, false, 200)
			c.steps = append(c.steps, visit.CareStep{Step: s.Step, Note: note})
			continue
		case stepSupervisor:
			c.supervisor(name+"_by", "The supervisor", s.By)
			c.steps = append(c.steps, visit.CareStep{Step: s.Step, Choice: s.By})
			continue
		}
		if s.By != "" {
			c.person(name+"_by", "This person", s.By, false)
		}
		var f fields
		c.steps = append(c.steps, f.careStep(CareStep{Step: s.Step, Choice: s.Choice, Signs: s.Signs, Note: s.Note}, c.d.proto))
		for field, message := range f.bad {
			c.say(name+"_"+field, "%s", message)
		}
	}
	k.Note = c.text("care_note", "The note", k.Note, false, 300)
	if k.SignedBy == "" && k.SignedAt.IsZero() {
		return
	}
	c.supervisor("care_signed_by", "The supervisor who signed", k.SignedBy)
	c.when("care_signed_time", "The signature", k.SignedAt, true, c.v.Arrived, "the arrival")
	for _, s := range k.Steps {
		c.when("care_signed_time", "The signature", k.SignedAt, false, s.At, "an act of care")
	}
}

// stepSeen is the moment at which somebody looked unwell, which opens care.
const stepSeen = "seen"

// careField names the field of an act of care: sugar2 for the second time of sugar.
func careField(s PaperCareStep, before []PaperCareStep) string {
	n := 1
	for _, b := range before {
		if b.Step == s.Step {
			n++
		}
	}
	if n == 1 {
		return "care_" + s.Step
	}
	return fmt.Sprintf("care_%s%d", s.Step, n)
}

// end checks what comes after the test.
func (c *paperCheck) end() {
	v := c.v
	var consent time.Time
	if v.Consent != nil {
		consent = v.Consent.At
	}
	c.when("called", "The call to the test", v.Called, false, consent, "the consent")
	last, lastWhat := v.Arrived, "the arrival"
	later := func(t time.Time, what string) {
		if t.After(last) {
			last, lastWhat = t, what
		}
	}
	later(consent, "the consent")
	if n := len(v.Readings); n > 0 {
		first := v.Readings[0].At
		if v.Called.After(first) {
			c.say("called", "The call to the test at %s comes after the first reading at %s.", c.clock(v.Called), c.clock(first))
		}
		later(v.Readings[n-1].At, "the last reading")
	}
	c.when("talk", "The call to Explain", v.Talk, false, v.Arrived, "the arrival")
	if x := v.Explained; x != nil {
		c.explained(x)
		later(x.At, "the explanation")
	} else if v.Slip != nil || v.Referral != nil {
		c.say("explained", "Who explained the finding, and when? The slip and the referral are handed over then.")
	}
	c.when("ended", "The end", v.Ended, false, last, lastWhat)
	valued := slices.ContainsFunc(c.readings, func(r paperShot) bool { return !isError(r.reading) })
	if v.Outcome == PaperTested && len(v.Readings) > 0 && len(c.readings) == len(v.Readings) && !valued {
		c.say("outcome", "There is no value among the readings. If the person went away without one, the outcome is %s.", PaperLeft)
	}
}

func (c *paperCheck) explained(x *PaperExplained) {
	v := c.v
	if len(v.Readings) == 0 {
		c.say("explained", "There is no reading to explain.")
		return
	}
	c.when("explained", "The explanation", x.At, true, v.Readings[0].At, "the first reading")
	if !v.Talk.IsZero() && x.At.Before(v.Talk) {
		c.say("explained", "The explanation at %s comes before the call to it at %s.", c.clock(x.At), c.clock(v.Talk))
	}
	c.person("explained_by", "Who explained", x.By, true)
	if x.Language == "" {
		x.Language = v.Language
	}
	c.oneOf("explained_language", "The language", x.Language, Languages...)
	c.oneOf("teach_back", "The teach-back", x.TeachBack, "own-words", "again", "not-asked")
	x.Station = c.text("explained_station", "The station", x.Station, false, 12)
	if s := v.Slip; s != nil {
		if s.Language == "" {
			s.Language = x.Language
		}
		if s.Size == "" {
			s.Size = "half-letter"
		}
		c.oneOf("slip_language", "The language", s.Language, Languages...)
		c.oneOf("slip_size", "The paper", s.Size, "half-letter", "a5", "screen")
	}
	if r := v.Referral; r != nil {
		r.Route = c.text("referral", "The place", r.Route, true, 80)
	}
}

// digest is what stands for the paper as it was typed, so that it is known when it comes again. Personal data is no part
// of it: a telephone number could be guessed from a digest.
func (v PaperVisit) digest() (string, error) {
	data, err := json.Marshal(v)
	if err != nil {
		return "", err
	}
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:16]), nil
}
