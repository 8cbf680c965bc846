package store

import (
	"errors"
	"fmt"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"fairstick/internal/fact"
	"fairstick/internal/fault"
)

func TestWhatIsWrittenIsThereAfterOpeningAgain(t *testing.T) {
	s := create(t)
	at := time.Date(2031, 5, 4, 10, 30, 0, 123456789, time.FixedZone("", 3600))
	recs := write(t, s,
		Draft{Subject: jarRef("a"), Body: named{"top", "plum"}, By: "p1"},
		Draft{Subject: jarRef("a"), Body: added{3}, At: at},
		Draft{Subject: jarRef("b"), Body: named{"top", "fig"}},
		Draft{Subject: jarRef("c"), Body: named{"low", "apple"}})
	if recs[0].Seq != 1 || recs[3].Seq != 4 || recs[0].Node != s.Node() || recs[0].By != "p1" {
		t.Fatalf("records %+v", recs)
	}
	last := time.Date(2031, 5, 4, 9, 30, 0, 123e6, time.UTC)
	want := &jar{ID: "a", Shelf: "top", Name: "plum", Total: 3, Trail: []string{"3"}, Last: last, Marks: []mark{{"3", last}}}
	if diff := cmp.Diff(want, jarOf(t, s, "a")); diff != "" {
		t.Fatal(diff)
	}
	o := s.o
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	s, err := Open(t.Context(), o)
	if err != nil {
		t.Fatal(err)
	}
	defer shut(t, s)
	if diff := cmp.Diff(want, jarOf(t, s, "a")); diff != "" {
		t.Fatal(diff)
	}
	names := func(states []fact.State, err error) string {
		if err != nil {
			t.Fatal(err)
		}
		var out []string
		for _, st := range states {
			out = append(out, st.(*jar).Name)
		}
		return strings.Join(out, " ")
	}
	mustRead(t, s, func(v *View) error {
		if got := names(v.All("jar")); got != "apple fig plum" {
			t.Errorf("all: %s", got)
		}
		if got := names(v.Children("jar", "top")); got != "fig plum" {
			t.Errorf("children: %s", got)
		}
		since, err := v.RecordsSince(recs[1].Recorded, 1)
		if err != nil || len(since) != 1 || since[0].ID != recs[2].ID {
			t.Errorf("since: %v %v", since, err)
		}
		return nil
	})
	next := write(t, s, Draft{Subject: jarRef("a"), Body: added{1}})
	if next[0].Seq != 5 || next[0].Recorded <= recs[3].Recorded {
		t.Errorf("the chain did not go on: %+v", next[0])
	}
	r, err := s.Check(t.Context())
	if err != nil || !r.OK() || r.Entries != 5 || r.Subjects != 3 || r.Nodes != 1 {
		t.Errorf("check: %+v %v", r, err)
	}
}

func TestOneRefusalHarmsNoOther(t *testing.T) {
	s := create(t)
	write(t, s, Draft{Subject: jarRef("a"), Body: added{1}})
	refusal := fault.New(fault.Refused, "shut", "No.", "", "")
	// Hold the writer so that the others wait and become one group.
	started, let := make(chan bool), make(chan bool)
	var wg sync.WaitGroup
	wg.Go(func() {
		mustWrite(t, s, func(*Tx) error { close(started); <-let; return nil })
	})
	<-started
	errs := make([]error, 9)
	var seqs sync.Map
	for i := range errs {
		wg.Go(func() {
			errs[i] = s.Write(t.Context(), func(tx *Tx) error {
				rec, err := tx.Append(Draft{Subject: jarRef("a"), Body: added{10}})
				if err != nil {
					return err
				}
				switch i % 3 {
				case 1:
					return refusal
				case 2:
					panic("a defect")
				}
				seqs.Store(rec.Seq, true)
				return nil
			})
		})
	}
	close(let)
	wg.Wait()
	for i, err := range errs {
		switch i % 3 {
		case 0:
			if err != nil {
				t.Errorf("%d: %v", i, err)
			}
		case 1:
			if !errors.Is(err, refusal) {
				t.Errorf("%d: %v", i, err)
			}
		case 2:
			wantFault(t, err, fault.Internal, "internal")
		}
	}
	if got := jarOf(t, s, "a"); got.Total != 31 {
		t.Errorf("total %d, want 31", got.Total)
	}
	for _, seq := range []uint64{2, 3, 4} {
		if _, ok := seqs.Load(seq); !ok {
			t.Errorf("no command got seq %d", seq)
		}
	}
	if p := problems(t, s); p != nil {
		t.Error(p)
	}
}

func TestStatesGivenAwayDoNotChange(t *testing.T) {
	s := create(t)
	write(t, s, Draft{Subject: jarRef("a"), Body: added{1}})
	before := jarOf(t, s, "a")
	err := s.Write(t.Context(), func(tx *Tx) error {
		var seen []*jar
		for i := range 3 {
			if i == 2 { // a list writes the rows first
				if all, err := tx.All("jar"); err != nil || len(all) != 1 || all[0].(*jar).Total != 3 {
					t.Errorf("all: %v %v", all, err)
				}
			}
			state, ok, err := tx.State(jarRef("a"))
			if err != nil || !ok {
				return fmt.Errorf("%v %w", ok, err)
			}
			seen = append(seen, state.(*jar))
			if _, err := tx.Append(Draft{Subject: jarRef("a"), Body: added{1}}); err != nil {
				return err
			}
		}
		for i, j := range seen {
			if j.Total != i+1 || len(j.Trail) != i+1 {
				t.Errorf("state %d changed later: %+v", i, j)
			}
		}
		return errors.New("refused after all")
	})
	if err == nil || err.Error() != "refused after all" {
		t.Fatal(err)
	}
	if got := jarOf(t, s, "a"); got.Total != 1 || before.Total != 1 {
		t.Errorf("a refused command left %d, an earlier view %d", got.Total, before.Total)
	}
	mustWrite(t, s, func(tx *Tx) error {
		if st, _, _ := tx.State(jarRef("a")); st.(*jar).Total != 1 {
			t.Errorf("the writer remembers what it undid: %+v", st)
		}
		return nil
	})
}

