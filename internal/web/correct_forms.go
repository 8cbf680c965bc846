package web

import (
	"fmt"
	"strings"
	"time"

	"fairstick/internal/event"
	"fairstick/internal/fault"
	"fairstick/internal/programme"
	"fairstick/internal/protocol"
	"fairstick/internal/stock"
	"fairstick/internal/visit"
	"fairstick/internal/web/ui"
)

// correctForm is the form of one kind of correction with what stands in it, or, after a refusal and when a preview is
// changed once more, with what was typed.
func (c *Context) correctForm(d *programme.Day, f *fault.Fault) (officeForm, error) {
	form := officeForm{Form: c.dayForm("correct", c.R.URL.RequestURI(), "correct", f), Submit: "See what it touches", Plain: true}
	run := c.R.PathValue("run")
	if run != "" {
		x, ok := d.Run(run)
		if !ok {
			return form, fault.New(fault.Missing, "corrected-missing", "There is no such control run at this event.", "", "Open the controls again and choose it there.")
		}
		form.Parts = []part{{Items: runItems(form.Form, d, x)}}
		return form, nil
	}
	v := d.Visit(c.R.PathValue("visit"))
	if v == nil {
		return form, noVisit()
	}
	items, err := c.visitItems(form.Form, d, v, c.R.PathValue("kind"))
	form.Parts = []part{{Items: items}}
	return form, err
}

func noVisit() error {
	return fault.New(fault.Missing, "no-such-visit", "There is no such ticket at this event.", "The address may have been typed or linked wrongly.", "Go back to the list and choose the ticket there.")
}

func noKind() error {
	return fault.New(fault.Missing, "no-page", "There is no such page.", "The address may have been typed wrongly.", "Open the ticket again and choose what is wrong.")
}

func (c *Context) visitItems(f dayForm, d *programme.Day, v *visit.State, kind string) ([]item, error) {
	switch kind {
	case programme.CorrectReading, programme.CorrectTicket, programme.CorrectStruck:
		id := c.query("reading")
		for _, r := range v.Readings {
			if r.ID != id {
				continue
			}
			switch kind {
			case programme.CorrectReading:
				return readingItems(f, d, r), nil
			case programme.CorrectTicket:
				to := size(f.line("to", "Ticket of the person it was taken from", ""), ui.Short, ui.Number, "The number on their ticket.")
				to.Focus = true
				return []item{field(to)}, nil
			}
			return nil, nil
		}
		return nil, fault.New(fault.Missing, "corrected-missing", fmt.Sprintf("Ticket %s has no such reading.", ticketText(v.Ticket)),
			"It may have been corrected or moved in the meantime.", "Open the ticket again and choose the reading there.")
	case programme.CorrectFood:
		return foodItems(f, d, v), nil
	case programme.CorrectAnswers:
		return answerItems(f, d, v), nil
	case programme.CorrectOutcome:
		return []item{
			pick(f.choice("outcome", "How did it really end?", "",
				ui.Option{Value: programme.OutcomeOpen, Label: "It has not ended", Hint: "The person is here and goes on."},
				ui.Option{Value: programme.OutcomeLeft, Label: "The person left"},
				ui.Option{Value: programme.OutcomeDeclined, Label: "The person declined"},
				ui.Option{Value: programme.OutcomeFinished, Label: "It went its whole way", Hint: "Explained, with a slip."})),
			field(optional(f.line("why", "What is known about it", ""))),
		}, nil
	case programme.CorrectContact:
		now := programme.ContactNone
		if v.Contact != nil && *v.Contact {
			now = programme.ContactKept
		}
		if v.Call {
			now = programme.ContactCall
		}
		name, phone, when := optional(f.line("name", "Name", "")), optional(f.line("phone", "Telephone", "")), optional(f.line("when", "Best time to call", ""))
		address := optional(f.line("address", "Postal address", ""))
		name.Private, phone.Private, when.Private, address.Private = true, true, true, true
		phone.Kind = ui.Tel
		return []item{
			pick(f.choice("permission", "What did the participant allow?", now,
				ui.Option{Value: programme.ContactNone, Label: "No contact"},
				ui.Option{Value: programme.ContactKept, Label: "A name is kept, no calls"},
				ui.Option{Value: programme.ContactCall, Label: "The programme may call"})),
			field(name), field(phone), field(when), field(address),
		}, nil
	case programme.CorrectLanguage:
		var options []ui.Option
		for _, l := range programme.Languages {
			options = append(options, ui.Option{Value: l, Label: languageName(l)})
		}
		return []item{pick(f.choice("language", "The participant's language", v.Language, options...))}, nil
	}
	return nil, noKind()
}

