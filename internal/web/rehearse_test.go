package web

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"io"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"fairstick/internal/civil"
	"fairstick/internal/competence"
	"fairstick/internal/competence/cards"
	"fairstick/internal/competence/rehearse"
	"fairstick/internal/fault"
	"fairstick/internal/programme"
	"fairstick/internal/sandbox"
	"fairstick/internal/store"
)

type closing func() error

func (c closing) Close() error { return c() }

// practising is the market with practice days, whose records lie in a folder of the test.
func practising(t *testing.T) (m *market, s *Server, folder string) {
	t.Helper()
	m, folder = newMarket(t), t.TempDir()
	open := func(ctx context.Context, now func() time.Time) (*programme.Programme, io.Closer, error) {
		dir, err := os.MkdirTemp(folder, "room-")
		if err != nil {
			return nil, nil, err
		}
		st, err := store.Create(ctx, store.Options{Dir: filepath.Join(dir, "record"), Catalogue: programme.Catalogue(), Now: now, Log: quiet})
		if err != nil {
			return nil, nil, err
		}
		return programme.New(st, now, quiet), closing(func() error { return errors.Join(st.Close(), os.RemoveAll(dir)) }), nil
	}
	s = New(Options{Programme: m.prog, Log: quiet, Sandbox: open})
	h := httptest.NewServer(s)
	t.Cleanup(func() {
		h.Close()
		s.Close()
	})
	m.url = h.URL
	return m, s, folder
}

// entries is a digest of everything that the real record holds, and of its files.
func (m *market) entries() string {
	m.t.Helper()
	st, sum := m.prog.Store(), sha256.New()
	err := st.Read(m.t.Context(), func(v *store.View) error {
		run, err := v.Run(st.Node(), 0)
		if err != nil {
			return err
		}
		return json.NewEncoder(sum).Encode(run)
	})
	if err != nil {
		m.t.Fatal(err)
	}
	files, err := os.ReadDir(st.Dir())
	if err != nil {
		m.t.Fatal(err)
	}
	for _, f := range files {
		if f.IsDir() || strings.HasSuffix(f.Name(), "-shm") { // the index of the log for readers is no data
			continue
		}
		b, err := os.ReadFile(filepath.Join(st.Dir(), f.Name()))
		if err != nil {
			m.t.Fatal(err)
		}
		sum.Write([]byte(f.Name()))
		sum.Write(b)
	}
	return hex.EncodeToString(sum.Sum(nil))
}

// rehearser goes through a practice day on its pages.
type rehearser struct {
	*visitor
	s     *Server
	scene string // address
	seen  map[string]bool
}

func (v *visitor) rehearse(s *Server, level, set string) *rehearser {
	v.m.t.Helper()
	v.get("/learn/rehearsal")
	v.want(http.StatusOK)
	v.post("/learn/rehearsal", form("level", level, "set", set))
	v.want(http.StatusSeeOther)
	return &rehearser{visitor: v, s: s, scene: v.to, seen: map[string]bool{}}
}

func (r *rehearser) room() *sandbox.Room {
	r.m.t.Helper()
	for _, p := range r.m.day().People {
		if room := r.s.rooms.Of(p.ID); room != nil && scenePath(room) == r.scene {
			return room
		}
	}
	r.m.t.Fatal("the room is gone")
	return nil
}

var (
	openPage = regexp.MustCompile(`class="button main-button" href="(/practice/[^"]+)"`)
	anyLink  = regexp.MustCompile(` (?:href|action|formaction|src)="([^"]*)"`)
)

// isPractice checks that a page says what it is, and that nothing on it leads to a page of the real record.
func (r *rehearser) isPractice() {
	r.m.t.Helper()
	r.want(http.StatusOK)
	r.see("PRACTICE. Nothing here is real.", "strip-practice", "<title>PRACTICE")
	for _, l := range anyLink.FindAllStringSubmatch(r.body, -1) {
		outer := r.path == r.scene && (l[1] == "/hand-over" || strings.HasPrefix(l[1], r.m.event+"/care/")) // real alerts are told apart by word
		ok := outer || strings.HasPrefix(l[1], "#") || strings.HasPrefix(l[1], "/static/") || strings.HasPrefix(l[1], "/learn/rehearsal/") || strings.HasPrefix(l[1], "/practice/"+strings.TrimPrefix(r.scene, "/learn/rehearsal/")+"/")
		if !ok {
			r.m.t.Errorf("%s leads out of the practice day: %s", r.path, l[1])
		}
	}
	if strings.Contains(r.body, "data-live") {
		r.m.t.Errorf("%s listens to a stream", r.path)
	}
}

