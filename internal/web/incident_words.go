package web

import (
	"cmp"
	"strings"

	"fairstick/internal/incident"
	"fairstick/internal/programme"
	"fairstick/internal/web/ui"
)

// incidentWords names the sorts of incident, with a second line on the tile of each.
var incidentWords = map[incident.Sort]struct{ word, hint string }{
	incident.SharpsInjury:  {"Sharps injury", "A used lancet or something sharp went through skin"},
	incident.Splash:        {"Splash of blood", "In an eye, the mouth or on broken skin"},
	incident.Faint:         {"Faint", "Somebody fainted or is about to"},
	incident.Spill:         {"Blood spilt", "On a table, the floor or a meter"},
	incident.DeviceProblem: {"Device problem", "A meter, strips or lancets do not work as they should"},
	incident.ResultProblem: {"Result problem", "A result cannot be right, or went to the wrong person"},
	incident.Complaint:     {"Complaint", "Somebody is not content"},
	incident.Other:         {"Something else", "Anything that should not have happened"},
}

// incidentSpanish names the sorts that call on every screen, for the stations that work in Spanish.
var incidentSpanish = map[incident.Sort]string{incident.SharpsInjury: "Pinchazo", incident.Splash: "Salpicadura de sangre", incident.Faint: "Desmayo"}

func incidentWord(s incident.Sort) string { return cmp.Or(incidentWords[s].word, string(s)) }

var incidentStepWords = map[string]string{
	incident.FirstAid: "First aid", incident.Told: "Supervisor told", incident.Called: "Contact called", incident.Source: "Source person may be contacted",
	incident.HandedOver: "Went to", incident.LaidDown: "Laid down", incident.LegsRaised: "Legs raised", incident.Stayed: "Stays with the person", incident.Well: "Well again",
	incident.Emergency: "Emergency services called", incident.Fall: "Hurt in the fall", incident.Ate: "Afterwards", incident.Gloves: "Gloves on",
	incident.Absorbed: "Blood soaked up", incident.Cleaned: "Surface cleaned", incident.Disinfected: "Disinfected", incident.Quarantined: "Taken out of use", incident.Remedy: "What was done",
}

// incidentChoices are the answers of the steps that have some.
var incidentChoices = map[string][]ui.Option{
	incident.FirstAid:   {{Value: "washed", Label: "Wound or skin washed"}, {Value: "flushed", Label: "Eye: flushing has begun"}, {Value: "rinsed", Label: "Mouth rinsed"}},
	incident.Called:     {{Value: "answered", Label: "They answered"}, {Value: "no-answer", Label: "No answer"}},
	incident.Source:     {{Value: "yes", Label: "Yes, may be contacted"}, {Value: "no", Label: "No"}, {Value: "not-known", Label: "Not known who"}},
	incident.HandedOver: {{Value: "clinician", Label: "To a clinician"}, {Value: "emergency-services", Label: "To emergency services"}, {Value: "declined", Label: "Does not want to go"}},
	incident.Fall:       {{Value: "not-hurt", Label: "Not hurt"}, {Value: "hurt", Label: "Hurt"}, {Value: "not-known", Label: "Not known"}},
	incident.Ate:        {{Value: "eaten", Label: "Has eaten"}, {Value: "drunk", Label: "Has drunk"}, {Value: "nothing", Label: "Wanted nothing"}},
}

var incidentNotes = map[string]string{
	incident.Called:     "Who answered (their role), or how often you tried",
	incident.HandedOver: "To whom and how, or why not",
	incident.Remedy:     "What was done about it",
}

var incidentNow = map[string]string{
	incident.LaidDown: "The person lies down", incident.LegsRaised: "The legs are raised", incident.Stayed: "I stay with the person", incident.Well: "Well again now",
	incident.Emergency: "Emergency services are called", incident.Gloves: "Gloves are on", incident.Absorbed: "The blood is soaked up", incident.Cleaned: "The surface is clean",
}

