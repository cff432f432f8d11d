package circuit

import (
	"errors"
	"math"
)

// lift is RB, as large as it has to be for RA, which is 4Q-1 times smaller, to
// be in stock.
var lift = Free{Name: "RB", Unit: "ohm", Doc: "impedance level of the lift", Try: func(a Asked, m Means) []float64 {
	const spare = 1.1
	return []float64{math.Max(usualOhm, spare*m.Ohm.From*(4*a.Q-1))}
}}

var twinT = Topology{
	Name:   "twin-t",
	Doc:    "Twin-T notch, R1 = R2 = 2·R3, C1 = C2 = C3/2, its common leg bootstrapped by K = RB/(RA+RB) of the output: Q = 1/(4(1-K)). Without RA it is the passive network with Q 1/4. Six parts have to match.",
	Source: "derived from the node equations",
	Template: []Element{
		r("R1", "in", "a"), r("R2", "a", "b"), c("C3", "a", "x"),
		c("C1", "in", "d"), c("C2", "d", "b"), r("R3", "d", "x"),
		u("U1", "b", "out", "out"),
		r("RA", "out", "e").optional(), r("RB", "e", "0"), u("U2", "e", "x", "x"),
	},
	Layout: `
R1 > 6,0
R2 > 18,0
C3 ^ 12,-4
C1 > 6,-17
C2 > 18,-17
R3 v 12,-12
U1 32,-2
RA < 41,-22
RB v 35,-18
U2 26,-24 <
out 48,0
wire in R1.1
wire R1.2 R2.1
wire R2.2 U1+
wire 2,0 ,-17 C1.1
wire C1.2 C2.1
wire C2.2 24, ,0
wire 12,-17 R3.1
wire R3.2 C3.2
wire 12,0 C3.1
wire 12,-7 10, ,-24 U2o
loop U2
wire U2+ 35, RB.1
gnd RB.2
wire 35,-22 RA.2
wire RA.1 46, ,0
loop U1
wire U1o 38, ,0 out
`,
	Realises:   []Shape{Notch2},
	LevelFixed: true,
	MaxQ:       10,
	Free:       []Free{aCapacitor("C1", "any; C2 = C1, C3 = 2·C1"), lift},
	Closed: func(v []float64) Ratio {
		g1, g2, c3, c1, c2, g3 := 1/v[0], 1/v[1], v[2], v[3], v[4], 1/v[5]
		k := 0.0
		if v[6] != 0 {
			k = v[7] / (v[6] + v[7])
		}
		sa, sc := Polynomial{g1 + g2, c3}, Polynomial{g3, c1 + c2}
		n := sc.scaled(g1*g2).plus(c1*c2, Polynomial{0, 0, 1}.times(sa))
		d := Polynomial{g2, c2}.times(sa).times(sc)
		d = d.plus(-g2, sc.times(Polynomial{g2, c3 * k}))
		d = d.plus(-c2, Polynomial{0, 1}.times(sa).times(Polynomial{g3 * k, c2}))
		return Ratio{n, d}
	},
	Design: func(a Asked, free []float64) ([]float64, error) {
		c1, rb := free[0], free[1]
		k := 1 - 1/(4*a.Q)
		if k < -same {
			return nil, errors.New("its Q is at least 1/4")
		}
		r0 := 1 / (a.W * c1)
		v := []float64{r0, r0, 2 * c1, c1, c1, r0 / 2, 0, rb}
		if k > same {
			v[6] = rb * (1/k - 1)
		}
		return v, nil
	},
	Cautions: func(_ Asked, v []float64, _ Means) []Caution {
		return []Caution{matchedDepth, capacitive(v[3])}
	},
}
