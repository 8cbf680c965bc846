package programme

import (
	"encoding/json"
	"fmt"

	"fairstick/internal/event"
	"fairstick/internal/fault"
	"fairstick/internal/glucose"
	"fairstick/internal/people"
	"fairstick/internal/visit"
)

// Term is one number of a sum, with its words.
type Term struct {
	Label string `json:"label"`
	N     int    `json:"n"`
}

// Equality is one sum that must come out at closing: the left number equals the terms added up, or is at least that.
type Equality struct {
	Key        string             `json:"key"`
	Name       string             `json:"name"`
	Left       Term               `json:"left"`
	Terms      []Term             `json:"terms"`
	AtLeast    bool               `json:"at_least,omitempty"` // the left number may be larger
	Difference int                `json:"difference"`         // left minus terms; 0 when it comes out
	Alarm      string             `json:"alarm,omitempty"`
	Explained  *event.Explanation `json:"explained,omitempty"`
}

// Settled reports whether the difference is 0 or explained as it stands.
func (e Equality) Settled() bool {
	return e.Difference == 0 || e.Explained != nil && e.Explained.Difference == e.Difference
}

// Sentence says the sum in words, with the difference named.
func (e Equality) Sentence() string {
	s := fmt.Sprintf("%d %s", e.Left.N, e.Left.Label)
	sign := " = "
	if e.AtLeast {
		sign = " is at least "
	}
	for i, t := range e.Terms {
		if i > 0 {
			sign = " + "
		}
		s += fmt.Sprintf("%s%d %s", sign, t.N, t.Label)
	}
	return s
}

func isError(r glucose.Reading) bool { return r.Kind == glucose.Error }

// sums are the counts of the day that the equalities and the report share, so that they cannot differ.
type sums struct {
	arrived, tested, leftUntested, leftTested, notEligible, declined, unfinished int
	slips, explained                                                             int
	first, repeats, rechecks, errors                                             int
	sticks, misfires, binned                                                     int
	refer, referCall, referNoCall                                                int
	errorSticks                                                                  int // new sticks after meter errors
	byMeter                                                                      map[string]*meterSums
}

type meterSums struct {
	values, errors, controls, controlErrors, people int
}

func (d *Day) sums() sums {
	s := sums{byMeter: map[string]*meterSums{}}
	meter := func(id string) *meterSums {
		if s.byMeter[id] == nil {
			s.byMeter[id] = &meterSums{}
		}
		return s.byMeter[id]
	}
	for _, v := range d.Visits {
		s.arrived++
		s.visit(v)
		seen := map[string]bool{}
		for i, r := range v.Readings {
			m := meter(r.Meter)
			if !seen[r.Meter] {
				seen[r.Meter] = true
				m.people++
			}
			if r.NewStick && i > 0 && isError(v.Readings[i-1].Reading) {
				s.errorSticks++
			}
			if isError(r.Reading) {
				m.errors++
				s.errors++
				continue
			}
			m.values++
			switch r.Purpose {
			case visit.First:
				s.first++
			case visit.Repeat:
				s.repeats++
			case visit.Recheck:
				s.rechecks++
			}
		}
		s.sticks += v.Sticks()
		s.misfires += v.Misfires()
		s.binned += v.Binned
	}
	for _, r := range d.Event.Runs {
		m := meter(r.Meter)
		m.controls++
		if isError(r.Reading) {
			m.controlErrors++
		}
	}
	return s
}

func (s *sums) visit(v *visit.State) {
	tested := v.Tested()
	switch v.Phase() {
	case visit.NotEligible:
		s.notEligible++
	case visit.HasDeclined:
		s.declined++
	case visit.Gone:
		if tested {
			s.leftTested++
		} else {
			s.leftUntested++
		}
	case visit.Done:
	default:
		if !tested {
			s.unfinished++
		}
	}
	if tested {
		s.tested++
	}
	if len(v.Slips) > 0 {
		s.slips++
	}
	if v.Explained != nil {
		s.explained++
	}
	if f := v.Finding(); f != nil && f.Refer {
		s.refer++
		if v.Referral != nil && v.Referral.Call {
			s.referCall++
		} else if v.Referral != nil {
			s.referNoCall++
		}
	}
}

