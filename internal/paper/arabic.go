package paper

import (
	"strings"
	"sync"
	"unicode"

	"golang.org/x/text/unicode/norm"
)

// Arabic letters take one of up to four shapes by their neighbours, and run from the right. A PDF names letters, not shapes, so the
// text is turned into the letters of the block Arabic Presentation Forms-B of the Unicode Standard before it is measured, and into the
// order of sight before it is drawn.

// Places of the shapes of a letter in that block, the same for every letter: alone, at the end of a word, at its beginning, inside.
const (
	alone = iota
	atEnd
	atStart
	inside
)

// shapes gives the shapes of every letter, and of lam with alef after it, which are written as one. They are read off the block itself:
// each shape decomposes to its letter, and the shapes of a letter stand in a fixed order. A letter with two shapes does not join the next.
var shapes = sync.OnceValue(func() map[string][]rune {
	out := map[string][]rune{}
	for r := rune(0xfe80); r <= 0xfefc; r++ {
		letter := norm.NFKC.String(string(r))
		out[letter] = append(out[letter], r)
	}
	return out
})

const (
	lam     = 'ل'
	tatweel = 'ـ' // the stroke that lengthens a word: it joins on both sides
)

// vowelSign reports the signs that are left out in everyday print; they would need places that a font alone does not give.
func vowelSign(r rune) bool { return r >= 'ً' && r <= 'ْ' || r == 'ٰ' }

// shape puts Arabic letters into their shapes. Other text is given back as it is.
func shape(s string) string {
	if !strings.ContainsFunc(s, func(r rune) bool { return unicode.Is(unicode.Arabic, r) }) {
		return s
	}
	table, letters := shapes(), []rune(s)
	joins := func(i int) (back, ahead bool) { // whether the letter at i joins the one before, the one after
		if i >= len(letters) {
			return false, false
		}
		if letters[i] == tatweel {
			return true, true
		}
		n := len(table[string(letters[i])])
		return n >= 2, n == 4
	}
	var b strings.Builder
	before := false // the letter before joins ahead
	for i := 0; i < len(letters); i++ {
		back, ahead := joins(i)
		forms := table[string(letters[i])]
		if letters[i] == lam && i+1 < len(letters) {
			if pair := table[string(letters[i:i+2])]; len(pair) == 2 {
				forms, ahead = pair, false
				i++
			}
		}
		if len(forms) == 0 {
			b.WriteRune(letters[i])
			before = ahead
			continue
		}
		next, _ := joins(i + 1)
		place := alone
		switch left, right := before && back, ahead && next; {
		case left && right:
			place = inside
		case left:
			place = atEnd
		case right:
			place = atStart
		}
		b.WriteRune(forms[place])
		before = ahead
	}
	return b.String()
}

// fromRight reports a letter that runs from the right.
func fromRight(r rune) bool {
	return unicode.Is(unicode.Arabic, r) && !unicode.IsDigit(r) || r == '،' || r == '؛' || r == '؟'
}

// fromLeft reports a letter or a figure that runs from the left.
func fromLeft(r rune) bool { return !fromRight(r) && (unicode.IsLetter(r) || unicode.IsDigit(r)) }

var mirrored = map[rune]rune{'(': ')', ')': '(', '[': ']', ']': '[', '<': '>', '>': '<', '«': '»', '»': '«'}

// stretch gives the end of the stretch that begins at from: it goes on through everything that lies before a further letter of its kind,
// up to one of the other kind. A number, its unit and a name in Latin letters so stay one stretch.
func stretch(s []rune, from int, its, other func(rune) bool) int {
	end := from + 1
	for i := end; i < len(s) && !other(s[i]); i++ {
		if its(s[i]) || s[i] == '%' && i == end {
			end = i + 1
		}
	}
	return end
}

// closes reports a bracket at i that ends a stretch from the left: it was opened in that stretch, after its first letter.
func closes(s []rune, i int) bool {
	open, ok := mirrored[s[i]]
	if !ok || open > s[i] {
		return false
	}
	for i--; i >= 0 && s[i] != open; i-- {
		if fromRight(s[i]) {
			return false
		}
	}
	for i--; i >= 0; i-- {
		if fromRight(s[i]) || fromLeft(s[i]) {
			return fromLeft(s[i])
		}
	}
	return false
}

// afterArabic gives the comma and the semicolon of a list the shape that they have between Arabic words.
var afterArabic = func() *strings.Replacer {
	var pairs []string
	for _, forms := range shapes() {
		for _, r := range forms {
			pairs = append(pairs, string(r)+",", string(r)+"،", string(r)+";", string(r)+"؛")
		}
	}
	return strings.NewReplacer(pairs...)
}()

// sight puts a text into the order in which it is seen from the left. It is the bidirectional algorithm of the Unicode Standard (annex 9)
// for what stands on our pages: one direction for the page, stretches of the other in it, and a number never parted from its unit.
func sight(s string, rtl bool) string {
	if !rtl && !strings.ContainsFunc(s, fromRight) {
		return s
	}
	in := []rune(s)
	var out []rune
	if !rtl {
		for i := 0; i < len(in); {
			if !fromRight(in[i]) {
				out = append(out, in[i])
				i++
				continue
			}
			end := stretch(in, i, fromRight, func(r rune) bool { return fromLeft(r) && !unicode.IsDigit(r) })
			out = append(out, []rune(sight(string(in[i:end]), true))...)
			i = end
		}
		return string(out)
	}
	for end := len(in); end > 0; {
		from := end - 1
		if fromLeft(in[from]) || in[from] == '%' || closes(in, from) {
			for i := from; i >= 0; i-- { // the beginning of the stretch that ends here
				if fromRight(in[i]) {
					break
				}
				if fromLeft(in[i]) {
					from = i
				}
			}
			out = append(out, in[from:end]...)
			end = from
			continue
		}
		r := in[from]
		if m, ok := mirrored[r]; ok {
			r = m
		}
		out = append(out, r)
		end = from
	}
	return string(out)
}
