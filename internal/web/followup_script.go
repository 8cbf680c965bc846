package web

import (
	"strings"

	"fairstick/internal/civil"
)

// scriptFacts is what a script is told. None of it is a result: the person has that on the slip.
type scriptFacts struct {
	Caller, Programme string
	Day, By           civil.Date
	Place, PlaceSays  string
	Number, Hours     string // where the programme is called back
	Emergency         string
	Warnings          []string
	Urgent            bool
}

// scriptPart is what is said in one turn of a call, under a heading for the caller.
type scriptPart struct {
	Heading string
	Lines   []string
}

// callScript is what a caller says, in the person's language. Nothing about health is said before the person themselves is on
// the line, and nothing at all on a recording.
type callScript struct {
	Lang    string
	Missing string // the language in which there is no script yet; empty otherwise
	Parts   []scriptPart
	Message []string // for a recording, or for a text message
}

// scriptIn gives the script in a language; in English, with Missing, where there is none yet.
func scriptIn(lang string, x scriptFacts) callScript {
	switch lang {
	case "en":
		return scriptEnglish(x)
	case "es":
		return scriptSpanish(x)
	}
	s := scriptEnglish(x)
	s.Missing = languageName(lang)
	return s
}

func scriptEnglish(x scriptFacts) callScript {
	s := callScript{Lang: "en", Message: []string{"Hello. My name is " + x.Caller + ".", "Please call me back at " + x.Number + ".", hoursIn("We are here ", x.Hours), "Thank you."}}
	s.Message = said(s.Message...)
	s.Parts = []scriptPart{
		{"Before you say why", []string{"Hello. May I speak with (their full name)?", "My name is " + x.Caller + ".", "Is this a good time? Can you talk in private?"}},
		{"Why you call, to the person alone", []string{"I call from " + x.Programme + ".", "You came to our screening on " + dayIn("en", x.Day) + ".", "We gave you a slip with your result.", "We said: please see a clinician by " + dayIn("en", x.By) + ".", "Have you seen someone about it?"}},
		{"If they were seen", []string{"I am glad. On what day was it?", "Did they do another test? You do not have to tell me."}},
		{"If not yet", said("What makes it hard to go?", placeIn("You can go to ", x.Place, x.PlaceSays), "When could you go? I can call you after that.", "A screening can be wrong. Only a clinician can tell.")},
	}
	if x.Urgent {
		s.Parts = append(s.Parts[:2:2], append([]scriptPart{{"Ask first: how are they now?", said("How do you feel now?", "Do you notice any of these? "+strings.Join(x.Warnings, "; ")+".", "If so, please call "+x.Emergency+" now. I stay on the line.")}}, s.Parts[2:]...)...)
	} else {
		s.Parts = append(s.Parts, scriptPart{"If they feel ill", []string{"If you feel very ill, please call " + x.Emergency + " now."}})
	}
	s.Parts = append(s.Parts, scriptPart{"At the end", []string{"May we call you again?", "Thank you for your time."}})
	return s
}

func scriptSpanish(x scriptFacts) callScript {
	s := callScript{Lang: "es", Message: said("Hola. Me llamo "+x.Caller+".", "Por favor, llámeme al "+x.Number+".", hoursIn("Horario: ", x.Hours), "Gracias.")}
	s.Parts = []scriptPart{
		{"Before you say why", []string{"Hola. ¿Puedo hablar con (su nombre completo)?", "Me llamo " + x.Caller + ".", "¿Es buen momento? ¿Puede hablar en privado?"}},
		{"Why you call, to the person alone", []string{"Llamo de " + x.Programme + ".", "Usted vino a nuestra prueba el " + dayIn("es", x.Day) + ".", "Le dimos una hoja con su resultado.", "Le pedimos ver a un profesional de salud antes del " + dayIn("es", x.By.AddDays(1)) + ".", "¿Ya vio a alguien por esto?"}},
		{"If they were seen", []string{"Me alegra. ¿Qué día fue?", "¿Le hicieron otra prueba? No tiene que decirme."}},
		{"If not yet", said("¿Qué se lo hace difícil?", placeIn("Puede ir a ", x.Place, x.PlaceSays), "¿Cuándo podría ir? Puedo llamarle después.", "Esta prueba puede equivocarse. Solo un profesional puede saberlo.")},
	}
	if x.Urgent {
		s.Parts = append(s.Parts[:2:2], append([]scriptPart{{"Ask first: how are they now?", said("¿Cómo se siente ahora?", "¿Nota alguna de estas señales? "+strings.Join(x.Warnings, "; ")+".", "Si es así, llame ahora al "+x.Emergency+". Yo sigo en la línea.")}}, s.Parts[2:]...)...)
	} else {
		s.Parts = append(s.Parts, scriptPart{"If they feel ill", []string{"Si se siente muy mal, llame ahora al " + x.Emergency + "."}})
	}
	s.Parts = append(s.Parts, scriptPart{"At the end", []string{"¿Podemos llamarle otra vez?", "Gracias por su tiempo."}})
	return s
}

func hoursIn(before, hours string) string {
	if hours == "" {
		return ""
	}
	return before + hours + "."
}

func placeIn(before, place, says string) string {
	if place == "" {
		return ""
	}
	if says != "" {
		place += ", " + says
	}
	return before + place + "."
}

// said leaves out what there is nothing to say of.
func said(lines ...string) []string {
	var out []string
	for _, l := range lines {
		if l != "" {
			out = append(out, l)
		}
	}
	return out
}
