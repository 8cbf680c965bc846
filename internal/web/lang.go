package web

import (
	"cmp"
	"context"
	"io"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"

	"github.com/a-h/templ"

	"fairstick/internal/civil"
	"fairstick/internal/fault"
	"fairstick/internal/glucose"
	"fairstick/internal/paper"
	"fairstick/internal/people"
	"fairstick/internal/programme"
	"fairstick/internal/protocol"
	"fairstick/internal/visit"
	"fairstick/internal/web/ui"
)

// translated are the pages whose interface can be read in Spanish, by the beginning of their pattern. All others are English,
// shell and all: a page never mixes two languages of its own.
var translated = []string{"/sign-in", "/station", "/events/{event}/desk", "/events/{event}/explain", "/events/{event}/slip", "/events/{event}/care", "/learn"}

// lang is the language of the interface on this device, as far as the page of this request has it.
func (c *Context) lang() string {
	_, path, _ := strings.Cut(c.R.Pattern, " ")
	if path != "/{$}" && !slices.ContainsFunc(translated, func(p string) bool { return strings.HasPrefix(path, p) }) {
		return "en"
	}
	if path == "/sign-in" { // nobody is known yet: the choice travels with the address and the form
		if l := c.field("lang"); slices.Contains(ui.Languages, l) {
			return l
		}
	}
	if c.Device.Lang == "es" {
		return "es"
	}
	return "en"
}

// tongues are the languages of the interface.
var tongues = map[string]*tongue{"en": &tongueEnglish, "es": &tongueSpanish}

func tongueIn(lang string) *tongue {
	if t := tongues[lang]; t != nil {
		return t
	}
	return &tongueEnglish
}

// say gives the words of the interface for this request.
func (c *Context) say() *tongue { return tongueIn(c.lang()) }

// say gives the words of the interface for what is being drawn.
func say(ctx context.Context) *tongue { return tongueIn(ui.Lang(ctx)) }

// roles names the roles of a person.
func (t *tongue) roles(list []people.Role) string {
	words := make([]string, len(list))
	for i, r := range list {
		words[i] = t.Shell.Roles[string(r)]
	}
	return strings.Join(words, ", ")
}

// stationName is what the shell calls the station of a device: "Test 2".
func (t *tongue) stationName(d programme.Device) string {
	return strings.TrimSpace(t.Station.Steps[d.Step] + " " + d.Station)
}

// bad is a fault about one field of a form, in this language.
func (t *tongue) bad(field, message string) *fault.Fault {
	f := fault.BadField(field, "%s", message)
	f.Lang = t.Lang
	return f
}

// setLanguage keeps the language of the interface with the device.
func setLanguage(s *Server, c *Context) error {
	if err := c.keepLanguage(s, c.Form("lang")); err != nil {
		return err
	}
	return c.Go(localPath(c.Form("to")))
}

func (c *Context) keepLanguage(s *Server, lang string) error {
	if lang == c.Device.Lang || !slices.Contains(ui.Languages, lang) {
		return nil
	}
	c.Device.Lang = lang
	return s.prog.SetDevice(c.R.Context(), c.DeviceID, c.Device)
}

// switchHere is the address to which the switch of the language leads back, on the pages where a device rests.
func (c *Context) switchHere() string {
	if c.R.Method != http.MethodGet || c.Me == nil {
		return ""
	}
	if _, path, _ := strings.Cut(c.R.Pattern, " "); slices.Contains([]string{"/{$}", "/station", "/events/{event}/desk", "/events/{event}/explain", "/learn", "/learn/steps/{number}"}, path) {
		return c.R.URL.RequestURI()
	}
	return ""
}

// otherSignIn is the page of signing in in the other language.
func otherSignIn(person, to, lang string) string {
	q := url.Values{"to": {to}, "lang": {lang}}
	if person != "" {
		q.Set("person", person)
	}
	return "/sign-in?" + q.Encode()
}

// reading is a reading with its unit, also for LO, HI and error codes.
func (t *tongue) reading(r glucose.Reading) string {
	if r.Kind == glucose.Error {
		return t.Line.MeterError(r.Shown())
	}
	return r.Shown() + " " + string(r.Unit)
}

