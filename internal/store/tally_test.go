package store

import (
	"slices"
	"strings"
	"testing"

	"fairstick/internal/fact"
)

// tallies reads what is below the groups of a span, and the groups themselves.
func tallies(t *testing.T, s *Store, from, before string) (inside, own []string) {
	t.Helper()
	mustRead(t, s, func(v *View) error {
		groups, err := groups(v, from, before)
		for _, g := range groups {
			own = append(own, g.Label+"/"+g.ID+"="+g.Line)
			err := v.Below("jar", g.ID, func(id, line string) error {
				inside = append(inside, g.ID+"/"+id+"="+line)
				return nil
			})
			if err != nil {
				return err
			}
		}
		return err
	})
	return inside, own
}

func groups(v *View, from, before string) (out []Group, err error) {
	err = v.Groups("sum", "jar", from, before, func(g Group) error {
		out = append(out, g)
		return nil
	})
	return out, err
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

// A count that was kept holds until anything in its group changes: the group itself, what is below it, what comes to it, and what
// leaves it. One that was counted before a change and comes after it does not hold.
func TestKeptCountsEndWithAChange(t *testing.T) {
	s := create(t)
	write(t, s,
		Draft{Subject: jarRef("top"), Body: named{"", "2031-05-04 top"}},
		Draft{Subject: jarRef("low"), Body: named{"", "2031-06-01 low"}},
		Draft{Subject: jarRef("a"), Body: named{"top", "plum"}})
	stamps := func() map[string]int64 {
		out := map[string]int64{}
		mustRead(t, s, func(v *View) error {
			all, err := groups(v, "2031-01-01", "2032-01-01")
			for _, g := range all {
				out[g.ID] = g.Stamp
			}
			return err
		})
		return out
	}
	keep := func(at map[string]int64) {
		t.Helper()
		if err := s.KeepCounts(t.Context(), "sum", []Counted{{"top", at["top"], "sum of top"}, {"low", at["low"], "sum of low"}}); err != nil {
			t.Fatal(err)
		}
	}
	holds := func(when string, want ...string) {
		t.Helper()
		var got []string
		mustRead(t, s, func(v *View) error {
			all, err := groups(v, "2031-01-01", "2032-01-01")
			for _, g := range all {
				if g.Holds {
					got = append(got, g.Kept)
				}
			}
			return err
		})
		if !slices.Equal(got, want) {
			t.Errorf("%s: %q holds, want %q", when, got, want)
		}
	}
	holds("nothing was kept")
	keep(stamps())
	holds("kept", "sum of top", "sum of low")
	before := stamps()
	write(t, s, Draft{Subject: jarRef("a"), Body: noted{}}) // its line stays
	holds("below the first", "sum of low")
	keep(before)
	holds("counted before the change", "sum of low")
	keep(stamps())
	write(t, s, Draft{Subject: jarRef("low"), Body: added{1}})
	holds("the second itself", "sum of top")
	keep(stamps())
	write(t, s, Draft{Subject: jarRef("a"), Body: named{"low", "plum"}})
	holds("moved from the first to the second")
	keep(stamps())
	if p := problems(t, s); p != nil {
		t.Error(p)
	}
	mustWrite(t, s, func(tx *Tx) error { return exec(tx.w.c, `UPDATE stamp SET arrived = 1 WHERE parent = 'low'`) })
	if p := problems(t, s); len(p) != 1 || !strings.Contains(p[0], "kept of low would not follow") {
		t.Errorf("a stamp that was set back by hand: %v", p)
	}
	if err := s.Rebuild(t.Context()); err != nil {
		t.Fatal(err)
	}
	holds("rebuilt")
	if p := problems(t, s); p != nil {
		t.Error(p)
	}
}

// The latest groups come first, and no more of them than somebody wants.
func TestLatest(t *testing.T) {
	s := create(t)
	write(t, s,
		Draft{Subject: jarRef("a"), Body: named{"", "2031-05-04 a"}}, Draft{Subject: jarRef("b"), Body: named{"", "2032-06-01 b"}},
		Draft{Subject: jarRef("c"), Body: named{"", "2031-06-01 c"}}, Draft{Subject: jarRef("inside"), Body: named{"b", "2033-01-01"}}, Draft{Subject: jarRef("c"), Body: added{4}})
	for most, want := range map[int]string{1: "b=0", 2: "b=0 c=4", 9: "b=0 c=4 a=0"} {
		var got []string
		mustRead(t, s, func(v *View) error {
			return v.Latest("jar", func(id, line string) (bool, error) {
				got = append(got, id+"="+line)
				return len(got) == most, nil
			})
		})
		if strings.Join(got, " ") != want {
			t.Errorf("the latest %d: %v, want %s", most, got, want)
		}
	}
}
