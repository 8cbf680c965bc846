package cli

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"fairstick/internal/civil"
	"fairstick/internal/exchange"
	"fairstick/internal/exchange/fhir"
	"fairstick/internal/fault"
	"fairstick/internal/programme"
)

// spanOptions are the flags that say which events are meant.
type spanOptions struct {
	event, from, until string
}

func (o *spanOptions) flags(cmd *cobra.Command) {
	cmd.Flags().StringVar(&o.event, "event", "", "one event by its id, its date or a part of its name")
	cmd.Flags().StringVar(&o.from, "from", "", "first day of a span, like 2026-08-31")
	cmd.Flags().StringVar(&o.until, "to", "", "last day of a span, like 2026-12-31")
}

// span reads the flags; an event and days do not go together.
func (o *spanOptions) span(ctx context.Context, p *programme.Programme) (programme.Reach, error) {
	var s programme.Reach
	if (o.event == "") == (o.from == "" && o.until == "") {
		return s, fault.New(fault.Invalid, "which-events", "It is not clear which events are meant.", "", "Give either --event, or days with --from and --to.")
	}
	if o.event != "" {
		ev, err := findEvent(ctx, p, o.event)
		if err != nil {
			return s, err
		}
		s.Event = ev.ID
		return s, nil
	}
	for _, x := range []struct {
		flag, text string
		to         *civil.Date
	}{{"from", o.from, &s.From}, {"to", o.until, &s.Until}} {
		if x.text == "" {
			continue
		}
		d, err := civil.Parse(x.text)
		if err != nil {
			return s, fault.BadField(x.flag, "--%s: %q is not a day; write it like 2026-08-31.", x.flag, x.text)
		}
		*x.to = d
	}
	if !s.From.IsZero() && !s.Until.IsZero() && s.Until.Before(s.From) {
		return s, fault.BadField("to", "The last day of the span comes before its first day.")
	}
	return s, nil
}

// exportOptions are what a command export was given.
type exportOptions struct {
	spanOptions
	what     string
	out      string
	names    bool
	to, lead string
}

var exportWords = map[string][3]string{
	"fhir": {"Write events as FHIR R4: a bundle, or NDJSON", `Writes visits as FHIR R4 resources. The name of the file says how: OUT.json is one Bundle of the type collection, OUT.ndjson one
resource a line, OUT/ (a folder) one NDJSON file for each type of resource. A participant without permission has no Patient:
readings point at the id of the visit instead. A control run is an observation of its meter. docs/exchange.md has the mapping.`, "day.json"},
	"csv": {"Write events as CSV with a data dictionary (a data package)", `Writes a zip with one CSV for each kind of row (events, visits, answers, readings, controls, referrals, meters, lots,
incidents) and datapackage.json, which says what each column means. docs/exchange.md has the dictionary.`, "day.zip"},
	"day": {"Write one event as the two files that import day reads", `Makes the folder OUT with visits.csv and controls.csv, exactly as fairstick import day reads them: loaded into this record they add nothing, loaded
into another one of the same programme they type the day in. They name the staff, since each row says who did what. A visit
that has not ended and has no reading has no row; it is named.`, "day-files"},
	"deidentified": {"Write visits without the 18 identifiers of HIPAA Safe Harbor", `Writes a zip with one row for each participant and its dictionary: the year alone, ages over 89 as 90+, no places, dates, times,
tickets, ids, serial numbers, lots, staff or free text, in random order. Whoever releases it must still know of nothing by
which a row could point at somebody, and shows no count from 1 to 10 that is made from it.`, "people.zip"},
}

