package web

import (
	"cmp"
	"fmt"
	"time"

	"fairstick/internal/control"
	"fairstick/internal/event"
	"fairstick/internal/programme"
	"fairstick/internal/protocol"
	"fairstick/internal/web/ui"
)

// reportView is the event in numbers, for reading and print. It holds no name of a participant.
type reportView struct {
	Page     ui.Page
	Base     string
	At       time.Time
	Event    string
	Final    bool
	Brief    []string // the two-minute summary
	Numbers  []ui.Figure
	Chart    bandChart
	Sections []reportPart
}

// reportPart is one table of the report under its question; Empty stands there when it has no row.
type reportPart struct {
	Key, Heading string
	Said         []string
	Cols         []ui.Col
	Rows         [][]string
	Empty        string
	Bands        bool // the first cell is the key of a band
}

func reportShow(s *Server, c *Context) error {
	d, err := c.Day()
	if err != nil {
		return err
	}
	r, err := s.prog.Report(c.R.Context(), d.Event.ID)
	if err != nil {
		return err
	}
	v := reportOf(d, r)
	v.Page = c.dayPage(d, "Report", "report")
	v.Page.Live = ""
	v.Page.Wide = true
	v.At = c.now(d)
	v.Page.Lead = d.Event.Plan.Name + ", " + d.Event.Plan.Venue + ", " + d.Event.Plan.Date.Long() + ". Protocol " + d.Protocol.Version + "."
	return c.Show(nil, ReportPage(v))
}

// reportOf prepares the report for page and paper.
func reportOf(d *programme.Day, r programme.Report) reportView {
	zone := d.Event.Zone()
	v := reportView{Base: dayBase(d), Event: d.Event.ID, Final: d.Event.Phase == event.IsClosed, Brief: brief(r, zone), Chart: chartOf(r)}
	v.Numbers = []ui.Figure{
		{Label: "Tested", Number: fmt.Sprint(r.Outcomes.Tested), Of: fmt.Sprintf("of %d arrived", r.Outcomes.Arrived)},
		{Label: "Referred", Number: fmt.Sprint(r.Referrals.N), Of: fmt.Sprintf("of %d tested, %s", r.Referrals.Of, r.Referrals.Percent()), Note: "95 % interval " + r.Referrals.Interval()},
		{Label: "Care", Number: fmt.Sprint(len(r.Criticals)), Of: fmt.Sprintf("of %d tested; %d signed", r.Outcomes.Tested, signedCare(r))},
		{Label: "Controls in range", Number: fmt.Sprint(r.ControlSum[string(control.InRange)]), Of: fmt.Sprintf("of %d runs", r.ControlSum["runs"])},
		{Label: "Sums that come out", Number: fmt.Sprint(evenSums(r)), Of: fmt.Sprintf("of %d", len(r.Equalities))},
	}
	v.Sections = []reportPart{
		outcomesPart(r), bandsPart(r), referralsPart(r), arrivalsPart(r), waitsPart(r), carePart(r, zone), repeatsPart(r),
		controlsPart(r, zone), correctivePart(r, zone), overridesPart(r, zone), incidentsPart(r), correctionsPart(r), groupPart("by-meter", "By meter", r.ByMeter), groupPart("by-screener", "By screener", r.ByScreener),
		groupPart("by-lot", "By lot of strips", r.ByLot), stripsPart(r), sumsPart(d, r), staffPart(r),
	}
	if r.Outcomes.Tested == 0 {
		v.Numbers[1].Of, v.Numbers[1].Note = "of 0 tested", ""
	}
	return v
}

func signedCare(r programme.Report) int {
	n := 0
	for _, c := range r.Criticals {
		if c.Signed != nil {
			n++
		}
	}
	return n
}

func evenSums(r programme.Report) int {
	n := 0
	for _, e := range r.Equalities {
		if e.Difference == 0 {
			n++
		}
	}
	return n
}

