package bank

import (
	"fmt"
	"math/rand/v2"
	"time"

	"fairstick/internal/civil"
	"fairstick/internal/competence/cards"
	"fairstick/internal/control"
	"fairstick/internal/fault"
	"fairstick/internal/glucose"
	"fairstick/internal/protocol"
)

var controlMakers = []Maker{
	{Key: "made-control", Topic: Controls, From: cards.Screener, Source: "control-practice", Critical: true, make: makeControl},
	{Key: "made-control-lots", Topic: Controls, From: cards.Screener, Source: "control-practice", make: makeControlLots},
	{Key: "made-clearance", Topic: Controls, From: cards.Screener, Source: "cdc-waived", Critical: true, make: makeClearance},
	{Key: "made-control-age", Topic: Controls, From: cards.Screener, Source: "control-practice", make: makeControlAge},
}

// printedRange gives a range as it could stand on a vial, in either unit.
func printedRange(r *rand.Rand) (low, high glucose.Value) {
	if r.IntN(2) == 0 {
		n := pick(r, 30, 40, 95, 105, 240, 260) + r.IntN(20)
		return glucose.MgDL(n), glucose.MgDL(n + 25 + r.IntN(30))
	}
	n := pick(r, 17, 22, 53, 58, 133, 145) + r.IntN(10)
	return glucose.Mmol(n), glucose.Mmol(n + 14 + r.IntN(17))
}

var verdicts = []protocol.Text{
	text("In range", "En rango"), text("Out of range", "Fuera de rango"), text("No value", "Sin valor"), text("It depends on the mean", "Depende del promedio"),
}

func verdictPlace(v control.Verdict) int {
	switch v {
	case control.InRange:
		return 0
	case control.OutOfRange:
		return 1
	case control.NoValue:
	}
	return 2
}

func makeControl(r *rand.Rand, _ protocol.Protocol) (draft, error) {
	low, high := printedRange(r)
	v := glucose.Value{Steps: pick(r, low.Steps-1, low.Steps, low.Steps+3, high.Steps-2, high.Steps, high.Steps+1, high.Steps+6), Unit: low.Unit}
	reading := glucose.Number(v)
	if r.IntN(8) == 0 {
		reading = glucose.ErrorCode("E-5", low.Unit)
	}
	verdict, err := control.Judge(reading, low, high)
	if err != nil {
		return draft{}, err
	}
	return choose(textf("The printed range is %s to %s. The control shows %s. What is that?", "El rango impreso es %s a %s. El control muestra %s. ¿Qué es?", low.Number(), high, reading.String()),
		text("Both ends belong to the range. An error code is no value.", "Los dos extremos son parte del rango. Un código de error no es un valor."),
		verdicts, verdictPlace(verdict)), nil
}

func makeControlLots(r *rand.Rand, _ protocol.Protocol) (draft, error) {
	low, high := printedRange(r)
	shift := 5 + r.IntN(8)
	otherLow, otherHigh := low, high
	otherLow.Steps, otherHigh.Steps = low.Steps+shift, high.Steps+shift
	v := glucose.Value{Steps: pick(r, low.Steps+1, high.Steps+2, otherHigh.Steps, low.Steps+shift), Unit: low.Unit}
	verdict, err := control.Judge(glucose.Number(v), low, high)
	if err != nil {
		return draft{}, err
	}
	return choose(textf("Your vial is lot B: %s to %s. The old lot A had %s to %s. The control shows %s. What is that?",
		"Su frasco es del lote B: %s a %s. El viejo lote A tenía %s a %s. El control muestra %s. ¿Qué es?", low.Number(), high, otherLow.Number(), otherHigh, v),
		text("Only the range of the lot in use counts.", "Solo cuenta el rango del lote en uso."),
		[]protocol.Text{verdicts[0], verdicts[1], verdicts[2], text("Good enough", "Suficiente")}, verdictPlace(verdict)), nil
}

// clearances are the answers about a meter, by the key of its clearance.
var clearances = []struct {
	key  string
	text protocol.Text
}{
	{control.KeyCleared, text("Yes", "Sí")},
	{control.KeyFailed, text("No, a level is out of range", "No, un nivel está fuera de rango")},
	{control.KeyMissing, text("No, a level was not run", "No, falta probar un nivel")},
	{control.KeyNoCause, text("No, no cause is written", "No, no se anotó la causa")},
}

