package boot

import (
	"context"
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"fairstick/internal/cli"
	"fairstick/internal/fault"
	"fairstick/internal/people"
	"fairstick/internal/programme"
)

const aPassphrase = "four heron paper lantern"

func folder(dir, passphrase string) cli.Folder {
	return cli.Folder{Dir: dir, Passphrase: func() ([]byte, error) { return []byte(passphrase), nil }}
}

// founded makes a record with one lead.
func founded(t *testing.T, passphrase string) (dir string) {
	t.Helper()
	dir = filepath.Join(t.TempDir(), "data")
	n, err := openWith(t.Context(), folder(dir, passphrase), Create, newSteady(), quiet)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := n.Programme.Found(t.Context(), programme.Founding{Programme: "Test", Lead: "Lea Lead", PIN: "4821"}); err != nil {
		t.Fatal(err)
	}
	if err := n.Close(); err != nil {
		t.Fatal(err)
	}
	return dir
}

// housed serves a folder until the test ends.
func housed(t *testing.T, at cli.Folder, a cli.Address) (base string, locked bool) {
	t.Helper()
	ctx, stop := context.WithCancel(t.Context())
	type where struct {
		url    string
		locked bool
	}
	up, down := make(chan where, 1), make(chan error, 1)
	a.Addr = "127.0.0.1:0"
	go func() {
		down <- serveHouse(ctx, at, a, "test", quiet, func(url, _ string, locked bool) { up <- where{url, locked} })
	}()
	t.Cleanup(func() {
		stop()
		if err := <-down; err != nil {
			t.Error(err)
		}
	})
	select {
	case w := <-up:
		return w.url, w.locked
	case err := <-down:
		down <- nil
		t.Fatal(err)
	}
	return "", false
}

type walker struct {
	t    *testing.T
	base string
	c    *http.Client
}

func visitor(t *testing.T, base string) *walker {
	t.Helper()
	jar, err := cookiejar.New(nil)
	if err != nil {
		t.Fatal(err)
	}
	return &walker{t, base, &http.Client{Jar: jar, Timeout: 30 * time.Second}}
}

func (g *walker) do(method, path string, form url.Values) (int, string, http.Header) {
	g.t.Helper()
	req, err := http.NewRequestWithContext(g.t.Context(), method, g.base+path, strings.NewReader(form.Encode()))
	if err != nil {
		g.t.Fatal(err)
	}
	if form != nil {
		req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	}
	resp, err := g.c.Do(req)
	if err != nil {
		g.t.Fatal(err)
	}
	defer func() { _ = resp.Body.Close() }()
	body, err := io.ReadAll(resp.Body)
	if err != nil {
		g.t.Fatal(err)
	}
	return resp.StatusCode, string(body), resp.Header
}

func (g *walker) get(path string) (int, string) {
	g.t.Helper()
	status, body, _ := g.do(http.MethodGet, path, nil)
	return status, body
}

func (g *walker) post(path string, form url.Values) (int, string) {
	g.t.Helper()
	status, body, _ := g.do(http.MethodPost, path, form)
	return status, body
}

func (g *walker) until(what string, ok func() bool) {
	g.t.Helper()
	for end := time.Now().Add(20 * time.Second); time.Now().Before(end); <-time.After(50 * time.Millisecond) {
		if ok() {
			return
		}
	}
	g.t.Fatalf("in vain: %s", what)
}

var personLink = regexp.MustCompile(`/sign-in\?person=([^&"]+)`)

func (g *walker) signIn() {
	g.t.Helper()
	_, page := g.get("/sign-in")
	m := personLink.FindStringSubmatch(page)
	if m == nil {
		g.t.Fatalf("no name to choose on %s", page)
	}
	id, err := url.QueryUnescape(m[1])
	if err != nil {
		g.t.Fatal(err)
	}
	if status, body := g.post("/sign-in", url.Values{"person": {id}, "pin": {"4821"}, "to": {"/"}}); status != http.StatusOK {
		g.t.Fatalf("sign-in: %d %s", status, body)
	}
}

