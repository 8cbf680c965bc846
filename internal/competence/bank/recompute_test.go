package bank

import (
	"fmt"
	"math/rand/v2"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"
)

// The answer of every made question is computed here a second time, from nothing but the English sentence that a person reads and the
// limits as they are printed in the references, typed again below. Nothing of the packages that made the question is used.
//
// Limits in mg/dL and tenths of mmol/L: 54/70/100/126/300 and 3.0/3.9/5.6/7.0/16.7 fasting, 54/70/140/200/300 and 3.0/3.9/7.8/11.1/16.7
// otherwise (ADA levels of hypoglycaemia; ADA Standards of Care 2026, section 2; 140 and 300 are programme policy).
var limitsAgain = map[string][]int{
	"fasting mg/dL": {54, 70, 100, 126, 300}, "fasting mmol/L": {30, 39, 56, 70, 167},
	"random mg/dL": {54, 70, 140, 200, 300}, "random mmol/L": {30, 39, 78, 111, 167},
}

var wordsAgain = []string{
	"Very low", "Lower than the usual range", "In the usual range for this kind of test", "Higher than the usual range",
	"Much higher than the usual range", "Very high",
}

// steps reads "104" as 104 and "5.6" as 56.
func steps(t *testing.T, s string) int {
	t.Helper()
	n, err := strconv.Atoi(strings.ReplaceAll(s, ".", ""))
	if err != nil {
		t.Fatal(err)
	}
	return n
}

func band(t *testing.T, basis, number, unit string) int {
	t.Helper()
	at := 0
	for _, edge := range limitsAgain[basis+" "+unit] {
		if steps(t, number) >= edge {
			at++
		}
	}
	return at
}

