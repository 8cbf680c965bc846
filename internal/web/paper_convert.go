package web

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"fairstick/internal/about"
	"fairstick/internal/civil"
	"fairstick/internal/fault"
	"fairstick/internal/programme"
	"fairstick/internal/protocol"
)

// paperReader turns a form as typed into a visit on paper, and collects what does not fit together.
type paperReader struct {
	t   paperTyping
	d   *programme.Day
	bad map[string]string
}

func (r *paperReader) say(name, format string, args ...any) {
	if _, taken := r.bad[name]; !taken {
		r.bad[name] = fmt.Sprintf(format, args...)
	}
}

// at is the moment of a time on the day of the event; zero when none was typed.
func (r *paperReader) at(name string) time.Time { return r.on(name, r.d.Event.Plan.Date) }

func (r *paperReader) on(name string, day civil.Date) time.Time {
	k, err := civil.ParseClock(r.t[name])
	if err != nil {
		return time.Time{}
	}
	return k.On(day, r.d.Event.Zone())
}

// any reports whether something was typed into one of the fields.
func (r *paperReader) any(names ...string) bool {
	for _, n := range names {
		if r.t[n] != "" {
			return true
		}
	}
	return false
}

// paperVisit reads a form. The fault names what is missing or does not fit together on the page itself; whether the day can
// have been so is asked by the programme.
func paperVisit(d *programme.Day, form int, t paperTyping) (programme.PaperVisit, *fault.Fault) {
	r := &paperReader{t: t, d: d, bad: map[string]string{}}
	v := programme.PaperVisit{
		Form: form, Language: t["language"], Arrived: r.at("arrived"), Outcome: t["outcome"], Reason: t["reason"], Ended: r.at("ended"), Told: protocol.Band(t["told"]),
	}
	for _, name := range []string{"arrived", "language", "outcome"} {
		if t[name] == "" {
			r.say(name, "This still needs an answer.")
		}
	}
	v.Consent = r.consent()
	v.Answers = protocol.Answers{}
	for _, q := range d.Protocol.Questions {
		if a := t["answer_"+q.Key]; a != "" {
			v.Answers[q.Key] = a
		}
	}
	v.Ate = r.ate()
	v.Readings = r.readings()
	v.Care = r.care()
	r.explained(&v)
	v.About = r.about()
	v.Contact = r.contact()
	if len(r.bad) > 0 {
		return v, paperFault(r.bad)
	}
	return v, nil
}

// paperFault is what is wrong on a form, field by field.
func paperFault(bad map[string]string) *fault.Fault {
	what := "One field needs another look."
	if len(bad) > 1 {
		what = fmt.Sprintf("%d fields need another look.", len(bad))
	}
	f := fault.New(fault.Invalid, "fields", what, "Nothing was kept.", "Look at the paper, correct it and press again.")
	f.Fields = bad
	return f
}

func (r *paperReader) consent() *programme.PaperConsent {
	switch r.t["agrees"] {
	case "yes":
		if r.t["consent_how"] == "" {
			r.say("consent_how", "How was the text given?")
		}
		return &programme.PaperConsent{At: r.at("consent_time"), How: r.t["consent_how"]}
	case "no":
		if out := r.t["outcome"]; out != "" && out != programme.PaperNoConsent && out != programme.PaperLeft {
			r.say("agrees", "The participant did not agree, but the visit went on. Look at the paper.")
		}
	default:
		if r.any("consent_how", "consent_time") {
			r.say("agrees", "Did the participant agree?")
		}
	}
	return nil
}

func (r *paperReader) ate() *programme.PaperAte {
	day := r.t["ate_day"]
	back := map[string]int{"today": 0, "yesterday": 1, "before": 2}
	switch {
	case day == "" && r.t["last_food"] == "":
		return nil
	case day == "not-known":
		if r.t["last_food"] != "" {
			r.say("ate_day", "There is a time, and Not known as well. Look at the paper.")
		}
		return &programme.PaperAte{}
	case day == "":
		r.say("ate_day", "On which day?")
	case r.t["last_food"] == "":
		r.say("last_food", "At what time? If none is written, choose Not known.")
	}
	return &programme.PaperAte{Known: true, Last: r.on("last_food", r.d.Event.Plan.Date.AddDays(-back[day]))}
}