// careWord names what care is about.
func (t *tongue) careWord(c *visit.Care) string {
	if c.Cause == "signs" {
		return t.Care.Unwell
	}
	return cmp.Or(t.Care.Bands[c.Cause], ui.BandWord(c.Cause))
}

// careText says in one line which ticket needs whom, and what comes next.
func (t *tongue) careText(d *programme.Day, v *visit.State) string {
	next := t.Care.SupervisorSigns
	if todo := programme.CareToDo(v, d.Protocol); len(todo) > 0 {
		next, _ = t.sentence(todo[0].Sentence)
	}
	return t.careWhere(d, v) + " " + next
}

// careWhere names the ticket, its last reading and its place: short enough for the top of a phone.
func (t *tongue) careWhere(d *programme.Day, v *visit.State) string {
	zone, ticket := d.Event.Zone(), ticketText(v.Ticket)
	if n := len(v.Readings); n > 0 {
		r := v.Readings[n-1]
		return t.Care.Alert(ticket, t.Line.ReadAt(t.reading(r.Reading), r.At.In(zone).Format("15:04")), v.Care.Station)
	}
	return t.Care.AlertUnwell(ticket, v.Care.At.In(zone).Format("15:04"), v.Care.Station)
}

// alerts are the critical matters of a day, shown on every screen until a supervisor has signed.
func (t *tongue) alerts(d *programme.Day) []ui.Alert {
	var out []ui.Alert
	for _, v := range d.Alerts() {
		if !v.Care.Critical() {
			continue
		}
		out = append(out, ui.Alert{Key: "care-" + v.ID, Word: t.careWord(v.Care), Text: t.careWhere(d, v), Href: dayBase(d) + "/care/" + v.ID})
	}
	return append(out, incidentAlerts(d, t.Lang)...)
}

// dayWord names the day of an instant seen from another: "today", "yesterday", or the date.
func (t *tongue) dayWord(at, now time.Time) string {
	switch civil.Of(at).DaysUntil(civil.Of(now)) {
	case 0:
		return t.Line.Today
	case 1:
		return t.Line.Yesterday
	}
	return t.date(civil.Of(at))
}

// date writes a date with the month in letters.
func (t *tongue) date(d civil.Date) string {
	if t.Lang == "en" {
		return d.Long()
	}
	return paper.Labels(t.Lang).DateText(d)
}

// ateText says to the staff when the participant last ate and what that makes of a reading taken now.
func (t *tongue) ateText(d *programme.Day, v *visit.State, now time.Time) string {
	basis := t.Line.NotFasting
	if v.BasisAt(d.Protocol, now) == protocol.Fasting {
		basis = t.Line.Fasting
	}
	switch {
	case v.Ate == nil:
		return t.Line.NotAsked
	case !v.Ate.Known:
		return t.Line.NotKnown(basis)
	}
	at := v.Ate.Last.In(now.Location())
	return t.Line.LastAte(at.Format("15:04"), t.dayWord(at, now), hoursText(now.Sub(at)), basis)
}

// whereabouts says where a visit stands.
func (t *tongue) whereabouts(v *visit.State) string {
	return cmp.Or(t.Line.Where[string(v.Phase())], t.Line.WhereUnknown)
}

// ticketNote says a few words about a visit in a queue.
func (t *tongue) ticketNote(v *visit.State) string {
	var words []string
	if v.Language != t.Lang {
		words = append(words, t.Line.Languages[v.Language])
	}
	if v.Answers != nil && len(v.Answers.Cautions) > 0 {
		words = append(words, t.Line.TakeCare)
	}
	if v.Found != nil && v.Found.Repeat {
		words = append(words, t.Line.RepeatAfterWashing)
	}
	return strings.Join(words, ", ")
}

// inLang draws a part in a language of the interface, away from a page.
func inLang(lang string, part templ.Component) templ.Component {
	return templ.ComponentFunc(func(ctx context.Context, w io.Writer) error { return part.Render(ui.In(ctx, lang), w) })
}
