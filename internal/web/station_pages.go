package web

import (
	"fmt"
	"net/http"
	"slices"
	"time"

	"fairstick/internal/event"
	"fairstick/internal/fault"
	"fairstick/internal/people"
	"fairstick/internal/programme"
	"fairstick/internal/visit"
	"fairstick/internal/web/ui"
)

// sessionAge is how long the cookie of a session lasts; the record ends the session itself after the same time.
const sessionAge = 12 * time.Hour

// startView is the start page: what this person can do now.
type startView struct {
	Page   ui.Page
	Main   *startTile // what this device is for
	Tiles  []startTile
	Office []startTile // the lead's lists, away from the day
	Event  string      // a sentence about the running or the next day
	None   bool        // no event is planned
	Lead   bool
}

type startTile struct {
	Label, Href, Count, Hint string
}

func startShow(s *Server, c *Context) error {
	events, err := programme.List[*event.State](c.R.Context(), s.prog, event.Kind)
	if err != nil {
		return err
	}
	v := startView{Page: c.page(c.say().Shell.WhatNext), Lead: c.Me.Has(people.Lead)}
	var running, next *event.State
	for _, e := range events {
		switch {
		case e.Phase == event.IsOpen || e.Phase == event.IsDoorsClosed:
			if running == nil || e.ID == c.Device.Event || running.ID != c.Device.Event {
				running = e
			}
		case e.Phase == event.IsPlanned && next == nil && !e.Plan.Date.Before(e.Day(s.prog.Now())):
			next = e
		}
	}
	switch {
	case running != nil:
		d, err := s.prog.Day(c.R.Context(), running.ID)
		if err != nil {
			return err
		}
		c.startRunning(&v, d)
	case next != nil:
		c.startNext(&v, next)
	default:
		v.None = true
	}
	if v.Lead {
		v.Office = []startTile{
			{Label: c.say().Shell.Events, Href: "/events"},
			{Label: c.say().Shell.Programme, Href: "/setup"},
			{Label: c.say().Shell.People, Href: "/people"},
			{Label: c.say().Shell.Meters, Href: "/meters"},
			{Label: c.say().Shell.Strips, Href: "/strips"},
			{Label: c.say().Shell.Solution, Href: "/controls-solution"},
			{Label: c.say().Shell.Disinfectants, Href: "/disinfectants"},
			{Label: c.say().Shell.Supplies, Href: "/supplies"},
		}
	}
	if c.holds(keepers) {
		v.Office = append(v.Office, startTile{Label: c.say().Shell.Stock, Href: "/stock"})
	}
	if c.holds(tell) {
		v.Office = append(v.Office, startTile{Label: c.say().Shell.FollowUp, Href: "/follow-up"})
	}
	if c.holds(senior) {
		v.Office = append(v.Office, startTile{Label: c.say().Shell.Training, Href: "/training"}, startTile{Label: c.say().Shell.Reports, Href: "/reports"})
	}
	return c.Render(http.StatusOK, startPage(v))
}

