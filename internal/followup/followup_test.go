package followup

import (
	"encoding/json"
	"fmt"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"fairstick/internal/civil"
	"fairstick/internal/fact"
	"fairstick/internal/protocol"
)

var fair = civil.MustParse("2026-06-20") // a Saturday

func at(day int, clock string) time.Time {
	c, err := civil.ParseClock(clock)
	if err != nil {
		panic(err)
	}
	return c.On(fair.AddDays(day), time.UTC)
}

func caseOf(band protocol.Band) Case {
	p := protocol.Default()
	return Case{Day: fair, Zone: time.UTC, Days: p.FollowUp[band], Urgent: p.Messages[band].Critical, Post: true, Rules: p.Calling}
}

// story is a follow-up that grows fact by fact.
type story struct {
	s *State
	n int
}

func (x *story) tell(when time.Time, by string, bodies ...fact.Body) *story {
	if x.s == nil {
		x.s = New("v").(*State)
	}
	for _, b := range bodies {
		x.n++
		x.s.Apply(fact.Record{Meta: fact.Meta{ID: fmt.Sprint("f", x.n), At: when, By: by}, Subject: Ref("v"), Body: b})
	}
	return x
}

func try(h Happened) AttemptMade { return AttemptMade{Channel: Phone, Happened: h} }

func told(o Outcome, on string) OutcomeTold {
	b := OutcomeTold{Outcome: o, Source: FromPerson}
	if on != "" {
		b.On = civil.MustParse(on)
	}
	return b
}

func TestNext(t *testing.T) {
	type want struct {
		why, from, by string
		try           int
		other         bool
	}
	for name, c := range map[string]struct {
		band protocol.Band
		tell func(*story)
		want *want // nil: nothing is due
	}{
		"high, nobody has tried":         {protocol.High, nil, &want{"first-call", "06-23 09:00", "06-23 20:00", 1, false}},
		"raised, nobody has tried":       {protocol.Raised, nil, &want{"first-call", "07-04 09:00", "07-04 20:00", 1, false}},
		"critical, the same evening":     {protocol.CriticalHigh, nil, &want{"same-evening", "06-20 17:00", "06-20 20:00", 1, false}},
		"critical, asked again next day": {protocol.CriticalLow, func(x *story) { x.tell(at(0, "18:00"), "a", try(Reached), OutcomeTold{Outcome: NotYet}) }, &want{"next-day", "06-21 09:00", "06-21 20:00", 1, false}},
		"critical, called until seen":    {protocol.CriticalHigh, func(x *story) { x.tell(at(1, "10:00"), "a", try(Reached), OutcomeTold{Outcome: NotYet}) }, &want{"ask-again", "06-22 09:00", "06-22 20:00", 1, false}},
		"critical, tried after 3 hours":  {protocol.CriticalHigh, func(x *story) { x.tell(at(1, "09:30"), "a", try(NoAnswer)) }, &want{"try-again", "06-21 12:30", "06-21 20:00", 2, false}},
		"another part of the day":        {protocol.High, func(x *story) { x.tell(at(3, "10:15"), "a", try(NoAnswer)) }, &want{"try-again", "06-24 12:00", "06-24 20:00", 2, false}},
		"the third by another channel":   {protocol.High, func(x *story) { x.tell(at(3, "10:15"), "a", try(NoAnswer)).tell(at(4, "13:00"), "b", try(Busy)) }, &want{"try-again", "06-25 17:00", "06-25 20:00", 3, true}},
		"tried late in the evening":      {protocol.High, func(x *story) { x.tell(at(3, "19:30"), "a", try(NoAnswer)) }, &want{"try-again", "06-24 15:30", "06-24 20:00", 2, false}},
		"after the appointment":          {protocol.Raised, func(x *story) { x.tell(at(14, "10:00"), "a", try(Reached), told(Scheduled, "2026-07-20")) }, &want{"after-appointment", "07-21 09:00", "07-21 20:00", 1, false}},
		"reached and nothing told":       {protocol.High, func(x *story) { x.tell(at(3, "10:00"), "a", try(Reached)) }, &want{"ask-again", "06-24 09:00", "06-24 20:00", 1, false}},
		"not yet: the next day of calls": {protocol.High, func(x *story) { x.tell(at(3, "10:00"), "a", try(Reached), told(NotYet, "")) }, &want{"ask-again", "06-27 09:00", "06-27 20:00", 1, false}},
		"not yet and no day left":        {protocol.High, func(x *story) { x.tell(at(14, "10:00"), "a", try(Reached), told(NotYet, "")) }, &want{"last-ask", "09-18 09:00", "09-18 20:00", 1, false}},
		"seen":                           {protocol.High, func(x *story) { x.tell(at(3, "10:00"), "a", try(Reached), told(Seen, "")) }, nil},
		"seen, told by the clinic":       {protocol.High, func(x *story) { x.tell(at(2, "10:00"), "a", OutcomeTold{Outcome: Seen, Source: FromClinic}) }, nil},
		"declined":                       {protocol.High, func(x *story) { x.tell(at(3, "10:00"), "a", try(Reached), told(Declined, "")) }, nil},
		"wrong number: a letter": {protocol.High, func(x *story) {
			x.tell(at(3, "10:00"), "a", try(WrongNumber), OutcomeTold{Outcome: BadNumber, Source: FromCaller})
		}, &want{"wrong-number", "06-23 10:00", "06-24 20:00", 0, false}},
		"wrong number and written to": {protocol.High, func(x *story) {
			x.tell(at(3, "10:00"), "a", try(WrongNumber), OutcomeTold{Outcome: BadNumber}).tell(at(4, "9:00"), "a", LetterMade{To: ToPerson})
		}, nil},
		"used up: a letter":               {protocol.High, func(x *story) { usedUp(x) }, &want{"tries-used-up", "06-25 17:00", "06-26 20:00", 0, false}},
		"used up and written to":          {protocol.High, func(x *story) { usedUp(x).tell(at(6, "9:00"), "a", LetterMade{To: ToPerson}) }, &want{"last-ask", "09-18 09:00", "09-18 20:00", 1, false}},
		"a note to the clinician is none": {protocol.High, func(x *story) { usedUp(x).tell(at(6, "9:00"), "a", LetterMade{To: ToClinician}) }, &want{"tries-used-up", "06-25 17:00", "06-26 20:00", 0, false}},
		"asked on the last day, no answer": {protocol.High, func(x *story) {
			usedUp(x).tell(at(6, "9:00"), "a", LetterMade{To: ToPerson}).tell(at(90, "10:00"), "a", try(NoAnswer))
		}, nil},
		"called back after the letter": {protocol.High, func(x *story) {
			usedUp(x).tell(at(6, "9:00"), "a", LetterMade{To: ToPerson}).tell(at(9, "9:00"), "a", try(Reached), told(NotYet, ""))
		}, &want{"ask-again", "07-04 09:00", "07-04 20:00", 1, false}},
	} {
		t.Run(name, func(t *testing.T) {
			x := &story{}
			if c.tell != nil {
				c.tell(x)
			}
			task, ok := x.s.Next(caseOf(c.band))
			if c.want == nil {
				if ok {
					t.Fatalf("nothing is due, got %+v", task)
				}
				return
			}
			got := want{task.Why, task.From.Format("01-02 15:04"), task.By.Format("01-02 15:04"), task.Try, task.Other}
			if !ok || got != *c.want {
				t.Errorf("got %+v (%v), want %+v", got, ok, *c.want)
			}
		})
	}
}

