package e2e

import (
	"context"
	"crypto/tls"
	"fmt"
	"io"
	"math/rand/v2"
	"net"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/url"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/ncruces/go-sqlite3"

	"fairstick/internal/civil"
	"fairstick/internal/demo"
	"fairstick/internal/event"
	"fairstick/internal/programme"
	"fairstick/internal/store"
	"fairstick/internal/web"
)

// hurriedClock goes on a tenth of a second each time that it is asked, so that a wipe's contact time passes without a wait.
type hurriedClock struct {
	base  time.Time
	asked atomic.Int64
}

func (c *hurriedClock) Now() time.Time {
	return c.base.Add(time.Duration(c.asked.Add(1)) * 100 * time.Millisecond)
}

// crowd is an open event with one test station for each client, served over HTTP.
type crowd struct {
	tb          testing.TB
	url         string
	event       string
	screener    []string // sessions by device: a session is good on its own device alone
	desk        []string
	counsellor  []string
	clinic      string
	consent     string
	meters      []string
	lot, wipes  string
	questions   []string
	programmeOf *programme.Programme
	trust       *tls.Config // nil unless encrypted
	stop        func()
}

func fatal(tb testing.TB, err error) {
	tb.Helper()
	if err != nil {
		tb.Fatal(err)
	}
}

// newCrowd opens an invented event on a day in June and serves it from this process.
func newCrowd(tb testing.TB, dir string, stations int) *crowd {
	tb.Helper()
	return newCrowdBehind(tb, dir, stations, false)
}

// newCrowdBehind is newCrowd, encrypted between device and laptop or not, and on the disk as the options say.
func newCrowdBehind(tb testing.TB, dir string, stations int, encrypted bool, kept ...func(*store.Options)) *crowd {
	tb.Helper()
	clock := &hurriedClock{base: time.Date(2026, 6, 20, 8, 0, 0, 0, time.UTC)}
	c, st := openCrowd(tb, dir, stations, clock.base, clock.Now, kept...)
	pages := web.New(web.Options{Programme: c.programmeOf, Log: quiet})
	srv := httptest.NewUnstartedServer(pages)
	if encrypted {
		srv.StartTLS()
	} else {
		srv.Start()
	}
	c.url, c.trust = srv.URL, srv.Client().Transport.(*http.Transport).TLSClientConfig
	c.stop = func() {
		pages.Close()
		srv.Close()
		fatal(tb, st.Close())
	}
	return c
}

