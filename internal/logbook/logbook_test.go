package logbook

import (
	"bytes"
	"encoding/json"
	"fmt"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"github.com/google/go-cmp/cmp"

	"fairstick/internal/fact"
)

type poured struct {
	Cups int    `json:"cups"`
	Note string `json:"note,omitempty"`
}

func (poured) FactKind() string { return "jug.poured" }

func catalogue() *fact.Catalogue {
	c := fact.NewCatalogue()
	c.Subject("jug", func(string) fact.State { return nil }, poured{})
	return c
}

func sample() Entry {
	return Entry{
		ID: "id-1", Node: "n", Seq: 7, At: time.Date(2031, 5, 4, 9, 0, 0, 120e6, time.UTC), Recorded: "2031-05-04T09:00:01.000Z+000a",
		By: "p1", Subject: fact.Ref{Kind: "jug", ID: "j"}, Kind: "jug.poured", Corrects: "id-0", Reason: "spilt <some>",
		Body: json.RawMessage(`{"cups":2,"note":"a<b & ü"}`),
	}
}

const sampleBytes = `{"v":1,"id":"id-1","node":"n","seq":7,"at":"2031-05-04T09:00:00.120Z","recorded":"2031-05-04T09:00:01.000Z+000a",` +
	`"by":"p1","subject":{"kind":"jug","id":"j"},"kind":"jug.poured","corrects":"id-0","reason":"spilt <some>",` +
	`"body":{"cups":2,"note":"a<b & ü"}}`

// The bytes are the format: records that exist are hashed over them, so this literal may never change.
func TestEncodeWritesTheseBytes(t *testing.T) {
	e := sample()
	e.Body = json.RawMessage("{ \"cups\" : 2,\n\"note\":\"a<b & ü\" }")
	e.At = e.At.In(time.FixedZone("", -5*3600)).Add(999 * time.Microsecond)
	data, err := Encode(e)
	if err != nil || string(data) != sampleBytes {
		t.Fatalf("%s %v", data, err)
	}
	back, err := Decode(data)
	if diff := cmp.Diff(sample(), back); err != nil || diff != "" {
		t.Fatal(err, diff)
	}
	// SHA-256 over 32 zero bytes and the bytes above, computed with Python's hashlib.
	const want = "e03adb6f8e2a318c17e51b123a072c3eb998100bc78c43474b4f1b8e6232c39c"
	if got := fmt.Sprintf("%x", Hash([32]byte{}, data)); got != want {
		t.Errorf("hash %s", got)
	}
}

func TestEncodeRefuses(t *testing.T) {
	for name, change := range map[string]func(*Entry){
		"id is missing":           func(e *Entry) { e.ID = "" },
		"node is missing":         func(e *Entry) { e.Node = "" },
		"kind is missing":         func(e *Entry) { e.Kind = "" },
		"subject id is missing":   func(e *Entry) { e.Subject.ID = "" },
		"subject kind is missing": func(e *Entry) { e.Subject.Kind = "" },
		"seq begins at 1":         func(e *Entry) { e.Seq = 0 },
		"by is too long":          func(e *Entry) { e.By = strings.Repeat("x", 129) },
		"id is too long or holds": func(e *Entry) { e.ID = "a\nb" },
		"kind is too long or":     func(e *Entry) { e.Kind = "\xff" },
		"a correction says why":   func(e *Entry) { e.Reason = "" },
		"a reason belongs":        func(e *Entry) { e.Corrects = "" },
		"cannot correct itself":   func(e *Entry) { e.Corrects = e.ID },
		"the reason is too long":  func(e *Entry) { e.Reason = strings.Repeat("x", 4097) },
		"at is not a time":        func(e *Entry) { e.At = time.Date(10000, 1, 1, 0, 0, 0, 0, time.UTC) },
		"a body is a JSON object": func(e *Entry) { e.Body = json.RawMessage(`[1]`) },
		"body of jug.poured":      func(e *Entry) { e.Body = json.RawMessage(`{"cups":`) },
		"record's clock":          func(e *Entry) { e.Recorded = "yesterday" },
		"is larger than 262144":   func(e *Entry) { e.Body = json.RawMessage(`{"note":"` + strings.Repeat("x", MaxBytes) + `"}`) },
	} {
		e := sample()
		change(&e)
		if data, err := Encode(e); err == nil || !strings.Contains(err.Error(), name) {
			t.Errorf("%s: %v %s", name, err, data)
		}
	}
}