func (r *paperReader) readings() []programme.PaperReading {
	var out []programme.PaperReading
	for n := 1; n <= programme.MostPaperReadings; n++ {
		name := func(s string) string { return fmt.Sprintf("reading%d_%s", n, s) }
		if !r.any(name("time"), name("purpose"), name("value"), name("again"), name("meter"), name("strips"), name("screener"), name("washed"), name("lancet"), name("misfires"), name("sharps"), name("wiped"), name("wipe")) {
			continue
		}
		if len(out) < n-1 {
			r.say(name("time"), "Reading %d is filled in, but reading %d is empty.", n, len(out)+1)
			break
		}
		for _, must := range []string{"value", "meter", "strips", "screener", "washed", "lancet"} {
			if r.t[name(must)] == "" {
				r.say(name(must), "Reading %d: this still needs an answer.", n)
			}
		}
		misfires := 0
		if v := r.t[name("misfires")]; v != "" {
			misfires, _ = strconv.Atoi(v)
		}
		lot, vial, _ := strings.Cut(r.t[name("strips")], "/")
		shot := programme.PaperReading{
			At: r.at(name("time")), Purpose: r.t[name("purpose")], Shown: r.t[name("value")], Again: r.t[name("again")], Meter: r.t[name("meter")], StripLot: lot, Vial: vial,
			Screener: r.t[name("screener")], SameDrop: r.t[name("lancet")] == "no", Misfires: misfires, Washed: r.t[name("washed")] == "yes",
			Sharps: r.t[name("sharps")] == "yes", WipedAt: r.at(name("wiped")), Wipe: r.t[name("wipe")],
		}
		if post, ok := r.d.Event.PostOf(shot.Screener); ok {
			shot.Station = post.Station
		}
		out = append(out, shot)
	}
	return out
}

func (r *paperReader) care() *programme.PaperCare {
	if !r.any("care_for", "care_supervisor_time", "care_supervisor_by", "care_sugar_choice", "care_sugar_time", "care_sugar2_choice", "care_sugar2_time", "care_signs_signs", "care_action_choice", "care_action_time",
		"care_handover_note", "care_arrived_note", "care_arrived_time", "care_signed_by", "care_signed_time") {
		return nil
	}
	by := r.t["care_supervisor_by"]
	came := r.at("care_supervisor_time")
	c := &programme.PaperCare{SignedBy: r.t["care_signed_by"], SignedAt: r.at("care_signed_time")}
	add := func(s programme.PaperCareStep) { c.Steps = append(c.Steps, s) }
	if r.t["care_for"] == "signs" {
		add(programme.PaperCareStep{At: came, Step: "seen"})
	}
	if r.any("care_supervisor_time", "care_supervisor_by") {
		add(programme.PaperCareStep{At: came, By: by, Step: "supervisor"})
	}
	if signs := r.t["care_signs_signs"]; signs != "" {
		step := programme.PaperCareStep{At: came, By: by, Step: "signs"}
		if signs != protocol.NoSign {
			step.Signs = strings.Split(signs, ",")
		}
		add(step)
	}
	for _, sugar := range []string{"care_sugar", "care_sugar2"} {
		if r.any(sugar+"_choice", sugar+"_time") {
			add(programme.PaperCareStep{At: r.at(sugar + "_time"), By: by, Step: "sugar", Choice: r.t[sugar+"_choice"]})
		}
	}
	if r.any("care_action_choice", "care_action_time") {
		add(programme.PaperCareStep{At: r.at("care_action_time"), By: by, Step: "action", Choice: r.t["care_action_choice"]})
	}
	if r.any("care_handover_note") {
		add(programme.PaperCareStep{At: r.at("care_action_time"), By: by, Step: "handover", Note: r.t["care_handover_note"]})
	}
	if r.any("care_arrived_note", "care_arrived_time") {
		add(programme.PaperCareStep{At: r.at("care_arrived_time"), By: by, Step: "arrived", Note: r.t["care_arrived_note"]})
	}
	return c
}

