package e2e

import (
	"context"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"fairstick/internal/demo"
	"fairstick/internal/event"
	"fairstick/internal/people"
	"fairstick/internal/programme"
	"fairstick/internal/store"
	"fairstick/internal/visit"
	"fairstick/internal/web"
)

// fair is a programme served from this process, by a clock that stands until the test moves it, with a browser before it.
type fair struct {
	t     *testing.T
	b     *browser
	url   string
	event string
	clock *demo.Clock
	prog  *programme.Programme
	pins  map[string]string
	scene string // address of the practice day that somebody is in
}

var quiet = slog.New(slog.DiscardHandler)

// newFair serves an empty folder at a moment.
func newFair(t *testing.T, at time.Time) *fair {
	t.Helper()
	f := &fair{t: t, clock: demo.NewClock(at), pins: map[string]string{}}
	st, err := store.Create(t.Context(), store.Options{Dir: filepath.Join(t.TempDir(), "data"), Catalogue: programme.Catalogue(), Now: f.clock.Now, Log: quiet})
	fatal(t, err)
	f.prog = programme.New(st, f.clock.Now, quiet)
	pages := web.New(web.Options{Programme: f.prog, Log: quiet, Sandbox: practiceIn(t.TempDir())})
	var lc net.ListenConfig
	ln, err := lc.Listen(t.Context(), "tcp", "127.0.0.1:0")
	fatal(t, err)
	srv := &http.Server{Handler: pages, ReadHeaderTimeout: 5 * time.Second}
	go func() { _ = srv.Serve(ln) }()
	f.url = "http://" + ln.Addr().String()
	t.Cleanup(func() {
		pages.Close()
		_ = srv.Close()
		rep, err := st.Check(context.Background())
		if err != nil || !rep.OK() {
			t.Errorf("the record after the journey: %v %v", rep.Problems, err)
		}
		fatal(t, st.Close())
	})
	return f
}

// market serves the invented day in mid-morning, ten minutes after it is entered, so that every wiped meter is dry.
func market(t *testing.T) *fair {
	t.Helper()
	f := newFair(t, demo.Begins())
	hints, err := demo.Make(t.Context(), f.prog, f.clock)
	fatal(t, err)
	for _, h := range hints {
		f.pins[h.Name] = h.PIN
	}
	events, err := programme.List[*event.State](t.Context(), f.prog, event.Kind)
	fatal(t, err)
	for _, e := range events {
		if e.Phase == event.IsOpen {
			f.event = e.ID
		}
	}
	f.wait(10 * time.Minute)
	fatal(t, f.prog.SetIdle(t.Context(), f.lead(), programme.IdleMost)) // the clock jumps here
	f.b = startBrowser(t)
	return f
}

// lead is the first lead on the list.
func (f *fair) lead() programme.Actor {
	f.t.Helper()
	all := f.day().People
	return programme.Actor{Person: all[slices.IndexFunc(all, func(p *people.State) bool { return p.Has(people.Lead) })].ID}
}

// wait lets time pass.
func (f *fair) wait(d time.Duration) { f.clock.Set(f.clock.Now().Add(d)) }

// day reads the record of the event.
func (f *fair) day() *programme.Day {
	f.t.Helper()
	d, err := f.prog.Day(f.t.Context(), f.event)
	fatal(f.t, err)
	return d
}

// ticket finds a visit in the record by its number.
func (f *fair) ticket(number string) *visit.State {
	f.t.Helper()
	for _, v := range f.day().Visits {
		if ticketNumber(v.Ticket) == number {
			return v
		}
	}
	f.t.Fatalf("no ticket %s is on record", number)
	return nil
}

func ticketNumber(n int) string { return fmt.Sprintf("%03d", n) }

// at is an address of the event.
func (f *fair) at(path string) string { return f.url + "/events/" + f.event + path }

// comes signs somebody in on a device of their own.
func (f *fair) comes(name string, d device) *page {
	f.t.Helper()
	p := f.b.device(strings.Fields(name)[0], d)
	p.visit(f.url)
	p.see("Who are you?")
	p.click(name)
	p.enter(f.pins[name])
	p.click("Sign in")
	p.see("What next?")
	return p
}

