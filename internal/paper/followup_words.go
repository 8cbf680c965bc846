package paper

import (
	"strings"

	"fairstick/internal/protocol"
	"fairstick/internal/wording"
)

func sentence(s string) string {
	s = strings.TrimSpace(s)
	if s == "" || strings.HasSuffix(s, ".") {
		return s
	}
	return s + "."
}

// followUpWords are the sentences of the letter to a person who could not be reached, for a reader of the sixth grade. Words in braces are
// filled in.
type followUpWords struct {
	Dear, Came, Tried, Asked, GoTo    string // {name}; {day}; -; {day}; {place}
	Screening, Seen, OurNumber, Signs string // -; -; {number}; {number}
	NoMore, Thanks                    string
}

var followUpEnglish = followUpWords{
	Dear:      "Dear {name},",
	Came:      "You came to our health screening on {day}. We gave you a slip with your result.",
	Tried:     "We tried to call you. We could not reach you.",
	Asked:     "We asked you to see a clinician by {day}. If you did not go yet, please go now. Take your slip with you.",
	GoTo:      "You can go to {place}.",
	Screening: "This is a screening, not a diagnosis. A screening can be wrong. Only a clinician can tell you what it means.",
	Seen:      "Have you been seen? Please call us and tell us the day. Then we do not write again.",
	OurNumber: "Our number is {number}.",
	Signs:     "Call {number} at once if you notice any of these:",
	NoMore:    "You do not want letters or calls from us? Call the same number and say so.",
	Thanks:    "Thank you.",
}

var followUpSpanish = followUpWords{
	Dear:      "Hola, {name}:",
	Came:      "Usted vino a nuestra prueba de salud el {day}. Le dimos una hoja con su resultado.",
	Tried:     "Le llamamos por teléfono. No pudimos hablar con usted.",
	Asked:     "Le pedimos ver a un profesional de salud a más tardar el {day}. Si todavía no fue, por favor vaya ahora. Lleve su hoja.",
	GoTo:      "Puede ir a {place}.",
	Screening: "Esto es una prueba de detección, no un diagnóstico. Puede equivocarse. Solo un profesional puede decirle qué significa.",
	Seen:      "¿Ya fue? Por favor, llámenos y díganos qué día. Así no le escribimos más.",
	OurNumber: "Nuestro teléfono es {number}.",
	Signs:     "Llame de inmediato al {number} si nota alguna de estas señales:",
	NoMore:    "¿No quiere cartas ni llamadas nuestras? Llame al mismo número y díganoslo.",
	Thanks:    "Gracias.",
}

// LetterSources lists the English of the letter to a person, for those who translate it.
func LetterSources() []string { return wording.Sources(followUpEnglish) }

// LetterTexts gives that letter in English and Spanish, for whoever measures how easily it reads.
func LetterTexts() []protocol.Text { return wording.Pairs(followUpEnglish, followUpSpanish) }

// letter fills the sentences in.
func (w followUpWords) letter(d FollowUpLetter, l SlipLabels) []LetterLine {
	fill := func(s, place, with string) string {
		return strings.ReplaceAll(s, place, strings.TrimSuffix(strings.TrimSpace(with), "."))
	}
	out := []LetterLine{
		{Text: fill(w.Dear, "{name}", d.Name)},
		{Text: fill(w.Came, "{day}", l.DateText(d.Screened))},
		{Text: w.Tried},
		{Text: fill(w.Asked, "{day}", l.DateText(d.By)), Bold: true},
	}
	if d.Place != "" {
		out = append(out, LetterLine{Text: fill(w.GoTo, "{place}", join(", ", d.Place, d.PlaceSays))})
	}
	out = append(out,
		LetterLine{Text: w.Screening},
		LetterLine{Text: w.Seen},
		LetterLine{Text: fill(w.OurNumber, "{number}", join(", ", d.Contact, d.Hours)), Close: true},
		LetterLine{Text: fill(w.Signs, "{number}", d.Emergency)})
	out = append(out, Dotted(d.Warnings)...)
	return append(out, LetterLine{Text: w.NoMore}, LetterLine{Text: w.Thanks}, LetterLine{Text: d.Programme, Close: true})
}

// followUpClinician is in English: it is read by whoever sees the person, and the person has the slip in their own language.
func followUpClinician(d FollowUpLetter, l SlipLabels) []LetterLine {
	out := []LetterLine{
		{Text: "To the clinician who sees " + d.Name},
		{Text: "This person took part in a community blood glucose screening, " + d.Event + ", on " + l.DateText(d.Screened) + " and was advised to be seen by " + l.DateText(d.By) + "."},
		{Text: "Fingerstick reading: " + d.Reading + ", " + d.Basis + ".", Bold: true},
		{Text: sentence("Taken at " + d.Taken), Close: true},
		{Text: "This is a screening, not a diagnosis: a meter reading can neither diagnose nor rule out. Please confirm it with a laboratory test."},
		{Text: d.CanMislead},
		{Text: "If you wish to tell us that the person was seen, and the person agrees, please call " + join(", ", d.Contact, d.Hours) + "."},
		{Text: "Thank you."},
		{Text: d.Programme, Close: true},
	}
	return out
}
