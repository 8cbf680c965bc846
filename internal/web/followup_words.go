package web

import (
	"fmt"
	"strings"
	"time"

	"fairstick/internal/followup"
	"fairstick/internal/programme"
	"fairstick/internal/web/ui"
)

// The words of follow-up for staff.
var (
	channelWords = map[followup.Channel]string{
		followup.Phone: "Telephone", followup.Text: "Text message", followup.Email: "E-mail", followup.InPerson: "In person", followup.Letter: "Letter",
	}
	happenedWords = map[followup.Happened]string{
		followup.Reached: "Reached", followup.NoAnswer: "No answer", followup.LeftMessage: "Left a message", followup.NotIn: "Somebody else answered",
		followup.Busy: "Busy", followup.WrongNumber: "Wrong number", followup.NotInService: "Number not in service", followup.Sent: "Sent", followup.Returned: "Came back",
	}
	outcomeWords = map[followup.Outcome]string{
		followup.Seen: "Seen by a clinician", followup.Scheduled: "Has an appointment", followup.NotYet: "Not yet", followup.Declined: "Wants no more calls",
		followup.BadNumber: "Wrong number", followup.Unreachable: "Not reached after all tries", followup.AlreadyKnown: "Knew already, in care for it",
	}
	reasonWords = map[followup.Reason]string{
		followup.NoTime: "No time", followup.Forgot: "Forgot", followup.Cost: "Cost", followup.NoTransport: "No way to get there",
		followup.NoClinic: "No doctor, or no appointment to be had", followup.Language: "Language", followup.FeelsWell: "Feels well",
		followup.Afraid: "Afraid of the answer", followup.OtherReason: "Another reason", followup.NotSaid: "Did not say",
	}
	sourceWords = map[followup.Source]string{
		followup.FromPerson: "the person", followup.FromRelative: "a relative", followup.FromClinic: "the clinic", followup.FromCaller: "the caller",
	}
	testWords = map[followup.Test]string{
		followup.A1c: "A1c (three-month value)", followup.FastingLab: "Blood draw, fasting", followup.RandomLab: "Blood draw, not fasting",
		followup.Tolerance: "Two hours after a sweet drink", followup.OtherTest: "Another test", followup.NotKnown: "Does not know",
	}
	saidWords = map[followup.Said]string{
		followup.SaidNeither: "Neither diabetes nor prediabetes", followup.SaidPrediabetes: "Prediabetes", followup.SaidDiabetes: "Diabetes",
		followup.SaidTestAgain: "Will test again", followup.SaidOther: "Something else", followup.SaidNothing: "Not told yet, or does not want to say",
	}
	placeWords = map[string]string{
		programme.PlaceNoPermission: "No permission to call", programme.PlaceErased: "Contact erased before an outcome was known", programme.PlaceNotCalled: "Not called yet",
		programme.PlaceCalling: "Called, not reached yet", programme.PlaceReached: "Reached, no outcome told yet",
	}
)

// placeWord says where a referral stands.
func placeWord(place string) string {
	if w, ok := placeWords[place]; ok {
		return w
	}
	return outcomeWords[followup.Outcome(place)]
}

// optionsOf offers coded words with what they are called, behind an empty choice when first is given.
func optionsOf[S ~string](list []S, words map[S]string, first string) []ui.Option {
	var out []ui.Option
	if first != "" {
		out = append(out, ui.Option{Label: first})
	}
	for _, x := range list {
		out = append(out, ui.Option{Value: string(x), Label: words[x]})
	}
	return out
}

// taskWord says what is due, in a few words.
func taskWord(t followup.Task, attempts int) string {
	switch t.Why {
	case followup.SameEvening:
		return "Call this evening: the finding was critical"
	case followup.NextDay:
		return "Call on the day after: the finding was critical"
	case followup.FirstCall:
		return "First call"
	case followup.TryAgain:
		s := fmt.Sprintf("Try %d of %d", t.Try, attempts)
		if t.Other {
			s += ", by another channel"
		}
		return s
	case followup.AskAgain:
		return "Ask again: not seen yet"
	case followup.AfterVisit:
		return "Ask after the appointment: were they seen?"
	case followup.LastAsk:
		return "Ask for the last time: were they seen?"
	case followup.UsedUp:
		return "Write a letter: the tries are used up"
	case followup.NumberWrong:
		return "Write a letter: the number is wrong"
	}
	return t.Why
}

// taskTime says when a task is done, on the wall clock of its event.
func taskTime(t followup.Task, now time.Time, zone *time.Location) string {
	from, by, now := t.From.In(zone), t.By.In(zone), now.In(zone)
	day := func(x time.Time) string {
		if x.Year() == now.Year() && x.YearDay() == now.YearDay() {
			return "today"
		}
		return x.Format("Mon 2 Jan 2006")
	}
	if t.OpenAt(now) {
		return "by " + by.Format("15:04") + " " + day(by)
	}
	return day(from) + " from " + from.Format("15:04")
}

// daysLate counts the days since a task was to be done; the day itself is 0.
func daysLate(t followup.Task, now time.Time) int { return int(now.Sub(t.By).Hours() / 24) }

// noteWord says in a line what was written down.
func noteWord(b any) string {
	switch x := b.(type) {
	case followup.ContactOpened:
		return "Opened the number"
	case followup.PutBack:
		return "Put the person back"
	case followup.AttemptMade:
		return channelWords[x.Channel] + ": " + lower(happenedWords[x.Happened])
	case followup.OutcomeTold:
		parts := []string{outcomeWords[x.Outcome]}
		if !x.On.IsZero() {
			parts = append(parts, x.On.Long())
		}
		if x.Reason != "" {
			parts = append(parts, lower(reasonWords[x.Reason]))
		}
		if x.Source != followup.FromCaller {
			parts = append(parts, "told by "+sourceWords[x.Source])
		}
		return strings.Join(parts, ", ")
	case followup.ResultTold:
		s := "Test as told: " + lower(testWords[x.Test])
		if x.Value != "" {
			s += " " + x.Value + " " + x.Unit
		}
		if !x.On.IsZero() {
			s += " on " + x.On.Long()
		}
		return s + ". The clinician said: " + lower(saidWords[x.Said]) + "."
	case followup.HandedOver:
		return "Handed over"
	case followup.LetterMade:
		if x.To == followup.ToClinician {
			return "Made a note for the clinician"
		}
		return "Made a letter in " + languageName(x.Language)
	}
	return "Corrected"
}

func lower(s string) string {
	if s == "" || strings.HasPrefix(s, "A1c") || strings.HasPrefix(s, "E-") {
		return s
	}
	return strings.ToLower(s[:1]) + s[1:]
}
