package boot

import (
	"context"
	"errors"
	"io"
	"log/slog"
	"net/http"
	"sync"
	"sync/atomic"
	"time"

	"fairstick/internal/cli"
	"fairstick/internal/fault"
	"fairstick/internal/programme"
	"fairstick/internal/store"
	"fairstick/internal/web"
)

// rooms is a handler that can be replaced while it serves. A room that was left is empty once its last request is answered.
type rooms struct{ now atomic.Pointer[room] }

type room struct {
	pages http.Handler

	mu    sync.Mutex
	in    int
	shut  bool
	empty chan struct{}
}

func (s *rooms) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	for {
		here := s.now.Load()
		if here.enter() {
			defer here.leave()
			here.pages.ServeHTTP(w, r)
			return
		}
	}
}

// move sends every request from now on to other pages and gives the room that was left; nil at first.
func (s *rooms) move(pages http.Handler) *room {
	return s.now.Swap(&room{pages: pages, empty: make(chan struct{})})
}

func (r *room) enter() bool {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.shut {
		return false
	}
	r.in++
	return true
}

func (r *room) leave() {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.in--
	if r.shut && r.in == 0 {
		close(r.empty)
	}
}

// drain waits until nobody is in a room that was left, or for a while.
func (r *room) drain(wait time.Duration) {
	r.mu.Lock()
	r.shut = true
	if r.in == 0 {
		r.mu.Unlock()
		return
	}
	r.mu.Unlock()
	select {
	case <-r.empty:
	case <-time.After(wait):
	}
}

const (
	drainFor  = 10 * time.Second // how long a lock waits for requests at work
	lookEvery = 10 * time.Second // how often it is seen whether the record should lock itself
)

// house serves one data folder: its pages while the record is open, and the page that asks for the passphrase while not.
type house struct {
	at      cli.Folder
	address cli.Address
	version string
	log     *slog.Logger
	network *web.Network
	door    *rooms
	life    context.Context // ends when the house does

	mu     sync.Mutex // held while the record opens or closes
	node   *Node      // nil while it is locked
	pages  *web.Server
	ended  bool
	failed atomic.Pointer[fault.Fault]
	doing  atomic.Pointer[string] // what an opening that takes long does just now; nil when there is none
}

// serveHouse serves a data folder until the context ends. A record whose passphrase nobody gives is served locked.
func serveHouse(ctx context.Context, at cli.Folder, a cli.Address, version string, log *slog.Logger, ready cli.Ready) (err error) {
	h := &house{at: at, address: a, version: version, log: log, door: &rooms{}, life: ctx}
	n, err := openWith(ctx, at, ReadWrite, newSteady(), log)
	if err != nil && !programme.IsLocked(err) {
		return err
	}
	f, err := listen(at.Dir, listenAt(a))
	if err != nil {
		if n != nil {
			err = errors.Join(err, n.Close())
		}
		return err
	}
	h.network = f.network
	h.mu.Lock()
	if n == nil {
		h.door.move(h.lockedPages())
	} else if err := h.moveIn(ctx, n); err != nil {
		h.mu.Unlock()
		return errors.Join(err, n.Close(), f.ln.Close())
	}
	h.mu.Unlock()
	r := f.serve(h.door, h.endPages, log)
	look, stop := context.WithCancel(ctx)
	defer stop()
	go h.watch(look)
	defer func() { err = errors.Join(err, h.end()) }()
	return r.until(ctx, func(url, print string) { ready(url, print, n == nil) })
}

// moveIn serves the pages of an open record. The lock is held.
func (h *house) moveIn(ctx context.Context, n *Node) error {
	copying := n.Programme.ResumeCopy
	if h.address.Copy != "" {
		copying = func(ctx context.Context) error {
			return n.Programme.SetCopy(ctx, programme.Actor{}, h.address.Copy, false)
		}
	}
	if err := copying(ctx); err != nil {
		return err
	}
	n.Programme.Move(&programme.House{Lock: h.lock, Encrypt: h.encrypt, Failed: h.failed.Load})
	h.node = n
	h.pages = web.New(web.Options{Programme: n.Programme, Log: h.log, Secure: h.address.LAN, Network: h.network, Version: h.version, Sandbox: practiceRecord(h.log)})
	h.door.move(h.pages)
	return nil
}

