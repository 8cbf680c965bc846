package paper

import (
	"io"
	"strconv"
	"strings"
	"time"

	"fairstick/internal/civil"
)

// PersonLetter is one letter to a participant: what it is about, what to do, whom to call. It is set large enough for poor sight, and
// begins on a page of its own.
type PersonLetter struct {
	Lang           string // "en" or "es"
	Programme      string
	Contact, Hours string // whom the participant may call, and when
	Date           civil.Date
	To             string // name of the participant; empty leaves a line to write on
	About          string // the visit: ticket, event, day; never a value
	Heading        string
	Paragraphs     []string
	Steps          []string // what to do, numbered
	After          []string
	Signed         string // who writes
	Draft          string // a frame above the letter, for a text that nobody has reviewed; empty for none
	RecordID       string
	Printed        time.Time
	Invented       bool
}

const (
	letterSide = 72
	letterBody = 12.5
	letterLead = 1.42
)

// letterSheet sets letters one after the other on one press.
type letterSheet struct {
	*press
	width float64
	x     PersonLetter
	l     SlipLabels
}

// WriteLetters sets letters as one PDF in black and white, each with pages of its own.
func WriteLetters(w io.Writer, letters []PersonLetter, size PageSize) error {
	pw, ph := size.points()
	var first PersonLetter
	if len(letters) > 0 {
		first = letters[0]
	}
	p, err := newPress(pw, ph, Labels(first.Lang).Lang, first.Heading, first.Printed)
	if err != nil {
		return err
	}
	for _, x := range letters {
		sh := &letterSheet{press: p, width: pw - 2*letterSide, x: x, l: Labels(x.Lang)}
		pages := flow(sh.chunks(), func(int) float64 { return ph - docTop - docBottom - docFootH - docHeadH })
		for i, strips := range pages {
			p.pdf.AddPage()
			top := sh.top()
			for _, st := range strips {
				st.draw(top + st.y)
			}
			sh.foot(i, len(pages))
		}
	}
	return p.write(w)
}

func (sh *letterSheet) top() float64 {
	y := float64(docTop)
	if sh.x.Invented {
		mark := sh.lines(sh.width, span{sh.l.Invented, style{size: 10, bold: true}})[0]
		right := sh.w - letterSide
		sh.frame(right-mark.w-16, y-12, mark.w+16, 18, 0.8)
		sh.draw(right-mark.w-8, baseline(y-12, 18, 10), mark)
	}
	return y + docHeadH
}

func (sh *letterSheet) foot(page, pages int) {
	y, st := sh.h-docBottom-docFootH+8, style{size: 9}
	sh.rule(letterSide, sh.w-letterSide, y, 0.4)
	of := sh.lines(sh.width, span{sh.l.PageOf(page+1, pages), st})[0]
	sh.draw(sh.w-letterSide-of.w, baseline(y+3, 12, 9), of)
	record, printed := "", ""
	if strings.TrimSpace(sh.x.RecordID) != "" {
		record = sh.l.Record + " " + sh.x.RecordID
	}
	if m := sh.l.MomentText(sh.x.Printed); m != "" {
		printed = sh.l.Printed + " " + m
	}
	for i, ln := range sh.capped(2, sh.width-of.w-20, span{join(dot, record, printed), st}) {
		sh.draw(letterSide, baseline(y+3+float64(i)*12, 12, 9), ln)
	}
}

func (sh *letterSheet) chunks() []chunk {
	var all []chunk
	say := func(gap float64, s string, st style) {
		all = append(all, sh.paragraph(gap, letterSide, letterLead, sh.lines(sh.width, span{s, st}))...)
	}
	body, bold := style{size: letterBody}, style{size: letterBody, bold: true}
	if sh.x.Draft != "" {
		all = append(all, sh.framed(sh.x.Draft))
	}
	say(0, sh.x.Programme, bold)
	say(2, join(dot, sh.x.Contact, sh.x.Hours), body)
	say(26, sh.l.DateText(sh.x.Date), body)
	if strings.TrimSpace(sh.x.To) == "" {
		all = append(all, chunk{gap: 18, strips: []strip{{22, func(y float64) { sh.rule(letterSide, letterSide+sh.width/2, y+18, 0.5) }}}})
	} else {
		say(18, sh.x.To, body)
	}
	say(2, sh.x.About, body)
	heading := sh.paragraph(24, letterSide, 1.25, sh.lines(sh.width, span{sh.x.Heading, style{size: 17, bold: true}}))
	if len(heading) > 0 {
		all = append(all, together(heading))
	}
	for _, s := range sh.x.Paragraphs {
		say(9, s, body)
	}
	if len(sh.x.Steps) > 0 {
		head := sh.paragraph(16, letterSide, letterLead, sh.lines(sh.width, span{sh.l.WhatToDo, bold}))
		var steps []chunk
		for i, s := range sh.x.Steps {
			steps = append(steps, sh.step(i+1, s, body))
		}
		all = append(all, joined(together(head), steps)...)
	}
	for _, s := range sh.x.After {
		say(12, s, body)
	}
	say(30, sh.x.Signed, body)
	if sh.boxes {
		say(14, sh.l.Unprintable, style{size: 9})
	}
	return all
}

// step sets a numbered sentence, its lines hanging under each other.
func (sh *letterSheet) step(n int, s string, st style) chunk {
	const hang = 20
	lines := sh.lines(sh.width-hang, span{s, st})
	strips := make([]strip, len(lines))
	for i, ln := range lines {
		h := st.size * letterLead
		strips[i] = strip{h, func(y float64) {
			if i == 0 {
				sh.text(letterSide, baseline(y, h, st.size), strconv.Itoa(n)+".", st)
			}
			sh.draw(letterSide+hang, baseline(y, h, st.size), ln)
		}}
	}
	return chunk{gap: 5, strips: strips}
}

// framed sets a sentence in a frame.
func (sh *letterSheet) framed(s string) chunk {
	st := style{size: 11, bold: true}
	lines := sh.lines(sh.width-20, span{s, st})
	h := float64(len(lines))*st.size*1.3 + 14
	return chunk{strips: []strip{{h + 14, func(y float64) {
		sh.frame(letterSide, y, sh.width, h, 1)
		for i, ln := range lines {
			sh.draw(letterSide+10, baseline(y+7+float64(i)*st.size*1.3, st.size*1.3, st.size), ln)
		}
	}}}}
}
