package e2e

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/ncruces/go-sqlite3"

	"fairstick/internal/programme"
	"fairstick/internal/store"
)

// The crash test kills the program itself, under load, at moments that nobody chose, and counts what it had said yes to.
const (
	crashClients = 32
	crashKills   = 200 // FAIRSTICK_KILLS takes its place
	longestLife  = 400 * time.Millisecond
	killsAFolder = 10 // then a new copy of the prepared record, so that it stays small
)

// process is one run of the program on a data folder.
type process struct {
	cmd   *exec.Cmd
	ready chan string // the address, once it serves; closed when it ended
	said  bytes.Buffer
	wait  sync.Once
}

func buildProgram(t *testing.T) string {
	t.Helper()
	bin := filepath.Join(t.TempDir(), "fairstick")
	if runtime.GOOS == "windows" {
		bin += ".exe"
	}
	cmd := exec.CommandContext(t.Context(), "go", "build", "-o", bin, "fairstick/cmd/fairstick")
	cmd.Env = append(os.Environ(), "CGO_ENABLED=0")
	if out, err := cmd.CombinedOutput(); err != nil {
		t.Fatalf("the program does not build: %v\n%s", err, out)
	}
	return bin
}

func startProgram(t *testing.T, bin, dir string) *process {
	t.Helper()
	p := &process{cmd: exec.Command(bin, "serve", "--data", dir, "--addr", "127.0.0.1:0"), ready: make(chan string, 1)}
	out, err := p.cmd.StdoutPipe()
	fatal(t, err)
	p.cmd.Stderr = &p.said
	fatal(t, p.cmd.Start())
	go func() {
		defer close(p.ready)
		lines := bufio.NewScanner(out)
		if lines.Scan() {
			p.ready <- lines.Text()
		}
		_, _ = io.Copy(io.Discard, out)
	}()
	return p
}

// address waits until it serves.
func (p *process) address(t *testing.T) string {
	t.Helper()
	at, ok := <-p.ready
	if !ok {
		t.Fatalf("the program ended before it served:\n%s", p.said.String())
	}
	return at
}

// kill ends the process without a word of warning.
func (p *process) kill() {
	p.wait.Do(func() {
		_ = p.cmd.Process.Kill()
		_ = p.cmd.Wait()
	})
}

// posted is one form: what it was and its command id. It is sent with the same id until it is answered.
type posted struct {
	kind, path string
	form       url.Values
	session    string
	then       func(at string)
}

// sender is one device that does the work of desk and test, one person after another, and remembers every answer.
type sender struct {
	c       *crowd
	n       int
	http    *http.Client
	jar     *cookiejar.Jar
	steps   []posted
	pending *posted
	dry     time.Time
	random  *rand.Rand

	acknowledged map[string]string // command id -> kind
	refusal      string            // an answer that was neither yes nor silence
}

func (x *sender) post(ctx context.Context, base string, p *posted) error {
	u, err := url.Parse(base)
	if err != nil {
		return err
	}
	x.jar.SetCookies(u, []*http.Cookie{{Name: "fairstick_session", Value: p.session, Path: "/"}, {Name: "fairstick_device", Value: x.device(), Path: "/"}})
	req, err := http.NewRequestWithContext(ctx, http.MethodPost, base+p.path, strings.NewReader(p.form.Encode()))
	if err != nil {
		return err
	}
	req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	resp, err := x.http.Do(req)
	if err != nil {
		return err
	}
	body, err := io.ReadAll(resp.Body)
	_ = resp.Body.Close()
	if err != nil {
		return err
	}
	if resp.StatusCode != http.StatusSeeOther {
		if resp.StatusCode == http.StatusInternalServerError && bytes.Contains(body, []byte("Fairstick is stopping")) {
			return errors.New("stopping")
		}
		x.refusal = fmt.Sprintf("POST %s %s: %d\n%s", p.path, p.form.Encode(), resp.StatusCode, body)
		return errors.New("refused")
	}
	if p.kind != "" {
		x.acknowledged[p.form.Get("command")] = p.kind
	}
	if p.then != nil {
		p.then(resp.Header.Get("Location"))
	}
	return nil
}

