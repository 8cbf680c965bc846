package programme_test

import (
	"log/slog"
	"path/filepath"
	"testing"
	"time"

	"fairstick/internal/civil"
	"fairstick/internal/demo"
	"fairstick/internal/programme"
	"fairstick/internal/store"
)

// sealedHall is the hall on an encrypted record, in a house that counts how often it was told to lock.
func sealedHall(t *testing.T) (h *hall, locked *int) {
	t.Helper()
	clock := demo.NewClock(time.Date(2026, 6, 20, 7, 0, 0, 0, time.UTC))
	st, err := store.Create(t.Context(), store.Options{
		Dir: t.TempDir() + "/data", Catalogue: programme.Catalogue(), Now: clock.Now, Passphrase: func() ([]byte, error) { return []byte("four heron paper lantern"), nil },
	})
	if err != nil {
		t.Fatal(err)
	}
	p := programme.New(st, clock.Now, slog.New(slog.DiscardHandler))
	t.Cleanup(func() {
		p.StopCopy()
		if err := st.Close(); err != nil {
			t.Error(err)
		}
	})
	h = &hall{t: t, ctx: t.Context(), store: st, set: setting()}
	h.Stage = demo.NewStage(p, clock, time.UTC, civil.MustParse("2026-06-20"))
	if err := h.Build(h.ctx, h.set); err != nil {
		t.Fatal(err)
	}
	clock.Set(h.Time("08:00"))
	locked = new(int)
	p.Move(&programme.House{Lock: func() { *locked++ }})
	return h, locked
}

func (h *hall) due() bool {
	h.t.Helper()
	due, err := h.P.LockIsDue(h.ctx)
	if err != nil {
		h.t.Fatal(err)
	}
	return due
}

// The record locks itself after a while without anybody at work, but never while an event is open.
func TestTheRecordLocksItself(t *testing.T) {
	h, locked := sealedHall(t)
	lead, screener := h.As("Lea Lead"), h.As("Ann Screener")
	if h.due() {
		t.Error("it is due at once")
	}
	h.later(14 * time.Minute)
	if h.due() {
		t.Error("it is due after 14 minutes")
	}
	token, err := h.P.SignIn(h.ctx, "a device", lead.Person, "4821")
	h.must(err)
	if _, err := h.P.Who(h.ctx, "a device", token); err != nil {
		t.Fatal(err)
	}
	h.later(14 * time.Minute)
	if h.due() {
		t.Error("somebody was at work 14 minutes ago")
	}
	h.later(time.Minute)
	if !h.due() {
		t.Error("it is not due after 15 minutes")
	}
	h.must(h.P.SetRecordIdle(h.ctx, lead, 0))
	if h.due() {
		t.Error("0 means never")
	}
	h.must(h.P.SetRecordIdle(h.ctx, lead, 20))
	if h.due() {
		t.Error("20 minutes were set, 15 are over")
	}
	h.refused("field-idle", h.P.SetRecordIdle(h.ctx, lead, -1))
	h.refused("role", h.P.SetRecordIdle(h.ctx, screener, 5))
	h.refused("role", h.P.LockNow(h.ctx, screener))
	h.refused("role", h.P.SetCopy(h.ctx, screener, "/media/stick", false))
	if *locked != 0 {
		t.Error("it was locked by somebody who may not")
	}
	h.must(h.P.LockNow(h.ctx, lead))
	if *locked != 1 {
		t.Error("the lead's word did not lock it")
	}
	h.prepare("")
	h.must(h.open())
	h.later(10 * time.Hour)
	if h.due() {
		t.Error("it would lock in the middle of an event")
	}
}

// A record without a passphrase cannot be locked, and one without a house is not encrypted from a page.
func TestAPlainRecordDoesNotLock(t *testing.T) {
	h := newHall(t)
	h.P.Move(&programme.House{Lock: func() { t.Error("it was locked") }})
	h.later(10 * time.Hour)
	if h.due() {
		t.Error("it would lock")
	}
	h.refused("no-passphrase", h.P.LockNow(h.ctx, h.As("Lea Lead")))
	h.refused("not-here", h.P.SetPassphrase(h.ctx, h.As("Lea Lead"), nil, []byte("four heron paper lantern")))
}

// The state of the second copy is known to whoever draws the board.
func TestCopyStateIsKnown(t *testing.T) {
	h, _ := sealedHall(t)
	if s := h.P.CopyState(); s.Dir != "" || s.Fault != nil {
		t.Errorf("before: %+v", s)
	}
	dir := filepath.Join(t.TempDir(), "no", "stick", "here")
	h.must(h.P.SetCopy(h.ctx, programme.Actor{}, dir, false))
	for end := time.Now().Add(20 * time.Second); ; <-time.After(20 * time.Millisecond) {
		if s := h.P.CopyState(); s.Dir == dir && s.Fault != nil && s.Fault.Key == "copy-gone" {
			break
		}
		if time.Now().After(end) {
			t.Fatalf("it says %+v", h.P.CopyState())
		}
	}
	h.refused("field-copy", h.P.SetCopy(h.ctx, h.As("Lea Lead"), "stick", false))
	h.must(h.P.SetCopy(h.ctx, h.As("Lea Lead"), "", false))
	if s := h.P.CopyState(); s.Dir != "" {
		t.Errorf("after it was ended: %+v", s)
	}
}
