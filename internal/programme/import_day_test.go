package programme_test

import (
	"strings"
	"testing"

	"fairstick/internal/programme"
)

// row is a visit of a file, usual but for what is changed: "column=value".
func (h *hall) row(line int, changes ...string) programme.ImportRow {
	values := map[string]string{
		"form": "7", "arrived": "9:10", "outcome": "Tested", "consent_time": "9:12", "consent_how": "read aloud", "answer_crisis_signs": "None", "answer_age": "46",
		"answer_known_diabetes": "N", "answer_pregnancy": "0", "answer_icodextrin": "no", "answer_bleeding": "no", "answer_fainted": "no", "answer_arm": "no",
		"last_food": "7:00", "contact": "no", "reading1_time": "9:20", "reading1_value": "112", "reading1_meter": "m1", "reading1_strip_lot": "a", "reading1_vial": "A1",
		"reading1_station": "1", "reading1_screener": "ann screener", "reading1_washed": "Sí", "reading1_sharps": "1", "reading1_wiped": "9:21",
		"explained": "9:30 am", "explained_by": "Dot Counsellor", "teach_back": "own words", "slip": "si", "ended": "09:40",
	}
	for _, c := range changes {
		column, value, _ := strings.Cut(c, "=")
		values[column] = value
	}
	return programme.ImportRow{Line: line, Values: values}
}

func (h *hall) dry(rows ...programme.ImportRow) programme.ImportedDay {
	h.t.Helper()
	done, err := h.P.ImportDay(h.ctx, h.As("Lea Lead"), programme.ImportDay{Event: h.Event, Visits: rows, Dry: true})
	h.must(err)
	return done
}

func TestCellsOfADay(t *testing.T) {
	h := paperHall(t)
	if done := h.dry(h.row(2)); done.Wrong() || done.Signs() || done.Visits != 1 || done.Recorded {
		t.Fatalf("a usual row: %+v", done)
	}
	for _, good := range []string{
		"arrived=09:10", "arrived=9:10:30", "arrived=9:10 a.m.", "ended=11:40 a. m.", "ended=12:00 pm", "last_food=yesterday 21:30", "last_food=ayer 9:30 pm", "last_food=2026-06-19 21:30",
		"last_food=not known", "contact=", "reading1_value=lo", "reading1_purpose=first", "reading1_read_by=Bob Screener", "reading1_misfires=2", "form=",
	} {
		rows := h.row(2, good)
		if good == "form=" {
			rows = h.row(2, good, "row=first of the blue pad")
		}
		if done := h.dry(rows); done.Wrong() {
			t.Errorf("%s: %+v", good, done.Bad)
		}
	}
	for bad, column := range map[string]string{
		"arrived=": "arrived", "arrived=25:10": "arrived", "arrived=9:60": "arrived", "arrived=9": "arrived", "arrived=9.10": "arrived", "arrived=13:10 pm": "arrived", "arrived=0:10 am": "arrived",
		"arrived=9:5": "arrived", "arrived=9:1 0": "arrived", "arrived=9:1.0": "arrived", "arrived=9:10 h": "arrived", "ended=1:00 pm": "ended", "outcome=fine": "outcome", "outcome=": "outcome", "consent_how=shouted": "consent_how", "consent_time=": "consent_time",
		"answer_age=old": "answer_age", "answer_age=": "answer_age", "answer_arm=maybe": "answer_arm", "answer_shoe=44": "answer_shoe", "answer_crisis_signs=none|vomiting": "answer_crisis_signs",
		"last_food=noon": "last_food", "last_food=9:30": "last_food", "contact=perhaps": "contact", "contact_name=Invented": "contact", "form=x": "form", "form=-1": "form", "form=": "form", "form=12345": "form",
		"reading1_meter=M8": "reading1_meter", "reading1_strip_lot=Z": "reading1_strip_lot", "reading1_screener=Nobody": "reading1_screener", "reading1_washed=": "reading1_washed",
		"reading1_value=": "reading1_value", "reading1_value=1,2": "reading1_value", "reading1_misfires=some": "reading1_misfires", "reading1_wipe=vinegar": "reading1_wipe", "reading3_value=112": "reading3_time",
		"explained_by=": "explained_by", "teach_back=": "teach_back", "care_sugar_time=9:25": "care_sugar_choice", "language=xx": "language",
	} {
		done := h.dry(h.row(5, bad))
		found := false
		for _, b := range done.Bad {
			found = found || b.Line == 5 && b.Column == column && b.Sentence != ""
		}
		if !found {
			t.Errorf("%s: want a message at %s, got %+v", bad, column, done.Bad)
		}
	}
}

