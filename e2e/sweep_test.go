package e2e

import (
	"context"
	"fmt"
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"os"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"fairstick/internal/civil"
	"fairstick/internal/competence/cards"
	"fairstick/internal/people"
	"fairstick/internal/programme"
	"fairstick/internal/stock"
	"fairstick/internal/web"
)

// looks are the addresses of pages in the states that an event of the market has, for each route that shows a page.
func (f *fair) looks() map[string][]string {
	f.t.Helper()
	d := f.day()
	wipes, err := programme.List[*stock.Disinfectant](f.t.Context(), f.prog, stock.DisinfectantKind)
	fatal(f.t, err)
	supplies, err := programme.List[*stock.Supply](f.t.Context(), f.prog, stock.SupplyKind)
	fatal(f.t, err)
	values := map[string][]string{
		"event": {f.event}, "meter": {d.BroughtMeters()[0].ID, d.BroughtMeters()[2].ID}, "disinfectant": {wipes[0].ID}, "supply": {supplies[0].ID},
		"person": {d.People[0].ID, d.People[2].ID}, "list": {programme.PeopleList, programme.MetersList, programme.StripLotsList},
		"run":   {d.Event.Runs[0].ID, d.Event.Runs[len(d.Event.Runs)-1].ID},
		"kind":  {programme.CorrectFood, programme.CorrectAnswers, programme.CorrectOutcome, programme.CorrectContact, programme.CorrectLanguage},
		"group": {"station-1", "person-" + d.Visits[4].Readings[0].By},
		"thing": {"strip-lot." + d.StripLots[0].ID, "control-lot." + d.ControlLots[0].ID, "supply." + supplies[0].ID, "disinfectant." + wipes[0].ID},
	}
	for _, sort := range []string{"splash", "spill"} {
		done, err := f.prog.ReportIncident(f.t.Context(), programme.Actor{Person: d.People[0].ID}, programme.ReportIncident{Event: f.event, Sort: sort, Station: "9"})
		fatal(f.t, err)
		values["incident"] = append(values["incident"], done.ID)
	}
	task, err := f.prog.PlanTask(f.t.Context(), f.lead(), programme.PlanTask{Event: f.event, What: "Thank the host", Days: 3, After: true, Owner: d.People[0].ID})
	fatal(f.t, err)
	values["task"] = []string{task.ID}
	file, err := f.prog.AttachEvidence(f.t.Context(), f.lead(), programme.AttachEvidence{Event: f.event, Task: task.ID, Name: "letter.pdf", Data: []byte("%PDF-1.4\n%%EOF\n")})
	fatal(f.t, err)
	values["file"] = []string{file.ID}
	values["lang"] = []string{"ar", "fr"}
	kept, err := f.prog.OpenLookBack(f.t.Context(), f.lead(), programme.OpenLookBack{Ask: programme.AskBack{Meter: values["meter"][0]}, Reason: "the maker recalls the meter"})
	fatal(f.t, err)
	values["id"] = []string{kept.ID}
	called := f.ticket("013").ID
	_, err = f.prog.LogCall(f.t.Context(), f.lead(), programme.LogCall{Visit: called, CallDetails: programme.CallDetails{Channel: "phone", Happened: "no-answer"}})
	fatal(f.t, err)
	follow, _, err := f.prog.FollowUpOf(f.t.Context(), called)
	fatal(f.t, err)
	values["fact"] = []string{follow.State.Attempts[0].FactID}
	for _, n := range []int{60, 2} { // enough pairs for every method, and too few for most; the latter is withdrawn
		c := programme.RecordComparison{Meter: d.BroughtMeters()[0].ID, StripLot: d.StripLots[0].ID, On: d.Event.Plan.Date.String(), Laboratory: "hexokinase", Specimen: string(stock.VenousPlasma)}
		for i := range n {
			c.Pairs = append(c.Pairs, stock.Measured{Reference: fmt.Sprintf("%d.5", 60+5*i), Meter: fmt.Sprint(62 + 5*i + i%7)})
		}
		done, err := f.prog.RecordComparison(f.t.Context(), f.lead(), c)
		fatal(f.t, err)
		values["comparison"] = append(values["comparison"], done.ID)
	}
	if _, err := f.prog.WithdrawComparison(f.t.Context(), f.lead(), programme.WithdrawComparison{Comparison: values["comparison"][1], Reason: "the samples were swapped"}); err != nil {
		f.t.Fatal(err)
	}
	f.quizTaken()
	mine, err := f.prog.Training(f.t.Context(), f.lead().Person, civil.Date{})
	fatal(f.t, err)
	values["number"], values["level"], values["place"], values["quiz"] = []string{"1", "7", "34"}, []string{"screener"}, []string{"1"}, []string{mine.Skill.Quizzes[0].FactID}
	values["room"], values["rehearsal"] = []string{f.roomOf("Maren Solbakk")}, []string{f.rehearsed()}
	tickets := map[string][]string{ // by the page of a visit: which tickets show something different there
		"desk": {"003", "008", "014", "025", "028", "029"}, "test": {"021", "022", "023", "025"}, "explain": {"020", "022", "024"},
		"care": {"021", "022", "023"}, "slip": {"005", "013"}, "correct": {"005", "021"}, "history": {"005", "013"}, "erase": {"013", "021"},
	}
	more := map[string][]string{ // further states of one page
		"/training/record": {"?on=2026-10-10", "?event=" + f.event},
		"/sign-in":         {"?person=" + d.People[0].ID}, "/station": {"?step=desk", "?step=test", "?step=test&table=yes&station=1&meter=" + d.BroughtMeters()[0].ID},
	}
	if _, err := f.prog.FormsPrinted(f.t.Context(), f.lead(), programme.FormsPrinted{Event: f.event, Language: "en", Count: 3}); err != nil {
		f.t.Fatal(err)
	}
	always := map[string]string{"/events/{event}/paper/type/form": "?number=1", "/reports/rows": "?figure=tested"} // a page that is about something in its query
	out := map[string][]string{"/stock/of/{thing}/strike/{move}": f.strikes(values["thing"])}
	for _, r := range web.Routes() {
		if r.Method != http.MethodGet || out[r.Path] != nil {
			continue
		}
		paths := []string{strings.TrimSuffix(strings.TrimSuffix(r.Path, "{$}"), "{rest...}") + always[r.Path]}
		for _, m := range regexp.MustCompile(`\{(\w+)\}`).FindAllStringSubmatch(paths[0], -1) {
			name, vals := m[1], values[m[1]]
			switch {
			case strings.HasPrefix(r.Path, "/retention/proof/"): // nothing has been erased on this day
				vals = []string{"none"}
			case name == "kind" && strings.HasPrefix(r.Path, "/reports/"):
				vals = []string{"season", "college", "host?event=" + f.event, "health", "funder", "equity"}
			case name == "file" && strings.HasPrefix(r.Path, "/export/"):
				vals = []string{"csv.zip"}
			case name == "visit" && strings.HasPrefix(r.Path, "/follow-up/"):
				vals = []string{called}
			case name == "visit":
				for _, n := range tickets[strings.Split(r.Path, "/")[3]] {
					vals = append(vals, f.ticket(n).ID)
				}
			case name == "person" && (strings.Contains(r.Path, "{quiz}") || strings.Contains(r.Path, "{rehearsal}")):
				vals = []string{f.lead().Person}
			case name == "lot" && strings.HasPrefix(r.Path, "/strips"):
				vals = []string{d.StripLots[0].ID}
			case name == "lot":
				vals = []string{d.ControlLots[0].ID}
			}
			if len(vals) == 0 {
				f.t.Fatalf("%s: nothing of the day stands for {%s}", r.Path, name)
			}
			var next []string
			for _, p := range paths {
				for _, v := range vals {
					next = append(next, strings.Replace(p, m[0], v, 1))
				}
			}
			paths = next
		}
		for _, q := range more[r.Path] {
			paths = append(paths, r.Path+q)
		}
		out[r.Path] = paths
	}
	return out
}

