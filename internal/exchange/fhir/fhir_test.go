package fhir

import (
	"bytes"
	"encoding/json"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"fairstick/internal/glucose"
	"fairstick/internal/programme"
	"fairstick/internal/visit"
)

// required are the elements with a cardinality of at least one in R4 (hl7.org/fhir/R4, the table of each resource). The schema
// does not ask for those of a primitive type.
var required = map[string][]string{
	"Observation": {"status", "code"}, "ServiceRequest": {"status", "intent", "subject"}, "Task": {"status", "intent"}, "Consent": {"status", "scope", "category"},
	"Provenance": {"target", "recorded", "agent"}, "Communication": {"status"}, "Organization": {"name"}, // org-1: a name or an identifier
}

// The market's day is FHIR R4 by the schema of HL7, as a bundle and line by line; every reference leads somewhere; and the
// rules hold that a schema cannot say.
func TestAnEventIsFHIR(t *testing.T) {
	p, s := market(t), schema(t)
	for _, names := range []bool{false, true} {
		x := marketDay(t, p, names)
		doc := asBundle(t, x)
		valid(t, s, doc)
		list := entries(t, doc)
		there := map[string]bool{}
		for _, r := range list {
			id := "urn:uuid:" + text(r["id"])
			if there[id] {
				t.Errorf("%v twice", id)
			}
			there[id] = true
		}
		for _, r := range list {
			kind := text(r["resourceType"])
			for _, e := range required[kind] {
				if r[e] == nil {
					t.Errorf("%s without %s", kind, e)
				}
			}
			walk(r, func(o thing) {
				if ref := text(o["reference"]); ref != "" && !there[ref] {
					t.Errorf("%s points at %s, which is not in the bundle", kind, ref)
				}
				for k, v := range o {
					if v == "" {
						t.Errorf("%s has an empty %s", kind, k)
					}
				}
			})
			if kind == "Consent" && (r["patient"] == nil || r["policyRule"] == nil) {
				t.Error("a consent without patient or policy rule breaks ppc-1, ppc-2 or ppc-5")
			}
			if kind == "Observation" && (r["valueQuantity"] == nil) == (r["dataAbsentReason"] == nil) {
				t.Errorf("an observation needs a value or the reason why there is none (obs-6): %v", r["id"])
			}
		}
		for _, l := range splitLines(asLines(t, x)) {
			valid(t, s, []byte(l))
		}
	}
}

// The schema bites: a wrong status, a number as text, and an unknown element are refused.
func TestTheSchemaBites(t *testing.T) {
	s := schema(t)
	good := `{"resourceType":"Observation","status":"final","code":{"text":"x"}}`
	valid(t, s, []byte(good))
	for _, bad := range []string{
		strings.Replace(good, "final", "done", 1), strings.Replace(good, `"code"`, `"kode"`, 1),
		strings.Replace(good, `"status"`, `"valueQuantity":{"value":"118"},"status"`, 1), `{"resourceType":"Consent"}`,
	} {
		var v any
		if err := json.Unmarshal([]byte(bad), &v); err != nil {
			t.Fatal(err)
		}
		if s.Validate(v) == nil {
			t.Errorf("accepted: %s", bad)
		}
	}
}

// What the bundle says is what the record says, visit by visit.
func TestTheBundleSaysWhatTheRecordSays(t *testing.T) {
	x := marketDay(t, market(t), true)
	n := counts(entries(t, asBundle(t, x)))
	runs := len(x.Event.Runs)
	want := map[string]int{"Location": 1, "Observation": runs, "Provenance": runs}
	for i := range x.Going {
		v := &x.Going[i]
		want["Observation"] += len(v.Readings)
		want["Provenance"] += len(v.Readings)
		want["Specimen"] += v.Sticks()
		if v.Contact != nil {
			want["Patient"]++
		}
		if v.Referral != nil {
			want["ServiceRequest"]++
			if programme.MayCall(v.State) {
				want["Task"]++
			}
		}
		if v.Consent != nil || v.Declined != nil {
			want["Consent"]++
		}
		if v.State.Contact != nil {
			want["Consent"]++
		}
	}
	if runs == 0 || want["Patient"] == 0 || want["ServiceRequest"] == 0 || want["Task"] == 0 || want["Observation"] < 20 {
		t.Fatalf("the market shows too little: %v", want)
	}
	for kind, w := range want {
		if n[kind] != w {
			t.Errorf("%d of %s, the record has %d", n[kind], kind, w)
		}
	}
}

