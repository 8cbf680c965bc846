package e2e

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"fairstick/internal/visit"
)

// where is what has the focus: its name, and whether somebody who looks can tell that it has.
type where struct {
	Name, Kind string
	ID         string
	Ring       bool // an outline of at least 2 px around it, or around the label that stands for it
	Seen       bool // inside the glass
	Covered    string
	At         int // its place in the order of the page
}

const focused = `(() => {
  const e = document.activeElement;
  const all = [...document.querySelectorAll("*")];
  const out = {Name: "", Kind: e.tagName.toLowerCase(), ID: e.id, Ring: false, Seen: false, Covered: "", At: all.indexOf(e)};
  if (e === document.body) return out;
  const text = (x) => (x?.innerText || x?.textContent || "").replace(/\s+/g, " ").trim();
  out.Name = e.getAttribute("aria-label") || (e.labels?.length ? [...e.labels].map(text).join(" ") : text(e));
  const own = e.labels?.[0] && ["radio", "checkbox"].includes(e.type) ? e.labels[0] : e.closest(".pad-window") || e;
  for (const x of [e, own]) {
    const s = getComputedStyle(x);
    if (s.outlineStyle !== "none" && parseFloat(s.outlineWidth) >= 2) out.Ring = true;
  }
  const r = own.getBoundingClientRect();
  out.Seen = r.top >= -1 && r.left >= -1 && r.bottom <= innerHeight + 1 && r.right <= innerWidth + 1;
  if (r.height > innerHeight - 20 || r.width > innerWidth) out.Seen = r.top < innerHeight && r.bottom > 0; // larger than the glass
  for (const [x, y] of [[r.left + r.width / 2, r.top + 4], [r.left + r.width / 2, r.bottom - 4], [r.left + 4, r.top + r.height / 2], [r.right - 4, r.top + r.height / 2]]) {
    const top = document.elementFromPoint(x, y);
    const over = top && !own.contains(top) && !top.contains(own) && top.closest(".bar, .skip, .alerts");
    if (over && !over.contains(own)) out.Covered = top.outerHTML.slice(0, 80);
  }
  return out;
})()`

// focus tells what has it, and fails when it cannot be seen there.
func (p *page) focus() (w where) {
	p.t.Helper()
	p.eval(focused, &w)
	switch {
	case w.Kind == "body" || w.Kind == "html":
	case w.ID == "main" || w.ID == "summary": // a place to go on reading, not a control
	case !w.Ring:
		p.t.Errorf("%s: nothing shows that %q has the focus on %s", p.name, w.Name, p.url())
	case !w.Seen:
		p.t.Errorf("%s: %q has the focus outside the glass on %s", p.name, w.Name, p.url())
	case w.Covered != "":
		p.t.Errorf("%s: %q has the focus on %s but lies under %s", p.name, w.Name, p.url(), w.Covered)
	}
	return w
}

// tab goes on to the next control; back goes to the one before.
func (p *page) tab() where { p.t.Helper(); p.stroke(kb.Tab); return p.focus() }

func (p *page) back() where {
	p.t.Helper()
	p.do(chromedp.KeyEvent(kb.Tab, chromedp.KeyModifiers(chromedp.ModifierShift)))
	return p.focus()
}

func (p *page) stroke(keys string) { p.t.Helper(); p.do(chromedp.KeyEvent(keys)) }

// reach tabs to the control whose name begins with the words, as somebody without a mouse does. The order may lead through
// others; it must be that of the page.
func (p *page) reach(words string) where {
	p.t.Helper()
	fold := func(s string) string { return strings.ToLower(strings.Join(strings.Fields(s), " ")) }
	last, met := -1, []string{}
	if w := p.focus(); w.Kind != "body" && strings.HasPrefix(fold(w.Name), fold(words)) {
		return w
	}
	for range 80 {
		w := p.tab()
		if strings.HasPrefix(fold(w.Name), fold(words)) && w.Kind != "body" {
			return w
		}
		if w.At < last && w.Kind != "body" && last >= 0 && len(met) > 60 {
			break
		}
		met, last = append(met, w.Name), w.At
	}
	p.t.Fatalf("%s: the Tab key does not come to %q on %s; it met %q", p.name, words, p.url(), met)
	return where{}
}

// hit reaches a control and presses it with a key: Enter for links and buttons, the space bar for choices.
func (p *page) hit(words string) {
	p.t.Helper()
	w := p.reach(words)
	switch {
	case w.Kind == "input":
		p.stroke(" ")
	default:
		p.stroke("\r")
	}
	p.settle()
}

