package sandbox

import (
	"context"
	"fmt"
	"slices"
	"strconv"
	"time"

	"fairstick/internal/civil"
	"fairstick/internal/competence/rehearse"
	"fairstick/internal/event"
	"fairstick/internal/glucose"
	"fairstick/internal/programme"
)

// The people of a room. Their names say that they are none.
const (
	Name       = "PRACTICE, nothing here is real"
	trainee    = "You (practice)"
	leadName   = "Invented Lead"
	helperName = "Invented Supervisor"
	leadPIN    = "2580"
	helperPIN  = "1470"
	model      = "Practice meter"
	station    = "1"
)

// table is what lies on the tables of a room: ids in its own record.
type table struct {
	event, lead, helper string
	meters              [3]string // M1, M2, M3
	lot, old            string    // strips in use, and those of the vial that was open too long
	wipe                string
	wet                 time.Duration
	solutions           map[string]string // by level
	levels              []string
}

// The containers on the tables.
const (
	vial    = "A-1"
	oldVial = "R-1"
	bottle  = "C-1"
	usual   = "20" // code of the strips unless a scene has another
)

// setting collects what the scenes ask of the tables.
func setting(day rehearse.Day) rehearse.Setting {
	out := rehearse.Setting{VialCode: usual}
	for _, s := range day.Situations {
		switch x := s.Setting; {
		case x.Level != "":
			out.Level, out.Low, out.High = x.Level, x.Low, x.High
		case x.VialCode != "":
			out.VialCode = x.VialCode
		case x.InUse > 0:
			out.InUse, out.Opened = x.InUse, x.Opened
		}
	}
	return out
}

// setUp records the invented programme and its morning, up to open doors.
func (r *Room) setUp(ctx context.Context) error {
	r.ready = map[string]string{}
	for _, step := range []func(context.Context) error{r.people, r.protocol, r.gear, r.strips, r.solutions, r.event, r.morning, r.open} {
		if err := step(ctx); err != nil {
			return fmt.Errorf("practice day: %w", err)
		}
	}
	r.clock.pass(10*time.Hour - time.Duration(r.clock.Now().Hour())*time.Hour)
	r.clock.run()
	return nil
}

func (r *Room) lead() programme.Actor { return programme.Actor{Person: r.table.lead} }
func (r *Room) me() programme.Actor   { return programme.Actor{Person: r.Trainee} }

func (r *Room) today() civil.Date { return civil.Of(r.clock.Now()) }

// next is the last day of next year: an expiry that is far away.
func (r *Room) next() string { return fmt.Sprintf("%d-12", r.today().Year+1) }

func (r *Room) people(ctx context.Context) error {
	d, err := r.Programme.Found(ctx, programme.Founding{Programme: Name, Lead: leadName, PIN: leadPIN})
	if err != nil {
		return err
	}
	r.table.lead = d.ID
	for _, x := range []struct {
		name, pin string
		roles     []string
		id        *string
	}{
		{helperName, helperPIN, []string{"supervisor"}, &r.table.helper},
		{trainee, "", []string{"desk", "screener", "counsellor", "runner"}, &r.Trainee},
	} {
		d, err := r.Programme.DescribePerson(ctx, r.lead(), programme.DescribePerson{Name: x.name, Roles: x.roles, PIN: x.pin, Languages: []string{"en", "es"}})
		if err != nil {
			return err
		}
		*x.id = d.ID
	}
	_, err = r.Programme.Describe(ctx, r.lead(), programme.Describe{
		Name: Name, Certificate: "PRACTICE", CertificateUntil: fmt.Sprintf("%d-12-31", r.today().Year+1), Contact: "555 0100", ContactHours: "never", Emergency: "555 0199",
		ExposureContact: "Invented Occupational Health", ExposurePhone: "555 0190", ExposureHours: "day and night", Unit: string(r.Rehearsal.Day.Unit), LabelledUse: true,
	})
	return err
}

