// Package arch holds the rules of who may import whom, and tests them against the source on every run.
//
// The rules are data and the check is a function over a small graph, so that each rule can be shown to bite without
// touching the real source. Every internal package must be placed on a floor here; a new one that is not placed is a
// violation, and so is a third-party module that no package owns.
package arch

import (
	"fmt"
	"slices"
	"sort"
	"strings"
)

// Floor is a height in the house. Imports point to a lower floor or along the same one, never up.
type Floor int

// The floors from the ground up.
const (
	Ground  Floor = iota + 1 // pure: no clock, no I/O, no SQL; each could be a library of its own
	First                    // the subjects of the record: facts, state, decisions; pure too
	Second                   // keeping it: logbook and store
	Third                    // the programme at work: the one door for commands and questions
	Faces                    // pages, paper, command line, exchange, hub, demo
	Roof                     // boot, the composition root
	Outside                  // cmd, and what only tests use
)

// Floors says where each package of internal/ stands, and Planned which of them the design names but nobody has built.
// A package that has been built leaves Planned; one that vanishes is noticed because it does not stand there.
var (
	Floors = map[string]Floor{
		"fault": Ground, "fact": Ground, "civil": Ground, "glucose": Ground, "protocol": Ground, "risk": Ground,
		"control": Ground, "agreement": Ground, "estimate": Ground, "plan": Ground,
		"roster": Ground, "about": Ground, "wording": Ground, "disclose": Ground, "download": Ground,

		"charter": First, "people": First, "stock": First, "event": First, "visit": First, "followup": First,
		"incident": First, "competence": First, "lookback": First, "retention": First,

		"logbook": Second, "store": Second,

		"programme": Third,

		"web": Faces, "paper": Faces, "chart": Faces, "figure": Faces, "report": Faces, "cli": Faces, "exchange": Faces, "hub": Faces, "demo": Faces, "sandbox": Faces,

		"boot": Roof,

		"testkit": Outside, "testrecord": Outside, "arch": Outside,
	}
	Planned = []string{"hub"}
)

// impure is what a package of the two lowest floors must not import: with it, the same facts could give another state.
var impure = []string{"net", "net/http", "database/sql", "os", "os/exec", "os/signal", "crypto/rand", "math/rand"}

// Library is a third-party module path prefix and the packages that may import it.
type Library struct {
	Path      string   // import path prefix
	Owners    []string // packages relative to the module: "internal/store", "e2e"; "*" means any
	TestsOnly bool     // may stand in test files alone
	Why       string
}

// Libraries lists every third-party library in use with its owner.
var Libraries = []Library{
	{"github.com/ncruces", []string{"internal/store", "e2e"}, false, "the database engine is one package's secret, and what a benchmark measures against"},
	{"github.com/spf13", []string{"internal/cli"}, false, "flags and commands are one face of several"},
	{"codeberg.org/go-pdf/fpdf", []string{"internal/paper"}, false, "PDF is drawn in one place"},
	{"github.com/a-h/templ", []string{"internal/web"}, false, "pages are drawn in one place"},
	{"github.com/google/uuid", []string{"internal/logbook", "internal/programme", "internal/web", "internal/demo", "internal/exchange/fhir", "e2e"}, false, "ids are made where an act begins or is kept, and follow from those where it is exported"},
	{"golang.org/x/crypto", []string{"internal/logbook", "internal/store", "internal/programme"}, false, "keys are derived where data is sealed or a person signs in"},
	{"github.com/boombuler/barcode", []string{"internal/web", "internal/paper"}, false, "codes to be scanned are drawn by faces"},
	{"lukechampine.com/adiantum", []string{"internal/store"}, false, "the file is encrypted where it is kept"},
	{"golang.org/x/term", []string{"internal/cli"}, false, "a passphrase is typed unseen at the terminal"},
	{"github.com/xuri/excelize/v2", []string{"internal/exchange"}, false, "workbooks are written in one place"},
	{"gonum.org/v1/plot", []string{"internal/chart"}, false, "charts are drawn in one place"},
	{"gonum.org/v1/gonum", []string{"internal/agreement", "internal/control", "internal/disclose", "internal/estimate", "internal/plan"}, false, "distributions and quadrature belong to the numbers"},
	{"golang.org/x/text", []string{"internal/web", "internal/paper", "internal/exchange", "internal/logbook"}, false, "languages and encodings belong to the faces; a passphrase is the same however its accents were typed"},
	{"golang.org/x/sys", []string{"internal/store", "internal/boot", "internal/cli"}, false, "locks and signals are the platform's"},
	{"github.com/chromedp", []string{"e2e"}, true, "a browser is driven by journeys alone"},
	{"github.com/google/go-cmp", []string{"*"}, true, "differences are for tests"},
	{"github.com/rogpeppe/go-internal", []string{"internal/cli", "cmd/fairstick", "e2e"}, true, "command-line scripts are for tests"},
	{"github.com/santhosh-tekuri/jsonschema", []string{"internal/exchange"}, true, "what is exported is held against the schemas of the standards by somebody else's code"},
	{"pgregory.net/rapid", []string{"*"}, true, "properties are for tests"},
}

