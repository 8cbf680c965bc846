package programme_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"fairstick/internal/agreement"
	"fairstick/internal/fault"
	"fairstick/internal/glucose"
	"fairstick/internal/programme"
	"fairstick/internal/stock"
)

// sixPairs are invented: the meter reads 4 high on average.
var sixPairs = samples("92.4 95, 118 124, 154.5 160, 203 205, 251 254, 66.1 70")

// samples reads pairs of the laboratory and the meter.
func samples(text string) []stock.Measured {
	var out []stock.Measured
	for pair := range strings.SplitSeq(text, ", ") {
		x, y, _ := strings.Cut(pair, " ")
		out = append(out, stock.Measured{Reference: x, Meter: y})
	}
	return out
}

func (h *hall) comparison() programme.RecordComparison {
	return programme.RecordComparison{
		Act: h.Act(), Meter: h.ID("M1"), StripLot: h.ID("A"), On: "2026-06-19", Laboratory: "hexokinase, analyser of the college", Specimen: "venous-plasma",
		Pairs: sixPairs, Note: "fasting, both drawn within 5 minutes, lithium heparin",
	}
}

func TestComparisonIsRecordedOnceAndComputed(t *testing.T) {
	h := newHall(t)
	c := h.comparison()
	c.ID = uuid.NewString()
	first, err := h.P.RecordComparison(h.ctx, h.As("Sue Supervisor"), c)
	h.must(err)
	again, err := h.P.RecordComparison(h.ctx, h.As("Sue Supervisor"), c)
	h.must(err)
	if again.ID != first.ID || !again.Already {
		t.Errorf("a second press gives %+v after %+v", again, first)
	}
	older := h.comparison()
	older.On = "2026-06-01"
	_, err = h.P.RecordComparison(h.ctx, h.As("Lea Lead"), older)
	h.must(err)
	list, err := h.P.Comparisons(h.ctx)
	h.must(err)
	if len(list) != 2 || list[0].ID != first.ID || list[0].Meter.Details.Label != "M1" || list[0].StripLot.Details.Lot != "A" {
		t.Fatalf("the list is %+v", list)
	}
	r, err := h.P.Comparison(h.ctx, first.ID)
	h.must(err)
	if d := cmp.Diff(sixPairs, r.Details.Pairs); d != "" {
		t.Errorf("the decimals changed: %s", d)
	}
	// Differences by hand: 2.6, 6, 5.5, 2, 3, 3.9; their mean is 23/6.
	if b := r.Agrees.Bias.Result; r.Agrees.N != 6 || b == nil || b.Mean < 3.83333 || b.Mean > 3.83334 {
		t.Errorf("bias %+v", b)
	}
	if c := r.Agrees.ISO2013.Result; c == nil || c.Parts[0].Within != 6 || c.Pass != nil {
		t.Errorf("6 pairs are too few for the standard: %+v", c)
	}
	if r.Agrees.Consensus1 != (agreement.ZoneCounts{A: 6}) || r.Details.Unit != glucose.MgPerDL {
		t.Errorf("zones %+v in %s", r.Agrees.Consensus1, r.Details.Unit)
	}
	var limits []string
	for i, l := range r.Limits {
		limits = append(limits, l.Value.String()+" "+strings.Join(l.Says, ", "))
		if got := r.Agrees.Levels[i].Level; got != float64(l.Value.Steps) {
			t.Errorf("level %d is asked at %v", i, got)
		}
	}
	set, err := h.P.SetUp(h.ctx)
	h.must(err)
	in, _ := set.Charter.InForce()
	fasting := in.Protocol.Limits["fasting"][glucose.MgPerDL]
	if all := strings.Join(limits, "; "); !strings.Contains(all, fasting.RaisedFrom.String()+" raised from (fasting)") || !strings.Contains(all, fasting.CriticalBelow.String()+" critical below;") || r.Protocol != in.Protocol.Version {
		t.Errorf("limits of protocol %s: %s", r.Protocol, all)
	}
}

