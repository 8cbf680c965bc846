package web

import (
	"cmp"
	"fmt"
	"net/http"
	"slices"
	"time"

	"fairstick/internal/civil"
	"fairstick/internal/competence"
	"fairstick/internal/competence/bank"
	"fairstick/internal/competence/cards"
	"fairstick/internal/competence/rehearse"
	"fairstick/internal/fault"
	"fairstick/internal/programme"
	"fairstick/internal/sandbox"
	"fairstick/internal/web/ui"
)

// rehearsalView is the page from which a practice day begins.
type rehearsalView struct {
	Page    ui.Page
	Fault   *fault.Fault
	What    string
	GoOn    string // address of one that has begun; empty for none
	Main    beginForm
	Sets    []beginForm
	Others  []beginForm
	Earlier []ui.Link
}

// beginForm is one button that begins a practice day.
type beginForm struct {
	Sheet             ui.Sheet
	Level, Set, Label string
	Note              string
}

func (c *Context) beginForm(id string, l cards.Level, set, label string) beginForm {
	return beginForm{Sheet: ui.Sheet{ID: id, Action: rehearsalBase}, Level: string(l), Set: set, Label: label}
}

func rehearsalShow(_ *Server, c *Context) error { return c.showRehearsals(nil) }

func (c *Context) showRehearsals(f *fault.Fault) error {
	t, err := c.s.prog.Training(c.R.Context(), c.Me.ID, civil.Date{})
	if err != nil {
		return err
	}
	sets, err := c.s.prog.RehearsalSets(c.R.Context())
	if err != nil {
		return err
	}
	say, lang := c.say().Rehearse, c.lang()
	v := rehearsalView{Page: c.page(say.Title), Fault: c.told(f), What: say.What(rehearse.Size, t.Rules.Quiz.PassMark)}
	v.Page.Lead, v.Page.Back = say.Lead, &ui.Link{Href: "/learn", Label: c.say().Learn.Title}
	if c.s.rooms != nil {
		if room := c.s.rooms.Of(c.Me.ID); room != nil {
			v.GoOn = scenePath(room)
		}
	}
	level := t.Target
	if !level.Covers(cards.Desk) || level == cards.Verifier {
		level = cards.Screener // who verifies others practises what they will watch
	}
	v.Main = c.beginForm("form-main", level, "", say.BeginAs(level.Word().In(lang)))
	for _, l := range []cards.Level{cards.Desk, cards.Counsellor, cards.Screener} {
		if l != level {
			v.Others = append(v.Others, c.beginForm("form-"+string(l), l, "", say.BeginAs(l.Word().In(lang))))
		}
	}
	for _, s := range sets {
		b := c.beginForm("form-"+s.ID, s.Level, s.ID, say.Begin+": "+s.Name)
		b.Note = say.SetOf(len(s.Situations), s.Level.Word().In(lang))
		v.Sets = append(v.Sets, b)
	}
	v.Earlier = c.rehearsals(t)
	return c.Show(f, RehearsalPage(v))
}

// rehearsals lists the practice days that somebody has done, newest first.
func (c *Context) rehearsals(t programme.Training) []ui.Link {
	say, lang := c.say().Rehearse, c.lang()
	var out []ui.Link
	for _, r := range slices.Backward(t.Skill.Rehearsals) {
		label := say.NotPassed(dayIn(lang, r.Day))
		if r.Passed {
			label = say.Passed(dayIn(lang, r.Day))
		}
		out = append(out, ui.Link{Href: "/learn/rehearsed/" + r.FactID, Label: fmt.Sprintf("%s, %s: %d/%d", label, r.Level.Word().In(lang), r.Right, r.Of)})
	}
	return out
}

func rehearsalBegin(s *Server, c *Context) error {
	if s.rooms == nil {
		return c.showRehearsals(errNoRooms)
	}
	if err := c.stationed(); err != nil {
		return c.showRehearsals(fault.Of(err))
	}
	plan, err := s.prog.PlanRehearsal(c.R.Context(), c.Actor(), cards.Level(c.Form("level")), c.Form("set"))
	if err != nil {
		return c.showRehearsals(fault.Of(err))
	}
	room, err := s.rooms.Begin(c.R.Context(), plan, s.pagesOf)
	if err != nil {
		return c.showRehearsals(fault.Of(err))
	}
	return c.Go(scenePath(room))
}

// sceneView is one scene with the decision that comes next.
type sceneView struct {
	Page     ui.Page
	Fault    *fault.Fault
	Lang     string
	Name     string
	Scene    string
	Decision rehearse.Decision
	OnPage   string // address of the page on which it is decided; empty when it is decided here
	Over     bool
	Action   string
	Command  string
}

func sceneShow(_ *Server, c *Context) error { return c.showScene(nil) }

func (c *Context) showScene(f *fault.Fault) error {
	room, err := c.s.room(c)
	if err != nil {
		return err
	}
	lang, say := c.lang(), c.say().Rehearse
	if err := room.Speak(c.R.Context(), lang); err != nil {
		return err
	}
	at, err := room.Now(c.R.Context())
	if err != nil {
		return err
	}
	v := sceneView{Fault: c.told(f), Lang: lang, Over: at.Over, Action: scenePath(room), Command: newCommand()}
	if at.Over {
		v.Page = c.page(say.Over)
		v.Page.Lead = say.OverLead
	} else {
		v.Page = c.page(say.Scene(at.Scene+1, at.Of))
		v.Name, v.Scene, v.Decision = at.Situation.Name.In(lang), at.Situation.Scene.In(lang), at.Decision
		if at.Page != "" {
			v.OnPage = roomPrefix(room.ID) + at.Page
		}
	}
	v.Page.Practice, v.Page.Nav, v.Page.Alerts = true, nil, marked(say.IsReal, v.Page.Alerts)
	return c.Show(f, ScenePage(v))
}

