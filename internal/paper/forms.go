package paper

import (
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"fairstick/internal/civil"
	"fairstick/internal/fault"
	"fairstick/internal/programme"
)

// FormPack is what a pack of blank paper forms needs, in the language of the pack: the numbers of its visit forms, and
// the rules of the protocol in words. An empty field is left out or leaves room for writing.
type FormPack struct {
	Lang                             string // "en" or "es"
	Programme, Event, Venue, Address string
	Date                             civil.Date
	Emergency                        string // number to call
	Contact, Hours                   string // of the programme, for questions
	Certificate                      string
	Protocol                         string // version
	Fingerprint                      string // first figures of the protocol's SHA-256
	Printed                          time.Time
	Invented                         bool

	From, To  int // numbers of the visit forms, both printed
	Consent   string
	Version   string // of the consent text
	Questions []FormQuestion
	Signs     []string    // of a crisis
	About     []FormAbout // what people may say about themselves; none where the programme does not ask
	Fasting   int         // hours without calories that make a reading fasting
	Units     []string    // that the meters show: one is printed beside the figures, two are ticked
	Bands     []FormBand
	Repeat    string // when a reading is repeated before it is told
	Low       string // what is done for a low reading
	Never     string // when nothing is given by mouth

	Disclaimer string
	Warnings   []string
	CanMislead []string
	Routes     []string // where people are referred
	Urgent     string   // care on the same day

	Meters []FormMeter
	Levels []string // of control solution
}

// FormQuestion is one question of the protocol. Signs asks for the signs of the pack, Age for whole years, otherwise it is
// answered yes or no. Note says what a yes does.
type FormQuestion struct {
	Text, Help, Note string
	Signs, Age       bool
}

// FormAbout is one question that people answer about themselves if they want to: words to tick, and boxes for figures where some are asked. End
// is one of when the result was explained.
type FormAbout struct {
	Text, Help string
	Ticks      []string // the way out at the end
	Digits     int
	Wide       bool // more than one may be ticked: a row of its own
	End        bool
}

// FormBand is one row of the protocol's table. Fasting and Random have one range for each unit of the pack, with its unit.
type FormBand struct {
	Band, Word      string
	Fasting, Random []string
	Advice          []string
	When, Where     string
}

// FormMeter is a meter that has a control log of its own.
type FormMeter struct{ Label, Serial, Unit string }

// MostForms is how many visit forms one pack may hold.
const MostForms = programme.MostForms

// FormNumber writes the number of a form as it is printed: at least three figures.
func FormNumber(n int) string { return fmt.Sprintf("%03d", n) }

const (
	formSide   = 34
	formTop    = 26
	formBottom = 22
	formHead   = 50
	formFoot   = 36
	formSmall  = 9.5 // labels of what staff write
	formText   = 10.5
	formAsk    = 11 // questions read aloud
	formLarge  = 12 // everything that a participant reads
	formRecord = 9  // the record line at the foot, as on a slip
)

// formSheet is a pack being set; number is the visit form at hand, 0 for the sheets of the event.
type formSheet struct {
	*press
	f      FormPack
	l      FormLabels
	fixed  SlipLabels
	width  float64
	page   int // of the whole pack
	pages  int
	number int
}

// formPart is pages that belong together: one visit form, one slip, one sheet of the event.
type formPart struct {
	title  string
	number int
	chunks [][]chunk // each begins a page
	strip  *chunk    // set at the foot of the first page, to be torn off; the same room stays free behind it
	last   []chunk   // comes after the pages, with the notes
	even   bool      // has an even number of pages, so that the next part begins on a sheet of its own when printed on both sides
}