// openCrowd makes the record of an invented event that is open at a moment, with everybody signed in.
func openCrowd(tb testing.TB, dir string, stations int, at time.Time, now func() time.Time, kept ...func(*store.Options)) (*crowd, *store.Store) {
	tb.Helper()
	ctx := context.Background()
	o := store.Options{Dir: dir, Catalogue: programme.Catalogue(), Now: now, Log: quiet}
	for _, k := range kept {
		k(&o)
	}
	st, err := store.Create(ctx, o)
	fatal(tb, err)
	p := programme.New(st, now, quiet)
	date := civil.Of(at)
	s := demo.NewStage(p, demo.NewClock(at), at.Location(), date)
	opened, ends := date.AddDays(-20).String(), date.AddDays(180).String()
	expiry := ends[:len("2026-12")]
	proof := func(role string) []demo.Proof {
		return []demo.Proof{{Role: role, From: opened, Until: ends}}
	}
	pr := demo.Programme{
		Describe: programme.Describe{Name: "Invented crowd", Certificate: "INVENTED-2", CertificateUntil: ends, Contact: "555 0100", ContactHours: "9 to 5", Emergency: "911", Unit: "mg/dL", LabelledUse: true},
		Lead:     demo.Person{Name: "Lea Lead", PIN: "4821", Roles: []string{"lead", "supervisor"}, Post: "supervisor"},
		People: []demo.Person{
			{Name: "Ann Screener", PIN: "6174", Roles: []string{"screener"}, Verified: proof("screener"), Post: "screener"},
			{Name: "Dot Counsellor", PIN: "9407", Roles: []string{"counsellor"}, Verified: proof("counsellor"), Post: "counsellor"},
			{Name: "Ivo Desk", PIN: "7174", Roles: []string{"desk"}, Post: "desk"},
		},
		Lots:     []demo.Lot{{Lot: "A", Expiry: expiry, InUse: "expiry", Chemistry: "gdh-fad", Level1: [2]string{"96", "144"}, Level2: [2]string{"252", "340"}, Vials: []demo.Opened{{Name: "A1", On: opened}}}},
		Controls: []demo.Solution{{Lot: "C1", Level: "1", Expiry: expiry, Bottles: []demo.Opened{{Name: "c1", On: opened}}}, {Lot: "C2", Level: "2", Expiry: expiry, Bottles: []demo.Opened{{Name: "c2", On: opened}}}},
		Wipe:     programme.DescribeDisinfectant{Name: "Wipes", ContactSeconds: 5},
		Plan: programme.PlanEvent{
			Name: "Crowd", Venue: "Hall", Address: "1 Invented Lane", Date: date.String(), Doors: "00:00", Ends: "23:59", Zone: at.Location().String(), Expected: 100,
			Routes: []event.Route{{Name: "Invented Clinic", Phone: "555 0111"}},
		},
	}
	for i := range stations {
		pr.Meters = append(pr.Meters, demo.Meter{Label: fmt.Sprintf("M%d", i+1), Serial: fmt.Sprintf("T-%d", i+1), Coding: "none"})
	}
	fatal(tb, s.Build(ctx, pr))
	lead := s.As("Lea Lead")
	c := &crowd{tb: tb, event: s.Event, clinic: "Invented Clinic", lot: s.ID("A"), wipes: s.ID("wipes"), programmeOf: p}
	for _, m := range pr.Meters {
		c.meters = append(c.meters, s.ID(m.Label))
	}
	_, err = p.MeasureRoom(ctx, lead, programme.MeasureRoom{Event: s.Event, Celsius: "21"})
	fatal(tb, err)
	_, err = p.BringStock(ctx, lead, programme.BringStock{Event: s.Event, Strips: map[string]int{c.lot: 20000}, Lancets: 20000, Sharps: 9, Meters: c.meters})
	fatal(tb, err)
	fatal(tb, s.Roster(ctx, pr))
	for _, m := range pr.Meters {
		fatal(tb, s.RunControls(ctx, "Ann Screener", m.Label, "A", "A1", map[string]string{"1": "118", "2": "300"}))
	}
	fatal(tb, s.CheckAll(ctx, "Lea Lead"))
	_, err = p.OpenEvent(ctx, lead, programme.OpenEvent{Event: s.Event})
	fatal(tb, err)
	d, err := p.Day(ctx, s.Event)
	fatal(tb, err)
	c.consent = d.Protocol.Consent.Version
	for _, q := range d.Protocol.Questions {
		answer := map[string]string{"yes-no": "no", "number": "46", "signs": "none"}[q.Kind]
		c.questions = append(c.questions, q.Key+"="+answer)
	}
	for n := range stations {
		for name, to := range map[string]*[]string{"Ann Screener": &c.screener, "Dot Counsellor": &c.counsellor, "Ivo Desk": &c.desk} {
			token, err := p.SignIn(ctx, deviceName(n), s.ID(name), map[string]string{"Ann Screener": "6174", "Dot Counsellor": "9407", "Ivo Desk": "7174"}[name])
			fatal(tb, err)
			*to = append(*to, token)
		}
	}
	return c, st
}

// deviceName is the name that a device's cookie holds.
func deviceName(n int) string { return fmt.Sprintf("%032x", n+1) }

// client is one device that does the work of all three stations for one person after another.
type client struct {
	c       *crowd
	n       int
	http    *http.Client
	station string
	meter   string
}

