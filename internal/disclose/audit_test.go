package disclose

import (
	"errors"
	"math"
	"testing"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/optimize/convex/lp"
	"pgregory.net/rapid"
)

// failer is a test or a drawn case of one.
type failer interface {
	Helper()
	Fatalf(format string, args ...any)
}

// audit plays the outsider: from what a plan leaves printed it bounds every count from 1 to 10 by linear programs that share no
// code with Solve (gonum's simplex, on rows that were made independent first), and fails where one of the counts 1 to 10 can
// be ruled out.
func audit(t failer, p *Problem, l Plan) {
	t.Helper()
	out := outsider{p: p, hidden: make([]bool, len(p.cells)), all: make([]bool, len(p.cells))}
	for i, c := range p.cells {
		out.hidden[i] = l.Hidden(Cell(i)) || !c.printed
		out.all[i] = !c.printed || c.n > 0
	}
	for i, c := range p.cells {
		if c.n < 1 || c.n > 10 {
			continue
		}
		if !out.hidden[i] {
			t.Fatalf("cell %d is printed as %d", i, c.n)
		}
		low, high := out.bounds(t, i, out.hidden)
		shape, _ := out.bounds(t, i, out.all)
		if high < 10-1e-6 || low > math.Max(1, shape)+1e-6 {
			t.Fatalf("cell %d counts %d; an outsider finds %v to %v (the shape alone says at least %v) in %v", i, c.n, low, high, shape, p)
		}
	}
}

type outsider struct {
	p           *Problem
	hidden, all []bool
}

// bounds gives the smallest and the largest value of a hidden cell that agree with all that is printed.
func (o outsider) bounds(t failer, c int, hidden []bool) (low, high float64) {
	t.Helper()
	var vars []int
	at := map[int]int{}
	for i := range o.p.cells {
		if hidden[i] {
			at[i] = len(vars)
			vars = append(vars, i)
		}
	}
	floor := func(i int) float64 {
		if o.p.cells[i].printed {
			return 1
		}
		return 0
	}
	var rows [][]float64
	for _, s := range o.p.sums {
		row := make([]float64, len(vars)+1)
		put := func(x Cell, a float64) {
			if i, ok := at[int(x)]; ok {
				row[i] += a
				row[len(vars)] -= a * floor(int(x))
			} else {
				row[len(vars)] -= a * float64(o.p.cells[x].n)
			}
		}
		put(s.total, 1)
		for _, x := range s.parts {
			put(x, -1)
		}
		rows = append(rows, row)
	}
	rows = independent(rows)
	solve := func(sign float64) float64 {
		goal := make([]float64, len(vars))
		goal[at[c]] = -sign // gonum minimizes
		if len(rows) == 0 || len(rows) >= len(vars) {
			return o.square(t, rows, len(vars), at[c], sign)
		}
		a := mat.NewDense(len(rows), len(vars), nil)
		b := make([]float64, len(rows))
		for i, r := range rows {
			for j := range vars {
				a.Set(i, j, r[j])
			}
			b[i] = r[len(vars)]
		}
		// A variable in no row is bounded by nothing; gonum refuses it.
		var keep []int
		for j := range vars {
			if mat.Norm(a.ColView(j), 1) > 0 {
				keep = append(keep, j)
			}
		}
		if mat.Norm(a.ColView(at[c]), 1) == 0 {
			if sign > 0 {
				return math.Inf(1)
			}
			return 0
		}
		small := mat.NewDense(len(rows), len(keep), nil)
		g := make([]float64, len(keep))
		for k, j := range keep {
			g[k] = goal[j]
			for i := range rows {
				small.Set(i, k, a.At(i, j))
			}
		}
		if len(rows) >= len(keep) {
			for k, j := range keep {
				if j == at[c] {
					return o.squareOf(t, small, b, k)
				}
			}
		}
		best, _, err := lp.Simplex(g, small, b, 1e-10, nil)
		if errors.Is(err, lp.ErrUnbounded) {
			return math.Inf(1)
		}
		if err != nil {
			t.Fatalf("the auditor's simplex: %v", err)
		}
		return -sign * best
	}
	return floor(c) + solve(-1), floor(c) + solve(1)
}

// square answers where there are as many independent rows as variables, so that everything can be worked out, or none at all.
func (o outsider) square(t failer, rows [][]float64, vars, c int, sign float64) float64 {
	t.Helper()
	if len(rows) == 0 {
		if sign > 0 {
			return math.Inf(1)
		}
		return 0
	}
	a := mat.NewDense(len(rows), vars, nil)
	b := make([]float64, len(rows))
	for i, r := range rows {
		for j := range vars {
			a.Set(i, j, r[j])
		}
		b[i] = r[vars]
	}
	return o.squareOf(t, a, b, c)
}