func usedUp(x *story) *story {
	return x.tell(at(3, "10:15"), "a", try(NoAnswer)).tell(at(4, "13:00"), "b", try(Busy)).tell(at(5, "17:00"), "b", AttemptMade{Channel: Text, Happened: Sent})
}

// A number that was put right is called again.
func TestARenewedNumberIsCalledAgain(t *testing.T) {
	x := (&story{}).tell(at(3, "10:00"), "a", try(WrongNumber), OutcomeTold{Outcome: BadNumber, Source: FromCaller})
	c := caseOf(protocol.High)
	if got := x.s.Status(c); got != BadNumber {
		t.Fatalf("status %q", got)
	}
	c.Renewed = at(4, "09:00")
	task, ok := x.s.Next(c)
	if got := x.s.Status(c); got != "" || !ok || task.Kind != Call || task.Try != 1 {
		t.Errorf("status %q, task %+v", got, task)
	}
}

func TestHold(t *testing.T) {
	x := (&story{}).tell(at(3, "10:00"), "ann", ContactOpened{})
	hold := 20 * time.Minute
	if h := x.s.HeldAt(at(3, "10:19"), hold); h == nil || h.By != "ann" {
		t.Errorf("held %+v", h)
	}
	if h := x.s.HeldAt(at(3, "10:20"), hold); h != nil {
		t.Errorf("held after its time: %+v", h)
	}
	if x.tell(at(3, "10:05"), "bob", PutBack{}); x.s.Held == nil {
		t.Error("somebody else cannot put the person back")
	}
	if x.tell(at(3, "10:06"), "ann", try(NoAnswer)); x.s.Held != nil {
		t.Error("what was written down ends the hold")
	}
	if got := (*State)(nil).HeldAt(at(0, "10:00"), hold); got != nil {
		t.Error("nobody holds what nobody has begun")
	}
}

