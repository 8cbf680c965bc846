package programme_test

import (
	"testing"
	"time"

	"fairstick/internal/demo"
	"fairstick/internal/programme"
)

// wholeVisit brings a guest from the door to the end.
func (h *hall) wholeVisit(station, reading string) *demo.Guest {
	h.t.Helper()
	g := h.guest(station, demo.Guest{})
	_, err := h.Read(h.ctx, g, station, demo.Shot{Reading: reading})
	h.must(err)
	h.must(h.Clear(h.ctx, g, station))
	h.later(2 * time.Minute)
	h.must(h.Explain(h.ctx, g, "Dot Counsellor", "E1", "Invented Clinic", true))
	h.must(h.Finish(h.ctx, g, "Dot Counsellor"))
	return g
}

func (h *hall) closeDay() error {
	_, err := h.P.CloseEvent(h.ctx, h.As("Lea Lead"), programme.CloseEvent{Act: h.Act(), Event: h.Event, Note: "done", Sign: h.Sign("Lea Lead")})
	return err
}

func (h *hall) count(a, b, lancets, sharps int) {
	h.t.Helper()
	_, err := h.P.CountBack(h.ctx, h.As("Cy Lapsed"), programme.CountBack{
		Act: h.Act(), Event: h.Event, Strips: map[string]int{h.ID("A"): a, h.ID("B"): b},
		Lancets: lancets, Sharps: sharps, Meters: []string{h.ID("M1"), h.ID("M2")},
	})
	h.must(err)
}

func (h *hall) memory(meter string, rows int) {
	h.t.Helper()
	_, err := h.P.ReadMemory(h.ctx, h.As("Cy Lapsed"), programme.ReadMemory{Act: h.Act(), Event: h.Event, Meter: h.ID(meter), Rows: rows})
	h.must(err)
}

func (h *hall) differences() map[string]int {
	h.t.Helper()
	d, err := h.P.Day(h.ctx, h.Event)
	h.must(err)
	out := map[string]int{}
	for _, e := range d.Reconcile() {
		if e.Difference != 0 {
			out[e.Name] = e.Difference
		}
	}
	return out
}

// The day closes only when everybody is accounted for, everything is counted, and each difference is explained as it stands.
func TestClosing(t *testing.T) {
	h := opened(t)
	h.wholeVisit("1", "95")
	h.wholeVisit("2", "101")
	late := h.guest("", demo.Guest{})
	h.refused("doors-open", h.closeDay())
	_, err := h.P.CloseDoors(h.ctx, h.As("Lea Lead"), programme.CloseDoors{Act: h.Act(), Event: h.Event})
	h.must(err)
	_, err = h.P.Arrive(h.ctx, h.As("Cy Lapsed"), programme.Arrive{Act: h.Act(), Event: h.Event, Language: "en"})
	h.refused("doors-closed", err)
	h.refused("visits-unfinished", h.closeDay())
	_, err = h.P.LeaveVisit(h.ctx, h.As("Cy Lapsed"), programme.LeaveVisit{Act: h.Act(), Visit: late.ID, Reason: "went home"})
	h.must(err)
	h.refused("not-counted", h.closeDay())
	// 50 strips of lot A less 4 controls and 2 readings are 44; 60 lancets less 2 are 58
	h.count(43, 50, 58, 2)
	h.refused("memory-unread", h.closeDay())
	h.memory("M1", 3)
	h.memory("M2", 3)
	if d := h.differences(); len(d) != 1 || d["Strips of lot A"] != 1 {
		t.Errorf("differences %v", d)
	}
	h.refused("difference", h.closeDay())
	explain := func(difference int) error {
		_, err := h.P.ExplainDifference(h.ctx, h.As("Lea Lead"), programme.ExplainDifference{
			Act: h.Act(), Event: h.Event, Equality: "strips:" + h.ID("A"),
			Difference: difference, Note: "one strip fell on the floor", Sign: h.Sign("Lea Lead"),
		})
		return err
	}
	h.refused("difference-changed", explain(2))
	h.must(explain(1))
	// a new count makes another difference, which the old reason does not cover
	h.count(42, 50, 58, 2)
	h.refused("difference", h.closeDay())
	h.must(explain(2))
	h.must(h.closeDay())
	_, err = h.P.BringStock(h.ctx, h.As("Lea Lead"), programme.BringStock{Act: h.Act(), Event: h.Event, Lancets: 1})
	h.refused("event-closed", err)
	r, err := h.P.Report(h.ctx, h.Event)
	h.must(err)
	if o := r.Outcomes; o.Arrived != 3 || o.Tested != 2 || o.Left != 1 || r.Phase != "closed" {
		t.Errorf("outcomes %+v, %s", o, r.Phase)
	}
}

