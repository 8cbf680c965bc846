package paper

import (
	"io"
	"strings"
	"time"

	"fairstick/internal/civil"
	"fairstick/internal/fault"
)

// Slip is everything that the participant's result slip says, ready to print. Sentences and words that describe the
// finding arrive in the slip's language; fixed words come from Labels. An empty field is left out.
type Slip struct {
	Lang                     string      // "en" or "es"; any other with Words
	Words                    *SlipLabels // the fixed words in a further language; nil: Labels(Lang)
	Unreviewed               bool        // no person has read this language yet: the slip says so
	Programme, Event, Venue  string
	Date                     civil.Date
	Ticket                   string
	Name                     string // may be empty
	Reading                  string // as the meter showed it: "95", "5.3", "LO", "HI"; required
	Unit                     string // required for a number
	OtherUnit                string // "5.3 mmol/L"
	Taken                    time.Time
	LastAte, BasisWord       string
	Washed                   string
	Repeats                  []SlipReading // every reading of the visit, when there was more than one
	Band                     string        // critical-low, low, usual, raised, high, critical-high
	BandWord, Sentence       string
	Advice                   []string
	When, Where              string
	Disclaimer               string // Labels(Lang).Disclaimer when empty
	Warnings                 []string
	EmergencyNumber          string
	CanMislead               []string
	TestedBy, Supervisor     string
	Contact, Hours           string
	Certificate              string
	CallPermission, Protocol string
	RecordID                 string
	Printed                  time.Time // also the document's date
	Corrected                bool
	Replaces                 time.Time // when the slip that a corrected one replaces was handed over
	Number                   int       // of this visit's slips, from 1
	Invented                 bool
}

// SlipReading is one reading of a visit; Counts marks the one that the slip speaks of, Why says why or why not.
type SlipReading struct {
	Shown, Unit string
	At          time.Time
	Counts      bool
	Why         string
}

// Labels gives the fixed words of this slip.
func (s Slip) Labels() SlipLabels {
	if s.Words != nil {
		return *s.Words
	}
	return Labels(s.Lang)
}

// Size is a page for slips.
type Size int

// The pages a slip is made for.
const (
	HalfLetter Size = iota // 5.5 x 8.5 in
	A5                     // 148 x 210 mm
)

// points gives width and height; A5 by ISO 216.
func (s Size) points() (w, h float64) {
	if s == A5 {
		return 148 / 25.4 * 72, 210 / 25.4 * 72
	}
	return 5.5 * 72, 8.5 * 72
}

// The smallest type on a slip is 12 points for everything a participant reads (common practice: large print for poor
// sight and arm's length); the record line alone is smaller.
const (
	slipSide   = 24
	slipTop    = 20
	slipBottom = 20
	recordSize = 9
)

// density is how tightly a slip is set. Spacing gives way before the reading does, and text never below 12 points;
// run lets labels with their values follow each other as running text where that saves lines.
type density struct {
	body, lead, gap, hero float64
	run                   bool
}

var densities = []density{
	{13, 1.32, 11, 68, false},
	{12.5, 1.28, 9, 64, false},
	{12, 1.26, 7.5, 60, false},
	{12, 1.2, 6, 56, false},
	{12, 1.16, 4.5, 52, true},
	{12, 1.13, 3.2, 48, true},
	{12, 1.1, 2.4, 48, true},
	{12, 1.07, 1.6, 48, true},
}

// slipSheet is a slip being set at one density.
type slipSheet struct {
	*press
	density
	l     SlipLabels
	s     Slip
	width float64
	foot  []line
}

// WriteSlip sets a result slip as a PDF: one page where it fits with spacing drawn in, further pages that say so where
// it does not. It refuses, with a fault, a slip without a reading or unit, and a reading too long to stand beside its
// unit in 48 points; what cannot be set of other texts is shown as a box or an ellipsis.
func WriteSlip(w io.Writer, s Slip, size Size) error {
	l := s.Labels()
	pw, ph := size.points()
	p, err := newPress(pw, ph, l.Lang, l.YourReading+" · "+l.Ticket+" "+s.Ticket, s.Printed)
	if err != nil {
		return err
	}
	p.rtl = l.RTL
	s.Reading, s.Unit = strings.TrimSpace(p.clean(s.Reading)), strings.TrimSpace(p.clean(s.Unit))
	if s.Reading == "" || (s.Unit == "" && l.OutOfRange(s.Reading) == "") {
		return fault.New(fault.Invalid, "slip-without-reading", "This slip has no reading with a unit.",
			"A slip without them could be taken for a result.", "Record the reading first, then print.")
	}
	sheet := &slipSheet{press: p, l: l, s: s, width: pw - 2*slipSide}
	sheet.foot = sheet.recordLines()
	pages, err := sheet.fit()
	if err != nil {
		return err
	}
	for i, strips := range pages {
		p.pdf.AddPage()
		top := sheet.pageHead(i)
		for _, st := range strips {
			st.draw(top + st.y)
		}
		sheet.pageFoot(i, len(pages))
	}
	return p.write(w)
}

