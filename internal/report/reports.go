package report

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"fairstick/internal/about"
	"fairstick/internal/event"
	"fairstick/internal/incident"
	"fairstick/internal/programme"
	"fairstick/internal/protocol"
	"fairstick/internal/stock"
)

// The figures of the way through an event and of what came after it, in their order.
var (
	funnel   = []string{"approached", "consented", "eligible", "tested", "valid", "known", "repeated", "referred"}
	atDoor   = []string{"tested", "not-eligible", "declined", "left", "unfinished"}
	followed = []string{"may-call", "no-call", "tried", "reached", "seen", "seen-30", "seen-90", "scheduled", "not-yet", "declined-care", "in-care", "unreachable", "wrong-number", "diagnosed"}
)

// season is everything about a season, for those who run it.
func (r *writer) season() {
	r.opening()
	r.against()
	r.costSaid()
	r.put(r.targets())
	p := r.shares("funnel", "How far did people come?", nil, funnel...)
	p.steps("How far did people come?", "people", 1)
	r.put(p)
	r.put(r.bands())
	r.put(r.shares("door", "What became of everybody who came?", nil, atDoor...))
	r.put(r.reasons())
	p = r.shares("after", "What became of the referrals?", []string{"Completion is seen of everybody referred, never of those reached. Outcomes and diagnoses are as people or clinics told them."}, followed...)
	p.steps("What became of the referrals?", "people", 1)
	r.put(p)
	r.put(r.trend())
	r.put(r.parts("languages", "In which languages, and did they complete?", programme.ByLanguage))
	r.put(r.parts("ages", "At which ages, and did they complete?", programme.ByAge))
	r.put(r.quality())
	r.put(r.mishaps())
	r.put(r.staff())
	r.put(r.cost())
	r.put(r.learning())
}

// college is one page for the dean: two tables, and the events in the sentences above them.
func (r *writer) college() {
	r.s.OnePage = true
	r.opening()
	r.against()
	r.costSaid()
	r.put(r.shares("done", "What was done?", nil, "approached", "tested", "known", "referred", "may-call", "reached", "seen", "scheduled", "diagnosed"))
	st, a := r.f.Staff, r.f.Amounts
	p := Part{Key: "safely", Heading: "By whom, and how safely?", Empty: "Nothing is on record.", Cols: []Col{{Label: "What"}, {Label: "Count", Num: true}, {Label: "Of", Num: true}}}
	row := func(name string, n int, of Cell) { p.Rows = append(p.Rows, []Cell{text(name), thing(n), of}) }
	row("Different people who came to an event", st.Came, thing(st.People))
	row("Hours while doors were open", (a.Minutes+30)/60, text("-"))
	row("Verified as screeners on "+st.On.Long(), st.Verified, text("-"))
	row("of them lapsing before "+st.LapseOn.Long(), st.Lapsing, thing(st.Verified))
	row("Control runs out of range or without a value", a.OutOfRange+a.NoValue, thing(a.Runs))
	row("Incidents", a.Incidents, text("-"))
	row("Gates passed with a signed reason", a.Overrides, text("-"))
	r.put(p)
}

// host is a letter to the host of one event.
func (r *writer) host() {
	r.s.Title, r.s.Opens = "Letter to the host", "Dear host"
	if len(r.f.Events) == 1 {
		e := r.f.Events[0]
		r.s.Subtitle = e.Name + ", " + e.Venue + ", " + day(e.Date)
	}
	n, of := r.of("referred"), r.of("tested")
	switch came := r.of("approached"); {
	case of.hidden:
		r.say("Thank you for having us. We do not print small counts, so that nobody can be known by them.")
	case came.hidden:
		r.say("Thank you for having us. %s people were tested at our table.", of)
	default:
		r.say("Thank you for having us. %s people came to our table, and %s were tested.", came, of)
	}
	switch {
	case n.hidden || of.hidden:
		r.say("Some of the people tested were advised to see a clinician. We do not print small counts, so that nobody can be known by them.")
	default:
		r.say("%d of %d tested (%s) were advised to see a clinician. A screening is not a diagnosis.", n.n, of.n, programme.ShareOf(n.n, of.n).Percent())
	}
	r.needs()
	r.put(r.counts("people", "Who came?", "approached", "tested", "not-eligible", "declined", "left", "referred"))
	r.put(r.bandCounts())
	r.put(r.parts("ages", "At which ages?", programme.ByAge, "approached", "tested"))
	r.put(r.parts("languages", "In which languages?", programme.ByLanguage, "approached", "tested"))
	if r.f.Contact != "" {
		r.say("Questions: %s, telephone %s.", r.f.Programme, r.f.Contact)
	}
}

