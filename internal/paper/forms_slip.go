package paper

import "strings"

// blankSlip is the participant's own paper: the reading, the table with the row that was ticked, the caution and the
// warning signs; behind it what each result asks for. Everything is set in 12 points or more.
func (sh *formSheet) blankSlip() [][]chunk {
	l, f := sh.l, sh.f
	reading := large(sh.value(l.YourReading, 3.2, false))
	reading.ticks = append(reading.ticks, "LO", "HI")
	out := []chunk{
		sh.row(reading, large(clock(l.TakenAt, 1.6)), large(clock(l.LastAte, 1.6)), large(box{label: l.TestedBy, share: 1.6})),
		sh.note(f.Disclaimer),
	}
	rows := []chunk{sh.slipRow([]string{l.YourResult, l.Fasting, l.NotFasting}, "", true)}
	for _, b := range f.Bands {
		rows = append(rows, sh.slipRow([]string{b.Word, strings.Join(b.Fasting, " · "), strings.Join(b.Random, " · ")}, b.Band, false))
	}
	table := together(rows)
	table.gap = 6
	out = append(out, table)
	out = append(out, sh.para(5, formLarge, l.Circle, true)...)
	out = append(out, sh.warned()...)
	if mislead := strings.Join(f.CanMislead, dot); mislead != "" {
		out = append(out, sh.headed(sh.fixed.CanMislead, sh.para(0, formLarge, mislead, false)...)...)
	}
	if f.Contact != "" {
		out = append(out, sh.para(6, formLarge, l.AskUs+" "+join(", ", f.Contact, f.Hours), true)...)
	}
	back := []chunk{sh.heading(l.BackTitle)}
	for _, b := range f.Bands {
		text := join(" ", append(append([]string{}, b.Advice...), b.When, b.Where)...)
		back = append(back, sh.headed(b.Word, sh.para(0, formLarge, text, false)...)...)
	}
	where := strings.Join(f.Routes, "; ")
	if f.Urgent != "" {
		where = join(". ", where, l.UrgentWhere+": "+f.Urgent)
	}
	if where != "" {
		back = append(back, sh.headed(l.Where, sh.para(0, formLarge, where, false)...)...)
	}
	return [][]chunk{out, joined(back[0], back[1:])}
}

// note sets a sentence in a heavy frame.
func (sh *formSheet) note(s string) chunk {
	lines := sh.lines(sh.width-16, span{s, style{size: 13.5, bold: true}})
	h := float64(len(lines))*17 + 10
	return chunk{gap: 6, strips: []strip{{h, func(y float64) {
		sh.frame(formSide, y, sh.width, h, 1.4)
		for i, ln := range lines {
			sh.draw(formSide+(sh.width-ln.w)/2, baseline(y+5+float64(i)*17, 17, 13.5), ln)
		}
	}}}}
}

// slipRow is one row of the table on the slip, with a square to tick and the band's mark.
func (sh *formSheet) slipRow(texts []string, band string, head bool) chunk {
	widths := []float64{sh.width * 0.46, sh.width * 0.27, sh.width * 0.27}
	st := style{size: formLarge, bold: head}
	set := make([][]line, 3)
	tall := 1
	for i, s := range texts {
		measure := widths[i] - 2*boxPad
		if i == 0 {
			measure -= 62
		}
		set[i] = sh.lines(measure, span{s, st})
		tall = max(tall, len(set[i]))
	}
	h := max(float64(tall)*15+6, 24)
	return chunk{strips: []strip{{h, func(y float64) {
		x := float64(formSide)
		for i, lines := range set {
			sh.frame(x, y, widths[i], h, 0.5)
			at := x + boxPad
			if i == 0 {
				if !head {
					sh.frame(at, y+(h-13)/2, 13, 13, 0.9)
					sh.mark(band, at+20, y+(h-14)/2, 30, 14)
				}
				at += 58
			}
			top := y + (h-float64(len(lines))*15)/2
			for k, ln := range lines {
				sh.draw(at, baseline(top+float64(k)*15, 15, formLarge), ln)
			}
			x += widths[i]
		}
	}}}}
}

// warned is the warning signs beside a heavy bar, the number to call first.
func (sh *formSheet) warned() []chunk {
	lines := sh.lines(sh.width-14, span{sh.fixed.WarningFor(sh.f.Emergency), style{size: 13.5, bold: true}})
	lines = append(lines, sh.lines(sh.width-14, span{strings.Join(sh.f.Warnings, dot), style{size: formLarge}})...)
	h := 0.0
	for _, ln := range lines {
		h += ln.frags[0].st.size * 1.28
	}
	return []chunk{{gap: 8, strips: []strip{{h, func(y float64) {
		sh.bar(formSide, y, 5, h)
		for _, ln := range lines {
			size := ln.frags[0].st.size
			sh.draw(formSide+14, baseline(y, size*1.28, size), ln)
			y += size * 1.28
		}
	}}}}}
}

// contactStrip is the part with the name. It is cut off and kept apart from the results; only its number ties it to them.
func (sh *formSheet) contactStrip() chunk {
	l := sh.l
	yesNo := []string{l.Yes, l.No}
	cut := strip{10, func(y float64) {
		sh.pdf.SetDashPattern([]float64{5, 4}, 0)
		sh.rule(0, sh.w, y+2, 0.8)
		sh.pdf.SetDashPattern([]float64{}, 0)
	}}
	title := strip{18, func(y float64) {
		n := sh.lines(sh.width, span{l.Number + " " + FormNumber(sh.number), style{size: 13, bold: true}})[0]
		sh.draw(sh.w-formSide-n.w, baseline(y, 16, 13), n)
		for _, ln := range sh.capped(1, sh.width-n.w-14, span{l.Strip, style{size: 12, bold: true}}) {
			sh.draw(formSide, baseline(y, 16, 12), ln)
		}
	}}
	how := sh.para(0, formLarge, l.StripHow, false)
	rows := []chunk{
		sh.row(large(box{label: l.MayContact, share: 2.4, ticks: yesNo}), large(box{label: l.MayCall, share: 2.9, ticks: yesNo}), large(box{label: l.BestTime, share: 2.1})),
		sh.row(large(box{label: l.Name, share: 3}), large(box{label: l.Phone, share: 2})),
	}
	return together(append(append([]chunk{{strips: []strip{cut, title}}}, how...), append([]chunk{{gap: 3, strips: rows[0].strips}}, rows[1], chunk{strips: []strip{space(4)}})...))
}

// large makes the label of a cell one that the participant reads.
func large(b box) box {
	b.size = formLarge
	return b
}
