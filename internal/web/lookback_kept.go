package web

import (
	"bytes"
	"fmt"
	"slices"
	"strings"

	"fairstick/internal/civil"
	"fairstick/internal/fault"
	"fairstick/internal/paper"
	"fairstick/internal/people"
	"fairstick/internal/programme"
	"fairstick/internal/web/ui"
)

// keptView is a look-back of the record.
type keptView struct {
	Page    ui.Page
	Fault   *fault.Fault
	Facts   [][2]string
	Open    bool
	Changed string // the record finds other people now than when it was opened; empty when not
	Answer  affectedView
	Names   []namedRow // only in the answer to the form that asked for them
	Base    string
	Show    *officeForm // shows names
	Letters *officeForm
	Close   *officeForm
	Seen    []string
}

type namedRow struct{ Ticket, Event, Name, Phone, When, Language string }

func keptShow(_ *Server, c *Context) error { return c.showKept("", nil, nil) }

func (c *Context) showKept(refused string, f *fault.Fault, names []programme.Named) error {
	k, err := c.s.prog.KeptLookBack(c.R.Context(), c.R.PathValue("id"))
	if err != nil {
		return err
	}
	zone := c.s.prog.Now().Location()
	v := keptView{
		Page: c.officePage("Look-back", k.Opened.Words, "look-back", &ui.Link{Href: "/look-back", Label: "Look-backs"}), Base: "/look-back/kept/" + k.ID, Open: k.Open(),
		Answer: affectedOf(k.Now, "", nil),
		Facts: [][2]string{
			{"Why", k.Opened.Reason},
			{"Opened", k.At.In(zone).Format("15:04 on 2 January 2006") + " by " + k.Names[k.By]},
			{"Touched then", plural(k.Opened.People, "person", "people") + ", " + plural(k.Opened.Readings, "reading", "readings")},
		},
	}
	v.Page.Wide = true
	if k.Now.People != k.Opened.People || k.Now.Read != k.Opened.Readings {
		v.Changed = fmt.Sprintf("The record finds %s and %s today: something was typed in or corrected since.", plural(k.Now.People, "person", "people"), plural(k.Now.Read, "reading", "readings"))
	}
	for _, x := range k.Seen {
		what := "names of " + plural(x.People, "person", "people") + " shown"
		if x.Letter != "" {
			what = fmt.Sprintf("%s made; %s without permission", plural(x.People, "letter", "letters"), plural(x.Without, "person", "people"))
		}
		v.Seen = append(v.Seen, x.At.In(zone).Format("15:04 on 2 January 2006")+", "+k.Names[x.By]+": "+what)
	}
	if k.Closed != nil {
		v.Facts = append(v.Facts, [2]string{"Closed", k.ClosedAt.In(zone).Format("15:04 on 2 January 2006") + ", signed by " + k.Signed}, [2]string{"What came of it", k.Closed.Outcome})
	} else if err := c.keptForms(&v, k, refused, f); err != nil {
		return err
	}
	for _, n := range names {
		v.Names = append(v.Names, namedRow{Ticket: ticketText(n.Ticket), Event: n.Event.Name + ", " + n.Event.Date.Long(), Name: n.Name, Phone: n.Phone, When: orNone(n.When), Language: languageName(n.Language)})
	}
	v.Fault = stray(f, refused, v.Show, v.Letters, v.Close)
	return c.Show(f, KeptLookBackPage(v))
}

