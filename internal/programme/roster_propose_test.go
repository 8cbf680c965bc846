package programme_test

import (
	"fmt"
	"math/rand/v2"
	"reflect"
	"strings"
	"testing"

	"fairstick/internal/demo"
	"fairstick/internal/fault"
	"fairstick/internal/people"
	"fairstick/internal/programme"
)

func (h *hall) propose(w programme.RosterWish) *programme.RosterProposal {
	h.t.Helper()
	_, p, err := h.P.ProposeRoster(h.ctx, h.Event, w)
	h.must(err)
	return p
}

// posts are the posts of a proposal as "name: role station", new ones with a plus.
func posts(p *programme.RosterProposal) []string {
	var out []string
	for _, x := range p.Posts {
		s := x.Person.Details.Name + ": " + strings.TrimSpace(x.Role+" "+x.Station)
		if x.New {
			s = "+" + s
		}
		out = append(out, s)
	}
	return out
}

func rows(p *programme.RosterProposal) []programme.RosterRow {
	var out []programme.RosterRow
	for _, x := range p.New() {
		out = append(out, programme.RosterRow{Person: x.Person.ID, Role: x.Role, Station: x.Station})
	}
	return out
}

var smallWish = programme.RosterWish{Supervisors: 2, Test: 2, Explain: 1, Desk: 1, Languages: []string{"en", "es"}}

func TestProposeAndAcceptARoster(t *testing.T) {
	h := ahead(t, func(s *demo.Programme) {
		s.People[1].Languages, s.People[1].Glove = []string{"en"}, "S"
		s.People[2].Languages, s.People[2].Glove = []string{"en", "es"}, "M"
	})
	p := h.propose(smallWish)
	want := []string{"+Lea Lead: supervisor", "+Sue Supervisor: supervisor", "+Cy Lapsed: desk D1", "+Ann Screener: screener 1", "+Bob Screener: screener 2", "+Dot Counsellor: counsellor E1"}
	if got := posts(p); !reflect.DeepEqual(got, want) {
		t.Errorf("%v, want %v", got, want)
	}
	if len(p.Lacking)+len(p.Unspoken)+len(p.Spare)+len(p.Dropped) != 0 || p.Ratio != nil || p.Hands != 3 || p.Supervisors != 2 {
		t.Errorf("%+v", p)
	}
	if len(p.Out) != 1 || p.Out[0].Why != "Cy Lapsed was verified as screener until 1 May 2026. The event is on 30 Jul 2026." {
		t.Errorf("refused: %+v", p.Out)
	}
	if !reflect.DeepEqual(p.Gloves, []programme.GloveCount{{Size: "S", Count: 1}, {Size: "M", Count: 1}}) || len(p.NoGlove) != 2 {
		t.Errorf("gloves %v, not known %v", p.Gloves, p.NoGlove)
	}
	if h.day().Event.Roster != nil {
		t.Error("a proposal changed the record")
	}

	accept := programme.AcceptRoster{Act: h.Act(), Event: h.Event, Rows: rows(p)}
	_, err := h.P.AcceptRoster(h.ctx, h.As("Ann Screener"), accept)
	h.refused("role", err)
	for range 2 { // a second press puts nobody anywhere twice
		_, err = h.P.AcceptRoster(h.ctx, h.As("Sue Supervisor"), accept)
		h.must(err)
	}
	if n := len(h.day().Event.Roster); n != 6 {
		t.Fatalf("%d on the roster", n)
	}
	accept.Act = h.Act()
	_, err = h.P.AcceptRoster(h.ctx, h.As("Lea Lead"), accept)
	h.refused("posted-meanwhile", err)
	again := h.propose(smallWish)
	if len(again.New()) != 0 || len(again.Lacking) != 0 || len(again.Posts) != 6 {
		t.Errorf("again: %v, lacking %v", posts(again), again.Lacking)
	}
	_, err = h.P.AcceptRoster(h.ctx, h.As("Lea Lead"), programme.AcceptRoster{Act: h.Act(), Event: h.Event})
	h.refused("nobody-proposed", err)
}

