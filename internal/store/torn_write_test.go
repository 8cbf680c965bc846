package store

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"maps"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"sync"
	"testing"
)

// sector is the most that a disk is trusted to write whole.
const sector = 512

// tornCommands is how many commands are recorded. Each gives an amount to two jars, so that half a command would show.
const tornCommands = 150

// A laptop may lose power between any two things that it asked of its disk. Then everything is on the disk that it was told
// to sync, and of the rest any part, in sectors. This test writes down everything that reaches the disk during some hundred
// commands, builds what could be there after a power cut at many of those moments, and opens it.
func TestPowerCutBetweenAnyTwoWrites(t *testing.T) {
	plain := options(filepath.Join(t.TempDir(), "record"))
	sealed := options(filepath.Join(t.TempDir(), "record"))
	sealed.Passphrase = func() ([]byte, error) { return []byte("three invented words for a test"), nil }
	t.Run("plain", func(t *testing.T) { powerCuts(t, plain, 1, 41) })
	t.Run("encrypted", func(t *testing.T) { powerCuts(t, sealed, 2, 97) })
}

// powerCuts tries one of so many moments: all of them, which take ten minutes, have been tried once.
func powerCuts(t *testing.T, o Options, seed uint64, every int) {
	t.Helper()
	d := under(t)
	first, err := Create(t.Context(), o)
	must(t, err)
	write(t, first, Draft{Subject: jarRef("a"), Body: added{0}}, Draft{Subject: jarRef("b"), Body: added{0}})
	shut(t, first)
	o.given = &first.keys
	start := bytesIn(t, o.Dir)

	d.mu.Lock()
	d.record = true
	d.mu.Unlock()
	s, err := Open(t.Context(), o)
	must(t, err)
	for i := range tornCommands {
		mustWrite(t, s, func(tx *Tx) error {
			for _, jar := range []string{"a", "b"} {
				if _, err := tx.Append(Draft{Subject: jarRef(jar), Body: added{i + 1}}); err != nil {
					return err
				}
			}
			if i%40 == 20 {
				return tx.Erase(jarRef("c")) // empties the log
			}
			return nil
		})
		d.answered(i + 1)
	}
	shut(t, s)
	d.mu.Lock()
	ops := d.ops
	d.record = false
	d.mu.Unlock()

	w := &wreck{r: rand.New(rand.NewPCG(seed, 1)), synced: start, loose: map[string][]op{}}
	var tries sync.WaitGroup
	places := make(chan string, runtime.GOMAXPROCS(0)) // folders in which an image may be opened
	for range cap(places) {
		places <- t.TempDir()
	}
	syncs, images := 0, 0
	for i, o2 := range ops {
		w.take(o2)
		if o2.what == "sync" {
			syncs++
		}
		if i%every != 0 {
			continue
		}
		images++
		image, how := w.image()
		o, answered := o, w.answered
		o.Dir = <-places
		tries.Go(func() {
			defer func() { places <- o.Dir }()
			if err := survives(o, image, answered); err != nil {
				t.Errorf("power cut after %d of %d (%s %s at %d), %s: %v", i+1, len(ops), o2.what, o2.file, o2.off, how, err)
			}
		})
	}
	tries.Wait()
	if syncs < tornCommands {
		t.Errorf("%d syncs for %d commands", syncs, tornCommands)
	}
	t.Logf("%d power cuts tried among %d writes and syncs", images, len(ops))
}

// survives opens what a power cut left: without repair, with every command that was answered, and no half of another.
func survives(o Options, image map[string][]byte, answered int) (err error) {
	if err := put(o.Dir, image); err != nil {
		return err
	}
	s, err := Open(context.Background(), o)
	if err != nil {
		return fmt.Errorf("it does not open: %w", err)
	}
	defer func() { err = errors.Join(err, s.Close()) }()
	jars := map[string]*jar{}
	err = s.Read(context.Background(), func(v *View) error {
		for _, id := range []string{"a", "b"} {
			state, ok, err := v.State(jarRef(id))
			if err != nil || !ok {
				return errors.Join(err, fmt.Errorf("jar %s is there: %t", id, ok))
			}
			jars[id] = state.(*jar)
		}
		return nil
	})
	if err != nil {
		return err
	}
	a, b := jars["a"], jars["b"]
	n := len(a.Trail) - 1
	for _, c := range []struct {
		wrong bool
		say   string
	}{
		{n < answered, fmt.Sprintf("%d commands are there, %d were answered", n, answered)},
		{n > answered+1, fmt.Sprintf("%d commands are there, %d were answered and one was at work", n, answered)},
		{len(b.Trail) != len(a.Trail) || a.Total != b.Total, fmt.Sprintf("half a command: %d and %d", len(a.Trail), len(b.Trail))},
		{a.Total != n*(n+1)/2, fmt.Sprintf("%d commands amount to %d", n, a.Total)},
	} {
		if c.wrong {
			err = errors.Join(err, errors.New(c.say))
		}
	}
	report, failed := s.Check(context.Background())
	if report.Problems != nil {
		err = errors.Join(err, fmt.Errorf("check: %v", report.Problems))
	}
	return errors.Join(err, failed)
}

