package sandbox

import (
	"context"
	"fmt"
	"net/url"
	"time"

	"fairstick/internal/competence/rehearse"
	"fairstick/internal/fault"
	"fairstick/internal/glucose"
	"fairstick/internal/incident"
	"fairstick/internal/programme"
	"fairstick/internal/protocol"
	"fairstick/internal/visit"
)

// prepare puts what a decision on a page needs on the table, and gives the address of the page.
func (r *Room) prepare(ctx context.Context, at At) (string, error) {
	base := "/events/" + r.table.event
	switch at.Decision.At {
	case rehearse.Desk:
		id, err := r.arrives(ctx)
		if err != nil {
			return "", err
		}
		return base + "/desk/" + id, r.sit(ctx, visit.AtDesk)
	case rehearse.Reading:
		if err := r.dry(ctx); err != nil {
			return "", err
		}
		id, err := r.registered(ctx)
		if err != nil {
			return "", err
		}
		if _, err := r.Programme.CallTicket(ctx, r.me(), programme.CallTicket{Visit: id, Step: string(visit.AtTest), Station: station}); err != nil {
			return "", err
		}
		return base + "/test/" + id, r.sit(ctx, visit.AtTest)
	case rehearse.Control:
		return r.runPage(r.table.meters[1], at.Situation.Setting.Level), r.sit(ctx, visit.AtTest)
	case rehearse.Code:
		return r.runPage(r.table.meters[2], r.table.levels[0]), r.sit(ctx, visit.AtTest)
	case rehearse.Incident:
		return base + "/incidents/new", nil
	case rehearse.OnCard:
	}
	return "", nil
}

func (r *Room) runPage(meter, level string) string {
	q := url.Values{"meter": {meter}, "vial": {r.table.lot + "/" + vial}, "bottle": {r.table.solutions[level] + "/" + bottle}}
	return "/events/" + r.table.event + "/controls/run?" + q.Encode()
}

// sit puts the device of the room to a station; its language stays.
func (r *Room) sit(ctx context.Context, step visit.Phase) error {
	d, err := r.Programme.Device(ctx, Device)
	if err != nil {
		return err
	}
	d = programme.Device{Lang: d.Lang, Event: r.table.event, Step: string(step), Station: station}
	if step == visit.AtTest {
		d.Meter, d.StripLot, d.Vial, d.Disinfectant = r.table.meters[0], r.table.lot, vial, r.table.wipe
	}
	return r.Programme.SetDevice(ctx, Device, d)
}

// Speak sets the language of the pages of the room.
func (r *Room) Speak(ctx context.Context, lang string) error {
	d, err := r.Programme.Device(ctx, Device)
	if err != nil || d.Lang == lang {
		return err
	}
	d.Lang = lang
	return r.Programme.SetDevice(ctx, Device, d)
}

// arrives lets somebody arrive who says yes.
func (r *Room) arrives(ctx context.Context) (string, error) {
	t, err := r.Programme.Arrive(ctx, r.me(), programme.Arrive{Event: r.table.event, Language: "en"})
	if err != nil {
		return "", err
	}
	r.guest = t.Visit
	_, err = r.Programme.Consent(ctx, r.me(), programme.Consent{Visit: t.Visit, Version: r.Rehearsal.Protocol.Consent.Version, Language: "en", How: "read"})
	return t.Visit, err
}

// registered lets somebody arrive and go through the desk, for whom nothing is special, two hours after a meal.
func (r *Room) registered(ctx context.Context) (string, error) {
	id, err := r.arrives(ctx)
	if err != nil {
		return "", err
	}
	if _, err := r.Programme.Answer(ctx, r.me(), programme.Answer{Visit: id, Answers: rehearse.PlainAnswers(r.Rehearsal.Protocol)}); err != nil {
		return "", err
	}
	if _, err := r.Programme.LastAte(ctx, r.me(), programme.LastAte{Visit: id, Known: true, At: r.clock.Now().Add(-2 * time.Hour)}); err != nil {
		return "", err
	}
	_, err = r.Programme.Contact(ctx, r.me(), programme.Contact{Visit: id})
	return id, err
}

// dry wipes M1 and lets its time pass, so that it is ready for the next person.
func (r *Room) dry(ctx context.Context) error {
	if err := r.wipe(ctx); err != nil {
		return err
	}
	r.clock.pass(r.table.wet + time.Second)
	return nil
}

func (r *Room) wipe(ctx context.Context) error {
	_, err := r.Programme.WipeMeter(ctx, r.me(), programme.WipeMeter{Event: r.table.event, Meter: r.table.meters[0], Disinfectant: r.table.wipe})
	return err
}

