package web

import (
	"fmt"
	"slices"
	"time"

	"github.com/a-h/templ"

	"fairstick/internal/about"
	"fairstick/internal/paper"
	"fairstick/internal/programme"
	"fairstick/internal/protocol"
	"fairstick/internal/visit"
	"fairstick/internal/web/ui"
	"fairstick/internal/wording"
)

// speech is what the stations say to a participant beside the texts of the protocol, in one language: short sentences,
// plain words, nothing that sounds like a diagnosis.
type speech struct {
	Lang string

	ConsentAsk, ConsentYes, ConsentNo    string
	Yes, No, Skip                        string
	Thanks, WhereToGo                    string
	AteAsk, AteHelp, NotKnown            string
	ContactAsk, ContactKept              string
	ContactYes, ContactNo                string
	Name, Phone, BestTime                string
	Address, AddressWhy                  string
	CallAsk, CallYes, CallNo             string
	Wait, WaitTest, Goodbye              string
	Fasting, NotFasting                  string
	Washed, Wiped                        string
	CallGiven, CallRefused               string
	AboutAsk, AboutWhy, AboutPass        string
	AgreeAsk, Agrees, AgreesNot          string
	Again, AgainWashed, NoValue, Recheck string
	By                                   string // "by 14 November 2026"
	Before                               string // "9 h 10 min before the test"
	NotSaid                              string
}

var speechEnglish = speech{
	Lang:       "en",
	ConsentAsk: "Do you agree?", ConsentYes: "Yes, I agree", ConsentNo: "No, thank you",
	Yes: "Yes", No: "No", Skip: "I do not want to say",
	Thanks: "Thank you for coming", WhereToGo: "Where to go",
	AteAsk: "When did you last eat, or drink anything but water?", AteHelp: "Coffee with milk or sugar counts as food.", NotKnown: "I do not know",
	ContactAsk:  "May we keep your name and phone number?",
	ContactKept: "They are kept sealed. Only people who may call you can read them. You can say no and still have the test.",
	ContactYes:  "Yes, you may", ContactNo: "No, please do not",
	Name: "Name", Phone: "Phone number", BestTime: "Best time to call",
	Address: "Postal address, street and town", AddressWhy: "For a letter, if we cannot reach you.",
	CallAsk: "May we call you about your result?", CallYes: "Yes, call me", CallNo: "No calls",
	Wait: "Your ticket is", WaitTest: "Please wait until your number is called.", Goodbye: "Goodbye, and take care.",
	Fasting: "fasting", NotFasting: "not fasting",
	Washed: "yes, with soap and water", Wiped: "no: wiped, and the second drop was used",
	CallGiven: "Yes", CallRefused: "No",
	AboutAsk: "Would you tell us a little about yourself?", AboutWhy: "You choose what to answer. It shows us who we reach. It changes nothing about your test or your result.", AboutPass: "Skip all of these",
	AgreeAsk: "Will you go there?", Agrees: "Yes, I will", AgreesNot: "No, or not sure",
	Again: "taken again", AgainWashed: "taken again after washing", NoValue: "the meter showed an error, no value", Recheck: "after sugar, to see that it helps",
	By: "by %s", Before: "%s before the test", NotSaid: "not known",
}

var speechSpanish = speech{
	Lang:       "es",
	ConsentAsk: "¿Está de acuerdo?", ConsentYes: "Sí, estoy de acuerdo", ConsentNo: "No, gracias",
	Yes: "Sí", No: "No", Skip: "No quiero decirlo",
	Thanks: "Gracias por venir", WhereToGo: "A dónde ir",
	AteAsk: "¿Cuándo comió por última vez, o bebió algo que no fuera agua?", AteHelp: "El café con leche o azúcar cuenta como comida.", NotKnown: "No lo sé",
	ContactAsk:  "¿Podemos guardar su nombre y su teléfono?",
	ContactKept: "Se guardan sellados. Solo los lee quien puede llamarle. Puede decir que no y hacerse la prueba.",
	ContactYes:  "Sí, pueden", ContactNo: "No, por favor",
	Name: "Nombre", Phone: "Número de teléfono", BestTime: "Mejor hora para llamar",
	Address: "Dirección postal, calle y ciudad", AddressWhy: "Para una carta, si no logramos llamarle.",
	CallAsk: "¿Podemos llamarle sobre su resultado?", CallYes: "Sí, llámenme", CallNo: "Sin llamadas",
	Wait: "Su turno es el", WaitTest: "Por favor espere a que llamen su número.", Goodbye: "Hasta luego, cuídese.",
	Fasting: "en ayunas", NotFasting: "no en ayunas",
	Washed: "sí, con agua y jabón", Wiped: "no: se limpiaron y se usó la segunda gota",
	CallGiven: "Sí", CallRefused: "No",
	AboutAsk: "¿Quiere contarnos algo sobre usted?", AboutWhy: "Usted elige qué contestar. Así vemos a quién llegamos. No cambia nada de su prueba ni de su resultado.", AboutPass: "Saltar todas",
	AgreeAsk: "¿Irá usted allí?", Agrees: "Sí, iré", AgreesNot: "No, o no es seguro",
	Again: "tomada otra vez", AgainWashed: "repetida tras lavarse", NoValue: "el medidor mostró un error, sin valor", Recheck: "después del azúcar, para ver si ayuda",
	By: "a más tardar el %s", Before: "%s antes de la prueba", NotSaid: "no se sabe",
}

