package stock

import (
	"fmt"
	"sort"
	"strings"
	"time"

	"fairstick/internal/civil"
	"fairstick/internal/fact"
	"fairstick/internal/glucose"
)

// Chemistry is the enzyme on a strip, as the insert names it.
type Chemistry string

// The chemistries of glucose strips.
const (
	GlucoseOxidase Chemistry = "glucose-oxidase"
	GDHPQQ         Chemistry = "gdh-pqq" // reads maltose, galactose and xylose as glucose
	GDHFAD         Chemistry = "gdh-fad"
	GDHNAD         Chemistry = "gdh-nad"
	Hexokinase     Chemistry = "hexokinase"
	UnknownEnzyme  Chemistry = "unknown"
)

// Chemistries lists the chemistries in the order in which they are offered.
var Chemistries = []Chemistry{GlucoseOxidase, GDHFAD, GDHNAD, GDHPQQ, Hexokinase, UnknownEnzyme}

// Range is the range printed for one level of control with one strip lot; both ends are in range.
type Range struct {
	Low  glucose.Value `json:"low"`
	High glucose.Value `json:"high"`
}

// EachVial is whether the insert asks for controls when a new vial of the same lot is opened.
type EachVial string

// What the insert says about controls on a new vial.
const (
	EachVialYes     EachVial = "yes"
	EachVialNo      EachVial = "no"
	EachVialUnknown EachVial = "unknown" // treated as yes
)

// StripLotDescribed says what is printed on a lot of strips. The latest one holds.
type StripLotDescribed struct {
	Lot       string           `json:"lot"`
	Models    []string         `json:"models"` // the types of meter that the strips fit
	Chemistry Chemistry        `json:"chemistry"`
	Code      string           `json:"code,omitempty"` // as printed on the vial; empty when there is none
	Expiry    civil.Date       `json:"expiry"`
	InUseDays int              `json:"in_use_days"` // days after opening; 0 means to the printed expiry, as the insert says
	EachVial  EachVial         `json:"each_vial"`
	PerVial   int              `json:"per_vial"`
	Ranges    map[string]Range `json:"ranges"` // by level of control, as printed
}

// FactKind implements fact.Body.
func (StripLotDescribed) FactKind() string { return "strip-lot.described" }

// VialOpened says that a vial was opened.
type VialOpened struct {
	Vial string     `json:"vial"` // the programme's own name on it
	On   civil.Date `json:"on"`
}

// FactKind implements fact.Body.
func (VialOpened) FactKind() string { return "strip-lot.vial-opened" }

// VialDiscarded says that a vial is used up or thrown away.
type VialDiscarded struct {
	Vial   string `json:"vial"`
	Reason string `json:"reason"`
}

// FactKind implements fact.Body.
func (VialDiscarded) FactKind() string { return "strip-lot.vial-discarded" }

// StripLotWithdrawn takes a whole lot out of use, for example after a recall.
type StripLotWithdrawn struct {
	Reason string `json:"reason"`
}

// FactKind implements fact.Body.
func (StripLotWithdrawn) FactKind() string { return "strip-lot.withdrawn" }

// Container is an opened vial or bottle.
type Container struct {
	Name      string     `json:"name"`
	Opened    civil.Date `json:"opened"`
	Discard   civil.Date `json:"discard"` // last day of use
	Discarded string     `json:"discarded,omitempty"`
	At        time.Time  `json:"at"`
}

// StripLot is a lot of strips as it stands.
type StripLot struct {
	ID        string            `json:"id"`
	Details   StripLotDescribed `json:"details"`
	Vials     []Container       `json:"vials,omitempty"`
	Withdrawn string            `json:"withdrawn,omitempty"`
	Shelf     Shelf             `json:"shelf,omitzero"`
}

// NewStripLot gives a lot before any fact.
func NewStripLot(id string) fact.State { return &StripLot{ID: id} }

// Index keeps lots in the order of their numbers.
func (s *StripLot) Index() (parent, label string) { return "", strings.ToLower(s.Details.Lot) }

