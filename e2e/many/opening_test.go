package many

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"fairstick/internal/civil"
	"fairstick/internal/programme"
	"fairstick/internal/store"
)

// BenchmarkOpening is what the laptop of a screening day does before its pages can be opened: a record of 10,000 visits with all their
// entries, or as many as FAIRSTICK_BENCH_VISITS says, is opened for writing, once as it was left and once as after an update of the
// program, with the first season report and the first list of calls after it.
func BenchmarkOpening(b *testing.B) {
	dir := os.Getenv(folderEnv)
	if dir == "" {
		dir = b.TempDir()
	}
	dir = filepath.Join(dir, "whole")
	if _, err := os.Stat(dir); err != nil {
		began := time.Now()
		n, entries, err := MakeWhole(b.Context(), dir, visitsAsked(b))
		if err != nil {
			b.Fatal(err)
		}
		b.Logf("%d visits with %d entries, made in %s", n, entries, time.Since(began).Round(time.Second))
	}
	db := filepath.Join(dir, "fairstick.db")
	info, err := os.Stat(db)
	if err != nil {
		b.Fatal(err)
	}
	b.Logf("%d MB", info.Size()>>20)
	for _, x := range []struct{ name, before string }{
		{"as it was left", ""},
		{"after an update", "UPDATE meta SET value = 'another program' WHERE key = 'derived_by';"},
	} {
		b.Run(x.name, func(b *testing.B) {
			for range b.N {
				if x.before != "" {
					if err := Shell(db, x.before); err != nil {
						b.Fatal(err)
					}
				}
				wall, cpu := time.Now(), processor()
				lap := func(name string) {
					b.ReportMetric(float64((processor() - cpu).Milliseconds()), name+"-cpu-ms")
					b.ReportMetric(float64(time.Since(wall).Milliseconds()), name+"-ms")
					wall, cpu = time.Now(), processor()
				}
				st, err := store.Open(b.Context(), Options(dir))
				if err != nil {
					b.Fatal(err)
				}
				lap("open")
				p := programme.New(st, Now, Options("").Log)
				r := Record{First: civil.Of(Now()).AddDays(-400), Last: civil.Of(Now())}
				if _, _, err := questions["season"](b.Context(), p, r); err != nil {
					b.Fatal(err)
				}
				lap("season")
				if _, _, err := questions["list"](b.Context(), p, r); err != nil {
					b.Fatal(err)
				}
				lap("list")
				if err := st.Close(); err != nil {
					b.Fatal(err)
				}
				b.ReportMetric(0, "ns/op")
			}
		})
	}
}
