package web

import (
	"cmp"
	"fmt"

	"fairstick/internal/programme"
	"fairstick/internal/web/ui"
)

// correctionsPart counts the signed corrections of an event by kind.
func correctionsPart(r programme.Report) reportPart {
	p := reportPart{
		Key: "corrections", Heading: "Corrections", Empty: "Nothing was corrected.",
		Said: []string{"Each was signed with its reason. The record keeps what was there before."},
		Cols: []ui.Col{{Label: "What"}, {Label: "Corrections", Num: true}, {Label: "After closing", Num: true}},
	}
	for _, c := range r.Corrections {
		p.Rows = append(p.Rows, []string{cmp.Or(mendWords[c.Kind], c.Kind), fmt.Sprint(c.N), fmt.Sprint(c.Late)})
	}
	return p
}

// correctionsSaid is the corrections in one sentence; empty when there were none.
func correctionsSaid(r programme.Report) string {
	n, late := 0, 0
	for _, c := range r.Corrections {
		n, late = n+c.N, late+c.Late
	}
	switch {
	case n == 0:
		return ""
	case late == 0:
		return plural(n, "correction was", "corrections were") + " signed."
	}
	return fmt.Sprintf("%s signed; %d of these corrected after closing.", plural(n, "correction was", "corrections were"), late)
}