func (x *sender) device() string { return deviceName(x.n) }

// next is the form to send now: the one whose answer is still owed comes first, under the same id.
func (x *sender) next() *posted {
	if x.pending != nil {
		return x.pending
	}
	if len(x.steps) == 0 {
		x.arrive()
	}
	p := x.steps[0]
	x.steps = x.steps[1:]
	p.form.Set("command", uuid.NewString())
	x.pending = &p
	return x.pending
}

func (x *sender) arrive() {
	c := x.c
	base := "/events/" + c.event
	x.steps = []posted{{"visit.arrived", base + "/desk", url.Values{"language": {"en"}}, c.desk[x.n], func(at string) {
		id := at[strings.LastIndex(at, "/")+1:]
		x.steps = []posted{
			{"visit.consented", at + "/consent", url.Values{"agree": {"yes"}, "how": {"read"}, "lang": {"en"}, "version": {c.consent}}, c.desk[x.n], nil},
			{"visit.answered", at + "/questions", url.Values{"given": c.questions, "lang": {"en"}}, c.desk[x.n], nil},
			{"visit.ate", at + "/ate", url.Values{"known": {"no"}}, c.desk[x.n], nil},
			{"visit.contact-refused", at + "/contact", url.Values{"allow": {"no"}}, c.desk[x.n], nil},
		}
		if time.Now().Before(x.dry) {
			return // the meter is still wet: this person waits in the line
		}
		reading := strconv.Itoa(80 + x.random.IntN(40))
		x.steps = append(x.steps,
			posted{"visit.called", base + "/test/" + id + "/take", url.Values{}, c.screener[x.n], nil},
			posted{"visit.reading-taken", base + "/test/" + id + "/reading", url.Values{"reading": {reading}, "typed": {reading}, "hands": {"washed"}, "misfires": {"0"}}, c.screener[x.n], nil},
			posted{"visit.lancet-binned", base + "/test/" + id + "/clear", url.Values{}, c.screener[x.n], func(string) { x.dry = time.Now().Add(6 * time.Second) }})
	}}}
}

// run sends forms until the program is gone.
func (x *sender) run(ctx context.Context, base string) {
	for ctx.Err() == nil {
		if err := x.post(ctx, base, x.next()); err != nil {
			return
		}
		x.pending = nil
	}
}

// stored is one entry as it lies in the file.
type stored struct{ id, kind string }

func storedEntries(t *testing.T, dir string) []stored {
	t.Helper()
	db, err := sqlite3.OpenFlags(filepath.Join(dir, "fairstick.db"), sqlite3.OPEN_READONLY)
	fatal(t, err)
	defer func() { fatal(t, db.Close()) }()
	stmt, _, err := db.Prepare(`SELECT id, json_extract(bytes, '$.kind') FROM entry ORDER BY seq`)
	fatal(t, err)
	var out []stored
	for stmt.Step() {
		out = append(out, stored{stmt.ColumnText(0), stmt.ColumnText(1)})
	}
	fatal(t, stmt.Close())
	return out
}

// followers are the facts that a command records beside its own.
var followers = map[string]string{"visit.reading-taken": "visit.found", "visit.lancet-binned": "event.meter-wiped"}

