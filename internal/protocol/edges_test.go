package protocol

import (
	"fmt"
	"testing"

	"fairstick/internal/fault"
	"fairstick/internal/glucose"
)

// ADA Standards of Care 2025, sections 2 and 6: fasting 100 and 126 mg/dL (5.6 and 7.0 mmol/L), low below 70 (3.9) and 54 (3.0).
// The last edge is the programme's own alert limit.
func TestEdges(t *testing.T) {
	p := Default()
	for u, want := range map[glucose.Unit]string{glucose.MgPerDL: "[{critical_below 54 mg/dL} {low_below 70 mg/dL} {raised_from 100 mg/dL} {high_from 126 mg/dL}", glucose.MmolPerL: "[{critical_below 3.0 mmol/L} {low_below 3.9 mmol/L} {raised_from 5.6 mmol/L} {high_from 7.0 mmol/L}"} {
		got, err := p.Edges(Fasting, u)
		if err != nil || len(got) != 5 || fmt.Sprint(got)[:len(want)] != want {
			t.Errorf("%s: %v %v, want %s ...]", u, got, err, want)
		}
	}
	if _, err := p.Edges("after-lunch", glucose.MgPerDL); !fault.Is(err, "protocol-silent") {
		t.Errorf("an unknown basis: %v", err)
	}
}
