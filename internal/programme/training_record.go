package programme

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"fairstick/internal/charter"
	"fairstick/internal/civil"
	"fairstick/internal/competence"
	"fairstick/internal/event"
	"fairstick/internal/fact"
	"fairstick/internal/fault"
	"fairstick/internal/people"
	"fairstick/internal/protocol"
	"fairstick/internal/stock"
	"fairstick/internal/store"
	"fairstick/internal/visit"
)

// The ways by which somebody may do a role.
const (
	OnPaper    = "paper"
	ByTraining = "training"
)

// DutyRow says of one person and one role what the record held on the day: who stood where, verified for it or not, by whom, on what.
type DutyRow struct {
	Person   string      `json:"person"`
	Name     string      `json:"name"`
	Title    string      `json:"title,omitempty"`
	Role     people.Role `json:"role"`
	Station  string      `json:"station,omitempty"`
	From     time.Time   `json:"from,omitzero"`  // of the post at an event, as it was written down; zero in the record of a day
	To       time.Time   `json:"to,omitzero"`    // zero: to the end
	Here     bool        `json:"here,omitempty"` // it was written down that they came
	Absent   string      `json:"absent,omitempty"`
	Readings int         `json:"readings,omitempty"` // that they took at the event
	Asked    bool        `json:"asked"`              // the protocol asks for a verification of this role
	Verified bool        `json:"verified"`
	Way      string      `json:"way,omitempty"` // OnPaper or ByTraining
	Since    civil.Date  `json:"since,omitzero"`
	Until    civil.Date  `json:"until,omitzero"` // last day, through its end
	By       string      `json:"by,omitempty"`   // name of who signed
	Note     string      `json:"note,omitempty"` // of a verification on paper
	Evidence []DutyProof `json:"evidence,omitempty"`
	Missing  []string    `json:"missing,omitempty"` // sentences
	Later    []string    `json:"later,omitempty"`   // what has changed since, on that day or after it
}

// DutyProof is one proof with the name of who stands for it.
type DutyProof struct {
	competence.Proof
	Name string `json:"name,omitempty"`
}

// StaffRecord is who could do what on a day, or who stood where at an event, by what was on record then.
type StaffRecord struct {
	Programme string     `json:"programme"`
	Day       civil.Date `json:"day"`
	Event     string     `json:"event,omitempty"` // id
	Name      string     `json:"name,omitempty"`  // of the event
	Place     string     `json:"place,omitempty"`
	Protocol  string     `json:"protocol"` // version in force then
	Rows      []DutyRow  `json:"rows"`     // in the order of names; at an event of each person's posts
}

// VerifiedOn tells what everybody who took part on a day was verified for, role by role, by what was on record at the end of that day.
// A day to come is refused.
func (p *Programme) VerifiedOn(ctx context.Context, day civil.Date) (StaffRecord, error) {
	if day.IsZero() {
		day = p.today()
	}
	out := StaffRecord{Day: day, Rows: []DutyRow{}}
	if day.After(p.today()) {
		return out, fault.BadField("on", "%s has not come yet.", day.Long())
	}
	err := p.store.Read(ctx, func(v *store.View) error {
		r := pastReader{v: v, zone: p.now().Location(), day: day}
		end := r.endOfDay(p.now())
		if err := r.begin(end, nil); err != nil {
			return err
		}
		out.Programme, out.Protocol = r.charter.Details.Name, r.proto.Version
		for _, now := range r.people {
			who, skill, err := r.person(now.ID, end)
			if err != nil {
				return err
			}
			if who == nil || who.Gone != "" {
				continue
			}
			for _, role := range who.Details.Roles {
				row := r.row(who, role)
				if err := r.judge(&row, who, skill, r.modelsAt, end, p.now()); err != nil {
					return err
				}
				out.Rows = append(out.Rows, row)
			}
		}
		return nil
	})
	sortStaff(out.Rows)
	return out, err
}

