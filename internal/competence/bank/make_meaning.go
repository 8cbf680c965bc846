package bank

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"time"

	"fairstick/internal/civil"
	"fairstick/internal/competence/cards"
	"fairstick/internal/fault"
	"fairstick/internal/glucose"
	"fairstick/internal/protocol"
)

var readingMakers = []Maker{
	{Key: "made-shown", Topic: Reading, From: cards.Screener, Source: "cdc-waived", Critical: true, make: makeShown},
	{Key: "made-unit", Topic: Reading, From: cards.Screener, Source: "ada-2026", make: makeUnit},
	{Key: "made-repeat", Topic: Reading, From: cards.Screener, Source: "hirose-2011", make: makeRepeat},
}

func makeShown(r *rand.Rand, _ protocol.Protocol) (draft, error) {
	shown := pick(r, "LO", "HI", "E-3", "Err 2", "E-5", fmt.Sprint(60+r.IntN(200)))
	reading, err := glucose.ParseReading(shown, glucose.MgPerDL)
	if err != nil {
		return draft{}, err
	}
	right := map[glucose.Kind]int{glucose.Numeric: 0, glucose.Low: 1, glucose.High: 2, glucose.Error: 3}[reading.Kind]
	return choose(textf(`The meter shows "%s" and its unit is mg/dL. What is that?`, `El medidor muestra "%s" y su unidad es mg/dL. ¿Qué es?`, reading.Shown()),
		text("LO is too low to measure, HI too high. A code is no value.", "LO es muy bajo para medir, HI muy alto. Un código no es un valor."),
		[]protocol.Text{text("A value", "Un valor"), text("Too low to measure", "Muy bajo para medir"), text("Too high to measure", "Muy alto para medir"), text("An error: no value", "Un error: sin valor")}, right), nil
}

func makeUnit(r *rand.Rand, p protocol.Protocol) (draft, error) {
	unit := pick(r, glucose.Units...)
	number := pick(r, fmt.Sprint(70+r.IntN(200)), fmt.Sprintf("%d.%d", 4+r.IntN(14), r.IntN(10)))
	right := 0
	reading, err := glucose.ParseReading(number, unit)
	if err == nil {
		err = p.Plausible(reading)
	}
	switch {
	case fault.Is(err, "unit-slip"):
		right = 1
	case err != nil:
		return draft{}, err
	}
	return choose(textf("A colleague has typed %s, unit %s. What do you think?", "Un colega escribió %s, unidad %s. ¿Qué piensa?", number, unit),
		text("Decimals belong to mmol/L. A hundred mmol/L does not exist.", "Los decimales son de mmol/L. Cien mmol/L no existe."),
		[]protocol.Text{text("It can be right", "Puede ser correcto"), text("The unit is wrong", "La unidad está mal"), text("It is an error code", "Es un código de error")}, right), nil
}

func makeRepeat(r *rand.Rand, p protocol.Protocol) (draft, error) {
	unit := pick(r, glucose.Units...)
	high, okHigh := p.Repeat.HighFrom[unit]
	low, okLow := p.Repeat.LowBelow[unit]
	if !okHigh || !okLow {
		return draft{}, fault.New(fault.Invalid, "protocol-silent", fmt.Sprintf("The protocol does not say when to repeat in %s.", unit), "Nothing can be asked about it.", "Tell the lead.")
	}
	v := pick(r, high, high, low, low)
	v.Steps += pick(r, -1, 0, 1, 6)
	reading := glucose.Number(v)
	if r.IntN(8) == 0 {
		reading = glucose.HI(unit)
	}
	c, err := p.Conclude([]protocol.Taken{{ID: "1", Reading: reading, Purpose: protocol.PurposeFirst, Washed: true}}, 1, protocol.Random, false)
	if err != nil {
		return draft{}, err
	}
	right := 1
	if c.RepeatDue {
		right = 0
	}
	return choose(textf("The first reading is %s. The person feels well. Is it repeated before a result is given?", "El primer valor es %s. La persona se siente bien. ¿Se repite antes de dar un resultado?", reading.String()),
		fill(text("The programme repeats from %s on, below %s, and after LO or HI.", "El programa repite desde %s, por debajo de %s, y tras LO o HI."), plain("%s", high), plain("%s", low)),
		[]protocol.Text{text("Yes, on washed hands", "Sí, con manos lavadas"), text("No, it counts", "No, este cuenta"), text("Only if asked for", "Solo si lo piden"), text("Yes, but next week", "Sí, pero en una semana")}, right), nil
}

