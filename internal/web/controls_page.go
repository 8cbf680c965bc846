package web

import (
	"cmp"
	"fmt"
	"net/url"
	"slices"
	"strings"
	"time"

	"fairstick/internal/civil"
	"fairstick/internal/control"
	"fairstick/internal/event"
	"fairstick/internal/fault"
	"fairstick/internal/programme"
	"fairstick/internal/stock"
	"fairstick/internal/web/ui"
)

// controlsView is the meters brought with what clears them, and the log of the runs.
type controlsView struct {
	Page    ui.Page
	Base    string
	Meters  []controlMeter
	Next    *controlNext // the first run that is still missing
	Uncause []controlRow // failed runs whose cause nobody has written
	Log     []controlRow
	Quality string // the history of all meters, for who may see it
	Event   string
	At      time.Time
}

// controlMeter is one meter with each vial that may be on its table.
type controlMeter struct {
	boardMeter
	Lots []controlLot
}

// controlLot is a vial of a lot on one meter.
type controlLot struct {
	Name, Word, Said string
	Ready, Out       bool
	Next             []controlNext // a run for each level that is missing
}

// controlNext is a run that can be done now.
type controlNext struct {
	Label, Href string
}

// controlRow is one run as it stands in the log.
type controlRow struct {
	ID, Href, At, Meter, Lot, Vial, Level, Solution, Shown, Range, Verdict, Cause, Action, Found, Operator, Room string
	In, Out                                                                                                      bool // Out: its meter is in quarantine
}

var verdictWords = map[string]string{
	string(control.InRange): "In range", string(control.OutOfRange): "Out of range", string(control.NoValue): "No value",
}

func controlsShow(s *Server, c *Context) error {
	d, err := c.Day()
	if err != nil {
		return err
	}
	v := controlsOf(d, c.now(d))
	v.Page = c.dayPage(d, "Controls", "controls")
	v.Page.Lead = "Two levels of control on every meter, with the strips that it will use, before anybody is tested."
	v.Page.Wide = true
	if c.holds(senior) {
		v.Quality = "/quality"
	}
	return c.Show(nil, ControlsPage(v))
}

func controlsOf(d *programme.Day, now time.Time) controlsView {
	v := controlsView{Base: dayBase(d), Event: d.Event.ID, At: now}
	day := d.Event.Day(now)
	clear := d.Clearances(day)
	for _, b := range boardMeterRows(d, now) {
		m := controlMeter{boardMeter: b}
		for _, x := range clear {
			if x.Meter.ID == b.ID {
				m.Lots = append(m.Lots, lotOnMeter(d, x, day))
			}
		}
		v.Meters = append(v.Meters, m)
		if v.Next == nil {
			v.Next = firstNext(m)
		}
	}
	v.Log = controlRows(d)
	for _, r := range v.Log {
		if !r.In && r.Cause == "" {
			v.Uncause = append(v.Uncause, r)
		}
	}
	return v
}

// firstNext is the first missing run of a meter that no lot has cleared yet.
func firstNext(m controlMeter) *controlNext {
	if m.Out || slices.ContainsFunc(m.Lots, func(l controlLot) bool { return l.Ready }) {
		return nil
	}
	for i := range m.Lots {
		if len(m.Lots[i].Next) > 0 {
			return &m.Lots[i].Next[0]
		}
	}
	return nil
}

func lotOnMeter(d *programme.Day, x programme.MeterLot, day civil.Date) controlLot {
	l := controlLot{Name: "Lot " + x.Lot.Details.Lot + ", vial " + x.Vial, Word: clearanceWord(x.Clearance.Key), Said: x.Clearance.Sentence, Ready: x.Clearance.Cleared}
	switch x.Clearance.Key {
	case control.KeyFailed, control.KeyNoCause, control.KeyTakeOut, "quarantined":
		l.Out = true
	}
	if x.Clearance.Cleared {
		l.Said = "Passed both levels, the last at " + x.Clearance.Since.In(d.Event.Zone()).Format("15:04") + "."
	}
	if x.Meter.Quarantine == nil && x.Clearance.Key != control.KeyTakeOut {
		for _, level := range x.Clearance.Missing {
			l.Next = append(l.Next, nextRun(d, x.Meter, x.Lot, x.Vial, level, day))
		}
	}
	return l
}

