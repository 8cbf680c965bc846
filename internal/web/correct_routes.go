package web

import "fairstick/internal/people"

// mend are those who may look at what a correction would do; the signature decides who may do it.
var mend = []people.Role{people.Screener, people.Counsellor, people.Supervisor, people.Lead}

// correctRoutes are the pages of corrections: what is wrong, what it touches, the signature; the history of a visit; and
// the last figures of typed readings.
var correctRoutes = []Route{
	{Method: "GET", Path: "/events/{event}/corrections", Roles: senior, Handle: correctionsShow},
	{Method: "GET", Path: "/events/{event}/correct/{visit}", Roles: mend, Handle: correctShow},
	{Method: "POST", Path: "/events/{event}/correct/{visit}/slip", Roles: tell, Handle: correctSlip},
	{Method: "GET", Path: "/events/{event}/correct/{visit}/{kind}", Roles: mend, Handle: correctAsk},
	{Method: "POST", Path: "/events/{event}/correct/{visit}/{kind}", Roles: mend, Handle: correctSend},
	{Method: "GET", Path: "/events/{event}/correct-run/{run}", Roles: test, Handle: correctRunAsk},
	{Method: "POST", Path: "/events/{event}/correct-run/{run}", Roles: test, Handle: correctSend},
	{Method: "GET", Path: "/events/{event}/history/{visit}", Roles: senior, Handle: historyShow},
	{Method: "GET", Path: "/events/{event}/digits", Roles: senior, Handle: digitsShow},
	{Method: "GET", Path: "/events/{event}/digits/report.pdf", Roles: senior, Handle: digitsPDF},
	{Method: "GET", Path: "/events/{event}/digits/{group}", Roles: senior, Handle: digitsAsk},
	{Method: "POST", Path: "/events/{event}/digits/{group}", Roles: senior, Handle: correctSend},
}
