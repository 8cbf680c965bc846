package programme

import (
	"context"
	"crypto/rand"
	"encoding/base64"
	"slices"
	"strings"
	"time"

	"fairstick/internal/fault"
	"fairstick/internal/people"
)

const (
	sessionAge   = 12 * time.Hour      // a session ends then, used or not
	seenEvery    = time.Minute         // how often the last use is written down
	deviceMemory = 90 * 24 * time.Hour // a device that nobody signed in on for so long is a stranger again
	tokenChars   = 43                  // of a token of 32 bytes
)

// Session is a person signed in on a device.
type Session struct {
	Person string    `json:"person"`
	Device string    `json:"device"` // hash of its id
	Since  time.Time `json:"since"`
	Seen   time.Time `json:"seen"`
	Stamp  string    `json:"stamp"` // the person's roles and PIN as they were: another role or PIN ends the session

	kept   time.Time // the Seen that is written down
	laptop time.Time // what the laptop's own clock showed at Seen; zero when Seen was read from the disk
}

// stampOf changes with a person's roles, PIN and leaving.
func stampOf(who *people.State) string {
	roles := make([]string, len(who.Details.Roles))
	for i, r := range who.Details.Roles {
		roles[i] = string(r)
	}
	slices.Sort(roles)
	return hashed(who.PinHash + "\x00" + who.Gone + "\x00" + strings.Join(roles, ","))
}

// SignIn checks a PIN and gives the token of a new session, which is good on this device alone. Only its hash is kept.
func (p *Programme) SignIn(ctx context.Context, device, person, pin string) (token string, err error) {
	ctx = WithOrigin(ctx, Origin{Device: device, Addr: originOf(ctx).Addr})
	who, err := p.checkPIN(ctx, person, pin)
	if err != nil {
		return "", err
	}
	raw := make([]byte, 32)
	rand.Read(raw) // never fails, by its contract
	token = base64.RawURLEncoding.EncodeToString(raw)
	now := p.now()
	s := &Session{Person: who.ID, Device: hashed(device), Since: now, Seen: now, Stamp: stampOf(who), kept: now, laptop: p.laptopTime()}
	if err := p.putLocal(ctx, sessionBucket, hashed(token), s); err != nil {
		return "", err
	}
	a, err := p.open(ctx)
	if err != nil {
		return "", err
	}
	var old []string
	for key, x := range a.sessions {
		if now.Sub(x.Since) > sessionAge {
			old = append(old, key)
		}
	}
	a.sessions[hashed(token)] = s
	a.mu.Unlock()
	return token, p.endSessions(ctx, old...)
}

// SignOut ends a session.
func (p *Programme) SignOut(ctx context.Context, token string) error {
	return p.endSessions(ctx, hashed(token))
}

// endSessions ends sessions by their keys.
func (p *Programme) endSessions(ctx context.Context, keys ...string) error {
	a, err := p.open(ctx)
	if err != nil {
		return err
	}
	var known []string
	for _, key := range keys {
		if a.sessions[key] != nil {
			known = append(known, key)
			delete(a.sessions, key)
		}
	}
	a.mu.Unlock()
	for _, key := range known {
		if err := p.store.Local(sessionBucket).Delete(ctx, key); err != nil {
			return err
		}
	}
	return nil
}

var errNobody = fault.New(fault.SignIn, "sign-in", "Nobody is signed in on this device.", "", "Choose your name and type your PIN.")

// session finds a living session and its person. blocked devices have none.
func (p *Programme) session(ctx context.Context, device, token string) (s Session, who *people.State, idle time.Duration, err error) {
	if len(token) != tokenChars {
		return s, nil, 0, errNobody
	}
	key := hashed(token)
	a, err := p.open(ctx)
	if err != nil {
		return s, nil, 0, err
	}
	found := a.sessions[key]
	if found != nil {
		s = *found
	}
	d := a.devices[s.Device]
	idle = a.idle
	a.mu.Unlock()
	switch {
	case found == nil || s.Device != hashed(device):
		return s, nil, 0, errNobody // unknown, or taken to another device
	case d != nil && !d.Blocked.IsZero():
		return s, nil, 0, errBlocked
	}
	if who, err = p.personNow(ctx, s.Person); err != nil {
		return s, nil, 0, err
	}
	if p.now().Sub(s.Since) > sessionAge || who == nil || who.Gone != "" || who.PinHash == "" || stampOf(who) != s.Stamp {
		if err := p.endSessions(ctx, key); err != nil {
			return s, nil, 0, err
		}
		return s, nil, 0, errNobody
	}
	return s, who, idle, nil
}

