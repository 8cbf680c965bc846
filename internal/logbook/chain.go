package logbook

import (
	"crypto/ed25519"
	"crypto/sha256"
	"encoding/base32"
	"encoding/binary"
	"fmt"
	"iter"
	"strings"
)

// Head is the end of one node's chain. The zero Seq and Hash stand before its first entry.
type Head struct {
	Node string
	Seq  uint64
	Hash [32]byte
}

// Link is an entry in its place in the chain of its node.
type Link struct {
	Entry
	Bytes []byte // canonical: what is hashed, kept and replicated
	Prev  [32]byte
	Hash  [32]byte
}

// Head gives the chain's end when this link is the last.
func (l Link) Head() Head { return Head{Node: l.Node, Seq: l.Seq, Hash: l.Hash} }

// Hash chains the bytes of an entry to what stood before: SHA-256 over prev, then the bytes.
func Hash(prev [32]byte, data []byte) [32]byte {
	h := sha256.New()
	h.Write(prev[:])
	h.Write(data)
	var out [32]byte
	h.Sum(out[:0])
	return out
}

// Extend puts an entry at the end of a chain: it takes the node and the next number from the head.
func (h Head) Extend(e Entry) (Link, error) {
	e.Node, e.Seq = h.Node, h.Seq+1
	data, err := Encode(e)
	if err != nil {
		return Link{}, err
	}
	return Link{Entry: e, Bytes: data, Prev: h.Hash, Hash: Hash(h.Hash, data)}, nil
}

// Follow reads bytes as the next link after a head. The error is a *Broken when they are not.
func (h Head) Follow(data []byte) (Link, error) {
	e, err := Decode(data)
	switch {
	case err != nil:
		return Link{}, &Broken{h.Node, h.Seq + 1, "the entry cannot be read: " + err.Error()}
	case e.Node != h.Node:
		return Link{}, &Broken{h.Node, h.Seq + 1, "the entry says it was made by " + e.Node}
	case e.Seq > h.Seq+1:
		return Link{}, &Broken{h.Node, h.Seq + 1, fmt.Sprintf("the entry is missing; the next one is number %d", e.Seq)}
	case e.Seq != h.Seq+1:
		return Link{}, &Broken{h.Node, h.Seq + 1, fmt.Sprintf("the entry says it is number %d", e.Seq)}
	}
	return Link{Entry: e, Bytes: data, Prev: h.Hash, Hash: Hash(h.Hash, data)}, nil
}

// Kept is one entry as it lies in the store: its bytes, and the hash that was computed when it was written.
type Kept struct {
	Bytes []byte
	Hash  [32]byte
}

// Broken names the first link of a chain that does not hold.
type Broken struct {
	Node string
	Seq  uint64
	What string
}

// Error gives one sentence.
func (b *Broken) Error() string {
	return fmt.Sprintf("Entry %d of laptop %s does not hold: %s.", b.Seq, b.Node, b.What)
}

// VerifyChain walks the kept entries of one node in order, starting after a head, and gives the head at their end. Each
// is shown to each while it is sound; the error is a *Broken that names the first that is not, or what each returned.
func VerifyChain(from Head, kept iter.Seq[Kept], each func(Link) error) (Head, error) {
	head := from
	for k := range kept {
		link, err := head.Follow(k.Bytes)
		if err != nil {
			return head, err
		}
		if link.Hash != k.Hash {
			return head, &Broken{head.Node, link.Seq, "its bytes or one before it were changed; the hash is another"}
		}
		if each != nil {
			if err := each(link); err != nil {
				return head, err
			}
		}
		head = link.Head()
	}
	return head, nil
}

// NodeName derives the name of a laptop from its public key, so that a name cannot be borrowed: the first 80 bits of the
// key's SHA-256 as 16 letters and digits.
func NodeName(public ed25519.PublicKey) string {
	sum := sha256.Sum256(public)
	return strings.ToLower(base32.StdEncoding.EncodeToString(sum[:10]))
}

// message is what a node signs: a prefix of this use alone, its name, and the end of its chain.
func (h Head) message() []byte {
	m := append([]byte("fairstick head 1\n"), h.Node...)
	m = append(m, '\n')
	m = binary.BigEndian.AppendUint64(m, h.Seq)
	return append(m, h.Hash[:]...)
}

// Sign signs the head with the node's own key.
func (h Head) Sign(key ed25519.PrivateKey) []byte { return ed25519.Sign(key, h.message()) }

// Verify reports whether the node that bears this name signed this head.
func (h Head) Verify(public ed25519.PublicKey, signature []byte) bool {
	return len(public) == ed25519.PublicKeySize && NodeName(public) == h.Node && ed25519.Verify(public, h.message(), signature)
}

// Run is a stretch of one node's chain as it goes from laptop to laptop: the bytes of its entries in order, and the
// node's signature of the head after the last of them.
type Run struct {
	Node      string
	Public    ed25519.PublicKey
	Entries   [][]byte
	Signature []byte
}
