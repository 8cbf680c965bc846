package web

import (
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"fairstick/internal/about"
	"fairstick/internal/charter"
	"fairstick/internal/event"
	"fairstick/internal/programme"
	"fairstick/internal/protocol"
)

// printed is a market where the lead has numbered forms.
func printedForms(t *testing.T, count int) (*market, *visitor) {
	t.Helper()
	m := newMarket(t)
	lead := m.as(leadName)
	lead.get(m.event + "/paper")
	lead.send(m.event+"/paper/print", form("count", strconv.Itoa(count), "language", "en"))
	lead.follow()
	return m, lead
}

// onPaper is a form of the market as somebody filled it in: tested at 10:40 with meter M1.
func onPaper(m *market) url.Values {
	d := m.day()
	f := form("arrived", "1031", "language", "en", "consent_how", "read", "agrees", "yes", "consent_time", "10:33", "last_food", "8.15", "ate_day", "today",
		"reading1_time", "1040", "reading1_value", "104", "reading1_again", "104", "reading1_screener", m.person("Ines Calder"), "reading1_washed", "yes", "reading1_lancet", "yes", "reading1_sharps", "yes",
		"reading1_wiped", "1041", "told", "usual", "teach_back", "own-words", "slip", "yes", "explained_by", m.person("Rosa Amaya"), "explained", "1044", "outcome", "tested", "ended", "1045",
		"contact_allow", "no")
	for _, q := range d.Protocol.Questions {
		switch q.Kind {
		case protocol.Signs:
			f.Set("answer_"+q.Key, protocol.NoSign)
		case protocol.Number:
			f.Set("answer_"+q.Key, "52")
		default:
			f.Set("answer_"+q.Key, "no")
		}
	}
	for _, x := range d.Meters {
		if x.Details.Label == "M1" {
			f.Set("reading1_meter", x.ID)
		}
	}
	for _, l := range d.StripLots {
		if l.Details.Lot == "INV-41" {
			f.Set("reading1_strips", l.ID+"/41-a")
		}
	}
	return f
}

func changed(f url.Values, pairs ...string) url.Values {
	out := url.Values{}
	for k, v := range f {
		out[k] = slices.Clone(v)
	}
	for i := 0; i < len(pairs); i += 2 {
		out.Set(pairs[i], pairs[i+1])
	}
	return out
}

// typeOnce types a form for the first time.
func (v *visitor) typeOnce(number string, f url.Values) {
	v.m.t.Helper()
	v.get(v.m.event + "/paper/type/form?number=" + number)
	v.want(http.StatusOK)
	v.send(v.m.event+"/paper/type/first", f)
}

func TestPaperPagesAndRoles(t *testing.T) {
	m, lead := printedForms(t, 12)
	lead.see("Numbers 001 to 012 are written down", "Not accounted for: 001 to 012", "12 of 12")
	lead.send(m.event+"/paper/print", form("count", "3", "language", "es"))
	lead.follow()
	lead.see("013 to 015", "Spanish")
	lead.send(m.event+"/paper/print", form("count", "0", "language", "es"))
	lead.want(http.StatusUnprocessableEntity)
	lead.send(m.event+"/paper/void", form("form", "4", "reason", "coffee"))
	lead.follow()
	lead.see("Form 004 is void.", "Not accounted for: 001 to 003, 005 to 015")
	lead.send(m.event+"/paper/void", form("form", "5", "reason", ""))
	lead.want(http.StatusUnprocessableEntity)
	lead.see("The reason is missing.")
	lead.get(m.event + "/paper")
	lead.send(m.event+"/paper/back", form("forms", "10-12, x"))
	lead.want(http.StatusUnprocessableEntity)
	lead.see(`value="10-12, x"`)
	lead.send(m.event+"/paper/back", form("forms", "10-12"))
	lead.follow()
	lead.see("Not accounted for: 001 to 003, 005 to 009, 013 to 015", "010 to 012")

	lead.get(m.event + "/paper/forms.pdf?from=13&to=15&paper=a4")
	lead.want(http.StatusOK)
	if !strings.HasPrefix(lead.body, "%PDF-") {
		t.Errorf("the file begins %.8q", lead.body)
	}
	for _, q := range []string{"from=1&to=15", "from=13&to=14", "from=x&to=15", ""} {
		lead.get(m.event + "/paper/forms.pdf?" + q)
		lead.want(http.StatusNotFound)
	}

	stranger, screener := m.visitor(), m.as("Ines Calder")
	for path, want := range map[string]int{"/paper": 403, "/paper/forms.pdf?from=13&to=15": 403, "/paper/type": 200, "/paper/type/form?number=1": 200, "/paper/type/form?number=4": 409, "/paper/type/form?number=10": 409, "/paper/type/form?number=99": 404} {
		screener.get(m.event + path)
		screener.want(want)
		stranger.get(m.event + path)
		stranger.want(http.StatusSeeOther)
	}
	for _, path := range []string{"/paper/print", "/paper/void", "/paper/back"} {
		screener.post(m.event+path, form("form", "1", "reason", "x", "count", "2", "language", "en"))
		screener.want(http.StatusForbidden)
		stranger.post(m.event+path, form())
		stranger.want(http.StatusUnauthorized)
	}
	if n := len(m.day().Forms()); n != 15 {
		t.Errorf("%d forms are numbered, want 15", n)
	}
}

