package web

import (
	"fmt"
	"math"
	"strconv"

	"fairstick/internal/fault"
	"fairstick/internal/people"
	"fairstick/internal/plan"
	"fairstick/internal/programme"
	"fairstick/internal/web/ui"
)

// flowView is how many people an event needs at each post: what is asked, and the answer.
type flowView struct {
	Page   ui.Page
	Fault  *fault.Fault
	Sheet  ui.Sheet
	Parts  []askedPart
	Answer *flowAnswer // nil when nothing can be answered
	Base   reportPart  // what the answer rests on
	Pack   *packForms  // nil when what was asked cannot be
	Links  []ui.Link   // beside it
}

// flowAnswer is the answer to what was asked.
type flowAnswer struct {
	Said     string
	Found    string // posts and meters, for the slides beside the fields
	Kept     bool
	More     []string
	Come     string // the pictures and tables in a line each
	Change   string
	Crew     string
	CrewSaid []string
	Stations reportPart
	Changes  reportPart
	Pictures []flowPicture
	Quarters reportPart
	Supplies packing
	Note     string // how it was simulated
}

func flowShow(_ *Server, c *Context) error { return c.flowAgain("", nil) }

// flowAgain draws the page; refused is the form of it that was refused, with its fault.
func (c *Context) flowAgain(refused string, wrong *fault.Fault) error {
	d, err := c.Day()
	if err != nil {
		return err
	}
	pl, err := c.s.prog.Planning(c.R.Context())
	if err != nil {
		return err
	}
	lines, err := pl.Lines()
	if err != nil {
		return err
	}
	room, err := c.s.prog.Stock(c.R.Context())
	if err != nil {
		return err
	}
	base := dayBase(d)
	asked := flowTyped(d, pl, c.R.URL.Query())
	v := flowView{
		Page:  c.dayPage(d, "How many people at each post?", "flow"),
		Sheet: ui.Sheet{ID: "ask", Action: base + "/flow", Get: true, Again: "answer"}, Base: planningPart(pl, lines, wetOf(d)),
	}
	v.Page.Lead = d.Event.Plan.Name + ", " + d.Event.Plan.Venue + ", " + d.Event.Plan.Date.Long() + ". Simulated from the first who comes to the last who leaves."
	v.Page.Back, v.Page.Wide, v.Page.Live = &ui.Link{Href: base, Label: "The plan"}, true, ""
	if asked.Expected != "" || c.R.URL.Query().Has("expected") {
		in, f := asked.input(d, pl, room)
		var p plan.Plan
		if f == nil {
			p, f = makePlan(in)
		}
		if f == nil {
			if v.Answer, err = answerFlow(in, p, room, d); err != nil {
				return err
			}
			v.Links = append(v.Links, ui.Link{
				Href:  fmt.Sprintf("%s/roster/propose?desk=%d&test=%d&explain=%d&supervisors=%d", base, p.Posts[0], p.Posts[1], p.Posts[2], p.Supervisors),
				Label: "Propose a roster for these posts",
			})
		}
		v.Fault = f
	}
	v.Parts = flowParts(asked, v.Fault, flowProfiles(pl))
	if v.Fault == nil {
		v.Pack = c.packFormsOf(d, asked, refused, wrong)
		v.Links = append(v.Links, ui.Link{Href: base + "/paper", Label: "Paper forms"})
		v.Fault = wrong
	}
	return c.Show(v.Fault, FlowPage(v))
}

// flowProfiles are the ways in which people may come.
func flowProfiles(pl programme.Planning) []ui.Option {
	var own []ui.Option
	if pl.On && pl.Has() {
		own = []ui.Option{{Value: "own", Label: "As at " + plural(pl.Record.Events, "closed event", "closed events")}}
	}
	return append(own, []ui.Option{
		{Value: "front", Label: "Most at first: 30, 35, 22, 13 %"},
		{Value: "flat", Label: "At one pace"},
		{Value: "lunch", Label: "Peak from 11:30 to 13:30"},
		{Value: "hours", Label: "My own hours"},
	}...)
}

