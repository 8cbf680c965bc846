package cli

import (
	"testing"

	"fairstick/internal/fault"
)

// FuzzPlanWords types anything behind --price and --gloves.
func FuzzPlanWords(f *testing.F) {
	for _, x := range [][2]string{{"strips=24.50/50", "S=2,M=3,L=1"}, {"strips=24", "M=500"}, {"=1/1", "=1"}, {"a=1.234", "M=-1"}, {"a=1/0", "M=501"}, {"a=99999999999999999999", ","}, {"a=1.5/9223372036854775808", "M=1e1"}, {"strips", ""}} {
		f.Add(x[0], x[1])
	}
	f.Fuzz(func(t *testing.T, price, gloves string) {
		packs, err := parsePrices([]string{price})
		if err != nil && !fault.Is(err, "plan-price") {
			t.Errorf("%q is refused as %v", price, err)
		}
		for item, p := range packs {
			if item == "" || p.Cents < 0 || p.Size < 0 {
				t.Errorf("%q is read as %q %+v", price, item, p)
			}
		}
		sizes, err := parseGloves(gloves)
		if err != nil && !fault.Is(err, "plan-gloves") {
			t.Errorf("%q is refused as %v", gloves, err)
		}
		for _, s := range sizes {
			if s.Size == "" || s.People < 0 || s.People > 500 {
				t.Errorf("%q is read as %+v", gloves, s)
			}
		}
	})
}
