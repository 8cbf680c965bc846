package web

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"fairstick/internal/about"
	"fairstick/internal/fault"
	"fairstick/internal/paper"
	"fairstick/internal/people"
	"fairstick/internal/programme"
	"fairstick/internal/protocol"
	"fairstick/internal/visit"
	"fairstick/internal/web/ui"
)

// explainListView is the line of those whose result waits to be explained.
type explainListView struct {
	Page  ui.Page
	Fault *fault.Fault
	Base  string
	Mine  []queueRow
	Day   *programme.Day
	Now   time.Time
}

func explainShow(_ *Server, c *Context) error { return c.showExplainList(nil) }

func (c *Context) showExplainList(f *fault.Fault) error {
	d, err := c.Day()
	if err != nil {
		return err
	}
	t := c.say()
	v := explainListView{Page: c.stationPage(d, t.Explain.Title, "/", t.Shell.Start), Fault: c.told(f), Base: dayBase(d)}
	station := c.explainStation(d)
	v.Day, v.Now = d, c.now(d)
	for _, r := range queueRows(t, d, d.Waiting(visit.AtExplain), "/explain/", v.Now) {
		if r.Where == station {
			v.Mine = append(v.Mine, r)
		}
	}
	return c.Show(f, explainListPage(v))
}

// explainStation names the seat of a counsellor: that of the device, else that of the roster.
func (c *Context) explainStation(d *programme.Day) string {
	if s := c.seat(d, visit.AtExplain).Station; s != "" {
		return s
	}
	if post, ok := d.Event.PostOf(c.Me.ID); ok && post.Role == string(people.Counsellor) && post.Station != "" {
		return post.Station
	}
	return "Explain"
}

// The stages of a visit at Explain.
const (
	tellAway    = "away"
	tellTaken   = "taken"
	tellFree    = "free"
	tellResult  = "result"
	tellBack    = "teach"
	tellRefer   = "refer"
	tellSlip    = "slip"
	tellContact = "contact"
	tellFinish  = "finish"
)

// explainView is one stage of one visit at Explain.
type explainView struct {
	Page         ui.Page
	Fault        *fault.Fault
	Base, Path   string
	ID, Ticket   string
	Stage        string
	Steps        []ui.Step
	Command      string
	Row          queueRow
	Where        string
	Lang         string
	Say          speech
	Labels       paper.SlipLabels
	Care         string // address of open care
	CareText     string
	Number, Unit string
	Band, Word   string
	Basis        string
	Sentence     string
	Advice       []string
	When, Place  string
	Disclaimer   string
	Counts       string // for staff: which reading counts and why
	CountsLang   string
	Near         string // for staff: how sure a reading close to a limit is
	Station      string

	Routes        []ui.Option // refer
	Route, Agreed string
	MayCall       string
	TeachBack     string
	Contact       contactView
	Size          string // slip
	Gates         []programme.Gate
	GateHref      map[string]string
	MayFinish     bool
	Asks          []aboutRow // what they may say at the end
	SlipHref      string

	Switch, SwitchSlip []ui.Link // the same in the other languages
}

func explainVisit(_ *Server, c *Context) error { return c.showExplain(nil, c.query("at")) }

// showExplain renders a stage; an empty or impossible one is derived from what is missing.
func (c *Context) showExplain(f *fault.Fault, stage string) error {
	d, v, err := c.visit()
	if err != nil {
		return err
	}
	t := c.say()
	view := explainView{
		Fault: c.told(f), Base: dayBase(d), ID: v.ID, Ticket: ticketText(v.Ticket), Command: c.command(), Where: t.whereabouts(v), Station: c.explainStation(d),
		Lang: spokenLang(d, cmp.Or(c.field("lang"), v.Language)), Route: c.Form("route"), Agreed: c.Form("agreed"), TeachBack: c.Form("teach_back"), Size: slipSize(c.field("size")),
	}
	view.Path = view.Base + "/explain/" + v.ID
	view.Say, view.Labels = speechOf(d, view.Lang), labelsOf(d, view.Lang)
	view.Stage = explainStage(v, view.Station, stage)
	view.Switch = tongueLinks(d, view.Path+"?at="+view.Stage+"&lang=", view.Lang)
	view.SwitchSlip = tongueLinks(d, view.Path+"?at=slip&size="+view.Size+"&lang=", view.Lang)
	view.SlipHref = view.Base + "/slip/" + v.ID
	view.Page = c.stationPage(d, cmp.Or(t.Explain.Titles[view.Stage], t.Explain.Titles[tellResult]), view.Base+"/explain", t.Line.TheLine)
	view.Page.Ticket = view.Ticket
	if v.OpenCare() {
		view.Care, view.CareText = view.Base+"/care/"+v.ID, t.careText(d, v)
	}
	switch view.Stage {
	case tellTaken:
		view.Row = queueRow{Ticket: view.Ticket, Where: v.Taken.Station}
		view.Fault = c.told(cmp.Or(f, elsewhere(v)))
		return c.Render(status(view.Fault), explainPage(view))
	case tellAway, tellFree:
		return c.Show(f, explainPage(view))
	}
	c.fillExplain(d, v, &view)
	if view.Stage == tellResult {
		near, err := c.s.prog.NearLimit(c.R.Context(), d, v)
		if err != nil {
			c.s.log.Error("how sure a reading is was not computed", "visit", v.ID, "err", err)
		}
		view.Near = t.near(near)
	}
	return c.Show(f, explainPage(view))
}

