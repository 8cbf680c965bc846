package paper

import (
	"strconv"
	"strings"
)

// visitForm is what the desk, the test, care and Explain write: the consent text and the questions of the protocol, the
// readings, the protocol's table with its units, and how the visit ended.
func (sh *formSheet) visitForm() [][]chunk {
	return [][]chunk{sh.deskPart(), append(sh.testPart(), sh.findingPart()...), append(sh.carePart(), sh.endPart()...)}
}

func (sh *formSheet) deskPart() []chunk {
	l, f := sh.l, sh.f
	yesNo := []string{l.Yes, l.No}
	out := []chunk{sh.row(clock(l.Arrived, 2), box{label: l.Language, share: 3, ticks: []string{l.English, l.Spanish}}, box{label: l.Initials, share: 2})}
	heading := l.Consent
	if f.Version != "" {
		heading += " · " + strings.ReplaceAll(l.ConsentVersion, "{version}", f.Version)
	}
	out = append(out, sh.headed(heading, sh.para(1, formLarge, f.Consent, false)...)...)
	consent := sh.row(
		box{label: l.HowGiven, share: 3.4, ticks: []string{l.Read, l.Aloud, l.Interpreter}},
		box{label: l.Agrees, share: 2, ticks: yesNo}, clock(l.AgreeTime, 1.5), box{label: l.Mark, share: 2.4})
	consent.gap = 4
	out = append(out, consent)
	var asked []chunk
	for _, q := range f.Questions {
		asked = append(asked, sh.question(q))
	}
	if len(asked) > 0 {
		out = append(out, sh.headed(l.Questions, asked...)...)
	}
	food := sh.row(
		box{label: l.Food, note: strings.ReplaceAll(l.FoodNote, "{hours}", strconv.Itoa(f.Fasting)), size: formAsk, share: 2.7, read: true},
		box{label: l.LastFood, share: 3, cells: "##:##", ticks: []string{l.Today, l.Yesterday, l.Before, l.NotKnown}})
	return append(out, food)
}

// question is one question with its answers beside it; the signs of a crisis stand under theirs.
func (sh *formSheet) question(q FormQuestion) chunk {
	ask := box{label: q.Text, note: join(" ", q.Help, q.Note), size: formAsk, share: 4.6, read: true}
	answer := box{share: 1.25, ticks: []string{sh.l.Yes, sh.l.No}, read: true}
	switch {
	case q.Signs:
		return together([]chunk{sh.row(ask), sh.row(box{ticks: append(append([]string{}, sh.f.Signs...), sh.l.None), share: 1, read: true})})
	case q.Age:
		answer = box{share: 1.25, cells: "###", after: sh.l.Years, read: true}
	}
	return sh.row(ask, answer)
}

// aboutPart is what people may say about themselves while they wait: they may leave it empty, or tick once that they skip it. Nil where nothing is
// asked.
func (sh *formSheet) aboutPart() []chunk {
	l := sh.l
	var cells []box
	for _, q := range sh.f.About {
		if !q.End {
			cells = append(cells, q.box())
		}
	}
	if len(cells) == 0 {
		return nil
	}
	rows := append(sh.para(1, formLarge, l.AboutHow, false), sh.row(box{ticks: []string{l.AboutSkip}, read: true}))
	for i := 0; i < len(cells); i++ {
		if two := i+1 < len(cells) && !cells[i].wide && !cells[i+1].wide; two {
			rows = append(rows, sh.row(cells[i], cells[i+1]))
			i++
			continue
		}
		rows = append(rows, sh.row(cells[i]))
	}
	return []chunk{together(sh.headed(l.About, rows...))}
}

func (q FormAbout) box() box {
	return box{label: q.Text, note: q.Help, size: formAsk, share: 1, cells: strings.Repeat("#", q.Digits), ticks: q.Ticks, read: true, wide: q.Wide}
}

// testPart has room for three readings.
func (sh *formSheet) testPart() []chunk {
	out := sh.headed(sh.l.Test, sh.readings()...)
	return append(out, sh.para(2, formSmall, sh.f.Repeat, false)...)
}