// Import is one edge of the graph: a file of package From imports To.
type Import struct {
	From string // package path relative to the module: "internal/store", "cmd/fairstick", "e2e"
	To   string // relative in the same way when it is ours; else the full import path
	Test bool   // the importing file is a test
}

// Check gives every broken rule as one sentence, sorted. packages are all packages, relative to the module.
func Check(packages []string, imports []Import) []string {
	var broken []string
	say := func(format string, args ...any) { broken = append(broken, fmt.Sprintf(format, args...)) }
	for _, p := range packages {
		if _, known := place(p); !known {
			say("%s stands on no floor: add it to Floors in internal/arch", p)
		}
	}
	for _, im := range imports {
		if ours(im.To) {
			if why := checkOurs(im); why != "" {
				say("%s imports %s: %s", im.From, im.To, why)
			}
			continue
		}
		if why := checkForeign(im); why != "" {
			say("%s imports %s: %s", im.From, im.To, why)
		}
	}
	sort.Strings(broken)
	return slices.Compact(broken)
}

// place gives the floor of a package; a package below another one stands where that one stands.
func place(pkg string) (Floor, bool) {
	if pkg == "e2e" || strings.HasPrefix(pkg, "e2e/") || strings.HasPrefix(pkg, "cmd/") {
		return Outside, true
	}
	f, ok := Floors[room(pkg)]
	return f, ok
}

// room gives the first name under internal/: "web" for "internal/web/ui"; "" for what is not internal.
func room(pkg string) string {
	rest, ok := strings.CutPrefix(pkg, "internal/")
	if !ok {
		return ""
	}
	name, _, _ := strings.Cut(rest, "/")
	return name
}

func ours(path string) bool {
	return strings.HasPrefix(path, "internal/") || strings.HasPrefix(path, "cmd/") || path == "e2e"
}

func checkOurs(im Import) string {
	if im.Test || room(im.From) != "" && room(im.From) == room(im.To) {
		return "" // tests may know all; a package may know its own parts
	}
	from, okFrom := place(im.From)
	to, okTo := place(im.To)
	if !okFrom || !okTo {
		return "" // already reported as standing on no floor
	}
	switch {
	case to == Outside:
		return "it is for tests alone"
	case room(im.From) == "testkit" || room(im.From) == "arch":
		return "what tests use knows no product package"
	case from < to:
		return "imports point down only"
	case from == First && to == First:
		return "a subject never imports another subject; what crosses subjects is decided in programme"
	case from == Faces && to == Second:
		return "a face asks programme, never the store or the logbook"
	}
	return ""
}

func checkForeign(im Import) string {
	first, _, _ := strings.Cut(im.To, "/")
	if !strings.Contains(first, ".") { // the standard library
		floor, ok := place(im.From)
		if ok && floor <= First && !im.Test && slices.Contains(impure, im.To) {
			return "the ground and first floors are pure"
		}
		return ""
	}
	for _, lib := range Libraries {
		if im.To != lib.Path && !strings.HasPrefix(im.To, lib.Path+"/") {
			continue
		}
		if lib.TestsOnly && !im.Test {
			return "it is for tests alone: " + lib.Why
		}
		for _, o := range lib.Owners {
			if o == "*" || im.From == o || strings.HasPrefix(im.From, o+"/") {
				return ""
			}
		}
		return "it belongs to " + strings.Join(lib.Owners, " and ") + ": " + lib.Why
	}
	return "no package owns this library: name its owner in Libraries in internal/arch"
}
