package cli

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"fairstick/internal/civil"
	"fairstick/internal/competence/cards"
	"fairstick/internal/fault"
	"fairstick/internal/paper"
	"fairstick/internal/people"
	"fairstick/internal/programme"
)

type trainingOptions struct {
	before, person, on, event string
	json                      bool
}

// trainingReport is what the command says, for programs.
type trainingReport struct {
	Before civil.Date        `json:"before"`
	Lapses []programme.Lapse `json:"lapses"`
	Person *trainee          `json:"person,omitempty"`
}

type trainee struct {
	ID     string                    `json:"id"`
	Name   string                    `json:"name"`
	Needs  cards.Level               `json:"needs"`
	Levels []programme.LevelStanding `json:"levels"`
}

func (c *console) trainingCommand() *cobra.Command {
	o := trainingOptions{}
	cmd := &cobra.Command{
		Use:   "training",
		Short: "Report whose verification ends before a date, what a person lacks, and who could do what on a past day",
		Long: `Lists whose verification holds today and ends before a date, earliest first, on paper or by training, and what ends it.
With --person it says how that person stands at each level and what is still missing.

With --on or --event it says instead, for an inspector, who could do what on that day or who stood where at that event:
verified for what, by whom, on which proof and until when, by what was on record then. The record may be in use by a
running server.`,
		Example: "  fairstick report training --before 2026-12-01\n  fairstick report training --before 2026-12-01 --person \"Odile\" --json\n  fairstick report training --on 2026-05-02\n  fairstick report training --event \"Quay market\" --json",
		Args:    noArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if o.on != "" && o.event != "" || o.before != "" && o.on+o.event != "" {
				return fault.New(fault.Invalid, "flags", "Use one of --before, --on and --event.", "", "Ask for one at a time.")
			}
			if o.on != "" || o.event != "" {
				return c.with(cmd.Context(), true, func(p *programme.Programme) error { return c.staffRecord(cmd.Context(), p, o) })
			}
			before, err := civil.Parse(o.before)
			if err != nil {
				return fault.New(fault.Invalid, "before", "--before needs a date.", "", "Write it as 2026-12-01.").Because(err)
			}
			return c.with(cmd.Context(), true, func(p *programme.Programme) error { return c.training(cmd.Context(), p, before, o) })
		},
	}
	cmd.Flags().StringVar(&o.before, "before", "", "the date before which a verification ends, for example 2026-12-01")
	cmd.Flags().StringVar(&o.person, "person", "", "id, name or a part of the name of one person")
	cmd.Flags().StringVar(&o.on, "on", "", "a past day: who could do what, by what was on record then")
	cmd.Flags().StringVar(&o.event, "event", "", "an event by its id, its date or a part of its name: who stood where, verified for what")
	cmd.Flags().BoolVar(&o.json, "json", false, "write JSON")
	return cmd
}

func (c *console) training(ctx context.Context, p *programme.Programme, before civil.Date, o trainingOptions) error {
	out := trainingReport{Before: before, Lapses: []programme.Lapse{}}
	found, err := p.Lapses(ctx, before)
	if err != nil {
		return err
	}
	out.Lapses = append(out.Lapses, found...)
	if o.person != "" {
		who, err := findPerson(ctx, p, o.person)
		if err != nil {
			return err
		}
		t, err := p.Training(ctx, who.ID, civil.Date{})
		if err != nil {
			return err
		}
		out.Lapses = slices.DeleteFunc(out.Lapses, func(l programme.Lapse) bool { return l.Person != who.ID })
		out.Person = &trainee{ID: who.ID, Name: who.Details.Name, Needs: t.Target, Levels: t.Levels}
	}
	if o.json {
		return c.writeJSON(out)
	}
	return c.printTraining(out)
}

