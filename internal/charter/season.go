package charter

import (
	"slices"

	"fairstick/internal/civil"
)

// SeasonSet says what a season is and what the programme wants of it. One with the same first day replaces an earlier one.
type SeasonSet struct {
	Name    string     `json:"name"`
	From    civil.Date `json:"from"`
	To      civil.Date `json:"to"` // the last day
	Targets Targets    `json:"targets"`

	// OtherCost is what the season cost beyond its consumables (transport, printing, rent, fees), in minor units of Currency; nil
	// when nobody has said.
	OtherCost *int64 `json:"other_cost,omitempty"`
	Currency  string `json:"currency,omitempty"`
}

// FactKind implements fact.Body.
func (SeasonSet) FactKind() string { return "programme.season-set" }

// Targets are what a programme wants of a season; 0 where it has set none.
type Targets struct {
	Events      int `json:"events,omitempty"`       // held
	Tested      int `json:"tested,omitempty"`       // people
	SeenPercent int `json:"seen_percent,omitempty"` // of everybody referred
	Screeners   int `json:"screeners,omitempty"`    // verified on the last day
}

func (s *State) setSeason(b SeasonSet) {
	s.Seasons = slices.DeleteFunc(slices.Clone(s.Seasons), func(x SeasonSet) bool { return x.From == b.From })
	s.Seasons = append(s.Seasons, b)
	slices.SortStableFunc(s.Seasons, func(a, b SeasonSet) int {
		if a.From.Before(b.From) {
			return -1
		}
		return 1
	})
}

// SeasonOf finds the season of a day; the latest to begin when several hold it.
func (s *State) SeasonOf(day civil.Date) (SeasonSet, bool) {
	for i := len(s.Seasons) - 1; i >= 0; i-- {
		if x := s.Seasons[i]; !day.Before(x.From) && !day.After(x.To) {
			return x, true
		}
	}
	return SeasonSet{}, false
}
