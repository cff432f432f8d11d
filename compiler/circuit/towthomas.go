package circuit

import (
	"errors"
	"math"
)

// errOneRightZero is the refusal of a numerator with coefficients of both signs
// at its ends.
var errOneRightZero = errors.New("a single zero in the right half plane needs a separate all-pass stage")

// The lossy integrator U1 drives the integrator U2, whose inverted output comes
// back; the input feeds all three through C3 and R5, R6, R7. Without R7,
//
//	-(C3/C1)(s²+s/(R5C3)+Rb/(Ra·R2R6C2C3)) / (s²+s/(RQ·C1)+Rb/(Ra·R2R4C1C2)).
//
// R7 takes Rb/(R2R7) from 1/R5, so that the middle term may be negative.
var towThomas = Topology{
	Name:   "tow-thomas",
	Doc:    "The general second-order stage, three op-amps with feed-forward: any numerator, high Q, orthogonal tuning (R4 the frequency, RQ the Q), low noise. Parts that a section does not need are left out.",
	Source: "Proc. IEEE 56 (1968) 1137-1139 and 61 (1973) 662-663; this form from the node equations",
	Template: []Element{
		c("C3", "in", "a").optional(), r("R5", "in", "a").optional(), c("C1", "a", "out"), r("RQ", "a", "out"), r("R2", "f", "a"), u("U1", "0", "a", "out"),
		r("R4", "out", "b"), r("R6", "in", "b").optional(), c("C2", "b", "d"), u("U2", "0", "b", "d"),
		r("Ra", "d", "e"), r("Rb", "e", "f"), r("R7", "in", "e").optional(), u("U3", "0", "e", "f"),
	},
	Layout: `
C3 > 6,0
R5 > 6,-7
C1 > 22,-6
RQ > 22,-13
R2 < 45,-19
U1 22,2
R4 > 33,0
R6 > 33,12
C2 > 45,-6
U2 45,2
Ra > 56,0
Rb > 68,-6
R7 > 56,12
U3 68,2
out 82,0
wire in C3.1
wire C3.2 12,0
wire in 1, ,-7 R5.1
wire R5.2 12, ,0
wire 12,0 U1-
plus U1
wire 14,0 ,-6 C1.1
wire 14,-6 ,-13 RQ.1
wire 14,-13 ,-19 R2.2
wire C1.2 28, ,2 U1o
wire RQ.2 28, ,-6
wire 28,0 R4.1
wire R4.2 U2-
plus U2
wire 39,0 ,-6 C2.1
wire in 2, ,16 28, ,12 R6.1
wire R6.2 38, ,0
wire C2.2 51, ,2 U2o
wire 51,0 Ra.1
wire Ra.2 U3-
plus U3
wire 62,0 ,-6 Rb.1
wire in 2, ,16 51, ,12 R7.1
wire R7.2 61, ,0
wire Rb.2 74, ,2 U3o
wire 74,-6 ,-19 R2.1
wire 28,-13 ,-25 80, ,0 out
`,
	Inverts:  true,
	Realises: []Shape{LowPass2, HighPass2, BandPass2, Notch2, LowNotch2, HighNotch2, AllPass2, Cut2, Boost2, Shift2, Biquad2, RightHalf2},
	MaxQ:     50,
	Free: []Free{
		aCapacitor("C1", "any; C3 is C1 times the gain at high frequencies"), aCapacitor("C2", "any"),
		aLevel("Ra", "impedance level of the inverter: Ra = Rb"),
	},
	Closed: func(v []float64) Ratio {
		c3, g5, c1, gq, g2, g4, g6, c2, ra, rb, g7 := v[0], siemens(v[1]), v[2], 1/v[3], 1/v[4], 1/v[5], siemens(v[6]), v[7], v[8], v[9], siemens(v[10])
		// Times s·C2, which cancels.
		return Ratio{
			Polynomial{-g2 * g6 * rb / ra, -c2 * (g5 - g2*g7*rb), -c2 * c3},
			Polynomial{g2 * g4 * rb / ra, c2 * gq, c2 * c1},
		}
	},
	Design: func(a Asked, free []float64) ([]float64, error) {
		c1, c2, ra := free[0], free[1], free[2]
		r0 := 1 / (a.W * math.Sqrt(c1*c2)) // R2 = R4
		n0, n1, n2 := a.N[0], a.N[1], a.N[2]
		if n0 < 0 || n2 < 0 {
			return nil, errOneRightZero
		}
		g5, g7 := a.W*c1*n1, 0.0
		if n1 < 0 {
			g5, g7 = 0, -a.W*c1*n1*r0/ra
		}
		return []float64{c1 * n2, ohms(g5), c1, a.Q / (a.W * c1), r0, r0, ohms(n0 / r0), c2, ra, ra, ohms(g7)}, nil
	},
}
