package exchange_test

import (
	"bufio"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"strconv"
	"sync/atomic"
	"testing"
	"time"

	"fairstick/internal/charter"
	"fairstick/internal/civil"
	"fairstick/internal/event"
	"fairstick/internal/exchange"
	"fairstick/internal/exchange/fhir"
	"fairstick/internal/fact"
	"fairstick/internal/glucose"
	"fairstick/internal/programme"
	"fairstick/internal/protocol"
	"fairstick/internal/stock"
	"fairstick/internal/store"
	"fairstick/internal/testrecord"
	"fairstick/internal/visit"
)

// counter counts what is written to it.
type counter struct{ n int64 }

func (c *counter) Write(p []byte) (int, error) { c.n += int64(len(p)); return len(p), nil }

// peak watches the heap while something runs, and gives the most that was in use above what was before.
func peak(do func()) uint64 {
	runtime.GC()
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	before := m.HeapInuse
	var most atomic.Uint64
	stop, done := make(chan struct{}), make(chan struct{})
	go func() {
		defer close(done)
		for {
			select {
			case <-stop:
				return
			case <-time.After(20 * time.Millisecond):
				var m runtime.MemStats
				runtime.ReadMemStats(&m)
				if m.HeapInuse > before {
					most.Store(max(most.Load(), m.HeapInuse-before))
				}
			}
		}
	}()
	do()
	close(stop)
	<-done
	return most.Load()
}

// rawWrite is how long it takes to write as many bytes to a file of the same disk and have them there.
func rawWrite(b *testing.B, n int64) time.Duration {
	b.Helper()
	f, err := os.Create(filepath.Join(b.TempDir(), "raw"))
	if err != nil {
		b.Fatal(err)
	}
	begin := time.Now()
	w := bufio.NewWriterSize(f, 1<<16)
	chunk := make([]byte, 1<<16)
	for left := n; left > 0; left -= int64(len(chunk)) {
		if _, err := w.Write(chunk[:min(left, int64(len(chunk)))]); err != nil {
			b.Fatal(err)
		}
	}
	if err := w.Flush(); err != nil {
		b.Fatal(err)
	}
	if err := f.Sync(); err != nil {
		b.Fatal(err)
	}
	took := time.Since(begin)
	if err := f.Close(); err != nil {
		b.Fatal(err)
	}
	return took
}

// forms are the exports that are measured.
var forms = map[string]func(io.Writer) (each func(*programme.Leaving) error, end func() error){
	"fhir": func(w io.Writer) (func(*programme.Leaving) error, func() error) {
		x := fhir.NewStream(w)
		return x.Event, x.Close
	},
	"bundle": func(w io.Writer) (func(*programme.Leaving) error, func() error) {
		x := fhir.NewBundle(w, time.Unix(0, 0), "bench")
		return x.Event, x.Close
	},
}