// protocol signs the programme's own protocol in the room, and verifies whoever it asks to be.
func (r *Room) protocol(ctx context.Context) error {
	p := r.Rehearsal.Protocol
	if _, err := r.Programme.DraftProtocol(ctx, r.lead(), programme.DraftProtocol{Protocol: p}); err != nil {
		return err
	}
	_, err := r.Programme.SignProtocol(ctx, r.lead(), programme.SignProtocol{
		Version: p.Version, First: programme.Sign{Person: r.table.lead, PIN: leadPIN}, Second: programme.Sign{Person: r.table.helper, PIN: helperPIN},
	})
	if err != nil {
		return err
	}
	for _, x := range []struct {
		person, by string
		roles      []string
	}{
		{r.Trainee, r.table.lead, []string{"desk", "screener", "counsellor", "runner"}},
		{r.table.helper, r.table.lead, []string{"supervisor"}},
		{r.table.lead, r.table.helper, []string{"lead", "supervisor"}},
	} {
		for _, role := range x.roles {
			if !slices.Contains(p.Verification.Roles, role) {
				continue
			}
			_, err := r.Programme.Verify(ctx, programme.Actor{Person: x.by}, programme.Verify{Person: x.person, Role: role, From: r.today().String(), Until: r.today().String()})
			if err != nil {
				return err
			}
		}
	}
	return nil
}

func (r *Room) gear(ctx context.Context) error {
	const wet = 120
	r.table.wet = wet * time.Second
	w, err := r.Programme.DescribeDisinfectant(ctx, r.lead(), programme.DescribeDisinfectant{Name: "Two-minute wipes", ContactSeconds: wet, TwoStep: true, Expiry: r.next()})
	if err != nil {
		return err
	}
	r.table.wipe = w.ID
	low, high, dry, damp := 10.0, 40.0, 10.0, 90.0
	for i := range r.table.meters {
		d, err := r.Programme.DescribeMeter(ctx, r.lead(), programme.DescribeMeter{
			Label: "M" + strconv.Itoa(i+1), Serial: "PRACTICE-" + strconv.Itoa(i+1), Model: model, Coding: "button", Unit: string(r.Rehearsal.Day.Unit),
			TempLow: &low, TempHigh: &high, HumidityLow: &dry, HumidityHigh: &damp,
		})
		if err != nil {
			return err
		}
		r.table.meters[i] = d.ID
		_, err = r.Programme.ReviewMeter(ctx, r.lead(), programme.ReviewMeter{
			Meter: d.ID, SeveralPeople: true, Insert: "Practice insert", Disinfect: "Wipe clean, then wipe again and keep wet for the time on the wipes.",
			Disinfectants: []string{w.ID}, Sign: programme.Sign{Person: r.table.lead, PIN: leadPIN},
		})
		if err != nil {
			return err
		}
	}
	return nil
}

// in gives a value of the room's unit from mg/dL.
func (r *Room) in(mg int) glucose.Value { return glucose.MgDL(mg).In(r.Rehearsal.Day.Unit) }

// printed gives the range of a level, as the vial has it.
func (r *Room) printed(level string) (low, high glucose.Value) {
	if s := setting(r.Rehearsal.Day); s.Level == level {
		return s.Low, s.High
	}
	i := slices.Index(r.table.levels, level)
	return r.in(96 + 150*i), r.in(144 + 190*i)
}

func (r *Room) strips(ctx context.Context) error {
	s := setting(r.Rehearsal.Day)
	r.table.levels = r.Rehearsal.Protocol.Controls.Levels
	var ranges []programme.RangeText
	for _, level := range r.table.levels {
		low, high := r.printed(level)
		ranges = append(ranges, programme.RangeText{Level: level, Low: low.Number(), High: high.Number()})
	}
	for _, x := range []struct {
		lot, vial string
		inUse     int
		opened    int
		id        *string
	}{
		{"PRACTICE-A", vial, 180, 1, &r.table.lot}, {"PRACTICE-R", oldVial, max(s.InUse, 30), max(s.Opened, 31), &r.table.old},
	} {
		d, err := r.Programme.DescribeStripLot(ctx, r.lead(), programme.DescribeStripLot{
			Lot: x.lot, Models: []string{model}, Chemistry: "gdh-fad", Code: s.VialCode, Expiry: r.next(), InUse: strconv.Itoa(x.inUse), EachVial: "no", PerVial: 50,
			Unit: string(r.Rehearsal.Day.Unit), Ranges: ranges,
		})
		if err != nil {
			return err
		}
		*x.id = d.ID
		if _, err := r.Programme.OpenVial(ctx, r.lead(), programme.OpenVial{StripLot: d.ID, Vial: x.vial, On: r.today().AddDays(-x.opened).String()}); err != nil {
			return err
		}
	}
	return nil
}

