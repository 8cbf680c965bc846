package programme

import (
	"context"
	"strings"

	"fairstick/internal/charter"
	"fairstick/internal/civil"
	"fairstick/internal/people"
	"fairstick/internal/stock"
)

// SetSeason says what a season is and what is wanted of it. One with the same first day replaces an earlier one. A target of 0 is
// none; OtherCost is an amount like 1200.00, or empty when nobody knows it.
type SetSeason struct {
	Act
	Name, From, To      string
	Targets             charter.Targets
	OtherCost, Currency string
}

// SetSeason records a season. Only a lead may.
func (p *Programme) SetSeason(ctx context.Context, a Actor, c SetSeason) (Done, error) {
	return do(ctx, p, a, c.Act, "programme.set-season", func(w *work) (Done, error) {
		if err := w.need(people.Lead); err != nil {
			return Done{}, err
		}
		var f fields
		b := charter.SeasonSet{
			Name: f.text("name", "The name of the season", c.Name, true, 40), From: f.date("from", "The first day", c.From, true), To: f.date("to", "The last day", c.To, true), Targets: c.Targets,
		}
		if !b.From.IsZero() && b.To.Before(b.From) {
			f.say("to", "The last day comes before the first.")
		}
		f.between("events", "The events", c.Targets.Events, 0, 100000)
		f.between("tested", "The people tested", c.Targets.Tested, 0, 10000000)
		f.between("seen", "The share that was seen", c.Targets.SeenPercent, 0, 100)
		f.between("screeners", "The screeners", c.Targets.Screeners, 0, 100000)
		if cost := tidy(c.OtherCost); cost != "" {
			b.Currency = strings.ToUpper(tidy(c.Currency))
			if len(b.Currency) != 3 {
				f.say("currency", "The currency has three letters, like USD.")
			} else if n, err := stock.ParseMoney(cost, b.Currency); err != nil {
				f.say("other_cost", "The other cost cannot be read: %v. Write it like 1200.00.", err)
			} else {
				b.OtherCost = &n
			}
		}
		if err := f.err(); err != nil {
			return Done{}, err
		}
		_, err := w.append(charter.Ref, b)
		return Done{ID: charter.Ref.ID}, err
	})
}

// UsualSpan is the days that a report covers when nobody says any: the season of today, else the latest season that has begun, else the
// year that ends today.
func (p *Programme) UsualSpan(ctx context.Context) (Span, error) {
	ch, err := p.Charter(ctx)
	if err != nil {
		return Span{}, err
	}
	today := civil.Of(p.now())
	if s, ok := ch.SeasonOf(today); ok {
		return Span{From: s.From, To: s.To}, nil
	}
	for i := len(ch.Seasons) - 1; i >= 0; i-- {
		if s := ch.Seasons[i]; !s.From.After(today) {
			return Span{From: s.From, To: s.To}, nil
		}
	}
	return Span{From: today.AddDays(-365), To: today}, nil
}
