package paper

import (
	"strings"
	"testing"
	"time"

	"fairstick/internal/charter"
	"fairstick/internal/civil"
	"fairstick/internal/event"
	"fairstick/internal/people"
	"fairstick/internal/programme"
)

// The binder shows the staff of an event as it stood on the day, what came later beside it, and excuses nothing.
func TestBinderRoster(t *testing.T) {
	day := civil.MustParse("2026-06-20")
	at := time.Date(2026, 6, 20, 9, 10, 0, 0, time.UTC)
	d := &programme.Day{Charter: &charter.State{}, Event: &event.State{ID: "e1", Plan: event.Planned{Name: "Test Fair", Date: day}}}
	row := programme.DutyRow{
		Name: "Ann Screener", Role: people.Screener, Station: "1", From: at, Here: true, Asked: true, Verified: true, Way: programme.OnPaper, Since: day, Until: civil.MustParse("2026-12-31"), By: "Lea Lead",
		Later: []string{"By what is on record now: not verified. On paper: withdrawn (moved away)."},
	}
	b := &programme.Binder{From: day, To: day, Charter: &charter.State{}, Days: []*programme.Day{d}, Staff: map[string]programme.StaffRecord{"e1": {Rows: []programme.DutyRow{row}}}}
	doc := BinderDocument(b)
	for i, s := range doc.Sections {
		if !strings.HasSuffix(s.Heading, "Roster and verifications") {
			continue
		}
		if said := strings.Join(s.Paragraphs, " "); !strings.Contains(said, "by what was on record then") {
			t.Errorf("it says %q", said)
		}
		got := strings.Join(doc.Sections[i+1].Table.Rows[0], "|")
		want := "Ann Screener|screener, station 1; from 20 Jun, 09:10; here|Yes, on paper, from 20 Jun 2026 through 31 Dec 2026. By what is on record now: not verified. On paper: withdrawn (moved away).|Lea Lead|"
		if got != want {
			t.Errorf("got  %s\nwant %s", got, want)
		}
		return
	}
	t.Error("no roster in the binder")
}
