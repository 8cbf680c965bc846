package paper

import (
	"bytes"
	"fmt"
	"strconv"
	"strings"
	"testing"
	"time"
)

// The contents say on which page each listed part begins, on both papers, however the parts before it break.
func TestContentsAreTrue(t *testing.T) {
	for _, size := range []PageSize{Letter, A4} {
		d := Document{Title: "Binder", Programme: "Invented", Lang: "en", Contents: "Contents", RecordID: "entry 7", Printed: time.Date(2026, 10, 10, 10, 0, 0, 0, time.UTC)}
		for n := range 12 {
			s := Section{Heading: fmt.Sprintf("Part %c begins", 'A'+n), Listed: true, NewPage: n%4 == 1, Table: &Table{Columns: []Column{{Title: "Row"}}}}
			for i := range 7*n + 3 {
				s.Table.Rows = append(s.Table.Rows, []string{fmt.Sprint("row ", i)})
			}
			d.Sections = append(d.Sections, s, Section{Heading: "Not listed", Paragraphs: []string{"More."}})
		}
		var b bytes.Buffer
		if err := WriteDocument(&b, d, size); err != nil {
			t.Fatal(err)
		}
		begins, said, number := map[string]int{}, map[string]int{}, ""
		for _, x := range readBack(t, b.Bytes()) {
			switch {
			case strings.HasPrefix(x.s, "Part ") && x.size > 11:
				begins[x.s] = x.page
			case strings.HasPrefix(x.s, "Part ") && x.size == docBody:
				number = x.s
			case number != "":
				n, err := strconv.Atoi(x.s)
				if err != nil {
					t.Fatalf("%q stands behind %s", x.s, number)
				}
				said[number], number = n, ""
			}
		}
		if len(begins) != 12 || fmt.Sprint(begins) != fmt.Sprint(said) || begins["Part L begins"] < 8 {
			t.Errorf("the parts begin on %v, the contents say %v", begins, said)
		}
		if !bytes.Contains(b.Bytes(), []byte("/Outlines")) {
			t.Error("no outline")
		}
	}
}

// Each letter begins on a page of its own, is numbered for itself, and says when nobody has reviewed its text.
func TestLetters(t *testing.T) {
	long := PersonLetter{Lang: "es", Programme: "Invented", To: "Inventada Ana", Heading: "Por favor, llámenos", Draft: "Borrador", Steps: []string{"Uno.", "Dos."}}
	for range 40 {
		long.Paragraphs = append(long.Paragraphs, "Una frase inventada que llena la página, y otra más que la sigue para que haya dos páginas.")
	}
	var b bytes.Buffer
	if err := WriteLetters(&b, []PersonLetter{{Lang: "en", Programme: "Invented", Heading: "Please call us", Signed: "The team", Invented: true}, long}, A4); err != nil {
		t.Fatal(err)
	}
	pages := map[int]string{}
	for _, x := range readBack(t, b.Bytes()) {
		pages[x.page] += x.s + "\n"
	}
	for page, want := range map[int]string{1: "page 1 of 1", 2: "página 1 de ", 3: "página 2 de "} {
		if !strings.Contains(pages[page], want) {
			t.Errorf("page %d does not say %q:\n%s", page, want, pages[page])
		}
	}
	if strings.Contains(pages[1], "Borrador") || !strings.Contains(pages[1], "Invented demo data") || !strings.Contains(pages[2], "Borrador") || !strings.Contains(pages[2], "Inventada Ana") {
		t.Errorf("%s\n%s", pages[1], pages[2])
	}
	if err := WriteLetters(&b, nil, Letter); err != nil {
		t.Error(err)
	}
}
