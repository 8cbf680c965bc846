package arch

import (
	"fmt"
	"go/ast"
	"go/build"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"regexp"
	"slices"
	"sort"
	"strconv"
	"strings"
	"sync"
	"testing"
)

const module = "fairstick"

// file is one parsed Go file of the repository. Build constraints are not looked at: a rule holds on every platform.
type file struct {
	pkg  string // directory relative to the module, with slashes
	path string
	test bool
	ast  *ast.File
}

var fset = token.NewFileSet()

func root(t *testing.T) string {
	t.Helper()
	dir, err := filepath.Abs(filepath.Join("..", ".."))
	if err != nil {
		t.Fatal(err)
	}
	mod, err := os.ReadFile(filepath.Join(dir, "go.mod"))
	if err != nil || !strings.HasPrefix(string(mod), "module "+module+"\n") {
		t.Fatalf("the module's root is not where this test expects it: %v", err)
	}
	return dir
}

// source gives every Go file of the repository, parsed once for all tests.
func source(t *testing.T) []file {
	t.Helper()
	dir := root(t)
	parseOnce.Do(func() { allFiles, parseErr = parse(dir) })
	if parseErr != nil {
		t.Fatal(parseErr)
	}
	if len(allFiles) == 0 {
		t.Fatal("no Go files found: this test would check nothing")
	}
	return allFiles
}

var (
	parseOnce sync.Once
	allFiles  []file
	parseErr  error
)

func parse(dir string) (files []file, err error) {
	for _, top := range []string{"internal", "cmd", "e2e"} {
		err := filepath.WalkDir(filepath.Join(dir, top), func(p string, d fs.DirEntry, err error) error {
			if err != nil {
				if os.IsNotExist(err) && p == filepath.Join(dir, top) {
					return nil
				}
				return err
			}
			if d.IsDir() {
				if n := d.Name(); n == "testdata" || strings.HasPrefix(n, ".") || strings.HasPrefix(n, "_") {
					return filepath.SkipDir
				}
				return nil
			}
			if !strings.HasSuffix(p, ".go") {
				return nil
			}
			f, err := parser.ParseFile(fset, p, nil, parser.ParseComments|parser.SkipObjectResolution)
			if err != nil {
				return err
			}
			rel, err := filepath.Rel(dir, p)
			if err != nil {
				return err
			}
			rel = filepath.ToSlash(rel)
			files = append(files, file{path.Dir(rel), rel, strings.HasSuffix(p, "_test.go"), f})
			return nil
		})
		if err != nil {
			return nil, err
		}
	}
	return files, nil
}

func packagesOf(files []file) []string {
	var out []string
	for _, f := range files {
		out = append(out, f.pkg)
	}
	sort.Strings(out)
	return slices.Compact(out)
}

func importsOf(t *testing.T, f file) []string {
	t.Helper()
	var out []string
	for _, s := range f.ast.Imports {
		p, err := strconv.Unquote(s.Path.Value)
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, p)
	}
	return out
}

func TestLayers(t *testing.T) {
	files := source(t)
	var imports []Import
	for _, f := range files {
		for _, p := range importsOf(t, f) {
			imports = append(imports, Import{From: f.pkg, To: strings.TrimPrefix(p, module+"/"), Test: f.test})
		}
	}
	for _, sentence := range Check(packagesOf(files), imports) {
		t.Error(sentence)
	}
}

// A rule about a package that is not there guards nothing: a rename would switch it off in silence.
func TestNamedPackagesExist(t *testing.T) {
	there := map[string]bool{}
	for _, p := range packagesOf(source(t)) {
		there[room(p)] = true
	}
	for name := range Floors {
		planned := slices.Contains(Planned, name)
		if !there[name] && !planned {
			t.Errorf("internal/%s stands in Floors but not in the source", name)
		}
		if there[name] && planned {
			t.Errorf("internal/%s has been built: take it off Planned", name)
		}
	}
	for _, name := range Planned {
		if _, ok := Floors[name]; !ok {
			t.Errorf("%s is in Planned but on no floor", name)
		}
	}
	for _, p := range impure {
		if _, err := build.Import(p, "", build.FindOnly); err != nil {
			t.Errorf("%s is forbidden but is not in the standard library: %v", p, err)
		}
	}
}