// fit tries the densities from open to tight until everything is on one page. A slip that needs more is set as openly
// as leaves the reading, the advice and the warning signs on its first page.
func (sh *slipSheet) fit() ([][]placed, error) {
	var split [][]placed
	for i, d := range densities {
		sh.density = d
		chunks, essential, err := sh.chunks()
		if err != nil {
			return nil, err
		}
		pages := flow(chunks, sh.room)
		if len(pages) == 1 {
			return pages, nil
		}
		if split == nil && (i == len(densities)-1 || len(flow(chunks[:essential], sh.room)) == 1) {
			split = pages
		}
	}
	return split, nil
}

func (sh *slipSheet) at(size float64) style   { return style{size: size} }
func (sh *slipSheet) bold(size float64) style { return style{size: size, bold: true} }

// dot stands between the parts of a list; it hangs on the part before it.
const dot = string(nbsp) + "· "

// chunks builds the slip from the top: who, the reading, its meaning, what to do, warnings, then the small print. The
// first ones, essential of them, belong on the first page.
func (sh *slipSheet) chunks() (out []chunk, essential int, err error) {
	hero, err := sh.heroChunk()
	if err != nil {
		return nil, 0, err
	}
	s, l := sh.s, sh.l
	add := func(c ...chunk) { out = append(out, c...) }
	if s.Corrected {
		add(sh.notice(l.CorrectedFor(s.Number, s.Replaces), sh.bold(12.5), 1.6))
	}
	add(sh.mastChunk(), hero)
	add(sh.items(sh.gap*0.7, [][2]string{
		{l.Taken, l.TimeText(s.Taken)},
		{l.LastAte, join(", ", s.LastAte, s.BasisWord)},
		{l.HandsWashed, s.Washed},
	})...)
	if s.Sentence != "" {
		add(sh.headed(l.WhatItMeans, sh.paragraph(0, slipSide, sh.lead, sh.lines(sh.width, span{s.Sentence, sh.at(sh.body)})))...)
	}
	disclaimer := s.Disclaimer
	if strings.TrimSpace(disclaimer) == "" {
		disclaimer = l.Disclaimer
	}
	add(sh.notice(disclaimer, sh.bold(sh.body+1), 0.8))
	if s.Unreviewed {
		add(sh.paragraph(sh.gap*0.5, slipSide, sh.lead, sh.lines(sh.width, span{l.NotReviewed, sh.at(12)}))...)
	}
	add(sh.advice()...)
	add(sh.warnings()...)
	essential = len(out)
	add(sh.readings()...)
	if mislead := join(dot, s.CanMislead...); mislead != "" {
		add(sh.headed(l.CanMislead, sh.paragraph(0, slipSide, sh.lead, sh.lines(sh.width, span{mislead, sh.at(sh.body)})))...)
	}
	small := sh.items(0, [][2]string{
		{l.MayWeCall, s.CallPermission},
		{l.Questions, join(", ", s.Contact, s.Hours)},
		{l.TestedBy, s.TestedBy},
		{l.Supervisor, s.Supervisor},
		{l.Certificate, s.Certificate},
		{l.Rules, s.Protocol},
	})
	if len(small) > 0 {
		line := chunk{gap: sh.gap, strips: []strip{{sh.gap * 0.7, func(y float64) { sh.rule(slipSide, sh.w-slipSide, y, 0.4) }}}}
		add(joined(line, small)...)
	}
	if sh.boxes {
		add(sh.paragraph(sh.gap, slipSide, sh.lead, sh.lines(sh.width, span{l.Unprintable, sh.at(12)}))...)
	}
	return out, essential, nil
}

// mastChunk is the head of the slip: programme, event and day on the left, the ticket on the right, the name below.
func (sh *slipSheet) mastChunk() chunk {
	s, l := sh.s, sh.l
	ticket := sh.capped(1, sh.width/3, span{s.Ticket, sh.bold(24)})
	label := sh.lines(sh.width/3, span{l.Ticket, sh.at(12)})
	side := 0.0
	if len(ticket) > 0 {
		side = max(ticket[0].w, label[0].w)
	}
	measure := sh.width - side - 16
	left := sh.capped(2, measure, span{s.Programme, sh.bold(14)})
	left = append(left, sh.capped(2, measure, span{join(", ", s.Event, s.Venue), sh.at(12)})...)
	left = append(left, sh.capped(1, measure, span{l.DateText(s.Date), sh.at(12)})...)
	names := sh.capped(3, sh.width, span{s.Name, sh.bold(14)})
	const lead = 1.2
	leftHeight := 0.0
	for _, ln := range left {
		leftHeight += ln.frags[0].st.size * lead
	}
	h := leftHeight
	if side > 0 {
		h = max(h, 42)
	}
	strips := []strip{{h, func(y float64) {
		if side > 0 {
			right := sh.w - slipSide
			sh.draw(right-label[0].w, baseline(y, 12*lead, 12), label[0])
			sh.draw(right-ticket[0].w, baseline(y+12*lead, 26, 24), ticket[0])
		}
		for _, ln := range left {
			size := ln.frags[0].st.size
			sh.draw(slipSide, baseline(y, size*lead, size), ln)
			y += size * lead
		}
	}}}
	for i, ln := range names {
		if i == 0 {
			strips = append(strips, space(sh.gap*0.5))
		}
		strips = append(strips, strip{14 * lead, func(y float64) { sh.draw(slipSide, baseline(y, 14*lead, 14), ln) }})
	}
	return chunk{gap: sh.gap, strips: strips}
}

