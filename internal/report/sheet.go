// Package report writes the reports of a programme: season, college, host, health department, funder and equity. Each is a view
// of programme.Figures, the same for a page, for paper, for a spreadsheet and for the command line. Those that leave the house
// take their counts from one ledger, which hides what could point at a person.
package report

import (
	"fmt"
	"net/url"
	"slices"
	"time"

	"fairstick/internal/chart"
	"fairstick/internal/programme"
)

// Cell is one cell of a report. N is there when it is a count, with the question that leads to its rows. A hidden one says
// NotShown and nothing else.
type Cell struct {
	Text   string   `json:"text"`
	N      *int     `json:"n,omitempty"`
	Share  *float64 `json:"share,omitempty"`
	Hidden bool     `json:"hidden,omitempty"`
	Thing  bool     `json:"thing,omitempty"` // N counts things or staff, never participants
	Ask    string   `json:"-"`
}

// Col is a column's title; Num says that figures stand in it.
type Col struct {
	Label string
	Num   bool
}

// Part is one table of a report under its question.
type Part struct {
	Key, Heading string
	Said         []string // sentences above it
	Cols         []Col
	Rows         [][]Cell
	Empty        string
	Bars         *chart.Bars // a picture of the table; nil for none
}

// Sheet is one report: the same for a page, for paper, for a spreadsheet and for the command line.
type Sheet struct {
	Kind, Title, Subtitle, Programme string
	Public                           bool // written to leave the house
	Span                             programme.Span
	Made                             time.Time
	Opens                            string   // stands over the summary
	Brief                            []string // the two-minute summary
	Parts                            []Part
	Defined                          []programme.Figure // the definitions of the figures that it prints
	Hidden                           int                // counts that are not shown
	OnePage                          bool
}

// Kinds are the reports, in the order in which they are offered.
var Kinds = []string{"season", "college", "host", "health", "funder", "equity"}

// KindInfo says what a report is.
type KindInfo struct {
	Name, Says string
	Public     bool
	Event      bool // of one event
}

var kinds = map[string]KindInfo{
	"season":  {"Season", "Everything about the season: the way through, what became of referrals, the trend, targets, cost, and what to do better.", false, false},
	"college": {"College", "One page for the dean: what was done, by whom, how safely, and what came of it.", false, false},
	"host":    {"Host", "A letter to the host of one event. No count from 1 to 10 and no name.", true, true},
	"health":  {"Health department", "Certificate, events, tests, controls, critical results and incidents. No count from 1 to 10.", true, false},
	"funder":  {"Funder", "People screened against the target, yield, follow-up and cost. No count from 1 to 10.", true, false},
	"equity":  {"Equity", "Who came and who completed follow-up. No count from 1 to 10.", true, false},
}

// KindOf tells about a report; ok is false for one that there is not.
func KindOf(kind string) (KindInfo, bool) {
	k, ok := kinds[kind]
	return k, ok
}

// Of writes a report from figures. The kind must be one of Kinds.
func Of(kind string, f *programme.Figures) (Sheet, error) {
	info, ok := kinds[kind]
	if !ok {
		return Sheet{}, fmt.Errorf("report: no report %q", kind)
	}
	l, err := newLedger(f, info.Public)
	if err != nil {
		return Sheet{}, err
	}
	s := Sheet{Kind: kind, Title: info.Name + " report", Opens: "In two minutes", Subtitle: f.Span.Words(), Programme: f.Programme, Public: info.Public, Span: f.Span, Made: f.Made}
	if f.Season != nil && f.Season.Name != "" {
		s.Subtitle = "Season " + f.Season.Name + ", " + s.Subtitle
	}
	r := writer{l: l, f: f, s: &s, used: map[string]bool{}}
	switch kind {
	case "season":
		r.season()
	case "college":
		r.college()
	case "host":
		r.host()
	case "health":
		r.health()
	case "funder":
		r.funder()
	case "equity":
		r.equity()
	}
	for _, fig := range programme.FigureList() {
		if r.used[fig.Key] {
			s.Defined = append(s.Defined, fig)
		}
	}
	for _, p := range s.Parts {
		for _, row := range p.Rows {
			for _, c := range row {
				if c.Hidden && c.N == nil {
					s.Hidden++
				}
			}
		}
	}
	if s.Public {
		s.Brief = append(s.Brief, "Counts from 1 to 10 are not shown, nor others from which they could be worked out. 0 is shown. No share is given where a count is not shown.")
	}
	return s, nil
}

