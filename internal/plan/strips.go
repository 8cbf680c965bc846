package plan

import (
	"slices"
)

// Controls says when control solution is run, which uses strips too.
type Controls struct {
	Levels     int     `json:"levels"`      // on each meter at opening and with each new lot
	PerVial    bool    `json:"per_vial"`    // the insert also asks for each new vial
	LotChanges int     `json:"lot_changes"` // during the event, when no lots are given
	Repeats    float64 `json:"repeats"`     // share of control runs that is repeated
}

// DefaultControls is two levels at opening and with a new lot (common practice; the insert wins), and 10 % repeats (common practice).
var DefaultControls = Controls{Levels: 2, Repeats: 0.10}

func (c Controls) check() error {
	if c.Levels < 0 || c.Levels > 5 || c.LotChanges < 0 || c.LotChanges > 20 || !share(c.Repeats) {
		return bad("plan-controls", "Give up to 5 levels, up to 20 changes of the lot, and 10 % as 0.10.", "Controls of %d levels with %d changes of the lot and a share of %v repeated cannot be planned.", c.Levels, c.LotChanges, c.Repeats)
	}
	return nil
}

// StripUse is where the strips of one day go.
type StripUse struct {
	People   int    `json:"people"`   // first tests, repeats and errors
	Controls int    `json:"controls"` // with their repeats
	Vials    int    `json:"vials"`    // opened
	Lots     []Move `json:"lots"`     // from which lot how many, first expired first out; empty when no lots are given
	Takes    []Take `json:"takes,omitempty"`
	Changes  int    `json:"changes"` // of the lot
	Short    int    `json:"short"`   // what the lots lack
}

// Take is what is taken from one entry of the stock, in the order in which it is used: sealed vials of a lot, or what is left of an open one.
type Take struct {
	Entry  string `json:"entry"` // id of the Lot
	Vials  int    `json:"vials"`
	Strips int    `json:"strips"` // that the day needs of them
}

// Total gives all strips that are needed.
func (u StripUse) Total() int { return u.People + u.Controls }

// StripStock is what strips a day can use.
type StripStock struct {
	Meters int   // that are cleared, spares too
	Vial   int   // strips in a vial, when no lots are given
	Day    int   // of the event, in the days of the lots
	Lots   []Lot // on hand; empty when they are still to be bought
}

// Strips gives where the strips of a day go: people strips and repeats of control runs come on top of Levels x meters at opening and with each
// lot that is opened, and of Levels for each further vial when the insert asks so. Of lots that are on hand the one that expires first goes
// first; one that is too small to clear the meters and test one person is left. A strip that the lots lack counts as Short.
func (c Controls) Strips(people, repeats int, s StripStock) (StripUse, error) {
	if people < 0 || repeats < 0 || s.Meters < 0 || s.Vial < 1 && len(s.Lots) == 0 {
		return StripUse{}, bad("plan-strips", "", "%d strips for people and %d repeats of controls on %d meters, in vials of %d, cannot be planned.", people, repeats, s.Meters, s.Vial)
	}
	if err := c.check(); err != nil {
		return StripUse{}, err
	}
	if err := checkLots(s.Lots); err != nil {
		return StripUse{}, err
	}
	if len(s.Lots) == 0 {
		return c.bought(people, repeats, s), nil
	}
	return c.stocked(people, repeats, s.Meters, usable(s.Lots, s.Day)), nil
}

// bought gives the use when all strips are still to be bought.
func (c Controls) bought(people, repeats int, s StripStock) StripUse {
	u := StripUse{People: people, Controls: c.Levels*s.Meters*(1+c.LotChanges) + repeats, Changes: c.LotChanges}
	base := u.Controls
	for {
		u.Vials = Packs(u.Total(), s.Vial)
		if !c.PerVial || c.Levels >= s.Vial {
			return u
		}
		more := base + c.Levels*max(0, u.Vials-1-c.LotChanges) // the first vial of each lot is cleared with it
		if more == u.Controls {
			return u
		}
		u.Controls = more
	}
}

// stocked gives the use of the vials on hand, in the order in which they are used.
func (c Controls) stocked(people, repeats, meters int, vials []vial) StripUse {
	clearing := c.Levels * meters
	u := StripUse{People: people}
	left, runs := people, repeats
	var names []string // of the lots that have been opened
	for i, v := range vials {
		if left == 0 && runs == 0 && len(names) > 0 {
			break
		}
		take := runs
		switch known := slices.Contains(names, v.lot); {
		case !known && ofLot(vials[i:], v.lot) <= clearing:
			continue
		case !known:
			names = append(names, v.lot)
			take += clearing
		case c.PerVial:
			take += c.Levels
		}
		controls := min(take, v.strips)
		runs = take - controls // what one vial lacks, the next gives
		tested := min(left, v.strips-controls)
		u.Controls += controls
		left -= tested
		u.Vials++
		u.Lots = addMove(u.Lots, Move{v.day, v.lot, controls + tested})
		if n := len(u.Takes); n == 0 || u.Takes[n-1].Entry != v.entry {
			u.Takes = append(u.Takes, Take{Entry: v.entry})
		}
		last := &u.Takes[len(u.Takes)-1]
		last.Vials++
		last.Strips += controls + tested
	}
	u.Controls += runs
	u.Short = left + runs
	if len(names) == 0 {
		u.Controls += clearing
		u.Short += clearing
	}
	u.Changes = max(0, len(names)-1)
	return u
}

type vial struct {
	lot, entry string
	day        int
	strips     int
}

// usable gives the vials that can be used on a day, in the order in which they are.
func usable(lots []Lot, day int) []vial {
	lots = slices.Clone(lots)
	slices.SortStableFunc(lots, func(a, b Lot) int {
		return order(batch{0, 0, a.last(), !a.Opened}, batch{1, 0, b.last(), !b.Opened}, []Lot{a, b})
	})
	var all []vial
	for _, l := range lots {
		if l.last() < day || l.Arrives > day {
			continue
		}
		for n := l.Quantity; n > 0; {
			take := n
			if l.Vial > 0 && !l.Opened {
				take = min(n, l.Vial)
			}
			all = append(all, vial{l.name(), l.ID, day, take})
			n -= take
		}
	}
	return all
}

// ofLot gives how many strips of a lot there are.
func ofLot(vials []vial, lot string) int {
	n := 0
	for _, v := range vials {
		if v.lot == lot {
			n += v.strips
		}
	}
	return n
}
