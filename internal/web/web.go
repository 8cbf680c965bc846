// Package web is the pages by station. It renders what the programme answers and turns forms into commands; it decides
// nothing about screening. Every page stands in one list of routes with the roles that may ask for it.
package web

import (
	"cmp"
	"context"
	"crypto/rand"
	"encoding/base64"
	"encoding/hex"
	"errors"
	"io"
	"log/slog"
	"net/http"
	"strings"
	"time"

	"fairstick/internal/fault"
	"fairstick/internal/people"
	"fairstick/internal/programme"
	"fairstick/internal/sandbox"
	"fairstick/internal/web/static"
)

// Options are what the pages need from the composition root.
type Options struct {
	Programme *programme.Programme
	Log       *slog.Logger
	Demo      *Demo // nil for a real programme
	Secure    bool  // served over TLS: cookies are marked so
	Network   *Network
	Version   string
	Sandbox   sandbox.Opener // makes the records of practice days; nil when there are none

	practice *practice // set when the pages are those of a practice day
}

// Network is how phones reach this laptop; nil when only the laptop itself can.
type Network struct {
	Addresses   func() []string // "https://192.168.1.20:8420", the most likely first; asked anew for each page
	Fingerprint string          // SHA-256 of the certificate in groups
}

// Demo is what the pages of an invented day say beside their own work.
type Demo struct {
	Hints []Hint // who can sign in with which PIN
	// Reset begins the invented day again; it is called by the page's button.
	Reset func(context.Context) error
}

// Hint is one invented person and their PIN.
type Hint struct {
	Name, Role, PIN string
}

// Server answers requests.
type Server struct {
	prog    *programme.Programme
	log     *slog.Logger
	opt     Options
	mux     *http.ServeMux
	guard   *http.CrossOriginProtection
	boards  *boards
	crowd   *crowd
	rooms   *sandbox.Keeper // practice days; nil when there are none
	pagesOf func(*sandbox.Room) (http.Handler, func())
}

// New builds the pages.
func New(o Options) *Server {
	s := &Server{prog: o.Programme, log: o.Log, opt: o, mux: http.NewServeMux(), guard: http.NewCrossOriginProtection(), crowd: newCrowd()}
	s.boards, s.rooms, s.pagesOf = newBoards(s), newRooms(o), s.practisePages
	s.mux.Handle("GET "+static.Prefix, s.crowd.files(static.Handler()))
	for _, r := range Routes() {
		s.mux.Handle(r.Method+" "+r.Path, s.serve(r))
	}
	s.mux.HandleFunc("/", func(w http.ResponseWriter, r *http.Request) {
		c := s.context(w, r)
		c.fail(fault.New(fault.Missing, "no-page", "There is no such page.", "The address may have been typed wrongly.", "Go to the start page."))
	})
	return s
}

// Close ends the live boards and the practice days.
func (s *Server) Close() {
	s.boards.close()
	if s.rooms != nil {
		s.rooms.Close()
	}
}

// Limits on a request. A form is small; only a CSV list may be larger, and a file where a route says so.
const (
	maxForm   = 64 << 10
	maxUpload = 2 << 20
)

// csp allows nothing but what this program serves.
const csp = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; font-src 'self'; connect-src 'self'; " +
	"form-action 'self'; base-uri 'none'; frame-ancestors 'none'"

// ServeHTTP implements http.Handler.
func (s *Server) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	h := w.Header()
	h.Set("Content-Security-Policy", csp)
	h.Set("X-Content-Type-Options", "nosniff")
	h.Set("X-Frame-Options", "DENY")
	h.Set("Referrer-Policy", "same-origin")
	h.Set("Permissions-Policy", "camera=(), microphone=(), geolocation=()")
	if !strings.HasPrefix(r.URL.Path, static.Prefix) {
		h.Set("Cache-Control", "no-store")
	}
	if err := s.guard.Check(r); err != nil {
		s.context(w, r).fail(fault.New(fault.Denied, "foreign-form", "This form was sent from another site.",
			"It could have been made to deceive you.", "Open Fairstick itself and do it there."))
		return
	}
	s.mux.ServeHTTP(w, r)
}

// mostDrained is how much of a file that is too large is read and thrown away.
const mostDrained = 64 << 20

// drain reads what somebody who may send a file still sends, so that their browser shows the page that says why it was refused and
// not a connection that was cut. The server's time for reading ends it.
func drain(rest io.Reader) {
	_, _ = io.Copy(io.Discard, io.LimitReader(rest, mostDrained)) // nothing of it is wanted
}