var meaningMakers = []Maker{
	{Key: "made-fasting", Topic: Meaning, From: cards.Desk, Source: "ada-2026", make: makeFasting},
	{Key: "made-band-fasting-mgdl", Topic: Meaning, From: cards.Counsellor, Source: "ada-2026", make: makeBand(protocol.Fasting, glucose.MgPerDL)},
	{Key: "made-band-fasting-mmol", Topic: Meaning, From: cards.Counsellor, Source: "ada-2026", make: makeBand(protocol.Fasting, glucose.MmolPerL)},
	{Key: "made-band-random-mgdl", Topic: Meaning, From: cards.Counsellor, Source: "ada-2026", make: makeBand(protocol.Random, glucose.MgPerDL)},
	{Key: "made-band-random-mmol", Topic: Meaning, From: cards.Counsellor, Source: "ada-2026", make: makeBand(protocol.Random, glucose.MmolPerL)},
	{Key: "made-meal-and-band", Topic: Meaning, From: cards.Counsellor, Source: "ada-2026", make: makeMealAndBand},
}

// meal gives a test in the morning and a last meal near the programme's fasting hours before it.
func meal(r *rand.Rand, p protocol.Protocol) (ate, test civil.Clock, before bool, basis protocol.Basis) {
	test = civil.Clock(7*60 + 15*r.IntN(13))
	ago := p.FastingHours*60 + pick(r, -150, -60, -15, 0, 15, 90)
	day := civil.Date{Year: 2026, Month: time.March, Day: 2}
	at := test.On(day, time.UTC)
	last := at.Add(-time.Duration(ago) * time.Minute)
	return clockOf(test, -ago), test, civil.Of(last) != day, p.Basis(last, true, at)
}

func mealText(ate civil.Clock, before bool) protocol.Text {
	if before {
		return textf("%s yesterday", "%s de ayer", ate)
	}
	return textf("%s today", "%s de hoy", ate)
}

func makeFasting(r *rand.Rand, p protocol.Protocol) (draft, error) {
	ate, test, before, basis := meal(r, p)
	right := 1
	if basis == protocol.Fasting {
		right = 0
	}
	return choose(fill(text("The last food was at %s. The test is at %s today. Fasting or not?", "La última comida fue a las %s. La prueba es a las %s de hoy. ¿En ayunas o no?"), mealText(ate, before), plain("%s", test)),
		textf("Fasting means at least %d hours without calories.", "En ayunas significa al menos %d horas sin calorías.", p.FastingHours),
		[]protocol.Text{text("Fasting", "En ayunas"), text("Not fasting", "No en ayunas"), text("It cannot be known", "No se puede saber")}, right), nil
}

// inSpanish turns the few words of a rule.
var inSpanish = strings.NewReplacer("random,", "sin ayunas,", "fasting,", "en ayunas,", " to ", " a ", " or more", " o más", "below what the meter can measure", "menos de lo que el medidor puede medir",
	"above what the meter can measure", "más de lo que el medidor puede medir", "below ", "menos de ")

func ruleText(f protocol.Finding) protocol.Text {
	return text(strings.Replace(f.Rule, "random,", "not fasting,", 1), inSpanish.Replace(f.Rule))
}

// bandWords are the words of the bands with the one of a finding first, then those beside it.
func bandWords(p protocol.Protocol, b protocol.Band) (right protocol.Text, wrong []protocol.Text) {
	order := b.Order()
	for _, d := range []int{1, -1, 2, -2, 3, -3} {
		if i := order + d; i >= 0 && i < len(protocol.Bands) && len(wrong) < 3 {
			wrong = append(wrong, p.Messages[protocol.Bands[i]].Word)
		}
	}
	return p.Messages[b].Word, wrong
}

func makeBand(basis protocol.Basis, unit glucose.Unit) func(*rand.Rand, protocol.Protocol) (draft, error) {
	return func(r *rand.Rand, p protocol.Protocol) (draft, error) {
		edges, err := edgesOf(p, basis, unit)
		if err != nil {
			return draft{}, err
		}
		v := near(r, edges)
		f, err := p.Find(glucose.Number(v), basis)
		if err != nil {
			return draft{}, err
		}
		said := text("was fasting", "estaba en ayunas")
		if basis == protocol.Random {
			said = text("was not fasting", "no estaba en ayunas")
		}
		right, wrong := bandWords(p, f.Band)
		return draft{
			stem:  fill(text("A person %s. The meter shows %s. Which words does the table give?", "Una persona %s. El medidor muestra %s. ¿Qué palabras da la tabla?"), said, plain("%s", v)),
			why:   fill(text("The table says: %s. Compare in the unit that the meter showed.", "La tabla dice: %s. Compare en la unidad que mostró el medidor."), ruleText(f)),
			right: right, wrong: wrong,
		}, nil
	}
}