func TestPaperTypedTwice(t *testing.T) {
	m, lead := printedForms(t, 3)
	paperForm := onPaper(m)
	before := len(m.day().Visits)

	first := m.as("Hollis Bray")
	first.typeOnce("1", changed(paperForm, "arrived", "10h31", "reading1_time", "25:00", "answer_age", "old"))
	first.want(http.StatusUnprocessableEntity)
	first.see("3 fields need another look", "is no time of day", "f-arrived", "f-reading1_time", "f-answer_age", `value="10h31"`, `value="104"`)
	first.send(m.event+"/paper/type/first", changed(paperForm, "reading1_washed", "", "agrees", ""))
	first.want(http.StatusUnprocessableEntity)
	first.see("Did the participant agree?", "Reading 1: this still needs an answer.")
	first.send(m.event+"/paper/type/first", changed(paperForm, "consent_time", "10:29"))
	first.want(http.StatusUnprocessableEntity)
	first.see("The consent at 10:29 comes before the arrival at 10:31.")
	if kept, err := m.prog.Typings(t.Context(), m.day().Event.ID); err != nil || len(kept) != 0 {
		t.Fatalf("refused typings were kept: %v %v", kept, err)
	}
	first.send(m.event+"/paper/type/first", paperForm)
	first.follow()
	first.see("typed once and kept", "First typed by Hollis Bray", "Better let somebody else type it")
	if strings.Contains(first.main(), `value="104"`) || strings.Contains(first.main(), `value="10:31"`) {
		t.Error("the second typing does not begin blank")
	}

	second := m.as("Ines Calder")
	second.get(m.event + "/paper/type")
	second.see("typed once by Hollis Bray", "0 of 3 printed forms", `<option value="2" selected`)
	second.get(m.event + "/paper/type/form?number=1")
	second.seeNot("Better let somebody else")
	to := m.event + "/paper/type/second"
	wrong := changed(paperForm, "reading1_value", "140", "reading1_again", "140", "answer_age", "25")
	second.send(to, wrong)
	second.want(http.StatusOK)
	second.see("3 fields differ", "Reading 1: The meter shows", "104 mg/dL", "140 mg/dL", "Questions: How old are you?", "52", "25", "Reading 1: Read back")
	second.send(to, form("pick_reading1_value", "first"))
	second.want(http.StatusUnprocessableEntity)
	second.see("Look at the paper: which is right?")
	second.send(to, form("pick_reading1_value", "first", "pick_reading1_again", "first", "pick_answer_age", "paper", "paper_answer_age", "x"))
	second.want(http.StatusUnprocessableEntity)
	if len(m.day().Visits) != before {
		t.Fatal("something was recorded before everything was settled")
	}
	second.send(to, form("pick_reading1_value", "first", "pick_reading1_again", "first", "pick_answer_age", "paper", "paper_answer_age", "53"))
	if second.status == http.StatusConflict { // the meter was in somebody else's hands on the day
		second.see("Both typings agree. Nothing is recorded yet.", "What is irregular")
		if len(m.day().Visits) != before {
			t.Fatal("an irregular form was recorded without a signature")
		}
		second.send(to, form("accept_reason", "", "sign_person", m.person(leadName), "sign_pin", m.pins[leadName]))
		second.want(http.StatusUnprocessableEntity)
		second.send(to, form("accept_reason", "paper beside the stations", "sign_person", m.person(leadName), "sign_pin", "0000"))
		if second.status == http.StatusSeeOther || len(m.day().Visits) != before {
			t.Fatal("a wrong PIN signed")
		}
		second.see("What is irregular", "paper beside the stations")
		second.send(to, form("accept_reason", "paper beside the stations", "sign_person", m.person(leadName), "sign_pin", m.pins[leadName]))
	}
	second.want(http.StatusSeeOther)
	again := second.fields
	second.get(second.to)
	second.see("Form 001 is in the record as ticket 030. 104 mg/dL")

	d := m.day()
	if len(d.Visits) != before+1 {
		t.Fatalf("%d visits, want %d", len(d.Visits), before+1)
	}
	v := d.Visits[len(d.Visits)-1]
	if v.Form != 1 || v.Answers.Answers["age"] != "53" || v.Readings[0].Reading.Shown() != "104" || v.Readings[0].At.In(d.Event.Zone()).Format("15:04") != "10:40" || v.Readings[0].By != m.person("Ines Calder") {
		t.Errorf("recorded: form %d, %v, %+v", v.Form, v.Answers.Answers, v.Readings)
	}
	if kept, err := m.prog.Typings(t.Context(), d.Event.ID); err != nil || len(kept) != 0 {
		t.Errorf("the first typing is still kept: %v %v", kept, err)
	}
	second.post(to, again)
	if second.status == http.StatusSeeOther && !strings.Contains(second.to, "paper/type") || len(m.day().Visits) != before+1 {
		t.Errorf("a second press recorded twice: %d", second.status)
	}
	lead.get(m.event + "/paper")
	lead.see("Typed in", "1 of 3", "Not accounted for: 002 to 003")
}