// counted compares the file with what was said: every acknowledged command is one fact with its own id and, where it has
// one, its follower; beside them only commands whose answer is owed may be there, whole.
func (m *mob) counted(t *testing.T, before map[string]int, moment string) (facts int) {
	t.Helper()
	known, owed := map[string]string{}, map[string]string{}
	for _, x := range m.senders {
		for id, kind := range x.acknowledged {
			known[id] = kind
		}
		if x.pending != nil {
			owed[x.pending.form.Get("command")] = x.pending.kind
		}
	}
	want, got, seen := map[string]int{}, map[string]int{}, map[string]bool{}
	for kind, n := range before {
		want[kind] = n
	}
	for _, e := range storedEntries(t, m.dir) {
		got[e.kind]++
		if seen[e.id] {
			t.Errorf("%s: %s %s stands twice", moment, e.kind, e.id)
		}
		seen[e.id] = true
		kind := known[e.id]
		if kind == "" {
			kind = owed[e.id]
		}
		if kind == "" {
			continue
		}
		if kind != e.kind {
			t.Errorf("%s: %s was answered as %s and stands as %s", moment, e.id, kind, e.kind)
		}
		want[kind]++
		if f := followers[kind]; f != "" {
			want[f]++
		}
	}
	for id, kind := range known {
		if !seen[id] {
			t.Errorf("%s: %s %s was acknowledged and is lost", moment, kind, id)
		}
	}
	for kind := range got {
		if got[kind] != want[kind] {
			t.Errorf("%s: %d facts %s stand, %d were asked for", moment, got[kind], kind, want[kind])
		}
	}
	for kind := range want {
		if got[kind] == 0 && want[kind] > 0 {
			t.Errorf("%s: no fact %s stands, %d were asked for", moment, kind, want[kind])
		}
	}
	return len(known)
}

// mob is the senders before one folder.
type mob struct {
	dir     string
	senders []*sender
}

func (c *crowd) mob(t *testing.T, template string, seed uint64) *mob {
	t.Helper()
	m := &mob{dir: filepath.Join(t.TempDir(), "data")}
	fatal(t, os.CopyFS(m.dir, os.DirFS(template)))
	for i := range crashClients {
		jar, err := cookiejar.New(nil)
		fatal(t, err)
		x := &sender{c: c, n: i, jar: jar, acknowledged: map[string]string{}, random: rand.New(rand.NewPCG(seed, uint64(i)))}
		x.http = &http.Client{Jar: jar, Transport: &http.Transport{MaxIdleConnsPerHost: 1}, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
		m.senders = append(m.senders, x)
	}
	return m
}

// live runs the program under load and kills it after a time that counts from its start, so that starting up and
// recovering are killed as well. It tells whether it had begun to serve.
func (m *mob) live(t *testing.T, bin string, span time.Duration) (served bool) {
	t.Helper()
	p := startProgram(t, bin, m.dir)
	defer p.kill()
	end := time.NewTimer(span)
	defer end.Stop()
	var at string
	select {
	case <-end.C:
		return false
	case got, ok := <-p.ready:
		if !ok {
			t.Fatalf("the program did not start again:\n%s", p.said.String())
		}
		at = got
	}
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	var load sync.WaitGroup
	for _, x := range m.senders {
		load.Go(func() { x.run(ctx, at) })
	}
	<-end.C
	p.kill()
	load.Wait()
	for _, x := range m.senders {
		if x.refusal != "" {
			t.Fatalf("refused: %s", x.refusal)
		}
		x.http.CloseIdleConnections()
	}
	return true
}

// settle starts the program once more, sends what is still owed, each twice, and ends it in order.
func (m *mob) settle(t *testing.T, bin string) {
	t.Helper()
	p := startProgram(t, bin, m.dir)
	defer p.kill()
	at := p.address(t)
	for _, x := range m.senders {
		if x.pending == nil {
			continue
		}
		again := *x.pending
		again.then = nil
		for range 2 {
			if err := x.post(t.Context(), at, &again); err != nil {
				t.Fatalf("an owed command: %v %s", err, x.refusal)
			}
		}
		x.pending = nil
	}
	if runtime.GOOS == "windows" {
		return // an interrupt cannot be sent there
	}
	fatal(t, p.cmd.Process.Signal(os.Interrupt))
	p.wait.Do(func() {
		if err := p.cmd.Wait(); err != nil {
			t.Errorf("the program did not end in order: %v\n%s", err, p.said.String())
		}
	})
}

func checkFolder(t *testing.T, dir, moment string) {
	t.Helper()
	st, err := store.Open(t.Context(), store.Options{Dir: dir, Catalogue: programme.Catalogue(), ReadOnly: true})
	if err != nil {
		t.Fatalf("%s: %v", moment, err)
	}
	defer func() { fatal(t, st.Close()) }()
	rep, err := st.Check(t.Context())
	if err != nil || !rep.OK() {
		t.Errorf("%s: check: %v %v", moment, rep.Problems, err)
	}
}

// noonZone is a zone of whole hours in which it is about noon, so that no test runs over midnight.
func noonZone(t *testing.T, now time.Time) *time.Location {
	t.Helper()
	zone, err := time.LoadLocation(fmt.Sprintf("Etc/GMT%+d", now.UTC().Hour()-12))
	fatal(t, err)
	return zone
}

// crashTemplate makes the record that every folder begins from, with each device at its station, and counts its entries.
func crashTemplate(t *testing.T, bin string) (*crowd, string, map[string]int) {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "template")
	now := time.Now()
	c, st := openCrowd(t, dir, crashClients, now.In(noonZone(t, now)), time.Now)
	fatal(t, st.Close())
	seats := &mob{dir: dir, senders: c.mob(t, dir, 0).senders}
	for _, x := range seats.senders {
		x.pending = &posted{"", "/station", url.Values{
			"event": {c.event}, "step": {"test"}, "station": {strconv.Itoa(x.n + 1)}, "meter": {c.meters[x.n]}, "vial": {c.lot + "/A1"}, "wipe": {c.wipes},
		}, c.screener[x.n], nil}
	}
	seats.settle(t, bin)
	before := map[string]int{}
	for _, e := range storedEntries(t, dir) {
		before[e.kind]++
	}
	return c, dir, before
}

