package cli

import (
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"fairstick/internal/control"
	"fairstick/internal/exchange"
	"fairstick/internal/fault"
	"fairstick/internal/figure"
	"fairstick/internal/paper"
)

type controlsOptions struct {
	rules, r4s string
	gate, json bool
	charts     chartFlags
}

func (c *console) controlsCommand() *cobra.Command {
	o := controlsOptions{}
	cmd := &cobra.Command{
		Use:   "controls FILE",
		Short: "Judge a history of control values by control rules, from a CSV file",
		Long: `Judges control values of any number of meters: for each meter, strip lot and level the number, mean, SD and CV; for each
run the verdict of the control rules, and which points break them.

FILE is CSV, or - for standard input. The first row names the columns, in any order; others are passed over:
` + columnHelp(exchange.HistoryColumns()) + `
Rules are ` + ruleList() + `.
Without --rules those that are usual for the number of levels are used. 1-2s warns, the others reject; "exceeds" is strict.
The values of one day make a run, and when a level comes again, the next one.`,
		Example: "  fairstick controls history.csv\n  fairstick controls history.csv --rules 1-2s,1-3s,2-2s,R-4s --json\n  fairstick controls history.csv --svg pictures --pdf report.pdf",
		Args:    exactly(1, "one file, or - for standard input"),
		RunE:    func(_ *cobra.Command, args []string) error { return c.controls(args[0], o) },
	}
	cmd.Flags().StringVar(&o.rules, "rules", "usual", "usual, or rules with commas between them")
	cmd.Flags().StringVar(&o.r4s, "r4s", "both", "R-4s: both (one value above +2 SD and one below -2 SD of a run) or range (more than 4 SD apart)")
	cmd.Flags().BoolVar(&o.gate, "gate", false, "look at the other rules only when a value of the run passed 2 SD")
	cmd.Flags().BoolVar(&o.json, "json", false, "write JSON")
	o.charts.add(cmd, "a control chart of each meter with each strip lot, controls-METER-LOT.svg")
	return cmd
}

func ruleList() string {
	var names []string
	for _, r := range control.RuleNames() {
		names = append(names, string(r))
	}
	return strings.Join(names, ", ")
}

func (c *console) controls(name string, o controlsOptions) error {
	rules, err := rulesOf(o.rules)
	if err != nil {
		return err
	}
	if o.r4s != "both" && o.r4s != "range" {
		return fault.New(fault.Invalid, "r4s", fmt.Sprintf("R-4s has no form %q.", o.r4s), "", "Use --r4s both or --r4s range.")
	}
	if err := o.charts.check(); err != nil {
		return err
	}
	file, err := c.openFile(name)
	if err != nil {
		return err
	}
	values, err := exchange.ReadControls(file)
	file.Close()
	if err != nil {
		return err
	}
	out, err := exchange.JudgeControls(values, exchange.ControlOptions{Rules: rules, RangeForm: o.r4s == "range", Gate: o.gate})
	if err != nil {
		return err
	}
	if o.charts.asked() {
		if err := o.charts.write(figure.Controls(out), func() (paper.Document, error) { return figure.ControlDocument(out, shownName(name)) }); err != nil {
			return err
		}
	}
	if o.json {
		return c.writeJSON(out)
	}
	c.printControls(out)
	return nil
}

// rulesOf reads the names of rules in any case; none for the usual ones.
func rulesOf(text string) ([]control.RuleName, error) {
	if text == "usual" {
		return nil, nil
	}
	var out []control.RuleName
	for _, name := range strings.Split(text, ",") {
		name = strings.TrimSpace(name)
		i := slices.IndexFunc(control.RuleNames(), func(r control.RuleName) bool { return strings.EqualFold(string(r), name) })
		if i < 0 {
			return nil, fault.New(fault.Invalid, "rule-unknown", fmt.Sprintf("No control rule is called %q.", name), "", "Use usual, or some of: "+ruleList()+".")
		}
		if r := control.RuleNames()[i]; !slices.Contains(out, r) {
			out = append(out, r)
		}
	}
	return out, nil
}

// pointsShown lists the points of a break; of a long row the first and the last.
func pointsShown(points []exchange.BreakPoint) string {
	var out []string
	for _, p := range points {
		out = append(out, fmt.Sprintf("%s level %s %s (z %+.2f)", p.Date, p.Level, short(p.Value), p.Z))
	}
	if n := len(out); n > 4 {
		return fmt.Sprintf("%d values from %s to %s", n, out[0], out[n-1])
	}
	return strings.Join(out, ", ")
}

func (c *console) printControls(r exchange.ControlReport) {
	fmt.Fprintf(c.out, "%-12s %-12s %-8s %6s %9s %9s %7s  %-22s %9s %8s\n", "Meter", "Lot", "Level", "n", "mean", "SD", "CV %", "target, SD", "bias", "outside")
	for _, s := range r.Series {
		sd, cv := "-", "-"
		if s.SD != nil {
			sd, cv = short(*s.SD), fmt.Sprintf("%.2f", *s.CV)
		}
		fmt.Fprintf(c.out, "%-12s %-12s %-8s %6d %9s %9s %7s  %-22s %9s %8d\n", s.Meter, s.Lot, s.Level, s.N, short(s.Mean), sd, cv,
			fmt.Sprintf("%s, %s", short(s.Target.Mean), short(s.Target.SD)), short(s.Bias), s.OutOfRange)
	}
	counts := map[control.Decision]int{}
	for _, run := range r.Runs {
		counts[run.Verdict]++
	}
	fmt.Fprintf(c.out, "\n%d runs: %d accepted, %d warned of, %d rejected\n", len(r.Runs), counts[control.Accept], counts[control.Warn], counts[control.Reject])
	for _, run := range r.Runs {
		if run.Verdict == control.Accept {
			continue
		}
		fmt.Fprintln(c.out)
		fmt.Fprintln(c.out, strings.TrimSpace(fmt.Sprintf("%s  %s  %s %s  %s", run.Verdict, run.Date, run.Meter, run.Lot, run.Run)))
		for _, b := range run.Breaks {
			fmt.Fprintf(c.out, "  %-8s %s\n", b.Rule, pointsShown(b.Points))
		}
	}
	notes := slices.Clone(r.Notes)
	for _, rules := range r.Rules {
		var names []string
		for _, n := range slices.Concat(rules.Warn, rules.Reject) {
			names = append(names, string(n))
		}
		note := fmt.Sprintf("Rules for %d levels: %s.", rules.Levels, strings.Join(names, ", "))
		if rules.Levels == 1 {
			note = fmt.Sprintf("Rules for one level: %s.", strings.Join(names, ", "))
		}
		if slices.Contains(rules.Reject, control.RuleR4s) && rules.R4s == "range" {
			note += " R-4s: two values of a run more than 4 SD apart."
		}
		if rules.Gate {
			note += " They are looked at only when a value of the run passed 2 SD."
		}
		notes = append(notes, note)
	}
	c.printNotes(notes)
}
