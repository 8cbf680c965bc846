package sandbox

import (
	"context"
	"errors"
	"io"
	"log/slog"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"fairstick/internal/competence/cards"
	"fairstick/internal/competence/rehearse"
	"fairstick/internal/fault"
	"fairstick/internal/glucose"
	"fairstick/internal/programme"
	"fairstick/internal/protocol"
	"fairstick/internal/store"
)

var quiet = slog.New(slog.DiscardHandler)

// shelf opens records in a folder of the test and counts them.
type shelf struct {
	dir  string
	mu   sync.Mutex
	open int
}

type closer func() error

func (c closer) Close() error { return c() }

func (s *shelf) opener(ctx context.Context, now func() time.Time) (*programme.Programme, io.Closer, error) {
	dir, err := os.MkdirTemp(s.dir, "room-")
	if err != nil {
		return nil, nil, err
	}
	st, err := store.Create(ctx, store.Options{Dir: filepath.Join(dir, "record"), Catalogue: programme.Catalogue(), Now: now, Log: quiet})
	if err != nil {
		return nil, nil, err
	}
	s.count(1)
	return programme.New(st, now, quiet), closer(func() error {
		s.count(-1)
		return errors.Join(st.Close(), os.RemoveAll(dir))
	}), nil
}

func (s *shelf) count(n int) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.open += n
}

// hands of a clock that the test moves.
type hands struct {
	mu sync.Mutex
	at time.Time
}

func (h *hands) now() time.Time {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.at
}

func (h *hands) pass(d time.Duration) {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.at = h.at.Add(d)
}

func newHall(t *testing.T) (*Keeper, *shelf, *hands) {
	t.Helper()
	s := &shelf{dir: t.TempDir()}
	h := &hands{at: time.Date(2026, 11, 28, 20, 15, 0, 0, time.UTC)}
	k := NewKeeper(s.opener, h.now, quiet)
	t.Cleanup(k.Close)
	return k, s, h
}

func rehearsal(t *testing.T, person string, seed uint64, u glucose.Unit, set ...string) programme.Rehearsal {
	t.Helper()
	p := protocol.Default()
	day, err := rehearse.Draw(rehearse.Plan{Seed: seed, Level: cards.Screener, Unit: u, Set: set}, p)
	if err != nil {
		t.Fatal(err)
	}
	return programme.Rehearsal{Person: person, Day: day, Protocol: p, PassMark: 80}
}

func noPages(*Room) (http.Handler, func()) { return http.NotFoundHandler(), func() {} }

func begin(t *testing.T, k *Keeper, r programme.Rehearsal) *Room {
	t.Helper()
	room, err := k.Begin(t.Context(), r, noPages)
	if err != nil {
		t.Fatal(err)
	}
	return room
}

// all is every situation that there is.
func all() []string {
	var out []string
	for _, m := range rehearse.Makers() {
		out = append(out, m.Key)
	}
	return out
}

// does carries out the right act of a decision on a page, or a wrong one, with the commands of the pages.
func (r *Room) does(t *testing.T, at At, wrong bool) {
	t.Helper()
	ctx, s := t.Context(), at.Situation.Setting
	shown := s.Shown
	if wrong {
		shown = r.in(121).Number()
		if s.Rounded != "" {
			shown = s.Rounded
		}
	}
	var err error
	switch at.Decision.At {
	case rehearse.Desk:
		a := rehearse.PlainAnswers(r.Rehearsal.Protocol)
		if !wrong {
			a["known-diabetes"] = protocol.Yes
		}
		_, err = r.Programme.Answer(ctx, r.me(), programme.Answer{Visit: r.guest, Answers: a})
	case rehearse.Reading:
		_, err = r.Programme.TakeReading(ctx, r.me(), programme.TakeReading{
			Visit: r.guest, Station: station, Meter: r.table.meters[0], StripLot: r.table.lot, Vial: vial, Reading: shown, Again: shown, Washed: true,
		})
	case rehearse.Control:
		if wrong {
			shown = s.High.Number()
		}
		_, err = r.Programme.RunControl(ctx, r.me(), r.run(r.table.meters[1], s.Level, shown))
	case rehearse.Code:
		if wrong {
			shown = s.VialCode
		}
		_, err = r.Programme.CompareCode(ctx, r.me(), programme.CompareCode{Event: r.table.event, Meter: r.table.meters[2], StripLot: r.table.lot, Shown: shown})
	case rehearse.Incident:
		sort := string(sorts[at.Situation.Key])
		if wrong {
			sort = "complaint"
		}
		_, err = r.Programme.ReportIncident(ctx, r.me(), programme.ReportIncident{Event: r.table.event, Sort: sort})
	case rehearse.OnCard:
	}
	if err != nil {
		t.Fatalf("%s: %v", at.Decision.Key, err)
	}
}

