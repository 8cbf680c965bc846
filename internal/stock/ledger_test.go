package stock

import (
	"fmt"
	"reflect"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"fairstick/internal/civil"
	"fairstick/internal/fact"
)

func moved(id, when string, kind MoveKind, place string, n int) Move {
	return Move{ID: id, At: at(when), Kind: kind, Place: place, N: n}
}

func one(moves []Move, trips ...Trip) Account {
	return Settle([]Item{{Ref: StripLotRef("A"), Expiry: civil.MustParse("2026-12-31"), Moves: moves}}, trips)[0]
}

// sum is both sides of the equality that always holds.
func sum(a Account) (left, right int) {
	return a.Received + a.Found, a.OnHand() + a.AtEvents() + a.Used + a.Disposed + a.Lost
}

func TestLedger(t *testing.T) {
	in := moved("1", "2026-06-01 09:00", WasReceived, "Cupboard", 200)
	out := []Taken{{At: at("2026-06-20 08:00"), N: 100}}
	back := &Taken{At: at("2026-06-20 14:00"), N: 30}
	toVan := Move{ID: "2", At: at("2026-06-02 09:00"), Kind: WasMoved, Place: "cupboard", To: "Van", N: 80}
	for _, x := range []struct {
		name  string
		moves []Move
		trips []Trip
		want  string
	}{
		{"received", []Move{in}, nil, "Cupboard 200; used 0 found 0 lost 0 disposed 0 away 0"},
		{"a place is the same in other letters", []Move{in, toVan}, nil, "Cupboard 120 Van 80; used 0 found 0 lost 0 disposed 0 away 0"},
		{"a count below sets the level", []Move{in, moved("3", "2026-06-03 09:00", WasCounted, "Cupboard", 190)}, nil, "Cupboard 190; used 0 found 0 lost 10 disposed 0 away 0"},
		{"a count above sets the level", []Move{in, moved("3", "2026-06-03 09:00", WasCounted, "Cupboard", 205)}, nil, "Cupboard 205; used 0 found 5 lost 0 disposed 0 away 0"},
		{"disposed", []Move{in, moved("3", "2026-06-03 09:00", WasDisposed, "Cupboard", 50)}, nil, "Cupboard 150; used 0 found 0 lost 0 disposed 50 away 0"},
		{"an open event has what it did not use", []Move{in}, []Trip{{Event: "e", Out: out, Used: 64}}, "Cupboard 100; used 64 found 0 lost 0 disposed 0 away 36"},
		{"counted back", []Move{in}, []Trip{{Event: "e", Out: out, Back: back, Used: 64}}, "Cupboard 130; used 70 found 0 lost 0 disposed 0 away 0"},
		{"an event takes where most lies, then elsewhere, and the last taken comes back", []Move{in, toVan}, []Trip{{Event: "e", Out: []Taken{{At: at("2026-06-20 08:00"), N: 150}}, Back: back}}, "Van 80; used 120 found 0 lost 0 disposed 0 away 0"},
		{"some is taken off again", []Move{in}, []Trip{{Event: "e", Out: append(out, Taken{At: at("2026-06-20 08:05"), N: -40})}}, "Cupboard 140; used 0 found 0 lost 0 disposed 0 away 60"},
		{"never received: found, and without a place afterwards", nil, []Trip{{Event: "e", Out: out, Back: back}}, " 30; used 70 found 100 lost 0 disposed 0 away 0"},
		{"the next count takes in what has no place", []Move{moved("9", "2026-06-21 09:00", WasCounted, "Cupboard", 30)}, []Trip{{Event: "e", Out: out, Back: back}}, "Cupboard 30; used 70 found 100 lost 0 disposed 0 away 0"},
		{"more came back than went", []Move{in}, []Trip{{Event: "e", Out: out, Back: &Taken{At: back.At, N: 104}}}, " 4 Cupboard 200; used 0 found 4 lost 0 disposed 0 away 0"},
		{"more was used than was brought", []Move{in}, []Trip{{Event: "e", Out: out, Used: 103}}, "Cupboard 100; used 103 found 3 lost 0 disposed 0 away 0"},
		{"counted back before the last was brought", []Move{in}, []Trip{{Event: "e", Out: append(out, Taken{At: at("2026-06-20 15:00"), N: 10}), Back: back}}, "Cupboard 120; used 80 found 0 lost 0 disposed 0 away 0"},
	} {
		a := one(x.moves, x.trips...)
		got := ""
		for i, l := range a.Levels {
			if i > 0 {
				got += " "
			}
			got += fmt.Sprintf("%s %d", l.Place, l.N)
		}
		got += fmt.Sprintf("; used %d found %d lost %d disposed %d away %d", a.Used, a.Found, a.Lost, a.Disposed, a.AtEvents())
		if got != x.want {
			t.Errorf("%s:\n got %s\nwant %s", x.name, got, x.want)
		}
		if l, r := sum(a); l != r {
			t.Errorf("%s: %d = %d does not add up", x.name, l, r)
		}
	}
}

