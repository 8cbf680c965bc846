package stock

import (
	"cmp"
	"slices"

	"fairstick/internal/civil"
	"fairstick/internal/fact"
)

// Use is what a thing is in a supply list, whatever its name on the box.
type Use string

// The uses that have a rate.
const (
	UseStrips   Use = "strips"
	UseLancets  Use = "lancets"
	UseGloves   Use = "gloves"
	UseSwabs    Use = "swabs"
	UseGauze    Use = "gauze"
	UseBandages Use = "bandages"
	UseWipes    Use = "wipes"
	UseTowels   Use = "towels"
	UseSharps   Use = "sharps"
	UseSugar    Use = "sugar"
	UseConsent  Use = "consent-forms"
	UseSlips    Use = "result-slips"
)

// Rate is how much of something a fair uses for each 100 people tested.
type Rate struct {
	Use    Use    `json:"use"`
	Name   string `json:"name"`
	Unit   string `json:"unit"`
	Per100 int    `json:"per_100"`
	Why    string `json:"why"`
}

// Rates are simple rates per 100 tested: common practice, estimates of the programme's own notes rather than published
// figures. A plan of one event can do better from its own queue and meters.
var Rates = []Rate{
	{UseStrips, "Test strips", "strips", 140, "100, 8 % for repeats and errors, and two levels of control on each meter: 125 to 140; the upper end"},
	{UseLancets, "Lancets", "lancets", 112, "a second stick for 6 %, misfires of 2 %, a reserve"},
	{UseGloves, "Gloves", "pairs", 115, "one pair for each participant"},
	{UseSwabs, "Alcohol swabs", "swabs", 120, "one for each stick, a reserve"},
	{UseGauze, "Gauze or cotton", "pieces", 220, "the first drop wiped away, then pressure"},
	{UseBandages, "Bandages", "bandages", 115, "one for each stick, a reserve"},
	{UseWipes, "Disinfectant wipes", "wipes", 240, "two for each test, 20 for surfaces"},
	{UseTowels, "Paper towels", "towels", 110, "washed hands"},
	{UseSharps, "Sharps containers", "containers", 6, "one for each of five fingerstick posts, one spare"},
	{UseSugar, "Glucose tablets or juice", "treatments", 4, "for a low reading"},
	{UseConsent, "Consent and questionnaire forms", "forms", 115, "15 % are spoilt, declined or left"},
	{UseSlips, "Result slips", "slips", 145, "115, and 30 on paper for when the laptop fails"},
}

// RateOf finds the rate of a use.
func RateOf(u Use) (Rate, bool) {
	for _, r := range Rates {
		if r.Use == u {
			return r, true
		}
	}
	return Rate{}, false
}

// For is what an event with this many expected people uses, rounded up; 0 for nobody.
func (r Rate) For(expected int) int { return (max(0, expected)*r.Per100 + 99) / 100 }

// Demand is one planned event.
type Demand struct {
	Event    string     `json:"event"`
	Name     string     `json:"name"`
	Date     civil.Date `json:"date"`
	Expected int        `json:"expected"`
}

// Batch is pieces of one item that may be used until it expires.
type Batch struct {
	Item   fact.Ref
	Use    Use
	Expiry civil.Date // zero when none is printed
	N      int
}

// Order is what the planned events need of one use, and what is missing of it.
type Order struct {
	Rate    Rate       `json:"rate"`
	Need    int        `json:"need"`        // of all planned events
	Usable  int        `json:"usable"`      // on hand and not held, whether it lasts or not
	Missing int        `json:"missing"`     // what the events lack when each takes the earliest expiry that still holds on its day
	First   string     `json:"first"`       // the first event that lacks something; empty for none
	On      civil.Date `json:"on,omitzero"` // its day
}

// Orders tells for every rate what to order for the planned events. Events are served in the order of their dates, each from
// the batch that expires first and can be used on its day (the day of expiry counts as usable; ties by id).
func Orders(rates []Rate, events []Demand, batches []Batch) []Order {
	events = slices.Clone(events)
	slices.SortStableFunc(events, func(a, b Demand) int {
		if a.Date != b.Date {
			if a.Date.Before(b.Date) {
				return -1
			}
			return 1
		}
		return cmp.Compare(a.Event, b.Event)
	})
	var out []Order
	for _, r := range rates {
		var own []Batch
		o := Order{Rate: r}
		for _, b := range batches {
			if b.Use == r.Use && b.N > 0 {
				own = append(own, b)
				o.Usable += b.N
			}
		}
		slices.SortStableFunc(own, func(a, b Batch) int {
			return cmp.Or(byExpiry(a.Expiry, b.Expiry), cmp.Compare(a.Item.ID, b.Item.ID))
		})
		for _, e := range events {
			n := r.For(e.Expected)
			o.Need += n
			for i := range own {
				if gone(own[i].Expiry, e.Date) == 0 {
					k := min(n, own[i].N)
					own[i].N -= k
					n -= k
				}
			}
			if n > 0 && o.First == "" {
				o.First, o.On = e.Name, e.Date
			}
			o.Missing += n
		}
		out = append(out, o)
	}
	return out
}
