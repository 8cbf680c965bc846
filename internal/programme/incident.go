package programme

import (
	"context"
	"fmt"
	"strings"
	"time"

	"fairstick/internal/event"
	"fairstick/internal/fact"
	"fairstick/internal/fault"
	"fairstick/internal/incident"
	"fairstick/internal/people"
	"fairstick/internal/stock"
	"fairstick/internal/visit"
)

// ReportIncident says that something happened. Act.At is when, if not now.
type ReportIncident struct {
	Act
	Event, Sort                     string
	Visit, Station, Meter, StripLot string // what it touches, as far as it is known
	What                            string
}

// ReportIncident records a mishap. Any of the staff may, also before an event opens and after it has closed: an injury that
// comes out late must still find its place.
func (p *Programme) ReportIncident(ctx context.Context, a Actor, c ReportIncident) (Done, error) {
	return do(ctx, p, a, c.Act, "incident.report", func(w *work) (Done, error) {
		if err := w.need(people.Roles...); err != nil {
			return Done{}, err
		}
		ev, err := load[*event.State](w, event.Ref(c.Event))
		if err != nil {
			return Done{}, err
		}
		var f fields
		b := incident.Reported{Event: ev.ID, Sort: incident.Sort(c.Sort), Visit: c.Visit, Meter: c.Meter, StripLot: c.StripLot}
		if !b.Sort.Valid() {
			f.say("kind", "Choose what happened.")
		}
		b.Station = f.text("station", "The station", c.Station, false, 12)
		if b.What, err = w.free(&f, "what", "What happened", c.What, false, 300); err != nil {
			return Done{}, err
		}
		if err := f.err(); err != nil {
			return Done{}, err
		}
		if err := w.touched(ev, b.Visit, b.Meter, b.StripLot); err != nil {
			return Done{}, err
		}
		return w.describe(incident.Kind, "", b)
	})
}

// touched checks that what an incident points at is in the record, and that a ticket is of this event.
func (w *work) touched(ev *event.State, visitID, meter, lot string) error {
	if visitID != "" {
		v, err := load[*visit.State](w, visit.Ref(visitID))
		if err != nil {
			return err
		}
		if v.Event != ev.ID {
			return missing(visit.Ref(visitID))
		}
	}
	if meter != "" {
		if _, err := load[*stock.Meter](w, stock.MeterRef(meter)); err != nil {
			return err
		}
	}
	if lot != "" {
		if _, err := load[*stock.StripLot](w, stock.StripLotRef(lot)); err != nil {
			return err
		}
	}
	return nil
}

// free checks the free text of an incident: nothing medical, and no full name of the staff. A name or a diagnosis cannot be
// taken back out of a record.
func (w *work) free(f *fields, name, label, value string, required bool, most int) (string, error) {
	v := f.text(name, label, value, required, most)
	if v == "" {
		return v, nil
	}
	if word := incident.Medical(v); word != "" {
		f.say(name, "Leave out %q: tell the clinician, not this log. Write only what happened and what was done.", word)
		return v, nil
	}
	who, err := w.named(v)
	if who != "" {
		f.say(name, "Leave out the name %s: write the role, for example \"a screener\". The log is kept without names.", who)
	}
	return v, err
}

// named gives the first of the staff whose full name stands in a text; "" when none does.
func (w *work) named(text string) (string, error) {
	all, err := listed[*people.State](w.tx.All(people.Kind))
	if err != nil {
		return "", err
	}
	low := " " + strings.ToLower(text) + " "
	for _, who := range all {
		if n := strings.ToLower(who.Details.Name); strings.Contains(n, " ") && strings.Contains(low, n) {
			return who.Details.Name, nil
		}
	}
	return "", nil
}

// mishap loads an open incident with its event.
func (w *work) mishap(id string) (*incident.State, *event.State, error) {
	if err := w.need(people.Roles...); err != nil {
		return nil, nil, err
	}
	s, err := load[*incident.State](w, incident.Ref(id))
	if err != nil {
		return nil, nil, err
	}
	ev, err := load[*event.State](w, event.Ref(s.Report.Event))
	if err != nil {
		return nil, nil, err
	}
	switch {
	case s.Withdrawn != nil:
		return nil, nil, refuse("incident-withdrawn", "This incident was withdrawn.", "It stays in the record as it is.", "Report it again if it did happen.")
	case s.Closed != nil:
		return nil, nil, refuse("incident-closed", "This incident is closed.", "It stays in the record as it is.", "Report what came out since as a new incident.")
	}
	if w.at.Before(s.Happened().Add(-futureSlack)) {
		return nil, nil, fault.BadField("at", "%s is before the incident itself, which was at %s.", w.at.In(ev.Zone()).Format("15:04"), s.Happened().In(ev.Zone()).Format("15:04"))
	}
	return s, ev, nil
}

// DescribeIncident is the form of an incident. Person is kept only from a lead's hand.
type DescribeIncident struct {
	Act
	Incident              string
	Happened              time.Time // zero: as it was reported
	Device, Brand         string
	LancetLot, Area, Site string
	Phase, How, Role      string
	Person, Sharps        string
	Meter, StripLot       string
}

