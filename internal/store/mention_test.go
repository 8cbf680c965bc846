package store

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"fairstick/internal/fact"
)

func TestMentionsFollowTheState(t *testing.T) {
	s := create(t)
	at := func(minute int) time.Time { return time.Date(2031, 5, 4, 10, minute, 0, 0, time.UTC) }
	recs := write(t, s,
		Draft{Subject: jarRef("a"), Body: named{"top", "plum"}},
		Draft{Subject: jarRef("b"), Body: named{"top", "fig"}},
		Draft{Subject: jarRef("c"), Body: named{"low", "apple"}},
		Draft{Subject: jarRef("a"), Body: added{7}, At: at(30)},
		Draft{Subject: jarRef("b"), Body: added{7}, At: at(20)},
		Draft{Subject: jarRef("b"), Body: added{7}, At: at(40)},
		Draft{Subject: jarRef("c"), Body: added{7}, At: at(50)})
	ask := func(tx *Tx) (ids []string, last string, when time.Time) {
		ids, err := tx.Mentioned("jar", "top", "amount", "7")
		if err != nil {
			t.Error(err)
		}
		m, last, ok, err := tx.LastMention("jar", "top", "amount", "7")
		if err != nil || !ok || m.Name != "amount" || m.Value != "7" {
			t.Error(m, ok, err)
		}
		return ids, last, m.At
	}
	mustWrite(t, s, func(tx *Tx) error {
		if ids, last, when := ask(tx); !slices.Equal(ids, []string{"b", "a"}) || last != "b" || !when.Equal(at(40)) {
			t.Errorf("%v %s %s", ids, last, when)
		}
		if label, err := tx.LastLabel("jar", "top"); label != "plum" || err != nil {
			t.Error(label, err)
		}
		if label, err := tx.LastLabel("jar", "nowhere"); label != "" || err != nil {
			t.Error(label, err)
		}
		if _, _, ok, err := tx.LastMention("jar", "top", "amount", "8"); ok || err != nil {
			t.Error(ok, err)
		}
		// A correction takes its mention away, in the same command.
		if _, err := tx.Append(Draft{Subject: jarRef("b"), Body: fact.Struck{}, Corrects: recs[5].ID, Reason: "another jar"}); err != nil {
			return err
		}
		if ids, last, when := ask(tx); !slices.Equal(ids, []string{"b", "a"}) || last != "a" || !when.Equal(at(30)) {
			t.Errorf("%v %s %s", ids, last, when)
		}
		// A jar that is put elsewhere takes its mentions along.
		if _, err := tx.Append(Draft{Subject: jarRef("a"), Body: named{"low", "plum"}}); err != nil {
			return err
		}
		if ids, last, _ := ask(tx); !slices.Equal(ids, []string{"b"}) || last != "b" {
			t.Errorf("%v %s", ids, last)
		}
		return nil
	})
	if p := problems(t, s); p != nil {
		t.Error(p)
	}
	if err := s.Rebuild(t.Context()); err != nil {
		t.Fatal(err)
	}
	mustWrite(t, s, func(tx *Tx) error {
		if ids, _, _ := ask(tx); !slices.Equal(ids, []string{"b"}) {
			t.Errorf("after a rebuild: %v", ids)
		}
		return nil
	})
}

// Who mentions a value is found by the value and then one by one, however many subjects of the kind there are.
func TestMentioningIsALookUp(t *testing.T) {
	s := create(t)
	mustRead(t, s, func(v *View) error {
		plan, err := all(v.c, func(r row) string { return r.text(3) }, `EXPLAIN QUERY PLAN `+mentioningSQL, "a", "a", "b", "c", "d")
		if said := fmt.Sprint(plan); err != nil || !strings.Contains(said, "sqlite_autoindex_subject_1 (kind=? AND id=?)") || !strings.Contains(said, "mention_value (kind=? AND parent=? AND name=? AND value=?)") {
			t.Errorf("%s %v", said, err)
		}
		return nil
	})
}

// The last mention of every value over all parents is the same in a snapshot and inside a command; the link of an entry is found by
// its id.
func TestLastMentionsOverAll(t *testing.T) {
	s := create(t)
	at := func(minute int) time.Time { return time.Date(2031, 5, 4, 10, minute, 0, 0, time.UTC) }
	recs := write(t, s,
		Draft{Subject: jarRef("a"), Body: named{"top", "plum"}},
		Draft{Subject: jarRef("b"), Body: named{"low", "fig"}},
		Draft{Subject: jarRef("a"), Body: added{7}, At: at(30)},
		Draft{Subject: jarRef("b"), Body: added{7}, At: at(40)},
		Draft{Subject: jarRef("b"), Body: added{8}, At: at(20)})
	want := fmt.Sprint(map[string]time.Time{"7": at(40), "8": at(20)})
	mustWrite(t, s, func(tx *Tx) error {
		got, err := tx.LastMentions("jar", "amount")
		if fmt.Sprint(got) != want {
			t.Errorf("inside a command: %v, want %v", got, want)
		}
		return err
	})
	mustRead(t, s, func(v *View) error {
		got, err := v.LastMentions("jar", "amount")
		if err != nil || fmt.Sprint(got) != want {
			t.Errorf("in a snapshot: %v %v, want %v", got, err, want)
		}
		one, ok, err := v.HashOf(recs[0].ID)
		two, other, _ := v.HashOf(recs[1].ID)
		if err != nil || !ok || !other || one == two || one == [32]byte{} {
			t.Errorf("links: %x and %x, %v", one, two, err)
		}
		if _, ok, err := v.HashOf("nothing"); ok || err != nil {
			t.Errorf("the link of no entry: %v %v", ok, err)
		}
		return nil
	})
}
