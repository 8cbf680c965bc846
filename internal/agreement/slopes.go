package agreement

import (
	"cmp"
	"math"
	"slices"
)

// The slopes of all pairs of n points are n(n-1)/2; for 100,000 points they would not fit in memory. This file finds the k-th
// smallest of them without making them. Sort the points by y - s x: two points stand in another order than by x exactly when
// their slope is below s, so a merge sort that counts inversions counts the slopes below s. A bracket around the k-th slope is
// narrowed by such counts at slopes picked evenly from within it, until what is left can be listed. Sources: Matoušek J, Inf Process Lett
// 1991;39:183-7; Dillencourt MB, Mount DM, Netanyahu NS, Int J Comput Geom Appl 1992;2:1-27 (from memory).

// coord is a coordinate: whole numbers, for which everything is exact, or floats.
type coord interface{ int64 | float64 }

// slope is dy/dx with dx of 0 or more; (1,0) is above and (-1,0) below every slope of two points.
type slope[T coord] struct{ dy, dx T }

func (a slope[T]) compare(b slope[T]) int { return cmp.Compare(T(a.dy*b.dx), T(b.dy*a.dx)) }

func (a slope[T]) float() float64 { return float64(a.dy) / float64(a.dx) }

// fan has the points whose pairs make the slopes, by x and then y. Pairs with equal x make none.
type fan[T coord] struct {
	x, y  []T
	items []item[T] // scratch
	spare []item[T]
}

type item[T coord] struct {
	key T
	at  int32
}

// newFan sorts points of which x and y are the columns.
func newFan[T coord](x, y []T) *fan[T] {
	order := make([]int32, len(x))
	for i := range order {
		order[i] = int32(i)
	}
	slices.SortFunc(order, func(a, b int32) int {
		if c := cmp.Compare(x[a], x[b]); c != 0 {
			return c
		}
		return cmp.Compare(y[a], y[b])
	})
	f := &fan[T]{x: make([]T, len(x)), y: make([]T, len(x)), items: make([]item[T], len(x)), spare: make([]item[T], len(x))}
	for i, at := range order {
		f.x[i], f.y[i] = x[at], y[at]
	}
	return f
}

func (f *fan[T]) key(at int32, s slope[T]) T { return T(f.y[at]*s.dx) - T(s.dy*f.x[at]) }

// count gives the number of slopes below s; with included, those equal to s too.
func (f *fan[T]) count(s slope[T], included bool) int64 {
	for i := range f.items {
		f.items[i] = item[T]{f.key(int32(i), s), int32(i)}
	}
	return f.sort(f.items, f.spare, included, nil)
}

// between visits the pairs with slopes strictly between lo and hi, in blocks that share their right point.
func (f *fan[T]) between(lo, hi slope[T], visit func(left []item[T], right item[T])) {
	f.count(lo, true)
	for i, it := range f.items {
		f.items[i].key = f.key(it.at, hi)
	}
	f.sort(f.items, f.spare, false, visit)
}

// sort is a merge sort by key that counts how often a right item passes a left one. Items of equal keys keep their order, or,
// with included, pass when their x is larger. spare is as long as items.
func (f *fan[T]) sort(items, spare []item[T], included bool, visit func(left []item[T], right item[T])) int64 {
	n := len(items)
	if n <= byInsertion {
		return f.insert(items, included, visit)
	}
	h := n / 2
	passed := f.sort(items[:h], spare[:h], included, visit) + f.sort(items[h:], spare[h:], included, visit)
	if !f.passes(items[h], items[h-1], included) {
		return passed // in order already
	}
	copy(spare[:h], items[:h])
	left, right, out := spare[:h], items[h:], items
	for len(left) > 0 && len(right) > 0 {
		if f.passes(right[0], left[0], included) {
			passed += int64(len(left))
			if visit != nil {
				visit(left, right[0])
			}
			out[0], right = right[0], right[1:]
		} else {
			out[0], left = left[0], left[1:]
		}
		out = out[1:]
	}
	copy(out, left)
	return passed
}

// byInsertion is the length up to which insertion is faster than merging.
const byInsertion = 12

// insert is sort for a few items.
func (f *fan[T]) insert(items []item[T], included bool, visit func(left []item[T], right item[T])) (passed int64) {
	for i := 1; i < len(items); i++ {
		right, to := items[i], i
		for to > 0 && f.passes(right, items[to-1], included) {
			to--
		}
		if to == i {
			continue
		}
		passed += int64(i - to)
		if visit != nil {
			visit(items[to:i], right)
		}
		copy(items[to+1:i+1], items[to:i])
		items[to] = right
	}
	return passed
}

func (f *fan[T]) passes(right, left item[T], included bool) bool {
	return right.key < left.key || included && right.key == left.key && f.x[right.at] > f.x[left.at]
}

// slope gives the slope of two of the fan's points with different x.
func (f *fan[T]) slope(a, b int32) slope[T] {
	if f.x[a] > f.x[b] {
		a, b = b, a
	}
	return slope[T]{f.y[b] - f.y[a], f.x[b] - f.x[a]}
}

const (
	fewestDrawn = 1000
	mostDrawn   = 1 << 17
	listed      = 4    // slopes per point that are listed rather than narrowed further
	listedLeast = 8192 // but always up to this many
)

