package competence

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"fairstick/internal/civil"
	"fairstick/internal/competence/cards"
	"fairstick/internal/fact"
	"fairstick/internal/fault"
	"fairstick/internal/glucose"
)

func d(s string) civil.Date { return civil.MustParse(s) }

// story folds facts about a person in the order in which they are given.
func story(id string, bodies ...fact.Body) *State {
	return fact.Fold(New(id).(*State), records(id, bodies...))
}

func records(id string, bodies ...fact.Body) []fact.Record {
	out := make([]fact.Record, 0, len(bodies))
	for i, b := range bodies {
		out = append(out, fact.Record{
			Subject: Ref(id), Body: b,
			Meta: fact.Meta{ID: fmt.Sprintf("f%03d", i), Node: "n", Seq: uint64(i + 1), Recorded: fmt.Sprintf("%04d", i), At: time.Date(2026, 1, 1, 0, i, 0, 0, time.UTC), By: "desk"},
		})
	}
	return out
}

// marks gives ok for all steps of a level but those named.
func marks(l cards.Level, other map[string]Mark) map[string]Mark {
	out := map[string]Mark{}
	for _, s := range cards.For(l) {
		out[s.Key] = OK
	}
	for k, m := range other {
		out[k] = m
	}
	return out
}

func watched(day, by string, other map[string]Mark) Observed {
	return Observed{Level: cards.Screener, Day: d(day), Observer: by, SignedPerson: "ana", SignedObserver: by, Marks: marks(cards.Screener, other), Passed: true}
}

// ready is everything a screener needs but the signature.
func ready() []fact.Body {
	return []fact.Body{
		QuizTaken{Level: cards.Screener, Day: d("2026-02-02"), Right: 18, Of: 20, Passed: true},
		Rehearsed{Level: cards.Screener, Day: d("2026-02-05"), Right: 9, Of: 10, Passed: true},
		watched("2026-02-10", "vera", nil), watched("2026-02-11", "vera", nil), watched("2026-02-12", "otto", nil),
		BloodborneTrained{Day: d("2025-09-01"), By: "college"},
		HepatitisB{Day: d("2025-09-01"), Cleared: true},
		ModelTrained{Model: "M1", Edition: "3", Day: d("2026-02-09"), By: "vera"},
	}
}

var signed = Granted{Level: cards.Screener, From: d("2026-02-13"), Until: d("2027-02-01"), By: "vera"}

func on(day string) Today { return Today{Day: d(day), Models: []Model{{"M1", "3"}}} }

func keysOf(list []Missing) string {
	var out []string
	for _, m := range list {
		out = append(out, m.Key)
	}
	return strings.Join(out, " ")
}

