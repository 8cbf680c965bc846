package store

import (
	"fmt"
	"path/filepath"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"fairstick/internal/fact"
	"fairstick/internal/fault"
	"fairstick/internal/logbook"
)

func runOf(t testing.TB, s *Store, after uint64) (run logbook.Run) {
	t.Helper()
	err := s.Read(t.Context(), func(v *View) (err error) { run, err = v.Run(s.Node(), after); return err })
	if err != nil {
		t.Fatal(err)
	}
	return run
}

// rowsOf gives the rows of some subjects without what differs by order of arrival, and complains of one that is not what
// a fold of its entries gives.
func rowsOf(t testing.TB, s *Store, refs ...fact.Ref) (out []string) {
	t.Helper()
	mustRead(t, s, func(v *View) error {
		for _, ref := range refs {
			h, ok, err := one(v.c, heldRow, `SELECT `+heldColumns+` FROM subject WHERE kind = ? AND id = ?`, ref.Kind, ref.ID)
			if err != nil {
				return err
			}
			again, err := refold(v.c, s.o.Catalogue, ref)
			if err != nil {
				return err
			}
			if ok != (again != nil) || ok && (!h.same(again) || !mentionsFit(v.c, again)) {
				t.Errorf("the row of %s is not what its entries say", ref.ID)
			}
			if ok {
				out = append(out, fmt.Sprint(h.ref, h.parent, h.label, h.recorded, string(h.json)))
			}
		}
		return nil
	})
	return out
}

// Three laptops act on the same jars, correct one another's facts, and exchange their chains in any order: all come to
// the same rows, and each to what a rebuild from its entries gives.
func TestAnyOrderOfArrivalGivesTheSameRows(t *testing.T) {
	t.Parallel()
	clock := testClock()
	var laptops []*Store
	for range 3 {
		s := create(t)
		s.o.Now = clock
		laptops = append(laptops, s)
	}
	sent := map[[2]*Store]uint64{} // how much of one's chain the other holds
	send := func(from, to *Store) {
		if from == to {
			return
		}
		pair := [2]*Store{from, to}
		n, err := to.Absorb(t.Context(), runOf(t, from, sent[pair]))
		if err != nil {
			t.Fatal(err)
		}
		sent[pair] += uint64(n)
	}
	round := 0
	rapid.Check(t, func(rt *rapid.T) {
		round++
		jars := []fact.Ref{jarRef(fmt.Sprint("a", round)), jarRef(fmt.Sprint("b", round))}
		pick := func(label string) *Store { return laptops[rapid.IntRange(0, 2).Draw(rt, label)] }
		for range rapid.IntRange(1, 12).Draw(rt, "steps") {
			s, ref := pick("laptop"), rapid.SampledFrom(jars).Draw(rt, "jar")
			switch rapid.SampledFrom([]string{"add", "add", "name", "twice", "correct", "correct", "send"}).Draw(rt, "act") {
			case "add":
				write(t, s, Draft{Subject: ref, Body: added{rapid.IntRange(1, 99).Draw(rt, "n")}})
			case "twice": // one act, sent to whichever laptop can be reached
				n := rapid.IntRange(1, 99).Draw(rt, "n")
				err := s.Write(t.Context(), func(tx *Tx) error {
					_, err := tx.Append(Draft{ID: "act-" + ref.ID, Subject: ref, Body: added{n}})
					return err
				})
				if err != nil && !fault.Is(err, "already-recorded") {
					rt.Fatal(err)
				}
			case "name":
				write(t, s, Draft{Subject: ref, Body: named{Shelf: rapid.SampledFrom([]string{"top", "low"}).Draw(rt, "shelf"), Name: "x"}})
			case "correct":
				var recs []fact.Record
				mustRead(t, s, func(v *View) (err error) { recs, err = v.Records(ref); return err })
				if len(recs) == 0 {
					continue
				}
				d := Draft{Subject: ref, Corrects: rapid.SampledFrom(recs).Draw(rt, "which").ID, Reason: "again", Body: fact.Struck{}}
				if rapid.Bool().Draw(rt, "replace") {
					d.Body = added{1000}
				}
				write(t, s, d)
			case "send":
				send(s, pick("to"))
			}
		}
		for _, i := range rapid.Permutation([]int{0, 1, 2, 3, 4, 5, 6, 7, 8}).Draw(rt, "order") {
			send(laptops[i/3], laptops[i%3])
		}
		want := rowsOf(t, laptops[0], jars...)
		for _, s := range laptops {
			if diff := cmp.Diff(want, rowsOf(t, s, jars...)); diff != "" || t.Failed() {
				rt.Fatal(diff)
			}
		}
	})
	for _, s := range laptops {
		if p := problems(t, s); p != nil {
			t.Error(p)
		}
	}
}

