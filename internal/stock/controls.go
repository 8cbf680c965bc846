package stock

import (
	"fmt"
	"strings"

	"fairstick/internal/civil"
	"fairstick/internal/fact"
)

// ControlLotDescribed says what is printed on a lot of control solution. The latest one holds.
type ControlLotDescribed struct {
	Lot       string     `json:"lot"`
	Level     string     `json:"level"`  // as the strips' printed ranges name it, for example "1" or "2"
	Models    []string   `json:"models"` // the types of meter it is made for
	Expiry    civil.Date `json:"expiry"`
	InUseDays int        `json:"in_use_days"` // days after opening; the protocol gives the default
}

// FactKind implements fact.Body.
func (ControlLotDescribed) FactKind() string { return "control-lot.described" }

// BottleOpened says that a bottle of control solution was opened.
type BottleOpened struct {
	Bottle string     `json:"bottle"` // the programme's own name on it
	On     civil.Date `json:"on"`
}

// FactKind implements fact.Body.
func (BottleOpened) FactKind() string { return "control-lot.bottle-opened" }

// BottleDiscarded says that a bottle was thrown away.
type BottleDiscarded struct {
	Bottle string `json:"bottle"`
	Reason string `json:"reason"`
}

// FactKind implements fact.Body.
func (BottleDiscarded) FactKind() string { return "control-lot.bottle-discarded" }

// ControlLot is a lot of control solution as it stands.
type ControlLot struct {
	ID      string              `json:"id"`
	Details ControlLotDescribed `json:"details"`
	Bottles []Container         `json:"bottles,omitempty"`
	Shelf   Shelf               `json:"shelf,omitzero"`
}

// NewControlLot gives a lot before any fact.
func NewControlLot(id string) fact.State { return &ControlLot{ID: id} }

// Index keeps lots in the order of level, then number.
func (s *ControlLot) Index() (parent, label string) {
	return "", strings.ToLower(s.Details.Level + " " + s.Details.Lot)
}

// Apply implements fact.State.
func (s *ControlLot) Apply(r fact.Record) {
	switch b := r.Body.(type) {
	case ControlLotDescribed:
		s.Details = b
		for i := range s.Bottles {
			s.Bottles[i].Discard = s.discard(s.Bottles[i].Opened)
		}
	case BottleOpened:
		s.Bottles = openContainer(s.Bottles, b.Bottle, b.On, s.discard(b.On), r.At)
	case BottleDiscarded:
		discardContainer(s.Bottles, b.Bottle, b.Reason)
	default:
		s.Shelf.apply(r)
	}
}

func (s *ControlLot) discard(opened civil.Date) civil.Date {
	return civil.Earlier(opened.AddDays(s.Details.InUseDays), s.Details.Expiry)
}

// Bottle finds an opened bottle by its name.
func (s *ControlLot) Bottle(name string) (Container, bool) { return findContainer(s.Bottles, name) }

// Usable gives the sentence why this bottle may not be used on a day, or "" when it may.
func (s *ControlLot) Usable(bottle string, day civil.Date) string {
	if e := Expired(fmt.Sprintf("Control lot %s (level %s)", s.Details.Lot, s.Details.Level), s.Details.Expiry, day); e != "" {
		return e
	}
	return usable(s.Bottles, "Control bottle", bottle, day)
}

// OpenBottles lists the bottles that may be used on a day, newest first.
func (s *ControlLot) OpenBottles(day civil.Date) []Container { return openContainers(s.Bottles, day) }

// FitsModel reports whether the solution is made for a type of meter.
func (s *ControlLot) FitsModel(model string) bool {
	for _, m := range s.Details.Models {
		if strings.EqualFold(strings.TrimSpace(m), strings.TrimSpace(model)) {
			return true
		}
	}
	return false
}
