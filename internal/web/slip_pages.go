package web

import (
	"bytes"
	"cmp"
	"fmt"
	"net/http"
	"strconv"
	"strings"
	"time"

	"fairstick/internal/civil"
	"fairstick/internal/fault"
	"fairstick/internal/glucose"
	"fairstick/internal/paper"
	"fairstick/internal/programme"
	"fairstick/internal/visit"
	"fairstick/internal/web/ui"
)

// slipView is the slip on screen and in print.
type slipView struct {
	Page    ui.Page
	Slip    paper.Slip
	Labels  paper.SlipLabels
	Size    string
	PDF     string
	Path    string    // of the visit at Explain; empty when the slip cannot be handed over any more
	Others  []ui.Link // the slip in the other languages
	Lang    string
	Correct string // where a mistake is put right

	Command string
}

// The papers of a slip.
const (
	halfLetter = "half-letter"
	sizeA5     = "a5"
)

func slipSize(s string) string {
	if s == sizeA5 {
		return sizeA5
	}
	return halfLetter
}

// slipShow prints the slip as a page; with .pdf at the end of the address it is a file.
func slipShow(s *Server, c *Context) error {
	id, pdf := strings.CutSuffix(c.R.PathValue("visit"), ".pdf")
	d, err := c.Day()
	if err != nil {
		return err
	}
	v := d.Visit(id)
	if v == nil || v.Finding() == nil {
		return fault.New(fault.Missing, "no-slip", "There is no result for a slip here.", "A slip shows only a finding that stands.",
			"Look the ticket up on the board; if a repeat is due, take it first.")
	}
	lang, size := spokenLang(d, cmp.Or(c.query("lang"), v.Language)), slipSize(c.query("size"))
	slip := slipOf(d, v, lang, c.now(d))
	slip.Invented = s.opt.Demo != nil
	if pdf {
		return c.sendSlip(slip, size)
	}
	base := dayBase(d)
	view := slipView{
		Page: c.stationPage(d, c.say().Slip.Title(slip.Ticket), base+"/explain", c.say().Line.TheLine), Slip: slip, Labels: slip.Labels(), Size: size, Lang: lang, Command: newCommand(),
		PDF:    base + "/slip/" + v.ID + ".pdf?size=" + size + "&lang=" + lang,
		Others: tongueLinks(d, base+"/slip/"+v.ID+"?size="+size+"&lang=", lang),
	}
	view.Correct = base + "/correct/" + v.ID
	if v.Phase() == visit.AtExplain {
		view.Path = base + "/explain/" + v.ID
		view.Page.Back = &ui.Link{Href: view.Path + "?at=" + tellSlip + "&lang=" + lang, Label: c.say().Slip.BackToExplain}
	}
	return c.Render(http.StatusOK, slipPage(view))
}

func (c *Context) sendSlip(slip paper.Slip, size string) error {
	p := paper.HalfLetter
	if size == sizeA5 {
		p = paper.A5
	}
	var buf bytes.Buffer
	if err := paper.WriteSlip(&buf, slip, p); err != nil {
		return err
	}
	h := c.W.Header()
	h.Set("Content-Type", "application/pdf")
	h.Set("Content-Disposition", fmt.Sprintf("inline; filename=%q", "slip-"+slip.Ticket+".pdf"))
	h.Set("Content-Length", strconv.Itoa(buf.Len()))
	_, err := c.W.Write(buf.Bytes())
	if err != nil {
		c.s.log.Debug("slip not sent", "err", err)
	}
	return nil
}

