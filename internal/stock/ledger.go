package stock

import (
	"cmp"
	"slices"
	"strings"
	"time"

	"fairstick/internal/civil"
	"fairstick/internal/fact"
)

// Item is one lot or supply with what its shelf says.
type Item struct {
	Ref    fact.Ref
	Expiry civil.Date // zero when none is printed
	Moves  []Move
}

// Taken is pieces at a moment.
type Taken struct {
	At time.Time
	N  int
}

// Trip is what one event took and gave back, from the facts of the event. Used counts while nothing was counted back.
type Trip struct {
	Event string
	Out   []Taken // a negative number was taken off again
	Back  *Taken
	Used  int
}

// Level is what lies at a place. The place is empty for what came back from an event and was not put away by a count.
type Level struct {
	Place string
	N     int
}

// Share is what one event had of an item: Taken = Used + Back + Away. Away is at an event that was not counted back.
type Share struct {
	Event                   string
	Taken, Used, Back, Away int
}

// Account is how one item stands. Always Received + Found = OnHand + AtEvents + Used + Disposed + Lost.
type Account struct {
	Levels   []Level // places with something, in the order of their names
	Trips    []Share // in the order of the events' ids
	Received int
	Used     int // at events: brought less counted back
	Disposed int
	Found    int // more than the record knew: by a count, or taken where the record had too little
	Lost     int // less than the record knew, by a count
	Short    []Shortage
	Counted  time.Time
}

// Shortage is what was taken though the record had it not; it is among what was found.
type Shortage struct {
	Move  string // id of the move that took it; empty when an event did
	Event string
	Place string // empty for an event: it takes from where most lies
	N     int
}

// OnHand is what lies at the places.
func (a Account) OnHand() int {
	n := 0
	for _, l := range a.Levels {
		n += l.N
	}
	return n
}

// AtEvents is what is at events.
func (a Account) AtEvents() int {
	n := 0
	for _, x := range a.Trips {
		n += x.Away
	}
	return n
}

// At is the level of a place.
func (a Account) At(place string) int {
	for _, l := range a.Levels {
		if placeKey(l.Place) == placeKey(place) {
			return l.N
		}
	}
	return 0
}

// placeKey makes places equal that differ in letter case alone.
func placeKey(place string) string { return strings.ToLower(place) }

type spot struct {
	item  int
	place string // key
}

type draw struct {
	from spot
	n    int
}

type step struct {
	at   time.Time
	rank int // a count back comes after what was brought at the same moment
	id   string
	do   func()
}

type ledger struct {
	items    []Item
	accounts []Account
	level    map[spot]int
	names    map[string]string // by place key: the spelling that came first
}

// Settle computes the accounts of items that share their trips: one lot of strips by itself, or all supplies of lancets
// together, since an event counts lancets without saying of which box. Moves and trips are taken in order of time, then id, so
// that the order of arrival does not matter.
//
// An event takes from the item that expires first and can still be used on that day, and there from the place that holds
// most; what comes back returns to where the last was taken from. Where the record has too little, the rest counts as Found.
// A count sets the level of its place and takes in what came back without a place.
func Settle(items []Item, trips []Trip) []Account {
	l := &ledger{items: items, accounts: make([]Account, len(items)), level: map[spot]int{}, names: map[string]string{}}
	if len(items) == 0 {
		return nil
	}
	var steps []step
	for i, it := range items {
		for _, m := range it.Moves {
			steps = append(steps, step{at: m.At, id: m.ID, do: func() { l.move(i, m) }})
		}
	}
	for _, t := range trips {
		var taken []draw
		var last time.Time
		for _, o := range t.Out {
			if o.At.After(last) {
				last = o.At
			}
			steps = append(steps, step{at: o.At, rank: 1, id: t.Event, do: func() { taken = l.take(taken, t.Event, o) }})
		}
		end := step{at: last, rank: 2, id: t.Event}
		if t.Back != nil && t.Back.At.After(last) {
			end.at = t.Back.At
		}
		end.do = func() { l.end(t, taken) }
		steps = append(steps, end)
	}
	slices.SortStableFunc(steps, func(a, b step) int {
		return cmp.Or(a.at.Compare(b.at), cmp.Compare(a.rank, b.rank), cmp.Compare(a.id, b.id))
	})
	for _, s := range steps {
		s.do()
	}
	for at, n := range l.level {
		if n > 0 {
			l.accounts[at.item].Levels = append(l.accounts[at.item].Levels, Level{Place: l.names[at.place], N: n})
		}
	}
	for i := range l.accounts {
		slices.SortFunc(l.accounts[i].Levels, func(a, b Level) int { return cmp.Compare(placeKey(a.Place), placeKey(b.Place)) })
		slices.SortFunc(l.accounts[i].Trips, func(a, b Share) int { return cmp.Compare(a.Event, b.Event) })
	}
	return l.accounts
}

// spot is the level of an item at a place.
func (l *ledger) spot(item int, place string) spot {
	key := placeKey(place)
	if _, ok := l.names[key]; !ok {
		l.names[key] = place
	}
	return spot{item, key}
}