// startRunning offers the stations of a running day to those who may work there.
func (c *Context) startRunning(v *startView, d *programme.Day) {
	base := dayBase(d)
	t := c.say()
	v.Event = d.Event.Plan.Name + ", " + t.Shell.Phases[string(d.Event.Phase)]
	if f := len(d.Alerts()); f > 0 {
		v.Tiles = append(v.Tiles, startTile{Label: t.Shell.Care, Href: base + "/care/" + d.Alerts()[0].ID, Count: fmt.Sprint(f), Hint: t.Shell.OpenAlerts})
	}
	add := func(roles []people.Role, step visit.Phase, hint string) {
		if !c.holds(roles) {
			return
		}
		tile := startTile{Label: t.Station.Steps[string(step)], Href: base + "/" + string(step), Count: fmt.Sprint(len(d.Waiting(step))), Hint: hint}
		if c.seat(d, step).Station != "" || c.Device.Event == d.Event.ID && c.Device.Step == string(step) {
			tile.Label = t.stationName(c.Device)
			v.Main = &tile
			return
		}
		v.Tiles = append(v.Tiles, tile)
	}
	add(desk, visit.AtDesk, t.Shell.AtDesk)
	add(test, visit.AtTest, t.Shell.Waiting)
	add(tell, visit.AtExplain, t.Shell.Waiting)
	v.Tiles = append(v.Tiles, startTile{Label: t.Shell.Board, Href: base + "/board", Hint: t.Shell.BoardHint})
	if c.holds(test) {
		v.Tiles = append(v.Tiles, startTile{Label: t.Shell.Controls, Href: base + "/controls"})
	}
	if c.holds(senior) {
		v.Tiles = append(v.Tiles, startTile{Label: t.Shell.Open, Href: base + "/open", Hint: t.Shell.OpenHint}, startTile{Label: t.Shell.Roster, Href: base + "/roster"},
			startTile{Label: t.Shell.Close, Href: base + "/close"})
	}
	v.Tiles = append(v.Tiles, startTile{Label: t.Shell.Device, Href: "/station", Hint: t.Shell.DeviceHint})
}

// startNext speaks of the next planned day.
func (c *Context) startNext(v *startView, e *event.State) {
	t := c.say()
	v.Event = t.Shell.NextDay(e.Plan.Name, t.date(e.Plan.Date), fmt.Sprint(e.Plan.Doors))
	base := "/events/" + e.ID
	if c.holds(senior) {
		v.Main = &startTile{Label: t.Shell.OpenDay, Href: base + "/open"}
		v.Tiles = append(v.Tiles, startTile{Label: t.Shell.Roster, Href: base + "/roster"}, startTile{Label: t.Shell.StockBrought, Href: base + "/stock"})
	}
	if c.holds(test) {
		v.Tiles = append(v.Tiles, startTile{Label: t.Shell.Controls, Href: base + "/controls"})
	}
	if v.Lead {
		v.Tiles = append(v.Tiles, startTile{Label: t.Shell.Plan, Href: base})
	}
	v.Tiles = append(v.Tiles, startTile{Label: t.Shell.Device, Href: "/station", Hint: t.Shell.DeviceHint})
}

// postSteps are the steps of the flow to which a post on the roster belongs.
var postSteps = map[people.Role]string{people.Desk: string(visit.AtDesk), people.Screener: string(visit.AtTest), people.Counsellor: string(visit.AtExplain)}

// stationView is the page that puts a device to a station: first what it is for, then where, then what lies on the table.
type stationView struct {
	Page    ui.Page
	Fault   *fault.Fault
	Command string
	Now     string // what it is at present
	Events  []ui.Option
	Event   string
	Base    string
	Step    string
	Station string
	Meter   string
	Meters  []ui.Option
	Vials   []ui.Option
	Vial    string // lot and vial of the choice, as the form sends it
	Lots    []ui.Option
	Wipes   []ui.Option
	Wipe    string
	Stage   string // what, where, table
}

func stationShow(_ *Server, c *Context) error { return c.showStation(nil) }

// field reads a value of the form that was sent, else of the address.
func (c *Context) field(name string) string {
	if c.R.Method == http.MethodPost {
		return c.Form(name)
	}
	return c.query(name)
}

