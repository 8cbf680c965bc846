package cli

import (
	"fmt"
	"os"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"fairstick/internal/fault"
	"fairstick/internal/glucose"
	"fairstick/internal/protocol"
)

// interpretation is what fairstick interpret --json prints.
type interpretation struct {
	Band       protocol.Band    `json:"band"`
	Basis      protocol.Basis   `json:"basis"`
	Urgency    protocol.Urgency `json:"urgency"`
	Value      string           `json:"value"`
	Unit       glucose.Unit     `json:"unit"`
	Protocol   string           `json:"protocol"`
	Rule       string           `json:"rule"`
	Source     string           `json:"source"`
	Word       string           `json:"word"`
	Sentence   string           `json:"sentence"`
	Advice     []string         `json:"advice"`
	When       string           `json:"when,omitempty"`
	Where      string           `json:"where,omitempty"`
	WithinDays int              `json:"within_days"`
	Refer      bool             `json:"refer"`
	Critical   bool             `json:"critical"`
	RepeatDue  bool             `json:"repeat_due"`
	RepeatWhy  string           `json:"repeat_why,omitempty"`
	Chance     *chance          `json:"chance,omitempty"`
	Disclaimer string           `json:"disclaimer"`
}

type interpretOptions struct {
	unit, lang, protocolFile string
	fastingHours             float64
	cv, priorMedian, priorCV float64
	withCV, withPrior        bool
	json                     bool
	charts                   chartFlags
}

func (c *console) interpretCommand() *cobra.Command {
	o := interpretOptions{}
	cmd := &cobra.Command{
		Use:   "interpret READING",
		Short: "Say what a reading means by the published criteria",
		Long: `Says what a fingerstick reading means by a protocol: the default one, built from published criteria, or your own.
READING is a number as the meter shows it, or LO, HI or an error code. It is compared in the unit that the
meter shows. Without --fasting-hours it is not fasting. A reading can neither diagnose nor rule out diabetes.

With --cv, the meter's own CV in percent as its controls show it, the chance is added that the true value is at or above
each limit near the reading. That chance takes every true value as equally likely beforehand, unless --prior-median and
--prior-cv say how the true values of the people who come are spread (log-normal). It is for staff, not for the slip.
With --svg its picture is drawn: how likely the true value lies in each band of the protocol.`,
		Example: "  fairstick interpret 95 --unit mg/dL --fasting-hours 9 --json\n  fairstick interpret HI --unit mmol/L\n  fairstick interpret 118 --unit mg/dL --fasting-hours 9 --cv 4\n  fairstick interpret 118 --unit mg/dL --fasting-hours 9 --cv 4 --svg pictures --pdf reading.pdf",
		Args:    exactly(1, "one reading, for example 95, LO or HI"),
		RunE: func(cmd *cobra.Command, args []string) error {
			o.withCV = cmd.Flags().Changed("cv")
			o.withPrior = cmd.Flags().Changed("prior-median") || cmd.Flags().Changed("prior-cv")
			return c.interpret(args[0], o)
		},
	}
	cmd.Flags().StringVar(&o.unit, "unit", "", "unit that the meter shows: mg/dL or mmol/L (required)")
	cmd.Flags().Float64Var(&o.fastingHours, "fasting-hours", -1, "hours since the last food or drink with calories")
	cmd.Flags().StringVar(&o.lang, "lang", "en", "language of the sentences: en or es")
	cmd.Flags().StringVar(&o.protocolFile, "protocol", "", "file of your own protocol instead of the default")
	cmd.Flags().Float64Var(&o.cv, "cv", 0, "the meter's own CV in percent: adds the chance that the true value passes a limit")
	cmd.Flags().Float64Var(&o.priorMedian, "prior-median", 0, "median of the true values of the people who come, in the unit of the reading")
	cmd.Flags().Float64Var(&o.priorCV, "prior-cv", 0, "CV of those true values in percent")
	cmd.Flags().BoolVar(&o.json, "json", false, "write JSON")
	o.charts.add(cmd, "the picture chance.svg, which needs --cv")
	return cmd
}

