package e2e

import (
	"bufio"
	"context"
	"crypto/rand"
	"crypto/tls"
	"encoding/hex"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/url"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/google/uuid"

	"fairstick/internal/boot"
	"fairstick/internal/programme"
	"fairstick/internal/web"
)

// This test plays somebody on the same Wi-Fi who pokes at the port of a real server over TLS while a station works, and a
// volunteer who tries more than they may. Everything is refused; the station hardly notices.

// quickClock runs sixty times as fast as the wall, so that wipes dry while the test looks.
type quickClock struct{ base, start time.Time }

func (c quickClock) Now() time.Time { return c.base.Add(60 * time.Since(c.start)) }

// besieged is a fair served as `fairstick serve --lan` does.
type besieged struct {
	*crowd
	t    *testing.T
	host string // with port
}

func besiege(t *testing.T) *besieged {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "data")
	clock := quickClock{time.Date(2026, 6, 20, 8, 0, 0, 0, time.UTC), time.Now()}
	c, st := openCrowd(t, dir, 8, clock.base, clock.Now)
	lead := c.person(t, "Lea Lead")
	fatal(t, c.programmeOf.SetIdle(t.Context(), programme.Actor{Person: lead}, programme.IdleMost))
	run, err := boot.Serve(&boot.Node{Programme: c.programmeOf, Store: st}, dir, boot.Listen{Addr: "127.0.0.1:0", LAN: true}, "test", quiet)
	fatal(t, err)
	b := &besieged{crowd: c, t: t, host: strings.TrimPrefix(run.URL, "https://")}
	t.Cleanup(func() {
		end, cancel := context.WithTimeout(context.Background(), 3*time.Second)
		defer cancel()
		_ = run.Stop(end) // slow visitors are cut
		rep, err := st.Check(context.Background())
		if err != nil || !rep.OK() {
			t.Errorf("the record after the siege: %v %v", rep.Problems, err)
		}
		fatal(t, st.Close())
	})
	return b
}

func (c *crowd) person(t *testing.T, name string) string {
	t.Helper()
	d, err := c.programmeOf.Day(t.Context(), c.event)
	fatal(t, err)
	for _, p := range d.People {
		if p.Details.Name == name {
			return p.ID
		}
	}
	t.Fatalf("nobody is called %s", name)
	return ""
}

// caller is one computer on the network, with the cookies that it chooses to send.
type caller struct {
	b      *besieged
	from   string
	http   *http.Client
	cookie string
}

// from gives a computer with an address of its own where the system lets a test have one.
func (b *besieged) from(addr string, h2 bool) *caller {
	d := &net.Dialer{Timeout: 5 * time.Second}
	if l, err := net.Listen("tcp", addr+":0"); err == nil {
		_ = l.Close()
		d.LocalAddr = &net.TCPAddr{IP: net.ParseIP(addr)}
	}
	tr := &http.Transport{
		DialContext: d.DialContext, TLSClientConfig: &tls.Config{InsecureSkipVerify: true}, //nolint:gosec // an attacker compares nothing; a station has compared the fingerprint
		ForceAttemptHTTP2: h2, MaxIdleConnsPerHost: 16, ResponseHeaderTimeout: 20 * time.Second,
	}
	if !h2 {
		tr.TLSNextProto = map[string]func(string, *tls.Conn) http.RoundTripper{}
	}
	b.t.Cleanup(tr.CloseIdleConnections)
	return &caller{b: b, from: addr, http: &http.Client{
		Transport: tr, Timeout: 25 * time.Second, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
	}}
}

// got is an answer; status 0 when the connection was cut.
type got struct {
	status int
	body   string
	header http.Header
	proto  int
}