func (c *Context) keptForms(v *keptView, k programme.KeptLookBack, refused string, f *fault.Fault) error {
	if k.Now.MayCall > 0 {
		v.Show = &officeForm{Form: c.dayForm("names", v.Base+"/names", refused, f), Submit: fmt.Sprintf("Show names and numbers (%d)", k.Now.MayCall), Plain: true}
		form := c.dayForm("letters", v.Base+"/letters", refused, f)
		letter := form.choice("letter", "Which letter?", programme.LetterReading,
			ui.Option{Value: programme.LetterReading, Label: "The reading may not be right", Hint: "asks the person to be tested again"},
			ui.Option{Value: programme.LetterFingerstick, Label: "Something about the fingerstick", Hint: "asks the person to call"})
		paperSize := form.choice("size", "Paper", "letter", ui.Option{Value: "letter", Label: "Letter"}, ui.Option{Value: "a4", Label: "A4"})
		paperSize.Row = true
		v.Letters = &officeForm{Form: form, Parts: []part{{Items: []item{pick(letter), pick(paperSize)}}}, Submit: fmt.Sprintf("Make %s", plural(k.Now.MayCall, "letter", "letters")), Plain: true}
	}
	signers, err := c.withPIN(people.Lead, people.Supervisor)
	if err != nil {
		return err
	}
	form := c.dayForm("close", v.Base+"/close", refused, f)
	items := []item{field(size(form.line("outcome", "What came of it?", ""), ui.Full, ui.Area, "Who was told and how, what was changed. No names."))}
	v.Close = &officeForm{Form: form, Parts: []part{{Items: append(items, form.signature("sign", "Signed by", signers)...)}}, Submit: "Close this look-back", Plain: true}
	return nil
}

func keptNames(s *Server, c *Context) error {
	names, err := s.prog.LookBackNames(c.R.Context(), c.Actor(), c.Act(), c.R.PathValue("id"))
	if err != nil {
		return c.showKept("names", fault.Of(err), nil)
	}
	return c.showKept("", nil, names)
}

func keptClose(s *Server, c *Context) error {
	_, err := s.prog.CloseLookBack(c.R.Context(), c.Actor(), programme.CloseLookBack{Act: c.Act(), LookBack: c.R.PathValue("id"), Outcome: c.Form("outcome"), Sign: c.Sign("sign")})
	if err != nil {
		return c.showKept("close", fault.Of(err), nil)
	}
	return c.Done("/look-back/kept/"+c.R.PathValue("id"), "The look-back is closed.")
}

func keptLetters(s *Server, c *Context) error {
	kind := c.Form("letter")
	list, err := s.prog.LookBackLetters(c.R.Context(), c.Actor(), c.Act(), c.R.PathValue("id"), kind)
	if err != nil {
		return c.showKept("letters", fault.Of(err), nil)
	}
	ch, err := s.prog.Charter(c.R.Context())
	if err != nil {
		return err
	}
	now := s.prog.Now()
	var letters []paper.PersonLetter
	for _, n := range list {
		words := lookBackLetterIn(ch, n.Language)
		text := words.reading
		if kind == programme.LetterFingerstick {
			text = words.fingerstick
		}
		labels := words.labels
		var further *paper.SlipLabels
		if words.further {
			further = &labels
		}
		letters = append(letters, paper.PersonLetter{
			Lang: labels.Lang, Words: further, Programme: ch.Details.Name, Contact: ch.Details.Contact, Hours: ch.Details.ContactHours, Date: civil.Of(now), To: n.Name, Address: addressLines(n.Address),
			About: words.lookBackAbout(ticketText(n.Ticket), n.Event.Name, labels.DateText(n.Event.Date)), Heading: text.heading,
			Body: slices.Concat(
				paper.Said(text.says...), []paper.LetterLine{{Text: labels.WhatToDo, Bold: true}}, paper.Numbered(replaced(text.steps, ch.Details.Contact)),
				paper.Said(replaced(text.after, ch.Details.Emergency)...), paper.Said(words.signed),
			),
			Draft: words.draft, RecordID: shortID(c.R.PathValue("id")) + "/" + shortID(n.BackPerson.Visit), Printed: now, Invented: s.opt.Demo != nil,
		})
	}
	size := paper.Letter
	if c.Form("size") == "a4" {
		size = paper.A4
	}
	var buf bytes.Buffer
	if err := paper.WriteLetters(&buf, letters, size); err != nil {
		return err
	}
	c.W.Header().Set("Content-Disposition", `attachment; filename="letters.pdf"`)
	return c.sendFile("application/pdf", "", buf.Bytes())
}

// replaced puts a number into sentences.
func replaced(list []string, number string) []string {
	out := make([]string, len(list))
	for i, s := range list {
		out[i] = strings.ReplaceAll(s, "{number}", number)
	}
	return out
}
