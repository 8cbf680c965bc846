// Package boot puts the program together: it is the only package that knows every other. The command line and the tests
// start the same parts here, so that what is tested is what runs.
package boot

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"net/netip"
	"os"
	"path/filepath"
	"sync"
	"sync/atomic"
	"time"
	_ "time/tzdata" // a laptop may have no time zones of its own

	"fairstick/internal/cli"
	"fairstick/internal/demo"
	"fairstick/internal/fault"
	"fairstick/internal/programme"
	"fairstick/internal/store"
	"fairstick/internal/web"
)

// DataDir is the platform's usual place for the data of this program.
func DataDir() (string, error) {
	if d := os.Getenv("FAIRSTICK_DATA"); d != "" {
		return d, nil
	}
	base, err := os.UserConfigDir()
	if err != nil {
		return "", fault.New(fault.Unusable, "no-home", "This system names no folder for the data of programs.", "", "Name one with --data.").Because(err)
	}
	return filepath.Join(base, "fairstick"), nil
}

// Node is an opened logbook with the programme at work on it.
type Node struct {
	Programme *programme.Programme
	Store     *store.Store
}

// Close ends the work in order.
func (n *Node) Close() error {
	n.Programme.StopCopy()
	return n.Store.Close()
}

// Mode is how a data folder is opened.
type Mode int

// The modes of opening.
const (
	ReadWrite      Mode = iota
	ReadOnly            // may look while another process writes
	Create              // make a new, empty one
	CreateFleeting      // make a new, empty one that is thrown away in the end
)

// Open opens a data folder that needs no passphrase.
func Open(ctx context.Context, dir string, mode Mode, log *slog.Logger) (*Node, error) {
	return openWith(ctx, cli.Folder{Dir: dir}, mode, newSteady(), log)
}

// clock is what a record goes by.
type clock interface{ Now() time.Time }

func openWith(ctx context.Context, at cli.Folder, mode Mode, c clock, log *slog.Logger) (*Node, error) {
	o := options(at, log)
	o.Now, o.ReadOnly = c.Now, mode == ReadOnly
	open := store.Open
	if mode == Create || mode == CreateFleeting {
		o.Fleeting, open = mode == CreateFleeting, store.Create
	}
	s, err := open(ctx, o)
	if err != nil {
		return nil, err
	}
	n := &Node{Programme: programme.New(s, c.Now, log), Store: s}
	if piece, ok := c.(programme.Timepiece); ok {
		if err := n.Programme.GoBy(ctx, piece); err != nil {
			return nil, errors.Join(err, n.Close())
		}
	}
	if s.Remade() {
		if at.Slow != nil {
			at.Slow("What came of the closed events is counted once, so that reports and lists need not.")
		}
		if err := n.Programme.CountAhead(ctx); err != nil {
			log.Warn("the closed events were not counted ahead", "error", err) // the pages count them when they are asked
		}
	}
	return n, nil
}

func options(at cli.Folder, log *slog.Logger) store.Options {
	return store.Options{Dir: at.Dir, Catalogue: programme.Catalogue(), Now: time.Now, Log: log, Passphrase: at.Passphrase, Slow: at.Slow}
}

// Listen is where the pages are served.
type Listen struct {
	Addr string // "127.0.0.1:8420"; port 0 takes a free one
	LAN  bool   // also serve phones on the local network, over TLS

	Public bool // a public address is allowed too
}

// Running is a server at work.
type Running struct {
	URL         string // address for the browser on this laptop
	Fingerprint string // SHA-256 of the certificate when served over TLS
	Done        <-chan error
	stop        func(context.Context) error
}

// Stop ends the server in order.
func (r *Running) Stop(ctx context.Context) error { return r.stop(ctx) }

// Serve serves the pages of a node until Stop.
func Serve(n *Node, dir string, l Listen, version string, log *slog.Logger) (*Running, error) {
	f, err := listen(dir, l)
	if err != nil {
		return nil, err
	}
	pages := web.New(web.Options{Programme: n.Programme, Log: log, Secure: l.LAN, Network: f.network, Version: version, Sandbox: practiceRecord(log)})
	return f.serve(pages, pages.Close, log), nil
}

// front is an address that is taken, with the certificate for it when it is served over TLS.
type front struct {
	Listen
	ln      net.Listener
	own     *ownHosts
	tls     *tls.Config
	network *web.Network
}

// listen takes the address.
func listen(dir string, l Listen) (*front, error) {
	if err := allowed(l); err != nil {
		return nil, err
	}
	var lc net.ListenConfig
	ln, err := lc.Listen(context.Background(), "tcp", l.Addr)
	if err != nil {
		return nil, fault.New(fault.Unusable, "address-taken", "The address "+l.Addr+" cannot be used.",
			"Another program, perhaps another Fairstick, may be using it.", "Stop that one, or choose another address with --addr.").Because(err)
	}
	f := &front{Listen: l, ln: ln, own: newOwnHosts(l.Public)}
	if !l.LAN {
		return f, nil
	}
	cert, print, err := certificate(dir)
	if err != nil {
		return nil, errors.Join(err, ln.Close())
	}
	f.tls = tlsConfig(cert)
	f.network = &web.Network{Fingerprint: print, Addresses: f.addresses}
	return f, nil
}

// addresses are those that phones may open, the most likely first.
func (f *front) addresses() []string {
	at := remoteOf(f.ln.Addr().String())
	_, port, _ := net.SplitHostPort(f.ln.Addr().String()) // the system's own address always has one
	own := forPhones(f.own.addresses())
	var out []string
	for _, a := range own {
		if at.IsUnspecified() && (a.Is4() || at.Is6()) || a == at {
			out = append(out, "https://"+net.JoinHostPort(a.String(), port))
		}
	}
	return out
}

