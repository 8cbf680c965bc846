package paper

import "strings"

// headed puts a heading over text and keeps the two together.
func (sh *slipSheet) headed(heading string, text []chunk) []chunk {
	lines := sh.lines(sh.width, span{heading, sh.bold(sh.body)})
	return joined(together(sh.paragraph(sh.gap, slipSide, sh.lead, lines)), text)
}

// notice sets a sentence in a frame, in 12 points where that saves a line.
func (sh *slipSheet) notice(s string, st style, weight float64) chunk {
	lines := sh.lines(sh.width-12, span{s, st})
	if len(lines) > 1 {
		st.size = 12
		lines = sh.lines(sh.width-12, span{s, st})
	}
	pad := 3 + sh.gap*0.3
	left, right := float64(slipSide), sh.w-slipSide
	strips := make([]strip, len(lines))
	for i, ln := range lines {
		above, below := 0.0, 0.0
		if i == 0 {
			above = pad
		}
		if i == len(lines)-1 {
			below = pad
		}
		h := st.size*1.2 + above + below
		strips[i] = strip{h, func(y float64) {
			sh.upright(left, y, y+h, weight)
			sh.upright(right, y, y+h, weight)
			if above > 0 {
				sh.rule(left-weight/2, right+weight/2, y, weight)
			}
			if below > 0 {
				sh.rule(left-weight/2, right+weight/2, y+h, weight)
			}
			sh.draw(slipSide+(sh.width-ln.w)/2, baseline(y+above, st.size*1.2, st.size), ln)
		}}
	}
	return chunk{gap: sh.gap, strips: strips}
}

// items sets labels with their values one after the other and breaks the line between items where it can.
func (sh *slipSheet) items(gap float64, pairs [][2]string) []chunk {
	const between = 16
	var rows []line
	var cur line
	for _, pair := range pairs {
		if strings.TrimSpace(pair[1]) == "" {
			continue
		}
		set := sh.lines(sh.width, span{pair[0], sh.bold(12)}, span{pair[1], sh.at(12)})
		if len(set) > 1 || len(cur.frags) > 0 && cur.w+between+set[0].w > sh.width {
			if len(cur.frags) > 0 {
				rows = append(rows, cur)
			}
			cur = line{}
		}
		if len(set) > 1 {
			rows = append(rows, set...)
			continue
		}
		shift := 0.0
		if len(cur.frags) > 0 {
			shift = cur.w + between
		}
		for _, f := range set[0].frags {
			cur.frags = append(cur.frags, frag{f.x + shift, f.span})
		}
		cur.w = shift + set[0].w
	}
	if len(cur.frags) > 0 {
		rows = append(rows, cur)
	}
	if sh.run {
		if text := sh.running(pairs); len(text) < len(rows) {
			rows = text
		}
	}
	return sh.paragraph(gap, slipSide, sh.lead, rows)
}

// running sets labels with their values as one text.
func (sh *slipSheet) running(pairs [][2]string) []line {
	var spans []span
	for _, pair := range pairs {
		if value := strings.TrimSpace(pair[1]); value != "" {
			if n := len(spans); n > 0 {
				spans[n-1].s += string(nbsp) + "·"
			}
			spans = append(spans, span{pair[0], sh.bold(12)}, span{value, sh.at(12)})
		}
	}
	return sh.lines(sh.width, spans...)
}

