package web

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"fairstick/internal/event"
	"fairstick/internal/fault"
	"fairstick/internal/glucose"
	"fairstick/internal/people"
	"fairstick/internal/programme"
	"fairstick/internal/visit"
	"fairstick/internal/web/ui"
)

// dayForm is one of several forms of a page. Only the one that was refused shows a fault and what was typed; only its
// fields have the plain ids to which the summary of the fault points.
type dayForm struct {
	scope, action, command string
	fault                  *fault.Fault // nil unless this form was refused
	c                      *Context
}

// dayForm makes the form of a scope. A refused form keeps its command id, so that the next press is the same act.
func (c *Context) dayForm(scope, action, refused string, f *fault.Fault) dayForm {
	form := dayForm{scope: scope, action: action, command: newCommand(), c: c}
	if f != nil && refused == scope {
		form.fault = f
		if id := c.Form("command"); id != "" {
			form.command = id
		}
	}
	return form
}

func (f dayForm) sheet() ui.Sheet {
	return ui.Sheet{ID: "form-" + f.scope, Action: f.action, Command: f.command}
}

// value is what was typed before the form was refused, else the value given.
func (f dayForm) value(name, otherwise string) string {
	if f.fault == nil {
		return otherwise
	}
	return f.c.Form(name)
}

// ticked reports whether a box of a name was ticked before the form was refused, else whether it is ticked at first.
func (f dayForm) ticked(name, value string, otherwise bool) bool {
	if f.fault == nil {
		return otherwise
	}
	for _, v := range f.c.Forms(name) {
		if v == value {
			return true
		}
	}
	return false
}

func (f dayForm) wrong(name string) string { return ui.Message(f.fault, name) }

func (f dayForm) id(name string) string {
	if f.fault != nil {
		return "f-" + name
	}
	return "f-" + f.scope + "-" + name
}

// dayPage is the shell of a page about one event, with the pages of the day that this person may open.
func (c *Context) dayPage(d *programme.Day, title, current string) ui.Page {
	p := c.page(title)
	base := dayBase(d)
	p.Live = base + "/live"
	add := func(key, label string, roles []people.Role) {
		if roles == nil || c.holds(roles) {
			p.Nav = append(p.Nav, ui.Link{Href: base + "/" + key, Label: label, Current: key == current})
		}
	}
	add("board", "Board", nil)
	add("open", "Open", senior)
	add("controls", "Controls", test)
	add("close", "Close", senior)
	add("report", "Report", senior)
	add("paper", "Paper", senior)
	if len(d.Event.Printed) > 0 && !c.holds(senior) {
		add("paper/type", "Paper", desk)
	}
	add("incidents", "Incidents", senior)
	p.Nav = append(p.Nav, happenedLink(d, "", p.Lang))
	return p
}

func (c *Context) holds(roles []people.Role) bool {
	for _, r := range roles {
		if c.Me != nil && c.Me.Has(r) {
			return true
		}
	}
	return false
}

func dayBase(d *programme.Day) string { return "/events/" + d.Event.ID }

func ticketText(n int) string { return fmt.Sprintf("%03d", n) }

// shownWithUnit is a reading with its unit, also for LO, HI and error codes.
func shownWithUnit(r glucose.Reading) string {
	if r.Kind == glucose.Error {
		return "meter error " + r.Shown()
	}
	return r.Shown() + " " + string(r.Unit)
}

var languageNames = func() map[string]string {
	out := map[string]string{}
	for _, l := range programme.Languages {
		out[l] = programme.LanguageName(l)
	}
	return out
}()

func languageName(code string) string { return cmp.Or(languageNames[code], code) }

var phaseWords = map[event.Phase]string{
	event.IsPlanned: "Not open yet", event.IsOpen: "Doors open", event.IsDoorsClosed: "Doors closed", event.IsClosed: "Closed and signed", event.IsCancelled: "Cancelled",
}

// careWord names what care is about.
func careWord(c *visit.Care) string { return tongueEnglish.careWord(c) }

// careText says in one line which ticket needs whom, and what comes next.
func careText(d *programme.Day, v *visit.State) string { return tongueEnglish.careText(d, v) }

// alertsOf are the critical matters of a day, shown on every screen until a supervisor has signed.
func alertsOf(d *programme.Day) []ui.Alert { return tongueEnglish.alerts(d) }

// signers lists people for the name under a signature.
func signers(list []*people.State) []ui.Option {
	return signersIn(&tongueEnglish, list)
}

func signersIn(t *tongue, list []*people.State) []ui.Option {
	out := []ui.Option{{Value: "", Label: t.Line.ChooseName}}
	for _, p := range list {
		label := p.Details.Name
		if p.Details.Title != "" {
			label += ", " + p.Details.Title
		}
		out = append(out, ui.Option{Value: p.ID, Label: label})
	}
	return out
}

// clockOr writes a time on the wall clock of a day, or a dash for none.
func clockOr(t time.Time, zone *time.Location) string {
	if t.IsZero() {
		return "-"
	}
	return t.In(zone).Format("15:04")
}

func plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

func contains(list []string, x string) bool { return slices.Contains(list, x) }
