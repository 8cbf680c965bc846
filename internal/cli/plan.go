package cli

import (
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"text/tabwriter"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"fairstick/internal/fault"
	"fairstick/internal/plan"
)

// planAnswer is what fairstick plan --json prints. Times are minutes, money is in the unit of the prices that were given.
type planAnswer struct {
	Expected   int            `json:"expected"`
	Hours      string         `json:"hours"`
	Profile    plan.Profile   `json:"profile"`
	Posts      planPosts      `json:"posts"`
	Promise    planPromise    `json:"promise"`
	Wait       planWait       `json:"wait"`
	Stations   []planStation  `json:"stations"`
	Meters     *planMeters    `json:"meters"`             // where their number is given
	Last       float64        `json:"last_departure_min"` // after closing, mean over days
	LastP90    float64        `json:"last_departure_p90_min"`
	Quarters   []plan.Quarter `json:"quarters"`
	Bottleneck planBottleneck `json:"bottleneck"`
	Volunteers planVolunteers `json:"volunteers"`
	Funnel     plan.MeanCount `json:"funnel"`
	Supplies   []planSupply   `json:"supplies"`
	Strips     plan.StripUse  `json:"strips"`
	Enough     float64        `json:"all_supplies_suffice"`

	Cost        *float64 `json:"cost"`
	PerTested   *float64 `json:"cost_per_tested"`
	PerReferral *float64 `json:"cost_per_referral"`
	PerSeen     *float64 `json:"cost_per_referral_seen"`
	Rough       float64  `json:"rough_cost_per_tested"` // common practice, when nothing is priced
	Unpriced    []string `json:"unpriced"`
	Days        int      `json:"days"`
	Seed        uint64   `json:"seed"`
}

type planPosts struct {
	Desk        int `json:"desk"`
	Test        int `json:"test"`
	Explain     int `json:"explain"`
	Supervisors int `json:"supervisors"`
	Least       int `json:"supervisors_least"`
}

type planPromise struct {
	Share      float64    `json:"share"`
	Minutes    float64    `json:"minutes"`
	Within     float64    `json:"within"`
	Kept       bool       `json:"kept"`
	Confidence float64    `json:"confidence"`
	OneDay     float64    `json:"one_day"`
	Someone    float64    `json:"someone_over"`
	Would      *planPosts `json:"would"`
	Longer     int        `json:"would_keep_minutes"` // with these posts, when the promise is not kept
}

type planWait struct {
	Mean     float64 `json:"mean"`
	P50      float64 `json:"p50"`
	P90      float64 `json:"p90"`
	Error    float64 `json:"mc_error"` // standard error of the mean
	P50Error float64 `json:"p50_mc_error"`
	P90Error float64 `json:"p90_mc_error"`
}

type planStation struct {
	Station  string   `json:"station"`
	Posts    int      `json:"posts"`
	Mean     float64  `json:"wait_mean"`
	P90      float64  `json:"wait_p90"`
	Use      float64  `json:"use"`       // of the posts, while the doors are open
	MeterUse float64  `json:"meter_use"` // of the meters
	More     float64  `json:"p90_one_more"`
	Fewer    *float64 `json:"p90_one_fewer"` // all lines together
	Quick    *float64 `json:"steady_wait"`   // closed form at the mean pace
}

type planMeters struct {
	InUse int      `json:"in_use"`
	More  float64  `json:"p90_one_more"`
	Fewer *float64 `json:"p90_one_fewer"`
}

type planBottleneck struct {
	Station string `json:"station"`
	Hidden  bool   `json:"hidden"`
	Words   string `json:"words"`
}

type planVolunteers struct {
	All       plan.Roster `json:"all"`
	Screeners plan.Roster `json:"screeners"`
}

type planSupply struct {
	Item   string   `json:"item"`
	Name   string   `json:"name"`
	Need   int      `json:"need"`
	Mean   int      `json:"mean"`
	Pack   int      `json:"pack"`
	Packs  int      `json:"packs"`
	Cost   *float64 `json:"cost"`
	ByCost *int     `json:"packs_by_cost,omitempty"`
}