// nextRun is the run of a level on a meter, with the newest open bottle of that level.
func nextRun(d *programme.Day, m *stock.Meter, lot *stock.StripLot, vial, level string, day civil.Date) controlNext {
	q := url.Values{"meter": {m.ID}, "vial": {lot.ID + "/" + vial}}
	for _, sol := range d.ControlLots {
		if sol.Details.Level != level || !sol.FitsModel(m.Details.Model) {
			continue
		}
		if open := sol.OpenBottles(day); len(open) > 0 {
			q.Set("bottle", sol.ID+"/"+open[0].Name)
			break
		}
	}
	return controlNext{Label: "Run level " + level + " on " + m.Details.Label, Href: dayBase(d) + "/controls/run?" + q.Encode()}
}

// controlRows is the log of the runs, newest first.
func controlRows(d *programme.Day) []controlRow {
	var out []controlRow
	for i := len(d.Event.Runs) - 1; i >= 0; i-- {
		out = append(out, controlRowOf(d, d.Event.Runs[i]))
	}
	return out
}

func controlRowOf(d *programme.Day, r event.Run) controlRow {
	row := controlRow{
		ID: r.ID, Href: dayBase(d) + "/controls/runs/" + r.ID, At: r.At.In(d.Event.Zone()).Format("15:04"), Vial: r.Vial, Level: r.Level,
		Shown: shownWithUnit(r.Reading), Range: r.Low.Number() + " to " + r.High.String(), Verdict: cmp.Or(verdictWords[r.Verdict], r.Verdict),
		Cause: r.Cause, Action: r.Action, Operator: d.NameOf(r.By), In: r.Verdict == string(control.InRange),
	}
	if m := d.MeterByID(r.Meter); m != nil {
		row.Meter, row.Out = m.Details.Label, m.Quarantine != nil
	}
	if l := d.StripLotByID(r.StripLot); l != nil {
		row.Lot = l.Details.Lot
	}
	if sol := d.ControlLotByID(r.ControlLot); sol != nil {
		row.Solution = sol.Details.Lot + ", bottle " + r.Bottle
	}
	if r.Found != nil {
		row.Found = d.NameOf(r.Found.By) + ", " + r.Found.At.In(d.Event.Zone()).Format("15:04")
	}
	if r.Celsius != nil {
		row.Room = fmt.Sprintf("%g °C", *r.Celsius)
	}
	return row
}

// controlMeterView is one meter: what happened to it, and what to do with it.
type controlMeterView struct {
	Page       ui.Page
	Fault      *fault.Fault
	Meter      controlMeter
	Facts      []factRow
	Code       *codeForm
	Void       dayForm
	Causes     []ui.Option
	Quarantine dayForm
	Out        bool
	Back       string
	Quality    string // its history over all events, for who may see it
	Log        []controlRow
}

type factRow struct{ Name, Said string }

// codeForm compares the code on a meter with the code on a vial.
type codeForm struct {
	Form  dayForm
	Meter string
	Lots  []ui.Option
	Said  string // the last comparison
	Query string // the run to go on with afterwards; empty for the meter's own page
}

var voidWords = map[stock.VoidCause]string{
	stock.Dropped: "It was dropped", stock.BatteryChanged: "Its battery was changed", stock.TooHotOrCold: "It was too hot or too cold",
	stock.InDoubt: "A result is in doubt",
}

func controlsMeter(s *Server, c *Context) error { return c.meterAgain("", nil) }

func (c *Context) meterAgain(refused string, f *fault.Fault) error {
	d, err := c.Day()
	if err != nil {
		return err
	}
	m := d.MeterByID(c.R.PathValue("meter"))
	if m == nil || !d.Event.Brought(m.ID) {
		return fault.New(fault.Missing, "no-such-meter", "This meter is not among those brought today.", "", "Go back to Controls and choose one there.")
	}
	base := dayBase(d) + "/controls"
	v := controlMeterView{Page: c.dayPage(d, "Meter "+m.Details.Label, "controls"), Fault: f, Out: m.Quarantine != nil, Back: base}
	v.Page.Back = &ui.Link{Href: base, Label: "Controls"}
	all := controlsOf(d, c.now(d))
	for _, x := range all.Meters {
		if x.ID == m.ID {
			v.Meter = x
		}
	}
	v.Page.Lead, v.Page.Wide = v.Meter.State+".", true
	here := base + "/meters/" + m.ID
	v.Void = c.dayForm("void", here+"/void", refused, f)
	for _, k := range stock.VoidCauses {
		v.Causes = append(v.Causes, ui.Option{Value: string(k), Label: voidWords[k]})
	}
	v.Quarantine = c.dayForm("quarantine", here+"/quarantine", refused, f)
	v.Code = c.codeForm(d, m, "", "", refused, f)
	v.Facts = meterFacts(d, m)
	for _, r := range all.Log {
		if r.Meter == m.Details.Label {
			v.Log = append(v.Log, r)
		}
	}
	if c.holds(senior) {
		v.Quality = "/quality/meters/" + m.ID
	}
	return c.Show(f, ControlMeterPage(v))
}

