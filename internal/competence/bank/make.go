package bank

import (
	"fmt"
	"math/rand/v2"
	"time"

	"fairstick/internal/civil"
	"fairstick/internal/competence/cards"
	"fairstick/internal/fault"
	"fairstick/internal/glucose"
	"fairstick/internal/protocol"
)

// pick gives one of a list.
func pick[T any](r *rand.Rand, list ...T) T { return list[r.IntN(len(list))] }

// choose makes a draft whose options are a fixed list of which one is right.
func choose(stem, why protocol.Text, options []protocol.Text, right int) draft {
	d := draft{stem: stem, why: why, right: options[right]}
	for i, o := range options {
		if i != right {
			d.wrong = append(d.wrong, o)
		}
	}
	return d
}

// around takes n steps, some of them down and the rest up, so that the right answer has no rank of its own among the wrong ones.
func around(r *rand.Rand, n int, down, up []int) []int {
	k := r.IntN(n + 1)
	var out []int
	for _, i := range r.Perm(len(down))[:k] {
		out = append(out, down[i])
	}
	for _, i := range r.Perm(len(up))[:n-k] {
		out = append(out, up[i])
	}
	return out
}

// someDay gives a day of 2026 or 2027.
func someDay(r *rand.Rand) civil.Date {
	return civil.Date{Year: 2026, Month: time.January, Day: 1}.AddDays(r.IntN(700))
}

var spanishMonths = []string{"ene", "feb", "mar", "abr", "may", "jun", "jul", "ago", "sep", "oct", "nov", "dic"}

// Day writes a day with its month in letters, in both languages.
func Day(d civil.Date) protocol.Text {
	return text(d.Long(), fmt.Sprintf("%d %s %d", d.Day, spanishMonths[d.Month-1], d.Year))
}

