package competence

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	"fairstick/internal/competence/cards"
	"fairstick/internal/competence/measure"
)

func TestFigures(t *testing.T) {
	answers := func(right ...bool) []Answered {
		var out []Answered
		for i, r := range right {
			out = append(out, Answered{Question: string(rune('a' + i)), Right: r})
		}
		return out
	}
	ana := story("ana", QuizTaken{Level: cards.Desk, Answers: answers(true, false)}, QuizTaken{Level: cards.Desk, Answers: answers(true, true), Passed: true})
	ben := story("ben", QuizTaken{Level: cards.Desk, Answers: answers(true), Passed: true}, QuizTaken{Level: cards.Screener, Answers: answers(false)})
	people := []*State{ana, ben, story("cem")}
	want := []measure.Sitting{
		{ID: "f000", Right: map[string]bool{"a": true, "b": false}}, {ID: "f001", Right: map[string]bool{"a": true, "b": true}}, {ID: "f000", Right: map[string]bool{"a": true}},
	}
	if diff := cmp.Diff(want, Sittings(people, cards.Desk)); diff != "" {
		t.Errorf("sittings: %s", diff)
	}
	if n := len(Sittings(people, "")); n != 4 {
		t.Errorf("%d sittings in all", n)
	}
	if passed, of := FirstTries(people, cards.Desk); passed != 1 || of != 2 {
		t.Errorf("%d of %d passed at the first try", passed, of)
	}
	first := marks(cards.Screener, map[string]Mark{"one-strip": Missed, "skin-dry": Missed, "low-care": NotSeen})
	second := marks(cards.Screener, map[string]Mark{"one-strip": Missed, "no-milking": Missed})
	delete(second, "exposure")
	if diff := cmp.Diff([][]int{{29, 1}, {1, 1}}, MarksTable(first, second)); diff != "" {
		t.Errorf("34 steps less two that one of them did not see: %s", diff)
	}
}