func (x *caller) ask(method, path string, body io.Reader, header ...string) got {
	req, err := http.NewRequestWithContext(context.Background(), method, "https://"+x.b.host+path, body)
	if err != nil {
		x.b.t.Errorf("%s %q: %v", method, path, err)
		return got{}
	}
	if method == http.MethodPost {
		req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	}
	if x.cookie != "" {
		req.Header.Set("Cookie", x.cookie)
	}
	for i := 0; i < len(header); i += 2 {
		if header[i] == "Host" {
			req.Host = header[i+1]
			continue
		}
		req.Header.Set(header[i], header[i+1])
	}
	res, err := x.http.Do(req)
	if err != nil {
		return got{}
	}
	defer func() { _ = res.Body.Close() }()
	text, err := io.ReadAll(io.LimitReader(res.Body, 4<<20))
	if err != nil {
		return got{}
	}
	return got{res.StatusCode, string(text), res.Header, res.ProtoMajor}
}

func (x *caller) get(path string, header ...string) got {
	return x.ask(http.MethodGet, path, nil, header...)
}

func (x *caller) post(path string, form url.Values, header ...string) got {
	return x.ask(http.MethodPost, path, strings.NewReader(form.Encode()), header...)
}

func cookies(session, device string) string {
	return "__Host-fairstick_session=" + session + "; __Host-fairstick_device=" + device
}

func anyDevice() string {
	raw := make([]byte, 16)
	rand.Read(raw)
	return hex.EncodeToString(raw)
}

// station works at the eight tables in turn and tells how long the board and a reading took.
type station struct {
	seats  []*caller
	turn   int
	wiped  [16]time.Time // when the meter of a table was wiped
	boards []time.Duration
	reads  []time.Duration
}

func (b *besieged) station() *station {
	s := &station{}
	for n := range b.meters {
		x := b.from("127.0.0.1", false)
		x.cookie = cookies(b.crowd.screener[n], deviceName(n))
		if g := x.post("/station", url.Values{
			"command": {uuid.NewString()}, "event": {b.event}, "step": {"test"}, "station": {fmt.Sprint(n + 1)}, "meter": {b.meters[n]}, "vial": {b.lot + "/A1"}, "wipe": {b.wipes},
		}); g.status != http.StatusSeeOther {
			b.t.Fatalf("seat %d: %d\n%s", n, g.status, g.body)
		}
		s.seats = append(s.seats, x)
	}
	return s
}

// person brings one person through desk and test.
func (s *station) person(b *besieged) {
	n := s.turn % len(s.seats)
	s.turn++
	x := s.seats[n]
	base := "/events/" + b.event
	step := func(path string, form url.Values) string {
		form.Set("command", uuid.NewString())
		g := x.post(path, form)
		if g.status != http.StatusSeeOther {
			b.t.Fatalf("the station at %s: %d\n%s", path, g.status, g.body)
		}
		return g.header.Get("Location")
	}
	x.cookie = cookies(b.crowd.desk[n], deviceName(n))
	at := step(base+"/desk", url.Values{"language": {"en"}})
	id := at[strings.LastIndex(at, "/")+1:]
	step(at+"/consent", url.Values{"agree": {"yes"}, "how": {"read"}, "lang": {"en"}, "version": {b.consent}})
	step(at+"/questions", url.Values{"given": b.questions, "lang": {"en"}})
	step(at+"/ate", url.Values{"known": {"no"}})
	step(at+"/contact", url.Values{"allow": {"no"}})
	x.cookie = cookies(b.crowd.screener[n], deviceName(n))
	step(base+"/test/"+id+"/take", url.Values{})
	if wet := time.Until(s.wiped[n].Add(100 * time.Millisecond)); wet > 0 {
		<-time.After(wet) // a quick machine is round the tables before the first meter is dry by the quick clock
	}
	start := time.Now()
	step(base+"/test/"+id+"/reading", url.Values{"reading": {"104"}, "typed": {"104"}, "hands": {"washed"}, "misfires": {"0"}})
	s.reads = append(s.reads, time.Since(start))
	step(base+"/test/"+id+"/clear", url.Values{})
	s.wiped[n] = time.Now()
	for range 4 {
		start = time.Now()
		if g := x.get(base + "/board"); g.status != http.StatusOK {
			b.t.Fatalf("the board: %d", g.status)
		}
		s.boards = append(s.boards, time.Since(start))
	}
}

