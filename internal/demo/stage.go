package demo

import (
	"context"
	"fmt"
	"sort"
	"time"

	"github.com/google/uuid"

	"fairstick/internal/about"
	"fairstick/internal/civil"
	"fairstick/internal/programme"
	"fairstick/internal/protocol"
)

// Stage plays a day through the same commands as the pages: each act is put at its moment, and Play does them in order of
// time. Names stand for ids, so that a day reads like a story.
type Stage struct {
	P     *programme.Programme
	Clock *Clock
	Zone  *time.Location
	Date  civil.Date
	Event string

	acts  []act
	count int
	ids   map[string]string // name -> id, for people, meters, lots
	pins  map[string]string // name -> PIN
	seats map[string]Seat   // station -> seat
}

type act struct {
	at time.Time
	n  int
	do func(context.Context) error
	in string
}

// Seat is a test station: who sits there with which meter, vial and disinfectant.
type Seat struct {
	Screener, Meter, Lot, Vial, Wipe string
}

// NewStage makes an empty stage for one date.
func NewStage(p *programme.Programme, clock *Clock, zone *time.Location, date civil.Date) *Stage {
	return &Stage{P: p, Clock: clock, Zone: zone, Date: date, ids: map[string]string{}, pins: map[string]string{}, seats: map[string]Seat{}}
}

// On is another day of the same programme: it knows who and what everything is, and has no event yet.
func (s *Stage) On(date civil.Date) *Stage {
	other := NewStage(s.P, s.Clock, s.Zone, date)
	other.ids, other.pins = s.ids, s.pins
	return other
}

// Time gives a moment of the day from "10:05" or "10:05:30".
func (s *Stage) Time(clock string) time.Time {
	layout := "15:04"
	if len(clock) > 5 {
		layout = "15:04:05"
	}
	t, err := time.Parse(layout, clock)
	if err != nil {
		panic(err)
	}
	return s.Date.Time(s.Zone).Add(time.Duration(t.Hour())*time.Hour + time.Duration(t.Minute())*time.Minute + time.Duration(t.Second())*time.Second)
}

// Put places an act at a moment. Acts at the same moment keep the order in which they were put.
func (s *Stage) Put(at time.Time, what string, do func(context.Context) error) {
	s.count++
	s.acts = append(s.acts, act{at: at, n: s.count, do: do, in: what})
}

// Play does every act that was put, in order of time, and forgets them.
func (s *Stage) Play(ctx context.Context) error {
	acts := s.acts
	s.acts = nil
	sort.SliceStable(acts, func(i, j int) bool {
		if !acts[i].at.Equal(acts[j].at) {
			return acts[i].at.Before(acts[j].at)
		}
		return acts[i].n < acts[j].n
	})
	for _, a := range acts {
		s.Clock.Set(a.at)
		if err := a.do(ctx); err != nil {
			return fmt.Errorf("%s, %s: %w", a.at.Format("15:04:05"), a.in, err)
		}
	}
	return nil
}

// space is the name space of the ids of invented commands.
var space = uuid.MustParse("6f6f1a52-3c0c-4d6e-9a5e-0f5b8f1c0d10")

// Act gives the next command id: the same day has the same ids each time it is made.
func (s *Stage) Act() programme.Act {
	s.count++
	return programme.Act{ID: uuid.NewSHA1(space, fmt.Appendf(nil, "%s %d", s.Date, s.count)).String()}
}

// Name keeps the id of something under a name.
func (s *Stage) Name(name, id string) { s.ids[name] = id }

// ID gives the id of a name that was kept.
func (s *Stage) ID(name string) string {
	id, ok := s.ids[name]
	if !ok {
		panic("demo: nothing is called " + name)
	}
	return id
}

// As is a person as the actor of a command.
func (s *Stage) As(name string) programme.Actor { return programme.Actor{Person: s.ID(name)} }

// Sign is a person's signature.
func (s *Stage) Sign(name string) programme.Sign {
	return programme.Sign{Person: s.ID(name), PIN: s.pins[name]}
}