func sceneDecide(s *Server, c *Context) error {
	room, err := s.room(c)
	if err != nil {
		return err
	}
	if err := room.Decide(c.R.Context(), c.Form("decision"), c.Form("choice")); err != nil {
		if fault.Is(err, "field-choice") {
			return c.showScene(c.say().bad("choice", c.say().Learn.ChooseAnswer))
		}
		return err
	}
	return c.Go(scenePath(room))
}

// rehearsalHandIn records how somebody decided, and throws the room away.
func rehearsalHandIn(s *Server, c *Context) error {
	room, err := s.room(c)
	if err != nil {
		return err
	}
	cmd, err := room.Finish(c.lang(), time.Since(room.Began).Abs())
	if err != nil {
		return c.showScene(fault.Of(err))
	}
	cmd.Act = c.Act()
	done, err := s.prog.RecordRehearsal(c.R.Context(), c.Actor(), cmd)
	if err != nil {
		return err
	}
	s.rooms.End(room)
	return c.Go("/learn/rehearsed/" + done.ID)
}

func rehearsalStop(s *Server, c *Context) error {
	room, err := s.room(c)
	if err != nil {
		return err
	}
	s.rooms.End(room)
	return c.Done(rehearsalBase, c.say().Rehearse.Stopped)
}

// debriefView is a practice day with each decision, what the protocol says, and why.
type debriefView struct {
	Page   ui.Page
	Says   string
	Passed bool
	Own    bool
	Gone   bool // the scenes cannot be shown again
	Scenes []debriefScene
	Tried  []string
}

type debriefScene struct {
	Name, Scene string
	Decisions   []debriefDecision
}

type debriefDecision struct {
	Ask, Chose, Did, Right, Why, Source, Gate string
	Step                                      cards.Step
	OK                                        bool
	Harm                                      cards.Harm
}

func debriefShow(_ *Server, c *Context) error {
	return c.showDebrief(c.Me.ID, &ui.Link{Href: rehearsalBase, Label: c.say().Rehearse.Title}, true)
}

// traineeDebrief shows the practice day of somebody to their teacher.
func traineeDebrief(_ *Server, c *Context) error {
	id := c.R.PathValue("person")
	return c.showDebrief(id, &ui.Link{Href: "/training/" + id, Label: "Training"}, false)
}

func (c *Context) showDebrief(person string, back *ui.Link, own bool) error {
	r, err := c.s.prog.ShowRehearsal(c.R.Context(), person, c.R.PathValue("rehearsal"))
	if err != nil {
		return err
	}
	say, lang := c.say().Rehearse, c.lang()
	result := rehearse.Result{Right: r.Done.Right, Of: r.Done.Of, Harm: r.Done.Harm, Passed: r.Done.Passed}
	v := debriefView{Page: c.page(say.Debrief), Says: result.Say().In(lang), Passed: r.Done.Passed, Own: own, Gone: r.Day == nil && len(r.Done.Decisions) > 0}
	v.Page.Back = back
	if r.Done.Set != "" {
		v.Page.Lead = say.SetName(r.Done.Set)
	}
	for _, d := range r.Done.Decisions {
		v.add(say, lang, r, d)
	}
	for _, x := range r.Done.Stopped {
		if !slices.Contains(v.Tried, x.Sentence) {
			v.Tried = append(v.Tried, x.Sentence)
		}
	}
	return c.Render(http.StatusOK, DebriefPage(v))
}

// add puts one decision under its scene.
func (v *debriefView) add(say rehearseWords, lang string, r programme.RehearsalShown, d competence.Decided) {
	out := debriefDecision{Chose: cmp.Or(d.Chose, say.Nothing), Did: d.Did, Gate: d.Gate, OK: d.Right, Harm: d.Harm}
	scene := debriefScene{}
	if s, x, ok := r.Find(d.Decision); ok {
		scene = debriefScene{Name: s.Name.In(lang), Scene: s.Scene.In(lang)}
		out.Ask, out.Right, out.Why, out.Source = x.Ask.In(lang), x.RightOne().Text.In(lang), x.Why.In(lang), bank.Reference(x.Source)
		out.Step, _ = cards.Find(x.Step)
		if c, ok := x.Choice(d.Choice); ok {
			out.Chose = c.Text.In(lang)
		}
	}
	if n := len(v.Scenes); n == 0 || v.Scenes[n-1].Name != scene.Name {
		v.Scenes = append(v.Scenes, scene)
	}
	last := &v.Scenes[len(v.Scenes)-1]
	last.Decisions = append(last.Decisions, out)
}

// newRooms keeps the practice days of a server; nil without a place for their records.
func newRooms(o Options) *sandbox.Keeper {
	if o.Sandbox == nil {
		return nil
	}
	return sandbox.NewKeeper(o.Sandbox, o.Programme.Now, o.Log)
}
