// Package paper sets what people carry away or file: the participant's result slip, and the reports, logs and forms of
// the programme, as PDF. It decides nothing: every value and sentence arrives ready, in plain input structs, and leaves as
// black ink on a page of a known size. It measures with its own copy of the font's widths before it draws, so that text
// which does not fit is seen before it is set and goes on to a next page. It reads no clock: the same input gives the same
// bytes.
package paper

import (
	_ "embed"
	"encoding/binary"
	"errors"
	"fmt"
	"strings"
	"sync"
	"unicode"

	"golang.org/x/text/unicode/norm"
)

//go:embed fonts/AtkinsonHyperlegible-Regular.ttf
var atkinsonRegular []byte

//go:embed fonts/AtkinsonHyperlegible-Bold.ttf
var atkinsonBold []byte

//go:embed fonts/NotoSans-Regular.ttf
var notoRegular []byte

//go:embed fonts/NotoSans-Bold.ttf
var notoBold []byte

//go:embed fonts/NotoNaskhArabic-Regular.ttf
var naskhRegular []byte

//go:embed fonts/NotoNaskhArabic-Bold.ttf
var naskhBold []byte

// missing stands for a letter that no embedded font has. It is seen, never left out.
const missing = '□'

// nbsp keeps a number and its unit on one line; it is drawn as a space.
const nbsp = '\u00a0'

// face is one embedded font: its bytes for the PDF, and the advance of every letter that it has, in thousandths of the size of its neighbours.
type face struct {
	family, style string
	ttf           []byte
	advance       map[rune]int
	scale         float64 // how much larger it is set than its neighbours, so that its letters look as large as theirs
}

// typeface is a weight: the house face first, the wider one for letters that it lacks, then the one for Arabic.
type typeface [3]*face

// fontSet is what every document shares; it is read once and never changed.
type fontSet struct{ regular, bold typeface }

// naskhScale makes up for the small letters of the Arabic face, by eye.
const naskhScale = 1.16

var loadFonts = sync.OnceValues(func() (*fontSet, error) {
	faces := []*face{
		{family: "atkinson", ttf: atkinsonRegular},
		{family: "noto", ttf: notoRegular},
		{family: "atkinson", style: "B", ttf: atkinsonBold},
		{family: "noto", style: "B", ttf: notoBold},
		{family: "naskh", ttf: naskhRegular, scale: naskhScale},
		{family: "naskh", style: "B", ttf: naskhBold, scale: naskhScale},
	}
	for _, f := range faces {
		advance, err := readAdvances(f.ttf)
		if err != nil {
			return nil, fmt.Errorf("embedded font %s%s: %w", f.family, f.style, err)
		}
		if f.scale == 0 {
			f.scale = 1
		}
		for r, w := range advance {
			advance[r] = int(float64(w) * f.scale)
		}
		f.advance = advance
	}
	return &fontSet{regular: typeface{faces[0], faces[1], faces[4]}, bold: typeface{faces[2], faces[3], faces[5]}}, nil
})

// has reports whether the face has a letter; the box is drawn, so every face has it.
func (f *face) has(r rune) bool {
	_, ok := f.advance[r]
	return ok || r == missing
}

// wide reports whether a cleaned text needs the wider face. A text is set in one face where one has all its letters.
func (t typeface) wide(s string) bool {
	for _, r := range s {
		if !t[0].has(r) && t[1].has(r) {
			return true
		}
	}
	return false
}

// boxAdvance is the width of the box that stands for a missing letter, in thousandths of the size.
const boxAdvance = 640

// pick gives the face for one letter of a text.
func (t typeface) pick(r rune, wide bool) *face {
	first, second := t[0], t[1]
	if wide {
		first, second = second, first
	}
	switch {
	case first.has(r):
		return first
	case second.has(r):
		return second
	}
	return t[2]
}

// width gives the width of a cleaned text in points.
func (t typeface) width(s string, wide bool, size float64) float64 {
	sum := 0
	for _, r := range s {
		if r == missing {
			sum += boxAdvance
			continue
		}
		sum += t.pick(r, wide).advance[r]
	}
	return float64(sum) * size / 1000
}

// clean makes a typed text fit to set: composed letters, single spaces, and a box in place of every letter that
// cannot be set. replaced says that there was one.
func (fs *fontSet) clean(s string) (out string, replaced bool) {
	var b strings.Builder
	space := false
	for _, r := range shape(norm.NFC.String(s)) {
		switch {
		case r == nbsp:
			b.WriteRune(nbsp)
			continue
		case unicode.IsSpace(r):
			space = true
			continue
		case unicode.Is(unicode.Cf, r):
			continue // joiners and direction marks have no shape of their own
		case vowelSign(r):
			continue
		}
		if space && b.Len() > 0 {
			b.WriteByte(' ')
		}
		space = false
		switch {
		case r == '\u2011': // the hyphen that does not break
			r = '-'
		case r == '→':
			b.WriteString("->")
			continue
		case !fs.settable(r):
			r, replaced = missing, true
		}
		b.WriteRune(r)
	}
	return bindUnits(b.String()), replaced
}

