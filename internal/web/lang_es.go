package web

import "fmt"

// tongueSpanish was written by the program's authors. A fluent speaker of the community must review it before it is used;
// docs/accessibility.md says how.
var tongueSpanish = tongue{
	Lang: "es", Learn: learnSpanish, Rehearse: rehearseSpanish,
	Shell: shellWords{
		Start: "Inicio", Board: "Tablero", Events: "Jornadas", SetUp: "Configuración", Phones: "Teléfonos", NotPossible: "No es posible", SignIn: "Entrar", GoToStart: "Ir al inicio",
		WhoAreYou: "¿Quién es usted?", AnotherName: "Otro nombre", FindName: "Busque su nombre", HereFirst: "Primero están quienes trabajan hoy aquí.", YourPIN: "Su PIN",
		NobodyYet: "Todavía nadie puede entrar.", NobodyYetHow: "La primera persona responsable se registra en la computadora portátil.",
		InventedPIN: func(pin string) string { return "Una persona inventada. El PIN es " + pin + "." },
		PINNote:     func(pin string) string { return "PIN " + pin },
		WrongPIN:    "Ese PIN no corresponde a este nombre. Inténtelo otra vez; no se pierde nada.",

		WhatNext: "¿Qué sigue?", NoDay: "No hay ninguna jornada planeada.", NoDayLead: "Configure el programa y planee la primera jornada.",
		NoDayHow: "La persona responsable planea la próxima. Aparecerá aquí.", GoToSetUp: "Ir a la configuración", Office: "Oficina",
		Care: "Atención", OpenAlerts: "alertas abiertas", AtDesk: "en recepción", Waiting: "esperan", BoardHint: "todas las personas, todos los medidores", Controls: "Controles",
		Open: "Apertura", OpenHint: "revisiones, sala, material", Roster: "Equipo del día", Close: "Cierre", Device: "Este dispositivo", DeviceHint: "para qué sirve",
		StockBrought: "Material traído", Plan: "Plan", Programme: "Programa y protocolo", People: "Personas", Meters: "Medidores", Strips: "Tiras",
		Solution: "Solución de control", Disinfectants: "Desinfectantes", Supplies: "Otro material", Stock: "Existencias", FollowUp: "Seguimiento", Learn: "Aprender y examen", Training: "Capacitación del equipo", Reports: "Informes",
		NextDay: func(name, date, doors string) string {
			return "Próxima: " + name + ", " + date + ", se abre a las " + doors + "."
		},
		OpenDay: "Abrir la jornada",
		Roles: map[string]string{
			"lead": "responsable", "supervisor": "supervisión", "screener": "pruebas", "counsellor": "orientación", "desk": "recepción", "runner": "apoyo",
		},
		Phases: map[string]string{
			"planned": "todavía no abierta", "open": "puertas abiertas", "doors-closed": "puertas cerradas, terminando", "closed": "cerrada",
		},
		Locked: "bloqueado", LockedLead: "Este dispositivo estuvo un rato sin usarse. Escriba su PIN para seguir donde estaba.", SomebodyElse: "Otra persona",
	},
	Station: seatWords{
		Steps: map[string]string{"desk": "Recepción", "test": "Prueba", "explain": "Explicación"},
		What:  "¿Para qué es este dispositivo?", NotPut: "Este dispositivo todavía no tiene puesto.",
		Is:       func(station string) string { return "Este dispositivo es " + station + "." },
		IsNow:    func(station string) string { return "Este dispositivo es ahora " + station + "." },
		NoEvents: "No hay ninguna jornada planeada ni abierta.", NoEventsHow: "Un dispositivo se asigna a un puesto de una jornada.", WhichDay: "¿Qué jornada?",
		BoardOf:   func(event string) string { return "Tablero de " + event },
		WhichSeat: func(step string) string { return step + ": ¿qué puesto?" },
		Seat:      "Número o nombre del puesto", SeatHelp: "Como está en la mesa, por ejemplo 2.", ThisSeat: "Este es el puesto",
		NoMeter: "No hay ningún medidor anotado como traído.", NoMeterHow: "La persona responsable o de supervisión lo anota en Material traído.",
		WhichMeter: "¿Qué medidor está en la mesa?", NextTable: "Siguiente: tiras y toallitas",
		Meter:      func(label string) string { return "Medidor " + label },
		Quarantine: "Fuera de uso: en cuarentena", NoVialFits: "Ningún frasco abierto sirve", Cleared: "Autorizado", Controls: "Primero los controles",
		Table: "¿Qué hay en la mesa?", NoVial: "Hoy ningún frasco abierto sirve para este medidor.", NoVialHow: "Abra uno nuevo abajo o tome otro medidor.", WhichVial: "¿Qué frasco de tiras?",
		NoWipes: "La revisión de este medidor no nombra toallitas vigentes.", NoWipesHow: "La persona responsable firma la revisión en Medidores.", WhichWipes: "¿Qué toallitas?", ThisTable: "Esta es la mesa",
		OpenVial: "Abrir un frasco nuevo", WhichLot: "¿De qué lote?", VialName: "Nombre escrito en el frasco", VialHelp: "Escriba también la fecha de hoy en el frasco. Sin nombre recibe un número.",
		OpenedNow: "Abierto ahora", VialWritten: "El frasco nuevo está anotado. Haga los controles si todavía no está autorizado.",
		Vial:           func(lot, vial string) string { return "Lote " + lot + ", frasco " + vial },
		Lot:            func(lot string) string { return "Lote " + lot },
		VialCleared:    "Autorizado en este medidor",
		VialNotCleared: func(why string) string { return "No autorizado en este medidor: " + why },
		KeepWet:        func(time string) string { return "mantener húmedo " + time },
	},
	Line: lineWords{
		Ticket:       func(ticket string) string { return "Turno " + ticket },
		Take:         func(ticket string) string { return "Tomar el turno " + ticket },
		GoOn:         func(ticket string) string { return "Seguir con el turno " + ticket },
		AtStation:    func(station string) string { return "en el puesto " + station },
		AtStationNow: func(station string) string { return "puesto " + station },
		PressNumber:  "Pulse un número para tomarlo. Primero está quien más ha esperado.", BackToLine: "Volver a la fila", TheLine: "La fila",
		NobodyHasIt: func(station string) string {
			return "Nadie en " + station + " tiene a esta persona: devolver a la fila"
		},
		IsAt: func(where string) string { return "Este turno está " + where + "." },
		Desk: "En recepción", DeskEmpty: "No hay nadie en recepción.",
		Test: "Esperan la prueba", TestEmpty: "No espera nadie. Recepción envía a la próxima persona.",
		Explain: "Esperan su resultado", ExplainEmpty: "No espera nadie. Los puestos de prueba envían a la próxima persona.",
		Languages: map[string]string{"en": "inglés", "es": "español", "fr": "francés", "pt": "portugués", "vi": "vietnamita", "ar": "árabe"}, TakeCare: "con cuidado", RepeatAfterWashing: "repetir después de lavarse",
		Where: map[string]string{
			"desk": "en recepción", "test": "en espera de la prueba", "explain": "en Explicación", "done": "terminado", "left": "cerrado: la persona se fue antes del final",
			"not-eligible": "sin prueba hoy", "declined": "cerrado: la persona dijo que no",
		},
		WhereUnknown: "en un lugar que no se sabe",
		StopsHere:    "Termina aquí", PutBack: "Devolver a la fila", Unwell: "Esta persona se ve mal", Reason: "Motivo, si se sabe", ReasonIfGiven: "Motivo, si dio alguno",
		IsBack:     func(ticket string) string { return "El turno " + ticket + " está otra vez en la fila." },
		SaidNo:     func(ticket string) string { return "El turno " + ticket + " dijo que no. Se cuenta." },
		WentAway:   func(ticket string) string { return "El turno " + ticket + " se fue. Se cuenta." },
		IsFinished: func(ticket string) string { return "El turno " + ticket + " ha terminado." },
		Today:      "hoy", Yesterday: "ayer", Fasting: "en ayunas", NotFasting: "no en ayunas", NotAsked: "Todavía no se ha preguntado por la última comida.",
		NotKnown: func(basis string) string { return "Última comida no conocida: cuenta como " + basis + "." },
		LastAte: func(at, day, ago, basis string) string {
			return fmt.Sprintf("Comió por última vez a las %s, %s, hace %s: cuenta como %s.", at, day, ago, basis)
		},
		OpenAlert:   "Abrir la alerta",
		MeterError:  func(code string) string { return "error del medidor " + code },
		ReadAt:      func(reading, at string) string { return reading + " a las " + at },
		PersonWaits: func(n int) string { return counted(n, "persona espera", "personas esperan") + " la prueba." },
		ChooseName:  "Elija un nombre",
	},
	Desk: deskWords{
		Title: "Recepción", NextTicket: "Próximo turno", Back: "Recepción",
		Steps:       map[string]string{stepConsent: "consentimiento", stepQuestions: "preguntas", stepAte: "última comida", stepContact: "contacto", stepAbout: "sobre la persona", stepDone: "terminado"},
		Titles:      map[string]string{stepConsent: "Consentimiento", stepQuestions: "Preguntas", stepAte: "Comida", stepContact: "Contacto", stepAbout: "Sobre usted", stepDone: "Terminado aquí"},
		Next:        func(step string) string { return "sigue: " + step },
		ConsentText: func(version string) string { return "Texto de consentimiento " + version },
		HowGiven:    "¿Cómo se dio a conocer?", Read: "Leído", ReadAloud: "Leído en voz alta", Interpreter: "Intérprete",
		Question:  func(n, of int) string { return fmt.Sprintf("Pregunta %d de %d", n, of) },
		SignsHelp: "Hay señales: pedir ayuda", NoneOfThese: "Ninguna de estas", GoOn: "Siguiente", Before: "La pregunta anterior", SaidSo: "Ya se lo dije: cerrar este turno", NotTested: "Hoy sin prueba",
		FastingBefore: func(at, day string, hours int) string {
			return fmt.Sprintf("A las %s (%s) o antes cuenta como en ayunas (%d horas).", at, day, hours)
		},
		TodayAt: "Hoy a las", YesterdayAt: "Ayer a las", ExactTime: "O la hora exacta", Day: "Día", Time: "Hora",
		Today: "Hoy", Yesterday: "Ayer", DayBefore: "Anteayer",
		SealAndGoOn: "Sellar y seguir", CountedAs: "Se cuenta como:", SaidNo: "Dijo que no. Se cuenta.", WentAway: "Se fue. Se cuenta.",
		WaitTest: func(ticket string) string { return "Turno " + ticket + ": espere un puesto de prueba." },
		GoneOn:   func(ticket string) string { return "El turno " + ticket + " ya pasó al puesto siguiente." },
		InLineNow: func(ticket string) string {
			return "El turno " + ticket + " ya espera la prueba. Nada depende de estas preguntas."
		},
		ChangeFood: "Cambiar la última comida", AskAbout: "Preguntas sobre la persona", BackToDesk: "Volver a recepción", NoTest: "No quiere la prueba", Away: "Se fue",
		SupervisorCalled: func(say string) string { return "Se llama a supervisión en todas las pantallas. Diga: " + say },
		SignsButNone:     "Hay señales marcadas, pero se pulsó Ninguna. Mire otra vez a la persona.", TickSigns: "Marque las señales que hay o pulse Ninguna.",
		AskCall: "Pregunte si podemos llamar sobre el resultado.", ChooseDay: "Elija el día.", TimeDamaged: "La hora llegó dañada. Púlsela otra vez.",
	},
	Explain: explainWords{
		Title: "Explicación",
		Waits: "Este turno espera su resultado.", HowToSay: "Cómo decirlo",
		SayThis:  "Diga lo que se vio y lo que sigue: «más alto que lo habitual», «un análisis de laboratorio lo puede aclarar».",
		LeaveOut: "Palabras que no se dicen: normal, diabético, usted tiene, reprobar. No adivine la causa ni hable de medicinas.",
		Which:    "Qué lectura:", AskBack: "Explicado: pídale que lo repita", AskItBack: "«Para saber si lo dije claro: ¿qué va a hacer usted ahora?»",
		OwnWords: "Lo dijo con sus palabras", Again: "Se explicó otra vez y lo dijo", NotAsked: "No se preguntó",
		NoPlace: "El plan de esta jornada no nombra ningún lugar.", NoPlaceHow: "La persona responsable agrega uno en el plan.", WhereTo: "¿A dónde?", Change: "Cambiar", WriteDown: "Anotarlo",
		NoCalls: "La persona no quiere llamadas.", MayCall: "La persona permitió una llamada sobre el resultado.",
		PrintIt: "Imprima la hoja, léanla juntos y entréguela.", PrintHalf: "Imprimir media carta", PrintA5: "Imprimir A5", PDFHalf: "PDF media carta", PDFA5: "PDF A5",
		ShownOnly: "Solo mostrada", HandedOver: "Hoja entregada", Done: "hecho", DoItNow: "Hacerlo ahora",
		Finish:        func(ticket string) string { return "Terminar el turno " + ticket },
		AwayBeforeEnd: "Se fue antes del final",
		Titles:        map[string]string{tellResult: "El resultado", tellBack: "Pida que lo repita", tellRefer: "Derivación", tellSlip: "La hoja", tellContact: "Contacto", tellFinish: "Terminar"},
		Steps:         map[string]string{tellResult: "Resultado", tellRefer: "Derivación", tellSlip: "Hoja", tellFinish: "Final"},
		Gates:         map[string]string{"care": "Atención", "explained": "Explicado", "referral": "Derivación", "slip": "Hoja"},
		NoteExplained: "Explicado.", NoteReferred: "La derivación está anotada.",
		NoteContact: "El contacto está sellado. Anote otra vez la derivación si se prometió una llamada.", NoteSlip: "La hoja fue entregada.",
		AskAgreed: "Pregunte si la persona va a ir allí.",
		Near: func(n nearText) string {
			from := fmt.Sprintf("%d controles con el medidor %s", n.Runs, n.Meter)
			if n.Runs == 0 {
				from = "el rango impreso de sus tiras, porque el medidor " + n.Meter + " tiene pocos controles propios"
			}
			side := "menos de " + n.Limit
			if !n.Above {
				side = n.Limit + " o más"
			}
			return fmt.Sprintf("Una lectura tan cerca del límite de %s %s puede estar de un lado o del otro. Unas %d de cada 100 lecturas así vienen de un valor verdadero de %s (dispersión de %s %%, según %s; antes de medir, cada valor se toma como igual de probable). Solo un análisis de laboratorio lo aclara.", n.Limit, n.Unit, n.Of100, side, n.CV, from)
		},
	},
	Care: careWords{
		Title: "Atención", None: "No hay atención abierta para este turno.", Unwell: "Se ve mal",
		Bands: map[string]string{"critical-low": "Bajo crítico", "low": "Bajo", "usual": "Habitual", "raised": "Elevado", "high": "Alto", "critical-high": "Alto crítico"},
		StillLow: func(times int) string {
			return fmt.Sprintf("Sigue bajo después de dar azúcar %d veces. Llame a emergencias.", times)
		},
		Gone: "La persona se fue", GoneText: "El turno termina. La atención sigue abierta hasta que se firme.", WhereTo: "A dónde",
		CloseTicket:     func(ticket string) string { return "Cerrar el turno " + ticket },
		EmergencyNumber: "Número de emergencias",
		Since:           func(at string) string { return "Desde las " + at + "." },
		SinceReadings:   func(at, readings string) string { return "Desde las " + at + ". Lecturas: " + readings + "." },
		Place:           func(venue, station string) string { return venue + ", puesto " + station },
		AllWritten:      "Todo está anotado. Firma supervisión.", Note: "Nota", SignEnd: "Firmar: la atención terminó",
		Now:  func(what string) string { return "Ahora: " + what },
		Then: func(what string) string { return "Después: " + what },
		Add:  func(what string) string { return "Agregar: " + what },
		Steps: map[string]string{
			"supervisor": "Supervisión con la persona", "signs": "Señales", "sugar": "Azúcar", "action": "Qué se hizo", "handover": "Entrega de la persona", "arrived": "Llegada",
			"repeat": "Repetición", "recheck": "Nueva lectura",
		},
		Choices: map[string]string{
			"given": "Se dio azúcar", "cannot-swallow": "No puede tragar: nada por la boca", "refused": "No lo quiere",
			"emergency-called": "Se llamó a emergencias", "same-day-care": "Va hoy a atención médica", "stays-here": "Se queda aquí en observación", "declined-care": "No quiere atención",
		},
		WithPerson: "Estoy con la persona", TakeReading: "Hacer la lectura",
		Screener: func(ticket string) string {
			return "Quien hace las pruebas abre el turno " + ticket + " en un puesto de prueba."
		},
		SignsThere: "Hay estas señales", NoneOfThese: "Ninguna de estas",
		SameDay:  func(place string) string { return "Atención el mismo día: " + place },
		WhatDone: "¿Qué se hizo?", WriteDown: "Anotarlo", WhereArrived: "Dónde y cuándo llegó, y quién lo dijo", ToWhom: "Con quién se fue la persona, y cómo",
		Sugar:     func(grams int) string { return fmt.Sprintf("%d g de azúcar rápida:", grams) },
		WhatGiven: "Qué se dio", Supervisor: "Supervisión", PIN: "PIN", DoneTable: "Lo que se hizo", At: "Hora", What: "Qué", By: "Quién",
		Signed:  func(who, at string) string { return fmt.Sprintf("Firmado por %s a las %s.", who, at) },
		NoSigns: "ninguna", Recheck: "Nueva lectura", RecheckNow: "Lea otra vez ahora.",
		Called:          "Se llama a supervisión en todas las pantallas. Quédese con la persona.",
		Written:         func(at string) string { return "Anotado a las " + at + "." },
		SupervisorSigns: "Todo está anotado: firma supervisión.",
		Alert: func(ticket, what, station string) string {
			if station == "" {
				return "Turno " + ticket + ": " + what + "."
			}
			return "Turno " + ticket + ": " + what + ", puesto " + station + "."
		},
		AlertUnwell: func(ticket, since, station string) string {
			if station == "" {
				return "Turno " + ticket + ": se ve mal desde las " + since + "."
			}
			return "Turno " + ticket + ": se ve mal desde las " + since + ", puesto " + station + "."
		},
	},
	Slip: slipWords{Print: "Imprimir", BackToExplain: "Volver a Explicación", Title: func(ticket string) string { return "Hoja del turno " + ticket }},
}
