package paper

import (
	"strconv"
	"strings"
	"time"

	"fairstick/internal/civil"
	"fairstick/internal/wording"
)

// SlipLabels is every fixed word of the slip in one language, for the printed page and the page on screen. Words in
// braces are filled in by the methods.
type SlipLabels struct {
	Lang           string // BCP 47
	Ticket         string
	YourReading    string
	SameAs         string // before the reading in the other unit
	Low, High      string // what LO and HI on the meter mean
	Taken          string
	LastAte        string
	HandsWashed    string
	AllReadings    string
	Counts         string
	DoesNotCount   string
	WhatItMeans    string
	Disclaimer     string
	WhatToDo       string
	ByWhen         string
	Where          string
	WarningSigns   string // {number}
	WarningNoPhone string // when no number is known
	CanMislead     string
	TestedBy       string
	Supervisor     string
	Questions      string
	MayWeCall      string
	Certificate    string
	Rules          string
	Record         string
	Printed        string
	Slip           string // {number}
	Corrected      string // {number}, {when}
	Page           string // {page}, {pages}
	Continues      string // {page}
	Invented       string
	Unprintable    string // begins with the box
	NoRows         string
	NotReviewed    string // on a slip whose language nobody has reviewed

	Months  [12]string
	Date    string    // {day}, {month}, {year}
	Half    [2]string // before and after noon; of use without Clock24
	Clock24 bool
	RTL     bool // written from the right
}

var english = SlipLabels{
	Lang:           "en",
	Ticket:         "Ticket",
	YourReading:    "Your reading",
	SameAs:         "the same as",
	Low:            "LO means: lower than this meter can measure.",
	High:           "HI means: higher than this meter can measure.",
	Taken:          "Taken",
	LastAte:        "Last ate",
	HandsWashed:    "Hands washed",
	AllReadings:    "All readings",
	Counts:         "counts",
	DoesNotCount:   "does not count",
	WhatItMeans:    "What it means",
	Disclaimer:     "This is a screening, not a diagnosis.",
	WhatToDo:       "What to do",
	ByWhen:         "By when",
	Where:          "Where",
	WarningSigns:   "Warning signs: call {number}",
	WarningNoPhone: "Warning signs: call for emergency help",
	CanMislead:     "What can make it wrong",
	TestedBy:       "Tested by",
	Supervisor:     "Supervised by",
	Questions:      "Questions? Call",
	MayWeCall:      "May we call you?",
	Certificate:    "Certificate",
	Rules:          "Rules used",
	Record:         "Record",
	Printed:        "printed",
	Slip:           "slip {number}",
	Corrected:      "Corrected slip {number}. It takes the place of the slip of {when}. Please do not use the old one.",
	Page:           "page {page} of {pages}",
	Continues:      "Continues: page {page}",
	Invented:       "Invented demo data",
	Unprintable:    "□ stands for a letter that we could not print.",
	NoRows:         "Nothing to list.",
	NotReviewed:    "Translated by machine. No person has read it yet. In doubt the English slip counts.",

	Months: [12]string{"January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November", "December"},
	Date:   "{day} {month} {year}",
	Half:   [2]string{"am", "pm"},
}

var spanish = SlipLabels{
	Lang:           "es",
	Ticket:         "Turno",
	YourReading:    "Su lectura",
	SameAs:         "igual a",
	Low:            "LO significa: más bajo de lo que este medidor puede medir.",
	High:           "HI significa: más alto de lo que este medidor puede medir.",
	Taken:          "Hora",
	LastAte:        "Última comida",
	HandsWashed:    "Manos lavadas",
	AllReadings:    "Todas las lecturas",
	Counts:         "cuenta",
	DoesNotCount:   "no cuenta",
	WhatItMeans:    "Qué significa",
	Disclaimer:     "Es una prueba de detección, no un diagnóstico.",
	WhatToDo:       "Qué hacer",
	ByWhen:         "Cuándo",
	Where:          "Dónde",
	WarningSigns:   "Señales de alarma: llame al {number}",
	WarningNoPhone: "Señales de alarma: pida ayuda de emergencia",
	CanMislead:     "Qué puede alterar el resultado",
	TestedBy:       "Prueba hecha por",
	Supervisor:     "Supervisó",
	Questions:      "¿Preguntas? Llame al",
	MayWeCall:      "¿Podemos llamarle?",
	Certificate:    "Certificado",
	Rules:          "Reglas usadas",
	Record:         "Registro",
	Printed:        "impreso",
	Slip:           "hoja {number}",
	Corrected:      "Hoja corregida {number}. Reemplaza a la hoja del {when} Por favor, no use la anterior.",
	Page:           "página {page} de {pages}",
	Continues:      "Sigue: página {page}",
	Invented:       "Datos inventados de demostración",
	Unprintable:    "□ está en lugar de una letra que no pudimos imprimir.",
	NoRows:         "Nada que anotar.",
	NotReviewed:    "Traducido por una máquina. Nadie lo ha revisado aún. En caso de duda vale la hoja en inglés.",

	Months: [12]string{
		"enero", "febrero", "marzo", "abril", "mayo", "junio", "julio", "agosto", "septiembre", "octubre", "noviembre", "diciembre",
	},
	Date: "{day} de {month} de {year}",
	Half: [2]string{"a.\u00a0m.", "p.\u00a0m."},
}