// wreck follows what a disk holds for sure, and what may or may not be there.
type wreck struct {
	r        *rand.Rand
	synced   map[string][]byte
	loose    map[string][]op // since the file's last sync, in order
	answered int
}

func (w *wreck) take(o op) {
	switch o.what {
	case "answered":
		w.answered = o.answered
	case "sync":
		data, there := w.synced[o.file]
		for _, l := range w.loose[o.file] {
			data, there = l.onto(data, there, nil)
		}
		delete(w.loose, o.file)
		delete(w.synced, o.file)
		if there {
			w.synced[o.file] = data
		}
	default:
		w.loose[o.file] = append(w.loose[o.file], o)
	}
}

// onto gives a file, changed in place, after an operation, of which only the sectors that keep says come through; nil keeps all.
func (o op) onto(data []byte, there bool, keep func() bool) ([]byte, bool) {
	switch o.what {
	case "delete":
		return nil, false
	case "truncate":
		if int64(len(data)) > o.off {
			return data[:o.off], true
		}
		return grow(data, int(o.off)), true
	}
	for from := 0; from < len(o.data); {
		at := int(o.off) + from
		to := min(len(o.data), from+sector-at%sector)
		if keep == nil || keep() {
			data, there = grow(data, int(o.off)+to), true
			copy(data[at:], o.data[from:to])
		}
		from = to
	}
	return data, there
}

func grow(data []byte, size int) []byte {
	if len(data) >= size {
		return data
	}
	return append(data, make([]byte, size-len(data))...)
}

// image is one thing that could be on the disk now.
func (w *wreck) image() (files map[string][]byte, how string) {
	files = map[string][]byte{} // of their own, for what is synced goes on
	for name, data := range w.synced {
		files[name] = bytes.Clone(data)
	}
	const none, all, prefix, torn, grown = 0, 1, 2, 3, 4
	way := w.r.IntN(5)
	for _, name := range slices.Sorted(maps.Keys(w.loose)) {
		ops := w.loose[name]
		data, there := files[name]
		end := len(data)
		for i, o := range ops {
			end = max(end, int(o.off)+len(o.data))
			keep := func() bool { return way >= torn && w.r.IntN(2) == 0 }
			if way == all || way == prefix && i < len(ops)/2 {
				keep = nil
			}
			if o.what != "write" && way != all && w.r.IntN(2) == 0 {
				continue
			}
			data, there = o.onto(data, there, keep)
		}
		if way == grown && there { // the length is there before what it should hold
			old := len(data)
			data = grow(data, end)
			for i := old; i < len(data); i++ {
				data[i] = byte(w.r.Uint32())
			}
		}
		delete(files, name)
		if there {
			files[name] = data
		}
	}
	return files, []string{"nothing of the rest", "all of the rest", "the first half of the rest", "some sectors of the rest", "some sectors of the rest and noise behind them"}[way]
}

func bytesIn(t *testing.T, dir string) map[string][]byte {
	t.Helper()
	held, err := os.ReadDir(dir)
	must(t, err)
	out := map[string][]byte{}
	for _, f := range held {
		data, err := os.ReadFile(filepath.Join(dir, f.Name()))
		must(t, err)
		out[f.Name()] = data
	}
	return out
}

// put makes a folder hold these files and no other.
func put(dir string, files map[string][]byte) error {
	if err := os.RemoveAll(dir); err != nil {
		return err
	}
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return err
	}
	for name, data := range files {
		if err := os.WriteFile(filepath.Join(dir, name), data, 0o600); err != nil {
			return err
		}
	}
	return nil
}