// Who tells who uses a session on a device, and counts as use. A session ends after twelve hours, when its person leaves,
// gets other roles or a new PIN, and it is refused on every other device. After the idle time it asks for the PIN again
// ("idle").
func (p *Programme) Who(ctx context.Context, device, token string) (*people.State, error) {
	s, who, idle, err := p.session(ctx, device, token)
	if err != nil {
		return nil, err
	}
	now := p.now()
	if p.unused(s) > idle {
		return nil, fault.New(fault.SignIn, "idle", who.Details.Name+" has not used this device for a while, so it asks again.",
			"Somebody else could have picked it up.", "Type your PIN. What was typed here is kept on this device.")
	}
	p.keep.touch(now)
	laptop := p.laptopTime()
	a, err := p.open(ctx)
	if err != nil {
		return nil, err
	}
	var write *Session
	if live := a.sessions[hashed(token)]; live != nil {
		live.Seen, live.laptop = now, laptop
		if now.Sub(live.kept) >= seenEvery {
			live.kept = now
			copied := *live
			write = &copied
		}
	}
	a.mu.Unlock()
	if write != nil {
		err = p.putLocal(ctx, sessionBucket, hashed(token), write)
	}
	return who, err
}

// Watcher tells who a session belongs to without counting as use, and lets an idle lock pass: a board on the wall shows no
// names and must go on sounding for a critical reading.
func (p *Programme) Watcher(ctx context.Context, device, token string) (*people.State, error) {
	_, who, _, err := p.session(ctx, device, token)
	return who, err
}

// Idle tells whose session on this device waits for its PIN; nil when none does.
func (p *Programme) Idle(ctx context.Context, device, token string) *people.State {
	s, who, idle, err := p.session(ctx, device, token)
	if err != nil || p.unused(s) <= idle {
		return nil
	}
	return who
}

// unused is how long a session was not used, by the clock that says the most: a laptop that slept was not used meanwhile,
// although the record's own time stood still.
func (p *Programme) unused(s Session) time.Duration {
	d := p.now().Sub(s.Seen)
	if !s.laptop.IsZero() {
		d = max(d, p.laptopTime().Sub(s.laptop))
	}
	return d
}

// EndSession ends one session, named by Access. Only a lead may.
func (p *Programme) EndSession(ctx context.Context, by Actor, session string) error {
	return p.endWhere(ctx, by, SecurityNote{What: NoteEnded}, func(key string, _ *Session) bool { return shortName(key) == session })
}

// EndSessionsOf ends every session of a person. Only a lead may.
func (p *Programme) EndSessionsOf(ctx context.Context, by Actor, person string) error {
	return p.endWhere(ctx, by, SecurityNote{What: NoteEndedAll, Person: person}, func(_ string, s *Session) bool { return s.Person == person })
}

func (p *Programme) endWhere(ctx context.Context, by Actor, n SecurityNote, fits func(string, *Session) bool) error {
	if _, err := p.lead(ctx, by); err != nil {
		return err
	}
	a, err := p.open(ctx)
	if err != nil {
		return err
	}
	var keys []string
	for key, s := range a.sessions {
		if fits(key, s) {
			keys = append(keys, key)
			n.Person, n.Device = s.Person, shortName(s.Device)
		}
	}
	a.mu.Unlock()
	if len(keys) == 0 {
		return nil // it ended by itself
	}
	if err := p.endSessions(ctx, keys...); err != nil {
		return err
	}
	if n.What == NoteEndedAll {
		n.Device = ""
	}
	n.By, n.Count = by.Person, len(keys)
	return p.note(ctx, n)
}
