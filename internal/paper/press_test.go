package paper

import (
	"math"
	"strings"
	"testing"
	"time"
)

func TestCleanText(t *testing.T) {
	fonts, err := loadFonts()
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		in, want string
		replaced bool
	}{
		{"  Ana \t\r\n Prueba ", "Ana Prueba", false},
		{"Nguye\u0302\u0303n", "Nguyễn", false}, // composed
		{"ñ ü ¿ ¡ ơ ư ạ ậ ≥ ≤ ½ … – ’", "ñ ü ¿ ¡ ơ ư ạ ậ ≥ ≤ ½ … – ’", false},
		{"a→b\u2011c", "a->b-c", false},
		{"a\u202eb\u200dc\ufeff", "abc", false},
		{"a\x00b", "a□b", true},
		{"שלום", "□□□□", true},
		{"नमस्ते", strings.Repeat("□", 6), true},
		{"😀\xff", "□□", true},
		{"95 mg/dL and 5.3 mmol/L at 9 am, a mg/dL", "95\u00a0mg/dL and 5.3\u00a0mmol/L at 9\u00a0am, a mg/dL", false},
		{"a las 4 p. m.", "a las 4\u00a0p.\u00a0m.", false},
	} {
		if got, replaced := fonts.clean(c.in); got != c.want || replaced != c.replaced {
			t.Errorf("%q gives %q %v, want %q %v", c.in, got, replaced, c.want, c.replaced)
		}
	}
}

func TestFontFallbackIsForTheWholeText(t *testing.T) {
	p := testPress(t)
	if sp := p.prepare(span{"Marigold", style{size: 12}}); sp.st.wide {
		t.Error("plain letters left the house face")
	}
	lines := p.lines(500, span{"Lan Nguyễn", style{size: 12}})
	if len(lines) != 1 || len(lines[0].frags) != 1 || !lines[0].frags[0].st.wide {
		t.Errorf("a Vietnamese name is not in one face: %+v", lines)
	}
	if p.width("111", style{size: 9.5, wide: true}) != p.width("888", style{size: 9.5, wide: true}) {
		t.Error("figures of tables are not of one width")
	}
}

// The measure we break lines by must be the one that the PDF prints with.
func TestWidthsAgreeWithThePDF(t *testing.T) {
	p := testPress(t)
	p.pdf.AddPage()
	for _, s := range []string{"Larkfield 0123456789 mg/dL", "Señales de alarma ¿cuándo?", "Nguyễn Thị Ánh Tuyết"} {
		for _, bold := range []bool{false, true} {
			sp := p.prepare(span{s, style{size: 12, bold: bold}})
			p.text(30, 30, sp.s, sp.st)
			if got, want := p.width(sp.s, sp.st), p.pdf.GetStringWidth(sp.s); math.Abs(got-want) > 0.25 {
				t.Errorf("%q: we measure %.2f, the PDF %.2f", s, got, want)
			}
		}
	}
}

func TestLinesKeepToTheMeasure(t *testing.T) {
	p := testPress(t)
	st := style{size: 12}
	text := "Your reading was 95 mg/dL. " + strings.Repeat("W", 90) + " end"
	var words []string
	for _, l := range p.lines(120, span{text, st}) {
		if l.w > 120 {
			t.Errorf("%q is %.1f wide", l.frags[0].s, l.w)
		}
		words = append(words, l.frags[0].s)
	}
	if got := strings.ReplaceAll(strings.Join(words, ""), " ", ""); strings.Count(got, "W") != 90 || !strings.HasSuffix(got, "end") {
		t.Errorf("letters were lost: %q", got)
	}
	cut := p.capped(2, 120, span{text, st})
	if len(cut) != 2 || !strings.HasSuffix(cut[1].frags[0].s, "…") || cut[1].w > 120 {
		t.Errorf("the cut is not shown: %+v", cut)
	}
}

func TestFlow(t *testing.T) {
	line := func(h float64) strip { return space(h) }
	head := []strip{line(5)}
	room := func(int) float64 { return 100 }
	heights := func(pages [][]placed) (out [][]float64) {
		for _, p := range pages {
			var ys []float64
			for _, s := range p {
				ys = append(ys, s.y)
			}
			out = append(out, ys)
		}
		return out
	}
	for _, c := range []struct {
		name   string
		chunks []chunk
		want   [][]float64
	}{
		{
			"gap between, none on top",
			[]chunk{{gap: 9, strips: []strip{line(40)}}, {gap: 10, strips: []strip{line(40)}}, {gap: 10, strips: []strip{line(40)}}},
			[][]float64{{0, 50}, {0}},
		},
		{
			"a chunk goes over whole, under its head",
			[]chunk{{strips: []strip{line(60)}}, {head: head, strips: []strip{line(30), line(30)}}},
			[][]float64{{0}, {0, 5, 35}},
		},
		{
			"only what is taller than a page is cut",
			[]chunk{{again: head, strips: []strip{line(60), line(60), line(60)}}},
			[][]float64{{0}, {0, 5}, {0, 5}},
		},
	} {
		got := heights(flow(c.chunks, room))
		if len(got) != len(c.want) {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
			continue
		}
		for i := range got {
			if len(got[i]) != len(c.want[i]) {
				t.Errorf("%s: page %d: %v, want %v", c.name, i+1, got[i], c.want[i])
				continue
			}
			for j := range got[i] {
				if got[i][j] != c.want[i][j] {
					t.Errorf("%s: page %d: %v, want %v", c.name, i+1, got[i], c.want[i])
				}
			}
		}
	}
}

func TestMarks(t *testing.T) {
	for band, steps := range map[string]int{"critical-low": -2, "low": -1, "usual": 0, "raised": 1, "high": 2, "critical-high": 3} {
		pts := MarkPoints(band)
		first, last := pts[0], pts[len(pts)-1]
		rise := math.Round((first.Y - last.Y) * 3)
		if first.X != 0 || last.X != 1 || int(rise) != steps || len(pts) != 2+2*max(steps, -steps) {
			t.Errorf("%s: %v", band, pts)
		}
		for _, p := range pts {
			if p.X < 0 || p.X > 1 || p.Y < -1e-9 || p.Y > 1+1e-9 {
				t.Errorf("%s leaves its square: %v", band, p)
			}
		}
	}
	if MarkPoints("unheard-of") != nil {
		t.Error("an unknown band has a mark")
	}
}

func TestReadAdvancesRefusesBrokenFonts(t *testing.T) {
	for _, n := range []int{0, 11, 100, 4000, 40000} {
		if _, err := readAdvances(atkinsonRegular[:n]); err == nil {
			t.Errorf("a font cut to %d bytes was read", n)
		}
	}
}

func testPress(t *testing.T) *press {
	t.Helper()
	p, err := newPress(400, 600, "en", "test", time.Time{})
	if err != nil {
		t.Fatal(err)
	}
	return p
}
