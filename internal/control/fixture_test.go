package control

import (
	"embed"
	"encoding/json"
	"math"
	"testing"
)

// Each file carries the source of its numbers.
//
//go:embed testdata/*.json
var fixtures embed.FS

// known reads a file of known answers.
func known(t testing.TB, name string, into any) {
	t.Helper()
	raw, err := fixtures.ReadFile("testdata/" + name + ".json")
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(raw, into); err != nil {
		t.Fatal(err)
	}
}

// near reports a number that is off by more than tol, as a share of the wanted one when that is above 1.
func near(t testing.TB, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol*math.Max(1, math.Abs(want))) {
		t.Errorf("%s = %.12g, want %.12g within %g", what, got, want, tol)
	}
}

// tester is a test or a property.
type tester interface {
	Helper()
	Fatal(args ...any)
}

func must[T any](t tester) func(T, error) T {
	return func(v T, err error) T {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
}