// Labels gives the fixed words in a language: Spanish for "es" and its regions, English for anything else.
func Labels(lang string) SlipLabels {
	if base, _, _ := strings.Cut(strings.ToLower(lang), "-"); base == "es" {
		return spanish
	}
	return english
}

// LabelsIn gives the fixed words in a language of the catalogue; what it lacks stays English.
func LabelsIn(l wording.Language) SlipLabels {
	out := wording.Words(l, english)
	out.Lang, out.Months, out.Date, out.Half, out.Clock24, out.RTL = l.Code, l.Months, l.Date, l.Half, l.Clock24, l.RTL
	return out
}

// WarningFor gives the heading of the warning signs with the emergency number in it.
func (l SlipLabels) WarningFor(number string) string {
	if strings.TrimSpace(number) == "" {
		return l.WarningNoPhone
	}
	return strings.ReplaceAll(l.WarningSigns, "{number}", number)
}

// SlipNumber gives "slip 2".
func (l SlipLabels) SlipNumber(n int) string {
	return strings.ReplaceAll(l.Slip, "{number}", strconv.Itoa(n))
}

// CorrectedFor gives the notice on a slip that replaces the one of a moment.
func (l SlipLabels) CorrectedFor(n int, replaces time.Time) string {
	return strings.NewReplacer("{number}", strconv.Itoa(n), "{when}", l.MomentText(replaces)).Replace(l.Corrected)
}

// PageOf gives "page 2 of 3".
func (l SlipLabels) PageOf(page, pages int) string {
	return strings.NewReplacer("{page}", strconv.Itoa(page), "{pages}", strconv.Itoa(pages)).Replace(l.Page)
}

// ContinuesOn gives "Continues: page 2".
func (l SlipLabels) ContinuesOn(page int) string {
	return strings.ReplaceAll(l.Continues, "{page}", strconv.Itoa(page))
}

// OutOfRange explains LO and HI; any other reading has no explanation: "".
func (l SlipLabels) OutOfRange(reading string) string {
	switch strings.ToUpper(strings.TrimSpace(reading)) {
	case "LO":
		return l.Low
	case "HI":
		return l.High
	}
	return ""
}

// DateText gives a date with the month in letters: "31 August 2026", "31 de agosto de 2026". The zero date is "".
func (l SlipLabels) DateText(d civil.Date) string {
	if d.IsZero() || d.Month < time.January || d.Month > time.December {
		return ""
	}
	return strings.NewReplacer("{day}", strconv.Itoa(d.Day), "{month}", l.Months[d.Month-1], "{year}", strconv.Itoa(d.Year)).Replace(l.Date)
}

// TimeText gives a time of day as on a wall clock, in the instant's own zone: "9:42 am", "9:42 a. m.", "21:42". The zero time is "".
func (l SlipLabels) TimeText(t time.Time) string {
	switch {
	case t.IsZero():
		return ""
	case l.Clock24:
		return t.Format("15:04")
	}
	return t.Format("3:04") + "\u00a0" + l.Half[t.Hour()/12]
}

// MomentText gives date and time together.
func (l SlipLabels) MomentText(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return l.DateText(civil.Of(t)) + ", " + l.TimeText(t)
}
