package e2e

import (
	"net"
	"strings"
	"sync"
	"sync/atomic"
	"testing"

	"fairstick/internal/programme"
	"fairstick/internal/store"
)

// wire lies between the browser and the program. It can be cut, and it can swallow the answers to forms.
type wire struct {
	url     string
	to      string
	cut     atomic.Bool
	swallow atomic.Bool
	mu      sync.Mutex
	open    map[net.Conn]bool
	lost    atomic.Int64 // answers that were swallowed
}

// wired puts a wire before the fair: the browser goes through it from now on.
func (f *fair) wired() *wire {
	f.t.Helper()
	w := &wire{to: strings.TrimPrefix(f.url, "http://"), open: map[net.Conn]bool{}}
	var lc net.ListenConfig
	ln, err := lc.Listen(f.t.Context(), "tcp", "127.0.0.1:0")
	fatal(f.t, err)
	w.url = "http://" + ln.Addr().String()
	go func() {
		for {
			c, err := ln.Accept()
			if err != nil {
				return
			}
			go w.carry(c)
		}
	}()
	f.t.Cleanup(func() {
		_ = ln.Close()
		w.hang()
	})
	f.url = w.url
	return w
}

func (w *wire) carry(in net.Conn) {
	defer func() { _ = in.Close() }()
	if w.cut.Load() {
		return
	}
	out, err := net.Dial("tcp", w.to)
	if err != nil {
		return
	}
	defer func() { _ = out.Close() }()
	w.mu.Lock()
	w.open[in], w.open[out] = true, true
	w.mu.Unlock()
	var posted atomic.Bool
	go func() {
		buf := make([]byte, 64<<10)
		for {
			n, err := in.Read(buf)
			if n > 0 {
				if strings.HasPrefix(string(buf[:n]), "POST ") {
					posted.Store(true)
				}
				if _, err := out.Write(buf[:n]); err != nil {
					break
				}
			}
			if err != nil {
				break
			}
		}
		_ = out.Close()
	}()
	buf := make([]byte, 64<<10)
	for {
		n, err := out.Read(buf)
		if n > 0 {
			if posted.Load() && w.swallow.Load() {
				w.lost.Add(1)
				return // the program has answered; nobody hears it
			}
			posted.Store(false)
			if _, err := in.Write(buf[:n]); err != nil {
				return
			}
		}
		if err != nil {
			return
		}
	}
}

// hang ends every connection.
func (w *wire) hang() {
	w.mu.Lock()
	defer w.mu.Unlock()
	for c := range w.open {
		_ = c.Close()
	}
	w.open = map[net.Conn]bool{}
}

// down takes the network away, and up gives it back.
func (w *wire) down() { w.cut.Store(true); w.hang() }
func (w *wire) up()   { w.cut.Store(false) }

// facts counts the facts of a kind on record.
func (f *fair) facts(kind string) (n int) {
	f.t.Helper()
	err := f.prog.Store().Read(f.t.Context(), func(v *store.View) error {
		all, err := v.RecordsSince("", 100000)
		for _, r := range all {
			if r.Body.FactKind() == kind {
				n++
			}
		}
		return err
	})
	fatal(f.t, err)
	return n
}

const (
	unheard = "Not recorded yet: the laptop does not answer."
	owed    = "Press the button again: it is recorded once, not twice."
)

// seatOf is the address at which the test seat has a ticket, after the hands.
func (f *fair) seatOf(ticket string) string {
	return f.at("/test/" + f.ticket(ticket).ID + "?hands=washed")
}