type planOptions struct {
	expected            int
	hours, profile      string
	desk, test, explain int
	meters              int
	sure, wait          float64
	scatter, noShow     float64
	contact             float64
	lotChanges          int
	perVial             bool
	prices              []string
	gloves              string
	turnedAway          string
	seed                uint64
	json                bool
}

func (c *console) planCommand() *cobra.Command {
	o := planOptions{}
	cmd := &cobra.Command{
		Use:   "plan",
		Short: "Plan an event: people at each station, waits, supplies",
		Long: `Simulates the event many times, from the first person who comes to the last who leaves, and prints how many people each
station needs, how long the lines are, what to pack and what it costs. It needs no record; the same flags and seed give the same plan.

Profiles: flat; front, 30, 35, 22 and 13 % in the quarters of the opening; lunch, fuller from 11:30 to 13:30; or one number for each hour.
What no flag gives is our own default (common practice): 4 minutes at the desk, 6 for a test and 2.5 until the meter is dry, 4 to explain a
result and 12 with a referral; 4 % leave before the test, 15 % are not eligible, 2 % decline, 15 % of those tested are referred.

Exit codes: 0 a plan, also one that says that the promise is not kept; 2 what was typed cannot be right.`,
		Example: `  fairstick plan --expected 90 --hours 09:00-13:00 --profile front
  fairstick plan --expected 90 --hours 09:00-13:00 --profile 25,30,19,10 --desk 2 --test 4 --explain 3 --json
  fairstick plan --expected 40 --hours 11:00-14:00 --profile lunch --price strips=24.50/50 --price lancets=9.80 --gloves S=2,M=4`,
		Args: noArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			var given []string
			cmd.Flags().Visit(func(f *pflag.Flag) { given = append(given, f.Name) })
			return c.plan(o, given)
		},
	}
	f := cmd.Flags()
	f.IntVar(&o.expected, "expected", 0, "people who are expected to come (required)")
	f.StringVar(&o.hours, "hours", "", "when the doors open and close, 09:00-13:00 (required)")
	f.StringVar(&o.profile, "profile", "flat", "how they come: flat, front, lunch, or one number for each hour")
	f.IntVar(&o.desk, "desk", 0, "people at the desk (default: found)")
	f.IntVar(&o.test, "test", 0, "screeners (default: found)")
	f.IntVar(&o.explain, "explain", 0, "people who explain results (default: found)")
	f.IntVar(&o.meters, "meters", 0, "meters in use; a screener with a second one does not wait until the first is dry (default: one for each screener)")
	f.Float64Var(&o.sure, "sure", 0.95, "confidence of the promise, and chance that a quantity suffices, 0.5 to 0.99")
	f.Float64Var(&o.wait, "wait", plan.DefaultPromise.Minutes, "minutes that 9 of 10 people tested should not wait longer than, all lines together")
	f.Float64Var(&o.scatter, "scatter", plan.DefaultScatter, "how unsure the turnout is, as a coefficient of variation; 0 leaves chance alone")
	f.Float64Var(&o.noShow, "no-show", plan.DefaultNoShow, "share of volunteers who do not come")
	f.Float64Var(&o.contact, "contact", plan.DefaultTimes.Wet, "minutes that a wiped meter stays wet, by the label of the wipe")
	f.IntVar(&o.lotChanges, "lot-changes", 0, "changes of the strip lot during the event")
	f.BoolVar(&o.perVial, "per-vial", false, "the insert asks for controls with each new vial of strips")
	f.StringArrayVar(&o.prices, "price", nil, "price of one pack of an item, with its size when it is not the usual one: strips=24.50/50 (may be repeated)")
	f.StringVar(&o.gloves, "gloves", "", "how many who wear gloves need each size: S=2,M=3,L=1")
	f.StringVar(&o.turnedAway, "turned-away", "", "what it costs to turn a person away; strips and lancets, which expire, are then also chosen by cost")
	f.Uint64Var(&o.seed, "seed", 1, "seed of the simulation")
	f.BoolVar(&o.json, "json", false, "write JSON")
	return cmd
}

