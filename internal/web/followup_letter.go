package web

import (
	"strings"
	"time"

	"fairstick/internal/civil"
	"fairstick/internal/fault"
	"fairstick/internal/followup"
	"fairstick/internal/paper"
	"fairstick/internal/programme"
	"fairstick/internal/wording"
)

// letterOf turns a letter into the page that is printed. The one to the person says nothing of the reading.
func letterOf(l programme.Letter, now time.Time, invented bool) paper.PersonLetter {
	v, zone := l.Visit, l.Event.Zone()
	p := paper.FollowUpLetter{
		Lang: l.Language, ToClinician: l.To == followup.ToClinician, Programme: l.Charter.Details.Name, Contact: l.Charter.Details.Contact, Hours: l.Charter.Details.ContactHours,
		Name: l.Contact.Name, Address: addressLines(l.Contact.Address), Day: civil.Of(now.In(zone)), Screened: l.Event.Plan.Date, By: civil.Of(l.Due.In(zone)), Event: l.Event.Plan.Name,
		Place: l.Place, Emergency: l.Event.EmergencyNumber(l.Charter.Details.Emergency), Warnings: textsIn(l.Protocol.Warnings, l.Language), RecordID: v.ID, Printed: now.In(zone), Invented: invented,
	}
	if tongue, reviewed := l.Tongue(fixedWords); tongue != nil && !p.ToClinician {
		p.Tongue, p.Unreviewed, p.Warnings = tongue, !reviewed, textsIn(wording.Fill(*tongue, l.Protocol.Warnings), l.Language)
	}
	for _, r := range append(l.Event.Plan.Routes, l.Event.Plan.Urgent) {
		if r.Name == l.Place {
			p.PlaceSays = joinWords(joinWords(r.Phone, r.Address), r.Hours)
		}
	}
	if p.ToClinician {
		p.Address, p.Reading, p.Basis = nil, shownWithUnit(l.Finding.Reading), lower(basisTitles[l.Finding.Basis])
		if r, ok := v.Counting(); ok {
			p.Taken = r.At.In(zone).Format("15:04 on 2 Jan 2006")
		}
		p.CanMislead = "It can be misled by: " + strings.ToLower(strings.Join(textsIn(l.Protocol.CanMislead, "en"), "; ")) + "."
	}
	return p.Letter()
}

// addressLines cuts an address at its commas: a street, a town.
func addressLines(s string) []string {
	var out []string
	for line := range strings.SplitSeq(s, ",") {
		if line = strings.TrimSpace(line); line != "" {
			out = append(out, line)
		}
	}
	if len(out) > 4 {
		out = append(out[:3:3], strings.Join(out[3:], ", "))
	}
	return out
}

// paperSize reads which paper a page is printed on; letter when nothing was chosen.
func paperSize(name string) (paper.PageSize, error) {
	switch name {
	case "", "letter":
		return paper.Letter, nil
	case "a4":
		return paper.A4, nil
	}
	return paper.Letter, fault.BadField("paper", "%q is no paper that is printed on. Choose letter or A4.", name)
}
