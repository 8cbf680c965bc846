package web

import (
	"fairstick/internal/people"
)

// Route is one address of the program with who may use it.
type Route struct {
	Method string
	Path   string
	Public bool          // no sign-in needed
	Roles  []people.Role // one of them is needed; none named: everybody who is signed in
	Upload bool          // the form may carry a file
	Most   int64         // bytes that it may hold; 0 stands for the usual limit
	Handle func(*Server, *Context) error
}

var (
	lead   = []people.Role{people.Lead}
	senior = []people.Role{people.Lead, people.Supervisor}
	desk   = []people.Role{people.Desk, people.Screener, people.Counsellor, people.Supervisor, people.Lead}
	test   = []people.Role{people.Screener, people.Supervisor, people.Lead}
	tell   = []people.Role{people.Counsellor, people.Supervisor, people.Lead}
)

// Routes lists every page and every form of the program.
func Routes() []Route {
	var all []Route
	for _, part := range [][]Route{
		signInRoutes, setupRoutes, stockRoutes, eventRoutes, openRoutes, deskRoutes, testRoutes, explainRoutes, boardRoutes, closeRoutes,
		incidentRoutes, correctRoutes, paperRoutes, keepRoutes, accessRoutes, qualityRoutes, comparisonRoutes,
		countdownRoutes, keepStockRoutes, learnRoutes, trainingRoutes, planRoutes, followUpRoutes, sheetRoutes, downloadRoutes, exportRoutes,
		lookBackRoutes, inspectionRoutes, retentionRoutes, shortageRoutes, rehearseRoutes,
	} {
		all = append(all, part...)
	}
	return all
}
