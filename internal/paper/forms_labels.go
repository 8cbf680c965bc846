package paper

import (
	"strconv"
	"strings"
)

// FormLabels is every fixed word of the paper forms in one language. Words in braces are filled in.
type FormLabels struct {
	Pack, Visit, Slip, Account, Controls, Incident, Notes string
	Number, PackPage, Emergency                           string

	Arrived, Language, English, Spanish, Initials               string
	Consent, ConsentVersion, HowGiven, Read, Aloud, Interpreter string
	Agrees, AgreeTime, Mark                                     string
	Yes, No, Questions, None, Years                             string
	Food, FoodNote, LastFood, Today, Yesterday, Before          string
	NotKnown                                                    string

	Test, Time, Purpose, First, Repeat, Recheck, Shows, ReadBack, Error   string
	Meter, Lot, Vial, Screener, Washed, Lancet, Misfires, InSharps, Wiped string
	MoreReadings                                                          string
	Supervisor                                                            string
	Finding, Fasting, NotFasting, Result, BasisNote                       string

	Care, CareFor, CareLow, CareVeryLow, CareVeryHigh, CareSigns            string
	SupervisorCame, Signs, Sugar, Given, CannotSwallow, Refused, SugarAgain string
	Action, EmergencyCalled, SameDay, Stays, DeclinedCare                   string
	HandedTo, ArrivedThere, SignedBy                                        string

	Explain, TeachBack, OwnWords, Again, NotAsked, SlipGiven string
	ReferredTo, PersonAgrees, Counsellor                     string
	HowEnded, Tested, Left, NotEligible, NoConsent, NoStick  string
	EndTime                                                  string

	YourReading, TakenAt, LastAte, Circle, BackTitle string
	YourResult, AskUs, TestedBy, Where, UrgentWhere  string

	About, AboutHow, AboutSkip, AboutNeedNot string

	Strip, StripHow, MayContact, MayCall, Name, Phone, BestTime string

	AccountHow, PrintedRow, FromTo, Handed, VoidedRow, BackRow string
	VoidNumbers, Why, Count, AccountSum, Day, LeadSigns        string

	ControlHow, Serial, ControlLot, Bottle, Range, Verdict, InRange, OutRange, CauseAction string
	Temperature, Level                                                                     string

	IncidentHow, What, Sharps, Splash, Faint, Spill, Device, Complaint, Other string
	HappenedAt, ToldAt, Place, Who, HowHappened, DeviceBrand, FirstAid        string
	SentTo, Ticket, NoMedical                                                 string
}

