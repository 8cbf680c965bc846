package programme

import (
	"context"
	"fmt"
	"slices"
	"time"

	"fairstick/internal/civil"
	"fairstick/internal/event"
	"fairstick/internal/fact"
	"fairstick/internal/fault"
	"fairstick/internal/followup"
	"fairstick/internal/incident"
	"fairstick/internal/lookback"
	"fairstick/internal/people"
	"fairstick/internal/retention"
	"fairstick/internal/store"
	"fairstick/internal/visit"
)

// RetentionReview is what is over its time and what must stay, from one moment of the record.
type RetentionReview struct {
	Rules    *retention.State
	Classes  []ClassReview
	Through  civil.Date // contacts of events up to this day are over their time
	Over     []OverDay  // the events with such contacts, the oldest first
	Erase    int        // contacts that can go
	Held     int        // contacts that must stay although their time is over
	Waiting  int        // of those that can go: somebody may still have to call
	Today    civil.Date
	visits   []*visit.State // those that can go
	cases    []string       // open look-backs and incidents when it was read
	Erasures []retention.Erasure
}

// ClassReview is one class of records: its rule, how many there are and how many are over their time.
type ClassReview struct {
	Rule  retention.Rule
	N     int        // events, people or incidents, as Unit says
	Unit  string     // what is counted
	Over  int        // of these, over their time
	First civil.Date // the oldest
	Until civil.Date // the last day of the oldest
}

// OverDay is one event whose contacts are over their time.
type OverDay struct {
	Event *event.State
	Until civil.Date // the last day on which they were to be kept
	Erase int
	Held  []string // why some stay, each with how many
}

// mostErased is how many contacts one erasure may destroy: it is one commit.
const mostErased = 20_000

// Retention reviews the record. Only a lead may ask.
func (p *Programme) Retention(ctx context.Context, a Actor) (*RetentionReview, error) {
	if _, err := p.lead(ctx, a); err != nil {
		return nil, err
	}
	return p.RetentionReport(ctx)
}

// RetentionReport is the review without anybody who asks: for the command line, which has the whole record anyway.
func (p *Programme) RetentionReport(ctx context.Context) (out *RetentionReview, err error) {
	err = p.store.Read(ctx, func(v *store.View) error {
		if out, err = p.contactsOver(v); err != nil {
			return err
		}
		return out.classes(v)
	})
	return out, err
}

// looker is what a review is read from: a snapshot, or the writer's own view.
type looker interface {
	State(ref fact.Ref) (fact.State, bool, error)
	All(kind string) ([]fact.State, error)
}

// openCases lists the look-backs and incidents that are open, by id: what may hold a contact.
func openCases(v looker) ([]string, error) {
	var out []string
	looks, err := listed[*lookback.State](v.All(lookback.Kind))
	if err != nil {
		return nil, err
	}
	for _, l := range looks {
		if l.Open() {
			out = append(out, l.ID)
		}
	}
	incidents, err := listed[*incident.State](v.All(incident.Kind))
	if err != nil {
		return nil, err
	}
	for _, s := range incidents {
		if s.Open() {
			out = append(out, s.ID)
		}
	}
	slices.Sort(out)
	return out, nil
}

func retentionRules(v looker) (*retention.State, error) {
	st, ok, err := v.State(retention.Ref)
	if err != nil || !ok {
		return retention.New(retention.Ref.ID).(*retention.State), err
	}
	return st.(*retention.State), nil
}

