package programme

import (
	"context"
	"fmt"
	"time"

	"fairstick/internal/charter"
	"fairstick/internal/event"
	"fairstick/internal/people"
	"fairstick/internal/plan"
	"fairstick/internal/visit"
)

// Planning is what the plans of events rest on: the published values, and what the programme's own closed events have shown.
type Planning struct {
	On     bool        // what was seen is used
	Record plan.Record // of all closed events
	Out    int         // times longer than an hour, which are left out: somebody forgot to go on
}

// PlanningLine is one value that the plan of an event rests on.
type PlanningLine struct {
	Key, Name string
	Minutes   bool // else a share
	Published float64
	Seen      float64 // meant only when N > 0
	N         int     // people, services or volunteers
	Used      float64
	Source    string // of the published value
}

// longestService is the longest time at a station that is taken for one: a ticket left open over lunch is none.
const longestService = time.Hour

// Planning counts what the closed events have shown.
func (p *Programme) Planning(ctx context.Context) (Planning, error) {
	ch, err := p.Charter(ctx)
	if err != nil {
		return Planning{}, err
	}
	events, err := List[*event.State](ctx, p, event.Kind)
	if err != nil {
		return Planning{}, err
	}
	out := Planning{On: !ch.PublishedOnly}
	for _, ev := range events {
		if ev.Phase != event.IsClosed {
			continue
		}
		d, err := p.Day(ctx, ev.ID)
		if err != nil {
			return Planning{}, err
		}
		if len(d.Visits) > 0 {
			out.add(d)
		}
	}
	return out, nil
}

// add counts one event.
func (pl *Planning) add(d *Day) {
	r, s := &pl.Record, d.sums()
	r.Events++
	r.People.Came += s.arrived
	r.People.Left += s.leftUntested
	r.People.NotEligible += s.notEligible
	r.People.Declined += s.declined
	r.People.Tested += s.tested
	r.People.Repeats += s.repeats
	r.People.Errors += s.errors
	r.People.Referred += s.refer
	r.Sticks += s.sticks + s.misfires
	r.Misfires += s.misfires
	for _, p := range d.Event.Roster {
		if !p.Told {
			continue
		}
		r.Posted++
		if !p.Here {
			r.Away++
		}
	}
	open := d.Event.Plan.Doors.On(d.Event.Plan.Date, d.Event.Zone())
	span := d.Event.Plan.Ends.On(d.Event.Plan.Date, d.Event.Zone()).Sub(open)
	for _, v := range d.Visits {
		if span > 0 {
			r.Quarters[min(max(int(4*v.Times.Arrived.Sub(open)/span), 0), 3)]++
		}
		pl.times(v)
	}
}

// times measures how long the stations took with one person. Times that were typed in from paper are no measure, and those of somebody who was
// cared for are no usual ones.
func (pl *Planning) times(v *visit.State) {
	if v.Paper != "" || v.Care != nil {
		return
	}
	t := v.Times
	pl.measure(&pl.Record.Desk, t.Arrived, t.DeskDone)
	if len(v.Readings) == 1 {
		pl.measure(&pl.Record.Test, t.TestCalled, t.Found)
	}
	if f := v.Finding(); f != nil && v.Phase() == visit.Done {
		if f.Refer {
			pl.measure(&pl.Record.Referral, t.ExplCalled, t.Ended)
		} else {
			pl.measure(&pl.Record.Explain, t.ExplCalled, t.Ended)
		}
	}
}

func (pl *Planning) measure(m *plan.Measured, from, to time.Time) {
	if from.IsZero() || !to.After(from) {
		return
	}
	if to.Sub(from) > longestService {
		pl.Out++
		return
	}
	m.N++
	m.Sum += to.Sub(from).Minutes()
}

// Has reports whether anything was seen.
func (pl Planning) Has() bool { return pl.Record.Events > 0 }

// Begin gives the input of a plan with the values that are used.
func (pl Planning) Begin(expected int, h plan.Hours) (plan.Input, error) {
	in := plan.Defaults(expected, h)
	if !pl.On {
		return in, nil
	}
	in, _, err := plan.Learn(in, pl.Record)
	return in, err
}

