package programme_test

import (
	"encoding/json"
	"strings"
	"testing"

	"fairstick/internal/civil"
	"fairstick/internal/demo"
	"fairstick/internal/programme"
)

func TestFiguresOfNothingAndNonsense(t *testing.T) {
	h := newHall(t)
	day := civil.MustParse
	f, err := h.P.Figures(h.ctx, programme.FiguresAsk{Span: programme.Span{From: day("2020-01-01"), To: day("2020-12-31")}})
	if err != nil || len(f.Events) != 0 || f.All.N("tested") != 0 || f.Cost.Known() {
		t.Errorf("an empty year: %+v %v", f, err)
	}
	if data, err := json.Marshal(f); err != nil || !strings.Contains(string(data), `"people":{"approached":0,`) {
		t.Errorf("%s %v", data, err)
	}
	_, err = h.P.Figures(h.ctx, programme.FiguresAsk{Span: programme.Span{From: day("2020-02-01"), To: day("2020-01-01")}})
	h.refused("span", err)
	_, err = h.P.Figures(h.ctx, programme.FiguresAsk{Span: programme.Span{From: day("2020-02-01"), To: day("2020-03-01"), Event: "nowhere"}})
	h.refused("no-such-event", err)
	_, err = h.P.FigureRows(h.ctx, programme.RowsAsk{Figure: "happiness"})
	h.refused("no-such-figure", err)
	_, err = h.P.FigureRows(h.ctx, programme.RowsAsk{Figure: "tested", Parting: "shoe size"})
	h.refused("no-such-figure", err)
}

// Each event in a season that runs: the figures of an open hall are those of its report.
func TestFiguresOfAnOpenDay(t *testing.T) {
	h := opened(t)
	h.guest("", demo.Guest{Language: "en"})
	h.guest("1", demo.Guest{Language: "en"})
	f, err := h.P.Figures(h.ctx, programme.FiguresAsk{Span: programme.Span{From: civil.MustParse("2026-06-20"), To: civil.MustParse("2026-06-20")}})
	h.must(err)
	d, err := h.P.Day(h.ctx, h.Event)
	h.must(err)
	o, all := d.Report().Outcomes, f.Events[0].Counts
	if all.N("approached") != 2 || all.N("unfinished") != 2 || o.Arrived != 2 || o.Unfinished != 2 || f.Events[0].Amounts.Runs != 4 {
		t.Errorf("two people are at the desk and at the test: %+v, report %+v", all, o)
	}
}
