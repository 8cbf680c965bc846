package web

import (
	"encoding/base64"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
)

// FuzzForms sends anything as the form of any page, with anything as the cookie that carries a sentence to the next page. The
// answer is a page or a way on, never a fault of the program; and the sentence of a cookie that was not made here is never markup.
func FuzzForms(f *testing.F) {
	o := setUp(f)
	var paths []string
	for _, r := range Routes() {
		if r.Method != "POST" || strings.Contains(r.Path, "lock") {
			continue // a lock would end the record under the test
		}
		path := r.Path
		for name, id := range map[string]string{"event": o.Event, "person": o.ID("Lea Lead"), "meter": o.ID("M1"), "lot": o.ID("A")} {
			path = strings.ReplaceAll(path, "{"+name+"}", id)
		}
		paths = append(paths, path)
	}
	for i, body := range []string{
		"command=018f2b7c-0000-7000-8000-000000000000&name=Ada&roles=lead",
		"quick=2026-06-20T07%3A00&ate_day=today&ate_at=7%3A61", "celsius=21%2C5&humidity=NaN", "lancets=-1&sharps=99999999999&strips=%00",
		"answer=slept&ahead=-9223372036854775808", "sign_person=x&sign_pin=%F0%9F%98%80", "%zz", "", "a=1;b=2", strings.Repeat("k=v&", 2000),
	} {
		f.Add(uint16(i*17), body, "PGI+aGk8L2I+")
	}
	f.Fuzz(func(t *testing.T, route uint16, body, note string) {
		path := paths[int(route)%len(paths)]
		if strings.ContainsAny(path, "{}") {
			path = strings.NewReplacer("{", "x", "}", "x").Replace(path)
		}
		r := httptest.NewRequestWithContext(t.Context(), "POST", path, strings.NewReader(body))
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		r.AddCookie(&http.Cookie{Name: noteCookie, Value: note})
		o.t = t
		a := o.ask("Lea Lead", r)
		if a.status >= http.StatusInternalServerError {
			t.Errorf("POST %s answers %d to %.200q: %.300s", path, a.status, body, a.text())
		}
		if a.status == http.StatusUnauthorized || strings.HasPrefix(a.location, "/sign-in") {
			delete(o.tokens, "Lea Lead") // the form signed the lead out
		}
		if text, err := base64.RawURLEncoding.DecodeString(note); err == nil && len(text) > 3 && strings.ContainsAny(string(text), "<>") && strings.Contains(a.body, string(text)) {
			t.Errorf("the note %q is on the page as it came", text)
		}
	})
}