func meterOptions(d *programme.Day) []ui.Option {
	var out []ui.Option
	for _, m := range d.BroughtMeters() {
		out = append(out, ui.Option{Value: m.ID, Label: m.Details.Label})
	}
	return out
}

// vialOptions are the vials of the lots brought, each with its lot, as one choice.
func vialOptions(d *programme.Day) []ui.Option {
	var out []ui.Option
	for _, l := range d.BroughtLots() {
		for _, v := range l.Vials {
			out = append(out, ui.Option{Value: l.ID + "/" + v.Name, Label: "lot " + l.Details.Lot + ", vial " + v.Name})
		}
	}
	return out
}

func chosen(in ui.Input, options []ui.Option) ui.Input {
	in.Kind, in.Options, in.Width = ui.Select, options, ui.Medium
	return in
}

func readingItems(f dayForm, d *programme.Day, r visit.Reading) []item {
	u := string(r.Reading.Unit)
	value := unit(size(f.line("reading", "Reading", r.Reading.Shown()), ui.Short, ui.Text, "As the meter shows it: a number, LO, HI or the error code."), u)
	again := optional(unit(size(f.line("again", "The same once more", ""), ui.Short, ui.Text, "Only when the reading changes: from the meter's memory, not from the first box."), u))
	again.OptionalWord = "if it changes"
	return []item{
		pair(value, again),
		pair(chosen(f.line("meter", "Meter", r.Meter), meterOptions(d)), chosen(f.line("vial", "Strips", r.StripLot+"/"+r.Vial), vialOptions(d))),
		pick(ui.Pick{ID: f.id("washed"), Name: "washed", Legend: "Hands", Value: f.value("washed", yesNo(r.Washed)), Row: true, Error: f.wrong("washed"), Options: []ui.Option{
			{Value: "yes", Label: "Washed with soap and water"}, {Value: "no", Label: "Wiped, second drop"},
		}}),
		pick(f.choice("purpose", "What the reading was for", r.Purpose,
			ui.Option{Value: visit.First, Label: "First reading"}, ui.Option{Value: visit.Repeat, Label: "Repeat"}, ui.Option{Value: visit.Recheck, Label: "Recheck after sugar", Hint: "Never counts."})),
		tickBox(f.tick("same_stick", "The same drop as the strip before: no new lancet", !r.NewStick)),
		field(size(f.line("misfires", "Lancets that did not work", fmt.Sprint(r.Misfires)), ui.Short, ui.Number, "")),
	}
}

func foodItems(f dayForm, d *programme.Day, v *visit.State) []item {
	day, clock, known := "", "", true
	if v.Ate != nil {
		known = v.Ate.Known
	}
	if v.Ate != nil && v.Ate.Known {
		at := v.Ate.Last.In(d.Event.Zone())
		day, clock = at.Format("2006-01-02"), at.Format("15:04")
	}
	on, at := optional(size(f.line("ate_day", "Day", day), ui.Medium, ui.Date, "")), optional(size(f.line("ate_at", "Time", clock), ui.Short, ui.Time, ""))
	return []item{
		pick(ui.Pick{ID: f.id("known"), Name: "known", Legend: "When did the participant last eat, or drink anything but water?", Value: f.value("known", yesNo(known)), Row: true, Options: []ui.Option{
			{Value: "yes", Label: "At the time below"}, {Value: "no", Label: "Not known"},
		}}),
		pair(on, at),
	}
}

func answerItems(f dayForm, d *programme.Day, v *visit.State) []item {
	var out []item
	for _, q := range d.Protocol.Questions {
		name, now := "q-"+q.Key, ""
		if v.Answers != nil {
			now = v.Answers.Answers[q.Key]
		}
		switch q.Kind {
		case protocol.YesNo:
			p := f.choice(name, q.Text.In("en"), now, ui.Option{Value: "yes", Label: "Yes"}, ui.Option{Value: "no", Label: "No"}, ui.Option{Value: "", Label: "Not asked"})
			p.Row, p.Error = true, f.wrong(q.Key)
			out = append(out, pick(p))
		case protocol.Signs:
			var options []ui.Option
			for _, s := range d.Protocol.CrisisSigns {
				options = append(options, ui.Option{Value: s.Key, Label: s.Text.In("en")})
			}
			b := f.several(name, q.Text.In("en"), strings.Split(now, ","), options...)
			b.Error = f.wrong(q.Key)
			b.Help = "None ticked: no sign."
			out = append(out, tickBoxes(b))
		default:
			in := optional(size(f.line(name, q.Text.In("en"), now), ui.Short, ui.Number, ""))
			in.Error = f.wrong(q.Key)
			out = append(out, field(in))
		}
	}
	return out
}

