// Package stock is the things a programme measures with, as subjects of the record: meters, strip lots with their vials,
// lots of control solution with their bottles, disinfectants, the other consumables, and the comparisons of meters with a
// laboratory. It knows what is printed on them and what happened to them; it does not know events or people.
package stock

import (
	"fmt"
	"strings"

	"fairstick/internal/civil"
	"fairstick/internal/fact"
)

// The subject kinds of stock.
const (
	MeterKind        = "meter"
	StripLotKind     = "strip-lot"
	ControlLotKind   = "control-lot"
	DisinfectantKind = "disinfectant"
	SupplyKind       = "supply"
	ComparisonKind   = "comparison"
)

// MeterRef names one meter.
func MeterRef(id string) fact.Ref { return fact.Ref{Kind: MeterKind, ID: id} }

// StripLotRef names one lot of strips.
func StripLotRef(id string) fact.Ref { return fact.Ref{Kind: StripLotKind, ID: id} }

// ControlLotRef names one lot of control solution.
func ControlLotRef(id string) fact.Ref { return fact.Ref{Kind: ControlLotKind, ID: id} }

// DisinfectantRef names one disinfectant.
func DisinfectantRef(id string) fact.Ref { return fact.Ref{Kind: DisinfectantKind, ID: id} }

// SupplyRef names one other consumable.
func SupplyRef(id string) fact.Ref { return fact.Ref{Kind: SupplyKind, ID: id} }

// ComparisonRef names one comparison of a meter with a laboratory.
func ComparisonRef(id string) fact.Ref { return fact.Ref{Kind: ComparisonKind, ID: id} }

// Register tells a catalogue about these subjects.
func Register(c *fact.Catalogue) {
	c.Subject(MeterKind, NewMeter, MeterDescribed{}, MeterReviewed{}, MeterVoided{}, MeterQuarantined{}, MeterReturned{})
	c.Subject(StripLotKind, NewStripLot, StripLotDescribed{}, VialOpened{}, VialDiscarded{}, StripLotWithdrawn{})
	c.Subject(ControlLotKind, NewControlLot, ControlLotDescribed{}, BottleOpened{}, BottleDiscarded{})
	c.Subject(DisinfectantKind, NewDisinfectant, DisinfectantDescribed{})
	c.Subject(ComparisonKind, NewComparison, ComparisonRecorded{}, ComparisonWithdrawn{})
	c.Subject(SupplyKind, NewSupply, append([]fact.Body{SupplyDescribed{}}, shelfBodies...)...) // lots and disinfectants take the bodies of the shelf too
}

// SupplyDescribed says what another consumable is. The latest one holds.
type SupplyDescribed struct {
	Name string     `json:"name"`
	Pack string     `json:"pack,omitempty"` // how it is packed, in the programme's words
	Exp  civil.Date `json:"expiry,omitempty"`
	Note string     `json:"note,omitempty"`
	Use  Use        `json:"use,omitempty"` // what it is in a supply list; empty for anything else
	Lot  string     `json:"lot,omitempty"` // as printed on the box; a box of another lot is another consumable
}

// FactKind implements fact.Body.
func (SupplyDescribed) FactKind() string { return "supply.described" }

// Supply is another consumable as it stands.
type Supply struct {
	ID      string          `json:"id"`
	Details SupplyDescribed `json:"details"`
	Shelf   Shelf           `json:"shelf,omitzero"`
}

// NewSupply gives a consumable before any fact.
func NewSupply(id string) fact.State { return &Supply{ID: id} }

// Index keeps consumables in the order of their names.
func (s *Supply) Index() (parent, label string) { return "", strings.ToLower(s.Details.Name) }

// Apply implements fact.State.
func (s *Supply) Apply(r fact.Record) {
	if b, ok := r.Body.(SupplyDescribed); ok {
		s.Details = b
	}
	s.Shelf.apply(r)
}

// DisinfectantDescribed says what is printed on a disinfectant. The latest one holds.
type DisinfectantDescribed struct {
	Name           string     `json:"name"`
	ContactSeconds int        `json:"contact_seconds"` // how long the surface must stay wet, from the label
	TwoStep        bool       `json:"two_step"`        // one wipe to clean, a second to disinfect
	Expiry         civil.Date `json:"expiry,omitempty"`
	Lot            string     `json:"lot,omitempty"` // as printed; another lot is another disinfectant
}

// FactKind implements fact.Body.
func (DisinfectantDescribed) FactKind() string { return "disinfectant.described" }

// Disinfectant is a disinfectant as it stands.
type Disinfectant struct {
	ID      string                `json:"id"`
	Details DisinfectantDescribed `json:"details"`
	Shelf   Shelf                 `json:"shelf,omitzero"`
}

// NewDisinfectant gives a disinfectant before any fact.
func NewDisinfectant(id string) fact.State { return &Disinfectant{ID: id} }

// Index keeps disinfectants in the order of their names.
func (s *Disinfectant) Index() (parent, label string) { return "", strings.ToLower(s.Details.Name) }

// Apply implements fact.State.
func (s *Disinfectant) Apply(r fact.Record) {
	if b, ok := r.Body.(DisinfectantDescribed); ok {
		s.Details = b
	}
	s.Shelf.apply(r)
}

// Expired gives the sentence that a thing may no longer be used on a day, or "" when it may. The last day counts as
// usable (common practice).
func Expired(what string, last civil.Date, day civil.Date) string {
	if last.IsZero() || !day.After(last) {
		return ""
	}
	return fmt.Sprintf("%s expired on %s.", what, last.Long())
}