func TestAProposalThatGrewOldIsRefusedWhole(t *testing.T) {
	h := ahead(t)
	lead := h.As("Lea Lead")
	p := h.propose(smallWish)
	_, err := h.P.WithdrawVerification(h.ctx, lead, programme.WithdrawVerification{Act: h.Act(), Person: h.ID("Dot Counsellor"), Role: "counsellor", Reason: "hurried"})
	h.must(err)
	before := h.entries()
	_, err = h.P.AcceptRoster(h.ctx, lead, programme.AcceptRoster{Act: h.Act(), Event: h.Event, Rows: rows(p)})
	h.refused("not-verified", err)
	if h.entries() != before {
		t.Error("part of a refused roster was recorded")
	}
	_, err = h.P.Leave(h.ctx, lead, programme.Leave{Act: h.Act(), Person: h.ID("Cy Lapsed"), Reason: "moved"})
	h.must(err)
	_, err = h.P.AcceptRoster(h.ctx, lead, programme.AcceptRoster{Act: h.Act(), Event: h.Event, Rows: []programme.RosterRow{{Person: h.ID("Cy Lapsed"), Role: "desk"}}})
	h.refused("person-left", err)
	twice := programme.RosterRow{Person: h.ID("Ann Screener"), Role: "screener"}
	_, err = h.P.AcceptRoster(h.ctx, lead, programme.AcceptRoster{Act: h.Act(), Event: h.Event, Rows: []programme.RosterRow{twice, twice}})
	h.refused("field-rows", err)
}

func TestSomebodyDropsOut(t *testing.T) {
	h := ahead(t, func(s *demo.Programme) {
		s.People[1].Languages = []string{"en", "es"} // Ann
		proof := s.People[1].Verified
		s.People = append(s.People, demo.Person{Name: "Eve English", PIN: "5127", Roles: []string{"screener"}, Verified: proof, Languages: []string{"en"}},
			demo.Person{Name: "Flo Fluent", PIN: "5128", Roles: []string{"screener"}, Verified: proof, Languages: []string{"es"}})
	})
	h.must(post(h, "Ann Screener", "screener"))
	h.must(post(h, "Cy Lapsed", "desk"))
	_, err := h.P.Attend(h.ctx, h.As("Lea Lead"), programme.Attend{Act: h.Act(), Event: h.Event, Person: h.ID("Ann Screener"), Note: "ill"})
	h.must(err)
	p := h.propose(programme.RosterWish{Test: 1, Desk: 1, Languages: []string{"es"}})
	if got, want := posts(p), []string{"Cy Lapsed: desk", "+Flo Fluent: screener 1"}; !reflect.DeepEqual(got, want) {
		t.Errorf("%v, want %v", got, want)
	}
	if len(p.Dropped) != 1 || p.Dropped[0].Why != "Is not there: ill" {
		t.Fatalf("dropped: %+v", p.Dropped)
	}
	var got []string
	for _, s := range p.Dropped[0].Substitutes {
		got = append(got, fmt.Sprint(s.Person.Details.Name, s.Lost, s.Proposed))
	}
	if want := []string{"Flo Fluent[]screener", "Bob Screener[es]", "Eve English[es]"}; !reflect.DeepEqual(got, want) {
		t.Errorf("substitutes %v, want %v", got, want)
	}

	// Who has a post elsewhere on the same day is not free.
	set := h.set.Plan
	set.Act, set.Name = h.Act(), "Other Fair"
	other, err := h.P.PlanEvent(h.ctx, h.As("Lea Lead"), set)
	h.must(err)
	_, err = h.P.PostPerson(h.ctx, h.As("Lea Lead"), programme.PostPerson{Act: h.Act(), Event: other.ID, Person: h.ID("Flo Fluent"), Role: "screener"})
	h.must(err)
	p = h.propose(programme.RosterWish{Test: 1, Desk: 1, Languages: []string{"es"}})
	if len(p.Out) != 1 || p.Out[0].Why != "Flo Fluent has a post at Other Fair on the same day." || !reflect.DeepEqual(p.Unspoken, []string{"es"}) {
		t.Errorf("out %+v, unspoken %v", p.Out, p.Unspoken)
	}
}

