package web

import (
	"cmp"

	"fairstick/internal/fault"
	"fairstick/internal/incident"
	"fairstick/internal/programme"
	"fairstick/internal/web/ui"
)

// incidentForm is the log of one incident as fields.
type incidentForm struct {
	Form   dayForm
	Fields []item
	Filled bool
	Facts  [][2]string // what stands in it, for reading
}

// incidentForm makes the fields that a sort of incident has. A person's name is asked from a lead alone.
func (c *Context) incidentForm(d *programme.Day, s *incident.State, refused string, f *fault.Fault) incidentForm {
	form := c.dayForm("form", incidentPath(d, s)+"/form", refused, f)
	x := incident.Described{Area: incidentPlace(s), How: s.Report.What, Meter: s.Report.Meter, StripLot: s.Report.StripLot}
	out := incidentForm{Form: form, Filled: s.Details != nil}
	if s.Details != nil {
		x = *s.Details
	} else if c.Device.Event == d.Event.ID && x.Area == "" {
		x.Area = stationName(c.Device)
	}
	choose := func(name, label, value string, list []ui.Option) ui.Input {
		in := size(form.line(name, label, value), ui.Medium, ui.Select, "")
		in.Options = withNone(list)
		return in
	}
	long := func(in ui.Input, most int) ui.Input { in.MaxLength = most; return in }
	sort := s.Report.Sort
	add := func(in ...item) { out.Fields = append(out.Fields, in...) }
	add(field(size(form.line("happened", "When it happened", s.Happened().In(d.Event.Zone()).Format("15:04")), ui.Short, ui.Time, "")))
	if sort == incident.SharpsInjury {
		add(pair(choose("device", "Type of device", x.Device, deviceOptions), long(form.line("brand", "Brand, as it stands on it", x.Brand), 60)),
			field(optional(long(size(form.line("lancet_lot", "Lot of the lancets", x.LancetLot), ui.Medium, ui.Text, ""), 40))))
	}
	if sort == incident.Splash {
		add(pick(form.choice("site", "Where did the blood go?", x.Site, siteOptions...)))
	}
	if sort.Exposure() {
		add(pair(long(form.line("area", "Work area", x.Area), 60), choose("phase", "When in the work", x.Phase, phaseOptions)))
	} else {
		add(field(optional(long(size(form.line("area", "Where", x.Area), ui.Medium, ui.Text, ""), 60))))
	}
	add(field(long(size(form.line("how", "What happened, and how", x.How), ui.Full, ui.Area, "No names, nothing medical: the clinician asks about that."), 500)))
	if sort.Exposure() {
		add(field(choose("role", "Whose injury, by role", x.Role, hurtOptions)))
	} else {
		add(field(optional(choose("role", "Whom it concerns, by role", x.Role, hurtOptions))))
	}
	if sort == incident.SharpsInjury {
		add(field(choose("sharps", "The sharps container", x.Sharps, sharpsOptions)))
	}
	if sort == incident.DeviceProblem || sort == incident.ResultProblem {
		meters, lots := gearOptions(d)
		m, l := size(form.line("meter", "Meter", x.Meter), ui.Medium, ui.Select, ""), size(form.line("strip_lot", "Strips", x.StripLot), ui.Medium, ui.Select, "")
		m.Options, l.Options = meters, lots
		add(pair(optional(m), optional(l)))
	}
	if c.holds(lead) {
		who := size(form.line("person", "Who, of the staff", x.Person), ui.Medium, ui.Select, "Only a lead sees this. It is in no file.")
		who.Options = []ui.Option{{Value: "", Label: "Not kept"}}
		for _, p := range d.People {
			if p.Gone == "" {
				who.Options = append(who.Options, ui.Option{Value: p.ID, Label: p.Details.Name})
			}
		}
		add(field(optional(who)))
	}
	if s.Details != nil {
		out.Facts = incidentFacts(d, s, c.holds(lead))
	}
	return out
}

// incidentFacts is what stands in the form, label by label; whose it is by name only for a lead.
func incidentFacts(d *programme.Day, s *incident.State, named bool) [][2]string {
	x := s.Details
	out := [][2]string{{"When it happened", s.Happened().In(d.Event.Zone()).Format("2 Jan 2006, 15:04")}}
	add := func(label, value string) {
		if value != "" {
			out = append(out, [2]string{label, value})
		}
	}
	add("Type of device", optionWord(deviceOptions, x.Device))
	add("Brand", x.Brand)
	add("Lot of the lancets", x.LancetLot)
	add("Work area", x.Area)
	add("Where the blood went", optionWord(siteOptions, x.Site))
	add("When in the work", optionWord(phaseOptions, x.Phase))
	add("What happened, and how", x.How)
	add("Role", optionWord(hurtOptions, x.Role))
	add("Sharps container", optionWord(sharpsOptions, x.Sharps))
	if m := d.MeterByID(s.Meter()); m != nil {
		add("Meter", m.Details.Label)
	}
	if l := d.StripLotByID(s.StripLot()); l != nil {
		add("Strips", "lot "+l.Details.Lot)
	}
	if named && x.Person != "" {
		add("Who (for leads alone)", d.NameOf(x.Person))
	}
	return out
}

