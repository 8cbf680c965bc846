package chart

import (
	"image/color"
	"sync"
	"unicode"

	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/font/liberation"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/vgimg"
)

// shade is a grey; 0 is black. Every tone of every chart is one of these.
type shade uint8

const (
	ink   shade = 0x1a // text, points, the line that matters
	dark  shade = 0x4a // labels of axes, limits
	mid   shade = 0x70 // lines that carry a meaning but not the message
	pale  shade = 0xb8 // grid, hatching
	wash  shade = 0xec // bands
	white shade = 0xff
)

// stroke is how a line looks.
type stroke struct {
	shade shade
	width float64
	dash  Dash
}

// note is a line of text. at is its start, middle or end on the baseline, by anchor 0, 0.5, 1.
type note struct {
	at     XY
	s      string
	size   float64
	bold   bool
	anchor float64
	shade  shade
}

// pen is what a picture is drawn with. The origin is at the lower left, as in vg.
type pen interface {
	line(vg.Path, stroke)
	fill(vg.Path, shade)
	text(note)
}

// blankPen leaves no ink: a layout is tried with it.
type blankPen struct{}

func (blankPen) line(vg.Path, stroke) {}
func (blankPen) fill(vg.Path, shade)  {}
func (blankPen) text(note)            {}

// dashes gives the lengths of dash and gap for a line of a width.
func dashes(d Dash, width float64) []float64 {
	switch d {
	case Dashed:
		return []float64{4 + 2*width, 3 + width}
	case Dotted:
		return []float64{width, 2 + width}
	case DashDot:
		return []float64{6 + 2*width, 2 + width, width, 2 + width}
	case Solid:
	}
	return nil
}

// fonts measure the text. The page sets it in its own face, which is about as wide; room is left for the difference.
var fonts = sync.OnceValue(func() *font.Cache { return font.NewCache(liberation.Collection()) })

func faceOf(size float64, bold bool) font.Face {
	f := font.Font{Typeface: "Liberation", Variant: "Sans"}
	if bold {
		f.Weight = 3 // bold, as golang.org/x/image/font counts weights
	}
	return fonts().Lookup(f, vg.Length(size))
}

// slack is how much wider than measured a text may be set by another face.
const slack = 1.06

// widthOf gives the room that a text needs.
func widthOf(s string, size float64, bold bool) float64 {
	f := faceOf(size, bold)
	return float64(f.Width(s)) * slack
}

// clean makes a label out of any text: one line, nothing that cannot be seen, at most 160 letters.
func clean(s string) string {
	var out []rune
	space := false
	for _, r := range s {
		switch {
		case unicode.IsSpace(r) && r != '\u00a0':
			space = len(out) > 0
			continue
		case unicode.IsControl(r), unicode.Is(unicode.Cf, r):
			continue
		}
		if space {
			out = append(out, ' ')
			space = false
		}
		if len(out) >= 160 {
			return string(out) + "…"
		}
		out = append(out, r)
	}
	return string(out)
}

// pngPen draws on the raster of gonum/plot.
type pngPen struct{ canvas *vgimg.Canvas }

func newPNGPen(size Size, dpi int) *pngPen {
	return &pngPen{vgimg.NewWith(vgimg.UseWH(vg.Length(size.Width), vg.Length(size.Height)), vgimg.UseDPI(dpi), vgimg.UseBackgroundColor(color.White))}
}

func (p *pngPen) line(path vg.Path, s stroke) {
	p.canvas.SetColor(color.Gray{Y: uint8(s.shade)})
	p.canvas.SetLineWidth(vg.Length(s.width))
	var d []vg.Length
	for _, v := range dashes(s.dash, s.width) {
		d = append(d, vg.Length(v))
	}
	p.canvas.SetLineDash(d, 0)
	p.canvas.Stroke(path)
}

func (p *pngPen) fill(path vg.Path, s shade) {
	p.canvas.SetColor(color.Gray{Y: uint8(s)})
	p.canvas.Fill(path)
}

func (p *pngPen) text(n note) {
	f := faceOf(n.size, n.bold)
	p.canvas.SetColor(color.Gray{Y: uint8(n.shade)})
	p.canvas.FillString(f, vg.Point{X: vg.Length(n.at.X) - f.Width(n.s)*vg.Length(n.anchor), Y: vg.Length(n.at.Y)}, n.s)
}
