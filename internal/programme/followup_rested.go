package programme

import (
	"time"

	"fairstick/internal/charter"
	"fairstick/internal/civil"
	"fairstick/internal/event"
	"fairstick/internal/fact"
	"fairstick/internal/protocol"
	"fairstick/internal/store"
)

// restedCount is the name under which the store keeps, of an event whose last day of calling is over, how many people were never
// known to be seen.
const restedCount = "rested"

// resting goes over the events in which people are or were followed up.
type resting struct {
	v      *store.View
	ch     *charter.State
	protos map[string]*protocol.Protocol // by version; nil where none holds
	zones  zonesCache
}

func newResting(v *store.View) (*resting, error) {
	ch, err := readCharter(v)
	return &resting{v: v, ch: ch, protos: map[string]*protocol.Protocol{}, zones: zonesCache{}}, err
}

// restGroup is one event with whether its last day of calling is over.
type restGroup struct {
	store.Group
	over    bool
	version string // of the protocol whose rules hold
	tally   event.Tally
	day     civil.Date
}

// brief is the event with no more than what a follow-up asks of it: an event is large, and there are many.
func (g restGroup) brief() *event.State {
	ev := &event.State{ID: g.ID, Plan: event.Planned{Name: g.tally.Name, Date: g.day, Zone: g.tally.Zone}, Phase: g.tally.Phase}
	if g.tally.Protocol != "" {
		ev.Opened = &event.Opened{Protocol: g.tally.Protocol}
	}
	return ev
}

// kept gives the count that is kept of an event that is over.
func (g restGroup) kept() (n int, ok bool) {
	if !g.over || !g.Holds {
		return 0, false
	}
	r := fact.ReadLine(g.Kept)
	version, n := r.Text(), r.Int()
	return n, r.Err() == nil && version == g.version
}

// line writes the count down, with the protocol under whose rules it was made.
func (g restGroup) line(n int) string {
	var l fact.Line
	l.Text(g.version)
	l.Int(n)
	return l.String()
}

// rested counts who would still be called, were it not over.
func rested(list []FollowUp) int {
	n := 0
	for _, f := range list {
		if f.May && f.Task != nil {
			n++
		}
	}
	return n
}

// events shows every event that was opened, in the order of days.
func (r *resting) events(now time.Time, do func(restGroup) error) error {
	return r.v.Groups(restedCount, event.Kind, "", lastLabel, func(g store.Group) error {
		x, err := event.ReadTally(g.Line)
		if err != nil || x.Phase == event.IsPlanned {
			return err
		}
		day, err := civil.Parse(x.Date)
		if err != nil {
			return err
		}
		out := restGroup{Group: g, tally: x, day: day}
		if proto := r.protocol(x.Protocol); proto != nil {
			out.version = proto.Version
			out.over = civil.Of(now.In(r.zones.of(x.Zone))).After(day.AddDays(proto.CallingRules().LastDay))
		}
		return do(out)
	})
}

// protocol gives the protocol of an event that was opened under a version; nil when none was signed.
func (r *resting) protocol(version string) *protocol.Protocol {
	if p, ok := r.protos[version]; ok {
		return p
	}
	ev := &event.State{}
	if version != "" {
		ev.Opened = &event.Opened{Protocol: version}
	}
	var out *protocol.Protocol
	if p, err := protocolFor(r.ch, ev); err == nil {
		out = &p
	}
	r.protos[version] = out
	return out
}

// followUps reads the referrals of an event, with no more of the event than brief gives.
func (r *resting) followUps(g restGroup) ([]FollowUp, error) {
	return eventFollowUps(r.v, r.ch, g.brief())
}

// check counts again what is kept, and names the events where it differs.
func (r *resting) check(now time.Time) (wrong []string, err error) {
	err = r.events(now, func(g restGroup) error {
		n, ok := g.kept()
		if !ok {
			return nil
		}
		list, err := r.followUps(g)
		if err == nil && n != rested(list) {
			wrong = append(wrong, "How many people were never known to be seen after "+g.Label+" is not what its follow-up says.")
		}
		return err
	})
	return wrong, err
}
