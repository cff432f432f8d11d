package circuit

import (
	"errors"
	"math"
)

var sallenKeyLowPassGain = Topology{
	Name:   "sallen-key-low-pass-gain",
	Doc:    "K/(1+s[C2(R1+R2)+C1R1(1-K)]+s²R1R2C1C2), K = 1+RB/RA, with R1 = R1A∥R1B: equal capacitors are possible, and R1B brings the level down. The sensitivity of Q grows with K·Q.",
	Source: sallenKeySource,
	Template: []Element{
		r("R1A", "in", "a"), r("R1B", "a", "0").optional(), r("R2", "a", "b"), c("C1", "a", "out"), c("C2", "b", "0"),
		r("RA", "d", "0"), r("RB", "out", "d"), u("U1", "b", "d", "out"),
	},
	Layout: `
R1A > 5,0
R2 > 17,0
C2 v 22,5
C1 > 22,-16
U1 27,-2
RB < 27,-10
RA < 18,-10
out 35,0
wire in R1A.1
wire R1A.2 R2.1
wire R2.2 U1+
wire 22,0 C2.1
gnd C2.2
wire U1- 22, ,-10
wire RA.1 RB.2
wire RA.2 13,
gnd 13,-10
wire 9,0 ,-16 C1.1
wire C1.2 33, ,-10 RB.1
wire 33,-10 ,-2 U1o
wire 33,-2 ,0 out
R1B v 11,5
wire 11,0 R1B.1
gnd R1B.2
`,
	Realises:   []Shape{LowPass2},
	LevelFixed: true,
	MaxQ:       3,
	Free: []Free{
		aCapacitor("C1", "any"), aCapacitor("C2", "any"),
		equalValueGain("gain of the amplifier, above 1; 0 for the one that gives R1 = R2, 3-1/Q where C1 = C2"),
		anOrder("R1 and R2"), aLevel("RA", "impedance level of the gain divider: RA"),
		aRatio("divide", "1: R1B brings the level down to the section's; 0: without R1B, at the level K", 1, 0),
	},
	Closed: func(v []float64) Ratio {
		r1a, r1b, r2, c1, c2 := v[0], v[1], v[2], v[3], v[4]
		k := 1 + v[6]/v[5]
		r1, level := r1a, k
		if r1b != 0 {
			r1, level = inParallel(r1a, r1b), k*r1b/(r1a+r1b)
		}
		return Ratio{Polynomial{level}, Polynomial{1, c2*(r1+r2) + c1*r1*(1-k), r1 * r2 * c1 * c2}}
	},
	Design: func(a Asked, free []float64) ([]float64, error) {
		c1, c2, k, ra := free[0], free[1], free[2], free[4]
		if k == 0 {
			// With R1 = R2 = R = 1/(w√(C1C2)) the s-term is R(2·C2 + C1(1-K)).
			k = 1 + 2*c2/c1 - math.Sqrt(c2/c1)/a.Q
		}
		if !(k > 1+same) {
			return nil, errors.New("the amplifier's gain would have to be 1 or less")
		}
		// (C2 + C1(1-K))·x² - x/(wQ) + C2·R1R2 = 0 for x = R1.
		q, product := c2+c1*(1-k), 1/(a.W*a.W*c1*c2)
		var r1 float64
		if math.Abs(q) < same*c2 {
			r1 = a.W * a.Q * c2 * product
		} else {
			large, small, ok := quadraticRoots(1/(a.W*a.Q*q), c2*product/q)
			if !ok {
				return nil, errors.New("these capacitors and this gain allow no such Q")
			}
			r1, _ = inOrder(free[3], large, small)
			if r1 <= 0 {
				r1 = large
			}
		}
		if !(r1 > 0) {
			return nil, errors.New("these capacitors and this gain allow no such Q")
		}
		v := []float64{r1, 0, product / r1, c1, c2, ra, ra * (k - 1)}
		if down := a.N[0] / k; free[5] != 0 && down < 1-same {
			v[0], v[1] = r1/down, r1/(1-down)
		}
		return v, nil
	},
	Cautions: leak,
}