// needs says what people most often need from here, for a host that may help.
func (r *writer) needs() {
	if n := r.of("known"); !n.hidden && n.n > 0 {
		r.say("%d people told us that they know they have diabetes. A class or a group near here could help them.", n.n)
	}
}

// health is for the health department.
func (r *writer) health() {
	r.opening()
	if r.f.Certificate != "" {
		r.say("Certificate of waiver %s.", r.f.Certificate)
	}
	r.put(r.eventList())
	r.put(r.shares("tests", "How many were tested?", nil, "approached", "consented", "tested", "valid", "known", "repeated", "critical", "referred"))
	r.put(r.bands())
	r.put(r.quality())
	r.put(r.mishaps())
	r.put(r.shares("after", "What became of the referrals?", nil, "may-call", "reached", "seen", "scheduled"))
}

// funder is for whoever pays.
func (r *writer) funder() {
	r.opening()
	r.against()
	r.costSaid()
	t := r.targets()
	if len(t.Rows) > 0 {
		r.put(t)
	}
	p := r.shares("reach", "How far did people come?", nil, funnel...)
	p.steps("How far did people come?", "people", 1)
	r.put(p)
	r.put(r.bands())
	r.put(r.shares("after", "What became of the referrals?", []string{"Completion is seen of everybody referred, never of those reached. Diagnoses are as people told them."}, "may-call", "reached", "seen", "seen-30", "seen-90", "scheduled", "diagnosed"))
	for _, key := range []string{about.First, about.Easy} {
		if q, _ := about.Find(key); len(r.f.Parted[key]) > 0 {
			p := r.said(q, "tested")
			p.Heading = q.Name + ": what did people say?"
			r.put(p)
		}
	}
	r.put(r.cost())
	r.put(r.staff())
}

// equity shows who came and who completed follow-up.
func (r *writer) equity() {
	n, of := r.of("seen"), r.of("referred")
	for _, x := range []struct {
		n    count
		word string
	}{{r.of("approached"), "came to the desk"}, {r.of("tested"), "were tested"}, {of, "were referred"}} {
		if !x.n.hidden {
			r.say("%s people %s.", x.n, x.word)
		}
	}
	if !n.hidden && !of.hidden && of.n > 0 {
		r.say("%d of all %d referred (%s) were seen.", n.n, of.n, programme.ShareOf(n.n, of.n).Percent())
	}
	r.say("%s", r.notAsked())
	r.put(r.parts("ages", "At which ages did people come, and who was seen?", programme.ByAge))
	r.put(r.parts("languages", "In which languages did people come, and who was seen?", programme.ByLanguage))
	for _, q := range about.Questions() {
		if len(r.f.Parted[q.Key]) > 0 {
			r.put(r.said(q, r.l.saidFigures()...))
		}
	}
	p := r.parts("permission", "Does permission to call go with being seen?", programme.ByPermission, "referred", "seen")
	r.put(p)
}

