package cli

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"fairstick/internal/fault"
	"fairstick/internal/risk"
)

// riskScore is what fairstick risk --json prints.
type riskScore struct {
	Score   risk.Score `json:"score"`
	Total   int        `json:"total"`
	Max     int        `json:"max"`
	Items   []riskItem `json:"items"`
	Band    string     `json:"band"`
	Cut     int        `json:"cut"`
	Meaning string     `json:"meaning"`
	Source  string     `json:"source"`
	Notes   []string   `json:"notes"`
}

type riskItem struct {
	Item   string `json:"item"`
	Answer string `json:"answer"`
	Points int    `json:"points"`
}

type riskOptions struct {
	score, lang           string
	age                   int
	sex                   string
	height, weight, waist string
	family                string
	gestational           string
	bloodPressure         string
	active                string
	vegetables            string
	medicine              string
	highGlucose           string
	json                  bool
}

// riskAsks lists the answers that each questionnaire needs or takes.
var riskAsks = map[risk.Score][]string{
	risk.ScoreADA:      {"age", "sex", "gestational", "family", "blood-pressure", "active", "height", "weight"},
	risk.ScoreFindrisc: {"age", "sex", "height", "weight", "waist", "active", "vegetables", "blood-pressure-medicine", "high-glucose", "family"},
}

func (c *console) riskCommand() *cobra.Command {
	o := riskOptions{}
	cmd := &cobra.Command{
		Use:   "risk",
		Short: "Add up a published questionnaire about the risk of diabetes",
		Long: `Adds up one of two published questionnaires and shows the points of every item:
  ada       Bang and others 2009, as printed on the ADA/CDC form with its weight chart; cut point 5 of 10
  findrisc  Lindström and Tuomilehto 2003, the Finnish form of 26 points
A height, weight or waist needs its unit: 5ft10in, 70in, 178cm; 215lb, 98kg. Limits are compared exactly.
A questionnaire can neither diagnose nor rule out diabetes.`,
		Example: `  fairstick risk --score ada --age 52 --sex male --height 5ft10in --weight 215lb --family yes --blood-pressure yes --active no
  fairstick risk --score findrisc --age 58 --sex male --height 178cm --weight 98kg --waist 104cm --active no --vegetables yes \
    --blood-pressure-medicine yes --high-glucose no --family close`,
		Args: noArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			var given []string
			cmd.Flags().Visit(func(f *pflag.Flag) { given = append(given, f.Name) })
			return c.risk(o, given)
		},
	}
	f := cmd.Flags()
	f.StringVar(&o.score, "score", "", "questionnaire: ada or findrisc (required)")
	f.IntVar(&o.age, "age", 0, "age in whole years")
	f.StringVar(&o.sex, "sex", "", "male or female, as the form asks")
	f.StringVar(&o.height, "height", "", "height with its unit")
	f.StringVar(&o.weight, "weight", "", "weight with its unit")
	f.StringVar(&o.waist, "waist", "", "findrisc: waist with its unit")
	f.StringVar(&o.family, "family", "", "ada: mother, father, sister or brother with diabetes, yes or no;\nfindrisc: none, further (grandparent, aunt, uncle, first cousin) or close (parent, brother, sister, own child)")
	f.StringVar(&o.gestational, "gestational", "", "ada: a woman ever told of gestational diabetes, yes or no")
	f.StringVar(&o.bloodPressure, "blood-pressure", "", "ada: ever told of high blood pressure, yes or no")
	f.StringVar(&o.active, "active", "", "physically active, yes or no; findrisc: 30 minutes every day")
	f.StringVar(&o.vegetables, "vegetables", "", "findrisc: vegetables, fruit or berries every day, yes or no")
	f.StringVar(&o.medicine, "blood-pressure-medicine", "", "findrisc: ever regular medicine for high blood pressure, yes or no")
	f.StringVar(&o.highGlucose, "high-glucose", "", "findrisc: ever found to have high blood glucose, yes or no")
	f.StringVar(&o.lang, "lang", "en", "language of the sentences: en or es")
	f.BoolVar(&o.json, "json", false, "write JSON")
	return cmd
}

