package programme_test

import (
	"encoding/json"
	"testing"
	"time"

	"pgregory.net/rapid"

	"fairstick/internal/demo"
	"fairstick/internal/fact"
	"fairstick/internal/programme"
	"fairstick/internal/store"
	"fairstick/internal/visit"
)

// A visit with corrections of every sort amounts to the same whatever the order in which its facts arrive from other
// laptops, and a correction that arrives before what it corrects is not lost.
func TestCorrectionsArriveInAnyOrder(t *testing.T) {
	h := opened(t)
	g := h.tested("1", demo.Guest{Ate: 4 * time.Hour}, demo.Shot{Reading: "260"}, demo.Shot{Reading: "131"})
	other := h.guest("", demo.Guest{Ate: 2 * time.Hour})
	h.corrected(h.value(g, 0, "206"))
	h.corrected(h.value(g, 0, "226"))
	h.corrected(programme.Correct{Event: h.Event, Kind: programme.CorrectFood, Visit: g.ID, AteKnown: true, AteAt: h.visit(g).Times.FirstRead.Add(-10 * time.Hour)})
	h.corrected(programme.Correct{Event: h.Event, Kind: programme.CorrectTicket, Visit: g.ID, Fact: h.visit(g).Readings[1].ID, To: other.ID})
	h.corrected(programme.Correct{Event: h.Event, Kind: programme.CorrectLanguage, Visit: g.ID, Language: "es"})
	for _, id := range []string{g.ID, other.ID} {
		var recs []fact.Record
		h.must(h.store.Read(h.ctx, func(v *store.View) (err error) {
			recs, err = v.Records(visit.Ref(id))
			return err
		}))
		stands, err := json.Marshal(h.day().Visit(id))
		h.must(err)
		rapid.Check(t, func(t *rapid.T) {
			mixed := rapid.Permutation(recs).Draw(t, "arrival")
			state := fact.Fold(visit.New(id), mixed)
			got, err := json.Marshal(state)
			if err != nil || string(got) != string(stands) {
				t.Fatalf("folded to\n%s\nwant\n%s", got, stands)
			}
		})
		if n := len(h.day().Visit(id).Corrections); n == 0 {
			t.Errorf("no correction stands in %s", id)
		}
	}
}
