package plan

import (
	"cmp"
	"slices"
)

// Lot is a stock of one lot. Days are whole numbers; any day may be 1.
type Lot struct {
	ID       string `json:"id"`
	Quantity int    `json:"quantity"`
	Arrives  int    `json:"arrives"` // the first day on which it can be used
	Expires  int    `json:"expires"` // the last day on which it can be used
	// Vial is how many pieces a vial holds and InUse for how many days it may be used once it has been opened, that day being day 0; with InUse 0
	// it may be used until it expires. Opened says that the whole lot is one vial that was opened on OpenedOn.
	Vial     int    `json:"vial,omitempty"`
	InUse    int    `json:"in_use,omitempty"`
	Opened   bool   `json:"opened,omitempty"`
	OpenedOn int    `json:"opened_on,omitempty"`
	Of       string `json:"of,omitempty"` // the lot that an opened vial belongs to, when it is listed beside its sealed ones
}

// name gives the lot that a control run is good for.
func (l Lot) name() string {
	if l.Of != "" {
		return l.Of
	}
	return l.ID
}

// last gives the last day on which the lot as it stands can be used: the earlier of its expiry and, if it is open, the end of its days in use.
func (l Lot) last() int {
	if l.Opened && l.InUse > 0 {
		return min(l.Expires, l.OpenedOn+l.InUse)
	}
	return l.Expires
}

// Move is some of a lot on a day.
type Move struct {
	Day      int    `json:"day"`
	Lot      string `json:"lot"`
	Quantity int    `json:"quantity"`
}

// Ledger is what became of a stock.
type Ledger struct {
	Issues  []Move      `json:"issues"`
	Expired []Move      `json:"expired"` // written off on the first day after the last on which it could be used
	Short   map[int]int `json:"short"`   // what was missing, by day
	Left    []Move      `json:"left"`    // of each lot after the last day
}

// batch is a lot, or an opened vial of it.
type batch struct {
	lot      int
	quantity int
	last     int
	sealed   bool // and a vial of it must be opened to use it
}

// FirstExpired uses up lots by a demand for day 1, 2, 3...: what can be used the shortest goes first; of equals what arrived first, then by
// id. A lot may be used through the end of the day on which it expires, an opened vial through its last day in use. The lots are not
// changed. A negative number or two lots with one id is an error.
func FirstExpired(lots []Lot, demand []int) (Ledger, error) {
	if err := checkLots(lots); err != nil {
		return Ledger{}, err
	}
	l := Ledger{Short: map[int]int{}}
	shelf := make([]batch, 0, len(lots))
	for i, x := range lots {
		shelf = append(shelf, batch{i, x.Quantity, x.last(), x.Vial > 0 && x.InUse > 0 && !x.Opened})
	}
	for i, want := range demand {
		day := i + 1
		if want < 0 {
			return Ledger{}, bad("plan-demand", "", "A demand of %d on day %d cannot be.", want, day)
		}
		for k := range shelf {
			b := &shelf[k]
			if b.quantity > 0 && b.last < day && lots[b.lot].Arrives <= day {
				l.Expired = addMove(l.Expired, Move{day, lots[b.lot].ID, b.quantity})
				b.quantity = 0
			}
		}
		for want > 0 {
			k := next(shelf, lots, day)
			if k < 0 {
				l.Short[day] = want
				break
			}
			b := &shelf[k]
			if b.sealed {
				x := lots[b.lot]
				vial := min(x.Vial, b.quantity)
				b.quantity -= vial
				shelf = append(shelf, batch{b.lot, vial, min(x.Expires, day+x.InUse), false})
				b = &shelf[len(shelf)-1]
			}
			take := min(want, b.quantity)
			b.quantity -= take
			want -= take
			l.Issues = addMove(l.Issues, Move{day, lots[b.lot].ID, take})
		}
	}
	for i, x := range lots {
		left := 0
		for _, b := range shelf {
			if b.lot == i {
				left += b.quantity
			}
		}
		l.Left = append(l.Left, Move{len(demand), x.ID, left})
	}
	return l, nil
}

func checkLots(lots []Lot) error {
	seen := map[string]bool{}
	for _, x := range lots {
		if x.Quantity < 0 || x.Vial < 0 || x.InUse < 0 || seen[x.ID] {
			return bad("plan-lot", "Give each lot once, with no negative number.", "The lot %q with %d pieces cannot be used.", x.ID, x.Quantity)
		}
		seen[x.ID] = true
	}
	return nil
}

// next gives the batch to use on a day; -1 when there is none. Of one lot an open vial goes before sealed ones with the
// same last day.
func next(shelf []batch, lots []Lot, day int) int {
	best := -1
	for k, b := range shelf {
		if b.quantity == 0 || b.last < day || lots[b.lot].Arrives > day {
			continue
		}
		if best < 0 || order(b, shelf[best], lots) < 0 {
			best = k
		}
	}
	return best
}

func order(a, b batch, lots []Lot) int {
	x, y := lots[a.lot], lots[b.lot]
	sealed := func(s bool) int {
		if s {
			return 1
		}
		return 0
	}
	return cmp.Or(cmp.Compare(a.last, b.last), cmp.Compare(x.Arrives, y.Arrives), cmp.Compare(x.name(), y.name()), cmp.Compare(sealed(a.sealed), sealed(b.sealed)), cmp.Compare(x.ID, y.ID))
}

// addMove adds a quantity to the last move of that day and lot, or begins one.
func addMove(moves []Move, m Move) []Move {
	if i := slices.IndexFunc(moves, func(x Move) bool { return x.Day == m.Day && x.Lot == m.Lot }); i >= 0 {
		moves[i].Quantity += m.Quantity
		return moves
	}
	return append(moves, m)
}
