package paper

import (
	"fmt"
	"io"
	"strings"
	"time"

	"codeberg.org/go-pdf/fpdf"
)

// press is one document being set. Lengths are points, y grows downwards from the top of the page.
type press struct {
	pdf   *fpdf.Fpdf
	fonts *fontSet
	w, h  float64
	rtl   bool // the page is set from the right: every place is mirrored, marks and numbers are not
	boxes bool // a letter was replaced by a box
	added map[*face]bool
}

// style is how a text is set.
type style struct {
	size float64
	bold bool
	wide bool // prefer the wider face, whose figures are all of one width
}

// span is a text in one style.
type span struct {
	s  string
	st style
}

// frag is a span placed on a line, x from the line's left end; line is what fits the measure.
type frag struct {
	x float64
	span
}

type line struct {
	frags []frag
	w     float64
}

// newPress starts a document. Made is the date the document bears; a zero date becomes the epoch, never "now".
func newPress(w, h float64, lang, title string, made time.Time) (*press, error) {
	fonts, err := loadFonts()
	if err != nil {
		return nil, err
	}
	pdf := fpdf.NewCustom(&fpdf.InitType{OrientationStr: "P", UnitStr: "pt", Size: fpdf.SizeType{Wd: w, Ht: h}})
	if made.IsZero() {
		made = time.Unix(0, 0).UTC()
	}
	p := &press{pdf: pdf, fonts: fonts, w: w, h: h, added: map[*face]bool{}}
	pdf.SetCatalogSort(true)
	pdf.SetCreationDate(made)
	pdf.SetModificationDate(made)
	pdf.SetProducer("Fairstick", true)
	pdf.SetTitle(p.clean(title), true)
	pdf.SetLang(lang)
	pdf.SetMargins(0, 0, 0)
	pdf.SetAutoPageBreak(false, 0)
	pdf.SetLineJoinStyle("miter")
	pdf.SetLineCapStyle("butt")
	return p, nil
}

// write closes the document and sends it.
func (p *press) write(w io.Writer) error {
	if err := p.pdf.Output(w); err != nil {
		return fmt.Errorf("writing the page: %w", err)
	}
	return nil
}

// clean makes a text fit to set.
func (p *press) clean(s string) string {
	out, replaced := p.fonts.clean(s)
	p.boxes = p.boxes || replaced
	if p.rtl {
		out = afterArabic.Replace(out)
	}
	return out
}

func (p *press) weight(st style) typeface {
	if st.bold {
		return p.fonts.bold
	}
	return p.fonts.regular
}

// width measures a cleaned text.
func (p *press) width(s string, st style) float64 {
	return p.weight(st).width(s, st.wide, st.size)
}

// prepare cleans a span and settles its face.
func (p *press) prepare(sp span) span {
	sp.s = p.clean(sp.s)
	sp.st.wide = sp.st.wide || p.weight(sp.st).wide(sp.s)
	return sp
}

// lines breaks spans to a measure. A word wider than the measure is broken between letters.
func (p *press) lines(measure float64, spans ...span) []line {
	var out []line
	var cur line
	put := func(word string, st style) {
		w := p.width(word, st)
		gap := 0.0
		if len(cur.frags) > 0 {
			gap = p.width(" ", st)
		}
		if gap > 0 && cur.w+gap+w > measure {
			out, cur, gap = append(out, cur), line{}, 0
		}
		if n := len(cur.frags); n > 0 && cur.frags[n-1].st == st {
			cur.frags[n-1].s += " " + word
		} else {
			cur.frags = append(cur.frags, frag{cur.w + gap, span{word, st}})
		}
		cur.w += gap + w
	}
	for _, sp := range spans {
		sp = p.prepare(sp)
		for word := range strings.SplitSeq(sp.s, " ") {
			if word == "" {
				continue
			}
			for p.width(word, sp.st) > measure {
				head, tail := p.split(word, sp.st, measure)
				if tail == "" {
					break
				}
				put(head, sp.st)
				word = tail
			}
			put(word, sp.st)
		}
	}
	if len(cur.frags) > 0 {
		out = append(out, cur)
	}
	return out
}

