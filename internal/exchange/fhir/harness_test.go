package fhir

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"sort"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"fairstick/internal/demo"
	"fairstick/internal/event"
	"fairstick/internal/programme"
	"fairstick/internal/store"
)

var opened struct {
	sync.Once
	dir   string
	store *store.Store
	p     *programme.Programme
	err   error
}

func TestMain(m *testing.M) {
	code := m.Run()
	if opened.store != nil {
		if err := errors.Join(opened.store.Close(), os.RemoveAll(opened.dir)); err != nil {
			fmt.Fprintln(os.Stderr, err)
			code = 1
		}
	}
	os.Exit(code)
}

// market is the record of the invented programme as its day stands in mid-morning. It is made once: these tests only read.
func market(t testing.TB) *programme.Programme {
	t.Helper()
	opened.Do(func() {
		clock := demo.NewClock(demo.Begins())
		if opened.dir, opened.err = os.MkdirTemp("", "market"); opened.err != nil {
			return
		}
		opened.store, opened.err = store.Create(context.Background(), store.Options{Dir: filepath.Join(opened.dir, "data"), Catalogue: programme.Catalogue(), Now: clock.Now, Log: slog.New(slog.DiscardHandler)})
		if opened.err != nil {
			return
		}
		opened.p = programme.New(opened.store, clock.Now, slog.New(slog.DiscardHandler))
		_, opened.err = demo.Make(context.Background(), opened.p, clock)
	})
	if opened.err != nil {
		t.Fatal(opened.err)
	}
	return opened.p
}

// marketDay is the day of the market as it leaves the record.
func marketDay(t testing.TB, p *programme.Programme, names bool) *programme.Leaving {
	t.Helper()
	var out *programme.Leaving
	err := p.HandOut(t.Context(), programme.Actor{}, programme.HandOut{Names: names}, func(walk programme.Walk) error {
		return walk(func(x *programme.Leaving) error {
			if x.Event.Phase != event.IsPlanned {
				out = x
			}
			return nil
		})
	})
	if err != nil {
		t.Fatal(err)
	}
	if out == nil {
		t.Fatal("no event has been opened")
	}
	return out
}

var written = time.Date(2026, 10, 10, 18, 0, 0, 0, time.UTC)

func asBundle(t testing.TB, x *programme.Leaving) []byte {
	t.Helper()
	var buf bytes.Buffer
	w := NewBundle(&buf, written, x.Event.ID)
	finish(t, w, x)
	return buf.Bytes()
}

func asLines(t testing.TB, x *programme.Leaving) []byte {
	t.Helper()
	var buf bytes.Buffer
	finish(t, NewStream(&buf), x)
	return buf.Bytes()
}

func finish(t testing.TB, w Writer, x *programme.Leaving) {
	t.Helper()
	if err := w.Event(x); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
}

// schema is the JSON schema of FHIR R4, see testdata/README.md.
func schema(t testing.TB) *jsonschema.Schema {
	t.Helper()
	s, err := jsonschema.NewCompiler().Compile("testdata/r4-subset.schema.json")
	if err != nil {
		t.Fatal(err)
	}
	return s
}

type thing = map[string]any

// entries reads the resources of a bundle by the type of each.
func entries(t testing.TB, data []byte) []thing {
	t.Helper()
	var b struct {
		Entry []struct {
			FullURL  string `json:"fullUrl"`
			Resource thing
		}
	}
	dec := json.NewDecoder(bytes.NewReader(data))
	dec.UseNumber() // digits are kept as they were written
	if err := dec.Decode(&b); err != nil {
		t.Fatal(err)
	}
	out := make([]thing, len(b.Entry))
	for i, e := range b.Entry {
		if e.FullURL != "urn:uuid:"+e.Resource["id"].(string) {
			t.Errorf("entry %d: full URL %s of the resource %v", i, e.FullURL, e.Resource["id"])
		}
		out[i] = e.Resource
	}
	return out
}

func counts(list []thing) map[string]int {
	n := map[string]int{}
	for _, r := range list {
		n[r["resourceType"].(string)]++
	}
	return n
}

// walk calls do for every object of a tree.
func walk(v any, do func(thing)) {
	switch x := v.(type) {
	case thing:
		do(x)
		keys := make([]string, 0, len(x))
		for k := range x {
			keys = append(keys, k)
		}
		sort.Strings(keys)
		for _, k := range keys {
			walk(x[k], do)
		}
	case []any:
		for _, y := range x {
			walk(y, do)
		}
	}
}

func text(x any) string {
	s, _ := x.(string)
	return s
}

// valid holds a document against the schema.
func valid(t testing.TB, s *jsonschema.Schema, doc []byte) {
	t.Helper()
	v, err := jsonschema.UnmarshalJSON(bytes.NewReader(doc))
	if err != nil {
		t.Fatal(err)
	}
	if err := s.Validate(v); err != nil {
		t.Errorf("%.200s\n%v", doc, err)
	}
}

func splitLines(data []byte) []string { return strings.Split(strings.TrimSpace(string(data)), "\n") }
