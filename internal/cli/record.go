package cli

import (
	"context"
	"encoding/json"
	"fmt"
	"os"
	"strings"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"fairstick/internal/event"
	"fairstick/internal/exchange"
	"fairstick/internal/fault"
	"fairstick/internal/people"
	"fairstick/internal/programme"
)

func (c *console) reportCommand() *cobra.Command {
	report := &cobra.Command{Use: "report", Short: "Write a report from the record", Args: noArgs}
	var asJSON bool
	day := &cobra.Command{
		Use:   "day EVENT",
		Short: "Report one event: counts by outcome, basis and band, controls, care, waits, sums",
		Long: `Reports one event. EVENT is its id, its date (2026-10-10) or a part of its name; without it the events are listed.
The record may be in use by a running server.`,
		Example: "  fairstick report day 2026-10-10 --json",
		RunE: func(cmd *cobra.Command, args []string) error {
			return c.with(cmd.Context(), true, func(p *programme.Programme) error {
				ev, err := findEvent(cmd.Context(), p, strings.Join(args, " "))
				if err != nil {
					return err
				}
				r, err := p.Report(cmd.Context(), ev.ID)
				if err != nil {
					return err
				}
				if asJSON {
					enc := json.NewEncoder(c.out)
					enc.SetIndent("", "  ")
					enc.SetEscapeHTML(false)
					return enc.Encode(r)
				}
				return c.printReport(r)
			})
		},
	}
	day.Flags().BoolVar(&asJSON, "json", false, "write JSON")
	report.AddCommand(day, c.reportStockCommand(), c.reportFollowUpCommand(), c.trainingCommand(), c.binderCommand(), c.shortagesCommand(), c.lateCommand(), c.retentionCommand())
	report.AddCommand(c.reportSheetCommands()...)
	return report
}

func findEvent(ctx context.Context, p *programme.Programme, words string) (*event.State, error) {
	events, err := programme.List[*event.State](ctx, p, event.Kind)
	if err != nil {
		return nil, err
	}
	var hits []*event.State
	var names []string
	for _, e := range events {
		names = append(names, e.Plan.Date.String()+" "+e.Plan.Name)
		if words != "" && (e.ID == words || e.Plan.Date.String() == words || strings.Contains(strings.ToLower(e.Plan.Name), strings.ToLower(words))) {
			hits = append(hits, e)
		}
	}
	if len(hits) == 1 {
		return hits[0], nil
	}
	list := "There are no events yet."
	if len(names) > 0 {
		list = "The events are: " + strings.Join(names, "; ") + "."
	}
	if len(hits) > 1 {
		return nil, fault.New(fault.Invalid, "event-several", fmt.Sprintf("%d events match %q.", len(hits), words), "", list)
	}
	return nil, fault.New(fault.Invalid, "event-none", fmt.Sprintf("No event matches %q.", words), "", list)
}

func (c *console) printReport(r programme.Report) error {
	w := tabwriter.NewWriter(c.out, 0, 4, 2, ' ', 0)
	fmt.Fprintf(w, "%s, %s, %s (%s)\n\n", r.Name, r.Venue, r.Date, r.Phase)
	o := r.Outcomes
	fmt.Fprintf(w, "arrived\t%d\nleft before the test\t%d of %d\nnot eligible\t%d of %d\ndeclined\t%d of %d\ntested\t%d of %d\n", o.Arrived, o.Left, o.Arrived, o.NotEligible, o.Arrived, o.Declined, o.Arrived, o.Tested, o.Arrived)
	fmt.Fprintf(w, "referred\t%d of %d tested\t%s\t95 %% interval %s\n\nbasis\tband\tcount\tshare\t95 %% interval\n", r.Referrals.N, r.Referrals.Of, r.Referrals.Percent(), r.Referrals.Interval())
	for _, b := range r.ByBand {
		if b.N > 0 {
			fmt.Fprintf(w, "%s\t%s\t%d of %d\t%s\t%s\n", b.Basis, b.Band, b.N, b.Of, b.Percent(), b.Interval())
		}
	}
	fmt.Fprintf(w, "\ncontrol runs\t%d\tin range %d\tout of range %d\n\nsum\tdifference\n", r.ControlSum["runs"], r.ControlSum["in-range"], r.ControlSum["out-of-range"])
	for _, e := range r.Equalities {
		fmt.Fprintf(w, "%s: %s\t%d\n", e.Name, e.Sentence(), e.Difference)
	}
	return w.Flush()
}

