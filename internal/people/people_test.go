package people

import (
	"testing"
	"time"

	"fairstick/internal/civil"
	"fairstick/internal/fact"
)

func TestVerifiedOn(t *testing.T) {
	s := New("p").(*State)
	apply := func(b fact.Body) {
		s.Apply(fact.Record{Meta: fact.Meta{At: time.Date(2025, 1, 1, 0, 0, 0, 0, time.UTC)}, Body: b})
	}
	apply(Described{Name: "Ben", Roles: []Role{Screener, Desk}})
	if _, ok := s.LastFor(Screener); ok {
		t.Error("nobody is verified without proof")
	}
	apply(Verified{Role: Screener, From: civil.MustParse("2024-10-02"), Until: civil.MustParse("2025-10-01")})
	for day, want := range map[string]bool{"2024-10-01": false, "2024-10-02": true, "2025-10-01": true, "2025-10-04": false} {
		if _, ok := s.VerifiedOn(Screener, civil.MustParse(day)); ok != want {
			t.Errorf("on %s: %v, want %v", day, ok, want)
		}
	}
	if _, ok := s.VerifiedOn(Counsellor, civil.MustParse("2025-01-01")); ok {
		t.Error("proof for one role is not proof for another")
	}
	apply(Verified{Role: Screener, From: civil.MustParse("2025-10-02"), Until: civil.MustParse("2026-10-01")})
	apply(VerificationWithdrawn{Role: Screener, Reason: "wrong lancet"})
	if _, ok := s.VerifiedOn(Screener, civil.MustParse("2025-12-01")); ok {
		t.Error("a withdrawn verification does not stand")
	}
	if v, _ := s.LastFor(Screener); v.Withdrawn != "wrong lancet" || v.Until != civil.MustParse("2026-10-01") {
		t.Errorf("last verification %+v", v)
	}
	if !s.Has(Desk) || s.Has(Lead) {
		t.Error("roles")
	}
}
