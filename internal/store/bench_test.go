package store

import (
	"context"
	"fmt"
	"math"
	"sync"
	"sync/atomic"
	"testing"
	"time"
)

// BenchmarkCommits compares, on one disk in one run, single-row durable commits of the same SQLite with Store.Write from
// one and from many goroutines. Each command appends one fact to one of 300 jars. The metrics are rates and ratios.
func BenchmarkCommits(b *testing.B) {
	const stretch = 1500 * time.Millisecond
	for b.Loop() {
		raw := rawCommits(b, stretch)
		b.ReportMetric(raw, "raw/s")
		for _, clients := range []int{1, 64} {
			rate := writes(b, clients, stretch)
			b.ReportMetric(rate, fmt.Sprintf("write%d/s", clients))
			b.ReportMetric(math.Round(rate/raw*100)/100, fmt.Sprintf("write%d/raw", clients))
		}
	}
}

// rawCommits gives the commits a second of one prepared INSERT of a row as large as an entry.
func rawCommits(b *testing.B, stretch time.Duration) float64 {
	s := create(b)
	defer shut(b, s)
	row := make([]byte, 400)
	n := 0
	start := time.Now()
	err := s.Write(context.Background(), func(tx *Tx) error { // on the writer's connection, outside its transaction
		c := tx.w.c
		if err := c.script(`ROLLBACK; CREATE TABLE bare (n INTEGER PRIMARY KEY, row BLOB NOT NULL) STRICT`); err != nil {
			return err
		}
		for start = time.Now(); time.Since(start) < stretch; n++ {
			if err := exec(c, `INSERT INTO bare (row) VALUES (?)`, row); err != nil {
				return err
			}
		}
		return nil
	})
	took := time.Since(start)
	if err == nil || n == 0 {
		b.Fatal("the writer did not notice that its transaction was gone, or nothing was written", err)
	}
	return float64(n) / took.Seconds()
}

func writes(b *testing.B, clients int, stretch time.Duration) float64 {
	return writesTo(b, create(b), clients, stretch)
}

func writesTo(b *testing.B, s *Store, clients int, stretch time.Duration) float64 {
	defer shut(b, s)
	for i := range 300 {
		write(b, s, Draft{Subject: jarRef(fmt.Sprint(i)), Body: named{"shelf", fmt.Sprint(i)}})
	}
	var n atomic.Int64
	start := time.Now()
	var wg sync.WaitGroup
	for range clients {
		wg.Go(func() {
			for time.Since(start) < stretch {
				i := n.Add(1)
				err := s.Write(context.Background(), func(tx *Tx) error {
					ref := jarRef(fmt.Sprint(i % 300))
					if _, ok, err := tx.State(ref); err != nil || !ok {
						return fmt.Errorf("%v %w", ok, err)
					}
					_, err := tx.Append(Draft{Subject: ref, Body: named{"shelf", fmt.Sprint(i % 300)}})
					return err
				})
				if err != nil {
					b.Error(err)
					return
				}
			}
		})
	}
	wg.Wait()
	return float64(n.Load()) / time.Since(start).Seconds()
}

// BenchmarkRead is a page's worth of reading: one subject and a list of 300, decoded states kept between.
func BenchmarkRead(b *testing.B) {
	s := create(b)
	for i := range 300 {
		write(b, s, Draft{Subject: jarRef(fmt.Sprint(i)), Body: named{"shelf", fmt.Sprint(i)}})
	}
	for b.Loop() {
		err := s.Read(context.Background(), func(v *View) error {
			if _, ok, err := v.State(jarRef("7")); err != nil || !ok {
				return fmt.Errorf("%v %w", ok, err)
			}
			all, err := v.Children("jar", "shelf")
			if err == nil && len(all) != 300 {
				err = fmt.Errorf("%d jars", len(all))
			}
			return err
		})
		if err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkQuickCheck is what Open spends on a record of about 3,000 facts before it writes anything.
func BenchmarkQuickCheck(b *testing.B) {
	s := create(b)
	for i := range 300 {
		var drafts []Draft
		for range 10 {
			drafts = append(drafts, Draft{Subject: jarRef(fmt.Sprint(i)), Body: added{1}})
		}
		write(b, s, drafts...)
	}
	shut(b, s)
	for b.Loop() {
		if err := sound(context.Background(), s.o.Dir+"/"+dataFile, nil, func() {}); err != nil {
			b.Fatal(err)
		}
	}
}