func TestComparisonIsRefused(t *testing.T) {
	h := newHall(t)
	many := make([]stock.Measured, stock.MostPairs+1)
	for i := range many {
		many[i] = stock.Measured{Reference: "100", Meter: "101"}
	}
	with := func(i int, m stock.Measured) []stock.Measured {
		out := append([]stock.Measured(nil), sixPairs...)
		out[i] = m
		return out
	}
	for _, c := range []struct {
		name   string
		change func(*programme.RecordComparison)
		field  string
		says   string
	}{
		{"one pair", func(c *programme.RecordComparison) { c.Pairs = sixPairs[:1] }, "pairs", "at least 2 pairs; there are 1"},
		{"no pair", func(c *programme.RecordComparison) { c.Pairs = nil }, "pairs", "at least 2 pairs; there are 0"},
		{"too many", func(c *programme.RecordComparison) { c.Pairs = many }, "pairs", "at most 2000 pairs; there are 2001"},
		{"text", func(c *programme.RecordComparison) { c.Pairs = with(2, stock.Measured{Reference: "154", Meter: "HI"}) }, "pairs", `Pair 3: the meter's value "HI"`},
		{"not a number", func(c *programme.RecordComparison) { c.Pairs = with(1, stock.Measured{Reference: "NaN", Meter: "90"}) }, "pairs", `Pair 2: the laboratory's value "NaN"`},
		{"infinite", func(c *programme.RecordComparison) {
			c.Pairs = with(1, stock.Measured{Reference: "1e999", Meter: "90"})
		}, "pairs", "Pair 2"},
		{"negative", func(c *programme.RecordComparison) { c.Pairs = with(1, stock.Measured{Reference: "-5", Meter: "90"}) }, "pairs", "Pair 2"},
		{"zero", func(c *programme.RecordComparison) { c.Pairs = with(1, stock.Measured{Reference: "0.00", Meter: "90"}) }, "pairs", "Pair 2"},
		{"beyond the meter", func(c *programme.RecordComparison) { c.Pairs = with(5, stock.Measured{Reference: "66", Meter: "7000"}) }, "pairs", "Pair 6"},
		{"meter of the other unit", func(c *programme.RecordComparison) { c.Pairs = with(0, stock.Measured{Reference: "95", Meter: "5.3"}) }, "pairs", "Is the unit right?"},
		{"laboratory of the other unit", func(c *programme.RecordComparison) {
			c.Pairs = samples("5.1 95, 6.0 110, 8.8 160")
		}, "pairs", "do not look like mg/dL"},
		{"said to be of the other unit", func(c *programme.RecordComparison) { c.Unit = "mmol/L" }, "pairs", "Nothing is converted"},
		{"tomorrow", func(c *programme.RecordComparison) { c.On = "2026-06-21" }, "on", "21 Jun 2026 has not come yet."},
		{"no day", func(c *programme.RecordComparison) { c.On = "" }, "on", "missing"},
		{"no method", func(c *programme.RecordComparison) { c.Laboratory = " " }, "laboratory", "missing"},
		{"a name", func(c *programme.RecordComparison) { c.Note = "drawn by ann screener" }, "note", "Leave out the name Ann Screener"},
		{"no specimen", func(c *programme.RecordComparison) { c.Specimen = "" }, "specimen", "was not chosen"},
		{"no meter", func(c *programme.RecordComparison) { c.Meter = "" }, "meter", "Choose the meter."},
		{"no lot", func(c *programme.RecordComparison) { c.StripLot = "" }, "lot", "Choose the strip lot"},
	} {
		cmd := h.comparison()
		c.change(&cmd)
		_, err := h.P.RecordComparison(h.ctx, h.As("Lea Lead"), cmd)
		if f := fault.Of(err); f == nil || f.Kind != fault.Invalid || !strings.Contains(f.Fields[c.field], c.says) {
			t.Errorf("%s: %+v", c.name, f)
		}
	}
	cmd := h.comparison()
	_, err := h.P.RecordComparison(h.ctx, h.As("Ann Screener"), cmd)
	h.refused("role", err)
	cmd = h.comparison()
	cmd.Meter = uuid.NewString()
	_, err = h.P.RecordComparison(h.ctx, h.As("Lea Lead"), cmd)
	h.refused("no-such-meter", err)
	if list, err := h.P.Comparisons(h.ctx); err != nil || len(list) != 0 {
		t.Errorf("%d were recorded, %v", len(list), err)
	}
	_, err = h.P.Comparison(h.ctx, "nothing")
	h.refused("no-such-comparison", err)
}

func TestComparisonIsWithdrawn(t *testing.T) {
	h := newHall(t)
	d, err := h.P.RecordComparison(h.ctx, h.As("Lea Lead"), h.comparison())
	h.must(err)
	_, err = h.P.WithdrawComparison(h.ctx, h.As("Ann Screener"), programme.WithdrawComparison{Act: h.Act(), Comparison: d.ID, Reason: "swapped"})
	h.refused("role", err)
	_, err = h.P.WithdrawComparison(h.ctx, h.As("Lea Lead"), programme.WithdrawComparison{Act: h.Act(), Comparison: d.ID})
	h.refused("fields", err)
	_, err = h.P.WithdrawComparison(h.ctx, h.As("Lea Lead"), programme.WithdrawComparison{Act: h.Act(), Comparison: d.ID, Reason: "Bob Screener swapped them"})
	h.refused("fields", err)
	_, err = h.P.WithdrawComparison(h.ctx, h.As("Lea Lead"), programme.WithdrawComparison{Act: h.Act(), Comparison: d.ID, Reason: "the samples were swapped"})
	h.must(err)
	_, err = h.P.WithdrawComparison(h.ctx, h.As("Lea Lead"), programme.WithdrawComparison{Act: h.Act(), Comparison: d.ID, Reason: "again"})
	h.refused("comparison-withdrawn", err)
	r, err := h.P.Comparison(h.ctx, d.ID)
	h.must(err)
	if r.Withdrawn == nil || r.Withdrawn.Reason != "the samples were swapped" || r.WithdrawnBy != h.ID("Lea Lead") || len(r.Pairs) != 6 {
		t.Errorf("withdrawn, and still readable: %+v", r.Comparison)
	}
}

// The most pairs that may be recorded are computed in bearable time.
func TestComparisonOfManyPairs(t *testing.T) {
	h := newHall(t)
	c := h.comparison()
	c.Pairs = nil
	for i := range stock.MostPairs {
		x := 40 + float64(i)*0.25
		c.Pairs = append(c.Pairs, stock.Measured{Reference: fmt.Sprintf("%.2f", x), Meter: fmt.Sprintf("%d", int(x)+i%7-3)})
	}
	d, err := h.P.RecordComparison(h.ctx, h.As("Lea Lead"), c)
	h.must(err)
	r, err := h.P.Comparison(h.ctx, d.ID)
	h.must(err)
	if r.Agrees.N != stock.MostPairs || r.Agrees.PassingBablok.Result == nil {
		t.Errorf("%d pairs, Passing-Bablok: %s", r.Agrees.N, r.Agrees.PassingBablok.Why)
	}
}
