package web

import (
	"context"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"net/url"
	"runtime"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"fairstick/internal/fault"
)

// lockedDoor is a locked record whose passphrase is "right".
func lockedDoor(now *time.Time, tried *int) http.Handler {
	return NewLocked(LockedOptions{Log: slog.New(slog.DiscardHandler), Now: func() time.Time { return *now }, Unlock: func(_ context.Context, p []byte) error {
		*tried++
		if string(p) == "right" {
			return nil
		}
		return fault.New(fault.Denied, "passphrase-wrong", "This is not the passphrase of the record.", "", "").Field("passphrase", "Wrong passphrase.")
	}})
}

func ask(h http.Handler, from, method, path string, form url.Values, header ...string) *httptest.ResponseRecorder {
	r := httptest.NewRequest(method, path, strings.NewReader(form.Encode()))
	r.RemoteAddr = from
	if method == http.MethodPost {
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	}
	for i := 0; i+1 < len(header); i += 2 {
		r.Header.Set(header[i], header[i+1])
	}
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	return w
}

const (
	theLaptop = "127.0.0.1:50000"
	aPhone    = "192.168.4.20:50000"
)

func TestTheLockedPage(t *testing.T) {
	now, tried := time.Date(2031, 5, 4, 9, 0, 0, 0, time.UTC), 0
	h := lockedDoor(&now, &tried)
	for _, c := range []struct {
		name, from, method, path string
		status                   int
		must, mustNot            string
	}{
		{"the laptop", theLaptop, http.MethodGet, "/people", 503, `value="/people"`, "Ask the lead"},
		{"a phone", aPhone, http.MethodGet, "/people", 503, "Ask the lead to unlock the laptop", "<form"},
		{"a form of a phone", aPhone, http.MethodPost, "/events/x/desk", 503, "kept on this device", "<form"},
		{"a phone that knows the address", aPhone, http.MethodPost, "/unlock", 503, "Ask the lead", "<form"},
		{"an address elsewhere", theLaptop, http.MethodGet, "//evil.example/x", 503, `value="/"`, "evil"},
		{"whether the laptop answers", aPhone, http.MethodHead, "/static/x.js", 503, "", "x"},
	} {
		w := ask(h, c.from, c.method, c.path, url.Values{"passphrase": {"right"}})
		if body := w.Body.String(); w.Code != c.status || !strings.Contains(body, c.must) || c.mustNot != "" && strings.Contains(body, c.mustNot) {
			t.Errorf("%s: %d %s", c.name, w.Code, body)
		}
		if w.Header().Get("X-Frame-Options") != "DENY" || w.Header().Get("Content-Security-Policy") != csp {
			t.Errorf("%s: headers %v", c.name, w.Header())
		}
	}
	if tried != 0 {
		t.Errorf("a phone tried a passphrase")
	}
	if w := ask(h, theLaptop, http.MethodPost, "/unlock", url.Values{"passphrase": {"right"}}, "Sec-Fetch-Site", "cross-site", "Origin", "https://evil.example"); w.Code != http.StatusForbidden || tried != 0 {
		t.Errorf("from another site: %d", w.Code)
	}
	if w := ask(h, theLaptop, http.MethodPost, "/unlock", url.Values{"passphrase": {"right"}, "to": {"/people"}}); w.Code != http.StatusSeeOther || w.Header().Get("Location") != "/people" || tried != 1 {
		t.Errorf("the right one: %d %s", w.Code, w.Header().Get("Location"))
	}
}

func TestWrongPassphrasesAreSlowedDown(t *testing.T) {
	now, tried := time.Date(2031, 5, 4, 9, 0, 0, 0, time.UTC), 0
	h := lockedDoor(&now, &tried)
	try := func(p string) int {
		w := ask(h, theLaptop, http.MethodPost, "/unlock", url.Values{"passphrase": {p}})
		if strings.Contains(w.Body.String(), `value="wrong`) {
			t.Error("what was typed is on the page")
		}
		return w.Code
	}
	for range freePassphrases {
		if got := try("wrong"); got != http.StatusForbidden {
			t.Errorf("a wrong one: %d", got)
		}
	}
	if got := try("right"); got != http.StatusTooManyRequests || tried != freePassphrases {
		t.Errorf("at once after %d wrong ones: %d, tried %d", freePassphrases, got, tried)
	}
	for wait := firstPassphraseWait; wait < maxPassphraseWait; wait *= 2 {
		now = now.Add(wait - time.Second)
		if got := try("right"); got != http.StatusTooManyRequests {
			t.Errorf("before %s are over: %d", wait, got)
		}
		now = now.Add(time.Second)
		if got := try("wrong"); got != http.StatusForbidden {
			t.Errorf("after %s: %d", wait, got)
		}
	}
	now = now.Add(maxPassphraseWait)
	if got := try("right"); got != http.StatusSeeOther {
		t.Errorf("in the end: %d", got)
	}
}

// An opening that takes long is told about on every device, and comes back by itself with what came of it.
func TestALongOpeningIsToldAbout(t *testing.T) {
	const doing = "It looks through the record: 4 seconds so far."
	end, said := make(chan error), make(chan string, 1)
	var now atomic.Value
	now.Store("")
	h := NewLocked(LockedOptions{
		Log: slog.New(slog.DiscardHandler), Unlock: func(context.Context, []byte) error { return <-end },
		Doing: func() string { return now.Load().(string) },
		Look: func() <-chan time.Time { // asked while there is nothing to tell yet
			now.Store(<-said)
			return time.After(0)
		},
	})
	said <- doing
	w := ask(h, theLaptop, http.MethodPost, "/unlock", url.Values{"passphrase": {"right"}, "to": {"/people"}})
	if body := w.Body.String(); w.Code != http.StatusServiceUnavailable || w.Header().Get("Refresh") != "2; url=/people" || !strings.Contains(body, doing) || strings.Contains(body, "<form") {
		t.Errorf("who typed it sees %d %v %s", w.Code, w.Header(), body)
	}
	for _, from := range []string{theLaptop, aPhone} {
		if w := ask(h, from, http.MethodGet, "/desk", nil); w.Header().Get("Refresh") != "2; url=/desk" || !strings.Contains(w.Body.String(), doing) {
			t.Errorf("%s sees %v %s", from, w.Header(), w.Body)
		}
	}
	if w := ask(h, theLaptop, http.MethodPost, "/unlock", url.Values{"passphrase": {"another"}}); !strings.Contains(w.Body.String(), doing) {
		t.Errorf("a second try meanwhile: %s", w.Body)
	}
	now.Store("")
	end <- fault.New(fault.Unusable, "record-damaged", "The record is damaged.", "", "Restore your last backup.")
	for {
		w := ask(h, theLaptop, http.MethodGet, "/people", nil)
		if strings.Contains(w.Body.String(), "being opened") {
			runtime.Gosched()
			continue
		}
		if body := w.Body.String(); !strings.Contains(body, "The record is damaged.") || !strings.Contains(body, "<form") || w.Header().Get("Refresh") != "" {
			t.Errorf("in the end: %v %s", w.Header(), body)
		}
		break
	}
	if w := ask(h, theLaptop, http.MethodGet, "/people", nil); strings.Contains(w.Body.String(), "damaged") {
		t.Error("it is said twice")
	}
}
