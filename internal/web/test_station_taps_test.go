package web

import (
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"fairstick/internal/visit"
)

// screener is Ines Calder at station 1, whose meter M1 has been wiped long enough.
func (m *market) screener() *visitor {
	m.t.Helper()
	m.clock.Set(m.clock.Now().Add(10 * time.Minute))
	v := m.as("Ines Calder")
	v.seat("1", "M1", "41-a")
	v.get(m.event + "/test")
	v.want(http.StatusOK)
	return v
}

// take takes the ticket with one press in the line.
func (v *visitor) take(n int) string {
	v.m.t.Helper()
	path := v.m.event + "/test/" + v.m.ticket(n).ID
	v.get(v.m.event + "/test")
	v.send(path+"/take", nil)
	v.follow()
	v.want(http.StatusOK)
	return path
}

// read types a reading twice, after the hands.
func (v *visitor) read(path, hands, first, again string) {
	v.m.t.Helper()
	v.get(path + "?hands=" + hands)
	v.want(http.StatusOK)
	v.send(path+"/first", form("reading", first))
	if v.status == http.StatusOK {
		v.send(path+"/reading", form("typed", again))
	}
}

// A practised screener records a three-digit reading with 9 presses after the ticket is chosen, and a two-digit one with
// 7: the hands (1), the figures (3 or 2), next (1), the figures again from the meter (3 or 2), record (1). The limit is 12.
func TestReadingTakesNinePresses(t *testing.T) {
	for _, c := range []struct {
		shown   string
		presses int
	}{{"95", 7}, {"112", 9}} {
		m := newMarket(t)
		v := m.screener()
		path := v.take(25)
		presses := 0
		press := func(n int) { presses += n }

		link := path + "?hands=washed&same=&again="
		v.see(link, "Washed with soap, dried", "Last ate 08:33 today")
		press(1)
		v.get(link)
		v.see("What the meter shows", "mg/dL", `data-key="LO"`, `data-key="HI"`, `data-key="E"`)
		press(len(c.shown) + 1)
		v.send(path+"/first", form("reading", c.shown))
		v.want(http.StatusOK)
		v.see("Look at the meter again and type it")
		v.seeNot(">" + c.shown + "<") // the first number is hidden
		press(len(c.shown) + 1)
		v.send(path+"/reading", form("typed", c.shown))
		v.follow()
		v.see("Recorded: "+c.shown+" mg/dL.", "Send to Explain.", "Lancet in sharps, meter wiped")
		if presses != c.presses || presses > 12 {
			t.Errorf("%s took %d presses, want %d and at most 12", c.shown, presses, c.presses)
		}
		x := m.ticket(25)
		if len(x.Readings) != 1 || x.Readings[0].Reading.Shown() != c.shown || !x.Readings[0].Washed || x.Readings[0].ReadBack != "typed-twice" {
			t.Errorf("recorded: %+v", x.Readings)
		}

		v.send(path+"/clear", nil)
		if v.to != m.event+"/test" {
			t.Errorf("after the wipe the page is %q", v.to)
		}
		v.follow()
		v.see("Keep meter M1 wet", "2:00", "lancet in sharps, meter wiped")
		if x = m.ticket(25); x.Binned != 1 {
			t.Errorf("%d lancets binned, want 1", x.Binned)
		}
	}
}

func TestReadingSlipsAreStopped(t *testing.T) {
	m := newMarket(t)
	v := m.screener()
	path := v.take(25)
	for _, c := range []struct {
		first, again string
		status       int
		see          []string
	}{
		{"", "", http.StatusUnprocessableEntity, []string{"Type the number, LO, HI or the error code"}},
		{"5.6", "5.6", http.StatusUnprocessableEntity, []string{"the unit here is mg/dL", `value="5.6"`}},
		{"950", "950", http.StatusUnprocessableEntity, []string{"outside of what meters show", `value="950"`}},
		{"95", "59", http.StatusConflict, []string{"First 95, then 59: the two do not agree.", "type the number twice", "What the meter shows"}},
		{"95", "", http.StatusConflict, []string{"type the number a second time"}},
	} {
		v.read(path, "washed", c.first, c.again)
		v.want(c.status)
		v.see(c.see...)
		if n := len(m.ticket(25).Readings); n != 0 {
			t.Fatalf("%q then %q: %d readings recorded, want none", c.first, c.again, n)
		}
	}
	v.read(path, "wiped", "101", "101")
	v.want(http.StatusSeeOther)
	v.post(path+"/reading", v.fields) // the same form once more
	v.want(http.StatusSeeOther)
	if x := m.ticket(25); len(x.Readings) != 1 || x.Readings[0].Washed {
		t.Errorf("two presses made %d readings: %+v", len(x.Readings), x.Readings)
	}
}