func (c *console) interpret(text string, o interpretOptions) error {
	if o.unit == "" {
		return fault.New(fault.Invalid, "unit", "The unit is missing.", "5.6 and 100 can be the same sugar.", "Add --unit mg/dL or --unit mmol/L.")
	}
	u, err := glucose.ParseUnit(o.unit)
	if err != nil {
		return err
	}
	p := protocol.Default()
	if o.protocolFile != "" {
		data, err := os.ReadFile(o.protocolFile)
		if err != nil {
			return fault.New(fault.Invalid, "protocol-file", "The protocol "+o.protocolFile+" cannot be read.", "", "Check the file's name.").Because(err)
		}
		if p, err = protocol.Parse(data); err != nil {
			return err
		}
	}
	if o.lang != "en" && o.lang != "es" {
		return fault.New(fault.Invalid, "lang", fmt.Sprintf("The language %q is not known.", o.lang), "", "Use en or es.")
	}
	if err := o.checkChance(); err != nil {
		return err
	}
	if err := o.charts.check(); err != nil {
		return err
	}
	r, err := glucose.ParseReading(text, u)
	if err != nil {
		return err
	}
	if err := p.Plausible(r); err != nil {
		return err
	}
	basis, err := basisOf(p, o.fastingHours)
	if err != nil {
		return err
	}
	f, err := p.Find(r, basis)
	if err != nil {
		return err
	}
	con, err := p.Conclude([]protocol.Taken{{ID: "1", Reading: r, Purpose: protocol.PurposeFirst, Washed: true}}, 1, basis, false)
	if err != nil {
		return err
	}
	out := interpretation{
		Band: f.Band, Basis: f.Basis, Urgency: f.Urgency, Value: r.Shown(), Unit: r.Unit, Protocol: f.Protocol, Rule: f.Rule, Source: f.Source,
		Word: f.Word.In(o.lang), Sentence: f.Sentence.In(o.lang), When: f.When.In(o.lang), Where: f.Where.In(o.lang), WithinDays: f.WithinDays,
		Refer: f.Refer, Critical: f.Critical, RepeatDue: con.RepeatDue, RepeatWhy: con.RepeatWhy, Disclaimer: p.Disclaimer.In(o.lang), Advice: []string{},
	}
	for _, a := range f.Advice {
		out.Advice = append(out.Advice, a.In(o.lang))
	}
	if out.Chance, err = o.chanceOf(p, r, basis); err != nil {
		return err
	}
	if o.charts.asked() {
		if err := o.draw(r, out); err != nil {
			return err
		}
	}
	if o.json {
		return c.writeJSON(out)
	}
	c.printInterpretation(r, out)
	return nil
}

// basisOf derives the basis from the hours since the last food; a negative number means not known.
func basisOf(p protocol.Protocol, hours float64) (protocol.Basis, error) {
	if hours > 72 || hours != hours {
		return "", fault.New(fault.Invalid, "fasting-hours", fmt.Sprintf("%g hours since the last food cannot be right.", hours), "", "Give the hours from 0 to 72.")
	}
	at := time.Date(2000, 1, 1, 12, 0, 0, 0, time.UTC)
	return p.Basis(at.Add(-time.Duration(hours*float64(time.Hour))), hours >= 0, at), nil
}

func (c *console) printInterpretation(r glucose.Reading, out interpretation) {
	fmt.Fprintf(c.out, "%s  %s\n", r, out.Word)
	fmt.Fprintf(c.out, "Basis      %s\nBand       %s\nRule       %s\nSource     %s\nProtocol   %s\n\n%s\n", out.Basis, out.Band, out.Rule, out.Source, out.Protocol, out.Sentence)
	for _, a := range out.Advice {
		fmt.Fprintf(c.out, "- %s\n", a)
	}
	if w := strings.TrimSpace(out.When + " " + out.Where); w != "" {
		fmt.Fprintln(c.out, w)
	}
	if out.RepeatDue {
		fmt.Fprintf(c.out, "Repeat     %s\n", out.RepeatWhy)
	}
	if out.Chance != nil {
		fmt.Fprintln(c.out)
		for _, l := range out.Chance.Limits {
			fmt.Fprintln(c.out, l.Sentence)
		}
		fmt.Fprintln(c.out, out.Chance.Assumption)
	}
	fmt.Fprintf(c.out, "\n%s\n", out.Disclaimer)
}
