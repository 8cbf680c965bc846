package paper

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"fairstick/internal/about"
	"fairstick/internal/event"
	"fairstick/internal/glucose"
	"fairstick/internal/programme"
	"fairstick/internal/protocol"
)

// FormsOf gives the pack of an event in a language, without numbers: its rules are those of the protocol that the event
// runs under. The fault is that of a day without a protocol.
func FormsOf(d *programme.Day, lang string, printed time.Time, invented bool) (FormPack, error) {
	if d.ProtocolErr != nil {
		return FormPack{}, d.ProtocolErr
	}
	p, ev, who := d.Protocol, d.Event, d.Charter.Details
	sum := sha256.Sum256(p.Encode())
	f := FormPack{
		Lang: Labels(lang).Lang, Programme: who.Name, Event: ev.Plan.Name, Venue: ev.Plan.Venue, Address: ev.Plan.Address, Date: ev.Plan.Date,
		Emergency: ev.EmergencyNumber(who.Emergency), Contact: who.Contact, Hours: who.ContactHours, Certificate: who.Certificate,
		Protocol: p.Version, Fingerprint: hex.EncodeToString(sum[:4]), Printed: printed.In(ev.Zone()), Invented: invented,
		Consent: p.Consent.Text.In(lang), Version: p.Consent.Version, Fasting: p.FastingHours, Disclaimer: p.Disclaimer.In(lang), Levels: p.Controls.Levels,
		Urgent: routeText(ev.Plan.Urgent),
	}
	for _, s := range p.CrisisSigns {
		f.Signs = append(f.Signs, s.Text.In(lang))
	}
	for _, t := range p.Warnings {
		f.Warnings = append(f.Warnings, t.In(lang))
	}
	for _, t := range p.CanMislead {
		f.CanMislead = append(f.CanMislead, t.In(lang))
	}
	for _, r := range ev.Plan.Routes {
		if s := routeText(r); s != "" {
			f.Routes = append(f.Routes, s)
		}
	}
	for _, q := range p.Questions {
		f.Questions = append(f.Questions, FormQuestion{
			Text: q.Text.In(lang), Help: q.Help.In(lang), Note: questionNote(p, q, f.Lang), Signs: q.Kind == protocol.Signs, Age: q.Kind == protocol.Number,
		})
	}
	for _, end := range []bool{false, true} {
		for _, q := range about.Chosen(d.Charter.Asks, end) {
			f.About = append(f.About, aboutOf(q, lang))
		}
	}
	units := []glucose.Unit{}
	for _, m := range d.BroughtMeters() {
		f.Meters = append(f.Meters, FormMeter{Label: m.Details.Label, Serial: m.Details.Serial, Unit: string(m.Details.Unit)})
		if !slices.Contains(units, m.Details.Unit) {
			units = append(units, m.Details.Unit)
		}
	}
	if len(units) == 0 && who.Unit.Valid() {
		units = append(units, who.Unit)
	}
	slices.Sort(units)
	words := dayWordsFor(f.Lang)
	for _, u := range units {
		f.Units = append(f.Units, string(u))
	}
	for _, b := range protocol.Bands {
		f.Bands = append(f.Bands, bandOf(p, b, units, lang, words))
	}
	f.Repeat = words.repeat(p, units)
	f.Low = words.low(p.LowCare, lang)
	f.Never = p.LowCare.Never.In(lang)
	return f, nil
}

func aboutOf(q about.Question, lang string) FormAbout {
	out := FormAbout{Text: q.Text.In(lang), Help: q.Help.In(lang), Digits: q.Digits, Wide: q.Several, End: q.End}
	for _, o := range q.Options {
		out.Ticks = append(out.Ticks, o.Text.In(lang))
	}
	out.Ticks = append(out.Ticks, about.PreferNotText.In(lang))
	return out
}

func routeText(r event.Route) string { return join(", ", r.Name, r.Phone, r.Address, r.Hours, r.Note) }

func bandOf(p protocol.Protocol, b protocol.Band, units []glucose.Unit, lang string, words dayWords) FormBand {
	m := p.Messages[b]
	out := FormBand{Band: string(b), Word: m.Word.In(lang), When: m.When.In(lang), Where: m.Where.In(lang)}
	for _, a := range m.Advice {
		out.Advice = append(out.Advice, a.In(lang))
	}
	off := ""
	for _, k := range []glucose.Kind{glucose.Low, glucose.High} {
		if p.OffScale[k].Band == b {
			off = words.or + " " + string(k)
		}
	}
	for _, u := range units {
		out.Fasting = append(out.Fasting, words.span(p.Limits[protocol.Fasting][u], b, off))
		out.Random = append(out.Random, words.span(p.Limits[protocol.Random][u], b, off))
	}
	return out
}

