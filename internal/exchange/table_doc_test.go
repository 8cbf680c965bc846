package exchange

import (
	"fmt"
	"os"
	"strings"
	"testing"
)

// Every column of every table that leaves stands in docs/exchange.md with its meaning.
func TestTablesAreDocumented(t *testing.T) {
	data, err := os.ReadFile("../../docs/exchange.md")
	if err != nil {
		t.Fatal(err)
	}
	doc := string(data)
	for _, x := range append(Tables(true), Table{Name: "people (de-identified)", Fields: deidentifiedFields}) {
		_, part, ok := strings.Cut(doc, "### "+x.Name+"\n")
		if !ok {
			t.Errorf("%s is not in the document", x.Name)
		}
		part, _, _ = strings.Cut(part, "\n### ")
		for _, f := range x.Fields {
			if row := fmt.Sprintf("| `%s` | %s | %s", f.Name, f.Type, strings.ReplaceAll(f.Means, "|", `\|`)); !strings.Contains(part, row) {
				t.Errorf("%s: the document lacks %s", x.Name, row)
			}
		}
	}
}
