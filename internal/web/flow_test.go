package web

import (
	"net/http"
	"strings"
	"testing"

	"fairstick/internal/programme"
)

func TestFlowPage(t *testing.T) {
	o := setUp(t)
	if err := o.Roster(t.Context(), officeSetting()); err != nil {
		t.Fatal(err)
	}
	page := "/events/" + o.Event + "/flow"
	// The event has 20 expected, two screeners and one counsellor on the roster.
	a := o.get("Sue Supervisor", page)
	o.want(a, http.StatusOK, "How many people at each post?", `name="expected" type="text" value="20"`, `name="test" type="text" value="2"`, `name="explain" type="text" value="1"`,
		"the promise is kept: 9", "The bottleneck", "Propose a roster for these posts", "Supervisors: 2 for the 3 who test or explain (one for 2), at the very least 1", "seed 1", "± ",
		"When do people come, and how many can each station take?", "Where do people wait, and when?", "Test strips", "Snella KA 2006", "1,000 simulated days")
	if n := strings.Count(a.body, `<svg xmlns="http://www.w3.org/2000/svg"`); n != 4 {
		t.Errorf("%d pictures, want two for a phone and two for a page", n)
	}
	if b := o.get("Sue Supervisor", page); b.text() != a.text() {
		t.Error("the same question has two answers")
	}
	o.want(a, http.StatusOK, "Type receipts with their prices under Stock")
	_, err := o.P.ReceiveStock(t.Context(), o.As("Lea Lead"), programme.ReceiveStock{Act: o.Act(), Thing: "strip-lot." + o.ID("A"), Packs: 4, PerPack: 50, Place: "Cupboard", Price: "24.50", Currency: "USD", Invoice: "INV 1"})
	if err != nil {
		t.Fatal(err)
	}
	o.want(o.get("Sue Supervisor", page), http.StatusOK, "What has a price costs 24.50 USD in whole packs", "for each person tested", "lines have no price yet", "On hand", "!under Stock")
	ask := page + "?expected=90&from=09:00&to=13:00&profile=front&wait=20&sure=95"
	o.want(o.get("Lea Lead", ask), http.StatusOK, "the promise is kept", "All lines together", "pairs")
	o.want(o.get("Lea Lead", page+"?expected=300&from=09:00&to=13:00&profile=front&wait=20&sure=95"), http.StatusOK, "Strip lot A, 3 sealed vials", "are missing. If they come from a new lot", "vials of 50.", "To buy what is short, as far as it has a price:", "1 line is short")
	// Two screeners are verified on that day, one explains, two supervise; for 90 people that is too few.
	o.want(o.get("Lea Lead", ask), http.StatusOK, "Only 2 of the programme may test on that day, and 4 are needed.", "Only 1 of the programme may explain results on that day, and 3 are needed.", "Only 2 of the programme may supervise on that day, and 4 are needed.")
	// One screener for 90 people: some ten an hour, so it cannot be.
	o.want(o.get("Lea Lead", ask+"&desk=2&test=1&explain=4"), http.StatusOK, "the promise is not kept", "The fewest people that keep it:", "With the people that are planned, 9 of 10 could be promised ", `value="1"`)
	o.want(o.get("Lea Lead", ask+"&desk=9&test=9&explain=9"), http.StatusOK, "the promise is kept", "fewer.")

	for _, x := range []struct{ query, says, field string }{
		{"expected=0", "The number of people expected should be from 1 to 2000; 0 was typed.", "expected"},
		{"expected=1000000", "The number of people expected should be from 1 to 2000; 1000000 was typed.", "expected"},
		{"expected=many", `should be a whole number; "many" was typed.`, "expected"},
		{"expected=", "The number of people expected is missing.", "expected"},
		{"from=13:00&to=09:00", "The doors cannot close at 09:00 when they open at 13:00.", "to"},
		{"from=&to=", "cannot be read.", "to"},
		{"profile=tidal", `The profile "tidal" is not known. Choose one from the list.`, "profile"},
		{"profile=hours", "Write how many come in each hour", "each"},
		{"profile=hours&each=1,2", "The profile has 2 numbers, but 09:00-13:00 has 4 hours.", "each"},
		{"test=0", "The number of screeners should be from 1 to 500; 0 was typed.", "test"},
		{"desk=-3", "The number at the desk should be from 1 to 500; -3 was typed.", "desk"},
		{"meters=501", "The number of meters in use should be from 1 to 500", "meters"},
		{"wait=NaN", "should be a plain number", "wait"},
		{"sure=100", "How sure it should be should be from 50 to 99; 100 was typed.", "sure"},
	} {
		query := "expected=20&from=09:00&to=13:00&profile=flat&wait=20&sure=95"
		for _, pair := range strings.Split(x.query, "&") {
			name, value, _ := strings.Cut(pair, "=")
			query = strings.TrimPrefix(strings.ReplaceAll("&"+query, "&"+name+"="+valueIn(query, name), ""), "&") + "&" + name + "=" + value
		}
		a := o.get("Lea Lead", page+"?"+query)
		o.want(a, http.StatusUnprocessableEntity, x.says, `id="f-`+x.field+`-error"`, "!simulated days")
		if value := valueIn(query, x.field); value != "" && x.field != "profile" {
			o.want(a, http.StatusUnprocessableEntity, `value="`+value+`"`) // what was typed stays
		}
	}
	for _, who := range []string{"Ann Screener", "Dot Counsellor", "Rae Runner"} {
		o.want(o.get(who, page), http.StatusForbidden)
		o.want(o.get(who, "/events"), http.StatusOK, "!/flow")
	}
	o.want(o.get("Lea Lead", "/events/nothing/flow"), http.StatusNotFound)
	o.want(o.get("Lea Lead", "/events"), http.StatusOK, page)
	o.want(o.get("Lea Lead", "/events/"+o.Event), http.StatusOK, page)
}

