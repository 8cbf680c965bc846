package measure

import "testing"

func TestSyllables(t *testing.T) {
	for w, want := range map[string]int{
		"cat": 1, "table": 2, "wiped": 1, "tested": 2, "glucose": 2, "washes": 2, "lancet": 2, "reading": 2, "the": 1, "diabetes": 4, "supervisor": 4,
		"injection": 3, "named": 1, "quality": 3, "b": 1,
	} {
		if got := syllables(w); got != want {
			t.Errorf("%s has %d syllables, counted %d", w, want, got)
		}
	}
}

func TestGrade(t *testing.T) {
	// 6 words, 1 sentence, 6 syllables: 0.39*6 + 11.8 - 15.59 = -1.45 by hand; the same for two such sentences.
	near(t, "the cat", Grade("The cat sat on the mat."), -1.45, 1e-9)
	near(t, "two cats", Grade("The cat sat on the mat. The cat sat on the mat!"), -1.45, 1e-9)
	// A sentence of 13 words and 24 syllables that an encyclopedia gives as an example of grade 11.3 (from memory). Counting two
	// syllables too many makes it harder, never easier.
	if got := Grade("The Australian platypus is seemingly a hybrid of a mammal and reptilian creature."); got < 11.27 || got > 13.5 {
		t.Errorf("grade %v, want 11.3 or a little more", got)
	}
	if Grade("") != 0 || Grade("12 34.") != 0 {
		t.Error("a text without words has a grade")
	}
}
