package web

// incidentRoutes are the pages of incidents. Any of the staff reports one and writes down what is done; the list, the files
// and what was written about somebody are for a lead and a supervisor.
var incidentRoutes = []Route{
	{Method: "GET", Path: "/events/{event}/incidents", Roles: senior, Handle: incidentsShow},
	{Method: "POST", Path: "/events/{event}/incidents", Handle: incidentReport},
	{Method: "GET", Path: "/events/{event}/incidents/new", Handle: incidentNew},
	{Method: "GET", Path: "/events/{event}/incidents.csv", Roles: senior, Handle: incidentsCSV},
	{Method: "GET", Path: "/events/{event}/incidents/{incident}", Handle: incidentShow},
	{Method: "GET", Path: "/events/{event}/incidents/{incident}/form.pdf", Roles: senior, Handle: incidentPDF},
	{Method: "POST", Path: "/events/{event}/incidents/{incident}/form", Handle: incidentDescribe},
	{Method: "POST", Path: "/events/{event}/incidents/{incident}/step", Handle: incidentStep},
	{Method: "POST", Path: "/events/{event}/incidents/{incident}/tell", Handle: incidentTell},
	{Method: "POST", Path: "/events/{event}/incidents/{incident}/close", Handle: incidentClose},
	{Method: "POST", Path: "/events/{event}/incidents/{incident}/withdraw", Roles: lead, Handle: incidentWithdraw},
	{Method: "POST", Path: "/events/{event}/incidents/{incident}/quarantine", Roles: test, Handle: incidentQuarantine},
	{Method: "GET", Path: "/sharps-log.csv", Roles: senior, Handle: sharpsCSV},
	{Method: "GET", Path: "/sharps-log.pdf", Roles: senior, Handle: sharpsPDF},
}
