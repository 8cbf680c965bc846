package paper

// account is the sheet on which every printed number is accounted for.
func (sh *formSheet) account() []chunk {
	l := sh.l
	out := sh.para(0, formText, l.AccountHow, false)
	printed := []chunk{sh.row(
		box{label: l.FromTo, share: 2.2, read: true}, box{label: l.Language, share: 1.4, read: true}, box{label: l.Handed, share: 4, read: true})}
	printed = append(printed, sh.row(box{share: 2.2, label: FormNumber(sh.f.From) + " – " + FormNumber(sh.f.To), size: formAsk, deep: 26}, box{share: 1.4, label: sh.language(), size: formAsk, deep: 26}, box{share: 4, deep: 26}))
	for range 3 {
		printed = append(printed, sh.row(box{share: 2.2, deep: 26}, box{share: 1.4, deep: 26}, box{share: 4, deep: 26}))
	}
	out = append(out, sh.headed(l.PrintedRow, printed...)...)
	voided := []chunk{sh.row(box{label: l.VoidNumbers, share: 1.2, read: true}, box{label: l.Why, share: 5, read: true}, box{label: l.Initials, share: 1.6, read: true})}
	for range 7 {
		voided = append(voided, sh.row(box{share: 1.2, deep: 26}, box{share: 5, deep: 26}, box{share: 1.6, deep: 26}))
	}
	out = append(out, sh.headed(l.VoidedRow, voided...)...)
	back := []chunk{sh.row(box{label: l.FromTo, share: 3, read: true}, box{label: l.Count, share: 1.2, read: true}, box{label: l.Initials, share: 1.6, read: true})}
	for range 3 {
		back = append(back, sh.row(box{share: 3, deep: 26}, box{share: 1.2, deep: 26}, box{share: 1.6, deep: 26}))
	}
	out = append(out, sh.headed(l.BackRow, back...)...)
	return append(out, together(sh.headed(l.Day,
		sh.row(box{label: l.AccountSum, share: 4, cells: "### = ### + ### + ###"}, clock(l.Time, 1.2), box{label: l.LeadSigns, share: 2}))))
}

func (sh *formSheet) language() string {
	if sh.fixed.Lang == "es" {
		return sh.l.Spanish
	}
	return sh.l.English
}

// controlLog is one meter's log of control runs, two levels at each time.
func (sh *formSheet) controlLog(m FormMeter) []chunk {
	l := sh.l
	out := sh.para(0, formText, l.ControlHow, false)
	label, serial := m.Label, m.Serial
	if serial != "" {
		serial = l.Serial + " " + serial
	}
	unit := m.Unit
	name := sh.row(box{label: l.Meter, note: join(", ", label, serial, unit), share: 3}, box{label: l.Lot, share: 2}, box{label: l.Vial, share: 1.2}, box{label: l.Supervisor, share: 2})
	name.gap = 5
	out = append(out, name)
	value := func(label string, share float64) box {
		b := box{label: label, share: share, cells: "###"}
		switch {
		case unit == "mmol/L" || unit == "" && len(sh.f.Units) == 1 && sh.f.Units[0] == "mmol/L":
			b.cells = "##.#"
		case unit == "" && len(sh.f.Units) > 1:
			b.cells = "###.#"
		}
		return b
	}
	levels := sh.f.Levels
	if len(levels) == 0 {
		levels = []string{"", ""}
	}
	for round := range 3 {
		var rows []chunk
		for _, level := range levels {
			low := value("", 1)
			rows = append(rows,
				sh.row(clock(l.Time, 1.5), box{label: l.Level, note: level, share: 0.7, read: true}, box{label: l.ControlLot, share: 1.6}, box{label: l.Bottle, share: 1}, box{label: l.Range, share: 2.6, cells: low.cells + " - " + low.cells}, value(l.Shows, 1.8)),
				sh.row(box{label: l.Verdict, share: 2.4, ticks: []string{l.InRange, l.OutRange, l.Error}}, box{label: l.CauseAction, share: 4}, box{label: l.Temperature, share: 0.9}, box{label: l.Initials, share: 1.4}))
		}
		set := together(rows)
		set.gap = 9
		if round == 0 {
			set.gap = 7
		}
		out = append(out, set)
	}
	return out
}

// incident has room for two matters on one sheet.
func (sh *formSheet) incident() []chunk {
	l := sh.l
	out := append(sh.para(0, formText, l.IncidentHow, true), sh.para(2, formText, l.NoMedical, false)...)
	for range 2 {
		set := together([]chunk{
			sh.row(box{label: l.What, share: 1, ticks: []string{l.Sharps, l.Splash, l.Faint, l.Spill, l.Device, l.Complaint, l.Other}}),
			sh.row(clock(l.HappenedAt, 1.4), clock(l.ToldAt, 1.8), box{label: l.Place, share: 2}, box{label: l.Ticket, share: 2.4, cells: "###"}),
			sh.row(box{label: l.Who, share: 3}, box{label: l.DeviceBrand, share: 2}),
			sh.row(box{label: l.HowHappened, share: 1, deep: 68}),
			sh.row(box{label: l.FirstAid, share: 2, deep: 44}, box{label: l.SentTo, share: 2, deep: 44}),
			sh.row(box{label: l.Initials, share: 1}, box{label: l.SignedBy, share: 2}),
		})
		set.gap = 10
		out = append(out, set)
	}
	return out
}