// What a screener lacks, as the story goes on; each case says it in a sentence in both languages.
func TestLacks(t *testing.T) {
	rules := DefaultRules()
	whole := append(ready(), signed)
	without := func(i int) []fact.Body { return append(slices.Clone(whole[:i]), whole[i+1:]...) }
	with := func(more ...fact.Body) []fact.Body { return append(slices.Clone(whole), more...) }
	failed := QuizTaken{Level: cards.Screener, Day: d("2026-02-01"), Right: 10, Of: 20}
	unseen := map[string]Mark{"exposure": NotSeen, "low-care": NotSeen}
	for _, c := range []struct {
		name  string
		facts []fact.Body
		today Today
		level cards.Level
		want  string
		says  string
	}{
		{"nothing", nil, on("2026-03-01"), cards.Screener, "quiz rehearsal observations bloodborne hepatitis-b model signature", "not been taken yet"},
		{"all there", whole, on("2026-03-01"), cards.Screener, "", ""},
		{"a screener covers the counsellor", whole, on("2026-03-01"), cards.Counsellor, "", ""},
		{"but not the verifier", whole, on("2026-03-01"), cards.Verifier, "quiz signature", ""},
		{"no signature", ready(), on("2026-03-01"), cards.Screener, "signature", "No verifier has signed"},
		{"own signature", append(ready(), Granted{Level: cards.Screener, From: d("2026-02-13"), Until: d("2027-02-01"), By: "ana"}), on("2026-03-01"), cards.Screener, "signature", "No verifier has signed"},
		{"before it begins", whole, on("2026-02-12"), cards.Screener, "signature", "begins on 13 Feb 2026"},
		{"before the last observation", whole, on("2026-02-11"), cards.Screener, "observations signature", "2 of 3 observations"},
		{"no quiz", without(0), on("2026-03-01"), cards.Screener, "quiz", "not been taken"},
		{"quiz tried once", append([]fact.Body{failed}, without(0)...), on("2026-03-01"), cards.Screener, "quiz", "1 of 3 tries"},
		{"quiz tried three times", append([]fact.Body{failed, failed, failed}, without(0)...), on("2026-03-01"), cards.Screener, "teaching", "not passed 3 times"},
		{"taught after that", append([]fact.Body{failed, failed, failed, Taught{What: MethodQuiz, Level: cards.Screener}}, without(0)...), on("2026-03-01"), cards.Screener, "quiz", "not been taken"},
		{"no rehearsal", without(1), on("2026-03-01"), cards.Screener, "rehearsal", "not been done"},
		{"rehearsal not passed", append(without(1), Rehearsed{Level: cards.Screener, Day: d("2026-02-06"), Right: 2, Of: 10}), on("2026-03-01"), cards.Screener, "rehearsal", "passed"},
		{"two observations", without(2), on("2026-03-01"), cards.Screener, "observations", "1 still to do"},
		{"an observation without the observer's signature", append(without(4), Observed{Level: cards.Screener, Day: d("2026-02-12"), Observer: "vera", SignedPerson: "ana", Marks: marks(cards.Screener, nil), Passed: true}), on("2026-03-01"), cards.Screener, "observations", ""},
		{"an observation of oneself", append(without(4), Observed{Level: cards.Screener, Day: d("2026-02-12"), Observer: "ana", SignedPerson: "ana", SignedObserver: "ana", Marks: marks(cards.Screener, nil), Passed: true}), on("2026-03-01"), cards.Screener, "observations", ""},
		{"two critical steps never came up", append(slices.Concat(whole[:2], whole[5:]), watched("2026-02-10", "vera", unseen), watched("2026-02-11", "vera", unseen), watched("2026-02-12", "vera", unseen)), on("2026-03-01"), cards.Screener, "steps-unseen", "2 critical steps"},
		{"one of them shown later", append(slices.Concat(whole[:2], whole[5:]), watched("2026-02-10", "vera", unseen), watched("2026-02-11", "vera", unseen), watched("2026-02-12", "vera", map[string]Mark{"exposure": NotSeen})), on("2026-03-01"), cards.Screener, "steps-unseen", "1 critical step"},
		{"no bloodborne training", without(5), on("2026-03-01"), cards.Screener, "bloodborne", "No training on bloodborne"},
		{"bloodborne training of last year", whole, on("2026-09-01"), cards.Screener, "bloodborne warm-up", "until 31 Aug 2026"},
		{"the college has not spoken", without(6), on("2026-03-01"), cards.Screener, "hepatitis-b", "not said yet"},
		{"the college took it back", with(HepatitisB{Day: d("2026-02-20")}), on("2026-03-01"), cards.Screener, "hepatitis-b", "not cleared"},
		{"and gave it again", with(HepatitisB{Day: d("2026-02-20")}, HepatitisB{Day: d("2026-02-20"), Cleared: true}), on("2026-03-01"), cards.Screener, "", ""},
		{"a new meter model", whole, Today{Day: d("2026-03-01"), Models: []Model{{"M1", "3"}, {"M2", ""}}}, cards.Screener, "model", "Training on the meter M2"},
		{"changed instructions", whole, Today{Day: d("2026-03-01"), Models: []Model{{"M1", "4"}}}, cards.Screener, "model", "have changed (4)"},
		{"90 days idle", with(BloodborneTrained{Day: d("2026-03-01")}), on("2026-05-14"), cards.Screener, "", ""},
		{"91 days idle", with(BloodborneTrained{Day: d("2026-03-01")}), on("2026-05-15"), cards.Screener, "warm-up", "91 days ago"},
		{"tested in between", with(BloodborneTrained{Day: d("2026-03-01")}), Today{Day: d("2026-05-15"), LastTest: d("2026-04-01"), Models: []Model{{"M1", "3"}}}, cards.Screener, "", ""},
		{"warmed up", with(BloodborneTrained{Day: d("2026-03-01")}, WarmedUp{Day: d("2026-05-15"), How: "control-run", By: "vera"}), on("2026-05-15"), cards.Screener, "", ""},
		{"the last day", with(BloodborneTrained{Day: d("2026-03-01")}, WarmedUp{Day: d("2027-02-01")}), on("2027-02-01"), cards.Screener, "", ""},
		{"a day later", with(BloodborneTrained{Day: d("2026-03-01")}, WarmedUp{Day: d("2027-02-01")}), on("2027-02-02"), cards.Screener, "quiz signature", "lasted until 1 Feb 2027"},
		{"withdrawn", with(Withdrawn{Level: cards.Screener, Day: d("2026-02-25"), Reason: "used a pen", By: "vera"}), on("2026-03-01"), cards.Screener, "observations signature", "0 of 3"},
		{"not withdrawn yet", with(Withdrawn{Level: cards.Screener, Day: d("2026-02-25"), Reason: "used a pen", By: "vera"}), on("2026-02-24"), cards.Screener, "", ""},
		{"withdrawn today", with(Withdrawn{Level: cards.Screener, Day: d("2026-02-25"), Reason: "used a pen", By: "vera"}), on("2026-02-25"), cards.Screener, "observations signature", "used a pen"},
		{"withdrawn as counsellor", with(Withdrawn{Level: cards.Counsellor, Reason: "said a diagnosis", By: "vera"}), on("2026-03-01"), cards.Screener, "observations signature", ""},
		{"withdrawn as verifier leaves the screener", with(Withdrawn{Level: cards.Verifier, Reason: "licence ended", By: "lead"}), on("2026-03-01"), cards.Screener, "", ""},
		{"an unknown level", whole, on("2026-03-01"), "guru", "no-rule signature", "no rule"},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := Lacks(story("ana", c.facts...), rules, c.level, c.today)
			if keysOf(got) != c.want {
				t.Errorf("lacks %q, want %q: %v", keysOf(got), c.want, got)
			}
			all := ""
			for _, m := range got {
				all += m.Sentence["en"] + " "
				if m.Sentence["es"] == "" || m.Sentence["en"] == m.Sentence["es"] || strings.Contains(m.Sentence["en"]+m.Sentence["es"], "%!") {
					t.Errorf("sentence %v", m.Sentence)
				}
			}
			if !strings.Contains(all, c.says) {
				t.Errorf("says %q, want %q", all, c.says)
			}
		})
	}
}

