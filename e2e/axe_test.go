package e2e

import (
	_ "embed"
	"fmt"
	"strings"
	"testing"
	"time"

	"fairstick/internal/programme"
)

// axe is axe-core 4.14.1 by Deque Systems (MPL 2.0, its licence stands beside it): the rules of WCAG as a script.
//
//go:embed testdata/axe/axe.min.js
var axe string

// finding is one rule that a page breaks.
type finding struct {
	ID, Impact, Help string
	Where            []string
}

// look asks axe about the page as it stands, in light and in dark.
func (p *page) look(state string) {
	p.t.Helper()
	p.lookIn(state, "light", "dark")
}

// lookIn asks axe about the page in colour schemes, the light one first. Colours change with the scheme and nothing else does,
// so the dark form is asked about colours alone. What arrives is looked at once it has arrived.
func (p *page) lookIn(state string, schemes ...string) {
	p.t.Helper()
	const run = `(document.getAnimations().forEach(a => { if (a.effect.getComputedTiming().endTime !== Infinity) a.finish() }), axe).run(document, {resultTypes: ["violations"], selectors: false, runOnly: %s}).then(r => r.violations.map(v => ({
		ID: v.id, Impact: v.impact, Help: v.help, Where: v.nodes.slice(0, 3).map(n => n.html.slice(0, 160) + " " + (n.any[0] || n.all[0] || n.none[0] || {message: ""}).message)})))`
	defer p.media("prefers-color-scheme", "light") // pictures are taken in light
	for _, scheme := range schemes {
		p.media("prefers-color-scheme", scheme)
		var found []finding
		expression := fmt.Sprintf(run, `{type: "rule", values: ["color-contrast", "link-in-text-block"]}`)
		if scheme == "light" {
			expression = axe + ";\n" + fmt.Sprintf(run, `["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]`)
		}
		p.ask(expression, &found)
		for _, v := range found {
			if reason := mild[v.ID]; reason != "" && v.Impact != "serious" && v.Impact != "critical" {
				continue
			}
			p.t.Errorf("%s, %s: %s, %s: %s\n\t%s", state, scheme, v.Impact, v.ID, v.Help, strings.Join(v.Where, "\n\t"))
		}
	}
}

// mild are the rules that a page may break when nothing serious follows, each with the reason. It is empty: none is broken.
var mild = map[string]string{}

// What the walk over every page does not meet breaks no rule either: refusals, the invented day's own marks, and pages of a
// programme in which nothing has happened.
func TestAxe(t *testing.T) {
	f := market(t)
	demo := f.invented()
	empty := newFair(t, time.Date(2026, 3, 14, 7, 30, 0, 0, time.UTC))
	empty.b, empty.pins = f.b, map[string]string{"Nora Newcome": "4821"}
	_, err := empty.prog.Found(t.Context(), programme.Founding{Programme: "Invented First Programme", Lead: "Nora Newcome", PIN: "4821"})
	fatal(t, err)
	t.Run("on", func(t *testing.T) {
		for _, d := range []device{phone, laptop} {
			t.Run(d.name, func(t *testing.T) {
				t.Parallel()
				f := f.alone(t)
				p := f.comes("Maren Solbakk", d)
				for _, path := range []string{"/", "/sign-in", "/events/" + f.event + "/board", "/events/" + f.event + "/slip/" + f.ticket("013").ID} {
					p.visit(demo + path)
					p.see("Invented")
					p.look("invented " + path)
				}
				f.refusals(p)
				newcomer := empty.alone(t).comes("Nora Newcome", d)
				for _, path := range []string{"/", "/station", "/setup", "/events", "/people", "/meters", "/strips", "/controls-solution", "/disinfectants", "/supplies", "/follow-up"} {
					newcomer.visit(empty.url + path)
					newcomer.look("empty " + path)
				}
			})
		}
	})
}

// refusals looks at forms that were not taken, and at the page of a refusal.
func (f *fair) refusals(p *page) {
	f.t.Helper()
	f.arrives(p)
	for _, r := range []struct{ path, press, says string }{
		{strings.TrimPrefix(p.url(), f.url), "Yes, I agree", "was not chosen"},
		{"/sign-in?person=" + f.day().People[0].ID, "Sign in", "does not fit this name"},
		{"/people/new", "Add this person", "Name"},
		{"/events/" + f.event + "/no-such-page", "", "There is no such page."},
	} {
		p.visit(f.url + r.path)
		if r.press != "" {
			p.eval(`document.querySelectorAll("form").forEach(f => f.noValidate = true), 1`, nil)
			p.click(r.press)
			if !p.until(func() (wrong bool) {
				p.eval(`document.querySelector("[aria-invalid], #summary, .wrong") !== null`, &wrong)
				return wrong
			}) {
				f.t.Errorf("%s was not refused", r.path)
			}
		}
		p.see(r.says)
		p.look("refused " + r.path)
	}
}
