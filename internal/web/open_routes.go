package web

import (
	"time"

	"github.com/a-h/templ"

	"fairstick/internal/programme"
	"fairstick/internal/web/ui"
)

// openRoutes are the pages that open a day: checks, room, stock, controls.
var openRoutes = []Route{
	{Method: "GET", Path: "/events/{event}/open", Roles: senior, Handle: openShow},
	{Method: "POST", Path: "/events/{event}/open", Roles: senior, Handle: openDoors},
	{Method: "POST", Path: "/events/{event}/open/checks", Roles: senior, Handle: openChecks},
	{Method: "POST", Path: "/events/{event}/open/problem", Roles: senior, Handle: openProblem},
	{Method: "POST", Path: "/events/{event}/open/room", Roles: senior, Handle: openRoom},
	{Method: "POST", Path: "/events/{event}/open/stock", Roles: senior, Handle: openStock},
	{Method: "POST", Path: "/events/{event}/open/ratio", Roles: senior, Handle: openRatio},
	{Method: "GET", Path: "/events/{event}/stock", Roles: senior, Handle: stockOutShow},
	{Method: "POST", Path: "/events/{event}/stock", Roles: senior, Handle: stockOutAdd},

	{Method: "GET", Path: "/events/{event}/controls", Roles: test, Handle: controlsShow},
	{Method: "GET", Path: "/events/{event}/controls/run", Roles: test, Handle: controlsRunShow},
	{Method: "POST", Path: "/events/{event}/controls/run", Roles: test, Handle: controlsRun},
	{Method: "POST", Path: "/events/{event}/controls/code", Roles: test, Handle: controlsCode},
	{Method: "GET", Path: "/events/{event}/controls/runs/{run}", Roles: test, Handle: controlsVerdict},
	{Method: "POST", Path: "/events/{event}/controls/runs/{run}/cause", Roles: test, Handle: controlsCause},
	{Method: "GET", Path: "/events/{event}/controls/meters/{meter}", Roles: test, Handle: controlsMeter},
	{Method: "POST", Path: "/events/{event}/controls/meters/{meter}/void", Roles: test, Handle: controlsVoid},
	{Method: "POST", Path: "/events/{event}/controls/meters/{meter}/quarantine", Roles: test, Handle: controlsQuarantine},
	{Method: "GET", Path: "/events/{event}/controls/containers", Roles: test, Handle: controlsContainers},
	{Method: "POST", Path: "/events/{event}/controls/containers/vial", Roles: test, Handle: controlsOpenVial},
	{Method: "POST", Path: "/events/{event}/controls/containers/bottle", Roles: test, Handle: controlsOpenBottle},
	{Method: "POST", Path: "/events/{event}/controls/containers/throw-vial", Roles: test, Handle: controlsThrowVial},
	{Method: "POST", Path: "/events/{event}/controls/containers/throw-bottle", Roles: test, Handle: controlsThrowBottle},
	{Method: "GET", Path: "/events/{event}/controls/log", Roles: test, Handle: controlsLog},
	{Method: "GET", Path: "/events/{event}/controls/log.pdf", Roles: test, Handle: controlsLogPDF},
}

// boardRoutes are the lead's board and the live stream.
var boardRoutes = []Route{
	{Method: "GET", Path: "/events/{event}/board", Handle: boardShow},
	{Method: "GET", Path: "/events/{event}/live", Handle: live},
	{Method: "GET", Path: "/events/{event}/clock", Roles: senior, Handle: clockShow},
	{Method: "POST", Path: "/events/{event}/clock", Roles: senior, Handle: clockAnswer},
}

// closeRoutes are the closing of a day and its report.
var closeRoutes = []Route{
	{Method: "GET", Path: "/events/{event}/close", Roles: senior, Handle: closeShow},
	{Method: "POST", Path: "/events/{event}/close", Roles: senior, Handle: closeEvent},
	{Method: "POST", Path: "/events/{event}/close/doors", Roles: senior, Handle: closeDoors},
	{Method: "POST", Path: "/events/{event}/close/reopen", Roles: senior, Handle: closeReopen},
	{Method: "POST", Path: "/events/{event}/close/left", Roles: senior, Handle: closeLeft},
	{Method: "POST", Path: "/events/{event}/close/count", Roles: senior, Handle: closeCount},
	{Method: "POST", Path: "/events/{event}/close/memory", Roles: senior, Handle: closeMemory},
	{Method: "POST", Path: "/events/{event}/close/explain", Roles: senior, Handle: closeExplain},

	{Method: "GET", Path: "/events/{event}/report", Roles: senior, Handle: reportShow},
	{Method: "GET", Path: "/events/{event}/report.pdf", Roles: senior, Handle: reportPDF},
	{Method: "GET", Path: "/events/{event}/report.csv", Roles: senior, Handle: reportCSV},
	{Method: "GET", Path: "/events/{event}/report.json", Roles: senior, Handle: reportJSON},
}

// liveParts are the fragments that the stream keeps true: the alerts of every screen, the board, the lines of the stations.
func liveParts(d *programme.Day, now time.Time, l laptop) []templ.Component {
	v := boardOf(d, now, l)
	parts := []templ.Component{ui.Alerts("en", alertsOf(d)), boardNotes(v), boardFigures(v), boardQueues(v), boardMeters(v), boardStock(v), deskLine(d, now), testLine(d, now), explainLine(d, now)}
	parts = append(parts, ui.Alerts("es", tongueSpanish.alerts(d)), inLang("es", deskLine(d, now)), inLang("es", explainLine(d, now)))
	for _, s := range d.Incidents {
		if s.Open() {
			parts = append(parts, incidentSince(s, now))
		}
	}
	return parts
}