// Fewer lancets used than fingers pricked may mean that one was used twice: an alarm, beyond the difference.
func TestLancetAlarm(t *testing.T) {
	h := opened(t)
	h.wholeVisit("1", "95")
	h.wholeVisit("2", "101")
	_, err := h.P.CloseDoors(h.ctx, h.As("Lea Lead"), programme.CloseDoors{Act: h.Act(), Event: h.Event})
	h.must(err)
	for lancets, alarm := range map[int]bool{59: true, 58: false, 57: false} {
		h.count(44, 50, lancets, 2)
		d, err := h.P.Day(h.ctx, h.Event)
		h.must(err)
		for _, e := range d.Reconcile() {
			if e.Key == "lancets" && (e.Alarm != "") != alarm {
				t.Errorf("%d lancets left: alarm %q", lancets, e.Alarm)
			}
		}
	}
}

// A protocol signed during the day does not change the day: an event keeps the version with which it opened.
func TestTheProtocolIsFrozenForTheDay(t *testing.T) {
	h := opened(t)
	d, err := h.P.Day(h.ctx, h.Event)
	h.must(err)
	next := d.Protocol
	next.Version, next.MinAge = "next", 40
	_, err = h.P.DraftProtocol(h.ctx, h.As("Lea Lead"), programme.DraftProtocol{Act: h.Act(), Protocol: next})
	h.must(err)
	sign := func(second string) error {
		_, err := h.P.SignProtocol(h.ctx, h.As("Lea Lead"), programme.SignProtocol{Act: h.Act(), Version: "next", First: h.Sign("Lea Lead"), Second: h.Sign(second)})
		return err
	}
	h.refused("field-second_person", sign("Lea Lead"))
	h.must(sign("Sue Supervisor"))
	g := h.guest("1", demo.Guest{Answers: map[string]string{"age": "30"}})
	_, err = h.Read(h.ctx, g, "1", demo.Shot{Reading: "95"})
	h.must(err)
	if d, err = h.P.Day(h.ctx, h.Event); err != nil || d.Protocol.Version == "next" || d.Visit(g.ID).Finding().Protocol != d.Protocol.Version {
		t.Errorf("the day runs under %s, %v", d.Protocol.Version, err)
	}
	_, err = h.P.DraftProtocol(h.ctx, h.As("Lea Lead"), programme.DraftProtocol{Act: h.Act(), Protocol: next})
	h.refused("field-version", err)
}

// The tables made again from the entries give the same report.
func TestReportIsTheSameAfterARebuild(t *testing.T) {
	h := opened(t)
	h.wholeVisit("1", "95")
	before, err := h.P.Report(h.ctx, h.Event)
	h.must(err)
	h.must(h.store.Rebuild(h.ctx))
	after, err := h.P.Report(h.ctx, h.Event)
	h.must(err)
	if len(before.ByMeter) != 1 || after.ByMeter[0].Readings != before.ByMeter[0].Readings || after.Outcomes.Tested != 1 {
		t.Errorf("before %+v, after %+v", before.ByMeter, after.ByMeter)
	}
}
