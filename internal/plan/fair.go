package plan

import (
	"cmp"
	"math/rand/v2"
	"sync"
)

// The stations of a fair, in the order in which people pass them.
const (
	Desk    = "desk"
	Test    = "test"
	Explain = "explain"
)

// Times are the service times of the stations, in minutes.
type Times struct {
	Desk     Dist    `json:"desk"`
	Test     Dist    `json:"test"`     // with the person
	Wipe     float64 `json:"wipe"`     // the meter, and new gloves
	Wet      float64 `json:"wet"`      // the contact time of the disinfectant; the label of the wipe decides
	Repeat   Dist    `json:"repeat"`   // washing and a second test
	Explain  Dist    `json:"explain"`  // of a result in range
	Referral Dist    `json:"referral"` // of one with advice to see somebody
}

// DefaultTimes are our own proposal (common practice): 4 minutes at the desk (2 to 6); 8.5 for the whole cycle of a test (6 to 12) of which 6 with
// the person, half a minute to wipe and 2 while the meter is wet; 4 to explain a result in range (2 to 6) and 12 one with a referral (8 to 18). The
// coefficients of variation are those of triangles over these ranges. Measured by others: a bedside test by nurses took 5.19 minutes, SD 0.66
// (Malesker M, Chest 2010;138:285A); counselling after a pharmacy screening 11.6, SD 6.5 (BMJ Open, n 112). Contact times of wipes go from 1 to 4
// minutes (from memory).
var DefaultTimes = Times{
	Desk:     Dist{LogNormal, 4, 0.22},
	Test:     Dist{LogNormal, 6, 0.21},
	Wipe:     0.5,
	Wet:      2,
	Repeat:   Dist{LogNormal, 4, 0.25},
	Explain:  Dist{LogNormal, 4, 0.22},
	Referral: Dist{LogNormal, 12, 0.17},
}

// DefaultFunnel: 4 % leave before the test, 12 % know that they have diabetes and 3 % are not eligible for another reason, 2 % decline; 4 % of those
// tested are repeated and 4 % have a strip error, 15 % are referred. All common practice but these: 15 % referred for glucose in US pharmacies
// (Snella KA 2006, PMID 16739759); operator and strip errors 2.4 to 3.8 % (Corl 2012, J Healthc Qual).
var DefaultFunnel = Funnel{Leaves: 0.04, NotEligible: 0.15, Declines: 0.02, Repeats: 0.04, Errors: 0.04, Referred: 0.15}

// DefaultScatter is by how much a turnout differs from what was expected, as a coefficient of variation (common practice).
const DefaultScatter = 0.2

// DefaultSeen is the share of the referred who are seen: 80 % permit a call (common practice), 66 % of them are reached (Pardeshi, IJCMPH 1321), 55 %
// of those are seen (common practice; 49 to 65 % in the same and two other reports).
const DefaultSeen = 0.80 * 0.66 * 0.55

// DefaultMisfires is the share of lancets that fail (common practice).
const DefaultMisfires = 0.02

// RoughCents is what consumables cost for each person tested when no prices are given (common practice, from memory; 120 to 300).
const RoughCents = 200

// mostExpected is the largest event that is planned as one.
const mostExpected = 2000

// Input is what a plan is made from. Begin with Defaults.
type Input struct {
	Expected    int
	Hours       Hours
	Profile     Profile
	Scatter     float64
	Funnel      Funnel
	Times       Times
	Posts       [3]int // at desk, test and explanation; 0 to be found
	Meters      int    // in use; 0 for one at each test post
	Promise     Promise
	Sure        float64 // that the promise is kept in the long run, and that each supply suffices
	Supervision Supervision
	NoShow      float64
	Days        int
	Store       Store
}

// Defaults gives an input with all defaults and the flat profile. The number of days falls with their size, so that the work does not grow.
func Defaults(expected int, h Hours) Input {
	return Input{
		Expected: expected, Hours: h, Profile: Profile{"flat", []Part{{float64(h.Minutes()), 1}}}, Scatter: DefaultScatter, Funnel: DefaultFunnel,
		Times: DefaultTimes, Promise: DefaultPromise, Sure: 0.95, Supervision: DefaultSupervision, NoShow: DefaultNoShow,
		Days: min(max(100_000/max(expected, 1), 100), 1000),
		Store: Store{
			Controls: DefaultControls, Strips: StripStock{Vial: 50}, SharpsHold: sharpsHold, Misfires: DefaultMisfires, Seen: DefaultSeen,
		},
	}
}

// Flow gives the event as a flow of three stations.
func (in Input) Flow() Flow {
	t := in.Times
	return Flow{
		Arrivals: Arrivals{float64(in.Expected), in.Profile, in.Scatter},
		Funnel:   in.Funnel,
		Stations: []Station{
			{Key: Desk, Service: t.Desk},
			{Key: Test, Service: t.Test, Repeat: t.Repeat, Wipe: t.Wipe, Wet: t.Wet},
			{Key: Explain, Service: t.Explain, Referred: t.Referral},
		},
	}
}

