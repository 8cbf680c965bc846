package plan

import "math"

// The exponential in steps of ln 2/128: exp(k ln 2/128 + r) = 2^(k/128) exp(r).
const (
	expSteps = 128
	perStep  = expSteps / math.Ln2
	stepHigh = 0x1.62e42fefa0000p-8 // ln 2/128, its last bits nought so that k times it is exact
	stepLow  = 0x1.cf79abc9e3b3ap-47
	rounder  = 0x1.8p52 // added and taken off again it rounds to a whole number
)

var expTable = func() (t [expSteps]float64) {
	for i := range t {
		t[i] = math.Exp2(float64(i) / expSteps)
	}
	return t
}()

// exp gives e to the x. Within 500 of nought, where the logarithms of minutes lie, it costs some half of math.Exp and differs from it by less than
// 1e-15 of the value, on every processor alike; beyond that it is math.Exp. Source: range reduction by a table, Tang PTP, ACM Trans Math Softw
// 1989;15:144-57, with the Taylor series of exp(r), which for r below 0.0028 ends within 1e-18.
func exp(x float64) float64 {
	if !(x > -500 && x < 500) {
		return math.Exp(x)
	}
	shifted := float64(x*perStep) + rounder
	k := int64(math.Float64bits(shifted)<<12) >> 12 // the whole number stands in the last bits
	steps := shifted - rounder
	r := x - float64(steps*stepHigh) - float64(steps*stepLow)
	rr := float64(r * r)
	tail := r + float64(rr*(0.5+float64(r*(1.0/6))+float64(rr*(1.0/24+float64(r*(1.0/120))))))
	power := math.Float64frombits(math.Float64bits(expTable[k&(expSteps-1)]) + uint64(k>>7)<<52)
	return power + float64(power*tail)
}