// Every bad row is named, not the first alone, and with one of them nothing is recorded.
func TestEveryBadRowOfADayIsNamed(t *testing.T) {
	h := paperHall(t)
	rows := []programme.ImportRow{h.row(2), h.row(3, "form=8", "reading1_value=1118", "explained_by=Nobody"), h.row(4, "form=9"), h.row(5, "form=7"), h.row(6, "form=10", "arrived=x")}
	done, err := h.P.ImportDay(h.ctx, h.As("Lea Lead"), programme.ImportDay{Act: h.Act(), Event: h.Event, Visits: rows})
	h.must(err)
	var got []string
	for _, b := range done.Bad {
		got = append(got, string(rune('0'+b.Line))+" "+b.Column)
	}
	if s := strings.Join(got, ", "); s != "3 explained_by, 3 reading1_value, 5 form, 6 arrived" || done.Recorded {
		t.Errorf("bad: %s", s)
	}
	d, err := h.P.Day(h.ctx, h.Event)
	h.must(err)
	if len(d.Visits) != 0 {
		t.Errorf("%d visits were recorded", len(d.Visits))
	}
	_, err = h.P.ImportDay(h.ctx, h.As("Sue Supervisor"), programme.ImportDay{Event: h.Event, Visits: rows})
	h.refused("role", err)
	_, err = h.P.ImportDay(h.ctx, h.As("Lea Lead"), programme.ImportDay{Event: h.Event, Visits: make([]programme.ImportRow, programme.MaxImportRows+1)})
	h.refused("field-file", err)
}

// A control with a cause, two misses without one, and what they do to the gates of the readings after them.
func TestControlsOfADay(t *testing.T) {
	h := paperHall(t)
	control := func(line int, changes ...string) programme.ImportRow {
		values := map[string]string{"time": "10:00", "meter": "M2", "strip_lot": "A", "vial": "A1", "control_lot": "C2", "bottle": "c2", "value": "300", "operator": "Ann Screener"}
		for _, c := range changes {
			column, value, _ := strings.Cut(c, "=")
			values[column] = value
		}
		return programme.ImportRow{Line: line, Values: values}
	}
	load := func(in programme.ImportDay) programme.ImportedDay {
		in.Event, in.Act = h.Event, h.Act()
		done, err := h.P.ImportDay(h.ctx, h.As("Lea Lead"), in)
		h.must(err)
		return done
	}
	for bad, column := range map[string]string{
		"time=": "time", "time=12:30": "time", "meter=M8": "meter", "control_lot=C9": "control_lot", "level=1": "control_lot", "value=x": "value", "operator=": "operator", "bottle=": "bottle",
		"cause=late": "action", "action=none": "cause",
	} {
		done := load(programme.ImportDay{Controls: []programme.ImportRow{control(2, bad)}})
		if len(done.BadControls) == 0 || done.BadControls[0].Column != column || done.Recorded {
			t.Errorf("%s: %+v", bad, done.BadControls)
		}
	}
	if done := load(programme.ImportDay{Controls: []programme.ImportRow{control(2, "cause=late", "action=none")}}); len(done.BadControls) != 1 || done.BadControls[0].Column != "cause" {
		t.Errorf("a cause for a run in range: %+v", done.BadControls)
	}
	miss := []programme.ImportRow{control(4, "value=402", "time=10:04"), control(3, "value=401", "time=10:02"), control(2, "value=400")}
	before, after := h.row(2, "form=1", "reading1_meter=M2"), h.row(3, "form=2", "reading1_meter=M2", "reading1_time=10:10", "reading1_wiped=10:11", "explained=10:20", "ended=10:30")
	done := load(programme.ImportDay{Visits: []programme.ImportRow{after, before}, Controls: miss})
	if done.Recorded || done.Wrong() || len(done.IrregularControls) != 0 || len(done.Irregular) != 1 || done.Irregular[0].Line != 3 || done.Irregular[0].Key != "quarantined" {
		t.Fatalf("three misses: %+v", done)
	}
	done = load(programme.ImportDay{Visits: []programme.ImportRow{after, before}, Controls: miss, Accept: h.Sign("Sue Supervisor"), Reason: "nobody saw it"})
	d, err := h.P.Day(h.ctx, h.Event)
	h.must(err)
	r := d.Report()
	if !done.Recorded || len(r.Overrides) != 1 || r.Overrides[0].Gate != "paper:quarantined" || len(r.Quarantined) != 1 || d.Visits[0].Form != 1 {
		t.Errorf("signed: %+v, overrides %+v, out %v", done, r.Overrides, r.Quarantined)
	}
}

// A day that was opened on paper is opened by the file, with its gates as they stood.
func TestADayOpenedOnPaper(t *testing.T) {
	h := newHall(t)
	h.Clock.Set(h.Time("08:30"))
	h.prepare("checks")
	h.Clock.Set(h.Time("12:00"))
	in := programme.ImportDay{Act: h.Act(), Event: h.Event, Visits: []programme.ImportRow{h.row(2)}}
	_, err := h.P.ImportDay(h.ctx, h.As("Lea Lead"), in)
	h.refused("not-open", err)
	in.Opened = "8:55"
	done, err := h.P.ImportDay(h.ctx, h.As("Lea Lead"), in)
	h.must(err)
	if len(done.Irregular) != 1 || done.Irregular[0].Key != "checks-open" || done.Irregular[0].Line != 0 || done.Recorded {
		t.Fatalf("checks not done: %+v", done)
	}
	in.Accept, in.Reason = h.Sign("Lea Lead"), "the list of checks got lost"
	done, err = h.P.ImportDay(h.ctx, h.As("Lea Lead"), in)
	h.must(err)
	d, err := h.P.Day(h.ctx, h.Event)
	h.must(err)
	if !done.Recorded || len(d.Visits) != 1 || !d.Event.OpenedAt.Equal(h.Time("08:55")) {
		t.Errorf("opened %s, %+v", d.Event.OpenedAt, done)
	}
}