func meterFacts(d *programme.Day, m *stock.Meter) []factRow {
	zone := d.Event.Zone()
	when := func(t time.Time) string {
		if d.Event.Day(t) == d.Event.Plan.Date {
			return t.In(zone).Format("15:04")
		}
		return t.In(zone).Format("2 Jan 2006, 15:04")
	}
	facts := []factRow{
		{"Serial", m.Details.Serial},
		{"Type", m.Details.Model},
		{"Room", fmt.Sprintf("%g to %g °C%s", m.Details.Limits.TempLow, m.Details.Limits.TempHigh, humidityLimits(m.Details.Limits))},
	}
	if q := m.Quarantine; q != nil {
		facts = append(facts, factRow{"Quarantine", "since " + when(q.At) + ", " + d.NameOf(q.By) + ": " + q.Note})
	}
	for i := len(m.Voids) - 1; i >= 0; i-- {
		x := m.Voids[i]
		word := cmp.Or(voidWords[stock.VoidCause(x.Cause)], "It came back")
		if x.Note != "" {
			word += ": " + x.Note
		}
		facts = append(facts, factRow{"Controls void", when(x.At) + ", " + d.NameOf(x.By) + ". " + word})
	}
	if w, ok := d.Event.Wipes[m.ID]; ok {
		facts = append(facts, factRow{"Wiped", plural(w.Count, "time", "times") + ", last at " + when(w.Start) + " by " + d.NameOf(w.By)})
	}
	return facts
}

// codeForm is nil for a meter that needs no code. lot chooses the lot that is asked for first.
func (c *Context) codeForm(d *programme.Day, m *stock.Meter, lot, query, refused string, f *fault.Fault) *codeForm {
	if m.Details.Coding == stock.CodingNone {
		return nil
	}
	v := &codeForm{Form: c.dayForm("code", dayBase(d)+"/controls/code", refused, f), Meter: m.ID, Query: query}
	for _, l := range d.BroughtLots() {
		if l.Fits(m.Details.Model) && (lot == "" || l.ID == lot) {
			v.Lots = append(v.Lots, ui.Option{Value: l.ID, Label: "Lot " + l.Details.Lot})
		}
	}
	if k, ok := d.Event.Codes[m.ID]; ok {
		v.Said = "At " + k.At.In(d.Event.Zone()).Format("15:04") + " the meter showed " + k.Shown
		if l := d.StripLotByID(k.Lot); l != nil {
			v.Said += "; the vial of lot " + l.Details.Lot + " says " + cmp.Or(l.Details.Code, "no code")
		}
		v.Said += "."
	}
	return v
}

func controlsVoid(s *Server, c *Context) error {
	id := c.R.PathValue("event")
	cmd := programme.VoidMeter{Act: c.Act(), Event: id, Meter: c.R.PathValue("meter"), Cause: c.Form("cause"), Note: c.Form("note")}
	if _, err := s.prog.VoidMeter(c.R.Context(), c.Actor(), cmd); err != nil {
		return c.meterAgain("void", fault.Of(err))
	}
	return c.Done(c.meterPath(), "It is in the record. Run both levels on this meter again before it tests anybody.")
}

func (c *Context) meterPath() string {
	return "/events/" + url.PathEscape(c.R.PathValue("event")) + "/controls/meters/" + url.PathEscape(c.R.PathValue("meter"))
}