// does the act of a decision on the page of the day, rightly or wrongly.
func (r *rehearser) does(at sandbox.At, wrong bool) {
	t := r.m.t
	t.Helper()
	page := openPage.FindStringSubmatch(r.body)
	if page == nil {
		t.Fatalf("%s offers no page: %s", at.Decision.Key, r.main())
	}
	r.get(strings.ReplaceAll(page[1], "&amp;", "&"))
	r.isPractice()
	r.see("The scene", "Back to the scene")
	path, _, _ := strings.Cut(r.path, "?")
	s := at.Situation.Setting
	shown := s.Shown
	if wrong {
		shown = map[bool]string{true: s.Rounded, false: "121"}[s.Rounded != ""]
	}
	switch at.Decision.At {
	case rehearse.Desk:
		r.isPractice()
		given := map[string]url.Values{"crisis-signs": form("answer", "none"), "age": form("answer", "52"), "known-diabetes": form("answer", "yes")}
		if wrong {
			given["known-diabetes"] = form("answer", "no")
		}
		r.answer(path, given)
		if !wrong {
			r.send(path+"/questions", nil)
		}
		r.want(http.StatusSeeOther)
	case rehearse.Reading:
		r.read(path, "washed", shown, shown)
		r.want(http.StatusSeeOther)
		if !strings.HasPrefix(r.to, "/practice/") {
			t.Errorf("a form of the practice day leads to %s", r.to)
		}
		r.follow()
		r.isPractice()
	case rehearse.Control:
		if wrong {
			shown = s.Low.Number()
		}
		r.send(path, form("reading", shown))
		r.follow()
		r.isPractice()
	case rehearse.Code:
		if wrong {
			shown = s.VialCode
		}
		lot := regexp.MustCompile(`<option value="([^"]+)"[^>]*>Lot PRACTICE-A<`).FindStringSubmatch(r.body)[1]
		r.send(strings.TrimSuffix(path, "run")+"code", form("shown", shown, "strip_lot", lot))
		r.want(http.StatusSeeOther)
	case rehearse.Incident:
		kind := map[bool]string{true: "complaint", false: map[string]string{"faint": "faint", "stick-injury": "sharps-injury"}[at.Situation.Key]}[wrong]
		r.send(strings.TrimSuffix(path, "/new"), form("kind", kind))
		r.follow()
		r.isPractice()
	case rehearse.OnCard:
	}
}

