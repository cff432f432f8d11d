package circuit

import (
	"errors"
	"math"
	"slices"
)

var highPassInFeedback = Topology{
	Name:   "high-pass-in-feedback",
	Doc:    "-(Rf/Ra)/(1+(Rf/Rb)·F): second-order shelves that cut high frequencies, the exact reciprocal of sum-with-high-pass, with the high-pass at the frequency and Q of the zeros.",
	Source: highPassPairSource,
	Template: append(highPassTemplate("out", "f", "U1"),
		r("Ra", "in", "s"), r("Rb", "f", "s"), r("Rf", "s", "out"), u("U2", "0", "s", "out")),
	Layout: `
Ra > 5,0
U2 37,2
Rf > 37,-6
Rb v 10,-8
C1 < 38,-20
R3 < 38,-27
C2 < 28,-20
R2 v 23,-15
U1 18,-22 <
R1 < 22,-33
out 45,0
wire in Ra.1
wire Ra.2 U2-
plus U2
wire 31,0 ,-6 Rf.1
wire Rf.2 43, ,2 U2o
wire 43,0 out
wire 43,-6 ,-20 C1.1
wire 43,-20 ,-27 R3.1
wire R3.2 33,
wire C1.2 C2.1
wire C2.2 U1+
wire 23,-20 R2.1
gnd R2.2
loop U1
wire 33,-20 ,-33 R1.1
wire R1.2 12, ,-22 U1o
wire 12,-22 10, ,-18
fixed wire 10,-18 Rb.1
switched contact 10,-15 v
switched wire Sp Rb.1
wire Rb.2 10,0
`,
	Inverts:  true,
	Realises: []Shape{Shift2},
	MaxQ:     3,
	Opens:    "Rb",
	Free:     slices.Concat(highPassFree, []Free{aLevel("Rf", "impedance level of the sum: Rf")}),
	Closed: func(v []float64) Ratio {
		n, d := highPassClosed(v)
		ra, rb, rf := v[5], v[6], v[7]
		return Ratio{d.scaled(-rf / ra), d.plus(rf/rb, n)}
	},
	Design: func(a Asked, free []float64) ([]float64, error) {
		// H = level·N/(N+k(q²+zero·q)), N = 1+q/Qz+q², q = s/wz.
		level := a.N[0]
		r := math.Sqrt(level / a.N[2]) // wz over the poles' frequency
		qz := math.Sqrt(level*a.N[2]) / a.N[1]
		k := r*r - 1
		if !(k > same) {
			return nil, errors.New("it takes away at high frequencies, and the section has more there")
		}
		v, err := highPassDesign(a.W*r, qz, (r/a.Q-1/qz)/k, free)
		if err != nil {
			return nil, err
		}
		rf := free[2]
		return append(v, rf/level, rf/k, rf), nil
	},
}