var formEnglish = FormLabels{
	Pack: "Paper forms", Visit: "Visit form", Slip: "Your result", Account: "Account of the forms", Controls: "Control log",
	Incident: "Incidents", Notes: "Notes", Number: "No.", PackPage: "sheet side {page} of {pages}", Emergency: "Emergency:",

	Arrived: "Arrived", Language: "Language", English: "English", Spanish: "Spanish", Initials: "Staff initials",
	Consent: "Consent", ConsentVersion: "text {version}", HowGiven: "How was the text given?", Read: "read", Aloud: "read aloud", Interpreter: "interpreter",
	Agrees: "The participant agrees", AgreeTime: "Time", Mark: "Participant's initials or mark",
	Yes: "Yes", No: "No", Questions: "Questions", None: "none of these", Years: "years",
	Food: "Last food or drink with sugar", FoodNote: "{hours} hours or more before the test: fasting. Anything else, and not known: not fasting.",
	LastFood: "At", Today: "today", Yesterday: "yesterday", Before: "the day before", NotKnown: "not known",

	Test: "Test", Time: "Time", Purpose: "Purpose", First: "first", Repeat: "repeat", Recheck: "after sugar", Shows: "The meter shows", ReadBack: "Read back", Error: "error",
	Meter: "Meter", Lot: "Strip lot", Vial: "Vial", Screener: "Screener", Washed: "Soap and water", Lancet: "New lancet", Misfires: "Misfires", InSharps: "In sharps", Wiped: "Meter wiped", MoreReadings: "More readings",
	Supervisor: "Supervisor",
	Finding:    "Finding", Fasting: "Fasting", NotFasting: "Not fasting", Result: "Result", BasisNote: "Compare in the unit that the meter shows.",

	Care: "Care: low, very low, very high, or signs", CareFor: "Care for", CareLow: "low", CareVeryLow: "very low", CareVeryHigh: "very high", CareSigns: "signs",
	SupervisorCame: "Supervisor came", Signs: "Signs seen or told", Sugar: "Fast sugar at", Given: "given", CannotSwallow: "cannot swallow", Refused: "refused", SugarAgain: "Fast sugar again at",
	Action: "What was done", EmergencyCalled: "emergency called", SameDay: "same-day care", Stays: "stays here", DeclinedCare: "declined care",
	HandedTo: "Handed to whom, how", ArrivedThere: "Arrived there; who said so", SignedBy: "Supervisor signs",

	Explain: "Explain and end", TeachBack: "Said back", OwnWords: "own words", Again: "after a second try", NotAsked: "not asked", SlipGiven: "Slip given",
	ReferredTo: "Referred to", PersonAgrees: "Agrees to go", Counsellor: "Explained by",
	HowEnded: "How did the visit end?", Tested: "tested", Left: "left", NotEligible: "not eligible", NoConsent: "declined consent", NoStick: "declined the fingerstick",
	EndTime: "Ended",

	YourReading: "Your reading", TakenAt: "Taken at", LastAte: "Last ate at", Circle: "Your result is the row that is ticked. The other side says what to do.", BackTitle: "What to do",
	YourResult: "What it means", AskUs: "Questions? Call", TestedBy: "Tested by", Where: "Where you can go", UrgentWhere: "Care on the same day",

	About: "About you, if you want", AboutHow: "You do not have to answer. Tick what you want to tell us. It shows us who we reach. It changes nothing about your test or your result.",
	AboutSkip: "I skip all of these", AboutNeedNot: "You do not have to answer.",

	Strip: "Contact: cut off here and keep apart from the results", StripHow: "Only if you want us to be able to reach you. Without it we keep no name.",
	MayContact: "We may keep my name", MayCall: "You may call about my result", Name: "Name", Phone: "Telephone", BestTime: "Best time to call",

	AccountHow: "Every number that was printed is accounted for: typed in, voided with a reason, or brought back blank. Keep this sheet with the lead.",
	PrintedRow: "Printed", FromTo: "From and to", Handed: "Handed to whom, when", VoidedRow: "Voided", BackRow: "Blank, brought back",
	VoidNumbers: "Number", Why: "Why", Count: "How many", AccountSum: "Printed = used + voided + brought back", Day: "At the end of the day", LeadSigns: "Lead signs",

	ControlHow: "Both levels before the first person, with the range that is printed for this strip lot. A meter that is out of range tests nobody until the cause is found and both levels are in range.",
	Serial:     "serial", ControlLot: "Control lot", Bottle: "Bottle", Range: "Printed range", Verdict: "Verdict", InRange: "in range", OutRange: "out of range", CauseAction: "If out of range: cause and what was done",
	Temperature: "Room °C", Level: "Level",

	IncidentHow: "Wound: wash with soap and water. Eyes, mouth: rinse with water. Then tell the supervisor at once and write the exact time.",
	What:        "What happened", Sharps: "sharps injury", Splash: "splash", Faint: "faint", Spill: "spill", Device: "device or result", Complaint: "complaint", Other: "other",
	HappenedAt: "Happened at", ToldAt: "Supervisor told at", Place: "Place, station", Who: "Role of the person (staff, participant, visitor)", HowHappened: "How it happened", DeviceBrand: "Type and make of the device",
	FirstAid: "First aid given", SentTo: "Sent where, at what time", Ticket: "Form number, if a participant", NoMedical: "No medical details and no test results of a person on this sheet.",
}

