package report

import (
	"cmp"
	"fmt"
	"slices"

	"fairstick/internal/about"
	"fairstick/internal/disclose"
	"fairstick/internal/programme"
	"fairstick/internal/protocol"
)

// NotShown stands where a count does not leave the house.
const NotShown = "not shown"

// ledger is every count that the public reports of one span may print, with the sums that bind them. All public reports of a span
// take their counts from one ledger, so that one of them never gives away what another hides.
type ledger struct {
	f       *programme.Figures
	public  bool
	problem disclose.Problem
	cells   map[string]disclose.Cell
	plan    disclose.Plan
	said    map[string]bool // counts of what people said about themselves: whether each is shown
}

// count is one count with the question that leads to its rows.
type count struct {
	n      int
	hidden bool
	ask    string // query of the rows behind it; empty for none
}

// cell gives the count as a cell of a table.
func (c count) cell() Cell {
	if c.hidden {
		return Cell{Text: NotShown, Hidden: true}
	}
	n := c.n
	return Cell{Text: fmt.Sprint(n), N: &n, Ask: c.ask}
}

func (c count) String() string { return c.cell().Text }

// newLedger opens the ledger of a span. What stays in the house hides nothing.
func newLedger(f *programme.Figures, public bool) (*ledger, error) {
	l := &ledger{f: f, public: public, cells: map[string]disclose.Cell{}, said: map[string]bool{}}
	if !public {
		return l, nil
	}
	l.enter()
	var err error
	if l.plan, err = l.problem.Solve(); err != nil {
		return l, err
	}
	return l, l.enterSaid()
}

// headline weighs more than a count in a table: it is hidden last.
var headline = map[string]float64{"approached": 6, "tested": 8, "valid": 6, "referred": 6, "seen": 4, "reached": 3, "fasting": 2, "random": 2}

// add enters one count; the same key is the same count.
func (l *ledger) add(key string, n int, weight float64) disclose.Cell {
	if c, ok := l.cells[key]; ok {
		return c
	}
	c := l.problem.Count(n, weight)
	l.cells[key] = c
	return c
}

func (l *ledger) fig(key string) disclose.Cell {
	return l.add(key, l.f.All.N(key), max(1, headline[key]))
}

func (l *ledger) figs(keys ...string) []disclose.Cell {
	out := make([]disclose.Cell, len(keys))
	for i, k := range keys {
		out[i] = l.fig(k)
	}
	return out
}

func partKey(parting, part, key string) string { return parting + ":" + part + "/" + key }

// The figures of a public table of parts, each inside the one before it.
var partFigures = []string{"approached", "tested", "referred", "seen"}

// publicPartings are the ways in which a public report parts people.
var publicPartings = []string{programme.ByAge, programme.ByLanguage, programme.ByPermission}

// enter puts down every count of every public report, and each sum that an outsider knows.
func (l *ledger) enter() {
	p, n := &l.problem, l.f.All.N
	p.Sum(l.fig("approached"), l.figs("tested", "not-eligible", "declined", "left", "unfinished")...)
	for _, key := range []string{"consented", "eligible", "known"} {
		p.Within(l.fig("approached"), l.fig(key))
	}
	for _, key := range []string{"valid", "repeated", "care", "referred", "known-tested"} {
		p.Within(l.fig("tested"), l.fig(key))
	}
	p.Within(l.fig("valid"), l.fig("critical"))
	// What the bands say together in most protocols, an outsider may know.
	bands := []string{"band-" + string(protocol.CriticalLow), "band-" + string(protocol.CriticalHigh)}
	if n(bands[0])+n(bands[1]) == n("critical") {
		p.Sum(l.fig("critical"), l.figs(bands...)...)
	}
	bands = append(bands, "band-"+string(protocol.Low))
	if n(bands[0])+n(bands[1])+n(bands[2]) == n("care") {
		p.Sum(l.fig("care"), l.figs(bands...)...)
	}
	p.Sum(l.fig("valid"), l.figs("fasting", "random")...)
	var all []string
	raised, others := 0, []string(nil)
	for _, b := range protocol.Bands {
		band := "band-" + string(b)
		all = append(all, band)
		p.Sum(l.fig(band), l.figs("fasting-"+string(b), "random-"+string(b))...)
		if b != protocol.Usual {
			raised, others = raised+n(band), append(others, band)
		}
	}
	p.Sum(l.fig("valid"), l.figs(all...)...)
	for _, base := range protocol.Bases {
		var keys []string
		for _, b := range protocol.Bands {
			keys = append(keys, string(base)+"-"+string(b))
		}
		p.Sum(l.fig(string(base)), l.figs(keys...)...)
	}
	if raised == n("referred") { // the protocol may refer every band but the usual one, and an outsider may know it
		p.Sum(l.fig("referred"), l.figs(others...)...)
	}
	p.Sum(l.fig("referred"), l.figs("may-call", "no-call", "not-written")...)
	p.Within(l.fig("referred"), l.figs("seen", "scheduled", "not-yet", "declined-care", "in-care", "unreachable", "wrong-number")...)
	p.Within(l.fig("referred"), l.fig("tried"))
	p.Within(l.fig("tried"), l.fig("reached"))
	p.Within(l.fig("referred"), l.fig("diagnosed"))
	p.Within(l.fig("seen-90"), l.fig("seen-30"))
	p.Within(l.fig("seen"), l.fig("seen-90"))
	if l.showsOutside() {
		p.Sum(l.fig("outside"), l.figs(others...)...)
		if n("referred") <= n("outside") {
			p.Within(l.fig("outside"), l.fig("referred"))
		}
	}
	l.enterParts()
	l.enterThings()
}

