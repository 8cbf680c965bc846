package e2e

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"fairstick/internal/civil"
	"fairstick/internal/competence/cards"
	"fairstick/internal/competence/rehearse"
	"fairstick/internal/programme"
	"fairstick/internal/sandbox"
	"fairstick/internal/store"
)

type closing func() error

func (c closing) Close() error { return c() }

// practiceIn makes the records of practice days in a folder of the test.
func practiceIn(folder string) sandbox.Opener {
	return func(ctx context.Context, now func() time.Time) (*programme.Programme, io.Closer, error) {
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
}

// roomOf begins a practice day of the lead, without a browser, and gives the id of its room.
func (f *fair) roomOf(name string) string {
	f.t.Helper()
	jar, err := cookiejar.New(nil)
	fatal(f.t, err)
	client := &http.Client{Jar: jar, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	send := func(path string, form url.Values) string {
		f.t.Helper()
		req, err := http.NewRequestWithContext(f.t.Context(), http.MethodPost, f.url+path, strings.NewReader(form.Encode()))
		fatal(f.t, err)
		req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		res, err := client.Do(req)
		fatal(f.t, err)
		fatal(f.t, res.Body.Close())
		return res.Header.Get("Location")
	}
	send("/sign-in", url.Values{"person": {f.person(name)}, "pin": {f.pins[name]}})
	to := send("/learn/rehearsal", url.Values{"level": {"screener"}})
	if !strings.HasPrefix(to, "/learn/rehearsal/") {
		f.t.Fatalf("the practice day begins at %q", to)
	}
	return strings.TrimPrefix(to, "/learn/rehearsal/")
}

// rehearsed lets the lead hand in a practice day without a decision, so that there is a debrief to look at.
func (f *fair) rehearsed() string {
	f.t.Helper()
	r, err := f.prog.PlanRehearsal(f.t.Context(), f.lead(), cards.Screener, "")
	fatal(f.t, err)
	done, err := f.prog.RecordRehearsal(f.t.Context(), f.lead(), programme.RecordRehearsal{Level: r.Day.Level, Seed: r.Day.Seed, Protocol: r.Day.Protocol, Situations: r.Day.Keys()})
	fatal(f.t, err)
	return done.ID
}

// acts does what a decision on a page asks, rightly or wrongly, with the keys and buttons of the page.
func (f *fair) acts(p *page, s rehearse.Situation, d rehearse.Decision, wrong bool) {
	f.t.Helper()
	p.click("Open the page")
	p.see("PRACTICE. Nothing here is real.")
	p.see("Back to the scene")
	shown := s.Setting.Shown
	switch d.At {
	case rehearse.Desk:
		p.see("Question 1 of 8")
		p.click("None of these")
		p.see("Question 2 of 8")
		p.enter("52")
		p.click("Next")
		p.see("Question 3 of 8")
		p.shot("desk")
		if wrong {
			for _, n := range []string{"3", "4", "5", "6", "7", "8"} {
				p.see("Question " + n + " of 8")
				p.click("No")
			}
			p.see("When did you last eat")
			break
		}
		p.click("Yes")
		p.click("css:.bar .main-button")
		p.see("Counted as:")
	case rehearse.Reading:
		if wrong {
			shown = map[bool]string{true: s.Setting.Rounded, false: "121"}[s.Setting.Rounded != ""]
		}
		if shown == "HI" {
			p.click("Washed with soap, dried")
			p.see("What the meter shows")
			p.press(`css:[data-key="HI"]`, "click")
			p.click("Next: read it back")
			p.see("Look at the meter again and type it")
			p.press(`css:[data-key="HI"]`, "click")
			p.shot("reading-hi")
			p.click("Record")
			p.see("Recorded: HI mg/dL.")
			p.shot("critical")
			break
		}
		f.read(p, shown)
	case rehearse.Control:
		if wrong {
			shown = s.Setting.High.Number()
		}
		p.enter(shown)
		p.shot("control")
		p.click("Record this run")
		p.see(map[bool]string{true: "In range", false: "Out of range"}[wrong])
	case rehearse.Code:
		if wrong {
			shown = s.Setting.VialCode
		}
		p.fill("Code on the meter's display", shown)
		p.click("Compare the code")
		p.see("The codes")
	case rehearse.Incident:
		word := map[string]string{"faint": "Faint", "stick-injury": "Sharps injury"}[s.Key]
		if wrong {
			word = "Complaint"
		}
		p.click(word)
		p.see(word)
	case rehearse.OnCard:
	}
	p.visit(f.url + f.scene)
}

// rehearses goes through a practice day on the pages; wrong says which decisions are taken wrongly.
func (f *fair) rehearses(p *page, name, set string, wrong func(rehearse.Decision) bool) {
	f.t.Helper()
	plan, err := f.prog.PlanRehearsal(f.t.Context(), programme.Actor{Person: f.person(name)}, cards.Screener, set)
	fatal(f.t, err)
	p.visit(f.url + "/learn")
	p.click("Practice day")
	p.shot("begin")
	p.click("Begin: First evening")
	f.scene = strings.TrimPrefix(p.url(), f.url)
	for i, s := range plan.Day.Situations {
		for k, d := range s.Decisions {
			p.see(fmt.Sprintf("Scene %d of %d", i+1, len(plan.Day.Situations)))
			p.see(s.Name.In("en"))
			if k == 0 {
				p.shot("scene-" + s.Key)
			}
			if d.At != rehearse.OnCard {
				f.acts(p, s, d, wrong(d))
				p.click("I have done it: go on")
				continue
			}
			n := slices.IndexFunc(d.Choices, func(c rehearse.Choice) bool { return wrong(d) && c.Try != "" })
			if n < 0 {
				n = slices.IndexFunc(d.Choices, func(c rehearse.Choice) bool { return c.Right != wrong(d) })
			}
			p.click(fmt.Sprintf("css:label[for='f-choice-%d']", n+1))
			p.click("That is what I do")
		}
	}
	p.see("That was the last scene")
	p.shot("last")
	p.click("Hand in and see")
	p.see("What you decided")
	p.fullShot("debrief")
}

// A teacher composes a practice day on the laptop. A student does it on a phone, on the pages of the day, with each decision wrong, and then
// right: each is scored as it was, and the real record has nothing but the two results.
func TestRehearsal(t *testing.T) {
	t.Parallel()
	f := market(t)
	lead, student := f.comes("Maren Solbakk", laptop), f.comes("Ines Calder", phone)
	lead.visit(f.url + "/training")
	lead.click("Practice days")
	lead.fill("Name of the set", "First evening")
	lead.click("screener")
	set := []string{"control-out", "insists", "rounding", "queue", "hi", "stick-injury"}
	for _, key := range set {
		lead.click("css:label[for='f-situation-" + key + "']")
	}
	lead.fullShot("compose")
	lead.click("Keep the set")
	lead.see("can be practised now")
	lead.shot("composed")
	sets, err := f.prog.RehearsalSets(t.Context())
	fatal(t, err)

	visits, runs := len(f.day().Visits), len(f.day().Event.Runs)
	f.rehearses(student, "Ines Calder", sets[0].ID, func(rehearse.Decision) bool { return true })
	student.see("0 of 10 decisions were right. Not passed:")
	student.see("must stay wet")
	student.see("S: somebody can be harmed")
	mine := func() (right, of int, passed bool) {
		t.Helper()
		tr, err := f.prog.Training(t.Context(), f.person("Ines Calder"), civil.Date{})
		fatal(t, err)
		x := tr.Skill.Rehearsals[len(tr.Skill.Rehearsals)-1]
		for _, d := range x.Decisions {
			if d.Right {
				right++
			}
		}
		if right != x.Right {
			t.Errorf("%d decisions are right, and %d are counted", right, x.Right)
		}
		return right, x.Of, x.Passed
	}
	if right, of, passed := mine(); right != 0 || of != 10 || passed {
		t.Errorf("all wrong: %d of %d, passed %v", right, of, passed)
	}

	f.rehearses(student, "Ines Calder", sets[0].ID, func(rehearse.Decision) bool { return false })
	student.see("10 of 10 decisions were right. Passed.")
	if right, of, passed := mine(); right != 10 || of != 10 || !passed {
		t.Errorf("all right: %d of %d, passed %v", right, of, passed)
	}
	if d := f.day(); len(d.Visits) != visits || len(d.Event.Runs) != runs {
		t.Errorf("the real day has %d visits and %d runs, before the practice it had %d and %d", len(d.Visits), len(d.Event.Runs), visits, runs)
	}
	student.visit(f.url + f.scene)
	student.see("This practice day has ended.")
	student.shot("ended")
	lead.visit(f.url + "/training/" + f.person("Ines Calder"))
	lead.see("10 of 10 right")
}
