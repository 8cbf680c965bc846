package report

import (
	"fmt"
	"strings"

	"fairstick/internal/civil"
	"fairstick/internal/programme"
	"fairstick/internal/stock"
)

func day(s string) string {
	d, err := civil.Parse(s)
	if err != nil {
		return s
	}
	return d.Long()
}

// trend is the season event by event.
func (r *writer) trend() Part {
	p := Part{
		Key: "trend", Heading: "How did the season go, event by event?", Empty: "No event is planned.",
		Cols: []Col{{Label: "Event"}, {Label: "Day"}, {Label: "Tested", Num: true}, {Label: "Expected", Num: true}, {Label: "Referred", Num: true}, {Label: "Seen", Num: true}, {Label: "Controls out", Num: true}, {Label: "Incidents", Num: true}, {Label: "9 of 10 waited for the test", Num: true}, {Label: "Busiest hour"}},
	}
	for _, e := range r.f.Events {
		if !e.Held() {
			p.Rows = append(p.Rows, []Cell{text(e.Name), text(day(e.Date)), text("-"), thing(e.Expected), text("-"), text("-"), text("-"), text("-"), text("-"), text(stands(e))})
			continue
		}
		wait, hour := "-", "-"
		if e.Wait.N > 0 {
			wait = fmt.Sprintf("%d min or less", e.Wait.P90)
		}
		if h, n := e.HourPeak(); n > 0 {
			hour = fmt.Sprintf("%02d:00, %d came", h, n)
		}
		p.Rows = append(p.Rows, []Cell{
			text(e.Name), text(day(e.Date)), eventCount(e, "tested"), thing(e.Expected), eventCount(e, "referred"), eventCount(e, "seen"), thing(e.Amounts.OutOfRange + e.Amounts.NoValue), thing(e.Amounts.Incidents), text(wait), text(hour),
		})
	}
	p.bars("How many were tested at each event?", "people", 2)
	return p
}

// targets is what was wanted beside what was reached.
func (r *writer) targets() Part {
	p := Part{Key: "targets", Heading: "Was the season what it was to be?", Cols: []Col{{Label: "Target"}, {Label: "Wanted", Num: true}, {Label: "Reached", Num: true}, {Label: "How it stands"}}, Empty: "No targets are set for this season. A lead sets them on the page Reports."}
	s := r.f.Season
	if s == nil {
		return p
	}
	row := func(name string, wanted int, got count, unit string) {
		if wanted == 0 {
			return
		}
		c := got.cell()
		said := "reached"
		switch {
		case got.hidden:
			said = NotShown
		case got.n < wanted:
			said = fmt.Sprintf("%d%s to go", wanted-got.n, unit)
		}
		p.Rows = append(p.Rows, []Cell{text(name), text(fmt.Sprintf("%d%s", wanted, unit)), c, text(said)})
	}
	things := func(name string, wanted, n int) {
		if row(name, wanted, count{n: n}, ""); wanted > 0 {
			p.Rows[len(p.Rows)-1][2].Thing = true
		}
	}
	things("Events held", s.Targets.Events, r.f.Held())
	row("People tested", s.Targets.Tested, r.of("tested"), "")
	seen, referred := r.of("seen"), r.of("referred")
	if s.Targets.SeenPercent > 0 {
		c, said := r.l.share(seen, referred), NotShown
		if c.Share != nil {
			said = "reached"
			if seen.n*100 < s.Targets.SeenPercent*referred.n {
				said = fmt.Sprintf("%d more people to be seen", (s.Targets.SeenPercent*referred.n+99)/100-seen.n)
			}
		} else if !c.Hidden {
			said = "nobody was referred"
		}
		p.Rows = append(p.Rows, []Cell{text("Seen of everybody referred"), text(fmt.Sprintf("%d %%", s.Targets.SeenPercent)), c, text(said)})
	}
	things("Screeners verified", s.Targets.Screeners, r.f.Staff.Verified)
	return p
}

