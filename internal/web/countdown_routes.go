package web

import "fairstick/internal/event"

// countdownRoutes are what must be there before an event, its lead times, and the roster as it could be.
var countdownRoutes = []Route{
	{Method: "GET", Path: "/countdown", Roles: senior, Handle: countdownAllShow},
	{Method: "GET", Path: "/countdown.ics", Roles: senior, Handle: countdownCalendar},
	{Method: "GET", Path: "/countdown/lead-times", Roles: lead, Handle: leadTimesShow},
	{Method: "POST", Path: "/countdown/lead-times", Roles: lead, Handle: leadTimesSave},
	{Method: "POST", Path: "/countdown/lead-times/examples", Roles: lead, Handle: leadTimesAdopt},
	{Method: "GET", Path: "/events/{event}/countdown", Handle: countdownShow},
	{Method: "POST", Path: "/events/{event}/countdown", Roles: senior, Handle: countdownAdd},
	{Method: "GET", Path: "/events/{event}/countdown.ics", Handle: countdownCalendar},
	{Method: "POST", Path: "/events/{event}/countdown/list", Roles: senior, Handle: countdownTake},
	{Method: "GET", Path: "/events/{event}/countdown/{task}", Handle: taskShow},
	{Method: "POST", Path: "/events/{event}/countdown/{task}", Roles: senior, Handle: taskChange},
	{Method: "POST", Path: "/events/{event}/countdown/{task}/done", Handle: taskDone},
	{Method: "POST", Path: "/events/{event}/countdown/{task}/files", Upload: true, Most: event.MostEvidence + maxForm, Handle: evidenceAdd},
	{Method: "GET", Path: "/events/{event}/countdown/{task}/files/{file}", Roles: senior, Handle: evidenceSend},
	{Method: "POST", Path: "/events/{event}/countdown/{task}/files/{file}/erase", Roles: lead, Handle: evidenceErase},
	{Method: "POST", Path: "/events/{event}/countdown/{task}/waive", Roles: lead, Handle: taskWaive},
	{Method: "POST", Path: "/events/{event}/countdown/{task}/reopen", Roles: senior, Handle: taskReopen},

	{Method: "GET", Path: "/events/{event}/roster/propose", Roles: senior, Handle: proposeShow},
	{Method: "POST", Path: "/events/{event}/roster/propose", Roles: senior, Handle: proposeAccept},
	{Method: "GET", Path: "/events/{event}/roster.pdf", Handle: rosterPDF},
	{Method: "GET", Path: "/events/{event}/roster/stations.pdf", Handle: rosterStationsPDF},
}