// near says how sure a reading close to a limit is; nothing when none is close.
func (t *tongue) near(n *programme.NearLimit) string {
	if n == nil {
		return ""
	}
	return t.Explain.Near(nearText{
		Limit: n.Limit.Number(), Unit: string(n.Limit.Unit), Meter: n.Meter, Above: n.Reading.Steps >= n.Limit.Steps,
		Of100: max(1, int(100*n.Across+0.5)), CV: fmt.Sprintf("%.1f", 100*n.CV), Runs: n.Runs,
	})
}

// explainStage derives what comes next, unless a stage that is possible was asked for.
func explainStage(v *visit.State, station, asked string) string {
	switch {
	case v.Phase() != visit.AtExplain || v.Finding() == nil:
		return tellAway
	case v.Taken == nil:
		return tellFree
	case v.Taken.Station != station:
		return tellTaken
	}
	switch asked {
	case tellRefer:
		if v.Finding().Refer {
			return asked
		}
	case tellResult, tellBack, tellSlip, tellContact, tellFinish:
		return asked
	}
	switch {
	case v.Explained == nil || v.Told != v.FoundID: // corrected since it was explained
		return tellResult
	case v.Finding().Refer && v.Referral == nil:
		return tellRefer
	case len(v.Slips) == 0 || v.Slips[len(v.Slips)-1].Finding != v.FoundID:
		return tellSlip
	}
	return tellFinish
}

func (c *Context) fillExplain(d *programme.Day, v *visit.State, view *explainView) {
	f, t := d.Told(v, view.Lang), c.say()
	view.Number, view.Unit = f.Reading.Shown(), string(f.Reading.Unit)
	view.Band, view.Word = string(f.Band), f.Word.In(view.Lang)
	view.Basis, view.Sentence = view.Say.basis(f.Basis), f.Sentence.In(view.Lang)
	view.Advice = textsIn(f.Advice, view.Lang)
	view.When, view.Place = f.When.In(view.Lang), f.Where.In(view.Lang)
	view.Disclaimer = d.Protocol.Disclaimer.In(view.Lang)
	if len(v.Readings) > 1 {
		view.Counts, view.CountsLang = t.sentence(v.Found.Why)
	}
	for _, name := range d.ReferralPlaces(f) {
		view.Routes = append(view.Routes, ui.Option{Value: name, Label: name, Hint: placeHint(d, name)})
	}
	if v.Referral != nil && view.Route == "" {
		view.Route, view.Agreed = v.Referral.Route, yesNo(v.Referral.Agreed)
	}
	if v.Explained != nil && view.TeachBack == "" {
		view.TeachBack = v.Explained.TeachBack
	}
	view.MayCall = t.Explain.NoCalls
	if v.Call {
		view.MayCall = t.Explain.MayCall
	}
	view.Contact = c.contactView(view.Fault, view.Path+"/contact", view.Path+"?at="+tellContact, view.Lang, view.Say, view.Command)
	for _, g := range programme.FinishGates(v, d.Protocol) {
		g.Name, g.Fault = cmp.Or(t.Explain.Gates[g.Key], g.Name), c.told(g.Fault)
		view.Gates = append(view.Gates, g)
	}
	view.Asks = aboutIn(d, view.Lang, about.Chosen(d.Charter.Asks, true))
	for i := range view.Asks {
		view.Asks[i].Said, view.Asks[i].Wrong = c.Forms(view.Asks[i].Name), ui.Message(view.Fault, view.Asks[i].Name)
	}
	view.MayFinish = !slices.ContainsFunc(view.Gates, func(g programme.Gate) bool { return !g.Open() })
	view.GateHref = map[string]string{"care": view.Care, "explained": view.Path + "?at=" + tellResult, "referral": view.Path + "?at=" + tellRefer, "slip": view.Path + "?at=" + tellSlip}
	add := func(stage string, done bool) {
		s := ui.Step{Label: t.Explain.Steps[stage], Href: view.Path + "?at=" + stage + "&lang=" + view.Lang, State: ui.StepNext}
		if done {
			s.State = ui.StepDone
		}
		if stage == view.Stage || stage == tellResult && view.Stage == tellBack {
			s.State = ui.StepNow
		}
		view.Steps = append(view.Steps, s)
	}
	add(tellResult, v.Explained != nil && v.Told == v.FoundID)
	if f.Refer {
		add(tellRefer, v.Referral != nil)
	}
	add(tellSlip, len(v.Slips) > 0 && v.Slips[len(v.Slips)-1].Finding == v.FoundID)
	add(tellFinish, false)
}