// BenchmarkVisits writes 50,000 visits, or as many as FAIRSTICK_BENCH_VISITS says, those of the market over and over, to a file, against
// writing the same bytes.
func BenchmarkVisits(b *testing.B) {
	visits := 50_000
	if said := os.Getenv("FAIRSTICK_BENCH_VISITS"); said != "" {
		var err error
		if visits, err = strconv.Atoi(said); err != nil || visits < 1 {
			b.Fatalf("FAIRSTICK_BENCH_VISITS is %q; it should be a number of visits", said)
		}
	}
	p := fullMarket(b)
	var day *programme.Leaving
	err := p.HandOut(b.Context(), programme.Actor{}, programme.HandOut{}, func(walk programme.Walk) error {
		return walk(func(x *programme.Leaving) error {
			if x.Event.Phase != event.IsPlanned {
				day = x
			}
			return nil
		})
	})
	if err != nil {
		b.Fatal(err)
	}
	times := visits / len(day.Going)
	many := func(each func(*programme.Leaving) error) error {
		for range times {
			if err := each(day); err != nil {
				return err
			}
		}
		return nil
	}
	run := func(name string, write func(io.Writer) error) {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				f, err := os.Create(filepath.Join(b.TempDir(), "out"))
				if err != nil {
					b.Fatal(err)
				}
				c := &counter{}
				begin := time.Now()
				most := peak(func() { err = write(io.MultiWriter(f, c)) })
				if err != nil {
					b.Fatal(err)
				}
				if err := f.Sync(); err != nil {
					b.Fatal(err)
				}
				took := time.Since(begin)
				if err := f.Close(); err != nil {
					b.Fatal(err)
				}
				raw := rawWrite(b, c.n) // a zip of the same rows over and over is small: for it the ratio says nothing
				b.ReportMetric(float64(times*len(day.Going))/took.Seconds(), "visits/s")
				b.ReportMetric(float64(c.n)/1e6, "MB")
				b.ReportMetric(took.Seconds()/raw.Seconds(), "times-raw")
				b.ReportMetric(float64(most)/1e6, "peak-MB")
			}
		})
	}
	for name, form := range forms {
		run(name, func(w io.Writer) error {
			each, end := form(w)
			if err := many(each); err != nil {
				return err
			}
			return end()
		})
	}
	run("csv", func(w io.Writer) error { return exchange.WritePackage(w, time.Unix(0, 0), false, many) })
}

// BenchmarkHandOut reads 20,000 visits out of a record and writes them, the record's part of the cost among it.
func BenchmarkHandOut(b *testing.B) {
	const events, each = 200, 100
	now := time.Date(2026, 10, 10, 9, 0, 0, 0, time.UTC)
	p, st := testrecord.Open(b, func() time.Time { return now })
	proto := protocol.Default()
	put := func(tx *store.Tx, ref fact.Ref, bodies ...fact.Body) error {
		for _, body := range bodies {
			if _, err := tx.Append(store.Draft{At: now, Subject: ref, Body: body}); err != nil {
				return err
			}
		}
		return nil
	}
	err := st.Write(b.Context(), func(tx *store.Tx) error {
		if err := put(tx, charter.Ref, charter.Described{Name: "Bench"}, charter.ProtocolSigned{Protocol: proto}); err != nil {
			return err
		}
		return put(tx, stock.MeterRef("m"), stock.MeterDescribed{Label: "M1", Unit: glucose.MgPerDL})
	})
	if err != nil {
		b.Fatal(err)
	}
	for e := range events {
		err := st.Write(b.Context(), func(tx *store.Tx) error {
			id := fmt.Sprintf("event-%d", e)
			if err := put(tx, event.Ref(id), event.Planned{Name: "Bench", Date: civil.MustParse("2026-10-10"), Zone: "UTC"}, event.Opened{Protocol: proto.Version}); err != nil {
				return err
			}
			for v := range each {
				r := glucose.Number(glucose.MgDL(80 + v%60))
				f, err := proto.Find(r, protocol.Random)
				if err != nil {
					return err
				}
				ref := visit.Ref(fmt.Sprintf("%s-%d", id, v))
				if err := put(tx, ref, visit.Arrived{Event: id, Ticket: v + 1, Language: "en"}, visit.Consented{Version: "1", Language: "en", How: "read"}, visit.Ate{},
					visit.ReadingTaken{Purpose: visit.First, Reading: r, Meter: "m", StripLot: "l", NewStick: true}, visit.Found{Finding: &f}, visit.Finished{}); err != nil {
					return err
				}
			}
			return nil
		})
		if err != nil {
			b.Fatal(err)
		}
	}
	for _, what := range []string{"fhir", "csv", "deidentified"} {
		b.Run(what, func(b *testing.B) {
			for b.Loop() {
				begin := time.Now()
				c := &counter{}
				most := peak(func() {
					err = exchange.HandOut(b.Context(), p, programme.Actor{}, programme.HandOut{}, what, ".ndjson", c)
				})
				if err != nil {
					b.Fatal(err)
				}
				b.ReportMetric(events*each/time.Since(begin).Seconds(), "visits/s")
				b.ReportMetric(float64(most)/1e6, "peak-MB")
			}
		})
	}
}