// notAsked says which of the questions about themselves nobody was asked, so that nothing is said of them.
func (r *writer) notAsked() string {
	var asked, not []string
	for _, q := range about.Questions() {
		name := strings.ToLower(q.Name[:1]) + q.Name[1:]
		if q.Key == about.Zip {
			name = "ZIP code"
		}
		if len(r.f.Parted[q.Key]) > 0 {
			asked = append(asked, name)
		} else {
			not = append(not, name)
		}
	}
	switch {
	case len(asked) == 0:
		return "The protocol asks for age and language. Nobody was asked for more (" + strings.Join(not, "; ") + "), so that nothing is said of it."
	case len(not) == 0:
		return "The protocol asks for age and language; the rest people told of themselves, if they wanted to."
	}
	return "The protocol asks for age and language; the rest people told of themselves, if they wanted to. Not asked: " + strings.Join(not, "; ") + "."
}

// said is the table of a question about themselves that people answered if they wanted to.
func (r *writer) said(q about.Question, figures ...string) Part {
	p := r.parts(q.Key, q.Name+": what did people say, and who was seen?", q.Key, figures...)
	p.Cols[0].Label = q.Name
	p.Said = []string{"Each person stands in one row. Passed over: asked, and no answer was given."}
	if slices.Contains(figures, "referred") && !slices.Contains(figures, "outside") {
		p.Said[0] += " Referred is everybody whose result lay outside the usual range."
	}
	if q.Several {
		p.Said[0] += " Whoever chose several answers stands under More than one."
	}
	if q.Digits > 0 {
		p.Said[0] += fmt.Sprintf(" Areas from which fewer than %d people came are counted together.", about.FewInArea)
	}
	return p
}

// opening says the season in three sentences.
func (r *writer) opening() {
	f := r.f
	held := plural(f.Held(), "event", "events")
	came, tested := r.of("approached"), r.of("tested")
	said := fmt.Sprintf("%s people were tested at %s", tested, held)
	switch {
	case tested.hidden:
		said = "How many people were tested is not shown. There were " + held
	case !came.hidden:
		said = fmt.Sprintf("%s of %s people who came to the desk were tested at %s", tested, came, held)
	}
	if c := f.Cancelled(); c > 0 {
		said += fmt.Sprintf("; %d of %d planned were cancelled", c, f.Planned())
	}
	r.s.Brief = append(r.s.Brief, said+".")
	if r.f.All.N("tested") > 0 {
		if said, ok := r.shareText("referred", "tested"); ok {
			r.say("%s tested were advised to see someone.", said)
		}
		if said, ok := r.shareText("seen", "referred"); ok {
			r.say("%s referred were seen by a clinician, as they or the clinic told.", said)
		}
	}
	a := f.Amounts
	r.say("%d of %d control runs were in range; meters were taken out %s and brought back %s.", a.InRange, a.Runs, times(a.Quarantined), times(a.Returned))
}

func times(n int) string {
	switch n {
	case 0:
		return "never"
	case 1:
		return "once"
	}
	return fmt.Sprintf("%d times", n)
}

func plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// bands is the bands by basis.
func (r *writer) bands() Part {
	p := Part{
		Key: "bands", Heading: "Which bands did the readings lie in?", Empty: "Nobody has a result.", Said: []string{"A screening reading neither diagnoses nor rules out. Shares are of everybody with a result."},
		Cols: []Col{{Label: "Band"}, {Label: "All", Num: true}, {Label: "Share", Num: true}, {Label: "95 % interval", Num: true}, {Label: "Fasting", Num: true}, {Label: "Not fasting", Num: true}},
	}
	all := r.of("valid")
	row := func(name string, n, fasting, random count) {
		p.Rows = append(p.Rows, []Cell{text(name), n.cell(), r.l.share(n, all), r.l.interval(n, all), fasting.cell(), random.cell()})
	}
	for _, b := range slices.Backward(protocol.Bands) {
		row(BandName(b), r.of("band-"+string(b)), r.of("fasting-"+string(b)), r.of("random-"+string(b)))
	}
	p.bars("Which bands did the readings lie in?", "people", 1)
	row("All", all, r.of("fasting"), r.of("random"))
	return p
}

