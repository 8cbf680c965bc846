package web

import (
	"net/http"
	"strings"
	"testing"
)

// A lead chooses days, is told how thick the binder is, and gets it on either paper with its outline.
func TestInspectionPages(t *testing.T) {
	m := newMarket(t)
	v := m.as(leadName)
	v.get("/setup")
	v.see(`href="/inspection"`)
	v.get("/inspection")
	v.want(http.StatusOK)
	v.see("See how thick it is", "/sharps-log.pdf?year=2026")
	v.seeNot("PDF, letter")
	v.get("/inspection?from=2026-10-31&to=2026-10-01")
	v.want(http.StatusUnprocessableEntity)
	v.see("The last day comes before the first.")
	v.get("/inspection?from=2026-10-10&to=&results=yes")
	v.want(http.StatusOK)
	v.see("1 event with 29 visits: about", "/inspection.pdf?from=2026-10-10&results=yes&to=2026-10-10")
	for _, path := range []string{"/inspection.pdf?from=2026-10-10&to=2026-10-10&results=yes", "/inspection.pdf?from=2026-10-10&size=a4"} {
		v.get(path)
		if v.status != http.StatusOK || !strings.HasPrefix(v.body, "%PDF-") || !strings.Contains(v.body, "/Outlines") {
			t.Errorf("%s: %d", path, v.status)
		}
	}
	v.get("/inspection.pdf")
	v.want(http.StatusUnprocessableEntity)
	other := m.as("Tobias Wren")
	other.get("/inspection")
	other.want(http.StatusForbidden)
}
