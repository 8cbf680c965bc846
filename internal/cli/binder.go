package cli

import (
	"bytes"
	"fmt"

	"github.com/spf13/cobra"

	"fairstick/internal/paper"
	"fairstick/internal/programme"
)

func (c *console) binderCommand() *cobra.Command {
	ask := programme.AskBinder{}
	var a4, without bool
	cmd := &cobra.Command{
		Use:   "binder OUT.pdf",
		Short: "Write the inspection binder of some days as one PDF",
		Long: `Writes one PDF with contents and page numbers: certificate, protocol in force, events, roster and verifications, meters, lots,
control log, corrective actions, signed corrections, incidents, sharps log, gates passed with a reason, sums of each day, and
every result by ticket. It names no participant. The file is replaced when it is there. The record may be in use by a
running server.

A binder of more than 500 pages is refused: ask for fewer days, or leave the results out.`,
		Example: "  fairstick report binder --from 2026-08-01 --to 2026-12-31 binder.pdf",
		Args:    exactly(1, "the name of the PDF to write"),
		RunE: func(cmd *cobra.Command, args []string) error {
			ask.Results = !without
			size := paper.Letter
			if a4 {
				size = paper.A4
			}
			return c.with(cmd.Context(), true, func(p *programme.Programme) error {
				b, err := p.Binder(cmd.Context(), ask)
				if err != nil {
					return err
				}
				var buf bytes.Buffer
				if err := paper.WriteDocument(&buf, paper.BinderDocument(b), size); err != nil {
					return err
				}
				if err := writeWhole(args[0], buf.Bytes()); err != nil {
					return err
				}
				fmt.Fprintf(c.out, "%s: %d events, %d visits.\n", args[0], len(b.Days), b.Visits)
				return nil
			})
		},
	}
	cmd.Flags().StringVar(&ask.From, "from", "", "first day, like 2026-08-01")
	cmd.Flags().StringVar(&ask.To, "to", "", "last day (default: the first)")
	cmd.Flags().BoolVar(&a4, "a4", false, "A4 instead of letter")
	cmd.Flags().BoolVar(&without, "without-results", false, "leave the list of results out")
	return cmd
}
