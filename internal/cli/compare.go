package cli

import (
	"encoding/json"
	"fmt"
	"io"
	"os"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"fairstick/internal/agreement"
	"fairstick/internal/exchange"
	"fairstick/internal/fault"
	"fairstick/internal/glucose"
)

type compareOptions struct {
	unit   string
	at     string
	lambda float64
	json   bool
	charts chartFlags
}

func (c *console) compareCommand() *cobra.Command {
	o := compareOptions{}
	cmd := &cobra.Command{
		Use:   "compare FILE",
		Short: "Compare a meter with a laboratory, from a CSV file",
		Long: `Compares readings of a meter with a laboratory's values of the same samples: bias and limits of agreement, relative
difference, regression lines (Passing-Bablok, Deming, weighted Deming, least squares), concordance, published criteria of
accuracy, and error grids. A method that the pairs do not allow says why; nothing is converted.

FILE is CSV, or - for standard input. The first row names the columns, in any order; others are passed over:
` + columnHelp(exchange.PairColumns()) + `
Limits of the criteria are those of the documents as remembered, with their source in --json; passing them here is no
approval of a meter.`,
		Example: "  fairstick compare pairs.csv --unit mg/dL\n  fairstick compare pairs.csv --unit mg/dL --svg pictures --pdf report.pdf\n  fairstick compare - --unit mmol/L --json < pairs.csv",
		Args:    exactly(1, "one file, or - for standard input"),
		RunE:    func(_ *cobra.Command, args []string) error { return c.compare(args[0], o) },
	}
	cmd.Flags().StringVar(&o.unit, "unit", "", "unit of the values: mg/dL or mmol/L (default: the column unit, or what the values leave no doubt about)")
	cmd.Flags().StringVar(&o.at, "at", "", "reference values at which the bias is wanted, like 100,126")
	cmd.Flags().Float64Var(&o.lambda, "lambda", 1, "Deming: variance of the laboratory's errors over that of the meter's")
	cmd.Flags().BoolVar(&o.json, "json", false, "write JSON")
	o.charts.add(cmd, "the pictures difference.svg, regression.svg, grid-consensus.svg and grid-clarke.svg")
	return cmd
}

// columnHelp explains the columns of a file, one a line.
func columnHelp(columns []exchange.Column) string {
	var b strings.Builder
	for _, c := range columns {
		need := " (may be left out)"
		if c.Required {
			need = ""
		}
		fmt.Fprintf(&b, "  %-10s %s%s\n", c.Name, c.Means, need)
	}
	return b.String()
}

// openFile opens a file by its name, or standard input for -.
func (c *console) openFile(name string) (io.ReadCloser, error) {
	if name == "-" {
		return io.NopCloser(c.in), nil
	}
	f, err := os.Open(name)
	if err != nil {
		return nil, fault.New(fault.Invalid, "file-unreadable", fmt.Sprintf("The file %s cannot be opened.", name), "", "Check the file's name.").Because(err)
	}
	return f, nil
}

func (c *console) compare(name string, o compareOptions) error {
	unit := glucose.Unit("")
	if o.unit != "" {
		var err error
		if unit, err = glucose.ParseUnit(o.unit); err != nil {
			return err
		}
	}
	if err := o.charts.check(); err != nil {
		return err
	}
	levels, err := numbersOf(o.at)
	if err != nil {
		return err
	}
	if !(o.lambda > 0) {
		return fault.New(fault.Invalid, "lambda", fmt.Sprintf("A ratio of variances of %g cannot be right.", o.lambda), "", "Give --lambda above 0; 1 when nothing is known.")
	}
	file, err := c.openFile(name)
	if err != nil {
		return err
	}
	pairs, err := exchange.ReadPairs(file, unit)
	file.Close()
	if err != nil {
		return err
	}
	options := agreement.Options{Lambda: o.lambda, Levels: levels}
	out, err := exchange.Compare(pairs, options)
	if err != nil {
		return err
	}
	if o.charts.asked() {
		if err := o.charts.comparison(name, pairs, options); err != nil {
			return err
		}
	}
	if o.json {
		return c.writeJSON(out)
	}
	c.printComparison(out)
	return nil
}

// numbersOf reads positive numbers with commas between them.
func numbersOf(text string) ([]float64, error) {
	if text == "" {
		return nil, nil
	}
	var out []float64
	for _, part := range strings.Split(text, ",") {
		v, err := strconv.ParseFloat(strings.TrimSpace(part), 64)
		if err != nil || !(v > 0 && v < 1e6) {
			return nil, fault.New(fault.Invalid, "levels", fmt.Sprintf("%q is not a reference value.", part), "", "Give numbers with commas between them, like --at 100,126.")
		}
		out = append(out, v)
	}
	return out, nil
}

