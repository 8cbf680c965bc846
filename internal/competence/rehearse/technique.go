package rehearse

import (
	"fairstick/internal/competence/cards"
	"fairstick/internal/glucose"
	"fairstick/internal/protocol"
)

// technique are the situations at the finger.
var technique = []Maker{
	{Key: "wet-alcohol", Group: Technique, From: cards.Screener, Name: text("Wet alcohol", "Alcohol mojado"), make: makeWetAlcohol},
	{Key: "fruit", Group: Technique, From: cards.Screener, Name: text("Fruit on the fingers", "Fruta en los dedos"), make: makeFruit},
	{Key: "rounding", Group: Technique, From: cards.Screener, Name: text("A colleague who rounds", "Un colega que redondea"), make: makeRounding},
}

// pressure are the situations of a full hall.
var pressure = []Maker{
	{Key: "queue", Group: Pressure, From: cards.Screener, Name: text("A queue", "Una fila"), make: makeQueue},
	{Key: "queue-desk", Group: Pressure, From: cards.Desk, Name: text("A queue at the desk", "Una fila en la mesa"), make: makeQueueDesk},
}

func makeWetAlcohol(m *maker) error {
	hurry := []protocol.Text{
		text("A young man has to catch his bus.", "Un joven tiene que tomar su autobús."), text("A mother has a crying child on her arm.", "Una madre tiene en brazos a un niño que llora."),
		text("An old man says that he hates needles: “Quick now.”", "Un anciano dice que odia las agujas: «Rápido.»"),
	}[m.r.IntN(3)]
	m.out.Scene = join(hurry, text("You have just disinfected the fingertip. It still shines wet.", "Acaba de desinfectar la yema. Todavía brilla mojada."))
	m.decide(Decision{
		Key: "dry", Step: "skin-dry", Source: "who-2010",
		Ask: text("What do you do?", "¿Qué hace?"),
		Choices: []Choice{
			right("wait", "Wait until it is dry in the air.", "Espera a que seque al aire."),
			wrong("prick", cards.Validity, "Prick now. The first drop washes the alcohol off.", "Pincha ya. La primera gota se lleva el alcohol."),
			wrong("blow", cards.Validity, "Blow on it so that it dries faster.", "Sopla para que seque más rápido."),
			wrong("wipe", cards.Validity, "Wipe it dry with the swab that you have in hand.", "La seca con la toallita que tiene en la mano."),
		},
		Why: text("Wet alcohol thins the drop, so the number is wrong, and it stings. Blowing and wiping bring germs back.",
			"El alcohol mojado diluye la gota, así que el número es falso, y arde. Soplar o secar vuelve a llevar gérmenes."),
	})
	return nil
}

func makeFruit(m *maker) error {
	edge, ok := m.p.Repeat.HighFrom[m.unit]
	if !ok {
		return errElsewhere
	}
	first, second := steps(edge, 8+m.r.IntN(60)), m.at(88+m.r.IntN(40))
	fruit := []protocol.Text{text("an orange", "una naranja"), text("a mango", "un mango"), text("grapes", "uvas"), text("a slice of melon", "una rebanada de melón")}[m.r.IntN(4)]
	c, err := m.p.Conclude([]protocol.Taken{
		{ID: "first", Reading: glucose.Number(first), Purpose: protocol.PurposeFirst},
		{ID: "second", Reading: glucose.Number(second), Purpose: protocol.PurposeRepeat, Washed: true},
	}, 2, protocol.Random, false)
	if err != nil {
		return err
	}
	m.out.Scene = filled(text("A student ate %s in the line. There is a sink behind the tables. She holds out her hand.", "Una estudiante comió %s en la fila. Hay un lavabo detrás de las mesas. Ella extiende la mano."), fruit)
	m.decide(Decision{
		Key: "before", Step: "hands-washed", Source: "hirose-2011",
		Ask: text("How do you make the finger ready?", "¿Cómo prepara el dedo?"),
		Choices: []Choice{
			right("soap", "She washes with soap and dries her hands.", "Ella se lava con jabón y se seca las manos."),
			wrong("alcohol", cards.Validity, "Clean it twice with alcohol and take the first drop.", "La limpia dos veces con alcohol y toma la primera gota."),
			wrong("paper", cards.Validity, "Rub it well with a dry paper and take the first drop.", "La frota bien con un papel seco y toma la primera gota."),
			wrong("other", cards.Validity, "Take a finger of the hand that did not hold the fruit.", "Toma un dedo de la mano que no sostuvo la fruta."),
		},
		Why: text("Fruit sugar stays on the skin after alcohol and makes a false high. Washing takes it off.", "El azúcar de la fruta queda en la piel después del alcohol y da un valor alto falso. Lavar la quita."),
	})
	d := Decision{
		Key: "counts", Step: "repeat-rule", Source: "hirose-2011",
		Ask: textf("At the next table nobody asked. There the meter showed %s. After soap and water a new finger shows %s. What counts?",
			"En la mesa de al lado nadie preguntó. Allí el medidor mostró %s. Con agua y jabón otro dedo muestra %s. ¿Qué cuenta?", first, second),
		Choices: []Choice{
			wrong("first", cards.Validity, "The first one, since it is more urgent and a repeat cannot undo it.", "El primero, porque es más urgente y una repetición no lo borra."),
			wrong("second", cards.Validity, "The second one; both stay written, with the reason.", "El segundo; los dos quedan anotados, con el motivo."),
			wrong("mean", cards.Validity, "The middle of the two.", "El punto medio de los dos."),
			wrong("erase", cards.Validity, "The second one; the first is taken out.", "El segundo; el primero se borra."),
		},
		Why: textf("From %s on, a first value is repeated on washed hands. Both stay in the record, so that anybody can see why.", "Desde %s, un primer valor se repite con las manos lavadas. Los dos quedan en el registro, para que se vea por qué.", edge),
	}
	for i := range d.Choices {
		if d.Choices[i].Key == c.Counts {
			d.Choices[i].Right, d.Choices[i].Harm = true, cards.Neither
		}
	}
	m.decide(d)
	return nil
}

