package programme

import (
	"context"
	"fmt"
	"net/netip"
	"strings"
	"time"

	"fairstick/internal/fault"
)

// Wrong PINs are counted where they are typed, so that a stranger who guesses shuts out nobody but strangers:
//
//	own        a device on which this person has signed before: a count of its own
//	stations   any other device on which somebody of the programme has signed in: one count for the person
//	laptop     the laptop itself: one count for the person
//	strangers  everything else: one count for the person, and one for the address that asks
//
// A try is counted before the slow comparison and taken back when it was right, so that many at once gain nothing.
const (
	freeTries    = 4 // wrong PINs of one person that cost nothing
	freeAtDevice = 10
	lockAfter    = 12 // of one person among strangers: locked until a lead lifts it, or half a day
	shutAfter    = 30 // at one address or device
	firstWait    = 30 * time.Second
	maxWait      = 15 * time.Minute
	longWait     = 12 * time.Hour
	mostCounts   = 5000 // counts in memory; beyond it strangers wait
)

// tryCount is the wrong PINs of one count.
type tryCount struct {
	Wrong int       `json:"wrong"`
	Until time.Time `json:"until"`
	Last  time.Time `json:"last"`
}

// over reports whether a count means nothing any more.
func (t *tryCount) over(now time.Time) bool {
	return now.After(t.Until) && now.Sub(t.Last) > longWait
}

// counts gives the counts that a try belongs to. The access must be locked.
func (a *access) counts(person string, o Origin) []string {
	device := ""
	if o.Device != "" {
		device = hashed(o.Device)
	}
	d := a.devices[device]
	switch {
	case d != nil && !d.People[person].IsZero():
		return []string{"person/" + person + "/own/" + device}
	case d != nil:
		return []string{"person/" + person + "/stations", "device/" + device}
	case !o.Addr.IsValid() || o.Addr.Unmap().IsLoopback():
		return []string{"person/" + person + "/laptop"}
	}
	return []string{"person/" + person + "/strangers", "address/" + neighbourhood(o.Addr)}
}

// neighbourhood is an address as it is counted: an IPv6 device may take any address of its network of 64 bits.
func neighbourhood(a netip.Addr) string {
	a = a.Unmap().WithZone("")
	if a.Is6() {
		if n, err := a.Prefix(64); err == nil {
			return n.String()
		}
	}
	return a.String()
}

// take counts a try, or says how long to wait. It gives what was noted of it.
func (a *access) take(keys []string, now time.Time) (wait time.Duration, notes []SecurityNote) {
	for _, key := range keys {
		if t := a.tries[key]; t != nil && now.Before(t.Until) {
			wait = max(wait, t.Until.Sub(now))
		}
	}
	if wait > 0 {
		return wait, nil
	}
	if len(a.tries) >= mostCounts {
		for key, t := range a.tries {
			if now.After(t.Until) {
				delete(a.tries, key)
			}
		}
		if len(a.tries) >= mostCounts && strings.HasSuffix(keys[0], "/strangers") {
			return time.Minute, nil
		}
	}
	for _, key := range keys {
		t := a.tries[key]
		if t == nil || t.over(now) {
			t = &tryCount{}
			a.tries[key] = t
		}
		t.Wrong++
		t.Last = now
		if n := t.punish(key, now); n != "" {
			person, _, _ := strings.Cut(strings.TrimPrefix(key, "person/"), "/")
			note := SecurityNote{What: n, Count: t.Wrong}
			switch kind, rest, _ := strings.Cut(key, "/"); kind {
			case "person":
				note.Person = person
			case "address":
				note.Addr = rest
			case "device":
				note.Device = shortName(rest)
			}
			notes = append(notes, note)
		}
	}
	return 0, notes
}