func (h *house) lockedPages() http.Handler {
	return web.NewLocked(web.LockedOptions{Log: h.log, Unlock: h.unlock, Doing: func() string {
		if said := h.doing.Load(); said != nil {
			return *said
		}
		return ""
	}})
}

// unlock opens the record with a passphrase.
func (h *house) unlock(ctx context.Context, passphrase []byte) error {
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.ended || h.node != nil {
		return nil // somebody else was first: the pages say the rest
	}
	at := h.at
	at.Passphrase = func() ([]byte, error) { return passphrase, nil }
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	defer context.AfterFunc(h.life, stop)() // Ctrl-C ends an opening too
	at.Slow = func(sentence string) {
		h.doing.Store(&sentence)
		if h.at.Slow != nil {
			h.at.Slow(sentence)
		}
	}
	defer h.doing.Store(nil)
	n, err := openWith(ctx, at, ReadWrite, newSteady(), h.log)
	if err != nil {
		return err
	}
	if err := h.moveIn(context.WithoutCancel(ctx), n); err != nil {
		return errors.Join(err, n.Close())
	}
	h.log.Info("the record was unlocked")
	return nil
}

// lock sends everybody to the locked page at once, and closes the record when the requests at work are answered. It may be
// called by one of them.
func (h *house) lock() { h.leave(h.lockedPages(), func(*Node) {}) }

// encrypt gives the record its first passphrase, and opens it again.
func (h *house) encrypt(passphrase []byte) {
	h.failed.Store(nil)
	h.leave(web.NewBusy(h.log), func(old *Node) {
		at := h.at
		err := old.Store.Encrypt(context.Background(), passphrase)
		if e := old.Close(); err == nil {
			err = e
		}
		if err != nil {
			h.log.Error("the record was not encrypted", "error", err)
			h.failed.Store(fault.Of(err))
		} else {
			at.Passphrase = func() ([]byte, error) { return passphrase, nil }
		}
		n, err := openWith(context.Background(), at, ReadWrite, newSteady(), h.log)
		if err == nil {
			err = h.moveIn(context.Background(), n)
		}
		if err != nil {
			h.log.Error("the record did not open again", "error", err)
			h.door.move(h.lockedPages())
		}
	})
}

// leave moves everybody to other pages, waits for the requests at work, runs what is to be done with the record alone, and
// closes it.
func (h *house) leave(to http.Handler, then func(*Node)) {
	h.mu.Lock()
	if h.node == nil || h.ended {
		h.mu.Unlock()
		return
	}
	node, pages := h.node, h.pages
	h.node, h.pages = nil, nil
	left := h.door.move(to)
	pages.Close() // ends the live streams
	go func() {
		defer h.mu.Unlock()
		left.drain(drainFor)
		node.Programme.StopCopy()
		then(node)
		if err := node.Close(); err != nil {
			h.log.Error("the record was not closed in order", "error", err)
		}
	}()
}

// watch looks at the clock, and locks the record when it is due.
func (h *house) watch(ctx context.Context) {
	tick := time.NewTicker(lookEvery)
	defer tick.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
		h.mu.Lock()
		node := h.node
		h.mu.Unlock()
		if node == nil {
			continue
		}
		if err := node.Programme.SettleClock(ctx); err != nil {
			h.log.Debug("the clock was not looked at", "error", err)
		}
		due, err := node.Programme.LockIsDue(ctx)
		if err != nil {
			h.log.Debug("it is not known whether the record should lock", "error", err)
			continue
		}
		if due {
			h.log.Info("nobody used the record for a while: it is locked")
			h.lock()
		}
	}
}

func (h *house) endPages() {
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.pages != nil {
		h.pages.Close()
	}
}

func (h *house) end() error {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.ended = true
	if h.node == nil {
		return nil
	}
	n := h.node
	h.node = nil
	return n.Close()
}

func restore(ctx context.Context, at cli.Folder, file string, log *slog.Logger) (*programme.Programme, programme.Manifest, io.Closer, error) {
	o := options(at, log)
	s, m, err := store.Restore(ctx, o, file)
	if err != nil {
		return nil, m, nil, err
	}
	n := &Node{Programme: programme.New(s, o.Now, log), Store: s}
	return n.Programme, m, n, nil
}

func verifyBackup(ctx context.Context, at cli.Folder, file string, log *slog.Logger) (programme.Backup, error) {
	return store.VerifyBackup(ctx, options(at, log), file)
}
