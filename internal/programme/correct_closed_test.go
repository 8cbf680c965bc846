package programme_test

import (
	"testing"
	"time"

	"fairstick/internal/demo"
	"fairstick/internal/fault"
	"fairstick/internal/programme"
)

// A closed day is corrected by the lead alone, and the report says so. Care that opens then can be carried to its end.
func TestAfterClosing(t *testing.T) {
	h := opened(t)
	g := h.tested("1", demo.Guest{Ate: 4 * time.Hour}, demo.Shot{Reading: "142"})
	h.finish(g)
	h.close()
	_, err := h.signs("Sue Supervisor", h.value(g, 0, "412"))
	if !fault.Is(err, "signature-role") {
		t.Fatalf("a supervisor corrected a closed day: %v", err)
	}
	seen, err := h.signs("Lea Lead", h.value(g, 0, "412"))
	h.must(err)
	if !seen.Late || !h.visit(g).OpenCare() {
		t.Errorf("late %v, care %v", seen.Late, h.visit(g).OpenCare())
	}
	if c := h.day().Report().Corrections; len(c) != 1 || c[0] != (programme.CorrectionCount{Kind: "reading", N: 1, Late: 1}) {
		t.Errorf("counted as %+v", c)
	}
	_, err = h.P.AttendCare(h.ctx, h.As("Lea Lead"), programme.AttendCare{Act: h.Act(), Visit: g.ID, Sign: h.Sign("Lea Lead")})
	h.must(err)
	_, err = h.signs("Lea Lead", programme.Correct{Event: h.Event, Kind: programme.CorrectOutcome, Visit: g.ID, Outcome: "open"})
	h.refused("event-closed", err)
}

func (h *hall) close() {
	h.t.Helper()
	lead := h.As("Lea Lead")
	_, err := h.P.CloseDoors(h.ctx, lead, programme.CloseDoors{Act: h.Act(), Event: h.Event})
	h.must(err)
	d := h.day()
	r, e, c := d.StripsUsed(h.ID("A"))
	_, err = h.P.CountBack(h.ctx, lead, programme.CountBack{
		Act: h.Act(), Event: h.Event, Strips: map[string]int{h.ID("A"): 50 - r - e - c, h.ID("B"): 50}, Lancets: d.LancetsLeft(), Sharps: 2,
		Meters: []string{h.ID("M1"), h.ID("M2")},
	})
	h.must(err)
	rows := map[string]int{}
	for _, v := range d.Visits {
		for _, x := range v.Readings {
			rows[x.Meter]++
		}
	}
	for _, m := range []string{"M1", "M2"} {
		_, err = h.P.ReadMemory(h.ctx, lead, programme.ReadMemory{Act: h.Act(), Event: h.Event, Meter: h.ID(m), Rows: rows[h.ID(m)] + 2})
		h.must(err)
	}
	_, err = h.P.CloseEvent(h.ctx, lead, programme.CloseEvent{Act: h.Act(), Event: h.Event, Sign: h.Sign("Lea Lead")})
	h.must(err)
}
