package paper

import (
	"fmt"
	"io"

	"fairstick/internal/fault"
)

// WriteEventPack sets a document, after it a control log for each meter of the forms, and last the numbered forms of each batch with
// the account of their numbers, as one PDF in black and white with pages counted through. Each visit form and each slip begins a sheet
// of its own when the pack is printed on both sides. The numbers of a batch are those that the record gave it; none are made here.
//
// It refuses, with a fault, what WriteForms refuses, and more than MostForms forms in all.
func WriteEventPack(w io.Writer, d Document, f FormPack, batches []FormPack, size PageSize) error {
	forms := 0
	for _, b := range batches {
		if err := b.check(); err != nil {
			return err
		}
		forms += b.To - b.From + 1
	}
	if forms > MostForms {
		return fault.New(fault.Invalid, "form-numbers", fmt.Sprintf("%d forms are too many for one pack.", forms),
			fmt.Sprintf("One pack holds at most %d.", MostForms), "Take them in parts, under Paper forms.")
	}
	doc, pages, err := setDocument(d, size)
	if err != nil {
		return err
	}
	count := len(pages)
	var bound []boundSheet
	add := func(sh *formSheet, parts ...formPart) {
		b := boundSheet{sh, parts, sh.setAll(parts)}
		for _, set := range b.set {
			count += len(set)
		}
		bound = append(bound, b)
	}
	logs := newFormSheet(doc.press, f)
	add(logs, logs.controlLogs()...)
	if len(batches) > 0 {
		add(logs, logs.incidents())
		if count%2 == 1 {
			add(logs, formPart{title: logs.l.Notes, chunks: [][]chunk{logs.lined(logs.roomOf(0))}})
		}
	}
	var sheets []*formSheet
	for _, b := range batches {
		sh := newFormSheet(doc.press, b)
		sheets = append(sheets, sh)
		add(sh, sh.numbered()...)
	}
	for _, sh := range sheets { // one page each: between the batches they would put a form on the back of another
		add(sh, sh.accounts())
	}
	doc.put(pages, count)
	at := len(pages)
	for _, b := range bound {
		at = b.draw(at, count)
	}
	return doc.write(w)
}

// boundSheet is parts of a pack that were set by one sheet.
type boundSheet struct {
	sh    *formSheet
	parts []formPart
	set   [][][]placed
}

// draw puts the parts after a number of pages, of so many in all, and gives the number of pages after them.
func (b boundSheet) draw(at, of int) int {
	b.sh.page, b.sh.pages = at, of
	for i, part := range b.parts {
		for k, strips := range b.set[i] {
			b.sh.draws(part, strips, k, len(b.set[i]))
		}
	}
	return b.sh.page
}