func (c *console) printComparison(r exchange.Comparison) {
	fmt.Fprintf(c.out, "%d pairs in %s, reference %.4g to %.4g\n\n", r.N, r.Unit, r.Reference[0], r.Reference[1])
	percent := int(100*r.Confidence + 0.5)
	fmt.Fprintf(c.out, "%-24s %9s  %-20s %9s  %s\n", "Meter minus reference", "mean", fmt.Sprintf("%d %% interval", percent), "SD", "limits of agreement")
	bias := func(name string, b *exchange.BiasJSON) {
		if b == nil {
			fmt.Fprintf(c.out, "%-24s %9s\n", name, "-")
			return
		}
		fmt.Fprintf(c.out, "%-24s %9s  %-20s %9s  %s\n", name, short(b.Mean), span(b.CI), short(b.SD), span(b.LOA))
	}
	bias(string(r.Unit), r.Bias)
	bias("percent of the mean", r.Percent)
	if r.MARD != nil {
		fmt.Fprintf(c.out, "Mean absolute relative difference %.2f %%, median %.2f %%\n", *r.MARD, *r.MedianARD)
	}

	fmt.Fprint(c.out, "\nMeter = intercept + slope x reference\n")
	fmt.Fprintf(c.out, "%-24s %9s  %-20s %9s  %s\n", "", "slope", fmt.Sprintf("%d %% interval", percent), "intercept", fmt.Sprintf("%d %% interval", percent))
	line := func(name string, l *exchange.LineJSON) {
		if l == nil {
			fmt.Fprintf(c.out, "%-24s %9s\n", name, "-")
			return
		}
		fmt.Fprintf(c.out, "%-24s %9.4f  %-20s %9s  %s\n", name, l.Slope, maybeSpan(l.SlopeCI), short(l.Intercept), maybeSpan(l.InterceptCI))
	}
	var pb *exchange.LineJSON
	if r.PassingBablok != nil {
		pb = &r.PassingBablok.LineJSON
	}
	line("Passing-Bablok", pb)
	line("Deming", r.Deming)
	line("Deming, weighted", r.WeightedDeming)
	line("least squares", r.OLS)
	if r.CCC != nil {
		fmt.Fprintf(c.out, "Concordance correlation %.4f, interval %s\n", *r.CCC, maybeSpan(r.CCCCI))
	}
	c.printLevels(r)
	c.printAccuracy(r)
	c.printNotes(r.Notes)
}

func (c *console) printLevels(r exchange.Comparison) {
	for _, l := range r.Levels {
		fmt.Fprintf(c.out, "\nBias at %g %s\n", l.Level, r.Unit)
		for _, b := range []struct {
			name string
			bias agreement.Maybe[agreement.LevelBias]
		}{{"Passing-Bablok", l.PassingBablok}, {"Deming", l.Deming}, {"Deming, weighted", l.WeightedDeming}} {
			if b.bias.Result == nil {
				fmt.Fprintf(c.out, "%-24s %9s  %s\n", b.name, "-", b.bias.Why)
				continue
			}
			ci := "none"
			if i := b.bias.Result.CI; i != nil {
				ci = span([2]float64{i.Low, i.High})
			}
			fmt.Fprintf(c.out, "%-24s %9s  %-20s %8.1f %%\n", b.name, short(b.bias.Result.Bias), ci, b.bias.Result.Percent)
		}
	}
}

func (c *console) printAccuracy(r exchange.Comparison) {
	if r.ISO2013 == nil {
		return
	}
	fmt.Fprintf(c.out, "\n%-24s %9s  %-20s %s\n", "Criterion", "percent", "within", "reached")
	for _, x := range []struct {
		name string
		c    *exchange.CriterionJSON
	}{
		{"ISO 15197:2013", r.ISO2013},
		{"FDA 2020, home use", r.FDAHome},
		{"FDA 2020, point of care", r.FDAClinic},
		{"ISO 15197:2003", r.ISO2003},
		{"CLSI POCT12-A3", r.POCT12},
	} {
		if x.c == nil {
			fmt.Fprintf(c.out, "%-24s %9s\n", x.name, "-")
			continue
		}
		said := "no"
		switch {
		case x.c.Pass && x.c.Enough:
			said = "yes"
		case x.c.Pass:
			said = fmt.Sprintf("yes, but with fewer than the %d pairs asked for", x.c.Least)
		}
		fmt.Fprintf(c.out, "%-24s %9.1f  %-20s %s\n", x.name, x.c.Percent, fmt.Sprintf("%d of %d", x.c.Within, x.c.N), said)
	}
	fmt.Fprintf(c.out, "\n%-24s %9s %9s %9s %9s %9s\n", "Error grid", "A", "B", "C", "D", "E")
	for _, g := range []struct {
		name string
		z    *agreement.ZoneCounts
	}{{"Clarke", r.Clarke}, {"consensus, type 1", r.Consensus1}, {"consensus, type 2", r.Consensus2}} {
		fmt.Fprintf(c.out, "%-24s %9d %9d %9d %9d %9d\n", g.name, g.z.A, g.z.B, g.z.C, g.z.D, g.z.E)
	}
}

func (c *console) printNotes(notes []string) {
	if len(notes) == 0 {
		return
	}
	fmt.Fprintln(c.out)
	for _, n := range notes {
		fmt.Fprintf(c.out, "- %s\n", n)
	}
}

// short writes a number with four figures, but no exponent.
func short(v float64) string {
	digits := 3
	for a := max(v, -v); a >= 10 && digits > 0; a /= 10 {
		digits--
	}
	return strconv.FormatFloat(v, 'f', digits, 64)
}

func span(i [2]float64) string { return short(i[0]) + " to " + short(i[1]) }

func maybeSpan(i *exchange.Ends) string {
	if i == nil {
		return "none"
	}
	return span(*i)
}

// writeJSON writes a result for programs.
func (c *console) writeJSON(v any) error {
	enc := json.NewEncoder(c.out)
	enc.SetIndent("", "  ")
	enc.SetEscapeHTML(false)
	return enc.Encode(v)
}
