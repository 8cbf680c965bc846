package programme_test

import (
	"encoding/json"
	"strings"
	"testing"

	"fairstick/internal/fact"
	"fairstick/internal/programme"
	"fairstick/internal/retention"
	"fairstick/internal/store"
	"fairstick/internal/visit"
)

func (h *hall) adoptTimes() {
	h.t.Helper()
	c := programme.AdoptRetention{Act: h.Act(), Months: map[retention.Class]int{}, Sources: map[retention.Class]string{}, First: h.Sign("Lea Lead"), Second: h.Sign("Sue Supervisor")}
	for _, r := range retention.Proposed {
		c.Months[r.Class], c.Sources[r.Class] = r.Months, r.Source
	}
	_, err := h.P.AdoptRetention(h.ctx, h.As("Lea Lead"), c)
	h.must(err)
}

func (h *hall) review() *programme.RetentionReview {
	h.t.Helper()
	r, err := h.P.Retention(h.ctx, h.As("Lea Lead"))
	h.must(err)
	return r
}

func (h *hall) figures() string {
	h.t.Helper()
	r, err := h.P.Report(h.ctx, h.Event)
	h.must(err)
	b, err := h.P.Binder(h.ctx, programme.AskBinder{From: "2026-06-20", Results: true})
	h.must(err)
	text, err := json.MarshalIndent(struct {
		R programme.Report
		B []programme.BinderResult
	}{r, b.Results}, "", " ")
	h.must(err)
	return string(text)
}

