package web

import (
	"cmp"
	"fmt"
	"strconv"
	"strings"

	"fairstick/internal/event"
	"fairstick/internal/fault"
	"fairstick/internal/people"
	"fairstick/internal/programme"
	"fairstick/internal/stock"
	"fairstick/internal/web/ui"
)

// openView is the opening of a day: the gates in their order, each with what opens it.
type openView struct {
	Page  ui.Page
	Fault *fault.Fault
	Clock string // what is wrong with the laptop's clock; empty when nothing is
	Base  string
	Phase event.Phase
	Since string // when the doors opened
	Gates []openGate
	Shut  int
	Doors dayForm

	Checks     dayForm
	CheckRows  []checkRow
	Problem    dayForm
	ToDo       []ui.Option
	Room       dayForm
	Rooms      []roomRow
	Limits     []string
	Stock      broughtForm
	Ratio      dayForm
	RatioNow   string
	Signers    []ui.Option
	People     []string
	MeterState []string
}

type openGate struct {
	Key, Name string
	Number    int
	Fault     *fault.Fault
	Said      string // what stands behind an open gate
	Open      bool   // show the form at once
	Link      *ui.Link
}

type checkRow struct {
	Key, Text string
	Done      bool
	Said      string // who and when, or why not
}

type roomRow struct{ Said string }

// broughtForm is the form of stock brought, with what was written down before.
type broughtForm struct {
	Form    dayForm
	Lots    []broughtRow
	Lancets int
	Sharps  int
	Meters  []broughtMeter
	Base    string
}

type broughtRow struct {
	ID, Lot, Note string
	Brought       int
}

type broughtMeter struct {
	ID, Label string
	Brought   bool
}

func openShow(s *Server, c *Context) error { return c.openAgain("", nil) }

// openAgain shows the opening; refused names the form that a fault is about.
func (c *Context) openAgain(refused string, f *fault.Fault) error {
	d, err := c.Day()
	if err != nil {
		return err
	}
	now := c.now(d)
	base := dayBase(d)
	v := openView{Page: c.dayPage(d, "Open the day", "open"), Fault: f, Base: base, Phase: d.Event.Phase, Since: clockOr(d.Event.OpenedAt, d.Event.Zone())}
	v.Page.Lead = d.Event.Plan.Name + ", " + d.Event.Plan.Venue + ", " + d.Event.Plan.Date.Long() + ", doors " + d.Event.Plan.Doors.String() + " to " + d.Event.Plan.Ends.String() + "."
	v.Page.Wide = false
	v.Clock = c.s.prog.ClockState().Sentence(d.Event.Zone())
	v.Doors = c.dayForm("doors", base+"/open", refused, f)
	v.Checks = c.dayForm("checks", base+"/open/checks", refused, f)
	v.Problem = c.dayForm("problem", base+"/open/problem", refused, f)
	v.Room = c.dayForm("room", base+"/open/room", refused, f)
	v.Ratio = c.dayForm("ratio", base+"/open/ratio", refused, f)
	v.Stock = c.broughtForm(d, base+"/open/stock", refused, f)
	c.openDetails(&v, d)
	gates := d.OpeningGates(now)
	wanted := gateOfForm(refused, f, gates)
	for i, g := range gates {
		row := openGate{Key: g.Key, Name: g.Name, Number: i + 1, Fault: g.Fault, Said: gateSaid(d, g, &v), Link: gateLink(base, g.Key)}
		if g.Fault != nil {
			v.Shut++
			if wanted == "" {
				wanted = g.Key
			}
		}
		row.Open = wanted == g.Key
		v.Gates = append(v.Gates, row)
	}
	return c.Show(f, OpenPage(v))
}

// gateOfForm names the gate whose form was refused; opening the doors is refused by the first shut gate.
func gateOfForm(refused string, f *fault.Fault, gates []programme.Gate) string {
	switch {
	case f == nil || refused == "doors":
		return ""
	case refused == "problem":
		return "checks"
	}
	for _, g := range gates {
		if g.Key == refused {
			return g.Key
		}
	}
	return ""
}

