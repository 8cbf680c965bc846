package demo

import (
	"context"

	"fairstick/internal/charter"
	"fairstick/internal/programme"
)

// countdown adopts some of the examples of lead times and puts them on the event that is four weeks ahead: two things are
// done, one is late, the others are still to come.
func (s *Stage) countdown(ctx context.Context, lead, other, event string) error {
	adopt := programme.AdoptLeadTimes{Act: s.Act()}
	for _, t := range charter.ExampleLeadTimes() {
		switch t.Key {
		case "state-licence", "college-application":
			continue // another place's rules
		}
		row := programme.LeadTimeRow{Key: t.Key, What: t.What, Days: t.Days, After: t.After, Source: t.Source, Owner: s.ID(lead)}
		if t.Key == "supplies-request" {
			row.Owner = s.ID(other)
		}
		adopt.Rows = append(adopt.Rows, row)
	}
	me := s.As(lead)
	if _, err := s.P.AdoptLeadTimes(ctx, me, adopt); err != nil {
		return err
	}
	if _, err := s.P.PlanTasks(ctx, me, programme.PlanTasks{Act: s.Act(), Event: event}); err != nil {
		return err
	}
	for _, x := range []programme.FinishTask{
		{Task: "timetable", On: "2026-08-05", Reference: "Minutes of 5 August, folder Ferry Landing"},
		{Task: "partner", On: "2026-09-22", Note: "The hospital sends one pharmacist."},
	} {
		x.Act, x.Event = s.Act(), event
		if _, err := s.P.FinishTask(ctx, me, x); err != nil {
			return err
		}
	}
	return nil
}
