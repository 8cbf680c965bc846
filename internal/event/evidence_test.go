package event

import (
	"bytes"
	"image"
	"image/gif"
	"image/jpeg"
	"image/png"
	"strings"
	"testing"

	"fairstick/internal/fact"
)

// drawn is a small picture in one of the forms.
func drawn(t testing.TB, form string) []byte {
	t.Helper()
	var b bytes.Buffer
	img := image.NewGray(image.Rect(0, 0, 3, 2))
	err := map[string]func() error{
		"png": func() error { return png.Encode(&b, img) }, "jpeg": func() error { return jpeg.Encode(&b, img, nil) },
		"gif": func() error { return gif.Encode(&b, img, nil) },
	}[form]()
	if err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func TestMediaOf(t *testing.T) {
	for _, x := range []struct {
		name string
		data []byte
		want string
	}{
		{"nothing", nil, ""},
		{"a PDF", []byte("%PDF-1.7\n1 0 obj\nendobj\n%%EOF\n"), MediaPDF},
		{"a PDF cut short", []byte("%PDF-1.7\n1 0 obj\nendobj\n"), ""},
		{"a PDF behind something else", []byte("MZ%PDF-1.7\n%%EOF"), ""},
		{"a PNG", drawn(t, "png"), MediaPNG},
		{"a JPEG", drawn(t, "jpeg"), MediaJPEG},
		{"another picture", drawn(t, "gif"), ""},
		{"the head of a PNG alone", drawn(t, "png")[:9], ""},
		{"a page", []byte("<!DOCTYPE html><script>alert(1)</script>"), ""},
		{"a program", []byte("\x7fELF\x02\x01\x01"), ""},
		{"a drawing with script", []byte(`<svg xmlns="http://www.w3.org/2000/svg"><script/></svg>`), ""},
	} {
		if got := MediaOf(x.data); got != x.want {
			t.Errorf("%s: %q, want %q", x.name, got, x.want)
		}
	}
}

func FuzzMediaOf(f *testing.F) {
	for _, s := range [][]byte{nil, []byte("%PDF-1.7 %%EOF"), drawn(f, "png"), drawn(f, "jpeg"), []byte("\xff\xd8\xff\xe0")} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		begins := map[string]string{MediaPDF: "%PDF-", MediaJPEG: "\xff\xd8", MediaPNG: "\x89PNG"}
		if m := MediaOf(data); m != "" && (begins[m] == "" || !strings.HasPrefix(string(data), begins[m])) {
			t.Errorf("%q begins a %s", data[:min(8, len(data))], m)
		}
	})
}

// Parts may come in any order and twice; the file is whole when each has come, and an erasure holds whenever it comes.
func TestEvidenceInAnyOrder(t *testing.T) {
	at := func(n int, b fact.Body) fact.Record {
		return fact.Record{Meta: fact.Meta{ID: strings.Repeat("x", n), Recorded: strings.Repeat("0", n), Node: "n"}, Body: b}
	}
	e := NewEvidence("f").(*Evidence)
	for i, b := range []fact.Body{EvidencePiece{N: 3}, EvidencePiece{N: 1}, EvidencePiece{N: 3}, EvidenceAttached{Event: "e", Task: "permit", Parts: 3}} {
		e.Apply(at(i+1, b))
	}
	if e.Whole() || e.Erased() || len(e.Have) != 2 {
		t.Errorf("%+v", e)
	}
	e.Apply(at(5, EvidencePiece{N: 2}))
	e.Apply(at(6, EvidenceErased{Reason: "a face is on it"}))
	if parent, label := e.Index(); !e.Whole() || !e.Erased() || parent != "e" || !strings.HasPrefix(label, "permit ") {
		t.Errorf("%+v", e)
	}
}
