package followup

import (
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"fairstick/internal/civil"
	"fairstick/internal/fact"
	"fairstick/internal/protocol"
)

// Whatever happened, what a follow-up counts as is read back, and stands as the state itself does.
func TestTallyStandsAsTheState(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := New("v").(*State)
		base := time.Date(2026, 6, 21, 9, 0, 0, 0, time.UTC)
		minute := rapid.IntRange(0, 600)
		for range rapid.IntRange(0, 6).Draw(t, "facts") {
			at := base.Add(time.Duration(minute.Draw(t, "at")) * time.Minute)
			var body fact.Body
			switch rapid.IntRange(0, 2).Draw(t, "what") {
			case 0:
				c := rapid.SampledFrom(Channels).Draw(t, "channel")
				body = AttemptMade{Channel: c, Happened: rapid.SampledFrom(Happenings(c)).Draw(t, "happened")}
			case 1:
				body = OutcomeTold{Outcome: rapid.SampledFrom(Outcomes).Draw(t, "outcome"), On: civil.MustParse("2026-07-01"), Source: FromPerson}
			case 2:
				body = ResultTold{Test: A1c, Said: rapid.SampledFrom(AllSaid).Draw(t, "said")}
			}
			s.Apply(fact.Record{Meta: fact.Meta{ID: "x", At: at, By: "p"}, Subject: Ref("v"), Body: body})
		}
		got, err := ReadTally(s.Tally())
		if err != nil {
			t.Fatal(err)
		}
		if d := cmp.Diff(s.Counts(), got); d != "" {
			t.Fatal(d)
		}
		c := Case{Renewed: base.Add(time.Duration(minute.Draw(t, "renewed")) * time.Minute), Rules: protocol.Calling{Attempts: rapid.IntRange(1, 4).Draw(t, "attempts")}}
		if rapid.Bool().Draw(t, "never renewed") {
			c.Renewed = time.Time{}
		}
		if a, b := s.Status(c), got.Status(c.Rules.Attempts, c.Renewed); a != b {
			t.Fatalf("the state stands at %q, its tally at %q", a, b)
		}
	})
	for _, bad := range []string{"", "1|y", "1|y|y|seen|1|soon|||", "1|y|y|seen|1|||x|"} {
		if _, err := ReadTally(bad); err == nil {
			t.Errorf("%q was read", bad)
		}
	}
}
