package programme

import (
	"cmp"
	"context"
	"slices"
	"strings"

	"fairstick/internal/fault"
	"fairstick/internal/store"
)

// FigureRow is one visit behind a figure. It has no name.
type FigureRow struct {
	Visit    string `json:"visit"`
	Ticket   int    `json:"ticket"`
	Event    string `json:"event"`
	Name     string `json:"event_name"`
	Date     string `json:"date"`
	Arrived  string `json:"arrived"` // the event's own clock
	Language string `json:"language"`
	Basis    string `json:"basis,omitempty"`
	Band     string `json:"band,omitempty"`
	Outcome  string `json:"outcome,omitempty"` // of the referral
}

// FigureRows are the visits that one figure counts, with how many there are in all.
type FigureRows struct {
	Figure Figure      `json:"figure"`
	Span   Span        `json:"span"`
	Part   string      `json:"part,omitempty"`
	N      int         `json:"n"`
	Rows   []FigureRow `json:"rows"`
}

// RowsAsk asks for the visits behind a figure; Parting and Part leave only those of one part, for example "language" and "es".
type RowsAsk struct {
	Span          Span
	Figure        string
	Parting, Part string
	Most          int // rows to give; all are counted
}

// FigureRows finds the visits behind a figure by the question that counts them. Events whose kept count says that there is none, or
// whose rows are not asked for, are not read.
func (p *Programme) FigureRows(ctx context.Context, ask RowsAsk) (*FigureRows, error) {
	fig, ok := FigureOf(ask.Figure)
	if !ok {
		return nil, fault.New(fault.Missing, "no-such-figure", "There is no such figure.", "It may have been typed or linked wrongly.", "Go back to the report and choose it there.")
	}
	part := parts[ask.Parting]
	if ask.Parting != "" && part == nil {
		return nil, fault.New(fault.Missing, "no-such-figure", "People are not parted in this way.", "It may have been typed or linked wrongly.", "Go back to the report and choose it there.")
	}
	out := &FigureRows{Figure: fig, Span: ask.Span, Part: ask.Part}
	f := &Figures{Span: ask.Span, Lots: map[string]string{}}
	err := p.store.Read(ctx, func(v *store.View) error {
		r := newFiguring(v, f)
		if err := r.programme(); err != nil {
			return err
		}
		if err := r.events(); err != nil {
			return err
		}
		for _, e := range f.Events {
			kept, err := e.counted()
			if err != nil {
				return err
			}
			if n, ok := kept.of(ask); ok && (n == 0 || len(out.Rows) >= ask.Most) {
				out.N += n
				continue
			}
			err = r.eachVisit(e, func(id string, c *counted) error {
				if !fig.counts(c) || part != nil && part(c) != ask.Part {
					return nil
				}
				if out.N++; len(out.Rows) >= ask.Most {
					return nil
				}
				out.Rows = append(out.Rows, FigureRow{
					Visit: id, Ticket: c.Ticket, Event: e.ID, Name: e.Name, Date: e.Date, Arrived: c.Arrived.In(e.zone).Format("15:04"), Language: c.Language,
					Basis: string(c.Basis), Band: string(c.Band), Outcome: string(c.after.Outcome),
				})
				return nil
			})
			if err != nil {
				return err
			}
		}
		return nil
	})
	slices.SortStableFunc(out.Rows, func(a, b FigureRow) int {
		return cmp.Or(strings.Compare(a.Date, b.Date), strings.Compare(a.Event, b.Event), cmp.Compare(a.Ticket, b.Ticket))
	})
	return out, err
}
