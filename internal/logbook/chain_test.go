package logbook

import (
	"bytes"
	"crypto/ed25519"
	"errors"
	"fmt"
	"slices"
	"testing"
)

var (
	someKey  = ed25519.NewKeyFromSeed(bytes.Repeat([]byte{7}, ed25519.SeedSize))
	otherKey = ed25519.NewKeyFromSeed(bytes.Repeat([]byte{8}, ed25519.SeedSize))
)

func public(k ed25519.PrivateKey) ed25519.PublicKey { return k.Public().(ed25519.PublicKey) }

// chainOf makes a chain of n entries as it would be kept.
func chainOf(t *testing.T, node string, n int) (kept []Kept, end Head) {
	t.Helper()
	end = Head{Node: node}
	for i := range n {
		e := sample()
		e.ID = fmt.Sprint("id", i+1)
		link, err := end.Extend(e)
		if err != nil {
			t.Fatal(err)
		}
		if link.Prev != end.Hash || link.Seq != uint64(i+1) || link.Node != node {
			t.Fatalf("%+v", link)
		}
		kept, end = append(kept, Kept{link.Bytes, link.Hash}), link.Head()
	}
	return kept, end
}

func TestVerifyChain(t *testing.T) {
	kept, end := chainOf(t, "n", 5)
	var seqs []uint64
	got, err := VerifyChain(Head{Node: "n"}, slices.Values(kept), func(l Link) error { seqs = append(seqs, l.Seq); return nil })
	if err != nil || got != end || !slices.Equal(seqs, []uint64{1, 2, 3, 4, 5}) {
		t.Fatal(got, err, seqs)
	}
	stop := errors.New("enough")
	if _, err := VerifyChain(Head{Node: "n"}, slices.Values(kept), func(Link) error { return stop }); !errors.Is(err, stop) {
		t.Error(err)
	}
	rest, err := VerifyChain(Head{Node: "n", Seq: 2, Hash: kept[1].Hash}, slices.Values(kept[2:]), nil)
	if err != nil || rest != end {
		t.Error(rest, err)
	}
	foreign, _ := chainOf(t, "m", 3)
	for name, c := range map[string]struct {
		spoil func([]Kept) []Kept
		seq   uint64
		what  string
	}{
		"a letter": {func(k []Kept) []Kept {
			k[2].Bytes = bytes.Replace(k[2].Bytes, []byte(`"cups":2`), []byte(`"cups":3`), 1)
			return k
		}, 3, "its bytes or one before it were changed; the hash is another"},
		"a letter and its hash": {func(k []Kept) []Kept {
			k[2].Bytes = bytes.Replace(k[2].Bytes, []byte(`"cups":2`), []byte(`"cups":3`), 1)
			k[2].Hash = Hash(k[1].Hash, k[2].Bytes)
			return k
		}, 4, "its bytes or one before it were changed; the hash is another"},
		"one taken out":    {func(k []Kept) []Kept { return slices.Delete(k, 1, 2) }, 2, "the entry is missing; the next one is number 3"},
		"one twice":        {func(k []Kept) []Kept { return slices.Insert(k, 1, k[0]) }, 2, "the entry says it is number 1"},
		"one of another":   {func(k []Kept) []Kept { k[2] = foreign[2]; return k }, 3, "the entry says it was made by m"},
		"one not readable": {func(k []Kept) []Kept { k[0].Bytes = []byte("?"); return k }, 1, ""},
	} {
		bad := c.spoil(slices.Clone(kept))
		_, err := VerifyChain(Head{Node: "n"}, slices.Values(bad), nil)
		var b *Broken
		if !errors.As(err, &b) || b.Node != "n" || b.Seq != c.seq || c.what != "" && b.What != c.what {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestHeadIsSignedByTheNodeWhoseNameItBears(t *testing.T) {
	head := Head{Node: NodeName(public(someKey)), Seq: 3, Hash: [32]byte{1}}
	sig := head.Sign(someKey)
	if !head.Verify(public(someKey), sig) {
		t.Fatal("its own signature")
	}
	later, changed, renamed := head, head, head
	later.Seq, changed.Hash[31], renamed.Node = 4, 9, NodeName(public(otherKey))
	for name, bad := range map[string]bool{
		"another number":    later.Verify(public(someKey), sig),
		"another hash":      changed.Verify(public(someKey), sig),
		"another name":      renamed.Verify(public(someKey), sig),
		"another's key":     head.Verify(public(otherKey), head.Sign(otherKey)),
		"no key":            head.Verify(nil, sig),
		"changed signature": head.Verify(public(someKey), append([]byte{sig[0] ^ 1}, sig[1:]...)),
	} {
		if bad {
			t.Error(name)
		}
	}
	if n := NodeName(public(someKey)); len(n) != 16 || n == NodeName(public(otherKey)) {
		t.Error(n)
	}
}
