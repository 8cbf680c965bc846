package protocol

import (
	"bytes"
	"encoding/json"
	"fmt"
	"regexp"
	"strings"
	"testing"

	"fairstick/internal/fault"
	"fairstick/internal/glucose"
)

func TestDefaultIsCanonical(t *testing.T) {
	p := Default()
	if !bytes.Equal(p.Encode(), defaultJSON) {
		t.Error("default.json is not in the form that Encode writes")
	}
	back, err := Parse(p.Encode())
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(back.Encode(), p.Encode()) {
		t.Error("a protocol changes when it is written and read")
	}
	plain, err := json.Marshal(p)
	if err != nil {
		t.Fatal(err)
	}
	if again, err := Parse(plain); err != nil || !bytes.Equal(again.Encode(), p.Encode()) {
		t.Errorf("a protocol inside of a stored fact does not come back: %v", err)
	}
}

func TestDefaultIsFresh(t *testing.T) {
	p := Default()
	p.Limits[Fasting][glucose.MgPerDL] = Limits{}
	p.Title["en"] = "changed"
	if q := Default(); q.Limits[Fasting][glucose.MgPerDL].RaisedFrom != glucose.MgDL(100) || q.Title["en"] == "changed" {
		t.Error("changing one copy of the default changes the next")
	}
}

