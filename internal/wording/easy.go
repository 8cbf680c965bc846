package wording

import (
	"regexp"
	"strings"
)

var (
	spanishWord  = regexp.MustCompile(`[\p{L}]+`)
	sentenceEnds = regexp.MustCompile(`[.?!:]+["'»]?(\s|$)`)
)

// EaseSpanish gives how easily a Spanish text reads, by the scale of Szigriszt-Pazos:
//
//	206.835 - 62.3 syllables/words - words/sentences
//
// Above 80 it is very easy, above 65 easy, above 55 plain, above 40 somewhat hard, below it hard (Barrio-Cantalejo et al., An Sist Sanit
// Navar 2008;31:135; formula and steps from memory). Numbers are no words; a text without words has 0.
func EaseSpanish(text string) float64 {
	words := spanishWord.FindAllString(text, -1)
	if len(words) == 0 {
		return 0
	}
	sentences, spoken := 0, 0
	for _, part := range sentenceEnds.Split(text, -1) {
		if spanishWord.MatchString(part) {
			sentences++
		}
	}
	for _, w := range words {
		spoken += syllablesSpanish(w)
	}
	n := float64(len(words))
	return 206.835 - float64(62.3*float64(spoken))/n - n/float64(sentences)
}

// syllablesSpanish counts the syllables of a Spanish word: each strong vowel, and each weak one with an accent, has its own; a weak vowel
// beside another joins it. The u of que, qui, gue and gui is silent, and a y at the end is a weak vowel.
func syllablesSpanish(w string) int {
	w = strings.NewReplacer("que", "ke", "qui", "ki", "qué", "ké", "quí", "kí", "gue", "ge", "gui", "gi", "gué", "gé", "guí", "gí").Replace(strings.ToLower(w))
	if strings.HasSuffix(w, "y") {
		w = strings.TrimSuffix(w, "y") + "i"
	}
	n := 0
	before := ' ' // the vowel before, or a blank
	for _, c := range w {
		strong, weak := strings.ContainsRune("aeoáéóíú", c), strings.ContainsRune("iuü", c)
		switch {
		case strong && !(strings.ContainsRune("iuü", before) && !strings.ContainsRune("íú", c)):
			n++ // a strong vowel after a consonant or another strong one
		case weak && before == ' ':
			n++ // counted now; a strong one that follows joins it
		case weak && strings.ContainsRune("íú", before):
			n++
		}
		before = ' '
		if strong || weak {
			before = c
		}
	}
	return max(1, n)
}

// LongestSentence counts the words of the longest sentence of a text, in any language that puts spaces between words.
func LongestSentence(text string) int {
	most := 0
	for _, part := range sentenceEnds.Split(text, -1) {
		most = max(most, len(strings.Fields(part)))
	}
	return most
}
