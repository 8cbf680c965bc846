package web

import (
	"regexp"
	"strings"

	"fairstick/internal/fault"
)

// phrase is a sentence of the programme in English and in Spanish; {1} to {3} are what stands in it and is kept.
type phrase struct{ en, es string }

// phrases are what the programme says to somebody at the desk, at Explain, beside a person who needs care or when signing
// in. The programme speaks English; its sentences are known here by their words, so that one that changes is said in
// English again, and a test over the source finds it.
var phrases = []phrase{
	// learning
	{"The quiz was not passed {1} times.", "El examen no se aprobó {1} veces."},
	{"One more try without teaching only trains guessing.", "Un intento más sin enseñanza solo entrena a adivinar."},
	{"Ask a teacher to go through it with you and to record that.", "Pida a un docente que lo repase con usted y lo registre."},
	{"The protocol asks for no quiz at this level.", "El protocolo no pide examen en este nivel."},
	{"Ask the lead what comes next.", "Pregunte a la persona responsable qué sigue."},
	{"This is not the quiz that is open now.", "Este no es el examen que está abierto ahora."},
	{"It was handed in already, or the protocol has changed since it was drawn.", "Ya se entregó, o el protocolo cambió desde que se sorteó."},
	{"Open the quiz again.", "Abra otra vez el examen."},
	{"There is no such question in this quiz.", "Esa pregunta no existe en este examen."},
	{"Go back to the quiz.", "Vuelva al examen."},

	// practising
	{"This practice day has ended.", "Este día de práctica terminó."},
	{
		"It was finished, was not used for a while, or the laptop was started again. Nothing of it was recorded as real.",
		"Se entregó, no se usó por un tiempo o la laptop se reinició. Nada de él se registró como real.",
	},
	{"Begin a new one under Learn.", "Empiece uno nuevo en Aprender."},
	{"Too many people practise on this laptop now.", "Ahora practican demasiadas personas en esta laptop."},
	{"Each practice day has a record of its own.", "Cada día de práctica tiene su propio registro."},
	{"Try again in a few minutes.", "Intente otra vez en unos minutos."},
	{"There is no such set of situations.", "Ese grupo de situaciones no existe."},
	{"A teacher may have taken it off the list.", "Puede que un docente lo haya quitado de la lista."},
	{"Choose another one.", "Elija otro."},
	{"There is nothing to practise at this level.", "No hay nada que practicar en este nivel."},
	{"The protocol bears out none of the situations.", "El protocolo no respalda ninguna de las situaciones."},
	{"This practice day can no longer be recorded.", "Este día de práctica ya no se puede registrar."},
	{
		"It was finished already, or the protocol or the teacher's set has changed since it began.",
		"Ya se entregó, o el protocolo o el grupo del docente cambió desde que empezó.",
	},
	{"Begin a new one.", "Empiece uno nuevo."},
	{"The practice day is not over yet.", "El día de práctica todavía no termina."},
	{"Decisions are still open.", "Todavía faltan decisiones."},
	{"Go on with the scene.", "Siga con la escena."},
	{"There are no practice days on this laptop.", "En esta laptop no hay días de práctica."},
	{"The program was started without a place for them.", "El programa se inició sin un lugar para ellos."},

	// the visit
	{"Ticket {1} has ended.", "El turno {1} ha terminado."},
	{"Look the ticket up on the board.", "Busque el turno en el tablero."},
	{"Ticket {1} is at station {2}.", "El turno {1} está en el puesto {2}."},
	{"Two stations must not work on one person.", "Dos puestos no deben atender a la misma persona."},
	{"Take the next ticket. If nobody there has the person, put the ticket back in the line.", "Tome el próximo turno. Si nadie allí tiene a la persona, devuelva el turno a la fila."},
	{"If that is wrong, put the ticket back in the line there.", "Si no es así, devuelva el turno a la fila en ese puesto."},
	{"There is no such ticket at this event.", "Ese turno no existe en esta jornada."},
	{"The address may have been typed or linked wrongly.", "Puede que la dirección esté mal escrita."},
	{"Go back to the list and choose the ticket there.", "Vuelva a la lista y elija el turno allí."},
	{"Ticket {1} has not consented.", "El turno {1} no ha dado su consentimiento."},
	{"Nobody is asked about their health without a yes.", "A nadie se le pregunta por su salud sin un sí."},
	{"Read the consent text first.", "Lea primero el texto de consentimiento."},
	{"Ticket {1} has been tested already.", "El turno {1} ya tiene su prueba."},
	{"The count must show a test.", "La cuenta debe mostrar una prueba."},
	{"Record that the participant left instead.", "Anote en su lugar que la persona se fue."},
	{"The answers stand as they were at the test.", "Las respuestas quedan como estaban en la prueba."},
	{"The last meal stands as it was at the test.", "La última comida queda como estaba en la prueba."},
	{"A mistake is put right by a correction.", "Un error se arregla con una corrección."},

	// the doors
	{"The event is not open yet.", "La jornada todavía no está abierta."},
	{"Nobody is let in before the opening checks and controls are done.", "Nadie entra antes de las revisiones y los controles de apertura."},
	{"A lead or supervisor opens it on the page Open.", "La persona responsable o de supervisión la abre en la página Apertura."},
	{"The doors are closed.", "Las puertas están cerradas."},
	{"Those who are inside are finished; nobody new is let in.", "Se termina con quienes están dentro; no entra nadie más."},
	{"Tell the person when the next event is, or let the lead open the doors again.", "Diga a la persona cuándo es la próxima jornada, o pida a la persona responsable que abra otra vez."},
	{"This event is closed.", "Esta jornada está cerrada."},
	{"Its record is signed and stays as it is.", "Su registro está firmado y queda como está."},
	{"Choose the running event on the start page.", "Elija la jornada actual en el inicio."},
	{"Choose another event.", "Elija otra jornada."},

	// the desk
	{"The consent text has changed since this page was loaded.", "El texto de consentimiento cambió después de abrir esta página."},
	{"A yes counts only for the text that was read.", "Un sí vale solo para el texto que se leyó."},
	{"Load the page again and read the new text.", "Abra otra vez la página y lea el texto nuevo."},
	{"How the text was given was not chosen.", "Falta elegir cómo se dio a conocer el texto."},
	{"The language was not chosen.", "Falta elegir el idioma."},
	{"What was declined was not chosen.", "Falta elegir qué no quiso la persona."},
	{"Type when the participant last ate or drank something with sugar, or choose Not known.", "Escriba cuándo comió la persona por última vez o bebió algo con azúcar, o elija que no se sabe."},
	{"The last meal at {1} has not happened yet. Was it yesterday?", "La última comida a las {1} todavía no ha pasado. ¿Fue ayer?"},
	{"The last meal is more than three days ago. Check the day, or choose Not known.", "La última comida fue hace más de tres días. Revise el día, o elija que no se sabe."},
	{"The name is missing.", "Falta el nombre."},
	{"The name is longer than {1} characters. Shorten it.", "El nombre tiene más de {1} letras. Acórtelo."},
	{"The best time is longer than {1} characters. Shorten it.", "La mejor hora tiene más de {1} letras. Acórtela."},
	{"The reason is longer than {1} characters. Shorten it.", "El motivo tiene más de {1} letras. Acórtelo."},
	{"The telephone number is missing.", "Falta el número de teléfono."},
	{"This still needs an answer.", "Falta una respuesta."},
	{"Not every question has an answer that can be used.", "No todas las preguntas tienen una respuesta que sirva."},
	{"Nobody is tested before it is known that they may be.", "Nadie se hace la prueba antes de saber que puede."},
	{"Ask again where a message stands.", "Pregunte otra vez donde hay un mensaje."},
	{"Answer yes or no.", "Responda sí o no."},
	{"Give the age in whole years.", "Escriba la edad en años enteros."},
	{"Give an age from 0 to {1}.", "Escriba una edad de 0 a {1}."},
	{"Choose the signs that are there, or none.", "Elija las señales que hay, o ninguna."},
	{"{1} fields need another look: {2}", "Hay {1} respuestas que revisar: {2}"},
	{"Correct it and send the form again; nothing was recorded.", "Corríjalo y envíe otra vez; no se registró nada."},

	// Explain
	{"This finding does not ask for a referral.", "Este resultado no pide una derivación."},
	{"Give the advice on the slip.", "Dé los consejos de la hoja."},
	{"Only a result that stands is explained.", "Solo se explica un resultado que vale."},
	{"Load the list again.", "Abra otra vez la lista."},
	{"The place is missing.", "Falta el lugar."},
	{"The teach-back was not chosen.", "Falta elegir cómo lo repitió la persona."},
	{"The paper was not chosen.", "Falta elegir el papel."},
	{"Ticket {1} has no slip of this finding yet.", "El turno {1} todavía no tiene la hoja de este resultado."},
	{"The participant takes home what was found.", "La persona se lleva a casa lo que se encontró."},
	{"Hand over the slip and say so here.", "Entregue la hoja y anótelo aquí."},
	{"Ticket {1} has not been referred.", "El turno {1} todavía no tiene derivación."},
	{"A raised reading helps only those who reach care.", "Una lectura alta ayuda solo a quien llega a la atención."},
	{"Choose the place and ask whether the participant agrees.", "Elija el lugar y pregunte si la persona está de acuerdo."},
	{"Ticket {1} has another finding since it was explained.", "El turno {1} tiene otro resultado después de la explicación."},
	{"What was said before may be wrong.", "Lo que se dijo antes puede estar mal."},
	{"Explain the new finding and ask for it back in the participant's own words.", "Explique el resultado nuevo y pida que la persona lo diga con sus palabras."},
	{"Ticket {1} has not been explained.", "El turno {1} todavía no se ha explicado."},
	{"A number without words can frighten or mislead.", "Un número sin palabras puede asustar o confundir."},
	{"Explain the finding and ask for it back in the participant's own words.", "Explique el resultado y pida que la persona lo diga con sus palabras."},
	{"{1} needed no repeat and counts.", "{1} no necesitó repetición y cuenta."},
	{"There is no result for a slip here.", "Aquí no hay un resultado para una hoja."},
	{"A slip shows only a finding that stands.", "Una hoja muestra solo un resultado que vale."},
	{"Look the ticket up on the board; if a repeat is due, take it first.", "Busque el turno en el tablero; si falta una repetición, hágala primero."},

	// care
	{"Ticket {1} still needs care: {2}", "El turno {1} todavía necesita atención: {2}"},
	{"Nobody leaves with a critical reading unattended.", "Nadie se va con una lectura crítica sin atender."},
	{"Open the alert and go on there.", "Abra la alerta y siga allí."},
	{"The care of ticket {1} is not complete: {2}", "La atención del turno {1} no está completa: {2}"},
	{"The record must show that the person was looked after to the end.", "El registro debe mostrar que se cuidó a la persona hasta el final."},
	{"Do it, write it down, then sign.", "Hágalo, anótelo y después firme."},
	{"No care is open for ticket {1}.", "No hay atención abierta para el turno {1}."},
	{"Nothing more to do here.", "No hay nada más que hacer aquí."},
	{"A supervisor goes to the person and signs in here.", "Alguien de supervisión va con la persona y firma aquí."},
	{"Ask for each sign of a crisis and write down the answers.", "Pregunte por cada señal de crisis y anote las respuestas."},
	{"Repeat the reading after washing, on another finger.", "Repita la lectura después de lavar, en otro dedo."},
	{"Give fast sugar if the person can swallow; write down what was done.", "Dé azúcar rápida si la persona puede tragar; anote lo que se hizo."},
	{"Write down what was done for the person.", "Anote lo que se hizo por la persona."},
	{"Write down to whom the person went and how.", "Anote con quién se fue la persona y cómo."},
	{"Write down that the person arrived, and who said so.", "Anote que la persona llegó, y quién lo dijo."},
	{"Read the glucose again {1} minutes after the sugar.", "Lea otra vez la glucosa {1} minutos después del azúcar."},
	{"The recheck is still low: give sugar once more.", "La nueva lectura sigue baja: dé azúcar otra vez."},
	{"What was done was not chosen.", "Falta elegir qué se hizo."},
	{"Whether sugar was given was not chosen.", "Falta elegir si se dio azúcar."},
	{"The note is missing.", "Falta la nota."},
	{"The note is longer than {1} characters. Shorten it.", "La nota tiene más de {1} letras. Acórtela."},

	// signatures and signing in
	{"This needs a signature.", "Esto necesita una firma."},
	{"The record must show who answered for it.", "El registro debe mostrar quién responde por ello."},
	{"Choose the name and type the PIN.", "Elija el nombre y escriba el PIN."},
	{"Name and PIN are needed.", "Hacen falta el nombre y el PIN."},
	{"The name and the PIN do not belong together.", "El nombre y el PIN no corresponden."},
	{"Try again, or ask the lead to set a new PIN.", "Inténtelo otra vez o pida a la persona responsable un PIN nuevo."},
	{"Wrong PIN.", "PIN equivocado."},
	{"Too many wrong PINs; {1}.", "Demasiados PIN equivocados; {1}."},
	{"wait {1} seconds", "espere {1} segundos"},
	{"wait {1} minutes", "espere {1} minutos"},
	{"this device is shut out", "este dispositivo no puede entrar"},
	{"This keeps a stranger from guessing.", "Así nadie de fuera puede adivinarlo."},
	{"Wait, use a device on which you signed in before, or ask the lead to lift it under Access.", "Espere, use un dispositivo donde ya entró antes, o pida a la persona responsable que lo levante en Acceso."},
	{"A lead has blocked this device.", "La persona responsable bloqueó este dispositivo."},
	{"Nothing can be read or recorded from it.", "Desde aquí no se puede leer ni anotar nada."},
	{"Bring it to the lead, who can allow it again under Access.", "Llévelo a la persona responsable, que puede permitirlo otra vez en Acceso."},
	{"Somebody else could have picked it up.", "Otra persona podría haberlo tomado."},
	{"Type your PIN. What was typed here is kept on this device.", "Escriba su PIN. Lo escrito aquí se guarda en este dispositivo."},
	{"{1} has not used this device for a while, so it asks again.", "{1} no ha usado este dispositivo en un rato; por eso se pregunta otra vez."},
	{"{1} may not sign for this.", "{1} no puede firmar esto."},
	{"Ask somebody with that role.", "Pida ayuda a alguien con ese papel."},
	{"Nobody is signed in on this device.", "Nadie ha entrado en este dispositivo."},
	{"Choose your name and type your PIN.", "Elija su nombre y escriba su PIN."},
	{"{1} may not open this page.", "{1} no puede abrir esta página."},
	{"Ask somebody with that role to sign in here.", "Pida a alguien con ese papel que entre aquí."},

	// a number on the meter when a gate is shut
	{
		"Leave the number on the meter and on this page. When that is done, press Record again.",
		"Deje el número en el medidor y en esta página. Cuando eso esté hecho, pulse otra vez Record.",
	},
	{
		"When that is done, press Record again. If the meter touched this person before it was clean and dry, tell the supervisor and report it under Something happened.",
		"Cuando eso esté hecho, pulse otra vez Record. Si el medidor tocó a esta persona antes de estar limpio y seco, avise a supervisión y anótelo en Something happened.",
	},
	{
		"This number does not count, and nobody is told it as a result. Write ticket, number, meter and time on paper for the supervisor. Test again, with a new lancet, only when this is put right.",
		"Este número no cuenta y no se dice a nadie como resultado. Escriba en papel el turno, el número, el medidor y la hora para supervisión. Repita la prueba, con una lanceta nueva, solo cuando esto esté resuelto.",
	},
	{
		"Write ticket, number, meter and time on paper and give it to the supervisor now.",
		"Escriba en papel el turno, el número, el medidor y la hora, y déselo ahora a supervisión.",
	},
	{
		"First care for the person: this number can mean danger. Call a supervisor to them now and press This person looks unwell.",
		"Primero cuide a la persona: este número puede ser peligroso. Llame ahora a supervisión y pulse This person looks unwell.",
	},

	// the station
	{"This device is not put to its station yet.", "Este dispositivo todavía no tiene su puesto."},
	{"Every reading is kept with its station, meter and vial.", "Cada lectura se guarda con su puesto, medidor y frasco."},
	{"Choose what is marked below.", "Elija lo que está marcado abajo."},
	{"Choose Desk, Test or Explain.", "Elija Recepción, Prueba o Explicación."},
	{"Give the seat its number or name, as it stands on the table.", "Escriba el número o nombre del puesto, como está en la mesa."},
	{"At most 12 characters.", "Como mucho 12 letras."},
	{"Choose the meter that lies on the table.", "Elija el medidor que está en la mesa."},
	{"Choose the vial that lies on the table.", "Elija el frasco que está en la mesa."},
	{"Choose the wipes that lie on the table.", "Elija las toallitas que están en la mesa."},

	// the program itself
	{"Something went wrong inside Fairstick.", "Algo salió mal dentro de Fairstick."},
	{"What you typed was not recorded.", "Lo que escribió no se registró."},
	{"The form arrived damaged.", "El formulario llegó dañado."},
	{"Nothing was recorded.", "No se registró nada."},
	{"Load the page again and repeat what you did.", "Abra otra vez la página y repita lo que hizo."},
}

