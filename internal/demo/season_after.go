package demo

import (
	"context"
	"fmt"
	"time"

	"fairstick/internal/programme"
)

// seasonCall is one call to somebody who was referred at a closed event of the season.
type seasonCall struct {
	at, by, to string
	programme.CallDetails
}

// seasonCalls are the calls of the season before the invented day, the first first. Four were seen, two have a date, one wants
// no more of it, one number is wrong and one person never answered. On the invented day one call is late and one is due.
func seasonCalls() []seasonCall {
	const dev, rosa = "Dev Mahr", "Rosa Amaya"
	phone := func(happened, outcome, on, reason string) programme.CallDetails {
		return programme.CallDetails{Channel: "phone", Happened: happened, Outcome: outcome, On: on, Reason: reason}
	}
	told := func(c programme.CallDetails, test, value, unit, said string) programme.CallDetails {
		c.Test, c.Value, c.Unit, c.Said = test, value, unit, said
		return c
	}
	return []seasonCall{
		{"2026-04-21 10:20", dev, "Gus Invented", phone("reached", "scheduled", "2026-04-24", "")},
		{"2026-04-25 10:05", dev, "Gus Invented", told(phone("reached", "seen", "2026-04-24", ""), "a1c", "7.4", "%", "diabetes")},
		{"2026-05-02 10:30", rosa, "Fina Inventada", phone("no-answer", "", "", "")},
		{"2026-05-02 11:00", dev, "Hana Invented", phone("reached", "declined", "", "feels-well")},
		{"2026-05-04 13:10", rosa, "Fina Inventada", phone("reached", "not-yet", "", "cost")},
		{"2026-06-16 09:40", rosa, "Jana Inventada", phone("reached", "scheduled", "2026-06-19", "")},
		{"2026-06-20 10:15", rosa, "Jana Inventada", told(phone("reached", "seen", "2026-06-19", ""), "fasting-lab", "121", "mg/dL", "test-again")},
		{"2026-06-27 10:00", dev, "Ivo Invented", phone("wrong-number", "", "", "")},
		{"2026-06-27 10:20", dev, "Kit Invented", phone("no-answer", "", "", "")},
		{"2026-06-27 11:00", rosa, "Lia Inventada", phone("reached", "not-yet", "", "no-time")},
		{"2026-06-29 13:00", dev, "Kit Invented", phone("left-message", "", "", "")},
		{"2026-06-30 17:30", dev, "Kit Invented", programme.CallDetails{Channel: "text", Happened: "sent"}},
		{"2026-07-17 10:10", rosa, "Fina Inventada", told(phone("reached", "seen", "2026-06-30", ""), "a1c", "5.9", "%", "prediabetes")},
		{"2026-09-11 10:30", rosa, "Lia Inventada", told(phone("reached", "seen", "2026-08-20", ""), "a1c", "5.4", "%", "neither")},
		{"2026-09-11 17:15", dev, "Kit Invented", phone("no-answer", "", "", "")},
		{"2026-09-26 10:15", dev, "Milo Invented", phone("reached", "scheduled", "2026-10-22", "")},
		{"2026-09-26 10:40", rosa, "Nora Inventada", phone("no-answer", "", "", "")},
		{"2026-09-26 11:05", dev, "Otto Invented", phone("busy", "", "", "")},
		{"2026-09-28 12:30", dev, "Otto Invented", phone("reached", "scheduled", "2026-10-09", "")},
		{"2026-09-28 13:20", rosa, "Nora Inventada", phone("left-message", "", "", "")},
	}
}

// calling plays the calls of the season in turn.
type calling struct {
	*Stage
	guests map[string]*Guest // of the closed events, by the invented name under which they may be called
	left   []seasonCall
}

// before plays the calls that were made before a day and not played yet.
func (c *calling) before(ctx context.Context, date string) error {
	for ; len(c.left) > 0 && c.left[0].at < date; c.left = c.left[1:] {
		x := c.left[0]
		at, err := time.ParseInLocation("2006-01-02 15:04", x.at, c.Zone)
		if err != nil {
			return err
		}
		g := c.guests[x.to]
		if g == nil {
			return fmt.Errorf("%s %s: nobody of this name has been at an event", x.at, x.to)
		}
		c.Clock.Set(at)
		if _, err := c.P.CallContact(ctx, c.As(x.by), programme.CallContact{Act: c.Act(), Visit: g.ID}); err != nil {
			return fmt.Errorf("%s %s: %w", x.at, x.to, err)
		}
		c.Clock.Set(at.Add(4 * time.Minute))
		if _, err := c.P.LogCall(ctx, c.As(x.by), programme.LogCall{Act: c.Act(), Visit: g.ID, CallDetails: x.CallDetails}); err != nil {
			return fmt.Errorf("%s %s: %w", x.at, x.to, err)
		}
	}
	return nil
}

// afterwards is what happens in the days after a closed event: the cupboard is counted, and what is used up is put out of use. The
// calls to those who were referred are seasonCalls: they go on beyond the next event.
func (d *closedStage) afterwards(ctx context.Context, pr Programme) error {
	d.Clock.Set(d.Time("10:00").AddDate(0, 0, 2))
	room, err := d.P.Stock(ctx)
	if err != nil {
		return err
	}
	count := programme.CountStock{Act: d.Act(), Place: cupboard}
	for _, x := range []struct {
		name string
		used int // by the event, which nobody counted there
	}{{seasonLot, 0}, {"Single-use auto-disabling lancets", 0}, {"Alcohol swabs", 3 * len(d.day.people) / 2}, {"wipes", 3 * len(d.day.people)}} {
		key, err := d.key(ctx, x.name)
		if err != nil {
			return err
		}
		n := -x.used
		for _, p := range room.Line(key).Places {
			if p.Place == count.Place {
				n += p.N
			}
		}
		count.Lines = append(count.Lines, programme.CountLine{Thing: key, N: max(0, n)})
	}
	if _, err := d.P.CountStock(ctx, d.As("Una Fairweather"), count); err != nil {
		return err
	}
	me := d.As(pr.Lead.Name)
	if _, err := d.P.ThrowVial(ctx, me, programme.Throw{Act: d.Act(), Lot: d.ID(seasonLot), Container: d.day.vial, Reason: "used up"}); err != nil {
		return err
	}
	for _, level := range []string{"1", "2"} {
		if _, err := d.P.ThrowBottle(ctx, me, programme.Throw{Act: d.Act(), Lot: d.ID("control " + level), Container: d.ID("bottle " + level), Reason: "used up"}); err != nil {
			return err
		}
	}
	return nil
}