// bandCounts is the bands without shares, for a letter.
func (r *writer) bandCounts() Part {
	p := r.bands()
	p.Cols = p.Cols[:2]
	for i := range p.Rows {
		p.Rows[i] = p.Rows[i][:2]
	}
	p.Said, p.Bars = p.Said[:0:0], nil
	p.Said = append(p.Said, "A screening reading neither diagnoses nor rules out.")
	return p
}

// bandNames are the words of the bands in reports to people of the trade.
var bandNames = map[protocol.Band]string{
	protocol.CriticalLow: "Critical low", protocol.Low: "Low", protocol.Usual: "Usual", protocol.Raised: "Raised", protocol.High: "High", protocol.CriticalHigh: "Critical high",
}

// BandName names a band.
func BandName(b protocol.Band) string { return cmp.Or(bandNames[b], string(b)) }

// reasons says why people were not tested.
func (r *writer) reasons() Part {
	p := Part{Key: "reasons", Heading: "Why were people not tested?", Empty: "Nobody was turned away and nobody declined.", Cols: []Col{{Label: "Reason"}, {Label: "People", Num: true}}}
	for _, name := range r.f.PartsOf(programme.ByReason, "approached") {
		p.Rows = append(p.Rows, []Cell{text(name), r.l.part(programme.ByReason, name, "approached").cell()})
	}
	return p
}

// parts is a table of one parting: each figure of it and the share that was seen of everybody referred.
func (r *writer) parts(key, heading, parting string, figures ...string) Part {
	if len(figures) == 0 {
		figures = partFigures
	}
	p := Part{Key: key, Heading: heading, Empty: "Nobody is counted here.", Cols: []Col{{Label: partWord[parting]}}}
	for _, k := range figures {
		fig, _ := programme.FigureOf(k)
		r.used[k] = true
		p.Cols = append(p.Cols, Col{Label: fig.Name, Num: true})
	}
	completes := slices.Contains(figures, "seen")
	if completes {
		p.Cols = append(p.Cols, Col{Label: "Seen of referred", Num: true}, Col{Label: "95 % interval", Num: true})
	}
	for _, name := range r.f.PartsOf(parting, figures[0]) {
		row := []Cell{text(PartName(parting, name))}
		for _, k := range figures {
			row = append(row, r.l.part(parting, name, k).cell())
		}
		if completes {
			n, of := r.l.part(parting, name, "seen"), r.l.part(parting, name, "referred")
			row = append(row, r.l.share(n, of), r.l.interval(n, of))
		}
		p.Rows = append(p.Rows, row)
	}
	return p
}

var partWord = map[string]string{programme.ByLanguage: "Language", programme.ByAge: "Age", programme.ByPermission: "May be called", programme.ByReason: "Reason"}

var languages = map[string]string{"en": "English", "es": "Spanish"}

// PartName names a part of a parting.
func PartName(parting, part string) string {
	switch parting {
	case programme.ByLanguage:
		return cmp.Or(languages[part], part)
	case programme.ByPermission:
		return strings.ToUpper(part[:1]) + part[1:]
	}
	if q, ok := about.Find(parting); ok {
		return q.PartName(part)
	}
	return part
}

// mishaps counts incidents by kind.
func (r *writer) mishaps() Part {
	p := Part{Key: "incidents", Heading: "Which incidents were there?", Empty: "None was reported.", Cols: []Col{{Label: "Incident"}, {Label: "Count", Num: true}}}
	for _, k := range incident.Sorts {
		n, ok := r.f.Mishaps[string(k)]
		if !ok {
			continue
		}
		p.Rows = append(p.Rows, []Cell{text(strings.ReplaceAll(string(k), "-", " ")), r.l.get("mishap:"+string(k), n, "").cell()})
	}
	if len(p.Rows) > 0 {
		total := 0
		for _, n := range r.f.Mishaps {
			total += n
		}
		p.Rows = append(p.Rows, []Cell{text("All"), r.l.get("mishaps", total, "").cell()})
	}
	return p
}

