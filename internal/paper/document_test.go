package paper

import (
	"bytes"
	"fmt"
	"math"
	"strings"
	"testing"

	"fairstick/internal/fault"
)

func documentPDF(t testing.TB, d Document, size PageSize) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := WriteDocument(&b, d, size); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func TestDocumentPages(t *testing.T) {
	for size, want := range map[PageSize][2]float64{Letter: {612, 792}, A4: {595.28, 841.89}} {
		pdf := documentPDF(t, dayDocument(60), size)
		if w, h := mediaBox(t, pdf); math.Abs(w-want[0]) > 0.01 || math.Abs(h-want[1]) > 0.01 {
			t.Errorf("page is %.2f x %.2f points, want %v", w, h, want)
		}
		checkInside(t, pdf, docSide)
		if !bytes.Equal(pdf, documentPDF(t, dayDocument(60), size)) {
			t.Error("the same document gave two different files")
		}
		all := readBack(t, pdf)
		pages := pageCount(all)
		if pages < 3 {
			t.Fatalf("%d pages, want 3 at least", pages)
		}
		withRows := 0
		for page := 1; page <= pages; page++ {
			text := textOf(all, page)
			for _, mark := range []string{fmt.Sprintf("page %d of %d", page, pages), "01990c1e-7a44-7c1e-9f00-5b1d2c3e4f50", "printed 31 August 2026, 9:42 am", "Invented demo data"} {
				if !strings.Contains(text, mark) {
					t.Errorf("page %d lacks %q", page, mark)
				}
			}
			if strings.Contains(text, "9:42 am usual") || strings.Contains(text, "Re-screen in three years.") {
				withRows++
				if n := strings.Count(text, "What was said and agreed"); n != 1 {
					t.Errorf("page %d has the column titles %d times", page, n)
				}
			}
		}
		if withRows < 2 {
			t.Errorf("rows stand on %d pages, want 2 at least", withRows)
		}
		// Every row is there, once, and its three lines of text are on the page of its ticket.
		whole := textOf(all, 0)
		for i := range 60 {
			page := 0
			for _, p := range all {
				if p.s == fmt.Sprintf("A%d", i+1) {
					if page != 0 {
						t.Errorf("%s stands twice", p.s)
					}
					page = p.page
				}
			}
			if page == 0 {
				t.Errorf("row A%d is missing", i+1)
			}
		}
		for page := 1; page <= pages; page++ {
			text := textOf(all, page)
			if a, b := strings.Count(text, "Higher than the usual range"), strings.Count(text, "be called at 555 0100."); a != b {
				t.Errorf("page %d: a row was cut: %d begin, %d end", page, a, b)
			}
		}
		if !strings.Contains(whole, "Nothing to list.") {
			t.Error("the empty table says nothing")
		}
	}
}

func TestDocumentAlignsFigures(t *testing.T) {
	d := Document{Title: "T", Sections: []Section{{Table: &Table{Columns: []Column{{Title: "n", Right: true}}, Rows: [][]string{{"1"}, {"100"}}}}}}
	fonts, err := loadFonts()
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range readBack(t, documentPDF(t, d, Letter)) {
		if p.s != "1" && p.s != "100" {
			continue
		}
		if end := p.x + fonts.regular.width(p.s, true, cellSize); math.Abs(end-(612-docSide)) > 0.02 {
			t.Errorf("%q ends at %.2f, want the right margin", p.s, end)
		}
	}
}

func TestDocumentKeepsSectionsTogether(t *testing.T) {
	para := "One plain line of text."
	for n := 20; n < 45; n++ {
		d := Document{Title: "T", Sections: []Section{{Heading: "Filler"}, {Heading: "Kept", Keep: true, Paragraphs: []string{"kept first", "kept second"}}, {Heading: "Last", Paragraphs: []string{"last text"}}}}
		for range n {
			d.Sections[0].Paragraphs = append(d.Sections[0].Paragraphs, para)
		}
		at := map[string]int{}
		for _, p := range readBack(t, documentPDF(t, d, Letter)) {
			at[p.s] = p.page
		}
		if at["Kept"] != at["kept first"] || at["Kept"] != at["kept second"] {
			t.Errorf("%d paragraphs before: the kept section is cut: %v", n, at)
		}
		if at["Last"] != at["last text"] || at["Last"] == 0 {
			t.Errorf("%d paragraphs before: a heading stands alone: %v", n, at)
		}
	}
}

