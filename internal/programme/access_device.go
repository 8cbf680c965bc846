package programme

import (
	"cmp"
	"context"
	"encoding/json"
	"slices"
	"strings"
	"time"

	"fairstick/internal/fault"
	"fairstick/internal/people"
	"fairstick/internal/store"
)

// Device is what a phone or laptop is set up to be: a station of an event, with the meter and strips on its table.
type Device struct {
	Event        string `json:"event,omitempty"`
	Step         string `json:"step,omitempty"` // desk, test, explain
	Station      string `json:"station,omitempty"`
	Meter        string `json:"meter,omitempty"`
	StripLot     string `json:"strip_lot,omitempty"`
	Vial         string `json:"vial,omitempty"`
	Disinfectant string `json:"disinfectant,omitempty"`
	Lang         string `json:"lang,omitempty"` // of the interface: en or es; English when empty
}

// Device tells what a device is set up to be; the zero Device when nothing was said yet.
func (p *Programme) Device(ctx context.Context, id string) (Device, error) {
	var d Device
	if id == "" {
		return d, nil
	}
	raw, ok, err := p.store.Local(deviceBucket).Get(ctx, id)
	if err != nil || !ok {
		return d, err
	}
	return d, json.Unmarshal(raw, &d)
}

// SetDevice keeps what a device is set up to be.
func (p *Programme) SetDevice(ctx context.Context, id string, d Device) error {
	return p.putLocal(ctx, deviceBucket, id, d)
}

// knownDevice is a device on which somebody of the programme has signed in.
type knownDevice struct {
	Last    time.Time            `json:"last"`
	Addr    string               `json:"addr,omitempty"` // where it last was; empty for this laptop
	People  map[string]time.Time `json:"people"`         // who has signed there, when last
	Blocked time.Time            `json:"blocked"`        // zero while it may come in
}

var errBlocked = fault.New(fault.Denied, "device-blocked", "A lead has blocked this device.", "Nothing can be read or recorded from it.",
	"Bring it to the lead, who can allow it again under Access.")

// know notes that a person has signed on a device.
func (p *Programme) know(ctx context.Context, person string) error {
	o := originOf(ctx)
	if o.Device == "" {
		return nil
	}
	key, now := hashed(o.Device), p.now()
	a, err := p.open(ctx)
	if err != nil {
		return err
	}
	d := a.devices[key]
	if d == nil {
		d = &knownDevice{People: map[string]time.Time{}}
		a.devices[key] = d
	}
	stale := now.Sub(d.People[person]) >= seenEvery
	d.Last, d.People[person], d.Addr = now, now, ""
	if o.Addr.IsValid() && !o.Addr.Unmap().IsLoopback() {
		d.Addr = o.Addr.Unmap().WithZone("").String()
	}
	raw, err := json.Marshal(d)
	a.mu.Unlock()
	if err != nil || !stale {
		return err
	}
	return p.store.Local(knownBucket).Put(ctx, key, raw)
}

// BlockDevice shuts a device out, or lets it in again. Its sessions end at once. Only a lead may, and not the one in hand.
func (p *Programme) BlockDevice(ctx context.Context, by Actor, device string, block bool) error {
	if _, err := p.lead(ctx, by); err != nil {
		return err
	}
	if o := originOf(ctx); block && o.Device != "" && shortName(hashed(o.Device)) == device {
		return fault.New(fault.Refused, "own-device", "This is the device that you are using.", "You would shut yourself out.", "Block it from another device.")
	}
	a, err := p.open(ctx)
	if err != nil {
		return err
	}
	key := ""
	var raw []byte
	for k, d := range a.devices {
		if shortName(k) != device {
			continue
		}
		key, d.Blocked = k, time.Time{}
		if block {
			d.Blocked = p.now()
		}
		raw, err = json.Marshal(d)
	}
	var ended []string
	for k, s := range a.sessions {
		if block && s.Device == key {
			ended = append(ended, k)
		}
	}
	a.mu.Unlock()
	switch {
	case err != nil:
		return err
	case key == "":
		return fault.New(fault.Missing, "no-such-device", "There is no such device.", "", "Load the page again.")
	}
	if err := p.store.Local(knownBucket).Put(ctx, key, raw); err != nil {
		return err
	}
	if err := p.endSessions(ctx, ended...); err != nil {
		return err
	}
	what := NoteDeviceAllowed
	if block {
		what = NoteDeviceBlocked
	}
	return p.note(ctx, SecurityNote{What: what, Device: device, By: by.Person})
}

