package web

import (
	"cmp"
	"fmt"
	"strings"

	"fairstick/internal/fault"
	"fairstick/internal/glucose"
	"fairstick/internal/programme"
	"fairstick/internal/protocol"
	"fairstick/internal/visit"
	"fairstick/internal/web/ui"
)

// The stages of a visit at a test station, one act each.
const (
	testAway    = "away"    // it is not for this station now
	testTaken   = "taken"   // another station has it
	testFree    = "free"    // it waits, and nobody has it
	testHands   = "hands"   // hands first
	testShown   = "shown"   // what the meter shows
	testCheck   = "check"   // the read-back
	testOutcome = "outcome" // what comes next, then lancet and meter
)

// readingView is one stage of one visit at a test station.
type readingView struct {
	Page       ui.Page
	Fault      *fault.Fault
	InSpanish  string // what to do with a number that is on the meter, for a device that is set to Spanish
	Base, Path string
	ID, Ticket string
	Stage      string
	Station    string
	Command    string
	Row        queueRow // for a ticket that another station has

	Cautions []string
	Ate      string
	Table    []tableFact
	Shut     []shutGate // the gates spoke before; they speak here too when one has shut since
	Wet      *ui.Timer
	Wiping   bool // the meter must be wiped before this person

	Before    []string // the readings so far
	Repeat    string   // why a repeat is due
	AfterCode bool     // the last strip gave an error code
	Recheck   *ui.Timer
	Critical  string // address of the open care
	CareText  string

	Hands, Same, Again  string // travel with the form
	Unit                string
	Decimal             bool
	Shown, Typed        string
	Misfires, Voluntary string
	Second              bool // a second person confirms instead of a second typing
	SecondPeople        []ui.Option
	SecondPerson        string
	Agree               bool // a supervisor must agree to this stick
	Had                 int
	Supervisors         []ui.Option
	AgreedPerson        string

	Next, NextWhy string // outcome
	Cleared       bool
	Where         string
}

func testVisit(_ *Server, c *Context) error { return c.showReading(nil, "") }

// showReading renders a stage; an empty one is derived from the visit.
func (c *Context) showReading(f *fault.Fault, stage string) error {
	d, v, err := c.visit()
	if err != nil {
		return err
	}
	now, seat := c.now(d), c.seat(d, visit.AtTest)
	view := readingView{
		Fault: f, Base: dayBase(d), ID: v.ID, Ticket: ticketText(v.Ticket), Station: seat.Station, Command: c.command(), Ate: c.say().ateText(d, v, now), Table: tableFacts(d, seat),
		Hands: c.field("hands"), Same: c.field("same"), Again: c.field("again"), Misfires: cmp.Or(c.Form("misfires"), "0"), Voluntary: c.Form("voluntary"),
		SecondPerson: c.Form("second_person"), AgreedPerson: c.Form("agreed_person"), Where: c.say().whereabouts(v),
	}
	view.Path = view.Base + "/test/" + v.ID
	if stage == "" {
		stage = testStage(d, v, seat.Station, view.Hands, view.Again)
	}
	view.Stage = stage
	switch {
	case stage == testCheck:
		view.Typed = c.Form("reading")
	case f == nil || f.Key != "read-back-differs": // two numbers that differ are both forgotten
		view.Shown = c.Form("reading")
	}
	view.InSpanish = c.numberInSpanish(f)
	view.Page = c.stationPage(d, "Ticket "+view.Ticket, view.Base+"/test", "The line")
	if stage == testShown || stage == testCheck {
		view.Page.Back = nil // the bar leads back
	}
	if v.Answers != nil {
		for _, t := range v.Answers.Cautions {
			view.Cautions = append(view.Cautions, t.In("en"))
		}
	}
	if v.OpenCare() {
		view.Critical, view.CareText = view.Base+"/care/"+v.ID, careText(d, v)
	}
	if v.Taken != nil {
		view.Row = queueRow{Ticket: view.Ticket, Where: v.Taken.Station}
	}
	if stage == testTaken && view.Fault == nil {
		view.Fault = elsewhere(v)
		return c.Render(status(view.Fault), readingPage(view))
	}
	c.fillReading(d, v, &view)
	if stage == testOutcome {
		fillOutcome(d, v, &view)
	}
	return c.Show(f, readingPage(view))
}

