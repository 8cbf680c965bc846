package bank

import (
	"math/rand/v2"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"sort"
	"strings"
	"testing"

	"fairstick/internal/competence/cards"
	"fairstick/internal/competence/measure"
	"fairstick/internal/estimate"
	"fairstick/internal/protocol"
)

func defaults(t *testing.T) protocol.Protocol {
	t.Helper()
	return protocol.Default()
}

func fixed(t *testing.T) []Question {
	t.Helper()
	q, err := Fixed()
	if err != nil {
		t.Fatal(err)
	}
	return q
}

// sample makes n questions with each maker.
func sample(t *testing.T, n int) []Question {
	t.Helper()
	p := defaults(t)
	var out []Question
	for i, m := range Makers() {
		r := rand.New(rand.NewPCG(uint64(i), 5))
		for range n {
			q, err := m.Make(r, p)
			if err != nil {
				t.Fatal(err)
			}
			out = append(out, q)
		}
	}
	return out
}

func TestSize(t *testing.T) {
	n := map[Topic]int{}
	critical := 0
	for _, q := range fixed(t) {
		n[q.Topic]++
		if q.Critical {
			critical++
		}
	}
	made := map[Topic]int{}
	keys := map[string]bool{}
	for _, m := range Makers() {
		made[m.Topic]++
		if keys[m.Key] || !strings.HasPrefix(m.Key, "made-") {
			t.Errorf("the key of maker %q", m.Key)
		}
		keys[m.Key] = true
	}
	total := 0
	for _, topic := range Topics {
		total += n[topic] + made[topic]
		t.Logf("%-20s %2d fixed, %d makers", topic, n[topic], made[topic])
		if n[topic] < 8 {
			t.Errorf("%s has %d fixed questions, not 8 or more", topic, n[topic])
		}
	}
	if total < 120 {
		t.Errorf("%d questions, not 120 or more", total)
	}
	if share := float64(critical) / float64(len(fixed(t))); share < 0.2 || share > 0.6 {
		t.Errorf("%d of %d are critical", critical, len(fixed(t)))
	}
}

var letters = regexp.MustCompile(`[^\p{L}\p{N}]+`)

func TestNoDuplicateStems(t *testing.T) {
	for _, lang := range []string{"en", "es"} {
		words := map[string]map[string]bool{}
		for _, q := range append(fixed(t), sample(t, 1)...) {
			w := map[string]bool{}
			for _, x := range strings.Fields(letters.ReplaceAllString(strings.ToLower(q.Stem[lang]), " ")) {
				w[x] = true
			}
			for key, other := range words {
				both := 0
				for x := range w {
					if other[x] {
						both++
					}
				}
				like := float64(both) / float64(len(w)+len(other)-both)
				if like > 0.8 && (!q.Made || !strings.HasPrefix(key, "made-band-")) {
					t.Errorf("%s: %s and %s ask nearly the same (%.2f)", lang, q.Key, key, like)
				}
			}
			if words[q.Key] != nil {
				t.Errorf("%s stands there twice", q.Key)
			}
			words[q.Key] = w
		}
	}
}

var sourceRow = regexp.MustCompile("(?m)^\\| `([a-z0-9-]+)` \\| ([^|]{12,}) \\| ([^|]{5,}) \\| ([^|]{4,}) \\|$")

func TestEverySourceStandsInDocs(t *testing.T) {
	doc, err := os.ReadFile(filepath.Join("..", "..", "..", "docs", "sources.md"))
	if err != nil {
		t.Fatal(err)
	}
	known := map[string]int{}
	for _, m := range sourceRow.FindAllStringSubmatch(string(doc), -1) {
		if _, twice := known[m[1]]; twice {
			t.Errorf("docs/sources.md has %s twice", m[1])
		}
		known[m[1]] = 0
	}
	if len(known) < 20 {
		t.Fatalf("docs/sources.md has %d rows that can be read", len(known))
	}
	for _, m := range sourceRow.FindAllStringSubmatch(string(doc), -1) {
		if got := Reference(m[1]); got != m[2] {
			t.Errorf("the reference of %s is %q, in docs/sources.md %q", m[1], got, m[2])
		}
	}
	studied := regexp.MustCompile(`\d|stud|hepatitis`) // what a card says was found needs its source too
	for _, s := range cards.Steps() {
		if _, ok := known[s.Source]; !ok && s.Source != "" || s.Source == "" && studied.MatchString(s.Why.In("en")) {
			t.Errorf("step %s has the source %q", s.Key, s.Source)
		}
	}
	used := func(key, source string) {
		if _, ok := known[source]; !ok {
			t.Errorf("%s: the source %q does not stand in docs/sources.md", key, source)
		}
		known[source]++
	}
	for _, q := range fixed(t) {
		used(q.Key, q.Source)
	}
	for _, m := range Makers() {
		used(m.Key, m.Source)
	}
	var names []string
	for k := range known {
		names = append(names, k)
	}
	sort.Strings(names)
	for _, k := range names {
		t.Logf("%-18s %d", k, known[k])
		if known[k] == 0 {
			t.Errorf("no question uses the source %q", k)
		}
	}
}

