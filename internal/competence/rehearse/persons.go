package rehearse

import (
	"fairstick/internal/competence/cards"
	"fairstick/internal/glucose"
	"fairstick/internal/protocol"
)

// persons are the situations in which somebody wants something.
var persons = []Maker{
	{Key: "insists", Group: Person, From: cards.Desk, Name: text("Known diabetes, and insists", "Diabetes conocida, y aun así insiste"), make: makeInsists},
	{Key: "friend-asks", Group: Person, From: cards.Desk, Name: text("A friend who asks for a result", "Un amigo que pregunta por un resultado"), make: makeFriendAsks},
	{Key: "asks-diagnosis", Group: Person, From: cards.Counsellor, Name: text("“So do I have it?”", "«¿Entonces la tengo?»"), make: makeAsksDiagnosis},
}

// KnownDiabetes is the question at the desk about diabetes that somebody knows of.
const KnownDiabetes = "known-diabetes"

func makeInsists(m *maker) error {
	q, asked := m.p.Question(KnownDiabetes)
	if !asked || q.Kind != protocol.YesNo {
		return errElsewhere
	}
	answers := PlainAnswers(m.p)
	answers[KnownDiabetes] = protocol.Yes
	s, err := m.p.Screen(answers)
	if err != nil {
		return err
	}
	if s.Eligible {
		return errElsewhere
	}
	age, years := 41+m.r.IntN(35), 3+m.r.IntN(15)
	m.out.Scene = textf("A woman of %d comes to the desk. She has had diabetes for %d years. “Just test me. I will sign anything.” She is well and answers no to all else.",
		"Una mujer de %d años llega a la mesa. Tiene diabetes desde hace %d años. «Solo hágame la prueba. Firmo lo que sea.» Está bien y a todo lo demás responde que no.", age, years)
	m.decide(Decision{
		Key: "questions", At: Desk, Step: "eligible", Source: "newman-1994",
		Ask: textf("Take her through the questions on the page. Her age is %d.", "Hágale las preguntas en la página. Su edad es %d.", age),
		Choices: []Choice{
			right(AsShown, "Her diabetes was written down.", "Se anotó su diabetes."),
			wrong(Bent, cards.Safety, "Her diabetes was not written down.", "No se anotó su diabetes."),
			wrong(NotDone, cards.Neither, "The questions were not answered.", "No se contestaron las preguntas."),
		},
		Why: text("She would be told the words for people who do not know yet. They do not fit her, and could change how she treats herself.",
			"Oiría las palabras para quien todavía no sabe. No le sirven, y podrían cambiar cómo se trata."),
	})
	m.decide(Decision{
		Key: "next", Step: "eligible", Source: "protocol",
		Ask: text("She gets louder, and people look. What do you do?", "Ella levanta la voz y la gente mira. ¿Qué hace?"),
		Choices: []Choice{
			right("kind", "Say no, kindly, and name her own clinic.", "Le dice que no, con amabilidad, y nombra su propia clínica."),
			wrong("test", cards.Safety, "Send her to the test station with her ticket, to calm her.", "La manda con su turno a la estación de prueba, para calmarla.").trying(TryExcluded),
			wrong("off-record", cards.Safety, "Take one reading for her that nobody writes down.", "Le toma un valor que nadie anota."),
			wrong("supervisor", cards.Neither, "Ask a supervisor to make an exception for her.", "Pide a un supervisor que haga una excepción."),
		},
		Why: join(text("The protocol says:", "El protocolo dice:"), s.Sentence, text("Nobody at the table can sign that away.", "Nadie en la mesa puede firmar otra cosa.")),
	})
	return nil
}

// PlainAnswers answers every question of the desk as somebody does for whom nothing is special.
func PlainAnswers(p protocol.Protocol) protocol.Answers {
	a := protocol.Answers{}
	for _, q := range p.Questions {
		switch q.Kind {
		case protocol.YesNo:
			a[q.Key] = protocol.No
		case protocol.Number:
			a[q.Key] = number(max(p.MinAge, 45))
		case protocol.Signs:
			a[q.Key] = protocol.NoSign
		}
	}
	return a
}

func makeFriendAsks(m *maker) error {
	who := []protocol.Text{text("a sister", "una hermana"), text("a colleague of the person", "una compañera de trabajo"), text("a teacher of the person", "un maestro de la persona"), text("a neighbour", "un vecino")}[m.r.IntN(4)]
	ticket := 4 + m.r.IntN(30)
	scene := textf("You sit at the desk, and %%s leans over: “How did ticket %03d do? I only worry.”", "Usted está en la mesa y se acerca %%s: «¿Cómo salió el turno %03d? Solo me preocupo.»", ticket)
	m.out.Scene = filled(scene, who)
	m.decide(Decision{
		Key: "answer", Step: "privacy", Source: "hipaa-508",
		Ask: text("What do you say?", "¿Qué responde?"),
		Choices: []Choice{
			right("nothing", "That you say nothing about anybody here.", "Que aquí no dice nada de nadie."),
			wrong("hint", cards.Neither, "No number, only that there is no cause to worry.", "Ningún número; solo que no hay de qué preocuparse."),
			wrong("was-here", cards.Neither, "That the person was tested, and will tell it when they want.", "Que la persona se hizo la prueba y que ya contará."),
			wrong("show", cards.Neither, "You turn the screen, because it is family.", "Gira la pantalla, porque es de confianza."),
		},
		Why: text("A result belongs to the person alone. “No cause to worry” tells it too, and so does that they were here.",
			"El resultado es solo de la persona. «No hay de qué preocuparse» también lo dice, y que estuvo aquí, también."),
	})
	return nil
}

func makeAsksDiagnosis(m *maker) error {
	v := m.at(204 + m.r.IntN(60))
	f, err := m.p.Find(glucose.Number(v), protocol.Random)
	if err != nil {
		return err
	}
	if f.Critical || !f.Refer {
		return errElsewhere
	}
	m.out.Scene = textf("At Explain sits a man. His reading was %s after a meal. He turns pale: “So I do have diabetes. Say it.”",
		"En Explicar está un hombre. Su valor fue %s después de comer. Se pone pálido: «Entonces tengo diabetes. Dígalo.»", v)
	m.decide(Decision{
		Key: "words", Step: "plain-words", Source: "afp-2015",
		Ask: text("What do you say?", "¿Qué le dice?"),
		Choices: []Choice{
			{Key: "screening", Right: true, Text: filled(text("“This cannot say that. We saw: %s. Go: %s.”", "«Esto no puede decirlo. Vimos: %s. Vaya: %s.»"), lower(f.Word), lower(f.When))},
			wrong("yes", cards.Safety, "“Yes. With such a number after a meal it is diabetes.”", "«Sí. Con un número así después de comer es diabetes.»"),
			wrong("calm", cards.Safety, "“No, do not worry. It was surely the meal that you had before. Come back next year and we look at it again.”", "«No, tranquilo. Seguro fue la comida de antes. Vuelva el año que viene y lo miramos otra vez.»"),
			wrong("silent", cards.Neither, "“I may not say anything at all about your number.”", "«No puedo decirle nada de nada sobre su número.»"),
		},
		Why: join(textf("For %s the protocol says:", "Para %s el protocolo dice:", v), f.Sentence,
			text("A false calm harms as much as a false alarm; only a laboratory and a clinician can name it.", "Una falsa calma daña tanto como una falsa alarma; solo un laboratorio y un profesional pueden ponerle nombre.")),
	})
	return nil
}
