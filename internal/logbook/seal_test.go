package logbook

import (
	"bytes"
	"errors"
	"testing"

	"fairstick/internal/fact"
)

func ring(t *testing.T, b byte) *Keyring {
	t.Helper()
	k, err := NewKeyring(bytes.Repeat([]byte{b}, KeySize))
	if err != nil {
		t.Fatal(err)
	}
	return k
}

func TestSealing(t *testing.T) {
	k := ring(t, 1)
	ref, other := fact.Ref{Kind: "jug", ID: "a"}, fact.Ref{Kind: "jug", ID: "b"}
	wrapped, others := k.NewSubjectKey(ref), k.NewSubjectKey(other)
	plain := []byte("Ada Example, 000 000")
	sealed, err := k.Seal(wrapped, ref, plain)
	if err != nil {
		t.Fatal(err)
	}
	if got, err := k.Open(wrapped, ref, sealed); err != nil || !bytes.Equal(got, plain) {
		t.Fatalf("%q %v", got, err)
	}
	again, _ := k.Seal(wrapped, ref, plain)
	if bytes.Equal(sealed, again) || bytes.Contains(sealed, plain[:4]) || bytes.Equal(wrapped, k.NewSubjectKey(ref)) {
		t.Error("a nonce or key came twice, or nothing was hidden")
	}
	if !k.Holds(wrapped, ref) || k.Holds(others, ref) || ring(t, 2).Holds(wrapped, ref) {
		t.Error("Holds")
	}
	flip := func(b []byte, i int) []byte { c := bytes.Clone(b); c[i] ^= 1; return c }
	for name, c := range map[string]struct {
		ring    *Keyring
		wrapped []byte
		ref     fact.Ref
		sealed  []byte
	}{
		"another programme": {ring(t, 2), wrapped, ref, sealed},
		"another's key":     {k, others, ref, sealed},
		"shown as another":  {k, wrapped, other, sealed},
		"both another's":    {k, others, other, sealed},
		"changed data":      {k, wrapped, ref, flip(sealed, len(sealed)-1)},
		"changed nonce":     {k, wrapped, ref, flip(sealed, 1)},
		"changed version":   {k, wrapped, ref, flip(sealed, 0)},
		"cut short":         {k, wrapped, ref, sealed[:20]},
		"nothing":           {k, wrapped, ref, nil},
		"no key":            {k, nil, ref, sealed},
		"key as data":       {k, wrapped, ref, wrapped},
	} {
		if got, err := c.ring.Open(c.wrapped, c.ref, c.sealed); !errors.Is(err, ErrUnsealed) || got != nil {
			t.Errorf("%s: %q %v", name, got, err)
		}
	}
	if _, err := k.Seal(others, ref, plain); !errors.Is(err, ErrUnsealed) {
		t.Error(err)
	}
	if _, err := NewKeyring(make([]byte, 31)); err == nil {
		t.Error("a short programme key")
	}
}
