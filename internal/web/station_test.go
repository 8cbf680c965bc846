package web

import (
	"context"
	"errors"
	"html"
	"io"
	"log/slog"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"

	"fairstick/internal/demo"
	"fairstick/internal/event"
	"fairstick/internal/programme"
	"fairstick/internal/store"
	"fairstick/internal/visit"
)

// market is the invented day at mid-morning, served to visitors of a test.
type market struct {
	t     *testing.T
	prog  *programme.Programme
	clock *demo.Clock
	url   string
	event string
	pins  map[string]string
}

// The invented day is made once; each test works on a copy of its folder.
var madeMarket = sync.OnceValues(func() (made struct {
	dir   string
	hints []demo.Hint
}, err error,
) {
	if made.dir, err = os.MkdirTemp("", "market"); err != nil {
		return made, err
	}
	clock := demo.NewClock(demo.Begins())
	st, err := store.Create(context.Background(), marketStore(made.dir, clock))
	if err != nil {
		return made, err
	}
	made.hints, err = demo.Make(context.Background(), programme.New(st, clock.Now, quiet), clock)
	return made, errors.Join(err, st.Close())
})

var quiet = slog.New(slog.DiscardHandler)

func marketStore(dir string, clock *demo.Clock) store.Options {
	return store.Options{Dir: filepath.Join(dir, "data"), Catalogue: programme.Catalogue(), Now: clock.Now, Log: quiet}
}

func TestMain(m *testing.M) {
	code := m.Run()
	if made, err := madeMarket(); err == nil {
		if err := os.RemoveAll(made.dir); err != nil {
			code = max(code, 1)
		}
	}
	os.Exit(code)
}

func newMarket(t *testing.T) *market {
	t.Helper()
	made, err := madeMarket()
	if err != nil {
		t.Fatal(err)
	}
	dir := filepath.Join(t.TempDir(), "copy")
	if err := os.CopyFS(dir, os.DirFS(made.dir)); err != nil {
		t.Fatal(err)
	}
	clock := demo.NewClock(demo.Begins())
	st, err := store.Open(t.Context(), marketStore(dir, clock))
	if err != nil {
		t.Fatal(err)
	}
	m := &market{t: t, clock: clock, prog: programme.New(st, clock.Now, quiet), pins: map[string]string{}}
	o := Options{Programme: m.prog, Log: quiet, Demo: &Demo{Reset: func(context.Context) error { return nil }}}
	for _, h := range made.hints {
		m.pins[h.Name] = h.PIN
		o.Demo.Hints = append(o.Demo.Hints, Hint{Name: h.Name, Role: h.Role, PIN: h.PIN})
	}
	events, err := programme.List[*event.State](t.Context(), m.prog, event.Kind)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range events {
		if e.Phase == event.IsOpen {
			m.event = "/events/" + e.ID
		}
	}
	s := New(o)
	h := httptest.NewServer(s)
	m.url = h.URL
	t.Cleanup(func() {
		h.Close()
		s.Close()
		if err := st.Close(); err != nil {
			t.Error(err)
		}
	})
	return m
}

func (m *market) day() *programme.Day {
	m.t.Helper()
	d, err := m.prog.Day(m.t.Context(), strings.TrimPrefix(m.event, "/events/"))
	if err != nil {
		m.t.Fatal(err)
	}
	return d
}

// ticket finds a visit by its number.
func (m *market) ticket(n int) *visit.State {
	m.t.Helper()
	for _, v := range m.day().Visits {
		if v.Ticket == n {
			return v
		}
	}
	m.t.Fatalf("there is no ticket %d", n)
	return nil
}

func (m *market) person(name string) string {
	m.t.Helper()
	for _, p := range m.day().People {
		if p.Details.Name == name {
			return p.ID
		}
	}
	m.t.Fatalf("nobody is called %s", name)
	return ""
}

// visitor is one browser: it keeps cookies and does not follow a redirect by itself.
type visitor struct {
	m      *market
	client *http.Client
	fields url.Values // hidden fields of the last page, by which a form goes on
	path   string
	status int
	body   string
	to     string // where the last answer redirects
	header http.Header
}

func (m *market) visitor() *visitor {
	m.t.Helper()
	jar, err := cookiejar.New(nil)
	if err != nil {
		m.t.Fatal(err)
	}
	stay := func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }
	return &visitor{m: m, client: &http.Client{Jar: jar, CheckRedirect: stay}}
}