// Two boxes of lancets share the trips of events: the one that expires first goes first, and not one that has expired.
func TestFirstExpiredFirstOut(t *testing.T) {
	box := func(id, expiry string, n int) Item {
		it := Item{Ref: SupplyRef(id), Moves: []Move{moved(id, "2026-01-01 09:00", WasReceived, "Cupboard", n)}}
		if expiry != "" {
			it.Expiry = civil.MustParse(expiry)
		}
		return it
	}
	items := []Item{box("none", "", 100), box("late", "2027-06-30", 100), box("soon", "2026-06-20", 40), box("gone", "2026-06-19", 100)}
	got := Settle(items, []Trip{{Event: "e", Out: []Taken{{At: at("2026-06-20 08:00"), N: 120}}, Back: &Taken{At: at("2026-06-20 14:00"), N: 50}}})
	for i, want := range []struct{ hand, used int }{{100, 0}, {70, 30}, {0, 40}, {100, 0}} {
		if got[i].OnHand() != want.hand || got[i].Used != want.used {
			t.Errorf("%s: %d on hand, %d used; want %+v", items[i].Ref.ID, got[i].OnHand(), got[i].Used, want)
		}
	}
}

// Whatever happens in whatever order of arrival, no level falls below nothing, the account adds up, and it is the same.
func TestLedgerAddsUpInAnyOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		places := []string{"Cupboard", "Van", "van", ""}
		moment := func() time.Time {
			return at("2026-06-01 00:00").Add(time.Duration(rapid.IntRange(0, 400).Draw(t, "hour")) * time.Hour)
		}
		items := []Item{{Ref: SupplyRef("a"), Expiry: civil.MustParse("2026-06-10")}, {Ref: SupplyRef("b")}}
		for i := range items {
			for n := range rapid.IntRange(0, 8).Draw(t, "moves") {
				items[i].Moves = append(items[i].Moves, Move{
					ID: fmt.Sprintf("%d-%d", i, n), At: moment(), Kind: rapid.SampledFrom([]MoveKind{WasReceived, WasMoved, WasCounted, WasDisposed}).Draw(t, "kind"),
					Place: rapid.SampledFrom(places).Draw(t, "place"), To: rapid.SampledFrom(places).Draw(t, "to"), N: rapid.IntRange(0, 60).Draw(t, "n"),
				})
			}
		}
		var trips []Trip
		for e := range rapid.IntRange(0, 3).Draw(t, "events") {
			x := Trip{Event: fmt.Sprint("e", e), Used: rapid.IntRange(0, 80).Draw(t, "used")}
			for range rapid.IntRange(1, 3).Draw(t, "loads") {
				x.Out = append(x.Out, Taken{At: moment(), N: rapid.IntRange(-20, 60).Draw(t, "out")})
			}
			if rapid.Bool().Draw(t, "counted back") {
				x.Back = &Taken{At: moment(), N: rapid.IntRange(0, 80).Draw(t, "back")}
			}
			trips = append(trips, x)
		}
		want := Settle(items, trips)
		for i, a := range want {
			if l, r := sum(a); l != r {
				t.Fatalf("item %d: %d = %d does not add up: %+v", i, l, r, a)
			}
			for _, l := range a.Levels {
				if l.N <= 0 {
					t.Fatalf("item %d: a level of %d: %+v", i, l.N, a)
				}
			}
			for _, x := range a.Trips {
				if x.Taken != x.Used+x.Back+x.Away || x.Used < 0 || x.Back < 0 || x.Away < 0 {
					t.Fatalf("item %d: %+v", i, x)
				}
			}
		}
		for i := range items {
			items[i].Moves = rapid.Permutation(items[i].Moves).Draw(t, "arrival")
		}
		if got := Settle(items, rapid.Permutation(trips).Draw(t, "arrival of events")); !sameLevels(got, want) {
			t.Fatalf("another order of arrival gives\n%+v, not\n%+v", got, want)
		}
	})
}