func (c *console) plan(o planOptions, given []string) error {
	in, err := o.input(given)
	if err != nil {
		return err
	}
	p, err := plan.Make(in, rand.New(rand.NewPCG(o.seed, 0)))
	if err != nil {
		return err
	}
	a := answerPlan(in, p, o)
	if o.json {
		enc := json.NewEncoder(c.out)
		enc.SetIndent("", "  ")
		enc.SetEscapeHTML(false)
		return enc.Encode(a)
	}
	return c.printPlan(in, a)
}

// input reads the flags; what they do not say is a default.
func (o planOptions) input(given []string) (plan.Input, error) {
	for _, name := range []string{"expected", "hours"} {
		if !slices.Contains(given, name) {
			return plan.Input{}, fault.New(fault.Invalid, "plan-missing", fmt.Sprintf("--%s is missing.", name), "", "Write for example --expected 90 --hours 09:00-13:00.")
		}
	}
	for _, x := range []struct {
		name string
		n    int
	}{{"desk", o.desk}, {"test", o.test}, {"explain", o.explain}, {"meters", o.meters}} {
		if slices.Contains(given, x.name) && (x.n < 1 || x.n > 500) {
			return plan.Input{}, fault.New(fault.Invalid, "plan-posts", fmt.Sprintf("--%s %d cannot be right.", x.name, x.n), "", "Give a number from 1 to 500, or leave the flag out.")
		}
	}
	h, err := plan.ParseHours(o.hours)
	if err != nil {
		return plan.Input{}, err
	}
	in := plan.Defaults(o.expected, h)
	if in.Profile, err = plan.ParseProfile(o.profile, h); err != nil {
		return plan.Input{}, err
	}
	in.Posts, in.Meters = [3]int{o.desk, o.test, o.explain}, o.meters
	in.Sure, in.Promise.Minutes, in.Scatter, in.NoShow, in.Times.Wet = o.sure, o.wait, o.scatter, o.noShow, o.contact
	in.Store.Controls.LotChanges, in.Store.Controls.PerVial = o.lotChanges, o.perVial
	if in.Store.Gloves, err = parseGloves(o.gloves); err != nil {
		return plan.Input{}, err
	}
	if o.turnedAway != "" {
		cents, ok := parseCents(o.turnedAway)
		if !ok || cents == 0 {
			return plan.Input{}, fault.New(fault.Invalid, "plan-price", fmt.Sprintf("The price %q cannot be read.", o.turnedAway), "", "Write --turned-away 5.00.")
		}
		in.Store.TurnedAway = cents
	}
	in.Store.Packs, err = parsePrices(o.prices)
	return in, err
}

func parsePrices(words []string) (map[string]plan.Pack, error) {
	packs := map[string]plan.Pack{}
	for _, word := range words {
		item, price, ok := strings.Cut(word, "=")
		price, size, sized := strings.Cut(price, "/")
		cents, read := parseCents(price)
		p := plan.Pack{Cents: cents}
		if sized {
			n, err := strconv.Atoi(size)
			p.Size, read = n, read && err == nil && n > 0
		}
		if !ok || item == "" || !read {
			return nil, fault.New(fault.Invalid, "plan-price", fmt.Sprintf("The price %q cannot be read.", word), "", "Write --price strips=24.50/50: item, price of a pack, pieces in it.")
		}
		packs[item] = p
	}
	return packs, nil
}

// parseCents reads an amount with at most two decimals.
func parseCents(text string) (int, bool) {
	whole, part, dot := strings.Cut(text, ".")
	if dot && len(part) != 1 && len(part) != 2 {
		return 0, false
	}
	for len(part) < 2 {
		part += "0"
	}
	units, errUnits := strconv.ParseUint(whole, 10, 20)
	cents, errCents := strconv.ParseUint(part, 10, 8)
	return int(units)*100 + int(cents), errUnits == nil && errCents == nil
}

