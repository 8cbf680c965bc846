package visit

import (
	"encoding/json"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"fairstick/internal/about"
	"fairstick/internal/fact"
	"fairstick/internal/protocol"
)

// What people say about themselves changes nothing else of a visit, wherever it comes, and a visit without it says nothing of it.
func TestAboutChangesNothingElse(t *testing.T) {
	at := time.Date(2026, 10, 10, 9, 0, 0, 0, time.UTC)
	facts := []fact.Body{Arrived{Event: "e", Ticket: 1, Language: "en"}, Consented{Version: "1"}, Answered{Eligible: true, Answers: protocol.Answers{"age": "46"}}, Ate{}, ContactRefused{}, Called{Step: AtTest, Station: "1"}, PutBack{}}
	fold := func(before int, told *AboutTold) *State {
		s := New("x").(*State)
		for i, b := range facts {
			if i == before {
				s.Apply(fact.Record{Body: *told, Meta: fact.Meta{At: at.Add(time.Duration(i) * time.Minute)}})
			}
			s.Apply(fact.Record{Body: b, Meta: fact.Meta{At: at.Add(time.Duration(i) * time.Minute)}})
		}
		return s
	}
	without := fold(-1, nil)
	if raw, err := json.Marshal(without); err != nil || strings.Contains(string(raw), "about") || without.Counts().About != "" {
		t.Errorf("a visit that was asked nothing: %s %v", raw, err)
	}
	for before := 1; before < len(facts); before++ {
		s := fold(before, &AboutTold{Asked: []string{about.Sex, about.Race}, Answers: about.Answers{about.Race: {"asian"}}})
		if got := s.Counts().About; got != "race=asian sex=" {
			t.Errorf("before fact %d it counts as %q", before, got)
		}
		s.About = nil
		if d := cmp.Diff(without, s); d != "" {
			t.Errorf("before fact %d: %s", before, d)
		}
	}
	s := fold(2, &AboutTold{Asked: []string{about.Sex, about.Race}, Answers: about.Answers{about.Race: {"asian"}}})
	s.Apply(fact.Record{Body: AboutTold{Asked: []string{about.Race}}, Meta: fact.Meta{At: at}})
	if got := s.Counts().About; got != "race= sex=" {
		t.Errorf("a later answer does not hold: %q", got)
	}
}
