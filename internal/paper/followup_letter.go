package paper

import (
	"time"

	"fairstick/internal/civil"
	"fairstick/internal/wording"
)

// FollowUpLetter is what a letter after a screening is made from: to a person who could not be reached, or a note to a clinician that
// the person may carry. The letter to the person says nothing of the reading: somebody else may open it, and the person has the slip.
type FollowUpLetter struct {
	Lang                   string            // of the letter: "en" or "es", English for any other without Tongue
	Tongue                 *wording.Language // a further language in which the programme speaks to people; nil for none
	Unreviewed             bool              // no person has read this language yet: the letter says so
	ToClinician            bool
	Programme              string
	Contact, Hours         string // where the programme is called
	Name                   string
	Address                []string // below the name
	Day                    civil.Date
	Screened, By           civil.Date
	Event                  string
	Place, PlaceSays       string
	Emergency              string
	Warnings               []string
	Reading, Basis, Taken  string // for the clinician alone
	Disclaimer, CanMislead string
	RecordID               string
	Printed                time.Time
	Invented               bool
}

// Letter puts it into words.
func (d FollowUpLetter) Letter() PersonLetter {
	out := PersonLetter{
		Lang: d.Lang, Programme: d.Programme, Date: d.Day, To: d.Name, Address: d.Address,
		RecordID: d.RecordID, Printed: d.Printed, Invented: d.Invented,
	}
	labels := Labels(d.Lang)
	switch {
	case d.ToClinician:
		out.Body = followUpClinician(d, labels)
	case d.Tongue != nil:
		labels = LabelsIn(*d.Tongue)
		out.Words, out.Body = &labels, wording.Words(*d.Tongue, followUpEnglish).letter(d, labels)
		if d.Unreviewed {
			out.Draft = labels.NotReviewed
		}
	case labels.Lang == "es":
		out.Body = followUpSpanish.letter(d, labels)
	default:
		out.Body = followUpEnglish.letter(d, labels)
	}
	return out
}