func TestRepeatErrorAndThirdStick(t *testing.T) {
	m := newMarket(t)
	v := m.screener()
	path := v.take(25)
	v.read(path, "wiped", "E3", "E3")
	v.follow()
	v.see("Recorded: meter error E3. That is no value.", "The meter showed an error", "New strip, same stick")
	v.get(path + "?hands=wiped&same=yes")
	v.send(path+"/first", form("reading", "268"))
	v.send(path+"/reading", form("typed", "268"))
	v.follow()
	v.see("Recorded: 268 mg/dL.", "Repeat: wash with soap, dry, another finger.", "Sugar on the skin can make a reading high", "Before: 268 mg/dL")
	v.read(path, "washed", "E1", "E1")
	v.follow()
	v.see("2 fingersticks so far. Ask a supervisor before another.")
	v.read(path, "washed", "118", "118")
	v.want(http.StatusConflict)
	v.see("Ticket 025 has had 2 fingersticks.", "A supervisor's PIN is needed.")
	v.send(path+"/reading", form("typed", "118", "agreed_person", m.person("Tobias Wren"), "agreed_pin", "0000"))
	v.want(http.StatusForbidden)
	v.see("Wrong PIN.")
	v.send(path+"/reading", form("typed", "118", "agreed_person", m.person("Tobias Wren"), "agreed_pin", m.pins["Tobias Wren"]))
	v.follow()
	v.see("Send to Explain.", "118 mg/dL counts, because it was taken on washed hands after 268 mg/dL.")
	x := m.ticket(25)
	if x.Sticks() != 3 || len(x.Readings) != 4 || x.Phase() != visit.AtExplain {
		t.Errorf("%d sticks and %d readings, at %s; want 3, 4, explain", x.Sticks(), len(x.Readings), x.Phase())
	}
}

func TestTicketElsewhere(t *testing.T) {
	m := newMarket(t)
	v := m.screener()
	path := v.take(25)
	o := m.as("Jonah Pike")
	o.seat("4", "M5", "41-a")
	o.get(path)
	o.want(http.StatusConflict)
	o.see("Ticket 025 is at station 1.", "Back to the line", "put it back")
	o.post(path+"/take", nil)
	o.want(http.StatusConflict)
	o.see("Ticket 025 is at station 1.", "at station 1")
	o.get(path)
	o.send(path+"/put-back", nil)
	o.want(http.StatusSeeOther)
	o.get(path)
	o.see("This ticket waits for a test.")
	o.send(path+"/take", nil)
	o.want(http.StatusSeeOther)
	if got := m.ticket(25).Taken.Station; got != "4" {
		t.Errorf("the ticket is at station %s, want 4", got)
	}
	v.get(path)
	v.want(http.StatusConflict)
}

func TestGatesSpeakFirst(t *testing.T) {
	m := newMarket(t)
	v := m.as("Ines Calder")
	v.get(m.event + "/test")
	v.want(http.StatusOK)
	v.see("No meter is set for this station.", "Put this device to its station")
	v.seeNot("/take")

	v = m.as("Saoirse Quill") // M4 was dropped
	v.seat("3", "M4", "41-a")
	v.follow()
	v.see("Meter M4 is not cleared with lot INV-41", "Run the controls", "A screener or a supervisor can.")
	v.seeNot("/take")

	m.clock.Set(m.clock.Now().Add(10 * time.Minute))
	j := m.as("Jonah Pike") // his meter read ticket 23 and was not wiped since
	j.seat("2", "M2", "41-a")
	j.follow()
	j.see("Ticket 023 at this station needs a supervisor first.", "Meter wiped: Meter M2 has not been wiped since the last person.", "Open the alert")
	care := m.event + "/care/" + m.ticket(23).ID
	s := m.as("Tobias Wren")
	s.get(care)
	s.send(care+"/attend", form("sign_person", m.person("Tobias Wren"), "sign_pin", m.pins["Tobias Wren"]))
	s.want(http.StatusSeeOther)
	j.get(m.event + "/test")
	j.see("Wiped now: start the clock", "Two-minute wipes")
	j.send(m.event+"/test/wipe", nil)
	j.follow()
	j.see("Keep meter M2 wet", "2:00", "/take")
}

