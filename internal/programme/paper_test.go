package programme_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"fairstick/internal/demo"
	"fairstick/internal/fault"
	"fairstick/internal/programme"
	"fairstick/internal/protocol"
	"fairstick/internal/visit"
)

// form is a usual visit on paper at station 1: 112 at 09:20.
func (h *hall) form(n int, change ...func(*programme.PaperVisit)) programme.EnterPaper {
	v := programme.PaperVisit{
		Form: n, Language: "en", Arrived: h.Time("09:10"), Outcome: programme.PaperTested, Ended: h.Time("09:40"),
		Consent: &programme.PaperConsent{At: h.Time("09:12"), How: "read"},
		Answers: protocol.Answers{"crisis-signs": "none", "age": "46", "known-diabetes": "no", "pregnancy": "no", "icodextrin": "no", "bleeding": "no", "fainted": "no", "arm": "no"},
		Ate:     &programme.PaperAte{Known: true, Last: h.Time("07:00")}, Contact: &programme.PaperContact{},
		Readings:  []programme.PaperReading{h.paperReading("09:20", "112")},
		Explained: &programme.PaperExplained{At: h.Time("09:30"), By: h.ID("Dot Counsellor"), TeachBack: "own-words"}, Slip: &programme.PaperSlip{},
	}
	for _, c := range change {
		c(&v)
	}
	return programme.EnterPaper{Act: h.Act(), Event: h.Event, Visit: v}
}

func (h *hall) paperReading(at, shown string) programme.PaperReading {
	return programme.PaperReading{
		At: h.Time(at), Shown: shown, Meter: h.ID("M1"), StripLot: h.ID("A"), Vial: "A1", Station: "1", Screener: h.ID("Ann Screener"), Washed: true, Sharps: true, WipedAt: h.Time(at).Add(time.Minute),
	}
}

// paperHall is an open hall at noon, with the controls of 08:30.
func paperHall(t *testing.T) *hall {
	t.Helper()
	h := newHall(t)
	h.Clock.Set(h.Time("08:30"))
	h.prepare("")
	h.Clock.Set(h.Time("09:00"))
	h.must(h.open())
	h.Clock.Set(h.Time("12:00"))
	return h
}

func TestAFormIsRecordedWithItsTimes(t *testing.T) {
	h := paperHall(t)
	e, err := h.P.EnterPaper(h.ctx, h.As("Cy Lapsed"), h.form(7))
	h.must(err)
	if !e.Recorded || e.Ticket != 1 || len(e.Irregular) != 0 || e.Finding == nil || e.Finding.Band != protocol.Usual {
		t.Fatalf("entered %+v", e)
	}
	d, err := h.P.Day(h.ctx, h.Event)
	h.must(err)
	v := d.Visit(e.ID)
	got := []string{v.Times.Arrived.Format("15:04"), v.Times.DeskDone.Format("15:04"), v.Times.FirstRead.Format("15:04"), v.Times.Found.Format("15:04"), v.Times.Explained.Format("15:04"), v.Times.Ended.Format("15:04")}
	if want := []string{"09:10", "09:12", "09:20", "09:20", "09:30", "09:40"}; !slices.Equal(got, want) {
		t.Errorf("times %v, want %v", got, want)
	}
	if v.Form != 7 || v.Phase() != visit.Done || v.Binned != 1 || v.Readings[0].By != h.ID("Ann Screener") || v.Readings[0].ReadBack != "on-paper" {
		t.Errorf("visit %+v", v)
	}
	if w := d.Event.Wipes[h.ID("M1")]; w.Count != 1 || !w.Start.Equal(h.Time("09:21")) {
		t.Errorf("wipe %+v", w)
	}
	_, err = h.P.EnterPaper(h.ctx, h.As("Cy Lapsed"), h.form(7))
	h.refused("form-typed", err)
}

