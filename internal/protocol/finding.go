package protocol

import (
	"fmt"
	"strings"

	"fairstick/internal/fault"
	"fairstick/internal/glucose"
)

// Finding is what the protocol says of one reading.
type Finding struct {
	Band         Band            `json:"band"`
	Basis        Basis           `json:"basis"`
	Urgency      Urgency         `json:"urgency"`
	Reading      glucose.Reading `json:"reading"`
	Protocol     string          `json:"protocol"` // version
	Rule         string          `json:"rule"`     // for example "random, mg/dL: 70 to 139"
	Source       string          `json:"source"`   // where the edge comes from that the reading reached
	Word         Text            `json:"word"`
	Sentence     Text            `json:"sentence"`
	Advice       []Text          `json:"advice"`
	When         Text            `json:"when"`
	Where        Text            `json:"where"`
	WithinDays   int             `json:"within_days"`
	Refer        bool            `json:"refer"`
	Critical     bool            `json:"critical"`
	ReferralLine bool            `json:"referral_line"` // raised by a line for referral, not by a published category
	Unwell       bool            `json:"unwell"`        // a crisis sign made it an emergency
}

// The purposes of a reading.
const (
	PurposeFirst   = "first"
	PurposeRepeat  = "repeat"
	PurposeRecheck = "recheck" // after sugar; never counts
)

// Taken is one reading of a visit, in the order taken.
type Taken struct {
	ID      string
	Reading glucose.Reading
	Purpose string
	Washed  bool // hands washed with soap and dried just before
}

// Conclusion is which reading counts, why, and whether another is due.
type Conclusion struct {
	Counts                  string   `json:"counts"`            // Taken.ID; empty while there is no value
	Why                     string   `json:"why"`               // for staff
	Finding                 *Finding `json:"finding,omitempty"` // provisional while RepeatDue
	RepeatDue               bool     `json:"repeat_due"`
	RepeatWhy               string   `json:"repeat_why,omitempty"`
	NeedsSupervisorForStick bool     `json:"needs_supervisor_for_stick"`
}

// Find says what a reading means on a basis. Numbers are compared in the unit that the meter showed, with that unit's own
// limits. An error code is no value: a *fault.Fault with key "no-value". An unknown basis or unit, or no reading, is a fault too.
func (p Protocol) Find(r glucose.Reading, b Basis) (Finding, error) {
	lim, err := p.limits(r.Unit, b)
	if err != nil {
		return Finding{}, err
	}
	f := Finding{Basis: b, Reading: r, Protocol: p.Version}
	switch r.Kind {
	case glucose.Low, glucose.High:
		off, ok := p.OffScale[r.Kind]
		if !ok {
			return Finding{}, incomplete("what " + string(r.Kind) + " means")
		}
		side := "below"
		if r.Kind == glucose.High {
			side = "above"
		}
		f.Band, f.Source = off.Band, off.Source
		f.Rule = fmt.Sprintf("%s, %s: %s, %s what the meter can measure", b, r.Unit, r.Kind, side)
		f.say(off.Message)
		return f, nil
	case glucose.Numeric:
		var what string
		if f.Band, what, f.Source, err = lim.place(r.Value); err != nil {
			return Finding{}, err
		}
		m, ok := p.Messages[f.Band]
		if !ok {
			return Finding{}, incomplete("what " + string(f.Band) + " means")
		}
		f.Rule = fmt.Sprintf("%s, %s: %s", b, r.Unit, what)
		f.ReferralLine = f.Band == Raised && lim.ReferralLine
		f.say(m)
		return f, nil
	case glucose.Error:
		return Finding{}, fault.New(fault.Invalid, "no-value", fmt.Sprintf("The meter showed %s, an error code.", r.Shown()),
			"An error code is no value and says nothing about the person.", "Take a new strip and test again.")
	}
	return Finding{}, fault.New(fault.Invalid, "no-value", "There is no reading.", "Nothing can be said without one.", "Test first.")
}

func (p Protocol) limits(u glucose.Unit, b Basis) (Limits, error) {
	units, ok := p.Limits[b]
	if !ok {
		return Limits{}, incomplete(fmt.Sprintf("limits for the basis %q", b))
	}
	lim, ok := units[u]
	if !ok {
		return Limits{}, incomplete(fmt.Sprintf("%s limits for the unit %q", b, u))
	}
	return lim, nil
}

