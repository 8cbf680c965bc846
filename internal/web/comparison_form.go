package web

import (
	"cmp"
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"unicode"

	"fairstick/internal/exchange"
	"fairstick/internal/fault"
	"fairstick/internal/glucose"
	"fairstick/internal/programme"
	"fairstick/internal/stock"
	"fairstick/internal/web/ui"
)

var specimenWords = map[stock.Specimen]string{
	stock.VenousPlasma: "venous plasma", stock.VenousSerum: "venous serum", stock.VenousBlood: "venous whole blood", stock.CapillaryPlasma: "capillary plasma of the same fingerstick",
}

// comparisonFormView is the form of a comparison with what could not be read.
type comparisonFormView struct {
	Page    ui.Page
	Missing string // what the programme lacks before anything can be compared
	Do      ui.Link
	Unread  []string // one sentence for each thing that is wrong with the pairs
	Form    officeForm
}

func comparisonNew(s *Server, c *Context) error { return c.comparisonAgain(nil, "", nil) }

// comparisonAgain shows the form, with the pairs that were sent when it was refused.
func (c *Context) comparisonAgain(f *fault.Fault, pairs string, unread []string) error {
	ctx := c.R.Context()
	meters, err := programme.List[*stock.Meter](ctx, c.s.prog, stock.MeterKind)
	if err != nil {
		return err
	}
	lots, err := programme.List[*stock.StripLot](ctx, c.s.prog, stock.StripLotKind)
	if err != nil {
		return err
	}
	v := comparisonFormView{Page: c.officePage("A new comparison", "The same samples, measured by a meter and by a laboratory.", "quality", comparisonsLink()), Unread: unread}
	switch {
	case len(meters) == 0:
		v.Missing, v.Do = "No meter is on the list yet.", ui.Link{Href: "/meters", Label: "Meters"}
	case len(lots) == 0:
		v.Missing, v.Do = "No strip lot is on the list yet.", ui.Link{Href: "/strips", Label: "Strips"}
	default:
		v.Form = c.comparisonForm(f, pairs, meters, lots)
	}
	return c.Show(f, ComparisonFormPage(v))
}

func (c *Context) comparisonForm(f *fault.Fault, text string, meters []*stock.Meter, lots []*stock.StripLot) officeForm {
	form := c.dayForm("comparison", "/quality/comparisons/new", "comparison", f)
	meter := size(form.line("meter", "Meter", c.query("meter")), ui.Medium, ui.Select, "")
	meter.Options = []ui.Option{{Label: "Choose"}}
	for _, m := range meters {
		meter.Options = append(meter.Options, ui.Option{Value: m.ID, Label: m.Details.Label + ", " + string(m.Details.Unit)})
	}
	lot := size(form.line("lot", "Strip lot that was used", ""), ui.Medium, ui.Select, "")
	lot.Options = []ui.Option{{Label: "Choose"}}
	for _, l := range lots {
		lot.Options = append(lot.Options, ui.Option{Value: l.ID, Label: l.Details.Lot + ", for " + strings.Join(l.Details.Models, ", ")})
	}
	on := size(form.line("on", "Day of the readings", ""), ui.Medium, ui.Date, "")
	on.Max = c.s.prog.Now().Format("2006-01-02")
	laboratory := size(form.line("laboratory", "The laboratory's method", ""), ui.Full, ui.Text, "For example: hexokinase, analyser of the college. No names of people.")
	laboratory.MaxLength = 80
	var specimens []ui.Option
	for _, s := range stock.Specimens {
		specimens = append(specimens, ui.Option{Value: string(s), Label: capitalised(specimenWords[s])})
	}
	specimen := form.choice("specimen", "What did the laboratory measure?", "", specimens...)
	specimen.Help = "A meter reads capillary blood: the kind of sample explains a part of any difference."
	note := optional(size(form.line("note", "Note", ""), ui.Full, ui.Area, "For example fasting or not, minutes between the two, readings of LO or HI that were left out. No names of people."))
	note.MaxLength = 300
	file := optional(size(form.line("file", "CSV file", ""), ui.Full, ui.File, "With the columns reference and meter; commas, semicolons or tabs are understood. A file goes before what stands below."))
	file.Accept = ".csv,text/csv,text/plain"
	pairs := optional(size(form.line("pairs", "Or type or paste the pairs", ""), ui.Full, ui.Area, "One pair a line: what the laboratory measured, a comma, what the meter showed. Both in the unit of the meter."))
	pairs.Value, pairs.Rows = text, 8
	return officeForm{Form: form, Submit: "Compare", Upload: true, Parts: []part{
		{ID: "what", Heading: "What was compared", Items: []item{pair(meter, lot), field(on)}},
		{ID: "laboratory", Heading: "The laboratory", Items: []item{field(laboratory), pick(specimen)}},
		{ID: "pairs", Heading: "The pairs", Help: fmt.Sprintf("From 2 to %s pairs, each of one sample. Give no names and no dates of birth.", thousands(stock.MostPairs)), Items: []item{field(file), field(pairs), field(note)}},
	}}
}

func thousands(n int) string {
	if n < 1000 {
		return strconv.Itoa(n)
	}
	return fmt.Sprintf("%d,%03d", n/1000, n%1000)
}

func capitalised(s string) string {
	r := []rune(s)
	if len(r) == 0 {
		return s
	}
	r[0] = unicode.ToUpper(r[0])
	return string(r)
}

