package event

import (
	"slices"
	"time"

	"fairstick/internal/fact"
)

// Turn is a moment when somebody was written down as here or not here.
type Turn struct {
	Person string    `json:"person"`
	Here   bool      `json:"here"`
	At     time.Time `json:"at"`
}

// HereAt lists who held one of the roles on the roster and was here at a moment by the attendance, in the order of the roster.
func (s *State) HereAt(at time.Time, roles ...string) []string {
	var out []string
	for _, p := range s.Roster {
		if !slices.Contains(roles, p.Role) {
			continue
		}
		here := false
		var last time.Time
		for _, t := range s.Turns {
			if t.Person == p.Person && !t.At.After(at) && !t.At.Before(last) {
				here, last = t.Here, t.At
			}
		}
		if here {
			out = append(out, p.Person)
		}
	}
	return out
}

// Mentions points at the strips that were brought, and at the meters, strips and control lots of the control runs, each once.
func (s *State) Mentions() []fact.Mention {
	var out []fact.Mention
	type pair struct{ name, value string }
	seen := map[pair]bool{}
	add := func(name, value string, at time.Time) {
		if value != "" && !seen[pair{name, value}] {
			seen[pair{name, value}] = true
			out = append(out, fact.Mention{Name: name, Value: value, At: at})
		}
	}
	for _, l := range s.Loads {
		lots := make([]string, 0, len(l.Strips))
		for lot := range l.Strips {
			lots = append(lots, lot)
		}
		slices.Sort(lots)
		for _, lot := range lots {
			add("strip-lot", lot, l.At)
		}
	}
	for _, r := range s.Runs {
		add("meter", r.Meter, r.At)
		add("strip-lot", r.StripLot, r.At)
		add("control-lot", r.ControlLot, r.At)
	}
	if s.Running() {
		add("phase", "running", s.OpenedAt)
	}
	return out
}

// Running reports whether the event is open, be it with its doors closed.
func (s *State) Running() bool { return s.Phase == IsOpen || s.Phase == IsDoorsClosed }