// sameLevels compares accounts; which spelling of a place came first may differ when both came at one moment.
func sameLevels(a, b []Account) bool {
	for i := range a {
		x, y := a[i], b[i]
		x.Levels, y.Levels = folded(x.Levels), folded(y.Levels)
		if !reflect.DeepEqual(x, y) {
			return false
		}
	}
	return len(a) == len(b)
}

func folded(list []Level) []Level {
	out := slices.Clone(list)
	for i := range out {
		out[i].Place = placeKey(out[i].Place)
	}
	return out
}

// The facts of a shelf fold to the same state whatever the order in which they arrive.
func TestShelfFoldsInAnyOrder(t *testing.T) {
	price := int64(1990)
	bodies := []fact.Body{
		StripLotDescribed{Lot: "A", Expiry: civil.MustParse("2026-12-31")},
		Received{Packs: 2, PerPack: 50, Unit: "strips", Price: &price, Currency: "USD", Place: "Cupboard", On: civil.MustParse("2026-05-01")},
		Moved{From: "Cupboard", To: "Van", N: 30},
		Counted{Place: "Van", N: 29, Book: 30},
		Disposed{Place: "Van", N: 4, Reason: "wet"},
		Quarantined{Reason: "wet"},
		Recalled{Source: "maker", Reason: "reads low"},
		Released{Hold: "5", Reason: "dry"},
	}
	var all []fact.Record
	for i, b := range bodies {
		all = append(all, fact.Record{Meta: fact.Meta{ID: fmt.Sprint(i), Node: fmt.Sprint("n", i%2), Seq: uint64(i), Recorded: fmt.Sprintf("%03d", i), At: at("2026-06-01 09:00").Add(time.Duration(i) * time.Hour), By: "p"}, Body: b})
	}
	want := fact.Fold(NewStripLot("x").(*StripLot), all)
	if a := one(want.Shelf.Moves); a.At("Cupboard") != 70 || a.At("van") != 25 || a.Lost != 1 || a.Disposed != 4 {
		t.Errorf("the account is %+v", a)
	}
	if m := want.Shelf.Moves[0]; m.At != at("2026-05-01 00:00") {
		t.Errorf("a receipt typed later stands at %s, not on its day", m.At)
	}
	rapid.Check(t, func(t *rapid.T) {
		got := fact.Fold(NewStripLot("x").(*StripLot), rapid.Permutation(all).Draw(t, "arrival"))
		if !reflect.DeepEqual(got, want) {
			t.Fatalf("folded to %+v", got)
		}
	})
}

func TestHolds(t *testing.T) {
	s := NewSupply("s").(*Supply)
	put := func(id, when string, b fact.Body) {
		s.Apply(fact.Record{Meta: fact.Meta{ID: id, At: at(when)}, Body: b})
	}
	held := func(when string) string {
		if h := s.Shelf.Held(at(when)); h != nil {
			return h.Says()
		}
		return ""
	}
	put("q", "2026-06-01 10:00", Quarantined{Reason: "wet"})
	put("r", "2026-06-02 10:00", Recalled{Source: "maker", Reason: "reads low"})
	put("x", "2026-06-03 10:00", Released{Hold: "q", Reason: "dry"})
	for when, want := range map[string]string{
		"2026-06-01 09:59": "", "2026-06-01 10:00": "in quarantine: wet", "2026-06-02 11:00": "recalled by maker: reads low",
		"2026-06-04 10:00": "recalled by maker: reads low", // the release named the quarantine alone
	} {
		if got := held(when); got != want {
			t.Errorf("%s: %q, want %q", when, got, want)
		}
	}
	put("y", "2026-06-05 10:00", Released{Hold: "r", Reason: "another lot"})
	if held("2026-06-05 10:00") != "" || s.Shelf.Standing() != nil || held("2026-06-04 10:00") == "" {
		t.Error("the release of the recall holds from its moment on")
	}
}

func receipt(on string, packs, per int, price int64, currency string) Move {
	b := &Received{Packs: packs, PerPack: per, Price: &price, Currency: currency, On: civil.MustParse(on)}
	return Move{ID: on + currency, Kind: WasReceived, At: at(on + " 09:00"), N: b.Pieces(), Receipt: b}
}