// strikes are the pages of the first receipt of each thing that was received, one of them struck.
func (f *fair) strikes(things []string) []string {
	f.t.Helper()
	var out []string
	for i, key := range things {
		_, l, err := f.prog.StockThing(f.t.Context(), key)
		fatal(f.t, err)
		if len(l.Shelf().Moves) == 0 {
			continue
		}
		move := l.Shelf().Moves[0].ID
		out = append(out, "/stock/of/"+key+"/strike/"+move)
		if i == len(things)-1 {
			_, err := f.prog.StrikeStock(f.t.Context(), f.lead(), programme.StrikeStock{Thing: key, Move: move, Reason: "typed twice"})
			fatal(f.t, err)
		}
	}
	return out
}

// quizTaken lets the lead hand in a quiz without an answer, so that there is a result to look at.
func (f *fair) quizTaken() {
	f.t.Helper()
	sit, err := f.prog.OpenQuiz(f.t.Context(), f.lead(), cards.Screener)
	fatal(f.t, err)
	_, err = f.prog.TakeQuiz(f.t.Context(), f.lead(), programme.TakeQuiz{Level: cards.Screener, Seed: sit.Seed})
	fatal(f.t, err)
}

// faults is what is wrong with the page for everybody, whatever it is about.
const faults = `(() => {
  const out = [];
  const seen = new Set();
  for (const e of document.querySelectorAll("[id]")) {
    if (seen.has(e.id)) out.push("two things have the id " + e.id);
    seen.add(e.id);
  }
  for (const e of document.querySelectorAll("input:not([type=hidden]), select, textarea")) {
    const by = e.getAttribute("aria-label") || [...(e.labels || [])].map(l => l.textContent.trim()).join("");
    if (!by) out.push("no label: " + e.outerHTML);
  }
  for (const e of document.querySelectorAll("button, a[href]")) {
    if (!(e.getAttribute("aria-label") || e.textContent.trim())) out.push("no words: " + e.outerHTML);
  }
  for (const a of document.querySelectorAll("[aria-describedby], [aria-labelledby]")) {
    for (const id of ((a.getAttribute("aria-describedby") || "") + " " + (a.getAttribute("aria-labelledby") || "")).split(" ").filter(Boolean))
      if (!document.getElementById(id)) out.push("nothing has the id " + id);
  }
  for (const e of document.querySelectorAll(".table-frame")) {
    if ((innerWidth > 1000 || e.matches(".stack")) && e.scrollWidth > e.clientWidth + 1) out.push("a table is cut off: " + e.getAttribute("aria-label") + ", " + e.scrollWidth + " wide in " + e.clientWidth);
  }
  if (!document.documentElement.lang || !document.title || document.querySelectorAll("h1").length !== 1) out.push("language, title or heading");
  return {Wrong: out, Width: document.documentElement.scrollWidth, Status: performance.getEntriesByType("navigation")[0].responseStatus};
})()`