// brief is what somebody with two minutes reads.
func brief(r programme.Report, zone *time.Location) []string {
	o := r.Outcomes
	out := []string{fmt.Sprintf("%d of %d people who arrived were tested; %d of %d expected came.", o.Tested, o.Arrived, o.Arrived, r.Expected)}
	if o.Tested > 0 {
		out = append(out, fmt.Sprintf("%d of %d tested (%s; 95 %% interval %s) were advised to see someone. Of these %d may be called about it, %d gave no permission, and %d are not written down as referred.",
			r.Referrals.N, r.Referrals.Of, r.Referrals.Percent(), r.Referrals.Interval(), r.Referrals.Call, r.Referrals.NoCall, r.Referrals.N-r.Referrals.Call-r.Referrals.NoCall))
	}
	critical := 0
	for _, c := range r.Criticals {
		if c.Cause != string(protocol.Low) {
			critical++
		}
	}
	out = append(out, fmt.Sprintf("%s needed care at once, %d of them critical; %d of %d were signed off by a supervisor.",
		plural(len(r.Criticals), "person", "people"), critical, signedCare(r), len(r.Criticals)))
	out = append(out, fmt.Sprintf("%d of %d control runs were in range; %s quarantined.", r.ControlSum[string(control.InRange)], r.ControlSum["runs"], plural(len(r.Quarantined), "meter was", "meters were")))
	settled, alarm := 0, ""
	for _, e := range r.Equalities {
		if e.Settled() {
			settled++
		}
		alarm = cmp.Or(alarm, e.Alarm)
	}
	switch even := evenSums(r); {
	case len(r.Equalities) == even:
		out = append(out, fmt.Sprintf("All %d sums come out.", even))
	default:
		out = append(out, fmt.Sprintf("%d of %d sums come out; %d of the other %d are explained under a signature.", even, len(r.Equalities), settled-even, len(r.Equalities)-even))
	}
	if alarm != "" {
		out = append(out, "Alarm: "+alarm)
	}
	if len(r.Overrides) > 0 {
		out = append(out, plural(len(r.Overrides), "gate was", "gates were")+" passed with a signed reason.")
	}
	if said := correctionsSaid(r); said != "" {
		out = append(out, said)
	}
	if !r.OpenedAt.IsZero() {
		said := "Doors opened at " + clockOr(r.OpenedAt, zone)
		if !r.DoorsClosed.IsZero() {
			said += " and closed at " + clockOr(r.DoorsClosed, zone)
		}
		if !r.LastLeft.IsZero() {
			said += "; the last person left at " + clockOr(r.LastLeft, zone)
		}
		out = append(out, said+".")
	}
	return out
}

// bandChart is one bar picture: the bands of everybody tested, parted by basis, in ink alone.
type bandChart struct {
	Question, Answer string
	Bars             []bandBar
	Most             int
	Height           int
}

type bandBar struct {
	Word, Label                    string
	Y, Text, WordX, LabelX         int
	FastX, FastW, RandomX, RandomW int
}

// The picture is drawn in a box 400 wide, so that its letters can be read on a phone: words to the left, bars from barLeft,
// counts after the bar.
const (
	barLeft  = 102
	barRoom  = 135
	barStep  = 36
	barThick = 22
)

func chartOf(r programme.Report) bandChart {
	c := bandChart{Question: "How many readings lay in each band?", Answer: "Nobody has been tested yet."}
	all, fasting, random := r.Bands["all"], r.Bands[string(protocol.Fasting)], r.Bands[string(protocol.Random)]
	for _, b := range ui.Bands() {
		c.Most = max(c.Most, all[b])
	}
	if c.Most == 0 {
		return c
	}
	c.Answer = fmt.Sprintf("%d of %d tested were in the usual band; %d of %d were advised to see someone.", all[string(protocol.Usual)], r.Outcomes.Tested, r.Referrals.N, r.Outcomes.Tested)
	found := 0
	for _, b := range ui.Bands() {
		found += all[b]
	}
	if open := r.Outcomes.Tested - found; open > 0 {
		c.Answer += fmt.Sprintf(" %d of %d have no finding yet.", open, r.Outcomes.Tested)
	}
	for i, b := range ui.Bands() {
		y := 8 + i*barStep
		bar := bandBar{Word: ui.BandWord(b), Y: y, Text: y + barThick - 6, WordX: barLeft - 10, FastX: barLeft}
		bar.FastW = fasting[b] * barRoom / c.Most
		bar.RandomX = barLeft + bar.FastW
		bar.RandomW = random[b] * barRoom / c.Most
		bar.LabelX = bar.RandomX + bar.RandomW + 8
		bar.Label = fmt.Sprint(all[b])
		if all[b] > 0 {
			bar.Label += fmt.Sprintf(" (%d fasting, %d not)", fasting[b], random[b])
		}
		c.Bars = append(c.Bars, bar)
	}
	c.Height = 8 + len(c.Bars)*barStep
	return c
}
