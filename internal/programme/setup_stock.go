package programme

import (
	"context"
	"fmt"
	"strings"

	"fairstick/internal/civil"
	"fairstick/internal/fact"
	"fairstick/internal/fault"
	"fairstick/internal/glucose"
	"fairstick/internal/people"
	"fairstick/internal/stock"
)

// DescribeMeter adds a meter, or changes one when Meter is given.
type DescribeMeter struct {
	Act
	Meter                     string
	Label, Serial, Model      string
	Coding, Unit              string
	TempLow, TempHigh         *float64 // degrees Celsius, from the insert
	HumidityLow, HumidityHigh *float64 // percent, when the insert states them
}

// DescribeMeter records what a meter is. Only a lead may.
func (p *Programme) DescribeMeter(ctx context.Context, a Actor, c DescribeMeter) (Done, error) {
	return do(ctx, p, a, c.Act, "meter.describe", func(w *work) (Done, error) {
		if err := w.need(people.Lead); err != nil {
			return Done{}, err
		}
		return w.describeMeter(c)
	})
}

func (w *work) describeMeter(c DescribeMeter) (Done, error) {
	var f fields
	b := stock.MeterDescribed{
		Label:  f.text("label", "The label", c.Label, true, 12),
		Serial: f.text("serial", "The serial number", c.Serial, true, 40),
		Model:  f.text("model", "The type", c.Model, true, 40),
		Coding: stock.Coding(tidy(c.Coding)),
	}
	f.oneOf("coding", "How the code is set", string(b.Coding), "none", "chip", "button")
	u, err := glucose.ParseUnit(c.Unit)
	if err != nil {
		f.say("unit", "Choose the unit that the meter shows: mg/dL or mmol/L.")
	}
	b.Unit = u
	switch {
	case c.TempLow == nil || c.TempHigh == nil:
		f.say("temp_low", "The insert states the lowest and the highest room temperature. Type both, in degrees Celsius.")
	case *c.TempLow < -20 || *c.TempHigh > 60 || *c.TempLow >= *c.TempHigh:
		f.say("temp_low", "Temperatures from %g to %g degrees Celsius cannot be right. Look at the insert again.", *c.TempLow, *c.TempHigh)
	default:
		b.Limits.TempLow, b.Limits.TempHigh = *c.TempLow, *c.TempHigh
	}
	b.Limits.HumidityLow, b.Limits.HumidityHigh = c.HumidityLow, c.HumidityHigh
	for _, h := range []*float64{c.HumidityLow, c.HumidityHigh} {
		if h != nil && (*h < 0 || *h > 100) {
			f.say("humidity_low", "Humidity is from 0 to 100 percent.")
		}
	}
	all, err := w.tx.All(stock.MeterKind)
	if err != nil {
		return Done{}, err
	}
	for _, st := range all {
		m := st.(*stock.Meter)
		if m.ID == c.Meter {
			continue
		}
		if strings.EqualFold(m.Details.Label, b.Label) {
			f.say("label", "Another meter is already called %s.", m.Details.Label)
		}
		if strings.EqualFold(m.Details.Serial, b.Serial) && b.Serial != "" {
			f.say("serial", "Meter %s already has this serial number.", m.Details.Label)
		}
	}
	if err := f.err(); err != nil {
		return Done{}, err
	}
	return w.describe(stock.MeterKind, c.Meter, b)
}

// describe appends the description of a new or an existing subject.
func (w *work) describe(kind, id string, body fact.Body) (Done, error) {
	if id == "" {
		id = w.id
	} else if _, ok, err := w.tx.State(fact.Ref{Kind: kind, ID: id}); err != nil {
		return Done{}, err
	} else if !ok {
		return Done{}, missing(fact.Ref{Kind: kind, ID: id})
	}
	_, err := w.append(fact.Ref{Kind: kind, ID: id}, body)
	return Done{ID: id}, err
}

// ReviewMeter is the signed reading of a meter's instructions.
type ReviewMeter struct {
	Act
	Meter         string
	SeveralPeople bool
	Disinfect     string
	Disinfectants []string
	Insert        string
	Sign          Sign
}

