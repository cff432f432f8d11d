package circuit

import (
	"errors"
	"math"
)

var sallenKeyBandPass = Topology{
	Name:   "sallen-key-band-pass",
	Doc:    "Band-pass with an amplifier of gain K = 1+RB/RA and three equal resistors, K = 4-√2/Q where C1 = C2: no inversion, at the level K/(4-K). Q is very sensitive to K: for low Q only.",
	Source: sallenKeySource,
	Template: []Element{
		r("R1", "in", "a"), c("C1", "a", "0"), c("C2", "a", "b"), r("R2", "b", "0"), r("R3", "a", "out"),
		r("RA", "d", "0"), r("RB", "out", "d"), u("U1", "b", "d", "out"),
	},
	Layout: `
R1 > 5,0
C2 > 17,0
R2 v 22,5
R3 > 22,-16
U1 27,-2
RB < 27,-10
RA < 18,-10
out 35,0
wire in R1.1
wire R1.2 C2.1
wire C2.2 U1+
wire 22,0 R2.1
gnd R2.2
wire U1- 22, ,-10
wire RA.1 RB.2
wire RA.2 13,
gnd 13,-10
wire 9,0 ,-16 R3.1
wire R3.2 33, ,-10 RB.1
wire 33,-10 ,-2 U1o
wire 33,-2 ,0 out
C1 v 11,5
wire 11,0 C1.1
gnd C1.2
`,
	Realises:   []Shape{BandPass2},
	LevelFixed: true,
	MaxQ:       3,
	Free:       []Free{aCapacitor("C1", "any"), aCapacitor("C2", "any"), aLevel("RA", "impedance level of the gain divider: RA")},
	Closed: func(v []float64) Ratio {
		g1, c1, c2, g2, g3 := 1/v[0], v[1], v[2], 1/v[3], 1/v[4]
		k := 1 + v[6]/v[5]
		return Ratio{
			Polynomial{0, k * c2 * g1},
			Polynomial{g2 * (g1 + g3), c2*(g1+g3) + g2*(c1+c2) - c2*g3*k, c1 * c2},
		}
	},
	Design: func(a Asked, free []float64) ([]float64, error) {
		c1, c2, ra := free[0], free[1], free[2]
		r0 := math.Sqrt2 / (a.W * math.Sqrt(c1*c2))
		k := (3*c2 + c1 - a.W*r0*c1*c2/a.Q) / c2
		if !(k > 1+same) {
			return nil, errors.New("the amplifier's gain would have to be 1 or less")
		}
		return []float64{r0, c1, c2, r0, r0, ra, ra * (k - 1)}, nil
	},
}
