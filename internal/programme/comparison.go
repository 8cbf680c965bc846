package programme

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"

	"fairstick/internal/agreement"
	"fairstick/internal/charter"
	"fairstick/internal/civil"
	"fairstick/internal/fault"
	"fairstick/internal/glucose"
	"fairstick/internal/people"
	"fairstick/internal/protocol"
	"fairstick/internal/stock"
	"fairstick/internal/store"
)

// RecordComparison is a comparison of a meter with a laboratory. The unit is that of the meter; Unit may repeat it, so that a file
// that says otherwise is refused.
type RecordComparison struct {
	Act
	Meter, StripLot string
	On              string // the day on which the meter read the samples
	Laboratory      string // the laboratory's method
	Specimen        string
	Unit            string // empty: the meter's
	Pairs           []stock.Measured
	Note            string
}

// RecordComparison records the pairs of a comparison. A lead or supervisor may.
func (p *Programme) RecordComparison(ctx context.Context, a Actor, c RecordComparison) (Done, error) {
	return do(ctx, p, a, c.Act, "comparison.record", func(w *work) (Done, error) {
		if err := w.need(people.Lead, people.Supervisor); err != nil {
			return Done{}, err
		}
		b, err := w.comparison(c)
		if err != nil {
			return Done{}, err
		}
		_, err = w.append(stock.ComparisonRef(w.id), b)
		return Done{ID: w.id}, err
	})
}

func (w *work) comparison(c RecordComparison) (stock.ComparisonRecorded, error) {
	var f fields
	b := stock.ComparisonRecorded{
		Meter: c.Meter, StripLot: c.StripLot, On: f.date("on", "The day of the comparison", c.On, true),
		Laboratory: f.text("laboratory", "The laboratory's method", c.Laboratory, true, 80),
		Specimen:   stock.Specimen(tidy(c.Specimen)),
		Note:       f.text("note", "The note", c.Note, false, 300),
	}
	if b.On.After(civil.Of(w.now)) {
		f.say("on", "%s has not come yet.", b.On.Long())
	}
	specimens := make([]string, len(stock.Specimens))
	for i, s := range stock.Specimens {
		specimens[i] = string(s)
	}
	f.oneOf("specimen", "What the laboratory measured", string(b.Specimen), specimens...)
	for name, text := range map[string]string{"laboratory": b.Laboratory, "note": b.Note} {
		who, err := w.named(text)
		if err != nil {
			return b, err
		}
		if who != "" {
			f.say(name, "Leave out the name %s: a comparison is kept without names.", who)
		}
	}
	if c.Meter == "" {
		f.say("meter", "Choose the meter.")
	}
	if c.StripLot == "" {
		f.say("lot", "Choose the strip lot that was used.")
	}
	if c.Meter == "" || c.StripLot == "" {
		return b, f.err()
	}
	meter, err := load[*stock.Meter](w, stock.MeterRef(c.Meter))
	if err != nil {
		return b, err
	}
	lot, err := load[*stock.StripLot](w, stock.StripLotRef(c.StripLot))
	if err != nil {
		return b, err
	}
	d := meter.Details
	if !lot.Fits(d.Model) {
		f.say("lot", "Strips of lot %s do not fit meter %s.", lot.Details.Lot, d.Label)
	}
	b.Unit = d.Unit
	if c.Unit != "" && c.Unit != string(d.Unit) {
		f.say("pairs", "The pairs are in %s, but meter %s shows %s. Nothing is converted.", c.Unit, d.Label, d.Unit)
	}
	ch, err := w.charter()
	if err != nil {
		return b, err
	}
	in, _ := ch.InForce()
	b.Pairs = f.pairs(c.Pairs, in.Protocol.MeterRange[d.Unit], d)
	return b, f.err()
}

// plainDecimal is how a value of a comparison is written.
var plainDecimal = regexp.MustCompile(`^[0-9]{1,4}(\.[0-9]{1,6})?$`)