func parseGloves(text string) ([]plan.GloveSize, error) {
	if text == "" {
		return nil, nil
	}
	var all []plan.GloveSize
	for _, word := range strings.Split(text, ",") {
		size, number, ok := strings.Cut(strings.TrimSpace(word), "=")
		n, err := strconv.Atoi(number)
		if !ok || size == "" || err != nil || n < 0 || n > 500 {
			return nil, fault.New(fault.Invalid, "plan-gloves", fmt.Sprintf("The glove size %q cannot be read.", word), "", "Write --gloves S=2,M=3,L=1: for how many people each size is.")
		}
		all = append(all, plan.GloveSize{Size: size, People: n})
	}
	return all, nil
}

// round keeps as many decimals as are worth reading.
func round(x float64, decimals int) float64 {
	scale := math.Pow10(decimals)
	return math.Round(x*scale) / scale
}

func money(cents int) *float64 {
	x := float64(cents) / 100
	return &x
}

// fewerP90 gives what one fewer would do; nil where none can go.
func fewerP90(c plan.Change) *float64 {
	if c.Fewer == nil {
		return nil
	}
	x := round(c.Fewer.P90, 2)
	return &x
}

func answerPlan(in plan.Input, p plan.Plan, o planOptions) planAnswer {
	r := p.Result
	open := float64(in.Hours.Minutes())
	a := planAnswer{
		Expected: in.Expected, Hours: in.Hours.String(), Profile: in.Profile,
		Posts: planPosts{p.Posts[0], p.Posts[1], p.Posts[2], p.Supervisors, p.Least},
		Promise: planPromise{
			Share: in.Promise.Share, Minutes: in.Promise.Minutes, Within: round(1-r.Total.Over.Value, 4), Kept: p.Kept,
			Confidence: round(p.Confidence, 4), OneDay: round(r.Kept.Value, 4), Someone: round(r.Someone.Value, 4), Longer: p.Longer,
		},
		Wait: planWait{
			round(r.Total.Mean.Value, 2), round(r.Total.P50.Value, 2), round(r.Total.P90.Value, 2),
			round(r.Total.Mean.SE, 2), round(r.Total.P50.SE, 2), round(r.Total.P90.SE, 2),
		},
		Last: round(r.Last.Value-open, 1), LastP90: round(r.LastP90.Value-open, 1), Quarters: r.Quarters,
		Bottleneck: planBottleneck{p.Bottleneck.Station, p.Bottleneck.Hidden, p.Bottleneck.String()},
		Volunteers: planVolunteers{p.Volunteers, p.Screeners}, Funnel: p.People,
		Strips: p.Supplies.Strips, Enough: round(p.Supplies.Enough.Value, 4),
		Rough: plan.RoughCents / 100.0, Unpriced: []string{}, Days: r.Days, Seed: o.seed,
	}
	if w := p.Would; w != nil && !p.Kept {
		wanted, least := in.Supervision.Need(w.Posts[1] + w.Posts[2])
		a.Promise.Would = &planPosts{w.Posts[0], w.Posts[1], w.Posts[2], wanted, least}
	}
	for i, s := range r.Stations {
		st := planStation{
			Station: s.Key, Posts: s.Posts, Mean: round(s.Waits.Mean.Value, 2), P90: round(s.Waits.P90.Value, 2), Use: round(s.Use.Value, 3),
			MeterUse: round(s.MeterUse.Value, 3), More: round(p.Changes[i].More.P90, 2),
		}
		st.Fewer = fewerP90(p.Changes[i])
		if q := p.Quick[i].Steady; q != nil {
			x := round(*q, 2)
			st.Quick = &x
		}
		a.Stations = append(a.Stations, st)
	}
	if last := p.Changes[len(p.Changes)-1]; last.Station == plan.Meters {
		a.Meters = &planMeters{last.Posts, round(last.More.P90, 2), fewerP90(last)}
	}
	for _, l := range p.Supplies.Lines {
		s := planSupply{Item: l.Item, Name: l.Name, Need: l.Need, Mean: l.Mean, Pack: l.Pack, Packs: l.Packs, ByCost: l.ByCost}
		if l.Cost != nil {
			s.Cost = money(*l.Cost)
		}
		a.Supplies = append(a.Supplies, s)
	}
	if k := p.Supplies.Cost; k != nil {
		per := func(cents float64) *float64 { return money(int(math.Round(cents))) }
		a.Cost, a.PerTested, a.PerReferral, a.PerSeen, a.Unpriced = money(k.Cents), per(k.PerTested), per(k.PerReferral), per(k.PerSeen), k.Unpriced
	}
	return a
}

