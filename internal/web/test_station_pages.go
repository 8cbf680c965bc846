package web

import (
	"fmt"
	"time"

	"fairstick/internal/fault"
	"fairstick/internal/programme"
	"fairstick/internal/visit"
	"fairstick/internal/web/ui"
)

// testView is the resting page of a test station: what shuts it, then who waits.
type testView struct {
	Page      ui.Page
	Fault     *fault.Fault
	Base      string
	Command   string
	Station   string
	Table     []tableFact // meter, strips, wipes
	Shut      []shutGate
	Wet       *ui.Timer
	Mine      []queueRow
	Rechecks  []recheckRow
	Take      bool // the gates let a ticket be taken
	Waiting   int
	Day       *programme.Day
	Now       time.Time
	Shown     string
	WipeLabel string
	Me        string
}

type tableFact struct{ Label, Text string }

// shutGate is a gate that is shut, with what opens it.
type shutGate struct {
	Name  string
	Fault *fault.Fault
	How   string // code, wipe or here: the form that opens it; empty when only Href helps
	Label string
	Href  string
	Who   string
}

type recheckRow struct {
	Ticket, Href string
	Timer        ui.Timer
}

func testShow(_ *Server, c *Context) error { return c.showTest(nil) }

func (c *Context) showTest(f *fault.Fault) error {
	d, err := c.Day()
	if err != nil {
		return err
	}
	seat, now := c.seat(d, visit.AtTest), c.now(d)
	v := testView{
		Page: c.stationPage(d, "Test", "/", "Start"), Fault: f, Base: dayBase(d), Command: c.command(), Station: seat.Station, Shown: c.Form("shown"),
		Me: c.Me.Details.Name,
	}
	if seat.Station != "" {
		v.Page.Title = stationName(seat)
	}
	v.Table = tableFacts(d, seat)
	gates, wet := d.StationGates(c.Me, seat, now)
	for _, g := range gates {
		if !g.Open() {
			v.Shut = append(v.Shut, c.shutGate(d, seat, g))
		}
	}
	if wet > 0 {
		v.Wet = wetTimer(d, seat.Meter, now)
	}
	if x := d.DisinfectantByID(seat.Disinfectant); x != nil {
		v.WipeLabel = fmt.Sprintf("%s, %s wet", x.Details.Name, ui.Span(x.Details.ContactSeconds))
	}
	v.Take = len(v.Shut) == 0 && seat.Station != ""
	v.Day, v.Now, v.Waiting = d, now, len(d.Waiting(visit.AtTest))
	for _, r := range queueRows(c.say(), d, d.Waiting(visit.AtTest), "/test/", now) {
		if r.Where != "" && r.Where == seat.Station {
			v.Mine = append(v.Mine, r)
		}
	}
	for _, x := range d.Visits { // tested here, but lancet or meter not seen to yet
		if n := len(x.Readings); n > 0 && seat.Station != "" && x.Readings[n-1].Station == seat.Station && x.Phase() != visit.AtTest && !d.ClearedUp(x) {
			v.Mine = append(v.Mine, queueRow{Ticket: ticketText(x.Ticket), Path: v.Base + "/test/" + x.ID, Note: "lancet and meter still to do"})
		}
	}
	for _, x := range d.Rechecks() {
		v.Rechecks = append(v.Rechecks, recheckRow{Ticket: ticketText(x.Ticket), Href: v.Base + "/test/" + x.ID, Timer: sugarTimer(c.say(), d, x, now, true)})
	}
	return c.Show(f, testPage(v))
}

// tableFacts say what lies on the table of a test station.
func tableFacts(d *programme.Day, seat programme.Device) []tableFact {
	var out []tableFact
	if m := d.MeterByID(seat.Meter); m != nil {
		out = append(out, tableFact{"Meter", m.Details.Label + ", " + string(m.Details.Unit)})
	}
	if l := d.StripLotByID(seat.StripLot); l != nil {
		text := "lot " + l.Details.Lot + ", vial " + seat.Vial
		if l.Details.Code != "" {
			text += ", code " + l.Details.Code
		}
		out = append(out, tableFact{"Strips", text}, tableFact{"Left", fmt.Sprintf("%d of %d strips of this lot", d.StripsLeft(l.ID), d.Event.Out.Strips[l.ID])})
	}
	return out
}

// wetTimer counts the time for which a wiped meter must stay wet.
func wetTimer(d *programme.Day, meter string, now time.Time) *ui.Timer {
	w, ok := d.Event.Wipes[meter]
	m := d.MeterByID(meter)
	if !ok || m == nil {
		return nil
	}
	return &ui.Timer{
		ID: "wet", Text: "Keep meter " + m.Details.Label + " wet", Done: "Meter " + m.Details.Label + " is ready for the next person.",
		Start: w.Start.In(now.Location()), Now: now, Seconds: w.Seconds,
	}
}

// sugarTimer counts the time from the sugar to the recheck.
func sugarTimer(t *tongue, d *programme.Day, v *visit.State, now time.Time, compact bool) ui.Timer {
	s := d.Sugar(v)
	return ui.Timer{
		ID: "sugar-" + ticketText(v.Ticket), Text: t.Care.Recheck, Done: t.Care.RecheckNow, Start: s.Last.In(now.Location()), Now: now,
		Seconds: int(s.Due.Sub(s.Last) / time.Second), Compact: compact,
	}
}

