package web

import (
	"bytes"
	"net"
	"net/http"
	"net/netip"
	"runtime"
	"sync"
	"time"
)

// crowd keeps those who are not signed in from taking the laptop's time from those who are: few of their pages are made at
// once, and each address gets only so many a second. Who is signed in is never held up here.
type crowd struct {
	lanes chan struct{}
	pages pace
	loads pace
}

// pace is how many requests a second each address gets.
type pace struct {
	perSecond, burst float64

	mu   sync.Mutex
	left map[string]*allowance
}

type allowance struct {
	left float64
	at   time.Time
}

const (
	mostAddresses = 4096            // that are remembered at once
	laneWait      = 5 * time.Second // for a page to be made at all
	slowReader    = 20 * time.Second
)

// A page with its first load of styles, scripts and fonts is about 20 files; ten stations may stand behind one address.
func newCrowd() *crowd {
	return &crowd{
		lanes: make(chan struct{}, max(1, runtime.GOMAXPROCS(0)/2)),
		pages: pace{perSecond: 40, burst: 240, left: map[string]*allowance{}},
		loads: pace{perSecond: 200, burst: 1000, left: map[string]*allowance{}},
	}
}

// take uses up one request of an address; false when it has none left.
func (p *pace) take(addr string, now time.Time) bool {
	p.mu.Lock()
	defer p.mu.Unlock()
	a := p.left[addr]
	if a == nil {
		if len(p.left) >= mostAddresses {
			for key, x := range p.left { // whoever has been quiet loses nothing
				if now.Sub(x.at).Seconds()*p.perSecond >= p.burst {
					delete(p.left, key)
				}
			}
			if len(p.left) >= mostAddresses {
				return false
			}
		}
		a = &allowance{left: p.burst, at: now}
		p.left[addr] = a
	}
	a.left = min(p.burst, a.left+now.Sub(a.at).Seconds()*p.perSecond)
	a.at = now
	if a.left < 1 {
		return false
	}
	a.left--
	return true
}

// admits reports whether the address that asks has a request left.
func (c *crowd) admits(r *http.Request) bool { return c.pages.take(remote(r).String(), time.Now()) }

// enter waits for a lane in which to make a page. The page is held until leave, which sends it: a slow reader must not
// keep a lane, as a slow writer does not, whose form is read before.
func (c *crowd) enter(x *Context) (leave func(), ok bool) {
	late := time.NewTimer(laneWait)
	defer late.Stop()
	select {
	case c.lanes <- struct{}{}:
	case <-late.C:
		return nil, false
	case <-x.R.Context().Done():
		return nil, false
	}
	page := &heldPage{ResponseWriter: x.W, status: http.StatusOK}
	x.W = page
	return func() {
		<-c.lanes
		page.send()
	}, true
}

// heldPage is an answer that is kept until it is whole.
type heldPage struct {
	http.ResponseWriter
	status int
	body   bytes.Buffer
}

func (h *heldPage) WriteHeader(status int)      { h.status = status }
func (h *heldPage) Write(b []byte) (int, error) { return h.body.Write(b) }

func (h *heldPage) send() {
	_ = http.NewResponseController(h.ResponseWriter).SetWriteDeadline(time.Now().Add(slowReader)) // not every writer can
	h.ResponseWriter.WriteHeader(h.status)
	_, _ = h.ResponseWriter.Write(h.body.Bytes()) // whoever went away misses it
}

// files paces styles, scripts and fonts.
func (c *crowd) files(h http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if !c.loads.take(remote(r).String(), time.Now()) {
			tooMany(w)
			return
		}
		h.ServeHTTP(w, r)
	})
}

func tooMany(w http.ResponseWriter) {
	w.Header().Set("Retry-After", "2")
	http.Error(w, "Too many requests came from this device. Wait a few seconds and load the page again.", http.StatusTooManyRequests)
}

// remote is the address that asks, as the connection says; what a header claims is not looked at. A browser on this laptop
// that opens the laptop's own number comes from that number.
func remote(r *http.Request) netip.Addr {
	at, err := netip.ParseAddrPort(r.RemoteAddr)
	if err != nil {
		return netip.Addr{}
	}
	addr := at.Addr().Unmap().WithZone("")
	if here, ok := r.Context().Value(http.LocalAddrContextKey).(net.Addr); ok {
		if own, err := netip.ParseAddrPort(here.String()); err == nil && own.Addr().Unmap().WithZone("") == addr {
			return netip.AddrFrom4([4]byte{127, 0, 0, 1})
		}
	}
	return addr
}
