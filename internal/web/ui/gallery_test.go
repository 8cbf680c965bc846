package ui

import (
	"context"
	"io"
	"time"

	"fairstick/internal/fault"

	"github.com/a-h/templ"
)

// sample is one page made of the parts, filled or empty; the tests in this package look at each of them.
type sample struct {
	name string
	page templ.Component
}

// with renders a component around children.
func with(c templ.Component, children ...templ.Component) templ.Component {
	return templ.ComponentFunc(func(ctx context.Context, w io.Writer) error {
		return c.Render(templ.WithChildren(ctx, templ.Join(children...)), w)
	})
}

func raw(html string) templ.Component { return templ.Raw(html) }

var noon = time.Date(2026, 10, 17, 10, 41, 20, 0, time.UTC)

func shell(station, title string) Page {
	return Page{
		Title: title, Programme: "Larch Hill Screening", Station: station, Who: "Ada Fennimore", Role: "screener",
		HandOver: "/hand-over", Demo: true,
	}
}

func samples() []sample {
	return []sample{
		{"reading", readingPage(false)},
		{"reading-wrong", readingPage(true)},
		{"desk", deskPage()},
		{"gate", gatePage()},
		{"explain", explainPage()},
		{"board", boardPage()},
		{"office", officePage()},
		{"empty", emptyPage()},
		{"slip", slipPage()},
		{"spare", sparePage()},
	}
}

func readingPage(wrong bool) templ.Component {
	p := shell("Test 2", "Reading")
	p.Ticket, p.Lead, p.Back = "14", "Meter 3, lot 4471. Last food over 9 hours ago.", &Link{Href: "/test"}
	pad := Pad{Name: "reading", Label: "What the meter shows", Unit: "mg/dL", Reading: true, Focus: true}
	var f *fault.Fault
	if wrong {
		f = fault.BadField("reading", "9500 is more than any meter shows.")
		pad.Value, pad.Error = "9500", f.Fields["reading"]
	}
	return with(Shell(p),
		Steps([]Step{{Label: "Gates", Href: "/a", State: StepDone}, {Label: "Hands", Href: "/b", State: StepDone}, {Label: "Reading", State: StepNow}, {Label: "Wipe", State: StepNext}}),
		ErrorSummary(f),
		with(Form(Sheet{Action: "/reading", Command: "c-1", Draft: "reading-14"}), NumberPad(pad), with(Bar(), LinkButton("Meter error", "/error"), Submit("Record the reading"))))
}

func deskPage() templ.Component {
	p := shell("Desk", "New ticket")
	p.Nav = []Link{{Href: "/desk", Label: "Desk", Current: true}, {Href: "/waiting", Label: "Waiting", Count: "3"}, {Href: "/board", Label: "Board"}}
	f := fault.New(fault.Invalid, "fields", "Two answers are missing.", "Without them we cannot tell if a test is right for this person.", "Ask the two questions below.").
		Field("diabetes", "Answer this question.").Field("born", "Give a year from 1900.")
	return with(Shell(p), ErrorSummary(f),
		with(Form(Sheet{Action: "/desk", Command: "c-2", Draft: "desk-15"}),
			with(Section("s-lang", "Language and consent"),
				Choice(Pick{Name: "lang", Legend: "Language", Row: true, Value: "es", Options: []Option{{Value: "en", Label: "English"}, {Value: "es", Label: "Español"}}}),
				Check(Box{Name: "consent", Label: "The consent text was read, and the person agrees", Help: "Version 3, 1 Oct 2026", Required: true})),
			with(Section("s-fit", "Is a test right for this person?"),
				YesNo(Ask{Name: "diabetes", Legend: "Do you know that you have diabetes?", Help: "If yes, we do not test today.", Error: f.Fields["diabetes"], Unsure: "Not known"}),
				Field(Input{Name: "born", Label: "Year of birth", Kind: Number, Width: Short, MaxLength: 4, Error: f.Fields["born"], Value: "190"}),
				Field(Input{Name: "food", Label: "Last food or drink with sugar", Kind: Time, Width: Short, Help: "Water does not count."})),
			with(Section("s-call", "May we call?"),
				Field(Input{Name: "name", Label: "Name", Optional: true, Private: true, Width: Medium}),
				Field(Input{Name: "phone", Label: "Phone", Kind: Tel, Optional: true, Private: true, Width: Medium}),
				Field(Input{Name: "note", Label: "Note for the next station", Kind: Area, Optional: true}),
				Field(Input{Name: "weight", Label: "Weight", Kind: Number, Unit: "kg", Optional: true, Width: Short}),
				Field(Input{Name: "venue", Label: "Where they heard of us", Kind: Select, Optional: true, Options: []Option{{Label: "Choose"}, {Value: "poster", Label: "A poster"}}})),
			with(Bar(), Other("act", "leave", "Person leaves"), Submit("Give ticket 15"))))
}

