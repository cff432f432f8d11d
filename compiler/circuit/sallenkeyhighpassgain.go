package circuit

import (
	"errors"
	"math"
)

var sallenKeyHighPassGain = Topology{
	Name:   "sallen-key-high-pass-gain",
	Doc:    "K·s²R1R2C1C2/(1+s[R1(C1+C2)+R2C2(1-K)]+s²R1R2C1C2), K = 1+RB/RA: equal resistors and capacitors are possible. The sensitivity of Q grows with K·Q.",
	Source: sallenKeySource,
	Template: []Element{
		c("C1", "in", "a"), c("C2", "a", "b"), r("R1", "a", "out"), r("R2", "b", "0"),
		r("RA", "d", "0"), r("RB", "out", "d"), u("U1", "b", "d", "out"),
	},
	Layout: `
C1 > 5,0
C2 > 17,0
R2 v 22,5
R1 > 22,-16
U1 27,-2
RB < 27,-10
RA < 18,-10
out 35,0
wire in C1.1
wire C1.2 C2.1
wire C2.2 U1+
wire 22,0 R2.1
gnd R2.2
wire U1- 22, ,-10
wire RA.1 RB.2
wire RA.2 13,
gnd 13,-10
wire 9,0 ,-16 R1.1
wire R1.2 33, ,-10 RB.1
wire 33,-10 ,-2 U1o
wire 33,-2 ,0 out
`,
	Realises:   []Shape{HighPass2},
	LevelFixed: true,
	MaxQ:       3,
	Free: []Free{
		aCapacitor("C1", "any"), aCapacitor("C2", "any"),
		equalValueGain("gain of the amplifier, above 1; 0 for the one that gives R1 = R2, 3-1/Q where C1 = C2"),
		aLevel("RA", "impedance level of the gain divider: RA"),
	},
	Closed: func(v []float64) Ratio {
		c1, c2, r1, r2 := v[0], v[1], v[2], v[3]
		k, a := 1+v[5]/v[4], r1*r2*c1*c2
		return Ratio{Polynomial{0, 0, k * a}, Polynomial{1, r1*(c1+c2) + r2*c2*(1-k), a}}
	},
	Design: func(a Asked, free []float64) ([]float64, error) {
		c1, c2, k, ra := free[0], free[1], free[2], free[3]
		if k == 0 {
			// With R1 = R2 = R = 1/(w√(C1C2)) the s-term is R(C1+C2 + C2(1-K)).
			k = 2 + c1/c2 - math.Sqrt(c1/c2)/a.Q
		}
		if !(k > 1+same) {
			return nil, errors.New("the amplifier's gain would have to be 1 or less")
		}
		// (C1+C2)·x² - x/(wQ) + C2(1-K)·R1R2 = 0 for x = R1 has one positive root.
		product := 1 / (a.W * a.W * c1 * c2)
		r1, _, _ := quadraticRoots(1/(a.W*a.Q*(c1+c2)), c2*(1-k)*product/(c1+c2))
		return []float64{c1, c2, r1, product / r1, ra, ra * (k - 1)}, nil
	},
}
