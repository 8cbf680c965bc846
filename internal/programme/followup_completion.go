package programme

import (
	"cmp"
	"context"
	"slices"
	"sort"

	"fairstick/internal/civil"
	"fairstick/internal/followup"
	"fairstick/internal/protocol"
	"fairstick/internal/visit"
)

// Where a referral stands, when no outcome says so. With the outcomes of package followup these are all places: each referral
// is in exactly one.
const (
	PlaceNoPermission = "no-permission" // the person wanted no call: nothing can be known
	PlaceErased       = "erased"        // the contact was erased before an outcome was known
	PlaceNotCalled    = "not-called"    // nobody has tried yet
	PlaceCalling      = "calling"       // tried, not reached yet
	PlaceReached      = "reached"       // reached; the person told no outcome yet
)

// Places lists where a referral can stand, in the order in which a report tells it.
var Places = []string{
	string(followup.Seen), string(followup.Scheduled), string(followup.NotYet), string(followup.Declined), string(followup.AlreadyKnown),
	PlaceReached, string(followup.Unreachable), string(followup.BadNumber), PlaceCalling, PlaceNotCalled, PlaceErased, PlaceNoPermission,
}

// The groupings of a completion.
const (
	ByBand       = "band"
	ByEvent      = "event"
	ByLanguage   = "language"
	ByPermission = "permission"
)

// CompletionGroupings lists them in the order in which they are shown.
var CompletionGroupings = []string{ByBand, ByEvent, ByLanguage, ByPermission}

// CompletionRow is one referral with what became of it. It names a visit and no person. It is what every count of a Completion
// is counted from.
type CompletionRow struct {
	Event     string          `json:"event"`
	EventName string          `json:"event_name"`
	Venue     string          `json:"venue"`
	Day       civil.Date      `json:"day"` // of the event
	Visit     string          `json:"visit"`
	Ticket    int             `json:"ticket"`
	Basis     string          `json:"basis"`
	Band      string          `json:"band"`
	Language  string          `json:"language"`
	Permitted bool            `json:"permitted"` // the person allowed a call, also when the contact was erased since
	Kept      bool            `json:"kept"`      // a name is kept, sealed
	Referred  bool            `json:"referred"`  // the advice was given before the person left
	Place     string          `json:"place"`     // one of Places
	Called    bool            `json:"called"`    // anybody has tried
	Reached   bool            `json:"reached"`   // anybody has spoken or written with the person
	Attempts  int             `json:"attempts"`
	Letters   int             `json:"letters"`          // to the person
	SeenOn    civil.Date      `json:"seen_on,omitzero"` // the day told, else the day on which it was told; zero unless Place is seen
	Appointed civil.Date      `json:"appointed,omitzero"`
	Reason    followup.Reason `json:"reason,omitempty"` // not yet and declined
	Test      followup.Test   `json:"test,omitempty"`
	Said      followup.Said   `json:"said,omitempty"` // what a clinician said as the person told it; never a finding of the programme
}

// Seen reports whether a clinician has seen the person about it.
func (r CompletionRow) Seen() bool { return r.Place == string(followup.Seen) }

// SeenWithin reports whether the person was seen at most so many days after the event.
func (r CompletionRow) SeenWithin(days int) bool {
	return r.Seen() && r.Day.DaysUntil(r.SeenOn) <= days
}

// Key gives the group of a row in a grouping; "" for a grouping that is not one of CompletionGroupings.
func (r CompletionRow) Key(by string) string {
	switch by {
	case ByBand:
		return r.Band
	case ByEvent:
		return r.Event
	case ByLanguage:
		return r.Language
	case ByPermission:
		if r.Permitted {
			return "yes"
		}
		return "no"
	}
	return ""
}

// CompletionGroup is one group of a grouping: how many of all referred in it were seen.
type CompletionGroup struct {
	By      string `json:"by"`
	Key     string `json:"key"`
	Name    string `json:"name"` // of an event; the key for others
	Share          // seen of all referred in the group
	Reached int    `json:"reached"`
}

// Completion is what became of all who were referred. Its denominator is always everybody who was advised to see someone: those
// who gave no permission, and those who were never reached, are in it. OfReached is kept beside it under its own name and is
// never shown alone.
type Completion struct {
	Rows       []CompletionRow   `json:"rows"`
	Referred   int               `json:"referred"`
	Permitted  int               `json:"permitted"`
	Called     int               `json:"called"`
	Reached    int               `json:"reached"`
	Seen       Share             `json:"seen"`         // of all referred
	Within30   Share             `json:"seen_30_days"` // of all referred
	Within90   Share             `json:"seen_90_days"` // of all referred
	OfReached  Share             `json:"seen_of_reached"`
	Places     map[string]int    `json:"places"` // by Places; they add up to Referred
	Groups     []CompletionGroup `json:"groups"` // in the order of CompletionGroupings, then of their names
	Diagnoses  map[string]int    `json:"said"`   // what clinicians said, as it was told: by followup.AllSaid
	LetterSent int               `json:"letters"`
}

// Completion counts what became of the referrals of a scope.
func (p *Programme) Completion(ctx context.Context, scope FollowUpScope) (Completion, error) {
	all, err := p.FollowUps(ctx, scope)
	if err != nil {
		return Completion{}, err
	}
	rows := make([]CompletionRow, len(all))
	for i, f := range all {
		rows[i] = completionRow(f)
	}
	return CompletionOf(rows), nil
}

