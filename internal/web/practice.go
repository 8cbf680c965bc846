package web

import (
	"bytes"
	"cmp"
	"net/http"
	"regexp"
	"slices"
	"strings"

	"fairstick/internal/competence/rehearse"
	"fairstick/internal/event"
	"fairstick/internal/fault"
	"fairstick/internal/people"
	"fairstick/internal/programme"
	"fairstick/internal/sandbox"
	"fairstick/internal/web/static"
	"fairstick/internal/web/ui"
)

// practice makes a server serve the pages of one practice day. They are the pages of the day, over the record of the room, under an address of
// their own: a form that was drawn here can never reach the real record, also when the room has ended meanwhile.
type practice struct {
	room *sandbox.Room
}

// rehearsalBase is where the scenes of practice days stand, outside of the rooms.
const rehearsalBase = "/learn/rehearsal"

func roomPrefix(id string) string         { return "/practice/" + id }
func scenePath(room *sandbox.Room) string { return rehearsalBase + "/" + room.ID }

// inside are the pages of the day that a room has, by the beginning of their pattern. The office stays outside.
var inside = []string{
	"/station", "/events/{event}/desk", "/events/{event}/test", "/events/{event}/controls", "/events/{event}/explain", "/events/{event}/slip", "/events/{event}/care",
	"/events/{event}/board", "/events/{event}/incidents",
}

// rehearses says who uses a room: its one trainee, on its one device. Whoever comes here was signed in outside.
func (c *Context) rehearses(rt Route) error {
	room := c.s.opt.practice.room
	c.DeviceID = sandbox.Device
	c.R = c.R.WithContext(programme.WithOrigin(c.R.Context(), programme.Origin{Device: c.DeviceID}))
	all, err := programme.List[*people.State](c.R.Context(), c.s.prog, people.Kind)
	if err != nil {
		return err
	}
	i := slices.IndexFunc(all, func(p *people.State) bool { return p.ID == room.Trainee })
	if i < 0 {
		return fault.New(fault.Missing, "practice-ended", "This practice day has ended.", "", "Begin a new one under Learn.")
	}
	c.Me = all[i]
	if c.Device, err = c.s.prog.Device(c.R.Context(), c.DeviceID); err != nil {
		return err
	}
	here := rt.Path == "/{$}" || slices.ContainsFunc(inside, func(p string) bool { return strings.HasPrefix(rt.Path, p) })
	if !here || len(rt.Roles) > 0 && !c.holds(rt.Roles) {
		return fault.New(fault.Missing, "not-practised", "This page is no part of the practice day.", "It belongs to the office, or to another role.", "Go back to the scene.")
	}
	return nil
}

// addressed are the attributes that hold an address of ours. A room has no live stream, makes no
// sound that a hall could take for real, and nobody is called from it.
var (
	addressed = regexp.MustCompile(` (href|action|formaction)="/`)
	streamed  = regexp.MustCompile(` data-live="[^"]*"`)
	sounded   = regexp.MustCompile(` data-alert="[^"]*"`)
	dialled   = regexp.MustCompile(` href="tel:[^"]*"`)
)

// within puts the addresses of a page of a room under the room's own. Static files and the scene stay where they are.
func (p *practice) within(page []byte) []byte {
	prefix := roomPrefix(p.room.ID)
	page = dialled.ReplaceAll(sounded.ReplaceAll(streamed.ReplaceAll(page, nil), nil), nil)
	page = addressed.ReplaceAll(page, []byte(` $1="`+prefix+`/`))
	for _, outside := range []string{static.Prefix, rehearsalBase + "/"} {
		page = bytes.ReplaceAll(page, []byte(`="`+prefix+outside), []byte(`="`+outside))
	}
	return page
}

// address puts one address under the room's own.
func (p *practice) address(path string) string {
	if prefix := roomPrefix(p.room.ID); path != prefix && !strings.HasPrefix(path, prefix+"/") {
		return prefix + path
	}
	return path
}

// frame marks a page as practice, by word and pattern, with the scene and the way back to it.
func (p *practice) frame(page *ui.Page, lang string) {
	page.Practice, page.HandOver, page.Switch = true, "", ""
	page.Alerts = marked(tongueIn(lang).Rehearse.IsPractice, page.Alerts)
	page.Scene = &ui.Scene{Back: ui.Link{Href: scenePath(p.room), Label: tongueIn(lang).Rehearse.BackToScene}}
	if at, ok := p.room.Scene(); ok {
		page.Scene.Text = at.Situation.Scene.In(lang)
		if at.Decision.At != rehearse.OnCard {
			page.Scene.Task = at.Decision.Ask.In(lang)
		}
	}
}

// marked says of each alert whether it is practice or real, so that neither can be taken for the other.
func marked(word string, list []ui.Alert) []ui.Alert {
	out := make([]ui.Alert, 0, len(list))
	for _, a := range list {
		a.Word = word + ": " + cmp.Or(a.Word, "Critical")
		out = append(out, a)
	}
	return out
}

// stationed refuses to practise on a device that is put to a station of an open event: whoever works there next would find the wrong pages.
func (c *Context) stationed() error {
	if c.Device.Event == "" || c.Device.Station == "" && c.Device.Step == "" {
		return nil
	}
	events, err := programme.List[*event.State](c.R.Context(), c.s.prog, event.Kind)
	if err != nil {
		return err
	}
	for _, e := range events {
		if e.ID == c.Device.Event && (e.Phase == event.IsOpen || e.Phase == event.IsDoorsClosed) {
			say := c.say().Rehearse
			f := fault.New(fault.Refused, "practice-at-station", say.Stationed(c.say().stationName(c.Device)), say.StationedWhy, say.StationedDo)
			f.Lang = c.lang()
			return f
		}
	}
	return nil
}

// practised keeps what the program refused on a page of a practice day.
func (c *Context) practised(f *fault.Fault) {
	if p := c.s.opt.practice; p != nil && f != nil && c.R.Method == http.MethodPost {
		p.room.Stopped(f)
	}
}

// practiceServe hands a request to the room of the person who asks, and to nobody else's.
func practiceServe(s *Server, c *Context) error {
	room, err := s.room(c)
	if err != nil {
		return err
	}
	http.StripPrefix(roomPrefix(room.ID), room.Pages).ServeHTTP(c.W, c.R)
	return nil
}

// room finds the room of the address for whoever is signed in.
func (s *Server) room(c *Context) (*sandbox.Room, error) {
	if s.rooms == nil {
		return nil, errNoRooms
	}
	return s.rooms.Room(c.R.PathValue("room"), c.Me.ID)
}

var errNoRooms = fault.New(fault.Refused, "no-practice", "There are no practice days on this laptop.", "The program was started without a place for them.", "Ask the lead.")

// practisePages makes the pages of a room.
func (s *Server) practisePages(room *sandbox.Room) (http.Handler, func()) {
	pages := New(Options{Programme: room.Programme, Log: s.log, Secure: s.opt.Secure, Version: s.opt.Version, practice: &practice{room: room}})
	return pages, pages.Close
}
