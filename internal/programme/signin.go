package programme

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"crypto/subtle"
	"encoding/base64"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"regexp"
	"strings"
	"sync"
	"time"

	"golang.org/x/crypto/argon2"

	"fairstick/internal/fault"
	"fairstick/internal/people"
	"fairstick/internal/store"
)

// A PIN is short, so its hash is slow and wrong tries are few. Argon2id, parameters as the OWASP password storage cheat
// sheet lists them for low memory (19 MiB, 2 passes, 1 lane).
const (
	pinMemory = 19 * 1024
	pinPasses = 2
	pinBytes  = 32
)

var pinShape = regexp.MustCompile(`^[0-9]{4,6}$`)

// pinLane lets few hashes run at once: each takes memory and most of a core, and the day must go on beside it.
var pinLane = make(chan struct{}, 2)

func hashPIN(pin string) (string, error) {
	if err := weakPIN(pin); err != nil {
		return "", err
	}
	salt := make([]byte, 16)
	if _, err := rand.Read(salt); err != nil {
		return "", err
	}
	return encodePIN(pin, salt), nil
}

func encodePIN(pin string, salt []byte) string {
	pinLane <- struct{}{}
	defer func() { <-pinLane }()
	sum := argon2.IDKey([]byte(pin), salt, pinPasses, pinMemory, 1, pinBytes)
	return "argon2id$" + base64.RawStdEncoding.EncodeToString(salt) + "$" + base64.RawStdEncoding.EncodeToString(sum)
}

func weakPIN(pin string) error {
	if !pinShape.MatchString(pin) {
		return fault.BadField("pin", "A PIN is four to six digits.")
	}
	same, up, down := true, true, true
	for i := 1; i < len(pin); i++ {
		same = same && pin[i] == pin[0]
		up = up && pin[i] == pin[i-1]+1
		down = down && pin[i] == pin[i-1]-1
	}
	if same || up || down {
		return fault.BadField("pin", "This PIN is one of the first that anyone would try. Choose other digits.")
	}
	return nil
}

func pinMatches(hash, pin string) bool {
	parts := strings.Split(hash, "$")
	if len(parts) != 3 || !pinShape.MatchString(pin) {
		return false
	}
	salt, err := base64.RawStdEncoding.DecodeString(parts[1])
	if err != nil {
		return false
	}
	return subtle.ConstantTimeCompare([]byte(encodePIN(pin, salt)), []byte(hash)) == 1
}

// tries counts wrong PINs per person since this program started.
type tries struct {
	mu sync.Mutex
	by map[string]*tryCount
}

type tryCount struct {
	wrong int
	until time.Time
}

func newTries() *tries { return &tries{by: map[string]*tryCount{}} }

// freeTries is how many wrong PINs are forgiven before each further one costs a wait that doubles, up to maxWait.
const (
	freeTries = 4
	firstWait = 30 * time.Second
	maxWait   = 15 * time.Minute
)

func (t *tries) wait(key string, now time.Time) time.Duration {
	t.mu.Lock()
	defer t.mu.Unlock()
	if c := t.by[key]; c != nil && now.Before(c.until) {
		return c.until.Sub(now)
	}
	return 0
}

func (t *tries) wrong(key string, now time.Time) {
	t.mu.Lock()
	defer t.mu.Unlock()
	c := t.by[key]
	if c == nil {
		if len(t.by) > 10_000 { // a stranger inventing names must not fill the memory
			t.by = map[string]*tryCount{}
		}
		c = &tryCount{}
		t.by[key] = c
	}
	c.wrong++
	if over := c.wrong - freeTries; over > 0 {
		wait := maxWait
		if over < 6 {
			wait = min(maxWait, firstWait<<(over-1))
		}
		c.until = now.Add(wait)
	}
}

func (t *tries) right(key string) {
	t.mu.Lock()
	defer t.mu.Unlock()
	delete(t.by, key)
}