// ReviewMeter records what the instructions say about use on several people and disinfection, signed by a lead or a
// supervisor.
func (p *Programme) ReviewMeter(ctx context.Context, a Actor, c ReviewMeter) (Done, error) {
	signer, err := p.signed(ctx, c.Sign, people.Lead, people.Supervisor)
	if err != nil {
		return Done{}, err
	}
	return do(ctx, p, a, c.Act, "meter.review", func(w *work) (Done, error) {
		if err := w.need(people.Lead, people.Supervisor); err != nil {
			return Done{}, err
		}
		if _, err := load[*stock.Meter](w, stock.MeterRef(c.Meter)); err != nil {
			return Done{}, err
		}
		var f fields
		b := stock.MeterReviewed{
			SeveralPeople: c.SeveralPeople, On: civil.Of(w.at), SignedBy: signer.ID,
			Insert:    f.text("insert", "Which instructions were read (their date or version)", c.Insert, true, 60),
			Disinfect: f.text("disinfect", "How the instructions say to disinfect it", c.Disinfect, c.SeveralPeople, 300),
		}
		for _, id := range c.Disinfectants {
			if _, err := load[*stock.Disinfectant](w, stock.DisinfectantRef(id)); err != nil {
				return Done{}, err
			}
			b.Disinfectants = append(b.Disinfectants, id)
		}
		if c.SeveralPeople && len(b.Disinfectants) == 0 {
			f.say("disinfectants", "Choose the disinfectant that the instructions allow. Add it to the list first if it is not there.")
		}
		if err := f.err(); err != nil {
			return Done{}, err
		}
		_, err := w.append(stock.MeterRef(c.Meter), b)
		return Done{ID: c.Meter}, err
	})
}

// RangeText is the range printed for one level, as typed.
type RangeText struct {
	Level, Low, High string
}

// DescribeStripLot adds a lot of strips, or changes one when StripLot is given.
type DescribeStripLot struct {
	Act
	StripLot, Lot   string
	Models          []string
	Chemistry, Code string
	Expiry          string
	InUse           string // days after opening, or "expiry"
	EachVial        string
	PerVial         int
	Unit            string // unit of the printed ranges
	Ranges          []RangeText
}

// DescribeStripLot records what is printed on a lot of strips. Only a lead may.
func (p *Programme) DescribeStripLot(ctx context.Context, a Actor, c DescribeStripLot) (Done, error) {
	return do(ctx, p, a, c.Act, "strip-lot.describe", func(w *work) (Done, error) {
		if err := w.need(people.Lead); err != nil {
			return Done{}, err
		}
		return w.describeStripLot(c)
	})
}

func (w *work) describeStripLot(c DescribeStripLot) (Done, error) {
	var f fields
	b := stock.StripLotDescribed{
		Lot:       f.text("lot", "The lot number", c.Lot, true, 40),
		Models:    tidyAll(c.Models),
		Chemistry: stock.Chemistry(tidy(c.Chemistry)),
		Code:      f.text("code", "The code", c.Code, false, 12),
		Expiry:    f.expiry("expiry", "The expiry", c.Expiry, true),
		EachVial:  stock.EachVial(tidy(c.EachVial)),
		PerVial:   c.PerVial,
		Ranges:    map[string]stock.Range{},
	}
	if len(b.Models) == 0 {
		f.say("models", "Say which type of meter the strips fit.")
	}
	chem := make([]string, len(stock.Chemistries))
	for i, k := range stock.Chemistries {
		chem[i] = string(k)
	}
	f.oneOf("chemistry", "The chemistry", string(b.Chemistry), chem...)
	f.oneOf("each_vial", "Whether each new vial needs controls", string(b.EachVial), "yes", "no", "unknown")
	f.between("per_vial", "Strips in a vial", c.PerVial, 1, 500)
	b.InUseDays = f.inUse("in_use", c.InUse)
	f.ranges(&b, c)
	all, err := w.tx.All(stock.StripLotKind)
	if err != nil {
		return Done{}, err
	}
	for _, st := range all {
		if l := st.(*stock.StripLot); l.ID != c.StripLot && strings.EqualFold(l.Details.Lot, b.Lot) {
			f.say("lot", "Lot %s is on the list already.", l.Details.Lot)
		}
	}
	if err := f.err(); err != nil {
		return Done{}, err
	}
	return w.describe(stock.StripLotKind, c.StripLot, b)
}

// inUse reads the days of use after opening: a number, or "expiry" when the insert sets no shorter limit. There is no
// default, since strips differ.
func (f *fields) inUse(name, text string) int {
	t := strings.ToLower(tidy(text))
	switch t {
	case "":
		f.say(name, "How long an opened vial may be used differs between strips. Type the days from the insert, or expiry.")
		return 0
	case "expiry":
		return 0
	}
	var n int
	if _, err := fmt.Sscanf(t, "%d", &n); err != nil || fmt.Sprint(n) != t || n < 1 || n > 1000 {
		f.say(name, "%q is not a number of days from 1 to 1000, nor the word expiry.", text)
	}
	return n
}

