package plan

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

func TestCountQuantilesAgainstKnown(t *testing.T) {
	var ref struct {
		Inputs struct {
			Poisson [][2]float64
			NegBin  [][3]float64
		}
		Expected struct{ Poisson, NegBin []float64 }
	}
	load(t, "demand_quantiles_f", &ref)
	if len(ref.Inputs.Poisson) < 16 || len(ref.Inputs.NegBin) < 12 {
		t.Fatalf("%d and %d cases", len(ref.Inputs.Poisson), len(ref.Inputs.NegBin))
	}
	for i, c := range ref.Inputs.Poisson {
		if got := (Counts{Mean: c[0]}).Quantile(c[1]); got != ref.Expected.Poisson[i] {
			t.Errorf("Poisson %v: %v, want %v", c, got, ref.Expected.Poisson[i])
		}
	}
	for i, c := range ref.Inputs.NegBin {
		if got := (Counts{c[0], c[1]}).Quantile(c[2]); got != ref.Expected.NegBin[i] {
			t.Errorf("negative binomial %v: %v, want %v", c, got, ref.Expected.NegBin[i])
		}
	}
}

func TestShortageAgainstKnown(t *testing.T) {
	var ref struct {
		Inputs   struct{ Cases [][3]*float64 }
		Expected struct {
			Rows []struct {
				Stockout float64 `json:"p_stockout"`
				Short    float64 `json:"expected_short"`
				Left     float64 `json:"expected_left"`
			}
		}
	}
	load(t, "demand_shortage", &ref)
	if len(ref.Inputs.Cases) < 4 {
		t.Fatalf("%d cases", len(ref.Inputs.Cases))
	}
	for i, c := range ref.Inputs.Cases {
		d := Counts{Mean: *c[0]}
		if c[1] != nil {
			d.Size = *c[1]
		}
		got, err := d.Shortage(int(*c[2]))
		want := ref.Expected.Rows[i]
		if err != nil || !near(got.Stockout, want.Stockout, 1e-8) || !near(got.Short, want.Short, 1e-8) || !near(got.Left, want.Left, 1e-8) {
			t.Errorf("%+v with %v: %+v, %v; want %+v", d, *c[2], got, err, want)
		}
	}
}

func TestNewsvendorAgainstPublished(t *testing.T) {
	type demand struct {
		Dist                          string
		Mean, SD, A, B, Median, Sigma float64
	}
	type example struct {
		Short  float64 `json:"cu"`
		Over   float64 `json:"co"`
		Price  float64
		Cost   float64
		Ratio  float64
		Demand demand
	}
	var ref struct {
		Inputs   map[string]example
		Expected map[string]struct{ Q, Published float64 }
	}
	load(t, "newsvendor_published", &ref)
	if len(ref.Inputs) < 4 {
		t.Fatalf("%d examples", len(ref.Inputs))
	}
	for name, x := range ref.Inputs {
		if x.Short == 0 {
			x.Short, x.Over = x.Price-x.Cost, x.Cost
		}
		d := map[string]Demand{
			"normal": Normal{x.Demand.Mean, x.Demand.SD}, "uniform": Even{x.Demand.A, x.Demand.B}, "lognormal": LogNormalDemand{x.Demand.Median, x.Demand.Sigma},
		}[x.Demand.Dist]
		q, ratio, err := Newsvendor(d, x.Short, x.Over)
		want := ref.Expected[name]
		if err != nil || !near(q, want.Q, 1e-6) || !near(ratio, x.Ratio, 1e-12) {
			t.Errorf("%s: %v, %v, %v; want %v", name, q, ratio, err, want.Q)
		}
		if !relative(q, want.Published, 0.01) {
			t.Errorf("%s: %v; published %v", name, q, want.Published)
		}
	}
}