// pairs checks each pair. What the meter showed must lie in the range that the protocol believes of a meter; a laboratory measures
// beyond it, so of its values only the middle one must.
func (f *fields) pairs(list []stock.Measured, believed protocol.Range, d stock.MeterDescribed) []stock.Measured {
	switch {
	case len(list) < 2:
		f.say("pairs", "A comparison needs at least 2 pairs; there are %d.", len(list))
		return nil
	case len(list) > stock.MostPairs:
		f.say("pairs", "A comparison holds at most %d pairs; there are %d. Record it in parts.", stock.MostPairs, len(list))
		return nil
	}
	low, high := believed.Low.Float(), believed.High.Float()
	var reference []float64
	for i, m := range list {
		x, okX := positive(m.Reference)
		y, okY := positive(m.Meter)
		switch {
		case !okX:
			f.say("pairs", "Pair %d: the laboratory's value %q is not a plain number above 0.", i+1, clipped(m.Reference))
		case !okY:
			f.say("pairs", "Pair %d: the meter's value %q is not a plain number above 0.", i+1, clipped(m.Meter))
		case high > 0 && (y < low || y > high):
			f.say("pairs", "Pair %d: the protocol believes a meter from %s to %s; %s stands there. Is the unit right?", i+1, believed.Low.Number(), believed.High, m.Meter)
		}
		reference = append(reference, x)
	}
	slices.Sort(reference)
	if middle := reference[len(reference)/2]; high > 0 && (middle < low || middle > high) {
		f.say("pairs", "The laboratory's values, with %g in their middle, do not look like %s, which meter %s shows. Nothing is converted.", middle, d.Unit, d.Label)
	}
	return slices.Clone(list)
}

func positive(text string) (float64, bool) {
	if !plainDecimal.MatchString(text) {
		return 0, false
	}
	v, err := strconv.ParseFloat(text, 64)
	return v, err == nil && v > 0
}

func clipped(s string) string {
	if r := []rune(s); len(r) > 20 {
		return string(r[:20]) + "..."
	}
	return s
}

// WithdrawComparison says that a comparison must not be relied on.
type WithdrawComparison struct {
	Act
	Comparison, Reason string
}

// WithdrawComparison records why a comparison must not be relied on; it stays in the record. A lead or supervisor may.
func (p *Programme) WithdrawComparison(ctx context.Context, a Actor, c WithdrawComparison) (Done, error) {
	return do(ctx, p, a, c.Act, "comparison.withdraw", func(w *work) (Done, error) {
		if err := w.need(people.Lead, people.Supervisor); err != nil {
			return Done{}, err
		}
		s, err := load[*stock.Comparison](w, stock.ComparisonRef(c.Comparison))
		if err != nil {
			return Done{}, err
		}
		if s.Withdrawn != nil {
			return Done{}, refuse("comparison-withdrawn", "This comparison is withdrawn already.", "It stays in the record as it is.", "Load the page again.")
		}
		var f fields
		reason := f.text("reason", "The reason", c.Reason, true, 200)
		if who, err := w.named(reason); err != nil {
			return Done{}, err
		} else if who != "" {
			f.say("reason", "Leave out the name %s: a comparison is kept without names.", who)
		}
		if err := f.err(); err != nil {
			return Done{}, err
		}
		_, err = w.append(stock.ComparisonRef(c.Comparison), stock.ComparisonWithdrawn{Reason: reason})
		return Done{ID: c.Comparison}, err
	})
}

// Compared is a comparison with what it was made with.
type Compared struct {
	*stock.Comparison
	Meter    *stock.Meter
	StripLot *stock.StripLot
}

// ComparisonReport is a comparison with what it shows.
type ComparisonReport struct {
	Compared
	Pairs    []agreement.Pair
	Agrees   agreement.Report
	Limits   []DecisionLimit // of the protocol in force, in the unit of the pairs; the report has the bias at each, in this order
	Protocol string          // version; empty when none is in force
}

// DecisionLimit is a value at which the protocol decides, and what it decides there.
type DecisionLimit struct {
	Value glucose.Value
	Says  []string // "raised from (fasting)"
}

// Comparisons gives the comparisons of meters with a laboratory, the newest first.
func (p *Programme) Comparisons(ctx context.Context) ([]Compared, error) {
	var out []Compared
	err := p.store.Read(ctx, func(v *store.View) error {
		all, err := listed[*stock.Comparison](v.All(stock.ComparisonKind))
		if err != nil {
			return err
		}
		for _, c := range all {
			x, err := compared(v, c)
			if err != nil {
				return err
			}
			out = append(out, x)
		}
		return nil
	})
	slices.SortStableFunc(out, func(a, b Compared) int {
		return cmp.Or(cmp.Compare(b.Details.On.String(), a.Details.On.String()), b.At.Compare(a.At), cmp.Compare(a.ID, b.ID))
	})
	return out, err
}

