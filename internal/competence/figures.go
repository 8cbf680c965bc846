package competence

import (
	"fairstick/internal/competence/cards"
	"fairstick/internal/competence/measure"
)

// Sittings gives every quiz of a level that was taken, for the statistics of the questions. An empty level gives all. The id is that of
// the fact, so that no name goes along.
func Sittings(people []*State, l cards.Level) []measure.Sitting {
	var out []measure.Sitting
	for _, s := range people {
		for _, q := range s.Quizzes {
			if l != "" && q.Level != l {
				continue
			}
			x := measure.Sitting{ID: q.FactID, Right: map[string]bool{}}
			for _, a := range q.Answers {
				x.Right[a.Question] = a.Right
			}
			out = append(out, x)
		}
	}
	return out
}

// FirstTries counts who passed the quiz of a level at the first try, among those who tried: what a pass rate is made of.
func FirstTries(people []*State, l cards.Level) (passed, of int) {
	for _, s := range people {
		for _, q := range s.Quizzes {
			if q.Level != l {
				continue
			}
			of++
			if q.Passed {
				passed++
			}
			break
		}
	}
	return passed, of
}

// MarksTable counts how two observers marked the same steps of the same fingerstick: rows are the first observer's ok and missed,
// columns the second's. A step that either of them did not see is left out. The table is what measure.Kappa takes.
func MarksTable(first, second map[string]Mark) [][]int {
	table := [][]int{{0, 0}, {0, 0}}
	place := map[Mark]int{OK: 0, Missed: 1}
	for _, s := range cards.Steps() {
		i, seenByFirst := place[first[s.Key]]
		j, seenBySecond := place[second[s.Key]]
		if seenByFirst && seenBySecond {
			table[i][j]++
		}
	}
	return table
}
