package programme

import (
	"context"
	"fmt"
	"slices"
	"sort"
	"strings"
	"time"

	"fairstick/internal/charter"
	"fairstick/internal/civil"
	"fairstick/internal/competence"
	"fairstick/internal/event"
	"fairstick/internal/fact"
	"fairstick/internal/people"
	"fairstick/internal/protocol"
	"fairstick/internal/stock"
	"fairstick/internal/store"
)

// DueKind says what sort of thing is due.
type DueKind string

// What a countdown holds.
const (
	DueTask         DueKind = "task"
	DueCertificate  DueKind = "certificate"
	DueVerification DueKind = "verification"
	DueMeter        DueKind = "meter"
)

// Due is one thing that must be there by a day.
type Due struct {
	Kind    DueKind
	Event   *event.State // the event that it is about; nil for what concerns the programme as a whole
	Subject string       // id of the task, person or meter
	Role    people.Role  // of a verification
	What    string
	Says    string // how it stands, in one sentence; may be empty
	Do      string // what to do now; may be empty
	On      civil.Date
	Left    int    // days until then; negative when it is late
	Owner   string // name of who sees to it; may be empty
	Task    *event.Task
	Files   []Attachment // of a task, the newest first
	Open    bool

	Stamp    time.Time // when the record last had to do with it
	Revision int       // how often it was changed
	UID      string    // the same for the same thing for ever
}

// Late reports whether it should have been there before today.
func (d Due) Late() bool { return d.Open && d.Left < 0 }

// Countdown is what must be there before an event, or before all that are planned, from one moment of the record.
type Countdown struct {
	Today   civil.Date
	Event   *event.State   // nil for the countdown of all events
	Events  []*event.State // those that it is about, in the order of their dates
	Charter *charter.State
	People  []*people.State // who take part
	Open    []Due           // the latest first: what should have been there comes before what is still to come
	Settled []Due           // done or waived, the last one first

	files    map[string][]Attachment // by event
	dates    map[string]dated        // of the plan of each event
	root     string                  // id of the first fact of the programme
	training map[string]standing
}

// dated is when something was written down last, and how often.
type dated struct {
	at    time.Time
	times int
}

// NameOf gives the name of a person who takes part.
func (c *Countdown) NameOf(id string) string {
	for _, p := range c.People {
		if p.ID == id {
			return p.Details.Name
		}
	}
	return "somebody who has left"
}

// Late counts what should have been there.
func (c *Countdown) Late() int {
	n := 0
	for _, d := range c.Open {
		if d.Late() {
			n++
		}
	}
	return n
}

// ExpiryHorizon is how many days ahead an expiry is named when no event asks for it earlier.
const ExpiryHorizon = 90

// Countdown reads the countdown of one event, or of all events that are ahead when eventID is empty.
func (p *Programme) Countdown(ctx context.Context, eventID string) (*Countdown, error) {
	c := &Countdown{Charter: &charter.State{ID: charter.Ref.ID}, dates: map[string]dated{}, files: map[string][]Attachment{}}
	var meters []*stock.Meter
	stamps := map[fact.Ref]dated{}
	err := p.store.Read(ctx, func(v *store.View) error {
		events, err := listed[*event.State](v.All(event.Kind))
		if err != nil {
			return err
		}
		if err := c.choose(events, eventID, p.now()); err != nil {
			return err
		}
		if st, ok, err := v.State(charter.Ref); err != nil {
			return err
		} else if ok {
			c.Charter = st.(*charter.State)
		}
		all, err := listed[*people.State](v.All(people.Kind))
		if err != nil {
			return err
		}
		for _, x := range all {
			if x.Gone == "" {
				c.People = append(c.People, x)
			}
		}
		for _, ev := range c.Events {
			files, err := readAttachments(v, ev.ID)
			if err != nil {
				return err
			}
			c.files[ev.ID] = files
		}
		if meters, err = listed[*stock.Meter](v.All(stock.MeterKind)); err != nil {
			return err
		}
		if c.training, err = readTraining(v, p.now().Location()); err != nil {
			return err
		}
		return c.stamps(v, meters, stamps)
	})
	if err != nil {
		return nil, err
	}
	for _, ev := range c.Events {
		for i := range ev.Tasks {
			d := c.task(ev, &ev.Tasks[i])
			d.Files = ofTask(c.files[ev.ID], ev.Tasks[i].Task)
			c.add(d)
		}
	}
	c.expiries(meters, stamps)
	sort.SliceStable(c.Open, func(i, j int) bool { return c.Open[i].On.Before(c.Open[j].On) })
	sort.SliceStable(c.Settled, func(i, j int) bool { return c.Settled[i].On.After(c.Settled[j].On) })
	return c, nil
}

// choose keeps the event that was asked for, or those that are ahead or have something left to do after them.
func (c *Countdown) choose(events []*event.State, id string, now time.Time) error {
	c.Today = civil.Of(now)
	for _, ev := range events {
		switch {
		case id == ev.ID:
			c.Event, c.Today = ev, ev.Day(now)
			c.Events = []*event.State{ev}
			return nil
		case id == "" && (ev.Phase != event.IsClosed && !ev.Plan.Date.Before(ev.Day(now)) || leftAfter(ev)):
			c.Events = append(c.Events, ev)
		}
	}
	if id != "" {
		return missing(event.Ref(id))
	}
	return nil
}