// AccessSession is one session as a lead sees it.
type AccessSession struct {
	Key, Person, Device string // Device is a short name
	Since, Seen         time.Time
	Idle                bool // it waits for the PIN
	Here                bool // it is on the device that asks
}

// AccessDevice is one known device as a lead sees it.
type AccessDevice struct {
	Key     string
	Station Device // what it is set up to be
	Addr    string // empty for this laptop
	Last    time.Time
	Blocked bool
	Here    bool
}

// AccessLock is one count of wrong PINs that makes somebody wait.
type AccessLock struct {
	Key, Person, Where string // Where: own, stations, laptop, strangers; address or device without a person
	Addr, Device       string
	Wrong              int
	Until              time.Time
}

// Access is who is in, from where, and what happened at the door.
type Access struct {
	IdleMinutes int
	Sessions    []AccessSession // newest use first
	Devices     []AccessDevice  // newest first
	Locks       []AccessLock    // longest first
	Notes       []SecurityNote  // newest first
}

// Access tells a lead who is in.
func (p *Programme) Access(ctx context.Context, by Actor) (Access, error) {
	var out Access
	if _, err := p.lead(ctx, by); err != nil {
		return out, err
	}
	set, err := p.store.Local(deviceBucket).All(ctx)
	if err != nil {
		return out, err
	}
	stations := map[string]Device{}
	for id, raw := range set {
		var d Device
		if json.Unmarshal(raw, &d) == nil {
			stations[hashed(id)] = d
		}
	}
	notes, err := readBucket[SecurityNote](ctx, p.store.Local(noteBucket), func(*SecurityNote) bool { return true })
	if err != nil {
		return out, err
	}
	for _, n := range notes {
		out.Notes = append(out.Notes, *n)
	}
	stamps := map[string]string{}
	err = p.store.Read(ctx, func(v *store.View) error {
		all, err := v.All(people.Kind)
		for _, st := range all {
			stamps[st.(*people.State).ID] = stampOf(st.(*people.State))
		}
		return err
	})
	if err != nil {
		return out, err
	}
	here, now := hashed(originOf(ctx).Device), p.now()
	a, err := p.open(ctx)
	if err != nil {
		return out, err
	}
	defer a.mu.Unlock()
	out.IdleMinutes = int(a.idle.Minutes())
	for key, s := range a.sessions {
		if now.Sub(s.Since) > sessionAge || stamps[s.Person] != s.Stamp {
			continue // it ends when it is next used
		}
		out.Sessions = append(out.Sessions, AccessSession{
			Key: shortName(key), Person: s.Person, Device: shortName(s.Device), Since: s.Since, Seen: s.Seen, Idle: p.unused(*s) > a.idle, Here: s.Device == here,
		})
	}
	for key, d := range a.devices {
		out.Devices = append(out.Devices, AccessDevice{Key: shortName(key), Station: stations[key], Addr: d.Addr, Last: d.Last, Blocked: !d.Blocked.IsZero(), Here: key == here})
	}
	for key, t := range a.tries {
		if now.Before(t.Until) {
			out.Locks = append(out.Locks, lockOf(key, t))
		}
	}
	slices.SortFunc(out.Sessions, func(x, y AccessSession) int { return cmp.Or(y.Seen.Compare(x.Seen), cmp.Compare(x.Key, y.Key)) })
	slices.SortFunc(out.Devices, func(x, y AccessDevice) int { return cmp.Or(y.Last.Compare(x.Last), cmp.Compare(x.Key, y.Key)) })
	slices.SortFunc(out.Locks, func(x, y AccessLock) int { return cmp.Or(y.Until.Compare(x.Until), cmp.Compare(x.Key, y.Key)) })
	slices.SortFunc(out.Notes, func(x, y SecurityNote) int { return y.At.Compare(x.At) })
	return out, nil
}

func lockOf(key string, t *tryCount) AccessLock {
	l := AccessLock{Key: shortName(hashed(key)), Wrong: t.Wrong, Until: t.Until}
	kind, rest, _ := strings.Cut(key, "/")
	switch kind {
	case "person":
		parts := strings.SplitN(rest, "/", 3)
		l.Person, l.Where = parts[0], parts[1]
		if len(parts) == 3 {
			l.Device = shortName(parts[2])
		}
	case "address":
		l.Where, l.Addr = kind, rest
	case "device":
		l.Where, l.Device = kind, shortName(rest)
	}
	return l
}