// WriteForms sets a pack of blank forms as a PDF in black and white: for each number a visit form and a result slip, then
// the sheets of the event: account of the forms, control log of each meter, incidents. It refuses, with a fault, numbers
// that do not count up from 1 and more than MostForms of them.
func WriteForms(w io.Writer, f FormPack, size PageSize) error {
	if err := f.check(); err != nil {
		return err
	}
	pw, ph := size.points()
	l := formLabels(f.Lang)
	p, err := newPress(pw, ph, Labels(f.Lang).Lang, fmt.Sprintf("%s %s-%s", l.Pack, FormNumber(f.From), FormNumber(f.To)), f.Printed)
	if err != nil {
		return err
	}
	sh := newFormSheet(p, f)
	parts := append(sh.numbered(), sh.accounts())
	parts = append(append(parts, sh.controlLogs()...), sh.incidents())
	b := boundSheet{sh, parts, sh.setAll(parts)}
	pages := 0
	for _, set := range b.set {
		pages += len(set)
	}
	b.draw(0, pages)
	return p.write(w)
}

// check refuses numbers that no pack can have, and forms without a unit.
func (f FormPack) check() error {
	if f.From < 1 || f.To < f.From || f.To-f.From >= MostForms {
		return fault.New(fault.Invalid, "form-numbers", fmt.Sprintf("Forms from %d to %d cannot be printed.", f.From, f.To),
			fmt.Sprintf("Numbers count up from 1, and one pack holds at most %d.", MostForms), "Choose how many forms to print.")
	}
	if len(f.Units) == 0 {
		return fault.New(fault.Invalid, "form-unit", "The unit of the meters is not known.", "A form without a unit beside the figures would be a wrong reading waiting to happen.",
			"Say in Set-up which unit the programme's meters show.")
	}
	return nil
}

func newFormSheet(p *press, f FormPack) *formSheet {
	return &formSheet{press: p, f: f, l: formLabels(f.Lang), fixed: Labels(f.Lang), width: p.w - 2*formSide}
}

// numbered gives for each number a visit form and a slip. What does not change from number to number is set once.
func (sh *formSheet) numbered() []formPart {
	var out []formPart
	visit, about, slip, strip := sh.visitForm(), sh.aboutPart(), sh.blankSlip(), sh.contactStrip()
	for n := sh.f.From; n <= sh.f.To; n++ {
		out = append(out,
			formPart{title: sh.l.Visit, number: n, chunks: visit, last: about, even: true},
			formPart{title: sh.l.Slip, number: n, chunks: slip, strip: &strip, even: true})
	}
	return out
}

func (sh *formSheet) accounts() formPart {
	return formPart{title: sh.l.Account, chunks: [][]chunk{sh.account()}}
}

func (sh *formSheet) incidents() formPart {
	return formPart{title: sh.l.Incident, chunks: [][]chunk{sh.incident()}}
}

// controlLogs gives a log for each meter, or one without a name.
func (sh *formSheet) controlLogs() []formPart {
	meters := sh.f.Meters
	if len(meters) == 0 {
		meters = []FormMeter{{}}
	}
	var out []formPart
	for _, m := range meters {
		out = append(out, formPart{title: sh.l.Controls, chunks: [][]chunk{sh.controlLog(m)}})
	}
	return out
}

// setAll fills the pages of parts.
func (sh *formSheet) setAll(parts []formPart) [][][]placed {
	set := make([][][]placed, len(parts))
	for i, part := range parts {
		set[i] = sh.pagesOf(part)
	}
	return set
}

// roomOf gives the height of the text area of a page of a form, of which the first two may keep some for a strip.
func (sh *formSheet) roomOf(reserve float64) float64 {
	return sh.h - formTop - formBottom - formHead - formFoot - reserve
}

// pagesOf fills the pages of a part. A part that must have an even number of pages gets a page for notes.
func (sh *formSheet) pagesOf(part formPart) [][]placed {
	reserve := 0.0
	if part.strip != nil {
		reserve = height(part.strip.strips)
	}
	room := func(page int) float64 {
		if page < 2 {
			return sh.roomOf(reserve)
		}
		return sh.roomOf(0)
	}
	var pages [][]placed
	add := func(chunks []chunk) {
		before := len(pages)
		pages = append(pages, flow(chunks, func(page int) float64 { return room(before + page) })...)
	}
	for _, chunks := range part.chunks {
		add(chunks)
	}
	if part.even && (len(pages)%2 == 1 || len(part.last) > 0) {
		left := room(len(pages))
		for _, c := range part.last {
			left -= height(c.strips) + c.gap
		}
		add(append(slices.Clone(part.last), sh.notes(left)...))
	}
	if part.even && len(pages)%2 == 1 {
		add(sh.lined(room(len(pages))))
	}
	return pages
}

