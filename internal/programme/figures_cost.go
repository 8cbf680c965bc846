package programme

import (
	"slices"

	"fairstick/internal/stock"
)

// CostLine is what one sort of thing cost. Pieces are counted where the record counts them (strips, lancets), and else
// reckoned by the rates of the supply list from the people tested.
type CostLine struct {
	Name    string  `json:"name"`
	Pieces  int     `json:"pieces"`
	Counted bool    `json:"counted"` // else by a rate
	Piece   float64 `json:"price_of_a_piece"`
	Minor   int64   `json:"cost"`
}

// Costs are amounts in minor units of one currency, by the programme's own invoices.
type Costs struct {
	Currency    string     `json:"currency,omitempty"` // empty: no invoice is on record
	Lines       []CostLine `json:"lines,omitempty"`
	Unpriced    []string   `json:"unpriced,omitempty"` // what has no price
	Consumables int64      `json:"consumables"`
	Other       *int64     `json:"other,omitempty"` // as the lead has written it for the season; nil when nobody has
	Disposed    int64      `json:"disposed"`        // worth of what was thrown away in the span
	DisposedN   int        `json:"disposed_pieces"`
}

// Known reports whether anything can be said about cost.
func (c Costs) Known() bool { return c.Currency != "" && (c.Consumables > 0 || c.Other != nil) }

// Total is consumables and everything else that was written down.
func (c Costs) Total() int64 {
	if c.Other != nil {
		return c.Consumables + *c.Other
	}
	return c.Consumables
}

// Per divides the total by a count, rounded to the minor unit; ok is false for a count of 0.
func (c Costs) Per(n int) (minor int64, ok bool) {
	if n <= 0 || !c.Known() {
		return 0, false
	}
	return (c.Total()*2 + int64(n)) / (2 * int64(n)), true
}

// things reads the shelves for prices and what was thrown away, and puts the strips of the events together.
func (r *figuring) things() error {
	things, err := allThings(r.v)
	if err != nil {
		return err
	}
	f := r.f
	price := map[string]stock.Price{} // by strip lot id
	byUse := map[stock.Use][]stock.Price{}
	currency := map[string]int{}
	for _, t := range things {
		if t.ref.Kind == stock.StripLotKind {
			f.Lots[t.ref.ID] = t.name
		}
		if p, ok := stock.PriceOf(t.shelf.Moves); ok {
			byUse[t.use] = append(byUse[t.use], p)
			currency[p.Currency]++
			if t.ref.Kind == stock.StripLotKind {
				price[t.ref.ID] = p
			}
		}
	}
	f.Cost.Currency = most(currency)
	r.strips()
	f.costs(price, byUse)
	for _, t := range things {
		p, ok := stock.PriceOf(t.shelf.Moves)
		for _, m := range t.shelf.Moves {
			day := m.At.Format("2006-01-02")
			if m.Kind != stock.WasDisposed || day < f.Span.From.String() || day > f.Span.To.String() || f.Span.Event != "" {
				continue
			}
			f.Cost.DisposedN += m.N
			if ok && p.Currency == f.Cost.Currency {
				f.Cost.Disposed += p.Worth(m.N)
			}
		}
	}
	if s := f.Season; s != nil && s.OtherCost != nil && f.Span.From == s.From && f.Span.To == s.To && (f.Cost.Currency == "" || f.Cost.Currency == s.Currency) {
		f.Cost.Other, f.Cost.Currency = s.OtherCost, s.Currency
	}
	return nil
}

func most(n map[string]int) string {
	best := ""
	for k, c := range n {
		if best == "" || c > n[best] || c == n[best] && k < best {
			best = k
		}
	}
	return best
}

// strips sets how many strips each event used, and adds the amounts of the events up. An event whose stock was not counted
// back has used what was recorded.
func (r *figuring) strips() {
	for _, e := range r.f.Events {
		a := &e.Amounts
		recorded := a.First + a.Repeats + a.Rechecks + a.Errors + a.Runs
		counted, all := 0, len(e.strips) > 0
		for _, used := range e.strips {
			counted += used
			all = all && used >= 0
		}
		a.StripsUsed = recorded
		if all {
			a.StripsUsed, a.StripsWasted = counted, counted-recorded
		}
		if a.LancetsUsed < 0 {
			a.LancetsUsed = a.Sticks + a.Misfires
		}
		r.f.Amounts.add(*a)
	}
}

// costs puts prices to what was used.
func (f *Figures) costs(byLot map[string]stock.Price, byUse map[stock.Use][]stock.Price) {
	c := &f.Cost
	if c.Currency == "" {
		return
	}
	mean := func(u stock.Use) (float64, bool) {
		sum, n := 0.0, 0
		for _, p := range byUse[u] {
			if p.Currency == c.Currency {
				sum += p.Mean
				n++
			}
		}
		if n == 0 {
			return 0, false
		}
		return sum / float64(n), true
	}
	put := func(name string, u stock.Use, pieces int, counted bool) {
		piece, ok := mean(u)
		if !ok {
			c.Unpriced = append(c.Unpriced, name)
			return
		}
		l := CostLine{Name: name, Pieces: pieces, Counted: counted, Piece: piece, Minor: stock.Price{Mean: piece}.Worth(pieces)}
		c.Lines, c.Consumables = append(c.Lines, l), c.Consumables+l.Minor
	}
	for _, rate := range stock.Rates {
		switch rate.Use {
		case stock.UseStrips:
			f.stripCost(byLot, mean)
		case stock.UseLancets:
			put(rate.Name, rate.Use, f.Amounts.LancetsUsed, true)
		case stock.UseSharps, stock.UseSugar: // used now and then, not with each person
		default:
			put(rate.Name, rate.Use, rate.For(f.All.N("tested")), false)
		}
	}
}

// stripCost prices strips by their own lot where it has an invoice, and else at the mean of the lots.
func (f *Figures) stripCost(byLot map[string]stock.Price, mean func(stock.Use) (float64, bool)) {
	c := &f.Cost
	usual, ok := mean(stock.UseStrips)
	if !ok {
		c.Unpriced = append(c.Unpriced, "Test strips")
		return
	}
	sum := 0.0
	for _, e := range f.Events {
		left := e.Amounts.StripsUsed
		for lot, used := range e.strips {
			if p, ok := byLot[lot]; ok && used > 0 && p.Currency == c.Currency {
				sum += p.Mean * float64(used)
				left -= used
			}
		}
		sum += usual * float64(max(0, left))
	}
	n := f.Amounts.StripsUsed
	l := CostLine{Name: "Test strips", Pieces: n, Counted: true, Minor: stock.Price{Mean: sum}.Worth(1)}
	if n > 0 {
		l.Piece = sum / float64(n)
	}
	c.Lines, c.Consumables = append(c.Lines, l), c.Consumables+l.Minor
}

// RanOut names what an event used up, in words.
func (f *Figures) RanOut(e *EventFigures) []string {
	var out []string
	for _, x := range e.Emptied {
		if name := f.Lots[x]; name != "" {
			x = name
		}
		out = append(out, x)
	}
	slices.Sort(out)
	return out
}
