package sandbox

import (
	"context"
	"io"
	"net/http"
	"slices"
	"sync"
	"time"

	"fairstick/internal/competence"
	"fairstick/internal/competence/rehearse"
	"fairstick/internal/fault"
	"fairstick/internal/programme"
)

// Room is one practice day with its own record. Its acts take turns: a second press waits for the first.
type Room struct {
	ID        string
	Rehearsal programme.Rehearsal
	Began     time.Time
	Programme *programme.Programme
	Pages     http.Handler
	Trainee   string // id of the person in the room's own record

	used     time.Time // under the keeper's lock
	record   io.Closer
	endPages func()
	clock    *clock
	table    table

	mu      sync.Mutex
	closed  bool
	ready   map[string]string // address of the page of a decision that was prepared, by its key
	guest   string            // visit of the scene
	Decided map[string]string
	Did     map[string]string
	Gate    map[string]string
	stopped []competence.Stopped
}

// Device is the id of the device in the room's own record.
const Device = "practice"

func (r *Room) close() error {
	if r.endPages != nil {
		r.endPages()
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	r.closed = true
	return r.record.Close()
}

// At is the decision that comes next: the first that was not made.
type At struct {
	Situation rehearse.Situation
	Decision  rehearse.Decision
	Scene     int // from 0
	Of        int // scenes
	Page      string
	Over      bool // every decision is made
}

// Now prepares the scene that comes next, if it was not, and tells where the rehearsal is.
func (r *Room) Now(ctx context.Context) (At, error) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.closed {
		return At{}, errEnded
	}
	at := r.at()
	if at.Over || at.Decision.At == rehearse.OnCard {
		return at, nil
	}
	if page, ok := r.ready[at.Decision.Key]; ok {
		at.Page = page
		return at, nil
	}
	page, err := r.prepare(ctx, at)
	if err != nil {
		return at, err
	}
	at.Page = page
	r.ready[at.Decision.Key] = page
	return at, nil
}

func (r *Room) at() At {
	day := r.Rehearsal.Day
	at := At{Of: len(day.Situations)}
	for i, s := range day.Situations {
		for _, d := range s.Decisions {
			if _, made := r.Decided[d.Key]; !made {
				at.Situation, at.Decision, at.Scene = s, d, i
				return at
			}
		}
	}
	at.Over, at.Scene = true, len(day.Situations)
	return at
}

// Scene is the situation in which the rehearsal is, for the strip of its pages; ok is false after the last.
func (r *Room) Scene() (at At, ok bool) {
	r.mu.Lock()
	defer r.mu.Unlock()
	at = r.at()
	at.Page = r.ready[at.Decision.Key]
	return at, !at.Over
}

// Decide takes a choice of the decision that comes next. A decision that was made already stays as it is: in life nobody goes back either. What
// the day would have refused is tried. A decision on a page is read from what stands in the room's record, whatever choice is given.
func (r *Room) Decide(ctx context.Context, decision, choice string) error {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.closed {
		return errEnded
	}
	at := r.at()
	if at.Over || at.Decision.Key != decision {
		return nil
	}
	if at.Decision.At != rehearse.OnCard {
		key, did, err := r.observe(ctx, at)
		if err != nil {
			return err
		}
		r.Decided[decision] = key
		if did != "" {
			r.Did[decision] = did
		}
		return nil
	}
	c, ok := at.Decision.Choice(choice)
	if !ok {
		return fault.BadField("choice", "Choose what you do.")
	}
	if c.Try != "" {
		said, err := r.try(ctx, at, c.Try)
		if err != nil {
			return err
		}
		r.Gate[decision] = said
	}
	r.Decided[decision] = c.Key
	return nil
}

// Stopped keeps what the program refused on a page of the room, once for each gate of a situation.
func (r *Room) Stopped(f *fault.Fault) {
	if f == nil || f.Kind != fault.Refused {
		return
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	s := competence.Stopped{Situation: r.at().Situation.Key, Gate: f.Key, Sentence: f.Sentence}
	if !slices.ContainsFunc(r.stopped, func(x competence.Stopped) bool { return x.Situation == s.Situation && x.Gate == s.Gate }) {
		r.stopped = append(r.stopped, s)
	}
}

// Finish gives the command by which the rehearsal is recorded in the real record. It refuses while a decision is open.
func (r *Room) Finish(language string, took time.Duration) (programme.RecordRehearsal, error) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if !r.at().Over {
		return programme.RecordRehearsal{}, fault.New(fault.Refused, "practice-open", "The practice day is not over yet.", "Decisions are still open.", "Go on with the scene.")
	}
	day := r.Rehearsal.Day
	return programme.RecordRehearsal{
		Set: r.Rehearsal.Set, Language: language, Level: day.Level, Seed: day.Seed, Protocol: day.Protocol, Situations: day.Keys(),
		Decided: r.Decided, Did: r.Did, Gate: r.Gate, Stopped: slices.Clone(r.stopped), Took: took,
	}, nil
}

// clock is the clock of a room: it begins in the morning of the day and runs, and a scene may let time pass.
type clock struct {
	mu    sync.Mutex
	base  time.Time
	began time.Time
	stop  bool // it stands while the day is set up
}

func newClock(today time.Time) *clock {
	y, m, d := today.Date()
	return &clock{base: time.Date(y, m, d, 7, 0, 0, 0, time.UTC), stop: true}
}

// Now tells the moment.
func (c *clock) Now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.stop {
		return c.base
	}
	return c.base.Add(time.Since(c.began))
}

func (c *clock) pass(d time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.base = c.base.Add(d)
}

func (c *clock) run() {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.stop, c.began = false, time.Now()
}
