package programme

import (
	"context"
	"sort"
	"time"

	"fairstick/internal/charter"
	"fairstick/internal/civil"
	"fairstick/internal/event"
	"fairstick/internal/followup"
	"fairstick/internal/store"
	"fairstick/internal/visit"
)

// FollowUp is one person who was advised to see someone, and how it stands with them. It holds no name and no number.
type FollowUp struct {
	Event  *event.State // in Calls with little more than its name and day
	Visit  *visit.State
	State  *followup.State  // nil while nobody has begun
	Due    time.Time        // by when the person was to be seen
	Urgent bool             // the finding was critical
	May    bool             // the person may be called: permission was given and the contact is kept
	Status followup.Outcome // the outcome that stands; empty while it is open
	Task   *followup.Task   // what is due next; nil when nothing is, and always without permission
	Case   followup.Case
}

// LateAt reports whether the task of a follow-up is late.
func (f FollowUp) LateAt(now time.Time) bool { return f.Task != nil && f.Task.LateAt(now) }

// FollowUpScope says which referrals are asked for. The zero scope is all.
type FollowUpScope struct {
	Event       string     // id; empty for all
	From, Until civil.Date // day of the event, both included; zero for no limit
}

func (s FollowUpScope) holds(ev *event.State) bool {
	return (s.Event == "" || s.Event == ev.ID) && !ev.Plan.Date.Before(s.From) &&
		(s.Until.IsZero() || !ev.Plan.Date.After(s.Until))
}

// FollowUps lists the referrals of a scope in the order of events and tickets. Names stay sealed.
func (p *Programme) FollowUps(ctx context.Context, scope FollowUpScope) (out []FollowUp, err error) {
	err = p.store.Read(ctx, func(v *store.View) (err error) {
		out, err = readFollowUps(v, scope)
		return err
	})
	return out, err
}

func readFollowUps(v *store.View, scope FollowUpScope) ([]FollowUp, error) {
	ch, err := readCharter(v)
	if err != nil {
		return nil, err
	}
	var events []*event.State
	if scope.Event != "" {
		st, ok, err := v.State(event.Ref(scope.Event))
		if err != nil || !ok {
			return nil, err
		}
		events = []*event.State{st.(*event.State)}
	} else {
		from, before := labelsOf(scope.From, scope.Until)
		if events, err = listed[*event.State](v.Labelled(event.Kind, from, before)); err != nil {
			return nil, err
		}
	}
	var out []FollowUp
	for _, ev := range events {
		if ev.Phase == event.IsPlanned || !scope.holds(ev) {
			continue
		}
		some, err := eventFollowUps(v, ch, ev)
		if err != nil {
			return nil, err
		}
		out = append(out, some...)
	}
	return out, nil
}

// lastLabel comes after every label.
const lastLabel = "\U0010ffff"

// labelsOf gives the bounds of the labels of events from one day until another, both included: a label begins with the day. A zero
// day leaves its end open.
func labelsOf(from, until civil.Date) (first, before string) {
	before = lastLabel
	if !from.IsZero() {
		first = from.String()
	}
	if !until.IsZero() {
		before = until.AddDays(1).String()
	}
	return first, before
}

func readCharter(v *store.View) (*charter.State, error) {
	st, ok, err := v.State(charter.Ref)
	if err != nil || !ok {
		return &charter.State{ID: charter.Ref.ID}, err
	}
	return st.(*charter.State), nil
}

// eventFollowUps reads the referrals of one event in the order of tickets.
func eventFollowUps(v *store.View, ch *charter.State, ev *event.State) ([]FollowUp, error) {
	visits, err := listed[*visit.State](v.Mentioning(visit.Kind, ev.ID, "referral", "asked"))
	if err != nil || len(visits) == 0 {
		return nil, err
	}
	begun, err := listed[*followup.State](v.Children(followup.Kind, ev.ID))
	if err != nil {
		return nil, err
	}
	by := make(map[string]*followup.State, len(begun))
	for _, s := range begun {
		by[s.ID] = s
	}
	proto, err := protocolFor(ch, ev)
	if err != nil {
		return nil, err
	}
	out := make([]FollowUp, len(visits))
	for i, x := range visits {
		out[i] = followUpOf(ev, x, by[x.ID], caseOf(x, ev, proto))
	}
	return out, nil
}

func followUpOf(ev *event.State, v *visit.State, st *followup.State, c followup.Case) FollowUp {
	f := v.Finding()
	x := FollowUp{
		Event: ev, Visit: v, State: st, Urgent: f.Critical, May: MayCall(v), Case: c,
		Due: latest(v.Times.FirstRead, v.Times.Found).AddDate(0, 0, f.WithinDays), Status: st.Status(c),
	}
	if v.Referral != nil {
		x.Due = v.Referral.By
	}
	if !x.May {
		return x
	}
	if t, ok := st.Next(c); ok {
		x.Task = &t
	}
	return x
}