func controlsQuarantine(s *Server, c *Context) error {
	cmd := programme.QuarantineMeter{Act: c.Act(), Event: c.R.PathValue("event"), Meter: c.R.PathValue("meter"), Reason: c.Form("reason")}
	if _, err := s.prog.QuarantineMeter(c.R.Context(), c.Actor(), cmd); err != nil {
		return c.meterAgain("quarantine", fault.Of(err))
	}
	return c.Done(c.meterPath(), "The meter is out. Put it in the quarantine bag and tell the lead.")
}

// controlsCode compares the code, then goes on where the comparison was asked for: the run, or the meter.
func controlsCode(s *Server, c *Context) error {
	id := c.R.PathValue("event")
	cmd := programme.CompareCode{Act: c.Act(), Event: id, Meter: c.Form("meter"), StripLot: c.Form("strip_lot"), Shown: c.Form("shown")}
	_, err := s.prog.CompareCode(c.R.Context(), c.Actor(), cmd)
	query := c.Form("query")
	if err != nil {
		if query != "" {
			q, _ := url.ParseQuery(query)
			return c.runAgain(q, "code", fault.Of(err))
		}
		c.R.SetPathValue("meter", c.Form("meter"))
		return c.meterAgain("code", fault.Of(err))
	}
	d, err := c.Day()
	if err != nil {
		return err
	}
	said := "The code is compared."
	if m, l := d.MeterByID(cmd.Meter), d.StripLotByID(cmd.StripLot); m != nil && l != nil {
		k := d.Event.Codes[m.ID]
		if k.Shown == l.Details.Code {
			said = "The codes agree: meter " + m.Details.Label + " and lot " + l.Details.Lot + " say " + k.Shown + "."
		} else {
			said = "The codes differ: meter " + m.Details.Label + " shows " + k.Shown + ", the vial of lot " + l.Details.Lot + " says " + l.Details.Code + ". Set the meter, then compare again."
		}
	}
	if query != "" {
		q, err := url.ParseQuery(query)
		if err != nil {
			q = url.Values{}
		}
		return c.Done("/events/"+url.PathEscape(id)+"/controls/run?"+q.Encode(), said)
	}
	return c.Done("/events/"+url.PathEscape(id)+"/controls/meters/"+url.PathEscape(cmd.Meter), said)
}

// containersView is opening and throwing away vials and bottles.
type containersView struct {
	Page                                 ui.Page
	Fault                                *fault.Fault
	Vial, Bottle, ThrowVial, ThrowBottle dayForm
	Lots, Solutions                      []ui.Option
	Vials, Bottles                       []containerRow
	OpenVials, OpenBottles               []ui.Option
	Today                                string
}

// containerRow is one vial or bottle with the last day of its use.
type containerRow struct {
	Lot, Name, Opened, Discard, State string
	Usable                            bool
}

func controlsContainers(s *Server, c *Context) error { return c.containersAgain("", nil) }

func (c *Context) containersAgain(refused string, f *fault.Fault) error {
	d, err := c.Day()
	if err != nil {
		return err
	}
	base := dayBase(d) + "/controls"
	here := base + "/containers/"
	day := d.Event.Day(c.now(d))
	v := containersView{
		Page: c.dayPage(d, "Vials and bottles", "controls"), Fault: f, Today: day.String(),
		Vial: c.dayForm("vial", here+"vial", refused, f), Bottle: c.dayForm("bottle", here+"bottle", refused, f),
		ThrowVial: c.dayForm("throw-vial", here+"throw-vial", refused, f), ThrowBottle: c.dayForm("throw-bottle", here+"throw-bottle", refused, f),
	}
	v.Page.Back = &ui.Link{Href: base, Label: "Controls"}
	v.Page.Lead = "Write the day of opening on the vial or bottle itself, too."
	for _, l := range d.BroughtLots() {
		v.Lots = append(v.Lots, ui.Option{Value: l.ID, Label: "Lot " + l.Details.Lot + ", " + lastDay(l.Details.InUseDays, l.Details.Expiry)})
		for _, x := range l.Vials {
			row := containerRowOf(l.Details.Lot, x, l.Usable(x.Name, day))
			v.Vials = append(v.Vials, row)
			if x.Discarded == "" {
				v.OpenVials = append(v.OpenVials, ui.Option{Value: l.ID + "/" + x.Name, Label: "Lot " + l.Details.Lot + ", vial " + x.Name})
			}
		}
	}
	for _, sol := range d.ControlLots {
		name := "Level " + sol.Details.Level + ", lot " + sol.Details.Lot
		v.Solutions = append(v.Solutions, ui.Option{Value: sol.ID, Label: name + ", " + lastDay(sol.Details.InUseDays, sol.Details.Expiry)})
		for _, x := range sol.Bottles {
			v.Bottles = append(v.Bottles, containerRowOf(name, x, sol.Usable(x.Name, day)))
			if x.Discarded == "" {
				v.OpenBottles = append(v.OpenBottles, ui.Option{Value: sol.ID + "/" + x.Name, Label: name + ", bottle " + x.Name})
			}
		}
	}
	return c.Show(f, ContainersPage(v))
}

