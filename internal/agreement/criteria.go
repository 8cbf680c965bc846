package agreement

import (
	"fmt"
	"strings"

	"fairstick/internal/estimate"
	"fairstick/internal/glucose"
)

// Standard is a published criterion of accuracy.
type Standard string

// The standards.
const (
	ISO15197of2003 Standard = "iso15197_2003"
	ISO15197of2013 Standard = "iso15197_2013"
	FDAHome2020    Standard = "fda_otc_2020"
	FDAClinic2020  Standard = "fda_poc_2020"
	POCT12         Standard = "poct12_a3"
)

// Standards lists them in a fixed order.
var Standards = []Standard{ISO15197of2013, FDAHome2020, FDAClinic2020, ISO15197of2003, POCT12}

// tolerance is how far a meter may be off: absolute below a reference value, in thousandths of the reference from there on.
// below and absolute are hundredths of the unit; below 0 means relative everywhere.
type tolerance struct {
	below, absolute, relative int64
}

// part is one requirement: percent of the pairs within a tolerance, or in zones A and B. percent 0 is counted for information.
type part struct {
	name    string
	mg      tolerance
	mmol    *tolerance // nil: the standard speaks mg/dL, values in mmol/L are converted
	zones   bool
	percent int
}

type standard struct {
	title, source string
	least         int // pairs that the standard asks for
	leastSource   string
	parts         []part
}

// The limits are from memory of the documents. What the standards ask of the spread of samples over the range, and of several
// strip lots, is not judged here.
var standards = map[Standard]standard{
	ISO15197of2003: {
		title: "ISO 15197:2003", source: "ISO 15197:2003, section 7.4 (limits from memory)", least: 100, leastSource: "100 people, from memory",
		parts: []part{
			{name: "within 15 mg/dL below 75 mg/dL, 20 % from there on", mg: tolerance{7500, 1500, 200}, mmol: &tolerance{420, 83, 200}, percent: 95},
		},
	},
	ISO15197of2013: {
		title: "ISO 15197:2013", source: "ISO 15197:2013, section 6.3 (limits from memory)", least: 100, leastSource: "100 people, from memory",
		parts: []part{
			{name: "within 15 mg/dL below 100 mg/dL, 15 % from there on", mg: tolerance{10000, 1500, 150}, mmol: &tolerance{555, 83, 150}, percent: 95},
			{name: "in zones A and B of the type 1 consensus grid", zones: true, percent: 99},
			{name: "within 10 mg/dL below 100 mg/dL, 10 % from there on", mg: tolerance{10000, 1000, 100}, mmol: &tolerance{555, 56, 100}},
			{name: "within 5 mg/dL below 100 mg/dL, 5 % from there on", mg: tolerance{10000, 500, 50}, mmol: &tolerance{555, 28, 50}},
		},
	},
	FDAHome2020: {
		title: "FDA 2020, over-the-counter use", source: "FDA, Self-Monitoring Blood Glucose Test Systems for Over-the-Counter Use, 2020 (limits from memory)",
		least: 350, leastSource: "350 people, from memory",
		parts: []part{
			{name: "within 15 %", mg: tolerance{0, 0, 150}, mmol: &tolerance{0, 0, 150}, percent: 95},
			{name: "within 20 %", mg: tolerance{0, 0, 200}, mmol: &tolerance{0, 0, 200}, percent: 99},
		},
	},
	FDAClinic2020: {
		title: "FDA 2020, point-of-care use", source: "FDA, Blood Glucose Monitoring Test Systems for Prescription Point-of-Care Use, 2020 (limits from memory)",
		least: 350, leastSource: "350 people, from memory",
		parts: []part{
			{name: "within 12 mg/dL below 75 mg/dL, 12 % from there on", mg: tolerance{7500, 1200, 120}, percent: 95},
			{name: "within 15 mg/dL below 75 mg/dL, 15 % from there on", mg: tolerance{7500, 1500, 150}, percent: 98},
		},
	},
	POCT12: {
		title: "CLSI POCT12-A3", source: "CLSI POCT12-A3, 2013 (limits from memory)", least: 40, leastSource: "40 samples as for any comparison, common practice",
		parts: []part{
			{name: "within 12 mg/dL below 100 mg/dL, 12.5 % from there on", mg: tolerance{10000, 1200, 125}, percent: 95},
			{name: "within 15 mg/dL below 75 mg/dL, 20 % from there on", mg: tolerance{7500, 1500, 200}, percent: 98},
		},
	},
}