// medians gives what was measured since it was last asked.
func (s *station) medians() (board, reading time.Duration) {
	slices.Sort(s.boards)
	slices.Sort(s.reads)
	board, reading = s.boards[len(s.boards)/2], s.reads[len(s.reads)/2]
	s.boards, s.reads = nil, nil
	return board, reading
}

func TestAttackerOnTheSameNetwork(t *testing.T) {
	b := besiege(t)
	s := b.station()
	for range 40 {
		s.person(b)
	}
	board, reading := s.medians()
	before := b.record()
	var heap runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&heap)
	heapBefore := heap.HeapAlloc

	stop := make(chan struct{})
	var attack sync.WaitGroup
	tried := b.flood(stop, &attack)
	served := s.turn
	for range 60 {
		s.person(b)
	}
	b.probe()
	b.insider()
	floodBoard, floodReading := s.medians()
	close(stop)
	attack.Wait()
	t.Logf("board %v calm, %v besieged (%.1f times); reading %v calm, %v besieged (%.1f times); %d guesses, %d forged sessions, %d slow connections",
		board, floodBoard, float64(floodBoard)/float64(board), reading, floodReading, float64(floodReading)/float64(reading),
		tried.guesses.Load(), tried.forged.Load(), tried.slow.Load())
	const unnoticed = 30 * time.Millisecond // nobody at a station tells this from none
	if floodBoard > max(3*board, unnoticed) || floodReading > max(3*reading, unnoticed) {
		t.Error("the station waited more than three times as long as usual")
	}
	if n := tried.in.Load(); n > 0 {
		t.Errorf("%d guesses opened a session", n)
	}
	if tried.guesses.Load() < 100 || tried.forged.Load() < 500 || tried.slow.Load() < 200 {
		t.Error("the attack was too weak to prove anything")
	}
	runtime.GC()
	runtime.ReadMemStats(&heap)
	if heap.HeapAlloc > heapBefore+64<<20 {
		t.Errorf("the attack left %d MiB in memory", (heap.HeapAlloc-heapBefore)>>20)
	}
	after := b.record()
	before.visits += s.turn - served + 1 // the volunteer's one ticket
	before.people++                      // and the name that a lead was made to type
	if after != before {
		t.Errorf("the record holds %+v, want %+v", after, before)
	}
	x := b.from("127.0.0.1", false) // the lead still gets in, on a device that is known
	if g := x.post("/sign-in", url.Values{"person": {b.person(t, "Ivo Desk")}, "pin": {"7174"}}, "Cookie", "__Host-fairstick_device="+deviceName(0)); g.status != http.StatusSeeOther {
		t.Errorf("after the attack somebody of the programme does not get in: %d", g.status)
	}
}

type counts struct{ visits, people int }

func (b *besieged) record() counts {
	d, err := b.programmeOf.Day(b.t.Context(), b.event)
	fatal(b.t, err)
	return counts{len(d.Visits), len(d.People)}
}

type attempts struct{ guesses, forged, slow, in atomic.Int64 }