// Apply implements fact.State.
func (s *StripLot) Apply(r fact.Record) {
	switch b := r.Body.(type) {
	case StripLotDescribed:
		s.Details = b
		for i := range s.Vials {
			s.Vials[i].Discard = s.discard(s.Vials[i].Opened)
		}
	case VialOpened:
		s.Vials = openContainer(s.Vials, b.Vial, b.On, s.discard(b.On), r.At)
	case VialDiscarded:
		discardContainer(s.Vials, b.Vial, b.Reason)
	case StripLotWithdrawn:
		s.Withdrawn = b.Reason
	default:
		s.Shelf.apply(r)
	}
}

// discard gives the last day on which a vial opened on a day may be used: the day of opening is day 0.
func (s *StripLot) discard(opened civil.Date) civil.Date {
	if s.Details.InUseDays <= 0 {
		return s.Details.Expiry
	}
	return civil.Earlier(opened.AddDays(s.Details.InUseDays), s.Details.Expiry)
}

// ControlEachVial reports whether a newly opened vial needs controls; what the insert leaves open counts as yes.
func (s *StripLot) ControlEachVial() bool { return s.Details.EachVial != EachVialNo }

// Fits reports whether the strips fit a type of meter.
func (s *StripLot) Fits(model string) bool {
	for _, m := range s.Details.Models {
		if strings.EqualFold(strings.TrimSpace(m), strings.TrimSpace(model)) {
			return true
		}
	}
	return false
}

// Vial finds an opened vial by its name.
func (s *StripLot) Vial(name string) (Container, bool) { return findContainer(s.Vials, name) }

// Usable gives the sentence why this vial may not be used on a day, or "" when it may.
func (s *StripLot) Usable(vial string, day civil.Date) string {
	if s.Withdrawn != "" {
		return fmt.Sprintf("Strip lot %s was taken out of use: %s.", s.Details.Lot, strings.TrimSuffix(s.Withdrawn, "."))
	}
	if e := Expired("Strip lot "+s.Details.Lot, s.Details.Expiry, day); e != "" {
		return e
	}
	return usable(s.Vials, "Vial", vial, day)
}

// OpenVials lists the vials that may be used on a day, newest first.
func (s *StripLot) OpenVials(day civil.Date) []Container { return openContainers(s.Vials, day) }

func openContainer(list []Container, name string, on, discard civil.Date, at time.Time) []Container {
	for i := range list {
		if strings.EqualFold(list[i].Name, name) { // the first opening counts
			if on.Before(list[i].Opened) {
				list[i].Opened, list[i].Discard, list[i].At = on, discard, at
			}
			return list
		}
	}
	return append(list, Container{Name: name, Opened: on, Discard: discard, At: at})
}

func discardContainer(list []Container, name, reason string) {
	for i := range list {
		if strings.EqualFold(list[i].Name, name) && list[i].Discarded == "" {
			list[i].Discarded = reason
		}
	}
}

func findContainer(list []Container, name string) (Container, bool) {
	for _, c := range list {
		if strings.EqualFold(c.Name, name) {
			return c, true
		}
	}
	return Container{}, false
}

func usable(list []Container, word, name string, day civil.Date) string {
	c, ok := findContainer(list, name)
	switch {
	case !ok:
		return fmt.Sprintf("%s %s is not written down as opened.", word, name)
	case c.Discarded != "":
		return fmt.Sprintf("%s %s was discarded: %s.", word, c.Name, strings.TrimSuffix(c.Discarded, "."))
	case day.Before(c.Opened):
		return fmt.Sprintf("%s %s is written down as opened on %s, which is later.", word, c.Name, c.Opened.Long())
	case day.After(c.Discard):
		return fmt.Sprintf("%s %s was opened on %s and could be used until %s.", word, c.Name, c.Opened.Long(), c.Discard.Long())
	}
	return ""
}

func openContainers(list []Container, day civil.Date) []Container {
	var out []Container
	for _, c := range list {
		if c.Discarded == "" && !day.After(c.Discard) && !day.Before(c.Opened) {
			out = append(out, c)
		}
	}
	sort.SliceStable(out, func(i, j int) bool { return out[i].At.After(out[j].At) })
	return out
}