// The quiz without observed work is one way, and two are asked for; a blind control within its range is another.
func TestTwoMethods(t *testing.T) {
	rules := DefaultRules()
	rules.Levels[cards.Screener] = LevelRule{Observations: 1, Methods: 2}
	one := watched("2026-02-10", "vera", nil)
	if got := keysOf(Lacks(story("ana", one, signed), rules, cards.Screener, on("2026-03-01"))); got != "methods" {
		t.Errorf("one observation lacks %q", got)
	}
	one.Sample = &Sample{Kind: BlindControl, Within: true}
	s := story("ana", one, signed)
	if got := keysOf(Lacks(s, rules, cards.Screener, on("2026-03-01"))); got != "" {
		t.Errorf("with a blind control it lacks %q", got)
	}
	if got := Methods(s, rules, cards.Screener, d("2026-03-01")); !slices.Equal(got, []string{MethodObserved, MethodSample}) {
		t.Errorf("methods %v", got)
	}
	one.Sample = &Sample{Kind: SplitSample}
	if got := keysOf(Lacks(story("ana", one, signed), rules, cards.Screener, on("2026-03-01"))); got != "methods" {
		t.Errorf("with a split sample out of its limits it lacks %q", got)
	}
}

func TestValidUntilAndLapsing(t *testing.T) {
	rules := DefaultRules()
	ana := story("ana", append(ready(), signed)...)
	until, because, ok := ValidUntil(ana, rules, cards.Screener, on("2026-03-01"))
	if !ok || until != d("2026-08-31") || because != NeedBloodborne {
		t.Errorf("valid until %s by %s, %v; the bloodborne training of 1 September ends first", until, because, ok)
	}
	renewed := story("ana", append(ready(), signed, BloodborneTrained{Day: d("2026-06-01")})...)
	if until, because, ok = ValidUntil(renewed, rules, cards.Screener, on("2026-06-01")); !ok || until != d("2027-02-01") || because != NeedQuiz {
		t.Errorf("valid until %s by %s, %v; the quiz of 2 February ends first", until, because, ok)
	}
	more := append(ready(), signed, BloodborneTrained{Day: d("2026-06-01")}, QuizTaken{Level: cards.Screener, Day: d("2026-06-01"), Passed: true},
		Rehearsed{Level: cards.Screener, Day: d("2026-06-01"), Passed: true}, watched("2026-06-01", "vera", nil), watched("2026-05-01", "vera", nil),
		Granted{Level: cards.Screener, From: d("2026-06-02"), Until: d("2027-06-01"), By: "vera"})
	if until, because, ok = ValidUntil(story("ana", more...), rules, cards.Screener, on("2026-06-02")); !ok || until != d("2027-02-11") || because != NeedObservations {
		t.Errorf("valid until %s by %s, %v; of five observations the third latest, of 12 February, ends first", until, because, ok)
	}
	if _, because, ok = ValidUntil(story("ana", ready()...), rules, cards.Screener, on("2026-03-01")); ok || because != NeedSignature {
		t.Errorf("valid without a signature: %s", because)
	}
	if until, ok := GrantUntil(story("ana", ready()...), rules, cards.Screener, on("2026-02-13")); !ok || until != d("2027-02-01") {
		t.Errorf("a verification signed on 13 February lasts until %s, %v; no longer than the quiz", until, ok)
	}
	if _, ok := GrantUntil(story("ana"), rules, cards.Screener, on("2026-02-13")); ok {
		t.Error("a verification without proof")
	}
	ben := story("ben", QuizTaken{Level: cards.Observer, Day: d("2026-01-10"), Passed: true}, Granted{Level: cards.Observer, From: d("2026-01-10"), Until: d("2026-04-30"), By: "vera"})
	list := Lapsing([]*State{ana, ben, story("cem")}, rules, on("2026-03-01"), d("2026-09-01"))
	want := []Lapse{{"ben", cards.Observer, d("2026-04-30"), NeedSignature}, {"ana", cards.Screener, d("2026-08-31"), NeedBloodborne}}
	if diff := cmp.Diff(want, list); diff != "" {
		t.Errorf("lapsing before September: %s", diff)
	}
	if list := Lapsing([]*State{ana, ben}, rules, on("2026-03-01"), d("2026-08-31")); len(list) != 1 {
		t.Errorf("lapsing before 31 August: %v; who holds through that day is not listed", list)
	}
}