// contactsOver finds the contacts that are over their time, and what holds some of them.
func (p *Programme) contactsOver(v *store.View) (*RetentionReview, error) {
	rules, err := retentionRules(v)
	if err != nil {
		return nil, err
	}
	out := &RetentionReview{Rules: rules, Today: civil.Of(p.now()), Erasures: slices.Clone(rules.Erasures)}
	slices.Reverse(out.Erasures)
	rule := rules.Rule(retention.Contacts)
	events, err := listed[*event.State](v.All(event.Kind))
	if err != nil {
		return nil, err
	}
	holds, err := p.holds(v)
	if err != nil {
		return nil, err
	}
	if out.cases, err = openCases(v); err != nil {
		return nil, err
	}
	for _, ev := range events {
		until := rule.Until(ev.Plan.Date)
		if ev.Plan.Date.IsZero() || !out.Today.After(until) {
			continue
		}
		if out.Through.Before(ev.Plan.Date) {
			out.Through = ev.Plan.Date
		}
		list, err := listed[*visit.State](v.Mentioning(visit.Kind, ev.ID, "contact", "kept"))
		if err != nil {
			return nil, err
		}
		day := OverDay{Event: ev, Until: until}
		why := map[string]int{}
		for _, s := range list {
			if reason := holds.of(s); reason != "" {
				why[reason]++
				out.Held++
				continue
			}
			calls, _, err := v.State(followup.Ref(s.ID))
			if err != nil {
				return nil, err
			}
			if waitsForCall(s, calls) != "" {
				out.Waiting++
			}
			day.Erase++
			out.visits = append(out.visits, s)
		}
		for reason, n := range why {
			day.Held = append(day.Held, fmt.Sprintf("%d: %s", n, reason))
		}
		slices.Sort(day.Held)
		if len(list) > 0 {
			out.Over = append(out.Over, day)
			out.Erase += day.Erase
		}
	}
	return out, nil
}

// holding is what keeps a contact although its time is over.
type holding struct {
	looked map[string]bool             // visits of open look-backs
	ticket map[string]bool             // visits that an open incident names
	things map[string][]incident.State // open incidents of an event by meter or lot, or of the event as a whole
}

// holds reads the open look-backs and incidents.
func (p *Programme) holds(v *store.View) (holding, error) {
	h := holding{looked: map[string]bool{}, ticket: map[string]bool{}, things: map[string][]incident.State{}}
	looks, err := listed[*lookback.State](v.All(lookback.Kind))
	if err != nil {
		return h, err
	}
	for _, l := range looks {
		if !l.Open() {
			continue
		}
		found, err := p.again(v, l.Opened.Question)
		if err != nil {
			return h, err
		}
		for _, d := range found.Events {
			for _, x := range d.People {
				h.looked[x.Visit] = true
			}
		}
	}
	open, err := listed[*incident.State](v.All(incident.Kind))
	if err != nil {
		return h, err
	}
	for _, s := range open {
		switch {
		case !s.Open():
		case s.Report.Visit != "":
			h.ticket[s.Report.Visit] = true
		default:
			h.things[s.Report.Event] = append(h.things[s.Report.Event], *s)
		}
	}
	return h, nil
}

// of says why a contact must stay; empty when nothing holds it.
func (h holding) of(s *visit.State) string {
	switch {
	case s.OpenCare():
		return "care is still open"
	case h.looked[s.ID]:
		return "an open look-back touches them"
	case h.ticket[s.ID]:
		return "an open incident names the ticket"
	}
	for _, x := range h.things[s.Event] {
		meter, lot := x.Meter(), x.StripLot()
		if meter == "" && lot == "" {
			return "an incident of the event is open"
		}
		for _, r := range s.Readings {
			if meter != "" && r.Meter == meter || lot != "" && r.StripLot == lot {
				return "an open incident is about the meter or the strips"
			}
		}
	}
	return ""
}