// readings lists every reading of the visit, the one that counts in bold.
func (sh *slipSheet) readings() []chunk {
	if len(sh.s.Repeats) == 0 {
		return nil
	}
	timeW, shownW := 0.0, 0.0
	shown := func(r SlipReading) string {
		if sh.l.OutOfRange(r.Shown) != "" {
			return r.Shown
		}
		return join(string(nbsp), r.Shown, r.Unit)
	}
	if sh.run {
		return sh.runningReadings(shown)
	}
	for _, r := range sh.s.Repeats {
		timeW = max(timeW, sh.press.width(sh.clean(sh.l.TimeText(r.At)), sh.bold(12)))
		shownW = max(shownW, sh.press.width(sh.clean(shown(r)), sh.bold(12)))
	}
	timeW, shownW = min(timeW, sh.width/4), min(shownW, sh.width/3)
	var out []chunk
	for _, r := range sh.s.Repeats {
		st, verdict := sh.at(12), sh.l.DoesNotCount
		if r.Counts {
			st, verdict = sh.bold(12), sh.l.Counts
		}
		at := [3]float64{slipSide, slipSide + timeW + 14, slipSide + timeW + shownW + 28}
		when := sh.lines(timeW+1, span{sh.l.TimeText(r.At), st})
		what := sh.lines(shownW+1, span{shown(r), st})
		why := sh.lines(sh.w-slipSide-at[2], span{join(": ", verdict, r.Why), st})
		lh := 12 * sh.lead
		strips := make([]strip, max(len(when), len(what), len(why)))
		for i := range strips {
			strips[i] = strip{lh, func(y float64) {
				for k, column := range [][]line{when, what, why} {
					if i < len(column) {
						sh.draw(at[k], baseline(y, lh, 12), column[i])
					}
				}
			}}
		}
		out = append(out, chunk{strips: strips})
	}
	return sh.headed(sh.l.AllReadings, out)
}

// runningReadings sets every reading one after another, where that saves lines.
func (sh *slipSheet) runningReadings(shown func(SlipReading) string) []chunk {
	var spans []span
	for i, r := range sh.s.Repeats {
		st, verdict := sh.at(12), sh.l.DoesNotCount
		if r.Counts {
			st, verdict = sh.bold(12), sh.l.Counts
		}
		text := join(" ", sh.l.TimeText(r.At), shown(r), join(": ", verdict, r.Why))
		if i < len(sh.s.Repeats)-1 {
			text += dot
		}
		spans = append(spans, span{text, st})
	}
	return sh.headed(sh.l.AllReadings, sh.paragraph(0, slipSide, sh.lead, sh.lines(sh.width, spans...)))
}

// advice is what to do, then by when and where with their labels in a column of their own.
func (sh *slipSheet) advice() []chunk {
	var out []chunk
	indent := 0.0
	if len(sh.s.Advice) > 1 {
		indent = 11
	}
	for _, a := range sh.s.Advice {
		lines := sh.lines(sh.width-indent, span{a, sh.at(sh.body)})
		set := sh.paragraph(0, slipSide+indent, sh.lead, lines)
		if indent > 0 && len(set) > 0 {
			first := set[0].strips[0]
			set[0].strips[0] = strip{first.h, func(y float64) {
				sh.text(slipSide+1, baseline(y, first.h, sh.body), "•", sh.at(sh.body))
				first.draw(y)
			}}
		}
		out = append(out, set...)
	}
	if len(out) > 0 {
		out = sh.headed(sh.l.WhatToDo, out)
	}
	col := 0.0
	pairs := [][2]string{{sh.clean(sh.l.ByWhen), sh.s.When}, {sh.clean(sh.l.Where), sh.s.Where}}
	for _, pair := range pairs {
		if strings.TrimSpace(pair[1]) != "" {
			col = max(col, sh.press.width(pair[0], sh.bold(sh.body))+10)
		}
	}
	gap := sh.gap * 0.5
	for _, pair := range pairs {
		lines := sh.lines(sh.width-col, span{pair[1], sh.at(sh.body)})
		set := sh.paragraph(gap, slipSide+col, sh.lead, lines)
		if len(set) == 0 {
			continue
		}
		first := set[0].strips[0]
		set[0].strips[0] = strip{first.h, func(y float64) {
			sh.text(slipSide, baseline(y, first.h, sh.body), pair[0], sh.bold(sh.body))
			first.draw(y)
		}}
		out = append(out, set...)
		gap = 0
	}
	return out
}