func TestLastDay(t *testing.T) {
	for _, c := range []struct {
		from   string
		months int
		want   string
	}{
		{"2024-10-02", 12, "2025-10-01"},
		{"2026-01-01", 12, "2026-12-31"},
		{"2028-02-29", 12, "2029-02-28"},
		{"2027-03-01", 12, "2028-02-29"},
		{"2026-01-31", 1, "2026-02-28"},
		{"2026-08-31", 6, "2027-02-28"},
		{"2026-11-15", 3, "2027-02-14"},
		{"2026-03-31", 12, "2027-03-30"},
	} {
		if got := LastDay(d(c.from), c.months); got != d(c.want) {
			t.Errorf("%d months from %s end on %s, want %s", c.months, c.from, got, c.want)
		}
	}
}

func TestObserverMustBeCurrentAndSomebodyElse(t *testing.T) {
	rules := DefaultRules()
	vera := story("vera", QuizTaken{Level: cards.Verifier, Day: d("2026-01-05"), Passed: true}, BloodborneTrained{Day: d("2026-01-05")},
		ModelTrained{Model: "M1", Edition: "3", Day: d("2026-01-05")}, Granted{Level: cards.Verifier, From: d("2026-01-05"), Until: d("2027-01-04"), By: "lead"})
	otto := story("otto", QuizTaken{Level: cards.Verifier, Day: d("2026-01-05"), Passed: true}, BloodborneTrained{Day: d("2026-01-05")},
		ModelTrained{Model: "M1", Edition: "3", Day: d("2026-01-05")}, Granted{Level: cards.Verifier, From: d("2026-01-05"), Until: d("2027-01-04"), By: "lead"})
	miss := watched("2026-02-10", "vera", map[string]Mark{"lancet-to-sharps": Missed})
	miss.Passed = false
	for _, c := range []struct {
		name     string
		observer *State
		person   *State
		day      string
		want     string
	}{
		{"may", vera, story("ana"), "2026-03-01", ""},
		{"herself", vera, vera, "2026-03-01", "observe-self"},
		{"lapsed", vera, story("ana"), "2027-01-05", "observer-not-current"},
		{"never verified", story("zoe"), story("ana"), "2026-03-01", "observer-not-current"},
		{"a screener", story("ben", append(ready(), signed)...), story("ana"), "2026-03-01", "observer-not-current"},
		{"two misses", vera, story("ana", miss, miss), "2026-03-01", ""},
		{"three misses", vera, story("ana", miss, miss, miss), "2026-03-01", "teach-first"},
		{"taught, the same observer", vera, story("ana", miss, miss, miss, Taught{What: MethodObserved, Level: cards.Screener}), "2026-03-01", "other-observer"},
		{"taught, another observer", otto, story("ana", miss, miss, miss, Taught{What: MethodObserved, Level: cards.Screener}), "2026-03-01", ""},
		{"passed since", vera, story("ana", miss, miss, miss, Taught{What: MethodObserved, Level: cards.Screener}, watched("2026-02-20", "otto", nil)), "2026-03-01", ""},
	} {
		err := MayObserve(c.observer, c.person, rules, cards.Screener, on(c.day))
		if c.want == "" && err != nil || c.want != "" && !fault.Is(err, c.want) {
			t.Errorf("%s: %v, want %q", c.name, err, c.want)
		}
	}
	if err := MayObserve(vera, story("ana"), rules, "guru", on("2026-03-01")); !fault.Is(err, "field-level") {
		t.Errorf("an unknown level: %v", err)
	}
}