// punish sets the wait that the latest wrong try costs; it gives the note that is worth keeping.
func (t *tryCount) punish(key string, now time.Time) (note string) {
	free, ofPerson := freeAtDevice, strings.HasPrefix(key, "person/")
	if ofPerson {
		free = freeTries
	}
	over := t.Wrong - free
	if over <= 0 {
		return ""
	}
	wait := maxWait
	if over < 6 {
		wait = min(maxWait, firstWait<<(over-1))
	}
	switch {
	case strings.HasSuffix(key, "/strangers") && t.Wrong >= lockAfter:
		wait, note = longWait, NoteLocked
	case strings.HasPrefix(key, "address/") && t.Wrong >= shutAfter:
		wait, note = longWait, NoteAddress
	case strings.HasPrefix(key, "device/") && t.Wrong >= shutAfter:
		wait, note = longWait, NoteDevice
	case over == 1:
		note = NoteSlowed
	}
	t.Until = now.Add(wait)
	return note
}

// wrongTry keeps the counts of a try that was wrong, so that a restart forgets none.
func (p *Programme) wrongTry(ctx context.Context, keys []string, notes []SecurityNote) error {
	a, err := p.open(ctx)
	if err != nil {
		return err
	}
	kept := map[string]tryCount{}
	for _, key := range keys {
		if t := a.tries[key]; t != nil {
			kept[key] = *t
		}
	}
	a.mu.Unlock()
	for key, t := range kept {
		if err := p.putLocal(ctx, triesBucket, key, t); err != nil {
			return err
		}
	}
	for _, n := range notes {
		if err := p.note(ctx, n); err != nil {
			return err
		}
	}
	return nil
}

// rightTry forgets the wrong tries before a right one.
func (p *Programme) rightTry(ctx context.Context, keys []string) error {
	a, err := p.open(ctx)
	if err != nil {
		return err
	}
	var stored []string
	for _, key := range keys {
		if t := a.tries[key]; t != nil && t.Wrong > 1 {
			stored = append(stored, key)
		}
		delete(a.tries, key)
	}
	a.mu.Unlock()
	for _, key := range stored {
		if err := p.store.Local(triesBucket).Delete(ctx, key); err != nil {
			return err
		}
	}
	return nil
}

// waitFault says how long to wait after too many wrong PINs.
func waitFault(wait time.Duration) error {
	how := fmt.Sprintf("wait %d seconds", int(wait.Seconds())+1)
	if wait > time.Hour {
		how = "this device is shut out"
	} else if wait > 2*time.Minute {
		how = fmt.Sprintf("wait %d minutes", int(wait.Minutes())+1)
	}
	return fault.New(fault.Busy, "pin-wait", "Too many wrong PINs; "+how+".",
		"This keeps a stranger from guessing.", "Wait, use a device on which you signed in before, or ask the lead to lift it under Access.")
}

// forgive lifts every count of a person: a new PIN begins anew.
func (p *Programme) forgive(ctx context.Context, person string) error {
	a, err := p.open(ctx)
	if err != nil {
		return err
	}
	var keys []string
	for key := range a.tries {
		if strings.HasPrefix(key, "person/"+person+"/") {
			keys = append(keys, key)
			delete(a.tries, key)
		}
	}
	a.mu.Unlock()
	for _, key := range keys {
		if err := p.store.Local(triesBucket).Delete(ctx, key); err != nil {
			return err
		}
	}
	return nil
}

// LiftLock forgets the wrong tries of one count, named by Access. Only a lead may.
func (p *Programme) LiftLock(ctx context.Context, by Actor, lock string) error {
	if _, err := p.lead(ctx, by); err != nil {
		return err
	}
	a, err := p.open(ctx)
	if err != nil {
		return err
	}
	found := ""
	for key := range a.tries {
		if shortName(hashed(key)) == lock {
			found = key
			delete(a.tries, key)
		}
	}
	a.mu.Unlock()
	if found == "" {
		return nil // it ended by itself
	}
	if err := p.store.Local(triesBucket).Delete(ctx, found); err != nil {
		return err
	}
	n := SecurityNote{What: NoteLifted, By: by.Person}
	switch kind, rest, _ := strings.Cut(found, "/"); kind {
	case "person":
		n.Person, _, _ = strings.Cut(rest, "/")
	case "address":
		n.Addr = rest
	case "device":
		n.Device = shortName(rest)
	}
	return p.note(ctx, n)
}

// shortName is the beginning of a hash: enough to tell devices of a day apart, of no use to whoever reads it.
func shortName(hash string) string {
	if len(hash) < 12 {
		return hash
	}
	return hash[:12]
}
