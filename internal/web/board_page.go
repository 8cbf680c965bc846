package web

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"fairstick/internal/control"
	"fairstick/internal/event"
	"fairstick/internal/programme"
	"fairstick/internal/stock"
	"fairstick/internal/visit"
	"fairstick/internal/web/ui"
)

// longWait is the wait from which the board says "long wait", in minutes: the ninetieth percentile of a well-staffed
// queue in planning (common practice).
const longWait = 15

// boardView is the day at a glance. It holds no name of a participant: tickets alone.
type boardView struct {
	Page    ui.Page
	Base    string
	At      time.Time
	Phase   event.Phase
	Figures []ui.Figure
	Columns []boardColumn
	Meters  []boardMeter
	Stock   []ui.Figure
	Notes   []boardNote

	NotesTone  ui.Tone
	NotesTitle string
}

type boardColumn struct {
	Heading, Count, Empty string
	Tickets               []ui.Waiting
}

type boardMeter struct {
	ID, Name, State, Note, Href string
	Ready, Out                  bool
	Wet                         *ui.Timer
}

// boardNote is one matter that wants the lead's eye. Urgent ones stand out; critical care has the banner of every screen.
type boardNote struct {
	Text, Href, Action string
	Urgent             bool
}

func boardShow(s *Server, c *Context) error {
	d, err := c.Day()
	if err != nil {
		return err
	}
	v := boardOf(d, c.now(d), s.laptop())
	v.Page = c.dayPage(d, "Board", "board")
	v.Page.Wide = true
	v.Page.Title = d.Event.Plan.Name
	return c.Show(nil, BoardPage(v))
}

// laptop is how this laptop itself does: whether the second copy is written, whether its clock can be trusted.
type laptop struct {
	Copy  programme.CopyState
	Clock programme.ClockState
}

func (s *Server) laptop() laptop { return laptop{s.prog.CopyState(), s.prog.ClockState()} }

// boardOf is the board of a day at a moment in the zone of the event, with how the laptop does.
func boardOf(d *programme.Day, now time.Time, l laptop) boardView {
	v := boardView{Base: dayBase(d), At: now, Phase: d.Event.Phase}
	n := d.Counts()
	desk, test, explain := d.Waiting(visit.AtDesk), d.Waiting(visit.AtTest), d.Waiting(visit.AtExplain)
	v.Figures = []ui.Figure{
		{Label: "Arrived", Number: fmt.Sprint(n.Arrived), Of: fmt.Sprintf("of %d expected", d.Event.Plan.Expected)},
		{Label: "Inside now", Number: fmt.Sprint(len(desk) + len(test) + len(explain)), Of: fmt.Sprintf("of %d arrived", n.Arrived)},
		{Label: "Tested", Number: fmt.Sprint(n.Tested), Of: fmt.Sprintf("of %d arrived", n.Arrived)},
		{Label: "Explained", Number: fmt.Sprint(n.Explained), Of: fmt.Sprintf("of %d tested", n.Tested)},
		{
			Label: "Not tested", Number: fmt.Sprint(n.NotEligible + n.Declined + n.Left),
			Of: fmt.Sprintf("%d not eligible, %d declined, %d left", n.NotEligible, n.Declined, n.Left),
		},
	}
	v.Columns = []boardColumn{
		v.column("Desk", desk, now),
		v.column("Test", test, now),
		v.column("Explain", explain, now),
	}
	v.Meters = boardMeterRows(d, now)
	v.stock(d)
	v.notes(d, len(desk)+len(test), now)
	if l.Clock.Ask && (v.Phase == event.IsOpen || v.Phase == event.IsDoorsClosed) {
		v.Notes = append(v.Notes, boardNote{Text: l.Clock.Sentence(now.Location()), Href: v.Base + "/clock", Action: "Say which is right"})
		v.titleNotes()
	}
	if l.Copy.Fault != nil {
		v.Notes = append(v.Notes, boardNote{Text: l.Copy.Fault.Sentence, Href: "/keep", Action: "Second copy"})
		v.titleNotes()
	}
	return v
}

