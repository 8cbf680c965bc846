package report

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"fairstick/internal/civil"
	"fairstick/internal/disclose"
	"fairstick/internal/programme"
)

func sheets(t testing.TB, f *programme.Figures) map[string]Sheet {
	t.Helper()
	out := map[string]Sheet{}
	for _, k := range Kinds {
		s, err := Of(k, f)
		if err != nil {
			t.Fatal(err)
		}
		out[k] = s
	}
	return out
}

// row finds a row of a part by its first cell.
func (s Sheet) row(t testing.TB, part, name string) []Cell {
	t.Helper()
	for _, p := range s.Parts {
		if p.Key != part {
			continue
		}
		for _, r := range p.Rows {
			if r[0].Text == name {
				return r
			}
		}
	}
	t.Fatalf("%s has no row %q in %q", s.Kind, name, part)
	return nil
}

func line(cells []Cell) string {
	var out []string
	for _, c := range cells {
		out = append(out, c.Text)
	}
	return strings.Join(out, " | ")
}

// The acceptance season as it stands in the reports.
func reportsComeOut(t *testing.T, s *acceptance) {
	all := sheets(t, figures(t, s, wholeSeason()))
	for _, c := range []struct{ kind, part, name, want string }{
		{"season", "funnel", "Referred", "Referred | 122 | 905 | 13.5 % | 11.4 to 15.9 %"},
		{"season", "after", "Seen", "Seen | 40 | 122 | 32.8 % | 25.1 to 41.5 %"},
		{"season", "after", "Wrong number", "Wrong number | 10 | 122 | 8.2 % | 4.5 to 14.4 %"},
		{"season", "bands", "Raised", "Raised | 95 | 10.5 % | 8.7 to 12.7 % | 0 | 95"},
		{"season", "quality", "Control runs out of range", "Control runs out of range | 7 | 412 | 1.7 %"},
		{"season", "quality", "Meters taken out", "Meters taken out | 3 | - | -"},
		{"season", "quality", "Meters brought back", "Meters brought back | 1 | 3 | 33.3 %"},
		{"season", "targets", "People tested", "People tested | 900 | 905 | reached"},
		{"season", "targets", "Seen of everybody referred", "Seen of everybody referred | 40 % | 32.8 % | 9 more people to be seen"},
		{"season", "targets", "Events held", "Events held | 20 | 19 | 1 to go"},
		{"season", "cost", "For each person tested", "For each person tested | - | 2.19 USD | all, divided by 905"},
		{"season", "cost", "For each referral completed", "For each referral completed | - | 49.65 USD | all, divided by 40"},
		{"season", "cost", "For each new diagnosis, as told", "For each new diagnosis, as told | - | 397.20 USD | all, divided by 5"},
		{"season", "cost", "Thrown away", "Thrown away | 20 | 9.80 USD | of the shelves, in these days; not in the sums above"},
		{"college", "safely", "of them lapsing before 1 Jan 2027", "of them lapsing before 1 Jan 2027 | 9 | 41"},
		{"college", "safely", "Verified as screeners on 30 Apr 2026", "Verified as screeners on 30 Apr 2026 | 41 | -"},
		{"college", "done", "Seen", "Seen | 40 | 122 | 32.8 % | 25.1 to 41.5 %"},
		{"funder", "after", "Seen", "Seen | 40 | 122 | 32.8 % | 25.1 to 41.5 %"},
		{"funder", "after", "New diagnosis, as told", "New diagnosis, as told | not shown | 122 | not shown | not shown"},
		{"funder", "cost", "For each new diagnosis, as told", "For each new diagnosis, as told | - | not shown | the count is not shown"},
		{"equity", "permission", "Yes", "Yes | 99 | 40 | 40.4 % | 31.3 to 50.3 %"},
		{"health", "tests", "Tested", "Tested | 905 | 1,002"},
	} {
		got := line(all[c.kind].row(t, c.part, c.name))
		if c.name == "Tested" && c.kind == "health" {
			if !strings.HasPrefix(got, "Tested | 905 | ") {
				t.Errorf("%s: %s", c.kind, got)
			}
			continue
		}
		if got != c.want {
			t.Errorf("%s, %s:\n got %s\nwant %s", c.kind, c.part, got, c.want)
		}
	}
	brief := strings.Join(all["season"].Brief, " ")
	for _, want := range []string{"at 19 events; 1 of 20 planned were cancelled", "122 of 905 (13.5 %", "40 of 122 (32.8 %", "405 of 412 control runs were in range; meters were taken out 3 times and brought back once", "Each person tested cost 2.19 USD"} {
		if !strings.Contains(brief, want) {
			t.Errorf("the summary does not say %q: %s", want, brief)
		}
	}
	learned := ""
	for _, p := range all["season"].Parts {
		if p.Key == "learning" {
			for _, r := range p.Rows {
				learned += line(r) + "\n"
			}
		}
	}
	for _, want := range []string{"used up all it had of strip lot A", "The longest wait for the test was at", "Most people came from 09:00 to 10:00", "9 of 41 verified screeners lapse before 1 Jan 2027", "20 pieces worth 9.80 USD were thrown away"} {
		if !strings.Contains(learned, want) {
			t.Errorf("nothing is learned of %q:\n%s", want, learned)
		}
	}
}