func (l *ledger) move(item int, m Move) {
	a, from := &l.accounts[item], l.spot(item, m.Place)
	switch m.Kind {
	case WasReceived:
		a.Received += m.N
		l.level[from] += m.N
	case WasMoved:
		l.lift(from, m)
		l.level[l.spot(item, m.To)] += m.N
	case WasDisposed:
		l.lift(from, m)
		a.Disposed += m.N
	case WasCounted:
		loose := l.spot(item, "")
		book := l.level[from]
		if from != loose {
			book += l.level[loose]
			l.level[loose] = 0
		}
		a.Found += max(0, m.N-book)
		a.Lost += max(0, book-m.N)
		l.level[from], a.Counted = m.N, m.At
	}
}

// lift takes pieces from a place; what the record lacks there was found.
func (l *ledger) lift(from spot, m Move) {
	have := l.level[from]
	if lack := m.N - have; lack > 0 {
		l.short(from.item, Shortage{Move: m.ID, Place: m.Place, N: lack})
	}
	l.level[from] = max(0, have-m.N)
}

func (l *ledger) short(item int, s Shortage) {
	a := &l.accounts[item]
	a.Found += s.N
	a.Short = append(a.Short, s)
}

// take draws for an event, or takes off again what was brought.
func (l *ledger) take(taken []draw, event string, o Taken) []draw {
	if o.N < 0 {
		rest, _ := l.giveBack(taken, -o.N)
		return rest
	}
	n := o.N
	for n > 0 {
		from, ok := l.next(civil.Of(o.At))
		if !ok {
			from = l.spot(l.first(civil.Of(o.At)), "")
			l.short(from.item, Shortage{Event: event, N: n})
			return append(taken, draw{from, n})
		}
		k := min(n, l.level[from])
		l.level[from] -= k
		taken = append(taken, draw{from, k})
		n -= k
	}
	return taken
}

// next is where an event takes from; ok is false when nothing is left anywhere.
func (l *ledger) next(day civil.Date) (best spot, ok bool) {
	for at, n := range l.level {
		if n <= 0 {
			continue
		}
		if !ok {
			best, ok = at, true
			continue
		}
		c := l.order(at.item, best.item, day)
		if c == 0 {
			c = cmp.Or(cmp.Compare(l.level[best], n), cmp.Compare(at.place, best.place))
		}
		if c < 0 {
			best = at
		}
	}
	return best, ok
}

// first is the item that is taken first on a day.
func (l *ledger) first(day civil.Date) int {
	best := 0
	for i := range l.items {
		if l.order(i, best, day) < 0 {
			best = i
		}
	}
	return best
}

// order puts what can be used on a day before what cannot, the earliest expiry first, one without expiry last.
func (l *ledger) order(i, j int, day civil.Date) int {
	if i == j {
		return 0
	}
	a, b := l.items[i], l.items[j]
	return cmp.Or(
		cmp.Compare(gone(a.Expiry, day), gone(b.Expiry, day)),
		byExpiry(a.Expiry, b.Expiry),
		cmp.Compare(a.Ref.ID, b.Ref.ID))
}

func gone(expiry, day civil.Date) int {
	if !expiry.IsZero() && day.After(expiry) {
		return 1
	}
	return 0
}

// byExpiry orders the earliest expiry first; none printed comes last.
func byExpiry(a, b civil.Date) int {
	switch {
	case a == b:
		return 0
	case a.IsZero():
		return 1
	case b.IsZero() || a.Before(b):
		return -1
	}
	return 1
}

// giveBack puts pieces back to where they were drawn, the last drawn first, and tells what had not been drawn at all.
func (l *ledger) giveBack(taken []draw, n int) (rest []draw, over int) {
	rest = slices.Clone(taken)
	for n > 0 && len(rest) > 0 {
		d := &rest[len(rest)-1]
		k := min(n, d.n)
		l.level[d.from] += k
		d.n -= k
		n -= k
		if d.n == 0 {
			rest = rest[:len(rest)-1]
		}
	}
	return rest, n
}

// end settles a trip: what was counted back returns, the rest was used; without a count what was not used is at the event.
func (l *ledger) end(t Trip, taken []draw) {
	shares := make([]Share, len(l.items))
	for _, d := range taken {
		shares[d.from.item].Taken += d.n
	}
	if t.Back != nil {
		used, over := l.giveBack(taken, t.Back.N)
		for _, d := range used {
			shares[d.from.item].Used += d.n
		}
		for i := range shares {
			shares[i].Back = shares[i].Taken - shares[i].Used
		}
		if over > 0 { // more came back than was brought
			at := l.spot(l.first(civil.Of(t.Back.At)), "")
			l.accounts[at.item].Found += over
			l.level[at] += over
		}
	} else {
		used := t.Used
		for _, d := range taken {
			k := min(used, d.n)
			shares[d.from.item].Used += k
			shares[d.from.item].Away += d.n - k
			used -= k
		}
		if used > 0 && len(taken) > 0 { // more was used than was brought
			i := taken[len(taken)-1].from.item
			l.accounts[i].Found += used
			shares[i].Taken += used
			shares[i].Used += used
		}
	}
	for i, x := range shares {
		if x.Taken > 0 {
			x.Event = t.Event
			l.accounts[i].Used += x.Used
			l.accounts[i].Trips = append(l.accounts[i].Trips, x)
		}
	}
}
