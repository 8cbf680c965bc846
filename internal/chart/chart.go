// Package chart draws every picture of numbers that Fairstick prints or shows: control charts, meter comparisons, error
// grids, drift, counts and series.
//
// A chart is plain data with its words; Draw checks the data, lays the chart out for one Size and gives a Picture, which is
// written as SVG for pages or as PNG for paper. The same data always gives the same bytes. The package knows nothing of
// controls or participants: what a point means arrives as a kind, a shape and a word.
//
// Everything is black, grey and white, told apart by shape, dash and word, so that a page from an old printer says the same
// as a screen. Names stand at the lines that they name; where labels would run into each other some are left out, and the
// picture says how many.
//
// The geometry, the fonts' measures and the raster come from gonum.org/v1/plot (vg, font, vgimg). Its SVG writer is not
// used, because it sets style attributes, which the pages' Content-Security-Policy forbids, and fixes a width; a small pen
// of our own writes presentation attributes instead. Its plot.Plot is not used either: the labels beside the lines need the
// margins to be known, and it brings the writers of four other formats.
package chart

import (
	"bytes"
	"errors"
	"fmt"
	"image"
	"image/draw"
	"image/png"
	"math"
	"strconv"
	"strings"

	"fairstick/internal/fault"
)

// Text is what a chart says in words.
type Text struct {
	Title string // the question that the chart answers; never empty
	Desc  string // the answer in a sentence or two, for who cannot see the picture
	X, Y  string // what the axes show, each with its unit

	Heading bool   // draws Title above the picture too: for a file that stands alone
	More    string // said when labels were left out, with {n} for how many; English when empty
}

// Size is the paper that a chart is laid out for. Widths are in pixels of a page or in points of print; a picture grows and
// shrinks as a whole, but its letters are sized for the width given here.
type Size struct {
	Width  float64 // 240 to 2000, and at least 24 letters' heights
	Height float64 // 0 lets the chart choose
	Font   float64 // height of the letters, 6 to 40
}

func (s Size) check() error {
	if !(s.Width >= 240 && s.Width <= 2000) || !(s.Font >= 6 && s.Font*24 <= s.Width && s.Font <= 40) || !(s.Height >= 0 && s.Height <= 4000) {
		return fmt.Errorf("chart: size %+v is outside what can be laid out", s)
	}
	return nil
}

// The sizes in use.
var (
	Phone = Size{Width: 360, Font: 12}
	Page  = Size{Width: 720, Font: 14}
	Print = Size{Width: 480, Font: 9} // points: as wide as the text of a letter or A4 page
)

// XY is a place in the units of the axes.
type XY struct{ X, Y float64 }

// Dash tells lines apart without colour.
type Dash int

// The dashes.
const (
	Solid Dash = iota
	Dashed
	Dotted
	DashDot
)

// Level is a horizontal line with its name and value at the right edge, for example a mean or a limit.
type Level struct {
	Value    float64
	Label    string
	Dash     Dash
	Heavy    bool
	From, To float64 // the part of the x axis where it holds; both 0: all of it. Only a line that reaches the end is named
}

// Band is a grey strip between two values, for example an interval around a line.
type Band struct {
	Low, High float64
	From, To  float64 // as in Level
}

// Curve is a line through points, with its name at its right end.
type Curve struct {
	Points []XY
	Label  string
	Dash   Dash
	Heavy  bool
}

// Chart is what every chart of this package can do.
type Chart interface {
	Draw(Size) (*Picture, error)
	Summary() string // one plain English sentence that counts what is shown
}

var _ = []Chart{LeveyJennings{}, Difference{}, Regression{}, ErrorGrid{}, Drift{}, Bars{}, Lines{}}

// Picture is a chart laid out for one size.
type Picture struct {
	text Text
	size Size
	left int                        // labels that found no room
	draw func(sh *sheet, area rect) // the picture itself, without heading and footnote
}

// biggest is the largest magnitude that an axis shows; beyond it the arithmetic of a scale may overflow.
const biggest = 1e12

// newPicture lays a chart out once without ink, to learn how many labels find no room; height is the chart's own.
func newPicture(t Text, size Size, height float64, paint func(*sheet, rect)) (*Picture, error) {
	if strings.TrimSpace(t.Title) == "" {
		return nil, errors.New("chart: a chart without a title says nothing to a screen reader")
	}
	if err := size.check(); err != nil {
		return nil, err
	}
	if size.Height != 0 && size.Height < height*0.6 {
		return nil, fmt.Errorf("chart: a height of %v is too low; this chart wants %.0f", size.Height, height)
	}
	p := &Picture{text: t, size: size, draw: paint}
	if size.Height == 0 {
		p.size.Height = math.Ceil(height)
		p.size.Height += math.Ceil(p.headingHeight())
	}
	p.left = p.render(blankPen{})
	if p.left > 0 && size.Height == 0 {
		p.size.Height += math.Ceil(p.footHeight())
	}
	return p, nil
}