// EventStaffRecord tells who held which post at an event and when, and what they were verified for when they took it up: by the
// protocol of the event and what was on record at that moment. What ended it during the day, or since, is said beside it.
func (p *Programme) EventStaffRecord(ctx context.Context, eventID string) (StaffRecord, error) {
	d, err := p.Day(ctx, eventID)
	if err != nil {
		return StaffRecord{}, err
	}
	var out StaffRecord
	err = p.store.Read(ctx, func(v *store.View) error {
		out, err = eventStaff(v, d, p.now())
		return err
	})
	return out, err
}

// eventStaff is the record of staff of an event as it is read at a moment. It fails where no protocol was signed for the event.
func eventStaff(v *store.View, d *Day, now time.Time) (StaffRecord, error) {
	ev := d.Event
	out := StaffRecord{Programme: d.Charter.Details.Name, Day: ev.Plan.Date, Event: ev.ID, Name: ev.Plan.Name, Place: ev.Plan.Venue, Protocol: d.Protocol.Version, Rows: []DutyRow{}}
	readings, meters := map[string]int{}, map[string]map[string]bool{}
	for _, x := range d.Visits {
		for _, y := range x.Readings {
			readings[y.By]++
			if meters[y.By] == nil {
				meters[y.By] = map[string]bool{}
			}
			meters[y.By][y.Meter] = true
		}
	}
	r := pastReader{v: v, zone: ev.Zone(), day: ev.Plan.Date}
	end := r.endOfDay(now)
	if err := r.begin(end, d); err != nil {
		return out, err
	}
	recs, err := v.Records(event.Ref(ev.ID))
	if err != nil {
		return out, err
	}
	stints, opened := stintsOf(recs)
	for _, x := range readers(readings, stints) {
		stints = append(stints, stint{person: x, role: people.Screener, from: opened, note: "Readings are on record, and no post."})
	}
	for _, s := range stints {
		at := later(s.from, opened)
		if at.IsZero() || at.After(end) {
			at = end
		}
		who, skill, err := r.person(s.person, at)
		if err != nil {
			return out, err
		}
		if who == nil { // written down before the person was
			who, skill = &people.State{ID: s.person, Details: people.Described{Name: d.NameOf(s.person)}}, nil
		}
		row := r.row(who, s.role)
		row.Station, row.From, row.To, row.Here, row.Absent = s.station, s.from, s.to, s.here, s.absent
		if s.role == people.Screener {
			row.Readings = readings[s.person]
		}
		if s.note != "" {
			row.Later = append(row.Later, s.note)
		}
		if err := r.judge(&row, who, skill, r.modelsOf(meters[s.person]), at, now); err != nil {
			return out, err
		}
		out.Rows = append(out.Rows, row)
	}
	sortStaff(out.Rows)
	return out, nil
}

func sortStaff(rows []DutyRow) {
	slices.SortStableFunc(rows, func(a, b DutyRow) int {
		return cmp.Or(strings.Compare(a.Name, b.Name), a.From.Compare(b.From), strings.Compare(string(a.Role), string(b.Role)))
	})
}

// readers are those who took readings without a post as screener, in the order of their ids.
func readers(readings map[string]int, stints []stint) []string {
	var out []string
	for who := range readings {
		if !slices.ContainsFunc(stints, func(s stint) bool { return s.person == who && s.role == people.Screener }) {
			out = append(out, who)
		}
	}
	slices.Sort(out)
	return out
}

// stint is a post as somebody held it.
type stint struct {
	person, station, absent, note string
	role                          people.Role
	from, to                      time.Time
	here                          bool // it was written down that the person came
}

// stintsOf gives every post of an event with when it was held, and when the event opened first.
func stintsOf(recs []fact.Record) (out []stint, opened time.Time) {
	open := map[string]int{}
	for _, r := range fact.Settle(recs) {
		switch b := r.Body.(type) {
		case event.Opened:
			if opened.IsZero() {
				opened = r.At
			}
		case event.Posted:
			if i, held := open[b.Person]; held {
				if out[i].role == people.Role(b.Role) && out[i].station == b.Station {
					continue
				}
				out[i].to = r.At
			}
			next := stint{person: b.Person, role: people.Role(b.Role), station: b.Station, from: r.At}
			if i, held := open[b.Person]; held { // who moves to another station is here or absent as before
				next.here, next.absent = out[i].here, out[i].absent
			}
			open[b.Person] = len(out)
			out = append(out, next)
		case event.Unposted:
			if i, held := open[b.Person]; held {
				out[i].to = r.At
				delete(open, b.Person)
			}
		case event.Attended:
			if i, held := open[b.Person]; held {
				out[i].here, out[i].absent = b.Here, ""
				if !b.Here {
					out[i].absent = cmp.Or(b.Note, "not here")
				}
			}
		}
	}
	// A post that was given up before the doors opened is a plan, and nobody stood there.
	out = slices.DeleteFunc(out, func(s stint) bool { return !s.to.IsZero() && (opened.IsZero() || s.to.Before(opened)) })
	return out, opened
}