// A phone loses the network in the middle of a reading: what was typed stays, the page says that nothing is recorded, and
// goes on by itself; a browser that was ended finds what was typed; a lost answer and a double press record once.
func TestBrokenNetwork(t *testing.T) {
	f := market(t)
	desk, test := f.comes("Hollis Bray", phone), f.comes("Ines Calder", phone)
	f.sit(test, "1", "M1", "Lot INV-41, vial 41-a")
	straight := f.url
	ticket := f.desk(desk, guest{ate: "09:00"})
	w := f.wired()
	for _, p := range []*page{desk, test} { // cookies do not ask for the port
		p.visit(f.url)
		p.see("What next?")
	}

	readings := f.facts("visit.reading-taken")
	test.visit(f.at("/test"))
	test.click("Take ticket " + ticket)
	test.click("Washed with soap, dried")
	test.see("What the meter shows")
	test.enter("104")
	test.loses(w)
	test.press("Next: read it back", "click")
	test.see(unheard)
	var plain bool // nothing lies over the sentence
	test.eval(`(() => { const b = document.querySelector(".form-state p").getBoundingClientRect(); return document.elementFromPoint(b.x + b.width / 2, b.y + b.height / 2)?.closest(".form-state") !== null })()`, &plain)
	if !plain {
		t.Error("the sentence cannot be read where the page stands")
	}
	test.shot("unheard")
	if got := test.value("What the meter shows"); got != "104" {
		t.Errorf("without a network the field holds %q, want 104", got)
	}
	w.up()
	test.see("Look at the meter again and type it")
	test.settle() // its script has run
	test.settle()

	// The browser is ended and opened again: the tab's own memory is gone.
	test.visit(f.seatOf(ticket))
	test.enter("10")
	test.eval(`sessionStorage.clear(), 1`, nil)
	test.visit(f.seatOf(ticket))
	test.see("is back. It is not recorded yet.")
	if got := test.value("What the meter shows"); got != "10" {
		t.Errorf("after the browser was ended the field holds %q, want 10", got)
	}
	test.shot("draft")
	test.enter("4")
	test.click("Next: read it back")
	test.see("Look at the meter again and type it")
	test.enter("104")
	test.loses(w)
	test.press("Record", "click")
	test.see(unheard)
	if n := f.facts("visit.reading-taken"); n != readings {
		t.Errorf("%d readings are on record before the network is back, want %d", n, readings)
	}
	w.up()
	test.see("Recorded: 104 mg/dL.")
	if n := f.facts("visit.reading-taken"); n != readings+1 {
		t.Errorf("%d readings are on record, want one more than %d", n, readings)
	}

	// The request arrives and its answer is lost.
	arrived := f.facts("visit.arrived")
	desk.visit(f.at("/desk"))
	w.swallow.Store(true)
	desk.press("English", "click")
	if !desk.until(func() bool { return w.lost.Load() > 0 && f.facts("visit.arrived") == arrived+1 }) {
		t.Fatal("no answer was lost")
	}
	desk.until(func() bool { return strings.HasPrefix(desk.url(), "chrome-error:") }) // it tries again by itself before it says so
	w.swallow.Store(false)
	desk.visit(f.at("/desk"))
	desk.see(owed)
	desk.shot("owed")
	desk.click("English")
	desk.see("Consent")
	desk.settle()
	if n := f.facts("visit.arrived"); n != arrived+1 {
		t.Errorf("%d arrivals are on record, want one more than %d", n, arrived)
	}
	first := f.ticketOn(desk)

	// The next person gets a ticket of their own, also by the button back.
	desk.goBack(f.at("/desk"))
	desk.seeNot(owed)
	desk.eval(`[...document.querySelectorAll("button")].filter(b => b.innerText.includes("English")).forEach(b => { b.click(); b.click() }), 1`, nil)
	if !desk.until(func() bool { return strings.HasPrefix(desk.url(), f.at("/desk/")) }) {
		t.Fatalf("a double press leads to %s", desk.url())
	}
	desk.settle()
	desk.see("Consent")
	if second := f.ticketOn(desk); second == first {
		t.Errorf("two people hold ticket %s", first)
	}
	if n := f.facts("visit.arrived"); n != arrived+2 {
		t.Errorf("a double press: %d arrivals are on record, want two more than %d", n, arrived)
	}

	// Somebody hands the phone over: nothing of theirs stays on it.
	f.url = straight
	test.visit(w.url + "/hand-over")
	test.see("Who are you?")
	var left int
	test.eval(`Object.keys(localStorage).filter(k => k.startsWith("draft:")).length`, &left)
	if left != 0 {
		t.Errorf("%d drafts stay on the phone after the hand-over", left)
	}
}

// loses takes the network away and waits until a page that follows the day has said so: its line moves the buttons.
func (p *page) loses(w *wire) {
	p.t.Helper()
	w.down()
	var live bool
	p.eval(`!!document.body.dataset.live`, &live)
	if live {
		p.see("Old since")
	}
}

// goBack is the button back of the browser.
func (p *page) goBack(to string) {
	p.t.Helper()
	p.eval(`setTimeout(() => history.back(), 20), 1`, nil)
	if !p.until(func() bool { return p.url() == to }) {
		p.t.Fatalf("%s: back does not lead to %s but to %s", p.name, to, p.url())
	}
	p.settle()
}

// Two seats take one ticket, a page is older than the record, and a number is sent twice: one wins, and the other is told.
func TestTwoAtOnce(t *testing.T) {
	f := market(t)
	desk, one, two := f.comes("Hollis Bray", phone), f.comes("Ines Calder", phone), f.comes("Ines Calder", laptop)
	f.sit(one, "1", "M1", "Lot INV-41, vial 41-a")
	f.sit(two, "9", "M1", "Lot INV-41, vial 41-a")
	ticket := f.desk(desk, guest{ate: "09:00"})
	called := f.facts("visit.called")
	take := "Take ticket " + ticket
	one.visit(f.at("/test"))
	two.visit(f.at("/test"))
	two.eval(`document.querySelectorAll("[data-live]").forEach(e => delete e.dataset.live), 1`, nil)
	one.find(take, "click")
	two.find(take, "click")
	one.press(take, "click")
	two.press(take, "click")
	one.settle()
	two.settle()
	if n := f.facts("visit.called"); n != called+1 {
		t.Errorf("%d calls are on record, want one more than %d", n, called)
	}
	holder := f.ticket(ticket).Taken
	if holder == nil {
		t.Fatal("nobody has the ticket")
	}
	winner, loser := one, two
	if holder.Station == "9" {
		winner, loser = two, one
	}
	loser.visit(f.at("/test/" + f.ticket(ticket).ID))
	loser.see("is at station " + holder.Station)
	loser.shot("elsewhere")

	// A page that is older than the record: the participant left while the number was typed.
	winner.visit(f.seatOf(ticket))
	winner.enter("104")
	_, err := f.prog.LeaveVisit(t.Context(), programme.Actor{}, programme.LeaveVisit{Visit: f.ticket(ticket).ID, Reason: "went home"})
	fatal(t, err)
	winner.click("Next: read it back")
	winner.shot("stale")
	readings := f.facts("visit.reading-taken")
	if winner.has("Record") && !winner.has("has ended") {
		winner.enter("104")
		winner.click("Record")
	}
	winner.see("Ticket " + ticket + " has ended.")
	if n := f.facts("visit.reading-taken"); n != readings {
		t.Errorf("a reading of a visit that had ended was recorded")
	}
}
