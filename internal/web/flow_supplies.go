package web

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"fairstick/internal/plan"
	"fairstick/internal/programme"
	"fairstick/internal/stock"
	"fairstick/internal/web/ui"
)

// packingLine is one line of the packing list.
type packingLine struct{ Name, Why, Need, Packs, Have, Cost string }

// packing is what to pack, with what can be said of all of it.
type packing struct {
	Said   []string
	Lines  []packingLine
	Priced bool
	Kept   bool        // something on it is kept in stock
	Short  string      // in a line
	Take   *reportPart // which vials and bottles, in which order; nil when nothing of them is known

	TakeShort string
}

func packingOf(in plan.Input, p plan.Plan, room *programme.Stockroom, d *programme.Day) packing {
	_, currency := room.Packs(nil, nil)
	have, hand := room.Have(d.Event.Plan.Date, gloveSizes(in)), room.ForEvent(d)
	hand.Counts(have)
	missing, lacks := 0, 0
	out := packing{
		Said:   []string{fmt.Sprintf("Each line suffices on %.0f of 100 such days; all lines together on %.0f of 100.", 100*in.Sure, math.Floor(100*p.Supplies.Enough.Value))},
		Priced: p.Supplies.Cost != nil,
	}
	for _, l := range p.Supplies.Lines {
		line := packingLine{Name: capitalised(l.Name), Why: l.Why, Need: strconv.Itoa(l.Need), Packs: strconv.Itoa(l.Packs), Have: "-", Cost: "-"}
		if l.Pack > 1 {
			line.Packs = fmt.Sprintf("%d of %d", l.Packs, l.Pack)
		}
		if l.Cost != nil {
			line.Cost = stock.Money(int64(*l.Cost), currency)
		}
		if n, kept := have[l.Item]; kept {
			out.Kept, line.Have = true, strconv.Itoa(n)
			if n < l.Need {
				line.Have += fmt.Sprintf(", %d short", l.Need-n)
				lacks++
				if l.Cost != nil {
					missing += plan.Packs(l.Need-n, l.Pack) * in.Store.Packs[l.Item].Cents
				}
			}
		}
		out.Lines = append(out.Lines, line)
	}
	if !out.Priced {
		rough := plan.RoughCents / 100.0
		out.Said = append(out.Said, fmt.Sprintf("The plan has no prices: as a rough guess consumables cost $%.2f for each of the %.0f people tested, some $%.0f (common practice, from memory). Type receipts with their prices under Stock, and they stand here.",
			rough, p.People.Tested, math.Round(float64(rough*p.People.Tested))))
	}
	if k := p.Supplies.Cost; k != nil {
		money := func(minor float64) string { return stock.Money(int64(math.Round(minor)), currency) }
		said := fmt.Sprintf("What has a price costs %s in whole packs, at the mean of the programme's own invoices: %s for each person tested, %s for each person referred, %s for each one who is seen.",
			money(float64(k.Cents)), money(k.PerTested), money(k.PerReferral), money(k.PerSeen))
		if len(k.Unpriced) > 0 {
			said += fmt.Sprintf(" %s no price yet.", plural(len(k.Unpriced), "line has", "lines have"))
		}
		if missing > 0 {
			said += fmt.Sprintf(" To buy what is short, as far as it has a price: %s.", money(float64(missing)))
		}
		out.Said = append(out.Said, said)
	}
	switch {
	case out.Kept && lacks > 0:
		out.Said = append(out.Said, fmt.Sprintf("Of what is kept in stock, %s short.", plural(lacks, "line is", "lines are")))
	case out.Kept:
		out.Said = append(out.Said, "What is kept in stock suffices.")
	}
	out.Take = takePart(in, p, hand)
	out.Short = plural(len(out.Lines), "line", "lines")
	if out.Kept {
		out.Short += ", " + plural(lacks, "is", "are") + " short of what is kept in stock"
	}
	if k := p.Supplies.Cost; k != nil {
		out.Short += ", " + stock.Money(int64(k.Cents), currency)
	}
	switch u := p.Supplies.Strips; {
	case hand.Loaded:
		out.TakeShort = "the event has its stock already"
	case !hand.Kept:
		out.TakeShort = "strips are not kept in stock"
	case u.Short > 0:
		out.TakeShort = plural(u.Short, "strip is", "strips are") + " missing"
	default:
		out.TakeShort = fmt.Sprintf("the stock has the %d strips", u.Total())
	}
	return out
}

