package report

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"testing"

	"fairstick/internal/about"
	"fairstick/internal/civil"
	"fairstick/internal/programme"
	"fairstick/internal/protocol"
)

func questionKeys() []string {
	var out []string
	for _, q := range about.Questions() {
		out = append(out, q.Key)
	}
	return out
}

// told gives what the n-th person of an invented season says about themself, with the questions that were asked: large groups and tiny
// ones, several answers, none, and people whom nobody asked.
func told(n int) (asked []string, said about.Answers) {
	if n%11 == 0 {
		return nil, nil
	}
	asked, said = questionKeys(), about.Answers{}
	if n%13 == 0 {
		return asked, said // all passed over
	}
	pick := func(key string, of []string, k int) { said[key] = []string{of[k%len(of)]} }
	races := []string{"hispanic", "white", "hispanic", "black", "hispanic", "asian"}
	switch {
	case n%97 == 0:
		said[about.Race] = []string{"pacific"}
	case n%17 == 0:
		said[about.Race] = []string{"black", "white"}
	case n%19 == 0:
		said[about.Race] = []string{about.PreferNot}
	default:
		pick(about.Race, races, n)
	}
	pick(about.Sex, []string{"female", "female", "male"}, n)
	if n%89 == 0 {
		said[about.Sex] = []string{"other"}
	}
	pick(about.Zip, []string{"021", "024", "021", "018"}, n/2)
	if n%101 == 0 {
		said[about.Zip] = []string{"991"}
	}
	if n%151 == 0 {
		said[about.Zip] = []string{"992"}
	}
	pick(about.Insurance, []string{"no", "yes", "unsure", "yes"}, n)
	pick(about.Doctor, []string{"no", "yes"}, n)
	pick(about.First, []string{"yes", "no"}, n/3)
	if n%7 != 0 {
		pick(about.Easy, []string{"yes", "yes", "partly", "yes", "yes", "yes", "yes", "no"}, n)
	}
	return asked, said
}

// A season in which people were asked about themselves: each row counts who said so, the rows come to everybody, and of the small ones
// nothing can be worked out.
func TestEquityOfWhatPeopleSaid(t *testing.T) {
	s := openSeason(t)
	want := map[string]int{}
	s.tells = func(n int, band protocol.Band) ([]string, about.Answers) {
		asked, said := told(n)
		for _, q := range about.Questions() {
			codes, there := said[q.Key]
			part := about.Part(codes, there || slices.Contains(asked, q.Key))
			if q.Key == about.Zip && strings.HasPrefix(part, "99") {
				part = about.Elsewhere
			}
			want[partKey(q.Key, part, "tested")]++
			if band != protocol.Usual {
				want[partKey(q.Key, part, "referred")]++
			}
		}
		return asked, said
	}
	s.play()
	f := figures(t, s, wholeSeason())
	for key, n := range want {
		if got := value(f, key); got != n {
			t.Errorf("%s is %d, want %d", key, got, n)
		}
	}
	for _, q := range about.Questions() {
		for _, fig := range programme.FigureList() {
			sum := 0
			for _, c := range f.Parted[q.Key] {
				sum += c.N(fig.Key)
			}
			if n := f.All.N(fig.Key); sum != n {
				t.Errorf("%s by %s: %d of %d", fig.Key, q.Key, sum, n)
			}
		}
	}
	if areas := f.Parted[about.Zip]; areas["991"].N("approached") != 0 || areas[about.Elsewhere].N("tested") < 11 || areas["021"].N("tested") < 300 {
		t.Errorf("areas: %v", slices.Sorted(maps.Keys(areas)))
	}
	// Figures trace to rows, in the parts too.
	for _, part := range []string{"hispanic", about.More, about.PassedOver, about.NotAsked} {
		rows, err := s.p.FigureRows(s.ctx, programme.RowsAsk{Span: wholeSeason().Span, Figure: "tested", Parting: about.Race, Part: part})
		if err != nil || rows.N != f.Parted[about.Race][part].N("tested") || rows.N == 0 {
			t.Errorf("%s has %d rows: %v", part, rows.N, err)
		}
	}

	all := sheets(t, f)
	for _, c := range []struct{ kind, part, name, want string }{
		{"equity", about.Sex, "Female", fmt.Sprintf("Female | %d | %d |", want[partKey(about.Sex, "female", "tested")], want[partKey(about.Sex, "female", "tested")])},
		{"equity", about.Sex, "Something else", "Something else | not shown | not shown | "},
		{"equity", about.Race, "Native Hawaiian or Pacific Islander", "Native Hawaiian or Pacific Islander | not shown | not shown"},
		{"equity", about.Zip, "Other areas", "Other areas | "},
		{"funder", about.Easy, "In part", "In part | "},
	} {
		if got := line(all[c.kind].row(t, c.part, c.name)); !strings.HasPrefix(got, c.want) {
			t.Errorf("%s, %s:\n got %s\nwant %s", c.kind, c.part, got, c.want)
		}
	}
	if brief := strings.Join(all["equity"].Brief, " "); strings.Contains(brief, "Nobody was asked") || strings.Contains(brief, "Not asked:") {
		t.Errorf("the report says that it does not ask: %s", brief)
	}
	shown, hidden := 0, 0
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
		attack(t, f, l)
		for _, yes := range l.said {
			if yes {
				shown++
			} else {
				hidden++
			}
		}
	}
	check(f, "equity", "funder", "health")
	if shown < 60 || hidden < 10 {
		t.Errorf("%d counts of what people said are shown and %d hidden", shown, hidden)
	}
	for _, e := range held(f)[:6] {
		day := civil.MustParse(e.Date)
		check(figures(t, s, programme.FiguresAsk{Span: programme.Span{From: day, To: day, Event: e.ID}}), "equity")
	}
}

// An older season, in which nobody was asked, has no such table, and says so.
func nobodyWasAsked(t *testing.T, s *acceptance) {
	f := figures(t, s, wholeSeason())
	sheet := sheets(t, f)["equity"]
	for _, q := range about.Questions() {
		if _, ok := f.Parted[q.Key]; ok {
			t.Errorf("%s has a table", q.Key)
		}
		if slices.ContainsFunc(sheet.Parts, func(p Part) bool { return p.Key == q.Key }) {
			t.Errorf("%s stands in the report", q.Key)
		}
	}
	if brief := strings.Join(sheet.Brief, " "); !strings.Contains(brief, "Nobody was asked for more (race and ethnicity; sex; ZIP code; health insurance;") {
		t.Errorf("the report does not say so: %s", brief)
	}
}
