package programme_test

import (
	"strings"
	"testing"
	"time"

	"fairstick/internal/demo"
	"fairstick/internal/download"
	"fairstick/internal/glucose"
	"fairstick/internal/programme"
)

// memoryOf makes the rows of a meter's memory out of the log, by a clock that is off.
func (h *hall) memoryOf(meter string, off time.Duration, change func([]download.Row) []download.Row) []download.Row {
	h.t.Helper()
	d, err := h.P.Day(h.ctx, h.Event)
	h.must(err)
	entries, _ := d.MeterLog(h.ID(meter))
	var rows []download.Row
	for i, e := range entries {
		mark := download.Person
		if e.Control {
			mark = download.Control
		}
		rows = append(rows, download.Row{Line: i + 2, At: e.At.Add(off).Truncate(time.Minute), Reading: e.Reading, Mark: mark})
	}
	if change != nil {
		rows = change(rows)
	}
	return rows
}

func (h *hall) record(meter string, rows []download.Row) error {
	_, err := h.P.RecordDownload(h.ctx, h.As("Cy Lapsed"), programme.RecordDownload{Act: h.Act(), Event: h.Event, Meter: h.ID(meter), Rows: rows})
	return err
}

// A download stands for the count of a memory, its differences are sums of the closing, and a correction of the log takes
// them away without a new download.
func TestADownloadAtClosing(t *testing.T) {
	h := opened(t)
	g := h.wholeVisit("1", "95")
	for _, v := range []string{"112", "131", "104"} {
		h.later(3 * time.Minute)
		h.wholeVisit("1", v)
	}
	_, err := h.P.CloseDoors(h.ctx, h.As("Lea Lead"), programme.CloseDoors{Act: h.Act(), Event: h.Event})
	h.must(err)

	h.must(h.record("M1", h.memoryOf("M1", -time.Hour, nil)))
	d, err := h.P.Day(h.ctx, h.Event)
	h.must(err)
	x, ok := d.Download(h.ID("M1"))
	if !ok || x.Same != 6 || x.Day != 6 || x.Unlike() != 0 || len(x.Clocks) != 1 || !strings.Contains(x.Clocks[0].Words(), "1 hour behind") {
		t.Fatalf("%+v", x)
	}
	if diff := h.differences(); diff["Download of meter M1"] != 0 || diff["Memory of meter M1"] != 0 {
		t.Errorf("differences %v", diff)
	}

	// The meter says 59 where 95 was written down, and has a row that nobody wrote down.
	h.must(h.record("M1", h.memoryOf("M1", -time.Hour, func(rows []download.Row) []download.Row {
		for i := range rows {
			if rows[i].Reading == glucose.Number(glucose.MgDL(95)) {
				rows[i].Reading = glucose.Number(glucose.MgDL(59))
			}
		}
		return append(rows, download.Row{Line: 99, At: rows[0].At.Add(30 * time.Minute), Reading: glucose.Number(glucose.MgDL(143)), Mark: download.Person})
	})))
	if diff := h.differences(); diff["Download of meter M1"] != 2 || diff["Memory of meter M1"] != 1 {
		t.Errorf("differences %v", diff)
	}
	d, err = h.P.Day(h.ctx, h.Event)
	h.must(err)
	x, _ = d.Download(h.ID("M1"))
	said := ""
	for _, f := range x.Differences {
		said += x.Say(f, time.UTC) + "\n"
	}
	for _, want := range []string{"The value differs. Log: ticket 001, 95 mg/dL", "Meter: 59 mg/dL", "Nobody wrote down what the meter has: 143 mg/dL"} {
		if !strings.Contains(said, want) {
			t.Errorf("want %q in:\n%s", want, said)
		}
	}

	v := d.Visit(g.ID)
	c := programme.Correct{
		Act: h.Act(), Event: h.Event, Kind: programme.CorrectReading, Visit: v.ID, Fact: v.Readings[0].ID, Reading: "59", Again: "59", Meter: h.ID("M1"), StripLot: h.ID("A"), Vial: "A1",
		Purpose: v.Readings[0].Purpose, Washed: v.Readings[0].Washed, Reason: "as in the meter", Sign: h.Sign("Lea Lead"),
	}
	seen, err := h.P.PreviewCorrection(h.ctx, h.As("Lea Lead"), c)
	h.must(err)
	c.Digest = seen.Digest
	_, err = h.P.Correct(h.ctx, h.As("Lea Lead"), c)
	h.must(err)
	if diff := h.differences(); diff["Download of meter M1"] != 1 {
		t.Errorf("after the correction: %v", diff)
	}
	rep, err := h.store.Check(h.ctx)
	if err != nil || !rep.OK() {
		t.Errorf("record: %v %v", rep.Problems, err)
	}
}

