package web

import (
	"fmt"
	"net/http"
	"net/url"
	"time"

	"fairstick/internal/fault"
	"fairstick/internal/programme"
	"fairstick/internal/visit"
	"fairstick/internal/web/ui"
)

// signInRoutes are the pages of signing in, of the start and of what a device is for.
var signInRoutes = []Route{
	{Method: "GET", Path: "/sign-in", Public: true, Handle: signInShow},
	{Method: "POST", Path: "/sign-in", Public: true, Handle: signIn},
	{Method: "GET", Path: "/hand-over", Public: true, Handle: handOver},
	{Method: "GET", Path: "/{$}", Handle: startShow},
	{Method: "POST", Path: "/language", Handle: setLanguage},
	{Method: "GET", Path: "/station", Handle: stationShow},
	{Method: "POST", Path: "/station", Handle: stationSet},
	{Method: "POST", Path: "/station/vial", Handle: stationVial},
}

// deskRoutes are the pages of the desk.
var deskRoutes = []Route{
	{Method: "GET", Path: "/events/{event}/desk", Roles: desk, Handle: deskShow},
	{Method: "POST", Path: "/events/{event}/desk", Roles: desk, Handle: deskArrive},
	{Method: "GET", Path: "/events/{event}/desk/{visit}", Roles: desk, Handle: deskVisit},
	{Method: "POST", Path: "/events/{event}/desk/{visit}/consent", Roles: desk, Handle: deskConsent},
	{Method: "POST", Path: "/events/{event}/desk/{visit}/questions", Roles: desk, Handle: deskQuestions},
	{Method: "POST", Path: "/events/{event}/desk/{visit}/ate", Roles: desk, Handle: deskAte},
	{Method: "POST", Path: "/events/{event}/desk/{visit}/contact", Roles: desk, Handle: deskContact},
	{Method: "POST", Path: "/events/{event}/desk/{visit}/about", Roles: desk, Handle: deskAbout},
	{Method: "POST", Path: "/events/{event}/desk/{visit}/decline", Roles: desk, Handle: deskDecline},
	{Method: "POST", Path: "/events/{event}/desk/{visit}/leave", Handle: visitLeave},
}

// testRoutes are the pages of the test stations.
var testRoutes = []Route{
	{Method: "GET", Path: "/events/{event}/test", Roles: test, Handle: testShow},
	{Method: "POST", Path: "/events/{event}/test/code", Roles: test, Handle: testCode},
	{Method: "POST", Path: "/events/{event}/test/wipe", Roles: test, Handle: testWipe},
	{Method: "POST", Path: "/events/{event}/test/here", Roles: test, Handle: testHere},
	{Method: "GET", Path: "/events/{event}/test/{visit}", Roles: test, Handle: testVisit},
	{Method: "POST", Path: "/events/{event}/test/{visit}/take", Roles: test, Handle: testTake},
	{Method: "POST", Path: "/events/{event}/test/{visit}/put-back", Roles: test, Handle: testPutBack},
	{Method: "POST", Path: "/events/{event}/test/{visit}/first", Roles: test, Handle: testFirst},
	{Method: "POST", Path: "/events/{event}/test/{visit}/reading", Roles: test, Handle: testReading},
	{Method: "POST", Path: "/events/{event}/test/{visit}/clear", Roles: test, Handle: testClear},
	{Method: "POST", Path: "/events/{event}/test/{visit}/decline", Roles: test, Handle: testDecline},
}

