package incident

import "time"

// Limits that are told with an exposure. Care within hours and a start of treatment not later than 72 hours are guidance of
// the US Public Health Service on occupational exposure, and 15 minutes of flushing an eye is common practice; both as
// restated in secondary sources. Local rules and the clinician decide.
const (
	FlushFor = 15 * time.Minute
	Latest   = 72 * time.Hour
)

// Aid is what is said at once after an incident, before any form. Do comes in order; Not is what must not be done.
type Aid struct {
	Do, Not []string
	Source  string
}

var aids = map[Sort]Aid{
	SharpsInjury: {
		Do:     []string{"Wash the wound with soap and running water now.", "Cover it with a plaster.", "Tell the supervisor now."},
		Not:    []string{"Do not squeeze or suck the wound.", "No bleach and no other caustic on skin."},
		Source: "US Public Health Service guidance on occupational exposure, as restated; common practice. Local rules come first.",
	},
	Splash: {
		Do: []string{
			"Eye: flush with clean water or saline for 15 minutes, lids held open.",
			"Mouth: spit out and rinse with water several times.", "Broken skin: wash with soap and running water.", "Tell the supervisor now.",
		},
		Not:    []string{"Do not rub the eye.", "No bleach, soap or other caustic in eye or mouth."},
		Source: "US Public Health Service guidance on occupational exposure, as restated; common practice. Local rules come first.",
	},
	Faint: {
		Do: []string{
			"Lay the person down and raise the legs.", "Stay with them. Loosen tight clothes; give air.",
			"Call emergency services if they are not well in a few minutes, hit the head, have chest pain, or breathe badly.",
		},
		Not:    []string{"Do not let them stand up quickly.", "Nothing to eat or drink until they are fully awake."},
		Source: "Common practice in first aid. Local rules and the clinician on site come first.",
	},
	Spill: {
		Do:     []string{"Stop the station. Keep people away.", "Put on gloves.", "Soak up with paper, clean, then disinfect and keep it wet for the labelled time."},
		Not:    []string{"Do not pick up glass or a lancet by hand."},
		Source: "Common practice for blood spills (29 CFR 1910.1030(d)(4)).",
	},
	DeviceProblem: {Do: []string{"Stop using it. Put it aside with a note.", "Take it out of use below if anyone could be tested with it again."}},
	ResultProblem: {Do: []string{"Stop testing with this meter and this vial.", "Tell the supervisor. Look below whom it touched."}},
	Complaint:     {Do: []string{"Listen. Thank the person. Say who will answer."}},
	Other:         {Do: []string{"Make it safe first. Then tell the supervisor."}},
}

// AidFor gives what is said at once after an incident of a sort.
func AidFor(s Sort) Aid { return aids[s] }