// settable reports whether a letter can be set as it is: some face has it in both weights, and its script is written
// letter by letter from the left, or is Arabic. Other scripts that need shaping would come out wrong, so they come out as boxes.
func (fs *fontSet) settable(r rune) bool {
	if !unicode.In(r, unicode.Latin, unicode.Greek, unicode.Cyrillic, unicode.Arabic, unicode.Common, unicode.Inherited) || unicode.IsControl(r) || r == unicode.ReplacementChar {
		return false
	}
	for i := range fs.regular {
		_, regular := fs.regular[i].advance[r]
		_, bold := fs.bold[i].advance[r]
		if regular && bold {
			return true
		}
	}
	return false
}

// bound is what stays on one line with the number before it.
var bound = []string{" mg/dL", " mmol/L", " am", " pm", " a. m.", " p. m."}

// bindUnits joins a number to its unit, or a clock time to its half of the day, so that a line never ends between them.
func bindUnits(s string) string {
	for _, unit := range bound {
		fixed := strings.ReplaceAll(unit, " ", string(nbsp))
		for i := 0; ; i++ {
			j := strings.Index(s[i:], unit)
			if j < 0 {
				break
			}
			i += j
			if i > 0 && s[i-1] >= '0' && s[i-1] <= '9' {
				s = s[:i] + fixed + s[i+len(unit):]
			}
		}
	}
	return s
}

var errFont = errors.New("tables cut short")

// readAdvances reads which letters a TrueType font has and how wide they are: tables head, hhea, hmtx and the
// Windows Unicode map (format 4) of cmap, as the OpenType specification lays them out.
func readAdvances(ttf []byte) (map[rune]int, error) {
	be := binary.BigEndian
	if len(ttf) < 12 {
		return nil, errFont
	}
	tables := map[string][]byte{}
	for i := range int(be.Uint16(ttf[4:])) {
		at := 12 + 16*i
		if at+16 > len(ttf) {
			return nil, errFont
		}
		from, size := int(be.Uint32(ttf[at+8:])), int(be.Uint32(ttf[at+12:]))
		if from+size > len(ttf) {
			return nil, errFont
		}
		tables[string(ttf[at:at+4])] = ttf[from : from+size]
	}
	head, hhea, hmtx, cmap := tables["head"], tables["hhea"], tables["hmtx"], tables["cmap"]
	if len(head) < 54 || len(hhea) < 36 || len(cmap) < 4 {
		return nil, errFont
	}
	em, metrics := int(be.Uint16(head[18:])), int(be.Uint16(hhea[34:]))
	if em == 0 || metrics == 0 || len(hmtx) < 4*metrics {
		return nil, errFont
	}
	width := func(glyph int) int {
		w := int(be.Uint16(hmtx[4*min(glyph, metrics-1):]))
		return (w*1000 + em/2) / em
	}
	for i := range int(be.Uint16(cmap[2:])) {
		rec := cmap[4+8*i:]
		if len(rec) < 8 {
			return nil, errFont
		}
		if be.Uint16(rec) != 3 || be.Uint16(rec[2:]) != 1 {
			continue
		}
		sub := cmap[be.Uint32(rec[4:]):]
		if len(sub) < 16 || be.Uint16(sub) != 4 {
			continue
		}
		return readSegments(sub, width)
	}
	return nil, errors.New("no Unicode map of format 4")
}

// readSegments walks a format 4 map.
func readSegments(sub []byte, width func(glyph int) int) (map[rune]int, error) {
	be := binary.BigEndian
	n := int(be.Uint16(sub[6:])) / 2
	if len(sub) < 16+8*n {
		return nil, errFont
	}
	ends, starts := sub[14:], sub[16+2*n:]
	deltas, offsets := sub[16+4*n:], sub[16+6*n:]
	out := map[rune]int{}
	for s := range n {
		first, last := int(be.Uint16(starts[2*s:])), int(be.Uint16(ends[2*s:]))
		delta, offset := int(be.Uint16(deltas[2*s:])), int(be.Uint16(offsets[2*s:]))
		for c := first; c <= last && c < 0xffff; c++ {
			glyph := (c + delta) & 0xffff
			if offset != 0 {
				at := 2*s + offset + 2*(c-first)
				if at+2 > len(offsets) {
					return nil, errFont
				}
				glyph = int(be.Uint16(offsets[at:]))
				if glyph != 0 {
					glyph = (glyph + delta) & 0xffff
				}
			}
			if glyph != 0 {
				out[rune(c)] = width(glyph)
			}
		}
	}
	return out, nil
}
