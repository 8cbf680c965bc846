package stock

import (
	"encoding/json"
	"testing"

	"github.com/google/go-cmp/cmp"

	"fairstick/internal/civil"
	"fairstick/internal/fact"
	"fairstick/internal/glucose"
)

func TestComparisonFold(t *testing.T) {
	recorded := ComparisonRecorded{
		Meter: "m", StripLot: "s", On: civil.MustParse("2026-03-04"), Laboratory: "hexokinase", Specimen: VenousPlasma, Unit: glucose.MmolPerL,
		Pairs: []Measured{{"5.43", "5.6"}, {"11.10", "11.1"}}, Note: "fasting",
	}
	withdrawn := ComparisonWithdrawn{Reason: "the samples were swapped"}
	records := []fact.Record{
		{Meta: fact.Meta{ID: "2", Recorded: "b", At: at("2026-03-06 09:00"), By: "q"}, Body: withdrawn},
		{Meta: fact.Meta{ID: "1", Recorded: "a", At: at("2026-03-05 08:00"), By: "p"}, Body: recorded},
	}
	got := fact.Fold(NewComparison("c").(*Comparison), records)
	want := &Comparison{ID: "c", Details: recorded, At: at("2026-03-05 08:00"), By: "p", Withdrawn: &withdrawn, WithdrawnAt: at("2026-03-06 09:00"), WithdrawnBy: "q"}
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("the fold, whatever order the facts came in: %s", d)
	}
	if parent, label := got.Index(); parent != "m" || label != "2026-03-04" {
		t.Errorf("index %q %q", parent, label)
	}
	kept, err := json.Marshal(got)
	if err != nil {
		t.Fatal(err)
	}
	back := NewComparison("").(*Comparison)
	if err := json.Unmarshal(kept, back); err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(want, back); d != "" {
		t.Errorf("a state that went through JSON: %s", d)
	}
	body, err := json.Marshal(recorded)
	if err != nil {
		t.Fatal(err)
	}
	const stored = `{"meter":"m","strip_lot":"s","on":"2026-03-04","laboratory":"hexokinase","specimen":"venous-plasma","unit":"mmol/L",` +
		`"pairs":[{"reference":"5.43","meter":"5.6"},{"reference":"11.10","meter":"11.1"}],"note":"fasting"}`
	if string(body) != stored { // the record keeps this form for ever
		t.Errorf("the fact is written as %s", body)
	}
}

// The longest comparison that can be made fits an entry, which holds 256 KiB.
func TestComparisonFitsAnEntry(t *testing.T) {
	b := ComparisonRecorded{}
	for range MostPairs {
		b.Pairs = append(b.Pairs, Measured{"1234.123456", "1234.123456"})
	}
	body, err := json.Marshal(b)
	if err != nil || len(body) > 200<<10 {
		t.Errorf("%d bytes, %v", len(body), err)
	}
}
