package web

import (
	"fmt"
	"slices"
	"strings"

	"fairstick/internal/event"
	"fairstick/internal/paper"
	"fairstick/internal/people"
	"fairstick/internal/programme"
)

func rosterPDF(s *Server, c *Context) error {
	d, err := c.Day()
	if err != nil {
		return err
	}
	return c.sendDaySheet("roster-", d, rosterDocument(d))
}

func rosterStationsPDF(s *Server, c *Context) error {
	d, err := c.Day()
	if err != nil {
		return err
	}
	return c.sendDaySheet("stations-", d, stationSheets(d))
}

func (c *Context) sendDaySheet(name string, d *programme.Day, doc paper.Document) error {
	doc.Programme, doc.RecordID, doc.Lang = d.Charter.Details.Name, d.Event.ID, "en"
	doc.Printed, doc.Invented = c.now(d), c.s.opt.Demo != nil
	return c.sendPDF(name+d.Event.Plan.Date.String(), doc)
}

func dayText(p event.Planned) string {
	return fmt.Sprintf("%s, %s, %s. Doors %s to %s.", p.Name, venueText(p), p.Date.Long(), p.Doors, p.Ends)
}

// venueText is the venue, and the address where it is known.
func venueText(p event.Planned) string {
	if p.Address == "" {
		return p.Venue
	}
	return p.Venue + ", " + p.Address
}

func rosterSorted(list []event.Post) []event.Post {
	out := slices.Clone(list)
	slices.SortStableFunc(out, func(a, b event.Post) int { return programme.ComparePosts(a.Role, a.Station, b.Role, b.Station) })
	return out
}

// rosterDocument is the roster on paper, with a column to tick who is here.
func rosterDocument(d *programme.Day) paper.Document {
	doc := paper.Document{Title: "Roster", Subtitle: dayText(d.Event.Plan)}
	t := &paper.Table{Columns: []paper.Column{{Title: "Name", Width: 4}, {Title: "Post", Width: 2.4}, {Title: "Station", Width: 1.5}, {Title: "Languages", Width: 2}, {Title: "Gloves", Width: 1.4}, {Title: "Verified until", Width: 2.6}, {Title: "Here at", Width: 2.4}}}
	for _, p := range rosterSorted(d.Event.Roster) {
		row := []string{d.NameOf(p.Person), p.Role, p.Station, "", "", "", "____ : ____"}
		if who := d.Person(p.Person); who != nil {
			row[3], row[4] = strings.Join(who.Details.Languages, ", "), who.Details.Glove
			row[5] = proofText(d, who, p.Role)
		}
		if p.Told && !p.Here {
			if row[6] = "not there"; p.Note != "" {
				row[6] += ", " + p.Note
			}
		}
		t.Rows = append(t.Rows, row)
	}
	if len(t.Rows) == 0 {
		doc.Sections = []paper.Section{{Paragraphs: []string{"Nobody is on the roster yet."}}}
		return doc
	}
	doc.Sections = []paper.Section{
		{Table: t},
		{Heading: "Supervision", Paragraphs: []string{ratioText(d)}, Keep: true},
		{Heading: "In an emergency", Paragraphs: []string{emergencyText(d)}, Keep: true},
	}
	return doc
}

// proofText says until when somebody is verified for a post on the day, or that they are not.
func proofText(d *programme.Day, who *people.State, role string) string {
	switch {
	case d.ProtocolErr != nil || !contains(d.Protocol.Verification.Roles, role):
		return "not needed"
	case d.VerifiedFor(who, people.Role(role)) != nil:
		return "NOT VERIFIED"
	}
	return d.VerifiedUntil(who, people.Role(role)).Long()
}

// ratioText counts hands-on people and supervisors as they are planned.
func ratioText(d *programme.Day) string {
	hands, over := 0, 0
	for _, p := range d.Event.Roster {
		switch people.Role(p.Role) {
		case people.Screener, people.Counsellor:
			hands++
		case people.Supervisor, people.Lead:
			over++
		case people.Desk, people.Runner:
		}
	}
	s := fmt.Sprintf("%s planned to test or counsel, under %s.", plural(hands, "person is", "people are"), plural(over, "supervisor", "supervisors"))
	if d.ProtocolErr == nil {
		s += fmt.Sprintf(" The protocol wants %d for each supervisor and allows %d at most.", d.Protocol.Ratio.Wanted, d.Protocol.Ratio.Most)
	}
	return s
}

