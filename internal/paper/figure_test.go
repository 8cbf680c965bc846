package paper

import (
	"bytes"
	"image"
	"image/png"
	"strings"
	"testing"
)

func TestDocumentFigure(t *testing.T) {
	var pic bytes.Buffer
	if err := png.Encode(&pic, image.NewGray(image.Rect(0, 0, 40, 20))); err != nil {
		t.Fatal(err)
	}
	figure := func(w, h float64) Document {
		return Document{Title: "T", Sections: []Section{{Heading: "Picture", Paragraphs: []string{"before"}, Figure: &Figure{PNG: pic.Bytes(), Width: w, Height: h, Note: "under it"}, Table: &Table{Columns: []Column{{Title: "after"}}}}}}
	}
	pdf := documentPDF(t, figure(40, 20), Letter)
	if n := bytes.Count(pdf, []byte("/Subtype /Image")); n != 1 {
		t.Errorf("%d pictures, want 1", n)
	}
	text := textOf(readBack(t, pdf), 0)
	before, note, after := strings.Index(text, "before"), strings.Index(text, "under it"), strings.Index(text, "after")
	if before < 0 || note < before || after < note {
		t.Errorf("order of the parts: %q", text)
	}
	tall := documentPDF(t, figure(20, 400), A4) // higher than a page: made smaller, not cut
	if got := pageCount(readBack(t, tall)); got > 2 {
		t.Errorf("a tall picture takes %d pages", got)
	}
	for _, bad := range []Figure{{PNG: []byte("no picture"), Width: 1, Height: 1}, {PNG: pic.Bytes()}} {
		if err := WriteDocument(&bytes.Buffer{}, Document{Sections: []Section{{Figure: &bad}}}, Letter); err == nil {
			t.Errorf("%v by %v was set", bad.Width, bad.Height)
		}
	}
}
