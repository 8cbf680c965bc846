package programme

import (
	"context"
	"math"

	"fairstick/internal/control"
	"fairstick/internal/estimate"
	"fairstick/internal/event"
	"fairstick/internal/glucose"
	"fairstick/internal/visit"
)

// NearLimit says how sure a reading is that lies close to a limit. It is for the counsellor, never for the slip.
type NearLimit struct {
	Reading glucose.Value
	Limit   glucose.Value
	Across  float64 // chance that the true value lies on the other side of the limit, every true value taken as likely beforehand
	Meter   string  // its label
	CV      float64 // of the meter, a fraction
	Runs    int     // controls that the CV is of; 0 when it was read out of the printed range (see control.RangeSDs)
}

// nearFrom is the chance from which a reading counts as close to a limit: one in twenty (common practice for "cannot be told apart").
const nearFrom = 0.05

// NearLimit finds the limit that the reading of a finding may lie on the wrong side of, and the chance of it, from the scatter of the
// meter's own controls. It is nil when no limit is close, when the reading is no number, and when nothing is known of the meter.
func (p *Programme) NearLimit(ctx context.Context, d *Day, v *visit.State) (*NearLimit, error) {
	f := v.Finding()
	r, ok := v.Counting()
	if f == nil || !ok || r.Reading.Kind != glucose.Numeric {
		return nil, nil
	}
	edges, err := d.Protocol.Edges(f.Basis, r.Reading.Unit)
	if err != nil {
		return nil, err
	}
	cv, runs, err := p.scatter(ctx, d, r)
	if err != nil || cv <= 0 || cv >= 1 {
		return nil, err
	}
	var near *NearLimit
	for _, edge := range edges {
		limit := edge.At
		above, err := estimate.ChanceAbove(r.Reading.Value.Float(), limit.Float(), cv, estimate.SDAtReading)
		if err != nil {
			return nil, err
		}
		across := above
		if r.Reading.Value.Steps >= limit.Steps {
			across = 1 - above
		}
		if across >= nearFrom && (near == nil || across > near.Across) {
			near = &NearLimit{Reading: r.Reading.Value, Limit: limit, Across: across, CV: cv, Runs: runs}
			if m := d.MeterByID(r.Meter); m != nil {
				near.Meter = m.Details.Label
			}
		}
	}
	return near, nil
}

// scatter gives the CV of a meter near a reading: of its own controls of the nearest level, each lot around its own mean, when there are
// as many as a meter's own SD asks for; otherwise what the range printed for its strip lot implies. 0 when neither is there.
func (p *Programme) scatter(ctx context.Context, d *Day, r visit.Reading) (cv float64, runs int, err error) {
	events, err := List[*event.State](ctx, p, event.Kind)
	if err != nil {
		return 0, 0, err
	}
	var mine []event.Run
	for _, e := range events {
		mine = append(mine, e.RunsOf(r.Meter)...)
	}
	level, best := "", math.Inf(1)
	var printed event.Run
	for _, x := range mine {
		if x.StripLot != r.StripLot || x.Low.Unit != r.Reading.Unit || x.High.Steps <= x.Low.Steps {
			continue
		}
		if off := math.Abs((x.Low.Float()+x.High.Float())/2 - r.Reading.Value.Float()); off < best {
			level, best, printed = x.Level, off, x
		}
	}
	if level == "" {
		return 0, 0, nil
	}
	lots := map[string][]float64{}
	var order []string
	for _, x := range mine {
		if x.Level == level && x.Reading.Kind == glucose.Numeric && x.Reading.Unit == r.Reading.Unit && x.Cause == "" {
			if lots[x.StripLot] == nil {
				order = append(order, x.StripLot)
			}
			lots[x.StripLot] = append(lots[x.StripLot], x.Reading.Value.Float())
		}
	}
	groups := make([][]float64, len(order))
	for i, lot := range order {
		groups[i] = lots[lot]
	}
	if percent, n, df, err := control.PooledCV(groups); err == nil && df >= control.OwnRuns-1 {
		return percent / 100, n, nil
	}
	t, err := control.FromRange(printed.Low, printed.High, control.RangeSDs)
	if err != nil {
		return 0, 0, err
	}
	return t.SD / t.Mean, 0, nil
}