func TestReceiptGivesTheSameAnswer(t *testing.T) {
	s := create(t)
	press := func() (answer string) {
		err := s.Write(t.Context(), func(tx *Tx) error {
			if kept, ok, err := tx.Receipt("press-1"); err != nil || ok {
				answer = string(kept)
				return err
			}
			rec, err := tx.Append(Draft{Subject: jarRef("a"), Body: added{7}})
			if err != nil {
				return err
			}
			answer = rec.ID
			return tx.Keep("press-1", []byte(answer))
		})
		if err != nil {
			t.Fatal(err)
		}
		return answer
	}
	first := press()
	if second := press(); second != first || first == "" {
		t.Errorf("answers %q and %q", first, second)
	}
	if got := jarOf(t, s, "a"); got.Total != 7 {
		t.Errorf("total %d: the second press made a second fact", got.Total)
	}
	err := s.Write(t.Context(), func(tx *Tx) error { return tx.Keep("press-1", nil) })
	wantFault(t, err, fault.Conflict, "already-recorded")
	// A command that fails keeps no receipt.
	if err := s.Write(t.Context(), func(tx *Tx) error {
		if err := tx.Keep("press-2", []byte("x")); err != nil {
			t.Error(err)
		}
		return errors.New("no")
	}); err == nil || err.Error() != "no" {
		t.Error(err)
	}
	mustWrite(t, s, func(tx *Tx) error {
		if _, ok, _ := tx.Receipt("press-2"); ok {
			t.Error("a refused command left a receipt")
		}
		return nil
	})
}

func TestAppendRefuses(t *testing.T) {
	s := create(t)
	rec := write(t, s, Draft{ID: "fixed", Subject: jarRef("a"), Body: added{1}})[0]
	for name, c := range map[string]struct {
		d    Draft
		kind fault.Kind
		key  string
	}{
		"same id":            {Draft{ID: "fixed", Subject: jarRef("b"), Body: added{1}}, fault.Conflict, "already-recorded"},
		"corrects nothing":   {Draft{Corrects: "nobody", Reason: "r", Subject: jarRef("a"), Body: added{1}}, fault.Missing, "corrected-missing"},
		"corrects a strange": {Draft{Corrects: rec.ID, Reason: "r", Subject: jarRef("b"), Body: added{1}}, fault.Missing, "corrected-missing"},
		"no reason":          {Draft{Corrects: rec.ID, Subject: jarRef("a"), Body: added{1}}, fault.Invalid, "reason-missing"},
		"too large":          {Draft{Subject: jarRef("a"), Body: named{Name: strings.Repeat("x", 300<<10)}}, fault.Invalid, "not-recordable"},
		"control character":  {Draft{ID: "a\x00b", Subject: jarRef("a"), Body: added{1}}, fault.Invalid, "not-recordable"},
	} {
		err := s.Write(t.Context(), func(tx *Tx) error { _, err := tx.Append(c.d); return err })
		t.Run(name, func(t *testing.T) { wantFault(t, err, c.kind, c.key) })
	}
	for name, d := range map[string]Draft{
		"unregistered body":    {Subject: jarRef("a"), Body: strange{}},
		"unregistered subject": {Subject: fact.Ref{Kind: "spoon", ID: "1"}, Body: added{1}},
	} {
		err := s.Write(t.Context(), func(tx *Tx) error {
			if _, err := tx.Append(d); err == nil {
				t.Error("it was taken")
			}
			return nil // a command that looks away cannot be kept either
		})
		if err == nil || fault.Of(err).Kind != fault.Internal {
			t.Errorf("%s: %v", name, err)
		}
	}
	if got := jarOf(t, s, "a"); got.Total != 1 {
		t.Errorf("total %d", got.Total)
	}
	if p := problems(t, s); p != nil {
		t.Error(p)
	}
}

func TestCorrectionTakesThePlaceOfTheFact(t *testing.T) {
	s := create(t)
	recs := write(t, s, Draft{Subject: jarRef("a"), Body: added{5}}, Draft{Subject: jarRef("a"), Body: added{50}})
	write(t, s, Draft{Subject: jarRef("a"), Body: added{6}, Corrects: recs[0].ID, Reason: "miscounted"})
	write(t, s, Draft{Subject: jarRef("a"), Body: fact.Struck{}, Corrects: recs[1].ID, Reason: "another jar"}, Draft{Subject: jarRef("a"), Body: added{1}})
	got := jarOf(t, s, "a")
	if got.Total != 7 || !cmp.Equal(got.Trail, []string{"6", "1"}) {
		t.Errorf("%+v", got)
	}
	mustRead(t, s, func(v *View) error {
		all, err := v.Records(jarRef("a"))
		if err != nil || len(all) != 5 || all[2].Reason != "miscounted" || all[2].Corrects != recs[0].ID {
			t.Errorf("records %+v %v", all, err)
		}
		return nil
	})
	if p := problems(t, s); p != nil {
		t.Error(p)
	}
}
