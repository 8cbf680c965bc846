package web

import (
	"bytes"
	"errors"
	"net/http"
	"strconv"
	"strings"
	"time"

	"github.com/a-h/templ"
	"github.com/google/uuid"

	"fairstick/internal/fault"
	"fairstick/internal/people"
	"fairstick/internal/programme"
	"fairstick/internal/web/ui"
)

// Context is one request with who asks and from which device.
type Context struct {
	W        http.ResponseWriter
	R        *http.Request
	Me       *people.State // nil when nobody is signed in
	DeviceID string
	Device   programme.Device

	s *Server
}

func (s *Server) context(w http.ResponseWriter, r *http.Request) *Context {
	return &Context{W: w, R: r, s: s}
}

// Actor is who does what the form asks for.
func (c *Context) Actor() programme.Actor {
	if c.Me == nil {
		return programme.Actor{}
	}
	return programme.Actor{Person: c.Me.ID}
}

// Act is the command's id from the form, so that a second press is harmless.
func (c *Context) Act() programme.Act { return programme.Act{ID: c.Form("command")} }

// Form gives one field of the form, trimmed.
func (c *Context) Form(name string) string { return strings.TrimSpace(c.R.PostFormValue(name)) }

// Forms gives all values of a field that may be there several times.
func (c *Context) Forms(name string) []string { return c.R.PostForm[name] }

// Int reads a whole number; a fault names the field.
func (c *Context) Int(name, label string) (int, error) {
	v := c.Form(name)
	if v == "" {
		return 0, nil
	}
	n, err := strconv.Atoi(v)
	if err != nil || len(v) > 9 {
		return 0, fault.BadField(name, "%s should be a whole number; %q was typed.", label, v)
	}
	return n, nil
}

// Sign reads a signature from the fields prefix_person and prefix_pin.
func (c *Context) Sign(prefix string) programme.Sign {
	return programme.Sign{Person: c.Form(prefix + "_person"), PIN: c.Form(prefix + "_pin")}
}

// parse reads the form within the limit of the route. A file stays in memory: nothing of it is left on a disk.
func (c *Context) parse(upload bool, limit int64) error {
	var err error
	if upload && strings.HasPrefix(c.R.Header.Get("Content-Type"), "multipart/") {
		err = c.R.ParseMultipartForm(limit)
	} else {
		err = c.R.ParseForm()
	}
	if err == nil {
		return nil
	}
	var big *http.MaxBytesError
	if errors.As(err, &big) {
		return fault.New(fault.Invalid, "too-large", "What was sent is too large.", "A form holds at most 64 kB, a list 2 MB, a file as evidence 5 MB.", "Send less at once.")
	}
	return fault.New(fault.Invalid, "form", "The form arrived damaged.", "Nothing was recorded.", "Load the page again and repeat what you did.").Because(err)
}

// Render sends a page, made whole before the first byte goes out.
func (c *Context) Render(status int, page templ.Component) error {
	var buf bytes.Buffer
	if err := page.Render(c.R.Context(), &buf); err != nil {
		return err
	}
	body := buf.Bytes()
	if p := c.s.opt.practice; p != nil {
		body = p.within(body)
	}
	c.W.Header().Set("Content-Type", "text/html; charset=utf-8")
	c.W.WriteHeader(status)
	_, err := c.W.Write(body)
	if err != nil {
		c.s.log.Debug("page not sent", "err", err)
	}
	return nil
}

// Show sends a page that answers a fault: its status is that of the fault, or 200 without one.
func (c *Context) Show(f *fault.Fault, page templ.Component) error {
	c.practised(f)
	return c.Render(status(f), page)
}

// Go redirects after a form was accepted.
func (c *Context) Go(path string) error {
	if p := c.s.opt.practice; p != nil {
		path = p.address(path)
	}
	http.Redirect(c.W, c.R, path, http.StatusSeeOther)
	return nil
}

// Done leaves a sentence for the next page and goes there.
func (c *Context) Done(path, sentence string) error {
	c.note(sentence)
	return c.Go(path)
}

func status(f *fault.Fault) int {
	if f == nil {
		return http.StatusOK
	}
	switch f.Kind {
	case fault.Invalid:
		return http.StatusUnprocessableEntity
	case fault.Refused, fault.Conflict:
		return http.StatusConflict
	case fault.Denied:
		return http.StatusForbidden
	case fault.SignIn:
		return http.StatusUnauthorized
	case fault.Missing:
		return http.StatusNotFound
	case fault.Busy:
		return http.StatusTooManyRequests
	case fault.Unusable, fault.Internal:
		return http.StatusInternalServerError
	}
	return http.StatusInternalServerError
}

