package programme

import (
	"fmt"
	"strconv"
	"strings"
	"time"
	"unicode"

	"fairstick/internal/about"
	"fairstick/internal/civil"
	"fairstick/internal/fact"
	"fairstick/internal/fault"
	"fairstick/internal/glucose"
	"fairstick/internal/people"
	"fairstick/internal/protocol"
	"fairstick/internal/stock"
)

// dayNames finds by its name what a file speaks of.
type dayNames struct {
	zone   *time.Location
	date   civil.Date
	proto  protocol.Protocol
	people map[string]string
	meters map[string]*stock.Meter
	lots   map[string]*stock.StripLot
	sols   map[string][]*stock.ControlLot
	wipes  map[string]string
}

func (d *paperDay) readNames() (*dayNames, error) {
	n := &dayNames{
		zone: d.ev.Zone(), date: d.ev.Plan.Date, proto: d.proto,
		people: map[string]string{}, meters: map[string]*stock.Meter{}, lots: map[string]*stock.StripLot{}, sols: map[string][]*stock.ControlLot{}, wipes: map[string]string{},
	}
	return n, firstErr(
		each(d.work, people.Kind, func(s *people.State) { n.people[joined(s.Details.Name)] = s.ID }),
		each(d.work, stock.MeterKind, func(m *stock.Meter) { n.meters[joined(m.Details.Label)] = m }),
		each(d.work, stock.StripLotKind, func(l *stock.StripLot) { n.lots[joined(l.Details.Lot)] = l }),
		each(d.work, stock.ControlLotKind, func(l *stock.ControlLot) {
			n.sols[joined(l.Details.Lot)] = append(n.sols[joined(l.Details.Lot)], l)
		}),
		each(d.work, stock.DisinfectantKind, func(x *stock.Disinfectant) { n.wipes[joined(x.Details.Name)] = x.ID }),
	)
}

func each[S fact.State](w *work, kind string, do func(S)) error {
	all, err := listed[S](w.tx.All(kind))
	for _, s := range all {
		do(s)
	}
	return err
}

func firstErr(errs ...error) error {
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return nil
}

// dayCells reads the cells of one row; what cannot be read is kept by its column.
type dayCells struct {
	fields
	names  *dayNames
	values map[string]string
}

func (c *dayCells) cell(column string) string { return tidy(c.values[column]) }

// any reports whether a cell of these is filled.
func (c *dayCells) any(columns ...string) bool {
	for _, x := range columns {
		if c.cell(x) != "" {
			return true
		}
	}
	return false
}

// word folds a cell to one of the words of the record: "Not eligible" is not-eligible.
func (c *dayCells) word(column string) string {
	return strings.NewReplacer(" ", "-", "_", "-").Replace(strings.ToLower(c.cell(column)))
}

func (c *dayCells) yes(column string, empty bool) bool {
	switch strings.ToLower(c.cell(column)) {
	case "":
		return empty
	case "yes", "y", "sí", "si", "s", "1", "true":
		return true
	case "no", "n", "0", "false":
		return false
	}
	c.say(column, "Write yes or no; %q was typed.", c.cell(column))
	return empty
}

func (c *dayCells) whole(column string) int {
	v := c.cell(column)
	if v == "" {
		return 0
	}
	n, err := strconv.Atoi(v)
	if err != nil || len(v) > 6 || n < 0 {
		c.say(column, "Write a whole number; %q was typed.", v)
		return 0
	}
	return n
}

// time reads a time of day: 9:05, 09:05, 9:05:30 or 2:05 pm.
func (c *dayCells) time(column, label string, required bool) time.Time {
	v := c.cell(column)
	if v == "" {
		if required {
			c.say(column, "%s has no time.", label)
		}
		return time.Time{}
	}
	t, ok := clockOn(c.names.date, v, c.names.zone)
	if !ok {
		c.say(column, "Write the time like 9:05, 14:05 or 2:05 pm; %q was typed.", v)
	}
	return t
}