// enter presses the keys of the pad on the page on a phone, and those of the keyboard on a laptop.
func (p *page) enter(keys string) {
	p.t.Helper()
	if !p.dev.touch {
		p.keys(strings.Split(keys, "")...)
		return
	}
	for _, k := range strings.Split(keys, "") {
		p.press(`css:[data-key="`+k+`"]`, "click")
	}
}

// sit puts a device to a test seat.
func (f *fair) sit(p *page, seat, meter, vial string) {
	f.t.Helper()
	p.visit(f.url + "/station")
	p.click("Test")
	p.see("Test: which seat?")
	p.fill("Number or name of the seat", seat)
	p.click("Meter " + meter)
	p.click("Next: strips and wipes")
	p.see("What lies on the table?")
	p.click(vial)
	p.click("This is the table")
	p.see("This device is Test " + seat + " now.")
}

// guest is what somebody says at the desk.
type guest struct {
	spanish bool
	ate     string // a full hour of today as the page offers it
	call    string // a name, when a call is allowed
}

// desk leads somebody through the desk and gives the ticket.
func (f *fair) desk(p *page, g guest) string {
	f.t.Helper()
	say := func(english, spanish string) string {
		if g.spanish {
			return spanish
		}
		return english
	}
	p.visit(f.at("/desk"))
	p.click(say("English", "css:#next-ticket [value=es]"))
	p.see("Consent")
	ticket := f.ticketOn(p)
	p.click("Read")
	p.click(say("Yes, I agree", "Sí, estoy de acuerdo"))
	p.see("Question 1 of 8")
	p.click("None of these")
	p.see("Question 2 of 8")
	p.enter("46")
	p.click("Next")
	for _, n := range []string{"3", "4", "5", "6", "7", "8"} {
		p.see("Question " + n + " of 8")
		p.click("No")
	}
	p.see(say("When did you last eat", "¿Cuándo comió"))
	p.click(g.ate)
	p.see(say("May we keep your name", "¿Podemos guardar su nombre"))
	if g.call == "" {
		p.click(say("No, please do not", "No, por favor"))
	} else {
		p.click(say("Yes, you may", "Sí, pueden"))
		p.fill(say("Name", "Nombre"), g.call)
		p.fill(say("Phone number", "Número de teléfono"), "555 0299")
		p.click(say("Yes, call me", "Sí, llámenme"))
		p.click("Seal and go on")
	}
	if f.day().AsksAbout() {
		p.see(say("Would you tell us a little about yourself?", "¿Quiere contarnos algo sobre usted?"))
		p.shot("about")
		p.click(say("Skip all of these", "Saltar todas"))
	}
	p.see("Ticket " + ticket + ": wait for a test seat.")
	return ticket
}

// ticketOn is the number on the stub of the page.
func (f *fair) ticketOn(p *page) (number string) {
	f.t.Helper()
	p.eval(`document.querySelector(".ticket-number").textContent`, &number)
	return number
}

// read takes a reading of the ticket on the page, and gives the presses from the ticket to the record.
func (f *fair) read(p *page, shown string) (presses int) {
	f.t.Helper()
	press := func(what string) { presses++; p.click(what) }
	enter := func() { presses += len(shown); p.enter(shown) }
	press("Washed with soap, dried")
	p.see("What the meter shows")
	enter()
	if got := p.value("What the meter shows"); got != shown {
		f.t.Fatalf("%s: the keys gave %q, want %q", p.name, got, shown)
	}
	press("Next: read it back")
	p.see("Look at the meter again and type it")
	enter()
	press("Record")
	p.see("Recorded: " + shown + " mg/dL.")
	return presses
}

// column gives what can be read in a column of the board.
func (p *page) column(heading string) (text string) {
	p.t.Helper()
	p.eval(`[...document.querySelectorAll(".column")].filter(c => c.querySelector("h2").innerText.toLowerCase().startsWith(`+quote(strings.ToLower(heading))+`)).map(c => c.innerText).join("\n")`, &text)
	return text
}

// seeIn waits until a ticket stands in a column of the board.
func (p *page) seeIn(heading, ticket string) {
	p.t.Helper()
	if !p.until(func() bool { return strings.Contains(p.column(heading), ticket) }) {
		p.t.Fatalf("%s: ticket %s did not come to %s, which reads:\n%s", p.name, ticket, heading, p.column(heading))
	}
}