// The same owners stand in the lint configuration, where an editor shows them; both must name every library.
func TestLibrariesExist(t *testing.T) {
	dir := root(t)
	mod, err := os.ReadFile(filepath.Join(dir, "go.mod"))
	if err != nil {
		t.Fatal(err)
	}
	lint, err := os.ReadFile(filepath.Join(dir, ".golangci.yml"))
	if err != nil {
		t.Fatal(err)
	}
	for _, lib := range Libraries {
		if !strings.Contains(string(mod), "\t"+lib.Path) && !strings.Contains(string(mod), "require "+lib.Path) {
			t.Errorf("%s is not in go.mod: its rule guards nothing", lib.Path)
		}
		if !slices.Contains(lib.Owners, "*") && !strings.Contains(string(lint), "pkg: "+lib.Path+"\n") {
			t.Errorf("%s has an owner here but no rule in .golangci.yml", lib.Path)
		}
		for _, o := range lib.Owners {
			if _, known := place(o); o != "*" && !known {
				t.Errorf("%s belongs to %s, which stands on no floor", lib.Path, o)
			}
		}
	}
}

func TestLowFloorsReadNoClock(t *testing.T) {
	for _, f := range source(t) {
		if floor, ok := place(f.pkg); !ok || floor > First || f.test {
			continue
		}
		for _, use := range clockUses(f.ast) {
			t.Errorf("%s: %s: the ground and first floors are told the time", f.path, use)
		}
	}
}

// clockUses gives each use of the running clock in a file, whatever name the time package has there.
func clockUses(f *ast.File) []string {
	name := ""
	for _, s := range f.Imports {
		if s.Path.Value == `"time"` {
			name = "time"
			if s.Name != nil {
				name = s.Name.Name
			}
		}
	}
	if name == "" {
		return nil
	}
	clock := []string{"Now", "Since", "Until", "Sleep", "After", "AfterFunc", "Tick", "NewTicker", "NewTimer"}
	var out []string
	ast.Inspect(f, func(n ast.Node) bool {
		sel, ok := n.(*ast.SelectorExpr)
		if !ok {
			return true
		}
		if id, ok := sel.X.(*ast.Ident); ok && id.Name == name && slices.Contains(clock, sel.Sel.Name) {
			out = append(out, fmt.Sprintf("line %d: time.%s", fset.Position(sel.Pos()).Line, sel.Sel.Name))
		}
		return true
	})
	return out
}

func TestClockUsesBites(t *testing.T) {
	cases := []struct {
		src  string
		want int
	}{
		{"package p\nimport \"time\"\nvar a = time.Now()\n", 1},
		{"package p\nimport \"time\"\nvar now = time.Now\nfunc f() { time.Sleep(1); _ = time.Since(now()) }\n", 3},
		{"package p\nimport w \"time\"\nvar a = w.Now()\n", 1},
		{"package p\nimport \"time\"\nvar a time.Time\nvar b = a.After(a)\nvar c = 2 * time.Second\n", 0},
		{"package p\ntype c struct{}\nfunc (c) Now() int { return 1 }\nvar time c\nvar a = time.Now()\n", 0},
	}
	for _, c := range cases {
		f, err := parser.ParseFile(fset, "p.go", c.src, parser.SkipObjectResolution)
		if err != nil {
			t.Fatal(err)
		}
		if got := clockUses(f); len(got) != c.want {
			t.Errorf("%q: got %q, want %d", c.src, got, c.want)
		}
	}
}