// slipOf says everything that stands on the slip of a visit, in a language, as at a moment in the zone of the event. The
// visit must have a finding.
func slipOf(d *programme.Day, v *visit.State, lang string, now time.Time) paper.Slip {
	say, labels, zone := speechOf(d, lang), labelsOf(d, lang), d.Event.Zone()
	f, plan, details := d.Told(v, lang), d.Event.Plan, d.Charter.Details
	s := paper.Slip{
		Lang: lang, Programme: details.Name, Event: plan.Name, Venue: plan.Venue, Date: plan.Date, Ticket: ticketText(v.Ticket),
		Reading: f.Reading.Shown(), Unit: string(f.Reading.Unit), BasisWord: say.basis(f.Basis), LastAte: say.NotSaid,
		Band: string(f.Band), BandWord: f.Word.In(lang), Sentence: f.Sentence.In(lang), Advice: textsIn(f.Advice, lang),
		When: f.When.In(lang), Where: f.Where.In(lang), Disclaimer: d.Protocol.Disclaimer.In(lang), Warnings: textsIn(d.Protocol.Warnings, lang),
		EmergencyNumber: d.Event.EmergencyNumber(details.Emergency), CanMislead: textsIn(d.Protocol.CanMislead, lang),
		Contact: details.Contact, Hours: details.ContactHours, Certificate: details.Certificate, CallPermission: say.call(v),
		Protocol: f.Protocol, RecordID: shortID(v.ID) + "/" + shortID(v.FoundID), Printed: now.In(zone),
	}
	if l, ok := d.Tongue(lang); ok {
		s.Words, s.Unreviewed = &labels, d.Unreviewed(l, fixedWords)
	}
	if f.Reading.Kind == glucose.Numeric {
		s.OtherUnit = isolated(labels, f.Reading.Value.In(f.Reading.Unit.Other()).String())
	}
	if r, ok := v.Counting(); ok {
		s.Taken, s.Washed = r.At.In(zone), say.washed(r.Washed)
		s.TestedBy, s.Supervisor = d.NameOf(r.By), d.NameOf(r.Supervisor)
		if v.Ate != nil && v.Ate.Known {
			s.LastAte = labels.TimeText(v.Ate.Last.In(zone)) + ", " + fmt.Sprintf(say.Before, isolated(labels, hoursText(r.At.Sub(v.Ate.Last))))
		}
	}
	if len(v.Readings) > 1 {
		for _, r := range v.Readings {
			s.Repeats = append(s.Repeats, paper.SlipReading{Shown: r.Reading.Shown(), Unit: string(r.Reading.Unit), At: r.At.In(zone), Counts: r.ID == v.Found.Counts, Why: repeatWhy(v, r, say)})
		}
	}
	if f.WithinDays > 0 {
		by := now
		if v.Referral != nil {
			by = v.Referral.By
		} else {
			by = by.AddDate(0, 0, f.WithinDays)
		}
		s.When = strings.TrimSuffix(s.When, ".") + ": " + fmt.Sprintf(say.By, labels.DateText(civil.Of(by.In(zone)))) + "."
	}
	if f.Refer && v.Referral != nil {
		s.Where = placeText(d, v.Referral.Route)
	}
	s.Number, s.Corrected = slipNumber(v)
	if s.Corrected {
		s.Replaces = replacedSlip(v).In(zone)
	}
	return s
}

// isolated keeps a number with its unit in its own order among words that run from the right: between the left-to-right isolate and its end of
// the Unicode Standard. Paper leaves the two signs out.
func isolated(l paper.SlipLabels, s string) string {
	if !l.RTL {
		return s
	}
	return "\u2066" + s + "\u2069"
}

// repeatWhy says in a few words what a reading of several was.
func repeatWhy(v *visit.State, r visit.Reading, say speech) string {
	switch {
	case r.Reading.Kind == glucose.Error:
		return say.NoValue
	case r.Purpose == visit.Recheck:
		return say.Recheck
	case r.Purpose == visit.Repeat && r.ID == v.Found.Counts && r.Washed:
		return say.AgainWashed
	case r.Purpose == visit.Repeat:
		return say.Again
	}
	return ""
}

// slipNumber counts the slips of a visit: a print of the finding that was handed over last is that slip again. A slip
// after another finding replaces it.
func slipNumber(v *visit.State) (n int, corrected bool) {
	for _, s := range v.Slips {
		corrected = corrected || s.Finding != v.FoundID
	}
	n = len(v.Slips)
	if n == 0 || v.Slips[n-1].Finding != v.FoundID {
		n++
	}
	return n, corrected
}

// replacedSlip is when the last slip was handed over that shows another finding than the one that stands.
func replacedSlip(v *visit.State) (at time.Time) {
	for _, s := range v.Slips {
		if s.Finding != v.FoundID {
			at = s.At
		}
	}
	return at
}

// shortID is the end of an id, which differs from one to the next.
func shortID(id string) string {
	const keep = 12
	if len(id) <= keep {
		return id
	}
	return id[len(id)-keep:]
}

// placeText is a place with how to reach it; the bare name when the plan does not know it.
func placeText(d *programme.Day, name string) string {
	if h := placeHint(d, name); h != "" {
		return name + ", " + h
	}
	return name
}

func placeHint(d *programme.Day, name string) string {
	for _, r := range append(d.Event.Plan.Routes[:len(d.Event.Plan.Routes):len(d.Event.Plan.Routes)], d.Event.Plan.Urgent) {
		if r.Name != name {
			continue
		}
		var parts []string
		for _, p := range []string{r.Phone, r.Address, r.Hours, r.Note} {
			if p != "" {
				parts = append(parts, p)
			}
		}
		return strings.Join(parts, ", ")
	}
	return ""
}

// slipRepeat is one line of the readings on the page.
func slipRepeat(r paper.SlipReading, l paper.SlipLabels) string {
	parts := []string{l.TimeText(r.At) + ": " + isolated(l, strings.TrimSpace(r.Shown+" "+r.Unit))}
	if r.Counts {
		parts = append(parts, l.Counts)
	} else {
		parts = append(parts, l.DoesNotCount)
	}
	if r.Why != "" {
		parts = append(parts, r.Why)
	}
	return strings.Join(parts, ", ")
}

// slipLabel is a label in running text; a question needs no colon.
func slipLabel(label string) string {
	if strings.Contains(label, "?") {
		return label
	}
	return label + ":"
}
