package paper

import "strings"

// box is one cell of a row to be written in by hand: a label, then figures' boxes or words to tick, else free space.
type box struct {
	label string
	note  string  // smaller, under the label
	size  float64 // of the label; formSmall when 0, and bold when larger
	share float64
	ticks []string
	cells string // "#" is a box for one figure; anything else stands between boxes
	after string // beside the boxes
	read  bool   // only read: no space for writing
	wide  bool   // stands in a row of its own
	tight bool   // a row of print with a square at most
	deep  float64
}

const (
	writeH   = 23 // 8 mm and a little: what handwriting needs
	tickSide = 11.0
	tickLead = 16.0
	cellW    = 14.5
	boxPad   = 4.0
)

// heading begins a section of a form.
func (sh *formSheet) heading(s string) chunk {
	ln := sh.lines(sh.width, span{s, style{size: 12, bold: true}})
	strips := make([]strip, len(ln))
	for i, l := range ln {
		strips[i] = strip{17, func(y float64) { sh.draw(formSide, baseline(y, 15, 12), l) }}
	}
	return chunk{gap: 7, strips: strips}
}

// headed keeps a heading on the page of what follows.
func (sh *formSheet) headed(s string, rest ...chunk) []chunk { return joined(sh.heading(s), rest) }

// text sets a paragraph over the whole width.
func (sh *formSheet) para(gap, size float64, s string, bold bool) []chunk {
	return sh.paragraph(gap, formSide, 1.26, sh.lines(sh.width, span{s, style{size: size, bold: bold}}))
}

// fitted is a cell as it will be drawn.
type fitted struct {
	box
	w           float64
	label, note []line
	ticks       [][]tick
	at          float64 // size of the label
}

// tick is a small square with its word, x from the left of the cell.
type tick struct {
	x  float64
	ln line
}

// row sets cells side by side as one strip.
func (sh *formSheet) row(cells ...box) chunk { return sh.rowAt(formSide, sh.width, cells...) }

func (sh *formSheet) rowAt(left, width float64, cells ...box) chunk {
	sum := 0.0
	for _, c := range cells {
		sum += max(c.share, 0.01)
	}
	fit := make([]fitted, len(cells))
	h := 0.0
	for i, c := range cells {
		fit[i] = sh.fit(c, width*max(c.share, 0.01)/sum)
		h = max(h, fit[i].height())
	}
	return chunk{strips: []strip{{h, func(y float64) {
		x := left
		for _, c := range fit {
			sh.frame(x, y, c.w, h, 0.5)
			sh.cell(c, x+boxPad, y, h)
			x += c.w
		}
	}}}}
}

func (sh *formSheet) fit(c box, w float64) fitted {
	f := fitted{box: c, w: w, at: formSmall}
	if c.size > 0 {
		f.at = c.size
	}
	measure := w - 2*boxPad
	f.label = sh.lines(measure, span{c.label, style{size: f.at, bold: f.at > formSmall}})
	f.note = sh.lines(measure, span{c.note, style{size: formSmall}})
	x := 0.0
	if c.cells != "" {
		x = sh.cellsWidth(c.cells, c.after) + 8
	}
	start := x
	for _, word := range c.ticks {
		ln := sh.lines(max(measure-tickSide-4, 20), span{word, style{size: formText}})
		for k, one := range ln {
			width := tickSide + 4 + one.w
			if len(f.ticks) == 0 || x > start && x+width > measure || k > 0 {
				if len(f.ticks) > 0 {
					x = start
				}
				f.ticks = append(f.ticks, nil)
			}
			last := len(f.ticks) - 1
			if k > 0 { // the rest of a long word has no square of its own
				f.ticks[last] = append(f.ticks[last], tick{-1 - x, one})
			} else {
				f.ticks[last] = append(f.ticks[last], tick{x, one})
			}
			x += width + 11
		}
	}
	return f
}

// least is the height of a row that has no label above what is written.
func (f fitted) least() float64 {
	if f.tight {
		return 18
	}
	return writeH
}

func (f fitted) labelHeight() float64 {
	return float64(len(f.label))*f.at*1.2 + float64(len(f.note))*formSmall*1.2
}

func (f fitted) height() float64 {
	below := 0.0
	switch {
	case len(f.ticks) > 0:
		below = max(float64(len(f.ticks))*tickLead, 14)
	case f.read:
	default:
		below = writeH
	}
	if f.cells != "" {
		below = max(below, writeH)
	}
	return max(f.labelHeight()+below+5, f.deep, f.least())
}

// cell draws the inside of a cell; what is to be filled in stands at its foot.
func (sh *formSheet) cell(f fitted, x, y, h float64) {
	at := y + 2
	if f.read && len(f.ticks) == 0 && f.cells == "" {
		at = y + max((h-f.labelHeight())/2, 2)
	}
	for _, ln := range f.label {
		sh.draw(x, baseline(at, f.at*1.2, f.at), ln)
		at += f.at * 1.2
	}
	for _, ln := range f.note {
		sh.draw(x, baseline(at, formSmall*1.2, formSmall), ln)
		at += formSmall * 1.2
	}
	rest := y + h - at
	if f.cells != "" {
		sh.figures(x, at+(rest-18)/2, f.cells, f.after)
	}
	top := at + max((rest-float64(len(f.ticks))*tickLead)/2, 0)
	for i, ticks := range f.ticks {
		for _, t := range ticks {
			base := baseline(top+float64(i)*tickLead, tickLead, formText)
			if t.x < 0 {
				sh.draw(x-1-t.x+tickSide+4, base, t.ln)
				continue
			}
			sh.frame(x+t.x, base-tickSide+1.5, tickSide, tickSide, 0.8)
			sh.draw(x+t.x+tickSide+4, base, t.ln)
		}
	}
}

// figures draws boxes for figures with what stands between and after them.
func (sh *formSheet) figures(x, y float64, cells, after string) {
	for _, r := range cells {
		if r == '#' {
			sh.frame(x, y, cellW, 18, 0.6)
			x += cellW
			continue
		}
		for _, ln := range sh.lines(40, span{string(r), style{size: 12, bold: true}}) { // a space has no line
			sh.draw(x+(7-ln.w)/2, baseline(y, 18, 12), ln)
		}
		x += 7
	}
	for _, ln := range sh.lines(200, span{after, style{size: formText}}) {
		sh.draw(x+4, baseline(y, 18, formText), ln)
	}
}

func (sh *formSheet) cellsWidth(cells, after string) float64 {
	n := strings.Count(cells, "#")
	w := float64(n)*cellW + 7*float64(len([]rune(cells))-n)
	for _, ln := range sh.lines(200, span{after, style{size: formText}}) {
		w += 4 + ln.w
	}
	return w
}

// clock is a cell for a time on a 24-hour wall clock.
func clock(label string, share float64) box { return box{label: label, share: share, cells: "##:##"} }

// value is a cell for what a meter shows: boxes with the unit printed beside them, or two units to tick.
func (sh *formSheet) value(label string, share float64, errors bool) box {
	b := box{label: label, share: share, cells: "###"}
	switch {
	case len(sh.f.Units) > 1:
		b.cells, b.ticks = "###.#", append(b.ticks, sh.f.Units...)
	case sh.f.Units[0] == "mmol/L":
		b.cells, b.after = "##.#", "mmol/L"
	default:
		b.after = sh.f.Units[0]
	}
	if errors {
		b.ticks = append(b.ticks, "LO", "HI", sh.l.Error+" ____")
	}
	return b
}