// heroChunk is the reading between two heavy rules: the number, its unit beside it, the band's mark, the band in words.
func (sh *slipSheet) heroChunk() (chunk, error) {
	s, l := sh.s, sh.l
	number, unit := sh.prepare(span{s.Reading, sh.bold(sh.hero)}), sh.prepare(span{s.Unit, sh.bold(20)})
	explained := l.OutOfRange(s.Reading)
	if explained != "" {
		unit.s = ""
	}
	const markW, markH, gutter = 62, 42, 16
	numberW, unitW := sh.press.width(number.s, number.st), sh.press.width(unit.s, unit.st)
	if numberW+6+unitW > sh.width-markW-gutter {
		number.st.size = 48
		if numberW = sh.press.width(number.s, number.st); numberW+6+unitW > sh.width {
			return chunk{}, fault.New(fault.Invalid, "slip-reading-too-long", "The reading is too long to print on a slip.",
				"A reading that is cut short would be a wrong reading.", "Check the reading and its unit, then print again.")
		}
	}
	markShown := numberW+6+unitW <= sh.width-markW-gutter
	after := slipSide + numberW + 6 + unitW + 10
	room := sh.w - slipSide - markW - gutter - after
	var beside, below []line
	other := span{join(" ", l.SameAs, strings.ReplaceAll(strings.TrimSpace(s.OtherUnit), " ", string(nbsp))), sh.at(12)}
	if s.OtherUnit == "" || explained != "" {
		other.s = explained
	}
	if other.s != "" {
		if beside = sh.lines(max(room, 1), other); room < 50 || len(beside) > 4 || tooWide(beside, room) {
			beside, below = nil, sh.lines(sh.width, other)
		}
	}
	label := sh.lines(sh.width, span{l.YourReading, sh.bold(12)})
	wordSize := 17.0
	words := sh.capped(3, sh.width, span{s.BandWord, sh.bold(wordSize)})
	if len(words) > 1 {
		wordSize = 15
		words = sh.capped(3, sh.width, span{s.BandWord, sh.bold(wordSize)})
	}
	numberH := number.st.size * 0.98
	pad := sh.gap * 0.55
	strips := []strip{
		{pad + 2, func(y float64) { sh.rule(slipSide, sh.w-slipSide, y+1, 2) }},
		{12 * 1.2, func(y float64) { sh.draw(slipSide, baseline(y, 12*1.2, 12), label[0]) }},
		{numberH, func(y float64) {
			base := baseline(y, numberH, number.st.size)
			numberAt, unitAt := float64(slipSide), slipSide+numberW+6
			if sh.rtl { // the unit stands after the number as on the meter
				numberAt, unitAt = slipSide+unitW+6, slipSide
			}
			sh.text(numberAt, base, number.s, number.st)
			sh.text(unitAt, base, unit.s, unit.st)
			for i, ln := range beside {
				sh.draw(after, base-float64(len(beside)-1-i)*14.4, ln)
			}
			if markShown {
				sh.mark(s.Band, sh.w-slipSide-markW, base-number.st.size*0.33-markH/2, markW, markH)
			}
		}},
	}
	for _, ln := range below {
		strips = append(strips, strip{12 * 1.25, func(y float64) { sh.draw(slipSide, baseline(y, 12*1.25, 12), ln) }})
	}
	for _, ln := range words {
		h := wordSize * 1.2
		strips = append(strips, strip{h, func(y float64) { sh.draw(slipSide, baseline(y, h, wordSize), ln) }})
	}
	strips = append(strips, strip{pad + 2, func(y float64) { sh.rule(slipSide, sh.w-slipSide, y+pad+1, 2) }})
	return chunk{gap: sh.gap, strips: strips}, nil
}

func tooWide(lines []line, room float64) bool {
	for _, l := range lines {
		if l.w > room {
			return true
		}
	}
	return false
}

// join puts the texts that are not empty together.
func join(sep string, parts ...string) string {
	var kept []string
	for _, s := range parts {
		if s = strings.TrimSpace(s); s != "" {
			kept = append(kept, s)
		}
	}
	return strings.Join(kept, sep)
}
