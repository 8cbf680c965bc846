package web

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"fairstick/internal/about"
	"fairstick/internal/civil"
	"fairstick/internal/programme"
	"fairstick/internal/protocol"
	"fairstick/internal/visit"
	"fairstick/internal/web/ui"
)

// paperKind says how a field of a paper form is typed, and when two typings of it are the same.
type paperKind int

const (
	paperTypedText    paperKind = iota // words: case, spaces and a point at the end make no difference
	paperTypedClock                    // 9:05, 0905 or 905 on a 24-hour clock
	paperTypedChoice                   // one of a few; its first letter finds it
	paperTypedFigure                   // a whole number
	paperTypedReading                  // what a meter shows
	paperTypedSeveral                  // squares that are ticked
	paperTypedDigits                   // so many digits, of which the first may be 0
)

// paperField is one place of a paper form.
type paperField struct {
	Name, Label string
	Kind        paperKind
	Options     []ui.Option
	Fold        string // of several squares: what is said of those that are seldom ticked
	Plain       int    // how many squares stand before the fold
	Question    about.Question
	Unit        string
	Private     bool // a name or a number: typed at the second typing only, and never kept
	Short       bool
}

// paperPart is a part of the paper with its fields line by line.
type paperPart struct {
	ID, Heading, Help string
	Lines             [][]paperField
	Folded            bool // seldom filled in
	Under             bool // belongs to the part before
}

// paperTyping is a form as typed: normal values by the name of the field; what is empty is left out.
type paperTyping map[string]string

// visibleReadings is how many readings stand open on the page: most people have one, and each field costs a key.
const visibleReadings = 1

func paperChoice(name, label string, options ...ui.Option) paperField {
	return paperField{Name: name, Label: label, Kind: paperTypedChoice, Options: options}
}

func paperYesNo(name, label string) paperField {
	return paperChoice(name, label, ui.Option{Value: "yes", Label: "Yes"}, ui.Option{Value: "no", Label: "No"})
}

func clockField(name, label string) paperField {
	return paperField{Name: name, Label: label, Kind: paperTypedClock, Short: true}
}

// typedForm is the paper form of an event in its order. Labels are those of the English form.
func typedForm(d *programme.Day) []paperPart {
	p := d.Protocol
	signs := make([]ui.Option, 0, len(p.CrisisSigns)+1)
	signs = append(signs, ui.Option{Value: protocol.NoSign, Label: "None of these"})
	for _, s := range p.CrisisSigns {
		signs = append(signs, ui.Option{Value: s.Key, Label: s.Text.In("en")})
	}
	out := []paperPart{{ID: "desk", Heading: "Desk", Lines: [][]paperField{
		{clockField("arrived", "Arrived"), paperChoice("language", "Language", ui.Option{Value: "en", Label: "English"}, ui.Option{Value: "es", Label: "Spanish"})},
	}}, {ID: "consent", Heading: "Consent", Lines: [][]paperField{{
		paperChoice("consent_how", "How the text was given", ui.Option{Value: "read", Label: "Read"}, ui.Option{Value: "read-aloud", Label: "Aloud (read aloud)"}, ui.Option{Value: "interpreter", Label: "Interpreter"}),
		paperYesNo("agrees", "The participant agrees"), clockField("consent_time", "Time"),
	}}}}
	questions := paperPart{ID: "questions", Heading: "Questions"}
	for _, q := range p.Questions {
		f := paperYesNo("answer_"+q.Key, q.Text.In("en"))
		switch q.Kind {
		case protocol.Signs:
			f = signsField(f.Name, f.Label, signs)
		case protocol.Number:
			f = paperField{Name: f.Name, Label: f.Label, Kind: paperTypedFigure, Unit: "years", Short: true}
		}
		questions.Lines = append(questions.Lines, []paperField{f})
	}
	food := paperPart{ID: "food", Heading: "Last food or drink with sugar", Lines: [][]paperField{{
		clockField("last_food", "At"),
		paperChoice("ate_day", "Day", ui.Option{Value: "today", Label: "Today"}, ui.Option{Value: "yesterday", Label: "Yesterday"}, ui.Option{Value: "before", Label: "Before (the day before)"}, ui.Option{Value: "not-known", Label: "Not known"}),
	}}}
	out = append(out, questions, food)
	for n := 1; n <= programme.MostPaperReadings; n++ {
		out = append(out, readingSection(d, n))
	}
	out = append(out, paperPart{ID: "finding", Heading: "Finding", Lines: [][]paperField{{bandChoice(p)}}}, careSection(d, signs), endSection(d))
	out = append(out, aboutSection(d)...)
	return append(out, paperPart{ID: "contact", Heading: "Contact (on the strip)", Lines: [][]paperField{
		{paperYesNo("contact_allow", "May keep the name"), paperYesNo("contact_call", "May call")},
		{paperPrivate("name", "Name"), paperPrivate("name_again", "Name again")},
		{paperPrivate("phone", "Telephone"), paperPrivate("phone_again", "Telephone again")},
		{paperPrivate("when", "Best time to call")},
	}})
}

