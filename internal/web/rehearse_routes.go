package web

// rehearseRoutes are the practice days: the scenes, the rooms with the pages of the day, the debriefs, and the sets that teachers compose.
var rehearseRoutes = []Route{
	{Method: "GET", Path: "/learn/rehearsal", Handle: rehearsalShow},
	{Method: "POST", Path: "/learn/rehearsal", Handle: rehearsalBegin},
	{Method: "GET", Path: "/learn/rehearsal/{room}", Handle: sceneShow},
	{Method: "POST", Path: "/learn/rehearsal/{room}/decide", Handle: sceneDecide},
	{Method: "POST", Path: "/learn/rehearsal/{room}/hand-in", Handle: rehearsalHandIn},
	{Method: "POST", Path: "/learn/rehearsal/{room}/stop", Handle: rehearsalStop},
	{Method: "GET", Path: "/learn/rehearsed/{rehearsal}", Handle: debriefShow},
	{Method: "GET", Path: "/practice/{room}/{rest...}", Handle: practiceServe},
	{Method: "POST", Path: "/practice/{room}/{rest...}", Handle: practiceServe},
	{Method: "GET", Path: "/training/rehearsals", Roles: senior, Handle: setsShow},
	{Method: "POST", Path: "/training/rehearsals", Roles: senior, Handle: setCompose},
	{Method: "POST", Path: "/training/rehearsals/{set}/retire", Roles: senior, Handle: setRetire},
	{Method: "GET", Path: "/training/{person}/rehearsed/{rehearsal}", Roles: senior, Handle: traineeDebrief},
}