// clockOn reads a time of day on a date.
func clockOn(date civil.Date, text string, zone *time.Location) (time.Time, bool) {
	half := ""
	if i := strings.IndexFunc(text, unicode.IsLetter); i >= 0 {
		half = strings.NewReplacer(".", "", " ", "").Replace(strings.ToLower(text[i:]))
		text = text[:i]
	}
	parts := strings.Split(strings.TrimSpace(text), ":")
	if len(parts) < 2 || len(parts) > 3 || half != "" && half != "am" && half != "pm" {
		return time.Time{}, false
	}
	var n [3]int
	for i, p := range parts {
		if len(p) < 1 || len(p) > 2 || i > 0 && len(p) != 2 || strings.Trim(p, "0123456789") != "" {
			return time.Time{}, false
		}
		n[i], _ = strconv.Atoi(p) // one or two digits
	}
	switch {
	case n[1] > 59 || n[2] > 59 || n[0] > 23, half != "" && (n[0] < 1 || n[0] > 12):
		return time.Time{}, false
	case half == "am" && n[0] == 12:
		n[0] = 0
	case half == "pm" && n[0] < 12:
		n[0] += 12
	}
	d := date.Time(time.UTC)
	return time.Date(d.Year(), d.Month(), d.Day(), n[0], n[1], n[2], 0, zone), true
}

// food reads the last food: a time of the day, "yesterday 21:30", a date and a time, or that it is not known.
func (c *dayCells) food() *PaperAte {
	v := strings.ToLower(c.cell("last_food"))
	switch v {
	case "":
		return nil
	case "not known", "unknown", "no sabe", "?":
		return &PaperAte{}
	}
	date, clock := c.names.date, v
	first, rest, two := strings.Cut(v, " ")
	switch d, err := civil.Parse(first); {
	case two && (first == "yesterday" || first == "ayer"):
		date, clock = date.AddDays(-1), rest
	case two && err == nil:
		date, clock = d, rest
	}
	t, ok := clockOn(date, clock, c.names.zone)
	if !ok {
		c.say("last_food", "Write the last food like 7:30, yesterday 21:30 or not known; %q was typed.", c.cell("last_food"))
		return nil
	}
	return &PaperAte{Known: true, Last: t}
}

func (c *dayCells) person(column string) string {
	v := c.cell(column)
	if v == "" {
		return ""
	}
	id, ok := c.names.people[joined(v)]
	if !ok {
		c.say(column, "%q is not on the list of people.", v)
	}
	return id
}

func (c *dayCells) visit() PaperVisit {
	v := PaperVisit{
		Form: c.whole("form"), Row: c.cell("row"), Language: strings.ToLower(c.cell("language")), Arrived: c.time("arrived", "The arrival", true),
		Outcome: c.word("outcome"), Reason: c.cell("reason"), Ate: c.food(), Called: c.time("called", "The call", false),
		Talk: c.time("talk", "The call to Explain", false), Ended: c.time("ended", "The end", false),
	}
	if c.any("consent_time", "consent_how") {
		v.Consent = &PaperConsent{At: c.time("consent_time", "The consent", true), How: c.word("consent_how")}
	}
	c.readAnswers(&v)
	c.readAbout(&v)
	if c.any("contact") {
		v.Contact = &PaperContact{Allow: c.yes("contact", false), Call: c.yes("contact_call", false), Name: c.cell("contact_name"), Phone: c.cell("contact_phone"), When: c.cell("contact_when")}
		if !v.Contact.Allow {
			v.Contact = &PaperContact{}
		}
	}
	if (v.Contact == nil || !v.Contact.Allow) && c.any("contact_name", "contact_phone", "contact_when") {
		c.say("contact", "A name or a number without permission is not kept. Empty those cells, or write yes when it was given.")
	}
	for n := 1; n <= MostPaperReadings; n++ {
		if r, ok := c.reading(n); ok {
			if len(v.Readings) != n-1 {
				c.say(fmt.Sprintf("reading%d_time", n), "The readings before this one are empty.")
			}
			v.Readings = append(v.Readings, r)
		}
	}
	c.readCare(&v)
	c.afterTest(&v)
	return v
}

// AnswerPrefix begins the name of a column that holds the answer to one question of the protocol.
const AnswerPrefix = "answer_"

func (c *dayCells) readAnswers(v *PaperVisit) {
	v.Answers = protocol.Answers{}
	for column := range c.values {
		key, ok := strings.CutPrefix(column, AnswerPrefix)
		if !ok || c.cell(column) == "" {
			continue
		}
		q, asked := c.names.question(key)
		switch {
		case !asked:
			c.say(column, "The protocol of this event has no such question.")
		case q.Kind == protocol.YesNo:
			v.Answers[q.Key] = protocol.No
			if c.yes(column, false) {
				v.Answers[q.Key] = protocol.Yes
			}
		case q.Kind == protocol.Signs:
			if signs := c.signs(column); len(signs) > 0 {
				v.Answers[q.Key] = strings.Join(signs, ",")
			}
		default:
			v.Answers[q.Key] = c.cell(column)
		}
	}
}