func leftAfter(ev *event.State) bool {
	return slices.ContainsFunc(ev.Tasks, func(t event.Task) bool { return t.After && t.Open() })
}

// stamps reads when the things of a countdown were last written down.
func (c *Countdown) stamps(v *store.View, meters []*stock.Meter, out map[fact.Ref]dated) error {
	last := func(ref fact.Ref, kinds ...string) error {
		records, err := v.Records(ref)
		if err != nil {
			return err
		}
		var d dated
		for i, r := range records {
			if ref == charter.Ref && i == 0 {
				c.root = r.ID
			}
			if slices.Contains(kinds, r.Body.FactKind()) {
				d.times++
				if r.At.After(d.at) {
					d.at = r.At
				}
			}
		}
		out[ref] = d
		return nil
	}
	if err := last(charter.Ref, charter.Described{}.FactKind()); err != nil {
		return err
	}
	for _, x := range c.People {
		if err := last(people.Ref(x.ID), people.Described{}.FactKind(), people.Verified{}.FactKind(), people.VerificationWithdrawn{}.FactKind()); err != nil {
			return err
		}
	}
	for _, m := range meters {
		if err := last(stock.MeterRef(m.ID), stock.MeterDescribed{}.FactKind(), stock.MeterReviewed{}.FactKind()); err != nil {
			return err
		}
	}
	for _, ev := range c.Events {
		if err := last(event.Ref(ev.ID), event.Planned{}.FactKind()); err != nil {
			return err
		}
		c.dates[ev.ID] = out[event.Ref(ev.ID)]
	}
	return nil
}

// add puts a thing among the open or the settled ones.
func (c *Countdown) add(d Due) {
	d.Left = c.Today.DaysUntil(d.On)
	if d.Open {
		c.Open = append(c.Open, d)
		return
	}
	c.Settled = append(c.Settled, d)
}

func (c *Countdown) task(ev *event.State, t *event.Task) Due {
	plan := c.dates[ev.ID]
	d := Due{
		Kind: DueTask, Event: ev, Subject: t.Task, What: t.What, On: t.Due(ev.Plan.Date), Owner: c.name(t.Owner), Task: t, Open: t.Open(),
		Stamp: later(t.Changed, plan.at), Revision: t.Times + plan.times - 2, UID: ev.ID + "." + t.Task,
	}
	switch {
	case t.Done != nil:
		d.Says = "Done on " + t.Done.On.Long() + "."
	case t.Waived != "":
		d.Says = "Not needed: " + t.Waived
	case !t.After && c.Today.After(ev.Plan.Date):
		d.Says = "The day of the event has passed."
		d.Do = "Write down when it was done, or why it was not needed."
	}
	return d
}

func (c *Countdown) name(id string) string {
	for _, p := range c.People {
		if p.ID == id {
			return p.Details.Name
		}
	}
	return ""
}

func later(a, b time.Time) time.Time {
	if a.After(b) {
		return a
	}
	return b
}

// expiries adds what must be in date: the certificate, proofs of verification and reviews of meters.
func (c *Countdown) expiries(meters []*stock.Meter, stamps map[fact.Ref]dated) {
	next := c.next()
	if d, ok := c.certificate(next); ok {
		s := stamps[charter.Ref]
		d.Stamp, d.Revision, d.UID = s.at, max(0, s.times-1), c.root+".certificate"
		c.add(d)
	}
	if a, ok := c.Charter.InForce(); ok {
		for _, d := range c.proofs(a.Protocol) {
			s := stamps[people.Ref(d.Subject)]
			d.Stamp, d.Revision, d.UID = s.at, max(0, s.times-1), d.Subject+"."+string(d.Role)
			c.add(d)
		}
	}
	if next == nil {
		return
	}
	for _, m := range meters {
		if m.Quarantine != nil || m.Reviewed() == "" {
			continue
		}
		s, plan := stamps[stock.MeterRef(m.ID)], c.dates[next.ID]
		c.add(Due{
			Kind: DueMeter, Event: c.Event, Subject: m.ID, What: "Review of meter " + m.Details.Label, Says: m.Reviewed(),
			Do: "Read its instructions and sign the review, or leave it at home.", On: next.Plan.Date.AddDays(-1), Open: true,
			Stamp: later(s.at, plan.at), Revision: s.times + plan.times - 2, UID: next.ID + "." + m.ID + ".review",
		})
	}
}

// next is the event that comes first of those that are not over; nil when there is none.
func (c *Countdown) next() *event.State {
	for _, ev := range c.Events {
		if ev.Phase != event.IsClosed && !ev.Plan.Date.Before(c.Today) {
			return ev
		}
	}
	return nil
}