// Without being asked for names no name, number or title of anybody is in the file; with it, only those with permission.
func TestNamesOnlyWithPermission(t *testing.T) {
	p := market(t)
	x, named := marketDay(t, p, false), marketDay(t, p, true)
	plain, with := string(asBundle(t, x)), string(asBundle(t, named))
	people := 0
	for i := range named.Going {
		c := named.Going[i].Contact
		if c == nil {
			continue
		}
		people++
		for _, secret := range []string{c.Name, c.Phone} {
			if strings.Contains(plain, secret) {
				t.Errorf("%q stands in a file without names", secret)
			}
			if !strings.Contains(with, secret) {
				t.Errorf("%q is missing in the file with names", secret)
			}
		}
	}
	if people == 0 {
		t.Fatal("nobody allowed contact")
	}
	for _, w := range x.People {
		if strings.Contains(plain, w.Details.Name) {
			t.Errorf("%s of the staff stands in a file without names", w.Details.Name)
		}
	}
	if n := counts(entries(t, []byte(plain))); n["Patient"] != 0 {
		t.Errorf("%d patients without names", n["Patient"])
	}
	if !strings.Contains(plain, `"type":"Patient","identifier":{"system":"urn:ietf:rfc:3986","value":"urn:uuid:`) {
		t.Error("the subject is not the id of the visit")
	}
}

func TestTheSameRecordGivesTheSameBytes(t *testing.T) {
	p := market(t)
	if a, b := asBundle(t, marketDay(t, p, true)), asBundle(t, marketDay(t, p, true)); !bytes.Equal(a, b) {
		t.Error(cmp.Diff(string(a), string(b)))
	}
}

// isControl tells an Observation of a meter from one of a person.
func isControl(r thing) bool {
	subject, _ := r["subject"].(thing)
	return text(subject["type"]) == "Device"
}

// A control run is an observation of its meter: no person, no code of blood, the printed range, the verdict in words, the cause with
// what was done, and the solution and strips that it came from.
func TestControlRunsAreOfTheMeter(t *testing.T) {
	x := marketDay(t, market(t), false)
	devices, seen := map[string]string{}, map[string]int{}
	list := entries(t, asBundle(t, x))
	for _, r := range list {
		if r["resourceType"] == "Device" {
			devices["urn:uuid:"+text(r["id"])] = text(r["type"].(thing)["text"])
		}
	}
	caused := 0
	for _, r := range list {
		if r["resourceType"] != "Observation" || !isControl(r) {
			continue
		}
		subject, device := r["subject"].(thing), r["device"].(thing)
		if devices[text(subject["reference"])] != "Blood glucose meter" || text(subject["reference"]) != text(device["reference"]) {
			t.Errorf("the subject is %v", subject)
		}
		code := r["code"].(thing)
		if code["coding"] != nil || !strings.HasPrefix(text(code["text"]), "Glucose in control solution level ") {
			t.Errorf("the code is %v", code)
		}
		seen[text(r["interpretation"].([]any)[0].(thing)["text"])]++
		if _, ok := r["referenceRange"].([]any); !ok {
			t.Errorf("no printed range: %v", r)
		}
		if notes, ok := r["note"].([]any); ok {
			caused++
			if len(notes) != 2 || !strings.HasPrefix(text(notes[0].(thing)["text"]), "Cause: ") || !strings.HasPrefix(text(notes[1].(thing)["text"]), "Action: ") {
				t.Errorf("notes %v", notes)
			}
		}
	}
	out, found := 0, 0
	for _, r := range x.Event.Runs {
		if r.Verdict == "out-of-range" {
			out++
		}
		if r.Cause != "" {
			found++
		}
	}
	if out == 0 || seen["out of the printed range"] != out || seen["in the printed range"] != len(x.Event.Runs)-out || caused != found {
		t.Errorf("%v, %d with a cause; the record has %d runs, %d out, %d with a cause", seen, caused, len(x.Event.Runs), out, found)
	}
	sources := map[string]int{}
	for _, r := range list {
		if r["resourceType"] == "Provenance" {
			for _, e := range r["entity"].([]any) {
				sources[devices[text(e.(thing)["what"].(thing)["reference"])]]++
			}
		}
	}
	if sources["Glucose control solution"] != len(x.Event.Runs) {
		t.Errorf("the sources are %v", sources)
	}
}

