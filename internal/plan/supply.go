package plan

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
)

// GloveSize is how many of the people who wear gloves need a size.
type GloveSize struct {
	Size   string `json:"size"`
	People int    `json:"people"`
}

// Language is which share of the forms is printed in a language.
type Language struct {
	Name  string  `json:"name"`
	Share float64 `json:"share"`
}

// Store is what the needs depend on beside the people: what is on hand, of what size, and what it costs.
type Store struct {
	Controls   Controls
	Strips     StripStock
	Gloves     []GloveSize
	Languages  []Language
	Packs      map[string]Pack // by item, for those that have a price; a size of 0 is the usual one
	SharpsHold int             // lancets that fill a container
	Solutions  []string        // names of the levels of control solution, for a line each; empty for one line
	Misfires   float64         // share of lancets that fail
	Seen       float64         // share of the referred who are seen by somebody
	TurnedAway int             // cents that a person costs who cannot be tested; 0 for no choice by cost
}

// Supply is one line of the packing list.
type Supply struct {
	Item   string `json:"item"`
	Name   string `json:"name"`
	Need   int    `json:"need"` // suffices with the chance wanted
	Mean   int    `json:"mean"` // rounded up
	Pack   int    `json:"pack"` // pieces in one
	Packs  int    `json:"packs"`
	Cost   *int   `json:"cost"`              // cents; nil without a price
	ByCost *int   `json:"by_cost,omitempty"` // packs that cost the least when what is left expires
	Why    string `json:"why"`
}

// Cost adds up the lines that have a price.
type Cost struct {
	Cents       int      `json:"cents"`
	PerTested   float64  `json:"per_tested"`   // cents, on average
	PerReferral float64  `json:"per_referral"` // cents for each person referred
	PerSeen     float64  `json:"per_seen"`     // cents for each referred person who is seen
	Unpriced    []string `json:"unpriced"`
}

// Supplies is the packing list.
type Supplies struct {
	Lines  []Supply `json:"lines"`
	Strips StripUse `json:"strips"` // on a day that needs as many as are packed
	Enough Estimate `json:"enough"` // chance that no line runs out; several lines of 95 % each make less than 95 %
	Cost   *Cost    `json:"cost"`   // nil without any price
}

// Needs that our reference gives without a paper; all common practice, for a programme to change.
const (
	secondStick  = 0.5  // of strip errors; with the repeats a second stick for some 6 % of people
	gloveSpoil   = 0.15 // of pairs
	swabSpoil    = 0.20
	gauzeSpoil   = 0.20 // of people, on top of two pieces each
	bandageSpoil = 0.15
	towelSpoil   = 0.10
	formSpoil    = 0.05 // of those who come; who leaves or declines has had a form too
	slipSpoil    = 0.15 // of those tested
	surfaceWipes = 20
	treatments   = 4
	sharpsHold   = 150 // lancets of the single-use kind in one quart; containers of needles are said to hold more
)

// DowntimeForms is how many numbered paper forms lie ready for when the network or a tablet fails (common practice).
const DowntimeForms = 30

// sharpsFull is how full a container may be in quarters before it is changed. Source: the three-quarters rule of the FDA's advice on sharps
// (from memory); some states have a stricter one.
const sharpsFull = 3

// need counts pieces of one item, day by day.
type need struct {
	item, name, why string
	pack            int
	expires         bool
	days            []int
}

type packer struct {
	counts []Count
	rng    *rand.Rand
	needs  []need
}

// each adds an item that is used by people: so many each, and for a share of them one more.
func (p *packer) each(item, name, why string, pack, pieces int, more float64, fixed int, people func(Count) int) {
	days := make([]int, len(p.counts))
	for i, c := range p.counts {
		n := people(c)
		days[i] = pieces*n + binomial(n, more, p.rng) + fixed
	}
	p.needs = append(p.needs, need{item: item, name: name, why: why, pack: pack, days: days})
}

