package programme_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"fairstick/internal/civil"
	"fairstick/internal/competence"
	"fairstick/internal/demo"
	"fairstick/internal/people"
	"fairstick/internal/programme"
)

func dutyOf(t *testing.T, r programme.StaffRecord, name string, role people.Role) programme.DutyRow {
	t.Helper()
	var found []programme.DutyRow
	for _, x := range r.Rows {
		if x.Name == name && x.Role == role {
			found = append(found, x)
		}
	}
	if len(found) == 0 {
		t.Fatalf("no row of %s as %s", name, role)
	}
	return found[len(found)-1]
}

// An inspector sees who stood where and verified for what when they took up the post, whatever was recorded afterwards; what ended it
// stands beside it.
func TestTheStaffOfADayAsItWas(t *testing.T) {
	h := class(t)
	h.verifier()
	h.proved()
	lead, nia := h.As("Lea Lead"), h.ID("Nia New")
	_, err := h.P.GrantLevel(h.ctx, lead, programme.GrantLevel{Act: h.Act(), Person: nia, Level: "screener"})
	h.must(err)
	h.prepare("")
	h.Clock.Set(h.Time("09:00"))
	h.must(h.open())
	move := func(station string) {
		t.Helper()
		_, err := h.P.PostPerson(h.ctx, lead, programme.PostPerson{Act: h.Act(), Event: h.Event, Person: nia, Role: "screener", Station: station})
		h.must(err)
	}
	h.Clock.Set(h.Time("09:10"))
	move("2")
	h.Clock.Set(h.Time("09:40"))
	move("3")
	_, err = h.P.Attend(h.ctx, lead, programme.Attend{Act: h.Act(), Event: h.Event, Person: nia, Here: true})
	h.must(err)
	h.Sit("3", demo.Seat{Screener: "Nia New", Meter: "M2", Lot: "A", Vial: "A1", Wipe: "wipes"})
	_, err = h.Read(h.ctx, h.guest("3", demo.Guest{}), "3", demo.Shot{Reading: "95"})
	h.must(err)
	h.later(5 * time.Minute)
	_, err = h.P.WithdrawLevel(h.ctx, lead, programme.WithdrawLevel{Act: h.Act(), Person: nia, Level: "screener", Reason: "recapped a lancet"})
	h.must(err)
	h.Clock.Set(h.Time("09:00").AddDate(0, 0, 3))
	_, err = h.P.WithdrawVerification(h.ctx, lead, programme.WithdrawVerification{Act: h.Act(), Person: h.ID("Ann Screener"), Role: "screener", Reason: "moved away"})
	h.must(err)

	r, err := h.P.EventStaffRecord(h.ctx, h.Event)
	h.must(err)
	var stations []string
	for _, x := range r.Rows {
		if x.Name == "Nia New" {
			stations = append(stations, x.Station+" "+x.From.Format("15:04"))
		}
	}
	if got := strings.Join(stations, ", "); got != "2 09:10, 3 09:40" {
		t.Errorf("she stood at %s", got)
	}
	row := dutyOf(t, r, "Nia New", people.Screener)
	if !row.Verified || row.Way != programme.ByTraining || row.By != "Lea Lead" || row.Since.String() != "2026-06-20" || row.Until.String() != "2027-02-28" || row.Readings != 1 {
		t.Errorf("when she took up the post: %+v", row)
	}
	kinds := map[string]int{}
	for _, e := range row.Evidence {
		kinds[e.What]++
	}
	if kinds[competence.MethodQuiz] != 1 || kinds[competence.MethodObserved] != 3 || kinds[competence.NeedBloodborne] != 1 || kinds[competence.NeedModel] != 1 || kinds[competence.NeedRehearsal] != 1 || kinds[competence.NeedHepatitisB] != 1 {
		t.Errorf("the evidence is %v", kinds)
	}
	if len(row.Later) != 1 || !strings.HasPrefix(row.Later[0], "By the end of that day: not verified.") || !strings.Contains(row.Later[0], "observations") {
		t.Errorf("what ended it: %q", row.Later)
	}
	ann := dutyOf(t, r, "Ann Screener", people.Screener)
	if !ann.Verified || ann.Way != programme.OnPaper || len(ann.Later) != 1 || !strings.HasPrefix(ann.Later[0], "By what is on record now: not verified. On paper: withdrawn (moved away).") {
		t.Errorf("withdrawn three days later: %+v", ann)
	}
	rep, err := h.P.Report(h.ctx, h.Event)
	h.must(err)
	for _, want := range []programme.StaffRow{
		{Name: "Nia New", Role: "screener", Station: "3", Here: true, Verified: "28 Feb 2027"},
		{Name: "Ann Screener", Role: "screener", Station: ann.Station, Here: ann.Here, Verified: ann.Until.Long()},
	} {
		if !slices.Contains(rep.Staff, want) {
			t.Errorf("the report of the event does not say %+v: %+v", want, rep.Staff)
		}
	}

	day := civil.MustParse("2026-06-20")
	on, err := h.P.VerifiedOn(h.ctx, day)
	h.must(err)
	if x := dutyOf(t, on, "Ann Screener", people.Screener); !x.Verified || x.Asked != true {
		t.Errorf("on the day itself: %+v", x)
	}
	if x := dutyOf(t, on, "Nia New", people.Screener); x.Verified || len(x.Missing) == 0 {
		t.Errorf("at the end of the day: %+v", x)
	}
	now, err := h.P.VerifiedOn(h.ctx, civil.Date{})
	h.must(err)
	if x := dutyOf(t, now, "Ann Screener", people.Screener); x.Verified || x.Missing[0] != "On paper: withdrawn (moved away)." || len(x.Later) != 0 {
		t.Errorf("today: %+v", x)
	}
	_, err = h.P.VerifiedOn(h.ctx, day.AddDays(-1))
	h.refused("field-on", err)
	_, err = h.P.VerifiedOn(h.ctx, day.AddDays(4))
	h.refused("field-on", err)
	_, err = h.P.EventStaffRecord(h.ctx, "none")
	h.refused("no-such-event", err)
}
