package e2e

import (
	"fmt"
	"io"
	"log/slog"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/ncruces/go-sqlite3"

	"fairstick/internal/demo"
	"fairstick/internal/programme"
	"fairstick/internal/store"
)

// millionRows are the derived rows of a record with a million visits at 20,000 events, written straight into the tables that a
// look-back reads: 50 visits an event, 2,000 lots of strips in 20,000 vials, 200 meters, 400 screeners. Each visit, event and lot is
// a copy of one of the invented day. The placeholders are the rows that are copied.
const millionRows = `
DROP INDEX mention_value; DROP INDEX mention_subject; DROP INDEX mention_across;
CREATE TEMP TABLE shape AS SELECT
  (SELECT state FROM subject WHERE kind = 'visit' AND json_array_length(state, '$.readings') = 1 AND json_extract(state, '$.call') = 1 ORDER BY label LIMIT 1) AS visit,
  (SELECT state FROM subject WHERE kind = 'event' AND json_extract(state, '$.phase') = 'open' LIMIT 1) AS event,
  (SELECT state FROM subject WHERE kind = 'strip-lot' LIMIT 1) AS lot, (SELECT state FROM subject WHERE kind = 'meter' LIMIT 1) AS meter,
  (SELECT state FROM subject WHERE kind = 'person' LIMIT 1) AS person;
CREATE TEMP TABLE n AS WITH RECURSIVE c (i) AS (SELECT 0 UNION ALL SELECT i + 1 FROM c WHERE i < 999999) SELECT i FROM c;
INSERT INTO subject (kind, id, parent, label, last_recorded, last_arrived, state)
  SELECT 'strip-lot', 'lot-' || i, '', 'bulk-' || i, '', 0, json_set(lot, '$.id', 'lot-' || i, '$.details.lot', 'BULK-' || i, '$.vials[0].name', 'v0') FROM n, shape WHERE i < 2000;
INSERT INTO subject (kind, id, parent, label, last_recorded, last_arrived, state)
  SELECT 'meter', 'meter-' || i, '', 'bulk-' || i, '', 0, json_set(meter, '$.id', 'meter-' || i, '$.details.label', 'BM' || i) FROM n, shape WHERE i < 200;
INSERT INTO subject (kind, id, parent, label, last_recorded, last_arrived, state)
  SELECT 'person', 'person-' || i, '', 'bulk-' || i, '', 0, json_set(person, '$.id', 'person-' || i, '$.details.name', 'Bulk ' || i) FROM n, shape WHERE i < 400;
INSERT INTO subject (kind, id, parent, label, last_recorded, last_arrived, state)
  SELECT 'event', 'event-' || i, '', date('2020-01-01', '+' || (i / 10) || ' days') || ' bulk ' || i, '', 0,
    json_set(event, '$.id', 'event-' || i, '$.plan.name', 'Bulk ' || i, '$.plan.date', date('2020-01-01', '+' || (i / 10) || ' days'), '$.phase', 'closed') FROM n, shape WHERE i < 20000;
INSERT INTO subject (kind, id, parent, label, last_recorded, last_arrived, state)
  SELECT 'visit', 'visit-' || i, 'event-' || (i / 50), printf('%06d', i % 50 + 1), '', 0,
    json_set(visit, '$.id', 'visit-' || i, '$.event', 'event-' || (i / 50), '$.ticket', i % 50 + 1, '$.readings[0].strip_lot', 'lot-' || (i / 500), '$.readings[0].vial', 'v' || (i / 50 % 10),
      '$.readings[0].meter', 'meter-' || ((i / 50 * 4 + i % 4) % 200), '$.readings[0].by', 'person-' || ((i / 50 * 4 + i % 4) % 400), '$.readings[0].screener', 'person-' || ((i / 50 * 4 + i % 4) % 400),
      '$.readings[0].at', strftime('%Y-%m-%dT%H:%M:00Z', '2020-01-01 09:00', '+' || (i / 500) || ' days', '+' || (i % 50 * 4) || ' minutes')) FROM n, shape;
INSERT INTO mention (kind, id, parent, name, value, at)
  SELECT 'visit', 'visit-' || i, 'event-' || (i / 50), m.name,
    CASE m.name WHEN 'strip-lot' THEN 'lot-' || (i / 500) WHEN 'vial' THEN 'lot-' || (i / 500) || '/v' || (i / 50 % 10) WHEN 'meter' THEN 'meter-' || ((i / 50 * 4 + i % 4) % 200) ELSE 'person-' || ((i / 50 * 4 + i % 4) % 400) END,
    1000 * unixepoch('2020-01-01 09:00', '+' || (i / 500) || ' days', '+' || (i % 50 * 4) || ' minutes')
  FROM n, (SELECT 'strip-lot' AS name UNION ALL SELECT 'vial' UNION ALL SELECT 'meter' UNION ALL SELECT 'screener') m;
INSERT INTO mention (kind, id, parent, name, value, at) SELECT 'event', 'event-' || i, '', 'strip-lot', 'lot-' || (i / 10), 0 FROM n WHERE i < 20000;
CREATE INDEX mention_value ON mention (kind, parent, name, value, at);
CREATE INDEX mention_subject ON mention (kind, id);
CREATE INDEX mention_across ON mention (kind, name, value, at, id);
ANALYZE;`

