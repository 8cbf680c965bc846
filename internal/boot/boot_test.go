package boot

import (
	"context"
	"crypto/tls"
	"io"
	"log/slog"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"fairstick/internal/demo"
	"fairstick/internal/event"
	"fairstick/internal/fault"
	"fairstick/internal/people"
	"fairstick/internal/programme"
)

var quiet = slog.New(slog.DiscardHandler)

func get(t *testing.T, c *http.Client, url string) (int, string) {
	t.Helper()
	req, err := http.NewRequestWithContext(t.Context(), http.MethodGet, url, nil)
	if err != nil {
		t.Fatal(err)
	}
	resp, err := c.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = resp.Body.Close() }()
	body, err := io.ReadAll(resp.Body)
	if err != nil {
		t.Fatal(err)
	}
	return resp.StatusCode, string(body)
}

// The invented day has every state in it that a lead, a screener or a counsellor meets; it can be begun again.
func TestDemoDay(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "demo")
	d := &demoDay{dir: dir, log: quiet, pages: &swap{}}
	if err := d.begin(t.Context()); err != nil {
		t.Fatal(err)
	}
	defer d.end()
	look := func() map[string]int {
		events, err := programme.List[*event.State](t.Context(), d.node.Programme, event.Kind)
		if err != nil {
			t.Fatal(err)
		}
		seen := map[string]int{}
		for _, ev := range events {
			seen["event "+string(ev.Phase)]++
			day, err := d.node.Programme.Day(t.Context(), ev.ID)
			if err != nil {
				t.Fatal(err)
			}
			for _, v := range day.Visits {
				seen["visit "+string(v.Phase())]++
				if v.OpenCare() {
					seen["care "+v.Care.Cause]++
				}
				if f := v.Finding(); f != nil {
					seen["band "+string(f.Band)]++
				}
			}
			for _, c := range day.Clearances(ev.Plan.Date) {
				if ev.Phase == event.IsOpen && c.Lot.Details.Lot == "INV-41" {
					seen["clearance "+c.Clearance.Key]++
				}
			}
			seen["overrides"] += len(ev.Overrides)
		}
		return seen
	}
	first := look()
	for _, state := range []string{
		"event open", "event planned", "visit desk", "visit test", "visit explain", "visit done", "visit left", "visit not-eligible", "visit declined",
		"care critical-high", "care low", "band usual", "band raised", "band high", "clearance cleared", "clearance quarantined", "clearance void", "overrides",
	} {
		if first[state] == 0 {
			t.Errorf("the invented day has no %s: %v", state, first)
		}
	}
	if err := d.again(t.Context()); err != nil {
		t.Fatal(err)
	}
	second := look()
	for k, n := range first {
		if second[k] != n {
			t.Errorf("begun again, %s is %d and was %d", k, second[k], n)
		}
	}
	rep, err := d.node.Programme.Check(t.Context())
	if err != nil || len(rep.Problems) > 0 {
		t.Errorf("check: %v %v", rep.Problems, err)
	}
}

func TestDemoRefusesAFolderThatIsNotADemo(t *testing.T) {
	dir := t.TempDir()
	file := filepath.Join(dir, "precious.txt")
	if err := os.WriteFile(file, []byte("keep me"), 0o600); err != nil {
		t.Fatal(err)
	}
	err := demo.Clear(dir)
	if !fault.Is(err, "not-a-demo") {
		t.Errorf("got %v", err)
	}
	if b, err := os.ReadFile(file); err != nil || string(b) != "keep me" {
		t.Errorf("the folder was touched: %q %v", b, err)
	}
}

// A stopped and started server has what it had, and serves phones only encrypted.
func TestServeOverTLS(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "data")
	n, err := Open(t.Context(), dir, Create, quiet)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := n.Programme.Found(t.Context(), programme.Founding{Programme: "Test", Lead: "Lea Lead", PIN: "4821"}); err != nil {
		t.Fatal(err)
	}
	if err := n.Close(); err != nil {
		t.Fatal(err)
	}
	if n, err = Open(t.Context(), dir, ReadWrite, quiet); err != nil {
		t.Fatal(err)
	}
	defer func() { _ = n.Close() }()
	if _, err := Serve(n, dir, Listen{Addr: "0.0.0.0:0"}, "test", quiet); !fault.Is(err, "clear-network") {
		t.Errorf("served in the clear: %v", err)
	}
	r, err := Serve(n, dir, Listen{Addr: "127.0.0.1:0", LAN: true}, "test", quiet)
	if err != nil {
		t.Fatal(err)
	}
	client := &http.Client{Transport: &http.Transport{TLSClientConfig: &tls.Config{InsecureSkipVerify: true}}} //nolint:gosec // the test compares nothing with the outside
	status, body := get(t, client, r.URL+"/sign-in")
	if status != http.StatusOK || !strings.Contains(body, "Lea Lead") {
		t.Errorf("sign-in: %d", status)
	}
	if len(strings.Fields(r.Fingerprint)) != 16 {
		t.Errorf("fingerprint %q", r.Fingerprint)
	}
	ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
	defer cancel()
	if err := r.Stop(ctx); err != nil {
		t.Error(err)
	}
	again, print, err := certificate(dir)
	if err != nil || print != r.Fingerprint || len(again.Certificate) != 1 {
		t.Errorf("the certificate changed: %v", err)
	}
	if who, err := programme.List[*people.State](t.Context(), n.Programme, people.Kind); err != nil || len(who) != 1 || !who[0].Has(people.Lead) {
		t.Errorf("people %v %v", who, err)
	}
}
