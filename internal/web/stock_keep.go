package web

import (
	"bytes"
	"cmp"
	"fmt"
	"net/url"
	"slices"
	"strings"
	"time"

	"fairstick/internal/civil"
	"fairstick/internal/exchange"
	"fairstick/internal/fault"
	"fairstick/internal/programme"
	"fairstick/internal/stock"
	"fairstick/internal/web/ui"
)

// stockroomView is the whole stock on one page.
type stockroomView struct {
	Page    ui.Page
	Stops   []stockWarning
	Mind    []stockWarning
	Rows    []stockRow
	Caption string
	InUse   []inUseRow
	Orders  []orderRow
	Enough  string   // what is not to be ordered
	Rates   []string // the rates behind the orders
	Planned string   // which events the orders are for
	Receive bool     // this person may
	Empty   bool     // nothing is on any list
	None    bool     // nothing was received or counted yet
}

type stockWarning struct{ Href, Says string }

type stockRow struct {
	Href, Name, Lies, Expiry, State string
	Bad                             bool
}

type inUseRow struct {
	Href, Name, Vial, Opened, Discard string
	Past                              bool
}

type orderRow struct{ Name, Need, Usable, Missing, First string }

func thingPath(key string) string { return "/stock/of/" + key }

func stockroomShow(s *Server, c *Context) error {
	r, err := s.prog.Stock(c.R.Context())
	if err != nil {
		return err
	}
	today := civil.Of(s.prog.Now())
	v := stockroomView{
		Page: c.officePage("Stock", "What lies where, what expires, and what the planned events need.", "stock", c.backToSetup()), Receive: c.holds(senior), Empty: len(r.Lines) == 0,
		None: !slices.ContainsFunc(r.Lines, func(l programme.StockLine) bool { return l.Kept }),
	}
	v.Page.Wide = true
	for _, w := range r.Warnings {
		x := stockWarning{Says: w.Says}
		if w.Key != "" {
			x.Href = thingPath(w.Key)
		}
		if w.Stop {
			v.Stops = append(v.Stops, x)
		} else {
			v.Mind = append(v.Mind, x)
		}
	}
	for _, l := range r.Lines {
		v.Rows = append(v.Rows, stockRowOf(l, today))
	}
	v.Caption = plural(len(v.Rows), "lot or supply", "lots and supplies")
	if worth := worthText(r.Value); worth != "" {
		v.Caption += ", on hand for " + worth + " by own invoices"
	}
	for _, x := range r.InUse {
		v.InUse = append(v.InUse, inUseRow{Href: thingPath(x.Key), Name: x.Name, Vial: x.Vial, Opened: x.Opened.Long(), Discard: x.Discard.Long(), Past: x.Past})
	}
	var enough []string
	for _, o := range r.Orders {
		v.Rates = append(v.Rates, fmt.Sprintf("%s, %d %s for 100 people: %s.", o.Rate.Name, o.Rate.Per100, o.Rate.Unit, o.Rate.Why))
		if o.Missing == 0 {
			enough = append(enough, strings.ToLower(o.Rate.Name))
			continue
		}
		row := orderRow{Name: o.Rate.Name, Need: pieces(o.Need, o.Rate.Unit), Usable: fmt.Sprint(o.Usable), Missing: pieces(o.Missing, o.Rate.Unit)}
		if o.Usable >= o.Need {
			row.Usable += ", not all in date then"
		}
		if len(r.Events) > 1 {
			row.First = o.First + ", " + o.On.Long()
		}
		v.Orders = append(v.Orders, row)
	}
	if len(enough) > 0 {
		v.Enough = "Enough by the record: " + strings.Join(enough, ", ") + "."
	}
	if len(v.Orders) > 0 {
		v.Mind = append(v.Mind, stockWarning{Href: "#orders", Says: plural(len(v.Orders), "line is", "lines are") + " to be ordered for the planned events" + orderBy(r.OrderBy, today) + "."})
	}
	v.Planned = plannedText(r.Events)
	if !r.OrderBy.IsZero() {
		v.Planned += " By your lead times, what lacks is to be ordered by " + r.OrderBy.Long() + "."
	}
	return c.Render(200, StockroomPage(v))
}

func pieces(n int, unit string) string { return fmt.Sprintf("%d %s", n, unit) }

// orderBy says until when to order; empty when the programme has no lead time for it.
func orderBy(by, today civil.Date) string {
	switch {
	case by.IsZero():
		return ""
	case by.Before(today):
		return ", which was due by " + by.Long()
	}
	return ", by " + by.Long()
}

func plannedText(events []stock.Demand) string {
	if len(events) == 0 {
		return ""
	}
	n, names := 0, make([]string, len(events))
	for i, e := range events {
		names[i] = e.Name + " on " + e.Date.Long() + " (" + fmt.Sprint(e.Expected) + ")"
		n += e.Expected
	}
	return fmt.Sprintf("For %s, %d people expected: %s.", plural(len(events), "planned event", "planned events"), n, strings.Join(names, "; "))
}