var hole = regexp.MustCompile(`\\\{[1-3]\\\}`)

// pattern finds a phrase in what the programme says. Numbers of tickets are short; a name may hold anything.
func (p phrase) pattern() *regexp.Regexp {
	return regexp.MustCompile("^" + hole.ReplaceAllString(regexp.QuoteMeta(p.en), "(.+?)") + "$")
}

var phrasePatterns = func() []*regexp.Regexp {
	out := make([]*regexp.Regexp, len(phrases))
	for i, p := range phrases {
		out[i] = p.pattern()
	}
	return out
}()

// inSpanish says a sentence of the programme in Spanish; ok is false when it is not known.
func inSpanish(text string) (spanish string, ok bool) {
	if text == "" {
		return "", true
	}
	for i, re := range phrasePatterns {
		m := re.FindStringSubmatch(text)
		if m == nil {
			continue
		}
		out := phrases[i].es
		for n, kept := range m[1:] {
			if inner, known := inSpanish(kept); known { // one sentence quotes another
				kept = inner
			}
			out = strings.ReplaceAll(out, "{"+string(rune('1'+n))+"}", kept)
		}
		return out, true
	}
	return text, false
}

// sentence says a sentence of the programme in a language, and in which it could be said.
func (t *tongue) sentence(text string) (said, lang string) {
	if t.Lang == "es" {
		if s, ok := inSpanish(text); ok {
			return s, "es"
		}
	}
	return text, "en"
}

// told says a refusal in the language of the page if all of it is known there. Otherwise it stays in English and says so.
func (c *Context) told(f *fault.Fault) *fault.Fault {
	if f == nil || f.Lang == "es" || c.lang() != "es" {
		return f
	}
	g := *f
	all := true
	put := func(text string) string {
		s, ok := inSpanish(text)
		all = all && ok
		return s
	}
	g.Sentence, g.Why, g.Do = put(f.Sentence), put(f.Why), put(f.Do)
	if f.Fields != nil {
		g.Fields = map[string]string{}
		for name, text := range f.Fields {
			g.Fields[name] = put(text)
		}
	}
	if !all {
		return f
	}
	g.Lang = "es"
	return &g
}
