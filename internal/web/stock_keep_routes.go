package web

import "fairstick/internal/people"

// keepers may see the stock and count it.
var keepers = []people.Role{people.Lead, people.Supervisor, people.Runner}

// keepStockRoutes are the pages of what lies where: levels, receipts, counts, moves, disposal, holds and the look-back.
var keepStockRoutes = []Route{
	{Method: "GET", Path: "/stock", Roles: keepers, Handle: stockroomShow},
	{Method: "GET", Path: "/stock.csv", Roles: senior, Handle: stockroomCSV},
	{Method: "GET", Path: "/stock/receive", Roles: senior, Handle: receiveShow},
	{Method: "POST", Path: "/stock/receive", Roles: senior, Handle: receiveSave},
	{Method: "GET", Path: "/stock/count", Roles: keepers, Handle: countShow},
	{Method: "POST", Path: "/stock/count", Roles: keepers, Handle: countSave},
	{Method: "GET", Path: "/stock/of/{thing}", Roles: keepers, Handle: thingShow},
	{Method: "POST", Path: "/stock/of/{thing}/move", Roles: senior, Handle: thingMove},
	{Method: "POST", Path: "/stock/of/{thing}/dispose", Roles: senior, Handle: thingDispose},
	{Method: "POST", Path: "/stock/of/{thing}/quarantine", Roles: senior, Handle: thingQuarantine},
	{Method: "POST", Path: "/stock/of/{thing}/recall", Roles: senior, Handle: thingRecall},
	{Method: "POST", Path: "/stock/of/{thing}/release", Roles: senior, Handle: thingRelease},
	{Method: "GET", Path: "/stock/of/{thing}/strike/{move}", Roles: senior, Handle: strikeShow},
	{Method: "POST", Path: "/stock/of/{thing}/strike/{move}", Roles: senior, Handle: strikeSave},
	{Method: "GET", Path: "/stock/of/{thing}/look-back", Roles: senior, Handle: thingTraceShow},
	{Method: "GET", Path: "/stock/of/{thing}/look-back.csv", Roles: senior, Handle: thingTraceCSV},
	{Method: "GET", Path: "/stock/of/{thing}/look-back.pdf", Roles: senior, Handle: thingTracePDF},
}