func (c *console) printPlan(in plan.Input, a planAnswer) error {
	people := "people"
	if a.Expected == 1 {
		people = "person"
	}
	fmt.Fprintf(c.out, "%d %s expected, %s, profile %s; %d simulated days, seed %d\n\n", a.Expected, people, a.Hours, a.Profile.Name, a.Days, a.Seed)
	w := tabwriter.NewWriter(c.out, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintf(w, "\tpeople\tmean wait\t9 of 10 wait at most\tbusy\tall lines with one more\twith one fewer\t\n")
	for _, s := range a.Stations {
		fmt.Fprintf(w, "%s\t%d\t%.1f min\t%.1f min\t%.0f %%\t%.0f min\t%s\t\n", s.Station, s.Posts, s.Mean, s.P90, 100*max(s.Use, s.MeterUse), s.More, orDash(s.Fewer))
	}
	if m := a.Meters; m != nil {
		fmt.Fprintf(w, "meters\t%d\t\t\t\t%.0f min\t%s\t\n", m.InUse, m.More, orDash(m.Fewer))
	}
	if err := w.Flush(); err != nil {
		return err
	}
	fmt.Fprintf(c.out, "\nSupervisors: %d (1:%d); at least %d (1:%d). Local rules decide.\n", a.Posts.Supervisors, in.Supervision.Wanted, a.Posts.Least, in.Supervision.Most)
	v := a.Volunteers
	fmt.Fprintf(c.out, "Volunteers: ask %d for %d posts, then all are filled with a chance of %.0f %%; %d for %.0f %%. Of them ask %d screeners for %d.\n",
		v.All.Ask, v.All.Posts, 100*v.All.Chance, v.All.Sure, 100*in.Sure, v.Screeners.Ask, v.Screeners.Posts)
	fmt.Fprintf(c.out, "\nWait in all lines: mean %.1f min (error %.1f), half at most %.1f, 9 of 10 at most %.1f (error %.1f).\n", a.Wait.Mean, a.Wait.Error, a.Wait.P50, a.Wait.P90, a.Wait.P90Error)
	c.printPromise(a.Promise)
	fmt.Fprintf(c.out, "%s\n", a.Bottleneck.Words)
	fmt.Fprintf(c.out, "The last person leaves %s on average, on 9 of 10 days not later than %s.\n", afterClose(a.Last), afterClose(a.LastP90))
	f := a.Funnel
	fmt.Fprintf(c.out, "Of %.0f who come %.0f leave, %.0f are not eligible, %.0f decline, %.0f are tested, %.0f of them referred (means).\n\n", f.Came, f.Left, f.NotEligible, f.Declined, f.Tested, f.Referred)
	if err := c.printQuarters(in, a); err != nil {
		return err
	}
	return c.printSupplies(in, a)
}

func orDash(minutes *float64) string {
	if minutes == nil {
		return "-"
	}
	return fmt.Sprintf("%.0f min", *minutes)
}

func (c *console) printPromise(p planPromise) {
	said := "is kept"
	if !p.Kept {
		said = "is not kept"
	}
	fmt.Fprintf(c.out, "The promise that 9 of 10 wait at most %g min %s: %.1f %% do (confidence %s); a single day keeps it with a chance of %.0f %%; on %.0f %% of days somebody waits longer.\n",
		p.Minutes, said, 100*p.Within, sureness(p.Confidence), 100*p.OneDay, 100*p.Someone)
	switch {
	case p.Kept:
	case p.Would != nil:
		fmt.Fprintf(c.out, "It would be kept with %d at the desk, %d at the test, %d to explain and a meter for each screener.\n", p.Would.Desk, p.Would.Test, p.Would.Explain)
	default:
		fmt.Fprintf(c.out, "No number of people up to 500 at a station would keep it: spread the arrivals, or promise a longer wait.\n")
	}
	if p.Longer > 0 {
		fmt.Fprintf(c.out, "With the people that are planned, a promise of %d min would be kept.\n", p.Longer)
	}
}

// sureness says a confidence without claiming certainty.
func sureness(p float64) string {
	switch {
	case p > 0.99:
		return "over 99 %"
	case p < 0.01:
		return "under 1 %"
	}
	return fmt.Sprintf("%.0f %%", 100*p)
}

func afterClose(minutes float64) string {
	if minutes < 0 {
		return fmt.Sprintf("%.0f min before closing", -minutes)
	}
	return fmt.Sprintf("%.0f min after closing", minutes)
}

func (c *console) printQuarters(in plan.Input, a planAnswer) error {
	w := tabwriter.NewWriter(c.out, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintf(w, "until\tcome\tin line: desk\ttest\texplain\t\n")
	for _, q := range a.Quarters {
		at := in.Hours.Open + q.To
		if q.To >= in.Hours.Minutes()+30 {
			break
		}
		fmt.Fprintf(w, "%02d:%02d\t%.1f\t", at/60%24, at%60, q.Arrivals.Mean)
		for _, b := range q.Queue {
			fmt.Fprintf(w, "%.1f (%d-%d)\t", b.Mean, b.Low, b.High)
		}
		fmt.Fprintln(w)
	}
	if err := w.Flush(); err != nil {
		return err
	}
	fmt.Fprintf(c.out, "\nMeans; in brackets what 9 of 10 days lie between.\n\n")
	return nil
}

func (c *console) printSupplies(in plan.Input, a planAnswer) error {
	fmt.Fprintf(c.out, "To pack, each enough on %.0f %% of days; all together on %.0f %%:\n", 100*in.Sure, 100*a.Enough)
	w := tabwriter.NewWriter(c.out, 0, 0, 2, ' ', 0)
	fmt.Fprintf(w, "item\tneed\tpacks\tcost\n")
	for _, s := range a.Supplies {
		cost := "-"
		if s.Cost != nil {
			cost = fmt.Sprintf("%.2f", *s.Cost)
		}
		packs := fmt.Sprintf("%d", s.Packs)
		if s.Pack > 1 {
			packs = fmt.Sprintf("%d x %d", s.Packs, s.Pack)
		}
		if s.ByCost != nil {
			packs += fmt.Sprintf(" (by cost %d)", *s.ByCost)
		}
		fmt.Fprintf(w, "%s\t%d\t%s\t%s\t%s\n", s.Item, s.Need, packs, cost, s.Name)
	}
	if err := w.Flush(); err != nil {
		return err
	}
	fmt.Fprintf(c.out, "\nOf the strips %d are for controls.\n", a.Strips.Controls)
	if a.Cost == nil {
		fmt.Fprintf(c.out, "No prices are given; consumables cost some %.2f for each person tested (common practice). Give your own with --price.\n", a.Rough)
		return nil
	}
	fmt.Fprintf(c.out, "Cost %.2f: %.2f for each person tested, %.2f for each referral, %.2f for each referral seen.\n", *a.Cost, *a.PerTested, *a.PerReferral, *a.PerSeen)
	if len(a.Unpriced) > 0 {
		fmt.Fprintf(c.out, "Not in it, for want of a price: %s.\n", strings.Join(a.Unpriced, ", "))
	}
	return nil
}
