package store

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"fairstick/internal/fact"
	"fairstick/internal/fault"
)

func TestPersonalData(t *testing.T) {
	s := create(t)
	secret := []byte(`{"name":"Ada Example"}`)
	var sealed []byte
	seal := func(id string) error {
		return s.Write(t.Context(), func(tx *Tx) (err error) {
			if sealed, err = tx.Seal(jarRef(id), secret); err != nil {
				return err
			}
			_, err = tx.Append(Draft{Subject: jarRef(id), Body: noted{sealed}})
			return err
		})
	}
	open := func(ref fact.Ref) (out []byte, has bool, err error) {
		err = s.Read(t.Context(), func(v *View) (err error) {
			if has, err = v.HasKey(ref); err != nil {
				return err
			}
			out, err = v.Open(ref, sealed)
			return err
		})
		return out, has, err
	}
	if err := seal("a"); err != nil {
		t.Fatal(err)
	}
	first := sealed
	if err := seal("b"); err != nil {
		t.Fatal(err)
	}
	if _, _, err := open(jarRef("a")); err == nil {
		t.Error("what was sealed for b opened for a")
	}
	sealed = first
	if got, has, err := open(jarRef("a")); string(got) != string(secret) || !has || err != nil {
		t.Errorf("%q %v %v", got, has, err)
	}
	_, _, err := open(jarRef("nobody"))
	wantFault(t, err, fault.Missing, "erased")

	var wrapped []byte
	mustRead(t, s, func(v *View) error { wrapped, _, err = subjectKey(v.c, jarRef("a")); return err })
	if data, _ := os.ReadFile(filepath.Join(s.o.Dir, dataFile+"-wal")); !strings.Contains(string(data), string(wrapped)) {
		t.Error("the key is not where this test looks for it")
	}
	if err := s.Write(t.Context(), func(tx *Tx) error { return tx.Erase(jarRef("a")) }); err != nil {
		t.Fatal(err)
	}
	_, has, err := open(jarRef("a"))
	wantFault(t, err, fault.Missing, "erased")
	if has {
		t.Error("the key is still there")
	}
	wantFault(t, seal("a"), fault.Missing, "erased")
	r, err := s.Check(t.Context())
	if err != nil || !r.OK() || r.Keys != 1 || r.Erased != 1 {
		t.Errorf("check %+v %v", r, err)
	}
	for _, name := range []string{dataFile, dataFile + "-wal"} { // as they lie while the program runs
		data, err := os.ReadFile(filepath.Join(s.o.Dir, name))
		if err != nil {
			t.Fatal(err)
		}
		if strings.Contains(string(data), string(secret)) {
			t.Errorf("%s still holds the person", name)
		}
		for i := 0; i+16 <= len(wrapped); i += 8 {
			if strings.Contains(string(data), string(wrapped[i:i+16])) {
				t.Errorf("%s still holds a part of the key", name)
			}
		}
	}
}

func TestLocalIsNoPartOfTheRecord(t *testing.T) {
	s := create(t)
	changes, cancel := s.Changes()
	defer cancel()
	l := s.Local("sessions")
	ctx := t.Context()
	for k, v := range map[string]string{"x": "1", "y": "2"} {
		if err := l.Put(ctx, k, []byte(v)); err != nil {
			t.Fatal(err)
		}
	}
	if err := errors.Join(l.Put(ctx, "x", []byte("3")), l.Delete(ctx, "y"), l.Delete(ctx, "never")); err != nil {
		t.Fatal(err)
	}
	if v, ok, err := l.Get(ctx, "x"); string(v) != "3" || !ok || err != nil {
		t.Errorf("%q %v %v", v, ok, err)
	}
	if _, ok, _ := s.Local("devices").Get(ctx, "x"); ok {
		t.Error("buckets are not apart")
	}
	if m, err := l.All(ctx); err != nil || len(m) != 1 || string(m["x"]) != "3" {
		t.Errorf("%v %v", m, err)
	}
	select {
	case <-changes:
		t.Error("a local value is no change of the record")
	default:
	}
	write(t, s, Draft{Subject: jarRef("a"), Body: added{1}}, Draft{Subject: jarRef("a"), Body: added{1}})
	write(t, s, Draft{Subject: jarRef("a"), Body: added{1}})
	<-changes
	select {
	case <-changes:
		t.Error("pokes are not put together")
	default:
	}
}

func TestReadersKeepTheirSnapshotAndDoNotWait(t *testing.T) {
	s := create(t)
	write(t, s, Draft{Subject: jarRef("a"), Body: added{1}})
	err := s.Read(t.Context(), func(v *View) error {
		total := func() int { st, _, _ := v.State(jarRef("a")); return st.(*jar).Total }
		if total() != 1 {
			t.Error("before")
		}
		write(t, s, Draft{Subject: jarRef("a"), Body: added{1}}) // the writer does not wait for the reader either
		if total() != 1 {
			t.Error("the snapshot moved")
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	// A reader during a command that is not finished sees what was there before it.
	mustWrite(t, s, func(tx *Tx) error {
		_, err := tx.Append(Draft{Subject: jarRef("a"), Body: added{1}})
		if got := jarOf(t, s, "a"); got.Total != 2 {
			t.Errorf("a reader sees %d", got.Total)
		}
		return err
	})
	if got := jarOf(t, s, "a"); got.Total != 3 {
		t.Errorf("after: %d", got.Total)
	}
}

func TestUseAfterTheEndIsRefused(t *testing.T) {
	s := create(t)
	var tx *Tx
	var v *View
	mustWrite(t, s, func(x *Tx) error { tx = x; return nil })
	mustRead(t, s, func(x *View) error { v = x; return nil })
	if _, err := tx.Append(Draft{Subject: jarRef("a"), Body: added{1}}); !errors.Is(err, errOver) {
		t.Error(err)
	}
	if _, err := v.All("jar"); !errors.Is(err, errOver) {
		t.Error(err)
	}
	ended, stop := context.WithCancel(t.Context())
	stop()
	if err := s.Write(ended, func(*Tx) error { t.Error("ran"); return nil }); !errors.Is(err, context.Canceled) {
		t.Error(err)
	}
	if err := s.Read(ended, func(v *View) error { _, err := v.All("jar"); return err }); !errors.Is(err, context.Canceled) {
		t.Error(err)
	}
	if got := jarOf(t, s, "a"); got != nil {
		t.Error(got)
	}
	shut(t, s)
	wantFault(t, s.Write(t.Context(), func(*Tx) error { return nil }), fault.Unusable, "record-closed")
	wantFault(t, s.Read(t.Context(), func(*View) error { return nil }), fault.Unusable, "record-closed")
	if err := s.Close(); err != nil {
		t.Error(err)
	}
}