// SetPIN remembers a person's PIN, so that they can sign.
func (s *Stage) SetPIN(name, pin string) { s.pins[name] = pin }

// Sit puts a screener with meter, vial and wipes at a station, from the next act on.
func (s *Stage) Sit(station string, seat Seat) { s.seats[station] = seat }

// Seat tells who sits at a station.
func (s *Stage) Seat(station string) Seat { return s.seats[station] }

// Guest is one participant at the desk.
type Guest struct {
	Language string            // "en" when empty
	Answers  protocol.Answers  // beyond the usual ones: 46 years, no to everything
	Ate      time.Duration     // how long ago; 0 is not known
	Contact  programme.Contact // Allow false: no contact
	Desk     string            // who sits at the desk
	ID       string            // visit id, once arrived
	Ticket   int
}

// usual are the answers of somebody for whom nothing is special.
func usual() protocol.Answers {
	return protocol.Answers{"crisis-signs": "none", "age": "46", "known-diabetes": "no", "pregnancy": "no", "icodextrin": "no", "bleeding": "no", "fainted": "no", "arm": "no"}
}

// Arrive hands a ticket to a guest now.
func (s *Stage) Arrive(ctx context.Context, g *Guest) error {
	if g.Language == "" {
		g.Language = "en"
	}
	t, err := s.P.Arrive(ctx, s.As(g.Desk), programme.Arrive{Act: s.Act(), Event: s.Event, Language: g.Language})
	g.ID, g.Ticket = t.Visit, t.Number
	return err
}

// Consent records a guest's yes now.
func (s *Stage) Consent(ctx context.Context, g *Guest) error {
	d, err := s.P.Day(ctx, s.Event)
	if err != nil {
		return err
	}
	_, err = s.P.Consent(ctx, s.As(g.Desk), programme.Consent{Act: s.Act(), Visit: g.ID, Version: d.Protocol.Consent.Version, Language: g.Language, How: "read"})
	return err
}

// Register takes a guest through the rest of the desk now; a guest who is not eligible goes no further.
func (s *Stage) Register(ctx context.Context, g *Guest) error {
	if err := s.Consent(ctx, g); err != nil {
		return err
	}
	answers := usual()
	for k, v := range g.Answers {
		answers[k] = v
	}
	a, err := s.P.Answer(ctx, s.As(g.Desk), programme.Answer{Act: s.Act(), Visit: g.ID, Answers: answers})
	if err != nil || !a.Eligible {
		return err
	}
	ate := programme.LastAte{Act: s.Act(), Visit: g.ID}
	if g.Ate > 0 {
		ate.Known, ate.At = true, s.Clock.Now().Add(-g.Ate)
	}
	if _, err := s.P.LastAte(ctx, s.As(g.Desk), ate); err != nil {
		return err
	}
	c := g.Contact
	c.Act, c.Visit = s.Act(), g.ID
	if _, err = s.P.Contact(ctx, s.As(g.Desk), c); err != nil {
		return err
	}
	d, err := s.P.Day(ctx, s.Event)
	if err != nil || !d.AsksAbout() {
		return err
	}
	_, err = s.P.TellAbout(ctx, s.As(g.Desk), programme.TellAbout{Act: s.Act(), Visit: g.ID, Answers: tells(d.Charter.Asks, g, false)})
	return err
}

// tells invents what a guest says about themself: always the same for the same ticket and language, sometimes nothing.
func tells(asks []string, g *Guest, end bool) about.Answers {
	out := about.Answers{}
	if g.Ticket%8 == 3 {
		return out // passed over
	}
	for i, q := range about.Chosen(asks, end) {
		n := g.Ticket*(7+2*i) + i
		if n%13 == 5 {
			out[q.Key] = []string{about.PreferNot}
			continue
		}
		codes := q.Codes()
		if q.Key == about.Race {
			codes = []string{"white", "black", "white", "hispanic", "black", "asian", "white"}
			if g.Language == "es" {
				codes = []string{"hispanic"}
			}
		}
		if len(codes) == 0 {
			codes = []string{"041", "043"}
		}
		out[q.Key] = []string{codes[n%len(codes)]}
	}
	return out
}

