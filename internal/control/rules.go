package control

// RuleName is a control rule in the trade's own text.
type RuleName string

// The rules, in the order in which breaks are listed. "Exceeds" is strict: a value on a limit breaks nothing, and a value on
// the mean is on neither side. Definitions: Westgard JO, Barry PL, Hunt MR, Groth T. Clin Chem 1981;27:493-501, and the
// additional rules as they are taught.
const (
	Rule12s   RuleName = "1-2s"    // one value beyond 2 SD
	Rule13s   RuleName = "1-3s"    // one value beyond 3 SD
	Rule22s   RuleName = "2-2s"    // two beyond the same 2 SD limit: one level in two runs, or two levels of one run
	RuleR4s   RuleName = "R-4s"    // within one run only: see Rules.RangeForm
	Rule31s   RuleName = "3-1s"    // three beyond the same 1 SD limit: one level in three runs, or three levels of one run
	Rule41s   RuleName = "4-1s"    // four beyond the same 1 SD limit: one level in four runs, or two levels in two
	Rule6x    RuleName = "6x"      // six on one side of the mean: one level, or all levels over 6/levels runs
	Rule8x    RuleName = "8x"      // eight
	Rule9x    RuleName = "9x"      // nine
	Rule10x   RuleName = "10x"     // ten
	Rule12x   RuleName = "12x"     // twelve
	Rule2of3s RuleName = "2of3-2s" // two of three beyond the same 2 SD limit: one level in three runs, or three levels of one run
	Rule7T    RuleName = "7T"      // seven values of one level, each strictly above (or each strictly below) the one before
)

// Scope says over what a rule looked.
type Scope string

// The scopes.
const (
	OneValue     Scope = "one-value"     // each point by itself
	WithinRun    Scope = "within-run"    // the levels of one run
	OneLevel     Scope = "level"         // one level over consecutive runs
	AcrossLevels Scope = "across-levels" // every level over consecutive complete runs
)

// Decision is what the rules say of a run.
type Decision string

// The decisions.
const (
	Accept Decision = "accept"
	Warn   Decision = "warn"
	Reject Decision = "reject"
)

// MaxLevels is the largest number of control levels in a run.
const MaxLevels = 3

// Rules is a choice of rules with the options in which sources differ. The zero options are the defaults.
type Rules struct {
	Levels        int        // levels in a complete run: 1, 2 or 3
	Warn          []RuleName // a break of these alone warns
	Reject        []RuleName // a break of these rejects
	RangeForm     bool       // R-4s as max z - min z > 4; default: one value above +2 and another below -2
	Gate          bool       // look at the other rules only when a value of this run passed 2 SD (the 1981 scheme); default: look at all
	NewestOutside bool       // 2of3-2s only when the newest value is one of the two; default: whenever the last three hold two
	Restart       bool       // counts begin anew after a rejected run; default: they go on
}

// UsualRules gives the set that is usual for a number of levels (common practice): 1-2s warns; for two levels, or one, 1-3s,
// 2-2s, R-4s, 4-1s and 8x reject; for three levels 1-3s, 2of3-2s, R-4s, 3-1s and 6x do. R-4s never fires with one level.
func UsualRules(levels int) Rules {
	r := Rules{Levels: levels, Warn: []RuleName{Rule12s}}
	if levels == 3 {
		r.Reject = []RuleName{Rule13s, Rule2of3s, RuleR4s, Rule31s, Rule6x}
	} else {
		r.Reject = []RuleName{Rule13s, Rule22s, RuleR4s, Rule41s, Rule8x}
	}
	return r
}

// Point is one control value of a run: its level, counted from 0, and its distance from the assigned mean in SD.
type Point struct {
	Level int
	Z     float64
}

// Place is where a point stands: the run, counted from 0 in the order of time, and the level.
type Place struct {
	Run   int
	Level int
}

// Break is one rule broken at one run, with the points that broke it, oldest first.
type Break struct {
	Rule   RuleName
	Scope  Scope
	Level  int // the level of a break over one level; -1 otherwise
	Points []Place
}

// RunResult is what the rules say of one run.
type RunResult struct {
	Run      int
	Decision Decision
	Breaks   []Break
}

// spec is how a rule looks: n values in a row beyond limit SD on one side; n is 0 for rules of single values.
type spec struct {
	name  RuleName
	n     int
	limit int
}

var specs = []spec{
	{Rule12s, 0, 2},
	{Rule13s, 0, 3},
	{Rule22s, 2, 2},
	{RuleR4s, 0, 2},
	{Rule31s, 3, 1},
	{Rule41s, 4, 1},
	{Rule6x, 6, 0},
	{Rule8x, 8, 0},
	{Rule9x, 9, 0},
	{Rule10x, 10, 0},
	{Rule12x, 12, 0},
	{Rule2of3s, 3, 2},
	{Rule7T, 7, 0},
}

// RuleNames lists every rule in the order of breaks.
func RuleNames() []RuleName {
	var out []RuleName
	for _, s := range specs {
		out = append(out, s.name)
	}
	return out
}
