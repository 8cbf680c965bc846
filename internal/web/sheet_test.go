package web

import (
	"net/http"
	"strings"
	"testing"
)

// The market's reports: each page, each file, and the way from a count to its rows.
func TestReportsOfTheMarket(t *testing.T) {
	m := newMarket(t)
	v := m.as(leadName)
	v.get("/reports?from=2026-10-01&to=2026-10-31")
	v.want(http.StatusOK)
	v.see("Season", "College", "Health department", "Funder", "Equity", "Tamsin Green Market", "letter to the host", "The season and its targets")
	q := "?from=2026-10-01&to=2026-10-31"
	for kind, says := range map[string]string{
		"season": "19 of 29 people who came to the desk were tested at 1 event", "college": "Verified as screeners", "health": "Which events were held?", "funder": "What became of the referrals?", "equity": "At which ages did people come",
	} {
		v.get("/reports/" + kind + q)
		v.want(http.StatusOK)
		v.see(says, "In two minutes", "report.xlsx", "What each figure counts")
		for _, file := range []string{"pdf", "xlsx", "csv", "json"} {
			v.get("/reports/" + kind + "/report." + file + q)
			v.want(http.StatusOK)
			if len(v.body) < 400 {
				t.Errorf("%s.%s has %d bytes", kind, file, len(v.body))
			}
		}
	}
	v.get("/reports/host" + q + "&event=" + strings.TrimPrefix(m.event, "/events/"))
	v.want(http.StatusOK)
	v.see("Letter to the host", "Thank you for having us.", "not shown")
	v.seeNot("normal", "diabetic", ">6</a>", ">3</a>")
	v.get("/reports/rows" + q + "&figure=referred")
	v.want(http.StatusOK)
	v.see("6 visits.", "People whose finding asks for a referral in the protocol.", "/history/")
	v.get("/reports/rows" + q + "&figure=tested&parting=language&part=es")
	v.want(http.StatusOK)
	v.see("Only: Spanish.")
	for path, want := range map[string]int{
		"/reports/happiness": 404, "/reports/host": 404, "/reports/rows?figure=happiness": 404, "/reports/season?from=x": 422, "/reports?from=31.12.2026": 422, "/reports/season?from=2026-10-02&to=2026-10-01": 422,
		"/reports/season?from=2026-10-01&to=2026-10-31&event=nowhere": 404,
	} {
		v.get(path)
		v.want(want)
	}
}

func TestSeasonForm(t *testing.T) {
	o := setUp(t)
	lea := "Lea Lead"
	form := []string{"name=2026 to 2027", "from=2026-05-01", "to=2027-04-30", "events=12", "tested=500", "seen=40", "screeners=10", "other_cost=1200.50", "currency=usd"}
	o.want(o.post(lea, "/reports/season/targets", append([]string{"tested=many"}, form[:3]...)...), 422, "should be a whole number", "2026 to 2027")
	o.want(o.post(lea, "/reports/season/targets", "name=", "from=2026-05-01", "to=2026-04-01", "seen=140", "other_cost=12.345", "currency=usd"), 422, "The last day comes before the first.", "must be from 0 to 100", "The other cost cannot be read")
	o.goes(o.post(lea, "/reports/season/targets", form...), "/reports")
	o.want(o.get(lea, "/reports/season/targets"), 200, `value="1200.50"`, `value="500"`)
	o.want(o.get(lea, "/reports/season"), 200, "Season 2026 to 2027", "Was the season what it was to be?", "500 to go")
	o.want(o.get("Sue Supervisor", "/reports"), 200, "!/reports/season/targets")
	o.want(o.post("Sue Supervisor", "/reports/season/targets", form...), 403)
}

func TestCancelAnEvent(t *testing.T) {
	o := setUp(t)
	lea, ev := "Lea Lead", "/events/"+o.Event
	o.want(o.get(lea, ev), 200, "Cancel the event")
	o.want(o.post(lea, ev+"/cancel", "reason="), 422, "The reason is missing.")
	o.goes(o.post(lea, ev+"/cancel", "reason=storm"), ev)
	o.want(o.get(lea, ev), 200, "Cancelled", "storm", "Put it back on the plan", "!Cancel the event")
	o.want(o.post(lea, ev+"/cancel", "reason=again"), 409, "This event was cancelled.")
	o.want(o.get(lea, "/reports/season?from=2026-01-01&to=2026-12-31"), 200, "1 of 1 planned were cancelled", "cancelled: storm")
	o.goes(o.post(lea, ev+"/reinstate"), ev)
	o.want(o.post(lea, ev+"/reinstate"), 409, "This event was not cancelled.")
	o.want(o.get(lea, ev), 200, "Cancel the event")
	o.want(o.post("Sue Supervisor", ev+"/cancel", "reason=storm"), 403)
}
