// Package about is what a participant may say about themself beside the protocol: a fixed list of optional questions, each of which a
// programme may ask or not. No rule rests on an answer; they are there to see whom a programme reaches and whom it does not. A visit holds
// the questions that it was asked with codes of our own, so that a word on the page can change without changing what was said.
package about

import (
	"fmt"
	"slices"
	"strings"

	"fairstick/internal/fault"
	"fairstick/internal/protocol"
)

// The keys of the questions.
const (
	Race      = "race"
	Sex       = "sex"
	Zip       = "zip3"
	Insurance = "insurance"
	Doctor    = "doctor"
	First     = "first-time"
	Easy      = "easy" // asked when the result was explained
)

// PreferNot is the answer of somebody who does not want to say.
const PreferNot = "prefer-not"

// ZipDigits is how much of a ZIP code is asked and kept. All five would point at a neighbourhood and belong under the seal of the contact.
const ZipDigits = 3

// FewInArea is how many people must have come from an area for it to have a row in a report: a smaller one would not be printed anyway, and many
// of them would hide the others.
const FewInArea = 11

// Option is one answer that can be pressed.
type Option struct {
	Code string
	Text protocol.Text
}

// Question is one question of the list.
type Question struct {
	Key     string
	Name    string // in a report, in English
	Text    protocol.Text
	Help    protocol.Text
	Options []Option
	Several bool   // more than one answer may be chosen
	Digits  int    // so many digits are typed instead of a choice
	End     bool   // asked when the result was explained, not at the desk
	Why     string // for the lead: what it is good for, and where its answers come from
}

func both(en, es string) protocol.Text { return protocol.Text{"en": en, "es": es} }

// PreferNotText is the way out of each question.
var PreferNotText = both("I prefer not to say", "Prefiero no decirlo")

var yesNoUnsure = []Option{
	{"yes", both("Yes", "Sí")},
	{"no", both("No", "No")},
	{"unsure", both("I am not sure", "No estoy seguro")},
}

// list is every question in the order in which they are asked. What equity and funder reports of such programmes commonly show decided what
// is here (common practice).
var list = []Question{
	{
		Key: Race, Name: "Race and ethnicity", Several: true,
		Text: both("Which of these describe you?", "¿Cuáles de estas palabras le describen?"),
		Help: both("Choose all that fit.", "Elija todas las que quiera."),
		Options: []Option{
			{"american-indian", both("American Indian or Alaska Native", "Indígena de las Américas o nativo de Alaska")},
			{"asian", both("Asian", "Asiático")},
			{"black", both("Black or African American", "Negro o afroamericano")},
			{"hispanic", both("Hispanic or Latino", "Hispano o latino")},
			{"middle-eastern", both("Middle Eastern or North African", "Del Medio Oriente o del norte de África")},
			{"pacific", both("Native Hawaiian or Pacific Islander", "Nativo de Hawái o de las islas del Pacífico")},
			{"white", both("White", "Blanco")},
			{"other", both("Something else", "Otra respuesta")},
		},
		Why: "The seven groups are those of the US government's one question of March 2024 (OMB Statistical Policy Directive 15, from memory), and a way to say something else. People choose for themselves.",
	},
	{
		Key: Sex, Name: "Sex", Text: both("What is your sex?", "¿Cuál es su sexo?"),
		Options: []Option{{"female", both("Female", "Mujer")}, {"male", both("Male", "Hombre")}, {"other", both("Something else", "Otra respuesta")}},
		Why:     "The protocol asks for it nowhere; no limit of a reading depends on it.",
	},
	{
		Key: Zip, Name: "ZIP code, first 3 digits", Digits: ZipDigits,
		Text: both("What are the first 3 numbers of your ZIP code?", "¿Cuáles son los 3 primeros números de su código postal?"),
		Help: both("Only these 3. We do not keep the rest.", "Solo esos 3. No guardamos los demás."),
		Why:  fmt.Sprintf("Three digits at most are kept, and they never leave in the de-identified release. Areas from which fewer than %d people came are counted together.", FewInArea),
	},
	{
		Key: Insurance, Name: "Health insurance", Text: both("Do you have health insurance?", "¿Tiene seguro de salud?"), Options: yesNoUnsure,
		Why: "Many who come have none: 47.4 % of those screened at a food bank (rwjf.org, Nurse's Desk); at mobile events 44 % had none or did not know (Diabetes 2018;67 Suppl 1524-P).",
	},
	{
		Key: Doctor, Name: "Has a doctor or clinic", Text: both("Do you have a doctor or clinic where you go for care?", "¿Tiene un doctor o una clínica a donde va?"), Options: yesNoUnsure,
		Why: "Whoever has none needs a place that takes new people. At rural fairs 46 % had none (PMID 21886071).",
	},
	{
		Key: First, Name: "First time tested", Text: both("Is this your first blood sugar test?", "¿Es su primera prueba de azúcar en la sangre?"), Options: yesNoUnsure,
		Why: "Funders ask how many were tested for the first time (common practice).",
	},
	{
		Key: Easy, Name: "Easy to understand", End: true, Text: both("Was this easy to understand?", "¿Fue fácil de entender?"),
		Options: []Option{{"yes", both("Yes", "Sí")}, {"partly", both("In part", "En parte")}, {"no", both("No", "No")}},
		Why:     "One question at the end of Explain, for the satisfaction that funders ask about (common practice).",
	},
}

// Questions gives every question. It is a fresh list, whose texts are shared.
func Questions() []Question { return slices.Clone(list) }

// Find gives a question by its key.
func Find(key string) (Question, bool) {
	for _, q := range list {
		if q.Key == key {
			return q, true
		}
	}
	return Question{}, false
}

