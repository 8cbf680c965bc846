package protocol

import (
	"strings"
	"testing"

	"fairstick/internal/fault"
	"fairstick/internal/glucose"
)

// take writes readings as "first 268", "repeat 118 washed", "recheck 92"; ids are r1, r2, ...
func take(t testing.TB, u glucose.Unit, lines ...string) []Taken {
	t.Helper()
	var out []Taken
	for i, l := range lines {
		w := strings.Fields(l)
		out = append(out, Taken{ID: "r" + string(rune('1'+i)), Purpose: w[0], Reading: reading(t, w[1], u), Washed: len(w) > 2})
	}
	return out
}

func TestConclude(t *testing.T) {
	p := Default()
	for _, tt := range []struct {
		name   string
		unit   glucose.Unit
		basis  Basis
		taken  []string
		sticks int
		unwell bool

		counts  string
		band    Band
		urgency Urgency
		due     bool
		leader  bool // a further stick needs a supervisor
		why     string
	}{
		{name: "nothing yet", sticks: 0, why: "No reading has been taken yet."},
		{name: "only an error", taken: []string{"first E-4"}, sticks: 1, why: "no value"},
		{name: "two errors", taken: []string{"first E-4", "first Err"}, sticks: 2, leader: true, why: "not a repeat"},
		{name: "only a recheck", taken: []string{"recheck 92"}, sticks: 1, why: "No reading has been taken yet."},
		{name: "usual", taken: []string{"first 95"}, sticks: 1, counts: "r1", band: Usual, urgency: None, why: "needed no repeat"},
		{name: "after an error the next is the first", taken: []string{"first E-4", "repeat 95"}, sticks: 1, counts: "r2", band: Usual, urgency: None, why: "needed no repeat"},
		{name: "after an error a high first is repeated", taken: []string{"first E-4", "first 268"}, sticks: 2, leader: true, counts: "r2", band: High, urgency: Days, due: true, why: "not a result yet"},
		{name: "fasting 131 is not repeated", basis: Fasting, taken: []string{"first 131"}, sticks: 1, counts: "r1", band: High, urgency: Days, why: "needed no repeat"},
		{name: "199 is not repeated", taken: []string{"first 199"}, sticks: 1, counts: "r1", band: Raised, urgency: Weeks, why: "needed no repeat"},
		{name: "200 is repeated", taken: []string{"first 200"}, sticks: 1, counts: "r1", band: High, urgency: Days, due: true, why: "not a result yet"},
		{name: "a washed 200 is repeated too", taken: []string{"first 200 washed"}, sticks: 1, counts: "r1", band: High, urgency: Days, due: true, why: "not a result yet"},
		{name: "fasting 200 is repeated", basis: Fasting, taken: []string{"first 200"}, sticks: 1, counts: "r1", band: High, urgency: Days, due: true, why: "not a result yet"},
		{name: "70 is not repeated", taken: []string{"first 70"}, sticks: 1, counts: "r1", band: Usual, urgency: None, why: "needed no repeat"},
		{name: "69 is repeated", taken: []string{"first 69"}, sticks: 1, counts: "r1", band: Low, urgency: Days, due: true, why: "not a result yet"},
		{name: "11.0 is not repeated", unit: glucose.MmolPerL, taken: []string{"first 11.0"}, sticks: 1, counts: "r1", band: Raised, urgency: Weeks, why: "needed no repeat"},
		{name: "11.1 is repeated", unit: glucose.MmolPerL, taken: []string{"first 11.1"}, sticks: 1, counts: "r1", band: High, urgency: Days, due: true, why: "not a result yet"},
		{name: "3.8 is repeated", unit: glucose.MmolPerL, taken: []string{"first 3.8"}, sticks: 1, counts: "r1", band: Low, urgency: Days, due: true, why: "not a result yet"},
		{name: "3.9 is not repeated", unit: glucose.MmolPerL, taken: []string{"first 3.9"}, sticks: 1, counts: "r1", band: Usual, urgency: None, why: "needed no repeat"},
		{name: "HI is repeated", taken: []string{"first HI"}, sticks: 1, counts: "r1", band: CriticalHigh, urgency: Emergency, due: true, why: "not a result yet"},
		{name: "LO is repeated", taken: []string{"first LO"}, sticks: 1, counts: "r1", band: CriticalLow, urgency: Emergency, due: true, why: "not a result yet"},

		{name: "the unwell do not wait, high", taken: []string{"first 268"}, sticks: 1, unwell: true, counts: "r1", band: High, urgency: Emergency, why: "because the person is unwell"},
		{name: "the unwell do not wait, low", taken: []string{"first 66"}, sticks: 1, unwell: true, counts: "r1", band: Low, urgency: Emergency, why: "because the person is unwell"},
		{name: "a sign outranks a usual value", taken: []string{"first 95"}, sticks: 1, unwell: true, counts: "r1", band: Usual, urgency: Emergency, why: "needed no repeat"},
		{name: "the unwell may be repeated", taken: []string{"first 412", "repeat 405 washed"}, sticks: 2, unwell: true, leader: true, counts: "r2", band: CriticalHigh, urgency: Emergency, why: "washed hands"},

		{name: "tangerine: a washed repeat counts", taken: []string{"first 268", "repeat 118 washed"}, sticks: 2, leader: true, counts: "r2", band: Usual, urgency: None, why: "118 mg/dL counts, because it was taken on washed hands after 268 mg/dL."},
		{name: "a washed repeat that is higher counts", taken: []string{"first 268", "repeat 310 washed"}, sticks: 2, leader: true, counts: "r2", band: CriticalHigh, urgency: Today, why: "washed hands"},
		{name: "a washed repeat in the same band counts", taken: []string{"first 214", "repeat 209 washed"}, sticks: 2, leader: true, counts: "r2", band: High, urgency: Days, why: "washed hands"},
		{name: "412 then 405", taken: []string{"first 412", "repeat 405 washed"}, sticks: 2, leader: true, counts: "r2", band: CriticalHigh, urgency: Today, why: "washed hands"},
		{name: "an unwashed repeat that is lower does not count", taken: []string{"first 268", "repeat 118"}, sticks: 2, leader: true, counts: "r1", band: High, urgency: Days, why: "268 mg/dL counts: it is more urgent than 118 mg/dL, and the hands were not washed"},
		{name: "an unwashed repeat that is more urgent counts", taken: []string{"first 268", "repeat 310"}, sticks: 2, leader: true, counts: "r2", band: CriticalHigh, urgency: Today, why: "310 mg/dL counts: it is more urgent"},
		{name: "an unwashed repeat in the same band counts", taken: []string{"first 214", "repeat 209"}, sticks: 2, leader: true, counts: "r2", band: High, urgency: Days, why: "in the same band. The hands were not washed."},
		{name: "HI outranks an unwashed 450", taken: []string{"first HI", "repeat 450"}, sticks: 2, leader: true, counts: "r1", band: CriticalHigh, urgency: Emergency, why: "HI counts: the repeat showed 450 mg/dL on hands that were not washed"},
		{name: "a washed low after a high asks for a supervisor", taken: []string{"first 268", "repeat 50 washed"}, sticks: 2, leader: true, counts: "r2", band: CriticalLow, urgency: Emergency, why: "opposite sides: ask a supervisor"},

		{name: "66 then 64", taken: []string{"first 66", "repeat 64 washed"}, sticks: 2, leader: true, counts: "r2", band: Low, urgency: Days, why: "64 mg/dL counts: it repeats 66 mg/dL in the same band."},
		{name: "66, 64, then 92 after sugar", taken: []string{"first 66", "repeat 64 washed", "recheck 92 washed"}, sticks: 3, leader: true, counts: "r2", band: Low, urgency: Days, why: "in the same band"},
		{name: "a low stays when the washed repeat is usual", taken: []string{"first 66", "repeat 110 washed"}, sticks: 2, leader: true, counts: "r1", band: Low, urgency: Days, why: "sugar on the skin does not make a reading low"},
		{name: "a repeat that is lower counts", taken: []string{"first 66", "repeat 50"}, sticks: 2, leader: true, counts: "r2", band: CriticalLow, urgency: Emergency, why: "50 mg/dL counts: it is more urgent"},
		{name: "low against high of one urgency: the low counts", taken: []string{"first 66", "repeat 250 washed"}, sticks: 2, leader: true, counts: "r1", band: Low, urgency: Days, why: "ask a supervisor"},
		{name: "LO then 50", taken: []string{"first LO", "repeat 50"}, sticks: 2, leader: true, counts: "r2", band: CriticalLow, urgency: Emergency, why: "50 mg/dL counts: it repeats LO in the same band."},

		{name: "nobody tests until it looks better", basis: Fasting, taken: []string{"first 131", "repeat 98 washed"}, sticks: 2, leader: true, counts: "r1", band: High, urgency: Days, why: "no repeat was asked for"},
		{name: "an unasked repeat that is worse counts", taken: []string{"first 118", "repeat 150"}, sticks: 2, leader: true, counts: "r2", band: Raised, urgency: Weeks, why: "150 mg/dL counts: it is more urgent"},
		{name: "an unasked repeat in the same band changes nothing", taken: []string{"first 118", "repeat 101"}, sticks: 2, leader: true, counts: "r1", band: Usual, urgency: None, why: "needed no repeat and counts; 101 mg/dL is in the same band"},
		{name: "an error between first and repeat", taken: []string{"first 268", "repeat E-2", "repeat 118 washed"}, sticks: 3, leader: true, counts: "r3", band: Usual, urgency: None, why: "washed hands"},
		{name: "an error instead of the repeat: still due", taken: []string{"first 268", "repeat E-2"}, sticks: 2, leader: true, counts: "r1", band: High, urgency: Days, due: true, why: "not a result yet"},
		{name: "a third after an unwashed second", taken: []string{"first 268", "repeat 240", "repeat 118 washed"}, sticks: 3, leader: true, counts: "r3", band: Usual, urgency: None, why: "after 240 mg/dL"},
		{name: "a third cannot improve a settled second", taken: []string{"first 268", "repeat 118 washed", "repeat 150 washed"}, sticks: 3, leader: true, counts: "r3", band: Raised, urgency: Weeks, why: "more urgent"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			if tt.unit == "" {
				tt.unit = glucose.MgPerDL
			}
			if tt.basis == "" {
				tt.basis = Random
			}
			c, err := p.Conclude(take(t, tt.unit, tt.taken...), tt.sticks, tt.basis, tt.unwell)
			if err != nil {
				t.Fatal(err)
			}
			if c.Counts != tt.counts || c.RepeatDue != tt.due || c.NeedsSupervisorForStick != tt.leader {
				t.Errorf("counts %q, due %v, supervisor %v; want %q, %v, %v", c.Counts, c.RepeatDue, c.NeedsSupervisorForStick, tt.counts, tt.due, tt.leader)
			}
			if (c.RepeatWhy != "") != tt.due || tt.due && !strings.Contains(c.RepeatWhy, "Wash with soap, dry, and repeat on another finger.") {
				t.Errorf("repeat why %q", c.RepeatWhy)
			}
			if !strings.Contains(c.Why, tt.why) {
				t.Errorf("why %q, want %q in it", c.Why, tt.why)
			}
			if (c.Finding != nil) != (tt.counts != "") {
				t.Fatalf("finding %+v", c.Finding)
			}
			if c.Finding == nil {
				return
			}
			if c.Finding.Band != tt.band || c.Finding.Urgency != tt.urgency || c.Finding.Unwell != tt.unwell {
				t.Errorf("finding %s, %s, unwell %v; want %s, %s", c.Finding.Band, c.Finding.Urgency, c.Finding.Unwell, tt.band, tt.urgency)
			}
			if tt.unwell && (!c.Finding.Critical || !c.Finding.Refer || c.Finding.When.In("en") != "Now.") {
				t.Errorf("unwell is not told as an emergency: %+v", c.Finding)
			}
		})
	}
}