// classes reviews every class: how many there are, the oldest, and how many are over their time.
func (r *RetentionReview) classes(v *store.View) error {
	events, err := listed[*event.State](v.All(event.Kind))
	if err != nil {
		return err
	}
	incidents, err := listed[*incident.State](v.All(incident.Kind))
	if err != nil {
		return err
	}
	staff, err := listed[*people.State](v.All(people.Kind))
	if err != nil {
		return err
	}
	kept, err := v.CountAcross(visit.Kind, "contact", "kept", store.Span{})
	if err != nil {
		return err
	}
	for _, c := range retention.Classes {
		x := ClassReview{Rule: r.Rules.Rule(c), Unit: "events"}
		add := func(day civil.Date) {
			if day.IsZero() || day.After(r.Today) {
				return
			}
			x.N++
			until := x.Rule.Until(day)
			if x.First.IsZero() || day.Before(x.First) {
				x.First, x.Until = day, until
			}
			if r.Today.After(until) {
				x.Over++
			}
		}
		switch c {
		case retention.Contacts:
			x.Unit = "people"
			for _, ev := range events {
				add(ev.Plan.Date)
			}
			x.N, x.Over = kept, r.Erase+r.Held
		case retention.Results, retention.Quality, retention.Governance:
			for _, ev := range events {
				add(ev.Plan.Date)
			}
		case retention.Training:
			x.Unit = "verifications"
			for _, who := range staff {
				for _, ver := range who.Verifications {
					add(ver.Until)
				}
			}
		case retention.Sharps, retention.Incidents:
			x.Unit = "incidents"
			for _, s := range incidents {
				if (s.Report.Sort == incident.SharpsInjury) == (c == retention.Sharps) {
					add(civil.Of(s.Happened()))
				}
			}
		}
		r.Classes = append(r.Classes, x)
	}
	return nil
}

// AdoptRetention puts the programme's own times in force.
type AdoptRetention struct {
	Act
	Months        map[retention.Class]int
	Sources       map[retention.Class]string // what each rests on
	First, Second Sign                       // a lead, and somebody else
}

// AdoptRetention records the rules under two names.
func (p *Programme) AdoptRetention(ctx context.Context, a Actor, c AdoptRetention) (Done, error) {
	first, second, err := p.twice(ctx, c.First, c.Second)
	if err != nil {
		return Done{}, err
	}
	return do(ctx, p, a, c.Act, "retention.adopt", func(w *work) (Done, error) {
		if err := w.need(people.Lead); err != nil {
			return Done{}, err
		}
		var f fields
		var rules []retention.Rule
		for i, k := range retention.Classes {
			rule := retention.Proposed[i]
			rule.Months = c.Months[k]
			f.between("months_"+string(k), "The months for "+string(k), rule.Months, 1, 1200)
			rule.Source = f.text("source_"+string(k), "What it rests on", c.Sources[k], true, 200)
			rules = append(rules, rule)
		}
		if err := f.err(); err != nil {
			return Done{}, err
		}
		_, err := w.append(retention.Ref, retention.RulesAdopted{Rules: rules, First: first, Second: second})
		return Done{ID: retention.Ref.ID}, err
	})
}

// twice checks two signatures: of a lead, and of somebody else.
func (p *Programme) twice(ctx context.Context, one, two Sign) (first, second retention.Signature, err error) {
	if one.Person != "" && one.Person == two.Person {
		return first, second, fault.BadField("second_person", "The second signature must be another person's.")
	}
	a, err := p.signed(ctx, one, people.Lead)
	if err != nil {
		return first, second, ofSignature(err, "first")
	}
	b, err := p.signed(ctx, two, people.Lead, people.Supervisor)
	if err != nil {
		return first, second, ofSignature(err, "second")
	}
	return retention.Signature{Person: a.ID, Name: a.Details.Name}, retention.Signature{Person: b.ID, Name: b.Details.Name}, nil
}

// EraseContacts destroys every contact that is over its time and that nothing holds.
type EraseContacts struct {
	Act
	Expect        int  // how many the review showed
	Confirmed     bool // the lead knows that nobody can call these people any more
	First, Second Sign // a lead, and somebody else who is a lead or a supervisor
}

