package logbook

import (
	"crypto/cipher"
	"crypto/rand"
	"errors"
	"fmt"

	"golang.org/x/crypto/chacha20poly1305"

	"fairstick/internal/fact"
)

// KeySize is the length of the programme key and of every subject's key, in bytes.
const KeySize = chacha20poly1305.KeySize

// ErrUnsealed says that sealed bytes could not be opened: another key, another subject, or changed bytes.
var ErrUnsealed = errors.New("logbook: the sealed data cannot be opened with this key for this subject")

// sealVersion begins everything that is sealed or wrapped, so that a later form can be told apart.
const sealVersion = 1

// Keyring seals personal data. Each subject has a key of its own, kept wrapped by the programme key; destroying the
// wrapped key makes that person's data unreadable wherever its bytes lie. The cipher is XChaCha20-Poly1305 with a random
// nonce; the subject's ref is the associated data, so that what was sealed for one cannot be shown as another's.
type Keyring struct{ programme cipher.AEAD }

// NewKeyring takes the programme key of KeySize bytes.
func NewKeyring(programmeKey []byte) (*Keyring, error) {
	aead, err := chacha20poly1305.NewX(programmeKey)
	if err != nil {
		return nil, fmt.Errorf("logbook: programme key: %w", err)
	}
	return &Keyring{programme: aead}, nil
}

// NewSubjectKey makes a key for one subject and gives it wrapped.
func (k *Keyring) NewSubjectKey(ref fact.Ref) (wrapped []byte) {
	key := make([]byte, KeySize)
	rand.Read(key) // never fails, by its contract
	return seal(k.programme, "key", ref, key)
}

// Seal encrypts personal data for the subject whose wrapped key is given.
func (k *Keyring) Seal(wrapped []byte, ref fact.Ref, plaintext []byte) ([]byte, error) {
	aead, err := k.subject(wrapped, ref)
	if err != nil {
		return nil, err
	}
	return seal(aead, "data", ref, plaintext), nil
}

// Open gives back what Seal took. The error is ErrUnsealed for a wrong key, a wrong subject or changed bytes.
func (k *Keyring) Open(wrapped []byte, ref fact.Ref, sealed []byte) ([]byte, error) {
	aead, err := k.subject(wrapped, ref)
	if err != nil {
		return nil, err
	}
	return open(aead, "data", ref, sealed)
}

// Holds reports whether a wrapped key is this subject's and can be unwrapped.
func (k *Keyring) Holds(wrapped []byte, ref fact.Ref) bool {
	_, err := k.subject(wrapped, ref)
	return err == nil
}

func (k *Keyring) subject(wrapped []byte, ref fact.Ref) (cipher.AEAD, error) {
	key, err := open(k.programme, "key", ref, wrapped)
	if err != nil {
		return nil, err
	}
	return chacha20poly1305.NewX(key)
}

// bound is the associated data. Kinds hold no control characters, so the zero bytes cannot be shifted.
func bound(use string, ref fact.Ref) []byte {
	return []byte("fairstick " + use + "\x00" + ref.Kind + "\x00" + ref.ID)
}

func seal(aead cipher.AEAD, use string, ref fact.Ref, plaintext []byte) []byte {
	out := make([]byte, 1+aead.NonceSize(), 1+aead.NonceSize()+len(plaintext)+aead.Overhead())
	out[0] = sealVersion
	rand.Read(out[1:])
	return aead.Seal(out, out[1:], plaintext, bound(use, ref))
}

func open(aead cipher.AEAD, use string, ref fact.Ref, sealed []byte) ([]byte, error) {
	n := 1 + aead.NonceSize()
	if len(sealed) < n || sealed[0] != sealVersion {
		return nil, ErrUnsealed
	}
	out, err := aead.Open(nil, sealed[1:n], sealed[n:], bound(use, ref))
	if err != nil {
		return nil, ErrUnsealed
	}
	return out, nil
}