func (c *crowd) client(n int) *client {
	jar, err := cookiejar.New(nil)
	fatal(c.tb, err)
	x := &client{c: c, n: n, station: fmt.Sprint(n + 1), meter: c.meters[n]}
	x.http = &http.Client{Jar: jar, Transport: &http.Transport{MaxIdleConnsPerHost: 1, TLSClientConfig: c.trust}, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	x.as(c.screener[n])
	x.post("/station", url.Values{"event": {c.event}, "step": {"test"}, "station": {x.station}, "meter": {x.meter}, "vial": {c.lot + "/A1"}, "wipe": {c.wipes}})
	return x
}

// as makes the device somebody's.
func (x *client) as(token string) {
	u, err := url.Parse(x.c.url)
	fatal(x.c.tb, err)
	x.http.Jar.SetCookies(u, []*http.Cookie{{Name: "fairstick_session", Value: token, Path: "/"}, {Name: "fairstick_device", Value: deviceName(x.n), Path: "/"}})
}

// post sends a form that must be accepted, and gives the address to which it leads.
func (x *client) post(path string, form url.Values) string {
	form.Set("command", uuid.NewString())
	req, err := http.NewRequestWithContext(context.Background(), http.MethodPost, x.c.url+path, strings.NewReader(form.Encode()))
	fatal(x.c.tb, err)
	req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	resp, err := x.http.Do(req)
	fatal(x.c.tb, err)
	body, err := io.ReadAll(resp.Body)
	fatal(x.c.tb, err)
	_ = resp.Body.Close()
	if resp.StatusCode != http.StatusSeeOther {
		x.c.tb.Fatalf("POST %s: %d\n%s", path, resp.StatusCode, body)
	}
	return resp.Header.Get("Location")
}

// visit records one person from the door to the end: eleven forms.
func (x *client) visit(reading string) {
	c := x.c
	base := "/events/" + c.event
	x.as(c.desk[x.n])
	at := x.post(base+"/desk", url.Values{"language": {"en"}})
	id := at[strings.LastIndex(at, "/")+1:]
	x.post(at+"/consent", url.Values{"agree": {"yes"}, "how": {"read"}, "lang": {"en"}, "version": {c.consent}})
	x.post(at+"/questions", url.Values{"given": c.questions, "lang": {"en"}})
	x.post(at+"/ate", url.Values{"known": {"no"}})
	x.post(at+"/contact", url.Values{"allow": {"no"}})
	x.as(c.screener[x.n])
	x.post(base+"/test/"+id+"/take", url.Values{})
	x.post(base+"/test/"+id+"/reading", url.Values{"reading": {reading}, "typed": {reading}, "hands": {"washed"}, "misfires": {"0"}})
	x.post(base+"/test/"+id+"/clear", url.Values{})
	x.as(c.counsellor[x.n])
	x.post(base+"/explain/"+id+"/take", url.Values{})
	x.post(base+"/explain/"+id+"/explained", url.Values{"lang": {"en"}, "teach_back": {"own-words"}})
	x.post(base+"/explain/"+id+"/slip", url.Values{"lang": {"en"}, "size": {"half-letter"}})
	x.post(base+"/explain/"+id+"/finish", url.Values{})
}

// rawCommits gives the durable single-row commits a second of the same SQLite on the same disk.
func rawCommits(b *testing.B, dir string, stretch time.Duration) float64 {
	db, err := sqlite3.Open(filepath.Join(dir, "raw.db"))
	fatal(b, err)
	defer func() { fatal(b, db.Close()) }()
	fatal(b, db.Exec(`PRAGMA journal_mode = WAL; PRAGMA synchronous = FULL; CREATE TABLE bare (n INTEGER PRIMARY KEY, row BLOB NOT NULL) STRICT`))
	stmt, _, err := db.Prepare(`INSERT INTO bare (row) VALUES (zeroblob(400))`)
	fatal(b, err)
	n := 0
	start := time.Now()
	for ; time.Since(start) < stretch; n++ {
		fatal(b, stmt.Exec())
	}
	took := time.Since(start)
	fatal(b, stmt.Close())
	return float64(n) / took.Seconds()
}

// BenchmarkVisits measures, in one run on one disk: whole visits a second through HTTP from 1 and from 64 clients, as a ratio
// to raw single-row durable commits of the same SQLite; and the board's 99th percentile under the load of 64 clients, as a
// ratio to a static page of its size. A visit is twelve forms, each a durable commit.
func BenchmarkVisits(b *testing.B) {
	const visits, clients = 128, 64
	for b.Loop() {
		dir := b.TempDir()
		raw := rawCommits(b, dir, 2*time.Second)
		b.ReportMetric(raw, "raw-commits/s")
		for _, n := range []int{1, clients} {
			c := newCrowd(b, filepath.Join(dir, fmt.Sprint("data", n)), max(n, 4))
			rate, board := c.load(n, visits, n == clients)
			b.ReportMetric(rate, fmt.Sprintf("visits%d/s", n))
			b.ReportMetric(rate*12/raw, fmt.Sprintf("forms%d/raw", n))
			if n == clients {
				b.ReportMetric(float64(board.board.Microseconds())/1000, "board-p99-ms")
				b.ReportMetric(float64(board.board)/float64(board.static), "board-p99/static-p99")
			}
			c.stop()
		}
	}
}

// BenchmarkProtection measures, in one run, what encryption costs a visit of one client: on the disk, and between phone and
// laptop too, each as a ratio to the visits a second without.
func BenchmarkProtection(b *testing.B) {
	const visits = 96
	passphrase := func(o *store.Options) {
		o.Passphrase = func() ([]byte, error) { return []byte("four words for a benchmark"), nil }
	}
	for b.Loop() {
		dir := b.TempDir()
		rate := func(name string, encrypted bool, kept ...func(*store.Options)) float64 {
			c := newCrowdBehind(b, filepath.Join(dir, name), 4, encrypted, kept...)
			defer c.stop()
			perSecond, _ := c.load(1, visits, false)
			return perSecond
		}
		plain := rate("plain", false)
		b.ReportMetric(plain, "visits/s")
		b.ReportMetric(rate("sealed", false, passphrase)/plain, "sealed/plain")
		b.ReportMetric(rate("tls", true)/plain, "tls/plain")
		b.ReportMetric(rate("both", true, passphrase)/plain, "both/plain")
	}
}

type p99 struct{ board, static time.Duration }

// load records visits from some clients at once and, when asked, looks at the board and at a static page of its size
// meanwhile.
func (c *crowd) load(clients, visits int, look bool) (perSecond float64, seen p99) {
	work := make(chan int, visits)
	for i := range visits {
		work <- i
	}
	close(work)
	var crowd []*client
	for i := range max(clients, 4) {
		crowd = append(crowd, c.client(i))
	}
	stop := make(chan struct{})
	var looker sync.WaitGroup
	if look {
		looker.Go(func() { seen = c.look(stop) })
	}
	start := time.Now()
	var wg sync.WaitGroup
	for i := range clients {
		wg.Go(func() {
			r := rand.New(rand.NewPCG(uint64(i), 1))
			for n := range work {
				x := crowd[i]
				if clients == 1 {
					x = crowd[n%len(crowd)] // one person walks between four tables while the wipes work
				}
				x.visit(fmt.Sprint(80 + r.IntN(55)))
			}
		})
	}
	wg.Wait()
	perSecond = float64(visits) / time.Since(start).Seconds()
	close(stop)
	looker.Wait()
	return perSecond, seen
}

// look asks for the board and for a static page of its size in turn until told to stop.
func (c *crowd) look(stop <-chan struct{}) p99 {
	x := c.client(0)
	var size atomic.Int64
	page := make([]byte, 0)
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	fatal(c.tb, err)
	srv := &http.Server{ReadHeaderTimeout: 5 * time.Second, Handler: http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) { _, _ = w.Write(page) })}
	get := func(u string) time.Duration {
		req, err := http.NewRequestWithContext(context.Background(), http.MethodGet, u, nil)
		fatal(c.tb, err)
		start := time.Now()
		resp, err := x.http.Do(req)
		fatal(c.tb, err)
		n, err := io.Copy(io.Discard, resp.Body)
		fatal(c.tb, err)
		_ = resp.Body.Close()
		if resp.StatusCode != http.StatusOK {
			c.tb.Fatalf("GET %s: %d", u, resp.StatusCode)
		}
		size.Store(n)
		return time.Since(start)
	}
	board := c.url + "/events/" + c.event + "/board"
	get(board)
	page = make([]byte, size.Load())
	go func() { _ = srv.Serve(ln) }()
	defer func() { _ = srv.Close() }()
	var boards, statics []time.Duration
	for {
		select {
		case <-stop:
			return p99{percentile(boards), percentile(statics)}
		default:
			boards = append(boards, get(board))
			statics = append(statics, get("http://"+ln.Addr().String()+"/"))
		}
	}
}

func percentile(d []time.Duration) time.Duration {
	slices.Sort(d)
	if len(d) == 0 {
		return 0
	}
	return d[len(d)*99/100]
}
