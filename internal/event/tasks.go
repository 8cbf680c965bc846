package event

import (
	"time"

	"fairstick/internal/civil"
	"fairstick/internal/fact"
)

// TaskPlanned puts an approval, notice or other task on the countdown, or changes one. Its day is counted from the day of
// the event, so that it moves with it.
type TaskPlanned struct {
	Task   string `json:"task"` // unique within the event; the key of a lead time that was taken over
	What   string `json:"what"`
	Days   int    `json:"days"`            // before the event; after it when After
	After  bool   `json:"after,omitempty"` // counted from the event on
	Owner  string `json:"owner"`           // person id
	Source string `json:"source,omitempty"`
}

// FactKind implements fact.Body.
func (TaskPlanned) FactKind() string { return "event.task-planned" }

// TaskDone says that a task is done, on which day, and what shows it.
type TaskDone struct {
	Task      string     `json:"task"`
	On        civil.Date `json:"on"`
	Note      string     `json:"note,omitempty"`
	Reference string     `json:"reference,omitempty"` // for example the number of the approval and where it lies
}

// FactKind implements fact.Body.
func (TaskDone) FactKind() string { return "event.task-done" }

// TaskWaived says why a task is not needed for this event.
type TaskWaived struct {
	Task   string `json:"task"`
	Reason string `json:"reason"`
}

// FactKind implements fact.Body.
func (TaskWaived) FactKind() string { return "event.task-waived" }

// TaskReopened takes back that a task was done or waived.
type TaskReopened struct {
	Task   string `json:"task"`
	Reason string `json:"reason"`
}

// FactKind implements fact.Body.
func (TaskReopened) FactKind() string { return "event.task-reopened" }

// Task is one line of the countdown as it stands.
type Task struct {
	TaskPlanned
	Done    *TaskDone `json:"done,omitempty"`
	Waived  string    `json:"waived,omitempty"`  // reason; empty while it counts
	Changed time.Time `json:"changed"`           // when it was last touched
	By      string    `json:"by,omitempty"`      // who touched it last
	Times   int       `json:"times"`             // how often it was touched
	Again   string    `json:"again,omitempty"`   // why it was reopened last
	Planner string    `json:"planner,omitempty"` // who planned it first
}

// Open reports whether the task is still to do.
func (t Task) Open() bool { return t.Done == nil && t.Waived == "" }

// Due is the day of a task for an event on a day.
func (t TaskPlanned) Due(day civil.Date) civil.Date {
	if t.After {
		return day.AddDays(t.Days)
	}
	return day.AddDays(-t.Days)
}

// TaskOf finds a task of the countdown; ok is false when there is none.
func (s *State) TaskOf(id string) (t Task, ok bool) {
	for _, t := range s.Tasks {
		if t.Task == id {
			return t, true
		}
	}
	return Task{}, false
}

// task applies the facts about the countdown. A fact about a task that was never planned changes nothing.
func (s *State) task(r fact.Record) {
	if b, ok := r.Body.(TaskPlanned); ok {
		if t := s.touch(b.Task, r); t != nil {
			t.TaskPlanned = b
			return
		}
		s.Tasks = append(s.Tasks, Task{TaskPlanned: b, Changed: r.At, By: r.By, Times: 1, Planner: r.By})
		return
	}
	switch b := r.Body.(type) {
	case TaskDone:
		if t := s.touch(b.Task, r); t != nil {
			t.Done, t.Waived = &b, ""
		}
	case TaskWaived:
		if t := s.touch(b.Task, r); t != nil {
			t.Done, t.Waived = nil, b.Reason
		}
	case TaskReopened:
		if t := s.touch(b.Task, r); t != nil {
			t.Done, t.Waived, t.Again = nil, "", b.Reason
		}
	}
}

// touch finds a task and notes that it was changed; nil when there is none.
func (s *State) touch(id string, r fact.Record) *Task {
	for i := range s.Tasks {
		if t := &s.Tasks[i]; t.Task == id {
			t.Changed, t.By, t.Times = r.At, r.By, t.Times+1
			return t
		}
	}
	return nil
}