func TestProposalsThatCannotBe(t *testing.T) {
	h := ahead(t, func(s *demo.Programme) {
		for i := range s.People {
			s.People[i].Verified = nil
		}
	})
	p := h.propose(programme.RosterWish{Supervisors: 1, Test: 12, Explain: 2, Desk: 1})
	if got := fmt.Sprint(p.Lacking); got != "[{screener 12} {counsellor 2}]" {
		t.Errorf("nobody is verified, and lacking is %s", got)
	}
	why := ""
	for _, x := range p.Out {
		why += x.Why + "\n"
	}
	for _, name := range []string{"Ann Screener", "Bob Screener", "Cy Lapsed"} {
		if !strings.Contains(why, name+" has never been verified as screener. The event is on 30 Jul 2026.") {
			t.Errorf("%s is not explained: %s", name, why)
		}
	}
	for name, w := range map[string]programme.RosterWish{
		"negative": {Test: -1}, "absurd": {Desk: 1000000}, "tongues": {Languages: strings.Split("abcdefghijklmnop", "")},
	} {
		_, _, err := h.P.ProposeRoster(h.ctx, h.Event, w)
		h.refused("fields", err)
		if f := fault.Of(err); f == nil || len(f.Fields) != 1 {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, _, err := h.P.ProposeRoster(h.ctx, "none", smallWish); !fault.Is(err, "no-such-event") {
		t.Error(err)
	}
	if _, p, err := h.P.ProposeRoster(h.ctx, h.Event, programme.RosterWish{}); err != nil || len(p.Posts) != 0 {
		t.Errorf("nothing wanted: %+v %v", p, err)
	}
}

func TestTheRatioIsSaidAMonthAhead(t *testing.T) {
	h := ahead(t)
	w := h.day().RosterWish()
	if w.Test != 1 || w.Explain != 1 || w.Desk != 1 || w.Supervisors != 1 {
		t.Errorf("the wish for an empty roster is %+v", w)
	}
	for _, c := range []struct{ supervisors, key string }{{"1", "ratio-wanted"}, {"0", "ratio-most"}, {"2", ""}} {
		n := int(c.supervisors[0] - '0')
		p := h.propose(programme.RosterWish{Supervisors: n, Test: 2, Explain: 1})
		if (p.Ratio == nil) != (c.key == "") || p.Ratio != nil && p.Ratio.Key != c.key {
			t.Errorf("3 hands under %s: %v", c.supervisors, p.Ratio)
		}
	}
	if f := h.propose(programme.RosterWish{Supervisors: 1, Test: 2, Explain: 1}).Ratio; f.Sentence != "3 people would test or counsel under 1 supervisor; the protocol wants 2 for each." || !strings.Contains(f.Do, "Find 1 more") {
		t.Errorf("%+v", f)
	}
}

// On random programmes a proposal never posts somebody who is not verified for the post on the day, who left, or who is
// elsewhere; and what it proposes can be accepted as it stands.
func TestAProposalCanAlwaysBeAccepted(t *testing.T) {
	draw := rand.New(rand.NewPCG(7, 8))
	h := ahead(t)
	lead := h.As("Lea Lead")
	roles := []string{"lead", "supervisor", "screener", "counsellor", "desk", "runner"}
	for i := range 24 {
		c := programme.DescribePerson{Act: h.Act(), Name: fmt.Sprint("Random ", i)}
		for _, r := range roles {
			if draw.IntN(3) == 0 {
				c.Roles = append(c.Roles, r)
			}
		}
		if c.Roles == nil {
			c.Roles = []string{"desk"}
		}
		if draw.IntN(2) == 0 {
			c.Languages = []string{[]string{"en", "es"}[draw.IntN(2)]}
		}
		d, err := h.P.DescribePerson(h.ctx, lead, c)
		h.must(err)
		for _, r := range c.Roles {
			until := []string{"2026-07-29", "2026-07-30", "2026-12-31"}[draw.IntN(3)]
			from := []string{"2026-01-01", "2026-07-31"}[draw.IntN(5)/4]
			if from < until && draw.IntN(4) > 0 {
				_, err := h.P.Verify(h.ctx, lead, programme.Verify{Act: h.Act(), Person: d.ID, Role: r, From: from, Until: until})
				h.must(err)
			}
		}
		if draw.IntN(6) == 0 {
			_, err := h.P.Leave(h.ctx, lead, programme.Leave{Act: h.Act(), Person: d.ID, Reason: "moved"})
			h.must(err)
		}
	}
	filled := 0
	for range 12 {
		set := h.set.Plan
		set.Act = h.Act()
		ev, err := h.P.PlanEvent(h.ctx, lead, set)
		h.must(err)
		w := programme.RosterWish{Supervisors: draw.IntN(3), Test: draw.IntN(4), Explain: draw.IntN(3), Desk: draw.IntN(3), Runners: draw.IntN(2), Languages: []string{"en", "es"}}
		d, p, err := h.P.ProposeRoster(h.ctx, ev.ID, w)
		h.must(err)
		for _, x := range p.Posts {
			if x.Person.Gone != "" || d.VerifiedFor(x.Person, people.Role(x.Role)) != nil || !x.Person.Has(people.Role(x.Role)) {
				t.Errorf("%s as %s", x.Person.Details.Name, x.Role)
			}
		}
		filled += len(p.Posts)
		if len(p.New()) == 0 {
			continue
		}
		_, err = h.P.AcceptRoster(h.ctx, lead, programme.AcceptRoster{Act: h.Act(), Event: ev.ID, Rows: rows(p)})
		h.must(err)
		_, again, err := h.P.ProposeRoster(h.ctx, ev.ID, w)
		h.must(err)
		if len(again.New()) != 0 || len(again.Dropped) != 0 || !reflect.DeepEqual(again.Lacking, p.Lacking) {
			t.Errorf("after it was accepted: %v, dropped %v, lacking %v and before %v", posts(again), again.Dropped, again.Lacking, p.Lacking)
		}
	}
	if filled < 12 {
		t.Errorf("only %d posts were filled: the draws show nothing", filled)
	}
}
