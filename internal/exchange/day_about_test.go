package exchange_test

import (
	"bytes"
	"fmt"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"fairstick/internal/about"
	"fairstick/internal/civil"
	"fairstick/internal/exchange"
	"fairstick/internal/programme"
	"fairstick/internal/report"
)

// asking is a hall whose programme asks people about themselves.
func asking(t *testing.T, keys ...string) *paperHall {
	t.Helper()
	h := newPaperHall(t)
	h.asks(keys...)
	return h
}

func (h *paperHall) asks(keys ...string) {
	h.t.Helper()
	_, err := h.P.ChooseQuestions(h.ctx, h.As("Lea Lead"), programme.ChooseQuestions{Act: h.Act(), Questions: keys})
	h.must(err)
}

func everyQuestion() []string {
	var out []string
	for _, q := range about.Questions() {
		out = append(out, q.Key)
	}
	return out
}

// said gives what everybody of the day has said about themself, in the order of the tickets.
func (h *paperHall) said() []string {
	h.t.Helper()
	d, err := h.P.Day(h.ctx, h.Event)
	h.must(err)
	var out []string
	for _, v := range d.Visits {
		out = append(out, v.Counts().About)
	}
	return out
}

// figures are those of the day, and of its equity and funder report what stands in their tables.
func (h *paperHall) figures() (f *programme.Figures, tables map[string][]report.Part) {
	h.t.Helper()
	day := civil.MustParse("2026-06-20")
	f, err := h.P.Figures(h.ctx, programme.FiguresAsk{Span: programme.Span{From: day, To: day}, LapseOn: day})
	h.must(err)
	tables = map[string][]report.Part{}
	for _, kind := range []string{"equity", "funder"} {
		s, err := report.Of(kind, f)
		h.must(err)
		tables[kind] = s.Parts
	}
	return f, tables
}

// rowsOf reads the example of a paper day with cells of some lines changed, by way of the file.
func (h *paperHall) rowsOf(changes map[int]map[string]string) (visits, controls []programme.ImportRow, text string) {
	h.t.Helper()
	visits, controls = h.paper()
	var rows []map[string]string
	for i, r := range visits {
		for column, cell := range changes[i] {
			r = with(r, column, cell)
		}
		rows = append(rows, r.Values)
	}
	var buf bytes.Buffer
	h.must(exchange.WriteDay(&buf, exchange.DayVisits, rows))
	text = buf.String()
	d, err := exchange.ReadDay(exchange.DayVisits, &buf)
	h.must(err)
	if len(d.Bad) != 0 {
		h.t.Fatalf("%v", d.Bad)
	}
	return d.Rows, controls, text
}

// A live day on which people were asked about themselves, written as files and typed into another record of the programme: the same answers, and
// the same rows of the equity and the funder report. A second load adds nothing, in either record.
func TestWhatPeopleSaidComesBackFromItsFiles(t *testing.T) {
	live := asking(t, everyQuestion()...)
	live.live()
	visits, controls, text := live.files(true)
	for _, want := range []string{"about_race", "about_zip3", "about_first_time", about.PassedOver, about.PreferNot} {
		if !strings.Contains(text, want) {
			t.Errorf("the file lacks %s:\n%s", want, text)
		}
	}
	want := live.said()
	if asked := strings.Count(strings.Join(want, "\n"), "race="); asked < 8 {
		t.Fatalf("only %d were asked: %q", asked, want)
	}

	typed := asking(t, everyQuestion()...)
	if done := typed.load(visits, controls); done.Visits != 13 || !done.Recorded {
		t.Fatalf("loaded %+v", done)
	}
	if d := cmp.Diff(want, typed.said()); d != "" {
		t.Errorf("the answers differ (-live +files):\n%s", d)
	}
	for name, h := range map[string]*paperHall{"live": live, "typed": typed} {
		before := h.said()
		done := h.load(visits, controls)
		if done.Visits != 0 || done.VisitsThere != 13 || done.ControlsThere != 7 || cmp.Diff(before, h.said()) != "" {
			t.Errorf("%s, again: %+v", name, done)
		}
	}
	live.finish()
	typed.finish()
	a, tables := live.figures()
	b, again := typed.figures()
	for _, q := range about.Questions() {
		if len(a.Parted[q.Key]) == 0 || len(a.Parted[q.Key]) != len(b.Parted[q.Key]) {
			t.Errorf("%s: %d rows and %d", q.Key, len(a.Parted[q.Key]), len(b.Parted[q.Key]))
		}
		for part, c := range a.Parted[q.Key] {
			for _, fig := range programme.FigureList() {
				if n := b.Parted[q.Key][part].N(fig.Key); n != c.N(fig.Key) {
					t.Errorf("%s, %s, %s: %d live, %d from files", q.Key, part, fig.Key, c.N(fig.Key), n)
				}
			}
		}
	}
	if d := cmp.Diff(tables, again); d != "" {
		t.Errorf("the reports differ (-live +files):\n%s", d)
	}
}

