package cli

import (
	"strconv"

	"github.com/spf13/cobra"

	"fairstick/internal/exchange"
	"fairstick/internal/fault"
	"fairstick/internal/programme"
)

func (c *console) exportCommand() *cobra.Command {
	export := &cobra.Command{Use: "export", Short: "Write parts of the record in formats that other programs read", Args: noArgs}
	var year, words string
	incidents := &cobra.Command{
		Use:   "incidents",
		Short: "Write the sharps injury log of a year, or the incidents of an event",
		Long: `Writes CSV to standard output: with --year the sharps injury log of a calendar year over all events, with --event every
incident of one event. Neither holds a name. The sharps log is confidential and kept for five years after its year has
ended. The record may be in use by a running server.`,
		Example: "  fairstick export incidents --year 2026 > sharps-log-2026.csv\n  fairstick export incidents --event 2026-10-10 > incidents.csv",
		Args:    noArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if (year == "") == (words == "") {
				return fault.New(fault.Invalid, "which-export", "It is not clear what to write.", "", "Give either --year for the sharps log or --event for the incidents of one event.")
			}
			n, err := strconv.Atoi(year)
			if year != "" && (err != nil || n < 1900 || n > 2199) {
				return fault.BadField("year", "%q is not a year; write it like 2026.", year)
			}
			return c.with(cmd.Context(), true, func(p *programme.Programme) error {
				if year != "" {
					rows, err := p.SharpsLog(cmd.Context(), n)
					if err != nil {
						return err
					}
					return exchange.WriteSharpsLog(c.out, rows)
				}
				ev, err := findEvent(cmd.Context(), p, words)
				if err != nil {
					return err
				}
				d, err := p.Day(cmd.Context(), ev.ID)
				if err != nil {
					return err
				}
				return exchange.WriteIncidents(c.out, d.IncidentRows())
			})
		},
	}
	incidents.Flags().StringVar(&year, "year", "", "calendar year of the sharps injury log")
	incidents.Flags().StringVar(&words, "event", "", "event by its id, its date or a part of its name")
	export.AddCommand(incidents, c.exportDataCommand("fhir"), c.exportDataCommand("csv"), c.exportDataCommand("day"), c.exportDataCommand("deidentified"))
	return export
}