// signsField is the squares of the signs of a crisis: on most forms none of them is ticked.
func signsField(name, label string, signs []ui.Option) paperField {
	return paperField{Name: name, Label: label, Kind: paperTypedSeveral, Options: signs, Plain: 1, Fold: "A sign is ticked"}
}

// aboutSkipped is the square with which somebody skips all questions about themselves.
const aboutSkipped = "about_skipped"

// aboutSection is what people may say about themselves while they wait; none where the programme asks nothing.
func aboutSection(d *programme.Day) []paperPart {
	var line []paperField
	lines := [][]paperField{{paperChoice(aboutSkipped, "Skips all of these", ui.Option{Value: "yes", Label: "Ticked"})}}
	for _, q := range about.Chosen(d.Charter.Asks, false) {
		fields := aboutFields(q)
		if q.Several {
			lines = append(lines, fields)
			continue
		}
		line = append(line, fields...)
	}
	if len(lines)+len(line) == 1 {
		return nil
	}
	if len(line) > 0 {
		lines = append(lines, line)
	}
	return []paperPart{{ID: "about", Heading: "About the person", Help: "On the back of the second sheet. Nobody has to answer: with nothing ticked, nothing was asked.", Lines: lines}}
}

// aboutFields are the places of one question.
func aboutFields(q about.Question) []paperField {
	f := paperChoice(about.Field(q.Key), q.Text["en"])
	f.Question = q
	for _, o := range q.Options {
		f.Options = append(f.Options, ui.Option{Value: o.Code, Label: o.Text["en"]})
	}
	prefer := ui.Option{Value: about.PreferNot, Label: about.PreferNotText["en"]}
	switch {
	case q.Several:
		f.Kind, f.Fold = paperTypedSeveral, "An answer is ticked"
	case q.Digits > 0:
		f.Kind, f.Short = paperTypedDigits, true
		return []paperField{f, paperChoice(f.Name+"_not", "ZIP code: "+prefer.Label, ui.Option{Value: "yes", Label: "Ticked"})}
	}
	f.Options = append(f.Options, prefer)
	return []paperField{f}
}

func paperPrivate(name, label string) paperField {
	return paperField{Name: programme.PrivateField(name), Label: label, Private: true}
}

func bandChoice(p protocol.Protocol) paperField {
	f := paperChoice("told", "Ticked in the table")
	for _, b := range protocol.Bands {
		f.Options = append(f.Options, ui.Option{Value: string(b), Label: p.Messages[b].Word.In("en")})
	}
	return f
}

// readingSection is one reading of the form.
func readingSection(d *programme.Day, n int) paperPart {
	name := func(s string) string { return fmt.Sprintf("reading%d_%s", n, s) }
	meters := paperChoice(name("meter"), "Meter")
	unit := ""
	for i, m := range d.BroughtMeters() {
		meters.Options = append(meters.Options, ui.Option{Value: m.ID, Label: m.Details.Label})
		if i == 0 {
			unit = string(m.Details.Unit)
		} else if unit != string(m.Details.Unit) {
			unit = "" // it is that of the meter
		}
	}
	strips := paperChoice(name("strips"), "Strip lot and vial")
	for _, l := range d.BroughtLots() {
		for _, v := range l.Vials {
			strips.Options = append(strips.Options, ui.Option{Value: l.ID + "/" + v.Name, Label: "lot " + l.Details.Lot + ", vial " + v.Name})
		}
	}
	s := paperPart{
		ID: "reading" + strconv.Itoa(n), Heading: "Reading " + strconv.Itoa(n), Folded: n > visibleReadings, Under: n > visibleReadings,
		Lines: [][]paperField{
			{
				clockField(name("time"), "Time"),
				paperChoice(name("purpose"), "Purpose", ui.Option{Value: visit.First, Label: "First"}, ui.Option{Value: visit.Repeat, Label: "Repeat"}, ui.Option{Value: visit.Recheck, Label: "After sugar"}),
				{Name: name("value"), Label: "The meter shows", Kind: paperTypedReading, Unit: unit, Short: true},
				{Name: name("again"), Label: "Read back", Kind: paperTypedReading, Unit: unit, Short: true},
			},
			{meters, strips, peopleChoice(d, name("screener"), "Screener")},
			{
				paperYesNo(name("washed"), "Soap and water"), paperYesNo(name("lancet"), "New lancet"),
				{Name: name("misfires"), Label: "Misfires", Kind: paperTypedFigure, Short: true},
				paperYesNo(name("sharps"), "In sharps"), clockField(name("wiped"), "Meter wiped"),
			},
		},
	}
	if list := wipes(d); len(list) > 1 {
		s.Lines[2] = append(s.Lines[2], paperChoice(name("wipe"), "Wiped with", list...))
	}
	return s
}