func (c *Context) showStation(f *fault.Fault) error {
	t := c.say()
	v := stationView{
		Fault: c.told(f), Command: newCommand(), Event: c.field("event"), Step: c.field("step"), Station: c.field("station"),
		Meter: c.field("meter"), Vial: c.field("vial"), Wipe: c.field("wipe"), Now: t.Station.NotPut,
	}
	if n := t.stationName(c.Device); n != "" {
		v.Now = t.Station.Is(n)
	}
	events, err := programme.List[*event.State](c.R.Context(), c.s.prog, event.Kind)
	if err != nil {
		return err
	}
	for _, e := range slices.Backward(events) {
		if e.Phase != event.IsClosed {
			v.Events = append(v.Events, ui.Option{Value: e.ID, Label: e.Plan.Name, Hint: t.date(e.Plan.Date) + ", " + t.Shell.Phases[string(e.Phase)]})
		}
	}
	if v.Event == "" {
		v.Event = c.eventID()
	}
	if v.Event == "" && len(v.Events) == 1 {
		v.Event = v.Events[0].Value
	}
	v.Stage = "what"
	v.Page = c.page(t.Station.What)
	if stepWords[v.Step] == "" || v.Event == "" {
		return c.Show(f, stationPage(v))
	}
	d, err := c.s.prog.Day(c.R.Context(), v.Event)
	if err != nil {
		return err
	}
	v.Base = dayBase(d)
	v.Page.Back = &ui.Link{Href: "/station"}
	v.Stage, v.Page.Title = "where", t.Station.WhichSeat(t.Station.Steps[v.Step])
	if v.Station == "" {
		v.Station = c.seat(d, visit.Phase(v.Step)).Station
		if post, ok := d.Event.PostOf(c.Me.ID); ok && v.Station == "" && v.Step == postSteps[people.Role(post.Role)] {
			v.Station = post.Station
		}
	}
	if v.Step != string(visit.AtTest) {
		return c.Show(f, stationPage(v))
	}
	day := d.Event.Day(c.s.prog.Now())
	for _, m := range d.BroughtMeters() {
		v.Meters = append(v.Meters, ui.Option{Value: m.ID, Label: t.Station.Meter(m.Details.Label), Hint: c.meterHint(d, m.ID)})
	}
	if v.Meter == "" {
		v.Meter = c.seat(d, visit.AtTest).Meter
	}
	if c.field("table") == "" {
		return c.Show(f, stationPage(v))
	}
	v.Stage, v.Page.Title = "table", t.Station.Table
	v.Page.Back = &ui.Link{Href: "/station?event=" + escapeQuery(v.Event) + "&step=test"}
	for _, x := range d.VialsFor(v.Meter, day) {
		hint := t.Station.VialCleared
		if !x.Clearance.Cleared {
			hint = t.Station.VialNotCleared(x.Clearance.Sentence)
		}
		v.Vials = append(v.Vials, ui.Option{Value: x.Lot.ID + "/" + x.Vial, Label: t.Station.Vial(x.Lot.Details.Lot, x.Vial), Hint: hint})
	}
	for _, l := range d.BroughtLots() {
		if m := d.MeterByID(v.Meter); m != nil && l.Fits(m.Details.Model) {
			v.Lots = append(v.Lots, ui.Option{Value: l.ID, Label: t.Station.Lot(l.Details.Lot)})
		}
	}
	for _, x := range d.WipesFor(v.Meter, day) {
		v.Wipes = append(v.Wipes, ui.Option{Value: x.ID, Label: x.Details.Name, Hint: t.Station.KeepWet(ui.Span(x.Details.ContactSeconds))})
	}
	if seat := c.seat(d, visit.AtTest); v.Vial == "" && seat.Meter == v.Meter && seat.StripLot != "" {
		v.Vial, v.Wipe = seat.StripLot+"/"+seat.Vial, seat.Disinfectant
	}
	if v.Wipe == "" && len(v.Wipes) == 1 {
		v.Wipe = v.Wipes[0].Value
	}
	if v.Vial == "" && len(v.Vials) == 1 {
		v.Vial = v.Vials[0].Value
	}
	return c.Show(f, stationPage(v))
}

// meterHint says by word whether a meter may test with any of the vials here.
func (c *Context) meterHint(d *programme.Day, meter string) string {
	m := d.MeterByID(meter)
	if m.Quarantine != nil {
		return c.say().Station.Quarantine
	}
	why := c.say().Station.NoVialFits
	for _, x := range d.VialsFor(meter, d.Event.Day(c.s.prog.Now())) {
		if x.Clearance.Cleared {
			return c.say().Station.Cleared
		}
		why = c.say().Station.Controls
	}
	return why
}
