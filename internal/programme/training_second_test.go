package programme_test

import (
	"math"
	"testing"

	"fairstick/internal/competence"
	"fairstick/internal/competence/cards"
	"fairstick/internal/programme"
)

// Two verifiers watch the same fingersticks. The second form is refused from whoever did not watch as a second, counts for nothing else,
// and the two are compared.
func TestTwoObserversOfOneFingerstick(t *testing.T) {
	h := class(t)
	h.verifier()
	h.verifies("Lea Lead", "Sue Supervisor")
	second := func(of, by string, marks map[string]string) error {
		_, err := h.P.RecordSecondForm(h.ctx, h.As(by), programme.RecordSecondForm{Act: h.Act(), Person: h.ID("Nia New"), Of: of, Marks: marks, Observer: h.Sign(by)})
		return err
	}
	// Of 34 steps: both saw 29 done and 2 missed; Sue alone saw 2 missed, Lea alone 1.
	steps := cards.For(cards.Screener)
	plain := []string{}
	for _, s := range steps {
		if !s.Critical() {
			plain = append(plain, s.Key)
		}
	}
	sue, err := h.watch("Nia New", "Sue Supervisor", allSteps(cards.Screener, plain[0], plain[1], plain[2], plain[3]))
	h.must(err)
	before := h.lacking("Nia New", cards.Screener)
	h.refused("same-observer", second(sue.ID, "Sue Supervisor", allSteps(cards.Screener)))
	h.refused("observer-not-current", second(sue.ID, "Ann Screener", allSteps(cards.Screener)))
	h.refused("observe-self", second(sue.ID, "Nia New", allSteps(cards.Screener)))
	h.refused("no-such-observation", second("other", "Lea Lead", allSteps(cards.Screener)))
	h.refused("field-marks", second(sue.ID, "Lea Lead", nil))
	h.refused("field-marks", second(sue.ID, "Lea Lead", map[string]string{"no-step": "ok"}))
	h.must(second(sue.ID, "Lea Lead", allSteps(cards.Screener, plain[2], plain[3], plain[4])))
	h.refused("seen-already", second(sue.ID, "Lea Lead", allSteps(cards.Screener)))
	if after := h.lacking("Nia New", cards.Screener); after != before {
		t.Errorf("the second form changed what she lacks from %q to %q", before, after)
	}

	pairs, err := h.P.ObserverAgreement(h.ctx)
	h.must(err)
	if len(pairs) != 1 || pairs[0].Fingersticks != 1 || pairs[0].Agreement == nil {
		t.Fatalf("pairs %+v", pairs)
	}
	p := pairs[0]
	alone := map[string]int{p.First: p.Table[1][0], p.Second: p.Table[0][1]}
	if p.Table[0][0] != 29 || p.Table[1][1] != 2 || alone["Sue Supervisor"] != 2 || alone["Lea Lead"] != 1 {
		t.Errorf("the table is %v of %s and %s", p.Table, p.First, p.Second)
	}
	// By hand: po = 31/34; Sue missed 4, Lea 3: pe = (30*31 + 4*3)/34² = 942/1156; kappa = (1054-942)/(1156-942) = 112/214.
	if want := 112.0 / 214; math.Abs(p.Agreement.Kappa-want) > 1e-12 {
		t.Errorf("kappa %.6f, want %.6f", p.Agreement.Kappa, want)
	}
	if len(p.Differ) != 3 || p.Differ[0].Step.Key != plain[0] {
		t.Errorf("they differ on %+v", p.Differ)
	}

	// The next day is too late.
	again, err := h.watch("Nia New", "Lea Lead", allSteps(cards.Screener))
	h.must(err)
	h.Clock.Set(h.Time("09:00").AddDate(0, 0, 1))
	h.refused("another-day", second(again.ID, "Sue Supervisor", allSteps(cards.Screener)))
	err = h.P.MayObserve(h.ctx, h.ID("Nia New"), h.ID("Nia New"), "screener")
	h.refused("observe-self", err)
	h.must(h.P.MayObserve(h.ctx, h.ID("Sue Supervisor"), h.ID("Nia New"), "screener"))
	if r := competence.DefaultRules(); r.Ends(steps[0]) != steps[0].Critical() {
		t.Error("the default rules take a step off the critical ones")
	}
}
