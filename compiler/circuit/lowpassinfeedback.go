package circuit

import (
	"errors"
	"math"
	"slices"
)

var lowPassInFeedback = Topology{
	Name:   "low-pass-in-feedback",
	Doc:    "-(Rf/Ra)/(1+(Rf/Rb)·F): second-order shelves that cut low frequencies, the exact reciprocal of sum-with-low-pass, with the low-pass at the frequency and Q of the zeros.",
	Source: lowPassPairSource,
	Template: append(lowPassTemplate("out", "f", "U1"),
		r("Ra", "in", "s"), r("Rb", "f", "s"), r("Rf", "s", "out"), u("U2", "0", "s", "out")),
	Layout: `
Ra > 5,0
U2 37,2
Rf > 37,-6
Rb v 10,-8
R1 < 38,-20
R2 < 28,-20
C2 v 23,-15
R3 v 23,-8
U1 18,-22 <
C1 < 22,-33
out 45,0
wire in Ra.1
wire Ra.2 U2-
plus U2
wire 31,0 ,-6 Rf.1
wire Rf.2 43, ,2 U2o
wire 43,0 out
wire 43,-6 ,-20 R1.1
wire R1.2 R2.1
wire R2.2 U1+
wire 23,-20 C2.1
wire C2.2 R3.1
gnd R3.2
loop U1
wire 33,-20 ,-33 C1.1
wire C1.2 12, ,-22 U1o
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
	Free:     slices.Concat(lowPassFree, []Free{aLevel("Rf", "impedance level of the sum: Rf")}),
	Closed: func(v []float64) Ratio {
		n, d := lowPassClosed(v)
		ra, rb, rf := v[5], v[6], v[7]
		return Ratio{d.scaled(-rf / ra), d.plus(rf/rb, n)}
	},
	Design: func(a Asked, free []float64) ([]float64, error) {
		// H = level·N/(N+k(1+zero·q)), N = 1+q/Qz+q², q = s/wz.
		level := a.N[2]
		r := math.Sqrt(a.N[0] / level) // wz over the poles' frequency
		qz := math.Sqrt(a.N[0]*level) / a.N[1]
		k := 1/(r*r) - 1
		if !(k > same) {
			return nil, errors.New("it takes away at low frequencies, and the section has more there")
		}
		v, err := lowPassDesign(a.W*r, qz, (1/(r*a.Q)-1/qz)/k, free)
		if err != nil {
			return nil, err
		}
		rf := free[3]
		return append(v, rf/level, rf/k, rf), nil
	},
}