// onward is hit for a press that leads to another page or another state of it, which says so.
func (p *page) onward(words, says string) {
	p.t.Helper()
	p.hit(words)
	p.see(says)
}

// rounds walks once around a page with Tab and once back, and tells the names in the order in which they came.
func (p *page) rounds() []string {
	p.t.Helper()
	var names []string
	places := map[int]bool{}
	p.eval(`document.activeElement.blur(), 1`, nil)
	for range 120 {
		w := p.tab()
		if w.Kind == "body" || places[w.At] {
			break
		}
		places[w.At] = true
		names = append(names, w.Name)
	}
	if len(names) == 120 {
		p.t.Errorf("%s: the Tab key never leaves %s", p.name, p.url())
	}
	return names
}

// A whole visit by the keyboard alone: signing in, the desk, the test and Explain, with what has the focus always to be
// seen. The laptop has no touch; the phone has a keyboard attached and a bar that sticks to its foot.
func TestKeyboardAlone(t *testing.T) {
	t.Parallel()
	f := market(t)
	for _, d := range []device{laptop, {"phone-keys", 390, 844, false}} {
		t.Run(d.name, func(t *testing.T) {
			f := f.alone(t)
			f.byKeys(d)
		})
	}
}

// in signs somebody in by the keyboard.
func (f *fair) in(name string, d device) *page {
	f.t.Helper()
	p := f.b.device(strings.Fields(name)[0]+"-keys", d)
	p.visit(f.url)
	p.see("Who are you?")
	p.onward(name, "Your PIN")
	if w := p.focus(); w.Kind != "input" {
		f.t.Errorf("the PIN does not wait in its field: the focus is on %+v", w)
	}
	p.stroke(f.pins[name])
	p.stroke("\r")
	p.settle()
	p.see("What next?")
	return p
}

func (f *fair) byKeys(d device) {
	t := f.t
	t.Helper()
	p := f.in("Maren Solbakk", d)

	// the skip link is the first stop and leads past the head
	p.visit(f.at("/desk"))
	if w := p.tab(); w.Name != "Skip to the page" {
		t.Errorf("the first stop is %q", w.Name)
	}
	p.stroke("\r")
	if w := p.focus(); w.ID != "main" {
		t.Errorf("after the skip link the focus is on %+v", w)
	}

	// the desk
	p.onward("English", "Consent")
	ticket := f.ticketOn(p)
	p.eval(`document.querySelector("main form").noValidate = true, 1`, nil)
	p.onward("Yes, I agree", "was not chosen")
	if w := p.focus(); w.ID != "summary" {
		t.Errorf("after a refusal the focus is on %+v, not on what it says", w)
	}
	if w := p.tab(); w.Kind != "a" {
		t.Errorf("the first stop in the refusal is %+v", w)
	}
	p.stroke("\r") // the link leads to the field
	if w := p.focus(); w.ID != "f-how" {
		var in bool
		p.eval(`document.getElementById("f-how").contains(document.activeElement)`, &in)
		if !in {
			t.Errorf("the link of the refusal leads to %+v", w)
		}
	}
	p.reach("Read")
	p.stroke(" ")
	p.stroke(kb.ArrowDown) // to "Read aloud", as in any set of choices
	p.onward("Yes, I agree", "Question 1 of 8")
	p.onward("None of these", "Question 2 of 8")
	if w := p.focus(); w.Kind != "input" {
		t.Errorf("the age does not wait in its field: %+v", w)
	}
	p.stroke("46")
	p.onward("Next", "Question 3 of 8")
	for n := 3; n <= 8; n++ {
		p.see(fmt.Sprintf("Question %d of 8", n))
		p.hit("No")
	}
	p.see("When did you last eat")
	p.onward("06:00", "May we keep your name")
	p.onward("Yes, you may", "May we call you")
	p.reach("Name")
	p.stroke("Invented Keyboard")
	p.reach("Phone number")
	p.stroke("555 0299")
	p.reach("Yes, call me")
	p.stroke(" ")
	p.onward("Seal and go on", "Would you tell us a little about yourself?")
	p.onward("Skip all of these", "Ticket "+ticket+": wait for a test seat.")
	if v := f.ticket(ticket); v.Consent.How != "read-aloud" || !v.Call || v.Phase() != visit.AtTest {
		t.Errorf("the keyboard recorded %+v, call %v, %s", v.Consent, v.Call, v.Phase())
	}

	// the test
	p = f.in("Ines Calder", d)
	f.sitByKeys(p)
	p.onward("Take ticket "+ticket, "Hands first")
	p.onward("Washed with soap, dried", "What the meter shows")
	p.stroke("103")
	p.onward("Next: read it back", "Look at the meter again")
	p.stroke("103")
	p.onward("Record", "Recorded: 103 mg/dL.")
	p.onward("Lancet in sharps, meter wiped", "lancet in sharps, meter wiped.")

	// Explain
	p = f.in("Rosa Amaya", d)
	p.visit(f.at("/explain"))
	p.onward("Take ticket "+ticket, "The result")
	p.reach("Stops here") // a way out opens and closes by the keyboard
	p.stroke(" ")
	p.see("Put back in the line")
	p.stroke(" ")
	p.onward("Explained: ask it back", "what will you do next?")
	p.onward("Said it in their own words", "Explained.")
	if p.has("Where to?") {
		p.reach("Tamsin Green")
		p.stroke(" ")
		p.reach("Yes, I will")
		p.stroke(" ")
		p.onward("Write it down", "The referral is written down.")
	}
	p.onward("Slip handed over", "The slip was handed over.")
	p.onward("Finish ticket "+ticket, "Ticket "+ticket+" is finished.")
	if v := f.ticket(ticket); v.Phase() != visit.Done || v.Finding().Reading.Shown() != "103" {
		t.Errorf("on record: %s, %s", v.Phase(), v.Finding().Reading)
	}
	f.wait(10 * time.Minute) // the meter dries
	p = f.in("Maren Solbakk", d)

	// no page holds the keyboard, and the way back is the way there
	for _, path := range []string{"/desk", "/explain", "/board", "/report", "/close"} {
		p.visit(f.at(path))
		names := p.rounds()
		if len(names) < 3 || names[0] != "Skip to the page" {
			t.Errorf("%s: the order is %q", path, names)
			continue
		}
		p.visit(f.at(path))
		first, second := p.tab(), p.tab()
		if w := p.back(); w.At != first.At || second.At == first.At {
			t.Errorf("%s: Shift and Tab lead from %q to %q, not to %q", path, second.Name, w.Name, first.Name)
		}
	}
}