// A name and a telephone number are typed at the second typing, twice, and never kept before they are sealed.
func TestPaperContact(t *testing.T) {
	m, _ := printedForms(t, 1)
	f := changed(onPaper(m), "contact_allow", "yes", "contact_call", "yes", "outcome", "left", "ended", "1036")
	for k := range f {
		if strings.HasPrefix(k, "reading1") || slices.Contains([]string{"told", "teach_back", "slip", "explained_by", "explained"}, k) {
			delete(f, k)
		}
	}
	name, phone := programme.PrivateField("name"), programme.PrivateField("phone")
	v := m.as("Hollis Bray")
	v.typeOnce("1", changed(f, name, "Nadia Invented", phone, "555 0199"))
	v.follow()
	kept, err := m.prog.Typings(t.Context(), m.day().Event.ID)
	if err != nil || fmt.Sprint(kept) == "map[]" || strings.Contains(fmt.Sprint(kept), "Nadia") || strings.Contains(fmt.Sprint(kept), "0199") {
		t.Fatalf("kept: %v %v", kept, err)
	}
	v.seeNot("Nadia", "0199")
	to := m.event + "/paper/type/second"
	v.send(to, f)
	v.want(http.StatusUnprocessableEntity)
	v.see("The name is missing.")
	v.send(to, changed(f, name, "Nadia Invented", name+"_again", "Nadja Invented", phone, "555 0199", phone+"_again", "555 0199"))
	v.want(http.StatusUnprocessableEntity)
	v.see("The two typings do not agree. Look at the strip.")
	v.send(to, changed(f, name, "Nadia Invented", name+"_again", "Nadia Invented", phone, "555 0199", phone+"_again", "555 0199"))
	v.want(http.StatusSeeOther)
	d := m.day()
	visit := d.Visits[len(d.Visits)-1]
	if visit.Form != 1 || !visit.Call {
		t.Fatalf("recorded: %+v", visit)
	}
	c, found, err := m.prog.OpenContact(t.Context(), programme.Actor{Person: m.person(leadName)}, visit.ID)
	if err != nil || !found || c.Name != "Nadia Invented" || c.Phone != "555 0199" {
		t.Errorf("sealed contact: %+v %v %v", c, found, err)
	}
}

func TestPaperForgetAndOtherForms(t *testing.T) {
	m, _ := printedForms(t, 2)
	v := m.as("Hollis Bray")
	v.typeOnce("2", changed(onPaper(m), "contact_allow", "yes", "contact_call", "yes"))
	v.follow()
	v.send(m.event+"/paper/type/forget", form())
	v.follow()
	v.see("thrown away", "First typing")
	v.post(m.event+"/paper/type/second", changed(onPaper(m), "form", "2"))
	v.follow()
	v.see("has no first typing yet", "nothing was recorded")
	for _, path := range []string{"first", "second", "forget"} {
		v.post(m.event+"/paper/type/"+path, form("form", "77"))
		v.want(http.StatusNotFound)
	}
	if d := m.day(); d.Visits[len(d.Visits)-1].Form != 0 {
		t.Error("something was recorded")
	}
}

