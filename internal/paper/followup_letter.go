package paper

import (
	"time"

	"fairstick/internal/civil"
)

// FollowUpLetter is what a letter after a screening is made from: to a person who could not be reached, or a note to a clinician that
// the person may carry. The letter to the person says nothing of the reading: somebody else may open it, and the person has the slip.
type FollowUpLetter struct {
	Lang                   string // of the letter; fixed words come in English where it is not written yet
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
	words := followUpPersonEnglish
	switch {
	case d.ToClinician:
		words = followUpClinician
	case d.Lang == "es":
		words = followUpPersonSpanish
	}
	return PersonLetter{
		Lang: d.Lang, Programme: d.Programme, Date: d.Day, To: d.Name, Address: d.Address, Body: words(d, Labels(d.Lang)),
		RecordID: d.RecordID, Printed: d.Printed, Invented: d.Invented,
	}
}
