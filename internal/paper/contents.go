package paper

import "strconv"

// listing is one line of the contents. Its page is known only when everything has been set, and drawn after that.
type listing struct {
	text line
	name string
	page int // counted from 0
}

// contents sets the list of the listed sections with their pages.
func (sh *docSheet) contents() []chunk {
	if sh.d.Contents == "" {
		return nil
	}
	st := style{size: docBody}
	for _, s := range sh.d.Sections {
		if !s.Listed {
			continue
		}
		x := listing{name: s.Heading}
		if set := sh.capped(1, sh.width-50, span{s.Heading, st}); len(set) > 0 {
			x.text = set[0]
		}
		sh.listed = append(sh.listed, x)
	}
	var out []chunk
	for i := range sh.listed {
		const h = docBody * 1.7
		out = append(out, chunk{strips: []strip{{h, func(y float64) {
			x := sh.listed[i]
			number := sh.lines(sh.width, span{strconv.Itoa(x.page + 1), style{size: docBody, wide: true}})[0]
			sh.draw(docSide, baseline(y, h, docBody), x.text)
			sh.draw(sh.w-docSide-number.w, baseline(y, h, docBody), number)
			sh.rule(docSide, sh.w-docSide, y+h, 0.25)
			sh.pdf.Link(docSide, y, sh.width, h, sh.linkTo(x.page))
		}}}})
	}
	heading := sh.paragraph(20, docSide, 1.25, sh.lines(sh.width, span{sh.d.Contents, style{size: 14, bold: true}}))
	if len(heading) == 0 {
		return out
	}
	return joined(together(heading), out)
}

// linkTo makes a link to a page, counted from 0.
func (sh *docSheet) linkTo(page int) int {
	id := sh.pdf.AddLink()
	sh.pdf.SetLink(id, 0, page+1)
	return id
}

// bookmarks puts the listed sections that begin on the page that is being drawn into the outline that readers show.
func (sh *docSheet) bookmarks(page int) {
	for _, x := range sh.listed {
		if x.page == page {
			sh.pdf.Bookmark(x.name, 0, 0)
		}
	}
}