// compared finds what a comparison was made with. Entries of another laptop may lag behind, so the meter and the lot may have no
// facts yet.
func compared(v *store.View, c *stock.Comparison) (Compared, error) {
	x := Compared{Comparison: c, Meter: &stock.Meter{ID: c.Details.Meter}, StripLot: &stock.StripLot{ID: c.Details.StripLot}}
	st, ok, err := v.State(stock.MeterRef(c.Details.Meter))
	if err != nil {
		return x, err
	}
	if ok {
		x.Meter = st.(*stock.Meter)
	}
	st, ok, err = v.State(stock.StripLotRef(c.Details.StripLot))
	if ok {
		x.StripLot = st.(*stock.StripLot)
	}
	return x, err
}

// Comparison gives one comparison with every method's answer, computed from its pairs. The bias is asked at the limits of the
// protocol in force.
func (p *Programme) Comparison(ctx context.Context, id string) (ComparisonReport, error) {
	var out ComparisonReport
	err := p.store.Read(ctx, func(v *store.View) error {
		st, ok, err := v.State(stock.ComparisonRef(id))
		if err != nil {
			return err
		}
		if !ok {
			return missing(stock.ComparisonRef(id))
		}
		if out.Compared, err = compared(v, st.(*stock.Comparison)); err != nil {
			return err
		}
		st, ok, err = v.State(charter.Ref)
		if err != nil || !ok {
			return err
		}
		if in, ok := st.(*charter.State).InForce(); ok {
			out.Protocol, out.Limits = in.Protocol.Version, decisionLimits(in.Protocol, out.Details.Unit)
		}
		return nil
	})
	if err != nil {
		return out, err
	}
	for i, m := range out.Details.Pairs {
		x, errX := strconv.ParseFloat(m.Reference, 64)
		y, errY := strconv.ParseFloat(m.Meter, 64)
		if errX != nil || errY != nil || math.IsInf(x, 0) || math.IsInf(y, 0) {
			return out, fault.New(fault.Unusable, "comparison-damaged", fmt.Sprintf("Pair %d of this comparison is not a pair of numbers.", i+1),
				"Nothing can be computed from it.", "Withdraw the comparison and record it anew.")
		}
		out.Pairs = append(out.Pairs, agreement.Pair{Reference: x, Meter: y})
	}
	o := agreement.Options{}
	for _, l := range out.Limits {
		o.Levels = append(o.Levels, l.Value.Float())
	}
	out.Agrees, err = agreement.Compare(out.Pairs, out.Details.Unit, o)
	return out, err
}

var basisWords = map[protocol.Basis]string{protocol.Fasting: "fasting", protocol.Random: "not fasting"}

// decisionLimits gives the edges of the bands in a unit, from the lowest, each once.
func decisionLimits(p protocol.Protocol, u glucose.Unit) []DecisionLimit {
	says := map[glucose.Value][]string{}
	both := map[string]int{}
	type edge struct {
		at   glucose.Value
		word string
	}
	edges := func(b protocol.Basis) []edge {
		l := p.Limits[b][u]
		return []edge{{l.CriticalBelow, "critical below"}, {l.LowBelow, "low below"}, {l.RaisedFrom, "raised from"}, {l.HighFrom, "high from"}, {l.CriticalFrom, "critical from"}}
	}
	for _, b := range protocol.Bases {
		for _, e := range edges(b) {
			both[e.word+" "+e.at.String()]++
		}
	}
	for _, b := range protocol.Bases {
		for _, e := range edges(b) {
			word := e.word
			if both[e.word+" "+e.at.String()] < len(protocol.Bases) {
				word += " (" + basisWords[b] + ")"
			}
			if !e.at.IsZero() && !slices.Contains(says[e.at], word) {
				says[e.at] = append(says[e.at], word)
			}
		}
	}
	var out []DecisionLimit
	for at, words := range says {
		out = append(out, DecisionLimit{Value: at, Says: words})
	}
	slices.SortFunc(out, func(a, b DecisionLimit) int { return cmp.Compare(a.Value.Steps, b.Value.Steps) })
	return out
}
