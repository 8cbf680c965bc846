package web

import (
	"net/url"
	"regexp"
	"strings"
	"testing"

	"fairstick/internal/charter"
	"fairstick/internal/glucose"
	"fairstick/internal/protocol"
)

// formOf reads the fields of the first form of a page that goes to a path, as a browser would send them.
func formOf(t *testing.T, a answer, path string) url.Values {
	t.Helper()
	_, rest, ok := strings.Cut(a.body, `action="`+path+`"`)
	if !ok {
		t.Fatalf("there is no form to %s", path)
	}
	body, _, _ := strings.Cut(rest, "</form>")
	v := url.Values{}
	unescape := strings.NewReplacer("&#34;", `"`, "&#39;", "'", "&amp;", "&", "&lt;", "<", "&gt;", ">")
	attr := func(tag, name string) string {
		m := regexp.MustCompile(`\s` + name + `="([^"]*)"`).FindStringSubmatch(tag)
		if m == nil {
			return ""
		}
		return unescape.Replace(m[1])
	}
	for _, m := range regexp.MustCompile(`<input[^>]*>`).FindAllString(body, -1) {
		kind := attr(m, "type")
		if (kind == "radio" || kind == "checkbox") && !regexp.MustCompile(`\schecked[\s>]`).MatchString(m) {
			continue
		}
		v.Add(attr(m, "name"), attr(m, "value"))
	}
	for _, m := range regexp.MustCompile(`(?s)(<textarea[^>]*>)(.*?)</textarea>`).FindAllStringSubmatch(body, -1) {
		v.Add(attr(m[1], "name"), strings.ReplaceAll(unescape.Replace(m[2]), "\n", "\r\n"))
	}
	return v
}

func fieldsOf(v url.Values) []string {
	var out []string
	for name, values := range v {
		for _, x := range values {
			out = append(out, name+"="+x)
		}
	}
	return out
}

func (o *office) charter() *charter.State {
	o.t.Helper()
	ch, err := o.P.Charter(o.t.Context())
	if err != nil {
		o.t.Fatal(err)
	}
	return ch
}

// Saving the form as it is shown changes nothing but the version.
func TestTheProtocolFormLosesNothing(t *testing.T) {
	o := setUp(t)
	const edit = "/setup/protocol/edit"
	form := formOf(t, o.get("Lea Lead", edit), edit)
	form.Set("version", "2026.2")
	o.goes(o.post("Lea Lead", edit, fieldsOf(form)...), "/setup/protocol")
	want := protocol.Default()
	want.Version = "2026.2"
	if got := o.charter().Draft; string(got.Encode()) != string(want.Encode()) {
		t.Errorf("the draft differs: %v", changesBetween(want, *got))
	}
	o.want(o.get("Lea Lead", "/setup/protocol"), 200, "What changes", "Against version 2026.1, in force", "2026.2", "Sign version 2026.2")
}

func TestAChangedProtocolIsDraftedAndSigned(t *testing.T) {
	o := setUp(t)
	const edit = "/setup/protocol/edit"
	form := formOf(t, o.get("Lea Lead", edit), edit)
	for name, value := range map[string]string{
		"version": "2026.2", "fasting_hours": "10", "limits.random.mg/dL.critical_from": "280", "limits.random.mmol/L.critical_from": "15.5",
		"ratio.most": "3", "follow_up.raised": "7, 21", "messages.raised.when.en": "See someone within 3 weeks.", "consent.text.en": "We prick one finger.",
	} {
		form.Set(name, value)
	}
	a := o.post("Lea Lead", edit, fieldsOf(form)...)
	o.want(a, 422, "You changed: not fasting, critical from 280 mg/dL; not fasting, critical from 15.5 mmol/L; the supervision. Say where the new number comes from.",
		"The consent text changed. Give it a new version", `value="280"`, "We prick one finger.</textarea>")
	form.Set("source", "Invented county order of 2026")
	form.Set("consent.version", "2026.2")
	o.goes(o.post("Lea Lead", edit, fieldsOf(form)...), "/setup/protocol")
	o.want(o.get("Lea Lead", "/setup/protocol"), 200, "limits / random / mg/dL / critical from", "300 mg/dL", "280 mg/dL", "Draft, not signed", "Invented county order of 2026", "from 280 mg/dL")
	o.want(o.post("Lea Lead", "/setup/protocol/sign", "version=2026.2", "first_person="+o.ID("Lea Lead"), "first_pin=4821", "second_person="+o.ID("Lea Lead"), "second_pin=4821"), 422, "must be another person")
	o.want(o.post("Lea Lead", "/setup/protocol/sign", "version=2026.9", "first_person="+o.ID("Lea Lead"), "first_pin=4821", "second_person="+o.ID("Rae Runner"), "second_pin=9518"), 409, "The draft changed while it was being read.")
	o.goes(o.post("Lea Lead", "/setup/protocol/sign", "version=2026.2", "first_person="+o.ID("Lea Lead"), "first_pin=4821", "second_person="+o.ID("Rae Runner"), "second_pin=9518"), "/setup/protocol")
	force, _ := o.charter().InForce()
	p := force.Protocol
	l := p.Limits[protocol.Random][glucose.MgPerDL]
	if p.Version != "2026.2" || p.FastingHours != 10 || p.Ratio.Most != 3 || p.Ratio.Source != "Invented county order of 2026" || l.CriticalFrom != glucose.MgDL(280) ||
		l.Source.CriticalFrom != "Invented county order of 2026" || p.Messages[protocol.Raised].When["en"] != "See someone within 3 weeks." || p.Consent.Text["en"] != "We prick one finger." {
		t.Errorf("the signed protocol is %s", p.Encode())
	}
	if kept := protocol.Default().Limits[protocol.Random][glucose.MgPerDL].Source.HighFrom; l.Source.HighFrom != kept {
		t.Errorf("the source of a limit that did not change is %q, want %q", l.Source.HighFrom, kept)
	}
	o.want(o.get("Lea Lead", "/setup/protocol"), 200, "In force", "Lea Lead; Rae Runner", "!Sign version")
	o.want(o.get("Lea Lead", "/setup/protocol?version=2026.1"), 200, "Replaced", "from 300 mg/dL", "Read version 2026.2, in force", "!Change it")
	form.Set("command", newCommand())
	o.want(o.post("Lea Lead", edit, fieldsOf(form)...), 422, "Version 2026.2 is signed already and cannot change.")
}