func incomplete(what string) *fault.Fault {
	return fault.New(fault.Invalid, "protocol-silent", "The protocol does not say "+what+".",
		"Without a rule there is no finding.", "Show the reading to the supervisor, and tell the lead to complete the protocol.")
}

// place gives the band of a value, the band's ends in words, and the source of the edge that made it.
func (l Limits) place(v glucose.Value) (band Band, ends, source string, err error) {
	edges := []glucose.Value{l.CriticalBelow, l.LowBelow, l.RaisedFrom, l.HighFrom, l.CriticalFrom}
	sources := []string{l.Source.CriticalBelow, l.Source.LowBelow, l.Source.RaisedFrom, l.Source.RaisedFrom, l.Source.HighFrom, l.Source.CriticalFrom}
	i := 0
	for i < len(edges) {
		c, err := glucose.Compare(v, edges[i])
		if err != nil {
			return "", "", "", err
		}
		if c < 0 {
			break
		}
		i++
	}
	switch i {
	case 0:
		ends = "below " + edges[0].Number()
	case len(edges):
		ends = edges[i-1].Number() + " or more"
	default:
		last := edges[i]
		last.Steps--
		ends = edges[i-1].Number() + " to " + last.Number()
	}
	return Bands[i], ends, sources[i], nil
}

// say puts a message's words into the finding.
func (f *Finding) say(m Message) {
	f.Word, f.Sentence, f.Advice = m.Word, m.Sentence[f.Basis], m.Advice
	f.When, f.Where, f.WithinDays = m.When, m.Where, m.WithinDays
	f.Urgency, f.Refer, f.Critical = m.Urgency, m.Refer, m.Critical
}

// Escalate makes a finding the emergency that any value is in a person with a crisis sign. Band, rule and the band's word stay; what is
// said, urged and advised becomes the protocol's message for a person who is unwell.
func (p Protocol) Escalate(f Finding) Finding {
	word := f.Word
	f.say(p.Unwell)
	f.Word = word
	f.Unwell = true
	return f
}

// Plausible refuses a number that the protocol does not believe: a *fault.Fault with key "unit-slip" when it would be
// at home in the other unit, otherwise "value-absurd". LO, HI and error codes are always believed.
func (p Protocol) Plausible(r glucose.Reading) error {
	if r.Kind != glucose.Numeric {
		return nil
	}
	rng, ok := p.MeterRange[r.Unit]
	if !ok {
		return incomplete(fmt.Sprintf("what a meter shows in %q", r.Unit))
	}
	below, err := glucose.Compare(r.Value, rng.Low)
	if err != nil {
		return err
	}
	above, err := glucose.Compare(r.Value, rng.High)
	if err != nil {
		return err
	}
	if below >= 0 && above <= 0 {
		return nil
	}
	other := r.Unit.Other()
	if p.fits(r.Value, other) {
		return fault.New(fault.Invalid, "unit-slip", fmt.Sprintf("%s is hardly possible; %s %s would be.", r.Value, strings.TrimSuffix(r.Value.Number(), ".0"), other),
			"The same number means something else in the other unit.",
			"Look at the unit on the meter's screen and read the number again.").
			Field("reading", "Is the unit right? Read the meter again.")
	}
	return fault.New(fault.Invalid, "value-absurd", fmt.Sprintf("%s is outside of what meters show (%s to %s).", r.Value, rng.Low.Number(), rng.High),
		"A digit typed twice or left out changes what the person is told.",
		"Read the meter again. Beyond its range a meter shows LO or HI: type that.").
		Field("reading", "Read the meter again; beyond its range it shows LO or HI.")
}

// fits reports whether the bare number of a value lies in the range of another unit.
func (p Protocol) fits(v glucose.Value, u glucose.Unit) bool {
	rng, ok := p.MeterRange[u]
	if !ok {
		return false
	}
	tenths := func(v glucose.Value) int {
		if v.Unit == glucose.MmolPerL {
			return v.Steps
		}
		return v.Steps * 10
	}
	return tenths(v) >= tenths(rng.Low) && tenths(v) <= tenths(rng.High)
}