func containerRowOf(lot string, x stock.Container, why string) containerRow {
	row := containerRow{Lot: lot, Name: x.Name, Opened: x.Opened.Long(), Discard: x.Discard.Long(), State: "Usable", Usable: why == ""}
	switch {
	case x.Discarded != "":
		row.State = "Thrown away: " + x.Discarded
	case why != "":
		row.State = why
	}
	return row
}

// lastDay says how long a container is good after it is opened.
func lastDay(inUse int, expiry civil.Date) string {
	if inUse <= 0 {
		return "good until " + expiry.Long()
	}
	return fmt.Sprintf("good for %d days after opening, until %s at the latest", inUse, expiry.Long())
}

func (c *Context) containersPath() string {
	return "/events/" + url.PathEscape(c.R.PathValue("event")) + "/controls/containers"
}

func controlsOpenVial(s *Server, c *Context) error {
	cmd := programme.OpenVial{Act: c.Act(), StripLot: c.Form("strip_lot"), Vial: c.Form("vial"), On: c.Form("on")}
	if _, err := s.prog.OpenVial(c.R.Context(), c.Actor(), cmd); err != nil {
		return c.containersAgain("vial", fault.Of(err))
	}
	said := "The vial is open."
	if d, err := c.Day(); err == nil {
		if l := d.StripLotByID(cmd.StripLot); l != nil && len(l.Vials) > 0 {
			x := l.Vials[len(l.Vials)-1]
			said = "Vial " + x.Name + " of lot " + l.Details.Lot + " is open. Last day of use: " + x.Discard.Long() + ". Write it on the vial."
		}
	}
	return c.Done(c.containersPath(), said)
}

func controlsOpenBottle(s *Server, c *Context) error {
	cmd := programme.OpenBottle{Act: c.Act(), ControlLot: c.Form("control_lot"), Bottle: c.Form("bottle"), On: c.Form("on")}
	if _, err := s.prog.OpenBottle(c.R.Context(), c.Actor(), cmd); err != nil {
		return c.containersAgain("bottle", fault.Of(err))
	}
	said := "The bottle is open."
	if d, err := c.Day(); err == nil {
		if l := d.ControlLotByID(cmd.ControlLot); l != nil && len(l.Bottles) > 0 {
			x := l.Bottles[len(l.Bottles)-1]
			said = "Bottle " + x.Name + " of lot " + l.Details.Lot + " is open. Last day of use: " + x.Discard.Long() + ". Write it on the bottle."
		}
	}
	return c.Done(c.containersPath(), said)
}

func controlsThrowVial(s *Server, c *Context) error {
	lot, name, _ := strings.Cut(c.Form("container"), "/")
	if _, err := s.prog.ThrowVial(c.R.Context(), c.Actor(), programme.Throw{Act: c.Act(), Lot: lot, Container: name, Reason: c.Form("reason")}); err != nil {
		return c.containersAgain("throw-vial", fault.Of(err))
	}
	return c.Done(c.containersPath(), "Vial "+name+" is thrown away.")
}

func controlsThrowBottle(s *Server, c *Context) error {
	lot, name, _ := strings.Cut(c.Form("container"), "/")
	if _, err := s.prog.ThrowBottle(c.R.Context(), c.Actor(), programme.Throw{Act: c.Act(), Lot: lot, Container: name, Reason: c.Form("reason")}); err != nil {
		return c.containersAgain("throw-bottle", fault.Of(err))
	}
	return c.Done(c.containersPath(), "Bottle "+name+" is thrown away.")
}