// A whole class of contacts is erased under two signatures: what is held stays, every figure stays, the keys are gone.
func TestEraseContactsByRetention(t *testing.T) {
	h, swapped := dayWithSwap(t)
	lead := h.As("Lea Lead")
	if r := h.review(); len(r.Over) != 0 || r.Erase != 0 || r.Classes[0].N != 3 || r.Classes[0].Over != 0 {
		t.Errorf("on the day: %+v", r)
	}
	erase := func(change ...func(*programme.EraseContacts)) error {
		c := programme.EraseContacts{Act: h.Act(), Expect: 2, First: h.Sign("Lea Lead"), Second: h.Sign("Sue Supervisor")}
		for _, f := range change {
			f(&c)
		}
		_, err := h.P.EraseContacts(h.ctx, lead, c)
		return err
	}
	h.Clock.Set(h.Time("12:00").AddDate(1, 0, 0)) // 20 June 2027 is the last day of the twelve months
	if r := h.review(); len(r.Over) != 0 {
		t.Errorf("on the last day: %+v", r.Over)
	}
	h.Clock.Set(h.Time("12:00").AddDate(1, 0, 1))
	look, err := h.P.OpenLookBack(h.ctx, lead, programme.OpenLookBack{Act: h.Act(), Ask: programme.AskBack{Event: h.Event, Screener: "Bob Screener", FromTime: "10:00", UntilTime: "11:30"}, Reason: "wrong lancets"})
	h.must(err)
	r := h.review()
	if r.Erase != 2 || r.Held != 1 || len(r.Over) != 1 || strings.Join(r.Over[0].Held, "; ") != "1: an open look-back touches them" || r.Over[0].Until.String() != "2027-06-20" || r.Through.String() != "2026-06-20" || r.Classes[0].Over != 3 {
		t.Fatalf("%+v", r)
	}
	h.refused("no-retention-rules", erase())
	h.adoptTimes()
	h.refused("fields", func() error {
		_, err := h.P.AdoptRetention(h.ctx, lead, programme.AdoptRetention{Act: h.Act(), First: h.Sign("Lea Lead"), Second: h.Sign("Sue Supervisor")})
		return err
	}())
	for key, change := range map[string]func(*programme.EraseContacts){
		"review-changed": func(c *programme.EraseContacts) { c.Expect = 3 },
		"signature-role": func(c *programme.EraseContacts) { c.Second = h.Sign("Ann Screener") },
		"signature":      func(c *programme.EraseContacts) { c.Second = programme.Sign{} },
	} {
		h.refused(key, erase(change))
	}
	if err := erase(func(c *programme.EraseContacts) { c.Second = c.First }); err == nil {
		t.Error("one person signed twice")
	}
	if _, err := h.P.EraseContacts(h.ctx, h.As("Sue Supervisor"), programme.EraseContacts{Act: h.Act(), Expect: 2, First: h.Sign("Lea Lead"), Second: h.Sign("Sue Supervisor")}); err == nil {
		t.Error("a supervisor erased")
	}
	before := h.figures()
	act := h.Act()
	for range 2 { // a second press erases nothing more
		h.must(erase(func(c *programme.EraseContacts) { c.Act = act }))
	}
	if after := h.figures(); after != before {
		t.Errorf("a figure has changed:\n%s\n%s", before, after)
	}
	r = h.review()
	if r.Erase != 0 || r.Held != 1 || len(r.Erasures) != 1 || r.Erasures[0].Visits != 2 || r.Erasures[0].Held != 1 || r.Erasures[0].Second.Name != "Sue Supervisor" {
		t.Errorf("%+v", r)
	}
	proof, err := h.P.ErasureProof(h.ctx, lead, r.Erasures[0].ID)
	h.must(err)
	if proof.Found != 2 || proof.KeysLeft != 0 || !proof.Backup.IsZero() {
		t.Errorf("%+v", proof)
	}
	_, err = h.P.ErasureProof(h.ctx, h.As("Sue Supervisor"), r.Erasures[0].ID)
	h.refused("role", err)
	_, err = h.P.ErasureProof(h.ctx, lead, "nothing")
	h.refused("no-such-erasure", err)
	keys := 0
	all, err := programme.List[*visit.State](h.ctx, h.P, visit.Kind)
	h.must(err)
	h.must(h.store.Read(h.ctx, func(v *store.View) error {
		for _, s := range all {
			if ok, err := v.HasKey(fact.Ref{Kind: visit.Kind, ID: s.ID}); err != nil || ok {
				keys++
			}
		}
		return nil
	}))
	if held, _, err := h.P.OpenContact(h.ctx, lead, swapped[0].ID); keys != 1 || err != nil || held.Name != "Invented Ivy" {
		t.Errorf("%d keys left, %v", keys, err)
	}
	// When the look-back is closed, the last one can go.
	_, err = h.P.CloseLookBack(h.ctx, lead, programme.CloseLookBack{Act: h.Act(), LookBack: look.ID, Outcome: "called", Sign: h.Sign("Lea Lead")})
	h.must(err)
	h.must(erase(func(c *programme.EraseContacts) { c.Expect = 1 }))
	h.refused("nothing-over", erase())
	report, err := h.P.Check(h.ctx)
	if err != nil || len(report.Problems) > 0 {
		t.Errorf("%+v %v", report, err)
	}
}

// An open incident holds what it is about: the ticket, the meter, or the whole event when it names nothing.
func TestIncidentsHoldContacts(t *testing.T) {
	h, swapped := dayWithSwap(t)
	lead := h.As("Lea Lead")
	h.Clock.Set(h.Time("12:00").AddDate(2, 0, 0))
	held := func(c programme.ReportIncident) int {
		t.Helper()
		c.Act, c.Event, c.Sort = h.Act(), h.Event, "device-problem"
		done, err := h.P.ReportIncident(h.ctx, lead, c)
		h.must(err)
		n := h.review().Held
		_, err = h.P.WithdrawIncident(h.ctx, lead, programme.WithdrawIncident{Act: h.Act(), Incident: done.ID, Reason: "only tried"})
		h.must(err)
		return n
	}
	for _, x := range []struct {
		c    programme.ReportIncident
		want int
	}{{programme.ReportIncident{Visit: swapped[0].ID}, 1}, {programme.ReportIncident{Meter: h.ID("M1")}, 1}, {programme.ReportIncident{Meter: h.ID("M2")}, 2}, {programme.ReportIncident{}, 3}} {
		if got := held(x.c); got != x.want {
			t.Errorf("%+v holds %d, want %d", x.c, got, x.want)
		}
	}
	if r := h.review(); r.Held != 0 || r.Erase != 3 {
		t.Errorf("%+v", r)
	}
}
