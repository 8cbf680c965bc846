package protocol

import (
	"fmt"
	"regexp"
	"sort"
	"strings"

	"fairstick/internal/fault"
	"fairstick/internal/glucose"
)

// Validate refuses a protocol that is incomplete, contradicts itself, or would say a word that no participant should read. The
// error is a *fault.Fault with key "protocol-invalid" and one message per place, for example "limits.fasting.mg/dL".
func (p Protocol) Validate() error {
	c := check{}
	p.checkIdentity(c)
	p.checkQuestions(c)
	p.checkLimits(c)
	p.checkMessages(c)
	p.checkCalling(c)
	p.checkCare(c)
	p.checkRules(c)
	if len(c) == 0 {
		return nil
	}
	places := make([]string, 0, len(c))
	for k := range c {
		places = append(places, k)
	}
	sort.Strings(places)
	sentence := fmt.Sprintf("The protocol cannot be used: %s: %s", places[0], c[places[0]])
	if len(places) > 1 {
		sentence += fmt.Sprintf(" (%d places in all.)", len(places))
	}
	f := fault.New(fault.Invalid, "protocol-invalid", sentence,
		"People are tested and advised by these rules.", "Correct what is named, then try again.")
	f.Fields = c
	return f
}

// check collects messages by place; the first one for a place stays.
type check map[string]string

func (c check) that(ok bool, place, format string, args ...any) {
	if _, there := c[place]; !ok && !there {
		c[place] = fmt.Sprintf(format, args...)
	}
}

// unsaid are words that a participant never reads, in both languages of the default. A result is no verdict on a person.
var unsaid = regexp.MustCompile(`(?i)\b(a?normal\p{L}*|diabetics?|fail\p{L}*|you have|you've|usted tiene)\b|\bdiab[eé]tic[oa]s?`)

func (c check) text(t Text, place string) {
	c.that(strings.TrimSpace(t["en"]) != "", place, "An English text is needed.")
	c.optional(t, place)
}

func (c check) optional(t Text, place string) {
	for lang, s := range t {
		c.that(lang != "" && strings.TrimSpace(s) != "", place, "The text for %q is empty.", lang)
		if w := unsaid.FindString(s); w != "" {
			c.that(false, place, "%q is not said to participants; say what was seen instead.", w)
		}
	}
}

func (c check) texts(ts []Text, place string) {
	c.that(len(ts) > 0, place, "At least one text is needed.")
	for i, t := range ts {
		c.text(t, fmt.Sprintf("%s[%d]", place, i))
	}
}

func (c check) between(n, low, high int, place string) {
	c.that(n >= low && n <= high, place, "%d is not from %d to %d.", n, low, high)
}

func (c check) filled(s, place string) {
	c.that(strings.TrimSpace(s) != "", place, "This is empty.")
}

func (c check) oneOf(s, place string, choices ...string) {
	for _, x := range choices {
		if s == x {
			return
		}
	}
	c.that(false, place, "%q is none of %s.", s, strings.Join(choices, ", "))
}

func (p Protocol) checkIdentity(c check) {
	c.filled(p.Name, "name")
	c.filled(p.Version, "version")
	c.that(len(p.Version) <= 40, "version", "A version has at most 40 letters.")
	c.text(p.Title, "title")
	c.that(len(p.Sources) > 0, "sources", "At least one source is needed.")
	c.filled(p.Consent.Version, "consent.version")
	c.text(p.Consent.Text, "consent.text")
	c.text(p.Disclaimer, "disclaimer")
	c.texts(p.CanMislead, "can_mislead")
	c.texts(p.Warnings, "warnings")
}

var keyForm = regexp.MustCompile(`^[a-z0-9]+(-[a-z0-9]+)*$`)

func (p Protocol) checkQuestions(c check) {
	c.between(p.MinAge, 0, oldest, "min_age")
	seen := map[string]bool{}
	signs, age := 0, 0
	for i, q := range p.Questions {
		place := fmt.Sprintf("questions[%d]", i)
		if q.Key != "" {
			place = "questions." + q.Key
		}
		c.that(keyForm.MatchString(q.Key), place, "A key has small letters, digits and hyphens.")
		c.that(!seen[q.Key], place, "This key stands there twice.")
		seen[q.Key] = true
		c.text(q.Text, place+".text")
		c.optional(q.Help, place+".help")
		c.text(q.Sentence, place+".sentence")
		c.optional(q.Route, place+".route")
		switch q.Kind {
		case YesNo:
			c.oneOf(q.Effect, place+".effect", Exclude, Caution, BarsChemistry)
		case Number:
			age++
			c.that(q.Key == "age", place, "A number question has the key \"age\".")
			c.that(!q.Optional, place+".optional", "The age cannot be optional.")
			c.oneOf(q.Effect, place+".effect", Exclude)
		case Signs:
			signs++
			c.that(i == 0, place, "Crisis signs are asked first: they outrank everything else.")
			c.that(!q.Optional, place+".optional", "Crisis signs cannot be optional.")
			c.oneOf(q.Effect, place+".effect", IsEmergency)
		default:
			c.oneOf(q.Kind, place+".kind", YesNo, Number, Signs)
		}
		if q.Effect == Exclude || q.Effect == IsEmergency {
			c.filled(q.Counted, place+".counted")
		}
		c.that((q.Effect == BarsChemistry) == (len(q.Chemistries) > 0), place+".chemistries", "Chemistries belong to the effect %q, and it needs them.", BarsChemistry)
	}
	c.that(signs == 1, "questions", "Exactly one question asks for crisis signs.")
	c.that(age == 1, "questions", "Exactly one question asks for the age.")
}

