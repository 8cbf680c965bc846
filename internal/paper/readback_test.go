package paper

import (
	"bytes"
	"compress/zlib"
	"io"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"unicode"
	"unicode/utf16"
)

// placedText is one piece of text found in a finished PDF.
type placedText struct {
	page       int // from 1
	x, y, size float64
	font       string
	s          string
}

var (
	streamPattern = regexp.MustCompile(`(?s)stream\n(.*?)\nendstream`)
	fontPattern   = regexp.MustCompile(`^BT /(F\w+) ([\d.]+) Tf ET$`)
	textPattern   = regexp.MustCompile(`(?s)^BT ([-\d.]+) ([-\d.]+) Td \((.*)\) Tj ET$`)
	boxPattern    = regexp.MustCompile(`/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]`)
)

// pageStreams gives the drawing commands of each page.
func pageStreams(t testing.TB, pdf []byte) []string {
	t.Helper()
	var out []string
	for _, m := range streamPattern.FindAllSubmatch(pdf, -1) {
		r, err := zlib.NewReader(bytes.NewReader(m[1]))
		if err != nil {
			continue
		}
		b, err := io.ReadAll(r)
		if err != nil {
			continue
		}
		if bytes.Contains(b, []byte(" Tj ET")) {
			out = append(out, string(b))
		}
	}
	if len(out) == 0 {
		t.Fatal("no page found in the PDF")
	}
	return out
}

// readBack finds all text of a PDF that this package wrote, page by page in the order of setting.
func readBack(t testing.TB, pdf []byte) []placedText {
	t.Helper()
	var out []placedText
	for page, stream := range pageStreams(t, pdf) {
		var font string
		var size float64
		for _, command := range splitCommands(stream) {
			if m := fontPattern.FindStringSubmatch(command); m != nil {
				font, size = m[1], number(t, m[2])
			}
			if m := textPattern.FindStringSubmatch(command); m != nil {
				out = append(out, placedText{page + 1, number(t, m[1]), number(t, m[2]), size, font, decode(m[3])})
			}
		}
	}
	return out
}

// splitCommands cuts at line ends, which a text in brackets may hold as well.
func splitCommands(stream string) []string {
	var out []string
	for part := range strings.SplitSeq(stream, "\n") {
		if n := len(out); n > 0 && strings.HasPrefix(out[n-1], "BT ") && !strings.HasSuffix(out[n-1], " ET") {
			out[n-1] += "\n" + part
			continue
		}
		out = append(out, part)
	}
	return out
}

func number(t testing.TB, s string) float64 {
	t.Helper()
	f, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// decode undoes the escapes of a PDF string and its UTF-16.
func decode(s string) string {
	s = strings.NewReplacer(`\\`, `\`, `\(`, `(`, `\)`, `)`, `\r`, "\r").Replace(s)
	units := make([]uint16, len(s)/2)
	for i := range units {
		units[i] = uint16(s[2*i])<<8 | uint16(s[2*i+1])
	}
	return string(utf16.Decode(units))
}

// textOf joins a page's text; page 0 is the whole document.
func textOf(all []placedText, page int) string {
	var parts []string
	for _, p := range all {
		if page == 0 || p.page == page {
			parts = append(parts, p.s)
		}
	}
	return strings.Join(parts, " ")
}

func pageCount(all []placedText) int { return all[len(all)-1].page }

// mediaBox gives the page size that the PDF states, in points.
func mediaBox(t testing.TB, pdf []byte) (w, h float64) {
	t.Helper()
	m := boxPattern.FindSubmatch(pdf)
	if m == nil {
		t.Fatal("no MediaBox in the PDF")
	}
	return number(t, string(m[1])), number(t, string(m[2]))
}

// checkInside fails when a piece of text leaves the page's margins or stands on another one.
func checkInside(t testing.TB, pdf []byte, margin float64) {
	t.Helper()
	fonts, err := loadFonts()
	if err != nil {
		t.Fatal(err)
	}
	w, h := mediaBox(t, pdf)
	all := readBack(t, pdf)
	right := make([]float64, len(all))
	for i, p := range all {
		// The narrowest face that can have set it: bold or regular is not told apart here, so the bound is a lower one.
		width := 1e9
		for _, weight := range []typeface{fonts.regular, fonts.bold} {
			for _, wide := range []bool{false, true} {
				width = min(width, weight.width(p.s, wide, p.size))
			}
		}
		if strings.ContainsFunc(p.s, func(r rune) bool { return unicode.Is(unicode.Arabic, r) }) {
			width /= naskhScale // its size in the PDF is already the larger one
		}
		right[i] = p.x + width
		if p.x < margin-0.01 || right[i] > w-margin+0.5 || p.y < 10 || p.y+p.size*0.7 > h-10 {
			t.Errorf("page %d: %q at %.1f,%.1f size %.1f (to %.1f) leaves the page of %.1f x %.1f", p.page, p.s, p.x, p.y, p.size, right[i], w, h)
		}
	}
	for i, a := range all {
		for j, b := range all[i+1:] {
			if a.page != b.page {
				continue
			}
			across := min(right[i], right[i+1+j]) - max(a.x, b.x)
			// Letters reach from a quarter below the line to three quarters above; capitals from 0 to 0.67.
			up := min(a.y+a.size*0.67, b.y+b.size*0.67) - max(a.y, b.y)
			if across > 0.5 && up > 0.5 {
				t.Errorf("page %d: %q and %q stand on each other", a.page, a.s, b.s)
			}
		}
	}
}