func TestRetestedAgainstKnown(t *testing.T) {
	var ref struct {
		Inputs struct {
			N        int
			Rate     float64   `json:"retest_rate"`
			Controls int       `json:"control_tests"`
			P        []float64 `json:"p"`
		}
		Expected struct {
			Mean      float64
			Quantiles []float64
		}
	}
	load(t, "strip_demand_binomial", &ref)
	r := Retested{ref.Inputs.N, ref.Inputs.Rate, ref.Inputs.Controls}
	if !near(r.Mean(), ref.Expected.Mean, 1e-9) || len(ref.Inputs.P) < 4 {
		t.Errorf("mean %v, want %v", r.Mean(), ref.Expected.Mean)
	}
	for i, p := range ref.Inputs.P {
		if got := r.Quantile(p); got != ref.Expected.Quantiles[i] {
			t.Errorf("quantile %v: %v, want %v", p, got, ref.Expected.Quantiles[i])
		}
	}
	// What is drawn day by day has about the same quantiles.
	rng, days := source(4), make([]int, 20000)
	for i := range days {
		days[i] = r.Tests + binomial(r.Tests, r.Share, rng) + r.Fixed
	}
	for i, p := range ref.Inputs.P {
		if got := NewSeen(days).Quantile(p); !near(got, ref.Expected.Quantiles[i], 1) {
			t.Errorf("drawn quantile %v: %v, want %v", p, got, ref.Expected.Quantiles[i])
		}
	}
	if (Retested{10, 0, 3}).Quantile(0.95) != 13 || (Retested{10, 1, 0}).Quantile(0.5) != 20 || !math.IsNaN(Retested{-1, 0, 0}.Quantile(0.5)) || !math.IsNaN(r.Quantile(1)) {
		t.Error("the ends are not right")
	}
}

func TestDemandHolds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := Counts{Mean: rapid.OneOf(rapid.Float64Range(0, 800), rapid.Float64Range(0, 1e-3)).Draw(t, "mean")}
		if rapid.Bool().Draw(t, "scattered") {
			d.Size = rapid.OneOf(rapid.Float64Range(0.5, 100), rapid.Float64Range(1e3, 1e12)).Draw(t, "size")
		}
		p := rapid.Float64Range(0.001, 0.998).Draw(t, "p")
		more := rapid.Float64Range(p, 0.999).Draw(t, "more")
		low, high := d.Quantile(p), d.Quantile(more)
		if !(low <= high) {
			t.Fatalf("%v%% needs %v, %v%% needs %v", p, low, more, high)
		}
		s, err := d.Shortage(int(low))
		if err != nil || s.Stockout > 1-p+1e-9 || !near(s.Short-s.Left, d.Mean-low, 1e-6*(1+d.Mean)) {
			t.Fatalf("%+v, %v", s, err)
		}
		if low > 0 {
			if less, err := d.Shortage(int(low) - 1); err != nil || less.Stockout < 1-p-1e-9 {
				t.Fatalf("one fewer than %v suffices too: %+v, %v", low, less, err)
			}
		}
	})
}

func TestDemandRefuses(t *testing.T) {
	nan := math.NaN()
	for _, d := range []Counts{{-1, 0}, {nan, 0}, {math.Inf(1), 0}, {5, -1}, {5, nan}, {5, 1e-9}, {1e9, 0}} {
		if got := d.Quantile(0.9); !math.IsNaN(got) {
			t.Errorf("%+v has the quantile %v", d, got)
		}
		if _, err := d.Shortage(3); err == nil {
			t.Errorf("%+v has a shortage", d)
		}
		if _, _, err := Newsvendor(d, 1, 1); err == nil {
			t.Errorf("something was chosen for %+v", d)
		}
	}
	if _, err := (Counts{5, 0}).Shortage(-1); err == nil {
		t.Error("a negative stock was accepted")
	}
	if _, _, err := Newsvendor(Normal{5, 1}, 0, 1); err == nil {
		t.Error("a missing piece that costs nothing was accepted")
	}
	if got := (Counts{3.5e-307, 100}).Quantile(0.998); got != 0 {
		t.Errorf("of next to nothing %v are needed", got)
	}
	if got := (Counts{}).Quantile(0.99); got != 0 {
		t.Errorf("of nothing %v are needed", got)
	}
	if got := (Seen{}).Quantile(0.9); got != 0 {
		t.Errorf("without days %v are needed", got)
	}
	if _, err := BestPacks(nil, Pack{10, 5}, 3); err == nil {
		t.Error("packs were chosen without days")
	}
	for _, packs := range [][]Pack{nil, {{0, 5}}, {{5, -1}}} {
		if _, _, err := CheapestPacks(5, packs); err == nil {
			t.Errorf("%v was packed", packs)
		}
	}
}