// Width and Height give the size in the units of the viewBox.
func (p *Picture) Width() float64  { return p.size.Width }
func (p *Picture) Height() float64 { return p.size.Height }

// Unlabelled counts the labels that found no room; the picture says so at its foot, and the table beside it has them.
func (p *Picture) Unlabelled() int { return p.left }

// SVG gives the picture for a page: well-formed, without style attributes or scripts, as wide as its place allows. It can
// stand inside HTML or in a file of its own.
func (p *Picture) SVG() []byte {
	pen := newSVGPen(p.size, p.text)
	p.render(pen)
	return pen.bytes()
}

// PNG gives the picture for print, in greys, with dpi pixels to 72 units; 36 to 600. A Print picture at 300 dpi is 2000
// pixels wide.
func (p *Picture) PNG(dpi int) ([]byte, error) {
	if dpi < 36 || dpi > 600 {
		return nil, fmt.Errorf("chart: %d dpi is outside 36 to 600", dpi)
	}
	pen := newPNGPen(p.size, dpi)
	p.render(pen)
	src := pen.canvas.Image()
	grey := image.NewGray(src.Bounds())
	draw.Draw(grey, grey.Bounds(), src, src.Bounds().Min, draw.Src)
	var out bytes.Buffer
	if err := png.Encode(&out, grey); err != nil {
		return nil, fmt.Errorf("chart: write the picture: %w", err)
	}
	return out.Bytes(), nil
}

// render draws everything with a pen and counts the labels that found no room.
func (p *Picture) render(k pen) int {
	sh := &sheet{pen: k, f: p.size.Font}
	area := rect{0, 0, p.size.Width, p.size.Height}
	pad := sh.f * 0.5
	area = rect{pad, pad, area.x1 - pad, area.y1 - pad}
	if p.text.Heading {
		y := area.y1
		for _, line := range p.headingLines() {
			y -= sh.f * 1.45
			sh.write(note{at: XY{area.x0, y + sh.f*0.35}, s: line, size: sh.f * 1.1, bold: true, shade: ink})
		}
		area.y1 = y - sh.f*0.4
	}
	if p.left > 0 {
		for _, line := range reversed(p.footLines()) {
			sh.write(note{at: XY{area.x0, area.y0 + sh.f*0.25}, s: line, size: sh.small(), shade: dark})
			area.y0 += sh.f * 1.3
		}
	}
	p.draw(sh, area)
	return sh.dropped
}

func (p *Picture) headingLines() []string {
	return wrap(clean(p.text.Title), p.size.Font*1.1, true, p.size.Width-p.size.Font)
}

func (p *Picture) headingHeight() float64 {
	if !p.text.Heading {
		return 0
	}
	return float64(len(p.headingLines()))*p.size.Font*1.45 + p.size.Font*0.4
}

func (p *Picture) footLines() []string {
	more := p.text.More
	if more == "" {
		more = "{n} more marks had no room for their words: see the table."
		if p.left == 1 {
			more = "1 more mark had no room for its words: see the table."
		}
	}
	return wrap(clean(strings.ReplaceAll(more, "{n}", strconv.Itoa(p.left))), p.size.Font*0.92, false, p.size.Width-p.size.Font)
}

func (p *Picture) footHeight() float64 { return float64(len(p.footLines())) * p.size.Font * 1.3 }

// noData refuses a chart that would be empty.
func noData(what, need string) error {
	return fault.New(fault.Invalid, "chart-no-data", "There is nothing to draw: "+what+".", "An empty picture could be read as good news.", need)
}

// finite refuses numbers that have no place on an axis. what names the number for a person.
func finite(what string, i int, values ...float64) error {
	for _, v := range values {
		if math.IsNaN(v) || math.IsInf(v, 0) || math.Abs(v) > biggest {
			which := what
			if i >= 0 {
				which = fmt.Sprintf("%s %d", what, i+1)
			}
			return fault.New(fault.Invalid, "chart-not-a-number",
				fmt.Sprintf("%s is %v, which has no place on a chart.", which, v),
				"A point left out in silence would change the picture.", "Look where that number comes from, and leave the row out or correct it.")
		}
	}
	return nil
}

func checkLevels(levels []Level, bands []Band, curves []Curve) error {
	for i, l := range levels {
		if err := finite("Line", i, l.Value, l.From, l.To); err != nil {
			return err
		}
	}
	for i, b := range bands {
		if err := finite("Band", i, b.Low, b.High, b.From, b.To); err != nil {
			return err
		}
	}
	for _, c := range curves {
		for i, pt := range c.Points {
			if err := finite("Point of the curve", i, pt.X, pt.Y); err != nil {
				return err
			}
		}
	}
	return nil
}