// The answers of the form.
var (
	deviceOptions = []ui.Option{
		{Value: "safety-lancet", Label: "Single-use lancet that retracts"},
		{Value: "lancet", Label: "Another lancet"},
		{Value: "needle", Label: "Needle"},
		{Value: "glass", Label: "Broken glass"},
		{Value: "other", Label: "Something else"},
	}
	siteOptions  = []ui.Option{{Value: "eye", Label: "Eye"}, {Value: "mouth", Label: "Mouth"}, {Value: "broken-skin", Label: "Broken skin"}}
	phaseOptions = []ui.Option{
		{Value: "before-use", Label: "Before use"},
		{Value: "during-use", Label: "During use"},
		{Value: "after-use", Label: "After use, before disposal"},
		{Value: "disposal", Label: "At disposal"},
		{Value: "other", Label: "Other"},
	}
	hurtOptions = []ui.Option{
		{Value: "screener", Label: "Screener"},
		{Value: "supervisor", Label: "Supervisor"},
		{Value: "lead", Label: "Lead"},
		{Value: "counsellor", Label: "Counsellor"},
		{Value: "desk", Label: "Desk"},
		{Value: "runner", Label: "Runner"},
		{Value: "participant", Label: "Participant"},
		{Value: "visitor", Label: "Visitor"},
		{Value: "other", Label: "Somebody else"},
	}
	sharpsOptions = []ui.Option{
		{Value: "below-three-quarters", Label: "Less than three quarters full"},
		{Value: "three-quarters-or-more", Label: "Three quarters full or more"},
		{Value: "overfull-or-open", Label: "Overfull or open"},
		{Value: "out-of-reach", Label: "Not within reach"},
		{Value: "not-known", Label: "Not known"},
	}
)

func optionWord(list []ui.Option, value string) string {
	for _, o := range list {
		if o.Value == value {
			return o.Label
		}
	}
	return value
}

func withNone(list []ui.Option) []ui.Option {
	return append([]ui.Option{{Value: "", Label: "Choose"}}, list...)
}

// incidentStepText says in one line what was done.
func incidentStepText(d *programme.Day, s incident.Done, reads bool) string {
	text := cmp.Or(incidentStepWords[s.Step.Step], s.Step.Step)
	var more []string
	switch s.Step.Step {
	case incident.Told:
		more = append(more, d.NameOf(s.Choice))
	case incident.Disinfected:
		if x := d.DisinfectantByID(s.Choice); x != nil {
			more = append(more, x.Details.Name)
		}
	case incident.Quarantined:
		more = append(more, strings.ReplaceAll(s.Choice, "-", " "))
	default:
		if s.Choice != "" {
			more = append(more, optionWord(incidentChoices[s.Step.Step], s.Choice))
		}
	}
	if s.Note != "" && reads {
		more = append(more, s.Note)
	}
	if len(more) > 0 {
		text += ": " + strings.Join(more, ", ")
	}
	return text
}

// incidentPlace is where it happened, in words.
func incidentPlace(s *incident.State) string {
	if s.Report.Station != "" {
		return "station " + s.Report.Station
	}
	return ""
}

// incidentAlerts call for a supervisor on every screen until one has signed that they know. They name nobody.
func incidentAlerts(d *programme.Day, lang string) []ui.Alert {
	var out []ui.Alert
	at, comes, place := "at ", ". A supervisor comes now.", incidentPlace
	word := incidentWord
	if lang == "es" {
		at, comes, word = "a las ", ". Viene un supervisor ahora.", func(s incident.Sort) string { return incidentSpanish[s] }
		place = func(s *incident.State) string { return strings.Replace(incidentPlace(s), "station", "puesto", 1) }
	}
	for _, s := range d.Incidents {
		if !s.Calls() {
			continue
		}
		text := at + s.Happened().In(d.Event.Zone()).Format("15:04")
		if p := place(s); p != "" {
			text += ", " + p
		}
		out = append(out, ui.Alert{Key: "incident-" + s.ID, Word: word(s.Report.Sort), Text: text + comes, Href: incidentPath(d, s)})
	}
	return out
}

// incidentBoardNotes are the open incidents for the board; those that still call stand above on every screen already.
func incidentBoardNotes(d *programme.Day) []boardNote {
	var out []boardNote
	for _, s := range d.Incidents {
		if !s.Open() || s.Calls() {
			continue
		}
		text := incidentWord(s.Report.Sort) + " at " + s.Happened().In(d.Event.Zone()).Format("15:04")
		if p := incidentPlace(s); p != "" {
			text += ", " + p
		}
		out = append(out, boardNote{Text: text + ": not closed yet.", Href: incidentPath(d, s), Action: "Go on", Urgent: s.Report.Sort.Exposure()})
	}
	return out
}

func incidentPath(d *programme.Day, s *incident.State) string {
	return dayBase(d) + "/incidents/" + s.ID
}

func happenedWord(lang string) string {
	if lang == "es" {
		return "Algo pasó"
	}
	return "Something happened"
}

// happenedLink leads to the page that asks what happened.
func happenedLink(d *programme.Day, visitID, lang string) ui.Link {
	l := ui.Link{Href: dayBase(d) + "/incidents/new", Label: happenedWord(lang)}
	if visitID != "" {
		l.Href += "?visit=" + escapeQuery(visitID)
	}
	return l
}