// certificate is due on its last day. Without one on record it is due the day before the next event.
func (c *Countdown) certificate(next *event.State) (Due, bool) {
	d := Due{Kind: DueCertificate, Event: c.Event, Subject: charter.Ref.ID, What: "Renew the certificate of waiver", On: c.Charter.Details.CertificateUntil, Open: true}
	if c.Charter.Details.Certificate == "" || d.On.IsZero() {
		if next == nil {
			return d, false
		}
		d.What, d.On = "Certificate of waiver", next.Plan.Date.AddDays(-1)
		d.Says, d.Do = "It is not on record.", "Type its number and last day under Programme."
		return d, true
	}
	ends := "It ends on " + d.On.Long()
	for _, ev := range c.Events {
		if ev.Plan.Date.After(d.On) && ev.Phase != event.IsClosed {
			d.Says = fmt.Sprintf("%s; %s is on %s.", ends, ev.Plan.Name, ev.Plan.Date.Long())
			d.Do = "Renew it and type the new last day under Programme."
			return d, true
		}
	}
	if c.Event != nil && next != nil {
		d.What, d.Says, d.Open = "Certificate of waiver", ends+", after this event.", false
		return d, true
	}
	d.Says = ends + "."
	return d, c.Event == nil && c.Today.DaysUntil(d.On) <= ExpiryHorizon
}

// proofs are the verifications that the people on a roster lack on the day; in the countdown of all events also those that
// end within the horizon.
func (c *Countdown) proofs(proto protocol.Protocol) []Due {
	var out []Due
	named := map[string]bool{}
	for _, ev := range c.Events {
		if ev.Phase == event.IsClosed || ev.Plan.Date.Before(c.Today) {
			continue
		}
		for _, post := range ev.Roster {
			who, role := c.person(post.Person), people.Role(post.Role)
			if who == nil || named[post.Person+post.Role] {
				continue
			}
			f := verifiedFault(who, c.training[who.ID], role, proto, ev.Plan.Date)
			if f == nil {
				continue
			}
			named[post.Person+post.Role] = true
			d := Due{
				Kind: DueVerification, Event: ev, Subject: who.ID, Role: role, Owner: who.Details.Name, What: "Verify " + who.Details.Name + " as " + post.Role,
				Says: fmt.Sprintf("%s %s is on %s.", f.Sentence, ev.Plan.Name, ev.Plan.Date.Long()), Do: "Verify and record it, or give the post to somebody else.",
				On: ev.Plan.Date.AddDays(-1), Open: true,
			}
			if v, ok := who.LastFor(role); ok && v.Withdrawn == "" && v.Until.Before(d.On) {
				d.On = v.Until
			}
			out = append(out, d)
		}
	}
	if c.Event != nil {
		return out
	}
	for _, who := range c.People {
		for _, role := range who.Details.Roles {
			if d, ok := c.lapse(who, role, proto); ok && !named[who.ID+string(role)] {
				out = append(out, d)
				continue
			}
			v, ok := who.LastFor(role)
			if ok && verifiedFault(who, c.training[who.ID], role, proto, v.Until.AddDays(1)) == nil {
				continue // training outlasts it
			}
			if !ok || v.Withdrawn != "" || named[who.ID+string(role)] || !slices.Contains(proto.Verification.Roles, string(role)) || c.Today.DaysUntil(v.Until) > ExpiryHorizon {
				continue
			}
			ends := "ends"
			if v.Until.Before(c.Today) {
				ends = "ended"
			}
			out = append(out, Due{
				Kind: DueVerification, Subject: who.ID, Role: role, Owner: who.Details.Name, What: fmt.Sprintf("Verify %s as %s again", who.Details.Name, role),
				Says: fmt.Sprintf("The verification %s on %s.", ends, v.Until.Long()), On: v.Until, Open: true,
			})
		}
	}
	return out
}

// lapse is a verification by training that ends within the horizon and that nothing on paper outlasts.
func (c *Countdown) lapse(who *people.State, role people.Role, proto protocol.Protocol) (Due, bool) {
	has, level := c.training[who.ID], levelOf[role]
	rules, err := rulesOf(proto)
	if has.skill == nil || level == "" || err != nil || !slices.Contains(proto.Verification.Roles, string(role)) {
		return Due{}, false
	}
	until, because, ok := competence.ValidUntil(has.skill, rules, level, has.on(c.Today))
	if v, paper := who.VerifiedOn(role, c.Today); !ok || c.Today.DaysUntil(until) > ExpiryHorizon || paper && v.Until.After(until) {
		return Due{}, false
	}
	return Due{
		Kind: DueVerification, Subject: who.ID, Role: role, Owner: who.Details.Name, What: fmt.Sprintf("Verify %s as %s again", who.Details.Name, role),
		Says: fmt.Sprintf("The verification by training ends on %s: %s.", until.Long(), strings.ReplaceAll(because, "-", " ")), On: until, Open: true,
	}, true
}

func (c *Countdown) person(id string) *people.State {
	for _, p := range c.People {
		if p.ID == id {
			return p
		}
	}
	return nil
}

// Planned gives when the plan of an event was written down last, and how often it was changed since the first time.
func (c *Countdown) Planned(ev *event.State) (at time.Time, changes int) {
	d := c.dates[ev.ID]
	return d.at, max(0, d.times-1)
}