// against says the targets in a sentence.
func (r *writer) against() {
	t := r.targets()
	var short []string
	for _, row := range t.Rows {
		if row[3].Text != "reached" && row[3].Text != NotShown {
			short = append(short, fmt.Sprintf("%s (%s)", strings.ToLower(row[0].Text), row[3].Text))
		}
	}
	switch {
	case len(t.Rows) == 0:
	case len(short) == 0:
		r.say("Every target that can be shown is reached.")
	default:
		r.say("Targets not reached: %s.", strings.Join(short, "; "))
	}
}

// costSaid says what a person cost.
func (r *writer) costSaid() {
	if per, ok := r.per(r.f.All.N("tested")); ok && !r.of("tested").hidden {
		r.say("Each person tested cost %s, by the programme's own invoices.", r.money(per))
	}
}

// total is what is divided: in a report that leaves the house rounded to three digits, so that no count of pieces can be worked out
// from prices.
func (r *writer) total() int64 {
	n := r.f.Cost.Total()
	if !r.s.Public {
		return n
	}
	unit := int64(1)
	for n/unit >= 1000 {
		unit *= 10
	}
	return (n + unit/2) / unit * unit
}

// together says how the sum is known.
func (r *writer) together() string {
	said := "consumables"
	if r.f.Cost.Other != nil {
		said = "consumables and everything else that was written down"
	}
	if r.s.Public {
		said += ", rounded to three digits"
	}
	return said
}

// per divides what a season cost by a count.
func (r *writer) per(n int) (int64, bool) {
	if !r.f.Cost.Known() {
		return 0, false
	}
	return programme.Costs{Currency: r.f.Cost.Currency, Consumables: r.total()}.Per(n)
}

// cost is what the season cost, and for each step.
func (r *writer) cost() Part {
	c := r.f.Cost
	p := Part{Key: "cost", Heading: "What did it cost?", Empty: "No invoice is on record, so that nothing is said about cost.", Cols: []Col{{Label: "What"}, {Label: "Pieces", Num: true}, {Label: "Amount", Num: true}, {Label: "How it is known"}}}
	if !c.Known() {
		return p
	}
	for _, l := range c.Lines {
		how := "counted, at the price of the invoices"
		pieces := Cell{Text: fmt.Sprint(l.Pieces)}
		if !l.Counted {
			how = "reckoned from the people tested"
		}
		if r.s.Public { // pieces could tell how many readings were repeated
			p.Rows = append(p.Rows, []Cell{text(l.Name), text("-"), text("-"), text(how)})
			continue
		}
		p.Rows = append(p.Rows, []Cell{text(l.Name), pieces, text(r.money(l.Minor)), text(how)})
	}
	row := func(name string, minor int64, how string) {
		p.Rows = append(p.Rows, []Cell{text(name), text("-"), text(r.money(minor)), text(how)})
	}
	if !r.s.Public {
		row("Consumables", c.Consumables, "together")
	}
	if c.Other != nil && !r.s.Public {
		row("Everything else", *c.Other, "as the lead wrote it down")
	}
	row("All", r.total(), r.together())
	for _, x := range []struct{ key, name string }{{"tested", "For each person tested"}, {"seen", "For each referral completed"}, {"diagnosed", "For each new diagnosis, as told"}} {
		n := r.of(x.key)
		per, ok := r.per(n.n)
		switch {
		case n.hidden:
			p.Rows = append(p.Rows, []Cell{text(x.name), text("-"), {Text: NotShown, Hidden: true}, text("the count is not shown")})
		case ok:
			row(x.name, per, fmt.Sprintf("all, divided by %d", n.n))
		}
	}
	if c.DisposedN > 0 && !r.s.Public {
		p.Rows = append(p.Rows, []Cell{text("Thrown away"), text(fmt.Sprint(c.DisposedN)), text(r.money(c.Disposed)), text("of the shelves, in these days; not in the sums above")})
	}
	if w := r.f.Amounts.StripsWasted; w != 0 && !r.s.Public {
		p.Said = append(p.Said, fmt.Sprintf("Strips used up that stand in no reading, error or control: %d of %d.", w, r.f.Amounts.StripsUsed))
	}
	if len(c.Unpriced) > 0 {
		p.Said = append(p.Said, "Without an invoice, and not in the sums: "+strings.ToLower(strings.Join(c.Unpriced, ", "))+".")
	}
	return p
}