// walk goes through a whole rehearsal.
func walk(t *testing.T, r *Room, decide func(At) string) {
	t.Helper()
	for range 60 {
		at, err := r.Now(t.Context())
		if err != nil {
			t.Fatalf("%s: %v", at.Decision.Key, err)
		}
		if at.Over {
			return
		}
		if (at.Page == "") != (at.Decision.At == rehearse.OnCard) {
			t.Errorf("%s is made at %q and has the page %q", at.Decision.Key, at.Decision.At, at.Page)
		}
		if err := r.Decide(t.Context(), at.Decision.Key, decide(at)); err != nil {
			t.Fatalf("%s: %v", at.Decision.Key, err)
		}
	}
	t.Fatal("the rehearsal does not end")
}

// Every situation there is, in both units, decided rightly with the commands of the pages, is passed whole.
func TestAllRight(t *testing.T) {
	for _, u := range []glucose.Unit{glucose.MgPerDL, glucose.MmolPerL} {
		for seed := range uint64(3) {
			k, _, _ := newHall(t)
			r := begin(t, k, rehearsal(t, "nia", seed, u, all()...))
			walk(t, r, func(at At) string {
				r.does(t, at, false)
				return at.Decision.RightOne().Key
			})
			res := r.Rehearsal.Day.Score(r.Decided, 100)
			for _, j := range res.Judged {
				if !j.Right {
					t.Errorf("%s, seed %d: %s was decided as %q (%s)", u, seed, j.Decision.Key, r.Decided[j.Decision.Key], r.Did[j.Decision.Key])
				}
			}
			if !res.Passed || len(r.Gate) > 0 {
				t.Errorf("%s, seed %d: %+v", u, seed, r.Gate)
			}
		}
	}
}

// Every wrong act on a page is seen in the room's record, and every choice that the day would refuse gets the refusal of the real gate.
func TestAllWrong(t *testing.T) {
	want := map[string]string{
		"control-out.next": "is not cleared", "old-vial.vial": "could be used until", "code-differs.next": "code", "insists.next": "ended", "queue.wet": "must stay wet",
	}
	for seed := range uint64(4) {
		k, _, _ := newHall(t)
		r := begin(t, k, rehearsal(t, "nia", seed, glucose.MgPerDL, all()...))
		tries := map[string]bool{}
		walk(t, r, func(at At) string {
			honest := at.Situation.Key == "control-out" || at.Situation.Key == "code-differs" || at.Situation.Key == "insists" // so that the gate can know
			if at.Decision.At != rehearse.OnCard {
				r.does(t, at, !honest)
				return ""
			}
			i := slices.IndexFunc(at.Decision.Choices, func(c rehearse.Choice) bool { return c.Try != "" })
			if i < 0 {
				i = slices.IndexFunc(at.Decision.Choices, func(c rehearse.Choice) bool { return !c.Right })
			} else {
				tries[at.Decision.Key] = true
			}
			return at.Decision.Choices[i].Key
		})
		for key := range tries {
			if said := r.Gate[key]; said == "" || said == passed {
				t.Errorf("seed %d: the day would let %s pass", seed, key)
			} else if !strings.Contains(said, want[key]) {
				t.Errorf("seed %d: %s is refused with %q", seed, key, said)
			}
		}
		if len(tries) != len(want) {
			t.Errorf("%d choices were tried, want %d", len(tries), len(want))
		}
		for key, did := range map[string]string{"hi.record": rehearse.Bent, "rounding.record": rehearse.Rounded, "faint.report": rehearse.Bent, "stick-injury.report": rehearse.Bent} {
			if r.Decided[key] != did {
				t.Errorf("seed %d: %s was decided as %q (%s)", seed, key, r.Decided[key], r.Did[key])
			}
		}
	}
}

// Who writes what suits the gate passes the gate; the debrief says that the program could not know.
func TestBentRecordPassesTheGate(t *testing.T) {
	k, _, _ := newHall(t)
	r := begin(t, k, rehearsal(t, "nia", 5, glucose.MgPerDL, "control-out"))
	walk(t, r, func(at At) string {
		r.does(t, at, true)
		return "test"
	})
	if r.Decided["control-out.record"] != rehearse.Bent || r.Gate["control-out.next"] != passed {
		t.Errorf("decided %v, said %v", r.Decided, r.Gate)
	}
}

