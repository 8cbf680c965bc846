package paper

import (
	"io"
	"strings"
	"time"

	"fairstick/internal/civil"
)

// Post is one letter after a screening: to a person who could not be reached, or a note to a clinician that the person may
// carry. It is one page in black and white, its address in the place of a window envelope. The letter to the person says
// nothing of the reading: somebody else may open it, and the person has the slip.
type Post struct {
	Lang                   string // of the letter; fixed words come in English where it is not written yet
	ToClinician            bool
	Programme              string
	Contact, Hours         string // where the programme is called
	Name                   string
	Address                []string // below the name
	Day                    civil.Date
	Screened, By           civil.Date
	Event                  string
	Place, PlaceSays       string
	Emergency              string
	Warnings               []string
	Reading, Basis, Taken  string // for the clinician alone
	Disclaimer, CanMislead string
	RecordID               string
	Printed                time.Time
	Invented               bool
}

// Where the address stands, in points from the top left corner. The window of a No. 10 envelope shows from about 2.0 to 3.1
// inches below the upper edge of a sheet folded in three; the address field of form B of DIN 5008 begins 45 mm from the top
// and has its address zone 17.7 mm below that. Both are values from memory: print one and hold it to the envelope.
func windowPlace(size PageSize) (x, y float64) {
	if size == A4 {
		return 25 / 25.4 * 72, 62.7 / 25.4 * 72
	}
	return 0.95 * 72, 2.15 * 72
}

const (
	postSize = 12.5
	postLead = 1.34
	postSide = 72
)

// WritePost sets letters one after the other, a page each.
func WritePost(w io.Writer, letters []Post, size PageSize) error {
	pw, ph := size.points()
	lang, made := "en", time.Time{}
	if len(letters) > 0 {
		lang, made = letters[0].Lang, letters[0].Printed
	}
	p, err := newPress(pw, ph, Labels(lang).Lang, "Letters", made)
	if err != nil {
		return err
	}
	for _, l := range letters {
		sheet := &postSheet{press: p, l: Labels(l.Lang), d: l, words: postWordsIn(l.Lang), size: size}
		p.pdf.AddPage()
		sheet.set()
	}
	return p.write(w)
}

type postSheet struct {
	*press
	l     SlipLabels
	d     Post
	words postWords
	size  PageSize
	y     float64
}

// set fills the page: the address in its window, the date, then the text; type gives way before the page does.
func (sh *postSheet) set() {
	x, y := windowPlace(sh.size)
	st := style{size: 12}
	for i, s := range append([]string{sh.d.Name}, sh.d.Address...) {
		for _, ln := range sh.capped(1, 4*72, span{s, st}) {
			sh.draw(x, y+float64(i)*15, ln)
		}
	}
	top := y + 1.5*72
	right := sh.w - postSide
	date := sh.lines(right-postSide, span{sh.l.DateText(sh.d.Day), st})
	if len(date) > 0 {
		sh.draw(right-date[0].w, top, date[0])
	}
	head := sh.capped(2, right-postSide, span{sh.d.Programme, style{size: 11}})
	for i, ln := range head {
		sh.draw(postSide, 50+float64(i)*14, ln)
	}
	if sh.d.Invented {
		mark := sh.lines(200, span{sh.l.Invented, style{size: 10, bold: true}})[0]
		sh.frame(right-mark.w-16, 36, mark.w+16, 18, 0.8)
		sh.draw(right-mark.w-8, baseline(36, 18, 10), mark)
	}
	var chunks []chunk
	for size := postSize; size > 9; size -= 0.5 {
		chunks = sh.text(size)
		if h := total(chunks); top+14+h < sh.h-70 {
			break
		}
	}
	sh.y = top + 14
	for _, c := range chunks {
		sh.y += c.gap
		for _, s := range c.strips {
			s.draw(sh.y)
			sh.y += s.h
		}
	}
	foot := sh.capped(1, right-postSide, span{join(" · ", sh.l.Record+" "+sh.d.RecordID, sh.l.Printed+" "+sh.l.MomentText(sh.d.Printed)), style{size: 9}})
	for _, ln := range foot {
		sh.draw(postSide, sh.h-40, ln)
	}
}

func total(chunks []chunk) float64 {
	sum := 0.0
	for _, c := range chunks {
		sum += c.gap + height(c.strips)
	}
	return sum
}

func (sh *postSheet) text(size float64) []chunk {
	var out []chunk
	measure := sh.w - 2*postSide
	add := func(gap, indent float64, s string, bold bool) {
		if strings.TrimSpace(s) == "" {
			return
		}
		set := sh.paragraph(gap, postSide+indent, postLead, sh.lines(measure-indent, span{s, style{size: size, bold: bold}}))
		out = append(out, set...)
	}
	for _, par := range sh.words.paragraphs(sh) {
		gap := size * 0.75
		if par.close {
			gap = size * 0.12
		}
		if par.mark {
			before := len(out)
			add(gap, 16, par.s, par.bold)
			if before < len(out) && len(out[before].strips) > 0 {
				first := out[before].strips[0]
				dot := sh.lines(20, span{"•", style{size: size}})[0]
				out[before].strips[0] = strip{first.h, func(y float64) {
					sh.draw(postSide+3, baseline(y, first.h, size), dot)
					first.draw(y)
				}}
			}
			continue
		}
		add(gap, 0, par.s, par.bold)
	}
	return out
}
