package web

import (
	"fmt"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"fairstick/internal/event"
	"fairstick/internal/fault"
	"fairstick/internal/paper"
	"fairstick/internal/plan"
	"fairstick/internal/programme"
	"fairstick/internal/web/ui"
)

// packForms is the part of the page that makes the event pack: forms are numbered first, by an act of its own, and then bound
// into the pack as often as it is drawn. Drawing it makes no number.
type packForms struct {
	Action string
	Asked  url.Values // what the pack is for, as it stands in an address
	Which  ui.Input   // the numbers to bind in
	Size   ui.Input
	Number *dayForm // nil once the event is closed
	Count  string   // offered
	Said   []string
}

// noForms and allForms are choices of the pack beside single batches.
const (
	noForms  = "none"
	allForms = "all"
)

// batchKey names numbers that were given together.
func batchKey(b event.FormsPrinted) string { return fmt.Sprintf("%d-%d", b.From, b.To) }

// freshBatches are the batches of which no form was typed in, void or counted back: not in use yet, so that no sheet is
// printed twice while one with its number lies on a table. The others are counted in used.
func freshBatches(d *programme.Day) (fresh []event.FormsPrinted, used []event.FormsPrinted) {
	touched := map[int]bool{}
	for _, f := range d.Forms() {
		touched[f.Number] = f.State != programme.FormMissing
	}
	for _, b := range d.Event.Printed {
		inUse := false
		for n := b.From; n <= b.To; n++ {
			inUse = inUse || touched[n]
		}
		if inUse {
			used = append(used, b)
		} else {
			fresh = append(fresh, b)
		}
	}
	return fresh, used
}

func batchText(b event.FormsPrinted) string {
	return numbersText(b.From, b.To) + ", " + languageWord(b.Language)
}

// packFormsOf offers what can be bound into the pack of an event.
func (c *Context) packFormsOf(d *programme.Day, asked flowAsked, refused string, f *fault.Fault) *packForms {
	base := dayBase(d)
	fresh, used := freshBatches(d)
	p := &packForms{Action: base + "/pack.pdf", Asked: asked.query(), Count: strconv.Itoa(plan.DowntimeForms)}
	p.Which = ui.Input{ID: "f-pack-forms", Name: "forms", Label: "Numbered forms in it", Kind: ui.Select, Value: noForms}
	p.Size = ui.Input{ID: "f-pack-size", Name: "size", Label: "Paper", Kind: ui.Select, Value: "letter", Options: []ui.Option{{Value: "letter", Label: "Letter"}, {Value: "a4", Label: "A4"}}}
	total := 0
	for _, b := range fresh {
		total += b.To - b.From + 1
		p.Which.Options = append(p.Which.Options, ui.Option{Value: batchKey(b), Label: batchText(b)})
		p.Which.Value = batchKey(b)
	}
	if len(fresh) > 1 && total <= paper.MostForms {
		p.Which.Options = append([]ui.Option{{Value: allForms, Label: fmt.Sprintf("All %d that are not in use", total)}}, p.Which.Options...)
		p.Which.Value = allForms
	}
	p.Which.Options = append(p.Which.Options, ui.Option{Value: noForms, Label: "None"})
	switch {
	case len(d.Event.Printed) == 0:
		p.Said = append(p.Said, "No form is numbered yet. Number them first, or take the pack without.")
	case len(fresh) > 0:
		p.Said = append(p.Said, "The pack has the numbers given before, and making it again gives none. Throw half-printed sheets away: two sheets must not have one number.")
		p.Count = ""
	}
	if len(used) > 0 {
		var texts []string
		for _, b := range used {
			texts = append(texts, numbersText(b.From, b.To))
		}
		p.Said = append(p.Said, "In use already, so not offered here: "+strings.Join(texts, "; ")+". They stand under Paper forms.")
	}
	if d.Event.Phase != event.IsClosed {
		form := c.dayForm("number", base+"/pack/forms?"+asked.query().Encode(), refused, f)
		p.Number = &form
	}
	return p
}

// packNumber gives numbers to forms for the pack, and leads back to the page with what was asked.
func packNumber(s *Server, c *Context) error {
	d, err := c.Day()
	if err != nil {
		return err
	}
	count, err := c.Int("count", "How many forms")
	switch {
	case err != nil:
	case c.Form("count") == "":
		err = fault.BadField("count", "How many forms? %d are a usual reserve for a day without power (common practice).", plan.DowntimeForms)
	case count == 0:
		err = fault.BadField("count", "Nothing was numbered. A pack without forms needs no numbers: choose None beside it.")
	case d.ProtocolErr != nil: // nothing is numbered that could not be printed
		err = d.ProtocolErr
	}
	if err != nil {
		return c.flowAgain("number", fault.Of(err))
	}
	out, err := s.prog.FormsPrinted(c.R.Context(), c.Actor(), programme.FormsPrinted{Act: c.Act(), Event: d.Event.ID, Language: c.Form("language"), Count: count})
	if err != nil {
		return c.flowAgain("number", fault.Of(err))
	}
	return c.Done(dayBase(d)+"/flow?"+c.R.URL.Query().Encode()+"#print", "Numbers "+numbersText(out.From, out.To)+" are written down, each to be accounted for. Make the pack under On paper.")
}

// boundForms are the batches that a pack was asked for: none when nothing is said.
func boundForms(s *Server, c *Context, d *programme.Day) ([]paper.FormPack, error) {
	want := c.R.URL.Query().Get("forms")
	if want == "" || want == noForms {
		return nil, nil
	}
	fresh, used := freshBatches(d)
	var out []paper.FormPack
	for _, b := range fresh {
		if want != allForms && want != batchKey(b) {
			continue
		}
		f, err := paper.FormsOf(d, b.Language, c.now(d), s.opt.Demo != nil)
		if err != nil {
			return nil, err
		}
		f.From, f.To = b.From, b.To
		out = append(out, f)
	}
	if len(out) > 0 {
		return out, nil
	}
	if slices.ContainsFunc(used, func(b event.FormsPrinted) bool { return want == batchKey(b) }) {
		return nil, fault.New(fault.Conflict, "forms-in-use", "Forms "+want+" are in use.", "A second sheet with the same number could hold another person's answers.", "Number new forms for the pack. A lost sheet is void, under Paper forms.")
	}
	return nil, fault.New(fault.Missing, "no-such-forms", "These numbers were not given together for this event.", "A number that nobody wrote down cannot be accounted for.", "Go back to the page of posts and waits, number the forms there, and take the pack again.")
}
