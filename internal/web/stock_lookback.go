package web

import (
	"bytes"
	"fmt"
	"strings"
	"time"

	"fairstick/internal/civil"
	"fairstick/internal/exchange"
	"fairstick/internal/paper"
	"fairstick/internal/programme"
	"fairstick/internal/stock"
	"fairstick/internal/web/ui"
)

// isSupply tells the things whose look-back goes by event from those that are written down with each reading.
func isSupply(key string) bool {
	return strings.HasPrefix(key, stock.SupplyKind+".") || strings.HasPrefix(key, stock.DisinfectantKind+".")
}

// byThing gives the look-back of a supply, or that of a lot of strips or control solution.
func byThing(supply, lot func(*Server, *Context) error) func(*Server, *Context) error {
	return func(s *Server, c *Context) error {
		if isSupply(c.R.PathValue("thing")) {
			return supply(s, c)
		}
		return lot(s, c)
	}
}

var (
	thingTraceShow = byThing(supplyTraceShow, traceShow)
	thingTraceCSV  = byThing(supplyTraceCSV, traceCSV)
	thingTracePDF  = byThing(supplyTracePDF, tracePDF)
)

// supplyTraceView is what a lot of a supply may have touched, for reading and print. It names no participant.
type supplyTraceView struct {
	Page    ui.Page
	Base    string
	Hold    string
	How     string
	Numbers []ui.Figure
	Says    []string
	Caption string
	Head    []string // of the events: the name, then numbers
	Days    []supplyTraceDay
	Facts   [][2]string
	Sum     string
	Log     []stockMove
	At      time.Time
}

type supplyTraceDay struct {
	Href  string
	Cells []string
}

// numbered are the columns of a table of which all but the first hold numbers.
func numbered(head []string) []ui.Col {
	cols := columns(head...)
	for i := range cols[1:] {
		cols[i+1].Num = true
	}
	return cols
}

func (c *Context) supplyTrace() (supplyTraceView, error) {
	t, err := c.s.prog.TraceSupply(c.R.Context(), c.R.PathValue("thing"))
	if err != nil {
		return supplyTraceView{}, err
	}
	l := t.Line
	v := supplyTraceView{Base: thingPath(l.Key), How: t.How, At: t.At, Facts: thingFacts(*l, civil.Of(t.At)), Sum: sumText(l), Log: stockLog(t.Room, l, false)}
	if l.Hold != nil {
		v.Hold = l.Hold.Says()
	}
	v.Page = c.officePage("Look-back: "+l.Name, v.How, "stock", &ui.Link{Href: v.Base, Label: l.Name})
	v.Page.Wide = true
	receipts := 0
	for _, m := range l.Shelf().Moves {
		if m.Kind == stock.WasReceived {
			receipts++
		}
	}
	v.Numbers = []ui.Figure{
		{Label: "People", Number: fmt.Sprint(t.People), Of: map[bool]string{true: "read after a wipe at ", false: "tested at "}[t.Knows == programme.KnownWiped] + plural(len(t.Days), "event", "events")},
		{Label: "May be called", Number: fmt.Sprint(t.MayCall), Of: fmt.Sprintf("of %d people", t.People)},
		{Label: "Still on hand", Number: fmt.Sprint(l.OnHand), Of: l.Unit},
		{Label: "At events now", Number: fmt.Sprint(l.AtEvents), Of: l.Unit},
		{Label: "Received", Number: fmt.Sprint(l.Received), Of: "in " + plural(receipts, "receipt", "receipts")},
	}
	v.Says = []string{
		fmt.Sprintf("%s may have touched %s at %s; %d of them may be called about their result.", l.Name, plural(t.People, "person", "people"), plural(len(t.Days), "event", "events"), t.MayCall),
		fmt.Sprintf("%d %s are on hand and %d at events, by the record.", l.OnHand, l.Unit, l.AtEvents),
	}
	v.Caption = plural(len(t.Days), "event, its people by count", "events, the latest first, their people by count")
	v.Head = map[programme.Knowing][]string{
		programme.KnownWiped:   {"Event", "Wipes with it", "Tested", "Read after one", "May be called"},
		programme.KnownCounted: {"Event", "Brought", "Used", "Back", "Tested", "May be called"},
		programme.KnownHeld:    {"Event", "Tested", "May be called"},
	}[t.Knows]
	for _, d := range t.Days {
		row := supplyTraceDay{Href: "/events/" + d.Event, Cells: []string{d.Name + ", " + d.Date.Long()}}
		switch t.Knows {
		case programme.KnownWiped:
			row.add(d.Wipes, d.Tested, d.Touched, d.MayCall)
		case programme.KnownCounted:
			row.add(d.Trip.Brought, d.Trip.Used, d.Trip.Back, d.Tested, d.MayCall)
		case programme.KnownHeld:
			row.add(d.Tested, d.MayCall)
		}
		v.Days = append(v.Days, row)
	}
	return v, nil
}

func (d *supplyTraceDay) add(numbers ...int) {
	for _, n := range numbers {
		d.Cells = append(d.Cells, fmt.Sprint(n))
	}
}

func supplyTraceShow(_ *Server, c *Context) error {
	v, err := c.supplyTrace()
	if err != nil {
		return err
	}
	return c.Render(200, SupplyTracePage(v))
}

func supplyTraceCSV(s *Server, c *Context) error {
	t, err := s.prog.TraceSupply(c.R.Context(), c.R.PathValue("thing"))
	if err != nil {
		return err
	}
	var buf bytes.Buffer
	if err := exchange.WriteSupplyTrace(&buf, t); err != nil {
		return err
	}
	return c.sendFile("text/csv; charset=utf-8", "look-back-"+t.At.Format("2006-01-02")+".csv", buf.Bytes())
}

func supplyTracePDF(s *Server, c *Context) error {
	v, err := c.supplyTrace()
	if err != nil {
		return err
	}
	doc := paper.Document{Title: v.Page.Title, Subtitle: v.Hold, Programme: v.Page.Programme, RecordID: strings.TrimPrefix(v.Base, "/stock/of/"), Lang: "en", Printed: v.At, Invented: s.opt.Demo != nil}
	doc.Sections = []paper.Section{{Heading: "In short", Paragraphs: append([]string{v.How}, v.Says...), Keep: true}}
	if len(v.Days) > 0 {
		sec := paper.Section{Heading: "Events", Table: &paper.Table{}}
		for i, h := range v.Head {
			col := paper.Column{Title: h, Width: 1.3, Right: i > 0}
			if i == 0 {
				col.Width = 4
			}
			sec.Table.Columns = append(sec.Table.Columns, col)
		}
		for _, d := range v.Days {
			sec.Table.Rows = append(sec.Table.Rows, d.Cells)
		}
		doc.Sections = append(doc.Sections, sec)
	}
	log := paper.Section{Heading: "What happened to it", Paragraphs: []string{v.Sum}, Table: &paper.Table{Columns: []paper.Column{
		{Title: "When", Width: 1.5}, {Title: "What", Width: 4}, {Title: "Where", Width: 2.5}, {Title: "Number", Width: 2, Right: true}, {Title: "Who", Width: 2},
	}}}
	for _, m := range v.Log {
		what := m.What
		if m.Struck != "" {
			what = "Struck: " + m.What + ". " + m.Struck
		}
		log.Table.Rows = append(log.Table.Rows, []string{m.When, what, m.Where, m.Number, m.Who})
	}
	if len(v.Log) > 0 {
		doc.Sections = append(doc.Sections, log)
	}
	return c.sendPDF("look-back-"+v.At.Format("2006-01-02"), doc)
}
