package paper

// strip is a slice of a page that is never cut: draw sets it with its top at y.
type strip struct {
	h    float64
	draw func(y float64)
}

// chunk is strips that stay together on one page where a page can hold them; gap is the space above it, dropped at the
// top of a page. head is set above the chunk when it begins a page, again above what is left of it when it had to be cut;
// a table's titles are repeated by them.
type chunk struct {
	gap         float64
	head, again []strip
	strips      []strip
	fresh       bool // begins a page
}

type placed struct {
	strip
	y float64 // from the top of the text area
}

// space is an empty strip.
func space(h float64) strip { return strip{h, func(float64) {}} }

func height(strips []strip) float64 {
	sum := 0.0
	for _, s := range strips {
		sum += s.h
	}
	return sum
}

// flow fills pages with chunks in order. room gives the height of the text area of a page, counted from 0. A chunk
// taller than a page is the only one that is cut, between its strips.
func flow(chunks []chunk, room func(page int) float64) [][]placed {
	pages, _ := flowed(chunks, room)
	return pages
}

// flowed fills pages as flow does, and tells on which page each chunk begins, counted from 0.
func flowed(chunks []chunk, room func(page int) float64) (pages [][]placed, begins []int) {
	pages = [][]placed{nil}
	begins = make([]int, len(chunks))
	y := 0.0
	put := func(strips []strip) {
		for _, s := range strips {
			pages[len(pages)-1] = append(pages[len(pages)-1], placed{s, y})
			y += s.h
		}
	}
	next := func(head []strip) {
		pages, y = append(pages, nil), 0
		put(head)
	}
	for i, c := range chunks {
		if y > 0 && c.fresh {
			next(nil)
		}
		if y > 0 {
			if y+c.gap+height(c.strips) <= room(len(pages)-1) {
				y += c.gap
				begins[i] = len(pages) - 1
				put(c.strips)
				continue
			}
			if height(c.head)+height(c.strips) <= room(len(pages)) {
				next(c.head)
				begins[i] = len(pages) - 1
				put(c.strips)
				continue
			}
			y += c.gap
		}
		for k, s := range c.strips {
			if y > 0 && y+s.h > room(len(pages)-1) {
				next(c.again)
			}
			if k == 0 {
				begins[i] = len(pages) - 1
			}
			put([]strip{s})
		}
	}
	return pages, begins
}

// together makes one chunk of many; gaps inside become empty strips.
func together(chunks []chunk) chunk {
	var out chunk
	for i, c := range chunks {
		if i == 0 {
			out.gap, out.head, out.fresh = c.gap, c.head, c.fresh
		} else {
			out.strips = append(out.strips, space(c.gap))
		}
		out.strips = append(out.strips, c.strips...)
		if c.again != nil {
			out.again = c.again
		}
	}
	return out
}

// joined puts a heading in front of what follows, so that it never stands alone at the foot of a page.
func joined(heading chunk, rest []chunk) []chunk {
	if len(rest) == 0 {
		return []chunk{heading}
	}
	return append([]chunk{together([]chunk{heading, rest[0]})}, rest[1:]...)
}

// paragraph sets lines at x; a page never ends or begins with one line alone of a longer text.
func (p *press) paragraph(gap, x, lead float64, lines []line) []chunk {
	strips := make([]strip, 0, len(lines))
	for _, l := range lines {
		size := l.frags[0].st.size
		h := size * lead
		strips = append(strips, strip{h, func(y float64) { p.draw(x, baseline(y, h, size), l) }})
	}
	n := len(strips)
	switch {
	case n == 0:
		return nil
	case n <= 3:
		return []chunk{{gap: gap, strips: strips}}
	}
	out := []chunk{{gap: gap, strips: strips[:2]}}
	for _, s := range strips[2 : n-2] {
		out = append(out, chunk{strips: []strip{s}})
	}
	return append(out, chunk{strips: strips[n-2:]})
}
