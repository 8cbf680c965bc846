package web

import (
	"math/rand/v2"
	"net/url"
	"strconv"
	"strings"

	"fairstick/internal/event"
	"fairstick/internal/fault"
	"fairstick/internal/people"
	"fairstick/internal/plan"
	"fairstick/internal/programme"
	"fairstick/internal/web/ui"
)

// flowSeed begins the simulation of every page, so that the same numbers give the same answer, and that of the command line.
const flowSeed = 1

// flowAsked is what is asked of an event's flow, as it was typed.
type flowAsked struct {
	Expected, From, To, Profile, Each string
	Desk, Test, Explain, Meters       string
	Wait, Sure                        string
}

// flowNames are the fields of what is asked, as they stand in an address.
var flowNames = []string{"expected", "from", "to", "profile", "each", "desk", "test", "explain", "meters", "wait", "sure"}

// flowDefaults asks for what is known: the plan of the event, who is on the roster, and which meters are brought.
func flowDefaults(d *programme.Day, pl programme.Planning) flowAsked {
	p := d.Event.Plan
	a := flowAsked{
		Expected: wholeText(p.Expected), From: p.Doors.String(), To: p.Ends.String(), Profile: "front", Meters: wholeText(len(d.BroughtMeters())),
		Wait: strconv.FormatFloat(plan.DefaultPromise.Minutes, 'f', -1, 64), Sure: "95",
	}
	desks, tests, tells := rosterPosts(d.Event)
	if pl.On && pl.Has() {
		a.Profile = "own"
	}
	a.Desk, a.Test, a.Explain = wholeText(desks), wholeText(tests), wholeText(tells)
	return a
}

// rosterPosts counts who stands at the three stations by the roster.
func rosterPosts(ev *event.State) (desks, tests, tells int) {
	for _, p := range ev.Roster {
		switch people.Role(p.Role) {
		case people.Desk:
			desks++
		case people.Screener:
			tests++
		case people.Counsellor:
			tells++
		case people.Lead, people.Supervisor, people.Runner:
		}
	}
	return desks, tests, tells
}

// flowTyped reads what is asked from an address; nothing asked is the defaults.
func flowTyped(d *programme.Day, pl programme.Planning, q url.Values) flowAsked {
	if !q.Has("expected") {
		return flowDefaults(d, pl)
	}
	get := func(name string) string { return strings.TrimSpace(q.Get(name)) }
	return flowAsked{
		Expected: get("expected"), From: get("from"), To: get("to"), Profile: get("profile"), Each: get("each"),
		Desk: get("desk"), Test: get("test"), Explain: get("explain"), Meters: get("meters"), Wait: get("wait"), Sure: get("sure"),
	}
}

// query writes what is asked as it stands in an address.
func (a flowAsked) query() url.Values {
	return url.Values{
		"expected": {a.Expected}, "from": {a.From}, "to": {a.To}, "profile": {a.Profile}, "each": {a.Each},
		"desk": {a.Desk}, "test": {a.Test}, "explain": {a.Explain}, "meters": {a.Meters}, "wait": {a.Wait}, "sure": {a.Sure},
	}
}

// flowReader collects what is wrong, a sentence for each field.
type flowReader struct{ wrong *fault.Fault }

func (r *flowReader) say(f *fault.Fault) {
	if r.wrong == nil {
		r.wrong = f
		return
	}
	r.wrong = merge(r.wrong, f)
}

// whole reads a whole number within limits; nothing typed is 0 where that is allowed.
func (r *flowReader) whole(name, label, text string, least, most int, may bool) int {
	if text == "" && may {
		return 0
	}
	n, err := strconv.Atoi(text)
	switch {
	case text == "":
		r.say(fault.BadField(name, "%s is missing.", label))
	case err != nil || len(text) > 9:
		r.say(fault.BadField(name, "%s should be a whole number; %q was typed.", label, text))
	case n < least || n > most:
		r.say(fault.BadField(name, "%s should be from %d to %d; %s was typed.", label, least, most, text))
	}
	return n
}

