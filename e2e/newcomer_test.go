package e2e

import (
	"testing"
	"time"

	"fairstick/internal/event"
	"fairstick/internal/programme"
	"fairstick/internal/visit"
)

// A lead with an empty folder sets the programme up on a laptop, opens a day through its gates, and the first participant
// goes through the stations to the end.
func TestNewcomer(t *testing.T) {
	t.Parallel()
	zone, err := time.LoadLocation("America/New_York")
	fatal(t, err)
	f := newFair(t, time.Date(2026, 3, 14, 7, 30, 0, 0, zone))
	f.pins = map[string]string{"Nora Newcome": "4821", "Sam Overseer": "6174", "Ann Screener": "9407", "Cleo Counsellor": "7174"}
	_, err = f.prog.Found(t.Context(), programme.Founding{Programme: "Invented First Programme", Lead: "Nora Newcome", PIN: f.pins["Nora Newcome"]})
	fatal(t, err)
	f.b = startBrowser(t)
	lead := f.comes("Nora Newcome", laptop)
	lead.see("No screening day is planned.")
	lead.click("Go to set-up")
	lead.see("still missing before an event can open.")
	lead.shot("setup-begin")

	f.setUp(lead)
	lead.visit(f.url + "/setup")
	lead.shot("setup-done")
	f.plan(lead)
	f.openDay(lead)

	desk := f.comes("Nora Newcome", phone)
	test, explain := f.comes("Ann Screener", phone), f.comes("Cleo Counsellor", phone)
	ticket := f.desk(desk, guest{ate: "06:00"})
	f.sit(test, "1", "N1", "Lot L-9, vial v1")
	test.click("Take ticket " + ticket)
	f.read(test, "103")
	test.click("Lancet in sharps, meter wiped")
	explain.visit(f.at("/explain"))
	explain.click("Take ticket " + ticket)
	explain.click("Explained: ask it back")
	explain.click("Said it in their own words")
	explain.click("Slip handed over")
	explain.click("Finish ticket " + ticket)
	explain.see("Ticket " + ticket + " is finished.")
	lead.visit(f.at("/report"))
	lead.see("1 of 1 people who arrived were tested")
	if v := f.ticket(ticket); v.Phase() != visit.Done || v.Finding().Reading.Shown() != "103" {
		t.Errorf("on record: %s, %s", v.Phase(), v.Finding().Reading)
	}
}

// setUp fills in the pages of the set-up in the order in which the hub lists what is missing.
func (f *fair) setUp(lead *page) {
	f.t.Helper()
	lead.visit(f.url + "/setup/programme")
	lead.fill("Number of the certificate of waiver", "INVENTED-4")
	lead.fill("Last day of the certificate", "2026-12-31")
	lead.fill("Telephone that participants may call", "555 0100")
	lead.fill("When somebody answers it", "weekdays 9 to 17")
	lead.fill("Number of the emergency services", "911")
	lead.fill("Place that gives care after an exposure", "Invented Occupational Health")
	lead.fill("Its telephone", "555 0190")
	lead.click("mg/dL")
	lead.click("I read what the meters are labelled for")
	lead.click("Save the programme")
	lead.see("The programme is saved.")

	for _, x := range []struct{ name, role, verified string }{{"Sam Overseer", "Supervisor", ""}, {"Ann Screener", "Screener", "screener"}, {"Cleo Counsellor", "Counsellor", "counsellor"}} {
		lead.visit(f.url + "/people/new")
		lead.fill("Name", x.name)
		lead.click(x.role)
		lead.fill("PIN", f.pins[x.name])
		lead.click("Add this person")
		lead.see(x.name + " is on the list.")
		if x.verified == "" {
			continue
		}
		lead.click("Record a verification")
		lead.click(x.verified)
		lead.fill("What was seen", "Three observed fingersticks")
		lead.click("css:#form-verify .main-button")
		lead.see("The verification is recorded.")
	}

	lead.visit(f.url + "/setup/protocol")
	lead.see("Draft, not signed")
	lead.fill("First signature: a lead", "Nora Newcome")
	lead.fill("css:#form-sign [name=first_pin]", f.pins["Nora Newcome"])
	lead.fill("Second signature: another person", "Sam Overseer")
	lead.fill("css:#form-sign [name=second_pin]", f.pins["Sam Overseer"])
	lead.click("css:#form-sign .main-button")
	lead.see("is in force.")

	lead.visit(f.url + "/disinfectants/new")
	lead.fill("Name", "Invented wipes")
	lead.fill("Contact time", "60")
	lead.click("Add this disinfectant")
	lead.see("Invented wipes is on the list.")

	lead.visit(f.url + "/meters/new")
	lead.fill("Label", "N1")
	lead.fill("Serial number", "INV-N-1")
	lead.fill("Type", "Type N")
	lead.click("mg/dL")
	lead.click("Button")
	lead.fill("Lowest temperature", "10")
	lead.fill("Highest temperature", "40")
	lead.click("Add this meter")
	lead.see("Meter N1 is on the list. Read its instructions and sign the review.")
	lead.fill("Which instructions did you read?", "Invented insert, 2025")
	lead.click("Yes")
	lead.fill("How do they say to clean and disinfect it?", "Wipe, keep wet for the time on the wipes.")
	lead.click("Invented wipes")
	lead.fill("Who read them: a lead or supervisor", "Sam Overseer")
	lead.fill("PIN of the person who signs", f.pins["Sam Overseer"])
	lead.click("Sign the review")
	lead.see("The review is signed.")

	lead.visit(f.url + "/strips/new")
	lead.fill("Lot number", "L-9")
	lead.fill("Types of meter that the strips fit", "Type N")
	lead.fill("Code on the vial", "12")
	lead.fill("Expiry", "2027-03")
	lead.click("GDH-FAD")
	lead.fill("Strips in a vial", "50")
	lead.fill("Use after opening", "180")
	lead.click("No")
	lead.click("mg/dL")
	for field, v := range map[string]string{"Level 1, from": "96", "Level 1, to": "144", "Level 2, from": "252", "Level 2, to": "340"} {
		lead.fill(field, v)
	}
	lead.click("Add this lot")
	lead.see("Lot L-9 is on the list.")
	lead.click("Open a vial")
	lead.fill("Vial", "v1")
	lead.click("css:#form-open .main-button")
	lead.see("The vial is written down as opened.")

	for _, level := range []string{"1", "2"} {
		lead.visit(f.url + "/controls-solution/new")
		lead.fill("Lot number", "K-"+level)
		lead.click("Level " + level)
		lead.fill("Types of meter that it is made for", "Type N")
		lead.fill("Expiry", "2027-01")
		lead.click("Add this lot")
		lead.see("Lot K-" + level + " is on the list.")
		lead.click("Open a bottle")
		lead.fill("Bottle", "b"+level)
		lead.click("css:#form-open .main-button")
		lead.see("The bottle is written down as opened.")
	}
}