// fans are sets of points whose slopes are counted together.
type fans[T coord] []*fan[T]

func (fs fans[T]) count(s slope[T], included bool) (n int64) {
	for _, f := range fs {
		n += f.count(s, included)
	}
	return n
}

// bracket says that the wanted slope lies strictly between lo and hi, with atLo slopes up to lo and belowHi below hi.
type bracket[T coord] struct {
	lo, hi        slope[T]
	atLo, belowHi int64
}

// open gives the bracket of all slopes strictly between lo and hi.
func (fs fans[T]) open(lo, hi slope[T]) bracket[T] {
	return bracket[T]{lo, hi, fs.count(lo, true), fs.count(hi, false)}
}

// kth gives the slope with rank k (1 is the smallest of all slopes, not of the bracket) that lies in the bracket. Which slopes are
// drawn changes the time it takes and nothing else: with whole numbers the answer is exact; with floats slopes within 1e-13
// of each other count as one.
func (fs fans[T]) kth(b bracket[T], k int64) slope[T] {
	points := len(fs[0].x)
	drawn := min(max(points/4, fewestDrawn), mostDrawn)
	for {
		in := b.belowHi - b.atLo
		if in <= max(int64(listed*points), listedLeast) {
			all := fs.list(b, nil, in)
			if len(all) == 0 { // floats only
				return b.middle()
			}
			return nth(all, k-b.atLo)
		}
		ranks := make([]int64, drawn)
		for i := range ranks {
			ranks[i] = int64(i)*in/int64(drawn) + in/int64(2*drawn)
		}
		sample := fs.list(b, ranks, in)
		if len(sample) == 0 || narrow(b) {
			return b.middle()
		}
		slices.SortFunc(sample, slope[T].compare)
		share := float64(k-b.atLo) / float64(in) * float64(len(sample))
		reach := 1.5*math.Sqrt(float64(len(sample))) + 1
		found, done := fs.tighten(&b, k, sample[max(int(share-reach), 0)], sample[min(int(share+reach), len(sample)-1)])
		if done {
			return found
		}
		if b.belowHi-b.atLo >= in { // floats only
			return b.middle()
		}
	}
}

// tighten moves the ends of the bracket to two of the drawn slopes; done when one of them has rank k.
func (fs fans[T]) tighten(b *bracket[T], k int64, low, high slope[T]) (found slope[T], done bool) {
	if fs.cut(b, k, low, true) {
		return low, true
	}
	if high.compare(b.lo) > 0 && high.compare(b.hi) < 0 && fs.cut(b, k, high, false) {
		return high, true
	}
	return found, false
}

// cut cuts the bracket at s and keeps the side with rank k; true when s itself has it. The side that is probably dropped is
// counted first.
func (fs fans[T]) cut(b *bracket[T], k int64, s slope[T], dropsBelow bool) bool {
	if dropsBelow {
		if at := fs.count(s, true); at < k {
			b.lo, b.atLo = s, at
			return false
		}
		below := fs.count(s, false)
		b.hi, b.belowHi = s, below
		return below < k
	}
	if below := fs.count(s, false); below >= k {
		b.hi, b.belowHi = s, below
		return false
	}
	at := fs.count(s, true)
	b.lo, b.atLo = s, at
	return at >= k
}

// list gives the slopes in the bracket: all of them, or with ranks those at the sorted places of the order in which they are visited.
func (fs fans[T]) list(b bracket[T], ranks []int64, in int64) []slope[T] {
	size := int(in)
	if ranks != nil {
		size = len(ranks)
	}
	out := make([]slope[T], 0, size)
	seen, next := int64(0), 0
	for _, f := range fs {
		f.between(b.lo, b.hi, func(left []item[T], right item[T]) {
			if ranks == nil {
				for _, l := range left {
					out = append(out, f.slope(l.at, right.at))
				}
				return
			}
			for next < len(ranks) && ranks[next] < seen+int64(len(left)) {
				out = append(out, f.slope(left[ranks[next]-seen].at, right.at))
				next++
			}
			seen += int64(len(left))
		})
	}
	return out
}

// nth gives the k-th smallest; a k outside (the noise of floats) gives the nearest end.
func nth[T coord](s []slope[T], k int64) slope[T] {
	slices.SortFunc(s, slope[T].compare)
	return s[min(max(k, 1), int64(len(s)))-1]
}

// narrow reports whether the two ends of a bracket of floats cannot be told apart; those of whole numbers always can.
func narrow[T coord](b bracket[T]) bool {
	if T(1)/2 == 0 || b.lo.dx == 0 || b.hi.dx == 0 {
		return false
	}
	lo, hi := b.lo.float(), b.hi.float()
	return hi-lo <= 1e-13*max(1, math.Abs(lo), math.Abs(hi))
}

func (b bracket[T]) middle() slope[T] {
	if b.lo.dx == 0 {
		return b.hi
	}
	return b.lo
}

// same counts the pairs of points that are the same.
func (f *fan[T]) same() (n int64) {
	run := int64(0)
	for i := 1; i < len(f.x); i++ {
		if f.x[i] == f.x[i-1] && f.y[i] == f.y[i-1] {
			run++
			n += run
		} else {
			run = 0
		}
	}
	return n
}
