package demo

import (
	"context"

	"fairstick/internal/event"
	"fairstick/internal/programme"
	"fairstick/internal/protocol"
)

// Person is somebody on the list of an invented programme.
type Person struct {
	Name, PIN, Title, Glove string
	Roles                   []string
	Languages               []string
	Verified                []Proof
	Post, Station           string // place on the roster; none when empty
	Absent                  bool
}

// Proof is a verification.
type Proof struct{ Role, From, Until string }

// Meter is a meter of an invented programme.
type Meter struct{ Label, Serial, Coding string }

// Lot is a lot of strips, with the ranges printed for both levels in mg/dL.
type Lot struct {
	Lot, Code, Expiry, InUse, Chemistry string
	Level1, Level2                      [2]string
	Vials                               []Opened
}

// Opened is a vial or bottle with the day on which it was opened.
type Opened struct{ Name, On string }

// Solution is a lot of control solution.
type Solution struct {
	Lot, Level, Expiry string
	Bottles            []Opened
}

// Programme is everything that an invented programme has before its day.
type Programme struct {
	Describe programme.Describe
	Lead     Person
	People   []Person
	Meters   []Meter
	Lots     []Lot
	Controls []Solution
	Wipe     programme.DescribeDisinfectant
	Supplies []programme.DescribeSupply
	Plan     programme.PlanEvent
	Asks     []string // what participants are asked about themselves
}

// model is the word of an invented programme for its type of meter.
const model = "Type A"

func ptr(f float64) *float64 { return &f }

// Build records the programme through the same commands as the pages. The lead becomes the first person; the protocol is
// the default, signed by the lead and the first person of the list.
func (s *Stage) Build(ctx context.Context, pr Programme) error {
	lead := pr.Lead.Name
	d, err := s.P.Found(ctx, programme.Founding{Programme: pr.Describe.Name, Lead: lead, PIN: pr.Lead.PIN})
	if err != nil {
		return err
	}
	s.Name(lead, d.ID)
	s.SetPIN(lead, pr.Lead.PIN)
	me := s.As(lead)
	if err := s.person(ctx, me, pr.Lead); err != nil {
		return err
	}
	for _, x := range pr.People {
		if err := s.person(ctx, me, x); err != nil {
			return err
		}
	}
	if pr.Describe.ExposurePhone == "" {
		pr.Describe.ExposureContact, pr.Describe.ExposurePhone, pr.Describe.ExposureHours = "Invented Occupational Health", "555 0190", "day and night"
	}
	pr.Describe.Act = s.Act()
	if _, err := s.P.Describe(ctx, me, pr.Describe); err != nil {
		return err
	}
	if len(pr.Asks) > 0 {
		if _, err := s.P.ChooseQuestions(ctx, me, programme.ChooseQuestions{Act: s.Act(), Questions: pr.Asks}); err != nil {
			return err
		}
	}
	if _, err := s.P.SignProtocol(ctx, me, programme.SignProtocol{Act: s.Act(), Version: protocol.Default().Version, First: s.Sign(lead), Second: s.Sign(pr.People[0].Name)}); err != nil {
		return err
	}
	if err := s.stock(ctx, me, pr); err != nil {
		return err
	}
	pr.Plan.Act = s.Act()
	ev, err := s.P.PlanEvent(ctx, me, pr.Plan)
	if err != nil {
		return err
	}
	s.Event = ev.ID
	return nil
}

func (s *Stage) person(ctx context.Context, me programme.Actor, x Person) error {
	c := programme.DescribePerson{Act: s.Act(), Name: x.Name, Title: x.Title, Roles: x.Roles, Languages: x.Languages, Glove: x.Glove, PIN: x.PIN}
	if id, ok := s.ids[x.Name]; ok {
		c.Person, c.PIN = id, ""
	}
	d, err := s.P.DescribePerson(ctx, me, c)
	if err != nil {
		return err
	}
	s.Name(x.Name, d.ID)
	s.SetPIN(x.Name, x.PIN)
	for _, v := range x.Verified {
		if _, err := s.P.Verify(ctx, me, programme.Verify{Act: s.Act(), Person: d.ID, Role: v.Role, From: v.From, Until: v.Until}); err != nil {
			return err
		}
	}
	return nil
}