// What cannot be is refused beside its field, and nothing is recorded.
func TestNonsenseOnPaperIsRefused(t *testing.T) {
	h := paperHall(t)
	_, err := h.P.FormsPrinted(h.ctx, h.As("Lea Lead"), programme.FormsPrinted{Act: h.Act(), Event: h.Event, Language: "en", Count: 40})
	h.must(err)
	_, err = h.P.VoidForm(h.ctx, h.As("Lea Lead"), programme.VoidForm{Act: h.Act(), Event: h.Event, Form: 3, Reason: "coffee"})
	h.must(err)
	_, err = h.P.FormsBack(h.ctx, h.As("Lea Lead"), programme.FormsBack{Act: h.Act(), Event: h.Event, Forms: "31–40, 20"})
	h.must(err)
	type change = func(*programme.PaperVisit)
	reading := func(do func(*programme.PaperReading)) change {
		return func(v *programme.PaperVisit) { do(&v.Readings[0]) }
	}
	for name, c := range map[string]struct {
		form   int
		field  string
		change change
	}{
		"never printed":           {41, "form", func(*programme.PaperVisit) {}},
		"void":                    {3, "form", func(*programme.PaperVisit) {}},
		"counted back blank":      {35, "form", func(*programme.PaperVisit) {}},
		"another day":             {1, "arrived", func(v *programme.PaperVisit) { v.Arrived = v.Arrived.AddDate(0, 0, -1) }},
		"not come yet":            {1, "ended", func(v *programme.PaperVisit) { v.Ended = h.Time("12:30") }},
		"end before arrival":      {1, "ended", func(v *programme.PaperVisit) { v.Ended = h.Time("09:05") }},
		"end before explanation":  {1, "ended", func(v *programme.PaperVisit) { v.Ended = h.Time("09:29") }},
		"reading before consent":  {1, "reading1_time", reading(func(r *programme.PaperReading) { r.At = h.Time("09:11") })},
		"no consent":              {1, "consent_time", func(v *programme.PaperVisit) { v.Consent = nil }},
		"unknown meter":           {1, "reading1_meter", reading(func(r *programme.PaperReading) { r.Meter = "no-such" })},
		"unknown lot":             {1, "reading1_strip_lot", reading(func(r *programme.PaperReading) { r.StripLot = h.ID("M1") })},
		"unknown screener":        {1, "reading1_screener", reading(func(r *programme.PaperReading) { r.Screener = "" })},
		"no vial":                 {1, "reading1_vial", reading(func(r *programme.PaperReading) { r.Vial = " " })},
		"value not a reading":     {1, "reading1_value", reading(func(r *programme.PaperReading) { r.Shown = "1l2" })},
		"absurd value":            {1, "reading1_value", reading(func(r *programme.PaperReading) { r.Shown = "1118" })},
		"the other unit":          {1, "reading1_value", reading(func(r *programme.PaperReading) { r.Shown = "6" })},
		"second typing differs":   {1, "reading1_again", reading(func(r *programme.PaperReading) { r.Again = "121" })},
		"wiped before":            {1, "reading1_wiped", reading(func(r *programme.PaperReading) { r.WipedAt = h.Time("09:19") })},
		"not a repeat":            {1, "reading1_purpose", reading(func(r *programme.PaperReading) { r.Purpose = visit.Repeat })},
		"only an error":           {1, "outcome", reading(func(r *programme.PaperReading) { r.Shown = "E-4" })},
		"tested without reading":  {1, "reading1_value", func(v *programme.PaperVisit) { v.Readings, v.Explained, v.Slip = nil, nil, nil }},
		"declined with a reading": {1, "outcome", func(v *programme.PaperVisit) { v.Outcome = programme.PaperNoFingerstick }},
		"not eligible, but who is": {1, "outcome", func(v *programme.PaperVisit) {
			v.Outcome, v.Readings, v.Explained, v.Slip = programme.PaperNotEligible, nil, nil, nil
		}},
		"answer to another form":  {1, "answer_shoe-size", func(v *programme.PaperVisit) { v.Answers["shoe-size"] = "44" }},
		"food after the question": {1, "last_food", func(v *programme.PaperVisit) { v.Ate.Last = h.Time("09:30") }},
		"contact without a name":  {1, "contact_name", func(v *programme.PaperVisit) { v.Contact = &programme.PaperContact{Allow: true} }},
		"care that nothing asked": {1, "care_sugar_time", func(v *programme.PaperVisit) {
			v.Care = &programme.PaperCare{Steps: []programme.PaperCareStep{{At: h.Time("09:25"), Step: "sugar", Choice: "given"}}}
		}},
		"signed by no supervisor": {1, "care_signed_by", func(v *programme.PaperVisit) {
			v.Care = &programme.PaperCare{SignedAt: h.Time("09:25"), SignedBy: h.ID("Ann Screener")}
		}},
		"slip without explanation":  {1, "explained", func(v *programme.PaperVisit) { v.Explained = nil }},
		"unknown outcome":           {1, "outcome", func(v *programme.PaperVisit) { v.Outcome = "fine" }},
		"a text version not in use": {1, "consent_version", func(v *programme.PaperVisit) { v.Consent.Version = "0" }},
	} {
		_, err := h.P.EnterPaper(h.ctx, h.As("Cy Lapsed"), h.form(c.form, c.change))
		if f := fault.Of(err); f == nil || f.Kind != fault.Invalid || f.Fields[c.field] == "" {
			t.Errorf("%s: want a message at %s, got %v %+v", name, c.field, err, f)
		}
	}
	d, err := h.P.Day(h.ctx, h.Event)
	h.must(err)
	if len(d.Visits) != 0 {
		t.Errorf("%d visits were recorded", len(d.Visits))
	}
}