// wipes lists the disinfectants when a meter's review names more than one.
func wipes(d *programme.Day) []ui.Option {
	several := false
	for _, m := range d.BroughtMeters() {
		several = several || m.Review != nil && len(m.Review.Disinfectants) > 1
	}
	if !several {
		return nil
	}
	var out []ui.Option
	for _, x := range d.Disinfectants {
		out = append(out, ui.Option{Value: x.ID, Label: x.Details.Name})
	}
	return out
}

// peopleChoice lists everybody of the programme who was here or could have been, by name.
func peopleChoice(d *programme.Day, name, label string) paperField {
	f := paperChoice(name, label)
	for _, p := range d.People {
		if _, posted := d.Event.PostOf(p.ID); posted || p.Gone == "" {
			f.Options = append(f.Options, ui.Option{Value: p.ID, Label: p.Details.Name})
		}
	}
	return f
}

func careSection(d *programme.Day, signs []ui.Option) paperPart {
	pick := func(name, label string, words ...string) paperField {
		f := paperChoice(name, label)
		for i := 0; i < len(words); i += 2 {
			f.Options = append(f.Options, ui.Option{Value: words[i], Label: words[i+1]})
		}
		return f
	}
	sugar := []string{"given", "Given", "cannot-swallow", "Cannot swallow", "refused", "Refused"}
	return paperPart{ID: "care", Heading: "Care", Help: "Only where the form has something in its care box.", Folded: true, Lines: [][]paperField{
		{pick("care_for", "Care for", "low", "Low", "very-low", "Very low", "very-high", "Very high (HI)", "signs", "Signs"), clockField("care_supervisor_time", "Supervisor came"), peopleChoice(d, "care_supervisor_by", "Supervisor")},
		{signsField("care_signs_signs", "Signs seen or told", signs)},
		{clockField("care_sugar_time", "Fast sugar at"), pick("care_sugar_choice", "Fast sugar", sugar...), clockField("care_sugar2_time", "Fast sugar again at"), pick("care_sugar2_choice", "Fast sugar again", sugar...)},
		{pick("care_action_choice", "What was done", "emergency-called", "Emergency called", "same-day-care", "Same-day care", "stays-here", "Stays here", "declined-care", "Declined care"), clockField("care_action_time", "Time")},
		{{Name: "care_handover_note", Label: "Handed to whom, how"}, {Name: "care_arrived_note", Label: "Arrived there; who said so"}, clockField("care_arrived_time", "Time of arrival there")},
		{peopleChoice(d, "care_signed_by", "Supervisor signed"), clockField("care_signed_time", "Signed at")},
	}}
}

func endSection(d *programme.Day) paperPart {
	outcome := paperChoice("outcome", "How the visit ended")
	for _, o := range programme.PaperOutcomes {
		word := strings.ReplaceAll(o, "-", " ")
		outcome.Options = append(outcome.Options, ui.Option{Value: o, Label: strings.ToUpper(word[:1]) + word[1:]})
	}
	end := paperPart{ID: "end", Heading: "Explain and end", Lines: [][]paperField{
		{
			paperChoice("teach_back", "Said back", ui.Option{Value: "own-words", Label: "Own words"}, ui.Option{Value: "again", Label: "After a second try"}, ui.Option{Value: "not-asked", Label: "Not asked"}),
			paperYesNo("slip", "Slip given"), peopleChoice(d, "explained_by", "Explained by"), clockField("explained", "Time"),
		},
		{{Name: "referral", Label: "Referred to"}, paperYesNo("referral_agreed", "Agrees to go")},
	}}
	for _, q := range about.Chosen(d.Charter.Asks, true) {
		end.Lines = append(end.Lines, aboutFields(q))
	}
	end.Lines = append(end.Lines, []paperField{outcome, clockField("ended", "Ended"), {Name: "reason", Label: "Reason, if one is written"}})
	return end
}

