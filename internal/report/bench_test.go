package report

import (
	"context"
	"fmt"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	"fairstick/internal/civil"
	"fairstick/internal/event"
	"fairstick/internal/fact"
	"fairstick/internal/programme"
	"fairstick/internal/protocol"
	"fairstick/internal/store"
	"fairstick/internal/visit"
)

// BenchmarkSeason reads the season of an invented programme whose record holds so many visits, all of them in the season, and holds
// it against the same SQL in the sqlite3 shell, which only writes the rows down. Run it with -benchtime 3x and, for the figures of
// docs/measured.md, with -timeout 2h: a million visits take long to record.
func BenchmarkSeason(b *testing.B) {
	for _, visits := range []int{10_000, 100_000, 1_000_000} {
		b.Run(fmt.Sprint(visits), func(b *testing.B) {
			if visits > 100_000 && testing.Short() {
				b.Logf("a million visits are left out with -short")
				return
			}
			s, dir := many(b, visits)
			ask := programme.FiguresAsk{Span: programme.Span{From: civil.MustParse("2020-01-01"), To: civil.MustParse("2039-12-31")}}
			shell := shellTime(b, filepath.Join(dir, "fairstick.db"))
			var most uint64
			b.ResetTimer()
			for range b.N {
				runtime.GC()
				var before, after runtime.MemStats
				runtime.ReadMemStats(&before)
				f, err := s.p.Figures(s.ctx, ask)
				if err != nil || f.All.N("tested") != visits {
					b.Fatalf("%v", err)
				}
				if _, err := Of("season", f); err != nil {
					b.Fatal(err)
				}
				runtime.ReadMemStats(&after)
				most = max(most, after.HeapSys)
			}
			took := b.Elapsed() / time.Duration(b.N)
			b.ReportMetric(float64(took)/float64(shell), "of-shell")
			b.ReportMetric(float64(most)/1e6, "MB-heap")
			b.ReportMetric(shell.Seconds(), "s-shell")
		})
	}
}

// shellTime runs the query of the report in the sqlite3 shell.
func shellTime(b *testing.B, file string) time.Duration {
	b.Helper()
	sql := `SELECT t.parent, t.id, t.line FROM subject e CROSS JOIN tally t ON t.kind = 'visit' AND t.parent = e.id
		WHERE e.kind = 'event' AND e.label >= '2020-01-01' AND e.label < '2040-01-01' ORDER BY e.label, e.id, t.id;`
	best := time.Duration(0)
	for range 3 {
		cmd := exec.CommandContext(context.Background(), "sqlite3", "-readonly", file)
		cmd.Stdin = strings.NewReader(".output /dev/null\n" + sql)
		at := time.Now()
		if said, err := cmd.CombinedOutput(); err != nil {
			b.Fatalf("the sqlite3 shell: %v %s", err, said)
		}
		if took := time.Since(at); best == 0 || took < best {
			best = took
		}
	}
	return best
}

// many records visits with the fewest facts that count, 50 an event.
func many(b *testing.B, visits int) (*acceptance, string) {
	b.Helper()
	dir := b.TempDir() + "/data"
	now := time.Date(2040, 1, 1, 9, 0, 0, 0, time.UTC)
	st, err := store.Create(b.Context(), store.Options{Dir: dir, Catalogue: programme.Catalogue(), Now: func() time.Time { now = now.Add(time.Millisecond); return now }})
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() {
		if err := st.Close(); err != nil {
			b.Error(err)
		}
	})
	s := &acceptance{t: b, ctx: b.Context(), store: st, p: programme.New(st, func() time.Time { return now }, nil), proto: protocol.Default()}
	s.setting()
	first := civil.MustParse("2020-01-01")
	findings := map[string]*protocol.Finding{}
	for _, band := range seasonBands {
		f, err := s.proto.Find(s.reading(band.shown), protocol.Random)
		if err != nil {
			b.Fatal(err)
		}
		findings[band.shown] = &f
	}
	n := 0
	for e := 0; n < visits; e++ {
		id := fmt.Sprintf("event-%06d", e)
		day := first.AddDays(e % 7000)
		s.write(func(put func(fact.Ref, time.Time, string, fact.Body) fact.Record) {
			at := day.Time(time.UTC).Add(14 * time.Hour)
			put(event.Ref(id), at, s.lead, event.Planned{Name: fmt.Sprintf("Fair %d", e), Venue: "Hall", Date: day, Zone: "America/New_York", Expected: 50})
			put(event.Ref(id), at, s.lead, event.Opened{Protocol: s.proto.Version})
			for i := 0; i < 50 && n < visits; i++ {
				n++
				shown := seasonBands[(n*n/7)%13%len(seasonBands)].shown
				ref := visit.Ref(fmt.Sprintf("%s-%02d", id, i))
				put(ref, at, s.lead, visit.Arrived{Event: id, Ticket: i + 1, Language: []string{"en", "es"}[n%2]})
				put(ref, at, s.lead, visit.Answered{Answers: protocol.Answers{"age": fmt.Sprint(18 + n%70), "known-diabetes": "no"}, Eligible: true})
				r := put(ref, at.Add(5*time.Minute), s.lead, visit.ReadingTaken{Purpose: visit.First, Reading: s.reading(shown), Meter: "meter-1", StripLot: "lot-a", NewStick: true})
				put(ref, at.Add(5*time.Minute), s.lead, visit.Found{Finding: findings[shown], Counts: r.ID, Why: "first"})
				put(ref, at.Add(9*time.Minute), s.lead, visit.Finished{})
			}
		})
	}
	return s, dir
}