// Part is one requirement of a standard with its count.
type Part struct {
	Name     string   `json:"name"`
	Within   int      `json:"within"`
	N        int      `json:"n"`
	Percent  float64  `json:"percent"`
	CI       Interval `json:"ci"`       // of Percent, exact
	Required int      `json:"required"` // percent; 0 when the standard only wants it reported
	Reached  bool     `json:"reached"`
}

// Criterion is the judgement of the pairs by one standard.
type Criterion struct {
	Standard Standard `json:"standard"`
	Title    string   `json:"title"`
	Source   string   `json:"source"`
	Parts    []Part   `json:"parts"` // the first is the one that the standard is known by
	Reached  bool     `json:"reached"`
	Least    int      `json:"least"` // pairs that the standard asks for
	// Pass is nil when every percentage is reached but the sample is too small for the standard; Note says so. A percentage
	// that is missed is a fail whatever the sample.
	Pass *bool  `json:"pass"`
	Note string `json:"note,omitempty"`
}

// Judge counts the pairs within the limits of a standard. A pair on a limit is within: readings are compared as whole numbers,
// |y-x| against the absolute limit below the standard's reference value and 1000 |y-x| against thousandths of x from there on.
// Percentages are compared as whole numbers too; their intervals are exact (Clopper-Pearson). ISO's own limits are used for
// mmol/L; the others speak mg/dL and mmol/L is converted with 18.016. No pairs, numbers that are not finite, negative or above
// 10,000, and an unknown unit or standard are refused.
func Judge(which Standard, pairs []Pair, unit glucose.Unit, confidence float64) (Criterion, error) {
	s, ok := standards[which]
	if !ok {
		return Criterion{}, fmt.Errorf("no standard is called %q", which)
	}
	if err := checkConfidence(confidence); err != nil {
		return Criterion{}, err
	}
	if err := check(pairs, s.title, 1, false); err != nil {
		return Criterion{}, err
	}
	inZones, err := classifier(ConsensusType1, unit)
	if err != nil {
		return Criterion{}, err
	}
	c := Criterion{Standard: which, Title: s.title, Source: s.source, Least: s.least, Reached: true}
	for _, p := range s.parts {
		out := Part{Name: p.name, N: len(pairs), Required: p.percent}
		for _, pair := range pairs {
			if p.zones && inZones(pair) <= ZoneB || !p.zones && p.within(pair, unit) {
				out.Within++
			}
		}
		out.Percent = 100 * float64(out.Within) / float64(out.N)
		share, err := estimate.ClopperPearson(out.Within, out.N, confidence)
		if err != nil {
			return Criterion{}, err
		}
		out.CI = Interval{Low: 100 * share.Low, High: 100 * share.High}
		out.Reached = 100*out.Within >= p.percent*out.N
		c.Reached = c.Reached && out.Reached
		c.Parts = append(c.Parts, out)
	}
	c.judge(s)
	return c, nil
}

// judge sets Pass and Note.
func (c *Criterion) judge(s standard) {
	n := c.Parts[0].N
	small := n < s.least
	if small {
		c.Note = fmt.Sprintf("The sample is too small for the standard: %d pairs of at least %d (%s).", n, s.least, s.leastSource)
	}
	if !c.Reached || !small {
		reached := c.Reached
		c.Pass = &reached
	}
	var missed []string
	for _, p := range c.Parts {
		if !p.Reached {
			missed = append(missed, fmt.Sprintf("%d of %d %s, %d %% are needed", p.Within, p.N, p.Name, p.Required))
		}
	}
	if len(missed) > 0 {
		c.Note = strings.TrimSpace("Missed: " + strings.Join(missed, "; ") + ". " + c.Note)
	}
}

func (p part) within(pair Pair, unit glucose.Unit) bool {
	e, t := exactly(pair), p.mg
	if unit == glucose.MmolPerL {
		if p.mmol != nil {
			t = *p.mmol
		} else {
			e = e.mgDL()
		}
	}
	off := max(e.y-e.x, e.x-e.y) - e.slack
	if 100*e.x < t.below*e.scale {
		return 100*off <= t.absolute*e.scale
	}
	return 1000*off <= t.relative*e.x
}