func TestDocumentBeginsAPage(t *testing.T) {
	d := Document{Title: "T", Sections: []Section{
		{Heading: "One", Paragraphs: []string{"first"}},
		{Heading: "Two", Paragraphs: []string{"second"}, NewPage: true},
		{NewPage: true},
		{Heading: "Three", Table: &Table{Columns: []Column{{Title: "n"}}, Rows: [][]string{{"third"}}}, NewPage: true, Keep: true},
		{Heading: "Four"},
	}}
	at := map[string]int{}
	for _, p := range readBack(t, documentPDF(t, d, Letter)) {
		at[p.s] = p.page
	}
	for text, page := range map[string]int{"One": 1, "first": 1, "Two": 2, "second": 2, "Three": 3, "third": 3, "Four": 3} {
		if at[text] != page {
			t.Errorf("%q stands on page %d, want %d", text, at[text], page)
		}
	}
}

func TestDocumentLargeSection(t *testing.T) {
	d := Document{Title: "T", Sections: []Section{{Heading: "Small", Paragraphs: []string{"one", "two"}}, {Heading: "Big", Paragraphs: []string{"three", "four"}, Large: true}}}
	y := map[string]float64{}
	for _, p := range readBack(t, documentPDF(t, d, Letter)) {
		y[p.s] = p.y
	}
	small, large := math.Abs(y["two"]-y["one"]), math.Abs(y["four"]-y["three"])
	if small == 0 || large < 1.5*small {
		t.Errorf("lines of a large section stand %.1f apart, of a plain one %.1f", large, small)
	}
}

func TestDocumentRowTallerThanAPage(t *testing.T) {
	var words []string
	for i := range 1500 {
		words = append(words, fmt.Sprintf("w%d", i))
	}
	d := Document{Title: "T", Sections: []Section{{Heading: "H", Table: &Table{
		Caption: "C", Columns: []Column{{Title: "First"}, {Title: "Second"}},
		Rows: [][]string{{"a", "b"}, {strings.Join(words, " ")}},
	}}}}
	pdf := documentPDF(t, d, A4)
	checkInside(t, pdf, docSide)
	all := readBack(t, pdf)
	text := textOf(all, 0)
	for _, w := range []string{"w0 ", "w750 ", "w1499"} {
		if !strings.Contains(text, w) {
			t.Errorf("%q was lost", w)
		}
	}
	for page := 1; page <= pageCount(all); page++ {
		if !strings.Contains(textOf(all, page), "Second") {
			t.Errorf("page %d lacks the column titles", page)
		}
	}
}

func TestDocumentRefusals(t *testing.T) {
	long := Document{Sections: []Section{{Table: &Table{Columns: []Column{{Title: "a"}}, Rows: [][]string{{"1", "2"}}}}}}
	wide := Document{Sections: []Section{{Table: &Table{Columns: make([]Column, 40)}}}}
	infinite := Document{Sections: []Section{{Table: &Table{Columns: []Column{{Width: math.Inf(1)}, {Width: 1}}}}}}
	for _, c := range []struct {
		d    Document
		want string
	}{{long, "table-row-too-long"}, {wide, "table-too-wide"}, {infinite, "table-too-wide"}} {
		var b bytes.Buffer
		if err := WriteDocument(&b, c.d, Letter); !fault.Is(err, c.want) || b.Len() > 0 {
			t.Errorf("got %v and %d bytes, want %s", err, b.Len(), c.want)
		}
	}
}

func TestDocumentEmptyAndSpanish(t *testing.T) {
	if text := textOf(readBack(t, documentPDF(t, Document{}, Letter)), 0); text != "page 1 of 1" {
		t.Errorf("an empty document says %q", text)
	}
	d := dayDocument(1)
	d.Lang = "es"
	if text := textOf(readBack(t, documentPDF(t, d, A4)), 0); !strings.Contains(text, "página 1 de ") || !strings.Contains(text, "31 de agosto de 2026") {
		t.Errorf("fixed words are not Spanish: %s", text)
	}
	empty := Document{Title: "T", Sections: []Section{{}, {Heading: "only"}, {Table: &Table{}}, {Table: &Table{Columns: []Column{{}}, Rows: [][]string{{}, nil}}}}}
	checkInside(t, documentPDF(t, empty, Letter), docSide)
}

func FuzzDocument(f *testing.F) {
	f.Add("Event report", "A paragraph.", "cell", 3, true)
	f.Add("\x00😀", strings.Repeat("long ", 900), strings.Repeat("W", 400), 40, false)
	f.Add("", "", "", 0, true)
	f.Fuzz(func(t *testing.T, title, para, cell string, rows int, keep bool) {
		table := &Table{Caption: title, Columns: []Column{{Title: title, Width: 2}, {Title: cell, Right: true}}, Note: para}
		for range min(max(rows, 0), 60) {
			table.Rows = append(table.Rows, []string{cell, para})
		}
		d := Document{Title: title, Subtitle: para, Programme: cell, RecordID: title, Invented: keep, Sections: []Section{{Heading: title, Paragraphs: []string{para, cell}, Table: table, Keep: keep}}}
		checkInside(t, documentPDF(t, d, A4), docSide)
	})
}
