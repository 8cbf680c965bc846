package web

// sheetRoutes are the reports over a span of days, the rows behind each of their figures, and the season with its targets.
var sheetRoutes = []Route{
	{Method: "GET", Path: "/reports", Roles: senior, Handle: sheetsShow},
	{Method: "GET", Path: "/reports/rows", Roles: senior, Handle: sheetRows},
	{Method: "GET", Path: "/reports/season/targets", Roles: lead, Handle: seasonShow},
	{Method: "POST", Path: "/reports/season/targets", Roles: lead, Handle: seasonSave},
	{Method: "GET", Path: "/reports/{kind}", Roles: senior, Handle: sheetShow},
	{Method: "GET", Path: "/reports/{kind}/report.pdf", Roles: senior, Handle: sheetPDF},
	{Method: "GET", Path: "/reports/{kind}/report.xlsx", Roles: senior, Handle: sheetXLSX},
	{Method: "GET", Path: "/reports/{kind}/report.csv", Roles: senior, Handle: sheetCSV},
	{Method: "GET", Path: "/reports/{kind}/report.json", Roles: senior, Handle: sheetJSON},

	{Method: "POST", Path: "/events/{event}/cancel", Roles: lead, Handle: eventCancel},
	{Method: "POST", Path: "/events/{event}/reinstate", Roles: lead, Handle: eventReinstate},
}