// numberInSpanish says what to do with a number on the meter when a gate is shut, on a device that is set to Spanish: the page
// is English, and this must be understood at once.
func (c *Context) numberInSpanish(f *fault.Fault) string {
	if f == nil || c.Device.Lang != "es" {
		return ""
	}
	advice := programme.NumberAdvice(f.Key)
	if advice == "" || !strings.HasSuffix(f.Do, advice) {
		return ""
	}
	said, _ := inSpanish(advice)
	if strings.HasPrefix(f.Do, programme.NumberNeedsCare) {
		first, _ := inSpanish(programme.NumberNeedsCare)
		said = first + " " + said
	}
	return said
}

// testStage derives what this station does with a visit now.
func testStage(d *programme.Day, v *visit.State, station, hands, again string) string {
	n := len(v.Readings)
	here := n > 0 && station != "" && v.Readings[n-1].Station == station
	switch {
	case v.Phase() == visit.AtTest && v.Taken == nil:
		return testFree
	case v.Phase() == visit.AtTest && v.Taken.Station != station:
		return testTaken
	case v.Phase() == visit.AtTest || !v.Phase().Ended() && station != "" && (d.RecheckDue(v) || again != "" && here):
		if hands == "" {
			return testHands
		}
		return testShown
	case here:
		return testOutcome
	}
	return testAway
}

func (c *Context) fillReading(d *programme.Day, v *visit.State, view *readingView) {
	now, seat := c.now(d), c.seat(d, visit.AtTest)
	for _, r := range v.Readings {
		view.Before = append(view.Before, shownWithUnit(r.Reading)+" at "+r.At.In(now.Location()).Format("15:04"))
	}
	if v.Found != nil && v.Found.Repeat {
		view.Repeat = v.Found.Because
	}
	if n := len(v.Readings); n > 0 {
		view.AfterCode = v.Readings[n-1].Reading.Kind == glucose.Error
	}
	if d.RecheckDue(v) {
		t := sugarTimer(c.say(), d, v, now, false)
		view.Recheck = &t
	}
	if m := d.MeterByID(seat.Meter); m != nil {
		view.Unit, view.Decimal = string(m.Details.Unit), m.Details.Unit == glucose.MmolPerL
	}
	view.Second = d.Protocol.ReadBack == protocol.SecondPerson
	had, agree := d.NextStick(v)
	view.Had, view.Agree = had, agree && view.Same == ""
	for _, p := range d.Signers("screener", "counsellor", "desk", "supervisor", "lead", "runner") {
		if p.ID != c.Me.ID {
			view.SecondPeople = append(view.SecondPeople, ui.Option{Value: p.ID, Label: p.Details.Name})
		}
	}
	view.Supervisors = signers(d.Signers("supervisor", "lead"))
	gates, wet := d.StationGates(c.Me, seat, now)
	touched := len(v.Readings) > 0 && v.Readings[len(v.Readings)-1].Meter == seat.Meter
	if wet > 0 {
		view.Wet = wetTimer(d, seat.Meter, now)
	}
	for _, g := range gates {
		switch {
		case g.Open(), g.Key == "care" && v.OpenCare():
		case g.Key == "wiped" && touched: // it touched this person last
		default:
			view.Shut = append(view.Shut, c.shutGate(d, seat, g))
		}
	}
}

// fillOutcome says where the person goes now.
func fillOutcome(d *programme.Day, v *visit.State, view *readingView) {
	view.Cleared = d.ClearedUp(v)
	switch {
	case v.Phase().Ended():
		view.Next, view.NextWhy = "This visit has ended.", "The lancet and the meter are still yours."
	case v.OpenCare() && v.Care.Critical():
		view.Next, view.NextWhy = "Stay with the person.", "A supervisor is called on every screen."
	case v.OpenCare():
		view.Next, view.NextWhy = "Give care first.", careText(d, v)
	default:
		view.Next, view.NextWhy = "Send to Explain.", v.Found.Why
	}
}

// testFirst takes the reading once and asks for it a second time, or for a second person.
func testFirst(_ *Server, c *Context) error {
	d, _, err := c.visit()
	if err != nil {
		return err
	}
	if _, err := d.CheckReading(c.seat(d, visit.AtTest).Meter, c.Form("reading")); err != nil {
		return c.showReading(fault.Of(err), testShown)
	}
	if c.Form("again") != "" && c.Form("voluntary") == "" {
		return c.showReading(fault.BadField("voluntary", "Write why another reading is taken."), testShown)
	}
	if err := misfired(c); err != nil {
		return c.showReading(fault.Of(err), testShown)
	}
	return c.showReading(nil, testCheck)
}

