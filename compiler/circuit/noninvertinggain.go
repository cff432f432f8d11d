package circuit

import "errors"

var nonInvertingGain = Topology{
	Name:     "non-inverting-gain",
	Doc:      "1 + R2/R1: gains above 1 without inversion, from a high input resistance.",
	Source:   "node equations",
	Template: []Element{r("R1", "a", "0").shunt(), r("R2", "out", "a"), u("U1", "in", "a", "out")},
	Layout: `
U1 16,-2
R2 < 16,-10
R1 < 7,-10
out 24,0
wire in U1+
wire U1- 11, ,-10
wire R1.1 R2.2
wire R1.2 2,
gnd 2,-10
wire R2.1 22, ,-2 U1o
wire 22,-2 ,0 out
`,
	Realises: []Shape{Constant},
	Free: []Free{aLevelFor("R2", "impedance level: R2", func(a Asked) float64 {
		return 1 / (a.N[0] - 1) // R1/R2
	})},
	Closed: func(v []float64) Ratio {
		return Ratio{Polynomial{v[0] + v[1]}, Polynomial{v[0]}}
	},
	Design: func(a Asked, free []float64) ([]float64, error) {
		if !(a.N[0] > 1+same) {
			return nil, errors.New("its gain is above 1")
		}
		return []float64{free[0] / (a.N[0] - 1), free[0]}, nil
	},
}