// drawn draws any facts that a record may hold about a follow-up, corrections among them.
func drawn(t *rapid.T) []fact.Record {
	var list []fact.Record
	for i := range rapid.IntRange(0, 20).Draw(t, "facts") {
		var b fact.Body
		switch rapid.IntRange(0, 7).Draw(t, "kind") {
		case 0:
			b = Begun{Event: "e", Ticket: 7}
		case 1:
			b = ContactOpened{}
		case 2:
			b = PutBack{}
		case 3:
			b = ResultTold{Test: A1c, Said: rapid.SampledFrom(AllSaid).Draw(t, "said")}
		case 4:
			b = HandedOver{To: rapid.SampledFrom([]string{"ann", "bob"}).Draw(t, "to")}
		case 5:
			b = LetterMade{To: rapid.SampledFrom([]Addressee{ToPerson, ToClinician}).Draw(t, "addressee")}
		case 6:
			b = OutcomeTold{Outcome: rapid.SampledFrom(Outcomes).Draw(t, "outcome"), On: fair.AddDays(rapid.IntRange(0, 100).Draw(t, "on"))}
		default:
			ch := rapid.SampledFrom(Channels).Draw(t, "channel")
			b = AttemptMade{Channel: ch, Happened: rapid.SampledFrom(Happenings(ch)).Draw(t, "happened")}
		}
		r := fact.Record{Subject: Ref("v"), Body: b, Meta: fact.Meta{
			ID: fmt.Sprintf("f%02d", i), Node: rapid.SampledFrom([]string{"n1", "n2"}).Draw(t, "node"), Seq: uint64(i + 1), Recorded: fmt.Sprintf("%04d", rapid.IntRange(0, 9).Draw(t, "recorded")),
			By: rapid.SampledFrom([]string{"ann", "bob"}).Draw(t, "by"), At: at(rapid.IntRange(0, 100).Draw(t, "day"), "10:00"),
		}}
		if i > 0 && rapid.IntRange(0, 5).Draw(t, "corrects") == 0 {
			r.Corrects, r.Reason = list[rapid.IntRange(0, i-1).Draw(t, "which")].ID, "typed wrongly"
			if rapid.Bool().Draw(t, "struck") {
				r.Body = fact.Struck{}
			}
		}
		list = append(list, r)
	}
	return list
}

// Whatever laptop the facts come from, and in whatever order, they give one state and one task; and the state survives its own
// JSON.
func TestAnyOrderGivesOneState(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		list := drawn(t)
		one := fact.Fold(New("v").(*State), list)
		two := fact.Fold(New("v").(*State), rapid.Permutation(list).Draw(t, "order"))
		if d := cmp.Diff(one, two); d != "" {
			t.Fatalf("another state: %s", d)
		}
		data, err := json.Marshal(one)
		if err != nil {
			t.Fatal(err)
		}
		back := New("").(*State)
		if err := json.Unmarshal(data, back); err != nil {
			t.Fatal(err)
		}
		again, err := json.Marshal(back)
		if err != nil || string(again) != string(data) {
			t.Fatalf("through JSON: %s, not %s (%v)", again, data, err)
		}
	})
}

// A task falls within the hours of calling, is never late before it can be done, comes after everything that was heard, and a
// final outcome ends the follow-up.
func TestTasksMakeSense(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := fact.Fold(New("v").(*State), drawn(t))
		c := caseOf(rapid.SampledFrom([]protocol.Band{protocol.CriticalHigh, protocol.CriticalLow, protocol.High, protocol.Low, protocol.Raised}).Draw(t, "band"))
		c.Post = rapid.Bool().Draw(t, "post")
		task, ok := s.Next(c)
		if status := s.Status(c); status.Final() && ok {
			t.Fatalf("%s, and still %+v", status, task)
		}
		if !ok {
			return
		}
		if !task.By.After(task.From) {
			t.Fatalf("from %s by %s", task.From, task.By)
		}
		if task.Kind == Write {
			if !c.Post {
				t.Fatal("a letter without an address")
			}
			return
		}
		if c.Rules.PartOf(task.From) < 0 {
			t.Fatalf("%s is outside of the hours of calling", task.From)
		}
		if task.Try > c.Rules.Attempts || task.Other != (task.Try >= c.Rules.OtherFrom) {
			t.Fatalf("%+v", task)
		}
		if heard := s.heard(); !heard.IsZero() && task.Why != LastAsk && !task.From.After(heard) {
			t.Fatalf("due %s, but heard of the person at %s", task.From, heard)
		}
	})
}