// number reads a number within limits.
func (r *flowReader) number(name, label, text string, least, most float64) float64 {
	x, err := strconv.ParseFloat(strings.ReplaceAll(text, ",", "."), 64)
	switch {
	case text == "":
		r.say(fault.BadField(name, "%s is missing.", label))
	case err != nil || len(text) > 8 || strings.ContainsAny(text, "eExXnNiIpP_"):
		r.say(fault.BadField(name, "%s should be a plain number; %q was typed.", label, text))
	case !(x >= least && x <= most):
		r.say(fault.BadField(name, "%s should be from %g to %g; %s was typed.", label, least, most, text))
	}
	return x
}

// input reads what is asked into the terms of the simulation, on top of the values that the programme uses.
func (a flowAsked) input(d *programme.Day, pl programme.Planning, room *programme.Stockroom) (plan.Input, *fault.Fault) {
	var r flowReader
	expected := r.whole("expected", "The number of people expected", a.Expected, 1, 2000, false)
	h, err := plan.ParseHours(a.From + "-" + a.To)
	if err != nil {
		f := fault.Of(err)
		r.say(f.Field("to", f.Sentence+" "+f.Do))
	}
	in := plan.Defaults(expected, h)
	if err == nil {
		if in, err = pl.Begin(expected, h); err != nil {
			return in, fault.Of(err)
		}
		r.profile(a, h, &in, pl.On && pl.Has())
	}
	if wet := wetOf(d); wet > 0 {
		in.Times.Wet = wet
	}
	in.Posts = [3]int{
		r.whole("desk", "The number at the desk", a.Desk, 1, 500, true), r.whole("test", "The number of screeners", a.Test, 1, 500, true),
		r.whole("explain", "The number who explain results", a.Explain, 1, 500, true),
	}
	in.Meters = r.whole("meters", "The number of meters in use", a.Meters, 1, 500, true)
	in.Promise.Minutes = r.number("wait", "The longest wait that is promised", a.Wait, 1, 240)
	in.Sure = r.number("sure", "How sure it should be", a.Sure, 50, 99) / 100
	in.Store.Gloves = glovesOf(d)
	hand := room.ForEvent(d)
	for _, l := range hand.Levels {
		in.Store.Solutions = append(in.Store.Solutions, l.Level)
	}
	if len(in.Store.Solutions) > 0 {
		in.Store.Controls.Levels = len(in.Store.Solutions)
	}
	if !hand.Loaded {
		in.Store.Strips.Lots, in.Store.Controls.PerVial = hand.Lots, hand.PerVial
	}
	in.Store.Packs, _ = room.Packs(gloveSizes(in), in.Store.Solutions)
	return in, r.wrong
}

// gloveSizes are the sizes on the packing list.
func gloveSizes(in plan.Input) []string {
	var out []string
	for _, g := range in.Store.Gloves {
		if g.People > 0 {
			out = append(out, g.Size)
		}
	}
	return out
}

func (r *flowReader) profile(a flowAsked, h plan.Hours, in *plan.Input, own bool) {
	text, field := a.Profile, "profile"
	switch text {
	case "own":
		if !own {
			r.say(fault.BadField(field, "No closed event is used to say how people come. Choose another profile."))
		}
		return // as the programme's defaults have it
	case "hours":
		text, field = a.Each, "each"
		if text == "" {
			r.say(fault.BadField(field, "Write how many come in each hour, with commas between: 25,30,19,10."))
			return
		}
	case "flat", "front", "lunch":
	default:
		r.say(fault.BadField(field, "The profile %q is not known. Choose one from the list.", text))
		return
	}
	p, err := plan.ParseProfile(text, h)
	if err != nil {
		f := fault.Of(err)
		r.say(f.Field(field, f.Sentence+" "+f.Do))
		return
	}
	in.Profile = p
}

