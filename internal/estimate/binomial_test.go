package estimate

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// Published values: NIST/SEMATECH e-Handbook gives the probabilities of a count; the tables of the cumulative binomial in
// the CRC Standard Mathematical Tables (from memory; check) give P(X <= 4 | 10, 0.5) = 0.3770 and P(X <= 2 | 20, 0.1) =
// 0.6769. The rest is arithmetic that can be done by hand.
func TestBinomialTail(t *testing.T) {
	for _, x := range []struct {
		k, n int
		p    float64
		want float64
		tol  float64
	}{
		{5, 10, 0.5, 1 - 0.3770, 5e-5},
		{3, 20, 0.1, 1 - 0.6769, 5e-5},
		{2, 2, 0.1, 0.01, 1e-15},
		{1, 2, 0.1, 0.19, 1e-15},
		{10, 10, 0.5, 1.0 / 1024, 1e-15},
		{0, 10, 0.1, 1, 0},
		{-3, 10, 0.1, 1, 0},
		{11, 10, 0.1, 0, 0},
		{0, 0, 0.1, 1, 0},
		{1, 5, 0, 0, 0},
		{5, 5, 1, 1, 0},
	} {
		got, err := BinomialTail(x.k, x.n, x.p)
		if err != nil || math.Abs(got-x.want) > x.tol {
			t.Errorf("P(X >= %d | %d, %g) = %v, %v; want %v", x.k, x.n, x.p, got, err, x.want)
		}
	}
	for _, bad := range []struct {
		n int
		p float64
	}{{-1, 0.1}, {3, -0.1}, {3, 1.1}, {3, math.NaN()}} {
		if _, err := BinomialTail(1, bad.n, bad.p); err == nil {
			t.Errorf("%d trials of %v were accepted", bad.n, bad.p)
		}
	}
}

// The tail falls with k, and with the tail of the failures it makes one.
func TestBinomialTailHolds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 300).Draw(t, "n")
		k := rapid.IntRange(1, n).Draw(t, "k")
		p := rapid.Float64Range(0, 1).Draw(t, "p")
		at := func(k int, p float64) float64 {
			v, err := BinomialTail(k, n, p)
			if err != nil {
				t.Fatal(err)
			}
			return v
		}
		if at(k, p) > at(k-1, p)+1e-12 {
			t.Fatalf("the tail rises from %d to %d", k-1, k)
		}
		if sum := at(k, p) + at(n-k+1, 1-p); math.Abs(sum-1) > 1e-10 {
			t.Fatalf("the two tails make %v", sum)
		}
	})
}

// The counts from which one look in a thousand raises a false alarm: our own arithmetic (exact binomial), computed here in
// whole numbers of the same sum by hand for the smallest of them: P(X >= 8 | 20, 0.1) = 0.000416, P(X >= 7) = 0.00239.
func TestAlarmCounts(t *testing.T) {
	for _, x := range []struct {
		p    float64
		n, k int
	}{
		{0.1, 20, 8},
		{0.1, 30, 10},
		{0.1, 50, 14},
		{0.1, 100, 21},
		{0.2, 20, 11},
		{0.2, 30, 14},
		{0.2, 50, 20},
		{0.2, 100, 34},
	} {
		least := 0
		for k := 0; k <= x.n; k++ {
			if tail, err := BinomialTail(k, x.n, x.p); err == nil && tail < 0.001 {
				least = k
				break
			}
		}
		if least != x.k {
			t.Errorf("of %d with probability %g the alarm begins at %d, want %d", x.n, x.p, least, x.k)
		}
	}
	if tail, _ := BinomialTail(8, 20, 0.1); math.Abs(tail-0.000416) > 1e-6 {
		t.Errorf("P(X >= 8 | 20, 0.1) = %v", tail)
	}
	if tail, _ := BinomialTail(7, 20, 0.1); math.Abs(tail-0.00239) > 1e-5 {
		t.Errorf("P(X >= 7 | 20, 0.1) = %v", tail)
	}
}
