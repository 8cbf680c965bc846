package cli

import (
	"context"
	"fmt"
	"io"
	"os"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"fairstick/internal/download"
	"fairstick/internal/exchange"
	"fairstick/internal/fault"
	"fairstick/internal/glucose"
	"fairstick/internal/programme"
)

// meterOptions are what the command import meter was given.
type meterOptions struct {
	event, meter, lead string
	columns            exchange.MeterColumns
	unit               string
	hex, add           bool
}

func (c *console) importMeterCommand() *cobra.Command {
	var o meterOptions
	cmd := &cobra.Command{
		Use:   "meter FILE",
		Short: "Hold what was downloaded from a meter against the log of an event",
		Long: `Reads the memory of one meter from a CSV file and brings each row together with the reading or control that was written down. Every
difference is named: a row that nobody wrote down, a reading that the meter does not have, another value, unit, time, or a
control on one side only. The meter's clock is not trusted: how wrong it was follows from the readings themselves.

The columns are chosen by the names in the file's header; what is not given is proposed by its name. With --hex the file has
glucose measurements of a Bluetooth meter (characteristic 0x2A18) as octets in hexadecimal, one record a line.

Without --add nothing is recorded. With --add the rows of the day are kept, for the sums of the closing; the event must
not be closed yet, and the program must not be running.`,
		Example: "  fairstick import meter m1.csv --meter M1 --event 2026-10-10\n  fairstick import meter m1.csv --meter M1 --event 2026-10-10 --time \"Date and time\" --value Glucose --unit mg/dL --add\n  fairstick import meter m1.hex --hex --meter M1 --event 2026-10-10",
		Args:    exactly(1, "the file that was downloaded"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return c.importMeter(cmd.Context(), o, args[0])
		},
	}
	f := cmd.Flags()
	f.StringVar(&o.event, "event", "", "the event: its id, its date or a part of its name")
	f.StringVar(&o.meter, "meter", "", "label of the meter, like M1")
	f.StringVar(&o.columns.Time, "time", "", "column of the time, or of date and time")
	f.StringVar(&o.columns.Date, "date", "", "column of the date, when it has one of its own")
	f.StringVar(&o.columns.Value, "value", "", "column of the value")
	f.StringVar(&o.unit, "unit", "", "mg/dL or mmol/L of every value, or the column of the unit (default: the unit of the meter)")
	f.StringVar(&o.columns.Control, "control", "", "column that marks controls")
	f.StringVar(&o.columns.Sequence, "sequence", "", "column of the meter's own numbers")
	f.StringVar(&o.columns.Order, "order", "", "order of the date: ymd, mdy or dmy (default: the only one that fits)")
	f.BoolVar(&o.hex, "hex", false, "the file has records of characteristic 0x2A18 in hexadecimal")
	f.StringVar(&o.lead, "as", "", "with --add: name of the lead who answers for it (default: the only lead)")
	f.BoolVar(&o.add, "add", false, "keep the rows of the day")
	return cmd
}

func (c *console) importMeter(ctx context.Context, o meterOptions, name string) error {
	f, err := os.Open(name)
	if err != nil {
		return fault.New(fault.Invalid, "file", "The file "+name+" cannot be read.", "", "Check its name.").Because(err)
	}
	defer func() { _ = f.Close() }()
	return c.with(ctx, !o.add, func(p *programme.Programme) error {
		ev, err := findEvent(ctx, p, o.event)
		if err != nil {
			return err
		}
		d, err := p.Day(ctx, ev.ID)
		if err != nil {
			return err
		}
		meter, unit, err := findMeter(d, o.meter)
		if err != nil {
			return err
		}
		rows, bad, err := readMeter(f, o, unit, d)
		if err != nil {
			return err
		}
		for _, b := range bad {
			fmt.Fprintf(c.out, "%s line %d, column %s: %s\n", name, b.Line, b.Column, b.Sentence)
		}
		x, err := d.HoldMemory(meter, rows)
		if err != nil {
			return err
		}
		c.sayMeter(d, x)
		if !o.add {
			fmt.Fprintln(c.out, "Nothing was recorded; add --add to keep the rows of the day.")
			return nil
		}
		if len(bad) > 0 {
			return fault.New(fault.Invalid, "bad-rows", fmt.Sprintf("%d rows cannot be read; nothing was recorded.", len(bad)), "", "Correct them in the file, or leave them out.")
		}
		who, err := findLead(ctx, p, o.lead)
		if err != nil {
			return err
		}
		if _, err := p.RecordDownload(ctx, programme.Actor{Person: who}, programme.RecordDownload{Event: ev.ID, Meter: meter, Rows: rows}); err != nil {
			return err
		}
		fmt.Fprintf(c.out, "%d rows of the day are in the record.\n", x.Day)
		return nil
	})
}

func findMeter(d *programme.Day, label string) (id string, unit glucose.Unit, err error) {
	var labels []string
	for _, m := range d.BroughtMeters() {
		if strings.EqualFold(m.Details.Label, label) {
			return m.ID, m.Details.Unit, nil
		}
		labels = append(labels, m.Details.Label)
	}
	return "", "", fault.New(fault.Invalid, "which-meter", fmt.Sprintf("No meter %q was brought to this event.", label), "", "The meters are: "+strings.Join(labels, ", ")+".")
}

func readMeter(r io.Reader, o meterOptions, unit glucose.Unit, d *programme.Day) ([]download.Row, []programme.BadRow, error) {
	zone := d.Event.Zone()
	if o.hex {
		return exchange.ReadMeterHex(r, zone, d.Protocol.Plausible)
	}
	t, err := exchange.ReadMeterTable(r)
	if err != nil {
		return nil, nil, err
	}
	g := t.Guess(unit)
	for _, x := range []struct{ chosen, proposed *string }{
		{&o.columns.Time, &g.Time}, {&o.columns.Value, &g.Value}, {&o.columns.Date, &g.Date}, {&o.columns.Control, &g.Control}, {&o.columns.Sequence, &g.Sequence}, {&o.columns.Order, &g.Order},
	} {
		if *x.chosen != "" {
			*x.proposed = *x.chosen
		}
	}
	if o.unit != "" {
		if u, err := glucose.ParseUnit(o.unit); err == nil {
			g.Unit, g.Fixed = "", u
		} else {
			g.Unit = o.unit
		}
	}
	return t.Rows(g, zone, d.Protocol.Plausible)
}

// sayMeter tells what came of it.
func (c *console) sayMeter(d *programme.Day, x programme.Downloaded) {
	zone := d.Event.Zone()
	fmt.Fprintf(c.out, "Meter %s: %d of %d rows of the day agree with the log; %d rows are of other days.\n", x.Meter.Details.Label, x.Same, x.Day, x.Others)
	for _, k := range x.Clocks {
		fmt.Fprintf(c.out, "%s (%d readings, scatter %s)\n", k.Words(), k.N, k.Spread.Round(time.Second))
	}
	if len(x.Clocks) == 0 && x.Day+x.Others > 0 {
		fmt.Fprintln(c.out, "Too few readings agree to tell how the meter's clock was.")
	}
	for _, f := range x.Differences {
		fmt.Fprintln(c.out, "- "+x.Say(f, zone))
	}
}
