package logbook

import (
	"bytes"
	"crypto/cipher"
	"crypto/rand"
	"encoding/binary"
	"errors"
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/crypto/argon2"
	"golang.org/x/crypto/chacha20poly1305"
	"golang.org/x/text/unicode/norm"

	"fairstick/internal/fault"
)

// The cost of turning a passphrase into a key: Argon2id with 3 passes, 4 lanes and 64 MiB, the second recommended option
// of RFC 9106, section 4.
const (
	lockPasses = 3
	lockLanes  = 4
	lockMemory = 64 << 10 // KiB
	lockSalt   = 16       // bytes, as the same section says
)

// The most that a stored Lock may ask for: a file from a stranger must not take all memory or never end.
const (
	maxPasses = 64
	maxMemory = 1 << 20 // KiB: 1 GiB
	maxSalt   = 64
)

// Lock says how a passphrase becomes a key: Argon2id with these parameters. It is kept in the clear beside what it locks.
type Lock struct {
	Salt   []byte `json:"salt"`
	Passes uint32 `json:"passes"`
	Memory uint32 `json:"memory_kib"`
	Lanes  uint8  `json:"lanes"`
}

// ErrLock says that the parameters of a lock are not ones that this program would have written or can bear.
var ErrLock = errors.New("logbook: the parameters of the lock cannot be used")

// PassKey is the key that a passphrase became. It wraps other keys and lives in memory alone.
type PassKey struct {
	lock Lock
	aead cipher.AEAD
}

// NewPassKey makes a key from a passphrase with a fresh salt. It takes about as long as a person's blink, and 64 MiB.
func NewPassKey(passphrase []byte) *PassKey {
	lock := Lock{Salt: make([]byte, lockSalt), Passes: lockPasses, Memory: lockMemory, Lanes: lockLanes}
	rand.Read(lock.Salt) // never fails, by its contract
	return lock.key(passphrase)
}

// Key makes the key that this lock was made with, if the passphrase is the same; Unwrap tells. The error is ErrLock.
func (l Lock) Key(passphrase []byte) (*PassKey, error) {
	if l.Passes < 1 || l.Passes > maxPasses || l.Memory < 8*uint32(l.Lanes) || l.Memory > maxMemory || l.Lanes < 1 || len(l.Salt) < 8 || len(l.Salt) > maxSalt {
		return nil, ErrLock
	}
	return l.key(passphrase), nil
}

func (l Lock) key(passphrase []byte) *PassKey {
	key := argon2.IDKey(norm.NFC.Bytes(passphrase), // an accent is the same letter from every keyboard
		l.Salt, l.Passes, l.Memory, l.Lanes, chacha20poly1305.KeySize)
	aead, err := chacha20poly1305.NewX(key)
	if err != nil {
		panic(err) // the length is right by construction
	}
	return &PassKey{lock: l, aead: aead}
}

// Lock gives the parameters to be kept beside what is wrapped.
func (k *PassKey) Lock() Lock { return k.lock }

// use is the associated data: what was wrapped for one purpose and under one lock is refused for another.
func (k *PassKey) use(name string) []byte {
	b := append([]byte("fairstick pass\x00"), name...)
	b = append(b, 0, k.lock.Lanes)
	b = binary.BigEndian.AppendUint32(b, k.lock.Passes)
	b = binary.BigEndian.AppendUint32(b, k.lock.Memory)
	return append(b, k.lock.Salt...)
}

// Wrap seals a secret for a named use with XChaCha20-Poly1305 under a random nonce.
func (k *PassKey) Wrap(use string, secret []byte) []byte {
	out := make([]byte, 1+k.aead.NonceSize(), 1+k.aead.NonceSize()+len(secret)+k.aead.Overhead())
	out[0] = sealVersion
	rand.Read(out[1:])
	return k.aead.Seal(out, out[1:], secret, k.use(use))
}

// Unwrap gives back what Wrap took. The error is ErrUnsealed for another passphrase, another use or changed bytes.
func (k *PassKey) Unwrap(use string, wrapped []byte) ([]byte, error) {
	n := 1 + k.aead.NonceSize()
	if len(wrapped) < n || wrapped[0] != sealVersion {
		return nil, ErrUnsealed
	}
	out, err := k.aead.Open(nil, wrapped[1:n], wrapped[n:], k.use(use))
	if err != nil {
		return nil, ErrUnsealed
	}
	return out, nil
}

// What a passphrase must have. It stands against somebody who has the laptop and all the time in the world, so it is not a PIN.
const (
	minPassphrase = 12
	minWords      = 4
	minDifferent  = 5
	maxPassphrase = 1024
)

// CheckPassphrase refuses a passphrase that is soon guessed: it needs 12 characters or 4 words, and more than digits.
func CheckPassphrase(passphrase []byte) error {
	weak := func(what string) error {
		return fault.New(fault.Invalid, "passphrase-weak", what,
			"It protects every name and telephone number from whoever finds this laptop or stick.",
			"Use at least 12 characters, or 4 words that do not belong together. A PIN is not enough.").
			Field("passphrase", what)
	}
	if len(passphrase) > maxPassphrase || !utf8.Valid(passphrase) || bytes.ContainsFunc(passphrase, unicode.IsControl) {
		return weak("This passphrase is too long or holds characters that are not text.")
	}
	text := string(passphrase)
	words := map[string]bool{}
	for _, w := range strings.Fields(strings.ToLower(text)) {
		if utf8.RuneCountInString(w) >= 2 {
			words[w] = true
		}
	}
	different, digits := map[rune]bool{}, true
	for _, r := range text {
		different[r] = true
		digits = digits && (unicode.IsDigit(r) || unicode.IsSpace(r))
	}
	switch {
	case utf8.RuneCountInString(text) < minPassphrase && len(words) < minWords:
		return weak("This passphrase is too short.")
	case digits:
		return weak("This passphrase is all digits.")
	case len(different) < minDifferent:
		return weak("This passphrase repeats the same few characters.")
	}
	return nil
}