// Chosen gives the questions of a choice of keys in the order of the list, those of the end or the others.
func Chosen(keys []string, end bool) []Question {
	var out []Question
	for _, q := range list {
		if q.End == end && slices.Contains(keys, q.Key) {
			out = append(out, q)
		}
	}
	return out
}

// Texts lists everything that is read by a participant or to one.
func Texts() []protocol.Text {
	out := []protocol.Text{PreferNotText}
	for _, q := range list {
		out = append(out, q.Text)
		if !q.Help.IsZero() {
			out = append(out, q.Help)
		}
		for _, o := range q.Options {
			out = append(out, o.Text)
		}
	}
	return out
}

// Answers are the questions that somebody was asked, by key, with the codes of what they said: none where the question was passed over.
type Answers map[string][]string

// Codes lists the answers of a question.
func (q Question) Codes() []string {
	out := make([]string, len(q.Options))
	for i, o := range q.Options {
		out[i] = o.Code
	}
	return out
}

// Take reads what was pressed or typed for a question. Nothing is an answer too: it was passed over. A message is a sentence for the page and
// never repeats what was typed.
func (q Question) Take(said []string) (codes []string, wrong string) {
	for _, s := range said {
		if s = strings.TrimSpace(s); s != "" && !slices.Contains(codes, s) {
			codes = append(codes, s)
		}
	}
	switch {
	case len(codes) == 0:
		return nil, ""
	case slices.Contains(codes, PreferNot) && len(codes) > 1:
		return nil, "An answer is given, and not to say as well. Choose one."
	case codes[0] == PreferNot:
		return codes, ""
	case len(codes) > 1 && !q.Several:
		return nil, "Choose one answer."
	case q.Digits > 0:
		if len(codes[0]) != q.Digits || strings.Trim(codes[0], "0123456789") != "" {
			return nil, fmt.Sprintf("Type the first %d digits alone. More is not kept here.", q.Digits)
		}
		return codes, ""
	}
	for _, c := range codes {
		if !slices.Contains(q.Codes(), c) {
			return nil, "Choose one of the answers."
		}
	}
	slices.SortFunc(codes, func(a, b string) int { return slices.Index(q.Codes(), a) - slices.Index(q.Codes(), b) })
	return codes, ""
}

// Check gives the answers to some questions in their normal form, or a *fault.Fault whose fields are Field of each question.
func Check(asked []string, said Answers) (Answers, error) {
	out := Answers{}
	var f *fault.Fault
	wrong := func(key, sentence string) {
		if f == nil {
			f = fault.BadField(Field(key), "%s", sentence)
			return
		}
		f = f.Field(Field(key), sentence)
	}
	for _, key := range asked {
		q, ok := Find(key)
		if !ok {
			return nil, fault.New(fault.Invalid, "no-question", "There is no such question.", "Only the questions of the list can be asked.", "Load the page again.")
		}
		codes, bad := q.Take(said[key])
		if bad != "" {
			wrong(key, bad)
		}
		out[key] = codes
	}
	for key := range said {
		if !slices.Contains(asked, key) {
			return nil, fault.New(fault.Invalid, "no-question", "There is an answer to a question that is not asked.", "Only what the programme asks is kept.", "Load the page again.")
		}
	}
	if f != nil {
		return nil, f
	}
	return out, nil
}

// Field names the field of a form in which a question is answered.
func Field(key string) string { return "about_" + strings.ReplaceAll(key, "-", "_") }

// What a question comes to in a report where it has no single answer.
const (
	NotAsked   = "not-asked"
	PassedOver = "passed-over"
	More       = "several" // more than one answer was chosen
	Elsewhere  = "other-areas"
)

// Part says under which answer somebody is counted: each person under one, so that the rows of a question come to everybody.
func Part(codes []string, asked bool) string {
	switch {
	case !asked:
		return NotAsked
	case len(codes) == 0:
		return PassedOver
	case len(codes) > 1:
		return More
	}
	return codes[0]
}

// Parts lists what a question may come to, in the order of a table. Areas of a ZIP code are not among them.
func (q Question) Parts() []string {
	out := q.Codes()
	if q.Several {
		out = append(out, More)
	}
	if q.Digits > 0 {
		out = append(out, Elsewhere)
	}
	return append(out, PreferNot, PassedOver, NotAsked)
}

// PartName puts a part into the words of a report.
func (q Question) PartName(part string) string {
	switch part {
	case NotAsked:
		return "Not asked"
	case PassedOver:
		return "Passed over"
	case PreferNot:
		return "Prefer not to say"
	case More:
		return "More than one"
	case Elsewhere:
		return "Other areas"
	case "unsure":
		return "Not sure"
	}
	for _, o := range q.Options {
		if o.Code == part {
			return o.Text["en"]
		}
	}
	return part
}

// Line writes answers in one line without bars, in the order of the list: "race=asian+white sex= zip3=021".
func (a Answers) Line() string {
	var b strings.Builder
	for _, q := range list {
		codes, asked := a[q.Key]
		if !asked {
			continue
		}
		if b.Len() > 0 {
			b.WriteByte(' ')
		}
		b.WriteString(q.Key + "=" + strings.Join(codes, "+"))
	}
	return b.String()
}

// PartOf finds under which answer to a question a line of answers is counted.
func PartOf(line, key string) string {
	for rest := line; rest != ""; {
		var one string
		one, rest, _ = strings.Cut(rest, " ")
		said, ok := strings.CutPrefix(one, key)
		if !ok || !strings.HasPrefix(said, "=") {
			continue
		}
		switch said = said[1:]; {
		case said == "":
			return PassedOver
		case strings.Contains(said, "+"):
			return More
		}
		return said
	}
	return NotAsked
}
