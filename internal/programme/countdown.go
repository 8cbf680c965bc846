package programme

import (
	"context"
	"fmt"
	"slices"
	"strconv"

	"fairstick/internal/charter"
	"fairstick/internal/event"
	"fairstick/internal/fault"
	"fairstick/internal/people"
)

// Limits on lead times. Two years ahead is further than any approval reaches.
const (
	MostLeadDays  = 730
	MostLeadTimes = 40
)

// LeadTimeRow is one lead time as it was typed. A row without words is left out.
type LeadTimeRow struct {
	Key    string // empty: a new one
	What   string
	Days   int
	After  bool
	Owner  string // person id; may be empty
	Source string
}

// AdoptLeadTimes replaces the programme's list of lead times.
type AdoptLeadTimes struct {
	Act
	Rows []LeadTimeRow
}

// AdoptLeadTimes records the programme's list of lead times. Only a lead may. Events keep the tasks that they have.
func (p *Programme) AdoptLeadTimes(ctx context.Context, a Actor, c AdoptLeadTimes) (Done, error) {
	return do(ctx, p, a, c.Act, "programme.adopt-lead-times", func(w *work) (Done, error) {
		if err := w.need(people.Lead); err != nil {
			return Done{}, err
		}
		ch, err := w.charter()
		if err != nil {
			return Done{}, err
		}
		var f fields
		b := charter.LeadTimesAdopted{Times: []charter.LeadTime{}}
		keys := map[string]bool{}
		for i, r := range c.Rows {
			if tidy(r.What) == "" {
				continue
			}
			n := strconv.Itoa(i + 1)
			t := charter.LeadTime{
				Key: r.Key, What: f.text("what_"+n, "What is to be done", r.What, true, 120), Days: r.Days, After: r.After,
				Source: f.text("source_"+n, "The rule that asks for it", r.Source, false, 160),
			}
			f.between("days_"+n, "The number of days", r.Days, 0, MostLeadDays)
			if t.Owner = tidy(r.Owner); t.Owner != "" {
				if _, err := w.owner(&f, "owner_"+n, t.Owner); err != nil {
					return Done{}, err
				}
			}
			if _, known := ch.LeadTimes.Find(t.Key); !known && !exampleKey(t.Key) {
				t.Key = w.id + "-" + n
			}
			if keys[t.Key] {
				f.say("what_"+n, "This line is on the list already.")
			}
			keys[t.Key] = true
			t.Example = isExample(t)
			b.Times = append(b.Times, t)
		}
		slices.SortStableFunc(b.Times, func(x, y charter.LeadTime) int { return offset(y) - offset(x) })
		if len(b.Times) > MostLeadTimes {
			f.say("what_"+strconv.Itoa(MostLeadTimes+1), "The list has room for %d lines.", MostLeadTimes)
		}
		if err := f.err(); err != nil {
			return Done{}, err
		}
		_, err = w.append(charter.Ref, b)
		return Done{ID: charter.Ref.ID}, err
	})
}

// offset is how many days before the event a lead time falls; negative after it.
func offset(t charter.LeadTime) int {
	if t.After {
		return -t.Days
	}
	return t.Days
}

// isExample reports whether a lead time still stands as it was shipped.
func isExample(t charter.LeadTime) bool {
	return slices.ContainsFunc(charter.ExampleLeadTimes(), func(x charter.LeadTime) bool {
		return x.Key == t.Key && x.What == t.What && x.Days == t.Days && x.After == t.After && x.Source == t.Source
	})
}

func exampleKey(key string) bool {
	return slices.ContainsFunc(charter.ExampleLeadTimes(), func(x charter.LeadTime) bool { return x.Key == key })
}

