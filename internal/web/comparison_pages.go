package web

import (
	"bytes"
	"cmp"
	"encoding/csv"
	"fmt"
	"strings"

	"fairstick/internal/chart"
	"fairstick/internal/fault"
	"fairstick/internal/figure"
	"fairstick/internal/people"
	"fairstick/internal/programme"
	"fairstick/internal/stock"
	"fairstick/internal/web/ui"
)

func comparisonsShow(s *Server, c *Context) error {
	all, err := s.prog.Comparisons(c.R.Context())
	if err != nil {
		return err
	}
	v := listView{
		Page: c.officePage("Comparisons with a laboratory", "The same samples by a meter and by a laboratory: how far apart, and where it matters.", "quality", &ui.Link{Href: "/quality", Label: "Quality"}),
		ID:   "comparisons", Caption: plural(len(all), "comparison", "comparisons") + ", the newest first", Find: "Find a comparison",
		Cols:      columns("Comparison", "Strip lot", "The laboratory's method", "It measured", "Pairs"),
		EmptyWhat: "No meter has been compared with a laboratory yet.",
		EmptyHow:  "Measure samples over the whole range with a meter and have a laboratory measure the same ones; 100 or more are usual. Then type the pairs or choose a file.",
		New:       &ui.Link{Href: "/quality/comparisons/new", Label: "Add a comparison"},
	}
	v.Page.Wide = true
	for _, x := range all {
		d := x.Details
		row := listRow{Href: "/quality/comparisons/" + x.ID, Cells: []string{
			meterWord(x) + ", " + d.On.Long(), orDash(x.StripLot.Details.Lot), orDash(d.Laboratory), specimenWords[d.Specimen], fmt.Sprint(len(d.Pairs)),
		}}
		if x.Withdrawn != nil {
			row.Gone, row.Cells[4] = true, "withdrawn: "+x.Withdrawn.Reason
		}
		v.Rows = append(v.Rows, row)
	}
	return c.Render(200, OfficeList(v))
}

func meterWord(x programme.Compared) string { return cmp.Or(x.Meter.Details.Label, "a meter") }

// comparisonView is the report of a comparison.
type comparisonView struct {
	Page      ui.Page
	Base      string
	Withdrawn string // why and when; empty while it stands
	Report    figure.Comparison
	Plots     []plotView
	Facts     [][2]string
	Tables    []reportPart
	Pairs     reportPart
	Withdraw  *officeForm
	ID        string
}

// plotView is one picture in two sizes, of which the page shows the one that fits.
type plotView struct {
	Key, Title, Answer string
	Square             bool
	Wide, Narrow       string // SVG
	Table              reportPart
}

func comparisonShow(s *Server, c *Context) error { return c.comparisonReport(nil) }

func (c *Context) comparisonReport(f *fault.Fault) error {
	ctx, id := c.R.Context(), c.R.PathValue("comparison")
	r, err := c.s.prog.Comparison(ctx, id)
	if err != nil {
		return err
	}
	told, listed, err := toldComparison(r, mostListed)
	if err != nil {
		return err
	}
	staff, err := programme.List[*people.State](ctx, c.s.prog, people.Kind)
	if err != nil {
		return err
	}
	v := comparisonView{Page: c.officePage(told.Title, "", "quality", comparisonsLink()), Base: "/quality/comparisons/" + id, Report: told, Facts: comparisonFacts(r), Pairs: tablePart(listed), ID: id}
	v.Page.Wide = true
	v.Facts = append(v.Facts, [2]string{"Recorded", nameIn(staff, r.By) + ", " + c.dayAndTime(r.At)})
	if v.Plots, err = plotsOf(told.Figures); err != nil {
		return err
	}
	for _, t := range told.Tables {
		v.Tables = append(v.Tables, tablePart(t))
	}
	if r.Withdrawn != nil {
		v.Withdrawn = endSentence(r.Withdrawn.Reason) + " " + nameIn(staff, r.WithdrawnBy) + ", " + c.dayAndTime(r.WithdrawnAt) + "."
	} else {
		form := c.dayForm("withdraw", v.Base+"/withdraw", "withdraw", f)
		reason := form.line("reason", "Why must it not be relied on?", "")
		reason.MaxLength, reason.Help = 200, "It stays in the record. No names of people."
		v.Withdraw = &officeForm{Form: form, Submit: "Withdraw it", Danger: true, Plain: true, Parts: []part{{Items: []item{field(reason)}}}}
	}
	return c.Show(f, ComparisonPage(v))
}

func drawn(f figure.Figure, size chart.Size) (string, error) {
	p, err := f.Chart.Draw(size)
	if err != nil {
		return "", err
	}
	return string(p.SVG()), nil
}

