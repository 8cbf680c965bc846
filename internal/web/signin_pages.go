package web

import (
	"net/http"
	"net/url"
	pathpkg "path"
	"strings"

	"fairstick/internal/event"
	"fairstick/internal/fault"
	"fairstick/internal/people"
	"fairstick/internal/programme"
	"fairstick/internal/web/ui"
)

// signInView is the page of signing in: first the name, then the PIN.
type signInView struct {
	Page   ui.Page
	Fault  *fault.Fault
	To     string
	Here   []nameTile // on the roster of the running day and here
	Others []nameTile
	Who    *nameTile // chosen; nil while the name is missing
	Lang   string    // of the page
	Locked bool      // their session waits for the PIN: what they typed on this device is kept
	Filter bool
}

type nameTile struct {
	ID, Name, Href, PIN string
	Note                string // role, here today, and the PIN of an invented person
}

// manyNames is how many names fit without searching.
const manyNames = 8

// localPath keeps the address to go to after signing in inside this program: a path of ours, or the start page.
func localPath(to string) string {
	u, err := url.Parse(to)
	switch {
	case err != nil, u.Scheme != "", u.Host != "", u.User != nil, !strings.HasPrefix(to, "/"), strings.HasPrefix(to, "//"),
		strings.ContainsAny(to, "\\\r\n\t"), u.Path == "/sign-in", u.Path == "/hand-over":
		return "/"
	}
	return to
}

func signInShow(_ *Server, c *Context) error {
	return c.showSignIn(nil, c.query("person"), localPath(c.query("to")))
}

func (c *Context) showSignIn(f *fault.Fault, person, to string) error {
	all, err := programme.List[*people.State](c.R.Context(), c.s.prog, people.Kind)
	if err != nil {
		return err
	}
	here := c.whoIsHere()
	t := c.say()
	v := signInView{Fault: c.told(f), To: to, Lang: c.lang()}
	chosen := ""
	if c.field("lang") != "" {
		chosen = "&lang=" + v.Lang
	}
	if idle := c.s.prog.Idle(c.R.Context(), c.DeviceID, c.carried(sessionCookie)); idle != nil && (person == "" || person == idle.ID) {
		person, v.Locked = idle.ID, true
	}
	for _, p := range all {
		if p.Gone != "" || p.PinHash == "" {
			continue
		}
		n := nameTile{
			ID: p.ID, Name: p.Details.Name, Note: t.roles(p.Details.Roles), PIN: c.hintOf(p.Details.Name),
			Href: "/sign-in?person=" + escapeQuery(p.ID) + "&to=" + escapeQuery(to) + chosen,
		}
		if p.ID == person {
			v.Who = &n
		}
		if n.PIN != "" {
			n.Note += ", " + t.Shell.PINNote(n.PIN)
		}
		if here[p.ID] {
			v.Here = append(v.Here, n)
		} else {
			v.Others = append(v.Others, n)
		}
	}
	v.Filter = len(v.Here)+len(v.Others) > manyNames
	if v.Who == nil {
		v.Page = c.page(t.Shell.WhoAreYou)
	} else {
		v.Page = c.page(v.Who.Name)
		v.Page.Back = &ui.Link{Href: "/sign-in?to=" + escapeQuery(to) + chosen, Label: t.Shell.AnotherName}
	}
	if v.Locked && v.Who != nil {
		v.Page.Who, v.Page.Role, v.Page.HandOver = v.Who.Name, t.Shell.Locked, "/hand-over"
		v.Page.Lead = t.Shell.LockedLead
		v.Page.Back = &ui.Link{Href: "/hand-over", Label: t.Shell.SomebodyElse}
	}
	return c.Show(f, signInPage(v))
}

// whoIsHere are the people written down as here on the roster of the event that this device is about.
func (c *Context) whoIsHere() map[string]bool {
	here := map[string]bool{}
	id := c.eventID()
	if id == "" {
		return here
	}
	d, err := c.s.prog.Day(c.R.Context(), id)
	if err != nil || d.Event.Phase == event.IsClosed {
		return here
	}
	for _, post := range d.Event.Roster {
		if post.Here {
			here[post.Person] = true
		}
	}
	return here
}

// hintOf is the PIN of an invented person; empty in a real programme.
func (c *Context) hintOf(name string) string {
	if c.s.opt.Demo == nil {
		return ""
	}
	for _, h := range c.s.opt.Demo.Hints {
		if h.Name == name {
			return h.PIN
		}
	}
	return ""
}

func signIn(s *Server, c *Context) error {
	person, to := c.Form("person"), localPath(c.Form("to"))
	token, err := s.prog.SignIn(c.R.Context(), c.DeviceID, person, c.Form("pin"))
	if err != nil {
		f := fault.Of(err)
		if f.Kind == fault.Internal || f.Key == "device-blocked" {
			return err
		}
		if f.Fields["pin"] != "" {
			f = f.Field("pin", c.say().Shell.WrongPIN)
		}
		return c.showSignIn(f, person, to)
	}
	c.endSession()
	http.SetCookie(c.W, s.cookie(sessionCookie, token, sessionAge))
	if err := c.keepLanguage(s, c.Form("lang")); err != nil {
		return err
	}
	return c.Go(to)
}

// pinAgain asks for the PIN in the place of an answer to a form whose session was idle. It leads back to the page of the
// form, where the device still has what was typed.
func (c *Context) pinAgain(f *fault.Fault) error {
	to := "/"
	if from, err := url.Parse(c.R.Referer()); err == nil && from.Host == c.R.Host {
		to = c.pageOf(localPath(from.RequestURI()))
	}
	return c.showSignIn(f, "", to)
}

// pageOf gives the page that an address belongs to: the address of a form that was refused is itself no page.
func (c *Context) pageOf(path string) string {
	for at := path; at != "/" && at != "" && at != "."; at = pathpkg.Dir(at) {
		u, err := url.Parse(at)
		if err != nil {
			break
		}
		if _, pattern := c.s.mux.Handler(&http.Request{Method: http.MethodGet, URL: u, Host: c.R.Host}); strings.HasPrefix(pattern, "GET ") {
			return at
		}
	}
	return "/"
}

// endSession ends the session of whoever was signed in on this device.
func (c *Context) endSession() {
	token := c.carried(sessionCookie)
	if token == "" {
		return
	}
	if err := c.s.prog.SignOut(c.R.Context(), token); err != nil {
		c.s.log.Error("session not ended", "err", err)
	}
	http.SetCookie(c.W, c.s.cookie(sessionCookie, "", -1))
}

// handOver ends the session; the next person signs in and goes on at the same station. A link from another site does not
// sign anybody out.
func handOver(_ *Server, c *Context) error {
	if site := c.R.Header.Get("Sec-Fetch-Site"); site == "cross-site" || site == "same-site" {
		return c.Go("/")
	}
	c.endSession()
	return c.Go("/sign-in?to=" + escapeQuery(stationHome(c.Device)))
}

// stationHome is the resting page of a device.
func stationHome(d programme.Device) string {
	if d.Event == "" || d.Step == "" {
		return "/"
	}
	return "/events/" + d.Event + "/" + d.Step
}
