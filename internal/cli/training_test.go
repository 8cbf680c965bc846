package cli

import (
	"bytes"
	"context"
	"encoding/json"
	"io"
	"log/slog"
	"path/filepath"
	"strings"
	"testing"

	"fairstick/internal/demo"
	"fairstick/internal/programme"
	"fairstick/internal/store"
)

// Whose verification ends before a date, and what a named person lacks; a date or a name that says nothing is refused.
func TestTrainingReport(t *testing.T) {
	clock := demo.NewClock(demo.Begins())
	st, err := store.Create(t.Context(), store.Options{Dir: filepath.Join(t.TempDir(), "data"), Catalogue: programme.Catalogue(), Now: clock.Now, Log: slog.New(slog.DiscardHandler)})
	if err != nil {
		t.Fatal(err)
	}
	defer func() {
		if err := st.Close(); err != nil {
			t.Error(err)
		}
	}()
	p := programme.New(st, clock.Now, slog.New(slog.DiscardHandler))
	if _, err := demo.Make(t.Context(), p, clock); err != nil {
		t.Fatal(err)
	}
	app := App{
		DataDir: func() (string, error) { return t.TempDir(), nil },
		Open: func(context.Context, Folder, bool, *slog.Logger) (*programme.Programme, io.Closer, error) {
			return p, io.NopCloser(nil), nil
		},
	}
	run := func(args ...string) (int, string, string) {
		var out, said bytes.Buffer
		code := Run(t.Context(), app, append([]string{"report", "training"}, args...), strings.NewReader(""), &out, &said)
		return code, out.String(), said.String()
	}
	code, out, _ := run("--before", "2028-01-01")
	if code != 0 || !strings.Contains(out, "Ines Calder") || !strings.Contains(out, "verification on paper") || strings.Contains(out, "Piet Lund") {
		t.Errorf("exit %d:\n%s", code, out)
	}
	if code, out, _ = run("--before", "2020-01-01"); code != 0 || !strings.Contains(out, "No verification that holds today ends before 2020-01-01.") {
		t.Errorf("exit %d:\n%s", code, out)
	}
	if code, out, _ = run("--before", "2028-01-01", "--person", "piet"); code != 0 || !strings.Contains(out, "Piet Lund, needs screener") || !strings.Contains(out, "missing: The quiz has not been taken yet.") {
		t.Errorf("exit %d:\n%s", code, out)
	}
	code, out, _ = run("--before", "2028-01-01", "--person", "Piet Lund", "--json")
	var got struct {
		Before string `json:"before"`
		Lapses []any  `json:"lapses"`
		Person struct {
			Needs  string `json:"needs"`
			Levels []struct {
				Level   string `json:"level"`
				Holds   bool   `json:"holds"`
				Missing []struct {
					Key string `json:"key"`
				} `json:"missing"`
			} `json:"levels"`
		} `json:"person"`
	}
	if err := json.Unmarshal([]byte(out), &got); err != nil || code != 0 {
		t.Fatalf("exit %d, %v:\n%s", code, err, out)
	}
	if got.Before != "2028-01-01" || got.Lapses == nil || len(got.Lapses) != 0 || got.Person.Needs != "screener" || len(got.Person.Levels) != 5 || got.Person.Levels[3].Holds || got.Person.Levels[3].Missing[0].Key != "quiz" {
		t.Errorf("as JSON: %+v", got)
	}
	for _, c := range []struct {
		args []string
		says string
	}{
		{nil, "--before needs a date"},
		{[]string{"--before", "soon"}, "--before needs a date"},
		{[]string{"--before", "2028-01-01", "--person", "Nobody Here"}, `Nobody is called "Nobody Here"`},
		{[]string{"--before", "2028-01-01", "--person", "a"}, "people match"},
	} {
		if code, _, said := run(c.args...); code != 2 || !strings.Contains(said, c.says) {
			t.Errorf("%v: exit %d and %q", c.args, code, said)
		}
	}
}