var formSpanish = FormLabels{
	Pack: "Hojas de papel", Visit: "Hoja de visita", Slip: "Su resultado", Account: "Cuenta de las hojas", Controls: "Registro de controles",
	Incident: "Incidentes", Notes: "Notas", Number: "N.º", PackPage: "cara {page} de {pages}", Emergency: "Emergencias:",

	Arrived: "Llegada", Language: "Idioma", English: "inglés", Spanish: "español", Initials: "Iniciales del personal",
	Consent: "Consentimiento", ConsentVersion: "texto {version}", HowGiven: "¿Cómo se dio el texto?", Read: "leído", Aloud: "en voz alta", Interpreter: "intérprete",
	Agrees: "La persona acepta", AgreeTime: "Hora", Mark: "Iniciales o marca de la persona",
	Yes: "Sí", No: "No", Questions: "Preguntas", None: "ninguna", Years: "años",
	Food: "Última comida o bebida con azúcar", FoodNote: "{hours} horas o más antes de la prueba: en ayunas. Todo lo demás, y si no se sabe: no en ayunas.",
	LastFood: "A las", Today: "hoy", Yesterday: "ayer", Before: "anteayer", NotKnown: "no se sabe",

	Test: "Prueba", Time: "Hora", Purpose: "Motivo", First: "primera", Repeat: "repetición", Recheck: "tras azúcar", Shows: "El medidor muestra", ReadBack: "Releído", Error: "error",
	Meter: "Medidor", Lot: "Lote de tiras", Vial: "Frasco", Screener: "Probó", Washed: "Agua y jabón", Lancet: "Lanceta nueva", Misfires: "Fallidas", InSharps: "Al envase", Wiped: "Limpiado", MoreReadings: "Más lecturas",
	Supervisor: "Supervisor",
	Finding:    "Resultado", Fasting: "En ayunas", NotFasting: "No en ayunas", Result: "Resultado", BasisNote: "Compare en la unidad que muestra el medidor.",

	Care: "Atención: bajo, muy bajo, muy alto, o señales", CareFor: "Atención por", CareLow: "bajo", CareVeryLow: "muy bajo", CareVeryHigh: "muy alto", CareSigns: "señales",
	SupervisorCame: "Llegó supervisor", Signs: "Señales vistas o dichas", Sugar: "Azúcar rápida a las", Given: "dada", CannotSwallow: "no puede tragar", Refused: "rechazada", SugarAgain: "Otra vez azúcar a las",
	Action: "Qué se hizo", EmergencyCalled: "se llamó a emergencias", SameDay: "atención hoy mismo", Stays: "se queda aquí", DeclinedCare: "rechazó atención",
	HandedTo: "Entregado a quién, cómo", ArrivedThere: "Llegó allí; quién lo dijo", SignedBy: "Firma del supervisor",

	Explain: "Explicación y fin", TeachBack: "Lo repitió", OwnWords: "con sus palabras", Again: "al segundo intento", NotAsked: "no se preguntó", SlipGiven: "Hoja entregada",
	ReferredTo: "Enviado a", PersonAgrees: "Acepta ir", Counsellor: "Explicó",
	HowEnded: "¿Cómo terminó la visita?", Tested: "con prueba", Left: "se fue", NotEligible: "no cumple", NoConsent: "no dio consentimiento", NoStick: "no quiso el pinchazo",
	EndTime: "Fin",

	YourReading: "Su lectura", TakenAt: "Tomada a las", LastAte: "Comió a las", Circle: "Su resultado es la fila marcada. El otro lado dice qué hacer.", BackTitle: "Qué hacer",
	YourResult: "Qué significa", AskUs: "¿Preguntas? Llame al", TestedBy: "Prueba hecha por", Where: "Dónde puede ir", UrgentWhere: "Atención el mismo día",

	About: "Sobre usted, si quiere", AboutHow: "No tiene que contestar. Marque lo que quiera contarnos. Así vemos a quién llegamos. No cambia nada de su prueba ni de su resultado.",
	AboutSkip: "No contesto ninguna", AboutNeedNot: "No tiene que contestar.",

	Strip: "Contacto: corte aquí y guarde aparte de los resultados", StripHow: "Solo si quiere que podamos comunicarnos con usted. Sin esto no guardamos su nombre.",
	MayContact: "Pueden guardar mi nombre", MayCall: "Pueden llamarme por mi resultado", Name: "Nombre", Phone: "Teléfono", BestTime: "Mejor hora para llamar",

	AccountHow: "Cada número impreso queda explicado: pasado a la computadora, anulado con una razón, o devuelto en blanco. Guarde esta hoja con la persona responsable.",
	PrintedRow: "Impresas", FromTo: "Desde y hasta", Handed: "Entregadas a quién, cuándo", VoidedRow: "Anuladas", BackRow: "Devueltas en blanco",
	VoidNumbers: "Número", Why: "Razón", Count: "Cuántas", AccountSum: "Impresas = usadas + anuladas + devueltas", Day: "Al final del día", LeadSigns: "Firma responsable",

	ControlHow: "Los dos niveles antes de la primera persona, con el rango impreso para este lote de tiras. Un medidor fuera de rango no se usa con nadie hasta hallar la causa y tener los dos niveles en rango.",
	Serial:     "serie", ControlLot: "Lote de control", Bottle: "Botella", Range: "Rango impreso", Verdict: "Veredicto", InRange: "en rango", OutRange: "fuera de rango", CauseAction: "Si está fuera de rango: causa y qué se hizo",
	Temperature: "Sala °C", Level: "Nivel",

	IncidentHow: "Herida: lave con agua y jabón. Ojos, boca: enjuague con agua. Después avise enseguida al supervisor y escriba la hora exacta.",
	What:        "Qué pasó", Sharps: "pinchazo o corte", Splash: "salpicadura", Faint: "desmayo", Spill: "derrame", Device: "aparato o resultado", Complaint: "queja", Other: "otro",
	HappenedAt: "Ocurrió a las", ToldAt: "Supervisor avisado a las", Place: "Lugar, puesto", Who: "Papel de la persona (personal, participante, visita)", HowHappened: "Cómo pasó", DeviceBrand: "Tipo y marca del aparato",
	FirstAid: "Primeros auxilios", SentTo: "Enviado a dónde, a qué hora", Ticket: "Número de hoja, si es participante", NoMedical: "Sin datos médicos ni resultados de pruebas de nadie en esta hoja.",
}

// formLabels gives the words of the forms in a language: Spanish for "es" and its regions, English for anything else.
func formLabels(lang string) FormLabels {
	if Labels(lang).Lang == "es" {
		return formSpanish
	}
	return formEnglish
}

func (l FormLabels) packPage(page, pages int) string {
	return strings.NewReplacer("{page}", strconv.Itoa(page), "{pages}", strconv.Itoa(pages)).Replace(l.PackPage)
}
