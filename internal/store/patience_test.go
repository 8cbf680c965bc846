package store

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// updated makes a record that another build of the program closed, and a clock that goes on by half a second at each look.
func updated(t *testing.T) Options {
	t.Helper()
	s := create(t)
	var drafts []Draft
	for i := range 900 {
		drafts = append(drafts, Draft{Subject: jarRef(fmt.Sprint(i)), Body: added{i}})
	}
	write(t, s, drafts...)
	shut(t, s)
	rewrite(t, filepath.Join(s.o.Dir, dataFile), `UPDATE meta SET value = 'another' WHERE key = 'derived_by'`)
	o := options(s.o.Dir)
	at := time.Date(2031, 5, 4, 9, 0, 0, 0, time.UTC)
	o.Now = func() time.Time {
		at = at.Add(500 * time.Millisecond)
		return at
	}
	return o
}

// An opening that takes long says what it does, how far it is and how long that will still take.
func TestALongOpeningSpeaks(t *testing.T) {
	o := updated(t)
	var said []string
	o.Slow = func(s string) { said = append(said, s) }
	s, err := Open(t.Context(), o)
	if err != nil {
		t.Fatal(err)
	}
	defer shut(t, s)
	all := strings.Join(said, "\n")
	for _, must := range []string{" MB) for damage before it opens it: 2 seconds so far", "for the first time and makes its tables again from the entries, once: 0 % done.", "50 % done, about 4 minutes more.", "99 % done, about 2 seconds more."} {
		if !strings.Contains(all, must) {
			t.Errorf("it does not say %q", must)
		}
	}
	if n := len(said); n < 200 || n > 500 || !s.Remade() {
		t.Errorf("%d sentences, remade %v: %s", n, s.Remade(), all)
	}
	if p := problems(t, s); p != nil {
		t.Error(p)
	}
}

// A short one says nothing, and one that made no tables again says so.
func TestAShortOpeningIsSilent(t *testing.T) {
	o := updated(t)
	s, err := Open(t.Context(), o)
	if err != nil {
		t.Fatal(err)
	}
	shut(t, s)
	o.Now = testClock()
	o.Slow = func(s string) { t.Errorf("it says %q", s) }
	if s, err = Open(t.Context(), o); err != nil {
		t.Fatal(err)
	}
	defer shut(t, s)
	if s.Remade() {
		t.Error("tables of this build were made again")
	}
}

// Whoever does not want to wait can stop it at any point, and nothing is lost.
func TestALongOpeningCanBeStopped(t *testing.T) {
	for name, at := range map[string]string{"looking": "looks through", "making": " 50 % done"} {
		t.Run(name, func(t *testing.T) {
			o := updated(t)
			ctx, stop := context.WithCancel(t.Context())
			o.Slow = func(s string) {
				if strings.Contains(s, at) {
					stop()
				}
			}
			_, err := Open(ctx, o)
			wantFault(t, err, "unusable", "opening-stopped")
			if !errors.Is(err, context.Canceled) {
				t.Errorf("stopped: %v", err)
			}
			s, err := Open(t.Context(), o)
			if err != nil {
				t.Fatal(err)
			}
			defer shut(t, s)
			if got := jarOf(t, s, "899"); got.Total != 899 || !s.Remade() {
				t.Errorf("%+v, remade %v", got, s.Remade())
			}
			if p := problems(t, s); p != nil {
				t.Error(p)
			}
		})
	}
}