// paperFieldsOf lists the fields of sections in their order.
func paperFieldsOf(sections []paperPart) []paperField {
	var out []paperField
	for _, s := range sections {
		for _, line := range s.Lines {
			out = append(out, line...)
		}
	}
	return out
}

// where names a field with the part of the paper on which it stands.
func whereOnPaper(sections []paperPart, name string) string {
	for _, s := range sections {
		for _, line := range s.Lines {
			for _, f := range line {
				if f.Name == name {
					return s.Heading + ": " + f.Label
				}
			}
		}
	}
	return name
}

// parsePaperClock reads a time as it is written on paper: 9:05, 09:05, 905, 0905 or 9.05 on a 24-hour clock.
func parsePaperClock(s string) (civil.Clock, error) {
	t := strings.ReplaceAll(s, ".", ":")
	if !strings.Contains(t, ":") && len(t) >= 3 && len(t) <= 4 {
		t = t[:len(t)-2] + ":" + t[len(t)-2:]
	}
	k, err := civil.ParseClock(t)
	if err != nil {
		return 0, fmt.Errorf("%q is no time of day. Type it like 9:05 or 0905, after noon like 1405", s)
	}
	return k, nil
}

// read makes the normal value of what was typed into a field, or says what is wrong with it.
func (f paperField) read(typed []string) (value, wrong string) {
	if f.Kind == paperTypedSeveral {
		return f.several(typed)
	}
	v := ""
	if len(typed) > 0 {
		v = strings.Join(strings.Fields(typed[0]), " ")
	}
	if v == "" {
		return "", ""
	}
	switch f.Kind {
	case paperTypedClock:
		k, err := parsePaperClock(v)
		if err != nil {
			return v, err.Error() + "."
		}
		return k.String(), ""
	case paperTypedFigure:
		n, err := strconv.Atoi(v)
		if err != nil || n < 0 || len(v) > 4 {
			return v, fmt.Sprintf("%s is a whole number; %q was typed.", f.Label, v)
		}
		return strconv.Itoa(n), ""
	case paperTypedDigits:
		if _, wrong := f.Question.Take([]string{v}); wrong != "" {
			return v, wrong
		}
	case paperTypedReading:
		v = strings.ToUpper(strings.ReplaceAll(v, ",", "."))
		for len(v) > 1 && v[0] == '0' && v[1] >= '0' && v[1] <= '9' {
			v = v[1:]
		}
		return v, ""
	case paperTypedChoice:
		if !slices.ContainsFunc(f.Options, func(o ui.Option) bool { return o.Value == v }) {
			return "", f.Label + ": choose one of the list."
		}
	}
	return v, ""
}

func (f paperField) several(typed []string) (value, wrong string) {
	var keys []string
	for _, o := range f.Options { // in the order of the form
		if slices.Contains(typed, o.Value) {
			keys = append(keys, o.Value)
		}
	}
	switch {
	case len(keys) > 1 && keys[0] == protocol.NoSign:
		return strings.Join(keys, ","), "Signs are ticked, and None as well. Look at the form again."
	case len(keys) > 1 && slices.Contains(keys, about.PreferNot):
		return strings.Join(keys, ","), "An answer is ticked, and not to say as well. Look at the form again."
	}
	return strings.Join(keys, ","), ""
}

// same reports whether two normal values say the same.
func (f paperField) same(a, b string) bool {
	if f.Kind == paperTypedText {
		return strings.EqualFold(strings.TrimRight(a, ". "), strings.TrimRight(b, ". "))
	}
	return a == b
}

// shown is a normal value in the words of the page.
func (f paperField) shown(v string) string {
	if v == "" {
		return "(empty)"
	}
	word := func(v string) string {
		for _, o := range f.Options {
			if o.Value == v {
				return o.Label
			}
		}
		return v
	}
	if f.Kind == paperTypedSeveral {
		var out []string
		for k := range strings.SplitSeq(v, ",") {
			out = append(out, word(k))
		}
		return strings.Join(out, "; ")
	}
	if v = word(v); f.Unit != "" && f.Kind == paperTypedReading {
		return v + " " + f.Unit
	}
	return v
}

// differences lists the fields in which two typings differ, in the order of the paper. Private fields are typed once.
func differences(fields []paperField, a, b paperTyping) []paperField {
	var out []paperField
	for _, f := range fields {
		if !f.Private && !f.same(a[f.Name], b[f.Name]) {
			out = append(out, f)
		}
	}
	return out
}
