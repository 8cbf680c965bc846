package web

// followUpRoutes are the work after the day: who is called today, one call, letters, and what became of everybody who was
// referred. A visit stands in an address, a name and a number never do.
var followUpRoutes = []Route{
	{Method: "GET", Path: "/follow-up", Roles: tell, Handle: followUpShow},
	{Method: "POST", Path: "/follow-up/letters", Roles: tell, Handle: followUpLetters},
	{Method: "GET", Path: "/follow-up/completion", Roles: tell, Handle: completionShow},
	{Method: "GET", Path: "/follow-up/{visit}", Roles: tell, Handle: callShow},
	{Method: "POST", Path: "/follow-up/{visit}/open", Roles: tell, Handle: callOpen},
	{Method: "POST", Path: "/follow-up/{visit}/put-back", Roles: tell, Handle: callPutBack},
	{Method: "POST", Path: "/follow-up/{visit}/tried", Roles: tell, Handle: callTried},
	{Method: "POST", Path: "/follow-up/{visit}/spoke", Roles: tell, Handle: callSpoke},
	{Method: "POST", Path: "/follow-up/{visit}/hand-over", Roles: tell, Handle: callHandOver},
	{Method: "POST", Path: "/follow-up/{visit}/letter", Roles: tell, Handle: callLetter},
	{Method: "GET", Path: "/follow-up/{visit}/correct/{fact}", Roles: tell, Handle: callCorrectShow},
	{Method: "POST", Path: "/follow-up/{visit}/correct/{fact}", Roles: tell, Handle: callCorrect},
}