// domain is the table of codes that the programme agreed on, each with where it was seen.
var domain = map[string]string{
	loinc + " 41653-7": "Glucose [Mass/volume] in Capillary blood by Glucometer", loinc + " 14743-9": "Glucose [Moles/volume] in Capillary blood by Glucometer",
	loinc + " 41604-0": "Fasting glucose [Mass/volume] in Capillary blood by Glucometer", loinc + " 14770-2": "Fasting glucose [Moles/volume] in Capillary blood by Glucometer", // LOINC table, public copies
	loinc + " 49541-6":    "Fasting status - Reported",                                                                                            // LOINC table, public copies
	loinc + " 59284-0":    "",                                                                                                                     // from memory
	snomed + " 122554006": "Capillary blood specimen", snomed + " 7569003": "Finger structure", snomed + " 33747003": "Blood glucose measurement", // several public files
	interpretation + " L": "Low", interpretation + " LL": "Critical low", interpretation + " N": "", interpretation + " H": "High", interpretation + " HH": "Critical high",
	interpretation + " <": "Off scale low", interpretation + " >": "Off scale high", // HL7 v3 ObservationInterpretation
	ucum + " mg/dL": "", ucum + " mmol/L": "", // UCUM
}

// Every clinical code is one of the agreed table, the unit picks the LOINC code, and the basis the fasting one.
func TestCodes(t *testing.T) {
	pairs := map[string][2]string{"41653-7": {"mg/dL", "N"}, "41604-0": {"mg/dL", "Y"}, "14743-9": {"mmol/L", "N"}, "14770-2": {"mmol/L", "Y"}}
	seen := map[string]bool{}
	check := func(x *programme.Leaving) {
		for _, r := range entries(t, asBundle(t, x)) {
			walk(r, func(o thing) {
				system, code := text(o["system"]), text(o["code"])
				switch system {
				case loinc, snomed, interpretation, ucum:
					display, ok := domain[system+" "+code]
					if !ok || display != "" && display != text(o["display"]) {
						t.Errorf("%s %s (%s) is not in the table", system, code, text(o["display"]))
					}
				}
			})
			if r["resourceType"] != "Observation" || isControl(r) {
				continue
			}
			code := text(r["code"].(thing)["coding"].([]any)[0].(thing)["code"])
			seen[code] = true
			if q, ok := r["valueQuantity"].(thing); ok && (text(q["code"]) != pairs[code][0] || text(q["unit"]) != pairs[code][0]) {
				t.Errorf("%s with %v", code, q)
			}
			answer := r["component"].([]any)[0].(thing)
			if v, ok := answer["valueCodeableConcept"].(thing); ok {
				if got := text(v["coding"].([]any)[0].(thing)["code"]); got != pairs[code][1] {
					t.Errorf("%s with the fasting status %s", code, got)
				}
			}
		}
	}
	check(marketDay(t, market(t), false))
	check(strange(t))
	for code := range pairs {
		if !seen[code] {
			t.Errorf("%s was never written", code)
		}
	}
}

