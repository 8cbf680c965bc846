package disclose

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

func solve(t *testing.T, p *Problem) Plan {
	t.Helper()
	l, err := p.Solve()
	if err != nil {
		t.Fatal(err)
	}
	return l
}

// printed writes what a plan leaves of some cells: the count, or -1 where it is hidden.
func printed(p *Problem, l Plan, cells []Cell) []int {
	out := make([]int, len(cells))
	for i, c := range cells {
		out[i] = p.value(c)
		if l.Hidden(c) {
			out[i] = -1
		}
	}
	return out
}

func same(a, b []int) bool {
	if len(a) != len(b) {
		return false
	}
	for i := range a {
		if a[i] != b[i] {
			return false
		}
	}
	return true
}

// One total and its parts. The bands of the invented Larkfield day: 52, 11, 3, 1, 1 and 0 of 68. The three small ones are
// hidden; together they would be 5, so that the 11 must go too.
func TestOneWay(t *testing.T) {
	for _, c := range []struct {
		name         string
		counts, want []int
	}{
		{"nothing small", []int{52, 16, 0}, []int{52, 16, 0}},
		{"one small count takes the smallest of the others", []int{40, 20, 3, 0}, []int{40, -1, -1, 0}},
		{"two that make 11 together: one of them could be anything up to 10", []int{40, 5, 6}, []int{40, -1, -1}},
		{"two that make 10 together take a third", []int{40, 20, 5, 5}, []int{40, -1, -1, -1}},
		{"the bands of Larkfield", []int{52, 11, 3, 1, 1, 0}, []int{52, -1, -1, -1, -1, 0}},
		{"two small ones that are enough for each other", []int{100, 10, 9}, []int{100, -1, -1}},
		{"0 is shown", []int{0, 0, 12}, []int{0, 0, 12}},
	} {
		var p Problem
		total := 0
		var parts []Cell
		for _, n := range c.counts {
			parts = append(parts, p.Count(n, 1))
			total += n
		}
		p.Sum(p.Count(total, 8), parts...)
		l := solve(t, &p)
		if got := printed(&p, l, parts); !same(got, c.want) {
			t.Errorf("%s: %v is printed as %v, want %v", c.name, c.counts, got, c.want)
		}
		if !l.Exact {
			t.Errorf("%s: the search was cut short", c.name)
		}
		audit(t, &p, l)
	}
}

// "66 of 70" gives 4 away, though nobody prints it.
func TestTheRestIsProtected(t *testing.T) {
	var p Problem
	all := p.Count(70, 8)
	some := p.Count(66, 1)
	rest := p.Within(all, some)
	l := solve(t, &p)
	if !l.Hidden(some) || l.Hidden(all) || l.Hidden(rest) {
		t.Errorf("66 hidden %v, 70 hidden %v; want the 66 alone", l.Hidden(some), l.Hidden(all))
	}
	if l.Small(some) || l.Loss != 1 {
		t.Errorf("the 66 is hidden for the sake of the rest: small %v, loss %v", l.Small(some), l.Loss)
	}
	audit(t, &p, l)
}

// Two tables that share their margin: what protects the first must not be undone by the second.
func TestLinkedTables(t *testing.T) {
	var p Problem
	a, b := p.Count(30, 1), p.Count(45, 1)
	all := p.Count(75, 8)
	p.Sum(all, a, b)
	a1, a2, a3 := p.Count(4, 1), p.Count(14, 1), p.Count(12, 1)
	p.Sum(a, a1, a2, a3)
	b1, b2, b3 := p.Count(20, 1), p.Count(13, 1), p.Count(12, 1)
	p.Sum(b, b1, b2, b3)
	l := solve(t, &p)
	if got, want := printed(&p, l, []Cell{a1, a2, a3, a, b, b1, b2, b3, all}), []int{-1, 14, -1, 30, 45, 20, 13, 12, 75}; !same(got, want) {
		t.Errorf("printed %v, want %v", got, want)
	}
	c1, c2, c3 := p.Count(24, 1), p.Count(27, 1), p.Count(24, 1)
	p.Sum(c1, a1, b1)
	p.Sum(c2, a2, b2)
	p.Sum(c3, a3, b3)
	p.Sum(all, c1, c2, c3)
	l = solve(t, &p)
	if got, want := printed(&p, l, []Cell{a1, a2, a3, b1, b2, b3}), []int{-1, 14, -1, -1, 13, -1}; !same(got, want) {
		t.Errorf("with the second table %v is printed, want %v", got, want)
	}
	audit(t, &p, l)
}