// FollowUpOf reads how it stands with one referral, with what the day of its event knows. It is refused where nobody may
// follow up: without a referral, and without permission.
func (p *Programme) FollowUpOf(ctx context.Context, visitID string) (FollowUp, *Day, error) {
	v, err := One[*visit.State](ctx, p, visit.Ref(visitID))
	if err != nil {
		return FollowUp{}, nil, err
	}
	d, err := p.Day(ctx, v.Event)
	if err != nil {
		return FollowUp{}, nil, err
	}
	if d.ProtocolErr != nil {
		return FollowUp{}, nil, d.ProtocolErr
	}
	switch {
	case !v.Refers():
		return FollowUp{}, nil, refuse("no-referral", "The finding of this ticket asks for no referral.", "People are called about a referral alone.", "Go back to the list.")
	case !MayCall(v):
		return FollowUp{}, nil, noPermission(v)
	}
	st, err := p.followUpState(ctx, visitID)
	return followUpOf(d.Event, v, st, caseOf(v, d.Event, d.Protocol)), d, err
}

// FollowUps lists the referrals of the event in the order of their tickets.
func (d *Day) FollowUps() []FollowUp {
	by := make(map[string]*followup.State, len(d.Followed))
	for _, s := range d.Followed {
		by[s.ID] = s
	}
	var out []FollowUp
	for _, v := range d.Visits {
		if v.Refers() && d.ProtocolErr == nil {
			out = append(out, followUpOf(d.Event, v, by[v.ID], caseOf(v, d.Event, d.Protocol)))
		}
	}
	return out
}

// CriticalCalls lists what is still to be done for those with a critical finding who may be called, in the order in which it
// is due.
func (d *Day) CriticalCalls(now time.Time) []FollowUp {
	var out []FollowUp
	for _, f := range d.FollowUps() {
		if f.Urgent && f.Task != nil {
			out = append(out, f)
		}
	}
	inOrder(out, now)
	return out
}

// followUpState reads a follow-up; nil while nobody has begun.
func (p *Programme) followUpState(ctx context.Context, visitID string) (out *followup.State, err error) {
	err = p.store.Read(ctx, func(v *store.View) error {
		st, ok, err := v.State(followup.Ref(visitID))
		if ok {
			out = st.(*followup.State)
		}
		return err
	})
	return out, err
}

// Calls is the work of following up as of a moment, the most urgent first: what is late after a critical finding, then other
// critical ones, then by when it is due. Of the event of each there is no more than its name, day, zone and phase.
type Calls struct {
	Open         []FollowUp     // can be done now, or is late
	Later        []FollowUp     // due on a later day or at a later hour
	NoPermission map[string]int // people who may not be called, by band; nothing else is told about them
	Rested       int            // open, but after the last day on which anybody is called
}

// Calls lists what is to be done in following up. Events whose last day of calling is over are left out but for their number, which is
// counted once and kept until anything about such an event changes, so that the list takes as long as the events of the last weeks.
func (p *Programme) Calls(ctx context.Context) (Calls, error) {
	out := Calls{NoPermission: map[string]int{}}
	now := p.now()
	var fresh []store.Counted
	err := p.store.Read(ctx, func(v *store.View) error {
		r, err := newResting(v)
		if err != nil {
			return err
		}
		return r.events(now, func(g restGroup) error {
			if n, ok := g.kept(); ok {
				out.Rested += n
				return nil
			}
			list, err := r.followUps(g)
			if err != nil {
				return err
			}
			if g.over {
				n := rested(list)
				out.Rested += n
				fresh = append(fresh, store.Counted{ID: g.ID, Stamp: g.Stamp, Line: g.line(n)})
				return nil
			}
			for _, f := range list {
				switch {
				case !f.May:
					out.NoPermission[string(f.Visit.Finding().Band)]++
				case f.Task == nil:
				case f.Task.OpenAt(now):
					out.Open = append(out.Open, f)
				default:
					out.Later = append(out.Later, f)
				}
			}
			return nil
		})
	})
	p.keepCounts(context.WithoutCancel(ctx), restedCount, fresh) // also when the page was left: the next one has less to count
	if err != nil {
		return Calls{NoPermission: map[string]int{}}, err
	}
	inOrder(out.Open, now)
	inOrder(out.Later, now)
	return out, nil
}

// inOrder puts tasks into the order in which they are done.
func inOrder(list []FollowUp, now time.Time) {
	rank := func(f FollowUp) int {
		switch {
		case f.Urgent && f.LateAt(now):
			return 0
		case f.Urgent:
			return 1
		}
		return 2
	}
	sort.SliceStable(list, func(i, j int) bool {
		a, b := list[i], list[j]
		if rank(a) != rank(b) {
			return rank(a) < rank(b)
		}
		if !a.Task.By.Equal(b.Task.By) {
			return a.Task.By.Before(b.Task.By)
		}
		if a.Visit.Finding().Urgency != b.Visit.Finding().Urgency {
			return a.Visit.Finding().Urgency.Order() > b.Visit.Finding().Urgency.Order()
		}
		return a.Task.From.Before(b.Task.From)
	})
}