func (c *console) exportDataCommand(what string) *cobra.Command {
	o := exportOptions{what: what}
	text := exportWords[what]
	long := text[1] + "\n\nThe file is written beside its place and put there when it is whole; one that is there is not replaced."
	example := fmt.Sprintf("  fairstick export %s --event 2026-10-10 %s", what, text[2])
	if what == "day" {
		long = text[1]
	} else {
		example += fmt.Sprintf("\n  fairstick export %s --from 2026-08-01 --to 2026-12-31 %s", what, text[2])
	}
	if what != "deidentified" {
		long += `

With --names the names and numbers of those who allowed it go with it, and those of the staff. A lead says with --recipient to whom and why, and signs with a
PIN that is read from standard input; that it left is in the record. The program must not be running then.`
		example += fmt.Sprintf("\n  fairstick export %s --event 2026-10-10 --names --recipient \"Example Clinic, referrals of the day\" %s", what, text[2])
	} else {
		long += " The record may be in use by a running server."
	}
	cmd := &cobra.Command{
		Use: what + " OUT", Short: text[0], Long: long, Example: example, Args: exactly(1, "the name of the file to write"),
		RunE: func(cmd *cobra.Command, args []string) error {
			o.out = args[0]
			return c.exportData(cmd.Context(), o)
		},
	}
	if what == "day" {
		cmd.Flags().StringVar(&o.event, "event", "", "the event by its id, its date or a part of its name")
	} else {
		o.flags(cmd)
	}
	if what != "deidentified" {
		cmd.Flags().BoolVar(&o.names, "names", false, "with names, for those who allowed it; a lead signs")
		cmd.Flags().StringVar(&o.to, "recipient", "", "with --names: to whom the file goes, and why")
		cmd.Flags().StringVar(&o.lead, "as", "", "with --names: name of the lead who signs (default: the only lead)")
	}
	return cmd
}

func (c *console) exportData(ctx context.Context, o exportOptions) error {
	return c.with(ctx, !o.names, func(p *programme.Programme) error {
		span, err := o.span(ctx, p)
		if err != nil {
			return err
		}
		h := programme.HandOut{Reach: span, Names: o.names}
		if o.names {
			if err := c.signHandOut(ctx, p, h, o); err != nil {
				return err
			}
		}
		switch {
		case o.what == "day":
			err = c.exportDay(ctx, p, h, strings.TrimSuffix(o.out, "/"))
		case o.what == "fhir" && strings.HasSuffix(o.out, "/"):
			err = exportFolder(ctx, p, h, strings.TrimSuffix(o.out, "/"))
		default:
			err = wholeFile(o.out, func(w io.Writer) error {
				return exchange.HandOut(ctx, p, programme.Actor{}, h, o.what, filepath.Ext(o.out), w)
			})
		}
		if err != nil {
			return err
		}
		fmt.Fprintf(c.out, "%s is written.\n", o.out)
		if o.names {
			fmt.Fprintln(c.out, "It holds names. Encrypt it before it travels, and delete it when it has arrived.")
		}
		return nil
	})
}

func (c *console) signHandOut(ctx context.Context, p *programme.Programme, h programme.HandOut, o exportOptions) error {
	who, err := findLead(ctx, p, o.lead)
	if err != nil {
		return err
	}
	pin, err := ask(c, bufio.NewReader(c.in), "PIN of the lead who signs: ")
	if err != nil {
		return err
	}
	_, err = p.SignHandOut(ctx, programme.Actor{Person: who}, programme.SignHandOut{HandOut: h, What: map[string]string{"fhir": "fhir", "csv": "csv", "day": "csv"}[o.what], To: o.to, Sign: programme.Sign{Person: who, PIN: pin}})
	return err
}

