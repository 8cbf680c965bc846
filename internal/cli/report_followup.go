package cli

import (
	"encoding/json"
	"fmt"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"fairstick/internal/programme"
)

// reportFollowUpCommand writes what became of everybody who was referred.
func (c *console) reportFollowUpCommand() *cobra.Command {
	var asJSON bool
	var of string
	cmd := &cobra.Command{
		Use:   "followup",
		Short: "Report follow-up: what became of all who were referred, with intervals",
		Long: `Reports what became of everybody who was advised to see someone: how many were seen by a clinician, of all referred and
never of those reached alone, with 95 % Wilson intervals, by band, event, language and permission to call.
With --json every row is written, each with its visit; no name and no number is in it. The record may be in use by a running
server.`,
		Example: "  fairstick report followup\n  fairstick report followup --event 2026-10-10 --json",
		Args:    noArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			return c.with(cmd.Context(), true, func(p *programme.Programme) error {
				scope := programme.FollowUpScope{}
				if of != "" {
					ev, err := findEvent(cmd.Context(), p, of)
					if err != nil {
						return err
					}
					scope.Event = ev.ID
				}
				r, err := p.Completion(cmd.Context(), scope)
				if err != nil {
					return err
				}
				if asJSON {
					enc := json.NewEncoder(c.out)
					enc.SetIndent("", "  ")
					enc.SetEscapeHTML(false)
					return enc.Encode(r)
				}
				return c.printCompletion(r)
			})
		},
	}
	cmd.Flags().StringVar(&of, "event", "", "one event: its id, its date or a part of its name (default: all)")
	cmd.Flags().BoolVar(&asJSON, "json", false, "write JSON")
	return cmd
}

func (c *console) printCompletion(r programme.Completion) error {
	w := tabwriter.NewWriter(c.out, 0, 4, 2, ' ', 0)
	fmt.Fprintf(w, "referred\t%d\nmay be called\t%d of %d\ncalled\t%d of %d\nreached\t%d of %d\n", r.Referred, r.Permitted, r.Referred, r.Called, r.Referred, r.Reached, r.Referred)
	line := func(what string, s programme.Share) {
		fmt.Fprintf(w, "%s\t%d of %d\t%s\t95 %% interval %s\n", what, s.N, s.Of, s.Percent(), s.Interval())
	}
	line("seen, of all referred", r.Seen)
	line("seen within 30 days, of all referred", r.Within30)
	line("seen within 90 days, of all referred", r.Within90)
	line("seen, of those reached", r.OfReached)
	fmt.Fprintf(w, "\nwhere they stand\tpeople\n")
	for _, p := range programme.Places {
		if n := r.Places[p]; n > 0 {
			fmt.Fprintf(w, "%s\t%d of %d\n", p, n, r.Referred)
		}
	}
	fmt.Fprintf(w, "\nby\tgroup\tseen\tshare\t95 %% interval\n")
	for _, g := range r.Groups {
		fmt.Fprintf(w, "%s\t%s\t%d of %d\t%s\t%s\n", g.By, g.Name, g.N, g.Of, g.Percent(), g.Interval())
	}
	return w.Flush()
}