// whenAgain reads "6 Mar 2026".
func whenAgain(t *testing.T, s string) time.Time {
	t.Helper()
	d, err := time.Parse("2 Jan 2006", s)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func minutes(t *testing.T, s string) int {
	t.Helper()
	var h, m int
	if _, err := fmt.Sscanf(s, "%d:%d", &h, &m); err != nil {
		t.Fatal(err)
	}
	return h*60 + m
}

// fastedAgain is the basis after a meal at a time of today or yesterday.
func fastedAgain(t *testing.T, ate, day, test string) string {
	t.Helper()
	gone := minutes(t, test) - minutes(t, ate)
	if day == "yesterday" {
		gone += 24 * 60
	}
	if gone >= 8*60 {
		return "fasting"
	}
	return "random"
}

func judged(t *testing.T, low, high, v string) string {
	t.Helper()
	if strings.HasPrefix(v, "E") {
		return "No value"
	}
	if x := steps(t, v); x < steps(t, low) || x > steps(t, high) {
		return "Out of range"
	}
	return "In range"
}

func yes(ok bool, a, b string) string {
	if ok {
		return a
	}
	return b
}

const number = `([0-9]+(?:\.[0-9])?)`

var again = map[string]struct {
	stem   string
	answer func(t *testing.T, m []string) string
}{
	"made-age": {`is (\d+) years`, func(t *testing.T, m []string) string { return yes(steps(t, m[1]) >= 18, "Yes", "No") }},
	"made-answer": {`"(.*)" The answer is yes`, func(_ *testing.T, m []string) string {
		return yes(regexp.MustCompile("live with diabetes|pregnant").MatchString(m[1]), "Not screened today", "Screened, with care")
	}},
	"made-control": {`range is ` + number + ` to ` + number + ` \S+ The control shows (\S+)[ .]`, func(t *testing.T, m []string) string {
		return judged(t, m[1], m[2], strings.TrimSuffix(m[3], "."))
	}},
	"made-control-lots": {`lot B: ` + number + ` to ` + number + ` .* The control shows ` + number + ` `, func(t *testing.T, m []string) string {
		return judged(t, m[1], m[2], m[3])
	}},
	"made-clearance": {`one meter:(.*) May it`, func(_ *testing.T, m []string) string {
		last, uncaused := map[string]string{}, false
		for _, run := range strings.Split(strings.TrimSpace(m[1]), ". ") {
			x := regexp.MustCompile(`level (\d) (in|out of) range(, with the cause)?`).FindStringSubmatch(run)
			last[x[1]] = x[2]
			uncaused = uncaused || x[2] == "out of" && x[3] == ""
		}
		switch {
		case last["1"] == "out of" || last["2"] == "out of":
			return "No, a level is out of range"
		case uncaused:
			return "No, no cause is written"
		case last["1"] == "" || last["2"] == "":
			return "No, a level was not run"
		}
		return "Yes"
	}},
	"made-control-age": {`opened on (.*)\. It is good for (\d+) days .* bottle says (.*)\. Which`, func(t *testing.T, m []string) string {
		end := whenAgain(t, m[1]).AddDate(0, 0, steps(t, m[2]))
		if printed := whenAgain(t, m[3]); printed.Before(end) {
			end = printed
		}
		return end.Format("2 Jan 2006")
	}},
	"made-code": {`code (\d+)\. The meter shows (\d+)\.`, func(_ *testing.T, m []string) string {
		return yes(m[1] == m[2], "Go on; they match", "Set the meter to the vial")
	}},
	"made-expiry": {`use by (\d{4}-\d{2})\. Today is (.*)\. May`, func(t *testing.T, m []string) string {
		return yes(whenAgain(t, m[2]).Format("2006-01") <= m[1], "Yes", "No")
	}},
	"made-strip-age": {`opened on (.*)\. The insert gives them (\d+) days\. Today is (.*)\. May`, func(t *testing.T, m []string) string {
		old := int(whenAgain(t, m[3]).Sub(whenAgain(t, m[1])).Hours() / 24)
		return yes(old <= steps(t, m[2]), "Yes", "No")
	}},
	"made-shown": {`shows "(.*)" and`, func(_ *testing.T, m []string) string {
		switch {
		case m[1] == "LO":
			return "Too low to measure"
		case m[1] == "HI":
			return "Too high to measure"
		case strings.HasPrefix(m[1], "E"):
			return "An error: no value"
		}
		return "A value"
	}},
	"made-unit": {`typed ` + number + `, unit (\S+)\. What`, func(_ *testing.T, m []string) string {
		return yes(strings.Contains(m[1], ".") == (m[2] == "mmol/L"), "It can be right", "The unit is wrong")
	}},
	"made-repeat": {`first reading is (\S+)(?: (\S+))?\. The person`, func(t *testing.T, m []string) string {
		if strings.HasPrefix(m[1], "HI") {
			return "Yes, on washed hands"
		}
		low, high := 70, 200
		if m[2] == "mmol/L" {
			low, high = 39, 111
		}
		x := steps(t, m[1])
		return yes(x < low || x >= high, "Yes, on washed hands", "No, it counts")
	}},
	"made-fasting": {`food was at (\S+) (\S+)\. The test is at (\S+) today`, func(t *testing.T, m []string) string {
		return yes(fastedAgain(t, m[1], m[2], m[3]) == "fasting", "Fasting", "Not fasting")
	}},
	"made-band-fasting-mgdl": {`person was (fasting)\. The meter shows ` + number + ` (\S+)\. Which`, bandAgain},
	"made-band-fasting-mmol": {`person was (fasting)\. The meter shows ` + number + ` (\S+)\. Which`, bandAgain},
	"made-band-random-mgdl":  {`person was (not fasting)\. The meter shows ` + number + ` (\S+)\. Which`, bandAgain},
	"made-band-random-mmol":  {`person was (not fasting)\. The meter shows ` + number + ` (\S+)\. Which`, bandAgain},
	"made-meal-and-band": {`food was at (\S+) (\S+)\. At (\S+) today the meter shows ` + number + ` (\S+)\. Which`, func(t *testing.T, m []string) string {
		return wordsAgain[band(t, fastedAgain(t, m[1], m[2], m[3]), m[4], m[5])]
	}},
	"made-urgency": {`repeat: (\S+)(?: (\S+))?\. How soon`, func(t *testing.T, m []string) string {
		if m[1] == "HI" || m[1] == "LO" {
			return "Act now, at the table"
		}
		return []string{"Act now, at the table", "A visit within days", "Nobody is needed", "A visit within weeks", "A visit within days", "A clinician today"}[band(t, "random", m[1], m[2])]
	}},
	"made-unwell": {`You notice: "(.+)"`, func(*testing.T, []string) string { return "Act now, at the table" }},
	"made-recheck": {`took sugar at (\S+)\. When`, func(t *testing.T, m []string) string {
		at := minutes(t, m[1]) + 15
		return fmt.Sprintf("%02d:%02d", at/60, at%60)
	}},
	"made-strip-count": {`^(\d+) strips went out and (\d+) came back\. On record: first tests (\d+), repeats (\d+), meter errors (\d+), controls (\d+)\.`, func(t *testing.T, m []string) string {
		n := steps(t, m[1])
		for _, less := range m[2:] {
			n -= steps(t, less)
		}
		return strconv.Itoa(n)
	}},
	"made-lancet-count": {`^(\d+) lancets went out and (\d+) came back\. On record: sticks (\d+), misfires (\d+)\.`, func(t *testing.T, m []string) string {
		used, written := steps(t, m[1])-steps(t, m[2]), steps(t, m[3])+steps(t, m[4])
		return yes(used == written, "It fits", yes(used < written, "Too few were used: an alarm", "Some are not on record"))
	}},
	"made-call-day": {`event was on (.*)\. A reading was "(.*)"\. On`, func(t *testing.T, m []string) string {
		days := map[string]int{"Very low": 0, "Very high": 0, "Lower than the usual range": 3, "Much higher than the usual range": 3, "Higher than the usual range": 14}
		return whenAgain(t, m[1]).AddDate(0, 0, days[m[2]]).Format("2 Jan 2006")
	}},
}

func bandAgain(t *testing.T, m []string) string {
	t.Helper()
	return wordsAgain[band(t, yes(m[1] == "fasting", "fasting", "random"), m[2], m[3])]
}

func TestMadeAnswersRecomputed(t *testing.T) {
	p := defaults(t)
	for i, m := range Makers() {
		check, ok := again[m.Key]
		if !ok {
			t.Errorf("%s is not computed a second time", m.Key)
			continue
		}
		stem := regexp.MustCompile(check.stem)
		r := rand.New(rand.NewPCG(uint64(i), 99))
		answers := map[string]int{}
		for range 400 {
			q, err := m.Make(r, p)
			if err != nil {
				t.Fatal(err)
			}
			read := stem.FindStringSubmatch(q.Stem["en"])
			if read == nil {
				t.Fatalf("%s cannot be read: %s", m.Key, q.Stem["en"])
			}
			want := check.answer(t, read)
			answers[want]++
			for _, o := range q.Options {
				if o.Right != (o.Text["en"] == want) {
					t.Fatalf("%s: %s\n%q is marked %v, computed again: %q", m.Key, q.Stem["en"], o.Text["en"], o.Right, want)
				}
			}
		}
		if len(answers) < 2 && m.Key != "made-unwell" {
			t.Errorf("%s always has the same answer: %v", m.Key, answers)
		}
	}
}

// Where the options have an order, the right one is not always the least, the second or the greatest.
func TestRankDoesNotTell(t *testing.T) {
	p := defaults(t)
	for i, m := range Makers() {
		key, ordered := map[string]func(string) int{
			"made-strip-count": func(s string) int { return steps(t, s) },
			"made-recheck":     func(s string) int { return minutes(t, s) },
			"made-call-day":    func(s string) int { return int(whenAgain(t, s).Unix() / 86400) },
			"made-control-age": func(s string) int { return int(whenAgain(t, s).Unix() / 86400) },
		}[m.Key]
		if !ordered {
			continue
		}
		r := rand.New(rand.NewPCG(uint64(i), 7))
		ranks := map[int]int{}
		for range 500 {
			q, err := m.Make(r, p)
			if err != nil {
				t.Fatal(err)
			}
			right, rank := key(q.Options[q.right()[0]].Text["en"]), 0
			for _, o := range q.Options {
				if key(o.Text["en"]) < right {
					rank++
				}
			}
			ranks[rank]++
		}
		for rank, n := range ranks {
			if n > 275 {
				t.Errorf("%s: the right option has rank %d in %d of 500: %v", m.Key, rank, n, ranks)
			}
		}
	}
}

var digits = regexp.MustCompile(`[0-9]+(\.[0-9]+)?`)

// The two languages of a question say the same numbers in the same order, in the stem and in each option.
func TestLanguagesSayTheSameNumbers(t *testing.T) {
	for _, q := range append(fixed(t), sample(t, 20)...) {
		same := func(en, es string) {
			if a, b := digits.FindAllString(en, -1), digits.FindAllString(es, -1); strings.Join(a, " ") != strings.Join(b, " ") {
				t.Errorf("%s: %v in %q, %v in %q", q.Key, a, en, b, es)
			}
		}
		same(q.Stem["en"], q.Stem["es"])
		for _, o := range q.Options {
			same(o.Text["en"], o.Text["es"])
		}
	}
}

// A programme with other limits gets other answers: fasting from 110, as WHO draws the line, and fasting hours of 10.
func TestMadeAnswersFollowTheProtocol(t *testing.T) {
	p := defaults(t)
	limits := p.Limits["fasting"]["mg/dL"]
	limits.RaisedFrom.Steps = 110
	p.Limits["fasting"]["mg/dL"] = limits
	p.FastingHours = 10
	differ, asked := 0, 0
	for _, m := range Makers() {
		if m.Key != "made-band-fasting-mgdl" && m.Key != "made-fasting" {
			continue
		}
		stem := regexp.MustCompile(again[m.Key].stem)
		r := rand.New(rand.NewPCG(1, 1))
		for range 300 {
			q, err := m.Make(r, p)
			if err != nil {
				t.Fatal(err)
			}
			old := again[m.Key].answer(t, stem.FindStringSubmatch(q.Stem["en"]))
			asked++
			for _, o := range q.Options {
				if o.Right && o.Text["en"] != old {
					differ++
				}
			}
		}
	}
	if asked != 600 || differ < 10 {
		t.Errorf("%d of %d answers follow the changed protocol", differ, asked)
	}
}
