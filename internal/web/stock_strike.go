package web

import (
	"cmp"
	"fmt"
	"net/url"

	"fairstick/internal/fault"
	"fairstick/internal/programme"
	"fairstick/internal/stock"
	"fairstick/internal/web/ui"
)

// strikeView is one receipt, count, move or disposal, and what would be different without it.
type strikeView struct {
	Page    ui.Page
	Stray   *fault.Fault
	Facts   [][2]string
	Struck  string // how it was struck already
	Caption string
	Rows    [][3]string
	Refused *fault.Fault // why it cannot be struck now
	Again   string       // address of the receipt form with what was typed; empty for anything but a receipt
	Form    officeForm
}

func strikeShow(_ *Server, c *Context) error { return c.strikeAgain(nil) }

func (c *Context) strikeAgain(f *fault.Fault) error {
	x, err := c.s.prog.StockStrike(c.R.Context(), c.R.PathValue("thing"), c.R.PathValue("move"))
	if err != nil {
		return err
	}
	word := programme.MoveWord(x.Move.Kind)
	base := thingPath(x.Was.Key)
	v := strikeView{Refused: x.Refused, Caption: x.Was.Name}
	v.Page = c.officePage("Strike a "+word, "Nothing is deleted: both stand in the record, and only what is right counts.", "stock", &ui.Link{Href: base, Label: x.Was.Name})
	row := stockMoveOf(x.Room, x.Move)
	v.Facts = [][2]string{{"What", x.Was.Name}, {capital(word), row.What}, {"Where", row.Where}, {"Number", row.Number + " " + x.Was.Unit}, {"When", row.When}, {"Written down by", row.Who}}
	if b := x.Move.Receipt; b != nil {
		v.Facts = append(v.Facts, [2]string{"Invoice", b.Invoice})
		v.Again = "/stock/receive?thing=" + url.QueryEscape(x.Was.Key) + "&like=" + url.QueryEscape(x.Move.ID)
	}
	if x.Struck != nil {
		v.Struck, v.Stray = struckText(x.Room, *x.Struck), f
		return c.Show(f, StrikePage(v))
	}
	v.Rows = strikeRows(x)
	form := c.dayForm("strike", base+"/strike/"+x.Move.ID, "strike", f)
	v.Form = officeForm{Form: form, Submit: "Strike this " + word, Danger: true, Parts: []part{{Items: []item{field(form.line("reason", "What is wrong with it", ""))}}}}
	v.Stray = stray(f, "strike", &v.Form)
	return c.Show(f, StrikePage(v))
}

// strikeRows compares how a thing stands with and without a move.
func strikeRows(x *programme.StockStrike) [][3]string {
	was, now := x.Was, x.Now
	rows := [][3]string{{"On hand", pieces(was.OnHand, was.Unit), pieces(now.OnHand, now.Unit)}}
	seen := map[string]bool{}
	at := func(l *programme.StockLine, place string) int {
		for _, p := range l.Places {
			if p.Place == place {
				return p.N
			}
		}
		return 0
	}
	for _, l := range []*programme.StockLine{was, now} {
		for _, p := range l.Places {
			if !seen[p.Place] {
				seen[p.Place] = true
				rows = append(rows, [3]string{cmp.Or(p.Place, "No place yet"), fmt.Sprint(at(was, p.Place)), fmt.Sprint(at(now, p.Place))})
			}
		}
	}
	rows = append(rows,
		[3]string{"Found by counts or in use", fmt.Sprint(was.Found), fmt.Sprint(now.Found)},
		[3]string{map[bool]string{true: "Missing", false: "Used or missing"}[was.Followed], fmt.Sprint(was.Lost), fmt.Sprint(now.Lost)},
		[3]string{"Mean price of one", priceText(was.Price), priceText(now.Price)})
	if x.Orders[0].Need > 0 || x.Orders[1].Need > 0 {
		rows = append(rows, [3]string{"To order for planned events", fmt.Sprint(x.Orders[0].Missing), fmt.Sprint(x.Orders[1].Missing)})
	}
	return rows
}

func priceText(p *stock.Price) string {
	if p == nil {
		return "not known"
	}
	return stock.Piece(p.Mean, p.Currency)
}

func strikeSave(s *Server, c *Context) error {
	d, err := s.prog.StrikeStock(c.R.Context(), c.Actor(), programme.StrikeStock{Act: c.Act(), Thing: c.R.PathValue("thing"), Move: c.R.PathValue("move"), Reason: c.Form("reason")})
	if err != nil {
		return c.strikeAgain(fault.Of(err))
	}
	return c.Done(thingPath(d.ID), "It is struck, and everything was worked out again.")
}