// What is left undone on a page is seen as undone; a decision is made once; an unknown choice is asked again.
func TestUndoneAndTwice(t *testing.T) {
	k, _, _ := newHall(t)
	r := begin(t, k, rehearsal(t, "nia", 6, glucose.MgPerDL, "hi"))
	at, err := r.Now(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if again, err := r.Now(t.Context()); err != nil || again.Page != at.Page {
		t.Errorf("the page is prepared twice: %q, then %q, %v", at.Page, again.Page, err)
	}
	if err := r.Decide(t.Context(), at.Decision.Key, ""); err != nil {
		t.Fatal(err)
	}
	if r.Decided["hi.record"] != rehearse.NotDone {
		t.Errorf("decided as %q", r.Decided["hi.record"])
	}
	if err := r.Decide(t.Context(), "hi.next", "dance"); !fault.Is(err, "field-choice") {
		t.Errorf("an unknown choice: %v", err)
	}
	if _, err := r.Finish("en", time.Minute); !fault.Is(err, "practice-open") {
		t.Errorf("finished early: %v", err)
	}
	for _, choice := range []string{"line", "stay"} {
		if err := r.Decide(t.Context(), "hi.next", choice); err != nil {
			t.Fatal(err)
		}
	}
	if r.Decided["hi.next"] != "line" {
		t.Error("a decision was made again")
	}
	r.Stopped(fault.New(fault.Refused, "still-wet", "Wet.", "", ""))
	r.Stopped(fault.New(fault.Refused, "still-wet", "Wet.", "", ""))
	r.Stopped(fault.BadField("x", "a slip of the finger"))
	r.Stopped(nil)
	c, err := r.Finish("en", time.Minute)
	if err != nil || len(c.Stopped) != 1 || c.Stopped[0].Gate != "still-wet" || len(c.Decided) != 2 {
		t.Errorf("finished with %+v, %v", c, err)
	}
}

// Rooms are one for each person, limited in number and age, and their records are thrown away.
func TestKeeper(t *testing.T) {
	k, s, h := newHall(t)
	a := begin(t, k, rehearsal(t, "ana", 1, glucose.MgPerDL, "hi"))
	b := begin(t, k, rehearsal(t, "ben", 1, glucose.MgPerDL, "hi"))
	if _, err := k.Room(a.ID, "ben"); !fault.Is(err, "practice-ended") {
		t.Errorf("ben in the room of ana: %v", err)
	}
	again := begin(t, k, rehearsal(t, "ana", 2, glucose.MgPerDL, "hi"))
	if _, err := k.Room(a.ID, "ana"); !fault.Is(err, "practice-ended") || k.Rooms() != 2 || s.open != 2 {
		t.Errorf("the earlier room of ana stays: %v, %d rooms, %d records", err, k.Rooms(), s.open)
	}
	if _, err := a.Now(t.Context()); !fault.Is(err, "practice-ended") {
		t.Errorf("an ended room answers %v", err)
	}
	if err := a.Decide(t.Context(), "hi.record", ""); !fault.Is(err, "practice-ended") {
		t.Errorf("an ended room decides: %v", err)
	}
	h.pass(Idle - time.Minute)
	if _, err := k.Room(b.ID, "ben"); err != nil {
		t.Error(err)
	}
	h.pass(2 * time.Minute)
	if _, err := k.Room(again.ID, "ana"); err == nil || k.Rooms() != 1 {
		t.Errorf("a room that nobody used stays: %v", err)
	}
	for range 8 {
		h.pass(Idle - time.Minute)
		if _, err := k.Room(b.ID, "ben"); err != nil {
			break
		}
	}
	if k.Rooms() != 0 || s.open != 0 {
		t.Errorf("a room lives longer than %s", Longest)
	}
	left, err := os.ReadDir(s.dir)
	if err != nil || len(left) != 0 {
		t.Errorf("%d folders are left, %v", len(left), err)
	}
	k.mu.Lock()
	k.making = MostRooms
	k.mu.Unlock()
	if _, err := k.Begin(t.Context(), rehearsal(t, "cem", 1, glucose.MgPerDL, "hi"), noPages); !fault.Is(err, "practice-full") {
		t.Errorf("one room too many: %v", err)
	}
}

// Several rehearse at once, each in their own record.
func TestTogether(t *testing.T) {
	k, _, _ := newHall(t)
	var wait sync.WaitGroup
	for i, who := range []string{"ana", "ben", "cem", "dua"} {
		r := begin(t, k, rehearsal(t, who, uint64(i), glucose.MgPerDL, "rounding", "hi", "insists"))
		wait.Go(func() {
			walk(t, r, func(at At) string {
				r.does(t, at, who == "ben")
				return at.Decision.RightOne().Key
			})
			d, err := r.Programme.Day(t.Context(), r.table.event)
			if err != nil || len(d.Visits) != 3 {
				t.Errorf("%s: %d visits in the record, %v", who, len(d.Visits), err)
			}
			if res := r.Rehearsal.Day.Score(r.Decided, 80); res.Passed == (who == "ben") {
				t.Errorf("%s: %+v", who, r.Decided)
			}
		})
	}
	wait.Wait()
}
