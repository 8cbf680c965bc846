package store

import (
	"slices"
	"strings"
	"testing"

	"fairstick/internal/fact"
)

func tallies(t *testing.T, s *Store, from, before string) (inside, own []string) {
	t.Helper()
	mustRead(t, s, func(v *View) error {
		if err := v.Tallies("jar", "jar", from, before, func(x Tally) error {
			inside = append(inside, x.Parent+"/"+x.ID+"="+x.Line)
			return nil
		}); err != nil {
			return err
		}
		return v.OwnTallies("jar", from, before, func(x Tally) error {
			own = append(own, x.Parent+"/"+x.ID+"="+x.Line)
			return nil
		})
	})
	return inside, own
}

// What subjects count as follows their states through additions, corrections and moves, and a rebuild gives the same.
func TestTalliesFollowTheState(t *testing.T) {
	s := create(t)
	recs := write(t, s,
		Draft{Subject: jarRef("top"), Body: named{"", "2031-05-04 top"}},
		Draft{Subject: jarRef("low"), Body: named{"", "2031-06-01 low"}},
		Draft{Subject: jarRef("a"), Body: named{"top", "plum"}},
		Draft{Subject: jarRef("a"), Body: added{7}},
		Draft{Subject: jarRef("b"), Body: named{"low", "fig"}},
		Draft{Subject: jarRef("a"), Body: added{2}})
	check := func(when, from, before string, wantInside, wantOwn []string) {
		t.Helper()
		inside, own := tallies(t, s, from, before)
		if !slices.Equal(inside, wantInside) || !slices.Equal(own, wantOwn) {
			t.Errorf("%s: %v and %v, want %v and %v", when, inside, own, wantInside, wantOwn)
		}
	}
	check("all", "2031-01-01", "2032-01-01", []string{"top/a=9", "low/b=0"}, []string{"2031-05-04 top/top=0", "2031-06-01 low/low=0"})
	check("the first day alone", "2031-05-04", "2031-05-05", []string{"top/a=9"}, []string{"2031-05-04 top/top=0"})
	check("before", "2031-01-01", "2031-05-04", nil, nil)
	mustWrite(t, s, func(tx *Tx) error {
		if _, err := tx.Append(Draft{Subject: jarRef("a"), Body: fact.Struck{}, Corrects: recs[3].ID, Reason: "another jar"}); err != nil {
			return err
		}
		_, err := tx.Append(Draft{Subject: jarRef("a"), Body: named{"low", "plum"}})
		return err
	})
	check("corrected and moved", "2031-01-01", "2032-01-01", []string{"low/a=2", "low/b=0"}, []string{"2031-05-04 top/top=0", "2031-06-01 low/low=0"})
	if p := problems(t, s); p != nil {
		t.Error(p)
	}
	if err := s.Rebuild(t.Context()); err != nil {
		t.Fatal(err)
	}
	check("rebuilt", "2031-01-01", "2032-01-01", []string{"low/a=2", "low/b=0"}, []string{"2031-05-04 top/top=0", "2031-06-01 low/low=0"})
	mustWrite(t, s, func(tx *Tx) error { return exec(tx.w.c, `UPDATE tally SET line = '8' WHERE id = 'a'`) })
	if p := problems(t, s); len(p) != 1 || !strings.Contains(p[0], "counts as in reports") {
		t.Errorf("a line that was changed by hand: %v", p)
	}
}
