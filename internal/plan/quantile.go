package plan

import "math"

// rank gives the place, from 0, of the smallest of n ordered values that at least a share p does not pass.
func rank(p float64, n int) int {
	k := int(math.Ceil(float64(p*float64(n)) - 1e-9)) // 0.9 of 10 is the ninth, whatever the binary fraction says
	return min(max(k, 1), n) - 1
}

// quantile gives the smallest of the values that at least a share p does not pass; 0 of no values. It changes the order of xs.
func quantile(xs []float64, p float64) float64 {
	if len(xs) == 0 {
		return 0
	}
	return kth(xs, rank(p, len(xs)))
}

// kth gives the value that would stand at place k of the sorted values, by Hoare's selection. It changes their order.
func kth(xs []float64, k int) float64 {
	low, high := 0, len(xs)-1
	for low < high {
		pivot := middle(xs[low], xs[low+(high-low)/2], xs[high])
		i, j := low, high
		for i <= j {
			for xs[i] < pivot {
				i++
			}
			for xs[j] > pivot {
				j--
			}
			if i <= j {
				xs[i], xs[j] = xs[j], xs[i]
				i++
				j--
			}
		}
		switch {
		case k <= j:
			high = j
		case k >= i:
			low = i
		default:
			return xs[k]
		}
	}
	return xs[k]
}

func middle(a, b, c float64) float64 {
	return max(min(a, b), min(max(a, b), c))
}

// ratio gives the ratio of two sums over days, sum/size, with the standard error of a ratio estimator: days are independent, people of one
// day are not.
type ratio struct{ sums, sizes []float64 }

func (r *ratio) add(sum, size float64) {
	r.sums = append(r.sums, sum)
	r.sizes = append(r.sizes, size)
}

func (r *ratio) estimate() Estimate {
	var sum, size float64
	for i := range r.sums {
		sum += r.sums[i]
		size += r.sizes[i]
	}
	if size == 0 {
		return Estimate{}
	}
	value, squares := sum/size, 0.0
	for i := range r.sums {
		e := r.sums[i] - float64(value*r.sizes[i])
		squares += float64(e * e)
	}
	n := float64(max(len(r.sums), 2)) // of one day no error is known
	return Estimate{value, math.Sqrt(squares*n/(n-1)) / size}
}

// pool keeps values of all days together and remembers where each day ends.
type pool struct {
	values []float64
	ends   []int
}

func (p *pool) endDay() { p.ends = append(p.ends, len(p.values)) }

// groups is into how many groups of days a quantile is cut to find its error.
const groups = 20

// quantile gives a quantile of all values with an error from groups of whole days: the standard deviation of the quantiles of the groups over
// the root of their number.
func (p *pool) quantile(q float64, room []float64) Estimate {
	days := len(p.ends)
	var each [groups]float64
	from, mean := 0, 0.0
	for g := range groups {
		to := p.ends[(g+1)*days/groups-1]
		each[g] = quantile(append(room[:0], p.values[from:to]...), q)
		mean += each[g] / groups
		from = to
	}
	squares := 0.0
	for _, x := range each {
		squares += float64((x - mean) * (x - mean))
	}
	return Estimate{quantile(append(room[:0], p.values...), q), math.Sqrt(squares / (groups - 1) / groups)}
}