func (r *paperReader) explained(v *programme.PaperVisit) {
	if r.any("teach_back", "explained_by", "explained") {
		v.Explained = &programme.PaperExplained{At: r.at("explained"), By: r.t["explained_by"], TeachBack: r.t["teach_back"]}
		if post, ok := r.d.Event.PostOf(v.Explained.By); ok {
			v.Explained.Station = post.Station
		}
	}
	if r.t["slip"] == "yes" {
		v.Slip = &programme.PaperSlip{}
	}
	if r.any("referral", "referral_agreed") {
		if r.t["referral"] == "" {
			r.say("referral", "Where to? Type the place as it is written.")
		}
		if r.t["referral_agreed"] == "" {
			r.say("referral_agreed", "Does the participant agree to go?")
		}
		v.Referral = &programme.PaperReferral{Route: r.t["referral"], Agreed: r.t["referral_agreed"] == "yes"}
	}
}

// about reads what the person said of themself. With something ticked among the questions of the desk, or that all are skipped, those left empty were
// passed over; with nothing, nobody asked. A question of the end was asked when it has an answer.
func (r *paperReader) about() about.Answers {
	out := about.Answers{}
	desk, skipped := about.Chosen(r.d.Charter.Asks, false), r.t[aboutSkipped] != ""
	for _, q := range append(desk, about.Chosen(r.d.Charter.Asks, true)...) {
		name := about.Field(q.Key)
		said := slices.DeleteFunc(strings.Split(r.t[name], ","), func(s string) bool { return s == "" })
		if r.t[name+"_not"] != "" {
			if len(said) > 0 {
				r.say(name, "Digits are written, and not to say is ticked as well. Look at the form again.")
			}
			said = []string{about.PreferNot}
		}
		if len(said) == 0 {
			continue
		}
		if skipped && !q.End {
			r.say(aboutSkipped, "All are skipped, and one is answered as well. Look at the form again.")
		}
		if r.t["agrees"] != "yes" {
			r.say(name, "Nobody is asked about themselves without a consent.")
		}
		out[q.Key] = said
	}
	if skipped && r.t["agrees"] != "yes" {
		r.say(aboutSkipped, "Nobody is asked about themselves without a consent.")
	}
	asked := skipped || slices.ContainsFunc(desk, func(q about.Question) bool { return len(out[q.Key]) > 0 })
	for _, q := range desk {
		if _, said := out[q.Key]; asked && !said {
			out[q.Key] = nil
		}
	}
	if len(out) == 0 {
		return nil
	}
	return out
}

func (r *paperReader) contact() *programme.PaperContact {
	switch r.t["contact_allow"] {
	case "yes":
		if r.t["contact_call"] == "" {
			r.say("contact_call", "May we call about the result?")
		}
		return &programme.PaperContact{
			Allow: true, Call: r.t["contact_call"] == "yes",
			Name: r.t[programme.PrivateField("name")], Phone: r.t[programme.PrivateField("phone")], When: r.t[programme.PrivateField("when")],
		}
	case "no":
		return &programme.PaperContact{}
	}
	if r.any("contact_call") {
		r.say("contact_allow", "May we keep the name?")
	}
	return nil
}

// onPage gives a fault of the programme with the names that the fields have on the page.
func onPage(f *fault.Fault) *fault.Fault {
	if f == nil || len(f.Fields) == 0 {
		return f
	}
	g := *f
	g.Fields = map[string]string{}
	for name, message := range f.Fields {
		g.Fields[fieldOnPage(name)] = message
	}
	return &g
}

// fieldOnPage gives the field of the page for a field of the programme.
func fieldOnPage(name string) string {
	reading, what, ok := strings.Cut(name, "_")
	if ok && strings.HasPrefix(reading, "reading") {
		switch what {
		case "strip_lot", "vial":
			return reading + "_strips"
		case "same_drop":
			return reading + "_lancet"
		case "station", "read_by":
			return reading + "_screener"
		case "reason":
			return reading + "_purpose"
		}
		return name
	}
	switch name {
	case "contact_name", "contact_phone", "contact_when":
		return programme.PrivateField(strings.TrimPrefix(name, "contact_"))
	case "care_seen_time", "care_signs_time":
		return "care_supervisor_time"
	case "care_handover_time":
		return "care_action_time"
	case "answers":
		return "outcome"
	case "contact":
		return "contact_allow"
	}
	return name
}
