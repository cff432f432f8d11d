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
	Realises:   []Shape{Notch2, AllPass2, Cut2},
	LevelFixed: true,
	MaxQ:       15,
	Free: []Free{
		aCapacitor("C1", "any"), aCapacitor("C2", "any"), aLevel("R4", "impedance level of R4 = R5"),
	},
	Closed: func(v []float64) Ratio {
		c1, ga, gb, g1, c2, g3, r4, r5 := v[0], siemens(v[1]), 1/v[2], 1/v[3], v[4], 1/v[5], v[6], v[7]
		ratio := r4 / r5
		return Ratio{
			[]float64{ratio * g1 * g3, c2 * (ga - ratio*gb), c1 * c2},
			[]float64{ratio * g1 * g3, c2 * (ga + gb), c1 * c2},
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
