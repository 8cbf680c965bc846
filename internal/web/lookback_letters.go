package web

import "strings"

// lookBackLetter is what a letter after a look-back says in a language. Sentences stay under 15 words.
type lookBackLetter struct {
	lang, about, signed  string
	draft                string // stands in a frame while nobody who speaks the language has reviewed the text
	reading, fingerstick letterText
}

type letterText struct {
	heading            string
	says, steps, after []string
}

var lookBackLetters = map[string]lookBackLetter{
	"en": {
		lang: "en", about: "Ticket %s, %s, %s", signed: "The screening team",
		reading: letterText{
			heading: "Please have your blood glucose checked again",
			says: []string{
				"We measured your blood glucose at our event.", "Later we learned that some of our test supplies may not have worked well.", "Your number may be wrong. It may be too high or too low.", "We do not know if it is wrong. We are sorry.",
			},
			steps: []string{"Do not rely on the number that we gave you.", "Ask a clinic or your doctor for a new test.", "Take this letter with you.", "You can call us at {number}. We will help you find a place."},
			after: []string{"Do you feel very unwell, very thirsty or confused? Call {number} now."},
		},
		fingerstick: letterText{
			heading: "Please call us about your fingerstick",
			says: []string{
				"We pricked your finger at our event.", "Later we learned that something was not done as we plan it.", "We want to tell you what happened and answer your questions.", "We are sorry.",
			},
			steps: []string{"Please call us at {number}.", "Tell us the ticket number at the top of this letter.", "Take this letter with you when you see a doctor."},
			after: []string{"Do you feel very unwell? Call {number} now."},
		},
	},
	"es": {
		lang: "es", about: "Turno %s, %s, %s", signed: "El equipo de la jornada", draft: "Borrador: una persona que habla español todavía no ha revisado este texto.",
		reading: letterText{
			heading: "Por favor, hágase otra prueba de glucosa",
			says: []string{
				"Medimos su glucosa en la sangre en nuestra jornada.", "Después supimos que algunos materiales quizá no funcionaron bien.", "Su número puede estar equivocado. Puede ser muy alto o muy bajo.", "No sabemos si está equivocado. Lo sentimos.",
			},
			steps: []string{"No confíe en el número que le dimos.", "Pida una prueba nueva en una clínica o con su médico.", "Lleve esta carta.", "Puede llamarnos al {number}. Le ayudamos a encontrar un lugar."},
			after: []string{"¿Se siente muy mal, con mucha sed o confusión? Llame ahora al {number}."},
		},
		fingerstick: letterText{
			heading: "Por favor, llámenos por su prueba del dedo",
			says: []string{
				"Le pinchamos el dedo en nuestra jornada.", "Después supimos que algo no se hizo como lo planeamos.", "Queremos contarle qué pasó y responder sus preguntas.", "Lo sentimos.",
			},
			steps: []string{"Por favor, llámenos al {number}.", "Díganos el número de turno de esta carta.", "Lleve esta carta cuando vea a un médico."},
			after: []string{"¿Se siente muy mal? Llame ahora al {number}."},
		},
	},
}

// lookBackLetterIn gives the words in a language: English where there are no others.
func lookBackLetterIn(lang string) lookBackLetter {
	base, _, _ := strings.Cut(strings.ToLower(lang), "-")
	if w, ok := lookBackLetters[base]; ok {
		return w
	}
	return lookBackLetters["en"]
}