// set adds an item of which the number does not depend on the day.
func (p *packer) set(item, name, why string, pack, pieces int) {
	p.needs = append(p.needs, need{item: item, name: name, why: why, pack: pack, days: slices.Repeat([]int{pieces}, len(p.counts))})
}

func binomial(n int, share float64, rng *rand.Rand) int {
	if share == 0 {
		return 0
	}
	hits := 0
	for range n {
		if rng.Float64() < share {
			hits++
		}
	}
	return hits
}

func (s Store) check() error {
	if err := s.Controls.check(); err != nil {
		return err
	}
	if err := checkLots(s.Strips.Lots); err != nil {
		return err
	}
	if n := len(s.Solutions); n > 0 && n != s.Controls.Levels {
		return bad("plan-controls", "Name each level once.", "%d names do not fit %d levels of control solution.", n, s.Controls.Levels)
	}
	shares := 0.0
	for _, l := range s.Languages {
		if !share(l.Share) {
			return bad("plan-language", "Write 40 % as 0.4.", "A share of %v for forms in %s cannot be right.", l.Share, l.Name)
		}
		shares += l.Share
	}
	if len(s.Languages) > 0 && math.Abs(shares-1) > 1e-9 {
		return bad("plan-language", "Let the shares add up to 1.", "The shares of the languages make %v.", shares)
	}
	people := 0
	for _, g := range s.Gloves {
		if g.People < 0 {
			return bad("plan-gloves", "", "%d people cannot wear gloves of size %s.", g.People, g.Size)
		}
		people += g.People
	}
	if len(s.Gloves) > 0 && people == 0 {
		return bad("plan-gloves", "Say for how many people each size is.", "Nobody wears the gloves.")
	}
	for item, p := range s.Packs {
		if p.Size < 0 || p.Cents < 0 || p.Size > 1_000_000 || p.Cents > 1_000_000_00 {
			return bad("plan-packs", "Give a size and a price that are not negative.", "A pack of %d %s for %d cents cannot be.", p.Size, item, p.Cents)
		}
	}
	if s.SharpsHold < 2 || s.Strips.Vial < 1 || s.Strips.Meters < 0 || s.TurnedAway < 0 || !(s.Seen > 0 && s.Seen <= 1) || !share(s.Misfires) {
		return bad("plan-store", "", "A sharps container for %d lancets, vials of %d strips and a share of %v that is seen cannot be planned.", s.SharpsHold, s.Strips.Vial, s.Seen)
	}
	return nil
}

// Pack gives what the drawn days use up: of each item the number that sufficed on a share sure of them, rounded up to packs. posts are those at
// the desk, the test and the explanation. Each line by itself suffices with that chance; Enough says how often all do together.
func (d *Days) Pack(s Store, posts [3]int, sure float64, rng *rand.Rand) (Supplies, error) {
	if !(sure >= 0.5 && sure <= 0.99) {
		return Supplies{}, bad("plan-sure", "Write 95 % as 0.95; at most 0.99.", "A chance of %v that a quantity suffices cannot be planned.", sure)
	}
	if err := s.check(); err != nil {
		return Supplies{}, err
	}
	p := &packer{counts: d.counts, rng: rng}
	strips := s.strips(p)
	lancets := s.lancets(p)
	s.perPerson(p)
	s.perPost(p, posts, int(NewSeen(lancets).Quantile(sure)))
	out := Supplies{}
	for _, n := range p.needs {
		line, err := s.line(n, sure)
		if err != nil {
			return Supplies{}, err
		}
		out.Lines = append(out.Lines, line)
	}
	for _, u := range strips {
		if u.Total() == out.Lines[0].Need {
			out.Strips = u
			break
		}
	}
	var enough ratio
	for day := range d.counts {
		ok := true
		for i, n := range p.needs {
			ok = ok && n.days[day] <= out.Lines[i].Packs*out.Lines[i].Pack
		}
		enough.add(truth(ok), 1)
	}
	out.Enough = enough.estimate()
	for item := range s.Packs {
		if !slices.ContainsFunc(out.Lines, func(l Supply) bool { return l.Item == item }) {
			return Supplies{}, bad("plan-item", "The items of the list are named in the output.", "The list has no item %q.", item)
		}
	}
	out.Cost = s.cost(out.Lines, d.Mean())
	return out, nil
}