func gatePage() templ.Component {
	p := shell("Test 2", "Ready to test?")
	f := fault.New(fault.Refused, "uncleared", "Meter 3 may not test people yet.", "The high control ran out of range at 10:12, so its readings cannot be trusted.", "Run the high control again, or take another meter.")
	f.Override = "supervisor"
	return with(Shell(p),
		with(Refusal(f), MainLink("Run the high control", "/controls/3"), LinkButton("Take another meter", "/meters")),
		Countdown(Timer{ID: "wipe", Text: "Wipe the meter", Done: "The meter is dry. Ready for the next person.", Start: noon.Add(-40 * time.Second), Now: noon, Seconds: 120}),
		Countdown(Timer{ID: "wiped", Text: "Wipe the meter", Done: "The meter is dry. Ready for the next person.", Start: noon.Add(-5 * time.Minute), Now: noon, Seconds: 120}),
		with(Notice(Caution, "Nobody but you may use this device now."), raw("<p>Hand over before you leave the table.</p>")),
		with(Form(Sheet{ID: "quarantine", Action: "/quarantine", Command: "c-3"}), with(Bar(), Danger("act", "quarantine", "Take meter 3 out of use"))))
}

func explainPage() templ.Component {
	p := shell("Explain", "The result")
	p.Ticket = "14"
	children := []templ.Component{
		raw(`<div class="card"><p class="quiet">Test 10:38, fasting 9 hours</p>`), BigReading("112", "mg/dL"), raw(`<p class="band-big">`), BandLabel("raised", ""), raw(`</p><p class="slip-say">This is higher than the usual range for this kind of test. It is a screening, not a diagnosis.</p></div>`),
		raw(`<ul class="list">`),
	}
	for _, b := range Bands() {
		children = append(children, raw("<li>"), BandLabel(b, ""), raw("</li>"))
	}
	children = append(children, raw("</ul>"),
		with(Form(Sheet{Action: "/explain", Command: "c-4"}),
			Choice(Pick{Name: "band", Legend: "What did they say back?", Options: []Option{{Value: "a", Label: "See a clinician within four weeks", Hint: "a lab test is needed", Band: "raised"}, {Value: "b", Label: "Something else", Hint: "explain once more"}, {Value: "c", Label: "Not asked", Disabled: true}}}),
			with(Bar(), PrintButton("Print the slip"), Submit("Slip handed over"))))
	return with(Shell(p), children...)
}

func boardPage() templ.Component {
	p := shell("Board", "Larch Hill Fair, 17 Oct 2026")
	p.Wide, p.Role, p.Live = true, "lead", "/live"
	p.Alerts = []Alert{{Key: "v14", Text: "Ticket 9: HI mg/dL at 10:41. Stay with the person, call the supervisor.", Href: "/critical/9"}, {Key: "v2", Word: "Low", Text: "Ticket 6: recheck due 10:50.", Href: "/critical/6"}}
	return with(Shell(p),
		with(Board("board"),
			with(Column("Desk", "2"), WaitingTicket(Waiting{Ticket: "16", Minutes: 2, Href: "/v/16"}), WaitingTicket(Waiting{Ticket: "17", Minutes: 0, Note: "Spanish", Href: "/v/17"})),
			with(Column("Test", "3"), WaitingTicket(Waiting{Ticket: "12", Minutes: 24, Late: true, Href: "/v/12"}), WaitingTicket(Waiting{Ticket: "13", Minutes: 11, Note: "repeat after washing", Href: "/v/13"}), WaitingTicket(Waiting{Ticket: "15", Minutes: 4})),
			with(Column("Explain", "2"), WaitingTicket(Waiting{Ticket: "9", Minutes: 3, Urgent: true, Href: "/v/9"}), WaitingTicket(Waiting{Ticket: "11", Minutes: 65, Href: "/v/11"}))),
		with(GearStrip("meters", "Meters"),
			GearItem(Gear{Name: "Meter 1", State: "Cleared", Note: "lot 4471, 38 strips", Ready: true, Href: "/m/1"}), GearItem(Gear{Name: "Meter 2", State: "Wiping, 1:20 left", Note: "lot 4471, 12 strips"}),
			GearItem(Gear{Name: "Meter 3", State: "Controls first", Note: "new vial"}), GearItem(Gear{Name: "Meter 4", State: "Out of use", Note: "dropped 09:58", Out: true})),
		raw(`<div class="stats">`), Stat(Figure{Label: "Tested", Number: "41", Of: "of 47 arrived", Href: "/visits"}), Stat(Figure{Label: "Strips left", Number: "62", Of: "of 150 brought"}), raw(`</div>`), PageFoot("event 0198-demo", noon))
}