// flood guesses, forges and dawdles until it is told to stop, with up to 600 requests a second: more than a phone sends, and
// not so much that the attacker, who shares the processor with the server here, is all that is measured.
func (b *besieged) flood(stop <-chan struct{}, all *sync.WaitGroup) *attempts {
	tried := &attempts{}
	lead := b.person(b.t, "Lea Lead")
	over := func() bool {
		select {
		case <-stop:
			return true
		default:
			return false
		}
	}
	for n := range 4 { // every guess from a new device, and with a header that claims a new address
		x := b.from("127.0.0.66", n%2 == 0)
		all.Go(func() {
			pace := time.NewTicker(20 * time.Millisecond)
			defer pace.Stop()
			for i := n; !over(); i += 4 {
				<-pace.C
				pin := fmt.Sprintf("%04d", i%4700) // never the right one, which is 4821
				g := x.post("/sign-in", url.Values{"person": {lead}, "pin": {pin}}, "X-Forwarded-For", fmt.Sprintf("192.168.7.%d", i%250), "Cookie", "__Host-fairstick_device="+anyDevice())
				tried.guesses.Add(1)
				if g.status == http.StatusSeeOther {
					tried.in.Add(1)
				}
			}
		})
		all.Go(func() {
			pace := time.NewTicker(10 * time.Millisecond)
			defer pace.Stop()
			for !over() {
				<-pace.C
				g := x.get("/events/"+b.event+"/board", "Cookie", cookies(anyDevice()+"abcdefghijk", anyDevice()))
				tried.forged.Add(1)
				if g.status == http.StatusOK {
					tried.in.Add(1)
				}
			}
		})
	}
	d := &tls.Dialer{NetDialer: b.from("127.0.0.67", false).dialer(), Config: &tls.Config{InsecureSkipVerify: true}} //nolint:gosec // as above
	for i := range 200 {                                                                                             // headers and bodies that never end
		all.Go(func() {
			for !over() {
				ctx, cancel := context.WithTimeout(context.Background(), 5*time.Second)
				c, err := d.DialContext(ctx, "tcp", b.host)
				cancel()
				tried.slow.Add(1)
				if err != nil {
					if !rest(stop, time.Second) {
						return
					}
					continue
				}
				begin := "GET / HTTP/1.1\r\nHost: " + b.host + "\r\nX-A: "
				if i%2 == 0 {
					begin = "POST /sign-in HTTP/1.1\r\nHost: " + b.host + "\r\nContent-Type: application/x-www-form-urlencoded\r\nContent-Length: 60000\r\n\r\nperson="
				}
				_, err = io.WriteString(c, begin)
				for err == nil && rest(stop, 700*time.Millisecond) {
					_, err = io.WriteString(c, "a")
				}
				_ = c.Close()
			}
		})
	}
	return tried
}

// rest waits, and reports whether the attack goes on.
func rest(stop <-chan struct{}, d time.Duration) bool {
	select {
	case <-stop:
		return false
	case <-time.After(d):
		return true
	}
}

func (x *caller) dialer() *net.Dialer {
	d := &net.Dialer{Timeout: 5 * time.Second}
	if l, err := net.Listen("tcp", x.from+":0"); err == nil {
		_ = l.Close()
		d.LocalAddr = &net.TCPAddr{IP: net.ParseIP(x.from)}
	}
	return d
}

// raw sends bytes as they are and gives the status line and the rest.
func (b *besieged) raw(text string) string {
	c, err := tls.DialWithDialer(b.from("127.0.0.77", false).dialer(), "tcp", b.host, &tls.Config{InsecureSkipVerify: true}) //nolint:gosec // as above
	if err != nil {
		return "cut"
	}
	defer func() { _ = c.Close() }()
	_ = c.SetDeadline(time.Now().Add(15 * time.Second))
	if _, err := io.WriteString(c, text); err != nil {
		return "cut"
	}
	answer, _ := io.ReadAll(io.LimitReader(bufio.NewReader(c), 1<<20)) // a cut connection has said what it had to say
	return string(answer)
}

