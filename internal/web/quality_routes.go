package web

// qualityRoutes are the pages that say from its controls whether a meter can be trusted, and from a day's participants
// whether the meters read alike.
var qualityRoutes = []Route{
	{Method: "GET", Path: "/quality", Roles: senior, Handle: qualityShow},
	{Method: "GET", Path: "/quality/meters/{meter}", Roles: senior, Handle: qualityMeter},
	{Method: "GET", Path: "/quality/meters/{meter}/report.pdf", Roles: senior, Handle: qualityPDF},
	{Method: "GET", Path: "/events/{event}/alike", Roles: senior, Handle: alikeShow},
	{Method: "GET", Path: "/events/{event}/alike/report.pdf", Roles: senior, Handle: alikePDF},
}