// speechIn gives the stations' words in a language; English for a language that is not there.
func speechIn(lang string) speech {
	if lang == "es" {
		return speechSpanish
	}
	return speechEnglish
}

// fixedWords is the English of everything that is said to participants beside the protocol: what a language needs to be whole.
var fixedWords = slices.Concat(wording.Sources(paper.Labels("en")), wording.Sources(speechEnglish), paper.LetterSources(), wording.Sources(scriptEnglish), wording.Sources(lookBackEnglish), aboutSources())

// fixedTexts is the same in English and Spanish, for whoever measures how easily it reads.
func fixedTexts() []protocol.Text {
	return slices.Concat(wording.Pairs(paper.Labels("en"), paper.Labels("es")), wording.Pairs(speechEnglish, speechSpanish), paper.LetterTexts(), wording.Pairs(scriptEnglish, scriptSpanish), wording.Pairs(lookBackEnglish, lookBackSpanish), about.Texts())
}

// aboutSources lists the English of the questions that people answer about themselves if they want to.
func aboutSources() []string {
	var out []string
	for _, t := range about.Texts() {
		if !slices.Contains(out, t["en"]) {
			out = append(out, t["en"])
		}
	}
	return out
}

// speechOf gives the stations' words in a language of a day.
func speechOf(d *programme.Day, lang string) speech {
	l, ok := d.Tongue(lang)
	if !ok {
		return speechIn(lang)
	}
	s := wording.Words(l, speechEnglish)
	s.Lang = l.Code
	return s
}

// labelsOf gives the fixed words of the slip in a language of a day.
func labelsOf(d *programme.Day, lang string) paper.SlipLabels {
	if l, ok := d.Tongue(lang); ok {
		return paper.LabelsIn(l)
	}
	return paper.Labels(lang)
}

// spokenLang is the language in which a participant is spoken to: the one asked for if the day has it, else English.
func spokenLang(d *programme.Day, lang string) string {
	if _, ok := d.Tongue(lang); ok || lang == "es" {
		return lang
	}
	return "en"
}

// inTongue marks a part of a page with its language, and with its direction where that differs from the page's.
func inTongue(lang string) templ.Attributes {
	a := templ.Attributes{"lang": lang}
	if l, ok := wording.Find(lang); ok && l.RTL {
		a["dir"] = "rtl"
	}
	return a
}

// tongueLinks are the languages in which a participant of this day can be spoken to, each by its own name; href ends where the code goes.
func tongueLinks(d *programme.Day, href, current string) []ui.Link {
	links := []ui.Link{{Href: href + "en", Label: "English", Lang: "en"}, {Href: href + "es", Label: "Español", Lang: "es"}}
	for _, l := range d.Tongues() {
		links = append(links, ui.Link{Href: href + l.Code, Label: l.Native, Lang: l.Code})
	}
	return slices.DeleteFunc(links, func(l ui.Link) bool { return l.Lang == current })
}

// showIn names the way to another language in that language; where nobody has given us the sentence, the language's name alone.
func showIn(l ui.Link) string {
	switch l.Lang {
	case "en":
		return "Show in English"
	case "es":
		return "Mostrar en español"
	}
	return l.Label
}

// basis names the basis of a reading in the participant's words.
func (s speech) basis(b protocol.Basis) string {
	if b == protocol.Fasting {
		return s.Fasting
	}
	return s.NotFasting
}

// washed says how the hands were made clean.
func (s speech) washed(yes bool) string {
	if yes {
		return s.Washed
	}
	return s.Wiped
}

// call says whether the participant allowed a call.
func (s speech) call(v *visit.State) string {
	if programme.MayCall(v) {
		return s.CallGiven
	}
	return s.CallRefused
}

// hoursText writes a length of time as people say it: "9 h 10 min". It is the same in both languages.
func hoursText(d time.Duration) string {
	m := int(d / time.Minute)
	switch {
	case m < 60:
		return fmt.Sprintf("%d min", max(m, 0))
	case m%60 == 0:
		return fmt.Sprintf("%d h", m/60)
	}
	return fmt.Sprintf("%d h %d min", m/60, m%60)
}

// stepWords name the steps of the flow as staff call them.
var stepWords = map[string]string{
	string(visit.AtDesk): "Desk", string(visit.AtTest): "Test", string(visit.AtExplain): "Explain",
}