// probe tries one by one what a stranger may try.
func (b *besieged) probe() {
	t := b.t
	x := b.from("127.0.0.77", false)
	want := func(what string, g got, status ...int) {
		t.Helper()
		if !slices.Contains(status, g.status) {
			t.Errorf("%s: %d, want %v\n%s", what, g.status, status, g.body)
		}
	}
	for i, r := range web.Routes() {
		if r.Public {
			continue
		}
		path := strings.NewReplacer("{event}", b.event, "{$}", "", "{", "", "}", "").Replace(r.Path)
		y := b.from(fmt.Sprintf("127.0.1.%d", 1+i%200), false)
		if r.Method == http.MethodGet {
			want("GET "+path+" by a stranger", y.get(path), http.StatusSeeOther)
		} else {
			want("POST "+path+" by a stranger", y.post(path, url.Values{"command": {uuid.NewString()}}), http.StatusUnauthorized)
		}
	}
	for _, host := range []string{"evil.example", "127.0.0.1.evil.example", "192.0.2.7", "localhost.evil.example:8420", "[2001:db8::1]", "xn--localhost"} {
		want("host "+host, x.get("/sign-in", "Host", host), http.StatusMisdirectedRequest)
	}
	want("our own host", x.get("/sign-in", "Host", "localhost"), http.StatusOK)
	for _, origin := range []string{"https://evil.example", "null", "http://" + b.host, "https://localhost"} {
		want("origin "+origin, x.post("/sign-in", url.Values{}, "Origin", origin), http.StatusForbidden)
	}
	want("a form from another site", x.post("/sign-in", url.Values{}, "Sec-Fetch-Site", "cross-site"), http.StatusForbidden)
	for _, method := range []string{http.MethodPut, http.MethodDelete, http.MethodPatch, http.MethodTrace, "BREW"} {
		want(method, x.ask(method, "/access", nil), http.StatusNotFound, http.StatusMethodNotAllowed, http.StatusForbidden)
	}
	want("a socket upgrade", x.get("/events/"+b.event+"/live", "Connection", "Upgrade", "Upgrade", "websocket", "Sec-WebSocket-Version", "13", "Sec-WebSocket-Key", "dGhlIHNhbXBsZSBub25jZQ=="), http.StatusSeeOther)
	want("JSON", x.ask(http.MethodPost, "/sign-in", strings.NewReader(`{"person":"x","pin":"1111"}`), "Content-Type", "application/json"), http.StatusForbidden, http.StatusTooManyRequests)
	want("a large form", x.post("/sign-in", url.Values{"pin": {strings.Repeat("1", 1<<20)}}), http.StatusUnprocessableEntity, 0)
	want("a form without end", x.ask(http.MethodPost, "/sign-in", io.LimitReader(endless{}, 50<<20)), http.StatusUnprocessableEntity, 0)
	want("many parts", x.ask(http.MethodPost, "/setup/protocol/upload", strings.NewReader(strings.Repeat("--x\r\nContent-Disposition: form-data; name=\"a\"\r\n\r\n1\r\n", 20000)+"--x--\r\n"),
		"Content-Type", "multipart/form-data; boundary=x"), http.StatusUnauthorized, 0)
	want("large headers", x.get("/sign-in", "X-Large", strings.Repeat("a", 60<<10)), http.StatusRequestHeaderFieldsTooLarge, 0)
	want("a long address", x.get("/sign-in?to=/"+strings.Repeat("a", 60<<10)), http.StatusRequestHeaderFieldsTooLarge, http.StatusRequestURITooLong, 0)
	for _, c := range []string{"__Host-fairstick_session=null", "__Host-fairstick_session=" + strings.Repeat("A", 43), cookies("' OR 1=1 --", "../../keys.json"), "__Host-fairstick_note=" + strings.Repeat("B", 9000), "fairstick_session=" + b.crowd.screener[0]} {
		x.cookie = c
		want(fmt.Sprintf("the cookie %.30s", c), x.get("/access"), http.StatusSeeOther)
	}
	x.cookie = cookies(b.crowd.screener[0], anyDevice())
	want("a stolen session on another device", x.get("/events/"+b.event+"/board"), http.StatusSeeOther)
	x.cookie = ""

	for _, path := range []string{
		"/../../../etc/passwd", "/%2e%2e/%2e%2e/etc/passwd", "/static/..%2f..%2fkeys.json", "/static/%2e%2e%5c%2e%2e%5ckeys.json", "/static/..\\..\\keys.json",
		"/events/%00/board", "/static/%00", "//evil.example/", "/./access", "/events/../access", "/access%2f", "/%61ccess", "/access;/sign-in", "http://evil.example/access",
	} {
		a := b.raw("GET " + path + " HTTP/1.1\r\nHost: " + b.host + "\r\nConnection: close\r\n\r\n")
		status := strings.SplitN(a, "\r\n", 2)[0]
		if strings.Contains(status, " 200 ") || strings.Contains(a, "root:") || strings.Contains(a, "secret") || strings.Contains(a, "Location: //") || strings.Contains(a, "Location: http") {
			t.Errorf("%s answers %s", path, a)
		}
	}
	for what, text := range map[string]string{
		"no host":           "GET /sign-in HTTP/1.1\r\nConnection: close\r\n\r\n",
		"two hosts":         "GET /sign-in HTTP/1.1\r\nHost: " + b.host + "\r\nHost: evil.example\r\nConnection: close\r\n\r\n",
		"an old form":       "GET /sign-in HTTP/1.0\r\n\r\n",
		"smuggled":          "POST /sign-in HTTP/1.1\r\nHost: " + b.host + "\r\nContent-Length: 4\r\nTransfer-Encoding: chunked\r\nTransfer-Encoding: identity\r\n\r\n0\r\n\r\nGET /access HTTP/1.1\r\n\r\n",
		"a broken line":     "GET /sign-in\r\n\r\n",
		"a name with space": "GET /sign-in HTTP/1.1\r\nHost : evil.example\r\nHost: " + b.host + "\r\n\r\n",
	} {
		if a := b.raw(text); strings.Contains(strings.SplitN(a, "\r\n", 2)[0], " 200 ") {
			t.Errorf("%s: %s", what, a)
		}
	}
	y := b.from("127.0.0.78", true)
	if g := y.get("/sign-in"); g.status != http.StatusOK || g.proto != 2 {
		t.Errorf("HTTP/2: %d by %d", g.status, g.proto)
	}
	want("HTTP/2 with another name", y.get("/sign-in", "Host", "evil.example"), http.StatusMisdirectedRequest)
	if _, err := tls.Dial("tcp", b.host, &tls.Config{InsecureSkipVerify: true, MinVersion: tls.VersionTLS10, MaxVersion: tls.VersionTLS11}); err == nil { //nolint:gosec // it must be refused
		t.Error("an old form of TLS is spoken")
	}
}