func (c *Context) openDetails(v *openView, d *programme.Day) {
	ev, zone := d.Event, d.Event.Zone()
	for _, k := range d.Protocol.OpeningChecks {
		row := checkRow{Key: k.Key, Text: k.Text.In("en")}
		if m, ok := ev.Checks[k.Key]; ok {
			row.Done = m.OK
			who := d.NameOf(m.By) + ", " + m.At.In(zone).Format("15:04")
			if m.OK {
				row.Said = "Done: " + who
			} else {
				row.Said = "Cannot be done: " + m.Note + " (" + who + ")"
			}
		}
		if !row.Done {
			v.ToDo = append(v.ToDo, ui.Option{Value: k.Key, Label: row.Text})
		}
		v.CheckRows = append(v.CheckRows, row)
	}
	for i := len(ev.Rooms) - 1; i >= 0; i-- {
		r := ev.Rooms[i]
		said := fmt.Sprintf("%s: %g °C", r.At.In(zone).Format("15:04"), r.Celsius)
		if r.Humidity != nil {
			said += fmt.Sprintf(", humidity %g %%", *r.Humidity)
		}
		if r.Place != "" {
			said += ", " + r.Place
		}
		v.Rooms = append(v.Rooms, roomRow{said + " (" + d.NameOf(r.By) + ")"})
	}
	for _, m := range d.BroughtMeters() {
		v.Limits = append(v.Limits, fmt.Sprintf("%s: %g to %g °C%s", m.Details.Label, m.Details.Limits.TempLow, m.Details.Limits.TempHigh, humidityLimits(m.Details.Limits)))
	}
	for _, p := range ev.Roster {
		if p.Here {
			v.People = append(v.People, d.NameOf(p.Person)+", "+p.Role)
		}
	}
	_, v.RatioNow = d.Supervision()
	v.Signers = signers(d.Signers(people.Role(cmp.Or(d.Protocol.Overrides["ratio"], string(people.Lead)))))
	for _, m := range boardMeterRows(d, c.now(d)) {
		v.MeterState = append(v.MeterState, m.Name+": "+m.State)
	}
}

func humidityLimits(l stock.Limits) string {
	switch {
	case l.HumidityLow != nil && l.HumidityHigh != nil:
		return fmt.Sprintf(", humidity %g to %g %%", *l.HumidityLow, *l.HumidityHigh)
	case l.HumidityHigh != nil:
		return fmt.Sprintf(", humidity to %g %%", *l.HumidityHigh)
	case l.HumidityLow != nil:
		return fmt.Sprintf(", humidity from %g %%", *l.HumidityLow)
	}
	return ""
}

// gateSaid is the fact behind an open gate, in a few words.
func gateSaid(d *programme.Day, g programme.Gate, v *openView) string {
	if g.Fault != nil {
		return ""
	}
	ev := d.Event
	switch g.Key {
	case "protocol":
		return "Version " + d.Protocol.Version + " is signed."
	case "route":
		return ev.Plan.Routes[0].Name
	case "certificate":
		return d.Charter.Details.Certificate + ", until " + d.Charter.Details.CertificateUntil.Long()
	case "emergency":
		return ev.EmergencyNumber(d.Charter.Details.Emergency) + ", " + ev.Plan.Address
	case "labelled-use":
		return "The lead has read what the meters are labelled for."
	case "day":
		return ev.Plan.Date.Long()
	case "meters":
		return plural(len(ev.Out.Meters), "meter brought, reviewed", "meters brought, all reviewed")
	case "room":
		return v.Rooms[0].Said
	case "stock":
		return stockSaid(d)
	case "checks":
		return fmt.Sprintf("%d of %d done.", len(v.CheckRows), len(v.CheckRows))
	case "people":
		return plural(ev.Present()[string(people.Screener)], "screener is here", "screeners are here")
	case "ratio":
		if o, ok := ev.OverrideOf("ratio"); ok {
			return v.RatioNow + " hands-on to supervisors; reason signed by " + d.NameOf(o.Signed) + ": " + o.Reason
		}
		return v.RatioNow + " hands-on to supervisors"
	case "controls":
		return strings.Join(v.MeterState, "; ")
	}
	return ""
}

