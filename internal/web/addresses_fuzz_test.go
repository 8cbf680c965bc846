package web

import (
	"bytes"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"github.com/google/uuid"

	"fairstick/internal/glucose"
)

// names stands for the things in an address that are there in an office.
func (o *office) names(path string) string {
	for name, id := range map[string]string{"event": o.Event, "person": o.ID("Lea Lead"), "meter": o.ID("M1"), "lot": o.ID("A"), "list": "people", "kind": "season"} {
		path = strings.ReplaceAll(path, "{"+name+"}", id)
	}
	return path
}

var thingIn = regexp.MustCompile(`\{[a-z]+(\.\.\.)?\}`)

// FuzzAddresses asks for any page with anything in its address: what stands for a thing, and what is asked. The answer is a page
// or a way on within the program, never a fault of it, and what was asked never comes back as markup.
func FuzzAddresses(f *testing.F) {
	o := setUp(f)
	var paths []string
	for _, r := range Routes() {
		if r.Method == http.MethodGet && !strings.HasSuffix(r.Path, "/live") && r.Path != "/hand-over" { // a stream has no end, a hand-over ends the session
			paths = append(paths, strings.TrimSuffix(r.Path, "{$}"))
		}
	}
	for i, query := range []string{
		"expected=90&from=09%3A00&to=13%3A00&profile=own&each=25,30,19,10&desk=1&test=-1&explain=1e9&meters=NaN&wait=Inf&sure=101",
		"from=2026-02-30&to=0000-00-00&event=x&lot=%00&time=25:61", "at=refer&allow=yes&lang=ar&size=a5", "kind=raised&by=band&key=%F0%9F%98%80&page=-1",
		"on=2026-06-20&year=99999999999999999999", "<b>hi</b>=1&q=<script>alert(1)</script>", "%zz&;", "step=contact&again=yes&hands=washed&same=yes", "to=//elsewhere.example", "",
	} {
		f.Add(uint16(i*23), []string{"", "0", "../../keys", "018f2b7c-0000-7000-8000-000000000000", "a\r\nSet-Cookie: x", "'; --"}[i%6], query)
	}
	f.Fuzz(func(t *testing.T, route uint16, id, query string) {
		path := paths[int(route)%len(paths)]
		if id == "" {
			path = o.names(path)
		}
		path = thingIn.ReplaceAllLiteralString(path, url.PathEscape(id+"x"))
		u, err := url.Parse(path)
		if err != nil || !strings.HasPrefix(u.Path, "/") {
			return
		}
		u.RawQuery = query
		r := httptest.NewRequestWithContext(t.Context(), http.MethodGet, "/", nil)
		r.URL, r.RequestURI = u, u.RequestURI()
		o.t = t
		a := o.ask("Lea Lead", r)
		if a.status >= http.StatusInternalServerError {
			t.Errorf("GET %s answers %d: %.300s", r.RequestURI, a.status, a.text())
		}
		if to := a.location; strings.HasPrefix(to, "//") || strings.Contains(to, "\\") || to != "" && !strings.HasPrefix(to, "/") {
			t.Errorf("GET %s leads to %q", r.RequestURI, to)
		}
		if strings.HasPrefix(a.location, "/sign-in") {
			delete(o.tokens, "Lea Lead")
		}
		asked, err := url.ParseQuery(query)
		if err != nil || !strings.HasPrefix(a.header.Get("Content-Type"), "text/html") {
			return
		}
		for _, list := range asked {
			for _, v := range list {
				if len(v) > 5 && strings.HasPrefix(v, "<") && strings.HasSuffix(v, ">") && !strings.HasPrefix(v, "<!") && strings.Contains(a.body, v) && !strings.Contains(clean(o, path), v) {
					t.Errorf("GET %s gives %q back as markup", r.RequestURI, v)
				}
			}
		}
	})
}

// clean is a page as it is when nothing is asked.
func clean(o *office, path string) string { return o.get("Lea Lead", path).body }

// FuzzUploads sends any bytes under any name to every form that takes a file.
func FuzzUploads(f *testing.F) {
	o := setUp(f)
	o.autumn("Autumn Fair")
	var paths []string
	for _, r := range Routes() {
		if r.Upload {
			paths = append(paths, strings.NewReplacer("{lang}", "vi", "{task}", "sharps").Replace(o.names(r.Path)))
		}
	}
	if len(paths) < 7 {
		f.Fatalf("%d forms take a file", len(paths))
	}
	for i, data := range []string{
		"name,roles,pin\n=1+1,lead,5821\n", "%PDF-1.7\n%%EOF", "{\"name\":\"x\"}", "reference,meter\n104,101\n", "Time,Value\n2026-06-20 09:12,112\n",
		"en,words\nYes,S\xc3\xad\n", "\x89PNG\r\n\x1a\n", "\xff\xd8\xff\xe0\xff\xd9", "0B 04 00 E4 07 05 0E 0C 31 1D 4E 01 68 B0 F8 00 00\n", "",
	} {
		f.Add(uint8(i), []string{"list.csv", "../../keys.json", "a\r\nX: y", "", "CON", "\x00"}[i%6], []byte(data))
	}
	f.Fuzz(func(t *testing.T, route uint8, name string, data []byte) {
		var b bytes.Buffer
		w := multipart.NewWriter(&b)
		for _, field := range []string{"command", "file", "pairs", "document"} {
			if field == "command" {
				if err := w.WriteField(field, uuid.NewString()); err != nil {
					t.Fatal(err)
				}
				continue
			}
			part, err := w.CreateFormFile(field, name)
			if err == nil {
				_, err = part.Write(data)
			}
			if err != nil {
				t.Fatal(err)
			}
		}
		if err := w.Close(); err != nil {
			t.Fatal(err)
		}
		path := paths[int(route)%len(paths)]
		r := httptest.NewRequestWithContext(t.Context(), http.MethodPost, path, &b)
		r.Header.Set("Content-Type", w.FormDataContentType())
		o.t = t
		if a := o.ask("Lea Lead", r); a.status >= http.StatusInternalServerError {
			t.Errorf("POST %s of %q answers %d: %.300s", path, data, a.status, a.text())
		}
	})
}

// FuzzTypedPairs types anything into the box for pairs of a comparison.
func FuzzTypedPairs(f *testing.F) {
	for _, text := range []string{"104 101\n98,99\n", "reference;meter\n5,6;5,7\n", "reference\tmeter\treplicate\n1\t2\t1\n1\t2\t2\n", "\ufeff104\t\n", "HI LO", "\"\n", "1e309 2\n"} {
		f.Add(text, true)
	}
	f.Fuzz(func(t *testing.T, text string, mgdl bool) {
		unit := glucose.MgPerDL
		if !mgdl {
			unit = glucose.MmolPerL
		}
		p, refused := readTyped(text, unit)
		switch {
		case refused == nil && p.Unit == "":
			t.Errorf("%q was read without a unit", text)
		case refused != nil && (refused.Sentence == "" || refused.Kind == "internal"):
			t.Errorf("%q is refused as %+v", text, refused)
		}
		for _, m := range measured(p) {
			if refused == nil && (m.Reference == "" || m.Meter == "") {
				t.Errorf("%q gives a pair %+v", text, m)
			}
		}
	})
}