func worthText(values []programme.StockValue) string {
	words := make([]string, len(values))
	for i, x := range values {
		words[i] = stock.Money(x.Minor, x.Currency)
	}
	return strings.Join(words, " and ")
}

func stockRowOf(l programme.StockLine, today civil.Date) stockRow {
	row := stockRow{Href: thingPath(l.Key), Name: l.Name, Lies: liesText(l), Expiry: expiryText(l.Expiry, today), State: "may be used"}
	switch {
	case l.Hold != nil && l.Hold.Kind == stock.InRecall:
		row.State, row.Bad = "recalled", true
	case l.Hold != nil:
		row.State, row.Bad = "in quarantine", true
	case l.Withdrawn != "":
		row.State, row.Bad = "taken out of use", true
	case l.Expired:
		row.State, row.Bad = "expired", true
	case !l.Kept:
		row.State = "never received or counted"
	case l.OnHand == 0 && l.AtEvents == 0:
		row.State = "none left"
	}
	return row
}

// liesText tells how much there is and where.
func liesText(l programme.StockLine) string {
	var words []string
	for _, p := range l.Places {
		words = append(words, fmt.Sprintf("%d at %s", p.N, cmp.Or(p.Place, "no place yet")))
	}
	if len(l.Places) == 1 {
		words[0] = cmp.Or(l.Places[0].Place, "no place yet")
	}
	if l.AtEvents > 0 {
		words = append(words, fmt.Sprintf("and %d at an event", l.AtEvents))
	}
	switch {
	case !l.Kept && l.OnHand == 0:
		return "not known"
	case len(words) == 0:
		return "0 " + l.Unit
	}
	return pieces(l.OnHand, l.Unit) + ": " + strings.Join(words, ", ")
}

func stockroomCSV(s *Server, c *Context) error {
	r, err := s.prog.Stock(c.R.Context())
	if err != nil {
		return err
	}
	var buf bytes.Buffer
	if err := exchange.WriteStock(&buf, r.Lines); err != nil {
		return err
	}
	return c.sendFile("text/csv; charset=utf-8", "stock-"+civil.Of(s.prog.Now()).String()+".csv", buf.Bytes())
}

// thingView is one lot or supply: how it stands, what happened to it, and the forms.
type thingView struct {
	Page    ui.Page
	Stray   *fault.Fault
	Hold    string // what keeps it out of use; empty for nothing
	Recall  bool
	Mind    []string
	Facts   [][2]string
	Sum     string
	Log     []stockMove
	Trips   []stockTrip
	Trace   string // address of the look-back; empty for those who may not
	Count   string
	Receive string // address of the receipt form; empty for those who may not
	Forms   []thingForm
}

type thingForm struct {
	Heading string
	Form    officeForm
}

type stockTrip struct{ Href, Event, Brought, Used, Back string }

type stockMove struct {
	When, What, Where, Number, Who string
	Strike                         string // address where it can be struck; empty where it cannot
	Struck                         string // by whom, when and why it was struck; empty when it stands
}

func toStock() *ui.Link { return &ui.Link{Href: "/stock", Label: "Stock"} }

func thingShow(_ *Server, c *Context) error { return c.thingAgain("", nil) }

func (c *Context) thingAgain(refused string, f *fault.Fault) error {
	r, l, err := c.s.prog.StockThing(c.R.Context(), c.R.PathValue("thing"))
	if err != nil {
		return err
	}
	today := civil.Of(c.s.prog.Now())
	v := thingView{Page: c.officePage(l.Name, "", "stock", toStock())}
	if l.Hold != nil {
		v.Hold, v.Recall = l.Hold.Says(), l.Hold.Kind == stock.InRecall
	} else if l.Withdrawn != "" {
		v.Hold = "taken out of use: " + l.Withdrawn
	}
	for _, w := range l.Warnings {
		if !w.Stop {
			v.Mind = append(v.Mind, w.Says)
		}
	}
	v.Facts = thingFacts(*l, today)
	v.Sum = sumText(l)
	v.Log = stockLog(r, l, c.holds(senior))
	for _, x := range l.Events {
		back := fmt.Sprint(x.Back)
		if x.There > 0 {
			back = fmt.Sprintf("%d still there", x.There)
		}
		v.Trips = append(v.Trips, stockTrip{Href: "/events/" + x.Event, Event: x.Name + ", " + x.Date.Long(), Brought: fmt.Sprint(x.Brought), Used: fmt.Sprint(x.Used), Back: back})
	}
	v.Count = "/stock/count"
	if len(l.Places) == 1 {
		v.Count += "?place=" + url.QueryEscape(l.Places[0].Place)
	}
	if c.holds(senior) {
		v.Trace = thingPath(l.Key) + "/look-back"
		v.Receive = "/stock/receive?thing=" + l.Key
		if v.Forms, err = c.thingForms(l, refused, f); err != nil {
			return err
		}
	}
	forms := make([]*officeForm, len(v.Forms))
	for i := range v.Forms {
		forms[i] = &v.Forms[i].Form
	}
	v.Stray = stray(f, refused, forms...)
	return c.Show(f, ThingPage(v))
}

