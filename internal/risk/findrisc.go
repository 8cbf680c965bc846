package risk

import "fmt"

// FindriscSource is the publication and the form that Findrisc follows. Forms with other age groups, or with two points for
// vegetables, are in use in places; they give other totals.
const FindriscSource = "Lindström J, Tuomilehto J, Diabetes Care 2003;26:725-731; Finnish form with 8 items and 26 points (ages from 45, 55 and 65)"

// FindriscCut is where the form's band "high" begins. The form prints bands and no single cut point.
const FindriscCut = 15

// findriscMax is our sum of the most points of every item.
const findriscMax = 26

// Kin is the nearest relative with diabetes of either type.
type Kin string

// The answers that the Finnish form knows.
const (
	NoKin      Kin = "none"
	FurtherKin Kin = "further" // grandparent, aunt, uncle or first cousin, and nobody nearer
	CloseKin   Kin = "close"   // parent, brother, sister or own child
)

// FindriscAnswers are the answers to the Finnish form. Age is in whole years.
type FindriscAnswers struct {
	Age                   int
	Sex                   Sex // chooses the limits of the waist
	Height                Length
	Weight                Weight
	Waist                 Length // below the ribs, usually at the navel
	Active                Answer // at least 30 minutes a day, at work or in leisure
	Vegetables            Answer // vegetables, fruit or berries every day
	BloodPressureMedicine Answer // ever regular medicine for high blood pressure
	HighGlucose           Answer // ever found to have high blood glucose, for example in pregnancy
	Family                Kin
}

// Finnish form: under 45 gives 0, 45-54 gives 2, 55-64 gives 3, over 64 gives 4.
var findriscAges = []ageStep{{45, 2}, {55, 3}, {65, 4}}

// Finnish form: waist in cm, men 94-102, women 80-88; the range gives 3, both ends included, and more than it gives 4.
var waistRange = map[Sex][2]int64{Male: {94, 102}, Female: {80, 88}}

// The shares within ten years are those that the form prints.
var findriscBands = []Band{
	{"low", 0, 6, Text{"low", "bajo"}, Text{
		"By this form about 1 in 100 people with such a score develop type 2 diabetes within 10 years." + notRuledOutEn,
		"Según este formulario, cerca de 1 de cada 100 personas con este puntaje desarrolla diabetes tipo 2 en 10 años." + notRuledOutEs,
	}},
	{"slightly-elevated", 7, 11, Text{"slightly elevated", "ligeramente elevado"}, Text{
		"By this form about 1 in 25 people with such a score develop type 2 diabetes within 10 years." + notRuledOutEn,
		"Según este formulario, cerca de 1 de cada 25 personas con este puntaje desarrolla diabetes tipo 2 en 10 años." + notRuledOutEs,
	}},
	{"moderate", 12, 14, Text{"moderate", "moderado"}, Text{
		"By this form about 1 in 6 people with such a score develop type 2 diabetes within 10 years. Ask a clinician whether a laboratory test is due.",
		"Según este formulario, cerca de 1 de cada 6 personas con este puntaje desarrolla diabetes tipo 2 en 10 años. Pregunte a un profesional de salud si conviene una prueba de laboratorio.",
	}},
	{"high", FindriscCut, 20, Text{"high", "alto"}, Text{
		"Increased risk: by this form about 1 in 3 people with such a score develop type 2 diabetes within 10 years." + askEn,
		"Riesgo aumentado: según este formulario, cerca de 1 de cada 3 personas con este puntaje desarrolla diabetes tipo 2 en 10 años." + askEs,
	}},
	{"very-high", 21, findriscMax, Text{"very high", "muy alto"}, Text{
		"Increased risk: by this form about 1 in 2 people with such a score develop type 2 diabetes within 10 years." + askEn,
		"Riesgo aumentado: según este formulario, cerca de 1 de cada 2 personas con este puntaje desarrolla diabetes tipo 2 en 10 años." + askEs,
	}},
}

const (
	notRuledOutEn = " It does not rule out diabetes: anyone with symptoms or worries can ask a clinician for a laboratory test."
	notRuledOutEs = " No descarta la diabetes: quien tenga síntomas o dudas puede pedir a un profesional de salud una prueba de laboratorio."
	askEn         = " Only a laboratory test can tell more: ask a clinician for one."
	askEs         = " Solo una prueba de laboratorio puede decir más: pídala a un profesional de salud."
)

var findriscNotes = []Text{{
	"The form prints bands and no single cut point; 15 is where its high band begins.",
	"El formulario da rangos y no un solo punto de corte; 15 es donde empieza su rango alto.",
}}

