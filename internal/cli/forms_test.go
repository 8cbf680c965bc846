package cli

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// The numbers of forms are given once: a new pack goes on with them, and an old one can be made again.
func TestForms(t *testing.T) {
	on := market(t)
	run := func(args ...string) (int, string) {
		code, out, said := on(append([]string{"forms", "--event", "Tamsin Green"}, args...)...)
		return code, out + said
	}
	dir := t.TempDir()
	file := filepath.Join(dir, "forms.pdf")
	for _, c := range []struct {
		args []string
		code int
		says string
	}{
		{[]string{"--count", "3", "--lang", "es", "--out", file}, 0, "Forms 001 to 003 are in"},
		{[]string{"--count", "2", "--paper", "a4", "--out", file}, 0, "Forms 004 to 005 are in"},
		{[]string{"--from", "1", "--count", "3", "--out", file}, 0, "Forms 001 to 003 are in"},
		{[]string{"--from", "2", "--out", file}, 0, "Forms 002 to 003 are in"},
		{[]string{"--from", "3", "--count", "2", "--out", file}, 2, "were not printed together"},
		{[]string{"--from", "6", "--out", file}, 2, "were not printed together"},
		{[]string{"--count", "501", "--out", file}, 2, "must be from 1 to 500"},
		{[]string{"--count", "1", "--lang", "xx", "--out", file}, 2, "The language cannot be"},
		{[]string{"--count", "1"}, 2, "No file was named"},
		{[]string{"--out", file}, 2, "how many forms"},
		{[]string{"--count", "1", "--paper", "poster", "--out", file}, 2, `There is no paper "poster"`},
		{[]string{"--count", "1", "--out", filepath.Join(dir, "none", "forms.pdf")}, 1, "make the pack again with --from 6 --count 1"},
	} {
		if code, says := run(c.args...); code != c.code || !strings.Contains(says, c.says) {
			t.Errorf("%v: exit %d and %q, want %d and %q", c.args, code, says, c.code, c.says)
		}
	}
	raw, err := os.ReadFile(file)
	if err != nil || !bytes.HasPrefix(raw, []byte("%PDF-")) {
		t.Errorf("the file begins %.8q, %v", raw, err)
	}
	if info, err := os.Stat(file); err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("the file has the mode %v, %v", info.Mode(), err)
	}
}