func (v *boardView) column(heading string, list []*visit.State, now time.Time) boardColumn {
	col := boardColumn{Heading: heading, Empty: "Nobody waits here."}
	taken := 0
	// care comes before every wait; the rest keep their order, longest wait first
	list = slices.Clone(list)
	slices.SortStableFunc(list, func(a, b *visit.State) int { return careRank(a) - careRank(b) })
	for _, x := range list {
		if x.Taken != nil {
			taken++
		}
		col.Tickets = append(col.Tickets, v.ticket(x, now))
	}
	col.Count = fmt.Sprintf("%d waiting", len(list)-taken)
	if taken > 0 {
		col.Count += fmt.Sprintf(", %d called", taken)
	}
	return col
}

// careRank puts critical care first, then other care, then everybody else.
func careRank(v *visit.State) int {
	switch {
	case v.OpenCare() && v.Care.Critical():
		return 0
	case v.OpenCare():
		return 1
	}
	return 2
}

func (v *boardView) ticket(x *visit.State, now time.Time) ui.Waiting {
	w := ui.Waiting{Ticket: ticketText(x.Ticket), Minutes: ui.WholeMinutes(programme.Since(x), now)}
	w.Late = w.Minutes >= longWait && x.Taken == nil
	var notes []string
	if x.Taken != nil {
		notes = append(notes, "at station "+x.Taken.Station)
	}
	if x.Language != "en" {
		notes = append(notes, languageName(x.Language))
	}
	if x.Found != nil && x.Found.Repeat {
		notes = append(notes, "repeat due")
	}
	if x.OpenCare() {
		w.Urgent, w.Word, w.Href = true, careWord(x.Care), v.Base+"/care/"+x.ID
	} else {
		w.Href = v.Base + "/" + string(x.Phase()) + "/" + x.ID
	}
	w.Note = strings.Join(notes, ", ")
	return w
}

// clearanceWord is the state of a meter in two words.
func clearanceWord(key string) string {
	switch key {
	case control.KeyCleared:
		return "Cleared"
	case control.KeyFailed, control.KeyNoCause:
		return "Stop: control out of range"
	case control.KeyTakeOut, "quarantined":
		return "Out of use"
	case control.KeyVoid:
		return "Controls again"
	}
	return "Controls first"
}

// boardMeterRows tells for each meter brought whether it may test people now.
func boardMeterRows(d *programme.Day, now time.Time) []boardMeter {
	clear := d.Clearances(d.Event.Day(now))
	var out []boardMeter
	for _, m := range d.BroughtMeters() {
		row := boardMeter{ID: m.ID, Name: m.Details.Label, Href: dayBase(d) + "/controls/meters/" + m.ID}
		row.judge(d, m, clear)
		if w, ok := d.Event.Wipes[m.ID]; ok && now.Before(w.Until()) && row.Ready {
			row.State, row.Ready = "Wet", false
			row.Wet = &ui.Timer{ID: "wet-" + m.ID, Text: "Wiped", Done: "Dry", Start: w.Start.In(now.Location()), Now: now, Seconds: w.Seconds, Compact: true}
		}
		out = append(out, row)
	}
	return out
}

func (row *boardMeter) judge(d *programme.Day, m *stock.Meter, all []programme.MeterLot) {
	if m.Quarantine != nil {
		row.State, row.Out, row.Note = clearanceWord("quarantined"), true, m.Quarantine.Note
		return
	}
	var with, without []string
	key := ""
	for _, c := range all {
		if c.Meter.ID != m.ID {
			continue
		}
		lot := "lot " + c.Lot.Details.Lot
		if c.Clearance.Cleared {
			with = appendNew(with, lot)
			continue
		}
		without = appendNew(without, lot)
		if key == "" || c.Clearance.Key == control.KeyFailed || c.Clearance.Key == control.KeyNoCause {
			key = c.Clearance.Key
		}
	}
	switch {
	case len(with) > 0:
		row.State, row.Ready, row.Note = "Cleared", true, "with "+strings.Join(with, ", ")
		if key == control.KeyFailed || key == control.KeyNoCause {
			row.Note += "; out of range with " + strings.Join(without, ", ")
		}
	case key == "":
		row.State, row.Note = "No strips", "no opened vial that fits"
	default:
		row.State, row.Note = clearanceWord(key), strings.Join(without, ", ")
		row.Out = key == control.KeyFailed || key == control.KeyNoCause || key == control.KeyTakeOut
	}
}