// fill puts texts in the place of each %s, language by language.
func fill(format protocol.Text, parts ...protocol.Text) protocol.Text {
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

// plain is a value that reads the same in both languages.
func plain(format string, values ...any) protocol.Text {
	s := fmt.Sprintf(format, values...)
	return text(s, s)
}

// clockOf moves a time of day by minutes and stays within the day.
func clockOf(c civil.Clock, minutes int) civil.Clock {
	const day = 24 * 60
	return civil.Clock(((int(c)+minutes)%day + day) % day)
}

// near gives a value at or beside one of the edges, or somewhere between.
func near(r *rand.Rand, edges []glucose.Value) glucose.Value {
	e := pick(r, edges...)
	e.Steps += pick(r, -1, 0, 1, -3, 4)
	if r.IntN(4) == 0 {
		low, high := edges[0], edges[len(edges)-1]
		e.Steps = low.Steps + r.IntN(high.Steps-low.Steps+1)
	}
	return e
}

// edgesOf lists the edges between the bands of a basis in a unit.
func edgesOf(p protocol.Protocol, b protocol.Basis, u glucose.Unit) ([]glucose.Value, error) {
	l, ok := p.Limits[b][u]
	if !ok {
		return nil, fault.New(fault.Invalid, "protocol-silent", fmt.Sprintf("The protocol has no %s limits in %s.", b, u),
			"Without limits no question about them can be made.", "Tell the lead to complete the protocol.")
	}
	edges := []glucose.Value{l.CriticalBelow, l.LowBelow, l.RaisedFrom, l.HighFrom, l.CriticalFrom}
	if edges[0].Steps < 1 || edges[4].Steps <= edges[0].Steps {
		return nil, fault.New(fault.Invalid, "protocol-invalid", fmt.Sprintf("The %s limits in %s are not in order.", b, u),
			"No question about them can be made.", "Tell the lead to correct the protocol.")
	}
	return edges, nil
}

// plainAnswers answers every question of the desk with no.
func plainAnswers(p protocol.Protocol) protocol.Answers {
	a := protocol.Answers{}
	for _, q := range p.Questions {
		switch q.Kind {
		case protocol.YesNo:
			a[q.Key] = protocol.No
		case protocol.Number:
			a[q.Key] = "45"
		case protocol.Signs:
			a[q.Key] = protocol.NoSign
		}
	}
	return a
}

var eligibilityMakers = []Maker{
	{Key: "made-age", Topic: Eligibility, From: cards.Desk, Source: "protocol", make: makeAge},
	{Key: "made-answer", Topic: Eligibility, From: cards.Desk, Source: "protocol", make: makeAnswer},
}

func makeAge(r *rand.Rand, p protocol.Protocol) (draft, error) {
	age := max(1, p.MinAge+pick(r, -1, 0, 1, -2, 3))
	a := plainAnswers(p)
	for _, q := range p.Questions {
		if q.Kind == protocol.Number {
			a[q.Key] = fmt.Sprint(age)
		}
	}
	s, err := p.Screen(a)
	if err != nil {
		return draft{}, err
	}
	right := 1
	if s.Eligible {
		right = 0
	}
	return choose(textf("A person is %d years old. All other answers are no. May this person be screened today?",
		"Una persona tiene %d años. Todas las otras respuestas son no. ¿Se le puede hacer la prueba hoy?", age),
		textf("This programme screens from %d years on.", "Este programa mide desde los %d años.", p.MinAge),
		[]protocol.Text{text("Yes", "Sí"), text("No", "No"), text("Only with a parent", "Solo con su madre o padre"), text("Only if fasting", "Solo en ayunas")}, right), nil
}

func makeAnswer(r *rand.Rand, p protocol.Protocol) (draft, error) {
	var asked []protocol.Question
	for _, q := range p.Questions {
		if q.Kind == protocol.YesNo && (q.Effect == protocol.Exclude || q.Effect == protocol.Caution) {
			asked = append(asked, q)
		}
	}
	if len(asked) == 0 {
		return draft{}, fault.New(fault.Invalid, "protocol-silent", "The protocol asks no question with yes or no.", "Nothing can be asked about it.", "Tell the lead.")
	}
	q := pick(r, asked...)
	a := plainAnswers(p)
	a[q.Key] = protocol.Yes
	s, err := p.Screen(a)
	if err != nil {
		return draft{}, err
	}
	right := 2
	switch {
	case !s.Eligible:
		right = 0
	case len(s.Cautions) > 0:
		right = 1
	}
	return choose(fill(text(`"%s" The answer is yes. All other answers are no. What follows?`, `"%s" La respuesta es sí. Todas las otras son no. ¿Qué se deduce?`), q.Text),
		fill(text("The programme's rule says: %s", "La regla del programa dice: %s"), q.Sentence),
		[]protocol.Text{
			text("Not screened today", "No se mide hoy"), text("Screened, with care", "Se mide, con cuidado"),
			text("Screened like all", "Se mide como a todos"), text("An emergency", "Una emergencia"),
		}, right), nil
}

var closingMakers = []Maker{
	{Key: "made-strip-count", Topic: Closing, From: cards.Screener, Source: "protocol", make: makeStripCount},
	{Key: "made-lancet-count", Topic: Closing, From: cards.Screener, Source: "cdc-assisted", Critical: true, make: makeLancetCount},
	{Key: "made-call-day", Topic: Closing, From: cards.Counsellor, Source: "protocol", make: makeCallDay},
}

func makeStripCount(r *rand.Rand, _ protocol.Protocol) (draft, error) {
	first, repeats, errs, controls := 20+r.IntN(60), r.IntN(6), r.IntN(5), 4+2*r.IntN(5)
	missing := pick(r, 0, 0, 1, 2, 3)
	back := 10 + r.IntN(40)
	out := first + repeats + errs + controls + missing + back
	lost := out - back - (first + repeats + errs + controls)
	d := draft{
		stem: textf("%d strips went out and %d came back. On record: first tests %d, repeats %d, meter errors %d, controls %d. How many strips are missing?",
			"Salieron %d tiras y volvieron %d. En el registro: primeras pruebas %d, repeticiones %d, errores %d, controles %d. ¿Cuántas tiras faltan?",
			out, back, first, repeats, errs, controls),
		why:   text("Strips out less strips back must equal tests, repeats, errors and controls.", "Tiras salidas menos devueltas deben ser pruebas, repeticiones, errores y controles."),
		right: plain("%d", lost),
	}
	for _, w := range r.Perm(7) {
		if w != lost && len(d.wrong) < 3 {
			d.wrong = append(d.wrong, plain("%d", w))
		}
	}
	return d, nil
}

func makeLancetCount(r *rand.Rand, _ protocol.Protocol) (draft, error) {
	sticks, misfires, back := 20+r.IntN(60), r.IntN(4), 10+r.IntN(40)
	off := pick(r, -2, -1, 0, 0, 1, 2)
	out := sticks + misfires + back + off
	gone := out - back - sticks - misfires
	right := 0
	switch {
	case gone < 0:
		right = 1
	case gone > 0:
		right = 2
	}
	return choose(textf("%d lancets went out and %d came back. On record: sticks %d, misfires %d. What does the count say?",
		"Salieron %d lancetas y volvieron %d. En el registro: punciones %d, fallos %d. ¿Qué dice la cuenta?", out, back, sticks, misfires),
		text("Lancets out less lancets back must equal sticks and misfires. Too few used up is an alarm for reuse.", "Lancetas salidas menos devueltas deben ser punciones y fallos. Si se usaron de menos, es una alarma de reúso."),
		[]protocol.Text{
			text("It fits", "Cuadra"), text("Too few were used: an alarm", "Se usaron muy pocas: una alarma"),
			text("Some are not on record", "Algunas no están en el registro"), text("It cannot be known", "No se puede saber"),
		}, right), nil
}

func makeCallDay(r *rand.Rand, p protocol.Protocol) (draft, error) {
	var bands []protocol.Band
	for _, b := range protocol.Bands {
		if len(p.FollowUp[b]) > 0 && p.Messages[b].Word.In("en") != "" {
			bands = append(bands, b)
		}
	}
	if len(bands) == 0 {
		return draft{}, fault.New(fault.Invalid, "protocol-silent", "The protocol names no day for calls.", "Nothing can be asked about it.", "Tell the lead.")
	}
	b, event := pick(r, bands...), someDay(r)
	first := event.AddDays(p.FollowUp[b][0])
	d := draft{
		stem: fill(text(`The event was on %s. A reading was "%s". On which day is the first call due?`, `El evento fue el %s. Un valor fue "%s". ¿Qué día toca la primera llamada?`),
			Day(event), p.Messages[b].Word),
		why:   text("The day stands in the programme's protocol; the day of the event is day 0.", "El día está en el protocolo del programa; el día del evento es el día 0."),
		right: Day(first),
	}
	if days := p.FollowUp[b][0]; days > 0 { // one or two days between the event and the call
		for _, early := range r.Perm(days)[:min(days, 1+r.IntN(2))] {
			d.wrong = append(d.wrong, Day(first.AddDays(-1-early)))
		}
	}
	for _, i := range r.Perm(len(later)) {
		if len(d.wrong) < 3 {
			d.wrong = append(d.wrong, Day(first.AddDays(later[i])))
		}
	}
	return d, nil
}

// later are the days by which a wrong date is late.
var later = []int{1, 3, 4, 7, 14, 30}
