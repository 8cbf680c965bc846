package web

import (
	"fmt"
	"strings"
	"time"

	"fairstick/internal/fault"
	"fairstick/internal/people"
	"fairstick/internal/programme"
	"fairstick/internal/web/ui"
)

// accessView is who is in, on what, and what happened at the door.
type accessView struct {
	Page     ui.Page
	Fault    *fault.Fault
	Idle     ui.Input
	Sessions []accessRow
	Many     []accessRow // people with more than one session
	Locks    []accessRow
	Devices  []accessRow
	Notes    []noteRow
}

// accessRow is one line with the act that belongs to it.
type accessRow struct {
	Key, Name, Where, Since, Last, State string
	Act, Action                          string // label and address of its button; none when empty
	Danger                               bool
	Extra                                string // a second hidden value
}

type noteRow struct{ At, Says string }

func accessShow(_ *Server, c *Context) error { return c.showAccess(nil) }

func (c *Context) showAccess(f *fault.Fault) error {
	ctx := c.R.Context()
	a, err := c.s.prog.Access(ctx, c.Actor())
	if err != nil {
		return err
	}
	all, err := programme.List[*people.State](ctx, c.s.prog, people.Kind)
	if err != nil {
		return err
	}
	v := accessView{Page: c.page("Access"), Fault: f}
	v.Page.Lead = "Who is signed in where, and who was kept out."
	v.Page.Back, v.Page.Wide = toSetup(), true
	minutes := fmt.Sprint(a.IdleMinutes)
	if typed := c.field("idle"); typed != "" {
		minutes = typed
	}
	v.Idle = ui.Input{
		Name: "idle", Label: "Minutes without use until a device asks for the PIN again", Value: minutes, Kind: ui.Number, Width: ui.Short, Unit: "min", MaxLength: 3,
		Help: "From 5 to 120. What was typed on the device is kept. The live board goes on.", Error: ui.Message(f, "idle"),
	}
	names := map[string]string{}
	for _, d := range a.Devices {
		names[d.Key] = deviceWords(d)
	}
	wall := c.wallClock()
	held := map[string]int{}
	for _, s := range a.Sessions {
		held[s.Person]++
		r := accessRow{
			Key: s.Key, Name: nameIn(all, s.Person), Where: names[s.Device], Since: wall(s.Since), Last: wall(s.Seen), State: "in use",
			Act: "End it", Action: "/access/end", Danger: true,
		}
		if s.Idle {
			r.State = "asks for the PIN"
		}
		if s.Here {
			r.State = "this device"
		}
		v.Sessions = append(v.Sessions, r)
	}
	for _, p := range all {
		if held[p.ID] > 1 {
			v.Many = append(v.Many, accessRow{Key: p.ID, Name: p.Details.Name, Act: fmt.Sprintf("End all %d of %s", held[p.ID], p.Details.Name), Action: "/access/end"})
		}
	}
	for _, l := range a.Locks {
		v.Locks = append(v.Locks, accessRow{
			Key: l.Key, Name: lockWords(l, all, names), Where: plural(l.Wrong, "wrong PIN", "wrong PINs"), Since: wall(l.Until), Act: "Lift it", Action: "/access/lift",
		})
	}
	for _, d := range a.Devices {
		r := accessRow{Key: d.Key, Name: names[d.Key], Where: d.Addr, Last: wall(d.Last), State: "may come in", Act: "Block it", Action: "/access/device", Danger: true, Extra: "block"}
		switch {
		case d.Blocked:
			r.State, r.Act, r.Danger, r.Extra = "blocked", "Allow it again", false, "allow"
		case d.Here:
			r.State, r.Act = "this device", ""
		}
		if r.Where == "" {
			r.Where = "this laptop"
		}
		v.Devices = append(v.Devices, r)
	}
	for _, n := range a.Notes {
		v.Notes = append(v.Notes, noteRow{At: wall(n.At), Says: noteWords(n, all, names)})
	}
	return c.Show(f, AccessPage(v))
}

// wallClock writes moments as on a wall clock of the running event, with the day when it is not today.
func (c *Context) wallClock() func(time.Time) string {
	now := c.s.prog.Now()
	if d, err := c.s.prog.Day(c.R.Context(), c.eventID()); err == nil {
		now = now.In(d.Event.Zone())
	}
	return func(t time.Time) string {
		t = t.In(now.Location())
		if t.Format(time.DateOnly) == now.Format(time.DateOnly) {
			return t.Format("15:04")
		}
		return t.Format("2 Jan 15:04")
	}
}