// files are the routes that send a file or a stream instead of a page, and the proof of an erasure that this day does not have.
var files = regexp.MustCompile(`\.(pdf|csv|json|ics|xlsx)$|/document$|/live$|/files/\{file\}$|^/export/\{file\}$|^/retention/proof/`)

// Every page of the program, as the lead sees it on a phone and on a laptop in the middle of a day: it comes, breaks no
// policy, says nothing wrong on the console, fits the glass, each of its fields has a name, and axe finds nothing. One walk
// asks all of it, since most of the time goes into coming to a page: the phone also looks at the dark form and at what a
// finger could miss, the laptop at narrow glasses.
func TestEveryPage(t *testing.T) {
	f := market(t)
	looks := f.looks()
	routes := make([]string, 0, len(looks))
	for r := range looks {
		if !files.MatchString(r) && r != "/hand-over" {
			routes = append(routes, r)
		}
	}
	slices.Sort(routes)
	// Two tickets are at other stations, which their pages say with a refusal.
	elsewhere := []string{"/events/" + f.event + "/test/" + f.ticket("023").ID, "/events/" + f.event + "/explain/" + f.ticket("020").ID}
	t.Run("on", func(t *testing.T) {
		for _, d := range []device{phone, laptop} {
			t.Run(d.name, func(t *testing.T) {
				t.Parallel()
				f := f.alone(t)
				p := f.comes("Maren Solbakk", d)
				f.sit(p, "1", "M1", "Lot INV-41, vial 41-a")
				for _, r := range routes {
					for i, path := range looks[r] {
						want := http.StatusOK
						if slices.Contains(elsewhere, path) {
							want = http.StatusConflict
						}
						p.visit(f.url + path)
						p.sound(path, want)
						if os.Getenv("FAIRSTICK_SHOTS") != "" { // else nobody would look at the pictures
							p.fullShot(fmt.Sprintf("page%s-%d", strings.NewReplacer("/", "_", "{", "", "}", "").Replace(r), i+1))
						}
						if d == phone {
							p.look(path)
							p.targets(path)
						} else {
							p.lookIn(path, "light")
							p.reflows(path)
						}
					}
				}
				p.mu.Lock()
				defer p.mu.Unlock()
				for _, line := range p.console {
					said := slices.ContainsFunc(elsewhere, func(path string) bool { return strings.HasSuffix(line, path+")") })
					if strings.HasPrefix(line, "error:") && !said {
						t.Errorf("console: %s", line)
					}
				}
			})
		}
	})
}

