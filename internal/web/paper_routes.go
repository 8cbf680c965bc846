package web

// paperRoutes are the paper forms and the typing in of them.
var paperRoutes = []Route{
	{Method: "GET", Path: "/events/{event}/paper", Roles: senior, Handle: paperShow},
	{Method: "POST", Path: "/events/{event}/paper/print", Roles: senior, Handle: paperPrint},
	{Method: "GET", Path: "/events/{event}/paper/forms.pdf", Roles: senior, Handle: paperPDF},
	{Method: "POST", Path: "/events/{event}/paper/void", Roles: senior, Handle: paperVoid},
	{Method: "POST", Path: "/events/{event}/paper/back", Roles: senior, Handle: paperBack},

	{Method: "GET", Path: "/events/{event}/paper/type", Roles: desk, Handle: paperTypeShow},
	{Method: "GET", Path: "/events/{event}/paper/type/form", Roles: desk, Handle: paperTypeForm},
	{Method: "POST", Path: "/events/{event}/paper/type/first", Roles: desk, Handle: paperTypeFirst},
	{Method: "POST", Path: "/events/{event}/paper/type/second", Roles: desk, Handle: paperTypeSecond},
	{Method: "POST", Path: "/events/{event}/paper/type/forget", Roles: desk, Handle: paperTypeForget},
}
