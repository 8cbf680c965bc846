package stock

import (
	"time"

	"fairstick/internal/civil"
	"fairstick/internal/fact"
	"fairstick/internal/glucose"
)

// Specimen is what the laboratory measured.
type Specimen string

// The specimens. A meter reads capillary whole blood, so each of the others differs from it by nature too.
const (
	VenousPlasma    Specimen = "venous-plasma"
	VenousSerum     Specimen = "venous-serum"
	VenousBlood     Specimen = "venous-blood"     // whole blood
	CapillaryPlasma Specimen = "capillary-plasma" // of the same fingerstick
)

// Specimens lists them in the order in which they are offered.
var Specimens = []Specimen{VenousPlasma, VenousSerum, VenousBlood, CapillaryPlasma}

// MostPairs bounds a comparison, so that it fits one entry of the record.
const MostPairs = 2000

// Measured is one sample measured twice, as decimals: binary fractions would move what lies on a limit.
type Measured struct {
	Reference string `json:"reference"`
	Meter     string `json:"meter"`
}

// ComparisonRecorded is a comparison of one meter, with one lot of strips, with a laboratory. It names no participant and nobody of
// the laboratory.
type ComparisonRecorded struct {
	Meter      string       `json:"meter"`
	StripLot   string       `json:"strip_lot"`
	On         civil.Date   `json:"on"`
	Laboratory string       `json:"laboratory"` // the laboratory's method, in the programme's words
	Specimen   Specimen     `json:"specimen"`
	Unit       glucose.Unit `json:"unit"` // of the meter at that time
	Pairs      []Measured   `json:"pairs"`
	Note       string       `json:"note,omitempty"`
}

// FactKind implements fact.Body.
func (ComparisonRecorded) FactKind() string { return "comparison.recorded" }

// ComparisonWithdrawn says that a comparison must not be relied on. It stays in the record.
type ComparisonWithdrawn struct {
	Reason string `json:"reason"`
}

// FactKind implements fact.Body.
func (ComparisonWithdrawn) FactKind() string { return "comparison.withdrawn" }

// Comparison is a comparison as it stands.
type Comparison struct {
	ID          string               `json:"id"`
	Details     ComparisonRecorded   `json:"details"`
	At          time.Time            `json:"at"`
	By          string               `json:"by"`
	Withdrawn   *ComparisonWithdrawn `json:"withdrawn,omitempty"`
	WithdrawnAt time.Time            `json:"withdrawn_at,omitzero"`
	WithdrawnBy string               `json:"withdrawn_by,omitempty"`
}

// NewComparison gives a comparison before any fact.
func NewComparison(id string) fact.State { return &Comparison{ID: id} }

// Index keeps the comparisons of a meter in the order of their days.
func (c *Comparison) Index() (parent, label string) { return c.Details.Meter, c.Details.On.String() }

// Apply implements fact.State.
func (c *Comparison) Apply(r fact.Record) {
	switch b := r.Body.(type) {
	case ComparisonRecorded:
		c.Details, c.At, c.By = b, r.At, r.By
	case ComparisonWithdrawn:
		c.Withdrawn, c.WithdrawnAt, c.WithdrawnBy = &b, r.At, r.By
	}
}
