package programme

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"

	"fairstick/internal/about"
	"fairstick/internal/civil"
	"fairstick/internal/fact"
	"fairstick/internal/store"
	"fairstick/internal/visit"
)

// eventCount is what the visits and incidents of one event come to in figures. It is all that a report takes from them, so that a
// closed event need be counted only once: the store keeps the line until anything about the event changes.
type eventCount struct {
	counts                                             []int
	parted                                             []partCount
	first, repeats, rechecks, errors, sticks, misfires int
	incidents, openCases                               int
	mishaps                                            map[string]int
	hours                                              map[int]int
	wait, stay                                         Waited
}

// partCount is the people of one part of a parting.
type partCount struct {
	parting, part string
	counts        []int
}

// add puts an event into the figures of the span.
func (f *Figures) add(e *EventFigures, c *eventCount) {
	copy(e.Counts.n, c.counts)
	for i, n := range c.counts {
		f.All.n[i] += n
	}
	for _, p := range c.parted {
		group, ok := f.Parted[p.parting][p.part]
		if !ok {
			group = newCounts()
			f.Parted[p.parting][p.part] = group
		}
		for i, n := range p.counts {
			group.n[i] += n
		}
	}
	a := &e.Amounts
	a.First, a.Repeats, a.Rechecks, a.Errors, a.Sticks, a.Misfires = c.first, c.repeats, c.rechecks, c.errors, c.sticks, c.misfires
	a.Incidents, a.OpenCases = c.incidents, c.openCases
	for sort, n := range c.mishaps {
		f.Mishaps[sort] += n
	}
	e.Hours, e.Wait, e.Stay = c.hours, c.wait, c.stay
}

// of gives how many visits a question for rows asks for; ok is false when the count does not say, as one that was not kept.
func (c *eventCount) of(ask RowsAsk) (n int, ok bool) {
	switch {
	case c == nil || ask.Parting != "" && ask.Part == "":
		return 0, false
	case ask.Parting == "":
		return c.counts[figureAt[ask.Figure]], true
	}
	if _, said := about.Find(ask.Parting); said && (ask.Part == about.NotAsked || ask.Part == about.Elsewhere) {
		return 0, false // these rows are made of all events together
	}
	for _, p := range c.parted {
		if p.parting == ask.Parting && p.part == ask.Part {
			return p.counts[figureAt[ask.Figure]], true
		}
	}
	return 0, true
}

// sorter counts the visits of one event after the other.
type sorter struct {
	count *eventCount
	parts map[string]map[string][]int
	about map[string]bool // the partings by what people said about themselves
	which []int
	waits []int // for the test
	stays []int
}

func newSorter() *sorter {
	s := &sorter{about: map[string]bool{}}
	for parting := range parts {
		_, s.about[parting] = about.Find(parting)
	}
	return s
}

func (s *sorter) begin() {
	s.count = &eventCount{counts: make([]int, len(figureList)), mishaps: map[string]int{}, hours: map[int]int{}}
	s.parts, s.waits, s.stays = map[string]map[string][]int{}, s.waits[:0], s.stays[:0]
	for parting := range parts {
		s.parts[parting] = map[string][]int{}
	}
}

func (s *sorter) take(e *EventFigures, c *counted) {
	s.which = s.which[:0]
	for i := range figureList {
		if figureList[i].counts(c) {
			s.which = append(s.which, i)
		}
	}
	put := func(into []int) {
		for _, i := range s.which {
			into[i]++
		}
	}
	put(s.count.counts)
	for parting, of := range parts {
		if s.about[parting] && c.About == "" {
			continue // whoever was asked nothing is counted at the end
		}
		key := of(c)
		if key == "" {
			continue
		}
		group := s.parts[parting][key]
		if group == nil {
			group = make([]int, len(figureList))
			s.parts[parting][key] = group
		}
		put(group)
	}
	a := s.count
	a.first, a.repeats, a.rechecks, a.errors = a.first+c.First, a.repeats+c.Repeats, a.rechecks+c.Rechecks, a.errors+c.Errors
	a.sticks, a.misfires = a.sticks+c.Sticks, a.misfires+c.Misfires
	if !c.Arrived.IsZero() {
		a.hours[c.Arrived.In(e.zone).Hour()]++
	}
	if c.WaitTest >= 0 {
		s.waits = append(s.waits, c.WaitTest)
	}
	if c.Stay >= 0 && c.Phase == visit.Done {
		s.stays = append(s.stays, c.Stay)
	}
}

// end gives what was counted since begin.
func (s *sorter) end() *eventCount {
	c := s.count
	c.wait, c.stay = waited(s.waits), waited(s.stays)
	for parting, of := range s.parts {
		for part, counts := range of {
			c.parted = append(c.parted, partCount{parting, part, counts})
		}
	}
	slices.SortFunc(c.parted, func(a, b partCount) int {
		return cmp.Or(strings.Compare(a.parting, b.parting), strings.Compare(a.part, b.part))
	})
	return c
}

// figureCount is the name under which the store keeps an eventCount.
const figureCount = "figures"