// owner loads who sees to a task: somebody who takes part.
func (w *work) owner(f *fields, field, id string) (*people.State, error) {
	who, err := load[*people.State](w, people.Ref(id))
	if fault.Is(err, "no-such-person") {
		f.say(field, "Choose a person from the list.")
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	if who.Gone != "" {
		f.say(field, "%s no longer takes part. Choose somebody else.", who.Details.Name)
	}
	return who, nil
}

// PlanTasks takes the programme's lead times over to an event.
type PlanTasks struct {
	Act
	Event string
}

// PlanTasks puts those lead times on the countdown of an event that are not there yet. A lead or supervisor may. Who has no
// owner, or one who has left, goes to who does this.
func (p *Programme) PlanTasks(ctx context.Context, a Actor, c PlanTasks) (Done, error) {
	return do(ctx, p, a, c.Act, "event.plan-tasks", func(w *work) (Done, error) {
		if err := w.need(people.Lead, people.Supervisor); err != nil {
			return Done{}, err
		}
		ev, err := w.ahead(c.Event, false)
		if err != nil {
			return Done{}, err
		}
		ch, err := w.charter()
		if err != nil {
			return Done{}, err
		}
		if ch.LeadTimes == nil || len(ch.LeadTimes.Times) == 0 {
			return Done{}, fault.New(fault.Refused, "no-lead-times", "The programme has adopted no lead times.",
				"Which approvals are needed, and how early, is decided where you are.", "A lead opens Lead times, looks at the examples and adopts those that apply.")
		}
		added := 0
		for _, t := range ch.LeadTimes.Times {
			if _, there := ev.TaskOf(t.Key); there {
				continue
			}
			owner := w.actor.Person
			if t.Owner != "" {
				if who, err := load[*people.State](w, people.Ref(t.Owner)); err == nil && who.Gone == "" {
					owner = t.Owner
				}
			}
			b := event.TaskPlanned{Task: t.Key, What: t.What, Days: t.Days, After: t.After, Owner: owner, Source: t.Source}
			if _, err := w.append(event.Ref(ev.ID), b); err != nil {
				return Done{}, err
			}
			added++
		}
		if added == 0 {
			return Done{}, fault.New(fault.Conflict, "tasks-there", "Everything on the programme's list is on this countdown already.", "",
				"Add what is missing as a task of this event.")
		}
		return Done{ID: ev.ID}, nil
	})
}

// ahead loads an event to whose countdown something may be added: it is not closed, and its day has not passed unless the
// task comes after it.
func (w *work) ahead(id string, after bool) (*event.State, error) {
	ev, err := w.openable(id)
	if err != nil {
		return nil, err
	}
	if today := ev.Day(w.now); !after && ev.Plan.Date.Before(today) {
		return nil, passedFault(ev)
	}
	return ev, nil
}

func passedFault(ev *event.State) *fault.Fault {
	return fault.New(fault.Refused, "event-past", fmt.Sprintf("The day of %s was %s.", ev.Plan.Name, ev.Plan.Date.Long()),
		"Nothing can be prepared for a day that has passed.", "Correct the date in the plan, or choose another event.")
}

// PlanTask adds a task to the countdown of an event, or changes one when Task is given.
type PlanTask struct {
	Act
	Event, Task  string
	What, Source string
	Days         int
	After        bool
	Owner        string
}

// PlanTask records a task of an event. A lead or supervisor may.
func (p *Programme) PlanTask(ctx context.Context, a Actor, c PlanTask) (Done, error) {
	return do(ctx, p, a, c.Act, "event.plan-task", func(w *work) (Done, error) {
		if err := w.need(people.Lead, people.Supervisor); err != nil {
			return Done{}, err
		}
		ev, err := w.ahead(c.Event, c.After)
		if err != nil {
			return Done{}, err
		}
		b := event.TaskPlanned{Task: c.Task, Days: c.Days, After: c.After, Owner: tidy(c.Owner)}
		if b.Task == "" {
			b.Task = w.id
		} else if _, ok := ev.TaskOf(b.Task); !ok {
			return Done{}, noTask()
		}
		var f fields
		b.What = f.text("what", "What is to be done", c.What, true, 120)
		b.Source = f.text("source", "The rule that asks for it", c.Source, false, 160)
		f.between("days", "The number of days", c.Days, 0, MostLeadDays)
		if b.Owner == "" {
			f.say("owner", "Choose who sees to it.")
		} else if _, err := w.owner(&f, "owner", b.Owner); err != nil {
			return Done{}, err
		}
		if err := f.err(); err != nil {
			return Done{}, err
		}
		_, err = w.append(event.Ref(ev.ID), b)
		return Done{ID: b.Task}, err
	})
}

func noTask() *fault.Fault {
	return fault.New(fault.Missing, "no-such-task", "There is no such task on this countdown.", "It may have been linked wrongly.", "Go back to the countdown and choose it there.")
}

// FinishTask says that a task is done, and what shows it.
type FinishTask struct {
	Act
	Event, Task     string
	On              string // day; empty: today
	Note, Reference string // one of them is needed, unless a file is attached
}

// FinishTask records that a task is done. A lead, a supervisor or its owner may, also after the event was closed.
func (p *Programme) FinishTask(ctx context.Context, a Actor, c FinishTask) (Done, error) {
	return do(ctx, p, a, c.Act, "event.finish-task", func(w *work) (Done, error) {
		ev, t, err := w.openTask(c.Event, c.Task)
		if err != nil {
			return Done{}, err
		}
		if w.me == nil || w.me.ID != t.Owner {
			if err := w.need(people.Lead, people.Supervisor); err != nil {
				return Done{}, err
			}
		}
		var f fields
		today := ev.Day(w.now)
		b := event.TaskDone{
			Task: t.Task, On: f.date("on", "The day", c.On, false), Note: f.text("note", "The note", c.Note, false, 300),
			Reference: f.text("reference", "The reference", c.Reference, false, 160),
		}
		switch {
		case b.On.IsZero():
			b.On = today
		case b.On.After(today):
			f.say("on", "%s has not come yet. Write it down when it is done.", b.On.Long())
		case b.On.Before(ev.Plan.Date.AddDays(-2 * MostLeadDays)):
			f.say("on", "%s is years before the event. Check the year.", b.On.Long())
		}
		if b.Note == "" && b.Reference == "" {
			files, err := w.files(ev.ID, t.Task)
			if err != nil {
				return Done{}, err
			}
			if !slices.ContainsFunc(files, func(e *event.Evidence) bool { return !e.Erased() }) {
				f.say("reference", "Write what shows that it is done: a number, a date of a letter, who said so. Or attach a file first.")
			}
		}
		if err := f.err(); err != nil {
			return Done{}, err
		}
		_, err = w.append(event.Ref(ev.ID), b)
		return Done{ID: t.Task}, err
	})
}

// openTask loads a task that is neither done nor waived.
func (w *work) openTask(eventID, task string) (*event.State, event.Task, error) {
	ev, err := load[*event.State](w, event.Ref(eventID))
	if err != nil {
		return nil, event.Task{}, err
	}
	t, ok := ev.TaskOf(task)
	switch {
	case !ok:
		return nil, t, noTask()
	case t.Done != nil:
		return nil, t, fault.New(fault.Conflict, "task-done", "This task is done already.", "Somebody was faster.", "Look at what they wrote; if it is wrong, open the task again.")
	case t.Waived != "":
		return nil, t, fault.New(fault.Conflict, "task-waived", "This task was waived already.", "Somebody was faster.", "Look at what they wrote; if it is wrong, open the task again.")
	}
	return ev, t, nil
}

// WaiveTask says why a task is not needed for this event.
type WaiveTask struct {
	Act
	Event, Task, Reason string
}

// WaiveTask records that a task is not needed. Only a lead may, also after the event was closed.
func (p *Programme) WaiveTask(ctx context.Context, a Actor, c WaiveTask) (Done, error) {
	return do(ctx, p, a, c.Act, "event.waive-task", func(w *work) (Done, error) {
		if err := w.need(people.Lead); err != nil {
			return Done{}, err
		}
		ev, t, err := w.openTask(c.Event, c.Task)
		if err != nil {
			return Done{}, err
		}
		var f fields
		reason := f.text("reason", "The reason", c.Reason, true, 200)
		if err := f.err(); err != nil {
			return Done{}, err
		}
		_, err = w.append(event.Ref(ev.ID), event.TaskWaived{Task: t.Task, Reason: reason})
		return Done{ID: t.Task}, err
	})
}

// ReopenTask takes back that a task was done or waived.
type ReopenTask struct {
	Act
	Event, Task, Reason string
}

// ReopenTask records that a task is to do again. A lead or supervisor may.
func (p *Programme) ReopenTask(ctx context.Context, a Actor, c ReopenTask) (Done, error) {
	return do(ctx, p, a, c.Act, "event.reopen-task", func(w *work) (Done, error) {
		if err := w.need(people.Lead, people.Supervisor); err != nil {
			return Done{}, err
		}
		ev, err := load[*event.State](w, event.Ref(c.Event))
		if err != nil {
			return Done{}, err
		}
		t, ok := ev.TaskOf(c.Task)
		switch {
		case !ok:
			return Done{}, noTask()
		case t.Open():
			return Done{}, fault.New(fault.Conflict, "task-open", "This task is open already.", "", "Go back to the countdown.")
		}
		var f fields
		reason := f.text("reason", "The reason", c.Reason, true, 200)
		if err := f.err(); err != nil {
			return Done{}, err
		}
		_, err = w.append(event.Ref(ev.ID), event.TaskReopened{Task: t.Task, Reason: reason})
		return Done{ID: t.Task}, err
	})
}
