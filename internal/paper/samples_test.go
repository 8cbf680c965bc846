package paper

import (
	"fmt"
	"time"

	"fairstick/internal/civil"
)

var fairDay = time.Date(2026, time.August, 31, 9, 42, 0, 0, time.UTC)

// usualSlip is an invented slip as most participants get it.
func usualSlip() Slip {
	return Slip{
		Lang: "en", Programme: "Larkfield Community Screening", Event: "Autumn Health Fair", Venue: "Larkfield Town Hall",
		Date: civil.MustParse("2026-08-31"), Ticket: "A17", Name: "Marigold Testperson",
		Reading: "95", Unit: "mg/dL", OtherUnit: "5.3 mmol/L", Taken: fairDay,
		LastAte: "9 hours ago", BasisWord: "fasting", Washed: "yes",
		Band: "usual", BandWord: "In the usual range for this kind of test",
		Sentence: "Your reading was 95 mg/dL. This does not rule out diabetes.",
		Advice:   []string{"Have your blood sugar checked again in three years.", "Ask sooner if your health changes."},
		When:     "by August 2029", Where: "your own doctor, or any clinic on the list we gave you",
		Warnings:        []string{"great thirst", "vomiting", "confusion", "deep, fast breathing"},
		EmergencyNumber: "911",
		CanMislead:      []string{"food on the fingers", "very cold hands", "some medicines"},
		TestedBy:        "R. O. (V12)", Supervisor: "P. Quill, pharmacist", Contact: "555 0142", Hours: "Mon to Fri, 9 am to 4 pm",
		Certificate: "00X0000000", CallPermission: "yes", Protocol: "Larkfield 3", RecordID: "01990c1e-7a44-7c1e-9f00-5b1d2c3e4f50",
		Printed: fairDay.Add(5 * time.Minute), Number: 1, Invented: true,
	}
}

// spanishSlip is a long one: high, repeated, corrected.
func spanishSlip() Slip {
	return Slip{
		Lang: "es", Programme: "Programa Comunitario de Detección de Larkfield", Event: "Feria de Salud de Otoño",
		Venue: "Salón del Ayuntamiento de Larkfield", Date: civil.MustParse("2026-08-31"), Ticket: "B204",
		Name:    "María de los Ángeles Fernández-Inventada y Núñez de la Prueba",
		Reading: "13.1", Unit: "mmol/L", OtherUnit: "236 mg/dL", Taken: fairDay,
		LastAte: "hace 3 horas", BasisWord: "sin ayuno", Washed: "sí, después de la primera lectura",
		Repeats: []SlipReading{
			{Shown: "13.8", Unit: "mmol/L", At: fairDay.Add(-6 * time.Minute), Why: "las manos no estaban lavadas"},
			{Shown: "13.1", Unit: "mmol/L", At: fairDay, Counts: true, Why: "después de lavarse las manos"},
		},
		Band: "high", BandWord: "Mucho más alta que lo habitual",
		Sentence: "Su lectura fue de 13.1 mmol/L. Es más alta que lo habitual para este tipo de prueba. Hace falta una prueba de laboratorio para saber qué significa.",
		Advice:   []string{"Vea a un médico para una prueba de laboratorio.", "Lleve esta hoja.", "No cambie sus medicinas por su cuenta."},
		When:     "antes del 7 de septiembre de 2026", Where: "Clínica Inventada de Larkfield, calle del Molino 12, lunes a viernes de 8 a. m. a 5 p. m.; se atiende sin seguro",
		Warnings:        []string{"mucha sed", "vómitos", "confusión", "respiración honda y rápida", "mucho sueño"},
		EmergencyNumber: "911",
		CanMislead:      []string{"comida en los dedos", "manos muy frías", "algunas medicinas", "mucho calor en el lugar"},
		TestedBy:        "R. O. (V12)", Supervisor: "P. Quill, farmacéutica", Contact: "555 0142", Hours: "lunes a viernes, 9 a. m. a 4 p. m.",
		Certificate: "00X0000000", CallPermission: "sí, al 555 0100 por la tarde", Protocol: "Larkfield 3", RecordID: "01990c1e-7a44-7c1e-9f00-5b1d2c3e4f51",
		Printed: fairDay.Add(5 * time.Minute), Corrected: true, Number: 2, Replaces: fairDay.Add(-20 * time.Minute), Invented: true,
	}
}