func officePage() templ.Component {
	p := shell("", "Meters")
	p.Wide, p.Role, p.Who = true, "lead", "Bo Arkwright"
	p.Nav = []Link{{Href: "/plan", Label: "Plan"}, {Href: "/people", Label: "People"}, {Href: "/meters", Label: "Meters", Current: true}, {Href: "/stock", Label: "Stock"}, {Href: "/follow-up", Label: "Follow-up", Count: "7"}, {Href: "/reports", Label: "Reports"}, {Href: "/record", Label: "Record"}}
	row := func(name, lot, n, state string) templ.Component {
		return templ.Join(raw("<tr>"), with(Th("Meter"), raw(`<a href="/m">`+name+"</a>")), with(Td("Strip lot"), raw(lot)), with(Num("Tests"), raw(n)), with(Td("State"), raw(state)), raw("</tr>"))
	}
	cols := []Col{{Label: "Meter"}, {Label: "Strip lot"}, {Label: "Tests", Num: true}, {Label: "State"}}
	return with(Shell(p),
		with(Notice(Done, "Meter 4 is recorded."), Since(noon.Add(-12*time.Minute), noon)),
		raw(`<div class="toolbar">`), Filter(Sift{Target: "meters"}), LinkButton("Add a meter", "/meters/new"), raw(`</div>`),
		with(Table(Grid{ID: "meters", Caption: "Meters of the programme", Stack: true, Cols: cols}), row("Meter 1", "4471", "18", "cleared"), row("Meter 2", "4471", "9", "cleared"), row("Meter 3", "4502", "0", "controls first")),
		with(Table(Grid{Caption: "The same, scrolling", Cols: cols}), row("Meter 1", "4471", "18", "cleared since 08:12")),
		Keys("P", "print"), with(Notice(Stop, "Do not open the doors yet."), raw("<p>No referral route is named.</p>")),
		raw(`<dl class="facts"><dt>Bought</dt><dd>3 Feb 2026</dd><dt>Reviewed</dt><dd>by B. Arkwright, for use on several people</dd></dl>`))
}

func emptyPage() templ.Component {
	return with(Shell(Page{Title: "People", Programme: "Larch Hill Screening"}),
		with(Empty("The people of your programme will stand here.", "Begin with the lead, then the supervisors."), MainLink("Add a person", "/people/new")))
}

func slipPage() templ.Component {
	p := shell("Explain", "Slip")
	return with(Shell(p), raw(`<div class="page-half-letter"><article class="slip"><header class="slip-head"><b>Larch Hill Screening</b><span>17 Oct 2026</span></header><div class="slip-value"><p>Your blood sugar at 10:38</p>`),
		BigReading("112", "mg/dL"), raw(`<p class="band-big">`), BandLabel("raised", "Higher than the usual range"), raw(`</p></div><p class="slip-say">A lab test can tell what this means.</p><p class="slip-not">This is a screening, not a diagnosis.</p><div class="slip-do"><b>What to do</b><p>See a clinician by 14 Nov 2026. Take this page with you.</p></div><p class="slip-fine">Ticket 14. Last food over 9 hours ago. Hands washed. Meter 3.</p>`), PageFoot("visit 0198-demo", noon), raw(`</article></div>`), PrintButton("Print the slip"))
}

// sparePage has every part with as little in it as its type allows.
func sparePage() templ.Component {
	return with(Shell(Page{Title: "Spare", Lang: "es", Practice: true}),
		ErrorSummary(nil), Refusal(nil), Refusal(fault.New(fault.Refused, "x", "Not now.", "", "")), Mark("no-such-band"), BandLabel("", ""), Stat(Figure{Label: "None", Number: "0"}), Steps(nil), Notice("", "Plain"),
		Table(Grid{Caption: "Nothing"}), Empty("Nothing yet.", ""), Board("b"), GearStrip("g", "Meters"), GearItem(Gear{Name: "M", State: "s"}), Column("Desk", "0"), Minutes(0),
		with(Form(Sheet{ID: "search", Action: "/find", Get: true}), Field(Input{Name: "q", Label: "Find"}), SubmitAs("go", "1", "Find")),
		with(Form(Sheet{ID: "load", Action: "/load", Upload: true}), with(Group("The file", "From a spreadsheet."), Field(Input{Name: "file", Label: "CSV file", Kind: File, Accept: ".csv"}))),
		with(Form(Sheet{ID: "sign", Action: "/sign"}), NumberPad(Pad{Name: "pin", Label: "PIN", Secret: true, MaxLen: 6}), NumberPad(Pad{Name: "temp", Label: "Room temperature", Unit: "°C", Decimal: true}), NumberPad(Pad{Name: "r2", Label: "Reading again", Unit: "mmol/L", Decimal: true, Reading: true}),
			Field(Input{Name: "word", Label: "Passphrase", Kind: Password}), Field(Input{Name: "code", Label: "Your PIN", Kind: PIN}), Field(Input{Name: "mail", Label: "E-mail", Kind: Email}), Field(Input{Name: "on", Label: "Day", Kind: Date, Value: "2026-10-17", Min: "2026-01-01", Max: "2026-12-31", ReadOnly: true})))
}