// incidentAct runs one command on an incident; a refusal shows the page again with what was typed.
func incidentAct(c *Context, scope, said string, run func(*programme.Day, *incident.State) error) error {
	d, s, err := c.incident()
	if err != nil {
		return err
	}
	if err := run(d, s); err != nil {
		f := fault.Of(err)
		if f.Kind == fault.Internal {
			return err
		}
		return c.showIncident(scope, f)
	}
	return c.Done(incidentPath(d, s), said)
}

func incidentDescribe(s *Server, c *Context) error {
	return incidentAct(c, "form", "The log is filled in.", func(d *programme.Day, x *incident.State) error {
		if !programme.MayReadIncident(c.Me, x) && x.Details != nil {
			return fault.New(fault.Denied, "role", c.Me.Details.Name+" may not change what was written here.", "The log of an incident is kept close.", "Ask who reported it, or a supervisor.")
		}
		cmd := programme.DescribeIncident{
			Act: c.Act(), Incident: x.ID, Device: c.Form("device"), Brand: c.Form("brand"), LancetLot: c.Form("lancet_lot"), Area: c.Form("area"), Site: c.Form("site"),
			Phase: c.Form("phase"), How: c.Form("how"), Role: c.Form("role"), Person: c.Form("person"), Sharps: c.Form("sharps"), Meter: c.Form("meter"), StripLot: c.Form("strip_lot"),
		}
		zone := d.Event.Zone()
		at, err := clockOn(c, "happened", d.Event.Day(x.Happened()), zone)
		if err != nil {
			return err
		}
		if at.Format("15:04") != x.At.In(zone).Format("15:04") { // the same minute keeps its seconds
			cmd.Happened = at
		}
		_, err = s.prog.DescribeIncident(c.R.Context(), c.Actor(), cmd)
		return err
	})
}

// doneAt is the act of the form with when it was done, if that was not now.
func (c *Context) doneAt(d *programme.Day, x *incident.State) (programme.Act, error) {
	act := c.Act()
	var err error
	act.At, err = clockOn(c, "at", d.Event.Day(x.Happened()), d.Event.Zone())
	if err == nil && !act.At.IsZero() && act.At.Before(x.Happened()) && act.At.Format("15:04") == x.Happened().In(d.Event.Zone()).Format("15:04") {
		act.At = x.Happened() // the same minute, whose seconds nobody typed
	}
	return act, err
}

func incidentStep(s *Server, c *Context) error {
	step := c.Form("step")
	return incidentAct(c, "step-"+step, cmp.Or(incidentStepWords[step], "It")+": written down.", func(d *programme.Day, x *incident.State) error {
		act, err := c.doneAt(d, x)
		if err != nil {
			return err
		}
		_, err = s.prog.IncidentStep(c.R.Context(), c.Actor(), programme.IncidentStep{Act: act, Incident: x.ID, Step: step, Choice: c.Form("choice"), Note: c.Form("note")})
		return err
	})
}

func incidentTell(s *Server, c *Context) error {
	return incidentAct(c, "tell", "The supervisor knows. The call on the other screens has ended.", func(d *programme.Day, x *incident.State) error {
		act, err := c.doneAt(d, x)
		if err != nil {
			return err
		}
		_, err = s.prog.TellIncident(c.R.Context(), c.Actor(), programme.TellIncident{Act: act, Incident: x.ID, Sign: c.Sign("sign")})
		return err
	})
}

func incidentClose(s *Server, c *Context) error {
	return incidentAct(c, "close", "The incident is closed.", func(_ *programme.Day, x *incident.State) error {
		_, err := s.prog.CloseIncident(c.R.Context(), c.Actor(), programme.CloseIncident{Act: c.Act(), Incident: x.ID, Note: c.Form("note"), Sign: c.Sign("sign")})
		return err
	})
}

func incidentWithdraw(s *Server, c *Context) error {
	return incidentAct(c, "withdraw", "The incident is withdrawn. It stays in the record.", func(_ *programme.Day, x *incident.State) error {
		_, err := s.prog.WithdrawIncident(c.R.Context(), c.Actor(), programme.WithdrawIncident{Act: c.Act(), Incident: x.ID, Reason: c.Form("reason")})
		return err
	})
}

// incidentQuarantine takes the meter or the lot of an incident out of use, and writes down in the incident that this was done.
func incidentQuarantine(s *Server, c *Context) error {
	what := c.Form("out")
	return incidentAct(c, "quarantine", "It is out of use. No station can test with it.", func(d *programme.Day, x *incident.State) error {
		reason := incidentWord(x.Report.Sort) + " at " + x.Happened().In(d.Event.Zone()).Format("15:04")
		var err error
		switch {
		case what == "meter" && x.Meter() != "":
			_, err = s.prog.QuarantineMeter(c.R.Context(), c.Actor(), programme.QuarantineMeter{Act: c.Act().Part("out"), Event: d.Event.ID, Meter: x.Meter(), Reason: reason})
		case what == "strip-lot" && x.StripLot() != "":
			_, err = s.prog.WithdrawStripLot(c.R.Context(), c.Actor(), programme.WithdrawStripLot{Act: c.Act().Part("out"), StripLot: x.StripLot(), Reason: reason})
		default:
			return fault.BadField("out", "Say first in the form which meter or lot it is about.")
		}
		if err != nil {
			return err
		}
		_, err = s.prog.IncidentStep(c.R.Context(), c.Actor(), programme.IncidentStep{Act: c.Act(), Incident: x.ID, Step: incident.Quarantined, Choice: what})
		return err
	})
}
