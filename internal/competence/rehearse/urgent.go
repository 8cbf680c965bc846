package rehearse

import (
	"fmt"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"fairstick/internal/competence/cards"
	"fairstick/internal/glucose"
	"fairstick/internal/protocol"
)

// urgent are the situations in which somebody is in danger.
var urgent = []Maker{
	{Key: "hi", Group: Urgent, From: cards.Screener, Name: text("The meter shows HI", "El medidor muestra HI"), make: makeHI},
	{Key: "low", Group: Urgent, From: cards.Counsellor, Name: text("A low reading", "Un valor bajo"), make: makeLow},
	{Key: "faint", Group: Urgent, From: cards.Desk, Name: text("A faint", "Un desmayo"), make: makeFaint},
	{Key: "stick-injury", Group: Urgent, From: cards.Screener, Name: text("A needlestick", "Un pinchazo accidental"), make: makeStickInjury},
}

func makeHI(m *maker) error {
	f, err := m.p.Find(glucose.HI(m.unit), protocol.Random)
	if err != nil {
		return err
	}
	if !f.Critical {
		return errElsewhere
	}
	m.out.Setting = Setting{Shown: "HI"}
	age := 29 + m.r.IntN(40)
	m.out.Scene = textf("Your person at station 1 is %d, drank water all morning, and has washed hands. Meter M1 shows HI.",
		"Su persona en la estación 1 tiene %d años, bebió agua toda la mañana y tiene las manos lavadas. El medidor M1 muestra HI.", age)
	m.decide(Decision{
		Key: "record", At: Reading, Step: "read-exactly", Source: "protocol",
		Ask: text("Record what the meter shows on the page.", "Registre en la página lo que muestra el medidor."),
		Choices: []Choice{
			right(AsShown, "HI was written.", "Se anotó HI."),
			wrong(Bent, cards.Safety, "Something else was written in its place.", "Se anotó otra cosa en su lugar."),
			wrong(NotDone, cards.Safety, "Nothing was written, so nobody was called.", "No se anotó nada, así que nadie fue llamado."),
		},
		Why: text("HI is a result: above what the meter can measure. It is no error, and no number may stand in for it.", "HI es un resultado: por encima de lo que mide el medidor. No es un error, y ningún número lo reemplaza."),
	})
	m.decide(Decision{
		Key: "next", Step: "critical-path", Source: "umpierrez-2024",
		Ask: text("What comes next?", "¿Qué sigue?"),
		Choices: []Choice{
			right("stay", "Stay with the person, call the supervisor now, ask for signs.", "Se queda con la persona, llama ya al supervisor y pregunta por síntomas."),
			wrong("line", cards.Safety, "Send the person to the line for Explain with a note.", "Manda a la persona a la fila de Explicar con una nota."),
			wrong("water", cards.Safety, "Let the person drink water and come back in an hour.", "Le da agua y que vuelva en una hora."),
			wrong("again", cards.Safety, "Take one finger after the other until the meter shows a number at last.", "Pincha un dedo tras otro hasta que el medidor muestre por fin un número."),
		},
		Why: join(text("The protocol says:", "El protocolo dice:"), f.Sentence, text("Minutes count, and signs count more than the number.", "Los minutos cuentan, y los síntomas cuentan más que el número.")),
	})
	return nil
}

func makeLow(m *maker) error {
	lim, ok := m.p.Limits[protocol.Random][m.unit]
	if !ok || m.p.LowCare.SugarGrams < 1 || m.p.LowCare.RecheckMinutes < 1 || m.p.LowCare.Never.IsZero() {
		return errElsewhere
	}
	v := steps(lim.LowBelow, -1-m.r.IntN(5))
	f, err := m.p.Find(glucose.Number(v), protocol.Random)
	if err != nil {
		return err
	}
	if f.Band != protocol.Low && f.Band != protocol.CriticalLow {
		return errElsewhere
	}
	g, n := m.p.LowCare.SugarGrams, m.p.LowCare.RecheckMinutes
	sugar := Choice{Key: "sugar", Harm: cards.Safety, Text: textf("Give %d g of fast sugar now, stay, and test again after %d minutes.", "Da ya %d g de azúcar rápida, se queda y mide otra vez a los %d minutos.", g, n)}
	nothing := wrong("nothing", cards.Safety, "Give nothing by mouth, call the emergency number, lay the person on the side.", "No da nada por la boca, llama al número de emergencia y pone a la persona de lado.")
	swallow := m.r.IntN(2) == 0
	why := textf("A person who can swallow gets %d g of fast sugar and a second test after %d minutes.", "Quien puede tragar recibe %d g de azúcar rápida y otra prueba a los %d minutos.", g, n)
	if swallow {
		m.out.Scene = textf("A reading was %s. The person shakes and sweats, is awake, and answers you clearly.", "Un valor fue %s. La persona tiembla y suda, está despierta y le contesta con claridad.", v)
		sugar.Right, sugar.Harm = true, cards.Neither
	} else {
		m.out.Scene = textf("A reading was %s. The person is drowsy, mumbles, and water runs out of the mouth.", "Un valor fue %s. La persona está adormilada, balbucea, y el agua se le sale de la boca.", v)
		nothing.Right, nothing.Harm = true, cards.Neither
		why = m.p.LowCare.Never
	}
	m.decide(Decision{
		Key: "care", Step: "low-care", Source: "ada-low", Ask: text("What do you do first?", "¿Qué hace primero?"),
		Choices: []Choice{
			sugar, nothing,
			wrong("home", cards.Safety, "Advise a good meal at home soon, fill in the slip, and let the person go with a friend.", "Aconseja una buena comida en casa, llena la hoja y deja ir a la persona con un amigo."),
			wrong("again", cards.Safety, fmt.Sprintf("Wait %d minutes and see whether it comes up by itself.", n), fmt.Sprintf("Espera %d minutos a ver si sube solo.", n)),
		},
		Why: join(why, text("A low sugar gets worse within minutes.", "El azúcar baja empeora en minutos.")),
	})
	return nil
}