// serve serves the pages at the front until Stop.
func (f *front) serve(h http.Handler, closePages func(), log *slog.Logger) *Running {
	srv := &http.Server{
		Handler:           &door{pages: h, public: f.Public, own: f.own},
		ReadHeaderTimeout: 5 * time.Second, ReadTimeout: 30 * time.Second, IdleTimeout: 2 * time.Minute,
		MaxHeaderBytes: 32 << 10, ErrorLog: slog.NewLogLogger(log.Handler(), slog.LevelDebug),
		HTTP2: &http.HTTP2Config{MaxConcurrentStreams: 64},
	}
	ln := net.Listener(newGatekeeper(f.ln))
	r := &Running{URL: "http://" + f.ln.Addr().String()}
	if f.tls != nil {
		srv.TLSConfig = f.tls
		r.URL, r.Fingerprint = "https://"+f.ln.Addr().String(), f.network.Fingerprint
		if list := f.addresses(); len(list) > 0 {
			r.URL = list[0]
		}
	}
	done := make(chan error, 1)
	go func() {
		var err error
		if f.tls != nil {
			err = srv.ServeTLS(ln, "", "")
		} else {
			err = srv.Serve(ln)
		}
		if errors.Is(err, http.ErrServerClosed) {
			err = nil
		}
		done <- err
	}()
	r.Done = done
	r.stop = func(ctx context.Context) error {
		closePages()
		err := srv.Shutdown(ctx)
		if err != nil {
			err = errors.Join(err, srv.Close())
		}
		return err
	}
	return r
}

// allowed refuses to serve in the clear beyond this laptop.
func allowed(l Listen) error {
	host, _, err := net.SplitHostPort(l.Addr)
	if err != nil {
		return fault.New(fault.Invalid, "address", fmt.Sprintf("%q is not an address.", l.Addr), "", "Write it like 127.0.0.1:8420.")
	}
	ip := net.ParseIP(host)
	if at, err := netip.ParseAddr(host); err == nil && publicAddr(at.Unmap()) && !l.Public {
		return fault.New(fault.Refused, "public-address", "The address "+l.Addr+" is a public one.", "Anybody on the internet could try to get in.",
			"Choose an address of the local network, or add --allow-public if you mean it.")
	}
	if l.LAN || host == "localhost" || ip != nil && ip.IsLoopback() {
		return nil
	}
	return fault.New(fault.Refused, "clear-network", "The address "+l.Addr+" can be reached from other devices.",
		"Without encryption anybody on the network could read PINs and names.", "Add --lan to serve it encrypted.")
}

// swap is a handler that can be replaced while it serves.
type swap struct{ p atomic.Pointer[web.Server] }

func (s *swap) ServeHTTP(w http.ResponseWriter, r *http.Request) { s.p.Load().ServeHTTP(w, r) }

// Demo makes the invented day with the season before it in a folder, replacing an earlier invented day, and serves it.
func Demo(ctx context.Context, dir string, l Listen, version string, log *slog.Logger) (*Running, error) {
	d := &demoDay{dir: dir, version: version, log: log, pages: &swap{}}
	if err := d.begin(ctx); err != nil {
		return nil, err
	}
	f, err := listen(dir, l)
	if err != nil {
		d.end()
		return nil, err
	}
	return f.serve(d.pages, d.end, log), nil
}

// demoDay is the invented day with what it takes to begin it again.
type demoDay struct {
	dir, version string
	log          *slog.Logger
	pages        *swap
	node         *Node
	class        sync.WaitGroup // while the invented class is being recorded
}

func (d *demoDay) begin(ctx context.Context) error {
	if err := demo.Clear(d.dir); err != nil {
		return err
	}
	clock := demo.NewClock(demo.Begins())
	n, err := openWith(ctx, cli.Folder{Dir: d.dir}, CreateFleeting, clock, d.log)
	if err != nil {
		return err
	}
	if err := demo.Mark(d.dir); err != nil {
		return errors.Join(err, n.Close())
	}
	people, err := demo.MakeSeason(ctx, n.Programme, clock)
	if err != nil {
		return errors.Join(err, n.Close())
	}
	clock.Run()
	d.class.Go(func() { // nobody waits for the class: it joins while the first page is read
		if err := demo.Class(ctx, n.Programme, clock); err != nil && ctx.Err() == nil {
			d.log.Error("the invented class is not complete", "err", err)
		}
	})
	o := web.Options{Programme: n.Programme, Log: d.log, Version: d.version, Sandbox: practiceRecord(d.log), Demo: &web.Demo{Reset: d.again}}
	for _, p := range append(people, demo.ClassHints()...) {
		o.Demo.Hints = append(o.Demo.Hints, web.Hint{Name: p.Name, Role: p.Role, PIN: p.PIN})
	}
	d.node = n
	d.pages.p.Store(web.New(o))
	return nil
}

// again ends the day as it stands and begins it anew.
func (d *demoDay) again(ctx context.Context) error {
	old, node := d.pages.p.Load(), d.node
	old.Close()
	d.class.Wait()
	if err := node.Close(); err != nil {
		return err
	}
	return d.begin(context.WithoutCancel(ctx))
}

func (d *demoDay) end() {
	d.pages.p.Load().Close()
	d.class.Wait()
	if err := d.node.Close(); err != nil {
		d.log.Error("demo day not closed", "err", err)
	}
}