// warnings stand beside a heavy bar, the number to call first.
func (sh *slipSheet) warnings() []chunk {
	text := join(dot, sh.s.Warnings...)
	if text == "" && strings.TrimSpace(sh.s.EmergencyNumber) == "" {
		return nil
	}
	const indent = 12
	measure := sh.width - indent
	lines := sh.lines(measure, span{sh.l.WarningFor(sh.s.EmergencyNumber), sh.bold(sh.body + 1)})
	lines = append(lines, sh.lines(measure, span{text, sh.at(sh.body)})...)
	set := sh.paragraph(sh.gap, slipSide+indent, sh.lead, lines)
	for _, c := range set {
		for i, st := range c.strips {
			c.strips[i] = strip{st.h, func(y float64) {
				sh.bar(slipSide, y, 4, st.h+0.3)
				st.draw(y)
			}}
		}
	}
	return set
}

// recordLines is the small line that ties the paper to the record.
func (sh *slipSheet) recordLines() []line {
	s, l := sh.s, sh.l
	var number, printed, record string
	if s.Number > 0 {
		number = l.SlipNumber(s.Number)
	}
	if m := l.MomentText(s.Printed); m != "" {
		printed = l.Printed + " " + m
	}
	if strings.TrimSpace(s.RecordID) != "" {
		record = l.Record + " " + s.RecordID
	}
	out := sh.capped(2, sh.width-footRight, span{join(dot, number, printed), sh.at(recordSize)})
	return append(out, sh.capped(3, sh.width-footRight, span{record, sh.at(recordSize)})...)
}

const (
	footRight    = 112 // kept free on the right of the record lines for the page's number and "continues"
	footGap      = 8
	footLine     = 11
	footLines    = 2
	nextHeadH    = 34
	inventedH    = 17
	inventedRise = 8
)

// room gives the height of the text area of a page.
func (sh *slipSheet) room(page int) float64 {
	h := sh.h - slipTop - slipBottom - footGap - float64(max(len(sh.foot), footLines))*footLine
	if sh.s.Invented {
		h -= inventedH
	}
	if page > 0 {
		h -= nextHeadH
	}
	return h
}

// pageHead sets what stands above the text area and gives where that begins. A further page names its participant and
// the reading, so that it means something alone.
func (sh *slipSheet) pageHead(page int) float64 {
	y := float64(slipTop)
	if sh.s.Invented {
		mark := sh.lines(sh.width, span{sh.l.Invented, sh.bold(12)})[0]
		sh.frame(sh.w/2-mark.w/2-10, y-inventedRise, mark.w+20, 18, 0.8)
		sh.draw(sh.w/2-mark.w/2, baseline(y-inventedRise, 18, 12), mark)
		y += inventedH
	}
	if page == 0 {
		return y
	}
	unit := sh.s.Unit
	if sh.l.OutOfRange(sh.s.Reading) != "" {
		unit = ""
	}
	reading := sh.lines(sh.width, span{join(string(nbsp), sh.s.Reading, unit), sh.bold(12)})[0]
	who := sh.capped(1, sh.width-reading.w-16, span{join(" · ", join(" ", sh.l.Ticket, sh.s.Ticket), sh.s.Name), sh.at(12)})
	if len(who) > 0 {
		sh.draw(slipSide, baseline(y, 15, 12), who[0])
	}
	sh.draw(sh.w-slipSide-reading.w, baseline(y, 15, 12), reading)
	sh.rule(slipSide, sh.w-slipSide, y+20, 0.8)
	return y + nextHeadH
}

// pageFoot sets the record lines, and on several pages which page it is and that there is more.
func (sh *slipSheet) pageFoot(page, pages int) {
	y := sh.h - slipBottom - float64(max(len(sh.foot), footLines))*footLine
	right := sh.w - slipSide
	sh.rule(slipSide, right, y-3, 0.4)
	for i, ln := range sh.foot {
		sh.draw(slipSide, baseline(y+float64(i)*footLine, footLine, recordSize), ln)
	}
	if page+1 < pages {
		more := sh.lines(sh.width, span{sh.l.ContinuesOn(page + 2), sh.bold(12)})[0]
		sh.draw(right-more.w, baseline(y, footLine+2, 12), more)
	}
	if pages > 1 {
		of := sh.lines(sh.width, span{sh.l.PageOf(page+1, pages), sh.at(recordSize)})[0]
		sh.draw(right-of.w, baseline(y+footLine+1, footLine, recordSize), of)
	}
}