func (sh *formSheet) draws(part formPart, strips []placed, page, pages int) {
	sh.pdf.AddPage()
	sh.page++
	sh.number = part.number
	sh.head(part)
	for _, st := range strips {
		st.draw(formTop + formHead + st.y)
	}
	if part.strip != nil && page == 0 {
		y := sh.h - formBottom - formFoot - height(part.strip.strips)
		for _, st := range part.strip.strips {
			st.draw(y)
			y += st.h
		}
	}
	sh.foot(part, page, pages)
}

// head names the form, the event, and on a visit form its number.
func (sh *formSheet) head(part formPart) {
	right := sh.w - formSide
	if part.number > 0 {
		n := sh.lines(sh.width, span{sh.l.Number + " " + FormNumber(part.number), style{size: 20, bold: true}})[0]
		sh.frame(right-n.w-16, formTop, n.w+16, 30, 1.2)
		sh.draw(right-n.w-8, baseline(formTop, 30, 20), n)
		right -= n.w + 28
	}
	title := part.title
	if sh.f.Invented {
		title += " · " + sh.fixed.Invented
	}
	rows := []span{
		{title, style{size: 14, bold: true}},
		{join(dot, sh.f.Programme, join(", ", sh.f.Event, sh.f.Venue), sh.fixed.DateText(sh.f.Date)), style{size: 10}},
	}
	y := float64(formTop)
	for i, sp := range rows {
		h := []float64{18, 13}[i]
		for _, ln := range sh.capped(1+i, right-formSide, sp) {
			sh.draw(formSide, baseline(y, h, sp.st.size), ln)
			y += h
		}
	}
}

// foot says on every page what to call, by which rules, and which page it is.
func (sh *formSheet) foot(part formPart, page, pages int) {
	y := sh.h - formBottom - formFoot + 8
	right := sh.w - formSide
	st := style{size: formRecord}
	sh.rule(formSide, right, y, 0.5)
	which := sh.fixed.PageOf(page+1, pages)
	if part.number > 0 {
		which = join(", ", sh.l.Number+" "+FormNumber(part.number), which)
	}
	side := 0.0
	for i, s := range []string{which, sh.l.packPage(sh.page, sh.pages)} {
		ln := sh.lines(sh.width, span{s, st})[0]
		side = max(side, ln.w)
		sh.draw(right-ln.w, baseline(y+2+float64(i)*12, 12, formRecord), ln)
	}
	call := ""
	if strings.TrimSpace(sh.f.Emergency) != "" {
		call = join(", ", sh.l.Emergency+" "+sh.f.Emergency, sh.f.Address)
	}
	rules := join(dot, sh.fixed.Rules+" "+sh.f.Protocol+" ("+sh.f.Fingerprint+")", sh.fixed.Printed+string(nbsp)+sh.fixed.MomentText(sh.f.Printed))
	for i, sp := range []span{{call, style{size: formRecord, bold: true}}, {rules, st}} {
		for _, ln := range sh.capped(1, sh.width-side-14, sp) {
			sh.draw(formSide, baseline(y+2+float64(i)*12, 12, formRecord), ln)
		}
	}
}

// notes is a page for what found no room: more readings on a visit form, and ruled lines.
func (sh *formSheet) notes(room float64) []chunk {
	more := together(sh.headed(sh.l.MoreReadings, sh.readings()...))
	return append([]chunk{more}, sh.lined(room-height(more.strips))...)
}

// lined is ruled lines under a heading, as many as a height holds; nothing where it holds none.
func (sh *formSheet) lined(room float64) []chunk {
	out := []chunk{sh.heading(sh.l.Notes)}
	for used := height(out[0].strips) + 10; used+26 < room; used += 26 {
		out = append(out, chunk{strips: []strip{{26, func(y float64) { sh.rule(formSide, sh.w-formSide, y+25, 0.4) }}}})
	}
	if len(out) == 1 {
		return nil
	}
	return out
}
