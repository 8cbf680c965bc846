package measure

import (
	"regexp"
	"slices"
	"strings"
)

var (
	word     = regexp.MustCompile(`[A-Za-z][A-Za-z'-]*`)
	sentence = regexp.MustCompile(`[.?!:]+["']?(\s|$)`)
	silent   = regexp.MustCompile(`[^l]e$|[^td]ed$`)
)

// Grade gives the Flesch-Kincaid grade of an English text:
//
//	0.39 words/sentences + 11.8 syllables/words - 15.59
//
// Numbers are no words; a colon ends a sentence too. A text without words has grade 0; short, plain sentences can come out below 0.
// Syllables are counted by rule and rather too many than too few, so that the grade is rather too high. Source: Kincaid JP et al.,
// Navy Research Branch Report 8-75, 1975 (formula from memory). It says nothing about whether a text is true or clear.
func Grade(text string) float64 {
	words := word.FindAllString(text, -1)
	if len(words) == 0 {
		return 0
	}
	sentences, spoken := 0, 0
	for _, part := range sentence.Split(text, -1) {
		if word.MatchString(part) {
			sentences++
		}
	}
	for _, w := range words {
		spoken += syllables(w)
	}
	n := float64(len(words))
	return float64(0.39*n)/float64(sentences) + float64(11.8*float64(spoken))/n - 15.59
}

// syllables counts the vowel groups of an English word, "ia", "io", "eo" and "ua" as two, without a silent e or ed; at least 1. When in
// doubt it counts one too many ("wipes").
func syllables(w string) int {
	w = strings.ToLower(w)
	n, before := 0, 'x'
	for _, c := range w {
		hiatus := slices.Contains([]string{"ia", "io", "eo", "ua"}, string(before)+string(c))
		if strings.ContainsRune("aeiouy", c) && (!strings.ContainsRune("aeiouy", before) || hiatus) {
			n++
		}
		before = c
	}
	n -= strings.Count(w, "tion") + strings.Count(w, "sion") + strings.Count(w, "qua")
	if silent.MatchString(w) {
		n--
	}
	return max(1, n)
}
