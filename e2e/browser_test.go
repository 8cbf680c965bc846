// Package e2e walks whole journeys through the running program, as people do: in a real browser, at the size of a phone
// and of a laptop, by the words on the page.
//
// The harness stands in browser_test.go and page_test.go. It needs Chromium or Google Chrome and fails without one: a
// journey that was not walked must not look like one that was.
//
// Journeys are walked beside each other, each on a record and in a browser of its own; what measures time, kills the program or
// fills the machine runs alone.
package e2e

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"
)

// patience is how long a helper waits for the page to become what it was told to find.
const patience = 15 * time.Second

// device is the glass a page is shown on.
type device struct {
	name          string
	width, height int64
	touch         bool
}

var (
	phone  = device{"phone", 390, 844, true}
	laptop = device{"laptop", 1366, 768, false}
)

// browser is one running Chromium with a fresh profile. It ends with the test.
type browser struct {
	t   testing.TB
	ctx context.Context
}

// startBrowser starts Chromium for one test, or fails the test with one sentence when there is none.
func startBrowser(t testing.TB) *browser {
	t.Helper()
	path := findChromium(exec.LookPath)
	if path == "" {
		t.Fatal("No Chromium or Google Chrome was found: install the package named chromium, or run ./check, which does so where it can.")
	}
	options := append(chromedp.DefaultExecAllocatorOptions[:],
		chromedp.ExecPath(path),
		chromedp.Headless,
		chromedp.NoSandbox,
		chromedp.NoFirstRun,
		chromedp.DisableGPU,
		chromedp.Flag("disable-quic", true),
		chromedp.Flag("disable-background-networking", true),
		chromedp.Flag("disable-component-update", true),
		chromedp.Flag("disable-sync", true),
		chromedp.Flag("lang", "en-GB"),
	)
	// Without a folder of ours, each start makes a fresh profile and removes it at the end.
	ctx, cancelAllocator := chromedp.NewExecAllocator(context.Background(), options...)
	ctx, cancel := chromedp.NewContext(ctx)
	t.Cleanup(func() { cancel(); cancelAllocator() })
	if err := chromedp.Do(ctx); err != nil {
		t.Fatalf("the browser did not start: %v", err)
	}
	return &browser{t, ctx}
}

// findChromium gives the program to start, or "" when there is none.
func findChromium(look func(string) (string, error)) string {
	names := []string{"chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome"}
	switch runtime.GOOS {
	case "darwin":
		names = append(names, "/Applications/Chromium.app/Contents/MacOS/Chromium", "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome")
	case "windows":
		names = append(names, `C:\Program Files\Google\Chrome\Application\chrome.exe`, `C:\Program Files (x86)\Google\Chrome\Application\chrome.exe`)
	}
	for _, n := range names {
		if p, err := look(n); err == nil {
			return p
		}
	}
	return ""
}

// page is one tab on one device with cookies of its own, so that a journey can have several people in it.
type page struct {
	t    testing.TB
	ctx  context.Context
	name string
	dev  device

	mu      sync.Mutex
	console []string                   // everything the page said
	wrong   []string                   // what the page must never say: an exception, a breach of its own policy
	open    map[network.RequestID]bool // documents and calls that have not come back
	lastNet time.Time
}

