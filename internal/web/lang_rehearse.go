package web

import "fmt"

// rehearseWords are those of the practice day.
type rehearseWords struct {
	Title, Lead, Real                          string
	What                                       func(scenes, mark int) string
	BeginAs                                    func(level string) string
	Begin, OtherWork, Sets, GoOn, GoOnLead     string
	SetOf                                      func(n int, level string) string
	Earlier                                    string
	Scene                                      func(n, of int) string
	Choose, Decide, OpenPage, Done, DoneHelp   string
	Stop, StopLead, StopButton, Stopped        string
	Over, OverLead, HandIn                     string
	BackToScene                                string
	Debrief, Again, Yours, Wrote, RightIs, Why string
	Right, Wrong, Nothing, Step, Gate, Source  string
	Tried, TriedLead, Changed                  string
	Passed, NotPassed                          func(day string) string
	SetName                                    func(name string) string
	IsPractice, IsReal                         string // before the word of an alert
	Stationed                                  func(station string) string
	StationedWhy, StationedDo                  string
}

var rehearseEnglish = rehearseWords{
	Title: "Practice day", Lead: "Scenes in which people go wrong, on the pages of a real day. Nothing in it is real.", Real: "It has a record of its own that is thrown away. Only how you decided is kept, in your training.",
	What: func(scenes, mark int) string {
		return fmt.Sprintf("About %d scenes, 20 to 40 minutes. %d %% of the decisions must be right, and none may harm somebody. You may repeat it; each time brings other scenes.", scenes, mark)
	},
	BeginAs: func(level string) string { return "Begin as " + level }, Begin: "Begin", OtherWork: "Practise other work", Sets: "Composed by your teachers", GoOn: "Go on with your practice day",
	GoOnLead: "You are in the middle of one.",
	SetOf:    func(n int, level string) string { return fmt.Sprintf("%d scenes, %s", n, level) },
	Earlier:  "Your practice days", Scene: func(n, of int) string { return fmt.Sprintf("Scene %d of %d", n, of) },
	Choose: "Choose one. You cannot go back afterwards.", Decide: "That is what I do", OpenPage: "Open the page", Done: "I have done it: go on", DoneHelp: "Do it on the page first, then come back here and go on.",
	Stop: "Stop the practice day", StopLead: "Nothing is kept. The next one begins with the same scenes.", StopButton: "Stop now", Stopped: "The practice day is stopped. Nothing was kept.",
	Over: "That was the last scene", OverLead: "Hand in, and see each decision with what the protocol says and why.", HandIn: "Hand in and see",
	BackToScene: "Back to the scene",
	Debrief:     "What you decided", Again: "Practise again", Yours: "You", Wrote: "What was written", RightIs: "The protocol", Why: "Why", Right: "As the protocol has it", Wrong: "Not as the protocol has it", Nothing: "nothing",
	Step: "Learning card", Gate: "On the day the program says", Source: "Source",
	Tried: "What the program stopped", TriedLead: "You tried this on a page, and the program said no. On paper nobody would have. It is not counted.", Changed: "The scenes have changed since, so only the decisions can be shown.", Passed: func(day string) string { return "Passed on " + day }, NotPassed: func(day string) string { return "Not passed on " + day },
	SetName: func(name string) string { return "Set: " + name }, IsPractice: "PRACTICE", IsReal: "REAL DAY",
	Stationed:    func(station string) string { return "This device is at station " + station + " of an open event." },
	StationedWhy: "Whoever works here next would find practice on it.", StationedDo: "Practise on another phone, or when the event is closed.",
}

var rehearseSpanish = rehearseWords{
	Title: "Día de práctica", Lead: "Escenas en las que la gente se equivoca, en las páginas de un día real. Nada en él es real.", Real: "Tiene su propio registro, que se tira. Solo se guarda cómo decidió, en su capacitación.",
	What: func(scenes, mark int) string {
		return fmt.Sprintf("Unas %d escenas, de 20 a 40 minutos. El %d %% de las decisiones debe ser correcto y ninguna puede dañar a alguien. Puede repetirlo; cada vez trae otras escenas.", scenes, mark)
	},
	BeginAs: func(level string) string { return "Empezar como " + level }, Begin: "Empezar", OtherWork: "Practicar otro trabajo", Sets: "Preparados por sus docentes", GoOn: "Seguir con su día de práctica",
	GoOnLead: "Está en medio de uno.",
	SetOf:    func(n int, level string) string { return fmt.Sprintf("%d escenas, %s", n, level) },
	Earlier:  "Sus días de práctica", Scene: func(n, of int) string { return fmt.Sprintf("Escena %d de %d", n, of) },
	Choose: "Elija una. Después no se puede volver atrás.", Decide: "Eso hago", OpenPage: "Abrir la página", Done: "Ya lo hice: seguir", DoneHelp: "Hágalo primero en la página; después vuelva aquí y siga.",
	Stop: "Parar el día de práctica", StopLead: "No se guarda nada. El próximo empieza con las mismas escenas.", StopButton: "Parar ahora", Stopped: "El día de práctica se paró. No se guardó nada.",
	Over: "Esa fue la última escena", OverLead: "Entregue y vea cada decisión con lo que dice el protocolo y por qué.", HandIn: "Entregar y ver",
	BackToScene: "Volver a la escena",
	Debrief:     "Lo que decidió", Again: "Practicar otra vez", Yours: "Usted", Wrote: "Lo que se anotó", RightIs: "El protocolo", Why: "Por qué", Right: "Como dice el protocolo", Wrong: "No como dice el protocolo", Nothing: "nada",
	Step: "Tarjeta", Gate: "Ese día el programa dice", Source: "Fuente",
	Tried: "Lo que el programa detuvo", TriedLead: "Lo intentó en una página y el programa dijo que no. En papel nadie lo habría hecho. No cuenta.", Changed: "Las escenas han cambiado desde entonces; solo se pueden mostrar las decisiones.", Passed: func(day string) string { return "Aprobado el " + day }, NotPassed: func(day string) string { return "No aprobado el " + day },
	SetName: func(name string) string { return "Grupo: " + name }, IsPractice: "PRÁCTICA", IsReal: "DÍA REAL",
	Stationed: func(station string) string {
		return "Este dispositivo está en la estación " + station + " de un evento abierto."
	},
	StationedWhy: "Quien trabaje aquí después encontraría la práctica.", StationedDo: "Practique en otro teléfono, o cuando el evento haya cerrado.",
}