func appendNew(list []string, x string) []string {
	if contains(list, x) {
		return list
	}
	return append(list, x)
}

func (v *boardView) stock(d *programme.Day) {
	for _, l := range d.BroughtLots() {
		v.Stock = append(v.Stock, ui.Figure{Label: "Strips of lot " + l.Details.Lot, Number: fmt.Sprint(d.StripsLeft(l.ID)), Of: fmt.Sprintf("of %d left, as computed", d.Event.Out.Strips[l.ID])})
	}
	if d.Event.Out.Lancets > 0 {
		v.Stock = append(v.Stock, ui.Figure{Label: "Lancets", Number: fmt.Sprint(d.LancetsLeft()), Of: fmt.Sprintf("of %d left, as computed", d.Event.Out.Lancets)})
	}
}

// titleNotes puts a heading over the notes.
func (v *boardView) titleNotes() {
	v.NotesTone, v.NotesTitle = ui.Caution, plural(len(v.Notes), "matter wants", "matters want")+" the lead's eye"
}

// notes lists what wants the lead's eye, the most urgent first.
func (v *boardView) notes(d *programme.Day, before int, now time.Time) {
	defer v.titleNotes()
	for _, x := range d.Alerts() {
		if x.Care.Critical() {
			continue
		}
		v.Notes = append(v.Notes, boardNote{Text: careWord(x.Care) + ". " + careText(d, x), Href: v.Base + "/care/" + x.ID, Action: "Go there", Urgent: true})
	}
	v.Notes = append(v.Notes, incidentBoardNotes(d)...)
	if n := len(d.SlipsDue()); n > 0 {
		v.Notes = append(v.Notes, boardNote{Text: plural(n, "person who has gone has", "people who have gone have") + " a slip that must be replaced.", Href: v.Base + "/corrections", Action: "Corrections"})
	}
	v.callNotes(d, now)
	if d.Event.Phase == event.IsPlanned || d.Event.Phase == event.IsClosed {
		return
	}
	if g, _ := d.Supervision(); g.Fault != nil {
		v.Notes = append(v.Notes, boardNote{Text: g.Fault.Sentence, Href: v.Base + "/roster", Action: "Roster"})
	}
	ready := 0
	for _, m := range v.Meters {
		if m.Ready || m.Wet != nil {
			ready++
		}
		if m.Out {
			v.Notes = append(v.Notes, boardNote{Text: "Meter " + m.Name + ": " + m.State + ".", Href: m.Href, Action: "Look"})
		}
	}
	if ready == 0 {
		v.Notes = append(v.Notes, boardNote{Text: "No meter is cleared: nobody can be tested.", Href: v.Base + "/controls", Action: "Run controls"})
	}
	left := 0
	for _, l := range d.BroughtLots() {
		left += d.StripsLeft(l.ID)
	}
	for _, s := range []struct {
		n    int
		what string
	}{{left, "strip"}, {d.LancetsLeft(), "lancet"}} {
		if s.n < before || s.n <= 0 {
			v.Notes = append(v.Notes, boardNote{
				Text: fmt.Sprintf("%s left for %s before the test.", plural(max(0, s.n), s.what, s.what+"s"), plural(before, "person", "people")),
				Href: v.Base + "/stock", Action: "Bring more",
			})
		}
	}
	for _, g := range d.DigitAlarms() {
		v.Notes = append(v.Notes, boardNote{Text: g.Sentence(), Href: v.Base + "/digits/" + g.Group, Action: "Compare"})
	}
	for _, a := range d.Drift() {
		v.Notes = append(v.Notes, boardNote{Text: strings.Join([]string{a.What, a.Why, a.Do}, " "), Href: v.Base + "/controls", Action: "Run controls"})
	}
	late := 0
	for _, col := range v.Columns {
		for _, t := range col.Tickets {
			if t.Late {
				late++
			}
		}
	}
	if late > 0 {
		v.Notes = append(v.Notes, boardNote{Text: fmt.Sprintf("%s waited %d minutes or longer.", plural(late, "person has", "people have"), longWait)})
	}
}
