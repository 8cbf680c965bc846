package arch

import (
	"strings"
	"testing"
)

// Each case breaks one rule, or comes close and does not. A rule that stops biting fails here before it fails nowhere.
func TestCheckBites(t *testing.T) {
	cases := []struct {
		name string
		pkg  string // one more package
		im   Import
		want string // part of the only sentence; empty when the import is allowed
	}{
		{name: "new package nowhere", pkg: "internal/utils", want: "internal/utils stands on no floor"},
		{name: "part of a placed package", pkg: "internal/web/ui"},
		{name: "down", im: Import{From: "internal/visit", To: "internal/glucose"}},
		{name: "along the ground", im: Import{From: "internal/protocol", To: "internal/glucose"}},
		{name: "up from the ground", im: Import{From: "internal/glucose", To: "internal/visit"}, want: "imports point down only"},
		{name: "up from the store", im: Import{From: "internal/store", To: "internal/programme"}, want: "imports point down only"},
		{name: "up from a face to boot", im: Import{From: "internal/cli", To: "internal/boot"}, want: "imports point down only"},
		{name: "subject to subject", im: Import{From: "internal/visit", To: "internal/stock"}, want: "a subject never imports another subject"},
		{name: "subject to its own part", im: Import{From: "internal/visit", To: "internal/visit/wait"}},
		{name: "programme to subject", im: Import{From: "internal/programme", To: "internal/stock"}},
		{name: "face to store", im: Import{From: "internal/web", To: "internal/store"}, want: "a face asks programme"},
		{name: "part of a face to logbook", im: Import{From: "internal/web/ui", To: "internal/logbook"}, want: "a face asks programme"},
		{name: "face to programme", im: Import{From: "internal/web", To: "internal/programme"}},
		{name: "face to face", im: Import{From: "internal/web", To: "internal/paper"}},
		{name: "boot knows all", im: Import{From: "internal/boot", To: "internal/store"}},
		{name: "main knows all", im: Import{From: "cmd/fairstick", To: "internal/store"}},
		{name: "product uses testkit", im: Import{From: "internal/programme", To: "internal/testkit"}, want: "it is for tests alone"},
		{name: "test uses testkit", im: Import{From: "internal/programme", To: "internal/testkit", Test: true}},
		{name: "product uses testrecord", im: Import{From: "internal/web", To: "internal/testrecord"}, want: "it is for tests alone"},
		{name: "testrecord uses product", im: Import{From: "internal/testrecord", To: "internal/programme"}},
		{name: "testkit uses product", im: Import{From: "internal/testkit", To: "internal/store"}, want: "knows no product package"},
		{name: "test of a subject uses another", im: Import{From: "internal/visit", To: "internal/stock", Test: true}},
		{name: "ground with os", im: Import{From: "internal/civil", To: "os"}, want: "are pure"},
		{name: "subject with http", im: Import{From: "internal/visit", To: "net/http"}, want: "are pure"},
		{name: "subject with SQL", im: Import{From: "internal/stock", To: "database/sql"}, want: "are pure"},
		{name: "ground with time", im: Import{From: "internal/civil", To: "time"}},
		{name: "test of the ground with os", im: Import{From: "internal/civil", To: "os", Test: true}},
		{name: "store with SQL", im: Import{From: "internal/store", To: "database/sql"}},
		{name: "owner of the driver", im: Import{From: "internal/store", To: "github.com/ncruces/go-sqlite3/driver"}},
		{name: "driver elsewhere", im: Import{From: "internal/programme", To: "github.com/ncruces/go-sqlite3"}, want: "belongs to internal/store and e2e"},
		{name: "driver in a test elsewhere", im: Import{From: "internal/cli", To: "github.com/ncruces/go-sqlite3", Test: true}, want: "belongs to internal/store and e2e"},
		{name: "path that only begins alike", im: Import{From: "internal/store", To: "github.com/ncrucesque/x"}, want: "no package owns"},
		{name: "library nobody owns", im: Import{From: "internal/web", To: "example.org/lib"}, want: "no package owns"},
		{name: "test library in the product", im: Import{From: "internal/visit", To: "pgregory.net/rapid"}, want: "for tests alone"},
		{name: "test library in a test", im: Import{From: "internal/visit", To: "pgregory.net/rapid", Test: true}},
		{name: "browser outside e2e", im: Import{From: "internal/web", To: "github.com/chromedp/chromedp", Test: true}, want: "belongs to e2e"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			var packages []string
			var imports []Import
			if c.pkg != "" {
				packages = append(packages, c.pkg)
			} else {
				imports = append(imports, c.im)
			}
			got := Check(packages, imports)
			switch {
			case c.want == "" && len(got) > 0:
				t.Errorf("allowed, but reported: %q", got)
			case c.want != "" && (len(got) != 1 || !strings.Contains(got[0], c.want)):
				t.Errorf("got %q, want one sentence with %q", got, c.want)
			}
		})
	}
}