// learning is what to do better next year, in words.
func (r *writer) learning() Part {
	p := Part{Key: "learning", Heading: "What is there to learn for next year?", Cols: []Col{{Label: "What was seen"}, {Label: "What would help"}}, Empty: "Nothing stood out."}
	say := func(saw, help string) { p.Rows = append(p.Rows, []Cell{text(saw), text(help)}) }
	var longest *programme.EventFigures
	hours, all := map[int]int{}, 0
	over, under := 0, 0
	for _, e := range r.f.Events {
		if !e.Held() {
			continue
		}
		for _, x := range r.f.RanOut(e) {
			say(fmt.Sprintf("%s on %s used up all it had of %s.", e.Name, day(e.Date), lowerFirst(x)), fmt.Sprintf("%d were expected and %d tested. Bring more for an event of this size.", e.Expected, e.Counts.N("tested")))
		}
		if e.Wait.N > 0 && (longest == nil || e.Wait.P90 > longest.Wait.P90) {
			longest = e
		}
		for h, n := range e.Hours {
			hours[h] += n
			all += n
		}
		switch n := e.Counts.N("approached"); {
		case e.Expected > 0 && n*4 > e.Expected*5:
			over++
		case e.Expected > 0 && n*4 < e.Expected*3:
			under++
		}
	}
	if longest != nil && longest.Wait.P90 > 0 {
		say(fmt.Sprintf("The longest wait for the test was at %s: 9 of 10 waited %d minutes or less, one %d.", longest.Name, longest.Wait.P90, longest.Wait.Most), "Ask the page How many people? before the next event of its size.")
	}
	peak, most := 0, 0
	for h, n := range hours {
		if n > most || n == most && h < peak {
			peak, most = h, n
		}
	}
	if most > 0 {
		say(fmt.Sprintf("Most people came from %02d:00 to %02d:00: %d of %d (%s).", peak, (peak+1)%24, most, all, programme.ShareOf(most, all).Percent()), "Have every post filled by then.")
	}
	if held := r.f.Held(); over+under > 0 {
		say(fmt.Sprintf("Of %s, %d drew over a quarter more people than expected, and %d over a quarter fewer.", plural(held, "event", "events"), over, under), "Plan from what was seen; the planning pages do so by themselves.")
	}
	a := r.f.Amounts
	if a.Unanswered > 0 {
		say(fmt.Sprintf("%d of %d control runs out of range or without a value have no written cause.", a.Unanswered, a.OutOfRange+a.NoValue), "Write the cause while the meter is still on the table.")
	}
	if n, of := r.f.All.N("no-call"), r.f.All.N("referred"); of > 0 && n*10 > of {
		say(fmt.Sprintf("%d of %d referred gave no permission to be called.", n, of), "Ask after the result is explained, and say what the call is for.")
	}
	if n, of := r.f.All.N("unreachable")+r.f.All.N("wrong-number"), r.f.All.N("may-call"); of > 0 && n*5 > of {
		say(fmt.Sprintf("%d of %d who may be called could not be reached.", n, of), "Read the number back at check-out, and try at other hours.")
	}
	if s := r.f.Staff; s.Lapsing > 0 {
		say(fmt.Sprintf("%d of %d verified screeners lapse before %s.", s.Lapsing, s.Verified, s.LapseOn.Long()), "Plan their observed fingersticks now.")
	}
	if c := r.f.Cost; c.DisposedN > 0 && c.Currency != "" {
		say(fmt.Sprintf("%d pieces worth %s were thrown away.", c.DisposedN, stock.Money(c.Disposed, c.Currency)), "Use the earliest expiry first, and order less before a break.")
	}
	return p
}

func lowerFirst(s string) string {
	if s == "" {
		return s
	}
	return strings.ToLower(s[:1]) + s[1:]
}
