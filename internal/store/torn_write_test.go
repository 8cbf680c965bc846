package store

import (
	"bytes"
	"fmt"
	"maps"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
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
	dir := filepath.Join(t.TempDir(), "image")
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
		put(t, dir, image)
		o.Dir = dir
		if !survives(t, o, w.answered) {
			t.Fatalf("power cut after %d of %d (%s %s at %d), %s", i+1, len(ops), o2.what, o2.file, o2.off, how)
		}
	}
	if syncs < tornCommands {
		t.Errorf("%d syncs for %d commands", syncs, tornCommands)
	}
	t.Logf("%d power cuts tried among %d writes and syncs", images, len(ops))
}

// survives opens what a power cut left: without repair, with every command that was answered, and no half of another.
func survives(t *testing.T, o Options, answered int) bool {
	t.Helper()
	s, err := Open(t.Context(), o)
	if err != nil {
		t.Errorf("it does not open: %v", err)
		return false
	}
	defer shut(t, s)
	a, b := jarOf(t, s, "a"), jarOf(t, s, "b")
	n := len(a.Trail) - 1
	ok := true
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
			t.Error(c.say)
			ok = false
		}
	}
	if p := problems(t, s); p != nil {
		t.Errorf("check: %v", p)
		ok = false
	}
	return ok
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
	files = maps.Clone(w.synced)
	const none, all, prefix, torn, grown = 0, 1, 2, 3, 4
	way := w.r.IntN(5)
	for _, name := range slices.Sorted(maps.Keys(w.loose)) {
		ops := w.loose[name]
		data, there := files[name]
		data = bytes.Clone(data)
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
func put(t *testing.T, dir string, files map[string][]byte) {
	t.Helper()
	must(t, os.RemoveAll(dir))
	must(t, os.MkdirAll(dir, 0o700))
	for name, data := range files {
		must(t, os.WriteFile(filepath.Join(dir, name), data, 0o600))
	}
}