// observe reads from the room's record what was done on the page of a decision: the key of a choice, and what was written.
func (r *Room) observe(ctx context.Context, at At) (key, did string, err error) {
	d, err := r.Programme.Day(ctx, r.table.event)
	if err != nil {
		return "", "", err
	}
	s := at.Situation.Setting
	switch at.Decision.At {
	case rehearse.Desk:
		return asked(d.Visit(r.guest))
	case rehearse.Reading:
		return reading(d.Visit(r.guest), s)
	case rehearse.Control:
		for _, run := range d.Event.RunsOf(r.table.meters[1]) {
			if run.Level == s.Level {
				return same(run.Reading.Shown(), s.Shown), run.Reading.String(), nil // the first run is the one of the scene
			}
		}
		return rehearse.NotDone, "", nil
	case rehearse.Code:
		code, ok := d.Event.Codes[r.table.meters[2]]
		if !ok {
			return rehearse.NotDone, "", nil
		}
		return same(code.Shown, s.Shown), code.Shown, nil
	case rehearse.Incident:
		return happened(d.Incidents, sorts[at.Situation.Key])
	case rehearse.OnCard:
	}
	return "", "", fmt.Errorf("practice day: %s is not decided on a page", at.Decision.Key)
}

func same(wrote, shown string) string {
	if wrote == shown {
		return rehearse.AsShown
	}
	return rehearse.Bent
}

// asked tells whether the answer that keeps somebody from being tested was written.
func asked(v *visit.State) (key, did string, err error) {
	switch {
	case v == nil || v.Answers == nil:
		return rehearse.NotDone, "", nil
	case v.Answers.Answers[rehearse.KnownDiabetes] == protocol.Yes:
		return rehearse.AsShown, "", nil
	}
	return rehearse.Bent, "", nil
}

// reading compares the first reading that was written with what the meter showed.
func reading(v *visit.State, s rehearse.Setting) (key, did string, err error) {
	if v == nil || len(v.Readings) == 0 {
		return rehearse.NotDone, "", nil
	}
	first := v.Readings[0].Reading
	if s.Rounded != "" && first.Shown() == s.Rounded {
		return rehearse.Rounded, first.String(), nil
	}
	return same(first.Shown(), s.Shown), first.String(), nil
}

// sorts is as what each situation is to be recorded.
var sorts = map[string]incident.Sort{"faint": incident.Faint, "stick-injury": incident.SharpsInjury}

func happened(list []*incident.State, want incident.Sort) (key, did string, err error) {
	key = rehearse.NotDone
	for _, s := range list {
		if s.Report.Sort == want {
			return rehearse.AsShown, string(want), nil
		}
		if !taken[s.Report.Sort] {
			key, did = rehearse.Bent, string(s.Report.Sort)
		}
	}
	return key, did, nil
}

// taken are the sorts that another situation of the day is recorded as.
var taken = map[incident.Sort]bool{incident.Faint: true, incident.SharpsInjury: true}

// passed is said of what the program would have let pass, since it only knows what was written.
const passed = "The program would have let this pass: it can only go by what was written before."

// try does in the room what the day would refuse, and gives what the program says.
func (r *Room) try(ctx context.Context, at At, what rehearse.Try) (string, error) {
	if what == rehearse.TryExcluded {
		_, err := r.Programme.CallTicket(ctx, r.me(), programme.CallTicket{Visit: r.guest, Step: string(visit.AtTest), Station: station})
		return r.said(err)
	}
	c := programme.TakeReading{Station: station, Meter: r.table.meters[0], StripLot: r.table.lot, Vial: vial, Washed: true}
	value := glucose.Number(r.in(105)).Shown()
	c.Reading, c.Again = value, value
	switch what {
	case rehearse.TryMeter:
		c.Meter = r.table.meters[1]
		if at.Situation.Setting.VialCode != "" {
			c.Meter = r.table.meters[2]
		}
	case rehearse.TryVial:
		c.StripLot, c.Vial = r.table.old, oldVial
	case rehearse.TryWet:
		if err := r.touched(ctx, c); err != nil {
			return "", err
		}
	case rehearse.TryExcluded:
	}
	id, err := r.registered(ctx)
	if err != nil {
		return "", err
	}
	if _, err := r.Programme.CallTicket(ctx, r.me(), programme.CallTicket{Visit: id, Step: string(visit.AtTest), Station: station}); err != nil {
		return "", err
	}
	c.Visit = id
	_, err = r.Programme.TakeReading(ctx, r.me(), c)
	said, err := r.said(err)
	if err != nil {
		return "", err
	}
	_, err = r.Programme.LeaveVisit(ctx, r.me(), programme.LeaveVisit{Visit: id, Reason: "practice"})
	return said, err
}

// touched has M1 touch somebody and be wiped just now.
func (r *Room) touched(ctx context.Context, c programme.TakeReading) error {
	if err := r.dry(ctx); err != nil {
		return err
	}
	id, err := r.registered(ctx)
	if err != nil {
		return err
	}
	if _, err := r.Programme.CallTicket(ctx, r.me(), programme.CallTicket{Visit: id, Step: string(visit.AtTest), Station: station}); err != nil {
		return err
	}
	c.Visit = id
	if _, err := r.Programme.TakeReading(ctx, r.me(), c); err != nil {
		return err
	}
	return r.wipe(ctx)
}

// said gives the sentence of a refusal; something else that went wrong is an error.
func (r *Room) said(err error) (string, error) {
	if err == nil {
		return passed, nil
	}
	if f := fault.Of(err); f.Kind == fault.Refused || f.Kind == fault.Conflict {
		return f.Sentence, nil
	}
	return "", err
}