// writer is a sheet at work.
type writer struct {
	l    *ledger
	f    *programme.Figures
	s    *Sheet
	used map[string]bool
}

func (r *writer) of(key string) count {
	r.used[key] = true
	return r.l.of(key)
}

func (r *writer) say(format string, args ...any) {
	r.s.Brief = append(r.s.Brief, fmt.Sprintf(format, args...))
}

// shareText puts "n of m (percent; interval)" together; not ok where one of them is hidden.
func (r *writer) shareText(key, of string) (said string, ok bool) {
	n, m := r.of(key), r.of(of)
	if n.hidden || m.hidden {
		return "", false
	}
	s := programme.ShareOf(n.n, m.n)
	if s.P == nil {
		return fmt.Sprintf("%d of %d", n.n, m.n), true
	}
	return fmt.Sprintf("%d of %d (%s; 95 %% interval %s)", n.n, m.n, s.Percent(), s.Interval()), true
}

func (r *writer) put(p Part) { r.s.Parts = append(r.s.Parts, p) }

func text(s string) Cell { return Cell{Text: s} }

// thing is a count of things or of staff.
func thing(n int) Cell { return Cell{Text: fmt.Sprint(n), N: &n, Thing: true} }

func escape(s string) string { return url.QueryEscape(s) }

// shares is a table of figures, each with its denominator, share and interval.
func (r *writer) shares(key, heading string, said []string, figures ...string) Part {
	p := Part{Key: key, Heading: heading, Said: said, Empty: "Nobody is counted here.", Cols: []Col{{Label: "Figure"}, {Label: "People", Num: true}, {Label: "Of", Num: true}, {Label: "Share", Num: true}, {Label: "95 % interval", Num: true}}}
	for _, k := range figures {
		fig, _ := programme.FigureOf(k)
		n := r.of(k)
		if fig.Of == "" {
			p.Rows = append(p.Rows, []Cell{text(fig.Name), n.cell(), text("-"), text("-"), text("-")})
			continue
		}
		of := r.of(fig.Of)
		p.Rows = append(p.Rows, []Cell{text(fig.Name), n.cell(), of.cell(), r.l.share(n, of), r.l.interval(n, of)})
	}
	return p
}

// counts is a table of figures alone.
func (r *writer) counts(key, heading string, figures ...string) Part {
	p := Part{Key: key, Heading: heading, Empty: "Nobody is counted here.", Cols: []Col{{Label: "Figure"}, {Label: "People", Num: true}}}
	for _, k := range figures {
		fig, _ := programme.FigureOf(k)
		p.Rows = append(p.Rows, []Cell{text(fig.Name), r.of(k).cell()})
	}
	return p
}

// stepsText says counts of which one person can stand in several, so that they have no sum; each of them stands in the table.
func stepsText(bars []chart.Bar) string {
	most, fewest := bars[0], bars[0]
	for _, b := range bars {
		if b.Value > most.Value {
			most = b
		}
		if b.Value < fewest.Value {
			fewest = b
		}
	}
	return fmt.Sprintf("Most at %s: %.0f; fewest at %s: %.0f. One person can stand in several of these counts.", most.Label, most.Value, fewest.Label, fewest.Value)
}

// steps draws counts of which later ones are parts of earlier ones.
func (p *Part) steps(question, unit string, col int) { p.draw(question, unit, col, true) }

// bars draws a column of counts of a part that each person stands in once.
func (p *Part) bars(question, unit string, col int) { p.draw(question, unit, col, false) }

// draw leaves hidden counts out and names them in words.
func (p *Part) draw(question, unit string, col int, steps bool) {
	b := chart.Bars{Text: chart.Text{Title: question, Y: unit}}
	left := 0
	for _, row := range p.Rows {
		if row[col].N == nil {
			left++
			continue
		}
		b.Bars = append(b.Bars, chart.Bar{Label: row[0].Text, Value: float64(*row[col].N)})
	}
	if len(b.Bars) < 2 || len(b.Bars) > 40 || !slices.ContainsFunc(b.Bars, func(x chart.Bar) bool { return x.Value > 0 }) {
		return
	}
	b.Desc = b.Summary()
	if steps {
		b.Desc = stepsText(b.Bars)
	}
	if left > 0 {
		b.Desc += fmt.Sprintf(" %d not shown.", left)
	}
	p.Bars = &b
}