// 2 packs of 50 at 19.00 and 3 of 50 at 20.50: the latest strip cost 0.41, a mean one (38.00 + 61.50) / 250 = 0.398 (computed by hand).
func TestPrice(t *testing.T) {
	moves := []Move{receipt("2026-09-18", 3, 50, 2050, "USD"), receipt("2026-08-14", 2, 50, 1900, "USD"), receipt("2026-08-01", 1, 50, 900, "EUR"), {Kind: WasReceived, N: 50, Receipt: &Received{Packs: 1, PerPack: 50, On: civil.MustParse("2026-10-01")}}}
	p, ok := PriceOf(moves)
	if !ok || p.Latest != 41 || p.Mean != 39.8 || p.Currency != "USD" || p.On != civil.MustParse("2026-09-18") {
		t.Errorf("%+v", p)
	}
	if p.Worth(10) != 398 || Money(p.Worth(10), p.Currency) != "3.98 USD" || Piece(p.Mean, "USD") != "0.3980 USD" {
		t.Errorf("worth %d", p.Worth(10))
	}
	if _, ok := PriceOf(moves[3:]); ok {
		t.Error("a receipt without a price has one")
	}
	if gift, ok := PriceOf([]Move{receipt("2026-09-18", 3, 50, 0, "USD")}); !ok || gift.Mean != 0 {
		t.Error("a gift costs 0")
	}
	for text, want := range map[string]int64{"19.50": 1950, "19,5": 1950, "0": 0, "7": 700, "1000000": 100000000} {
		if n, err := ParseMoney(text, "USD"); err != nil || n != want {
			t.Errorf("%q: %d, %v", text, n, err)
		}
	}
	for _, bad := range []string{"", "-1", "1e3", "1.999", "1,000.00", "nine", ".5", "1 000", "12345678901"} {
		if n, err := ParseMoney(bad, "USD"); err == nil {
			t.Errorf("%q was read as %d", bad, n)
		}
	}
	if n, err := ParseMoney("1900", "JPY"); err != nil || n != 1900 || Money(n, "JPY") != "1900 JPY" {
		t.Errorf("yen have no decimals: %d, %v", n, err)
	}
	if _, err := ParseMoney("19.5", "JPY"); err == nil {
		t.Error("half a yen was accepted")
	}
}

func TestOrders(t *testing.T) {
	rate := Rate{Use: UseStrips, Name: "Strips", Unit: "strips", Per100: 140}
	for expected, want := range map[int]int{-5: 0, 0: 0, 1: 2, 40: 56, 90: 126, 100: 140} {
		if got := rate.For(expected); got != want {
			t.Errorf("for %d: %d, want %d", expected, got, want)
		}
	}
	events := []Demand{
		{Event: "late", Name: "Late Fair", Date: civil.MustParse("2026-09-01"), Expected: 100},
		{Event: "soon", Name: "Soon Fair", Date: civil.MustParse("2026-07-01"), Expected: 50},
	}
	batch := func(id, expiry string, n int) Batch {
		return Batch{Item: StripLotRef(id), Use: UseStrips, Expiry: civil.MustParse(expiry), N: n}
	}
	for _, x := range []struct {
		name            string
		have            []Batch
		usable, missing int
		first           string
	}{
		{"nothing on hand", nil, 0, 210, "Soon Fair"},
		{"enough", []Batch{batch("a", "2026-12-31", 210)}, 210, 0, ""},
		{"the day of expiry counts", []Batch{batch("a", "2026-09-01", 210)}, 210, 0, ""},
		{"what expires between serves the first alone", []Batch{batch("a", "2026-08-31", 200), batch("b", "2026-12-31", 100)}, 300, 40, "Late Fair"},
		{"the earliest expiry goes first", []Batch{batch("b", "2026-12-31", 140), batch("a", "2026-08-31", 70)}, 210, 0, ""},
	} {
		o := Orders([]Rate{rate}, events, x.have)[0]
		if o.Need != 210 || o.Usable != x.usable || o.Missing != x.missing || o.First != x.first {
			t.Errorf("%s: %+v", x.name, o)
		}
	}
	if events[0].Event != "late" {
		t.Error("the events were put in another order in place")
	}
	for _, r := range Rates {
		if got, ok := RateOf(r.Use); !ok || got.Name != r.Name || r.Per100 <= 0 || r.Why == "" || r.Unit == "" {
			t.Errorf("rate %+v", r)
		}
	}
}
