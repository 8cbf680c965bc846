package web

// lookBackRoutes are the pages that find whom something in doubt has touched. The question stands in the address and holds no
// participant; names are seen only by a form, which leaves an entry.
var lookBackRoutes = []Route{
	{Method: "GET", Path: "/look-back", Roles: senior, Handle: lookBackShow},
	{Method: "GET", Path: "/look-back.csv", Roles: senior, Handle: lookBackCSV},
	{Method: "GET", Path: "/look-back.pdf", Roles: senior, Handle: lookBackPDF},
	{Method: "POST", Path: "/look-back/kept", Roles: senior, Handle: lookBackKeep},
	{Method: "GET", Path: "/look-back/kept/{id}", Roles: senior, Handle: keptShow},
	{Method: "POST", Path: "/look-back/kept/{id}/names", Roles: senior, Handle: keptNames},
	{Method: "POST", Path: "/look-back/kept/{id}/letters", Roles: senior, Handle: keptLetters},
	{Method: "POST", Path: "/look-back/kept/{id}/close", Roles: senior, Handle: keptClose},
}