func (r *Room) solutions(ctx context.Context) error {
	r.table.solutions = map[string]string{}
	for i, level := range r.table.levels {
		d, err := r.Programme.DescribeControlLot(ctx, r.lead(), programme.DescribeControlLot{Lot: "PRACTICE-C" + strconv.Itoa(i+1), Level: level, Models: []string{model}, Expiry: r.next(), InUseDays: 90})
		if err != nil {
			return err
		}
		r.table.solutions[level] = d.ID
		if _, err := r.Programme.OpenBottle(ctx, r.lead(), programme.OpenBottle{ControlLot: d.ID, Bottle: bottle, On: r.today().AddDays(-1).String()}); err != nil {
			return err
		}
	}
	return nil
}

func (r *Room) event(ctx context.Context) error {
	place := event.Route{Name: "Invented Clinic", Phone: "555 0151", Address: "1 Invented Row", Hours: "every day"}
	d, err := r.Programme.PlanEvent(ctx, r.lead(), programme.PlanEvent{
		Name: "Practice day", Venue: "Invented Hall", Address: "1 Invented Row", Date: r.today().String(), Doors: "09:00", Ends: "13:00", Zone: "UTC", Expected: 20,
		Routes: []event.Route{place}, Urgent: place,
	})
	if err != nil {
		return err
	}
	r.table.event = d.ID
	for _, x := range []struct{ person, role, station string }{{r.table.lead, "supervisor", ""}, {r.table.helper, "supervisor", ""}, {r.Trainee, "screener", station}} {
		if _, err := r.Programme.PostPerson(ctx, r.lead(), programme.PostPerson{Event: d.ID, Person: x.person, Role: x.role, Station: x.station}); err != nil {
			return err
		}
		if _, err := r.Programme.Attend(ctx, r.lead(), programme.Attend{Event: d.ID, Person: x.person, Here: true}); err != nil {
			return err
		}
	}
	return nil
}

// morning measures the room, brings the stock, and clears M1. M2 lacks one level, M3 its code, so that the scenes can begin there.
func (r *Room) morning(ctx context.Context) error {
	ev := r.table.event
	if _, err := r.Programme.MeasureRoom(ctx, r.lead(), programme.MeasureRoom{Event: ev, Celsius: "21", Humidity: "45", Place: "hall"}); err != nil {
		return err
	}
	_, err := r.Programme.BringStock(ctx, r.lead(), programme.BringStock{
		Event: ev, Strips: map[string]int{r.table.lot: 50, r.table.old: 50}, Lancets: 100, Sharps: 2, Meters: r.table.meters[:],
	})
	if err != nil {
		return err
	}
	r.clock.pass(time.Hour)
	for i, m := range r.table.meters[:2] {
		if _, err := r.Programme.CompareCode(ctx, r.lead(), programme.CompareCode{Event: ev, Meter: m, StripLot: r.table.lot, Shown: setting(r.Rehearsal.Day).VialCode}); err != nil {
			return err
		}
		for k, level := range r.table.levels {
			if i == 1 && k == len(r.table.levels)-1 {
				continue
			}
			low, high := r.printed(level)
			middle := glucose.Value{Steps: (low.Steps + high.Steps) / 2, Unit: low.Unit}
			if _, err := r.Programme.RunControl(ctx, r.lead(), r.run(m, level, middle.Number())); err != nil {
				return err
			}
		}
	}
	return nil
}

func (r *Room) run(meter, level, shown string) programme.RunControl {
	return programme.RunControl{Event: r.table.event, Meter: meter, StripLot: r.table.lot, Vial: vial, ControlLot: r.table.solutions[level], Bottle: bottle, Reading: shown}
}

func (r *Room) open(ctx context.Context) error {
	d, err := r.Programme.Day(ctx, r.table.event)
	if err != nil {
		return err
	}
	for _, c := range d.Protocol.OpeningChecks {
		if _, err := r.Programme.CheckOff(ctx, r.lead(), programme.CheckOff{Event: r.table.event, Check: c.Key, OK: true}); err != nil {
			return err
		}
	}
	_, err = r.Programme.OpenEvent(ctx, r.lead(), programme.OpenEvent{Event: r.table.event})
	return err
}
