package plan

import (
	"testing"
	"time"
)

// BenchmarkFairs compares, in one run, a thousand simulated fairs of Larkfield's size with what could not be faster: the closed-form answer, and
// drawing the same number of random numbers without doing anything with them. "look" is what a dragged number of posts asks for. Of each the
// shortest round counts: others at the machine only add to it.
func BenchmarkFairs(b *testing.B) {
	const fairs = 1000
	in := Defaults(90, fourHours)
	in.Days = fairs
	flow := in.Flow()
	d := draw(b, flow, fairs, 1)
	setup := Setup{Posts: []int{2, 4, 3}}
	closed, random, drawing, looking, running := time.Hour, time.Hour, time.Hour, time.Hour, time.Hour
	clock := func(least *time.Duration, f func()) {
		start := time.Now()
		f()
		*least = min(*least, time.Since(start))
	}
	sink := 0.0
	for b.Loop() {
		clock(&closed, func() {
			for range 100 { // too short for one
				q, err := flow.Quick(setup.Posts)
				if err != nil {
					b.Fatal(err)
				}
				sink += q[0].Load
			}
		})
		clock(&random, func() {
			rng := source(1)
			for range len(d.arrive) {
				sink += rng.ExpFloat64() + rng.Float64() + rng.Float64() + rng.Float64() + rng.Float64() + rng.NormFloat64() + rng.NormFloat64() + rng.NormFloat64()
			}
		})
		clock(&drawing, func() { d = draw(b, flow, fairs, 1) })
		clock(&looking, func() {
			if _, err := d.Look(setup, DefaultPromise); err != nil {
				b.Fatal(err)
			}
		})
		clock(&running, func() { run(b, d, setup.Posts...) })
	}
	if sink == 0 {
		b.Fatal("nothing was computed")
	}
	b.ReportMetric(fairs/(drawing+looking).Seconds(), "fairs/s")
	b.ReportMetric(fairs/looking.Seconds(), "looks/s")
	b.ReportMetric(looking.Seconds()*1000, "ms/1000-looks")
	b.ReportMetric(running.Seconds()*1000, "ms/1000-runs")
	b.ReportMetric((drawing+looking).Seconds()/(closed.Seconds()/100), "x-closed-form")
	b.ReportMetric((drawing+looking).Seconds()/random.Seconds(), "x-random-numbers")
	b.ReportMetric(looking.Seconds()/random.Seconds(), "look-x-random-numbers")
}

// BenchmarkTurnout shows how the cost of a look grows with the turnout, posts growing with it.
func BenchmarkTurnout(b *testing.B) {
	for _, x := range []struct {
		name  string
		n     int
		posts []int
	}{{"25", 25, []int{1, 2, 1}}, {"100", 100, []int{3, 5, 3}}, {"400", 400, []int{9, 17, 10}}, {"1600", 1600, []int{36, 68, 40}}} {
		b.Run(x.name, func(b *testing.B) {
			d := draw(b, Defaults(x.n, fourHours).Flow(), 100, 1)
			for b.Loop() {
				if _, err := d.Look(Setup{Posts: x.posts}, DefaultPromise); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(len(d.arrive)), "ns/person")
		})
	}
}
