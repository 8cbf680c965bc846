// Package measure has the statistics of training: which questions are poor, whether two observers agree, and how sure a pass
// rate is.
//
// The functions take counts and marks, return plain numbers and know nothing of people. An error says that a number cannot
// be computed; it is never replaced by zero.
package measure

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"sort"

	"fairstick/internal/estimate"
)

// Sitting is one quiz of one person: each question by key with whether it was right.
type Sitting struct {
	ID    string
	Right map[string]bool
}

// share is the part of all questions of a sitting that were right, without one question; ok is false when none is left.
func (s Sitting) share(without string) (share float64, ok bool) {
	right, of := 0, 0
	for key, r := range s.Right {
		if key == without {
			continue
		}
		of++
		if r {
			right++
		}
	}
	if of == 0 {
		return 0, false
	}
	return float64(right) / float64(of), true
}

// Item is what the answers say about one question.
type Item struct {
	Key            string   `json:"key"`
	N              int      `json:"n"`                        // how often it was asked
	Difficulty     float64  `json:"difficulty"`               // share of right answers; 1 is easiest
	Discrimination *float64 `json:"discrimination,omitempty"` // upper less lower group, -1 to 1; nil when there are too few
	PointBiserial  *float64 `json:"point_biserial,omitempty"` // with the rest of the quiz, -1 to 1; nil when it is not defined
	Flags          []string `json:"flags,omitempty"`
}

// The flags of a question that should be looked at.
const (
	TooFew      = "too-few"      // asked fewer times than MinAsked: nothing is said about it
	TooHard     = "too-hard"     // fewer than 30 % right
	TooEasy     = "too-easy"     // more than 95 % right
	Weak        = "weak"         // tells those who know from those who do not hardly: below 0.20
	WrongWay    = "wrong-way"    // who knows less gets it right more often: look at the key
	NoRestGiven = "not-measured" // everybody answered the same, or had the same rest
)

// MinAsked is how often a question must have been asked before it is judged. Kelley's groups of 27 % then hold 8 or more.
const MinAsked = 30

// Items judges each question of the sittings, sorted by key. Sittings may hold different questions; a person's standing is the share
// right of the other questions in the same sitting (item-rest, so that a question does not correlate with itself).
//
//   - Difficulty is the share right.
//   - Discrimination is U - L: the share right in the best 27 % of those who were asked less that in the worst 27 % (Kelley TL, J Educ
//     Psychol 1939;30:17-24, from memory). The group size is 0.27 n rounded to the nearest whole, at least 1; ties in standing
//     are broken by the id of the sitting.
//   - PointBiserial is Pearson's correlation of right (1) or wrong (0) with the standing.
//
// A question with fewer than MinAsked answers is flagged TooFew and not judged otherwise. The limits of the flags are common
// practice (0.20 and 0.30 for weak, 0.30 to 0.95 for difficulty in a test of mastery) and ours to choose.
func Items(sittings []Sitting) []Item {
	type answer struct {
		id    string
		right bool
		rest  float64
	}
	asked := map[string][]answer{}
	n := map[string][2]int{}
	for _, s := range sittings {
		for key, right := range s.Right {
			c := n[key]
			c[0]++
			if right {
				c[1]++
			}
			n[key] = c
			if rest, ok := s.share(key); ok {
				asked[key] = append(asked[key], answer{s.ID, right, rest})
			}
		}
	}
	out := make([]Item, 0, len(n))
	for key, c := range n {
		it := Item{Key: key, N: c[0], Difficulty: float64(c[1]) / float64(c[0])}
		answers := asked[key]
		slices.SortFunc(answers, func(a, b answer) int {
			switch {
			case a.rest != b.rest:
				return compare(a.rest, b.rest)
			case a.id < b.id:
				return -1
			case a.id > b.id:
				return 1
			}
			return 0
		})
		right := make([]bool, len(answers))
		rest := make([]float64, len(answers))
		for i, a := range answers {
			right[i], rest[i] = a.right, a.rest
		}
		if d, err := Discrimination(right); err == nil {
			it.Discrimination = &d
		}
		if r, err := PointBiserial(right, rest); err == nil {
			it.PointBiserial = &r
		}
		it.Flags = flags(it)
		out = append(out, it)
	}
	sort.Slice(out, func(i, j int) bool { return out[i].Key < out[j].Key })
	return out
}

func compare(a, b float64) int {
	if a < b {
		return -1
	}
	return 1
}

func flags(it Item) []string {
	if it.N < MinAsked {
		return []string{TooFew}
	}
	var out []string
	switch {
	case it.Difficulty < 0.30:
		out = append(out, TooHard)
	case it.Difficulty > 0.95:
		out = append(out, TooEasy)
	}
	switch {
	case it.PointBiserial == nil:
		out = append(out, NoRestGiven)
	case *it.PointBiserial < 0:
		out = append(out, WrongWay)
	case *it.PointBiserial < 0.20:
		out = append(out, Weak)
	}
	return out
}

// Discrimination gives U - L for answers in the order of the people's standing, worst first: the share right among the last 27 % less that
// among the first 27 %. The group is 0.27 n rounded to the nearest whole, at least 1. Fewer than 4 answers is an error.
func Discrimination(right []bool) (float64, error) {
	n := len(right)
	if n < 4 {
		return 0, fmt.Errorf("%d answers are too few for two groups", n)
	}
	group := max(1, (27*n+50)/100)
	upper, lower := 0, 0
	for i := range group {
		if right[i] {
			lower++
		}
		if right[n-1-i] {
			upper++
		}
	}
	return float64(upper-lower) / float64(group), nil
}