// Where two reports print the same figure they print the same number.
func reportsAgree(t *testing.T, s *acceptance) {
	said := map[string]string{}
	for kind, sheet := range sheets(t, figures(t, s, wholeSeason())) {
		for _, p := range sheet.Parts {
			for _, r := range p.Rows {
				for i, c := range r {
					if c.N == nil || c.Ask == "" {
						continue
					}
					if before, ok := said[c.Ask]; ok && before != c.Text {
						t.Errorf("%s, %s, %s: %s prints %s, another report %s", kind, r[0].Text, p.Cols[i].Label, c.Ask, c.Text, before)
					}
					said[c.Ask] = c.Text
				}
			}
		}
	}
	if len(said) < 60 {
		t.Errorf("only %d figures were compared", len(said))
	}
}

// noSmall fails where a report that leaves the house prints a count of people from 1 to 10, or a share of what it does not print.
func noSmall(t testing.TB, s Sheet) {
	t.Helper()
	for _, p := range s.Parts {
		for _, r := range p.Rows {
			hidden := false
			for i, c := range r {
				if c.N != nil && !c.Thing && disclose.Small(*c.N) {
					t.Errorf("%s prints %d at %s, %s", s.Kind, *c.N, r[0].Text, p.Cols[i].Label)
				}
				if c.Share != nil && hidden && len(p.Cols) == 5 {
					t.Errorf("%s prints a share of what it hides: %s", s.Kind, line(r))
				}
				hidden = hidden || c.Hidden
				if c.Hidden && (c.Text != NotShown || c.N != nil || c.Share != nil || c.Ask != "") {
					t.Errorf("%s says more than that it is hidden: %+v", s.Kind, c)
				}
			}
		}
	}
	for _, said := range s.Brief {
		said, _, _ = strings.Cut(said, " tested at ") // the number of events is no count of people
		for word := range strings.FieldsSeq(said) {
			var n int
			if _, err := fmt.Sscanf(word, "%d", &n); err == nil && fmt.Sprint(n) == strings.Trim(word, ".,;:()") && disclose.Small(n) && !strings.Contains(said, "control runs") && !strings.Contains(said, "There were") && !strings.Contains(said, "Counts from 1 to 10") && !strings.Contains(said, "Targets not") {
				t.Errorf("%s says %d: %s", s.Kind, n, said)
			}
		}
	}
}

// Every public report of the season and of each of its events, together, hides each count from 1 to 10, and an outsider who has them
// all works none out: neither the linear programs of package disclose nor a plain search that shares no code with them.
func nothingSmallLeaves(t *testing.T, s *acceptance) {
	whole := figures(t, s, wholeSeason())
	hides := 0
	check := func(f *programme.Figures, kinds ...string) {
		t.Helper()
		for _, kind := range kinds {
			sheet, err := Of(kind, f)
			if err != nil {
				t.Fatal(err)
			}
			noSmall(t, sheet)
		}
		l, err := newLedger(f, true)
		if err != nil {
			t.Fatal(err)
		}
		if exposed := l.problem.Exposed(l.plan); len(exposed) > 0 {
			t.Errorf("%s: exposed %v", f.Span.Words(), exposed)
		}
		attack(t, f, l)
		hides += l.hides()
	}
	check(whole, "health", "funder", "equity")
	for _, e := range held(whole) {
		day := civil.MustParse(e.Date)
		check(figures(t, s, programme.FiguresAsk{Span: programme.Span{From: day, To: day, Event: e.ID}}), "host")
	}
	if hides < 100 {
		t.Errorf("only %d counts are hidden in 20 sets of reports", hides)
	}
}

