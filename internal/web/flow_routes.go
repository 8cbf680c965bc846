package web

// planRoutes are the pages that say before an event how many people it needs and how long others will wait.
var planRoutes = []Route{
	{Method: "GET", Path: "/events/{event}/flow", Roles: senior, Handle: flowShow},
	{Method: "GET", Path: "/events/{event}/pack.pdf", Roles: senior, Handle: packPDF},
	{Method: "POST", Path: "/events/{event}/pack/forms", Roles: senior, Handle: packNumber},
	{Method: "GET", Path: "/planning", Roles: senior, Handle: planningShow},
	{Method: "POST", Path: "/planning", Roles: lead, Handle: planningChoose},
}
