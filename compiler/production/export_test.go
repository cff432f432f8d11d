package production

import (
	"math"
	"math/cmplx"

	"bandwright/biquad"
)

// Passes tells whether output over input is within the limits of a point.
func (p Point) Passes(h complex128) bool {
	turn := cmplx.Phase(h * cmplx.Rect(1, -p.Degrees*math.Pi/180))
	return biquad.DB(h) >= p.LowDB && biquad.DB(h) <= p.HighDB && math.Abs(turn) <= p.Within*math.Pi/180
}