// Lines gives every value that a plan rests on, with the source of the published one, what was seen, and what is used.
func (pl Planning) Lines() ([]PlanningLine, error) {
	in := plan.Defaults(1, plan.Hours{Close: 240})
	_, learned, err := plan.Learn(in, pl.Record)
	if err != nil {
		return nil, err
	}
	lines := publishedLines(in)
	for i, l := range lines {
		for _, x := range learned {
			if x.Key != l.Key {
				continue
			}
			lines[i].Seen, lines[i].N = x.Seen, x.N
			if pl.On {
				lines[i].Used = x.Used
			}
		}
	}
	return lines, nil
}

func publishedLines(in plan.Input) []PlanningLine {
	f, t := in.Funnel, in.Times
	const own = "our own proposal (common practice)"
	var all []PlanningLine
	add := func(key, name string, minutes bool, value float64, source string) {
		all = append(all, PlanningLine{Key: key, Name: name, Minutes: minutes, Published: value, Used: value, Source: source})
	}
	add(plan.KeyLeaves, "Leave before the test", false, f.Leaves, "common practice")
	add(plan.KeyNotEligible, "Not eligible", false, f.NotEligible, "common practice: 12 % know that they have diabetes, 3 % for another reason")
	add(plan.KeyDeclines, "Decline", false, f.Declines, "common practice")
	add(plan.KeyRepeats, "Repeats, of those tested", false, f.Repeats, "common practice")
	add(plan.KeyErrors, "Strip errors, of those tested", false, f.Errors, "common practice; operator and strip errors 2.4 to 3.8 % (Corl 2012, J Healthc Qual)")
	add(plan.KeyReferred, "Referred, of those tested", false, f.Referred, "referred for glucose in US pharmacies (Snella KA 2006, PMID 16739759)")
	add(plan.KeyDesk, "Desk, one person", true, t.Desk.Mean, own+", 2 to 6")
	add(plan.KeyTest, "Test, one person without a repeat", true, t.Test.Mean, own+"; a bedside test by nurses took 5.19, SD 0.66 (Malesker M, Chest 2010;138:285A)")
	add("wipe", "Wipe the meter, change gloves", true, t.Wipe, own)
	add("wet", "The meter stays wet", true, t.Wet, own+"; the label of the wipe decides, 1 to 4 (from memory)")
	add(plan.KeyExplain, "Explain a result in range", true, t.Explain.Mean, own+", 2 to 6")
	add(plan.KeyReferral, "Explain a result with a referral", true, t.Referral.Mean, own+", 8 to 18; counselling after a pharmacy screening 11.6, SD 6.5 (BMJ Open, n 112)")
	add(plan.KeyMisfires, "Lancets that fail", false, in.Store.Misfires, "common practice")
	add(plan.KeyNoShow, "Volunteers who do not come", false, in.NoShow, "common practice")
	add("scatter", "Turnout differs from the expected one by", false, in.Scatter, "common practice, as a coefficient of variation")
	for k, word := range []string{"first", "second", "third", "last"} {
		add(fmt.Sprintf("%s%d", plan.KeyQuarter, k+1), "Come in the "+word+" quarter of the opening", false, 0.25, "at one pace, when nothing is known")
	}
	return all
}

// ChoosePlanning says whether plans use what was seen.
type ChoosePlanning struct {
	Act
	Learn bool
}

// ChoosePlanning records the choice. Only a lead may; it can be taken back at any time.
func (p *Programme) ChoosePlanning(ctx context.Context, a Actor, c ChoosePlanning) (Done, error) {
	return do(ctx, p, a, c.Act, "programme.choose-planning", func(w *work) (Done, error) {
		if err := w.need(people.Lead); err != nil {
			return Done{}, err
		}
		_, err := w.append(charter.Ref, charter.PlanningChosen{Learn: c.Learn})
		return Done{ID: charter.Ref.ID}, err
	})
}