func (s Store) line(n need, sure float64) (Supply, error) {
	seen := NewSeen(n.days)
	sum := 0
	for _, x := range seen {
		sum += x
	}
	l := Supply{Item: n.item, Name: n.name, Need: int(seen.Quantile(sure)), Mean: (sum + len(seen) - 1) / len(seen), Pack: n.pack, Why: n.why}
	own, priced := s.Packs[n.item]
	if own.Size > 0 {
		l.Pack = own.Size
	}
	l.Packs = Packs(l.Need, l.Pack)
	if !priced {
		return l, nil
	}
	cents := l.Packs * own.Cents
	l.Cost = &cents
	if n.expires && s.TurnedAway > 0 {
		best, err := BestPacks(seen, Pack{l.Pack, own.Cents}, float64(s.TurnedAway))
		if err != nil {
			return Supply{}, err
		}
		l.ByCost = &best
	}
	return l, nil
}

func (s Store) cost(lines []Supply, m MeanCount) *Cost {
	c := &Cost{Unpriced: []string{}}
	for _, l := range lines {
		switch {
		case l.Cost != nil:
			c.Cents += *l.Cost
		case l.Need > 0:
			c.Unpriced = append(c.Unpriced, l.Item)
		}
	}
	if len(s.Packs) == 0 {
		return nil
	}
	per := func(people float64) float64 {
		if people == 0 {
			return 0
		}
		return float64(c.Cents) / people
	}
	c.PerTested, c.PerReferral, c.PerSeen = per(m.Tested), per(m.Referred), per(float64(m.Referred*s.Seen))
	return c
}

func (s Store) strips(p *packer) []StripUse {
	uses, days := make([]StripUse, len(p.counts)), make([]int, len(p.counts))
	vials := usable(s.Strips.Lots, s.Strips.Day)
	runs := s.Controls.Levels * s.Strips.Meters * (1 + s.Controls.LotChanges)
	for i, c := range p.counts {
		people, repeats := c.Tested+c.Repeats+c.Errors, binomial(runs, s.Controls.Repeats, p.rng)
		if len(s.Strips.Lots) == 0 {
			uses[i] = s.Controls.bought(people, repeats, s.Strips)
		} else {
			uses[i] = s.Controls.stocked(people, repeats, s.Strips.Meters, vials)
		}
		days[i] = uses[i].Total()
	}
	why := fmt.Sprintf("tests, repeats, errors; controls: %d levels on %d meters", s.Controls.Levels, s.Strips.Meters)
	p.needs = append(p.needs, need{item: "strips", name: "test strips", why: why, pack: s.Strips.Vial, expires: true, days: days})
	return uses
}

func (s Store) lancets(p *packer) []int {
	days := make([]int, len(p.counts))
	for i, c := range p.counts {
		sticks := c.Tested + c.Repeats + binomial(c.Errors, secondStick, p.rng)
		days[i] = sticks + binomial(sticks, s.Misfires, p.rng)
	}
	p.needs = append(p.needs, need{item: "lancets", name: "single-use lancets", why: "sticks, second sticks, misfires; never a reusable pen", pack: 100, expires: true, days: days})
	return days
}

func tested(c Count) int { return c.Tested }

