package paper

import (
	"bytes"
	"fmt"
	"math"
	"strings"
	"testing"

	"fairstick/internal/fault"
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
			if err := WriteEventPack(to, packDocument(), f, nil, size); err != nil {
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

// Behind the pack stand the numbered forms: each number once, on sheets of its own when printed on both sides, in its own language, with the
// account of each batch last and the pages counted through.
func TestEventPackWithForms(t *testing.T) {
	d := asking(fairOf(glucose.MgPerDL, glucose.MgPerDL), allQuestions...)
	batches := []FormPack{packOf(t, d, "en", 3, 5), packOf(t, d, "es", 6, 7)}
	var b bytes.Buffer
	if err := WriteEventPack(&b, packDocument(), packOf(t, d, "en", 1, 1), batches, Letter); err != nil {
		t.Fatal(err)
	}
	pdf := b.Bytes()
	checkInside(t, pdf, formSide-9)
	all := readBack(t, pdf)
	pages := pageCount(all)
	began := map[string][]int{} // pages on which "No. 003" and its like stand in the head
	accounts, incidents, blocks := 0, 0, 0
	for page := 1; page <= pages; page++ {
		text := textOf(all, page)
		if !strings.Contains(text, fmt.Sprintf("%d of %d", page, pages)) && !strings.Contains(text, fmt.Sprintf("%d de %d", page, pages)) {
			t.Errorf("page %d is not counted as one of %d: %.200s", page, pages, text)
		}
		if strings.Contains(text, "Account of the forms") || strings.Contains(text, formSpanish.Account) {
			accounts++
			if page <= pages-2 {
				t.Errorf("an account stands on page %d of %d, want the last two", page, pages)
			}
		}
		if strings.Contains(text, "Incidents") {
			incidents++
		}
		if strings.Contains(text, formEnglish.About) || strings.Contains(text, formSpanish.About) {
			blocks++
		}
		for n := 1; n <= 9; n++ {
			for _, head := range []string{"No. " + FormNumber(n), formSpanish.Number + " " + FormNumber(n)} {
				if strings.Contains(text, head) {
					began[FormNumber(n)] = append(began[FormNumber(n)], page)
					break
				}
			}
		}
	}
	if accounts != 2 || incidents != 1 {
		t.Errorf("%d accounts and %d sheets for incidents, want 2 and 1", accounts, incidents)
	}
	if blocks != 5 {
		t.Errorf("%d of 5 forms ask people about themselves", blocks)
	}
	if len(began) != 5 {
		t.Errorf("numbers on pages %v, want 003 to 007", began)
	}
	for n := 3; n <= 7; n++ {
		at := began[FormNumber(n)]
		if len(at) == 0 || at[0]%2 != 1 || len(at)%2 != 0 || at[len(at)-1]-at[0] != len(at)-1 {
			t.Errorf("form %d stands on pages %v, want whole sheets that begin on an odd page", n, at)
		}
	}
	for _, bad := range [][]FormPack{{packOf(t, d, "en", 0, 3)}, {packOf(t, d, "en", 1, 300), packOf(t, d, "en", 301, 600)}} {
		var none bytes.Buffer
		if err := WriteEventPack(&none, packDocument(), packOf(t, d, "en", 1, 1), bad, Letter); fault.Of(err).Key != "form-numbers" || none.Len() > 0 {
			t.Errorf("%v and %d bytes, want a refusal of the numbers", err, none.Len())
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