// shutGate says what opens a gate, and who can do it.
func (c *Context) shutGate(d *programme.Day, seat programme.Device, g programme.Gate) shutGate {
	base := dayBase(d)
	out := shutGate{Name: g.Name, Fault: g.Fault}
	link := func(label, href, who string) { out.Label, out.Href, out.Who = label, href, who }
	switch g.Fault.Key {
	case "no-meter", "no-strips", "strips-fit", "strips-use":
		link("Say what lies on the table", "/station?table=yes&step=test&event="+escapeQuery(d.Event.ID)+"&meter="+escapeQuery(seat.Meter)+"&station="+escapeQuery(seat.Station), "Anybody at this station can.")
		if seat.Meter == "" {
			out.Label, out.Href = "Put this device to its station", "/station?step=test&event="+escapeQuery(d.Event.ID)
		}
	case "code-unread", "code-differs":
		out.How, out.Who = "code", "Anybody at this station can."
	case "not-wiped":
		out.How, out.Who = "wipe", "Anybody at this station can."
		if seat.Disinfectant == "" {
			out.How = ""
			link("Say which wipes lie on the table", "/station?step=test&event="+escapeQuery(d.Event.ID), "Anybody at this station can.")
		}
	case "quarantined":
		link("Put another meter on the table", "/station?step=test&event="+escapeQuery(d.Event.ID), "Anybody at this station can.")
	case "not-cleared":
		link("Run the controls", base+"/controls", "A screener or a supervisor can.")
	case "not-here":
		out.How, out.Who = "here", "You can, if it is so."
	case "not-posted", "not-verified", "no-supervisor", "ratio-most":
		link("Roster", base+"/roster", "A supervisor or the lead can.")
	case "ratio-wanted", "not-open", "room-unknown", "room-temperature", "room-humidity":
		link("Open the day", base+"/open", "A supervisor or the lead can.")
	case "meter-not-brought", "strips-used-up":
		link("Stock brought", base+"/stock", "A supervisor or the lead can.")
	case "meter-review":
		link("Review of this meter", "/meters/"+seat.Meter, "The lead can.")
	case "care-open":
		for _, x := range d.Alerts() {
			if x.Care.Station == seat.Station {
				link("Open the alert", base+"/care/"+x.ID, "A supervisor signs in there.")
				break
			}
		}
	}
	return out
}

func testCode(s *Server, c *Context) error {
	d, err := c.Day()
	if err != nil {
		return err
	}
	seat := c.seat(d, visit.AtTest)
	_, err = s.prog.CompareCode(c.R.Context(), c.Actor(), programme.CompareCode{Act: c.Act(), Event: d.Event.ID, Meter: seat.Meter, StripLot: seat.StripLot, Shown: c.Form("shown")})
	if err != nil {
		return c.showTest(fault.Of(err))
	}
	return c.Done(dayBase(d)+"/test", "The code is written down.")
}

func testWipe(s *Server, c *Context) error {
	d, err := c.Day()
	if err != nil {
		return err
	}
	seat := c.seat(d, visit.AtTest)
	_, err = s.prog.WipeMeter(c.R.Context(), c.Actor(), programme.WipeMeter{Act: c.Act(), Event: d.Event.ID, Meter: seat.Meter, Disinfectant: seat.Disinfectant})
	if err != nil {
		return c.showTest(fault.Of(err))
	}
	return c.Go(dayBase(d) + "/test")
}

func testHere(s *Server, c *Context) error {
	d, err := c.Day()
	if err != nil {
		return err
	}
	if _, err := s.prog.Attend(c.R.Context(), c.Actor(), programme.Attend{Act: c.Act(), Event: d.Event.ID, Person: c.Me.ID, Here: true}); err != nil {
		return c.showTest(fault.Of(err))
	}
	return c.Done(dayBase(d)+"/test", c.Me.Details.Name+" is written down as here.")
}

func testTake(s *Server, c *Context) error {
	d, v, err := c.visit()
	if err != nil {
		return err
	}
	seat := c.seat(d, visit.AtTest)
	gates, _ := d.StationGates(c.Me, seat, c.now(d))
	for _, g := range gates {
		if !g.Open() {
			return c.showTest(g.Fault)
		}
	}
	_, err = s.prog.CallTicket(c.R.Context(), c.Actor(), programme.CallTicket{Act: c.Act(), Visit: v.ID, Step: string(visit.AtTest), Station: seat.Station})
	if err != nil {
		return c.showTest(fault.Of(err))
	}
	return c.Go(dayBase(d) + "/test/" + v.ID)
}

func testPutBack(s *Server, c *Context) error {
	d, v, err := c.visit()
	if err != nil {
		return err
	}
	if _, err := s.prog.PutBack(c.R.Context(), c.Actor(), programme.PutBack{Act: c.Act(), Visit: v.ID, Reason: c.Form("reason")}); err != nil {
		return c.showTest(fault.Of(err))
	}
	return c.Done(dayBase(d)+"/test", "Ticket "+ticketText(v.Ticket)+" is back in the line.")
}
