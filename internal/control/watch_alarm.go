package control

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// AlarmKind says what has drifted.
type AlarmKind string

// The kinds of alarm.
const (
	MeterApart  AlarmKind = "meter"        // a meter against the rest of the day
	VialApart   AlarmKind = "vial"         // a vial against the others
	LotApart    AlarmKind = "lot"          // a strip lot against the others
	AllTogether AlarmKind = "all-together" // every meter against what the programme's crowds usually show
)

// Alarm says what to check. It is a reason to run controls, not a verdict on results: participants are not a control material.
type Alarm struct {
	Kind      AlarmKind
	Meter     string    // suspect meter, or the one that took nearly all tests; empty when the suspicion is not of a meter
	Other     string    // when only two meters, vials or lots are compared and nothing tells which of them is off: the second one
	Vial      string    // suspect vial, or the only vial that the suspect meter used
	Lot       string    // suspect lot
	Direction Direction // in which the suspect lies; of two, the first
	At        int       // Sequence of the reading that raised it
	Since     int       // Sequence of the suspect's first reading of the stretch on that side
	Tests     int       // its readings since then
	Percent   float64   // its median since then over the median of the rest since then (or the programme's), less 1, in percent
	What      string
	Why       string
	Do        string
}

var kinds = [families]AlarmKind{MeterApart, VialApart, LotApart}

// blame names the source that lies farthest out by its own limit: a meter can pass its limit because another one pulls the rest away.
func (w *Watcher) blame(raised source) *Alarm {
	worst, most, t := raised, 0.0, 0.0
	for f := range families {
		for _, s := range w.names(f) {
			d, ok := w.distance(s)
			if share := math.Abs(d) / w.limits.Source[f]; ok && !w.alarmed[s] && share > most {
				worst, most, t = s, share, d
			}
		}
	}
	other := w.onlyOther(worst)
	if other != "" {
		worst, other, t = w.arbitrate(worst, source{worst.family, other}, t)
	}
	w.follow(worst, t)
	w.alarmed[worst] = true
	a := &Alarm{Kind: kinds[worst.family], Direction: w.track[worst].side, At: w.seen[len(w.seen)-1].Sequence}
	from := w.track[worst].since
	a.Since = w.seen[from].Sequence
	own, rest := w.values(worst, from)
	a.Tests, a.Percent = len(own), apart(own, rest)
	switch worst.family {
	case byMeter:
		a.Meter, a.Vial, a.Lot = worst.name, w.only(worst, byVial, from), w.own(worst, byLot)
	case byVial:
		a.Vial, a.Meter = worst.name, w.only(worst, byMeter, from)
	case byLot:
		a.Lot, a.Meter = worst.name, w.only(worst, byMeter, from)
	}
	if other != "" {
		w.alarmed[source{worst.family, other}] = true
		a.Other = other
	}
	a.speak()
	return a
}

// onlyOther gives the name of the other one when a source is compared with one of its kind alone.
func (w *Watcher) onlyOther(s source) string {
	name := ""
	for _, c := range w.cells {
		o := c.origin[s.family]
		if !w.comparable(s, c.origin) || o == name {
			continue
		}
		if name != "" || o == "" {
			return ""
		}
		name = o
	}
	return name
}

// arbitrate tells which of two is off by what the programme's crowds usually show: the one that lies more than twice as far from
// it. Without a history, or when neither does, both stay under suspicion.
func (w *Watcher) arbitrate(first, second source, t float64) (source, string, float64) {
	if w.limits.Settings.Baseline.Events == 0 {
		return first, second.name, t
	}
	own, rest := w.parts(first)
	switch a, b := math.Abs(own.mean()), math.Abs(rest.mean()); {
	case a > 2*b:
		return first, "", t
	case b > 2*a:
		return second, "", -t
	}
	return first, second.name, t
}

// values gives a source's values and those of the rest from an index on; when the rest has fewer than five, those of the whole event.
func (w *Watcher) values(s source, from int) (own, rest []float64) {
	var whole []float64
	for i, r := range w.seen {
		switch {
		case belongs(r, s):
			if i >= from {
				own = append(own, r.Value)
			}
		case w.comparable(s, originOf(r)):
			whole = append(whole, r.Value)
			if i >= from {
				rest = append(rest, r.Value)
			}
		}
	}
	if len(rest) < 5 {
		rest = whole
	}
	return own, rest
}

// apart is the difference of medians in percent; 0 when there is nothing to compare with.
func apart(own, rest []float64) float64 {
	if len(own) == 0 || len(rest) == 0 {
		return 0
	}
	slices.Sort(own)
	slices.Sort(rest)
	return 100 * (median(own)/median(rest) - 1)
}

// only gives what a source has used since an index when it was one thing alone.
func (w *Watcher) only(s source, f family, from int) string {
	name := ""
	for _, r := range w.seen[from:] {
		if n := originOf(r)[f]; belongs(r, s) && n != name {
			if name != "" {
				return ""
			}
			name = n
		}
	}
	return name
}