func emergencyText(d *programme.Day) string {
	number := d.Event.EmergencyNumber(d.Charter.Details.Emergency)
	if number == "" {
		number = "the emergency services"
	}
	if d.Event.Plan.Address == "" {
		return "Call " + number + ". The street address is missing in the plan: write it here. ______________________________"
	}
	return fmt.Sprintf("Call %s. Say: %s, %s.", number, d.Event.Plan.Venue, d.Event.Plan.Address)
}

// stationTasks are the steps of each post in our words. What the protocol decides stays on the screen of the station.
var stationTasks = map[string][]string{
	"lead":       {"Open the day: checks, room, stock, controls.", "Keep the board in sight; move people where the line grows.", "Sign what only you may sign. Close the day when the sums are right."},
	"supervisor": {"Stand within reach of those you watch.", "Come at once to an alert and sign in on it.", "Agree or refuse; sign with your own PIN, one act at a time.", "Stop a station that is not safe."},
	"desk":       {"Greet; say that it is free, takes about 25 minutes and is no diagnosis.", "Give a ticket and ask for the language.", "Read the consent; write down yes or no.", "Ask the questions as they stand; ask when the person last ate or drank.", "Ask for a call back only with permission. Send the person on with the ticket."},
	"screener":   {"Take the next ticket. Hands washed with soap, and dried.", "New gloves. A new lancet each time; straight into sharps.", "Put strip to drop. Read the number aloud with its unit, type it, have it read back.", "Say nothing about the number; send the person to Explain. Call the supervisor when the screen says so.", "Gloves off, hands clean. Wipe the meter and keep it wet until the clock has ended."},
	"counsellor": {"Sit where nobody listens. Ask what the person wants to know.", "Say what was seen and what it can and cannot mean. No word of a diagnosis.", "Print the slip; agree where the person goes and by when.", "Let the person say it back. Ask before anybody calls."},
	"runner":     {"Keep the line moving and the tables stocked.", "Sharps containers: change at three quarters.", "Bring controls, strips and wipes before they run out.", "Count who leaves without being seen."},
}

var stationTitles = map[string]string{"lead": "Lead", "supervisor": "Supervisors", "desk": "Desk", "screener": "Test", "counsellor": "Explain", "runner": "Runners"}

// stationSheets is a page for each station: who, in which languages, and the steps.
func stationSheets(d *programme.Day) paper.Document {
	doc := paper.Document{Title: "Station sheets", Subtitle: dayText(d.Event.Plan)}
	type place struct{ role, station string }
	var order []place
	at := map[place][]event.Post{}
	for _, p := range rosterSorted(d.Event.Roster) {
		k := place{p.Role, p.Station}
		if len(at[k]) == 0 {
			order = append(order, k)
		}
		at[k] = append(at[k], p)
	}
	for i, k := range order {
		title := stationTitles[k.role]
		if k.station != "" {
			title += ", station " + k.station
		}
		sec := paper.Section{Heading: title, NewPage: i > 0, Large: true, Table: &paper.Table{Columns: []paper.Column{{Title: "Who", Width: 4}, {Title: "Languages", Width: 2}, {Title: "Gloves", Width: 1.5}, {Title: "Initials", Width: 2}}}}
		for _, p := range at[k] {
			row := []string{d.NameOf(p.Person), "", "", ""}
			if who := d.Person(p.Person); who != nil {
				row[1], row[2] = strings.Join(who.Details.Languages, ", "), who.Details.Glove
			}
			sec.Table.Rows = append(sec.Table.Rows, row)
		}
		var steps []string
		for n, s := range stationTasks[k.role] {
			steps = append(steps, fmt.Sprintf("%d.  %s", n+1, s))
		}
		doc.Sections = append(doc.Sections, sec, paper.Section{Heading: "Steps", Large: true, Paragraphs: steps},
			paper.Section{Heading: "In an emergency", Large: true, Paragraphs: []string{emergencyText(d), "Who supervises: " + supervisorNames(d) + "."}})
	}
	if len(order) == 0 {
		doc.Sections = []paper.Section{{Paragraphs: []string{"Nobody is on the roster yet."}}}
	}
	return doc
}

func supervisorNames(d *programme.Day) string {
	var names []string
	for _, p := range d.Event.Roster {
		if p.Role == string(people.Supervisor) || p.Role == string(people.Lead) {
			names = append(names, d.NameOf(p.Person))
		}
	}
	if len(names) == 0 {
		return "nobody is on the roster yet"
	}
	return strings.Join(names, ", ")
}