// perPerson adds what each person uses. Packs are the usual ones (common practice); a programme gives its own.
func (s Store) perPerson(p *packer) {
	const change = "one pair a person, changed between people"
	if len(s.Gloves) == 0 {
		p.each("gloves", "gloves, pairs (sizes as the roster asks)", change, 50, 1, gloveSpoil, 0, tested)
	} else {
		s.gloves(p, change)
	}
	p.each("swabs", "alcohol swabs", "one a stick", 100, 1, swabSpoil, 0, tested)
	p.each("gauze", "gauze pads", "first drop and pressure", 200, 2, gauzeSpoil, 0, tested)
	p.each("bandages", "bandages", "one a stick", 100, 1, bandageSpoil, 0, tested)
	p.each("wipes", "disinfectant wipes", "two a test, to clean and to disinfect, and 20 for surfaces", 160, 2, 0, surfaceWipes, tested)
	p.each("towels", "paper towels", "hands are washed and dried", 100, 1, towelSpoil, 0, func(c Count) int { return c.Tested + c.Repeats })
	languages := s.Languages
	if len(languages) == 0 {
		languages = []Language{{"", 1}}
	}
	for _, l := range languages {
		item, name := "forms", "consent forms and questionnaires"
		if l.Name != "" {
			item, name = "forms-"+l.Name, name+", "+l.Name
		}
		p.each(item, name, "one for each person who comes", 1, 1, formSpoil, 0, func(c Count) int {
			if l.Share == 1 {
				return c.Came
			}
			return binomial(c.Came, l.Share, p.rng)
		})
	}
	p.each("slips", "result slips", "one for each person tested", 1, 1, slipSpoil, 0, tested)
}

// gloves splits the pairs by the sizes of those who wear them: all test about as many people.
func (s Store) gloves(p *packer, why string) {
	people := 0
	for _, g := range s.Gloves {
		people += g.People
	}
	for _, g := range s.Gloves {
		part := float64(g.People) / float64(people)
		p.each("gloves-"+g.Size, "gloves, pairs, size "+g.Size, why, 50, 1, gloveSpoil, 0, func(c Count) int { return binomial(c.Tested, part, p.rng) })
	}
}

// perPost adds what each post or the event needs.
func (s Store) perPost(p *packer, posts [3]int, lancets int) {
	desk, test, explain := posts[0], posts[1], posts[2]
	if len(s.Solutions) == 0 {
		p.set("control-solution", "control solution, vials", "one of each level", 1, s.Controls.Levels)
	}
	for _, level := range s.Solutions {
		p.set("control-solution-"+level, "control solution, level "+level+", bottles", "one for all meters", 1, 1)
	}
	p.set("meters", "meters", "in use and spare; one spare for four", 1, s.Strips.Meters)
	p.set("batteries", "sets of batteries for meters", "one for each meter", 1, s.Strips.Meters)
	p.set("sharps", "sharps containers", "one within reach of each post and one spare, changed when three quarters full", 1, SharpsContainers(lancets, test, s.SharpsHold)+1)
	p.set("biohazard-bags", "biohazard bags", "one for each test post and one more", 1, test+1)
	p.set("sanitiser", "hand sanitiser, bottles", "one for each test post", 1, test)
	p.set("table-covers", "table covers and absorbent pads", "one for each post and two more", 1, desk+test+explain+2)
	p.set("downtime-forms", "numbered paper forms", "when the network or a tablet fails", 1, DowntimeForms)
	p.set("glucose", "treatments of glucose or juice", "for somebody whose sugar is low", 1, treatments)
	p.set("first-aid", "first-aid kit, emergency card, thermometer, soap, extension lead", "one set", 1, 1)
}

// SharpsContainers gives how many containers a number of lancets fills to three quarters when they are spread evenly over the posts, each with a
// container of its own. hold is how many fill one.
func SharpsContainers(lancets, posts, hold int) int {
	usable := hold * sharpsFull / 4
	if posts < 1 || usable < 1 {
		return 0
	}
	return posts * max(1, Packs(Packs(lancets, posts), usable))
}