func TestPaperClock(t *testing.T) {
	for typed, want := range map[string]string{"9:05": "09:05", "0905": "09:05", "905": "09:05", "9.05": "09:05", "14:30": "14:30", "1430": "14:30", "0:00": "00:00", "2359": "23:59"} {
		if k, err := parsePaperClock(typed); err != nil || k.String() != want {
			t.Errorf("%q reads as %v %v, want %s", typed, k, err, want)
		}
	}
	for _, typed := range []string{"24:00", "2400", "9", "95", "9:5x", "12345", "-905", "9:60", "960", "::"} {
		if k, err := parsePaperClock(typed); err == nil {
			t.Errorf("%q reads as %s", typed, k)
		}
	}
}

// valueFor draws something that can be typed into a field.
func valueFor(t *rapid.T, f paperField, label string) string {
	switch f.Kind {
	case paperTypedClock:
		return rapid.SampledFrom([]string{"9:05", "0905", "1430", "23:59", "000"}).Draw(t, label)
	case paperTypedFigure:
		return rapid.SampledFrom([]string{"0", "7", "52", "052"}).Draw(t, label)
	case paperTypedReading:
		return rapid.SampledFrom([]string{"104", "0104", "5,6", "lo", "HI", "e-3"}).Draw(t, label)
	case paperTypedDigits:
		return rapid.SampledFrom([]string{"021", "900"}).Draw(t, label)
	case paperTypedChoice, paperTypedSeveral:
		if len(f.Options) == 0 {
			return ""
		}
		return rapid.SampledFrom(f.Options).Draw(t, label).Value
	case paperTypedText:
	}
	return rapid.SampledFrom([]string{"Invented Clinic", "invented  clinic.", "own car", "by foot"}).Draw(t, label)
}

// Equal typings never differ, and a single field that reads otherwise is named, and it alone.
func TestPaperDifferences(t *testing.T) {
	fields := paperFieldsOf(typedForm(newMarket(t).day()))
	rapid.Check(t, func(t *rapid.T) {
		a := paperTyping{}
		for i, f := range fields {
			if rapid.Bool().Draw(t, fmt.Sprint("filled ", i)) {
				a[f.Name], _ = f.read([]string{valueFor(t, f, f.Name)})
			}
		}
		b := paperTyping{}
		for k, v := range a {
			b[k] = v
		}
		if d := differences(fields, a, b); len(d) != 0 {
			t.Fatalf("equal typings differ in %s", d[0].Name)
		}
		f := rapid.SampledFrom(fields).Draw(t, "field")
		b[f.Name], _ = f.read([]string{valueFor(t, f, "other")})
		if rapid.Bool().Draw(t, "left out") {
			delete(b, f.Name)
		}
		d := differences(fields, a, b)
		switch {
		case f.Private || f.same(a[f.Name], b[f.Name]):
			if len(d) != 0 {
				t.Fatalf("%s: %q and %q say the same, but %s is named", f.Name, a[f.Name], b[f.Name], d[0].Name)
			}
		case len(d) != 1 || d[0].Name != f.Name:
			t.Fatalf("%s was changed from %q to %q, but %v is named", f.Name, a[f.Name], b[f.Name], d)
		}
		if f.Kind != paperTypedText && (a[f.Name] == b[f.Name]) != f.same(a[f.Name], b[f.Name]) {
			t.Fatalf("%s: %q and %q", f.Name, a[f.Name], b[f.Name])
		}
	})
}

func TestPaperDifferencesByMeaning(t *testing.T) {
	text, clock, shown := paperField{Name: "a"}, paperField{Name: "b", Kind: paperTypedClock}, paperField{Name: "c", Kind: paperTypedReading}
	read := func(f paperField, s string) string { v, _ := f.read([]string{s}); return v }
	for _, c := range []struct {
		f    paperField
		a, b string
		same bool
	}{
		{text, "Invented  Clinic.", "invented clinic", true},
		{text, "Invented Clinic", "Invented Clinics", false},
		{clock, "905", "09:05", true},
		{clock, "905", "0950", false},
		{shown, "lo", "LO", true},
		{shown, "5,6", "5.6", true},
		{shown, "095", "95", true},
		{shown, "104", "140", false},
		{shown, "95", "950", false},
	} {
		if got := c.f.same(read(c.f, c.a), read(c.f, c.b)); got != c.same {
			t.Errorf("%q and %q: %v", c.a, c.b, got)
		}
	}
}