func (c *console) checkCommand() *cobra.Command {
	return &cobra.Command{
		Use:   "check",
		Short: "Verify the record: hash chains, signatures, and that the tables follow from the entries",
		Long: `Verifies the hash chain and signatures of every laptop in the record, and that rebuilding the tables from the
entries gives the same tables. The record may be in use by a running server.`,
		Args: noArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			return c.with(cmd.Context(), true, func(p *programme.Programme) error {
				r, err := p.Check(cmd.Context())
				if err != nil {
					return err
				}
				return c.checked(r)
			})
		},
	}
}

// checked says what a check found.
func (c *console) checked(r programme.Checked) error {
	fmt.Fprintln(c.out, r.Summary)
	for _, s := range r.Problems {
		fmt.Fprintln(c.out, "problem:", s)
	}
	if len(r.Problems) > 0 {
		return fault.New(fault.Unusable, "record-damaged", fmt.Sprintf("The record has %d problems.", len(r.Problems)), "Figures made from it cannot be trusted.",
			"Stop using this folder, keep it as it is, and go back to the last backup.")
	}
	return nil
}

func (c *console) importCommand() *cobra.Command {
	imp := &cobra.Command{Use: "import", Short: "Load lists or a day from paper, and hold files against the record", Args: noArgs}
	var lead string
	var add bool
	list := &cobra.Command{
		Use:   "list LIST FILE.csv",
		Short: "Load a list: " + strings.Join(exchange.Lists(), ", "),
		Long: `Loads one of the lists from a CSV file. Without --add nothing is recorded: every bad row is named with its line and
column, and it says how many rows would be added. Loading the same file twice adds nothing.

` + exchange.Help(),
		Example: "  fairstick import list people class.csv\n  fairstick import list people class.csv --add --as \"Odile Marchetti\"",
		Args:    exactly(2, "the name of the list and a CSV file"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return c.importList(cmd.Context(), args[0], args[1], lead, add)
		},
	}
	list.Flags().BoolVar(&add, "add", false, "record the rows when every one is right")
	list.Flags().StringVar(&lead, "as", "", "name of the lead who answers for it (default: the only lead)")
	imp.AddCommand(list, c.importDayCommand(), c.importMeterCommand(), c.importFHIRCommand())
	return imp
}

func (c *console) importList(ctx context.Context, list, file, lead string, add bool) error {
	f, err := os.Open(file)
	if err != nil {
		return fault.New(fault.Invalid, "file", "The file "+file+" cannot be read.", "", "Check its name.").Because(err)
	}
	defer func() { _ = f.Close() }()
	parsed, err := exchange.ReadList(list, f)
	if err != nil {
		return err
	}
	return c.with(ctx, false, func(p *programme.Programme) error {
		who, err := findLead(ctx, p, lead)
		if err != nil {
			return err
		}
		done, err := p.ImportList(ctx, programme.Actor{Person: who}, programme.ImportList{List: list, Rows: parsed.Rows, Dry: !add})
		if err != nil {
			return err
		}
		for _, b := range done.Bad {
			fmt.Fprintf(c.out, "line %d, column %s: %s\n", b.Line, b.Column, b.Sentence)
		}
		if len(done.Bad) > 0 {
			return fault.New(fault.Invalid, "bad-rows", fmt.Sprintf("%d of %d rows are not right; nothing was recorded.", len(done.Bad), len(parsed.Rows)), "", "Correct them in the file and load it again.")
		}
		if !add {
			fmt.Fprintf(c.out, "%d rows would be added, %d are there already. Nothing was recorded; add --add to record them.\n", done.Added, done.There)
			return nil
		}
		fmt.Fprintf(c.out, "%d rows were added, %d were there already.\n", done.Added, done.There)
		return nil
	})
}

func findLead(ctx context.Context, p *programme.Programme, name string) (string, error) {
	all, err := programme.List[*people.State](ctx, p, people.Kind)
	if err != nil {
		return "", err
	}
	var ids []string
	for _, s := range all {
		if s.Has(people.Lead) && s.Gone == "" && (name == "" || strings.EqualFold(s.Details.Name, name)) {
			ids = append(ids, s.ID)
		}
	}
	if len(ids) == 1 {
		return ids[0], nil
	}
	return "", fault.New(fault.Invalid, "which-lead", "It is not clear which lead answers for this.", "The record shows who loaded a list.", "Name the lead with --as.")
}
