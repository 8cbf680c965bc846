package boot

import (
	"net"
	"net/http"
	"net/netip"
	"os"
	"slices"
	"strings"
	"sync"
	"time"
)

// door stands before the pages: it answers only to this laptop's own names and, unless asked for, only on addresses that
// the open internet does not reach.
type door struct {
	pages  http.Handler
	public bool // a public address is allowed
	own    *ownHosts
}

func (d *door) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	if !d.public && (publicAddr(remoteOf(r.RemoteAddr)) || publicAddr(localOf(r))) {
		refuse(w, http.StatusForbidden, "Fairstick answers on private networks only. To serve a public address, start it with --allow-public.")
		return
	}
	// A page of somebody else's may give its own name this laptop's number, and then read answers as if they were its own.
	if !d.own.has(r.Host) {
		refuse(w, http.StatusMisdirectedRequest, "This laptop is not called that. Open Fairstick by the address on the lead's screen.")
		return
	}
	d.pages.ServeHTTP(w, r)
}

func refuse(w http.ResponseWriter, status int, sentence string) {
	h := w.Header()
	h.Set("Content-Security-Policy", "default-src 'none'; frame-ancestors 'none'")
	h.Set("X-Frame-Options", "DENY")
	h.Set("Cache-Control", "no-store")
	http.Error(w, sentence, status)
}

func remoteOf(hostPort string) netip.Addr {
	at, err := netip.ParseAddrPort(hostPort)
	if err != nil {
		return netip.Addr{}
	}
	return at.Addr().Unmap()
}

func localOf(r *http.Request) netip.Addr {
	at, ok := r.Context().Value(http.LocalAddrContextKey).(net.Addr)
	if !ok {
		return netip.Addr{}
	}
	return remoteOf(at.String())
}

// publicAddr reports whether an address is one of the open internet. What is no address at all is not.
func publicAddr(a netip.Addr) bool {
	return a.IsValid() && !a.IsUnspecified() && !a.IsLoopback() && !a.IsPrivate() && !a.IsLinkLocalUnicast()
}

// ownHosts knows the names and numbers of this laptop; they change when it joins another network.
type ownHosts struct {
	public bool // its public numbers count too
	names  []string
	look   func() []netip.Addr

	mu    sync.Mutex
	at    time.Time
	addrs []netip.Addr
}

const lookAgain = 5 * time.Second

func newOwnHosts(public bool) *ownHosts {
	o := &ownHosts{public: public, look: ownAddrs, names: []string{"localhost"}}
	if name, err := os.Hostname(); err == nil && name != "" {
		name, _, _ = strings.Cut(strings.ToLower(name), ".")
		o.names = append(o.names, name, name+".local")
	}
	return o
}

// has reports whether a Host header names this laptop. The port does not matter: it is ours, since the request is here.
func (o *ownHosts) has(host string) bool {
	if h, _, err := net.SplitHostPort(host); err == nil {
		host = h
	}
	host = strings.TrimSuffix(strings.ToLower(strings.Trim(host, "[]")), ".")
	addr, err := netip.ParseAddr(host)
	if err != nil {
		return slices.Contains(o.names, host)
	}
	addr = addr.Unmap().WithZone("")
	return addr.IsLoopback() || (o.public || !publicAddr(addr)) && slices.Contains(o.addresses(), addr)
}

func (o *ownHosts) addresses() []netip.Addr {
	o.mu.Lock()
	defer o.mu.Unlock()
	if now := time.Now(); o.addrs == nil || now.Sub(o.at) > lookAgain {
		o.addrs, o.at = o.look(), now
	}
	return o.addrs
}

// ownAddrs lists the addresses of this laptop's networks.
func ownAddrs() []netip.Addr {
	out := []netip.Addr{}
	addrs, err := net.InterfaceAddrs()
	if err != nil {
		return out
	}
	for _, a := range addrs {
		if p, err := netip.ParsePrefix(a.String()); err == nil && !p.Addr().IsLoopback() {
			out = append(out, p.Addr().Unmap().WithZone(""))
		}
	}
	return out
}

