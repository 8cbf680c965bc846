package cli

import (
	"bufio"
	"context"
	"fmt"
	"os"
	"strings"

	"github.com/spf13/cobra"

	"fairstick/internal/exchange"
	"fairstick/internal/fault"
	"fairstick/internal/programme"
)

// dayOptions are what the command import day was given.
type dayOptions struct {
	visits, controls string // files
	event, lead      string
	opened, accept   string
	add              bool
}

func (c *console) importDayCommand() *cobra.Command {
	var o dayOptions
	cmd := &cobra.Command{
		Use:   "day [FILE.csv]",
		Short: "Load a day from paper: one row a visit, and the control runs",
		Long: `Loads the visits of a day from a CSV file, and its control runs from another. Without --add nothing is recorded: every
bad row is named with its line and column, and so is everything that would have been refused on the day. Either all new
rows are recorded or none; loading the same file twice adds nothing. Rows are taken in the order of time, control runs
first, whatever their order in the file.

What would have been refused on the day is recorded only with --accept and a reason. It stands on the report, signed by
the lead, whose PIN is read from standard input.

The first row names the columns, in any order; commas, semicolons or tabs stand between cells; the file is UTF-8 with at
most 500 rows.
` + exchange.DayHelp(),
		Example: "  fairstick import day visits.csv --controls runs.csv --event 2026-06-20\n  fairstick import day visits.csv --controls runs.csv --event 2026-06-20 --add --as \"Odile Marchetti\"",
		Args:    cobra.MaximumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			o.visits = strings.Join(args, "")
			return c.importDay(cmd.Context(), o)
		},
	}
	cmd.Flags().StringVar(&o.controls, "controls", "", "CSV file of the control runs")
	cmd.Flags().StringVar(&o.event, "event", "", "the event: its id, its date or a part of its name")
	cmd.Flags().StringVar(&o.opened, "opened", "", "when the event was opened on paper, like 08:55; for one that is not open yet")
	cmd.Flags().StringVar(&o.lead, "as", "", "name of the lead who answers for it (default: the only lead)")
	cmd.Flags().StringVar(&o.accept, "accept", "", "reason why what would have been refused is recorded all the same; asks for the lead's PIN")
	cmd.Flags().BoolVar(&o.add, "add", false, "record the rows when every one is right")
	return cmd
}

func (c *console) importDay(ctx context.Context, o dayOptions) error {
	if o.visits == "" && o.controls == "" {
		return fault.New(fault.Invalid, "file", "No file was named.", "", "Name the file of the visits, or the one of the control runs with --controls.")
	}
	visits, err := readDay(exchange.DayVisits, o.visits)
	if err != nil {
		return err
	}
	controls, err := readDay(exchange.DayControls, o.controls)
	if err != nil {
		return err
	}
	return c.with(ctx, false, func(p *programme.Programme) error {
		ev, err := findEvent(ctx, p, o.event)
		if err != nil {
			return err
		}
		who, err := findLead(ctx, p, o.lead)
		if err != nil {
			return err
		}
		in := programme.ImportDay{
			Event: ev.ID, Visits: visits.Rows, Controls: controls.Rows, Opened: o.opened, Reason: o.accept,
			Dry: !o.add || len(visits.Bad)+len(controls.Bad) > 0,
		}
		if o.accept != "" {
			pin, err := ask(c, bufio.NewReader(c.in), "PIN of the lead who signs: ")
			if err != nil {
				return err
			}
			in.Accept = programme.Sign{Person: who, PIN: pin}
		}
		done, err := p.ImportDay(ctx, programme.Actor{Person: who}, in)
		if err != nil {
			return err
		}
		done.Bad, done.BadControls = append(visits.Bad, done.Bad...), append(controls.Bad, done.BadControls...)
		return c.sayDay(o, done)
	})
}

func readDay(file, name string) (exchange.Day, error) {
	if name == "" {
		return exchange.Day{}, nil
	}
	f, err := os.Open(name)
	if err != nil {
		return exchange.Day{}, fault.New(fault.Invalid, "file", "The file "+name+" cannot be read.", "", "Check its name.").Because(err)
	}
	defer func() { _ = f.Close() }()
	return exchange.ReadDay(file, f)
}

// sayDay tells what came of the files, and refuses while something is wrong or unsigned.
func (c *console) sayDay(o dayOptions, d programme.ImportedDay) error {
	for _, x := range []struct {
		file      string
		bad       []programme.BadRow
		irregular []programme.IrregularRow
	}{{o.controls, d.BadControls, d.IrregularControls}, {o.visits, d.Bad, d.Irregular}} {
		for _, b := range x.bad {
			fmt.Fprintf(c.out, "%s line %d, column %s: %s\n", x.file, b.Line, b.Column, b.Sentence)
		}
		for _, i := range x.irregular {
			where := fmt.Sprintf("%s line %d, column %s", x.file, i.Line, i.Field)
			if i.Line == 0 {
				where = "the opening"
			}
			fmt.Fprintf(c.out, "%s: would have been refused on the day: %s\n", where, i.Sentence)
		}
	}
	if n := len(d.Bad) + len(d.BadControls); n > 0 {
		return fault.New(fault.Invalid, "bad-rows", fmt.Sprintf("%d cells are not right; nothing was recorded.", n), "", "Correct them in the file and load it again.")
	}
	counts := fmt.Sprintf("%d visits and %d control runs", d.Visits, d.Controls)
	there := fmt.Sprintf("%d and %d", d.VisitsThere, d.ControlsThere)
	switch {
	case d.Recorded:
		fmt.Fprintf(c.out, "%s were added, %s were there already.\n", counts, there)
		return nil
	case o.add:
		return fault.New(fault.Refused, "irregular", fmt.Sprintf("%d things would have been refused on the day; nothing was recorded.", len(d.Irregular)+len(d.IrregularControls)),
			"What happened is recorded, but somebody answers for it.", "Read the list; a lead writes the reason with --accept and signs.")
	}
	fmt.Fprintf(c.out, "%s would be added, %s are there already. Nothing was recorded; add --add to record them.\n", counts, there)
	return nil
}