// sitByKeys puts the device to test seat 1 with the keyboard.
func (f *fair) sitByKeys(p *page) {
	f.t.Helper()
	p.visit(f.url + "/station")
	p.onward("Test", "Test: which seat?")
	p.reach("Number or name of the seat")
	p.eval(`document.activeElement.select(), 1`, nil)
	p.stroke("1")
	p.reach("Meter")
	p.stroke(" ")
	f.choose(p, "Meter M1")
	p.onward("Next: strips and wipes", "What lies on the table?")
	p.reach("Lot")
	p.stroke(" ")
	f.choose(p, "Lot INV-41, vial 41-a")
	p.onward("This is the table", "This device is Test 1 now.")
}

// choose moves in a set of choices with the arrow keys until the one that begins with the words is taken.
func (f *fair) choose(p *page, words string) {
	f.t.Helper()
	for range 20 {
		if w := p.focus(); strings.HasPrefix(w.Name, words) {
			return
		}
		p.stroke(kb.ArrowDown)
	}
	f.t.Fatalf("the arrow keys do not come to %q", words)
}

// What arrives on the live stream leaves the focus where it is.
func TestLiveKeepsTheFocus(t *testing.T) {
	f := market(t)
	p, desk := f.in("Maren Solbakk", laptop), f.comes("Hollis Bray", phone)
	for _, path := range []string{"/desk", "/board"} {
		p.visit(f.at(path))
		p.reach("028") // a ticket in a part that the stream replaces
		before := p.focus()
		ticket := f.arrives(desk)
		p.see(ticket)
		if after := p.focus(); after.Name != before.Name || after.Kind != before.Kind {
			t.Errorf("%s: the focus went from %q to %q (%s) when ticket %s arrived", path, before.Name, after.Name, after.Kind, ticket)
		}
	}
}

// arrives hands out a ticket at the desk and gives its number.
func (f *fair) arrives(desk *page) string {
	f.t.Helper()
	desk.visit(f.at("/desk"))
	desk.click("English")
	desk.see("Consent")
	return f.ticketOn(desk)
}
