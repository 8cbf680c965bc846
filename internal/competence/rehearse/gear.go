package rehearse

import (
	"fairstick/internal/competence/cards"
	"fairstick/internal/control"
	"fairstick/internal/glucose"
)

// gear are the situations of meters, vials and controls.
var gear = []Maker{
	{Key: "control-out", Group: Gear, From: cards.Screener, Name: text("A control just out of range", "Un control apenas fuera de rango"), make: makeControlOut},
	{Key: "old-vial", Group: Gear, From: cards.Screener, Name: text("A vial open too long", "Un frasco abierto hace demasiado"), make: makeOldVial},
	{Key: "code-differs", Group: Gear, From: cards.Screener, Name: text("A code that differs", "Un código que no coincide"), make: makeCodeDiffers},
}

func makeControlOut(m *maker) error {
	levels := m.p.Controls.Levels
	if len(levels) < 2 {
		return errElsewhere
	}
	level, base := levels[len(levels)-1], 245+m.r.IntN(20)
	low, high := m.at(base), m.at(base+78+m.r.IntN(12))
	by := 1 + m.r.IntN(2)
	shown := steps(high, by)
	side := text("above", "sobre")
	if m.r.IntN(2) == 0 {
		shown, side = steps(low, -by), text("below", "bajo")
	}
	verdict, err := control.Judge(glucose.Number(shown), low, high)
	if err != nil {
		return err
	}
	if verdict != control.OutOfRange {
		return errElsewhere
	}
	gap := low
	gap.Steps = by
	off := textf("%s", "%s", gap.Number())
	m.out.Setting = Setting{Shown: shown.Number(), Low: low, High: high, Level: level}
	m.out.Scene = textf("The doors open soon. You run control level %s on meter M2. The vial says %s to %s for it. The meter shows %s.",
		"Las puertas abren pronto. Usted prueba el control nivel %s en el medidor M2. El frasco dice de %s a %s. El medidor muestra %s.", level, low.Number(), high, shown)
	m.decide(Decision{
		Key: "record", At: Control, Step: "controls-run", Source: "control-practice",
		Ask:     textf("Record this control run of M2 on the page: %s.", "Registre esta prueba de control de M2 en la página: %s.", shown.Number()),
		Choices: written(),
		Why: textf("%s is %s outside of %s to %s. Both ends belong to the range, nothing else does. A miss that is not written looks like a meter that works.",
			"%s está %s fuera de %s a %s. Los dos extremos son parte del rango; lo demás no. Un fallo sin anotar parece un medidor que funciona.", shown, gap.Number(), low.Number(), high.Number()),
	})
	m.decide(Decision{
		Key: "next", Step: "control-missed", Source: "cdc-waived",
		Ask: filled(text("A colleague says: “Just %s %s the range. People are waiting.” What do you do with M2?", "Un colega dice: «Solo %s %s el rango. La gente espera.» ¿Qué hace con M2?"),
			off, side),
		Choices: []Choice{
			right("cause", "Test nobody with it. Look for the cause and write it down.", "No prueba a nadie con él. Busca la causa y la anota."),
			wrong("test", cards.Validity, "Test with it. So small a difference changes nothing.", "Prueba con él. Una diferencia tan pequeña no cambia nada.").trying(TryMeter),
			wrong("until-pass", cards.Validity, "Run it again until it passes, and go on with the run that did.", "Repite hasta que pase y sigue con la prueba que pasó."),
			wrong("mild", cards.Validity, "Use it for people who look well, and M1 for the others.", "Lo usa con quienes se ven bien, y M1 con los demás.").trying(TryMeter),
		},
		Why: text("Out of range: nobody is tested. Find the cause first. A pass after a miss without a cause is luck, and the next person pays for it.",
			"Fuera de rango: no se prueba a nadie. Primero la causa. Pasar después de un fallo sin causa es suerte, y la paga la siguiente persona."),
	})
	return nil
}

