package paper

import (
	"io"
	"strconv"
	"strings"
	"time"

	"fairstick/internal/civil"
)

// PersonLetter is one letter to a participant, or a note about one that they carry: what it is about, what to do, whom to call. It is one
// page in black and white, its address in the place of a window envelope. Type gives way before the page does; only a text that
// does not fit in the smallest type goes on overleaf.
type PersonLetter struct {
	Lang           string      // of the fixed words, "en" or "es"; any other with Words
	Words          *SlipLabels // the fixed words in a further language; nil: Labels(Lang)
	Programme      string
	Contact, Hours string // at the head, under the programme; empty where the text says them
	Date           civil.Date
	To             string // name in the window; empty leaves a line to write on
	Address        []string
	Heading        string
	About          string // the visit: ticket, event, day; never a value
	Body           []LetterLine
	Draft          string // a frame above the text, for words that nobody has reviewed; empty for none
	RecordID       string
	Printed        time.Time
	Invented       bool
}

// LetterLine is one paragraph of a letter, or a point of a list.
type LetterLine struct {
	Text  string
	Mark  string // before a point of a list, its lines hanging under each other
	Bold  bool
	Close bool // follows the one before without a gap
}

// Said makes a paragraph of each text.
func Said(texts ...string) []LetterLine {
	out := make([]LetterLine, len(texts))
	for i, s := range texts {
		out[i] = LetterLine{Text: s}
	}
	return out
}

// Numbered makes a numbered list.
func Numbered(texts []string) []LetterLine {
	out := make([]LetterLine, len(texts))
	for i, s := range texts {
		out[i] = LetterLine{Text: s, Mark: strconv.Itoa(i+1) + ".", Close: i > 0}
	}
	return out
}

// Dotted makes a list without an order.
func Dotted(texts []string) []LetterLine {
	out := make([]LetterLine, len(texts))
	for i, s := range texts {
		out[i] = LetterLine{Text: s, Mark: "•", Close: i > 0}
	}
	return out
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
	letterBody  = 12.5 // type, when there is room
	letterLeast = 9.5  // type, when there is not
	letterLead  = 1.34
	letterSide  = 72
	letterHead  = 11
	letterOver  = 64 // top of the text overleaf
	letterFoot  = 70 // below the text
	windowType  = 12
	windowStep  = 15
)

// letterSheet sets one letter.
type letterSheet struct {
	*press
	x      PersonLetter
	l      SlipLabels
	width  float64
	window [2]float64 // where the address begins
}

// WriteLetters sets letters one after the other as one PDF, each on a page of its own.
func WriteLetters(w io.Writer, letters []PersonLetter, size PageSize) error {
	pw, ph := size.points()
	var first PersonLetter
	if len(letters) > 0 {
		first = letters[0]
	}
	p, err := newPress(pw, ph, Labels(first.Lang).Lang, "Letters", first.Printed)
	if err != nil {
		return err
	}
	for _, x := range letters {
		sh := &letterSheet{press: p, x: x, l: Labels(x.Lang), width: pw - 2*letterSide}
		if x.Words != nil {
			sh.l = *x.Words
		}
		p.rtl = sh.l.RTL
		sh.window[0], sh.window[1] = windowPlace(size)
		sh.set()
	}
	return p.write(w)
}

func (sh *letterSheet) set() {
	top := sh.window[1] + 1.5*72 + 14
	room := func(page int) float64 {
		if page == 0 {
			return sh.h - letterFoot - top
		}
		return sh.h - letterFoot - letterOver
	}
	sh.boxes = false
	head := sh.head()
	var pages [][]placed
	for size := letterBody; size >= letterLeast; size -= 0.5 {
		if pages = flow(sh.text(size), room); len(pages) == 1 {
			break
		}
	}
	for i, strips := range pages {
		sh.pdf.AddPage()
		at := float64(letterOver)
		if i == 0 {
			at = top
			for _, draw := range head {
				draw()
			}
		}
		for _, st := range strips {
			st.draw(at + st.y)
		}
		sh.foot(i, len(pages))
	}
}