// readAbout reads what people said about themselves: the codes of their answers with | between, or that a question was passed over.
func (c *dayCells) readAbout(v *PaperVisit) {
	for _, q := range about.Questions() {
		column := about.Field(q.Key)
		said := strings.ToLower(c.cell(column))
		if said == "" {
			continue
		}
		if v.Consent == nil {
			c.say(column, "Nobody is asked about themselves without a consent.")
			continue
		}
		if said == about.PassedOver {
			said = ""
		}
		codes, wrong := q.Take(strings.Split(said, "|"))
		if wrong != "" {
			c.say(column, "%s", wrong)
			continue
		}
		if v.About == nil {
			v.About = about.Answers{}
		}
		v.About[q.Key] = codes
	}
}

func (n *dayNames) question(key string) (protocol.Question, bool) {
	for _, q := range n.proto.Questions {
		if strings.ReplaceAll(q.Key, "-", "_") == key {
			return q, true
		}
	}
	return protocol.Question{}, false
}

// signs reads signs of a crisis, several with | between; the word none, or no, is none of them.
func (c *dayCells) signs(column string) []string {
	var out []string
	for _, s := range strings.FieldsFunc(strings.ToLower(c.values[column]), func(r rune) bool { return r == '|' || r == ',' || r == ';' }) {
		switch s = strings.NewReplacer(" ", "-", "_", "-").Replace(tidy(s)); s {
		case "":
		case "no", "none", "ninguno":
			out = append(out, protocol.NoSign)
		default:
			out = append(out, s)
		}
	}
	if len(out) > 1 {
		for _, s := range out {
			if s == protocol.NoSign {
				c.say(column, "Write signs or none, not both.")
			}
		}
	}
	return out
}

// readingCells are the columns of one reading, after reading1_.
var readingCells = []string{"time", "value", "meter", "strip_lot", "vial", "station", "screener", "purpose", "same_drop", "misfires", "washed", "read_by", "sharps", "wiped", "wipe", "reason"}

func (c *dayCells) reading(n int) (PaperReading, bool) {
	name := func(s string) string { return fmt.Sprintf("reading%d_%s", n, s) }
	filled := false
	for _, s := range readingCells {
		filled = filled || c.any(name(s))
	}
	if !filled {
		return PaperReading{}, false
	}
	r := PaperReading{
		At: c.time(name("time"), "The reading", true), Shown: c.cell(name("value")), Vial: c.cell(name("vial")), Station: c.cell(name("station")),
		Purpose: c.word(name("purpose")), Screener: c.person(name("screener")), SameDrop: c.yes(name("same_drop"), false), Misfires: c.whole(name("misfires")),
		ReadBy: c.person(name("read_by")), Sharps: c.yes(name("sharps"), false), WipedAt: c.time(name("wiped"), "The wiping", false), Reason: c.cell(name("reason")),
	}
	if !c.any(name("washed")) {
		c.say(name("washed"), "Were the hands washed with soap? Write yes or no.")
	}
	r.Washed = c.yes(name("washed"), false)
	if !c.any(name("value")) {
		c.say(name("value"), "What did the meter show?")
	}
	if m := c.meter(name("meter")); m != nil {
		r.Meter = m.ID
	}
	if l := c.lot(name("strip_lot")); l != nil {
		r.StripLot = l.ID
	}
	if w := c.cell(name("wipe")); w != "" {
		if r.Wipe = c.names.wipes[joined(w)]; r.Wipe == "" {
			c.say(name("wipe"), "%q is not on the list of disinfectants.", w)
		}
	}
	return r, true
}

func (c *dayCells) meter(column string) *stock.Meter {
	m := c.names.meters[joined(c.cell(column))]
	if m == nil {
		c.say(column, "There is no meter called %q.", c.cell(column))
	}
	return m
}

func (c *dayCells) lot(column string) *stock.StripLot {
	l := c.names.lots[joined(c.cell(column))]
	if l == nil {
		c.say(column, "There is no strip lot %q.", c.cell(column))
	}
	return l
}

