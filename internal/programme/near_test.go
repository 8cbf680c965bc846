package programme_test

import (
	"fmt"
	"math"
	"testing"
	"time"

	"fairstick/internal/demo"
)

// Near a limit the counsellor is told the chance. The numbers by hand: the range 96 to 144 read as 120 +- 2 SD has an SD of 12 and a CV of
// 0.1; 190 against 200 mg/dL lies 10/19 SD below, and the normal tail beyond 0.5263 is 0.2993 (tables of the normal distribution).
func TestNearLimit(t *testing.T) {
	h := opened(t)
	near := func(reading string, more ...demo.Shot) (chance float64, cv float64, runs int, limit string) {
		t.Helper()
		g := h.tested("1", demo.Guest{Ate: 3 * time.Hour}, append([]demo.Shot{{Reading: reading}}, more...)...)
		n, err := h.P.NearLimit(h.ctx, h.day(), h.visit(g))
		h.must(err)
		if n == nil {
			return 0, 0, 0, ""
		}
		return n.Across, n.CV, n.Runs, n.Limit.String()
	}
	if p, cv, runs, limit := near("190"); math.Abs(p-0.2993) > 0.0002 || cv != 0.1 || runs != 0 || limit != "200 mg/dL" {
		t.Errorf("190: chance %.4f, CV %v from %d controls, limit %s; want 0.2993, 0.1, 0, 200 mg/dL", p, cv, runs, limit)
	}
	if p, _, _, limit := near("100"); p != 0 {
		t.Errorf("100, not fasting, is close to %s: %.3f", limit, p)
	}

	// Twenty controls of level 1, 119 and 121 in turn, and the one of the opening, 118: the sum of squares is 23.81 about 119.905, so the CV is
	// sqrt(23.81/20)/119.905 = 0.0091.
	for i := range 20 {
		h.later(time.Minute)
		h.must(h.RunControls(h.ctx, "Ann Screener", "M1", "A", "A1", map[string]string{"1": fmt.Sprint(119 + i%2*2)}))
	}
	p, cv, runs, limit := near("139")
	if runs != 21 || math.Abs(cv-0.0091) > 0.00005 || limit != "140 mg/dL" || math.Abs(p-0.2146) > 0.001 { // Phi(-1/(139 x 0.0091)) = Phi(-0.7904)
		t.Errorf("139: chance %.4f, CV %.5f from %d controls, limit %s", p, cv, runs, limit)
	}
	if p, _, _, _ := near("HI"); p != 0 {
		t.Errorf("HI is close to a limit: %.3f", p)
	}
}