// split cuts a word so that its head fits the measure; the head has one letter at least.
func (p *press) split(word string, st style, measure float64) (head, tail string) {
	w := 0.0
	for i, r := range word {
		w += p.width(string(r), st)
		if i > 0 && w > measure {
			return word[:i], word[i:]
		}
	}
	return word, ""
}

// capped is lines with at most limit of them; what is cut off is shown by an ellipsis.
func (p *press) capped(limit int, measure float64, sp span) []line {
	all := p.lines(measure, sp)
	if len(all) <= limit {
		return all
	}
	last := all[limit-1].frags[0]
	room := measure - p.width("…", last.st)
	text := []rune(last.s)
	for len(text) > 0 && p.width(string(text), last.st) > room {
		text = text[:len(text)-1]
	}
	last.s = strings.TrimRight(string(text), " "+string(nbsp)) + "…"
	all[limit-1] = line{[]frag{last}, p.width(last.s, last.st)}
	return all[:limit]
}

// draw sets a line with its left end at x and its baseline at y.
func (p *press) draw(x, y float64, l line) {
	for _, f := range l.frags {
		p.text(x+f.x, y, f.s, f.st)
	}
}

// text sets a cleaned text, each run of letters in the face that has them.
func (p *press) text(x, y float64, s string, st style) {
	x = p.left(x, p.width(s, st))
	s = sight(s, p.rtl)
	weight := p.weight(st)
	var run []rune
	var in *face
	at := x
	flush := func() {
		if len(run) == 0 {
			return
		}
		if !p.added[in] {
			p.pdf.AddUTF8FontFromBytes(in.family, in.style, in.ttf)
			p.added[in] = true
		}
		p.pdf.SetFont(in.family, in.style, st.size*in.scale)
		p.pdf.Text(at, y, strings.ReplaceAll(string(run), string(nbsp), " "))
		run = run[:0]
	}
	for _, r := range s {
		if r == missing {
			flush()
			p.pdf.SetLineWidth(st.size * 0.06)
			p.pdf.Rect(x+st.size*0.08, y-st.size*0.66, st.size*0.48, st.size*0.66, "D")
			x += boxAdvance * st.size / 1000
			continue
		}
		if f := weight.pick(r, st.wide); f != in || len(run) == 0 {
			flush()
			in, at = f, x
		}
		run = append(run, r)
		x += float64(in.advance[r]) * st.size / 1000
	}
	flush()
}

// left gives the left end on the page of something of a width that begins at x from the side where reading begins.
func (p *press) left(x, width float64) float64 {
	if p.rtl {
		return p.w - x - width
	}
	return x
}

// rule draws a horizontal line.
func (p *press) rule(x1, x2, y, weight float64) {
	x := p.left(x1, x2-x1)
	p.pdf.SetLineWidth(weight)
	p.pdf.Line(x, y, x+x2-x1, y)
}

// upright draws a vertical line.
func (p *press) upright(x, y1, y2, weight float64) {
	x = p.left(x, 0)
	p.pdf.SetLineWidth(weight)
	p.pdf.Line(x, y1, x, y2)
}

// frame draws an empty box.
func (p *press) frame(x, y, w, h, weight float64) {
	p.pdf.SetLineWidth(weight)
	p.pdf.Rect(p.left(x, w), y, w, h, "D")
}

// bar draws a filled upright bar, the mark beside what must not be missed.
func (p *press) bar(x, y, w, h float64) { p.pdf.Rect(p.left(x, w), y, w, h, "F") }

// baseline gives where the letters of a line of height h stand, so that their capitals are in its middle.
func baseline(y, h, size float64) float64 { return y + h/2 + size*0.335 }
