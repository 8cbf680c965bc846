package incident

import "fairstick/internal/fact"

// Tally is what an incident counts as in a report.
type Tally struct {
	Sort      Sort
	Open      bool
	Withdrawn bool
}

// Tally implements fact.Tallier.
func (s *State) Tally() string {
	var l fact.Line
	l.Text(string(s.Report.Sort))
	l.Flag(s.Open())
	l.Flag(s.Withdrawn != nil)
	return l.String()
}

// ReadTally reads what State.Tally wrote.
func ReadTally(line string) (Tally, error) {
	r := fact.ReadLine(line)
	t := Tally{Sort: Sort(r.Text()), Open: r.Flag(), Withdrawn: r.Flag()}
	return t, r.Err()
}
