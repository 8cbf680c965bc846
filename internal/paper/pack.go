package paper

import "io"

// WriteEventPack sets a document and after it a control log for each meter of the forms, as one PDF in black and white with
// pages counted through. The numbered paper forms are a pack of their own: each of their numbers is accounted for.
func WriteEventPack(w io.Writer, d Document, f FormPack, size PageSize) error {
	doc, pages, err := setDocument(d, size)
	if err != nil {
		return err
	}
	logs := &formSheet{press: doc.press, f: f, l: formLabels(f.Lang), fixed: doc.l, width: doc.w - 2*formSide, page: len(pages), pages: len(pages)}
	meters := f.Meters
	if len(meters) == 0 {
		meters = []FormMeter{{}}
	}
	parts := make([]formPart, len(meters))
	set := make([][][]placed, len(meters))
	for i, m := range meters {
		parts[i] = formPart{title: logs.l.Controls, chunks: [][]chunk{logs.controlLog(m)}}
		set[i] = logs.pagesOf(parts[i])
		logs.pages += len(set[i])
	}
	doc.put(pages, logs.pages)
	for i, part := range parts {
		for k, strips := range set[i] {
			logs.draws(part, strips, k, len(set[i]))
		}
	}
	return doc.write(w)
}