func TestEventPack(t *testing.T) {
	o := setUp(t)
	if err := o.Roster(t.Context(), officeSetting()); err != nil {
		t.Fatal(err)
	}
	pack := "/events/" + o.Event + "/pack.pdf"
	o.want(o.get("Lea Lead", "/events/"+o.Event+"/flow"), http.StatusOK, "Make the event pack", pack, "No form is numbered yet.", `value="30"`, `<option value="none" selected`, "/events/"+o.Event+"/paper")
	for _, query := range []string{"", "?size=a4", "?expected=90&from=09:00&to=13:00&profile=front&wait=20&sure=95", "?expected=&size=a4"} {
		a := o.get("Sue Supervisor", pack+query)
		if a.status != http.StatusOK || !strings.HasPrefix(a.body, "%PDF-") || a.header.Get("Content-Type") != "application/pdf" {
			t.Errorf("the pack with %q: %d %.200s", query, a.status, a.text())
		}
		if a4 := strings.Contains(a.body, "595.28 841.89"); a4 != strings.Contains(query, "a4") {
			t.Errorf("the pack with %q: A4 is %v", query, a4)
		}
	}
	o.want(o.get("Lea Lead", pack+"?expected=0&from=09:00&to=13:00&profile=front&wait=20&sure=95"), http.StatusUnprocessableEntity, "The pack cannot be made from these numbers.", "0 was typed")
	for _, who := range []string{"Ann Screener", "Dot Counsellor", "Rae Runner"} {
		o.want(o.get(who, pack), http.StatusForbidden)
	}
}