func TestRefusesWhatIsNoReport(t *testing.T) {
	var p Problem
	a := p.Count(5, 1)
	p.Sum(p.Count(6, 1), a)
	if _, err := p.Solve(); err == nil {
		t.Error("a sum that does not come out was taken")
	}
	var q Problem
	q.Within(q.Count(5, 1), q.Count(6, 1))
	if _, err := q.Solve(); err == nil {
		t.Error("a part larger than its total was taken")
	}
	var r Problem
	r.Sum(r.Count(0, 1), Cell(9))
	if _, err := r.Solve(); err == nil {
		t.Error("a sum of a cell that is not there was taken")
	}
	var none Problem
	if l, err := none.Solve(); err != nil || l.Loss != 0 {
		t.Errorf("nothing to hide: %v %v", l, err)
	}
}

// tables draws linked tables: a two-way table with its margins, one row of which is parted again, and a funnel beside it.
func tables(t *rapid.T, most, wide int) *Problem {
	n := rapid.OneOf(rapid.IntRange(0, 12), rapid.IntRange(0, most))
	var p Problem
	rows, cols := rapid.IntRange(1, wide).Draw(t, "rows"), rapid.IntRange(1, wide).Draw(t, "cols")
	counts := make([][]int, rows)
	for i := range counts {
		counts[i] = make([]int, cols)
		for j := range counts[i] {
			counts[i][j] = n.Draw(t, "count")
		}
	}
	g := p.Table(counts)
	if rapid.Bool().Draw(t, "parted") {
		of := g.Rows[0]
		left := p.value(of)
		first := rapid.IntRange(0, left).Draw(t, "first")
		p.Sum(of, p.Count(first, 1), p.Count(left-first, 1))
	}
	if rapid.Bool().Draw(t, "funnel") {
		left := rapid.IntRange(0, p.value(g.All)).Draw(t, "some")
		some := p.Count(left, 1)
		p.Within(g.All, some)
		if rapid.Bool().Draw(t, "deeper") {
			p.Within(some, p.Count(rapid.IntRange(0, left).Draw(t, "fewer"), 1))
		}
	}
	return &p
}

// Whatever the tables, no count from 1 to 10 is printed or can be worked out, and 0 is printed.
func TestNothingSmallCanBeWorkedOut(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := tables(t, 60, 5)
		l, err := p.Solve()
		if err != nil {
			t.Fatal(err)
		}
		for i, c := range p.cells {
			if c.n == 0 && l.Hidden(Cell(i)) {
				t.Fatalf("cell %d counts 0 and is hidden", i)
			}
		}
		audit(t, p, l)
		if exposed := p.Exposed(l); len(exposed) > 0 {
			t.Fatalf("exposed: %v", exposed)
		}
	})
}

// For small tables the loss is compared with that of every other set of hidden counts.
func TestNoSmallerLossWouldDo(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := tables(t, 25, 2)
		l, err := p.Solve()
		if err != nil || !l.Exact {
			t.Fatal(err, l.Exact)
		}
		var may []int
		for i, c := range p.cells {
			if c.printed && c.n >= Least {
				may = append(may, i)
			}
		}
		least := math.Inf(1)
		for set := range 1 << len(may) {
			other := Plan{hidden: make([]bool, len(p.cells))}
			loss := 0.0
			for i, c := range p.cells {
				other.hidden[i] = c.printed && Small(c.n)
			}
			for k, i := range may {
				if set>>k&1 == 1 {
					other.hidden[i] = true
					loss += p.cells[i].weight
				}
			}
			if loss < least && len(p.Exposed(other)) == 0 {
				least = loss
			}
		}
		if math.Abs(least-l.Loss) > 1e-9 {
			t.Fatalf("loss %v, but %v would do", l.Loss, least)
		}
	})
}

// A wide table is beyond the exact search, and is protected all the same.
func TestTheHeuristicProtects(t *testing.T) {
	var p Problem
	counts := make([][]int, 12)
	for i := range counts {
		counts[i] = make([]int, 9)
		for j := range counts[i] {
			counts[i][j] = (i*i*7 + j*j*5 + 3*i*j) % 41
		}
	}
	p.Table(counts)
	l := solve(t, &p)
	if exposed := p.Exposed(l); len(exposed) > 0 {
		t.Fatalf("exposed: %v", exposed)
	}
	audit(t, &p, l)
}