// DescribeIncident records the form; the latest one holds. Any of the staff may: whoever was there writes it down.
func (p *Programme) DescribeIncident(ctx context.Context, a Actor, c DescribeIncident) (Done, error) {
	return do(ctx, p, a, c.Act, "incident.describe", func(w *work) (Done, error) {
		s, ev, err := w.formOf(c.Incident)
		if err != nil {
			return Done{}, err
		}
		var f fields
		sharp, exposed := s.Report.Sort == incident.SharpsInjury, s.Report.Sort.Exposure()
		b := incident.Described{Happened: c.Happened, Phase: c.Phase, Role: c.Role, Sharps: c.Sharps, Site: c.Site, Device: c.Device, Meter: c.Meter, StripLot: c.StripLot}
		if b.Happened.After(w.now.Add(futureSlack)) {
			f.say("happened", "%s has not come yet. Check the time that you typed.", b.Happened.In(ev.Zone()).Format("15:04"))
		}
		pick := func(name, label, v string, required bool, from []string) {
			if v != "" || required {
				f.oneOf(name, label, v, from...)
			}
		}
		pick("device", "The type of device", b.Device, sharp, incident.Devices)
		pick("site", "Where the blood went", b.Site, s.Report.Sort == incident.Splash, incident.Sites)
		pick("phase", "When it happened in the work", b.Phase, exposed, incident.Phases)
		pick("role", "Whose injury it is", b.Role, exposed, incident.Hurt)
		pick("sharps", "The state of the sharps container", b.Sharps, sharp, incident.SharpsStates)
		for _, t := range []struct {
			to                 *string
			name, label, value string
			required           bool
			most               int
		}{
			{&b.Brand, "brand", "The brand of the device", c.Brand, sharp, 60},
			{&b.LancetLot, "lancet_lot", "The lot of the lancets", c.LancetLot, false, 40},
			{&b.Area, "area", "The work area", c.Area, exposed, 60},
			{&b.How, "how", "How it happened", c.How, true, 500},
		} {
			if *t.to, err = w.free(&f, t.name, t.label, t.value, t.required, t.most); err != nil {
				return Done{}, err
			}
		}
		if err := f.err(); err != nil {
			return Done{}, err
		}
		if s.Details != nil {
			b.Person = s.Details.Person
		}
		if w.me == nil || w.me.Has(people.Lead) {
			b.Person = c.Person
		}
		if b.Person != "" {
			if _, err := load[*people.State](w, people.Ref(b.Person)); err != nil {
				return Done{}, err
			}
		}
		if err := w.touched(ev, "", b.Meter, b.StripLot); err != nil {
			return Done{}, err
		}
		_, err = w.append(incident.Ref(s.ID), b)
		return Done{ID: s.ID}, err
	})
}

// formOf loads an open incident whose form may be filled in; the form may set the time of the incident, so it is not asked
// whether the act comes after it.
func (w *work) formOf(id string) (*incident.State, *event.State, error) {
	at := w.at
	w.at = w.now
	s, ev, err := w.mishap(id)
	w.at = at
	return s, ev, err
}

// IncidentStep is one act after an incident. Act.At is when it was done, if not now.
type IncidentStep struct {
	Act
	Incident, Step, Choice, Note string
}

// IncidentStep records an act with its time. Any of the staff may: whoever is there writes it down.
func (p *Programme) IncidentStep(ctx context.Context, a Actor, c IncidentStep) (Done, error) {
	return do(ctx, p, a, c.Act, "incident.step", func(w *work) (Done, error) {
		s, ev, err := w.mishap(c.Incident)
		if err != nil {
			return Done{}, err
		}
		rule, ok := incident.RuleOf(s.Report.Sort, c.Step)
		if !ok || c.Step == incident.Told {
			return Done{}, fault.BadField("step", "%q is not a step of this incident.", c.Step)
		}
		var f fields
		b := incident.Step{Step: c.Step, Choice: c.Choice}
		switch {
		case c.Step == incident.Disinfected:
			d, err := load[*stock.Disinfectant](w, stock.DisinfectantRef(c.Choice))
			if err != nil {
				return Done{}, err
			}
			if says := stock.Expired("The disinfectant "+d.Details.Name, d.Details.Expiry, ev.Day(w.at)); says != "" {
				f.say("choice", "%s", says)
			}
			b.Seconds = d.Details.ContactSeconds
		case rule.Choices == nil:
			b.Choice = ""
		default:
			f.oneOf("choice", "The answer", c.Choice, rule.Choices...)
		}
		if b.Note, err = w.free(&f, "note", "The note", c.Note, rule.Note, 200); err != nil {
			return Done{}, err
		}
		if err := f.err(); err != nil {
			return Done{}, err
		}
		_, err = w.append(incident.Ref(s.ID), b)
		return Done{ID: s.ID}, err
	})
}

