package cli

import (
	"bytes"
	"context"
	"io"
	"log/slog"
	"strings"
	"testing"

	"fairstick/internal/demo"
	"fairstick/internal/programme"
	"fairstick/internal/testrecord"
)

// market runs commands on the record of the invented programme, as its day stands in mid-morning.
func market(t *testing.T) func(args ...string) (code int, out, said string) {
	t.Helper()
	clock := demo.NewClock(demo.Begins())
	p, _ := testrecord.Open(t, clock.Now)
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
