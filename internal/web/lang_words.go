package web

// tongue is all that the interface says to the people who work with it, in one language. What is read to a participant is
// speech, which follows the participant. A phrase with something in it is a function, so that a language that forgets it
// does not compile where it is called with too little; a test finds the phrases that a language leaves empty.
type tongue struct {
	Lang     string
	Shell    shellWords
	Station  seatWords
	Line     lineWords
	Desk     deskWords
	Explain  explainWords
	Care     careWords
	Slip     slipWords
	Learn    learnWords
	Rehearse rehearseWords
}

// shellWords are those of the page around every page, of signing in and of the start.
type shellWords struct {
	Start, Board, Events, SetUp, Phones, NotPossible, SignIn, GoToStart string
	WhoAreYou, AnotherName, FindName, HereFirst, YourPIN                string
	NobodyYet, NobodyYetHow                                             string
	InventedPIN                                                         func(pin string) string
	PINNote                                                             func(pin string) string
	WrongPIN                                                            string

	WhatNext, NoDay, NoDayLead, NoDayHow, GoToSetUp, Office                string
	Care, OpenAlerts, AtDesk, Waiting, BoardHint, Controls, Open, OpenHint string
	Roster, Close, Device, DeviceHint, StockBrought, Plan                  string
	Programme, People, Meters, Strips, Solution, Disinfectants, Supplies   string
	Stock                                                                  string
	FollowUp, Learn, Training, Reports                                     string
	NextDay                                                                func(name, date, doors string) string
	OpenDay                                                                string
	Roles                                                                  map[string]string
	Phases                                                                 map[string]string
	Locked, LockedLead, SomebodyElse                                       string
}

// seatWords put a device to its station.
type seatWords struct {
	Steps                                      map[string]string
	What                                       string
	NotPut                                     string
	Is, IsNow                                  func(station string) string
	NoEvents, NoEventsHow, WhichDay            string
	BoardOf                                    func(event string) string
	WhichSeat                                  func(step string) string
	Seat, SeatHelp, ThisSeat                   string
	NoMeter, NoMeterHow, WhichMeter, NextTable string
	Meter                                      func(label string) string
	Quarantine, NoVialFits, Cleared, Controls  string
	Table, NoVial, NoVialHow, WhichVial        string
	NoWipes, NoWipesHow, WhichWipes, ThisTable string
	OpenVial, WhichLot, VialName, VialHelp     string
	OpenedNow, VialWritten                     string
	Vial                                       func(lot, vial string) string
	Lot                                        func(lot string) string
	VialCleared                                string
	VialNotCleared                             func(why string) string
	KeepWet                                    func(time string) string
}

// lineWords are those of the lines of tickets and of what is said about one of them.
type lineWords struct {
	Ticket, Take, GoOn                                func(ticket string) string
	AtStation, AtStationNow                           func(station string) string
	PressNumber, BackToLine, TheLine                  string
	NobodyHasIt                                       func(station string) string
	IsAt                                              func(where string) string
	Desk, DeskEmpty, Test, TestEmpty                  string
	Explain, ExplainEmpty                             string
	Languages                                         map[string]string
	TakeCare, RepeatAfterWashing                      string
	Where                                             map[string]string
	WhereUnknown                                      string
	StopsHere, PutBack, Unwell, Reason, ReasonIfGiven string
	IsBack, SaidNo, WentAway, IsFinished              func(ticket string) string
	Today, Yesterday                                  string
	Fasting, NotFasting                               string
	NotAsked                                          string
	NotKnown                                          func(basis string) string
	LastAte                                           func(at, day, ago, basis string) string
	OpenAlert                                         string
	MeterError                                        func(code string) string
	ReadAt                                            func(reading, at string) string
	PersonWaits                                       func(n int) string
	ChooseName                                        string
}

// deskWords are those of the desk.
type deskWords struct {
	Title, NextTicket, Back                                  string
	Steps                                                    map[string]string // in the line: what is next
	Titles                                                   map[string]string // over the page
	Next                                                     func(step string) string
	ConsentText                                              func(version string) string
	HowGiven, Read, ReadAloud, Interpreter                   string
	Question                                                 func(n, of int) string
	SignsHelp, NoneOfThese, GoOn, Before, SaidSo, NotTested  string
	FastingBefore                                            func(at, day string, hours int) string
	TodayAt, YesterdayAt, ExactTime, Day, Time               string
	Today, Yesterday, DayBefore                              string
	SealAndGoOn, CountedAs, SaidNo, WentAway                 string
	WaitTest, GoneOn, InLineNow                              func(ticket string) string
	ChangeFood, AskAbout, BackToDesk, NoTest, Away           string
	SupervisorCalled                                         func(say string) string
	SignsButNone, TickSigns, AskCall, ChooseDay, TimeDamaged string
}

// explainWords are those of Explain.
type explainWords struct {
	Title                                              string
	Waits, HowToSay, SayThis, LeaveOut                 string
	Which                                              string
	AskBack, AskItBack, OwnWords, Again, NotAsked      string
	NoPlace, NoPlaceHow, WhereTo, Change, WriteDown    string
	NoCalls, MayCall                                   string
	PrintIt, PrintHalf, PrintA5, PDFHalf, PDFA5        string
	ShownOnly, HandedOver, Done, DoItNow               string
	Finish                                             func(ticket string) string
	AwayBeforeEnd                                      string
	Titles                                             map[string]string
	Steps                                              map[string]string
	Gates                                              map[string]string
	NoteExplained, NoteReferred, NoteContact, NoteSlip string
	AskAgreed                                          string
	Near                                               func(n nearText) string
}

// nearText is what is said of a reading close to a limit.
type nearText struct {
	Limit, Unit, Meter string
	Above              bool // the reading is at or above the limit
	Of100              int  // readings whose true value lies on the other side
	CV                 string
	Runs               int // controls behind the CV; 0 when it is that of the printed range
}

// careWords are those of the care of somebody who needs help now.
type careWords struct {
	Title, None, Unwell                       string
	Bands                                     map[string]string
	StillLow                                  func(times int) string
	Gone, GoneText, WhereTo                   string
	CloseTicket                               func(ticket string) string
	EmergencyNumber                           string
	Since                                     func(at string) string
	SinceReadings                             func(at, readings string) string
	Place                                     func(venue, station string) string
	AllWritten, Note, SignEnd                 string
	Now, Then, Add                            func(what string) string
	Steps                                     map[string]string
	Choices                                   map[string]string
	WithPerson, TakeReading                   string
	Screener                                  func(ticket string) string
	SignsThere, NoneOfThese                   string
	SameDay                                   func(place string) string
	WhatDone, WriteDown, WhereArrived, ToWhom string
	Sugar                                     func(grams int) string
	WhatGiven, Supervisor, PIN                string
	DoneTable, At, What, By                   string
	Signed                                    func(who, at string) string
	NoSigns, Recheck, RecheckNow              string
	Called                                    string
	Written                                   func(at string) string
	SupervisorSigns                           string
	Alert, AlertUnwell                        func(ticket, what, station string) string
}

// slipWords are those around the slip on the glass.
type slipWords struct {
	Print, BackToExplain string
	Title                func(ticket string) string
}
