package store

import (
	"bytes"
	"encoding/binary"
	"encoding/json"
	"os"
	"path/filepath"
	"testing"

	"fairstick/internal/logbook"
)

// FuzzBox opens anything as a backup. It gives back only what was put in, whole; the passphrase is not asked for more than the
// program would bear, which Lock.Key decides before any work.
func FuzzBox(f *testing.F) {
	pass := logbook.NewPassKey([]byte(aPassphrase))
	content := []byte("what was recorded")
	var out bytes.Buffer
	box, err := newBox(&out, pass)
	if err == nil {
		_, err = box.Write(content)
	}
	if err == nil {
		err = box.Close()
	}
	if err != nil {
		f.Fatal(err)
	}
	whole := out.Bytes()
	f.Add(whole)
	f.Add(whole[:len(whole)-1])
	f.Add(append(bytes.Clone(whole), 0))
	f.Add([]byte(boxMagic))
	f.Add(append([]byte(boxMagic), 2))
	f.Add([]byte("PK\x03\x04"))
	f.Fuzz(func(t *testing.T, data []byte) {
		got, err := unboxed(data, pass)
		if err == nil && !(bytes.Equal(got, content) && bytes.Equal(data, whole)) {
			t.Errorf("%d bytes that were not written here give %q", len(data), got)
		}
	})
}

// FuzzManifest reads anything as what stands at the head of a backup that was unlocked.
func FuzzManifest(f *testing.F) {
	framed := func(text []byte) []byte {
		return append(binary.BigEndian.AppendUint32(nil, uint32(len(text))), text...)
	}
	whole, err := json.Marshal(manifest{Manifest: Manifest{Form: 1, Bytes: 4 * cipherBlock}, File: make([]byte, logbook.KeySize)})
	if err != nil {
		f.Fatal(err)
	}
	f.Add(framed(whole))
	f.Add(framed([]byte(`{"form":2}`)))
	f.Add(framed([]byte(`{"form":1,"bytes":-4096}`)))
	f.Add([]byte{0xff, 0xff, 0xff, 0xff})
	f.Add([]byte{0, 0, 0, 9, '{'})
	f.Fuzz(func(t *testing.T, data []byte) {
		m, err := readManifest(bytes.NewReader(data))
		if err == nil && (m.Form != 1 || m.Bytes <= 0 || m.Bytes%cipherBlock != 0 || len(m.File) != logbook.KeySize) {
			t.Errorf("%q is read as %+v", data, m)
		}
	})
}

// FuzzKeysFile reads anything as the keys of a record. Keys that are taken are whole; a passphrase is tried only under a lock that
// the program can bear.
func FuzzKeysFile(f *testing.F) {
	k, err := newIdentity(random(logbook.KeySize), nil)
	if err != nil {
		f.Fatal(err)
	}
	file, err := k.file()
	if err != nil {
		f.Fatal(err)
	}
	whole, err := json.Marshal(file)
	if err != nil {
		f.Fatal(err)
	}
	f.Add(whole)
	f.Add(whole[:len(whole)/2])
	f.Add([]byte(`{"node":"x","lock":{"salt":"AAAAAAAAAAAAAAAAAAAAAA==","passes":4294967295,"memory_kib":4294967295,"lanes":255},"sealed":"AA=="}`))
	f.Add([]byte(`{"node":"","signing":"","programme":"AA=="}`))
	f.Add([]byte(`[]`))
	f.Fuzz(func(t *testing.T, data []byte) {
		path := filepath.Join(t.TempDir(), keysFile)
		if err := os.WriteFile(path, data, 0o600); err != nil {
			t.Fatal(err)
		}
		file, err := readKeyFile(path)
		if err != nil || file.Lock != nil && file.Lock.Passes <= 64 && file.Lock.Memory <= 1<<20 && file.Lock.Passes*file.Lock.Memory > 1024 {
			return // a costly lock is a matter of time, not of reading
		}
		got, err := file.open(func() ([]byte, error) { return []byte("guess"), nil })
		if err == nil && (got.node == "" || len(got.Programme) != logbook.KeySize) {
			t.Errorf("%q is read as keys of %q", data, got.node)
		}
	})
}