func TestMayTakeQuizAndMayGrant(t *testing.T) {
	rules := DefaultRules()
	failed := QuizTaken{Level: cards.Desk, Day: d("2026-02-01")}
	for n, want := range map[int]bool{0: true, 2: true, 3: false} {
		s := story("ana", slices.Repeat([]fact.Body{failed}, n)...)
		if err := MayTakeQuiz(s, rules, cards.Desk); (err == nil) != want {
			t.Errorf("after %d tries: %v", n, err)
		}
		if err := MayTakeQuiz(s, rules, cards.Screener); err != nil {
			t.Errorf("another level: %v", err)
		}
	}
	if err := MayTakeQuiz(story("ana", failed, failed, failed, Taught{What: MethodQuiz, Level: cards.Desk}), rules, cards.Desk); err != nil {
		t.Errorf("after teaching: %v", err)
	}
	if err := MayTakeQuiz(story("ana"), rules, ""); err == nil {
		t.Error("no level")
	}
	ana := story("ana", ready()...)
	if err := MayGrant(ana, "vera", rules, cards.Screener, on("2026-02-13")); err != nil {
		t.Error(err)
	}
	if err := MayGrant(ana, "ana", rules, cards.Screener, on("2026-02-13")); !fault.Is(err, "verify-self") {
		t.Errorf("oneself: %v", err)
	}
	err := MayGrant(story("ana", ready()[2:]...), "vera", rules, cards.Screener, on("2026-02-13"))
	if !fault.Is(err, "not-ready") || !strings.Contains(err.Error(), "quiz") || !strings.Contains(err.Error(), "practice day") {
		t.Errorf("without quiz and rehearsal: %v", err)
	}
}