// pastReader reads what was on record at a moment of the past.
type pastReader struct {
	v        *store.View
	zone     *time.Location
	day      civil.Date
	charter  *charter.State
	proto    protocol.Protocol
	rules    competence.Rules
	people   []*people.State             // as they stand now
	meters   map[string]competence.Model // as they were
	modelsAt []competence.Model          // of every meter that was in use
}

// endOfDay is the last moment of the day, or now while the day lasts.
func (r *pastReader) endOfDay(now time.Time) time.Time {
	end := time.Date(r.day.Year, r.day.Month, r.day.Day, 23, 59, 59, 0, r.zone)
	if now.Before(end) {
		return now
	}
	return end
}

// begin reads the protocol and the meters as of a moment; at an event its own protocol.
func (r *pastReader) begin(at time.Time, d *Day) (err error) {
	if r.charter, _, err = foldedAt(r.v, charter.Ref, &charter.State{ID: charter.Ref.ID}, at); err != nil {
		return err
	}
	if d != nil {
		r.proto, err = d.Protocol, d.ProtocolErr
	} else if r.proto, err = protocolFor(r.charter, nil); err != nil {
		err = fault.BadField("on", "No protocol had been signed by %s.", r.day.Long())
	}
	if err != nil {
		return err
	}
	if r.rules, err = rulesOf(r.proto); err != nil {
		return err
	}
	if r.people, err = listed[*people.State](r.v.All(people.Kind)); err != nil {
		return err
	}
	meters, err := listed[*stock.Meter](r.v.All(stock.MeterKind))
	if err != nil {
		return err
	}
	r.meters = map[string]competence.Model{}
	for _, m := range meters {
		was, there, err := foldedAt(r.v, stock.MeterRef(m.ID), stock.NewMeter(m.ID).(*stock.Meter), at)
		if err != nil {
			return err
		}
		model, ok := modelOf(was)
		if !there || !ok {
			continue
		}
		r.meters[m.ID] = model
		if was.Quarantine == nil && !slices.Contains(r.modelsAt, model) {
			r.modelsAt = append(r.modelsAt, model)
		}
	}
	return nil
}

func (r *pastReader) modelsOf(meters map[string]bool) []competence.Model {
	var out []competence.Model
	for id := range meters {
		if m, ok := r.meters[id]; ok && !slices.Contains(out, m) {
			out = append(out, m)
		}
	}
	slices.SortFunc(out, func(a, b competence.Model) int { return strings.Compare(a.Name+a.Edition, b.Name+b.Edition) })
	return out
}

// foldedAt folds the facts of a subject that had happened by a moment; ok is false when there was none yet.
func foldedAt[S fact.State](v *store.View, ref fact.Ref, fresh S, at time.Time) (S, bool, error) {
	recs, err := v.Records(ref)
	if err != nil {
		return fresh, false, err
	}
	recs = slices.DeleteFunc(recs, func(x fact.Record) bool { return x.At.After(at) })
	for _, x := range fact.Settle(recs) {
		fresh.Apply(x)
	}
	return fresh, len(recs) > 0, nil
}

// person gives somebody as they were at a moment; nil when the record did not know them yet.
func (r *pastReader) person(id string, at time.Time) (*people.State, *competence.State, error) {
	who, there, err := foldedAt(r.v, people.Ref(id), people.New(id).(*people.State), at)
	if err != nil || !there {
		return nil, nil, err
	}
	skill, _, err := foldedAt(r.v, competence.Ref(id), competence.New(id).(*competence.State), at)
	return who, skill, err
}