func TestPacksHold(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		need, size := rapid.IntRange(0, 2000).Draw(t, "need"), rapid.IntRange(1, 300).Draw(t, "size")
		n := Packs(need, size)
		if n*size < need || (n-1)*size >= need && need > 0 {
			t.Fatalf("%d packs of %d for %d", n, size, need)
		}
		// One size is bought as Packs says; several never cost more than the best of them alone, cover the need, and waste less than a pack.
		a := Pack{size, rapid.IntRange(1, 60).Draw(t, "cents")}
		b := Pack{rapid.IntRange(1, 300).Draw(t, "other"), rapid.IntRange(1, 60).Draw(t, "other cents")}
		counts, cents, err := CheapestPacks(need, []Pack{a})
		if err != nil || cents != n*a.Cents || counts[0] != n {
			t.Fatalf("%v, %d, %v; want %d packs", counts, cents, err, n)
		}
		both, least, err := CheapestPacks(need, []Pack{a, b})
		if err != nil || least > cents || least > Packs(need, b.Size)*b.Cents || both[0]*a.Size+both[1]*b.Size < need || both[0]*a.Cents+both[1]*b.Cents != least {
			t.Fatalf("%v, %d, %v", both, least, err)
		}
		// All ways, counted.
		for i := 0; i <= n; i++ {
			j := Packs(need-i*a.Size, b.Size)
			price, pieces := i*a.Cents+j*b.Cents, i*a.Size+j*b.Size
			if price < least || price == least && pieces < both[0]*a.Size+both[1]*b.Size {
				t.Fatalf("%d and %d packs of %d and %d cost %d, found %v for %d", i, j, a.Size, b.Size, price, both, least)
			}
		}
	})
}

// Two sizes at one price: 60 pieces come as one of 50 and one of 10, not as two of 50.
func TestCheapestPacksWastesTheLeast(t *testing.T) {
	counts, cents, err := CheapestPacks(60, []Pack{{50, 5}, {10, 5}})
	if err != nil || cents != 10 || !slices.Equal(counts, []int{1, 1}) {
		t.Errorf("%v for %d, %v", counts, cents, err)
	}
}

// Packs chosen by cost are the newsvendor's when a pack holds one piece.
func TestBestPacksIsTheNewsvendor(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		days := NewSeen(rapid.SliceOfN(rapid.IntRange(0, 60), 1, 60).Draw(t, "days"))
		price, short := rapid.IntRange(1, 50).Draw(t, "price"), rapid.IntRange(1, 50).Draw(t, "short")
		n, err := BestPacks(days, Pack{1, price}, float64(short))
		if err != nil {
			t.Fatal(err)
		}
		want := 0
		if short > price { // a missing piece costs short, of which its price is saved
			q, _, err := Newsvendor(days, float64(short-price), float64(price))
			if err != nil {
				t.Fatal(err)
			}
			want = int(q)
		}
		cost := func(q int) float64 { return float64(q*price) + days.Cost(q, float64(short), 0) }
		if n > 0 && cost(n-1) <= cost(n) {
			t.Fatalf("%d pieces cost %v, one fewer %v", n, cost(n), cost(n-1))
		}
		if !near(cost(n), cost(want), 1e-9) {
			t.Fatalf("%d pieces cost %v, the newsvendor's %d %v", n, cost(n), want, cost(want))
		}
	})
}

func TestFirstExpiredAgainstKnown(t *testing.T) {
	var ref struct {
		Inputs struct {
			Lots []struct {
				ID      string
				Qty     int
				Expiry  int `json:"expiry_day"`
				Arrives int `json:"arrives_day"`
			}
			Demand []int `json:"daily_demand"`
		}
		Expected struct {
			Issues, Expired [][3]any
			Short           [][2]int
			Left            map[string]int
		}
	}
	load(t, "fefo_f", &ref)
	var lots []Lot
	for _, l := range ref.Inputs.Lots {
		lots = append(lots, Lot{ID: l.ID, Quantity: l.Qty, Expires: l.Expiry, Arrives: l.Arrives})
	}
	got, err := FirstExpired(lots, ref.Inputs.Demand)
	if err != nil {
		t.Fatal(err)
	}
	moves := func(rows [][3]any) []Move {
		var all []Move
		for _, r := range rows {
			all = append(all, Move{int(r[0].(float64)), r[1].(string), int(r[2].(float64))})
		}
		return all
	}
	if want := moves(ref.Expected.Issues); len(want) == 0 || !slices.Equal(got.Issues, want) {
		t.Errorf("issues %v, want %v", got.Issues, want)
	}
	if want := moves(ref.Expected.Expired); !slices.Equal(got.Expired, want) {
		t.Errorf("expired %v, want %v", got.Expired, want)
	}
	for _, s := range ref.Expected.Short {
		if got.Short[s[0]] != s[1] {
			t.Errorf("short %v, want %v", got.Short, ref.Expected.Short)
		}
	}
	if len(got.Short) != len(ref.Expected.Short) {
		t.Errorf("short %v, want %v", got.Short, ref.Expected.Short)
	}
	for _, m := range got.Left {
		if m.Quantity != ref.Expected.Left[m.Lot] {
			t.Errorf("left %v, want %v", got.Left, ref.Expected.Left)
		}
	}
}