func makeFaint(m *maker) error {
	where := []protocol.Text{
		text("After the stick a tall student goes grey", "Después del pinchazo una estudiante alta se pone gris"), text("In the line a man sees blood, sways", "En la fila un hombre ve sangre, se tambalea"),
		text("At the desk a woman who has not eaten goes white", "En la mesa una mujer que no ha comido se pone blanca"),
	}[m.r.IntN(3)]
	m.out.Scene = filled(text("%s and slides from the chair into your arms.", "%s y se le desliza de la silla a los brazos."), where)
	m.decide(Decision{
		Key: "first", Step: "stop-bleeding", Source: "protocol", Ask: text("What do you do?", "¿Qué hace?"),
		Choices: []Choice{
			right("lay", "Lay the person down with the legs up, and stay.", "Acuesta a la persona con las piernas en alto y se queda."),
			wrong("sit", cards.Safety, "Set the person up on the chair again and hold the head.", "Vuelve a sentar a la persona y le sostiene la cabeza."),
			wrong("fetch", cards.Safety, "Run for the supervisor and for something sweet to drink.", "Corre por el supervisor y por algo dulce de beber."),
			wrong("air", cards.Safety, "Walk the person to the door for fresh air.", "Lleva a la persona caminando a la puerta para que tome aire."),
		},
		Why: text("Flat, the blood comes back to the head by itself. Upright the person falls again, and drink goes down the wrong way. Common practice in first aid.",
			"Acostada, la sangre vuelve sola a la cabeza. De pie vuelve a caer, y la bebida se va por otro lado. Práctica común de primeros auxilios."),
	})
	m.decide(incidentOf("report", "stop-bleeding", cards.Neither, text("The person is well again. Record on the page what happened.", "La persona ya está bien. Registre en la página lo que pasó.")))
	return nil
}

func makeStickInjury(m *maker) error {
	how := []protocol.Text{
		text("You reach for the gauze, and a used lancet on the table pricks your thumb", "Al tomar la gasa, una lanceta usada en la mesa le pincha el pulgar"),
		text("A lancet misses the container and pricks your palm", "Una lanceta no entra en el contenedor y le pincha la palma"),
		text("While you clear the table a lancet goes through your glove", "Al recoger la mesa una lanceta le atraviesa el guante"),
	}[m.r.IntN(3)]
	m.out.Scene = filled(text("%s. It bleeds a little. Your person is still sitting there.", "%s. Sangra un poco. Su persona sigue sentada."), how)
	m.decide(Decision{
		Key: "first", Step: "exposure", Source: "usphs", Ask: text("What do you do first?", "¿Qué hace primero?"),
		Choices: []Choice{
			right("wash", "Stop, wash with soap, and tell the supervisor.", "Se detiene, se lava con jabón y avisa al supervisor."),
			wrong("squeeze", cards.Safety, "Squeeze the wound hard and put alcohol on it.", "Aprieta fuerte la herida y le pone alcohol."),
			wrong("finish", cards.Safety, "Put on a new glove, finish this person, then tell somebody.", "Se pone otro guante, termina con la persona y después avisa."),
			wrong("tonight", cards.Safety, "Put on a plaster and write it down in the evening.", "Se pone una curita y lo anota por la noche."),
		},
		Why: text("Wash, do not squeeze, tell at once. What can prevent an infection works within hours.", "Lave, no apriete, avise enseguida. Lo que puede evitar una infección actúa en horas."),
	})
	m.decide(incidentOf("report", "exposure", cards.Safety, text("Record on the page what happened.", "Registre en la página lo que pasó.")))
	return nil
}

// incidentOf is the decision to write down what happened, as what it was.
func incidentOf(key, step string, undone cards.Harm, ask protocol.Text) Decision {
	return Decision{
		Key: key, At: Incident, Step: step, Source: "protocol", Ask: ask,
		Choices: []Choice{
			right(AsShown, "It was recorded as what it was.", "Se registró como lo que fue."),
			wrong(Bent, cards.Neither, "It was recorded as something else.", "Se registró como otra cosa."),
			wrong(NotDone, undone, "It was not recorded.", "No se registró."),
		},
		Why: text("What is not written cannot be followed up, and nobody learns from it. The page also says what to do next, and whom to call.",
			"Lo que no se anota no se puede seguir, y nadie aprende de ello. La página también dice qué hacer y a quién llamar."),
	}
}

func number(n int) string { return strconv.Itoa(n) }

// filled puts texts in the place of each %s, language by language.
func filled(format protocol.Text, parts ...protocol.Text) protocol.Text {
	out := protocol.Text{}
	for _, lang := range []string{"en", "es"} {
		values := make([]any, len(parts))
		for i, p := range parts {
			values[i] = p.In(lang)
		}
		out[lang] = fmt.Sprintf(format[lang], values...)
	}
	return out
}

// lower writes a text of the protocol as part of a sentence, without its full stop.
func lower(t protocol.Text) protocol.Text {
	out := protocol.Text{}
	for _, lang := range []string{"en", "es"} {
		s := strings.TrimSuffix(t.In(lang), ".")
		first, size := utf8.DecodeRuneInString(s)
		if size > 0 {
			s = string(unicode.ToLower(first)) + s[size:]
		}
		out[lang] = s
	}
	return out
}