func textsIn(list []protocol.Text, lang string) []string {
	out := make([]string, len(list))
	for i, t := range list {
		out[i] = t.In(lang)
	}
	return out
}

func yesNo(b bool) string {
	if b {
		return "yes"
	}
	return "no"
}

func explainTake(s *Server, c *Context) error {
	d, v, err := c.visit()
	if err != nil {
		return err
	}
	_, err = s.prog.CallTicket(c.R.Context(), c.Actor(), programme.CallTicket{Act: c.Act(), Visit: v.ID, Step: string(visit.AtExplain), Station: c.explainStation(d)})
	if err != nil {
		return c.showExplainList(fault.Of(err))
	}
	return c.Go(dayBase(d) + "/explain/" + v.ID)
}

func explainPutBack(s *Server, c *Context) error {
	d, v, err := c.visit()
	if err != nil {
		return err
	}
	if _, err := s.prog.PutBack(c.R.Context(), c.Actor(), programme.PutBack{Act: c.Act(), Visit: v.ID, Reason: c.Form("reason")}); err != nil {
		return c.showExplainList(fault.Of(err))
	}
	return c.Done(dayBase(d)+"/explain", c.say().Line.IsBack(ticketText(v.Ticket)))
}

// explainStep runs one command of Explain and goes on with what is missing; a refusal shows the stage again.
func explainStep(c *Context, stage string, run func(*programme.Day, *visit.State) (note string, err error)) error {
	d, v, err := c.visit()
	if err != nil {
		return err
	}
	note, err := run(d, v)
	if err != nil {
		f := fault.Of(err)
		if f.Kind == fault.Internal {
			return err
		}
		return c.showExplain(f, stage)
	}
	to := dayBase(d) + "/explain/" + v.ID
	if lang := c.Form("lang"); slices.Contains(programme.Languages, lang) {
		to += "?lang=" + lang
	}
	return c.Done(to, note)
}

func explainDone(s *Server, c *Context) error {
	return explainStep(c, tellBack, func(d *programme.Day, v *visit.State) (string, error) {
		_, err := s.prog.Explain(c.R.Context(), c.Actor(), programme.Explain{Act: c.Act(), Visit: v.ID, Language: c.Form("lang"), TeachBack: c.Form("teach_back"), Station: c.explainStation(d)})
		return c.say().Explain.NoteExplained, err
	})
}

func explainRefer(s *Server, c *Context) error {
	return explainStep(c, tellRefer, func(_ *programme.Day, v *visit.State) (string, error) {
		if a := c.Form("agreed"); a != "yes" && a != "no" {
			return "", c.say().bad("agreed", c.say().Explain.AskAgreed)
		}
		_, err := s.prog.Refer(c.R.Context(), c.Actor(), programme.Refer{Act: c.Act(), Visit: v.ID, Route: c.Form("route"), Agreed: c.Form("agreed") == "yes"})
		return c.say().Explain.NoteReferred, err
	})
}

func explainContact(s *Server, c *Context) error {
	return explainStep(c, tellContact, func(_ *programme.Day, v *visit.State) (string, error) {
		cmd := c.contactOf(v)
		if f := callUnasked(c.say(), cmd, c.Form("call")); f != nil {
			return "", f
		}
		_, err := s.prog.Contact(c.R.Context(), c.Actor(), cmd)
		return c.say().Explain.NoteContact, err
	})
}

func explainSlip(s *Server, c *Context) error {
	return explainStep(c, tellSlip, func(_ *programme.Day, v *visit.State) (string, error) {
		_, err := s.prog.IssueSlip(c.R.Context(), c.Actor(), programme.IssueSlip{Act: c.Act(), Visit: v.ID, Language: c.Form("lang"), Size: c.Form("size")})
		return c.say().Explain.NoteSlip, err
	})
}

func explainFinish(s *Server, c *Context) error {
	d, v, err := c.visit()
	if err != nil {
		return err
	}
	if _, err := s.prog.FinishVisit(c.R.Context(), c.Actor(), programme.FinishVisit{Act: c.Act(), Visit: v.ID, Answers: c.aboutSaid(about.Chosen(d.Charter.Asks, true))}); err != nil {
		return c.showExplain(fault.Of(err), tellFinish)
	}
	return c.Done(dayBase(d)+"/explain", c.say().Line.IsFinished(ticketText(v.Ticket)))
}
