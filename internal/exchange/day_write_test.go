package exchange_test

import (
	"bytes"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"fairstick/internal/exchange"
	"fairstick/internal/programme"
)

// files gives the day of a hall as the two files that import day reads.
func (h *paperHall) files(names bool) (visits, controls []programme.ImportRow, text string) {
	h.t.Helper()
	got, err := h.P.DayRows(h.ctx, programme.Actor{}, programme.HandOut{Reach: programme.Reach{Event: h.Event}, Names: names})
	h.must(err)
	if len(got.Skipped) != 0 {
		h.t.Errorf("skipped: %v", got.Skipped)
	}
	read := func(file string, rows []map[string]string) []programme.ImportRow {
		var buf bytes.Buffer
		h.must(exchange.WriteDay(&buf, file, rows))
		text += buf.String()
		d, err := exchange.ReadDay(file, &buf)
		h.must(err)
		if len(d.Bad) != 0 {
			h.t.Fatalf("%s: %v", file, d.Bad)
		}
		return d.Rows
	}
	return read(exchange.DayVisits, got.Visits), read(exchange.DayControls, got.Controls), text
}

// A day that was recorded live, written as files and typed into a record of the same programme, has the same report and the same
// times; a second load adds nothing.
func TestALiveDayComesBackFromItsFiles(t *testing.T) {
	live := newPaperHall(t)
	live.live()
	visits, controls, text := live.files(true)
	if !strings.Contains(text, "Invented Guest 5") {
		t.Error("no names")
	}
	want := live.finish()

	typed := newPaperHall(t)
	done := typed.load(visits, controls)
	if done.Visits != 13 || done.Controls != 7 || !done.Recorded {
		t.Fatalf("loaded %+v", done)
	}
	again := typed.load(visits, controls)
	if again.Visits != 0 || again.VisitsThere != 13 || again.ControlsThere != 7 {
		t.Errorf("again: %+v", again)
	}
	got := typed.finish()
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("the report differs (-live +files):\n%s", d)
	}
	if d := cmp.Diff(live.times(), typed.times()); d != "" {
		t.Errorf("the times differ (-live +files):\n%s", d)
	}
}

// The files of a day loaded into the record that they came from add nothing, with names or without; a changed cell is told.
func TestTheFilesOfADayAgainstItsRecord(t *testing.T) {
	h := newPaperHall(t)
	h.live()
	before, err := h.P.Check(h.ctx)
	h.must(err)
	for _, names := range []bool{false, true} {
		visits, controls, text := h.files(names)
		if strings.Contains(text, "Invented Guest") != names || strings.Contains(text, "555 010") != names {
			t.Errorf("names %v:\n%s", names, text)
		}
		done := h.load(visits, controls)
		if done.Visits != 0 || done.VisitsThere != 13 || done.Controls != 0 || done.ControlsThere != 7 {
			t.Errorf("%+v", done)
		}
		visits[0] = with(visits[0], "reading1_value", "113")
		changed, err := h.P.ImportDay(h.ctx, h.As("Lea Lead"), programme.ImportDay{Event: h.Event, Visits: visits, Controls: controls})
		h.must(err)
		if len(changed.Bad) != 1 || changed.Bad[0].Line != visits[0].Line || changed.Bad[0].Column != "row" || changed.Recorded {
			t.Errorf("%+v", changed)
		}
	}
	after, err := h.P.Check(h.ctx)
	h.must(err)
	if before.Summary != after.Summary {
		t.Errorf("something was recorded: %s, then %s", before.Summary, after.Summary)
	}
}