func TestParseSaysWhere(t *testing.T) {
	good := string(Default().Encode())
	for _, tt := range []struct{ name, old, new, want string }{
		{"unknown name", `"min_age": 18`, `"min_age": 18, "max_age": 90`, `"max_age" at line `},
		{"twice", `"min_age": 18`, `"min_age": 18, "min_age": 21`, "min_age stands there twice"},
		{"twice in another case", `"min_age": 18`, `"min_age": 18, "Min_Age": 21`, "Min_Age stands there twice"},
		{"twice, deep", `"fasting_hours": 8`, `"fasting_hours": 8, "ratio": {"wanted": 1, "wanted": 2}`, "ratio.wanted stands there twice"},
		{"wrong sort", `"min_age": 18`, `"min_age": "18"`, "min_age at line "},
		{"half a number", `"min_age": 18`, `"min_age": 18.5`, "min_age at line "},
		{"a limit with decimals", `"number": "126"`, `"number": "12.6"`, "12.6 has decimals"},
		{"not JSON", `"min_age": 18,`, `"min_age": 18;`, "It is not JSON at line "},
		{"cut off", `"retention_years": 3`, ``, "It is not JSON at line "},
	} {
		if !strings.Contains(good, tt.old) {
			t.Fatalf("%s: the default has no %s", tt.name, tt.old)
		}
		_, err := Parse([]byte(strings.Replace(good, tt.old, tt.new, 1)))
		if !fault.Is(err, "protocol-unreadable") || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%s: %v, want %q in it", tt.name, err, tt.want)
		}
	}
	for name, doc := range map[string]string{"empty": "", "cut": good[:len(good)/2], "followed": good + "{}", "a list": "[]", "null inside": "{\"limits\": null}", "huge": strings.Repeat(" ", maxBytes+1)} {
		if _, err := Parse([]byte(doc)); fault.Of(err) == nil || fault.Of(err).Kind != fault.Invalid {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, err := Parse([]byte(good + "\n\n  ")); err != nil {
		t.Errorf("white space at the end: %v", err)
	}
}

func TestValidate(t *testing.T) {
	edit := func(b Basis, u glucose.Unit, change func(*Limits)) func(*Protocol) {
		return func(p *Protocol) {
			l := p.Limits[b][u]
			change(&l)
			p.Limits[b][u] = l
		}
	}
	say := func(b Band, change func(*Message)) func(*Protocol) {
		return func(p *Protocol) {
			m := p.Messages[b]
			change(&m)
			p.Messages[b] = m
		}
	}
	for _, tt := range []struct {
		place  string
		change func(*Protocol)
	}{
		{"name", func(p *Protocol) { p.Name = " " }},
		{"version", func(p *Protocol) { p.Version = "" }},
		{"version", func(p *Protocol) { p.Version = strings.Repeat("x", 41) }},
		{"sources", func(p *Protocol) { p.Sources = nil }},
		{"title", func(p *Protocol) { p.Title = Text{"es": "Prueba"} }},
		{"consent.version", func(p *Protocol) { p.Consent.Version = "" }},
		{"consent.text", func(p *Protocol) { p.Consent.Text["es"] = "" }},
		{"disclaimer", func(p *Protocol) { p.Disclaimer = nil }},
		{"disclaimer", func(p *Protocol) { p.Disclaimer["en"] = "Your sugar was Normal." }},
		{"disclaimer", func(p *Protocol) { p.Disclaimer["es"] = "Su azúcar estaba anormalmente alta." }},
		{"warnings[0]", func(p *Protocol) { p.Warnings[0]["en"] = "Warning signs for a diabetic" }},
		{"can_mislead[0]", func(p *Protocol) { p.CanMislead[0]["es"] = "Comida para diabéticos" }},
		{"can_mislead", func(p *Protocol) { p.CanMislead = nil }},
		{"min_age", func(p *Protocol) { p.MinAge = 121 }},
		{"fasting_hours", func(p *Protocol) { p.FastingHours = 0 }},
		{"fasting_hours", func(p *Protocol) { p.FastingHours = 25 }},
		{"questions", func(p *Protocol) { p.Questions = p.Questions[1:] }},
		{"questions.crisis-signs", func(p *Protocol) { p.Questions[0], p.Questions[1] = p.Questions[1], p.Questions[0] }},
		{"questions.crisis-signs.optional", func(p *Protocol) { p.Questions[0].Optional = true }},
		{"questions.age", func(p *Protocol) { p.Questions = append(p.Questions, p.Questions[1]) }},
		{"questions.known-diabetes.effect", func(p *Protocol) { p.Questions[2].Effect = IsEmergency }},
		{"questions.known-diabetes.counted", func(p *Protocol) { p.Questions[2].Counted = "" }},
		{"questions.known-diabetes.sentence", func(p *Protocol) { p.Questions[2].Sentence = nil }},
		{"questions.known-diabetes.sentence", func(p *Protocol) { p.Questions[2].Sentence["en"] = "You have diabetes." }},
		{"questions.icodextrin.chemistries", func(p *Protocol) { p.Questions[4].Chemistries = nil }},
		{"questions.arm.kind", func(p *Protocol) { p.Questions[7].Kind = "essay" }},
		{"questions.Arm 1", func(p *Protocol) { p.Questions[7].Key = "Arm 1" }},
		{"limits", func(p *Protocol) { delete(p.Limits, Random) }},
		{"limits", func(p *Protocol) { p.Limits["after-lunch"] = p.Limits[Random] }},
		{"limits.random.mmol/L", func(p *Protocol) { delete(p.Limits[Random], glucose.MmolPerL) }},
		{"limits.fasting.mg/dL", edit(Fasting, glucose.MgPerDL, func(l *Limits) { l.HighFrom = glucose.MgDL(100) })},
		{"limits.fasting.mg/dL", edit(Fasting, glucose.MgPerDL, func(l *Limits) { l.HighFrom = glucose.Mmol(70) })},
		{"limits.fasting.mg/dL", edit(Fasting, glucose.MgPerDL, func(l *Limits) { l.CriticalBelow = glucose.Value{} })},
		{"limits.fasting.mg/dL.source", edit(Fasting, glucose.MgPerDL, func(l *Limits) { l.Source.RaisedFrom = " " })},
		{"limits.fasting", edit(Fasting, glucose.MmolPerL, func(l *Limits) { l.RaisedFrom = glucose.Mmol(61) })},
		{"limits.random", edit(Random, glucose.MmolPerL, func(l *Limits) { l.ReferralLine = false })},
		{"meter_range.mg/dL", func(p *Protocol) {
			p.MeterRange[glucose.MgPerDL] = Range{Low: glucose.MgDL(20), High: glucose.MgDL(300)}
		}},
		{"meter_range.mmol/L", func(p *Protocol) { delete(p.MeterRange, glucose.MmolPerL) }},
		{"repeat.mg/dL", func(p *Protocol) { p.Repeat.HighFrom[glucose.MgPerDL] = glucose.MgDL(60) }},
		{"repeat.mmol/L", func(p *Protocol) { p.Repeat.LowBelow = nil }},
		{"repeat", func(p *Protocol) { p.Repeat.HighFrom[glucose.MgPerDL] = glucose.MgDL(250) }},
		{"repeat.max_sticks", func(p *Protocol) { p.Repeat.MaxSticks = 0 }},
		{"messages", func(p *Protocol) { delete(p.Messages, High) }},
		{"messages.high.urgency", say(High, func(m *Message) { m.Urgency = "soon" })},
		{"messages.high.within_days", say(High, func(m *Message) { m.WithinDays = 0 })},
		{"messages.high.refer", say(High, func(m *Message) { m.Refer = false })},
		{"messages.high.sentence.fasting", say(High, func(m *Message) { m.Sentence = map[Basis]Text{Random: m.Sentence[Random]} })},
		{"messages.high.advice", say(High, func(m *Message) { m.Advice = nil })},
		{"messages.critical-high", say(CriticalHigh, func(m *Message) { m.Critical = false })},
		{"messages.critical-low", say(CriticalLow, func(m *Message) { m.Urgency, m.WithinDays = Days, 3 })},
		{"follow_up.raised", func(p *Protocol) { delete(p.FollowUp, Raised) }},
		{"follow_up.usual", func(p *Protocol) { p.FollowUp[Usual] = []int{30} }},
		{"follow_up.high", func(p *Protocol) { p.FollowUp[High] = []int{3, 3} }},
		{"follow_up", func(p *Protocol) { p.FollowUp["odd"] = []int{3} }},
		{"off_scale", func(p *Protocol) { delete(p.OffScale, glucose.High) }},
		{"off_scale.HI.band", func(p *Protocol) {
			o := p.OffScale[glucose.High]
			o.Band = High
			p.OffScale[glucose.High] = o
		}},
		{"off_scale.LO", func(p *Protocol) {
			o := p.OffScale[glucose.Low]
			o.Message.Urgency = Today
			p.OffScale[glucose.Low] = o
		}},
		{"unwell", func(p *Protocol) { p.Unwell.Urgency = Today }},
		{"crisis_signs", func(p *Protocol) { p.CrisisSigns = nil }},
		{"crisis_signs[1]", func(p *Protocol) { p.CrisisSigns[1].Key = p.CrisisSigns[0].Key }},
		{"crisis_signs[0]", func(p *Protocol) { p.CrisisSigns[0].Key = "none" }},
		{"opening_checks", func(p *Protocol) { p.OpeningChecks = nil }},
		{"opening_checks[2]", func(p *Protocol) { p.OpeningChecks[2].Key = p.OpeningChecks[1].Key }},
		{"low_care.sugar_grams", func(p *Protocol) { p.LowCare.SugarGrams = 0 }},
		{"low_care.never", func(p *Protocol) { p.LowCare.Never = nil }},
		{"controls.levels", func(p *Protocol) { p.Controls.Levels = nil }},
		{"controls.levels", func(p *Protocol) { p.Controls.Levels = []string{"1", "1"} }},
		{"controls.each_vial", func(p *Protocol) { p.Controls.EachVial = "" }},
		{"controls.in_use_days", func(p *Protocol) { p.Controls.InUseDays = 0 }},
		{"controls.runs_without_cause", func(p *Protocol) { p.Controls.RunsWithoutCause = 0 }},
		{"ratio.most", func(p *Protocol) { p.Ratio.Most = 1 }},
		{"read_back", func(p *Protocol) { p.ReadBack = "whispered" }},
		{"overrides.consent", func(p *Protocol) { p.Overrides["consent"] = "" }},
		{"verification.roles", func(p *Protocol) { p.Verification.Roles = nil }},
		{"verification.valid_months", func(p *Protocol) { p.Verification.ValidMonths = 0 }},
		{"retention_years", func(p *Protocol) { p.Retention = 0 }},
	} {
		p := Default()
		tt.change(&p)
		err := p.Validate()
		f := fault.Of(err)
		if f == nil || f.Key != "protocol-invalid" || f.Fields[tt.place] == "" {
			t.Errorf("%s is let through: %v", tt.place, err)
		}
		if _, err := Parse(p.Encode()); err == nil {
			t.Errorf("%s is let through by Parse", tt.place)
		}
	}
	if err := Default().Validate(); err != nil {
		t.Error(err)
	}
	if err := (Protocol{}).Validate(); !fault.Is(err, "protocol-invalid") {
		t.Errorf("an empty protocol: %v", err)
	}
}

// everyText finds each text of the default with its place in the document.
func everyText(t *testing.T) map[string]Text {
	t.Helper()
	var doc any
	if err := json.Unmarshal(defaultJSON, &doc); err != nil {
		t.Fatal(err)
	}
	out := map[string]Text{}
	var visit func(place string, v any)
	visit = func(place string, v any) {
		switch v := v.(type) {
		case []any:
			for i, x := range v {
				visit(fmt.Sprintf("%s[%d]", place, i), x)
			}
		case map[string]any:
			if en, ok := v["en"].(string); ok {
				es, _ := v["es"].(string)
				out[place] = Text{"en": en, "es": es}
				return
			}
			for k, x := range v {
				visit(place+"."+k, x)
			}
		}
	}
	visit("", doc)
	if len(out) < 80 {
		t.Fatalf("only %d texts were found", len(out))
	}
	return out
}

// Participants read sentences of at most 15 words. Plain short sentences bring a text to the fourth or fifth grade (common practice).
func TestTextsAreReadable(t *testing.T) {
	ends := regexp.MustCompile(`[.?!:]+(\s|$)`)
	for place, text := range everyText(t) {
		for _, s := range ends.Split(text["en"], -1) {
			if n := len(strings.Fields(s)); n > 15 {
				t.Errorf("%s has %d words in %q", place, n, s)
			}
		}
		for _, s := range ends.Split(text["es"], -1) {
			if n := len(strings.Fields(s)); n > 20 {
				t.Errorf("%s has %d Spanish words in %q", place, n, s)
			}
		}
		if strings.TrimSpace(text["es"]) == "" || text["es"] == text["en"] {
			t.Errorf("%s has no Spanish: %q", place, text["es"])
		}
	}
}

func TestTextsNeverSayIt(t *testing.T) {
	never := regexp.MustCompile(`(?i)normal|diabetic|diabétic|\bfail|you have|usted tiene|usted padece`)
	for place, text := range everyText(t) {
		for lang, s := range text {
			if w := never.FindString(s); w != "" {
				t.Errorf("%s says %q in %s: %q", place, w, lang, s)
			}
		}
	}
}

func TestTextIn(t *testing.T) {
	x := Text{"en": "Now.", "es": "Ahora mismo."}
	for lang, want := range map[string]string{"en": "Now.", "es": "Ahora mismo.", "vi": "Now.", "": "Now."} {
		if got := x.In(lang); got != want {
			t.Errorf("In(%q) = %q, want %q", lang, got, want)
		}
	}
}

func FuzzParse(f *testing.F) {
	f.Add(defaultJSON)
	f.Add([]byte(`{"name": "x", "name": "y"}`))
	f.Add([]byte(`{"limits": {"fasting": {"mg/dL": {"raised_from": {"number": "1e9", "unit": "mg/dL"}}}}}`))
	f.Add([]byte(`[[[[`))
	f.Fuzz(func(t *testing.T, data []byte) {
		p, err := Parse(data)
		if err != nil {
			if fault.Of(err).Kind != fault.Invalid {
				t.Fatalf("refused without a reason for people: %v", err)
			}
			return
		}
		again, err := Parse(p.Encode())
		if err != nil || !bytes.Equal(again.Encode(), p.Encode()) {
			t.Fatalf("an accepted protocol does not come back: %v", err)
		}
	})
}
