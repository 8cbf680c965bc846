package web

import (
	"fmt"
	"net/http"

	"fairstick/internal/programme"
	"fairstick/internal/web/ui"
)

// agreementView is whether two observers of the same fingersticks see the same.
type agreementView struct {
	Page  ui.Page
	Pairs []pairView
}

// pairView is one pair of observers.
type pairView struct {
	ID, Title, Answer string
	Table             []listRow
	TableCols         []ui.Col
	Differ            []listRow
	DifferCols        []ui.Col
}

// kappaWord says a kappa as Landis and Koch named its ranges (Biometrics 1977;33:159-74). The names are a convention, not a limit.
func kappaWord(k float64) string {
	switch {
	case k < 0:
		return "less than chance would give"
	case k <= 0.20:
		return "slight"
	case k <= 0.40:
		return "fair"
	case k <= 0.60:
		return "moderate"
	case k <= 0.80:
		return "substantial"
	}
	return "almost perfect"
}

func agreementShow(s *Server, c *Context) error {
	pairs, err := s.prog.ObserverAgreement(c.R.Context())
	if err != nil {
		return err
	}
	v := agreementView{Page: c.page("Two observers")}
	v.Page.Lead, v.Page.Back = "Do two verifiers who watch the same fingerstick see the same? If not, they train together before they sign anybody.", &ui.Link{Href: "/training", Label: "Training"}
	for i, p := range pairs {
		v.Pairs = append(v.Pairs, pairOf(p, i+1))
	}
	return c.Render(http.StatusOK, AgreementPage(v))
}

func pairOf(p programme.ObserverPair, n int) pairView {
	t := p.Table
	all := t[0][0] + t[0][1] + t[1][0] + t[1][1]
	out := pairView{ID: fmt.Sprintf("pair-%d", n), Title: "Do " + p.First + " and " + p.Second + " see the same?"}
	watched := plural(p.Fingersticks, "fingerstick", "fingersticks")
	switch {
	case p.Agreement != nil:
		a := p.Agreement
		out.Answer = fmt.Sprintf("They agree on %d of %d steps that both saw in %s (%.0f %%). Kappa is %.2f, 95 %% interval %.2f to %.2f: %s agreement beyond chance.",
			t[0][0]+t[1][1], all, watched, 100*a.Observed, a.Kappa, a.Low, a.High, kappaWord(a.Kappa))
	case all == 0:
		out.Answer = "No step of " + watched + " was seen by both."
	default:
		out.Answer = fmt.Sprintf("They agree on %d of %d steps that both saw in %s. Both always gave one and the same mark, so nothing can be said beyond chance: watch somebody who still makes mistakes.", t[0][0]+t[1][1], all, watched)
	}
	out.TableCols = columns("Mark of "+p.First, p.Second+": OK", p.Second+": missed")
	out.Table = []listRow{{Cells: []string{"OK", fmt.Sprint(t[0][0]), fmt.Sprint(t[0][1])}}, {Cells: []string{"Missed", fmt.Sprint(t[1][0]), fmt.Sprint(t[1][1])}}}
	out.DifferCols = columns("Step", "Only "+p.First+" saw a miss", "Only "+p.Second+" saw a miss")
	for _, d := range p.Differ {
		out.Differ = append(out.Differ, listRow{Cells: []string{fmt.Sprintf("%d. %s", d.Step.Number, d.Step.Do.In("en")), fmt.Sprint(d.FirstMissed), fmt.Sprint(d.SecondMissed)}})
	}
	return out
}
