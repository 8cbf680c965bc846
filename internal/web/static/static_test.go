package static

import (
	"math"
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

func get(t *testing.T, address string) *http.Response {
	t.Helper()
	w := httptest.NewRecorder()
	Handler().ServeHTTP(w, &http.Request{Method: http.MethodGet, URL: &url.URL{Path: address}, Header: http.Header{}})
	return w.Result()
}

func TestPathsCarryTheHashOfTheirContent(t *testing.T) {
	for name, kind := range map[string]string{
		"app.css": "text/css; charset=utf-8", "app.js": "text/javascript; charset=utf-8", "form.js": "text/javascript; charset=utf-8",
		"atkinson-next-latin.woff2": "font/woff2", "OFL.txt": "text/plain; charset=utf-8", "icon.svg": "image/svg+xml",
	} {
		address := Path(name)
		stem, ext, _ := strings.Cut(name, ".")
		if want := regexp.MustCompile(`^/static/` + stem + `\.[0-9a-f]{12}\.` + ext + `$`); !want.MatchString(address) {
			t.Errorf("Path(%q) = %q, want it to match %v", name, address, want)
		}
		r := get(t, address)
		if r.StatusCode != http.StatusOK {
			t.Errorf("%s: status %d, want 200", address, r.StatusCode)
		}
		if got := r.Header.Get("Content-Type"); got != kind {
			t.Errorf("%s: content type %q, want %q", address, got, kind)
		}
		if got := r.Header.Get("Cache-Control"); got != "public, max-age=31536000, immutable" {
			t.Errorf("%s: cache control %q", address, got)
		}
		if got := r.Header.Get("X-Content-Type-Options"); got != "nosniff" {
			t.Errorf("%s: %q, want nosniff", address, got)
		}
	}
}

func TestUnknownNamePanics(t *testing.T) {
	defer func() {
		if recover() == nil {
			t.Error("Path of an unknown file did not panic")
		}
	}()
	Path("no-such.css")
}

func TestOnlyExactAddressesAreServed(t *testing.T) {
	css := Path("app.css")
	for _, address := range []string{
		"/static/", "/static", "/static/app.css", "/static/css/app.css", "/static/../static.go", "/static/./" + strings.TrimPrefix(css, Prefix),
		css + "/", css + "\x00", strings.ToUpper(css), "/static/%2e%2e/static.go", "/static/..\\static.go", "", "/etc/passwd",
	} {
		if r := get(t, address); r.StatusCode != http.StatusNotFound {
			t.Errorf("%q: status %d, want 404", address, r.StatusCode)
		}
	}
	w := httptest.NewRecorder()
	Handler().ServeHTTP(w, httptest.NewRequestWithContext(t.Context(), http.MethodPost, css, nil))
	if w.Code != http.StatusMethodNotAllowed || w.Header().Get("Allow") != "GET, HEAD" {
		t.Errorf("POST: status %d, Allow %q; want 405 and GET, HEAD", w.Code, w.Header().Get("Allow"))
	}
}

func FuzzHandlerServesNothingElse(f *testing.F) {
	f.Add("../static.go")
	f.Add("css/app.css")
	f.Add("..%2f..%2fgo.mod")
	f.Add(strings.TrimPrefix(Path("app.css"), Prefix))
	f.Fuzz(func(t *testing.T, name string) {
		_, known := assets[Prefix+name]
		if r := get(t, Prefix+name); (r.StatusCode == http.StatusOK) != known {
			t.Errorf("%q: status %d, known %v", name, r.StatusCode, known)
		}
	})
}

// Every file that a style sheet or a script refers to is served under the name by which it is referred to, and nothing
// outside the program is.
func TestReferencesResolve(t *testing.T) {
	refs := regexp.MustCompile(`url\("([^"]+)"\)|from "([^"]+)"`)
	found := 0
	for address, a := range assets {
		if a.kind == kinds[".txt"] || a.kind == kinds[".woff2"] || a.kind == kinds[".svg"] {
			continue
		}
		text := string(a.data)
		if strings.Contains(text, "http://") || strings.Contains(text, "https://") || strings.Contains(text, "//cdn") {
			t.Errorf("%s refers to another host", address)
		}
		for _, m := range refs.FindAllStringSubmatch(text, -1) {
			found++
			target := Prefix + strings.TrimPrefix(m[1]+m[2], "./")
			if _, ok := assets[target]; !ok {
				t.Errorf("%s refers to %s, which is not served", address, m[1]+m[2])
			}
		}
	}
	if want := 2 + len(modules); found != want {
		t.Errorf("%d references found, want %d: two font files and every module", found, want)
	}
	if len(modules) != 8 {
		t.Errorf("%d modules, want 8", len(modules))
	}
}

func TestFontLicenceIsServed(t *testing.T) {
	if text := string(assets[Path("OFL.txt")].data); !strings.Contains(text, "SIL Open Font License, Version 1.1") {
		t.Error("OFL.txt is not the licence of the typeface")
	}
}

// luminance and contrast follow WCAG 2.2, "relative luminance" and "contrast ratio".
func luminance(t *testing.T, hex string) float64 {
	t.Helper()
	n, err := strconv.ParseUint(strings.TrimPrefix(hex, "#"), 16, 32)
	if err != nil || len(hex) != 7 {
		t.Fatalf("%q is not a colour of six hexadecimal figures", hex)
	}
	part := func(v uint64) float64 {
		c := float64(v&255) / 255
		if c <= 0.04045 {
			return c / 12.92
		}
		return math.Pow((c+0.055)/1.055, 2.4)
	}
	return 0.2126*part(n>>16) + 0.7152*part(n>>8) + 0.0722*part(n)
}

func contrast(t *testing.T, a, b string) float64 {
	t.Helper()
	x, y := luminance(t, a), luminance(t, b)
	return (math.Max(x, y) + 0.05) / (math.Min(x, y) + 0.05)
}

func TestContrastFormulaAtItsEnds(t *testing.T) {
	if got := contrast(t, "#000000", "#ffffff"); math.Abs(got-21) > 1e-9 { // WCAG 2.2: black on white is 21:1
		t.Errorf("black on white %.4f, want 21", got)
	}
	if got := contrast(t, "#777777", "#ffffff"); math.Abs(got-4.48) > 0.005 { // the well-known grey that just misses 4.5:1
		t.Errorf("#777 on white %.4f, want 4.48", got)
	}
}

func TestColoursKeepTheirContrast(t *testing.T) {
	css := string(assets[Path("app.css")].data)
	value := regexp.MustCompile(`--([a-z-]+): (#[0-9a-f]{6});`)
	light, rest, ok := strings.Cut(css, "@media (prefers-color-scheme: dark)")
	if !ok {
		t.Fatal("no dark form")
	}
	dark, _, _ := strings.Cut(rest, "\n*")
	for form, text := range map[string]string{"light": light, "dark": dark} {
		c := map[string]string{}
		for _, m := range value.FindAllStringSubmatch(text, -1) {
			c[m[1]] = m[2]
		}
		for _, need := range []struct {
			on, ground string
			ratio      float64
		}{
			{"ink", "paper", 7},
			{"ink", "sheet", 7},
			{"grey", "paper", 7},
			{"grey", "sheet", 7},
			{"act", "paper", 7},
			{"act", "sheet", 7},
			{"act-ink", "act", 7},
			{"stop", "paper", 7},
			{"stop", "sheet", 7},
			{"stop-ink", "stop", 7},
			{"paper", "ink", 7},
			{"line", "paper", 4.5},
			{"line", "sheet", 4.5},
		} {
			if got := contrast(t, c[need.on], c[need.ground]); got < need.ratio {
				t.Errorf("%s: %s on %s is %.2f:1, want %.1f:1", form, need.on, need.ground, got, need.ratio)
			}
		}
	}
}
