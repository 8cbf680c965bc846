package store

import (
	"crypto/ed25519"
	"crypto/rand"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"fairstick/internal/fault"
	"fairstick/internal/logbook"
)

// keys is what a laptop must keep to itself: who it is in the record, what opens the personal data, and what the database
// is encrypted with.
type keys struct {
	secrets
	node    string
	sign    ed25519.PrivateKey
	keyring *logbook.Keyring
	pass    *logbook.PassKey // nil when no passphrase is set
}

// secrets is the part of a keys file that a passphrase seals.
type secrets struct {
	Sign      []byte `json:"sign,omitempty"`      // the private part of the Ed25519 key
	Programme []byte `json:"programme,omitempty"` // wraps the keys of the subjects
	File      []byte `json:"file,omitempty"`      // encrypts the database; empty when there is no passphrase
}

// keyFile is the form of keys on disk: the secrets as they are, or a lock and the secrets sealed.
type keyFile struct {
	Note string `json:"note"`
	Node string `json:"node"`
	secrets
	Lock   *logbook.Lock `json:"lock,omitempty"`
	Sealed []byte        `json:"sealed,omitempty"`
}

const (
	keyNote    = "Keep this file secret and with its record: without it names and phone numbers cannot be read again."
	sealedNote = "Keep this file with its record: without it and the passphrase nothing can be read again."
)

func random(n int) []byte {
	b := make([]byte, n)
	rand.Read(b) // never fails, by its contract
	return b
}

// newIdentity makes a laptop that nobody has heard of; programme is the programme key to share, or nil for a new one.
func newIdentity(programme []byte, pass *logbook.PassKey) (keys, error) {
	s := secrets{Sign: random(ed25519.SeedSize), Programme: programme}
	if programme == nil {
		s.Programme = random(logbook.KeySize)
	}
	if pass != nil {
		s.File = random(logbook.KeySize)
	}
	return s.keys(logbook.NodeName(ed25519.NewKeyFromSeed(s.Sign).Public().(ed25519.PublicKey)), pass)
}

func (s secrets) keys(node string, pass *logbook.PassKey) (keys, error) {
	if len(s.Sign) != ed25519.SeedSize {
		return keys{}, errors.New("the signing key has the wrong length")
	}
	if pass != nil && len(s.File) != logbook.KeySize {
		return keys{}, errors.New("the key of the database has the wrong length")
	}
	k := keys{secrets: s, node: node, sign: ed25519.NewKeyFromSeed(s.Sign), pass: pass}
	if logbook.NodeName(k.public()) != node {
		return keys{}, errors.New("the signing key does not belong to the laptop named in the file")
	}
	var err error
	k.keyring, err = logbook.NewKeyring(s.Programme)
	return k, err
}

func (k keys) public() ed25519.PublicKey { return k.sign.Public().(ed25519.PublicKey) }

// sealed reports whether the database is encrypted.
func (k keys) sealed() bool { return k.pass != nil }

// data is the file of the database. An encrypted one has a name of its own, so that the keys file alone says which of the
// two is the record, and replacing that file is what moves from one to the other.
func (k keys) data(dir string) string { return filepath.Join(dir, dataName(k.sealed())) }

func dataName(sealed bool) string {
	if sealed {
		return sealedFile
	}
	return dataFile
}

// file writes the keys as they stand on disk.
func (k keys) file() (keyFile, error) {
	if k.pass == nil {
		return keyFile{Note: keyNote, Node: k.node, secrets: k.secrets}, nil
	}
	plain, err := json.Marshal(k.secrets)
	if err != nil {
		return keyFile{}, err
	}
	lock := k.pass.Lock()
	return keyFile{Note: sealedNote, Node: k.node, Lock: &lock, Sealed: k.pass.Wrap("keys of "+k.node, plain)}, nil
}

var (
	errLocked = fault.New(fault.Denied, "record-locked", "The record is locked.", "It is encrypted, and nobody has given its passphrase.",
		"Give the passphrase: type it when asked, or use --passphrase-file.")
	errWrongPassphrase = fault.New(fault.Denied, "passphrase-wrong", "This is not the passphrase of the record.", "Without it nothing can be read.",
		"Look for capital letters and spaces, and try again.").Field("passphrase", "Wrong passphrase.")
)

// open gives the keys of a file; ask is called when they are sealed.
func (f keyFile) open(ask func() ([]byte, error)) (keys, error) {
	if f.Lock == nil {
		return f.keys(f.Node, nil)
	}
	if ask == nil {
		return keys{}, errLocked
	}
	passphrase, err := ask()
	if err != nil {
		return keys{}, err
	}
	if len(passphrase) == 0 {
		return keys{}, errLocked
	}
	pass, err := f.Lock.Key(passphrase)
	if err != nil {
		return keys{}, err
	}
	return f.unlock(pass)
}

// unlock opens sealed keys with a key made before.
func (f keyFile) unlock(pass *logbook.PassKey) (keys, error) {
	plain, err := pass.Unwrap("keys of "+f.Node, f.Sealed)
	if err != nil {
		return keys{}, errWrongPassphrase
	}
	var s secrets
	if err := json.Unmarshal(plain, &s); err != nil {
		return keys{}, err
	}
	return s.keys(f.Node, pass)
}

func readKeyFile(path string) (f keyFile, err error) {
	data, err := os.ReadFile(path)
	if err != nil {
		return f, err
	}
	return f, json.Unmarshal(data, &f)
}

// writeKeys replaces the keys file of a folder.
func writeKeys(path string, k keys) error {
	f, err := k.file()
	if err != nil {
		return err
	}
	data, err := json.MarshalIndent(f, "", "  ")
	if err != nil {
		return err
	}
	return replace(path, append(data, '\n'))
}

// replace writes a file whole or not at all: beside it, synced, then renamed.
func replace(path string, data []byte) (err error) {
	tmp, err := os.CreateTemp(filepath.Dir(path), filepath.Base(path)+"-*.tmp") // 0600, by its contract
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			_ = tmp.Close() // err is what matters
			_ = os.Remove(tmp.Name())
		}
	}()
	if _, err = tmp.Write(data); err != nil {
		return err
	}
	if err = tmp.Sync(); err != nil {
		return err
	}
	if err = tmp.Close(); err != nil {
		return err
	}
	if err = os.Rename(tmp.Name(), path); err != nil {
		return err
	}
	return syncDir(filepath.Dir(path))
}

// syncFile makes a file's content durable.
func syncFile(path string) error {
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}

// syncDir makes the names in a folder durable. Windows cannot open a folder for this and does not need it.
func syncDir(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return fmt.Errorf("store: %w", err)
	}
	err = d.Sync()
	if e := d.Close(); err == nil {
		err = e
	}
	if err != nil && !errors.Is(err, os.ErrInvalid) && !errors.Is(err, os.ErrPermission) {
		return err
	}
	return nil
}