// A gate that was shut on the day does not undo what happened: it is listed, and recorded under a signed reason.
func TestIrregularPaperNeedsASignature(t *testing.T) {
	h := paperHall(t)
	type change = func(*hall, *programme.PaperVisit)
	for name, c := range map[string]struct {
		keys   []string
		change change
	}{
		"before the controls": {[]string{"not-open", "not-open", "not-cleared", "code-unread", "room-unknown"}, func(h *hall, v *programme.PaperVisit) {
			v.Arrived, v.Consent.At, v.Readings[0].At = h.Time("08:20"), h.Time("08:21"), h.Time("08:25")
		}},
		"a lot without controls": {[]string{"code-unread", "not-cleared"}, func(h *hall, v *programme.PaperVisit) { v.Readings[0].StripLot, v.Readings[0].Vial = h.ID("B"), "B1" }},
		"a vial past its use":    {[]string{"strips-use"}, func(_ *hall, v *programme.PaperVisit) { v.Readings[0].Vial = "old" }},
		"a lapsed screener":      {[]string{"not-verified"}, func(h *hall, v *programme.PaperVisit) { v.Readings[0].Screener = h.ID("Cy Lapsed") }},
		"not wiped":              {[]string{"not-wiped"}, func(_ *hall, v *programme.PaperVisit) { v.Readings[0].WipedAt = time.Time{} }},
		"not eligible":           {[]string{"not-eligible"}, func(_ *hall, v *programme.PaperVisit) { v.Answers["known-diabetes"] = "yes" }},
		"barred strips":          {[]string{"chemistry"}, func(_ *hall, v *programme.PaperVisit) { v.Answers["icodextrin"] = "yes" }},
		"contact not asked":      {[]string{"desk-unfinished"}, func(_ *hall, v *programme.PaperVisit) { v.Contact = nil }},
		"no slip":                {[]string{"no-slip"}, func(_ *hall, v *programme.PaperVisit) { v.Slip = nil }},
		"no repeat":              {[]string{"repeat-missing"}, func(_ *hall, v *programme.PaperVisit) { v.Readings[0].Shown = "214" }},
		"a repeat that no rule asks for": {[]string{"has-result"}, func(h *hall, v *programme.PaperVisit) {
			v.Readings = append(v.Readings, h.paperReading("09:22", "109"))
		}},
		"three sticks": {[]string{"sticks"}, func(h *hall, v *programme.PaperVisit) {
			v.Readings = []programme.PaperReading{h.paperReading("09:20", "E-4"), h.paperReading("09:22", "E-4"), h.paperReading("09:24", "112")}
		}},
		"the same drop":           {[]string{"same-drop"}, func(_ *hall, v *programme.PaperVisit) { v.Readings[0].SameDrop = true }},
		"explained by a screener": {[]string{"role"}, func(h *hall, v *programme.PaperVisit) { v.Explained.By = h.ID("Ann Screener") }},
	} {
		in := h.form(7, func(v *programme.PaperVisit) { c.change(h, v) })
		dry := in
		dry.Dry = true
		tried, err := h.P.EnterPaper(h.ctx, h.As("Cy Lapsed"), dry)
		h.must(err)
		for _, k := range c.keys {
			if !slices.ContainsFunc(tried.Irregular, func(i programme.Irregular) bool { return i.Key == k && i.Sentence != "" && i.Field != "" }) {
				t.Errorf("%s: want %s among %+v", name, k, tried.Irregular)
			}
		}
		refused, err := h.P.EnterPaper(h.ctx, h.As("Cy Lapsed"), in)
		h.refused("irregular", err)
		if len(refused.Irregular) != len(tried.Irregular) || refused.Recorded || tried.Recorded {
			t.Errorf("%s: refused with %+v", name, refused)
		}
	}
	in := h.form(7, func(v *programme.PaperVisit) { v.Answers["known-diabetes"], v.Slip = "yes", nil })
	in.Accept, in.Reason = h.Sign("Ann Screener"), "the day went so"
	_, err := h.P.EnterPaper(h.ctx, h.As("Cy Lapsed"), in)
	h.refused("signature-role", err)
	in.Accept, in.Reason = h.Sign("Sue Supervisor"), " "
	_, err = h.P.EnterPaper(h.ctx, h.As("Cy Lapsed"), in)
	h.refused("field-accept_reason", err)
	in.Reason = "the day went so"
	done, err := h.P.EnterPaper(h.ctx, h.As("Cy Lapsed"), in)
	h.must(err)
	r, err := h.P.Report(h.ctx, h.Event)
	h.must(err)
	if !done.Recorded || r.Outcomes.Arrived != 1 || r.Outcomes.Tested != 1 || r.Outcomes.NotEligible != 0 || len(r.Overrides) != 2 {
		t.Fatalf("recorded %+v, overrides %+v", done, r.Overrides)
	}
	if o := r.Overrides[0]; o.Gate != "paper:not-eligible" || o.By != "Sue Supervisor" || o.Reason != "the day went so" || !strings.Contains(o.About, "form 7") {
		t.Errorf("override %+v", o)
	}
}

