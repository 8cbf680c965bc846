// Package static holds the style sheet, the scripts and the typeface, embedded in the program and served under names that
// carry a hash of their content. A browser may keep such a file for ever, and a new release never meets an old copy. Nothing
// is fetched from anywhere else at run time.
package static

import (
	"bytes"
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"io/fs"
	"net/http"
	"path"
	"sort"
	"strings"
	"time"
)

// Prefix is the path under which Handler expects to be mounted.
const Prefix = "/static/"

//go:embed css/*.css js/*.js fonts/*.woff2 fonts/OFL.txt img/*.svg
var files embed.FS

type asset struct {
	data []byte
	kind string
}

var (
	addresses = map[string]string{} // "app.css" -> "/static/app.1a2b3c4d5e6f.css"
	assets    = map[string]asset{}  // the address -> what is sent
	modules   []string              // addresses of every script but the entry
)

var kinds = map[string]string{
	".css":   "text/css; charset=utf-8",
	".js":    "text/javascript; charset=utf-8",
	".woff2": "font/woff2",
	".txt":   "text/plain; charset=utf-8",
	".svg":   "image/svg+xml",
}

// entry is the one script a page loads; it imports the others, so it is named last, when their addresses are known.
const entry = "app.js"

func init() {
	var names []string
	err := fs.WalkDir(files, ".", func(p string, d fs.DirEntry, err error) error {
		if err == nil && !d.IsDir() {
			names = append(names, p)
		}
		return err
	})
	if err != nil {
		panic("static: " + err.Error())
	}
	sort.Slice(names, func(i, j int) bool {
		if ri, rj := rank(names[i]), rank(names[j]); ri != rj {
			return ri < rj
		}
		return names[i] < names[j]
	})
	for _, p := range names {
		data, err := files.ReadFile(p)
		if err != nil {
			panic("static: " + err.Error())
		}
		add(path.Base(p), data)
	}
}

// rank puts what is referred to before what refers to it.
func rank(p string) int {
	switch {
	case path.Base(p) == entry:
		return 2
	case path.Ext(p) == ".css":
		return 1
	default:
		return 0
	}
}

// add names one file by its content, after putting the hashed names of the files it refers to in place of their plain ones.
func add(name string, data []byte) {
	ext := path.Ext(name)
	if ext == ".css" || name == entry {
		for plain, address := range addresses {
			hashed := path.Base(address)
			data = bytes.ReplaceAll(data, []byte(`"../fonts/`+plain+`"`), []byte(`"`+hashed+`"`))
			data = bytes.ReplaceAll(data, []byte(`"./`+plain+`"`), []byte(`"./`+hashed+`"`))
		}
	}
	sum := sha256.Sum256(data)
	address := Prefix + strings.TrimSuffix(name, ext) + "." + hex.EncodeToString(sum[:6]) + ext
	addresses[name] = address
	assets[address] = asset{data: data, kind: kinds[ext]}
	if ext == ".js" && name != entry {
		modules = append(modules, address)
	}
}

// Path gives the address of an embedded file by its plain name: Path("app.css") is "/static/app.<hash>.css". An unknown name
// is a mistake of the programmer and panics.
func Path(name string) string {
	address, ok := addresses[name]
	if !ok {
		panic("static: no file named " + name)
	}
	return address
}

// Modules lists the addresses of the scripts that the entry script imports, for preloading.
func Modules() []string { return append([]string(nil), modules...) }

// Handler serves the embedded files by their hashed addresses and nothing else: a request is one look-up in a fixed list, so
// no path can lead out of it.
func Handler() http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.Method != http.MethodGet && r.Method != http.MethodHead {
			w.Header().Set("Allow", "GET, HEAD")
			http.Error(w, "Only GET and HEAD are answered here.", http.StatusMethodNotAllowed)
			return
		}
		a, ok := assets[r.URL.Path]
		if !ok {
			http.Error(w, "There is no such file.", http.StatusNotFound)
			return
		}
		h := w.Header()
		h.Set("Content-Type", a.kind)
		h.Set("Cache-Control", "public, max-age=31536000, immutable")
		h.Set("X-Content-Type-Options", "nosniff")
		http.ServeContent(w, r, "", time.Time{}, bytes.NewReader(a.data))
	})
}
