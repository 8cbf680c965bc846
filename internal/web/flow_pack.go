package web

import (
	"bytes"
	"fmt"
	"math"
	"strconv"
	"strings"

	"fairstick/internal/fault"
	"fairstick/internal/paper"
	"fairstick/internal/plan"
	"fairstick/internal/programme"
	"fairstick/internal/protocol"
)

// packPDF is everything that an event needs on paper. It packs for the numbers in its address, or for those of the event's plan, and
// binds in the numbered forms that its address names. It records nothing: the numbers were given before.
func packPDF(s *Server, c *Context) error {
	d, err := c.Day()
	if err != nil {
		return err
	}
	pl, err := s.prog.Planning(c.R.Context())
	if err != nil {
		return err
	}
	room, err := s.prog.Stock(c.R.Context())
	if err != nil {
		return err
	}
	asked := flowTyped(d, pl, c.R.URL.Query())
	var supplies *packing
	desks, tests, tells := rosterPosts(d.Event)
	posts := [3]int{desks, tests, tells}
	if asked.Expected != "" {
		in, f := asked.input(d, pl, room)
		var p plan.Plan
		if f == nil {
			p, f = makePlan(in)
		}
		if f != nil {
			return fault.New(fault.Invalid, "pack-numbers", "The pack cannot be made from these numbers.", f.Sentence, "Go back to the page of posts and waits, put the numbers right, and take the pack from there.")
		}
		list := packingOf(in, p, room, d)
		supplies, posts = &list, p.Posts
	}
	f, err := paper.FormsOf(d, "en", c.now(d), s.opt.Demo != nil)
	if err != nil {
		return err
	}
	batches, err := boundForms(s, c, d)
	if err != nil {
		return err
	}
	doc := paper.Document{
		Title: "Event pack", Subtitle: joinAll(d.Event.Plan.Name, d.Event.Plan.Venue, d.Event.Plan.Date.Long(), d.Event.Plan.Doors.String()+" to "+d.Event.Plan.Ends.String()),
		Programme: d.Charter.Details.Name, RecordID: d.Event.ID, Lang: "en", Printed: c.now(d), Invented: s.opt.Demo != nil,
	}
	doc.Sections = append(doc.Sections, checkSection(d.Protocol), rosterSection(d), sketchSection(posts))
	doc.Sections = append(doc.Sections, stationCards(d, f)...)
	doc.Sections = append(doc.Sections, supplySection(supplies))
	if supplies != nil && supplies.Take != nil {
		doc.Sections = append(doc.Sections, takeSection(*supplies.Take))
	}
	doc.Sections = append(doc.Sections, emergencySection(d, f))
	size := paper.Letter
	if c.R.URL.Query().Get("size") == "a4" {
		size = paper.A4
	}
	var buf bytes.Buffer
	if err := paper.WriteEventPack(&buf, doc, f, batches, size); err != nil {
		return err
	}
	c.W.Header().Set("Content-Disposition", `inline; filename="event-pack-`+d.Event.Plan.Date.String()+`.pdf"`)
	return c.sendFile("application/pdf", "", buf.Bytes())
}

// joinAll puts commas between what is there.
func joinAll(parts ...string) string {
	s := ""
	for _, p := range parts {
		switch {
		case p == "":
		case s == "":
			s = p
		default:
			s = withComma(s, p)
		}
	}
	return s
}

func checkSection(p protocol.Protocol) paper.Section {
	t := &paper.Table{Columns: []paper.Column{{Title: "Done", Width: 9, Tick: true}, {Title: "Check", Width: 70}, {Title: "Initials, time", Width: 23}}}
	for _, k := range p.OpeningChecks {
		t.Rows = append(t.Rows, []string{"", k.Text.In("en"), ""})
	}
	return paper.Section{Heading: "Before the doors open", Paragraphs: []string{"Each check is ticked here, and in Fairstick under Open. Controls come before the first person: the logs stand behind the emergency card."}, Table: t}
}