// A result on the form that is not the one of the protocol is said before anything is recorded.
func TestPaperToldOtherwise(t *testing.T) {
	m, _ := printedForms(t, 1)
	before := len(m.day().Visits)
	f := changed(onPaper(m), "told", "high")
	v := m.as("Hollis Bray")
	v.typeOnce("1", f)
	v.follow()
	v.send(m.event+"/paper/type/second", f)
	v.want(http.StatusConflict)
	v.see("Finding: Ticked in the table. On the form the result is \"Much higher than the usual range\"; by the protocol 104 mg/dL is \"In the usual range for this kind of test\".")
	if len(m.day().Visits) != before {
		t.Error("it was recorded without a signature")
	}
}

// bothTypings types a form twice, and signs what is irregular.
func (v *visitor) bothTypings(number string, f url.Values) {
	v.m.t.Helper()
	v.typeOnce(number, f)
	v.follow()
	to := v.m.event + "/paper/type/second"
	v.send(to, f)
	v.signIrregular(to)
	v.want(http.StatusSeeOther)
}

// signIrregular signs where the last answer asks for it.
func (v *visitor) signIrregular(to string) {
	v.m.t.Helper()
	if v.status == http.StatusConflict {
		v.send(to, form("accept_reason", "paper beside the stations", "sign_person", v.m.person(leadName), "sign_pin", v.m.pins[leadName]))
	}
}

// What people said of themselves on paper is typed twice like the rest, differences stand side by side, and an empty block is no answer.
func TestPaperSaysWhatPeopleToldOfThemselves(t *testing.T) {
	m, lead := printedForms(t, 3)
	told := changed(onPaper(m), "about_insurance", "no", "about_easy", "partly")
	told["about_race"] = []string{"white", "asian"}

	first, to := m.as("Hollis Bray"), m.event+"/paper/type/second"
	first.get(m.event + "/paper/type/form?number=1")
	first.see("About the person", "Skips all of these", "Which of these describe you?", "Was this easy to understand?", "An answer is ticked", "I prefer not to say")
	first.seeNot("What is your sex?", "ZIP code")
	first.typeOnce("1", changed(told, aboutSkipped, "yes"))
	first.want(http.StatusUnprocessableEntity)
	first.see("All are skipped, and one is answered as well.", "f-about_skipped")
	both := changed(told)
	both["about_race"] = []string{"asian", "prefer-not"}
	first.send(m.event+"/paper/type/first", both)
	first.want(http.StatusUnprocessableEntity)
	first.see("An answer is ticked, and not to say as well.")
	first.send(m.event+"/paper/type/first", changed(told, "agrees", "no", "outcome", "left"))
	first.want(http.StatusUnprocessableEntity)
	first.see("Nobody is asked about themselves without a consent.")
	told.Set(aboutSkipped, "")
	first.send(m.event+"/paper/type/first", told)
	first.follow()
	kept, err := m.prog.Typings(t.Context(), m.day().Event.ID)
	if err != nil || kept[1].Fields["about_race"] != "asian,white" || kept[1].Fields["about_insurance"] != "no" || kept[1].Fields["about_easy"] != "partly" {
		t.Fatalf("kept: %v %v", kept, err)
	}

	second := m.as("Ines Calder")
	second.get(m.event + "/paper/type/form?number=1")
	other := changed(told, "about_insurance", "yes")
	other["about_race"] = []string{"white"}
	second.send(to, other)
	second.want(http.StatusOK)
	second.see("2 fields differ", "About the person: Which of these describe you?", "Asian; White", "About the person: Do you have health insurance?")
	second.seeNot("Was this easy to understand?")
	second.send(to, form("pick_about_race", "first", "pick_about_insurance", "paper", "paper_about_insurance", "unsure"))
	second.signIrregular(to)
	second.want(http.StatusSeeOther)

	second.bothTypings("2", onPaper(m))
	second.bothTypings("3", changed(onPaper(m), aboutSkipped, "yes"))
	got := map[int]string{}
	for _, v := range m.day().Visits {
		if v.Form > 0 {
			got[v.Form] = v.Counts().About
		}
	}
	for n, want := range map[int]string{1: "race=asian+white insurance=unsure doctor= first-time= easy=partly", 2: "", 3: "race= insurance= doctor= first-time="} {
		if got[n] != want {
			t.Errorf("form %d counts as %q, want %q", n, got[n], want)
		}
	}
	lead.get(m.event + "/paper")
	lead.see("Typed in", "3 of 3")
}

