package store

import (
	"fmt"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// TestCheckFindsWhatWasChangedByHand changes a closed record with another program, and looks at what Check says of it.
func TestCheckFindsWhatWasChangedByHand(t *testing.T) {
	t.Parallel()
	const open = `DROP TRIGGER entry_is_never_changed; DROP TRIGGER entry_is_never_deleted; `
	for name, c := range map[string]struct {
		sql  string
		want []string // NODE stands for the laptop
	}{
		"nothing":          {`SELECT 1`, nil},
		"a row":            {`UPDATE subject SET state = replace(state, '"total":4', '"total":5') WHERE id = 'b'`, []string{"The row of jar b is not what its entries say."}},
		"a label":          {`UPDATE subject SET label = 'z' WHERE id = 'b'`, []string{"The row of jar b is not what its entries say."}},
		"a mention":        {`UPDATE mention SET value = '9' WHERE id = 'b' AND value = '2'`, []string{"The mentions of jar b are not what its entries say."}},
		"a row gone":       {`DELETE FROM subject WHERE id = 'b'`, []string{"The row of jar b is missing."}},
		"a row too many":   {`INSERT INTO subject (kind, id, parent, label, state, last_recorded, last_arrived) VALUES ('jar', 'zz', '', '', '{}', '', 0)`, []string{"There is a row of jar zz, but no entry about it."}},
		"an entry":         {open + `UPDATE entry SET bytes = CAST(replace(CAST(bytes AS TEXT), '{"n":2}', '{"n":9}') AS BLOB) WHERE seq = 2`, []string{"Entry 2 of laptop NODE does not hold: its bytes or one before it were changed; the hash is another.", "The row of jar b is not what its entries say."}},
		"an entry's form":  {open + `UPDATE entry SET bytes = CAST(CAST(bytes AS TEXT) || ' ' AS BLOB) WHERE seq = 2`, []string{"Entry 2 of laptop NODE does not hold: the entry cannot be read: logbook: not in canonical form.", "The entries about jar b cannot be read."}},
		"a hash":           {open + `UPDATE entry SET hash = zeroblob(32) WHERE seq = 3`, []string{"Entry 3 of laptop NODE does not hold: its bytes or one before it were changed; the hash is another."}},
		"an entry gone":    {open + `DELETE FROM entry WHERE seq = 3`, []string{"Entry 3 of laptop NODE does not hold: the entry is missing; the next one is number 4.", "There is a row of jar c, but no entry about it."}},
		"two swapped":      {open + `UPDATE entry SET seq = seq + 100 WHERE seq IN (2, 3); UPDATE entry SET seq = 105 - seq WHERE seq > 100`, []string{"Entry 2 of laptop NODE does not hold: the entry is missing; the next one is number 3."}},
		"the end cut off":  {open + `DELETE FROM entry WHERE seq = 4`, []string{"The chain of laptop NODE ends at entry 3, but 4 were signed.", "The row of jar b is not what its entries say."}},
		"cut and smoothed": {open + `DELETE FROM entry WHERE seq = 4; UPDATE node SET seq = 3, hash = (SELECT hash FROM entry WHERE seq = 3)`, []string{"The end of the chain of laptop NODE does not bear its signature.", "The row of jar b is not what its entries say."}},
		"misfiled":         {open + `UPDATE entry SET subject_id = 'a' WHERE seq = 3`, []string{"Entry 3 of laptop NODE is filed under something other than what it says.", "The row of jar a is not what its entries say.", "There is a row of jar c, but no entry about it."}},
		"a stray":          {open + `PRAGMA foreign_keys = OFF; INSERT INTO entry VALUES (99, 'x', 1, 'y', 'jar', 'b', '', '', x'00', x'00')`, []string{"There are entries of laptop x, but its key is not here.", "The entries about jar b cannot be read."}},
		"a key":            {`INSERT INTO subject_key VALUES ('jar', 'b', x'0102', '')`, []string{"The key of jar b cannot be unwrapped: its personal data cannot be read."}},
	} {
		t.Run(name, func(t *testing.T) {
			s := create(t)
			for i, id := range []string{"a", "b", "c", "b"} {
				write(t, s, Draft{Subject: jarRef(id), Body: added{i + 1 - i/3*2}})
			}
			shut(t, s)
			rewrite(t, filepath.Join(s.o.Dir, dataFile), c.sql)
			o := options(s.o.Dir)
			o.ReadOnly = true
			r, err := Open(t.Context(), o)
			if err != nil {
				t.Fatal(err)
			}
			defer shut(t, r)
			var want []string
			for _, w := range c.want {
				want = append(want, strings.ReplaceAll(w, "NODE", s.Node()))
			}
			if diff := cmp.Diff(want, problems(t, r)); diff != "" {
				t.Error(diff)
			}
		})
	}
}

func TestEntriesCannotBeChangedInSQL(t *testing.T) {
	s := create(t)
	write(t, s, Draft{Subject: jarRef("a"), Body: added{1}})
	for _, sql := range []string{`UPDATE entry SET recorded = ''`, `DELETE FROM entry`} {
		err := s.Write(t.Context(), func(tx *Tx) error { return exec(tx.w.c, sql) })
		if err == nil || !strings.Contains(err.Error(), "an entry is never") {
			t.Errorf("%s: %v", sql, err)
		}
	}
}

func TestRebuildMendsARow(t *testing.T) {
	s := create(t)
	write(t, s, Draft{Subject: jarRef("a"), Body: added{1}}, Draft{Subject: jarRef("b"), Body: added{2}})
	err := s.Write(t.Context(), func(tx *Tx) error {
		return exec(tx.w.c, `UPDATE subject SET state = replace(state, '"total":2', '"total":3')`)
	})
	if err != nil {
		t.Fatal(err)
	}
	if p := problems(t, s); len(p) != 1 {
		t.Fatal(p)
	}
	if err := s.Rebuild(t.Context()); err != nil {
		t.Fatal(err)
	}
	if p := problems(t, s); p != nil {
		t.Error(p)
	}
	if got := jarOf(t, s, "b"); got.Total != 2 {
		t.Errorf("%+v", got)
	}
}

// A program that knows another subject, or was built anew, folds the entries again when it opens the record.
func TestAnotherProgramFoldsAgain(t *testing.T) {
	for name, sql := range map[string]string{
		"another shape": `UPDATE meta SET value = 'x' WHERE key = 'derived_shape'; UPDATE subject SET state = '{"id":"a","total":99}'`,
		"another build": `UPDATE meta SET value = 'x' WHERE key = 'derived_by'; UPDATE subject SET state = '{"id":"a","total":99}'`,
	} {
		t.Run(name, func(t *testing.T) {
			s := create(t)
			write(t, s, Draft{Subject: jarRef("a"), Body: added{1}})
			shut(t, s)
			rewrite(t, filepath.Join(s.o.Dir, dataFile), sql)
			o := options(s.o.Dir)
			o.ReadOnly = true
			r, err := Open(t.Context(), o)
			if name == "another shape" {
				wantFault(t, err, "unusable", "other-version")
			} else if err != nil {
				t.Fatal(err)
			} else {
				shut(t, r)
			}
			if s, err = Open(t.Context(), options(s.o.Dir)); err != nil {
				t.Fatal(err)
			}
			defer shut(t, s)
			if got := jarOf(t, s, "a"); got.Total != 1 {
				t.Errorf("%+v", got)
			}
			if p := problems(t, s); p != nil {
				t.Error(p)
			}
		})
	}
}

// Every statement that is written in this package must prepare on the schema; those of rare paths are shown to it here.
func TestQueriesUseTheirIndexes(t *testing.T) {
	s := create(t)
	for sql, index := range map[string]string{
		`SELECT arrived, bytes FROM entry WHERE subject_kind = 'a' AND subject_id = 'b' ORDER BY recorded, node, seq`:  "entry_subject",
		`SELECT bytes FROM entry WHERE recorded > 'a' ORDER BY recorded, node, seq LIMIT 9`:                            "entry_recorded",
		`SELECT 1 FROM entry WHERE corrects = 'a' AND corrects <> ''`:                                                  "entry_corrects",
		`SELECT ` + heldColumns + ` FROM subject WHERE kind = 'a' AND parent = 'b' ORDER BY label, id`:                 "subject_children",
		`SELECT ` + heldColumns + ` FROM subject WHERE kind = 'a' ORDER BY label, id`:                                  "subject_list",
		`SELECT DISTINCT subject_kind, subject_id FROM entry ORDER BY subject_kind, subject_id`:                        "entry_subject",
		`SELECT count(*) FROM mention WHERE kind = 'a' AND name = 'b' AND value = 'c' AND at BETWEEN 1 AND 2`:          "COVERING INDEX mention_across",
		`SELECT ` + heldColumns + ` FROM subject WHERE kind = 'a' AND label >= 'b' AND label < 'c' ORDER BY label, id`: "subject_list",
		`SELECT seq, hash FROM entry WHERE node = 'a' ORDER BY seq DESC LIMIT 1`:                                       "sqlite_autoindex_entry_1",
	} {
		mustRead(t, s, func(v *View) error {
			plan, err := all(v.c, func(r row) string { return r.text(3) }, `EXPLAIN QUERY PLAN `+sql)
			if said := fmt.Sprint(plan); err != nil || !strings.Contains(said, index) || strings.Contains(said, "TEMP B-TREE") {
				t.Errorf("%s\n%s %v", sql, said, err)
			}
			return nil
		})
	}
}