// forPhones gives the addresses that a phone on the same network can open, the most likely first: the ranges that home
// routers and phones' own hotspots give out, then larger networks, then IPv6. Public ones are left out.
func forPhones(addrs []netip.Addr) []netip.Addr {
	rank := func(a netip.Addr) int {
		for i, p := range likely {
			if p.Contains(a) {
				return i
			}
		}
		return len(likely)
	}
	var out []netip.Addr
	for _, a := range addrs {
		if a.IsPrivate() || a.Is4() && a.IsLinkLocalUnicast() { // a link-local IPv6 address needs a zone that a phone does not know
			out = append(out, a)
		}
	}
	slices.SortFunc(out, func(x, y netip.Addr) int {
		if r := rank(x) - rank(y); r != 0 {
			return r
		}
		return x.Compare(y)
	})
	return slices.Compact(out)
}

// Private ranges of RFC 1918 and RFC 4193, link-local of RFC 3927. 172.17.0.0/16 is where virtual machines and containers
// usually stand (common practice), so it comes last of its kind.
var likely = []netip.Prefix{
	netip.MustParsePrefix("192.168.0.0/16"), netip.MustParsePrefix("10.0.0.0/8"), netip.MustParsePrefix("172.20.10.0/28"),
	netip.MustParsePrefix("172.17.0.0/16"), netip.MustParsePrefix("172.16.0.0/12"), netip.MustParsePrefix("169.254.0.0/16"), netip.MustParsePrefix("fd00::/8"),
}

// The most connections at once. A page holds six or seven and its live stream; ten stations may stand behind one address.
const (
	mostFromOne = 128
	mostAtAll   = 1024
	newASecond  = 50 // from one address, after a first burst
	newAtOnce   = 256
)

// gatekeeper is a listener that closes connections beyond those limits at once, so that one visitor cannot use up the
// laptop. This laptop itself does not count towards mostAtAll.
type gatekeeper struct {
	net.Listener

	mu   sync.Mutex
	from map[netip.Addr]*caller
	all  int
}

type caller struct {
	open int
	left float64 // new connections that it may make
	at   time.Time
}

func newGatekeeper(ln net.Listener) *gatekeeper {
	return &gatekeeper{Listener: ln, from: map[netip.Addr]*caller{}}
}

// Accept implements net.Listener.
func (g *gatekeeper) Accept() (net.Conn, error) {
	for {
		c, err := g.Listener.Accept()
		if err != nil {
			return nil, err
		}
		addr := remoteOf(c.RemoteAddr().String())
		if g.admit(addr, time.Now()) {
			return &guest{Conn: c, leave: func() { g.leave(addr) }}, nil
		}
		_ = c.Close() // nothing was said yet
	}
}

func (g *gatekeeper) admit(addr netip.Addr, now time.Time) bool {
	g.mu.Lock()
	defer g.mu.Unlock()
	if len(g.from) > mostAtAll {
		for a, c := range g.from {
			if c.open == 0 && now.Sub(c.at) > newAtOnce/newASecond*time.Second {
				delete(g.from, a)
			}
		}
	}
	c := g.from[addr]
	if c == nil {
		c = &caller{left: newAtOnce, at: now}
		g.from[addr] = c
	}
	c.left = min(newAtOnce, c.left+now.Sub(c.at).Seconds()*newASecond)
	c.at = now
	if c.left < 1 || c.open >= mostFromOne || g.all >= mostAtAll && !addr.IsLoopback() {
		return false
	}
	c.left--
	c.open++
	g.all++
	return true
}

func (g *gatekeeper) leave(addr netip.Addr) {
	g.mu.Lock()
	defer g.mu.Unlock()
	g.from[addr].open--
	g.all--
}

// guest is a connection that is counted until it is closed.
type guest struct {
	net.Conn
	once  sync.Once
	leave func()
}

// Close implements net.Conn.
func (c *guest) Close() error {
	c.once.Do(c.leave)
	return c.Conn.Close()
}