// sound asks a page that has just come for its status, its width and its faults.
func (p *page) sound(path string, status int) {
	p.t.Helper()
	var got struct {
		Wrong  []string
		Width  int64
		Status int
	}
	p.eval(faults, &got)
	if got.Status != status {
		p.t.Errorf("%s: status %d, want %d", path, got.Status, status)
	}
	if got.Width > p.dev.width {
		p.t.Errorf("%s: %d wide on a glass of %d", path, got.Width, p.dev.width)
	}
	for _, w := range got.Wrong {
		p.t.Errorf("%s: %s", path, w)
	}
}

// visitor asks as somebody, without a browser; nobody when name is empty.
func (f *fair) visitor(name string) *http.Client {
	f.t.Helper()
	jar, err := cookiejar.New(nil)
	fatal(f.t, err)
	if name != "" {
		all, err := programme.List[*people.State](f.t.Context(), f.prog, people.Kind)
		fatal(f.t, err)
		for _, p := range all {
			if p.Details.Name == name {
				token, err := f.prog.SignIn(f.t.Context(), deviceName(0), p.ID, f.pins[name])
				fatal(f.t, err)
				u, err := url.Parse(f.url)
				fatal(f.t, err)
				jar.SetCookies(u, []*http.Cookie{{Name: "fairstick_session", Value: token, Path: "/"}, {Name: "fairstick_device", Value: deviceName(0), Path: "/"}})
			}
		}
	}
	return &http.Client{Jar: jar, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
}

// Each route asks who it is: a form or page that a screener may not use answers 403, and to nobody it shows the sign-in.
func TestEveryRouteAsksWho(t *testing.T) {
	t.Parallel()
	f := market(t)
	nobody, screener := f.visitor(""), f.visitor("Ines Calder")
	var ask func(c *http.Client, method, path string) (int, string)
	ask = func(c *http.Client, method, path string) (int, string) {
		req, err := http.NewRequestWithContext(context.Background(), method, f.url+path, nil)
		fatal(t, err)
		resp, err := c.Do(req)
		fatal(t, err)
		_, err = io.Copy(io.Discard, resp.Body)
		fatal(t, err)
		_ = resp.Body.Close()
		if wait, err := strconv.Atoi(resp.Header.Get("Retry-After")); err == nil && resp.StatusCode == http.StatusTooManyRequests {
			<-time.After(time.Duration(wait) * time.Second) // there are more routes than one address may ask for at once
			return ask(c, method, path)
		}
		return resp.StatusCode, resp.Header.Get("Location")
	}
	looks, denied := f.looks(), 0
	for _, r := range web.Routes() {
		if r.Public {
			continue
		}
		path := regexp.MustCompile(`\{\w+\}`).ReplaceAllString(strings.ReplaceAll(r.Path, "{event}", f.event), "x")
		if r.Method == http.MethodGet {
			path = looks[r.Path][0]
		}
		switch code, to := ask(nobody, r.Method, path); {
		case r.Method == http.MethodGet && (code != http.StatusSeeOther || !strings.HasPrefix(to, "/sign-in?to=")):
			t.Errorf("%s %s shows nobody %d to %q", r.Method, r.Path, code, to)
		case r.Method == http.MethodPost && code != http.StatusUnauthorized:
			t.Errorf("%s %s answers nobody %d", r.Method, r.Path, code)
		}
		if len(r.Roles) == 0 || slices.Contains(r.Roles, people.Screener) {
			continue
		}
		denied++
		if code, _ := ask(screener, r.Method, path); code != http.StatusForbidden {
			t.Errorf("%s %s answers a screener %d, want 403", r.Method, r.Path, code)
		}
	}
	if denied < 60 {
		t.Errorf("only %d routes were tried as a screener", denied)
	}
}