func stockSaid(d *programme.Day) string {
	var parts []string
	for _, l := range d.BroughtLots() {
		parts = append(parts, fmt.Sprintf("%d strips of lot %s", d.Event.Out.Strips[l.ID], l.Details.Lot))
	}
	return strings.Join(append(parts, plural(d.Event.Out.Lancets, "lancet", "lancets"), plural(d.Event.Out.Sharps, "sharps container", "sharps containers")), ", ")
}

// gateLink is the page that opens a gate which has no form here.
func gateLink(base, key string) *ui.Link {
	switch key {
	case "protocol":
		return &ui.Link{Href: "/setup/protocol", Label: "Read and sign the protocol"}
	case "route", "emergency", "day":
		return &ui.Link{Href: base, Label: "Go to the plan"}
	case "certificate", "labelled-use":
		return &ui.Link{Href: "/setup/programme", Label: "Go to the programme"}
	case "people":
		return &ui.Link{Href: base + "/roster", Label: "Say who is here"}
	case "controls":
		return &ui.Link{Href: base + "/controls", Label: "Run controls"}
	}
	return nil
}

func openDoors(s *Server, c *Context) error {
	id := c.R.PathValue("event")
	_, err := s.prog.OpenEvent(c.R.Context(), c.Actor(), programme.OpenEvent{Act: c.Act(), Event: id})
	if err != nil {
		return c.openAgain("doors", fault.Of(err))
	}
	return c.Done("/events/"+id+"/board", "The doors are open.")
}

func openChecks(s *Server, c *Context) error {
	d, err := c.Day()
	if err != nil {
		return err
	}
	ticked := 0
	for _, k := range d.Protocol.OpeningChecks {
		if m, ok := d.Event.Checks[k.Key]; (ok && m.OK) || !contains(c.Forms("check"), k.Key) {
			continue
		}
		cmd := programme.CheckOff{Act: c.Act().Part(k.Key), Event: d.Event.ID, Check: k.Key, OK: true}
		if _, err := s.prog.CheckOff(c.R.Context(), c.Actor(), cmd); err != nil {
			return c.openAgain("checks", fault.Of(err))
		}
		ticked++
	}
	if ticked == 0 {
		return c.openAgain("checks", fault.BadField("check", "No check was ticked. Tick what has been done."))
	}
	return c.Done(dayBase(d)+"/open", plural(ticked, "opening check is", "opening checks are")+" in the record.")
}

func openProblem(s *Server, c *Context) error {
	id := c.R.PathValue("event")
	cmd := programme.CheckOff{Act: c.Act(), Event: id, Check: c.Form("problem"), Note: c.Form("note")}
	if _, err := s.prog.CheckOff(c.R.Context(), c.Actor(), cmd); err != nil {
		return c.openAgain("problem", fault.Of(err))
	}
	return c.Done("/events/"+id+"/open", "The problem is in the record. The gate stays shut until it is solved.")
}

func openRoom(s *Server, c *Context) error {
	id := c.R.PathValue("event")
	cmd := programme.MeasureRoom{Act: c.Act(), Event: id, Celsius: c.Form("celsius"), Humidity: c.Form("humidity"), Place: c.Form("place")}
	if _, err := s.prog.MeasureRoom(c.R.Context(), c.Actor(), cmd); err != nil {
		return c.openAgain("room", fault.Of(err))
	}
	return c.Done("/events/"+id+"/open", "The room is measured.")
}