// TellIncident is a lead's or supervisor's PIN on an incident: they know and are there.
type TellIncident struct {
	Act
	Incident string
	Sign     Sign
}

// TellIncident records that a lead or supervisor was told.
func (p *Programme) TellIncident(ctx context.Context, a Actor, c TellIncident) (Done, error) {
	who, err := p.signed(ctx, c.Sign, people.Supervisor, people.Lead)
	if err != nil {
		return Done{}, err
	}
	return do(ctx, p, a, c.Act, "incident.tell", func(w *work) (Done, error) {
		s, _, err := w.mishap(c.Incident)
		if err != nil {
			return Done{}, err
		}
		if _, ok := incident.RuleOf(s.Report.Sort, incident.Told); !ok {
			return Done{}, fault.BadField("step", "Nobody has to sign that they were told of this.")
		}
		_, err = w.append(incident.Ref(s.ID), incident.Step{Step: incident.Told, Choice: who.ID})
		return Done{ID: s.ID}, err
	})
}

// CloseIncident ends an incident. An exposure and a faint need the signature of a lead or supervisor.
type CloseIncident struct {
	Act
	Incident, Note string
	Sign           Sign // the zero Sign where none is needed
}

// CloseIncident records the end once every step is written down.
func (p *Programme) CloseIncident(ctx context.Context, a Actor, c CloseIncident) (Done, error) {
	s, err := One[*incident.State](ctx, p, incident.Ref(c.Incident))
	if err != nil {
		return Done{}, err
	}
	signed := ""
	if s.Report.Sort.Signs() {
		who, err := p.signed(ctx, c.Sign, people.Supervisor, people.Lead)
		if err != nil {
			return Done{}, err
		}
		signed = who.ID
	}
	return do(ctx, p, a, c.Act, "incident.close", func(w *work) (Done, error) {
		s, _, err := w.mishap(c.Incident)
		if err != nil {
			return Done{}, err
		}
		if todo := s.Missing(w.now); len(todo) > 0 {
			return Done{}, refuse("incident-unfinished", "This incident is not complete: "+todo[0].Sentence,
				"The record must show that it was looked after to the end.", "Do it, write it down, then close.")
		}
		var f fields
		note, err := w.free(&f, "note", "The note", c.Note, false, 300)
		if err != nil {
			return Done{}, err
		}
		if err := f.err(); err != nil {
			return Done{}, err
		}
		_, err = w.append(incident.Ref(s.ID), incident.Closed{Signed: signed, Note: note})
		return Done{ID: s.ID}, err
	})
}

// WithdrawIncident says that it was no incident.
type WithdrawIncident struct {
	Act
	Incident, Reason string
}

// WithdrawIncident records the reason. Only a lead may; the incident stays in the record and is not counted any more.
func (p *Programme) WithdrawIncident(ctx context.Context, a Actor, c WithdrawIncident) (Done, error) {
	return do(ctx, p, a, c.Act, "incident.withdraw", func(w *work) (Done, error) {
		if err := w.need(people.Lead); err != nil {
			return Done{}, err
		}
		s, err := load[*incident.State](w, incident.Ref(c.Incident))
		if err != nil {
			return Done{}, err
		}
		if s.Withdrawn != nil {
			return Done{}, refuse("incident-withdrawn", "This incident was withdrawn already.", "", "Nothing more to do.")
		}
		var f fields
		reason, err := w.free(&f, "reason", "The reason", c.Reason, true, 200)
		if err != nil {
			return Done{}, err
		}
		if err := f.err(); err != nil {
			return Done{}, err
		}
		_, err = w.append(incident.Ref(s.ID), incident.Withdrawn{Reason: reason})
		return Done{ID: s.ID}, err
	})
}

// spillAt finds an open spill that shuts a station; nil when there is none.
func (w *work) spillAt(eventID, station string) (*incident.State, error) {
	if station == "" {
		return nil, nil
	}
	ids, err := w.tx.Mentioned(incident.Kind, eventID, "shut", station)
	if err != nil || len(ids) == 0 {
		return nil, err
	}
	return load[*incident.State](w, fact.Ref{Kind: incident.Kind, ID: ids[0]})
}

func spillFault(s *incident.State) *fault.Fault {
	if s == nil {
		return nil
	}
	return refuse("spill-open", "Station "+s.Report.Station+" is shut: blood was spilt here and is not cleaned up.", "Blood on a table can carry infection.",
		"Clean and disinfect it, write it down, and close the incident.")
}

// incidentsFault refuses to close an event while an incident is open.
func incidentsFault(ev *event.State, list []*incident.State) *fault.Fault {
	for _, s := range list {
		if s.Open() {
			return refuse("incident-open", fmt.Sprintf("An incident is not closed: %s at %s.", IncidentWord(string(s.Report.Sort)), s.Happened().In(ev.Zone()).Format("15:04")),
				"What happened must come to its end before the day does.", "Open it under Incidents, finish it, and close it.")
		}
	}
	return nil
}
