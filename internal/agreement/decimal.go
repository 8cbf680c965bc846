package agreement

import "math"

// Readings are typed decimals, but 115.1 in binary is a little more or less. What is compared with a limit is therefore
// first written as a whole number of steps of a power of ten.

var powers = [...]float64{1, 10, 100, 1e3, 1e4, 1e5, 1e6, 1e7}

const (
	mostDigits  = 6 // decimals that are looked for
	roundDigits = 7 // decimals that are kept of a number which is no short decimal
)

// steps gives v as a whole number of 10^-digits. It is not ok when v has more decimals than that; a last-bit error of earlier
// arithmetic (0.1+0.2) does not count as a decimal.
func steps(v float64, digits int) (int64, bool) {
	s := v * powers[digits]
	r := math.Round(s)
	return int64(r), math.Abs(s-r) <= math.Abs(s)*0x1p-50
}

// exact is a pair as whole numbers of 1/scale. slack is how far a comparison may be off for rounding: 0 when both are short
// decimals.
type exact struct {
	x, y, scale, slack int64
}

// exactly writes a pair in whole numbers: as they are with up to 6 decimals, else rounded to 7.
func exactly(p Pair) exact {
	scale := int64(1)
	for d := 0; d <= mostDigits; d++ {
		x, okX := steps(p.Reference, d)
		y, okY := steps(p.Meter, d)
		if okX && okY {
			return exact{x: x, y: y, scale: scale}
		}
		scale *= 10
	}
	return exact{
		x: int64(math.Round(p.Reference * powers[roundDigits])), y: int64(math.Round(p.Meter * powers[roundDigits])),
		scale: scale, slack: 2,
	}
}

// mgPerMmol is 1000 times the mg/dL in 1 mmol/L: 18.016, from the molar mass of glucose 180.156 g/mol.
const mgPerMmol = 18016

// mgDL converts a pair in mmol/L to mg/dL without rounding.
func (e exact) mgDL() exact {
	return exact{x: e.x * mgPerMmol, y: e.y * mgPerMmol, scale: e.scale * 1000, slack: e.slack * mgPerMmol}
}

// common writes both columns as whole numbers of one power of ten. It is not ok when some number has more than 6 decimals.
func common(x, y []float64) (ix, iy []int64, ok bool) {
	digits := 0
	for _, column := range [2][]float64{x, y} {
		for _, v := range column {
			for {
				if _, ok := steps(v, digits); ok {
					break
				}
				if digits++; digits > mostDigits {
					return nil, nil, false
				}
			}
		}
	}
	ix, iy = make([]int64, len(x)), make([]int64, len(y))
	for i := range x {
		var okX, okY bool
		ix[i], okX = steps(x[i], digits)
		iy[i], okY = steps(y[i], digits)
		if !okX || !okY {
			return nil, nil, false
		}
	}
	return ix, iy, true
}
