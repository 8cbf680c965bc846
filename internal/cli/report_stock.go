package cli

import (
	"encoding/json"
	"fmt"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"fairstick/internal/exchange"
	"fairstick/internal/fault"
	"fairstick/internal/programme"
	"fairstick/internal/stock"
)

// reportStockCommand writes the stock as it stands.
func (c *console) reportStockCommand() *cobra.Command {
	var asJSON, asCSV bool
	cmd := &cobra.Command{
		Use:   "stock",
		Short: "Report the stock: levels by place, expiry, warnings, what to order for the planned events",
		Long: `Reports the stock as it stands. With --csv one lot or supply a row; with --json everything, amounts in minor units.
The record may be in use by a running server.`,
		Example: "  fairstick report stock\n  fairstick report stock --csv > stock.csv",
		Args:    noArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if asJSON && asCSV {
				return fault.New(fault.Invalid, "which-format", "Both --json and --csv were given.", "", "Give one of them.")
			}
			return c.with(cmd.Context(), true, func(p *programme.Programme) error {
				r, err := p.Stock(cmd.Context())
				switch {
				case err != nil:
					return err
				case asCSV:
					return exchange.WriteStock(c.out, r.Lines)
				case asJSON:
					enc := json.NewEncoder(c.out)
					enc.SetIndent("", "  ")
					enc.SetEscapeHTML(false)
					return enc.Encode(r)
				}
				return c.printStock(r)
			})
		},
	}
	cmd.Flags().BoolVar(&asJSON, "json", false, "write JSON")
	cmd.Flags().BoolVar(&asCSV, "csv", false, "write CSV")
	return cmd
}

func (c *console) printStock(r *programme.Stockroom) error {
	w := tabwriter.NewWriter(c.out, 0, 4, 2, ' ', 0)
	for _, x := range r.Warnings {
		word := "look"
		if x.Stop {
			word = "stop"
		}
		fmt.Fprintf(w, "%s: %s\n", word, x.Says)
	}
	fmt.Fprintf(w, "\nlot or supply\ton hand\tat events\tused\tdisposed\tmissing\texpiry\n")
	for _, l := range r.Lines {
		expiry := "-"
		if !l.Expiry.IsZero() {
			expiry = l.Expiry.String()
		}
		fmt.Fprintf(w, "%s\t%d %s\t%d\t%d\t%d\t%d\t%s\n", l.Name, l.OnHand, l.Unit, l.AtEvents, l.Used, l.Disposed, l.Lost, expiry)
	}
	for _, v := range r.Value {
		fmt.Fprintf(w, "on hand by own invoices\t%s\n", stock.Money(v.Minor, v.Currency))
	}
	if len(r.Orders) > 0 {
		fmt.Fprintf(w, "\nplanned events: %d\tneeded\ton hand\torder\n", len(r.Events))
		for _, o := range r.Orders {
			fmt.Fprintf(w, "%s\t%d %s\t%d\t%d\n", o.Rate.Name, o.Need, o.Rate.Unit, o.Usable, o.Missing)
		}
		if !r.OrderBy.IsZero() {
			fmt.Fprintf(w, "order by\t%s\n", r.OrderBy)
		}
	}
	return w.Flush()
}
