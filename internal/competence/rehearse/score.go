package rehearse

import (
	"fmt"

	"fairstick/internal/competence/cards"
	"fairstick/internal/protocol"
)

// Judged is one decision with what was chosen.
type Judged struct {
	Situation string
	Decision  Decision
	Chosen    Choice // the zero Choice when nothing was decided
	Right     bool
	Harm      cards.Harm // of a wrong one
}

// Result is what a practice day amounts to.
type Result struct {
	Right   int
	Of      int
	Harm    int // wrong ones by which somebody could have been harmed
	Spoiled int // wrong ones by which a value could not be trusted
	Passed  bool
	Judged  []Judged // in the order of the day
}

// Score judges decisions, by the key of the decision the key of the choice. One that was not made, or is no choice of its decision, is
// wrong, with the worst that a wrong choice of it can do. A day is passed when nobody could have been harmed and the share of right
// decisions reaches the pass mark in per cent.
func (d Day) Score(decided map[string]string, passMark int) Result {
	var out Result
	for _, s := range d.Situations {
		for _, x := range s.Decisions {
			j := Judged{Situation: s.Key, Decision: x}
			c, ok := x.Choice(decided[x.Key])
			switch {
			case ok:
				j.Chosen, j.Right = c, c.Right
				if !c.Right {
					j.Harm = c.Harm
				}
			default:
				j.Harm = x.worst()
			}
			out.Of++
			switch {
			case j.Right:
				out.Right++
			case j.Harm == cards.Safety:
				out.Harm++
			case j.Harm == cards.Validity:
				out.Spoiled++
			}
			out.Judged = append(out.Judged, j)
		}
	}
	out.Passed = out.Of > 0 && out.Harm == 0 && out.Right*100 >= passMark*out.Of
	return out
}

// worst is the worst that a wrong choice can do.
func (d Decision) worst() cards.Harm {
	worst := cards.Neither
	for _, c := range d.Choices {
		switch {
		case c.Harm == cards.Safety:
			return cards.Safety
		case c.Harm == cards.Validity:
			worst = cards.Validity
		}
	}
	return worst
}

// Say gives one sentence about a result.
func (r Result) Say() protocol.Text {
	t := textf("%d of %d decisions were right.", "%d de %d decisiones fueron correctas.", r.Right, r.Of)
	switch {
	case r.Passed:
		return join(t, text("Passed.", "Aprobado."))
	case r.Harm > 0:
		return join(t, text(fmt.Sprintf("Not passed: %s.", count(r.Harm, "decision could have harmed somebody", "decisions could have harmed somebody")),
			fmt.Sprintf("No aprobado: %s.", count(r.Harm, "decisión podía dañar a alguien", "decisiones podían dañar a alguien"))))
	}
	return join(t, text("Not passed: too few were right.", "No aprobado: hubo pocas correctas."))
}

func count(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}
