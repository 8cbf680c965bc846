package web

import (
	"fmt"
	"net/http"
	"strings"

	"fairstick/internal/control"
	"fairstick/internal/programme"
	"fairstick/internal/web/ui"
)

// qualityView is the meters with what their controls say of each.
type qualityView struct {
	Page ui.Page
	Rows []qualityRow
}

type qualityRow struct {
	Href, Name, State, Verdict, Controls, Last string
	Rules                                      []string
	Good, Bad                                  bool
}

var qualityWords = map[programme.QualityState]string{
	programme.QualityNone: "No control yet", programme.QualityInControl: "In control", programme.QualityLook: "Look at it", programme.QualityQuarantine: "In quarantine",
}

func qualityShow(s *Server, c *Context) error {
	all, err := s.prog.Quality(c.R.Context())
	if err != nil {
		return err
	}
	v := qualityView{Page: c.officePage("Can each meter be trusted?", qualityAnswer(all), "quality", c.backToSetup())}
	v.Page.Wide = true
	for _, q := range all {
		r := qualityRow{
			Href: "/quality/meters/" + q.Meter.ID, Name: q.Meter.Details.Label, State: qualityWords[q.State], Verdict: q.Verdict, Controls: fmt.Sprint(len(q.Runs)),
			Last: "-", Rules: rulesCounted(q), Good: q.State == programme.QualityInControl, Bad: q.State == programme.QualityLook || q.State == programme.QualityQuarantine,
		}
		if n := len(q.Runs); n > 0 {
			r.Last = q.Runs[n-1].At.Format("2 Jan 2006")
		}
		if len(r.Rules) == 0 {
			r.Rules = []string{"none"}
		}
		if q.Rules == nil {
			r.Rules = []string{"-"}
		}
		v.Rows = append(v.Rows, r)
	}
	return c.Render(http.StatusOK, QualityPage(v))
}

// qualityAnswer counts the meters by how they stand.
func qualityAnswer(all []programme.MeterQuality) string {
	count := map[programme.QualityState][]string{}
	for _, q := range all {
		count[q.State] = append(count[q.State], q.Meter.Details.Label)
	}
	if len(all) == 0 {
		return "No meter is on the list yet."
	}
	said := fmt.Sprintf("%d of %s in control.", len(count[programme.QualityInControl]), plural(len(all), "meter", "meters"))
	if look := count[programme.QualityLook]; len(look) > 0 {
		said += " Look at " + strings.Join(look, ", ") + " before the next fair."
	}
	if out := count[programme.QualityQuarantine]; len(out) > 0 {
		said += " In quarantine: " + strings.Join(out, ", ") + "."
	}
	if none := count[programme.QualityNone]; len(none) > 0 {
		said += " No control yet: " + strings.Join(none, ", ") + "."
	}
	return said
}

// rulesCounted names the rules that rejected a run, each with the number of runs at which it was broken.
func rulesCounted(q programme.MeterQuality) []string {
	var out []string
	for _, name := range control.RuleNames() {
		n := 0
		for _, b := range q.Breaks {
			if b.Rejects && b.Rule == name {
				n++
			}
		}
		if n > 0 {
			out = append(out, fmt.Sprintf("%s (%s)", name, plural(n, "run", "runs")))
		}
	}
	return out
}

func qualityQuestion(q programme.MeterQuality) string {
	return "Can meter " + q.Meter.Details.Label + " be trusted?"
}

// qualityMeterView is one meter: the answer, the picture, the tables.
type qualityMeterView struct {
	Page     ui.Page
	Meter    string // id
	Problems []string
	Picture  twoSizes
	Basis    []string // what the lines and rules of the picture rest on
	Parts    []reportPart
	Runs     qualityRuns
	Empty    bool
	Correct  string // where the strip lots are corrected
}

func qualityMeter(s *Server, c *Context) error {
	q, err := s.prog.MeterQuality(c.R.Context(), c.R.PathValue("meter"))
	if err != nil {
		return err
	}
	v := qualityMeterView{
		Page: c.officePage(qualityQuestion(q), q.Verdict, "quality", &ui.Link{Href: "/quality", Label: "All meters"}), Meter: q.Meter.ID, Problems: q.Problems,
		Empty: len(q.Runs) == 0, Correct: "/strips",
	}
	v.Page.Wide = true
	if !v.Empty {
		pic := pictureOf(q)
		if v.Picture, err = pic.draw(); err != nil {
			return err
		}
		v.Basis = qualityBasis(q, pic.Left)
		v.Parts = []reportPart{breaksPart(q), partsPart(q), scatterPart(q)}
		v.Runs = runsOf(q)
	}
	if p := actsPart(q); len(p.Rows) > 0 || !v.Empty {
		v.Parts = append(v.Parts, p)
	}
	return c.Render(http.StatusOK, QualityMeterPage(v))
}
