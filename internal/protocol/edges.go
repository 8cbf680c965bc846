package protocol

import "fairstick/internal/glucose"

// Edge is a limit between two bands: the higher one begins at it.
type Edge struct {
	Name string // as the document names it: "high_from"
	At   glucose.Value
}

// Edges lists the limits between the bands of a basis and unit, from the lowest. A basis or unit that the protocol does not know is
// a *fault.Fault.
func (p Protocol) Edges(b Basis, u glucose.Unit) ([]Edge, error) {
	l, err := p.limits(u, b)
	if err != nil {
		return nil, err
	}
	return []Edge{
		{"critical_below", l.CriticalBelow},
		{"low_below", l.LowBelow},
		{"raised_from", l.RaisedFrom},
		{"high_from", l.HighFrom},
		{"critical_from", l.CriticalFrom},
	}, nil
}