// staffRecord says who could do what on a day or at an event; with a person, their rows alone.
func (c *console) staffRecord(ctx context.Context, p *programme.Programme, o trainingOptions) error {
	var r programme.StaffRecord
	if o.event != "" {
		ev, err := findEvent(ctx, p, o.event)
		if err != nil {
			return err
		}
		if r, err = p.EventStaffRecord(ctx, ev.ID); err != nil {
			return err
		}
	} else {
		day, err := civil.Parse(o.on)
		if err != nil {
			return fault.New(fault.Invalid, "on", "--on needs a date.", "", "Write it as 2026-12-01.").Because(err)
		}
		if r, err = p.VerifiedOn(ctx, day); err != nil {
			return err
		}
	}
	if o.person != "" {
		who, err := findPerson(ctx, p, o.person)
		if err != nil {
			return err
		}
		r.Rows = slices.DeleteFunc(r.Rows, func(x programme.DutyRow) bool { return x.Person != who.ID })
	}
	if o.json {
		return c.writeJSON(r)
	}
	w := tabwriter.NewWriter(c.out, 0, 4, 2, ' ', 0)
	fmt.Fprintf(w, "%s\n", strings.TrimPrefix(strings.Join([]string{r.Name, r.Day.Long(), "protocol " + r.Protocol}, ", "), ", "))
	fmt.Fprintf(w, "name\tpost\twhen\tverified\tsigned by\n")
	for _, x := range r.Rows {
		d := paper.DutyOf(x, p.Now().Location())
		fmt.Fprintf(w, "%s\t%s\t%s\t%s\t%s\n", x.Name, d.Post, d.When, strings.Join(append([]string{d.Verified}, d.Later...), " "), d.By)
		for _, line := range d.Proof {
			fmt.Fprintf(w, "\t\t\t%s\t\n", line)
		}
	}
	return w.Flush()
}

// findPerson finds one person by id, name or a part of the name.
func findPerson(ctx context.Context, p *programme.Programme, words string) (*people.State, error) {
	all, err := programme.List[*people.State](ctx, p, people.Kind)
	if err != nil {
		return nil, err
	}
	var hits []*people.State
	for _, x := range all {
		if x.ID == words || strings.EqualFold(x.Details.Name, words) {
			return x, nil
		}
		if strings.Contains(strings.ToLower(x.Details.Name), strings.ToLower(words)) {
			hits = append(hits, x)
		}
	}
	switch len(hits) {
	case 1:
		return hits[0], nil
	case 0:
		return nil, fault.New(fault.Invalid, "person-none", fmt.Sprintf("Nobody is called %q.", words), "", "Look the name up on the page People.")
	}
	return nil, fault.New(fault.Invalid, "person-several", fmt.Sprintf("%d people match %q.", len(hits), words), "", "Write the whole name.")
}

func (c *console) printTraining(r trainingReport) error {
	w := tabwriter.NewWriter(c.out, 0, 4, 2, ' ', 0)
	if len(r.Lapses) == 0 {
		fmt.Fprintf(w, "No verification that holds today ends before %s.\n", r.Before)
	} else {
		fmt.Fprintf(w, "last day\tname\twhat\tends with\n")
	}
	for _, l := range r.Lapses {
		what, because := l.Level.Word().In("en"), l.Because
		if l.Paper {
			what, because = l.Role, "verification on paper"
		}
		fmt.Fprintf(w, "%s\t%s\t%s\t%s\n", l.Until, l.Name, what, because)
	}
	if r.Person != nil {
		fmt.Fprintf(w, "\n%s, needs %s\nlevel\thow it stands\n", r.Person.Name, r.Person.Needs.Word().In("en"))
		for _, x := range r.Person.Levels {
			if x.Holds {
				fmt.Fprintf(w, "%s\tuntil %s\n", x.Level.Word().In("en"), x.Until)
			}
			for _, m := range x.Missing {
				fmt.Fprintf(w, "%s\tmissing: %s\n", x.Level.Word().In("en"), m.Sentence.In("en"))
			}
		}
	}
	return w.Flush()
}