func (r *pastReader) row(who *people.State, role people.Role) DutyRow {
	return DutyRow{Person: who.ID, Name: who.Details.Name, Title: who.Details.Title, Role: role, Asked: slices.Contains(r.proto.Verification.Roles, string(role))}
}

// lastTest is the day of the last event before this one at which somebody tested.
func (r *pastReader) lastTest(person string) (last civil.Date, err error) {
	passed := map[string]bool{}
	err = r.v.Back(visit.Kind, "screener", person, r.day.AddDays(1).Time(r.zone), func(id string) (bool, error) {
		if passed[id] {
			return false, nil
		}
		passed[id] = true
		st, ok, err := r.v.State(event.Ref(id))
		if err != nil || !ok {
			return false, err
		}
		if day := st.(*event.State).Plan.Date; day.Before(r.day) {
			last = day
		}
		return !last.IsZero(), nil
	})
	return last, err
}

// judge fills in what somebody was verified for at a moment, and what has changed by the end of the day or by now.
func (r *pastReader) judge(row *DutyRow, who *people.State, skill *competence.State, models []competence.Model, at, now time.Time) error {
	last, err := r.lastTest(row.Person)
	if err != nil {
		return err
	}
	today := competence.Today{Day: r.day, Models: models, LastTest: last}
	r.verdict(row, who, skill, today)
	for _, then := range []struct {
		at  time.Time
		say string
	}{{r.endOfDay(now), "By the end of that day: "}, {now, "By what is on record now: "}} {
		if !then.at.After(at) {
			continue
		}
		who, skill, err := r.person(row.Person, then.at)
		if err != nil {
			return err
		}
		if who == nil {
			continue
		}
		x := r.row(who, row.Role)
		r.verdict(&x, who, skill, today)
		if x.Verified == row.Verified || !row.Asked {
			continue
		}
		word := "verified."
		if !x.Verified {
			word = "not verified. " + strings.Join(x.Missing, " ")
		}
		row.Later = append(row.Later, then.say+word)
		break
	}
	return nil
}

// verdict says whether somebody may do the role of a row on the day, on what, or what is missing.
func (r *pastReader) verdict(row *DutyRow, who *people.State, skill *competence.State, today competence.Today) {
	if v, ok := who.VerifiedOn(row.Role, r.day); ok {
		row.Verified, row.Way, row.Since, row.Until, row.By, row.Note = true, OnPaper, v.From, v.Until, nameAmong(r.people, v.By), v.Note
	}
	level, trains := levelOf[row.Role]
	if trains && skill != nil {
		for _, x := range competence.Evidence(skill, r.rules, level, today) {
			row.Evidence = append(row.Evidence, DutyProof{Proof: x, Name: cmp.Or(nameAmong(r.people, x.By), x.Held)})
		}
		until, _, holds := competence.ValidUntil(skill, r.rules, level, today)
		lacks := competence.Lacks(skill, r.rules, level, today)
		if o, ok := competence.Standing(skill, level, r.day); ok && holds && len(lacks) == 0 && (!row.Verified || until.After(row.Until)) {
			row.Verified, row.Way, row.Since, row.Until, row.By, row.Note = true, ByTraining, o.From, until, nameAmong(r.people, o.Granted.By), o.Granted.Note
		}
		if !row.Verified && row.Asked {
			for _, m := range lacks {
				row.Missing = append(row.Missing, m.Sentence.In("en"))
			}
		}
	}
	if row.Verified || !row.Asked {
		return
	}
	if v, ok := who.LastFor(row.Role); ok {
		said := fmt.Sprintf("On paper until %s.", v.Until.Long())
		switch {
		case v.Withdrawn != "":
			said = fmt.Sprintf("On paper: withdrawn (%s).", strings.TrimSuffix(v.Withdrawn, "."))
		case r.day.Before(v.From):
			said = fmt.Sprintf("On paper only from %s.", v.From.Long())
		}
		row.Missing = append([]string{said}, row.Missing...)
	} else if len(row.Missing) == 0 {
		row.Missing = append(row.Missing, "No verification for this role is on record.")
	}
}