// answerFlow says in words, tables and pictures what came of a simulation.
func answerFlow(in plan.Input, p plan.Plan, room *programme.Stockroom, d *programme.Day) (*flowAnswer, error) {
	a := &flowAnswer{Kept: p.Kept, Stations: stationPart(p), Changes: changePart(p), Quarters: quarterPart(in, p), Supplies: packingOf(in, p, room, d)}
	a.Said = promiseSaid(in, p)
	a.More = append(a.More, cheapestSaid(in, p)...)
	if p.Longer > 0 {
		a.More = append(a.More, fmt.Sprintf("With the people that are planned, 9 of 10 could be promised %d minutes.", p.Longer))
	}
	a.More = append(append(a.More, lackSaid(d, p)...), p.Bottleneck.String())
	a.CrewSaid = []string{supervisorsSaid(in, p), lastSaid(in, p), volunteersSaid(in, p)}
	a.Crew = fmt.Sprintf("%s, ask %d for %d posts, the last leaves %s after closing on average", plural(p.Supervisors, "supervisor", "supervisors"), p.Volunteers.Ask, p.Volunteers.Posts,
		minutesShort(math.Ceil(max(0, p.Result.Last.Value-float64(in.Hours.Minutes())))))
	meters := in.Meters
	if meters == 0 {
		meters = p.Posts[1]
	}
	a.Found = fmt.Sprintf("desk=%d test=%d explain=%d meters=%d", p.Posts[0], p.Posts[1], p.Posts[2], meters)
	a.Change = changeShort(p)
	a.Come = comeShort(in, p)
	a.Note = fmt.Sprintf("%s simulated days, always the same ones (seed %d), so the same numbers give the same answer here and with fairstick plan. ± is one standard error of the simulation; it says nothing about whether the assumptions hold.",
		thousands(p.Result.Days), flowSeed)
	var err error
	a.Pictures, err = flowPictures(in, p)
	return a, err
}

func postsSaid(posts []int) string {
	return fmt.Sprintf("%d at the desk, %d at the test and %d explaining", posts[0], posts[1], posts[2])
}

func promiseSaid(in plan.Input, p plan.Plan) string {
	within := 100 * float64(1-p.Result.Total.Over.Value)
	with := "With " + postsSaid(p.Posts[:])
	if in.Meters > 0 {
		with += ", on " + plural(in.Meters, "meter", "meters")
	}
	if p.Kept {
		return fmt.Sprintf("%s, the promise is kept: %.0f %% wait at most %s in all lines together, sure to %s.", with, math.Floor(within), minutesShort(in.Promise.Minutes), sureText(p.Confidence))
	}
	return fmt.Sprintf("%s, the promise is not kept: %.0f %% wait at most %s in all lines together, and 9 of 10 wait up to %s.", with, math.Floor(within), minutesShort(in.Promise.Minutes),
		minutesShort(math.Ceil(p.Result.Total.P90.Value)))
}

// cheapestSaid names the cheapest posts when others were asked for.
func cheapestSaid(in plan.Input, p plan.Plan) []string {
	w := p.Would
	switch {
	case w == nil && p.Kept:
		return nil
	case w == nil:
		return []string{"No number of posts up to what was looked at would keep it. Let fewer people come at once, open longer, or promise a longer wait."}
	}
	wanted, _ := in.Supervision.Need(w.Posts[1] + w.Posts[2])
	say := fmt.Sprintf("The fewest people that keep it: %s, with %s and a meter each (sure to %s).", postsSaid(w.Posts), plural(wanted, "supervisor", "supervisors"), sureText(w.Confidence))
	if p.Kept {
		more := p.Posts[0] + p.Posts[1] + p.Posts[2] - w.Posts[0] - w.Posts[1] - w.Posts[2]
		if more <= 0 {
			return nil
		}
		say += " That is " + plural(more, "person", "people") + " fewer."
	}
	return []string{say}
}

// lackSaid says for which posts the programme has too few people who may do them on that day.
func lackSaid(d *programme.Day, p plan.Plan) []string {
	if d.ProtocolErr != nil {
		return []string{"No protocol is signed, so nobody can be verified yet. Sign one under Set-up."}
	}
	var out []string
	for _, x := range []struct {
		role  people.Role
		need  int
		what  string
		other people.Role // may do it as well
	}{{people.Supervisor, p.Supervisors, "supervise", people.Lead}, {people.Screener, p.Posts[1], "test", people.Screener}, {people.Counsellor, p.Posts[2], "explain results", people.Counsellor}} {
		may := 0
		for _, who := range d.People {
			if who.Gone == "" && (who.Has(x.role) || who.Has(x.other)) && d.VerifiedFor(who, x.role) == nil {
				may++
			}
		}
		switch {
		case may == 0:
			out = append(out, fmt.Sprintf("Nobody may %s on that day, and %d are needed: see People under Set-up for roles and verifications.", x.what, x.need))
		case may < x.need:
			out = append(out, fmt.Sprintf("Only %d of the programme may %s on that day, and %d are needed.", may, x.what, x.need))
		}
	}
	return out
}

