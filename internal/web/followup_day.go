package web

import (
	"fmt"
	"time"

	"fairstick/internal/event"
	"fairstick/internal/programme"
)

// criticalCalls are the calls after a critical finding of a day that are still to be made, for its board and its closing.
func criticalCalls(d *programme.Day, now time.Time) []closeVisit {
	var out []closeVisit
	for _, x := range d.CriticalCalls(now) {
		late := ""
		if x.LateAt(now) {
			late = " It is late."
		}
		out = append(out, closeVisit{
			Ticket: ticketText(x.Visit.Ticket), Visit: x.Visit.ID, Href: "/follow-up/" + x.Visit.ID,
			Said: fmt.Sprintf("Ticket %s: %s, %s.%s", ticketText(x.Visit.Ticket), lower(taskWord(*x.Task, x.Case.Rules.Attempts)), taskTime(*x.Task, now, d.Event.Zone()), late),
		})
	}
	return out
}

// callNotes are the calls after a critical finding on the board, once nobody new comes in.
func (v *boardView) callNotes(d *programme.Day, now time.Time) {
	if d.Event.Phase == event.IsOpen {
		return
	}
	for _, x := range criticalCalls(d, now) {
		v.Notes = append(v.Notes, boardNote{Text: x.Said, Href: x.Href, Action: "Call"})
	}
}

// followUpFacts say in a few lines how it stands with the referred of an event.
func followUpFacts(d *programme.Day, now time.Time) [][2]string {
	var referred, seen, may, open, late int
	for _, x := range d.FollowUps() {
		referred++
		if x.May {
			may++
		}
		if x.Status == "seen" {
			seen++
		}
		if x.Task == nil {
			continue
		}
		open++
		if x.LateAt(now) {
			late++
		}
	}
	if referred == 0 {
		return nil
	}
	return [][2]string{
		{"Referred", fmt.Sprintf("%d, of whom %d may be called", referred, may)},
		{"Seen by a clinician", fmt.Sprintf("%d of %d referred", seen, referred)},
		{"Still to be called or written to", fmt.Sprintf("%d of %d who may be called, %d late", open, may, late)},
	}
}