// PointBiserial gives Pearson's correlation of a right or wrong answer with a score:
//
//	r = (Mp - Mq) / s * sqrt(p q)
//
// with the mean score of those who were right and wrong, their shares p and q, and the standard deviation s of all scores with
// divisor n. It is an error when lengths differ, a score is not a number, all answers are the same, or all scores are. Source:
// Brown JD, Shiken: JALT Testing & Evaluation SIG Newsletter 2001;5(3):13-17.
func PointBiserial(right []bool, score []float64) (float64, error) {
	if len(right) != len(score) {
		return 0, fmt.Errorf("%d answers and %d scores", len(right), len(score))
	}
	n, p := float64(len(right)), 0
	sumP, sum := 0.0, 0.0
	for i, s := range score {
		if math.IsNaN(s) || math.IsInf(s, 0) {
			return 0, fmt.Errorf("score %d is %v", i, s)
		}
		sum += s
		if right[i] {
			p++
			sumP += s
		}
	}
	if p == 0 || p == len(right) {
		return 0, errors.New("all answers are the same")
	}
	mean := sum / n
	squares := 0.0
	for _, s := range score {
		squares += float64((s - mean) * (s - mean))
	}
	sd := math.Sqrt(squares / n)
	if sd <= 1e-12*math.Max(1, math.Abs(mean)) {
		return 0, errors.New("all scores are the same")
	}
	share := float64(p) / n
	mp, mq := sumP/float64(p), (sum-sumP)/(n-float64(p))
	return (mp - mq) / sd * math.Sqrt(float64(share*(1-share))), nil
}

// Agreement is how far two observers of the same people agree beyond chance.
type Agreement struct {
	N        int     `json:"n"`
	Observed float64 `json:"observed"` // share of equal marks
	Expected float64 `json:"expected"` // share that chance alone would give
	Kappa    float64 `json:"kappa"`
	SE       float64 `json:"se"`
	Low      float64 `json:"low"`
	High     float64 `json:"high"`
}

// Kappa gives Cohen's kappa of a square table of counts, table[i][j] with mark i by the first and j by the second observer:
//
//	kappa = (po - pe) / (1 - pe)
//
// Its large-sample standard error for an interval is that of Fleiss JL, Cohen J, Everitt BS, Psychol Bull 1969;72:323-7:
//
//	SE² = [ sum p_ii (1 - (p_i. + p_.i)(1-k))² + (1-k)² sum_{i≠j} p_ij (p_.i + p_j.)² - (k - pe (1-k))² ] / (n (1-pe)²)
//
// The interval is kappa ± z SE, cut at -1 and 1; it is rough below some 50 pairs. A table that is not square, smaller than 2 by 2,
// empty, with a negative count, or where both used one and the same mark throughout (pe = 1), is an error, as is a
// confidence outside of 0 to 1.
func Kappa(table [][]int, confidence float64) (Agreement, error) {
	k := len(table)
	if k < 2 {
		return Agreement{}, errors.New("agreement needs at least two kinds of mark")
	}
	if !(confidence > 0 && confidence < 1) {
		return Agreement{}, fmt.Errorf("a confidence of %v is not between 0 and 1", confidence)
	}
	n := 0
	rows, columns := make([]float64, k), make([]float64, k)
	for i, row := range table {
		if len(row) != k {
			return Agreement{}, fmt.Errorf("row %d has %d counts, not %d", i+1, len(row), k)
		}
		for j, c := range row {
			if c < 0 {
				return Agreement{}, fmt.Errorf("the count %d in row %d is below zero", c, i+1)
			}
			n += c
			rows[i] += float64(c)
			columns[j] += float64(c)
		}
	}
	if n == 0 {
		return Agreement{}, errors.New("nobody was marked by both observers")
	}
	total := float64(n)
	po, pe := 0.0, 0.0
	for i := range k {
		rows[i] /= total
		columns[i] /= total
	}
	for i := range k {
		po += float64(table[i][i]) / total
		pe += float64(rows[i] * columns[i])
	}
	if 1-pe < 1e-12 {
		return Agreement{}, errors.New("both observers always gave one and the same mark: agreement beyond chance is not defined")
	}
	a := Agreement{N: n, Observed: po, Expected: pe, Kappa: (po - pe) / (1 - pe)}
	c := 1 - a.Kappa
	sum := 0.0
	for i := range k {
		for j := range k {
			p := float64(table[i][j]) / total
			if i == j {
				d := 1 - float64((rows[i]+columns[i])*c)
				sum += float64(p * float64(d*d))
			} else {
				d := columns[i] + rows[j]
				sum += float64(float64(c*c) * float64(p*float64(d*d)))
			}
		}
	}
	last := a.Kappa - float64(pe*c)
	a.SE = math.Sqrt(math.Max(0, sum-float64(last*last))/total) / (1 - pe)
	z := estimate.NormalQuantile(0.5 + confidence/2)
	a.Low, a.High = math.Max(-1, a.Kappa-float64(z*a.SE)), math.Min(1, a.Kappa+float64(z*a.SE))
	return a, nil
}

// Rate is a share with its interval.
type Rate struct {
	Passed int     `json:"passed"`
	Of     int     `json:"of"`
	Share  float64 `json:"share"`
	Low    float64 `json:"low"`
	High   float64 `json:"high"`
}

// PassRate gives the share who passed with its Wilson interval at a confidence (0.95). Nobody, or more who passed than there are, is an
// error.
func PassRate(passed, of int, confidence float64) (Rate, error) {
	i, err := estimate.Wilson(passed, of, confidence)
	if err != nil {
		return Rate{}, err
	}
	return Rate{passed, of, float64(passed) / float64(of), i.Low, i.High}, nil
}