// device opens an empty tab. who names the person at it and begins the names of its pictures.
func (b *browser) device(who string, d device) *page {
	b.t.Helper()
	p := &page{t: b.t, name: who, dev: d, open: map[network.RequestID]bool{}}
	ctx, cancel := chromedp.NewContext(b.ctx, chromedp.WithNewBrowserContext(), chromedp.WithListener(p.heard))
	p.ctx = ctx
	var look []chromedp.EmulateViewportOption
	if d.touch {
		look = append(look, chromedp.EmulatePortrait, chromedp.EmulateMobile, chromedp.EmulateTouch)
	}
	if err := chromedp.Do(ctx, chromedp.EmulateViewport(d.width, d.height, look...)); err != nil {
		cancel()
		b.t.Fatalf("%s: the tab did not open: %v", who, err)
	}
	messages := chromedp.Console(ctx)
	done := make(chan struct{})
	go func() {
		defer close(done)
		for m, err := range messages {
			if err != nil {
				return
			}
			p.said(m)
		}
	}()
	b.t.Cleanup(func() {
		p.mu.Lock()
		wrong := strings.Join(p.wrong, "; ")
		p.mu.Unlock()
		if wrong != "" {
			b.t.Errorf("%s: the page broke: %s", who, wrong)
		}
		if b.t.Failed() {
			p.keep()
		}
		cancel()
		<-done
	})
	return p
}

// awaited are the requests whose answers change a page.
var awaited = []network.ResourceType{network.ResourceTypeDocument, network.ResourceTypeXHR, network.ResourceTypeFetch}

// heard follows which requests are under way, so that a click can wait for what it set off. Live streams never end and
// are not waited for.
func (p *page) heard(ev any) {
	p.mu.Lock()
	defer p.mu.Unlock()
	switch ev := ev.(type) {
	case *network.EventRequestWillBeSent:
		if slices.Contains(awaited, ev.Type) {
			p.open[ev.RequestID] = true
			p.lastNet = time.Now()
		}
	case *network.EventLoadingFinished:
		delete(p.open, ev.RequestID)
	case *network.EventLoadingFailed:
		delete(p.open, ev.RequestID)
	}
}

func (p *page) said(m chromedp.ConsoleMessage) {
	p.mu.Lock()
	defer p.mu.Unlock()
	line := m.String()
	if m.Source != "" {
		line += " (" + m.Source + " " + m.URL + ")"
	}
	p.console = append(p.console, line)
	policy := strings.Contains(m.Text, "Content Security Policy") || strings.Contains(m.Text, "Content-Security-Policy")
	if m.IsException() || policy {
		p.wrong = append(p.wrong, line)
	}
}

// keep writes what the page was when the test failed: its HTML, its picture and its console.
func (p *page) keep() {
	dir := os.Getenv("FAIRSTICK_SHOTS")
	if dir == "" {
		made, err := os.MkdirTemp("", "fairstick-failed-")
		if err != nil {
			p.t.Logf("%s: nothing was kept: %v", p.name, err)
			return
		}
		dir = made // outlives the test, so that somebody can look
	}
	ctx, cancel := context.WithTimeout(p.ctx, patience)
	defer cancel()
	stem := p.stem("failed")
	html, err := chromedp.Run(ctx, chromedp.Evaluate[string](`location.href + "\n" + document.documentElement.outerHTML`))
	if err != nil {
		html = fmt.Sprintf("no page: %v", err)
	}
	p.write(dir, stem+".html", []byte(html))
	if picture, err := chromedp.Run(ctx, chromedp.FullScreenshot(100)); err == nil {
		p.write(dir, stem+".png", picture)
	}
	p.mu.Lock()
	said := strings.Join(p.console, "\n")
	p.mu.Unlock()
	p.write(dir, stem+".log", []byte(said+"\n"))
	p.t.Logf("%s: kept %s.html, .png and .log in %s", p.name, stem, dir)
}

func (p *page) stem(what string) string {
	clean := strings.NewReplacer("/", "-", " ", "-", "\\", "-", ":", "-")
	return clean.Replace(p.t.Name() + "-" + p.name + "-" + what + "-" + p.dev.name)
}

func (p *page) write(dir, name string, data []byte) string {
	path := filepath.Join(dir, name)
	if err := os.MkdirAll(dir, 0o755); err != nil {
		p.t.Errorf("%s: %v", p.name, err)
	}
	if err := os.WriteFile(path, data, 0o644); err != nil {
		p.t.Errorf("%s: %v", p.name, err)
	}
	return path
}
