package cli

import (
	"bytes"
	"context"
	"fmt"
	"os"

	"github.com/spf13/cobra"

	"fairstick/internal/fault"
	"fairstick/internal/paper"
	"fairstick/internal/programme"
)

// formsOptions are what the command forms was given.
type formsOptions struct {
	event, lang, size, out, lead string
	from, count                  int
}

func (c *console) formsCommand() *cobra.Command {
	var o formsOptions
	cmd := &cobra.Command{
		Use:   "forms",
		Short: "Make numbered paper forms as one PDF",
		Long: `Makes a pack of paper forms for an event: for each number a visit form and a result slip with a strip for the contact,
then the account of the forms, a control log for each meter that was brought, and a sheet for incidents.

Numbers are given once and written down in the record: --count takes the next ones. With --from as well, the pack of
numbers that were written down before is made again, in the language of then; nothing is recorded, and the record may be
in use by a running server.`,
		Example: "  fairstick forms --event 2026-10-10 --count 30 --lang es --paper letter --out forms.pdf\n  fairstick forms --event 2026-10-10 --from 1 --count 30 --paper a4 --out again.pdf",
		Args:    noArgs,
		RunE:    func(cmd *cobra.Command, _ []string) error { return c.forms(cmd.Context(), o) },
	}
	cmd.Flags().StringVar(&o.event, "event", "", "the event: its id, its date or a part of its name")
	cmd.Flags().IntVar(&o.count, "count", 0, fmt.Sprintf("how many forms, 1 to %d", programme.MostForms))
	cmd.Flags().IntVar(&o.from, "from", 0, "first number of a pack that was made before")
	cmd.Flags().StringVar(&o.lang, "lang", "en", "language of new forms: en or es")
	cmd.Flags().StringVar(&o.size, "paper", "letter", "letter or a4")
	cmd.Flags().StringVar(&o.out, "out", "", "file of the PDF")
	cmd.Flags().StringVar(&o.lead, "as", "", "name of the lead who prints (default: the only lead)")
	return cmd
}

func (c *console) forms(ctx context.Context, o formsOptions) error {
	size, ok := map[string]paper.PageSize{"letter": paper.Letter, "a4": paper.A4}[o.size]
	switch {
	case !ok:
		return fault.New(fault.Invalid, "paper", fmt.Sprintf("There is no paper %q.", o.size), "", "Say --paper letter or --paper a4.")
	case o.out == "":
		return fault.New(fault.Invalid, "out", "No file was named.", "", "Name the file of the PDF with --out.")
	case o.from < 0 || o.count < 0 || o.from == 0 && o.count == 0:
		return fault.New(fault.Invalid, "count", "It was not said how many forms.", "", "Say --count 30 for the next 30 numbers.")
	}
	return c.with(ctx, o.from > 0, func(p *programme.Programme) error {
		ev, err := findEvent(ctx, p, o.event)
		if err != nil {
			return err
		}
		d, err := p.Day(ctx, ev.ID)
		if err != nil {
			return err
		}
		pack, err := paper.FormsOf(d, o.lang, p.Now(), false) // asked first: nothing is numbered that cannot be printed
		if err != nil {
			return err
		}
		if o.from > 0 {
			if pack, err = madeBefore(d, o, p); err != nil {
				return err
			}
		} else {
			who, err := findLead(ctx, p, o.lead)
			if err != nil {
				return err
			}
			n, err := p.FormsPrinted(ctx, programme.Actor{Person: who}, programme.FormsPrinted{Event: ev.ID, Language: o.lang, Count: o.count})
			if err != nil {
				return err
			}
			pack.From, pack.To = n.From, n.To
		}
		var buf bytes.Buffer
		if err := paper.WriteForms(&buf, pack, size); err != nil {
			return err
		}
		if err := os.WriteFile(o.out, buf.Bytes(), 0o600); err != nil {
			return fault.New(fault.Refused, "file", "The file "+o.out+" cannot be written.", "",
				fmt.Sprintf("The numbers are kept: make the pack again with --from %d --count %d.", pack.From, pack.To-pack.From+1)).Because(err)
		}
		fmt.Fprintf(c.out, "Forms %s to %s are in %s. Print on both sides.\n", paper.FormNumber(pack.From), paper.FormNumber(pack.To), o.out)
		return nil
	})
}

// madeBefore is the pack of numbers that were written down together; without a count, all of them from the first.
func madeBefore(d *programme.Day, o formsOptions, p *programme.Programme) (paper.FormPack, error) {
	for _, b := range d.Event.Printed {
		to := o.from + o.count - 1
		if o.count == 0 {
			to = b.To
		}
		if o.from < b.From || o.from > b.To || to > b.To {
			continue
		}
		f, err := paper.FormsOf(d, b.Language, p.Now(), false)
		f.From, f.To = o.from, to
		return f, err
	}
	return paper.FormPack{}, fault.New(fault.Invalid, "no-such-forms", "These numbers were not printed together for this event.", "A number that nobody wrote down cannot be accounted for.",
		"Leave --from out for new numbers.")
}
