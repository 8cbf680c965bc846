package web

import "fmt"

// counted writes a count with its noun, in a language that has one plural.
func counted(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

var tongueEnglish = tongue{
	Lang: "en", Learn: learnEnglish, Rehearse: rehearseEnglish,
	Shell: shellWords{
		Start: "Start", Board: "Board", Events: "Events", SetUp: "Set-up", Phones: "Phones", NotPossible: "Not possible", SignIn: "Sign in", GoToStart: "Go to the start page",
		WhoAreYou: "Who are you?", AnotherName: "Another name", FindName: "Find your name", HereFirst: "Those who are here today stand first.", YourPIN: "Your PIN",
		NobodyYet: "Nobody can sign in yet.", NobodyYetHow: "The first lead is set up on the laptop with the command fairstick init.",
		InventedPIN: func(pin string) string { return "An invented person. The PIN is " + pin + "." },
		PINNote:     func(pin string) string { return "PIN " + pin },
		WrongPIN:    "That PIN does not fit this name. Try again; nothing is lost.",

		WhatNext: "What next?", NoDay: "No screening day is planned.", NoDayLead: "Set the programme up, then plan the first day.",
		NoDayHow: "The lead plans the next one. It will stand here.", GoToSetUp: "Go to set-up", Office: "Office",
		Care: "Care", OpenAlerts: "open alerts", AtDesk: "at the desk", Waiting: "waiting", BoardHint: "everybody, every meter", Controls: "Controls",
		Open: "Open", OpenHint: "checks, room, stock", Roster: "Roster", Close: "Close", Device: "This device", DeviceHint: "what it is for",
		StockBrought: "Stock brought", Plan: "Plan", Programme: "Programme and protocol", People: "People", Meters: "Meters", Strips: "Strips",
		Solution: "Control solution", Disinfectants: "Disinfectants", Supplies: "Other supplies", Stock: "Stock", FollowUp: "Follow-up", Learn: "Learn and quiz", Training: "Training of the people", Reports: "Reports",
		NextDay: func(name, date, doors string) string {
			return "Next: " + name + ", " + date + ", doors at " + doors + "."
		},
		OpenDay: "Open the day",
		Roles: map[string]string{
			"lead": "lead", "supervisor": "supervisor", "screener": "screener", "counsellor": "counsellor", "desk": "desk", "runner": "runner",
		},
		Phases: map[string]string{
			"planned": "not open yet", "open": "doors open", "doors-closed": "doors closed, finishing", "closed": "closed",
		},
		Locked: "locked", LockedLead: "This device was not used for a while. Type your PIN to go on where you were.", SomebodyElse: "Somebody else",
	},
	Station: seatWords{
		Steps: stepWords, What: "What is this device for?", NotPut: "This device is not put to a station yet.",
		Is:       func(station string) string { return "This device is " + station + "." },
		IsNow:    func(station string) string { return "This device is " + station + " now." },
		NoEvents: "No day is planned or open.", NoEventsHow: "A device is put to a station of a day.", WhichDay: "Which day?",
		BoardOf:   func(event string) string { return "Board of " + event },
		WhichSeat: func(step string) string { return step + ": which seat?" },
		Seat:      "Number or name of the seat", SeatHelp: "As it stands on the table, for example 2.", ThisSeat: "This is the seat",
		NoMeter: "No meter is written down as brought.", NoMeterHow: "A lead or supervisor writes it down under Stock brought.",
		WhichMeter: "Which meter lies on the table?", NextTable: "Next: strips and wipes",
		Meter:      func(label string) string { return "Meter " + label },
		Quarantine: "Out of use: in quarantine", NoVialFits: "No open vial fits", Cleared: "Cleared", Controls: "Controls first",
		Table: "What lies on the table?", NoVial: "No open vial fits this meter today.", NoVialHow: "Open a new one below, or take another meter.", WhichVial: "Which vial of strips?",
		NoWipes: "No wipes in date are named in this meter's review.", NoWipesHow: "The lead signs the review under Meters.", WhichWipes: "Which wipes?", ThisTable: "This is the table",
		OpenVial: "Open a new vial", WhichLot: "Of which lot?", VialName: "Name written on the vial", VialHelp: "Write today's date on it too. Without a name it is numbered.",
		OpenedNow: "Opened now", VialWritten: "The new vial is written down. Run the controls if it is not cleared yet.",
		Vial:           func(lot, vial string) string { return "Lot " + lot + ", vial " + vial },
		Lot:            func(lot string) string { return "Lot " + lot },
		VialCleared:    "Cleared on this meter",
		VialNotCleared: func(why string) string { return "Not cleared on this meter: " + why },
		KeepWet:        func(time string) string { return "keep wet for " + time },
	},
	Line: lineWords{
		Ticket:       func(ticket string) string { return "Ticket " + ticket },
		Take:         func(ticket string) string { return "Take ticket " + ticket },
		GoOn:         func(ticket string) string { return "Go on with ticket " + ticket },
		AtStation:    func(station string) string { return "at station " + station },
		AtStationNow: func(station string) string { return "station " + station },
		PressNumber:  "Press a number to take it. The longest wait stands first.", BackToLine: "Back to the line", TheLine: "The line",
		NobodyHasIt: func(station string) string { return "Nobody at " + station + " has this person: put it back" },
		IsAt:        func(where string) string { return "This ticket is " + where + "." },
		Desk:        "At the desk", DeskEmpty: "Nobody is at the desk.",
		Test: "Waiting for a test", TestEmpty: "Nobody waits. The desk sends the next person.",
		Explain: "Waiting for their result", ExplainEmpty: "Nobody waits. The test stations send the next person.",
		Languages: languageNames, TakeCare: "take care", RepeatAfterWashing: "repeat after washing",
		Where: map[string]string{
			"desk": "at the desk", "test": "waiting for a test", "explain": "at Explain", "done": "finished", "left": "gone before the end",
			"not-eligible": "not tested today", "declined": "declined",
		},
		WhereUnknown: "not known",
		StopsHere:    "Stops here", PutBack: "Put back in the line", Unwell: "This person looks unwell", Reason: "Reason, if it is known", ReasonIfGiven: "Reason, if one was given",
		IsBack:     func(ticket string) string { return "Ticket " + ticket + " is back in the line." },
		SaidNo:     func(ticket string) string { return "Ticket " + ticket + " said no. It is counted." },
		WentAway:   func(ticket string) string { return "Ticket " + ticket + " went away. It is counted." },
		IsFinished: func(ticket string) string { return "Ticket " + ticket + " is finished." },
		Today:      "today", Yesterday: "yesterday", Fasting: "fasting", NotFasting: "not fasting", NotAsked: "Last food not asked yet.",
		NotKnown: func(basis string) string { return "Last food not known: counts as " + basis + "." },
		LastAte: func(at, day, ago, basis string) string {
			return fmt.Sprintf("Last ate %s %s, %s ago: counts as %s.", at, day, ago, basis)
		},
		OpenAlert:   "Open the alert",
		MeterError:  func(code string) string { return "meter error " + code },
		ReadAt:      func(reading, at string) string { return reading + " at " + at },
		PersonWaits: func(n int) string { return counted(n, "person waits", "people wait") + " for a test." },
		ChooseName:  "Choose a name",
	},
	Desk: deskWords{
		Title: "Desk", NextTicket: "Next ticket", Back: "Desk",
		Steps:       deskStepWords,
		Titles:      map[string]string{stepConsent: "Consent", stepQuestions: "Ask", stepAte: "Food", stepContact: "Contact", stepAbout: "About you", stepDone: "Done here"},
		Next:        func(step string) string { return "next: " + step },
		ConsentText: func(version string) string { return "Consent text " + version },
		HowGiven:    "How was it given?", Read: "Read", ReadAloud: "Read aloud", Interpreter: "Interpreter",
		Question:  func(n, of int) string { return fmt.Sprintf("Question %d of %d", n, of) },
		SignsHelp: "Signs: call for help", NoneOfThese: "None of these", GoOn: "Next", Before: "The question before", SaidSo: "Said so: close this ticket", NotTested: "Not tested today",
		FastingBefore: func(at, day string, hours int) string {
			return fmt.Sprintf("%s %s or earlier counts as fasting (%d hours).", at, day, hours)
		},
		TodayAt: "Today at", YesterdayAt: "Yesterday at", ExactTime: "Or the exact time", Day: "Day", Time: "Time",
		Today: "Today", Yesterday: "Yesterday", DayBefore: "The day before",
		SealAndGoOn: "Seal and go on", CountedAs: "Counted as:", SaidNo: "Said no. It is counted.", WentAway: "Went away. It is counted.",
		WaitTest: func(ticket string) string { return "Ticket " + ticket + ": wait for a test seat." },
		GoneOn:   func(ticket string) string { return "Ticket " + ticket + " has gone on to the next station." },
		InLineNow: func(ticket string) string {
			return "Ticket " + ticket + " is in the line for the test already. Nothing waits for these questions."
		},
		ChangeFood: "Change the last food", AskAbout: "Questions about themselves", BackToDesk: "Back to the desk", NoTest: "Does not want the test", Away: "Went away",
		SupervisorCalled: func(say string) string { return "A supervisor is called on every screen. Say: " + say },
		SignsButNone:     "Signs are ticked, but None was pressed. Look at the person again.", TickSigns: "Tick the signs that are there, or press None.",
		AskCall: "Ask whether we may call about the result.", ChooseDay: "Choose the day.", TimeDamaged: "The time arrived damaged. Press it again.",
	},
	Explain: explainWords{
		Title: "Explain",
		Waits: "This ticket waits for its result.", HowToSay: "How to say it",
		SayThis:  "Say what was seen and what comes next: “higher than the usual range”, “a lab test can tell”.",
		LeaveOut: "Words to leave out: normal, diabetic, you have, fail. No guesses about the cause or about medicines.",
		Which:    "Which reading:", AskBack: "Explained: ask it back", AskItBack: "“So that I know I said it clearly: what will you do next?”",
		OwnWords: "Said it in their own words", Again: "Explained again, then said it", NotAsked: "Not asked",
		NoPlace: "The plan of this event names no place.", NoPlaceHow: "The lead adds one in the plan.", WhereTo: "Where to?", Change: "Change", WriteDown: "Write it down",
		NoCalls: "The person wants no calls.", MayCall: "The person allowed a call about the result.",
		PrintIt: "Print it, go through it together, hand it over.", PrintHalf: "Print half-letter", PrintA5: "Print A5", PDFHalf: "PDF half-letter", PDFA5: "PDF A5",
		ShownOnly: "Shown only", HandedOver: "Slip handed over", Done: "done", DoItNow: "Do it now",
		Finish:        func(ticket string) string { return "Finish ticket " + ticket },
		AwayBeforeEnd: "Went away before the end",
		Titles:        map[string]string{tellResult: "The result", tellBack: "Ask it back", tellRefer: "Referral", tellSlip: "The slip", tellContact: "Contact", tellFinish: "Finish"},
		Steps:         map[string]string{tellResult: "Result", tellRefer: "Referral", tellSlip: "Slip", tellFinish: "Finish"},
		Gates:         map[string]string{"care": "Care", "explained": "Explained", "referral": "Referral", "slip": "Slip"},
		NoteExplained: "Explained.", NoteReferred: "The referral is written down.",
		NoteContact: "The contact is sealed. Record the referral again if a call was promised with it.", NoteSlip: "The slip was handed over.",
		AskAgreed: "Ask whether the person will go there.",
		Near: func(n nearText) string {
			from := fmt.Sprintf("%d controls on meter %s", n.Runs, n.Meter)
			if n.Runs == 0 {
				from = "the range printed for its strips, since meter " + n.Meter + " has too few controls of its own"
			}
			side := "under " + n.Limit
			if !n.Above {
				side = n.Limit + " or more"
			}
			return fmt.Sprintf("A reading this close to the limit of %s %s can lie on either side. About %d in 100 such readings come from a true value of %s (scatter of %s %%, from %s; every true value taken as equally likely beforehand). Only a laboratory test can tell.", n.Limit, n.Unit, n.Of100, side, n.CV, from)
		},
	},
	Care: careWords{
		Title: "Care", None: "No care is open for this ticket.", Unwell: "Unwell",
		Bands: map[string]string{"critical-low": "Critical low", "low": "Low", "usual": "Usual", "raised": "Raised", "high": "High", "critical-high": "Critical high"},
		StillLow: func(times int) string {
			return fmt.Sprintf("Still low after sugar was given %d times. Call emergency help.", times)
		},
		Gone: "The person has gone", GoneText: "The ticket ends. The care stays open until it is signed.", WhereTo: "Where to",
		CloseTicket:     func(ticket string) string { return "Close ticket " + ticket },
		EmergencyNumber: "Emergency number",
		Since:           func(at string) string { return "Since " + at + "." },
		SinceReadings:   func(at, readings string) string { return "Since " + at + ". Readings: " + readings + "." },
		Place:           func(venue, station string) string { return venue + ", station " + station },
		AllWritten:      "Everything is written down. A supervisor signs.", Note: "Note", SignEnd: "Sign: care has ended",
		Now:  func(what string) string { return "Now: " + what },
		Then: func(what string) string { return "Then: " + what },
		Add:  func(what string) string { return "Add: " + what },
		Steps: map[string]string{
			"supervisor": "Supervisor with the person", "signs": "Signs", "sugar": "Sugar", "action": "What was done", "handover": "Handed over", "arrived": "Arrived",
			"repeat": "Repeat", "recheck": "Recheck",
		},
		Choices: map[string]string{
			"given": "Sugar given", "cannot-swallow": "Cannot swallow: nothing by mouth", "refused": "Does not want it",
			"emergency-called": "Emergency services called", "same-day-care": "Goes to same-day care", "stays-here": "Stays here under watch", "declined-care": "Does not want care",
		},
		WithPerson: "I am with the person", TakeReading: "Take the reading",
		Screener:   func(ticket string) string { return "A screener opens ticket " + ticket + " at a test station." },
		SignsThere: "These signs are there", NoneOfThese: "None of these",
		SameDay:  func(place string) string { return "Same-day care: " + place },
		WhatDone: "What was done?", WriteDown: "Write it down", WhereArrived: "Arrived where and when, and who said so", ToWhom: "To whom the person went, and how",
		Sugar:     func(grams int) string { return fmt.Sprintf("%d g of fast sugar:", grams) },
		WhatGiven: "What was given", Supervisor: "Supervisor", PIN: "PIN", DoneTable: "What was done", At: "At", What: "What", By: "By",
		Signed:  func(who, at string) string { return fmt.Sprintf("Signed by %s at %s.", who, at) },
		NoSigns: "none", Recheck: "Recheck", RecheckNow: "Recheck now.",
		Called:          "A supervisor is called on every screen. Stay with the person.",
		Written:         func(at string) string { return "Written down at " + at + "." },
		SupervisorSigns: "Everything is written down: a supervisor signs.",
		Alert: func(ticket, what, station string) string {
			if station == "" {
				return "Ticket " + ticket + ": " + what + "."
			}
			return "Ticket " + ticket + ": " + what + ", station " + station + "."
		},
		AlertUnwell: func(ticket, since, station string) string {
			if station == "" {
				return "Ticket " + ticket + ": looks unwell since " + since + "."
			}
			return "Ticket " + ticket + ": looks unwell since " + since + ", station " + station + "."
		},
	},
	Slip: slipWords{Print: "Print", BackToExplain: "Back to Explain", Title: func(ticket string) string { return "Slip of ticket " + ticket }},
}