// explainRoutes are the pages of explaining, of the slip and of care.
var explainRoutes = []Route{
	{Method: "GET", Path: "/events/{event}/explain", Roles: tell, Handle: explainShow},
	{Method: "GET", Path: "/events/{event}/explain/{visit}", Roles: tell, Handle: explainVisit},
	{Method: "POST", Path: "/events/{event}/explain/{visit}/take", Roles: tell, Handle: explainTake},
	{Method: "POST", Path: "/events/{event}/explain/{visit}/put-back", Roles: tell, Handle: explainPutBack},
	{Method: "POST", Path: "/events/{event}/explain/{visit}/explained", Roles: tell, Handle: explainDone},
	{Method: "POST", Path: "/events/{event}/explain/{visit}/refer", Roles: tell, Handle: explainRefer},
	{Method: "POST", Path: "/events/{event}/explain/{visit}/contact", Roles: tell, Handle: explainContact},
	{Method: "POST", Path: "/events/{event}/explain/{visit}/slip", Roles: tell, Handle: explainSlip},
	{Method: "POST", Path: "/events/{event}/explain/{visit}/finish", Roles: tell, Handle: explainFinish},
	{Method: "GET", Path: "/events/{event}/slip/{visit}", Roles: tell, Handle: slipShow},

	{Method: "GET", Path: "/events/{event}/care/{visit}", Handle: careShow},
	{Method: "POST", Path: "/events/{event}/care/{visit}/open", Handle: careOpen},
	{Method: "POST", Path: "/events/{event}/care/{visit}/attend", Handle: careAttend},
	{Method: "POST", Path: "/events/{event}/care/{visit}/step", Handle: careStep},
	{Method: "POST", Path: "/events/{event}/care/{visit}/sign", Handle: careSign},
}

// stationName is what a page in English calls the station of a device: "Test 2".
func stationName(d programme.Device) string { return tongueEnglish.stationName(d) }

func escapeQuery(s string) string { return url.QueryEscape(s) }

// visit reads the event and the visit of the address.
func (c *Context) visit() (*programme.Day, *visit.State, error) {
	d, err := c.Day()
	if err != nil {
		return nil, nil, err
	}
	v := d.Visit(c.R.PathValue("visit"))
	if v == nil {
		return nil, nil, fault.New(fault.Missing, "no-such-visit", "There is no such ticket at this event.",
			"The address may have been typed or linked wrongly.", "Go back to the list and choose the ticket there.")
	}
	return d, v, nil
}

// stationPage is the shell of a page at a station: it hears alerts at once and leads back without loss. The one link in its
// head says that something happened, so that the act stands high on a phone.
func (c *Context) stationPage(d *programme.Day, title, back, backLabel string) ui.Page {
	p := c.page(title)
	p.Live, p.Nav = dayBase(d)+"/live", []ui.Link{happenedLink(d, c.R.PathValue("visit"), p.Lang)}
	if back != "" {
		p.Back = &ui.Link{Href: back, Label: backLabel}
	}
	return p
}

// seat is the device as it is set up for a step of this event. A device of another event or step has no seat here.
func (c *Context) seat(d *programme.Day, step visit.Phase) programme.Device {
	if c.Device.Event == d.Event.ID && c.Device.Step == string(step) {
		return c.Device
	}
	return programme.Device{Event: d.Event.ID, Step: string(step)}
}

// command is the id of the command that a form on this page will send; after a refusal it stays the same.
func (c *Context) command() string {
	if c.R.Method == http.MethodPost {
		if id := c.Form("command"); id != "" {
			return id
		}
	}
	return newCommand()
}

// query gives one value of the address.
func (c *Context) query(name string) string { return c.R.URL.Query().Get(name) }

// queueRow is one ticket in a list of a station.
type queueRow struct {
	Ticket  string
	Path    string
	Note    string
	Where   string // the station that has it; empty when none has
	Minutes int
}

func queueRows(t *tongue, d *programme.Day, list []*visit.State, path string, now time.Time) []queueRow {
	out := make([]queueRow, 0, len(list))
	for _, v := range list {
		r := queueRow{
			Ticket: ticketText(v.Ticket), Path: dayBase(d) + path + v.ID, Note: t.ticketNote(v),
			Minutes: ui.WholeMinutes(programme.Since(v), now),
		}
		if v.Taken != nil {
			r.Where = v.Taken.Station
		}
		out = append(out, r)
	}
	return out
}

// elsewhere is the refusal of a ticket that another station has.
func elsewhere(v *visit.State) *fault.Fault {
	return fault.New(fault.Conflict, "elsewhere", fmt.Sprintf("Ticket %s is at station %s.", ticketText(v.Ticket), v.Taken.Station),
		"Two stations must not work on one person.", "Take the next ticket. If nobody there has the person, put the ticket back in the line.")
}