// head prepares what stands above the text: the programme, the mark of invented data, the address in its window, the date.
func (sh *letterSheet) head() (out []func()) {
	put := func(x, y float64, ln line) { out = append(out, func() { sh.draw(x, y, ln) }) }
	right := sh.w - letterSide
	y := 50.0
	for _, s := range []span{{sh.x.Programme, style{size: letterHead, bold: true}}, {join(dot, sh.x.Contact, sh.x.Hours), style{size: letterHead}}} {
		for _, ln := range sh.capped(2, sh.width-130, s) { // beside the mark of invented data
			put(letterSide, y, ln)
			y += 14
		}
	}
	if sh.x.Invented {
		mark := sh.lines(200, span{sh.l.Invented, style{size: 10, bold: true}})[0]
		out = append(out, func() { sh.frame(right-mark.w-16, 36, mark.w+16, 18, 0.8) })
		put(right-mark.w-8, baseline(36, 18, 10), mark)
	}
	x, y := sh.window[0], sh.window[1]
	inWindow := func(draw func()) { // the window stands on the left, whatever the direction of the letter
		out = append(out, func() {
			rtl := sh.rtl
			sh.rtl = false
			draw()
			sh.rtl = rtl
		})
	}
	if strings.TrimSpace(sh.x.To) == "" {
		inWindow(func() { sh.rule(x, x+3.5*72, y+4, 0.5) })
	}
	for i, s := range append([]string{sh.x.To}, sh.x.Address...) {
		for _, ln := range sh.capped(1, 4*72, span{s, style{size: windowType}}) {
			inWindow(func() { sh.draw(x, y+float64(i)*windowStep, ln) })
		}
	}
	for _, ln := range sh.capped(1, sh.width, span{sh.l.DateText(sh.x.Date), style{size: windowType}}) {
		put(right-ln.w, y+1.5*72, ln)
	}
	return out
}

func (sh *letterSheet) foot(page, pages int) {
	y, st := sh.h-52, style{size: 9}
	sh.rule(letterSide, sh.w-letterSide, y, 0.4)
	of := sh.lines(sh.width, span{sh.l.PageOf(page+1, pages), st})[0]
	sh.draw(sh.w-letterSide-of.w, y+12, of)
	record, printed := "", ""
	if strings.TrimSpace(sh.x.RecordID) != "" {
		record = sh.l.Record + " " + sh.x.RecordID
	}
	if m := sh.l.MomentText(sh.x.Printed); m != "" {
		printed = sh.l.Printed + " " + m
	}
	for _, ln := range sh.capped(1, sh.width-of.w-20, span{join(dot, record, printed), st}) {
		sh.draw(letterSide, y+12, ln)
	}
}

// text sets what stands below the window in a size of type.
func (sh *letterSheet) text(size float64) []chunk {
	var out []chunk
	if sh.x.Draft != "" {
		out = append(out, sh.framed(sh.x.Draft, size-1))
	}
	if heading := sh.paragraph(0, letterSide, 1.25, sh.lines(sh.width, span{sh.x.Heading, style{size: size * 1.3, bold: true}})); len(heading) > 0 {
		out = append(out, together(heading))
	}
	out = append(out, sh.paragraph(size*0.3, letterSide, letterLead, sh.lines(sh.width, span{sh.x.About, style{size: size}}))...)
	for _, x := range sh.x.Body {
		gap := size * 0.75
		if x.Close {
			gap = size * 0.12
		}
		hang := 0.0
		if x.Mark != "" {
			hang = size * 1.6
		}
		set := sh.paragraph(gap, letterSide+hang, letterLead, sh.lines(sh.width-hang, span{x.Text, style{size: size, bold: x.Bold}}))
		if x.Mark != "" && len(set) > 0 {
			first := set[0].strips[0]
			set[0].strips[0] = strip{first.h, func(y float64) {
				sh.press.text(letterSide+2, baseline(y, first.h, size), x.Mark, style{size: size})
				first.draw(y)
			}}
		}
		if x.Close && x.Mark == "" && len(out) > 0 && len(set) > 0 { // stays with the one before
			last := len(out) - 1
			out[last], set = together([]chunk{out[last], set[0]}), set[1:]
		}
		out = append(out, set...)
	}
	if sh.boxes {
		out = append(out, sh.paragraph(14, letterSide, letterLead, sh.lines(sh.width, span{sh.l.Unprintable, style{size: 9}}))...)
	}
	return out
}

// framed sets a sentence in a frame.
func (sh *letterSheet) framed(s string, size float64) chunk {
	lines := sh.lines(sh.width-20, span{s, style{size: size, bold: true}})
	lead := size * 1.3
	h := float64(len(lines))*lead + 12
	return chunk{strips: []strip{{h + 12, func(y float64) {
		sh.frame(letterSide, y, sh.width, h, 1)
		for i, ln := range lines {
			sh.draw(letterSide+10, baseline(y+6+float64(i)*lead, lead, size), ln)
		}
	}}}}
}
