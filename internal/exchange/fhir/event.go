package fhir

import (
	"slices"
	"strings"

	"fairstick/internal/civil"
	"fairstick/internal/event"
	"fairstick/internal/stock"
)

const (
	programmeID = "programme" // the one charter of a record
	meterType   = "Blood glucose meter"
	stripType   = "Blood glucose test strips"
	controlType = "Glucose control solution"
)

// surroundings writes what the visits point at: the programme, the venue, the places of referral, staff, meters and strips.
func (b *builder) surroundings() {
	d := b.x.Charter.Details
	b.share(Organization{Head: head("Organization", programmeID), Name: d.Name, Type: []Concept{*words("Community blood-glucose screening programme")}, Telecom: phone(d.Contact)})
	plan := b.x.Event.Plan
	b.share(Location{
		Head: head("Location", b.x.Event.ID), Status: "active", Name: plan.Venue, Address: line(plan.Address), ManagingOrganization: b.at("Organization", programmeID),
	})
	for _, r := range append(slices.Clone(plan.Routes), plan.Urgent) {
		b.route(r)
	}
	used := b.used()
	for _, p := range b.x.People {
		if !used[p.ID] {
			continue
		}
		who := Practitioner{Head: head("Practitioner", p.ID), Identifier: []Identifier{record(p.ID)}}
		if b.x.Names {
			who.Name = []Text{{p.Details.Name}}
			if p.Details.Title != "" {
				who.Qualification = append(who.Qualification, Qualification{*words(p.Details.Title)})
			}
		}
		for _, r := range p.Details.Roles {
			who.Qualification = append(who.Qualification, Qualification{*words("Screening programme: " + string(r))})
		}
		b.share(who)
	}
	for _, m := range b.x.Meters {
		if used[m.ID] {
			b.share(b.meter(m))
		}
	}
	for _, l := range b.x.StripLots {
		if used[l.ID] {
			b.share(b.lot(l.ID, stripType, "Strip lot "+l.Details.Lot, l.Details.Lot, l.Details.Expiry))
		}
	}
	for _, l := range b.x.ControlLots {
		if used[l.ID] {
			b.share(b.lot(l.ID, controlType, "Control solution "+l.Details.Lot+", level "+l.Details.Level, l.Details.Lot, l.Details.Expiry))
		}
	}
}

func (b *builder) lot(id, kind, name, number string, expiry civil.Date) Device {
	return Device{
		Head: head("Device", id), Identifier: []Identifier{record(id)}, LotNumber: number, ExpirationDate: expiry.String(), Type: words(kind),
		DeviceName: []DeviceName{{Name: name, Type: "user-friendly-name"}}, Owner: b.at("Organization", programmeID),
	}
}

func (b *builder) meter(m *stock.Meter) Device {
	d := Device{
		Head: head("Device", m.ID), Identifier: []Identifier{record(m.ID)}, Status: "active", SerialNumber: m.Details.Serial, ModelNumber: m.Details.Model, Type: words(meterType),
		DeviceName: []DeviceName{{Name: m.Details.Label, Type: "user-friendly-name"}}, Owner: b.at("Organization", programmeID),
	}
	if m.Quarantine != nil {
		d.Status = "inactive"
	}
	return d
}

// route writes a place to which people are referred.
func (b *builder) route(r event.Route) {
	if strings.TrimSpace(r.Name) == "" {
		return
	}
	o := Organization{Head: head("Organization", "route", r.Name), Name: r.Name, Telecom: phone(r.Phone)}
	if a := line(r.Address); a != nil {
		o.Address = []Text{*a}
	}
	b.share(o)
}

// used tells which people, meters and lots the visits and control runs of the event point at.
func (b *builder) used() map[string]bool {
	out := map[string]bool{}
	for _, r := range b.x.Event.Runs {
		out[r.By], out[r.Meter], out[r.StripLot], out[r.ControlLot] = true, true, true, true
	}
	for i := range b.x.Going {
		v := &b.x.Going[i]
		for _, r := range v.Readings {
			out[r.By], out[r.Supervisor], out[r.Meter], out[r.StripLot], out[r.ReadBack] = true, true, true, true, true
		}
		for _, r := range v.Withdrawn {
			out[r.By], out[r.Supervisor], out[r.Meter], out[r.StripLot], out[r.ReadBack] = true, true, true, true, true
		}
		out[v.Counsellor] = true
	}
	for _, f := range b.calls {
		out[f.State.Assigned()] = true
		if f.State != nil {
			for _, a := range f.State.Attempts {
				out[a.Who()] = true
			}
		}
	}
	return out
}

func phone(number string) []ContactPoint {
	if strings.TrimSpace(number) == "" {
		return nil
	}
	return []ContactPoint{{System: "phone", Value: number}}
}

func line(text string) *Text {
	if strings.TrimSpace(text) == "" {
		return nil
	}
	return &Text{strings.Join(strings.Fields(text), " ")}
}
