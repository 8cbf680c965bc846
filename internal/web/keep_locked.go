package web

import (
	"bytes"
	"cmp"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"net/netip"
	"strings"
	"sync"
	"time"

	"fairstick/internal/fault"
	"fairstick/internal/programme"
	"fairstick/internal/web/static"
	"fairstick/internal/web/ui"
)

// LockedOptions are what the page of a locked record needs.
type LockedOptions struct {
	Log *slog.Logger
	// Unlock opens the record with a passphrase; afterwards other pages stand at this address.
	Unlock func(ctx context.Context, passphrase []byte) error
	Now    func() time.Time // nil means time.Now
	// Doing says what an opening that takes long does just now; empty while there is nothing to say. nil says nothing.
	Doing func() string
	Look  func() <-chan time.Time // is ready when it is time to ask that again; nil means five times a second
}

// lockedView is the page of a record that is locked, or at work on itself.
type lockedView struct {
	Page  ui.Page
	Fault *fault.Fault
	Here  bool // on the laptop itself: the passphrase may be typed
	To    string
}

type locked struct {
	opt   LockedOptions
	guard *http.CrossOriginProtection

	mu    sync.Mutex
	busy  bool
	wrong int
	until time.Time

	slow   bool         // the page that asked has gone on without an answer
	failed *fault.Fault // what came of such an opening
}

// A passphrase is long, so few tries are enough for somebody who knows it.
const (
	freePassphrases     = 3
	firstPassphraseWait = 5 * time.Second
	maxPassphraseWait   = 5 * time.Minute
)

// NewLocked answers for a record that is locked: the laptop itself is asked for the passphrase, every other device is told
// whom to ask. Nothing but styles is served besides.
func NewLocked(o LockedOptions) http.Handler {
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Doing == nil {
		o.Doing = func() string { return "" }
	}
	if o.Look == nil {
		o.Look = func() <-chan time.Time { return time.After(200 * time.Millisecond) }
	}
	return &locked{opt: o, guard: http.NewCrossOriginProtection()}
}

// NewBusy answers while the record is being encrypted; the page looks again by itself.
func NewBusy(log *slog.Logger) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		secureHeaders(w, r)
		if serveStatic(w, r) {
			return
		}
		w.Header().Set("Refresh", "2")
		sendLocked(w, r, log, http.StatusServiceUnavailable, lockedView{Page: ui.Page{
			Title: "One moment", Lead: "The record is being encrypted. This page comes back by itself; what you typed elsewhere is kept on your device.",
		}})
	})
}

func secureHeaders(w http.ResponseWriter, r *http.Request) {
	h := w.Header()
	h.Set("Content-Security-Policy", csp)
	h.Set("X-Content-Type-Options", "nosniff")
	h.Set("X-Frame-Options", "DENY")
	h.Set("Referrer-Policy", "same-origin")
	if !strings.HasPrefix(r.URL.Path, static.Prefix) {
		h.Set("Cache-Control", "no-store")
	}
}

// serveStatic serves styles. A form on another device asks with HEAD whether the record answers: it does not.
func serveStatic(w http.ResponseWriter, r *http.Request) bool {
	if !strings.HasPrefix(r.URL.Path, static.Prefix) || r.Method != http.MethodGet && r.Method != http.MethodHead {
		return false
	}
	if r.Method == http.MethodHead {
		w.Header().Set("Retry-After", "10")
		w.WriteHeader(http.StatusServiceUnavailable)
		return true
	}
	static.Handler().ServeHTTP(w, r)
	return true
}

// ServeHTTP implements http.Handler.
func (l *locked) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	secureHeaders(w, r)
	if serveStatic(w, r) {
		return
	}
	v := lockedView{Here: onLaptop(r), To: "/"}
	if r.Method == http.MethodGet {
		v.To = localPath(r.URL.RequestURI())
	}
	code, opening := http.StatusServiceUnavailable, l.opening()
	if v.Here && r.Method == http.MethodPost && r.URL.Path == "/unlock" && !opening {
		r.Body = http.MaxBytesReader(w, r.Body, 8<<10)
		err := l.guard.Check(r)
		if err == nil {
			err = r.ParseForm()
		}
		if err != nil {
			v.Fault = fault.New(fault.Denied, "foreign-form", "This form was sent from another site.", "It could have been made to deceive you.", "Load this page again and type the passphrase here.").Because(err)
		} else {
			v.To = localPath(r.PostFormValue("to"))
			v.Fault, opening = l.begin(r.Context(), []byte(r.PostFormValue("passphrase")))
		}
		if v.Fault == nil && !opening {
			http.Redirect(w, r, v.To, http.StatusSeeOther)
			return
		}
		if v.Fault != nil {
			code = status(v.Fault)
		}
	}
	switch {
	case opening:
		v.Here = false
		v.Page = ui.Page{Title: "The record is being opened", Lead: cmp.Or(l.opt.Doing(), "Fairstick opens the record.") + " This page comes back by itself; what you typed elsewhere is kept on your device."}
		w.Header().Set("Refresh", "2; url="+v.To)
	case v.Here:
		if v.Fault == nil {
			v.Fault = l.late()
		}
		v.Page = ui.Page{Title: "The record is locked", Lead: "Type the passphrase of the record. Then everybody goes on where they were."}
	default:
		v.Page = ui.Page{Title: "The record is locked", Lead: "Ask the lead to unlock the laptop. What you typed is kept on this device."}
	}
	w.Header().Set("Retry-After", "10")
	sendLocked(w, r, l.opt.Log, code, v)
}

