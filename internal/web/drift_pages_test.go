package web

import (
	"net/http"
	"strings"
	"testing"
)

// The market has tested nineteen people: one meter can be compared, the others have too few tests, and the page, the board and the
// sheet say so.
func TestMetersReadAlike(t *testing.T) {
	m := newMarket(t)
	v := m.as("Maren Solbakk")
	v.get(m.event + "/board")
	v.see("Do the meters read alike?", m.event+"/alike")
	v.get(m.event + "/alike")
	v.want(http.StatusOK)
	traces, err := m.day().MeterTraces()
	if err != nil {
		t.Fatal(err)
	}
	pictures := 0
	for _, tr := range traces {
		v.see(tr.Meter)
		if len(tr.Steps) > 0 {
			pictures++
			v.see("Does meter " + tr.Meter + " read like the others?")
		} else {
			v.seeNot("Does meter " + tr.Meter + " read like the others?")
			v.see("too few tests to compare")
		}
	}
	if pictures == 0 || pictures == len(traces) {
		t.Errorf("%d of %d meters can be compared: the market should have both kinds", pictures, len(traces))
	}
	v.see("It is no verdict on a meter, and none on results.", "none lies beyond its limits")
	v.get(m.event + "/alike/report.pdf?size=a4")
	v.want(http.StatusOK)
	if !strings.HasPrefix(v.body, "%PDF-") || strings.Count(v.body, "/Subtype /Image") != pictures {
		t.Errorf("%d pictures in the sheet, %d on the page", strings.Count(v.body, "/Subtype /Image"), pictures)
	}
	screener := m.as("Ines Calder")
	screener.get(m.event + "/alike")
	screener.want(http.StatusForbidden)
}