func (sh *formSheet) readings() []chunk {
	l := sh.l
	yesNo := []string{l.Yes, l.No}
	again := sh.value(l.ReadBack, 2.1, false)
	again.ticks = nil // the unit is ticked once
	var rows []chunk
	for range 3 {
		first := sh.row(clock(l.Time, 1.6), box{label: l.Purpose, share: 3.1, ticks: []string{l.First, l.Repeat, l.Recheck}}, sh.value(l.Shows, 4, true), again)
		second := sh.row(box{label: l.Meter, share: 47}, box{label: l.Lot, share: 54}, box{label: l.Vial, share: 40}, box{label: l.Screener, share: 52},
			box{label: l.Washed, share: 83, ticks: yesNo}, box{label: l.Lancet, share: 83, ticks: yesNo}, box{label: l.Misfires, share: 47, cells: "#"},
			box{label: l.InSharps, share: 51, ticks: []string{l.Yes}}, clock(l.Wiped, 76))
		pair := together([]chunk{first, second})
		if len(rows) > 0 {
			pair.gap = 3
		}
		rows = append(rows, pair)
	}
	return rows
}

// findingPart is the protocol's table, one result to tick.
func (sh *formSheet) findingPart() []chunk {
	l := sh.l
	head := sh.row(
		box{label: l.Result, share: 2.6, read: true}, box{share: 2.2, ticks: []string{l.Fasting}, read: true}, box{share: 2.2, ticks: []string{l.NotFasting}, read: true})
	rows := []chunk{head}
	for _, b := range sh.f.Bands {
		rows = append(rows, sh.row(
			box{ticks: []string{b.Word}, share: 2.6, read: true},
			box{label: strings.Join(b.Fasting, " · "), share: 2.2, read: true}, box{label: strings.Join(b.Random, " · "), share: 2.2, read: true}))
	}
	return []chunk{together(sh.headed(l.Finding+" · "+l.BasisNote, together(rows)))}
}

func (sh *formSheet) carePart() []chunk {
	l := sh.l
	sugar := []string{l.Given, l.CannotSwallow, l.Refused}
	rows := []chunk{
		sh.row(box{label: l.CareFor, share: 3.3, ticks: []string{l.CareLow, l.CareVeryLow, l.CareVeryHigh, l.CareSigns}}, clock(l.SupervisorCame, 1.3), box{label: l.Supervisor, share: 1.6}),
		sh.row(box{label: l.Signs, share: 1, ticks: append(append([]string{}, sh.f.Signs...), l.None)}),
		sh.row(box{label: l.Sugar, share: 3, ticks: sugar, cells: "##:##"}, box{label: l.SugarAgain, share: 3, ticks: sugar, cells: "##:##"}),
		sh.row(box{label: l.Action, share: 3.4, ticks: []string{l.EmergencyCalled, l.SameDay, l.Stays, l.DeclinedCare}}, clock(l.Time, 0.8)),
		sh.row(box{label: l.HandedTo, share: 3}, box{label: l.ArrivedThere, share: 3}, clock(l.Time, 1.3)),
		sh.row(box{label: l.SignedBy, share: 4}, clock(l.Time, 0.9)),
	}
	text := sh.para(1, formSmall, join(" ", sh.f.Low, sh.f.Never), false)
	return []chunk{together(sh.headed(l.Care, append(text, rows...)...))}
}

func (sh *formSheet) endPart() []chunk {
	l := sh.l
	yesNo := []string{l.Yes, l.No}
	rows := []chunk{
		sh.row(box{label: l.TeachBack, share: 3.4, ticks: []string{l.OwnWords, l.Again, l.NotAsked}}, box{label: l.SlipGiven, share: 1.5, ticks: yesNo}, box{label: l.Counsellor, share: 1.5}, clock(l.Time, 1.3)),
		sh.row(box{label: l.ReferredTo, share: 4}, box{label: l.PersonAgrees, share: 1.5, ticks: yesNo}),
	}
	for _, q := range sh.f.About {
		if q.End {
			ask := q.box()
			ask.note = join(" ", ask.note, l.AboutNeedNot)
			rows = append(rows, sh.row(ask))
		}
	}
	rows = append(rows,
		sh.row(box{label: l.HowEnded, share: 5, ticks: []string{l.Tested, l.Left, l.NotEligible, l.NoConsent, l.NoStick}}, clock(l.EndTime, 1.2)))
	return []chunk{together(sh.headed(l.Explain, rows...))}
}