// The cells of a file become the answers that they name, however they are written; and come out again in one form.
func TestCellsOfWhatPeopleSaid(t *testing.T) {
	h := asking(t, everyQuestion()...)
	visits, controls, text := h.rowsOf(map[int]map[string]string{
		0: {"about_race": " White|asian ", "about_sex": "Female", "about_zip3": "021", "about_insurance": "unsure", "about_doctor": "no", "about_first_time": "yes", "about_easy": "partly"},
		1: {"about_race": "prefer-not", "about_sex": "passed-over", "about_zip3": "prefer-not"},
		2: {"about_zip3": "passed-over", "about_easy": "PASSED-OVER"},
	})
	h.load(visits, controls)
	want := []string{"race=asian+white sex=female zip3=021 insurance=unsure doctor=no first-time=yes easy=partly", "race=prefer-not sex= zip3=prefer-not", "zip3= easy=", ""}
	if d := cmp.Diff(want, h.said()[:4]); d != "" {
		t.Errorf("answers (-want +got):\n%s\n%s", d, text)
	}
	f, _ := h.figures()
	for _, c := range []struct {
		key, part          string
		approached, tested int
	}{
		{about.Race, about.More, 1, 1},
		{about.Race, about.PreferNot, 1, 1},
		{about.Race, about.NotAsked, 11, 6},
		{about.Sex, "female", 1, 1},
		{about.Sex, about.PassedOver, 1, 1},
		{about.Zip, about.Elsewhere, 1, 1},
		{about.Zip, about.PassedOver, 1, 1},
		{about.Doctor, "no", 1, 1},
		{about.Easy, about.PassedOver, 1, 1},
		{about.Easy, "partly", 1, 1},
	} {
		if n := f.Parted[c.key][c.part]; n.N("approached") != c.approached || n.N("tested") != c.tested {
			t.Errorf("%s, %s: %d came and %d were tested, want %d and %d", c.key, c.part, n.N("approached"), n.N("tested"), c.approached, c.tested)
		}
	}
	out, again, _ := h.files(true)
	if got := out[0].Values; got["about_race"] != "asian|white" || got["about_easy"] != "partly" || out[1].Values["about_sex"] != about.PassedOver || out[2].Values["about_race"] != "" {
		t.Errorf("written: %v", got)
	}
	other := asking(t, everyQuestion()...)
	other.load(out, again)
	if d := cmp.Diff(h.said(), other.said()); d != "" {
		t.Errorf("the second record differs:\n%s", d)
	}
	visits[0] = with(visits[0], "about_sex", "male")
	changed, err := h.P.ImportDay(h.ctx, h.As("Lea Lead"), programme.ImportDay{Event: h.Event, Visits: visits, Controls: controls})
	h.must(err)
	if len(changed.Bad) != 1 || changed.Bad[0].Line != visits[0].Line || changed.Bad[0].Column != "form" || changed.Recorded {
		t.Errorf("another answer: %+v", changed.Bad)
	}
}

// Every cell that is no answer is named with its line and column, and nothing is recorded.
func TestBadCellsOfWhatPeopleSaid(t *testing.T) {
	h := asking(t, about.Race, about.Sex, about.Zip, about.Easy)
	visits, controls, _ := h.rowsOf(map[int]map[string]string{
		0: {"about_race": "asian|prefer-not", "about_sex": "female|male"},
		1: {"about_zip3": "02139", "about_easy": "maybe"},
		2: {"about_sex": "f", "about_race": "asian,white"},
		4: {"about_zip3": "2"},
		6: {"about_race": "white", "about_sex": "passed-over"}, // they declined to consent
		8: {"about_race": "asian", "about_easy": "yes"},
	})
	in := programme.ImportDay{Act: h.Act(), Event: h.Event, Visits: visits, Controls: controls, Opened: "8:55 am"}
	h.Clock.Set(h.Time("12:30"))
	done, err := h.P.ImportDay(h.ctx, h.As("Lea Lead"), in)
	h.must(err)
	got := map[string]string{}
	for _, b := range done.Bad {
		got[fmt.Sprintf("%d %s", b.Line, b.Column)] = b.Sentence
		if strings.Contains(b.Sentence, "02139") {
			t.Errorf("the ZIP code is repeated: %s", b.Sentence)
		}
	}
	for where, part := range map[string]string{
		"2 about_race": "not to say as well", "2 about_sex": "Choose one answer.", "3 about_zip3": "first 3 digits", "3 about_easy": "Choose one of the answers.",
		"4 about_sex": "Choose one of the answers.", "4 about_race": "Choose one of the answers.", "6 about_zip3": "first 3 digits",
		"8 about_race": "Nobody is asked about themselves without a consent.", "8 about_sex": "Nobody is asked about themselves without a consent.",
	} {
		if !strings.Contains(got[where], part) {
			t.Errorf("%s: %q", where, got[where])
		}
		delete(got, where)
	}
	if len(got) != 0 || done.Recorded || len(h.said()) != 0 {
		t.Errorf("named without a reason: %v; recorded %v", got, done.Recorded)
	}
}

// A question that the programme does not ask is refused in one sentence at its cell. What is on record already is not refused for it.
func TestAQuestionThatIsNotAsked(t *testing.T) {
	h := asking(t, about.Sex)
	visits, controls, _ := h.rowsOf(map[int]map[string]string{0: {"about_sex": "male", "about_race": "asian"}, 1: {"about_easy": "passed-over"}})
	in := programme.ImportDay{Event: h.Event, Visits: visits, Controls: controls, Opened: "8:55 am", Dry: true}
	h.Clock.Set(h.Time("12:30"))
	done, err := h.P.ImportDay(h.ctx, h.As("Lea Lead"), in)
	h.must(err)
	const sentence = "This programme does not ask this question: leave it empty, or let a lead choose the question in Set-up first."
	want := []programme.BadRow{{Line: 2, Column: "about_race", Sentence: sentence}, {Line: 3, Column: "about_easy", Sentence: sentence}}
	if d := cmp.Diff(want, done.Bad); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
	h.asks(about.Race, about.Sex, about.Easy)
	h.load(visits, controls)
	h.asks()
	if again := h.load(visits, controls); again.Visits != 0 || again.VisitsThere != 13 {
		t.Errorf("once the questions are off: %+v", again)
	}
	if got := h.said()[:2]; got[0] != "race=asian sex=male" || got[1] != "easy=" {
		t.Errorf("on record: %q", got)
	}
}
