package store

import (
	"bytes"
	"crypto/cipher"
	"encoding/binary"
	"errors"
	"fmt"
	"io"

	"golang.org/x/crypto/chacha20poly1305"

	"fairstick/internal/logbook"
)

// A box is a file that is encrypted from end to end, so that any byte changed, moved, cut off or added is noticed.
//
//	17  "fairstick backup\n"
//	 1  form: 1
//	 4  passes of Argon2id   \  how the passphrase becomes a key,
//	 4  memory in KiB         | numbers big-endian
//	 1  lanes                 |
//	16  salt                 /
//	73  the key of the content, wrapped by that key: 1, a nonce of 24, 32, a tag of 16
//	    chunks of at most 64 KiB and a tag of 16
//
// Each chunk is sealed with XChaCha20-Poly1305 under the content's own random key. Its nonce is 15 zero bytes, the number
// of the chunk in 8, and 1 for the last chunk, 0 before; the whole head is its associated data. This is the STREAM
// construction of Hoang, Reyhanitabar, Rogaway and Vizár, "Online Authenticated-Encryption and its Nonce-Reuse
// Misuse-Resistance", CRYPTO 2015.
const (
	boxMagic   = "fairstick backup\n"
	boxForm    = 1
	boxSalt    = 16
	boxWrapped = 1 + chacha20poly1305.NonceSizeX + chacha20poly1305.KeySize + chacha20poly1305.Overhead
	boxHead    = len(boxMagic) + 1 + 4 + 4 + 1 + boxSalt + boxWrapped
	boxChunk   = 64 << 10
	boxUse     = "content of a backup"
)

var (
	errNotABox  = errors.New("store: not a backup of Fairstick")
	errNewerBox = errors.New("store: a backup of a newer form")
	errBroken   = errors.New("store: the backup was changed or cut off")
)

// seal is one direction of a box.
type seal struct {
	aead  cipher.AEAD
	head  []byte
	count uint64
}

func newSeal(key, head []byte) (seal, error) {
	aead, err := chacha20poly1305.NewX(key)
	return seal{aead: aead, head: head}, err
}

func (s *seal) nonce(last bool) []byte {
	n := make([]byte, chacha20poly1305.NonceSizeX)
	binary.BigEndian.PutUint64(n[15:], s.count)
	if last {
		n[23] = 1
	}
	s.count++
	return n
}

type boxWriter struct {
	seal
	to   io.Writer
	held []byte // at most one chunk: the last one is known only when nothing follows
	out  []byte
}

// newBox begins a box that the passphrase behind pass opens. It is whole only after Close.
func newBox(to io.Writer, pass *logbook.PassKey) (*boxWriter, error) {
	lock, key := pass.Lock(), random(chacha20poly1305.KeySize)
	if len(lock.Salt) != boxSalt {
		return nil, fmt.Errorf("store: a salt of %d bytes", len(lock.Salt))
	}
	head := append([]byte(boxMagic), boxForm)
	head = binary.BigEndian.AppendUint32(head, lock.Passes)
	head = binary.BigEndian.AppendUint32(head, lock.Memory)
	head = append(append(head, lock.Lanes), lock.Salt...)
	head = append(head, pass.Wrap(boxUse, key)...)
	s, err := newSeal(key, head)
	if err != nil {
		return nil, err
	}
	_, err = to.Write(head)
	return &boxWriter{seal: s, to: to, held: make([]byte, 0, boxChunk)}, err
}

// Write implements io.Writer.
func (b *boxWriter) Write(p []byte) (n int, err error) {
	for len(p) > 0 {
		if len(b.held) == boxChunk {
			if err := b.put(false); err != nil {
				return n, err
			}
		}
		m := min(len(p), boxChunk-len(b.held))
		b.held = append(b.held, p[:m]...)
		p, n = p[m:], n+m
	}
	return n, nil
}

func (b *boxWriter) put(last bool) error {
	b.out = b.aead.Seal(b.out[:0], b.nonce(last), b.held, b.head)
	b.held = b.held[:0]
	_, err := b.to.Write(b.out)
	return err
}

// Close writes the last chunk.
func (b *boxWriter) Close() error { return b.put(true) }

type boxReader struct {
	seal
	from io.Reader
	next []byte // the chunk after this one, sealed
	left []byte // of this one, opened
	last bool
}

// openBox reads the head of a box; key turns its lock into the key that the passphrase became.
func openBox(from io.Reader, key func(logbook.Lock) (*logbook.PassKey, error)) (*boxReader, *logbook.PassKey, error) {
	head := make([]byte, boxHead)
	n, err := io.ReadFull(from, head)
	if err != nil && !errors.Is(err, io.EOF) && !errors.Is(err, io.ErrUnexpectedEOF) {
		return nil, nil, err
	}
	if n < len(boxMagic)+1 || !bytes.HasPrefix(head, []byte(boxMagic)) {
		return nil, nil, errNotABox
	}
	rest := head[len(boxMagic):]
	if rest[0] != boxForm {
		return nil, nil, errNewerBox
	}
	if n < boxHead {
		return nil, nil, errBroken
	}
	rest = rest[1:]
	pass, err := key(logbook.Lock{
		Passes: binary.BigEndian.Uint32(rest), Memory: binary.BigEndian.Uint32(rest[4:]), Lanes: rest[8], Salt: bytes.Clone(rest[9 : 9+boxSalt]),
	})
	if errors.Is(err, logbook.ErrLock) {
		return nil, nil, errBroken
	}
	if err != nil {
		return nil, nil, err
	}
	content, err := pass.Unwrap(boxUse, rest[9+boxSalt:])
	if err != nil {
		return nil, nil, errWrongBackupPassphrase
	}
	s, err := newSeal(content, head)
	if err != nil {
		return nil, nil, errBroken
	}
	b := &boxReader{seal: s, from: from}
	b.next, err = b.fetch()
	return b, pass, err
}

// fetch reads one sealed chunk; empty at the end.
func (b *boxReader) fetch() ([]byte, error) {
	chunk := make([]byte, boxChunk+chacha20poly1305.Overhead)
	n, err := io.ReadFull(b.from, chunk)
	if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
		err = nil
	}
	return chunk[:n], err
}

// Read implements io.Reader. It gives io.EOF only after the last chunk, and errBroken where the box does not hold.
func (b *boxReader) Read(p []byte) (int, error) {
	for len(b.left) == 0 {
		if b.last {
			return 0, io.EOF
		}
		chunk := b.next
		var err error
		if b.next, err = b.fetch(); err != nil {
			return 0, err
		}
		b.last = len(b.next) == 0
		if b.left, err = b.aead.Open(chunk[:0], b.nonce(b.last), chunk, b.head); err != nil {
			return 0, errBroken
		}
	}
	n := copy(p, b.left)
	b.left = b.left[n:]
	return n, nil
}
