package e2e

import (
	"fmt"
	"io"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"

	"fairstick/internal/programme"
	"fairstick/internal/retention"
	"fairstick/internal/stock"
)

// signs fills a signature of a form: the person in the list, whatever stands behind the name, and the PIN.
func (f *fair) signs(p *page, form, field, name string) {
	f.t.Helper()
	list := "css:#form-" + form + " [name=" + field + "_person]"
	var words string
	p.eval(`[...document.querySelector(`+quote(strings.TrimPrefix(list, "css:"))+`).options].map(o => o.text).find(t => t.startsWith(`+quote(name)+`))`, &words)
	p.fill(list, words)
	p.fill("css:#form-"+form+" [name="+field+"_pin]", f.pins[name])
}

// Strips of a lot are recalled. The lead asks whom they touched, keeps it, sees the names once, makes letters and closes it; the record
// has each step, and no name stands in an address.
func TestLookBackIsKept(t *testing.T) {
	t.Parallel()
	f := market(t)
	p := f.comes("Maren Solbakk", laptop)
	p.visit(f.url + "/look-back")
	p.fill("Strip lot", "INV-41")
	p.click("Find whom it touched")
	lots := f.day().StripLots
	lot := lots[slices.IndexFunc(lots, func(l *stock.StripLot) bool { return l.Details.Lot == "INV-41" })].ID
	want, err := f.prog.LookBack(t.Context(), programme.AskBack{StripLot: lot})
	fatal(t, err)
	p.see(fmt.Sprintf("It touched %d people at 1 event", want.People))
	p.fullShot("answer")
	p.fill("Why", "the maker recalls the lot")
	p.click("Keep this look-back")
	p.see("It is open: nothing that it is about is erased.")
	p.seeNot("Cora Invented")
	id := p.url()[strings.LastIndex(p.url(), "/")+1:]
	p.click(fmt.Sprintf("Show names and numbers (%d)", want.MayCall))
	p.see("Do not leave this page open.")
	p.see("Cora Invented")
	p.see("555 0212")
	p.fullShot("names")
	if strings.Contains(p.url(), "Cora") || strings.Contains(p.url(), "0212") {
		t.Errorf("a person stands in the address %s", p.url())
	}
	p.visit(f.url + "/look-back/kept/" + id)
	p.seeNot("Cora Invented") // the names are in the answer to the form alone
	p.click("css:details:has(#form-letters) > summary")
	p.see("Which letter?")
	p.fullShot("letters")
	p.click(fmt.Sprintf("Make %d letters", want.MayCall))
	kept := func() programme.KeptLookBack {
		k, err := f.prog.KeptLookBack(t.Context(), id)
		fatal(t, err)
		return k
	}
	if !p.until(func() bool { return len(kept().Seen) == 2 }) {
		t.Fatalf("the names and the letters are not both on record: %+v", kept().Seen)
	}
	if k := kept(); k.Seen[0].Letter != "" || k.Seen[0].People != want.MayCall || k.Seen[1].Letter != programme.LetterReading || k.Seen[1].People != want.MayCall {
		t.Errorf("on record: %+v", k.Seen)
	}
	p.visit(f.url + "/look-back/kept/" + id)
	p.click("Close it")
	p.fill("What came of it", "all were told by letter and tested again")
	f.signs(p, "close", "sign", "Tobias Wren")
	p.click("Close this look-back")
	p.see("all were told by letter and tested again")
	p.see("signed by Tobias Wren")
	p.fullShot("closed")
}

// Each count of the season report leads to the visits behind it, and their page names the same number.
func TestEveryCountIsALink(t *testing.T) {
	t.Parallel()
	f := market(t)
	p := f.comes("Maren Solbakk", phone)
	p.visit(f.url + "/reports")
	p.click("Season")
	p.see("How far did people come?")
	p.click("On this page")
	p.click("What became of the referrals?")
	p.at("#after")
	p.fullShot("season")
	var links []struct{ Href, Text string }
	p.eval(`[...document.querySelectorAll("td a[href^='/reports/rows']")].map(a => ({Href: a.getAttribute("href"), Text: a.innerText.trim()}))`, &links)
	if len(links) < 60 {
		t.Fatalf("only %d counts are links", len(links))
	}
	lead, seen := f.visitor("Maren Solbakk"), map[string]bool{}
	for _, l := range links {
		if seen[l.Href] {
			continue
		}
		seen[l.Href] = true
		req, err := http.NewRequestWithContext(t.Context(), http.MethodGet, f.url+l.Href, nil)
		fatal(t, err)
		resp, err := lead.Do(req)
		fatal(t, err)
		body, err := io.ReadAll(resp.Body)
		fatal(t, err)
		fatal(t, resp.Body.Close())
		visits := l.Text + " visits."
		if l.Text == "1" {
			visits = "1 visit."
		}
		if !strings.Contains(string(body), visits) {
			t.Errorf("the count %s leads to %s, which does not say %q", l.Text, l.Href, visits)
		}
	}
	p.click("css:#funnel tr:last-child td:nth-child(2) a")
	p.see("The visits that are counted")
	p.fullShot("rows")
	if u, err := url.Parse(p.url()); err != nil || u.Query().Get("figure") != "referred" {
		t.Errorf("at %s %v", p.url(), err)
	}
}

