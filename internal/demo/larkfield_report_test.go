package demo

import (
	"context"
	"strings"

	"fairstick/internal/civil"
	"fairstick/internal/disclose"
	"fairstick/internal/programme"
	"fairstick/internal/report"
)

// reports holds the figures of the fair against its report, and reads the letter to the host.
func (f *fair) reports(ctx context.Context, seen int) {
	day := civil.MustParse("2025-10-04")
	figures, err := f.P.Figures(ctx, programme.FiguresAsk{Span: programme.Span{From: day, To: day, Event: f.Event}})
	if err != nil {
		f.t.Fatal(err)
	}
	all, a := figures.All, figures.Amounts
	for name, c := range map[string][2]int{
		"approached": {all.N("approached"), 84}, "tested": {all.N("tested"), 68}, "left": {all.N("left"), 3}, "not eligible": {all.N("not-eligible"), 11}, "declined": {all.N("declined"), 2},
		"know it": {all.N("known"), 9}, "fasting": {all.N("fasting"), 11}, "not fasting": {all.N("random"), 57},
		"usual": {all.N("band-usual"), 52}, "raised": {all.N("band-raised"), 11}, "high": {all.N("band-high"), 3}, "low": {all.N("band-low"), 1}, "critical high": {all.N("band-critical-high"), 1},
		"fasting, high": {all.N("fasting-high"), 1}, "not fasting, raised": {all.N("random-raised"), 8}, "referred": {all.N("referred"), 16}, "may be called": {all.N("may-call"), 13}, "no permission": {all.N("no-call"), 3},
		"values after the first": {a.Repeats + a.Rechecks, 6}, "meter errors": {a.Errors, 5}, "strips": {a.StripsUsed, 98}, "lancets": {a.LancetsUsed, 79}, "controls": {a.Runs, 19}, "out of range": {a.OutOfRange, 2},
		"taken out": {a.Quarantined, 1}, "brought back": {a.Returned, 0}, "incidents": {a.Incidents, 1}, "overrides": {a.Overrides, 1}, "slips": {all.N("slips"), 68}, "seen": {all.N("seen"), seen},
	} {
		if c[0] != c[1] {
			f.t.Errorf("figures, %s: %d, want %d", name, c[0], c[1])
		}
	}
	letter, err := report.Of("host", figures)
	if err != nil {
		f.t.Fatal(err)
	}
	shown, hidden := 0, 0
	for _, p := range letter.Parts {
		for _, row := range p.Rows {
			for _, c := range row {
				if c.N != nil && disclose.Small(*c.N) {
					f.t.Errorf("the letter to the host shows %d at %s, %s", *c.N, p.Heading, row[0].Text)
				}
				if c.N != nil {
					shown++
				}
				if c.Hidden {
					hidden++
				}
			}
		}
	}
	if shown < 10 || hidden < 10 {
		f.t.Errorf("the letter shows %d counts and hides %d", shown, hidden)
	}
	for _, said := range letter.Brief {
		for _, x := range larkfield().People {
			if strings.Contains(said, x.Name) {
				f.t.Errorf("the letter names %s", x.Name)
			}
		}
	}
	if !strings.Contains(strings.Join(letter.Brief, " "), "68 were tested") && !strings.Contains(strings.Join(letter.Brief, " "), "68 people were tested") {
		f.t.Errorf("the letter does not say that 68 were tested: %v", letter.Brief)
	}
}
