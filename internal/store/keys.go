package store

import (
	"crypto/ed25519"
	"crypto/rand"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"fairstick/internal/logbook"
)

// keys is what a laptop must keep to itself: who it is in the record, and what opens the personal data.
type keys struct {
	node    string
	sign    ed25519.PrivateKey
	keyring *logbook.Keyring
}

// keyFile is the form of keys on disk.
type keyFile struct {
	Note      string `json:"note"`
	Node      string `json:"node"`
	Sign      []byte `json:"sign"`      // the private part of the Ed25519 key
	Programme []byte `json:"programme"` // wraps the keys of the subjects
}

const keyNote = "Keep this file secret and with its record: without it names and phone numbers cannot be read again."

func newKeyFile() keyFile {
	f := keyFile{Note: keyNote, Sign: make([]byte, ed25519.SeedSize), Programme: make([]byte, logbook.KeySize)}
	rand.Read(f.Sign) // never fails, by its contract
	rand.Read(f.Programme)
	f.Node = logbook.NodeName(ed25519.NewKeyFromSeed(f.Sign).Public().(ed25519.PublicKey))
	return f
}

func (f keyFile) keys() (keys, error) {
	if len(f.Sign) != ed25519.SeedSize {
		return keys{}, errors.New("the signing key has the wrong length")
	}
	k := keys{node: f.Node, sign: ed25519.NewKeyFromSeed(f.Sign)}
	if logbook.NodeName(k.public()) != f.Node {
		return keys{}, errors.New("the signing key does not belong to the laptop named in the file")
	}
	var err error
	k.keyring, err = logbook.NewKeyring(f.Programme)
	return k, err
}

func (k keys) public() ed25519.PublicKey { return k.sign.Public().(ed25519.PublicKey) }

func readKeys(path string) (keys, error) {
	data, err := os.ReadFile(path)
	if err != nil {
		return keys{}, err
	}
	var f keyFile
	if err := json.Unmarshal(data, &f); err != nil {
		return keys{}, err
	}
	return f.keys()
}

// writeKeys writes the file whole or not at all: beside it, synced, then renamed.
func writeKeys(path string, f keyFile) (err error) {
	data, err := json.MarshalIndent(f, "", "  ")
	if err != nil {
		return err
	}
	tmp, err := os.CreateTemp(filepath.Dir(path), "keys-*.tmp") // 0600, by its contract
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			_ = tmp.Close() // err is what matters
			_ = os.Remove(tmp.Name())
		}
	}()
	if _, err = tmp.Write(append(data, '\n')); err != nil {
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
