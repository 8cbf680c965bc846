package cli

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"text/tabwriter"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"fairstick/internal/civil"
	"fairstick/internal/exchange"
	"fairstick/internal/fault"
	"fairstick/internal/paper"
	"fairstick/internal/programme"
	"fairstick/internal/report"
)

// sheetOptions are what a report over a span was given.
type sheetOptions struct {
	kind, from, to, lapse, event, out, size string
	asJSON, asCSV                           bool
}

func (o *sheetOptions) formats(f *pflag.FlagSet) {
	f.BoolVar(&o.asJSON, "json", false, "write JSON")
	f.BoolVar(&o.asCSV, "csv", false, "write CSV")
	f.StringVar(&o.out, "out", "", "file of the report")
	f.StringVar(&o.size, "paper", "letter", "letter or a4, for a PDF")
}

// retentionCommand writes the yearly review of how long records are kept.
func (c *console) retentionCommand() *cobra.Command {
	var o sheetOptions
	cmd := &cobra.Command{
		Use:   "retention",
		Short: "Report how long each kind of record is kept, what is over its time, what must stay and what was erased",
		Long: `Writes the yearly review: each kind of record with its time and what that rests on, the events whose contacts are over their time
and why some of them must stay, and what was erased under whose signatures. It names no participant and erases nothing: that
is done on the page, with two PINs.

--out writes a file: its ending says which (.pdf, .xlsx, .csv or .json). The record may be in use by a running server.`,
		Example: "  fairstick report retention\n  fairstick report retention --out retention.pdf",
		Args:    noArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			return c.sheet(cmd.Context(), o, func(p *programme.Programme) (report.Sheet, error) {
				r, err := p.RetentionReport(cmd.Context())
				if err != nil {
					return report.Sheet{}, err
				}
				ch, err := p.Charter(cmd.Context())
				return report.Retention(r, ch.Details.Name, p.Now()), err
			})
		},
	}
	o.formats(cmd.Flags())
	return cmd
}

// reportSheetCommands writes the reports over a span of days: season, college, host, health, funder and equity.
func (c *console) reportSheetCommands() []*cobra.Command {
	var out []*cobra.Command
	for _, kind := range report.Kinds {
		info, _ := report.KindOf(kind)
		o := sheetOptions{kind: kind}
		cmd := &cobra.Command{
			Use:   kind,
			Short: "Report: " + strings.ToLower(info.Name[:1]) + info.Name[1:],
			Long: info.Says + `

Without --from and --to it covers the season of today, else the latest one, else the year that ends today.
--out writes a file: its ending says which (.pdf, .xlsx, .csv or .json). The record may be in use by a running server.`,
			Example: "  fairstick report " + kind + " --from 2025-08-01 --to 2026-04-30 --out " + kind + ".pdf",
			Args:    noArgs,
			RunE:    func(cmd *cobra.Command, _ []string) error { return c.reportSheet(cmd.Context(), o) },
		}
		f := cmd.Flags()
		o.formats(f)
		if info.Event {
			cmd.Example = "  fairstick report " + kind + " --event 2025-10-04 --out " + kind + ".pdf"
			f.StringVar(&o.event, "event", "", "the event: its id, its date or a part of its name")
		} else {
			f.StringVar(&o.from, "from", "", "first day, like 2025-08-01")
			f.StringVar(&o.to, "to", "", "last day")
			f.StringVar(&o.lapse, "lapsing", "", "count verifications that no longer hold on this day (default: 90 days on)")
		}
		out = append(out, cmd)
	}
	return out
}

func (c *console) reportSheet(ctx context.Context, o sheetOptions) error {
	return c.sheet(ctx, o, func(p *programme.Programme) (report.Sheet, error) {
		ask, err := o.ask(ctx, p)
		if err != nil {
			return report.Sheet{}, err
		}
		f, err := p.Figures(ctx, ask)
		if err != nil {
			return report.Sheet{}, err
		}
		return report.Of(o.kind, f)
	})
}

