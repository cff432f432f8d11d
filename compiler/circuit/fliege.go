package circuit

import (
	"errors"
	"math"
)

var fliege = Topology{
	Name:   "fliege",
	Doc:    "(s²C1C2+sC2(Ga-r·Gb)+r·G1G3)/(s²C1C2+sC2(Ga+Gb)+r·G1G3), r = R4/R5: two op-amps as an inductor, no high-Q band-pass inside. Ra = Rb a notch, without Ra an all-pass, in between a cut or a notch of limited depth. Unity gain, no inversion; low noise gain.",
	Source: "NTZ 26 (1973) 279-282; this form from the node equations",
	Template: []Element{
		c("C1", "in", "a"), r("Ra", "in", "a").optional(), r("Rb", "a", "0"),
		r("R1", "a", "d"), c("C2", "d", "b"), r("R3", "b", "out"), r("R4", "out", "e"), r("R5", "e", "in"),
		u("U1", "a", "b", "out"), u("U2", "e", "b", "d"),
	},
	Layout: `
C1 > 5,0
Ra > 5,-7
Rb v 15,4
R1 ^ 11,-5
C2 > 16,-10
R3 > 26,-10
R4 < 27,-20
R5 < 12,-26
U1 26,-2
U2 16,-18 turned
out 35,0
wire in C1.1
wire C1.2 U1+
wire 1,0 ,-7 Ra.1
wire Ra.2 9, ,0
wire 15,0 Rb.1
fixed gnd Rb.2
switched contact 15,11 ^
switched wire Rb.2 Sp
switched gnd S1
wire 11,0 R1.1
wire R1.2 11,-10 C2.1
wire C2.2 R3.1
wire U1- 21, ,-10
wire 20,-10 U2-
wire U2o 11, ,-10
wire R3.2 33, ,-2 U1o
wire 33,-10 ,-20 R4.1
wire R4.2 U2+
wire 22,-20 ,-26 R5.1
wire R5.2 1, ,0
wire 33,-2 ,0 out
`,
	Realises:   []Shape{Notch2, AllPass2, Cut2},
	LevelFixed: true,
	Opens:      "Rb",
	MaxQ:       15,
	Free: []Free{
		aCapacitor("C1", "any"), aCapacitor("C2", "any"), aLevel("R4", "impedance level of R4 = R5"),
	},
	Closed: func(v []float64) Ratio {
		c1, ga, gb, g1, c2, g3, r4, r5 := v[0], siemens(v[1]), 1/v[2], 1/v[3], v[4], 1/v[5], v[6], v[7]
		ratio := r4 / r5
		return Ratio{
			Polynomial{ratio * g1 * g3, c2 * (ga - ratio*gb), c1 * c2},
			Polynomial{ratio * g1 * g3, c2 * (ga + gb), c1 * c2},
		}
	},
	Design: func(a Asked, free []float64) ([]float64, error) {
		c1, c2, r4 := free[0], free[1], free[2]
		mu := a.N[1] * a.Q / a.N[0] // level at the centre, -1 for an all-pass
		g := a.W * c1 / a.Q         // Ga + Gb
		ga, gb := g*(1+mu)/2, g*(1-mu)/2
		if ga < same*g {
			ga = 0
		}
		if !(gb > 0) {
			return nil, errors.New("it cannot boost")
		}
		// G1·G3 = w²C1C2, equal.
		r0 := 1 / (a.W * math.Sqrt(c1*c2))
		return []float64{c1, ohms(ga), 1 / gb, r0, c2, r0, r4, r4}, nil
	},
	Cautions: func(a Asked, v []float64, _ Means) []Caution {
		out := []Caution{capacitive(v[0])}
		if a.Shape == Notch2 {
			out = append(out, matchedDepth)
		}
		return out
	},
}