// takePart says which vials and bottles of the stock go to the event, what can be used the shortest first, what stays behind, and what is
// missing; nil when neither strips nor control solution are kept in stock.
func takePart(in plan.Input, p plan.Plan, hand programme.EventStock) *reportPart {
	part := reportPart{
		Key: "take", Heading: "Which vials and bottles, in this order", Empty: "Nothing on hand can be taken.",
		Cols: []ui.Col{{Label: "Take"}, {Label: "Last day of use"}, {Label: "Strips on hand", Num: true}, {Label: "Needed of them", Num: true}},
	}
	if hand.Loaded {
		part.Said, part.Empty = []string{"The event has its stock already."}, "What was brought stands under Open."
		return &part
	}
	if hand.Kept {
		u := p.Supplies.Strips
		for _, t := range u.Takes {
			e := hand.Entries[t.Entry]
			name := fmt.Sprintf("Strip lot %s, %s", e.Lot, plural(t.Vials, "sealed vial", "sealed vials"))
			if e.Vial != "" {
				name = fmt.Sprintf("Strip lot %s, open vial %s", e.Lot, e.Vial)
			}
			part.Rows = append(part.Rows, []string{name, e.Last.Long(), strconv.Itoa(e.Pieces), strconv.Itoa(t.Strips)})
		}
		part.Said = append(part.Said, stripsSaid(in, p, u))
	}
	for _, l := range hand.Levels {
		if f := l.First; f != nil {
			name := fmt.Sprintf("Control solution level %s, lot %s, sealed", l.Level, f.Lot)
			if f.Vial != "" {
				name = fmt.Sprintf("Control solution level %s, lot %s, open bottle %s", l.Level, f.Lot, f.Vial)
			}
			part.Rows = append(part.Rows, []string{name, f.Last.Long(), "-", "-"})
		} else if hand.Kept || l.Kept {
			part.Said = append(part.Said, fmt.Sprintf("Control solution of level %s: no bottle can be used on that day. Without it no meter is cleared.", l.Level))
		}
	}
	for _, b := range hand.Behind {
		part.Said = append(part.Said, fmt.Sprintf("Stays here: %s (%s).", b.Name, b.Why))
	}
	if len(part.Rows) == 0 && len(part.Said) == 0 {
		return nil
	}
	if len(hand.Before) > 0 {
		var names []string
		for _, e := range hand.Before {
			names = append(names, e.Name+" on "+e.Date.Long())
		}
		part.Said = append(part.Said, "Not taken off here: what "+strings.Join(names, " and ")+" will use first.")
	}
	return &part
}

// stripsSaid says whether the strips on hand suffice, and what to buy if not.
func stripsSaid(in plan.Input, p plan.Plan, u plan.StripUse) string {
	needed := fmt.Sprintf("%d strips are needed, %d of them for controls", u.Total(), u.Controls)
	if u.Short == 0 {
		said := needed + "; the stock has them."
		if u.Changes > 0 {
			said += fmt.Sprintf(" The lot changes %s on the day: each meter then needs its controls again.", times(u.Changes))
		}
		return said
	}
	said := fmt.Sprintf("%s; %d are missing.", needed, u.Short)
	if len(u.Takes) == 0 {
		return said + " No strip on hand can be used on that day."
	}
	var meters int
	for _, l := range p.Supplies.Lines {
		if l.Item == "meters" {
			meters = l.Need
		}
	}
	clearing := in.Store.Controls.Levels * meters
	return said + fmt.Sprintf(" If they come from a new lot, its controls on %s take %d more: buy at least %s of %d.", plural(meters, "meter", "meters"), clearing,
		plural(plan.Packs(u.Short+clearing, p.Supplies.Lines[0].Pack), "vial", "vials"), p.Supplies.Lines[0].Pack)
}

func times(n int) string {
	switch n {
	case 1:
		return "once"
	case 2:
		return "twice"
	}
	return fmt.Sprintf("%d times", n)
}