// The record is served locked, unlocked on the laptop, locked by the lead and unlocked again, at one address throughout.
func TestALockedRecordIsServedAndUnlocked(t *testing.T) {
	dir := founded(t, aPassphrase)
	base, locked := housed(t, cli.Folder{Dir: dir}, cli.Address{})
	if !locked {
		t.Fatal("it is not locked")
	}
	g := visitor(t, base)
	for _, path := range []string{"/", "/people", "/keep", "/nothing"} {
		if status, body := g.get(path); status != http.StatusServiceUnavailable || !strings.Contains(body, "The record is locked") || strings.Contains(body, "Lea Lead") {
			t.Errorf("%s while locked: %d", path, status)
		}
	}
	if status, _ := g.post("/events/x/desk", url.Values{"a": {"b"}}); status != http.StatusServiceUnavailable {
		t.Errorf("a form while locked: %d", status)
	}
	if status, body := g.post("/unlock", url.Values{"passphrase": {"four heron paper lanterns"}, "to": {"/sign-in"}}); status != http.StatusForbidden || !strings.Contains(body, "Wrong passphrase") || strings.Contains(body, "lanterns") {
		t.Errorf("wrong passphrase: %d", status)
	}
	if status, body := g.post("/unlock", url.Values{"passphrase": {aPassphrase}, "to": {"/sign-in"}}); status != http.StatusOK || !strings.Contains(body, "Lea Lead") {
		t.Fatalf("right passphrase: %d", status)
	}
	g.signIn()
	if status, body := g.get("/keep"); status != http.StatusOK || !strings.Contains(body, "Lock now") {
		t.Fatalf("/keep: %d", status)
	}
	if status, body := g.post("/keep/lock", url.Values{}); status != http.StatusServiceUnavailable || !strings.Contains(body, "The record is locked") {
		t.Errorf("after locking: %d", status)
	}
	g.until("the record is closed", func() bool {
		n, err := openWith(t.Context(), folder(dir, aPassphrase), ReadWrite, newSteady(), quiet)
		if err != nil {
			return false
		}
		return n.Close() == nil
	})
	if status, body := g.post("/unlock", url.Values{"passphrase": {aPassphrase}, "to": {"/keep"}}); status != http.StatusOK || !strings.Contains(body, "Lock now") {
		t.Errorf("unlocked again, the lead goes on: %d", status)
	}
}

func TestServeRefusesAWrongPassphraseThatWasGiven(t *testing.T) {
	err := serveHouse(t.Context(), folder(founded(t, aPassphrase), "not the passphrase"), cli.Address{Addr: "127.0.0.1:0"}, "test", quiet, func(string, string, bool) { t.Error("it is served") })
	if !fault.Is(err, "passphrase-wrong") {
		t.Errorf("got %v", err)
	}
}

// The lead encrypts a plain record from its page while the program runs.
func TestAPlainRecordIsEncryptedFromItsPage(t *testing.T) {
	dir := founded(t, "")
	base, _ := housed(t, cli.Folder{Dir: dir}, cli.Address{Copy: filepath.Join(t.TempDir(), "stick")})
	g := visitor(t, base)
	g.signIn()
	if status, body := g.get("/keep"); status != http.StatusOK || !strings.Contains(body, "is not encrypted") || strings.Contains(body, "Lock now") {
		t.Fatalf("/keep: %d", status)
	}
	if status, body := g.post("/keep/passphrase", url.Values{"passphrase": {aPassphrase}, "again": {"something else"}}); status != http.StatusUnprocessableEntity || !strings.Contains(body, "not the same") {
		t.Errorf("two that differ: %d", status)
	}
	if status, body := g.post("/keep/passphrase", url.Values{"passphrase": {"1234"}, "again": {"1234"}}); status != http.StatusUnprocessableEntity || !strings.Contains(body, "too short") {
		t.Errorf("a weak one: %d", status)
	}
	g.post("/keep/passphrase", url.Values{"passphrase": {aPassphrase}, "again": {aPassphrase}})
	g.until("the record is encrypted", func() bool {
		status, body := g.get("/keep")
		return status == http.StatusOK && strings.Contains(body, "The record is encrypted")
	})
	if _, err := os.Stat(filepath.Join(dir, "fairstick.db")); err == nil {
		t.Error("the plain database is still there")
	}
	if status, body := g.post("/keep/passphrase", url.Values{"old": {"wrong old one"}, "passphrase": {"another walnut, quite different"}, "again": {"another walnut, quite different"}}); status != http.StatusForbidden || !strings.Contains(body, "Wrong passphrase") {
		t.Errorf("a wrong old one: %d", status)
	}
	if status, body := g.post("/keep/passphrase", url.Values{"old": {aPassphrase}, "passphrase": {"another walnut, quite different"}, "again": {"another walnut, quite different"}}); status != http.StatusOK || !strings.Contains(body, "The passphrase is changed") {
		t.Errorf("changed: %d", status)
	}
}