// lengths counts in how many questions with one right option it is the longest or the shortest one alone, and the number that
// chance would give.
func lengths(questions []Question, lang string) (n, longest, shortest int, chance float64, whose []string) {
	for _, q := range questions {
		right := q.right()
		if len(right) != 1 {
			continue
		}
		size := func(i int) int { return len([]rune(q.Options[i].Text[lang])) }
		most, least := true, true
		for i := range q.Options {
			if i == right[0] {
				continue
			}
			most = most && size(right[0]) > size(i)
			least = least && size(right[0]) < size(i)
		}
		n++
		chance += 1 / float64(len(q.Options))
		if most {
			longest++
			whose = append(whose, q.Key)
		}
		if least {
			shortest++
		}
	}
	return n, longest, shortest, chance, whose
}

// Who always takes the longest option must not do better than who guesses, and the same for the shortest one. The exact upper tail
// of the count at the chance rate must not be rare.
func TestLengthDoesNotTell(t *testing.T) {
	for _, lang := range []string{"en", "es"} {
		n, longest, shortest, chance, whose := lengths(fixed(t), lang)
		for name, k := range map[string]int{"longest": longest, "shortest": shortest} {
			tail, err := estimate.BinomialTail(k, n, chance/float64(n))
			if err != nil {
				t.Fatal(err)
			}
			t.Logf("%s: the right option is the %s in %d of %d; chance gives %.1f (tail %.3f)", lang, name, k, n, chance, tail)
			if tail < 0.05 {
				t.Errorf("%s: the right option is the %s too often: %v", lang, name, whose)
			}
		}
	}
}

// The same over many drawn quizzes, where made questions mix with fixed ones: no more than 15 per cent above chance.
func TestLengthDoesNotTellInQuizzes(t *testing.T) {
	p := defaults(t)
	var drawn []Question
	for seed := range uint64(150) {
		quiz, err := Draw(seed, cards.Screener, Default(), p)
		if err != nil {
			t.Fatal(err)
		}
		drawn = append(drawn, quiz.Questions...)
	}
	for _, lang := range []string{"en", "es"} {
		n, longest, shortest, chance, _ := lengths(drawn, lang)
		t.Logf("%s: of %d drawn the right option is the longest %d and the shortest %d times; chance gives %.0f", lang, n, longest, shortest, chance)
		if most := float64(max(longest, shortest)); most > 1.15*chance {
			t.Errorf("%s: length tells: %d longest, %d shortest, chance %.0f", lang, longest, shortest, chance)
		}
	}
}

func TestReadingLevel(t *testing.T) {
	all := append(fixed(t), sample(t, 3)...)
	var whole strings.Builder
	for _, q := range all {
		whole.WriteString(q.Stem["en"] + " ")
		if g := measure.Grade(q.Stem["en"]); g > 9 {
			t.Errorf("%s: grade %.1f: %s", q.Key, g, q.Stem["en"])
		}
		if g := measure.Grade(q.Why["en"]); !q.Made && g > 10 {
			t.Errorf("%s: the reason has grade %.1f: %s", q.Key, g, q.Why["en"])
		}
	}
	if g := measure.Grade(whole.String()); g > 6 {
		t.Errorf("all stems together have grade %.1f", g)
	} else {
		t.Logf("all stems together: grade %.1f", g)
	}
}

// Over many quizzes the right option stands in each place as often as chance says: a chi-square test for each number of options,
// with the seeds fixed so that the test gives the same every time.
func TestPositionDoesNotTell(t *testing.T) {
	p := defaults(t)
	counts := map[int][]int{}
	for seed := range uint64(300) {
		quiz, err := Draw(seed, cards.Screener, Rules{Questions: 20, PassMark: 80, Attempts: 3}, p)
		if err != nil {
			t.Fatal(err)
		}
		for _, q := range quiz.Questions {
			if right := q.right(); len(right) == 1 {
				n := len(q.Options)
				if counts[n] == nil {
					counts[n] = make([]int, n)
				}
				counts[n][right[0]]++
			}
		}
	}
	limit := map[int]float64{3: 9.21, 4: 11.34, 5: 13.28} // chi-square quantiles 0.99 with 2, 3 and 4 degrees of freedom, from tables
	for _, n := range []int{3, 4, 5} {
		total := 0
		for _, c := range counts[n] {
			total += c
		}
		if total == 0 {
			t.Errorf("no question with %d options was drawn", n)
			continue
		}
		expected := float64(total) / float64(n)
		chi := 0.0
		for _, c := range counts[n] {
			chi += (float64(c) - expected) * (float64(c) - expected) / expected
		}
		t.Logf("%d options: %v, chi-square %.2f (limit %.2f)", n, counts[n], chi, limit[n])
		if chi > limit[n] {
			t.Errorf("%d options: the place of the right one tells: %v, chi-square %.2f", n, counts[n], chi)
		}
	}
}

// Words that no participant should hear as true, in either language, are never the right answer.
func TestRightAnswersSayNoDiagnosis(t *testing.T) {
	bad := regexp.MustCompile(`(?i)\byou have\b|\busted tiene\b|\bis normal\b|\bes normal\b`)
	for _, q := range append(fixed(t), sample(t, 2)...) {
		for _, o := range q.Options {
			if o.Right && (bad.MatchString(o.Text["en"]) || bad.MatchString(o.Text["es"])) {
				t.Errorf("%s: %v", q.Key, o.Text)
			}
		}
	}
	if slices.ContainsFunc(Topics, func(t Topic) bool { return t.Word()["en"] == "" || t.Word()["es"] == "" }) {
		t.Error("a topic has no word")
	}
}