// as is a browser in which somebody has signed in.
func (m *market) as(name string) *visitor {
	m.t.Helper()
	v := m.visitor()
	v.post("/sign-in", url.Values{"person": {m.person(name)}, "pin": {m.pins[name]}})
	v.want(http.StatusSeeOther)
	return v
}

func (v *visitor) do(method, path string, form url.Values) {
	v.m.t.Helper()
	req, err := http.NewRequestWithContext(v.m.t.Context(), method, v.m.url+path, strings.NewReader(form.Encode()))
	if err != nil {
		v.m.t.Fatal(err)
	}
	if method == http.MethodPost {
		req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	}
	res, err := v.client.Do(req)
	if err != nil {
		v.m.t.Fatal(err)
	}
	body, err := io.ReadAll(res.Body)
	if err != nil {
		v.m.t.Fatal(err)
	}
	if err := res.Body.Close(); err != nil {
		v.m.t.Fatal(err)
	}
	v.path, v.status, v.body, v.to, v.header = path, res.StatusCode, string(body), res.Header.Get("Location"), res.Header
}

func (v *visitor) get(path string) { v.m.t.Helper(); v.do(http.MethodGet, path, nil) }

func (v *visitor) post(path string, form url.Values) {
	v.m.t.Helper()
	v.do(http.MethodPost, path, form)
}

// follow opens where the last answer redirects.
func (v *visitor) follow() {
	v.m.t.Helper()
	v.want(http.StatusSeeOther)
	v.get(v.to)
}

var (
	formTag  = regexp.MustCompile(`(?s)<form[^>]*action="([^"]*)"[^>]*>(.*?)</form>`)
	inputTag = regexp.MustCompile(`<input[^>]*type="hidden"[^>]*name="([^"]*)"[^>]*value="([^"]*)"`)
)

// send sends a form of the page that is open, with its hidden fields, as a browser would.
func (v *visitor) send(action string, typed url.Values) {
	v.m.t.Helper()
	for _, f := range formTag.FindAllStringSubmatch(v.body, -1) {
		if f[1] != action {
			continue
		}
		form := url.Values{}
		for _, in := range inputTag.FindAllStringSubmatch(f[2], -1) {
			form.Add(in[1], html.UnescapeString(in[2]))
		}
		for k, list := range typed {
			form[k] = list
		}
		v.fields = form
		v.post(action, form)
		return
	}
	v.m.t.Fatalf("%s has no form for %s:\n%s", v.path, action, v.main())
}

// main is the text of the page below its head.
func (v *visitor) main() string {
	_, s, _ := strings.Cut(v.body, "<main")
	return s
}

func (v *visitor) want(status int) {
	v.m.t.Helper()
	if v.status != status {
		v.m.t.Fatalf("%s answered %d (to %q), want %d:\n%s", v.path, v.status, v.to, status, v.main())
	}
}

func (v *visitor) see(texts ...string) {
	v.m.t.Helper()
	body := html.UnescapeString(v.body)
	for _, s := range texts {
		if !strings.Contains(body, s) {
			v.m.t.Errorf("%s does not say %q:\n%s", v.path, s, v.main())
		}
	}
}

func (v *visitor) seeNot(texts ...string) {
	v.m.t.Helper()
	for _, s := range texts {
		if strings.Contains(v.main(), s) {
			v.m.t.Errorf("%s says %q", v.path, s)
		}
	}
}

func form(pairs ...string) url.Values {
	out := url.Values{}
	for i := 0; i < len(pairs); i += 2 {
		out.Add(pairs[i], pairs[i+1])
	}
	return out
}

func TestLocalPath(t *testing.T) {
	for to, want := range map[string]string{
		"/events/1/test?hands=washed": "/events/1/test?hands=washed",
		"/":                           "/",
		"":                            "/",
		"//evil.example/x":            "/",
		"https://evil.example":        "/",
		`/\evil.example`:              "/",
		"/a\r\nSet-Cookie: x=1":       "/",
		"javascript:alert(1)":         "/",
		"/sign-in?to=/sign-in":        "/",
		"/hand-over":                  "/",
	} {
		if got := localPath(to); got != want {
			t.Errorf("localPath(%q) = %q, want %q", to, got, want)
		}
	}
}

