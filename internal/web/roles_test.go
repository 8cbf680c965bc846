package web

import (
	"bytes"
	"context"
	"flag"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"fairstick/internal/people"
	"fairstick/internal/programme"
)

var placeRoutes = flag.Bool("place-routes", false, "write testdata/roles.golden.txt anew: look at the difference before you keep it")

// roleLetters are the columns of the matrix.
var roleLetters = []struct {
	role   people.Role
	letter string
}{{people.Lead, "L"}, {people.Supervisor, "S"}, {people.Screener, "T"}, {people.Counsellor, "C"}, {people.Desk, "D"}, {people.Runner, "R"}}

const matrixHead = `# Who may open which address: L lead, S supervisor, T screener (test), C counsellor, D desk, R runner; - may not; open: no sign-in.
# A person with several roles may do what any of them may. A route that is missing here fails the test.
# To place new routes: go test ./internal/web -run TestRoleMatrix -place-routes, then read what changed.
`

// Every route stands in a matrix that a person can read, and does what the matrix says: for each role, for nobody, for a
// session that was ended, that is too old, that is idle, and for a stolen cookie.
func TestRoleMatrix(t *testing.T) {
	m := newMarket(t)
	server := m.server()
	cookies := map[people.Role][]*http.Cookie{}
	lead := programme.Actor{Person: m.person(leadName)}
	sign := func(name string, role people.Role, device string) []*http.Cookie {
		t.Helper()
		d, err := m.prog.DescribePerson(t.Context(), lead, programme.DescribePerson{Name: name, Roles: []string{string(role)}, PIN: "739182"})
		if err != nil {
			t.Fatal(err)
		}
		token, err := m.prog.SignIn(t.Context(), device, d.ID, "739182")
		if err != nil {
			t.Fatal(err)
		}
		return []*http.Cookie{{Name: sessionCookie, Value: token}, {Name: deviceCookie, Value: device}}
	}
	device := func(n int) string { return fmt.Sprintf("%032x", n) }
	for i, x := range roleLetters {
		cookies[x.role] = sign("Only "+string(x.role), x.role, device(i+1))
	}
	old := sign("Old Lead", people.Lead, device(20))
	m.clock.Set(m.clock.Now().Add(12*time.Hour + time.Minute))
	idle := sign("Idle Lead", people.Lead, device(21))
	m.clock.Set(m.clock.Now().Add(21 * time.Minute))
	ended := sign("Ended Lead", people.Lead, device(22))
	if err := m.prog.SignOut(t.Context(), ended[0].Value); err != nil {
		t.Fatal(err)
	}
	for i, x := range roleLetters { // they are past twelve hours too: sign in anew
		token, err := m.prog.SignIn(t.Context(), device(i+1), m.byName("Only "+string(x.role)), "739182")
		if err != nil {
			t.Fatal(err)
		}
		cookies[x.role] = []*http.Cookie{{Name: sessionCookie, Value: token}, {Name: deviceCookie, Value: device(i + 1)}}
	}
	stolen := []*http.Cookie{cookies[people.Lead][0], {Name: deviceCookie, Value: device(23)}}
	outsiders := map[string][]*http.Cookie{"nobody": nil, "ended": ended, "too old": old, "idle": idle, "stolen": stolen, "forged": {{Name: sessionCookie, Value: strings.Repeat("A", 43)}}}

	caller := 0
	ask := func(r Route, with []*http.Cookie) (int, string, string) {
		t.Helper()
		path := regexp.MustCompile(`\{[a-z]+\}`).ReplaceAllString(strings.TrimSuffix(r.Path, "{$}"), "nothing")
		ctx, cancel := context.WithTimeout(t.Context(), 10*time.Second)
		defer cancel()
		req := httptest.NewRequestWithContext(ctx, r.Method, path, strings.NewReader(""))
		req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		caller++
		req.RemoteAddr = fmt.Sprintf("10.1.%d.%d:999", caller/250, caller%250)
		for _, c := range with {
			req.AddCookie(c)
		}
		w := httptest.NewRecorder()
		server.ServeHTTP(w, req)
		return w.Code, w.Header().Get("Location"), w.Body.String()
	}
	var matrix strings.Builder
	matrix.WriteString(matrixHead)
	for _, r := range Routes() {
		line := "open"
		if !r.Public {
			line = ""
			for _, x := range roleLetters {
				may := len(r.Roles) == 0
				for _, role := range r.Roles {
					may = may || role == x.role
				}
				status, to, body := ask(r, cookies[x.role])
				refused := status == http.StatusForbidden && strings.Contains(body, "may not open this page.")
				if refused == may || strings.HasPrefix(to, "/sign-in") {
					t.Errorf("%s %s by a %s: %d to %q, may be opened: %v", r.Method, r.Path, x.role, status, to, may)
				}
				if may {
					line += x.letter
				} else {
					line += "-"
				}
			}
			for who, with := range outsiders {
				status, to, body := ask(r, with)
				in := status == http.StatusUnauthorized
				if r.Method == http.MethodGet {
					in = status == http.StatusSeeOther && strings.HasPrefix(to, "/sign-in?to=")
				}
				if who == "idle" && r.watches() { // a board on the wall goes on; there is no such event here
					in = status == http.StatusNotFound
				}
				if !in {
					t.Errorf("%s %s by %s: %d to %q\n%s", r.Method, r.Path, who, status, to, body)
				}
			}
		}
		fmt.Fprintf(&matrix, "%-6s  %-4s %s\n", line, r.Method, r.Path)
	}
	file := filepath.Join("testdata", "roles.golden.txt")
	if *placeRoutes {
		if err := os.WriteFile(file, []byte(matrix.String()), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(want, []byte(matrix.String())) {
		t.Errorf("the routes are not those of %s; these lines differ:\n%s", file, lineDifference(string(want), matrix.String()))
	}
}

func lineDifference(was, is string) string {
	var out []string
	for _, x := range []struct{ sign, from, in string }{{"- ", was, is}, {"+ ", is, was}} {
		for _, line := range strings.Split(x.from, "\n") {
			if !strings.Contains(x.in, line+"\n") && line != "" {
				out = append(out, x.sign+line)
			}
		}
	}
	return strings.Join(out, "\n")
}

// server is the pages themselves, without a listener.
func (m *market) server() *Server {
	m.t.Helper()
	s := New(Options{Programme: m.prog, Log: quiet})
	m.t.Cleanup(s.Close)
	return s
}

func (m *market) byName(name string) string {
	m.t.Helper()
	all, err := programme.List[*people.State](m.t.Context(), m.prog, people.Kind)
	if err != nil {
		m.t.Fatal(err)
	}
	for _, p := range all {
		if p.Details.Name == name {
			return p.ID
		}
	}
	m.t.Fatalf("nobody is called %s", name)
	return ""
}

// What another site sends, frames or asks for is refused, and every page says so itself.
func TestForeignSitesAreKeptOut(t *testing.T) {
	m := newMarket(t)
	v := m.as(leadName)
	base := m.url
	send := func(method, path string, header map[string]string) *http.Response {
		t.Helper()
		req, err := http.NewRequestWithContext(t.Context(), method, base+path, strings.NewReader("minutes=5"))
		if err != nil {
			t.Fatal(err)
		}
		req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		for k, val := range header {
			req.Header.Set(k, val)
		}
		res, err := v.client.Do(req)
		if err != nil {
			t.Fatal(err)
		}
		_, err = io.Copy(io.Discard, res.Body)
		if err = firstErr(err, res.Body.Close()); err != nil {
			t.Fatal(err)
		}
		return res
	}
	for what, header := range map[string]map[string]string{
		"a foreign origin":       {"Origin": "https://evil.example"},
		"an opaque origin":       {"Origin": "null"},
		"a cross-site form":      {"Sec-Fetch-Site": "cross-site"},
		"a same-site form":       {"Sec-Fetch-Site": "same-site"},
		"another port of ours":   {"Origin": "http://127.0.0.1:1"},
		"an origin of our name?": {"Origin": base + ".evil.example"},
	} {
		if res := send(http.MethodPost, "/access/idle", header); res.StatusCode != http.StatusForbidden {
			t.Errorf("%s: %d", what, res.StatusCode)
		}
	}
	u, err := url.Parse(base)
	if err != nil {
		t.Fatal(err)
	}
	if res := send(http.MethodPost, "/access/idle", map[string]string{"Origin": base, "Host": u.Host}); res.StatusCode == http.StatusForbidden {
		t.Error("our own form was refused")
	}
	if res := send(http.MethodGet, "/hand-over", map[string]string{"Sec-Fetch-Site": "cross-site"}); res.Header.Get("Location") != "/" {
		t.Errorf("a link on another site signed somebody out: %q", res.Header.Get("Location"))
	}
	for _, path := range []string{"/", "/sign-in", "/nothing-here", "/access", "/phones", "/people", m.event + "/board"} {
		res := send(http.MethodGet, path, nil)
		h := res.Header
		if h.Get("X-Frame-Options") != "DENY" || h.Get("X-Content-Type-Options") != "nosniff" || h.Get("Cache-Control") != "no-store" || h.Get("Referrer-Policy") != "same-origin" {
			t.Errorf("%s: %v", path, h)
		}
		policy := h.Get("Content-Security-Policy")
		for _, need := range []string{"default-src 'none'", "script-src 'self'", "style-src 'self'", "frame-ancestors 'none'", "base-uri 'none'", "form-action 'self'"} {
			if !strings.Contains(policy, need) {
				t.Errorf("%s: the policy lacks %s: %s", path, need, policy)
			}
		}
		if strings.Contains(policy, "unsafe") || strings.Contains(policy, "*") || strings.Contains(policy, "http") {
			t.Errorf("%s: the policy is loose: %s", path, policy)
		}
		for _, c := range res.Cookies() {
			if !c.HttpOnly || c.Path != "/" || c.Domain != "" || c.SameSite != http.SameSiteStrictMode && c.Name != deviceCookie {
				t.Errorf("%s: cookie %s: %+v", path, c.Name, c)
			}
		}
	}
	safe := New(Options{Programme: m.prog, Log: quiet, Secure: true})
	defer safe.Close()
	w := httptest.NewRecorder()
	safe.ServeHTTP(w, httptest.NewRequestWithContext(t.Context(), http.MethodGet, "/sign-in", nil))
	if got := w.Header().Get("Set-Cookie"); !strings.HasPrefix(got, "__Host-fairstick_device=") || !strings.Contains(got, "; Secure") || !strings.Contains(got, "SameSite=Lax") {
		t.Errorf("the device's cookie under TLS: %s", got)
	}
}

func firstErr(errs ...error) error {
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return nil
}

// A device that was not used asks for the PIN, shows whose it is, and leads back to the page of the form.
func TestIdleLockAsksAgain(t *testing.T) {
	m := newMarket(t)
	v := m.as("Hollis Bray")
	path := v.arrive("en")
	m.clock.Set(m.clock.Now().Add(21 * time.Minute))
	v.get(path)
	v.follow()
	v.see("Hollis Bray", "locked", "Somebody else", "data-locked", `data-who="Hollis Bray"`)
	v.get("/sign-in?person=" + m.person(leadName))
	if strings.Contains(v.body, "data-locked") {
		t.Error("another name is asked for its PIN as if it were locked")
	}
	req, err := http.NewRequestWithContext(t.Context(), http.MethodPost, m.url+path+"/consent", strings.NewReader("agree=yes"))
	if err != nil {
		t.Fatal(err)
	}
	req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	req.Header.Set("Referer", m.url+path+"/consent")
	res, err := v.client.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	page, err := io.ReadAll(res.Body)
	if err = firstErr(err, res.Body.Close()); err != nil {
		t.Fatal(err)
	}
	if res.StatusCode != http.StatusUnauthorized || !strings.Contains(string(page), `name="to" value="`+path+`"`) || !strings.Contains(string(page), "has not used this device") {
		t.Errorf("the form of a locked device: %d\n%s", res.StatusCode, page)
	}
	v.post("/sign-in", form("person", m.person("Hollis Bray"), "pin", m.pins["Hollis Bray"], "to", path))
	if v.to != path {
		t.Errorf("after the PIN it leads to %q, want %q", v.to, path)
	}
	v.follow()
	v.want(http.StatusOK)
}

// The live stream of a device ends when its session is ended, and tells it nothing more.
func TestTheStreamEndsWithItsSession(t *testing.T) {
	m := newMarket(t)
	v := m.as("Hollis Bray")
	req, err := http.NewRequestWithContext(t.Context(), http.MethodGet, m.url+m.event+"/live", nil)
	if err != nil {
		t.Fatal(err)
	}
	res, err := v.client.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = res.Body.Close() }()
	first := make([]byte, 64)
	if _, err := io.ReadAtLeast(res.Body, first, 64); err != nil || !strings.Contains(string(first), "event: fragment") {
		t.Fatalf("%q %v", first, err)
	}
	if err := m.prog.EndSessionsOf(t.Context(), programme.Actor{Person: m.person(leadName)}, m.person("Hollis Bray")); err != nil {
		t.Fatal(err)
	}
	done := make(chan int64, 1)
	go func() {
		n, _ := io.Copy(io.Discard, res.Body)
		done <- n
	}()
	other := m.as("Hollis Bray") // something happens, of which the old session must not hear
	other.arrive("en")
	select {
	case <-done:
	case <-time.After(20 * time.Second):
		t.Error("the stream goes on after its session ended")
	}
}

// The lead sees who is in, ends sessions, blocks a device and lifts a lock by the buttons of the page.
func TestAccessPage(t *testing.T) {
	m := newMarket(t)
	v, other := m.as(leadName), m.as("Ines Calder")
	for range 6 {
		bad := m.visitor()
		bad.post("/sign-in", form("person", m.person("Ines Calder"), "pin", "1111"))
	}
	v.get("/access")
	v.want(http.StatusOK)
	v.see("Signed in", "Ines Calder", "this device", "Lift it", "Ines Calder on this laptop", "Wrong PINs cost a wait")
	v.seeNot("argon2")
	v.send("/access/lift", nil)
	v.follow()
	v.see("The lock is lifted.")
	v.seeNot("Lift it")
	v.send("/access/idle", form("idle", "3"))
	v.want(http.StatusUnprocessableEntity)
	v.see("Choose from 5 to 120 minutes; 3 was typed.", `value="3"`)
	v.send("/access/idle", form("idle", "45"))
	v.follow()
	v.see("Devices ask for the PIN after 45 minutes without use.")
	keys := regexp.MustCompile(`name="session" value="([^"]+)"`).FindAllStringSubmatch(v.body, -1)
	if len(keys) < 2 {
		t.Fatalf("%d sessions can be ended", len(keys))
	}
	v.post("/access/end", form("person", m.person("Ines Calder")))
	v.follow()
	v.see("ended all sessions of Ines Calder")
	other.get("/")
	if !strings.HasPrefix(other.to, "/sign-in") {
		t.Errorf("the ended session still opens %q", other.to)
	}
}