func runItems(f dayForm, d *programme.Day, r event.Run) []item {
	u := string(r.Reading.Unit)
	var solutions []ui.Option
	for _, l := range d.ControlLots {
		for _, b := range l.Bottles {
			solutions = append(solutions, ui.Option{Value: l.ID + "/" + b.Name, Label: solutionLabel(l, b.Name)})
		}
	}
	again := optional(unit(size(f.line("again", "The same once more", ""), ui.Short, ui.Text, "Only when the reading changes."), u))
	again.OptionalWord = "if it changes"
	return []item{
		pair(unit(size(f.line("reading", "Control reading", r.Reading.Shown()), ui.Short, ui.Text, "As the meter shows it."), u), again),
		pair(chosen(f.line("meter", "Meter", r.Meter), meterOptions(d)), chosen(f.line("vial", "Strips", r.StripLot+"/"+r.Vial), vialOptions(d))),
		field(chosen(f.line("bottle", "Control solution", r.ControlLot+"/"+r.Bottle), solutions)),
		tickBox(f.tick("struck", "This run never happened", false)),
	}
}

func solutionLabel(l *stock.ControlLot, bottle string) string {
	return "level " + l.Details.Level + ", lot " + l.Details.Lot + ", bottle " + bottle
}

// typedCorrection reads a correction from the form.
func (c *Context) typedCorrection(d *programme.Day) (programme.Correct, error) {
	x := programme.Correct{Event: d.Event.ID, Visit: c.R.PathValue("visit"), Kind: c.R.PathValue("kind"), Fact: c.query("reading")}
	switch {
	case c.R.PathValue("run") != "":
		x.Kind, x.Fact = programme.CorrectControl, c.R.PathValue("run")
	case c.R.PathValue("group") != "":
		x.Kind, x.Values = programme.CorrectMemory, map[string]string{}
		for _, r := range d.DigitReadings(c.R.PathValue("group")) {
			if t := c.Form("value-" + r.Reading.ID); t != "" {
				x.Values[r.Reading.ID] = t
			}
		}
		return x, nil
	case d.Visit(x.Visit) == nil:
		return x, noVisit()
	}
	x.Reading, x.Again, x.Meter, x.Purpose = c.Form("reading"), c.Form("again"), c.Form("meter"), c.Form("purpose")
	x.StripLot, x.Vial, _ = strings.Cut(c.Form("vial"), "/")
	x.ControlLot, x.Bottle, _ = strings.Cut(c.Form("bottle"), "/")
	x.Washed, x.SameStick, x.Struck = c.Form("washed") == "yes", c.Form("same_stick") == "yes", c.Form("struck") == "yes"
	x.Outcome, x.Why, x.Permission = c.Form("outcome"), c.Form("why"), c.Form("permission")
	x.Name, x.Phone, x.When, x.Language = c.Form("name"), c.Form("phone"), c.Form("when"), c.Form("language")
	x.Address = c.Form("address")
	var err error
	if x.Misfires, err = c.Int("misfires", "Lancets that did not work"); err != nil {
		return x, err
	}
	switch x.Kind {
	case programme.CorrectTicket:
		return x, c.typedTicket(d, &x)
	case programme.CorrectFood:
		return x, c.typedFood(d, &x)
	case programme.CorrectAnswers:
		x.Answers = protocol.Answers{}
		for _, q := range d.Protocol.Questions {
			a := c.Form("q-" + q.Key)
			if q.Kind == protocol.Signs {
				if a = strings.Join(c.Forms("q-"+q.Key), ","); a == "" {
					a = protocol.NoSign
				}
			}
			if a != "" {
				x.Answers[q.Key] = a
			}
		}
	}
	return x, nil
}

func (c *Context) typedTicket(d *programme.Day, x *programme.Correct) error {
	n, err := c.Int("to", "The ticket")
	if err != nil {
		return err
	}
	for _, v := range d.Visits {
		if v.Ticket == n {
			x.To = v.ID
		}
	}
	return nil
}

func (c *Context) typedFood(d *programme.Day, x *programme.Correct) error {
	if x.AteKnown = c.Form("known") == "yes"; !x.AteKnown {
		return nil
	}
	at, err := time.ParseInLocation("2006-01-02 15:04", c.Form("ate_day")+" "+c.Form("ate_at"), d.Event.Zone())
	if err != nil {
		return fault.BadField("ate_at", "Give the day and the time of the last food, or choose Not known.")
	}
	x.AteAt = at
	return nil
}