func makeMealAndBand(r *rand.Rand, p protocol.Protocol) (draft, error) {
	unit := pick(r, glucose.Units...)
	ate, test, before, basis := meal(r, p)
	edges, err := edgesOf(p, basis, unit)
	if err != nil {
		return draft{}, err
	}
	v := near(r, edges[1:4])
	f, err := p.Find(glucose.Number(v), basis)
	if err != nil {
		return draft{}, err
	}
	right, wrong := bandWords(p, f.Band)
	return draft{
		stem: fill(text("The last food was at %s. At %s today the meter shows %s. Which words does the table give?", "La última comida fue a las %s. A las %s de hoy el medidor muestra %s. ¿Qué palabras da la tabla?"),
			mealText(ate, before), plain("%s", test), plain("%s", v)),
		why:   fill(text("First the hours, then the table: %s.", "Primero las horas, después la tabla: %s."), ruleText(f)),
		right: right, wrong: wrong,
	}, nil
}

var criticalMakers = []Maker{
	{Key: "made-urgency", Topic: Criticals, From: cards.Counsellor, Source: "protocol", Critical: true, make: makeUrgency},
	{Key: "made-unwell", Topic: Criticals, From: cards.Counsellor, Source: "umpierrez-2024", Critical: true, make: makeUnwell},
	{Key: "made-recheck", Topic: Criticals, From: cards.Screener, Source: "ada-low", make: makeRecheck},
}

// urgencies are the answers about how soon somebody is needed, in the order of protocol.Urgencies.
var urgencies = []protocol.Text{
	text("Nobody is needed", "No hace falta nadie"), text("A visit within weeks", "Una visita en semanas"), text("A visit within days", "Una visita en días"),
	text("A clinician today", "Un profesional hoy"), text("Act now, at the table", "Actuar ya, en la mesa"),
}

func makeUrgency(r *rand.Rand, p protocol.Protocol) (draft, error) {
	unit := pick(r, glucose.Units...)
	edges, err := edgesOf(p, protocol.Random, unit)
	if err != nil {
		return draft{}, err
	}
	reading := glucose.Number(near(r, edges))
	switch r.IntN(6) {
	case 0:
		reading = glucose.HI(unit)
	case 1:
		reading = glucose.LO(unit)
	}
	f, err := p.Find(reading, protocol.Random)
	if err != nil {
		return draft{}, err
	}
	return choose(textf("A person who was not fasting feels well. The reading stands after the repeat: %s. How soon is somebody needed?",
		"Una persona sin ayunas se siente bien. El valor se mantiene al repetir: %s. ¿Cuándo hace falta alguien?", reading.String()),
		fill(text("The programme's table says: %s.", "La tabla del programa dice: %s."), ruleText(f)), urgencies, f.Urgency.Order()), nil
}

func makeUnwell(r *rand.Rand, p protocol.Protocol) (draft, error) {
	if len(p.CrisisSigns) == 0 {
		return draft{}, fault.New(fault.Invalid, "protocol-silent", "The protocol names no crisis sign.", "Nothing can be asked about them.", "Tell the lead.")
	}
	sign := pick(r, p.CrisisSigns...)
	unit := pick(r, glucose.Units...)
	edges, err := edgesOf(p, protocol.Random, unit)
	if err != nil {
		return draft{}, err
	}
	v := near(r, edges[1:4])
	f, err := p.Find(glucose.Number(v), protocol.Random)
	if err != nil {
		return draft{}, err
	}
	f = p.Escalate(f)
	return choose(fill(text(`The meter shows %s. You notice: "%s". How soon is somebody needed?`, `El medidor muestra %s. Usted nota: "%s". ¿Cuándo hace falta alguien?`), plain("%s", v), sign.Text),
		text("A sign of crisis outranks any number.", "Una señal de crisis vale más que cualquier número."), urgencies, f.Urgency.Order()), nil
}

func makeRecheck(r *rand.Rand, p protocol.Protocol) (draft, error) {
	c := p.LowCare
	if c.SugarGrams < 1 || c.RecheckMinutes < 1 {
		return draft{}, fault.New(fault.Invalid, "protocol-silent", "The protocol does not say what is done for a low reading.", "Nothing can be asked about it.", "Tell the lead.")
	}
	given := civil.Clock(9*60 + r.IntN(6*60))
	d := draft{
		stem:  textf("A man with a low reading took sugar at %s. When do you test again?", "Un hombre con un valor bajo tomó azúcar a las %s. ¿Cuándo mide otra vez?", given),
		why:   textf("Test again %d minutes after the sugar.", "Mida otra vez %d minutos después del azúcar.", c.RecheckMinutes),
		right: plain("%s", clockOf(given, c.RecheckMinutes)),
	}
	for _, shift := range around(r, 3, []int{-10, -7, -5}, []int{5, 15, 30, 45}) {
		if m := c.RecheckMinutes + shift; m > 0 {
			d.wrong = append(d.wrong, plain("%s", clockOf(given, m)))
		}
	}
	return d, nil
}
