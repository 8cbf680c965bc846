package stock

import (
	"time"

	"fairstick/internal/civil"
	"fairstick/internal/fact"
)

// Received says that packs of something came in. The quantity is Packs times PerPack.
type Received struct {
	Packs    int        `json:"packs"`
	PerPack  int        `json:"per_pack"`        // pieces in a pack
	Unit     string     `json:"unit"`            // what is counted: strips, pairs, wipes
	Price    *int64     `json:"price,omitempty"` // of one pack in minor units; nil when it is not known, 0 for a gift
	Currency string     `json:"currency,omitempty"`
	Supplier string     `json:"supplier,omitempty"`
	Invoice  string     `json:"invoice,omitempty"`
	Place    string     `json:"place"`
	On       civil.Date `json:"on"`
}

// FactKind implements fact.Body.
func (Received) FactKind() string { return "stock.received" }

// Pieces is the quantity received.
func (b Received) Pieces() int { return b.Packs * b.PerPack }

// Moved says that pieces went from one place to another.
type Moved struct {
	From string `json:"from"`
	To   string `json:"to"`
	N    int    `json:"n"`
}

// FactKind implements fact.Body.
func (Moved) FactKind() string { return "stock.moved" }

// Counted is a physical count at a place. It sets the level; what the record had expected then is kept beside it.
type Counted struct {
	Place string `json:"place"`
	N     int    `json:"n"`
	Book  int    `json:"book"`
}

// FactKind implements fact.Body.
func (Counted) FactKind() string { return "stock.counted" }

// Disposed says that pieces were thrown away, and why.
type Disposed struct {
	Place  string `json:"place"`
	N      int    `json:"n"`
	Reason string `json:"reason"`
}

// FactKind implements fact.Body.
func (Disposed) FactKind() string { return "stock.disposed" }

// Quarantined sets something aside until somebody has found out.
type Quarantined struct {
	Reason string `json:"reason"`
}

// FactKind implements fact.Body.
func (Quarantined) FactKind() string { return "stock.quarantined" }

// Recalled says that a maker or an authority called something back.
type Recalled struct {
	Source string `json:"source"` // who recalled it, and where that stands
	Reason string `json:"reason"`
}

// FactKind implements fact.Body.
func (Recalled) FactKind() string { return "stock.recalled" }

// Released ends one hold. It names the hold, so that it never lifts another one that came meanwhile from elsewhere.
type Released struct {
	Hold   string `json:"hold"` // fact id of the quarantine or the recall
	Reason string `json:"reason"`
	Signed string `json:"signed"` // person id
}

// FactKind implements fact.Body.
func (Released) FactKind() string { return "stock.released" }

// shelfBodies are what every thing that is kept on a shelf understands.
var shelfBodies = []fact.Body{Received{}, Moved{}, Counted{}, Disposed{}, Quarantined{}, Recalled{}, Released{}}

// MoveKind is what changed a level.
type MoveKind string

// The kinds of move.
const (
	WasReceived MoveKind = "received"
	WasMoved    MoveKind = "moved"
	WasCounted  MoveKind = "counted"
	WasDisposed MoveKind = "disposed"
)

// Move is one change of a level with who made it and when.
type Move struct {
	ID      string    `json:"id"`
	Kind    MoveKind  `json:"kind"`
	At      time.Time `json:"at"`
	By      string    `json:"by"`
	Place   string    `json:"place"`
	To      string    `json:"to,omitempty"`
	N       int       `json:"n"`
	Book    int       `json:"book,omitempty"` // of a count: what the record expected
	Reason  string    `json:"reason,omitempty"`
	Receipt *Received `json:"receipt,omitempty"`
}

// HoldKind is why something must not be used.
type HoldKind string

// The kinds of hold.
const (
	InQuarantine HoldKind = "quarantine"
	InRecall     HoldKind = "recall"
)

// Hold keeps something out of use from a moment on.
type Hold struct {
	ID         string    `json:"id"`
	Kind       HoldKind  `json:"kind"`
	Source     string    `json:"source,omitempty"`
	Reason     string    `json:"reason"`
	At         time.Time `json:"at"`
	By         string    `json:"by"`
	Released   *Released `json:"released,omitempty"`
	ReleasedAt time.Time `json:"released_at,omitzero"`
}

// Says tells the hold in a few words.
func (h Hold) Says() string {
	if h.Kind == InRecall {
		return "recalled by " + h.Source + ": " + h.Reason
	}
	return "in quarantine: " + h.Reason
}

// Shelf is what was received, moved, counted and disposed of one lot or supply, and what keeps it out of use. What goes to
// an event and comes back stands in the facts of the event.
type Shelf struct {
	Moves []Move `json:"moves,omitempty"`
	Holds []Hold `json:"holds,omitempty"`
}

// apply takes a fact of the shelf and passes over every other one.
func (s *Shelf) apply(r fact.Record) {
	m := Move{ID: r.ID, At: r.At, By: r.By}
	switch b := r.Body.(type) {
	case Received:
		m.Kind, m.Place, m.N, m.Receipt = WasReceived, b.Place, b.Pieces(), &b
		if day := b.On.Time(time.UTC); !b.On.IsZero() && b.On.Before(civil.Of(r.At.UTC())) {
			m.At = day // typed later: it lay there from its day on
		}
	case Moved:
		m.Kind, m.Place, m.To, m.N = WasMoved, b.From, b.To, b.N
	case Counted:
		m.Kind, m.Place, m.N, m.Book = WasCounted, b.Place, b.N, b.Book
	case Disposed:
		m.Kind, m.Place, m.N, m.Reason = WasDisposed, b.Place, b.N, b.Reason
	case Quarantined:
		s.Holds = append(s.Holds, Hold{ID: r.ID, Kind: InQuarantine, Reason: b.Reason, At: r.At, By: r.By})
		return
	case Recalled:
		s.Holds = append(s.Holds, Hold{ID: r.ID, Kind: InRecall, Source: b.Source, Reason: b.Reason, At: r.At, By: r.By})
		return
	case Released:
		for i := range s.Holds {
			if h := &s.Holds[i]; h.ID == b.Hold && h.Released == nil {
				h.Released, h.ReleasedAt = &b, r.At
			}
		}
		return
	default:
		return
	}
	s.Moves = append(s.Moves, m)
}

// Held gives the hold that keeps the thing out of use at a moment, a recall before a quarantine; nil for none. A reading
// taken before the hold, and typed in from paper after it, is not refused by it.
func (s *Shelf) Held(at time.Time) *Hold {
	var out *Hold
	for i := range s.Holds {
		h := &s.Holds[i]
		if h.Released != nil && !at.Before(h.ReleasedAt) || at.Before(h.At) {
			continue
		}
		if out == nil || out.Kind != InRecall && h.Kind == InRecall {
			out = h
		}
	}
	return out
}

// Standing gives the hold that nobody has released, a recall before a quarantine; nil for none.
func (s *Shelf) Standing() *Hold {
	var out *Hold
	for i := range s.Holds {
		if h := &s.Holds[i]; h.Released == nil && (out == nil || out.Kind != InRecall && h.Kind == InRecall) {
			out = h
		}
	}
	return out
}