// line writes a count down. It says for how many figures and under which number of tries it was counted.
func (c *eventCount) line(attempts int) string {
	var l fact.Line
	l.Int(len(figureList))
	l.Int(attempts)
	l.Text(sparse(c.counts))
	for _, n := range []int{c.first, c.repeats, c.rechecks, c.errors, c.sticks, c.misfires, c.incidents, c.openCases} {
		l.Int(n)
	}
	for _, w := range []Waited{c.wait, c.stay} {
		l.Int(w.N)
		l.Int(w.Median)
		l.Int(w.P90)
		l.Int(w.Most)
	}
	l.Int(len(c.hours))
	for _, h := range slices.Sorted(maps.Keys(c.hours)) {
		l.Int(h)
		l.Int(c.hours[h])
	}
	l.Int(len(c.mishaps))
	for _, sort := range slices.Sorted(maps.Keys(c.mishaps)) {
		l.Text(sort)
		l.Int(c.mishaps[sort])
	}
	l.Int(len(c.parted))
	for _, p := range c.parted {
		l.Text(p.parting)
		l.Text(p.part)
		l.Text(sparse(p.counts))
	}
	return l.String()
}

// readEventCount reads what line wrote; nil for one that was counted under other figures or another number of tries.
func readEventCount(line string, attempts int) (*eventCount, error) {
	r := fact.ReadLine(line)
	if figures, tries := r.Int(), r.Int(); figures != len(figureList) || tries != attempts {
		return nil, nil
	}
	c := &eventCount{mishaps: map[string]int{}, hours: map[int]int{}}
	var err error
	if c.counts, err = dense(r.Text()); err != nil {
		return nil, err
	}
	for _, n := range []*int{&c.first, &c.repeats, &c.rechecks, &c.errors, &c.sticks, &c.misfires, &c.incidents, &c.openCases} {
		*n = r.Int()
	}
	for _, w := range []*Waited{&c.wait, &c.stay} {
		*w = Waited{N: r.Int(), Median: r.Int(), P90: r.Int(), Most: r.Int()}
	}
	for n := r.Int(); n > 0 && !r.Failed(); n-- {
		hour := r.Int()
		c.hours[hour] = r.Int()
	}
	for n := r.Int(); n > 0 && !r.Failed(); n-- {
		sort := r.Text()
		c.mishaps[sort] = r.Int()
	}
	for n := r.Int(); n > 0 && !r.Failed(); n-- {
		p := partCount{parting: r.Text(), part: r.Text()}
		if p.counts, err = dense(r.Text()); err != nil {
			return nil, err
		}
		c.parted = append(c.parted, p)
	}
	return c, r.Err()
}

// counted reads what is kept of the event; nil when nothing is that still holds.
func (e *EventFigures) counted() (*eventCount, error) {
	if e.kept == "" {
		return nil, nil
	}
	return readEventCount(e.kept, e.attempts)
}

// sparse writes the figures that are not 0, each as its place and its number.
func sparse(counts []int) string {
	var b []byte
	for i, n := range counts {
		if n == 0 {
			continue
		}
		if len(b) > 0 {
			b = append(b, ' ')
		}
		b = strconv.AppendInt(b, int64(i), 10)
		b = append(b, ' ')
		b = strconv.AppendInt(b, int64(n), 10)
	}
	return string(b)
}

// dense reads what sparse wrote.
func dense(s string) ([]int, error) {
	counts := make([]int, len(figureList))
	at, n, second := 0, 0, false
	for i := 0; i <= len(s) && s != ""; i++ {
		switch {
		case i < len(s) && s[i] >= '0' && s[i] <= '9':
			n = n*10 + int(s[i]-'0')
			continue
		case i < len(s) && s[i] != ' ', !second && n >= len(counts):
			return nil, fmt.Errorf("programme: %q is not a count of figures", s)
		case second:
			counts[at] = n
		default:
			at = n
		}
		n, second = 0, !second
	}
	if second {
		return nil, fmt.Errorf("programme: %q is not a count of figures", s)
	}
	return counts, nil
}

// keepCounts keeps what was counted for later. A report is good without it: a failure is noted and no more.
func (p *Programme) keepCounts(ctx context.Context, name string, fresh []store.Counted) {
	if len(fresh) == 0 {
		return
	}
	if err := p.store.KeepCounts(ctx, name, fresh); err != nil && !errors.Is(err, ctx.Err()) {
		p.log.Warn("what was counted for a report was not kept", "count", name, "error", err)
	}
}

// CountAhead counts all events as reports and the list of calls do, and keeps what came of those that are over, so that the first page
// which asks does not wait for it.
func (p *Programme) CountAhead(ctx context.Context) error {
	if _, err := p.Calls(ctx); err != nil {
		return err
	}
	_, err := p.Figures(ctx, FiguresAsk{Span: Span{From: civil.Date{Year: 1, Month: 1, Day: 1}, To: civil.Date{Year: 9999, Month: 12, Day: 30}}})
	return err
}

// checkCounts counts every event again of which a count is kept, and names those that differ.
func (p *Programme) checkCounts(ctx context.Context) (wrong []string, err error) {
	err = p.store.Read(ctx, func(v *store.View) error {
		f := &Figures{Lots: map[string]string{}}
		r := newFiguring(v, f)
		if err := r.programme(); err != nil {
			return err
		}
		if err := r.eventsBetween("", lastLabel); err != nil {
			return err
		}
		sort := newSorter()
		for _, e := range f.Events {
			kept, err := e.counted()
			if err != nil {
				return err
			}
			if kept == nil {
				continue
			}
			again, err := r.count(sort, e)
			if err != nil {
				return err
			}
			if again.line(e.attempts) != e.kept {
				wrong = append(wrong, "What reports count at "+e.Name+" on "+e.Date+" is not what its visits say.")
			}
		}
		rest, err := newResting(v)
		if err != nil {
			return err
		}
		more, err := rest.check(p.now())
		wrong = append(wrong, more...)
		return err
	})
	return wrong, err
}
