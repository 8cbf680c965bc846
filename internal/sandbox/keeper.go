// Package sandbox gives each person who rehearses a practice day of their own: an invented programme in a record that is thrown away, set
// up through the same commands as a real one, with the scenes of the rehearsal in it.
//
// The real record is never reached from here. A room is handed its own programme by whoever opens records, knows no other, and gives
// out nothing but decisions. The gates of the room are those of the day: there is no switch that opens them. A choice that the
// day would refuse is tried, what the program says is kept for the debrief, and the rehearsal goes on.
package sandbox

import (
	"context"
	"crypto/rand"
	"encoding/hex"
	"errors"
	"io"
	"log/slog"
	"net/http"
	"sync"
	"time"

	"fairstick/internal/fault"
	"fairstick/internal/programme"
)

// Opener makes an empty record that goes by a clock. Closing it throws the record away.
type Opener func(ctx context.Context, now func() time.Time) (*programme.Programme, io.Closer, error)

// Limits on rooms: each takes memory and a few files.
const (
	MostRooms = 40               // at once; each takes some 10 MB
	Idle      = 45 * time.Minute // a room that nobody used for so long ends
	Longest   = 3 * time.Hour    // a room ends then, used or not
)

// Keeper keeps the rooms. It is safe for use from many goroutines.
type Keeper struct {
	open Opener
	now  func() time.Time
	log  *slog.Logger

	mu     sync.Mutex
	rooms  map[string]*Room
	making int // rooms that are being set up
	ended  bool
}

// NewKeeper keeps rooms that an opener makes. The clock tells how old they are.
func NewKeeper(open Opener, now func() time.Time, log *slog.Logger) *Keeper {
	return &Keeper{open: open, now: now, log: log, rooms: map[string]*Room{}}
}

var (
	errEnded = fault.New(fault.Missing, "practice-ended", "This practice day has ended.",
		"It was finished, was not used for a while, or the laptop was started again. Nothing of it was recorded as real.", "Begin a new one under Learn.")
	errFull = fault.New(fault.Busy, "practice-full", "Too many people practise on this laptop now.", "Each practice day has a record of its own.", "Try again in a few minutes.")
)

// Begin sets up a room for a rehearsal and ends an earlier one of the same person. pages makes the pages of the room, and what ends them.
func (k *Keeper) Begin(ctx context.Context, r programme.Rehearsal, pages func(*Room) (http.Handler, func())) (*Room, error) {
	k.sweep()
	if old := k.Of(r.Person); old != nil {
		k.End(old)
	}
	k.mu.Lock()
	if k.ended || len(k.rooms)+k.making >= MostRooms {
		k.mu.Unlock()
		return nil, errFull
	}
	k.making++
	k.mu.Unlock()
	room, err := k.make(ctx, r)
	k.mu.Lock()
	defer k.mu.Unlock()
	k.making--
	if err != nil {
		return nil, err
	}
	if k.ended {
		return nil, errors.Join(errEnded, room.close())
	}
	room.Pages, room.endPages = pages(room)
	k.rooms[room.ID] = room
	return room, nil
}

func (k *Keeper) make(ctx context.Context, r programme.Rehearsal) (*Room, error) {
	raw := make([]byte, 12)
	rand.Read(raw) // never fails, by its contract
	now := k.now()
	room := &Room{ID: hex.EncodeToString(raw), Rehearsal: r, Began: now, used: now, clock: newClock(now), Decided: map[string]string{}, Did: map[string]string{}, Gate: map[string]string{}}
	var err error
	if room.Programme, room.record, err = k.open(ctx, room.clock.Now); err != nil {
		return nil, err
	}
	if err := room.setUp(ctx); err != nil {
		return nil, errors.Join(err, room.record.Close())
	}
	return room, nil
}

// Room gives the room of a person by its id, and counts as use.
func (k *Keeper) Room(id, person string) (*Room, error) {
	k.sweep()
	k.mu.Lock()
	defer k.mu.Unlock()
	r := k.rooms[id]
	if r == nil || r.Rehearsal.Person != person {
		return nil, errEnded
	}
	r.used = k.now()
	return r, nil
}

// Of gives the room in which a person is; nil for none.
func (k *Keeper) Of(person string) *Room {
	k.mu.Lock()
	defer k.mu.Unlock()
	for _, r := range k.rooms {
		if r.Rehearsal.Person == person {
			return r
		}
	}
	return nil
}

// Rooms is how many rooms there are.
func (k *Keeper) Rooms() int {
	k.mu.Lock()
	defer k.mu.Unlock()
	return len(k.rooms)
}

// End ends a room and throws its record away.
func (k *Keeper) End(r *Room) {
	k.mu.Lock()
	_, there := k.rooms[r.ID]
	delete(k.rooms, r.ID)
	k.mu.Unlock()
	if there {
		k.throw(r)
	}
}

func (k *Keeper) throw(r *Room) {
	if err := r.close(); err != nil {
		k.log.Error("practice day not thrown away", "err", err)
	}
}

// sweep ends the rooms that are too old or were not used.
func (k *Keeper) sweep() {
	now := k.now()
	var old []*Room
	k.mu.Lock()
	for id, r := range k.rooms {
		if now.Sub(r.used) > Idle || now.Sub(r.Began) > Longest {
			old = append(old, r)
			delete(k.rooms, id)
		}
	}
	k.mu.Unlock()
	for _, r := range old {
		k.throw(r)
	}
}

// Close ends all rooms.
func (k *Keeper) Close() {
	k.mu.Lock()
	all := k.rooms
	k.rooms, k.ended = map[string]*Room{}, true
	k.mu.Unlock()
	for _, r := range all {
		k.throw(r)
	}
}
