package web

// accessRoutes are the pages of who may come in: devices, sessions, the code for phones, erasure.
var accessRoutes = []Route{
	{Method: "GET", Path: "/phones", Roles: senior, Handle: phonesShow},
	{Method: "GET", Path: "/join", Handle: join},
	{Method: "GET", Path: "/access", Roles: lead, Handle: accessShow},
	{Method: "POST", Path: "/access/idle", Roles: lead, Handle: accessIdle},
	{Method: "POST", Path: "/access/end", Roles: lead, Handle: accessEnd},
	{Method: "POST", Path: "/access/device", Roles: lead, Handle: accessDevice},
	{Method: "POST", Path: "/access/lift", Roles: lead, Handle: accessLift},

	{Method: "GET", Path: "/events/{event}/erase/{visit}", Roles: lead, Handle: eraseShow},
	{Method: "POST", Path: "/events/{event}/erase/{visit}", Roles: lead, Handle: erase},
}
