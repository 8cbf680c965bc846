//go:build unix

package plan

import (
	"encoding/json"
	"math"
	"os/exec"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"
)

// BenchmarkSimPy runs the same fairs in SimPy and here, in one run, and gives how many times as many simulated days a second of processor time
// makes: "whole" with drawing the people, as SimPy does it, "line" on people who are drawn already, as a search over posts does it, and "plan"
// whole plans, each of their many setups counted as a day of SimPy's. Processor time, not the clock: others at the machine do not count.
//
// It needs Python with SimPy 2 (Debian: python3-simpy) and fails without it; it is a benchmark and no test.
func BenchmarkSimPy(b *testing.B) {
	theirs := simPyRates(b)
	const fairs, rounds = 1000, 7
	for i, row := range simPyRows(b) {
		f, setup := row.flow()
		b.Run(strings.ReplaceAll(row.Scenario.Name, " ", "-"), func(b *testing.B) {
			whole, line := math.Inf(1), math.Inf(1)
			for b.Loop() {
				for range rounds { // the least counts: a cold cache only adds to it
					start := processor(b)
					d := draw(b, f, fairs, uint64(i))
					drawn := processor(b)
					if _, err := d.Look(setup, DefaultPromise); err != nil {
						b.Fatal(err)
					}
					looked := processor(b)
					whole, line = min(whole, (looked-start).Seconds()/fairs), min(line, (looked-drawn).Seconds()/fairs)
				}
			}
			theirs := theirs[row.Scenario.Name]
			b.ReportMetric(theirs, "simpy-days/s")
			b.ReportMetric(1/whole, "whole-days/s")
			b.ReportMetric(1/line, "line-days/s")
			b.ReportMetric(1/whole/theirs, "x-simpy-whole")
			b.ReportMetric(1/line/theirs, "x-simpy-line")
		})
	}
	in := Defaults(90, fourHours)
	in.Profile, _ = ParseProfile("front", fourHours)
	b.Run("plan-for-90", func(b *testing.B) {
		least, days := math.Inf(1), 0.0
		for b.Loop() {
			start := processor(b)
			p, err := Make(in, source(1))
			if err != nil {
				b.Fatal(err)
			}
			least = min(least, (processor(b) - start).Seconds())
			days = float64(in.Days * (p.Looked + 1 + 2*len(p.Changes)))
		}
		theirs := theirs[simPyRows(b)[0].Scenario.Name] // as many people
		b.ReportMetric(least*1000, "ms/plan")
		b.ReportMetric(days/least/theirs, "x-simpy-plan")
	})
}

// processor gives the processor time that the benchmark has used.
func processor(b *testing.B) time.Duration {
	var r syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &r); err != nil {
		b.Fatal(err)
	}
	return time.Duration(r.Utime.Nano() + r.Stime.Nano())
}

// simPyRates asks SimPy for its days a second of processor time, by scenario.
func simPyRates(b *testing.B) map[string]float64 {
	b.Helper()
	const fairs = 300
	for _, python := range []string{"python3", "/usr/bin/python3"} {
		if exec.CommandContext(b.Context(), python, "-c", "import SimPy.Simulation").Run() != nil {
			continue
		}
		cmd := exec.CommandContext(b.Context(), python, "regenerate.py", "--rate", strconv.Itoa(fairs))
		cmd.Dir = "testdata"
		out, err := cmd.Output()
		if err != nil {
			b.Fatal(err)
		}
		var rates map[string]float64
		if err := json.Unmarshal(out, &rates); err != nil {
			b.Fatalf("SimPy said %q: %v", out, err)
		}
		return rates
	}
	b.Fatal("there is no Python with SimPy 2 here: install Debian's python3-simpy, or its like, to have this ratio")
	return nil
}

// BenchmarkSearch holds the search over posts against trying all of them up to as many as it chose and two more at each station, in one run.
func BenchmarkSearch(b *testing.B) {
	for _, n := range []int{45, 90, 180} {
		b.Run(strconv.Itoa(n), func(b *testing.B) {
			in := Defaults(n, fourHours)
			in.Days = 200
			in.Profile, _ = ParseProfile("front", fourHours)
			d := draw(b, in.Flow(), in.Days, 1)
			for b.Loop() {
				start := processor(b)
				c, found, err := d.Cheapest(in.search())
				if err != nil || !found {
					b.Fatal(found, err)
				}
				searched := processor(b)
				all, cost := 0, math.Inf(1)
				for i := 1; i <= c.Posts[0]+2; i++ {
					for j := 1; j <= c.Posts[1]+2; j++ {
						for k := 1; k <= c.Posts[2]+2; k++ {
							all++
							x, err := d.Look(Setup{Posts: []int{i, j, k}}, in.Promise)
							if err != nil {
								b.Fatal(err)
							}
							if x.Confidence(in.Promise) >= in.Sure {
								cost = min(cost, in.search().cost([]int{i, j, k}))
							}
						}
					}
				}
				tried := processor(b)
				if cost != c.Cost {
					b.Fatalf("the search chose for %v, trying all for %v", c.Cost, cost)
				}
				b.ReportMetric(float64(c.Looked), "looks")
				b.ReportMetric(float64(all), "looks-trying-all")
				b.ReportMetric((tried-searched).Seconds()/(searched-start).Seconds(), "x-faster")
			}
		})
	}
}