// deviceWords names a device by its station, else by the end of its key.
func deviceWords(d programme.AccessDevice) string {
	if name := stationName(d.Station); name != "" {
		return name + " (" + d.Key[:4] + ")"
	}
	return "Device " + d.Key[:4]
}

func deviceNamed(key string, names map[string]string) string {
	if n := names[key]; n != "" {
		return n
	}
	if len(key) >= 4 {
		return "Device " + key[:4]
	}
	return "a device"
}

func lockWords(l programme.AccessLock, all []*people.State, names map[string]string) string {
	who := "A name that nobody has"
	if l.Person != "nobody" {
		who = nameIn(all, l.Person)
	}
	switch l.Where {
	case "own":
		return who + " on " + deviceNamed(l.Device, names)
	case "stations":
		return who + " on devices of others"
	case "laptop":
		return who + " on this laptop"
	case "address":
		return "Everybody new at " + l.Addr
	case "device":
		return "Everybody new on " + deviceNamed(l.Device, names)
	}
	return who + " on devices that are not known"
}

func noteWords(n programme.SecurityNote, all []*people.State, names map[string]string) string {
	by, who := nameIn(all, n.By), nameIn(all, n.Person)
	switch n.What {
	case programme.NoteSlowed:
		return "Wrong PINs cost a wait: " + noteAbout(n, all, names) + "."
	case programme.NoteLocked:
		return who + " was locked for devices that are not known."
	case programme.NoteAddress:
		return "The address " + n.Addr + " was shut out after many wrong PINs."
	case programme.NoteDevice:
		return deviceNamed(n.Device, names) + " was shut out after many wrong PINs."
	case programme.NoteLifted:
		return by + " lifted a lock: " + noteAbout(n, all, names) + "."
	case programme.NoteEnded:
		return by + " ended the session of " + who + " on " + deviceNamed(n.Device, names) + "."
	case programme.NoteEndedAll:
		return by + " ended all sessions of " + who + "."
	case programme.NoteDeviceBlocked:
		return by + " blocked " + deviceNamed(n.Device, names) + "."
	case programme.NoteDeviceAllowed:
		return by + " allowed " + deviceNamed(n.Device, names) + " again."
	case programme.NoteIdle:
		return by + fmt.Sprintf(" set the idle lock to %d minutes.", n.Count)
	}
	return n.What
}

func noteAbout(n programme.SecurityNote, all []*people.State, names map[string]string) string {
	switch {
	case n.Addr != "":
		return "at " + n.Addr
	case n.Device != "":
		return "on " + deviceNamed(n.Device, names)
	case n.Person == "nobody":
		return "for a name that nobody has"
	}
	return "for " + nameIn(all, n.Person)
}

func accessIdle(s *Server, c *Context) error {
	n, err := c.Int("idle", "The minutes")
	if err == nil {
		err = s.prog.SetIdle(c.R.Context(), c.Actor(), n)
	}
	if err != nil {
		return c.showAccess(fault.Of(err))
	}
	return c.Done("/access", fmt.Sprintf("Devices ask for the PIN after %d minutes without use.", n))
}

func accessEnd(s *Server, c *Context) error {
	if person := c.Form("person"); person != "" {
		if err := s.prog.EndSessionsOf(c.R.Context(), c.Actor(), person); err != nil {
			return c.showAccess(fault.Of(err))
		}
		return c.Done("/access", "All sessions of that person are ended.")
	}
	if err := s.prog.EndSession(c.R.Context(), c.Actor(), c.Form("session")); err != nil {
		return c.showAccess(fault.Of(err))
	}
	return c.Done("/access", "The session is ended.")
}

func accessDevice(s *Server, c *Context) error {
	block := c.Form("do") == "block"
	if err := s.prog.BlockDevice(c.R.Context(), c.Actor(), c.Form("device"), block); err != nil {
		return c.showAccess(fault.Of(err))
	}
	if block {
		return c.Done("/access", "The device is blocked and signed out. Whoever had it may still know a PIN: set a new one under People.")
	}
	return c.Done("/access", "The device may come in again.")
}

func accessLift(s *Server, c *Context) error {
	if err := s.prog.LiftLock(c.R.Context(), c.Actor(), strings.TrimSpace(c.Form("lock"))); err != nil {
		return c.showAccess(fault.Of(err))
	}
	return c.Done("/access", "The lock is lifted.")
}
