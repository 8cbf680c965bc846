package visit

import (
	"testing"
	"time"

	"fairstick/internal/fact"
	"fairstick/internal/glucose"
	"fairstick/internal/protocol"
)

var nine = time.Date(2025, 10, 4, 9, 0, 0, 0, time.UTC)

type teller struct {
	s *State
	n int
}

func begin() *teller {
	return &teller{s: New("v").(*State)}
}

// tell applies facts a minute apart.
func (x *teller) tell(bodies ...fact.Body) {
	for _, b := range bodies {
		x.s.Apply(fact.Record{Meta: fact.Meta{ID: string(rune('a' + x.n)), At: nine.Add(time.Duration(x.n) * time.Minute), By: "p"}, Body: b})
		x.n++
	}
}

func desk() []fact.Body {
	return []fact.Body{Arrived{Event: "e", Ticket: 31, Language: "en"}, Consented{Version: "1"}, Answered{Eligible: true}, Ate{}, ContactRefused{}}
}

func finding(band protocol.Band, refer bool) *protocol.Finding {
	return &protocol.Finding{Band: band, Refer: refer}
}

func TestPhases(t *testing.T) {
	x := begin()
	want := func(p Phase) {
		t.Helper()
		if got := x.s.Phase(); got != p {
			t.Fatalf("after %d facts: %s, want %s", x.n, got, p)
		}
	}
	for _, b := range desk() {
		x.tell(b)
		if x.n < 5 {
			want(AtDesk)
		}
	}
	want(AtTest)
	x.tell(Called{Step: AtTest, Station: "1"}, ReadingTaken{Purpose: First, Reading: glucose.Number(glucose.MgDL(268)), NewStick: true, Misfires: 1})
	want(AtTest)
	x.tell(Found{Finding: finding(protocol.High, true), Repeat: true})
	want(AtTest)
	if x.s.Finding() != nil {
		t.Error("a finding that waits for a repeat must not be told")
	}
	x.tell(ReadingTaken{Purpose: Repeat, Reading: glucose.Number(glucose.MgDL(118)), NewStick: true, Washed: true}, Found{Finding: finding(protocol.Usual, false), Counts: "i"})
	want(AtExplain)
	if x.s.Taken != nil {
		t.Error("the ticket goes to the next line without a station")
	}
	if c, ok := x.s.Counting(); !ok || c.Reading.Shown() != "118" {
		t.Errorf("counting %v %v", c, ok)
	}
	if x.s.Sticks() != 2 || x.s.Misfires() != 1 || !x.s.Tested() {
		t.Errorf("sticks %d, misfires %d", x.s.Sticks(), x.s.Misfires())
	}
	x.tell(Called{Step: AtExplain, Station: "E1"}, Explained{}, SlipIssued{Finding: "j"}, Finished{})
	want(Done)
	got := x.s.Times
	for name, m := range map[string][2]time.Time{
		"desk done": {got.DeskDone, nine.Add(4 * time.Minute)}, "first read": {got.FirstRead, nine.Add(6 * time.Minute)},
		"found": {got.Found, nine.Add(9 * time.Minute)}, "ended": {got.Ended, nine.Add(13 * time.Minute)},
	} {
		if !m[0].Equal(m[1]) {
			t.Errorf("%s at %s, want %s", name, m[0], m[1])
		}
	}
}

func TestEndsOfAVisit(t *testing.T) {
	for _, c := range []struct {
		name string
		last fact.Body
		want Phase
	}{
		{"not eligible", Answered{Eligible: false, Reason: "age"}, NotEligible},
		{"declined", Declined{What: "fingerstick"}, HasDeclined},
		{"left", Left{Where: AtTest}, Gone},
	} {
		x := begin()
		x.tell(desk()...)
		x.tell(c.last)
		if got := x.s.Phase(); got != c.want || !got.Ended() || x.s.Tested() {
			t.Errorf("%s: %s", c.name, got)
		}
		if x.s.Times.Ended.IsZero() {
			t.Errorf("%s: no time of the end", c.name)
		}
	}
}

func TestAMeterErrorIsNoValue(t *testing.T) {
	x := begin()
	x.tell(desk()...)
	x.tell(ReadingTaken{Purpose: First, Reading: glucose.ErrorCode("E-4", glucose.MgPerDL), NewStick: true}, Found{Why: "no value yet"})
	if x.s.Tested() || x.s.Phase() != AtTest {
		t.Errorf("tested %v, at %s", x.s.Tested(), x.s.Phase())
	}
	x.tell(ReadingTaken{Purpose: First, Reading: glucose.HI(glucose.MgPerDL)})
	if !x.s.Tested() {
		t.Error("HI is a value")
	}
}

func TestCare(t *testing.T) {
	x := begin()
	x.tell(desk()...)
	x.tell(CareOpened{Cause: "low", Station: "2"}, CareStep{Step: "sugar", Choice: "given"})
	if !x.s.OpenCare() || x.s.Care.Critical() {
		t.Error("low is open and not on every screen")
	}
	x.tell(CareOpened{Cause: "critical-low", Station: "2"})
	if _, ok := x.s.Care.Last("sugar"); !ok || !x.s.Care.Critical() {
		t.Error("a worse cause keeps the steps that were done")
	}
	if m := x.s.Mentions(); len(m) != 1 || m[0].Name != "care" {
		t.Errorf("mentions %v", m)
	}
	x.tell(CareSigned{Supervisor: "s"})
	if x.s.OpenCare() || len(x.s.Mentions()) != 0 {
		t.Error("signed care is closed")
	}
}