func makeRounding(m *maker) error {
	lim, ok := m.p.Limits[protocol.Random][m.unit]
	if !ok {
		return errElsewhere
	}
	edge := []glucose.Value{lim.RaisedFrom, lim.HighFrom}[m.r.IntN(2)]
	shown := steps(edge, -1-m.r.IntN(4))
	round := shown
	round.Steps = (shown.Steps + 5) / 10 * 10
	if round == shown {
		shown = steps(shown, -1)
	}
	was, err := m.p.Find(glucose.Number(shown), protocol.Random)
	if err != nil {
		return err
	}
	would, err := m.p.Find(glucose.Number(round), protocol.Random)
	if err != nil {
		return err
	}
	m.out.Setting = Setting{Shown: shown.Number(), Rounded: round.Number()}
	m.out.Scene = textf("Your person at station 1 ate two hours ago and has washed hands. Meter M1 shows %s. A colleague looks over: “Write %s, that is easier to read.”",
		"Su persona en la estación 1 comió hace dos horas y tiene las manos lavadas. El medidor M1 muestra %s. Un colega mira: «Pon %s, se lee mejor.»", shown, round.Number())
	why := textf("The screen said %s.", "La pantalla decía %s.", shown)
	if was.Band != would.Band {
		why = join(why, filled(text("By the protocol that is “%s”; %s would be “%s”: other words and another way.", "Según el protocolo eso es «%s»; %s sería «%s»: otras palabras y otro camino."),
			was.Word, textf("%s", "%s", round), would.Word))
	}
	m.decide(Decision{
		Key: "record", At: Reading, Step: "read-exactly", Source: "mays-2019",
		Ask:     text("Record the reading on the page.", "Registre el valor en la página."),
		Choices: written(wrong(Rounded, cards.Validity, "The round number was written.", "Se anotó el número redondeado.")),
		Why:     join(why, text("Never round: one digit can move a person to another advice.", "Nunca redondee: un dígito puede cambiar el consejo.")),
	})
	return nil
}

func makeQueue(m *maker) error {
	wait, left := 9+m.r.IntN(15), []string{"1:40", "1:20", "1:10"}[m.r.IntN(3)]
	m.out.Scene = textf("%d people wait. You have just wiped M1; the timer says %s left. A colleague calls: “Dry it off and take the next one!”",
		"Esperan %d personas. Acaba de limpiar M1; el reloj dice que faltan %s. Un colega grita: «¡Sécalo y que pase otro!»", wait, left)
	m.decide(Decision{
		Key: "wet", Step: "meter-disinfect", Source: "thompson-2009",
		Ask: text("What do you do?", "¿Qué hace?"),
		Choices: []Choice{
			right("wait", "Keep it wet until the time is over.", "Lo deja mojado hasta el final."),
			wrong("dry", cards.Safety, "Dry it with gauze and go on. It was wet for a while.", "Lo seca con gasa y sigue. Ya estuvo un rato mojado.").trying(TryWet),
			wrong("no-blood", cards.Safety, "Go on at once if no blood can be seen on it.", "Sigue enseguida si no se ve sangre.").trying(TryWet),
			wrong("every-third", cards.Safety, "Wipe after every third person while the line is long.", "Limpia después de cada tercera persona mientras haya fila."),
		},
		Why: text("The label's time is what kills the virus, and blood that nobody sees carries it. Hepatitis B went from meter to person in many outbreaks.",
			"El tiempo de la etiqueta es lo que mata al virus, y la sangre que nadie ve lo lleva. La hepatitis B pasó del medidor a personas en muchos brotes."),
	})
	return nil
}

func makeQueueDesk(m *maker) error {
	wait := 11 + m.r.IntN(12)
	m.out.Scene = textf("%d people stand at the desk. The screeners have nobody. A colleague says: “Skip the questions, they all look well. We ask them at the table.”",
		"Hay %d personas en la mesa. En las pruebas no hay nadie. Un colega dice: «Salta las preguntas, todos se ven bien. Preguntamos en la estación.»", wait)
	m.decide(Decision{
		Key: "questions", Step: "eligible", Source: "west-2010",
		Ask: text("What do you do?", "¿Qué hace?"),
		Choices: []Choice{
			right("all", "Ask everybody every question, and call for help.", "Hace todas las preguntas a cada persona y pide ayuda."),
			wrong("skip", cards.Safety, "Let them through; the screener can ask before the stick.", "Los deja pasar; en la prueba se pregunta antes del pinchazo."),
			wrong("old", cards.Safety, "Ask only those who look old or ill.", "Pregunta solo a quienes se ven mayores o enfermos."),
			wrong("group", cards.Safety, "Read the questions aloud to the whole line at once.", "Lee las preguntas en voz alta a toda la fila."),
		},
		Why: text("Who must not be tested does not look so. Without the questions and the last meal a number means nothing. Answers are not for the whole line to hear.",
			"A quien no se debe medir no se le nota. Sin las preguntas y la última comida un número no significa nada. La fila no debe oír las respuestas."),
	})
	return nil
}