// strange is the market's day with a few visits of what the market does not have.
func strange(t testing.TB) *programme.Leaving {
	t.Helper()
	x := *marketDay(t, market(t), false)
	at := x.Going[0].Times.FirstRead
	mmol := func(tenths int) glucose.Reading { return glucose.Number(glucose.Mmol(tenths)) }
	make := func(id string, ate time.Duration, readings ...glucose.Reading) programme.LeavingVisit {
		s := *x.Going[0].State
		s.ID, s.Readings, s.Found, s.Referral, s.Ate = id, nil, nil, nil, nil
		if ate > 0 {
			s.Ate = &visit.Ate{Known: true, Last: at.Add(-ate)}
		} else if ate < 0 {
			s.Ate = &visit.Ate{}
		}
		for i, r := range readings {
			s.Readings = append(s.Readings, visit.Reading{ID: id + "-" + string(rune('a'+i)), At: at, By: x.Going[0].Readings[0].By, ReadingTaken: visit.ReadingTaken{
				Purpose: visit.First, Reading: r, Meter: x.Going[0].Readings[0].Meter, StripLot: x.Going[0].Readings[0].StripLot, NewStick: i == 0,
			}})
		}
		return programme.LeavingVisit{State: &s}
	}
	off := make("v-off", -1, glucose.ErrorCode("E-3", glucose.MgPerDL), glucose.HI(glucose.MgPerDL), glucose.LO(glucose.MgPerDL))
	fixed := make("v-fixed", 2*time.Hour, mmol(56))
	fixed.Changed = map[string]bool{"v-fixed-a": true}
	fixed.Withdrawn = make("v-gone", 2*time.Hour, mmol(62)).Readings
	x.Going = []programme.LeavingVisit{make("v-mmol", 3*time.Hour, mmol(78)), make("v-fast", 9*time.Hour, mmol(56)), off, fixed, make("v-unasked", 0, mmol(50))}
	return &x
}

// LO and HI have no number and are told from each other, an error code is kept, a corrected reading says so, and one that
// never happened is marked and not deleted.
func TestWhatIsNotAPlainNumber(t *testing.T) {
	x, s := strange(t), schema(t)
	doc := asBundle(t, x)
	valid(t, s, doc)
	type row struct{ Status, Value, Absent, Mark, Fasting string }
	got := map[string]row{}
	for _, r := range entries(t, doc) {
		if r["resourceType"] != "Observation" || isControl(r) {
			continue
		}
		var o Observation
		raw, err := json.Marshal(r)
		if err == nil {
			err = json.Unmarshal(raw, &o)
		}
		if err != nil {
			t.Fatal(err)
		}
		w := row{Status: o.Status}
		if o.ValueQuantity != nil {
			w.Value = o.ValueQuantity.Value.String()
		}
		if o.DataAbsentReason != nil {
			w.Absent = o.DataAbsentReason.Coding[0].Code
		}
		for _, i := range o.Interpretation {
			w.Mark += i.Coding[0].Code
		}
		if a := o.Component[0].DataAbsentReason; a != nil {
			w.Fasting = a.Coding[0].Code
		}
		got[strings.TrimPrefix(o.Identifier[0].Value, "urn:uuid:")] = w
	}
	want := map[string]row{
		"v-mmol-a": {"preliminary", "7.8", "", "", ""}, "v-fast-a": {"preliminary", "5.6", "", "", ""},
		"v-off-a": {"cancelled", "", "error", "", "asked-unknown"}, "v-off-b": {"preliminary", "", "positive-infinity", ">", "asked-unknown"},
		"v-off-c": {"preliminary", "", "negative-infinity", "<", "asked-unknown"}, "v-fixed-a": {"corrected", "5.6", "", "", ""},
		"v-gone-a": {"entered-in-error", "6.2", "", "", ""}, "v-unasked-a": {"preliminary", "5.0", "", "", "not-asked"},
	}
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
}
