package risk

import "fmt"

// ADASource is the publication and the form that ADA follows.
const ADASource = "Bang H and others, Ann Intern Med 2009;151:775-783, doi 10.7326/0003-4819-151-11-200912010-00005; points and weight chart as printed on the ADA/CDC risk test form"

// ADACut is the total from which the form speaks of increased risk (Bang and others 2009: five points or more chose 35 % of
// the adults of NHANES, with sensitivity 79 %, specificity 67 % and positive predictive value 10 % for undiagnosed diabetes).
const ADACut = 5

// adaMax is our sum of the most points of every item; it is 10 for a man and for a woman alike.
const adaMax = 10

// ADAAnswers are the answers to the form of Bang and others. Age is in whole years.
type ADAAnswers struct {
	Age           int
	Sex           Sex
	Gestational   Answer // woman: ever told of gestational diabetes; a man is not asked
	Family        Answer // mother, father, sister or brother with diabetes
	BloodPressure Answer // ever told of high blood pressure
	Active        Answer // physically active
	Height        Length
	Weight        Weight
}

// ADA/CDC form: under 40 gives 0, 40-49 gives 1, 50-59 gives 2, 60 and older gives 3.
var adaAges = []ageStep{{40, 1}, {50, 2}, {60, 3}}

// chartRow is a row of the form's weight chart: the height in inches and the lowest weight in pounds of each column.
type chartRow struct{ inches, one, two, three int64 }

// weightChart is the chart of the ADA/CDC form, 4 ft 10 in to 6 ft 4 in. A weight below the first column gives no point.
// The columns stand for a BMI of 25, 30 and 40, printed up to about a pound low, so that chart and BMI can disagree at an
// edge: 203 lb at 5 ft 9 in is in the second column with a BMI of 29.98 (our arithmetic).
var weightChart = []chartRow{
	{58, 119, 143, 191},
	{59, 124, 148, 198},
	{60, 128, 153, 204},
	{61, 132, 158, 211},
	{62, 136, 164, 218},
	{63, 141, 169, 225},
	{64, 145, 174, 232},
	{65, 150, 180, 240},
	{66, 155, 186, 247},
	{67, 159, 191, 255},
	{68, 164, 197, 262},
	{69, 169, 203, 270},
	{70, 174, 209, 278},
	{71, 179, 215, 286},
	{72, 184, 221, 294},
	{73, 189, 227, 302},
	{74, 194, 233, 311},
	{75, 200, 240, 319},
	{76, 205, 246, 328},
}

var adaBands = []Band{
	{"below-cut", 0, ADACut - 1, Text{"below the cut point", "por debajo del punto de corte"}, Text{
		"Fewer than 5 points on this questionnaire. It does not rule out diabetes: anyone with symptoms or worries can ask a clinician for a laboratory test.",
		"Menos de 5 puntos en este cuestionario. No descarta la diabetes: quien tenga síntomas o dudas puede pedir a un profesional de salud una prueba de laboratorio.",
	}},
	{"increased", ADACut, adaMax, Text{"increased risk", "riesgo aumentado"}, Text{
		"Increased risk of type 2 diabetes by this questionnaire. Only a laboratory test can tell more: ask a clinician for one.",
		"Riesgo aumentado de diabetes tipo 2 según este cuestionario. Solo una prueba de laboratorio puede decir más: pídala a un profesional de salud.",
	}},
}

var adaNotes = []Text{
	{
		"The form says that people of Asian ancestry are at risk at a body weight about 15 pounds lower; the points do not change.",
		"El formulario dice que las personas de ascendencia asiática tienen riesgo con unas 15 libras menos de peso; los puntos no cambian.",
	},
	{
		"Weight is scored by the form's chart from 4 ft 10 in to 6 ft 4 in, and by a BMI of 25, 30 and 40 outside it.",
		"El peso se puntúa con la tabla del formulario de 4 pies 10 pulgadas a 6 pies 4 pulgadas, y con un IMC de 25, 30 y 40 fuera de ella.",
	},
}

// The form asks women about gestational diabetes; the model that Bang validated did not.
var adaWomanNote = Text{
	"The point for gestational diabetes is the form's own; the published model was not tested with it.",
	"El punto por diabetes gestacional es del formulario; el modelo publicado no se probó con él.",
}

var (
	sexLabel           = Text{"Man or woman", "Hombre o mujer"}
	gestationalLabel   = Text{"Ever told by a clinician of gestational diabetes", "Alguna vez un profesional de salud le dijo que tenía diabetes gestacional"}
	adaFamilyLabel     = Text{"Mother, father, sister or brother with diabetes", "Madre, padre, hermana o hermano con diabetes"}
	bloodPressureLabel = Text{"Ever told by a clinician of high blood pressure", "Alguna vez un profesional de salud le dijo que tenía la presión alta"}
	adaActiveLabel     = Text{"Physically active", "Hace actividad física"}
	manText            = Text{"man", "hombre"}
	womanText          = Text{"woman", "mujer"}
	notAskedText       = Text{"not asked", "no se pregunta"}
)