func TestAProtocolThatCannotBeIsRefusedAtItsField(t *testing.T) {
	o := setUp(t)
	const edit = "/setup/protocol/edit"
	for name, c := range map[string]struct{ field, value, says, at string }{
		"units disagree": {"limits.fasting.mg/dL.raised_from", "110", "110 mg/dL and 5.6 mmol/L are not the same limit.", ""},
		"no number":      {"limits.fasting.mg/dL.raised_from", "1oo", `is not a number that a meter shows`, `id="f-limits.fasting.mg/dL.raised_from-error"`},
		"wrong order":    {"limits.fasting.mg/dL.low_below", "40", "must be above", ""},
		"unsaid word":    {"messages.usual.word.en", "Normal", `is not said to participants`, `id="f-messages.usual.word"`},
		"advice lines":   {"messages.usual.advice.es", "una sola", "There are 3 lines in English and 1 in Spanish.", `id="f-messages.usual.advice.en-error"`},
		"ratio":          {"ratio.most", "1", "1 is not from 2 to 20.", ""},
		"days":           {"follow_up.high", "3, soon", "Type days from 0 to 366", `id="f-follow_up.high-error"`},
		"no version":     {"version", "", "Give the new version a name.", `id="f-version-error"`},
	} {
		t.Run(name, func(t *testing.T) {
			o := &office{Stage: o.Stage, t: t, server: o.server, tokens: o.tokens}
			form := formOf(t, o.get("Lea Lead", edit), edit)
			form.Set("version", "2026.2")
			form.Set("source", "invented")
			form.Set(c.field, c.value)
			o.want(o.post("Lea Lead", edit, fieldsOf(form)...), 422, c.says, c.at)
			if o.charter().Draft != nil {
				t.Error("a draft was recorded")
			}
		})
	}
}

func TestAProtocolTravelsAsADocument(t *testing.T) {
	o := setUp(t)
	a := o.get("Lea Lead", "/setup/protocol/document")
	if want := protocol.Default().Encode(); a.body != string(want) {
		t.Error("the document is not the protocol in force")
	}
	if h := a.header.Get("Content-Disposition"); h != `attachment; filename="protocol.json"` {
		t.Errorf("disposition %q", h)
	}
	o.want(o.send("Lea Lead", "/setup/protocol/upload", "document", a.body), 422, "Version 2026.1 is signed already and cannot change.")
	o.want(o.send("Lea Lead", "/setup/protocol/upload", "document", strings.Replace(a.body, `"min_age": 18`, `"min_age": 18, "min_agee": 1`, 1)), 422, "is not a name that a protocol knows", `id="f-document-error"`)
	o.want(o.post("Lea Lead", "/setup/protocol/upload"), 422, "Choose a file first.")
	o.goes(o.send("Lea Lead", "/setup/protocol/upload", "document", strings.Replace(strings.Replace(a.body, `"version": "2026.1"`, `"version": "2026.3"`, 1), `"min_age": 18`, `"min_age": 21`, 1)), "/setup/protocol")
	if d := o.charter().Draft; d == nil || d.Version != "2026.3" || d.MinAge != 21 {
		t.Errorf("the draft is %v", d)
	}
}
