package store

import (
	"encoding/json"
	"runtime"
	"strings"
	"sync"
	"testing"

	"fairstick/internal/fault"
)

// A test that calls t.Fatal inside a command ends the goroutine that runs it: the writer's.
func TestWriterOutlivesGoexit(t *testing.T) {
	s := create(t)
	err := s.Write(t.Context(), func(tx *Tx) error {
		if _, err := tx.Append(Draft{Subject: jarRef("a"), Body: added{1}}); err != nil {
			t.Error(err)
		}
		runtime.Goexit()
		return nil
	})
	wantFault(t, err, fault.Internal, "internal")
	write(t, s, Draft{Subject: jarRef("a"), Body: added{4}})
	if got := jarOf(t, s, "a"); got.Total != 4 {
		t.Errorf("total %d", got.Total)
	}
	if p := problems(t, s); p != nil {
		t.Error(p)
	}
}

func TestFullDisk(t *testing.T) {
	s := create(t)
	write(t, s, Draft{Subject: jarRef("a"), Body: added{1}})
	mustWrite(t, s, func(tx *Tx) error {
		return tx.w.c.script(`PRAGMA max_page_count = 1`) // SQLite then allows no page more than there are
	})
	big := named{Name: strings.Repeat("x", 60<<10)}
	started, let := make(chan bool), make(chan bool)
	var wg sync.WaitGroup
	wg.Go(func() { mustWrite(t, s, func(*Tx) error { close(started); <-let; return nil }) })
	<-started
	errs := make([]error, 4)
	for i := range errs {
		wg.Go(func() {
			errs[i] = s.Write(t.Context(), func(tx *Tx) error {
				_, err := tx.Append(Draft{Subject: jarRef("a"), Body: big})
				return err
			})
		})
	}
	close(let)
	wg.Wait()
	for _, err := range errs {
		wantFault(t, err, fault.Unusable, "not-recorded")
		if f := fault.Of(err); f.Sentence != "Not recorded: the disk is full." {
			t.Error(f.Sentence)
		}
	}
	mustWrite(t, s, func(tx *Tx) error { return tx.w.c.script(`PRAGMA max_page_count = 1000000`) })
	rec := write(t, s, Draft{Subject: jarRef("a"), Body: added{1}})[0]
	if got := jarOf(t, s, "a"); got.Total != 2 || got.Name != "" || rec.Seq != 2 {
		t.Errorf("%+v, seq %d", got, rec.Seq)
	}
	if p := problems(t, s); p != nil {
		t.Error(p)
	}
}

func TestStateJSONIsWhatTheRowSays(t *testing.T) {
	s := create(t)
	write(t, s, Draft{Subject: jarRef("a"), Body: added{2}})
	var text string
	mustRead(t, s, func(v *View) (err error) {
		text, _, err = one(v.c, func(r row) string { return r.text(0) }, `SELECT state FROM subject`)
		return err
	})
	want, _ := json.Marshal(jarOf(t, s, "a"))
	if text != string(want) {
		t.Errorf("%s, want %s", text, want)
	}
}
