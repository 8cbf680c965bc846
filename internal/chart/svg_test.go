package chart

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"testing"
)

// element is an SVG element as a reader sees it.
type element struct {
	name  string
	attr  map[string]string
	text  string
	paths []subpath
}

// subpath is a part of a path in absolute places; round says that it is a circle.
type subpath struct {
	pts    []XY
	round  bool
	closed bool
}

// readSVG parses a picture strictly and gives its elements in order.
func readSVG(t *testing.T, svg []byte) []element {
	t.Helper()
	d := xml.NewDecoder(bytes.NewReader(svg))
	var all []element
	var open []int
	for {
		tok, err := d.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			t.Fatalf("not well-formed: %v", err)
		}
		switch v := tok.(type) {
		case xml.StartElement:
			e := element{name: v.Name.Local, attr: map[string]string{}}
			for _, a := range v.Attr {
				if _, twice := e.attr[a.Name.Local]; twice {
					t.Errorf("%s has %s twice", e.name, a.Name.Local)
				}
				e.attr[a.Name.Local] = a.Value
			}
			if e.name == "path" {
				e.paths = readPath(t, e.attr["d"])
			}
			all = append(all, e)
			open = append(open, len(all)-1)
		case xml.CharData:
			if len(open) > 0 {
				all[open[len(open)-1]].text += string(v)
			}
		case xml.EndElement:
			open = open[:len(open)-1]
		}
	}
	if len(all) == 0 || all[0].name != "svg" {
		t.Fatal("no svg element")
	}
	return all
}

// readPath understands m, l, h, v, a and z in their relative form.
func readPath(t *testing.T, d string) []subpath {
	t.Helper()
	var out []subpath
	var x, y float64
	next := func() float64 {
		d = strings.TrimLeft(d, " ")
		n := 0
		for n < len(d) && (d[n] >= '0' && d[n] <= '9' || d[n] == '.' && !strings.Contains(d[:n], ".") || d[n] == '-' && n == 0) {
			n++
		}
		v, err := strconv.ParseFloat(d[:n], 64)
		if err != nil {
			t.Fatalf("path: no number at %.20q", d)
		}
		d = d[n:]
		return v
	}
	for d != "" {
		op := d[0]
		d = d[1:]
		var cur *subpath
		if op != 'm' {
			cur = &out[len(out)-1]
		}
		switch op {
		case 'm':
			x, y = x+next(), y+next()
			out = append(out, subpath{pts: []XY{{x, y}}})
			continue
		case 'l':
			x, y = x+next(), y+next()
		case 'h':
			x += next()
		case 'v':
			y += next()
		case 'a':
			for range 5 {
				next()
			}
			x, y = x+next(), y+next()
			cur.round = true
		case 'z':
			x, y = cur.pts[0].X, cur.pts[0].Y
			cur.closed = true
			continue
		default:
			t.Fatalf("path: unknown step %q", op)
		}
		cur.pts = append(cur.pts, XY{x, y})
	}
	return out
}

func attrNumber(t *testing.T, e element, name string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(e.attr[name], 64)
	if err != nil {
		t.Fatalf("%s of %s %q: %v", name, e.name, e.text, err)
	}
	return v
}

// place gives the room that a text takes, by the measures of its face, without the room left for another one.
func (e element) place(t *testing.T) rect {
	t.Helper()
	size := attrNumber(t, e, "font-size")
	x, y, w := attrNumber(t, e, "x"), attrNumber(t, e, "y"), widthOf(e.text, size, e.attr["font-weight"] != "")/slack
	switch e.attr["text-anchor"] {
	case "middle":
		x -= w / 2
	case "end":
		x -= w
	}
	return rect{x, y - size*0.72, x + w, y + size*0.15}
}

func words(all []element) []string {
	var out []string
	for _, e := range all {
		if e.name == "text" {
			out = append(out, e.text)
		}
	}
	return out
}

// checkSVG finds what is wrong with any picture: what a strict policy forbids, or marks and words outside the paper or on
// one another.
func checkSVG(t *testing.T, p *Picture) []element {
	t.Helper()
	svg := p.SVG()
	all := readSVG(t, svg)
	root := all[0]
	if want := number(p.Width()) + " " + number(p.Height()); root.attr["viewBox"] != "0 0 "+want || root.attr["role"] != "img" {
		t.Errorf("root is %v, want a viewBox of %s and the role of a picture", root.attr, want)
	}
	if root.attr["width"] != "" || root.attr["height"] != "" {
		t.Error("a fixed size keeps the picture from fitting its place")
	}
	if len(all) < 2 || all[1].name != "title" || all[1].text == "" {
		t.Error("the title is not the first thing in the picture")
	}
	allowed := map[string]bool{"svg": true, "title": true, "desc": true, "rect": true, "path": true, "text": true}
	paper := rect{0, 0, p.Width(), p.Height()}
	var texts []element
	for _, e := range all {
		if !allowed[e.name] {
			t.Errorf("element %s", e.name)
		}
		for name := range e.attr {
			if name == "style" || name == "href" || strings.HasPrefix(name, "on") {
				t.Errorf("%s has the attribute %s", e.name, name)
			}
		}
		for _, s := range e.paths {
			for _, pt := range s.pts {
				if pt.X < -0.1 || pt.X > paper.x1+0.1 || pt.Y < -0.1 || pt.Y > paper.y1+0.1 || math.IsNaN(pt.X+pt.Y) {
					t.Errorf("a path reaches %v on paper of %v by %v", pt, paper.x1, paper.y1)
				}
			}
		}
		if e.name == "text" {
			if box := e.place(t); !paper.holds(box) {
				t.Errorf("%q stands at %v, outside the paper of %v by %v", e.text, box, paper.x1, paper.y1)
			}
			for _, o := range texts {
				if e.place(t).meets(o.place(t)) {
					t.Errorf("%q stands on %q", e.text, o.text)
				}
			}
			texts = append(texts, e)
		}
	}
	if len(svg) > 300_000 {
		t.Errorf("the picture has %d bytes", len(svg))
	}
	return all
}