// Shot is one reading at a station.
type Shot struct {
	Reading   string
	SameStick bool
	Misfires  int
	Unwashed  bool
	Reason    string // for a repeat that no rule asks for
	Agreed    string // supervisor who agrees to a further stick
}

// Call takes a guest's ticket up at a test station now.
func (s *Stage) Call(ctx context.Context, g *Guest, station string) error {
	seat := s.seats[station]
	_, err := s.P.CallTicket(ctx, s.As(seat.Screener), programme.CallTicket{Act: s.Act(), Visit: g.ID, Step: "test", Station: station})
	return err
}

// Read takes a reading of a guest at a station now.
func (s *Stage) Read(ctx context.Context, g *Guest, station string, shot Shot) (programme.Read, error) {
	seat := s.seats[station]
	c := programme.TakeReading{
		Act: s.Act(), Visit: g.ID, Station: station, Meter: s.ID(seat.Meter), StripLot: s.ID(seat.Lot), Vial: seat.Vial,
		Reading: shot.Reading, Again: shot.Reading, SameStick: shot.SameStick, Misfires: shot.Misfires, Washed: !shot.Unwashed, Voluntary: shot.Reason,
	}
	if shot.Agreed != "" {
		c.Agreed = s.Sign(shot.Agreed)
	}
	return s.P.TakeReading(ctx, s.As(seat.Screener), c)
}

// Clear puts the lancets into sharps and wipes the meter now.
func (s *Stage) Clear(ctx context.Context, g *Guest, station string) error {
	seat := s.seats[station]
	_, err := s.P.FinishTest(ctx, s.As(seat.Screener), programme.FinishTest{Act: s.Act(), Visit: g.ID, Station: station, Meter: s.ID(seat.Meter), Disinfectant: s.ID(seat.Wipe)})
	return err
}

// Explain takes a guest through the station Explain now, with the referral that the finding asks for.
func (s *Stage) Explain(ctx context.Context, g *Guest, counsellor, station, route string, agreed bool) error {
	who := s.As(counsellor)
	if _, err := s.P.CallTicket(ctx, who, programme.CallTicket{Act: s.Act(), Visit: g.ID, Step: "explain", Station: station}); err != nil {
		return err
	}
	if _, err := s.P.Explain(ctx, who, programme.Explain{Act: s.Act(), Visit: g.ID, Language: g.Language, TeachBack: "own-words", Station: station}); err != nil {
		return err
	}
	d, err := s.P.Day(ctx, s.Event)
	if err != nil {
		return err
	}
	if f := d.Visit(g.ID).Finding(); f != nil && f.Refer {
		if _, err := s.P.Refer(ctx, who, programme.Refer{Act: s.Act(), Visit: g.ID, Route: route, Agreed: agreed}); err != nil {
			return err
		}
	}
	_, err = s.P.IssueSlip(ctx, who, programme.IssueSlip{Act: s.Act(), Visit: g.ID, Language: g.Language, Size: "half-letter"})
	return err
}

// Finish ends a guest's visit now.
func (s *Stage) Finish(ctx context.Context, g *Guest, counsellor string) error {
	d, err := s.P.Day(ctx, s.Event)
	if err != nil {
		return err
	}
	_, err = s.P.FinishVisit(ctx, s.As(counsellor), programme.FinishVisit{Act: s.Act(), Visit: g.ID, Answers: tells(d.Charter.Asks, g, true)})
	return err
}

// RunControls runs levels of control on a meter now, one reading each.
func (s *Stage) RunControls(ctx context.Context, operator, meter, lot, vial string, readings map[string]string) error {
	for _, level := range []string{"1", "2"} {
		shown, ok := readings[level]
		if !ok {
			continue
		}
		_, err := s.P.RunControl(ctx, s.As(operator), programme.RunControl{
			Act: s.Act(), Event: s.Event, Meter: s.ID(meter), StripLot: s.ID(lot), Vial: vial,
			ControlLot: s.ID("control " + level), Bottle: s.ID("bottle " + level), Reading: shown,
		})
		if err != nil {
			return err
		}
	}
	return nil
}