func TestAbsorbRefusesWhatDoesNotHold(t *testing.T) {
	a, b := create(t), create(t)
	write(t, a, Draft{Subject: jarRef("a"), Body: added{1}}, Draft{Subject: jarRef("a"), Body: added{2}}, Draft{Subject: jarRef("a"), Body: added{3}})
	whole := runOf(t, a, 0)
	for name, c := range map[string]struct {
		spoil func(r *logbook.Run)
		key   string
	}{
		"gap":          {func(r *logbook.Run) { r.Entries = r.Entries[1:] }, "chain-broken"},
		"cut off":      {func(r *logbook.Run) { r.Entries = r.Entries[:2] }, "chain-unsigned"},
		"another body": {func(r *logbook.Run) { r.Entries[1] = []byte(string(r.Entries[1][:len(r.Entries[1])-3]) + `7}}`) }, "chain-unsigned"},
		"not an entry": {func(r *logbook.Run) { r.Entries[1] = []byte("{}") }, "chain-broken"},
		"another key":  {func(r *logbook.Run) { r.Public = b.keys.public() }, "chain-unsigned"},
		"other's name": {func(r *logbook.Run) { r.Node = b.Node() }, "own-chain"},
	} {
		run := whole
		run.Entries = append([][]byte(nil), whole.Entries...)
		c.spoil(&run)
		_, err := b.Absorb(t.Context(), run)
		t.Run(name, func(t *testing.T) { wantFault(t, err, fault.Refused, c.key) })
	}
	if got := jarOf(t, b, "a"); got != nil {
		t.Errorf("something was kept: %+v", got)
	}
	if n, err := b.Absorb(t.Context(), whole); n != 3 || err != nil {
		t.Errorf("%d %v", n, err)
	}
	if n, err := b.Absorb(t.Context(), whole); n != 0 || err != nil {
		t.Errorf("a second time: %d %v", n, err)
	}
	if got := jarOf(t, b, "a"); got.Total != 6 {
		t.Errorf("%+v", got)
	}

	// A laptop that was restored from an old copy and went on has two histories.
	fork := logbook.Head{Node: a.Node()}
	link, err := fork.Extend(logbook.Entry{
		ID: "other", At: a.o.Now(), Recorded: "2031-05-04T09:00:00.000Z+0000", Subject: jarRef("a"), Kind: "jar.added", Body: []byte(`{"n":1}`),
	})
	if err != nil {
		t.Fatal(err)
	}
	_, err = b.Absorb(t.Context(), logbook.Run{Node: a.Node(), Public: a.keys.public(), Entries: [][]byte{link.Bytes}, Signature: link.Head().Sign(a.keys.sign)})
	wantFault(t, err, fault.Refused, "chain-forked")

	// What comes next is later than everything that was taken in, though b's wall clock is hours behind.
	ahead := a.o.Now().Add(3 * time.Hour)
	a.o.Now = func() time.Time { return ahead }
	write(t, a, Draft{Subject: jarRef("a"), Body: named{Name: "late"}})
	if n, err := b.Absorb(t.Context(), runOf(t, a, 3)); n != 1 || err != nil {
		t.Errorf("%d %v", n, err)
	}
	next := write(t, b, Draft{Subject: jarRef("a"), Body: named{Name: "latest"}})
	if got := jarOf(t, b, "a"); got.Name != "latest" || next[0].Seq != 1 || !logbook.WallOf(next[0].Recorded).Equal(ahead) {
		t.Errorf("%+v %+v", got, next)
	}
	if p := problems(t, b); p != nil {
		t.Error(p)
	}
}

// The correction of a fact may be here before the fact, even when the fact is then entered here.
func TestCorrectionBeforeItsFact(t *testing.T) {
	a, b, c := create(t), create(t), create(t)
	write(t, a, Draft{ID: "act", Subject: jarRef("a"), Body: added{5}})
	if _, err := b.Absorb(t.Context(), runOf(t, a, 0)); err != nil {
		t.Fatal(err)
	}
	write(t, b, Draft{Subject: jarRef("a"), Body: added{6}, Corrects: "act", Reason: "miscounted"})
	if _, err := c.Absorb(t.Context(), runOf(t, b, 0)); err != nil {
		t.Fatal(err)
	}
	if got := jarOf(t, c, "a"); got.Total != 0 {
		t.Errorf("a correction alone counts: %+v", got)
	}
	write(t, c, Draft{ID: "act", Subject: jarRef("a"), Body: added{5}})
	if got := jarOf(t, c, "a"); got.Total != 6 {
		t.Errorf("%+v", got)
	}
	if _, err := c.Absorb(t.Context(), runOf(t, a, 0)); err != nil {
		t.Fatal(err)
	}
	if got := jarOf(t, c, "a"); got.Total != 6 {
		t.Errorf("%+v", got)
	}
	if p := problems(t, c); p != nil {
		t.Error(p)
	}
}

// What a newer laptop says of things unknown here is kept and counted, and read by whoever knows them.
func TestUnknownKindsAreKept(t *testing.T) {
	newer := options(filepath.Join(t.TempDir(), "record"))
	newer.Catalogue.Subject("spoon", func(id string) fact.State { return &jar{ID: id} }, strange{})
	a, err := Create(t.Context(), newer)
	if err != nil {
		t.Fatal(err)
	}
	defer shut(t, a)
	write(t, a, Draft{Subject: fact.Ref{Kind: "spoon", ID: "s"}, Body: strange{}}, Draft{Subject: jarRef("a"), Body: strange{}}, Draft{Subject: jarRef("a"), Body: added{2}})
	b := create(t)
	if _, err := b.Absorb(t.Context(), runOf(t, a, 0)); err != nil {
		t.Fatal(err)
	}
	r, err := b.Check(t.Context())
	if err != nil || !r.OK() || r.Unread != 2 || r.Entries != 3 || r.Subjects != 1 {
		t.Errorf("%+v %v", r, err)
	}
	mustRead(t, b, func(v *View) error {
		recs, err := v.Records(jarRef("a"))
		if err != nil || len(recs) != 2 {
			t.Fatal(recs, err)
		}
		if u, ok := recs[0].Body.(logbook.Unread); !ok || u.Kind != "jar.strange" || string(u.Body) != "{}" {
			t.Errorf("%+v", recs[0].Body)
		}
		return nil
	})
	shut(t, b)
	o := newer
	o.Dir = b.o.Dir
	if b, err = Open(t.Context(), o); err != nil {
		t.Fatal(err)
	}
	defer shut(t, b)
	if r, err = b.Check(t.Context()); err != nil || !r.OK() || r.Unread != 0 || r.Subjects != 2 {
		t.Errorf("after the upgrade: %+v %v", r, err)
	}
}