// Plan is the whole answer.
type Plan struct {
	Posts       [3]int         `json:"posts"`
	Supervisors int            `json:"supervisors"`       // as wanted
	Least       int            `json:"supervisors_least"` // by the highest ratio allowed
	Kept        bool           `json:"kept"`              // the promise is kept with the confidence wanted
	Confidence  float64        `json:"confidence"`
	Looked      int            `json:"looked"` // setups that were simulated in the search
	Would       *Choice        `json:"would"`  // the cheapest posts that keep the promise, when some posts or meters are given; nil when nothing would
	Longer      int            `json:"longer"` // minutes that these posts could promise, when they do not keep what is promised; 0 when they do, or when none would
	Result      Result         `json:"result"`
	Changes     []Change       `json:"changes"`
	Bottleneck  Bottleneck     `json:"bottleneck"`
	Volunteers  Roster         `json:"volunteers"` // for all three stations together
	Screeners   Roster         `json:"screeners"`  // for the test alone: all of them verified
	People      MeanCount      `json:"people"`
	Supplies    Supplies       `json:"supplies"`
	Quick       []QuickStation `json:"quick"`
}

// StationName gives a station, or the meters, in words.
func StationName(key string) string {
	switch key {
	case Desk:
		return "the desk"
	case Test:
		return "the test"
	case Explain:
		return "the explanation"
	case Meters:
		return "the number of meters"
	}
	return key
}

func (in Input) check() error {
	switch {
	case in.Expected < 1:
		return bad("plan-expected", "Give the number of people that you expect, at least 1.", "An event with %d expected people cannot be planned.", in.Expected)
	case in.Expected > mostExpected:
		return bad("plan-expected", "Plan up to 2,000 people at once; larger events as several.", "%d people are more than one event can be planned for.", in.Expected)
	case !(in.NoShow >= 0 && in.NoShow <= 0.9):
		return bad("plan-no-show", "Write 15 % as 0.15; at most 0.9.", "A share of %v of the volunteers who stay away cannot be planned.", in.NoShow)
	}
	if err := in.Hours.check(); err != nil {
		return err
	}
	return in.Promise.check()
}

// search says what is looked for: every person costs the same, and so does a supervisor for those who touch people or explain results.
func (in Input) search() Search {
	return Search{
		Promise: in.Promise, Sure: in.Sure, Fixed: in.Posts[:], Meters: in.Meters, Cost: []float64{1, 1, 1},
		Watched: []bool{false, true, true}, Supervision: in.Supervision, SupervisorCost: 1,
	}
}

// Make makes a plan: it draws days, finds the posts that are not given, runs the days under them and packs for them. Everything typed that cannot
// be right is a *fault.Fault. When the given posts, or the given meters, cannot keep the promise, the plan says so in Kept; free stations then
// have the posts that keep pace with the fullest hour. Beside anything that is given, Would says what is cheapest when all is free.
func Make(in Input, rng *rand.Rand) (Plan, error) {
	if err := in.check(); err != nil {
		return Plan{}, err
	}
	days, err := Draw(in.Flow(), in.Days, rng)
	if err != nil {
		return Plan{}, err
	}
	var p Plan
	if err := p.staff(in, days); err != nil {
		return Plan{}, err
	}
	posts := p.Posts[:]
	setup := Setup{posts, in.Meters}
	var side sync.WaitGroup
	var wrong error
	side.Go(func() { p.Changes, wrong = days.Changes(setup, in.Promise) })
	p.Result, err = days.Run(setup, in.Promise)
	side.Wait()
	if err = cmp.Or(err, wrong); err != nil {
		return Plan{}, err
	}
	if !p.Kept {
		p.Longer = days.longer(setup, in.Promise, in.Sure, p.Result.Total.P90.Value)
	}
	p.Bottleneck = FindBottleneck(p.Result, p.Changes, StationName)
	p.Supervisors, p.Least = in.Supervision.Need(p.Posts[1] + p.Posts[2])
	if p.Volunteers, err = NewRoster(posts[0]+posts[1]+posts[2], in.NoShow, in.Sure); err != nil {
		return Plan{}, err
	}
	if p.Screeners, err = NewRoster(posts[1], in.NoShow, in.Sure); err != nil {
		return Plan{}, err
	}
	p.People = days.Mean()
	store := in.Store
	if store.Strips.Meters == 0 {
		store.Strips.Meters = max(in.Meters, p.Posts[1]) + (p.Posts[1]+3)/4 // one spare for four
	}
	if p.Supplies, err = days.Pack(store, p.Posts, in.Sure, rng); err != nil {
		return Plan{}, err
	}
	p.Quick, err = in.Flow().Quick(posts)
	return p, err
}

// staff finds the posts, and what is cheapest where some are given.
func (p *Plan) staff(in Input, days *Days) error {
	c, found, err := days.Cheapest(in.search())
	if err != nil {
		return err
	}
	p.Kept, p.Looked = found, c.Looked
	if found {
		p.Posts, p.Confidence = [3]int(c.Posts), c.Confidence
	} else {
		for k := range p.Posts {
			p.Posts[k] = in.Posts[k]
			if p.Posts[k] == 0 {
				p.Posts[k] = days.ruleOfThumb(k)
			}
		}
		b, err := days.Look(Setup{p.Posts[:], in.Meters}, in.Promise)
		if err != nil {
			return err
		}
		p.Confidence = b.Confidence(in.Promise)
	}
	if found && in.Posts == [3]int{} && in.Meters == 0 {
		return nil
	}
	free := in
	free.Posts, free.Meters = [3]int{}, 0
	would, found, err := days.Cheapest(free.search())
	if err != nil {
		return err
	}
	p.Looked += would.Looked
	if found {
		p.Would = &would
	}
	return nil
}