// dayDocument is an invented event report of a few pages.
func dayDocument(rows int) Document {
	table := &Table{
		Caption: "Readings by ticket",
		Columns: []Column{
			{Title: "Ticket", Width: 1},
			{Title: "Time", Width: 1.2},
			{Title: "Reading, mg/dL", Width: 1.2, Right: true},
			{Title: "Band", Width: 1.6},
			{Title: "What was said and agreed", Width: 4},
		},
		Note: "Readings as the meter showed them. Times are the hall's wall clock.",
	}
	for i := range rows {
		said := "Re-screen in three years."
		if i%5 == 0 {
			said = "Higher than the usual range; a lab test is needed. Agreed to see a clinician within two weeks and to be called at 555 0100."
		}
		table.Rows = append(table.Rows, []string{fmt.Sprintf("A%d", i+1), "9:42 am", fmt.Sprint(71 + i*7%129), "usual", said})
	}
	return Document{
		Title: "Event report", Subtitle: "Autumn Health Fair, Larkfield Town Hall, 31 August 2026", Programme: "Larkfield Community Screening",
		RecordID: "01990c1e-7a44-7c1e-9f00-5b1d2c3e4f50", Printed: fairDay, Invented: true, Lang: "en",
		Sections: []Section{
			{Heading: "In short", Paragraphs: []string{
				"Of 96 people who came to the desk, 88 were tested and 88 have a first reading. 12 of 88 were told to see a clinician.",
				"Two levels of control were in range on both meters before the first test. One control was out of range at 11:20 am; that meter was set aside and 3 people were tested again on the other.",
			}},
			{Heading: "By band", Keep: true, Table: &Table{
				Columns: []Column{{Title: "Band", Width: 3}, {Title: "People", Right: true}, {Title: "Share of tested", Right: true}, {Title: "95% interval", Width: 1.5, Right: true}},
				Rows: [][]string{
					{"critical low", "0", "0.0%", "0.0 to 4.2%"},
					{"low", "1", "1.1%", "0.2 to 6.2%"},
					{"usual", "71", "80.7%", "71.2 to 87.6%"},
					{"raised", "11", "12.5%", "7.1 to 21.0%"},
					{"high", "4", "4.5%", "1.8 to 11.1%"},
					{"critical high", "1", "1.1%", "0.2 to 6.2%"},
				},
			}},
			{Heading: "Each reading", Table: table},
			{Heading: "Overrides", Table: &Table{Columns: []Column{{Title: "Gate"}, {Title: "By"}, {Title: "Reason"}}}},
		},
	}
}

// plainSpanishSlip is what most Spanish speakers get.
func plainSpanishSlip() Slip {
	s := usualSlip()
	s.Lang, s.LastAte, s.BasisWord, s.Washed = "es", "hace 9 horas", "en ayunas", "sí"
	s.BandWord = "En el rango habitual para este tipo de prueba"
	s.Sentence = "Su lectura fue de 95 mg/dL. Esto no descarta la diabetes."
	s.Advice = []string{"Hágase otra prueba dentro de tres años.", "Pregunte antes si su salud cambia."}
	s.When, s.Where = "antes de agosto de 2029", "su médico, o una clínica de la lista que le dimos"
	s.Warnings = []string{"mucha sed", "vómitos", "confusión", "respiración honda y rápida"}
	s.CanMislead = []string{"comida en los dedos", "manos muy frías", "algunas medicinas"}
	s.Supervisor, s.Hours, s.CallPermission = "P. Quill, farmacéutica", "lunes a viernes, 9 a. m. a 4 p. m.", "sí"
	return s
}