// careCells are the acts of care in a row, in the order in which they are done.
var careCells = []string{stepSeen, stepSupervisor, stepSigns, stepSugar, stepSugar + "2", stepAction, stepHandover, stepArrived}

func (c *dayCells) readCare(v *PaperVisit) {
	k := &PaperCare{SignedBy: c.person("care_signed_by"), SignedAt: c.time("care_signed_time", "The signature", false), Note: c.cell("care_note")}
	for _, step := range careCells {
		name := "care_" + step
		if !c.any(name+"_time", name+"_by", name+"_choice", name+"_signs", name+"_note") {
			continue
		}
		s := PaperCareStep{
			Step: strings.TrimSuffix(step, "2"), At: c.time(name+"_time", "This act of care", true), By: c.person(name + "_by"), Choice: c.word(name + "_choice"), Note: c.cell(name + "_note"),
		}
		for _, sign := range c.signs(name + "_signs") {
			if sign != protocol.NoSign {
				s.Signs = append(s.Signs, sign)
			}
		}
		k.Steps = append(k.Steps, s)
	}
	if len(k.Steps) > 0 || c.any("care_signed_by", "care_signed_time", "care_note") {
		v.Care = k
	}
}

func (c *dayCells) afterTest(v *PaperVisit) {
	if c.any("explained", "explained_by", "teach_back") {
		v.Explained = &PaperExplained{
			At: c.time("explained", "The explanation", true), By: c.person("explained_by"), Language: strings.ToLower(c.cell("explained_language")), TeachBack: c.word("teach_back"), Station: c.cell("explained_station"),
		}
	}
	if c.yes("slip", false) {
		v.Slip = &PaperSlip{Language: strings.ToLower(c.cell("slip_language")), Size: c.word("slip_size")}
	}
	if c.any("referral") {
		v.Referral = &PaperReferral{Route: c.cell("referral"), Agreed: c.yes("referral_agreed", false)}
	}
}

// run reads a control run.
func (c *dayCells) run() paperRun {
	r := paperRun{at: c.time("time", "The run", true), meter: c.meter("meter"), lot: c.lot("strip_lot"), operator: c.person("operator")}
	r.vial = c.fields.text("vial", "The vial", c.cell("vial"), true, 20)
	r.bottle = c.fields.text("bottle", "The bottle", c.cell("bottle"), true, 20)
	r.code = c.fields.text("code", "The code on the meter", c.cell("code"), false, 12)
	r.cause = c.fields.text("cause", "The cause", c.cell("cause"), c.any("action"), 120)
	r.action = c.fields.text("action", "What was done", c.cell("action"), c.any("cause"), 200)
	if !c.any("operator") {
		c.say("operator", "Who ran it?")
	}
	r.sol = c.solution()
	if r.meter == nil || r.lot == nil || r.sol == nil {
		return r
	}
	rng, ok := r.lot.Details.Ranges[r.sol.Details.Level]
	if !ok || rng.Low.Unit != r.meter.Details.Unit {
		c.say("strip_lot", "Lot %s has no printed range for level %s in %s.", r.lot.Details.Lot, r.sol.Details.Level, r.meter.Details.Unit)
		return r
	}
	var err error
	if r.reading, err = glucose.ParseReading(c.cell("value"), r.meter.Details.Unit); err == nil {
		err = c.names.proto.Plausible(r.reading)
	}
	if err != nil {
		c.say("value", "%s", fault.Of(err).Sentence)
		return r
	}
	if r.cause != "" && !r.missed() {
		c.say("cause", "This run was in range (%s to %s); a cause belongs to one that was not.", rng.Low.Number(), rng.High.Number())
	}
	return r
}

// solution finds the control lot, by its level too when both levels have one number.
func (c *dayCells) solution() *stock.ControlLot {
	level := c.cell("level")
	var found []*stock.ControlLot
	for _, l := range c.names.sols[joined(c.cell("control_lot"))] {
		if level == "" || strings.EqualFold(l.Details.Level, level) {
			found = append(found, l)
		}
	}
	switch {
	case len(found) == 1:
		return found[0]
	case len(found) > 1:
		c.say("level", "This number stands on more than one level. Write the level.")
	default:
		c.say("control_lot", "There is no control lot %q of this level.", c.cell("control_lot"))
	}
	return nil
}
