package programme

import (
	"context"
	"fmt"
	"strings"

	"fairstick/internal/charter"
	"fairstick/internal/civil"
	"fairstick/internal/competence"
	"fairstick/internal/competence/cards"
	"fairstick/internal/event"
	"fairstick/internal/fact"
	"fairstick/internal/people"
	"fairstick/internal/stock"
	"fairstick/internal/store"
)

// One reads one subject, for example One[*stock.Meter](ctx, p, stock.MeterRef(id)). A subject that is not in the record is
// a *fault.Fault of kind Missing.
func One[S fact.State](ctx context.Context, p *Programme, ref fact.Ref) (S, error) {
	var out S
	err := p.store.Read(ctx, func(v *store.View) error {
		st, ok, err := v.State(ref)
		if err != nil {
			return err
		}
		if !ok {
			return missing(ref)
		}
		s, is := st.(S)
		if !is {
			return fmt.Errorf("programme: %s is a %T", ref.Kind, st)
		}
		out = s
		return nil
	})
	return out, err
}

// Need is one thing that a programme needs before its first event can open.
type Need struct {
	Key  string // names the page on which it is done
	Name string
	Done bool
	Says string // how it stands, in one sentence
	Do   string // what to do now; empty when it is done
}

// SetUp is how far a programme is set up, from one moment of the record.
type SetUp struct {
	Charter       *charter.State
	People        []*people.State // who take part
	Meters        []*stock.Meter
	StripLots     []*stock.StripLot
	ControlLots   []*stock.ControlLot
	Disinfectants []*stock.Disinfectant
	Supplies      []*stock.Supply
	Events        []*event.State // in the order of their dates
	Needs         []Need

	training map[string]standing
}

// Missing counts the needs that are open.
func (s SetUp) Missing() int {
	n := 0
	for _, x := range s.Needs {
		if !x.Done {
			n++
		}
	}
	return n
}

// SetUp tells what is set up and what is missing before an event could open. Needs of the day itself (roster, checks, room,
// stock brought, controls) are asked by the event.
func (p *Programme) SetUp(ctx context.Context) (SetUp, error) {
	out := SetUp{Charter: &charter.State{ID: charter.Ref.ID}}
	err := p.store.Read(ctx, func(v *store.View) error {
		st, ok, err := v.State(charter.Ref)
		if err != nil {
			return err
		}
		if ok {
			out.Charter = st.(*charter.State)
		}
		all, err := listed[*people.State](v.All(people.Kind))
		if err != nil {
			return err
		}
		for _, s := range all {
			if s.Gone == "" {
				out.People = append(out.People, s)
			}
		}
		if out.Meters, err = listed[*stock.Meter](v.All(stock.MeterKind)); err != nil {
			return err
		}
		if out.StripLots, err = listed[*stock.StripLot](v.All(stock.StripLotKind)); err != nil {
			return err
		}
		if out.ControlLots, err = listed[*stock.ControlLot](v.All(stock.ControlLotKind)); err != nil {
			return err
		}
		if out.Disinfectants, err = listed[*stock.Disinfectant](v.All(stock.DisinfectantKind)); err != nil {
			return err
		}
		if out.Supplies, err = listed[*stock.Supply](v.All(stock.SupplyKind)); err != nil {
			return err
		}
		if out.Events, err = listed[*event.State](v.All(event.Kind)); err != nil {
			return err
		}
		out.training, err = readTraining(v, p.now().Location())
		return err
	})
	if err != nil {
		return out, err
	}
	out.Needs = out.needs(civil.Of(p.now()))
	return out, nil
}

func (s SetUp) needs(day civil.Date) []Need {
	return []Need{s.needProgramme(day), s.needLabel(), s.needProtocol(), s.needPeople(day), s.needDisinfectant(day), s.needMeter(), s.needStrips(day), s.needControls(day), s.needEvent(day)}
}

func (s SetUp) needProgramme(day civil.Date) Need {
	d := s.Charter.Details
	n := Need{Key: "programme", Name: "Programme and certificate", Do: "Type the certificate, the contact for participants and the emergency number."}
	switch {
	case d.Certificate == "" || d.CertificateUntil.IsZero() || d.Contact == "" || d.Emergency == "":
		n.Says = "The certificate of waiver and the telephone numbers are not on record."
	case day.After(d.CertificateUntil):
		n.Says, n.Do = "The certificate of waiver ended on "+d.CertificateUntil.Long()+".", "Renew it and type the new last day."
	case d.ExposurePhone == "":
		n.Says, n.Do = "The number to call after a needlestick is not on record.", "Type the place, its telephone and its hours."
	default:
		n.Done, n.Do = true, ""
		n.Says = fmt.Sprintf("Certificate %s until %s. Readings in %s.", d.Certificate, d.CertificateUntil.Long(), d.Unit)
	}
	return n
}

func (s SetUp) needLabel() Need {
	if s.Charter.Details.LabelledUse {
		return Need{Key: "programme", Name: "Labelled use", Done: true, Says: "The lead read what the meters are labelled for."}
	}
	return Need{Key: "programme", Name: "Labelled use", Says: "Nobody has recorded that the meters' labelled use was read.", Do: "Read the labels and the instructions, then tick it."}
}

func (s SetUp) needProtocol() Need {
	n := Need{Key: "protocol", Name: "Protocol"}
	a, ok := s.Charter.InForce()
	switch {
	case ok && s.Charter.Draft != nil:
		n.Done = true
		n.Says = fmt.Sprintf("Version %s is in force. Draft %s waits for two signatures.", a.Protocol.Version, s.Charter.Draft.Version)
	case ok:
		n.Done = true
		n.Says = fmt.Sprintf("Version %s, signed by %s and %s on %s.", a.Protocol.Version, a.First.Name, a.Second.Name, civil.Of(a.At).Long())
	default:
		n.Says, n.Do = "No protocol has been signed.", "Read the draft, change what your programme does differently, and sign it with a second person."
	}
	return n
}