func TestConcludeRefuses(t *testing.T) {
	p := Default()
	if _, err := p.Conclude([]Taken{{ID: "r1", Reading: glucose.Number(glucose.MgDL(95)), Purpose: "second"}}, 1, Random, false); !fault.Is(err, "purpose-unknown") {
		t.Errorf("an unknown purpose: %v", err)
	}
	if _, err := p.Conclude(take(t, glucose.MgPerDL, "first 95"), 1, "", false); !fault.Is(err, "protocol-silent") {
		t.Errorf("an unknown basis: %v", err)
	}
	p.Repeat.HighFrom = nil
	if _, err := p.Conclude(take(t, glucose.MgPerDL, "first 95"), 1, Random, false); !fault.Is(err, "protocol-silent") {
		t.Errorf("a protocol without a repeat rule: %v", err)
	}
}

// The limits of a repeat come from the protocol, not from the code.
func TestConcludeFollowsTheProtocol(t *testing.T) {
	p := Default()
	p.Repeat.HighFrom[glucose.MgPerDL] = glucose.MgDL(250)
	p.Repeat.MaxSticks = 3
	c, err := p.Conclude(take(t, glucose.MgPerDL, "first 249"), 2, Random, false)
	if err != nil {
		t.Fatal(err)
	}
	if c.RepeatDue || c.NeedsSupervisorForStick {
		t.Errorf("249 below a limit of 250 after 2 of 3 sticks: due %v, supervisor %v", c.RepeatDue, c.NeedsSupervisorForStick)
	}
	c, err = p.Conclude(take(t, glucose.MgPerDL, "first 250"), 3, Random, false)
	if err != nil {
		t.Fatal(err)
	}
	if !c.RepeatDue || !c.NeedsSupervisorForStick || !strings.Contains(c.RepeatWhy, "250 mg/dL or more") {
		t.Errorf("250 at a limit of 250 after 3 of 3 sticks: %+v", c)
	}
}
