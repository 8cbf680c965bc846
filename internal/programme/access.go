package programme

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"net/netip"
	"sync"
	"time"

	"fairstick/internal/fault"
	"fairstick/internal/people"
	"fairstick/internal/store"
)

// The buckets of who may come in. They belong to this laptop and are never part of the record.
const (
	sessionBucket = "session"
	deviceBucket  = "device"
	knownBucket   = "known-device"
	triesBucket   = "tries"
	noteBucket    = "security"
	accessBucket  = "access"
	idleKey       = "idle-minutes"
)

// access is who may come in on this laptop: sessions, devices, wrong PINs. It is small, so it is read once and kept in
// memory; whatever must outlive a restart is written through before it is relied on.
type access struct {
	mu       sync.Mutex
	loaded   bool
	idle     time.Duration
	sessions map[string]*Session     // by the hash of the token
	devices  map[string]*knownDevice // by the hash of the device's id
	tries    map[string]*tryCount
}

// Origin is where a request comes from. A zero Origin is this laptop itself.
type Origin struct {
	Device string // id of the device, as its cookie says
	Addr   netip.Addr
}

type originKey struct{}

// WithOrigin notes where a request comes from, so that wrong PINs are counted where they are typed.
func WithOrigin(ctx context.Context, o Origin) context.Context {
	return context.WithValue(ctx, originKey{}, o)
}

func originOf(ctx context.Context) Origin {
	o, _ := ctx.Value(originKey{}).(Origin)
	return o
}

// hashed is how a token or a device's id is kept and named: who reads it cannot use it.
func hashed(secret string) string {
	sum := sha256.Sum256([]byte(secret))
	return hex.EncodeToString(sum[:])
}

// open gives the access with its lock held, read from the store when it was not yet.
func (p *Programme) open(ctx context.Context) (*access, error) {
	a := &p.access
	a.mu.Lock()
	if a.loaded {
		return a, nil
	}
	if err := p.loadAccess(ctx); err != nil {
		a.mu.Unlock()
		return nil, err
	}
	a.loaded = true
	return a, nil
}

func (p *Programme) loadAccess(ctx context.Context) error {
	a := &p.access
	var err error
	now := p.now()
	if a.sessions, err = readBucket[Session](ctx, p.store.Local(sessionBucket), func(s *Session) bool { return now.Sub(s.Since) <= sessionAge }); err != nil {
		return err
	}
	if a.devices, err = readBucket[knownDevice](ctx, p.store.Local(knownBucket), func(d *knownDevice) bool { return now.Sub(d.Last) <= deviceMemory }); err != nil {
		return err
	}
	if a.tries, err = readBucket[tryCount](ctx, p.store.Local(triesBucket), func(t *tryCount) bool { return !t.over(now) }); err != nil {
		return err
	}
	a.idle = idleDefault
	raw, ok, err := p.store.Local(accessBucket).Get(ctx, idleKey)
	if err != nil || !ok {
		return err
	}
	var minutes int
	if json.Unmarshal(raw, &minutes) == nil && minutes >= IdleLeast && minutes <= IdleMost {
		a.idle = time.Duration(minutes) * time.Minute
	}
	return nil
}

// readBucket reads a bucket and forgets in it what is no longer wanted or cannot be read.
func readBucket[T any](ctx context.Context, l *store.Local, keep func(*T) bool) (map[string]*T, error) {
	raw, err := l.All(ctx)
	if err != nil {
		return nil, err
	}
	out := make(map[string]*T, len(raw))
	for key, data := range raw {
		v := new(T)
		if json.Unmarshal(data, v) == nil && keep(v) {
			out[key] = v
			continue
		}
		if err := l.Delete(ctx, key); err != nil {
			return nil, err
		}
	}
	return out, nil
}

func (p *Programme) putLocal(ctx context.Context, bucket, key string, v any) error {
	data, err := json.Marshal(v)
	if err != nil {
		return err
	}
	return p.store.Local(bucket).Put(ctx, key, data)
}