// pairsText is the text of the pairs: that of the file when one was chosen, else what was typed.
func (c *Context) pairsText() (string, error) {
	data, err := c.upload("file")
	if err == nil && len(data) > 0 {
		return string(data), nil
	}
	if err != nil && fault.Of(err).Kind == fault.Internal {
		return "", err
	}
	return c.R.PostFormValue("pairs"), nil
}

func comparisonAdd(s *Server, c *Context) error {
	ctx := c.R.Context()
	text, err := c.pairsText()
	if err != nil {
		return err
	}
	cmd := programme.RecordComparison{
		Act: c.Act(), Meter: c.Form("meter"), StripLot: c.Form("lot"), On: c.Form("on"), Laboratory: c.Form("laboratory"), Specimen: c.Form("specimen"), Note: c.Form("note"),
	}
	var unit glucose.Unit
	if cmd.Meter != "" {
		m, err := programme.One[*stock.Meter](ctx, s.prog, stock.MeterRef(cmd.Meter))
		if err != nil {
			return c.comparisonAgain(fault.Of(err), text, nil)
		}
		unit = m.Details.Unit
	}
	read, unreadable := readTyped(text, unit)
	if unreadable == nil {
		cmd.Pairs, cmd.Unit = measured(read), string(read.Unit)
	}
	// Without pairs the command is refused in any case, and says what else is wrong.
	d, err := s.prog.RecordComparison(ctx, c.Actor(), cmd)
	if unreadable == nil && err == nil {
		return c.Done("/quality/comparisons/"+d.ID, strings.Join(append([]string{"The comparison is recorded."}, read.Notes...), " "))
	}
	f := fault.Of(err)
	if unreadable == nil || f.Kind != fault.Invalid {
		return c.comparisonAgain(f, text, nil)
	}
	unread := strings.Split(unreadable.Sentence, "\n")
	short := unread[0]
	if n := len(unread); n > 1 {
		short = fmt.Sprintf("%d things in the pairs need another look: see the list at the top of the page.", n)
	}
	f = f.Field("pairs", short)
	f.Sentence = short
	if n := len(f.Fields); n > 1 {
		f.Sentence = fmt.Sprintf("%d fields need another look.", n)
	}
	return c.comparisonAgain(f, text, unread)
}

// readTyped reads pairs in the unit of the meter, with or without a line that names the columns. The sentences of the fault are
// parted by line ends; lines are counted as in the text.
func readTyped(text string, unit glucose.Unit) (exchange.Pairs, *fault.Fault) {
	if strings.TrimSpace(text) == "" {
		return exchange.Pairs{}, fault.New(fault.Invalid, "pairs-missing", "Choose a file or type the pairs.", "", "")
	}
	headed, added := withHeader(text)
	p, err := exchange.ReadPairs(strings.NewReader(headed), unit)
	f := fault.Of(err)
	switch {
	case f != nil && f.Kind == fault.Internal:
		return p, f
	case f != nil && added:
		return p, fault.New(f.Kind, f.Key, lineWord.ReplaceAllStringFunc(f.Sentence, oneLess), f.Why, "")
	case f != nil:
		return p, f
	case p.Doubtful:
		return p, fault.New(fault.Invalid, "units-mixed", fmt.Sprintf("The meter shows %s, but the values look like %s. Nothing is converted.", p.Unit, p.Unit.Other()), "", "")
	case repeated(p):
		return p, fault.New(fault.Invalid, "pairs-repeated", "Some samples stand there several times (column replicate): keep one pair of each.", "", "")
	}
	return p, nil
}

// withHeader puts a line with the names of the columns above bare figures, and says whether it did.
func withHeader(text string) (string, bool) {
	text = strings.TrimPrefix(text, "\ufeff")
	first, _, _ := strings.Cut(strings.TrimLeft(text, "\r\n\t "), "\n")
	low := strings.ToLower(first)
	if !strings.ContainsAny(first, "0123456789") || strings.Contains(low, "reference") || strings.Contains(low, "meter") {
		return text, false
	}
	sep := ","
	for _, s := range []string{"\t", ";"} {
		if strings.Contains(first, s) {
			sep = s
			break
		}
	}
	return "reference" + sep + "meter\n" + text, true
}

var lineWord = regexp.MustCompile(`\b[Ll]ine [0-9]+`)

// oneLess names the line before: "Line 3" becomes "Line 2".
func oneLess(s string) string {
	word, number, _ := strings.Cut(s, " ")
	n, err := strconv.Atoi(number)
	if err != nil {
		return s
	}
	return word + " " + strconv.Itoa(max(1, n-1))
}

func repeated(p exchange.Pairs) bool {
	for _, n := range p.Replicates {
		if n > 1 {
			return true
		}
	}
	return false
}

// measured writes pairs as decimals. The shortest decimal that gives a number again is the one that was typed, but for zeros at
// its end.
func measured(p exchange.Pairs) []stock.Measured {
	out := make([]stock.Measured, len(p.Pairs))
	for i, x := range p.Pairs {
		out[i] = stock.Measured{Reference: decimalText(x.Reference), Meter: decimalText(x.Meter)}
	}
	return out
}

func decimalText(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

func comparisonsLink() *ui.Link {
	return &ui.Link{Href: "/quality/comparisons", Label: "Comparisons"}
}

func orDash(s string) string { return cmp.Or(s, "-") }