func TestSignIn(t *testing.T) {
	m := newMarket(t)
	v := m.visitor()
	v.get("/station")
	v.want(http.StatusSeeOther)
	if v.to != "/sign-in?to=%2Fstation" {
		t.Errorf("a stranger is sent to %q", v.to)
	}
	v.get(v.to)
	v.want(http.StatusOK)
	v.see("here today stand first", "Ines Calder", "screener, PIN 3691")
	v.get("/sign-in?person=" + m.person("Ines Calder") + "&to=%2Fstation")
	v.see("Your PIN", "The PIN is 3691")
	v.send("/sign-in", form("pin", "1111"))
	v.want(http.StatusForbidden)
	v.see("That PIN does not fit this name", "Ines Calder")
	v.send("/sign-in", form("pin", "3691"))
	v.want(http.StatusSeeOther)
	if v.to != "/station" {
		t.Errorf("after the PIN the page is %q, want /station", v.to)
	}
	v.follow()
	v.want(http.StatusOK)
	v.see("What is this device for?", "Ines Calder")

	v.get("/hand-over")
	v.want(http.StatusSeeOther)
	v.get("/station")
	v.want(http.StatusSeeOther)
	if !strings.HasPrefix(v.to, "/sign-in") {
		t.Errorf("after the hand-over the old session still opens pages: %q", v.to)
	}
}

func TestWrongPINsCostAWait(t *testing.T) {
	m := newMarket(t)
	v := m.visitor()
	for range 5 {
		v.post("/sign-in", form("person", m.person("Ines Calder"), "pin", "1111"))
		v.want(http.StatusForbidden)
	}
	v.post("/sign-in", form("person", m.person("Ines Calder"), "pin", "3691"))
	v.want(http.StatusTooManyRequests)
	v.see("Too many wrong PINs", "ask the lead to lift it under Access")
}

func TestStartByRole(t *testing.T) {
	m := newMarket(t)
	for _, c := range []struct {
		who          string
		see, seeNot  []string
		deskIsClosed int
	}{
		{"Hollis Bray", []string{"Desk", "Board", "This device"}, []string{`/test"`, `/explain"`, "/open", "Office"}, http.StatusForbidden},
		{"Ines Calder", []string{"Desk", "Test", "Controls"}, []string{`/explain"`, "/close", "Office"}, http.StatusOK},
		{"Maren Solbakk", []string{"Desk", "Test", "Explain", "Open", "Close", "Office", "/setup", "/people"}, nil, http.StatusOK},
	} {
		v := m.as(c.who)
		v.get("/")
		v.want(http.StatusOK)
		v.see(append(c.see, "Tamsin Green Market, doors open")...)
		v.seeNot(c.seeNot...)
		v.get(m.event + "/test")
		v.want(c.deskIsClosed)
	}
}

// seat puts a browser to a test station through the pages.
func (v *visitor) seat(station, meter, vial string) {
	v.m.t.Helper()
	d := v.m.day()
	id := strings.TrimPrefix(v.m.event, "/events/")
	table := url.Values{"event": {id}, "step": {"test"}, "station": {station}, "table": {"yes"}}
	for _, x := range d.Meters {
		if x.Details.Label == meter {
			table.Set("meter", x.ID)
		}
	}
	v.get("/station?" + table.Encode())
	v.want(http.StatusOK)
	choice := form("wipe", d.Disinfectants[0].ID)
	for _, x := range d.StripLots {
		if _, ok := x.Vial(vial); ok {
			choice.Set("vial", x.ID+"/"+vial)
		}
	}
	v.send("/station", choice)
	v.want(http.StatusSeeOther)
	if v.to != v.m.event+"/test" {
		v.m.t.Fatalf("after the set-up the page is %q", v.to)
	}
}

func TestStationSetUp(t *testing.T) {
	m := newMarket(t)
	v := m.as("Jonah Pike")
	v.get("/station")
	v.see("not put to a station yet", "Tamsin Green Market")
	id := strings.TrimPrefix(m.event, "/events/")
	v.get("/station?step=test&event=" + id)
	v.see("Meter M1", "Cleared", "Meter M3", "Out of use: in quarantine", "Meter M4", "Controls first")
	v.post("/station", form("event", id, "step", "test", "station", "2", "meter", "nonsense", "table", "yes"))
	v.want(http.StatusUnprocessableEntity)
	v.see("Choose the meter that lies on the table.")
	v.seat("2", "M2", "41-a")
	v.follow()
	v.want(http.StatusOK)
	v.see("Test 2", "M2, mg/dL", "lot INV-41, vial 41-a, code 41")

	d := v.m.as("Hollis Bray")
	d.post("/station", form("event", id, "step", "desk"))
	d.want(http.StatusSeeOther)
	d.follow()
	d.see("Next ticket", "Español")
}