// mostListed is how many pairs a page or a sheet lists; the file has them all.
const mostListed = 200

// toldComparison says what a comparison shows, and lists its pairs.
func toldComparison(r programme.ComparisonReport, most int) (figure.Comparison, figure.Table, error) {
	in := figure.Compared{Meter: meterWord(r.Compared), Pairs: r.Pairs, Agrees: r.Agrees, Specimen: specimenWords[r.Details.Specimen]}
	if r.Protocol != "" {
		in.Source = "protocol version " + r.Protocol
	}
	for _, l := range r.Limits {
		in.Limits = append(in.Limits, strings.Join(l.Says, ", "))
	}
	told, err := figure.Compare(in)
	if err != nil {
		return told, figure.Table{}, err
	}
	listed, err := in.Listed(most)
	return told, listed, err
}

func comparisonFacts(r programme.ComparisonReport) [][2]string {
	d, m := r.Details, r.Meter.Details
	meter := meterWord(r.Compared)
	if m.Model != "" {
		meter += ", " + m.Model + ", serial number " + m.Serial
	}
	decimals := "%.0f to %.0f %s"
	if d.Unit.Other() == "mg/dL" {
		decimals = "%.1f to %.1f %s"
	}
	facts := [][2]string{
		{"Meter", meter},
		{"Strip lot", orDash(r.StripLot.Details.Lot)},
		{"Day of the readings", d.On.Long()},
		{"The laboratory's method", d.Laboratory},
		{"It measured", specimenWords[d.Specimen]},
		{"Pairs", fmt.Sprintf("%d, with laboratory values from "+decimals, len(r.Pairs), r.Agrees.Reference.Low, r.Agrees.Reference.High, d.Unit)},
	}
	if d.Note != "" {
		facts = append(facts, [2]string{"Note", d.Note})
	}
	return facts
}

func tablePart(t figure.Table) reportPart {
	p := reportPart{Key: t.Key, Heading: t.Heading, Said: t.Said, Rows: t.Rows}
	for _, c := range t.Cols {
		p.Cols = append(p.Cols, ui.Col{Label: c.Label, Num: c.Num})
	}
	return p
}

func comparisonWithdraw(s *Server, c *Context) error {
	id := c.R.PathValue("comparison")
	if _, err := s.prog.WithdrawComparison(c.R.Context(), c.Actor(), programme.WithdrawComparison{Act: c.Act(), Comparison: id, Reason: c.Form("reason")}); err != nil {
		f := fault.Of(err)
		if f.Kind != fault.Invalid {
			return f
		}
		return c.comparisonReport(f)
	}
	return c.Done("/quality/comparisons/"+id, "The comparison is withdrawn.")
}

func comparisonPDF(s *Server, c *Context) error {
	ctx := c.R.Context()
	r, err := s.prog.Comparison(ctx, c.R.PathValue("comparison"))
	if err != nil {
		return err
	}
	ch, err := s.prog.Charter(ctx)
	if err != nil {
		return err
	}
	told, listed, err := toldComparison(r, mostListed)
	if err != nil {
		return err
	}
	if r.Withdrawn != nil {
		told.Answers = append([]string{"This comparison was withdrawn: " + endSentence(r.Withdrawn.Reason)}, told.Answers...)
	}
	doc, err := told.Document(comparisonFacts(r), listed)
	if err != nil {
		return err
	}
	doc.Subtitle, doc.Programme, doc.RecordID = meterWord(r.Compared)+", "+r.Details.On.Long(), ch.Details.Name, r.ID
	doc.Printed, doc.Invented = s.prog.Now(), s.opt.Demo != nil
	return c.sendPDF(comparisonFile(r), doc)
}

// comparisonFile names a file after the day; a label may hold what a file name may not.
func comparisonFile(r programme.ComparisonReport) string {
	return "comparison-" + r.Details.On.String()
}

func comparisonCSV(s *Server, c *Context) error {
	x, err := programme.One[*stock.Comparison](c.R.Context(), s.prog, stock.ComparisonRef(c.R.PathValue("comparison")))
	if err != nil {
		return err
	}
	var buf bytes.Buffer
	w := csv.NewWriter(&buf)
	rows := [][]string{{"reference", "meter", "unit"}}
	for _, p := range x.Details.Pairs {
		rows = append(rows, []string{p.Reference, p.Meter, string(x.Details.Unit)})
	}
	if err := w.WriteAll(rows); err != nil {
		return err
	}
	return c.sendFile("text/csv; charset=utf-8", "pairs-"+x.Details.On.String()+".csv", buf.Bytes())
}
