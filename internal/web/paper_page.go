package web

import (
	"bytes"
	"fmt"
	"net/url"
	"strconv"
	"strings"

	"fairstick/internal/event"
	"fairstick/internal/fault"
	"fairstick/internal/paper"
	"fairstick/internal/programme"
	"fairstick/internal/web/ui"
)

// paperView is the printing of paper forms and the account of their numbers.
type paperView struct {
	Page    ui.Page
	Fault   *fault.Fault
	Base    string
	Closed  bool
	Planned bool
	Print   dayForm
	Void    dayForm
	Back    dayForm
	Batches []paperBatch
	Blank   string // counted back before
	Account paperAccount
}

// paperBatch is forms that were printed together, with the files to print them from.
type paperBatch struct {
	Numbers, Language string
	Files             []ui.Link
}

// paperAccount is what became of the numbers.
type paperAccount struct {
	Printed  int
	Figures  []ui.Figure
	Rows     []paperRow
	Missing  string
	Complete bool
}

// paperRow is numbers in one state.
type paperRow struct{ State, Numbers, Count, Note string }

func paperShow(_ *Server, c *Context) error { return c.paperAgain("", nil) }

func (c *Context) paperAgain(refused string, f *fault.Fault) error {
	d, err := c.Day()
	if err != nil {
		return err
	}
	base := dayBase(d) + "/paper"
	v := paperView{
		Page: c.dayPage(d, "Paper forms", "paper"), Fault: f, Base: base, Closed: d.Event.Phase == event.IsClosed, Planned: d.Event.Phase == event.IsPlanned,
		Print: c.dayForm("print", base+"/print", refused, f), Void: c.dayForm("void", base+"/void", refused, f), Back: c.dayForm("back", base+"/back", refused, f),
		Account: accountOf(d), Blank: rangesText(d.Event.BlankForms),
	}
	v.Page.Lead = "For a day without power or network, or beside the stations. Every number that is printed is accounted for."
	v.Page.Back = &ui.Link{Href: dayBase(d) + "/board", Label: "Board"}
	for _, b := range d.Event.Printed {
		batch := paperBatch{Numbers: numbersText(b.From, b.To), Language: languageWord(b.Language)}
		for _, size := range []string{"letter", "a4"} {
			q := url.Values{"from": {strconv.Itoa(b.From)}, "to": {strconv.Itoa(b.To)}, "paper": {size}}
			batch.Files = append(batch.Files, ui.Link{Href: base + "/forms.pdf?" + q.Encode(), Label: map[string]string{"letter": "Letter", "a4": "A4"}[size]})
		}
		v.Batches = append(v.Batches, batch)
	}
	return c.Show(f, PaperPage(v))
}

func languageWord(lang string) string {
	if lang == "es" {
		return "Spanish"
	}
	return "English"
}

func numbersText(from, to int) string {
	if from == to {
		return paper.FormNumber(from)
	}
	return paper.FormNumber(from) + " to " + paper.FormNumber(to)
}

// rangesText writes ranges as they are typed: "31-40, 45".
func rangesText(list []event.FormRange) string {
	parts := make([]string, len(list))
	for i, r := range list {
		parts[i] = strconv.Itoa(r.From)
		if r.To > r.From {
			parts[i] += "-" + strconv.Itoa(r.To)
		}
	}
	return strings.Join(parts, ", ")
}

var formStates = []struct{ key, word, note string }{
	{programme.FormTyped, "Typed in", "in the record"},
	{programme.FormVoided, "Void", "with a reason"},
	{programme.FormBack, "Blank, brought back", ""},
	{programme.FormMissing, "Not accounted for", "type in, void, or bring back"},
}

func accountOf(d *programme.Day) paperAccount {
	var a paperAccount
	forms := d.Forms()
	byState := map[string][]int{}
	for _, f := range forms {
		byState[f.State] = append(byState[f.State], f.Number)
	}
	a.Printed = len(forms)
	for _, s := range formStates {
		n := len(byState[s.key])
		a.Figures = append(a.Figures, ui.Figure{Label: s.word, Number: strconv.Itoa(n), Of: fmt.Sprintf("of %d printed", a.Printed)})
		if n == 0 {
			continue
		}
		a.Rows = append(a.Rows, paperRow{State: s.word, Numbers: runsText(byState[s.key]), Count: fmt.Sprintf("%d of %d", n, a.Printed), Note: s.note})
	}
	a.Missing = runsText(byState[programme.FormMissing])
	a.Complete = a.Printed > 0 && a.Missing == ""
	return a
}

