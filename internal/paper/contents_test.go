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
