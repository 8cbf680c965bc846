package paper

// Sketch is the way of people through a room: stops joined by arrows, in two rows, out beside the way in. It is no plan to
// scale; it says in which order tables stand, so that nobody meets those who come.
type Sketch struct {
	Stops []Stop
	Note  string // under it
}

// Stop is a place on the way.
type Stop struct {
	Name   string
	Tables int    // drawn as squares; 0 for a door or chairs
	Says   string // what stands there or what is watched
}

const (
	stopGap  = 26.0 // an arrow lies in it
	stopH    = 104.0
	tableBox = 13.0
)

// sketch sets the way as one strip: the first half of the stops from left to right, the rest back from right to left.
func (sh *docSheet) sketch(s Sketch) chunk {
	per := (len(s.Stops) + 1) / 2
	if per == 0 {
		return chunk{}
	}
	w := (sh.width - float64(per-1)*stopGap) / float64(per)
	draw := func(y float64) {
		for i, st := range s.Stops {
			x, top := docSide+float64(i)*(w+stopGap), y+6
			if i >= per {
				x, top = docSide+float64(2*per-1-i)*(w+stopGap), y+6+stopH+stopGap
			}
			sh.stop(st, x, top, w)
			switch {
			case i == len(s.Stops)-1:
			case i == per-1:
				sh.arrow(x+w/2, top+stopH+3, x+w/2, top+stopH+stopGap-3)
			case i < per:
				sh.arrow(x+w+3, top+stopH/2, x+w+stopGap-3, top+stopH/2)
			default:
				sh.arrow(x-3, top+stopH/2, x-stopGap+3, top+stopH/2)
			}
		}
	}
	h := 6 + 2*stopH + stopGap
	if per == len(s.Stops) {
		h = 6 + stopH
	}
	all := []chunk{{gap: 8, strips: []strip{{h, draw}}}}
	return together(append(all, sh.paragraph(6, docSide, 1.3, sh.lines(sh.width, span{s.Note, style{size: 9.5}}))...))
}

// stop draws one place: its name, what stands there, and a square for each table at its foot.
func (sh *docSheet) stop(st Stop, x, y, w float64) {
	weight := 0.6
	if st.Tables > 0 {
		weight = 1.4
	}
	sh.frame(x, y, w, stopH, weight)
	at := y + 5
	for _, ln := range sh.capped(2, w-12, span{st.Name, style{size: 12, bold: true}}) {
		sh.draw(x+6, baseline(at, 15, 12), ln)
		at += 15
	}
	for _, ln := range sh.capped(4, w-12, span{st.Says, style{size: 9}}) {
		sh.draw(x+6, baseline(at, 11.5, 9), ln)
		at += 11.5
	}
	room := int((w - 12 + 4) / (tableBox + 4))
	for i := range min(st.Tables, room) {
		sh.frame(x+6+float64(i)*(tableBox+4), y+stopH-6-tableBox, tableBox, tableBox, 1)
	}
}

// arrow draws a line with a point at its end; it runs level or down.
func (sh *docSheet) arrow(x0, y0, x1, y1 float64) {
	const head = 6.0
	sh.pdf.SetLineWidth(1.2)
	sh.pdf.Line(x0, y0, x1, y1)
	switch {
	case x1 > x0:
		sh.pdf.Line(x1-head, y1-head*0.6, x1, y1)
		sh.pdf.Line(x1-head, y1+head*0.6, x1, y1)
	case x1 < x0:
		sh.pdf.Line(x1+head, y1-head*0.6, x1, y1)
		sh.pdf.Line(x1+head, y1+head*0.6, x1, y1)
	default:
		sh.pdf.Line(x1-head*0.6, y1-head, x1, y1)
		sh.pdf.Line(x1+head*0.6, y1-head, x1, y1)
	}
}