// sheet writes a report in the form that was asked for.
func (c *console) sheet(ctx context.Context, o sheetOptions, write func(*programme.Programme) (report.Sheet, error)) error {
	if o.asJSON && o.asCSV || o.out != "" && (o.asJSON || o.asCSV) {
		return fault.New(fault.Invalid, "which-format", "More than one format was given.", "", "Give one of --json, --csv and --out.")
	}
	size, ok := map[string]paper.PageSize{"letter": paper.Letter, "a4": paper.A4}[o.size]
	if !ok {
		return fault.New(fault.Invalid, "paper", fmt.Sprintf("There is no paper %q.", o.size), "", "Say --paper letter or --paper a4.")
	}
	return c.with(ctx, true, func(p *programme.Programme) error {
		s, err := write(p)
		switch {
		case err != nil:
			return err
		case o.asJSON:
			return exchange.WriteReportJSON(c.out, s)
		case o.asCSV:
			return exchange.WriteReport(c.out, s)
		case o.out != "":
			return c.reportFile(o.out, s, size)
		}
		return c.printSheet(s)
	})
}

// ask reads the days, or the event.
func (o sheetOptions) ask(ctx context.Context, p *programme.Programme) (programme.FiguresAsk, error) {
	var ask programme.FiguresAsk
	info, _ := report.KindOf(o.kind)
	if info.Event {
		ev, err := findEvent(ctx, p, o.event)
		if err != nil {
			return ask, err
		}
		ask.Span = programme.Span{From: ev.Plan.Date, To: ev.Plan.Date, Event: ev.ID}
		return ask, nil
	}
	span, err := p.UsualSpan(ctx)
	if err != nil {
		return ask, err
	}
	ask.Span = span
	for _, x := range []struct {
		flag, value string
		to          *civil.Date
	}{{"from", o.from, &ask.Span.From}, {"to", o.to, &ask.Span.To}, {"lapsing", o.lapse, &ask.LapseOn}} {
		if x.value == "" {
			continue
		}
		d, err := civil.Parse(x.value)
		if err != nil {
			return ask, fault.New(fault.Invalid, "day", fmt.Sprintf("--%s %q is not a day.", x.flag, x.value), "", "Write it like 2026-04-30.")
		}
		*x.to = d
	}
	return ask, nil
}

// reportFile writes a report in the format that the name of the file ends in. A file is there whole or not at all.
func (c *console) reportFile(name string, s report.Sheet, size paper.PageSize) error {
	var buf bytes.Buffer
	var err error
	switch ending := strings.ToLower(filepath.Ext(name)); ending {
	case ".pdf":
		var doc paper.Document
		if doc, err = paper.ReportOf(s, false); err == nil {
			err = paper.WriteDocument(&buf, doc, size)
		}
	case ".xlsx":
		err = exchange.WriteReportXLSX(&buf, s)
	case ".csv":
		err = exchange.WriteReport(&buf, s)
	case ".json":
		err = exchange.WriteReportJSON(&buf, s)
	default:
		return fault.New(fault.Invalid, "out", fmt.Sprintf("A report cannot be written as %q.", ending), "", "Let the name of the file end in .pdf, .xlsx, .csv or .json.")
	}
	if err != nil {
		return err
	}
	if err := os.WriteFile(name, buf.Bytes(), 0o600); err != nil {
		return fault.New(fault.Unusable, "out", "The file "+name+" cannot be written.", "", "Name another file with --out.").Because(err)
	}
	fmt.Fprintf(c.out, "%s\n", name)
	return nil
}

func (c *console) printSheet(s report.Sheet) error {
	fmt.Fprintf(c.out, "%s\n%s, %s\n\n", s.Title, s.Programme, s.Subtitle)
	for _, said := range s.Brief {
		fmt.Fprintf(c.out, "%s\n", said)
	}
	for _, p := range s.Parts {
		if err := printPart(c.out, p); err != nil {
			return err
		}
	}
	return nil
}

func printPart(w io.Writer, p report.Part) error {
	fmt.Fprintf(w, "\n%s\n", p.Heading)
	for _, said := range p.Said {
		fmt.Fprintf(w, "%s\n", said)
	}
	if len(p.Rows) == 0 {
		_, err := fmt.Fprintf(w, "%s\n", p.Empty)
		return err
	}
	t := tabwriter.NewWriter(w, 0, 4, 2, ' ', 0)
	line := func(cells []string) { fmt.Fprintln(t, strings.TrimRight(strings.Join(cells, "\t"), "\t")) }
	var titles []string
	for _, c := range p.Cols {
		titles = append(titles, strings.ToLower(c.Label))
	}
	line(titles)
	for _, row := range p.Rows {
		cells := make([]string, len(row))
		for i, c := range row {
			cells[i] = c.Text
		}
		line(cells)
	}
	return t.Flush()
}