// What leaves is counted before it leaves; names leave under a signature alone, and that is on record.
func TestNamesLeaveUnderASignature(t *testing.T) {
	t.Parallel()
	f := market(t)
	out := func() int {
		ch, err := f.prog.Charter(t.Context())
		fatal(t, err)
		return len(ch.HandedOut)
	}
	p := f.comes("Maren Solbakk", laptop)
	p.visit(f.url + "/export")
	p.see("No file with names has been written.")
	p.fill("One event", f.day().Event.Plan.Date.Long()+", "+f.day().Event.Plan.Name)
	p.click("Show what would leave")
	going, err := f.prog.CountHandOut(t.Context(), f.lead(), programme.HandOut{Reach: programme.Reach{Event: f.event}})
	fatal(t, err)
	p.see(fmt.Sprintf("%d of %d visits allowed that their name is kept; %d of those may be called.", going.Contacts, going.Visits, going.Calls))
	p.see("1 event is not closed: this may still change.")
	p.fullShot("going")
	p.fill("To whom, and why?", "Invented Clinic, referrals of the day")
	p.fill("Lead who signs", "Maren Solbakk")
	p.fill("PIN of the person who signs", "0000")
	p.click("Sign and write the file")
	p.see("Wrong PIN.")
	if n := out(); n != 0 {
		t.Errorf("%d files with names left under a wrong PIN", n)
	}
	p.fill("To whom, and why?", "Invented Clinic, referrals of the day")
	f.signs(p, "named", "sign", "Maren Solbakk")
	p.click("Sign and write the file")
	if !p.until(func() bool { return out() == 1 }) {
		t.Fatal("no entry says that names have left")
	}
	p.visit(f.url + "/export")
	p.see("Invented Clinic, referrals of the day")
	p.see("Maren Solbakk")
	p.fullShot("past")
}

// The memory of a meter, whose clock is seven minutes slow, is pasted in: one number differs from the log, the page names the ticket
// and where to mend it, and nothing is recorded before it was seen.
func TestMeterMemoryIsHeldAgainstTheLog(t *testing.T) {
	t.Parallel()
	f := market(t)
	d := f.day()
	m := d.BroughtMeters()[0]
	csv, at := "Time,Value\n", ""
	for _, v := range d.Visits {
		for _, r := range v.Readings {
			if r.Meter != m.ID {
				continue
			}
			shown := r.Reading.Shown()
			if at == "" && len(shown) == 3 {
				shown, at = string(shown[0])+string(shown[2])+string(shown[1]), ticketNumber(v.Ticket)
			}
			csv += r.At.In(d.Event.Zone()).Add(-7*time.Minute).Format("2006-01-02 15:04:05") + "," + shown + "\n"
		}
	}
	p := f.comes("Maren Solbakk", laptop)
	p.visit(f.at("/close/meter/" + m.ID))
	p.eval(`document.querySelector("textarea[name=text]").value = `+quote(csv)+`, 1`, nil)
	p.click("Look at it")
	p.see("What differs")
	p.see("The value differs")
	p.see("Correct ticket " + at)
	p.see("7 minutes")
	p.fullShot("memory")
	if _, ok := f.day().Download(m.ID); ok {
		t.Error("the memory is recorded before it was seen")
	}
	p.click("Keep")
	p.see("is in the record. What differs stands under Sums.")
	x, ok := f.day().Download(m.ID)
	if !ok || len(x.Differences) == 0 {
		t.Errorf("on record: %v %+v", ok, x)
	}
	p.visit(f.at("/close/meter/" + m.ID))
	p.see("In the record.")
	p.fullShot("kept")
}

// Thirteen months later the lead adopts times, sees who can go and who must stay, and erases under two signatures; the page of the proof
// looks for each key again.
func TestContactsAreErasedAfterTheirTime(t *testing.T) {
	t.Parallel()
	f := market(t)
	f.clock.Set(f.clock.Now().AddDate(1, 1, 0))
	p := f.comes("Maren Solbakk", laptop)
	p.visit(f.url + "/retention")
	p.see("These times are proposals.")
	p.fullShot("proposals")
	p.click("Adopt times")
	sign := func(form, submit string) {
		f.signs(p, form, "first", "Maren Solbakk")
		f.signs(p, form, "second", "Tobias Wren")
		p.click(submit)
	}
	p.fullShot("rules")
	sign("rules", "Adopt these times")
	p.see("The times are adopted.")
	r, err := f.prog.Retention(t.Context(), f.lead())
	fatal(t, err)
	if len(r.Over) == 0 || r.Erase == 0 {
		t.Fatalf("nothing is over its time: %+v", r)
	}
	p.see(fmt.Sprintf("%d contacts can go", r.Erase))
	p.click("Erase what can go")
	if r.Waiting > 0 {
		p.click("Nobody needs to call")
	}
	p.fullShot("erase")
	sign("erase", fmt.Sprintf("Erase %d contacts for good", r.Erase))
	p.see("The keys are gone on this laptop.")
	p.see(fmt.Sprintf("0 of %d left", r.Erase))
	p.fullShot("proof")
	after, err := f.prog.Retention(t.Context(), f.lead())
	fatal(t, err)
	if after.Erase != 0 || len(after.Erasures) != 1 || after.Erasures[0].Visits != r.Erase || after.Rules.Adopted == nil {
		t.Errorf("afterwards: %+v", after)
	}
	if class := after.Rules.Rule(retention.Contacts); class.Months != 12 {
		t.Errorf("contacts are kept %d months, want 12", class.Months)
	}
}