// sureText writes a confidence; nothing simulated is certain.
func sureText(c float64) string {
	if c >= 0.995 {
		return "more than 99 %"
	}
	return fmt.Sprintf("%.0f %%", math.Floor(100*c))
}

func minutesShort(m float64) string { return strconv.FormatFloat(m, 'f', -1, 64) + " minutes" }

func supervisorsSaid(in plan.Input, p plan.Plan) string {
	return fmt.Sprintf("Supervisors: %d for the %d who test or explain (one for %d), at the very least %d (one for %d). Local rules decide.",
		p.Supervisors, p.Posts[1]+p.Posts[2], in.Supervision.Wanted, p.Least, in.Supervision.Most)
}

func lastSaid(in plan.Input, p plan.Plan) string {
	open := float64(in.Hours.Minutes())
	after := func(x float64) string { return minutesShort(math.Ceil(max(0, x-open))) }
	return fmt.Sprintf("The last person leaves %s after the doors close on average, within %s on nine of ten days.", after(p.Result.Last.Value), after(p.Result.LastP90.Value))
}

func volunteersSaid(in plan.Input, p plan.Plan) string {
	return fmt.Sprintf("Ask %d people for the %d posts: %.0f %% of volunteers do not come. To be %.0f %% sure that each post is filled, ask %d.",
		p.Volunteers.Ask, p.Volunteers.Posts, 100*in.NoShow, 100*in.Sure, p.Volunteers.Sure)
}

// withError writes simulated minutes with their error.
func withError(e plan.Estimate) string { return fmt.Sprintf("%.1f ± %.1f", e.Value, e.SE) }

func stationPart(p plan.Plan) reportPart {
	part := reportPart{Key: "stations", Heading: "Each station", Cols: []ui.Col{{Label: "Station"}, {Label: "People", Num: true}, {Label: "Mean wait, min", Num: true}, {Label: "9 of 10 wait at most, min", Num: true}, {Label: "Busy", Num: true}}}
	for k, s := range p.Result.Stations {
		busy := fmt.Sprintf("%.0f %%", 100*s.Use.Value)
		if s.MeterUse.Value > s.Use.Value {
			busy = fmt.Sprintf("%.0f %% meters", 100*s.MeterUse.Value)
		}
		part.Rows = append(part.Rows, []string{stationNames[k], strconv.Itoa(s.Posts), withError(s.Waits.Mean), withError(s.Waits.P90), busy})
	}
	t := p.Result.Total
	part.Rows = append(part.Rows, []string{"All lines together", strconv.Itoa(p.Posts[0] + p.Posts[1] + p.Posts[2]), withError(t.Mean), withError(t.P90), "-"})
	return part
}

// changeShort is where one more would help the most, in a line.
func changeShort(p plan.Plan) string {
	if p.Bottleneck.Station == "" {
		return "one person more would save little anywhere"
	}
	for _, c := range p.Changes {
		if c.Station == p.Bottleneck.Station {
			return fmt.Sprintf("one more for %s: 9 of 10 wait at most %.0f min, now %.0f", plan.StationName(c.Station), c.More.P90, p.Result.Total.P90.Value)
		}
	}
	return ""
}

// comeShort is when most come, in a line.
func comeShort(in plan.Input, p plan.Plan) string {
	most := p.Result.Quarters[0]
	for _, q := range p.Result.Quarters {
		if q.Arrivals.Mean > most.Arrivals.Mean {
			most = q
		}
	}
	return fmt.Sprintf("most from %s to %s: %.0f on average", wallClock(in.Hours.Open+most.To-15), wallClock(in.Hours.Open+most.To), most.Arrivals.Mean)
}

func changePart(p plan.Plan) reportPart {
	part := reportPart{
		Key: "changes", Heading: "One more, one fewer", Said: []string{"What 9 of 10 wait at most in all lines together; the same people come."},
		Cols: []ui.Col{{Label: "Where"}, {Label: "Now", Num: true}, {Label: "One fewer", Num: true}, {Label: "As it is", Num: true}, {Label: "One more", Num: true}},
	}
	now := fmt.Sprintf("%.0f min", p.Result.Total.P90.Value)
	for k, c := range p.Changes {
		name, fewer := "Meters", "-"
		if k < len(stationNames) {
			name = stationNames[k]
		}
		if c.Fewer != nil {
			fewer = fmt.Sprintf("%.0f min", c.Fewer.P90)
		}
		part.Rows = append(part.Rows, []string{name, strconv.Itoa(c.Posts), fewer, now, fmt.Sprintf("%.0f min", c.More.P90)})
	}
	return part
}