func (c *console) risk(o riskOptions, given []string) error {
	if err := checkRiskFlags(o, given); err != nil {
		return err
	}
	r, err := o.result()
	if err != nil {
		return err
	}
	if o.json {
		out := riskScore{
			Score: r.Score, Total: r.Total, Max: r.Max, Items: []riskItem{}, Band: r.Band.Key, Cut: r.Cut,
			Meaning: r.Band.Meaning.In(o.lang), Source: r.Source, Notes: []string{},
		}
		for _, it := range r.Items {
			out.Items = append(out.Items, riskItem{it.Item, it.Answer, it.Points})
		}
		for _, n := range r.Notes {
			out.Notes = append(out.Notes, n.In(o.lang))
		}
		enc := json.NewEncoder(c.out)
		enc.SetIndent("", "  ")
		enc.SetEscapeHTML(false)
		return enc.Encode(out)
	}
	c.printRisk(r, o.lang)
	return nil
}

// checkRiskFlags finds what is missing and what the other questionnaire asks, in the words of the command line.
func checkRiskFlags(o riskOptions, given []string) error {
	asks, known := riskAsks[risk.Score(o.score)]
	switch {
	case o.score == "":
		return fault.New(fault.Invalid, "risk-score", "The questionnaire is missing.", "", "Add --score ada or --score findrisc.")
	case !known:
		return fault.New(fault.Invalid, "risk-score", fmt.Sprintf("The questionnaire %q is not known.", o.score), "", "Use --score ada or --score findrisc.")
	case o.lang != "en" && o.lang != "es":
		return fault.New(fault.Invalid, "lang", fmt.Sprintf("The language %q is not known.", o.lang), "", "Use en or es.")
	}
	var missing []string
	for _, name := range asks {
		if !slices.Contains(given, name) && (name != "gestational" || o.sex == string(risk.Female)) {
			missing = append(missing, "--"+name)
		}
	}
	if len(missing) > 0 {
		return fault.New(fault.Invalid, "risk-missing", fmt.Sprintf("The questionnaire %s also needs %s.", o.score, strings.Join(missing, ", ")), "",
			"Add every answer; if the person does not know one, the score cannot be given.")
	}
	for _, other := range risk.Scores {
		for _, name := range riskAsks[other] {
			if slices.Contains(given, name) && !slices.Contains(asks, name) {
				return fault.New(fault.Invalid, "risk-not-asked", fmt.Sprintf("The questionnaire %s does not ask --%s.", o.score, name), "",
					"It asks --"+strings.Join(asks, ", --")+".")
			}
		}
	}
	return nil
}

func (o riskOptions) result() (risk.Result, error) {
	height, err := risk.ParseLength("height", o.height)
	if err != nil {
		return risk.Result{}, err
	}
	weight, err := risk.ParseWeight(o.weight)
	if err != nil {
		return risk.Result{}, err
	}
	if risk.Score(o.score) == risk.ScoreADA {
		return risk.ADA(risk.ADAAnswers{
			Age: o.age, Sex: risk.Sex(o.sex), Gestational: risk.Answer(o.gestational), Family: risk.Answer(o.family),
			BloodPressure: risk.Answer(o.bloodPressure), Active: risk.Answer(o.active), Height: height, Weight: weight,
		})
	}
	waist, err := risk.ParseLength("waist", o.waist)
	if err != nil {
		return risk.Result{}, err
	}
	return risk.Findrisc(risk.FindriscAnswers{
		Age: o.age, Sex: risk.Sex(o.sex), Height: height, Weight: weight, Waist: waist,
		Active: risk.Answer(o.active), Vegetables: risk.Answer(o.vegetables), BloodPressureMedicine: risk.Answer(o.medicine),
		HighGlucose: risk.Answer(o.highGlucose), Family: risk.Kin(o.family),
	})
}

func (c *console) printRisk(r risk.Result, lang string) {
	pointsWord, cutWord, sourceWord := "points", "cut point", "Source"
	if lang == "es" {
		pointsWord, cutWord, sourceWord = "puntos", "punto de corte", "Fuente"
	}
	fmt.Fprintf(c.out, "%d / %d %s  %s  (%s %d)\n\n", r.Total, r.Max, pointsWord, r.Band.Word.In(lang), cutWord, r.Cut)
	for _, it := range r.Items {
		fmt.Fprintf(c.out, "%3d  %s: %s\n", it.Points, it.Label.In(lang), it.Shown.In(lang))
	}
	fmt.Fprintf(c.out, "\n%s\n\n", r.Band.Meaning.In(lang))
	for _, n := range r.Notes {
		fmt.Fprintf(c.out, "- %s\n", n.In(lang))
	}
	fmt.Fprintf(c.out, "%s: %s\n", sourceWord, r.Source)
}
