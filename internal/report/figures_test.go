package report

import (
	"fmt"
	"strings"
	"testing"

	"fairstick/internal/programme"
	"fairstick/internal/protocol"
)

func figures(t testing.TB, s *acceptance, ask programme.FiguresAsk) *programme.Figures {
	t.Helper()
	f, err := s.p.Figures(s.ctx, ask)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// The acceptance season is played once and looked at from all sides.
func TestAcceptanceSeason(t *testing.T) {
	s := openSeason(t)
	s.play()
	for name, look := range map[string]func(*testing.T, *acceptance){
		"the season comes out": seasonComesOut, "figures add up": figuresAddUp, "figures trace to rows": figuresTraceToRows, "reports come out": reportsComeOut, "reports agree": reportsAgree,
		"nothing small leaves the house": nothingSmallLeaves, "reports of nothing": reportsOfNothing,
		"nobody was asked": nobodyWasAsked,
	} {
		t.Run(name, func(t *testing.T) { look(t, s) })
	}
	rep, err := s.store.Check(s.ctx)
	if err != nil || !rep.OK() {
		t.Errorf("record: %v %v", rep.Problems, err)
	}
}

// The acceptance season comes out to the number.
func seasonComesOut(t *testing.T, s *acceptance) {
	f := figures(t, s, wholeSeason())
	for name, c := range map[string][2]int{
		"planned": {f.Planned(), 20}, "cancelled": {f.Cancelled(), 1}, "held": {f.Held(), 19},
		"tested": {f.All.N("tested"), 905}, "with a result": {f.All.N("valid"), 905}, "referred": {f.All.N("referred"), 122}, "may be called": {f.All.N("may-call"), 99}, "no permission": {f.All.N("no-call"), 23},
		"usual": {f.All.N("band-usual"), 783}, "raised": {f.All.N("band-raised"), 95}, "high": {f.All.N("band-high"), 18}, "critical high": {f.All.N("band-critical-high"), 4},
		"low": {f.All.N("band-low"), 5}, "critical low": {f.All.N("band-critical-low"), 0}, "fasting": {f.All.N("fasting"), 0}, "not fasting": {f.All.N("random"), 905},
		"tried": {f.All.N("tried"), 99}, "reached": {f.All.N("reached"), 66}, "no answer": {f.All.N("unreachable"), 23}, "wrong number": {f.All.N("wrong-number"), 10},
		"seen": {f.All.N("seen"), 40}, "within 30 days": {f.All.N("seen-30"), 28}, "within 90 days": {f.All.N("seen-90"), 40}, "have a date": {f.All.N("scheduled"), 11}, "declined": {f.All.N("declined-care"), 8},
		"not yet": {f.All.N("not-yet"), 7}, "in care": {f.All.N("in-care"), 0}, "diagnosed, as told": {f.All.N("diagnosed"), 5},
		"control runs": {f.Amounts.Runs, 412}, "failures": {f.Amounts.OutOfRange, 7}, "in range": {f.Amounts.InRange, 405}, "quarantined": {f.Amounts.Quarantined, 3}, "returned": {f.Amounts.Returned, 1},
		"people": {f.Staff.People, 58}, "verified": {f.Staff.Verified, 41}, "lapsing": {f.Staff.Lapsing, 9},
		"incidents": {f.Amounts.Incidents, 5}, "faints": {f.Mishaps["faint"], 5},
		"strips used": {f.Amounts.StripsUsed, 905 + 412 + 10}, "strips not recorded": {f.Amounts.StripsWasted, 10}, "lancets": {f.Amounts.LancetsUsed, 905},
	} {
		if c[0] != c[1] {
			t.Errorf("%s: %d, want %d", name, c[0], c[1])
		}
	}
	if got := f.All.Share("referred").Percent(); got != "13.5 %" {
		t.Errorf("referred %s, want 13.5 %%", got)
	}
	if got := f.All.Share("seen"); got.Percent() != "32.8 %" || got.Of != 122 {
		t.Errorf("completion %s of %d, want 32.8 %% of 122", got.Percent(), got.Of)
	}
	for i, e := range held(f) {
		if n := e.Counts.N("tested"); n != seasonTested[i] {
			t.Errorf("event %d: %d tested, want %d", i+1, n, seasonTested[i])
		}
		if e.Amounts.Posts == 0 || e.Amounts.Minutes != 240*e.Amounts.Posts {
			t.Errorf("event %d: %d posts for %d minutes", i+1, e.Amounts.Posts, e.Amounts.Minutes)
		}
	}
	if e := held(f)[14]; e.Counts.N("tested") != 140 || len(f.RanOut(e)) != 1 || f.RanOut(e)[0] != "Strip lot A" {
		t.Errorf("the event of 140 ran out of %v", f.RanOut(e))
	}
	if f.Season == nil || f.Season.Targets.Tested != 900 {
		t.Errorf("the season of the last day is %+v", f.Season)
	}
	// 1,327 strips at 24.50 for 50, 905 lancets at 15.00 for 100, and 1,200.00 beside them.
	if c := f.Cost; c.Consumables != 65023+13575 || c.Total() != 65023+13575+120000 || c.DisposedN != 20 || c.Disposed != 980 {
		t.Errorf("cost: %+v", c)
	}
	if per, ok := f.Cost.Per(905); !ok || per != 219 {
		t.Errorf("a person costs %d", per)
	}
}

func held(f *programme.Figures) []*programme.EventFigures {
	var out []*programme.EventFigures
	for _, e := range f.Events {
		if e.Held() {
			out = append(out, e)
		}
	}
	return out
}

// Whatever is parted adds up: the events, the bands, the outcomes at the door, the parts of every parting.
func figuresAddUp(t *testing.T, s *acceptance) {
	f := figures(t, s, wholeSeason())
	for _, fig := range programme.FigureList() {
		sum := 0
		for _, e := range f.Events {
			sum += e.Counts.N(fig.Key)
		}
		if n := f.All.N(fig.Key); sum != n {
			t.Errorf("%s: the events have %d together, the season %d", fig.Key, sum, n)
		}
		if fig.Of != "" && f.All.N(fig.Key) > f.All.N(fig.Of) {
			t.Errorf("%s: %d of %d", fig.Key, f.All.N(fig.Key), f.All.N(fig.Of))
		}
		for _, by := range []string{programme.ByLanguage, programme.ByAge, programme.ByKnown} {
			sum = 0
			for _, c := range f.Parted[by] {
				sum += c.N(fig.Key)
			}
			if n := f.All.N(fig.Key); sum != n {
				t.Errorf("%s by %s: %d of %d", fig.Key, by, sum, n)
			}
		}
		if fig.Name == "" || !strings.HasSuffix(fig.Says, ".") {
			t.Errorf("%s has no definition", fig.Key)
		}
	}
	all := f.All
	bands, fasting, random := 0, 0, 0
	for _, b := range protocol.Bands {
		bands += all.N("band-" + string(b))
		fasting += all.N("fasting-" + string(b))
		random += all.N("random-" + string(b))
	}
	for name, c := range map[string][2]int{
		"bands":       {bands, all.N("valid")},
		"fasting":     {fasting, all.N("fasting")},
		"random":      {random, all.N("random")},
		"basis":       {all.N("fasting") + all.N("random"), all.N("valid")},
		"at the door": {all.N("tested") + all.N("not-eligible") + all.N("declined") + all.N("left") + all.N("unfinished"), all.N("approached")},
		"permission":  {all.N("may-call") + all.N("no-call") + all.N("not-written"), all.N("referred")},
	} {
		if c[0] != c[1] {
			t.Errorf("%s: %d, want %d", name, c[0], c[1])
		}
	}
}

// Every figure is as many rows as it counts, whole and by part, and the report of each event says the same.
func figuresTraceToRows(t *testing.T, s *acceptance) {
	f := figures(t, s, wholeSeason())
	for _, fig := range programme.FigureList() {
		r, err := s.p.FigureRows(s.ctx, programme.RowsAsk{Span: f.Span, Figure: fig.Key, Most: 2000})
		if err != nil || r.N != f.All.N(fig.Key) || len(r.Rows) != r.N {
			t.Errorf("%s: %d rows of %d for %d, %v", fig.Key, len(r.Rows), r.N, f.All.N(fig.Key), err)
		}
	}
	es, err := s.p.FigureRows(s.ctx, programme.RowsAsk{Span: f.Span, Figure: "referred", Parting: programme.ByLanguage, Part: "es", Most: 1})
	if err != nil || es.N != f.Parted[programme.ByLanguage]["es"].N("referred") || len(es.Rows) != 1 || es.Rows[0].Language != "es" {
		t.Errorf("referred in Spanish: %+v %v", es, err)
	}
	c, err := s.p.Completion(s.ctx, programme.FollowUpScope{From: f.Span.From, Until: f.Span.To})
	if err != nil {
		t.Fatal(err)
	}
	completes(t, c, f.All)
	for lang, counts := range f.Parted[programme.ByLanguage] {
		completes(t, programme.CompletionOf(c.InGroup(programme.ByLanguage, lang)), counts)
	}
	for said, counts := range f.Parted[programme.ByPermission] {
		completes(t, programme.CompletionOf(c.InGroup(programme.ByPermission, said)), counts)
	}
	for _, e := range held(f) {
		completes(t, programme.CompletionOf(c.InGroup(programme.ByEvent, e.ID)), e.Counts)
	}
	for _, e := range held(f)[:6] {
		d, err := s.p.Day(s.ctx, e.ID)
		if err != nil {
			t.Fatal(err)
		}
		agrees(t, d.Report(), e)
		one := figures(t, s, programme.FiguresAsk{Span: programme.Span{From: f.Span.From, To: f.Span.To, Event: e.ID}})
		if len(one.Events) != 1 || one.All.N("tested") != e.Counts.N("tested") {
			t.Errorf("%s alone: %d tested", e.Name, one.All.N("tested"))
		}
	}
}

// completes holds a completion against figures.
func completes(t *testing.T, c programme.Completion, f programme.Counts) {
	t.Helper()
	for name, x := range map[string][2]int{
		"referred": {c.Referred, f.N("referred")}, "tried": {c.Called, f.N("tried")}, "reached": {c.Reached, f.N("reached")}, "seen": {c.Seen.N, f.N("seen")}, "of": {c.Seen.Of, f.N("referred")},
		"30 days": {c.Within30.N, f.N("seen-30")}, "90 days": {c.Within90.N, f.N("seen-90")}, "scheduled": {c.Places["scheduled"], f.N("scheduled")}, "declined": {c.Places["declined"], f.N("declined-care")},
		"not yet": {c.Places["not-yet"], f.N("not-yet")}, "in care": {c.Places["already-known"], f.N("in-care")}, "no answer": {c.Places["unreachable"], f.N("unreachable")},
		"wrong number": {c.Places["wrong-number"], f.N("wrong-number")},
	} {
		if x[0] != x[1] {
			t.Errorf("%s: the completion says %d, the figures %d", name, x[0], x[1])
		}
	}
}

// agrees holds the report of a day against its figures.
func agrees(t *testing.T, r programme.Report, e *programme.EventFigures) {
	t.Helper()
	c, a := e.Counts, e.Amounts
	for name, x := range map[string][2]int{
		"arrived": {r.Outcomes.Arrived, c.N("approached")}, "tested": {r.Outcomes.Tested, c.N("tested")}, "left": {r.Outcomes.Left, c.N("left")}, "not eligible": {r.Outcomes.NotEligible, c.N("not-eligible")},
		"declined": {r.Outcomes.Declined, c.N("declined")}, "unfinished": {r.Outcomes.Unfinished, c.N("unfinished")}, "slips": {r.Outcomes.Slips, c.N("slips")}, "explained": {r.Outcomes.Explained, c.N("explained")},
		"referred": {r.Referrals.N, c.N("referred")}, "may call": {r.Referrals.Call, c.N("may-call")}, "no call": {r.Referrals.NoCall, c.N("no-call")},
		"first": {r.Readings.First, a.First}, "repeats": {r.Readings.Repeats, a.Repeats}, "rechecks": {r.Readings.Rechecks, a.Rechecks}, "errors": {r.Readings.Errors, a.Errors},
		"sticks": {r.Readings.Sticks, a.Sticks}, "misfires": {r.Readings.Misfires, a.Misfires}, "care": {len(r.Criticals), c.N("care")},
		"runs": {r.ControlSum["runs"], a.Runs}, "in range": {r.ControlSum["in-range"], a.InRange}, "out of range": {r.ControlSum["out-of-range"], a.OutOfRange}, "overrides": {len(r.Overrides), a.Overrides},
	} {
		if x[0] != x[1] {
			t.Errorf("%s, %s: the report of the day says %d, the figures %d", e.Name, name, x[0], x[1])
		}
	}
	for _, b := range protocol.Bands {
		for _, base := range protocol.Bases {
			if x, y := r.Bands[string(base)][string(b)], c.N(string(base)+"-"+string(b)); x != y {
				t.Errorf("%s, %s %s: the report of the day says %d, the figures %d", e.Name, base, b, x, y)
			}
		}
	}
	hours := 0
	for _, n := range e.Hours {
		hours += n
	}
	for _, h := range r.Arrivals {
		var hour int
		if _, err := fmt.Sscanf(h.Hour, "%d:00", &hour); err != nil || e.Hours[hour] != h.N {
			t.Errorf("%s, %s: the report of the day says %d, the figures %d", e.Name, h.Hour, h.N, e.Hours[hour])
		}
	}
	if hours != c.N("approached") {
		t.Errorf("%s: %d arrivals by hour", e.Name, hours)
	}
}
