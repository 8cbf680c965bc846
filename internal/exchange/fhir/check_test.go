package fhir

import (
	"bytes"
	"errors"
	"slices"
	"strings"
	"testing"

	"fairstick/internal/fault"
	"fairstick/internal/programme"
)

func against(t testing.TB, x *programme.Leaving, file []byte) Checked {
	t.Helper()
	a := NewAgainst()
	if err := a.Add(x); err != nil {
		t.Fatal(err)
	}
	got, err := a.Read(bytes.NewReader(file))
	if err != nil {
		t.Fatal(err)
	}
	return got
}

// What was written comes back as the record has it, with names and without, as a bundle and as lines.
func TestRoundTrip(t *testing.T) {
	p := market(t)
	for _, x := range []*programme.Leaving{marketDay(t, p, false), marketDay(t, p, true), strange(t)} {
		n := 0
		for i := range x.Going {
			n += len(x.Going[i].Readings) + len(x.Going[i].Withdrawn)
		}
		for name, file := range map[string][]byte{"bundle": asBundle(t, x), "lines": asLines(t, x)} {
			if got := against(t, x, file); got.Same != n || len(got.Differences) != 0 {
				t.Errorf("%s: %d of %d readings the same, differences %v", name, got.Same, n, got.Differences)
			}
		}
	}
}

// readingsAlone leaves the control runs out of a file.
func readingsAlone(file []byte) string {
	lines := slices.DeleteFunc(splitLines(file), func(l string) bool {
		return strings.HasPrefix(l, `{"resourceType":"Observation"`) && strings.Contains(l, `"type":"Device"`)
	})
	return strings.Join(lines, "\n") + "\n"
}

// Whatever was changed on the way is named with what the file and the record say.
func TestWhatDiffersIsNamed(t *testing.T) {
	x := marketDay(t, market(t), false)
	file := readingsAlone(asLines(t, x))
	for _, c := range []struct{ old, now, what, inFile, inRecord string }{
		{`"value":95,"unit":"mg/dL","system":"http://unitsofmeasure.org","code":"mg/dL"`, `"value":59,"unit":"mg/dL","system":"http://unitsofmeasure.org","code":"mg/dL"`, "value", "59 mg/dL", "95 mg/dL"},
		{`"effectiveDateTime":"2026-10-10T09:12:00`, `"effectiveDateTime":"2026-10-10T10:12:00`, "time", "2026-10-10T14:12:00Z", "2026-10-10T13:12:00Z"},
		{`"status":"final","category"`, `"status":"preliminary","category"`, "status", "preliminary", "final"},
		{`"code":"41604-0"`, `"code":"41653-7"`, "code", "41653-7", "41604-0"},
	} {
		if !strings.Contains(file, c.old) {
			t.Fatalf("the market has no %s", c.old)
		}
		got := against(t, x, []byte(strings.Replace(file, c.old, c.now, 1)))
		if len(got.Differences) != 1 || got.Differences[0].What != c.what || got.Differences[0].File != c.inFile || got.Differences[0].Record != c.inRecord || got.Differences[0].Ticket == 0 {
			t.Errorf("%s: %+v", c.what, got.Differences)
		}
	}
	var fewer []string
	dropped := false
	for _, l := range splitLines([]byte(file)) {
		if !dropped && strings.HasPrefix(l, `{"resourceType":"Observation"`) {
			dropped = true
			continue
		}
		fewer = append(fewer, l)
	}
	if got := against(t, x, []byte(strings.Join(fewer, "\n"))); len(got.Differences) != 1 || got.Differences[0].What != "not in the file" {
		t.Errorf("dropped: %+v", got.Differences)
	}
	stranger := `{"resourceType":"Observation","identifier":[{"system":"urn:ietf:rfc:3986","value":"urn:uuid:00000000-0000-4000-8000-000000000001"}],"status":"final","code":{"text":"x"}}`
	if got := against(t, x, []byte(file+stranger)); len(got.Differences) != 1 || got.Differences[0].What != "not in the record" {
		t.Errorf("a stranger: %+v", got.Differences)
	}
}

// FuzzRead gives any bytes to the reader: it says what is wrong, or compares; it never panics and never agrees by itself.
func FuzzRead(f *testing.F) {
	f.Add([]byte(`{"resourceType":"Bundle","entry":[{"resource":{"resourceType":"Observation","status":"final"}}]}`))
	f.Add([]byte(`{"resourceType":"Observation","valueQuantity":{"value":1e400}}`))
	f.Add([]byte(`{"resourceType":"Bundle","entry":{}}`))
	f.Add([]byte("[]"))
	f.Add([]byte("\n\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		got, err := NewAgainst().Read(bytes.NewReader(data))
		var bad *fault.Fault
		if err != nil && !errors.As(err, &bad) {
			t.Errorf("an error that is no sentence: %v", err)
		}
		if got.Same != 0 {
			t.Error("an empty record agrees with something")
		}
	})
}
