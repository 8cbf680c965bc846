package cards

import "fairstick/internal/protocol"

func say(en, es string) protocol.Text { return protocol.Text{"en": en, "es": es} }

// before is what is done before anyone sits down.
var before = []Step{
	{
		Number: 1, Key: "sign-off-valid", Harm: Safety, From: Screener,
		Do:  say("Check that your own sign-off is valid today and that a supervisor is within reach.", "Compruebe que su propia verificación vale hoy y que hay un supervisor cerca."),
		Why: say("You are covered, help is near, and it can be shown later who was allowed to test.", "Usted tiene respaldo, la ayuda está cerca y después se puede mostrar quién podía hacer pruebas."),
	},
	{
		Number: 2, Key: "insert-at-hand", From: Screener,
		Do:  say("Have the current instructions for this meter and these strips at the table. Follow them.", "Tenga en la mesa las instrucciones vigentes de este medidor y de estas tiras. Sígalas."),
		Why: say("A waived test is only waived when it is done as its instructions say.", "Una prueba sencilla solo está permitida si se hace como dicen sus instrucciones."),
	},
	{
		Number: 3, Key: "room-and-rest", From: Screener,
		Do:  say("Check the room's temperature, keep the gear out of the sun, and let it rest for 15 minutes.", "Mire la temperatura de la sala, aparte el equipo del sol y déjelo reposar 15 minutos."),
		Why: say("A meter that has just come in from heat or cold can read wrong.", "Un medidor que viene del calor o del frío puede dar un valor equivocado."),
	},
	{
		Number: 4, Key: "strips-checked", Harm: Validity, From: Screener,
		Do:  say("Read on the vial: lot, expiry, day of opening. See that it is closed and that the code matches the meter.", "Lea en el frasco: lote, caducidad, día de apertura. Vea que esté cerrado y que el código sea el del medidor."),
		Why: say("Old or damp strips and a wrong code give wrong values without any warning.", "Las tiras viejas o húmedas y un código equivocado dan valores falsos sin avisar."),
	},
	{
		Number: 5, Key: "controls-run", Harm: Validity, From: Screener,
		Do:  say("Check the control's expiry and day of opening. Run both levels. Compare with the range printed for this strip lot.", "Revise la caducidad y la apertura del control. Pruebe los dos niveles. Compare con el rango impreso para este lote."),
		Why: say("It proves that this meter and these strips work today.", "Demuestra que este medidor y estas tiras funcionan hoy."),
	},
	{
		Number: 6, Key: "control-missed", Harm: Validity, From: Screener, Acted: true,
		Do:  say("Out of range: test nobody. Look for the cause and repeat as the instructions say. Still out: set the meter apart, tell the lead, write it down.", "Fuera de rango: no pruebe a nadie. Busque la causa y repita según las instrucciones. Si sigue fuera: aparte el medidor, avise al líder y anótelo."),
		Why: say("It stops false results before a person hears them.", "Detiene los resultados falsos antes de que alguien los oiga."),
	},
	{
		Number: 7, Key: "clean-and-dirty", From: Screener, Drawing: "table-sides",
		Do:  say("Cover the table. Keep a clean side and a dirty side. Put the sharps container within arm's reach.", "Cubra la mesa. Separe un lado limpio y uno sucio. Ponga el contenedor de punzantes al alcance del brazo."),
		Why: say("Clean things stay clean, and nobody walks with a used lancet.", "Lo limpio sigue limpio y nadie camina con una lanceta usada."),
	},
	{
		Number: 8, Key: "lancets-single-use", Source: "thompson-2009", Harm: Safety, From: Screener,
		Do:  say("Use only lancets that work once and lock. Be able to say why a lancing pen is forbidden.", "Use solo lancetas que sirven una vez y se bloquean. Sepa decir por qué está prohibida la pluma de punción."),
		Why: say("Shared pens have passed hepatitis B from person to person, even with a new needle.", "Las plumas compartidas han pasado la hepatitis B de una persona a otra, aun con aguja nueva."),
	},
}

