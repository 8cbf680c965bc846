package cli

import (
	"encoding/json"
	"fmt"
	"strings"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"fairstick/internal/programme"
)

func (c *console) asJSON(v any) error {
	enc := json.NewEncoder(c.out)
	enc.SetIndent("", "  ")
	enc.SetEscapeHTML(false)
	return enc.Encode(v)
}

// shortagesCommand tells which events ran out of something.
func (c *console) shortagesCommand() *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "shortages",
		Short: "Report which events used up the strips or lancets that they brought, and when",
		Long: `Lists the events that used everything they brought of a lot of strips, of all strips, or of lancets, by what was used in the
record. The record may be in use by a running server.`,
		Args: noArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			return c.with(cmd.Context(), true, func(p *programme.Programme) error {
				list, err := p.Shortages(cmd.Context())
				if err != nil {
					return err
				}
				if asJSON {
					return c.asJSON(list)
				}
				if len(list) == 0 {
					fmt.Fprintln(c.out, "No event ran out of strips or lancets.")
					return nil
				}
				w := tabwriter.NewWriter(c.out, 0, 4, 2, ' ', 0)
				for _, s := range list {
					fmt.Fprintf(w, "%s\t%s\t%s\n", s.Date, s.Name, s.Says)
				}
				return w.Flush()
			})
		},
	}
	cmd.Flags().BoolVar(&asJSON, "json", false, "write JSON")
	return cmd
}

// lateCommand tells what is late for one event, or for all that are ahead.
func (c *console) lateCommand() *cobra.Command {
	return &cobra.Command{
		Use:   "late [EVENT]",
		Short: "Report what is late and what is still due for an event, or for all that are ahead",
		Long: `Lists the open tasks, approvals and expiries, what is late first. EVENT is its id, its date or a part of its name. The record may
be in use by a running server.`,
		Example: "  fairstick report late 2026-10-10",
		RunE: func(cmd *cobra.Command, args []string) error {
			return c.with(cmd.Context(), true, func(p *programme.Programme) error {
				id := ""
				if words := strings.Join(args, " "); words != "" {
					ev, err := findEvent(cmd.Context(), p, words)
					if err != nil {
						return err
					}
					id = ev.ID
				}
				count, err := p.Countdown(cmd.Context(), id)
				if err != nil {
					return err
				}
				fmt.Fprintf(c.out, "%d late, %d still to come.\n", count.Late(), len(count.Open)-count.Late())
				w := tabwriter.NewWriter(c.out, 0, 4, 2, ' ', 0)
				for _, d := range count.Open {
					state, name, owner := "due", "programme", d.Owner
					if d.Late() {
						state = fmt.Sprintf("late %d days", -d.Left)
					}
					if d.Event != nil {
						name = d.Event.Plan.Name
					}
					if owner == "" {
						owner = "nobody named"
					}
					fmt.Fprintf(w, "%s\t%s\t%s\t%s\t%s\n", state, d.On, d.What, name, owner)
				}
				return w.Flush()
			})
		},
	}
}
