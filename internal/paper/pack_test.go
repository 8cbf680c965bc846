package paper

import (
	"bytes"
	"fmt"
	"math"
	"strings"
	"testing"

	"fairstick/internal/glucose"
)

func packDocument() Document {
	d := dayDocument(3)
	d.Sections = append(d.Sections,
		Section{Heading: "The way", Keep: true, NewPage: true, Sketch: &Sketch{
			Stops: []Stop{{Name: "Way in"}, {Name: "Desk", Tables: 2, Says: "Tickets"}, {Name: "Test", Tables: 40, Says: "Sharps"}, {Name: "Way out"}}, Note: "Squares are tables.",
		}},
		Section{Heading: "Test card", Large: true, NewPage: true, Paragraphs: []string{"1. Wash.", "2. Repeat."}},
		Section{Heading: "To pack", NewPage: true, Table: &Table{Columns: []Column{{Title: "In", Width: 10, Tick: true}, {Title: "Item", Width: 90}}, Rows: [][]string{{"", "Strips"}, {"", "Lancets"}}}},
	)
	return d
}

func TestEventPack(t *testing.T) {
	f := packOf(t, fairOf(glucose.MgPerDL, glucose.MgPerDL), "en", 1, 1)
	for size, want := range map[PageSize][2]float64{Letter: {612, 792}, A4: {595.28, 841.89}} {
		var b, again bytes.Buffer
		for _, to := range []*bytes.Buffer{&b, &again} {
			if err := WriteEventPack(to, packDocument(), f, size); err != nil {
				t.Fatal(err)
			}
		}
		if !bytes.Equal(b.Bytes(), again.Bytes()) {
			t.Error("the same pack gave two different files")
		}
		pdf := b.Bytes()
		if w, h := mediaBox(t, pdf); math.Abs(w-want[0]) > 0.01 || math.Abs(h-want[1]) > 0.01 {
			t.Errorf("page is %.2f x %.2f points, want %v", w, h, want)
		}
		checkInside(t, pdf, formSide)
		all := readBack(t, pdf)
		pages := pageCount(all)
		at := map[string]int{}
		for page := 1; page <= pages; page++ {
			text := textOf(all, page)
			for _, s := range []string{"The way", "Test card", "To pack"} {
				if strings.Contains(text, s) {
					if at[s] != 0 {
						t.Errorf("%q stands on two pages", s)
					}
					at[s] = page
				}
			}
			if !strings.Contains(text, fmt.Sprintf("%d of %d", page, pages)) {
				t.Errorf("page %d is not counted as %d of %d: %s", page, page, pages, text)
			}
		}
		if !(at["The way"] >= 2 && at["Test card"] == at["The way"]+1 && at["To pack"] == at["Test card"]+1) {
			t.Errorf("the parts stand on pages %v, want each on a page of its own", at)
		}
		if logs := pages - at["To pack"]; logs != len(f.Meters) {
			t.Errorf("%d pages of control logs, want one for each of %d meters", logs, len(f.Meters))
		}
		// Two squares to tick on the page of the list, and for 40 tables no more squares than fit.
		streams := pageStreams(t, pdf)
		if n := strings.Count(streams[at["To pack"]-1], " re S"); n != 2+invented(packDocument()) {
			t.Errorf("%d frames on the list, want one for each line", n)
		}
	}
}

func invented(d Document) int {
	if d.Invented {
		return 1
	}
	return 0
}

func TestSketchWithoutStops(t *testing.T) {
	d := packDocument()
	d.Sections[len(d.Sections)-3].Sketch = &Sketch{Stops: []Stop{{Name: "Only"}}}
	documentPDF(t, d, Letter)
	d.Sections[len(d.Sections)-3].Sketch = &Sketch{}
	documentPDF(t, d, A4)
}