func rosterSection(d *programme.Day) paper.Section {
	s := paper.Section{Heading: "Who works", NewPage: true}
	t := &paper.Table{Columns: []paper.Column{{Title: "Here", Width: 9, Tick: true}, {Title: "Name", Width: 30}, {Title: "Post", Width: 20}, {Title: "Station", Width: 12}, {Title: "Verified until", Width: 20}, {Title: "Comes, goes", Width: 18}}}
	for _, r := range d.Report().Staff {
		t.Rows = append(t.Rows, []string{"", r.Name, r.Role, r.Station, heldText(r), ""})
	}
	if len(t.Rows) == 0 {
		s.Paragraphs = []string{"Nobody is on the roster yet. People are posted in Fairstick under Roster."}
		return s
	}
	s.Table = t
	return s
}

// sketchSection draws the way through the room with as many tables as there are posts.
func sketchSection(posts [3]int) paper.Section {
	tables := func(n int) string { return plural(n, "table", "tables") + "." }
	return paper.Section{
		Heading: "The way through the room", Keep: true, NewPage: true,
		Paragraphs: []string{"One way in, one way out, and nobody turns back. Tape arrows on the floor. Who waits stands where no number can be heard."},
		Sketch: &paper.Sketch{
			Stops: []paper.Stop{
				{Name: "Way in", Says: "Poster with the hours and the signs that need help at once."},
				{Name: "Desk", Tables: posts[0], Says: tables(posts[0]) + " Signs, consent, questions. Tickets."},
				{Name: "Chairs", Says: "Before the test. Warm hands bleed better. Hands are washed here."},
				{Name: "Test", Tables: posts[1], Says: tables(posts[1]) + " A sharps box at each, within reach of the hand that pricks."},
				{Name: "Explain", Tables: posts[2], Says: tables(posts[2]) + " Two chairs each, behind a screen."},
				{Name: "Way out", Says: "Water, leaflets, list of clinics. Not past the way in."},
			},
			Note: "Squares are tables, one for each post. The supervisor stands between the test and the explanation and sees both. Glucose, the first-aid kit and the emergency card lie there.",
		},
	}
}

// stationCards are what is done at each station, in the order in which it is done. What the protocol decides is told from it.
func stationCards(d *programme.Day, f paper.FormPack) []paper.Section {
	p := d.Protocol
	card := func(heading string, steps ...string) paper.Section {
		s := paper.Section{Heading: heading, Large: true, NewPage: true}
		for _, text := range steps {
			if text != "" {
				s.Paragraphs = append(s.Paragraphs, strconv.Itoa(len(s.Paragraphs)+1)+". "+text)
			}
		}
		return s
	}
	read := "Type it a second time without looking."
	if p.ReadBack == protocol.SecondPerson {
		read = "Let a second person read the meter and say it."
	}
	return []paper.Section{
		card("Desk",
			"Look before you ask. "+strings.Join(f.Signs, "; ")+": call the supervisor, this is no screening.",
			"Give the ticket. Its number goes with the person from here on.",
			fmt.Sprintf("Read the consent aloud (version %s). Without a yes nothing is asked and nothing is tested.", f.Version),
			fmt.Sprintf("Ask each question as it stands, from %d years of age on. Who is not tested today hears why, gets the leaflet and goes with thanks.", p.MinAge),
			fmt.Sprintf("Ask when they last ate or drank anything but water. %d hours or more is fasting; not sure is not fasting.", f.Fasting),
			"Ask whether we may call about the result. A no is written down as well.",
			"Show the chairs. Hands are washed with soap and warm water, and dried."),
		card("Test",
			"Call the ticket. Let the person read its number to you.",
			"Clean hands, new gloves. The meter is dry, its controls passed today, and its code is that of the vial if it has one.",
			"See that hands were washed with soap and are dry, or write down that they were not. Disinfect the finger and let it dry in the air. Take one strip and close the vial.",
			"A new single-use lancet, the side of a fingertip. The lancet goes into the sharps box at once, by the hand that held it.",
			"Washed with soap: take the first drop. Not washed: wipe it away and take the second. The insert of the strips decides. Do not squeeze the tip.",
			"Enter what the meter shows, with its unit, also LO, HI and errors. "+read,
			f.Repeat,
			"Any critical number or sign: stay with the person, call the supervisor. Nobody walks on alone.",
			wipeStep(d),
			"Say nothing about the number. The next station does."),
		card("Explain",
			"Call the ticket. Sit down, and let the person read its number to you.",
			"Say the number with its unit and the word on the slip. It is a screening: it cannot tell that somebody has diabetes, and cannot rule it out.",
			"Say what to do, by when and where, as the slip says. Then ask: \"How will you tell it at home?\"",
			"Give the slip. With a referral, choose the clinic together and ask once more whether we may call.",
			f.Low, f.Never,
			"Thank them, and show the way out."),
	}
}

