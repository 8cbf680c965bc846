package chart

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"math"
	"strconv"
	"strings"

	"gonum.org/v1/plot/vg"
)

// family is the face of the pages, then faces of about its width.
const family = "Fairstick, 'Atkinson Hyperlegible', Arial, 'Liberation Sans', Helvetica, sans-serif"

// svgPen writes presentation attributes. Neighbouring paths of one look become one element, and places are written as
// tenths of a unit relative to the last one, which keeps thousands of points small.
type svgPen struct {
	out    bytes.Buffer
	height float64
	look   string // the attributes of the path that is open; empty when none is
	path   strings.Builder
	x, y   int // where the path stands, in tenths
	sx, sy int // where its part began, to which closing returns
}

func newSVGPen(size Size, t Text) *svgPen {
	p := &svgPen{height: size.Height}
	fmt.Fprintf(&p.out, `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %s %s" role="img" class="chart" font-family="%s" font-size="%s" fill="none">`,
		number(size.Width), number(size.Height), family, number(size.Font))
	p.out.WriteString("<title>" + escape(clean(t.Title)) + "</title>")
	if t.Desc != "" {
		p.out.WriteString("<desc>" + escape(strings.ToValidUTF8(t.Desc, "\ufffd")) + "</desc>")
	}
	fmt.Fprintf(&p.out, `<rect width="%s" height="%s" fill="#fff"/>`, number(size.Width), number(size.Height))
	p.out.WriteByte('\n')
	return p
}

// escape makes text harmless inside an element or a quoted attribute.
func escape(s string) string {
	var b bytes.Buffer
	if err := xml.EscapeText(&b, []byte(s)); err != nil {
		return "" // a buffer takes every write
	}
	return b.String()
}

func (s shade) String() string {
	h := fmt.Sprintf("%02x", uint8(s))
	if h[0] == h[1] {
		return "#" + strings.Repeat(h[:1], 3)
	}
	return "#" + strings.Repeat(h, 3)
}

// number writes a length with at most one decimal.
func number(v float64) string { return tenths(int(math.Round(v * 10))) }

func tenths(t int) string {
	sign := ""
	if t < 0 {
		sign, t = "-", -t
	}
	switch {
	case t%10 == 0:
		return sign + strconv.Itoa(t/10)
	case t < 10:
		return sign + "." + strconv.Itoa(t)
	}
	return sign + strconv.Itoa(t/10) + "." + strconv.Itoa(t%10)
}

func (p *svgPen) line(path vg.Path, s stroke) {
	look := fmt.Sprintf(`stroke="%s" stroke-width="%s" stroke-linejoin="round"`, s.shade, number(s.width))
	if d := dashes(s.dash, s.width); d != nil {
		parts := make([]string, len(d))
		for i, v := range d {
			parts[i] = number(v)
		}
		look += ` stroke-dasharray="` + strings.Join(parts, " ") + `"`
	}
	p.add(look, path)
}

func (p *svgPen) fill(path vg.Path, s shade) { p.add(fmt.Sprintf(`fill="%s"`, s), path) }

// add appends to the open path, or opens a new one when the look has changed.
func (p *svgPen) add(look string, path vg.Path) {
	if look != p.look {
		p.flush()
		p.look = look
	}
	for _, c := range path {
		switch c.Type {
		case vg.MoveComp:
			if p.path.Len() == 0 {
				p.x, p.y = 0, 0
			}
			p.step("m", c.Pos.X, c.Pos.Y)
			p.sx, p.sy = p.x, p.y
		case vg.LineComp:
			p.step("l", c.Pos.X, c.Pos.Y)
		case vg.ArcComp:
			p.arc(c)
		case vg.CloseComp:
			p.path.WriteString("z")
			p.x, p.y = p.sx, p.sy
		}
	}
}

// step writes a move or a line relative to where the path stands.
func (p *svgPen) step(op string, x, y vg.Length) {
	nx, ny := int(math.Round(float64(x)*10)), int(math.Round((p.height-float64(y))*10))
	dx, dy := nx-p.x, ny-p.y
	p.x, p.y = nx, ny
	switch {
	case op == "l" && dy == 0:
		p.path.WriteString("h" + tenths(dx))
	case op == "l" && dx == 0:
		p.path.WriteString("v" + tenths(dy))
	default:
		p.path.WriteString(op + tenths(dx) + join(dy))
	}
}

// join writes a number behind another one.
func join(t int) string {
	s := tenths(t)
	if s[0] == '-' {
		return s
	}
	return " " + s
}

// arc writes a whole circle, the only arc of these charts, from where the path stands on its right side.
func (p *svgPen) arc(c vg.PathComp) {
	r := int(math.Round(float64(c.Radius) * 10))
	fmt.Fprintf(&p.path, "a%s %s 0 1 0%s 0a%s %s 0 1 0 %s 0", tenths(r), tenths(r), join(-2*r), tenths(r), tenths(r), tenths(2*r))
}

func (p *svgPen) flush() {
	if p.path.Len() > 0 {
		// The first move of a path counts from the origin, so it is absolute as it stands.
		fmt.Fprintf(&p.out, `<path %s d="%s"/>`, p.look, p.path.String())
		p.out.WriteByte('\n')
	}
	p.path.Reset()
	p.look = ""
}

func (p *svgPen) text(n note) {
	p.flush()
	fmt.Fprintf(&p.out, `<text x="%s" y="%s" font-size="%s" fill="%s"`, number(n.at.X), number(p.height-n.at.Y), number(n.size), n.shade)
	switch n.anchor {
	case 0.5:
		p.out.WriteString(` text-anchor="middle"`)
	case 1:
		p.out.WriteString(` text-anchor="end"`)
	}
	if n.bold {
		p.out.WriteString(` font-weight="700"`)
	}
	p.out.WriteString(">" + escape(n.s) + "</text>\n")
}

func (p *svgPen) bytes() []byte {
	p.flush()
	p.out.WriteString("</svg>\n")
	return bytes.Clone(p.out.Bytes())
}
