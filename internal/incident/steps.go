package incident

import (
	"fmt"
	"slices"
	"time"
)

// The steps after an incident.
const (
	FirstAid    = "first-aid"   // washed, flushed or rinsed
	Told        = "told"        // a lead or supervisor signed that they know; the choice is their person id
	Called      = "called"      // the contact for care after an exposure was called
	Source      = "source"      // whether the source person agreed to be contacted; nothing else about them
	HandedOver  = "handed-over" // to whom the person went
	LaidDown    = "laid-down"   //
	LegsRaised  = "legs-raised" //
	Stayed      = "stayed"      // who writes it down stays with the person
	Well        = "well"        // well again
	Emergency   = "emergency"   // emergency services called
	Fall        = "fall"        // hurt in the fall or not
	Ate         = "ate"         // eaten or drunk afterwards
	Gloves      = "gloves"      //
	Absorbed    = "absorbed"    //
	Cleaned     = "cleaned"     //
	Disinfected = "disinfected" // the choice is the id of the disinfectant
	Quarantined = "quarantined" // a meter or a lot was taken out of use
	Remedy      = "what-we-did" // in a few words
)

// Rule is what a step takes.
type Rule struct {
	Step    string
	Choices []string // nil: none is asked for; empty: an id that the programme checks
	Note    bool     // a note is required
}

var rules = map[string]Rule{
	FirstAid:    {FirstAid, []string{"washed", "flushed", "rinsed"}, false},
	Told:        {Told, []string{}, false},
	Called:      {Called, []string{"answered", "no-answer"}, true},
	Source:      {Source, []string{"yes", "no", "not-known"}, false},
	HandedOver:  {HandedOver, []string{"clinician", "emergency-services", "declined"}, true},
	LaidDown:    {LaidDown, nil, false},
	LegsRaised:  {LegsRaised, nil, false},
	Stayed:      {Stayed, nil, false},
	Well:        {Well, nil, false},
	Emergency:   {Emergency, nil, false},
	Fall:        {Fall, []string{"not-hurt", "hurt", "not-known"}, false},
	Ate:         {Ate, []string{"eaten", "drunk", "nothing"}, false},
	Gloves:      {Gloves, nil, false},
	Absorbed:    {Absorbed, nil, false},
	Cleaned:     {Cleaned, nil, false},
	Disinfected: {Disinfected, []string{}, false},
	Quarantined: {Quarantined, []string{"meter", "strip-lot"}, false},
	Remedy:      {Remedy, nil, true},
}

var stepsOf = map[Sort][]string{
	SharpsInjury:  {FirstAid, Told, Called, Source, HandedOver},
	Splash:        {FirstAid, Told, Called, Source, HandedOver},
	Faint:         {LaidDown, LegsRaised, Stayed, Told, Well, Emergency, Fall, Ate, HandedOver},
	Spill:         {Gloves, Absorbed, Cleaned, Disinfected},
	DeviceProblem: {Quarantined, Remedy},
	ResultProblem: {Quarantined, Remedy},
	Complaint:     {Remedy},
	Other:         {Remedy},
}

// StepsOf lists the steps that an incident of a sort may have, in the order in which they are done.
func StepsOf(s Sort) []string { return stepsOf[s] }

// RuleOf gives what a step takes; ok is false when an incident of this sort has no such step.
func RuleOf(s Sort, step string) (Rule, bool) {
	if !slices.Contains(stepsOf[s], step) {
		return Rule{}, false
	}
	return rules[step], true
}

// The form as a thing to do.
const Form = "form"

// Missing is a step, or the form, without which an incident may not be closed yet.
type Missing struct {
	Step     string // a step, or Form
	Sentence string
}

var asks = map[string]string{
	FirstAid:   "Do the first aid above, then write down that it was done.",
	Told:       "Tell a supervisor now; they sign that they know.",
	Called:     "Call the contact for care after an exposure.",
	Source:     "Ask the source person, if known, whether they may be contacted. Nothing else.",
	HandedOver: "Write down to whom the person went.",
	LaidDown:   "Lay the person down.",
	LegsRaised: "Raise the legs.",
	Stayed:     "Stay with the person. Do not let them stand up quickly.",
	Well:       "Write down when the person was well again, or that emergency services were called.",
	Fall:       "Ask and look: was the person hurt in the fall?",
	Ate:        "Let the person eat or drink something before they go.",
	Gloves:     "Put on gloves.",
	Absorbed:   "Soak up the blood with paper; bag it.",
	Cleaned:    "Clean the surface.",
	Remedy:     "Write down what was done about it.",
}

// Missing lists what is not there at a moment, in the order in which it is done. It is empty once nothing is, and for an incident
// that is closed or withdrawn.
func (s *State) Missing(now time.Time) []Missing {
	if !s.Open() {
		return nil
	}
	var out []Missing
	missing := func(steps ...string) {
		for _, step := range steps {
			if _, ok := s.Last(step); !ok {
				out = append(out, Missing{step, asks[step]})
			}
		}
	}
	switch s.Report.Sort {
	case SharpsInjury, Splash:
		missing(FirstAid, Told, Called)
		if s.Details == nil {
			out = append(out, Missing{Form, "Fill in the log: with what, where and how it happened."})
		}
		missing(Source, HandedOver)
	case Faint:
		missing(LaidDown, LegsRaised, Stayed, Told)
		_, called := s.Last(Emergency)
		if !called {
			missing(Well)
		}
		missing(Fall)
		if fall, ok := s.Last(Fall); called || ok && fall.Choice == "hurt" {
			missing(HandedOver)
		} else {
			missing(Ate)
		}
	case Spill:
		missing(Gloves, Absorbed, Cleaned)
		if left, ok := s.WetFor(now); !ok {
			out = append(out, Missing{Disinfected, "Disinfect the surface and keep it wet for the labelled time."})
		} else if left > 0 {
			out = append(out, Missing{Disinfected, fmt.Sprintf("Keep the surface wet for %d more seconds.", int((left+time.Second-1)/time.Second))})
		}
	case DeviceProblem, ResultProblem, Complaint, Other:
		missing(Remedy)
	}
	return out
}

// WetFor is how long a disinfected surface must still stay wet; ok is false while it has not been disinfected.
func (s *State) WetFor(now time.Time) (left time.Duration, ok bool) {
	d, ok := s.Last(Disinfected)
	if !ok {
		return 0, false
	}
	return max(0, d.At.Add(time.Duration(d.Seconds)*time.Second).Sub(now)), true
}

// FlushUntil is when an eye that was splashed has been flushed long enough: FlushFor after the flushing was written down, or after
// the splash. ok is false when no eye is to be flushed.
func (s *State) FlushUntil() (until time.Time, ok bool) {
	if s.Report.Sort != Splash || s.Details != nil && s.Details.Site != "eye" {
		return until, false
	}
	start := s.Happened()
	if a, ok := s.Last(FirstAid); ok && a.Choice == "flushed" {
		start = a.At
	}
	return start.Add(FlushFor), true
}

// WellAfter is how long a person who fainted needed until they were well; ok is false while that is not written down.
func (s *State) WellAfter() (time.Duration, bool) {
	d, ok := s.Last(Well)
	if !ok {
		return 0, false
	}
	return d.At.Sub(s.Happened()), true
}