// A backup taken from the page is restored in another folder.
func TestABackupFromThePage(t *testing.T) {
	base, _ := housed(t, folder(founded(t, aPassphrase), aPassphrase), cli.Address{})
	g := visitor(t, base)
	g.signIn()
	status, body, h := g.do(http.MethodPost, "/keep/backup", url.Values{})
	if status != http.StatusOK || !strings.HasPrefix(h.Get("Content-Disposition"), "attachment; filename=\"fairstick-") || strings.Contains(body, "Lea Lead") {
		t.Fatalf("%d %v", status, h)
	}
	file := filepath.Join(t.TempDir(), "a.backup")
	if err := os.WriteFile(file, []byte(body), 0o600); err != nil {
		t.Fatal(err)
	}
	p, m, closer, err := restore(t.Context(), folder(filepath.Join(t.TempDir(), "new"), aPassphrase), file, quiet)
	if err != nil {
		t.Fatal(err)
	}
	if who, err := programme.List[*people.State](t.Context(), p, people.Kind); err != nil || len(who) != 1 || who[0].Details.Name != "Lea Lead" || m.Entries == 0 {
		t.Errorf("restored: %v %v", who, err)
	}
	if err := closer.Close(); err != nil {
		t.Error(err)
	}
	if _, body := g.get("/keep"); !strings.Contains(body, "The last one was made today at") {
		t.Error("the page does not know of the backup")
	}
}

// The second copy is set on the page, said on it, and opens by itself.
func TestASecondCopyFromThePage(t *testing.T) {
	base, _ := housed(t, folder(founded(t, aPassphrase), aPassphrase), cli.Address{})
	g := visitor(t, base)
	g.signIn()
	if status, body := g.post("/keep/copy", url.Values{"copy": {"stick"}}); status != http.StatusUnprocessableEntity || !strings.Contains(body, "whole path") {
		t.Errorf("a path that is not whole: %d", status)
	}
	dir := filepath.Join(t.TempDir(), "stick")
	if status, _ := g.post("/keep/copy", url.Values{"copy": {dir}}); status != http.StatusOK {
		t.Fatalf("set: %d", status)
	}
	g.until("it holds everything", func() bool {
		_, body := g.get("/keep")
		return strings.Contains(body, "it holds everything")
	})
	if err := os.Rename(dir, dir+"-pocket"); err != nil {
		t.Fatal(err)
	}
	g.until("it is said to be gone", func() bool {
		_, body := g.get("/keep")
		return strings.Contains(body, "is not there")
	})
	if status, _ := g.post("/keep/copy", url.Values{"act": {"stop"}}); status != http.StatusOK {
		t.Errorf("stopped: %d", status)
	}
	n, err := openWith(t.Context(), folder(dir+"-pocket", aPassphrase), ReadWrite, newSteady(), quiet)
	if err != nil {
		t.Fatal(err)
	}
	r, err := n.Programme.Check(t.Context())
	if err != nil || len(r.Problems) > 0 {
		t.Errorf("%v %v", r, err)
	}
	if err := n.Close(); err != nil {
		t.Error(err)
	}
}