// CompletionOf counts rows, for example a part of those of another completion. The same rows give the same figures.
func CompletionOf(rows []CompletionRow) Completion {
	c := Completion{Rows: rows, Referred: len(rows), Places: map[string]int{}, Diagnoses: map[string]int{}}
	seen, in30, in90, seenReached := 0, 0, 0, 0
	one := func(b bool) int {
		if b {
			return 1
		}
		return 0
	}
	for _, r := range rows {
		c.Places[r.Place]++
		c.Permitted += one(r.Permitted)
		c.Called += one(r.Called)
		c.Reached += one(r.Reached)
		c.LetterSent += one(r.Letters > 0)
		seen += one(r.Seen())
		in30 += one(r.SeenWithin(30))
		in90 += one(r.SeenWithin(90))
		seenReached += one(r.Seen() && r.Reached)
		if r.Said != "" {
			c.Diagnoses[string(r.Said)]++
		}
	}
	c.Seen, c.Within30, c.Within90, c.OfReached = share(seen, len(rows)), share(in30, len(rows)), share(in90, len(rows)), share(seenReached, c.Reached)
	for _, by := range CompletionGroupings {
		c.Groups = append(c.Groups, completionGroups(by, rows)...)
	}
	return c
}

func completionGroups(by string, rows []CompletionRow) []CompletionGroup {
	type sum struct{ n, seen, reached int }
	sums, name, day := map[string]*sum{}, map[string]string{}, map[string]civil.Date{}
	for _, r := range rows {
		k := r.Key(by)
		s := sums[k]
		if s == nil {
			s = &sum{}
			sums[k], name[k], day[k] = s, k, r.Day
			if by == ByEvent {
				name[k] = r.EventName
			}
		}
		s.n++
		if r.Seen() {
			s.seen++
		}
		if r.Reached {
			s.reached++
		}
	}
	var out []CompletionGroup
	for k, s := range sums {
		out = append(out, CompletionGroup{By: by, Key: k, Name: name[k], Share: share(s.seen, s.n), Reached: s.reached})
	}
	sort.Slice(out, func(i, j int) bool {
		a, b := out[i].Key, out[j].Key
		switch {
		case by == ByBand:
			return protocol.Band(a).Order() > protocol.Band(b).Order()
		case by == ByPermission:
			return a > b
		case by == ByEvent && day[a] != day[b]:
			return day[a].Before(day[b])
		}
		return cmp.Or(cmp.Compare(name[a], name[b]), cmp.Compare(a, b)) < 0
	})
	return out
}

// permitted reports whether the participant allowed a call, whatever became of the contact since. It is what the report of an
// event counts.
func permitted(v *visit.State) bool {
	if v.Referral != nil {
		return v.Referral.Call
	}
	return v.Call
}

// Row gives how it stands with one referral, as it is counted.
func (f FollowUp) Row() CompletionRow { return completionRow(f) }

func completionRow(f FollowUp) CompletionRow {
	v, found := f.Visit, f.Visit.Finding()
	r := CompletionRow{
		Event: f.Event.ID, EventName: f.Event.Plan.Name, Venue: f.Event.Plan.Venue, Day: f.Event.Plan.Date, Visit: v.ID, Ticket: v.Ticket,
		Basis: string(found.Basis), Band: string(found.Band), Language: v.Language, Permitted: permitted(v), Kept: len(v.Sealed) > 0, Referred: v.Referral != nil,
		Reached: f.State.Reached(), Place: string(f.Status),
	}
	if st := f.State; st != nil {
		r.Attempts, r.Called = len(st.Attempts), len(st.Attempts) > 0
		for _, l := range st.Letters {
			if l.To == followup.ToPerson {
				r.Letters++
			}
		}
		if res := st.Result(); res != nil {
			r.Test, r.Said = res.Test, res.Said
		}
	}
	told, ok := f.State.Standing()
	switch {
	case ok && f.Status == told.Outcome:
		r.Reason = told.Reason
		day := f.Event.Day(told.At)
		if f.Status == followup.Seen {
			r.SeenOn = dayGiven(told.On, day)
		}
		if f.Status == followup.Scheduled {
			r.Appointed = told.On
		}
	case f.Status != "":
	case v.Erased() && r.Permitted:
		r.Place = PlaceErased
	case !f.May:
		r.Place = PlaceNoPermission
	case r.Reached:
		r.Place = PlaceReached
	case r.Called:
		r.Place = PlaceCalling
	default:
		r.Place = PlaceNotCalled
	}
	return r
}

func dayGiven(told, day civil.Date) civil.Date {
	if told.IsZero() {
		return day
	}
	return told
}

// InGroup gives the rows of a group; of all rows when by is empty.
func (c Completion) InGroup(by, key string) []CompletionRow {
	return c.pick(func(r CompletionRow) bool { return by == "" || r.Key(by) == key })
}

// In gives the rows that stand at a place.
func (c Completion) In(place string) []CompletionRow {
	return c.pick(func(r CompletionRow) bool { return r.Place == place })
}

func (c Completion) pick(keep func(CompletionRow) bool) []CompletionRow {
	out := slices.Clone(c.Rows)
	return slices.DeleteFunc(out, func(r CompletionRow) bool { return !keep(r) })
}
