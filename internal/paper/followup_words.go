package paper

import "strings"

func sentence(s string) string {
	s = strings.TrimSpace(s)
	if s == "" || strings.HasSuffix(s, ".") {
		return s
	}
	return s + "."
}

// followUpPersonEnglish and its like in other languages are for a reader of the sixth grade.
func followUpPersonEnglish(d FollowUpLetter, l SlipLabels) []LetterLine {
	out := []LetterLine{
		{Text: "Dear " + d.Name + ","},
		{Text: "You came to our health screening on " + l.DateText(d.Screened) + ". We gave you a slip with your result."},
		{Text: "We tried to call you. We could not reach you."},
		{Text: "We asked you to see a clinician by " + l.DateText(d.By) + ". If you did not go yet, please go now. Take your slip with you.", Bold: true},
	}
	if d.Place != "" {
		out = append(out, LetterLine{Text: sentence("You can go to " + join(", ", d.Place, d.PlaceSays))})
	}
	out = append(out,
		LetterLine{Text: "This is a screening, not a diagnosis. A screening can be wrong. Only a clinician can tell you what it means."},
		LetterLine{Text: "Have you been seen? Please call us and tell us the day. Then we do not write again."},
		LetterLine{Text: sentence("Our number is " + join(", ", d.Contact, d.Hours)), Close: true},
		LetterLine{Text: "Call " + d.Emergency + " at once if you notice any of these:"})
	out = append(out, Dotted(d.Warnings)...)
	return append(out,
		LetterLine{Text: "You do not want letters or calls from us? Call the same number and say so."},
		LetterLine{Text: "Thank you."}, LetterLine{Text: d.Programme, Close: true})
}

func followUpPersonSpanish(d FollowUpLetter, l SlipLabels) []LetterLine {
	out := []LetterLine{
		{Text: "Hola, " + d.Name + ":"},
		{Text: "Usted vino a nuestra prueba de salud el " + l.DateText(d.Screened) + ". Le dimos una hoja con su resultado."},
		{Text: "Le llamamos por teléfono. No pudimos hablar con usted."},
		{Text: "Le pedimos ver a un profesional de salud a más tardar el " + l.DateText(d.By) + ". Si todavía no fue, por favor vaya ahora. Lleve su hoja.", Bold: true},
	}
	if d.Place != "" {
		out = append(out, LetterLine{Text: sentence("Puede ir a " + join(", ", d.Place, d.PlaceSays))})
	}
	out = append(out,
		LetterLine{Text: "Esto es una prueba de detección, no un diagnóstico. Puede equivocarse. Solo un profesional puede decirle qué significa."},
		LetterLine{Text: "¿Ya fue? Por favor, llámenos y díganos qué día. Así no le escribimos más."},
		LetterLine{Text: sentence("Nuestro teléfono es " + join(", ", d.Contact, d.Hours)), Close: true},
		LetterLine{Text: "Llame de inmediato al " + d.Emergency + " si nota alguna de estas señales:"})
	out = append(out, Dotted(d.Warnings)...)
	return append(out,
		LetterLine{Text: "¿No quiere cartas ni llamadas nuestras? Llame al mismo número y díganoslo."},
		LetterLine{Text: "Gracias."}, LetterLine{Text: d.Programme, Close: true})
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