var (
	bmiLabel            = Text{"Body mass index (BMI) from weight and height", "Índice de masa corporal (IMC) por peso y estatura"}
	waistLabel          = Text{"Waist", "Cintura"}
	findriscActiveLabel = Text{"At least 30 minutes of physical activity every day", "Al menos 30 minutos de actividad física cada día"}
	vegetablesLabel     = Text{"Vegetables, fruit or berries every day", "Verduras, fruta o bayas cada día"}
	medicineLabel       = Text{"Ever took medicine for high blood pressure regularly", "Alguna vez tomó con regularidad medicina para la presión alta"}
	highGlucoseLabel    = Text{"Ever found to have high blood glucose", "Alguna vez le encontraron glucosa alta en la sangre"}
	kinLabel            = Text{"Relatives with diabetes", "Familiares con diabetes"}
)

// kinAnswers gives each answer about relatives its points and its words.
var kinAnswers = map[Kin]struct {
	points int
	shown  Text
}{
	NoKin:      {0, Text{"none", "ninguno"}},
	FurtherKin: {3, Text{"grandparent, aunt, uncle or first cousin", "abuelo, tía, tío o primo hermano"}},
	CloseKin:   {5, Text{"parent, brother, sister or own child", "padre, madre, hermano, hermana o hijo propio"}},
}

// Findrisc scores the Finnish form of 26 points. Its edges: 64 years is in 55-64; a BMI of exactly 25 or exactly 30 gives 1
// point; a waist of exactly 94 or 102 cm (man), 80 or 88 cm (woman) gives 3. All are compared exactly. An answer that is
// missing or cannot be right gives an Invalid fault with a message for every such field.
func Findrisc(a FindriscAnswers) (Result, error) {
	var c check
	c.age(a.Age)
	c.sex(a.Sex)
	c.length("height", heightLabel, a.Height, minHeight, maxHeight)
	c.weight(a.Weight)
	c.length("waist", waistLabel, a.Waist, minWaist, maxWaist)
	c.answer("active", findriscActiveLabel, a.Active)
	c.answer("vegetables", vegetablesLabel, a.Vegetables)
	c.answer("blood-pressure-medicine", medicineLabel, a.BloodPressureMedicine)
	c.answer("high-glucose", highGlucoseLabel, a.HighGlucose)
	kin, known := kinAnswers[a.Family]
	switch {
	case a.Family == "":
		c.missing("family", kinLabel)
	case !known:
		c.bad("family", fmt.Sprintf("%q is no answer to: %s.", string(a.Family), kinLabel.En), "The points depend on how near the relative is.",
			"Give none, further (grandparent, aunt, uncle, first cousin) or close (parent, brother, sister, own child).")
	}
	if err := c.err(); err != nil {
		return Result{}, err
	}
	return result(ScoreFindrisc, []Item{
		ageItem(a.Age, findriscAges),
		bmiItem(a.Weight, a.Height),
		waistItem(a.Waist, a.Sex),
		asked("active", findriscActiveLabel, a.Active, No, 2),
		asked("vegetables", vegetablesLabel, a.Vegetables, No, 1),
		asked("blood-pressure-medicine", medicineLabel, a.BloodPressureMedicine, Yes, 2),
		asked("high-glucose", highGlucoseLabel, a.HighGlucose, Yes, 5),
		{"family", string(a.Family), kin.points, kinLabel, kin.shown},
	}, findriscBands, FindriscCut, FindriscSource, append([]Text(nil), findriscNotes...)), nil
}

// bmiItem gives 0 points under 25 kg/m², 1 from 25 to 30, both included, and 3 above 30.
func bmiItem(w Weight, h Length) Item {
	it := Item{Item: "bmi", Answer: w.String() + ", " + h.String(), Label: bmiLabel}
	switch {
	case compareBMI(w, h, 30) > 0:
		it.Points, it.Shown = 3, Text{it.Answer + ": BMI over 30", it.Answer + ": IMC más de 30"}
	case compareBMI(w, h, 25) >= 0:
		it.Points, it.Shown = 1, Text{it.Answer + ": BMI 25 to 30", it.Answer + ": IMC de 25 a 30"}
	default:
		it.Shown = Text{it.Answer + ": BMI under 25", it.Answer + ": IMC menos de 25"}
	}
	return it
}

func waistItem(waist Length, sex Sex) Item {
	low, high := waistRange[sex][0], waistRange[sex][1]
	it := Item{Item: "waist", Answer: waist.String(), Label: waistLabel}
	switch {
	case waist.um > high*umPerCM:
		it.Points = 4
		it.Shown = Text{fmt.Sprintf("%s: over %d cm", waist, high), fmt.Sprintf("%s: más de %d cm", waist, high)}
	case waist.um >= low*umPerCM:
		it.Points = 3
		it.Shown = Text{fmt.Sprintf("%s: %d to %d cm", waist, low, high), fmt.Sprintf("%s: de %d a %d cm", waist, low, high)}
	default:
		it.Shown = Text{fmt.Sprintf("%s: under %d cm", waist, low), fmt.Sprintf("%s: menos de %d cm", waist, low)}
	}
	return it
}
