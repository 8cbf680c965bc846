package many

import (
	"context"
	"crypto/ed25519"
	"crypto/sha256"
	"errors"
	"fmt"
	"path/filepath"
	"strings"

	"github.com/ncruces/go-sqlite3"

	"fairstick/internal/event"
	"fairstick/internal/followup"
	"fairstick/internal/logbook"
	"fairstick/internal/store"
	"fairstick/internal/visit"
)

// MakeWhole makes a record whose copies have entries of their own, so that it can be checked, and made again as after an update: a
// second laptop has screened the days of the invented season over and over, and its chain is taken in. All are on the days of that
// season. It gives how many visits and entries were copied.
func MakeWhole(ctx context.Context, dir string, visits int) (made, entries int, err error) {
	r := Record{Dir: dir}
	if _, err := r.season(ctx); err != nil {
		return 0, 0, err
	}
	season, ids, people, err := closedDays(dir)
	if err != nil {
		return 0, 0, err
	}
	st, err := store.Open(ctx, Options(dir))
	if err != nil {
		return 0, 0, err
	}
	defer func() { err = errors.Join(err, st.Close()) }()
	seed := sha256.Sum256([]byte("an invented second laptop"))
	key := ed25519.NewKeyFromSeed(seed[:])
	public := key.Public().(ed25519.PublicKey)
	head := logbook.Head{Node: logbook.NodeName(public)}
	for turn := 0; made < visits; turn++ {
		run := logbook.Run{Node: head.Node, Public: public, Entries: make([][]byte, 0, len(season))}
		var given []string
		for i, id := range ids {
			given = append(given, id, fmt.Sprintf("%08d-%04d-7000-8000-00000000e0e0", turn, i))
		}
		copied := strings.NewReplacer(given...)
		for _, e := range season {
			e.Subject.ID, e.Body = copied.Replace(e.Subject.ID), []byte(copied.Replace(string(e.Body)))
			link, err := head.Extend(e)
			if err != nil {
				return 0, 0, err
			}
			run.Entries, head = append(run.Entries, link.Bytes), link.Head()
		}
		run.Signature = head.Sign(key)
		added, err := st.Absorb(ctx, run)
		if err != nil {
			return 0, 0, err
		}
		made, entries = made+people, entries+added
	}
	return made, entries, nil
}

// closedDays reads the entries of the closed events of a record and of all who came to them, with the ids of these, and how many came.
func closedDays(dir string) (out []logbook.Entry, ids []string, people int, err error) {
	db, err := sqlite3.Open("file:" + filepath.Join(dir, "fairstick.db"))
	if err != nil {
		return nil, nil, 0, err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	closed := `SELECT id FROM subject WHERE kind = '` + event.Kind + `' AND json_extract(state, '$.phase') = '` + string(event.IsClosed) + `'`
	of := `(s.kind = '` + event.Kind + `' AND s.id IN (` + closed + `) OR s.kind IN ('` + visit.Kind + `', '` + followup.Kind + `') AND s.parent IN (` + closed + `))`
	seen := map[string]bool{}
	var bad error
	err = ask(db, `SELECT e.bytes FROM entry e JOIN subject s ON s.kind = e.subject_kind AND s.id = e.subject_id WHERE `+of+` ORDER BY e.arrived`, func(s *sqlite3.Stmt) {
		e, err := logbook.Decode(s.ColumnBlob(0, nil))
		bad = errors.Join(bad, err)
		out = append(out, e)
		if !seen[e.Subject.ID] { // a follow-up has the id of its visit
			seen[e.Subject.ID] = true
			ids = append(ids, e.Subject.ID)
			if e.Subject.Kind != event.Kind {
				people++
			}
		}
	})
	if err = errors.Join(err, bad); err == nil && people == 0 {
		err = errors.New("many: nobody came to a closed event of the invented season")
	}
	return out, ids, people, err
}