// glovesOf counts the glove sizes of the screeners on the roster; none when a size is not known.
func glovesOf(d *programme.Day) []plan.GloveSize {
	var out []plan.GloveSize
	for _, size := range []string{"XS", "S", "M", "L", "XL"} {
		g := plan.GloveSize{Size: size}
		for _, p := range d.Event.Roster {
			if who := d.Person(p.Person); who != nil && p.Role == string(people.Screener) && who.Details.Glove == size {
				g.People++
			}
		}
		if g.People > 0 {
			out = append(out, g)
		}
	}
	for _, p := range d.Event.Roster {
		if who := d.Person(p.Person); who != nil && p.Role == string(people.Screener) && who.Details.Glove == "" {
			return nil
		}
	}
	return out
}

// makePlan simulates what is asked.
func makePlan(in plan.Input) (plan.Plan, *fault.Fault) {
	p, err := plan.Make(in, rand.New(rand.NewPCG(flowSeed, 0)))
	return p, fault.Of(err)
}

// askedPart is fields of the form that can be folded, with what they say in a line.
type askedPart struct {
	part
	Says string
}

// flowParts are the fields of the form.
func flowParts(a flowAsked, f *fault.Fault, profiles []ui.Option) []askedPart {
	line := func(name, label, value string) ui.Input {
		return ui.Input{Name: name, Label: label, Value: value, Error: ui.Message(f, name), Kind: ui.Number, Width: ui.Short}
	}
	kind := func(in ui.Input, k ui.Kind) ui.Input {
		in.Kind = k
		return in
	}
	profile := kind(line("profile", "How they come", a.Profile), ui.Select)
	profile.Options, profile.Width = profiles, ui.Full
	each := optional(kind(line("each", "People in each hour", a.Each), ui.Text))
	each.Help, each.Width = "For \"my own hours\": 25,30,19,10", ui.Full
	found := func(name, label, value string) item { return field(optional(line(name, label, value))) }
	count := func(text, one, many string) string {
		if n, err := strconv.Atoi(text); err == nil {
			return plural(n, one, many)
		}
		return "found: " + many
	}
	how := a.Profile
	for _, o := range profiles {
		if o.Value == a.Profile {
			how = strings.ToLower(o.Label[:1]) + o.Label[1:]
		}
	}
	come := "nobody yet"
	if a.Expected != "" {
		come = a.Expected + " people"
	}
	return []askedPart{
		{part{ID: "come", Heading: "Who comes", Items: []item{
			field(unit(line("expected", "People expected", a.Expected), "people")),
			pair(kind(line("from", "Doors open", a.From), ui.Time), kind(line("to", "Doors close", a.To), ui.Time)),
			field(profile), field(each),
		}}, joinAll(come, a.From+" to "+a.To, how)},
		{part{ID: "posts", Heading: "Who works", Help: "What is left empty is found: the fewest people, a meter for each screener.", Items: []item{
			found("desk", "At the desk", a.Desk), found("test", "Screeners", a.Test), found("explain", "Explain results", a.Explain), found("meters", "Meters in use", a.Meters),
		}}, joinAll(count(a.Desk, "at the desk", "at the desk"), count(a.Test, "screener", "screeners"), count(a.Explain, "explains", "explain"))},
		{part{ID: "promise", Heading: "What is promised", Items: []item{
			field(unit(line("wait", "9 of 10 wait at most", a.Wait), "min")), field(unit(line("sure", "How sure", a.Sure), "%")),
		}}, joinAll("9 of 10 wait at most "+a.Wait+" min", a.Sure+" % sure")},
	}
}

// wetOf is how many minutes a meter stays wet by the longest label on the list; 0 without any.
func wetOf(d *programme.Day) float64 {
	longest := 0
	for _, x := range d.Disinfectants {
		longest = max(longest, x.Details.ContactSeconds)
	}
	return float64(longest) / 60
}
