package web

import (
	"net/http"
	"net/url"
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
	v := signInView{Fault: f, To: to}
	for _, p := range all {
		if p.Gone != "" || p.PinHash == "" {
			continue
		}
		t := nameTile{
			ID: p.ID, Name: p.Details.Name, Note: roleWords(p.Details.Roles), PIN: c.hintOf(p.Details.Name),
			Href: "/sign-in?person=" + escapeQuery(p.ID) + "&to=" + escapeQuery(to),
		}
		if p.ID == person {
			v.Who = &t
		}
		if t.PIN != "" {
			t.Note += ", PIN " + t.PIN
		}
		if here[p.ID] {
			v.Here = append(v.Here, t)
		} else {
			v.Others = append(v.Others, t)
		}
	}
	v.Filter = len(v.Here)+len(v.Others) > manyNames
	if v.Who == nil {
		v.Page = c.page("Who are you?")
	} else {
		v.Page = c.page(v.Who.Name)
		v.Page.Back = &ui.Link{Href: "/sign-in?to=" + escapeQuery(to), Label: "Another name"}
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
		if f.Kind == fault.Internal {
			return err
		}
		if f.Fields["pin"] != "" {
			f = f.Field("pin", "That PIN does not fit this name. Try again; nothing is lost.")
		}
		return c.showSignIn(f, person, to)
	}
	c.endSession()
	http.SetCookie(c.W, s.cookie(sessionCookie, token, sessionAge))
	return c.Go(to)
}

// endSession ends the session of whoever was signed in on this device.
func (c *Context) endSession() {
	k, err := c.R.Cookie(sessionCookie)
	if err != nil || k.Value == "" {
		return
	}
	if err := c.s.prog.SignOut(c.R.Context(), k.Value); err != nil {
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
