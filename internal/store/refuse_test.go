package store

import (
	"bytes"
	"context"
	"fmt"
	"os"
	osexec "os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/ncruces/go-sqlite3"

	"fairstick/internal/fault"
)

// closedRecord makes a folder with a small record that was closed in order.
func closedRecord(t *testing.T) (dir string) {
	t.Helper()
	s := create(t)
	for i := range 40 {
		write(t, s, Draft{Subject: jarRef(string(rune('a' + i%20))), Body: added{i}})
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	return s.o.Dir
}

func patch(t *testing.T, path string, change func([]byte) []byte) {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, change(data), 0o600); err != nil {
		t.Fatal(err)
	}
}

// rewrite changes the database as another program would.
func rewrite(t *testing.T, path, sql string) {
	t.Helper()
	db, err := sqlite3.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := db.Exec(sql); err != nil {
		t.Fatal(err)
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
}

func TestOpenRefusesAndTouchesNothing(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct {
		key   string
		spoil func(t *testing.T, dir string)
	}{
		"no folder": {"record-missing", func(t *testing.T, dir string) { must(t, os.RemoveAll(dir)) }},
		"no file":   {"record-missing", func(t *testing.T, dir string) { must(t, os.Remove(filepath.Join(dir, dataFile))) }},
		"empty file": {"record-foreign", func(t *testing.T, dir string) {
			patch(t, filepath.Join(dir, dataFile), func([]byte) []byte { return nil })
		}},
		"not a database": {"record-foreign", func(t *testing.T, dir string) {
			patch(t, filepath.Join(dir, dataFile), func([]byte) []byte { return bytes.Repeat([]byte("a shopping list\n"), 99) })
		}},
		"another program's": {"record-foreign", func(t *testing.T, dir string) {
			must(t, os.Remove(filepath.Join(dir, dataFile)))
			rewrite(t, filepath.Join(dir, dataFile), `CREATE TABLE song (title TEXT); PRAGMA application_id = 7`)
		}},
		"newer": {"record-newer", func(t *testing.T, dir string) {
			rewrite(t, filepath.Join(dir, dataFile), `PRAGMA user_version = 2`)
		}},
		"torn": {"record-damaged", func(t *testing.T, dir string) {
			patch(t, filepath.Join(dir, dataFile), func(b []byte) []byte { return b[:len(b)-3*4096-100] })
		}},
		"garbage in the middle": {"record-damaged", func(t *testing.T, dir string) {
			patch(t, filepath.Join(dir, dataFile), func(b []byte) []byte {
				copy(b[len(b)/2/4096*4096:], bytes.Repeat([]byte{0xA5}, 4096))
				return b
			})
		}},
		"no keys": {"keys-unreadable", func(t *testing.T, dir string) { must(t, os.Remove(filepath.Join(dir, keysFile))) }},
		"spoilt keys": {"keys-unreadable", func(t *testing.T, dir string) {
			patch(t, filepath.Join(dir, keysFile), func(b []byte) []byte { return bytes.Replace(b, []byte(`"sign": "`), []byte(`"sign": "AAAA`), 1) })
		}},
		"keys of another record": {"keys-unreadable", func(t *testing.T, dir string) {
			other, err := os.ReadFile(filepath.Join(closedRecord(t), keysFile))
			if err != nil {
				t.Fatal(err)
			}
			patch(t, filepath.Join(dir, keysFile), func([]byte) []byte { return other })
		}},
		"entries cut off the end": {"record-damaged", func(t *testing.T, dir string) {
			rewrite(t, filepath.Join(dir, dataFile), `DROP TRIGGER entry_is_never_deleted; DELETE FROM entry WHERE seq > 38`)
		}},
	} {
		t.Run(name, func(t *testing.T) {
			dir := closedRecord(t)
			c.spoil(t, dir)
			before := map[string]string{}
			if name != "no folder" {
				before = bytesOf(t, dir)
			}
			s, err := Open(t.Context(), options(dir))
			if err == nil {
				shut(t, s)
			}
			wantFault(t, err, fault.Unusable, c.key)
			f := fault.Of(err)
			if strings.Count(f.Sentence, ".")-strings.Count(dir, ".")-strings.Count(f.Sentence, dataFile) != 1 || f.Do == "" {
				t.Errorf("not one sentence and what to do: %q, %q", f.Sentence, f.Do)
			}
			if name == "no folder" {
				if _, err := os.Stat(dir); !os.IsNotExist(err) {
					t.Error("the folder was made")
				}
				return
			}
			if diff := cmp.Diff(before, bytesOf(t, dir)); diff != "" {
				t.Error(diff)
			}
		})
	}
}

func TestCreateRefusesAFolderInUse(t *testing.T) {
	dir := closedRecord(t)
	before := bytesOf(t, dir)
	_, err := Create(t.Context(), options(dir))
	wantFault(t, err, fault.Unusable, "record-exists")
	if diff := cmp.Diff(before, bytesOf(t, dir)); diff != "" {
		t.Error(diff)
	}
	other := t.TempDir()
	must(t, os.WriteFile(filepath.Join(other, "letter.txt"), []byte("Dear"), 0o600))
	_, err = Create(t.Context(), options(other))
	wantFault(t, err, fault.Unusable, "folder-not-empty")
	if got := bytesOf(t, other); len(got) != 1 {
		t.Error(got)
	}
}

func TestCreateKeepsTheFolderPrivate(t *testing.T) {
	if runtime.GOOS == "windows" {
		return // no such permissions there
	}
	s := create(t)
	write(t, s, Draft{Subject: jarRef("a"), Body: added{1}})
	for name, want := range map[string]os.FileMode{".": 0o700, dataFile: 0o600, keysFile: 0o600, lockFile: 0o600} {
		info, err := os.Stat(filepath.Join(s.o.Dir, name))
		if err != nil || info.Mode().Perm() != want {
			t.Errorf("%s: %v %v", name, info.Mode(), err)
		}
	}
}

// lookFor makes this test binary a second process that opens the folder named and says what came of it.
const lookFor = "STORE_TEST_OPEN"

func TestMain(m *testing.M) {
	if dir := os.Getenv(lookFor); dir != "" {
		s, err := Open(context.Background(), options(dir))
		if err != nil {
			fmt.Print(fault.Of(err).Key)
			os.Exit(0)
		}
		if err := s.Close(); err != nil {
			fmt.Print(err)
		}
		fmt.Print("opened")
		os.Exit(0)
	}
	os.Exit(m.Run())
}

func TestSecondProcessIsRefused(t *testing.T) {
	s := create(t)
	write(t, s, Draft{Subject: jarRef("a"), Body: added{1}})
	dir := s.o.Dir
	other := func() string {
		cmd := osexec.CommandContext(t.Context(), os.Args[0])
		cmd.Env = append(os.Environ(), lookFor+"="+dir)
		out, err := cmd.Output()
		if err != nil {
			t.Fatal(err)
		}
		return string(out)
	}
	before := bytesOf(t, dir)
	if got := other(); got != "record-in-use" {
		t.Errorf("a second process: %s", got)
	}
	if diff := cmp.Diff(before, bytesOf(t, dir)); diff != "" {
		t.Error(diff)
	}
	_, err := Open(t.Context(), options(dir))
	wantFault(t, err, fault.Unusable, "record-in-use")
	write(t, s, Draft{Subject: jarRef("a"), Body: added{1}})
	shut(t, s)
	if got := other(); got != "opened" {
		t.Errorf("after closing: %s", got)
	}
}

func TestReadOnlyLooksOnAndWritesNothing(t *testing.T) {
	s := create(t)
	write(t, s, Draft{Subject: jarRef("a"), Body: added{1}})
	o := options(s.o.Dir)
	o.ReadOnly = true
	look := func() *Store {
		r, err := Open(t.Context(), o)
		if err != nil {
			t.Fatal(err)
		}
		return r
	}
	r := look()
	write(t, s, Draft{Subject: jarRef("a"), Body: added{1}})
	if got := jarOf(t, r, "a"); got.Total != 2 {
		t.Errorf("it sees %d", got.Total)
	}
	wantFault(t, r.Write(t.Context(), func(*Tx) error { return nil }), fault.Refused, "read-only")
	if p := problems(t, r); p != nil {
		t.Error(p)
	}
	shut(t, r)
	shut(t, s)
	before := bytesOf(t, s.o.Dir)
	r = look()
	if got := jarOf(t, r, "a"); got.Total != 2 {
		t.Errorf("after closing it sees %d", got.Total)
	}
	shut(t, r)
	after := bytesOf(t, s.o.Dir)
	if after[dataFile] != before[dataFile] {
		t.Error("looking changed the record")
	}
	if log, err := os.Stat(filepath.Join(s.o.Dir, dataFile+"-wal")); err == nil && log.Size() != 0 {
		t.Error("looking wrote to the log")
	}
}

func TestAnUncleanEndLosesNothing(t *testing.T) {
	s := create(t)
	write(t, s, Draft{Subject: jarRef("a"), Body: added{1}})
	// What a laptop leaves that lost power: the files as they lie, without closing.
	dir := filepath.Join(t.TempDir(), "left")
	if err := os.CopyFS(dir, os.DirFS(s.o.Dir)); err != nil {
		t.Fatal(err)
	}
	must(t, os.Remove(filepath.Join(dir, dataFile+"-shm")))
	again, err := Open(t.Context(), options(dir))
	if err != nil {
		t.Fatal(err)
	}
	defer shut(t, again)
	if got := jarOf(t, again, "a"); got == nil || got.Total != 1 {
		t.Errorf("%+v", got)
	}
	if p := problems(t, again); p != nil {
		t.Error(p)
	}
}