// checkPIN compares a PIN with a person's hash under the limits on wrong tries.
func (p *Programme) checkPIN(ctx context.Context, person, pin string) (*people.State, error) {
	now := p.now()
	if wait := p.tries.wait(person, now); wait > 0 {
		return nil, fault.New(fault.Busy, "pin-wait", fmt.Sprintf("Too many wrong PINs; wait %d seconds.", int(wait.Seconds())+1),
			"This keeps a stranger from guessing.", "Wait, or ask the lead to set a new PIN.")
	}
	var who *people.State
	err := p.store.Read(ctx, func(v *store.View) error {
		st, ok, err := v.State(people.Ref(person))
		if err != nil {
			return err
		}
		if ok {
			who = st.(*people.State)
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	wrong := fault.New(fault.Denied, "pin-wrong", "The name and the PIN do not belong together.", "", "Try again, or ask the lead to set a new PIN.").
		Field("pin", "Wrong PIN.")
	if who == nil || who.Gone != "" || who.PinHash == "" {
		p.tries.wrong(person, now)
		return nil, wrong
	}
	if !pinMatches(who.PinHash, pin) {
		p.tries.wrong(person, now)
		return nil, wrong
	}
	p.tries.right(person)
	return who, nil
}

// Sign is a signature: a person and their PIN, typed for this one act.
type Sign struct {
	Person string
	PIN    string
}

// signed checks a signature and that the person holds one of the roles (any role when none is named).
func (p *Programme) signed(ctx context.Context, s Sign, roles ...people.Role) (*people.State, error) {
	if s.Person == "" || s.PIN == "" {
		return nil, fault.New(fault.Invalid, "signature", "This needs a signature.", "The record must show who answered for it.",
			"Choose the name and type the PIN.").Field("sign_pin", "Name and PIN are needed.")
	}
	who, err := p.checkPIN(ctx, s.Person, s.PIN)
	if err != nil {
		if f := fault.Of(err); f.Fields != nil {
			wrong := *f
			wrong.Fields = map[string]string{"sign_pin": "Wrong PIN."}
			return nil, &wrong
		}
		return nil, err
	}
	if len(roles) == 0 {
		return who, nil
	}
	for _, r := range roles {
		if who.Has(r) {
			return who, nil
		}
	}
	return nil, fault.New(fault.Denied, "signature-role", who.Details.Name+" may not sign for this.",
		fmt.Sprintf("It needs the role %s.", roles[0]), "Ask somebody with that role.").Field("sign_person", "Choose a "+string(roles[0])+".")
}

const (
	sessionBucket = "session"
	deviceBucket  = "device"
	sessionIdle   = 12 * time.Hour
)

// Session is a person signed in on a device.
type Session struct {
	Person string    `json:"person"`
	Device string    `json:"device"`
	Since  time.Time `json:"since"`
}

func tokenKey(token string) string {
	sum := sha256.Sum256([]byte(token))
	return hex.EncodeToString(sum[:])
}

// SignIn checks a PIN and gives the token of a new session. Only its hash is kept.
func (p *Programme) SignIn(ctx context.Context, device, person, pin string) (token string, err error) {
	who, err := p.checkPIN(ctx, person, pin)
	if err != nil {
		return "", err
	}
	raw := make([]byte, 32)
	if _, err := rand.Read(raw); err != nil {
		return "", err
	}
	token = base64.RawURLEncoding.EncodeToString(raw)
	data, err := json.Marshal(Session{Person: who.ID, Device: device, Since: p.now()})
	if err != nil {
		return "", err
	}
	return token, p.store.Local(sessionBucket).Put(ctx, tokenKey(token), data)
}

// SignOut ends a session.
func (p *Programme) SignOut(ctx context.Context, token string) error {
	return p.store.Local(sessionBucket).Delete(ctx, tokenKey(token))
}

// Who tells who a session belongs to. A session ends after twelve hours; a person who left is signed out.
func (p *Programme) Who(ctx context.Context, token string) (*people.State, error) {
	out := fault.New(fault.SignIn, "sign-in", "Nobody is signed in on this device.", "", "Choose your name and type your PIN.")
	if token == "" {
		return nil, out
	}
	raw, ok, err := p.store.Local(sessionBucket).Get(ctx, tokenKey(token))
	if err != nil {
		return nil, err
	}
	var s Session
	if !ok || json.Unmarshal(raw, &s) != nil || p.now().Sub(s.Since) > sessionIdle {
		return nil, out
	}
	var who *people.State
	err = p.store.Read(ctx, func(v *store.View) error {
		st, ok, err := v.State(people.Ref(s.Person))
		if err == nil && ok {
			who = st.(*people.State)
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	if who == nil || who.Gone != "" || who.PinHash == "" {
		return nil, out
	}
	return who, nil
}

// Device is what a phone or laptop is set up to be: a station of an event, with the meter and strips on its table.
type Device struct {
	Event        string `json:"event,omitempty"`
	Step         string `json:"step,omitempty"` // desk, test, explain
	Station      string `json:"station,omitempty"`
	Meter        string `json:"meter,omitempty"`
	StripLot     string `json:"strip_lot,omitempty"`
	Vial         string `json:"vial,omitempty"`
	Disinfectant string `json:"disinfectant,omitempty"`
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
	raw, err := json.Marshal(d)
	if err != nil {
		return err
	}
	return p.store.Local(deviceBucket).Put(ctx, id, raw)
}