func makeClearance(r *rand.Rand, p protocol.Protocol) (draft, error) {
	levels := p.Controls.Levels
	if len(levels) < 2 {
		return draft{}, fault.New(fault.Invalid, "protocol-silent", "The protocol names fewer than two control levels.", "Nothing can be asked about them.", "Tell the lead.")
	}
	low, high := glucose.MgDL(100), glucose.MgDL(140)
	start := civil.Clock(8*60 + r.IntN(30))
	day := someDay(r)
	var runs []control.Run
	said := text("", "")
	add := func(level string, steps int, cause string) {
		at := clockOf(start, 4*len(runs))
		runs = append(runs, control.Run{
			ID: fmt.Sprint(len(runs)), Meter: "m", Lot: "l", Level: level, At: at.On(day, time.UTC), Low: low, High: high,
			Reading: glucose.Number(glucose.MgDL(steps)), Cause: cause,
		})
		word := text("in range", "en rango")
		if steps > high.Steps {
			word = text("out of range", "fuera de rango")
		}
		note := text("", "")
		if cause != "" {
			note = text(", with the cause written down", ", con la causa anotada")
		}
		said = fill(text("%s%s level %s %s%s.", "%s%s nivel %s %s%s."), said, plain(" %s", at), plain("%s", level), word, note)
	}
	in, out := 101+r.IntN(38), 141+r.IntN(40)
	switch r.IntN(5) {
	case 0:
		add(levels[0], in, "")
		add(levels[1], in, "")
	case 1:
		add(levels[0], in, "")
		add(levels[1], out, "")
	case 2:
		add(levels[r.IntN(2)], in, "")
	case 3:
		add(levels[0], in, "")
		add(levels[1], out, "")
		add(levels[1], in, "")
	default:
		add(levels[0], out, "old drop on the tip")
		add(levels[0], in, "")
		add(levels[1], in, "")
	}
	c := control.Clear("m", "l", "", runs, nil, control.Rule{Levels: levels, RunsWithoutCause: p.Controls.RunsWithoutCause})
	for i, x := range clearances {
		if x.key == c.Key {
			var options []protocol.Text
			for _, y := range clearances {
				options = append(options, y.text)
			}
			return choose(fill(text("The controls of one meter:%s May it test people?", "Los controles de un medidor:%s ¿Puede medir a personas?"), said),
				text("All levels must be in range, and a miss needs a written cause even when a later run passes.", "Todos los niveles deben estar en rango, y un fallo necesita causa anotada aunque después pase."),
				options, i), nil
		}
	}
	return draft{}, fmt.Errorf("the clearance %q has no answer", c.Key)
}

func makeControlAge(r *rand.Rand, p protocol.Protocol) (draft, error) {
	days := p.Controls.InUseDays
	if days < 1 {
		return draft{}, fault.New(fault.Invalid, "protocol-silent", "The protocol has no in-use days for controls.", "Nothing can be asked about them.", "Tell the lead.")
	}
	opened := someDay(r)
	printed := opened.AddDays(pick(r, days-40, days-15, days+30, days+200))
	last := civil.Earlier(opened.AddDays(days), printed)
	d := draft{
		stem: fill(text("A control was opened on %s. It is good for %s days after that. The bottle says %s. Which day is its last?",
			"Un control se abrió el %s. Sirve %s días después. El frasco dice %s. ¿Cuál es su último día?"), Day(opened), plain("%d", days), Day(printed)),
		why:   text("The day of opening is day 0. The earlier of the two dates holds.", "El día de apertura es el día 0. Vale la fecha más temprana."),
		right: Day(last),
	}
	other := printed
	if other == last {
		other = opened.AddDays(days)
	}
	d.wrong = append(d.wrong, Day(other))
	for _, shift := range around(r, 2, []int{-11, -7, -3, -1}, []int{1, 4, 7, 30}) {
		if w := last.AddDays(shift); w != other {
			d.wrong = append(d.wrong, Day(w))
		}
	}
	return d, nil
}

var codeMakers = []Maker{
	{Key: "made-code", Topic: Codes, From: cards.Screener, Source: "raine-2007", Critical: true, make: makeCode},
	{Key: "made-expiry", Topic: Codes, From: cards.Screener, Source: "protocol", make: makeExpiry},
	{Key: "made-strip-age", Topic: Codes, From: cards.Screener, Source: "control-practice", make: makeStripAge},
}

func makeCode(r *rand.Rand, _ protocol.Protocol) (draft, error) {
	vial := 10 + r.IntN(40)
	meter := pick(r, vial, vial, vial+1, vial+10, 10*(vial%10)+vial/10)
	right := 1
	if vial == meter {
		right = 0
	}
	return choose(textf("The vial says code %02d. The meter shows %02d. What do you do?", "El frasco dice código %02d. El medidor muestra %02d. ¿Qué hace?", vial, meter),
		text("A wrong code shifts every reading and gives no sign.", "Un código equivocado cambia todos los valores sin aviso."),
		[]protocol.Text{
			text("Go on; they match", "Seguir; coinciden"), text("Set the meter to the vial", "Poner el del frasco"),
			text("Write both down, go on", "Anotar los dos y seguir"), text("Use the lower one", "Usar el menor"),
		}, right), nil
}

var usable = []protocol.Text{text("Yes", "Sí"), text("No", "No"), text("Only for controls", "Solo para controles"), text("Only for repeats", "Solo para repetir")}

func makeExpiry(r *rand.Rand, _ protocol.Protocol) (draft, error) {
	month := someDay(r)
	label := fmt.Sprintf("%04d-%02d", month.Year, int(month.Month))
	last, err := civil.ParseExpiry(label)
	if err != nil {
		return draft{}, err
	}
	today := last.AddDays(pick(r, -12, 0, 1, -1, 5))
	right := 0
	if today.After(last) {
		right = 1
	}
	return choose(fill(text("The vial says: use by %s. Today is %s. May you use its strips?", "El frasco dice: usar hasta %s. Hoy es %s. ¿Puede usar sus tiras?"), plain("%s", label), Day(today)),
		text("A month alone lasts through its last day.", "Un mes solo dura hasta su último día."), usable, right), nil
}

func makeStripAge(r *rand.Rand, _ protocol.Protocol) (draft, error) {
	days := pick(r, 30, 60, 90, 180)
	opened := someDay(r)
	last := opened.AddDays(days)
	today := last.AddDays(pick(r, -1, 0, 1, 2, -10))
	right := 0
	if today.After(last) {
		right = 1
	}
	return choose(fill(text("Strips were opened on %s. The insert gives them %s days. Today is %s. May you use them?", "Las tiras se abrieron el %s. El instructivo les da %s días. Hoy es %s. ¿Puede usarlas?"),
		Day(opened), plain("%d", days), Day(today)),
		text("The day of opening is day 0, and the last day still counts.", "El día de apertura es el día 0, y el último día todavía cuenta."), usable, right), nil
}