func (s *Stage) stock(ctx context.Context, me programme.Actor, pr Programme) error {
	pr.Wipe.Act = s.Act()
	w, err := s.P.DescribeDisinfectant(ctx, me, pr.Wipe)
	if err != nil {
		return err
	}
	s.Name("wipes", w.ID)
	for _, x := range pr.Supplies {
		x.Act = s.Act()
		if _, err := s.P.DescribeSupply(ctx, me, x); err != nil {
			return err
		}
	}
	for _, m := range pr.Meters {
		d, err := s.P.DescribeMeter(ctx, me, programme.DescribeMeter{
			Act: s.Act(), Label: m.Label, Serial: m.Serial, Model: model, Coding: m.Coding,
			Unit: "mg/dL", TempLow: ptr(10), TempHigh: ptr(40), HumidityLow: ptr(10), HumidityHigh: ptr(90),
		})
		if err != nil {
			return err
		}
		s.Name(m.Label, d.ID)
		if _, err := s.P.ReviewMeter(ctx, me, programme.ReviewMeter{
			Act: s.Act(), Meter: d.ID, SeveralPeople: true, Insert: "Invented insert, January 2025",
			Disinfect: "Wipe clean, then wipe again and keep wet for the time on the wipes.", Disinfectants: []string{w.ID}, Sign: s.Sign(pr.Lead.Name),
		}); err != nil {
			return err
		}
	}
	if err := s.lots(ctx, me, pr.Lots); err != nil {
		return err
	}
	return s.solutions(ctx, me, pr.Controls)
}

// lots records lots of strips, those that are not known yet, and the vials that were opened.
func (s *Stage) lots(ctx context.Context, me programme.Actor, lots []Lot) error {
	for _, l := range lots {
		if _, known := s.ids[l.Lot]; !known {
			d, err := s.P.DescribeStripLot(ctx, me, programme.DescribeStripLot{
				Act: s.Act(), Lot: l.Lot, Models: []string{model}, Chemistry: l.Chemistry, Code: l.Code,
				Expiry: l.Expiry, InUse: l.InUse, EachVial: "no", PerVial: 50, Unit: "mg/dL",
				Ranges: []programme.RangeText{{Level: "1", Low: l.Level1[0], High: l.Level1[1]}, {Level: "2", Low: l.Level2[0], High: l.Level2[1]}},
			})
			if err != nil {
				return err
			}
			s.Name(l.Lot, d.ID)
		}
		for _, v := range l.Vials {
			if _, err := s.P.OpenVial(ctx, me, programme.OpenVial{Act: s.Act(), StripLot: s.ID(l.Lot), Vial: v.Name, On: v.On}); err != nil {
				return err
			}
		}
	}
	return nil
}

// solutions records lots of control solution, those that are not known yet, and the bottles that were opened.
func (s *Stage) solutions(ctx context.Context, me programme.Actor, list []Solution) error {
	for _, c := range list {
		name := "control " + c.Level
		if _, known := s.ids[name]; !known {
			d, err := s.P.DescribeControlLot(ctx, me, programme.DescribeControlLot{Act: s.Act(), Lot: c.Lot, Level: c.Level, Models: []string{model}, Expiry: c.Expiry, InUseDays: 90})
			if err != nil {
				return err
			}
			s.Name(name, d.ID)
		}
		for _, b := range c.Bottles {
			if _, err := s.P.OpenBottle(ctx, me, programme.OpenBottle{Act: s.Act(), ControlLot: s.ID(name), Bottle: b.Name, On: b.On}); err != nil {
				return err
			}
			s.Name("bottle "+c.Level, b.Name)
		}
	}
	return nil
}

// Roster puts everybody of the list at their post, here or not.
func (s *Stage) Roster(ctx context.Context, pr Programme) error {
	me := s.As(pr.Lead.Name)
	for _, x := range append([]Person{pr.Lead}, pr.People...) {
		if x.Post == "" {
			continue
		}
		if _, err := s.P.PostPerson(ctx, me, programme.PostPerson{Act: s.Act(), Event: s.Event, Person: s.ID(x.Name), Role: x.Post, Station: x.Station}); err != nil {
			return err
		}
		if _, err := s.P.Attend(ctx, me, programme.Attend{Act: s.Act(), Event: s.Event, Person: s.ID(x.Name), Here: !x.Absent}); err != nil {
			return err
		}
	}
	return nil
}

// CheckAll ticks every opening check of the protocol.
func (s *Stage) CheckAll(ctx context.Context, who string) error {
	d, err := s.P.Day(ctx, s.Event)
	if err != nil {
		return err
	}
	for _, c := range d.Protocol.OpeningChecks {
		if _, err := s.P.CheckOff(ctx, s.As(who), programme.CheckOff{Act: s.Act(), Event: s.Event, Check: c.Key, OK: true}); err != nil {
			return err
		}
	}
	return nil
}

// clinic is an invented place to be referred to.
func clinic(name, phone, address, hours, note string) event.Route {
	return event.Route{Name: name, Phone: phone, Address: address, Hours: hours, Note: note}
}