// Limits of the idle lock in minutes.
const (
	IdleLeast   = 5
	IdleMost    = 120
	idleDefault = 20 * time.Minute
)

// SetIdle says after how many minutes without use a device asks for the PIN again. Only a lead may.
func (p *Programme) SetIdle(ctx context.Context, by Actor, minutes int) error {
	if _, err := p.lead(ctx, by); err != nil {
		return err
	}
	if minutes < IdleLeast || minutes > IdleMost {
		return fault.BadField("idle", "Choose from %d to %d minutes; %d was typed.", IdleLeast, IdleMost, minutes)
	}
	if err := p.putLocal(ctx, accessBucket, idleKey, minutes); err != nil {
		return err
	}
	a, err := p.open(ctx)
	if err != nil {
		return err
	}
	a.idle = time.Duration(minutes) * time.Minute
	a.mu.Unlock()
	return p.note(ctx, SecurityNote{What: NoteIdle, By: by.Person, Count: minutes})
}

// lead refuses everybody but a lead.
func (p *Programme) lead(ctx context.Context, by Actor) (*people.State, error) {
	who, err := p.personNow(ctx, by.Person)
	if err != nil {
		return nil, err
	}
	if who == nil || who.Gone != "" || !who.Has(people.Lead) {
		return nil, fault.New(fault.Denied, "role", "Only a lead may do this.", "It decides who can come in.", "Ask a lead to sign in here.")
	}
	return who, nil
}

// personNow reads a person; nil when there is none.
func (p *Programme) personNow(ctx context.Context, id string) (who *people.State, err error) {
	err = p.store.Read(ctx, func(v *store.View) error {
		st, ok, err := v.State(people.Ref(id))
		if err == nil && ok {
			who = st.(*people.State)
		}
		return err
	})
	return who, err
}

// The security notes that are kept.
const (
	NoteSlowed        = "slowed"         // wrong PINs cost a wait from now on
	NoteLocked        = "locked"         // a name is locked for devices that are not known
	NoteAddress       = "address"        // an address is shut out for half a day
	NoteDevice        = "device"         // a device is shut out for half a day
	NoteLifted        = "lifted"         // a lead lifted a lock
	NoteEnded         = "ended"          // a lead ended a session
	NoteEndedAll      = "ended-all"      // a lead ended every session of a person
	NoteDeviceBlocked = "device-blocked" // a lead blocked a device
	NoteDeviceAllowed = "device-allowed" // a lead took that back
	NoteIdle          = "idle"           // a lead changed the idle lock
)

// SecurityNote is one line of what happened at the door. It names nobody but the staff and their devices.
type SecurityNote struct {
	At     time.Time `json:"at"`
	What   string    `json:"what"`
	Person string    `json:"person,omitempty"` // whose name it was about
	Device string    `json:"device,omitempty"` // short name of a device
	Addr   string    `json:"addr,omitempty"`
	By     string    `json:"by,omitempty"` // the lead
	Count  int       `json:"count,omitempty"`
}

// keptNotes is how many notes are kept; older ones go.
const keptNotes = 300

func (p *Programme) note(ctx context.Context, n SecurityNote) error {
	n.At = p.now()
	l := p.store.Local(noteBucket)
	if err := p.putLocal(ctx, noteBucket, noteKey(n), n); err != nil {
		return err
	}
	p.log.Info("at the door", "what", n.What, "device", n.Device, "person", n.Person)
	all, err := l.All(ctx)
	if err != nil || len(all) <= keptNotes {
		return err
	}
	oldest := ""
	for key := range all {
		if oldest == "" || key < oldest {
			oldest = key
		}
	}
	return l.Delete(ctx, oldest)
}

func noteKey(n SecurityNote) string {
	return fmt.Sprintf("%s %s", n.At.UTC().Format("2006-01-02T15:04:05.000"), hashed(n.What + n.Person + n.Device + n.Addr + n.By)[:8])
}
