package followup

import (
	"time"

	"fairstick/internal/civil"
	"fairstick/internal/protocol"
)

// Case is what a follow-up must know of its visit, its event and the protocol to say what is due. The programme fills it in.
type Case struct {
	Day     civil.Date       // of the event
	Zone    *time.Location   // of the event
	Days    []int            // days after the event on which the protocol asks for a call, rising
	Urgent  bool             // the finding was critical
	Post    bool             // a postal address is kept
	Renewed time.Time        // when the name and number were put right last; what went wrong before counts no more
	Rules   protocol.Calling // around the days
}

// Kinds of task.
const (
	Call  = "call"
	Write = "letter"
)

// Why a task is due.
const (
	SameEvening = "same-evening"      // a critical finding: on the evening of the event
	NextDay     = "next-day"          // a critical finding: on the day after
	FirstCall   = "first-call"        // nobody has tried yet
	TryAgain    = "try-again"         // the last try did not reach the person
	AskAgain    = "ask-again"         // reached, not seen yet
	AfterVisit  = "after-appointment" // the appointment is over: were they seen
	LastAsk     = "last-ask"          // the outcome is asked once more before the follow-up rests
	UsedUp      = "tries-used-up"     // a letter is written
	NumberWrong = "wrong-number"      // a letter is written
)

// Task is what is due next for one person. It can be done from From on and is late after By.
type Task struct {
	Kind  string    `json:"kind"`
	Why   string    `json:"why"`
	Try   int       `json:"try,omitempty"`   // which try of the row, from 1; 0 for a letter
	Other bool      `json:"other,omitempty"` // use another channel than before
	From  time.Time `json:"from"`
	By    time.Time `json:"by"`
}

// LateAt reports whether a task is late at a moment.
func (t Task) LateAt(now time.Time) bool { return now.After(t.By) }

// OpenAt reports whether a task can be done at a moment.
func (t Task) OpenAt(now time.Time) bool { return !now.Before(t.From) }

// Status gives the outcome that stands: the one that was told last, or Unreachable once the tries are used up and nothing was
// told; empty while it is open. A wrong number or an unreachable person does not stand any more when the number was put
// right, or when something was heard of the person since.
func (s *State) Status(c Case) Outcome {
	if told, ok := s.Standing(); ok && (told.Outcome.Spoken() || !s.heard().After(told.At) && !c.Renewed.After(told.At)) {
		return told.Outcome
	}
	if s != nil && len(s.missed(c)) >= c.Rules.Attempts {
		return Unreachable
	}
	return ""
}

// missed is Misses since the number was put right.
func (s *State) missed(c Case) []Attempt {
	list := s.Misses()
	for len(list) > 0 && !list[0].At.After(c.Renewed) {
		list = list[1:]
	}
	return list
}

// Next tells what is due; ok is false when nothing is: the person was seen, wants no more, is in care already, or all that can
// be done was done. A nil State is a follow-up that nobody has begun.
func (s *State) Next(c Case) (task Task, ok bool) {
	status, missed := s.Status(c), s.missed(c)
	switch {
	case status.Final() || c.Rules.Attempts == 0:
		return Task{}, false
	case status == BadNumber:
		told, _ := s.Standing()
		return s.write(c, told.At, NumberWrong)
	case status == Unreachable || len(missed) >= c.Rules.Attempts:
		since := s.heard()
		if t, ok := s.write(c, since, UsedUp); ok {
			return t, true
		}
		return s.sweep(c)
	}
	task, ok = s.due(c)
	if !ok {
		return Task{}, false
	}
	task.Try = len(missed) + 1
	task.Other = task.Try >= c.Rules.OtherFrom
	if n := len(missed); n > 0 {
		task.Why = TryAgain
		task.From, task.By = c.slot(missed[n-1].At.Add(c.Rules.Between(c.Urgent)), missed)
	}
	return task, true
}