func TestDecodeTakesOneFormOnly(t *testing.T) {
	for name, data := range map[string]string{
		"nothing":          "",
		"space before":     " " + sampleBytes,
		"space after":      sampleBytes + "\n",
		"space inside":     strings.Replace(sampleBytes, `"seq":7`, `"seq": 7`, 1),
		"second value":     sampleBytes + "{}",
		"unknown field":    strings.Replace(sampleBytes, `"seq":7`, `"seq":7,"mood":1`, 1),
		"field twice":      strings.Replace(sampleBytes, `"seq":7`, `"seq":7,"seq":7`, 1),
		"another case":     strings.Replace(sampleBytes, `"seq":7`, `"Seq":7`, 1),
		"another order":    strings.Replace(sampleBytes, `"id":"id-1","node":"n"`, `"node":"n","id":"id-1"`, 1),
		"empty optional":   strings.Replace(sampleBytes, `"p1"`, `""`, 1),
		"escaped letter":   strings.Replace(sampleBytes, `"id-1"`, `"\u0069d-1"`, 1),
		"number as text":   strings.Replace(sampleBytes, `"seq":7`, `"seq":"7"`, 1),
		"seq as a float":   strings.Replace(sampleBytes, `"seq":7`, `"seq":7.0`, 1),
		"another zone":     strings.Replace(sampleBytes, `09:00:00.120Z`, `10:00:00.120+01:00`, 1),
		"two decimals":     strings.Replace(sampleBytes, `00.120Z`, `00.12Z`, 1),
		"another version":  strings.Replace(sampleBytes, `"v":1`, `"v":2`, 1),
		"no body":          strings.Replace(sampleBytes, `,"body":{"cups":2,"note":"a<b & ü"}`, ``, 1),
		"null body":        strings.Replace(sampleBytes, `{"cups":2,"note":"a<b & ü"}`, `null`, 1),
		"clock upper case": strings.Replace(sampleBytes, `+000a`, `+000A`, 1),
		"too large":        strings.Repeat(" ", MaxBytes+1),
	} {
		if data == sampleBytes {
			t.Fatalf("%s changes nothing", name)
		}
		if e, err := Decode([]byte(data)); err == nil {
			t.Errorf("%s: read as %+v", name, e)
		}
	}
}

func FuzzDecode(f *testing.F) {
	f.Add([]byte(sampleBytes))
	f.Add([]byte(strings.Replace(sampleBytes, `"corrects":"id-0","reason":"spilt <some>",`, ``, 1)))
	f.Add([]byte(`{"v":1}`))
	f.Add([]byte(``))
	f.Fuzz(func(t *testing.T, data []byte) {
		e, err := Decode(data)
		if err != nil {
			return
		}
		again, err := Encode(e)
		if err != nil || !bytes.Equal(again, data) {
			t.Fatalf("%s was read and is written %s %v", data, again, err)
		}
		if !utf8.Valid(data) || e.Seq == 0 || e.ID == "" || e.Node == "" || len(e.Body) < 2 {
			t.Fatalf("%+v", e)
		}
	})
}

func TestRecordAndBack(t *testing.T) {
	r := fact.Record{Subject: fact.Ref{Kind: "jug", ID: "j"}, Body: poured{Cups: 3, Note: "<warm>"}}
	r.ID, r.Node, r.Seq, r.At, r.Recorded, r.By = "i", "n", 1, time.Date(2031, 5, 4, 9, 0, 0, 1e6, time.UTC), "2031-05-04T09:00:01.000Z+0000", "p"
	e, err := NewEntry(r)
	if err != nil || string(e.Body) != `{"cups":3,"note":"<warm>"}` {
		t.Fatal(string(e.Body), err)
	}
	back, err := e.Record(catalogue())
	if diff := cmp.Diff(r, back); err != nil || diff != "" {
		t.Error(err, diff)
	}
	if _, err := NewEntry(fact.Record{}); err == nil {
		t.Error("a fact without a body")
	}
	for _, unread := range []Entry{{Kind: "jug.sung", Body: json.RawMessage(`{"x":1}`)}, {Kind: "jug.poured", Body: json.RawMessage(`{"cups":"many"}`)}} {
		r, err := unread.Record(catalogue())
		if err == nil || !cmp.Equal(r.Body, fact.Body(Unread{unread.Kind, unread.Body})) || r.Body.FactKind() != unread.Kind {
			t.Errorf("%+v %v", r, err)
		}
	}
}
