package boot

import (
	"net/netip"
	"slices"
	"testing"
	"time"
)

func TestOwnHosts(t *testing.T) {
	look := func() []netip.Addr {
		return []netip.Addr{netip.MustParseAddr("192.168.1.20"), netip.MustParseAddr("203.0.113.9"), netip.MustParseAddr("fd00::7")}
	}
	o := &ownHosts{names: []string{"localhost", "desk", "desk.local"}, look: look}
	for host, want := range map[string]bool{
		"localhost": true, "LOCALHOST:8420": true, "127.0.0.1:1": true, "[::1]:8420": true, "192.168.1.20:8420": true, "[fd00::7]": true, "desk.local.:8420": true,
		"": false, "evil.example": false, "192.168.1.21": false, "203.0.113.9": false, "localhost.evil.example": false, "desk.local.evil": false,
	} {
		if got := o.has(host); got != want {
			t.Errorf("host %q: %v, want %v", host, got, want)
		}
	}
	if open := (&ownHosts{public: true, look: look}); !open.has("203.0.113.9") {
		t.Error("a public address that was asked for is refused")
	}
}

func TestAddressesForPhones(t *testing.T) {
	var in []netip.Addr
	for _, a := range []string{"172.17.0.1", "203.0.113.9", "10.0.0.5", "fe80::1", "192.168.1.20", "2001:db8::1", "169.254.3.4"} {
		in = append(in, netip.MustParseAddr(a))
	}
	var got []string
	for _, a := range forPhones(in) {
		got = append(got, a.String())
	}
	if want := []string{"192.168.1.20", "10.0.0.5", "172.17.0.1", "169.254.3.4"}; !slices.Equal(got, want) {
		t.Errorf("%v, want %v", got, want)
	}
}

func TestGatekeeper(t *testing.T) {
	g, now := newGatekeeper(nil), time.Unix(0, 0)
	a, b := netip.MustParseAddr("192.168.1.9"), netip.MustParseAddr("192.168.1.10")
	for range mostFromOne {
		if !g.admit(a, now) {
			t.Fatal("refused too early")
		}
	}
	if g.admit(a, now) || !g.admit(b, now) {
		t.Error("one address takes the places of another")
	}
	g.leave(a)
	if !g.admit(a, now) {
		t.Error("a place that became free is not given again")
	}
}
