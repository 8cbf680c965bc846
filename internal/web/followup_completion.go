package web

import (
	"fmt"
	"net/url"
	"slices"

	"fairstick/internal/event"
	"fairstick/internal/fault"
	"fairstick/internal/programme"
	"fairstick/internal/protocol"
	"fairstick/internal/web/ui"
)

// completionView is what became of everybody who was referred.
type completionView struct {
	Page   ui.Page
	Events []ui.Option
	Event  string
	Answer string
	Beside string // the share of those reached, under its own name
	Places []completionPlace
	Groups []completionTable
	Rows   []completionLine
	Chosen string // which rows are shown
	Erase  bool   // a lead looks
	Any    bool
}

type completionPlace struct {
	Word, Href string
	N, Of      int
	Percent    string
}

type completionTable struct {
	Caption, First string
	Rows           []completionGroupRow
}

type completionGroupRow struct {
	Name, Band, Href, Seen, Percent, Interval, Reached string
}

type completionLine struct {
	Ticket, Href, Event, Band, Language, Place, Day, Why, Erase string
}

var groupingWords = map[string][2]string{
	programme.ByBand: {"By band", "Band"}, programme.ByEvent: {"By event", "Event"}, programme.ByLanguage: {"By language", "Language"}, programme.ByPermission: {"By permission to call", "Permission"},
}

func completionShow(s *Server, c *Context) error {
	scope := programme.FollowUpScope{Event: c.query("event")}
	all, err := s.prog.Completion(c.R.Context(), scope)
	if err != nil {
		return err
	}
	events, err := programme.List[*event.State](c.R.Context(), s.prog, event.Kind)
	if err != nil {
		return err
	}
	v := completionView{Page: c.page("How many of the referred were seen?"), Event: scope.Event, Any: all.Referred > 0, Erase: c.holds(lead)}
	v.Page.Back, v.Page.Wide = &ui.Link{Href: "/follow-up", Label: "Follow-up"}, true
	v.Events = []ui.Option{{Label: "All events"}}
	for _, ev := range events {
		if ev.Phase != event.IsPlanned {
			v.Events = append(v.Events, ui.Option{Value: ev.ID, Label: ev.Plan.Name + ", " + ev.Plan.Date.Long()})
		}
	}
	if scope.Event != "" && !slices.ContainsFunc(v.Events, func(o ui.Option) bool { return o.Value == scope.Event }) {
		return fault.New(fault.Missing, "no-such-event", "There is no such event in the record.", "", "Choose one from the list.")
	}
	v.answer(all)
	v.tables(all)
	if err := v.rows(c, all); err != nil {
		return err
	}
	return c.Show(nil, CompletionPage(v))
}

// href leads to the rows behind a count.
func (v completionView) href(key, value string, more ...string) string {
	q := url.Values{}
	if v.Event != "" {
		q.Set("event", v.Event)
	}
	q.Set(key, value)
	for i := 0; i+1 < len(more); i += 2 {
		q.Set(more[i], more[i+1])
	}
	return "/follow-up/completion?" + q.Encode() + "#rows"
}

func (v *completionView) answer(c programme.Completion) {
	if c.Referred == 0 {
		return
	}
	v.Answer = fmt.Sprintf("%d of %s who were referred %s seen by a clinician: %s (95 %% interval %s).",
		c.Seen.N, plural(c.Seen.Of, "person", "people"), wasWere(c.Seen.N), c.Seen.Percent(), c.Seen.Interval())
	v.Beside = fmt.Sprintf("Share of those reached, which is another question: %d of %d. It leaves out %s who were never reached.",
		c.OfReached.N, c.OfReached.Of, plural(c.Referred-c.Reached, "person", "people"))
	if c.Reached == 0 {
		v.Beside = "Nobody has been reached yet."
	}
}

func wasWere(n int) string {
	if n == 1 {
		return "was"
	}
	return "were"
}

func (v *completionView) tables(c programme.Completion) {
	for _, p := range programme.Places {
		n := c.Places[p]
		row := completionPlace{Word: placeWord(p), N: n, Of: c.Referred, Percent: percentOf(n, c.Referred)}
		if n > 0 {
			row.Href = v.href("place", p)
		}
		v.Places = append(v.Places, row)
	}
	for _, by := range programme.CompletionGroupings {
		t := completionTable{Caption: groupingWords[by][0], First: groupingWords[by][1]}
		for _, g := range c.Groups {
			if g.By == by {
				t.Rows = append(t.Rows, completionGroupRow{
					Name: groupTitle(g), Band: bandOf(g), Href: v.href("by", by, "key", g.Key), Seen: fmt.Sprintf("%d of %d", g.N, g.Of), Percent: g.Percent(), Interval: g.Interval(),
					Reached: fmt.Sprintf("%d of %d", g.Reached, g.Of),
				})
			}
		}
		v.Groups = append(v.Groups, t)
	}
}

func percentOf(n, of int) string {
	if of == 0 {
		return "-"
	}
	return fmt.Sprintf("%.1f %%", 100*float64(n)/float64(of))
}

func groupTitle(g programme.CompletionGroup) string {
	switch g.By {
	case programme.ByBand:
		return bandTitles[protocol.Band(g.Key)]
	case programme.ByLanguage:
		return languageName(g.Key)
	case programme.ByPermission:
		if g.Key == "yes" {
			return "May be called"
		}
		return "No permission"
	}
	return g.Name
}

func bandOf(g programme.CompletionGroup) string {
	if g.By == programme.ByBand {
		return g.Key
	}
	return ""
}

// rows lists what a count was counted from. Of somebody who gave no permission it shows the band and nothing that leads to them,
// but that a lead may erase what is kept.
func (v *completionView) rows(c *Context, all programme.Completion) error {
	place, by, key := c.query("place"), c.query("by"), c.query("key")
	rows := all.Rows
	switch {
	case place != "":
		if !slices.Contains(programme.Places, place) {
			return fault.New(fault.Missing, "no-such-place", "There is no such group.", "", "Choose a count on the page.")
		}
		rows, v.Chosen = all.In(place), placeWord(place)
	case by != "":
		if !slices.Contains(programme.CompletionGroupings, by) {
			return fault.New(fault.Missing, "no-such-place", "There is no such group.", "", "Choose a count on the page.")
		}
		rows, v.Chosen = all.InGroup(by, key), groupTitle(programme.CompletionGroup{By: by, Key: key, Name: eventName(all, key)})
	default:
		v.Chosen = "All who were referred"
	}
	for _, r := range rows {
		line := completionLine{Event: r.EventName + ", " + r.Day.Long(), Band: r.Band, Language: languageName(r.Language), Place: placeWord(r.Place)}
		switch {
		case !r.SeenOn.IsZero():
			line.Day = "seen " + r.SeenOn.Long()
		case !r.Appointed.IsZero():
			line.Day = "for " + r.Appointed.Long()
		}
		if r.Reason != "" {
			line.Why = reasonWords[r.Reason]
		}
		if r.Permitted {
			line.Ticket = ticketText(r.Ticket)
			if r.Place != programme.PlaceErased {
				line.Href = "/follow-up/" + r.Visit
			}
		}
		if v.Erase && r.Kept {
			line.Erase = "/events/" + r.Event + "/erase/" + r.Visit
		}
		v.Rows = append(v.Rows, line)
	}
	return nil
}

func eventName(all programme.Completion, id string) string {
	for _, r := range all.Rows {
		if r.Event == id {
			return r.EventName
		}
	}
	return id
}