// enterParts enters the tables of parts. Each part of a figure lies inside the same part of the figure before it.
func (l *ledger) enterParts() {
	for _, parting := range publicPartings {
		names := l.f.PartsOf(parting, "approached")
		figures := partFigures
		if parting == programme.ByPermission {
			figures = []string{"referred", "seen"}
		}
		for i, key := range figures {
			parts := make([]disclose.Cell, len(names))
			for j, name := range names {
				parts[j] = l.add(partKey(parting, name, key), l.f.Parted[parting][name].N(key), 1)
				if i > 0 {
					l.problem.Within(l.cells[partKey(parting, name, figures[i-1])], parts[j])
				}
			}
			if len(names) > 0 {
				l.problem.Sum(l.fig(key), parts...)
			}
		}
	}
	// Whoever gave no permission, and whoever's referral nobody wrote down, may not be called.
	if yes, ok := l.cells[partKey(programme.ByPermission, "yes", "referred")]; ok {
		l.problem.Sum(yes, l.fig("may-call"))
	}
	if no, ok := l.cells[partKey(programme.ByPermission, "no", "referred")]; ok {
		l.problem.Sum(no, l.figs("no-call", "not-written")...)
	}
	reasons := map[string][]disclose.Cell{}
	for _, name := range l.f.PartsOf(programme.ByReason, "approached") {
		of := "not-eligible"
		if l.f.Parted[programme.ByReason][name].N("declined") > 0 {
			of = "declined"
		}
		reasons[of] = append(reasons[of], l.add(partKey(programme.ByReason, name, "approached"), l.f.Parted[programme.ByReason][name].N("approached"), 1))
	}
	for of, parts := range reasons {
		l.problem.Sum(l.fig(of), parts...)
	}
}

// enterThings enters the counts of mishaps, each of which may be about one person.
func (l *ledger) enterThings() {
	total := 0
	var kinds []disclose.Cell
	for _, kind := range sortedKeys(l.f.Mishaps) {
		total += l.f.Mishaps[kind]
		kinds = append(kinds, l.add("mishap:"+kind, l.f.Mishaps[kind], 1))
	}
	all := l.add("mishaps", total, 1)
	if len(kinds) > 0 {
		l.problem.Sum(all, kinds...)
	}
}

func sortedKeys[V any](m map[string]V) []string {
	out := make([]string, 0, len(m))
	for k := range m {
		out = append(out, k)
	}
	slices.SortFunc(out, cmp.Compare[string])
	return out
}

// get gives a count that was entered. A public report that prints a count which the ledger does not hold is a mistake of this
// package, and prints nothing.
func (l *ledger) get(key string, n int, ask string) count {
	if !l.public {
		return count{n: n, ask: ask}
	}
	if shown, ok := l.said[key]; ok {
		return count{n: n, ask: ask, hidden: !shown}
	}
	c, ok := l.cells[key]
	return count{n: n, ask: ask, hidden: !ok || l.plan.Hidden(c)}
}

// of gives a figure of everybody.
func (l *ledger) of(key string) count { return l.get(key, l.f.All.N(key), "figure="+key) }

// part gives a figure of one part.
func (l *ledger) part(parting, part, key string) count {
	if part == about.Elsewhere { // several areas together have no question of their own
		return l.get(partKey(parting, part, key), l.f.Parted[parting][part].N(key), "")
	}
	return l.get(partKey(parting, part, key), l.f.Parted[parting][part].N(key), "figure="+key+"&parting="+parting+"&part="+escape(part))
}

// share says how much of one count another is. It is hidden when either of them is.
func (l *ledger) share(n, of count) Cell {
	switch {
	case n.hidden || of.hidden:
		return Cell{Text: NotShown, Hidden: true}
	case of.n == 0:
		return Cell{Text: "-"}
	}
	s := programme.ShareOf(n.n, of.n)
	return Cell{Text: s.Percent(), Share: s.P}
}

// interval gives the 95 % interval of a share.
func (l *ledger) interval(n, of count) Cell {
	if n.hidden || of.hidden {
		return Cell{Text: NotShown, Hidden: true}
	}
	return Cell{Text: programme.ShareOf(n.n, of.n).Interval()}
}

// hides counts the counts that do not leave the house.
func (l *ledger) hides() int {
	n := 0
	for _, c := range l.cells {
		if l.public && l.plan.Hidden(c) {
			n++
		}
	}
	for _, shown := range l.said {
		if !shown {
			n++
		}
	}
	return n
}
