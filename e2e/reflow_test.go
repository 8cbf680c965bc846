package e2e

import (
	"os"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
)

// cut is what a narrow glass or wider spacing takes away from a page, and what a finger could miss.
const cut = `(() => {
  const out = [];
  const name = (e) => e.tagName.toLowerCase() + "." + e.className + " “" + (e.innerText || "").trim().slice(0, 40) + "”";
  if (document.documentElement.scrollWidth > innerWidth) {
    const wide = [...document.querySelectorAll("main *, header *")].filter(e => e.getBoundingClientRect().right > innerWidth + 1 && !e.closest(".table-frame, .chart, .away"));
    out.push("the page is " + document.documentElement.scrollWidth + " wide: " + wide.slice(0, 3).map(name).join("; "));
  }
  for (const e of document.querySelectorAll("main *, header *")) {
    const s = getComputedStyle(e);
    if (e.closest(".away, .skip, thead, svg") || e.matches("input, select, textarea") || !e.checkVisibility()) continue;
    if ((s.overflowX === "hidden" || s.overflowY === "hidden" || s.textOverflow === "ellipsis") && (e.scrollWidth > e.clientWidth + 2 || e.scrollHeight > e.clientHeight + 2)) out.push("cut: " + name(e));
    if (e.matches("button, .button, .tile, .key") && (e.scrollWidth > e.clientWidth + 2 || e.scrollHeight > e.clientHeight + 2)) out.push("its words run out of " + name(e));
  }
  return out;
})()`

// small are the targets of a station that a gloved finger could miss: under 48 CSS pixels. A link inside a sentence or a
// cell of a table is as high as its line, as WCAG 2.5.8 allows.
const small = `[...document.querySelectorAll("button, a.button, summary, label.tile, select, input:not([type=hidden]):not([type=radio]):not([type=checkbox]), .head-out, .nav a, .back, .waiting-number, .alert a")]
  .filter(e => e.checkVisibility() && !e.closest("td, .pad-window"))
  .map(e => [e, e.getBoundingClientRect()])
  .filter(([e, r]) => r.width > 0 && (r.height < 47.5 || r.width < 43.5))
  .map(([e, r]) => e.tagName + "." + e.className + " “" + (e.innerText || e.value || "").trim().slice(0, 30) + "” " + Math.round(r.width) + " by " + Math.round(r.height))`

// wider is the spacing that WCAG 1.4.12 lets a reader ask for.
const wider = `(() => {
  const sheet = new CSSStyleSheet();
  sheet.replaceSync("* { line-height: 1.5 !important; letter-spacing: 0.12em !important; word-spacing: 0.16em !important } p { margin-bottom: 2em !important }");
  document.adoptedStyleSheets = [sheet];
  return document.adoptedStyleSheets.length;
})()`

// sticks is a field that a bar at the foot of the glass would cover when it has the focus.
const sticks = `(() => {
  const out = [];
  for (const e of document.querySelectorAll("main input:not([type=hidden]), main select, main textarea, main button, main a[href], main summary")) {
    if (!e.checkVisibility() || e.disabled) continue;
    e.blur(); // what had the focus already would not come into view
    e.focus();
    if (document.activeElement !== e) continue;
    const box = e.labels?.[0]?.matches(".tile") ? e.labels[0] : e;
    const r = box.getBoundingClientRect();
    const bar = [...document.querySelectorAll(".bar")].find(x => x.checkVisibility() && x.getClientRects().length);
    if (!bar || bar.contains(e) || getComputedStyle(bar).position !== "sticky" || e.matches("textarea")) continue; // of a long text the line in hand is shown
    const b = bar.getBoundingClientRect();
    if (r.height < b.top && r.bottom > b.top + 1 && r.top < b.bottom) out.push("under the bar: " + e.outerHTML.slice(0, 100));
  }
  return out;
})()`

// reflows looks at the page that stands there on a narrow glass and on a laptop at 200 %: nothing runs out at the side or is
// cut, also with the widest spacing that a reader may ask for, and no bar lies over what has the focus. The glass is then as
// it was.
func (p *page) reflows(path string) {
	p.t.Helper()
	for _, g := range []struct {
		how           string
		width, height int64
	}{{"on 320 pixels", 320, 640}, {"at 200 %", 683, 384}} {
		p.glass(g.width, g.height)
		look := func(how, expression string) {
			p.t.Helper()
			var wrong []string
			p.eval(expression, &wrong)
			for _, w := range wrong {
				p.t.Errorf("%s, %s%s: %s", path, g.how, how, w)
			}
		}
		look("", cut)
		look("", sticks)
		p.eval(wider, nil)
		look(", widely set", cut)
		p.eval(`document.adoptedStyleSheets = [], 1`, nil)
	}
	p.glass(p.dev.width, p.dev.height)
}

// targets looks whether a gloved finger finds everything on a page of the stations; other pages are left alone.
func (p *page) targets(path string) {
	p.t.Helper()
	station := path == "/" || path == "/station" || strings.HasPrefix(path, "/sign-in")
	for _, s := range []string{"/desk", "/test", "/explain", "/care/"} {
		station = station || strings.Contains(path, s)
	}
	if !station {
		return
	}
	var found []string
	p.eval(small, &found)
	for _, s := range found {
		p.t.Errorf("%s: a small target: %s", path, s)
	}
}

// With the reader's own colours every state is still told apart by something other than a colour of ours: the choice that is
// taken, what has the focus, the mark of a band, the main button. Motion stops where it is not wanted.
func TestOwnColours(t *testing.T) {
	t.Parallel()
	f := market(t)
	p := f.comes("Maren Solbakk", laptop)
	p.media("forced-colors", "active", "prefers-reduced-motion", "reduce")
	p.visit(f.at("/desk/" + f.ticket("029").ID))
	shots := os.Getenv("FAIRSTICK_SHOTS") != ""
	for _, look := range []struct{ path, what, test string }{
		{"/board", "the lines of the board", `getComputedStyle(document.querySelector(".waiting-urgent, .alert")).borderTopStyle === "solid"`},
		{"/slip/" + f.ticket("013").ID, "the mark of the band", `(() => { const m = document.querySelector("svg.mark path.stairs"); return getComputedStyle(m).stroke === getComputedStyle(m.closest("p, span, div")).color })()`},
		{"/care/" + f.ticket("021").ID, "the main button", `[...document.querySelectorAll(".main-button")].every(b => getComputedStyle(b).borderTopStyle === "solid" && parseFloat(getComputedStyle(b).borderTopWidth) >= 2)`},
		{"/roster", "motion", `[...document.querySelectorAll("*")].every(e => getComputedStyle(e).animationName === "none")`},
	} {
		p.visit(f.at(look.path))
		var ok bool
		p.eval(look.test, &ok)
		if !ok {
			t.Errorf("%s is lost in the reader's own colours on %s", look.what, look.path)
		}
		if shots {
			p.shot("forced" + strings.SplitN(look.path, "/", 3)[1])
		}
	}
	p.visit(f.url + "/station?step=test&event=" + f.event)
	p.click("Meter M1")
	var taken string
	p.eval(`(() => { const s = getComputedStyle(document.querySelector(".tile:has(:checked)")); return s.outlineStyle + " " + s.outlineWidth })()`, &taken)
	if taken != "solid 3px" && taken != "solid 4px" {
		t.Errorf("the choice that is taken has the outline %q", taken)
	}
	p.do(chromedp.KeyEvent("\t"))
	p.focus()
}