// Reconcile computes the sums that must come out at the end of the day (common practice). Those that need a count back
// are left out until something has been counted.
func (d *Day) Reconcile() []Equality {
	s := d.sums()
	out := []Equality{
		equality("arrivals", "People", Term{"arrived", s.arrived}, Term{"tested", s.tested}, Term{"left before the test", s.leftUntested},
			Term{"not eligible", s.notEligible}, Term{"declined", s.declined}),
		equality("values", "First values", Term{"tested", s.tested}, Term{"first values", s.first}),
		equality("slips", "Slips", Term{"tested", s.tested}, Term{"with a slip", s.slips}),
		equality("explained", "Explained", Term{"tested", s.tested}, Term{"explained", s.explained}),
		equality("referrals", "Referrals", Term{"findings that ask for a referral", s.refer}, Term{"may be called", s.referCall}, Term{"gave no permission", s.referNoCall}),
	}
	out = append(out, d.formEqualities()...)
	if d.Event.Back != nil {
		out = append(out, d.stockEqualities(s)...)
	}
	for _, m := range d.BroughtMeters() {
		rows, ok := d.Event.Memory[m.ID]
		if !ok {
			continue
		}
		ms := s.byMeter[m.ID]
		if ms == nil {
			ms = &meterSums{}
		}
		out = append(out, equality("memory:"+m.ID, "Memory of meter "+m.Details.Label, Term{"rows in the memory", rows},
			Term{"readings of participants", ms.values}, Term{"controls", ms.controls - ms.controlErrors}))
	}
	out = append(out, d.downloadEqualities()...)
	for i := range out {
		if x, ok := d.Event.Explained[out[i].Key]; ok {
			out[i].Explained = &x
		}
	}
	return out
}

func (d *Day) stockEqualities(s sums) []Equality {
	var out []Equality
	back := d.Event.Back
	for _, l := range d.BroughtLots() {
		r, e, c := d.StripsUsed(l.ID)
		out = append(out, equality("strips:"+l.ID, "Strips of lot "+l.Details.Lot,
			Term{"used (brought less left)", d.Event.Out.Strips[l.ID] - back.Strips[l.ID]},
			Term{"readings", r}, Term{"meter errors", e}, Term{"controls", c}))
	}
	used := d.Event.Out.Lancets - back.Lancets
	lancets := equality("lancets", "Lancets", Term{"used (brought less left)", used}, Term{"sticks", s.sticks}, Term{"misfires", s.misfires})
	if used < s.sticks {
		lancets.Alarm = fmt.Sprintf("Fewer lancets were used (%d) than fingers were pricked (%d). A lancet may have been used twice. Stop, keep every sharps container, and find out before anybody leaves.", used, s.sticks)
	}
	out = append(out, lancets,
		equality("binned", "Lancets into sharps", Term{"sticks and misfires", s.sticks + s.misfires}, Term{"seen into sharps", s.binned}),
		equality("sharps", "Sharps containers", Term{"brought", d.Event.Out.Sharps}, Term{"back", back.Sharps}),
		equality("meters", "Meters", Term{"brought", len(d.Event.Out.Meters)}, Term{"back", len(back.Meters)}))
	for _, m := range d.BroughtMeters() {
		ms := s.byMeter[m.ID]
		if ms == nil || ms.people == 0 {
			continue
		}
		e := equality("wipes:"+m.ID, "Wipes of meter "+m.Details.Label, Term{"wiped", d.Event.Wipes[m.ID].Count}, Term{"people tested", ms.people})
		e.AtLeast = true
		if e.Difference > 0 {
			e.Difference = 0
		}
		out = append(out, e)
	}
	return out
}

func equality(key, name string, left Term, terms ...Term) Equality {
	e := Equality{Key: key, Name: name, Left: left, Terms: terms, Difference: left.N}
	for _, t := range terms {
		e.Difference -= t.N
	}
	return e
}

// mayCall reports whether a person may see the contact of a participant.
func mayCall(who *people.State) bool {
	return who.Gone == "" && (who.Has(people.Lead) || who.Has(people.Supervisor) || who.Has(people.Counsellor))
}

func deniedContact() error {
	return fault.New(fault.Denied, "role", "This person may not see names and telephone numbers.", "They are for those who call about a result.", "Ask the lead.")
}

func decodeContact(plain []byte, c *Contact) error {
	if err := json.Unmarshal(plain, c); err != nil {
		return err
	}
	c.Allow = true
	return nil
}
