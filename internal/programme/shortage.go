package programme

import (
	"context"
	"fmt"
	"slices"
	"time"

	"fairstick/internal/civil"
	"fairstick/internal/event"
	"fairstick/internal/store"
)

// Shortage is something that an event brought and had none left of.
type Shortage struct {
	Event   string     `json:"event"`
	Name    string     `json:"name"`
	Date    civil.Date `json:"date"`
	What    string     `json:"what"`
	Brought int        `json:"brought"`
	Used    int        `json:"used"`
	At      time.Time  `json:"at"` // when the last of it was used, by the record
	Says    string     `json:"says"`
}

// Shortages finds the events that used up what they brought of strips, of one lot or of all, or of lancets; the latest first. It
// goes by what was used in the record: readings, meter errors, controls, sticks and misfires.
func (p *Programme) Shortages(ctx context.Context) (out []Shortage, err error) {
	err = p.store.Read(ctx, func(v *store.View) error {
		out = nil
		events, err := listed[*event.State](v.All(event.Kind))
		if err != nil {
			return err
		}
		for _, ev := range events {
			if ev.Phase == event.IsPlanned || len(ev.Loads) == 0 {
				continue
			}
			d, err := readDay(v, ev.ID)
			if err != nil {
				return err
			}
			out = append(out, d.shortages()...)
		}
		return nil
	})
	slices.SortStableFunc(out, func(a, b Shortage) int { return compareDates(b.Date, a.Date) })
	return out, err
}

func (d *Day) shortages() []Shortage {
	ev := d.Event
	used, last := map[string]int{}, map[string]time.Time{}
	take := func(what string, n int, at time.Time) {
		if n > 0 {
			used[what] += n
			if at.After(last[what]) {
				last[what] = at
			}
		}
	}
	const lancets, strips = "lancets", "strips"
	for _, v := range d.Visits {
		for _, r := range v.Readings {
			take(r.StripLot, 1, r.At)
			take(strips, 1, r.At)
			sticks := r.Misfires
			if r.NewStick {
				sticks++
			}
			take(lancets, sticks, r.At)
		}
	}
	for _, r := range ev.Runs {
		take(r.StripLot, 1, r.At)
		take(strips, 1, r.At)
	}
	var out []Shortage
	check := func(what, name string, brought int) {
		if brought <= 0 || used[what] < brought {
			return
		}
		s := Shortage{Event: ev.ID, Name: ev.Plan.Name, Date: ev.Plan.Date, What: name, Brought: brought, Used: used[what], At: last[what].In(ev.Zone())}
		s.Says = fmt.Sprintf("All %d %s were used by %s.", brought, name, s.At.Format("15:04"))
		if s.Used > brought {
			s.Says = fmt.Sprintf("%d %s were used, %d were written down as brought.", s.Used, name, brought)
		}
		out = append(out, s)
	}
	all := 0
	for _, l := range d.BroughtLots() {
		all += ev.Out.Strips[l.ID]
		check(l.ID, "strips of lot "+l.Details.Lot, ev.Out.Strips[l.ID])
	}
	if len(d.BroughtLots()) > 1 {
		check(strips, "strips", all)
	}
	check(lancets, "lancets", ev.Out.Lancets)
	return out
}