func misfired(c *Context) error {
	n, err := c.Int("misfires", "Lancets that did not work")
	if err == nil && (n < 0 || n > mostMisfires) {
		err = fault.BadField("misfires", "Type how many lancets did not work, from 0 to %d.", mostMisfires)
	}
	return err
}

const mostMisfires = 9

// testReading records the reading.
func testReading(s *Server, c *Context) error {
	d, v, err := c.visit()
	if err != nil {
		return err
	}
	seat := c.seat(d, visit.AtTest)
	if err := misfired(c); err != nil {
		return c.showReading(fault.Of(err), testShown)
	}
	misfires, err := c.Int("misfires", "Lancets that did not work")
	if err != nil {
		return err
	}
	cmd := programme.TakeReading{
		Act: c.Act(), Visit: v.ID, Station: seat.Station, Meter: seat.Meter, StripLot: seat.StripLot, Vial: seat.Vial,
		Reading: c.Form("reading"), Again: c.Form("typed"), Second: c.Sign("second"), SameStick: c.Form("same") != "", Misfires: misfires,
		Washed: c.Form("hands") == handsWashed, Voluntary: c.Form("voluntary"), Agreed: c.Sign("agreed"),
	}
	out, err := s.prog.TakeReading(c.R.Context(), c.Actor(), cmd)
	if err != nil {
		f := fault.Of(err)
		switch {
		case f.Key == "read-back-differs" || f.Fields["reading"] != "":
			return c.showReading(f, testShown)
		case f.Key == "elsewhere" || f.Key == "visit-ended" || f.Key == "has-result":
			return c.showReading(f, "")
		case f.Kind == fault.Internal:
			return err
		}
		return c.showReading(f, testCheck)
	}
	return c.Done(dayBase(d)+"/test/"+v.ID, recordedText(out))
}

// handsWashed is how the form says that the hands were washed with soap and water.
const handsWashed = "washed"

func recordedText(r programme.Read) string {
	if r.Finding == nil && !r.Repeat {
		return fmt.Sprintf("Recorded: meter error %s. That is no value.", r.Shown)
	}
	return fmt.Sprintf("Recorded: %s %s.", r.Shown, r.Unit)
}

// testClear ends the work on one person: the lancet is in sharps, and the clock of the wipe starts.
func testClear(s *Server, c *Context) error {
	d, v, err := c.visit()
	if err != nil {
		return err
	}
	seat := c.seat(d, visit.AtTest)
	_, err = s.prog.FinishTest(c.R.Context(), c.Actor(), programme.FinishTest{Act: c.Act(), Visit: v.ID, Station: seat.Station, Meter: seat.Meter, Disinfectant: seat.Disinfectant})
	if err != nil {
		return c.showReading(fault.Of(err), "")
	}
	return c.Done(dayBase(d)+"/test", "Ticket "+ticketText(v.Ticket)+": lancet in sharps, meter wiped.")
}

// testDecline records a no at the test seat.
func testDecline(s *Server, c *Context) error {
	d, v, err := c.visit()
	if err != nil {
		return err
	}
	if _, err := s.prog.Decline(c.R.Context(), c.Actor(), programme.Decline{Act: c.Act(), Visit: v.ID, What: "fingerstick", Reason: c.Form("reason")}); err != nil {
		return c.showReading(fault.Of(err), "")
	}
	return c.Done(dayBase(d)+"/test", "Ticket "+ticketText(v.Ticket)+" said no. It is counted.")
}

// gateForms is what the forms that open a gate need.
type gateForms struct {
	Command, Shown, Wrong, WipeLabel, Me string
}

// handsHref leads from the hands to the number pad.
func handsHref(v readingView, hands, same string) string {
	return v.Path + "?hands=" + hands + "&same=" + same + "&again=" + escapeQuery(v.Again)
}

// signWrong is the message for one of two signatures of a form; a wrong PIN belongs to the one that was tried.
func signWrong(v readingView, field string, tried bool) string {
	if m := ui.Message(v.Fault, field); m != "" || !tried {
		return m
	}
	return ui.Message(v.Fault, "sign_pin")
}
