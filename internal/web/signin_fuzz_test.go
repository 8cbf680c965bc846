package web

import (
	"net/url"
	"strings"
	"testing"
)

// Whatever a link asks for, signing in leads to a page of this program.
func FuzzLocalPath(f *testing.F) {
	for _, to := range []string{"/", "/events/1/board?x=1", "//elsewhere.example", "https://elsewhere.example/", "/\\elsewhere", "/%2f%2felsewhere", "/sign-in", "javascript:alert(1)", "", "/a\r\nSet-Cookie: x"} {
		f.Add(to)
	}
	f.Fuzz(func(t *testing.T, to string) {
		got := localPath(to)
		u, err := url.Parse(got)
		if err != nil || u.Host != "" || u.Scheme != "" || !strings.HasPrefix(got, "/") || strings.HasPrefix(got, "//") || strings.ContainsAny(got, "\\\r\n") {
			t.Errorf("%q leads to %q", to, got)
		}
	})
}