// walk decides everything; wrongly says which decisions.
func (r *rehearser) walk(wrongly func(at sandbox.At) bool) {
	t := r.m.t
	t.Helper()
	for range 60 {
		at, err := r.room().Now(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		r.get(r.scene)
		r.isPractice()
		if at.Over {
			return
		}
		r.see(at.Situation.Name.In("en"))
		choice := ""
		if at.Decision.At != rehearse.OnCard {
			r.does(at, wrongly(at))
			r.get(r.scene)
		} else {
			i := slices.IndexFunc(at.Decision.Choices, func(c rehearse.Choice) bool { return wrongly(at) && c.Try != "" })
			if i < 0 {
				i = slices.IndexFunc(at.Decision.Choices, func(c rehearse.Choice) bool { return c.Right != wrongly(at) })
			}
			choice = at.Decision.Choices[i].Key
		}
		r.send(r.scene+"/decide", form("choice", choice))
		r.want(http.StatusSeeOther)
	}
	t.Fatal("the practice day does not end")
}

// handsIn ends the practice day and opens its debrief.
func (r *rehearser) handsIn() {
	r.m.t.Helper()
	r.get(r.scene)
	r.see("That was the last scene")
	r.send(r.scene+"/hand-in", nil)
	r.follow()
	r.want(http.StatusOK)
}

func (m *market) rehearsal(name string) competence.Rehearsal {
	m.t.Helper()
	tr, err := m.prog.Training(m.t.Context(), m.person(name), civil.Date{})
	if err != nil || len(tr.Skill.Rehearsals) == 0 {
		m.t.Fatalf("no practice day of %s: %v", name, err)
	}
	return tr.Skill.Rehearsals[len(tr.Skill.Rehearsals)-1]
}

// A whole practice day on the pages of the day, everything right: passed, on record as a fact, and until then not one byte of the real record has
// changed.
func TestRehearsalOnThePages(t *testing.T) {
	m, s, folder := practising(t)
	v := m.as("Ines Calder")
	v.get("/learn")
	v.see("Practice day")
	v.rehearse(s, "screener", "") // a first one is left; the next takes its place
	before := m.entries()
	r := v.rehearse(s, "screener", "")
	r.walk(func(sandbox.At) bool { return false })
	if m.entries() != before {
		t.Error("the practice day has changed the real record")
	}
	r.handsIn()
	if m.entries() == before {
		t.Error("the result is not on record")
	}
	r.see("Passed.", "As the protocol has it", "Why", "Learning card", "Source")
	r.seeNot("Not as the protocol has it")
	x := m.rehearsal("Ines Calder")
	if !x.Passed || x.Right != x.Of || x.Harm != 0 || len(x.Situations) != rehearse.Size || x.Recorder != m.person("Ines Calder") {
		t.Errorf("recorded as %+v", x)
	}
	if left, err := os.ReadDir(folder); err != nil || len(left) != 0 {
		t.Errorf("%d records of practice days are left, %v", len(left), err)
	}
	v.get(r.scene)
	v.want(http.StatusNotFound)
	v.see("This practice day has ended.")
	v.post("/language", form("lang", "es", "to", "/learn"))
	v.get(r.scene)
	v.see("Este día de práctica terminó.", "Empiece uno nuevo en Aprender.")
	v.post("/language", form("lang", "en", "to", "/learn"))
	v.get("/learn/rehearsal")
	v.see("Passed on", "Your practice days")
	lead := m.as(leadName)
	lead.get("/training/" + m.person("Ines Calder"))
	lead.see("/training/" + m.person("Ines Calder") + "/rehearsed/" + x.FactID)
	lead.get("/training/" + m.person("Ines Calder") + "/rehearsed/" + x.FactID)
	lead.see("As the protocol has it")
	other := m.as("Hollis Bray")
	other.get("/learn/rehearsed/" + x.FactID)
	other.want(http.StatusNotFound)
}

// Everything wrong, on every situation that there is: each decision is scored as it was taken, the debrief says what the gate would have said, and the
// real record stays as it was.
func TestRehearsalAllWrong(t *testing.T) {
	m, s, _ := practising(t)
	v, lead := m.as("Ines Calder"), m.as(leadName)
	lead.get("/training/rehearsals")
	lead.want(http.StatusOK)
	lead.see("No set yet", "A control just out of range", "Somebody is in danger")
	lead.send("/training/rehearsals", form("name", "Everything", "level", "screener", "situation", "hi"))
	lead.want(http.StatusUnprocessableEntity)
	lead.see("Choose at least 4 situations.", `value="Everything"`)
	all := url.Values{"name": {"Everything"}, "level": {"screener"}}
	for _, x := range rehearse.Makers() {
		all.Add("situation", x.Key)
	}
	lead.send("/training/rehearsals", all)
	lead.follow()
	lead.see("The set “Everything” can be practised now.", "A queue at the desk")
	sets, err := m.prog.RehearsalSets(t.Context())
	if err != nil || len(sets) != 1 {
		t.Fatal(len(sets), err)
	}
	v.get("/learn/rehearsal")
	v.see("Begin: Everything")
	before := m.entries()
	r := v.rehearse(s, "", sets[0].ID)
	r.walk(func(sandbox.At) bool { return true })
	if m.entries() != before {
		t.Error("the practice day has changed the real record")
	}
	r.handsIn()
	r.see("Not passed:", "Not as the protocol has it", "S: somebody can be harmed", "V: the value cannot be trusted", "On the day the program says", "must stay wet", "could be used until", "Set: Everything", "What was written: 121 mg/dL.")
	r.seeNot("As the protocol has it.")
	x := m.rehearsal("Ines Calder")
	if x.Passed || x.Right != 0 || x.Of != len(x.Decisions) || x.Harm == 0 || x.Spoiled == 0 || len(x.Situations) != len(rehearse.Makers()) {
		t.Errorf("recorded as %d of %d, %d harm, %d spoiled", x.Right, x.Of, x.Harm, x.Spoiled)
	}
	for _, d := range x.Decisions {
		if d.Right || d.Choice == "" || d.Choice == rehearse.NotDone {
			t.Errorf("%s was scored as %+v", d.Decision, d)
		}
	}
	lead.get("/training/rehearsals")
	lead.send("/training/rehearsals/"+sets[0].ID+"/retire", nil)
	lead.follow()
	lead.see("No set yet")
}

// Spanish to the last word of its own, scenes and debrief.
func TestRehearsalInSpanish(t *testing.T) {
	m, s, _ := practising(t)
	v := m.as("Ines Calder")
	v.post("/language", form("lang", "es", "to", "/learn"))
	v.get("/learn/rehearsal")
	v.want(http.StatusOK)
	v.see("Día de práctica", "Empezar como evaluador")
	v.allSpanish()
	r := v.rehearse(s, "desk", "")
	for range 30 {
		at, err := r.room().Now(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		r.get(r.scene)
		r.want(http.StatusOK)
		r.see("PRÁCTICA. Nada de esto es real.")
		r.allSpanish()
		if at.Over {
			break
		}
		choice := ""
		if at.Decision.At == rehearse.OnCard {
			choice = at.Decision.RightOne().Key
		}
		r.send(r.scene+"/decide", form("choice", choice))
	}
	r.send(r.scene+"/hand-in", nil)
	r.follow()
	r.see("Lo que decidió", "El protocolo")
	r.allSpanish()
}

// Nobody comes into the room of another; what is no part of it stays outside; an ended or unknown room says so and takes nothing; the real record answers
// no form of a room.
func TestRehearsalBounds(t *testing.T) {
	m, s, _ := practising(t)
	v, other := m.as("Ines Calder"), m.as("Hollis Bray")
	r := v.rehearse(s, "screener", "")
	inner := "/practice/" + r.room().ID
	other.get(r.scene)
	other.want(http.StatusNotFound)
	other.get(inner + "/")
	other.want(http.StatusNotFound)
	stranger := m.visitor()
	stranger.get(inner + "/")
	stranger.want(http.StatusSeeOther)
	r.get(r.scene)
	r.see("REAL DAY: ") // the alert of the running market is told apart
	r.get(inner + "/")
	r.isPractice()
	r.seeNot("REAL DAY: ", "/care/")
	for _, path := range []string{"/setup", "/learn", "/training", "/people", "/phones", "/sign-in", "/hand-over", "/nonsense", "/events/x/live"} {
		r.get(inner + path)
		r.want(http.StatusNotFound)
		r.see("PRACTICE. Nothing here is real.")
	}
	r.post(r.scene+"/decide", form("decision", "nonsense", "choice", "x"))
	r.want(http.StatusSeeOther)
	r.post(r.scene+"/hand-in", form("command", newCommand()))
	r.want(http.StatusConflict)
	r.see("The practice day is not over yet.")
	at, err := r.room().Now(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if at.Decision.At == rehearse.OnCard {
		r.get(r.scene)
		r.send(r.scene+"/decide", nil)
		r.want(http.StatusUnprocessableEntity)
		r.see("Choose an answer first.")
	}

	before := m.entries()
	page := inner + "/events/" + strings.TrimPrefix(m.event, "/events/") + "/desk" // the real event is unknown in the room
	r.get(page)
	r.want(http.StatusNotFound)
	r.post(page, form("language", "en", "command", newCommand()))
	r.want(http.StatusNotFound)
	r.get(r.scene)
	r.send(r.scene+"/stop", nil)
	r.follow()
	r.see("The practice day is stopped.")
	r.post(page, form("language", "en", "command", newCommand()))
	r.want(http.StatusNotFound)
	r.see("This practice day has ended.")
	if m.entries() != before {
		t.Error("a form of a room has reached the real record")
	}
	if _, err := m.prog.Training(t.Context(), m.person("Ines Calder"), civil.Date{}); err != nil {
		t.Fatal(err)
	}

	station := m.as("Jonah Pike")
	station.get("/station")
	station.seat("2", "M2", "41-a")
	station.post("/learn/rehearsal", form("level", "screener"))
	station.want(http.StatusConflict)
	station.see("This device is at station Test 2 of an open event.")

	v.post("/learn/rehearsal", form("level", "guru"))
	v.want(http.StatusUnprocessableEntity)
	v.post("/learn/rehearsal", form("set", "none"))
	v.want(http.StatusNotFound)
	bare := newMarket(t).as("Ines Calder")
	bare.post("/learn/rehearsal", form("level", "screener"))
	bare.want(http.StatusConflict)
	bare.see("There are no practice days on this laptop.")
}

// What is refused on a page of a room is kept for the debrief.
func TestRehearsalStopsAreKept(t *testing.T) {
	m, s, _ := practising(t)
	v := m.as("Ines Calder")
	sets, err := m.prog.ComposeSet(t.Context(), programme.Actor{Person: m.person(leadName)}, programme.ComposeSet{Name: "Four", Level: string(cards.Screener), Situations: []string{"rounding", "queue", "hi", "insists"}})
	if err != nil {
		t.Fatal(err)
	}
	r := v.rehearse(s, "", sets.ID)
	r.walk(func(at sandbox.At) bool {
		if at.Decision.Key == "rounding.record" {
			path := regexp.MustCompile(`href="(/practice/[^"]+/test/[^"]+)"`).FindStringSubmatch(r.body)[1]
			r.post(path+"/reading", form("hands", "washed", "reading", "150", "typed", "151", "misfires", "0", "command", newCommand()))
			r.want(http.StatusConflict)
			r.get(r.scene)
		}
		return false
	})
	r.handsIn()
	r.see("What the program stopped", "the two do not agree")
	if x := m.rehearsal("Ines Calder"); len(x.Stopped) != 1 || x.Stopped[0].Situation != "rounding" || x.Stopped[0].Gate != "read-back-differs" || !x.Passed {
		t.Errorf("kept %+v, passed %v", x.Stopped, x.Passed)
	}
}

// The addresses of a page are put under the room's own, and nothing else of it is touched.
func TestWithin(t *testing.T) {
	p := &practice{room: &sandbox.Room{ID: "r1"}}
	in := `<a href="/events/e/desk?x=/y">/events</a> <img src="/static/a.svg"> <link href="/static/a.css"> <form action="/x"> <input value="/typed"> <button formaction="/z"> <a href="#main"> <a href="tel:1">1</a> <div class="alert" data-alert="care-1"> <body data-live="/events/e/live" data-who="x"> <a href="/learn/rehearsal/r1">`
	want := `<a href="/practice/r1/events/e/desk?x=/y">/events</a> <img src="/static/a.svg"> <link href="/static/a.css"> <form action="/practice/r1/x"> <input value="/typed"> <button formaction="/practice/r1/z"> <a href="#main"> <a>1</a> <div class="alert"> <body data-who="x"> <a href="/learn/rehearsal/r1">`
	if got := p.within([]byte(in)); !bytes.Equal(got, []byte(want)) {
		t.Errorf("got  %s\nwant %s", got, want)
	}
	for in, want := range map[string]string{"/": "/practice/r1/", "/practice/r1/x": "/practice/r1/x", "/practice/r10": "/practice/r1/practice/r10"} {
		if got := p.address(in); got != want {
			t.Errorf("%s leads to %s, want %s", in, got, want)
		}
	}
	if !fault.Is(errNoRooms, "no-practice") {
		t.Error("no practice has another key")
	}
}