// opening reports whether the record is being opened, and that takes a while.
func (l *locked) opening() bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.slow
}

// late gives once what an opening that took a while ended with, when it failed.
func (l *locked) late() *fault.Fault {
	l.mu.Lock()
	defer l.mu.Unlock()
	f := l.failed
	l.failed = nil
	return f
}

// begin tries a passphrase; opening says that the record is at work on itself for longer than somebody waits for a page, and that the
// answer comes by itself.
func (l *locked) begin(ctx context.Context, passphrase []byte) (f *fault.Fault, opening bool) {
	done := make(chan *fault.Fault, 1)
	go func() {
		f := fault.Of(l.unlock(context.WithoutCancel(ctx), passphrase))
		l.mu.Lock()
		defer l.mu.Unlock()
		if l.slow {
			l.slow, l.failed = false, f
		}
		done <- f
	}()
	for l.opt.Doing() == "" {
		select {
		case f := <-done:
			return f, false
		case <-l.opt.Look():
		}
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	select {
	case f := <-done: // just now
		return f, false
	default:
		l.slow = true
		return nil, true
	}
}

func sendLocked(w http.ResponseWriter, r *http.Request, log *slog.Logger, status int, v lockedView) {
	var buf bytes.Buffer
	if err := LockedPage(v).Render(r.Context(), &buf); err != nil {
		log.Error("the locked page failed", "err", err)
		http.Error(w, v.Page.Title, status)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.WriteHeader(status)
	if _, err := w.Write(buf.Bytes()); err != nil {
		log.Debug("page not sent", "err", err)
	}
}

// onLaptop reports whether a request comes from the laptop itself.
func onLaptop(r *http.Request) bool {
	from, err := netip.ParseAddrPort(r.RemoteAddr)
	if err != nil {
		return false
	}
	addr := from.Addr().Unmap()
	if addr.IsLoopback() {
		return true
	}
	local, ok := r.Context().Value(http.LocalAddrContextKey).(net.Addr)
	if !ok {
		return false
	}
	at, err := netip.ParseAddrPort(local.String())
	return err == nil && at.Addr().Unmap() == addr
}

// unlock tries one passphrase at a time; after a few wrong ones each further one costs a wait that doubles.
func (l *locked) unlock(ctx context.Context, passphrase []byte) error {
	l.mu.Lock()
	now := l.opt.Now()
	if wait := l.until.Sub(now); wait > 0 || l.busy {
		l.mu.Unlock()
		return fault.New(fault.Busy, "passphrase-wait", fmt.Sprintf("Too many wrong passphrases; wait %d seconds.", max(1, int(wait.Seconds()+1))),
			"This keeps a stranger from guessing.", "Wait, then type it carefully.").Field("passphrase", "Wait before you try again.")
	}
	if len(passphrase) == 0 {
		l.mu.Unlock()
		return fault.BadField("passphrase", "Type the passphrase.")
	}
	l.busy = true
	l.mu.Unlock()
	err := l.opt.Unlock(ctx, passphrase)
	l.mu.Lock()
	defer l.mu.Unlock()
	l.busy = false
	var f *fault.Fault
	if err != nil && !errors.As(err, &f) {
		l.opt.Log.Error("the record did not open", "err", err)
	}
	if programme.IsWrongPassphrase(err) {
		l.wrong++
		if over := l.wrong - freePassphrases; over >= 0 {
			wait := maxPassphraseWait
			if over < 6 {
				wait = min(wait, firstPassphraseWait<<over)
			}
			l.until = l.opt.Now().Add(wait)
		}
	}
	return err
}