// plan plans the event and posts the people.
func (f *fair) plan(lead *page) {
	f.t.Helper()
	lead.visit(f.url + "/events/new")
	lead.fill("Name of the event", "Invented First Fair")
	lead.fill("Date", "2026-03-14")
	lead.fill("Doors open", "08:00")
	lead.fill("Doors close", "12:00")
	lead.fill("Time zone", "America/New_York")
	lead.fill("Venue", "Invented Hall")
	lead.fill("Street address", "9 Invented Street")
	lead.fill("Place 1", "Invented Free Clinic")
	lead.fill("css:[name=route_1_phone]", "555 0111")
	lead.click("Plan this event")
	lead.see("Invented First Fair is planned.")
	events, err := programme.List[*event.State](f.t.Context(), f.prog, event.Kind)
	fatal(f.t, err)
	f.event = events[0].ID

	lead.visit(f.at("/roster"))
	for _, x := range [][2]string{{"Sam Overseer", "supervisor"}, {"Ann Screener", "screener"}, {"Cleo Counsellor", "counsellor"}} {
		lead.fill("Who", x[0]+" ("+x[1]+")")
		lead.fill("Post", x[1])
		lead.click("Post this person")
		lead.see("The post is on the roster.")
		lead.click("Here : " + x[0])
		lead.see("It is written down.")
	}
	lead.see("2 people are here to test or counsel, under 1 supervisor.")
	lead.shot("roster")
}

// openDay passes the gates of the opening, and the doors are refused until all are open.
func (f *fair) openDay(lead *page) {
	f.t.Helper()
	lead.visit(f.at("/open"))
	lead.click("Open the doors")
	lead.see("No meter is written down as brought.")
	lead.shot("open-refused")
	lead.click("Count the stock brought")
	lead.fill("Strips of lot L-9", "50")
	lead.fill("Lancets", "40")
	lead.fill("Sharps containers", "2")
	lead.click("N1, serial INV-N-1")
	lead.click("Write down the stock")
	lead.see("The stock is written down.")
	lead.fill("Temperature", "21")
	lead.click("Write it down")
	lead.see("The room is measured.")
	for _, k := range f.day().Protocol.OpeningChecks {
		lead.click(k.Text.In("en"))
	}
	lead.click("These are done")
	lead.see("14 opening checks are in the record.")
	lead.see("1 of 14 gates are shut")

	lead.click("Run controls")
	lead.click("css:.toolbar .main-button")
	lead.see("The code on meter N1 has not been compared")
	lead.fill("Code on the meter's display", "12")
	lead.click("Compare the code")
	lead.see("The codes agree")
	lead.enter("119")
	lead.click("Record this run")
	lead.see("In range: 119")
	lead.click("Run level 2 on N1")
	lead.see("Level 2 on meter N1")
	lead.enter("297")
	lead.click("Record this run")
	lead.see("In range: 297")
	f.wait(45 * time.Minute)
	lead.visit(f.at("/open"))
	lead.see("This device was not used for a while.")
	lead.enter(f.pins["Nora Newcome"])
	lead.click("Sign in")
	lead.see("Every gate is open. You can open the doors.")
	lead.fullShot("open-ready")
	lead.click("Open the doors")
	lead.see("The doors are open.")
}