// dayWords are the few words that stand between numbers of the protocol.
type dayWords struct {
	below, to, orMore, or   string
	stop, age, emergency    string
	repeatHigh, repeatLow   string // {limits}
	most, sugar, afterSugar string
}

var dayEnglish = dayWords{
	below: "below {high}", to: "{low} to {high}", orMore: "{low} or more", or: "or",
	stop: "Yes: not tested today.", age: "Under {age}: not tested today.", emergency: "Any sign: this is no screening. Call the supervisor.",
	repeatHigh: "Wash, dry and repeat on another finger before telling a result of {limits} or more, or HI", repeatLow: ", or below {limits}, or LO",
	most:  ". At most {n} sticks unless a supervisor agrees. After an error: new strip, not a repeat.",
	sugar: "Low and able to swallow: {g} g of fast sugar ({forms}); test again after {min} minutes.", afterSugar: " Still low after {n} times: emergency.",
}

var daySpanish = dayWords{
	below: "menos de {high}", to: "{low} a {high}", orMore: "{low} o más", or: "o",
	stop: "Sí: hoy no se hace la prueba.", age: "Menos de {age}: hoy no se hace la prueba.", emergency: "Cualquier señal: ya no es una prueba de detección. Llame al supervisor.",
	repeatHigh: "Lave, seque y repita en otro dedo antes de dar un resultado de {limits} o más, o HI", repeatLow: ", o menos de {limits}, o LO",
	most:  ". Como máximo {n} pinchazos, salvo que el supervisor acepte. Tras un error: tira nueva; no es repetición.",
	sugar: "Bajo y puede tragar: {g} g de azúcar rápida ({forms}); otra prueba tras {min} minutos.", afterSugar: " Sigue bajo tras {n} veces: emergencia.",
}

func dayWordsFor(lang string) dayWords {
	if lang == "es" {
		return daySpanish
	}
	return dayEnglish
}

// span writes the ends of a band with their unit, as the protocol compares them: from its own edge to the step below the next.
func (w dayWords) span(l protocol.Limits, b protocol.Band, off string) string {
	edges := []glucose.Value{l.CriticalBelow, l.LowBelow, l.RaisedFrom, l.HighFrom, l.CriticalFrom}
	i, pattern := b.Order(), w.to
	var low, high glucose.Value
	switch i {
	case 0:
		pattern, high = w.below, edges[0]
	case len(edges):
		pattern, low = w.orMore, edges[i-1]
	default:
		low, high = edges[i-1], edges[i]
		high.Steps--
	}
	unit := edges[0].Unit
	text := strings.NewReplacer("{low}", low.Number(), "{high}", high.Number()).Replace(pattern)
	return join(" ", text+string(nbsp)+string(unit), off)
}

func (w dayWords) repeat(p protocol.Protocol, units []glucose.Unit) string {
	limits := func(of map[glucose.Unit]glucose.Value) string {
		var out []string
		for _, u := range units {
			out = append(out, of[u].String())
		}
		return strings.Join(out, " / ")
	}
	return strings.ReplaceAll(w.repeatHigh, "{limits}", limits(p.Repeat.HighFrom)) + strings.ReplaceAll(w.repeatLow, "{limits}", limits(p.Repeat.LowBelow)) +
		strings.ReplaceAll(w.most, "{n}", strconv.Itoa(p.Repeat.MaxSticks))
}

func (w dayWords) low(c protocol.LowCare, lang string) string {
	forms := make([]string, len(c.Forms))
	for i, f := range c.Forms {
		forms[i] = f.In(lang)
	}
	return strings.NewReplacer("{g}", strconv.Itoa(c.SugarGrams), "{forms}", strings.Join(forms, "; "), "{min}", strconv.Itoa(c.RecheckMinutes)).Replace(w.sugar) +
		strings.ReplaceAll(w.afterSugar, "{n}", strconv.Itoa(c.MostRounds))
}

func questionNote(p protocol.Protocol, q protocol.Question, lang string) string {
	w := dayWordsFor(lang)
	switch {
	case q.Kind == protocol.Number:
		return strings.ReplaceAll(w.age, "{age}", strconv.Itoa(p.MinAge))
	case q.Effect == protocol.Exclude:
		return w.stop
	case q.Effect == protocol.IsEmergency:
		return w.emergency
	}
	if s := q.Sentence.In(lang); s != "" {
		yes := formLabels(lang).Yes
		return fmt.Sprintf("%s: %s", yes, s)
	}
	return ""
}
