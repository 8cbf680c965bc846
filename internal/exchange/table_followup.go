package exchange

import (
	"time"

	"fairstick/internal/followup"
	"fairstick/internal/programme"
)

// placeWords are the outcomes of a referral, and what is said of one while it has none.
var placeWords = append(wordsOf(followup.Outcomes),
	programme.PlaceNotCalled, programme.PlaceCalling, programme.PlaceReached, programme.PlaceNoPermission, programme.PlaceErased)

func wordsOf[S ~string](list []S) []string {
	out := make([]string, len(list))
	for i, s := range list {
		out[i] = string(s)
	}
	return out
}

// followUpTable is what came of the referrals. Notes are not in it: they stay sealed in the record.
func followUpTable() Table {
	return Table{
		Name: "followup", Title: "One row for each participant whose finding asks for a referral, with what came of it", Key: []string{"visit"},
		Points: map[string]string{"visit": "visits"}, Fields: []Field{
			{Name: "visit", Type: asString, Means: "id of the visit", Must: true},
			{Name: "outcome", Type: asString, Means: "what came of it as it stands, or how far the calling has come", Words: placeWords, Must: true},
			{Name: "reason", Type: asString, Means: "why not yet, or why declined", Words: wordsOf(followup.Reasons)},
			{Name: "source", Type: asString, Means: "who told the outcome; caller: their own experience", Words: append(wordsOf(followup.Sources), string(followup.FromCaller))},
			{Name: "told", Type: asDateTime, Means: "when the outcome was told"},
			{Name: "on", Type: asDate, Means: "the day on which a clinician saw the person, or that of the appointment, as told"},
			{Name: "caller", Type: asString, Means: "id of the caller to whom the person was handed over last"},
			{Name: "attempts", Type: asInteger, Means: "tries to reach the person", Must: true},
			{Name: "reached", Type: asBoolean, Means: "somebody spoke or wrote with the person", Must: true},
			{Name: "first_attempt", Type: asDateTime, Means: "first try"},
			{Name: "last_attempt", Type: asDateTime, Means: "last try"},
			{Name: "letters", Type: asInteger, Means: "letters made to the person", Must: true},
			{Name: "test", Type: asString, Means: "kind of the confirming test as told, which is no finding of the programme", Words: wordsOf(followup.Tests)},
			{Name: "test_value", Type: asNumber, Means: "its value as told"},
			{Name: "test_unit", Type: asString, Means: "unit of that value", Words: followup.Units},
			{Name: "test_on", Type: asDate, Means: "its day as told"},
			{Name: "said", Type: asString, Means: "what the clinician said, as told; no diagnosis of the programme", Words: wordsOf(followup.AllSaid)},
		}, rows: func(x *programme.Leaving, put func(...string) error) error {
			for _, f := range x.FollowUps() {
				if err := put(followUpCells(x, f)...); err != nil {
					return err
				}
			}
			return nil
		},
	}
}

func followUpCells(x *programme.Leaving, f programme.FollowUp) []string {
	row := f.Row()
	var told followup.Told
	if t, ok := f.State.Standing(); ok && t.Outcome == f.Status {
		told = t
	}
	var first, last time.Time
	if row.Called {
		tries := f.State.Attempts
		first, last = tries[0].At, tries[len(tries)-1].At
	}
	out := []string{
		row.Visit, row.Place, string(told.Reason), string(told.Source), stamp(x, told.At), told.On.String(), f.State.Assigned(), whole(row.Attempts), saysYes(row.Reached), stamp(x, first), stamp(x, last),
		whole(row.Letters),
	}
	r := f.State.Result()
	if r == nil {
		return append(out, "", "", "", "", "")
	}
	return append(out, string(r.Test), r.Value, r.Unit, r.On.String(), string(r.Said))
}
