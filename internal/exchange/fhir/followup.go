package fhir

import (
	"strings"

	"fairstick/internal/followup"
	"fairstick/internal/programme"
)

// followUp writes the calling about a referral when the participant allowed it, and each try. Notes stay sealed in the record.
// Whoever was called and erased afterwards keeps what came of it, under the id of the visit.
func (b *builder) followUp(v *programme.LeavingVisit) {
	f := b.calls[v.ID]
	if f.State == nil && (v.Referral == nil || v.Finding() == nil || !programme.MayCall(v.State)) {
		return
	}
	t := Task{
		Head: head("Task", v.ID), Status: taskStatus(f), Intent: "plan", Code: words("Call about the referral and ask what came of it"), For: b.subject(v), AuthoredOn: b.moment(v.Times.Explained),
		Owner: b.at("Organization", programmeID),
	}
	if found := v.Finding(); found != nil {
		t.Priority = priorities[found.Urgency]
	}
	if r := v.Referral; r != nil {
		t.Focus = b.at("ServiceRequest", v.ID)
		if !r.By.IsZero() {
			t.Restriction = &Restriction{Period: &Period{End: b.moment(r.By)}}
		}
	}
	if who := b.person(f.State.Assigned()); who != nil {
		t.Owner = who
	}
	if f.Visit != nil {
		t.BusinessStatus = words(f.Row().Place)
	}
	if f.State != nil {
		b.came(&t, f)
	}
	b.write(t)
	if f.State == nil {
		return
	}
	for _, a := range f.State.Attempts {
		b.attempt(v, a)
	}
}

// taskStatus is how far the calling has come. Its work is to learn what came of the referral, so that it is completed by a refusal
// too; it has failed when the person could not be reached and nothing is left to be done.
func taskStatus(f programme.FollowUp) string {
	switch {
	case f.Status.Final():
		return "completed"
	case f.State != nil && !f.May:
		return "cancelled" // the contact was erased, or the permission withdrawn
	case f.Status == followup.BadNumber || f.Status == followup.Unreachable:
		if f.Task != nil {
			return "on-hold"
		}
		return "failed"
	case f.State != nil && f.State.Last != "":
		return "in-progress"
	}
	return "requested"
}

// came writes when it was tried, what was told, and what is said of a confirming test: the words of the person, with no code of
// ours, since they are no finding of the programme.
func (b *builder) came(t *Task, f programme.FollowUp) {
	if tries := f.State.Attempts; len(tries) > 0 {
		t.ExecutionPeriod = &Period{Start: b.moment(tries[0].At)}
	}
	told, ok := f.State.Standing()
	if ok && told.Outcome == f.Status {
		if told.Reason != "" {
			t.StatusReason = words(string(told.Reason))
		}
		on := Output{ValueDate: told.On.String()}
		switch {
		case told.On.IsZero():
		case told.Outcome == followup.Scheduled:
			on.Type = *words("Day of the appointment, as told")
			t.Output = append(t.Output, on)
		default:
			on.Type = *words("Day on which a clinician saw the person, as told")
			t.Output = append(t.Output, on)
		}
		if f.Status.Final() && t.ExecutionPeriod != nil && !told.At.Before(f.State.Attempts[0].At) {
			t.ExecutionPeriod.End = b.moment(told.At)
		}
	}
	r := f.State.Result()
	if r == nil {
		return
	}
	said := string(r.Test)
	if r.Value != "" {
		said += " " + strings.TrimSpace(r.Value+" "+r.Unit)
	}
	if !r.On.IsZero() {
		said += ", " + r.On.String()
	}
	t.Output = append(
		t.Output,
		Output{Type: *words("Confirming test, as told to the caller"), ValueString: said},
		Output{Type: *words("What the clinician said, as told to the caller; no diagnosis of the programme"), ValueCodeableConcept: words(string(r.Said))},
	)
}

// attempt writes one try. One that put no words across was not done, and what happened is its reason.
func (b *builder) attempt(v *programme.LeavingVisit, a followup.Attempt) {
	c := Communication{
		Head: head("Communication", a.FactID), Identifier: []Identifier{record(a.FactID)}, PartOf: []Reference{b.to("Task", v.ID)}, Status: "not-done",
		StatusReason: words(string(a.Happened)), Subject: b.subject(v), Topic: words("A referral after screening"), Sent: b.moment(a.At), Sender: b.person(a.Who()),
	}
	switch a.Happened {
	case followup.Reached, followup.LeftMessage, followup.Sent:
		c.Status = "completed"
	}
	if medium, ok := media[a.Channel]; ok {
		c.Medium = []Concept{*coded(medium, string(a.Channel))}
	}
	if v.Referral != nil {
		c.BasedOn = []Reference{b.to("ServiceRequest", v.ID)}
	}
	b.write(c)
}