// ADA scores the form of Bang and others. Weight goes by the chart from exactly 4 ft 10 in to exactly 6 ft 4 in: the row of
// the nearest whole inch, and a half inch takes the shorter row, which never gives fewer points; a weight is in a column when
// it is at least the column's lowest pound, without rounding. Outside the chart a BMI of at least 25, 30 and 40 gives 1, 2
// and 3 points. A man may leave Gestational empty or "no". An answer that is missing or cannot be right gives an Invalid
// fault with a message for every such field.
func ADA(a ADAAnswers) (Result, error) {
	var c check
	c.age(a.Age)
	c.sex(a.Sex)
	switch {
	case a.Sex == Male && a.Gestational == Yes:
		c.bad("gestational", "The form asks a woman, not a man, about gestational diabetes.", "One of the two answers is wrong.", "Correct the sex, or leave the answer out.")
	case a.Sex == Female || a.Gestational != "":
		c.answer("gestational", gestationalLabel, a.Gestational)
	}
	c.answer("family", adaFamilyLabel, a.Family)
	c.answer("blood-pressure", bloodPressureLabel, a.BloodPressure)
	c.answer("active", adaActiveLabel, a.Active)
	c.length("height", heightLabel, a.Height, minHeight, maxHeight)
	c.weight(a.Weight)
	if err := c.err(); err != nil {
		return Result{}, err
	}

	sex := Item{Item: "sex", Answer: string(a.Sex), Label: sexLabel, Shown: womanText}
	gestational := asked("gestational", gestationalLabel, a.Gestational, Yes, 1)
	notes := append([]Text(nil), adaNotes...)
	if a.Sex == Male {
		sex.Points, sex.Shown = 1, manText
		gestational.Answer, gestational.Shown = "not asked", notAskedText
	} else {
		notes = append(notes, adaWomanNote)
	}
	return result(ScoreADA, []Item{
		ageItem(a.Age, adaAges),
		sex,
		gestational,
		asked("family", adaFamilyLabel, a.Family, Yes, 1),
		asked("blood-pressure", bloodPressureLabel, a.BloodPressure, Yes, 1),
		asked("active", adaActiveLabel, a.Active, No, 1),
		weightItem(a.Weight, a.Height),
	}, adaBands, ADACut, ADASource, notes), nil
}

// weightItem gives the weight's points by the chart or by BMI and says which limit it met.
func weightItem(w Weight, h Length) Item {
	it := Item{Item: "weight", Answer: w.String() + ", " + h.String(), Label: weightLabel}
	row, ok := rowOf(h)
	if !ok {
		limits := []int64{25, 30, 40}
		it.Points = reached(limits, func(n int64) bool { return compareBMI(w, h, n) >= 0 })
		if it.Points == 0 {
			it.Shown = Text{it.Answer + ": BMI under 25", it.Answer + ": IMC menos de 25"}
		} else {
			n := limits[it.Points-1]
			it.Shown = Text{fmt.Sprintf("%s: BMI %d or more", it.Answer, n), fmt.Sprintf("%s: IMC %d o más", it.Answer, n)}
		}
		return it
	}
	limits := []int64{row.one, row.two, row.three}
	it.Points = reached(limits, func(n int64) bool { return w.units >= n*perPound })
	name := Length{row.inches * umPerInch, "ft"}
	if it.Points == 0 {
		it.Shown = Text{fmt.Sprintf("%s: chart %s, under %d lb", it.Answer, name, row.one), fmt.Sprintf("%s: tabla %s, menos de %d lb", it.Answer, name, row.one)}
	} else {
		n := limits[it.Points-1]
		it.Shown = Text{fmt.Sprintf("%s: chart %s, %d lb or more", it.Answer, name, n), fmt.Sprintf("%s: tabla %s, %d lb o más", it.Answer, name, n)}
	}
	return it
}

// reached counts how many of the rising limits are met.
func reached(limits []int64, met func(int64) bool) int {
	points := 0
	for _, n := range limits {
		if met(n) {
			points++
		}
	}
	return points
}

// rowOf gives the row of the chart for a height, and false for a height outside the chart.
func rowOf(h Length) (chartRow, bool) {
	first, last := weightChart[0].inches*umPerInch, weightChart[len(weightChart)-1].inches*umPerInch
	if h.um < first || h.um > last {
		return chartRow{}, false
	}
	return weightChart[(h.um-first+umPerInch/2-1)/umPerInch], true
}