func (f *fields) ranges(b *stock.StripLotDescribed, c DescribeStripLot) {
	u, err := glucose.ParseUnit(c.Unit)
	if err != nil {
		f.say("unit", "Choose the unit of the printed ranges: mg/dL or mmol/L.")
		return
	}
	typed := false
	for _, r := range c.Ranges {
		level := tidy(r.Level)
		if level == "" {
			continue
		}
		typed = true
		name := "range_" + level
		low, errLow := glucose.ParseValue(tidy(r.Low), u)
		high, errHigh := glucose.ParseValue(tidy(r.High), u)
		if errLow != nil || errHigh != nil {
			f.say(name, "The range for level %s needs two numbers in %s, as printed on the vial.", level, u)
			continue
		}
		if low.Steps <= 0 || low.Steps >= high.Steps {
			f.say(name, "The range for level %s runs from %s to %s. The first number must be the smaller.", level, low.Number(), high.Number())
			continue
		}
		b.Ranges[level] = stock.Range{Low: low, High: high}
	}
	if !typed {
		f.say("ranges", "Type the control range of each level, as printed on the vial of this lot.")
	}
}

// DescribeControlLot adds a lot of control solution, or changes one when ControlLot is given.
type DescribeControlLot struct {
	Act
	ControlLot, Lot, Level string
	Models                 []string
	Expiry                 string
	InUseDays              int
}

// DescribeControlLot records what is printed on a lot of control solution. Only a lead may.
func (p *Programme) DescribeControlLot(ctx context.Context, a Actor, c DescribeControlLot) (Done, error) {
	return do(ctx, p, a, c.Act, "control-lot.describe", func(w *work) (Done, error) {
		if err := w.need(people.Lead); err != nil {
			return Done{}, err
		}
		return w.describeControlLot(c)
	})
}

func (w *work) describeControlLot(c DescribeControlLot) (Done, error) {
	var f fields
	b := stock.ControlLotDescribed{
		Lot:       f.text("lot", "The lot number", c.Lot, true, 40),
		Level:     f.text("level", "The level", c.Level, true, 12),
		Models:    tidyAll(c.Models),
		Expiry:    f.expiry("expiry", "The expiry", c.Expiry, true),
		InUseDays: c.InUseDays,
	}
	if len(b.Models) == 0 {
		f.say("models", "Say which type of meter the solution is made for.")
	}
	f.between("in_use_days", "Days of use after opening", c.InUseDays, 1, 1000)
	all, err := w.tx.All(stock.ControlLotKind)
	if err != nil {
		return Done{}, err
	}
	for _, st := range all {
		l := st.(*stock.ControlLot)
		if l.ID != c.ControlLot && strings.EqualFold(l.Details.Lot, b.Lot) && l.Details.Level == b.Level {
			f.say("lot", "Lot %s, level %s is on the list already.", l.Details.Lot, l.Details.Level)
		}
	}
	if err := f.err(); err != nil {
		return Done{}, err
	}
	return w.describe(stock.ControlLotKind, c.ControlLot, b)
}

// DescribeDisinfectant adds a disinfectant, or changes one when Disinfectant is given.
type DescribeDisinfectant struct {
	Act
	Disinfectant, Name string
	ContactSeconds     int
	TwoStep            bool
	Expiry             string
	Lot                string // as printed; may be empty
}

// DescribeDisinfectant records what is printed on a disinfectant. Only a lead may.
func (p *Programme) DescribeDisinfectant(ctx context.Context, a Actor, c DescribeDisinfectant) (Done, error) {
	return do(ctx, p, a, c.Act, "disinfectant.describe", func(w *work) (Done, error) {
		if err := w.need(people.Lead); err != nil {
			return Done{}, err
		}
		return w.describeDisinfectant(c)
	})
}

func (w *work) describeDisinfectant(c DescribeDisinfectant) (Done, error) {
	var f fields
	b := stock.DisinfectantDescribed{
		Name:           f.text("name", "The name", c.Name, true, 60),
		ContactSeconds: c.ContactSeconds,
		TwoStep:        c.TwoStep,
		Expiry:         f.expiry("expiry", "The expiry", c.Expiry, false),
		Lot:            f.text("lot", "The lot", c.Lot, false, 40),
	}
	f.between("contact_seconds", "The contact time in seconds", c.ContactSeconds, 5, 1800)
	if err := f.err(); err != nil {
		return Done{}, err
	}
	return w.describe(stock.DisinfectantKind, c.Disinfectant, b)
}