// during is what is done with a person at the table.
var during = []Step{
	{
		Number: 9, Key: "introduce-consent", From: Desk, Drawing: "one-way-flow",
		Do:  say("Say your name and role, what you will do and how long it takes, and that it is not a diagnosis. Ask for consent.", "Diga su nombre y su papel, qué hará, cuánto tarda y que no es un diagnóstico. Pida consentimiento."),
		Why: say("The person decides, and can only decide about what they understand.", "La persona decide, y solo puede decidir sobre lo que entiende."),
	},
	{
		Number: 10, Key: "right-person", Harm: Safety, From: Desk,
		Do:  say("Match two marks of identity, or the ticket number, with the record in front of you.", "Compare dos datos de identidad, o el número de turno, con el registro que tiene delante."),
		Why: say("A swapped result sends the wrong person home.", "Un resultado cambiado manda a casa a la persona equivocada."),
	},
	{
		Number: 11, Key: "eligible", From: Desk,
		Do:  say("Ask about age, pregnancy and known diabetes. Ask who bleeds with ease, takes a blood thinner or has fainted. Ask about latex and plasters.", "Pregunte por edad, embarazo y diabetes conocida. Pregunte por sangrado fácil, anticoagulantes y desmayos. Pregunte por alergia al látex y a las curitas."),
		Why: say("Some people need another path, others need more care at the table.", "Algunas personas necesitan otro camino; otras, más cuidado en la mesa."),
	},
	{
		Number: 12, Key: "last-meal", Harm: Validity, From: Desk,
		Do:  say("Ask for the last food or drink with sugar. Write the time. Fasting means 8 hours or more.", "Pregunte por la última comida o bebida con azúcar. Anote la hora. En ayunas significa 8 horas o más."),
		Why: say("The same number means something else after a meal.", "El mismo número significa otra cosa después de comer."),
	},
	{
		Number: 13, Key: "hands-washed", Harm: Validity, From: Screener,
		Do:  say("Ask about fruit, juice and lotion. Have hands washed with soap and dried. If that cannot be done, write it down.", "Pregunte por fruta, jugo y crema. Haga lavar las manos con jabón y secarlas. Si no se puede, anótelo."),
		Why: say("Sugar on the skin makes a false high. An alcohol swab does not take it off.", "El azúcar en la piel da un valor alto falso. El alcohol no la quita."),
	},
	{
		Number: 14, Key: "own-hands-gloves", Harm: Safety, From: Screener,
		Do:  say("Clean your own hands. Put on new gloves for this person.", "Límpiese las manos. Póngase guantes nuevos para esta persona."),
		Why: say("Blood on old gloves goes to the next finger.", "La sangre en guantes viejos pasa al siguiente dedo."),
	},
	{
		Number: 15, Key: "one-strip", From: Screener,
		Do:  say("Take one strip with dry hands and close the vial at once.", "Tome una tira con las manos secas y cierre el frasco enseguida."),
		Why: say("Damp air spoils the strips that stay in the vial.", "El aire húmedo estropea las tiras que quedan en el frasco."),
	},
	{
		Number: 16, Key: "finger-chosen", From: Screener, Drawing: "fingertip-side",
		Do:  say("Let the hand hang and be warm. Choose the side of the middle or ring fingertip. Never a sore, swollen or cold finger.", "Deje la mano colgar y estar tibia. Elija el lado de la yema del dedo medio o anular. Nunca un dedo herido, hinchado o frío."),
		Why: say("It gives a good drop and hurts less.", "Da una buena gota y duele menos."),
	},
	{
		Number: 17, Key: "skin-dry", From: Screener,
		Do:  say("Disinfect the skin and let it dry in the air. Do not blow or wipe.", "Desinfecte la piel y déjela secar al aire. No sople ni seque."),
		Why: say("Wet alcohol thins the drop, and it stings.", "El alcohol mojado diluye la gota, y arde."),
	},
	{
		Number: 18, Key: "lancet-to-sharps", Source: "deperio-2012", Harm: Safety, From: Screener, Drawing: "lancet-to-sharps",
		Do:  say("Prick once, firmly. Drop the lancet into sharps before you do anything else. Never put a cap back.", "Pinche una vez, con firmeza. Eche la lanceta al contenedor antes de hacer otra cosa. Nunca vuelva a taparla."),
		Why: say("In one study more than half of the needlesticks came after use and before the bin.", "En un estudio más de la mitad de los pinchazos ocurrió después del uso y antes de desechar."),
	},
	{
		Number: 19, Key: "no-milking", From: Screener,
		Do:  say("Press gently from the base of the finger. Do not squeeze the tip. Take the first or the second drop as the hand washing decides.", "Presione suave desde la base del dedo. No apriete la punta. Tome la primera o la segunda gota según el lavado."),
		Why: say("Hard squeezing adds tissue fluid and changes the value.", "Apretar fuerte agrega líquido del tejido y cambia el valor."),
	},
	{
		Number: 20, Key: "strip-filled", From: Screener, Drawing: "strip-filled",
		Do:  say("Fill the strip in one touch. Never top it up. Too little blood: a new strip.", "Llene la tira en un toque. Nunca agregue más. Si falta sangre: tira nueva."),
		Why: say("A strip that is short of blood shows an error, or a wrong number.", "Una tira con poca sangre muestra un error o un número falso."),
	},
	{
		Number: 21, Key: "read-exactly", From: Screener,
		Do:  say("Read exactly what stands there, with its unit. Know LO, HI and the error codes. Never round.", "Lea exactamente lo que aparece, con su unidad. Conozca LO, HI y los códigos de error. Nunca redondee."),
		Why: say("One digit can move a person to another advice.", "Un dígito puede cambiar el consejo que recibe la persona."),
	},
	{
		Number: 22, Key: "write-and-read-back", Source: "mays-2019", Harm: Validity, From: Screener,
		Do:  say("Write value, unit, time, meter, lot and your own sign at once. Have it read back.", "Anote enseguida valor, unidad, hora, medidor, lote y su propia clave. Haga que lo relean."),
		Why: say("Of values typed by hand about 4 in 100 are wrong.", "De los valores escritos a mano, unos 4 de cada 100 están mal."),
	},
	{
		Number: 23, Key: "repeat-rule", From: Screener,
		Do:  say("Repeat after washing with soap when the rule says so. Keep both values and the reason.", "Repita después de lavar con jabón cuando lo diga la regla. Guarde los dos valores y el motivo."),
		Why: say("It finds sugar on the finger before a person is frightened for nothing.", "Encuentra el azúcar en el dedo antes de asustar a alguien sin motivo."),
	},
	{
		Number: 24, Key: "stop-bleeding", From: Screener,
		Do:  say("Press with gauze, see that it has stopped, offer a plaster. Watch for a faint; lay the person down.", "Presione con gasa, vea que ya no sangra, ofrezca una curita. Vigile un desmayo; acueste a la persona."),
		Why: say("Nobody leaves bleeding, and nobody falls from the chair.", "Nadie se va sangrando y nadie cae de la silla."),
	},
	{
		Number: 25, Key: "gloves-off", Harm: Safety, From: Screener,
		Do:  say("Take the gloves off, clean your hands, put the waste where it belongs.", "Quítese los guantes, límpiese las manos y ponga la basura en su lugar."),
		Why: say("Gloves do not replace clean hands.", "Los guantes no reemplazan las manos limpias."),
	},
	{
		Number: 26, Key: "meter-disinfect", Source: "thompson-2009", Harm: Safety, From: Screener, Drawing: "meter-wet",
		Do:  say("Clean the meter, then disinfect it. Keep it wet for the time on the label before the next person. Wipe the table too.", "Limpie el medidor y después desinféctelo. Manténgalo mojado el tiempo de la etiqueta antes de otra persona. Limpie también la mesa."),
		Why: say("Blood on a shared meter can pass hepatitis B to the next person.", "La sangre en un medidor compartido puede pasar la hepatitis B a la siguiente persona."),
	},
}

