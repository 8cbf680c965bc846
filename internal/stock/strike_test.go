package stock

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"fairstick/internal/civil"
)

func TestWithoutOneMove(t *testing.T) {
	in := moved("in", "2026-06-01 09:00", WasReceived, "Cupboard", 100)
	twice := moved("twice", "2026-06-01 09:05", WasReceived, "Cupboard", 100)
	toVan := Move{ID: "van", At: at("2026-06-02 09:00"), Kind: WasMoved, Place: "Cupboard", To: "Van", N: 30}
	toss := moved("toss", "2026-06-03 09:00", WasDisposed, "Van", 20)
	count := moved("count", "2026-06-04 09:00", WasCounted, "Cupboard", 100)
	trip := Trip{Event: "fair", Out: []Taken{{At: at("2026-06-20 08:00"), N: 60}}, Back: &Taken{At: at("2026-06-20 14:00"), N: 10}}
	for _, x := range []struct {
		name   string
		moves  []Move
		trips  []Trip
		strike string
		want   string
	}{
		{"a receipt that nothing used", []Move{in}, nil, "in", "hand 0 found 0 lost 0 lacks []"},
		{"typed twice, and the count had seen it", []Move{in, twice, count}, nil, "twice", "hand 100 found 0 lost 0 lacks []"},
		{"moved on", []Move{in, toVan}, nil, "in", "hand 30 found 30 lost 0 lacks [{van  Cupboard 30}]"},
		{"another receipt stands for it", []Move{in, twice, toVan}, nil, "in", "hand 100 found 0 lost 0 lacks []"},
		{"an event took it", []Move{in}, []Trip{trip}, "in", "hand 10 found 60 lost 0 lacks [{ fair  60}]"},
		{"a move whose pieces were thrown away there", []Move{in, toVan, toss}, nil, "van", "hand 100 found 20 lost 0 lacks [{toss  Van 20}]"},
		{"the disposal", []Move{in, toVan, toss}, nil, "toss", "hand 100 found 0 lost 0 lacks []"},
		{"a count that found what was never received", []Move{count}, nil, "count", "hand 0 found 0 lost 0 lacks []"},
		{"nothing of that name", []Move{in}, nil, "other", "hand 100 found 0 lost 0 lacks []"},
		{"it lacked before, and lacks no more than before", []Move{toVan, twice}, nil, "other", "hand 100 found 0 lost 0 lacks []"},
	} {
		s := Without([]Item{{Ref: SupplyRef("A"), Moves: x.moves}}, x.trips, 0, x.strike)
		if got := fmt.Sprintf("hand %d found %d lost %d lacks %v", s.Now.OnHand(), s.Now.Found, s.Now.Lost, s.Lacks); got != x.want {
			t.Errorf("%s: %s, want %s", x.name, got, x.want)
		}
	}
}

// What one box lacked, the other box of the same account gives: nothing is missing while another box has it.
func TestWithoutLooksAtTheWholeAccount(t *testing.T) {
	one := Item{Ref: SupplyRef("1"), Expiry: civil.MustParse("2026-07-31"), Moves: []Move{moved("a", "2026-06-01 09:00", WasReceived, "Cupboard", 50)}}
	two := Item{Ref: SupplyRef("2"), Expiry: civil.MustParse("2027-07-31"), Moves: []Move{moved("b", "2026-06-01 09:00", WasReceived, "Cupboard", 50)}}
	trip := []Trip{{Event: "fair", Out: []Taken{{At: at("2026-06-20 08:00"), N: 40}}}}
	if s := Without([]Item{one, two}, trip, 0, "a"); len(s.Lacks) != 0 || s.Now.OnHand() != 0 || s.Was.OnHand() != 10 {
		t.Errorf("%+v", s)
	}
	trip[0].Out[0].N = 70
	if s := Without([]Item{one, two}, trip, 1, "b"); len(s.Lacks) != 1 || s.Lacks[0].N != 20 || s.Lacks[0].Event != "fair" {
		t.Errorf("%+v", s.Lacks)
	}
}

// Striking a move and doing without it from the beginning is the same, and the equality holds on both sides.
func TestWithoutIsAsIfItNeverHappened(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		kinds := []MoveKind{WasReceived, WasMoved, WasCounted, WasDisposed}
		var moves []Move
		for i := range rapid.IntRange(1, 8).Draw(t, "moves") {
			m := moved(fmt.Sprint(i), "2026-06-01 09:00", rapid.SampledFrom(kinds).Draw(t, "kind"), rapid.SampledFrom([]string{"A", "B"}).Draw(t, "place"), rapid.IntRange(0, 30).Draw(t, "n"))
			m.At = m.At.Add(time.Duration(i) * time.Minute)
			if m.To = "B"; m.Place == "B" {
				m.To = "A"
			}
			moves = append(moves, m)
		}
		gone := rapid.IntRange(0, len(moves)-1).Draw(t, "gone")
		s := Without([]Item{{Ref: SupplyRef("A"), Moves: moves}}, nil, 0, moves[gone].ID)
		never := one(slices.Delete(slices.Clone(moves), gone, gone+1))
		if fmt.Sprint(s.Now) != fmt.Sprint(never) {
			t.Fatalf("%+v, want %+v", s.Now, never)
		}
		for _, a := range []Account{s.Was, s.Now} {
			if l, r := sum(a); l != r {
				t.Fatalf("%d = %d in %+v", l, r, a)
			}
		}
	})
}