// plainLookBack is the look-back of a lot as one would ask it of the tables by hand, its figures taken out of the rows by SQLite.
const plainLookBack = `SELECT s.parent, s.label, json_extract(s.state, '$.readings[0].at'), json_extract(s.state, '$.readings[0].meter'), json_extract(s.state, '$.readings[0].by'), json_extract(s.state, '$.readings[0].supervisor'),
  json_extract(s.state, '$.readings[0].vial'), json_extract(s.state, '$.readings[0].reading'), json_extract(s.state, '$.call')
  FROM subject s WHERE s.kind = 'visit' AND s.id IN (SELECT id FROM mention WHERE kind = 'visit' AND name = 'strip-lot' AND value = ?) ORDER BY s.parent, s.label`

// BenchmarkLookBack asks the drills of a record with a million visits: a lot that was recalled (500 people), one screener at one
// event between two times, and a meter over all its years (5,000 people), each for the first time in a process. The lot is compared
// with the same question asked by hand of the same tables.
func BenchmarkLookBack(b *testing.B) {
	dir := filepath.Join(b.TempDir(), "data")
	clock := demo.NewClock(demo.Begins())
	o := store.Options{Dir: dir, Catalogue: programme.Catalogue(), Now: clock.Now, Log: slog.New(slog.DiscardHandler)}
	st, err := store.Create(b.Context(), o)
	fatal(b, err)
	_, err = demo.Make(b.Context(), programme.New(st, clock.Now, o.Log), clock)
	fatal(b, err)
	fatal(b, st.Close())
	db, err := sqlite3.Open("file:" + filepath.Join(dir, "fairstick.db"))
	fatal(b, err)
	began := time.Now()
	fatal(b, db.Exec(`PRAGMA synchronous = OFF; PRAGMA journal_mode = OFF; BEGIN`))
	fatal(b, db.Exec(millionRows))
	fatal(b, db.Exec(`COMMIT; PRAGMA journal_mode = WAL`))
	fatal(b, db.Close())
	info, err := os.Stat(filepath.Join(dir, "fairstick.db"))
	fatal(b, err)
	b.Logf("made in %s, %d MB", time.Since(began).Round(time.Second), info.Size()>>20)

	ask := func(ask programme.AskBack, people int) time.Duration {
		b.Helper()
		st, err := store.Open(b.Context(), o)
		fatal(b, err)
		p := programme.New(st, clock.Now, o.Log)
		start := time.Now()
		found, err := p.LookBack(b.Context(), ask)
		took := time.Since(start)
		fatal(b, err)
		if found.People < people || found.People > people*11/10 {
			b.Errorf("%+v: %d people, want about %d", ask, found.People, people)
		}
		b.Logf("%s %d people at %d events, %d control runs: %s", found.Words, found.People, len(found.Events), found.Runs, took.Round(time.Millisecond))
		fatal(b, st.Close())
		return took
	}
	for b.Loop() {
		lot := ask(programme.AskBack{StripLot: "BULK-1234"}, 500)
		plain := plainly(b, filepath.Join(dir, "fairstick.db"), "lot-1234", 500)
		b.ReportMetric(float64(lot.Milliseconds()), "lot-ms")
		b.ReportMetric(float64(lot)/float64(plain), "lot/plain")
		drill := ask(programme.AskBack{Event: "event-12345", Screener: "Bulk 180", FromTime: "05:00", UntilTime: "06:30"}, 6)
		b.ReportMetric(float64(drill.Milliseconds()), "screener-ms")
		b.ReportMetric(float64(ask(programme.AskBack{Event: "event-12345", Vial: "v0", StripLot: "BULK-1234"}, 0).Milliseconds()), "vial-ms")
		b.ReportMetric(float64(ask(programme.AskBack{Meter: "BM7"}, 4800).Milliseconds()), "meter-ms")
		b.ReportMetric(float64(ask(programme.AskBack{FromDay: "2021-03-01", UntilDay: "2021-03-07"}, 3400).Milliseconds()), "week-ms")
	}
}

// plainly times the question asked by hand.
func plainly(b *testing.B, file, lot string, people int) time.Duration {
	b.Helper()
	db, err := sqlite3.OpenFlags("file:"+file, sqlite3.OPEN_READONLY|sqlite3.OPEN_URI)
	fatal(b, err)
	start := time.Now()
	stmt, _, err := db.Prepare(plainLookBack)
	fatal(b, err)
	fatal(b, stmt.BindText(1, lot))
	n := 0
	for stmt.Step() {
		for i := range stmt.ColumnCount() {
			fmt.Fprint(io.Discard, stmt.ColumnText(i))
		}
		n++
	}
	fatal(b, stmt.Close())
	took := time.Since(start)
	if n != people {
		b.Fatalf("%d rows by hand, want %d", n, people)
	}
	fatal(b, db.Close())
	return took
}
