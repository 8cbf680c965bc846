package plan

import "math"

// quarter is the length of a quarter of an hour in minutes; afterClosing how many of them are looked at once the doors are closed.
const (
	quarter      = 15
	afterClosing = 8
)

// clock counts who comes and who waits by quarter hour, day by day.
type clock struct {
	n        int
	arrivals [][]int32   // by quarter and day
	queue    [][][]int32 // by station, quarter and day
}

func (d *Days) newClock() *clock {
	c := &clock{n: int(math.Ceil(d.open/quarter)) + afterClosing}
	c.arrivals = grid(c.n, len(d.counts))
	for range d.flow.Stations {
		c.queue = append(c.queue, grid(c.n, len(d.counts)))
	}
	return c
}

func grid(rows, columns int) [][]int32 {
	all, g := make([]int32, rows*columns), make([][]int32, rows)
	for i := range g {
		g[i] = all[i*columns : (i+1)*columns]
	}
	return g
}

// add counts one day. Somebody who came at a and was called at s waits at the end of quarter q when a <= 15 (q+1) < s.
func (c *clock) add(day int, arrive []float64, seen []visits) {
	for _, t := range arrive {
		c.arrivals[min(int(t/quarter), c.n-1)][day]++
	}
	for k := range seen {
		for i, start := range seen[k].start {
			if math.IsNaN(start) || start <= seen[k].came[i] {
				continue
			}
			from := max(int(math.Ceil(seen[k].came[i]/quarter)), 1)
			to := min(int(math.Ceil(start/quarter)), c.n+1)
			for q := from; q < to; q++ {
				c.queue[k][q-1][day]++
			}
		}
	}
}

func (c *clock) quarters(d *Days, setup Setup) []Quarter {
	var all []Quarter
	room := make([]float64, len(d.counts))
	for q := range c.n {
		one := Quarter{To: (q + 1) * quarter, Arrivals: band(c.arrivals[q], room)}
		for k, s := range d.flow.Stations {
			one.Queue = append(one.Queue, band(c.queue[k][q], room))
			one.Capacity = append(one.Capacity, quarter*s.pace(d.flow.Funnel, setup.Posts[k], d.meters(setup, k)))
		}
		all = append(all, one)
	}
	return all
}

func band(counts []int32, room []float64) Band {
	sum := 0.0
	for i, n := range counts {
		room[i] = float64(n)
		sum += room[i]
	}
	return Band{sum / float64(len(counts)), int(quantile(room, 0.05)), int(quantile(room, 0.95))}
}