type endless struct{}

func (endless) Read(p []byte) (int, error) {
	for i := range p {
		p[i] = 'a'
	}
	return len(p), nil
}

// insider is a volunteer at the desk who tries more than they may, and replays what they saw.
func (b *besieged) insider() {
	t := b.t
	x := b.from("127.0.0.79", false)
	device := anyDevice()
	enter := func(to string) (session, leads string) {
		t.Helper()
		g := x.post("/sign-in", url.Values{"person": {b.person(t, "Ivo Desk")}, "pin": {"7174"}, "to": {to}}, "Cookie", "__Host-fairstick_device="+device)
		if g.status != http.StatusSeeOther {
			t.Fatalf("the volunteer does not get in: %d\n%s", g.status, g.body)
		}
		for _, c := range g.header.Values("Set-Cookie") {
			if v, ok := strings.CutPrefix(c, "__Host-fairstick_session="); ok {
				session, _, _ = strings.Cut(v, ";")
				if !strings.Contains(c, "HttpOnly") || !strings.Contains(c, "Secure") || !strings.Contains(c, "SameSite=Strict") || !strings.Contains(c, "Path=/") {
					t.Errorf("the session's cookie: %s", c)
				}
			}
			if strings.Contains(c, "evil") {
				t.Errorf("a header was slipped in: %s", c)
			}
		}
		return session, g.header.Get("Location")
	}
	var session string
	for _, to := range []string{"//evil.example", "https://evil.example/", "/\\evil.example", "/x\r\nSet-Cookie: evil=1", "javascript:alert(1)", "/%0d%0aSet-Cookie:evil=1"} {
		var leads string
		session, leads = enter(to)
		if !strings.HasPrefix(leads, "/") || strings.HasPrefix(leads, "//") || strings.ContainsAny(leads, "\r\n\\") {
			t.Errorf("after signing in with to=%q it leads to %q", to, leads)
		}
	}
	x.cookie = cookies(session, device)
	for _, r := range web.Routes() {
		if len(r.Roles) == 0 || slices.Contains(r.Roles, "desk") {
			continue
		}
		path := strings.NewReplacer("{event}", b.event, "{", "", "}", "").Replace(r.Path)
		if g := x.ask(r.Method, path, strings.NewReader("command="+uuid.NewString())); g.status != http.StatusForbidden || !strings.Contains(g.body, "may not open this page") {
			t.Errorf("%s %s by a volunteer at the desk: %d", r.Method, path, g.status)
		}
	}
	form := url.Values{"language": {"en"}, "command": {uuid.NewString()}}
	first := x.post("/events/"+b.event+"/desk", form)
	second := x.post("/events/"+b.event+"/desk", form)
	if first.status != http.StatusSeeOther || first.header.Get("Location") != second.header.Get("Location") {
		t.Errorf("a form sent twice: %d to %q, then %q", first.status, first.header.Get("Location"), second.header.Get("Location"))
	}
	for _, id := range []string{"1", "'; DROP TABLE entry; --", strings.Repeat("a", 1000), b.event} {
		form.Set("command", id)
		if g := x.post("/events/"+b.event+"/close/doors", form); g.status != http.StatusForbidden {
			t.Errorf("the command id %.20q: %d", id, g.status)
		}
	}
	form.Set("command", "not an id")
	if g := x.post("/events/"+b.event+"/desk", form); g.status != http.StatusUnprocessableEntity {
		t.Errorf("a forged command id: %d", g.status)
	}
	x.get("/hand-over")
	form.Set("command", uuid.NewString())
	if g := x.post("/events/"+b.event+"/desk", form); g.status != http.StatusUnauthorized {
		t.Errorf("a form replayed after the hand-over: %d", g.status)
	}

	// What a lead types is shown as text, on the page and in a spreadsheet.
	lead, err := b.programmeOf.SignIn(t.Context(), deviceName(0), b.person(t, "Lea Lead"), "4821")
	fatal(t, err)
	z := b.from("127.0.0.1", false)
	z.cookie = cookies(lead, deviceName(0))
	const name = `=1+1<img src=x onerror=alert(1)>`
	if g := z.post("/people", url.Values{"name": {name}, "roles": {"runner"}, "command": {uuid.NewString()}}); g.status != http.StatusSeeOther {
		t.Fatalf("a name was not taken: %d\n%s", g.status, g.body)
	}
	if g := z.get("/people"); strings.Contains(g.body, "<img") || !strings.Contains(g.body, "&lt;img") {
		t.Error("a name is not shown as text")
	}
	if g := z.post("/events/"+b.event+"/roster", url.Values{"person": {b.person(t, name)}, "role": {"runner"}, "command": {uuid.NewString()}}); g.status != http.StatusSeeOther {
		t.Fatalf("the name was not posted: %d\n%s", g.status, g.body)
	}
	if g := z.get("/events/" + b.event + "/report.csv"); g.status != http.StatusOK || !strings.Contains(g.body, ",'=1+1<img") || strings.Contains(g.body, ",=1+1") {
		t.Errorf("the name in a spreadsheet: %d\n%s", g.status, g.body)
	}
}