// wipeStep tells how long a meter stays wet by the labels on the list.
func wipeStep(d *programme.Day) string {
	longest := int(math.Round(60 * wetOf(d)))
	if longest == 0 {
		return "Wipe the meter after each person. It stays wet as long as the label of the wipe says. Gloves off, hands clean."
	}
	return fmt.Sprintf("Wipe the meter after each person. It stays wet for %d:%02d; the label of the wipe decides. Gloves off, hands clean.", longest/60, longest%60)
}

func supplySection(list *packing) paper.Section {
	s := paper.Section{Heading: "What to pack", NewPage: true}
	if list == nil {
		s.Paragraphs = []string{"The plan does not say yet how many people are expected, so nothing could be counted."}
		return s
	}
	s.Paragraphs = list.Said[:1]
	t := &paper.Table{Columns: []paper.Column{{Title: "In", Width: 9, Tick: true}, {Title: "Item", Width: 54}, {Title: "Need", Width: 10, Right: true}, {Title: "Packs", Width: 14, Right: true}, {Title: "Back, lot", Width: 20}}}
	for _, l := range list.Lines {
		t.Rows = append(t.Rows, []string{"", l.Name, l.Need, l.Packs, ""})
	}
	s.Table = t
	return s
}

// takeSection lists the vials and bottles to take, with squares to tick.
func takeSection(p reportPart) paper.Section {
	s := paper.Section{Heading: p.Heading, Paragraphs: p.Said, Keep: true}
	if len(p.Rows) == 0 {
		return s
	}
	s.Table = &paper.Table{Columns: []paper.Column{{Title: "In", Width: 9, Tick: true}, {Title: p.Cols[0].Label, Width: 50}, {Title: p.Cols[1].Label, Width: 22}, {Title: p.Cols[2].Label, Width: 14, Right: true}, {Title: p.Cols[3].Label, Width: 14, Right: true}}}
	for _, row := range p.Rows {
		s.Table.Rows = append(s.Table.Rows, append([]string{""}, row...))
	}
	return s
}

// emergencySection is the card that lies beside the telephone.
func emergencySection(d *programme.Day, f paper.FormPack) paper.Section {
	where := joinAll(d.Event.Plan.Venue, d.Event.Plan.Address)
	if d.Event.Plan.Address == "" {
		where += ". The street address is not in the plan. Write it here before the doors open: ______________________________"
	}
	call := "Call " + f.Emergency + "."
	if f.Emergency == "" {
		call = "The emergency number is not in the plan. Write it here: ____________"
	}
	s := paper.Section{Heading: "Emergency", Large: true, NewPage: true, Paragraphs: []string{
		call, "We are at: " + where + ".",
		"Say: where we are; adult, awake or not, breathing or not; what the meter showed. Do not hang up first. Send somebody to the door.",
		"These signs outrank any number: " + strings.Join(f.Signs, "; ") + ".",
		f.Low + " " + f.Never,
	}}
	if f.Urgent != "" {
		s.Paragraphs = append(s.Paragraphs, "Must be seen today, needs no ambulance: "+f.Urgent+".")
	} else {
		s.Paragraphs = append(s.Paragraphs, "Must be seen today, needs no ambulance: the plan names no place. Write it here: ______________________________")
	}
	if p := d.Charter.Details; p.ExposurePhone != "" || p.ExposureContact != "" {
		s.Paragraphs = append(s.Paragraphs, "A needlestick or a splash: wash at once, then call "+joinAll(p.ExposureContact, p.ExposurePhone, p.ExposureHours)+".")
	}
	return s
}
