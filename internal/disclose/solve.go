package disclose

import (
	"container/heap"
	"math"
	"slices"
)

// Plan says which counts are hidden.
type Plan struct {
	hidden []bool
	small  []bool
	Loss   float64 // weight of the counts that are hidden for the sake of others
	Exact  bool    // nothing smaller would have done; false when the search was cut short
}

// Hidden reports whether a count is hidden.
func (l Plan) Hidden(c Cell) bool { return l.hidden[c] }

// Small reports whether it is hidden for its own sake rather than to protect another.
func (l Plan) Small(c Cell) bool { return l.small[c] }

// mostTried bounds how many sets of hidden counts are looked at before the search settles for a good one.
const mostTried = 800

// Solve finds what to hide. It refuses counts below 0 and sums that do not come out.
//
// The search is exact for tables of the size of a report: sets of hidden counts are tried from the smallest loss on. Where a
// small count is not protected, the prices of the linear program that bounds it say which printed counts could widen its
// bounds, and at least one of them must be hidden in every better set, so that only these are tried. Beyond mostTried sets
// the cheapest of them is hidden each time, and what turns out not to be needed is shown again at the end.
func (p *Problem) Solve() (Plan, error) {
	if err := p.check(); err != nil {
		return Plan{}, err
	}
	s := newSearch(p)
	plan := Plan{hidden: s.first(), small: make([]bool, len(p.cells)), Exact: true}
	for i, c := range p.cells {
		plan.small[i] = c.printed && Small(c.n)
	}
	for _, part := range s.islands() {
		hidden, exact := s.solve(part, plan.hidden)
		plan.hidden, plan.Exact = hidden, plan.Exact && exact
	}
	for i, c := range p.cells {
		plan.hidden[i] = plan.hidden[i] && c.printed
		if plan.hidden[i] && !plan.small[i] {
			plan.Loss += c.weight
		}
	}
	return plan, nil
}

// search is the work of one Solve.
type search struct {
	p      *Problem
	of     [][]int   // the sums that each cell stands in
	least  []float64 // the smallest value that the shape alone leaves to a small cell
	people float64   // sum of all counts, so that of two sets of one weight the one with fewer people is taken
}

func newSearch(p *Problem) *search {
	s := &search{p: p, of: make([][]int, len(p.cells)), least: make([]float64, len(p.cells)), people: 1}
	for i, x := range p.sums {
		s.of[x.total] = append(s.of[x.total], i)
		for _, c := range x.parts {
			s.of[c] = append(s.of[c], i)
		}
	}
	all := make([]bool, len(p.cells))
	for i, c := range p.cells {
		all[i] = !c.printed || c.n > 0
		s.people += float64(c.n)
	}
	for i, c := range p.cells {
		if Small(c.n) {
			low, _ := s.reach(Cell(i), all, -1)
			s.least[i] = math.Max(1, low)
		}
	}
	return s
}

// first hides the small counts themselves. What is not printed is unknown to start with.
func (s *search) first() []bool {
	hidden := make([]bool, len(s.p.cells))
	for i, c := range s.p.cells {
		hidden[i] = !c.printed || Small(c.n)
	}
	return hidden
}

// islands parts the small cells into groups that no sum connects.
func (s *search) islands() [][]Cell {
	seen := make([]bool, len(s.p.cells))
	var out [][]Cell
	for i := range s.p.cells {
		if seen[i] {
			continue
		}
		var island []Cell
		todo := []Cell{Cell(i)}
		seen[i] = true
		for len(todo) > 0 {
			c := todo[0]
			todo = todo[1:]
			if Small(s.p.cells[c].n) {
				island = append(island, c)
			}
			for _, k := range s.of[c] {
				for _, other := range append([]Cell{s.p.sums[k].total}, s.p.sums[k].parts...) {
					if !seen[other] {
						seen[other] = true
						todo = append(todo, other)
					}
				}
			}
		}
		if len(island) > 0 {
			out = append(out, island)
		}
	}
	return out
}

func (s *search) cost(c Cell) float64 {
	x := s.p.cells[c]
	return x.weight + float64(x.n)/s.people
}

// try is one set of hidden counts on the way.
type try struct {
	hidden []bool
	cost   float64
	safe   int // so many of the island's small cells are known to be protected: hiding more never undoes it
}

type queue []*try

func (q queue) Len() int           { return len(q) }
func (q queue) Less(i, j int) bool { return q[i].cost < q[j].cost }
func (q queue) Swap(i, j int)      { q[i], q[j] = q[j], q[i] }
func (q *queue) Push(x any)        { *q = append(*q, x.(*try)) }
func (q *queue) Pop() any {
	old := *q
	x := old[len(old)-1]
	*q = old[:len(old)-1]
	return x
}

// solve protects the small cells of an island, given what is hidden already.
func (s *search) solve(island []Cell, hidden []bool) (out []bool, exact bool) {
	q := &queue{{hidden: slices.Clone(hidden)}}
	seen := map[string]bool{}
	for tried := 0; q.Len() > 0 && tried < mostTried; tried++ {
		t := heap.Pop(q).(*try)
		helps, done := s.next(t, island)
		if done {
			return t.hidden, true
		}
		for _, c := range helps {
			more := slices.Clone(t.hidden)
			more[c] = true
			if k := key(more); !seen[k] {
				seen[k] = true
				heap.Push(q, &try{hidden: more, cost: t.cost + s.cost(c), safe: t.safe})
			}
		}
	}
	return s.greedy(island, hidden), false
}