func (s SetUp) needPeople(day civil.Date) Need {
	n := Need{Key: "people", Name: "People"}
	supervisors, screeners, pins := 0, 0, 0
	for _, p := range s.People {
		if p.Has(people.Supervisor) || p.Has(people.Lead) {
			supervisors++
		}
		if p.Has(people.Screener) && s.screens(p, day) {
			screeners++
		}
		if p.PinHash != "" {
			pins++
		}
	}
	n.Says = fmt.Sprintf("%d on the list, %d of them with a PIN; %d screeners verified today; %d who may supervise.", len(s.People), pins, screeners, supervisors)
	switch {
	case len(s.People) < 2:
		n.Do = "Add the people of your programme, one by one or from a file."
	case screeners == 0:
		n.Do = "Record the verification of at least one screener."
	default:
		n.Done = true
	}
	return n
}

// screens reports whether somebody is verified as a screener, on paper or by training.
func (s SetUp) screens(p *people.State, day civil.Date) bool {
	if _, ok := p.VerifiedOn(people.Screener, day); ok {
		return true
	}
	has := s.training[p.ID]
	a, signed := s.Charter.InForce()
	if has.skill == nil || !signed {
		return false
	}
	rules, err := rulesOf(a.Protocol)
	return err == nil && len(competence.Lacks(has.skill, rules, cards.Screener, has.on(day))) == 0
}

func (s SetUp) needDisinfectant(day civil.Date) Need {
	n := Need{Key: "disinfectants", Name: "Disinfectant"}
	ok := 0
	for _, d := range s.Disinfectants {
		if stock.Expired("", d.Details.Expiry, day) == "" {
			ok++
		}
	}
	n.Says = fmt.Sprintf("%d in date, of %d on the list.", ok, len(s.Disinfectants))
	if n.Done = ok > 0; !n.Done {
		n.Do = "Add the wipes that the meters' instructions allow, with their contact time."
	}
	return n
}

func (s SetUp) needMeter() Need {
	n := Need{Key: "meters", Name: "Meters"}
	ready, out := 0, 0
	for _, m := range s.Meters {
		switch {
		case m.Quarantine != nil:
			out++
		case m.Reviewed() == "":
			ready++
		}
	}
	n.Says = fmt.Sprintf("%d reviewed for use on several people, of %d on the list.", ready, len(s.Meters))
	if out > 0 {
		n.Says += fmt.Sprintf(" %d in quarantine.", out)
	}
	n.Done = ready > 0
	switch {
	case len(s.Meters) == 0:
		n.Do = "Add each meter, then read its instructions and sign the review."
	case !n.Done:
		n.Do = "Read the instructions of a meter and sign its review."
	}
	return n
}

func (s SetUp) needStrips(day civil.Date) Need {
	n := Need{Key: "strips", Name: "Strips"}
	usable, fits := 0, 0
	for _, l := range s.StripLots {
		if l.Withdrawn != "" || stock.Expired("", l.Details.Expiry, day) != "" {
			continue
		}
		usable++
		for _, m := range s.Meters {
			if l.Fits(m.Details.Model) {
				fits++
				break
			}
		}
	}
	n.Says = fmt.Sprintf("%d in date, of %d on the list.", usable, len(s.StripLots))
	n.Done = fits > 0
	switch {
	case usable == 0:
		n.Do = "Add a lot in date, with the control ranges printed on its vial."
	case fits == 0:
		n.Do = "No lot in date fits a meter on the list. Compare the types on both pages."
	}
	return n
}

func (s SetUp) needControls(day civil.Date) Need {
	n := Need{Key: "controls", Name: "Control solution"}
	a, signed := s.Charter.InForce()
	var levels []string
	if signed {
		levels = a.Protocol.Controls.Levels
	} else if s.Charter.Draft != nil {
		levels = s.Charter.Draft.Controls.Levels
	}
	var lacking []string
	for _, level := range levels {
		have := false
		for _, l := range s.ControlLots {
			have = have || l.Details.Level == level && stock.Expired("", l.Details.Expiry, day) == ""
		}
		if !have {
			lacking = append(lacking, level)
		}
	}
	n.Done = len(levels) > 0 && len(lacking) == 0
	if n.Done {
		n.Says = fmt.Sprintf("Every level is there in date: %s.", strings.Join(levels, ", "))
		return n
	}
	n.Says = fmt.Sprintf("No solution in date for level %s.", strings.Join(lacking, " and "))
	n.Do = "Add a lot of control solution for each level."
	return n
}

func (s SetUp) needEvent(day civil.Date) Need {
	n := Need{Key: "events", Name: "An event with a place to refer to"}
	for _, e := range s.Events {
		if e.Phase == event.IsClosed || e.Plan.Date.Before(day) {
			continue
		}
		n.Says = fmt.Sprintf("%s on %s.", e.Plan.Name, e.Plan.Date.Long())
		if f := routeFault(e); f != nil {
			n.Says, n.Do = n.Says+" "+f.Sentence, f.Do
			return n
		}
		if f := emergencyFault(s.Charter, e); f != nil {
			n.Says, n.Do = n.Says+" "+f.Sentence, f.Do
			return n
		}
		n.Done = true
		return n
	}
	n.Says, n.Do = "No event is planned from today on.", "Plan one: venue, address, date, and where people are referred to."
	return n
}