func (p Protocol) checkLimits(c check) {
	c.between(p.FastingHours, 1, 24, "fasting_hours")
	c.that(len(p.Limits) == len(Bases), "limits", "Limits are needed for fasting and random, and for nothing else.")
	for _, b := range Bases {
		for _, u := range glucose.Units {
			l, ok := p.Limits[b][u]
			place := fmt.Sprintf("limits.%s.%s", b, u)
			c.that(ok && len(p.Limits[b]) == len(glucose.Units), place, "Limits are needed in mg/dL and in mmol/L, and in nothing else.")
			c.rising(place, u, l.edges()...)
			for i, s := range []string{l.Source.CriticalBelow, l.Source.LowBelow, l.Source.RaisedFrom, l.Source.HighFrom, l.Source.CriticalFrom} {
				c.that(strings.TrimSpace(s) != "", place+".source", "Edge %d has no source.", i+1)
			}
			r := p.MeterRange[u]
			c.rising("meter_range."+string(u), u, r.Low, r.High)
			c.that(r.Low.Steps < l.CriticalBelow.Steps && l.CriticalFrom.Steps < r.High.Steps, "meter_range."+string(u), "Every limit must lie inside of it.")
		}
		c.agree("limits."+string(b), p.Limits[b][glucose.MgPerDL].edges(), p.Limits[b][glucose.MmolPerL].edges())
		c.that(p.Limits[b][glucose.MgPerDL].ReferralLine == p.Limits[b][glucose.MmolPerL].ReferralLine, "limits."+string(b), "A line for referral is one in both units.")
	}
	for _, u := range glucose.Units {
		c.rising("repeat."+string(u), u, p.Repeat.LowBelow[u], p.Repeat.HighFrom[u])
	}
	both := func(u glucose.Unit) []glucose.Value {
		return []glucose.Value{p.Repeat.LowBelow[u], p.Repeat.HighFrom[u]}
	}
	c.agree("repeat", both(glucose.MgPerDL), both(glucose.MmolPerL))
	c.between(p.Repeat.MaxSticks, 1, 5, "repeat.max_sticks")
	c.filled(p.Repeat.Source, "repeat.source")
}

// edges lists the edges from the lowest.
func (l Limits) edges() []glucose.Value {
	return []glucose.Value{l.CriticalBelow, l.LowBelow, l.RaisedFrom, l.HighFrom, l.CriticalFrom}
}

func (c check) rising(place string, u glucose.Unit, values ...glucose.Value) {
	last := glucose.Value{Unit: u}
	for _, v := range values {
		c.that(v.Unit == u, place, "%s is not a value in %s.", orMissing(v), u)
		c.that(v.Steps > last.Steps, place, "%s must be above %s.", orMissing(v), last)
		last = v
	}
}

// agree refuses pairs that do not stand for the same concentration to one step of a mmol/L meter: a number typed in the wrong row.
func (c check) agree(place string, mg, mmol []glucose.Value) {
	for i := range mg {
		d := mg[i].In(glucose.MmolPerL).Steps - mmol[i].Steps
		c.that(d >= -1 && d <= 1, place, "%s and %s are not the same limit.", orMissing(mg[i]), orMissing(mmol[i]))
	}
}

func orMissing(v glucose.Value) string {
	if v.IsZero() {
		return "A missing value"
	}
	return v.String()
}

