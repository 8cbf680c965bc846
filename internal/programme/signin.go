package programme

import (
	"context"
	"crypto/rand"
	"crypto/subtle"
	"encoding/base64"
	"fmt"
	"regexp"
	"strings"

	"golang.org/x/crypto/argon2"

	"fairstick/internal/fault"
	"fairstick/internal/people"
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

// checkPIN compares a PIN with a person's hash under the limits on wrong tries.
func (p *Programme) checkPIN(ctx context.Context, person, pin string) (*people.State, error) {
	who, err := p.personNow(ctx, person)
	if err != nil {
		return nil, err
	}
	name := person
	if who == nil {
		name = "nobody" // a stranger inventing names must not fill the memory
	}
	a, err := p.open(ctx)
	if err != nil {
		return nil, err
	}
	o := originOf(ctx)
	if d := a.devices[hashed(o.Device)]; o.Device != "" && d != nil && !d.Blocked.IsZero() {
		a.mu.Unlock()
		return nil, errBlocked
	}
	keys := a.counts(name, o)
	wait, notes := a.take(keys, p.now())
	a.mu.Unlock()
	if wait > 0 {
		return nil, waitFault(wait)
	}
	if who == nil || who.Gone != "" || who.PinHash == "" || !pinMatches(who.PinHash, pin) {
		if err := p.wrongTry(ctx, keys, notes); err != nil {
			return nil, err
		}
		return nil, fault.New(fault.Denied, "pin-wrong", "The name and the PIN do not belong together.", "", "Try again, or ask the lead to set a new PIN.").
			Field("pin", "Wrong PIN.")
	}
	if err := p.rightTry(ctx, keys); err != nil {
		return nil, err
	}
	return who, p.know(ctx, who.ID)
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