// A gate is judged by what stood at the time of the paper, not by what came later.
func TestGatesOfPaperLookAtTheirTime(t *testing.T) {
	h := paperHall(t)
	h.Clock.Set(h.Time("11:00"))
	_, err := h.P.VoidMeter(h.ctx, h.As("Ann Screener"), programme.VoidMeter{Act: h.Act(), Event: h.Event, Meter: h.ID("M1"), Cause: "dropped"})
	h.must(err)
	_, err = h.P.CompareCode(h.ctx, h.As("Ann Screener"), programme.CompareCode{Act: h.Act(), Event: h.Event, Meter: h.ID("M1"), StripLot: h.ID("B"), Shown: "23"})
	h.must(err)
	_, err = h.P.QuarantineMeter(h.ctx, h.As("Ann Screener"), programme.QuarantineMeter{Act: h.Act(), Event: h.Event, Meter: h.ID("M1"), Reason: "screen broken"})
	h.must(err)
	h.Clock.Set(h.Time("12:00"))
	dry := func(change ...func(*programme.PaperVisit)) []programme.Irregular {
		in := h.form(7, change...)
		in.Dry = true
		e, err := h.P.EnterPaper(h.ctx, h.As("Cy Lapsed"), in)
		h.must(err)
		return e.Irregular
	}
	if list := dry(); len(list) != 0 {
		t.Errorf("at 09:20 nothing was wrong, but: %+v", list)
	}
	late := dry(func(v *programme.PaperVisit) {
		v.Readings[0].At, v.Readings[0].WipedAt, v.Explained.At, v.Ended = h.Time("11:10"), h.Time("11:11"), h.Time("11:20"), h.Time("11:30")
	})
	if !slices.ContainsFunc(late, func(i programme.Irregular) bool { return i.Key == "quarantined" }) {
		t.Errorf("at 11:10 the meter was out: %+v", late)
	}
	h.Clock.Set(h.Time("12:10"))
	_, err = h.P.ReturnMeter(h.ctx, h.As("Lea Lead"), programme.ReturnMeter{Act: h.Act(), Meter: h.ID("M1"), Reason: "new screen", Sign: h.Sign("Lea Lead")})
	h.must(err)
	late = dry(func(v *programme.PaperVisit) {
		v.Readings[0].At, v.Readings[0].WipedAt, v.Explained.At, v.Ended = h.Time("11:10"), h.Time("11:11"), h.Time("11:20"), h.Time("11:30")
	})
	if !slices.ContainsFunc(late, func(i programme.Irregular) bool { return i.Key == "quarantined" }) {
		t.Errorf("at 11:10 the meter was out, though it came back later: %+v", late)
	}
}

