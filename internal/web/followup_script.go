package web

import (
	"strings"

	"fairstick/internal/civil"
	"fairstick/internal/paper"
	"fairstick/internal/programme"
	"fairstick/internal/wording"
)

// scriptFacts is what a script is told. None of it is a result: the person has that on the slip.
type scriptFacts struct {
	Caller, Programme string
	Day, By           civil.Date
	Place, PlaceSays  string
	Number, Hours     string // where the programme is called back
	Emergency         string
	Warnings          []string
	Urgent            bool
}

// scriptPart is what is said in one turn of a call, under a heading for the caller.
type scriptPart struct {
	Heading string
	Lines   []string
}

// callScript is what a caller says, in the person's language. Nothing about health is said before the person themselves is on
// the line, and nothing at all on a recording.
type callScript struct {
	Lang    string
	Missing string // the person's language where it is not offered and the script comes in English; empty otherwise
	Draft   string // the language where nobody has reviewed these sentences; empty otherwise
	Parts   []scriptPart
	Message []string // for a recording, or for a text message
}

// scriptWords are the sentences of a call. Words in braces are filled in.
type scriptWords struct {
	Hello, MyName, Private, From, Came, Slip, Asked, Seen string // -; {name}; -; {programme}; {day}; -; {day}; -
	Glad, OtherTest, Hard, GoTo, WhenGo, Wrong            string // -; -; -; {place}; -; -
	HowNow, Notice, CallNow, Ill, Again, Thanks           string // -; {signs}; {number}; {number}; -; -
	Greet, CallBack, Hours, ThankYou                      string // {name}; {number}; {hours}; -
}

var scriptEnglish = scriptWords{
	Hello: "Hello. May I speak with (their full name)?", MyName: "My name is {name}.", Private: "Is this a good time? Can you talk in private?",
	From: "I call from {programme}.", Came: "You came to our screening on {day}.", Slip: "We gave you a slip with your result.",
	Asked: "We said: please see a clinician by {day}.", Seen: "Have you seen someone about it?",
	Glad: "I am glad. On what day was it?", OtherTest: "Did they do another test? You do not have to tell me.",
	Hard: "What makes it hard to go?", GoTo: "You can go to {place}.", WhenGo: "When could you go? I can call you after that.", Wrong: "A screening can be wrong. Only a clinician can tell.",
	HowNow: "How do you feel now?", Notice: "Do you notice any of these? {signs}.", CallNow: "If so, please call {number} now. I stay on the line.",
	Ill: "If you feel very ill, please call {number} now.", Again: "May we call you again?", Thanks: "Thank you for your time.",
	Greet: "Hello. My name is {name}.", CallBack: "Please call me back at {number}.", Hours: "We are here {hours}.", ThankYou: "Thank you.",
}

var scriptSpanish = scriptWords{
	Hello: "Hola. ¿Puedo hablar con (su nombre completo)?", MyName: "Me llamo {name}.", Private: "¿Es buen momento? ¿Puede hablar en privado?",
	From: "Llamo de {programme}.", Came: "Usted vino a nuestra prueba el {day}.", Slip: "Le dimos una hoja con su resultado.",
	Asked: "Le pedimos ir al médico a más tardar el {day}.", Seen: "¿Ya vio a alguien por esto?",
	Glad: "Me alegra. ¿Qué día fue?", OtherTest: "¿Le hicieron otra prueba? No tiene que decirme.",
	Hard: "¿Qué se lo hace difícil?", GoTo: "Puede ir a {place}.", WhenGo: "¿Cuándo podría ir? Puedo llamarle después.", Wrong: "Esta prueba puede equivocarse. Solo un profesional puede saberlo.",
	HowNow: "¿Cómo se siente ahora?", Notice: "¿Nota alguna de estas señales? {signs}.", CallNow: "Si es así, llame ahora al {number}. Yo sigo en la línea.",
	Ill: "Si se siente muy mal, llame ahora al {number}.", Again: "¿Podemos llamarle otra vez?", Thanks: "Gracias por su tiempo.",
	Greet: "Hola. Me llamo {name}.", CallBack: "Por favor, llámeme al {number}.", Hours: "Horario: {hours}.", ThankYou: "Gracias.",
}

// scriptOf gives the script in the language of a visit; in English, with Missing, where the day does not speak it.
func scriptOf(d *programme.Day, lang string, x scriptFacts) callScript {
	if l, ok := d.Tongue(lang); ok {
		s := wording.Words(l, scriptEnglish).script(paper.LabelsIn(l), x)
		s.Lang = l.Code
		if d.Unreviewed(l, fixedWords) {
			s.Draft = l.Name
		}
		return s
	}
	if lang == "es" {
		return scriptSpanish.script(paper.Labels("es"), x)
	}
	s := scriptEnglish.script(paper.Labels("en"), x)
	if lang != "en" {
		s.Missing = languageName(lang)
	}
	return s
}

// script fills the sentences in.
func (w scriptWords) script(l paper.SlipLabels, x scriptFacts) callScript {
	put := func(sentence, place, with string) string {
		if with = strings.TrimSuffix(strings.TrimSpace(with), "."); with == "" {
			return ""
		}
		return strings.ReplaceAll(sentence, place, with)
	}
	s := callScript{Lang: l.Lang, Message: said(put(w.Greet, "{name}", x.Caller), put(w.CallBack, "{number}", x.Number), put(w.Hours, "{hours}", x.Hours), w.ThankYou)}
	s.Parts = []scriptPart{
		{"Before you say why", said(w.Hello, put(w.MyName, "{name}", x.Caller), w.Private)},
		{"Why you call, to the person alone", said(put(w.From, "{programme}", x.Programme), put(w.Came, "{day}", l.DateText(x.Day)), w.Slip, put(w.Asked, "{day}", l.DateText(x.By)), w.Seen)},
	}
	if x.Urgent {
		s.Parts = append(s.Parts, scriptPart{"Ask first: how are they now?", said(w.HowNow, put(w.Notice, "{signs}", strings.Join(x.Warnings, "; ")), put(w.CallNow, "{number}", x.Emergency))})
	}
	s.Parts = append(s.Parts,
		scriptPart{"If they were seen", said(w.Glad, w.OtherTest)},
		scriptPart{"If not yet", said(w.Hard, put(w.GoTo, "{place}", joinWords(x.Place, x.PlaceSays)), w.WhenGo, w.Wrong)})
	if !x.Urgent {
		s.Parts = append(s.Parts, scriptPart{"If they feel ill", said(put(w.Ill, "{number}", x.Emergency))})
	}
	s.Parts = append(s.Parts, scriptPart{"At the end", said(w.Again, w.Thanks)})
	return s
}

// said leaves out what there is nothing to say of.
func said(lines ...string) []string {
	var out []string
	for _, l := range lines {
		if l != "" {
			out = append(out, l)
		}
	}
	return out
}
