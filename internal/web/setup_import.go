package web

import (
	"fmt"
	"net/http"
	"strings"

	"fairstick/internal/exchange"
	"fairstick/internal/fault"
	"fairstick/internal/programme"
	"fairstick/internal/web/ui"
)

// importWords says what the lists are called and where each is shown.
var importWords = map[string]struct{ title, path, one, many string }{
	programme.PeopleList:        {"People", "/people", "person", "people"},
	programme.VerificationsList: {"Verifications", "/people", "verification", "verifications"},
	programme.MetersList:        {"Meters", "/meters", "meter", "meters"},
	programme.StripLotsList:     {"Strips", "/strips", "lot", "lots"},
	programme.ControlLotsList:   {"Control solution", "/controls-solution", "lot", "lots"},
	programme.DisinfectantsList: {"Disinfectants", "/disinfectants", "disinfectant", "disinfectants"},
	programme.SuppliesList:      {"Other supplies", "/supplies", "supply", "supplies"},
}

// importView is the loading of a list: first the file, then what came of trying it.
type importView struct {
	Page    ui.Page
	List    string
	Columns []exchange.Column
	Form    officeForm
	Tried   *triedView
	Other   *ui.Link // the list that is usually loaded next
}

// triedView is what a file would add, and what is wrong with it.
type triedView struct {
	Sentence string
	Says     []string
	Bad      []programme.BadRow
	Add      string // label of the button; empty when nothing can be added
	Text     string
	Command  string
}

func importShow(s *Server, c *Context) error { return c.importAgain(nil, nil) }

func (c *Context) importAgain(tried *triedView, f *fault.Fault) error {
	list := c.R.PathValue("list")
	words, ok := importWords[list]
	if !ok {
		_, err := exchange.Example(list)
		return err
	}
	form := c.dayForm("import", "/lists/"+list+"/import", "import", f)
	v := importView{
		Page: c.officePage("Load: "+strings.ToLower(words.title), "Nothing is recorded until you have seen what the file would add.", "setup", &ui.Link{Href: words.path, Label: words.title}),
		List: list, Columns: exchange.ListColumns(list), Tried: tried,
	}
	file := optional(size(form.line("file", "CSV file", ""), ui.Full, ui.File, "A table saved as CSV in UTF-8; commas, semicolons or tabs are understood."))
	file.Accept = ".csv,text/csv,text/plain"
	text := optional(size(form.line("text", "Or paste the table here", ""), ui.Full, ui.Area, "With its header row. Cells copied from a spreadsheet have tabs between them."))
	text.Rows, text.Private = 6, true
	v.Form = officeForm{Form: form, Submit: "Try it", Upload: true, Parts: []part{{Items: []item{field(file), field(text)}}}}
	switch list {
	case programme.PeopleList:
		v.Other = &ui.Link{Href: "/lists/verifications/import", Label: "Load verifications"}
	case programme.VerificationsList:
		v.Other = &ui.Link{Href: "/lists/people/import", Label: "Load people"}
	}
	return c.Show(f, ImportPage(v))
}

// imported gives the table of a form: the file when one was chosen, else the pasted text.
func (c *Context) imported() (string, error) {
	data, err := c.upload("file")
	if err == nil && len(data) > 0 {
		return string(data), nil
	}
	if text := c.R.PostFormValue("text"); strings.TrimSpace(text) != "" {
		return text, nil
	}
	if err != nil && fault.Of(err).Kind == fault.Internal {
		return "", err
	}
	return "", fault.BadField("file", "Choose a file or paste a table first.")
}

func importList(s *Server, c *Context) error {
	list := c.R.PathValue("list")
	words, ok := importWords[list]
	if !ok {
		return c.importAgain(nil, nil)
	}
	text, err := c.imported()
	if err != nil {
		return c.importAgain(nil, fault.Of(err))
	}
	parsed, err := exchange.ReadList(list, strings.NewReader(text))
	if err != nil {
		return c.importAgain(nil, fault.Of(err))
	}
	add := c.Form("add") == "yes"
	done, err := s.prog.ImportList(c.R.Context(), c.Actor(), programme.ImportList{Act: c.Act(), List: list, Rows: parsed.Rows, Dry: !add})
	if err != nil {
		return c.importAgain(nil, fault.Of(err))
	}
	if add && len(done.Bad) == 0 {
		return c.Done(words.path, added(done, words.one, words.many))
	}
	v := &triedView{Bad: done.Bad, Text: text, Command: newCommand()}
	what := func(n int) string { return plural(n, words.one, words.many) }
	rows := map[int]bool{}
	for _, b := range done.Bad {
		rows[b.Line] = true
	}
	switch {
	case len(done.Bad) > 0:
		v.Sentence = fmt.Sprintf("%d of %s cannot be added. Nothing was recorded.", len(rows), plural(len(parsed.Rows), "row", "rows"))
	case done.Added == 0:
		v.Sentence = "Everything in this file is on the list already."
	default:
		v.Sentence = fmt.Sprintf("This file would add %s. Nothing is recorded yet.", what(done.Added))
		v.Add = "Add " + what(done.Added)
	}
	if done.There > 0 && len(done.Bad)+done.Added > 0 {
		v.Says = append(v.Says, plural(done.There, "row is", "rows are")+" on the list already.")
	}
	if len(done.Bad) > 0 && done.Added > 0 {
		v.Says = append(v.Says, fmt.Sprintf("%s right. They are added when every row is right.", plural(done.Added, "row is", "rows are")))
	}
	return c.importAgain(v, nil)
}

func added(done programme.Imported, one, many string) string {
	s := plural(done.Added, one+" is", many+" are") + " added."
	if done.There > 0 {
		s += fmt.Sprintf(" %d were there already.", done.There)
	}
	return s
}

// importExample sends an invented file with the columns of a list.
func importExample(s *Server, c *Context) error {
	list := c.R.PathValue("list")
	data, err := exchange.Example(list)
	if err != nil {
		return err
	}
	h := c.W.Header()
	h.Set("Content-Type", "text/csv; charset=utf-8")
	h.Set("Content-Disposition", `attachment; filename="`+list+`-example.csv"`)
	c.W.WriteHeader(http.StatusOK)
	_, err = c.W.Write(data)
	return err
}
