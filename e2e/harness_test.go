package e2e

import (
	"bytes"
	"errors"
	"fmt"
	"image/png"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// The harness is tried on a small page of its own before it is trusted with the program.
const tryPage = `<!doctype html><html lang="en"><head><meta charset="utf-8"><title>Try</title>
<meta name="viewport" content="width=device-width, initial-scale=1"><link rel="icon" href="data:,">
<style>.gone{display:none} .far{margin-top:1500px} .sr{position:absolute;opacity:0;width:1px;height:1px} b{text-transform:uppercase}</style></head>
<body><h1>Try page</h1>
<form action="/said"><label>Ticket <input name="ticket" value="old"></label>
<label>Day <input type="date" name="day"></label>
<label>Language <select name="lang"><option value="en">English</option><option value="es">Español</option></select></label>
<fieldset><legend>Fasting</legend><label><input class="sr" type="radio" name="fasting" value="yes"> Yes, nothing since last night</label>
<label><input class="sr" type="radio" name="fasting" value="no"> No</label></fieldset>
<button name="b" value="next">Next</button> <button name="b" value="next-slow" formaction="/slow">Next, slowly</button></form>
<button class="gone">Ghost</button> <button disabled>Shut</button> <button>Twin</button> <button>Twin</button>
<button id="count" aria-label="Count up" class="far">+</button> <output>0 presses</output> <b>loud</b>
<script>let n = 0; document.querySelector("#count").addEventListener("click", () => {
  n++; setTimeout(() => { document.querySelector("output").textContent = n + " presses" }, 50) })</script></body></html>`

func serveTry(t *testing.T, header http.Header) string {
	t.Helper()
	answer := func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Type", "text/html; charset=utf-8")
		q := r.URL.Query()
		if _, err := fmt.Fprintf(w, `<!doctype html><title>Said</title><link rel="icon" href="data:,"><p>Ticket %s, day %s, language %s, fasting %s, by %s</p><a href="/">Back</a>`,
			q.Get("ticket"), q.Get("day"), q.Get("lang"), q.Get("fasting"), q.Get("b")); err != nil {
			t.Error(err)
		}
	}
	mux := http.NewServeMux()
	mux.HandleFunc("GET /{$}", func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Type", "text/html; charset=utf-8")
		for k, v := range header {
			w.Header()[k] = v
		}
		if _, err := w.Write([]byte(tryPage)); err != nil {
			t.Error(err)
		}
	})
	mux.HandleFunc("GET /said", answer)
	mux.HandleFunc("GET /slow", func(w http.ResponseWriter, r *http.Request) {
		time.Sleep(300 * time.Millisecond) // the network, not a wait of the test
		answer(w, r)
	})
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	s := &http.Server{Handler: mux, ReadHeaderTimeout: 5 * time.Second}
	go func() {
		if err := s.Serve(l); !errors.Is(err, http.ErrServerClosed) {
			t.Error(err)
		}
	}()
	t.Cleanup(func() {
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	})
	return "http://" + l.Addr().String() + "/"
}

func TestHarness(t *testing.T) {
	address := serveTry(t, nil)
	b := startBrowser(t)
	for _, d := range []device{phone, laptop} {
		t.Run(d.name, func(t *testing.T) {
			p := (&browser{t, b.ctx}).device("visitor", d)
			p.visit(address)
			p.see("0 presses")
			p.click("Count up")
			p.click("css:#count")
			p.see("2 presses")
			p.seeNot("0 presses")
			if !p.has("Loud") || p.has("Ghost") {
				t.Errorf("what can be read: %q", p.text())
			}

			if got := p.value("Ticket"); got != "old" {
				t.Errorf("the ticket holds %q, want %q", got, "old")
			}
			p.fill("Ticket", "A 17")
			p.fill("Day", "2026-05-09")
			p.fill("Language", "Español")
			p.click("Yes")
			p.click("Next, slowly")
			if want := "Ticket A 17, day 2026-05-09, language es, fasting yes, by next-slow"; !p.has(want) {
				t.Errorf("after the slow answer the page reads %q, want %q", p.text(), want)
			}
			p.click("Back")
			p.fill("Ticket", "")
			p.click("No")
			p.click("Ticket")
			p.keys("8", "Enter")
			p.at("ticket=8")
			p.see("fasting no")

			p.visit(address) // taller than the glass
			if w, h := pictureSize(t, p.shot("glass")); w != d.width || h != d.height {
				t.Errorf("the picture of the glass is %d by %d, want %d by %d", w, h, d.width, d.height)
			}
			if w, h := pictureSize(t, p.fullShot("length")); w != d.width || h < 1500 {
				t.Errorf("the picture of the length is %d by %d, want %d by more than 1500", w, h, d.width)
			}
		})
	}
}

