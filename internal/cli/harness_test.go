package cli

import (
	"bytes"
	"context"
	"io"
	"log/slog"
	"path/filepath"
	"strings"
	"testing"

	"fairstick/internal/demo"
	"fairstick/internal/programme"
	"fairstick/internal/store"
)

// market runs commands on the record of the invented programme, as its day stands in mid-morning.
func market(t *testing.T) func(args ...string) (code int, out, said string) {
	t.Helper()
	clock := demo.NewClock(demo.Begins())
	st, err := store.Create(t.Context(), store.Options{Dir: filepath.Join(t.TempDir(), "data"), Catalogue: programme.Catalogue(), Now: clock.Now, Log: slog.New(slog.DiscardHandler)})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := st.Close(); err != nil {
			t.Error(err)
		}
	})
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
	return func(args ...string) (int, string, string) {
		var out, said bytes.Buffer
		code := Run(t.Context(), app, args, strings.NewReader(""), &out, &said)
		return code, out.String(), said.String()
	}
}
