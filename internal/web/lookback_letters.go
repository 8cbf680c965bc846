package web

import (
	"strings"

	"fairstick/internal/charter"
	"fairstick/internal/paper"
	"fairstick/internal/programme"
	"fairstick/internal/wording"
)

// lookBackLetter is what a letter after a look-back says in a language. Sentences stay under 15 words.
type lookBackLetter struct {
	labels               paper.SlipLabels
	further              bool // a language beyond English and Spanish
	about, signed        string
	draft                string // stands in a frame while nobody who speaks the language has reviewed the text
	reading, fingerstick letterText
}

type letterText struct {
	heading            string
	says, steps, after []string
}

// lookBackWords are the sentences of both letters. Words in braces are filled in.
type lookBackWords struct {
	About, Signed string // {ticket} {event} {day}; -

	ReadingHeading, Measured, Learned, MayBeWrong, NotKnown string
	DoNotRely, NewTest, TakeLetter, CallUs, Unwell          string // -; -; -; {number}; {number}

	StickHeading, Pricked, NotAsPlanned, TellYou, Sorry string
	PleaseCall, TellTicket, ToDoctor, VeryUnwell        string // {number}; -; -; {number}
}

var lookBackEnglish = lookBackWords{
	About: "Ticket {ticket}, {event}, {day}", Signed: "The screening team",

	ReadingHeading: "Please have your blood glucose checked again",
	Measured:       "We measured your blood glucose at our event.", Learned: "Later we learned that some of our test supplies may not have worked well.",
	MayBeWrong: "Your number may be wrong. It may be too high or too low.", NotKnown: "We do not know if it is wrong. We are sorry.",
	DoNotRely: "Do not rely on the number that we gave you.", NewTest: "Ask a clinic or your doctor for a new test.", TakeLetter: "Take this letter with you.",
	CallUs: "You can call us at {number}. We will help you find a place.", Unwell: "Do you feel very unwell, very thirsty or confused? Call {number} now.",

	StickHeading: "Please call us about your fingerstick",
	Pricked:      "We pricked your finger at our event.", NotAsPlanned: "Later we learned that something was not done as we plan it.",
	TellYou: "We want to tell you what happened and answer your questions.", Sorry: "We are sorry.",
	PleaseCall: "Please call us at {number}.", TellTicket: "Tell us the ticket number at the top of this letter.", ToDoctor: "Take this letter with you when you see a doctor.",
	VeryUnwell: "Do you feel very unwell? Call {number} now.",
}

var lookBackSpanish = lookBackWords{
	About: "Turno {ticket}, {event}, {day}", Signed: "El equipo de la jornada",

	ReadingHeading: "Por favor, hágase otra prueba de glucosa",
	Measured:       "Medimos su glucosa en la sangre en nuestra jornada.", Learned: "Después supimos que algunos materiales quizá no funcionaron bien.",
	MayBeWrong: "Su número puede estar equivocado. Puede ser muy alto o muy bajo.", NotKnown: "No sabemos si está equivocado. Lo sentimos.",
	DoNotRely: "No confíe en el número que le dimos.", NewTest: "Pida una prueba nueva en una clínica o con su médico.", TakeLetter: "Lleve esta carta.",
	CallUs: "Puede llamarnos al {number}. Le ayudamos a encontrar un lugar.", Unwell: "¿Se siente muy mal, con mucha sed o confusión? Llame ahora al {number}.",

	StickHeading: "Por favor, llámenos por su prueba del dedo",
	Pricked:      "Le pinchamos el dedo en nuestra jornada.", NotAsPlanned: "Después supimos que algo no se hizo como lo planeamos.",
	TellYou: "Queremos contarle qué pasó y responder sus preguntas.", Sorry: "Lo sentimos.",
	PleaseCall: "Por favor, llámenos al {number}.", TellTicket: "Díganos el número de turno de esta carta.", ToDoctor: "Lleve esta carta cuando vea a un médico.",
	VeryUnwell: "¿Se siente muy mal? Llame ahora al {number}.",
}

// spanishDraft stands on the Spanish letters until a person who speaks it has read them.
const spanishDraft = "Borrador: una persona que habla español todavía no ha revisado este texto."

// letter puts the sentences in their places.
func (w lookBackWords) letter(l paper.SlipLabels, draft string) lookBackLetter {
	return lookBackLetter{
		labels: l, about: w.About, signed: w.Signed, draft: draft,
		reading: letterText{
			heading: w.ReadingHeading, says: []string{w.Measured, w.Learned, w.MayBeWrong, w.NotKnown},
			steps: []string{w.DoNotRely, w.NewTest, w.TakeLetter, w.CallUs}, after: []string{w.Unwell},
		},
		fingerstick: letterText{
			heading: w.StickHeading, says: []string{w.Pricked, w.NotAsPlanned, w.TellYou, w.Sorry},
			steps: []string{w.PleaseCall, w.TellTicket, w.ToDoctor}, after: []string{w.VeryUnwell},
		},
	}
}

// lookBackLetterIn gives the words in a language in which the programme speaks: English where it does not.
func lookBackLetterIn(ch *charter.State, lang string) lookBackLetter {
	if l, reviewed := programme.TongueOf(ch, programme.SpokenProtocol(ch), lang, fixedWords); l != nil {
		labels := paper.LabelsIn(*l)
		draft := labels.NotReviewed
		if reviewed {
			draft = ""
		}
		out := wording.Words(*l, lookBackEnglish).letter(labels, draft)
		out.further = true
		return out
	}
	if base, _, _ := strings.Cut(strings.ToLower(lang), "-"); base == "es" {
		return lookBackSpanish.letter(paper.Labels("es"), spanishDraft)
	}
	return lookBackEnglish.letter(paper.Labels("en"), "")
}

// lookBackAbout says which visit a letter is about.
func (w lookBackLetter) lookBackAbout(ticket, event, day string) string {
	return strings.NewReplacer("{ticket}", ticket, "{event}", event, "{day}", day).Replace(w.about)
}