// sumText is the equality that always holds for a thing.
func sumText(l *programme.StockLine) string {
	if !l.Followed {
		return fmt.Sprintf("%d received + %d found = %d on hand + %d disposed of + %d used or missing, by the counts", l.Received, l.Found, l.OnHand, l.Disposed, l.Lost)
	}
	return fmt.Sprintf("%d received + %d found = %d on hand + %d at events + %d used at events + %d disposed of + %d missing", l.Received, l.Found, l.OnHand, l.AtEvents, l.Used, l.Disposed, l.Lost)
}

func thingFacts(l programme.StockLine, today civil.Date) [][2]string {
	out := [][2]string{{"On hand", pieces(l.OnHand, l.Unit)}}
	for _, p := range l.Places {
		out = append(out, [2]string{cmp.Or(p.Place, "No place yet"), pieces(p.N, l.Unit)})
	}
	if l.AtEvents > 0 {
		out = append(out, [2]string{"At events now", pieces(l.AtEvents, l.Unit)})
	}
	out = append(out, [2]string{"Expiry", expiryText(l.Expiry, today)})
	if p := l.Price; p != nil {
		from := p.On.Long()
		if p.Supplier != "" {
			from = p.Supplier + ", " + from
		}
		if p.Invoice != "" {
			from += ", invoice " + p.Invoice
		}
		out = append(out, [2]string{"Latest price of one", stock.Piece(p.Latest, p.Currency) + " (" + from + ")"},
			[2]string{"Mean price of one", stock.Piece(p.Mean, p.Currency) + ", over all invoices in " + p.Currency},
			[2]string{"Worth of what is on hand", stock.Money(l.Value, p.Currency)})
	}
	return out
}

// stockLog is what happened to a thing, newest first; what was struck stands in its place with why.
func stockLog(r *programme.Stockroom, l *programme.StockLine, strike bool) []stockMove {
	type entry struct {
		at time.Time
		stockMove
	}
	var list []entry
	for _, m := range l.Shelf().Moves {
		row := stockMoveOf(r, m)
		if strike {
			row.Strike = thingPath(l.Key) + "/strike/" + m.ID
		}
		list = append(list, entry{m.At, row})
	}
	for _, s := range l.Struck {
		row := stockMoveOf(r, s.Move)
		row.Struck = struckText(r, s)
		list = append(list, entry{s.Move.At, row})
	}
	add := func(at time.Time, what, by string) {
		list = append(list, entry{at, stockMove{When: civil.Of(at).Long(), What: what, Where: "all", Who: r.NameOf(by)}})
	}
	for _, h := range l.Shelf().Holds {
		add(h.At, capital(h.Says()), h.By)
		if h.Released != nil {
			add(h.ReleasedAt, "Released: "+h.Released.Reason, h.Released.Signed)
		}
	}
	slices.SortStableFunc(list, func(a, b entry) int { return b.at.Compare(a.at) })
	out := make([]stockMove, len(list))
	for i, e := range list {
		out[i] = e.stockMove
	}
	return out
}

func struckText(r *programme.Stockroom, s programme.StruckMove) string {
	return fmt.Sprintf("Struck by %s on %s: %s", r.NameOf(s.By), civil.Of(s.At).Long(), s.Reason)
}

// stockMoveOf tells one receipt, count, move or disposal.
func stockMoveOf(r *programme.Stockroom, m stock.Move) stockMove {
	row := stockMove{When: civil.Of(m.At).Long(), Where: cmp.Or(m.Place, "no place yet"), Number: fmt.Sprint(m.N), Who: r.NameOf(m.By)}
	switch m.Kind {
	case stock.WasReceived:
		row.What = "Received"
		if m.Receipt.Supplier != "" {
			row.What += " from " + m.Receipt.Supplier
		}
		if m.Receipt.Price != nil {
			row.What += ", " + stock.Money(*m.Receipt.Price, m.Receipt.Currency) + " a pack"
		}
		row.Number = fmt.Sprintf("%d (%d × %d)", m.N, m.Receipt.Packs, m.Receipt.PerPack)
	case stock.WasMoved:
		row.What, row.Where = "Moved", row.Where+" to "+m.To
	case stock.WasDisposed:
		row.What = "Disposed of: " + m.Reason
	case stock.WasCounted:
		row.What = "Counted"
		if d := m.N - m.Book; d != 0 {
			row.What = fmt.Sprintf("Counted: %+d to the record", d)
		}
	}
	return row
}
