package cli

import (
	"encoding/json"
	"fmt"
	"strings"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"fairstick/internal/exchange"
	"fairstick/internal/fault"
	"fairstick/internal/programme"
)

func (c *console) lookBackCommand() *cobra.Command {
	var ask programme.AskBack
	var asJSON, asCSV bool
	cmd := &cobra.Command{
		Use:   "lookback",
		Short: "Find whom a lot, a vial, a meter, a screener or a time touched",
		Long: `Finds the readings that fit everything that is asked for: who (by ticket), where, when, with which meter and strips, who
tested and who supervised. Nothing is recorded and no name of a participant is written; names are seen on the page of a
look-back that is kept with its reason. The record may be in use by a running server.

A thing is named as it is called: the number on a lot, the label of a meter, the name of a person, the date or a part of the
name of an event. A time without a day is that of the event.

Exit code 2: a name that the record does not have, or nothing asked for.`,
		Example: `  fairstick lookback --lot 4471
  fairstick lookback --event 2026-10-10 --screener "Ines Calder" --from-time 10:00 --until-time 11:30
  fairstick lookback --control-lot C1 --from 2026-08-01 --until 2026-12-31 --json`,
		Args: noArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if asJSON && asCSV {
				return fault.New(fault.Invalid, "which-format", "Both --json and --csv were given.", "", "Give one of them.")
			}
			return c.with(cmd.Context(), true, func(p *programme.Programme) error {
				b, err := p.LookBack(cmd.Context(), ask)
				switch {
				case err != nil:
					return err
				case asCSV:
					return exchange.WriteLookBack(c.out, b)
				case asJSON:
					enc := json.NewEncoder(c.out)
					enc.SetIndent("", "  ")
					enc.SetEscapeHTML(false)
					return enc.Encode(b)
				}
				return c.printLookBack(b)
			})
		},
	}
	f := cmd.Flags()
	f.StringVar(&ask.StripLot, "lot", "", "lot of strips")
	f.StringVar(&ask.Vial, "vial", "", "vial, by the programme's name on it")
	f.StringVar(&ask.ControlLot, "control-lot", "", "lot of control solution: what it cleared")
	f.StringVar(&ask.Meter, "meter", "", "meter by its label or serial number")
	f.StringVar(&ask.Screener, "screener", "", "who took the reading")
	f.StringVar(&ask.Event, "event", "", "event by its id, its date or a part of its name")
	f.StringVar(&ask.FromDay, "from", "", "first day, like 2026-10-10")
	f.StringVar(&ask.FromTime, "from-time", "", "first time, like 10:00")
	f.StringVar(&ask.UntilDay, "until", "", "last day")
	f.StringVar(&ask.UntilTime, "until-time", "", "last time, to the end of that minute")
	f.BoolVar(&asJSON, "json", false, "write JSON")
	f.BoolVar(&asCSV, "csv", false, "write CSV")
	return cmd
}

func (c *console) printLookBack(b *programme.Affected) error {
	fmt.Fprintln(c.out, b.Words)
	for _, s := range b.Says() {
		fmt.Fprintln(c.out, s)
	}
	w := tabwriter.NewWriter(c.out, 0, 4, 2, ' ', 0)
	for _, d := range b.Events {
		fmt.Fprintf(w, "\n%s, %s, %s\n", d.Name, d.Venue, d.Date.Long())
		if len(d.People) > 0 {
			fmt.Fprintln(w, "ticket\tat\treading\tmeter\tlot\tvial\tscreener\tanswered for it\tsupervisors present\tmay be called")
		}
		for _, x := range d.People {
			call := "no"
			if x.MayCall {
				call = "yes"
			}
			for _, r := range x.Readings {
				fmt.Fprintf(w, "%03d\t%s\t%s\t%s\t%s\t%s\t%s\t%s\t%s\t%s\n", x.Ticket, r.At.In(d.Zone).Format("15:04"), r.Shown, r.Meter, r.Lot, r.Vial, r.Screener, r.Supervisor, strings.Join(r.Present, ", "), call)
			}
		}
		for _, r := range d.Runs {
			fmt.Fprintf(w, "control\t%s\tlevel %s %s\t%s\t\t%s\n", r.At.In(d.Zone).Format("15:04"), r.Level, r.Verdict, r.Meter, r.Vial)
		}
	}
	return w.Flush()
}