// runsText writes rising numbers as runs: "001 to 012, 014".
func runsText(numbers []int) string {
	var parts []string
	for i := 0; i < len(numbers); {
		k := i
		for k+1 < len(numbers) && numbers[k+1] == numbers[k]+1 {
			k++
		}
		parts = append(parts, numbersText(numbers[i], numbers[k]))
		i = k + 1
	}
	return strings.Join(parts, ", ")
}

func paperPrint(s *Server, c *Context) error {
	count, err := c.Int("count", "How many forms")
	if err == nil && count == 0 {
		err = fault.BadField("count", "How many forms? A pack for a day without power is often 30 (common practice).")
	}
	if err != nil {
		return c.paperAgain("print", fault.Of(err))
	}
	d, err := c.Day()
	if err != nil {
		return err
	}
	if d.ProtocolErr != nil { // nothing is numbered that could not be printed
		return c.paperAgain("print", fault.Of(d.ProtocolErr))
	}
	out, err := s.prog.FormsPrinted(c.R.Context(), c.Actor(), programme.FormsPrinted{Act: c.Act(), Event: d.Event.ID, Language: c.Form("language"), Count: count})
	if err != nil {
		return c.paperAgain("print", fault.Of(err))
	}
	return c.Done(dayBase(d)+"/paper", "Numbers "+numbersText(out.From, out.To)+" are written down. Open the file below and print it.")
}

func paperPDF(s *Server, c *Context) error {
	d, err := c.Day()
	if err != nil {
		return err
	}
	q := c.R.URL.Query()
	from, err1 := strconv.Atoi(q.Get("from"))
	to, err2 := strconv.Atoi(q.Get("to"))
	lang, known := printedBatch(d, from, to)
	if err1 != nil || err2 != nil || !known {
		return fault.New(fault.Missing, "no-such-forms", "These numbers were not printed together for this event.", "A number that nobody wrote down cannot be accounted for.", "Go back to Paper forms and choose a file there.")
	}
	f, err := paper.FormsOf(d, lang, c.now(d), s.opt.Demo != nil)
	if err != nil {
		return err
	}
	f.From, f.To = from, to
	size := paper.Letter
	if q.Get("paper") == "a4" {
		size = paper.A4
	}
	var buf bytes.Buffer
	if err := paper.WriteForms(&buf, f, size); err != nil {
		return err
	}
	return c.sendFile("application/pdf", fmt.Sprintf("forms-%s-%s-%s.pdf", d.Event.Plan.Date, paper.FormNumber(from), paper.FormNumber(to)), buf.Bytes())
}

// printedBatch gives the language of numbers that were printed together.
func printedBatch(d *programme.Day, from, to int) (lang string, ok bool) {
	for _, b := range d.Event.Printed {
		if b.From == from && b.To == to {
			return b.Language, true
		}
	}
	return "", false
}

func paperVoid(s *Server, c *Context) error {
	form, err := c.Int("form", "The number of the form")
	if err == nil && form == 0 {
		err = fault.BadField("form", "Which number is void?")
	}
	if err == nil {
		_, err = s.prog.VoidForm(c.R.Context(), c.Actor(), programme.VoidForm{Act: c.Act(), Event: c.R.PathValue("event"), Form: form, Reason: c.Form("reason")})
	}
	if err != nil {
		return c.paperAgain("void", fault.Of(err))
	}
	return c.Done("/events/"+c.R.PathValue("event")+"/paper", "Form "+paper.FormNumber(form)+" is void.")
}

func paperBack(s *Server, c *Context) error {
	id := c.R.PathValue("event")
	if _, err := s.prog.FormsBack(c.R.Context(), c.Actor(), programme.FormsBack{Act: c.Act(), Event: id, Forms: c.Form("forms")}); err != nil {
		return c.paperAgain("back", fault.Of(err))
	}
	return c.Done("/events/"+id+"/paper", "The blank forms are counted.")
}