func TestEverySampleIsCleanSVG(t *testing.T) {
	for name, c := range samples() {
		for _, s := range sizes {
			t.Run(name+"/"+s.name, func(t *testing.T) {
				p, err := c.Draw(s.size)
				if err != nil {
					t.Fatal(err)
				}
				all := checkSVG(t, p)
				for _, e := range all {
					if e.name == "text" && attrNumber(t, e, "font-size") < s.size.Font*0.9 {
						t.Errorf("%q is set too small", e.text)
					}
				}
				if p.Unlabelled() > 0 && !strings.Contains(strings.Join(words(all), "\n"), fmt.Sprint(p.Unlabelled(), " more mark")) {
					t.Error("words were left out and the picture does not say so")
				}
			})
		}
	}
}

// On a phone of 360 pixels no letter is lower than 11 pixels.
func TestPhoneLettersAreReadable(t *testing.T) {
	if sh := (&sheet{f: Phone.Font}); sh.small()*360/Phone.Width < 11 {
		t.Errorf("the smallest letters have %v pixels", sh.small()*360/Phone.Width)
	}
}

func TestSameDataSameBytes(t *testing.T) {
	for name, c := range samples() {
		before := fmt.Sprintf("%#v", c)
		var last [2][]byte
		for range 2 {
			p, err := c.Draw(Print)
			if err != nil {
				t.Fatal(err)
			}
			raster, err := p.PNG(72)
			if err != nil {
				t.Fatal(err)
			}
			now := [2][]byte{p.SVG(), raster}
			if last[0] != nil && (!bytes.Equal(last[0], now[0]) || !bytes.Equal(last[1], now[1])) {
				t.Errorf("%s: the same data gave other bytes", name)
			}
			if !bytes.Equal(now[0], p.SVG()) {
				t.Errorf("%s: a picture written twice differs", name)
			}
			last = now
		}
		if fmt.Sprintf("%#v", c) != before {
			t.Errorf("%s: drawing changed its data", name)
		}
	}
}

func TestHostileTextIsHarmless(t *testing.T) {
	evil := "<script>alert(1)</script>&\"'\x00\x1b\xff\u202e]]>\n\t--"
	c := sampleControl()
	c.Panels = c.Panels[:1]
	c.Title, c.Desc, c.X, c.More = evil, evil, evil, evil
	p := &c.Panels[0]
	p.Y, p.Levels[0].Label, p.Lots[0].Label = evil, evil, evil
	p.Runs[2].Date, p.Runs[2].Note, p.Runs[2].Action = evil, "<b>&", evil
	pic, err := c.Draw(Page)
	if err != nil {
		t.Fatal(err)
	}
	all := checkSVG(t, pic)
	if want := "<script>alert(1)</script>&\"'\ufffd]]> --"; all[1].text != want {
		t.Errorf("the title reads %q, want %q", all[1].text, want)
	}
	if !strings.Contains(strings.Join(words(all), "\n"), "<b>&") {
		t.Error("the note is lost")
	}
	if bytes.Contains(pic.SVG(), []byte("<script")) {
		t.Error("a script stands in the picture")
	}
	g := sampleGrid(10)
	g.Title, g.X, g.Y, g.Zones[0].Text = evil, evil, evil, strings.Repeat("A", 500)
	if pic, err = g.Draw(Phone); err != nil {
		t.Fatal(err)
	}
	readSVG(t, pic.SVG())
	b := sampleCauses()
	b.Bars[0].Label, b.Bars[0].Note, b.X, b.Levels[0].Label = evil, strings.Repeat("long ", 90), evil, strings.Repeat("long ", 90)
	if pic, err = b.Draw(Phone); err != nil {
		t.Fatal(err)
	}
	checkSVG(t, pic)
}

func TestNumbersAreShort(t *testing.T) {
	for in, want := range map[int]string{0: "0", 5: ".5", -5: "-.5", 10: "1", -10: "-1", 15: "1.5", -123: "-12.3", 100: "10"} {
		if got := tenths(in); got != want {
			t.Errorf("tenths(%d) = %q, want %q", in, got, want)
		}
	}
	for s, want := range map[shade]string{ink: "#1a1a1a", white: "#fff", 0x44: "#444", 0: "#000"} {
		if s.String() != want {
			t.Errorf("shade %d = %s, want %s", uint8(s), s, want)
		}
	}
}