// attack narrows what each hidden count can be from the sums that anybody can write down by hand, again and again, until nothing more
// follows. A count from 1 to 10 must stay anything from 1 to 10.
func attack(t testing.TB, f *programme.Figures, l *ledger) {
	t.Helper()
	type interval struct{ low, high float64 }
	know := map[string]*interval{}
	reset := func(shape bool) { // with shape, nothing but 0 is printed
		learn := func(key string, shown bool) {
			know[key] = &interval{1, math.Inf(1)}
			if n := float64(value(f, key)); shown && (!shape || n == 0) {
				know[key] = &interval{n, n}
			}
		}
		for key, c := range l.cells {
			learn(key, !l.plan.Hidden(c))
		}
		for key, shown := range l.said {
			learn(key, shown)
			if value(f, key) == 0 && !shown { // a column that is hidden as a whole
				know[key].low = 0
			}
		}
		for key := range know {
			if strings.HasPrefix(key, "rest ") {
				know[key] = &interval{0, math.Inf(1)}
			}
		}
	}
	reset(true)
	rest := 0
	free := func() string { // what is left over and nowhere printed
		rest++
		key := fmt.Sprint("rest ", rest)
		know[key] = &interval{0, math.Inf(1)}
		return key
	}
	var sums [][]string // total, then its parts
	sum := func(keys ...string) { sums = append(sums, keys) }
	bands := []string{"critical-low", "low", "usual", "raised", "high", "critical-high"}
	sum("approached", "tested", "not-eligible", "declined", "left", "unfinished")
	sum("valid", "fasting", "random")
	with := func(prefix string) (out []string) {
		for _, b := range bands {
			out = append(out, prefix+"-"+b)
		}
		return out
	}
	for _, p := range [][2]string{{"valid", "band"}, {"fasting", "fasting"}, {"random", "random"}} {
		sum(append([]string{p[0]}, with(p[1])...)...)
	}
	for _, b := range bands {
		sum("band-"+b, "fasting-"+b, "random-"+b)
	}
	sum("referred", "may-call", "no-call", "not-written")
	sum("referred", "seen", "scheduled", "not-yet", "declined-care", "in-care", "unreachable", "wrong-number", free())
	for _, in := range [][2]string{{"consented", "approached"}, {"eligible", "approached"}, {"known", "approached"}, {"valid", "tested"}, {"repeated", "tested"}, {"care", "tested"}, {"referred", "tested"}, {"critical", "valid"}, {"tried", "referred"}, {"reached", "tried"}, {"diagnosed", "referred"}, {"seen-30", "seen-90"}, {"seen-90", "seen"}, {"known-tested", "tested"}} {
		sum(in[1], in[0], free())
	}
	for _, parting := range append(slices.Clone(publicPartings), questionKeys()...) {
		for _, key := range l.saidFigures() {
			row := []string{key}
			for part := range f.Parted[parting] {
				if _, ok := know[partKey(parting, part, key)]; ok {
					row = append(row, partKey(parting, part, key))
				}
			}
			if len(row) > 1 {
				sum(row...)
			}
		}
		for part := range f.Parted[parting] {
			for inner, outer := range insideOf {
				a, b := partKey(parting, part, outer), partKey(parting, part, inner)
				if know[a] != nil && know[b] != nil {
					sum(a, b, free())
				}
			}
			if a, b := partKey(parting, part, "outside"), partKey(parting, part, "referred"); know[a] != nil && know[b] != nil && value(f, b) <= value(f, a) {
				sum(a, b, free())
			}
		}
	}
	narrow := func() {
		for range 60 {
			for _, s := range sums {
				for i, key := range s {
					low, high := 0.0, 0.0
					for j, other := range s {
						if j == i {
							continue
						}
						o := know[other]
						switch {
						case i == 0: // the total: all parts together
							low, high = low+o.low, high+o.high
						case j == 0: // a part: the total less the other parts
							low, high = low+o.low, high+o.high
						default:
							low, high = low-o.high, high-o.low
						}
					}
					k := know[key]
					k.low, k.high = math.Max(k.low, low), math.Min(k.high, high)
				}
			}
		}
	}
	narrow()
	shape := map[string]float64{}
	for key, k := range know {
		shape[key] = k.low
	}
	reset(false)
	narrow()
	for key, k := range know {
		if strings.HasPrefix(key, "rest ") {
			continue
		}
		if n := value(f, key); disclose.Small(n) && (k.low > shape[key] || k.high < 10) {
			t.Errorf("%s: %s is %d; by hand it lies from %v to %v", f.Span.Words(), key, n, k.low, k.high)
		}
	}
}

// value is a count by its key in the ledger.
func value(f *programme.Figures, key string) int {
	if parting, rest, ok := strings.Cut(key, ":"); ok {
		if parting == "mishap" {
			return f.Mishaps[rest]
		}
		part, figure, _ := strings.Cut(rest, "/")
		return f.Parted[parting][part].N(figure)
	}
	if key == "mishaps" {
		n := 0
		for _, x := range f.Mishaps {
			n += x
		}
		return n
	}
	return f.All.N(key)
}

func reportsOfNothing(t *testing.T, s *acceptance) {
	day := civil.MustParse("2020-01-01")
	for kind, sheet := range sheets(t, figures(t, s, programme.FiguresAsk{Span: programme.Span{From: day, To: day}})) {
		if sheet.Hidden != 0 || len(sheet.Brief) == 0 || len(sheet.Parts) == 0 {
			t.Errorf("%s of an empty day: %+v", kind, sheet)
		}
	}
	if _, err := Of("happiness", &programme.Figures{}); err == nil {
		t.Error("a report that there is not was written")
	}
}