// quality is controls, meters and strips: counts of things.
func (r *writer) quality() Part {
	a := r.f.Amounts
	p := Part{Key: "quality", Heading: "How safe were the readings?", Cols: []Col{{Label: "What"}, {Label: "Count", Num: true}, {Label: "Of", Num: true}, {Label: "Share", Num: true}}, Empty: "Nothing was run."}
	row := func(name string, n, of int) {
		s := programme.ShareOf(n, of)
		cells := []Cell{text(name), thing(n), text("-"), text("-")}
		if of > 0 {
			cells[2], cells[3] = thing(of), Cell{Text: s.Percent(), Share: s.P}
		}
		p.Rows = append(p.Rows, cells)
	}
	row("Control runs in range", a.InRange, a.Runs)
	row("Control runs out of range", a.OutOfRange, a.Runs)
	row("Control runs without a value", a.NoValue, a.Runs)
	row("Of both, without a written cause", a.Unanswered, a.OutOfRange+a.NoValue)
	row("Meters taken out", a.Quarantined, 0)
	row("Meters brought back", a.Returned, a.Quarantined)
	if !r.s.Public { // these may each be about one participant
		row("Repeats before a result", a.Repeats, a.First)
		row("Meter errors", a.Errors, a.First+a.Repeats+a.Rechecks+a.Errors)
		row("Gates passed with a signed reason", a.Overrides, 0)
	}
	return p
}

// staff is who took part: volunteers and licensed people, never participants.
func (r *writer) staff() Part {
	s, a := r.f.Staff, r.f.Amounts
	p := Part{
		Key: "staff", Heading: "Who took part?", Cols: []Col{{Label: "Who"}, {Label: "Count", Num: true}}, Empty: "Nobody was on a roster.",
		Said: []string{"Hours are people who were here times the hours that doors were open; setting up and clearing away are not counted."},
	}
	row := func(name string, n int) { p.Rows = append(p.Rows, []Cell{text(name), thing(n)}) }
	row("People in the programme", s.People)
	row("Different people who came to an event", s.Came)
	for _, role := range sortedKeys(s.ByRole) {
		row("of them as "+role, s.ByRole[role])
	}
	row("Hours", (a.Minutes+30)/60)
	row("Verified as screeners on "+s.On.Long(), s.Verified)
	row("of them lapsing before "+s.LapseOn.Long(), s.Lapsing)
	return p
}

// eventList is the events with their days and places.
func (r *writer) eventList() Part {
	p := Part{Key: "events", Heading: "Which events were held?", Empty: "No event is planned.", Cols: []Col{{Label: "Day"}, {Label: "Event"}, {Label: "Place"}, {Label: "How it stands"}}}
	if !r.s.Public {
		p.Cols = append(p.Cols, Col{Label: "Tested", Num: true}, Col{Label: "Referred", Num: true})
	}
	for _, e := range r.f.Events {
		row := []Cell{text(day(e.Date)), text(e.Name), text(e.Venue), text(stands(e))}
		if !r.s.Public {
			row = append(row, eventCount(e, "tested"), eventCount(e, "referred"))
		}
		p.Rows = append(p.Rows, row)
	}
	return p
}

func eventCount(e *programme.EventFigures, key string) Cell {
	n := e.Counts.N(key)
	return Cell{Text: fmt.Sprint(n), N: &n, Ask: "figure=" + key + "&event=" + e.ID}
}

var phases = map[event.Phase]string{
	event.IsPlanned: "planned", event.IsOpen: "open", event.IsDoorsClosed: "doors closed", event.IsClosed: "held", event.IsCancelled: "cancelled",
}

func stands(e *programme.EventFigures) string {
	if e.Cancelled != "" {
		return "cancelled: " + e.Cancelled
	}
	return phases[e.Phase]
}

// money writes an amount.
func (r *writer) money(minor int64) string { return stock.Money(minor, r.f.Cost.Currency) }
