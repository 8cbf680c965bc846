package programme

import (
	"context"
	"fmt"
	"strings"
	"sync"
	"time"

	"fairstick/internal/event"
	"fairstick/internal/fault"
	"fairstick/internal/people"
	"fairstick/internal/stock"
)

// Timepiece is the clock that the record goes by, beside the clock that this laptop shows.
type Timepiece interface {
	Now() time.Time       // goes on steadily, whatever is done to the laptop's clock
	Ahead() time.Duration // how far the laptop's clock is ahead of it; negative when it is behind
	Follow()              // takes over the laptop's clock
}

// timekeeping is what the programme knows about its clock.
type timekeeping struct {
	mu       sync.Mutex
	piece    Timepiece
	kept     *time.Duration // the difference that somebody decided to live with
	shown    bool           // whether faces were told of a difference
	lastSeen time.Time      // the newest entry when the record was opened
}

// A difference from jump on is one that people must know of; what an entry is after the laptop's time by more than early says
// that the laptop's clock is wrong.
const (
	jump  = time.Minute
	early = 5 * time.Minute
)

// ClockState is how the clock that the record goes by stands to others.
type ClockState struct {
	Now    time.Time     // what the record goes by
	Ahead  time.Duration // how far the laptop's clock is ahead; negative when it is behind
	Ask    bool          // somebody must say which is right
	Newest time.Time     // the newest entry, when the record's clock is well before it; zero when it is not
}

// Laptop is what the laptop's own clock shows.
func (c ClockState) Laptop() time.Time { return c.Now.Add(c.Ahead) }

// Sentence says what is wrong with the clock, in a zone; empty when nothing is.
func (c ClockState) Sentence(zone *time.Location) string {
	const form = "2 Jan 2006, 15:04"
	switch {
	case c.Ask:
		now, laptop, shown, way := c.Now.In(zone), c.Laptop().In(zone), form, "forward"
		if now.YearDay() == laptop.YearDay() && now.Year() == laptop.Year() {
			shown = "15:04"
		}
		if c.Ahead < 0 {
			way = "back"
		}
		return fmt.Sprintf("This laptop's clock jumped %s by %s. It shows %s; Fairstick goes on with %s.", way, lengthOf(c.Ahead.Abs()), laptop.Format(shown), now.Format(shown))
	case !c.Newest.IsZero():
		return fmt.Sprintf("This laptop's clock shows %s, but the record has an entry of %s already. One of the two clocks was wrong.", c.Now.In(zone).Format(form), c.Newest.In(zone).Format(form))
	}
	return ""
}

// lengthOf says how long a difference is: "2 h 5 min", "3 days 4 h".
func lengthOf(d time.Duration) string {
	d = d.Round(time.Minute)
	days, hours, minutes := int(d.Hours())/24, int(d.Hours())%24, int(d.Minutes())%60
	var out []string
	if days > 0 {
		out = append(out, fmt.Sprintf("%d days", days))
		if days == 1 {
			out[0] = "1 day"
		}
	}
	if hours > 0 {
		out = append(out, fmt.Sprintf("%d h", hours))
	}
	if minutes > 0 && days == 0 {
		out = append(out, fmt.Sprintf("%d min", minutes))
	}
	return strings.Join(out, " ")
}

// GoBy tells the programme which clock it goes by; it must be the one given to New. Without it no jump is noticed.
func (p *Programme) GoBy(ctx context.Context, t Timepiece) error {
	newest, err := p.store.Newest(ctx)
	if err != nil {
		return err
	}
	p.clock.mu.Lock()
	defer p.clock.mu.Unlock()
	p.clock.piece, p.clock.lastSeen = t, newest
	return nil
}

// ClockState says how the clock stands.
func (p *Programme) ClockState() ClockState {
	p.clock.mu.Lock()
	defer p.clock.mu.Unlock()
	s := ClockState{Now: p.now()}
	if p.clock.piece == nil {
		return s
	}
	s.Ahead = p.clock.piece.Ahead()
	s.Ask = s.Ahead.Abs() >= jump && (p.clock.kept == nil || (s.Ahead-*p.clock.kept).Abs() >= jump)
	if p.clock.lastSeen.Sub(s.Now) > early {
		s.Newest = p.clock.lastSeen
	}
	return s
}

// laptopTime is what the laptop's own clock shows.
func (p *Programme) laptopTime() time.Time {
	p.clock.mu.Lock()
	defer p.clock.mu.Unlock()
	if p.clock.piece == nil {
		return p.now()
	}
	return p.now().Add(p.clock.piece.Ahead())
}

// SettleClock takes over the laptop's clock while no event is open, since nothing is being timed then. It is called every few
// seconds, and tells those who listen to Changes when what ClockState asks has changed.
func (p *Programme) SettleClock(ctx context.Context) error {
	p.clock.mu.Lock()
	piece := p.clock.piece
	p.clock.mu.Unlock()
	if piece == nil {
		return nil
	}
	if piece.Ahead() != 0 {
		busy, err := p.anyOpen(ctx)
		if err != nil {
			return err
		}
		if !busy {
			p.follow()
		}
	}
	ask := p.ClockState().Ask
	p.clock.mu.Lock()
	defer p.clock.mu.Unlock()
	if ask != p.clock.shown {
		p.clock.shown = ask
		p.store.Poke()
	}
	return nil
}

func (p *Programme) follow() {
	p.clock.mu.Lock()
	defer p.clock.mu.Unlock()
	if p.clock.piece != nil {
		p.clock.piece.Follow()
	}
	p.clock.kept = nil
}