func openRatio(s *Server, c *Context) error {
	id := c.R.PathValue("event")
	cmd := programme.Override{Act: c.Act(), Event: id, Gate: "ratio", Reason: c.Form("reason"), Sign: c.Sign("sign")}
	if _, err := s.prog.Override(c.R.Context(), c.Actor(), cmd); err != nil {
		return c.openAgain("ratio", fault.Of(err))
	}
	return c.Done("/events/"+id+"/open", "The reason is signed. It is on the report.")
}

func openStock(s *Server, c *Context) error {
	if err := c.bringStock(); err != nil {
		return c.openAgain("stock", fault.Of(err))
	}
	return c.Done("/events/"+c.R.PathValue("event")+"/open", "The stock is written down.")
}

// bringStock reads the form of stock brought and records it.
func (c *Context) bringStock() error {
	cmd := programme.BringStock{Act: c.Act(), Event: c.R.PathValue("event"), Meters: c.Forms("meters")}
	strips, err := c.stripCounts(false)
	if err != nil {
		return err
	}
	cmd.Strips = strips
	if cmd.Lancets, err = c.Int("lancets", "Lancets"); err != nil {
		return err
	}
	if cmd.Sharps, err = c.Int("sharps", "Sharps containers"); err != nil {
		return err
	}
	_, err = c.s.prog.BringStock(c.R.Context(), c.Actor(), cmd)
	return err
}

// stripCounts reads the fields strips_<lot>. With every, a field that was left empty is left out, so that a missing count
// is told from none left.
func (c *Context) stripCounts(every bool) (map[string]int, error) {
	out := map[string]int{}
	for name := range c.R.PostForm {
		lot, ok := strings.CutPrefix(name, "strips_")
		if !ok || (every && c.Form(name) == "") {
			continue
		}
		n, err := c.Int(name, "Strips")
		if err != nil {
			return nil, err
		}
		if n != 0 || every {
			out[lot] = n
		}
	}
	return out, nil
}

func (c *Context) broughtForm(d *programme.Day, action, refused string, f *fault.Fault) broughtForm {
	v := broughtForm{Form: c.dayForm("stock", action, refused, f), Lancets: d.Event.Out.Lancets, Sharps: d.Event.Out.Sharps, Base: dayBase(d)}
	day := d.Event.Day(c.now(d))
	for _, l := range d.StripLots {
		n, brought := d.Event.Out.Strips[l.ID]
		if !brought && (l.Withdrawn != "" || stock.Expired("", l.Details.Expiry, day) != "") {
			continue
		}
		row := broughtRow{ID: l.ID, Lot: l.Details.Lot, Brought: n, Note: "expires " + l.Details.Expiry.Long()}
		if brought {
			row.Note = strconv.Itoa(n) + " brought so far; " + row.Note
		}
		v.Lots = append(v.Lots, row)
	}
	for _, m := range d.Meters {
		if m.Quarantine != nil && !d.Event.Brought(m.ID) {
			continue
		}
		v.Meters = append(v.Meters, broughtMeter{ID: m.ID, Label: m.Details.Label + ", serial " + m.Details.Serial, Brought: d.Event.Brought(m.ID)})
	}
	return v
}

// broughtView is the page of stock brought, for what comes during the day.
type broughtView struct {
	Page  ui.Page
	Fault *fault.Fault
	Said  string
	Stock broughtForm
}

func stockOutShow(s *Server, c *Context) error { return c.stockAgain(nil) }

func (c *Context) stockAgain(f *fault.Fault) error {
	d, err := c.Day()
	if err != nil {
		return err
	}
	v := broughtView{Page: c.dayPage(d, "Stock brought", "open"), Fault: f, Stock: c.broughtForm(d, dayBase(d)+"/stock", "stock", f)}
	v.Page.Back = &ui.Link{Href: dayBase(d) + "/board", Label: "Board"}
	v.Said = stockSaid(d)
	return c.Show(f, BroughtPage(v))
}

func stockOutAdd(s *Server, c *Context) error {
	if err := c.bringStock(); err != nil {
		return c.stockAgain(fault.Of(err))
	}
	return c.Done("/events/"+c.R.PathValue("event")+"/stock", "The stock is written down.")
}