// due is the next call by what was heard last, without regard to tries since.
func (s *State) due(c Case) (Task, bool) {
	heard := s.heard()
	if heard.IsZero() {
		if len(c.Days) == 0 {
			return s.sweep(c)
		}
		return c.call(c.Day.AddDays(c.Days[0]), c.first()), true
	}
	on := civil.Of(heard.In(c.zone()))
	tomorrow := on.AddDays(1)
	told, _ := s.Standing()
	fresh := !told.At.Before(heard) // the outcome is from the last time that something was heard
	switch {
	case told.Outcome == Scheduled && (fresh || !told.On.Before(on)):
		return c.call(latest(told.On.AddDays(1), tomorrow), AfterVisit), true
	case told.Outcome == NotYet && fresh:
		for _, d := range c.Days {
			if day := c.Day.AddDays(d); day.After(on) {
				return c.call(day, c.again(d)), true
			}
		}
		if c.Urgent {
			return c.call(tomorrow, AskAgain), true
		}
		return s.sweep(c)
	}
	return c.call(tomorrow, AskAgain), true
}

// sweep asks once more on the last day of asking, unless somebody has tried then already.
func (s *State) sweep(c Case) (Task, bool) {
	t := c.call(c.Day.AddDays(c.Rules.SweepDay), LastAsk)
	if s != nil {
		for _, a := range s.Attempts {
			if !a.At.Before(t.From) {
				return Task{}, false
			}
		}
		if o, ok := s.Standing(); ok && o.Outcome.Spoken() && !o.At.Before(t.From) {
			return Task{}, false
		}
	}
	t.Try = 1
	return t, true
}

// write asks for a letter after a moment, once, when there is an address to write to.
func (s *State) write(c Case, since time.Time, why string) (Task, bool) {
	if !c.Post || s.lettered(since) {
		return Task{}, false
	}
	from := since
	if n := len(s.Attempts); n > 0 && s.Attempts[n-1].At.After(from) {
		from = s.Attempts[n-1].At
	}
	return Task{Kind: Write, Why: why, From: from, By: c.edge(civil.Of(from.In(c.zone())).AddDays(1), c.last())}, true
}

func (c Case) first() string {
	switch {
	case !c.Urgent:
		return FirstCall
	case c.Days[0] == 0:
		return SameEvening
	}
	return NextDay
}

func (c Case) again(day int) string {
	if c.Urgent && day == 1 {
		return NextDay
	}
	return AskAgain
}

// call is a call on a day, within the hours of calling; that of the day of the event is in the evening.
func (c Case) call(day civil.Date, why string) Task {
	t := Task{Kind: Call, Why: why, From: c.edge(day, c.Rules.Hours[0]), By: c.edge(day, c.last())}
	if !day.After(c.Day) {
		t.From = c.edge(day, c.Rules.Evening)
	}
	return t
}

// slot finds when to try again: not before earliest, and in a part of the day in which nobody of the row has tried, as long as
// there is one. It ends with the hours of calling of that day.
func (c Case) slot(earliest time.Time, missed []Attempt) (from, by time.Time) {
	tried := map[int]bool{}
	for _, a := range missed {
		tried[c.Rules.PartOf(a.At.In(c.zone()))] = true
	}
	free := false
	for i := range c.Rules.Parts() {
		free = free || !tried[i]
	}
	day := civil.Of(earliest.In(c.zone()))
	for range 2 { // what is left of this day, or the next one
		for i := range c.Rules.Parts() {
			start, end := c.edge(day, c.Rules.Hours[i]), c.edge(day, c.Rules.Hours[i+1])
			if earliest.After(start) {
				start = earliest
			}
			if start.Before(end) && (!free || !tried[i]) {
				return start, c.edge(day, c.last())
			}
		}
		day = day.AddDays(1)
	}
	return c.edge(day, c.Rules.Hours[0]), c.edge(day, c.last())
}

func (c Case) last() civil.Clock { return c.Rules.Hours[len(c.Rules.Hours)-1] }

func (c Case) edge(day civil.Date, at civil.Clock) time.Time { return at.On(day, c.zone()) }

func (c Case) zone() *time.Location {
	if c.Zone == nil {
		return time.UTC
	}
	return c.Zone
}

func latest(a, b civil.Date) civil.Date {
	if a.After(b) {
		return a
	}
	return b
}