// anyOpen reports whether an event is open, or a meter is being wiped for one that will be.
func (p *Programme) anyOpen(ctx context.Context) (bool, error) {
	events, err := List[*event.State](ctx, p, event.Kind)
	now := p.now()
	for _, e := range events {
		if e.Phase == event.IsOpen || e.Phase == event.IsDoorsClosed {
			return true, nil
		}
		for _, wipe := range e.Wipes {
			if now.Before(wipe.Until()) {
				return true, nil
			}
		}
	}
	return false, err
}

// What can be said of a clock that jumped.
const (
	ClockSlept = "slept" // the laptop slept: its clock is right, the time has passed
	ClockSet   = "set"   // its clock was wrong before and is right now
	ClockKeep  = "keep"  // its clock is wrong now, or this can wait until the day is closed
)

// AnswerClock says which clock is right while an event is open.
type AnswerClock struct {
	Act
	Event  string
	Answer string        // ClockSlept, ClockSet or ClockKeep
	Ahead  time.Duration // the difference that the person saw
}

// AnswerClock records what a supervisor or lead says of a clock that jumped, and does it. Time never goes back while an event is
// open, and it is not moved on while a meter must stay wet or a recheck waits, unless it has truly passed.
func (p *Programme) AnswerClock(ctx context.Context, a Actor, c AnswerClock) (Done, error) {
	now := p.ClockState()
	done, err := do(ctx, p, a, c.Act, "event.clock", func(w *work) (Done, error) {
		ev, err := load[*event.State](w, event.Ref(c.Event))
		if err != nil {
			return Done{}, err
		}
		if err := w.need(people.Lead, people.Supervisor); err != nil {
			return Done{}, err
		}
		if (now.Ahead-c.Ahead).Abs() >= jump || now.Ahead.Abs() < jump {
			return Done{}, fault.New(fault.Conflict, "clock-moved", "The difference of the clocks is not the one that you saw.", "The clock was set again, or somebody has answered already.", "Look at both times again.")
		}
		switch {
		case c.Answer != ClockSlept && c.Answer != ClockSet && c.Answer != ClockKeep:
			return Done{}, fault.BadField("answer", "Choose what happened.")
		case ev.Phase != event.IsOpen && ev.Phase != event.IsDoorsClosed:
			return Done{}, refuse("not-open", "This day is not open.", "Without an open day Fairstick takes the laptop's time by itself.", "Nothing is to be done.")
		case c.Answer != ClockKeep && now.Ahead < 0:
			return Done{}, refuse("clock-back", "The record's time cannot go back while the day is open.", "Waits and minutes that run would be wrong, and readings would stand in the wrong order.",
				"Keep Fairstick's time; it takes the laptop's when the day is closed.")
		}
		if c.Answer == ClockSet {
			if err := w.nothingRuns(ev); err != nil {
				return Done{}, err
			}
		}
		way := "forward"
		if now.Ahead < 0 {
			way = "back"
		}
		_, err = w.append(event.Ref(ev.ID), event.Overridden{Gate: "clock:" + c.Answer, About: way + " by " + lengthOf(now.Ahead.Abs()), Reason: clockReasons[c.Answer], Signed: a.Person})
		return Done{ID: ev.ID}, err
	})
	if err != nil || done.Already {
		return done, err
	}
	if c.Answer != ClockKeep {
		p.follow()
	}
	p.clock.mu.Lock()
	if c.Answer == ClockKeep {
		p.clock.kept = &now.Ahead
	}
	p.clock.shown = false
	p.clock.mu.Unlock()
	p.store.Poke() // the boards were told of the answer before the clock moved
	return done, nil
}

var clockReasons = map[string]string{
	ClockSlept: "The laptop slept. Its clock is right and was taken over.",
	ClockSet:   "The laptop's clock had been wrong and was set right. It was taken over; earlier times of the day are off by this much.",
	ClockKeep:  "Fairstick kept its own time until the day was closed.",
}

// nothingRuns refuses while minutes run that a moved clock would end early.
func (w *work) nothingRuns(ev *event.State) error {
	for id, wipe := range ev.Wipes {
		if left := wipe.Until().Sub(w.now); left > 0 {
			m, err := load[*stock.Meter](w, stock.MeterRef(id))
			if err != nil {
				return err
			}
			return refuse("clock-runs", fmt.Sprintf("Meter %s must stay wet for %d more seconds.", m.Details.Label, int(left.Seconds()+0.999)), "Moving the clock would end that early.", "Wait until it is dry, then answer again.")
		}
	}
	d, err := w.day(ev.ID)
	if err != nil {
		return err
	}
	for _, s := range d.Incidents {
		if until, ok := s.FlushUntil(); ok && s.Open() && w.now.Before(until) {
			return refuse("clock-runs", "An eye is being flushed until "+until.In(ev.Zone()).Format("15:04")+".", "Moving the clock would end that early.", "Flush to the end, then answer again.")
		}
		if left, ok := s.WetFor(w.now); ok && s.Open() && left > 0 {
			return refuse("clock-runs", fmt.Sprintf("A surface must stay wet for %d more seconds.", int(left.Seconds()+0.999)), "Moving the clock would end that early.", "Wait until the time is over, then answer again.")
		}
	}
	for _, v := range d.Visits {
		if s := d.Sugar(v); s.Given > 0 && s.Recheck == nil && w.now.Before(s.Due) && !v.Phase().Ended() {
			return refuse("clock-runs", fmt.Sprintf("Ticket %03d waits for a recheck after sugar until %s.", v.Ticket, s.Due.In(ev.Zone()).Format("15:04")), "Moving the clock would end that early.", "Do the recheck first, then answer again.")
		}
	}
	return nil
}
