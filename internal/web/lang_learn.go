package web

import "fmt"

// learnWords are those of the pages on which somebody learns alone: the cards and the quiz.
type learnWords struct {
	Title, Lead                                       string
	For                                               func(level string) string
	Holds                                             func(until string) string
	Still, Begin, Steps, StepsLead                    string
	Number                                            func(n, of int) string
	Why, Safety, Validity, Acted, Next, Before, AllOf string
	LastStep                                          string

	Quiz, QuizLead, TakeQuiz, GoOn string
	Rules                          func(questions, mark, attempts int) string
	Minutes                        func(n int) string
	Left                           func(n int) string
	NoneLeft                       string
	Question                       func(n, of int) string
	ChooseOne, ChooseAll, Keep     string
	HandIn, HandInLead             string
	Open                           func(n int) string
	AllAnswered                    string
	Result, Yours, Right, Wrong    string
	RightIs, Source, Nothing       string
	HarmWord                       string
	Changed, Again, Earlier        string
	PassedOn, NotPassed            func(day string) string
	ChooseAnswer                   string
	OtherLevels                    string
}

var learnEnglish = learnWords{
	Title: "Learn", Lead: "The steps of a screening, then a quiz. Nobody watches yet.",
	For:   func(level string) string { return "For your work as " + level },
	Holds: func(until string) string { return "You are verified until " + until + "." },
	Still: "Still missing", Begin: "Begin with the first step", Steps: "The steps", StepsLead: "In the order in which they are done.",
	Number: func(n, of int) string { return fmt.Sprintf("Step %d of %d", n, of) },
	Rules: func(questions, mark, attempts int) string {
		return fmt.Sprintf("%d questions; %d %% must be right, and each one that can harm somebody. %d attempts.", questions, mark, attempts)
	},
	Minutes:  func(n int) string { return fmt.Sprintf("You have %d minutes from the first question on.", n) },
	Left:     func(n int) string { return counted(n, "attempt is left.", "attempts are left.") },
	Question: func(n, of int) string { return fmt.Sprintf("Question %d of %d", n, of) },
	Open:     func(n int) string { return counted(n, "question has no answer yet.", "questions have no answer yet.") },
	Why:      "Why", Safety: "S: somebody can be harmed", Validity: "V: the value cannot be trusted", Acted: "Rare: it may be acted or told.", Next: "Next step", Before: "Step before", AllOf: "All steps",
	LastStep: "That was the last step. Now the quiz.",
	Quiz:     "Quiz", QuizLead: "One question a screen. You may stop and go on later on this device or another one.", TakeQuiz: "Start the quiz", GoOn: "Go on with the quiz",
	ChooseOne: "Choose one answer.", ChooseAll: "Choose every answer that is right.", Keep: "Keep this answer",
	HandIn: "Hand in the quiz", HandInLead: "After this it is marked and recorded.", AllAnswered: "Every question has an answer.",
	Result: "Result", Yours: "You chose", Right: "Right", Wrong: "Not right", RightIs: "Right is", Source: "Source", Nothing: "nothing", HarmWord: "A miss here can harm somebody.",
	Changed: "The questions have changed since, so they cannot be shown again.", Again: "To the quiz", Earlier: "Your quizzes", NoneLeft: "No attempt is left. A teacher goes through it with you first.",
	PassedOn:  func(day string) string { return "Passed on " + day },
	NotPassed: func(day string) string { return "Not passed on " + day }, ChooseAnswer: "Choose an answer first.", OtherLevels: "Quiz for other work",
}

var learnSpanish = learnWords{
	Title: "Aprender", Lead: "Los pasos de una prueba y después un examen. Todavía nadie observa.",
	For:   func(level string) string { return "Para su trabajo: " + level },
	Holds: func(until string) string { return "Su verificación vale hasta el " + until + "." },
	Still: "Todavía falta", Begin: "Empezar por el primer paso", Steps: "Los pasos", StepsLead: "En el orden en que se hacen.",
	Number: func(n, of int) string { return fmt.Sprintf("Paso %d de %d", n, of) },
	Rules: func(questions, mark, attempts int) string {
		return fmt.Sprintf("%d preguntas; el %d %% debe ser correcto, y cada una que puede dañar a alguien. %d intentos.", questions, mark, attempts)
	},
	Minutes:  func(n int) string { return fmt.Sprintf("Tiene %d minutos desde la primera pregunta.", n) },
	Left:     func(n int) string { return counted(n, "intento queda.", "intentos quedan.") },
	Question: func(n, of int) string { return fmt.Sprintf("Pregunta %d de %d", n, of) },
	Open: func(n int) string {
		return counted(n, "pregunta todavía no tiene respuesta.", "preguntas todavía no tienen respuesta.")
	},
	Why: "Por qué", Safety: "S: alguien puede salir dañado", Validity: "V: no se puede confiar en el valor", Acted: "Poco frecuente: se puede actuar o contar.", Next: "Paso siguiente", Before: "Paso anterior", AllOf: "Todos los pasos",
	LastStep: "Ese fue el último paso. Ahora el examen.",
	Quiz:     "Examen", QuizLead: "Una pregunta por pantalla. Puede parar y seguir después en este u otro dispositivo.", TakeQuiz: "Empezar el examen", GoOn: "Seguir con el examen",
	ChooseOne: "Elija una respuesta.", ChooseAll: "Elija todas las respuestas correctas.", Keep: "Guardar esta respuesta",
	HandIn: "Entregar el examen", HandInLead: "Después se califica y se registra.", AllAnswered: "Todas las preguntas tienen respuesta.",
	Result: "Resultado", Yours: "Usted eligió", Right: "Correcta", Wrong: "No es correcta", RightIs: "Lo correcto es", Source: "Fuente", Nothing: "nada", HarmWord: "Un error aquí puede dañar a alguien.",
	Changed: "Las preguntas han cambiado desde entonces y no se pueden mostrar otra vez.", Again: "Al examen", Earlier: "Sus exámenes", NoneLeft: "No quedan intentos. Antes un docente lo repasa con usted.",
	PassedOn:  func(day string) string { return "Aprobado el " + day },
	NotPassed: func(day string) string { return "No aprobado el " + day }, ChooseAnswer: "Elija primero una respuesta.", OtherLevels: "Examen para otro trabajo",
}