// Two people with one meter: the wipe between them is looked for in whichever order their forms are typed.
func TestTheWipeBetweenTwoForms(t *testing.T) {
	for _, first := range []int{1, 2} {
		h := paperHall(t)
		one := h.form(1, func(v *programme.PaperVisit) { v.Readings[0].WipedAt = h.Time("09:26") })
		two := h.form(2, func(v *programme.PaperVisit) {
			v.Readings[0].At, v.Readings[0].WipedAt = h.Time("09:24"), h.Time("09:28")
		})
		forms := []programme.EnterPaper{one, two}
		if first == 2 {
			forms = []programme.EnterPaper{two, one}
		}
		e, err := h.P.EnterPaper(h.ctx, h.As("Cy Lapsed"), forms[0])
		h.must(err)
		if len(e.Irregular) != 0 {
			t.Errorf("alone: %+v", e.Irregular)
		}
		e, err = h.P.EnterPaper(h.ctx, h.As("Cy Lapsed"), forms[1])
		h.refused("irregular", err)
		if len(e.Irregular) != 1 || e.Irregular[0].Key != "not-wiped" {
			t.Errorf("form %d first: %+v", first, e.Irregular)
		}
	}
}

func TestPaperContactIsSealed(t *testing.T) {
	h := paperHall(t)
	e, err := h.P.EnterPaper(h.ctx, h.As("Cy Lapsed"), h.form(7, func(v *programme.PaperVisit) {
		v.Contact = &programme.PaperContact{Allow: true, Call: true, Name: "Invented Guest", Phone: "555 0199"}
	}))
	h.must(err)
	c, found, err := h.P.OpenContact(h.ctx, h.As("Lea Lead"), e.ID)
	h.must(err)
	if !found || c.Name != "Invented Guest" || c.Phone != "555 0199" || !c.Call {
		t.Errorf("contact %+v", c)
	}
}

// Signs seen and sugar on paper do to the finding what they do live.
func TestCareOnPaper(t *testing.T) {
	h := paperHall(t)
	e, err := h.P.EnterPaper(h.ctx, h.As("Cy Lapsed"), h.form(7, func(v *programme.PaperVisit) {
		sup := h.ID("Sue Supervisor")
		v.Readings = []programme.PaperReading{h.paperReading("09:20", "48")}
		v.Care = &programme.PaperCare{Steps: []programme.PaperCareStep{
			{At: h.Time("09:21"), By: sup, Step: "supervisor"},
			{At: h.Time("09:22"), By: sup, Step: "signs", Signs: []string{"drowsy-confused"}},
			{At: h.Time("09:22"), By: sup, Step: "sugar", Choice: "cannot-swallow"},
			{At: h.Time("09:23"), By: sup, Step: "action", Choice: "emergency-called"},
			{At: h.Time("09:30"), By: sup, Step: "handover", Note: "ambulance"},
			{At: h.Time("11:00"), By: sup, Step: "arrived", Note: "by telephone"},
		}, SignedAt: h.Time("11:05"), SignedBy: sup}
		v.Explained.At, v.Ended, v.Referral = h.Time("09:31"), h.Time("09:35"), &programme.PaperReferral{Route: "Invented Urgent Care", Agreed: true}
	}))
	h.must(err)
	d, err := h.P.Day(h.ctx, h.Event)
	h.must(err)
	v := d.Visit(e.ID)
	if e.Finding == nil || !e.Finding.Unwell || v.Care.Cause != "signs" || v.Care.Signed == nil || v.Phase() != visit.Done || !v.Care.At.Equal(h.Time("09:20")) {
		t.Errorf("finding %+v, care %+v", e.Finding, v.Care)
	}
}

// Without a supervisor's name care stays open and the day cannot close; live pages go on with it.
func TestUnsignedCareStaysOpen(t *testing.T) {
	h := paperHall(t)
	_, err := h.P.EnterPaper(h.ctx, h.As("Cy Lapsed"), h.form(7, func(v *programme.PaperVisit) {
		v.Readings, v.Ended, v.Explained, v.Slip = []programme.PaperReading{h.paperReading("09:20", "412")}, time.Time{}, nil, nil
	}))
	h.must(err)
	d, err := h.P.Day(h.ctx, h.Event)
	h.must(err)
	if len(d.Alerts()) != 1 || d.Visits[0].Phase() != visit.AtTest {
		t.Errorf("alerts %d, phase %s", len(d.Alerts()), d.Visits[0].Phase())
	}
}

