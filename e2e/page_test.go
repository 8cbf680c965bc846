package e2e

import (
	"context"
	_ "embed"
	"encoding/json"
	"fmt"
	"os"
	"strings"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

// finder is the script that finds a thing on the page as a person would: by the words on it, if it can be seen.
//
//go:embed testdata/finder.js
var finder string

// target is what the finder says about one thing.
type target struct {
	Problem string  // why it cannot be used now; empty when it can
	X, Y    float64 // its middle on the glass
	Kind    string  // "text", "choice", "set" or "file" for a field; "" for anything else
}

// Everywhere below, what names a thing by its words as a screen reader would say them: the label of a field, the text of a
// button or link. All of the words win over the first words, and those over words in the middle; two that fit equally well
// fail the test. "css:" before a selector finds by that instead.

// visit opens an address and waits until it has come.
func (p *page) visit(url string) {
	p.t.Helper()
	ctx, cancel := context.WithTimeout(p.ctx, patience)
	defer cancel()
	if err := chromedp.Do(ctx, chromedp.Navigate(url)); err != nil {
		p.t.Fatalf("%s: %s did not open: %v", p.name, url, err)
	}
	p.settle()
}

// click presses a button, link, choice or label: a tap on the phone, a click on the laptop. It refuses what is hidden,
// disabled or covered, and waits for what the press set off.
func (p *page) click(what string) {
	p.t.Helper()
	p.press(what, "click")
	p.settle()
}

// fill empties a field and puts text into it: typed key by key where one types, set where one picks (dates, sliders), and
// chosen by its words in a list. A file field takes a path.
func (p *page) fill(what, text string) {
	p.t.Helper()
	kind := p.find(what, "field").Kind
	switch kind {
	case "text":
		p.press(what, "field")
		p.eval(`document.activeElement.select && document.activeElement.select()`, nil)
		if text == "" {
			p.typeKeys(kb.Backspace)
		}
		p.typeKeys(text)
	case "choice", "set":
		var problem string
		p.eval(fmt.Sprintf("%s.put(%s, %s)", finder, quote(what), quote(text)), &problem)
		if problem != "" {
			p.t.Fatalf("%s: %q in %q: %s", p.name, text, what, problem)
		}
	case "file":
		ctx, cancel := context.WithTimeout(p.ctx, patience)
		defer cancel()
		path := chromedp.JSPath(fmt.Sprintf("%s.element(%s, 'field')", finder, quote(what)))
		if err := chromedp.Do(ctx, chromedp.SetUploadFiles(path, []string{text}, chromedp.RetryInterval(20*time.Millisecond))); err != nil {
			p.t.Fatalf("%s: the file for %q: %v", p.name, what, err)
		}
	default:
		p.t.Fatalf("%s: %q is no field that can be filled", p.name, what)
	}
	p.settle()
}

// keys types where the cursor is; Enter, Tab, Escape, Backspace, ArrowUp, ArrowDown and Space are keys by name.
func (p *page) keys(keys ...string) {
	p.t.Helper()
	named := map[string]string{
		"Enter": kb.Enter, "Tab": kb.Tab, "Escape": kb.Escape, "Backspace": kb.Backspace,
		"ArrowUp": kb.ArrowUp, "ArrowDown": kb.ArrowDown, "Space": " ",
	}
	for _, k := range keys {
		if code, ok := named[k]; ok {
			k = code
		}
		p.typeKeys(k)
	}
	p.settle()
}

// see waits until the words can be read on the page.
func (p *page) see(words string) {
	p.t.Helper()
	if !p.until(func() bool { return p.has(words) }) {
		p.t.Fatalf("%s: %q did not appear on %s, which reads:\n%s", p.name, words, p.url(), p.text())
	}
}

// seeNot waits until the words can no longer be read on the page.
func (p *page) seeNot(words string) {
	p.t.Helper()
	if !p.until(func() bool { return !p.has(words) }) {
		p.t.Fatalf("%s: %q did not go from %s, which reads:\n%s", p.name, words, p.url(), p.text())
	}
}

// at waits until the address holds a part, for example "/desk".
func (p *page) at(part string) {
	p.t.Helper()
	if !p.until(func() bool { return strings.Contains(p.url(), part) }) {
		p.t.Fatalf("%s: still at %s, not at %q; it reads:\n%s", p.name, p.url(), part, p.text())
	}
}

// has reports whether the words can be read on the page now, whatever the breaks and capitals the style gives them.
func (p *page) has(words string) bool {
	p.t.Helper()
	fold := func(s string) string { return strings.ToLower(strings.Join(strings.Fields(s), " ")) }
	return strings.Contains(fold(p.text()), fold(words))
}

// text gives what can be read on the page.
func (p *page) text() (s string) {
	p.t.Helper()
	p.eval(`document.body ? document.body.innerText : ""`, &s)
	return s
}

// url gives the address.
func (p *page) url() (s string) {
	p.t.Helper()
	p.eval(`location.href`, &s)
	return s
}

// value gives what stands in a field.
func (p *page) value(what string) (s string) {
	p.t.Helper()
	p.find(what, "field")
	p.eval(fmt.Sprintf("%s.element(%s, 'field').value", finder, quote(what)), &s)
	return s
}

// eval runs a script's expression in the page and puts its value into out, which may be nil. A page that is changing is
// asked again.
func (p *page) eval(expression string, out any) {
	p.t.Helper()
	var last error
	ok := p.until(func() bool {
		ctx, cancel := context.WithTimeout(p.ctx, patience)
		defer cancel()
		var raw []byte
		raw, last = chromedp.Run(ctx, chromedp.Evaluate[[]byte](expression))
		if last != nil && strings.Contains(last.Error(), "exception") {
			return true // the script's own fault
		}
		if last == nil && out != nil {
			last = json.Unmarshal(raw, out)
			return true
		}
		return last == nil
	})
	if !ok || last != nil {
		p.t.Fatalf("%s: the page did not answer %.80q: %v", p.name, expression, last)
	}
}

// shot keeps a picture of the glass in the folder FAIRSTICK_SHOTS, or in one that goes with the test, and gives its path.
func (p *page) shot(name string) string {
	p.t.Helper()
	return p.picture(name, chromedp.CaptureScreenshot())
}

// fullShot is shot of the whole length of the page.
func (p *page) fullShot(name string) string {
	p.t.Helper()
	return p.picture(name, chromedp.FullScreenshot(100))
}

func (p *page) picture(name string, take chromedp.Action[[]byte]) string {
	p.t.Helper()
	ctx, cancel := context.WithTimeout(p.ctx, patience)
	defer cancel()
	data, err := chromedp.Run(ctx, take)
	if err != nil {
		p.t.Fatalf("%s: no picture %q: %v", p.name, name, err)
	}
	dir := os.Getenv("FAIRSTICK_SHOTS")
	if dir == "" {
		dir = p.t.TempDir()
	}
	return p.write(dir, p.stem(name)+".png", data)
}

// find waits until the named thing can be used.
func (p *page) find(what, role string) (found target) {
	p.t.Helper()
	ok := p.until(func() bool {
		p.eval(fmt.Sprintf("%s.find(%s, %s)", finder, quote(what), quote(role)), &found)
		return found.Problem == ""
	})
	if !ok {
		p.t.Fatalf("%s: %q on %s: %s; it reads:\n%s", p.name, what, p.url(), found.Problem, p.text())
	}
	return found
}

func (p *page) press(what, role string) {
	p.t.Helper()
	at := p.find(what, role)
	ctx, cancel := context.WithTimeout(p.ctx, patience)
	defer cancel()
	act := chromedp.MouseClickXY(at.X, at.Y)
	if p.dev.touch {
		act = chromedp.TapXY(at.X, at.Y)
	}
	if err := chromedp.Do(ctx, act); err != nil {
		p.t.Fatalf("%s: %q could not be pressed: %v", p.name, what, err)
	}
}

func (p *page) typeKeys(s string) {
	p.t.Helper()
	ctx, cancel := context.WithTimeout(p.ctx, patience)
	defer cancel()
	if err := chromedp.Do(ctx, chromedp.KeyEvent(s)); err != nil {
		p.t.Fatalf("%s: the keys %q did not arrive: %v", p.name, s, err)
	}
}

// settle waits until the page stands still: loaded, and nothing that it asked for under way. A page that never rests is
// left to the next wait, which names what is missing.
func (p *page) settle() {
	p.t.Helper()
	const quiet = 60 * time.Millisecond // from an act to the request that it sets off
	since := time.Now()
	p.until(func() bool {
		p.mu.Lock()
		if p.lastNet.After(since) {
			since = p.lastNet
		}
		busy := len(p.open) > 0
		p.mu.Unlock()
		if busy || time.Since(since) < quiet {
			return false
		}
		var state string
		p.eval(`document.readyState`, &state)
		return state == "complete"
	})
}

// until asks again and again until the answer is yes, and gives false when patience has run out.
func (p *page) until(yes func() bool) bool {
	deadline := time.Now().Add(patience)
	tick := time.NewTicker(20 * time.Millisecond)
	defer tick.Stop()
	for {
		if yes() {
			return true
		}
		if time.Now().After(deadline) {
			return false
		}
		select {
		case <-p.ctx.Done():
			return false
		case <-tick.C:
		}
	}
}

func quote(s string) string {
	b, err := json.Marshal(s)
	if err != nil {
		return `""`
	}
	return string(b)
}