func TestJudgeMarks(t *testing.T) {
	rules := DefaultRules()
	for _, c := range []struct {
		name   string
		level  cards.Level
		marks  map[string]Mark
		passed bool
		ends   string
		unseen int
	}{
		{"all done", cards.Screener, marks(cards.Screener, nil), true, "", 0},
		{"a critical miss ends it", cards.Screener, marks(cards.Screener, map[string]Mark{"lancet-to-sharps": Missed}), false, "lancet-to-sharps", 0},
		{"one other miss of 17 is 94 per cent", cards.Screener, marks(cards.Screener, map[string]Mark{"one-strip": Missed}), true, "", 0},
		{"two are 88", cards.Screener, marks(cards.Screener, map[string]Mark{"one-strip": Missed, "skin-dry": Missed}), false, "", 0},
		{"what did not come up does not count", cards.Screener, marks(cards.Screener, map[string]Mark{"low-care": NotSeen, "repeat-rule": NotSeen}), true, "", 1},
		{"nothing seen", cards.Screener, nil, false, "", 17},
		{"a counsellor's steps", cards.Counsellor, marks(cards.Counsellor, nil), true, "", 0},
	} {
		v, err := rules.JudgeMarks(c.level, c.marks)
		if err != nil || v.Passed != c.passed || strings.Join(v.Ends, " ") != c.ends || len(v.Unseen) != c.unseen {
			t.Errorf("%s: %+v, %v", c.name, v, err)
		}
	}
	eased := rules
	eased.NotCritical = []string{"last-meal"}
	if v, _ := eased.JudgeMarks(cards.Screener, marks(cards.Screener, map[string]Mark{"last-meal": Missed})); !v.Passed {
		t.Errorf("a step taken off the list: %+v", v)
	}
	for name, m := range map[string]map[string]Mark{"a step of another level": {"lancet-to-sharps": OK}, "no step": {"dance": OK}, "no mark": {"privacy": "fine"}} {
		if _, err := rules.JudgeMarks(cards.Desk, m); !fault.Is(err, "field-marks") {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, err := rules.JudgeMarks("guru", nil); err == nil {
		t.Error("an unknown level")
	}
}

// Limits of a split sample: 15 % from 100 mg/dL on, 15 mg/dL below; in mmol/L 15 % from 5.55 on, 0.83 below (ISO 15197:2013 as given in
// PMC4525642, table 1). On the limit is within.
func TestJudgeSample(t *testing.T) {
	rules := DefaultRules()
	mg := func(n int) glucose.Reading { return glucose.Number(glucose.MgDL(n)) }
	mm := func(n int) glucose.Reading { return glucose.Number(glucose.Mmol(n)) }
	for _, c := range []struct {
		name string
		s    Sample
		want bool
	}{
		{"115 for 100", Sample{Kind: SplitSample, Reading: mg(115), Other: mg(100)}, true},
		{"116 for 100", Sample{Kind: SplitSample, Reading: mg(116), Other: mg(100)}, false},
		{"65 for 80", Sample{Kind: SplitSample, Reading: mg(65), Other: mg(80)}, true},
		{"64 for 80", Sample{Kind: SplitSample, Reading: mg(64), Other: mg(80)}, false},
		{"230 for 200", Sample{Kind: SplitSample, Reading: mg(230), Other: mg(200)}, true},
		{"4.8 for 4.0", Sample{Kind: SplitSample, Reading: mm(48), Other: mm(40)}, true},
		{"4.9 for 4.0", Sample{Kind: SplitSample, Reading: mm(49), Other: mm(40)}, false},
		{"6.9 for 6.0", Sample{Kind: SplitSample, Reading: mm(69), Other: mm(60)}, true},
		{"7.0 for 6.0", Sample{Kind: SplitSample, Reading: mm(70), Other: mm(60)}, false},
		{"control on its edge", Sample{Kind: BlindControl, Reading: mg(140), Low: glucose.MgDL(100), High: glucose.MgDL(140)}, true},
		{"control beyond it", Sample{Kind: BlindControl, Reading: mg(141), Low: glucose.MgDL(100), High: glucose.MgDL(140)}, false},
		{"control that shows HI", Sample{Kind: BlindControl, Reading: glucose.HI(glucose.MgPerDL), Low: glucose.MgDL(100), High: glucose.MgDL(140)}, false},
	} {
		if got, err := rules.JudgeSample(c.s); err != nil || got != c.want {
			t.Errorf("%s: %v, %v", c.name, got, err)
		}
	}
	for name, s := range map[string]Sample{
		"units differ": {Kind: SplitSample, Reading: mg(100), Other: mm(55)}, "HI": {Kind: SplitSample, Reading: glucose.HI(glucose.MgPerDL), Other: mg(500)},
		"no kind": {Reading: mg(1)}, "no range": {Kind: BlindControl, Reading: mg(100)},
	} {
		if _, err := rules.JudgeSample(s); fault.Of(err) == nil || fault.Of(err).Kind != fault.Invalid {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestRulesAreChecked(t *testing.T) {
	if err := DefaultRules().Validate(); err != nil {
		t.Errorf("the default: %v", err)
	}
	for field, spoil := range map[string]func(*Rules){
		"quiz.pass_mark": func(r *Rules) { r.Quiz.PassMark = 0 }, "steps_percent": func(r *Rules) { r.StepsPercent = 101 }, "attempts": func(r *Rules) { r.Attempts = 0 },
		"valid_months": func(r *Rules) { r.ValidMonths = 40 }, "bloodborne_months": func(r *Rules) { r.BloodborneMonths = 0 }, "idle_days": func(r *Rules) { r.IdleDays = -1 },
		"split_percent": func(r *Rules) { r.SplitPercent = 50 }, "not_critical": func(r *Rules) { r.NotCritical = []string{"meter-disinfect"} },
		"levels": func(r *Rules) { delete(r.Levels, cards.Desk) }, "levels.guru": func(r *Rules) { r.Levels["guru"] = LevelRule{Quiz: true, Methods: 1} },
		"levels.screener": func(r *Rules) { r.Levels[cards.Screener] = LevelRule{Quiz: true, Methods: 1} }, "levels.desk": func(r *Rules) { r.Levels[cards.Desk] = LevelRule{Quiz: true, Methods: 2} },
	} {
		r := DefaultRules()
		spoil(&r)
		if f := fault.Of(r.Validate()); f == nil || f.Key != "competence-rules" || f.Fields[field] == "" {
			t.Errorf("%s: %v", field, f)
		}
	}
	data, err := json.Marshal(DefaultRules())
	if err != nil {
		t.Fatal(err)
	}
	back, err := ParseRules(data)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(DefaultRules(), back); diff != "" {
		t.Errorf("through JSON: %s", diff)
	}
	for name, text := range map[string]string{
		"misspelt": strings.Replace(string(data), "valid_months", "valid_month", 1), "cut short": string(data[:len(data)/2]), "not valid": "{}",
	} {
		if _, err := ParseRules([]byte(text)); !fault.Is(err, "competence-rules") {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// Every kind of fact is read back from the record as it was written.
func TestCatalogue(t *testing.T) {
	c := fact.NewCatalogue()
	Register(c)
	for _, b := range append(ready(), signed, WarmedUp{Day: d("2026-01-01"), How: "control-run", By: "x"}, Taught{What: MethodQuiz, Level: cards.Desk}, Withdrawn{Level: cards.Desk, Reason: "r"},
		Observed{Level: cards.Desk, Sample: &Sample{Kind: BlindControl, Reading: glucose.HI(glucose.MgPerDL), Low: glucose.MgDL(1), High: glucose.MgDL(2)}},
		QuizTaken{Level: cards.Desk, Seed: 1<<63 + 7, Answers: []Answered{{Question: "q", Stem: "s", Chosen: []string{"a"}, Right: true}}}) {
		data, err := json.Marshal(b)
		if err != nil {
			t.Fatal(err)
		}
		back, err := c.Decode(b.FactKind(), data)
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(b, back); diff != "" {
			t.Errorf("%s: %s", b.FactKind(), diff)
		}
	}
	if _, ok := c.Fresh(Ref("x")); !ok {
		t.Error("no fresh state")
	}
	s := story("ana", ready()...)
	if m := s.Mentions(); len(m) != 3 || m[0].Value != "vera" || m[0].Name != "observer" {
		t.Errorf("mentions %v", m)
	}
}