// DescribeSupply adds another consumable, or changes one when Supply is given.
type DescribeSupply struct {
	Act
	Supply, Name, Pack, Expiry, Note string
	Lot                              string // as printed on the box; may be empty
	Use                              string // one of stock.Rates, or "other"; empty keeps what it was
}

// DescribeSupply records what a consumable is. Only a lead may.
func (p *Programme) DescribeSupply(ctx context.Context, a Actor, c DescribeSupply) (Done, error) {
	return do(ctx, p, a, c.Act, "supply.describe", func(w *work) (Done, error) {
		if err := w.need(people.Lead); err != nil {
			return Done{}, err
		}
		return w.describeSupply(c)
	})
}

func (w *work) describeSupply(c DescribeSupply) (Done, error) {
	var f fields
	b := stock.SupplyDescribed{
		Name: f.text("name", "The name", c.Name, true, 60),
		Pack: f.text("pack", "The pack", c.Pack, false, 60),
		Exp:  f.expiry("expiry", "The expiry", c.Expiry, false),
		Note: f.text("note", "The note", c.Note, false, 200),
		Lot:  f.text("lot", "The lot", c.Lot, false, 40),
	}
	if st, ok, err := w.tx.State(stock.SupplyRef(c.Supply)); err != nil {
		return Done{}, err
	} else if ok {
		b.Use = st.(*stock.Supply).Details.Use
	}
	switch _, known := stock.RateOf(stock.Use(c.Use)); {
	case c.Use == "other":
		b.Use = ""
	case known && c.Use != string(stock.UseStrips) && c.Use != string(stock.UseWipes):
		b.Use = stock.Use(c.Use)
	case c.Use != "":
		f.say("use", "Choose what it is from the list, or something else.")
	}
	if err := f.err(); err != nil {
		return Done{}, err
	}
	return w.describe(stock.SupplyKind, c.Supply, b)
}

// ReturnMeter brings a quarantined meter back under a signature; its controls must be run again.
type ReturnMeter struct {
	Act
	Meter, Reason string
	Sign          Sign
}

// ReturnMeter records that a quarantined meter is back, signed by a lead or a supervisor.
func (p *Programme) ReturnMeter(ctx context.Context, a Actor, c ReturnMeter) (Done, error) {
	if _, err := p.signed(ctx, c.Sign, people.Lead, people.Supervisor); err != nil {
		return Done{}, err
	}
	return do(ctx, p, a, c.Act, "meter.return", func(w *work) (Done, error) {
		if err := w.need(people.Lead, people.Supervisor); err != nil {
			return Done{}, err
		}
		m, err := load[*stock.Meter](w, stock.MeterRef(c.Meter))
		if err != nil {
			return Done{}, err
		}
		if m.Quarantine == nil {
			return Done{}, fault.New(fault.Refused, "not-quarantined", "Meter "+m.Details.Label+" is not in quarantine.", "", "Load the page again.")
		}
		var f fields
		reason := f.text("reason", "What was found and done", c.Reason, true, 300)
		if err := f.err(); err != nil {
			return Done{}, err
		}
		_, err = w.append(stock.MeterRef(c.Meter), stock.MeterReturned{Reason: reason})
		return Done{ID: c.Meter}, err
	})
}

// WithdrawStripLot takes a lot out of use, for example after a recall.
type WithdrawStripLot struct {
	Act
	StripLot, Reason string
}

// WithdrawStripLot records that a lot must not be used any more. A lead or supervisor may.
func (p *Programme) WithdrawStripLot(ctx context.Context, a Actor, c WithdrawStripLot) (Done, error) {
	return do(ctx, p, a, c.Act, "strip-lot.withdraw", func(w *work) (Done, error) {
		if err := w.need(people.Lead, people.Supervisor); err != nil {
			return Done{}, err
		}
		if _, err := load[*stock.StripLot](w, stock.StripLotRef(c.StripLot)); err != nil {
			return Done{}, err
		}
		var f fields
		reason := f.text("reason", "The reason", c.Reason, true, 200)
		if err := f.err(); err != nil {
			return Done{}, err
		}
		_, err := w.append(stock.StripLotRef(c.StripLot), stock.StripLotWithdrawn{Reason: reason})
		return Done{ID: c.StripLot}, err
	})
}