// own gives a source's only lot when nothing else used that lot.
func (w *Watcher) own(s source, f family) string {
	name := w.only(s, f, 0)
	for _, r := range w.seen {
		if name != "" && originOf(r)[f] == name && !belongs(r, s) {
			return ""
		}
	}
	return name
}

// together looks at all meters against the baseline. The variance of the mean has the event's own part and the part by which crowds
// differ; an alarm needs every meter with enough tests at least half as far out on the same side.
func (w *Watcher) together() *Alarm {
	b := w.limits.Settings.Baseline
	var all sums
	for _, c := range w.cells {
		if !w.suspect(c.origin) {
			all.add(c.sums)
		}
	}
	if b.Events == 0 || all.n < 2*leastTests {
		return nil
	}
	mean := all.mean()
	side := Upward
	if mean < 0 {
		side = Downward
	}
	if w.all.side != side {
		since := len(w.seen) - 1
		if w.all.side == NoDirection {
			since = 0
		}
		w.all = stretch{side, since}
	}
	if w.whole || math.Abs(mean) <= w.limits.All*math.Sqrt(w.scale2()*all.error2()+float64(b.Between*b.Between)) {
		return nil
	}
	var nearly source // a meter that took three readings in four
	for _, m := range w.names(byMeter) {
		own, _ := w.parts(m)
		if w.alarmed[m] || own.n < leastTests {
			continue
		}
		if own.mean()*mean < mean*mean/2 {
			return nil
		}
		if own.n*4 >= all.n*3 {
			nearly = m
		}
	}
	w.whole = true
	a := &Alarm{Kind: AllTogether, Direction: side, Since: w.seen[w.all.since].Sequence, At: w.seen[len(w.seen)-1].Sequence}
	var own []float64
	for _, r := range w.seen[w.all.since:] {
		if !w.suspect(originOf(r)) {
			own = append(own, r.Value)
		}
	}
	a.Tests, a.Percent = len(own), apart(own, []float64{math.Exp(b.Centre)})
	if nearly.name != "" {
		a.Meter, a.Vial, a.Lot = nearly.name, w.only(nearly, byVial, w.all.since), w.only(nearly, byLot, w.all.since)
	} else if lots := w.names(byLot); len(lots) == 1 {
		a.Lot = lots[0].name
	}
	a.speak()
	return a
}

// speak writes the sentences.
func (a *Alarm) speak() {
	much := fmt.Sprintf("about %.0f %% %s", math.Abs(a.Percent), map[Direction]string{Upward: "higher", Downward: "lower"}[a.Direction])
	if a.Percent > 0 != (a.Direction == Upward) || math.Abs(a.Percent) < 0.5 {
		much = map[Direction]string{Upward: "higher", Downward: "lower"}[a.Direction]
	}
	since := fmt.Sprintf("since test %d (%d tests)", a.Since, a.Tests)
	a.Why = "People differ, so this is a reason to check and no proof."
	switch a.Kind {
	case MeterApart:
		a.What = fmt.Sprintf("Meter %s has read %s than the rest %s.", a.Meter, much, since)
		also := ""
		if a.Vial != "" {
			also += " with vial " + a.Vial
		}
		if a.Lot != "" {
			also += " of lot " + a.Lot
		}
		a.Do = fmt.Sprintf("Check meter %s: run both control levels on it%s, then with a new vial.", a.Meter, also)
	case VialApart:
		on := ""
		if a.Meter != "" {
			on = " on meter " + a.Meter
		}
		a.What = fmt.Sprintf("Vial %s%s has read %s than the rest %s.", a.Vial, on, much, since)
		a.Do = fmt.Sprintf("Check vial %s: how it was kept, its expiry, and both control levels with it. Use another vial until then.", a.Vial)
	case LotApart:
		a.What = fmt.Sprintf("Strip lot %s has read %s than the other lots %s.", a.Lot, much, since)
		a.Do = fmt.Sprintf("Check strip lot %s: run both control levels with it, on two meters.", a.Lot)
	case AllTogether:
		a.What = fmt.Sprintf("All meters have read %s than this programme's participants usually do, %s.", much, since)
		a.Why = "All meters together point to the strips, or to another crowd."
		a.Do = "Check the strip lot and vials, how they were kept, and run both control levels; ask whether people have just eaten."
		if a.Meter != "" {
			a.What = strings.Replace(a.What, "All meters have", "Meter "+a.Meter+" has", 1)
			a.Why = "With hardly any other meter at work this may be the meter, its strips, or another crowd."
		} else if a.Lot != "" {
			a.Do = strings.Replace(a.Do, "the strip lot", "strip lot "+a.Lot, 1)
		}
	}
	if a.Other != "" {
		a.What = strings.Replace(strings.Replace(a.What, "than the rest ", "than "+a.Other+" ", 1), "than the other lots ", "than "+a.Other+" ", 1)
		a.Do = fmt.Sprintf("Nothing tells which of the two is off: run both control levels with %s and with %s.", a.suspect(), a.Other)
	}
}

// suspect is the name of what is under suspicion.
func (a *Alarm) suspect() string {
	switch a.Kind {
	case VialApart:
		return a.Vial
	case LotApart:
		return a.Lot
	case MeterApart, AllTogether:
	}
	return a.Meter
}
