package rehearse

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"fairstick/internal/competence/bank"
	"fairstick/internal/competence/cards"
	"fairstick/internal/competence/measure"
	"fairstick/internal/glucose"
	"fairstick/internal/protocol"
)

// rules is the default protocol, read once.
var rules = protocol.Default()

var units = []glucose.Unit{glucose.MgPerDL, glucose.MmolPerL}

func drawn(t *testing.T, pl Plan) Day {
	t.Helper()
	d, err := Draw(pl, rules)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// every runs a check over many made situations, in both units.
func every(t *testing.T, check func(t *testing.T, s Situation, u glucose.Unit)) {
	t.Helper()
	for _, x := range Makers() {
		t.Run(x.Key, func(t *testing.T) {
			for _, u := range units {
				for seed := range uint64(120) {
					s, err := x.Make(rand.New(rand.NewPCG(seed, 7)), rules, u)
					if err != nil {
						t.Fatalf("%s, seed %d: %v", u, seed, err)
					}
					check(t, s, u)
				}
			}
		})
	}
}

var digits = regexp.MustCompile(`[0-9]+([.:][0-9]+)?`)

// Both languages say the same numbers; steps and sources exist; every text can be read by a student.
func TestSituationsAreSound(t *testing.T) {
	every(t, func(t *testing.T, s Situation, _ glucose.Unit) {
		texts := []protocol.Text{s.Name, s.Scene}
		for _, d := range s.Decisions {
			texts = append(texts, d.Ask, d.Why)
			for _, c := range d.Choices {
				texts = append(texts, c.Text)
				if c.Right && c.Harm != cards.Neither {
					t.Errorf("%s: the right choice %s harms", d.Key, c.Key)
				}
				if c.Try != "" && c.Right {
					t.Errorf("%s: the right choice %s is tried against a gate", d.Key, c.Key)
				}
			}
			if bank.Reference(d.Source) == d.Source {
				t.Errorf("%s: no source %q", d.Key, d.Source)
			}
		}
		for _, x := range texts {
			en, es := digits.FindAllString(x["en"], -1), digits.FindAllString(x["es"], -1)
			slices.Sort(en)
			slices.Sort(es)
			if !slices.Equal(en, es) {
				t.Errorf("%s: %q and %q say other numbers", s.Key, x["en"], x["es"])
			}
			if strings.Contains(x["en"]+x["es"], "%!") {
				t.Errorf("%s: %q, %q", s.Key, x["en"], x["es"])
			}
		}
		if g := measure.Grade(s.Scene["en"]); g > 8 {
			t.Errorf("%s: the scene reads at grade %.1f: %s", s.Key, g, s.Scene["en"])
		}
	})
}

// No situation, decision, question or reason stands there twice.
func TestNothingTwice(t *testing.T) {
	seen := map[string]string{}
	for _, x := range Makers() {
		s, err := x.Make(rand.New(rand.NewPCG(1, 1)), rules, glucose.MgPerDL)
		if err != nil {
			t.Fatal(err)
		}
		said := []string{"situation " + s.Key, s.Name["en"], s.Name["es"], s.Scene["en"], s.Scene["es"]}
		for _, d := range s.Decisions {
			said = append(said, "decision "+d.Key)
			if d.At != Incident { // what is written down is asked in the same words
				said = append(said, d.Why["en"], d.Why["es"])
			}
			if !strings.HasPrefix(d.Key, s.Key+".") {
				t.Errorf("the decision %s is not named after its situation %s", d.Key, s.Key)
			}
		}
		for _, w := range said {
			if other, ok := seen[w]; ok {
				t.Errorf("%s and %s both say %q", s.Key, other, w)
			}
			seen[w] = s.Key
		}
	}
	if len(seen) < 60 {
		t.Errorf("only %d texts were compared", len(seen))
	}
}

// The eleven situations that every trainer names are there.
func TestWhatATrainerNames(t *testing.T) {
	var all []string
	for _, m := range Makers() {
		all = append(all, m.Key)
	}
	for _, k := range []string{"insists", "control-out", "old-vial", "code-differs", "wet-alcohol", "fruit", "hi", "faint", "stick-injury", "rounding", "queue"} {
		if !slices.Contains(all, k) {
			t.Errorf("no situation %s", k)
		}
	}
}

// Each decision, taken wrongly while all others are right, costs exactly itself and with the harm it can do.
func TestEachWrongDecisionIsScored(t *testing.T) {
	tried := 0
	for seed := range uint64(40) {
		d := drawn(t, Plan{Seed: seed, Level: cards.Screener})
		all := map[string]string{}
		for _, s := range d.Situations {
			for _, x := range s.Decisions {
				all[x.Key] = x.RightOne().Key
			}
		}
		whole := d.Score(all, 100)
		if !whole.Passed || whole.Right != whole.Of || whole.Of != len(all) || whole.Harm+whole.Spoiled != 0 {
			t.Fatalf("seed %d: all right gives %+v", seed, whole)
		}
		for _, s := range d.Situations {
			for _, x := range s.Decisions {
				for _, c := range x.Choices {
					if c.Right {
						continue
					}
					tried++
					one := map[string]string{}
					for k, v := range all {
						one[k] = v
					}
					one[x.Key] = c.Key
					r := d.Score(one, 80)
					if r.Right != whole.Right-1 || r.Harm != ifso(c.Harm == cards.Safety) || r.Spoiled != ifso(c.Harm == cards.Validity) {
						t.Errorf("%s = %s: %d right, %d harm, %d spoiled", x.Key, c.Key, r.Right, r.Harm, r.Spoiled)
					}
					if want := c.Harm != cards.Safety && (whole.Of-1)*100 >= 80*whole.Of; r.Passed != want {
						t.Errorf("%s = %s: passed is %v", x.Key, c.Key, r.Passed)
					}
					i := slices.IndexFunc(r.Judged, func(j Judged) bool { return !j.Right })
					if j := r.Judged[i]; j.Decision.Key != x.Key || j.Chosen.Key != c.Key || j.Situation != s.Key || j.Harm != c.Harm {
						t.Errorf("%s = %s: judged as %+v", x.Key, c.Key, j)
					}
				}
			}
		}
	}
	if tried < 500 {
		t.Errorf("only %d wrong decisions were tried", tried)
	}
}

func ifso(b bool) int {
	if b {
		return 1
	}
	return 0
}

// A decision that was not made, or one that does not exist, is wrong with the worst that it can do; too few right ones are not passed.
func TestUndone(t *testing.T) {
	d := drawn(t, Plan{Seed: 3, Level: cards.Screener})
	r := d.Score(map[string]string{"nonsense": "x"}, 70)
	if r.Right != 0 || r.Passed || r.Harm == 0 || r.Harm+r.Spoiled > r.Of {
		t.Errorf("nothing decided: %+v", r)
	}
	first := d.Situations[0].Decisions[0]
	if r := d.Score(map[string]string{first.Key: "no-such-choice"}, 70); r.Right != 0 {
		t.Errorf("a choice that is none counts: %d right", r.Right)
	}
	if r := (Day{}).Score(nil, 70); r.Passed {
		t.Error("an empty day is passed")
	}
	if en := d.Score(nil, 70).Say()["en"]; !strings.Contains(en, "could have harmed somebody") {
		t.Errorf("says %q", en)
	}
	all := map[string]string{}
	for _, x := range d.Situations {
		for _, y := range x.Decisions {
			all[y.Key] = y.RightOne().Key
		}
	}
	if en := d.Score(all, 80).Say()["en"]; !strings.HasSuffix(en, "Passed.") {
		t.Errorf("says %q", en)
	}
}

// The same seed gives the same day; other seeds give other situations and other numbers; each group comes; none comes twice.
func TestDraw(t *testing.T) {
	sets, scenes := map[string]bool{}, map[string]bool{}
	count := map[string]int{}
	for seed := range uint64(300) {
		d := drawn(t, Plan{Seed: seed, Level: cards.Screener})
		if again := drawn(t, Plan{Seed: seed, Level: cards.Screener}); fmt.Sprint(again) != fmt.Sprint(d) {
			t.Fatalf("seed %d gives two days", seed)
		}
		k := d.Keys()
		if len(k) != Size || len(slices.Compact(slices.Sorted(slices.Values(k)))) != Size {
			t.Fatalf("seed %d: %v", seed, k)
		}
		groups := map[Group]bool{}
		for _, s := range d.Situations {
			groups[s.Group] = true
			count[s.Key]++
			scenes[s.Scene["en"]] = true
		}
		if len(groups) != len(Groups) {
			t.Errorf("seed %d has %d of %d groups", seed, len(groups), len(Groups))
		}
		sets[strings.Join(slices.Sorted(slices.Values(k)), " ")] = true
	}
	if len(sets) < 100 {
		t.Errorf("300 seeds give only %d sets of situations", len(sets))
	}
	if len(scenes) < 600 {
		t.Errorf("2100 scenes have only %d texts", len(scenes))
	}
	for _, x := range Makers() {
		if n := count[x.Key]; n < 60 {
			t.Errorf("%s comes in %d of 300 days", x.Key, n)
		}
	}
}

// A level practises its own work; a set comes whole; what is no level is refused.
func TestLevelsAndSets(t *testing.T) {
	for _, l := range []cards.Level{cards.Desk, cards.Counsellor} {
		for _, s := range drawn(t, Plan{Seed: 4, Level: l}).Situations {
			if !l.Covers(s.From) {
				t.Errorf("%s is asked %s", l, s.Key)
			}
			for _, d := range s.Decisions {
				if d.At == Reading || d.At == Control || d.At == Code {
					t.Errorf("%s has to test in %s", l, d.Key)
				}
			}
		}
	}
	set := []string{"hi", "rounding", "queue", "insists"}
	if got := drawn(t, Plan{Seed: 4, Level: cards.Screener, Set: set}).Keys(); !slices.Equal(slices.Sorted(slices.Values(got)), slices.Sorted(slices.Values(set))) {
		t.Errorf("the set comes as %v", got)
	}
	if _, err := Draw(Plan{Level: "guru"}, rules); err == nil {
		t.Error("a guru practises")
	}
	if _, err := Draw(Plan{Level: cards.Observer}, rules); err == nil {
		t.Error("an observer has nothing to practise and is not told so")
	}
}

func value(t *testing.T, s string, u glucose.Unit) glucose.Value {
	t.Helper()
	v, err := glucose.ParseValue(s, u)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// What is right is computed a second time, from what the scene says.
func TestAnswersAreComputed(t *testing.T) {
	p := rules
	every(t, func(t *testing.T, s Situation, u glucose.Unit) {
		switch s.Key {
		case "control-out":
			v := value(t, s.Setting.Shown, u)
			if v.Steps >= s.Setting.Low.Steps && v.Steps <= s.Setting.High.Steps {
				t.Errorf("%s is in %s to %s", v, s.Setting.Low, s.Setting.High)
			}
			if d := min(abs(v.Steps-s.Setting.Low.Steps), abs(v.Steps-s.Setting.High.Steps)); d > 2 {
				t.Errorf("%s is %d steps off, not just out", v, d)
			}
		case "old-vial":
			n := digits.FindAllString(s.Scene["en"], -1)
			ago, days := atoi(t, n[1]), atoi(t, n[2])
			if ago <= days || s.Setting.Opened != ago || s.Setting.InUse != days {
				t.Errorf("opened %d days ago, %d allowed: %s", ago, days, s.Scene["en"])
			}
		case "code-differs":
			if s.Setting.VialCode == s.Setting.Shown {
				t.Errorf("the codes agree: %s", s.Scene["en"])
			}
		case "rounding":
			v, r := value(t, s.Setting.Shown, u), value(t, s.Setting.Rounded, u)
			if r.Steps%10 != 0 || v.Steps%10 == 0 || abs(r.Steps-v.Steps) > 5 {
				t.Errorf("%s is rounded to %s", v, r)
			}
			a, _ := p.Find(glucose.Number(v), protocol.Random)
			b, _ := p.Find(glucose.Number(r), protocol.Random)
			if told := strings.Contains(s.Decisions[0].Why["en"], "other words"); told != (a.Band != b.Band) {
				t.Errorf("%s is %s, %s is %s: %s", v, a.Band, r, b.Band, s.Decisions[0].Why["en"])
			}
		case "fruit":
			n := digits.FindAllString(s.Decisions[1].Ask["en"], -1)
			limit := p.Repeat.HighFrom[u]
			if first := value(t, n[0], u); first.Steps < limit.Steps {
				t.Errorf("%s needs no repeat below %s", first, limit)
			}
			if s.Decisions[1].RightOne().Key != "second" {
				t.Errorf("%s counts", s.Decisions[1].RightOne().Key)
			}
		case "low":
			v := value(t, digits.FindString(s.Scene["en"]), u)
			if v.Steps >= p.Limits[protocol.Random][u].LowBelow.Steps {
				t.Errorf("%s is not low", v)
			}
			if want := map[bool]string{true: "nothing", false: "sugar"}[strings.Contains(s.Scene["en"], "drowsy")]; s.Decisions[0].RightOne().Key != want {
				t.Errorf("%s: right is %s", s.Scene["en"], s.Decisions[0].RightOne().Key)
			}
		}
	})
}

func atoi(t *testing.T, s string) int {
	t.Helper()
	n, err := strconv.Atoi(s)
	if err != nil {
		t.Fatal(err)
	}
	return n
}

func abs(n int) int { return max(n, -n) }

// A programme with other rules practises those, and is not asked what its protocol does not say.
func TestOtherProtocol(t *testing.T) {
	p := protocol.Default()
	p.Questions = slices.DeleteFunc(slices.Clone(p.Questions), func(q protocol.Question) bool { return q.Key == KnownDiabetes })
	p.LowCare.SugarGrams = 20
	p.Repeat.HighFrom = map[glucose.Unit]glucose.Value{glucose.MgPerDL: glucose.MgDL(240)}
	for seed := range uint64(50) {
		d, err := Draw(Plan{Seed: seed, Level: cards.Screener}, p)
		if err != nil {
			t.Fatal(err)
		}
		for _, s := range d.Situations {
			if s.Key == "insists" {
				t.Fatal("known diabetes is not asked, and is practised")
			}
			if s.Key == "low" && !strings.Contains(fmt.Sprint(s.Decisions[0]), "20 g") {
				t.Errorf("the sugar of the protocol is not practised: %v", s.Decisions[0])
			}
			if s.Key == "fruit" && !strings.Contains(s.Decisions[1].Why["en"], "240 mg/dL") {
				t.Errorf("the repeat limit of the protocol is not practised: %s", s.Decisions[1].Why["en"])
			}
		}
	}
	p.Controls.Levels = nil
	for _, x := range Makers() {
		if x.Key == "control-out" {
			if _, err := x.Make(rand.New(rand.NewPCG(1, 1)), p, glucose.MgPerDL); !errors.Is(err, errElsewhere) {
				t.Errorf("controls without levels: %v", err)
			}
		}
	}
}

// The right choice of a card is told neither by its place nor by being the longest.
func TestRightIsNotTold(t *testing.T) {
	place, longest, n := map[int]int{}, map[string]int{}, 0
	for seed := range uint64(400) {
		for _, s := range drawn(t, Plan{Seed: seed, Level: cards.Screener}).Situations {
			for _, d := range s.Decisions {
				if d.At != OnCard {
					continue
				}
				n++
				for _, lang := range []string{"en", "es"} {
					if slices.MaxFunc(d.Choices, func(a, b Choice) int { return len(a.Text[lang]) - len(b.Text[lang]) }).Right {
						longest[lang]++
					}
					if slices.MinFunc(d.Choices, func(a, b Choice) int { return len(a.Text[lang]) - len(b.Text[lang]) }).Right {
						longest["shortest "+lang]++
					}
				}
				place[slices.IndexFunc(d.Choices, func(c Choice) bool { return c.Right })]++
			}
		}
	}
	for i := range 4 {
		if share := float64(place[i]) / float64(n); share < 0.2 || share > 0.3 {
			t.Errorf("place %d is right in %.2f of %d", i, share, n)
		}
	}
	for what, m := range longest {
		if share := float64(m) / float64(n); share > 0.45 {
			t.Errorf("the longest (or %s) choice is right in %.2f of %d", what, share, n)
		}
	}
}