func (o outsider) squareOf(t failer, a *mat.Dense, b []float64, c int) float64 {
	t.Helper()
	var x mat.VecDense
	if err := x.SolveVec(a, mat.NewVecDense(len(b), b)); err != nil {
		t.Fatalf("the auditor's equations: %v", err)
	}
	return x.AtVec(c)
}

// independent leaves as many rows as say something new, by elimination. The last number of a row is its constant.
func independent(rows [][]float64) [][]float64 {
	var out [][]float64
	n := 0
	if len(rows) > 0 {
		n = len(rows[0]) - 1
	}
	for col := 0; col < n; col++ {
		pick := -1
		for i, r := range rows {
			if math.Abs(r[col]) > 1e-9 && (pick < 0 || math.Abs(r[col]) > math.Abs(rows[pick][col])) {
				pick = i
			}
		}
		if pick < 0 {
			continue
		}
		r := rows[pick]
		rows = append(rows[:pick:pick], rows[pick+1:]...)
		for _, other := range [][][]float64{rows, out} {
			for _, q := range other {
				f := q[col] / r[col]
				for j := range q {
					q[j] -= f * r[j]
				}
			}
		}
		out = append(out, r)
	}
	return out
}

// An outsider who writes down every table of whole numbers that agrees with what is printed finds each count from 1 to 10
// possible.
func TestEveryCountStaysPossible(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var p Problem
		n := rapid.IntRange(0, 14)
		rows, cols := rapid.IntRange(1, 2).Draw(t, "rows"), rapid.IntRange(2, 3).Draw(t, "cols")
		counts := make([][]int, rows)
		for i := range counts {
			counts[i] = make([]int, cols)
			for j := range counts[i] {
				counts[i][j] = n.Draw(t, "count")
			}
		}
		g := p.Table(counts)
		l, err := p.Solve()
		if err != nil {
			t.Fatal(err)
		}
		total := p.value(g.All)
		if total < Least { // nothing is printed but 0
			return
		}
		possible := make([]map[int]bool, rows*cols)
		for i := range possible {
			possible[i] = map[int]bool{}
		}
		guess := make([]int, rows*cols)
		var try func(i, sum int)
		try = func(i, sum int) {
			if i == len(guess) {
				if fits(&p, g, l, guess, cols) {
					for k, x := range guess {
						possible[k][x] = true
					}
				}
				return
			}
			c := g.Cells[i/cols][i%cols]
			if !l.Hidden(c) {
				guess[i] = p.value(c)
				try(i+1, sum+guess[i])
				return
			}
			for x := 1; x <= min(total-sum, total); x++ {
				guess[i] = x
				try(i+1, sum+x)
			}
		}
		if l.Hidden(g.All) {
			return // nothing bounds it
		}
		try(0, 0)
		for i, seen := range possible {
			c := g.Cells[i/cols][i%cols]
			if !Small(p.value(c)) {
				continue
			}
			for x := 1; x <= 10; x++ {
				if !seen[x] {
					t.Fatalf("%v: cell %d, which counts %d, cannot be %d", counts, i, p.value(c), x)
				}
			}
		}
	})
}

// fits reports whether a guessed table agrees with everything that is printed, and shows no 0 where none was printed.
func fits(p *Problem, g Grid, l Plan, guess []int, cols int) bool {
	agrees := func(c Cell, n int) bool {
		if l.Hidden(c) {
			return n > 0
		}
		return n == p.value(c)
	}
	all := 0
	for i, c := range g.Rows {
		n := 0
		for j := range cols {
			n += guess[i*cols+j]
		}
		all += n
		if !agrees(c, n) {
			return false
		}
	}
	for j, c := range g.Cols {
		n := 0
		for i := range g.Rows {
			n += guess[i*cols+j]
		}
		if !agrees(c, n) {
			return false
		}
	}
	return agrees(g.All, all)
}

var _ failer = (*testing.T)(nil)

// caught is a test that only notes that it failed.
type caught struct{ said bool }

func (c *caught) Helper()               {}
func (c *caught) Fatalf(string, ...any) { c.said = true }

// The auditor itself must notice: what hides only the small counts gives them away.
func TestTheAuditorBites(t *testing.T) {
	var p Problem
	g := p.Table([][]int{{3, 20}, {30, 40}})
	bare := Plan{hidden: make([]bool, len(p.cells))}
	bare.hidden[g.Cells[0][0]] = true
	var c caught
	if audit(&c, &p, bare); !c.said {
		t.Error("3 can be worked out from 23 and 20, and the auditor did not see it")
	}
	if exposed := p.Exposed(bare); len(exposed) != 1 || exposed[0] != g.Cells[0][0] {
		t.Errorf("exposed %v, want the 3", exposed)
	}
}
