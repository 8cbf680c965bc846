package e2e

import (
	"context"
	"encoding/json"
	"net"
	"net/http"
	"slices"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"

	"fairstick/internal/web"
)

// media tells the page what its reader wants: names and values of media features in turn, for example
// "prefers-color-scheme", "dark". None takes back what was told before.
func (p *page) media(pairs ...string) {
	p.t.Helper()
	var wants emulation.SetEmulatedMediaParams
	for pair := range slices.Chunk(pairs, 2) {
		wants.Features = append(wants.Features, &emulation.MediaFeature{Name: pair[0], Value: pair[1]})
	}
	p.do(chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		_, err := cdp.Call(ctx, t, emulation.SetEmulatedMedia, wants)
		return err
	}))
}

// glass gives the page another size, in CSS pixels.
func (p *page) glass(width, height int64) {
	p.t.Helper()
	p.do(chromedp.EmulateViewport(width, height))
}

func (p *page) do(steps ...chromedp.Action[chromedp.Void]) {
	p.t.Helper()
	ctx, cancel := context.WithTimeout(p.ctx, patience)
	defer cancel()
	if err := chromedp.Do(ctx, steps...); err != nil {
		p.t.Fatalf("%s: %v", p.name, err)
	}
}

// ask waits for the answer of a script that takes its time.
func (p *page) ask(expression string, out any) {
	p.t.Helper()
	ctx, cancel := context.WithTimeout(p.ctx, 2*patience)
	defer cancel()
	raw, err := chromedp.Run(ctx, chromedp.Evaluate[[]byte](expression, chromedp.EvalAwaitPromise))
	if err == nil && out != nil {
		err = json.Unmarshal(raw, out)
	}
	if err != nil {
		p.t.Fatalf("%s: the page did not answer %.80q: %v", p.name, expression, err)
	}
}

// alone gives the fair to a test of its own, on the same browser.
func (f *fair) alone(t *testing.T) *fair {
	mine := *f
	mine.t, mine.b = t, &browser{t, f.b.ctx}
	return &mine
}

// invented serves the same record once more, as the invented day that the command demo shows.
func (f *fair) invented() string {
	f.t.Helper()
	var hints []web.Hint
	for name, pin := range f.pins {
		hints = append(hints, web.Hint{Name: name, Role: "invented", PIN: pin})
	}
	pages := web.New(web.Options{Programme: f.prog, Log: quiet, Demo: &web.Demo{Hints: hints, Reset: func(context.Context) error { return nil }}})
	var lc net.ListenConfig
	ln, err := lc.Listen(f.t.Context(), "tcp", "127.0.0.1:0")
	fatal(f.t, err)
	srv := &http.Server{Handler: pages, ReadHeaderTimeout: 5 * time.Second}
	go func() { _ = srv.Serve(ln) }()
	f.t.Cleanup(func() {
		pages.Close()
		_ = srv.Close()
	})
	return "http://" + ln.Addr().String()
}
