package paper

import "strings"

// postLine is one paragraph of a letter.
type postLine struct {
	s           string
	bold, close bool // close: follows the one before without a gap
	mark        bool // a point of a list
}

// postWords are the words of a letter in a language. Those to the person are for a reader of the sixth grade.
type postWords struct {
	person    func(sh *postSheet) []postLine
	clinician func(sh *postSheet) []postLine
}

func postWordsIn(lang string) postWords {
	if lang == "es" {
		return postWords{postPersonSpanish, postClinician}
	}
	return postWords{postPersonEnglish, postClinician}
}

func (w postWords) paragraphs(sh *postSheet) []postLine {
	if sh.d.ToClinician {
		return w.clinician(sh)
	}
	return w.person(sh)
}

func marked(list []string) []postLine {
	var out []postLine
	for i, s := range list {
		out = append(out, postLine{s: s, mark: true, close: i > 0})
	}
	return out
}

func sentence(s string) string {
	s = strings.TrimSpace(s)
	if s == "" || strings.HasSuffix(s, ".") {
		return s
	}
	return s + "."
}

func postPersonEnglish(sh *postSheet) []postLine {
	d := sh.d
	out := []postLine{
		{s: "Dear " + d.Name + ","},
		{s: "You came to our health screening on " + sh.l.DateText(d.Screened) + ". We gave you a slip with your result."},
		{s: "We tried to call you. We could not reach you."},
		{s: "We asked you to see a clinician by " + sh.l.DateText(d.By) + ". If you did not go yet, please go now. Take your slip with you.", bold: true},
	}
	if d.Place != "" {
		out = append(out, postLine{s: sentence("You can go to " + join(", ", d.Place, d.PlaceSays))})
	}
	out = append(out,
		postLine{s: "This is a screening, not a diagnosis. A screening can be wrong. Only a clinician can tell you what it means."},
		postLine{s: "Have you been seen? Please call us and tell us the day. Then we do not write again."},
		postLine{s: sentence("Our number is " + join(", ", d.Contact, d.Hours)), close: true},
		postLine{s: "Call " + d.Emergency + " at once if you notice any of these:"})
	out = append(out, marked(d.Warnings)...)
	return append(out,
		postLine{s: "You do not want letters or calls from us? Call the same number and say so."},
		postLine{s: "Thank you."}, postLine{s: d.Programme, close: true})
}

func postPersonSpanish(sh *postSheet) []postLine {
	d := sh.d
	out := []postLine{
		{s: "Hola, " + d.Name + ":"},
		{s: "Usted vino a nuestra prueba de salud el " + sh.l.DateText(d.Screened) + ". Le dimos una hoja con su resultado."},
		{s: "Le llamamos por teléfono. No pudimos hablar con usted."},
		{s: "Le pedimos ver a un profesional de salud a más tardar el " + sh.l.DateText(d.By) + ". Si todavía no fue, por favor vaya ahora. Lleve su hoja.", bold: true},
	}
	if d.Place != "" {
		out = append(out, postLine{s: sentence("Puede ir a " + join(", ", d.Place, d.PlaceSays))})
	}
	out = append(out,
		postLine{s: "Esto es una prueba de detección, no un diagnóstico. Puede equivocarse. Solo un profesional puede decirle qué significa."},
		postLine{s: "¿Ya fue? Por favor, llámenos y díganos qué día. Así no le escribimos más."},
		postLine{s: sentence("Nuestro teléfono es " + join(", ", d.Contact, d.Hours)), close: true},
		postLine{s: "Llame de inmediato al " + d.Emergency + " si nota alguna de estas señales:"})
	out = append(out, marked(d.Warnings)...)
	return append(out,
		postLine{s: "¿No quiere cartas ni llamadas nuestras? Llame al mismo número y díganoslo."},
		postLine{s: "Gracias."}, postLine{s: d.Programme, close: true})
}

// postClinician is in English: it is read by whoever sees the person, and the person has the slip in their own language.
func postClinician(sh *postSheet) []postLine {
	d := sh.d
	out := []postLine{
		{s: "To the clinician who sees " + d.Name},
		{s: "This person took part in a community blood glucose screening, " + d.Event + ", on " + sh.l.DateText(d.Screened) + " and was advised to be seen by " + sh.l.DateText(d.By) + "."},
		{s: "Fingerstick reading: " + d.Reading + ", " + d.Basis + ".", bold: true},
		{s: sentence("Taken at " + d.Taken), close: true},
		{s: "This is a screening, not a diagnosis: a meter reading can neither diagnose nor rule out. Please confirm it with a laboratory test."},
		{s: d.CanMislead},
		{s: "If you wish to tell us that the person was seen, and the person agrees, please call " + join(", ", d.Contact, d.Hours) + "."},
		{s: "Thank you."},
		{s: d.Programme, close: true},
	}
	return out
}