// By hand: a vial of 10 that may be used for 2 days after the day of opening. Day 1 opens one (7 left, last day 3), day 3 finishes it and opens
// another (last day 5); on day 6 its rest is written off and a third is opened.
func TestFirstExpiredInUse(t *testing.T) {
	lots := []Lot{{ID: "A", Quantity: 30, Arrives: 1, Expires: 20, Vial: 10, InUse: 2}, {ID: "B", Quantity: 4, Arrives: 1, Expires: 9, Opened: true, OpenedOn: 1, InUse: 1, Vial: 10}}
	got, err := FirstExpired(lots, []int{5, 2, 8, 0, 0, 1})
	if err != nil {
		t.Fatal(err)
	}
	// Day 1: the open vial of B (last day 2) gives 4, a new vial of A 1. Day 2: A gives 2. Day 3: A's 7 and 1 of the next.
	if want := []Move{{1, "B", 4}, {1, "A", 1}, {2, "A", 2}, {3, "A", 8}, {6, "A", 1}}; !slices.Equal(got.Issues, want) {
		t.Errorf("issues %v, want %v", got.Issues, want)
	}
	if want := []Move{{6, "A", 9}}; !slices.Equal(got.Expired, want) {
		t.Errorf("expired %v, want %v", got.Expired, want)
	}
	if want := []Move{{6, "A", 9}, {6, "B", 0}}; !slices.Equal(got.Left, want) {
		t.Errorf("left %v, want %v", got.Left, want)
	}
	if lots[0].Quantity != 30 {
		t.Error("the lots were changed")
	}
	for _, bad := range [][]Lot{{{ID: "A", Quantity: -1}}, {{ID: "A"}, {ID: "A"}}, {{ID: "A", Vial: -1}}} {
		if _, err := FirstExpired(bad, []int{1}); err == nil {
			t.Errorf("%+v was accepted", bad)
		}
	}
	if _, err := FirstExpired(lots, []int{-1}); err == nil {
		t.Error("a negative demand was accepted")
	}
}

// Nothing is used after its last day or before it arrives, nothing is lost, and nothing is short while something usable is left.
func TestFirstExpiredHolds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var lots []Lot
		for i := range rapid.IntRange(0, 6).Draw(t, "lots") {
			l := Lot{ID: string(rune('A' + i)), Quantity: rapid.IntRange(0, 60).Draw(t, "quantity"), Arrives: rapid.IntRange(1, 8).Draw(t, "arrives"), Expires: rapid.IntRange(1, 14).Draw(t, "expires")}
			if rapid.Bool().Draw(t, "vials") {
				l.Vial, l.InUse = rapid.IntRange(1, 20).Draw(t, "vial"), rapid.IntRange(1, 4).Draw(t, "in use")
				if l.Opened = rapid.Bool().Draw(t, "opened"); l.Opened {
					l.OpenedOn = rapid.IntRange(-3, 1).Draw(t, "opened on")
				}
			}
			lots = append(lots, l)
		}
		demand := rapid.SliceOfN(rapid.IntRange(0, 40), 0, 12).Draw(t, "demand")
		got, err := FirstExpired(lots, demand)
		if err != nil {
			t.Fatal(err)
		}
		byID := map[string]Lot{}
		sum := map[string]int{}
		for _, l := range lots {
			byID[l.ID] = l
		}
		issued := make([]int, len(demand)+1)
		for _, m := range got.Issues {
			l := byID[m.Lot]
			if m.Day > l.last() || m.Day < l.Arrives || m.Quantity < 1 {
				t.Fatalf("%+v of %+v", m, l)
			}
			issued[m.Day] += m.Quantity
			sum[m.Lot] += m.Quantity
		}
		for i, want := range demand {
			if issued[i+1]+got.Short[i+1] != want {
				t.Fatalf("day %d: %d issued and %d short of %d", i+1, issued[i+1], got.Short[i+1], want)
			}
		}
		for _, m := range slices.Concat(got.Expired, got.Left) {
			sum[m.Lot] += m.Quantity
		}
		for id, l := range byID {
			if sum[id] != l.Quantity {
				t.Fatalf("%d of %d in lot %s are accounted for", sum[id], l.Quantity, id)
			}
		}
		if last := len(demand); got.Short[last] > 0 {
			for _, m := range got.Left {
				if l := byID[m.Lot]; m.Quantity > 0 && l.Arrives <= last && l.last() >= last {
					t.Fatalf("short by %d while %d of %s are left", got.Short[last], m.Quantity, m.Lot)
				}
			}
		}
	})
}
