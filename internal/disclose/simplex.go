package disclose

import (
	"math"
	"slices"
)

// eps is how far from 0 a number of the simplex counts as 0. All coefficients are -1, 0 or 1 and all constants whole.
const eps = 1e-9

// program is a linear program over variables that are not negative: the largest value of one variable (or of its negative)
// under equations. Row i says that coef[i] times the variables is rhs[i].
type program struct {
	coef [][]float64
	rhs  []float64
	vars int
	goal []float64 // what is made largest
}

// solve gives the largest value of the goal, +Inf when nothing bounds it, and for each row the price by which the value moves
// with its constant. The program must have a solution. It is the two-phase simplex method on a dense tableau; Bland's rule
// (Math. Oper. Res. 1977;2:103-7) keeps it from going round in circles.
func (lp program) solve() (best float64, price []float64) {
	t, sign := lp.tableau()
	rows := len(t.rows)
	// Phase 1: the artificial variables, one a row, go down to 0.
	phase1 := make([]float64, lp.vars+rows)
	for j := range rows {
		phase1[lp.vars+j] = -1
	}
	t.price(phase1)
	t.run(lp.vars + rows)
	t.expel(lp.vars)
	// Phase 2: the goal itself; artificial variables stay out.
	goal := make([]float64, lp.vars+rows)
	copy(goal, lp.goal)
	t.price(goal)
	if !t.run(lp.vars) {
		return math.Inf(1), nil
	}
	price = make([]float64, rows)
	for i := range price {
		price[i] = sign[i] * t.cost[lp.vars+i]
	}
	return t.value, price
}

// tableau is the state of the simplex method: each row a basic variable in terms of the others.
type tableau struct {
	rows  [][]float64 // coefficients; the last one is the constant
	basis []int       // the basic variable of each row
	cost  []float64   // what each variable would take from the goal for each unit that it grows
	value float64
}

// tableau sets up the rows with an artificial variable each; sign says which rows were turned so that constants are not negative.
func (lp program) tableau() (t *tableau, sign []float64) {
	n := len(lp.coef)
	t, sign = &tableau{}, make([]float64, n)
	for i, row := range lp.coef {
		sign[i] = 1
		if lp.rhs[i] < 0 {
			sign[i] = -1
		}
		r := make([]float64, lp.vars+n+1)
		for j, a := range row {
			r[j] = sign[i] * a
		}
		r[lp.vars+i] = 1
		r[lp.vars+n] = sign[i] * lp.rhs[i]
		t.rows, t.basis = append(t.rows, r), append(t.basis, lp.vars+i)
	}
	return t, sign
}

// price works out the cost of every variable for a goal at the present basis.
func (t *tableau) price(goal []float64) {
	t.cost, t.value = make([]float64, len(goal)), 0
	for j := range goal {
		t.cost[j] = -goal[j]
	}
	for i, b := range t.basis {
		if g := goal[b]; g != 0 {
			for j := range t.cost {
				t.cost[j] += g * t.rows[i][j]
			}
			t.value += g * t.rows[i][len(goal)]
		}
	}
}

// run improves the goal with the first so many variables until nothing helps; false when it grows without end.
func (t *tableau) run(vars int) bool {
	for {
		enter := slices.IndexFunc(t.cost[:vars], func(c float64) bool { return c < -eps })
		if enter < 0 {
			return true
		}
		leave, least := -1, math.Inf(1)
		for i, r := range t.rows {
			if r[enter] <= eps {
				continue
			}
			ratio := r[len(r)-1] / r[enter]
			if ratio < least-eps || ratio < least+eps && (leave < 0 || t.basis[i] < t.basis[leave]) {
				leave, least = i, ratio
			}
		}
		if leave < 0 {
			return false
		}
		t.pivot(leave, enter)
	}
}

// pivot makes a variable basic in a row.
func (t *tableau) pivot(row, enter int) {
	r := t.rows[row]
	d := r[enter]
	for j := range r {
		r[j] /= d
	}
	r[enter] = 1
	for i, other := range t.rows {
		if f := other[enter]; i != row && f != 0 {
			for j := range other {
				other[j] -= f * r[j]
			}
			other[enter] = 0
		}
	}
	f := t.cost[enter]
	for j := range t.cost {
		t.cost[j] -= f * r[j]
	}
	t.cost[enter] = 0
	t.value -= f * r[len(r)-1]
	t.basis[row] = enter
}

// expel takes artificial variables out of the basis; a row that has nothing else says nothing new and goes.
func (t *tableau) expel(vars int) {
	for i := 0; i < len(t.rows); i++ {
		if t.basis[i] < vars {
			continue
		}
		if j := slices.IndexFunc(t.rows[i][:vars], func(a float64) bool { return math.Abs(a) > eps }); j >= 0 {
			t.pivot(i, j)
			continue
		}
		t.rows, t.basis = slices.Delete(t.rows, i, i+1), slices.Delete(t.basis, i, i+1)
		i--
	}
}