// Forms are numbered by an act of its own. Drawing the pack gives no number, however often, and a batch that is in use is not drawn again.
func TestEventPackForms(t *testing.T) {
	o := setUp(t)
	if err := o.Roster(t.Context(), officeSetting()); err != nil {
		t.Fatal(err)
	}
	base := "/events/" + o.Event
	const asked = "expected=20&from=09:00&to=13:00&profile=front&wait=20&sure=95"
	number := func(who string, fields ...string) answer { return o.post(who, base+"/pack/forms?"+asked, fields...) }
	printed := func() int {
		d, err := o.P.Day(t.Context(), o.Event)
		if err != nil {
			t.Fatal(err)
		}
		return len(d.Forms())
	}
	o.want(number("Sue Supervisor", "count=", "language=en"), http.StatusUnprocessableEntity, "30 are a usual reserve", `id="f-count-error"`)
	o.want(number("Sue Supervisor", "count=0", "language=en"), http.StatusUnprocessableEntity, "Nothing was numbered.")
	o.want(number("Sue Supervisor", "count=-4", "language=en"), http.StatusUnprocessableEntity, "The number of forms", `value="-4"`)
	o.want(number("Sue Supervisor", "count=501", "language=en"), http.StatusUnprocessableEntity, "500")
	o.want(number("Sue Supervisor", "count=many", "language=en"), http.StatusUnprocessableEntity, "should be a whole number")
	o.want(number("Sue Supervisor", "count=3", "language=xx"), http.StatusUnprocessableEntity, "language")
	o.want(number("Ann Screener", "count=3", "language=en"), http.StatusForbidden)
	if n := printed(); n != 0 {
		t.Fatalf("%d forms were numbered by refused forms", n)
	}
	a := number("Sue Supervisor", "count=3", "language=en")
	if !strings.HasPrefix(a.location, base+"/flow?") || !strings.HasSuffix(a.location, "#print") || !strings.Contains(a.location, "expected=20") {
		t.Errorf("sent to %q, want back to what was asked", a.location)
	}
	number("Sue Supervisor", "count=2", "language=es")
	flow := base + "/flow?" + asked
	o.want(o.get("Lea Lead", flow), http.StatusOK, `<option value="all" selected`, "All 5 that are not in use", "001 to 003, English", "004 to 005, Spanish", "making it again gives none")
	pack := base + "/pack.pdf?" + asked
	without, all, one := o.get("Lea Lead", pack), o.get("Lea Lead", pack+"&forms=all"), o.get("Lea Lead", pack+"&forms=1-3&size=a4")
	sizes := [3]int{}
	for i, a := range []answer{without, all, one} {
		if a.status != http.StatusOK || !strings.HasPrefix(a.body, "%PDF-") {
			t.Fatalf("pack %d: %d %.200s", i, a.status, a.text())
		}
		sizes[i] = strings.Count(a.body, "/Type /Page\n")
	}
	if !(sizes[0] < sizes[2] && sizes[2] < sizes[1]) {
		t.Errorf("packs of %v pages, want the most with all forms", sizes)
	}
	if n := printed(); n != 5 {
		t.Errorf("%d forms are numbered after three packs, want 5", n)
	}
	o.want(o.get("Lea Lead", pack+"&forms=1-4"), http.StatusNotFound, "These numbers were not given together")
	if _, err := o.P.VoidForm(t.Context(), o.As("Lea Lead"), programme.VoidForm{Act: o.Act(), Event: o.Event, Form: 2, Reason: "Torn"}); err != nil {
		t.Fatal(err)
	}
	o.want(o.get("Lea Lead", pack+"&forms=1-3"), http.StatusConflict, "Forms 1-3 are in use.", "could hold another person's answers")
	o.want(o.get("Lea Lead", flow), http.StatusOK, "In use already, so not offered here: 001 to 003.", `<option value="4-5" selected`, "!All 5")
}

func TestPlanningPage(t *testing.T) {
	o := setUp(t)
	o.want(o.get("Lea Lead", "/planning"), http.StatusOK, "What do our plans rest on?", "no event with people is closed yet", "Snella KA 2006", "Leave before the test 4 % 4 % -", "Use the published values alone")
	o.want(o.get("Sue Supervisor", "/planning"), http.StatusOK, "Test, one person without a repeat 6 min 6 min -", "!Use the published values alone")
	o.want(o.get("Ann Screener", "/planning"), http.StatusForbidden)
	o.want(o.post("Sue Supervisor", "/planning?learn=no"), http.StatusForbidden)
	o.want(o.post("Lea Lead", "/planning?learn=perhaps"), http.StatusUnprocessableEntity, "It was not said whether what was seen is used.")
	if a := o.post("Lea Lead", "/planning?learn=no"); a.location != "/planning" {
		t.Errorf("sent to %q", a.location)
	}
	o.want(o.get("Lea Lead", "/planning"), http.StatusOK, "On published values alone: what was seen is turned off.", "Use what was seen")
	o.post("Lea Lead", "/planning?learn=yes")
	o.want(o.get("Lea Lead", "/planning"), http.StatusOK, "!is turned off", "Use the published values alone")
	flow := "/events/" + o.Event + "/flow"
	// The wipes on the list keep a meter wet for 90 seconds.
	o.want(o.get("Lea Lead", flow), http.StatusOK, "The meter stays wet 1.5 min 2 min - the longest label", "!As at")
	o.want(o.get("Lea Lead", flow+"?expected=20&from=09:00&to=13:00&profile=own&wait=20&sure=95"), http.StatusUnprocessableEntity, "No closed event is used to say how people come.", `id="f-profile-error"`)
	o.want(o.get("Lea Lead", "/setup"), http.StatusOK, `href="/planning"`)
}

func valueIn(query, name string) string {
	_, rest, _ := strings.Cut("&"+query, "&"+name+"=")
	value, _, _ := strings.Cut(rest, "&")
	return value
}

// BenchmarkFlowPage is how long the answer for 90 people takes, pictures and page with it.
func BenchmarkFlowPage(b *testing.B) {
	o := setUp(b)
	for b.Loop() {
		if a := o.get("Lea Lead", "/events/"+o.Event+"/flow?expected=90&from=09:00&to=13:00&profile=front&wait=20&sure=95"); a.status != http.StatusOK {
			b.Fatal(a.status)
		}
	}
}