// EraseContacts records one erasure with its proof, and in the same moment that of every visit; the keys are destroyed with
// them. It is refused when the review has changed since it was shown.
func (p *Programme) EraseContacts(ctx context.Context, a Actor, c EraseContacts) (Done, error) {
	first, second, err := p.twice(ctx, c.First, c.Second)
	if err != nil {
		return Done{}, err
	}
	var review *RetentionReview
	err = p.store.Read(ctx, func(v *store.View) (err error) {
		review, err = p.contactsOver(v)
		return err
	})
	if err != nil {
		return Done{}, err
	}
	return do(ctx, p, a, c.Act, "retention.erase", func(w *work) (Done, error) {
		if err := w.need(people.Lead); err != nil {
			return Done{}, err
		}
		if err := review.mayErase(c); err != nil {
			return Done{}, err
		}
		cases, err := openCases(w.tx)
		if err != nil {
			return Done{}, err
		}
		if !slices.Equal(cases, review.cases) { // one was opened since the review was read: it may hold somebody
			return Done{}, changedReview()
		}
		_, err = w.append(retention.Ref, retention.ClassErased{Class: retention.Contacts, Through: review.Through, Visits: review.Erase, Held: review.Held, First: first, Second: second})
		if err != nil {
			return Done{}, err
		}
		for _, s := range review.visits {
			now, err := load[*visit.State](w, visit.Ref(s.ID))
			if err != nil {
				return Done{}, err
			}
			if now.Times.LastTouched != s.Times.LastTouched || now.Erased() {
				return Done{}, changedReview()
			}
			if _, err := w.append(visit.Ref(s.ID), visit.ContactErased{Reason: EraseRetention, Signed: first.Person, Run: w.id}); err != nil {
				return Done{}, err
			}
		}
		return Done{ID: w.id}, nil
	})
}

func changedReview() error {
	return fault.New(fault.Conflict, "review-changed", "The list has changed since it was shown.", "Signatures stand under one list only.", "Look at the list again, then sign.")
}

func (r *RetentionReview) mayErase(c EraseContacts) error {
	switch {
	case r.Rules.Adopted == nil:
		return refuse("no-retention-rules", "The programme has not adopted its times yet.", "Nothing may be erased by a proposal.", "Adopt the times under two signatures first.")
	case r.Erase == 0:
		return refuse("nothing-over", "No contact is over its time that nothing holds.", "", "Nothing more to do here.")
	case c.Expect != r.Erase:
		return changedReview()
	case r.Erase > mostErased:
		return refuse("too-many-at-once", fmt.Sprintf("%d contacts are over their time; one erasure takes at most %d.", r.Erase, mostErased), "", "Adopt a longer time for once, erase the oldest, then go back.")
	case r.Waiting > 0 && !c.Confirmed:
		return fault.New(fault.Refused, "calls-open", fmt.Sprintf("For %s a referral stands and they may be called.", many(r.Waiting, "person", "people")), "After this nobody can call them any more.",
			"Settle the calls first, or confirm that the details go all the same.").Field("confirmed", "Confirm that nobody will be able to call these people.")
	}
	return nil
}

// ErasureProof is what can be shown about one erasure.
type ErasureProof struct {
	retention.Erasure
	Found    int       // visits that name it
	KeysLeft int       // of these, keys that are still on this laptop: 0 unless something is wrong
	Backup   time.Time // the last backup made here; zero for none
	After    bool      // it was made after the erasure
	Copy     CopyState
}

// ErasureProof looks for the keys of every visit of an erasure. Only a lead may ask.
func (p *Programme) ErasureProof(ctx context.Context, a Actor, id string) (ErasureProof, error) {
	var out ErasureProof
	if _, err := p.lead(ctx, a); err != nil {
		return out, err
	}
	err := p.store.Read(ctx, func(v *store.View) error {
		rules, err := retentionRules(v)
		if err != nil {
			return err
		}
		i := slices.IndexFunc(rules.Erasures, func(e retention.Erasure) bool { return e.ID == id })
		if i < 0 {
			return fault.New(fault.Missing, "no-such-erasure", "There is no such erasure in the record.", "", "Go back to the list and choose it there.")
		}
		out.Erasure = rules.Erasures[i]
		list, err := listed[*visit.State](v.Across(visit.Kind, "erased", id, store.Span{}))
		if err != nil {
			return err
		}
		out.Found = len(list)
		for _, s := range list {
			if hasKey(v, s.ID) || len(s.Sealed) > 0 {
				out.KeysLeft++
			}
		}
		return nil
	})
	if last, ok := p.LastBackup(); ok {
		out.Backup, out.After = last.At, last.At.After(out.At)
	}
	out.Copy = p.CopyState()
	return out, err
}