func TestFormsAddUp(t *testing.T) {
	h := paperHall(t)
	desk, lead := h.As("Cy Lapsed"), h.As("Lea Lead")
	_, err := h.P.FormsPrinted(h.ctx, desk, programme.FormsPrinted{Act: h.Act(), Event: h.Event, Language: "en", Count: 8})
	h.refused("role", err)
	got, err := h.P.FormsPrinted(h.ctx, lead, programme.FormsPrinted{Act: h.Act(), Event: h.Event, Language: "en", Count: 8})
	h.must(err)
	more, err := h.P.FormsPrinted(h.ctx, lead, programme.FormsPrinted{Act: h.Act(), Event: h.Event, Language: "es", Count: 2})
	h.must(err)
	if got != (programme.PrintedForms{From: 1, To: 8}) || more != (programme.PrintedForms{From: 9, To: 10}) {
		t.Errorf("printed %v, %v", got, more)
	}
	_, err = h.P.EnterPaper(h.ctx, desk, h.form(2))
	h.must(err)
	_, err = h.P.VoidForm(h.ctx, lead, programme.VoidForm{Act: h.Act(), Event: h.Event, Form: 2, Reason: "x"})
	h.refused("fields", err)
	_, err = h.P.VoidForm(h.ctx, lead, programme.VoidForm{Act: h.Act(), Event: h.Event, Form: 1, Reason: "spoilt"})
	h.must(err)
	for _, bad := range []string{"2-4", "1", "11", "5-3", "five", "4-6, 5"} {
		_, err = h.P.FormsBack(h.ctx, lead, programme.FormsBack{Act: h.Act(), Event: h.Event, Forms: bad})
		h.refused("fields", err)
	}
	_, err = h.P.FormsBack(h.ctx, lead, programme.FormsBack{Act: h.Act(), Event: h.Event, Forms: "4-8; 10"})
	h.must(err)
	d, err := h.P.Day(h.ctx, h.Event)
	h.must(err)
	states := ""
	for _, s := range d.Forms() {
		states += s.State[:1]
	}
	if states != "vtmbbbbbmb" {
		t.Errorf("states %s", states)
	}
	e := equalityOf(t, d, "forms")
	if e.Difference != 2 || e.Sentence() != "10 printed = 1 typed in + 1 void + 6 back blank" || !strings.Contains(e.Alarm, "3, 9") {
		t.Errorf("%s, difference %d, %s", e.Sentence(), e.Difference, e.Alarm)
	}
	if n := d.Report().Forms; n["printed"] != 10 || n["missing"] != 2 {
		t.Errorf("report %v", n)
	}
}

func equalityOf(t *testing.T, d *programme.Day, key string) programme.Equality {
	t.Helper()
	for _, e := range d.Reconcile() {
		if e.Key == key {
			return e
		}
	}
	t.Fatalf("no sum %s", key)
	return programme.Equality{}
}

// Paper belongs to a day that is open, or whose doors are closed.
func TestPaperNeedsAnOpenDay(t *testing.T) {
	h := newHall(t)
	h.prepare("")
	h.Clock.Set(h.Time("12:00"))
	_, err := h.P.EnterPaper(h.ctx, h.As("Cy Lapsed"), h.form(1))
	h.refused("not-open", err)

	empty := func(pr *demo.Programme) { pr.Plan.Expected = 1 }
	h = opened(t, empty)
	h.Clock.Set(h.Time("12:00"))
	lead := h.As("Lea Lead")
	_, err = h.P.CloseDoors(h.ctx, lead, programme.CloseDoors{Act: h.Act(), Event: h.Event})
	h.must(err)
	_, err = h.P.EnterPaper(h.ctx, lead, h.form(1))
	h.must(err)
	_, err = h.P.CountBack(h.ctx, lead, programme.CountBack{Act: h.Act(), Event: h.Event, Strips: map[string]int{h.ID("A"): 45, h.ID("B"): 50}, Lancets: 59, Sharps: 2, Meters: []string{h.ID("M1"), h.ID("M2")}})
	h.must(err)
	for m, n := range map[string]int{"M1": 3, "M2": 2} {
		_, err = h.P.ReadMemory(h.ctx, lead, programme.ReadMemory{Act: h.Act(), Event: h.Event, Meter: h.ID(m), Rows: n})
		h.must(err)
	}
	_, err = h.P.CloseEvent(h.ctx, lead, programme.CloseEvent{Act: h.Act(), Event: h.Event, Sign: h.Sign("Lea Lead")})
	h.must(err)
	_, err = h.P.EnterPaper(h.ctx, lead, h.form(2))
	h.refused("event-closed", err)
}