func TestKilledUnderLoad(t *testing.T) {
	kills, seed := crashKills, uint64(time.Now().UnixNano())
	for name, to := range map[string]func(uint64){"FAIRSTICK_KILLS": func(n uint64) { kills = int(n) }, "FAIRSTICK_SEED": func(n uint64) { seed = n }} {
		if s := os.Getenv(name); s != "" {
			n, err := strconv.ParseUint(s, 10, 32)
			fatal(t, err)
			to(n)
		}
	}
	seed &= 1<<32 - 1
	t.Logf("seed %d: FAIRSTICK_SEED repeats the moments", seed)
	random := rand.New(rand.NewPCG(seed, 0))
	bin := buildProgram(t)
	c, template, before := crashTemplate(t, bin)

	begun, facts, early, owed := time.Now(), 0, 0, 0
	for done := 0; done < kills; {
		m := c.mob(t, template, random.Uint64())
		last := 0
		for range min(killsAFolder, kills-done) {
			done++
			moment := fmt.Sprintf("kill %d", done)
			if !m.live(t, bin, time.Duration(random.Int64N(int64(longestLife)))) {
				early++
			}
			checkFolder(t, m.dir, moment)
			last = m.counted(t, before, moment)
			for _, x := range m.senders {
				if x.pending != nil {
					owed++
				}
			}
		}
		m.settle(t, bin)
		if out, err := exec.CommandContext(t.Context(), bin, "check", "--data", m.dir).CombinedOutput(); err != nil {
			t.Errorf("fairstick check at the end: %v\n%s", err, out)
		}
		if n := m.counted(t, before, "at the end"); n < last {
			t.Errorf("%d acknowledged at the end, %d before", n, last)
		} else {
			facts += n
		}
		if t.Failed() {
			break
		}
	}
	if facts < kills {
		t.Errorf("only %d facts were acknowledged in %d kills: there was no load", facts, kills)
	}
	t.Logf("%d kills in %.0f s, %d of them before it served; %d commands acknowledged, %d owed at a kill and sent again under the same id", kills, time.Since(begun).Seconds(), early, facts, owed)
}