func TestOnePackageComment(t *testing.T) {
	comments := map[string][]string{} // package -> files with a comment
	texts := map[string]string{}
	var names []string
	for _, f := range source(t) {
		if !slices.Contains(names, f.pkg) {
			names = append(names, f.pkg)
		}
		if f.ast.Doc != nil && !ast.IsGenerated(f.ast) {
			comments[f.pkg] = append(comments[f.pkg], f.path)
			texts[f.pkg] = f.ast.Doc.Text()
		}
	}
	for _, pkg := range names {
		switch n := len(comments[pkg]); {
		case n == 0:
			t.Errorf("%s has no package comment: say what it is for and why it is shaped so", pkg)
		case n > 1:
			t.Errorf("%s has %d package comments: %s", pkg, n, strings.Join(comments[pkg], ", "))
		}
		want := "Package " + path.Base(pkg) + " "
		if strings.HasPrefix(pkg, "cmd/") {
			want = "Command " + path.Base(pkg) + " "
		}
		if text := texts[pkg]; text != "" && !strings.HasPrefix(text, want) {
			t.Errorf("%s: its package comment begins %q, not %q", pkg, firstWords(text), want)
		}
	}
}

func firstWords(s string) string {
	words := strings.Fields(s)
	return strings.Join(words[:min(3, len(words))], " ")
}

var quoted = regexp.MustCompile("`((?:internal|cmd)/[a-z0-9/]+)\\.([A-Za-z_][A-Za-z0-9_]*(?:\\.[A-Za-z_][A-Za-z0-9_]*)?)`")

// The document points at examples by symbol, never by line; a symbol that has moved is found here.
func TestArchitectureSymbolsExist(t *testing.T) {
	text, err := os.ReadFile(filepath.Join(root(t), "docs", "ARCHITECTURE.md"))
	if err != nil {
		t.Fatal(err)
	}
	refs := quoted.FindAllStringSubmatch(string(text), -1)
	if len(refs) < 4 {
		t.Fatalf("docs/ARCHITECTURE.md quotes %d symbols; each of its four recipes needs one", len(refs))
	}
	have := symbols(source(t))
	for _, r := range refs {
		if !have[r[1]+"."+r[2]] {
			t.Errorf("docs/ARCHITECTURE.md quotes %s.%s, which does not exist", r[1], r[2])
		}
	}
	for _, p := range regexp.MustCompile("`((?:internal|cmd)/[a-z0-9/]+)`").FindAllStringSubmatch(string(text), -1) {
		if !slices.Contains(packagesOf(source(t)), p[1]) && !slices.Contains(Planned, room(p[1])) {
			t.Errorf("docs/ARCHITECTURE.md quotes the package %s, which does not exist", p[1])
		}
	}
}

// symbols gives "internal/x.Name" and "internal/x.Type.Method" (or .Field) for everything declared outside tests.
func symbols(files []file) map[string]bool {
	have := map[string]bool{}
	for _, f := range files {
		if f.test {
			continue
		}
		for _, d := range f.ast.Decls {
			switch d := d.(type) {
			case *ast.FuncDecl:
				name := d.Name.Name
				if d.Recv != nil && len(d.Recv.List) == 1 {
					name = receiver(d.Recv.List[0].Type) + "." + name
				}
				have[f.pkg+"."+name] = true
			case *ast.GenDecl:
				for _, s := range d.Specs {
					switch s := s.(type) {
					case *ast.ValueSpec:
						for _, n := range s.Names {
							have[f.pkg+"."+n.Name] = true
						}
					case *ast.TypeSpec:
						have[f.pkg+"."+s.Name.Name] = true
						for _, m := range members(s.Type) {
							have[f.pkg+"."+s.Name.Name+"."+m] = true
						}
					}
				}
			}
		}
	}
	return have
}

func members(e ast.Expr) []string {
	var list *ast.FieldList
	switch e := e.(type) {
	case *ast.StructType:
		list = e.Fields
	case *ast.InterfaceType:
		list = e.Methods
	}
	var out []string
	if list != nil {
		for _, f := range list.List {
			for _, n := range f.Names {
				out = append(out, n.Name)
			}
		}
	}
	return out
}

func receiver(e ast.Expr) string {
	switch e := e.(type) {
	case *ast.StarExpr:
		return receiver(e.X)
	case *ast.IndexExpr:
		return receiver(e.X)
	case *ast.IndexListExpr:
		return receiver(e.X)
	case *ast.Ident:
		return e.Name
	}
	return ""
}
