package production

import (
	"math"
	"math/cmplx"

	"bandwright/biquad"
)

// Passes reports whether a response, output over generator, is within the limits.
func (p Point) Passes(h complex128) bool {
	turn := cmplx.Phase(h * cmplx.Rect(1, -p.Degrees*math.Pi/180))
	return biquad.DB(h) >= p.LowDB && biquad.DB(h) <= p.HighDB && math.Abs(turn) <= p.Within*math.Pi/180
}