// A gate that shuts while the number is on the meter says where the number goes, with care first when it means danger; on a
// device that is set to Spanish in Spanish too.
func TestANumberBehindAShutGate(t *testing.T) {
	m := newMarket(t)
	v := m.screener()
	path := v.take(25)
	v.get(path + "?hands=washed")
	v.send(path+"/first", form("reading", "104"))
	v.want(http.StatusOK)
	v.seeNot("looks unwell")
	lead := m.as("Maren Solbakk")
	meter := m.day().BroughtMeters()[0].ID
	lead.get("/meters/" + meter)
	lead.send("/meters/"+meter+"/quarantine", form("event", strings.TrimPrefix(m.event, "/events/"), "note", "cracked", "reason", "cracked"))
	lead.want(http.StatusSeeOther)
	v.send(path+"/reading", form("typed", "104"))
	v.want(http.StatusConflict)
	v.see("Meter M1 is in quarantine: cracked", "This number does not count, and nobody is told it as a result.", "Write ticket, number, meter and time on paper", "This person looks unwell", path[:strings.LastIndex(path, "/test/")]+"/care/")
	v.seeNot("First care for the person", `lang="es"`)

	v.get("/station")
	v.send("/language", form("lang", "es"))
	v.get(path + "?hands=washed")
	v.send(path+"/first", form("reading", "412"))
	v.send(path+"/reading", form("typed", "412"))
	v.want(http.StatusConflict)
	v.see("First care for the person: this number can mean danger.", `<p class="lead" lang="es">Primero cuide a la persona: este número puede ser peligroso.`, "no se dice a nadie como resultado")
	if n := len(m.ticket(25).Readings); n != 0 {
		t.Errorf("%d readings stand", n)
	}
}

func TestCodeIsComparedAtTheStation(t *testing.T) {
	m := newMarket(t)
	m.clock.Set(m.clock.Now().Add(10 * time.Minute))
	v := m.as("Ines Calder")
	lot := m.day().StripLots[1] // INV-58, code 58
	v.post("/station/vial", form("event", strings.TrimPrefix(m.event, "/events/"), "step", "test", "station", "1", "table", "yes", "meter", m.day().BroughtMeters()[0].ID, "lot", lot.ID, "new_vial", "58-a"))
	v.want(http.StatusSeeOther)
	v.follow()
	v.see("Lot INV-58, vial 58-a", "Not cleared on this meter")
	v.seat("1", "M1", "58-a")
	v.follow()
	v.see("The code on meter M1 has not been compared with the vial of lot INV-58.", "Code on the meter's display")
	v.send(m.event+"/test/code", form("shown", "41"))
	v.follow()
	v.see("Meter M1 shows code 41; the vial of lot INV-58 says 58.")
	v.send(m.event+"/test/code", form("shown", "58"))
	v.follow()
	v.seeNot("Code on the meter")
	v.see("Run the controls")
}

func TestOnlyScreenersTest(t *testing.T) {
	m := newMarket(t)
	for _, c := range []struct {
		who, path string
		status    int
	}{
		{"Hollis Bray", "/test", http.StatusForbidden},
		{"Rosa Amaya", "/test", http.StatusForbidden},
		{"Ines Calder", "/explain", http.StatusForbidden},
		{"Rosa Amaya", "/explain", http.StatusOK},
		{"Rosa Amaya", "/desk", http.StatusOK},
		{"Una Fairweather", "/desk", http.StatusOK},
	} {
		v := m.as(c.who)
		v.get(m.event + c.path)
		if v.status != c.status {
			t.Errorf("%s at %s: %d, want %d", c.who, c.path, v.status, c.status)
		}
	}
	v := m.visitor()
	v.post(m.event+"/test/"+m.ticket(25).ID+"/reading", url.Values{"reading": {"95"}})
	v.want(http.StatusUnauthorized)
	v.see("Nobody is signed in on this device.")
}