func makeOldVial(m *maker) error {
	inUse, over := []int{30, 60, 90, 120}[m.r.IntN(4)], 1+m.r.IntN(6)
	m.out.Setting = Setting{InUse: inUse, Opened: inUse + over}
	m.out.Scene = textf("On the table lies vial R-1. Somebody wrote on it: opened %d days ago. The instructions say: use it within %d days of opening. The printed expiry is next year.",
		"En la mesa está el frasco R-1. Alguien anotó: abierto hace %d días. Las instrucciones dicen: usar dentro de %d días de abierto. La caducidad impresa es el año que viene.", inUse+over, inUse)
	m.decide(Decision{
		Key: "vial", Step: "strips-checked", Source: "choi-2021",
		Ask: text("It is the only open vial here. The first person sits down. What do you do?", "Es el único frasco abierto aquí. La primera persona se sienta. ¿Qué hace?"),
		Choices: []Choice{
			right("new", "Open a new vial and write today's date on it.", "Abre un frasco nuevo y le anota la fecha de hoy."),
			wrong("expiry", cards.Validity, "Use it. What counts is the expiry that is printed.", "Lo usa. Lo que cuenta es la caducidad impresa.").trying(TryVial),
			wrong("today", cards.Validity, "Use it this one day and throw it away tonight.", "Lo usa solo este día y lo tira por la noche.").trying(TryVial),
			wrong("control", cards.Validity, "Run a control with it, and use it if that is in range.", "Le hace un control y lo usa si sale en rango.").trying(TryVial),
		},
		Why: textf("Air and damp spoil strips from the day of opening. Day %d after opening is past the %d days of the instructions. A control does not make them longer.",
			"El aire y la humedad estropean las tiras desde que se abren. El día %d pasa de los %d días de las instrucciones. Un control no los alarga.", inUse+over, inUse),
	})
	return nil
}

func makeCodeDiffers(m *maker) error {
	code := 11 + m.r.IntN(39)
	other := code + 1 + m.r.IntN(40)
	m.out.Setting = Setting{VialCode: number(code), Shown: number(other)}
	m.out.Scene = textf("You take meter M3 from the box. The vial of strips says code %d. The screen of M3 shows code %d.",
		"Saca el medidor M3 de la caja. El frasco de tiras dice código %d. La pantalla de M3 muestra código %d.", code, other)
	m.decide(Decision{
		Key: "record", At: Code, Step: "strips-checked", Source: "raine-2007",
		Ask:     text("Write down on the page which code M3 shows.", "Anote en la página qué código muestra M3."),
		Choices: written(),
		Why: textf("The record says what the screen shows: %d. A code that is copied from the vial hides the mistake that the look was meant to find.",
			"El registro dice lo que muestra la pantalla: %d. Un código copiado del frasco esconde el error que se buscaba.", other),
	})
	m.decide(Decision{
		Key: "next", Step: "strips-checked", Source: "raine-2007",
		Ask: text("What do you do with M3 now?", "¿Qué hace ahora con M3?"),
		Choices: []Choice{
			right("set", "Set it to the code of the vial, look again, then controls.", "Lo ajusta al código del frasco, mira otra vez y hace controles."),
			wrong("test", cards.Validity, "Test with it. The control was good last week.", "Prueba con él. El control salió bien la semana pasada.").trying(TryMeter),
			wrong("other", cards.Validity, "Leave it and take strips of another code that comes close.", "Lo deja así y toma tiras de otro código parecido."),
			wrong("later", cards.Validity, "Test now, and correct the readings by the difference later.", "Prueba ahora y después corrige los valores por la diferencia.").trying(TryMeter),
		},
		Why: text("With a wrong code readings were off by up to a third, both ways, and the meter gave no warning. Nobody can put that right afterwards.",
			"Con un código equivocado los valores se desviaron hasta un tercio, en ambos sentidos, y el medidor no avisó. Nadie puede corregirlo después."),
	})
	return nil
}