// aboutDay is a day of a programme that asks something.
func aboutDay(keys ...string) *programme.Day {
	d := &programme.Day{Event: &event.State{ID: "e"}, Protocol: protocol.Default(), Charter: &charter.State{Asks: keys}}
	d.Event.Plan.Zone = "UTC"
	return d
}

// The page has a place for each question that is switched on, and none that is not; what is typed there is read as answers.
func TestPaperFieldsOfWhatPeopleTold(t *testing.T) {
	names := func(d *programme.Day) string {
		var out []string
		for _, f := range paperFieldsOf(typedForm(d)) {
			if strings.HasPrefix(f.Name, "about_") {
				out = append(out, f.Name)
			}
		}
		return strings.Join(out, " ")
	}
	for want, keys := range map[string][]string{
		"":           nil,
		"about_easy": {about.Easy},
		"about_skipped about_race about_sex about_zip3 about_zip3_not about_first_time": {about.Race, about.Sex, about.Zip, about.First},
		"about_easy about_skipped about_doctor":                                         {about.Doctor, about.Easy},
	} {
		if got := names(aboutDay(keys...)); got != want {
			t.Errorf("%v: %q, want %q", keys, got, want)
		}
	}

	d := aboutDay(about.Race, about.Sex, about.Zip, about.Easy)
	fields := paperFieldsOf(typedForm(d))
	for typed, want := range map[string]string{
		"":                                   "",
		"about_zip3=021":                     "race= sex= zip3=021",
		"about_zip3=0+2":                     "about_zip3: Type the first 3 digits alone. More is not kept here.",
		"about_zip3=02139":                   "about_zip3: Type the first 3 digits alone. More is not kept here.",
		"about_zip3_not=yes":                 "race= sex= zip3=prefer-not",
		"about_zip3=021&about_zip3_not=yes":  "about_zip3: Digits are written, and not to say is ticked as well. Look at the form again.",
		"about_race=white&about_race=black":  "race=black+white sex= zip3=",
		"about_race=prefer-not":              "race=prefer-not sex= zip3=",
		"about_sex=other&about_easy=no":      "race= sex=other zip3= easy=no",
		"about_easy=prefer-not":              "easy=prefer-not",
		"about_skipped=yes&about_easy=yes":   "race= sex= zip3= easy=yes",
		"about_skipped=yes&about_sex=male":   "about_skipped: All are skipped, and one is answered as well. Look at the form again.",
		"about_sex=yes":                      "about_sex: What is your sex?: choose one of the list.",
		"agrees=no&about_skipped=yes":        "about_skipped: Nobody is asked about themselves without a consent.",
		"agrees=no&about_race=asian":         "about_race: Nobody is asked about themselves without a consent.",
		"about_insurance=yes&about_sex=male": "race= sex=male zip3=",
	} {
		values, err := url.ParseQuery(typed)
		if err != nil {
			t.Fatal(err)
		}
		if !values.Has("agrees") {
			values.Set("agrees", "yes")
		}
		form, bad := paperTyping{}, map[string]string{}
		for _, f := range fields {
			v, wrong := f.read(values[f.Name])
			if v != "" {
				form[f.Name] = v
			}
			if wrong != "" {
				bad[f.Name] = wrong
			}
		}
		r := &paperReader{t: form, d: d, bad: bad}
		said := r.about()
		got := said.Line()
		for name, wrong := range r.bad {
			got = name + ": " + wrong
		}
		if got != want {
			t.Errorf("%s reads as %q, want %q", typed, got, want)
		}
	}
	for _, f := range fields {
		if f.Name == "about_zip3" && (f.same("021", "021") != true || f.same("021", "21") || f.shown("021") != "021" || f.shown("") != "(empty)") {
			t.Errorf("digits are compared as they stand: %+v", f)
		}
		if f.Name == "about_race" && f.shown("asian,prefer-not") != "Asian; I prefer not to say" {
			t.Errorf("race is shown as %q", f.shown("asian,prefer-not"))
		}
	}
}
