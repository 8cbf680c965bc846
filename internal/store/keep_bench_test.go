package store

import (
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"testing"
	"time"
)

// BenchmarkSealedCommits compares an encrypted record with a plain one, on one disk in one run, from one and from many
// goroutines.
func BenchmarkSealedCommits(b *testing.B) {
	const stretch = 1500 * time.Millisecond
	for b.Loop() {
		for _, clients := range []int{1, 64} {
			plain := writesTo(b, create(b), clients, stretch)
			sealed := writesTo(b, createSealed(b), clients, stretch)
			b.ReportMetric(plain, fmt.Sprintf("plain%d/s", clients))
			b.ReportMetric(sealed, fmt.Sprintf("sealed%d/s", clients))
			b.ReportMetric(math.Round(sealed/plain*100)/100, fmt.Sprintf("sealed%d/plain", clients))
		}
	}
}

// BenchmarkBackup compares writing a backup, and writing it with the reading back, with copying the file of the record.
func BenchmarkBackup(b *testing.B) {
	s := createSealed(b)
	for i := range 300 {
		var drafts []Draft
		for range 100 {
			drafts = append(drafts, Draft{Subject: jarRef(fmt.Sprint(i)), Body: noted{make([]byte, 200)}})
		}
		write(b, s, drafts...)
	}
	must(b, s.writer.c.script(`PRAGMA wal_checkpoint(TRUNCATE)`))
	dir, n := b.TempDir(), 0
	took := func(do func(path string) error) float64 {
		n++
		start := time.Now()
		must(b, do(filepath.Join(dir, fmt.Sprint(n))))
		return time.Since(start).Seconds()
	}
	for b.Loop() {
		plain := took(func(path string) error {
			from, err := os.Open(s.keys.data(s.o.Dir))
			must(b, err)
			to, err := os.Create(path)
			must(b, err)
			size, err := io.Copy(to, from)
			must(b, err)
			b.ReportMetric(float64(size)/1e6, "MB")
			must(b, to.Sync())
			return to.Close()
		})
		written := took(func(path string) error {
			to, err := os.Create(path)
			must(b, err)
			_, err = s.writeBackup(b.Context(), to, s.pass())
			must(b, err)
			must(b, to.Sync())
			return to.Close()
		})
		proved := took(func(path string) error {
			_, err := s.Backup(b.Context(), path, nil)
			return err
		})
		b.ReportMetric(math.Round(written/plain*10)/10, "written/copied")
		b.ReportMetric(math.Round(proved/plain*10)/10, "proved/copied")
		b.ReportMetric(proved, "proved-s")
	}
}