// serve wraps a route: signs in, checks the role, bounds the body, turns an error into a page.
func (s *Server) serve(rt Route) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		defer func() {
			if v := recover(); v != nil {
				if err, ok := v.(error); ok && errors.Is(err, http.ErrAbortHandler) {
					panic(v)
				}
				s.log.Error("page panicked", "path", rt.Path, "what", v)
				s.context(w, r).fail(fault.New(fault.Internal, "internal", "Something went wrong inside Fairstick.",
					"What you typed may not have been recorded.", "Load the page again and look before you repeat it."))
			}
		}()
		limit := int64(maxForm)
		if rt.Upload {
			limit = cmp.Or(rt.Most, maxUpload)
		}
		sent := r.Body
		r.Body = http.MaxBytesReader(w, sent, limit)
		c := s.context(w, r)
		refused := c.identify(rt)
		if c.Me == nil && !s.crowd.admits(r) {
			tooMany(w)
			return
		}
		if refused == nil && r.Method == http.MethodPost {
			refused = c.parse(rt.Upload, limit)
			if rt.Upload && fault.Is(refused, "too-large") {
				drain(sent)
			}
		}
		if c.Me == nil {
			leave, ok := s.crowd.enter(c)
			if !ok {
				tooMany(w)
				return
			}
			defer leave()
		}
		if refused != nil {
			c.fail(refused)
			return
		}
		if err := rt.Handle(s, c); err != nil {
			c.fail(err)
		}
	})
}

const (
	sessionCookie = "fairstick_session"
	deviceCookie  = "fairstick_device"
	noteCookie    = "fairstick_note"
)

// cookieName begins with __Host- under TLS: a browser then takes the cookie from this address alone. A practice day has cookies of its own, under its own
// address.
func (s *Server) cookieName(name string) string {
	if s.opt.practice != nil {
		return "practice_" + name
	}
	if s.opt.Secure {
		return "__Host-" + name
	}
	return name
}

// cookie is one cookie of ours. A session never comes along from another site. The device's own name does, since a device
// that is not recognised would be given another one and lose its station.
func (s *Server) cookie(name, value string, age time.Duration) *http.Cookie {
	c := &http.Cookie{
		Name: s.cookieName(name), Value: value, Path: "/", HttpOnly: true, SameSite: http.SameSiteStrictMode, Secure: s.opt.Secure, MaxAge: int(age / time.Second),
	}
	if name == deviceCookie {
		c.SameSite = http.SameSiteLaxMode
	}
	if age < 0 {
		c.MaxAge = -1
	}
	if p := s.opt.practice; p != nil {
		c.Path = roomPrefix(p.room.ID) + "/"
	}
	return c
}

// carried is the value of one of our cookies; empty when it was not sent.
func (c *Context) carried(name string) string {
	k, err := c.R.Cookie(c.s.cookieName(name))
	if err != nil {
		return ""
	}
	return k.Value
}

// watches reports whether a route is a stream that a page holds open: it is no sign of a person at the device.
func (rt Route) watches() bool { return strings.HasSuffix(rt.Path, "/live") }

// identify finds the device and the person, and refuses a route that the person may not use.
func (c *Context) identify(rt Route) error {
	if c.s.opt.practice != nil {
		return c.rehearses(rt)
	}
	c.DeviceID = c.carried(deviceCookie)
	if !validDevice(c.DeviceID) {
		raw := make([]byte, 16)
		rand.Read(raw) // never fails, by its contract
		c.DeviceID = hex.EncodeToString(raw)
		http.SetCookie(c.W, c.s.cookie(deviceCookie, c.DeviceID, 400*24*time.Hour))
	}
	c.R = c.R.WithContext(programme.WithOrigin(c.R.Context(), programme.Origin{Device: c.DeviceID, Addr: remote(c.R)}))
	ask := c.s.prog.Who
	if rt.watches() {
		ask = c.s.prog.Watcher
	}
	me, err := ask(c.R.Context(), c.DeviceID, c.carried(sessionCookie))
	if err == nil {
		c.Me = me
	}
	if err != nil && !rt.Public {
		return err
	}
	dev, deviceErr := c.s.prog.Device(c.R.Context(), c.DeviceID)
	if deviceErr != nil {
		return deviceErr
	}
	c.Device = dev
	if rt.Public || len(rt.Roles) == 0 || c.holds(rt.Roles) {
		return nil
	}
	return fault.New(fault.Denied, "role", me.Details.Name+" may not open this page.", "It is for: "+roleWords(rt.Roles)+".", "Ask somebody with that role to sign in here.")
}

func roleWords(roles []people.Role) string {
	words := make([]string, len(roles))
	for i, r := range roles {
		words[i] = string(r)
	}
	return strings.Join(words, ", ")
}

func validDevice(id string) bool {
	b, err := hex.DecodeString(id)
	return err == nil && len(b) == 16
}

// note puts a short sentence on the next page.
func (c *Context) note(text string) {
	http.SetCookie(c.W, c.s.cookie(noteCookie, base64.RawURLEncoding.EncodeToString([]byte(text)), time.Minute))
}

// takeNote reads and ends the sentence that the last page left.
func (c *Context) takeNote() string {
	text := c.carried(noteCookie)
	if text == "" {
		return ""
	}
	http.SetCookie(c.W, c.s.cookie(noteCookie, "", -1))
	b, err := base64.RawURLEncoding.DecodeString(text)
	if err != nil || len(b) > 300 {
		return ""
	}
	return string(b)
}
