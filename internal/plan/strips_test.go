package plan

import (
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// Larkfield by hand: M1 to M4 on lot A with both levels, one repeat, a spare with both: 11; lot A has 8 + 50, lot B two vials. 79 strips go to people.
// With five meters cleared at opening the rule gives 10 and the repeat 1; lot B is then cleared on the four that are in use, but the rule clears all
// five: two strips more than the day used.
func TestStripsOfLarkfield(t *testing.T) {
	stock := StripStock{Meters: 5, Day: 1, Lots: []Lot{
		{ID: "B", Quantity: 100, Arrives: 1, Expires: 300, Vial: 50},
		{ID: "A", Quantity: 50, Arrives: 1, Expires: 200, Vial: 50},
		{ID: "A open", Of: "A", Quantity: 8, Arrives: 1, Expires: 200, Opened: true, OpenedOn: -10, InUse: 90},
	}}
	u, err := DefaultControls.Strips(79, 1, stock)
	if err != nil {
		t.Fatal(err)
	}
	if u.People != 79 || u.Controls != 21 || u.Changes != 1 || u.Short != 0 || u.Vials != 3 || !slices.Equal(u.Lots, []Move{{1, "A", 58}, {1, "B", 42}}) {
		t.Errorf("%+v", u)
	}
	if want := []Take{{"A open", 1, 8}, {"A", 1, 50}, {"B", 1, 42}}; !slices.Equal(u.Takes, want) {
		t.Errorf("taken %+v, want %+v", u.Takes, want)
	}
	stock.Meters = 4 // as many as stayed in use
	if u, err = DefaultControls.Strips(79, 3, stock); err != nil || u.Total() != 98 || !slices.Equal(u.Lots, []Move{{1, "A", 58}, {1, "B", 40}}) {
		t.Errorf("%+v, %v; the day used 98 strips, 58 of lot A and 40 of lot B", u, err)
	}
	for _, x := range []struct {
		people, controls, vials, short int
		c                              Controls
		s                              StripStock
	}{
		{30, 8, 1, 0, DefaultControls, StripStock{Meters: 4, Vial: 50}},
		{30, 16, 1, 0, Controls{Levels: 2, LotChanges: 1}, StripStock{Meters: 4, Vial: 50}},
		{80, 10, 2, 0, Controls{Levels: 2, PerVial: true}, StripStock{Meters: 4, Vial: 50}}, // the second vial is checked on one meter
		{91, 12, 3, 0, Controls{Levels: 2, PerVial: true}, StripStock{Meters: 4, Vial: 50}}, // its two strips ask for a third vial
		{100, 10, 2, 10, Controls{Levels: 2, PerVial: true}, StripStock{Meters: 4, Lots: []Lot{{ID: "A", Quantity: 100, Expires: 5, Vial: 50}}}},
		{10, 4, 1, 0, DefaultControls, StripStock{Meters: 2, Lots: []Lot{{ID: "A", Quantity: 4, Expires: 5}, {ID: "B", Quantity: 60, Expires: 9}}}},                                      // A only clears
		{10, 4, 0, 14, DefaultControls, StripStock{Meters: 2, Day: 6, Lots: []Lot{{ID: "A", Quantity: 40, Expires: 5}}}},                                                                 // expired
		{5, 8, 2, 0, DefaultControls, StripStock{Meters: 4, Lots: []Lot{{ID: "A", Quantity: 50, Expires: 5, Vial: 50}, {ID: "A open", Of: "A", Quantity: 8, Expires: 5, Opened: true}}}}, // the open vial first
	} {
		u, err := x.c.Strips(x.people, 0, x.s)
		if err != nil || u.Controls != x.controls || u.Vials != x.vials || u.Short != x.short || u.People != x.people {
			t.Errorf("%+v: %+v, %v", x, u, err)
		}
	}
	for _, bad := range []struct {
		people int
		c      Controls
		s      StripStock
	}{{-1, DefaultControls, StripStock{Vial: 50}}, {1, DefaultControls, StripStock{}}, {1, Controls{Levels: 9}, StripStock{Vial: 50}}, {1, DefaultControls, StripStock{Lots: []Lot{{ID: "A"}, {ID: "A"}}}}} {
		if _, err := bad.c.Strips(bad.people, 0, bad.s); err == nil {
			t.Errorf("%+v was accepted", bad)
		}
	}
}

// More people never need fewer strips, and what the lots give and lack is what is needed.
func TestStripsHold(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := Controls{Levels: rapid.IntRange(0, 3).Draw(t, "levels"), PerVial: rapid.Bool().Draw(t, "per vial"), LotChanges: rapid.IntRange(0, 2).Draw(t, "changes")}
		s := StripStock{Meters: rapid.IntRange(1, 8).Draw(t, "meters"), Vial: rapid.IntRange(10, 60).Draw(t, "vial"), Day: 3}
		for i := range rapid.IntRange(0, 4).Draw(t, "lots") {
			s.Lots = append(s.Lots, Lot{ID: string(rune('A' + i)), Quantity: rapid.IntRange(0, 150).Draw(t, "quantity"), Expires: rapid.IntRange(1, 9).Draw(t, "expires"), Vial: 25})
		}
		people, repeats := rapid.IntRange(0, 200).Draw(t, "people"), rapid.IntRange(0, 5).Draw(t, "repeats")
		u, err := c.Strips(people, repeats, s)
		if err != nil {
			t.Fatal(err)
		}
		more, err := c.Strips(people+1, repeats, s)
		if err != nil || more.Total() < u.Total()+1 {
			t.Fatalf("%+v, with one more %+v, %v", u, more, err)
		}
		given := 0
		for _, m := range u.Lots {
			given += m.Quantity
			for _, l := range s.Lots {
				if l.ID == m.Lot && (l.Expires < s.Day || m.Quantity > l.Quantity) {
					t.Fatalf("%+v of %+v", m, l)
				}
			}
		}
		taken := 0
		for _, k := range u.Takes {
			taken += k.Strips
			if k.Vials < 1 {
				t.Fatalf("%+v takes no vial", k)
			}
		}
		if taken != given {
			t.Fatalf("%d taken from entries, %d from lots", taken, given)
		}
		if len(s.Lots) > 0 && given+u.Short != u.Total() {
			t.Fatalf("%d given and %d short of %d", given, u.Short, u.Total())
		}
		if len(s.Lots) == 0 && u.Vials*s.Vial < u.Total() {
			t.Fatalf("%d vials of %d for %d", u.Vials, s.Vial, u.Total())
		}
	})
}
