package programme

import (
	"math"
	"slices"
	"strings"

	"fairstick/internal/civil"
	"fairstick/internal/plan"
	"fairstick/internal/stock"
)

// packItems are the lines of a packing list by what a thing is used for.
var packItems = map[stock.Use]string{
	stock.UseStrips: "strips", stock.UseLancets: "lancets", stock.UseSwabs: "swabs", stock.UseGauze: "gauze", stock.UseBandages: "bandages",
	stock.UseWipes: "wipes", stock.UseTowels: "towels", stock.UseSharps: "sharps", stock.UseSugar: "glucose", stock.UseConsent: "forms", stock.UseSlips: "slips",
}

// Packs gives the pack of each line of a packing list and what it costs by the programme's own invoices, at the mean price of all of
// them, in minor units of the currency of the latest invoice; prices in another currency are left out. Of several things of one use the
// one that was bought last counts. sizes are the glove sizes of the list, none standing for gloves of any size; levels are those of its control
// solution, each with a price of its own.
func (r *Stockroom) Packs(sizes, levels []string) (packs map[string]plan.Pack, currency string) {
	var latest civil.Date
	for _, l := range r.Lines {
		if l.Price != nil && (currency == "" || l.Price.On.After(latest)) {
			latest, currency = l.Price.On, l.Price.Currency
		}
	}
	packs = map[string]plan.Pack{}
	bought := map[string]civil.Date{}
	for _, l := range r.Lines {
		if l.Price == nil || l.Price.Currency != currency || l.Pack() <= 0 {
			continue
		}
		if c, ok := l.of.(*stock.ControlLot); ok && !slices.Contains(levels, c.Details.Level) {
			continue
		}
		for _, item := range l.items(sizes) {
			if on, ok := bought[item]; item == "" || ok && !l.Price.On.After(on) {
				continue
			}
			bought[item] = l.Price.On
			packs[item] = plan.Pack{Size: l.Pack(), Cents: int(math.Round(float64(l.Price.Mean * float64(l.Pack()))))}
		}
	}
	return packs, currency
}

// Have counts, for each line of a packing list, the pieces on hand that may still be used on a day. Gloves of no known size are left out
// when the list goes by size, since they would count for each of them.
func (r *Stockroom) Have(day civil.Date, sizes []string) map[string]int {
	have := map[string]int{}
	for _, l := range r.Lines {
		items := l.items(sizes)
		if !l.Kept || l.Out() || len(items) != 1 || items[0] == "" {
			continue
		}
		n := l.OnHand
		if l.Expiry != (civil.Date{}) && l.Expiry.Before(day) {
			n = 0
		}
		have[items[0]] += n
	}
	return have
}

// items are the lines of a packing list that a thing is for.
func (l StockLine) items(sizes []string) []string {
	if l.Use == stock.UseGloves {
		return gloveItems(l.Name, sizes)
	}
	if c, ok := l.of.(*stock.ControlLot); ok {
		return []string{"control-solution-" + c.Details.Level}
	}
	return []string{packItems[l.Use]}
}

// gloveItems are the lines that a box of gloves is for: its own size, or every size when its name says none.
func gloveItems(name string, sizes []string) []string {
	if len(sizes) == 0 {
		return []string{"gloves"}
	}
	var all, own []string
	words := strings.FieldsFunc(name, func(c rune) bool { return c == ' ' || c == ',' })
	for _, s := range sizes {
		all = append(all, "gloves-"+s)
		for _, w := range words {
			if strings.EqualFold(w, s) {
				own = append(own, "gloves-"+s)
			}
		}
	}
	for _, w := range words { // a box of a size that nobody on the roster wears
		if len(own) == 0 && strings.EqualFold(w, "size") {
			return nil
		}
	}
	if len(own) > 0 {
		return own
	}
	return all
}