// after is what follows the reading.
var after = []Step{
	{
		Number: 27, Key: "category-from-table", From: Counsellor,
		Do:  say("Take the category from the programme's table, by fasting or not. Not from memory.", "Tome la categoría de la tabla del programa, según ayunas o no. No de memoria."),
		Why: say("Two people with the same reading must hear the same.", "Dos personas con el mismo valor deben oír lo mismo."),
	},
	{
		Number: 28, Key: "plain-words", Harm: Safety, From: Counsellor,
		Do:  say("Explain in plain words. Never say that the person has diabetes or does not have it. Let them tell it back.", "Explique con palabras sencillas. Nunca diga que la persona tiene o no tiene diabetes. Pida que lo repita."),
		Why: say("A false calm harms as much as a false alarm.", "Una falsa calma hace tanto daño como una falsa alarma."),
	},
	{
		Number: 29, Key: "next-step", Source: "plosone-2014", From: Counsellor,
		Do:  say("Say what comes next, when, where, and where it costs little. Hand over the slip. Ask whether you may call.", "Diga qué sigue, cuándo, dónde, y dónde cuesta poco. Entregue la hoja. Pregunte si puede llamar."),
		Why: say("In every programme that was studied, many of those who were referred saw nobody.", "En todos los programas estudiados, mucha gente derivada no vio a nadie."),
	},
	{
		Number: 30, Key: "critical-path", Harm: Safety, From: Counsellor, Acted: true,
		Do:  say("Critical: stay with the person and call the supervisor. Repeat if the rule says so. Ask for signs. Go the emergency or same-day path. Write the times.", "Crítico: quédese con la persona y llame al supervisor. Repita si lo dice la regla. Pregunte por señales. Siga el camino de emergencia o del mismo día. Anote las horas."),
		Why: say("Minutes count, and symptoms count more than the number.", "Los minutos cuentan, y los síntomas cuentan más que el número."),
	},
	{
		Number: 31, Key: "low-care", Source: "ada-low", Harm: Safety, From: Screener, Acted: true,
		Do:  say("Low: if the person can swallow, give 15 g of fast sugar. Test again after 15 minutes.", "Bajo: si la persona puede tragar, dé 15 g de azúcar rápida. Vuelva a medir a los 15 minutos."),
		Why: say("A low sugar gets worse fast and is easy to treat.", "El azúcar baja empeora rápido y es fácil de tratar."),
	},
	{
		Number: 32, Key: "exposure", Source: "usphs", Harm: Safety, From: Screener, Acted: true,
		Do:  say("Needlestick or splash: wash or flush, tell the supervisor at once, call the contact for care, note the time.", "Pinchazo o salpicadura: lave o enjuague, avise enseguida al supervisor, llame al contacto de atención, anote la hora."),
		Why: say("Treatment that prevents infection counts in hours.", "El tratamiento que evita la infección se cuenta en horas."),
	},
	{
		Number: 33, Key: "privacy", From: Observer,
		Do:  say("Speak so that nobody overhears. Close the record. No photos, no loose papers.", "Hable de modo que nadie más oiga. Cierre el registro. Sin fotos ni papeles sueltos."),
		Why: say("People come only where their results stay private.", "La gente solo viene donde sus resultados quedan en privado."),
	},
	{
		Number: 34, Key: "close-and-count", From: Screener,
		Do:  say("Count lancets, strips and forms. Close sharps at three quarters. Return the meter.", "Cuente lancetas, tiras y formularios. Cierre el contenedor a los tres cuartos. Devuelva el medidor."),
		Why: say("A count that fits shows that nothing was used twice or lost.", "Una cuenta que cuadra muestra que nada se usó dos veces ni se perdió."),
	},
}