// newFolder makes a folder for files, which closes and flushes what was opened in it, or takes it away when something went wrong.
func newFolder(dir string, write func(open func(name string) (io.Writer, error)) error) (err error) {
	if err := os.Mkdir(dir, 0o700); err != nil {
		return fault.New(fault.Invalid, "file", "The folder "+dir+" cannot be made.", "A folder that is there is not written over.", "Choose another name.").Because(err)
	}
	var opened []*os.File
	defer func() {
		for _, f := range opened {
			if err == nil {
				err = f.Sync()
			}
			err = errors.Join(err, f.Close())
		}
		if err != nil {
			err = errors.Join(err, os.RemoveAll(dir)) // it is ours: it was made here
		}
	}()
	return write(func(name string) (io.Writer, error) {
		f, err := os.OpenFile(filepath.Join(dir, name), os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
		if err == nil {
			opened = append(opened, f)
		}
		return f, err
	})
}

// exportFolder writes NDJSON with one file for each type of resource.
func exportFolder(ctx context.Context, p *programme.Programme, h programme.HandOut, dir string) error {
	return newFolder(dir, func(open func(string) (io.Writer, error)) error {
		w := fhir.NewLines(func(kind string) (io.Writer, error) { return open(kind + ".ndjson") })
		return exchange.HandOutFHIR(ctx, p, programme.Actor{}, h, w)
	})
}

// exportDay writes the two files of a day.
func (c *console) exportDay(ctx context.Context, p *programme.Programme, h programme.HandOut, dir string) error {
	got, err := p.DayRows(ctx, programme.Actor{}, h)
	if err != nil {
		return err
	}
	for _, s := range got.Skipped {
		fmt.Fprintln(c.out, s)
	}
	return newFolder(dir, func(open func(string) (io.Writer, error)) error {
		for _, x := range []struct {
			file string
			rows []map[string]string
		}{{exchange.DayVisits, got.Visits}, {exchange.DayControls, got.Controls}} {
			w, err := open(x.file + ".csv")
			if err != nil {
				return err
			}
			if err := exchange.WriteDay(w, x.file, x.rows); err != nil {
				return err
			}
		}
		return nil
	})
}

// wholeFile writes a file beside its place and puts it there when it is whole. Only its owner may read it. One that is there stays.
func wholeFile(name string, write func(io.Writer) error) (err error) {
	if _, err := os.Lstat(name); err == nil {
		return fault.New(fault.Invalid, "file", "There is a file "+name+" already.", "It is not written over.", "Choose another name.")
	}
	f, err := os.CreateTemp(filepath.Dir(name), ".fairstick-*")
	if err != nil {
		return fault.New(fault.Invalid, "file", "The file "+name+" cannot be written.", "", "Check the folder.").Because(err)
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, os.Remove(f.Name()))
		}
	}()
	if err := errors.Join(write(f), f.Sync(), f.Close()); err != nil {
		return err
	}
	if err := os.Link(f.Name(), name); err == nil { // refuses when somebody was faster; not every disk can
		return os.Remove(f.Name())
	}
	return os.Rename(f.Name(), name)
}

func (c *console) importFHIRCommand() *cobra.Command {
	var o spanOptions
	cmd := &cobra.Command{
		Use:   "fhir FILE",
		Short: "Hold a FHIR file against the record; nothing is added",
		Long: `Reads a bundle or NDJSON that was written by fairstick export fhir and compares each reading with the record: status, code, value and
time. What differs is named. Nothing is recorded: a reading comes into the record through its gates alone. The record may be
in use by a running server.`,
		Example: "  fairstick import fhir day.json --event 2026-10-10",
		Args:    exactly(1, "a FHIR file"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return c.importFHIR(cmd.Context(), o, args[0])
		},
	}
	o.flags(cmd)
	return cmd
}

func (c *console) importFHIR(ctx context.Context, o spanOptions, name string) error {
	f, err := os.Open(name)
	if err != nil {
		return fault.New(fault.Invalid, "file", "The file "+name+" cannot be read.", "", "Check its name.").Because(err)
	}
	defer func() { _ = f.Close() }()
	return c.with(ctx, true, func(p *programme.Programme) error {
		span, err := o.span(ctx, p)
		if err != nil {
			return err
		}
		a := fhir.NewAgainst()
		if err := p.HandOut(ctx, programme.Actor{}, programme.HandOut{Reach: span}, func(walk programme.Walk) error { return walk(a.Add) }); err != nil {
			return err
		}
		got, err := a.Read(f)
		if err != nil {
			return err
		}
		for _, d := range got.Differences {
			about := "reading " + d.Reading
			if d.Ticket > 0 {
				about = fmt.Sprintf("ticket %03d, reading %s", d.Ticket, d.Reading)
			}
			fmt.Fprintf(c.out, "%s: %s: file %s, record %s\n", about, d.What, orNothing(d.File), orNothing(d.Record))
		}
		fmt.Fprintf(c.out, "%d readings are in the file as they are in the record.\n", got.Same)
		if n := len(got.Differences) + got.Missing; n > 0 {
			return fault.New(fault.Refused, "fhir-differs", fmt.Sprintf("%d things differ between the file and the record.", n), "Nothing was recorded.", "Write the file again, or find out who changed it.")
		}
		return nil
	})
}

func orNothing(s string) string {
	if s == "" {
		return "-"
	}
	return s
}
