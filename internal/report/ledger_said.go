package report

import (
	"slices"

	"fairstick/internal/about"
	"fairstick/internal/disclose"
)

// saidFigures are the figures of a table of what people said about themselves, and insideOf says in which of them each lies.
func (l *ledger) saidFigures() []string {
	if l.showsOutside() {
		return []string{"approached", "tested", "outside", "referred", "seen"}
	}
	return partFigures
}

var insideOf = map[string]string{"tested": "approached", "outside": "tested", "referred": "tested", "seen": "referred"}

// showsOutside reports whether the tables of what people said have a column for those outside the usual range: not where they are those
// referred, as in a protocol that refers every band but the usual one.
func (l *ledger) showsOutside() bool {
	for _, q := range about.Questions() {
		for _, c := range l.f.Parted[q.Key] {
			if c.N("outside") != c.N("referred") {
				return true
			}
		}
	}
	return false
}

// enterSaid decides which counts of what people said about themselves are shown. Their tables share nothing with the other counts, nor with
// each other, but the sums at their foot. Where a sum is printed the table is a problem of its own; where it is not, or would have to be hidden
// for the sake of the table, no count of that column is.
func (l *ledger) enterSaid() error {
	for _, q := range about.Questions() {
		names := l.f.PartsOf(q.Key, "approached")
		if len(names) == 0 {
			continue
		}
		var figures []string
		for _, key := range l.saidFigures() {
			for _, name := range names {
				l.said[partKey(q.Key, name, key)] = false
			}
			if c, ok := l.cells[key]; ok && !l.plan.Hidden(c) {
				figures = append(figures, key)
			}
		}
		for {
			t := newSaidTable(l, q.Key, names, figures)
			plan, err := t.problem.Solve()
			if err != nil {
				return err
			}
			gone := slices.IndexFunc(figures, func(key string) bool { return plan.Hidden(t.sums[key]) })
			if gone < 0 {
				for key, c := range t.cells {
					l.said[key] = !plan.Hidden(c)
				}
				break
			}
			figures = slices.Delete(figures, gone, gone+1)
		}
	}
	return nil
}

// saidTable is one such table on its own.
type saidTable struct {
	problem disclose.Problem
	sums    map[string]disclose.Cell // by figure
	cells   map[string]disclose.Cell // by key of the ledger
}

// printedSum weighs more than a whole table: it is printed elsewhere already.
const printedSum = 1e6

func newSaidTable(l *ledger, parting string, names, figures []string) *saidTable {
	t := &saidTable{sums: map[string]disclose.Cell{}, cells: map[string]disclose.Cell{}}
	for _, key := range figures {
		t.sums[key] = t.problem.Count(l.f.All.N(key), printedSum)
		for _, name := range names {
			t.cells[partKey(parting, name, key)] = t.problem.Count(l.f.Parted[parting][name].N(key), 1)
		}
	}
	for _, key := range figures {
		parts := make([]disclose.Cell, len(names))
		for i, name := range names {
			parts[i] = t.cells[partKey(parting, name, key)]
			for outer := insideOf[key]; outer != ""; outer = insideOf[outer] {
				if whole, ok := t.cells[partKey(parting, name, outer)]; ok {
					t.problem.Within(whole, parts[i])
					break
				}
			}
		}
		t.problem.Sum(t.sums[key], parts...)
	}
	if t.nests(l, parting, names, "referred", "outside") {
		for _, name := range names {
			t.problem.Within(t.cells[partKey(parting, name, "outside")], t.cells[partKey(parting, name, "referred")])
		}
	}
	return t
}

// nests reports whether both figures stand in the table and the first may lie inside the second in every row, as an outsider who knows the
// protocol may believe.
func (t *saidTable) nests(l *ledger, parting string, names []string, inner, outer string) bool {
	_, a := t.sums[inner]
	_, b := t.sums[outer]
	return a && b && !slices.ContainsFunc(names, func(name string) bool {
		c := l.f.Parted[parting][name]
		return c.N(inner) > c.N(outer)
	})
}