func pictureSize(t *testing.T, path string) (width, height int64) {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	c, err := png.DecodeConfig(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	return int64(c.Width), int64(c.Height)
}

func TestFinderRefuses(t *testing.T) {
	b := startBrowser(t)
	p := b.device("visitor", laptop)
	p.visit(serveTry(t, nil))
	cases := []struct{ what, problem string }{
		{"Ghost", "there is no such thing to be seen"},
		{"Shut", "it is disabled"},
		{"Twin", "2 things fit equally well"},
		{"css:.gone", "it cannot be seen"},
		{"Next", ""}, // not "Next, slowly": all of the words win
	}
	for _, c := range cases {
		var got target
		p.eval(fmt.Sprintf("%s.find(%s, 'click')", finder, quote(c.what)), &got)
		if got.Problem != c.problem {
			t.Errorf("%s: %q, want %q", c.what, got.Problem, c.problem)
		}
	}
	p.eval(`document.body.insertAdjacentHTML("beforeend", "<div class=veil style='position:fixed;inset:0'></div>"), 1`, nil)
	var got target
	p.eval(fmt.Sprintf("%s.find('Next', 'click')", finder), &got)
	if want := `it is covered by <div class="veil">`; got.Problem != want {
		t.Errorf("under a veil: %q, want %q", got.Problem, want)
	}
}

// broken is a test that collects what is said of it instead of failing.
type broken struct {
	testing.TB
	said     []string
	cleanups []func()
}

func (b *broken) Errorf(format string, args ...any) {
	b.said = append(b.said, fmt.Sprintf(format, args...))
}
func (b *broken) Failed() bool     { return len(b.said) > 0 }
func (b *broken) Cleanup(f func()) { b.cleanups = append(b.cleanups, f) }

// A page whose script is stopped by its own policy fails the test, and what it was is kept.
func TestBrokenPageIsKept(t *testing.T) {
	dir := t.TempDir()
	t.Setenv("FAIRSTICK_SHOTS", dir)
	real := startBrowser(t)
	fake := &broken{TB: t}
	p := (&browser{fake, real.ctx}).device("visitor", phone)
	p.visit(serveTry(t, http.Header{"Content-Security-Policy": {"default-src 'self'"}}))
	if !p.until(func() bool { p.mu.Lock(); defer p.mu.Unlock(); return len(p.wrong) > 0 }) {
		t.Fatal("the page's own policy stopped its script, but nobody heard")
	}
	for _, f := range fake.cleanups {
		f()
	}
	if len(fake.said) != 1 || !strings.Contains(fake.said[0], "Content Security Policy") {
		t.Errorf("said of the page: %q", fake.said)
	}
	for ext, want := range map[string]string{"html": "<h1>Try page</h1>", "png": "PNG", "log": "Content Security Policy"} {
		text, err := os.ReadFile(filepath.Join(dir, "TestBrokenPageIsKept-visitor-failed-phone."+ext))
		if err != nil || !strings.Contains(string(text), want) {
			t.Errorf("the kept .%s does not hold %q (%v)", ext, want, err)
		}
	}
}

func TestFindChromium(t *testing.T) {
	here := func(names ...string) func(string) (string, error) {
		return func(n string) (string, error) {
			for _, have := range names {
				if n == have {
					return "/bin/" + n, nil
				}
			}
			return "", errors.New("not here")
		}
	}
	cases := []struct {
		look func(string) (string, error)
		want string
	}{
		{here(), ""},
		{here("google-chrome"), "/bin/google-chrome"},
		{here("google-chrome", "chromium"), "/bin/chromium"},
	}
	for _, c := range cases {
		if got := findChromium(c.look); got != c.want {
			t.Errorf("found %q, want %q", got, c.want)
		}
	}
}