// fail sends the page of a fault. Somebody who is not signed in is sent to sign in and back.
func (c *Context) fail(err error) {
	f := fault.Of(err)
	c.practised(f)
	if f.Kind == fault.SignIn && (c.R.Method == http.MethodGet || c.R.Method == http.MethodHead) {
		http.Redirect(c.W, c.R, "/sign-in?to="+escapeQuery(c.R.URL.RequestURI()), http.StatusSeeOther)
		return
	}
	if f.Key == "idle" {
		if err := c.pinAgain(f); err == nil {
			return
		}
	}
	if f.Kind == fault.Internal {
		ref := uuid.NewString()[:8]
		c.s.log.Error("request failed", "ref", ref, "method", c.R.Method, "route", c.R.Pattern, "err", errors.Unwrap(f))
		g := *f
		g.Do += " The log has it under " + ref + "."
		f = &g
	}
	if err := c.Render(status(f), FaultPage(c.page(c.say().Shell.NotPossible), c.told(f))); err != nil {
		c.s.log.Error("fault page failed", "err", err)
		http.Error(c.W, f.Sentence, status(f))
	}
}

// page is the shell of a page with who is signed in, the alerts of the day and the note of the last page.
func (c *Context) page(title string) ui.Page {
	p := ui.Page{Lang: c.lang(), Title: title, Demo: c.s.opt.Demo != nil, Switch: c.switchHere()}
	if ch, err := c.s.prog.Charter(c.R.Context()); err == nil {
		p.Programme = ch.Details.Name
	}
	if c.Me != nil {
		p.Who, p.HandOver = c.Me.Details.Name, "/hand-over"
		p.Role = c.say().roles(c.Me.Details.Roles)
	}
	if c.Device.Station != "" {
		p.Station = c.say().stationName(c.Device)
	}
	if c.Me != nil {
		p.Alerts, p.Nav = c.alerts(), c.nav()
	}
	p.Note = c.takeNote()
	if c.s.opt.practice != nil {
		c.s.opt.practice.frame(&p, c.lang())
	}
	return p
}

// nav is the few pages that this person goes between.
func (c *Context) nav() []ui.Link {
	say := c.say().Shell
	links := []ui.Link{{Href: "/", Label: say.Start}}
	if id := c.eventID(); id != "" && c.R.PathValue("event") == "" { // pages of an event name its own pages
		links = append(links, ui.Link{Href: "/events/" + id + "/board", Label: say.Board}, ui.Link{Href: "/events/" + id + "/incidents/new", Label: happenedWord(c.lang())})
	}
	if c.Me.Has(people.Lead) || c.Me.Has(people.Supervisor) {
		links = append(links, ui.Link{Href: "/events", Label: say.Events}, ui.Link{Href: "/phones", Label: say.Phones})
	}
	if c.Me.Has(people.Lead) {
		links = append(links, ui.Link{Href: "/setup", Label: say.SetUp})
	}
	for i := range links {
		links[i].Current = links[i].Href == c.R.URL.Path
	}
	return links
}

// alerts are the critical matters of the running event, on every screen.
func (c *Context) alerts() []ui.Alert {
	id := c.eventID()
	if id == "" {
		return nil
	}
	d, err := c.s.prog.Day(c.R.Context(), id)
	if err != nil {
		return nil
	}
	return c.say().alerts(d)
}

// eventID is the event that this request is about: the one in its address, else the one of the device, else the one that
// is running.
func (c *Context) eventID() string {
	if id := c.R.PathValue("event"); id != "" {
		return id
	}
	if c.Device.Event != "" {
		return c.Device.Event
	}
	ev, err := c.s.prog.Running(c.R.Context())
	if err != nil || ev == nil {
		return ""
	}
	return ev.ID
}

// Day reads the event of the address.
func (c *Context) Day() (*programme.Day, error) {
	return c.s.prog.Day(c.R.Context(), c.R.PathValue("event"))
}

// now is the programme's clock in the zone of a day.
func (c *Context) now(d *programme.Day) time.Time { return c.s.prog.Now().In(d.Event.Zone()) }

// newCommand makes the id of the command that a form will send.
func newCommand() string {
	id, err := uuid.NewV7()
	if err != nil {
		return uuid.NewString()
	}
	return id.String()
}