// greedy hides the cheapest count that helps until all is protected, then shows again what was not needed.
func (s *search) greedy(island []Cell, hidden []bool) []bool {
	t := &try{hidden: slices.Clone(hidden)}
	var added []Cell
	for helps, done := s.next(t, island); !done; helps, done = s.next(t, island) {
		c := slices.MinFunc(helps, func(a, b Cell) int { return cmpFloat(s.cost(a), s.cost(b)) })
		t.hidden[c] = true
		added = append(added, c)
	}
	slices.SortStableFunc(added, func(a, b Cell) int { return cmpFloat(s.cost(b), s.cost(a)) })
	for _, c := range added {
		t.hidden[c], t.safe = false, 0
		if _, done := s.next(t, island); !done {
			t.hidden[c] = true
		}
	}
	return t.hidden
}

func cmpFloat(a, b float64) int {
	switch {
	case a < b:
		return -1
	case a > b:
		return 1
	}
	return 0
}

func key(hidden []bool) string {
	b := make([]byte, len(hidden))
	for i, h := range hidden {
		if h {
			b[i] = 1
		}
	}
	return string(b)
}

// next finds the first small cell of the island that is not protected and the printed counts of which at least one must be
// hidden for it; done when all are protected.
func (s *search) next(t *try, island []Cell) (helps []Cell, done bool) {
	for ; t.safe < len(island); t.safe++ {
		c := island[t.safe]
		high, helps := s.reach(c, t.hidden, 1)
		if high < Least-1-eps*Least {
			return helps, false
		}
		low, helps := s.reach(c, t.hidden, -1)
		if low > s.least[c]+eps*Least {
			return helps, false
		}
	}
	return nil, true
}

// reach gives the largest (way 1) or smallest (way -1) value that an outsider must allow a hidden cell, and the printed counts
// that could move it. Only sums that hidden cells connect with it can say anything about it.
func (s *search) reach(c Cell, hidden []bool, way float64) (value float64, helps []Cell) {
	vars, rows := s.near(c, hidden)
	lp := program{vars: len(vars)}
	at := make(map[Cell]int, len(vars))
	for i, v := range vars {
		at[v] = i
	}
	lp.goal = make([]float64, len(vars))
	lp.goal[at[c]] = way
	for _, k := range rows {
		coef, rhs := make([]float64, len(vars)), 0.0
		s.each(k, func(x Cell, a float64) {
			if i, ok := at[x]; ok {
				coef[i] += a
				rhs -= a * s.floor(x)
			} else {
				rhs -= a * float64(s.p.cells[x].n)
			}
		})
		lp.coef, lp.rhs = append(lp.coef, coef), append(lp.rhs, rhs)
	}
	best, price := lp.solve()
	if math.IsInf(best, 1) {
		return best, nil // nothing bounds it from above; downwards this cannot be
	}
	worth := map[Cell]float64{}
	for i, k := range rows {
		s.each(k, func(x Cell, a float64) {
			if !hidden[x] && s.p.cells[x].n > 0 {
				worth[x] += a * price[i]
			}
		})
	}
	for x, w := range worth {
		if math.Abs(w) > eps*Least {
			helps = append(helps, x)
		}
	}
	slices.Sort(helps)
	return s.floor(c) + way*best, helps
}

// floor is what everybody knows of a hidden cell: 0 is always printed.
func (s *search) floor(c Cell) float64 {
	if s.p.cells[c].printed {
		return 1
	}
	return 0
}

// each gives the cells of a sum with their signs.
func (s *search) each(k int, do func(Cell, float64)) {
	do(s.p.sums[k].total, 1)
	for _, x := range s.p.sums[k].parts {
		do(x, -1)
	}
}

// near finds the hidden cells that sums connect with a cell, and those sums.
func (s *search) near(c Cell, hidden []bool) (vars []Cell, rows []int) {
	seenCell, seenRow := map[Cell]bool{c: true}, map[int]bool{}
	vars = []Cell{c}
	for i := 0; i < len(vars); i++ {
		for _, k := range s.of[vars[i]] {
			if seenRow[k] {
				continue
			}
			seenRow[k] = true
			rows = append(rows, k)
			s.each(k, func(x Cell, _ float64) {
				if hidden[x] && !seenCell[x] {
					seenCell[x] = true
					vars = append(vars, x)
				}
			})
		}
	}
	return vars, rows
}

// Exposed lists the counts from 1 to 10, printed or not, that a plan does not protect, by the same bounds that Solve uses.
func (p *Problem) Exposed(l Plan) []Cell {
	s := newSearch(p)
	hidden := slices.Clone(l.hidden)
	var out []Cell
	for i, c := range p.cells {
		hidden[i] = hidden[i] || !c.printed
	}
	for i, c := range p.cells {
		if !Small(c.n) {
			continue
		}
		if _, done := s.next(&try{hidden: hidden}, []Cell{Cell(i)}); !hidden[i] || !done {
			out = append(out, Cell(i))
		}
	}
	return out
}
