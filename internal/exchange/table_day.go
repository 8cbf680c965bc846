package exchange

import (
	"strings"

	"fairstick/internal/programme"
)

func eventTable() Table {
	return Table{Name: "events", Title: "One row for each screening day", Key: []string{"event"}, Fields: []Field{
		{Name: "event", Type: asString, Means: "id of the event in the record", Must: true},
		{Name: "name", Type: asString, Means: "what it is called", Must: true},
		{Name: "venue", Type: asString, Means: "where it was"},
		{Name: "date", Type: asDate, Means: "its day", Must: true},
		{Name: "zone", Type: asString, Means: "time zone (IANA)"},
		{Name: "phase", Type: asString, Means: "how far it has come", Words: []string{"planned", "open", "doors-closed", "closed"}, Must: true},
		{Name: "protocol", Type: asString, Means: "version of the protocol in force"},
		{Name: "expected", Type: asInteger, Means: "people expected", Must: true},
		{Name: "opened", Type: asDateTime, Means: "first participant let in"},
		{Name: "doors_closed", Type: asDateTime, Means: "nobody new let in"},
		{Name: "closed", Type: asDateTime, Means: "closed and signed"},
	}, rows: func(x *programme.Leaving, put func(...string) error) error {
		e := x.Event
		return put(e.ID, e.Plan.Name, e.Plan.Venue, e.Plan.Date.String(), e.Plan.Zone, string(e.Phase), x.Protocol.Version, whole(e.Plan.Expected), stamp(x, e.OpenedAt), stamp(x, e.DoorsClosedAt), stamp(x, e.ClosedAt))
	}}
}

func controlTable() Table {
	return Table{Name: "controls", Title: "One row for each control run on a meter", Key: []string{"run"}, Points: map[string]string{"event": "events", "meter": "meters", "strip_lot": "lots", "control_lot": "lots"}, Fields: []Field{
		{Name: "run", Type: asString, Means: "id of the run in the record", Must: true},
		{Name: "event", Type: asString, Means: "id of the event", Must: true},
		{Name: "time", Type: asDateTime, Means: "when", Must: true},
		{Name: "meter", Type: asString, Means: "id of the meter", Must: true},
		{Name: "strip_lot", Type: asString, Means: "id of the lot of strips", Must: true},
		{Name: "vial", Type: asString, Means: "the programme's name on the vial"},
		{Name: "control_lot", Type: asString, Means: "id of the lot of control solution", Must: true},
		{Name: "bottle", Type: asString, Means: "the programme's name on the bottle"},
		{Name: "level", Type: asString, Means: "level of the control", Must: true},
		{Name: "shown", Type: asString, Means: "what the meter showed", Must: true},
		{Name: "value", Type: asNumber, Means: "the number; empty for LO, HI and error codes"},
		{Name: "unit", Type: asString, Means: "unit of the meter", Words: unitWords, Must: true},
		{Name: "low", Type: asNumber, Means: "lower end of the range printed for this lot of strips"},
		{Name: "high", Type: asNumber, Means: "upper end of that range"},
		{Name: "verdict", Type: asString, Means: "in-range, out-of-range or no-value", Words: []string{"in-range", "out-of-range", "no-value"}, Must: true},
		{Name: "cause", Type: asString, Means: "assigned to a run that was not in range"},
		{Name: "action", Type: asString, Means: "what was done"},
		{Name: "operator", Type: asString, Means: "id of who ran it"},
	}, rows: func(x *programme.Leaving, put func(...string) error) error {
		for _, r := range x.Event.Runs {
			if err := put(r.ID, x.Event.ID, stamp(x, r.At), r.Meter, r.StripLot, r.Vial, r.ControlLot, r.Bottle, r.Level, r.Reading.Shown(), digits(r.Reading), string(r.Reading.Unit),
				r.Low.Number(), r.High.Number(), r.Verdict, r.Cause, r.Action, r.By); err != nil {
				return err
			}
		}
		return nil
	}}
}

func meterTable() Table {
	return Table{Name: "meters", shared: true, Title: "The meters of the programme", Key: []string{"meter"}, Fields: []Field{
		{Name: "meter", Type: asString, Means: "id of the meter in the record", Must: true},
		{Name: "label", Type: asString, Means: "the programme's own name on it", Must: true},
		{Name: "serial", Type: asString, Means: "from the back of the meter"},
		{Name: "model", Type: asString, Means: "the programme's word for the type"},
		{Name: "unit", Type: asString, Means: "unit that it shows", Words: unitWords},
		{Name: "quarantined", Type: asBoolean, Means: "it is taken out", Must: true},
	}, rows: func(x *programme.Leaving, put func(...string) error) error {
		for _, m := range x.Meters {
			if err := put(m.ID, m.Details.Label, m.Details.Serial, m.Details.Model, string(m.Details.Unit), saysYes(m.Quarantine != nil)); err != nil {
				return err
			}
		}
		return nil
	}}
}

func lotTable() Table {
	return Table{Name: "lots", shared: true, Title: "Lots of strips and of control solution", Key: []string{"lot_id"}, Fields: []Field{
		{Name: "lot_id", Type: asString, Means: "id of the lot in the record", Must: true},
		{Name: "kind", Type: asString, Means: "what it is", Words: []string{"strips", "control-solution"}, Must: true},
		{Name: "lot", Type: asString, Means: "as printed", Must: true},
		{Name: "models", Type: asString, Means: "types of meter that it fits, with | between"},
		{Name: "chemistry", Type: asString, Means: "enzyme on the strips"},
		{Name: "level", Type: asString, Means: "level of the control solution"},
		{Name: "expiry", Type: asDate, Means: "last day, as printed"},
		{Name: "in_use_days", Type: asInteger, Means: "days after opening; empty: to the printed expiry"},
		{Name: "withdrawn", Type: asString, Means: "why the lot was taken out of use"},
	}, rows: func(x *programme.Leaving, put func(...string) error) error {
		for _, l := range x.StripLots {
			if err := put(l.ID, "strips", l.Details.Lot, strings.Join(l.Details.Models, "|"), string(l.Details.Chemistry), "", l.Details.Expiry.String(), filled(l.Details.InUseDays), l.Withdrawn); err != nil {
				return err
			}
		}
		for _, l := range x.ControlLots {
			if err := put(l.ID, "control-solution", l.Details.Lot, strings.Join(l.Details.Models, "|"), "", l.Details.Level, l.Details.Expiry.String(), filled(l.Details.InUseDays), ""); err != nil {
				return err
			}
		}
		return nil
	}}
}

// incidentTable has the columns of the incidents of an event, with the event in front.
func incidentTable() Table {
	t := Table{Name: "incidents", Title: "One row for each incident; no names", Key: []string{"id"}, Points: map[string]string{"event": "events"}, Fields: []Field{{Name: "event", Type: asString, Means: "id of the event", Must: true}}}
	for _, c := range incidentColumns {
		kind := asString
		switch {
		case strings.HasSuffix(c.name, "_at"):
			kind = asDateTime
		case strings.HasSuffix(c.name, "_min"):
			kind = asInteger
		}
		t.Fields = append(t.Fields, Field{Name: c.name, Type: kind, Means: c.holds, Must: c.name == "id"})
	}
	t.rows = func(x *programme.Leaving, put func(...string) error) error {
		for _, r := range x.IncidentRows() {
			cells := []string{x.Event.ID}
			for _, c := range incidentColumns {
				cells = append(cells, c.of(r))
			}
			if err := put(cells...); err != nil {
				return err
			}
		}
		return nil
	}
	return t
}
