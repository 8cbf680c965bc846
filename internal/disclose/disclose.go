// Package disclose decides which counts of a report may leave the house. A count from 1 to 10 could point at a person, so it
// is hidden; a count of 0 is shown. So that no sum gives a hidden count away, further counts are hidden with it, as few as
// will do.
//
// The rule is that of the Centers for Medicare and Medicaid Services for small cells (ResDAC, 26 January 2024): no cell
// from 1 to 10 is shown, 0 may be, and nothing is shown from which such a cell can be worked out: no total, no complement,
// no percentage.
//
// What "worked out" means is made exact here. An outsider knows every printed number and every sum that binds them, knows
// that counts are not negative, and knows that 0 is always printed, so that a hidden count is at least 1. A count from 1 to
// 10 is protected when from all of this nobody can rule out any count from 1 to 10: the smallest value it could have is 1
// and the largest at least 10. (Where the shape alone says more, as when three hidden parts make a hidden total at least 3,
// that smallest value is taken instead of 1.) From this it follows that a group of hidden counts whose sum can be worked out
// counts at least 11 people.
//
// Counts that nobody prints but everybody can subtract, such as the rest of "66 of 70", are protected in the same way.
package disclose

import (
	"fmt"
	"slices"
)

// Least is the smallest count that is printed, 0 apart.
const Least = 11

// Small reports whether a count is hidden for its own sake.
func Small(n int) bool { return n > 0 && n < Least }

// Cell names one count of a Problem.
type Cell int

// Problem is the counts of one publication with every sum that binds them. Tables that share a margin share its cell. The
// zero value is ready to use.
type Problem struct {
	cells []cell
	sums  []sum
}

type cell struct {
	n       int
	printed bool
	weight  float64
}

// sum says that total counts what the parts count together.
type sum struct {
	total Cell
	parts []Cell
}

// Count adds a count that is to be printed. Weight is how much is lost when it is hidden, for a count that nothing
// distinguishes 1; a headline may weigh more. A weight that is not above 0 means 1.
func (p *Problem) Count(n int, weight float64) Cell {
	if weight <= 0 {
		weight = 1
	}
	p.cells = append(p.cells, cell{n: n, printed: true, weight: weight})
	return Cell(len(p.cells) - 1)
}

// Sum says that total is exactly the parts together. A sum that does not come out is told by Solve.
func (p *Problem) Sum(total Cell, parts ...Cell) {
	p.sums = append(p.sums, sum{total, slices.Clone(parts)})
}

// Within says that the parts lie inside total without filling it: what is left over is nowhere printed, but anybody can
// subtract. It gives that rest.
func (p *Problem) Within(total Cell, parts ...Cell) Cell {
	rest := p.value(total)
	for _, x := range parts {
		rest -= p.value(x)
	}
	p.cells = append(p.cells, cell{n: rest})
	r := Cell(len(p.cells) - 1)
	p.Sum(total, append(slices.Clone(parts), r)...)
	return r
}

func (p *Problem) value(c Cell) int {
	if c < 0 || int(c) >= len(p.cells) {
		return -1
	}
	return p.cells[c].n
}

// check refuses what cannot be the counts of a report.
func (p *Problem) check() error {
	for i, c := range p.cells {
		if c.n < 0 {
			return fmt.Errorf("disclose: cell %d counts %d", i, c.n)
		}
	}
	for i, s := range p.sums {
		left := p.value(s.total)
		for _, x := range s.parts {
			if p.value(x) < 0 {
				return fmt.Errorf("disclose: sum %d names cell %d, which is not there", i, x)
			}
			left -= p.value(x)
		}
		if p.value(s.total) < 0 || left != 0 {
			return fmt.Errorf("disclose: sum %d does not come out: %d is left over", i, left)
		}
	}
	return nil
}

// Grid is the cells of a two-way table with its margins.
type Grid struct {
	Cells      [][]Cell
	Rows, Cols []Cell // totals
	All        Cell
}

// Table adds a two-way table with all its margins. Counts must be a rectangle.
func (p *Problem) Table(counts [][]int) Grid {
	var g Grid
	total := 0
	colSum := make([]int, 0)
	for _, row := range counts {
		rowSum := 0
		cells := make([]Cell, len(row))
		for j, n := range row {
			cells[j] = p.Count(n, 1)
			rowSum += n
			if j == len(colSum) {
				colSum = append(colSum, 0)
			}
			colSum[j] += n
		}
		g.Cells = append(g.Cells, cells)
		t := p.Count(rowSum, 2)
		p.Sum(t, cells...)
		g.Rows = append(g.Rows, t)
		total += rowSum
	}
	for j, n := range colSum {
		t := p.Count(n, 2)
		parts := make([]Cell, len(g.Cells))
		for i := range g.Cells {
			parts[i] = g.Cells[i][j]
		}
		p.Sum(t, parts...)
		g.Cols = append(g.Cols, t)
	}
	g.All = p.Count(total, 8)
	p.Sum(g.All, g.Rows...)
	p.Sum(g.All, g.Cols...)
	return g
}