func (p Protocol) checkMessages(c check) {
	c.that(len(p.Messages) == len(Bands), "messages", "Each of the %d bands needs a message, and nothing else does.", len(Bands))
	for _, b := range Bands {
		m := p.Messages[b]
		place := "messages." + string(b)
		c.message(m, place)
		outer := b == CriticalLow || b == CriticalHigh
		c.that(!outer || m.Critical && m.Urgency.Order() >= Today.Order(), place, "A critical band is critical, and urgent today or at once.")
		c.that(b == Usual || m.Refer, place, "Outside of the usual range people are referred.")
		c.that((len(p.FollowUp[b]) > 0) == m.Refer, "follow_up."+string(b), "Days to call are needed where people are referred, and only there.")
	}
	for b, days := range p.FollowUp {
		c.that(b.Order() >= 0, "follow_up", "%q is not a band.", b)
		for i, d := range days {
			c.that(d >= 0 && (i == 0 || d > days[i-1]), "follow_up."+string(b), "The days must rise from 0.")
		}
	}
	c.that(len(p.OffScale) == 2, "off_scale", "LO and HI each need a meaning, and nothing else does.")
	for kind, band := range map[glucose.Kind]Band{glucose.Low: CriticalLow, glucose.High: CriticalHigh} {
		o := p.OffScale[kind]
		place := "off_scale." + string(kind)
		c.that(o.Band == band, place+".band", "%s lies beyond every limit: %s.", kind, band)
		c.filled(o.Source, place+".source")
		c.message(o.Message, place)
		c.that(o.Message.Critical && o.Message.Urgency == Emergency, place, "%s is an emergency.", kind)
	}
	c.message(p.Unwell, "unwell")
	c.that(p.Unwell.Critical && p.Unwell.Urgency == Emergency, "unwell", "A crisis sign is an emergency.")
}

func (c check) message(m Message, place string) {
	c.text(m.Word, place+".word")
	for _, b := range Bases {
		c.text(m.Sentence[b], place+".sentence."+string(b))
	}
	c.texts(m.Advice, place+".advice")
	c.text(m.When, place+".when")
	c.text(m.Where, place+".where")
	c.that(m.Urgency.Order() >= 0, place+".urgency", "%q is not an urgency.", m.Urgency)
	c.that(m.Refer == (m.Urgency != None), place+".refer", "People are referred exactly when somebody must see them.")
	waits := m.Urgency == Weeks || m.Urgency == Days
	c.that(waits == (m.WithinDays > 0) && m.WithinDays >= 0 && m.WithinDays <= 366, place+".within_days", "Weeks and days need a number of days; the others have none.")
}

func (p Protocol) checkCare(c check) {
	c.keyed(p.CrisisSigns, "crisis_signs")
	c.keyed(p.OpeningChecks, "opening_checks")
	l := p.LowCare
	c.between(l.SugarGrams, 1, 100, "low_care.sugar_grams")
	c.between(l.RecheckMinutes, 1, 60, "low_care.recheck_minutes")
	c.between(l.MostRounds, 1, 10, "low_care.most_rounds")
	c.texts(l.Forms, "low_care.forms")
	c.text(l.Never, "low_care.never")
	c.text(l.Then, "low_care.then")
	c.filled(l.Source, "low_care.source")
}

// keyed checks a list of texts with keys: there is at least one, and no key stands there twice.
func (c check) keyed(list []Sign, where string) {
	c.that(len(list) > 0, where, "At least one is needed.")
	seen := map[string]bool{NoSign: true}
	for i, s := range list {
		place := fmt.Sprintf("%s[%d]", where, i)
		c.that(keyForm.MatchString(s.Key) && !seen[s.Key], place, "A key has small letters, digits and hyphens, stands there once, and is not %q.", NoSign)
		seen[s.Key] = true
		c.text(s.Text, place)
	}
}

func (p Protocol) checkRules(c check) {
	c.that(len(p.Controls.Levels) > 0, "controls.levels", "At least one level is needed.")
	seen := map[string]bool{"": true}
	for _, l := range p.Controls.Levels {
		c.that(!seen[strings.TrimSpace(l)], "controls.levels", "Each level has a name of its own.")
		seen[strings.TrimSpace(l)] = true
	}
	c.between(p.Controls.RunsWithoutCause, 1, 10, "controls.runs_without_cause")
	c.between(p.Controls.InUseDays, 1, 366, "controls.in_use_days")
	c.oneOf(p.Controls.EachVial, "controls.each_vial", AsInsert, Always, Never)
	c.between(p.Ratio.Wanted, 1, 20, "ratio.wanted")
	c.between(p.Ratio.Most, p.Ratio.Wanted, 20, "ratio.most")
	c.oneOf(p.ReadBack, "read_back", TypedTwice, SecondPerson)
	c.between(p.WarmUp, 0, 120, "warm_up_minutes")
	for gate, role := range p.Overrides {
		c.that(gate != "" && strings.TrimSpace(role) != "", "overrides."+gate, "A gate that may be passed needs the role that may pass it.")
	}
	c.that(len(p.Verification.Roles) > 0, "verification.roles", "At least one role is needed.")
	c.between(p.Verification.ValidMonths, 1, 60, "verification.valid_months")
	c.between(p.Retention, 1, 100, "retention_years")
}