func TestADownloadIsRefused(t *testing.T) {
	h := opened(t)
	h.wholeVisit("1", "95")
	_, err := h.P.CloseDoors(h.ctx, h.As("Lea Lead"), programme.CloseDoors{Act: h.Act(), Event: h.Event})
	h.must(err)
	h.refused("field-file", h.record("M1", nil))
	h.refused("field-file", h.record("M1", make([]download.Row, programme.MostDownloaded+1)))
	h.refused("no-such-meter", h.record("M9", h.memoryOf("M1", 0, nil)))
	h.refused("no-rows-of-day", h.record("M2", h.memoryOf("M1", -240*time.Hour, func(rows []download.Row) []download.Row { return rows[:2] })))
	act := h.Act()
	rows := h.memoryOf("M1", 0, nil)
	for range 2 { // a second press is the same act
		_, err = h.P.RecordDownload(h.ctx, h.As("Cy Lapsed"), programme.RecordDownload{Act: act, Event: h.Event, Meter: h.ID("M1"), Rows: rows})
		h.must(err)
	}
	if diff := h.differences(); diff["Download of meter M1"] != 0 {
		t.Errorf("differences %v", diff)
	}
}

// Names leave under a lead's signature alone, are counted, and only a lead may look.
func TestHandOut(t *testing.T) {
	h := opened(t)
	g := h.guest("1", demo.Guest{Contact: programme.Contact{Allow: true, Call: true, Name: "Invented Guest", Phone: "555 0100"}})
	kept := h.guest("2", demo.Guest{Contact: programme.Contact{Allow: true, Name: "Invented Other", Phone: "555 0101"}})
	h.guest("", demo.Guest{})
	span := programme.Reach{Event: h.Event}
	n, err := h.P.CountHandOut(h.ctx, h.As("Lea Lead"), programme.HandOut{Reach: span})
	h.must(err)
	if n.Events != 1 || n.Visits != 3 || n.Contacts != 2 || n.Calls != 1 || n.Open != 1 {
		t.Errorf("%+v", n)
	}
	_, err = h.P.CountHandOut(h.ctx, h.As("Sue Supervisor"), programme.HandOut{Reach: span})
	h.refused("role", err)
	sign := programme.SignHandOut{Act: h.Act(), HandOut: programme.HandOut{Reach: span, Names: true}, What: "fhir", To: "Example Clinic", Sign: h.Sign("Sue Supervisor")}
	_, err = h.P.SignHandOut(h.ctx, h.As("Lea Lead"), sign)
	h.refused("signature-role", err)
	sign.Sign = h.Sign("Lea Lead")
	for range 2 {
		_, err = h.P.SignHandOut(h.ctx, h.As("Lea Lead"), sign)
		h.must(err)
	}
	ch, err := h.P.Charter(h.ctx)
	h.must(err)
	if len(ch.HandedOut) != 1 || ch.HandedOut[0].Contacts != 2 || ch.HandedOut[0].To != "Example Clinic" || ch.HandedOut[0].Signed != h.ID("Lea Lead") {
		t.Errorf("%+v", ch.HandedOut)
	}
	look := func() map[string]*programme.Contact {
		out := map[string]*programme.Contact{}
		h.must(h.P.HandOut(h.ctx, h.As("Lea Lead"), programme.HandOut{Reach: span, Names: true}, func(walk programme.Walk) error {
			return walk(func(x *programme.Leaving) error {
				for i := range x.Going {
					out[x.Going[i].ID] = x.Going[i].Contact
				}
				return nil
			})
		}))
		return out
	}
	got := look()
	if c := got[g.ID]; c == nil || c.Name != "Invented Guest" || c.Phone != "555 0100" {
		t.Errorf("with leave to call: %+v", c)
	}
	if c := got[kept.ID]; c == nil || c.Name != "Invented Other" || c.Phone != "" {
		t.Errorf("without leave to call: %+v", c)
	}
	_, err = h.P.EraseContact(h.ctx, h.As("Lea Lead"), programme.EraseContact{Act: h.Act(), Visit: g.ID, Reason: programme.EraseAsked, Confirmed: true, Sign: h.Sign("Lea Lead")})
	h.must(err)
	if c := look()[g.ID]; c != nil {
		t.Errorf("erased: %+v", c)
	}
	err = h.P.HandOut(h.ctx, h.As("Lea Lead"), programme.HandOut{Reach: programme.Reach{Event: "nothing"}}, func(programme.Walk) error { return nil })
	h.refused("no-such-event", err)
}

// What never happened and what was moved still leaves, marked as such.
func TestWithdrawnReadingsLeave(t *testing.T) {
	h := opened(t)
	g := h.wholeVisit("1", "95")
	d, err := h.P.Day(h.ctx, h.Event)
	h.must(err)
	c := programme.Correct{Act: h.Act(), Event: h.Event, Kind: programme.CorrectStruck, Visit: g.ID, Fact: d.Visit(g.ID).Readings[0].ID, Reason: "typed for nobody", Sign: h.Sign("Lea Lead")}
	seen, err := h.P.PreviewCorrection(h.ctx, h.As("Lea Lead"), c)
	h.must(err)
	c.Digest = seen.Digest
	_, err = h.P.Correct(h.ctx, h.As("Lea Lead"), c)
	h.must(err)
	h.must(h.P.HandOut(h.ctx, h.As("Lea Lead"), programme.HandOut{Reach: programme.Reach{Event: h.Event}}, func(walk programme.Walk) error {
		return walk(func(x *programme.Leaving) error {
			v := x.Going[0]
			if len(v.Readings) != 0 || len(v.Withdrawn) != 1 || v.Withdrawn[0].Reading.Shown() != "95" || v.Withdrawn[0].ID != c.Fact {
				t.Errorf("%+v", v)
			}
			return nil
		})
	}))
}
